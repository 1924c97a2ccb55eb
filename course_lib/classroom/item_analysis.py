"""Statistics of a class test: how hard an item is, whether it tells good learners from others, how far the sums can be trusted.

Everywhere `scores` is learner x item, a share of the points between 0 and 1. Two learners or one item carry no statistic: then
the value is nan, never a number that looks like one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import f as f_distribution

FEW_LEARNERS, FEW_ITEMS = 30, 5
"""Below these a reliability is a rough guess (common practice, no source)."""
LEVEL = 0.95
"""How sure the interval of a reliability is to hold it."""
GROUP = 0.27
"""Share of the class in the upper and in the lower group (Kelley 1939; from memory)."""
SCALE = ((0.40, "very good"), (0.30, "reasonably good"), (0.20, "marginal"), (0.0, "poor"))
"""Words for a discrimination index, from that value on (Ebel & Frisbie, Essentials of Educational Measurement; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Reliability:
    """How far the sums of a test can be trusted. value: Cronbach's alpha, which is KR-20 where items are right or wrong;
    low, high: its 95 % interval; warnings: what to know before it is believed."""

    value: float
    low: float
    high: float
    warnings: tuple[str, ...]

    def __str__(self) -> str:
        if not np.isfinite(self.value):
            return f"No reliability. {' '.join(self.warnings)}"
        interval = f"{LEVEL * 100:.0f} % interval {self.low:.2f} to {self.high:.2f}"
        return f"{self.value:.2f} ({interval}). {' '.join(self.warnings)}".rstrip()

    __repr__ = __str__  # a notebook shows a dictionary of them


def _table(scores: ArrayLike) -> np.ndarray:
    table = np.asarray(scores, float)
    if table.ndim != 2:
        raise ValueError(
            f"scores must be learner x item, got {table.ndim} axes. Give one row for each learner."
        )
    return table


def difficulty(scores: ArrayLike) -> np.ndarray:
    """Share of the points earned on each item, 0 to 1: the higher, the easier."""
    table = _table(scores)
    return table.mean(axis=0) if len(table) else np.full(table.shape[1], np.nan)


def discrimination_of_groups(upper: ArrayLike, lower: ArrayLike) -> np.ndarray:
    """Index D: share right in the upper group less that in the lower one, which are equally large."""
    difference: np.ndarray = np.asarray(upper, float) - np.asarray(lower, float)
    return difference


def discrimination(scores: ArrayLike) -> np.ndarray:
    """Index D of each item, between the best and the last learners by the sum of the *other* items; learners who tie at the edge
    of a group count in equal parts, so that the order of a list changes nothing."""
    table = _table(scores)
    learners, items = table.shape
    if learners < 2 or items < 2:
        return np.full(items, np.nan)
    group = max(GROUP * learners, 1.0)
    found = []
    for item in range(items):
        rest = table.sum(axis=1) - table[:, item]
        upper, lower = (np.average(table[:, item], weights=_at_top(way * rest, group)) for way in (1, -1))
        found.append(float(discrimination_of_groups(upper, lower)))
    return np.array(found)


def _at_top(value: np.ndarray, wanted: float) -> np.ndarray:
    """How far each learner is among the `wanted` highest, 0 to 1; those with equal values share what is left."""
    value = np.round(value, 9)
    weight = np.zeros(len(value))
    left = wanted
    for step in np.unique(value)[::-1]:
        tied = value == step
        weight[tied] = min(left / tied.sum(), 1.0)
        left -= weight[tied].sum()
        if left <= 1e-12:
            break
    return weight


def in_words(index: float) -> str:
    """What an index D says of an item, by the scale of Ebel & Frisbie."""
    if not np.isfinite(index):
        return "not known"
    if round(index, 9) < 0.0:
        return "negative: check the key"
    return next(word for least, word in SCALE if round(index, 9) >= least)


def item_rest(scores: ArrayLike) -> np.ndarray:
    """Correlation of each item with the sum of the others; nan where one of the two does not vary."""
    table = _table(scores)
    rest = table.sum(axis=1, keepdims=True) - table
    a, b = table - table.mean(axis=0), rest - rest.mean(axis=0)
    spread = np.sqrt((a**2).sum(axis=0) * (b**2).sum(axis=0))
    flat = spread < 1e-12
    return np.where(flat, np.nan, (a * b).sum(axis=0) / np.where(flat, 1.0, spread))


def alpha(scores: ArrayLike) -> float:
    """Cronbach's alpha, k / (k - 1) (1 - sum of the items' variances / variance of the sums); nan where nothing varies."""
    table = _table(scores)
    learners, items = table.shape
    if learners < 2 or items < 2:
        return float("nan")
    whole = table.sum(axis=1).var(ddof=1)
    if whole < 1e-12:
        return float("nan")
    return float(items / (items - 1) * (1 - table.var(axis=0, ddof=1).sum() / whole))


def kr20(right: ArrayLike) -> float:
    """Kuder and Richardson's formula 20, for items that are right (1) or wrong (0).

    k / (k - 1) (1 - sum of p q / variance of the sums), p the share right and q the share wrong of an item.
    Raises ValueError for anything between.
    """
    table = _table(right)
    if not np.isin(table, (0.0, 1.0)).all():
        raise ValueError(
            "right must hold 0 and 1 only, got something between. Use alpha for shares of points."
        )
    learners, items = table.shape
    whole = table.sum(axis=1).var() if learners else 0.0
    if learners < 2 or items < 2 or whole < 1e-12:
        return float("nan")
    p = table.mean(axis=0)
    return float(items / (items - 1) * (1 - (p * (1 - p)).sum() / whole))


def reliability(scores: ArrayLike) -> Reliability:
    """Alpha with its interval (Feldt 1965) and with what makes it doubtful."""
    table = _table(scores)
    learners, items = table.shape
    value = alpha(table)
    warnings = tuple(_doubts(table, value))
    if not np.isfinite(value):
        return Reliability(value=value, low=float("nan"), high=float("nan"), warnings=warnings)
    one, two = learners - 1, (learners - 1) * (items - 1)
    edge = [f_distribution.ppf(q, one, two) for q in ((1 + LEVEL) / 2, (1 - LEVEL) / 2)]
    low, high = (1 - (1 - value) * q for q in edge)
    return Reliability(value=value, low=float(low), high=float(high), warnings=warnings)


def _doubts(table: np.ndarray, value: float) -> Iterator[str]:
    """What an honest person says before quoting a reliability."""
    learners, items = table.shape
    if learners < 2 or items < 2:
        yield f"It takes two learners and two items at least; here are {learners} and {items}."
        return
    if not np.isfinite(value):
        yield "Everybody has the same sum, so nothing tells them apart."
        return
    if learners < FEW_LEARNERS:
        yield f"Only {learners} learners: the interval is wide, and one of them can move the value."
    if items < FEW_ITEMS:
        yield f"Only {items} items: a longer test would be more reliable."
    if value < 0:
        yield "Below 0 the items do not measure one thing, or the key of one is wrong."
    flat = int((table.var(axis=0) < 1e-12).sum())
    if flat:
        yield f"{flat} of {items} items were the same for everybody and tell nobody apart."


def kappa(one: Sequence[int], two: Sequence[int]) -> float:
    """Cohen's kappa: how far two markers of the same work agree beyond chance; nan where chance alone would make them agree.

    Raises ValueError where they did not mark the same number.
    """
    if len(one) != len(two) or not len(one):
        raise ValueError(
            f"both must have marked the same work, got {len(one)} and {len(two)} marks. Match them first."
        )
    names = sorted({*one, *two})
    table = np.zeros((len(names), len(names)))
    for a, b in zip(one, two, strict=True):
        table[names.index(a), names.index(b)] += 1
    share = table / table.sum()
    seen, chance = np.trace(share), float(share.sum(axis=1) @ share.sum(axis=0))
    return float((seen - chance) / (1 - chance)) if chance < 1 - 1e-12 else float("nan")
