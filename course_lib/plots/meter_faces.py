"""A meter and its two leads, drawn at the two points of the circuit between which it measures."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace

from course_lib.base import units
from course_lib.base.guards import between, one_of
from course_lib.plots.circuit_symbols import CircuitStrip, draw_piece
from course_lib.plots.drawing import BIG, BOLD, HEAVY, LEAD, LINE, SMALL, TEXT, TITLE, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH
from course_lib.plots.reading_marks import in_sentences, reading_in_words, verdict_color
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Reading

SETTINGS = {
    "volts": "volts, direct",
    "ohms": "ohms",
    "amperes": "amperes, direct",
    "millivolts": "millivolts, direct",
}
SIGNS = {"ohm": "\u03a9"}  # units as a meter shows them
CHAIN, FROM, TO = 2.25, 3.15, 7.75  # in. of paper: the circuit, and how far it runs
TOP, BOTTOM = 0.95, 3.6  # where the leads run
BOX = (0.3, 0.85, 2.1, 2.55)  # of the meter: left, upper edge, width, height
LETTER = 0.086  # in., a letter of SMALL
TITLE_POINTS = 850  # letters times size that fit over the head rule
FACE_LETTERS = 22
SHORT = 5  # letters of the display that may be large


@dataclass(frozen=True, slots=True)
class CircuitPiece:
    """A piece of a circuit in a row: what it is called, and its kind of symbol."""

    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class MeterReading:
    """What a meter shows, how it is set, and where its leads are.

    value of the reading None: the meter shows no way for current. pieces: the circuit in a row from supply to ground; points:
    the names of the places before, between and after them, one more than pieces; red, black: which of them the leads touch.
    state: what is on, off or unplugged meanwhile.
    """

    reading: Reading
    setting: str
    pieces: tuple[CircuitPiece, ...]
    points: tuple[str, ...]
    red: int
    black: int
    state: str

    def __post_init__(self) -> None:
        one_of("setting", self.setting, SETTINGS)
        if len(self.points) != len(self.pieces) + 1:
            raise ValueError(
                f"points must be one more than pieces, got {len(self.points)} and {len(self.pieces)}. Name both ends of each."
            )
        for name, place in (("red", self.red), ("black", self.black)):
            between(name, place, 0, len(self.pieces), "Count the points from 0.")
        if self.red == self.black:
            raise ValueError(f"red and black must touch two points, got {self.red} for both. Move one lead.")

    @property
    def inside(self) -> range:
        """Which pieces lie between the leads."""
        return range(*sorted((self.red, self.black)))

    @property
    def shown(self) -> str:
        """What stands on the display."""
        return "OL" if self.reading.value is None else self.reading.show(self.reading.value)


def meter(one: MeterReading, *, verdict: bool, system: str = "workshop") -> Picture:
    """A meter with its number, and below its leads the stretch of the circuit that the number belongs to.

    verdict: whether the picture may say what the reading means; a stretch outside its spec is then drawn heavy.
    """
    reading = reading_in_system(one.reading, system)
    shown = replace(one, reading=reading, state=units.text_in_system(one.state, system))
    title, _, side = reading.label.partition(", ")
    title = title[:1].upper() + title[1:]
    apart = len(title) * TITLE + len(side) * TEXT < TITLE_POINTS  # else the rest of the name stands below
    said = _said(shown, "" if apart else side)
    sheet = DrawingSheet(title, side if apart else "", 3.95 + LINE_HIGH * len(said))
    _instrument(sheet, shown, verdict)
    nodes = _chain(sheet, shown, verdict)
    _leads(sheet, shown, nodes)
    for k, words in enumerate(said):
        sheet.text(0.3, 3.95 + LINE_HIGH * k, words, size=SMALL)
    return sheet.picture(_alt(shown, verdict))


def _said(meter: MeterReading, first: str) -> list[str]:
    leads = f"Red lead (+) on {meter.points[meter.red]}; black lead (\u2212) on {meter.points[meter.black]}"
    told = [words for words in (first, leads, meter.state) if words]
    return textwrap.wrap(in_sentences([words[:1].upper() + words[1:] for words in told]), 86)


def _instrument(sheet: DrawingSheet, meter: MeterReading, verdict: bool) -> None:
    """The meter: its display, what it is set to, spec and verdict, and two sockets on its right."""
    x, y, wide, high = BOX
    sheet.box(x, y, wide, high, face=PAPER, width=BOLD, name="meter")
    sheet.box(x + 0.12, y + 0.12, wide - 0.36, 0.85, face=PAPER, width=1.0)
    size = BIG - 8 if len(meter.shown) <= SHORT else LEAD
    sheet.text(x + wide - 0.72, y + 0.75, meter.shown, size=size, bold=True, ha="right", name="value")
    sheet.text(
        x + wide - 0.66,
        y + 0.75,
        SIGNS.get(meter.reading.unit, meter.reading.unit),
        size=LEAD,
        color=GRAPHITE,
    )
    place = y + 1.2
    for words, color in _beside(meter, verdict):
        for line in textwrap.wrap(words, FACE_LETTERS):
            sheet.text(x + 0.12, place, line, size=SMALL, bold=color != GRAPHITE, color=color, name="value")
            place += LINE_HIGH
        place += 0.04
    for mark, at in (("+", y + 0.25), ("\u2212", y + high - 0.25)):
        sheet.disc(x + wide, at, 0.11, face=PAPER, width=LINE)
        sheet.text(x + wide, at, mark, size=SMALL, bold=True, ha="center", va="center")


def _beside(meter: MeterReading, verdict: bool) -> list[tuple[str, str]]:
    """What stands under the display, each with its color."""
    reading = meter.reading
    told = [("set to " + SETTINGS[meter.setting], GRAPHITE)]
    if reading.value is None:
        told.append(("OL: no way for current", INK))
    if reading.spec is not None:
        told.append((f"spec {reading.spec_text}", GRAPHITE))
        if verdict and reading.value is not None:
            told.append((reading.result_text, verdict_color(reading, verdict)))
    return [*told, (reading.note, GRAPHITE)] if reading.note else told


def _chain(sheet: DrawingSheet, meter: MeterReading, verdict: bool) -> list[float]:
    """The circuit in a row; where its points lie on paper."""
    wide = (TO - FROM) / len(meter.pieces)
    nodes = [FROM + wide * k for k in range(len(meter.points))]
    off = verdict and (meter.reading.verdict in OUTSIDE or meter.reading.value is None)
    for k, piece in enumerate(meter.pieces):
        inside = k in meter.inside
        heavy = off and inside
        strip = CircuitStrip(sheet, (nodes[k], CHAIN), (nodes[k + 1], CHAIN), BOLD if heavy else LINE,
                             OCHRE if heavy else INK if inside else RULE)  # fmt: skip
        draw_piece(strip, piece.kind)
        lines = textwrap.wrap(piece.label, int((wide - 0.1) / LETTER))
        for i, words in enumerate(lines):
            y = CHAIN - 0.26 - LINE_HIGH * (len(lines) - 1 - i)
            sheet.text((nodes[k] + nodes[k + 1]) / 2, y, words, size=SMALL, ha="center",
                       color=INK if inside else GRAPHITE, bold=inside, name="piece")  # fmt: skip
    for x in nodes:
        sheet.disc(x, CHAIN, 0.035, face=INK, edge=None)
    _brace(sheet, nodes[meter.inside.start], nodes[meter.inside.stop], nodes[meter.black])
    return nodes


def _brace(sheet: DrawingSheet, left: float, right: float, black: float) -> None:
    """What lies between the leads; the words keep off the black one, which comes up through here."""
    y = CHAIN + 0.42
    sheet.line([(left, y - 0.1), (left, y), (right, y), (right, y - 0.1)], width=LINE)
    place, side = (right - 0.1, "right") if black == right else (left + 0.1, "left")
    sheet.text(place, y + 0.2, "measured across this", size=SMALL, ha=side)


def _leads(sheet: DrawingSheet, meter: MeterReading, nodes: list[float]) -> None:
    """Red, a double line, over the circuit and down; black, a whole one, under it and up: so they never cross."""
    x, y, wide, high = BOX
    out = x + wide + 0.35
    for at, level, socket, side, words in (
        (nodes[meter.red], TOP, y + 0.25, -1.0, "red (+)"),
        (nodes[meter.black], BOTTOM, y + high - 0.25, 1.0, "black (\u2212)"),
    ):
        way = [(out - 0.24, socket), (out, socket), (out, level), (at, level), (at, CHAIN + side * 0.2)]
        sheet.line(way, width=HEAVY, name="lead", zorder=4)
        if side < 0:
            sheet.line(way, width=HEAVY - 2 * LINE, color=PAPER, zorder=4.1)
        tip = [(at - 0.05, CHAIN + side * 0.28), (at + 0.05, CHAIN + side * 0.28), (at, CHAIN + side * 0.04)]
        sheet.shape(tip, face=PAPER if side < 0 else INK, zorder=5, name="tip")
        sheet.text(
            max((out + at) / 2, out + 0.4), level - 0.08, words, size=SMALL, ha="center", halo=True, zorder=6
        )


def _alt(meter: MeterReading, verdict: bool) -> str:
    names = ", ".join(meter.pieces[k].label for k in meter.inside)
    reading = meter.reading
    words = (
        reading_in_words(reading, verdict)
        if reading.value is not None
        else f"{reading.label}: OL, no way for current"
        + (f"; spec {reading.spec_text}" if reading.spec is not None else "")
    )
    leads = f"Meter set to {SETTINGS[meter.setting]}, red lead on {meter.points[meter.red]}, black on {meter.points[meter.black]}"
    return in_sentences([words, leads, f"Between them: {names}", meter.state])
