"""Is a case fair? What an ideal diagnostician would do, how long that takes, and whether the cause can be told at all."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.guards import one_of
from course_lib.diagnosis.key_entries import BAR, Certificate, PartPath
from course_lib.diagnosis.next_inspection import rank_inspections
from course_lib.diagnosis.odds import Odds, odds
from course_lib.diagnosis.population import Findings, Population
from course_lib.faults.visible_damage import damaged_views
from course_lib.shop.findings import Finding, Inspection, offered_inspections
from course_lib.shop.order import steps_to
from course_lib.vehicle.unit_spec import UnitSpec

Allowed = Callable[[str, Collection[str]], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealStep:
    """One inspection on the ideal path. minutes it takes; leader and its odds to the runner-up after it."""

    inspection: str
    minutes: int
    openness: int
    leader: str
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IdealPath:
    """The ideal path. named: the cause it ends at; settled: whether at the bar; twin: of the causes still within the
    bar before the last step, the one that stands closest after it."""

    steps: tuple[IdealStep, ...]
    named: str
    settled: bool
    twin: str

    @property
    def minutes(self) -> int:
        """Minutes of all steps."""
        return sum(step.minutes for step in self.steps)

    @property
    def deciding(self) -> str:
        """The inspection that decided; empty when the complaint did."""
        return self.steps[-1].inspection if self.steps else ""

    @property
    def openness(self) -> int:
        """How far the vehicle was opened."""
        return max((step.openness for step in self.steps), default=1)


def ideal_path(
    population: Population,
    findings: Findings,
    offered: Sequence[Inspection],
    rng: np.random.Generator,
    *,
    bar: float = BAR,
    allowed: Allowed | None = None,
    until: str = "",
) -> IdealPath:
    """Follow the advice from the complaint on until the leader stands at `bar`, or nothing is left to inspect.

    findings: everything that all inspections of the case give. allowed(inspection, made): whether it may be made now. until: the
    cause that must stand there; "" for whichever gets there first.
    """
    table = {each.id: each for each in offered}
    steps: list[IdealStep] = []
    before = now = odds(population, findings.keep(population.keys_of(())))
    while now.ratio < bar or (until and now.leader != until):
        made = [step.inspection for step in steps]
        choice = _next(population, findings.keep(population.keys_of(made)), offered, made, rng, allowed)
        if choice is None:
            break
        before, now = now, odds(population, findings.keep(population.keys_of([*made, choice])))
        minutes, openness = table[choice].minutes, table[choice].openness
        steps.append(
            IdealStep(
                inspection=choice, minutes=minutes, openness=openness, leader=now.leader, ratio=now.ratio
            )
        )
    return IdealPath(
        steps=tuple(steps), named=now.leader, settled=now.ratio >= bar, twin=_twin(before, now, bar)
    )


def _next(
    population: Population,
    found: Findings,
    offered: Sequence[Inspection],
    made: Collection[str],
    rng: np.random.Generator,
    allowed: Allowed | None,
) -> str | None:
    """The first step of the best advice that may be taken."""
    for each in rank_inspections(population, found, offered, made, rng):
        if allowed is None or allowed(each.steps[0], made):
            return each.steps[0]
    return None


def _twin(before: Odds, now: Odds, bar: float) -> str:
    """The cause that the last step had most trouble to exclude."""
    leader = int(now.order[0])
    rivals = [i for i in range(len(now.causes)) if i != leader]
    late = [i for i in rivals if before.probability[i] * bar >= before.probability.max()]
    return max(((float(now.likeness[i]), now.causes[i]) for i in late or rivals), default=(0.0, ""))[1]


def _best_other(now: Odds, cause: str) -> str:
    """The likeliest cause but one."""
    return next((name for name, _ in now.table() if name != cause), "")


def certify(
    population: Population,
    findings: Findings,
    cause: str,
    offered: Sequence[Inspection],
    rng: np.random.Generator,
    *,
    allowed: Allowed | None = None,
    to_the_end: bool = False,
) -> Certificate:
    """The certificate of a case with the true `cause`, from everything that its inspections give.

    offered: its inspections; allowed: as for `ideal_path`; to_the_end: go on past a wrong leader. Raises ValueError for a cause
    that the population does not have.
    """
    one_of("cause", cause, population.causes)
    everything = odds(population, findings)
    chance, rival = dict(everything.table()), _best_other(everything, cause)
    ratio = chance[cause] / chance[rival] if rival and chance[rival] > 0.0 else np.inf
    until = cause if to_the_end else ""
    path = ideal_path(population, findings, offered, rng, allowed=allowed, until=until)
    return Certificate(
        minutes=path.minutes,
        deciding=path.deciding,
        twin=path.twin if path.named == cause else path.named,
        openness=path.openness,
        named=path.named,
        settled=path.settled,
        ratio_with_all=float(ratio),
        certified=bool(ratio >= BAR),
        reason="" if ratio >= BAR else _refusal(cause, rival, float(ratio)),
    )


def part_path(
    parts: Sequence[str], findings: dict[str, Finding], unit: UnitSpec, signal: str
) -> PartPath | None:
    """How the first of the parts that must be named is seen, and how long it takes to see all; None where none is shown."""
    bad = damaged_views(findings, unit, signal)
    wanted = [part for part in parts if part in bad]
    if not wanted:
        return None
    table = offered_inspections(findings)
    ways = {key: steps_to(_place(key, findings), table, ()) for part in wanted for key in bad[part]}
    minutes = {key: sum(table[step].minutes for step in way) for key, way in ways.items()}
    least = {part: min(bad[part], key=lambda key: _work(part, key, bad, minutes)) for part in wanted}
    view = least[wanted[0]]
    made = set().union(*(ways[key] for key in least.values()))
    return PartPath(
        view=view,
        deciding=_place(view, findings),
        twin=next((part for part in bad if part != wanted[0] and view in bad[part]), ""),
        minutes=sum(table[name].minutes for name in made),
    )


def _work(
    part: str, key: str, bad: dict[str, dict[str, int]], minutes: dict[str, int]
) -> tuple[int, bool, int]:
    """How well a view tells a part: less is better. Broken before worn, of the part alone before shared, then minutes."""
    shared = any(key in views for other, views in bad.items() if other != part)
    return -bad[part][key], shared, minutes[key]


def _place(key: str, findings: dict[str, Finding]) -> str:
    """The inspection with the fewest minutes that gives a look or a reading."""
    there = [f for f in findings.values() if key in {*(x.key for x in f.looks), *(x.key for x in f.readings)}]
    return min(there, key=lambda finding: finding.minutes).inspection


def _refusal(cause: str, rival: str, ratio: float) -> str:
    return (
        f"cause {cause} must lead {rival} by {BAR:g} to 1 after every inspection, got {ratio:.2g} to 1. "
        "Ask for another seed, stage or cause."
    )
