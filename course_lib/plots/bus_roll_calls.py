"""Who answers on the bus: the pair of wires through every module, those that answer and those that are silent."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from course_lib.plots.drawing import BOLD, DASHED, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, STEEL
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH, across, heads, in_order, lines_high, told
from course_lib.plots.reading_marks import in_sentences
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import Reading

FIRST, ROW, BOX = (
    0.8,
    0.62,
    (0.3, 3.0, 0.44),
)  # in. of paper: first box, row to row, a box's left edge, width and height
PAIR = (0.55, 0.72)  # where the two wires run
SIGN, NOTE_LETTERS = 3.65, 42


@dataclass(frozen=True, slots=True)
class BusModule:
    """A module on the bus, whether it answered when it was asked, and what was noted of it."""

    name: str
    answers: bool
    note: str = ""


def bus_roll_call(modules: Sequence[BusModule], readings: Sequence[Reading] = (), *, verdict: bool, system: str = "workshop",
                  side: str = "") -> Picture:  # fmt: skip
    """Every module that belongs on the bus, and what was measured on its wires.

    verdict: whether the picture may say that a silence is out of order and which reading is outside spec. Raises ValueError
    where nobody was asked.
    """
    if not modules:
        raise ValueError("modules must hold at least one module, got none. Say who belongs on the bus.")
    shown = in_order([reading_in_system(reading, system) for reading in readings], verdict)
    bottom = FIRST + ROW * len(modules)
    sheet = DrawingSheet("Bus, who answers", side, bottom + (0.4 + lines_high(shown) if shown else 0.0))
    last = bottom - ROW + BOX[2] / 2
    sheet.lines([[(x, FIRST + BOX[2] / 2), (x, last)] for x in PAIR], width=BOLD, name="bus", zorder=1)
    for k, module in enumerate(modules):
        _module(sheet, module, FIRST + ROW * k, verdict)
    if shown:
        heads(sheet, bottom + 0.1, verdict)
    y = bottom + 0.36
    for reading in shown:
        y = across(sheet, reading, y, verdict)
    calls = [_words(module) for module in modules]
    return sheet.picture(in_sentences(["Bus, who answers", *calls, *told(shown, verdict)]))


def _words(module: BusModule) -> str:
    state = "answers" if module.answers else "silent"
    return f"{module.name}: {state}" + (f"; {module.note}" if module.note else "")


def _module(sheet: DrawingSheet, module: BusModule, y: float, verdict: bool) -> None:
    """A module's box, solid where it answers, dashed where it is silent, and the word."""
    left, wide, high = BOX
    name, dash = ("answers", "-") if module.answers else ("silent", DASHED)
    sheet.box(left, y, wide, high, face=PAPER, width=LINE, name=name, zorder=2, linestyle=dash)
    sheet.text(left + 0.15, y + high / 2 + 0.05, module.name, bold=True, zorder=3)
    middle = y + high / 2
    color = OCHRE if verdict and not module.answers else INK
    sheet.disc(
        SIGN,
        middle,
        0.06,
        face=STEEL if module.answers else PAPER,
        edge=STEEL if module.answers else color,
        zorder=3,
    )
    sheet.text(SIGN + 0.15, middle + 0.05, name, bold=True, color=color)
    lines = textwrap.wrap(module.note, NOTE_LETTERS)
    for k, words in enumerate(lines):
        place = middle + 0.05 + LINE_HIGH * (k - (len(lines) - 1) / 2)
        sheet.text(SIGN + 0.95, place, words, size=SMALL, color=GRAPHITE, name="value")
