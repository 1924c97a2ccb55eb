"""A vehicle lives its miles: wear, heat, leaks and aging over the odometer, until its driver complains.

Every lane of the batch is one vehicle with its own step length, so that a sudden failure in one does not slow down the others.
The odometer is in meters here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from course_lib.transmission.duty import duty
from course_lib.transmission.felt import felt
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import PER_ELEMENT, PLAIN, Condition, Workings
from course_lib.transmission.wear import rates

SPENT = 3.0  # oxidation past which fluid cannot get any worse
SMALLEST_STEP = 0.05 * 1609.344
LONGEST_STEP = 8000.0 * 1609.344
GROWTH_PART = 0.1  # of a growing change, that one step may take in
MOST_ROUNDS = 600
# Error of one step that is accepted, in the unit of each entry of a condition.
TOLERANCE = dict.fromkeys(PLAIN + PER_ELEMENT, 0.02) | {"lost": 3e-5, "lining": 1.2e-5}


# ---------------------------------------------------------------------- what wears, and how fast
@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """A change of parameters that sets in at an odometer and grows to its full size over a distance.

    change: parameter name -> what is added at full size, shaped like the parameter; onset and over: meters, (n, 1).
    """

    change: dict[str, np.ndarray]
    onset: np.ndarray
    over: np.ndarray
    lasts: np.ndarray

    def share(self, odometer):
        """How much of the change is there at `odometer` (n, 1): 0 before onset, 1 when full grown."""
        return np.clip((odometer - self.onset) / self.over, 0.0, 1.0) * (odometer < self.onset + self.lasts)


def parameters_at(
    base: dict[str, np.ndarray], growths: tuple[Growth, ...], odometer
) -> dict[str, np.ndarray]:
    """Parameters at an odometer: the vehicle's own plus every change that has grown by then."""
    now = dict(base)
    for growth in growths:
        share = growth.share(odometer)
        for name, change in growth.change.items():
            now[name] = now[name] + change * (share[..., None] if change.ndim == 3 else share)
    return now


def combine(condition: Condition, rate: Condition, distance) -> Condition:
    """`condition` after `distance` (n, 1) at a constant `rate`, kept within what is possible."""
    far = distance[..., None]
    plain = {n: np.maximum(getattr(condition, n) + distance * getattr(rate, n), 0.0) for n in PLAIN}
    each = {n: np.maximum(getattr(condition, n) + far * getattr(rate, n), 0.0) for n in PER_ELEMENT}
    for name in (*PLAIN[3:], "char", "seal", "holding"):
        part = plain if name in plain else each
        part[name] = np.minimum(part[name], 1.0)
    plain["oxidation"] = np.minimum(plain["oxidation"], SPENT)
    return Condition(**plain, **each)


def pick(condition: Condition, rows) -> Condition:
    """The vehicles `rows` of a batch."""
    return Condition(**{n: getattr(condition, n)[rows] for n in PLAIN + PER_ELEMENT})


def put(whole: Condition, rows, part: Condition) -> None:
    """Write `part` into the rows of `whole`, in place."""
    for name in PLAIN + PER_ELEMENT:
        getattr(whole, name)[rows] = getattr(part, name)


def step_error(a: Condition, b: Condition, distance) -> np.ndarray:
    """Largest difference of two rates over `distance`, in units of the tolerance; shape (n, 1)."""
    worst = np.zeros_like(distance)
    for name in PLAIN:
        worst = np.maximum(worst, np.abs(getattr(a, name) - getattr(b, name)) * distance / TOLERANCE[name])
    for name in PER_ELEMENT:
        gap = np.abs(getattr(a, name) - getattr(b, name)).max(-1) * distance / TOLERANCE[name]
        worst = np.maximum(worst, gap)
    return 0.5 * worst


# ---------------------------------------------------------------------- living the miles
@dataclass(frozen=True, slots=True, kw_only=True)
class Lives:
    """Where a batch of lives ended. n vehicles.

    condition; odometer (n,) m; complained (n,) bool, else the horizon was reached; felt name -> (n,), how strongly each trouble
    is felt; events: for each vehicle, event name -> odometer [m] of its first crossing.
    """

    condition: Condition
    odometer: np.ndarray
    complained: np.ndarray
    felt: dict[str, np.ndarray]
    events: tuple[dict[str, float], ...]


@dataclass(slots=True)
class _Lanes:
    """The vehicles still under way: where they are and how fast they change there."""

    rows: np.ndarray
    odometer: np.ndarray
    step: np.ndarray
    condition: Condition
    rate: Condition
    work: Workings
    felt: dict[str, np.ndarray]

    def keep(self, mask) -> None:
        self.rows, self.odometer, self.step = self.rows[mask], self.odometer[mask], self.step[mask]
        self.condition, self.rate = pick(self.condition, mask), pick(self.rate, mask)
        self.felt = {name: value[mask] for name, value in self.felt.items()}


class World:
    """A batch of vehicles with the changes that befall them: what they are like at any odometer."""

    def __init__(
        self, unit: str, use: str, base: dict[str, np.ndarray], growths: tuple[Growth, ...] = ()
    ) -> None:
        self.unit, self.use, self.duty, self.base, self.growths = unit, use, duty(use), base, growths

    def rows(self, rows) -> World:
        """The same for some of the vehicles only."""
        base = {name: value[rows] for name, value in self.base.items()}
        cut = tuple(
            Growth(
                change={n: c[rows] for n, c in g.change.items()},
                onset=g.onset[rows],
                over=g.over[rows],
                lasts=g.lasts[rows],
            )
            for g in self.growths
        )
        return World(self.unit, self.use, base, cut)

    def plant(self, odometer) -> Plant:
        """The vehicles as they are at `odometer` (n, 1)."""
        return Plant(self.unit, parameters_at(self.base, self.growths, odometer))

    def longest_step(self, odometer) -> np.ndarray:
        """Step [m], (n, 1), that neither crosses an onset nor takes in more than a part of a change that grows.

        Before and after a burn-out nothing wears, so the error test alone would let a step jump over it.
        """
        longest = np.full_like(odometer, LONGEST_STEP)
        for growth in self.growths:
            ramp = np.where(odometer < growth.onset + growth.over, GROWTH_PART * growth.over, LONGEST_STEP)
            ahead = growth.onset - odometer
            longest = np.minimum(longest, np.where(ahead > 0.0, ahead, ramp))
        return np.maximum(longest, SMALLEST_STEP)

    def slope(self, odometer, condition: Condition) -> tuple[Condition, Workings, dict[str, np.ndarray]]:
        """Rates of change per meter, workings over the duty, and what is felt."""
        plant = self.plant(odometer)
        work = plant.operate(condition, self.duty.op, self.duty.seconds)
        return rates(plant, condition, work, self.duty), work, felt(plant, condition, work, self.use)


def live(
    world: World,
    condition: Condition,
    odometer: np.ndarray,
    horizon: np.ndarray,
    sensitivity: np.ndarray,
    *,
    first_step: float = 2.0 * 1609.344,
    events: Callable[[Plant, Condition, Workings], dict[str, np.ndarray]] | None = None,
) -> Lives:
    """Drive every vehicle from `odometer` until its driver complains or it reaches `horizon`.

    odometer, horizon [m] and sensitivity have shape (n, 1). A driver complains when sensitivity times the strongest felt trouble
    reaches 1. Method: Heun's rule with an Euler error test for each vehicle by itself; the moment of complaint is closed in on
    by shortening the step, never by interpolation through a sudden change.
    """
    count = len(odometer)
    done = _Result(count, condition)
    rate, work, strength = world.slope(odometer, condition)
    lanes = _Lanes(
        np.arange(count), odometer, np.full((count, 1), first_step), condition, rate, work, strength
    )
    done.log(world, lanes, np.ones(count, bool), events)
    lanes.keep(~done.settle(lanes, sensitivity, horizon))
    for _ in range(MOST_ROUNDS):
        if not len(lanes.rows):
            return done.lives()
        accepted = _advance(world.rows(lanes.rows), lanes, sensitivity[lanes.rows], horizon[lanes.rows])
        done.log(world, lanes, accepted, events)
        lanes.keep(~done.settle(lanes, sensitivity, horizon))
    raise RuntimeError(
        f"lives must end within {MOST_ROUNDS} steps, got {len(lanes.rows)} under way. Shorten the horizon."
    )


def _advance(world: World, lanes: _Lanes, sensitivity, horizon) -> np.ndarray:
    """One trial step of every lane; returns which lanes accepted it. Rejected lanes only shorten their step."""
    step = np.minimum(np.minimum(lanes.step, world.longest_step(lanes.odometer)), horizon - lanes.odometer)
    ahead = lanes.odometer + step
    guess = combine(lanes.condition, lanes.rate, step)
    rate_ahead, _, _ = world.slope(ahead, guess)
    mean = _mean(lanes.rate, rate_ahead)
    error = step_error(lanes.rate, rate_ahead, step)
    new = combine(lanes.condition, mean, step)
    np.minimum(new.lining, world.base["element_lining"], out=new.lining)
    rate, work, strength = world.slope(ahead, new)
    onset = np.min([g.onset for g in world.growths], axis=0) if world.growths else -np.inf
    fine = np.maximum(SMALLEST_STEP * 10, 0.02 * (ahead - onset))
    overshot = (worst_felt(strength) * sensitivity >= 1.0) & (step > fine)
    accepted = ((error < 1.0) & ~overshot) | (step <= SMALLEST_STEP * 1.01)
    factor = np.clip(0.9 / np.sqrt(np.maximum(error, 1e-6)), 0.25, 3.0)
    lanes.step = np.clip(np.where(overshot, 0.35 * step, factor * step), SMALLEST_STEP, LONGEST_STEP)
    take = accepted[:, 0]
    lanes.odometer = np.where(accepted, ahead, lanes.odometer)
    lanes.condition = _choose(take, new, lanes.condition)
    lanes.rate = _choose(take, rate, lanes.rate)
    lanes.work = work  # read only for lanes that moved on
    lanes.felt = {name: np.where(accepted, value, lanes.felt[name]) for name, value in strength.items()}
    return take


def _choose(take, new: Condition, old: Condition) -> Condition:
    def pair(name):
        mask = take.reshape((-1,) + (1,) * (getattr(old, name).ndim - 1))
        return np.where(mask, getattr(new, name), getattr(old, name))

    return Condition(**{name: pair(name) for name in PLAIN + PER_ELEMENT})


def _mean(a: Condition, b: Condition) -> Condition:
    return Condition(**{name: 0.5 * (getattr(a, name) + getattr(b, name)) for name in PLAIN + PER_ELEMENT})


def worst_felt(strength: dict[str, np.ndarray]) -> np.ndarray:
    """The strongest trouble, (n, 1)."""
    return np.max(list(strength.values()), axis=0)


class _Result:
    """Collects the lives as they end."""

    def __init__(self, count: int, condition: Condition) -> None:
        self.condition = pick(condition, np.arange(count))
        self.odometer, self.complained = np.zeros(count), np.zeros(count, bool)
        self.felt: dict[str, np.ndarray] = {}
        self.events: tuple[dict[str, float], ...] = tuple({} for _ in range(count))

    def log(self, world: World, lanes: _Lanes, accepted, events) -> None:
        """Note the first crossing of every event for the lanes that moved on."""
        if events is None or not len(lanes.rows):
            return
        plant = world.rows(lanes.rows).plant(lanes.odometer)
        for name, happened in events(plant, lanes.condition, lanes.work).items():
            for lane in np.flatnonzero(happened & accepted):
                self.events[lanes.rows[lane]].setdefault(name, float(lanes.odometer[lane, 0]))

    def settle(self, lanes: _Lanes, sensitivity, horizon) -> np.ndarray:
        """Which lanes have ended; their state is stored."""
        rows = lanes.rows
        complains = worst_felt(lanes.felt)[:, 0] * sensitivity[rows, 0] >= 1.0
        over = complains | (lanes.odometer[:, 0] >= horizon[rows, 0] - 1.0)
        ended = rows[over]
        put(self.condition, ended, pick(lanes.condition, over))
        self.odometer[ended], self.complained[ended] = lanes.odometer[over, 0], complains[over]
        for name, value in lanes.felt.items():
            self.felt.setdefault(name, np.zeros(len(self.odometer)))[ended] = value[over, 0]
        return over

    def lives(self) -> Lives:
        return Lives(
            condition=self.condition,
            odometer=self.odometer,
            complained=self.complained,
            felt=self.felt,
            events=self.events,
        )
