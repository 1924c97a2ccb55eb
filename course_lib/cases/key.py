"""The answer to a case, kept apart from it."""

from __future__ import annotations

import msgspec

from course_lib.diagnosis.key_entries import Certificate, EvidenceAgainst, EvidenceWeights
from course_lib.faults.stored import StoredVehicle, Story


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to a case, kept apart from it.

    parts must be renewed; of each set in either one must be named; also may be named. back: for each of parts, miles after which
    the vehicle is back without it. causes are the root causes; chain: what happened, in order, with odometers; stories:
    outcome -> the repair it amounts to, driven forward; recipe: how the case was made; vehicle: it as it came in, so that any
    repair can be driven forward; certificate: how hard the case is; against: wrong cause -> findings that speak against it. For
    the rubric: worth of each finding; lasting: links of what is out of order even with the damage mended; mended: what is
    found wrong, and right after the whole repair.
    """

    case_id: str
    parts: tuple[str, ...]
    also: tuple[str, ...]
    causes: tuple[str, ...]
    chain: tuple[str, ...]
    stories: dict[str, Story]
    recipe: dict[str, str | int | float | None]
    vehicle: StoredVehicle | None = None
    certificate: Certificate | None = None
    against: dict[str, tuple[EvidenceAgainst, ...]] = {}
    worth: EvidenceWeights = EvidenceWeights()
    lasting: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    either: tuple[tuple[str, ...], ...] = ()
    back: dict[str, float] = {}

    @property
    def shortest(self) -> tuple[str, ...]:
        """The fewest parts that a whole answer can name, the most telling first."""
        return tuple(dict.fromkeys((*(some[0] for some in self.needed), *self.parts)))

    @property
    def needed(self) -> tuple[tuple[str, ...], ...]:
        """Sets of parts, of each of which one must be named; a key without any asks for all its parts."""
        return self.either or tuple((part,) for part in self.parts)

    @property
    def allowed(self) -> frozenset[str]:
        """Every part that may be named."""
        return frozenset(self.parts).union(self.also, *self.either)
