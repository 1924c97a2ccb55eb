"""First step of an operating point, from pedal and lever to gear and pressures: the one face of both kinds of control."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from course_lib.base.arrays import Array
from course_lib.vehicle.command import Command
from course_lib.vehicle.operating_point import Condition, Operation
from course_lib.vehicle.vehicle_batch import Vehicles


class Controls(ABC):
    """The controls of a batch of vehicles."""

    def __init__(self, vehicles: Vehicles) -> None:
        self.vehicles = vehicles

    @abstractmethod
    def command(self, op: Operation, condition: Condition, temperature: Array) -> Command:
        """Everything that the controls make of `op`; temperature (n, m): of the sump [K]."""

    @abstractmethod
    def upshift_speeds(self, throttle: float) -> Array:
        """Road speed [m/s] of each upshift at a pedal position, (n, S); infinite where it never comes."""

    @abstractmethod
    def downshift_speeds(self) -> Array:
        """Road speed [m/s] of each downshift with the pedal released, (n, S); 0 where it stays up to a stop."""

    @abstractmethod
    def kickdown_speeds(self) -> Array:
        """Highest road speed [m/s] at which the pedal on the floor fetches the lower gear, (n, S); 0 where it never does."""

    def throttle(self, op: Operation) -> Array:
        """Throttle opening at each point: what the point says, and what trailer and dragging brakes ask in addition."""
        p = self.vehicles.p
        drag = p.vehicle_brake_drag * p.vehicle_tire_radius / (p.vehicle_axle * p.engine_torque)
        asked = op.throttle * (1.0 + op.loaded * p.vehicle_trailer / p.vehicle_mass)
        asked = np.minimum(asked + drag * ((op.road_speed > 0) & (op.throttle > 0)), 1.0)
        opened: Array = asked.astype(self.vehicles.dtype)
        return opened

    def twist(self, op: Operation) -> Array:
        """Share of full torque with which the engine lifts the unit off a broken mount."""
        return self.twisted(op, self.throttle(op))

    def twisted(self, op: Operation, throttle: Array) -> Array:
        """The same at a throttle opening."""
        moving = (op.road_speed > 0) | (op.throttle > 0.5)
        in_gear = np.array([lever not in "PN" for lever in op.lever])
        share: Array = throttle * moving * in_gear
        return share
