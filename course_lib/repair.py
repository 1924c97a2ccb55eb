"""A vehicle as it comes in, what is broken on it, and repairs driven forward."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import msgspec
import numpy as np

from course_lib import units
from course_lib.catalogue.background import MOMENTS, Background
from course_lib.catalogue.causes import Cause, load_cause
from course_lib.catalogue.parts import NO_PART, damage, renew, worn
from course_lib.transmission.life import Growth, Lives, World, live
from course_lib.transmission.point import Condition, new_condition
from course_lib.transmission.spec import load_unit, nominal_parameters

Stage = Literal["early", "driving", "no drive"]
STAGES: tuple[Stage, ...] = ("early", "driving", "no drive")
DRIVERS = {"attentive": 1.0, "ordinary": 0.5, "patient": 0.25, "stoic": 0.1}  # sensitivity
NO_DRIVE_FELT = 8.0  # strength of "slips" at which it hardly moves any more


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What comes of a repair: odometer [m] at which it is back, or to which it was driven; complained: whether it is back;
    felt: what the driver feels there."""

    odometer: float
    complained: bool
    felt: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class Past:
    """A life that ended with a complaint: the vehicle as it comes in, a batch of one.

    causes: what ails it, each with a growth of `world` at the same place; onset_miles: odometer at which they set in;
    background: what befell it besides, a batch of one.
    """

    unit: str
    signal: str
    use: str
    causes: tuple[Cause, ...]
    onset_miles: float
    driver: str
    severity: float
    world: World
    condition: Condition
    odometer: float  # m
    felt: dict[str, float]
    events: dict[str, float]
    background: Background
    ahead: dict[str, Ahead] = field(
        default_factory=dict, compare=False
    )  # of `plans`, where they have been driven

    @property
    def miles_since_onset(self) -> float:
        """Miles from the onset of the cause to the complaint."""
        return self.odometer / units.MILE - self.onset_miles

    @property
    def seats(self) -> frozenset[str]:
        """The parts in which the causes sit."""
        return frozenset(cause.seat for cause in self.causes if cause.seat)

    @property
    def sensitivity(self) -> float:
        """Of the driver."""
        return DRIVERS[self.driver]

    @property
    def plant(self):
        """The vehicle at its present odometer."""
        return self.world.plant(np.array([[self.odometer]]))

    @cached_property
    def stage(self) -> Stage:
        """ "early": nothing is broken but the seat of a cause; else "driving" or "no drive"."""
        if broken_parts(self)[0][0] in (NO_PART, *self.seats):
            return "early"
        return "no drive" if self.felt["slips"] > NO_DRIVE_FELT else "driving"


def broken_parts(past: Past) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(parts that must be named, parts that may be named): the worst damage first, the seats of the causes after it."""
    plant = past.plant
    degree = {name: float(value[0]) for name, value in damage(plant, past.condition, past.signal).items()}
    may = {name for name, value in worn(plant, past.condition, past.signal).items() if value[0] >= 1.0}
    broken = sorted((name for name, value in degree.items() if value >= 1.0), key=lambda name: -degree[name])
    victims = [name for name in broken if name not in past.seats]
    must = victims[:1] or broken[:1] or [NO_PART]
    return tuple(must), tuple(sorted((may | set(broken) | past.seats) - set(must)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A repair: the parts renewed, and the ids of the causes corrected."""

    parts: tuple[str, ...]
    corrected: frozenset[str] = frozenset()


def plans(past: Past) -> dict[str, Plan]:
    """The repairs every debrief compares: the part alone, the cause alone, both; with two causes also each one left."""
    must, also = broken_parts(past)
    parts = tuple(name for name in must + also if name != NO_PART)
    every = frozenset(cause.id for cause in past.causes)
    found = {
        "part only": Plan(parts=() if NO_PART in must else parts),
        "cause only": Plan(parts=(), corrected=every),
        "part and cause": Plan(parts=parts, corrected=every),
    }
    if len(past.causes) > 1:
        for cause in past.causes:
            found[f"all but {cause.id}"] = Plan(parts=parts, corrected=every - {cause.id})
    return found


def comes_back(name: str) -> bool:
    """Whether a repair of that name leaves a cause and so must come back."""
    return name == "part only" or name.startswith("all but ")


def same_miles(past: Past) -> float:
    """Miles over which repairs are compared: what it took from onset to complaint, and what a new seat part buys."""
    bought = max(cause.returns_after_miles for cause in past.causes)
    return 2.0 * past.miles_since_onset + bought + 1500.0


def drive_forward(trips: list[tuple[Past, Plan, float]], events=None) -> Lives:
    """Drive on after repairs, one lane for each (past, plan, miles of the owner's use), fluid new and to the mark.

    What a renewed seat buys in miles is the cause's own; a corrected cause is gone.
    """
    here = np.array([[past.odometer] for past, _, _ in trips])
    condition = stack([renew(past.condition, past.unit, plan.parts) for past, plan, _ in trips])
    world = join([_after(past, plan) for past, plan, _ in trips])
    far = np.array([[miles * units.MILE] for _, _, miles in trips])
    sensitivity = np.array([[past.sensitivity] for past, _, _ in trips])
    return live(world, condition, here + units.MILE, here + far, sensitivity, events=events)


def with_ahead(pasts: list[Past]) -> list[Past]:
    """Those vehicles with what comes of the repairs that every debrief compares, driven over the `same_miles` in one batch."""
    trips = [(past, name, plan) for past in pasts for name, plan in plans(past).items()]
    if not trips:
        return []
    lives = drive_forward([(past, plan, same_miles(past)) for past, _, plan in trips])
    found: dict[int, dict[str, Ahead]] = {}
    for row, (past, name, _) in enumerate(trips):
        found.setdefault(id(past), {})[name] = ahead_of(lives, row)
    return [replace(past, ahead=found[id(past)]) for past in pasts]


def ahead_of(lives: Lives, row: int) -> Ahead:
    """One of some repairs driven forward."""
    felt = {name: float(value[row]) for name, value in lives.felt.items()}
    return Ahead(odometer=float(lives.odometer[row]), complained=bool(lives.complained[row]), felt=felt)


def holds_true(past: Past) -> bool:
    """Whether its causes are causes: what leaves one comes back, the whole repair does not."""
    return all(
        there.complained == comes_back(name) for name, there in past.ahead.items() if name != "cause only"
    )


def _after(past: Past, plan: Plan) -> World:
    """The vehicle after a repair: each cause never, anew after the miles its new seat buys, or where it always was."""
    growths = []
    for cause, growth in zip(past.causes, past.world.growths, strict=True):
        onset = growth.onset
        if cause.id in plan.corrected:
            onset = np.full_like(onset, np.inf)
        elif bought := cause.bought_miles(plan.parts):
            onset = np.full_like(onset, past.odometer + bought * units.MILE)
        growths.append(replace(growth, onset=onset))
    return World(past.world.unit, past.world.use, past.world.base, tuple(growths))


def stack(conditions: list[Condition]) -> Condition:
    """Conditions of vehicles of the same unit as one batch."""
    return Condition(
        **{n: np.concatenate([getattr(each, n) for each in conditions]) for n in Condition.__slots__}
    )


def join(worlds: list[World]) -> World:
    """Vehicles of the same unit and use as one batch; what one of them has no change for stays as it is."""
    first = worlds[0]
    base = {name: np.concatenate([world.base[name] for world in worlds]) for name in first.base}
    most = max(len(world.growths) for world in worlds)
    return World(first.unit, first.use, base, tuple(_join_growths(worlds, k) for k in range(most)))


def _join_growths(worlds: list[World], k: int) -> Growth:
    """The k-th growth of every world as one; a world that has fewer gets one that never sets in."""
    sizes = [len(world.base["pump_displacement"]) for world in worlds]
    each = [world.growths[k] if k < len(world.growths) else None for world in worlds]
    names = dict.fromkeys(name for growth in each if growth for name in growth.change)
    change = {}
    for name in names:
        like = worlds[0].base[name]
        parts = [
            growth.change[name]
            if growth and name in growth.change
            else np.zeros((n, *like.shape[1:]), like.dtype)
            for growth, n in zip(each, sizes, strict=True)
        ]
        change[name] = np.concatenate(parts)

    def times(field, otherwise):
        return np.concatenate(
            [getattr(g, field) if g else np.full((n, 1), otherwise) for g, n in zip(each, sizes, strict=True)]
        )

    return Growth(
        change=change, onset=times("onset", np.inf), over=times("over", 1.0), lasts=times("lasts", np.inf)
    )


# ---------------------------------------------------------------------- a vehicle as stored
Numbers = list[float]


class StoredGrowth(msgspec.Struct, frozen=True, kw_only=True):
    """One `Growth` of one vehicle: what has changed, and when [m]."""

    change: dict[str, Numbers]
    onset: float
    over: float
    lasts: float | None


class StoredVehicle(msgspec.Struct, frozen=True, kw_only=True):
    """A `Past` as plain numbers, so that it can be kept with the key of a case."""

    unit: str
    signal: str
    use: str
    causes: tuple[str, ...]
    onset_miles: float
    driver: str
    severity: float
    odometer: float
    base: dict[str, Numbers]
    growths: tuple[StoredGrowth, ...]
    condition: dict[str, Numbers]
    felt: dict[str, float]
    events: dict[str, float]
    moments: dict[
        str, float
    ] = {}  # odometers [mi] of its background; none in keys before generator version 6
    shape: str = "creeping"

    @classmethod
    def of(cls, past: Past) -> StoredVehicle:
        """The vehicle of a past."""
        same = ("unit", "signal", "use", "onset_miles", "driver", "severity", "odometer", "felt", "events")
        return cls(
            **{name: getattr(past, name) for name in same},
            causes=tuple(cause.id for cause in past.causes),
            base=_plain(past.world.base),
            growths=tuple(
                StoredGrowth(
                    change=_plain({n: c for n, c in g.change.items() if np.any(c)}),
                    onset=g.onset.item(),
                    over=g.over.item(),
                    lasts=g.lasts.item() if np.isfinite(g.lasts.item()) else None,
                )
                for g in past.world.growths
            ),
            moments={name: float(at[0]) for name, at in past.background.at.items() if np.isfinite(at[0])},
            shape=str(past.background.shape[0]),
            condition=_plain({n: getattr(past.condition, n) for n in Condition.__slots__}),
        )

    def past(self) -> Past:
        """The vehicle as a past again."""
        same = ("unit", "signal", "use", "onset_miles", "driver", "severity", "odometer", "felt", "events")
        like = nominal_parameters(load_unit(self.unit), signal=self.signal)
        whole = {name: value.shape for name, value in like.items()}
        new = new_condition(1, len(load_unit(self.unit).elements))
        growths = tuple(
            Growth(
                change={n: np.reshape(v, whole[n]).astype(np.float32) for n, v in g.change.items()},
                onset=np.array([[g.onset]]),
                over=np.array([[g.over]]),
                lasts=np.array([[np.inf if g.lasts is None else g.lasts]]),
            )
            for g in self.growths
        )
        base = {n: np.reshape(v, whole[n]).astype(np.float32) for n, v in self.base.items()}
        return Past(
            **{name: getattr(self, name) for name in same},
            causes=tuple(load_cause(name) for name in self.causes),
            world=World(self.unit, self.use, base, growths),
            background=self._background(),
            condition=Condition(
                **{n: np.reshape(v, getattr(new, n).shape) for n, v in self.condition.items()}
            ),
        )

    def _background(self) -> Background:
        """What befell it."""
        at = {name: np.array([self.moments.get(name, np.nan)]) for name in MOMENTS}
        odometer, shape = np.array([self.odometer / units.MILE]), np.array([self.shape])
        return Background(use=self.use, signal=self.signal, odometer=odometer, at=at, shape=shape)


def _plain(arrays: dict[str, np.ndarray]) -> dict[str, Numbers]:
    """Arrays of one vehicle as lists, to seven figures, which is what single numbers hold."""
    return {name: [float(f"{x:.7g}") for x in np.ravel(value)] for name, value in arrays.items()}
