"""The vehicle on the lift, and how one reading is taken from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from zlib import crc32

import numpy as np

from course_lib import units
from course_lib.shop.findings import Reading
from course_lib.transmission.duty import duty, load_uses
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import Condition, Operation, Workings

HOT = units.from_fahrenheit(180.0)
COLD = units.from_fahrenheit(68.0)


@dataclass(frozen=True)
class Subject:
    """One vehicle as it came in. A batch of one.

    seed decides the noise of the instruments; objects: (inspection id, words) of things lying about; history: what papers and
    owner can tell; felt: name -> how strongly the driver feels it. It knows nothing of causes.
    """

    plant: Plant
    condition: Condition
    signal: str
    use: str
    seed: int
    felt: dict[str, float]
    objects: tuple[tuple[str, str], ...] = ()
    history: tuple[str, ...] = ()

    def at(self, op: Operation) -> Workings:
        """What happens at the operating points `op`."""
        return self.plant.operate(self.condition, op)

    @cached_property
    def driving(self) -> Workings:
        """What happens over the owner's day, at the temperatures of that day."""
        day = duty(self.use)
        return self.plant.operate(self.condition, day.op, day.seconds)

    @property
    def sump_temperature(self) -> float:
        """Mean sump temperature [K] of the owner's day."""
        weight = duty(self.use).seconds
        return float((weight * self.driving.temperature).sum() / weight.sum())

    def has(self, element: str) -> bool:
        """Whether the unit has the holding element."""
        return element in self.plant.unit.element_ids

    def column(self, element: str) -> int:
        """Place of a holding element on the element axis."""
        return self.plant.unit.element_ids.index(element)

    def parameter(self, name: str, element: str = "") -> float:
        """One parameter of this vehicle, SI."""
        value = getattr(self.plant.p, name)
        return float(value[0, 0, self.column(element)] if element else value[0, 0])

    def entry(self, name: str, element: str = "") -> float:
        """One entry of its condition, SI."""
        value = getattr(self.condition, name)
        return float(value[0, 0, self.column(element)] if element else value[0, 0])

    def say(self, point: str) -> str:
        """How people call an operating point."""
        return load_uses().points[point].say

    def found(self, inspection: str) -> list[str]:
        """What lies about, seen at this inspection."""
        return [words for place, words in self.objects if place == inspection]

    def read(
        self, key, label, value, unit, sigma, *, decimals=0, swing=None, note="", signed=False
    ) -> Reading:
        """A reading with the instrument's own error, the same each time it is taken of this vehicle.

        value, sigma and swing in workshop units; signed: the instrument can show less than nothing. The spec
        comes from the unit's sheet by `key`. A value that is not a finite number cannot be read; then `note`
        must say why.
        """
        spec = self.plant.unit.spec.get(key)
        if value is None or not np.isfinite(value):
            return Reading(
                key=key,
                label=label,
                value=None,
                unit=unit,
                spec=spec,
                sigma=sigma,
                decimals=decimals,
                note=note,
            )
        error = sigma * float(
            np.clip(np.random.default_rng([self.seed, crc32(key.encode())]).normal(), -2.0, 2.0)
        )
        shown = round(float(value) + error, decimals)
        shown = shown if signed else max(shown, 0.0)
        ends = (
            None if swing is None else (round(swing[0] + error, decimals), round(swing[1] + error, decimals))
        )
        return Reading(
            key=key,
            label=label,
            value=shown,
            unit=unit,
            spec=spec,
            sigma=sigma,
            decimals=decimals,
            swing=ends,
            note=note,
        )
