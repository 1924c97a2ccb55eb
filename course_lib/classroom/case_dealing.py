"""Dealing cases to a class so that everybody gets different ones and equally hard ones.

The cases are sorted by the minutes of their ideal way and cut into as many layers as a learner gets cases. Everybody gets one
of each layer. Then cases of a layer are exchanged until the sums are as even as exchanging can make them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

ALIKE = 1e4  # minutes squared; more than any evening out is worth
MOST_ROUNDS = 50  # exchanges settle in a handful


@dataclass(frozen=True, slots=True)
class Evenness:
    """How equal a set is, in minutes of the ideal way. low, high, mean, deviation: of the sums of the learners; layers:
    (least, most) of each layer, easiest first."""

    low: int
    high: int
    mean: float
    deviation: float
    layers: tuple[tuple[int, int], ...]

    def __str__(self) -> str:
        layers = ", ".join(f"{low} to {high}" for low, high in self.layers)
        return (
            f"Each learner's cases take {self.low} to {self.high} minutes on the ideal way, {self.mean:.0f} on average "
            f"(standard deviation {self.deviation:.1f}). Cases, easiest first: {layers} minutes."
        )


def deal_cases(
    minutes: Sequence[int], marks: Sequence[Sequence[str]], learners: int, each: int, rng: np.random.Generator
) -> np.ndarray:
    """Which cases go to which learner: indexes, learner x case.

    minutes: of every case there is; marks: what no learner should meet twice, such as its cause and its owner. Cases that are
    left over are the ones that stand out most. Raises ValueError where there are too few.
    """
    worth = np.asarray(minutes)
    if len(worth) < learners * each:
        raise ValueError(f"cases must be at least {learners * each}, got {len(worth)}. Make more.")
    chosen = _closest(worth, each * learners)
    table = np.stack([rng.permutation(layer) for layer in chosen.reshape(each, learners)], axis=1)
    table = _evened(table, worth, np.asarray(marks))
    table = table[rng.permutation(learners)]
    return rng.permuted(table, axis=1)


def evenness_of(minutes: Sequence[int], table: np.ndarray) -> Evenness:
    """How equal the cases of `table` (learner x case) are."""
    dealt = np.asarray(minutes)[table]
    sums = dealt.sum(axis=1)
    layers = np.sort(dealt.ravel()).reshape(table.shape[1], table.shape[0])
    return Evenness(
        low=int(sums.min()),
        high=int(sums.max()),
        mean=float(sums.mean()),
        deviation=float(sums.std()),
        layers=tuple((int(layer.min()), int(layer.max())) for layer in layers),
    )


def _closest(worth: np.ndarray, wanted: int) -> np.ndarray:
    """Indexes of `wanted` cases, easiest first, that lie within the fewest minutes of each other."""
    order = np.argsort(worth, kind="stable")
    starts = np.arange(len(worth) - wanted + 1)
    width = worth[order][starts + wanted - 1] - worth[order][starts]
    start = int(np.argmin(width))
    return order[start : start + wanted]


def _evened(table: np.ndarray, worth: np.ndarray, marks: np.ndarray) -> np.ndarray:
    """The table after exchanges within a layer, as long as one makes the sums more even or parts two cases alike in a mark."""
    table = table.copy()
    for _ in range(MOST_ROUNDS):
        if not any(_exchanged(table, worth, marks, layer) for layer in range(table.shape[1])):
            break
    return table


def _exchanged(table: np.ndarray, worth: np.ndarray, marks: np.ndarray, layer: int) -> bool:
    """Exchange cases of one layer in place; True if any were."""
    mean = worth[table].sum() / len(table)

    def cost(row: np.ndarray) -> float:
        alike = sum(len(row) - len(set(mark)) for mark in marks[row].T)
        return float((worth[row].sum() - mean) ** 2 + ALIKE * alike)

    changed = False
    for one in range(len(table)):
        for two in range(one):
            pair = table[[one, two]].copy()
            pair[:, layer] = pair[::-1, layer].copy()
            if cost(pair[0]) + cost(pair[1]) < cost(table[one]) + cost(table[two]) - 1e-9:
                table[[one, two]] = pair
                changed = True
    return changed
