"""The odds against exact inference in a Bayesian network, where looks are discrete and a life speaks only for its equals.

Source: pgmpy, a library for Bayesian networks; variable elimination there shares no code with the odds.
"""

import itertools
import logging
import warnings

import numpy as np
import pytest
from extras import from_extra
from populations import EXACT, Trade, exact, inspection

from course_lib.diagnosis import next_inspection as advice_module
from course_lib.diagnosis.next_inspection import rank_inspections
from course_lib.diagnosis.odds import entropy_bits, odds
from course_lib.diagnosis.population import Findings, Population

CAUSES, STAGES, LOOKS, GRADES = 5, 3, 5, 2
CLOSE = 1e-9


@pytest.fixture(scope="module")
def library():
    """The network library; what it says about itself while it loads is not ours to judge."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        factors = from_extra("reference", "pgmpy.factors.discrete")
        inference = from_extra("reference", "pgmpy.inference")
        models = from_extra("reference", "pgmpy.models")
    logging.getLogger("pgmpy").setLevel(logging.ERROR)
    return models.DiscreteBayesianNetwork, factors.TabularCPD, inference.VariableElimination


@pytest.fixture(autouse=True)
def quiet():
    """Its own later warnings neither."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def drawn_table(rng, states, given=1):
    """A conditional table: columns sum to 1, nothing impossible."""
    return rng.dirichlet(np.ones(states), given).T * 0.98 + 0.02 / states


# ---------------------------------------------------------------------- cause, stage, and looks that follow from both
@pytest.fixture(scope="module")
def clinic(library):
    """(network engine, population with one life for every way things can be, weighted by its probability).

    The stage is hidden and each look but the first also depends on the one before, so that looks repeat each other.
    """
    network, cpd, eliminate = library
    rng = np.random.default_rng(11)
    prior, stage = drawn_table(rng, CAUSES), drawn_table(rng, STAGES, CAUSES)
    first = drawn_table(rng, GRADES, CAUSES * STAGES)
    later = [drawn_table(rng, GRADES, CAUSES * STAGES * GRADES) for _ in range(LOOKS - 1)]
    names = [f"look {i}" for i in range(LOOKS)]
    edges = [
        ("cause", "stage"),
        *((p, n) for n in names for p in ("cause", "stage")),
        *itertools.pairwise(names),
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = network(edges)
        model.add_cpds(
            cpd("cause", CAUSES, prior),
            cpd("stage", STAGES, stage, ["cause"], [CAUSES]),
            cpd(names[0], GRADES, first, ["cause", "stage"], [CAUSES, STAGES]),
            *(
                cpd(names[i + 1], GRADES, table, ["cause", "stage", names[i]], [CAUSES, STAGES, GRADES])
                for i, table in enumerate(later)
            ),
        )
        assert model.check_model()
        engine = eliminate(model)
    ways = np.array(list(itertools.product(range(CAUSES), range(STAGES), *[range(GRADES)] * LOOKS)))
    c, s, look = ways[:, 0], ways[:, 1], ways[:, 2:]
    weight = prior[c, 0] * stage[s, c] * first[look[:, 0], c * STAGES + s]
    for i, table in enumerate(later):
        weight = weight * table[look[:, i + 1], (c * STAGES + s) * GRADES + look[:, i]]
    population = exact(
        [f"cause {i}" for i in range(CAUSES)], c, {n: look[:, i] for i, n in enumerate(names)}, weight
    )
    return engine, population


def network_odds(engine, evidence):
    """Probabilities of the causes by variable elimination."""
    return engine.query(["cause"], evidence=evidence, show_progress=False).values


def test_odds_equal_variable_elimination(clinic, record_property):
    """Every set of looks with every outcome: 243 questions, the largest difference below 1e-9."""
    engine, population = clinic
    worst = 0.0
    for outcome in itertools.product((None, 0, 1), repeat=LOOKS):
        evidence = {f"look {i}": grade for i, grade in enumerate(outcome) if grade is not None}
        ours = odds(population, Findings(looks=evidence)).probability
        worst = max(worst, np.abs(ours - network_odds(engine, evidence)).max())
    record_property("largest difference from variable elimination", float(worst))
    assert worst < CLOSE


def test_expected_bits_equal_those_of_the_network(clinic, monkeypatch):
    """What a look will bring, before and after others: entropy of the cause now less its mean after each outcome."""
    engine, population = clinic
    monkeypatch.setattr(advice_module, "MOST_LIVES", len(population))
    monkeypatch.setattr(advice_module, "MOST_TRUTHS", len(population))
    offered = [inspection(name) for name in population.looks]
    for evidence in ({}, {"look 0": 1}, {"look 1": 0, "look 3": 1}):
        advised = rank_inspections(
            population, Findings(looks=evidence), offered, evidence, np.random.default_rng(0)
        )
        assert len(advised) == LOOKS - len(evidence)
        for each in advised:
            chance = engine.query([each.inspection], evidence=evidence, show_progress=False).values
            after = [
                entropy_bits(network_odds(engine, evidence | {each.inspection: g})) for g in range(GRADES)
            ]
            expected = entropy_bits(network_odds(engine, evidence)) - chance @ after
            assert each.bits == pytest.approx(expected, abs=1e-4)  # weighed in single precision


# ---------------------------------------------------------------------- a discretized copy of a population
def discretized(population, bands=3):
    """Every reading of a population as a grade by thirds."""
    edges = {k: np.quantile(v, np.arange(1, bands) / bands) for k, v in population.readings.items()}
    looks = {k: np.digitize(v, edges[k]) for k, v in population.readings.items()}
    return Population(
        causes=population.causes,
        cause=population.cause,
        weight=population.weight,
        severity=population.severity,
        miles=population.miles,
        readings={},
        sigma={},
        looks=looks,
        made_by={k: k for k in looks},
        sharpness=EXACT,
    )


def as_network(library, population):
    """The same population as a network: which life it is decides the cause and every look."""
    network, cpd, eliminate = library
    lives = len(population)
    model = network([("life", "cause"), *(("life", name) for name in population.looks)])

    def certain(grades, states):
        return (np.arange(states)[:, None] == grades).astype(float)

    model.add_cpds(
        cpd("life", lives, (population.weight / population.weight.sum())[:, None]),
        cpd(
            "cause",
            len(population.causes),
            certain(population.cause, len(population.causes)),
            ["life"],
            [lives],
        ),
        *(cpd(name, 3, certain(grade, 3), ["life"], [lives]) for name, grade in population.looks.items()),
    )
    return eliminate(model)


def test_discretized_copy_gives_the_same_odds(library, record_property):
    """Forty lives asked about after one to six gauges."""
    rng = np.random.default_rng(2)
    made = Trade(rng, readings=12)
    population = discretized(made.lives(rng, 40))
    engine, worst = as_network(library, population), 0.0
    for life in rng.choice(len(population), 40, replace=False):
        keys = rng.permutation(list(population.looks))[: rng.integers(1, 7)]
        found = population.findings(int(life)).keep(set(keys.tolist()))
        ours = odds(population, found).probability
        worst = max(worst, np.abs(ours - network_odds(engine, found.looks)).max())
    record_property("largest difference from variable elimination", float(worst))
    assert worst < CLOSE
