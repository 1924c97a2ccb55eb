"""Pressures as they climb: the governor over road speed, the line over engine speed and signal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from course_lib.base import units
from course_lib.plots.drawing import BOLD, DASHED, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    AxisScale,
    axis_below,
    axis_left,
    both_ends,
    conditions,
    draw_reading,
    in_sentences,
    reading_in_words,
    span,
    verdict_color,
    verdict_drawn,
)
from course_lib.plots.reading_rows import brief
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Finding, Reading, spec_text
from course_lib.shop.gauges import IDLE_RPM

# in. of paper: the field of the chart, and the list
UPPER, LOWER, LEFT, RIGHT, LIST = 0.95, 3.85, 0.85, 4.45, 4.66
COLUMNS = (LIST + 0.42, LIST + 0.95, LIST + 2.17, 7.8)  # right edges of x, reading, spec and result
LINE_HIGH, NAME_LETTERS = 0.18, 31
AS_IT_IS = "signal as it is"
BAR = 0.1  # in., half the width of a spec
RPM = re.compile(r"([\d,]+) rpm")


@dataclass(frozen=True, slots=True)
class Series:
    """Readings over the same kind of x, and how they are called."""

    name: str
    xs: tuple[float, ...]
    readings: tuple[Reading, ...]


# ---------------------------------------------------------------------- the two curves
def governor_curve(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """Governor pressure over road speed, with the spec at each speed.

    verdict: whether the picture may say what the readings mean. Raises ValueError for a finding without governor pressures.
    """
    readings = [r for r in finding.readings if r.key.startswith("governor_pressure_") and r.value is not None]
    if not readings:
        raise ValueError(
            f"finding must hold governor pressures, got {finding.inspection}. Measure the governor."
        )
    speeds = [float(r.key.split("_")[2]) for r in readings]
    xs = tuple(float(units.in_system(mph, "mph", system)[0]) for mph in speeds)
    series = Series("", xs, tuple(reading_in_system(r, system) for r in readings))
    unit = units.in_system(0.0, "mph", system)[1]
    return _chart(
        "Governor pressure",
        finding,
        [series],
        f"road speed, {unit}",
        (-0.05 * max(xs), max(xs) * 1.08),
        verdict,
        system,
    )


def line_against_rpm(*findings: Finding, verdict: bool, system: str = "workshop") -> Picture:
    """Line pressure in P over engine speed, one curve for each way the load signal was set.

    findings: those with line pressures in P at stated engine speeds; several go into one picture. verdict: whether it may say
    what the readings mean. Raises ValueError where there is no such reading.
    """
    readings = [r for f in findings for r in f.readings if _over_rpm(r)]
    if not readings:
        raise ValueError(
            "findings must hold line pressures in P over engine speed, got none. Measure the line."
        )
    signals = dict.fromkeys(_signal(r) for r in readings)
    series = []
    for signal in signals:
        mine = sorted((_rpm(r), i) for i, r in enumerate(readings) if _signal(r) == signal)
        shown = tuple(reading_in_system(readings[i], system) for _, i in mine)
        series.append(Series(units.text_in_system(signal, system), tuple(rpm for rpm, _ in mine), shown))
    return _chart(
        "Line pressure, P, against engine speed",
        findings[0],
        series,
        "engine speed, rpm",
        (400.0, 2700.0),
        verdict,
        system,
    )


def _over_rpm(reading: Reading) -> bool:
    told = (
        reading.label.startswith("Line pressure, P")
        and "cold" not in reading.label
        and reading.value is not None
    )
    return told and (RPM.search(reading.label) is not None or reading.label.endswith("idle"))


def _rpm(reading: Reading) -> float:
    found = RPM.search(reading.label)
    return float(found.group(1).replace(",", "")) if found else IDLE_RPM


def _signal(reading: Reading) -> str:
    """How the load signal was set, as the label has it after the engine speed."""
    return RPM.sub("\0", reading.label).partition("\0, ")[2] or AS_IT_IS


# ---------------------------------------------------------------------- shapes of the series
def _ring(sheet: DrawingSheet, x: float, y: float, size: float, face: str, edge: str) -> None:
    sheet.disc(x, y, size, face=face, edge=edge, name="mark", zorder=5)


def _square(sheet: DrawingSheet, x: float, y: float, size: float, face: str, edge: str) -> None:
    sheet.box(x - size, y - size, 2 * size, 2 * size, face=face, edge=edge, name="mark", zorder=5)


def _diamond(sheet: DrawingSheet, x: float, y: float, size: float, face: str, edge: str) -> None:
    far = 1.3 * size
    points = [(x - far, y), (x, y - far), (x + far, y), (x, y + far)]
    sheet.shape(points, face=face, edge=edge, name="mark", zorder=5)


def _upright(sheet: DrawingSheet, x: float, y: float, size: float, face: str, edge: str) -> None:
    points = [(x - size, y + size), (x + size, y + size), (x, y - size)]
    sheet.shape(points, face=face, edge=edge, name="mark", zorder=5)


SHAPES = (_ring, _square, _diamond, _upright)


# ---------------------------------------------------------------------- the chart
def _chart(title: str, finding: Finding, series: Sequence[Series], x_label: str, x_ends: tuple[float, float], verdict: bool,
           system: str) -> Picture:  # fmt: skip
    sheet = DrawingSheet(title, conditions(finding, system), max(4.5, UPPER + _high(series)))
    every = [reading for each in series for reading in each.readings]
    numbers = [0.0] + [n for r in every for n in (r.value, *(r.spec or ())) if n is not None]
    x_scale, y_scale = (
        AxisScale(*x_ends, LEFT, RIGHT),
        AxisScale(*span(numbers, least=10.0, floor=0.0), LOWER, UPPER),
    )
    axis_left(sheet, y_scale, LEFT, most=6, across=RIGHT)
    axis_below(sheet, x_scale, LOWER, x_label)
    sheet.text(LEFT - 0.06, UPPER - 0.12, every[0].unit, size=SMALL, color=GRAPHITE, ha="right")
    wide = x_ends[1] - x_ends[0]
    for i, each in enumerate(series):
        aside = (i - (len(series) - 1) / 2) * 0.012 * wide * (len(series) > 1)
        places = [(float(x_scale.at(x + aside)), r) for x, r in zip(each.xs, each.readings, strict=True)]
        _curve(sheet, places, y_scale, i, verdict)
    _list(sheet, series, x_label.rpartition(", ")[2], verdict)
    told = [
        f"{each.name + ', ' if each.name else ''}{reading_in_words(r, verdict, what=f'at {x:,.0f} ' + x_label.rpartition(', ')[2])}"
        for each in series
        for x, r in zip(each.xs, each.readings, strict=True)
    ]
    return sheet.picture(in_sentences([title, *told]))


def _curve(
    sheet: DrawingSheet, places: list[tuple[float, Reading]], y_scale: AxisScale, place: int, verdict: bool
) -> None:
    """One curve: fields of the spec, the line through the readings, and the marks."""
    for x, reading in places:
        if reading.spec is not None:
            low, high = (y_scale.at(end) for end in both_ends(reading.spec))
            sheet.box(x - BAR, high, 2 * BAR, low - high, face=TINT, edge=None, name="spec", zorder=2)
            sheet.lines([[(x - BAR, y), (x + BAR, y)] for y in (low, high)], width=1.8, zorder=3)
    points = [(x, y_scale.at(r.value)) for x, r in places if r.value is not None]
    if len(points) > 1:
        sheet.line(
            points, width=BOLD * 0.7, color=STEEL, dash=DASHED if place % 2 else None, name="curve", zorder=3
        )
    for (x, y), (_, reading) in zip(points, places, strict=True):
        shown = verdict_drawn(reading, verdict)
        near = None
        if reading.spec is not None and shown in OUTSIDE:
            near = y_scale.at(both_ends(reading.spec)[0 if shown == "below spec" else 1])
        draw_reading(sheet, (x, y), shown, along="y", frm=near, draw=SHAPES[place % len(SHAPES)], size=0.055)


def _list(sheet: DrawingSheet, series: Sequence[Series], x_unit: str, verdict: bool) -> None:
    """The same in numbers, beside the chart."""
    y = UPPER - 0.1
    heads = (x_unit, series[0].readings[0].unit, "spec", "result" if verdict else "")
    for x, name in zip(COLUMNS, heads, strict=True):
        sheet.text(x, y, name, size=SMALL, color=GRAPHITE, ha="right")
    for i, each in enumerate(series):
        y += 0.22
        if each.name:
            SHAPES[i % len(SHAPES)](sheet, LIST + 0.05, y - 0.04, 0.05, PAPER, INK)
            for line in textwrap.wrap(each.name, NAME_LETTERS):
                sheet.text(LIST + 0.18, y, line, size=SMALL, bold=True)
                y += LINE_HIGH
        for place, reading in zip(each.xs, each.readings, strict=True):
            _listed(sheet, place, reading, y, verdict)
            y += LINE_HIGH
    sheet.line([(LIST - 0.1, UPPER - 0.2), (LIST - 0.1, LOWER)], width=0.5, color=RULE)


def _high(series: Sequence[Series]) -> float:
    """How much room the list takes [in. of paper]."""
    lines = sum(len(textwrap.wrap(each.name, NAME_LETTERS)) + len(each.readings) for each in series)
    return LINE_HIGH * lines + 0.22 * len(series) + 0.05


def _listed(sheet: DrawingSheet, place: float, reading: Reading, y: float, verdict: bool) -> None:
    x, value, due, result = COLUMNS
    sheet.text(x, y, f"{place:,.0f}", size=SMALL, ha="right", color=GRAPHITE)
    sheet.text(value, y, reading.show(reading.value or 0.0), size=SMALL, bold=True, ha="right", name="value")
    if reading.spec is not None:
        spec = spec_text(reading.spec, "", reading.decimals)
        sheet.text(due, y, spec, size=SMALL, ha="right", color=GRAPHITE)
        if verdict:
            color = verdict_color(reading, verdict)
            sheet.text(
                result,
                y,
                brief(reading),
                size=SMALL,
                color=color,
                bold=color != INK,
                ha="right",
                name="verdict",
            )
