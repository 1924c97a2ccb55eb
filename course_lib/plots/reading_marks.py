"""The signs all pictures share: a reading against its spec, a scale, and how both are put in words.

Shape and place carry the meaning, the word repeats it, color comes last.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.plots import drawing
from course_lib.plots.drawing import HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.shop.findings import OUTSIDE, Finding, Reading

# A sign for a reading: sheet, place on paper, size, face, edge.
Shape = Callable[[DrawingSheet, float, float, float, str, str], None]
Value = TypeVar("Value", float, Array)
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
FOLD_LETTERS, FOLD_HIGH = 104, 0.19  # letters in a line, and in. of paper: what is only listed


# ---------------------------------------------------------------------- words
def verdict_color(reading: Reading, verdict: bool) -> str:
    """Ochre where the reading is outside its spec and that may be said."""
    return OCHRE if verdict and reading.verdict in OUTSIDE else INK


def reading_in_words(reading: Reading, verdict: bool, *, what: str = "", needle: str = "") -> str:
    """A reading in full: what it is, what is read, its spec and, where that may be said, its verdict."""
    parts = [f"{needle}{reading.found_text}"]
    if reading.spec is not None:
        parts.append(f"spec {reading.spec_text}")
    if verdict and reading.spec is not None and reading.value is not None:
        parts.append(reading.result_text)
    return f"{what or reading.label}: {'; '.join(parts)}"


def in_sentences(told: Sequence[str]) -> str:
    """Parts of an alternative text one after the other, each with its stop; a unit that ends in one gets no second."""
    return " ".join(part if part.endswith(".") else f"{part}." for part in told)


def conditions(finding: Finding, system: str) -> str:
    """How warm the sump was, for the head of a picture; empty where that plays no part."""
    return (
        ""
        if finding.made_at_f is None
        else units.text_in_system(f"sump {finding.made_at_f:.0f}{drawing.NARROW}\u00b0F", system)
    )


def told_apart(labels: Sequence[str]) -> tuple[str, list[str]]:
    """(what all labels share, what tells each from the others), word by word from both ends; ("", labels) if nothing is."""
    words = [label.split() for label in labels]
    shortest = min(len(each) for each in words) - 1
    front = next((k for k in range(shortest) if len({each[k] for each in words}) > 1), shortest)
    rest = shortest - front
    back = next((k for k in range(rest) if len({each[-1 - k] for each in words}) > 1), rest)
    if len(labels) < 2 or not front:
        return "", list(labels)
    own = [" ".join(each[front : len(each) - back]).strip(",") for each in words]
    end = " ".join(words[0][len(words[0]) - back :])
    start = " ".join(words[0][:front])
    joint = " " if start.endswith(",") or not end else " \u2026 "
    return (start + joint + end).strip(" ,"), own


# ---------------------------------------------------------------------- what is out of order comes first
def parted(readings: Sequence[Reading], verdict: bool) -> tuple[list[Reading], list[Reading]]:
    """(what is drawn, what is only listed): where something is outside its spec it is drawn, and what is within is listed.

    verdict: whether a picture may say what a reading means; where it may not, all are drawn in their order.
    """
    off = [reading for reading in readings if reading.verdict in OUTSIDE]
    if not verdict or not off:
        return list(readings), []
    listed = [reading for reading in readings if reading.verdict == "within spec"]
    return [*off, *(each for each in readings if each not in off and each not in listed)], listed


def folded(readings: Sequence[Reading], names: Sequence[str]) -> list[str]:
    """Readings within spec in as few lines as they need; none for none."""
    told = [f"{name}: {reading.found_text}" for reading, name in zip(readings, names, strict=True)]
    return textwrap.wrap(f"Within spec: {'; '.join(told)}", FOLD_LETTERS) if told else []


def fold(sheet: DrawingSheet, lines: Sequence[str], y: float) -> None:
    """What is only listed, from the line at `y` on."""
    for i, words in enumerate(lines):
        sheet.text(0.2, y + FOLD_HIGH * i, words, size=SMALL, color=GRAPHITE, name="value")


# ---------------------------------------------------------------------- scale
@dataclass(frozen=True, slots=True)
class AxisScale:
    """Values [low, high] laid out on paper from `start` to `end` in. (either way round)."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: Value) -> Value:
        """Place of a value on paper [in.]; arrays work."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, most: int = 7) -> Array:
        """Round values on the scale, at most so many."""
        rough = (self.high - self.low) / most
        decade = 10.0 ** np.floor(np.log10(rough))
        step = next(s * decade for s in STEPS if s * decade >= rough * (1 - 1e-9))
        ticks: Array = (
            np.arange(np.ceil(self.low / step - 1e-9), np.floor(self.high / step + 1e-9) + 1) * step
        )
        return ticks


def span(
    values: Sequence[float], *, least: float, pad: float = 0.15, floor: float | None = None
) -> tuple[float, float]:
    """(low, high) with room around `values`, at least `least` wide, and not below `floor`."""
    low, high = min(values), max(values)
    more = max((high - low) * pad, (least - (high - low)) / 2)
    return (low - more if floor is None else max(low - more, floor)), high + more


def number(value: float) -> str:
    """A tick's number with a true minus."""
    return f"{value + 0.0:,.6g}".replace("-", "\u2212")


def axis_below(sheet: DrawingSheet, scale: AxisScale, y: float, label: str, *, most: int = 7) -> None:
    """A scale along the lower edge, with ticks and its unit."""
    sheet.line([(scale.start, y), (scale.end, y)], width=HAIR, color=RULE)
    ticks = scale.ticks(most)
    sheet.lines([[(x, y), (x, y + 0.06)] for x in scale.at(ticks)], color=RULE)
    for value, x in zip(ticks, scale.at(ticks), strict=True):
        sheet.text(x, y + 0.22, number(value), size=SMALL, ha="center")
    sheet.text((scale.start + scale.end) / 2, y + 0.42, label, size=SMALL, color=GRAPHITE, ha="center")


def axis_left(
    sheet: DrawingSheet, scale: AxisScale, x: float, *, most: int = 5, across: float | None = None
) -> None:
    """A scale up the left edge; across: x up to which a hairline is drawn at each tick."""
    sheet.line([(x, scale.start), (x, scale.end)], width=HAIR, color=RULE)
    ticks = scale.ticks(most)
    sheet.lines([[(x - 0.06, y), (x, y)] for y in scale.at(ticks)], color=RULE)
    if across is not None:
        sheet.lines([[(x, y), (across, y)] for y in scale.at(ticks)], color=TINT)
    for value, y in zip(ticks, scale.at(ticks), strict=True):
        sheet.text(x - 0.1, y, number(value), size=SMALL, ha="right", va="center")


# ---------------------------------------------------------------------- a reading against its spec
def both_ends(spec: tuple[float | None, float | None]) -> tuple[float, float]:
    """The ends of a spec that is drawn as a field. Raises ValueError where one is open."""
    low, high = spec
    if low is None or high is None:
        raise ValueError(f"spec must have two ends to be drawn as a field, got {spec}. Draw it on a gauge.")
    return low, high


def field_ends(reading: Reading, scale: AxisScale) -> tuple[float, float] | None:
    """Where the field of a reading's spec begins and ends on paper, an open end at that of the scale; None without a spec."""
    if reading.spec is None:
        return None
    low, high = reading.spec
    return float(scale.at(scale.low if low is None else low)), float(
        scale.at(scale.high if high is None else high)
    )


def near_end(reading: Reading, field: tuple[float, float] | None) -> float | None:
    """The end of the field that a reading has left, None where it is inside or has none."""
    return None if field is None or reading.verdict not in OUTSIDE else field[reading.verdict == "above spec"]


def field_across(sheet: DrawingSheet, left: float, right: float, y: float, high: float = 0.34) -> None:
    """The field of the spec lying across a row, between two end bars."""
    sheet.box(left, y - high / 2, right - left, high, face=TINT, edge=None, name="spec")
    sheet.lines([[(x, y - high / 2), (x, y + high / 2)] for x in (left, right)], width=1.8, color=INK)


def draw_reading(sheet: DrawingSheet, place: tuple[float, float], verdict: str, *, along: str = "x", frm: float | None = None,
                 size: float = 0.075, draw: Shape | None = None, cut: bool = False) -> None:  # fmt: skip
    """A reading at a place on paper: within the field a disc, outside it a wedge that points away from it.

    along: "x" where larger is to the right, "y" where larger is up. frm: edge of the field, to which a line shows how far off it
    is. draw: what is drawn in place of disc and wedge, filled within the field and pale outside, so that two rows of readings can
    be told apart. cut: whether the line is shorter than the deviation, which two strokes across it say. Any other verdict
    than within, below or above spec gets a plain open mark.
    """
    x, y = place
    if verdict not in OUTSIDE:
        within = verdict == "within spec"
        face, edge = (STEEL, STEEL) if within else (PAPER, INK)
        (draw or _disc)(sheet, x, y, size, face, edge)
        return
    away = -1.0 if verdict == "below spec" else 1.0
    if frm is not None:
        sheet.line([(frm, y) if along == "x" else (x, frm), (x, y)], width=LINE, color=OCHRE, zorder=4)
    if frm is not None and cut:
        _cut(sheet, (frm + x) / 2 - away * size / 2, y)
    if draw is not None:
        draw(sheet, x, y, size, PAPER, OCHRE)
        return
    wedge = [(away * size, 0.0), (-1.4 * away * size, -size), (-1.4 * away * size, size)]
    if along == "y":
        wedge = [(across, -ahead) for ahead, across in wedge]
    sheet.shape([(x + dx, y + dy) for dx, dy in wedge], face=OCHRE, edge=None, name="mark", zorder=5)


def _cut(sheet: DrawingSheet, x: float, y: float) -> None:
    """A line broken off, as a dimension is on a drawing that has no room for it."""
    ends = [[(at - 0.025, y + 0.07), (at + 0.025, y - 0.07)] for at in (x - 0.025, x + 0.025)]
    sheet.shape([*ends[0], *ends[1][::-1]], face=PAPER, edge=None, name="cut", zorder=4.5)
    sheet.lines(ends, width=LINE, color=OCHRE, zorder=4.6)


def _disc(sheet: DrawingSheet, x: float, y: float, size: float, face: str, edge: str) -> None:
    sheet.disc(x, y, size, face=face, edge=edge, name="mark", zorder=5)


def verdict_drawn(reading: Reading, verdict: bool) -> str:
    """The verdict that a picture may draw: none where it may not say what a reading means."""
    return reading.verdict if verdict or reading.value is None else "noted"
