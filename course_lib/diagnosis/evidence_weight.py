"""What each finding of a case is worth against each wrong cause, kept with the key so that marking needs no lives to compare with.

Weights are whole decibans, ten times the common logarithm of a likelihood ratio: 10 is ten to one, 13 is twenty to one. What is
left over is cut off, so that nothing counts for more than it is.
Source of the unit: I. J. Good, Probability and the Weighing of Evidence (1950), chapter 6, from memory.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from course_lib.diagnosis.key_entries import EvidenceWeights
from course_lib.diagnosis.metric import CAN_READ, metric_of
from course_lib.diagnosis.odds import odds
from course_lib.diagnosis.population import COMPLAINT, Findings, Population
from course_lib.shop.findings import all_inspections
from course_lib.shop.interview import TALK

MOST = 60  # decibans one finding can count, a million to one: no instrument and no look is surer than that
ODD = 0.02  # chance that a finding is odd: something else than the cause made it so (calibrated by nothing; common practice)
LEAST = 1e-12
LOOK_ALIKES = 6  # causes that fit best


def weigh_evidence(
    population: Population, found: Findings, true: Collection[str], wrong: Collection[str]
) -> EvidenceWeights:
    """The worth of everything `found` on a vehicle, each finding by itself: how much better it goes with the `true` causes
    than with each `wrong` one, whatever their severity."""
    columns: dict[str, np.ndarray] = {}
    for key, like in (_numbers(population, found) | _objects(population, found)).items():
        best = max(like[population.causes.index(cause)] for cause in true)
        speaks = best - like[[population.causes.index(cause) for cause in wrong]]
        name = _id(population, found, key)
        columns[name] = np.maximum(
            columns.get(name, speaks), speaks
        )  # of all that was noticed, what says most
    rows = {name: tuple(int(x) for x in columns[name].clip(-MOST, MOST)) for name in sorted(columns)}
    return EvidenceWeights(
        causes=tuple(wrong), look_alikes=_look_alikes(population, found, wrong), findings=rows
    )


def _look_alikes(population: Population, found: Findings, wrong: Collection[str]) -> tuple[str, ...]:
    """The wrong causes that fit the complaint best, then those that fit best what is heard, seen and driven at first."""
    first = [name for name, inspection in all_inspections().items() if inspection.first_round]
    nearest: list[str] = []
    for made in ((), first):
        told = dict(odds(population, found.keep(population.keys_of(made))).table())
        nearest += sorted(wrong, key=lambda cause: -told[cause])[:LOOK_ALIKES]
    return tuple(dict.fromkeys(nearest))


def _numbers(population: Population, found: Findings) -> dict[str, np.ndarray]:
    """Key of each reading and look -> decibans (C,) of its likelihood: lives of the cause, each with the spread of a vehicle
    and the instrument, and with a small chance anything that vehicles show."""
    metric = metric_of(population)
    columns, values = metric.place(found)
    own = np.diag(metric.covariance)[columns]
    near = np.exp(-0.5 * (values - metric.x[:, columns]) ** 2 / own) + LEAST
    of = (population.cause == np.arange(len(population.causes))[:, None]) * population.weight
    share = of / np.maximum(of.sum(-1, keepdims=True), LEAST)
    any_ = population.weight @ near / population.weight.sum()
    like = 10.0 * np.log10((1.0 - ODD) * (share @ near) + ODD * any_)
    rows: dict[str, np.ndarray] = {}
    for i, column in enumerate(columns):
        key = metric.names[column].removeprefix(CAN_READ)
        rows[key] = rows.get(key, 0.0) + like[:, i]
    return rows


def _objects(population: Population, found: Findings) -> dict[str, np.ndarray]:
    """Id of each thing looked for -> decibans (C,) of its lying there, or of its not lying there."""
    metric = metric_of(population)
    share = {key: metric.share[:, metric.objects.index(key)] for key in found.objects}
    return {
        key: 10.0 * np.log10(share[key] if there else 1.0 - share[key])
        for key, there in found.objects.items()
    }


def _id(population: Population, found: Findings, key: str) -> str:
    """The id under which a learner can name it: a reading by its key, all that was noticed by its inspection."""
    if key in found.readings:
        return key
    made_by = population.made_by[key]
    return TALK if made_by == COMPLAINT else made_by
