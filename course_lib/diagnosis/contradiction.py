"""What a vehicle with a suspected cause would have shown, beside what was found, and the finding that speaks most against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.guards import one_of
from course_lib.diagnosis.metric import CAN_READ, metric_of
from course_lib.diagnosis.odds import log_kernel, normalized, odds
from course_lib.diagnosis.population import Findings, Population


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One finding beside what the suspect predicts.

    kind: "reading", "look" or "object". read: number, grade, or whether it lies about; NaN = could not be read. predicted:
    the same for lives of the suspect (an object: its probability); NaN = those lives cannot be read there. spread: one
    standard deviation of such vehicles, instrument included. gap: distance in spreads; edge: how much farther off, in squared
    spreads, than for lives of any cause that fit.
    """

    key: str
    kind: str
    read: float
    predicted: float
    spread: float
    gap: float
    edge: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """A suspect, fitted as well as it can be. severity 0 to 1 and miles since onset of the lives that fit best; rows: every
    finding, strongest against it first."""

    cause: str
    severity: float
    miles: float
    rows: tuple[Comparison, ...]


def contradiction(population: Population, findings: Findings, cause: str) -> Contradiction:
    """Set `cause` against everything found: its lives weighted by how well they fit, so that its severity is the likeliest.

    Here each finding speaks for itself and an odd one is forgiven, so that the one that kills does not bend the fit.

    Raises ValueError for an unknown cause, or when nothing was found yet.
    """
    return contradictions(population, findings, [cause])[cause]


def contradictions(
    population: Population, findings: Findings, causes: Sequence[str]
) -> dict[str, Contradiction]:
    """`contradiction` for several suspects: what was found and what fits it is looked up once."""
    if not len(findings):
        raise ValueError("findings must hold at least one, got none. Make an inspection first.")
    read = _Read.of(population, findings)
    return {cause: _against(population, findings, read, cause) for cause in causes}


def _against(population: Population, findings: Findings, read: _Read, cause: str) -> Contradiction:
    one_of("cause", cause, population.causes)
    lives = np.flatnonzero(population.cause == population.causes.index(cause))
    if not len(lives):
        raise ValueError(
            f"cause must be one that the population has lived, got {cause}. Build a larger population."
        )
    weight = _fitted(population, read, lives)
    rows = (
        *_numbers(findings, read, lives, weight),
        *_objects(population, findings, read, cause),
    )
    return Contradiction(
        cause=cause,
        severity=float(weight @ population.severity[lives]),
        miles=float(weight @ population.miles[lives]),
        rows=tuple(sorted(rows, key=lambda row: -row.edge)),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Read:
    """What was found, in the columns of the metric, p of them. x (L, p), values (p,), own (p,): spread that is a vehicle's own,
    squared; fit (p,): distance of the values from the lives of any cause that fit; keys of the k readings and looks with a
    column, first and last (k,): the columns of each; own_values (L, k) in their own units, error (k,); of the o objects: share
    (C, o) of how often each lies about, surprise (C, o) at what was found of them, and common (o,), that of what fits."""

    x: np.ndarray
    values: np.ndarray
    own: np.ndarray
    fit: np.ndarray
    keys: tuple[str, ...]
    first: np.ndarray
    last: np.ndarray
    own_values: np.ndarray
    error: np.ndarray
    share: np.ndarray
    surprise: np.ndarray
    common: np.ndarray

    @classmethod
    def of(cls, population: Population, findings: Findings) -> _Read:
        """The findings beside the whole population."""
        metric, now = metric_of(population), odds(population, findings)
        columns, values = metric.place(findings)
        x, own = metric.x[:, columns], np.diag(metric.covariance)[columns]
        places: dict[str, list[int]] = {}
        for i, column in enumerate(columns):
            places.setdefault(metric.names[column].removeprefix(CAN_READ), []).append(i)
        keys = tuple(key for key in (*findings.readings, *findings.looks) if key in places)
        own_values, error = _natural(population, keys)
        there = np.array(list(findings.objects.values()), bool)
        share = metric.share[:, [metric.objects.index(key) for key in findings.objects]]
        chance = np.where(there, share, 1.0 - share)
        return cls(
            x=x,
            values=values,
            own=own,
            fit=_gaps(x, values, own, now.lives),
            keys=keys,
            first=np.array([places[key][0] for key in keys], int),
            last=np.array([places[key][-1] for key in keys], int),
            own_values=own_values,
            error=error,
            share=share,
            surprise=-2.0 * np.log(chance),
            common=-2.0 * np.log(now.probability @ chance),
        )


def _fitted(population: Population, read: _Read, lives: np.ndarray) -> np.ndarray:
    """(len(lives),) weight of some lives, sum 1, by all readings and looks, one by one."""
    gap = (read.values - read.x[lives]) ** 2 / read.own
    likeness = log_kernel(gap, 1, population.sharpness).sum(-1)
    return normalized(np.log(population.weight[lives]) + likeness)


def _numbers(findings: Findings, read: _Read, lives: np.ndarray, weight: np.ndarray) -> list[Comparison]:
    """Readings and looks that stand apart from what the lives of a suspect show, or from what those that fit do."""
    gap = _gaps(read.x[lives], read.values, read.own, weight)
    edge = gap**2 - read.fit**2
    column = np.where(np.abs(edge[read.last]) > np.abs(edge[read.first]), read.last, read.first)
    given = {**findings.readings, **findings.looks}
    columns = (*_predicted(read, lives, weight), gap[column], edge[column])
    return [
        Comparison(
            key=key,
            kind="reading" if key in findings.readings else "look",
            read=float(given[key]),
            predicted=predicted,
            spread=spread,
            gap=apart,
            edge=more,
        )
        for key, predicted, spread, apart, more in zip(read.keys, *(c.tolist() for c in columns), strict=True)
    ]


def _gaps(x: np.ndarray, values: np.ndarray, own: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Distance of `values` (p,) from the weighted mean of the lives' `x` (L, p), in standard deviations of such vehicles."""
    mean = weight @ x
    gaps: np.ndarray = np.abs(values - mean) / np.sqrt(weight @ (x - mean) ** 2 + own)
    return gaps


def _predicted(read: _Read, lives: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(mean, standard deviation) by key, in the unit of the finding; NaN where most such lives cannot be read."""
    value = read.own_values[lives]
    there = np.where(np.isfinite(value), weight[:, None], 0.0)
    share = there.sum(0)
    share = np.where(share < 0.5, np.nan, share)
    value = np.where(there > 0.0, value, 0.0)
    mean = (there * value).sum(0) / share
    spread = np.sqrt((there * (value - mean) ** 2).sum(0) / share + read.error**2)
    return mean, spread


def _natural(population: Population, keys: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Values (L, k) of some readings and looks in their own units, and their errors (k,)."""
    columns = [
        population.readings[key] if key in population.readings else population.looks[key] for key in keys
    ]
    values = np.array(columns, float).reshape(len(keys), len(population)).T
    return values, np.array([population.sigma.get(key, 0.0) for key in keys])


def _objects(population: Population, findings: Findings, read: _Read, cause: str) -> list[Comparison]:
    """Things that lie about; surprise turned into spreads so that it stands beside the readings."""
    row = population.causes.index(cause)
    own, surprise = read.share[row], read.surprise[row]
    columns = (own, np.sqrt(own * (1.0 - own)), np.sqrt(surprise), surprise - read.common)
    return [
        Comparison(
            key=key, kind="object", read=float(there), predicted=share, spread=spread, gap=gap, edge=edge
        )
        for (key, there), share, spread, gap, edge in zip(
            findings.objects.items(), *(c.tolist() for c in columns), strict=True
        )
    ]
