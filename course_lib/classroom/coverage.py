"""What the course covers, and where: ``python -m course_lib.classroom.coverage`` prints the matrix that stands in DEVELOPERS.md."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable
from functools import cache

import msgspec

from course_lib.classroom.build import TOP
from course_lib.classroom.casebook import recipes
from course_lib.course import course_lessons
from course_lib.datasets import read_data
from course_lib.lessons import coverage

CASES = "every case on the bench"


class Topic(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing a published standard expects; words: any of them must stand in a notebook that covers it."""

    topic: str
    words: tuple[str, ...]


class _Topics(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    topics: tuple[Topic, ...]


Where = dict[str, list[str]]


@cache
def lesson_texts() -> dict[str, str]:
    """All that a lesson says, notebook and items, in lower case, by its name."""
    texts = {}
    for path in sorted((TOP / "solutions").glob("lesson_*.ipynb")):
        name = f"L{path.stem[7:9]}"
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        items = (TOP / f"datasets/lessons/{name}.toml").read_text(encoding="utf-8")
        texts[name] = "\n".join(["".join(cell["source"]) for cell in cells] + [items]).lower()
    return texts


def causes() -> Where:
    """Cause -> the lessons that show or exercise it, and the cases it is behind."""
    found = {name: list(places) for name, places in coverage.causes().items()}
    for number, lesson in course_lessons().items():
        for cause in lesson.causes:
            if (name := f"L{number:02d}") not in found[cause]:
                found[cause].append(name)
    for name, recipe in recipes().items():
        for cause in filter(None, (recipe.cause, recipe.also)):
            found[cause].append(name)
    return {name: sorted(places) for name, places in found.items()}


def inspections() -> Where:
    """Inspection -> the lessons that rely on it; every case on the bench offers all that its vehicle allows."""
    return {name: list(places) for name, places in coverage.inspections().items()}


def thoughts() -> Where:
    """Misconception -> the lessons in which it tempts somebody."""
    return {name: list(places) for name, places in coverage.misconceptions().items()}


def topics() -> Where:
    """Topic of the standard -> the lessons that speak of it."""
    return {
        each.topic: [lesson for lesson, text in lesson_texts().items() if _says(text, each.words)]
        for each in read_data("classroom/topics", _Topics).topics
    }


def _says(text: str, words: Iterable[str]) -> bool:
    return any(re.search(rf"\b{re.escape(word.lower())}", text) for word in words)


def as_markdown() -> str:
    """The matrix, one table for each question."""
    parts = []
    for title, where in (
        ("Topic of the standard", topics()),
        ("Inspection", inspections()),
        ("Cause", causes()),
        ("Misconception", thoughts()),
    ):
        rows = [f"| {name} | {' '.join(places) or CASES} |" for name, places in where.items()]
        parts.append("\n".join([f"| {title} | Where |", "|---|---|", *rows]))
    return "\n\n".join(parts)


def main() -> int:
    """Print the matrix."""
    print(as_markdown())
    return 0


if __name__ == "__main__":
    sys.exit(main())
