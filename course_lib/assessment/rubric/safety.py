"""Safety: the dangers of the steps taken, the cautions named, and what must not be done on this vehicle."""

from __future__ import annotations

from course_lib.assessment.rubric.mark_sheet import CriterionMark, criterion_mark
from course_lib.assessment.rubric.work import Work
from course_lib.faults.answer_choices import Caution, cautions, reaches_grade
from course_lib.shop.findings import InspectionRefused, load_inspection, title_of
from course_lib.shop.order import check_allowed, steps_to

NO_RISK = {"none", "low"}


# ---------------------------------------------------------------------- safety


def risks(work: Work) -> set[str]:
    """The risks of the inspections that were made."""
    return {risk for finding in work.made for risk in _risks_of(finding.inspection)}


def _risks_of(inspection: str) -> set[str]:
    return set(load_inspection(inspection).risk.split(", ")) - NO_RISK


def refused(work: Work, inspection: str) -> bool:
    """Whether an inspection is refused on this vehicle for what is found on it from outside."""
    table = {each.id: each for each in work.case.offered}
    before = steps_to(inspection, table, ())[:-1] if inspection in table else ()
    try:
        check_allowed(inspection, [each for each in work.all_findings if each.inspection in before])
    except InspectionRefused:
        return True
    return False


def holds(work: Work, caution: Caution) -> bool:
    """Whether a "not" with a condition is true of this vehicle."""
    by_test = bool(caution.refused) and refused(work, caution.refused)
    return by_test or any(reaches_grade(look, caution.looks) for f in work.all_findings for look in f.looks)


def unsafe_steps(work: Work) -> list[str]:
    """What in the record could hurt somebody or the unit, in sentences."""
    found = [f"“{title_of(name)}” would have been refused here: it does harm." for name in work.unsafe]
    for caution in _chosen(work):
        if caution.kind == "unsafe" or (caution.allowed and refused(work, caution.allowed)):
            found.append(f"“{caution.label}” is unsafe.")
    return found


def _chosen(work: Work) -> list[Caution]:
    return [cautions()[name] for name in dict.fromkeys(work.answer.cautions) if name in cautions()]


def judge_safety(work: Work) -> CriterionMark:
    """An unsafe step, or nothing said; generic words; the right caution at each test used; and when not to test."""
    chosen = _chosen(work)
    if unsafe_steps(work):
        return criterion_mark("safety", 0, "There is an unsafe step in the record.")
    if not chosen:
        return criterion_mark("safety", 0, "No caution is named.")
    answered = {risk for each in chosen for risk in each.risks}
    missed = sorted(risks(work) - answered)
    if missed:
        test = next(title_of(f.inspection) for f in work.made if missed[0] in _risks_of(f.inspection))
        return criterion_mark("safety", 1, f"Your cautions do not name a danger of “{test}”: {missed[0]}.")
    if not any(each.kind == "care" for each in chosen):
        return criterion_mark("safety", 1, "No care at a test is named.")
    barred = [each for each in work.offered(cautions()).values() if each.kind == "not"]
    conditional = [each for each in barred if each.refused or each.looks]
    true = [each for each in conditional if holds(work, each)]
    wanted = true or [each for each in barred if each not in conditional]
    if any(each in conditional and each not in true for each in chosen):
        return criterion_mark(
            "safety", 2, "The right cautions; what you rule out for this vehicle could be tested."
        )
    if not any(each in wanted for each in chosen):
        return criterion_mark("safety", 2, "The right caution at each test; when not to test is not said.")
    return criterion_mark("safety", 3, "The right caution at each test, and when not to test.")
