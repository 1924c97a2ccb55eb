"""One name for every measurable thing of a vehicle: an entry of its condition or one of its parameters. It is
"name", or "name@" and an element, shift, solenoid, sensor or wire.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Literal

import numpy as np

from course_lib.base.data_files import data_folder
from course_lib.base.guards import one_of
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN
from course_lib.vehicle.parameters import PARAMETER_NAMES
from course_lib.vehicle.unit_spec import OWNERS, UnitSpec, load_unit, nominal_parameters

Signal = Literal["vacuum", "cable", "electronic"]  # how a unit learns of the load
HYDRAULIC: tuple[Signal, ...] = ("vacuum", "cable")
MEASURE_NAMES = frozenset((*PLAIN, *PER_ELEMENT, *PARAMETER_NAMES))  # without what stands behind the @


def same_control(signal: str) -> tuple[str, ...]:
    """The load signals that go with the same kind of control."""
    return HYDRAULIC if signal in HYDRAULIC else (signal,)


def known_units() -> tuple[UnitSpec, ...]:
    """Every unit of the data files, by name."""
    return tuple(load_unit(path.stem) for path in sorted((data_folder() / "units").glob("*.toml")))


def columns(name: str, unit: UnitSpec) -> tuple[str, ...]:
    """The names that may stand behind the @ of `name`: elements, shifts, solenoids, sensors, wires, or none."""
    owner = "element" if name in PER_ELEMENT else name.partition("_")[0]
    return unit.owners(owner) if owner in OWNERS else ()


@cache  # asked for some hundred times while the catalogue is read
def _nominal(unit: UnitSpec) -> dict[str, np.ndarray]:
    return nominal_parameters(unit, signal=unit.signals[0])


def nominal(address: str, unit: UnitSpec) -> float:
    """The value of a parameter in the unit's data file, SI; of what stands behind the @ where the address names it."""
    name, _, place = address.partition("@")
    value = _nominal(unit)[name]
    return float(value[0, 0, columns(name, unit).index(place)] if place else value[0, 0])


def exists(name: str, unit: UnitSpec) -> bool:
    """Whether `unit` has what the measure or parameter address `name` speaks of."""
    bare, _, column = name.partition("@")
    there = bare in (*PLAIN, *PER_ELEMENT) or unit.has(bare)
    return there and (not column or column in columns(bare, unit))


def check_exists(owner: str, names: Iterable[str]) -> None:
    """Raise ValueError unless each of `names` exists in at least one unit; `owner` says whose names they are."""
    units = known_units()
    for name in names:
        if any(exists(name, unit) for unit in units):
            continue
        bare, _, column = name.partition("@")
        one_of(f"measure or parameter of {owner}", bare, sorted(MEASURE_NAMES))
        places = {place for unit in units for place in columns(bare, unit)}
        one_of(f"what stands behind the @ of {name} of {owner}", column, sorted(places))
