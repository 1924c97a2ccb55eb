"""One name for every measurable thing of a vehicle: an entry of its condition or one of its parameters."""

from __future__ import annotations

from functools import cache

import numpy as np

from course_lib.transmission.plant import Plant
from course_lib.transmission.point import PER_ELEMENT, PLAIN, Condition
from course_lib.transmission.spec import UnitSpec, load_unit, parameter_names
from course_lib.vocabulary import one_of

LINING_LEFT = "lining_left"


@cache
def measure_names(unit: str) -> frozenset[str]:
    """Every name `measure` knows for the unit of that name, without the element behind the @."""
    return frozenset((*PLAIN, *PER_ELEMENT, LINING_LEFT, *parameter_names(load_unit(unit))))


def measure(name: str, plant: Plant, condition: Condition) -> np.ndarray:
    """Value (n,) of "name" or "name@element", SI. Raises ValueError for an unknown name or element."""
    bare, _, element = name.partition("@")
    if bare not in measure_names(plant.unit.name):
        one_of("measure", bare, sorted(measure_names(plant.unit.name)))
    if bare == LINING_LEFT:
        value = 1.0 - condition.lining / plant.p.element_lining
    else:
        value = getattr(condition, bare) if bare in PLAIN + PER_ELEMENT else getattr(plant.p, bare)
    if value.ndim == 2:
        return value[:, 0]
    one_of(f"element of measure {bare}", element, plant.unit.element_ids)
    return value[:, 0, plant.unit.element_ids.index(element)]


def exists(name: str, unit: UnitSpec) -> bool:
    """Whether `unit` has what the measure `name` speaks of."""
    bare, _, element = name.partition("@")
    return bare in measure_names(unit.name) and (not element or element in unit.element_ids)
