"""The cases of the course in order, and how much of each is done for the learner. No cause stands here."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of

if TYPE_CHECKING:
    from course_lib.assessment.record import Answer
    from course_lib.cases.case import Case
    from course_lib.cases.key import Key

Support = Literal["worked", "completion 1", "completion 2", "completion 3", "independent", "without help"]

DIFFICULTIES = {"any": (0, 10_000), "easy": (0, 25), "medium": (26, 60), "hard": (61, 10_000)}
"""Minutes of the ideal way that go with each word: a third of freshly drawn cases each."""

BLANK = {
    "completion 1": ("repair", "proof"),
    "completion 2": ("chain", "excluded", "repair", "proof"),
    "completion 3": ("cleared", "causes", "chain", "evidence", "excluded", "repair", "proof", "cautions"),
}
"""What a learner fills in at each stage of completion: help goes from the end of the record backward."""

OWN = ("why", "confidence")  # always the learner's own


class CourseCase(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One case of the course; the fields are explained at the head of datasets/course.toml."""

    lesson: Annotated[int, msgspec.Meta(ge=1, le=12)]
    support: Support
    owner: str
    vehicle: str
    told: str
    history: str
    beside: str

    @property
    def alone(self) -> bool:
        """Whether it is worked without hints and odds."""
        return self.support == "without help"


class _Course(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    cases: dict[str, CourseCase]


@cache
def course_cases() -> dict[str, CourseCase]:
    """The cases by id, in order."""
    return read_data("course", _Course).cases


class LessonCauses(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A lesson and the causes it exercises; none: every cause."""

    number: int
    title: str
    causes: tuple[str, ...]


class _Lessons(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    lessons: tuple[LessonCauses, ...]


@cache
def course_lessons() -> dict[int, LessonCauses]:
    """The lessons by number."""
    return {each.number: each for each in read_data("classroom/lessons", _Lessons).lessons}


def lesson_of(number: int) -> LessonCauses:
    """The lesson with that number. Raises ValueError for one that does not exist."""
    lessons = course_lessons()
    if number not in lessons:
        raise ValueError(f"lesson must be 1 to {max(lessons)}, got {number}. Choose one of the course.")
    return lessons[number]


def course_case(name: str) -> CourseCase:
    """The case `name`. Raises ValueError naming the nearest one that exists."""
    one_of("case", name, course_cases())
    return course_cases()[name]


def given_part(case: Case, key: Key, support: Support) -> tuple[Answer | None, tuple[str, ...]]:
    """The part of an expert's record that is filled in beforehand, and the inspections it stands on, in order.

    None and no inspections where the learner writes all of it; no inspections where the learner chooses them.
    """
    if support not in BLANK:
        return None, ()
    from course_lib.assessment.record import Answer
    from course_lib.assessment.rubric import model_record  # here: a list of cases needs no simulator loaded

    record, nothing = model_record(case.anew(), key), Answer()
    blank = {name: getattr(nothing, name) for name in (*BLANK[support], *OWN)}
    steps = () if "evidence" in blank else tuple(step.inspection for step in record.inspections)
    return msgspec.structs.replace(record.answer, **blank), steps
