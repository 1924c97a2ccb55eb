"""`python -m course_lib.assessment.record` prints the JSON Schema of a record."""

import json

from course_lib.assessment.record import record_schema

print(json.dumps(record_schema(), indent=2))
