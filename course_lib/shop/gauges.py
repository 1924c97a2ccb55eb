"""Inspections with a pressure gauge: line, circuits, governor, exhaust, and the first start of the morning."""

from __future__ import annotations

import math

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.shop.apply_chart import DRIVE, Range, coming_on, idle_range, ranges, tap_range
from course_lib.shop.batch import (
    PRESSURE_GAUGE,
    TACHOMETER,
    VACUUM_GAUGE,
    WATCH,
    BatchFinding,
    BatchLook,
    BatchReading,
    Instrument,
    Notes,
    Row,
)
from course_lib.shop.holders import pressed
from course_lib.shop.mobility import NOT_REACHED, reached, where_reached
from course_lib.shop.procedure import Procedure, as_one
from course_lib.shop.subject import COLD, HOT, AskedPoint, Subject
from course_lib.shop.walk_round import has_dipstick, has_vacuum, level_reading
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import Workings, operation

RPMS = (1000, 1500, 2000, 2500)
TAP_RPM = 1000
IDLE_RPM = 650.0  # middle of the idle speed on the sheets
LEAST_SWING = 3.0  # psi, from which a needle is said to swing
LEAST_AIR = 0.03  # share of time with air, from which it swings
FAR_ENOUGH = (0.6, 1.0, 1.6, 2.6)  # one drives on, to so many times the speed that is due, until it shifts
TOP_SPEED = 44.0  # m/s
STEADY_PEDAL, PULLING_PEDAL = 0.35, 0.6  # both ask something of a lock-up clutch, neither lets it go
GOVERNOR_MPH = (0, 20, 40, 60)
FREE_REV, FREE_PEDAL = units.from_rpm(2500), 0.06  # held without load, and the pedal that takes
COLD_PEDAL, COLD_TILT = 0.4, 0.06  # pulling away up a slight rise
TWO_SECONDS = 2.0
RAISED = units.from_psi(5.0)  # Pa over that of the sheet, from which a command is worth a word
NEARLY_FULL = 0.95  # of the line that a controller can command


def line_reading(subject: Subject, work: Workings, point: int, key: str, where: str) -> BatchReading:
    """One line-pressure reading; the needle swings where the pump gulps air."""
    ends = units.to_psi(np.stack([work.line_low[:, point], work.line_phase[0, :, point]], -1))
    swings = (ends[:, 1] - ends[:, 0] > LEAST_SWING) & (work.air_time[:, point] > LEAST_AIR)
    shown = np.where(swings, ends.mean(-1), units.to_psi(work.line[:, point]))
    swing = np.where(swings[:, None], ends, np.nan)
    key, label = f"line_pressure_{key}_psi", f"Line pressure, {where}"
    return subject.read(key, label, shown, PRESSURE_GAUGE, swing=swing)


# ---------------------------------------------------------------------- line and circuits
def line_pressure(subject: Subject) -> Procedure:
    """Every lever position at idle, Park against engine speed, cold readings, and the circuits against the line."""
    parts = (
        _line(subject),
        _taps(subject),
        _taps(subject, cold=True),
        _strays(subject),
        _fed(subject),
        _lock_up(subject),
    )
    return as_one(parts)


def _line(subject: Subject) -> Procedure:
    asked: list[tuple[str, str, AskedPoint]] = [
        (f"{lever.lower()}_idle", f"{lever}, idle", AskedPoint(lever, temperature=HOT))
        for lever in subject.unit.levers
    ]
    nudged = AskedPoint("D", temperature=HOT, nudged=1.0)
    asked.append(("d_nudged", "D, idle, lever pushed into its detent", nudged))
    for rpm in RPMS:
        turning = AskedPoint("P", engine_speed=units.from_rpm(rpm), temperature=HOT)
        asked.append((f"p_{rpm}", f"P, {rpm:,} rpm", turning))
    for lever in "PDR":
        cold = AskedPoint(lever, temperature=COLD)
        asked.append((f"{lever.lower()}_cold", f"{lever}, idle, cold, first thing", cold))
    work = yield [point for _, _, point in asked]
    measured = [line_reading(subject, work, i, key, where) for i, (key, where, _) in enumerate(asked)]
    widest = np.max([each.swing_width for each in measured], axis=0)
    measured.append(subject.read("line_swing_psi", "Widest swing of the needle", widest, PRESSURE_GAUGE))
    return BatchFinding(measured=tuple(measured), caption=_needle)


def _needle(row: Row) -> list[str]:
    shaking = [reading for reading in row.readings.values() if reading.swing]
    if not shaking:
        return ["The needle stands still."]
    return [f"The needle does not stand still at {len(shaking)} of the readings."]


def driven_on(
    subject: Subject, place: int, pedal: float, *, temperature: float = math.nan
) -> list[AskedPoint]:
    """Points at growing road speeds, from short of the sheet's upshift at a pedal to far past it."""
    speeds = [min(subject.past_shift(place, pedal) * times, TOP_SPEED) for times in FAR_ENOUGH]
    return [AskedPoint("D", throttle=pedal, road_speed=speed, temperature=temperature) for speed in speeds]


def got_there(subject: Subject, points: list[AskedPoint]) -> Flags:
    """Which vehicles a mechanic gets to the road speed of each point, (n, m) bool."""
    there = [reached(subject, each.lever, each.road_speed, by_hand=True) for each in points]
    return np.stack([subject.flat(each) for each in there], -1).astype(bool)


def first_where(there: Flags, values: Array) -> Array:
    """`values` (n, m) at the first point where `there` (n, m) is true, (n,); NaN where it never is."""
    first = np.take_along_axis(values, there.argmax(-1)[:, None], -1)[:, 0]
    return np.where(there.any(-1), first, np.nan)


def _taps(subject: Subject, *, cold: bool = False) -> Procedure:
    """How far the tap of each circuit that can be asked standing is below the line while it is applied."""
    places = [(each, *tap_range(subject.unit, each)) for each in pressed(subject.unit)]
    places = [place for place in places if not place[2]]
    temperature, name, said = (COLD, "cold_", ", cold") if cold else (HOT, "", "")
    work = yield [standing(lever, temperature=temperature) for _, lever, _ in places]
    found = []
    for i, (holder, lever, _) in enumerate(places):
        drop = units.to_psi(work.line[:, i] - work.circuit[:, i, holder.column])
        label = f"Pressure below line, {holder.label}, {lever}, {TAP_RPM:,} rpm{said}"
        found.append(
            subject.read(f"circuit_drop_{holder.stem}_{name}psi", label, drop, Instrument("psi", 1.0))
        )
    return BatchFinding(measured=tuple(found))


def standing(lever: str, *, temperature: float) -> AskedPoint:
    """Standing on the brake at the speed at which taps are read."""
    return AskedPoint(lever, engine_speed=units.from_rpm(TAP_RPM), temperature=temperature)


def _strays(subject: Subject) -> Procedure:
    """What stands in each circuit where it should be empty."""
    places = [(each, idle_range(subject.unit, each)) for each in pressed(subject.unit)]
    asked = [_in_range(subject, where) for _, where in places]
    work = yield asked
    there, found = got_there(subject, asked), []
    for i, (holder, where) in enumerate(places):
        body, case = (subject.parameter(f"element_crossfeed_{of}", holder.column) for of in ("body", "case"))
        stray = np.minimum(body + case, 1.0) * units.to_psi(work.line[:, i])
        label = f"Pressure where there should be none, {holder.label}, {where.label}"
        stray = np.where(there[:, i], stray, np.nan)
        key = f"residual_{holder.stem}_psi"
        found.append(subject.read(key, label, stray, PRESSURE_GAUGE, note=NOT_REACHED))
    return BatchFinding(measured=tuple(found))


def _in_range(subject: Subject, where: Range) -> AskedPoint:
    if not where.ups:
        return standing(where.lever, temperature=HOT)
    speed = subject.past_shift(where.ups - 1, LIGHT_PEDAL)
    return AskedPoint(where.lever, throttle=LIGHT_PEDAL, road_speed=speed, temperature=HOT)


def _fed(subject: Subject) -> Procedure:
    """The tap of each element that an upshift brings on, driven on until it comes; nothing where it never does."""
    return as_one([_brought_on(subject, where) for where in ranges(subject.unit) if where.ups])


def _brought_on(subject: Subject, where: Range) -> Procedure:
    asked = driven_on(subject, where.ups - 1, LIGHT_PEDAL, temperature=HOT)
    work = yield asked
    there = (work.gear == subject.unit.gear_index(where.gear)) & got_there(subject, asked)
    found = []
    for holder in coming_on(subject.unit, where.gear):
        tap, line = (
            units.to_psi(first_where(there, each)) for each in (work.circuit[..., holder.column], work.line)
        )
        said = f"{holder.label}, {where.label}, rolling"
        key = f"circuit_{holder.stem}_psi"
        found.append(subject.read(key, f"Pressure at the {said}", np.nan_to_num(tap), PRESSURE_GAUGE))
        if tap_range(subject.unit, holder)[1]:
            key, label = f"circuit_drop_{holder.stem}_psi", f"Pressure below line, {said}"
            found.append(
                subject.read(key, label, line - tap, Instrument("psi", 1.0), note="no pressure at the tap")
            )
    return BatchFinding(measured=tuple(found))


def _lock_up(subject: Subject) -> Procedure | BatchFinding:
    """Both sides of the lock-up piston, in units that have one."""
    return _lock_up_sides(subject) if has_lock_up(subject) else BatchFinding()


def _lock_up_sides(subject: Subject) -> Procedure:
    work = yield [cruise(subject), AskedPoint("D", temperature=HOT)]
    line, reaches = units.to_psi(work.line), subject.flat(subject.plant.powertrain.lockup_share())
    below = line[:, 0] * (1.0 - reaches)
    open_side = line[:, 1] * (1.0 - work.lockup_on[:, 1])
    label = "Lock-up apply circuit below line, cruising"
    applied = subject.read("lockup_apply_drop_psi", label, below, Instrument("psi", 1.0))
    return BatchFinding(
        measured=(
            where_reached(subject, applied, "D", cruise(subject).road_speed),
            subject.read(
                "lockup_release_rest_psi",
                "Lock-up release circuit, D, standing",
                open_side,
                Instrument("psi", 1.0),
            ),
        )
    )


def has_lock_up(subject: Subject) -> bool:
    """Whether converters of this unit have a lock-up clutch."""
    return bool(subject.sheet.parameter("lockup_fitted")[0] > 0.5)


def cruise(subject: Subject) -> AskedPoint:
    """Top gear with a steady pedal, fast enough for lock-up."""
    top = subject.past_shift(len(subject.unit.shifts) - 1, STEADY_PEDAL)
    fast = 1.1 * float(subject.sheet.parameter("lockup_speed")[0])
    return AskedPoint("D", throttle=STEADY_PEDAL, road_speed=min(max(top, fast), TOP_SPEED))


# ---------------------------------------------------------------------- governor, exhaust
def governor_readings(subject: Subject) -> BatchFinding:
    """The governor curve."""
    speeds = units.from_mph(np.array(GOVERNOR_MPH, float))
    curve = units.to_psi(subject.plant.hydraulic_controls.governor(speeds[None]))
    found = []
    for i, mph in enumerate(GOVERNOR_MPH):
        key, label = f"governor_pressure_{mph}_psi", f"Governor pressure, {mph} mph"
        reading = subject.read(key, label, curve[:, i], Instrument("psi", 0.5))
        found.append(where_reached(subject, reading, DRIVE, speeds[i], lifted=True))
    return BatchFinding(measured=tuple(found))


def exhaust_pressure(subject: Subject) -> BatchFinding:
    """Back pressure ahead of the catalyst, and the vacuum held at a steady 2,500 rpm."""
    plant, idle = subject.plant, subject.plant.p.engine_idle
    fast = units.to_psi(plant.exhaust(FREE_REV, FREE_PEDAL))
    low = Instrument("psi", 0.1, 1)
    rows = [
        ("exhaust_idle_psi", "Exhaust pressure, idle", units.to_psi(plant.exhaust(idle, 0.0)), low),
        ("exhaust_2500_psi", "Exhaust pressure, P, 2,500 rpm", fast, low),
    ]
    if has_vacuum(subject):
        free = operation("P", throttle=FREE_PEDAL)
        held = units.to_inhg(plant.hydraulic_controls.vacuum(free, FREE_REV)[0])
        label = "Vacuum at the manifold, held at 2,500 rpm"
        rows.append(("manifold_vacuum_2500_inhg", label, held, VACUUM_GAUGE))
    return BatchFinding(
        measured=tuple(subject.read(*row) for row in rows),
        seen=(
            BatchLook(
                key="revs_freely", scale="revs", value=subject.flat(fast), text="without load the engine {}"
            ),
        ),
    )


# ---------------------------------------------------------------------- the first start
def first_start(subject: Subject) -> Procedure:
    """After a night: the level before the start, how long the first gears take, and how it pulls away cold."""
    morning, later = ({"temperature": COLD, "cold_soaked": soaked} for soaked in (1.0, 0.0))
    away = {"throttle": COLD_PEDAL, "tilt": COLD_TILT, "temperature": COLD}
    work = yield [
        AskedPoint("D", **morning),
        AskedPoint("R", **morning),
        AskedPoint("D", **later),
        AskedPoint("D", road_speed=units.from_mph(5), **away),
        AskedPoint("R", road_speed=units.from_mph(3), **away),
    ]
    wait, slip = waiting(work), units.to_rpm(work.slip)
    filling = np.maximum(wait[:, 0] - wait[:, 2], 0.1)
    after = units.to_psi(work.line[:, 0]) * np.minimum(TWO_SECONDS / filling, 1.0)
    rows = (
        ("engage_d_first_s", "Seconds to engage, D, first start", wait[:, 0], WATCH),
        ("engage_r_first_s", "Seconds to engage, R, first start", wait[:, 1], WATCH),
        ("engage_d_second_s", "Seconds to engage, D, a minute later", wait[:, 2], WATCH),
        ("line_after_2s_psi", "Line pressure, D, 2 s after the first start", after, Instrument("psi", 2.0)),
        ("road_first_cold_slip_rpm", "Slips by, D, pulling away cold", slip[:, 3], TACHOMETER),
        ("road_reverse_cold_slip_rpm", "Slips by, R, backing up cold", slip[:, 4], TACHOMETER),
    )
    level = (subject, "level_morning_in", "before the first start", COLD)
    before = (level_reading(*level, running=False),) if has_dipstick(subject.unit) else ()
    said = {"line_after_2s_psi": _raised_line(subject, work)}
    return BatchFinding(measured=(*before, *(subject.read(*row, notes=said.get(row[0], ())) for row in rows)))


def _raised_line(subject: Subject, work: Workings) -> Notes:
    """Where a controller commands the whole line at the first point, or more than that of the sheet: then a high gauge is no fault
    of the line."""
    if work.electric is None:
        return ()
    wanted, full = work.electric.wanted_line[:, 0], subject.parameter("control_line_full")
    usual = subject.sheet_at([AskedPoint("D", temperature=COLD)]).electric
    assert usual is not None
    whole = wanted >= NEARLY_FULL * full
    more = ~whole & (wanted > usual.wanted_line[0, 0] + RAISED)
    return ("full line is commanded", whole), ("more than usual is commanded", more)


def waiting(work: Workings) -> Array:
    """Seconds from moving the lever until the last element of the gear has stopped slipping, (n, m)."""
    seconds: Array = (work.delay + work.slide).max(-1)
    return seconds
