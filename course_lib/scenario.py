"""A vehicle's past: drawn, then made true by finding the severity with which it ends as the request wants it to.

Nothing about a symptom is chosen here. A cause, a use, an odometer and a driver are drawn; then the severity of the cause is
bisected until the driver complains after about the wanted miles, with the wanted stage of damage.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from course_lib import units
from course_lib.catalogue.causes import Cause, causes_of, load_cause
from course_lib.catalogue.parts import NO_PART, damage, renew, worn
from course_lib.transmission.duty import load_uses
from course_lib.transmission.events import landmarks
from course_lib.transmission.life import Growth, Lives, World, live, pick
from course_lib.transmission.point import Condition, new_condition
from course_lib.transmission.spec import draw_parameters, load_unit
from course_lib.vocabulary import one_of

Stage = Literal["early", "driving", "no drive"]
STAGES: tuple[Stage, ...] = ("early", "driving", "no drive")
DRIVERS = {"attentive": 1.0, "ordinary": 0.5, "patient": 0.25, "stoic": 0.1}  # sensitivity
ONSET_MILES = {
    "town": (25e3, 55e3),
    "mixed": (30e3, 75e3),
    "highway": (40e3, 90e3),
    "towing": (25e3, 60e3),
    "yard": (4e3, 10e3),
}
WANTED_MILES = (60.0, 6000.0)
HORIZON_MILES = 30e3
SEVERITIES = 10
ROUNDS = 3
NO_DRIVE_FELT = 8.0  # strength of "slips" at which it hardly moves any more
STAGE_SHARES = (0.30, 0.45, 0.25)
OTHER_STAGE, OTHER_DRIVER = 2.0, 0.5  # how much of a factor in miles (natural log) a wish is worth
MOST_TRIED, TRIED_AT_ONCE = 48, 4
PROOF = ("part only", "part and cause")  # the repairs that show whether a cause is one


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a case should be. None = drawn from the seed."""

    seed: int
    unit: str = "T3"
    cause: str | None = None
    signal: str | None = None
    stage: Stage | None = None
    use: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The decisions of a past, before the physics has its say. stage and driver are wishes unless the request names a stage."""

    request: Request
    cause: Cause
    signal: str
    use: str
    onset_miles: float
    wanted_miles: float
    stage: Stage
    driver: str


@dataclass(frozen=True, kw_only=True)
class Past:
    """A life that ended with a complaint: the vehicle as it comes in, a batch of one."""

    drawn: Drawn
    driver: str
    severity: float
    world: World
    condition: Condition
    odometer: float  # m
    felt: dict[str, float]
    events: dict[str, float]

    @property
    def miles_since_onset(self) -> float:
        """Miles from the onset of the cause to the complaint."""
        return self.odometer / units.MILE - self.drawn.onset_miles

    @cached_property
    def stage(self) -> Stage:
        """ "early": nothing is broken but the seat of the cause; else "driving" or "no drive"."""
        if broken_parts(self)[0][0] in (NO_PART, self.drawn.cause.seat):
            return "early"
        return "no drive" if self.felt["slips"] > NO_DRIVE_FELT else "driving"

    @property
    def sensitivity(self) -> float:
        """Of the driver."""
        return DRIVERS[self.driver]


def draw(request: Request, rng: np.random.Generator) -> Drawn:
    """Decide what the request leaves open. Raises ValueError for a request that contradicts itself."""
    unit = load_unit(request.unit)
    one_of("stage", request.stage or STAGES[0], STAGES)
    one_of("use", request.use or "mixed", load_uses().uses)
    one_of("signal", request.signal or unit.signals[0], unit.signals)
    asked = (request.signal,) if request.signal else unit.signals
    possible = {c.id: c.weight for signal in asked for c in causes_of(unit, signal)}
    share = np.array(list(possible.values())) / sum(possible.values())
    cause = load_cause(request.cause or str(rng.choice(list(possible), p=share)))
    if not cause.fits(unit):
        raise ValueError(
            f"cause must be one that unit {unit.name} can have, got {cause.id!r}. Change one of the two."
        )
    signals = [signal for signal in unit.signals if signal in cause.signals]
    signal = request.signal or str(rng.choice(signals))
    if signal not in cause.signals:
        raise ValueError(
            f"signal must be one of {', '.join(cause.signals)} for cause {cause.id}, got {signal!r}. Change one of the two."
        )
    use = request.use or str(rng.choice(list(ONSET_MILES), p=[0.25, 0.3, 0.15, 0.15, 0.15]))
    low, high = ONSET_MILES[use]
    return Drawn(
        request=request,
        cause=cause,
        signal=signal,
        use=use,
        onset_miles=float(rng.uniform(low, high)),
        wanted_miles=float(np.exp(rng.uniform(*np.log(WANTED_MILES)))) * (0.25 if use == "yard" else 1.0),
        stage=request.stage or rng.choice(STAGES, p=STAGE_SHARES),
        driver=str(rng.choice(list(DRIVERS))),
    )


def find_past(request: Request, rng: np.random.Generator) -> Past:
    """Draw a past and find the severity that makes it come true. Raises ValueError, with the numbers, when none does.

    It only counts if its cause is one: with the broken parts renewed and the cause left, the trouble comes back; with both
    put right it does not, over the same miles.
    """
    drawn = draw(request, rng)
    base = draw_parameters(load_unit(request.unit), rng, signal=drawn.signal)
    sound = _aged(drawn, base)
    grid, drivers = np.linspace(0.0, 1.0, SEVERITIES), tuple(DRIVERS)
    tried: list[Past] = []
    for _ in range(ROUNDS):
        tried += _live_all(drawn, base, sound, grid, drivers)
        best = _ranked(drawn, tried)[0]
        step = (grid[-1] - grid[0]) / (len(grid) - 1)
        grid = np.clip(np.linspace(best.severity - step, best.severity + step, SEVERITIES), 0.0, 1.0)
        drivers = (best.driver,)
    return _with_log(drawn, base, sound, _first_true(_ranked(drawn, tried)))


def _aged(drawn: Drawn, base) -> Lives:
    """The vehicle when its cause sets in: sound, and as worn as its miles make it."""
    end = np.full((1, 1), drawn.onset_miles * units.MILE)
    start = new_condition(1, base["element_clearance"].shape[-1])
    return live(World(drawn.request.unit, drawn.use, base), start, np.zeros((1, 1)), end, np.zeros((1, 1)))


def _live_all(drawn: Drawn, base, sound: Lives, grid, drivers) -> list[Past]:
    """Live the same vehicle with every severity of `grid` and every driver, in one batch; those that end in a complaint."""
    severity = np.repeat(grid, len(drivers))
    who = [name for _ in grid for name in drivers]
    rows = np.zeros(len(severity), int)
    world = _world(drawn, {name: value[rows] for name, value in base.items()}, severity)
    lives = _live_on(drawn, world, pick(sound.condition, rows), np.array([[DRIVERS[name]] for name in who]))
    return [
        _past(drawn, who[i], float(severity[i]), world, lives, i)
        for i in np.flatnonzero(lives.complained).tolist()
    ]


def _past(drawn: Drawn, driver: str, severity: float, world: World, lives: Lives, i: int) -> Past:
    rows = np.array([i])
    return Past(
        drawn=drawn,
        driver=driver,
        severity=severity,
        world=world.rows(rows),
        condition=pick(lives.condition, rows),
        odometer=float(lives.odometer[i]),
        felt={k: float(v[i]) for k, v in lives.felt.items()},
        events=lives.events[i],
    )


def _world(drawn: Drawn, base, severity) -> World:
    onset = np.full((len(severity), 1), drawn.onset_miles * units.MILE)
    growth = drawn.cause.growth(load_unit(drawn.request.unit), base, severity, onset)
    return World(drawn.request.unit, drawn.use, base, (growth,))


def _live_on(drawn: Drawn, world: World, condition: Condition, sensitivity, events=None) -> Lives:
    """From onset to complaint. A sudden cause is there before the first mile is judged, so nobody stops half way into it."""
    onset = np.full((len(condition.pump), 1), drawn.onset_miles * units.MILE)
    start = onset + (world.growths[0].over if drawn.cause.sudden else 0.0)
    return live(world, condition, start, onset + HORIZON_MILES * units.MILE, sensitivity, events=events)


def _ranked(drawn: Drawn, tried: list[Past]) -> list[Past]:
    """The lives that meet the request, nearest to the wanted miles, stage and driver first."""
    hard = drawn.request.stage

    def off(past: Past) -> float:
        miles = abs(np.log(max(past.miles_since_onset, 1.0) / drawn.wanted_miles))
        return (
            miles + OTHER_STAGE * (past.stage != drawn.stage) + OTHER_DRIVER * (past.driver != drawn.driver)
        )

    fit = [past for past in tried if hard in (None, past.stage)]
    if not fit:
        seen = ", ".join(f"{name} {sum(past.stage == name for past in tried)}" for name in STAGES)
        raise ValueError(
            f"cause {drawn.cause.id} in {drawn.use} use must reach stage {hard or 'of complaint'} within {HORIZON_MILES:,.0f} mi, "
            f"got {len(tried)} complaints ({seen}). Ask for another stage, use or seed."
        )
    return sorted(fit, key=off)


def _first_true(ranked: list[Past]) -> Past:
    """The first past whose cause is a cause: it comes back when left, and stays away when put right."""
    for start in range(0, min(len(ranked), MOST_TRIED), TRIED_AT_ONCE):
        some = ranked[start : start + TRIED_AT_ONCE]
        trips = [(past, plans(past)[name], same_miles(past)) for past in some for name in PROOF]
        back = drive_forward(trips).complained.reshape(len(some), len(PROOF))
        for past, (part_only, both) in zip(some, back, strict=True):
            if part_only and not both:
                return past
    drawn = ranked[0].drawn
    raise ValueError(
        f"cause {drawn.cause.id} must come back when only the part is renewed, got no such life among {len(ranked)} in "
        f"{drawn.use} use. Ask for another stage, use or seed."
    )


def _with_log(drawn: Drawn, base, sound: Lives, past: Past) -> Past:
    """Live the chosen life once more by itself, with its log."""
    world = _world(drawn, base, np.array([past.severity]))
    lives = _live_on(drawn, world, sound.condition, np.array([[past.sensitivity]]), landmarks)
    return _past(drawn, past.driver, past.severity, world, lives, 0)


# ---------------------------------------------------------------------- what is broken, and the repair driven forward
def broken_parts(past: Past) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(parts that must be named, parts that may be named): the worst damage first, the seat of the cause after it."""
    plant = past.world.plant(np.array([[past.odometer]]))
    degree = {
        name: float(value[0]) for name, value in damage(plant, past.condition, past.drawn.signal).items()
    }
    may = {name for name, value in worn(plant, past.condition, past.drawn.signal).items() if value[0] >= 1.0}
    broken = sorted((name for name, value in degree.items() if value >= 1.0), key=lambda name: -degree[name])
    victims = [name for name in broken if name != past.drawn.cause.seat]
    must = victims[:1] or broken[:1] or [NO_PART]
    seat = {past.drawn.cause.seat} - {""}
    return tuple(must), tuple(sorted((may | set(broken) | seat) - set(must)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A repair: the parts renewed, and whether the cause is corrected."""

    parts: tuple[str, ...]
    correct_cause: bool


def drive_forward(trips: list[tuple[Past, Plan, float]]) -> Lives:
    """Drive on after repairs, one lane for each (past, plan, miles of the owner's use), fluid new and to the mark.

    A renewed seat part resets the growth of the cause, which then comes back after the miles the cause declares; a cause that
    declares none is as it was at once. A corrected cause is gone.
    """
    here = np.array([[past.odometer] for past, _, _ in trips])
    mended = [renew(past.condition, past.drawn.request.unit, plan.parts) for past, plan, _ in trips]
    condition = Condition(**{n: np.concatenate([getattr(c, n) for c in mended]) for n in Condition.__slots__})
    world = join([past.world for past, _, _ in trips])
    onset = np.array([[_onset_after(past, plan)] for past, plan, _ in trips])
    changed = World(world.unit, world.use, world.base, (replace(world.growths[0], onset=onset),))
    far = np.array([[miles * units.MILE] for _, _, miles in trips])
    return live(
        changed,
        condition,
        here + units.MILE,
        here + far,
        np.array([[past.sensitivity] for past, _, _ in trips]),
    )


def _onset_after(past: Past, plan: Plan) -> float:
    """Odometer [m] at which the cause sets in after a repair: never, anew, or where it always was."""
    if plan.correct_cause:
        return np.inf
    bought = past.drawn.cause.bought_miles(plan.parts) * units.MILE
    if bought > 0:
        return past.odometer + bought
    return float(past.world.growths[0].onset[0, 0])


def join(worlds: list[World]) -> World:
    """Vehicles of the same unit and use, with one change each, as one batch."""
    first = worlds[0]
    base = {name: np.concatenate([world.base[name] for world in worlds]) for name in first.base}
    growths = [world.growths[0] for world in worlds]
    change = {name: np.concatenate([growth.change[name] for growth in growths]) for name in growths[0].change}
    onset, over = (
        np.concatenate([getattr(growth, name) for growth in growths]) for name in ("onset", "over")
    )
    return World(first.unit, first.use, base, (Growth(change=change, onset=onset, over=over),))


def plans(past: Past) -> dict[str, Plan]:
    """The three repairs every debrief compares."""
    must, also = broken_parts(past)
    parts = tuple(name for name in must + also if name != NO_PART)
    return {
        "part only": Plan(parts=() if NO_PART in must else parts, correct_cause=False),
        "cause only": Plan(parts=(), correct_cause=True),
        "part and cause": Plan(parts=parts, correct_cause=True),
    }


def same_miles(past: Past) -> float:
    """Miles over which repairs are compared: what it took from onset to complaint, and what a new seat part buys."""
    return 2.0 * past.miles_since_onset + past.drawn.cause.returns_after_miles + 1500.0
