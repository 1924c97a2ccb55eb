"""The oil pan seen from above: what lies in it by kind, the magnet, and the filter beside it.

Each material has its own shape. The key lists all of them with their amounts, also those that are not there: absence tells.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable

import numpy as np

from course_lib.plots.drawing import BOLD, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import FLOOR, GRAPHITE, INK, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import (
    in_sentences,
    parted,
    reading_in_words,
    verdict_color,
)
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import Finding, Look, Reading

LEFT, UPPER, WIDE, HIGH, RIM = 0.22, 0.72, 4.6, 2.95, 0.26  # in. of paper
MAGNET = (1.15, 2.75, 0.27)  # middle and radius
HAIRS = (0.0, 0.05, 0.08, 0.12, 0.16)  # length for each grade of "magnet"
SHUT = (0, 3, 6, 11)  # of the filter's eleven pleats, for each grade of "filter"
DOT = 0.018  # in., a grain of powder
APART = 0.14  # in., least distance of two pieces
WORDS_AT, LINE_HIGH, MOST_LETTERS = 4.02, 0.19, 60  # in. of paper, and letters in a line
READING_HIGH = 2 * LINE_HIGH + 0.06  # in. of paper: what was measured, and under it the number
SEED = 11  # of the pieces' places, which mean nothing


# ---------------------------------------------------------------------- shapes of the materials
def _dot(sheet: DrawingSheet, x: float, y: float, _turn: float, name: str) -> None:
    sheet.dots([(x - 0.05, y + 0.02), (x, y - 0.03), (x + 0.02, y + 0.04), (x + 0.07, y)], DOT, name=name)


def _fiber(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    bend = np.linspace(-0.9, 0.9, 7)
    points = [_turned(x, y, turn, 0.09 * np.sin(b), 0.12 * (np.cos(b) - 0.8)) for b in bend]
    sheet.line(points, width=LINE, name=name)


def _flake(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    angles = np.arange(5) * 2 * np.pi / 5
    sizes = (0.075, 0.06, 0.08, 0.055, 0.07)
    points = [_turned(x, y, turn, r * np.cos(a), r * np.sin(a)) for a, r in zip(angles, sizes, strict=True)]
    sheet.shape(points, face=TINT, width=LINE, name=name)


def _sliver(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    points = [_turned(x, y, turn, *at) for at in ((-0.11, 0.0), (0.0, 0.022), (0.11, 0.0), (0.0, -0.022))]
    sheet.shape(points, face=STEEL, edge=STEEL, width=0.5, name=name)


def _diamond(sheet: DrawingSheet, x: float, y: float, _turn: float, name: str) -> None:
    points = [_turned(x, y, 0.0, *at) for at in ((-0.042, 0.0), (0.0, 0.042), (0.042, 0.0), (0.0, -0.042))]
    sheet.shape(points, face=STEEL, edge=None, name=name)


def _square(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    points = [
        _turned(x, y, turn, *at)
        for at in ((-0.035, -0.035), (0.035, -0.035), (0.035, 0.035), (-0.035, 0.035))
    ]
    sheet.shape(points, face=PAPER, edge=STEEL, width=1.1, name=name)


def _half_disc(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    start = np.degrees(turn)
    sheet.sector((x, y), 0.06, (start, start + 180.0), face=INK, name=name)


def _soft(sheet: DrawingSheet, x: float, y: float, _turn: float, name: str) -> None:
    sheet.disc(x, y, 0.05, face=PAPER, edge=INK, width=LINE, name=name)


def _crust(sheet: DrawingSheet, x: float, y: float, turn: float, name: str) -> None:
    points = [_turned(x, y, turn, *at) for at in ((-0.07, 0.04), (0.0, -0.05), (0.07, 0.04))]
    sheet.shape(points, face=PAPER, width=LINE, name=name)


def _silt(sheet: DrawingSheet, x: float, y: float, _turn: float, name: str) -> None:
    sheet.lines([[(x - 0.07, y + dy), (x + 0.07, y + dy)] for dy in (-0.02, 0.02)], width=1.0, name=name)


def _rust(sheet: DrawingSheet, x: float, y: float, _turn: float, name: str) -> None:
    sheet.lines(
        [[(x - 0.05, y - 0.05), (x + 0.05, y + 0.05)], [(x - 0.05, y + 0.05), (x + 0.05, y - 0.05)]],
        width=1.2,
        name=name,
    )


def _turned(x: float, y: float, turn: float, right: float, down: float) -> tuple[float, float]:
    cos, sin = np.cos(turn), np.sin(turn)
    return float(x + right * cos - down * sin), float(y + right * sin + down * cos)


Draw = Callable[[DrawingSheet, float, float, float, str], None]
# look -> name in the key, shape, pieces for each grade, whether it lies in the corners
MATERIALS: dict[str, tuple[str, Draw, tuple[int, ...], bool]] = {
    "powder": ("black lining powder", _dot, (0, 12, 30, 70, 120, 220), True),
    "fibers": ("coarse black fibers", _fiber, (0, 2, 5, 9, 15, 26), False),
    "flakes": ("lining flakes", _flake, (0, 5, 12), False),
    "steel": ("steel slivers", _sliver, (0, 2, 4, 7, 12, 20), False),
    "bronze": ("bronze glitter", _diamond, (0, 3, 6, 10, 18, 30), False),
    "aluminum": ("aluminum sparkle", _square, (0, 3, 6, 10, 18, 30), False),
    "rubber_brittle": ("hard rubber crumbs", _half_disc, (0, 4, 9), False),
    "rubber_soft": ("soft rubber crumbs", _soft, (0, 4, 9), False),
    "silt": ("fine silt", _silt, (0, 7, 22), True),
    "rust": ("rust", _rust, (0, 5, 14), False),
    "old_dirt": ("old brown dirt", _crust, (0, 5, 12), True),
}


def pieces(look: Look) -> int:
    """How many pieces stand for a look; more for a higher grade, none for the least."""
    return MATERIALS[look.key][2][look.grade]


def oil_pan(finding: Finding, *, verdict: bool, system: str = "workshop") -> Picture:
    """The pan before anything is wiped. Drawn from the grades of the looks, as its caption is.

    verdict: whether the picture may say what the drained quantity means. Raises ValueError for a finding that is not of a pan.
    """
    shown = finding_in_system(finding, system)
    looks = {look.key: look for look in shown.looks}
    if missing := {"powder", "magnet", "filter"} - looks.keys():
        raise ValueError(
            f"finding must hold looks into a pan, got none of {sorted(missing)}. Take the pan off."
        )
    lying = [looks[key] for key in MATERIALS if key in looks]
    rows = _rows(looks, lying)
    bottom = WORDS_AT + sum(_high(lines) for _, lines in rows) + READING_HIGH * len(shown.readings)
    sheet = DrawingSheet("Oil pan, seen from above", "before anything is wiped", max(bottom, 4.75))
    _vessel(sheet)
    _scatter(sheet, lying)
    _magnet(sheet, looks["magnet"])
    _key(sheet, lying)
    _filter(sheet, looks["filter"])
    _write(sheet, rows, shown, verdict)
    return sheet.picture(_alt(shown, looks, lying, verdict))


def _amount(look: Look) -> str:
    """How much there is, in the words of the look."""
    return look.text.partition(": ")[2] or look.text if look.grade else "none"


def _alt(shown: Finding, looks: dict[str, Look], lying: list[Look], verdict: bool) -> str:
    there = [f"{MATERIALS[look.key][0]}, {_amount(look)}" for look in lying if look.grade]
    absent = [MATERIALS[look.key][0] for look in lying if not look.grade]
    told = [f"Oil pan before wiping: {'; '.join(there) or 'nothing lies in it'}"]
    if absent:
        told.append(f"No {', '.join(absent)}")
    told += [_capital(looks[key].text) for key in ("magnet", "filter")]
    told.append("Fluid: " + ", ".join(looks[key].text for key in ("color", "smell") if key in looks))
    told += [reading_in_words(reading, verdict) for reading in _ordered(shown, verdict)]
    return in_sentences(told)


def _ordered(shown: Finding, verdict: bool) -> list[Reading]:
    """What was measured at the pan, what is out of order first."""
    drawn, listed = parted(shown.readings, verdict)
    return [*drawn, *listed]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# ---------------------------------------------------------------------- the drawing
def _vessel(sheet: DrawingSheet) -> None:
    """Flange with its bolts, and the floor."""
    sheet.shape(_rounded(LEFT, UPPER, WIDE, HIGH, 0.34), face=PAPER, width=BOLD)
    sheet.shape(_rounded(LEFT + RIM, UPPER + RIM, WIDE - 2 * RIM, HIGH - 2 * RIM, 0.2), face=FLOOR)
    for x in np.linspace(LEFT + 0.5, LEFT + WIDE - 0.5, 5):
        for y in (UPPER + RIM / 2, UPPER + HIGH - RIM / 2):
            sheet.disc(x, y, 0.05, face=PAPER, width=1.0)
    for y in np.linspace(UPPER + 0.7, UPPER + HIGH - 0.7, 3):
        for x in (LEFT + RIM / 2, LEFT + WIDE - RIM / 2):
            sheet.disc(x, y, 0.05, face=PAPER, width=1.0)


def _rounded(x: float, y: float, wide: float, high: float, radius: float) -> list[tuple[float, float]]:
    turns = np.radians(np.arange(0, 91, 10))
    corners = ((x + wide - radius, y + high - radius, 0), (x + radius, y + high - radius, 90), (x + radius, y + radius, 180),
               (x + wide - radius, y + radius, 270))  # fmt: skip
    return [
        (
            cx + radius * float(np.cos(t + np.radians(start))),
            cy + radius * float(np.sin(t + np.radians(start))),
        )
        for cx, cy, start in corners
        for t in turns
    ]


def _scatter(sheet: DrawingSheet, lying: list[Look]) -> None:
    """The pieces of every look, apart from each other and from the magnet; powder and dirt lie toward the corners."""
    rng, taken = np.random.default_rng(SEED), [MAGNET[:2]]
    for look in lying:
        _, draw, _, corners = MATERIALS[look.key]
        if draw is _dot:
            powder = [_place(rng, taken[:1], corners) for _ in range(pieces(look))]
            if powder:
                sheet.dots(powder, DOT, name=f"piece {look.key}")
            continue
        for _ in range(pieces(look)):
            x, y = _place(rng, taken, corners)
            draw(sheet, x, y, float(rng.uniform(0, np.pi)), f"piece {look.key}")
            taken.append((x, y))


def _place(rng: np.random.Generator, taken: list[tuple[float, float]], corners: bool) -> tuple[float, float]:
    """A free place on the floor; after some tries any place off the magnet will do."""
    low, high = (
        np.array([LEFT + RIM + 0.13, UPPER + RIM + 0.13]),
        np.array([LEFT + WIDE - RIM - 0.13, UPPER + HIGH - RIM - 0.13]),
    )
    place = high
    for _ in range(30):
        share = rng.beta(0.35, 0.35, 2) if corners else rng.uniform(0.0, 1.0, 2)
        at = low + share * (high - low)
        gaps = np.hypot(*(np.array(taken) - at).T)
        if gaps[0] < MAGNET[2] + HAIRS[-1] + 0.08:
            continue
        place = at
        if (gaps[1:] > APART).all():
            break
    return float(place[0]), float(place[1])


def _magnet(sheet: DrawingSheet, look: Look) -> None:
    """The magnet with what hangs on it: hairs, the longer the more there is."""
    x, y, radius = MAGNET
    long = HAIRS[look.grade]
    turns = np.linspace(0, 2 * np.pi, 12 + 10 * look.grade, endpoint=False)
    if long:
        hairs = [[(x + r * np.cos(t), y + r * np.sin(t)) for r in (radius, radius + long)] for t in turns]
        sheet.lines(hairs, width=0.8 + 0.25 * look.grade, color=STEEL, name="hairs")
    sheet.disc(x, y, radius, face=TINT, width=BOLD)
    sheet.disc(x, y, 0.1, face=PAPER)
    label = {"facecolor": FLOOR, "edgecolor": "none", "pad": 1.5}
    sheet.text(x + radius + 0.22, y + 0.3, "magnet", size=SMALL, bbox=label, zorder=5)


def _key(sheet: DrawingSheet, lying: list[Look]) -> None:
    """Every material with its shape, its name and how much there is."""
    step = HIGH / len(lying)
    for i, look in enumerate(lying):
        name, draw, _, _ = MATERIALS[look.key]
        y = UPPER + step * (i + 0.5)
        draw(sheet, 5.13, y, 0.7, "key")
        there = bool(look.grade)
        sheet.text(5.35, y + 0.05, name, size=SMALL, bold=there, color=INK if there else GRAPHITE)
        if not there:
            sheet.text(7.8, y + 0.05, "none", size=SMALL, color=GRAPHITE, ha="right")
        sheet.line([(4.98, y + step / 2), (7.8, y + step / 2)], width=0.5, color=RULE)


def _filter(sheet: DrawingSheet, look: Look) -> None:
    """The filter laid beside the pan: dark pleats are closed."""
    x, y, wide, high = LEFT, 3.86, 1.5, 0.8
    sheet.shape(_rounded(x, y, wide, high, 0.1), face=PAPER, width=LINE)
    for i in range(11):
        shut = i < SHUT[look.grade]
        at = x + 0.13 + i * 0.105
        sheet.line([(at, y + 0.09), (at, y + high - 0.09)], width=5.0 if shut else HAIR, color=INK if shut else RULE,
                   name="pleat shut" if shut else "pleat open")  # fmt: skip
    sheet.disc(x + wide - 0.2, y + high / 2, 0.14, face=PAPER, width=LINE)
    sheet.disc(x + wide - 0.2, y + high / 2, 0.08, face=INK, edge=None)


Row = tuple[str, list[str]]  # its name, and its words in lines


def _rows(looks: dict[str, Look], lying: list[Look]) -> list[Row]:
    """What is written under the pan: what lies there, the magnet, the filter and the fluid."""
    there = "; ".join(f"{MATERIALS[look.key][0]}, {_amount(look)}" for look in lying if look.grade)
    fluid = ", ".join(looks[key].text for key in ("color", "smell") if key in looks)
    rows = [("in the pan", there or "nothing")]
    rows += [(key, looks[key].text.partition(": ")[2]) for key in ("magnet", "filter")]
    rows.append(("fluid", fluid))
    return [(name, textwrap.wrap(words, MOST_LETTERS)) for name, words in rows]


def _write(sheet: DrawingSheet, rows: list[Row], shown: Finding, verdict: bool) -> None:
    y = WORDS_AT
    for name, lines in rows:
        sheet.text(1.95, y, name, size=SMALL, color=GRAPHITE)
        for i, words in enumerate(lines):
            sheet.text(2.85, y + LINE_HIGH * i, words, size=SMALL, bold=True, name=name)
        y += _high(lines)
    for reading in _ordered(shown, verdict):
        color = verdict_color(reading, verdict)
        sheet.text(1.95, y, reading.label, size=SMALL, color=GRAPHITE)
        if verdict:
            sheet.text(7.8, y, reading.result_text, size=SMALL, bold=color != INK, color=color, ha="right",
                       name="verdict")  # fmt: skip
        measured = f"{reading.found_text}, spec {reading.spec_text}" if reading.spec else reading.found_text
        sheet.text(2.85, y + LINE_HIGH, measured, size=SMALL, bold=True, name="measured")
        y += READING_HIGH


def _high(lines: list[str]) -> float:
    return LINE_HIGH * len(lines) + 0.04
