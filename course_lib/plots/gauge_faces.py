"""Gauge faces: the needle, how far it swings, and the spec around the rim."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from course_lib.base import units
from course_lib.plots.drawing import BIG, BOLD, HAIR, LEAD, LINE, MARGIN, SMALL, TEXT, WIDTH, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE_WASH, PAPER, RULE, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    FOLD_HIGH,
    AxisScale,
    axis_below,
    conditions,
    draw_reading,
    field_across,
    field_ends,
    fold,
    folded,
    in_sentences,
    near_end,
    parted,
    reading_in_words,
    span,
    told_apart,
    verdict_color,
    verdict_drawn,
)
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import Finding, Reading

LOWEST, SWEEP = 135.0, 270.0  # degrees, clockwise from the right: where the scale begins, and how far it goes
# Full scale of the gauges in the drawer, and what stands between two long and two short strokes of each.
FACES = {15: (5, 1), 30: (5, 1), 60: (10, 2), 100: (20, 5), 200: (50, 10), 400: (100, 20), 700: (100, 20), 1000: (200, 50),
         2000: (500, 100), 4000: (1000, 200), 8000: (2000, 500)}  # fmt: skip
NEAR = 16.0  # degrees, from the middle of a number to a needle that just misses it
GHOSTS = 5  # needles that show a swing
DIGIT = (0.088, 0.13)  # in. of paper, a digit on the face: how wide, how high


def full_scale(readings: Sequence[Reading]) -> int:
    """The smallest gauge in the drawer that can take every reading and its spec. Raises ValueError where none can."""
    numbers = [n for r in readings for n in (r.value, *(r.swing or ()), *(r.spec or ())) if n is not None]
    most = max(numbers, default=0.0)
    for full in FACES:
        if most <= 0.95 * full:
            return full
    raise ValueError(
        f"reading must be at most {0.95 * max(FACES):g}, got {most:g}. Add a gauge to the drawer."
    )


def direction(value: float, full: float) -> float:
    """Direction [degrees, clockwise from the right] in which a needle points; it rests on a pin at either end."""
    return LOWEST + SWEEP * float(np.clip(value / full, -0.02, 1.02))


def _rim(x: float, y: float, radius: float, degrees: float) -> tuple[float, float]:
    turned = np.radians(degrees)
    return x + radius * float(np.cos(turned)), y + radius * float(np.sin(turned))


def face(sheet: DrawingSheet, reading: Reading, full: int, x: float, y: float, radius: float) -> None:
    """One gauge face: scale, spec outside it, swing and needle."""
    sheet.disc(x, y, radius, face=PAPER, width=BOLD * min(1.0, radius))
    _scale(sheet, reading, full, x, y, radius)
    if reading.spec is not None:
        _spec(sheet, reading.spec, full, x, y, radius)
    times = "" if _unit_of_scale(full) == 1 else "1,000 "
    sheet.text(
        x,
        y + 0.62 * radius,
        times + reading.unit,
        size=SMALL,
        color=GRAPHITE,
        ha="center",
        va="center",
    )
    if reading.value is not None:
        _needle(sheet, reading, full, x, y, radius)


def _scale(sheet: DrawingSheet, reading: Reading, full: int, x: float, y: float, radius: float) -> None:
    long, short = FACES[full]
    for step, inner, width in ((short, 0.77, HAIR), (long, 0.73, LINE)):
        turns = [direction(value, full) for value in range(0, full + 1, step)]
        strokes = [[_rim(x, y, inner * radius, turn), _rim(x, y, 0.82 * radius, turn)] for turn in turns]
        sheet.lines(strokes, width=width)
    if radius > 1.0:
        small = [direction(value, full) for value in np.arange(0, full + 1, short / 2)]
        sheet.lines([[_rim(x, y, 0.79 * radius, t), _rim(x, y, 0.82 * radius, t)] for t in small], width=0.5)
    for value in range(0, full + 1, long):
        words, turn = f"{value / _unit_of_scale(full):,g}", np.radians(direction(value, full))
        inward = len(words) * DIGIT[0] / 2 * abs(np.cos(turn)) + DIGIT[1] / 2 * abs(np.sin(turn))
        at = _rim(x, y, 0.70 * radius - float(inward), direction(value, full))
        halo = _crossed(reading, full, direction(value, full))
        sheet.text(*at, words, size=SMALL, ha="center", va="center", halo=halo, name="scale", zorder=5.5)


def _crossed(reading: Reading, full: int, turn: float) -> bool:
    """Whether the needle stands or swings so near a direction of the face that it would cross a number there."""
    if reading.value is None:
        return False
    low, high = (direction(value, full) for value in reading.swing or (reading.value, reading.value))
    return low - NEAR < turn < high + NEAR


def _unit_of_scale(full: int) -> int:
    """What the numbers on the face stand for, times the unit: thousands on a wide scale."""
    return 1000 if full > 1000 else 1


def _spec(
    sheet: DrawingSheet, spec: tuple[float | None, float | None], full: int, x: float, y: float, radius: float
) -> None:
    """The spec outside the scale: a field between two end bars; an open end runs to the end of the scale."""
    low, high = (0.0 if spec[0] is None else spec[0]), (full if spec[1] is None else spec[1])
    start, end = direction(low, full), direction(high, full)
    sheet.sector((x, y), 0.95 * radius, (start, end), deep=0.11 * radius, face=TINT, name="spec")
    for turn in (start, end):
        sheet.line([_rim(x, y, 0.84 * radius, turn), _rim(x, y, 0.96 * radius, turn)], width=1.8)


def _needle(sheet: DrawingSheet, reading: Reading, full: int, x: float, y: float, radius: float) -> None:
    assert reading.value is not None
    if reading.swing is not None:
        start, end = (direction(value, full) for value in reading.swing)
        sheet.sector((x, y), 0.80 * radius, (start, end), face=OCHRE_WASH, name="swing")
        ghosts = np.linspace(start, end, GHOSTS)
        sheet.lines(
            [[(x, y), _rim(x, y, 0.80 * radius, turn)] for turn in ghosts], color=GRAPHITE, dash=(0, (3, 2))
        )
    turn = direction(reading.value, full)
    tip, tail = _rim(x, y, 0.80 * radius, turn), _rim(x, y, -0.18 * radius, turn)
    sheet.line(
        [tail, tip], width=3.0 * max(radius / 1.5, 0.7), name="needle", solid_capstyle="round", zorder=5
    )
    sheet.disc(x, y, 0.08 * radius, face=INK, edge=None, zorder=6)


# ---------------------------------------------------------------------- one gauge
def gauge(reading: Reading, *, verdict: bool, system: str = "workshop", side: str = "") -> Picture:
    """One reading on a gauge: the face, the number, and the same unrolled, near enough to be read against its spec.

    verdict: whether the picture may say what the reading means. Raises ValueError where the reading has no value.
    """
    if reading.value is None:
        raise ValueError(f"reading {reading.key} must have a value, got none. Say its note instead.")
    shown = reading_in_system(reading, system)
    assert shown.value is not None
    where = shown.label.partition(", ")
    sheet = DrawingSheet(where[0], ", ".join(text for text in (where[2], side) if text), 3.75)
    face(sheet, shown, full_scale([shown]), 1.85, 2.2, 1.42)
    big = sheet.text(4.1, 1.35, shown.show(shown.value), size=BIG, bold=True, name="value")
    sheet.text(4.18 + sheet.width_of(big), 1.35, shown.unit, size=LEAD, color=GRAPHITE)
    if verdict and shown.spec is not None:
        sheet.text(
            4.1,
            1.75,
            shown.result_text,
            size=LEAD,
            bold=True,
            color=verdict_color(shown, verdict),
            name="verdict",
        )
    for i, words in enumerate(_note(shown)):
        sheet.text(5.9, 1.18 + NOTE_HIGH * i, words, size=SMALL, name="note")
    _unrolled(sheet, shown, verdict)
    return sheet.picture(
        in_sentences([reading_in_words(shown, verdict, needle="needle at ") + (f"; {side}" if side else "")])
    )


def _unrolled(sheet: DrawingSheet, shown: Reading, verdict: bool) -> None:
    """The part of the scale that matters, laid flat."""
    assert shown.value is not None
    ends = [n for n in (shown.value, *(shown.swing or ()), *(shown.spec or ())) if n is not None]
    scale = AxisScale(
        *span(ends, least=20 * 10.0**-shown.decimals, pad=0.35, floor=min(0.0, *ends)), 4.2, 7.7
    )
    axis_below(sheet, scale, 3.12, shown.unit)
    field = field_ends(shown, scale)
    if field:
        field_across(sheet, *field, 2.72, 0.55)
        sheet.text(
            np.clip(sum(field) / 2, 4.75, 7.1), 2.32, f"spec {shown.spec_text}", size=SMALL, ha="center"
        )
    draw_reading(
        sheet, (scale.at(shown.value), 2.62), verdict_drawn(shown, verdict), frm=near_end(shown, field)
    )
    if shown.swing is not None:
        low, high = (float(scale.at(value)) for value in shown.swing)
        sheet.line([(low, 2.9), (high, 2.9)], width=LINE, color=GRAPHITE, name="swing flat")
        sheet.lines([[(x, 2.83), (x, 2.97)] for x in (low, high)], width=LINE, color=GRAPHITE)
        words = f"swings {shown.show(shown.swing[0])} to {shown.show(shown.swing[1])}"
        sheet.text(max(low - 0.06, 5.5), 2.94, words, size=SMALL, ha="right")


# ---------------------------------------------------------------------- many gauges of one kind
PER_ROW, CELL_HIGH, CELL_RADIUS, NAME_LETTERS = 3, 2.85, 0.82, 27
NOTE_LETTERS, NOTE_HIGH = 30, 0.19


def board(
    readings: Sequence[Reading], finding: Finding, *, verdict: bool, system: str = "workshop", title: str = ""
) -> Picture:
    """Readings of one kind side by side, all on the same gauge, so that needles can be compared by eye.

    verdict: whether the picture may say what the readings mean; what is outside spec then stands alone, see `parted`. title: where
    what all names share makes none. Raises ValueError for readings of several units.
    """
    every = [reading_in_system(reading, system) for reading in readings]
    if len(kinds := {reading.unit for reading in every}) != 1:
        raise ValueError(f"readings must have one unit, got {sorted(kinds)}. Draw one board for each.")
    shared, own = told_apart([reading.label for reading in every])
    title = units.text_in_system(title, system) or shared or finding.title
    named = {r.key: name for r, name in zip(every, own, strict=True)}
    shown, within = parted(every, verdict)
    names, others = [named[r.key] for r in shown], [named[r.key] for r in within]
    full, per_row = full_scale(every), {1: 1, 2: 2, 4: 2}.get(len(shown), PER_ROW)
    wide = (WIDTH - 2 * MARGIN) / per_row
    notes = max(len(_note(reading)) for reading in shown)
    high = CELL_HIGH + NOTE_HIGH * notes
    bottom, lines = 0.72 + high * -(-len(shown) // per_row), folded(within, others)
    sheet = DrawingSheet(
        title, conditions(finding, system), bottom + (FOLD_HIGH * len(lines) + 0.15) * bool(lines)
    )
    for i, (reading, name) in enumerate(zip(shown, names, strict=True)):
        row, column = divmod(i, per_row)
        x, y = MARGIN + wide * (column + 0.5), 0.62 + high * row
        _cell(sheet, reading, full, name, verdict, x, y)
        if column:
            sheet.line([(x - wide / 2, y + 0.2), (x - wide / 2, y + high - 0.2)], width=HAIR, color=RULE)
    fold(sheet, lines, bottom + 0.1)
    told = [
        reading_in_words(r, verdict, what=name, needle="needle at ")
        for r, name in zip([*shown, *within], [*names, *others], strict=True)
    ]
    return sheet.picture(in_sentences([f"{title}, {len(every)} readings to {full:,} {shown[0].unit}", *told]))


def _note(reading: Reading) -> list[str]:
    """What was noted beside a number, in lines."""
    return textwrap.wrap(reading.note, NOTE_LETTERS) if reading.value is not None else []


def _cell(
    sheet: DrawingSheet, reading: Reading, full: int, name: str, verdict: bool, x: float, y: float
) -> None:
    lines = textwrap.wrap(name, NAME_LETTERS)[:2]
    for i, words in enumerate(lines):
        sheet.text(x, y + 0.32 - 0.19 * (len(lines) - 1 - i), words, bold=True, ha="center")
    face(sheet, reading, full, x, y + 1.23, CELL_RADIUS)
    found = reading.with_unit(reading.show(reading.value)) if reading.value is not None else "not read"
    if reading.swing is not None:
        found += f", swings {reading.show(reading.swing[0])} to {reading.show(reading.swing[1])}"
    sheet.text(
        x, y + 2.25, found, size=LEAD if reading.swing is None else TEXT, bold=True, ha="center", name="value"
    )
    if reading.spec is not None:
        sheet.text(x, y + 2.45, f"spec {reading.spec_text}", size=SMALL, color=GRAPHITE, ha="center")
    if verdict and reading.spec is not None and reading.value is not None:
        color = verdict_color(reading, verdict)
        words = reading.result_text
        sheet.text(
            x, y + 2.64, words, size=SMALL, bold=color != INK, color=color, ha="center", name="verdict"
        )
    for i, words in enumerate(_note(reading)):
        at = y + (2.83 if verdict else 2.64) + NOTE_HIGH * i
        sheet.text(x, at, words, size=SMALL, ha="center", name="note")
