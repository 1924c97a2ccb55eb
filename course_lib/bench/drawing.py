"""The pictures of the bench, drawn when the page asks for them, beside the page and one after the other."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from typing import TYPE_CHECKING, Any

from .beside import Beside

if TYPE_CHECKING:
    from ..plots import Picture
    from .model import BenchModel

Drawn = tuple[tuple[bytes, str], ...]


def finding_picture(inspection: str, system: str) -> str:
    """The name under which the page asks for the pictures of a finding."""
    return f"finding {inspection} {system}"


class Drawer:
    """Draws for one bench. A picture once drawn is kept; what cannot be drawn is no picture, the words stand beside it."""

    def __init__(self, model: BenchModel) -> None:
        self._model = model
        self._kept: dict[str, Drawn] = {}
        self._numbers = count()
        self.beside = Beside(lambda: None)

    def ask(self, name: Any, send: Callable[[str, Drawn], None]) -> None:
        """Send the pictures `name`, as (PNG, words) each, as soon as they are drawn; none for a name that means nothing."""
        self.beside.ask(next(self._numbers), lambda _progress: send(str(name), self._pictures(str(name))))

    def _pictures(self, name: str) -> Drawn:
        if name not in self._kept:
            try:
                self._kept[name] = tuple((each.png(), each.alt) for each in self._draw(name))
            except Exception:
                return ()
        return self._kept[name]

    def _draw(self, name: str) -> tuple[Picture, ...]:
        from ..plots import pictures_of  # here: a bench that shows no picture loads no drawing library

        kind, _, rest = name.partition(" ")
        inspection, _, system = rest.partition(" ")
        made = {finding.inspection: finding for finding in self._model.case.findings}
        if kind == "finding" and inspection in made:
            return pictures_of(made[inspection], verdict=True, system=system)
        return ()
