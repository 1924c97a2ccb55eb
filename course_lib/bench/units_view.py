"""The switch of units on a page of its own, and tables and pictures of a notebook that follow it where they stand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

import anywidget
import traitlets
from IPython.core.getipython import get_ipython
from IPython.display import display

from .joining import joined
from .keeping import units_choice

_HERE = Path(__file__).parent


class UnitsPage(anywidget.AnyWidget):
    """The switch of units above a worked case or a lesson."""

    _esm = joined("pen.js", "units.js", "switch.js")
    _css = _HERE / "worked.css"
    units = traitlets.Dict().tag(sync=True)

    def __init__(self, system: str, chosen: Callable[[str], None]) -> None:
        super().__init__(units=units_choice(system))
        self.on_msg(lambda _widget, sent, _buffers: chosen(sent["system"]))

    def __repr__(self) -> str:
        return "Units of the readings. Run this cell to choose them."


class Turning(Protocol):
    """What can be shown in other units."""

    def shown(self, system: str) -> Turning:
        """The same in "workshop" or "metric" units."""

    def _repr_html_(self) -> str: ...


class Followers:
    """What the cells of a notebook have shown, to be shown anew in its place in other units. A cell run again counts anew."""

    def __init__(self, system: str) -> None:
        self._system = system
        self._of_cell: dict[str, tuple[str, list[tuple[Any, Turning]]]] = {}

    def follow(self, *kinds: type[Turning]) -> None:
        """From now on, have the notebook show everything of these kinds in a place that can be written again."""
        formatter = getattr(get_ipython(), "display_formatter", None)
        if formatter is not None:
            for kind in kinds:
                formatter.ipython_display_formatter.for_type(kind, self._show)

    def turn(self, system: str) -> None:
        """Show everything, and whatever comes later, in "workshop" or "metric" units."""
        self._system = system
        for _, shown in self._of_cell.values():
            for handle, thing in shown:
                handle.update(_bundle(thing.shown(system)), raw=True)

    def _show(self, thing: Turning) -> None:
        cell, run = _running()
        if self._of_cell.get(cell, ("",))[0] != run:
            self._of_cell[cell] = run, []
        handle = display(_bundle(thing.shown(self._system)), raw=True, display_id=True)
        self._of_cell[cell][1].append((handle, thing))


def _running() -> tuple[str, str]:
    """The cell that is running, and the run; both "" outside a notebook."""
    parent: dict[str, Any] = getattr(get_ipython(), "get_parent", dict)()
    run = parent.get("header", {}).get("msg_id", "")
    return parent.get("metadata", {}).get("cellId", run), run


def _bundle(thing: Turning) -> dict[str, str]:
    return {"text/html": thing._repr_html_(), "text/plain": repr(thing)}
