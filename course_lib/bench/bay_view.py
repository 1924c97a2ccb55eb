"""The page of the open bay: choose what to practice, and the next vehicle rolls in below."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ipywidgets

from course_lib.bench.bench_view import open_bench
from course_lib.bench.notebook_output import display
from course_lib.bench.page_script import page_script, style
from course_lib.bench.sheet_page import SheetPage
from course_lib.cases.case import Case
from course_lib.cases.key import Key
from course_lib.lessons.open_bay import Bay, PracticeRequest, bay_units, cause_families, not_to_be_had
from course_lib.lessons.syllabus import DIFFICULTIES, course_lessons

WORDS = {
    "head": "Open bay",
    "unit": "Unit",
    "family": "Family",
    "lesson": "Lesson",
    "difficulty": "How hard",
    "any": "as it comes",
    "next": "Next vehicle",
    "again": "Back to the vehicle you began",
    "busy": "A vehicle is being made. The first one of its kind takes a while, because others are lived to compare it with.",
    "note": "No lesson speaks of electronic control yet: its words stand in the glossary, its tables in "
    "\u201cWiring diagram, pin table, spec sheet\u201d. "
    "Of a family or a lesson that you ask for, two vehicles in five come from outside it, so the list is never the answer.",
}
"""What stands on the page."""


class BayPage(SheetPage):
    """Four choices and a button. The page sends what was chosen with the button, in one message."""

    _esm = page_script("bay.js")
    _css = style("bay.css")

    def __init__(self, bay: Bay) -> None:
        self.bay = bay
        self.below = ipywidgets.Output()
        super().__init__(self._sheet())

    def _sheet(self, say: str = "", *, busy: bool = False) -> dict[str, Any]:
        lessons = [(str(number), f"{number}. {each.title}") for number, each in course_lessons().items()]
        return {
            "words": WORDS,
            "unit": list(bay_units().items()),
            "family": [(name, name) for name in cause_families()],
            "lesson": lessons,
            "difficulty": [(name, name) for name in DIFFICULTIES if name != "any"],
            "plan": list(self.bay.plan()),
            "begun": bool(self.bay.unfinished()),
            "say": say,
            "busy": busy,
        }

    def told(self, sent: dict[str, Any]) -> None:
        """A vehicle was asked for: make it, or open the one that was begun."""
        self.show(lambda: self._sheet(WORDS["busy"], busy=True))
        try:
            case, key, say = self._vehicle(sent)
            self.below.clear_output()
            with self.below:
                display(open_bench(case, key, folder=self.bay.records))
        except (ValueError, OSError) as error:
            say = str(error)
        self.show(lambda: self._sheet(say))

    def _vehicle(self, given: dict[str, Any]) -> tuple[Case, Key, str]:
        """The vehicle, and what of the wish could not be met."""
        if given.get("do") == "again" and (name := self.bay.unfinished()):
            return (*self.bay.open(name), "")
        number = str(given.get("lesson", ""))
        wish = PracticeRequest(
            unit=str(given.get("unit", "")) or None,
            family=str(given.get("family", "")) or None,
            lesson=int(number) if number.isdigit() else None,
            difficulty=str(given.get("difficulty", "")) or "any",
        )
        return (*self.bay.next(wish), not_to_be_had(wish))

    def __repr__(self) -> str:
        """The same words whatever was done: this is what a notebook shows without its page."""
        return "Open bay. Run this cell to show it."


def open_bay(*, folder: str | Path = "answers") -> ipywidgets.VBox:
    """The open bay: practice without end. What was worked in `folder` decides what comes up more often."""
    page = BayPage(Bay(folder))
    return ipywidgets.VBox([page, page.below])
