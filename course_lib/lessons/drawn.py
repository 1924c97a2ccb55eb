"""A picture of a lesson that can be drawn in other units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from course_lib.plots.house import Picture


@dataclass(frozen=True)
class Drawn(Picture):
    """A picture that remembers how it is drawn. draw: "workshop" or "metric" -> the picture in these units."""

    draw: Callable[[str], Picture] = field(compare=False, repr=False)

    def shown(self, system: str) -> Drawn:
        """The same picture in "workshop" or "metric" units."""
        return drawn(self.draw, system)


def drawn(draw: Callable[[str], Picture], system: str = "workshop") -> Drawn:
    """What `draw` draws in some units, and can draw in others."""
    picture = draw(system)
    return Drawn(picture.figure, picture.alt, draw)
