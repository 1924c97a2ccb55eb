"""The rubric: a full record judged by eight criteria of four levels, each decided by computation, each with its reason."""

from .expert import expert_record
from .grade import grade
from .sheet import SOUND, TITLES, WEIGHTS, Level, Sheet

__all__ = ["SOUND", "TITLES", "WEIGHTS", "Level", "Sheet", "expert_record", "grade"]
