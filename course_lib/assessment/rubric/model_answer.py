"""The record an expert hands in on a case, put together from its key: what can be reached, and what a class is compared with."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from course_lib.assessment.record import (
    CONFIDENCE,
    MOST_EVIDENCE,
    MOST_NAMES,
    MOST_PARTS,
    Answer,
    Excluded,
    LoggedInspection,
    Proof,
    Record,
    RepairPlan,
    hand_in,
)
from course_lib.assessment.rubric.chain import link_shown, wanted_links
from course_lib.assessment.rubric.evidence import BAR, left_standing, near_look_alikes, openness_needed, twin
from course_lib.assessment.rubric.part_and_cause import damaged_parts, sound_names
from course_lib.assessment.rubric.repair_plan import called_for, cost, groups
from course_lib.assessment.rubric.safety import holds, risks
from course_lib.assessment.rubric.work import Work, openness
from course_lib.cases.case import Case
from course_lib.cases.key import Key
from course_lib.faults.answer_choices import LINK_KINDS, cautions, estimates, follow_ups
from course_lib.faults.parts import NO_PART, all_parts
from course_lib.shop.findings import OPENS, OUTSIDE, Finding, Inspection, InspectionRefused, all_inspections
from course_lib.shop.order import steps_to


def model_record(case: Case, key: Key) -> Record:
    """The record of somebody who makes the findings that decide, cheap ones first, and reads them rightly.

    Where nothing that can be found speaks against any wrong cause, it cites nothing.
    """
    whole = Work(Answer(), case, key, _every(case), (), ())
    evidence = _deciding(whole)
    made = _made(case, whole, evidence)
    work = replace(whole, made=made)
    answer = _answer(work, evidence)
    steps = tuple(LoggedInspection(inspection=each.inspection, minutes=each.minutes) for each in made)
    record = Record(case_id=case.id, generator_version=case.generator_version, inspections=steps)
    return hand_in(record, answer)


def _every(case: Case) -> tuple[Finding, ...]:
    """Every finding that can be had of the vehicle, in the order of the catalogue."""
    fresh = case.anew()
    return _inspect(fresh, all_inspections())


def _inspect(fresh: Case, names: Iterable[str]) -> tuple[Finding, ...]:
    """Make inspections one after the other, passing over what is refused or not offered."""
    offered = {each.id for each in fresh.offered}
    for name in names:
        try:
            if name in offered:
                fresh.inspect(name)
        except InspectionRefused:
            continue
    return fresh.findings


def _deciding(work: Work) -> tuple[str, ...]:
    """A few readings that leave fewest wrong causes standing, taken with as little opening as the case needs: what is out of
    order first, then what is in order and should not be with another cause; in any order where that settles more."""
    far = openness_needed(work)
    names = sorted(name for name, f in work.had.items() if openness(f) <= far and _counts(work, name))
    numbers = [name for name in names if work.reading(name)]
    wrong = [name for name in numbers if (reading := work.reading(name)) and reading.verdict in OUTSIDE]
    free = _best_of(work, names, _best_of(work, numbers or names, (), 1))
    led = _best_of(work, names, _best_of(work, wrong, ()))
    (*left, _, minutes), (*most, _, least) = _standing(work, led), _standing(work, free)
    return led if led and left <= most and minutes <= least else free


def _best_of(
    work: Work, names: list[str], found: tuple[str, ...], most: int = MOST_EVIDENCE
) -> tuple[str, ...]:
    """What is found, and of `names` the one after the other that leaves least to settle, as long as one does, to `most` in all."""
    while len(found) < most and names:
        best = min(names, key=lambda name: _standing(work, (*found, name)))
        if _standing(work, (*found, best)) >= _standing(work, found):
            break
        found = (*found, best)
    return found


def _counts(work: Work, name: str) -> bool:
    """Whether a finding excludes something."""
    return name in work.worth.findings and max(work.worth.findings[name]) >= BAR


def _standing(work: Work, names: tuple[str, ...]) -> tuple[bool, int, int, int]:
    """How much is left to settle after some findings, the twin first; numbers go before words, cheap before dear."""
    standing = left_standing(work, names)
    words = sum(work.reading(name) is None for name in names)
    return twin(work) in standing, len(standing), words, sum(work.had[name].minutes for name in names)


def _made(case: Case, work: Work, evidence: tuple[str, ...]) -> tuple[Finding, ...]:
    """The inspections for the evidence, after those they need and a talk; then those that show the rest of the chain."""
    table = {each.id: each for each in case.offered}
    first = _with_needs([work.had[name].inspection for name in evidence], table)
    chain = [_shows(work, names) for names in wanted_links(work).values()]
    rest = _with_needs(
        [name for name in chain if name] + _for_look_alikes(work, evidence) + _for_proof(work), table
    )
    every = [name for name in table if name in {"interview", *first, *rest}]
    inside = {name for name in every if table[name].openness >= OPENS}
    return _inspect(
        case.anew(), sorted(every, key=lambda name: (name in inside, name not in {"interview", *first}))
    )


def _with_needs(names: list[str], table: dict[str, Inspection]) -> set[str]:
    return {step for name in names for step in steps_to(name, table, ())}


def _shows(work: Work, names: list[str]) -> str:
    """The cheapest inspection that shows one of some links."""
    for finding in sorted(work.made, key=openness):
        if work.shown[finding.inspection] & set(names):
            return finding.inspection
    return ""


def _for_look_alikes(work: Work, evidence: tuple[str, ...]) -> list[str]:
    """The inspections with findings that exclude near look-alikes."""
    return [work.had[each.finding].inspection for each in _excluded(work, evidence)]


def _for_proof(work: Work) -> list[str]:
    """The inspection with a number that comes right after the repair."""
    return [work.had[name].inspection for name in _failed(work)[:1]]


def _failed(work: Work) -> list[str]:
    """What was found wrong and comes right after the repair, numbers first and little opening first."""
    names = [name for name in work.key.mended if name in work.had] or list(work.had)
    return sorted(names, key=lambda name: (work.reading(name) is None, openness(work.had[name])))


def _excluded(work: Work, first: tuple[str, ...]) -> tuple[Excluded, ...]:
    """Near look-alikes, each with a finding of its own; those at hand are taken before others."""
    found: dict[str, str] = {}
    order = sorted(near_look_alikes(work), key=lambda cause: (cause != twin(work), cause))
    names = [*first, *sorted(work.had, key=lambda name: (openness(work.had[name]), name))]
    for cause in order:
        own = next((n for n in names if n not in found.values() and work.worth.against(n, cause) >= BAR), "")
        if own:
            found[cause] = own
    return tuple(Excluded(cause=cause, finding=finding) for cause, finding in list(found.items())[:2])


def _answer(work: Work, evidence: tuple[str, ...]) -> Answer:
    key = work.key
    must, beside = key.shortest, [name for name in key.also if name in damaged_parts(work)]
    return Answer(
        parts=(*must, *([] if NO_PART in must else beside))[:MOST_PARTS],
        causes=key.causes,
        cleared=_cleared(work),
        chain=_chain(work),
        evidence=evidence,
        excluded=_excluded(work, evidence),
        repair=RepairPlan(
            renew=tuple(name for name in (*must, *beside) if name != NO_PART)[:MOST_NAMES],
            correct=key.causes,
            also=tuple(min(ids) for ids in called_for(work).values()),
            estimate=estimates().fitting(cost(work))[0].id,
            asked=True,
        ),
        proof=_proof(work),
        cautions=_cautions(work),
        why="See the chain.",
        confidence=CONFIDENCE[-1],
    )


def _cleared(work: Work) -> tuple[str, ...]:
    """The first few that are sound; nothing of which a part may be renewed at the same time."""
    touched = {place for part in work.key.allowed for place in all_parts()[part].places}
    return tuple(name for name in sound_names(work) if name not in touched)[:3]


def _chain(work: Work) -> tuple[str, ...]:
    """For each kind of link in this life one, one that was seen or read where there is one."""
    wanted = wanted_links(work)
    return tuple(
        next((name for name in wanted[kind] if link_shown(work, name)), wanted[kind][0])
        for kind in LINK_KINDS
        if kind in wanted
    )


def _proof(work: Work) -> Proof:
    book = work.offered(follow_ups()).values()
    fits = [each for each in book if each.sound and set(each.groups) & groups(work)]
    recheck = next(each.id for each in book if each.kind == "recheck" and each.sound)
    advice = tuple(each.id for each in fits if each.kind == "advice")
    return Proof(repeat=tuple(_failed(work)[:1]), hot=True, recheck=recheck, advice=advice)


def _cautions(work: Work) -> tuple[str, ...]:
    """For each danger a caution, and when not to test."""
    book = work.offered(cautions()).values()
    care = [each.id for each in book if set(each.risks) & risks(work)]
    barred = [each for each in book if each.kind == "not"]
    true = [each.id for each in barred if holds(work, each)]
    always = [each.id for each in barred if not each.refused and not each.looks]
    return tuple((care or ["dust"]) + (true or always))
