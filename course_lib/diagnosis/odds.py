"""The odds of every cause, given what was found so far.

Weights stand on whole lives: a life speaks for a vehicle as far as all its findings together resemble it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.diagnosis.metric import log_objects, metric_of, whiten
from course_lib.diagnosis.population import Findings, Population, Sharpness


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """What the findings make of the population. probability (C,) of each cause; lives (L,): weight of each life, sum 1;
    likeness (C,): the probabilities before the floor, so that the least likely causes can still be told apart."""

    causes: tuple[str, ...]
    probability: np.ndarray
    lives: np.ndarray
    likeness: np.ndarray

    @property
    def order(self) -> np.ndarray:
        """Places of the causes, most probable first."""
        return np.argsort(-self.probability, kind="stable")

    def table(self) -> list[tuple[str, float]]:
        """(cause, probability), most probable first."""
        return [(self.causes[i], float(self.probability[i])) for i in self.order]

    @property
    def leader(self) -> str:
        """The most probable cause."""
        return self.causes[int(self.order[0])]

    @property
    def ratio(self) -> float:
        """Leader to runner-up; infinite where nothing else is left."""
        best, second = (self.probability[self.order[i]] if i < len(self.order) else 0.0 for i in (0, 1))
        return float(best / second) if second > 0.0 else np.inf

    @property
    def bits(self) -> float:
        """Uncertainty left about the cause."""
        return float(entropy_bits(self.probability))


def entropy_bits(probability: np.ndarray) -> np.ndarray:
    """Shannon entropy in bits over the last axis; probabilities sum to 1 there.

    Source: Shannon, A Mathematical Theory of Communication (1948), section 6.
    """
    bits: np.ndarray = -(probability * np.log2(np.where(probability > 0.0, probability, 1.0))).sum(-1)
    return bits


def log_kernel(squared: np.ndarray, columns: int, sharpness: Sharpness) -> np.ndarray:
    """Logarithm of how far a life speaks at a squared distance over `columns`, up to a constant: a tempered Student t."""
    scale = sharpness.bandwidth**2 * sharpness.tails
    height: np.ndarray = -0.5 * sharpness.temper * (sharpness.tails + columns) * np.log1p(squared / scale)
    return height


def normalized(log_weight: np.ndarray) -> np.ndarray:
    """Weights with sum 1 over the last axis from their logarithms."""
    weight = np.exp(log_weight - log_weight.max(-1, keepdims=True))
    share: np.ndarray = weight / weight.sum(-1, keepdims=True)
    return share


def per_cause(population: Population, weight: np.ndarray) -> np.ndarray:
    """Sum of the weights (L,) of lives for each cause."""
    sums: np.ndarray = np.bincount(population.cause, weight, minlength=len(population.causes))
    return sums


def _what_lies_about(population: Population, objects: dict[str, bool]) -> np.ndarray:
    """(C,) logarithm of the probability of the objects found and not found, for each cause."""
    metric = metric_of(population)
    here = [i for i, key in enumerate(metric.objects) if key in objects]
    there = np.array([[objects[metric.objects[i]] for i in here]], float)
    row: np.ndarray = log_objects(metric.share[:, here], there)[0]
    return row


def squared_distance(population: Population, findings: Findings) -> tuple[np.ndarray, int]:
    """((L,) squared distance of the findings from every life, number of columns it is taken over)."""
    metric = metric_of(population)
    columns, values = metric.place(findings)
    return (whiten(metric, columns, values - metric.x[:, columns]) ** 2).sum(-1), len(columns)


def odds(population: Population, findings: Findings) -> Odds:
    """Probability of every cause given the findings so far; none is ever 0 unless the floor is.

    Raises ValueError for a finding that no life of the population has.
    """
    squared, columns = squared_distance(population, findings)
    log_weight = np.log(population.weight) + log_kernel(squared, columns, population.sharpness)
    lives = normalized(log_weight + _what_lies_about(population, findings.objects)[population.cause])
    floor, likeness = population.sharpness.floor, per_cause(population, lives)
    lives = (1.0 - floor) * lives + floor * population.weight / population.weight.sum()
    return Odds(population.causes, per_cause(population, lives), lives, likeness)
