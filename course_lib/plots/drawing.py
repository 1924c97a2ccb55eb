"""The house look: sizes, type, and the sheet every picture is drawn on.

A sheet is measured in inches, x to the right from 0 to 8, y downward from 0, so that a drawing reads like a drawing and a
reader of the code can lay a ruler on it. Nothing here knows what is drawn. This module and `picture` alone know matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba_array
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, Polygon, Rectangle, Wedge
from matplotlib.patheffects import withStroke

from course_lib.base.arrays import Array
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE
from course_lib.plots.picture import DPI, Picture

# ---------------------------------------------------------------------- sizes
WIDTH, MARGIN, TOP = 8.0, 0.2, 0.72  # in.: of the sheet, of its edge, where the content begins
TITLE, LEAD, TEXT, SMALL, BIG = 15, 13, 11, 10, 34  # pt; nothing is written smaller than SMALL
HAIR, LINE, BOLD, HEAVY = 0.8, 1.4, 2.4, 4.0  # pt
FONT = "DejaVu Sans"
DASHED: tuple[float, tuple[float, ...]] = (0, (4, 2))
DOTTED: tuple[float, tuple[float, ...]] = (0, (1, 2))
HALO = (withStroke(linewidth=3.0, foreground=PAPER),)  # paper around letters that a line may cross
NARROW = "\u202f"


def luminance(color: str) -> float:
    """Relative luminance of an sRGB color "#RRGGBB", 0 black to 1 white. Source: WCAG 2.2, definition "relative luminance"."""
    shares = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def rgba(color: Any) -> Array:
    """Any colors of the drawing library as red, green, blue and opacity, (4,) or (n, 4)."""
    found: Array = to_rgba_array(color).squeeze()
    return found


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colors, 1 to 21. Source: WCAG 2.2, definition "contrast ratio"."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


# ---------------------------------------------------------------------- the sheet
Points = Sequence[tuple[float, float]]
Dash = tuple[float, tuple[float, ...]] | None  # a dash pattern of matplotlib; None for a whole line


class DrawingSheet:
    """Paper 8 in. wide with a title over the head rule; `name` marks what is drawn, so that a test can find it again."""

    def __init__(self, title: str, side: str, height: float) -> None:
        self.height = height
        self.figure = Figure(figsize=(WIDTH, height), dpi=DPI, facecolor=PAPER)
        self.canvas = FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, WIDTH), ylim=(height, 0.0))
        self.axes.set_axis_off()
        self.text(MARGIN, 0.33, title, size=TITLE, bold=True)
        self.text(WIDTH - MARGIN, 0.33, side, color=GRAPHITE, ha="right")
        self.line([(MARGIN, 0.45), (WIDTH - MARGIN, 0.45)], width=HAIR, color=RULE)
        self.line([(MARGIN, 0.45), (MARGIN + 0.4, 0.45)], width=HEAVY)

    def text(self, x: float, y: float, words: str, *, size: float = TEXT, bold: bool = False, color: str = INK,
             halo: bool = False, name: str = "", **more: Any) -> Artist:  # fmt: skip
        """Words at a place, begun there on their baseline; lines of their own where they hold a line break.

        halo: whether they stay readable on a line. more: properties of matplotlib's Text, such as ha and va.
        """
        weight = "bold" if bold else "normal"
        more = {"path_effects": HALO, **more} if halo else more
        at = self.axes.text(x, y, words, fontsize=size, family=FONT, weight=weight, color=color, **more)
        return self._named(at, name)

    def line(self, points: Points, *, width: float = LINE, color: str = INK, dash: Dash = None, name: str = "",
             **more: Any) -> Artist:  # fmt: skip
        """A line through points; dash: a matplotlib dash pattern."""
        xs, ys = zip(*points, strict=True)
        more = {"solid_capstyle": "butt", "dash_capstyle": "butt", "solid_joinstyle": "miter", **more}
        drawn = Line2D(xs, ys, linewidth=width, color=color, linestyle=dash or "-", **more)
        self.axes.add_artist(drawn)
        return self._named(drawn, name)

    def lines(
        self,
        many: Sequence[Points],
        *,
        width: float = HAIR,
        color: str = INK,
        dash: Dash = None,
        name: str = "",
        **more: Any,
    ) -> Artist:
        """Many lines that look alike, drawn as one thing."""
        drawn = LineCollection(
            [np.asarray(each) for each in many], linewidths=width, colors=color, linestyles=dash or "-"
        )
        self.axes.add_collection(drawn, autolim=False)
        drawn.set(**more)
        return self._named(drawn, name)

    def box(self, x: float, y: float, wide: float, high: float, *, face: str | None = None, edge: str | None = INK,
            width: float = LINE, name: str = "", **more: Any) -> Artist:  # fmt: skip
        """A box from its upper left corner."""
        return self._patch(Rectangle((x, y), wide, high), face, edge, width, name, more)

    def shape(
        self,
        points: Points,
        *,
        face: str | None = None,
        edge: str | None = INK,
        width: float = LINE,
        name: str = "",
        **more: Any,
    ) -> Artist:
        """A closed shape through points."""
        return self._patch(Polygon(np.asarray(points), closed=True), face, edge, width, name, more)

    def disc(self, x: float, y: float, radius: float, *, face: str | None = None, edge: str | None = INK,
             width: float = LINE, name: str = "", **more: Any) -> Artist:  # fmt: skip
        """A disc or, without a face, a ring."""
        return self._patch(Circle((x, y), radius), face, edge, width, name, more)

    def dots(self, points: Points, radius: float, *, color: str = INK, name: str = "") -> Artist:
        """Many small discs that look alike, drawn as one thing."""
        wide = 2.0 * radius * 72.0
        return self.line(
            points, width=0.0, color=color, marker="o", markersize=wide, markeredgewidth=0.0, name=name
        )

    def sector(self, middle: tuple[float, float], radius: float, turn: tuple[float, float], *, deep: float | None = None,
               face: str | None = None, edge: str | None = None, width: float = LINE, name: str = "",
               **more: Any) -> Artist:  # fmt: skip
        """Part of a disc between two directions [degrees, clockwise from the right as on paper]; deep: only its outer rim."""
        return self._patch(Wedge(middle, radius, *turn, width=deep), face, edge, width, name, more)

    def width_of(self, words: Artist) -> float:
        """How wide words have come out [in.]."""
        renderer = self.canvas.get_renderer()  # type: ignore[no-untyped-call]  # matplotlib leaves it untyped
        return float(words.get_window_extent(renderer).width) / DPI

    def picture(self, alt: str) -> Picture:
        """The finished sheet with its words."""
        return Picture(self.figure, alt)

    def _patch(
        self, patch: Patch, face: str | None, edge: str | None, width: float, name: str, more: dict[str, Any]
    ) -> Artist:
        patch.set(
            facecolor=face or "none", edgecolor=edge or "none", linewidth=width if edge else 0.0, **more
        )
        self.axes.add_artist(patch)
        return self._named(patch, name)

    @staticmethod
    def _named(artist: Artist, name: str) -> Artist:
        artist.set_gid(name or None)
        return artist
