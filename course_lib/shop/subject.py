"""The vehicles on the lift, and how a reading is taken from them."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from itertools import product
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.base.guards import one_of
from course_lib.shop.batch import BatchReading, Instrument, Notes
from course_lib.vehicle.code_tests import Seen
from course_lib.vehicle.duty_cycle import DutyCycle, duty_cycle
from course_lib.vehicle.operating_point import (
    NUMBERS,
    Condition,
    Operation,
    Workings,
    new_condition,
    operation,
)
from course_lib.vehicle.owner_day import DrivenDay, driven_day, seen_on
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shifts_in_time import Shifts, shifts_in_time, with_shifts
from course_lib.vehicle.sump_balance import FROM_COLD
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters
from course_lib.vehicle.uses import load_uses

T = TypeVar("T")
HOT = units.from_fahrenheit(180.0)
LIFTS = 4000.0  # rpm at which one lifts, where a sound engine does not turn faster anyway
RISING = "lifted there, it was still rising"
COLD = units.from_fahrenheit(68.0)
CHUNK = 2048  # vehicles, of a great many, that are worked at a time: few enough to be held, and the last of a search are few
OF_A_SHIFT = (
    "delay",
    "flare",
    "bump",
    "slide",
    "overlap",
    "shift_heat",
)  # entries (n, m, E) that a shift in time gives
WELL_PAST = 1.4  # road speed at which a gear is looked at, against the upshift into it


@dataclass(frozen=True, slots=True)
class AskedPoint:
    """An operating point that is asked for: a lever, and numbers as an `Operation` has them; NaN where none is given."""

    lever: str
    throttle: float = 0.0
    road_speed: float = 0.0
    tilt: float = 0.0
    engine_speed: float = math.nan
    signal: float = math.nan
    temperature: float = math.nan
    loaded: float = 0.0
    nudged: float = 0.0
    cold_soaked: float = 0.0
    acting: float = 0.0
    shake: float = 0.0
    wet: float = 0.0
    pressed_for: float = math.nan


@dataclass(frozen=True)
class Subject:
    """Vehicles of one unit, load signal and kind of use, as they came in; n = 1 for a case.

    seed decides the error of the instruments; felt: name -> how strongly the driver feels it, (n, 1); sump: temperature [K] at
    each point of the owner's day, (n, m), where a life ended: the search for what stays begins there. Of a single vehicle
    besides: objects, (inspection id, words) of things lying about; history, what papers and owner can tell. It knows nothing
    of causes.
    """

    plant: Plant
    condition: Condition
    signal: str
    use: str
    seed: int = 0
    felt: dict[str, Array] = field(default_factory=dict)
    objects: tuple[tuple[str, str], ...] = ()
    history: tuple[str, ...] = ()
    sump: Array | float = FROM_COLD

    @property
    def unit(self) -> UnitSpec:
        """What the vehicles' transmission is."""
        return self.plant.unit

    @property
    def size(self) -> int:
        """How many vehicles, n."""
        return len(self.condition.oxidation)

    def chunks(self) -> list[Places]:
        """The rows of the vehicles, so many at a time that what is worked on stays near the processor."""
        return [np.arange(i, min(i + CHUNK, self.size)) for i in range(0, self.size, CHUNK)]

    def rows(self, index: Sequence[int] | Places) -> Subject:
        """Some of the vehicles; index: list or array of rows."""
        places: Places = np.asarray(index)
        return replace(
            self,
            plant=self.plant.rows(places),
            condition=self.condition.keep(places),
            felt={
                name: np.broadcast_to(np.reshape(value, (-1, 1)), (self.size, 1))[places]
                for name, value in self.felt.items()
            },
            sump=self.sump[places] if isinstance(self.sump, np.ndarray) else self.sump,
        )

    # ------------------------------------------------------------------ what happens
    def at(self, points: Sequence[AskedPoint]) -> Workings:
        """What happens at some operating points.

        Where a point gives no temperature, the sump is as warm as on the owner's roads. Raises ValueError for a lever that the
        unit does not have, or a number that no vehicle can be asked for.
        """
        for point in points:
            one_of("lever", point.lever, self.unit.levers)
        op = operation(
            [point.lever for point in points],
            **{name: [getattr(point, name) for point in points] for name in NUMBERS},
        )
        if not np.isnan(op.temperature).any():  # then nobody asks for the owner's day, which is long to work
            return self._shifting(op, self.plant.operate(self.condition, op))
        warm = np.repeat(self.sump_temperature[:, None], len(points), 1)
        return self._shifting(op, self.plant.operate(self.condition, op, guess=warm))

    def _shifting(self, op: Operation, work: Workings) -> Workings:
        """The workings with the shifts in time that lead to each point, where the unit has such: as codes are acted on or not, and
        as cold as they are after a night."""
        if self.unit.control is None:
            return work
        found = work
        for acting, cold in product((0.0, 1.0), (False, True)):
            here = ((op.acting > 0.0) == (acting > 0.0)) & ((op.temperature <= COLD) == cold)
            if here.any():
                led = with_shifts(self.plant, op, work, self.shifts(acting, cold=cold))
                found = _put(found, led, here)
        return found

    @cached_property
    def _kept(self) -> dict[Hashable, Any]:
        return {}

    def once(self, name: Hashable, make: Callable[[], T]) -> T:
        """What `make` returns, worked when first asked for and kept under a name, for what several inspections rest on."""
        if name not in self._kept:
            self._kept[name] = make()
        kept: T = self._kept[name]
        return kept

    @property
    def day(self) -> DutyCycle:
        """The owner's day."""
        return duty_cycle(self.use, self.unit)

    @cached_property
    def _driven(self) -> DrivenDay:
        return driven_day(self.plant, self.condition, self.day, start=self.sump)

    @property
    def driving(self) -> Workings:
        """What happens over the owner's day, at the temperatures of that day."""
        return self._driven.work

    def shifts(self, acting: float = 0.0, *, cold: bool = False) -> Shifts:
        """The shifts of an electronic control in time, in the warm sump of the owner's day, or as cold as after a night;
        acting: 1 it acts on stored codes.

        Raises ValueError where the control is hydraulic.
        """
        if self._driven.shifts is None:
            raise ValueError("shifts in time must be asked of an electronic control, got a hydraulic one.")
        if acting > 0.0 and not cold:
            return self._driven.shifts
        sump = np.full((self.size, 1), COLD) if cold else self.sump_temperature[:, None]
        return self.once(
            ("shifts", acting, cold), lambda: shifts_in_time(self.plant, self.condition, sump, acting)
        )

    def by_chance(self, numbers: int) -> Array:
        """Numbers from 0 to below 1, (n, numbers), as good as drawn: by how each vehicle has aged, so that it is always the same,
        alone as among others."""
        aged = self.condition.oxidation + self.condition.pump + self.condition.lining.sum(-1)
        drawn: Array = np.mod(aged * 1e4 * (1.0 + np.arange(numbers) / np.pi), 1.0)
        return drawn

    def cleared(self) -> Seen:
        """The owner's day with the stored codes not acted on, as their tests meet it."""
        day = replace(self.day, op=replace(self.day.op, acting=np.zeros_like(self.day.op.acting)))
        driven = driven_day(self.plant, self.condition, day, self.driving.temperature)
        return seen_on(self.plant, day, driven, self.condition.memory)

    @property
    def seconds(self) -> Array:
        """How long the owner is at each point of his day, (n, m)."""
        p = self.plant.p
        return np.broadcast_to(self.day.spent(p.use_stops, p.use_standing), (self.size, len(self.day.names)))

    @cached_property
    def sump_temperature(self) -> Array:
        """Mean sump temperature of the owner's day, cold starts left out, (n,) [K]; where it boils over, the one it ends at."""
        weight = self.seconds * np.isnan(self.day.op.temperature)
        mean: Array = (weight * self.driving.temperature).sum(-1) / weight.sum(-1)
        return mean

    @property
    def boils_over(self) -> Flags:
        """Whether fluid foams out at the vent before the owner's day is through, (n,) bool."""
        return self.driving.boils_over[:, 0]

    @property
    def sheet(self) -> Subject:
        """The vehicle that the sheets of this unit speak of: sound, new, the same load signal and use."""
        return _sheet(self.unit, self.signal, self.use)

    def sheet_at(self, points: Sequence[AskedPoint]) -> Workings:
        """What happens at some operating points to the vehicle of the sheets, n = 1."""
        return self.sheet.once(tuple(points), lambda: self.sheet.at(points))

    def past_shift(self, shift: int, pedal: float) -> float:
        """Road speed [m/s] well past upshift number `shift` of the sheets at a pedal, and short of the next."""
        speeds = (*(float(speed) for speed in self.sheet.plant.controls.upshift_speeds(pedal)[0]), np.inf)
        return speeds[shift] * min(WELL_PAST, float(np.sqrt(speeds[shift + 1] / speeds[shift])))

    # ------------------------------------------------------------------ what it is
    def parameter(self, name: str, column: int | None = None) -> Array:
        """One parameter of each vehicle, (n,) SI; column: of a holding element or shift."""
        value = getattr(self.plant.p, name)
        return self.flat(value[:, 0] if column is None else value[:, 0, column])

    def state(self, name: str, column: int | None = None) -> Array:
        """One entry of the condition of each vehicle, (n,) SI; column: of a holding element."""
        value = getattr(self.condition, name)
        return self.flat(value[:, 0] if column is None else value[:, 0, column])

    def flat(self, value: ArrayLike) -> Array:
        """`value`, one for each vehicle or one for all, as an array (n,)."""
        return np.broadcast_to(np.asarray(value, float).reshape(-1), (self.size,))

    def say(self, point: str) -> str:
        """How people call an operating point of a day."""
        return load_uses().points[point].say

    def lying_about(self, inspection: str) -> list[str]:
        """What lies about, seen at this inspection."""
        return [words for place, words in self.objects if place == inspection]

    def read(
        self,
        key: str,
        label: str,
        value: ArrayLike,
        instrument: Instrument,
        *,
        swing: Array | None = None,
        notes: Notes = (),
        note: str = "",
    ) -> BatchReading:
        """A reading of every vehicle; value (n,) or (n, 1) in workshop units. Its spec stands under `key` in the sheet.

        swing, notes: as `BatchReading` has them; note: why it cannot be read, where it is no number.
        """
        known = self.flat(value)
        unread = ((note, np.isnan(known)),) if note else ()
        return BatchReading(
            key=key,
            label=label[:1].upper() + label[1:],
            value=known,
            unit=instrument.unit,
            sigma=instrument.sigma,
            decimals=instrument.decimals,
            signed=instrument.signed,
            most=instrument.most,
            swing=swing,
            notes=(*notes, *unread),
        )


def _put(work: Workings, other: Workings, here: Flags) -> Workings:
    """The workings with the shifts of `other` at the points `here`, (m,) bool."""
    chosen = {name: np.where(here[:, None], getattr(other, name), getattr(work, name)) for name in OF_A_SHIFT}
    return replace(work, judder=np.where(here, other.judder, work.judder), **chosen)


def slip_until_lifted(work: Workings, sound: Workings) -> tuple[Array, Flags]:
    """Slip [rpm], (n, m), as far as one lets the engine run away, and where it was still rising then; sound: of the sheet's."""
    engine, usual, slip = (units.to_rpm(x) for x in (work.engine_speed, sound.engine_speed, work.slip))
    past = np.minimum(np.maximum(engine - np.maximum(usual, LIFTS), 0.0), slip)
    return slip - past, past > 0.0


@cache  # one for all batches: what it does over its owner's day and at the points of every inspection is worked once
def _sheet(unit: UnitSpec, signal: str, use: str) -> Subject:
    plant = Plant(unit, nominal_parameters(unit, signal=signal))
    return Subject(plant, new_condition(1, unit), signal, use)
