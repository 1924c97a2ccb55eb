"""What the course covers, and where: ``python -m course_lib.authoring coverage`` prints it."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from functools import cache

import msgspec

from course_lib.authoring import lesson_coverage as coverage
from course_lib.authoring.case_recipes import recipes
from course_lib.authoring.lesson_checks import texts_of
from course_lib.base.data_files import read_data
from course_lib.lessons.lesson import lesson_names, load_lesson
from course_lib.lessons.syllabus import course_lessons

CASES = "every case on the bench"


NOT_COVERED = "not covered"


class Topic(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing a published standard expects: covered where an item asks for one of `words`, or a case has one of `causes`.

    left_out: why the course leaves it out, where neither does.
    """

    topic: str
    words: tuple[str, ...]
    causes: tuple[str, ...] = ()
    left_out: str = ""


class _Topics(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    topics: tuple[Topic, ...]


Where = dict[str, list[str]]


@cache
def asked_in_lessons() -> dict[str, str]:
    """All that the items of a lesson ask, in lower case, by its name: stems and what there is to choose from, no reply."""
    kinds = ("stem", "option", "cell")
    return {
        name: "\n".join(
            text for item in load_lesson(name).items for kind, text in texts_of(item) if kind in kinds
        ).lower()
        for name in lesson_names()
    }


def causes_covered() -> Where:
    """Cause -> the lessons that show or exercise it, and the cases it is behind."""
    found = {name: list(places) for name, places in coverage.causes_in_lessons().items()}
    for number, lesson in course_lessons().items():
        for cause in lesson.causes:
            if (name := f"L{number:02d}") not in found[cause]:
                found[cause].append(name)
    for name, recipe in recipes().items():
        for cause in filter(None, (recipe.cause, recipe.also)):
            found[cause].append(name)
    return {name: sorted(places) for name, places in found.items()}


def inspections_covered() -> Where:
    """Inspection -> the lessons that rely on it; every case on the bench offers all that its vehicle allows."""
    return {name: list(places) for name, places in coverage.inspections_in_lessons().items()}


def misconceptions_covered() -> Where:
    """Misconception -> the lessons in which it tempts somebody."""
    return {name: list(places) for name, places in coverage.misconceptions_in_lessons().items()}


def standard() -> tuple[Topic, ...]:
    """What a published standard expects, topic by topic."""
    return read_data("classroom/topics", _Topics).topics


def topics_covered() -> Where:
    """Topic of the standard -> the lessons whose items ask for it, and the cases that turn on it."""
    return {
        each.topic: [lesson for lesson, text in asked_in_lessons().items() if _says(text, each.words)]
        + _cases(each.causes)
        for each in standard()
    }


def _cases(causes: Collection[str]) -> list[str]:
    """The cases behind which one of some causes is."""
    return sorted(name for name, recipe in recipes().items() if {recipe.cause, recipe.also} & set(causes))


def _says(text: str, words: Iterable[str]) -> bool:
    return any(re.search(rf"\b{re.escape(word.lower())}", text) for word in words)


def as_markdown() -> str:
    """The matrix, one table for each question."""
    parts = []
    for title, where, nowhere in (
        ("Topic of the standard", topics_covered(), NOT_COVERED),
        ("Inspection", inspections_covered(), CASES),
        ("Cause", causes_covered(), CASES),
        ("Misconception", misconceptions_covered(), CASES),
    ):
        rows = [f"| {name} | {' '.join(places) or nowhere} |" for name, places in where.items()]
        parts.append("\n".join([f"| {title} | Where |", "|---|---|", *rows]))
    return "\n\n".join(parts)
