"""Second step of an operating point, from gear to turbine torque: engine, converter and lock-up clutch while nothing slips."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Flags, Values
from course_lib.physics import converter, engine
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.command import Command
from course_lib.vehicle.drive import Drive
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

CHARRED_GRIP = 0.7  # share of its grip that a charred lock-up lining has lost
LOCKUP_RING = 0.06  # pressure a sound ring costs
LOCKUP_SHAKES, SHAKING_SLIP = (
    1.5,
    5.0,
)  # judder of a sliding lock-up lining, and the slip [rad/s] of all of it

KEPT, MUCH = (
    3.0,
    6.0,
)  # times the slip that is kept, between which the lining comes to shake as one that should hold, fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeRun:
    """How engine and train run as long as nothing slips, (n, m)."""

    drive: Drive
    road: Array  # rad/s of the output
    speed: Array  # rad/s of the engine
    turbine: Array  # rad/s
    torque: Array  # N m at the turbine
    taken: Array  # N m from the engine
    locked: Flags  # the lock-up clutch is commanded on
    lock_slip: Array  # rad/s in it
    lock_power: Array  # W into its lining


@dataclass(frozen=True, slots=True)
class Powertrain:
    """Engine, converter and lock-up clutch of a batch of vehicles."""

    vehicles: Vehicles

    def free_run(self, op: Operation, command: Command, worn: Array) -> FreeRun:
        """How everything turns at each point while nothing slips; worn (n, 1): char of the lock-up lining."""
        v, p, gear = self.vehicles, self.vehicles.p, command.gear
        locked = command.locked
        drive = self._drive(op, command, worn)
        road = np.broadcast_to(op.road_speed / p.vehicle_tire_radius * p.vehicle_axle, gear.shape)
        ratio = np.abs(v.ratio[gear])
        free = drive.free(ratio * road)
        turns: Array = np.where(ratio > 0, np.minimum(ratio * road, free), free)  # in neutral with the engine
        speed, turbine = free.astype(v.dtype), turns.astype(v.dtype)
        torque, taken = (x.astype(v.dtype) for x in drive.torques(speed, turbine))
        lock_slip = locked * (speed - turbine)
        return FreeRun(
            drive=drive,
            road=road,
            speed=speed,
            turbine=turbine,
            torque=torque,
            taken=taken,
            locked=locked,
            lock_slip=lock_slip,
            lock_power=lock_slip * drive.lining(speed, taken - np.minimum(taken, drive.lockup)),
        )

    # ------------------------------------------------------------------ engine
    def engine_torque(self, throttle: Values, speed: Values) -> Array:
        """Torque [N m] of the engine at a throttle opening and speed."""
        choked = engine.choked_torque_share(self.vehicles.exhaust(speed, throttle))
        return engine.engine_torque(speed, *self._engine(throttle)) * choked

    def _engine(self, throttle: Values) -> tuple[Array, Array, Array]:
        """The engine at a throttle opening: its largest torque [N m], and the speeds [rad/s] of that and without load."""
        p = self.vehicles.p
        opened = 1.0 - (1.0 - throttle) ** p.engine_pedal
        best = p.engine_best_speed
        return (
            p.engine_torque * p.engine_health * opened,
            engine.peak_speed(best, throttle),
            engine.free_speed(best, throttle),
        )

    def _drive(self, op: Operation, command: Command, worn: Array) -> Drive:
        """Engine, converter and lock-up clutch as one torque balance."""
        p, throttle = self.vehicles.p, command.throttle
        pedal = (throttle > 0.0) & np.isnan(op.engine_speed)
        lockup = command.locked * pedal * self.lockup_grip(command.lock_pressure, worn)
        peak, best, free = self._engine(throttle)

        def wide(value: Array) -> Array:
            return np.broadcast_to(value, command.gear.shape)

        return Drive(
            peak_torque=wide(peak),
            peak_speed=wide(best),
            free_speed=wide(free),
            choke=wide(self.vehicles.exhaust(1.0, throttle) / engine.TORQUE_PRESSURE),
            idle=wide(p.engine_idle),
            given=wide(op.engine_speed),
            capacity=wide(p.converter_capacity * (1.0 + p.converter_stator_load * p.converter_stator_slip)),
            coupling=wide(p.converter_coupling),
            stall_ratio=wide(1.0 + (p.converter_stall_ratio - 1.0) * (1.0 - p.converter_stator_slip)),
            stator_lock=wide(p.converter_stator_lock * (lockup == 0.0)),  # locked, no fluid goes round
            lockup=wide(lockup),
        )

    def idle_torque(self) -> Array:
        """Turbine torque [N m] while standing in gear at idle."""
        p = self.vehicles.p
        return converter.pump_torque(p.engine_idle, 0.0, p.converter_capacity) * p.converter_stall_ratio

    # ------------------------------------------------------------------ lock-up clutch
    def lockup_grip(self, pressure: Array, worn: Array) -> Array:
        """Torque [N m] that the lining of the lock-up clutch holds with a pressure [Pa] behind its piston."""
        p = self.vehicles.p
        mu = p.wear_friction * p.wear_fluid_friction * p.lockup_lining * (1.0 - CHARRED_GRIP * worn)
        return mu * pressure * self.lockup_share() * p.lockup_area * p.lockup_radius

    def lock_pressure_for(self, op: Operation, command: Command, worn: Array, slip: Array) -> Array:
        """Pressure [Pa] behind the lock-up piston with which it slips so much [rad/s]: the lining takes what the engine gives
        beyond the fluid."""
        v, p = self.vehicles, self.vehicles.p
        drive = self._drive(op, command, worn)
        turbine = np.abs(v.ratio[command.gear]) * op.road_speed / p.vehicle_tire_radius * p.vehicle_axle
        speed = turbine + slip
        fluid = converter.pump_torque(speed, turbine / speed, drive.capacity, drive.coupling)
        lining = np.maximum(drive.engine_torque(speed) - fluid, 0.0)
        needed: Array = lining / np.maximum(self.lockup_grip(np.ones_like(lining), worn), TINY)
        return needed

    def lockup_share(self) -> Array:
        """Share of the pressure sent to it that stands behind the lock-up piston.

        Its ring takes the rest, the more the narrower the orifice that feeds it, and so does a worn bore of its valve.
        """
        p = self.vehicles.p
        return 1.0 / (1.0 + LOCKUP_RING * p.lockup_leak / np.maximum(p.lockup_orifice, TINY) + p.lockup_bore)

    def lock_judder(self, slip: Array) -> Array:
        """How much a sliding lock-up lining shakes the vehicle."""
        p = self.vehicles.p
        grabs: Values = LOCKUP_SHAKES
        if p.control_lockup_slip.any():  # a slip that is kept is smooth as long as the fluid is
            grabs = LOCKUP_SHAKES * smooth_step(
                slip, KEPT * p.control_lockup_slip, MUCH * p.control_lockup_slip
            )
        shakes: Array = (grabs + p.fluid_judder) * np.minimum(slip / SHAKING_SLIP, 1.0)
        return shakes
