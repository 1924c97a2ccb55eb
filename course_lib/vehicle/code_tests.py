"""What each word of `control_spec.CodeTest` tests: from what a controller believes and measures, never from what is true.

A test says for each operating point of a day whether it fails there. Shapes: n vehicles, m operating points.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.base.constants import GRAVITY
from course_lib.vehicle.adaptation import learned
from course_lib.vehicle.command import Electric
from course_lib.vehicle.control_spec import Code, CodeTest, Control
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.operating_point import Operation, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shifts_in_time import Shifts
from course_lib.vehicle.vehicle_batch import Vehicles
from course_lib.vehicle.wiring import leak_of

NO_CURRENT = 0.05  # A, under which a coil counts as open
CODE_PEDAL, LOCK_PEDAL = 0.10, 0.20  # pedal from which ratios and lock-up slip are judged
SLOWEST = units.from_mph(5.0)  # m/s, under which no ratio is judged
FAST = units.from_mph(15.0)
SEEN = 0.5  # share of time that a speed is seen, from which it counts as there
FULL_LOCK = 0.9  # of its pressure, from which a lock-up clutch is told to hold as well as it can
STUCK = 0.5
GROUNDED = 1e-3  # S to the case, from which the wire of a switch reads as closed: its pull-up is 1 kohm
NEVER_MOVES = 2.2  # K, that a sump must warm up by in a drive (4 F)
UNLOADED = 0.15  # of the current of a drive, that a controller alone draws: no solenoid is on while the engine is cranked
STARTER, CRANKS = 200.0, 3.0  # A that a starter draws, and s that a cold engine is cranked, from memory
AT_LIMIT = 0.99  # of the way to a limit
SLIPPING_GEARS = 3  # that must fail in one trip


@dataclass(frozen=True)
class Seen:
    """What there is to test: the vehicles on their day, seconds a meter at each point (n, m), and the shifts of the day."""

    plant: Plant
    op: Operation
    seconds: Array
    work: Workings
    electric: Electric
    shifts: Shifts
    memory: Memory

    @property
    def control(self) -> Control:
        """Of their unit."""
        control = self.plant.unit.control
        assert control is not None
        return control

    def solenoid(self, code: Code) -> int:
        """Place of the solenoid that a code is of."""
        return self.control.solenoid_ids.index(code.of)

    def sensor(self, name: str) -> int:
        """Place of a sensor."""
        return self.control.sensor_ids.index(name)

    def element(self, code: Code) -> int:
        """Column of the element that a code is of, by itself, by its solenoid or by its pressure switch; -1 none."""
        control, ids = self.control, self.plant.unit.element_ids
        owners = {each.id: each.drives for each in control.solenoids}
        owners |= {each.id: each.of for each in control.sensors if each.reads == "pressure"}
        name = owners.get(code.of, code.of)
        return ids.index(name) if name in ids else -1

    # ------------------------------------------------------------------ speeds
    @cached_property
    def turning(self) -> Flags:
        """Whether the vehicle moves well in a gear with the relay on and both speeds seen."""
        e = self.electric
        both = (e.turbine_seen > SEEN) & (e.output_seen > SEEN)
        moving = both & (self.op.road_speed > SLOWEST) & (self.op.throttle > CODE_PEDAL)
        turning: Flags = moving & e.relay_on & (self.plant.ratio[e.wanted_gear] != 0.0)
        return turning

    @cached_property
    def turbine(self) -> Array:
        """Turbine speed [rad/s] that is measured: with what slips, and the engine's where no gear holds."""
        w, e, ratio = self.work, self.electric, np.abs(self.plant.ratio[self.work.gear])
        true = np.where(ratio > 0.0, ratio * self.shaft + w.slip, w.engine_speed)
        return true * (e.turbine_seen > SEEN)

    @cached_property
    def shaft(self) -> Array:
        """Speed of the output [rad/s]."""
        p = self.plant.p
        return self.op.road_speed / p.vehicle_tire_radius * p.vehicle_axle

    @cached_property
    def off_ratio(self) -> Array:
        """How far turbine over output is off the wanted gear's ratio, a share; 0 where it is not judged."""
        asked = np.abs(self.plant.ratio[self.electric.wanted_gear])
        shown = self.turbine / np.maximum(self.shaft, 1.0)
        return np.abs(shown / np.where(asked > 0.0, asked, 1.0) - 1.0) * self.turning

    @cached_property
    def wrong_ratio(self) -> Flags:
        """Whether a ratio code of the wanted gear fails."""
        limits = np.full(len(self.plant.unit.gears), np.inf)
        for code in self.control.codes:
            if code.test == "ratio":
                limits[self.plant.unit.gear_index(code.of)] = code.limit
        return self.off_ratio > limits[self.electric.wanted_gear]

    @cached_property
    def lock_slip(self) -> Array:
        """Engine speed less turbine speed [rad/s]; infinite where the turbine is not seen."""
        return np.where(self.electric.turbine_seen > SEEN, self.work.engine_speed - self.turbine, np.inf)

    @cached_property
    def dragged(self) -> Array:
        """How much the output is slowed against what the engine gives, in parts of gravity: what a tie-up shows."""
        w, p = self.work, self.plant.p
        force = w.tie_up * w.turbine_torque * np.abs(self.plant.ratio[w.gear])
        force = force * p.vehicle_axle / p.vehicle_tire_radius
        driven = (self.op.throttle > CODE_PEDAL) & (self.op.road_speed > 0.0) & self.electric.relay_on
        slowed: Array = force / (p.vehicle_mass * GRAVITY) * driven
        return slowed

    # ------------------------------------------------------------------ gears of the day
    def in_gears(self, failing: Flags, gears: Flags) -> Flags:
        """Whether each wanted gear among `gears` (G,) that the day has fails somewhere, (n, 1); not where it has none of them."""
        wanted, there = self.electric.wanted_gear, self.seconds > 0.0
        found, any_gear = np.ones((len(wanted), 1), bool), np.zeros((len(wanted), 1), bool)
        for gear in np.flatnonzero(gears):
            mine = (wanted == gear) & there & self.turning
            driven = mine.any(-1, keepdims=True)
            found &= ~driven | (failing & mine).any(-1, keepdims=True)
            any_gear |= driven
        return found & any_gear

    def uses(self, column: int) -> Flags:
        """Which gears need an element, (G,); all of them where it is none, as the line."""
        applied = self.plant.applied[:, column] > 0.0 if column >= 0 else np.ones(len(self.plant.ratio), bool)
        driving: Flags = applied & (self.plant.ratio > 0.0)
        return driving

    def closed(self, code: Code) -> Flags:
        """Whether a pressure switch tells of pressure; so does its wire where it touches the case."""
        place, p = self.sensor(code.of), self.plant.p
        pressure = self.work.circuit[..., self.element(code)]
        found: Flags = (pressure > p.sensor_threshold[..., place]) | (p.sensor_stuck[..., place] > STUCK)
        twist = self.plant.controls.twist(self.op)
        return found | (leak_of(self.plant, twist, self.control.sensors[place].wires) > GROUNDED)


# ---------------------------------------------------------------------- supply and currents
def cranking_volts(vehicles: Vehicles) -> Array:
    """Volts at the battery while the starter draws, (n, 1)."""
    volts: Array = vehicles.p.supply_rest - STARTER * vehicles.p.supply_resistance
    return volts


def volts_judged(seen: Seen, code: Code) -> Array:
    """Volts by which a low supply is judged, (n, m): under way, and where that is soon enough also the least of the day's first
    start, while the starter draws."""
    running = seen.electric.volts
    if code.debounce_s > CRANKS:
        return running
    lost = UNLOADED * (seen.plant.p.supply_charge - running)
    starting = np.minimum(running, cranking_volts(seen.plant) - lost)
    return np.where(np.isnan(seen.op.temperature), running, starting)


def _supply_low(seen: Seen, code: Code) -> Flags:
    low: Flags = volts_judged(seen, code) < code.limit
    return low


def _supply_open(seen: Seen, code: Code) -> Flags:
    return (seen.electric.relay_volts < code.limit) & seen.electric.relay_on


def _current(seen: Seen, code: Code) -> Flags:
    e, s = seen.electric, seen.solenoid(code)
    wanted = np.where(np.isfinite(e.wanted_current[..., s]), e.wanted_current[..., s], 0.0)
    return (np.abs(e.measured[..., s] - wanted) > code.limit) & (wanted > 0.0) & e.relay_on


def _open(seen: Seen, code: Code) -> Flags:
    e, s = seen.electric, seen.solenoid(code)
    return (e.duty[..., s] > code.limit) & (e.measured[..., s] < NO_CURRENT) & e.relay_on


def _low(seen: Seen, code: Code) -> Flags:
    return (seen.electric.pin_volts_off[..., seen.solenoid(code)] < code.limit) & seen.electric.relay_on


def _high(seen: Seen, code: Code) -> Flags:
    return (seen.electric.measured[..., seen.solenoid(code)] > code.limit) & seen.electric.relay_on


# ---------------------------------------------------------------------- gears and lock-up
def _ratio(seen: Seen, code: Code) -> Flags:
    mine: Flags = seen.electric.wanted_gear == seen.plant.unit.gear_index(code.of)
    return seen.wrong_ratio & mine


def _slips(seen: Seen, _code: Code) -> Flags:
    wanted, gears = seen.electric.wanted_gear, range(len(seen.plant.ratio))
    each = [(seen.wrong_ratio & (wanted == gear)).any(-1, keepdims=True) for gear in gears]
    many: Flags = np.sum(each, axis=0) >= SLIPPING_GEARS
    return seen.wrong_ratio & many


def _stuck_off(seen: Seen, code: Code) -> Flags:
    uses = seen.uses(seen.element(code))
    each = seen.in_gears(seen.wrong_ratio, uses)
    others = (seen.wrong_ratio & ~uses[seen.electric.wanted_gear]).any(-1, keepdims=True)
    return seen.wrong_ratio & each & ~others


def _stuck_on(seen: Seen, code: Code) -> Flags:
    column = seen.element(code)
    ties = seen.dragged > code.limit
    if column < 0:
        return np.zeros_like(ties)
    free = ~seen.uses(column)[seen.electric.wanted_gear]
    own = (ties & ~free).any(-1, keepdims=True)
    return ties & free & ~own


def _lockup_slips(seen: Seen, code: Code) -> Flags:
    e = seen.electric
    told = (e.lockup_command > STUCK) & e.relay_on & (e.turbine_seen > SEEN)
    return told & (seen.lock_slip > code.limit)


def _lockup_stuck(seen: Seen, code: Code) -> Flags:
    free = (seen.electric.lockup_command < STUCK) & seen.turning & (seen.op.throttle > LOCK_PEDAL)
    return free & (np.abs(seen.lock_slip) < code.limit)


# ---------------------------------------------------------------------- shifts and what is learned
def _shift_time(failing: Callable[[Array, float], Flags]) -> Callable[[Seen, Code], Flags]:
    """A test of the sliding time of upshifts; it fails in the gears to which they lead."""

    def test(seen: Seen, code: Code) -> Flags:
        gears = seen.plant.unit.levers["D"]
        wrong = failing(seen.shifts.up.slide, code.limit) & (seen.shifts.up.slide > 0.0)
        table = np.zeros((len(wrong), len(seen.plant.ratio)), bool)
        table[:, [seen.plant.unit.gear_index(gear) for gear in gears[1:]]] = wrong
        return np.take_along_axis(table, seen.electric.wanted_gear, 1) & seen.turning

    return test


def _adapt_limit(seen: Seen, code: Code) -> Flags:
    p, column = seen.plant.p, seen.element(code)
    fill, pressure = learned(p, seen.memory)
    takes = _comes_on(seen.plant, column)
    at = [_at_end(fill[:, 0, column], p.control_fill_least[:, 0], p.control_fill_most[:, 0])]
    at += [
        _at_end(pressure[:, 0, s], p.control_pressure_least[:, 0], p.control_pressure_most[:, 0])
        for s in np.flatnonzero(takes)
    ]
    needs = seen.uses(column)[seen.electric.wanted_gear]
    any_at: Flags = np.any(at, axis=0)
    return any_at[:, None] & needs & seen.turning


def _comes_on(plant: Plant, column: int) -> Flags:
    """Whether an element comes on in each upshift, (S,)."""
    gears = [plant.unit.gear_index(gear) for gear in plant.unit.levers["D"]]
    comes: Flags = (plant.applied[gears[1:], column] > 0.0) & (plant.applied[gears[:-1], column] == 0.0)
    return comes


def _at_end(value: Array, least: Array, most: Array) -> Flags:
    at: Flags = (value >= AT_LIMIT * most) | (value <= AT_LIMIT * least)
    return at


# ---------------------------------------------------------------------- sensors
def _cold_start(seen: Seen, code: Code) -> Flags:
    believed, cold = seen.electric.believed_temperature, ~np.isnan(seen.op.temperature)
    if not cold.any() or cold.all():
        return np.zeros(believed.shape, bool)
    morning = believed[:, cold]
    differs = np.abs(morning - seen.op.temperature[cold]) > code.limit
    moves = np.abs(believed[:, ~cold].max(-1, keepdims=True) - morning) > NEVER_MOVES
    failing = np.zeros(believed.shape, bool)
    failing[:, cold] = differs | ~moves
    return failing


def _turbine_none(seen: Seen, code: Code) -> Flags:
    e = seen.electric
    return (e.turbine_seen < SEEN) & (seen.work.engine_speed > code.limit) & (seen.op.road_speed > SLOWEST)


def _turbine_jumps(seen: Seen, _code: Code) -> Flags:
    share = seen.electric.turbine_seen
    return (share > 0.02) & (share < 0.98) & (seen.op.road_speed > SLOWEST)


def _output_none(seen: Seen, code: Code) -> Flags:
    return (seen.electric.output_seen < SEEN) & (seen.turbine > code.limit) & (seen.op.road_speed > 0.0)


def _output_jumps(seen: Seen, code: Code) -> Flags:
    share = seen.electric.output_seen
    goes = (share > 0.02) & (share < 0.98) & (seen.turbine > 0.0) & (seen.op.road_speed > SLOWEST)
    # where a tooth is missing one count takes twice as long, and the speed drops to half of what it is
    short = seen.plant.p.sensor_teeth_short[..., seen.sensor(code.of)] > 0.0
    jumps: Flags = goes | (short & (0.5 * seen.shaft > code.limit) & (share > SEEN))
    return jumps


def _output_wheels(seen: Seen, code: Code) -> Flags:
    e = seen.electric
    wheels = np.where(np.isfinite(e.wheel_speed), e.wheel_speed, e.believed_speed)
    return (np.abs(e.believed_speed - wheels) > code.limit * np.maximum(wheels, SLOWEST)) & (
        e.output_seen > SEEN
    )


def _range_drive(seen: Seen, _code: Code) -> Flags:
    levers = list(seen.plant.unit.levers)
    out = [levers.index(lever) for lever in "PN" if lever in levers]
    moves = (seen.op.road_speed > FAST) & (seen.op.throttle > CODE_PEDAL)
    return np.isin(seen.electric.lever_seen, out) & moves


def _applied(seen: Seen, code: Code) -> Flags:
    applied: Flags = seen.plant.applied[seen.electric.wanted_gear, seen.element(code)] > 0.0
    return applied


def _brake(seen: Seen, _code: Code) -> Flags:
    return seen.electric.brake_on & (seen.op.road_speed > SLOWEST) & (seen.op.throttle > CODE_PEDAL)


def _not_heard(seen: Seen, code: Code) -> Flags:
    e = seen.electric
    heard = {"engine": e.believed_torque, "brakes": e.wheel_speed}
    return np.isnan(heard[code.of]) if code.of in heard else np.zeros(e.volts.shape, bool)


def _always(value: Flags, seen: Seen) -> Flags:
    """A failing that does not depend on what the vehicle is doing."""
    return np.broadcast_to(value, seen.electric.volts.shape)


TESTS: dict[CodeTest, Callable[[Seen, Code], Flags]] = {
    "supply_low": _supply_low,
    "supply_high": lambda s, c: s.electric.volts > c.limit,
    "supply_open": _supply_open,
    "current": _current,
    "open": _open,
    "low": _low,
    "high": _high,
    "ratio": _ratio,
    "slips": _slips,
    "stuck_off": _stuck_off,
    "stuck_on": _stuck_on,
    "lockup_slips": _lockup_slips,
    "lockup_stuck": _lockup_stuck,
    "shift_short": _shift_time(np.less),
    "shift_long": _shift_time(np.greater),
    "adapt_limit": _adapt_limit,
    "fluid_cold_start": _cold_start,
    "fluid_low": lambda s, c: s.electric.fluid_volts < c.limit,
    "fluid_high": lambda s, c: s.electric.fluid_volts > c.limit,
    "fluid_jumps": lambda s, _c: _always(
        np.zeros((1, 1), bool), s
    ),  # only a contact that opens for moments makes it jump
    "fluid_hot": lambda s, c: s.electric.believed_temperature > c.limit,
    "turbine_none": _turbine_none,
    "turbine_jumps": _turbine_jumps,
    "output_none": _output_none,
    "output_jumps": _output_jumps,
    "output_wheels": _output_wheels,
    "range_pattern": lambda s, _c: s.electric.lever_seen < 0,
    "range_drive": _range_drive,
    "switch_open": lambda s, c: _applied(s, c) & ~s.closed(c) & s.turning,
    "switch_closed": lambda s, c: ~_applied(s, c) & s.closed(c) & s.turning,
    "brake": _brake,
    "misfire": lambda s, c: _always(s.plant.p.engine_misfire > c.limit, s),
    "pedal": lambda s, _c: _always(s.plant.p.sensor_jumps.max(-1) > 0.0, s),
    "not_heard": _not_heard,
    "data_set": lambda s, c: _always(s.plant.p.control_wrong_number > c.limit, s),
}
