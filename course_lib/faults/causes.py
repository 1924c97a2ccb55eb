"""Root causes: what each changes in a vehicle, how it sets in, and how it comes back when only its seat is renewed."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import cache
from typing import Annotated, Literal
from zlib import crc32

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of
from course_lib.faults.background import BRINGS, JOBS, JobBounds
from course_lib.faults.measures import HYDRAULIC, Signal, check_exists, exists, nominal
from course_lib.faults.parts import all_parts
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.unit_spec import UnitSpec, parameter_place
from course_lib.vehicle.uses import load_uses

NEXT_TIME = (0.4, 1.6)  # of the miles to the next occasion: least, most
SUDDEN = 1.0  # miles over which a sudden change sets in
Distance = Annotated[float, msgspec.Meta(ge=0)]
Sentence = Annotated[str, msgspec.Meta(min_length=1)]


class Effect(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One parameter a cause changes, and its size when mild and when severe.

    stays: the part in which the change stays when the cause is put right and that part is left; share: how much of it.
    """

    parameter: str
    how: Literal["set", "scale", "add"]
    mild: float
    severe: float
    stays: str = ""
    share: Annotated[float, msgspec.Meta(gt=0, le=1)] = 1.0

    def moved(self, here: str, there: str) -> Effect:
        """The same effect on what belongs to the solenoid `there`, where it is on what belongs to the one `here`."""
        name, at, owner = self.parameter.partition("@")
        moved = f"{name}{at}{owner.replace(here, there)}"
        stays = next((part.id for part in all_parts().values() if moved in part.owns), "")
        return msgspec.structs.replace(
            self, parameter=moved, stays=(stays or self.stays) if self.stays else ""
        )

    def change(self, value: np.ndarray, column: int | None, severity: np.ndarray) -> np.ndarray:
        """What is added to the parameter array `value` at full growth, severity (n,) between 0 mild and 1 severe."""
        size = self.mild + (self.severe - self.mild) * severity
        size = size.reshape((-1,) + (1,) * (value.ndim - 1))
        ways = {"set": size - value, "scale": value * (size - 1.0), "add": size + 0.0 * value}
        full: np.ndarray = ways[self.how]
        if column is None:
            return full
        only = np.zeros_like(value)
        only[..., column] = full[..., column]
        return only


class Leaving(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A thing a cause leaves lying about, and the share of its vehicles on which it does."""

    thing: str
    share: Annotated[float, msgspec.Meta(gt=0, le=1)]


class Cause(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A root cause as data; the fields are explained at the head of datasets/causes.toml."""

    id: str
    label: Sentence
    group: str
    weight: Annotated[float, msgspec.Meta(gt=0)]
    effects: Annotated[tuple[Effect, ...], msgspec.Meta(min_length=1)]
    sets_in_over_miles: Distance
    belief: Sentence
    why: Sentence
    returns: Sentence
    cure: Sentence
    also_group: str = ""
    signals: tuple[Signal, ...] = HYDRAULIC
    needs: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    seat: str = ""
    lasts_miles: Distance = 0.0
    fresh_unit: bool = False
    returns_after_miles: Distance = 0.0
    leaves: tuple[Leaving, ...] = ()
    after: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    place: str = ""

    @property
    def address(self) -> str:
        """Its id, and with it the place where it sits, if it may sit in several; `load_cause` reads it."""
        return f"{self.id}@{self.place}" if self.places else self.id

    def at(self, place: str) -> Cause:
        """The same cause in another of its places: it changes what belongs to that solenoid, and stays in the parts that own this.

        Raises ValueError for a place that is not one of its own.
        """
        one_of(f"place of cause {self.id}", place, self.places)
        effects = tuple(effect.moved(self.place or self.places[0], place) for effect in self.effects)
        parts = {old.stays: new.stays for old, new in zip(self.effects, effects, strict=True)}
        return msgspec.structs.replace(
            self, effects=effects, seat=parts.get(self.seat, self.seat), place=place
        )

    def fits(self, unit: UnitSpec) -> bool:
        """Whether `unit` has all that the cause changes and needs, a load signal it goes with, and nothing it must lack."""
        there = all(exists(effect.parameter, unit) for effect in self.effects)
        signaled = not set(self.signals).isdisjoint(unit.signals)
        has = {name: exists(name, unit) and nominal(name, unit) > 0 for name in self.needs + self.lacks}
        return there and signaled and all(has[n] for n in self.needs) and not any(has[n] for n in self.lacks)

    def met_in(self, use: str) -> bool:
        """Whether it is met in that kind of use: in every one unless it names some."""
        return not self.uses or use in self.uses

    def growth(
        self, unit: UnitSpec, base: dict[str, np.ndarray], severity: np.ndarray, onset: np.ndarray
    ) -> Growth:
        """The change this cause brings: severity (n,), onset [m] (n, 1). Numbers of the type that the vehicles are made of."""
        change: dict[str, np.ndarray] = {}
        for effect in self.effects:
            name, column = parameter_place(unit, effect.parameter)
            more = effect.change(base[name], column, np.asarray(severity, float)).astype(base[name].dtype)
            change[name] = change.get(name, 0.0) + more
        onset = np.asarray(onset, float)
        over = np.full_like(onset, max(self.sets_in_over_miles, SUDDEN) * units.MILE)
        lasts = np.full_like(onset, self.lasts_miles * units.MILE if self.lasts_miles else np.inf)
        return Growth(change=change, onset=onset, over=over, lasts=lasts)

    def bought_miles(self, renewed: Iterable[str], place: str = "") -> float:
        """Miles until the condition sets in anew after the parts `renewed`; 0 when it has never been away.

        Only a new part buys miles, the one in which a change stays (`place`), else the seat. A condition that sits in no part
        (an event, a habit, the fluid) is away after any repair.
        """
        place = place or self.seat
        return self.returns_after_miles if not place or place in renewed else 0.0

    def changes(self, unit: UnitSpec, growth: Growth) -> dict[tuple[str, float], dict[str, np.ndarray]]:
        """The change of a growth of this cause by where it stays: (part or "", share of it) -> change."""
        found: dict[tuple[str, float], dict[str, np.ndarray]] = {}
        for effect in self.effects:
            name, column = parameter_place(unit, effect.parameter)
            if name not in growth.change:  # a stored growth leaves out what changes nothing
                continue
            own = growth.change[name]
            if column is not None:
                own = np.where(np.arange(own.shape[-1]) == column, own, 0.0).astype(own.dtype)
            found.setdefault((effect.stays, effect.share), {})[name] = own
        return found

    def occasion(self, seed: int) -> float:
        """Miles to the next time against their mean: what sits in no part is met again by chance; 1 for all else."""
        if self.seat:
            return 1.0
        return float(np.random.default_rng([seed, crc32(self.id.encode())]).uniform(*NEXT_TIME))

    @property
    def sudden(self) -> bool:
        """Whether it sets in at once."""
        return self.sets_in_over_miles <= SUDDEN

    @property
    def dates_from(self) -> tuple[str, ...]:
        """The jobs at which it set in: a rebuild for a fresh unit, and those of `after`, with all that is part of them."""
        jobs = (*self.after, *(("apart",) if self.fresh_unit else ()))
        return (*jobs, *(part for job in jobs for part in BRINGS.get(job, ())))

    @property
    def rules_out(self) -> tuple[str, ...]:
        """The jobs that can never have been done where it is met: those of `never`, and whatever they are part of."""
        return (*self.never, *(job for job, parts in BRINGS.items() if set(parts) & set(self.never)))


class CausesFile(msgspec.Struct, frozen=True):
    """The data file."""

    groups: tuple[str, ...]
    causes: tuple[Cause, ...]


@cache
def all_causes() -> dict[str, Cause]:
    """Every cause by id, in the order of the data file. Raises ValueError when one names what no unit has."""
    book = read_data("causes", CausesFile)
    causes = [cause.at(cause.places[0]) if cause.places else cause for cause in book.causes]
    for cause in causes:
        for each in (cause, *(cause.at(place) for place in cause.places)):
            _check(each, book.groups)
    return {cause.id: cause for cause in causes}


def _check(cause: Cause, groups: tuple[str, ...]) -> None:
    """Raises ValueError for a cause that names what does not exist."""
    for group in {cause.group, cause.also_group} - {""}:
        one_of(f"group of cause {cause.id}", group, groups)
    named = [*(effect.parameter for effect in cause.effects), *cause.needs, *cause.lacks]
    check_exists(f"cause {cause.id}", named)
    for job in (*cause.after, *cause.never):
        one_of(f"job of cause {cause.id}", job, JOBS)
    for use in cause.uses:
        one_of(f"use of cause {cause.id}", use, load_uses().uses)
    for part in filter(None, (cause.seat, *(effect.stays for effect in cause.effects))):
        one_of(f"part of cause {cause.id}", part, all_parts())


def load_cause(name: str) -> Cause:
    """The cause `name`, an id or a `Cause.address`; where no place is said, in the first of its places. Raises ValueError naming
    the nearest one that exists."""
    name, _, place = name.partition("@")
    one_of("cause", name, all_causes())
    cause = all_causes()[name]
    return cause.at(place) if place else cause


def job_bounds(causes: Collection[Cause]) -> JobBounds:
    """What the causes of one vehicle say of the jobs on it."""
    return JobBounds(
        dates_from=frozenset(job for cause in causes for job in cause.dates_from),
        rules_out=frozenset(job for cause in causes for job in cause.rules_out),
    )


def joint_name(causes: Iterable[Cause]) -> str:
    """The causes of one vehicle in a message, or as one name for all of them."""
    return " with ".join(cause.id for cause in causes)


def causes_of(unit: UnitSpec, signal: str) -> tuple[Cause, ...]:
    """The causes that a vehicle with `unit` and that load signal can have."""
    return tuple(c for c in all_causes().values() if signal in c.signals and c.fits(unit))


def cause_choices(unit: UnitSpec, signal: str) -> tuple[tuple[str, str], ...]:
    """(id, label) of the causes that unit and load signal allow: the same list for every such case."""
    return tuple((cause.id, cause.label) for cause in causes_of(unit, signal))
