"""Lives of every cause in one batch for each kind of vehicle, and what the workshop finds on them.

Severities are spread, drivers of every patience wait as long as they do, and sound vehicles of the same make live the same miles
beside them. One batch serves every cell of the table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.faults.causes import SUDDEN, Cause, causes_of, load_cause
from course_lib.faults.parts import BROKEN
from course_lib.faults.repair import DRIVERS, NO_DRIVE_FELT, join_vehicles
from course_lib.faults.scenario import HORIZON_MILES, ONSET_MILES, WANTED_MILES
from course_lib.faults.visible_damage import visible_damage
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.life_log import Lives
from course_lib.vehicle.memory import new_memory
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, new_condition
from course_lib.vehicle.unit_spec import draw_parameters, load_unit

from .seen import all_seen
from .table import HERE, NOTICED, Sight, limits

VEHICLES = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"), ("E6", "electronic"))
USUAL_USE = "mixed"
SEVERITIES = np.linspace(0.05, 0.95, 8)
MAKES, SOUND = 32, 64  # vehicles drawn with their tolerances; sound lives beside the others
DRIVES_ON = 0.07  # sensitivity of an owner who drives on as long as the vehicle moves at all
FIRST_HINT = 1.0  # sensitivity of an owner who comes in at the first hint of trouble
FAR_ON = (700.0, 6000.0, 15_000.0)  # miles after which that owner comes in anyway
SEED = 20_240


@dataclass(frozen=True)
class Batch:
    """Lives that ended in a complaint, and what is found on them. L lives.

    cause and stage (L,) of each; miles (L,) from onset; severity (L,) of the cause; sensitivity (L,) of the owner; sights:
    "inspection.key" or "felt.trouble" -> `Sight` over the lives; silent: causes that never led to a complaint.
    """

    unit: str
    signal: str
    use: str
    cause: np.ndarray
    stage: np.ndarray
    miles: np.ndarray
    severity: np.ndarray
    sensitivity: np.ndarray
    sights: dict[str, Sight]
    silent: tuple[str, ...]

    @property
    def name(self) -> str:
        """What kind of vehicle it is."""
        return f"{self.unit} {self.signal}"

    def rows(self, cause: str, stages: tuple[str, ...] = ()) -> np.ndarray:
        """Rows of the lives of a cause at some stages of damage.

        Late stages count the vehicles that were driven on. Where no stage is named, the trade describes plain trouble: owners
        who come in at the first hint are left out, unless nobody else would come in with a cause of that severity.
        """
        mine, on = self.cause == cause, self.sensitivity == DRIVES_ON
        if stages:
            return np.flatnonzero(mine & np.isin(self.stage, stages) & (~on | ("driving" in stages)))
        waited = mine & ~on & (self.sensitivity < FIRST_HINT)
        return np.flatnonzero(waited | (mine & ~on & ~np.isin(self.severity, self.severity[waited])))

    def at_severity(self, severity: float) -> Batch:
        """Only the lives in which the cause is that severe."""
        rows = np.flatnonzero(self.severity == severity)
        each = {
            name: getattr(self, name)[rows] for name in ("cause", "stage", "miles", "severity", "sensitivity")
        }
        return replace(self, **each, sights={key: sight.take(rows) for key, sight in self.sights.items()})


@cache
def _other_uses() -> dict[str, str]:
    return msgspec.toml.decode((HERE / "uses.toml").read_bytes(), type=dict[str, str])


def use_of(cause: str) -> str:
    """The kind of use in which a cause is lived."""
    return _other_uses().get(cause, USUAL_USE)


def kinds() -> list[tuple[str, str, str]]:
    """(unit, signal, use) of every batch: the uses in which a cause of such a vehicle is lived."""
    return [(unit, signal, use) for unit, signal in VEHICLES for use in _uses(unit, signal)]


def _uses(unit: str, signal: str) -> list[str]:
    here = {use_of(cause.id) for cause in causes_of(load_unit(unit), signal)}
    return [use for use in dict.fromkeys([USUAL_USE, *_other_uses().values()]) if use in here]


@cache
def batch(unit: str, signal: str, use: str) -> Batch:
    """Lives of every cause that such a vehicle can have in that use."""
    causes = [cause for cause in causes_of(load_unit(unit), signal) if use_of(cause.id) == use]
    rng = np.random.default_rng([SEED, VEHICLES.index((unit, signal))])
    return _found(unit, signal, use, *_lived(unit, signal, use, causes, rng))


def _lived(unit: str, signal: str, use: str, causes: list[Cause], rng) -> tuple[Fleet, Lives, _Lanes]:
    """The world, the lives and what was asked of each of them.

    Nobody judges half way into a sudden cause, nor in the midst of an event.
    """
    spec, lanes = load_unit(unit), _Lanes.of(causes)
    makes = draw_parameters(spec, rng, MAKES, signal=signal)
    onset = rng.uniform(*ONSET_MILES[use], (MAKES, 1)) * units.MILE
    new, start = new_condition(MAKES, spec), np.zeros((MAKES, 1))
    aged = live(Fleet(spec, use, makes), new, start, onset, start).condition
    make = np.arange(len(lanes.cause)) % MAKES
    onset, condition = onset[make], aged.keep(make)
    worlds = [_world(spec, use, cause, lanes, makes, make, onset) for cause in (None, *causes)]
    world = join_vehicles(worlds)
    fresh = lanes.holds(causes, lambda cause: cause.fresh_unit)[:, 0] > 0
    for name in PLAIN + PER_ELEMENT:
        getattr(condition, name)[fresh] = 0.0
    condition.memory.put(np.flatnonzero(fresh), new_memory(int(fresh.sum()), spec))
    there = onset + units.MILE * SUDDEN * lanes.holds(causes, lambda cause: cause.sudden)
    over = np.maximum(there, onset + units.MILE * lanes.holds(causes, lambda cause: cause.lasts_miles))
    condition = live(world, condition, there, over, np.zeros_like(over)).condition
    horizon = onset + lanes.most_miles * units.MILE
    lives = live(world, condition, over, np.maximum(horizon, over), lanes.sensitivity)
    return world, lives, replace(lanes, onset=onset)


def _world(spec, use: str, cause: Cause | None, lanes: _Lanes, makes, make, onset) -> Fleet:
    """The vehicles that a cause befalls; without one, the sound vehicles."""
    rows = np.flatnonzero(lanes.cause == (cause.id if cause else ""))
    base = {name: value[make[rows]] for name, value in makes.items()}
    growths = (cause.growth(spec, base, lanes.severity[rows], onset[rows]),) if cause else ()
    return Fleet(spec, use, base, growths)


@dataclass(frozen=True)
class _Lanes:
    """What is asked of each life: cause (n,), empty for sound vehicles; severity (n,); sensitivity, most_miles, onset (n, 1)."""

    cause: np.ndarray
    severity: np.ndarray
    sensitivity: np.ndarray
    most_miles: np.ndarray
    onset: np.ndarray

    def holds(self, causes: list[Cause], what: Callable[[Cause], float]) -> np.ndarray:
        """What holds of the cause of each life, (n, 1); 0 for sound vehicles."""
        each = {cause.id: float(what(cause)) for cause in causes}
        return np.array([[each.get(name, 0.0)] for name in self.cause.tolist()])

    @classmethod
    def of(cls, causes: list[Cause]) -> _Lanes:
        """Sound vehicles first, then for each cause every severity with every driver."""
        drivers = np.array([*DRIVERS.values(), *[DRIVES_ON] * len(FAR_ON)])
        miles = np.array([*[HORIZON_MILES] * len(DRIVERS), *FAR_ON])
        turns = len(SEVERITIES) * len(causes)
        sound = np.geomspace(*WANTED_MILES, SOUND)
        return cls(
            cause=np.array(
                [""] * SOUND + [c.id for c in causes for _ in range(len(SEVERITIES) * len(drivers))]
            ),
            severity=np.concatenate(
                [np.zeros(SOUND), np.tile(np.repeat(SEVERITIES, len(drivers)), len(causes))]
            ),
            sensitivity=np.concatenate([np.zeros(SOUND), np.tile(drivers, turns)])[:, None],
            most_miles=np.concatenate([sound, np.tile(miles, turns)])[:, None],
            onset=np.zeros((SOUND + turns * len(drivers), 1)),
        )


def _found(unit: str, signal: str, use: str, world: Fleet, lives: Lives, lanes: _Lanes) -> Batch:
    """What the workshop finds on the lives that ended in a complaint or were driven on, and on the sound vehicles."""
    driven_on = lanes.sensitivity[:, 0] == DRIVES_ON
    keep = np.flatnonzero(lives.complained | driven_on | (lanes.cause == ""))
    odometer, condition = lives.odometer[keep, None], lives.condition.keep(keep)
    plant, names = world.rows(keep).plant(odometer), lanes.cause[keep]
    sound, ill = names == "", names != ""
    felt = {name: np.asarray(value)[keep] for name, value in lives.felt.items()}
    sights = {
        f"felt.{name}": Sight(value[ill], value[sound], (None, NOTICED)) for name, value in felt.items()
    }
    usual = {key: limit[:2] for key, limit in limits().items()} if plant.unit.control else {}
    for key, (value, spec, sigma) in all_seen(plant, condition, signal, use).items():
        sights[key] = Sight(value[ill], value[sound], spec or usual.get(key), sigma)
    return Batch(
        unit=unit,
        signal=signal,
        use=use,
        cause=names[ill],
        stage=_stages(Subject(plant, condition, signal, use), names, felt["slips"])[ill],
        severity=lanes.severity[keep][ill],
        sensitivity=lanes.sensitivity[keep, 0][ill],
        miles=((odometer - lanes.onset[keep])[ill, 0] / units.MILE),
        sights=sights,
        silent=tuple(sorted(set(lanes.cause.tolist()) - set(names[~driven_on[keep]].tolist()))),
    )


def _stages(subject: Subject, names: np.ndarray, slips: np.ndarray) -> np.ndarray:
    """ "early" while nothing but the seat of the cause is shown broken, then "driving" or "no drive"; (n,)."""
    seat = np.array([load_cause(name).seat if name else "" for name in names])
    victim = np.zeros(len(names), bool)
    for part, degree in visible_damage(subject, np.zeros(len(names), int)).items():
        victim |= (degree == BROKEN) & (seat != part)
    return np.where(~victim, "early", np.where(slips > NO_DRIVE_FELT, "no drive", "driving"))
