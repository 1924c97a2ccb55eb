"""`python -m course_lib.record` prints the JSON Schema of a record."""

import json

from course_lib.record import record_schema

print(json.dumps(record_schema(), indent=2))
