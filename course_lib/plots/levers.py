"""Speed of every member, on the line that the gears keep them on.

Members of one gear train lie at fixed places along a lever; the ends of their speeds always lie on a straight line. Where an
element holds, the line is nailed down; where it slips, the line swings about what still holds. Source: H. L. Benford and
M. B. Leising, The Lever Analogy, SAE 810102 (from memory).
"""

from __future__ import annotations

from course_lib.physics.gearset import CASE
from course_lib.plots.drawing import BOLD, DASHED, DOTTED, HAIR, LEAD, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.plots.paths import ratio_text, title
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import AxisScale
from course_lib.plots.trains import NOTHING, SolvedRange, driving_gears, lever_places, solve_range
from course_lib.vehicle.unit_spec import load_unit

CELL_HIGH, UP, DOWN = 3.15, 0.85, 2.4  # in. of paper: a range, its highest and lowest speed
KEY_HIGH = 0.5


def member_speeds(unit: str, gear: str | None = None, slipping: tuple[str, ...] = (), *, verdict: bool) -> Picture:  # fmt: skip
    """Speed of every member for a turn of the input, in one gear or in every range that drives.

    slipping: ids of elements that should hold but slip; the line is then drawn twice. verdict: whether the picture may show that.
    Raises ValueError for an unknown unit, gear or element.
    """
    spec, slip = load_unit(unit), tuple(slipping) if verdict else ()
    levers, gears = lever_places(spec), (gear,) if gear else driving_gears(spec)
    ranges = [
        solve_range(unit, each, slip if gear else tuple(s for s in slip if s in spec.gears[each]))
        for each in gears
    ]
    per_row = 1 if gear else max(4 // len(levers), 1)
    bottom = 0.55 + CELL_HIGH * -(-len(ranges) // per_row)
    sheet = DrawingSheet(
        f"Speed of every part, {spec.title}", "input turns once; up is forward", bottom + KEY_HIGH
    )
    most = max(1.0, *(abs(s) for each in ranges for s in (*each.speeds.values(), *each.slipped.values())))
    for i, each in enumerate(ranges):
        place = (0.2 + 7.6 / per_row * (i % per_row), 0.55 + CELL_HIGH * (i // per_row))
        _range(sheet, each, levers, place, 7.6 / per_row, most)
    _key(sheet, bottom, bool(slip))
    return sheet.picture(" ".join(_alt(each) for each in ranges))


def _range(
    sheet: DrawingSheet,
    each: SolvedRange,
    levers: list[dict[str, float]],
    place: tuple[float, float],
    wide: float,
    most: float,
) -> None:
    """One range: its name and its levers side by side; most: the highest speed that is drawn."""
    x, y = place
    sheet.text(x + 0.25, y + 0.28, f"{each.name[:1].upper()}{each.name[1:]}", size=LEAD, bold=True)
    sheet.text(x + 0.25, y + 0.47, ratio_text(each.ratio), size=SMALL, color=GRAPHITE)
    part, up = wide / len(levers), AxisScale(-most, most, y + DOWN, y + UP)
    for k, lever in enumerate(levers):
        _lever(sheet, each, lever, up, x + part * k + 0.3, x + part * (k + 1) - 0.25)


def _alt(each: SolvedRange) -> str:
    turns = ", ".join(f"{title(name)} {speed + 0.0:.2f}" for name, speed in each.speeds.items())
    told = f"{each.name}, {ratio_text(each.ratio)}; turns for one turn of the input: {turns}"
    if each.slipping:
        names = ", ".join(e.label for e in each.unit.elements if e.id in each.slipping)
        moved = [n for n in each.speeds if abs(each.slipped[n] - each.speeds[n]) > NOTHING]
        told += f"; while the {names} slips: " + ", ".join(
            f"{title(n)} {each.slipped[n] + 0.0:.2f}" for n in moved
        )
    return (told + ".").replace("-0.00", "0.00").replace("-", "\u2212")


def _turns(speed: float) -> str:
    return f"{speed:.2f}".replace("-", "\u2212")


def _lever(
    sheet: DrawingSheet, each: SolvedRange, lever: dict[str, float], up: AxisScale, start: float, end: float
) -> None:
    """One lever: its members' places, the line through their speeds, and what nails it down."""
    across = AxisScale(min(lever.values()), max(lever.values()), start, end)
    zero = float(up.at(0.0))
    for speed in (-1.0, 1.0):
        if up.low <= speed <= up.high:
            sheet.line(
                [(start - 0.15, float(up.at(speed))), (end + 0.15, float(up.at(speed)))],
                width=HAIR,
                color=TINT,
            )
            sheet.text(
                start - 0.18,
                float(up.at(speed)),
                f"{speed:.0f}".replace("-", "\u2212"),
                size=SMALL,
                ha="right",
                va="center",
            )
    sheet.line([(start - 0.15, zero), (end + 0.15, zero)], width=LINE)
    for k, (name, place) in enumerate(sorted(lever.items(), key=lambda pair: pair[1])):
        x = float(across.at(place))
        sheet.line([(x, up.end - 0.05), (x, up.start + 0.05)], width=0.6, color=RULE, dash=DOTTED)
        words = title(name).replace(" ", "\n")
        sheet.text(x, up.start + (0.12 if k % 2 == 0 else 0.36), words, size=SMALL, ha="center", va="top", linespacing=1.1,
                   bold=name == each.unit.output)  # fmt: skip
    if each.slipping:
        _line(sheet, each.slipped, lever, across, up, slips=True)
    _line(sheet, each.speeds, lever, across, up, slips=False)
    for name, place in lever.items():
        _mark(sheet, each, name, float(across.at(place)), float(up.at(each.speeds[name])), up)


def _line(
    sheet: DrawingSheet,
    speeds: dict[str, float],
    lever: dict[str, float],
    across: AxisScale,
    up: AxisScale,
    *,
    slips: bool,
) -> None:
    points = [
        (float(across.at(place)), float(up.at(speeds[name])))
        for name, place in sorted(lever.items(), key=lambda p: p[1])
    ]
    if slips:
        sheet.line(points, width=BOLD, color=OCHRE, dash=DASHED, name="slips", zorder=3)
    else:
        sheet.line(points, width=BOLD, color=STEEL, name="lever", zorder=4)


def _mark(sheet: DrawingSheet, each: SolvedRange, name: str, x: float, y: float, up: AxisScale) -> None:
    """What a member does: held, output, driven, or turning along."""
    speed = each.speeds[name]
    if abs(speed) < NOTHING and _tied(each, name, to_case=True):
        sheet.box(x - 0.11, y - 0.045, 0.22, 0.09, face=INK, edge=None, name="held", zorder=6)
        strokes = (-0.08, -0.03, 0.02, 0.07)
        sheet.lines([[(x + dx, y + 0.06), (x + dx - 0.04, y + 0.12)] for dx in strokes], zorder=5)
    elif name == each.unit.output:
        sheet.disc(x, y, 0.085, face=STEEL, edge=PAPER, width=1.0, name="output", zorder=7)
        side, ha = (-0.06, "right") if speed > 0 else (0.1, "left")  # above the line, whichever way it leans
        sheet.text(
            x + side, y - 0.13, _turns(speed), size=SMALL, bold=True, color=STEEL, ha=ha, halo=True, zorder=8
        )
        if each.slipping:
            slips = float(up.at(each.slipped[name]))
            sheet.disc(x, slips, 0.06, face=PAPER, edge=OCHRE, width=BOLD, name="output slips", zorder=6)
            at = max(slips, y) + 0.24
            sheet.text(
                x + 0.08,
                at,
                f"slips: {_turns(each.slipped[name])}",
                size=SMALL,
                bold=True,
                color=OCHRE,
                zorder=8,
            )
    elif name == each.unit.input or _tied(each, name, to_case=False):
        wedge = [(x - 0.075, y + 0.06), (x + 0.075, y + 0.06), (x, y - 0.085)]
        sheet.shape(wedge, face=STEEL, edge=PAPER, width=1.0, name="driven", zorder=6)
    else:
        sheet.disc(x, y, 0.05, face=PAPER, edge=GRAPHITE, name="along", zorder=6)


def _tied(each: SolvedRange, name: str, *, to_case: bool) -> bool:
    """Whether an element that should hold ties a member to the case, or to what drives it."""
    on = [rung for rung in each.rungs if rung.state in ("holds", "slips") and name in rung.members]
    return any((CASE in rung.members) == to_case for rung in on)


def _key(sheet: DrawingSheet, y: float, slips: bool) -> None:
    y += 0.3
    sheet.shape([(0.25, y), (0.4, y), (0.325, y - 0.14)], face=STEEL, edge=None)
    sheet.disc(1.55, y - 0.06, 0.085, face=STEEL, edge=None)
    sheet.box(2.5, y - 0.1, 0.22, 0.09, face=INK, edge=None)
    sheet.disc(3.8, y - 0.06, 0.05, face=PAPER, edge=GRAPHITE)
    for x, words in ((0.48, "driven"), (1.72, "output"), (2.8, "held still"), (3.92, "turns along")):
        sheet.text(x, y, words, size=SMALL)
    if slips:
        sheet.line([(5.2, y - 0.05), (5.6, y - 0.05)], width=BOLD, color=OCHRE, dash=DASHED)
        sheet.text(5.68, y, "while it slips", size=SMALL)
