"""The face of a plug: every pin in its place, what is wrong with it as a pattern, and the same in words."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.guards import one_of
from course_lib.plots.drawing import BOLD, DASHED, HAIR, HEAVY, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, STEEL, STEEL_WASH, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH
from course_lib.plots.reading_marks import in_sentences

MOST_ACROSS, RADIUS, FIRST, ROW = (
    9,
    0.19,
    1.25,
    1.05,
)  # pins in a row; in. of paper: of a pin, first row, row to row
LEFT, RIGHT = 0.35, 7.65
NAME_LETTERS = 9


@dataclass(frozen=True, slots=True)
class PlugPin:
    """A pin: its number, what runs through it, and what was seen of it."""

    number: int
    name: str
    state: str = "clean"

    def __post_init__(self) -> None:
        one_of("state", self.state, STATES)


# ---------------------------------------------------------------------- patterns
def _clean(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    sheet.disc(x, y, size, face=STEEL_WASH, edge=INK, width=LINE, name="clean")
    sheet.disc(x, y, size * 0.35, face=STEEL, edge=None)


def _green(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """Corrosion: crosses over the whole face."""
    sheet.disc(x, y, size, face=PAPER, edge=INK, width=BOLD, hatch="xxxxx", name="green")


def _fretted(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """A groove worn across it."""
    sheet.disc(x, y, size, face=TINT, edge=INK, width=LINE, name="fretted")
    sheet.line([(x - 0.7 * size, y), (x + 0.7 * size, y)], width=HEAVY)


def _water(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """Three waves."""
    sheet.disc(x, y, size, face=PAPER, edge=STEEL, width=BOLD, name="water")
    along = np.linspace(-1.0, 1.0, 25)
    for level, part in ((-0.4, 0.75), (0.0, 0.9), (0.4, 0.75)):
        points = [
            (x + float(t) * part * size, y + size * (level + 0.1 * float(np.sin(9 * t)))) for t in along
        ]
        sheet.line(points, width=LINE, color=STEEL)


def _oil(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """Dots, set one by one: as a hatch they would make a page four times as heavy."""
    sheet.disc(x, y, size, face=PAPER, edge=INK, width=LINE, name="oil")
    steps = [0.36 * k for k in range(-2, 3)]
    spots = [(x + size * i, y + size * j) for i in steps for j in steps if i * i + j * j < 0.7]
    sheet.dots(spots, 0.09 * size)


def _spread(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """A socket bent open: two arcs with room between them."""
    sheet.disc(x, y, size, face=PAPER, edge=INK, width=HAIR, name="spread")
    for turn in ((-60.0, 60.0), (120.0, 240.0)):
        sheet.sector((x, y), size * 0.85, turn, deep=size * 0.22, face=INK)


def _pushed(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    """Back in its hole: a ring drawn dashed, nothing in it."""
    sheet.disc(x, y, size, face=TINT, edge=INK, width=LINE, linestyle=DASHED, name="pushed back")


def _empty(sheet: DrawingSheet, x: float, y: float, size: float) -> None:
    sheet.disc(x, y, size, face=PAPER, edge=INK, width=HAIR, name="empty")


STATES: dict[str, Callable[[DrawingSheet, float, float, float], None]] = {
    "clean": _clean,
    "green": _green,
    "fretted": _fretted,
    "water": _water,
    "oil": _oil,
    "spread": _spread,
    "pushed back": _pushed,
    "empty": _empty,
}


# ---------------------------------------------------------------------- the face
def plug_face(
    title: str, pins: Sequence[PlugPin], words: Sequence[str] = (), *, verdict: bool, side: str = ""
) -> Picture:
    """A plug looked into, row by row; below it every state with the pins that are in it, also those in which none is.

    words: what else was seen. verdict: whether what is seen may be called out of order, by a heavy number. Raises ValueError for
    a plug without pins.
    """
    if not pins:
        raise ValueError("pins must hold at least one pin, got none. Say what the plug carries.")
    rows = -(-len(pins) // MOST_ACROSS)
    per_row = -(-len(pins) // rows)
    bottom = FIRST + ROW * rows - 0.25
    lines = [_line(state, pins) for state in STATES]
    said = [line for each in words for line in textwrap.wrap(each, 90)]
    sheet = DrawingSheet(title, side, bottom + 0.3 + 0.3 * len(lines) + 0.2 * len(said))
    sheet.box(LEFT - 0.1, FIRST - 0.5, RIGHT - LEFT + 0.2, ROW * rows + 0.05, face=None, width=BOLD)
    for k, pin in enumerate(pins):
        row, column = divmod(k, per_row)
        _pin(sheet, pin, LEFT + (RIGHT - LEFT) * (column + 0.5) / per_row, FIRST + ROW * row, verdict)
    for k, (state, line) in enumerate(zip(STATES, lines, strict=True)):
        y = bottom + 0.3 + 0.3 * k
        STATES[state](sheet, 0.4, y - 0.05, 0.11)
        sheet.text(0.65, y, line, size=SMALL, name="value")
    for k, line in enumerate(said):
        sheet.text(0.25, bottom + 0.3 + 0.3 * len(lines) + 0.2 * k, line, size=SMALL)
    named = [
        f"pin {pin.number} {pin.name}: {pin.state}" for pin in pins if pin.state not in ("clean", "empty")
    ]
    return sheet.picture(in_sentences([title, *lines, *named, *words]))


def _line(state: str, pins: Sequence[PlugPin]) -> str:
    """A state, and the numbers of the pins that are in it."""
    there = [str(pin.number) for pin in pins if pin.state == state]
    return (
        f"{state}: {'pin' if len(there) == 1 else 'pins'} {', '.join(there)}" if there else f"{state}: none"
    )


def _pin(sheet: DrawingSheet, pin: PlugPin, x: float, y: float, verdict: bool) -> None:
    STATES[pin.state](sheet, x, y, RADIUS)
    off = verdict and pin.state not in ("clean", "empty")
    sheet.text(
        x,
        y - 0.27,
        str(pin.number),
        size=SMALL,
        bold=off,
        ha="center",
        color=INK if off else GRAPHITE,
        name="value",
    )
    for k, words in enumerate(textwrap.wrap(pin.name, NAME_LETTERS)[:2]):
        sheet.text(x, y + 0.36 + LINE_HIGH * k * 0.9, words, size=SMALL, bold=off, ha="center")
