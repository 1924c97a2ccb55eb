"""A record graded: eight criteria from the case and its key, the gates, and the total."""

from __future__ import annotations

from course_lib.assessment.record import Record
from course_lib.assessment.rubric.chain import judge_chain
from course_lib.assessment.rubric.evidence import judge_evidence, judge_look_alikes
from course_lib.assessment.rubric.mark_sheet import WITHOUT_CAUSE, MarkSheet, total
from course_lib.assessment.rubric.part_and_cause import judge_cause, judge_part
from course_lib.assessment.rubric.repair_plan import judge_proof, judge_repair
from course_lib.assessment.rubric.safety import judge_safety, unsafe_steps
from course_lib.assessment.rubric.work import work_of
from course_lib.cases.case import Case
from course_lib.cases.key import Key

NO_CAUSE = (
    f"Without the root cause a record earns at most {WITHOUT_CAUSE} points: what broke it is still at work."
)
RETURNED = "The record goes back to you: put the unsafe step right, then hand it in again."


def grade_record(record: Record, case: Case, key: Key) -> MarkSheet:
    """Grade the answer handed in, against the case and what its key carries; free text is never read.

    The same record, case and key give the same sheet on every machine. Raises ValueError when the three do not belong
    together, or the key lacks what the rubric needs.
    """
    work = work_of(record, case, key)
    cause, lucky = judge_cause(work)
    criteria = (
        judge_part(work),
        cause,
        judge_chain(work),
        judge_evidence(work),
        judge_look_alikes(work),
        judge_repair(work),
        judge_proof(work),
        judge_safety(work),
    )
    unsafe, points = unsafe_steps(work), total(criteria)
    gates = (
        (NO_CAUSE,) * (not cause.level) + (lucky,) * bool(lucky) + tuple(unsafe) + (RETURNED,) * bool(unsafe)
    )
    return MarkSheet(
        case_id=case.id,
        criteria=criteria,
        gates=gates,
        total=min(points, WITHOUT_CAUSE) if not cause.level else points,
        returned=bool(unsafe),
        remarks=work.remarks,
    )
