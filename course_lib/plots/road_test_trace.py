"""The road test as one drive: engine speed over road speed, gear by gear, and by how much it slips."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass

from course_lib.base import units
from course_lib.plots.drawing import BOLD, DASHED, DOTTED, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import AxisScale, axis_below, axis_left, conditions, in_sentences
from course_lib.shop.apply_chart import DRIVE, ratio
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Finding, Reading, spec_text
from course_lib.shop.road_moves import Move, all_moves
from course_lib.vehicle.unit_spec import UnitSpec, load_unit, nominal_parameters

UPPER, LOWER, LEFT, RIGHT = 0.95, 3.9, 1.05, 5.0  # in. of paper: the field of the chart
RIBBONS = 4.55  # upper edge of the gears
TOP_MPH = 80.0
NAMED_AT = 0.6  # of its leg, where the name of a gear stands


@dataclass(frozen=True, slots=True)
class ShiftLeg:
    """A gear over the road speeds [mph] at which it is driven."""

    gear: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class _Plane:
    """The field of the picture: road speed across, engine speed up, and the units of the reader."""

    sheet: DrawingSheet
    across: AxisScale
    up: AxisScale
    system: str

    def x(self, mph: float) -> float:
        """Place of a road speed, no farther than the field goes."""
        return self.across.at(min(units.in_system(mph, "mph", self.system)[0], self.across.high))


def road_trace(finding: Finding, unit: str, *, verdict: bool, system: str = "workshop") -> Picture:
    """A pull with the pedal on the floor, as the shift points of a road test give it, and every slip that was read.

    Due engine speed is that of a locked train: road speed times the gear's ratio, from the unit's sheet. verdict: whether the
    picture may say which slip is outside spec. Raises ValueError for a finding without shift points.
    """
    spec, found = load_unit(unit), {r.key: r for r in finding.readings}
    legs = full_pedal(spec, found)
    slips = _slips(spec, found)
    sheet = DrawingSheet("Road test", conditions(finding, system), 5.4)
    due = {gear: _rpm_per_mph(spec, gear) for gear in spec.gears if ratio(spec, gear)}
    most = max(
        [leg.end * due[leg.gear] for leg in legs]
        + [m.mph * abs(due[m.gear]) + (r.value or 0.0) for m, r in slips]
    )
    across = AxisScale(0.0, float(units.in_system(legs[-1].end, "mph", system)[0]), LEFT, RIGHT)
    up = AxisScale(0.0, max(most * 1.1, 3000.0), LOWER, UPPER)
    axis_left(sheet, up, LEFT, most=6, across=RIGHT)
    sheet.text(LEFT - 0.06, UPPER - 0.15, "engine rpm", size=SMALL, color=GRAPHITE, ha="center")
    plane = _Plane(sheet, across, up, system)
    _pull(plane, legs, due)
    for i, (move, reading) in enumerate(slips):
        _slip(plane, str(i + 1), move, reading, abs(due[move.gear]), verdict)
    _ribbons(plane, spec, found)
    _list(sheet, slips, verdict, system)
    return sheet.picture(_alt(legs, slips, verdict, system))


# ---------------------------------------------------------------------- what was driven
def full_pedal(spec: UnitSpec, found: Mapping[str, Reading]) -> list[ShiftLeg]:
    """The gears of the drive lever over road speed, as the upshifts with a full pedal were read; one that never came ends it."""
    return _legs(spec, found, "shift_{}_full_mph")


def _legs(spec: UnitSpec, found: Mapping[str, Reading], key: str) -> list[ShiftLeg]:
    gears, start = spec.levers[DRIVE], 0.0
    legs: list[ShiftLeg] = []
    readings = [found.get(key.format(shift.id)) for shift in spec.shifts]
    if not any(readings):
        raise ValueError(
            f"finding must hold shift points {key.format('12')} and so on, got none. Draw a road test."
        )
    for gear, reading in zip(gears, readings, strict=False):
        if reading is None or reading.value is None:
            return [*legs, ShiftLeg(gear, start, TOP_MPH)]
        legs.append(ShiftLeg(gear, start, reading.value))
        start = reading.value
    return [*legs, ShiftLeg(gears[len(readings)], start, max(TOP_MPH, 1.08 * start))]


def _slips(spec: UnitSpec, found: Mapping[str, Reading]) -> list[tuple[Move, Reading]]:
    """The moves of the road test with by how much it slipped in each."""
    moves = all_moves()
    pairs = [(move, found.get(f"road_{move.key}_slip_rpm")) for move in moves if move.gear in spec.gears]
    return [(move, reading) for move, reading in pairs if reading is not None and reading.value is not None]


def _rpm_per_mph(spec: UnitSpec, gear: str) -> float:
    """Engine rpm for each mph with nothing slipping, from the sheet's axle and tire."""
    sheet = nominal_parameters(spec, signal=spec.signals[0])
    axle, tire = (float(sheet[f"vehicle_{name}"][0, 0]) for name in ("axle", "tire_radius"))
    return float(units.to_rpm(units.from_mph(1.0) / tire * axle * ratio(spec, gear)))


# ---------------------------------------------------------------------- drawing
def _pull(plane: _Plane, legs: list[ShiftLeg], due: Mapping[str, float]) -> None:
    """The saw-tooth of a pull through the gears, on the line of each gear that holds."""
    sheet, up = plane.sheet, plane.up
    points = []
    for leg in legs:
        points += [(plane.x(mph), up.at(mph * due[leg.gear])) for mph in (leg.start, leg.end)]
        far = min(legs[-1].end, up.high / due[leg.gear])
        end = (plane.x(far), up.at(far * due[leg.gear]))
        sheet.line([(LEFT, LOWER), end], width=1.0, color=RULE, dash=DOTTED)
        inner = leg not in (legs[0], legs[-1])  # there a slip may stand at its end
        named = leg.start + (NAMED_AT if inner else 1.0) * (leg.end - leg.start)
        x, y = plane.x(named) - 0.1, up.at(named * due[leg.gear]) - 0.1
        sheet.text(x, y, leg.gear, size=SMALL, bold=True, color=STEEL, ha="right", halo=True, zorder=6)
    sheet.line(points, width=BOLD, color=STEEL, name="pull", zorder=3)


def _slip(plane: _Plane, name: str, move: Move, reading: Reading, due: float, verdict: bool) -> None:
    """One move: where the engine is due, and how far above that it stood."""
    assert reading.value is not None
    sheet, x = plane.sheet, plane.x(move.mph)
    low, high = plane.up.at(move.mph * due), plane.up.at(move.mph * due + reading.value)
    out = verdict and reading.verdict in OUTSIDE
    color = OCHRE if out else INK
    if low - high > 0.06:
        sheet.line([(x, low), (x, high)], width=LINE, color=color, dash=DASHED, name="slip", zorder=4)
    if out:
        wedge = [(x - 0.06, high + 0.08), (x + 0.06, high + 0.08), (x, high - 0.08)]
        sheet.shape(wedge, face=OCHRE, edge=None, name="mark", zorder=5)
    else:
        sheet.disc(x, high, 0.055, face=STEEL if verdict else PAPER, edge=color, name="mark", zorder=5)
    sheet.text(x, high - 0.1, name, size=SMALL, bold=True, color=color, ha="center", halo=True, zorder=6)


def _ribbons(plane: _Plane, spec: UnitSpec, found: Mapping[str, Reading]) -> None:
    """Which gear is in at which speed, with a light pedal and with a full one."""
    sheet = plane.sheet
    for i, (name, key) in enumerate(
        (("light pedal", "shift_{}_light_mph"), ("full pedal", "shift_{}_full_mph"))
    ):
        y = RIBBONS + 0.3 * i - 0.5
        sheet.text(LEFT - 0.08, y + 0.16, name, size=SMALL, ha="right")
        for k, leg in enumerate(_legs(spec, found, key)):
            last = leg.gear == spec.levers[DRIVE][-1]
            start, end = plane.x(leg.start), RIGHT if last else plane.x(leg.end)
            sheet.box(
                start,
                y,
                end - start,
                0.22,
                face=TINT if k % 2 else PAPER,
                edge=RULE,
                width=1.0,
                name=f"gear {name}",
            )
            if end - start > 0.12:
                sheet.text((start + end) / 2, y + 0.16, str(k + 1), size=SMALL, bold=True, ha="center")
    speed = f"road speed, {units.in_system(0.0, 'mph', plane.system)[1]}"
    axis_below(sheet, plane.across, RIBBONS + 0.2, speed, most=8)
    sheet.line([(LEFT, LOWER), (RIGHT, LOWER)], width=HAIR, color=RULE)


def _list(sheet: DrawingSheet, slips: list[tuple[Move, Reading]], verdict: bool, system: str) -> None:
    """Every move with its slip."""
    x, y = RIGHT + 0.2, UPPER
    sheet.text(x, y - 0.15, "Slips by, rpm", size=SMALL, color=GRAPHITE)
    for i, (move, reading) in enumerate(slips):
        out = verdict and reading.verdict in OUTSIDE
        label = textwrap.shorten(units.text_in_system(move.label, system), 26, placeholder=" \u2026")
        sheet.text(x, y + 0.1, f"{i + 1}  {label}", size=SMALL, bold=out)
        words = reading.show(reading.value or 0.0)
        words += f", spec {spec_text(reading.spec, '', reading.decimals)}" if reading.spec else ""
        words += f": {reading.verdict.removesuffix(' spec')}" if verdict and reading.spec else ""
        sheet.text(
            x + 0.2, y + 0.28, words, size=SMALL, bold=out, color=OCHRE if out else GRAPHITE, name="value"
        )
        y += 0.4
    words = "Lines: engine speed when all\nelements hold, converter left out."
    sheet.text(x, RIBBONS - 0.5, words, size=SMALL, color=GRAPHITE, va="top")


def _alt(legs: list[ShiftLeg], slips: list[tuple[Move, Reading]], verdict: bool, system: str) -> str:
    steps = [f"{leg.gear} from {leg.start:.0f} to {leg.end:.0f} mph" for leg in legs]
    told = [f"Road test, full pedal: {', '.join(steps)}"]
    for i, (move, reading) in enumerate(slips):
        words = f"{i + 1}, {move.label}, {move.mph:.0f} mph: Slips by {reading_in_system(reading, system).found_text}"
        words += f"; spec {reading.spec_text}" if reading.spec else ""
        told.append(words + (f"; {reading.verdict}" if verdict and reading.spec else ""))
    return units.text_in_system(in_sentences(told), system)
