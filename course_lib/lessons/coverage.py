"""What the lessons cover: ``python -m course_lib.lessons.coverage`` prints it as tables for the developers' guide."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable

from course_lib.catalogue.causes import all_causes
from course_lib.datasets import data_folder, read_data
from course_lib.lessons.checks import SLIP, thoughts
from course_lib.lessons.kinds import Item
from course_lib.lessons.lesson import Misconceptions, lesson_names, load_lesson
from course_lib.shop.findings import all_inspections

Cover = dict[str, tuple[str, ...]]


def misconceptions() -> Cover:
    """Each misconception of the common list, and the lessons in which it stands behind a wrong answer."""
    ids = read_data("misconceptions", Misconceptions).misconceptions
    return _cover(ids, lambda name: {t for item in load_lesson(name).items for t in thoughts(item)} - {SLIP})


def causes() -> Cover:
    """Each root cause, and the lessons that show a vehicle with it."""
    return _cover(all_causes(), lambda name: {each.cause for each in load_lesson(name).vehicles.values()})


def inspections() -> Cover:
    """Each inspection, and the lessons whose words, items or notebook rely on it."""
    return _cover(all_inspections(), _inspected)


def kinds() -> Cover:
    """Each kind of item, and the lessons that ask in it."""
    asked = {name: {_kind(item) for item in load_lesson(name).items} for name in lesson_names()}
    return _cover(sorted(set().union(*asked.values())), asked.__getitem__)


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


def _kind(item: Item) -> str:
    return str(type(item).__struct_config__.tag)


def _cover(ids: Iterable[str], met: Callable[[str], set[str]]) -> Cover:
    by_lesson = {name: met(name) for name in lesson_names()}
    return {each: tuple(name for name, found in by_lesson.items() if each in found) for each in ids}


def main() -> int:
    """Print every table in Markdown, what is met nowhere last."""
    for title, cover in (
        ("Misconception", misconceptions()),
        ("Cause", causes()),
        ("Inspection", inspections()),
        ("Kind", kinds()),
    ):
        print(f"| {title} | Lessons |\n|---|---|")
        for each, names in sorted(cover.items(), key=lambda pair: not pair[1]):
            print(f"| `{each}` | {' '.join(names) or 'none'} |")
        print()
    return 0


if __name__ == "__main__":
    sys.exit(main())
