"""Electronic controls: from what the controller wants to currents, and to the pressures and the gear that come of them.

n vehicles, m operating points, E holding elements, S solenoids.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import solenoid
from course_lib.physics.network import Coils, Currents, regulated_currents
from course_lib.vehicle import schedule
from course_lib.vehicle.actions import actions
from course_lib.vehicle.beliefs import Beliefs, beliefs, shown_share
from course_lib.vehicle.command import Asked, Command, Electric
from course_lib.vehicle.control_face import Controls
from course_lib.vehicle.control_tables import ControlTables, control_tables
from course_lib.vehicle.controller import Moment, Wants, at_points, obeying, wants
from course_lib.vehicle.gear_found import gear_found
from course_lib.vehicle.operating_point import Condition, Operation
from course_lib.vehicle.vehicle_batch import TINY
from course_lib.vehicle.wiring import HALF, PULL_DOWN, plugged, reduced, wire_resistances

TOP_SPEED = 45.0  # m/s; a shift that needs more never comes
DROPS_OUT = 8.5  # V across the controller, under which the power relay lets go


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gets:
    """What comes of what is wanted, (n, m, S) unless said otherwise."""

    flows: Currents
    relay_on: Flags  # (n, m)
    volts: Array  # (n, m) V across the controller
    pin_volts_off: Array  # V
    current: Array  # A through each coil
    pressure: Array  # Pa that its valve gives


class ElectronicControls(Controls):
    """Controller, wires, solenoids and valves of a batch of vehicles."""

    @property
    def tables(self) -> ControlTables:
        """What the controller takes for granted."""
        return control_tables(self.vehicles.unit)

    # ------------------------------------------------------------------ speeds
    def upshift_speeds(self, throttle: float) -> Array:
        """Road speed [m/s] of each upshift at a pedal position, (n, S); infinite where it never comes."""
        speed = schedule.upshifts(self.vehicles, throttle) / shown_share(self.vehicles)
        return np.where(speed < TOP_SPEED, speed, np.inf)

    def downshift_speeds(self) -> Array:
        """Road speed [m/s] of each downshift with the pedal released, (n, S)."""
        speed: Array = self.vehicles.p.shift_back[:, 0] / shown_share(self.vehicles)
        return speed

    def kickdown_speeds(self) -> Array:
        """Highest road speed [m/s] at which the pedal on the floor fetches the lower gear, (n, S)."""
        v, p = self.vehicles, self.vehicles.p
        lower = [v.unit.gear_index(gear) for gear in max(v.unit.levers.values(), key=len)[:-1]]
        fastest = schedule.FASTEST / v.ratio[lower] / p.vehicle_axle * p.vehicle_tire_radius
        fetched = schedule.FETCHED * schedule.upshifts(v, 1.0) / shown_share(v)
        return np.minimum(fetched, fastest)

    # ------------------------------------------------------------------ all of it
    def command(
        self, op: Operation, condition: Condition, temperature: Array, asked: Asked | None = None
    ) -> Command:
        """Everything that the controls make of `op`; asked: what is wanted in place of the controller's choice."""
        v, shape = self.vehicles, temperature.shape
        moment = self._moment(op, condition, temperature, asked)
        known = beliefs(v, op, temperature, moment.wires)
        wanted = wants(v, moment, obeying(known, moment.acts))
        gets = self._gets(moment, wanted)
        levers = [list(v.unit.levers).index(lever) for lever in op.lever]
        pressed = self._pressed(gets.pressure, levers)
        goal = self._goal(gets.pressure, op)
        gear = self._found(moment, wanted, (pressed, goal), levers)
        lifted = v.p.vehicle_mount_lift * v.p.vehicle_mount_port * self.twisted(op, moment.throttle)
        return Command(
            throttle=moment.throttle,
            signal=np.full(shape, np.nan, v.dtype),
            gear=gear,
            reverse=v.ratio[gear] < 0,
            goal=goal,
            astray=np.broadcast_to(1.0 - op.nudged, shape).astype(v.dtype),
            lifted=np.broadcast_to(lifted, shape).astype(v.dtype),
            locked=self._locked(wanted, gets, gear),
            lock_pressure=self._lock_pressure(gets.pressure, goal),
            pressed=pressed,
            electric=self._electric(moment, known, wanted, gets, gear),
        )

    def _moment(self, op: Operation, condition: Condition, temperature: Array, asked: Asked | None) -> Moment:
        """What is asked of the vehicles."""
        return Moment(
            op=op,
            condition=condition,
            temperature=temperature,
            throttle=np.broadcast_to(self.throttle(op), temperature.shape),
            wires=wire_resistances(self.vehicles, temperature),
            acts=at_points(actions(condition.memory, self.vehicles.unit), op),
            asked=asked,
        )

    # ------------------------------------------------------------------ currents and pressures
    def _gets(self, moment: Moment, wanted: Wants) -> _Gets:
        """Currents, volts, and what the valve behind each solenoid gives."""
        v, p, tables = self.vehicles, self.vehicles.p, self.tables
        twist = self.twisted(moment.op, moment.throttle)
        coils, supply = reduced(v, moment.temperature, moment.wires, twist)
        most = np.where(tables.switched, 1.0, tables.number("control_most_duty")).astype(v.dtype)
        flows = regulated_currents(wanted.current, coils, supply, most)
        own = (
            p.control_load / supply.base
        )  # of the volts at the controller's plug; its own supply wire takes the rest
        volts = flows.supply * own
        relay_on = volts > DROPS_OUT
        if moment.acts is not None:
            relay_on = relay_on & ~moment.acts.relay_off
        current = plugged(v, flows.current) * relay_on[..., None]
        pressure = self._valves(moment, current)
        off = self._pin_volts_off(coils, flows) * relay_on[..., None]
        return _Gets(
            flows=flows, relay_on=relay_on, volts=volts, pin_volts_off=off, current=current, pressure=pressure
        )

    def _pin_volts_off(self, coils: Coils, flows: Currents) -> Array:
        """Volts [V] at the controller's pins while their drivers are off: those of the feed, less what a leak takes."""
        feeds = flows.feeds[..., coils.feed]
        at_pin = feeds / (1.0 + coils.coil * (coils.leak + PULL_DOWN))
        through: Array = at_pin / (1.0 + coils.wire * PULL_DOWN)
        return through

    def _valves(self, moment: Moment, current: Array) -> Array:
        """Pressure [Pa] that the valve behind each solenoid gives, (n, m, S)."""
        v, p = self.vehicles, self.vehicles.p
        law = p.solenoid_zero_current, p.solenoid_full_current
        asked = solenoid.linear_pressure(current, *law, p.solenoid_full_pressure)
        if self.tables.switched.any():
            drawn = solenoid.pull_in(current, *law) * p.solenoid_full_pressure
            asked = np.where(self.tables.switched, drawn, asked)
        thickness = v.thickness(moment.condition, moment.temperature)[..., None]
        given = solenoid.valve_pressure(asked, p.solenoid_bore, p.solenoid_hysteresis, thickness)
        return given.astype(v.dtype)

    def _pressed(self, pressure: Array, levers: list[int]) -> Array:
        """Pressure [Pa] that each element gets at most, (n, m, E): past the manual valve, which may lift it to all there is."""
        v, tables = self.vehicles, self.tables
        pressed = np.zeros((*pressure.shape[:2], len(v.is_band)), v.dtype)
        for place, column in enumerate(tables.works_on):
            if column >= 0:
                pressed[..., column] = pressure[..., place] * tables.fed[levers, column]
        return np.where(tables.lifted[levers], np.inf, pressed).astype(v.dtype)

    def _goal(self, pressure: Array, op: Operation) -> Array:
        """Pressure [Pa] at which the regulator aims: what its solenoid gives, not less than its spring; after a step of the pedal
        it comes as late as its valve, and from the least of a forward gear."""
        p, line = self.vehicles.p, self.tables.line
        asked = p.control_line_full * np.ones_like(pressure[..., 0]) if line < 0 else pressure[..., line]
        asked = np.maximum(asked, p.control_line_least)
        if line >= 0 and not np.isnan(op.pressed_for).all():
            missing = np.maximum(asked - p.control_line_drive, 0.0)
            since = np.where(np.isnan(op.pressed_for), np.inf, op.pressed_for)
            asked = asked - missing * np.exp(-since / np.maximum(p.solenoid_lag[..., line], TINY))
        return asked.astype(self.vehicles.dtype)

    def _lock_pressure(self, pressure: Array, goal: Array) -> Array:
        """Pressure [Pa] behind the lock-up piston."""
        lockup = self.tables.lockup
        if lockup < 0:
            return np.zeros_like(goal)
        return np.where(self.vehicles.p.lockup_stuck > HALF, goal, np.minimum(pressure[..., lockup], goal))

    def _locked(self, wanted: Wants, gets: _Gets, gear: Places) -> Flags:
        """Whether there is anything behind the lock-up piston, asked for or not."""
        v, lockup = self.vehicles, self.tables.lockup
        if lockup < 0:
            return np.zeros_like(wanted.locked)
        held = (gets.pressure[..., lockup] > 0.0) | (v.p.lockup_stuck > HALF)
        locked: Flags = held & (np.abs(v.ratio[gear]) > 0.0) & (v.p.lockup_fitted > HALF)
        return locked

    def _found(self, moment: Moment, wanted: Wants, given: tuple[Array, Array], levers: list[int]) -> Places:
        """The gear that the pressures make."""
        if moment.asked is not None:
            return wanted.gear
        pressed, goal = given[0], given[1][..., None]
        pressures = np.minimum(wanted.pressure, goal), np.minimum(pressed, goal), self.tables.lifted[levers]
        return gear_found(
            self.vehicles, moment.condition, moment.temperature, wanted.gear, wanted.run.torque, pressures
        )

    # ------------------------------------------------------------------ what is known of it
    def _electric(self, moment: Moment, known: Beliefs, wanted: Wants, gets: _Gets, gear: Places) -> Electric:
        """What the controller believed, wanted and got."""
        on, acts, nothing = gets.relay_on, moment.acts, np.zeros(gear.shape, int)
        p, kind, each_on = self.vehicles.p, self.vehicles.dtype, gets.relay_on[..., None]
        return Electric(
            **_believed(known, obeying(known, acts)),
            **_got(gets),
            believed_turbine=wanted.run.turbine,
            believed_torque=wanted.torque,
            lever_seen=known.lever.copy(),
            brake_on=known.brake_on.copy(),
            action=nothing if acts is None else acts.bits + nothing,
            wanted_gear=np.where(on, wanted.gear, gear),
            wanted_line=np.where(on, wanted.line, p.control_line_full).astype(kind),
            wanted_pressure=wanted.pressure,
            wanted_lock=wanted.lock * on,
            lockup_command=(wanted.locked & on).astype(kind),
            wanted_current=np.where(each_on, wanted.current, 0.0).astype(kind),
            relay_on=on,
        )


def _believed(known: Beliefs, obeyed: Beliefs) -> dict[str, Array]:
    """What `Electric` says of sensors: as they tell, and as the controller goes by them."""
    return {
        "believed_temperature": obeyed.temperature,
        "fluid_volts": known.fluid_volts,
        "believed_speed": obeyed.road_speed,
        "wheel_speed": known.wheel_speed,
        "turbine_seen": known.turbine_seen,
        "output_seen": known.output_seen,
    }


def _got(gets: _Gets) -> dict[str, Array]:
    """What `Electric` says of volts, currents and pressures."""
    flows, on = gets.flows, gets.relay_on[..., None]
    return {
        "volts": gets.volts,
        "current": gets.current,
        "measured": flows.measured * on,
        "duty": flows.duty * on,
        "relay_volts": flows.splice * gets.relay_on,
        "feed_volts": flows.feeds * on,
        "pin_volts_off": gets.pin_volts_off,
        "pressure": gets.pressure,
    }
