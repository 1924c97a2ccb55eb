"""What an electronic controller wants at each point, of what it believes: gear, lock-up, pressures, currents.

n vehicles, m operating points, E holding elements, S solenoids. It knows the numbers of the data file, not those of its vehicle;
of the vehicle it knows what it measures.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import converter, solenoid
from course_lib.vehicle import schedule
from course_lib.vehicle.actions import Actions
from course_lib.vehicle.beliefs import DEFAULT, Beliefs
from course_lib.vehicle.command import Asked, Command
from course_lib.vehicle.control_tables import ControlTables, control_tables
from course_lib.vehicle.operating_point import Condition, Operation
from course_lib.vehicle.powertrain import FreeRun, Powertrain
from course_lib.vehicle.vehicle_batch import TINY, Vehicles
from course_lib.vehicle.wiring import HALF, WireResistances

LOCKUP_PEDAL = 0.65  # pedal past which the lock-up clutch lets go
LOCKUP_WARM = units.from_fahrenheit(68.0)  # K from which it may hold
LOCKUP_LINE = 1.15  # line pressure against that wanted behind its piston


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What is asked of the vehicles at each point, (n, m) where it is an array; acts: what is done about codes, None nothing."""

    op: Operation
    condition: Condition
    temperature: Array  # K, the true one of the sump
    throttle: Array
    wires: WireResistances
    acts: Actions | None
    asked: Asked | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What the controller wants at each point, (n, m) unless said otherwise."""

    gear: Places
    run: FreeRun  # how everything turns in that gear
    torque: Array  # N m of the engine, as it is told
    line: Array  # Pa
    pressure: Array  # (n, m, E) Pa
    lock: Array  # Pa behind the lock-up piston
    locked: Flags
    current: Array  # (n, m, S) A, infinite for one that is simply on


def at_points(acts: Actions, op: Operation) -> Actions | None:
    """What is done about codes at each point, (n, m) in place of (n, 1): only where it acts; None where nothing is done."""
    on = op.acting > HALF
    if not (acts.bits.any() and on.any()):
        return None
    values = {f.name: getattr(acts, f.name) for f in fields(acts)}
    return replace(acts, **{n: v * (on if v.ndim == 2 else on[:, None]) for n, v in values.items()})


def obeying(known: Beliefs, acts: Actions | None) -> Beliefs:
    """What it goes by while it acts: a default for a sensor that is not believed, the wheels in place of the output."""
    if acts is None:
        return known
    wheels = acts.use_wheels & ~np.isnan(known.wheel_speed)
    return replace(
        known,
        temperature=np.where(acts.default_temperature, np.float32(DEFAULT), known.temperature),
        road_speed=np.where(wheels, known.wheel_speed, known.road_speed),
    )


def wants(vehicles: Vehicles, moment: Moment, known: Beliefs) -> Wants:
    """What the controller wants."""
    tables = control_tables(vehicles.unit)
    gear = _gear(vehicles, moment, known)
    locked = _locks(vehicles, moment, known, gear)
    run, lock = _run(vehicles, moment, gear, locked)
    torque = run.taken * vehicles.p.control_torque_scale
    line = _line(vehicles, moment, gear, _turbine_torque(tables, known, run, torque), LOCKUP_LINE * lock)
    pressure = _pressures(vehicles, moment, tables, gear)
    return Wants(
        gear=gear,
        run=run,
        torque=torque,
        line=line,
        pressure=pressure,
        lock=lock,
        locked=locked,
        current=_currents(vehicles, moment, tables, (line, pressure, lock)),
    )


# ---------------------------------------------------------------------- gear and lock-up
def _gear(vehicles: Vehicles, moment: Moment, known: Beliefs) -> Places:
    """The gear of the schedule, or the one that is asked for."""
    if moment.asked is not None:
        return np.broadcast_to(moment.asked.gear, moment.temperature.shape).copy()
    drive = list(vehicles.unit.levers).index("D")
    seen = np.where(known.lever < 0, drive, known.lever)
    highest = np.fmax(known.road_speed, known.wheel_speed)
    return schedule.wanted_gear(
        vehicles, seen, moment.throttle, (known.road_speed, highest), known.temperature, moment.acts
    )


def _locks(vehicles: Vehicles, moment: Moment, known: Beliefs, gear: Places) -> Flags:
    """Whether the lock-up clutch is wanted."""
    v, p = vehicles, vehicles.p
    spared = (known.temperature > schedule.HOT_MODE) & control_tables(v.unit).upper[gear]
    locked = v.lockup_gears[gear] | spared
    locked &= (known.road_speed > p.lockup_speed) & (moment.throttle < LOCKUP_PEDAL)
    locked &= (known.temperature > LOCKUP_WARM) & ~known.brake_on & (p.lockup_fitted > HALF)
    wanted: Flags = (
        locked if moment.acts is None else locked & ~moment.acts.lockup_off & ~moment.acts.relay_off
    )
    return wanted


def _run(vehicles: Vehicles, moment: Moment, gear: Places, locked: Flags) -> tuple[FreeRun, Array]:
    """How everything turns in the wanted gear with the slip in the lock-up clutch that the controller keeps, and the pressure
    [Pa] that this takes behind its piston: it adjusts it until the slip is right, so it finds the true one."""
    v, train = vehicles, Powertrain(vehicles)
    wide = moment.temperature.shape
    nothing = np.zeros(wide, v.dtype)
    command = Command(
        throttle=moment.throttle,
        signal=nothing,
        gear=gear,
        reverse=v.ratio[gear] < 0,
        goal=nothing,
        astray=nothing,
        lifted=nothing,
        locked=locked,
        lock_pressure=nothing,
    )
    lock = nothing
    if locked.any():
        most = control_tables(v.unit).number("control_line_full")
        lock = train.lock_pressure_for(moment.op, command, moment.condition.lockup, v.p.control_lockup_slip)
        lock = np.minimum(lock * locked, most).astype(v.dtype)
    return train.free_run(moment.op, replace(command, lock_pressure=lock), moment.condition.lockup), lock


# ---------------------------------------------------------------------- pressures
def _turbine_torque(tables: ControlTables, known: Beliefs, run: FreeRun, torque: Array) -> Array:
    """Turbine torque [N m] it reckons with: that of the engine, and a sound converter at the speeds it sees."""
    ratio = np.where(known.turbine_seen > HALF, run.turbine, 0.0) / np.maximum(run.speed, TINY)
    law = (tables.number(f"converter_{name}") for name in ("stall_ratio", "coupling"))
    believed: Array = torque * converter.torque_ratio(ratio, *law)
    return believed


def _line(vehicles: Vehicles, moment: Moment, gear: Places, torque: Array, least: Array) -> Array:
    """Line pressure [Pa] that is wanted, least or more: the highest need in the gear with safety, and some to spare."""
    v, p, acts, op = vehicles, vehicles.p, moment.acts, moment.op
    tables = control_tables(v.unit)
    if tables.line < 0:  # a spring sets it
        return (p.control_line_full + 0.0 * torque).astype(v.dtype)
    asked, line = p.control_safety * torque, np.zeros_like(torque)
    for springs, needed in tables.holding(v.applied):
        line = np.maximum(line, springs.astype(v.dtype)[gear] + needed.astype(v.dtype)[gear] * asked)
    line = line + p.control_line_spare
    ratio = v.ratio[gear]
    least = np.maximum(least, np.where(ratio > 0.0, p.control_line_drive, p.control_line_least))
    line = np.maximum(line, np.where(ratio < 0.0, p.control_line_reverse, least))
    if acts is not None:
        line = np.where(acts.line_full | acts.relay_off, p.control_line_full, line + acts.line_up)
    by_hand = p.control_line_least + op.signal * (p.control_line_full - p.control_line_least)
    line = np.where(np.isnan(op.signal), line, by_hand)
    clipped: Array = np.clip(line, p.control_line_least, p.control_line_full).astype(v.dtype)
    return clipped


def _pressures(vehicles: Vehicles, moment: Moment, tables: ControlTables, gear: Places) -> Array:
    """Pressure [Pa] that is wanted in each circuit, (n, m, E): all of it in those that hold."""
    full = np.zeros(tables.commanded.shape[1])
    works = tables.works_on >= 0
    full[tables.works_on[works]] = tables.law("full_pressure")[works]
    wanted = (tables.commanded * full).astype(vehicles.dtype)[gear]
    if moment.asked is not None:
        wanted = np.where(np.isnan(moment.asked.pressure), wanted, moment.asked.pressure)
    return wanted.astype(vehicles.dtype)


def _currents(
    vehicles: Vehicles, moment: Moment, tables: ControlTables, wanted: tuple[Array, Array, Array]
) -> Array:
    """Current [A] that each driver is to give, (n, m, S), by the sound law of its solenoid."""
    line, pressure, lock = wanted
    by_solenoid = pressure.take(np.maximum(tables.works_on, 0), -1)
    if tables.line >= 0:
        by_solenoid[..., tables.line] = line
    if tables.lockup >= 0:
        by_solenoid[..., tables.lockup] = _integrated(vehicles, moment, tables.lockup, lock)
    law = (
        tables.law(name).astype(vehicles.dtype) for name in ("zero_current", "full_current", "full_pressure")
    )
    current = solenoid.wanted_current(by_solenoid, *law)
    current = np.where(tables.switched, np.where(by_solenoid > 0.0, np.inf, 0.0), current)
    if moment.acts is not None:
        off = moment.acts.relay_off[..., None] | moment.acts.driver_off
        current = np.where(off, 0.0, current)
    return current.astype(vehicles.dtype)


def _integrated(vehicles: Vehicles, moment: Moment, column: int, lock: Array) -> Array:
    """Pressure [Pa] that is asked of a solenoid until its valve, worn as it is, gives the one that the slip needs."""
    p = vehicles.p
    thickness = vehicles.thickness(moment.condition, moment.temperature)
    left = solenoid.valve_pressure(np.ones_like(lock), p.solenoid_bore[..., column], 0.0, thickness)
    asked: Array = (lock > 0.0) * (lock + p.solenoid_hysteresis[..., column]) / left
    return asked
