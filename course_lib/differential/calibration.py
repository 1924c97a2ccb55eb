"""Do the odds come true? Fitted on lives held out from the population, and shown as a table."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from course_lib.differential.metric import (
    as_read,
    log_objects,
    metric_of,
    object_share,
    pairwise_squared,
    whiten,
)
from course_lib.differential.odds import log_kernel, normalized
from course_lib.differential.population import COMPLAINT, Population, Sharpness

FOLDS = 6  # parts of the vehicles, each asked about with the others as its population
MOST_ASKED = 100  # lives of a part
ORDERS = 4  # ways through the inspections, for each part
STOPS = 3  # how often each of them is asked about on the way through the inspections
TRIALS = 40
BOUNDS = {"temper": (0.02, 1.5), "floor": (1e-4, 0.05)}
FIRST = {"temper": 0.5, "floor": 2e-3}
EDGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    """Held-out lives (n,) with the same findings revealed: right (n, L), whether a life has their cause; share (n,) of
    that cause in all weight; prior and likeness (n, L): logarithms of the weight of a life before its readings and looks
    count, and of what they count for; worth (n,): how often such a life comes in."""

    right: np.ndarray
    share: np.ndarray
    prior: np.ndarray
    likeness: np.ndarray
    worth: np.ndarray


def fit_sharpness(population: Population, rng: np.random.Generator) -> Sharpness:
    """The sharpness that gives held-out lives the highest mean log-probability of their true cause.

    They are read as instruments read them and asked about at several points on a way through the inspections.
    """
    numbers = np.unique(population.vehicles)
    part_of = rng.permutation(len(numbers))[np.searchsorted(numbers, population.vehicles)] % FOLDS
    asked = as_read(metric_of(population), population, rng)
    questions = [
        each for part in range(FOLDS) for each in _questions(population, asked, part_of == part, rng)
    ]
    worth = np.concatenate([each.worth for each in questions])
    names = list(FIRST)
    ends = np.log([BOUNDS[name] for name in names])

    def sharpness(point) -> Sharpness:
        values = np.exp(np.clip(point, ends[:, 0], ends[:, 1]))
        return replace(population.sharpness, **dict(zip(names, values.tolist(), strict=True)))

    def loss(point) -> float:
        right = np.concatenate([_true_cause(each, sharpness(point)) for each in questions])
        return -float(np.average(np.log(right), weights=worth))

    start = np.log([FIRST[name] for name in names])
    best = minimize(
        loss, start, method="Nelder-Mead", options={"maxfev": TRIALS, "xatol": 0.02, "fatol": 1e-4}
    )
    return sharpness(best.x)


def _questions(
    population: Population, asked: np.ndarray, out: np.ndarray, rng: np.random.Generator
) -> list[_Question]:
    """Some of the lives `out` (L,) bool, asked about with the others as population, in groups with one order each."""
    known = np.isin(population.cause, population.cause[~out])  # else nobody could name their cause
    some = rng.permutation(np.flatnonzero(out & known))[:MOST_ASKED]
    share = object_share(population.rows(~out))
    groups = [rows for rows in np.array_split(some, ORDERS) if len(rows)]
    return [
        each
        for rows in groups
        for each in _on_the_way(population, share, asked, rows, np.flatnonzero(~out), rng)
    ]


def _on_the_way(
    population: Population, share: np.ndarray, asked: np.ndarray, some, rest, rng
) -> list[_Question]:
    """Questions about the lives `some` after some inspections of a random order, and after all of it; `rest` answer.

    share: of the objects among those; asked (L, P): every life as instruments read it.
    """
    metric, places = metric_of(population), sorted(set(population.made_by.values()) - {COMPLAINT})
    order = [COMPLAINT, *rng.permutation(places).tolist()]
    groups = [
        metric.columns([k for k, made in population.made_by.items() if made == place]) for place in order
    ]
    columns, ends = np.concatenate(groups), np.cumsum([len(group) for group in groups])
    mine, theirs = (whiten(metric, columns, x[:, columns]) for x in (asked[some], metric.x[rest]))
    cause, worth = population.cause[rest], population.weight[rest]
    right = cause == population.cause[some][:, None]
    questions = []
    for stop in {*rng.integers(1, len(order) + 1, STOPS - 1).tolist(), len(order)}:
        end = int(ends[stop - 1])
        squared = pairwise_squared(mine[:, :end], theirs[:, :end])
        prior = np.log(worth) + _objects_seen(population, share, some, order[:stop])[:, cause]
        questions.append(
            _Question(
                right=right,
                share=right @ worth / worth.sum(),
                prior=prior.astype(np.float32),
                likeness=log_kernel(squared, end, replace(population.sharpness, temper=1.0)).astype(
                    np.float32
                ),
                worth=population.weight[some],
            )
        )
    return questions


def _objects_seen(population: Population, share: np.ndarray, some, places) -> np.ndarray:
    """(n, C) logarithm of the probability of the objects that the lives `some` show at `places`, for each cause."""
    here = [i for i, key in enumerate(population.objects) if population.made_by[key] in places]
    there = np.array([list(population.objects.values())[i][some] for i in here], float).reshape(
        len(here), len(some)
    )
    return log_objects(share[:, here], there.T)


def _true_cause(asked: _Question, sharpness: Sharpness) -> np.ndarray:
    """Probability (n,) given to the true cause."""
    lives = normalized(asked.prior + np.float32(sharpness.temper) * asked.likeness)
    return (1.0 - sharpness.floor) * (lives * asked.right).sum(-1) + sharpness.floor * np.maximum(
        asked.share, 1e-9
    )


def reliability(
    said: np.ndarray, right: np.ndarray, edges=EDGES
) -> list[tuple[float, float, int, float, float]]:
    """Rows (from, to, how often, mean probability said, share that came true); empty ranges are left out.

    said (n,): the probabilities named; right (n,) bool: whether that cause was the true one.
    """
    rows = []
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        here = (said >= low) & ((said < high) | (high == edges[-1]))
        if here.any():
            rows.append((low, high, int(here.sum()), float(said[here].mean()), float(right[here].mean())))
    return rows
