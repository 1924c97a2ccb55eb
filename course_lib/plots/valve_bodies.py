"""The valve body on the bench: how far each bore pulls a vacuum, and the solenoids side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from course_lib.plots.circuit_symbols import CircuitStrip, draw_piece
from course_lib.plots.drawing import BOLD, HAIR, LINE, SMALL, TEXT, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE, STEEL_WASH
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH, sign
from course_lib.plots.reading_marks import (
    AxisScale,
    axis_below,
    draw_reading,
    field_across,
    field_ends,
    in_sentences,
    near_end,
    reading_in_words,
    verdict_color,
    verdict_drawn,
)
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Reading

FIRST, ROW, BORE, STRIP, FOUND, RESULT = 1.2, 0.72, (0.3, 2.3), (2.75, 6.0), 6.65, 6.1  # in. of paper
MOST_ACROSS = 4  # solenoids in a row
NAME_LETTERS = 20


def valve_bench(title: str, bores: Sequence[Reading], solenoids: Sequence[Reading], *, verdict: bool, system: str = "workshop",
                side: str = "") -> Picture:  # fmt: skip
    """Bores in section with the vacuum that each holds over one scale, and below them every solenoid with its reading.

    verdict: whether the picture may say what is outside spec. Raises ValueError where there is neither, or where bores have
    several units.
    """
    holes = [reading_in_system(reading, system) for reading in bores]
    coils = [reading_in_system(reading, system) for reading in solenoids]
    if not holes and not coils:
        raise ValueError("bores or solenoids must hold a reading, got none. Put the valve body on the bench.")
    if len(kinds := {reading.unit for reading in holes}) > 1:
        raise ValueError(f"bores must have one unit, got {sorted(kinds)}. Measure them with one gauge.")
    cards = _cards(coils, verdict)
    y = FIRST + ROW * len(holes) + 0.35 * bool(holes) - 0.35 * (not holes)
    sheet = DrawingSheet(title, side, y + sum(high + 0.12 for _, high in cards))
    if holes:
        _bores(sheet, holes, verdict)
    for row, high in cards:
        for column, reading in enumerate(row):
            _card(sheet, reading, 0.2 + 1.9 * column, y, high, verdict)
        y += high + 0.12
    return sheet.picture(in_sentences([title, *(reading_in_words(r, verdict) for r in [*holes, *coils])]))


# ---------------------------------------------------------------------- bores
def _bores(sheet: DrawingSheet, bores: Sequence[Reading], verdict: bool) -> None:
    numbers = [n for r in bores for n in (r.value, *(r.spec or ())) if n is not None]
    scale = AxisScale(0.0, max(numbers, default=1.0) * 1.1, *STRIP)
    for k, reading in enumerate(bores):
        _bore(sheet, reading, scale, FIRST + ROW * k, verdict)
    axis_below(sheet, scale, FIRST + ROW * (len(bores) - 1) + 0.35, f"vacuum held, {bores[0].unit}", most=6)


def _bore(sheet: DrawingSheet, reading: Reading, scale: AxisScale, y: float, verdict: bool) -> None:
    """A valve in its bore, and the vacuum that it holds."""
    _section(sheet, *BORE, y + 0.12)
    sheet.text(BORE[0], y - 0.13, reading.label, size=SMALL, bold=True)
    if reading.value is None:
        sheet.text(RESULT, y + 0.16, reading.note or "not read", size=SMALL)
        return
    field = field_ends(reading, scale)
    sheet.line([(STRIP[0], y + 0.12), (STRIP[1], y + 0.12)], width=HAIR, color=RULE)
    if field is not None:
        field_across(sheet, *field, y + 0.12, 0.26)
    place = (float(scale.at(reading.value)), y + 0.12)
    draw_reading(sheet, place, verdict_drawn(reading, verdict), frm=near_end(reading, field))
    sheet.text(
        RESULT, y + 0.06, reading.with_unit(reading.show(reading.value)), size=TEXT, bold=True, name="value"
    )
    if verdict and reading.spec is not None:
        color = verdict_color(reading, verdict)
        words = reading.result_text
        sheet.text(RESULT, y + 0.25, words, size=SMALL, bold=color != INK, color=color, name="verdict")


def _section(sheet: DrawingSheet, left: float, right: float, y: float) -> None:
    """Casting above and below, hatched, and a valve with three lands between."""
    for top in (y - 0.17, y + 0.09):
        sheet.box(left, top, right - left, 0.08, face=PAPER, width=1.0, hatch="////")
    sheet.line([(left, y), (right - 0.1, y)], width=LINE)
    for k in range(3):
        x = left + 0.12 + k * (right - left - 0.5) / 2
        sheet.box(x, y - 0.075, 0.26, 0.15, face=STEEL_WASH, width=LINE, name="land")


# ---------------------------------------------------------------------- solenoids
def _cards(solenoids: Sequence[Reading], verdict: bool) -> list[tuple[list[Reading], float]]:
    """The solenoids row by row, each row with its height [in.]."""
    rows = [list(solenoids[k : k + MOST_ACROSS]) for k in range(0, len(solenoids), MOST_ACROSS)]
    return [(row, 0.6 + LINE_HIGH * max(len(_lines(reading, verdict)) for reading in row)) for row in rows]


def _lines(reading: Reading, verdict: bool) -> list[tuple[str, str]]:
    """What stands on a card, in lines, each with its color."""
    color = verdict_color(reading, verdict)
    told = [(reading.label, GRAPHITE), (reading.found_text, color)]
    if reading.spec is not None:
        told.append((f"spec {reading.spec_text}", GRAPHITE))
        if verdict and reading.value is not None:
            told.append((reading.result_text, color if color != INK else GRAPHITE))
    return [(line, hue) for words, hue in told for line in textwrap.wrap(words, NAME_LETTERS)]


def _card(sheet: DrawingSheet, reading: Reading, x: float, y: float, high: float, verdict: bool) -> None:
    """A solenoid: its coil, its reading, and its spec."""
    off = verdict and reading.verdict in OUTSIDE
    sheet.box(
        x, y, 1.78, high, face=PAPER, width=BOLD if off else HAIR, edge=INK if off else RULE, name="card"
    )
    draw_piece(CircuitStrip(sheet, (x + 0.1, y + 0.22), (x + 0.9, y + 0.22)), "coil")
    sign(sheet, reading, x + 1.6, y + 0.2, verdict)
    for k, (words, hue) in enumerate(_lines(reading, verdict)):
        place = y + 0.48 + LINE_HIGH * k
        sheet.text(x + 0.1, place, words, size=SMALL, bold=hue != GRAPHITE, color=hue, name="value")
