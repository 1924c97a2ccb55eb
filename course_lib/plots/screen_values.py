"""What a screen shows, value by value: name, value, unit, spec; what is out of its spec first."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from course_lib.faults.parts import out_of_order
from course_lib.plots.drawing import SMALL, DrawingSheet
from course_lib.plots.palette import INK, OCHRE, PAPER
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import (
    LINE_HIGH,
    NAME,
    VALUE,
    across,
    heads,
    in_order,
    lines_high,
    rule,
    told,
)
from course_lib.plots.reading_marks import conditions, in_sentences
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import OUTSIDE, Finding, Look

LOOK_LETTERS, NAME_LETTERS = 42, 33


def data_table(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """Every reading of a finding in a line of its own, and what the screen says in words.

    verdict: whether the picture may say what is out of its spec; it then stands first, above a rule. Raises ValueError for a
    finding with nothing to show.
    """
    shown = finding_in_system(finding, system)
    if not shown.readings and not shown.looks:
        raise ValueError(f"finding must hold values, got {finding.inspection}. Read the data.")
    readings = in_order(shown.readings, verdict)
    looks = sorted(shown.looks, key=lambda look: not out_of_order(look)) if verdict else list(shown.looks)
    off = sum(r.verdict in OUTSIDE for r in readings) * verdict
    extra = sum(LINE_HIGH * (_lines(look) - 1) + 0.26 for look in looks)
    sheet = DrawingSheet(
        shown.title, conditions(finding, system), 1.05 + lines_high(readings) + extra + 0.08 * bool(off)
    )
    heads(sheet, 0.85, verdict)
    y = 1.12
    for k, reading in enumerate(readings):
        if k == off and off:
            rule(sheet, y - 0.13)
            y += 0.08
        y = across(sheet, reading, y, verdict)
    _said(sheet, looks, y, verdict)
    return sheet.picture(
        in_sentences([shown.title, *told(readings, verdict), *(look.text for look in looks)])
    )


def _parts(look: Look) -> tuple[str, str]:
    """A look as what it is of, and what it is."""
    name, colon, words = look.text.partition(": ")
    return (name, words) if colon else ("", look.text)


def _lines(look: Look) -> int:
    name, words = _parts(look)
    return max(len(textwrap.wrap(name, NAME_LETTERS)), len(textwrap.wrap(words, LOOK_LETTERS)), 1)


def _said(sheet: DrawingSheet, looks: Sequence[Look], y: float, verdict: bool) -> None:
    """What the screen says in words."""
    for look in looks:
        off = verdict and out_of_order(look)
        name, words = _parts(look)
        if off:
            sheet.shape(
                [(0.24, y - 0.11), (0.24, y + 0.01), (0.37, y - 0.05)], face=OCHRE, edge=None, name="mark"
            )
        else:
            sheet.disc(0.3, y - 0.05, 0.045, face=PAPER, edge=INK, width=1.0, name="mark")
        for k, line in enumerate(textwrap.wrap(name[:1].upper() + name[1:], NAME_LETTERS)):
            sheet.text(NAME, y + LINE_HIGH * k, line, size=SMALL, bold=off)
        for k, line in enumerate(textwrap.wrap(words, LOOK_LETTERS)):
            sheet.text(VALUE - 0.55, y + LINE_HIGH * k, line, size=SMALL, bold=True, name="value")
        y += LINE_HIGH * (_lines(look) - 1) + 0.26
