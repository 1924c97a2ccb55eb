"""Two causes in one vehicle: put one right, and the other brings it back."""

from __future__ import annotations

from collections.abc import Collection
from functools import cache
from itertools import combinations

import msgspec

from course_lib.base.data_files import read_data
from course_lib.faults.causes import Cause, causes_of, load_cause
from course_lib.vehicle.unit_spec import UnitSpec


class CausePair(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Two causes that are met together, and what the first to be found hides of the other."""

    causes: tuple[str, str]
    hides: str

    @property
    def both(self) -> tuple[Cause, Cause]:
        """The two causes themselves."""
        one, other = self.causes
        return load_cause(one), load_cause(other)


class PairsFile(msgspec.Struct, frozen=True):
    """The data file."""

    pairs: tuple[CausePair, ...]
    never: tuple[tuple[str, str], ...]


@cache
def all_pairs() -> tuple[CausePair, ...]:
    """Every pair, in the order of the data file. Raises ValueError when one names an unknown cause."""
    pairs = read_data("pairs", PairsFile).pairs
    for pair in pairs:
        check_together(pair.both)
    return pairs


def check_together(causes: Collection[Cause]) -> None:
    """Raise ValueError when two of some causes cannot be in one vehicle: one undoes the other, or both set the same thing."""
    for one, other in combinations(causes, 2):
        if frozenset((one.id, other.id)) in _never() or _clash(one, other):
            raise ValueError(
                f"two causes must be able to be in one vehicle at once, got {one.id} and {other.id}. Ask for another pair."
            )


def _never() -> frozenset[frozenset[str]]:
    """The pairs of causes that the data file rules out."""
    pairs = read_data("pairs", PairsFile).never
    return frozenset(frozenset(load_cause(name).id for name in pair) for pair in pairs)


def _clash(one: Cause, other: Cause) -> bool:
    """Whether both change a parameter that one of them sets outright."""
    how = {effect.parameter: effect.how for effect in one.effects}
    return any("set" in (how[e.parameter], e.how) for e in other.effects if e.parameter in how)


def pairs_of(unit: UnitSpec, signal: str) -> tuple[CausePair, ...]:
    """The pairs that a vehicle with `unit` and that load signal can have."""
    possible = {cause.id for cause in causes_of(unit, signal)}
    return tuple(pair for pair in all_pairs() if possible.issuperset(pair.causes))
