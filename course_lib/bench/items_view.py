"""The pages of a lesson: each item is a small widget that asks, replies, and opens the worked answer at the end."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from html import escape
from typing import Any

from course_lib.base.guards import one_of
from course_lib.base.units import SYSTEMS
from course_lib.bench.notebook_output import HTML, display
from course_lib.bench.page_script import page_script, style
from course_lib.bench.sheet_page import SheetPage
from course_lib.bench.units_setting import READERS, keep_units, tell_readers, units_kept
from course_lib.bench.units_view import RedrawnOutputs, UnitsPage, Waits
from course_lib.lessons.item_kinds import Predict
from course_lib.lessons.item_sheet import item_finding, item_sheet, item_unit
from course_lib.lessons.lesson_tables import compared_findings, finding_table, glossary, progress, spec_rows
from course_lib.lessons.picture_in_units import PictureInUnits, picture_in_units
from course_lib.lessons.step_order import first_unanswered
from course_lib.lessons.tables import LEGEND, Table
from course_lib.lessons.vehicles import inspect_vehicle
from course_lib.lessons.workbook import AGAIN, Workbook
from course_lib.plots.picture import Picture
from course_lib.shop.findings import Finding

LABELS = {
    "check": "Check my answer",
    "lock": "Lock my guess",
    "compare": "Compare with a model",
    "sureness": "How sure are you?",
    "hint": "A hint (it costs nothing)",
    "worked": "The worked answer",
    "model": "A model sentence.",
    "ticks": "Look for these in yours.",
    "said": "You said:",
    "up": "Move up",
    "down": "Move down",
    "pick": "choose",
    "metric": "You may also write it in",
    "waiting": "Checking. If this line does not change, run this cell again.",
}
"""The words on the controls of an item."""

STANDING_LABELS = {
    "again": AGAIN,
    "sure": "Your points of this practice go, and every item is laid out anew. Guesses and sentences stay.",
    "yes": "Yes, start afresh",
    "no": "No, keep my answers",
    "done": "Done. The items above are open again, in another order.",
}
"""The words on the page that shows how the practice stands."""

GUESS_FIRST = "Lock your guess above first. Then this opens."
"""What stands in the place of a table or picture until the guess before it is made."""

WANTED = {
    "choice": "Choose one answer, then press the button.",
    "predict": "Choose an answer and how sure you are, then lock it.",
    "several": "Tick one at least, then press the button.",
    "number": "Write one number in figures, like 12.5, alone or with the unit that stands beside it.",
    "order": "Put every card in its place, then press the button.",
    "match": "Choose an answer for each row, and each answer once. Then press the button.",
    "sentence": "Write a sentence of yours first. A short one will do.",
}
"""What is said to an answer that cannot be read, by the kind of item."""


class ItemPage(SheetPage):
    """One item. The page sends an answer as text; the sheet it is sent back shows what is said to it."""

    _esm = page_script("items.js")
    _css = style("items.css")

    def __init__(
        self,
        book: Workbook,
        item: str,
        *,
        system: str = "workshop",
        answered: Callable[[], None] | None = None,
    ) -> None:
        """answered: told whenever an answer was taken."""
        self._book, self._item, self._system = book, item, system
        self._tell = answered or (lambda: None)
        super().__init__(self._sheet())

    def _sheet(self) -> dict[str, Any]:
        picture = _picture(self._book.name, self._item, self._system)
        return item_sheet(self._book, self._item, system=self._system) | {
            "labels": LABELS,
            "picture": picture,
        }

    def told(self, sent: dict[str, Any]) -> None:
        """An answer came: judge it, or say what is missing."""
        given = self._book.deal(self._item).of_file(str(sent.get("given", "")))
        try:
            self._book.answer(self._item, given, sureness=str(sent.get("sureness", "")))
        except ValueError:
            self.draw()  # it may have been answered on another page
            self.send({"say": WANTED[self.sheet["kind"]]})
            return
        except OSError as error:
            self.send(
                {
                    "say": f"Your answer could not be saved ({error.strerror}). Free some space, then try again."
                }
            )
            return
        self.draw()
        self._tell()

    def draw(self, system: str = "") -> None:
        """Show the item as it stands now; system: in which units from now on, "" for those it has."""
        self._system = system or self._system
        self.show(self._sheet)

    def __repr__(self) -> str:
        """The same words whatever was answered: this is what a notebook shows without its page."""
        return f"Item {self._item!r} of lesson {self._book.name}. Run this cell to show it."


@cache
def _picture(lesson: str, item: str, system: str) -> dict[str, str] | None:
    """The picture of what an item shows, without a verdict: its source and its words; None where there is nothing to draw."""
    # here and below: a lesson that has not drawn anything yet loads no drawing library
    from course_lib.plots.finding_pictures import of_finding

    finding = item_finding(lesson, item)
    picture = finding and of_finding(finding, verdict=False, system=system, unit=item_unit(lesson, item))
    return {"src": picture.source, "alt": picture.alt} if picture else None


class ProgressPage(SheetPage):
    """How the practice of a lesson stands, with a button that opens it once more."""

    _esm = page_script("progress.js")
    _css = style("items.css")

    def __init__(self, book: Workbook, again: Callable[[], None]) -> None:
        self._book, self._again = book, again
        super().__init__(self._sheet())

    def told(self, _sent: dict[str, Any]) -> None:
        """The practice is to be done once more."""
        self._again()

    def _sheet(self) -> dict[str, Any]:
        table = progress(self._book)
        begun = any(self._book.tries(item.id) for item in self._book.lesson.scored)
        rows = [list(row) for row in table.rows]
        told = {"caption": table.caption, "heads": list(table.heads), "rows": rows}
        return told | {"begun": begun, "labels": STANDING_LABELS}

    def draw(self) -> None:
        """Show how it stands now."""
        self.show(self._sheet)

    def __repr__(self) -> str:
        """The same words whatever was answered: this is what a notebook shows without its page."""
        return f"How the practice of lesson {self._book.name} stands. Run this cell to show it."


class LessonPages:
    """What the notebook of a lesson calls: items, the lesson's vehicles under test, how the learner stands."""

    def __init__(self, book: Workbook, *, system: str = "workshop") -> None:
        one_of("system", system, SYSTEMS)
        self.book, self.lesson, self.system = book, book.lesson, system
        self._pages: dict[str, ItemPage] = {}
        self._standing: ProgressPage | None = None
        self._followers = RedrawnOutputs(system, self._guesses)
        self._switch: UnitsPage | None = None
        READERS.add(self)

    def switch(self) -> None:
        """Show the switch of units and what the sign of a table means.

        Tables and pictures that the notebook shows from now on follow the switch, and wait for a guess before them.
        """
        self._switch = UnitsPage(self.system, self._choose)
        self._followers.follow(Table, Picture)
        display(self._switch)
        display(HTML(f"<p><small>{escape(LEGEND)}</small></p>"))

    def _choose(self, system: str) -> None:
        keep_units(system, self.book.path.parent)
        tell_readers()

    def read_units(self) -> None:
        """Take over the units chosen here or on another page."""
        self.system = units_kept(self.book.path.parent)
        if self._switch is not None:
            self._switch.turn(self.system)
        for page in self._pages.values():
            page.draw(self.system)
        self._followers.turn(self.system)

    def ask(self, *items: str) -> None:
        """Show items, one under the other."""
        for item in items:
            page = ItemPage(self.book, item, system=self.system, answered=self._answered)
            self._pages[item] = page
            display(page)

    def _guesses(self) -> Waits:
        """What a table or picture shown now waits for: the guesses that were asked for before it."""
        asked = [name for name in self._pages if isinstance(self.lesson.item(name), Predict)]
        return lambda: (
            GUESS_FIRST if first_unanswered(asked, lambda name: self.book.result(name).done) else ""
        )

    def _answered(self) -> None:
        self._followers.open()
        if self._standing is not None:
            self._standing.draw()

    def look(self, vehicle: str, inspection: str, *keys: str) -> Table:
        """What one inspection of a vehicle gives, cut down to some reading keys."""
        return finding_table(self.finding(vehicle, inspection), keys).shown(self.system)

    def compare(self, vehicles: list[str], inspection: str, *keys: str) -> Table:
        """The same inspection of several vehicles, or of one before and after a repair: one column each."""
        findings = [self.finding(name, inspection) for name in vehicles]
        labels = [self.lesson.vehicles[name].label or name for name in vehicles]
        return compared_findings(findings, labels, keys).shown(self.system)

    def figure(self, vehicle: str, inspection: str, *, verdict: bool = True) -> PictureInUnits:
        """The picture that shows most of a finding; verdict: whether it says what a reading means.

        Raises ValueError where there is nothing but words.
        """
        from course_lib.plots.finding_pictures import of_finding

        finding, unit = self.finding(vehicle, inspection), self.lesson.vehicles[vehicle].unit

        def draw(system: str) -> Picture:
            picture = of_finding(finding, verdict=verdict, system=system, unit=unit)
            if picture is None:
                raise ValueError(f"inspection must give readings, got {inspection!r}. Show it with look.")
            return picture

        return picture_in_units(draw, self.system)

    def finding(self, vehicle: str, inspection: str) -> Finding:
        """What one inspection of a vehicle gives, whole."""
        one_of("vehicle", vehicle, self.lesson.vehicles)
        return inspect_vehicle(self.lesson.vehicles[vehicle], inspection)

    def spec(self, *keys: str, unit: str = "T3") -> Table:
        """Some rows of the spec sheet of a unit."""
        return spec_rows(unit, keys).shown(self.system)

    def words(self) -> Table:
        """The words that this lesson explains."""
        return glossary(self.book.name)

    def progress(self) -> ProgressPage:
        """How the items of this lesson stand, now and after each answer, and a button to do the practice again."""
        self._standing = ProgressPage(self.book, self.again)
        return self._standing

    def again(self) -> None:
        """Start the practice of this lesson afresh: its items are open again where they stand, laid out anew."""
        self.book.again()
        for page in self._pages.values():
            page.draw()
        if self._standing is not None:
            self._standing.draw()


def open_lesson(name: str, *, system: str = "", folder: str = "answers") -> LessonPages:
    """Open a lesson by its name ("L01") under a switch of units. Raises ValueError if there is no such lesson.

    system: "workshop" or "metric"; "" for the units chosen last in `folder`.
    """
    pages = LessonPages(Workbook(name, folder=folder), system=system or units_kept(folder))
    pages.switch()
    return pages


def open_item(name: str, item: str, *, folder: str = "answers") -> ItemPage:
    """The page of one item of a lesson."""
    return ItemPage(Workbook(name, folder=folder), item)
