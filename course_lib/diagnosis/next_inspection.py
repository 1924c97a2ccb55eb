"""What to inspect next: how many bits about the cause an inspection is expected to bring, for each minute it takes.

The lives that still speak for the vehicle are taken for true, one after the other; what each would show, with the noise of a
vehicle that is only like it, is weighed against all the others.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular

from course_lib.diagnosis.metric import Metric, log_objects, metric_of, pairwise_squared
from course_lib.diagnosis.odds import entropy_bits, log_kernel, normalized, odds, squared_distance
from course_lib.diagnosis.population import Findings, Population
from course_lib.shop.findings import Inspection
from course_lib.shop.order import steps_to

MOST_TRUTHS, MOST_LIVES = 128, 512  # lives taken for true, and lives that they are weighed against


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedInspection:
    """One inspection: bits it is expected to bring, with whatever must be made before it; minutes of all that; steps: those
    inspections in order, itself last."""

    inspection: str
    bits: float
    minutes: int
    steps: tuple[str, ...]

    @property
    def bits_per_minute(self) -> float:
        """What a minute brings."""
        return self.bits / self.minutes


@dataclass(frozen=True, slots=True, eq=False)
class _Standing:
    """Where things stand after some findings. lives (m,) rows and weight (m,) sum 1; truths (t,) and chance (t,) sum 1;
    squared (L,) distance so far over `seen` columns; x (m, P) and shown (t, P): every column of the lives and of the truths,
    what was found taken into account; covariance (P, P): what is still open of it."""

    population: Population
    metric: Metric
    lives: np.ndarray
    weight: np.ndarray
    truths: np.ndarray
    chance: np.ndarray
    squared: np.ndarray
    seen: int
    x: np.ndarray
    shown: np.ndarray
    covariance: np.ndarray


def rank_inspections(
    population: Population,
    findings: Findings,
    offered: Sequence[Inspection],
    made: Collection[str],
    rng: np.random.Generator,
) -> list[RankedInspection]:
    """Every inspection of `offered` not yet `made`, best bits per minute first; on a tie the shorter one.

    An inspection whose needs are not yet made is judged together with them.
    """
    standing = _standing(population, findings, rng)
    known = {*findings.readings, *findings.looks, *findings.objects}
    table = {each.id: each for each in offered}
    judged = []
    for each in offered:
        if each.id in made:
            continue
        steps = steps_to(each.id, table, made)
        keys = {key for key, place in population.made_by.items() if place in steps} - known
        minutes = sum(table[step].minutes for step in steps)
        judged.append(
            RankedInspection(
                inspection=each.id, bits=_bits(standing, keys, rng), minutes=minutes, steps=steps
            )
        )
    return sorted(judged, key=lambda a: (-a.bits_per_minute, a.minutes))


def _standing(population: Population, findings: Findings, rng: np.random.Generator) -> _Standing:
    now, metric = odds(population, findings), metric_of(population)
    squared, seen = squared_distance(population, findings)
    columns, values = metric.place(findings)
    lives, weight = _spread(now.lives, MOST_LIVES, rng)
    truths, chance = _spread(now.lives, MOST_TRUTHS, rng)
    across = metric.covariance[columns]
    pull = cho_solve(cho_factor(across[:, columns]), across) if len(columns) else across

    def expected(rows: np.ndarray) -> np.ndarray:
        open_: np.ndarray = metric.x[rows] + (values - metric.x[np.ix_(rows, columns)]) @ pull
        return open_

    return _Standing(
        population=population,
        metric=metric,
        lives=lives,
        weight=weight,
        truths=truths,
        chance=chance,
        squared=squared,
        seen=seen,
        x=expected(lives),
        shown=expected(truths),
        covariance=metric.covariance - across.T @ pull,
    )


def _spread(weight: np.ndarray, most: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """(rows, weights with sum 1) of at most `most` lives that stand for all: evenly spaced along the sum of the weights."""
    rows = np.flatnonzero(weight)
    if len(rows) <= most:
        return rows, weight[rows] / weight.sum()
    reach = np.cumsum(weight) / weight.sum()
    drawn = np.searchsorted(reach, (np.arange(most) + rng.random()) / most)
    rows, count = np.unique(np.minimum(drawn, len(weight) - 1), return_counts=True)
    return rows, count / most


def _bits(now: _Standing, keys: set[str], rng: np.random.Generator) -> float:
    """Expected loss of entropy about the cause by learning `keys`."""
    cause = now.population.cause[now.lives]
    member = (cause[:, None] == np.arange(len(now.population.causes))).astype(np.float32)
    log_weight = np.log(now.weight) + _likeness(now, keys, rng) + _log_objects(now, keys, rng)
    after = entropy_bits(normalized(log_weight.astype(np.float32)) @ member)
    before = entropy_bits(now.weight @ member)
    return max(float(before - now.chance @ after), 0.0)


def _likeness(now: _Standing, keys: set[str], rng: np.random.Generator) -> np.ndarray:
    """(t, m) logarithm of how much more, or less, a life speaks after readings and looks `keys` of a truth are known."""
    columns = now.metric.columns(keys)
    if not len(columns):
        return np.zeros((len(now.truths), len(now.lives)))
    sharpness, squared = now.population.sharpness, now.squared[now.lives]
    root = np.linalg.cholesky(now.covariance[np.ix_(columns, columns)])
    both = np.concatenate([now.shown[:, columns], now.x[:, columns]])
    mine, theirs = np.split(
        solve_triangular(root, both.T, lower=True, check_finite=False).T.astype(np.float32), [len(now.shown)]
    )
    wide = np.sqrt(
        (sharpness.tails * sharpness.bandwidth**2 + now.squared[now.truths]) / (sharpness.tails + now.seen)
    )
    mine = mine + wide[:, None].astype(np.float32) * rng.standard_normal(mine.shape, np.float32)
    # Single precision: a tenth of a bit is what advice is about.
    after = pairwise_squared(mine, theirs) + squared.astype(np.float32)
    known = log_kernel(squared, now.seen, sharpness)
    gain: np.ndarray = log_kernel(after, now.seen + len(columns), sharpness) - known
    return gain


def _log_objects(now: _Standing, keys: set[str], rng: np.random.Generator) -> np.ndarray:
    """(t, m) logarithm of the probability of the objects that a truth shows, for the cause of a life."""
    here = [i for i, key in enumerate(now.metric.objects) if key in keys]
    chance = np.array([now.population.objects[now.metric.objects[i]][now.truths] for i in here], float)
    there = (rng.random((len(here), len(now.truths))) < chance.reshape(len(here), len(now.truths))).astype(
        float
    )
    by_cause = log_objects(now.metric.share[:, here], there.T)
    by_life: np.ndarray = by_cause[:, now.population.cause[now.lives]]
    return by_life
