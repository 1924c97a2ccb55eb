"""Readings in rows, each against its spec: what was found, what is due, how far off."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.plots.drawing import SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, RULE, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    FOLD_HIGH,
    AxisScale,
    axis_below,
    conditions,
    draw_reading,
    field_across,
    fold,
    folded,
    in_sentences,
    parted,
    reading_in_words,
    span,
    verdict_color,
    verdict_drawn,
)
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Finding, Reading, spec_text

LEAST_SPAN = 10.0  # of an axis, in the unit of its readings
PAST_RANGE = "open"  # where a meter shows no number
ROW_HIGH, FIRST, NAMES_END, START, RESULT = 0.4, 1.15, 2.7, 2.9, 7.8  # in. of paper
FIELD = (3.25, 3.6)  # where every row's field lies when each has a scale of its own
NAME_LETTERS, NAME_HIGH = 29, 0.17  # letters in a line of a name, and in. of paper a line takes more than one


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where the strip ends and the columns of numbers stand [in. of paper]: the found right of it, the spec left of `spec`."""

    end: float
    found: float
    spec: float


OWN, SHARED = (
    _Columns(4.15, 5.05, 5.16),
    _Columns(5.35, 5.98, 6.07),
)  # each row its own scale, with units; all rows one
STRIP = (START + 0.1, OWN.end - 0.1)  # how far a mark may lie on a scale of its own
Place = Callable[[Reading, float], float]  # where on paper a value of a reading lies


def rows(
    readings: Sequence[Reading], finding: Finding, *, verdict: bool, system: str = "workshop"
) -> Picture:
    """Readings of any kind, one a row; each row is stretched so that all specs lie in one field.

    verdict: whether the picture may say what the readings mean; what is outside spec then stands alone, see `parted`.
    """
    shown, within = parted([reading_in_system(reading, system) for reading in readings], verdict)
    lines = folded(within, [reading.label for reading in within])
    places, bottom = _down([reading.label for reading in shown])
    sheet = DrawingSheet(finding.title, conditions(finding, system), bottom + 0.1 + FOLD_HIGH * len(lines))
    _head(sheet, "", OWN)
    for reading, y in zip(shown, places, strict=True):
        _row(sheet, reading, y, _own_scale, reading.label, verdict, OWN, reading.unit)
    fold(sheet, lines, bottom + 0.1)
    return sheet.picture(in_sentences([reading_in_words(reading, verdict) for reading in [*shown, *within]]))


def on_one_scale(title: str, readings: Sequence[Reading], finding: Finding, *, verdict: bool, system: str = "workshop",
                 lead: str = "") -> Picture:  # fmt: skip
    """Readings of one unit, one a row, over one scale: the speeds at which a unit shifts, what stands at its taps.

    lead: what need not be said in every row, because the title says it. verdict: whether the picture may say what the readings
    mean; what is outside spec then stands alone, see `parted`. Raises ValueError for readings of several units.
    """
    every = [reading_in_system(reading, system) for reading in readings]
    if len(kinds := {reading.unit for reading in every}) != 1:
        raise ValueError(f"readings must have one unit, got {sorted(kinds)}. Draw one picture for each.")
    shown, within = parted(every, verdict)
    unit = shown[0].unit
    names = [_after(lead, reading) for reading in shown]
    said_of = [
        f"{name}, {reading.note}" if reading.note and reading.value is not None else name
        for reading, name in zip(shown, names, strict=True)
    ]
    others = [_after(lead, reading) for reading in within]
    lines = folded(within, others)
    places, end = _down(said_of)
    bottom, under = end - 0.15, end + 0.45
    sheet = DrawingSheet(
        title, conditions(finding, system), under + (FOLD_HIGH * len(lines) + 0.15) * bool(lines)
    )
    scale = _shared_scale(shown)
    sheet.lines([[(x, FIRST - 0.25), (x, bottom)] for x in scale.at(scale.ticks(5))], color=TINT)
    axis_below(sheet, scale, bottom, unit, most=5)
    _head(sheet, unit, SHARED)
    for reading, name, y in zip(shown, said_of, places, strict=True):
        _row(sheet, reading, y, lambda _, value: float(scale.at(value)), name, verdict, SHARED)
    fold(sheet, lines, under + 0.1)
    told = [
        reading_in_words(reading, verdict, what=name)
        for reading, name in zip([*shown, *within], [*names, *others], strict=True)
    ]
    return sheet.picture(in_sentences([title, *told]))


def shift_speeds(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """Road speed at each shift against its spec; shifts that never came stay in the list.

    verdict: whether the picture may say what the readings mean. Raises ValueError for a finding without shift speeds.
    """
    readings = [r for r in finding.readings if r.unit == "mph"]
    if not readings:
        raise ValueError(f"finding must hold road speeds, got {finding.inspection}. Draw a road test.")
    return on_one_scale("Speed at each shift", readings, finding, verdict=verdict, system=system)


def _shared_scale(readings: Sequence[Reading]) -> AxisScale:
    """The scale of one picture: from nothing, or what is least, to what is most; at least twenty steps of the last digit long."""
    numbers = [n for r in readings for n in (r.value, *(r.spec or ())) if n is not None] + [0.0]
    least = min(LEAST_SPAN, 20.0 * 10.0 ** -readings[0].decimals)
    return AxisScale(*span(numbers, least=least, pad=0.08, floor=min(numbers)), START, SHARED.end)


def _after(lead: str, reading: Reading) -> str:
    """What tells a reading from the others of its picture."""
    name = reading.label.removeprefix(lead).lstrip(", ")
    return name[:1].upper() + name[1:]


def _down(names: Sequence[str]) -> tuple[list[float], float]:
    """Where on paper the middle of each row lies, and where the rows end: a name of three lines takes more room than two."""
    places, y = [], FIRST
    for name in names:
        places.append(y + _more(name) / 2)
        y += ROW_HIGH + _more(name)
    return places, y


def _more(name: str) -> float:
    """In. of paper that the lines of a name after the second need."""
    return NAME_HIGH * max(len(textwrap.wrap(name, NAME_LETTERS)) - 2, 0)


def _own_scale(reading: Reading, value: float) -> float:
    """Place of a value where the spec fills the field; past the end of the strip it stays at its end, and its line is cut."""
    low, high = _ends(reading, value)
    return float(np.clip(AxisScale(low, high, *FIELD).at(value), *STRIP))


def _ends(reading: Reading, value: float) -> tuple[float, float]:
    """Both ends of the spec; an open end lies as far off as the other is from nothing."""
    low, high = reading.spec or (value - 1.0, value + 1.0)
    if low is None:
        return 0.0, high or 1.0
    return low, 2.0 * low if high is None else high


def _head(sheet: DrawingSheet, unit: str, columns: _Columns) -> None:
    found = f"found, {unit}" if unit else "found"
    for x, name, ha in (
        (columns.found, found, "right"),
        (columns.spec, "spec", "left"),
        (RESULT, "result", "right"),
    ):
        sheet.text(x, FIRST - 0.32, name, size=SMALL, color=GRAPHITE, ha=ha)


def _row(sheet: DrawingSheet, reading: Reading, y: float, at: Place, name: str, verdict: bool, columns: _Columns,
         unit: str = "") -> None:  # fmt: skip
    """Name, field and mark, numbers; unit: shown with the number where the head of the column does not say it."""
    outside = verdict_color(reading, verdict) != INK
    words = textwrap.fill(name, NAME_LETTERS)
    sheet.text(NAMES_END, y, words, size=SMALL, ha="right", bold=outside, va="center", linespacing=1.1)
    under = y + (ROW_HIGH + _more(name)) / 2
    sheet.line([(0.2, under), (7.8, under)], width=0.4, color=RULE)
    ends = _field(sheet, reading, y, at, columns.spec)
    if reading.value is None:
        if ends:
            sheet.text(sum(ends) / 2, y + 0.05, "?", color=GRAPHITE, ha="center")
        sheet.text(RESULT, y + 0.05, reading.note or "not read", size=SMALL, ha="right", name="value")
        return
    near = ends[0 if reading.verdict == "below spec" else 1] if ends else None
    if not reading.past_range or reading.verdict in OUTSIDE:
        x = at(reading, reading.value)
        draw_reading(
            sheet, (x, y), verdict_drawn(reading, verdict), frm=near, cut=at is _own_scale and x in STRIP
        )
    sheet.text(
        columns.found, y + 0.05, _found(reading, unit), size=SMALL, bold=True, ha="right", name="value"
    )
    if verdict and reading.spec is not None:
        _result(sheet, reading, y)


def _result(sheet: DrawingSheet, reading: Reading, y: float) -> None:
    """The verdict at the end of its row."""
    color = verdict_color(reading, True)
    sheet.text(
        RESULT,
        y + 0.05,
        brief(reading),
        size=SMALL,
        bold=color != INK,
        color=color,
        ha="right",
        name="verdict",
    )


def _found(reading: Reading, unit: str) -> str:
    """The number, with its unit where one is given, or that there was none to show."""
    if reading.past_range or reading.value is None:
        return PAST_RANGE
    return reading.show(reading.value) + (f"\u202f{unit}" if unit else "")


def _field(
    sheet: DrawingSheet, reading: Reading, y: float, at: Place, words_at: float
) -> tuple[float, float] | None:
    """The field of the spec, and its numbers; the places of its ends."""
    if reading.spec is None:
        return None
    low, high = _ends(reading, reading.value or 0.0)
    ends = at(reading, low), at(reading, high)
    field_across(sheet, *ends, y, 0.26)
    unit = reading.unit if reading.past_range else ""  # "open" has none beside it
    sheet.text(
        words_at, y + 0.05, spec_text(reading.spec, unit, reading.decimals), size=SMALL, color=GRAPHITE
    )
    return ends


def brief(reading: Reading) -> str:
    """The verdict where the column says that it is about the spec: "14 below"."""
    if reading.verdict == "within spec":
        return "within"
    if reading.past_range:
        return reading.verdict.removesuffix(" spec")
    return f"{reading.show(abs(reading.deviation))} {reading.verdict.removesuffix(' spec')}"
