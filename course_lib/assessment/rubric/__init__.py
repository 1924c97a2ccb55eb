"""The rubric: a full record judged by eight criteria of four levels, each decided by computation, each with its reason."""

from course_lib.assessment.rubric.expert import expert_record
from course_lib.assessment.rubric.grade import grade
from course_lib.assessment.rubric.sheet import SOUND, TITLES, WEIGHTS, Level, Sheet

__all__ = ["SOUND", "TITLES", "WEIGHTS", "Level", "Sheet", "expert_record", "grade"]
