"""What can be found or heard of a vehicle besides wear and readings: things that lie about, and lines that are told.

None of it belongs to one cause. A thing is left more often by some causes than by others, is worded in several ways, is missed
now and then, and lies about where it means nothing. Tell-tales of the trade are the exception, behind the inspection that opens
that very place.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Annotated

import msgspec
import numpy as np

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of
from course_lib.faults.background import Background, When
from course_lib.faults.causes import Cause, all_causes
from course_lib.faults.measures import same_control

TOLD_AT = "interview"  # the inspection at which papers and owner are heard
Share = Annotated[float, msgspec.Meta(ge=0, le=1)]
Wordings = Annotated[tuple[str, ...], msgspec.Meta(min_length=1)]


class Clue(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something found or told. words: wordings, of which one is drawn; innocent: how often it is there whatever the cause;
    innocent_in: use -> that, where it differs; when: what must be so in the vehicle's past."""

    id: str
    words: Wordings
    innocent: Share
    innocent_in: dict[str, Share] = {}
    when: When = When()

    inspection = TOLD_AT
    missed = 0.0

    def share(self, cause: Cause) -> float:
        """How often a vehicle with `cause` has it for that reason; 0: no oftener than any other."""
        raise NotImplementedError

    def usual(self, use: str) -> float:
        """How often it is there whatever the cause."""
        return self.innocent_in.get(use, self.innocent)

    def chance(self, causes: Sequence[Cause], use: str) -> float:
        """Probability that it is found on a vehicle with those causes, if what must be so is so."""
        return max([self.usual(use), *(self.share(cause) for cause in causes)]) * (1.0 - self.missed)


class ObjectClue(Clue, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A thing. inspection: where it is found; missed: how often it is overlooked there; tells: a tell-tale of the trade."""

    inspection: str
    missed: Share = 0.1
    tells: bool = False

    def share(self, cause: Cause) -> float:
        """How often a vehicle with `cause` has it for that reason; 0: no oftener than any other."""
        return max((left.share for left in cause.leaves if left.thing == self.id), default=0.0)


class HistoryClue(Clue, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A line of history. of: causes of which it is told oftener, `often` instead of `innocent`."""

    of: tuple[str, ...] = ()
    often: Share = 0.15

    def share(self, cause: Cause) -> float:
        """How often it is told of a vehicle with `cause` for that reason; 0: no oftener than of any other."""
        return self.often if cause.id in self.of else 0.0


class ObjectsFile(msgspec.Struct, frozen=True):
    """The data file of things."""

    objects: tuple[ObjectClue, ...]


class FactsFile(msgspec.Struct, frozen=True):
    """The data file of lines of history."""

    facts: tuple[HistoryClue, ...]


@cache
def all_objects() -> dict[str, ObjectClue]:
    """Every thing by id, in the order of the data file. Raises ValueError when a cause leaves one that is not there."""
    found = {each.id: each for each in read_data("objects", ObjectsFile).objects}
    for cause in all_causes().values():
        for left in cause.leaves:
            one_of(f"object that cause {cause.id} leaves", left.thing, found)
    return found


@cache
def all_facts() -> dict[str, HistoryClue]:
    """Every line of history by id, in the order of the data file. Raises ValueError when one is told of no known cause."""
    found = {each.id: each for each in read_data("facts", FactsFile).facts}
    for fact in found.values():
        for name in fact.of:
            one_of(f"cause of fact {fact.id}", name, all_causes())
    return found


def all_clues() -> dict[str, Clue]:
    """Things and lines of history by id."""
    return {**all_objects(), **all_facts()}


def clues_in(words: Iterable[str]) -> list[tuple[Clue, str]]:
    """The things and lines among the words of findings, each with the words that it was put in, in their order."""
    named = {line: clue for clue in all_clues().values() for line in clue.words}
    return [(named[line], line) for line in words if line in named]


def clue_chances(
    causes: Sequence[tuple[Cause, ...]], backgrounds: Sequence[Background]
) -> dict[str, np.ndarray]:
    """Id of each thing and line -> probability (n,) that it is found on n vehicles, the i-th with the i-th causes: the mean over
    several backgrounds that they might have. What only goes with another kind of control is left out."""
    kinds = {tuple(cause.id for cause in each): each for each in causes}
    place = np.array([list(kinds).index(tuple(cause.id for cause in each)) for each in causes], int)
    signals, found = frozenset(same_control(backgrounds[0].signal)), {}
    for name, clue in all_clues().items():
        if clue.when.signals and signals.isdisjoint(clue.when.signals):
            continue
        of = np.array([clue.chance(each, backgrounds[0].use) for each in kinds.values()])
        found[name] = of[place] * np.mean([clue.when.met(each) for each in backgrounds], axis=0)
    return found


def draw_clues(causes: Sequence[Cause], of: Background, rng: np.random.Generator) -> list[Clue]:
    """What is found and told of one vehicle, drawn, in an order that tells nothing."""
    may = [each for each in all_clues().values() if each.when.met(of)[0]]
    there = [each for each in may if rng.random() < each.chance(causes, of.use)]
    return [there[i] for i in rng.permutation(len(there))]
