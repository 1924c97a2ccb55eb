"""What an electronic controller takes for granted of its unit: the numbers of the data file, never those of the vehicle.

G gears, E holding elements, S solenoids, L levers in the order of the unit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import friction
from course_lib.vehicle.control_spec import LINE, LOCKUP, Control, Sensor
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.parameters import ParameterSet
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters


@dataclass(frozen=True, slots=True, eq=False)
class ControlTables:
    """Charts and numbers of an electronic control.

    nominal: parameters as in the data file, one vehicle; works_on (S,): column of the element, -1 where it is none; line, lockup:
    which solenoid, -1 none; switched (S,): on or off; commanded (G, E); fed, lifted (L, E): what the manual valve feeds to the
    pressure valves, and past them; springs (G, E): Pa before a piston presses; needed (G, E): Pa for each N m at the turbine,
    just to hold; upper (G,): gears above the first; exchanged (S,): which coil each plug lands on when the two that look alike
    are exchanged.
    """

    nominal: ParameterSet
    works_on: Places
    line: int
    lockup: int
    switched: Flags
    commanded: Flags
    fed: Flags
    lifted: Flags
    springs: Array
    needed: Array
    upper: Flags
    exchanged: Places

    def holding(self, applied: Array) -> Iterator[tuple[Array, Array]]:
        """Springs and needs of the first element of each gear, of the second and so on, (G,) each; applied (G, E)."""
        order = np.argsort(-applied, axis=1, kind="stable")[:, : int(applied.sum(1).max())]
        rows = np.arange(len(order))
        for column in order.T:
            held = applied[rows, column]
            yield self.springs[rows, column] * held, self.needed[rows, column] * held

    def law(self, name: str) -> Array:
        """A number of the solenoids, (S,)."""
        law: Array = self.nominal[f"solenoid_{name}"][0, 0]
        return law

    def number(self, name: str) -> float:
        """A plain number."""
        return float(self.nominal[name][0, 0])


def control_of(unit: UnitSpec) -> Control:
    """The electronic control of a unit that has one. Raises ValueError where it has none."""
    if unit.control is None:
        raise ValueError(
            f"unit {unit.name} must have an electronic control, got none. Ask what a hydraulic one has."
        )
    return unit.control


def sensor_that(unit: UnitSpec, reads: str, kinds: tuple[str, ...] = ()) -> tuple[int, Sensor] | None:
    """The first sensor that reads something, of any kind or of some, and its place on the sensor axis; None where there is none."""
    every = enumerate(control_of(unit).sensors)
    return next(((i, s) for i, s in every if s.reads == reads and (not kinds or s.kind in kinds)), None)


@cache
def control_tables(unit: UnitSpec) -> ControlTables:
    """The charts and numbers of a unit's controller."""
    control, elements = control_of(unit), unit.element_ids
    nominal = nominal_parameters(unit, signal=unit.signals[0])
    springs, needed = _needs(unit, nominal)
    drives = [solenoid.drives for solenoid in control.solenoids]
    ids = control.solenoid_ids
    exchanged = np.arange(len(ids))
    if control.look_alike is not None:
        one, other = (ids.index(name) for name in control.look_alike)
        exchanged[[one, other]] = other, one
    ports = [control.ports[lever] for lever in unit.levers]
    return ControlTables(
        nominal=nominal,
        works_on=np.array([elements.index(d) if d in elements else -1 for d in drives]),
        line=drives.index(LINE) if LINE in drives else -1,
        lockup=drives.index(LOCKUP) if LOCKUP in drives else -1,
        switched=np.array([solenoid.law == "on_off" for solenoid in control.solenoids]),
        commanded=np.array([[e in control.commanded[gear] for e in elements] for gear in unit.gears]),
        fed=np.array([[e in port.fed for e in elements] for port in ports]),
        lifted=np.array([[e in port.line for e in elements] for port in ports]),
        springs=springs,
        needed=needed,
        upper=np.array([any(gear in gears[1:] for gears in unit.levers.values()) for gear in unit.gears]),
        exchanged=exchanged,
    )


def _needs(unit: UnitSpec, nominal: ParameterSet) -> tuple[Array, Array]:
    """Pressure [Pa] of the return springs and for each N m at the turbine, by gear and element; what has no piston, 0."""
    tables, p = gear_tables(unit), {name: value[0, 0] for name, value in nominal.items()}
    band = np.array([element.kind == "band" for element in unit.elements])
    piston = np.array([element.kind != "one-way" for element in unit.elements])
    reverse = (tables.ratio < 0.0)[:, None]
    area = p["element_piston_area"] + p["element_reverse_area"] * reverse
    base, radius = float(p["wear_friction"]), p["element_radius"]
    plates = friction.clutch_torque_capacity(np.ones_like(area), base, radius, p["element_faces"])
    around = friction.band_torque_capacity(1.0, base, radius, p["element_wrap"])
    holds = np.where(piston, area * np.where(band, around, plates), np.inf)
    room = 1.0 + 0.5 * p["element_clearance"] / p["element_stroke"]
    springs = np.where(piston, p["element_spring_force"] * room / np.where(piston, area, 1.0), 0.0)
    return springs, tables.share * tables.applied / holds
