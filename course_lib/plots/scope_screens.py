"""A scope's screen: graticule, traces, zero marks, and in words how much a division is."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array
from course_lib.base.guards import positive
from course_lib.plots.drawing import LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, RULE, STEEL
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH, stack, stack_high, told
from course_lib.plots.reading_marks import in_sentences, number
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import NARROW, Reading

ACROSS, HIGH = 10, 8  # divisions of the screen
DIVISION = 0.46  # in. of paper
LEFT, UPPER, LIST = 0.55, 0.72, 5.4
LIST_LETTERS, NOTE_LETTERS = 27, 60
LOOKS = ((STEEL, 1.8), (INK, 1.1))  # of the first and the second trace


@dataclass(frozen=True, eq=False, slots=True)
class ScopeTrace:
    """What one channel saw: values (n,) in `unit` at times (n,) [s].

    per_division: in `unit`; zero: how many divisions above the lower edge its zero lies; trigger: the level [unit] through which
    it rises in the middle of the screen, where the scope waits for that.
    """

    name: str
    time: Array
    values: Array
    unit: str
    per_division: float
    zero: float = 4.0
    trigger: float | None = None

    def __post_init__(self) -> None:
        positive("per_division", self.per_division)
        if self.time.shape != self.values.shape:
            raise ValueError(
                f"values must be as many as times, got {self.values.size} and {self.time.size}. Cut both alike."
            )

    def shown(self) -> Array:
        """Heights on the screen (n,) [divisions above its lower edge], cut at its edges."""
        heights: Array = np.clip(self.values / self.per_division + self.zero, 0.0, float(HIGH))
        return heights

    @property
    def cut(self) -> bool:
        """Whether some of it lies past the edge of the screen."""
        raw = self.values / self.per_division + self.zero
        return bool((raw < 0.0).any() or (raw > HIGH).any())

    @property
    def words(self) -> list[str]:
        """Its scale and its ends, in words."""
        digits = max(0, 2 - int(np.floor(np.log10(self.per_division))) - 1)
        low, high = (number(round(float(f(self.values)), digits)) for f in (np.min, np.max))
        told = [
            f"{number(self.per_division)}{NARROW}{self.unit} a division",
            f"from {low} to {high}{NARROW}{self.unit}",
        ]
        return [*told, "past the edge of the screen"] if self.cut else told


def scope_trace(title: str, traces: Sequence[ScopeTrace], per_division: float, readings: Sequence[Reading] = (), *,
                 verdict: bool, system: str = "workshop", leads: Sequence[str] = ()) -> Picture:  # fmt: skip
    """One or two traces on a screen of ten by eight divisions, read off in words beside it.

    per_division: time of a division [s]. readings: what was measured on the traces. verdict: whether the picture may say which
    of them is outside spec. leads: where tips and clips of the leads are, in sentences. Raises ValueError for no trace or more
    than two.
    """
    if not 1 <= len(traces) <= len(LOOKS):
        raise ValueError(f"traces must be one or two, got {len(traces)}. Draw one picture for each pair.")
    shown = [reading_in_system(reading, system) for reading in readings]
    keys = sum(len(_key(trace)) for trace in traces) * LINE_HIGH + 0.5
    notes = [
        f"{_time(per_division)} a division, {_time(per_division * ACROSS)} in all",
        *_triggered(traces),
        *leads,
    ]
    lines = [line for note in notes for line in textwrap.wrap(note, NOTE_LETTERS)]
    high = max(
        UPPER + DIVISION * HIGH + 0.3 + LINE_HIGH * len(lines),
        UPPER + keys + stack_high(shown, LIST_LETTERS, verdict) + 0.1,
    )
    sheet = DrawingSheet(title, "", high)
    _graticule(sheet)
    y = UPPER + 0.12
    for place, trace in enumerate(traces):
        _trace(sheet, trace, place, per_division)
        y = _named(sheet, trace, place, y)
    for k, line in enumerate(lines):
        sheet.text(LEFT, UPPER + DIVISION * HIGH + 0.24 + LINE_HIGH * k, line, size=SMALL, name="value")
    stack(sheet, shown, (LIST, y + 0.08), LIST_LETTERS, verdict)
    told_of = [f"{k + 1}, {trace.name}: {', '.join(trace.words)}" for k, trace in enumerate(traces)]
    return sheet.picture(
        in_sentences([f"{title}, scope, {notes[0]}", *notes[1:], *told_of, *told(shown, verdict)])
    )


def _triggered(traces: Sequence[ScopeTrace]) -> list[str]:
    """What starts the sweep, in words."""
    return [
        f"trigger on {k + 1}, rising through {number(each.trigger)}{NARROW}{each.unit}, in the middle"
        for k, each in enumerate(traces)
        if each.trigger is not None
    ]


def _time(seconds: float) -> str:
    """A time as a scope states it."""
    for size, unit in ((1.0, "s"), (1e-3, "ms"), (1e-6, "\u00b5s")):
        if seconds >= size * (1 - 1e-9):
            return f"{number(round(seconds / size, 3))}{NARROW}{unit}"
    return f"{number(round(seconds * 1e9, 3))}{NARROW}ns"


def _graticule(sheet: DrawingSheet) -> None:
    right, lower = LEFT + DIVISION * ACROSS, UPPER + DIVISION * HIGH
    xs, ys = LEFT + DIVISION * np.arange(1, ACROSS), UPPER + DIVISION * np.arange(1, HIGH)
    grid = [[(x, UPPER), (x, lower)] for x in xs] + [[(LEFT, y), (right, y)] for y in ys]
    sheet.lines(grid, width=0.5, color=RULE, dash=(0, (1, 3)), name="graticule")
    middle = (LEFT + DIVISION * ACROSS / 2, UPPER + DIVISION * HIGH / 2)
    fine_x = np.arange(LEFT, right + 1e-9, DIVISION / 5)
    fine_y = np.arange(UPPER, lower + 1e-9, DIVISION / 5)
    ticks = [[(x, middle[1] - 0.035), (x, middle[1] + 0.035)] for x in fine_x]
    ticks += [[(middle[0] - 0.035, y), (middle[0] + 0.035, y)] for y in fine_y]
    sheet.lines([*ticks, [(LEFT, middle[1]), (right, middle[1])], [(middle[0], UPPER), (middle[0], lower)]], width=0.5,
                color=RULE)  # fmt: skip
    sheet.box(LEFT, UPPER, right - LEFT, lower - UPPER, width=LINE)


def _trace(sheet: DrawingSheet, trace: ScopeTrace, place: int, per_division: float) -> None:
    color, width = LOOKS[place]
    across = (trace.time - trace.time[0]) / per_division
    seen = across <= ACROSS
    xs, ys = LEFT + DIVISION * across[seen], UPPER + DIVISION * (HIGH - trace.shown()[seen])
    sheet.line(
        list(zip(xs, ys, strict=True)),
        width=width,
        color=color,
        name="trace",
        zorder=3,
        solid_joinstyle="round",
    )
    y = UPPER + DIVISION * (HIGH - float(np.clip(trace.zero, 0.0, HIGH)))
    x = LEFT - 0.04
    sheet.shape([(x - 0.1, y - 0.06), (x - 0.1, y + 0.06), (x, y)], face=color, edge=None, name="zero")
    if trace.trigger is not None:
        _trigger(sheet, trace, color)
    sheet.text(
        x - 0.14 - 0.14 * place,
        y,
        str(place + 1),
        size=SMALL,
        bold=True,
        color=color,
        ha="right",
        va="center",
    )


def _trigger(sheet: DrawingSheet, trace: ScopeTrace, color: str) -> None:
    """A T at the right edge at its level, and a mark over the middle, where it is met."""
    level = float(np.clip((trace.trigger or 0.0) / trace.per_division + trace.zero, 0.0, HIGH))
    x, y = LEFT + DIVISION * ACROSS, UPPER + DIVISION * (HIGH - level)
    middle = LEFT + DIVISION * ACROSS / 2
    for shape in ([(x + 0.1, y - 0.05), (x + 0.1, y + 0.05), (x + 0.02, y)],
                  [(middle - 0.06, UPPER - 0.12), (middle + 0.06, UPPER - 0.12), (middle, UPPER - 0.02)]):  # fmt: skip
        sheet.shape(shape, face=color, edge=None, name="trigger")
    sheet.text(x + 0.11, y, "T", size=SMALL, bold=True, color=color, va="center")


def _key(trace: ScopeTrace) -> list[str]:
    return textwrap.wrap(trace.name, LIST_LETTERS) + [
        line for words in trace.words for line in textwrap.wrap(words, LIST_LETTERS)
    ]


def _named(sheet: DrawingSheet, trace: ScopeTrace, place: int, y: float) -> float:
    """A trace in words: its number, its name, what a division is."""
    color, width = LOOKS[place]
    sheet.text(LIST, y, str(place + 1), size=SMALL, bold=True, color=color)
    sheet.line([(LIST + 0.02, y + 0.1), (LIST + 0.12, y + 0.1)], width=width, color=color)
    names = len(textwrap.wrap(trace.name, LIST_LETTERS))
    for k, words in enumerate(_key(trace)):
        sheet.text(
            LIST + 0.2,
            y,
            words,
            size=SMALL,
            bold=k < names,
            color=INK if k < names else GRAPHITE,
            name="value",
        )
        y += LINE_HIGH
    return y + 0.1
