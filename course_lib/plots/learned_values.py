"""What a controller has learned: each value between the two ends it may reach, and where a new unit stands."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from course_lib.base import units
from course_lib.plots.drawing import BOLD, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, RULE, STEEL_WASH
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH
from course_lib.plots.reading_marks import (
    AxisScale,
    draw_reading,
    field_across,
    field_ends,
    in_sentences,
    near_end,
    number,
    reading_in_words,
    verdict_color,
    verdict_drawn,
)
from course_lib.plots.reading_rows import brief
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import Reading

NAMES, START, END, FOUND, RESULT = (
    0.2,
    2.75,
    5.85,
    6.7,
    6.8,
)  # in. of paper: names, the track, the columns of numbers
ROW, NAME_LETTERS = 0.5, 29


@dataclass(frozen=True, slots=True)
class LearnedValue:
    """A learned value as a difference from new, with the range of a new unit as its spec; how far the controller may go."""

    reading: Reading
    least: float
    most: float

    def __post_init__(self) -> None:
        if not self.least < 0.0 < self.most:
            raise ValueError(
                f"least and most must lie on both sides of 0, got {self.least:g} and {self.most:g}. Enter both ends."
            )


def adapts_bars(
    title: str, values: Sequence[LearnedValue], *, verdict: bool, system: str = "workshop", side: str = ""
) -> Picture:
    """Learned values as bars from 0, on one track for all of one unit of measure.

    verdict: whether the picture may say which lies outside the range of a new unit, and which stands at its end. Raises
    ValueError where nothing was learned.
    """
    if not values:
        raise ValueError(
            "values must hold at least one learned value, got none. Read what the controller has learned."
        )
    shown = [_in_system(value, system) for value in values]
    groups = [
        [v for v in shown if v.reading.unit == unit] for unit in dict.fromkeys(v.reading.unit for v in shown)
    ]
    sheet = DrawingSheet(title, side, 0.75 + sum(ROW * len(group) + 0.6 for group in groups))
    y = 1.0
    for group in groups:
        y = _group(sheet, group, y, verdict)
    return sheet.picture(in_sentences([title, *(_told(value, verdict) for value in shown)]))


def _in_system(value: LearnedValue, system: str) -> LearnedValue:
    unit = value.reading.unit
    least, most = (
        float(units.in_system(n, unit, system, difference=True)[0]) for n in (value.least, value.most)
    )
    return LearnedValue(reading_in_system(value.reading, system), least, most)


def _at_end(value: LearnedValue) -> bool:
    """Whether the controller can go no farther, as rounded on the screen."""
    found = value.reading.value
    if found is None:
        return False
    least, most = (round(n, value.reading.decimals) for n in (value.least, value.most))
    return not least < round(found, value.reading.decimals) < most


def _group(sheet: DrawingSheet, group: Sequence[LearnedValue], y: float, verdict: bool) -> float:
    """All values of one unit on one scale; the place of the next group."""
    low, high = min(v.least for v in group), max(v.most for v in group)
    room = (high - low) * 0.04
    track = AxisScale(low - room, high + room, START, END)
    sheet.text(NAMES, y, f"learned, {group[0].reading.unit}", size=SMALL, color=GRAPHITE)
    for n in dict.fromkeys((low, 0.0, high)):
        words = number(round(n, group[0].reading.decimals))
        sheet.text(float(track.at(n)), y, words, size=SMALL, color=GRAPHITE, ha="center", name="value")
    sheet.text(FOUND, y, "found", size=SMALL, color=GRAPHITE, ha="right")
    for k, value in enumerate(group):
        _row(sheet, value, track, y + 0.35 + ROW * k, verdict)
    zero = float(track.at(0.0))
    sheet.line([(zero, y + 0.08), (zero, y + 0.1 + ROW * len(group))], width=LINE, color=RULE)
    return y + ROW * len(group) + 0.6


def _row(sheet: DrawingSheet, value: LearnedValue, track: AxisScale, y: float, verdict: bool) -> None:
    """A learned value: its name, the ends of its track, the bar from 0, and the number."""
    reading = value.reading
    names = textwrap.wrap(reading.label, NAME_LETTERS)
    for k, words in enumerate(names):
        sheet.text(NAMES, y + 0.05 + LINE_HIGH * (k - (len(names) - 1) / 2), words, size=SMALL)
    ends = [float(track.at(n)) for n in (value.least, value.most)]
    sheet.line([(ends[0], y), (ends[1], y)], width=LINE, color=RULE)
    sheet.lines([[(x, y - 0.17), (x, y + 0.17)] for x in ends], width=BOLD, color=INK, name="stop")
    field = field_ends(reading, track)
    if field is not None:
        field_across(sheet, *field, y, 0.26)
    if reading.value is None:
        sheet.text(FOUND, y + 0.05, reading.note or "not read", size=SMALL, ha="right")
        return
    x, zero = float(track.at(reading.value)), float(track.at(0.0))
    sheet.box(min(x, zero), y - 0.06, abs(x - zero), 0.12, face=STEEL_WASH, width=1.0, name="bar", zorder=3)
    draw_reading(sheet, (x, y), verdict_drawn(reading, verdict), frm=near_end(reading, field))
    _number(sheet, value, y, verdict)


def _number(sheet: DrawingSheet, value: LearnedValue, y: float, verdict: bool) -> None:
    reading = value.reading
    sheet.text(
        FOUND, y + 0.05, reading.show(reading.value or 0.0), size=SMALL, bold=True, ha="right", name="value"
    )
    if verdict and reading.spec is not None:
        color = verdict_color(reading, verdict)
        told = [brief(reading)] + ["at its end"] * _at_end(value)
        for k, words in enumerate(told):
            place = y + 0.05 + LINE_HIGH * (k - (len(told) - 1) / 2)
            sheet.text(RESULT, place, words, size=SMALL, bold=color != INK, color=color, name="verdict")


def _told(value: LearnedValue, verdict: bool) -> str:
    reading = value.reading
    ends = f"may go from {reading.show(value.least)} to {reading.with_unit(reading.show(value.most))}"
    words = f"{reading_in_words(reading, verdict)}; {ends}"
    return f"{words}; at its end" if verdict and _at_end(value) else words
