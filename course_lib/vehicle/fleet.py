"""What befalls a vehicle over its miles, and what it is like at any odometer. The odometer is in meters here."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from course_lib.base.arrays import Array, Flags, Rows, Values
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.felt_troubles import felt_troubles
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.operating_point import Condition, Workings
from course_lib.vehicle.owner_day import Remembered, driven_day, remembered
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.vehicle_batch import SETTLED
from course_lib.vehicle.wear import wear_rates

GROWTH_PART = 0.3  # of a growing change, that one step may take in
LEAST_PART = 1609.344  # m, a mile: but no less than that
SAME = 1e-3  # m; two odometers this close are one


def parameters_at(base: dict[str, Array], growths: tuple[Growth, ...], odometer: Array) -> dict[str, Array]:
    """Parameters at an odometer: the vehicle's own plus every change that has grown by then."""
    now = dict(base)
    for growth in growths:
        share = growth.share(odometer)
        for name, change in growth.change.items():
            part = share.astype(change.dtype)
            now[name] = now[name] + change * (part[..., None] if change.ndim == 3 else part)
    return now


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetMoment:
    """A fleet at one odometer: rates of change per meter, workings over the duty, how strongly each trouble is felt; what its
    controllers remember, see `Remembered`."""

    rate: Condition
    work: Workings
    strength: dict[str, Array]
    remembers: Remembered


class Fleet:
    """A batch of vehicles with the changes that befall them: what they are like at any odometer."""

    def __init__(
        self,
        unit: UnitSpec,
        use: str,
        base: dict[str, Array],
        growths: tuple[Growth, ...] = (),
        passes: int = SETTLED,
    ) -> None:
        self.unit, self.use, self.duty, self.base, self.growths = (
            unit,
            use,
            duty_cycle(use, unit),
            base,
            growths,
        )
        self.passes = passes

    def rows(self, rows: Rows) -> Fleet:
        """The same for some of the vehicles only."""
        base = {name: value[rows] for name, value in self.base.items()}
        return Fleet(
            self.unit, self.use, base, tuple(growth.rows(rows) for growth in self.growths), self.passes
        )

    def rougher(self) -> Fleet:
        """The same, the pressure behind a racing engine worked but once."""
        return Fleet(self.unit, self.use, self.base, self.growths, passes=1)

    def plant(self, odometer: Array) -> Plant:
        """The vehicles as they are at `odometer` (n, 1)."""
        return Plant(self.unit, parameters_at(self.base, self.growths, odometer), self.passes)

    def longest_step(self, odometer: Array) -> Array:
        """Step [m], (n, 1), that neither crosses an edge of a change nor takes in more than a part of one that grows.

        Before and after a burn-out nothing wears, so the error test alone would let a step jump over it.
        """
        longest: Array = np.full_like(odometer, np.inf)
        for growth in self.growths:
            for edge in growth.edges():
                ahead = edge - odometer
                longest = np.where(ahead > SAME, np.minimum(longest, ahead), longest)
            grows = (odometer > growth.onset - SAME) & (odometer < growth.onset + growth.over)
            part = np.maximum(GROWTH_PART * growth.over, LEAST_PART)
            longest = np.where(grows, np.minimum(longest, part), longest)
        return longest

    def at_edge(self, odometer: Array) -> Flags:
        """Whether `odometer` is where a change bends, (n, 1)."""
        edges = [np.abs(edge - odometer) < SAME for growth in self.growths for edge in growth.edges()]
        at: Flags = np.any([np.zeros(odometer.shape, bool), *edges], axis=0)
        return at

    def since(self, odometer: Array) -> Array:
        """Distance [m], (n, 1), since the first change set in; the odometer itself when none has."""
        onsets = [np.where(growth.onset <= odometer, growth.onset, np.inf) for growth in self.growths]
        first = np.min([np.full_like(odometer, np.inf), *onsets], axis=0)
        since: Array = odometer - np.where(np.isfinite(first), first, 0.0)
        return since

    def moment(
        self, odometer: Array, condition: Condition, warm: Array | None = None, step: Values = 0.0
    ) -> FleetMoment:
        """What the vehicles are like at an odometer, at the end of a step [m], (n, 1) or one for all.

        warm: sump temperatures (n, m) K to take; else they are those of the balance. `Workings.settled` says how warm it then
        gets. What is done about codes is what was at the beginning: where it changed, ask again with what is remembered.
        """
        plant = self.plant(odometer)
        driven = driven_day(plant, condition, self.duty, warm)
        now = remembered(plant, condition, self.duty, driven, np.broadcast_to(step, odometer.shape))
        condition = replace(condition, memory=now.memory)
        return FleetMoment(
            rate=wear_rates(plant, condition, driven.work, self.duty),
            work=driven.work,
            strength=felt_troubles(plant, condition, driven.work, self.use),
            remembers=now,
        )
