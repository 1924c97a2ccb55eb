"""What the lessons cover: misconceptions, causes, inspections."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from course_lib.authoring.lesson_checks import SLIP, misconceptions_of
from course_lib.base.data_files import data_folder, read_data
from course_lib.faults.causes import all_causes
from course_lib.lessons.lesson import MisconceptionsFile, lesson_names, load_lesson
from course_lib.shop.findings import all_inspections

Cover = dict[str, tuple[str, ...]]


def misconceptions_in_lessons() -> Cover:
    """Each misconception of the common list, and the lessons in which it stands behind a wrong answer."""
    ids = read_data("misconceptions", MisconceptionsFile).misconceptions
    return _cover(
        ids, lambda name: {t for item in load_lesson(name).items for t in misconceptions_of(item)} - {SLIP}
    )


def causes_in_lessons() -> Cover:
    """Each root cause, and the lessons that show a vehicle with it."""
    return _cover(all_causes(), lambda name: {each.cause for each in load_lesson(name).vehicles.values()})


def inspections_in_lessons() -> Cover:
    """Each inspection, and the lessons whose words, items or notebook rely on it."""
    return _cover(all_inspections(), _inspected)


def _inspected(name: str) -> set[str]:
    lesson = load_lesson(name)
    found = {inspection for _, inspection, _, _ in lesson.claims}
    found |= {item.finding.inspection for item in lesson.items if item.finding}
    found |= {
        fact["inspection"]
        for fact in lesson.facts.values()
        if isinstance(fact, dict) and "inspection" in fact
    }
    notebooks = data_folder("notebooks").glob(f"lesson_{name[1:]}_*.ipynb")
    text = " ".join(path.read_text(encoding="utf-8") for path in notebooks)
    return found | set(re.findall(r'\\"(\w+)\\"', text))


def _cover(ids: Iterable[str], met: Callable[[str], set[str]]) -> Cover:
    by_lesson = {name: met(name) for name in lesson_names()}
    return {each: tuple(name for name, found in by_lesson.items() if each in found) for each in ids}
