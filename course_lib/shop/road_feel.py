"""What is felt and heard on a road test: how gears come on, what binds, shakes, whines or knocks, and what happens on lifting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.shop.apply_chart import DRIVE, Range, brakes_on_overrun, ranges, ratio
from course_lib.shop.asked_gears import gear_points
from course_lib.shop.batch import (
    TACHOMETER,
    WATCH,
    BatchFinding,
    BatchLook,
    BatchReading,
    Instrument,
    batch_looks,
)
from course_lib.shop.gauges import (
    FAR_ENOUGH,
    FREE_REV,
    PULLING_PEDAL,
    TOP_SPEED,
    cruise,
    driven_on,
    first_where,
    got_there,
    has_lock_up,
    waiting,
)
from course_lib.shop.holders import pressed
from course_lib.shop.mobility import where_reached
from course_lib.shop.procedure import Procedure, as_one
from course_lib.shop.subject import HOT, RISING, AskedPoint, Subject
from course_lib.vehicle.elements import MOST_RUN_UP, TIGHT
from course_lib.vehicle.felt_troubles import BINDS, BOTH, HARSH, JERK, LIGHT_PEDAL, LOOSE, LURCH
from course_lib.vehicle.operating_point import Workings
from course_lib.vehicle.plant import MISFIRE_SHAKES
from course_lib.vehicle.unit_spec import UnitSpec

HALF_PEDAL = 0.5
NEARLY = 0.99  # of the run-up at which the driver lifts
EASY, SLOW = 0.3, units.from_mph(8)
LEAST_SLIP = 0.5  # rad/s, from which a lock-up clutch slips
COAST_SPEED = units.from_mph(25)
COAST_TORQUE = 60.0  # N m at the turbine with which a closed throttle brakes, common practice, no source
DIRECT = 1.0  # ratio of a gear in which the planet pins rest
WORN_PUMP, PUMP_HUM = 0.35, 0.8  # wear from which a pump hums, and how loud it grows
CRACKED_WANDERS = 6e-4  # m that a converter wanders on a flex plate cracked all round, fitted
PRESSED_ON = 4.0  # creep per share of the line that stands in a circuit that should be empty


def felt_on_the_road(subject: Subject) -> list[BatchFinding | Procedure]:
    """Everything that is felt between the moves, part by part."""
    parts = (_engagements, _upshifts, _binding, _coasting, _cruising, _lock_up, _noises, _at_rest)
    return [part(subject) for part in parts]


# ---------------------------------------------------------------------- gears coming on
def _engagements(subject: Subject) -> Procedure:
    """From N to D and to R, warm and idling."""
    asked: list[AskedPoint] = [AskedPoint(lever) for lever in "DR"]
    work = yield asked
    creeping = work.turbine_torque / np.maximum(subject.sheet_at(asked).turbine_torque, 1.0) - 1.0
    jolting = np.maximum(jolt(subject, work, subject.sheet_at(asked)), creeping / LURCH)
    bump = np.maximum(jolting, pressed_on(subject, work, subject.sheet_at(asked)))
    wait, shaking = waiting(work), _shaking(subject, work, 0.0)
    measured: list[BatchReading] = []
    seen: list[BatchLook] = []
    for i, lever in enumerate("DR"):
        name, label = lever.lower(), f"Seconds to engage, {lever}, warm"
        measured.append(subject.read(f"engage_{name}_s", label, wait[:, i], WATCH))
        seen += _taking(name, f"engaging {lever}", bump[:, i], shaking[:, i])
    return BatchFinding(measured=tuple(measured), seen=tuple(seen))


def _upshifts(subject: Subject) -> Procedure:
    """Every upshift, driven on until it comes: with a light pedal for the bump, at half pedal for all else."""
    return as_one([_upshift(subject, place) for place in range(len(subject.unit.shifts))])


def _upshift(subject: Subject, place: int) -> Procedure:
    shift, gear = subject.unit.shifts[place], subject.unit.levers[DRIVE][place + 1]
    asked = [*driven_on(subject, place, LIGHT_PEDAL), *driven_on(subject, place, HALF_PEDAL)]
    before = _in_the_gear_before(subject, place)
    work = yield [*asked, *before]
    work, came_from = work.cut(0, len(asked)), work.gear[:, len(asked) :]
    there = (work.gear == subject.unit.gear_index(gear)) & got_there(subject, asked)
    there &= (came_from == subject.unit.gear_index(subject.unit.levers[DRIVE][place])).all(-1, keepdims=True)
    light, half = slice(len(FAR_ENOUGH)), slice(len(FAR_ENOUGH), None)
    bump = first_where(there[:, light], jolt(subject, work, subject.sheet_at(asked))[:, light])
    flare = first_where(there[:, half], work.flare[:, half].max(-1))
    shaking = first_where(there[:, half], _shaking(subject, work, HALF_PEDAL)[:, half])
    both = first_where(there[:, light], (work.overlap - subject.sheet_at(asked).overlap)[:, light].max(-1))
    key, between = f"flare_{shift.id}_rpm", shift.label.replace(" to ", " and ")
    label, said = f"Slips by, between {between}, half pedal", f"upshift {shift.label}"
    lifted = ((RISING, flare > NEARLY * MOST_RUN_UP),)
    reading = subject.read(
        key, label, units.to_rpm(flare), Instrument("rpm", 25), notes=lifted, note="no upshift"
    )
    read = () if graphed(subject.unit) else (reading,)
    tied = batch_looks((f"bind_{shift.id}", "bind", BINDS * both / BOTH, f"{said}: {{}}"), quiet=True)
    absent = "does not come" if graphed(subject.unit) else ""
    seen = (*_taking(shift.id, said, bump, shaking), *tied)
    return BatchFinding(measured=read, seen=tuple(replace(each, absent=absent) for each in seen))


def _in_the_gear_before(subject: Subject, place: int) -> list[AskedPoint]:
    """Where an upshift starts from, of a unit whose controller may hold another gear there: then no such shift is felt."""
    if subject.unit.control is None:
        return []
    return [gear_points(subject, temperature=np.nan)[subject.unit.levers[DRIVE][place]]]


def graphed(unit: UnitSpec) -> bool:
    """Whether a graph of turbine speed tells the flare of each shift: then no tachometer is watched for it."""
    return unit.control is not None


def _taking(name: str, said: str, bump: Array, shaking: Array) -> tuple[BatchLook, ...]:
    said = f"{said}: {{}}"
    return batch_looks(
        (f"bump_{name}", "bump", bump, said), (f"judder_{name}", "judder", shaking, said), quiet=True
    )


def jolt(subject: Subject, work: Workings, sheet: Workings) -> Array:
    """How much faster the torque of the wheels comes on than in the vehicle of the sheets, (n, m); 1 = a driver comes in for it."""
    ours, theirs = (each.jerk.max(-1) * np.abs(subject.plant.ratio[each.gear]) for each in (work, sheet))
    faster: Array = (ours / np.maximum(theirs, 1.0) - 1.0) / JERK
    return faster


def pressed_on(subject: Subject, work: Workings, sheet: Workings) -> Array:
    """How much harder than on the sheet what comes on is pressed in the end, (n, m); 1 = a driver comes in for it.

    Of an electronic control, which orders each pressure of its own: with springs and accumulators the jolt tells it.
    """
    if subject.unit.control is None:
        return np.zeros_like(work.line)
    harder: Array = (work.line / np.maximum(sheet.line, 1.0) - 1.0) / HARSH
    return harder


def _shaking(subject: Subject, work: Workings, pedal: float) -> Array:
    """Shaking as elements come on, (n, m): that of an engine that misses, and of a lock-up clutch that slips, taken out."""
    engine = MISFIRE_SHAKES * subject.parameter("engine_misfire")[:, None] * pedal
    return np.where((work.judder > 1.01 * engine) & (work.lockup_slip < LEAST_SLIP), work.judder, 0.0)


# ---------------------------------------------------------------------- what fights, what brakes
def _in_range(subject: Subject, where: Range, pedal: float, speed: float) -> AskedPoint:
    """A point in a range: at `speed` where it stands first, else past the upshift that leads to it."""
    if where.ups:
        speed = min(subject.past_shift(where.ups - 1, pedal), TOP_SPEED)
    return AskedPoint(where.lever, throttle=pedal, road_speed=speed)


def _where_meant(
    subject: Subject, asked: Sequence[Range], points: list[AskedPoint], work: Workings, values: Array
) -> Array:
    """`values` (n, m) in the gear that was meant, at a point the vehicle gets to or tries to leave from rest, else NaN."""
    meant = work.gear == [subject.unit.gear_index(each.gear) for each in asked]
    from_rest = np.array([not each.ups for each in asked])
    return np.where(meant & (got_there(subject, points) | from_rest), values, np.nan)


def _binding(subject: Subject) -> Procedure:
    """Whether two elements fight in a range."""
    asked = ranges(subject.unit)
    points = [_in_range(subject, each, EASY, SLOW) for each in asked]
    work = yield points
    tied = _where_meant(subject, asked, points, work, work.tie_up)
    rows = [(f"bind_{r.name}", "bind", tied[:, i], f"{r.label}: {{}}") for i, r in enumerate(asked)]
    return BatchFinding(seen=batch_looks(*rows, quiet=True))


def _coasting(subject: Subject) -> Procedure:
    """Whether the engine brakes the vehicle on lifting, in every range in which it should."""
    unit = subject.unit
    asked = [r for r in ranges(unit) if r.name != "reverse" and brakes_on_overrun(unit, r.gear)]
    points = [_in_range(subject, each, 0.0, COAST_SPEED) for each in asked]
    work = yield points
    lost = _where_meant(subject, asked, points, work, 1.0 - _held_on_overrun(subject, work))
    rows = [
        (f"coast_{r.name}", "coast", lost[:, i], f"lifting in {r.label}: {{}}") for i, r in enumerate(asked)
    ]
    return BatchFinding(seen=batch_looks(*rows, quiet=True))


def _held_on_overrun(subject: Subject, work: Workings) -> Array:
    """Share of the engine's braking that the elements pass on, (n, m): one-way clutches none, bands what they hold unwinding.

    A band that winds itself on in drive, T (e^(mu phi) - 1), is pushed off on the overrun, T (1 - e^(-mu phi)): Euler's belt.
    """
    plant, p = subject.plant, subject.plant.p
    unwound = np.exp(-p.wear_friction[..., None] * p.element_wrap)
    pressed_on = work.capacity * unwound * ~plant.is_one_way
    joint = pressed_on.copy()
    for one, other in plant.partners:
        joint[..., one] += pressed_on[..., other]
    share = plant.share[work.gear]
    held = np.where(share > 0, joint / np.maximum(share * COAST_TORQUE, 1e-9), np.inf)
    passed_on: Array = np.clip(held.min(-1), 0.0, 1.0) * subject.parameter("vehicle_shaft")[:, None]
    return passed_on


# ---------------------------------------------------------------------- steady driving
def _cruising(subject: Subject) -> BatchFinding:
    """Roughness of the engine under load, and whether the vehicle rolls when it is let go."""
    rough = MISFIRE_SHAKES * subject.parameter("engine_misfire") * HALF_PEDAL
    drag = subject.parameter("vehicle_brake_drag")
    return BatchFinding(
        seen=batch_looks(
            ("judder_steady", "judder", rough, "pulling steadily, in every gear: {}"),
            ("rolls", "rolls", drag, "let go in N: {}"),
            quiet=True,
        )
    )


def _lock_up(subject: Subject) -> Procedure | BatchFinding:
    """How the lock-up clutch holds while cruising, in units that have one."""
    return _locked(subject) if has_lock_up(subject) else BatchFinding()


def _locked(subject: Subject) -> Procedure:
    work = yield [cruise(subject), replace(cruise(subject), throttle=PULLING_PEDAL)]
    on = work.lockup_on.any(-1)
    slip = np.where(on, units.to_rpm(work.lockup_slip.max(-1)), np.nan)
    label, note = "Slip of the lock-up clutch, steady pedal and pulling", "lock-up does not come on"
    reading = subject.read("lockup_slip_rpm", label, slip, TACHOMETER, note=note)
    shaking = np.where(work.lockup_slip > LEAST_SLIP, work.judder, 0.0).max(-1)
    said = "with lock-up on, gone when the brake is touched: {}"
    return BatchFinding(
        measured=(where_reached(subject, reading, DRIVE, cruise(subject).road_speed),),
        seen=batch_looks(("judder_lockup", "judder", shaking, said), quiet=True),
    )


def _noises(subject: Subject) -> Procedure:
    """Whine of gears and pump, and knocks."""
    idling = AskedPoint("P", temperature=HOT)
    work = yield [idling, replace(idling, engine_speed=FREE_REV)]
    direct = " and ".join(
        name for name in subject.unit.gears if np.isclose(ratio(subject.unit, name), DIRECT)
    )
    reduced = (
        f"in the reduced gears and in R, gone in {direct}: {{}}" if direct else "in every gear and in R: {}"
    )
    return BatchFinding(
        seen=batch_looks(
            ("whine_gears", "whine", subject.state("planetary"), reduced),
            (
                "whine_pump",
                "pump_noise",
                _pump_noise(subject, work),
                "with engine speed, in every range and in P: {}",
            ),
            ("clunk", "play_knock", joint_play(subject), "on taking up and letting go the pedal: {}"),
            ("knock_idle", "knock", off_center(subject), "idling, from the bell housing: {}"),
            (
                "knock_load",
                "rattle",
                subject.parameter("converter_bolts_loose"),
                "from the bell housing as the pedal is taken up and let go, in P as well: {}",
            ),
            quiet=True,
        )
    )


def off_center(subject: Subject) -> Array:
    """How far the converter wanders off its center, (n,) m: unit off center, or a flex plate cracked all round."""
    cracked = CRACKED_WANDERS * subject.parameter("converter_plate_crack")
    wanders: Array = np.maximum(subject.parameter("pump_offset"), cracked)
    return wanders


def joint_play(subject: Subject) -> Array:
    """Play between unit and wheels, (n,) degrees."""
    play: Array = np.degrees(subject.parameter("vehicle_lash") + LOOSE * subject.state("driveline"))
    return play


def _pump_noise(subject: Subject, work: Workings) -> Array:
    """Noise of the pump in P, (n,), 0 none to 1: air in it, fluid withheld from it, worn faces, broken lugs."""
    plant, drive = subject.plant, subject.parameter("pump_drive")
    viscosity = plant.viscosity(subject.condition, np.array([[HOT]]))[1]
    density = subject.parameter("fluid_density_15c")[:, None]
    asked = subject.parameter("pump_displacement") * drive * FREE_REV / (2.0 * np.pi)
    got = subject.flat(plant.oil.pump_flow(subject.condition, FREE_REV, viscosity, density))
    starved = 1.0 - got / np.maximum(asked, 1e-12)
    worn = PUMP_HUM * np.maximum(subject.state("pump") - WORN_PUMP, 0.0)
    loudest: Array = np.maximum.reduce([work.air_time.max(-1), starved, worn, 1.0 - drive])
    return loudest


# ---------------------------------------------------------------------- at rest
def _at_rest(subject: Subject) -> Procedure:
    """The gear it starts in, whether it creeps in N, and whether the engine dies on stopping."""
    work = yield [AskedPoint(DRIVE, throttle=LIGHT_PEDAL), AskedPoint(DRIVE)]
    gears = [subject.unit.gear_index(gear) for gear in subject.unit.levers[DRIVE]]
    starts = np.argmax(work.gear[:, :1] == gears, -1)
    return BatchFinding(
        seen=batch_looks(
            ("start_gear", "start_gear", starts, "from rest in D, by road speed and rpm, it starts in {}"),
            ("creep_n", "creep", _creep(subject), "in N on the flat: {}"),
            ("dies_stopping", "dies", work.lockup_on[:, 1], "stopping in gear: {}"),
            quiet=True,
        )
    )


def _creep(subject: Subject) -> Array:
    """How hard it creeps in N, (n,): elements of first gear that drag without clearance, or that something presses on."""
    unit, applied = subject.unit, subject.plant.applied
    clearance = subject.plant.clearance(subject.condition)[:, 0]
    sound = subject.sheet.plant.clearance(subject.sheet.condition)[0, 0]
    first, neutral = (applied[unit.gear_index(unit.levers[lever][0])] for lever in (DRIVE, "N"))
    drags = np.zeros(subject.size)
    for column in (each.column for each in pressed(unit) if first[each.column] > neutral[each.column]):
        tight = 1.0 - clearance[:, column] / (TIGHT * sound[column])
        ways = ("crossfeed_body", "crossfeed_case", "port_shut")
        fed = sum(subject.parameter(f"element_{way}", column) for way in ways)
        drags = np.maximum.reduce([drags, tight, PRESSED_ON * fed])
    return drags
