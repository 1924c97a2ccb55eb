"""The repair plan and its proof: what comes after the diagnosis."""

from __future__ import annotations

from course_lib.assessment.rubric.chain import true_links
from course_lib.assessment.rubric.mark_sheet import CriterionMark, criterion_mark
from course_lib.assessment.rubric.part_and_cause import damaged_parts
from course_lib.assessment.rubric.work import Work
from course_lib.faults.answer_choices import (
    estimates,
    follow_ups,
    repair_extras,
)
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import NO_PART, all_parts
from course_lib.shop.findings import load_inspection

WARM = ("hot", "as driven")  # how the sump is at a reading that must be repeated hot
MISSING = {
    "flush": "clean what the dirt went through",
    "wear": "renew what is worn beside it",
    "set_up": "name a set-up that is measured",
    "relearn": "let the controller learn anew",
}


# ---------------------------------------------------------------------- repair
def groups(work: Work) -> set[str]:
    """The groups of the broken parts and of the causes."""
    causes = [all_causes()[name] for name in work.key.causes]
    found = {all_parts()[name].group for name in work.key.shortest if name != NO_PART}
    return found | {group for cause in causes for group in (cause.group, cause.also_group) if group}


def called_for(work: Work) -> dict[str, set[str]]:
    """Kind of work beside parts and cause -> ids of which one is called for on this vehicle."""
    true, book = true_links(work), work.offered(repair_extras()).values()
    dirty = "dirt_travels" in true or any(link.kind == "damage" for link in true.values())
    worn = {all_parts()[name].group for name in damaged_parts(work)}
    kinds = {"flush": {each.id for each in book if each.kind == "flush" and dirty}}
    for kind, where in (("wear", worn), ("set_up", groups(work)), ("relearn", groups(work))):
        kinds[kind] = {each.id for each in book if each.kind == kind and where.intersection(each.groups)}
    return {kind: ids for kind, ids in kinds.items() if ids}


def plan_stays_away(work: Work) -> bool:
    """Whether the trouble stays away after the repair, but for what age brings.

    Known without driving where everything is renewed that may be, or where the key holds no vehicle. Any other plan is driven
    forward on this vehicle: one life, see `repair_forward.stays_away`. It is all of a mark that simulates.
    """
    key, plan = work.key, work.answer.repair
    renewed = tuple(sorted(set(plan.renew) & set(all_parts()) - {NO_PART}))
    corrected = frozenset(plan.correct) & set(key.causes)
    if corrected == set(key.causes) and set(renewed) == key.allowed - {NO_PART}:
        return True
    if key.vehicle is None:
        return corrected == set(key.causes) and mends(work)
    from course_lib.cases import repair_forward  # here: a record that needs no driving loads no simulator

    return repair_forward.stays_away(key, renewed, corrected)


def mends(work: Work) -> bool:
    """Whether the plan renews every part that must be, and one of each set of which one must."""
    renewed = {*work.answer.repair.renew, NO_PART}
    return renewed.issuperset(work.key.parts) and all(renewed & set(some) for some in work.key.needed)


def judge_repair(work: Work) -> CriterionMark:
    """Part only; cause or part; cause and damage; also flush, related wear, set-up, learning anew, and an estimate that fits."""
    plan, true = work.answer.repair, set(work.key.causes)
    if not plan.correct:
        return criterion_mark(
            "repair", 0, "The plan puts no cause right, so the new part meets what ruined the old one."
        )
    cause, part = bool(set(plan.correct) & true), mends(work) and NO_PART not in work.key.shortest
    if not cause and not part:
        return criterion_mark("repair", 0, "The plan mends neither the damage nor what did it.")
    if any(repair_extras()[name].kind == "harm" for name in plan.also if name in repair_extras()):
        return criterion_mark("repair", 1, "Something in the plan hides the fault or makes a new one.")
    if not true <= set(plan.correct) or not plan_stays_away(work):
        return criterion_mark("repair", 1, "Driven forward, it comes back: the plan mends half of it.")
    idle = set(plan.renew) - work.key.allowed - {NO_PART}
    if idle or set(plan.correct) != true:
        return criterion_mark("repair", 2, "It stays away; something sound is renewed or put right as well.")
    short = [kind for kind, ids in called_for(work).items() if not _done(work, kind, ids)]
    if short:
        return criterion_mark("repair", 2, f"Cause and damage are mended; also {MISSING[short[0]]}.")
    if not offered_rightly(work):
        return criterion_mark("repair", 2, f"Cause and damage are mended; {_estimate_said(work)}")
    return criterion_mark(
        "repair",
        3,
        "Cause and damage are mended, with cleaning, related wear, a measured set-up and an estimate that fits.",
    )


def cost(work: Work) -> float:
    """What the damage of this vehicle and its causes cost against a rebuild, 0 where the unit can stay in."""
    return estimates().share({*work.key.shortest, *damaged_parts(work)} - {NO_PART}, work.key.causes)


def offered_rightly(work: Work) -> bool:
    """Whether the estimate offers a way that fits what is broken, and the owner is asked."""
    plan = work.answer.repair
    return plan.asked and plan.estimate in {way.id for way in estimates().fitting(cost(work))}


def _estimate_said(work: Work) -> str:
    share = cost(work)
    ways = " or ".join(f"\u201c{way.label}\u201d" for way in estimates().fitting(share))
    about = f"comes to about {share:.0%} of a rebuild" if share else "needs no unit taken out"
    return f"the work {about}: offer {ways}, and ask the owner first."


def _done(work: Work, kind: str, ids: set[str]) -> bool:
    plan = work.answer.repair
    return bool(ids & set(plan.also)) or (kind == "wear" and damaged_parts(work) <= set(plan.renew))


# ---------------------------------------------------------------------- proof
def judge_proof(work: Work) -> CriterionMark:
    """A test drive; a symptom repeated; the failed reading, hot; with a pair of numbers, a recheck and advice."""
    proof = work.answer.proof
    repeated = [name for name in proof.repeat if name in work.had]
    if not repeated:
        return criterion_mark(
            "proof", 0, "No reading you took before is taken again; a test drive alone proves little."
        )
    failed = [name for name in repeated if name in work.key.mended] if work.key.mended else repeated
    if not failed:
        return criterion_mark(
            "proof", 1, "What you repeat was not wrong before, so it cannot show that it came right."
        )
    if not proof.hot and any(load_inspection(work.had[name].inspection).sump in WARM for name in failed):
        return criterion_mark("proof", 1, "The failed reading is repeated cold; it was wrong hot.")
    numbers = [name for name in work.key.mended if work.reading(name)]
    if numbers and not set(numbers) & set(failed):
        return criterion_mark(
            "proof", 2, "What failed is repeated; a pair of numbers before and after would prove it."
        )
    return _follow_up(work)


def _follow_up(work: Work) -> CriterionMark:
    """With the failed reading repeated: the recheck and the advice."""
    proof, book = work.answer.proof, follow_ups()
    recheck = book.get(proof.recheck)
    if recheck is None or recheck.kind != "recheck" or not recheck.sound:
        return criterion_mark("proof", 2, "The failed reading is repeated; an early recheck is not booked.")
    told = [book[name] for name in proof.advice if name in book and book[name].kind == "advice"]
    causes = {
        group
        for name in work.key.causes
        for group in (all_causes()[name].group, all_causes()[name].also_group)
    }
    fits = [each for each in told if not each.groups or set(each.groups) & causes]
    if not fits or not all(each.sound for each in told):
        return criterion_mark(
            "proof", 2, "The failed reading is repeated; what the owner is told does not keep the fault away."
        )
    return criterion_mark(
        "proof", 3, "A pair of numbers before and after, a recheck, and advice that keeps the fault away."
    )
