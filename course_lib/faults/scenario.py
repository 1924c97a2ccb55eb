"""A vehicle's past: drawn, then made true by finding the severity with which it ends as the request wants it to.

Nothing about a symptom is chosen here. A cause, a use, an odometer and a driver are drawn; then the severity of the cause is
bisected, in batches, until the driver complains after about the wanted miles, with the wanted stage of damage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.faults.background import draw_background, lived_background
from course_lib.faults.cause_pairs import check_together
from course_lib.faults.causes import Cause, all_causes, causes_of, job_bounds, joint_name, load_cause
from course_lib.faults.parts import BROKEN
from course_lib.faults.repair import (
    DRIVERS,
    NO_DRIVE_FELT,
    STAGES,
    Past,
    Stage,
    Watch,
    causes_proven,
    join_vehicles,
    with_outcomes,
)
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.faults.visible_damage import visible_damage
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.life_events import CODES_CLEARED, life_events
from course_lib.vehicle.life_log import Lives
from course_lib.vehicle.operating_point import Condition, new_condition
from course_lib.vehicle.since_clearing import cleared_before
from course_lib.vehicle.unit_spec import UnitSpec, draw_parameters, load_unit
from course_lib.vehicle.uses import load_uses

GENERATOR_VERSION = 10  # raised when the findings of a seed change
ONSET_MILES = {
    "town": (25e3, 55e3),
    "mixed": (30e3, 75e3),
    "highway": (40e3, 90e3),
    "towing": (25e3, 60e3),
    "yard": (4e3, 10e3),
}
USE_SHARES = (0.25, 0.3, 0.15, 0.15, 0.15)
WANTED_MILES = (60.0, 6000.0)
CLEARED_SHARE, CLEARED_MILES = (
    0.3,
    (2.0, 300.0),
)  # vehicles whose codes somebody cleared so long before, fitted to nothing
HORIZON_MILES = 30e3
SEVERITIES = 24  # tried over the whole range
STAGE_SHARES = (0.30, 0.45, 0.25)
# How much of a factor in miles (natural log) a wish is worth; the one for severity is for the whole range.
OTHER_STAGE, OTHER_DRIVER, OTHER_SEVERITY = 2.0, 0.5, 1.0
MOST_TRIED, TRIED_AT_ONCE = 24, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a case should be. None = drawn from the seed. also: a second cause in the same vehicle; place: of the first cause, where
    it may sit in several."""

    seed: int
    unit: str = "T3"
    cause: str | None = None
    also: str | None = None
    signal: str | None = None
    stage: Stage | None = None
    use: str | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """The decisions of a past, before the physics has its say. miles, severity, stage and driver are wishes, the stage
    not where the request names it."""

    request: Request
    unit: UnitSpec
    causes: tuple[Cause, ...]
    signal: str
    use: str
    onset_miles: float
    wanted_miles: float
    wanted_severity: float
    stage: Stage
    driver: str

    @property
    def kind(self) -> VehicleKind:
        """Unit, load signal and use: what vehicles of one batch have in common."""
        return VehicleKind(self.unit, self.signal, self.use)

    def distance(
        self, miles: np.ndarray, stage: np.ndarray, driver: np.ndarray, severity: np.ndarray
    ) -> np.ndarray:
        """How far lives are from these wishes, (n,), counted in factors of the wanted miles (natural log).

        miles since onset, stage and driver, their places in STAGES and DRIVERS, and severity: (n,) each.
        """
        off = np.abs(np.log(np.maximum(miles, 1.0) / self.wanted_miles))
        off = off + OTHER_STAGE * (stage != STAGES.index(self.stage))
        off = off + OTHER_DRIVER * (driver != list(DRIVERS).index(self.driver))
        far: np.ndarray = off + OTHER_SEVERITY * np.abs(severity - self.wanted_severity)
        return far


# ---------------------------------------------------------------------- decisions
def draw_scenario(request: Request, rng: np.random.Generator) -> Scenario:
    """Decide what the request leaves open. Raises ValueError for a request that contradicts itself."""
    unit = load_unit(request.unit)
    one_of("stage", request.stage or STAGES[0], STAGES)
    one_of("use", request.use or "mixed", load_uses().uses)
    one_of("signal", request.signal or unit.signals[0], unit.signals)
    causes = _draw_causes(request, unit, rng)
    signals = [s for s in unit.signals if all(s in cause.signals for cause in causes)]
    signal = request.signal or str(rng.choice(signals))
    use = request.use or _draw_use(causes, rng)
    if not all(cause.met_in(use) for cause in causes):
        raise ValueError(
            f"use must be one in which {joint_name(causes)} is met, got {use}. Change one of the two."
        )
    low, high = ONSET_MILES[use]
    return Scenario(
        request=request,
        unit=unit,
        causes=causes,
        signal=signal,
        use=use,
        onset_miles=float(rng.uniform(low, high)),
        wanted_miles=float(np.exp(rng.uniform(*np.log(WANTED_MILES)))) * (0.25 if use == "yard" else 1.0),
        stage=request.stage or rng.choice(STAGES, p=STAGE_SHARES),
        driver=str(rng.choice(list(DRIVERS))),
        wanted_severity=float(rng.uniform()),
    )


def draw_cleared(unit: UnitSpec, count: int, rng: np.random.Generator) -> np.ndarray:
    """Miles driven since somebody cleared the codes, a battery taken off or a code reader, of each of some lives, (count,).
    0 where nobody did, and for a control that stores none."""
    if unit.control is None:
        return np.zeros(count)
    some = rng.random(count) < CLEARED_SHARE
    least, most = np.log(CLEARED_MILES)
    cleared: np.ndarray = some * np.exp(rng.uniform(least, most, count))
    return cleared


def _draw_use(causes: tuple[Cause, ...], rng: np.random.Generator) -> str:
    """A kind of use in which all the causes are met."""
    met = np.array([all(cause.met_in(use) for cause in causes) for use in ONSET_MILES])
    share = np.array(USE_SHARES) * met
    return str(rng.choice(list(ONSET_MILES), p=share / share.sum()))


def _draw_causes(request: Request, unit: UnitSpec, rng: np.random.Generator) -> tuple[Cause, ...]:
    """The cause asked for, or one drawn by how often it is met; and the second one, if any."""
    signals = [request.signal] if request.signal else list(unit.signals)
    possible = {cause.id: cause for signal in signals for cause in causes_of(unit, signal)}
    asked = [name for name in (request.cause, request.also) if name]
    for name in asked:
        load_cause(name)
        if name not in possible:
            raise ValueError(
                f"cause must be one that unit {unit.name} with {' or '.join(signals)} can have, got {name}. "
                "Change cause, unit or signal."
            )
    if not request.cause:
        weight = np.array([cause.weight for cause in possible.values()])
        asked.insert(0, str(rng.choice(list(possible), p=weight / weight.sum())))
    causes = tuple(all_causes()[name] for name in dict.fromkeys(asked))
    check_together(causes)
    return tuple(_placed(cause, request.place if cause == causes[0] else None, rng) for cause in causes)


def _placed(cause: Cause, place: str | None, rng: np.random.Generator) -> Cause:
    """A cause in the place asked for, or in one of its places, drawn."""
    return cause.at(place or str(rng.choice(cause.places))) if cause.places else cause


# ---------------------------------------------------------------------- pasts, found in batches
def find_past(request: Request, rng: np.random.Generator) -> Past:
    """Draw a past and find the severity that makes it come true. Raises ValueError, with the numbers, when none does.

    It only counts if its cause is one: with the damaged parts renewed and a cause left, the trouble comes back; with all put
    right it does not, or only of age.
    """
    found = find_pasts([request], [rng])[0]
    if isinstance(found, ValueError):
        raise found
    return found


def find_pasts(requests: list[Request], rngs: list[np.random.Generator]) -> list[Past | ValueError]:
    """`find_past` for many requests at once, those of the same unit, signal and use in one batch; a failure stands in its place."""
    drawn = [draw_scenario(request, rng) for request, rng in zip(requests, rngs, strict=True)]
    bases = [draw_parameters(d.unit, rng, signal=d.signal) for d, rng in zip(drawn, rngs, strict=True)]
    found: list[Past | ValueError] = [ValueError("not looked for yet")] * len(drawn)
    for kind in dict.fromkeys(d.kind for d in drawn):
        here = [i for i, d in enumerate(drawn) if d.kind == kind]
        search = ScenarioSearch([drawn[i] for i in here], [bases[i] for i in here])
        for i, past in zip(here, search.run([rngs[i] for i in here]), strict=True):
            found[i] = past if isinstance(past, ValueError) else _with_background(past, rngs[i])
    return found


def _with_background(past: Past, rng: np.random.Generator) -> Past:
    """The past with what befell the vehicle besides, drawn."""
    return past.told(background=draw_background(past.background, [job_bounds(past.causes)], rng))


class ScenarioSearch:
    """Vehicles of one kind, each lived with many severities and drivers at once."""

    def __init__(
        self, drawn: list[Scenario], bases: list[dict[str, np.ndarray]], *, rough: float = 1.0
    ) -> None:
        """rough: how many times less exactly than usual they live; see `live`."""
        self.drawn, self.rough = drawn, rough
        # Seven figures are plenty for a life, and half as much to move about.
        self.bases = [{name: value.astype(np.float32) for name, value in base.items()} for base in bases]
        self.kind = drawn[0].kind
        self.unit, self.signal, self.use = self.kind
        self.sound = self._aged()

    def run(self, rngs: Sequence[np.random.Generator]) -> list[Past | ValueError]:
        """The best true past of every vehicle, or why there is none; rngs: one for each, of what happens to its codes."""
        count, lives = len(self.drawn), SEVERITIES * len(DRIVERS)
        severity, of = (
            np.tile(np.linspace(0.0, 1.0, SEVERITIES), count),
            np.repeat(np.arange(count), SEVERITIES),
        )
        cleared = np.concatenate([draw_cleared(self.unit, lives, rng) for rng in rngs])
        return self._first_true(TriedLives(self, of, severity, cleared, life_events))

    def _aged(self) -> Condition:
        """Each vehicle when its cause sets in: sound, and as worn as its miles make it, or just rebuilt."""
        new = new_condition(len(self.drawn), self.unit)
        fresh = np.array([[any(cause.fresh_unit for cause in d.causes)] for d in self.drawn])
        end = np.where(fresh, 0.0, np.array([[d.onset_miles * units.MILE] for d in self.drawn]))
        world = join_vehicles([Fleet(self.unit, self.use, base) for base in self.bases])
        return live(world, new, np.zeros_like(end), end, np.zeros_like(end), rough=self.rough).condition

    def world(self, of: np.ndarray, severity: np.ndarray) -> Fleet:
        """Vehicles `of`, an index into the drawn ones in rising order, with their causes at a severity each."""
        worlds = []
        for i in np.unique(of):
            mine = severity[of == i]
            base = {name: np.repeat(value, len(mine), axis=0) for name, value in self.bases[i].items()}
            onset = np.full((len(mine), 1), self.drawn[i].onset_miles * units.MILE)
            growths = tuple(c.growth(self.unit, base, mine, onset) for c in self.drawn[i].causes)
            worlds.append(Fleet(self.unit, self.use, base, growths))
        return join_vehicles(worlds)

    def live_on(
        self, world: Fleet, of: np.ndarray, drivers: np.ndarray, events: Watch | None = None
    ) -> Lives:
        """From onset to complaint. A sudden cause is there before the first mile is judged: nobody stops half way into it."""
        onset = np.array([[self.drawn[i].onset_miles * units.MILE] for i in of])
        sudden = np.array([[units.MILE * any(c.sudden for c in self.drawn[i].causes)] for i in of])
        end = onset + HORIZON_MILES * units.MILE
        sensitivity = np.array(list(DRIVERS.values()))[drivers]
        here = self.sound.keep(of)
        return live(world, here, onset + sudden, end, sensitivity, events=events, rough=self.rough)

    def _first_true(self, tried: TriedLives) -> list[Past | ValueError]:
        """For each vehicle the best past whose cause is a cause: it comes back when left, and stays away when put right."""
        ranked = [mine[:MOST_TRIED] for mine in tried.order()]
        found: list[Past | ValueError] = [self._refusal(i, tried, ranked[i]) for i in range(len(self.drawn))]
        open_ = [i for i in range(len(self.drawn)) if len(ranked[i])]
        for start in range(0, MOST_TRIED, TRIED_AT_ONCE):
            some = [(i, tried.past(row)) for i in open_ for row in ranked[i][start : start + TRIED_AT_ONCE]]
            driven = with_outcomes([past for _, past in some])
            for (i, _), past in zip(some, driven, strict=True):
                if causes_proven(past) and isinstance(found[i], ValueError):
                    found[i] = past
            open_ = [i for i in open_ if isinstance(found[i], ValueError)]
            if not open_:
                break
        return found

    def _refusal(self, i: int, tried: TriedLives, ranked: np.ndarray) -> ValueError:
        """What to say when no past of vehicle i will do."""
        drawn = self.drawn[i]
        if len(ranked):
            return ValueError(
                f"cause {joint_name(drawn.causes)} must come back when only the part is renewed, and stay away when put right, "
                f"got none among {len(ranked)} lives in {drawn.use} use. Ask for another stage, use or seed."
            )
        stages = tried.stages_of(i)
        seen = ", ".join(f"{name} {stages.count(name)}" for name in STAGES)
        return ValueError(
            f"cause {joint_name(drawn.causes)} in {drawn.use} use must reach stage {drawn.request.stage or 'of complaint'} within "
            f"{HORIZON_MILES:,.0f} mi, got {len(stages)} complaints ({seen}). Ask for another stage, use or seed."
        )


class TriedLives:
    """One batch of lives of a search: which vehicle, how severe, whose driver, and how far from what was wanted."""

    def __init__(
        self,
        search: ScenarioSearch,
        of: np.ndarray,
        severity: np.ndarray,
        cleared: np.ndarray,
        events: Watch | None = None,
    ) -> None:
        """of, severity (n,). There are n d lives then, one for each of the d DRIVERS; cleared (n d,): miles since the codes of
        each were cleared, 0 never. events: what is to be logged."""
        drivers = np.tile(np.arange(len(DRIVERS)), (len(of), 1))
        world = search.world(of, severity)
        lane = np.repeat(np.arange(len(of)), drivers.shape[1])
        self.search, self.of, self.severity, self.driver = search, of[lane], severity[lane], drivers.ravel()
        self.world = world.rows(lane)
        sensitivity = np.array(list(DRIVERS.values()))[self.driver]
        lived = search.live_on(world, of, drivers, events)
        self.lives = cleared_before(self.world, lived, cleared * units.MILE, sensitivity)
        self.miles = self.lives.odometer / units.MILE - [search.drawn[i].onset_miles for i in self.of]
        self.stage = self._stages()
        self.off = self._off()

    def _off(self) -> np.ndarray:
        """How far each life is from what was wanted of its vehicle; infinite where it will not do."""
        off = np.full(len(self.of), np.inf)
        for i, drawn in enumerate(self.search.drawn):
            mine = np.flatnonzero(self.of == i)
            off[mine] = self.off_from(drawn, mine)
        return off

    def off_from(self, wish: Scenario, rows: np.ndarray | slice) -> np.ndarray:
        """How far some lives are from a wish for miles, severity, stage and driver; infinite where they will not do."""
        stage = self.stage[rows]
        off = wish.distance(self.miles[rows], stage, self.driver[rows], self.severity[rows])
        wrong = stage != STAGES.index(wish.stage) if wish.request.stage else False
        return np.where(self.lives.complained[rows] & ~np.asarray(wrong), off, np.inf)

    def _stages(self) -> np.ndarray:
        """Place in STAGES of each life's damage, as it ended with a complaint; see `Past.stage`."""
        stage, lives = np.zeros(len(self.of), int), self.lives
        rows = np.flatnonzero(lives.complained)
        if not len(rows):
            return stage
        world = self.world.rougher() if self.search.rough > 1.0 else self.world
        plant = world.rows(rows).plant(lives.odometer[rows, None])
        kind = self.search.signal, self.search.use
        subject = Subject(plant, lives.condition.keep(rows), *kind, sump=lives.sump[rows])
        victim = np.zeros(len(rows), bool)
        for part, degree in visible_damage(
            subject, [self.search.drawn[i].request.seed for i in self.of[rows]]
        ).items():
            seat = np.array([any(c.seat == part for c in drawn.causes) for drawn in self.search.drawn])
            victim |= (degree == BROKEN) & ~seat[self.of[rows]]
        stage[rows] = np.where(victim, np.where(lives.felt["slips"][rows] > NO_DRIVE_FELT, 2, 1), 0)
        return stage

    def rows_of(self, i: int) -> np.ndarray:
        """Lives of vehicle i that will do."""
        return np.flatnonzero((self.of == i) & np.isfinite(self.off))

    def stages_of(self, i: int) -> list[Stage]:
        """Stages of the complaints of vehicle i."""
        return [STAGES[s] for s in self.stage[(self.of == i) & self.lives.complained]]

    def order(self) -> list[np.ndarray]:
        """For each vehicle its lives that will do, best first."""
        rows = [self.rows_of(i) for i in range(len(self.search.drawn))]
        return [mine[np.argsort(self.off[mine], kind="stable")] for mine in rows]

    def past(self, row: int) -> Past:
        """One life as the vehicle that comes in."""
        drawn, lives = self.search.drawn[self.of[row]], self.lives
        one = np.array([row])
        world = self.world.rows(one)
        return Past(
            signal=drawn.signal,
            use=drawn.use,
            causes=drawn.causes,
            onset_miles=drawn.onset_miles,
            driver=list(DRIVERS)[self.driver[row]],
            severity=float(self.severity[row]),
            world=Fleet(world.unit, world.use, world.base, world.growths[: len(drawn.causes)]),
            condition=lives.condition.keep(one),
            sump=lives.sump[one],
            odometer=float(lives.odometer[row]),
            felt={name: float(value[row]) for name, value in lives.felt.items()},
            events=lives.events[row],
            seed=drawn.request.seed,
            background=lived_background(
                self.search.use,
                drawn.signal,
                *(np.array([x]) for x in (drawn.onset_miles, *self.felt_at(one)[:, 0])),
            ),
        )

    def felt_at(self, rows: np.ndarray) -> np.ndarray:
        """Odometers (4, n) [mi] of some lives: at the complaint, where the trouble was noticed, where it was loud, and where codes
        were cleared, NaN never."""
        cleared = np.array([each.get(CODES_CLEARED, np.nan) for each in self.lives.events])
        return np.array([self.lives.odometer, *self.lives.noticed, cleared])[:, rows] / units.MILE
