"""How far the findings a learner cites decide the case: by their worth, never by their number."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from course_lib.assessment.rubric.mark_sheet import CriterionMark, criterion_mark
from course_lib.assessment.rubric.work import Work, openness
from course_lib.faults.causes import all_causes
from course_lib.shop.findings import OPENS

BAR = 13  # decibans: twenty to one, the bar of the certificate
SPEAKS = 3  # decibans: two to one
HALF, FEW = 2, 10  # a half of the suspects may be left where evidence decides, a tenth where it is expert
MOST_OPEN = 5  # openness of a unit taken apart
SLACK, OUTSIDE_MINUTES = (
    3,
    180,
)  # times the ideal minutes; all that can be done outside takes three hours (common practice)


def cited(work: Work) -> tuple[str, ...]:
    """The findings cited that the learner had, each once."""
    return tuple(name for name in dict.fromkeys(work.answer.evidence) if name in work.had)


def weighty(work: Work, name: str) -> bool:
    """Whether a finding excludes any wrong cause at all."""
    return any(work.worth.against(name, cause) >= BAR for cause in work.worth.causes)


def left_standing(work: Work, names: tuple[str, ...]) -> list[str]:
    """The wrong causes that those findings together leave standing.

    Findings of one inspection share its errors, so that of each inspection only the one that says most counts.
    """
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(work.had[name].inspection, []).append(name)
    return work.worth.left_standing(groups.values(), BAR)


def decides(work: Work) -> bool:
    """Whether what is cited is a deciding test: half of the suspects are excluded by it, and the twin, by that or by the finding
    named against it; or the inspection that decides on the ideal way is among it and speaks against the twin."""
    names = cited(work)
    standing = left_standing(work, names)
    few = HALF * len(standing) <= len(work.worth.causes)
    return few and (
        twin(work) not in standing
        or twin(work) in _held(work)
        or any(_on_ideal_way(work, name) for name in names)
    )


def _on_ideal_way(work: Work, name: str) -> bool:
    certificate = work.key.certificate
    deciding = certificate.deciding if certificate else ""
    return work.had[name].inspection == deciding and work.worth.against(name, twin(work)) >= SPEAKS


def twin(work: Work) -> str:
    """The wrong cause that is hardest to exclude; "" where the key names none."""
    return work.key.certificate.twin if work.key.certificate else ""


def judge_evidence(work: Work) -> CriterionMark:
    """Guesses; findings without numbers; readings against spec that decide; a decisive few, before opening, cheap first."""
    names = cited(work)
    if not any(weighty(work, name) for name in names):
        return criterion_mark("evidence", 0, "No finding you made and cite speaks against any other cause.")
    if _has_numbers(work) and not any(work.measured(name) and weighty(work, name) for name in names):
        return criterion_mark(
            "evidence", 1, "You cite what was seen or told, and no reading against its spec that counts."
        )
    if not decides(work):
        return criterion_mark(
            "evidence", 1, "What you cite leaves too many other causes standing, or the nearest one."
        )
    if any(
        cause not in left_standing(work, names) for cause in work.answer.causes if cause in work.worth.causes
    ):
        return criterion_mark("evidence", 1, "What you cite speaks against the cause you name.")
    if not all(weighty(work, name) for name in names):
        return criterion_mark(
            "evidence", 2, "Your readings decide; one of what you cite excludes nothing by itself."
        )
    if FEW * len(left_standing(work, names)) > len(work.worth.causes):
        return criterion_mark(
            "evidence",
            2,
            "Your readings decide; a few that exclude nearly every other cause would do better.",
        )
    return _order(work, names)


def _has_numbers(work: Work) -> bool:
    """Whether this vehicle has a reading against spec that excludes the twin; where it has none, a look must do."""
    every = replace(work, made=work.all_findings)
    return any(every.reading(name) and work.worth.against(name, twin(work)) >= BAR for name in every.had)


def _order(work: Work, names: tuple[str, ...]) -> CriterionMark:
    """How the deciding findings were come by."""
    last = _decided_at(work, names)
    steps = work.made[: last + 1]
    far = openness_needed(work)
    if any(openness(step) > far for step in steps):
        return criterion_mark(
            "evidence", 2, "Your readings decide, and they could be had with less taken apart."
        )
    if openness(steps[0]) > 2:
        return criterion_mark(
            "evidence",
            2,
            "Your readings decide; talk and look first, it is cheap and it halves the suspects.",
        )
    ideal = work.key.certificate.minutes if work.key.certificate else 0
    outside = sum(step.minutes for step in steps if openness(step) < OPENS)
    enough = max(SLACK * ideal, OUTSIDE_MINUTES)
    if outside > enough:
        return criterion_mark(
            "evidence", 2, f"Your readings decide, and took {outside:g} min; {enough:g} are enough."
        )
    return criterion_mark(
        "evidence",
        3,
        "A few readings that decide, taken before opening more than it needs, cheap ones first.",
    )


def _decided_at(work: Work, names: tuple[str, ...]) -> int:
    """The place, among the inspections made, of the one with which the case was decided; what is cited from later ones is more
    proof, and costs nothing."""
    places = sorted({work.made.index(work.had[name]) for name in names})
    standing = set(left_standing(work, names))
    for place in places:
        so_far = tuple(name for name in names if work.made.index(work.had[name]) <= place)
        if standing.issuperset(left_standing(work, so_far)):
            return place
    return places[-1]


def openness_needed(work: Work) -> int:
    """How far the vehicle must be opened for findings that decide: not at all, for the pan, or apart."""
    certified = work.key.certificate.openness if work.key.certificate else 0
    every = replace(work, made=work.all_findings)
    for far in range(max(certified, OPENS - 1), MOST_OPEN):
        names = tuple(name for name, finding in every.had.items() if openness(finding) <= far)
        if twin(work) not in left_standing(every, names):
            return far
    return MOST_OPEN


def families(causes: Iterable[str]) -> set[str]:
    """The families of causes, by either of the groups that each stands in."""
    book = all_causes()
    return {
        group
        for name in causes
        if name in book
        for group in (book[name].group, book[name].also_group)
        if group
    }


def near_look_alikes(work: Work) -> set[str]:
    """The look-alikes that count: the twin, what fits best when one has heard, looked and driven, and the true cause's family."""
    kin = {cause for cause in work.worth.causes if families([cause]) & families(work.key.causes)}
    return ({twin(work)} | set(work.worth.look_alikes)) & set(work.worth.causes) | kin


def _held(work: Work) -> dict[str, str]:
    """Look-alike -> the finding named against it, where the learner had that and it does exclude it."""
    return {
        each.cause: each.finding
        for each in work.answer.excluded
        if each.finding in work.had and work.worth.against(each.finding, each.cause) >= BAR
    }


def judge_look_alikes(work: Work) -> CriterionMark:
    """None; one named; a near one excluded by a finding that does exclude it; two, each by its own."""
    true = set(work.key.causes)
    named = [each for each in work.answer.excluded if each.cause in work.worth.causes]
    if any(each.cause in true for each in work.answer.excluded):
        return criterion_mark(
            "look-alikes", min(len(named), 1), "You exclude a cause that the findings do not exclude."
        )
    if not named:
        return criterion_mark("look-alikes", 0, "No look-alike is named.")
    held = _held(work)
    close = {cause: finding for cause, finding in held.items() if cause in near_look_alikes(work)}
    if not held:
        return criterion_mark(
            "look-alikes", 1, "You name a look-alike; the finding beside it does not exclude it."
        )
    if not close:
        return criterion_mark(
            "look-alikes", 1, "What you exclude was never close; ask what else fits this complaint."
        )
    if len(set(close.values())) < 2:
        return criterion_mark(
            "look-alikes",
            2,
            "One near look-alike is excluded by its own finding; a second would make it sure.",
        )
    return criterion_mark("look-alikes", 3, "Two near look-alikes are excluded, each by its own finding.")
