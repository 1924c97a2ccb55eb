"""The page of a worked case: each step is a small widget that asks, and opens once it is answered; units are chosen above them."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

from IPython.display import DisplayObject

from course_lib.base.units import text_in_system
from course_lib.bench.notebook_output import HTML, Markdown, Place, display
from course_lib.bench.page_script import page_script, style
from course_lib.bench.sheet_page import SheetPage
from course_lib.bench.units_setting import READERS, keep_units, tell_readers, units_kept
from course_lib.bench.units_view import UnitsPage
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.lessons.step_order import first_unanswered
from course_lib.lessons.worked_case import WorkedCase

LABELS = {
    "open": "Lock my answer and open the step",
    "sureness": "How sure are you?",
    "waiting": "Opening. If this line does not change, run this cell again.",
}
"""The words on the controls of a step."""

RECORD_WAITS = "Answer every step above first. Then the record stands here."


class StepPage(SheetPage):
    """One step of a worked case. The page sends a prediction; the sheet it is sent back shows what opened."""

    _esm = page_script("worked.js")
    _css = style("worked.css")

    def __init__(self, worked: WorkedCase, step: str, answered: Callable[[], None]) -> None:
        self._worked, self._step, self._answered = worked, step, answered
        super().__init__(self._drawn())

    def told(self, sent: dict[str, Any]) -> None:
        """A prediction was made: lock it, or say what is missing."""
        try:
            self._worked.lock(
                self._step, choice=sent["choice"], sureness=sent["sureness"], words=sent["words"]
            )
        except (ValueError, OSError):
            self.send({"say": "Choose an answer and how sure you are, or write your sentence; then open."})
            return
        self._answered()

    def draw(self) -> None:
        """Show the step as it stands now."""
        self.show(self._drawn)

    def _drawn(self) -> dict[str, Any]:
        """The sheet of the step, with its pictures drawn."""
        sheet = self._worked.sheet(self._step)
        blocks = [_with_picture(self._worked, block) for block in sheet["blocks"]]
        return sheet | {"blocks": [block for block in blocks if block], "labels": LABELS}

    def __repr__(self) -> str:
        """The same words whatever was answered: this is what a notebook shows without its page."""
        return f"Step {self._step!r} of case {self._worked.case.id}. Run this cell to show it."


def _with_picture(worked: WorkedCase, block: dict[str, Any]) -> dict[str, Any] | None:
    """A block as the page draws it: a picture as its source and its words, None where there is nothing to draw."""
    if block["kind"] != "picture":
        return block
    # here: a step that is not open loads no drawing library
    from course_lib.plots.finding_pictures import of_finding

    finding = worked.seen(block["of"], block["only"], block["mended"])
    picture = of_finding(finding, verdict=True, system=worked.system, unit=worked.case.unit)
    if picture is None:
        return None
    return {"kind": "picture", "src": picture.source, "alt": picture.alt}


class WorkedPages:
    """What a notebook calls: the work order, a step, the expert's record. All of it changes units together."""

    def __init__(self, worked: WorkedCase) -> None:
        self.worked = worked
        self._steps: dict[str, StepPage] = {}
        self._tables: dict[str, tuple[Place, Callable[[], str]]] = {}
        self._switch: UnitsPage | None = None
        READERS.add(self)

    def work_order(self) -> None:
        """Show the switch of units, the work order and the spec sheet of the unit."""
        self._switch = UnitsPage(self.worked.system, self._choose)
        display(self._switch)
        self._show_pairs("Work order", self._order_rows)
        self._show_pairs(
            "Spec sheet",
            lambda: [row for _, rows in self.worked.case.spec_sheet(self.worked.system) for row in rows],
            folded=True,
        )

    def _order_rows(self) -> list[tuple[str, str]]:
        order = self.worked.case.work_order
        rows = [("number", str(order.number)), ("vehicle", order.vehicle), ("unit", order.unit_name)]
        rows.append(("odometer", f"{order.odometer_miles:,} miles"))
        rows += [(name, getattr(order, name)) for name in ("owner", "complaint", "since")]
        return [*rows, ("kind of driving", order.use), ("history", order.history)]

    def step(self, name: str) -> StepPage:
        """Show a step; it opens once it is answered, and it is asked once the one before it is open."""
        self._steps[name] = StepPage(self.worked, name, self._draw_steps)
        return self._steps[name]

    def _draw_steps(self) -> None:
        for page in self._steps.values():
            page.draw()
        for handle, content in self._tables.values():
            handle.update(HTML(content()))

    def _choose(self, system: str) -> None:
        keep_units(system, self.worked.path.parent)
        tell_readers()

    def read_units(self) -> None:
        """Take over the units chosen here or on another page."""
        self.worked.system = units_kept(self.worked.path.parent)
        if self._switch is not None:
            self._switch.turn(self.worked.system)
        self._draw_steps()

    def whole(self) -> DisplayObject:
        """The whole road as text, for whoever would rather read than answer: every step, every reply, the record."""
        return Markdown(self.worked.whole())

    def record(self) -> None:
        """Show the record that the expert wrote, folded; its rows stand in it once every step above it is answered."""
        above = tuple(self._steps)

        def rows() -> list[tuple[str, str]]:
            waits = first_unanswered(above, self.worked.predictions.__contains__)
            return [("", RECORD_WAITS)] if waits else self.worked.record_rows()

        self._show_pairs("The expert's record", rows, folded=True)

    def _show_pairs(
        self, caption: str, rows: Callable[[], list[tuple[str, str]]], *, folded: bool = False
    ) -> None:
        """A table of names and values under its caption; folded, it opens with a click or the space bar."""

        def content() -> str:
            told = [
                (text_in_system(name, self.worked.system), text_in_system(text, self.worked.system))
                for name, text in rows()
            ]
            return _pairs(caption, told, folded)

        self._tables[caption] = display(HTML(content()), display_id=True), content


def open_worked(case_id: str, *, folder: str = "answers") -> WorkedPages:
    """Open a worked case by its id. Raises FileNotFoundError if there is no such case."""
    worked = WorkedCase(load_case(case_id), load_key(case_id), folder=folder, system=units_kept(folder))
    return WorkedPages(worked)


def _pairs(caption: str, rows: list[tuple[str, str]], folded: bool) -> str:
    lines = "".join(
        f'<tr><th scope="row" style="text-align:left;vertical-align:top">{escape(name)}</th>'
        f'<td style="text-align:left">{escape(str(value))}</td></tr>'
        for name, value in rows
    )
    title = f'<caption style="text-align:left;font-weight:bold">{escape(caption)}</caption>'
    table = f"<table>{title}<tbody>{lines}</tbody></table>"
    return f"<details><summary>{escape(caption)}</summary>{table}</details>" if folded else table
