"""Lives lived beforehand, to compare a vehicle with: what each would have shown at every inspection.

Only arrays, no words: L lives on axis 0. A reading is a number in workshop units, a look a grade on a scale of words,
an object a probability that a thing lies about, or that something is told.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, fields

import numpy as np

from course_lib.base.guards import one_of
from course_lib.shop.batch import FARTHEST

COMPLAINT = "complaint"  # made_by of what is known before the first inspection: it costs nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpness:
    """How far one life speaks for others like it; fitted so that the odds come true.

    bandwidth: factor on the spread between neighboring lives; temper: share of the log-likelihood that counts, below 1
    because readings repeat each other in more ways than a correlation holds; tails: degrees of freedom, small = one odd
    reading is forgiven; floor: probability that no life of the population speaks for the vehicle.
    """

    bandwidth: float = 1.0
    temper: float = 0.22
    tails: float = 4.0
    floor: float = 1e-3

    def __post_init__(self) -> None:
        for name in ("bandwidth", "temper", "tails"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}. Fit it anew.")
        if not 0.0 <= self.floor < 1.0:
            raise ValueError(f"floor must be from 0 to below 1, got {self.floor}. Fit it anew.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What was found. readings: key -> number, NaN = tried and could not be read; looks: key -> grade; objects: id -> there?"""

    readings: dict[str, float] = field(default_factory=dict)
    looks: dict[str, int] = field(default_factory=dict)
    objects: dict[str, bool] = field(default_factory=dict)

    def keep(self, keys: Collection[str]) -> Findings:
        """Only those of `keys`."""
        cut = {f.name: {k: v for k, v in getattr(self, f.name).items() if k in keys} for f in fields(self)}
        return Findings(**cut)

    def __len__(self) -> int:
        return len(self.readings) + len(self.looks) + len(self.objects)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Population:
    """L lives, each ended with a complaint.

    causes: names; cause (L,): place in causes; weight (L,): how often such a life comes in; severity (L,) 0 mild to 1
    severe; miles (L,) since onset. readings: key -> (L,) without the error of the instrument, NaN = cannot be read; looks:
    key -> (L,) grade; sigma: key -> error of a reading, or of a look in grades where it is more than usual, one standard
    deviation; objects: id -> (L,) probability that a thing is there, or that a look which may miss something meets it. made_by: key
    or id -> the inspection that gives it, COMPLAINT for what is known at once. vehicle (L,): lives of one vehicle have the same
    number; None = every life its own. Raises ValueError when shapes or names do not agree.
    """

    causes: tuple[str, ...]
    cause: np.ndarray
    weight: np.ndarray
    severity: np.ndarray
    miles: np.ndarray
    readings: dict[str, np.ndarray]
    sigma: dict[str, float]
    made_by: dict[str, str]
    looks: dict[str, np.ndarray] = field(default_factory=dict)
    objects: dict[str, np.ndarray] = field(default_factory=dict)
    vehicle: np.ndarray | None = None
    sharpness: Sharpness = Sharpness()

    def __post_init__(self) -> None:
        columns = {**self.readings, **self.looks, **self.objects}
        plain = {name: getattr(self, name) for name in ("weight", "severity", "miles")}
        for name, value in {**columns, **plain}.items():
            if value.shape != self.cause.shape:
                raise ValueError(
                    f"{name} must be one number a life, {self.cause.shape}, got {value.shape}. Build the population anew."
                )
        if len(columns) != len(self.readings) + len(self.looks) + len(self.objects):
            raise ValueError(
                "keys must be different for readings, looks and objects, got one twice. Rename it."
            )
        for name in columns:
            one_of("key", name, self.made_by)
        for name in self.readings:
            if not self.sigma.get(name, 0.0) > 0.0:
                raise ValueError(
                    f"sigma of {name} must be greater than 0, got {self.sigma.get(name)}. Give it one."
                )

    def __len__(self) -> int:
        return len(self.cause)

    @property
    def vehicles(self) -> np.ndarray:
        """(L,) number of the vehicle of each life."""
        return np.arange(len(self)) if self.vehicle is None else self.vehicle

    def keys_of(self, inspections: Collection[str]) -> set[str]:
        """Keys and ids that these inspections give, and what is known at once."""
        return {key for key, place in self.made_by.items() if place in inspections or place == COMPLAINT}

    def rows(self, rows: np.ndarray) -> Population:
        """Some of the lives only."""

        def cut(columns: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
            return {key: each[rows] for key, each in columns.items()}

        return Population(
            causes=self.causes,
            cause=self.cause[rows],
            weight=self.weight[rows],
            severity=self.severity[rows],
            miles=self.miles[rows],
            readings=cut(self.readings),
            sigma=self.sigma,
            made_by=self.made_by,
            looks=cut(self.looks),
            objects=cut(self.objects),
            vehicle=self.vehicles[rows],
            sharpness=self.sharpness,
        )

    def findings(self, life: int, rng: np.random.Generator | None = None) -> Findings:
        """What one life shows; with `rng`, as instruments read it, with their own error, and with things that are drawn."""
        read = {key: float(value[life]) for key, value in self.readings.items()}
        if rng is not None:
            error = np.clip(rng.normal(size=len(read)), -FARTHEST, FARTHEST)
            read = {key: x + self.sigma[key] * e for (key, x), e in zip(read.items(), error, strict=True)}
        return Findings(
            readings=read,
            looks={key: int(value[life]) for key, value in self.looks.items()},
            objects={
                key: bool(value[life] > (0.5 if rng is None else rng.random()))
                for key, value in self.objects.items()
            },
        )
