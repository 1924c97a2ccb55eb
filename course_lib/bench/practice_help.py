"""Help in practice: how the suspects stand, and the best next inspection. Worked out beside the page from many lives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from course_lib.assessment.record import HelpKind
from course_lib.bench.job_queue import Job, JobQueue, Progress
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import Finding, InspectionRefused
from course_lib.shop.order import check_allowed
from course_lib.vehicle.uses import load_uses

if TYPE_CHECKING:
    from course_lib.cases.case import Case
    from course_lib.diagnosis.next_inspection import RankedInspection
    from course_lib.diagnosis.odds import Odds
    from course_lib.diagnosis.population import Population

Lives = Callable[[Progress], "Population"]
#: How far a hint goes: a direction first, the inspection when asked again.
DIRECTION, INSPECTION = 1, 2
#: What the record calls them.
HINTS: dict[int, HelpKind] = {DIRECTION: "direction", INSPECTION: "inspection"}


@dataclass(frozen=True, slots=True)
class OddsAndAdvice:
    """How things stand: odds before the first finding and after each (n + 1 of them), and what could be inspected, best first."""

    odds: tuple[Odds, ...]
    advice: tuple[RankedInspection, ...]


class PracticeHelp:
    """Answers two questions about a case while its learner works. changed: called when an answer, or a part of it, is there.

    hints: how far the hint has been asked; odds_shown: whether the odds were asked for.
    """

    def __init__(self, case: Case, lives: Lives | None, changed: Callable[[], None]) -> None:
        self._case = case
        self._lives = lives or self._lives_of_its_kind
        self._population: Population | None = None
        self.beside = JobQueue(changed)
        self.hints = 0
        self.odds_shown = False

    def hint(self) -> None:
        """Asked for a hint, or for more of it."""
        self.hints = min(self.hints + 1, INSPECTION)

    def show_odds(self) -> None:
        """Asked to see the odds, or to put them away."""
        self.odds_shown = not self.odds_shown

    def moved_on(self) -> None:
        """An inspection was made: the hint has done its work."""
        self.hints = 0

    def standing(self) -> Job | None:
        """How things stand after the findings made, as far as it is worked out; None while nobody has asked."""
        if not (self.hints or self.odds_shown):
            return None
        findings = self._case.findings
        made = tuple(finding.inspection for finding in findings)
        return self.beside.ask(("standing", *made), lambda progress: self._stand(findings, progress))

    def _lives_of_its_kind(self, progress: Progress) -> Population:
        from course_lib.diagnosis.lived_populations import population_of

        return population_of(kind_of(self._case), progress=progress)

    def _stand(self, findings: tuple[Finding, ...], progress: Progress) -> OddsAndAdvice:
        from course_lib.diagnosis.lived_populations import findings_of
        from course_lib.diagnosis.next_inspection import rank_inspections
        from course_lib.diagnosis.odds import odds

        if self._population is None:
            self._population = self._lives(progress)
        lives, made = self._population, [finding.inspection for finding in findings]
        found = findings_of(lives, findings)
        known = [found.keep(lives.keys_of(made[:count])) for count in range(len(made) + 1)]
        best = rank_inspections(lives, known[-1], self._case.offered, made, np.random.default_rng(len(made)))
        allowed = tuple(each for each in best if _allowed(each.steps[0], findings))
        return OddsAndAdvice(odds=tuple(odds(lives, each) for each in known), advice=allowed)


def kind_of(case: Case) -> VehicleKind:
    """The kind of vehicle of a case, as its work order tells it."""
    uses = load_uses().uses
    use = next((name for name, use in uses.items() if use.label == case.work_order.use), next(iter(uses)))
    return VehicleKind(case.unit_spec, case.signal, use)


def _allowed(inspection: str, findings: tuple[Finding, ...]) -> bool:
    try:
        check_allowed(inspection, findings)
    except InspectionRefused:
        return False
    return True
