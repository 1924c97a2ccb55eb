"""What a vehicle with a suspected cause would have shown, beside what was found, and the finding that speaks most against it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from course_lib.differential.metric import CAN_READ, metric_of
from course_lib.differential.odds import log_kernel, normalized, odds
from course_lib.differential.population import Findings, Population
from course_lib.vocabulary import one_of

SPEAKS_AGAINST = 3.0  # spreads past which a finding speaks against a suspect


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

    @property
    def strongest(self) -> Comparison:
        """The one finding that speaks most against the suspect."""
        return self.rows[0]

    @property
    def kills(self) -> bool:
        """Whether that finding alone speaks clearly against it."""
        return self.strongest.gap >= SPEAKS_AGAINST


def contradiction(population: Population, findings: Findings, cause: str) -> Contradiction:
    """Set `cause` against everything found: its lives weighted by how well they fit, so that its severity is the likeliest.

    Here each finding speaks for itself and an odd one is forgiven, so that the one that kills does not bend the fit.

    Raises ValueError for an unknown cause, or when nothing was found yet.
    """
    one_of("cause", cause, population.causes)
    if not len(findings):
        raise ValueError("findings must hold at least one, got none. Make an inspection first.")
    if not (population.cause == population.causes.index(cause)).any():
        raise ValueError(
            f"cause must be one that the population has lived, got {cause}. Build a larger population."
        )
    now = odds(population, findings)
    weight = _fitted(population, findings, cause)
    rows = (
        *_numbers(population, findings, weight, now.lives),
        *_objects(population, findings, cause, now.probability),
    )
    return Contradiction(
        cause=cause,
        severity=float(weight @ population.severity),
        miles=float(weight @ population.miles),
        rows=tuple(sorted(rows, key=lambda row: -row.edge)),
    )


def _fitted(population: Population, findings: Findings, cause: str) -> np.ndarray:
    """(L,) weight of the lives of `cause`, sum 1, by all readings and looks, one by one."""
    metric = metric_of(population)
    columns, values = metric.place(findings)
    gap = (values - metric.x[:, columns]) ** 2 / np.diag(metric.covariance)[columns]
    rows = np.flatnonzero(population.cause == population.causes.index(cause))
    weight = np.zeros(len(population))
    likeness = log_kernel(gap[rows], 1, population.sharpness).sum(-1)
    weight[rows] = normalized(np.log(population.weight[rows]) + likeness)
    return weight


def _numbers(
    population: Population, findings: Findings, weight: np.ndarray, fit: np.ndarray
) -> list[Comparison]:
    """Readings and looks."""
    metric = metric_of(population)
    columns, values = metric.place(findings)
    own = np.diag(metric.covariance)[columns]
    gap = _gaps(metric.x[:, columns], values, own, weight)
    edge = gap**2 - _gaps(metric.x[:, columns], values, own, fit) ** 2
    place = {metric.names[column]: i for i, column in enumerate(columns)}
    rows = []
    for key, read in {**findings.readings, **findings.looks}.items():
        i = max(
            (place[n] for n in (key, CAN_READ + key) if n in place), key=lambda i: abs(edge[i]), default=None
        )
        if i is not None:
            predicted, spread = _predicted(population, key, weight)
            kind = "reading" if key in findings.readings else "look"
            rows.append(
                Comparison(
                    key=key,
                    kind=kind,
                    read=float(read),
                    predicted=predicted,
                    spread=spread,
                    gap=float(gap[i]),
                    edge=float(edge[i]),
                )
            )
    return rows


def _gaps(x: np.ndarray, values: np.ndarray, own: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Distance of `values` (p,) from the weighted mean of the lives' `x` (L, p), in standard deviations of such vehicles."""
    mean = weight @ x
    return np.abs(values - mean) / np.sqrt(weight @ (x - mean) ** 2 + own)


def _predicted(population: Population, key: str, weight: np.ndarray) -> tuple[float, float]:
    """(mean, standard deviation) in the unit of the finding; NaN where most such lives cannot be read."""
    value = population.readings[key] if key in population.readings else population.looks[key].astype(float)
    there = np.where(np.isfinite(value), weight, 0.0)
    if there.sum() < 0.5:
        return np.nan, np.nan
    value, there = np.where(np.isfinite(value), value, 0.0), there / there.sum()
    mean = float(there @ value)
    return mean, float(np.sqrt(there @ (value - mean) ** 2 + population.sigma.get(key, 0.0) ** 2))


def _objects(population: Population, findings: Findings, cause: str, probability) -> list[Comparison]:
    """Things that lie about; surprise turned into spreads so that it stands beside the readings."""
    metric, rows = metric_of(population), []
    for key, there in findings.objects.items():
        share = metric.share[:, metric.objects.index(key)]
        chance = share if there else 1.0 - share
        own = float(share[population.causes.index(cause)])
        squared = -2.0 * np.log([chance[population.causes.index(cause)], probability @ chance])
        rows.append(
            Comparison(
                key=key,
                kind="object",
                read=float(there),
                predicted=own,
                spread=float(np.sqrt(own * (1.0 - own))),
                gap=float(np.sqrt(squared[0])),
                edge=float(squared[0] - squared[1]),
            )
        )
    return rows


def sentence(against: Contradiction, suspect: str, label: str, show: Callable[[float], str]) -> str:
    """The strongest contradiction in one sentence, naming no other cause.

    suspect: its label within a sentence; label: what was looked at, within a sentence; show: number, grade or 1/0 of the
    finding in words with its unit, NaN = could not be read.
    """
    row = against.strongest
    if row.kind == "object":
        expected = (
            "would most likely be there; it was not found"
            if row.read < 0.5
            else "would hardly be there; it was found"
        )
        return f"If it were {suspect}, {label} {expected}."
    if not np.isfinite(row.predicted):
        return f"If it were {suspect}, {label} could not be read; you read {show(row.read)}."
    near = "stand near" if row.kind == "reading" else "be"
    predicted = row.predicted if row.kind == "reading" else round(row.predicted)
    found = f"you read {show(row.read)}" if row.kind == "reading" else f"you found {show(row.read)}"
    found = found if np.isfinite(row.read) else "it could not be read"
    return f"If it were {suspect}, {label} would {near} {show(predicted)}; {found}."
