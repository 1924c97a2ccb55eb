"""The switch of units on a page of its own, and tables and pictures of a notebook that follow it where they stand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Any

from IPython.core.getipython import get_ipython

from course_lib.bench.notebook_output import Place, display
from course_lib.bench.page_script import page_script, style
from course_lib.bench.sheet_page import SheetPage
from course_lib.bench.units_setting import units_choice


class UnitsPage(SheetPage):
    """The switch of units above a worked case or a lesson."""

    _esm = page_script("units_page.js")
    _css = style("worked.css")

    def __init__(self, system: str, chosen: Callable[[str], None]) -> None:
        self._chosen = chosen
        super().__init__(units_choice(system))

    def told(self, sent: dict[str, Any]) -> None:
        """Units were chosen."""
        self._chosen(str(sent.get("system", "")))

    def turn(self, system: str) -> None:
        """Show which units are read now."""
        self.show(lambda: units_choice(system))

    def __repr__(self) -> str:
        return "Units of the readings. Run this cell to choose them."


Waits = Callable[[], str]
"""What somebody is asked to do first, as long as it is not done; "" from then on."""


@dataclass
class _Output:
    """A place in the notebook: what belongs there, what it waits for, and the line that stands there meanwhile."""

    handle: Place
    thing: Any
    waits: Waits
    line: str


class RedrawnOutputs:
    """What the cells of a notebook have shown, to be shown anew in its place in other units. A cell run again counts anew.

    before: asked whenever something is shown, what it waits for; until then its place holds that line and nothing of it.
    """

    def __init__(self, system: str, before: Callable[[], Waits] = lambda: lambda: "") -> None:
        self._system, self._before = system, before
        self._of_cell: dict[str, tuple[str, list[_Output]]] = {}

    def follow(self, *kinds: type) -> None:
        """From now on, have the notebook show everything of these kinds in a place that can be written again."""
        formatter = getattr(get_ipython(), "display_formatter", None)
        if formatter is not None:
            for kind in kinds:
                formatter.ipython_display_formatter.for_type(kind, self._show)

    def turn(self, system: str) -> None:
        """Show everything, and whatever comes later, in "workshop" or "metric" units."""
        self._system = system
        for place in self._places():
            self._write(place)

    def open(self) -> None:
        """Show what has waited and waits no longer."""
        for place in self._places():
            if place.line and place.line != place.waits():
                self._write(place)

    def _places(self) -> list[_Output]:
        return [place for _, places in self._of_cell.values() for place in places]

    def _show(self, thing: Any) -> None:
        cell, run = _running()
        if self._of_cell.get(cell, ("",))[0] != run:
            self._of_cell[cell] = run, []
        waits = self._before()
        handle = display(self._bundle(thing, line := waits()), raw=True, display_id=True)
        self._of_cell[cell][1].append(_Output(handle, thing, waits, line))

    def _write(self, place: _Output) -> None:
        place.line = place.waits()
        place.handle.update(self._bundle(place.thing, place.line), raw=True)

    def _bundle(self, thing: Any, line: str) -> dict[str, str]:
        if line:
            return {"text/html": f"<p><em>{escape(line)}</em></p>", "text/plain": line}
        turned = thing.shown(self._system) if hasattr(thing, "shown") else thing
        return {"text/html": turned._repr_html_(), "text/plain": repr(turned)}


def _running() -> tuple[str, str]:
    """The cell that is running, and the run; both "" outside a notebook."""
    parent: dict[str, Any] = getattr(get_ipython(), "get_parent", dict)()
    run = parent.get("header", {}).get("msg_id", "")
    return parent.get("metadata", {}).get("cellId", run), run
