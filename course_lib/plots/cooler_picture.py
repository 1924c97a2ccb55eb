"""The cooler on its two lines: how hot the fluid goes in, how much cooler it comes back, and how fast."""

from __future__ import annotations

import textwrap

import numpy as np

from course_lib.base import units
from course_lib.plots.drawing import BOLD, HEAVY, LEAD, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE, STEEL, STEEL_WASH
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    AxisScale,
    conditions,
    draw_reading,
    field_across,
    in_sentences,
    reading_in_words,
    verdict_color,
    verdict_drawn,
)
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import Finding, Reading

UNIT = (0.35, 1.15, 1.7, 1.7)  # box of the transmission: left, upper, wide, high, in. of paper
COOLER = (3.55, 1.0, 1.9, 0.78)
PITCH = 0.15  # in. of paper, between two passes of the tube through the cooler
NOTE_LETTERS = 26
SHOWN = (
    "sump_temp_f",
    "cooler_drop_f",
    "cooler_flow_s_per_qt",
    "cooler_bypass_s_per_qt",
)  # it draws all of them, or nothing
JAR = (3.95, 2.45, 0.7, 0.95)


def cooler(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """Sump, cooler and return with what was read at each.

    verdict: whether the picture may say what the readings mean. Raises ValueError for a finding without those readings.
    """
    shown = {r.key: r for r in finding_in_system(finding, system).readings}
    if missing := [key for key in SHOWN if key not in shown]:
        raise ValueError(f"finding must hold readings of the cooler, got no {missing[0]}. Check the cooler.")
    sump, drop, flow, bypass = (shown[key] for key in SHOWN)
    sheet = DrawingSheet("Cooler", conditions(finding, system), 4.6)
    _plumbing(sheet)
    _thermometer(sheet, sump)
    _jar(sheet, flow)
    places = ((0.35, 3.2, "in the sump"), (5.65, 0.98, "lost across the cooler"), (5.65, 2.05, "a quart at the return"),
              (5.65, 3.35, "the same through a hose"))  # fmt: skip
    for reading, (x, y, name) in zip((sump, drop, flow, bypass), places, strict=True):
        _told(sheet, reading, x, y, units.text_in_system(name, system), verdict)
    grit = [look.text for look in finding.looks if look.key == "return_grit"]
    if grit:
        sheet.text(3.3, 3.85, f"{grit[0][:1].upper()}{grit[0][1:]}.", size=SMALL)
    told = [reading_in_words(reading, verdict) for reading in (sump, drop, flow, bypass)] + grit
    return sheet.picture(in_sentences(["Cooler", *told]))


def _plumbing(sheet: DrawingSheet) -> None:
    x, y, wide, high = UNIT
    sheet.box(x, y, wide, high, face=PAPER, width=BOLD)
    sheet.text(x + 0.1, y + 0.25, "transmission", size=SMALL, color=GRAPHITE)
    sheet.box(x + 0.02, y + high - 0.55, wide - 0.04, 0.53, face=STEEL_WASH, edge=None)
    sheet.line([(x, y + high - 0.55), (x + wide, y + high - 0.55)], width=LINE, color=STEEL)
    left, upper, long, deep = COOLER
    sheet.box(left, upper, long, deep, face=PAPER, width=BOLD)
    sheet.lines(
        [[(at, upper), (at, upper + deep)] for at in np.linspace(left, left + long, 20)[1:-1]], color=RULE
    )
    sheet.text(left, upper - 0.08, "cooler", size=SMALL, color=GRAPHITE)
    out, back = y + 0.05, y + 0.85
    sheet.line([(x + wide, out), (left, out)], width=HEAVY, color=STEEL)
    ends = (left + 0.15, left + long - 0.15)
    rows = [out + PITCH * i for i in range(4)]
    coil = [(ends[(i + side) % 2], y) for i, y in enumerate(rows) for side in (0, 1)]
    sheet.line([(left, out), *coil, (left + 0.15, upper + deep)], width=BOLD, color=STEEL)
    jar_x = JAR[0] + JAR[2] / 2
    sheet.line([(left + 0.15, upper + deep), (left + 0.15, back), (jar_x, back)], width=HEAVY, color=STEEL)
    sheet.line([(jar_x, back - 0.024), (jar_x, JAR[1] - 0.1)], width=HEAVY, color=STEEL)
    for at, level in (((x + wide + left) / 2, out), ((left + 0.15 + jar_x) / 2 + 0.1, back)):
        points = [(at - 0.1, level - 0.09), (at + 0.1, level), (at - 0.1, level + 0.09)]
        sheet.shape(points, face=PAPER, edge=STEEL)
    sheet.line([(x + wide, back), (left - 0.35, back)], width=LINE, color=RULE, dash=(0, (4, 2)))
    words = "return, off and\ninto a jar"
    sheet.text(
        (x + wide + left) / 2 - 0.12, back + 0.2, words, size=SMALL, color=GRAPHITE, ha="center", va="top"
    )


def _thermometer(sheet: DrawingSheet, sump: Reading) -> None:
    """A thermometer standing in the sump; the column is as high as the reading over its spec."""
    x, y, wide, high = UNIT
    at, bottom, top = x + wide - 0.35, y + high - 0.2, y + 0.3
    sheet.box(at - 0.05, top, 0.1, bottom - top, face=PAPER, width=1.0)
    sheet.disc(at, bottom, 0.1, face=INK, edge=None)
    if sump.value is None:
        return
    low, high_end = (end for end in (sump.spec or (0.0, sump.value)))
    scale = AxisScale((low or 0.0) * 0.5, max(high_end or sump.value, sump.value) * 1.1, bottom - 0.1, top)
    sheet.line([(at, bottom), (at, float(scale.at(sump.value)))], width=3.0, name="column")
    for end in (low, high_end):
        if end is not None:
            sheet.line(
                [(at - 0.14, float(scale.at(end))), (at - 0.05, float(scale.at(end)))], width=1.8, name="spec"
            )


def _jar(sheet: DrawingSheet, flow: Reading) -> None:
    """The jar under the return, as full as it gets in the time the sheet allows."""
    x, y, wide, high = JAR
    due = flow.spec[0] if flow.spec and flow.spec[0] else flow.value
    share = float(np.clip(due / flow.value, 0.1, 1.0)) if due and flow.value else 0.1
    sheet.box(
        x + 0.02,
        y + high * (1 - 0.85 * share),
        wide - 0.04,
        high * 0.85 * share,
        face=STEEL_WASH,
        edge=None,
        name="oil",
    )
    sheet.line([(x, y), (x, y + high), (x + wide, y + high), (x + wide, y)], width=BOLD)
    sheet.lines(
        [[(x + wide - 0.16, y + high * s), (x + wide, y + high * s)] for s in (0.2, 0.4, 0.6, 0.8)], width=1.0
    )


def _told(sheet: DrawingSheet, reading: Reading, x: float, y: float, name: str, verdict: bool) -> None:
    """One reading as number, field and verdict."""
    sheet.text(x, y, name, size=SMALL, color=GRAPHITE)
    if reading.value is None:
        sheet.text(x, y + 0.26, reading.note or "not read", size=SMALL, bold=True, name="value")
        return
    sheet.text(
        x, y + 0.26, reading.with_unit(reading.show(reading.value)), size=LEAD, bold=True, name="value"
    )
    low, high = reading.spec or (None, None)
    if low is None or high is None:
        return
    scale = AxisScale(low, high, x + 1.25, x + 1.65)
    field_across(sheet, x + 1.25, x + 1.65, y + 0.2, 0.22)
    due = float(scale.at(reading.value))
    place = float(np.clip(due, x + 1.0, x + 2.05))
    near = x + 1.25 if reading.verdict == "below spec" else x + 1.65
    draw_reading(
        sheet, (place, y + 0.2), verdict_drawn(reading, verdict), frm=near, size=0.06, cut=due != place
    )
    sheet.text(x, y + 0.46, f"spec {reading.spec_text}", size=SMALL, color=GRAPHITE)
    if verdict:
        color = verdict_color(reading, verdict)
        sheet.text(
            x, y + 0.65, reading.result_text, size=SMALL, color=color, bold=color != INK, name="verdict"
        )
    for i, words in enumerate(textwrap.wrap(reading.note, NOTE_LETTERS)):
        sheet.text(x, y + (0.84 if verdict else 0.65) + 0.18 * i, words, size=SMALL, name="note")
