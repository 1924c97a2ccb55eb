"""Hydraulic controls: load signal, governor, shift valves, and the speed from which the lock-up clutch holds."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.physics import engine, shift_control
from course_lib.vehicle.command import Command
from course_lib.vehicle.control_face import Controls
from course_lib.vehicle.operating_point import Condition, Operation, operation
from course_lib.vehicle.vehicle_batch import TINY

TOP_SPEED = 45.0  # m/s; a shift that needs more never comes
LOCKUP_PEDAL = 0.65  # pedal past which the lock-up clutch lets go
LAST_OF_CABLE = 0.85  # of its travel, with which a cable fetches the lower gear


class HydraulicControls(Controls):
    """Load signal, governor and shift valves of a batch of vehicles."""

    def command(self, op: Operation, _condition: Condition, _temperature: Array) -> Command:
        """Everything that the controls make of `op`, whatever condition and temperature."""
        v, p = self.vehicles, self.vehicles.p
        throttle = self.throttle(op)
        signal: Array = self._load_signal(op, throttle).astype(v.dtype)
        gear = self._gear(op, signal)
        reverse = v.ratio[gear] < 0
        goal = self.set_pressure(signal, reverse).astype(v.dtype)
        lifted = (p.vehicle_mount_lift * p.vehicle_mount_port * self.twisted(op, throttle)).astype(v.dtype)
        return Command(
            throttle=throttle,
            signal=signal,
            gear=gear,
            reverse=reverse,
            goal=goal,
            astray=((1.0 - op.nudged) * np.ones(gear.shape)).astype(v.dtype),
            lifted=np.broadcast_to(lifted, gear.shape),
            locked=self._locks(op, throttle, gear),
            lock_pressure=goal,
        )

    # ------------------------------------------------------------------ load signal
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

    def load_signal(self, op: Operation) -> Array:
        """Load signal 0 to 1 as the valve passes it on, from vacuum or cable, or from the hand that moves it."""
        return self._load_signal(op, self.throttle(op))

    def _load_signal(self, op: Operation, throttle: Array) -> Array:
        p = self.vehicles.p
        turning = np.where(np.isnan(op.engine_speed), p.engine_best_speed * throttle, op.engine_speed)
        vacuum = shift_control.vacuum_signal(self._vacuum(throttle, turning)[1], p.signal_closed_vacuum)
        pulled = p.signal_pull + p.vehicle_mount_lift * self.twisted(op, throttle)
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

    def _locks(self, op: Operation, throttle: Array, gear: Places) -> Flags:
        """Whether the lock-up clutch is told to hold, (n, m)."""
        v, p = self.vehicles, self.vehicles.p
        cruising = v.lockup_gears[gear] & (op.road_speed > p.lockup_speed) & (throttle < LOCKUP_PEDAL)
        return (p.lockup_fitted > 0.5) & (cruising | ((p.lockup_stuck > 0.5) & (np.abs(v.ratio[gear]) > 0)))
