"""The page of a worked case: each step is a small widget that asks, and opens once it is answered."""

from __future__ import annotations

from base64 import b64encode
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import traitlets
from IPython.display import HTML, Markdown, display

from course_lib.cases import load_case, load_key
from course_lib.worked import Worked

LABELS = {
    "open": "Lock my answer and open the step",
    "sureness": "How sure are you?",
    "waiting": "Opening. If this line does not change, run this cell again.",
}
"""The words on the controls of a step."""

_HERE = Path(__file__).parent


class StepPage(anywidget.AnyWidget):
    """One step of a worked case. The page sends a prediction; the sheet it is sent back shows what opened."""

    _esm = _HERE / "worked.js"
    _css = _HERE / "worked.css"
    sheet = traitlets.Dict().tag(sync=True)

    def __init__(self, worked: Worked, step: str) -> None:
        self._worked, self._step = worked, step
        super().__init__(sheet=self._drawn())
        self.on_msg(self._predicted)

    def _predicted(self, _widget: Any, sent: dict[str, Any], _buffers: Any) -> None:
        try:
            self._worked.lock(
                self._step, choice=sent["choice"], sureness=sent["sureness"], words=sent["words"]
            )
        except (ValueError, OSError):
            self.send({"say": "Choose an answer and how sure you are, or write your sentence; then open."})
            return
        self.sheet = self._drawn()

    def _drawn(self) -> dict[str, Any]:
        """The sheet of the step, with its pictures drawn."""
        sheet = self._worked.sheet(self._step)
        blocks = [_with_picture(self._worked, block) for block in sheet["blocks"]]
        return sheet | {"blocks": [block for block in blocks if block], "labels": LABELS}

    def __repr__(self) -> str:
        """The same words whatever was answered: this is what a notebook shows without its page."""
        return f"Step {self._step!r} of case {self._worked.case.id}. Run this cell to show it."


def _with_picture(worked: Worked, block: dict[str, Any]) -> dict[str, Any] | None:
    """A block as the page draws it: a picture as its PNG and its words, None where there is nothing to draw."""
    if block["kind"] != "picture":
        return block
    from course_lib.plots import of_finding  # here: a step that is not open loads no drawing library

    picture = of_finding(worked.seen(block["of"], block["only"]), verdict=True)
    if picture is None:
        return None
    return {"kind": "picture", "src": b64encode(picture.png()).decode(), "alt": picture.alt}


class WorkedPages:
    """What a notebook calls: the work order, a step, the expert's record."""

    def __init__(self, worked: Worked) -> None:
        self.worked = worked

    def work_order(self) -> None:
        """Show the work order and the spec sheet of the unit."""
        order = self.worked.case.work_order
        rows = [(name.replace("_", " "), getattr(order, name)) for name in ("number", "vehicle", "unit_name")]
        rows.append(("odometer", f"{order.odometer_miles:,} miles"))
        rows += [(name, getattr(order, name)) for name in ("owner", "complaint", "since", "use", "history")]
        _show_pairs("Work order", rows)
        _show_pairs("Spec sheet", list(self.worked.case.spec_sheet), folded=True)

    def step(self, name: str) -> StepPage:
        """Show a step; it opens once it is answered."""
        return StepPage(self.worked, name)

    def whole(self) -> Markdown:
        """The whole road as text, for whoever would rather read than answer: every step, every reply, the record."""
        return Markdown(self.worked.whole())

    def record(self) -> None:
        """Show the record that the expert wrote, folded: a learner opens it when the steps are done."""
        _show_pairs(
            "The expert's record (open it when you have answered every step)",
            self.worked.record_rows(),
            folded=True,
        )


def open_worked(case_id: str, *, folder: str = "answers") -> WorkedPages:
    """Open a worked case by its id. Raises FileNotFoundError if there is no such case."""
    return WorkedPages(Worked(load_case(case_id), load_key(case_id), folder=folder))


def _show_pairs(caption: str, rows: list[tuple[str, str]], *, folded: bool = False) -> None:
    """A table of names and values under its caption; folded, it opens with a click or the space bar."""
    lines = "".join(
        f'<tr><th scope="row" style="text-align:left;vertical-align:top">{escape(name)}</th>'
        f'<td style="text-align:left">{escape(str(value))}</td></tr>'
        for name, value in rows
    )
    title = f'<caption style="text-align:left;font-weight:bold">{escape(caption)}</caption>'
    table = f"<table>{title}<tbody>{lines}</tbody></table>"
    display(HTML(f"<details><summary>{escape(caption)}</summary>{table}</details>" if folded else table))
