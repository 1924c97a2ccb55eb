"""The level indicator, as it comes out of its tube: how far it is wet, against its marks, and what clings to it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from course_lib.plots.drawing import BOLD, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE, STEEL, STEEL_WASH
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import conditions, in_sentences, verdict_color
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import OUTSIDE, Finding, Reading

PAPER_PER_INCH = 1.6  # in. of paper for an inch of the stick
FULL_AT, TIP, HANDLE = 4.85, 0.35, 6.8  # in. of paper: the FULL mark and the ends of the stick
STICK_HIGH, ROW_HIGH, FIRST_ROW = 0.3, 1.05, 1.3
BUBBLES = (0, 10, 34, 110)  # drawn for each grade of "bubbles"
RIPPLE, BUBBLE = 0.03, (0.025, 0.05)  # in. of paper
SEED = 5  # of the bubbles' places, which mean nothing


def is_level(reading: Reading) -> bool:
    """Whether a reading is one of the level indicator."""
    return reading.key.startswith("level_")


def fluid_level(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """The indicator once for each level reading of a finding, with the film that was seen on it.

    verdict: whether the picture may say what the readings mean. Raises ValueError for a finding without a level reading.
    """
    shown = finding_in_system(finding, system)
    pairs = [
        (a, b)
        for a, b in zip(finding.readings, shown.readings, strict=True)
        if is_level(a) and a.value is not None
    ]
    if not pairs:
        raise ValueError(f"finding must hold a level reading, got {finding.inspection}. Draw a fluid check.")
    film = _film(shown)
    bottom = FIRST_ROW + ROW_HIGH * len(pairs)
    sheet = DrawingSheet("Fluid level", conditions(finding, system), bottom + (0.36 if film else 0.1))
    _marks(sheet)
    grade = next((look.grade for look in finding.looks if look.key == "bubbles"), 0)
    for i, (real, reading) in enumerate(pairs):
        _stick(sheet, real, reading, FIRST_ROW + ROW_HIGH * i, verdict, grade)
    if film:
        sheet.line([(0.2, bottom - 0.18), (7.8, bottom - 0.18)], width=HAIR, color=RULE)
        sheet.text(0.2, bottom + 0.16, f"Film: {film}", name="film")
    return sheet.picture(_alt([reading for _, reading in pairs], film, verdict))


def _alt(readings: Sequence[Reading], film: str, verdict: bool) -> str:
    told = []
    for reading in readings:
        spec = f"; spec {reading.spec_text} from FULL" if reading.spec else ""
        meaning = f"; {reading.result_text}" if verdict and reading.spec else ""
        told.append(f"Dipstick, {reading.label.partition(', ')[2]}: {_wet_to(reading)}{spec}{meaning}")
    return in_sentences([*told, f"Film: {film}"] if film else told)


def _wet_to(reading: Reading) -> str:
    """Where the film ends, as one says it beside the vehicle."""
    assert reading.value is not None
    if not reading.value:
        return f"wet to FULL, {reading.with_unit(reading.show(0.0))} from it"
    return f"wet to {reading.with_unit(reading.show(abs(reading.value)))} {'over' if reading.value > 0 else 'under'} FULL"


def _film(shown: Finding) -> str:
    told = [look.text for look in shown.looks if look.key in ("color", "smell", "bubbles")]
    told += [look.text for look in shown.looks if look.key == "milk" and look.grade]
    return ", ".join(told)


def _at(inches: float) -> float:
    """Place on paper of a level [in. from FULL], as far as the stick goes."""
    return float(np.clip(FULL_AT + PAPER_PER_INCH * inches, TIP + 0.1, HANDLE - 0.1))


def _marks(sheet: DrawingSheet) -> None:
    """Names over the stick: tip, handle, FULL."""
    sheet.text(TIP, 0.82, "tip", color=GRAPHITE, size=SMALL)
    sheet.text(HANDLE, 0.82, "handle", color=GRAPHITE, size=SMALL, ha="right")
    sheet.text(FULL_AT, 0.82, "FULL", bold=True, ha="center")


def _stick(sheet: DrawingSheet, real: Reading, shown: Reading, y: float, verdict: bool, bubbles: int) -> None:
    """One dipping: the stick with its marks, the film up to where it is wet, and the reading."""
    assert real.value is not None and shown.value is not None
    edge, top = _at(real.value), y - STICK_HIGH / 2
    spec = (0.0, 0.0) if real.spec is None else tuple(_at(end) for end in real.spec if end is not None)
    _oil(sheet, edge, y, bubbles, spec)
    sheet.box(TIP, top, HANDLE - TIP, STICK_HIGH, width=BOLD, zorder=5)
    sheet.line([(FULL_AT, top), (FULL_AT, top + STICK_HIGH)], width=4.0, name="full", zorder=6)
    if real.spec is not None:
        _spec(sheet, real, shown, top)
    how = textwrap.fill(shown.label.partition(", ")[2], 11)
    sheet.text(HANDLE + 0.1, y, how, size=SMALL, color=GRAPHITE, va="center")
    sheet.line([(edge, y + STICK_HIGH / 2), (edge, y + 0.32)], width=HAIR)
    x, ha = (edge - 0.06, "right") if edge > 4.0 else (edge + 0.06, "left")
    sheet.text(x, y + 0.36, _wet_to(shown), bold=True, ha=ha, name="value")
    if verdict and shown.verdict in (*OUTSIDE, "within spec"):
        color = verdict_color(shown, verdict)
        words = shown.result_text
        sheet.text(x, y + 0.56, words, color=color, bold=color != INK, ha=ha, name="verdict")


def _spec(sheet: DrawingSheet, real: Reading, shown: Reading, top: float) -> None:
    """The part of the stick up to which it may be wet, crosshatched between two bars, with its numbers above."""
    assert real.spec is not None
    low, high = (_at(end) for end in real.spec if end is not None)
    crosses = np.arange(low + 0.08, high - 0.05, 0.16)
    for lean in (0.05, -0.05):
        pairs = [[(x - lean, top + 0.05), (x + lean, top + STICK_HIGH - 0.05)] for x in crosses]
        sheet.lines(pairs, color=RULE, zorder=3)
    for x in (low, high):
        sheet.line([(x, top - 0.06), (x, top + STICK_HIGH + 0.06)], width=1.8, name="spec", zorder=6)
    sheet.text(
        (low + high) / 2,
        top - 0.13,
        f"spec {shown.spec_text} from FULL",
        size=SMALL,
        color=GRAPHITE,
        ha="center",
    )


def _oil(sheet: DrawingSheet, edge: float, y: float, bubbles: int, spec: tuple[float, ...]) -> None:
    """The film from the tip to a wavy edge, with strokes along it and as many bubbles as were seen; strokes leave the spec free."""
    half = STICK_HIGH / 2
    down = np.linspace(-half, half, 25)
    wave = edge + RIPPLE * np.sin(down / half * 4.5)
    outline = [(TIP, y - half), *zip(wave, y + down, strict=True), (TIP, y + half)]
    sheet.shape(outline, face=STEEL_WASH, edge=None, zorder=1)
    strokes = np.arange(TIP + 0.1, edge - 0.12, 0.18)
    strokes = strokes[(strokes < spec[0] - 0.1) | (strokes > spec[1])]
    sheet.lines(
        [[(x, y + half - 0.05), (x + 0.08, y - half + 0.05)] for x in strokes],
        width=1.0,
        color=STEEL,
        zorder=2,
    )
    sheet.line(
        list(zip(wave, y + down, strict=True)), width=BOLD + 0.8, color=STEEL, name="film edge", zorder=4
    )
    rng = np.random.default_rng(SEED)
    for _ in range(BUBBLES[bubbles]):
        radius = rng.uniform(*BUBBLE)
        x, up = rng.uniform(TIP + 0.1, max(edge - 0.1, TIP + 0.2)), rng.uniform(radius - half, half - radius)
        sheet.disc(x, y + up, radius, face=PAPER, width=LINE * 0.7, name="bubble", zorder=4)
