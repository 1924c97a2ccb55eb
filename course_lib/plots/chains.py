"""The causal chain of a case: what led to what, from the cause to the owner at the counter."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from course_lib.base import units
from course_lib.cases.key import Key
from course_lib.plots.drawing import BOLD, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE
from course_lib.plots.picture import Picture

ODOMETER = re.compile(r"^([\d,]+) mi: (.*)$")
LEFT, WIDE, FIRST = 2.2, 5.6, 0.95  # in. of paper
LETTERS, ARROW = 58, 0.32


def event_chain(told: Key | Sequence[str], *, verdict: bool, system: str = "workshop") -> Picture:
    """What happened, link by link, with the odometer at each and the miles between; what came at once stands in one box.

    told: the key of a case, or its lines "36,081 mi: intermediate band slides". verdict: whether the first link, the cause, may be
    read; without it the first box is left to fill in. Raises ValueError for a line without an odometer.
    """
    links = _links(told.chain if isinstance(told, Key) else told)
    if not verdict:
        links[0] = (links[0][0], ["?" for _ in links[0][1]])
    boxes = [(miles, _wrapped(words, system)) for miles, words in links]
    height = sum(_high(lines) + ARROW for _, lines in boxes) - ARROW
    sheet = DrawingSheet("What happened, in order", "from the cause to the counter", FIRST + height + 0.15)
    y = FIRST
    sheet.line(
        [(LEFT - 0.14, FIRST + 0.19), (LEFT - 0.14, FIRST + height - _high(boxes[-1][1]) + 0.19)],
        width=HAIR,
        color=RULE,
    )
    for i, (miles, lines) in enumerate(boxes):
        if i:
            _arrow(sheet, y, miles - boxes[i - 1][0], system)
            y += ARROW
        _link(sheet, y, miles, lines, system, first=i == 0, last=i == len(boxes) - 1)
        y += _high(lines)
    steps = [
        f"{units.text_in_system(f'{miles:,.0f} mi', system)}, {'; '.join(words)}" for miles, words in links
    ]
    return sheet.picture(
        units.text_in_system(f"What happened, in {len(links)} steps: {'. Then '.join(steps)}.", system)
    )


def _links(lines: Sequence[str]) -> list[tuple[float, list[str]]]:
    """(miles, what happened there); the cause and the complaint stand alone."""
    found: list[tuple[float, list[str]]] = []
    for i, line in enumerate(lines):
        miles, words = _split(line)
        if 1 < i < len(lines) - 1 and miles - found[-1][0] < 1.0:
            found[-1][1].append(words)
        else:
            found.append((miles, [words]))
    return found


def _wrapped(words: Sequence[str], system: str) -> list[str]:
    shown = [units.text_in_system(each, system) for each in words]
    return [line for each in shown for line in textwrap.wrap(each[:1].upper() + each[1:], LETTERS)]


def _high(lines: Sequence[str]) -> float:
    return 0.2 + 0.19 * len(lines)


def _split(line: str) -> tuple[float, str]:
    found = ODOMETER.match(line)
    if not found:
        raise ValueError(
            f'line of a chain must begin with its odometer, got {line!r}. Write "36,081 mi: what happened".'
        )
    return float(found.group(1).replace(",", "")), found.group(2)


def _link(
    sheet: DrawingSheet, y: float, miles: float, lines: list[str], system: str, *, first: bool, last: bool
) -> None:
    """One box; the cause is filled, the complaint has a heavy edge on its left."""
    face, ink = (INK, PAPER) if first else (PAPER, INK)
    ends, high = first or last, _high(lines)
    sheet.box(
        LEFT, y, WIDE, high, face=face, width=LINE if ends else 1.0, edge=INK if ends else RULE, name="link"
    )
    if last:
        sheet.box(LEFT, y, 0.1, high, face=INK, edge=None)
    for i, text in enumerate(lines):
        sheet.text(LEFT + 0.22, y + 0.24 + 0.19 * i, text, bold=ends, color=ink)
    odometer = units.text_in_system(f"{miles:,.0f} mi", system)
    sheet.text(LEFT - 0.3, y + 0.24, odometer, size=SMALL, bold=True, ha="right", name="odometer")
    sheet.disc(LEFT - 0.14, y + 0.19, 0.05, face=INK, edge=None)


def _arrow(sheet: DrawingSheet, y: float, miles: float, system: str) -> None:
    """The way to the next box, and how many miles it took."""
    x, end = LEFT + 0.4, y + ARROW
    sheet.line([(x, y), (x, end - 0.05)], width=BOLD)
    sheet.shape([(x - 0.08, end - 0.12), (x + 0.08, end - 0.12), (x, end)], face=INK, edge=None)
    words = units.text_in_system(f"{miles:,.0f} mi", system)
    sheet.text(x + 0.22, y + 0.22, f"{words} on" if miles >= 1 else "at once", size=SMALL, color=GRAPHITE)
