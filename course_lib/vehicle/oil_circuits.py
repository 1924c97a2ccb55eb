"""Oil circuits: the pressed elements at the points where they are applied, and the line pressure that feeds them all.

Pressed elements are worked only at the points where some vehicle applies them, all of them at one go. The same code serves the
grid of all vehicles and points, and the list of those where the pump gulps air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from course_lib.base.arrays import Array, Places
from course_lib.physics import hydraulics

Kind = TypeVar("Kind", bound=np.generic)  # of numbers, which stays as it is
LINE_PASSES = 3  # of Newton's rule
LEAST_LINE = 0.1  # share of the line pressure that one pass leaves at least
SMALLEST_CONDUCTANCE = 1e-20  # m3/s/Pa; keeps 0/0 out of a circuit that takes no flow


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of an element and a point, K of them, those of one point side by side; they stand on the last axis.

    What belongs to them is (n, K) on the grid of all vehicles and points, (K,) on a list of single ones. rows: vehicle of each,
    (n, 1) or (K,); column: element and point: place on the axis of points, both (K,).
    """

    rows: Places
    column: Places
    point: Places

    def own(self, value: Array) -> Array:
        """An element parameter (n, 1, E) of these pairs."""
        if self.rows.ndim == 2:
            grid: Array = value[self.rows[:, 0], 0].take(self.column, -1)
            return grid
        listed: Array = value.reshape(-1).take(self.rows * value.shape[-1] + self.column)
        return listed

    def plain(self, value: Array) -> Array:
        """A plain parameter (n, 1) of these pairs."""
        own: Array = value[self.rows, 0]
        return own

    def here(self, value: NDArray[Kind]) -> NDArray[Kind]:
        """What is known of each point, (n, m) or a list of them, at these pairs."""
        return value.take(self.point, -1)

    def joined(self, value: Array, points: int) -> Array:
        """Sum over the pairs of each point, on an axis of so many points."""
        if not len(self.point):
            return np.zeros((*value.shape[:-1], points), value.dtype)
        first = self.first()
        total = np.add.reduceat(value, first, axis=-1)
        if len(first) == points:
            return total
        whole = np.zeros((*value.shape[:-1], points), value.dtype)
        whole[..., self.point[first]] = total
        return whole

    def first(self) -> Places:
        """Place of the first pair of each point that has any."""
        return np.flatnonzero(np.concatenate([[True], self.point[1:] != self.point[:-1]]))

    def spread(self, value: Array, shape: tuple[int, ...]) -> Array:
        """Values of these pairs at their place among all elements, (E, ...), 0 elsewhere."""
        whole = np.zeros(shape, value.dtype)
        whole[self.column, ..., self.point] = value.T
        return whole


EACH = ("on", "feed", "leak", "hole", "jet")


@dataclass(frozen=True, slots=True)
class Circuits(Pairs):
    """The oil circuits of pressed elements: every pair where some vehicle may apply the element.

    on: 1 where applied; feed: discharge coefficient times open feed area [m2]; leak [m3/s/Pa]; hole [m2] with its discharge
    coefficient; jet: sqrt(2 / density); cap: pressure [Pa] that the valve before it lets by at most, None where there is none.
    """

    on: Array
    feed: Array
    leak: Array
    hole: Array
    jet: Array
    cap: Array | None = None

    def only(self, keep: Places) -> Circuits:
        """Some of the pairs."""
        on, feed, leak, hole, jet = (getattr(self, name).take(keep, -1) for name in EACH)
        cap = None if self.cap is None else self.cap.take(keep, -1)
        return Circuits(self.rows, self.column[keep], self.point[keep], on, feed, leak, hole, jet, cap)

    def fed(self, line: Array) -> Array:
        """Pressure [Pa] where feed and leak balance, or which the valve keeps."""
        open_wide = (
            hydraulics.fed_pressure(self.here(line), self.feed, self.leak, self.hole, self.jet) * self.on
        )
        return open_wide if self.cap is None else np.minimum(open_wide, self.cap)

    def drawn(self, line: Array, fed: Array) -> Array:
        """Flow [m3/s] taken from the line; behind a valve that regulates, what leaks there."""
        taken = self.feed * self.jet * np.sqrt(np.maximum(self.here(line) - fed, 0.0)) * self.on
        if self.cap is None:
            return taken
        lost = (self.leak * fed + self.hole * self.jet * np.sqrt(fed)) * self.on
        return np.where(fed < self.cap, taken, lost)

    def slope(self, line: Array, fed: Array, drawn: Array) -> Array:
        """Flow [m3/s/Pa] taken more per pascal of line: feed and leak in a row; nothing behind a valve that regulates."""
        feed = drawn / (2.0 * np.maximum(self.here(line) - fed, 1.0))
        out = self.leak + self.hole * self.jet / (2.0 * np.sqrt(np.maximum(fed, 1.0)))
        slope = feed * out / (feed + out + SMALLEST_CONDUCTANCE)
        return slope if self.cap is None else slope * (fed < self.cap)


def line_balance(
    circuits: Circuits, goal: Array, flow: Array, inner: Array, valve: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Line pressure [Pa] at which pump, leaks and regulator balance, and the pressure in each circuit.

    goal [Pa] at which the regulator aims, flow [m3/s] of the pump, inner leak [m3/s/Pa], on the grid (n, m) or a list (K,);
    valve: droop and nominal flow of the regulator.
    """
    points = inner.shape[-1]
    leak = inner + circuits.joined(circuits.leak * circuits.on, points)
    line = hydraulics.regulated_pressure(goal, flow, leak, *valve)
    for _ in range(LINE_PASSES):
        fed = circuits.fed(line)
        drawn = circuits.drawn(line, fed)
        slope = circuits.joined(circuits.slope(line, fed, drawn), points)
        away = circuits.joined(drawn, points)
        # Newton's rule: near this line the circuits draw `away - slope * line` and leak `slope` besides.
        better = hydraulics.regulated_pressure(goal, flow - away + slope * line, inner + slope, *valve)
        line = np.maximum(better, LEAST_LINE * line)
    return line, circuits.fed(line)
