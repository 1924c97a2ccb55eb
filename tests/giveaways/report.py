"""How much what is told and lies about gives away: ``python -m tests.giveaways.report --cases 300``.

Fresh cases, causes by weight and not filtered by their certificates, are handed to the odds with more and more findings. Each
figure stands beside its floor: the same findings without things and history. Printed too: the sentences that one cause alone
makes likely.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from course_lib.authoring.fairness_survey import in_terms_of
from course_lib.cases.make import as_case
from course_lib.diagnosis.key_entries import BAR
from course_lib.diagnosis.lived_populations import population_of, population_of_pasts
from course_lib.diagnosis.odds import odds
from course_lib.diagnosis.population import Findings, Population
from course_lib.faults.causes import all_causes
from course_lib.faults.clues import HistoryClue, all_clues
from course_lib.faults.repair import Past
from course_lib.faults.scenario import Request, draw_scenario, find_pasts
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import OPENS, all_inspections

from .plain_sense import broken_rules

SEED = 910_000
VEHICLES = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"))
AT_ONCE = 96
TOLD = tuple(name for name, clue in all_clues().items() if isinstance(clue, HistoryClue))
OUTSIDE = tuple(each.id for each in all_inspections().values() if each.openness < OPENS)
# What is known: inspections, and whether things lying about and history count.
KNOWN: dict[str, tuple[tuple[str, ...], bool, bool]] = {
    "counter": ((), False, False),
    "interview": (("interview",), False, False),
    "interview, history": (("interview",), False, True),
    "interview, walk round": (("interview", "walk_round"), False, False),
    "interview, walk round, things, history": (("interview", "walk_round"), True, True),
    "all outside": (OUTSIDE, False, False),
    "all outside, things, history": (OUTSIDE, True, True),
    "everything": (tuple(all_inspections()), False, False),
    "everything, things, history": (tuple(all_inspections()), True, True),
}
ALONE = "things and history alone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """Share of cases in which the true cause leads, and in which it leads by the bar."""

    leads: float
    surely: float


def pasts(cases: int, seed: int = SEED) -> dict[VehicleKind, list[Past]]:
    """So many fresh vehicles, by kind; those that cannot be made are left out."""
    turns = [VEHICLES[i % len(VEHICLES)] for i in range(cases)]
    wanted = [Request(seed=seed + i, unit=unit, signal=signal) for i, (unit, signal) in enumerate(turns)]
    kinds: dict[VehicleKind, list[Request]] = {}
    for request in wanted:
        kinds.setdefault(draw_scenario(request, np.random.default_rng(request.seed)).kind, []).append(request)
    found: dict[VehicleKind, list[Past]] = {}
    for kind, mine in kinds.items():
        for at in range(0, len(mine), AT_ONCE):
            some = mine[at : at + AT_ONCE]
            made = find_pasts(some, [np.random.default_rng(request.seed) for request in some])
            found.setdefault(kind, []).extend(past for past in made if isinstance(past, Past))
    return found


def measured(found: dict[VehicleKind, list[Past]], seed: int = SEED) -> dict[str, Named]:
    """What the odds name when this and that is known; see KNOWN."""
    rng, ratios = np.random.default_rng(seed), {name: list[float]() for name in (*KNOWN, ALONE)}
    for kind, mine in found.items():
        if not mine:
            continue
        population, fresh = population_of(kind), population_of_pasts(mine)
        for life, past in enumerate(mine):
            everything = in_terms_of(population, fresh.findings(life, rng))
            for name in ratios:
                some = everything.keep(_keys(population, name))
                ratios[name].append(_ratio(population, some, past.causes[0].id))
    return {
        name: Named(leads=np.mean(np.array(r) > 1.0).item(), surely=np.mean(np.array(r) >= BAR).item())
        for name, r in ratios.items()
    }


def _keys(population: Population, name: str) -> set[str]:
    """Keys and ids of what is known."""
    told = {key for key in population.objects if key in TOLD}
    if name == ALONE:
        return set(population.objects)
    inspections, things, history = KNOWN[name]
    keys = population.keys_of(inspections)
    keys -= set() if things else set(population.objects) - told
    return keys - (set() if history else told)


def _ratio(population: Population, findings: Findings, cause: str) -> float:
    """Odds of `cause` to the best other one."""
    chance = dict(odds(population, findings).table())
    own = chance.pop(cause)
    return own / max(max(chance.values()), 1e-12)


def sole_sentences() -> list[str]:
    """Ids of the things and lines that one cause alone makes likelier."""
    left = {
        name: [c.id for c in all_causes().values() if clue.share(c)] for name, clue in all_clues().items()
    }
    return [name for name, causes in left.items() if len(causes) == 1]


def sense_broken(found: dict[VehicleKind, list[Past]]) -> int:
    """Number of cases in which something said contradicts the life; see `plain_sense`."""
    every = [past for mine in found.values() for past in mine]
    cases = [as_case(f"sense-{i}", i, past, np.random.default_rng(i)) for i, past in enumerate(every)]
    wrong = [broken_rules(case, past) for case, past in zip(cases, every, strict=True)]
    for each in filter(None, wrong):
        print("; ".join(each))
    return sum(map(bool, wrong))


def report(named: dict[str, Named], cases: int) -> str:
    """The table, each figure beside its floor."""
    lines = [f"{cases} cases{'':36}leads   {BAR:g}:1"]
    lines += [f"{name:42s} {each.leads:6.3f} {each.surely:6.3f}" for name, each in named.items()]
    return "\n".join([*lines, f"sole sentences: {len(sole_sentences())}: {', '.join(sole_sentences())}"])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.giveaways.report", description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument(
        "--rules", action="store_true", help="also hold what is said of them against their lives"
    )
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    found = pasts(given.cases, given.seed)
    if given.rules:
        print(f"cases that break a rule of plain sense: {sense_broken(found)}")
    print(report(measured(found, given.seed), sum(map(len, found.values()))))


if __name__ == "__main__":
    main()
