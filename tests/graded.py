"""Records to grade: those of an expert on the frozen cases, with one thing changed."""

from __future__ import annotations

import msgspec

from course_lib.assessment.record import Answer, Excluded, LoggedInspection, Proof, Record, RepairPlan
from course_lib.assessment.rubric.model_answer import model_record
from course_lib.assessment.rubric.work import Work, work_of
from course_lib.cases.case import Case
from course_lib.cases.case_file import load_case
from course_lib.cases.key import Key
from course_lib.cases.key_file import load_key
from course_lib.shop.findings import all_inspections

replace = msgspec.structs.replace


class Desk:
    """One frozen case, its key, and the expert's record on it."""

    def __init__(self, name: str) -> None:
        self.case: Case = load_case(name)
        self.key: Key = load_key(name)
        self.expert: Record = model_record(self.case, self.key)

    @property
    def answer(self) -> Answer:
        """The expert's."""
        return self.expert.handed_in

    def record(self, **changes) -> Record:
        """The expert's record with its answer changed."""
        answer = replace(self.answer, **changes)
        return replace(self.expert, answer=answer, handed_in=answer)

    def repair(self, **changes) -> Record:
        """The expert's record with its repair plan changed."""
        return self.record(repair=replace(self.answer.repair, **changes))

    def proof(self, **changes) -> Record:
        """The expert's record with its proof changed."""
        return self.record(proof=replace(self.answer.proof, **changes))

    def without(self, *inspections: str) -> Record:
        """The expert's record with inspections taken out of the log."""
        steps = tuple(step for step in self.expert.inspections if step.inspection not in inspections)
        return replace(self.expert, inspections=steps)

    def first(self, *inspections: str) -> Record:
        """The expert's record with these made before everything else."""
        minutes = {name: each.minutes for name, each in all_inspections().items()}
        steps = tuple(LoggedInspection(inspection=name, minutes=minutes[name]) for name in inspections)
        rest = tuple(step for step in self.expert.inspections if step.inspection not in inspections)
        return replace(self.expert, inspections=steps + rest)

    def work(self, record: Record | None = None) -> Work:
        """The expert's work, or that of another record."""
        return work_of(record or self.expert, self.case, self.key)

    def wrong_cause(self, *, family: bool) -> str:
        """A cause that is none, in the family of the true one or outside."""
        from course_lib.assessment.rubric.evidence import families

        mine = families(set(self.key.causes))
        names = [name for name, _ in self.case.cause_choices if name not in self.key.causes]
        return next(name for name in names if bool(families({name}) & mine) == family)

    def part(self, *, near: bool) -> str:
        """A sound part, of the group of the broken one or of another."""
        from course_lib.assessment.rubric.part_and_cause import _groups, sound_parts

        must = _groups(set(self.key.shortest))
        return next(name for name in sound_parts(self.work()) if bool(_groups({name}) & must) == near)


__all__ = ["Desk", "Excluded", "LoggedInspection", "Proof", "RepairPlan", "replace"]
