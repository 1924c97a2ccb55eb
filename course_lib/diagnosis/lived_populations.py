"""Populations of real lives: every cause a kind of vehicle can have, lived many times, with all that a workshop would find.

Cases are drawn for a wanted mileage, stage and driver. A population is weighted the same way: each of many such wishes picks the
life of a cause that comes nearest to it, as a case does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from course_lib.diagnosis.cache import Progress, kept_population, no_progress, show_progress
from course_lib.diagnosis.fingerprints import fingerprint
from course_lib.diagnosis.population import COMPLAINT, Findings, Population
from course_lib.faults.background import draw_background, lived_background
from course_lib.faults.causes import Cause, causes_of, job_bounds, joint_name, load_cause
from course_lib.faults.clues import all_clues, clue_chances
from course_lib.faults.repair import DRIVERS, Past, join_vehicles, stack_conditions
from course_lib.faults.scenario import (
    Request,
    Scenario,
    ScenarioSearch,
    TriedLives,
    draw_cleared,
    draw_scenario,
)
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.batch import BatchFinding, BatchLook
from course_lib.shop.findings import Finding
from course_lib.shop.interview import TALK
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle.unit_spec import draw_parameters

TOLD_AT_ONCE = "says_"  # what the keys of troubles begin with that the owner tells at the counter
TALK_SIGMA = 1.0  # grade; owners tell the same trouble one up or down
VEHICLES = 4  # of each cause, each lived with every severity below and every driver
SEVERITIES = 7
ROUGH = 4.0  # times less exact than the life of a case: a few percent of its miles, next to SEVERITIES so far apart
CAUSES_AT_ONCE = 80  # lived in one batch
WISHES = 64  # wanted miles, stages and drivers that pick among the lives of a cause
SEED = 77_003
BACKGROUNDS = 24  # drawn for each life, over which what is told and lies about is averaged


def population_of(kind: VehicleKind, *, progress: Progress = show_progress) -> Population:
    """The population of a kind of vehicle, from memory, from the cache on disk, or built."""
    if kind not in _KEPT:
        made_from = fingerprint(__name__)
        _KEPT[kind] = kept_population(
            kind.name,
            made_from,
            lambda report: build_population(kind, progress=report),
            progress=progress,
        )
    return _KEPT[kind]


_KEPT: dict[VehicleKind, Population] = {}


@lru_cache(maxsize=4)  # lived within seconds, and asked for again at each attempt at a case
def population_with(kind: VehicleKind, together: tuple[str, ...]) -> Population:
    """The population of a kind, and as one cause more lives of vehicles with all of some causes at once, named by `named`.

    They come in as often as the rarest of the causes does. Where two causes are in one vehicle, a reasoner who knows single ones
    only can find the one or the other; this one can tell both from each alone.
    """
    alone, causes = population_of(kind), tuple(load_cause(name) for name in together)
    rng = np.random.default_rng([SEED, *joint_name(causes).encode()])
    return _beside(alone, _joined((joint_name(causes),), [_lived(kind, [causes], rng)]))


def _beside(one: Population, other: Population) -> Population:
    """The lives of two populations with different causes as one."""

    def end_to_end(name: str) -> np.ndarray:
        return np.concatenate([getattr(one, name), getattr(other, name)])

    def by_key(kind: str) -> dict[str, np.ndarray]:
        mine, yours = getattr(one, kind), getattr(other, kind)
        return {key: np.concatenate([mine[key], yours[key]]) for key in mine}

    return replace(
        one,
        causes=(*one.causes, *other.causes),
        cause=np.concatenate([one.cause, other.cause + len(one.causes)]),
        weight=end_to_end("weight"),
        severity=end_to_end("severity"),
        miles=end_to_end("miles"),
        vehicle=_apart([one.vehicles, other.vehicles]),
        readings=by_key("readings"),
        looks=by_key("looks"),
        objects=by_key("objects"),
    )


def _met(kind: VehicleKind) -> tuple[Cause, ...]:
    """The causes that vehicles of a kind can have."""
    return tuple(cause for cause in causes_of(kind.unit, kind.signal) if cause.met_in(kind.use))


def build_population(kind: VehicleKind, *, progress: Progress = no_progress) -> Population:
    """The population of a kind of vehicle. progress: called with (done, total) causes as they are lived."""
    causes = _met(kind)
    rng = np.random.default_rng([SEED, *kind.name.encode()])
    parts = []
    for at in range(0, len(causes), CAUSES_AT_ONCE):
        some = causes[at : at + CAUSES_AT_ONCE]
        parts.append(_lived(kind, [(cause,) for cause in some], rng))
        progress(min(at + CAUSES_AT_ONCE, len(causes)), len(causes))
    return _joined(tuple(cause.id for cause in causes), parts)


def _lived(kind: VehicleKind, causes: Sequence[tuple[Cause, ...]], rng: np.random.Generator) -> _LivedBatch:
    """Some causes, or causes that are in one vehicle, lived, chosen by wishes, and measured: everything by life."""
    requests = [
        Request(
            seed=0,
            unit=kind.unit.name,
            cause=some[0].id,
            also=some[1].id if some[1:] else None,
            signal=kind.signal,
            use=kind.use,
        )
        for some in causes
    ]
    drawn = [
        draw_scenario(replace(request, place=_place(some[0], vehicle)), rng)
        for request, some in zip(requests, causes, strict=True)
        for vehicle in range(VEHICLES)
    ]
    bases = [draw_parameters(kind.unit, rng, signal=kind.signal) for _ in drawn]
    search = ScenarioSearch(drawn, bases, rough=ROUGH)
    severity = np.tile((np.arange(SEVERITIES) + 0.5) / SEVERITIES, len(drawn))
    severity = np.clip(severity + rng.uniform(-0.5, 0.5, severity.shape) / SEVERITIES, 0.0, 1.0)
    of = np.repeat(np.arange(len(drawn)), SEVERITIES)
    cleared = draw_cleared(kind.unit, len(of) * len(DRIVERS), rng)
    tried = TriedLives(search, of, severity, cleared)
    wishes = [draw_scenario(requests[0], rng) for _ in range(WISHES)]
    weight = np.concatenate([_picked(tried, place, wishes) for place in range(len(causes))])
    rows = np.flatnonzero(weight)
    return _measured(tried, rows, weight[rows], rng)


def _place(cause: Cause, vehicle: int) -> str | None:
    """Where the cause sits in a vehicle of that number: in each of its places in turn; None where it has but one."""
    return cause.places[vehicle % len(cause.places)] if cause.places else None


def _picked(tried: TriedLives, place: int, wishes: list[Scenario]) -> np.ndarray:
    """How often each life of a cause is the one that comes nearest to a wish."""
    size = VEHICLES * SEVERITIES * len(DRIVERS)
    mine = slice(place * size, (place + 1) * size)
    count = np.zeros(size)
    for wish in wishes:
        off = tried.off_from(wish, mine)
        if np.isfinite(off).any():
            count[np.argmin(off)] += 1.0
    return count


def subject_of(pasts: list[Past]) -> Subject:
    """Vehicles of one kind that came in, on the lift side by side; without what lies about and is told."""
    return Subject(
        plant=join_vehicles([past.world for past in pasts]).plant(
            np.array([[past.odometer] for past in pasts])
        ),
        condition=stack_conditions([past.condition for past in pasts]),
        signal=pasts[0].signal,
        use=pasts[0].use,
        felt={name: np.array([[past.felt[name]] for past in pasts]) for name in pasts[0].felt},
        sump=np.concatenate([past.sump for past in pasts]),
    )


def population_of_pasts(pasts: list[Past]) -> Population:
    """Vehicles of one kind that came in, each as one life of a population: what every inspection would find on them."""
    part = _LivedBatch(
        causes=[past.causes[:1] for past in pasts],
        weight=np.ones(len(pasts)),
        severity=np.array([past.severity for past in pasts]),
        miles=np.array([past.miles_since_onset for past in pasts]),
        vehicle=np.arange(len(pasts)),
        found=inspect_population(subject_of(pasts)),
        objects=_joined_chances([clue_chances([past.causes[:1]], [past.background]) for past in pasts]),
    )
    names = tuple(cause.id for cause in _met(pasts[0].kind))
    return _joined(names, [part])


@dataclass(frozen=True, slots=True, kw_only=True)
class _LivedBatch:
    """Some lives and what was found on them, by life."""

    causes: list[tuple[Cause, ...]]
    weight: np.ndarray
    severity: np.ndarray
    miles: np.ndarray
    vehicle: np.ndarray
    found: dict[str, BatchFinding]
    objects: dict[str, np.ndarray]


def _measured(
    tried: TriedLives, rows: np.ndarray, weight: np.ndarray, rng: np.random.Generator
) -> _LivedBatch:
    """All that a workshop finds on the lives `rows`."""
    world, lives = tried.world.rows(rows), tried.lives
    _, signal, use = tried.search.kind
    subject = Subject(
        plant=world.plant(lives.odometer[rows][:, None]),
        condition=lives.condition.keep(rows),
        signal=signal,
        use=use,
        felt={name: value[rows][:, None] for name, value in lives.felt.items()},
        sump=lives.sump[rows],
    )
    return _LivedBatch(
        causes=[tried.search.drawn[i].causes for i in tried.of[rows]],
        weight=weight,
        severity=tried.severity[rows],
        miles=tried.miles[rows],
        vehicle=tried.of[rows],
        found=inspect_population(subject),
        objects=_lying_about(tried, rows, rng),
    )


def _lying_about(tried: TriedLives, rows: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """For each thing, and each line that is told, the probability (n,) that it is found on the lives `rows`."""
    drawn = [tried.search.drawn[i] for i in tried.of[rows]]
    onset = np.array([each.onset_miles for each in drawn])
    lived = lived_background(tried.search.use, tried.search.signal, onset, *tried.felt_at(rows))
    causes = [each.causes for each in drawn]
    bounds = [job_bounds(each) for each in causes]
    backgrounds = [draw_background(lived, bounds, rng) for _ in range(BACKGROUNDS)]
    return clue_chances(causes, backgrounds)


def _joined(names: tuple[str, ...], parts: list[_LivedBatch]) -> Population:
    """The parts as one population, with what lies about and what is told on every life."""
    causes = [each for part in parts for each in part.causes]
    columns = _columns([part.found for part in parts])
    objects = columns.met | _joined_chances([part.objects for part in parts])
    weight = np.concatenate([part.weight for part in parts])
    place = np.array([names.index(joint_name(each)) for each in causes])
    sums, clues = np.bincount(place, weight, minlength=len(names)), all_clues()
    return Population(
        causes=names,
        cause=place,
        weight=weight / sums[place] * [min(cause.weight for cause in each) for each in causes],
        severity=np.concatenate([part.severity for part in parts]),
        miles=np.concatenate([part.miles for part in parts]),
        vehicle=_apart([part.vehicle for part in parts]),
        readings=columns.readings,
        sigma=columns.sigma,
        made_by=columns.made_by | {name: clues[name].inspection for name in clues},
        looks=columns.looks,
        objects=objects,
    )


def _joined_chances(parts: list[dict[str, np.ndarray]]) -> dict[str, np.ndarray]:
    """Probabilities of things of all lives, end to end."""
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


@dataclass(frozen=True, slots=True)
class _FoundColumns:
    """Readings and looks of all lives, by key; met: of looks that may be missed, how probable it is that something is seen; see
    `Population`."""

    readings: dict[str, np.ndarray] = field(default_factory=dict)
    looks: dict[str, np.ndarray] = field(default_factory=dict)
    met: dict[str, np.ndarray] = field(default_factory=dict)
    sigma: dict[str, float] = field(default_factory=dict)
    made_by: dict[str, str] = field(default_factory=dict)


def _columns(found: list[dict[str, BatchFinding]]) -> _FoundColumns:
    """What was found on the parts, end to end. What the owner says first is known at once, before any inspection."""
    all_of = _FoundColumns()
    for inspection, first in found[0].items():
        for k, each in enumerate(first.measured):
            all_of.readings[each.key] = np.concatenate([part[inspection].measured[k].value for part in found])
            all_of.sigma[each.key] = max(each.sigma, each.apart, 0.5 * 10.0**-each.decimals)
            all_of.made_by.setdefault(each.key, inspection)
        for k, seen in enumerate(first.seen):
            looks = [part[inspection].seen[k] for part in found]
            if seen.chance is None:
                all_of.looks[seen.key] = np.concatenate([look.grades() for look in looks])
            else:
                all_of.met[seen.key] = np.concatenate([look.seen_share() for look in looks])
            all_of.made_by.setdefault(
                seen.key, COMPLAINT if seen.key.startswith(TOLD_AT_ONCE) else inspection
            )
            for circuit, shares in _by_circuit(looks).items():
                name = in_circuit(seen.key, circuit)
                all_of.met[name], all_of.made_by[name] = shares, inspection
            if sigma := TALK_SIGMA if inspection == TALK else seen.sigma:
                all_of.sigma[seen.key] = sigma
    return all_of


def in_circuit(look: str, circuit: str) -> str:
    """Under which id it is kept that a look is seen in one circuit: which one it is tells as much as how bad it is."""
    return f"{look}@{circuit}"


def _by_circuit(parts: list[BatchLook]) -> dict[str, np.ndarray]:
    """Of a look that says in which circuit it is seen, for each circuit how probable it is that it is seen there."""
    found: dict[str, np.ndarray] = {}
    for i, (circuit, *_) in enumerate(parts[0].of):
        share = np.concatenate([part.seen_share() * part.of[i][2] for part in parts])
        if share.any():
            found[circuit] = share
    return found


def _apart(parts: list[np.ndarray]) -> np.ndarray:
    """Numbers of vehicles, end to end, none of one part shared with another."""
    first = np.cumsum([0, *(part.max(initial=-1) + 1 for part in parts)])
    return np.concatenate([part + before for part, before in zip(parts, first[:-1], strict=True)])


def findings_of(population: Population, made: Sequence[Finding]) -> Findings:
    """What inspections of one vehicle found, in the terms of a population: numbers, grades, and what lay about."""
    words = {line for finding in made for line in finding.words}
    places = {finding.inspection for finding in made}
    readings = {r.key: np.nan if r.value is None else r.value for f in made for r in f.readings}
    grades = {look.key: look.grade for f in made for look in f.looks}
    lying = {name: not words.isdisjoint(clue.words) for name, clue in all_clues().items()}
    circuits = {in_circuit(look.key, look.of): True for f in made for look in f.looks if look.of}
    there = {key: grade > 0 for key, grade in grades.items()} | circuits | lying
    return Findings(
        readings={key: value for key, value in readings.items() if key in population.readings},
        looks={key: grade for key, grade in grades.items() if key in population.looks},
        objects={
            name: there.get(name, False) for name in population.objects if population.made_by[name] in places
        },
    )
