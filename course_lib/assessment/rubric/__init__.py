"""The rubric: a full record judged by eight criteria of four levels, each decided by computation, each with its reason."""

from course_lib.assessment.rubric.grade import grade_record
from course_lib.assessment.rubric.mark_sheet import SOUND, TITLES, WEIGHTS, CriterionMark, MarkSheet
from course_lib.assessment.rubric.model_answer import model_record

__all__ = ["SOUND", "TITLES", "WEIGHTS", "CriterionMark", "MarkSheet", "grade_record", "model_record"]
