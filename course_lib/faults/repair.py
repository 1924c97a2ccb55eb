"""A vehicle as it comes in, what is broken on it, and repairs driven forward."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from course_lib.base import units
from course_lib.faults.background import MOMENTS, Background
from course_lib.faults.causes import Cause, load_cause
from course_lib.faults.parts import BROKEN, renew
from course_lib.faults.stored import Numbers, StoredGrowth, StoredVehicle
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.faults.visible_damage import visible_damage
from course_lib.shop.subject import Subject
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.life import live
from course_lib.vehicle.life_log import Lives
from course_lib.vehicle.memory import Memory, clear_codes, reset_learned
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, Condition, Workings, new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.sump_balance import FROM_COLD
from course_lib.vehicle.unit_spec import UnitSpec, load_unit, nominal_parameters

Watch = Callable[
    [Plant, Condition, Workings], dict[str, np.ndarray]
]  # what a life is watched for; see `live`
Stage = Literal["early", "driving", "no drive"]
STAGES: tuple[Stage, ...] = ("early", "driving", "no drive")
DRIVERS = {"attentive": 1.0, "ordinary": 0.5, "patient": 0.25, "stoic": 0.1}  # sensitivity
YEARS_OF_USE = 50_000.0  # miles that every repair is driven forward, or to the complaint
OF_CONTROL = 0.5  # of the miles after which the whole repair is back, within which a return is not age
NO_DRIVE_FELT = 8.0  # strength of "slips" at which it hardly moves any more


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairOutcome:
    """What comes of a repair: odometer [m] at which it is back, or to which it was driven; complained: whether it is back;
    felt: what the driver feels there."""

    odometer: float
    complained: bool
    felt: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class Past:
    """A life that ended with a complaint: the vehicle as it comes in, a batch of one.

    causes: what ails it, each with a growth of `world` at the same place; onset_miles: odometer at which they set in; seed: of the
    shop that takes it in, whose instruments are off as they are.
    background: what befell it besides, a batch of one.
    """

    signal: str
    use: str
    causes: tuple[Cause, ...]
    onset_miles: float
    driver: str
    severity: float
    world: Fleet
    condition: Condition
    odometer: float  # m
    sump: np.ndarray  # (1, m) K at each point of the day, as it was judged
    felt: dict[str, float]
    events: dict[str, float]
    background: Background
    seed: int = 0
    ahead: dict[str, RepairOutcome] = field(
        default_factory=dict, compare=False
    )  # of `plans`, where they have been driven

    @property
    def unit(self) -> UnitSpec:
        """Its transmission."""
        return self.world.unit

    @property
    def kind(self) -> VehicleKind:
        """The kind of vehicle it is."""
        return VehicleKind(self.unit, self.signal, self.use)

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
    def plant(self) -> Plant:
        """The vehicle at its present odometer."""
        return self.world.plant(np.array([[self.odometer]]))

    @property
    def subject(self) -> Subject:
        """It on the lift, with nothing lying about."""
        felt = {name: np.array([[value]]) for name, value in self.felt.items()}
        return Subject(
            self.plant, self.condition, self.signal, self.use, seed=self.seed, felt=felt, sump=self.sump
        )

    @cached_property
    def shown(self) -> dict[str, int]:
        """What a workshop is shown of each part that is not sound: part -> WORN or BROKEN."""
        found = visible_damage(self.subject, [self.seed])
        return {part: int(degree[0]) for part, degree in found.items() if degree[0]}

    def told(self, **more: Any) -> Past:
        """The same vehicle, of which more is known than before; what is shown of it need not be looked for again."""
        other = replace(self, **more)
        other.__dict__["shown"] = self.shown
        return other

    @property
    def damaged(self) -> tuple[str, ...]:
        """The parts that the whole repair renews: all that are shown worn or broken, the worst first, seats last."""
        return tuple(
            sorted({*self.shown, *self.seats}, key=lambda p: (p in self.seats, -self.shown.get(p, 0), p))
        )

    @property
    def stage(self) -> Stage:
        """ "early": nothing is shown broken but the seat of a cause; else "driving" or "no drive"."""
        if not any(degree == BROKEN for part, degree in self.shown.items() if part not in self.seats):
            return "early"
        return "no drive" if self.felt["slips"] > NO_DRIVE_FELT else "driving"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRepair:
    """A repair: the parts renewed, and the ids of the causes corrected."""

    parts: tuple[str, ...]
    corrected: frozenset[str] = frozenset()


def trial_repairs(past: Past) -> dict[str, TrialRepair]:
    """The repairs every debrief compares: the part alone, the cause alone, both; with two causes also each one left."""
    parts = past.damaged
    every = frozenset(cause.id for cause in past.causes)
    found = {
        "part only": TrialRepair(parts=parts),
        "cause only": TrialRepair(parts=(), corrected=every),
        "part and cause": TrialRepair(parts=parts, corrected=every),
    }
    if len(past.causes) > 1:
        for cause in past.causes:
            found[f"all but {cause.id}"] = TrialRepair(parts=parts, corrected=every - {cause.id})
    return found


def leaves_a_cause(name: str) -> bool:
    """Whether a repair of that name leaves a cause and so must come back."""
    return name == "part only" or name.startswith("all but ")


def drive_forward(trips: list[tuple[Past, TrialRepair, float]], events: Watch | None = None) -> Lives:
    """Drive on after repairs, one lane for each (past, plan, miles of the owner's use), fluid new and to the mark.

    What a renewed part buys in miles is the cause's own. With a cause put right its changes are gone, but for those that stay
    in a part that was left.
    """
    here = np.array([[past.odometer] for past, _, _ in trips])
    condition = stack_conditions([condition_after(past, plan) for past, plan, _ in trips])
    world = join_vehicles([_after(past, plan) for past, plan, _ in trips])
    far = np.array([[miles * units.MILE] for _, _, miles in trips])
    sensitivity = np.array([[past.sensitivity] for past, _, _ in trips])
    return live(world, condition, here + units.MILE, here + far, sensitivity, events=events)


def with_outcomes(pasts: list[Past]) -> list[Past]:
    """Those vehicles with what comes of the repairs that every debrief compares, driven in one batch."""
    trips = [(past, name, plan) for past in pasts for name, plan in trial_repairs(past).items()]
    if not trips:
        return []
    lives = drive_forward([(past, plan, YEARS_OF_USE) for past, _, plan in trips])
    found: dict[int, dict[str, RepairOutcome]] = {}
    for row, (past, name, _) in enumerate(trips):
        found.setdefault(id(past), {})[name] = outcome_of(lives, row)
    return [past.told(ahead=found[id(past)]) for past in pasts]


def outcome_of(lives: Lives, row: int) -> RepairOutcome:
    """One of some repairs driven forward."""
    felt = {name: float(value[row]) for name, value in lives.felt.items()}
    return RepairOutcome(
        odometer=float(lives.odometer[row]), complained=bool(lives.complained[row]), felt=felt
    )


def miles_to_return(past: Past, ahead: RepairOutcome) -> float:
    """Miles after which a repair was back; infinite where it was not."""
    return (ahead.odometer - past.odometer) / units.MILE if ahead.complained else np.inf


def miles_before_age(whole: float) -> float:
    """Miles within which a return is not age, from those after which the whole repair is back."""
    return min(YEARS_OF_USE, OF_CONTROL * whole)


def causes_proven(past: Past) -> bool:
    """Whether its causes are causes: what leaves one comes back, long before the whole repair does.

    The whole repair may only come back where a vehicle that never had the cause does as well, of age.
    """
    back = {name: miles_to_return(past, there) for name, there in past.ahead.items()}
    whole = back["part and cause"]
    if any(miles > miles_before_age(whole) for name, miles in back.items() if leaves_a_cause(name)):
        return False
    return not np.isfinite(whole) or sound_vehicle_returns(past)


def sound_vehicle_returns(past: Past) -> bool:
    """Whether the vehicle, had it never had its causes, would bring its driver in within as many miles from the same odometer."""
    here = np.array([[past.odometer]])
    fresh = any(cause.fresh_unit for cause in past.causes)
    start = np.full_like(here, past.onset_miles * units.MILE if fresh else 0.0)
    world, new = Fleet(past.unit, past.use, past.world.base), new_condition(1, past.unit)
    aged = live(world, new, start, here, np.zeros_like(here)).condition
    end = here + YEARS_OF_USE * units.MILE
    return bool(live(world, aged, here, end, np.array([[past.sensitivity]])).complained[0])


def condition_after(past: Past, plan: TrialRepair) -> Condition:
    """The condition after a repair, fluid new and to the mark. A controller's codes are cleared at the end of any; what it has
    learned is reset where every cause is put right, else it goes on with what fitted the old parts."""
    renewed = renew(past.condition, past.unit, plan.parts)
    memory = clear_codes(renewed.memory)
    whole = plan.corrected.issuperset(cause.id for cause in past.causes)
    return replace(renewed, memory=reset_learned(memory) if whole else memory)


def _after(past: Past, plan: TrialRepair) -> Fleet:
    """The vehicle after a repair."""
    ill = dict(zip(past.causes, past.world.growths, strict=True))
    growths = tuple(growths_after(past.unit, ill, plan, past.odometer, past.seed))
    return Fleet(past.unit, past.world.use, past.world.base, growths)


def growths_after(
    unit: UnitSpec, ill: dict[Cause, Growth], plan: TrialRepair, odometer: float, seed: int = 0
) -> Iterator[Growth]:
    """What is left of causes after a repair at an odometer [m]: each of their changes anew after the miles bought, or as it was,
    where the cause is left; where it is put right, frozen in the part it stays in, or gone. seed: of chance, `Cause.occasion`."""
    for cause, growth in ill.items():
        for (place, share), change in cause.changes(unit, growth).items():
            mine = replace(growth, change=change)
            if cause.id not in plan.corrected:
                bought = cause.bought_miles(plan.parts, place) * cause.occasion(seed)
                anew = np.full_like(mine.onset, odometer + bought * units.MILE)
                yield replace(mine, onset=anew) if bought else mine
            elif place and place not in plan.parts:
                yield _frozen(mine, odometer, share)


def _frozen(growth: Growth, odometer: float, share: float) -> Growth:
    """A share of a change as large as it is at an odometer, there for good, whatever the change itself would do."""
    grown = share * float(growth.share(np.array([[odometer]]))[0, 0])
    change = {name: (grown * value).astype(value.dtype) for name, value in growth.change.items()}
    onset = np.full_like(growth.onset, odometer - units.MILE)
    return Growth(change=change, onset=onset, over=np.ones_like(onset))


def stack_conditions(conditions: list[Condition]) -> Condition:
    """Conditions of vehicles of the same unit as one batch."""
    return conditions[0].join(*conditions[1:])


def join_vehicles(worlds: list[Fleet]) -> Fleet:
    """Vehicles of the same unit and use as one batch; what one of them has no change for stays as it is."""
    first = worlds[0]
    base = {name: np.concatenate([world.base[name] for world in worlds]) for name in first.base}
    most = max(len(world.growths) for world in worlds)
    return Fleet(first.unit, first.use, base, tuple(_join_growths(worlds, k) for k in range(most)))


def _join_growths(worlds: list[Fleet], k: int) -> Growth:
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

    def times(field: str, otherwise: float) -> np.ndarray:
        return np.concatenate(
            [getattr(g, field) if g else np.full((n, 1), otherwise) for g, n in zip(each, sizes, strict=True)]
        )

    return Growth(
        change=change, onset=times("onset", np.inf), over=times("over", 1.0), lasts=times("lasts", np.inf)
    )


AS_IT_IS = "signal use onset_miles driver severity odometer felt events seed".split()  # of a `Past`


def store(past: Past) -> StoredVehicle:
    """The vehicle of a past as plain numbers."""
    return StoredVehicle(
        unit=past.unit.name,
        **{name: getattr(past, name) for name in AS_IT_IS},
        causes=tuple(cause.address for cause in past.causes),
        base=_plain({name: value for name, value in past.world.base.items() if past.unit.has(name)}),
        growths=tuple(_stored_growth(growth) for growth in past.world.growths),
        moments={name: float(at[0]) for name, at in past.background.at.items() if np.isfinite(at[0])},
        shape=str(past.background.shape[0]),
        condition=_plain(_entries(past.condition)),
        sump=_plain({"sump": past.sump})["sump"],
    )


def _stored_growth(growth: Growth) -> StoredGrowth:
    lasts = growth.lasts.item()
    return StoredGrowth(
        change=_plain({name: change for name, change in growth.change.items() if np.any(change)}),
        onset=growth.onset.item(),
        over=growth.over.item(),
        lasts=lasts if np.isfinite(lasts) else None,
    )


def restore(vehicle: StoredVehicle) -> Past:
    """A stored vehicle as a past again."""
    unit = load_unit(vehicle.unit)
    like = nominal_parameters(unit, signal=vehicle.signal)
    whole = {name: value.shape for name, value in like.items()}
    new = new_condition(1, unit)
    kept = vehicle.condition  # what an older version did not know is as in a new vehicle
    entries = {n: _shaped(kept[n], like) if n in kept else like for n, like in _entries(new).items()}
    memory = Memory(**{n: entries.pop(n, like) for n, like in new.memory.entries().items()})
    growths = tuple(
        Growth(
            change={n: np.reshape(v, whole[n]).astype(np.float32) for n, v in g.change.items()},
            onset=np.array([[g.onset]]),
            over=np.array([[g.over]]),
            lasts=np.array([[np.inf if g.lasts is None else g.lasts]]),
        )
        for g in vehicle.growths
    )
    base = {n: np.reshape(vehicle.base.get(n, v), whole[n]).astype(np.float32) for n, v in like.items()}
    return Past(
        **{name: getattr(vehicle, name) for name in AS_IT_IS},
        causes=tuple(load_cause(name) for name in vehicle.causes),
        world=Fleet(unit, vehicle.use, base, growths),
        sump=np.array([vehicle.sump or [FROM_COLD] * len(duty_cycle(vehicle.use, unit).names)]),
        background=_background(vehicle),
        condition=Condition(**entries, memory=memory),
    )


def _entries(condition: Condition) -> dict[str, np.ndarray]:
    """What a condition is stored as: its wear, and what a controller remembers where there is one."""
    wear = {name: getattr(condition, name) for name in PLAIN + PER_ELEMENT}
    return wear | {name: value for name, value in condition.memory.entries().items() if value.size}


def _background(vehicle: StoredVehicle) -> Background:
    """What befell a stored vehicle."""
    at = {name: np.array([vehicle.moments.get(name, np.nan)]) for name in MOMENTS}
    odometer, shape = np.array([vehicle.odometer / units.MILE]), np.array([vehicle.shape])
    return Background(use=vehicle.use, signal=vehicle.signal, odometer=odometer, at=at, shape=shape)


def _shaped(numbers: Numbers, like: np.ndarray) -> np.ndarray:
    """A stored entry as an array; a single number counts for every element."""
    return np.reshape(numbers if len(numbers) == like.size else numbers * like.size, like.shape)


def _plain(arrays: dict[str, np.ndarray]) -> dict[str, Numbers]:
    """Arrays of one vehicle as lists, to seven figures, which is what single numbers hold."""
    return {name: [float(f"{x:.7g}") for x in np.ravel(value)] for name, value in arrays.items()}
