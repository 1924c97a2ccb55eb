"""Inspections in which the vehicle drives or is driven against: road test, stall test, and the way from the unit to the wheels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics.engine import free_speed
from course_lib.shop.apply_chart import DRIVE, ranges, ratio
from course_lib.shop.asked_gears import gear_points
from course_lib.shop.batch import (
    TACHOMETER,
    BatchFinding,
    BatchLook,
    BatchReading,
    Instrument,
    Notes,
    batch_looks,
)
from course_lib.shop.gauges import first_start, got_there
from course_lib.shop.mobility import NOT_REACHED, gives_out, where_reached
from course_lib.shop.owner_drive import as_the_owner_drives, morning
from course_lib.shop.procedure import Procedure, as_it_came, as_one
from course_lib.shop.road_feel import felt_on_the_road, joint_play
from course_lib.shop.road_moves import Move, all_moves
from course_lib.shop.subject import HOT, RISING, AskedPoint, Subject, slip_until_lifted
from course_lib.vehicle.actions import actions
from course_lib.vehicle.beliefs import shown_share
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.plant import Plant

STANDS = "it stands and does not pull away"
OVER_REVS = "cannot be read: in the gear it stays in the engine would run too fast"
STALL_LIMIT = 3200  # rpm at which one lifts at once
ROAD_MOST = units.from_mph(75)  # past which no shift is looked for on a road
AT_REST = 5  # mph, up to which a pull is tried whether it gets the vehicle going or not
HALF = 0.5  # of a shaft: below, it is broken
AGAINST_BRAKES = 0.6  # pedal with which the unit is twisted in its mounts
PULLS = (
    (3, "pull_away_pct", "Pull, full pedal, pulling away"),
    (60, "pull_60_pct", "Pull, full pedal, 60 mph"),
)


def moves(subject: Subject) -> tuple[Move, ...]:
    """The moves that this unit can be asked for."""
    unit = subject.unit
    mine = (each for each in all_moves() if unit.kind_of_control in each.controls)
    return tuple(each for each in mine if each.gear in unit.levers.get(each.lever, ()))


def road_test(subject: Subject) -> Procedure:
    """As the owner drives, then every holding element in turn, the shifts, and what is felt and heard meanwhile."""
    parts = (as_the_owner_drives, _asked_in_turn, _shift_speeds, _pulls)
    return as_it_came(as_one((*(part(subject) for part in parts), *felt_on_the_road(subject))))


def cold_start(subject: Subject) -> Procedure:
    """The first start after a night, and the owner's first places of the morning."""
    return as_it_came(as_one((first_start(subject), morning(subject))))


def _asked_in_turn(subject: Subject) -> Procedure:
    """How each gear holds under load; a gear of rest that does not get the vehicle going is tried standing."""
    asked = moves(subject)
    points = [
        AskedPoint(m.lever, throttle=m.pedal, road_speed=units.from_mph(m.mph), tilt=m.tilt) for m in asked
    ]
    tried = [*points, *(replace(point, road_speed=0.0) for point in points)]
    work = yield tried
    slips, rises = slip_until_lifted(work, subject.sheet_at(tried))
    at_rest = [m.gear == subject.unit.levers[m.lever][0] for m in asked]
    there, count = got_there(subject, points), len(asked)
    slip, loss, rising = (
        np.where(there, each[:, :count], np.where(at_rest, each[:, count:], np.nan))
        for each in (slips, work.loss, rises)
    )
    measured, seen = [], []
    for i, m in enumerate(asked):
        key, label = f"road_{m.key}_slip_rpm", f"Slips by, {m.label}"
        notes = (STANDS, ~there[:, i] & at_rest[i]), (RISING, rising[:, i] == 1.0)
        reading = subject.read(key, label, slip[:, i], TACHOMETER, notes=notes, note=NOT_REACHED)
        others = in_another_gear(subject, work.gear[:, i], m.gear)
        measured.append(reading.left_out(others))
        tried_it = ~np.any([np.zeros(subject.size, bool), *(where for _, where in others)], axis=0)
        text, held = f"{m.label}: {{}}", np.where(tried_it, loss[:, i], np.nan)
        seen.append(BatchLook(key=f"hold_{m.key}", scale="hold", value=held, text=text, quiet=True))
    return BatchFinding(measured=tuple(measured), seen=tuple(seen))


def in_another_gear(subject: Subject, found: Places, meant: str) -> Notes:
    """Why a gear was not tried where a controller holds another one that drives; found: rows of the gear table, (n,)."""
    unit = subject.unit
    others = [] if unit.control is None else [g for g in unit.gears if g != meant and ratio(unit, g) != 0.0]
    return tuple((f"not tried: it is in {gear}", found == unit.gear_index(gear)) for gear in others)


def _shift_speeds(subject: Subject) -> Procedure:
    """Road speeds of the upshifts with a light and a full pedal; of the downshifts and the kickdown where it shifted up before."""
    asked = {} if subject.unit.control is None else gear_points(subject, temperature=np.nan)
    work = yield list(asked.values())
    into = dict(zip(asked, work.gear.T, strict=False))
    mine, sheet, counts = subject.plant, subject.sheet.plant, _by_the_wheels(subject)
    found = []
    for i, shift in enumerate(subject.unit.shifts):
        up, again = _instead(subject, into, i)
        for pedal, name in ((1.0, "full"), (LIGHT_PEDAL, "light")):
            speeds = [
                counts * mine.controls.upshift_speeds(pedal)[:, i],
                sheet.controls.upshift_speeds(pedal)[:, i],
            ]
            fastest = gives_out(subject, floored=pedal == 1.0)[DRIVE]
            shifts = ("no upshift", ~np.isfinite(speeds[0])), (NOT_REACHED, speeds[0] >= fastest)
            label = f"Upshift {shift.label}, {name} pedal"
            found += _mph(subject, f"shift_{shift.id}_{name}_mph", label, speeds, (*up, *shifts))
        down, back = shift.id[::-1], " to ".join(reversed(shift.label.split(" to ")))
        speeds = [counts * mine.controls.downshift_speeds()[:, i], sheet.controls.downshift_speeds()[:, i]]
        stays = (*again, *shifts, ("stays up to a stop", speeds[0] <= 0.0))
        label = f"Downshift {back}, pedal released"
        found += _mph(subject, f"downshift_{down}_mph", label, speeds, stays)
        speeds = [counts * mine.controls.kickdown_speeds()[:, i], sheet.controls.kickdown_speeds()[:, i]]
        never = (*again, *shifts, ("no kickdown", speeds[0] <= 0.0))
        label = f"Kickdown {back}, highest speed, pedal to the floor"
        found += _mph(subject, f"kickdown_{down}_mph", label, speeds, never)
    return BatchFinding(measured=tuple(found))


def _by_the_wheels(subject: Subject) -> Array:
    """Road speed of a shift as it came, over that by the output sensor, (n,): 1 but where a code has the wheels count instead."""
    plant, unit = subject.plant, subject.unit
    if unit.control is None:
        return np.ones(subject.size)
    silent = plant.p.bus_wheels_silent > HALF
    counts = actions(subject.condition.memory, unit).use_wheels & ~silent
    instead = shown_share(plant) / (1.0 + plant.p.bus_wheel_spread)
    return subject.flat(np.where(counts, instead, 1.0))


def _instead(subject: Subject, into: dict[str, Places], shift: int) -> tuple[Notes, Notes]:
    """What comes in place of upshift number `shift`, and of the way back, where a controller holds other gears than the two;
    into: gear asked for -> row of the one that it gets into, (n,)."""
    unit, old = subject.unit, subject.unit.levers[DRIVE][shift]
    up: list[tuple[str, Flags]] = []
    down: list[tuple[str, Flags]] = []
    for asked in (each for each in unit.levers[DRIVE][shift : shift + 2] if each in into):
        for gear in (each for each in unit.gears if each != asked):
            said = f"{asked} does not take hold"
            if ratio(unit, gear) != 0.0:
                going = f"it stays in {old}" if gear == old else f"it goes from {old} to {gear}"
                said = f"it is in {gear}, not in {old}" if asked == old else going
            up.append((said, into[asked] == unit.gear_index(gear)))
        down.append((f"it never gets into {asked}", into[asked] != unit.gear_index(asked)))
    return tuple(up), tuple(down)


def _mph(subject: Subject, key: str, label: str, speeds: Sequence[Array], notes: Notes) -> list[BatchReading]:
    """A road speed of ours against the sheet's, left out where a note says why; nothing where the sheet has none either, or
    where it comes faster than anybody drives on a road."""
    mine, sheet = speeds
    most = np.inf if subject.unit.control is None else ROAD_MOST
    if not 0.0 < sheet[0] < most:
        return []
    shown = units.to_mph(np.where(np.isfinite(mine), mine, 0.0))
    return [subject.read(key, label, shown, Instrument("mph", 0.5)).left_out(notes)]


def _pulls(subject: Subject) -> Procedure:
    """How hard it pulls with the pedal on the floor, against the vehicle of the sheet."""
    asked = [AskedPoint(DRIVE, throttle=1.0, road_speed=units.from_mph(mph)) for mph, *_ in PULLS]
    work = yield asked
    share = 100.0 * work.drive_torque / subject.sheet_at(asked).drive_torque
    wheels = (
        np.array([point.road_speed for point in asked]) / subject.parameter("vehicle_tire_radius")[:, None]
    )
    asks = wheels * (subject.parameter("vehicle_axle")[:, None] * np.abs(subject.plant.ratio[work.gear]))
    over = asks > free_speed(subject.parameter("engine_best_speed"), 1.0)[:, None]
    found = []
    for i, (mph, key, label) in enumerate(PULLS):
        reading = subject.read(key, f"{label}, of a sound vehicle", share[:, i], Instrument("%", 3.0))
        reading = reading.left_out(((OVER_REVS, over[:, i]),))
        found.append(where_reached(subject, reading, DRIVE, units.from_mph(mph) if mph > AT_REST else 0.0))
    return BatchFinding(measured=tuple(found))


# ---------------------------------------------------------------------- stall
def stall_test(subject: Subject) -> Procedure:
    """Full throttle against the brakes, once for every gear that a lever gives at rest and that no upshift leads to."""
    asked = _stalled(subject)
    work = yield [AskedPoint(lever, throttle=1.0, temperature=HOT) for lever in asked]
    speeds = units.to_rpm(work.engine_speed)
    loose, locked = subject.parameter("vehicle_shaft") < HALF, work.lockup_on > 0
    measured = []
    for i, lever in enumerate(asked):
        notes = (
            ("cannot be taken: there is nothing to load the engine against", loose),
            ("cannot be taken: the engine dies", locked[:, i]),
            ("stopped there, it was still rising", speeds[:, i] > STALL_LIMIT),
        )
        shown = np.where(loose | locked[:, i], np.nan, np.minimum(speeds[:, i], STALL_LIMIT))
        key, label = f"stall_{lever.lower()}_rpm", f"Stall speed, {lever}"
        measured.append(subject.read(key, label, shown, Instrument("rpm", 20), notes=notes))
    return BatchFinding(measured=tuple(measured))


def _stalled(subject: Subject) -> list[str]:
    """The levers of the stall test, drive first."""
    upshifted = {gear for gears in subject.unit.levers.values() for gear in gears[1:]}
    standing = {r.gear: r.lever for r in reversed(ranges(subject.unit)) if r.gear not in upshifted}
    return sorted(
        standing.values(), key=lambda lever: (lever != DRIVE, list(subject.unit.levers).index(lever))
    )


# ---------------------------------------------------------------------- from the unit to the wheels
def driveline_check(subject: Subject) -> Procedure:
    """Play and shafts, wheels turned by hand, and the unit held against the brakes with the gauge on its circuits."""
    held = [AskedPoint(DRIVE, throttle=AGAINST_BRAKES, temperature=HOT)]
    work = yield held
    drag, lift = subject.parameter("vehicle_brake_drag"), subject.parameter("vehicle_mount_lift")
    free, play, pull = units.to_psi(work.circuit)[:, 0], joint_play(subject), drag / units.POUND_FORCE
    braced = units.to_psi(_braced(subject).at(held).circuit)[:, 0] if lift.any() else free
    moved, up = _largest(free - braced), units.to_inch(lift)
    label = "Pressure change when the unit lifts"
    broken = 1.0 - subject.parameter("vehicle_shaft")
    return BatchFinding(
        measured=(
            subject.read(
                "joint_play_deg", "Play from unit to wheels, by hand", play, Instrument("degrees", 0.3, 1)
            ),
            subject.read("mount_lift_in", "Unit lifts, D against the brakes", up, Instrument("in.", 0.05, 2)),
            subject.read("mount_line_move_psi", label, moved, Instrument("psi", 1.5, signed=True)),
            subject.read("wheel_drag_lbf", "Pull to keep a wheel turning, in N", pull, Instrument("lbf", 4)),
        ),
        seen=(
            *batch_looks(("wheels_follow", "wheels", broken, "in gear, on the lift: {}")),
            *batch_looks(("brake_hot", "brakes", drag, "after the road: {}"), quiet=True),
            *_through_the_hole(subject),
        ),
    )


def _through_the_hole(subject: Subject) -> tuple[BatchLook, ...]:
    """Flex plate and converter bolts, turned past the inspection hole of the bell housing."""
    cracked, loose = subject.parameter("converter_plate_crack"), subject.parameter("converter_bolts_loose")
    return batch_looks(
        ("plate_hole", "flexplate", cracked, "flex plate, turned past the inspection hole: {}"),
        ("bolts_hole", "bolts", loose, "converter bolts, felt with a wrench at the inspection hole: {}"),
        quiet=True,
    )


def _largest(moves_by: Array) -> Array:
    """The largest move up or down over the elements, (n,) from (n, E)."""
    return np.take_along_axis(moves_by, np.abs(moves_by).argmax(-1)[:, None], -1)[:, 0]


def _braced(subject: Subject) -> Subject:
    """The same vehicles with the unit held down by a brace."""
    held = subject.plant.p.by_name() | {
        "vehicle_mount_lift": np.zeros_like(subject.plant.p.vehicle_mount_lift)
    }
    return replace(subject, plant=Plant(subject.unit, held))
