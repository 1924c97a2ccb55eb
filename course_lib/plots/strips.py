"""Readings in rows, each against its spec: what was found, what is due, how far off."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from course_lib.plots.house import GRAPHITE, HAIR, INK, RULE, SMALL, TEXT, TINT, Picture, Sheet
from course_lib.plots.marks import (
    Scale,
    axis_below,
    conditions,
    deviation_text,
    field_across,
    mark,
    said,
    seen,
    span,
    told_apart,
    verdict_color,
)
from course_lib.shop.display import reading_shown
from course_lib.shop.findings import Finding, Reading

ROW_HIGH, FIRST, NAMES_END, START, END = 0.4, 1.15, 2.75, 2.95, 4.95  # in. of paper
FOUND, SPEC, RESULT = 5.05, 5.95, 7.8
FIELD = (3.7, 4.2)  # where every row's field lies when each has a scale of its own
NAME_LETTERS = 31

Place = Callable[[Reading, float], float]  # where on paper a value of a reading lies


def rows(
    readings: Sequence[Reading], finding: Finding, *, verdict: bool, system: str = "workshop"
) -> Picture:
    """Readings of any kind, one a row; each row is stretched so that all specs lie in one field.

    verdict: whether the picture may say what the readings mean.
    """
    shown = [reading_shown(reading, system) for reading in readings]
    sheet = Sheet(finding.title, conditions(finding, system), FIRST + ROW_HIGH * len(shown) + 0.1)
    _head(sheet)
    for i, reading in enumerate(shown):
        _row(sheet, reading, FIRST + ROW_HIGH * i, _own_scale, reading.label, verdict)
    return sheet.picture(". ".join(said(reading, verdict) for reading in shown) + ".")


def on_one_scale(
    readings: Sequence[Reading], finding: Finding, *, verdict: bool, system: str = "workshop"
) -> Picture:
    """Readings of one unit, one a row, over one scale: the speeds at which a unit shifts, what stands at its taps.

    verdict: whether the picture may say what the readings mean. Raises ValueError for readings of several units.
    """
    shown = [reading_shown(reading, system) for reading in readings]
    if len(kinds := {reading.unit for reading in shown}) != 1:
        raise ValueError(f"readings must have one unit, got {sorted(kinds)}. Draw one picture for each.")
    title, names = told_apart([reading.label for reading in shown])
    sheet = Sheet(title or finding.title, conditions(finding, system), FIRST + ROW_HIGH * len(shown) + 0.45)
    numbers = [n for r in shown for n in (r.value, *(r.spec or ())) if n is not None] + [0.0]
    scale = Scale(*span(numbers, least=10.0, pad=0.08, floor=min(numbers)), START, END)
    bottom = FIRST + ROW_HIGH * len(shown) - 0.15
    sheet.lines([[(x, FIRST - 0.25), (x, bottom)] for x in scale.at(scale.ticks(5))], color=TINT)
    axis_below(sheet, scale, bottom, shown[0].unit, most=5)
    _head(sheet)
    for i, (reading, name) in enumerate(zip(shown, names, strict=True)):
        _row(sheet, reading, FIRST + ROW_HIGH * i, lambda _, value: float(scale.at(value)), name, verdict)
    told = [said(reading, verdict, what=name) for reading, name in zip(shown, names, strict=True)]
    return sheet.picture(f"{title or finding.title}. {'. '.join(told)}.")


def shift_speeds(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """Road speed at each shift against its spec; shifts that never came stay in the list.

    verdict: whether the picture may say what the readings mean. Raises ValueError for a finding without shift speeds.
    """
    readings = [r for r in finding.readings if r.unit == "mph"]
    if not readings:
        raise ValueError(f"finding must hold road speeds, got {finding.inspection}. Draw a road test.")
    picture = on_one_scale(readings, finding, verdict=verdict, system=system)
    return Picture(picture.figure, "Speed at each shift. " + picture.alt.removeprefix(f"{finding.title}. "))


def _own_scale(reading: Reading, value: float) -> float:
    """Place of a value where the spec fills the field; past the end of the strip it stays at its end."""
    low, high = _ends(reading, value)
    return float(np.clip(Scale(low, high, *FIELD).at(value), START + 0.1, END - 0.1))


def _ends(reading: Reading, value: float) -> tuple[float, float]:
    """Both ends of the spec; an open end lies as far off as the other is from nothing."""
    low, high = reading.spec or (value - 1.0, value + 1.0)
    if low is None:
        return 0.0, high or 1.0
    return low, 2.0 * low if high is None else high


def _head(sheet: Sheet) -> None:
    for x, name, ha in ((FOUND, "found", "left"), (SPEC, "spec", "left"), (RESULT, "result", "right")):
        sheet.text(x, FIRST - 0.32, name, size=SMALL, color=GRAPHITE, ha=ha)


def _row(sheet: Sheet, reading: Reading, y: float, at: Place, name: str, verdict: bool) -> None:
    """Name, field and mark, numbers."""
    outside = verdict_color(reading, verdict) != INK
    short = name if len(name) <= NAME_LETTERS else None
    sheet.text(NAMES_END, y + 0.05, short or _two_lines(name), size=TEXT if short else 9, ha="right", bold=outside,
               va="baseline" if short else "center")  # fmt: skip
    sheet.line([(0.2, y + 0.2), (7.8, y + 0.2)], width=0.4, color=RULE)
    value = reading.value if reading.value is not None else 0.0
    ends = None
    if reading.spec is not None:
        low, high = _ends(reading, value)
        ends = (at(reading, low), at(reading, high))
        field_across(sheet, ends[0], ends[1], y, 0.26)
        sheet.text(SPEC, y + 0.05, reading.spec_text, size=SMALL, color=GRAPHITE)
    if reading.value is None:
        if ends:
            sheet.text(sum(ends) / 2, y + 0.05, "?", color=GRAPHITE, ha="center")
        sheet.text(RESULT, y + 0.05, reading.note or "not read", size=SMALL, ha="right", name="value")
        return
    near = ends[0 if reading.verdict == "below spec" else 1] if ends else None
    mark(sheet, at(reading, reading.value), y, seen(reading, verdict), frm=near)
    found = reading.with_unit(reading.show(reading.value))
    sheet.text(FOUND, y + 0.05, found, size=SMALL, bold=True, name="value")
    if verdict and reading.spec is not None:
        words = deviation_text(reading)
        color = verdict_color(reading, verdict)
        sheet.text(
            RESULT, y + 0.05, _brief(words), size=SMALL, bold=outside, color=color, ha="right", name="verdict"
        )
    sheet.line([(NAMES_END + 0.08, y), (NAMES_END + 0.08, y)], width=HAIR)


def _brief(words: str) -> str:
    return words.removesuffix(" spec") if words != "within spec" else "within"


def _two_lines(name: str) -> str:
    """A long name in two lines."""
    middle = min((abs(2 * i - len(name)), i) for i, letter in enumerate(name) if letter == " ")[1]
    return f"{name[:middle]}\n{name[middle + 1 :]}"
