"""Do the odds come true? Fitted on lives held out from the population, and shown as a table."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import minimize_scalar

from course_lib.diagnosis.metric import as_read, log_objects, metric_of, pairwise_squared, whiten
from course_lib.diagnosis.odds import log_kernel, normalized
from course_lib.diagnosis.population import COMPLAINT, Population, Sharpness

ORDERS = 40  # ways through the inspections
ASKED = 16  # lives that go each way
STOPS = 4  # how often each of them is asked about on its way
TEMPERS = (0.02, 1.5)  # between which the right one is sought
EDGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    """Lives (n,) with the same findings revealed, to be told by the lives of other vehicles. truth (n,), their cause; prior and
    likeness (n, L): logarithms of the weight of a life before its readings and looks count, and of what they count for."""

    truth: np.ndarray
    prior: np.ndarray
    likeness: np.ndarray

    def loss(self, temper: float, floor: float, member: np.ndarray, share: np.ndarray) -> np.ndarray:
        """(n,) Brier score of the odds: 0 when sure and right, 2 when sure and wrong. member (L, C): the cause of each life;
        share (C,): of each cause in all weight."""
        said = (1.0 - floor) * (
            normalized(self.prior + np.float32(temper) * self.likeness) @ member
        ) + floor * share
        said[np.arange(len(self.truth)), self.truth] -= 1.0
        score: np.ndarray = (said**2).sum(-1)
        return score


def fit_sharpness(population: Population, rng: np.random.Generator) -> Sharpness:
    """The population's sharpness with the temper at which the odds of its lives, each told by other vehicles, have the least
    mean Brier score.

    They are read as instruments read them and asked about at several points on a way through the inspections. The score is
    bounded, so that a few lives that no other resembles do not blunt all others.

    Source: Brier, Verification of Forecasts Expressed in Terms of Probability, Monthly Weather Review 78 (1950).
    """
    questions, worth = _questions(population, rng), population.weight / population.weight.sum()
    member = (population.cause[:, None] == np.arange(len(population.causes))).astype(np.float32)

    def loss(log_temper: float) -> float:
        temper, floor = float(np.exp(log_temper)), population.sharpness.floor
        each = np.concatenate(
            [question.loss(temper, floor, member, worth @ member) for question in questions]
        )
        return float(each.mean())

    best = minimize_scalar(loss, bounds=np.log(TEMPERS), method="bounded", options={"xatol": 0.05})
    return replace(population.sharpness, temper=float(np.exp(best.x)))


def _questions(population: Population, rng: np.random.Generator) -> list[_Question]:
    """Questions about lives, drawn as often as they come in, whose cause has befallen another vehicle too; a few for each of
    several ways."""
    pairs = np.unique(np.column_stack([population.cause, population.vehicles]), axis=0)
    twice = np.bincount(pairs[:, 0], minlength=len(population.causes)) > 1
    chance = population.weight * twice[population.cause]
    some = rng.choice(len(population), ORDERS * ASKED, p=chance / chance.sum())
    asked = as_read(metric_of(population), population, rng)
    return [each for rows in np.split(some, ORDERS) for each in _on_the_way(population, asked, rows, rng)]


def _on_the_way(
    population: Population, asked: np.ndarray, some: np.ndarray, rng: np.random.Generator
) -> list[_Question]:
    """Questions about the lives `some` after some inspections of a random order.

    asked (L, P): every life as instruments read it.
    """
    metric, places = metric_of(population), sorted(set(population.made_by.values()) - {COMPLAINT})
    order = [COMPLAINT, *rng.permutation(places).tolist()]
    groups = [
        metric.columns([k for k, made in population.made_by.items() if made == place]) for place in order
    ]
    columns, ends = np.concatenate(groups), np.cumsum([len(group) for group in groups])
    mine, theirs = (whiten(metric, columns, x[:, columns]) for x in (asked[some], metric.x))
    same = population.vehicles[some][:, None] == population.vehicles
    questions = []
    for stop in rng.integers(1, len(order) + 1, STOPS):
        end = int(ends[stop - 1])
        squared = pairwise_squared(mine[:, :end], theirs[:, :end])
        prior = (
            np.log(population.weight)
            + _objects_seen(population, some, order[:stop], rng)[:, population.cause]
        )
        questions.append(
            _Question(
                truth=population.cause[some],
                prior=np.where(same, -np.inf, prior).astype(np.float32),
                likeness=log_kernel(squared, end, replace(population.sharpness, temper=1.0)).astype(
                    np.float32
                ),
            )
        )
    return questions


def _objects_seen(
    population: Population, some: np.ndarray, places: Collection[str], rng: np.random.Generator
) -> np.ndarray:
    """(n, C) logarithm of the probability of the objects that the lives `some` show at `places`, for each cause."""
    here = [i for i, key in enumerate(population.objects) if population.made_by[key] in places]
    chance = np.array([list(population.objects.values())[i][some] for i in here], float)
    there = (rng.random((len(here), len(some))) < chance.reshape(len(here), len(some))).astype(float)
    return log_objects(metric_of(population).share[:, here], there.T)


def reliability_table(
    said: np.ndarray, right: np.ndarray, edges: Sequence[float] = EDGES
) -> list[tuple[float, float, int, float, float]]:
    """Rows (from, to, how often, mean probability said, share that came true); empty ranges are left out.

    said (n,): the probabilities named; right (n,) bool: whether that cause was the true one.
    """
    rows = []
    for low, high in pairwise(edges):
        here = (said >= low) & ((said < high) | (high == edges[-1]))
        if here.any():
            rows.append((low, high, int(here.sum()), float(said[here].mean()), float(right[here].mean())))
    return rows
