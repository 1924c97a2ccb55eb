"""The certificate of one case as a workshop would solve it, and what each wrong suspect would have shown on this vehicle."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from course_lib.diagnosis.certificate import certify
from course_lib.diagnosis.contradiction import Comparison, Contradiction, contradiction, contradictions
from course_lib.diagnosis.key_entries import LESS, MORE, Certificate, EvidenceAgainst
from course_lib.diagnosis.lived_populations import findings_of, population_of, population_with
from course_lib.diagnosis.odds import odds
from course_lib.diagnosis.population import COMPLAINT, Findings, Population
from course_lib.faults.causes import joint_name, load_cause
from course_lib.faults.clues import all_clues
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import Finding, InspectionRefused, Look, Reading, offered_inspections
from course_lib.shop.interview import TALK
from course_lib.shop.order import check_allowed
from course_lib.shop.pan_off import DEBRIS

MOST_ROWS = 6  # findings that are set beside a wrong suspect
TELLING = 2.0 * np.log(
    4.0
)  # edge a thing or a line must have: four times oftener elsewhere than with the suspect
CLEARLY = 2.0  # spreads a finding must stand away from what a suspect predicts, to be worth a row


@dataclass(frozen=True, slots=True, kw_only=True)
class Fairness:
    """A case judged: its certificate, and for each wrong suspect the findings against it, strongest first."""

    certificate: Certificate
    against: dict[str, tuple[EvidenceAgainst, ...]]


def judge_fairness(
    findings: dict[str, Finding], kind: VehicleKind, causes: tuple[str, ...], rng: np.random.Generator
) -> Fairness:
    """The fairness of a case with these `findings`, by inspection, and these true `causes`."""
    population = population_of(kind)
    found = findings_of(population, list(findings.values()))
    certificate = _certificate(population, found, findings, causes, kind, rng)
    lived = {population.causes[i] for i in np.unique(population.cause)}
    wrong = [cause for cause in population.causes if cause in lived and cause not in causes]
    return Fairness(
        certificate=certificate,
        against={
            cause: _rows(population, findings, against)
            for cause, against in contradictions(population, found, wrong).items()
        },
    )


def _certificate(
    population: Population,
    found: Findings,
    findings: dict[str, Finding],
    causes: tuple[str, ...],
    kind: VehicleKind,
    rng: np.random.Generator,
) -> Certificate:
    """The certificate, by the inspections that are allowed on this very vehicle; several causes are certified as one.

    All of them at once must lead every single cause, each of them alone too, and the minutes are those until they do: who stops
    at the first has not found the second.
    """

    def allowed(inspection: str, made: Collection[str]) -> bool:
        try:
            check_allowed(inspection, [findings[name] for name in made], findings)
        except InspectionRefused:
            return False
        return True

    offered = list(offered_inspections(findings).values())
    several = len(causes) > 1
    among, cause = (
        population_with(kind, causes) if several else population,
        joint_name(map(load_cause, causes)),
    )
    made = certify(among, found, cause, offered, rng, allowed=allowed, to_the_end=several)
    return replace(made, twin=_wrong_twin(population, found, causes)) if made.twin in causes else made


def _wrong_twin(population: Population, found: Findings, causes: tuple[str, ...]) -> str:
    """The likeliest of the causes that are not there: each of two causes alone is harder to exclude, but no wrong suspect."""
    now = odds(population, found)
    like = dict(zip(now.causes, now.likeness, strict=True))
    return max((cause for cause in like if cause not in causes), key=lambda cause: like[cause])


THERE, ELSEWHERE = "in this circuit", "in another circuit"  # than the one in which a look was seen


def rows_against(
    population: Population, found: Findings, findings: dict[str, Finding], cause: str
) -> tuple[EvidenceAgainst, ...]:
    """What speaks against a suspect, strongest first, in words."""
    return _rows(population, findings, contradiction(population, found, cause))


def _rows(
    population: Population, findings: dict[str, Finding], against: Contradiction
) -> tuple[EvidenceAgainst, ...]:
    """Its rows in words, as far as they are worth one."""
    rows = [
        row
        for row in against.rows
        if row.gap >= CLEARLY and row.edge > (TELLING if row.kind == "object" else 0.0)
    ]
    texts = (_in_words(row, population, findings) for row in rows)
    return tuple(text for text in texts if text is not None)[:MOST_ROWS]


def _in_words(
    row: Comparison, population: Population, findings: dict[str, Finding]
) -> EvidenceAgainst | None:
    """A comparison as a learner reads it; None where the two sides would read the same."""
    place = population.made_by[row.key]
    inspection = TALK if place == COMPLAINT else place
    if row.kind == "object":
        return _thing_in_words(row, inspection, findings[inspection])
    if row.kind == "look":
        return _look_in_words(row, inspection, findings[inspection])
    reading = next(r for r in findings[inspection].readings if r.key == row.key)
    expected = _expected(reading, row)
    return EvidenceAgainst(
        inspection=inspection, label=reading.label, found=reading.found_text, expected=expected
    )


def _thing_in_words(row: Comparison, inspection: str, finding: Finding) -> EvidenceAgainst:
    """What lay about or was told, or a look that may miss something, beside how often the suspect has it."""
    clue = all_clues().get(row.key)
    if clue is None:
        key, _, circuit = row.key.partition("@")
        look = next(each for each in finding.looks if each.key == key)
        expected = "would seldom be met" if row.read else "would most likely be met"
        expected += f" {THERE if row.read else ELSEWHERE}" if circuit else ""
        return EvidenceAgainst(inspection=inspection, label=finding.title, found=look.text, expected=expected)
    label = next((each for each in clue.words if each in finding.words), clue.words[0])
    found, expected = (
        ("seen", "would seldom be there") if row.read else ("not there", "would most likely be there")
    )
    return EvidenceAgainst(inspection=inspection, label=label, found=found, expected=expected)


def _expected(reading: Reading, row: Comparison) -> str:
    if not np.isfinite(row.predicted):
        return "could not be read"
    return f"about {reading.with_unit(reading.show(row.predicted))}"


def _look_in_words(row: Comparison, inspection: str, finding: Finding) -> EvidenceAgainst | None:
    """A look beside what the suspect's would be, on the same scale of words."""
    look = next((each for each in finding.looks if each.key == row.key), None)
    if look is None or round(row.predicted) == look.grade:
        return None
    less = LESS if row.predicted < look.grade else MORE
    return EvidenceAgainst(
        inspection=inspection, label=finding.title, found=of_what(look, finding), expected=less
    )


def of_what(look: Look, finding: Finding) -> str:
    """A look with what it is of, as the words of the finding have it where the look itself does not say."""
    if ": " in look.text:
        return look.text
    if look.key in DEBRIS:
        return f"{DEBRIS[look.key]}: {look.text}"
    stem = look.key.partition("_")[2].replace("_", "-")
    for sentence in finding.words:
        subject, colon, told = sentence.partition(": ")
        if colon and subject.lower().replace(" ", "-").startswith(stem) and look.text in told:
            return f"{subject}: {look.text}"
    return look.text
