"""Broken parts: the list a learner chooses from, when each counts as broken, and what a new one renews."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import get_args

import msgspec
import numpy as np

from course_lib.catalogue.measures import Signal, check_exists, exists, measure
from course_lib.datasets import read_data
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import PER_ELEMENT, PLAIN, Condition
from course_lib.transmission.spec import UnitSpec, load_unit
from course_lib.vocabulary import one_of

NO_PART = "no_part_broken"
# Excess past which broken is broken; it also bounds a measure that ought to be large and is gone.
FAR_PAST = 10.0


class Limit(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A measure and the side of it that counts."""

    measure: str
    above: float | None = None
    below: float | None = None

    def __post_init__(self) -> None:
        if (self.above is None) == (self.below is None):
            raise ValueError(
                f"limit on {self.measure} must give either above or below, got {self.above} and {self.below}. Give one."
            )

    def excess(self, plant: Plant, condition: Condition) -> np.ndarray:
        """How far past the limit, as a ratio: over 1 is past it. Shape (n,)."""
        value = measure(self.measure, plant, condition)
        excess = self.below / np.maximum(value, 1e-12) if self.above is None else value / self.above
        return np.minimum(excess, FAR_PAST)


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part: id, label and group for the learner's list, limits, and the entries a new one sets back."""

    id: str
    label: str
    group: str
    signals: tuple[Signal, ...] = get_args(Signal)
    broken_when: tuple[Limit, ...] = ()
    worn_when: tuple[Limit, ...] = ()
    renews: tuple[str, ...] = ()

    @property
    def measures(self) -> tuple[str, ...]:
        """The measures its limits speak of."""
        return tuple(limit.measure for limit in self.broken_when + self.worn_when)

    def fits(self, unit: UnitSpec) -> bool:
        """Whether `unit` has the part: where its measures belong to elements or shifts, at least one of those."""
        of_columns = [name for name in self.measures if "@" in name]
        return not of_columns or any(exists(name, unit) for name in of_columns)

    def past(self, limits: tuple[Limit, ...], plant: Plant, condition: Condition) -> np.ndarray:
        """Largest excess over any of `limits` that the unit has; 0 where it has none. Shape (n,)."""
        found = [limit.excess(plant, condition) for limit in limits if exists(limit.measure, plant.unit)]
        return np.max(found, axis=0) if found else np.zeros(len(condition.pump))


class PartsFile(msgspec.Struct, frozen=True):
    """The data file."""

    parts: tuple[Part, ...]


@cache
def all_parts() -> dict[str, Part]:
    """Every part by id, in the order of the data file. Raises ValueError when one names what no unit has."""
    book = read_data("parts", PartsFile)
    for part in book.parts:
        check_exists(f"part {part.id}", part.measures)
        for entry in part.renews:
            one_of(f"entry renewed by part {part.id}", entry.partition("@")[0], PLAIN + PER_ELEMENT)
        check_exists(f"part {part.id}", part.renews)
    return {part.id: part for part in book.parts}


def parts_of(unit: UnitSpec, signal: str) -> tuple[Part, ...]:
    """The parts of a vehicle with `unit` and that load signal."""
    return tuple(part for part in all_parts().values() if signal in part.signals and part.fits(unit))


def part_choices(unit: UnitSpec, signal: str) -> tuple[tuple[str, str], ...]:
    """(id, label) of the parts that unit and load signal have: the same list for every such case."""
    return tuple((part.id, part.label) for part in parts_of(unit, signal))


def damage(plant: Plant, condition: Condition, signal: str) -> dict[str, np.ndarray]:
    """For each part, how far past its limit of "broken" it is, (n,); over 1 is broken."""
    return {p.id: p.past(p.broken_when, plant, condition) for p in parts_of(plant.unit, signal)}


def worn(plant: Plant, condition: Condition, signal: str) -> dict[str, np.ndarray]:
    """For each part, how far past its limit of "worn, may be named" it is, (n,)."""
    return {p.id: p.past(p.worn_when, plant, condition) for p in parts_of(plant.unit, signal)}


def renew(condition: Condition, unit: str, parts) -> Condition:
    """`condition` with the named parts new, and new fluid to the mark. Returns a new object."""
    columns = load_unit(unit).element_ids
    entries = {name: getattr(condition, name).copy() for name in condition.__slots__}
    for entry in [t for part in parts for t in all_parts()[part].renews]:
        name, _, element = entry.partition("@")
        if not element:
            entries[name][:] = 0.0
        elif element in columns:
            entries[name][..., columns.index(element)] = 0.0
    entries["oxidation"][:] = 0.0
    entries["lost"][:] = 0.0
    return replace(condition, **entries)
