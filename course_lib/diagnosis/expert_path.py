"""The path an ideal diagnostician takes through one case: each step, what else could have been done, and what it settled.

Everything comes from the lives the case is compared with; no step and no reason is typed per case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.diagnosis.fairness import rows_against
from course_lib.diagnosis.key_entries import BAR, EvidenceAgainst
from course_lib.diagnosis.lived_populations import findings_of, population_of
from course_lib.diagnosis.next_inspection import RankedInspection, rank_inspections
from course_lib.diagnosis.odds import Odds, odds
from course_lib.diagnosis.population import Findings, Population
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import Finding, Inspection, offered_inspections
from course_lib.shop.order import in_order, steps_to

MOST_PROOFS = 2  # inspections made for proof once the cause is clear, the first ones from outside
COUNTS = 0.02  # probability from which a cause is still spoken of
MOST_REMOVED = 3  # suspects whose end is told at one step


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpertStep:
    """One inspection on the path. offered: what could have been done instead, the best advice first; share: of the doubt
    about the cause that each of them would settle, expected; removed: suspects that fell, with what speaks against each;
    standing: (cause, probability) of those left, likeliest first."""

    inspection: str
    offered: tuple[RankedInspection, ...]
    doubt: float
    removed: tuple[tuple[str, EvidenceAgainst | None], ...]
    standing: tuple[tuple[str, float], ...]

    def share(self, inspection: str) -> float:
        """Of the doubt there is before this step, what an inspection is expected to settle, 0 to 1."""
        bits = {each.inspection: each.bits for each in self.offered}
        return float(np.clip(bits.get(inspection, 0.0) / max(self.doubt, 1e-9), 0.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpertPath:
    """The steps in order; twin: the suspect that was hardest to exclude, and what speaks against it in the end."""

    steps: tuple[ExpertStep, ...]
    twin: str
    against_twin: tuple[EvidenceAgainst, ...]

    @property
    def deciding(self) -> str:
        """The inspection after which one cause was left."""
        return self.steps[-1].inspection


def expert_path(
    findings: dict[str, Finding], kind: VehicleKind, cause: str, rng: np.random.Generator
) -> ExpertPath:
    """The path through a case with these `findings`, by inspection, to its true `cause`.

    Talk, look and drive come first. Then each step is the one that is expected to settle most in a minute, until the cause leads
    by the bar. The last ones are made for proof: they read what is wrong, so that the same reading can be taken after the repair.
    """
    path = _PathSoFar(findings, kind, rng)
    for each in path.offered:
        if each.first_round:
            path.take(each.id)
    while (path.now.ratio < BAR or path.now.leader != cause) and (best := path.best()):
        path.take(best)
    twin = path.twin(cause)
    for step in path.proofs(twin):
        path.take(step)
    rows = rows_against(path.population, path.found(), path.findings, twin)
    return ExpertPath(steps=tuple(path.steps), twin=twin, against_twin=rows)


class _PathSoFar:
    """Where the path has come to."""

    def __init__(self, findings: dict[str, Finding], kind: VehicleKind, rng: np.random.Generator) -> None:
        self.findings, self.rng = findings, rng
        self.population: Population = population_of(kind)
        self.everything = findings_of(self.population, list(findings.values()))
        self.offered: Sequence[Inspection] = list(offered_inspections(findings).values())
        self.steps: list[ExpertStep] = []
        self.now: Odds = odds(self.population, self.found())
        self.before = self.now

    @property
    def made(self) -> list[str]:
        """Inspections so far."""
        return [step.inspection for step in self.steps]

    def found(self) -> Findings:
        """What they have found."""
        return self.everything.keep(self.population.keys_of(self.made))

    def advised(self) -> list[RankedInspection]:
        """What may be done now, best first; a step that needs another is stood for by that one."""
        table = {each.id: each for each in self.offered}
        ranked = rank_inspections(self.population, self.found(), self.offered, self.made, self.rng)
        first: dict[str, RankedInspection] = {}
        for each in ranked:
            step = steps_to(each.inspection, table, self.made)[0]
            if in_order(step, self.made):
                alone = RankedInspection(
                    inspection=step, bits=each.bits, minutes=table[step].minutes, steps=(step,)
                )
                first.setdefault(step, alone)
        return list(first.values())

    def best(self) -> str | None:
        """The next step of the best advice; None when nothing is left to do."""
        return next((each.inspection for each in self.advised()), None)

    def take(self, inspection: str) -> None:
        """Make one inspection and note what it settled."""
        offered, doubt = tuple(self.advised()), self.now.bits
        self.before = self.now
        made = [*self.made, inspection]
        found = self.everything.keep(self.population.keys_of(made))
        self.now = odds(self.population, found)
        self.steps.append(
            ExpertStep(
                inspection=inspection,
                offered=offered,
                doubt=doubt,
                removed=self._removed(found, inspection),
                standing=tuple(each for each in self.now.table() if each[1] >= COUNTS),
            )
        )

    def _removed(self, found: Findings, inspection: str) -> tuple[tuple[str, EvidenceAgainst | None], ...]:
        """Suspects that this step took off the list, likeliest first, each with what it showed against them."""
        now = dict(self.now.table())
        fallen = [name for name, p in self.before.table() if p >= COUNTS > now[name]]
        told = []
        for name in fallen[:MOST_REMOVED]:
            rows = rows_against(self.population, found, self.findings, name)
            told.append(
                (name, next((row for row in _numbers_first(rows) if row.inspection == inspection), None))
            )
        return tuple(told)

    def twin(self, cause: str) -> str:
        """The suspect that stood longest, the one that was likeliest when it still counted."""
        stood = {
            name: (i, p) for i, step in enumerate(self.steps) for name, p in step.standing if name != cause
        }
        others = (name for name, _ in self.before.table() if name != cause)
        return max(stood, key=lambda name: stood[name], default=next(others))

    def proofs(self, twin: str) -> list[str]:
        """What is still made for proof: inspections that read something out of spec, or that speak against the twin."""
        against = {
            row.inspection for row in rows_against(self.population, self.everything, self.findings, twin)
        }
        wrong = {name for name, each in self.findings.items() if any(r.deviation for r in each.readings)}
        worth = [each for each in self.offered if each.id in against | wrong and each.id not in self.made]
        table, steps = {each.id: each for each in self.offered}, list[str]()
        for each in sorted(worth, key=lambda each: (each.openness, each.id not in against, each.minutes)):
            new = [step for step in steps_to(each.id, table, [*self.made, *steps]) if step not in steps]
            if len(steps) + len(new) <= MOST_PROOFS:
                steps += new
        return steps


def _numbers_first(rows: Sequence[EvidenceAgainst]) -> list[EvidenceAgainst]:
    """What was read before what was only seen: a number can be read again. A thing that another cause leaves, or nobody, proves
    nothing by lying there."""
    telling = [row for row in rows if row.found != "seen"]
    return sorted(telling, key=lambda row: not row.found.lstrip("\u2212")[:1].isdigit())
