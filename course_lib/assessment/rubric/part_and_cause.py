"""The broken part and the root cause."""

from __future__ import annotations

from course_lib.assessment.marking import parts_right
from course_lib.assessment.rubric.chain import starts_right, true_links
from course_lib.assessment.rubric.evidence import decides, families
from course_lib.assessment.rubric.mark_sheet import CriterionMark, criterion_mark
from course_lib.assessment.rubric.work import Work
from course_lib.faults.parts import NO_PART, all_parts

CLEARED = 2  # parts seen to be sound that an expert names at least
QUESTIONS = {
    "before": "Was it there before the damage? Begin your chain with it.",
    "explains": "Does it explain what fails and what holds? Name parts that are sound.",
    "shown": "Does a finding show it? Cite the one that decides.",
    "brings back": "Does removing it bring the reading back? Repeat a reading that was wrong.",
    "again": "Left alone, would the new part die too? Put it right in your repair plan.",
}
"""The five questions that test a root cause, after IEC 62740:2015, Root cause analysis, from memory."""


def damaged_parts(work: Work) -> set[str]:
    """The parts that are damaged, or in which the cause sits, beside those that must be named."""
    return set(work.key.allowed) - set(work.key.shortest) - {NO_PART}


def judge_part(work: Work) -> CriterionMark:
    """None or wrong; right area; exact; exact with extent and parts cleared."""
    named, must, may = set(work.answer.parts), set(work.key.shortest), work.key.allowed
    if not named:
        return criterion_mark("part", 0, "No broken part is named.")
    if not parts_right(work.answer, work.key):
        near = bool(named & may - {NO_PART}) or bool(_groups(named) & _groups(must))
        if near:
            return criterion_mark(
                "part", 1, "The area is right; the part is not yet, or a sound one stands beside it."
            )
        return criterion_mark("part", 0, "The findings point to another place than the part you name.")
    if not set(work.key.parts) <= named | set(work.answer.repair.renew):
        return criterion_mark(
            "part", 2, "The part is exact; another one that must be renewed too is not named."
        )
    if not cleared_rightly(work):
        return criterion_mark(
            "part",
            2,
            f"The part is exact; name at least {_asked(work)} you found sound, and only sound ones.",
        )
    return criterion_mark("part", 3, "The part is exact, with how far the damage goes and what is sound.")


def cleared_rightly(work: Work) -> bool:
    """Whether enough parts are named as sound, and only such as are."""
    cleared = set(work.answer.cleared)
    return len(cleared) >= _asked(work) and cleared <= set(sound_names(work))


def _asked(work: Work) -> int:
    """How many must be named as sound: no more than the vehicle has sound elements, the ones a learner may choose from."""
    return min(CLEARED, len(set(sound_names(work)).intersection(work.case.unit_spec.element_ids)))


def sound_names(work: Work) -> list[str]:
    """What may be cleared: holding elements, then parts with nothing wrong; none that a link of this vehicle tells of. An element
    that slid for want of pressure, and is neither damaged nor out of order, is sound."""
    bad = {name.partition("@")[2] for name, link in true_links(work).items() if link.kind != "action"}
    names = [*work.case.unit_spec.element_ids, *sound_parts(work)]
    return [name for name in dict.fromkeys(names) if name not in bad]


def sound_parts(work: Work) -> list[str]:
    """The parts of this vehicle that have nothing wrong."""
    bad = {NO_PART, *work.key.allowed}
    return [name for name, _ in work.case.part_choices if name not in bad]


def _groups(parts: set[str]) -> set[str]:
    return {all_parts()[name].group for name in parts if name in all_parts()} - {all_parts()[NO_PART].group}


def judge_cause(work: Work) -> tuple[CriterionMark, str]:
    """None; right family; exact; exact and it passes the five questions. Beside it the sentence of a gate, or ""."""
    named, true = set(work.answer.causes), set(work.key.causes)
    if not named:
        return criterion_mark("cause", 0, "No root cause is named."), ""
    if named != true:
        if named & true:
            return criterion_mark(
                "cause", 1, "A cause you name is at work; what you name is not all of it, or too much."
            ), ""
        if families(named) & families(true):
            return criterion_mark(
                "cause", 1, "The family is right; the cause itself is another one in it."
            ), ""
        return criterion_mark("cause", 0, "The findings leave no room for this cause."), ""
    if not decides(work):
        gate = "The cause is right and no deciding test is cited: a lucky guess counts as weak."
        return criterion_mark(
            "cause", 1, "The cause is right; nothing you cite decides it against its nearest rival."
        ), gate
    open_ = [question for question, passed in five_questions(work).items() if not passed]
    if open_:
        return criterion_mark(
            "cause", 2, f"The cause is exact; one question is open. {QUESTIONS[open_[0]]}"
        ), ""
    return criterion_mark("cause", 3, "The cause is exact, and it passes the five questions."), ""


def five_questions(work: Work) -> dict[str, bool]:
    """Which of the five questions the record answers."""
    back = set(work.answer.proof.repeat) & set(work.had)
    return {
        "before": starts_right(work),
        "explains": len(work.answer.cleared) >= min(1, _asked(work))
        and set(work.answer.cleared) <= set(sound_names(work)),
        "shown": decides(work),
        "brings back": bool(back & set(work.key.mended)) or (bool(back) and not work.key.mended),
        "again": set(work.key.causes) <= set(work.answer.repair.correct),
    }
