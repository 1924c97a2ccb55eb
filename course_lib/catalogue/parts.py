"""Broken parts: the list a learner chooses from, when each counts as broken, and what a new one renews."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import msgspec
import numpy as np

from course_lib.catalogue.measures import exists, measure
from course_lib.datasets import read_data
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import Condition
from course_lib.transmission.spec import UnitSpec, load_unit

NO_PART = "no_part_broken"


class Limit(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A measure and the side of it that counts."""

    measure: str
    above: float | None = None
    below: float | None = None

    def excess(self, plant: Plant, condition: Condition) -> np.ndarray:
        """How far past the limit, as a ratio: over 1 is past it. Shape (n,)."""
        value = measure(self.measure, plant, condition)
        if self.above is not None:
            return value / self.above
        return (
            np.minimum(self.below / np.maximum(value, 1e-12), 10.0) if self.below is not None else value * 0.0
        )


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part: id, label and group for the learner's list, limits, and the entries a new one sets back."""

    id: str
    label: str
    group: str
    signals: tuple[str, ...] = ("vacuum", "cable")
    broken_when: tuple[Limit, ...] = ()
    worn_when: tuple[Limit, ...] = ()
    renews: tuple[str, ...] = ()

    def past(self, limits: tuple[Limit, ...], plant: Plant, condition: Condition) -> np.ndarray:
        """Largest excess over any of `limits` that the unit has; 0 where it has none. Shape (n,)."""
        found = [limit.excess(plant, condition) for limit in limits if exists(limit.measure, plant.unit)]
        return np.max(found, axis=0) if found else np.zeros(len(condition.pump))


class PartsFile(msgspec.Struct, frozen=True):
    """The data file."""

    parts: tuple[Part, ...]


@cache
def all_parts() -> dict[str, Part]:
    """Every part by id, in the order of the data file."""
    return {part.id: part for part in read_data("parts", PartsFile).parts}


def part_choices(signal: str) -> tuple[tuple[str, str], ...]:
    """(id, label) of the parts a unit with that load signal has: the same list for every case."""
    return tuple((part.id, part.label) for part in all_parts().values() if signal in part.signals)


def damage(plant: Plant, condition: Condition, signal: str) -> dict[str, np.ndarray]:
    """For each part, how far past its limit of "broken" it is, (n,); over 1 is broken."""
    return {
        p.id: p.past(p.broken_when, plant, condition) for p in all_parts().values() if signal in p.signals
    }


def worn(plant: Plant, condition: Condition, signal: str) -> dict[str, np.ndarray]:
    """For each part, how far past its limit of "worn, may be named" it is, (n,)."""
    return {p.id: p.past(p.worn_when, plant, condition) for p in all_parts().values() if signal in p.signals}


def renew(condition: Condition, unit: str, parts) -> Condition:
    """`condition` with the named parts new, and new fluid to the mark. Returns a new object."""
    columns = load_unit(unit).element_ids
    entries = {name: getattr(condition, name).copy() for name in condition.__slots__}
    for target in [t for part in parts for t in all_parts()[part].renews]:
        name, _, element = target.partition("@")
        if not element:
            entries[name][:] = 0.0
        elif element in columns:
            entries[name][..., columns.index(element)] = 0.0
    entries["oxidation"][:] = 0.0
    entries["lost"][:] = 0.0
    return replace(condition, **entries)


def missing_measures(unit: UnitSpec) -> list[str]:
    """Measures named in the data file that `unit` does not have."""
    named = [limit.measure for part in all_parts().values() for limit in part.broken_when + part.worn_when]
    return [name for name in named if not exists(name, unit)]
