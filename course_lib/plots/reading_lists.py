"""Readings as lists: a stack beside a curve, and lines across the sheet; each with its spec and, where it may be said, verdict."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from course_lib.plots.drawing import SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL
from course_lib.plots.reading_marks import reading_in_words, verdict_color, verdict_drawn
from course_lib.shop.findings import OUTSIDE, Reading, spec_text

LINE_HIGH = 0.18  # in. of paper, from one line of words to the next
NAME, VALUE, UNIT, SPEC, RESULT = (
    0.45,
    4.1,
    4.17,
    6.0,
    6.15,
)  # in.: of a line across the sheet; value and spec end there
NAME_LETTERS = 33


def sign(sheet: DrawingSheet, reading: Reading, x: float, y: float, verdict: bool) -> None:
    """The sign of a reading before its name: a disc within spec, a wedge to the side it is off, a ring where nothing is said."""
    shown = verdict_drawn(reading, verdict)
    if shown in OUTSIDE:
        away = -1.0 if shown == "below spec" else 1.0
        wedge = [(x + 0.07 * away, y), (x - 0.06 * away, y - 0.06), (x - 0.06 * away, y + 0.06)]
        sheet.shape(wedge, face=OCHRE, edge=None, name="mark")
        return
    within = shown == "within spec"
    sheet.disc(
        x, y, 0.045, face=STEEL if within else PAPER, edge=STEEL if within else INK, width=1.0, name="mark"
    )


def stack(
    sheet: DrawingSheet, readings: Sequence[Reading], place: tuple[float, float], letters: int, verdict: bool
) -> float:
    """Readings one below the other from the upper left corner of `place` on; the place below the last [in.].

    letters: how many stand in a line.
    """
    x, y = place
    for reading in readings:
        sign(sheet, reading, x + 0.06, y + 0.07, verdict)
        for words in textwrap.wrap(reading.label, letters):
            sheet.text(x + 0.2, y + 0.12, words, size=SMALL)
            y += LINE_HIGH
        for words, color in _told(reading, letters, verdict):
            sheet.text(
                x + 0.2, y + 0.12, words, size=SMALL, bold=color != GRAPHITE, color=color, name="value"
            )
            y += LINE_HIGH
        y += 0.09
    return y


def stack_high(readings: Sequence[Reading], letters: int, verdict: bool) -> float:
    """How much room a stack takes [in.]."""
    lines = sum(len(textwrap.wrap(r.label, letters)) + len(_told(r, letters, verdict)) for r in readings)
    return LINE_HIGH * lines + 0.09 * len(readings)


def _told(reading: Reading, letters: int, verdict: bool) -> list[tuple[str, str]]:
    """The found, the spec and the verdict of a reading, in lines, each with its color."""
    color = verdict_color(reading, verdict)
    told = [(reading.found_text, color)]
    if reading.spec is not None:
        told.append((f"spec {reading.spec_text}", GRAPHITE))
        if verdict and reading.value is not None:
            told.append((reading.result_text, color if color != INK else GRAPHITE))
    return [(line, hue) for words, hue in told for line in textwrap.wrap(words, letters)]


def heads(sheet: DrawingSheet, y: float, verdict: bool) -> None:
    """What stands in the columns of a line across the sheet."""
    for x, words, side in ((NAME, "what", "left"), (VALUE, "found", "right"), (SPEC, "spec", "right")):
        sheet.text(x, y, words, size=SMALL, color=GRAPHITE, ha=side)
    if verdict:
        sheet.text(RESULT, y, "result", size=SMALL, color=GRAPHITE)


def across(sheet: DrawingSheet, reading: Reading, y: float, verdict: bool, lead: str = "") -> float:
    """One reading in a line of its own across the sheet, its first words on the baseline `y`; the baseline of the next.

    lead: a number or letter by which a drawing points at it.
    """
    off = verdict and reading.verdict in OUTSIDE
    color = verdict_color(reading, verdict)
    sign(sheet, reading, 0.3, y - 0.05, verdict)
    name = textwrap.wrap(f"{lead}  {reading.label}" if lead else reading.label, NAME_LETTERS)
    for k, words in enumerate(name):
        sheet.text(NAME, y + LINE_HIGH * k, words, size=SMALL, bold=off)
    return _numbers(sheet, reading, y, verdict, color) + LINE_HIGH * (len(name) - 1)


def _numbers(sheet: DrawingSheet, reading: Reading, y: float, verdict: bool, color: str) -> float:
    if reading.value is None:
        sheet.text(VALUE - 0.55, y, reading.note or "not read", size=SMALL, name="value")
        return y + 0.26
    sheet.text(VALUE, y, reading.show(reading.value), size=SMALL, bold=True, ha="right", name="value")
    sheet.text(UNIT, y, reading.unit, size=SMALL, color=GRAPHITE)
    if reading.spec is not None:
        words = spec_text(reading.spec, "", reading.decimals)
        sheet.text(SPEC, y, words, size=SMALL, color=GRAPHITE, ha="right", name="value")
        if verdict:
            sheet.text(
                RESULT, y, reading.result_text, size=SMALL, bold=color != INK, color=color, name="verdict"
            )
    said = reading.note
    if reading.swing is not None:
        said = f"swings {reading.show(reading.swing[0])} to {reading.show(reading.swing[1])}" + (
            f"; {said}" if said else ""
        )
    for words in textwrap.wrap(said, 40):
        y += LINE_HIGH
        sheet.text(VALUE - 0.55, y, words, size=SMALL, color=GRAPHITE, name="value")
    return y + 0.26


def lines_high(readings: Sequence[Reading]) -> float:
    """How much room lines across the sheet take [in.], at most."""
    names = sum(len(textwrap.wrap(f"00  {r.label}", NAME_LETTERS)) - 1 for r in readings)
    notes = sum(len(textwrap.wrap(r.note, 40)) + (r.swing is not None) for r in readings)
    return 0.26 * len(readings) + LINE_HIGH * (names + notes)


def rule(sheet: DrawingSheet, y: float) -> None:
    """A hairline across the sheet."""
    sheet.line([(0.2, y), (7.8, y)], width=0.5, color=RULE)


def in_order(readings: Sequence[Reading], verdict: bool) -> list[Reading]:
    """What is out of its spec first, where that may be said."""
    return sorted(readings, key=lambda r: r.verdict not in OUTSIDE) if verdict else list(readings)


def told(readings: Sequence[Reading], verdict: bool) -> list[str]:
    """Readings in words, one sentence each."""
    return [reading_in_words(reading, verdict) for reading in readings]
