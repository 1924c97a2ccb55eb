"""One name for every measurable thing of a vehicle: an entry of its condition or one of its parameters.

"name", "name@element" or "name@shift"; with "/new" behind the name it is the ratio to the value in the unit's data file.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np

from course_lib.base.data_files import data_folder
from course_lib.base.guards import one_of
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, Condition
from course_lib.vehicle.parameters import PARAMETER_NAMES
from course_lib.vehicle.unit_spec import UnitSpec, load_unit, nominal_parameters

if TYPE_CHECKING:
    from course_lib.vehicle.plant import (
        Plant,  # for types only: what a learner chooses from needs no simulator
    )

Signal = Literal["vacuum", "cable"]  # how a unit learns of the load
LINING_LEFT = "lining_left"
RATIO = "/new"
MEASURE_NAMES = frozenset(
    (*PLAIN, *PER_ELEMENT, LINING_LEFT, *PARAMETER_NAMES)
)  # without what stands behind the @


def known_units() -> tuple[UnitSpec, ...]:
    """Every unit of the data files, by name."""
    return tuple(load_unit(path.stem) for path in sorted((data_folder() / "units").glob("*.toml")))


def columns(name: str, unit: UnitSpec) -> tuple[str, ...]:
    """The names that may stand behind the @ of `name`: elements, shifts, or none."""
    if name.startswith("shift_"):
        return unit.shift_ids
    return unit.element_ids if name.startswith("element_") or name in (*PER_ELEMENT, LINING_LEFT) else ()


def measure_value(name: str, plant: Plant, condition: Condition) -> np.ndarray:
    """Value (n,) of a measure, SI or a ratio. Raises ValueError for an unknown name, element or shift."""
    address, _, column = name.partition("@")
    bare = address.removesuffix(RATIO)
    if bare not in MEASURE_NAMES:
        one_of("measure", bare, sorted(MEASURE_NAMES))
    value: np.ndarray
    if bare == LINING_LEFT:
        value = 1.0 - condition.lining / plant.p.element_lining
    else:
        value = getattr(condition, bare) if bare in PLAIN + PER_ELEMENT else getattr(plant.p, bare)
    ids = columns(bare, plant.unit)
    if ids:
        one_of(f"element or shift of measure {bare}", column, ids)
    value = value[:, 0, ids.index(column)] if ids else value[:, 0]
    return value / nominal(bare, plant.unit, column) if address != bare else value


@cache
def _nominal(unit: UnitSpec) -> dict[str, np.ndarray]:
    return nominal_parameters(unit, signal=unit.signals[0])


def nominal(name: str, unit: UnitSpec, column: str = "") -> float:
    """The value of a parameter in the unit's data file, SI; of an element or shift when `column` names one."""
    value = _nominal(unit)[name]
    return float(value[0, 0, columns(name, unit).index(column)] if column else value[0, 0])


def exists(name: str, unit: UnitSpec) -> bool:
    """Whether `unit` has what the measure or parameter address `name` speaks of."""
    bare, _, column = name.partition("@")
    bare = bare.removesuffix(RATIO)
    return bare in MEASURE_NAMES and (not column or column in columns(bare, unit))


def check_exists(owner: str, names: Iterable[str]) -> None:
    """Raise ValueError unless each of `names` exists in at least one unit; `owner` says whose names they are."""
    units = known_units()
    for name in names:
        if any(exists(name, unit) for unit in units):
            continue
        address, _, column = name.partition("@")
        bare = address.removesuffix(RATIO)
        one_of(
            f"measure or parameter of {owner}",
            bare,
            sorted(MEASURE_NAMES),
        )
        one_of(
            f"element or shift of {name} of {owner}",
            column,
            sorted({c for u in units for c in columns(bare, u)}),
        )
