"""First step of an operating point, from pedal and lever to gear and set pressure: load signal, governor, shift valves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.physics import engine, shift_control
from course_lib.vehicle.operating_point import Operation, operation
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

TOP_SPEED = 45.0  # m/s; a shift that needs more never comes
LAST_OF_CABLE = 0.85  # of its travel, with which a cable fetches the lower gear


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What the controls make of an operation, (n, m)."""

    throttle: Array  # 0 to 1, opening with all that is asked besides
    signal: Array  # 0 to 1, load signal at the valve
    gear: Places  # row of the unit's gear table
    reverse: Flags
    goal: Array  # Pa, at which the regulator aims
    astray: Array  # 0 or 1, the lever is not held right in its detent
    lifted: Array  # share of its port that a unit lifted off its mounts shuts


@dataclass(frozen=True, slots=True)
class Controls:
    """The controls of a batch of vehicles."""

    vehicles: Vehicles

    def command(self, op: Operation) -> Command:
        """Everything that the controls make of `op`."""
        v, p = self.vehicles, self.vehicles.p
        throttle = self.throttle(op)
        signal: Array = self._load_signal(op, throttle).astype(v.dtype)
        gear = self._gear(op, signal)
        reverse = v.ratio[gear] < 0
        lifted = (p.vehicle_mount_lift * p.vehicle_mount_port * self._twist(op, throttle)).astype(v.dtype)
        return Command(
            throttle=throttle,
            signal=signal,
            gear=gear,
            reverse=reverse,
            goal=self.set_pressure(signal, reverse).astype(v.dtype),
            astray=((1.0 - op.nudged) * np.ones(gear.shape)).astype(v.dtype),
            lifted=np.broadcast_to(lifted, gear.shape),
        )

    # ------------------------------------------------------------------ load signal
    def throttle(self, op: Operation) -> Array:
        """Throttle opening at each point: what the point says, and what trailer and dragging brakes ask in addition."""
        p = self.vehicles.p
        drag = p.vehicle_brake_drag * p.vehicle_tire_radius / (p.vehicle_axle * p.engine_torque)
        asked = op.throttle * (1.0 + op.loaded * p.vehicle_trailer / p.vehicle_mass)
        asked = np.minimum(asked + drag * ((op.road_speed > 0) & (op.throttle > 0)), 1.0)
        opened: Array = asked.astype(self.vehicles.dtype)
        return opened

    def vacuum(self, op: Operation, engine_speed: Values | None = None) -> tuple[Array, Array]:
        """Manifold vacuum and vacuum at the modulator [Pa]; back pressure at an engine speed [rad/s] takes from both."""
        return self._vacuum(self.throttle(op), engine_speed)

    def _vacuum(self, throttle: Array, engine_speed: Values | None) -> tuple[Array, Array]:
        p = self.vehicles.p
        manifold = shift_control.manifold_vacuum(p.signal_closed_vacuum, throttle, p.signal_engine_vacuum)
        if engine_speed is not None:
            manifold = engine.choked_vacuum(manifold, self.vehicles.exhaust(engine_speed, throttle))
        reaches = manifold * np.maximum(1.0 - p.signal_hose_leak - p.signal_diaphragm_leak, 0.0)
        return manifold, shift_control.trapped_vacuum(reaches, p.signal_closed_vacuum, p.signal_trapped)

    def twist(self, op: Operation) -> Array:
        """Share of full torque with which the engine lifts the unit off a broken mount."""
        return self._twist(op, self.throttle(op))

    def _twist(self, op: Operation, throttle: Array) -> Array:
        moving = (op.road_speed > 0) | (op.throttle > 0.5)
        in_gear = np.array([lever not in "PN" for lever in op.lever])
        share: Array = throttle * moving * in_gear
        return share

    def load_signal(self, op: Operation) -> Array:
        """Load signal 0 to 1 as the valve passes it on, from vacuum or cable, or from the hand that moves it."""
        return self._load_signal(op, self.throttle(op))

    def _load_signal(self, op: Operation, throttle: Array) -> Array:
        p = self.vehicles.p
        turning = np.where(np.isnan(op.engine_speed), p.engine_best_speed * throttle, op.engine_speed)
        vacuum = shift_control.vacuum_signal(self._vacuum(throttle, turning)[1], p.signal_closed_vacuum)
        pulled = p.signal_pull + p.vehicle_mount_lift * self._twist(op, throttle)
        cable = shift_control.cable_signal(throttle, p.signal_travel, p.signal_slack, pulled)
        own = np.where(p.signal_cable_fitted > 0.5, cable, vacuum)
        return p.signal_gain * np.where(np.isnan(op.signal), own, op.signal)

    def set_pressure(self, signal: Values, reverse: Values | Flags) -> Array:
        """Pressure [Pa] the regulator aims at."""
        p = self.vehicles.p
        asked = p.line_base * p.line_spring + p.line_boost * p.line_answer * signal
        return asked * (1.0 + p.line_reverse_gain * p.line_reverse_share * reverse)

    # ------------------------------------------------------------------ governor and shift valves
    def governor(self, road_speed: Values) -> Array:
        """Governor pressure [Pa]."""
        p = self.vehicles.p
        curve = shift_control.governor_pressure(
            road_speed * p.governor_gear,
            p.governor_start,
            p.governor_mid,
            p.governor_mid_pressure,
            p.governor_slope,
        )
        pressure: Array = np.maximum(p.governor_gain * (1.0 - p.governor_leak) * curve, p.governor_stuck)
        return pressure

    def _speed_at(self, pressure: Array) -> Array:
        """Road speed [m/s] at which the governor gives a pressure; 0 where it gives it at rest, infinite where never."""
        p = self.vehicles.p
        needed = pressure / np.maximum(p.governor_gain * (1.0 - p.governor_leak), TINY)
        curve = (p.governor_start, p.governor_mid, p.governor_mid_pressure, p.governor_slope)
        speed = shift_control.governor_speed(needed, *curve)
        speed = speed / np.maximum(p.governor_gear, TINY)
        speed = np.where(pressure <= p.governor_stuck, 0.0, speed)
        return np.where(speed < TOP_SPEED, speed, np.inf)

    def upshift_speeds(self, throttle: float) -> Array:
        """Road speed [m/s] of each upshift at a pedal position, (n, S); infinite where it never comes."""
        p = self.vehicles.p
        signal = self.load_signal(operation("D", throttle=throttle))
        speed = self._speed_at(p.shift_spring[:, 0] + p.shift_load[:, 0] * signal)
        speed = np.where(p.shift_stuck[:, 0] > 0.5, np.inf, speed)
        in_turn: Array = np.maximum.accumulate(speed, axis=1)
        return in_turn

    def downshift_speeds(self) -> Array:
        """Road speed [m/s] of each downshift with the pedal released, (n, S); 0 where it stays up to a stop."""
        p = self.vehicles.p
        signal = self.load_signal(operation("D"))
        valve = (p.shift_spring[:, 0], p.shift_load[:, 0], signal, p.shift_hysteresis[:, 0])
        speed = self._speed_at(shift_control.downshift_pressure(*valve))
        return np.where(np.isfinite(self.upshift_speeds(0.0)), np.minimum(speed, TOP_SPEED), 0.0)

    def kickdown_speeds(self) -> Array:
        """Highest road speed [m/s] at which the pedal on the floor fetches the lower gear, (n, S); 0 where it never does."""
        p = self.vehicles.p
        fetched = p.shift_kickdown[:, 0] * (p.signal_kickdown > 0.5) * (p.governor_gear > 0.5)
        fetched = np.where(self._speed_at(p.shift_spring[:, 0]) > 0.0, fetched, 0.0)
        pulled = shift_control.cable_signal(1.0, p.signal_travel, p.signal_slack, p.signal_pull)
        fetched = np.where((p.signal_cable_fitted > 0.5) & (pulled < LAST_OF_CABLE), 0.0, fetched)
        return np.where(np.isfinite(self.upshift_speeds(1.0)), fetched, 0.0)

    def _gear(self, op: Operation, signal: Array) -> Places:
        """Row of the gear table at each point: the lever's gears, chosen by the shift valves."""
        unit, p, pressure = self.vehicles.unit, self.vehicles.p, self.governor(op.road_speed)
        ups, free = np.zeros(pressure.shape, int), np.ones(pressure.shape, bool)
        for s in range(len(unit.shifts)):
            asked = p.shift_spring[..., s] + p.shift_load[..., s] * signal
            free &= (pressure > asked) & (p.shift_stuck[..., s] < 0.5)
            ups += free
        table = [[unit.gear_index(g) for g in unit.levers[lever]] for lever in op.lever]
        longest = max(len(row) for row in table)
        rows = np.array([row + [row[-1]] * (longest - len(row)) for row in table])
        return rows[np.arange(len(table)), np.minimum(ups, longest - 1)]
