"""A record read against its case: which findings the learner really had, and what in the log does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from course_lib.assessment.record import Answer, Record
from course_lib.cases.case import Case, findings_in
from course_lib.cases.key import Key
from course_lib.diagnosis.key_entries import EvidenceWeights
from course_lib.faults.answer_choices import Choice, links_in_finding, offered_for
from course_lib.shop.findings import (
    Finding,
    InspectionRefused,
    Reading,
    load_inspection,
    refused_acts,
    title_of,
)
from course_lib.shop.order import does_harm

PLAIN = ("yes", "no")


@dataclass(frozen=True)
class Work:
    """What a learner did on a case and answered. made: findings in the order they were made; unsafe: inspections in the log that
    would have been refused because of danger; remarks: what in the log does not fit, and what was asked for and does harm."""

    answer: Answer
    case: Case
    key: Key
    made: tuple[Finding, ...]
    unsafe: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def worth(self) -> EvidenceWeights:
        """What each finding of the case is worth."""
        return self.key.worth

    @cached_property
    def had(self) -> dict[str, Finding]:
        """Everything that can be cited: id of a reading, or of an inspection for what was noticed -> the finding it is in."""
        return _citable(self.made)

    @cached_property
    def all_findings(self) -> tuple[Finding, ...]:
        """Every finding the vehicle has."""
        return tuple(findings_in(self.case).values())

    @cached_property
    def shown(self) -> dict[str, frozenset[str]]:
        """Inspection -> the links of a chain that its finding shows, for every finding of the vehicle."""
        return {each.inspection: links_in_finding(self.case.unit_spec, each) for each in self.all_findings}

    def offered(self, book: dict[str, Choice]) -> dict[str, Choice]:
        """What of a list the answer could choose from."""
        return offered_for(self.case.unit_spec, book)

    def reading(self, name: str) -> Reading | None:
        """The reading of that id, if the learner took it and it gave a number with a spec."""
        finding = self.had.get(name)
        readings = finding.readings if finding else ()
        return next(
            (r for r in readings if r.key == name and r.value is not None and r.spec is not None), None
        )

    def measured(self, name: str) -> bool:
        """Whether that is a number with a spec, or a plain yes or no: neither is a matter of opinion."""
        finding = self.had.get(name)
        plain = finding is not None and any(look.text in PLAIN for look in finding.looks)
        return self.reading(name) is not None or (
            plain and finding is not None and finding.inspection == name
        )


def work_of(record: Record, case: Case, key: Key) -> Work:
    """The work in a record. Raises ValueError for a key that cannot mark, or the record or key of another case."""
    _check(record, case, key)
    answer = record.handed_in or Answer()
    fresh, remarks, unsafe = case.anew(), list(_history_remarks(record)), []
    if record.inspections and record.generator_version != case.generator_version:
        remarks.append(
            f"The record is of generator version {record.generator_version}, the case of {case.generator_version}."
        )
    for step in record.inspections:
        remark, danger = _repeat(fresh, step.inspection, step.minutes)
        remarks += [remark] if remark else []
        unsafe += [step.inspection] if danger else []
    made = fresh.findings
    remarks += [
        f"“{title_of(each.act)}” was asked for after {each.after} inspections, and refused: it does harm. It costs no points."
        for each in record.refused
    ]
    remarks += [
        f"It cites {title_of(name)}, which was never found."
        for name in _cited(answer)
        if name not in _citable(made)
    ]
    return Work(answer, case, key, made, tuple(unsafe), tuple(dict.fromkeys(remarks)))


def _check(record: Record, case: Case, key: Key) -> None:
    if not record.case_id == case.id == key.case_id:
        raise ValueError(
            f"record, case and key must be of one case, got {record.case_id}, {case.id} and {key.case_id}. Sort them out."
        )
    if not key.worth.causes:
        raise ValueError(
            f"key of case {key.case_id} must hold what findings are worth, got none. Make the case anew."
        )


def _citable(made: tuple[Finding, ...]) -> dict[str, Finding]:
    found: dict[str, Finding] = {}
    for finding in made:
        for name in (finding.inspection, *(reading.key for reading in finding.readings)):
            found.setdefault(name, finding)
    return found


def _repeat(case: Case, name: str, minutes: int) -> tuple[str, bool]:
    """Make a logged inspection again: (what does not fit, whether it was refused because of danger)."""
    before, called = [finding.inspection for finding in case.findings], f"“{title_of(name)}”"
    if name in before:
        return f"{called} stands in the log twice.", False
    offered = [each.id for each in case.offered]
    if name not in offered and name not in refused_acts():
        return f"{called} is in the log, and is no inspection of this case.", False
    try:
        finding = case.inspect(name)
    except InspectionRefused:
        danger = does_harm(name, before, offered)
        why = "must have been refused as unsafe" if danger else "cannot have come at that point"
        return f"{called} is in the log, and {why}.", danger
    if minutes != finding.minutes:
        return f"{called} takes {finding.minutes} minutes, and the log says {minutes}.", False
    return "", False


def _history_remarks(record: Record) -> list[str]:
    """What handing in left behind that does not fit the rest."""
    handed_in = [kept for kept in record.history if kept.kind == "handed in"]
    found = []
    if record.attempts < len(handed_in):
        found.append(f"It was handed in {len(handed_in)} times, and the count says {record.attempts}.")
    if (
        handed_in
        and record.handed_in != handed_in[-1].answer
        and record.handed_in not in [k.answer for k in handed_in]
    ):
        found.append("The answer that counts is none of those handed in.")
    if any(kept.minutes > record.minutes_used for kept in record.history):
        found.append("The log is shorter than it was when an answer was handed in.")
    return found


def _cited(answer: Answer) -> list[str]:
    return [*answer.evidence, *(each.finding for each in answer.excluded), *answer.proof.repeat]


def openness(finding: Finding) -> int:
    """How far that inspection opened the vehicle."""
    return load_inspection(finding.inspection).openness
