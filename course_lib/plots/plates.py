"""Clutch packs and bands as they come apart: lining, steels, seal, and the clearance left.

Axial lengths of a pack are to one scale, so that clearance is seen and not only said.
"""

from __future__ import annotations

import textwrap

import numpy as np

from course_lib.faults.parts import out_of_order
from course_lib.plots.drawing import BOLD, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL_WASH, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    FOLD_HIGH,
    FOLD_LETTERS,
    fold,
    in_sentences,
    reading_in_words,
    verdict_color,
)
from course_lib.shop.display import finding_in_system, reading_in_system
from course_lib.shop.findings import Finding, Look, Reading

LEFT_OF_LINING = (1.0, 0.55, 0.25, 0.0)  # share of a new lining that is drawn for each grade of "lining"
STEEL, CORE, LINING = (
    0.070,
    0.030,
    0.024,
)  # in. of the vehicle: a steel, the core of a lined plate, one new lining
PAPER_PER_INCH = 2.9  # in. of paper
PLATES = 3  # lined plates that stand for all
HIGH = 0.95  # in. of paper, of a plate
SPOTS = (0, 3, 5)  # a ring cut through, for each grade of "spots"
PER_ROW, WORDS_AT, LINE_HIGH = 2, 2.27, 0.19  # in. of paper: where the words of a cell begin
LETTERS = 46
CONE = 0.035  # in. of paper, how far a coned steel leans
SEED = 3  # of ragged edges, which mean nothing
SEEN = ("charred", "lining", "steel", "spots", "soaked", "rubber", "servo", "swollen", "drum", "ball_seat")
NOT_SEEN = -1  # grade of a lining nobody has looked at
# Face and hatching of a lining for each grade of "charred", the last for one that nobody has looked at.
LININGS = ((PAPER, "..."), (PAPER, "..."), (TINT, "/////"), (INK, None), (INK, None), (PAPER, None))


# ---------------------------------------------------------------------- one element
def _words(looks: dict[str, Look], stem: str) -> str:
    """What was seen of one element, as it is said."""
    told = []
    for name in SEEN:
        look = looks.get(f"{name}_{stem}")
        if look and (look.grade or name in ("charred", "lining", "steel", "rubber")):
            told.append("servo " * (name == "servo") + look.text.rpartition(": ")[2])
    return ", ".join(told)


def _grade(looks: dict[str, Look], name: str, stem: str) -> int:
    look = looks.get(f"{name}_{stem}")
    return look.grade if look else 0


def _charred(looks: dict[str, Look], stem: str) -> int:
    return _grade(looks, "charred", stem) if looks else NOT_SEEN


def _lining(sheet: DrawingSheet, x: float, y: float, thick: float, charred: int, name: str) -> None:
    """One lining face seen from its edge: new is dotted paper, burnt is black, ragged, and at last gone in places."""
    if thick < 0.004:
        return
    rng = np.random.default_rng(SEED)
    pieces = {4: ((0.0, 0.3), (0.62, 0.8))}.get(charred, ((0.0, 1.0),))
    for start, end in pieces:
        down = np.linspace(start, end, 14) * HIGH
        ragged = rng.uniform(-0.35, 0.1, 14) * thick * (charred >= 3)
        edge = [(x + thick + r, y + d) for r, d in zip(ragged, down, strict=True)]
        outline = [(x, y + down[0]), *edge, (x, y + down[-1])]
        face, hatch = LININGS[charred]
        sheet.shape(outline, face=face, width=0.6, hatch=hatch, name=name, zorder=3)
    if charred == 1:
        for end in (0.0, HIGH - 0.12):
            sheet.box(x, y + end, thick, 0.12, face=INK, edge=None, zorder=4)


def _steel(sheet: DrawingSheet, x: float, y: float, grade: int, spots: int) -> None:
    """A steel seen from its edge: patches when blue, leaning when coned, with the spots of a ring."""
    thick, lean = STEEL * PAPER_PER_INCH, CONE * (grade == 3)
    corners = [
        (x + lean, y - 0.12),
        (x + lean + thick, y - 0.12),
        (x + thick - lean, y + HIGH - 0.05),
        (x - lean, y + HIGH - 0.05),
    ]
    sheet.shape(corners, face=STEEL_WASH if grade < 2 else TINT, width=LINE, name="steel", zorder=2)
    rows = {2: (0.2, 0.45, 0.7), 3: (0.1, 0.3, 0.5, 0.7, 0.9)}.get(grade, ())
    for share in rows:
        sheet.box(x + 0.03, y + share * HIGH - 0.06, thick - 0.06, 0.1, face=RULE, edge=None, zorder=3)
    for share in np.linspace(0.15, 0.8, SPOTS[spots]):
        sheet.disc(x + thick / 2, y + share * HIGH, 0.035, face=INK, edge=None, name="spot", zorder=4)


def _clutch(
    sheet: DrawingSheet, x: float, y: float, looks: dict[str, Look], stem: str, clearance: float | None
) -> None:
    """A pack cut along the shaft; clearance in. of the vehicle, None where it was not measured."""
    steel, core, new = (PAPER_PER_INCH * inches for inches in (STEEL, CORE, LINING))
    charred, worn = _charred(looks, stem), LEFT_OF_LINING[_grade(looks, "lining", stem)]
    whole = (PLATES + 1) * steel + PLATES * (core + 2 * new) + 0.25
    gap = PAPER_PER_INCH * (clearance if clearance is not None else 0.05)
    room = max(whole + PAPER_PER_INCH * 0.22, whole + gap)
    sheet.box(x - 0.32, y - 0.28, room + 0.72, 0.14, face=PAPER, hatch="////", width=LINE, name="drum")
    sheet.box(x - 0.32, y - 0.28, 0.12, HIGH + 0.5, face=PAPER, hatch="////", width=LINE)
    sheet.box(x - 0.12, y + HIGH + 0.1, room + 0.3, 0.12, face=PAPER, hatch="\\\\\\\\", width=LINE)
    coned = CONE * (_grade(looks, "steel", stem) == 3)
    sheet.box(x - 0.16 - coned, y + 0.02, 0.14 - coned / 2, HIGH * 0.85, face=TINT, width=LINE, name="piston")
    at = x
    for i in range(PLATES + 1):
        _steel(sheet, at, y, _grade(looks, "steel", stem), _grade(looks, "spots", stem))
        at += steel
        if i < PLATES:
            _lining(sheet, at + new * (1 - worn), y, new * worn, charred, "lining")
            sheet.box(at + new, y, core, HIGH + 0.1, face=PAPER, width=1.0, zorder=2)
            _lining(sheet, at + new + core, y, new * worn, charred, "lining")
            at += core + 2 * new
    sheet.box(at + gap, y - 0.14, 0.2, HIGH + 0.1, face=TINT, width=LINE, name="end plate")
    if clearance is not None:
        ends = [[(end, y + HIGH * 0.8), (end, y + HIGH + 0.38)] for end in (at, at + gap)]
        sheet.lines(ends, name="gap")
        sheet.line([(at, y + HIGH + 0.32), (at + gap, y + HIGH + 0.32)], width=BOLD, name="clearance")


def _band(sheet: DrawingSheet, x: float, y: float, looks: dict[str, Look], stem: str) -> None:
    """A band round its drum, seen along the shaft: anchor on the left, servo rod on the right."""
    cx, cy, radius = x + 1.25, y + 0.42, 0.52
    worn, charred = LEFT_OF_LINING[_grade(looks, "lining", stem)], _charred(looks, stem)
    sheet.disc(cx, cy, radius - 0.1, face=STEEL_WASH, width=LINE)
    face, hatch = LININGS[charred]
    starts = ((120.0, 205.0), (250.0, 330.0), (370.0, 420.0)) if charred == 4 else ((120.0, 420.0),)
    for start, end in starts:
        if worn:
            sheet.sector(
                (cx, cy),
                radius,
                (start, end),
                deep=0.085 * worn,
                face=face,
                edge=INK,
                width=0.6,
                hatch=hatch,
                name="lining",
            )
    sheet.sector((cx, cy), radius + 0.06, (118.0, 422.0), deep=0.06, face=PAPER, edge=INK, width=LINE)
    for side in (-1, 1):
        sheet.box(cx + side * 0.26 - 0.06, cy + radius - 0.02, 0.12, 0.24, face=TINT, width=LINE)
    sheet.box(cx + 0.32, cy + radius + 0.05, 0.75, 0.1, face=PAPER, width=LINE)
    sheet.box(cx - 0.75, cy + radius + 0.05, 0.43, 0.1, face=PAPER, width=LINE)
    _servo(sheet, cx + 1.07, cy + radius + 0.1, _grade(looks, "servo", stem))
    sheet.text(cx + 1.28, cy + radius + 0.15, "servo", size=SMALL, color=GRAPHITE)
    sheet.text(cx - 0.8, cy + radius + 0.15, "screw", size=SMALL, color=GRAPHITE, ha="right")


def _servo(sheet: DrawingSheet, x: float, y: float, torn: int) -> None:
    """The piston of a servo at the end of its rod, with its seal above and below: nicked it has a gap, torn a flap hangs off."""
    sheet.box(x, y - 0.17, 0.13, 0.34, face=TINT, width=LINE, name="servo piston")
    for side in (-1, 1):
        edge = y + side * 0.17
        if torn and side > 0:
            sheet.box(x - 0.02, edge, 0.05, 0.06, face=INK, edge=None, name="seal torn")
            if torn > 1:
                flap = [(x + 0.09, edge), (x + 0.14, edge), (x + 0.2, edge + 0.13), (x + 0.15, edge + 0.13)]
                sheet.shape(flap, face=INK, edge=None, name="seal torn")
        else:
            sheet.box(x - 0.02, edge - 0.06 * (side < 0), 0.17, 0.06, face=INK, edge=None, name="seal")


# ---------------------------------------------------------------------- all of a unit
def packs(*findings: Finding, verdict: bool, system: str = "workshop") -> Picture:
    """Every pack and band: as it looked when it came apart, and its clearance where that was measured.

    findings: one with looks at linings, one with clearances, or both together. verdict: whether the picture may say what the
    readings mean; what is damaged or outside spec then stands alone, and the rest is listed. Raises ValueError where neither
    is among them.
    """
    looks = {look.key: look for finding in findings for look in finding_in_system(finding, system).looks}
    measured = {r.key: r for finding in findings for r in finding.readings}
    stems = [key.removeprefix("lining_") for key in looks if key.startswith("lining_")]
    stems = stems or [
        key.split("_", 1)[1].rpartition("_")[0]
        for key in measured
        if key.startswith(("clearance_", "turns_"))
    ]
    if not stems:
        raise ValueError("findings must hold looks at linings or clearances, got none. Take the unit apart.")
    reading_of = {
        stem: measured.get(f"clearance_{stem}_in") or measured.get(f"turns_{stem}_turns") for stem in stems
    }
    off = [stem for stem in stems if _off(stem, looks, reading_of[stem])]
    drawn = off if verdict and off else stems
    lines = _listed([stem for stem in stems if stem not in drawn], looks, reading_of, system)
    rows = -(-len(drawn) // PER_ROW)
    side = "cut along the shaft; three plates stand for all" if looks else "three plates stand for all"
    high = WORDS_AT + LINE_HIGH * (3 * bool(looks) + 3 * bool(measured)) + 0.1
    bottom = 0.7 + high * rows
    sheet = DrawingSheet(
        "Clutch packs and bands", side, bottom + (FOLD_HIGH * len(lines) + 0.15) * bool(lines)
    )
    told = []
    for i, stem in enumerate(drawn):
        place = (0.2 + 3.9 * (i % PER_ROW), 0.62 + high * (i // PER_ROW))
        told.append(_cell(sheet, place, stem, looks, reading_of[stem], verdict, system))
    fold(sheet, lines, bottom + 0.1)
    return sheet.picture(in_sentences([*told, " ".join(lines)] if lines else told))


def _off(stem: str, looks: dict[str, Look], reading: Reading | None) -> bool:
    """Whether an element is seen damaged, or measured outside its spec."""
    seen = [looks[f"{name}_{stem}"] for name in SEEN if f"{name}_{stem}" in looks]
    return any(map(out_of_order, seen)) or bool(reading and reading.deviation)


def _listed(
    stems: list[str], looks: dict[str, Look], reading_of: dict[str, Reading | None], system: str
) -> list[str]:
    """Elements that are in order, in as few lines as they need."""
    told = []
    for stem in stems:
        reading = reading_of[stem]
        words = [_words(looks, stem)] if looks else []
        if reading is not None:
            shown = reading_in_system(reading, system)
            words.append(f"{shown.found_text}; spec {shown.spec_text}; {shown.verdict}")
        told.append(f"{_called(stem, looks, reading)}: {', '.join(words)}")
    text = "; ".join(told)
    return textwrap.wrap(text[:1].upper() + text[1:], FOLD_LETTERS)


def _called(stem: str, looks: dict[str, Look], reading: Reading | None) -> str:
    """How people call an element: as its looks or its reading have it."""
    if f"drum_{stem}" in looks:
        return looks[f"drum_{stem}"].text.partition(": ")[0]
    return reading.label.partition(", ")[2] if reading else stem.replace("_", " ")


def _cell(sheet: DrawingSheet, place: tuple[float, float], stem: str, looks: dict[str, Look],
          reading: Reading | None, verdict: bool, system: str) -> str:  # fmt: skip
    """One element with its words; what it says, for those who cannot see it."""
    x, y = place
    is_band = f"steel_{stem}" not in looks if looks else bool(reading and reading.unit == "turns")
    name = _called(stem, looks, reading)
    sheet.text(x, y + 0.28, name[:1].upper() + name[1:], bold=True)
    if is_band:
        _band(sheet, x, y + 0.62, looks, stem)
    else:
        clearance = reading.value if reading and reading.unit == "in." else None
        _clutch(sheet, x + 0.4, y + 0.75, looks, stem, clearance)
    line = y + WORDS_AT
    said_of = []
    if reading is not None:
        said_of.append(_measured(sheet, x, line, reading_in_system(reading, system), verdict))
        line += LINE_HIGH * (3 if verdict else 2)
    words = _words(looks, stem)
    for text in textwrap.wrap(words, LETTERS)[:3]:
        sheet.text(x, line, text, size=SMALL)
        line += LINE_HIGH
    return f"{name[:1].upper()}{name[1:]}: {'; '.join(said_of + [words] * bool(words))}"


def _measured(sheet: DrawingSheet, x: float, y: float, shown: Reading, verdict: bool) -> str:
    """The clearance in numbers."""
    what = shown.label.partition(", ")[0]
    sheet.text(x, y, f"{what.lower()} {shown.found_text}", size=SMALL, bold=True, name="value")
    sheet.text(x, y + LINE_HIGH, f"spec {shown.spec_text}", size=SMALL, color=GRAPHITE)
    if verdict and shown.value is not None and shown.spec is not None:
        color = verdict_color(shown, verdict)
        sheet.text(
            x,
            y + 2 * LINE_HIGH,
            shown.result_text,
            size=SMALL,
            bold=color == OCHRE,
            color=color,
            name="verdict",
        )
    return reading_in_words(shown, verdict, what=what)
