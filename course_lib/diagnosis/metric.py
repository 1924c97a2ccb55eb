"""How far a vehicle is from a life: one covariance for all readings and looks, learned from lives that are neighbors.

Two vehicles with the same cause, of about the same severity and miles, differ by manufacture and driver. What differs
together there says nothing new twice. So distance is measured in units of those differences, correlation included.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np
from scipy.linalg import solve_triangular

from course_lib.base.guards import one_of
from course_lib.diagnosis.population import Findings, Population
from course_lib.shop.batch import FARTHEST

Numbers = TypeVar("Numbers", float, np.ndarray)
NEIGHBORS = 5
STRETCH = 20.0  # instrument errors up to which a reading counts by its size, beyond which by its ratio
# Of a grade, where the population gives none: two people read the same words out of the same thing.
LOOK_SIGMA = 0.25
SHRINK = 0.05  # of every correlation, because it is learned from a few hundred pairs
SLIP = 1e-3  # chance that a thing is seen where it cannot be, or told of the wrong vehicle
CAN_READ = "can read "  # head of the column that says whether a reading can be taken at all


@dataclass(frozen=True, slots=True, eq=False)
class Metric:
    """L lives in P columns. names: (P,) keys; x (L, P): stretched readings, grades, and 1 or 0 for "can be read";
    covariance (P, P): how a vehicle differs from a life that it is like; steps: key ->
    where a reading begins to be stretched; objects: ids (K,); share (C, K): how often each lies about for each cause."""

    names: tuple[str, ...]
    x: np.ndarray
    covariance: np.ndarray
    steps: dict[str, float]
    objects: tuple[str, ...]
    share: np.ndarray

    def columns(self, keys: Collection[str]) -> np.ndarray:
        """Places of the columns that belong to `keys`."""
        return np.array([i for i, n in enumerate(self.names) if n.removeprefix(CAN_READ) in keys], int)

    def place(self, findings: Findings) -> tuple[np.ndarray, np.ndarray]:
        """(columns, values): where the findings stand. Raises ValueError for a key that no life has."""
        given: dict[str, float] = dict(findings.looks)
        for key, value in findings.readings.items():
            if np.isfinite(value):
                given[key] = stretched(value, self.steps.get(key, 1.0))
            given[CAN_READ + key] = float(np.isfinite(value))
        known = {*self.names, *(name.removeprefix(CAN_READ) for name in self.names), *self.objects}
        for key in (*findings.looks, *findings.readings, *findings.objects):
            if key not in known:
                one_of("finding", key, known)
        columns = [i for i, name in enumerate(self.names) if name in given]
        return np.array(columns, int), np.array([given[self.names[i]] for i in columns], float)


def stretched(value: Numbers, step: float) -> Numbers:
    """A reading on the scale on which lives are compared: by size near 0, by ratio far from it."""
    scaled: Numbers = np.arcsinh(value / step)
    return scaled


@lru_cache(maxsize=8)  # every question to a population asks for it
def metric_of(population: Population) -> Metric:
    """The metric of a population; it is computed once."""
    steps = {key: STRETCH * population.sigma[key] for key in population.readings}
    names, values, noise = _columns(population, steps)
    x = np.column_stack(values) if values else np.zeros((len(population), 0))
    return Metric(
        names=tuple(names),
        x=x,
        covariance=_covariance(population, x, np.array(noise)),
        steps=steps,
        objects=tuple(population.objects),
        share=object_share(population),
    )


def _columns(
    population: Population, steps: dict[str, float]
) -> tuple[list[str], list[np.ndarray], list[float]]:
    """Names, values without gaps, and noise of every column."""
    names, values, noise = [], [], []
    for key, value in population.readings.items():
        there = np.isfinite(value)
        if not there.all():
            names.append(CAN_READ + key)
            values.append(there.astype(float))
            noise.append(LOOK_SIGMA)
        if there.any():
            scaled = stretched(np.where(there, value, np.nan), steps[key])
            names.append(key)
            values.append(np.where(there, scaled, np.nanmean(scaled)))
            error = population.sigma[key] / np.sqrt(value[there] ** 2 + steps[key] ** 2)
            noise.append(float(np.sqrt(np.mean(error**2))))
    looks = {key: value.astype(float) for key, value in population.looks.items()}
    noise += [population.sigma.get(key, LOOK_SIGMA) for key in looks]
    return [*names, *looks], [*values, *looks.values()], noise


def _covariance(population: Population, x: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Mean product of the differences between neighbors, every cause with the same say, plus noise; correlations shrunk."""
    parts = []
    for cause in range(len(population.causes)):
        rows = np.flatnonzero(population.cause == cause)
        one, other = _neighbors(population.severity[rows], population.miles[rows], population.vehicles[rows])
        if len(one):
            gap = x[rows[one]] - x[rows[other]]
            parts.append(gap.T @ gap / len(one))
    spread = np.mean(parts, axis=0) if parts else np.zeros((len(noise), len(noise)))
    return (1.0 - SHRINK) * spread + np.diag(SHRINK * np.diag(spread) + noise**2)


def _neighbors(severity: np.ndarray, miles: np.ndarray, vehicle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (life, neighbor) among lives of one cause: other vehicles, alike in severity and in the logarithm of miles."""
    at = np.column_stack([severity, np.log1p(np.maximum(miles, 0.0))])
    at = (at - at.mean(0)) / (at.std(0) + 1e-9) if len(at) else at
    far = ((at[:, None] - at[None]) ** 2).sum(-1)
    far[vehicle[:, None] == vehicle] = np.inf
    near = np.argsort(far, axis=1, kind="stable")[:, :NEIGHBORS]
    one, other = np.repeat(np.arange(len(at)), near.shape[1]), near.ravel()
    apart = np.isfinite(far[one, other])
    return one[apart], other[apart]


def object_share(population: Population) -> np.ndarray:
    """(C, K) probability of each object for each cause: the mean over its lives, by weight."""
    chance = np.array(list(population.objects.values()), float).reshape(
        len(population.objects), len(population)
    )
    member = (population.cause[:, None] == np.arange(len(population.causes))) * population.weight[:, None]
    share = (chance @ member) / np.maximum(member.sum(0), 1e-12)
    likely: np.ndarray = np.clip(share.T, SLIP, 1.0 - SLIP)
    return likely


def log_objects(share: np.ndarray, there: np.ndarray) -> np.ndarray:
    """(n, C) logarithm of the probability of what lies about, `there` (n, K), for each cause; share (C, K)."""
    total: np.ndarray = there @ np.log(share).T + (1.0 - there) @ np.log1p(-share).T
    return total


def as_read(metric: Metric, population: Population, rng: np.random.Generator) -> np.ndarray:
    """(L, P) the lives of the metric's own population as instruments read them, each with their own error."""
    x = metric.x.copy()
    for column, key in enumerate(metric.names):
        if key in population.readings:
            value = population.readings[key]
            error = population.sigma[key] * np.clip(rng.normal(size=len(value)), -FARTHEST, FARTHEST)
            x[:, column] = np.where(
                np.isfinite(value), stretched(value + error, metric.steps[key]), x[:, column]
            )
    return x


def whiten(metric: Metric, columns: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Rows of `x` (n, columns), differences or places, in units in which squared distance is the sum of squares.

    In single precision: a distance is good to one part in a million, and large populations take half the time.
    """
    root = np.linalg.cholesky(metric.covariance[np.ix_(columns, columns)])
    inverse = solve_triangular(root, np.eye(len(columns)), lower=True, check_finite=False)
    white: np.ndarray = x.astype(np.float32) @ inverse.T.astype(np.float32)
    return white


def pairwise_squared(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Squared distances (n, m) between the rows of `a` (n, p) and of `b` (m, p)."""
    squared: np.ndarray = np.maximum((a**2).sum(1)[:, None] + (b**2).sum(1) - 2.0 * a @ b.T, 0.0)
    return squared
