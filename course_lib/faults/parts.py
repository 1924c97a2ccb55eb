"""Parts: the list a learner chooses from, the measures each owns, where its damage is seen, and what a new one renews."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Literal

import msgspec

from course_lib.base.data_files import read_data
from course_lib.faults.measures import HYDRAULIC, Signal, check_exists
from course_lib.shop.findings import Look
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, Condition
from course_lib.vehicle.unit_spec import OWNERS, UnitSpec

NO_PART = "no_part_broken"
SOUND, WORN, BROKEN = 0, 1, 2
"""How far a view shows a part to be damaged."""
Side = Literal["above", "below"]


def in_a_sentence(label: str) -> str:
    """A label as it stands inside a sentence: names such as F1 or solenoid C keep their letters."""
    return label[:1].lower() + label[1:]


class PartView(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One look at a part, or one reading of it: the key under which a workshop keeps it, and from where on it counts.

    worn, broken: for a look the grade, for a reading the side of its spec. of: elements with which the key is filled.
    """

    look: str = ""
    reading: str = ""
    of: tuple[str, ...] = ()
    worn: int | Side | None = None
    broken: int | Side | None = None

    def __post_init__(self) -> None:
        kind = int if self.look else str
        given = [limit for limit in (self.worn, self.broken) if limit is not None]
        if bool(self.look) == bool(self.reading) or not given or not all(isinstance(g, kind) for g in given):
            raise ValueError(
                f"view must be a look with grades or a reading with sides of its spec, got {self}. Correct the data file."
            )


class Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part: id, label and group for the learner's list, the measures it owns, and its views."""

    id: str
    label: str
    group: str
    signals: tuple[Signal, ...] = HYDRAULIC
    owns: tuple[str, ...] = ()
    seen: tuple[PartView, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """The elements, shifts, solenoids, sensors and wires that its measures and views name."""
        owned = [name.partition("@")[2] for name in self.owns]
        return tuple(dict.fromkeys([*filter(None, owned), *(e for view in self.seen for e in view.of)]))

    @property
    def entries(self) -> tuple[str, ...]:
        """Those of its measures that are entries of the condition."""
        return tuple(name for name in self.owns if name.partition("@")[0] in PLAIN + PER_ELEMENT)

    def fits(self, unit: UnitSpec) -> bool:
        """Whether `unit` has the part: where its measures belong to elements or shifts, at least one of those."""
        there = {place for owner in OWNERS for place in unit.owners(owner)}
        return not self.places or not there.isdisjoint(self.places)


class PartsFile(msgspec.Struct, frozen=True):
    """The data file."""

    parts: tuple[Part, ...]


@cache
def all_parts() -> dict[str, Part]:
    """Every part by id, in the order of the data file. Raises ValueError when one names what no unit has, or two own a measure."""
    owner: dict[str, str] = {}
    for part in read_data("parts", PartsFile).parts:
        check_exists(f"part {part.id}", part.owns)
        for name in part.owns:
            if owner.setdefault(name, part.id) != part.id:
                raise ValueError(
                    f"measure {name} must have one owner, got {owner[name]} and {part.id}. Take it from one."
                )
    return {part.id: part for part in read_data("parts", PartsFile).parts}


def parts_of(unit: UnitSpec, signal: str) -> tuple[Part, ...]:
    """The parts of a vehicle with `unit` and that load signal."""
    return tuple(part for part in all_parts().values() if signal in part.signals and part.fits(unit))


def part_choices(unit: UnitSpec, signal: str) -> tuple[tuple[str, str], ...]:
    """(id, label) of the parts that unit and load signal have: the same list for every such case."""
    return tuple((part.id, part.label) for part in parts_of(unit, signal))


def out_of_order(look: Look) -> bool:
    """Whether a look shows its part worn or broken, on whatever unit."""
    return any(re.fullmatch(pattern, look.key) and look.grade >= least for pattern, least in _least_grades())


@cache
def _least_grades() -> tuple[tuple[str, int], ...]:
    """(pattern of keys, grade from which on the part counts as worn or broken) of every look at a part."""
    looks = [view for part in all_parts().values() for view in part.seen if view.look]
    pattern = (re.sub(r"{\w+}", r"\\w+", view.look) for view in looks)
    least = (min(n for n in (view.worn, view.broken) if isinstance(n, int)) for view in looks)
    return tuple(dict.fromkeys(zip(pattern, least, strict=True)))


def renew(condition: Condition, unit: UnitSpec, parts: Iterable[str]) -> Condition:
    """`condition` with the named parts new, and new fluid to the mark. Returns a new object."""
    columns = unit.element_ids
    entries = {name: getattr(condition, name).copy() for name in PLAIN + PER_ELEMENT}
    for entry in [name for part in parts for name in all_parts()[part].entries]:
        name, _, element = entry.partition("@")
        if not element:
            entries[name][:] = 0.0
        elif element in columns:
            entries[name][..., columns.index(element)] = 0.0
    entries["oxidation"][:] = 0.0
    entries["lost"][:] = 0.0
    return replace(condition, **entries)
