"""A shift in time: turbine speed as it leaves the line of the old gear and comes down to that of the new one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array
from course_lib.plots.drawing import BOLD, DASHED, DOTTED, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import stack, stack_high, told
from course_lib.plots.reading_marks import AxisScale, axis_below, axis_left, in_sentences, span
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import NARROW, Reading

# in. of paper: the field, below the names of the phases; the list
UPPER, LOWER, LEFT, RIGHT, LIST = 1.25, 4.2, 0.85, 5.3, 5.55
LIST_LETTERS = 25
SEEN = 40.0  # rpm off the line from which on a hump or a dip is marked
NEAR = 0.08  # of the way between the lines: on one of them
SLOW = 1.4  # times as long as a sound unit takes


@dataclass(frozen=True, slots=True)
class ShiftPhase:
    """A phase of the controller's plan, and from when to when [s] it lasted."""

    name: str
    start: float
    end: float


@dataclass(frozen=True, eq=False, slots=True)
class ShiftTrace:
    """One shift over time (n,) [s], all speeds (n,) [rpm].

    turbine: as its sensor gives it; old, new: what output speed and ratio ask for in the gear before and after; sound: turbine
    speed of a sound unit in the same shift; engine: as the engine's own sensor gives it, None where it was not recorded.
    """

    time: Array
    turbine: Array
    old: Array
    new: Array
    phases: tuple[ShiftPhase, ...]
    sound: Array | None = None
    engine: Array | None = None

    @property
    def hump(self) -> tuple[int, float]:
        """(sample, rpm) of the farthest the turbine rises above both lines: a flare."""
        over = self.turbine - np.maximum(self.old, self.new)
        return int(np.argmax(over)), float(over.max())

    @property
    def dip(self) -> tuple[int, float]:
        """(sample, rpm) of the farthest it falls below the old line and comes back before it leaves it for good: a tie-up."""
        end = self._left(self.turbine) + 1
        below = np.maximum(self.old - self.turbine, 0.0)[:end]
        back = np.minimum.accumulate(below[::-1])[::-1]  # the least that is still to come
        return int(np.argmax(below - back)), float((below - back).max())

    def slide(self, speed: Array) -> float:
        """How long a turbine speed (n,) takes from the old line to the new one [s]; to the end where it never comes there."""
        start = self._left(speed)
        there = np.flatnonzero(np.abs(speed - self.new)[start:] <= NEAR * np.abs(self.new - self.old)[start:])
        return float(self.time[start + there[0] if there.size else -1] - self.time[start])

    def _left(self, speed: Array) -> int:
        """The last sample at which a speed lies on the old line."""
        on = np.flatnonzero(np.abs(speed - self.old) <= NEAR * np.abs(self.new - self.old))
        return int(on[-1]) if on.size else 0

    def shape(self) -> list[tuple[str, int, str]]:
        """What a mechanic sees in the curve: (word on the drawing, sample, sentence), nothing for a sound shift."""
        (top, rise), (low, fall) = self.hump, self.dip
        seen = []
        if fall >= SEEN:
            seen.append(("dip", low, "Turbine dips below the line of the old gear before it leaves it"))
        if rise >= SEEN:
            seen.append(("flare", top, "Turbine rises above the line of the old gear: a flare"))
        if self.sound is not None and self.slide(self.turbine) > SLOW * self.slide(self.sound):
            middle = int(np.argmin(np.abs(self.turbine - (self.old + self.new) / 2)))
            way = "fall" if self.new[middle] < self.old[middle] else "rise"
            seen.append((f"slow {way}", middle, f"Turbine is slow to {way}, compared with a sound unit"))
        return seen


def shift_graph(title: str, trace: ShiftTrace, readings: Sequence[Reading], *, verdict: bool, system: str = "workshop",
                side: str = "") -> Picture:  # fmt: skip
    """Turbine speed over one shift, the phases named above it, a sound shift as a thin line beside it.

    readings: what was read off it (flare, time, tie-up), listed. verdict: whether the picture may name a hump or a dip, and say
    which reading is outside spec.
    """
    shown = [reading_in_system(reading, system) for reading in readings]
    keys = _keys(trace)
    below = 0.62 + 0.2 * len(keys)
    high = max(LOWER + below, UPPER + stack_high(shown, LIST_LETTERS, verdict))
    sheet = DrawingSheet(title, side, high)
    across = AxisScale(float(trace.time[0]), float(trace.time[-1]), LEFT, RIGHT)
    curves = [c for c in (trace.turbine, trace.old, trace.new, trace.sound, trace.engine) if c is not None]
    values = [float(f(c[np.isfinite(c)])) for c in curves for f in (np.min, np.max)]
    up = AxisScale(*span(values, least=400.0, pad=0.1), LOWER, UPPER)
    axis_left(sheet, up, LEFT, most=6, across=RIGHT)
    sheet.text(LEFT - 0.1, UPPER - 0.15, "rpm", size=SMALL, color=GRAPHITE, ha="right")
    axis_below(sheet, across, LOWER, "time, s", most=6)
    _phases(sheet, trace, across)
    _curves(sheet, trace, across, up)
    if verdict:
        _marks(sheet, trace, across, up)
    _key(sheet, keys)
    stack(sheet, shown, (LIST, UPPER), LIST_LETTERS, verdict)
    return sheet.picture(_alt(title, trace, shown, verdict))


def _phases(sheet: DrawingSheet, trace: ShiftTrace, across: AxisScale) -> None:
    """The phases as a ribbon, names in two rows where they would touch."""
    far = [0.0, 0.0]
    for k, phase in enumerate(trace.phases):
        start, end = (float(across.at(t)) for t in (phase.start, phase.end))
        sheet.box(start, UPPER - 0.1, end - start, 0.1, face=TINT if k % 2 else PAPER, edge=RULE, width=HAIR)
        sheet.lines([[(x, UPPER), (x, LOWER)] for x in (start, end)], color=RULE, dash=DOTTED)
        named = sheet.text((start + end) / 2, UPPER - 0.17, phase.name, size=SMALL, ha="center", name="phase")
        half = sheet.width_of(named) / 2 + 0.04
        row = 0 if (start + end) / 2 - half >= far[0] else 1
        if row:
            named.set(y=UPPER - 0.36)
            sheet.line(
                [((start + end) / 2, UPPER - 0.32), ((start + end) / 2, UPPER - 0.1)], width=HAIR, color=RULE
            )
        far[row] = (start + end) / 2 + half


def _curves(sheet: DrawingSheet, trace: ShiftTrace, across: AxisScale, up: AxisScale) -> None:
    xs = across.at(trace.time)

    def draw(values: Array, **how: object) -> None:
        parts = np.isfinite(values)
        ys = up.at(values)
        cuts = np.flatnonzero(~parts)
        for piece in np.split(np.arange(values.size), cuts):
            points = [(float(xs[k]), float(ys[k])) for k in piece if parts[k]]
            if len(points) > 1:
                sheet.line(points, **how)  # type: ignore[arg-type]

    draw(trace.old, width=1.0, color=RULE)
    draw(trace.new, width=1.0, color=RULE)
    sheet.text(
        float(xs[0]) + 0.06,
        float(up.at(trace.old[0])) - 0.17,
        "old gear",
        size=SMALL,
        color=GRAPHITE,
        halo=True,
    )
    sheet.text(float(xs[-1]) - 0.06, float(up.at(trace.new[-1])) + 0.18, "new gear", size=SMALL, color=GRAPHITE, ha="right",
               halo=True)  # fmt: skip
    if trace.engine is not None:
        draw(trace.engine, width=LINE, color=INK, dash=DOTTED, name="engine")
    if trace.sound is not None:
        draw(trace.sound, width=1.0, color=INK, dash=DASHED, name="sound")
    draw(trace.turbine, width=BOLD, color=STEEL, name="turbine", zorder=3)


def _marks(sheet: DrawingSheet, trace: ShiftTrace, across: AxisScale, up: AxisScale) -> None:
    """Each thing seen in the curve, with its word and a line to where the speed is due."""
    for word, k, _ in trace.shape():
        x, y, due = (
            float(across.at(trace.time[k])),
            float(up.at(trace.turbine[k])),
            float(up.at(trace.old[k])),
        )
        if word.startswith("slow"):
            sheet.text(x - 0.12, y, word, size=SMALL, bold=True, halo=True, ha="right", zorder=6)
            continue
        sheet.line([(x, due), (x, y)], width=LINE, name="mark", zorder=4)
        place = np.clip(y + (0.2 if y > due else -0.09), UPPER + 0.14, LOWER - 0.05)
        sheet.text(x, float(place), word, size=SMALL, bold=True, ha="center", halo=True, zorder=6)


def _keys(trace: ShiftTrace) -> list[tuple[str, dict[str, object]]]:
    keys: list[tuple[str, dict[str, object]]] = [
        ("turbine speed, this unit", {"width": BOLD, "color": STEEL}),
        ("what output speed and ratio ask for", {"width": 1.0, "color": RULE}),
    ]
    if trace.sound is not None:
        keys.append(("turbine speed, a sound unit", {"width": 1.0, "color": INK, "dash": DASHED}))
    if trace.engine is not None:
        keys.append(("engine speed, its own sensor", {"width": LINE, "color": INK, "dash": DOTTED}))
    return keys


def _key(sheet: DrawingSheet, keys: Sequence[tuple[str, dict[str, object]]]) -> None:
    for k, (words, how) in enumerate(keys):
        y = LOWER + 0.64 + 0.2 * k
        sheet.line([(LEFT, y - 0.05), (LEFT + 0.4, y - 0.05)], **how)  # type: ignore[arg-type]
        sheet.text(LEFT + 0.5, y, words, size=SMALL)


def _alt(title: str, trace: ShiftTrace, readings: Sequence[Reading], verdict: bool) -> str:
    def at(time: float) -> str:
        k = int(np.argmin(np.abs(trace.time - time)))
        return f"{trace.turbine[k]:,.0f}"

    phases = [
        f"{p.name.capitalize()} {p.start:.2f} to {p.end:.2f}{NARROW}s, turbine {at(p.start)} to {at(p.end)}{NARROW}rpm"
        for p in trace.phases
    ]
    shape = [sentence for _, _, sentence in trace.shape()] if verdict else []
    return in_sentences([title, *phases, *shape, *told(readings, verdict)])
