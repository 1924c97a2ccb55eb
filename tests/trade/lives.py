"""Lives of every cause in one batch for each kind of vehicle, and what the workshop finds on them.

Severities are spread, drivers of every patience wait as long as they do, and sound vehicles of the same make live the same miles
beside them. One batch serves every cell of the table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import cache

import msgspec
import numpy as np

from course_lib import units
from course_lib.catalogue.causes import Cause, causes_of, load_cause
from course_lib.catalogue.parts import damage
from course_lib.scenario import DRIVERS, HORIZON_MILES, NO_DRIVE_FELT, ONSET_MILES, WANTED_MILES
from course_lib.transmission.life import Growth, Lives, World, live, pick
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import PER_ELEMENT, PLAIN, Condition, new_condition
from course_lib.transmission.spec import draw_parameters, load_unit

from .seen import all_seen
from .table import HERE, NOTICED, Sight

VEHICLES = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"))
USUAL_USE = "mixed"
SEVERITIES = np.linspace(0.05, 0.95, 6)
MAKES, SOUND = 32, 64  # vehicles drawn with their tolerances; sound lives beside the others
SEED = 20_240


@dataclass(frozen=True)
class Batch:
    """Lives that ended in a complaint, and what is found on them. L lives.

    cause and stage (L,) of each; miles (L,) from onset; sights: "inspection.key" or "felt.trouble" -> `Sight` over the lives;
    silent: causes that never led to a complaint.
    """

    unit: str
    signal: str
    use: str
    cause: np.ndarray
    stage: np.ndarray
    miles: np.ndarray
    sights: dict[str, Sight]
    silent: tuple[str, ...]

    @property
    def name(self) -> str:
        """What kind of vehicle it is."""
        return f"{self.unit} {self.signal}"

    def rows(self, cause: str, stages: tuple[str, ...] = ()) -> np.ndarray:
        """Rows of the lives of a cause at the given stages, or at any."""
        mask = self.cause == cause
        return np.flatnonzero(mask & np.isin(self.stage, stages) if stages else mask)


@cache
def _other_uses() -> dict[str, str]:
    return msgspec.toml.decode((HERE / "uses.toml").read_bytes(), type=dict[str, str])


def use_of(cause: str) -> str:
    """The kind of use in which a cause is lived."""
    return _other_uses().get(cause, USUAL_USE)


def kinds() -> list[tuple[str, str, str]]:
    """(unit, signal, use) of every batch."""
    uses = dict.fromkeys([USUAL_USE, *_other_uses().values()])
    return [(unit, signal, use) for unit, signal in VEHICLES for use in uses]


@cache
def batch(unit: str, signal: str, use: str) -> Batch:
    """Lives of every cause that such a vehicle can have in that use."""
    causes = [cause for cause in causes_of(load_unit(unit), signal) if use_of(cause.id) == use]
    rng = np.random.default_rng([SEED, VEHICLES.index((unit, signal))])
    return _found(unit, signal, use, *_lived(unit, signal, use, causes, rng))


def _lived(
    unit: str, signal: str, use: str, causes: list[Cause], rng
) -> tuple[World, Lives, np.ndarray, np.ndarray]:
    """(world, lives, name of the cause of each, odometer of its onset); the name is empty for sound vehicles."""
    spec = load_unit(unit)
    low, high = ONSET_MILES[use]
    makes = draw_parameters(spec, rng, MAKES, signal=signal)
    onset = rng.uniform(low, high, (MAKES, 1)) * units.MILE
    aged = live(
        World(unit, use, makes),
        new_condition(MAKES, len(spec.elements)),
        np.zeros((MAKES, 1)),
        onset,
        np.zeros((MAKES, 1)),
    ).condition
    each = len(SEVERITIES) * len(DRIVERS)
    lanes = SOUND + each * len(causes)
    make = np.arange(lanes) % MAKES
    base = {name: value[make] for name, value in makes.items()}
    lane_of = {cause.id: SOUND + i * each + np.arange(each) for i, cause in enumerate(causes)}
    world = World(unit, use, base, (_all_growths(spec, base, onset[make], causes, lane_of),))
    start, condition = onset[make].copy(), pick(aged, make)
    horizon = start + HORIZON_MILES * units.MILE
    horizon[:SOUND] = start[:SOUND] + np.exp(rng.uniform(*np.log(WANTED_MILES), (SOUND, 1))) * units.MILE
    patience = np.zeros((lanes, 1))
    for cause in causes:
        rows = lane_of[cause.id]
        patience[rows, 0] = np.tile(list(DRIVERS.values()), len(SEVERITIES))
        start[rows] += world.growths[0].over[rows] if cause.sudden else 0.0
        if cause.fresh_unit:
            for name in PLAIN + PER_ELEMENT:
                getattr(condition, name)[rows] = 0.0
    names = np.array([""] * SOUND + [cause.id for cause in causes for _ in range(each)])
    return world, live(world, condition, start, horizon, patience), names, onset[make]


def _all_growths(spec, base, onset, causes: Iterable[Cause], lane_of) -> Growth:
    """The changes of every cause as one: in each lane its own, elsewhere nothing."""
    change: dict[str, np.ndarray] = {}
    rest = {
        f.name: np.full_like(onset, units.MILE) for f in fields(Growth) if f.name not in ("change", "onset")
    }
    severity = np.repeat(SEVERITIES, len(DRIVERS))
    for cause in causes:
        rows = lane_of[cause.id]
        own = cause.growth(spec, {name: value[rows] for name, value in base.items()}, severity, onset[rows])
        for name, full in own.change.items():
            change.setdefault(name, np.zeros_like(base[name]))[rows] = full
        for name, values in rest.items():
            values[rows] = getattr(own, name)
    return Growth(change=change, onset=onset, **rest)


def _found(
    unit: str, signal: str, use: str, world: World, lives: Lives, names: np.ndarray, onset: np.ndarray
) -> Batch:
    """What the workshop finds on the lives that ended in a complaint, and on the sound vehicles."""
    keep = np.flatnonzero(lives.complained | (names == ""))
    odometer, condition = lives.odometer[keep, None], pick(lives.condition, keep)
    plant = world.rows(keep).plant(odometer)
    sound, ill = names[keep] == "", names[keep] != ""
    felt = {name: np.asarray(value)[keep] for name, value in lives.felt.items()}
    sights = {
        f"felt.{name}": Sight(value[ill], value[sound], (None, NOTICED)) for name, value in felt.items()
    }
    for key, (value, spec, sigma) in all_seen(plant, condition, signal, use).items():
        sights[key] = Sight(value[ill], value[sound], spec, sigma)
    return Batch(
        unit=unit,
        signal=signal,
        use=use,
        cause=names[keep][ill],
        stage=_stages(plant, condition, signal, names[keep], felt["slips"])[ill],
        miles=((odometer - onset[keep])[ill, 0] / units.MILE),
        sights=sights,
        silent=tuple(sorted(set(names) - set(names[keep]))),
    )


def _stages(
    plant: Plant, condition: Condition, signal: str, names: np.ndarray, slips: np.ndarray
) -> np.ndarray:
    """ "early" while nothing but the seat of the cause is broken, then "driving" or "no drive"; (n,)."""
    seat = np.array([load_cause(name).seat if name else "" for name in names])
    victim = np.zeros(len(names), bool)
    for part, degree in damage(plant, condition, signal).items():
        victim |= (degree >= 1.0) & (seat != part)
    return np.where(~victim, "early", np.where(slips > NO_DRIVE_FELT, "no drive", "driving"))
