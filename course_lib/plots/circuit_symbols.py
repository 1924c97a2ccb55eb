"""Symbols of a circuit along a line, in any direction on paper. Shapes as in IEC 60617 where it has one (from memory)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from course_lib.base.guards import one_of
from course_lib.plots.drawing import HEAVY, LINE, DrawingSheet
from course_lib.plots.palette import INK, PAPER

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class CircuitStrip:
    """A straight stretch on paper between two points, and how its strokes look. `at` gives places along and across it [in.]."""

    sheet: DrawingSheet
    start: Point
    end: Point
    width: float = LINE
    color: str = INK

    @property
    def long(self) -> float:
        """How long it is [in.]."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))

    def at(self, along: float, aside: float = 0.0) -> Point:
        """A place so far from the middle along the stretch, and so far to the right of it."""
        ux, uy = (self.end[0] - self.start[0]) / self.long, (self.end[1] - self.start[1]) / self.long
        x, y = (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2
        return x + along * ux - aside * uy, y + along * uy + aside * ux

    def stroke(self, *places: Point, width: float | None = None) -> None:
        """A line through places (along, aside)."""
        self.sheet.line([self.at(*p) for p in places], width=width or self.width, color=self.color)

    def area(self, *places: Point, face: str = PAPER) -> None:
        """A closed shape through places (along, aside)."""
        self.sheet.shape([self.at(*p) for p in places], face=face, edge=self.color, width=self.width)

    def leads(self, half: float) -> None:
        """The wire up to a symbol so long in the middle, and on from it."""
        self.stroke((-self.long / 2, 0.0), (-half, 0.0))
        self.stroke((half, 0.0), (self.long / 2, 0.0))

    def box(self, half: float, high: float) -> None:
        """A box in the middle with its leads."""
        self.leads(half)
        self.area((-half, -high), (half, -high), (half, high), (-half, high))


def _wire(strip: CircuitStrip) -> None:
    strip.stroke((-strip.long / 2, 0.0), (strip.long / 2, 0.0))


def _battery(strip: CircuitStrip) -> None:
    """Long stroke plus, short stroke minus; the stretch begins at minus."""
    strip.leads(0.09)
    for along, high, width in ((-0.09, 0.08, 3.0), (-0.03, 0.17, 1.0), (0.03, 0.08, 3.0), (0.09, 0.17, 1.0)):
        strip.stroke((along, -high), (along, high), width=width)


def _fuse(strip: CircuitStrip) -> None:
    strip.box(0.17, 0.06)
    strip.stroke((-0.17, 0.0), (0.17, 0.0))


def _resistor(strip: CircuitStrip) -> None:
    strip.box(0.18, 0.065)


def _thermistor(strip: CircuitStrip) -> None:
    strip.box(0.18, 0.065)
    strip.stroke((-0.22, 0.13), (-0.13, 0.13), (0.18, -0.13))


def _coil(strip: CircuitStrip) -> None:
    """Four half turns."""
    strip.leads(0.24)
    turns = np.linspace(np.pi, 0.0, 9)
    points = [
        (m + 0.06 * float(np.cos(a)), -0.09 * float(np.sin(a)))
        for m in (-0.18, -0.06, 0.06, 0.18)
        for a in turns
    ]
    strip.stroke(*points)


def _switch(strip: CircuitStrip) -> None:
    strip.leads(0.14)
    strip.stroke((-0.14, 0.0), (0.11, -0.11))
    _ring(strip, -0.14)
    _ring(strip, 0.14)


def _relay(strip: CircuitStrip) -> None:
    """Its contact, and the box of its coil beside it."""
    _switch(strip)
    strip.area((-0.08, 0.06), (0.08, 0.06), (0.08, 0.16), (-0.08, 0.16))
    strip.stroke((0.0, 0.06), (0.0, -0.06), width=0.8)


def _ring(strip: CircuitStrip, along: float) -> None:
    strip.sheet.disc(*strip.at(along), 0.025, face=PAPER, edge=strip.color, width=strip.width)


def _pin(strip: CircuitStrip) -> None:
    """A plug's two halves: the pin, and the socket that takes it."""
    strip.leads(0.05)
    strip.stroke((-0.05, -0.07), (0.02, 0.0), (-0.05, 0.07))
    strip.stroke((0.02, -0.07), (0.09, 0.0), (0.02, 0.07))


def _parted(strip: CircuitStrip) -> None:
    """A plug pulled apart."""
    strip.leads(0.13)
    strip.stroke((-0.2, -0.07), (-0.13, 0.0), (-0.2, 0.07))
    strip.stroke((0.13, -0.07), (0.2, 0.0), (0.13, 0.07))


def _driver(strip: CircuitStrip) -> None:
    """The controller's switch: a box with a pulse."""
    strip.box(0.2, 0.1)
    strip.stroke(
        (-0.15, 0.05), (-0.07, 0.05), (-0.07, -0.05), (0.05, -0.05), (0.05, 0.05), (0.15, 0.05), width=1.0
    )


def _ground(strip: CircuitStrip) -> None:
    """A bolted ground in the way of the current: a ring under a bolt."""
    strip.leads(0.09)
    strip.sheet.disc(*strip.at(0.0), 0.09, face=PAPER, edge=strip.color, width=strip.width)
    strip.sheet.disc(*strip.at(0.0), 0.035, face=strip.color, edge=None)


def _body(strip: CircuitStrip) -> None:
    """Sheet metal: a heavy stroke."""
    strip.stroke((-strip.long / 2, 0.0), (strip.long / 2, 0.0), width=HEAVY)


def _splice(strip: CircuitStrip) -> None:
    strip.stroke((-strip.long / 2, 0.0), (strip.long / 2, 0.0))
    strip.sheet.disc(*strip.at(0.0), 0.05, face=strip.color, edge=None)


SYMBOLS: dict[str, Callable[[CircuitStrip], None]] = {
    "battery": _battery, "body": _body, "coil": _coil, "driver": _driver, "fuse": _fuse, "ground": _ground, "load": _resistor,
    "parted": _parted, "pin": _pin, "relay": _relay, "resistor": _resistor, "splice": _splice, "switch": _switch,
    "thermistor": _thermistor, "wire": _wire,
}  # fmt: skip


def draw_piece(strip: CircuitStrip, kind: str) -> None:
    """One piece of a circuit along a stretch. Raises ValueError for a kind that has no symbol."""
    one_of("kind", kind, SYMBOLS)
    SYMBOLS[kind](strip)


def ground_sign(sheet: DrawingSheet, x: float, y: float) -> None:
    """Three strokes, the last the shortest, hanging from a place on paper."""
    for k, half in enumerate((0.12, 0.08, 0.035)):
        sheet.line([(x - half, y + 0.05 * k), (x + half, y + 0.05 * k)], width=LINE)
