"""A picture of a lesson that can be drawn in other units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from course_lib.plots.picture import Picture


@dataclass(frozen=True)
class PictureInUnits(Picture):
    """A picture that remembers how it is drawn. draw: "workshop" or "metric" -> the picture in these units."""

    draw: Callable[[str], Picture] = field(compare=False, repr=False)

    def shown(self, system: str) -> PictureInUnits:
        """The same picture in "workshop" or "metric" units."""
        return picture_in_units(self.draw, system)


def picture_in_units(draw: Callable[[str], Picture], system: str = "workshop") -> PictureInUnits:
    """What `draw` draws in some units, and can draw in others."""
    picture = draw(system)
    return PictureInUnits(picture.figure, picture.alt, draw)
