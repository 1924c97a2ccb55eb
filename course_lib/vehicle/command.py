"""What the controls make of an operation, hydraulic or electronic: gear, pressures, lock-up; and what a controller knows of it.

Shapes: n vehicles, m operating points, E holding elements; S solenoids and F feeds of an electronic control.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

from course_lib.base.arrays import Array, Batched, Flags, Places


@dataclass(frozen=True, slots=True, kw_only=True)
class Electric(Batched):
    """An electronic control at each point, (n, m) unless said otherwise: what it believes, wants and gets.

    What the controller works with is believed or measured; `current`, `pressure` and the volts at feeds and relay are true. Where
    nothing is believed, as no message and no sensor tells, stands NaN.
    """

    # believed
    volts: Array  # V across the controller, which it measures
    believed_temperature: Array  # K, sump
    fluid_volts: Array  # V at the pin of the fluid temperature sensor
    believed_speed: Array  # m/s of road, from the output sensor and the tires as entered
    wheel_speed: Array  # m/s of road, from the wheels by message
    believed_turbine: Array  # rad/s
    believed_torque: Array  # N m of the engine, by message
    turbine_seen: Array  # share of time in which the turbine speed sensor tells something
    output_seen: Array  # the same of the output speed sensor
    lever_seen: Places  # which of the unit's levers, -1 a pattern that none gives
    brake_on: Flags
    action: Places  # bit of each action that is on, in the order of `Control.actions`
    # wanted
    wanted_gear: Places  # row of the unit's gear table
    wanted_line: Array  # Pa
    wanted_pressure: Array  # (n, m, E) Pa
    wanted_lock: Array  # Pa behind the lock-up piston
    lockup_command: Array  # 0 or 1, lock-up wanted
    wanted_current: Array  # (n, m, S) A; infinite for one that is simply on
    # what comes of it
    relay_on: Flags
    current: Array  # (n, m, S) A through each coil
    measured: Array  # (n, m, S) A of that, through the driver
    duty: Array  # (n, m, S)
    relay_volts: Array  # V behind the relay, against the body
    feed_volts: Array  # (n, m, F) V at the coils, against the body
    pin_volts_off: Array  # (n, m, S) V that the controller finds at its pin while the driver is off
    pressure: Array  # (n, m, S) Pa that the valve behind each solenoid gives, were line pressure enough

    def copy(self) -> Self:
        """The same in arrays of its own."""
        return replace(self, **{f.name: getattr(self, f.name).copy() for f in fields(self)})

    def put(self, rows: Places, other: Electric) -> None:
        """Write those of the vehicles `rows` over what stands there."""
        for f in fields(self):
            getattr(self, f.name)[rows] = getattr(other, f.name)

    def cut(self, start: int, stop: int) -> Self:
        """Some of the operating points."""
        return replace(self, **{f.name: getattr(self, f.name)[:, start:stop] for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of an electronic control in place of its own choice, as in the midst of a shift or by hand.

    gear (m,): row of the unit's gear table, whatever the schedule says; pressure (n, m, E) Pa of each element, NaN: its own.
    """

    gear: Places
    pressure: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What the controls make of an operation, (n, m)."""

    throttle: Array  # 0 to 1, opening with all that is asked besides
    signal: Array  # 0 to 1, load signal at the valve
    gear: Places  # row of the unit's gear table, as the pressures make it
    reverse: Flags
    goal: Array  # Pa, at which the regulator aims
    astray: Array  # 0 or 1, the lever is not held right in its detent
    lifted: Array  # share of its port that a unit lifted off its mounts shuts
    locked: Flags  # the lock-up clutch is told to hold
    lock_pressure: Array  # Pa behind the lock-up piston, before ring and bore take from it
    # (n, m, E) Pa that each circuit gets at most; None where the gear opens them to what the line gives, and the others to nothing
    pressed: Array | None = None
    electric: Electric | None = None
