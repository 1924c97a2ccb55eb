"""Making a case: a vehicle lived, looked at, certified, and its key. Lives are simulated here and in `repair_forward` only."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.cases.case import Case, CaseFile, WorkOrder, check_case_id, file_of, findings_in
from course_lib.cases.key import Key
from course_lib.diagnosis.cache import kept_case
from course_lib.diagnosis.certificate import part_path
from course_lib.diagnosis.evidence_weight import weigh_evidence
from course_lib.diagnosis.fairness import Fairness, judge_fairness
from course_lib.diagnosis.fingerprints import fingerprint
from course_lib.diagnosis.key_entries import EvidenceWeights
from course_lib.diagnosis.lived_populations import findings_of, population_of
from course_lib.faults import stories
from course_lib.faults.after_repair import after_repair
from course_lib.faults.clues import HistoryClue, draw_clues
from course_lib.faults.parts import NO_PART
from course_lib.faults.people import load_people
from course_lib.faults.repair import Past, Stage, store
from course_lib.faults.repair_extent import extents
from course_lib.faults.scenario import GENERATOR_VERSION, Request, find_past
from course_lib.shop import interview
from course_lib.shop.complaint_check import check_complaint_met
from course_lib.shop.findings import Finding
from course_lib.shop.inspect import make_inspections
from course_lib.shop.subject import Subject
from course_lib.vehicle.uses import load_uses

WITH_SIGNAL = {
    "vacuum": "{} with vacuum modulator",
    "cable": "{} with throttle cable",
    "electronic": "{}, electronically controlled",
}
ATTEMPTS = 4  # vehicles looked for before a request is refused


def make_case(
    *,
    seed: int,
    unit: str = "T3",
    cause: str | None = None,
    also: str | None = None,
    signal: str | None = None,
    stage: Stage | None = None,
    use: str | None = None,
    name: str | None = None,
) -> tuple[Case, Key]:
    """Make a case and its key.

    seed: same seed and request, same case. unit: a transmission of the data files. cause, signal ("vacuum", "cable",
    "electronic"), stage ("early", "driving", "no drive") and use are drawn when None; a later stage shows more damage. also: a
    second cause in the same vehicle. name: id of the case, else unit and seed. Only cases are made whose chief complaint is met
    again in the bay and whose cause can be told: see `shop.complaint_check`, `diagnosis.certificate`. What was made once is kept,
    and comes back at once. Raises ValueError, with the numbers, for a request that cannot be met or certified.
    """
    if seed < 0:
        raise ValueError(f"seed must be 0 or more, got {seed}. Give another.")
    request = Request(seed=seed, unit=unit, cause=cause, also=also, signal=signal, stage=stage, use=use)
    case_id = check_case_id(name or f"{unit}-{seed}")
    made_from, kinds = fingerprint(__name__), tuple[CaseFile, Key]
    file, key = kept_case(f"{request} {case_id}", made_from, kinds, lambda: _on_one_core(request, case_id))
    return Case(file), key


def _on_one_core(request: Request, case_id: str) -> tuple[CaseFile, Key]:
    """`_certified`, with linear algebra in one thread: its matrices are so small that sharing them costs a quarter of the time."""
    from threadpoolctl import threadpool_limits  # here: a case that is only read makes none

    with threadpool_limits(1, user_api="blas"):
        return _certified(request, case_id)


def _certified(request: Request, case_id: str) -> tuple[CaseFile, Key]:
    """The first of some vehicles that meets the request and can be certified."""
    seed, refusal = request.seed, ValueError("nothing was tried")
    for attempt in range(ATTEMPTS):
        rng = np.random.default_rng([seed, attempt])
        try:
            past = find_past(request, rng)
            case, fairness = _dressed(case_id, seed, past, rng)
            if fairness.certificate.certified:
                return file_of(case), _key(case, seed, past, fairness)
            refusal = ValueError(fairness.certificate.reason)
        except ValueError as error:
            refusal = error
    raise refusal


def as_case(case_id: str, seed: int, past: Past, rng: np.random.Generator) -> Case:
    """A past as a case with work order and findings, fair or not."""
    subject = _subject(past, seed, rng)
    findings = check_complaint_met(subject, make_inspections(subject))
    file = CaseFile(
        id=case_id,
        seed=seed,
        generator_version=GENERATOR_VERSION,
        unit=past.unit.name,
        signal=past.signal,
        work_order=_work_order(past, subject, findings, rng),
        findings=findings,
    )
    return Case(file)


def _dressed(case_id: str, seed: int, past: Past, rng: np.random.Generator) -> tuple[Case, Fairness]:
    """A past as a case, and how fair it is."""
    case, causes = as_case(case_id, seed, past, rng), tuple(cause.id for cause in past.causes)
    return case, judge_fairness(findings_in(case), past.kind, causes, rng)


def _subject(past: Past, seed: int, rng: np.random.Generator) -> Subject:
    """The vehicle on the lift, with what lies about on it and what is told of it."""
    clues = [(clue, str(rng.choice(clue.words))) for clue in draw_clues(past.causes, past.background, rng)]
    return Subject(
        plant=past.plant,
        condition=past.condition,
        signal=past.signal,
        use=past.use,
        seed=seed,
        felt={name: np.array([[value]]) for name, value in past.felt.items()},
        sump=past.sump,
        objects=tuple((clue.inspection, words) for clue, words in clues if not isinstance(clue, HistoryClue)),
        history=tuple(words for clue, words in clues if isinstance(clue, HistoryClue)),
    )


def _work_order(
    past: Past, subject: Subject, findings: dict[str, Finding], rng: np.random.Generator
) -> WorkOrder:
    people, unit = load_people(), past.unit
    cold = any(look.key == "worse_cold" and look.grade for look in findings[interview.TALK].looks)
    background = replace(past.background, worse_cold=np.array([cold]))
    return WorkOrder(
        number=str(int(rng.integers(1000, 9999))),
        vehicle=str(rng.choice(people.vehicles[past.use])),
        unit_name=WITH_SIGNAL[subject.signal].format(unit.title),
        odometer_miles=round(past.odometer / units.MILE),
        owner=str(rng.choice(people.owners[past.use])),
        complaint=interview.complaint(subject),
        since=str(rng.choice([each.words for each in people.since if each.fits(background)])),
        use=load_uses().uses[past.use].label,
        history="; ".join(subject.history[:1]) or "no papers",
    )


# ---------------------------------------------------------------------- the key
def _key(case: Case, seed: int, past: Past, fairness: Fairness) -> Key:
    extent, found = extents([past])[0], findings_in(case)
    if extent.unseen:
        raise ValueError(
            f"a part that must be renewed must be shown by a finding, got {', '.join(extent.unseen)}, which none shows."
            " Take another seed."
        )
    after = after_repair(past, found, seed)
    key = Key(
        case_id=case.id,
        parts=tuple(extent.must),
        also=extent.may,
        either=extent.either,
        back={part: round(miles, 1) for part, miles in extent.must.items()},
        causes=tuple(cause.id for cause in past.causes),
        chain=stories.life_story(past),
        stories={},
        recipe=_recipe(seed, past),
        vehicle=store(past),
        against=fairness.against,
        worth=_worth(found, past, tuple(fairness.against)),
        lasting=after.lasting,
        mended=after.proof,
    )
    path = part_path([part for part in key.shortest if part != NO_PART], found, past.unit, past.signal)
    told = stories.compare_repairs(past, key.shortest)
    return msgspec.structs.replace(key, stories=told, certificate=replace(fairness.certificate, part=path))


def _recipe(seed: int, past: Past) -> dict[str, str | int | float | None]:
    """How a case was made."""
    return {
        "seed": seed,
        "unit": past.unit.name,
        "signal": past.signal,
        "use": past.use,
        "severity": round(past.severity, 6),
        "driver": past.driver,
        "stage": past.stage,
        "onset_miles": round(past.onset_miles),
        "miles_since_onset": round(past.miles_since_onset),
    }


def _worth(findings: dict[str, Finding], past: Past, wrong: tuple[str, ...]) -> EvidenceWeights:
    """What each finding is worth against each wrong cause."""
    population = population_of(past.kind)
    found = findings_of(population, list(findings.values()))
    return weigh_evidence(population, found, [cause.id for cause in past.causes], wrong)
