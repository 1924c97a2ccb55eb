"""Two causes in one vehicle: put one right, and the other brings it back."""

from __future__ import annotations

from functools import cache

import msgspec

from course_lib.catalogue.causes import Cause, causes_of, load_cause
from course_lib.datasets import read_data
from course_lib.transmission.spec import UnitSpec


class Pair(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
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

    pairs: tuple[Pair, ...]


@cache
def all_pairs() -> tuple[Pair, ...]:
    """Every pair, in the order of the data file. Raises ValueError when one names an unknown cause."""
    pairs = read_data("pairs", PairsFile).pairs
    for pair in pairs:
        _ = pair.both
    return pairs


def pairs_of(unit: UnitSpec, signal: str) -> tuple[Pair, ...]:
    """The pairs that a vehicle with `unit` and that load signal can have."""
    possible = {cause.id for cause in causes_of(unit, signal)}
    return tuple(pair for pair in all_pairs() if possible.issuperset(pair.causes))
