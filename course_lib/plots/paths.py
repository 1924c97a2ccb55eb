"""The way the power takes through a gear train: which members drive, hold, turn along or slip, range by range."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from course_lib.physics.gearset import CASE
from course_lib.plots.drawing import DASHED, HAIR, HEAVY, LEAD, LINE, SMALL, Dash, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.trains import NOTHING, Rung, SolvedRange, driving_gears, solve_range
from course_lib.vehicle.unit_spec import UnitSpec, load_unit

NAMES, SHORT_NAMES, SPEEDS = 1.4, 1.05, 0.6  # in. of paper, left and right of the rails
RAIL, HEAD, LABEL = 0.38, 1.0, 0.155  # in. between two rails, above the uppermost, and for a line of a label
NODE, BLOCK, LETTER = 0.09, 0.08, 0.09
LEAST_WIDE, MOST_WIDE = 2.2, 6.5  # pt, of a rail that carries something, and of the heaviest


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a ladder stands: its corner and width, and whether there is room for whole names."""

    left: float
    upper: float
    wide: float
    whole: bool

    @property
    def names(self) -> float:
        """How far the rungs stand from the left edge, for the names of the members."""
        return NAMES if self.whole else SHORT_NAMES

    def x(self, place: int, rungs: int) -> float:
        """Place of a rung."""
        start, end = self.left + self.names, self.left + self.wide - SPEEDS
        return start + (end - start) * place / (rungs - 1)


def power_path(unit: str, gear: str | None = None, slipping: tuple[str, ...] = (), *, verdict: bool) -> Picture:  # fmt: skip
    """The power path of one gear, or of every range that drives where none is named.

    slipping: ids of elements that should hold but slip. verdict: whether the picture may show that they do. Raises ValueError for
    an unknown unit, gear or element.
    """
    spec = load_unit(unit)
    slip = tuple(slipping) if verdict else ()
    gears = (gear,) if gear else driving_gears(spec)
    ranges = [solve_range(unit, each, _here(spec, each, slip, gear)) for each in gears]
    high = HEAD + RAIL * (len(spec.members) + 1) + (3 * LABEL if gear else 0.0)
    per_row = 1 if gear else 2
    rows = -(-len(ranges) // per_row)
    bottom = 0.55 + high * rows
    told = [] if gear else _initials_told(spec)
    side = "follow the thick lines from left to right"
    sheet = DrawingSheet(f"Power path, {spec.title}", side, bottom + 0.8 + 0.18 * len(told))
    for i, each in enumerate(ranges):
        wide = 7.6 / per_row - (0.15 if per_row > 1 else 0.0)
        frame = _Frame(0.2 + 3.9 * (i % per_row), 0.55 + high * (i // per_row), wide, per_row == 1)
        _ladder(sheet, frame, each)
    _legend(sheet, bottom, bool(slip), told)
    return sheet.picture(" ".join(_alt(each) for each in ranges))


def _here(spec: UnitSpec, each: str, slip: tuple[str, ...], asked: str | None) -> tuple[str, ...]:
    """The elements that slip in a gear: of all gears drawn, those that apply them; of one that was asked for, all."""
    return slip if asked else tuple(name for name in slip if name in spec.gears[each])


# ---------------------------------------------------------------------- words
def title(name: str) -> str:
    """A member or element as it is said."""
    return name.replace("_", " ")


def initials(label: str) -> str:
    """FC for the forward clutch."""
    return "".join(word[0] for word in label.replace("-", " ").split()).upper()


def _alt(each: SolvedRange) -> str:
    held = [f"{r.label} {abs(r.torque[r.members[0]]):.2f}" for r in each.rungs if r.state == "holds"]
    slips = [r.label for r in each.rungs if r.state == "slips"]
    opened = [r.label for r in each.rungs if r.state == "open"]
    turns = ", ".join(f"{title(name)} {_turns(speed)}" for name, speed in each.speeds.items())
    told = [
        f"{each.name}, {ratio_text(each.ratio)}: holding, as shares of the input torque: {', '.join(held) or 'nothing'}"
    ]
    told += [f"should hold but slips: {', '.join(slips)}"] if slips else []
    told.append(f"released: {', '.join(opened)}")
    told.append(f"turns for one turn of the input{' once it holds' if slips else ''}: {turns}")
    loaded = [title(name) for name in each.unit.members if np.abs(each.loads(name)).max() > NOTHING]
    told.append(f"parts that carry torque: {', '.join(loaded)}")
    return "; ".join(told) + "."


def ratio_text(ratio: float) -> str:
    """2.45 to 1, and which way."""
    return f"{abs(ratio):.2f} to 1" + (" backward" if ratio < 0 else "")


def _turns(speed: float) -> str:
    return f"{speed + 0.0:.2f}".replace("-0.00", "0.00").replace("-", "\u2212")


# ---------------------------------------------------------------------- the ladder
def rails(spec: UnitSpec) -> list[str]:
    """Members from the case downward: those that can be held, those between, input, output."""
    held = [
        name for name in reversed(spec.members) if any(set(e.couples) == {name, CASE} for e in spec.elements)
    ]
    ends = [spec.input, spec.output]
    between = [name for name in reversed(spec.members) if name not in (*held, *ends)]
    return [CASE, *held, *between, *ends]


def _ladder(sheet: DrawingSheet, frame: _Frame, each: SolvedRange) -> None:
    sheet.text(frame.left, frame.upper + 0.3, each.name[:1].upper() + each.name[1:], size=LEAD, bold=True)
    once = " once it holds" if each.slipping else ""
    end = frame.left + frame.wide
    sheet.text(end, frame.upper + 0.3, ratio_text(each.ratio) + once, size=SMALL, ha="right")
    order = rails(each.unit)
    head = HEAD + (3 * LABEL if frame.whole else 0.0)
    ys = {name: frame.upper + head + RAIL * i for i, name in enumerate(order)}
    xs = [frame.x(i, len(each.rungs)) for i in range(len(each.rungs))]
    held = [x for x, rung in zip(xs, each.rungs, strict=True) if CASE in rung.members]
    _ground(sheet, min(held) - 0.2, max(held) + 0.2, ys[CASE])
    for name in order[1:]:
        _rail(sheet, frame, each, name, xs, ys[name])
    for x, rung, up in zip(xs, each.rungs, _ups(frame, each, xs, ys), strict=True):
        _rung(sheet, frame, rung, x, ys, up)


def _ups(frame: _Frame, each: SolvedRange, xs: list[float], ys: dict[str, float]) -> list[float]:
    """How much higher the name over each rung stands, so that it clears that of its neighbor on the same rail."""
    ups: list[float] = [0.0]
    for k, (before, rung) in enumerate(pairwise(each.rungs), 1):
        tops = [min(ys[name] for name in one.members) for one in (before, rung)]
        words = [_words(frame, one).split("\n") for one in (before, rung)]
        wide = sum(max(map(len, lines)) for lines in words) * LETTER / 2
        close = tops[0] == tops[1] and xs[k] - xs[k - 1] < wide and not ups[-1]
        ups.append(len(words[0]) * LABEL if close else 0.0)
    return ups


def _ground(sheet: DrawingSheet, start: float, end: float, y: float) -> None:
    """The case: what is tied to it cannot turn."""
    sheet.line([(start, y), (end, y)], width=LINE)
    _strokes(sheet, start, end, y)


def _strokes(sheet: DrawingSheet, start: float, end: float, y: float, name: str = "") -> None:
    """The strokes over what stands still."""
    sheet.lines([[(x, y), (x + 0.07, y - 0.08)] for x in np.arange(start, end - 0.05, 0.1)], name=name)


def _rail(
    sheet: DrawingSheet, frame: _Frame, each: SolvedRange, name: str, xs: list[float], y: float
) -> None:
    """One member from its first rung to its last, as heavy as the torque in it."""
    places = [i for i, rung in enumerate(each.rungs) if name in rung.members]
    loads = each.loads(name)
    slips = any(r.state == "slips" and name in r.members for r in each.rungs) and name != each.unit.input
    color = INK if abs(each.speeds[name]) < NOTHING else STEEL
    for i in range(places[0], places[-1]):
        points = [(xs[i], y), (xs[i + 1], y)]
        load = min(abs(loads[i]) / 2.5, 1.0)
        if slips:
            sheet.line(points, width=3.0, color=OCHRE, dash=DASHED, name=f"slips {name}")
        elif load < NOTHING:
            sheet.line(points, width=1.0, color=RULE, name=f"rail {name}")
        else:
            sheet.line(
                points,
                width=LEAST_WIDE + (MOST_WIDE - LEAST_WIDE) * load,
                color=color,
                name=f"rail {name}",
                zorder=3,
            )
            if color == INK:
                _strokes(sheet, xs[i] + 0.1, xs[i + 1] - 0.05, y, f"still {name}")
    _member(sheet, frame, each, name, y)


def _member(sheet: DrawingSheet, frame: _Frame, each: SolvedRange, name: str, y: float) -> None:
    """The row of a member: its name on the left, how fast it turns on the right."""
    busy = bool(np.abs(each.loads(name)).max() > NOTHING)
    start, end = frame.left + frame.names - 0.2, frame.left + frame.wide
    words = title(name) if frame.whole else title(name).replace(" ", "\n")
    color = INK if busy else GRAPHITE
    sheet.line([(start + 0.05, y), (end - SPEEDS + 0.05, y)], width=HAIR, color=TINT, zorder=0)
    sheet.text(start, y, words, size=SMALL, ha="right", va="center", bold=busy, color=color, linespacing=1.05)
    out, turns = name == each.unit.output, _turns(each.speeds[name])
    sheet.text(end, y, turns, size=SMALL, ha="right", va="center", bold=out, name=f"turns {name}")


def _rung(sheet: DrawingSheet, frame: _Frame, rung: Rung, x: float, ys: dict[str, float], up: float) -> None:
    """One rung; up: how much higher its name stands than those of its neighbors."""
    if rung.kind in ("input", "output"):
        y = ys[rung.members[0]]
        sheet.shape([(x - 0.1, y - 0.1), (x + 0.1, y), (x - 0.1, y + 0.1)], face=STEEL, edge=None, zorder=6)
        return
    if rung.kind == "set":
        _gears(sheet, rung, x, ys)
    else:
        _holder(sheet, rung, x, ys)
    _label(sheet, frame, rung, x, min(ys[name] for name in rung.members), up)


def _label(sheet: DrawingSheet, frame: _Frame, rung: Rung, x: float, top: float, up: float) -> None:
    """The name over a rung; where there is no room, initials at two heights in turn, and none for gears."""
    bold = rung.state in ("holds", "slips")
    color = OCHRE if rung.state == "slips" else INK if bold else GRAPHITE
    words = _words(frame, rung)
    x -= 0.0 if frame.whole else 0.03  # clear of the block on the next rung
    sheet.text(
        x,
        top - 0.13 - up,
        words,
        size=SMALL,
        bold=bold,
        color=color,
        ha="center",
        linespacing=1.0,
        halo=True,
        zorder=5,
    )


def _words(frame: _Frame, rung: Rung) -> str:
    """What stands over a rung."""
    if rung.kind == "set":
        return rung.label if frame.whole else ""
    if not frame.whole:
        return initials(rung.label) + (" slips" if rung.state == "slips" else "")
    words = textwrap.fill(rung.label, 9, break_long_words=False, break_on_hyphens=False)
    return words + ("\nslips" if rung.state == "slips" else "")


def _gears(sheet: DrawingSheet, rung: Rung, x: float, ys: dict[str, float]) -> None:
    """A planetary set: ring, carrier and sun on their rails, meshing along one line."""
    places = [ys[name] for name in rung.members]
    busy = any(abs(torque) > NOTHING for torque in rung.torque.values())
    ends = [(x, min(places)), (x, max(places))]
    sheet.line(ends, width=LINE if busy else 1.0, color=INK if busy else RULE, zorder=4)
    for letter, y in zip("RCS", places, strict=True):
        sheet.disc(x, y, NODE, face=PAPER, edge=INK if busy else RULE, width=LINE, zorder=7)
        sheet.text(
            x,
            y + 0.005,
            letter,
            size=SMALL,
            ha="center",
            va="center",
            color=INK if busy else GRAPHITE,
            zorder=8,
        )


def _holder(sheet: DrawingSheet, rung: Rung, x: float, ys: dict[str, float]) -> None:
    """A clutch, band or one-way clutch between two rails: filled where it holds, open where it is released."""
    upper, lower = sorted(ys[name] for name in rung.members)
    color = {"holds": INK, "slips": OCHRE, "open": RULE}[rung.state]
    middle = upper + 0.15 if CASE in rung.members else (upper + lower) / 2
    width = {"holds": 2.4, "slips": 2.4, "open": 1.0}[rung.state]
    gap = BLOCK + (0.03 if rung.state == "open" else 0.0)
    dash = DASHED if rung.state == "slips" else None
    sheet.lines(
        [[(x, upper), (x, middle - gap)], [(x, middle + gap), (x, lower)]],
        width=width,
        color=color,
        dash=dash,
        zorder=4,
    )
    face = {"holds": INK, "slips": PAPER, "open": PAPER}[rung.state]
    name = f"{rung.state} {rung.label}"
    if rung.kind == "one-way":
        points = [(x - BLOCK, middle + BLOCK), (x + BLOCK, middle + BLOCK), (x, middle - BLOCK)]
        sheet.shape(points, face=face, edge=color, name=name, zorder=6)
    else:
        sheet.box(x - BLOCK, middle - BLOCK, 2 * BLOCK, 2 * BLOCK, face=face, edge=color, name=name, zorder=6)
    if rung.state == "slips":
        wave = np.linspace(-BLOCK, BLOCK, 15)
        sheet.line([(x + w, middle + 0.035 * np.sin(9 * w / BLOCK)) for w in wave], color=OCHRE, zorder=7)
    for member in rung.members:
        if member != CASE:
            sheet.disc(x, ys[member], 0.035, face=color, edge=None, zorder=5)


def _initials_told(spec: UnitSpec) -> list[str]:
    """What the initials stand for, in lines that part no pair."""
    pairs = [f"{initials(e.label)} {e.label}".replace(" ", "\u00a0") for e in spec.elements]
    return textwrap.wrap("   ".join(pairs), 96)


def _legend(sheet: DrawingSheet, y: float, slips: bool, told: list[str]) -> None:
    """What the lines and letters mean."""
    samples: list[tuple[str, str, float, Dash]] = [
        ("drives", STEEL, HEAVY, None),
        ("held still", INK, HEAVY, None),
    ]
    samples.append(("turns along, no torque", RULE, 1.0, None))
    if slips:
        samples.append(("should hold, slips", OCHRE, 3.0, DASHED))
    x = 0.2
    for words, color, width, dash in samples:
        sheet.line([(x, y + 0.2), (x + 0.35, y + 0.2)], width=width, color=color, dash=dash)
        if color == INK:
            _strokes(sheet, x, x + 0.35, y + 0.2)
        sheet.text(x + 0.42, y + 0.24, words, size=SMALL)
        x += 0.62 + 0.09 * len(words)
    words = "R ring, C carrier, S sun. The heavier a line, the more torque.\nAt the right: turns for one turn of the input."
    sheet.text(0.2, y + 0.37, words, size=SMALL, color=GRAPHITE, va="top")
    for i, line in enumerate(told):
        sheet.text(0.2, y + 0.87 + 0.18 * i, line, size=SMALL, color=GRAPHITE)
