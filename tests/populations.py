"""Populations for the tests of the differential: exact small ones, and noisy ones whose truth is known."""

import numpy as np

from course_lib.diagnosis.population import Population, Sharpness
from course_lib.shop.findings import Inspection

EXACT = Sharpness(
    bandwidth=1e-9, temper=1.0, floor=0.0
)  # a life speaks only for a vehicle that shows just the same


def inspection(name, minutes=10, *, openness=2, needs=()):
    """An inspection with nothing to say about itself."""
    return Inspection(
        id=name,
        title=name,
        openness=openness,
        minutes=minutes,
        risk="",
        caution="",
        tells="",
        needs=tuple(needs),
    )


def exact(causes, cause, looks, weight=None):
    """A population of looks only, each given by an inspection of its own name, without any smoothing."""
    cause = np.asarray(cause)
    return Population(
        causes=tuple(causes),
        cause=cause,
        weight=np.ones(len(cause)) if weight is None else np.asarray(weight, float),
        severity=np.zeros(len(cause)),
        miles=np.ones(len(cause)),
        readings={},
        sigma={},
        looks={name: np.asarray(value, int) for name, value in looks.items()},
        made_by={name: name for name in looks},
        sharpness=EXACT,
    )


class Trade:
    """An invented trade: causes move many readings along curves of severity; a few traits of manufacture move them all
    together, so that a dozen gauges repeat the same news; every fourth reading is worn by the next cause in the same way."""

    def __init__(self, rng, causes=8, readings=36, traits=3, spread=0.9):
        self.names = tuple(f"cause {i}" for i in range(causes))
        self.slope = rng.normal(size=(causes, readings)) * (rng.random((causes, readings)) < 0.2) * 2.5
        self.slope[1::2] = self.slope[::2] + 0.35 * self.slope[1::2]  # twins
        self.bend = rng.uniform(0.6, 1.8, (causes, readings))
        self.traits = rng.normal(size=(traits, readings)) * spread
        self.base = rng.uniform(20.0, 60.0, readings)
        self.keys = [f"reading {i}" for i in range(readings)]

    def lives(self, rng, per_cause, sharpness=None):
        """A population with as many lives of every cause."""
        cause = np.repeat(np.arange(len(self.names)), per_cause)
        severity = rng.random(len(cause))
        moved = self.slope[cause] * severity[:, None] ** self.bend[cause]
        value = self.base + moved + rng.normal(size=(len(cause), len(self.traits))) @ self.traits
        value += 0.1 * rng.normal(size=value.shape)
        herring = rng.random(len(cause)) < np.where(cause == 2, 0.9, 0.1)
        return Population(
            causes=self.names,
            cause=cause,
            weight=np.ones(len(cause)),
            severity=severity,
            miles=300.0 * np.exp(rng.normal(size=len(cause))),
            readings={key: value[:, i] for i, key in enumerate(self.keys)},
            sigma=dict.fromkeys(self.keys, 0.2),
            objects={"herring": herring},
            made_by={key: f"bench {i // 3}" for i, key in enumerate(self.keys)} | {"herring": "bench 0"},
            sharpness=sharpness or Sharpness(),
        )
