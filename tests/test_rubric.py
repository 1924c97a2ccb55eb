"""The rubric: every criterion at every level, just made and just missed, and the gates.

The levels are those of the course's own rubric (common practice, no source). Records are put together from the key of a case,
so that the tests hold for whatever cases are frozen.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import msgspec
import pytest
from graded import Desk, Excluded, LoggedInspection, replace
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course_lib.assessment.record import Record, Refused
from course_lib.assessment.rubric import TITLES, WEIGHTS, grade_record
from course_lib.assessment.rubric.chain import link_shown, true_links, wanted_links
from course_lib.assessment.rubric.evidence import BAR, decides, left_standing, near_look_alikes, twin
from course_lib.assessment.rubric.mark_sheet import criterion_mark, total
from course_lib.assessment.rubric.part_and_cause import damaged_parts, five_questions, sound_parts
from course_lib.assessment.rubric.repair_plan import called_for
from course_lib.assessment.rubric.safety import refused, risks
from course_lib.cases.repair_forward import drive_repair
from course_lib.diagnosis import certificate
from course_lib.diagnosis.key_entries import EvidenceWeights
from course_lib.faults.answer_choices import cautions, chain_links
from course_lib.faults.causes import load_cause
from course_lib.faults.parts import all_parts
from course_lib.shop.findings import all_inspections, refused_acts, title_of
from course_lib.vehicle.unit_spec import load_unit

TOP = Path(__file__).resolve().parent.parent
_P01 = Desk("P01")
UNSAFE = [each.id for each in cautions().values() if each.kind == "unsafe"]


@pytest.fixture(scope="module", params=["K15", "K17", "M01"])
def desk(request) -> Desk:
    """Each frozen case."""
    return Desk(request.param)


def reached(desk: Desk, record: Record, criterion: str) -> int:
    """The level of one criterion."""
    return grade_record(record, desk.case, desk.key).of(criterion).level


# ---------------------------------------------------------------------- 32 cells
def rung_part(desk: Desk) -> list[Record]:
    must = desk.key.parts
    return [
        desk.record(parts=(desk.part(near=False),)),
        desk.record(parts=(*must[:2], desk.part(near=True))),
        desk.record(cleared=desk.answer.cleared[:1]),
        desk.record(cleared=desk.answer.cleared[:2]),
    ]


def rung_cause(desk: Desk) -> list[Record]:
    return [
        desk.record(causes=(desk.wrong_cause(family=False),)),
        desk.record(causes=(desk.wrong_cause(family=True),)),
        desk.proof(repeat=()),
        desk.expert,
    ]


def rung_chain(desk: Desk) -> list[Record]:
    chain = desk.answer.chain
    return [
        desk.record(chain=false_links(desk)[:1]),
        desk.record(chain=chain[:1]),
        desk.without("interview"),  # nobody was asked what is felt
        desk.expert,
    ]


def rung_evidence(desk: Desk) -> list[Record]:
    return [
        desk.record(evidence=()),
        desk.record(evidence=("interview",)),
        desk.record(evidence=(*desk.answer.evidence, idle_finding(desk))),
        desk.expert,
    ]


def rung_look_alikes(desk: Desk) -> list[Record]:
    first, second = desk.answer.excluded
    silent = idle_finding(desk, against=first.cause)
    return [
        desk.record(excluded=()),
        desk.record(excluded=(Excluded(cause=first.cause, finding=silent),)),
        desk.record(excluded=(first, Excluded(cause=second.cause, finding=silent_for(desk, second.cause)))),
        desk.expert,
    ]


def rung_repair(desk: Desk) -> list[Record]:
    wrong = desk.wrong_cause(family=False)
    return [
        desk.repair(correct=()),
        desk.repair(correct=(wrong,)),
        desk.repair(also=desk.answer.repair.also[:-1]),
        desk.expert,
    ]


def rung_proof(desk: Desk) -> list[Record]:
    return [
        desk.proof(repeat=()),
        desk.proof(repeat=(sound_finding(desk),)),
        desk.proof(recheck="recheck_year"),
        desk.expert,
    ]


def rung_safety(desk: Desk) -> list[Record]:
    care = [name for name in desk.answer.cautions if cautions()[name].kind == "care"]
    return [
        desk.record(cautions=()),
        desk.record(cautions=tuple(care[1:]) or ("generic",)),
        desk.record(cautions=tuple(care)),
        desk.expert,
    ]


RUNGS = {
    "part": rung_part,
    "cause": rung_cause,
    "chain": rung_chain,
    "evidence": rung_evidence,
    "look-alikes": rung_look_alikes,
    "repair": rung_repair,
    "proof": rung_proof,
    "safety": rung_safety,
}


@pytest.mark.parametrize("criterion", WEIGHTS)
@pytest.mark.parametrize("height", [0, 1, 2, 3])
def test_each_level_is_made_by_one_thing_and_missed_without_it(desk, criterion, height):
    """A record that just makes the level; the one below lacks one thing and misses it; the other criteria keep their marks."""
    rungs = RUNGS[criterion](desk)
    sheet = grade_record(rungs[height], desk.case, desk.key)
    mine = sheet.of(criterion)
    assert mine.level == height, mine.reason
    assert mine.most == WEIGHTS[criterion] and mine.points == round(WEIGHTS[criterion] * height / 3, 1)
    if height:
        below = grade_record(rungs[height - 1], desk.case, desk.key).of(criterion)
        assert below.level == height - 1 and below.reason != mine.reason
    assert mine.reason.endswith(".") and len(mine.reason.split()) <= 32


def false_links(desk: Desk) -> tuple[str, ...]:
    true = true_links(desk.work())
    return tuple(name for name in chain_links(desk.case.unit_spec) if name not in true)


def idle_finding(desk: Desk, against: str = "") -> str:
    """A finding that was made and excludes nothing, or not this cause."""
    work = desk.work()
    causes = [against] if against else work.worth.causes
    return next(name for name in work.had if max(work.worth.against(name, cause) for cause in causes) < BAR)


def silent_for(desk: Desk, cause: str) -> str:
    return idle_finding(desk, against=cause)


def sound_finding(desk: Desk) -> str:
    """A finding that was made and was right before."""
    return next(name for name in desk.work().had if name not in desk.key.mended)


# ---------------------------------------------------------------------- the expert, and nobody
def test_the_expert_reaches_every_point(desk):
    """The full record can be had on every case: nothing is asked that the case does not give."""
    sheet = grade_record(desk.expert, desk.case, desk.key)
    assert [each.level for each in sheet.criteria] == [3] * 8
    assert (sheet.total, sheet.returned, sheet.gates, sheet.remarks) == (100, False, (), ())
    assert desk.expert.minutes_used == sum(finding.minutes for finding in desk.work().made)


def test_an_empty_record_earns_nothing(desk):
    """Nothing handed in: eight reasons, no points, not returned."""
    sheet = grade_record(Record(case_id=desk.case.id), desk.case, desk.key)
    assert [each.level for each in sheet.criteria] == [0] * 8
    assert (
        sheet.total == 0
        and not sheet.returned
        and tuple(each.criterion for each in sheet.criteria) == tuple(WEIGHTS)
    )


def test_a_draft_is_not_graded(desk):
    """Only what was handed in counts."""
    draft = replace(desk.expert, handed_in=None, history=())
    assert grade_record(draft, desk.case, desk.key).total == 0


# ---------------------------------------------------------------------- each criterion closer
def test_part_needs_exactly_what_is_broken_and_how_far_it_goes(desk):
    """Nothing named, a hurt part alone, one of two parts that must be renewed, and a part cleared that is not sound."""
    assert reached(desk, desk.record(parts=()), "part") == 0
    beside = sorted(damaged_parts(desk.work()))
    assert beside, "the frozen cases have damage beside the part"
    assert reached(desk, desk.record(parts=(beside[0],)), "part") == 1
    assert reached(desk, desk.record(cleared=(*desk.answer.cleared, beside[0])), "part") == 2
    one, key = desk.key.parts, desk.key
    desk.key = replace(key, parts=(*one, beside[0]), either=(one,), back={one[0]: 12.0, beside[0]: 900.0})
    try:
        for renew, points in ((one, 2), ((*one, beside[0]), 3)):
            plan = replace(desk.answer.repair, renew=renew)
            assert reached(desk, desk.record(parts=one, repair=plan), "part") == points
    finally:
        desk.key = key


def test_a_holding_element_may_be_cleared_unless_a_part_of_it_is_bad(desk):
    """The page offers elements, as a road test clears them; one that slid for want of pressure alone is sound."""
    elements = load_unit(desk.case.unit).element_ids
    bad = {
        name.partition("@")[2] for name, link in true_links(desk.work()).items() if link.kind != "action"
    }.intersection(elements)
    assert bad, "something is damaged in the frozen cases"
    sound = (*(name for name in elements if name not in bad), *sound_parts(desk.work()))[:2]
    assert sound[0] in elements
    assert reached(desk, desk.record(cleared=sound), "part") == 3
    assert all(reached(desk, desk.record(cleared=(*sound, name)), "part") == 2 for name in bad)


@pytest.mark.parametrize("question", ["before", "explains", "brings back", "again"])
def test_the_cause_is_expert_only_with_every_question_answered(desk, question):
    """Each of the five questions alone keeps it at sound; the fifth, a finding that shows it, is the gate of the lucky guess."""
    record = {
        "before": desk.record(chain=desk.answer.chain[::-1]),
        "explains": desk.record(cleared=()),
        "brings back": desk.proof(repeat=(sound_finding(desk),)),
        "again": desk.repair(correct=(desk.wrong_cause(family=False),)),
    }[question]
    assert [name for name, passed in five_questions(desk.work(record)).items() if not passed] == [question]
    assert reached(desk, record, "cause") == 2


def test_a_second_cause_that_is_none_spoils_the_first(desk):
    """Exactly the causes; one too many is weak."""
    both = (*desk.key.causes, desk.wrong_cause(family=False))
    assert reached(desk, desk.record(causes=both), "cause") == 1


def test_one_of_two_causes_is_weak_and_its_repair_half(desk):
    """With a second cause in the key, the first alone is not all of it; named and mended together they are."""
    second = desk.wrong_cause(family=False)
    key = replace(desk.key, causes=(*desk.key.causes, second))
    one = grade_record(desk.expert, desk.case, key)
    assert (one.of("cause").level, one.of("repair").level) == (1, 1) and one.total > 50
    both = desk.record(causes=key.causes, repair=replace(desk.answer.repair, correct=key.causes))
    sheet = grade_record(both, desk.case, key)
    assert sheet.of("cause").level == 3 and sheet.of("repair").level >= 2


def test_the_chain_must_be_true_whole_and_in_order(desk):
    """One false link, a stage left out, two links the wrong way round: each makes it weak."""
    chain = desk.answer.chain
    assert reached(desk, desk.record(chain=(*chain, false_links(desk)[0])), "chain") == 1
    for place in range(len(chain)):
        assert reached(desk, desk.record(chain=chain[:place] + chain[place + 1 :]), "chain") == 1
    assert reached(desk, desk.record(chain=(chain[-1], *chain[:-1])), "chain") == 1
    assert reached(desk, desk.record(chain=()), "chain") == 0
    assert reached(desk, desk.record(chain=("no_such_link",)), "chain") == 0


def test_a_chain_read_off_the_life_itself_is_always_in_order(desk):
    """Links in the order in which the log of the life has them are never called wrong, whatever their stage."""
    log = desk.key.vehicle.events
    true = true_links(desk.work()).values()
    when = {
        link.id: min(log[event] for event in link.events if event in log)
        for link in true
        if set(link.events) & set(log)
    }
    felt = [link.id for link in true if link.kind == "felt"][:1]
    chain = desk.answer.chain[:1] + tuple(
        sorted((name for name in when if name not in desk.answer.chain[:1]), key=when.get)
    )
    sheet = grade_record(desk.record(chain=(*chain[:11], *felt)), desk.case, desk.key)
    assert "wrong order" not in sheet.of("chain").reason


def test_two_links_without_a_finding_are_weak(desk):
    """All links named on a vehicle nobody looked at."""
    record = replace(desk.expert, inspections=())
    assert not any(link_shown(desk.work(record), name) for name in desk.answer.chain)
    assert reached(desk, record, "chain") == 1


def test_evidence_counts_only_where_it_was_found(desk):
    """The same ids without the inspections behind them are guesses, and the cause falls to a lucky guess."""
    record = replace(desk.expert, inspections=())
    sheet = grade_record(record, desk.case, desk.key)
    assert sheet.of("evidence").level == 0 and sheet.of("cause").level == 1
    assert any("never found" in remark for remark in sheet.remarks)


# A worth made by hand: ten wrong causes, the first of them the twin; findings of different inspections.
TEN = tuple(f"cause_{i}" for i in range(10))


def by_hand(desk: Desk, **findings: tuple[int, ...]):
    """The desk's key with that worth, and the twin first."""
    worth = EvidenceWeights(causes=TEN, look_alikes=TEN[:3], findings=findings)
    certificate = replace_slots(desk.key.certificate, twin=TEN[0])
    return replace(desk.key, worth=worth, certificate=certificate)


def replace_slots(certificate_, **changes):
    fields = {name: getattr(certificate_, name) for name in certificate_.__slots__}
    return type(certificate_)(**fields | changes)


@pytest.mark.parametrize(
    "road, fluid, wanted",
    [
        ((13,) * 10, (), 3),  # one finding, twenty to one against all
        ((12,) * 10, (), 0),  # it excludes nobody
        ((13,) * 9 + (12,), (), 3),  # a tenth left
        ((13,) * 8 + (12, 12), (), 2),  # more than a tenth left
        ((13,) * 5 + (0,) * 5, (), 2),  # half left
        ((13,) * 4 + (0,) * 6, (), 1),  # more than half left
        ((12,) + (13,) * 9, (), 1),  # the twin left
        ((12,) + (13,) * 9, (1,) * 10, 2),  # a makeweight: it helps, and excludes nobody by itself
        ((7,) * 10, (6,) * 10, 0),  # together twenty to one, each by itself nothing
        ((13,) * 5 + (0,) * 5, (0,) * 5 + (13,) * 5, 3),  # two halves
        ((20,) * 10, (13,) * 5 + (-8,) * 5, 2),  # the second speaks for five suspects
    ],
)
def test_evidence_at_the_bar(road, fluid, wanted):
    """The bar is 13 decibans, twenty to one; findings of different inspections add up."""
    desk = _P01
    one, other = reading_of(desk, "fluid_hot"), reading_of(desk, "fluid_cold")
    key = by_hand(desk, **{one: road} | ({other: fluid} if fluid else {}))
    record = desk.record(evidence=(one, other) if fluid else (one,))
    record = replace(record, inspections=steps("interview", "fluid_cold", "fluid_hot"))
    assert grade_record(record, desk.case, key).of("evidence").level == wanted


def test_opening_more_than_the_case_needs_is_not_expert():
    """The same finding from a unit taken apart: expert where nothing outside decides, sound where a look at the stick would."""
    record = _P01.record(evidence=("pump_face_in",))
    record = replace(record, inspections=steps("interview", "pan", "teardown", "measure"))
    stick = reading_of(_P01, "fluid_hot")
    for outside, wanted in (((0,) * 10, 3), ((12,) + (20,) * 9, 3), ((13,) * 10, 2)):
        key = by_hand(_P01, **{"pump_face_in": (20,) * 10, stick: outside})
        mine = grade_record(record, _P01.case, key).of("evidence")
        assert mine.level == wanted, mine.reason


@pytest.mark.parametrize("against_twin, wanted", [(3, 1), (2, 0)])
def test_the_deciding_inspection_of_the_ideal_way_decides(against_twin, wanted):
    """Where half of the suspects are gone and it speaks two to one against the twin; else it is a lucky guess."""
    deciding = reading_of(_P01, "cooler_check")
    key = by_hand(_P01, **{deciding: (against_twin, *(13,) * 5, *(0,) * 4)})
    key = replace(key, certificate=replace_slots(key.certificate, deciding="cooler_check"))
    record = replace(_P01.record(evidence=(deciding,)), inspections=steps("interview", "cooler_check"))
    assert decides(desk_work(_P01, record, key)) == bool(wanted)


def test_talking_and_looking_come_first():
    """A gauge as the very first thing is sound at best."""
    first = reading_of(_P01, "signal_check")
    key = by_hand(_P01, **{first: (20,) * 10})
    record = _P01.record(evidence=(first,))
    for order, wanted in ((("interview", "signal_check"), 3), (("signal_check", "interview"), 2)):
        assert (
            grade_record(replace(record, inspections=steps(*order)), _P01.case, key).of("evidence").level
            == wanted
        )


def test_evidence_is_measured_against_the_ideal_minutes():
    """Three times the ideal is still expert, a minute more is not; what comes after the deciding finding does not count."""
    outside = [
        name
        for name, each in all_inspections().items()
        if each.openness <= 3 and name not in ("stall_test", "pan")
    ]
    outside.remove("signal_check")
    last = reading_of(_P01, "signal_check")
    key = by_hand(_P01, **{last: (20,) * 10})
    done = steps(*outside, "signal_check")
    record = replace(_P01.record(evidence=(last,)), inspections=done + steps("pan"))
    made = desk_work(_P01, record, key).made
    assert [finding.inspection for finding in made[-2:]] == ["signal_check", "pan"]
    minutes = sum(finding.minutes for finding in made[:-1])
    assert minutes > 180
    for ideal, wanted in ((-(-minutes // 3), 3), ((minutes - 1) // 3, 2)):
        certificate_ = replace_slots(key.certificate, minutes=ideal)
        mine = grade_record(record, _P01.case, replace(key, certificate=certificate_)).of("evidence")
        assert mine.level == wanted, mine.reason


def test_findings_of_one_inspection_do_not_add_up():
    """Two readings of the same gauge share their errors: the one that says more counts."""
    desk = _P01
    first, second = ("level_cold_in", "level_engine_off_in")
    key = by_hand(desk, **{first: (13,) + (7,) * 9, second: (0,) + (7,) * 9})
    record = replace(desk.record(evidence=(first, second)), inspections=steps("interview", "fluid_cold"))
    assert len(left_standing(desk_work(desk, record, key), (first, second))) == 9


def desk_work(desk: Desk, record: Record, key):
    from course_lib.assessment.rubric.work import work_of

    return work_of(record, desk.case, key)


def reading_of(desk: Desk, inspection: str) -> str:
    """The last one: the first of some is read elsewhere as well."""
    return desk.case._file.findings[inspection].readings[-1].key


def steps(*names: str) -> tuple[LoggedInspection, ...]:
    return tuple(LoggedInspection(inspection=name, minutes=all_inspections()[name].minutes) for name in names)


def test_a_look_alike_counts_only_if_it_was_close_and_its_own_finding_excludes_it(desk):
    """A far cause, the true cause, the same finding twice."""
    first, second = desk.answer.excluded
    work = desk.work()
    far = next(
        Excluded(cause=cause, finding=name)
        for name in work.had
        for cause in work.worth.causes
        if cause not in near_look_alikes(work) and work.worth.against(name, cause) >= BAR
    )
    assert reached(desk, desk.record(excluded=(far,)), "look-alikes") == 1
    true = Excluded(cause=desk.key.causes[0], finding=first.finding)
    assert reached(desk, desk.record(excluded=(first, second, true)), "look-alikes") == 1
    assert reached(desk, desk.record(excluded=(true,)), "look-alikes") == 0
    shared = [
        cause for cause in sorted(near_look_alikes(work)) if work.worth.against(first.finding, cause) >= BAR
    ]
    if len(shared) > 1:
        twice = tuple(Excluded(cause=cause, finding=first.finding) for cause in shared[:2])
        assert reached(desk, desk.record(excluded=twice), "look-alikes") == 2
    assert twin(work) in near_look_alikes(work)


def test_the_repair_is_driven_forward(desk):
    """The part alone is judged by what the plan says, the cause alone by whether it stays away on this vehicle."""
    alone = desk.repair(renew=(), also=())
    stays = drive_repair(desk.key, (), desk.key.causes).miles is None
    assert reached(desk, alone, "repair") == (2 if stays else 1)
    assert reached(desk, desk.repair(correct=(), also=()), "repair") == 0
    nothing = desk.repair(renew=(), correct=(desk.wrong_cause(family=False),))
    assert reached(desk, nothing, "repair") == 0


@pytest.mark.parametrize("harm", ["more_pressure", "add_additive", "tight_band", "bigger_cooler"])
def test_a_repair_that_does_harm_is_weak(desk, harm):
    """One thing that hides the fault beside everything right."""
    assert reached(desk, desk.repair(also=(*desk.answer.repair.also, harm)), "repair") == 1


def test_a_sound_part_renewed_is_not_expert(desk):
    """It stays away, and somebody paid for nothing."""
    idle = desk.part(near=False)
    assert reached(desk, desk.repair(renew=(*desk.answer.repair.renew, idle)), "repair") == 2


def test_each_kind_of_work_called_for_is_missed(desk):
    """Cleaning, related wear, measured set-up: without one of them it is sound, not expert."""
    asked = called_for(desk.work())
    assert "set_up" in asked
    for kind, ids in asked.items():
        also = tuple(name for name in desk.answer.repair.also if name not in ids)
        if kind == "wear":  # said by renewing it as well
            assert reached(desk, desk.repair(also=also), "repair") == 3
        else:
            assert reached(desk, desk.repair(also=also), "repair") == 2


def test_proof_is_hot_and_in_numbers(desk):
    """Cold, without a number, with the wrong advice, without advice."""
    warm = [
        name
        for name in desk.work().had
        if name in desk.key.mended
        and all_inspections()[desk.work().had[name].inspection].sump in ("hot", "as driven")
    ]
    for name in warm[:1]:
        assert reached(desk, desk.proof(repeat=(name,), hot=False), "proof") == 1
    assert reached(desk, desk.proof(advice=()), "proof") == 2
    assert reached(desk, desk.proof(advice=(*desk.answer.proof.advice, "advice_top_up")), "proof") == 2
    assert reached(desk, desk.proof(recheck=""), "proof") == 2
    assert reached(desk, desk.proof(repeat=("no_such_reading",)), "proof") == 0


def test_every_danger_met_needs_its_caution(desk):
    """Take out the cautions of one danger after the other."""
    for risk in sorted(risks(desk.work())):
        kept = tuple(name for name in desk.answer.cautions if risk not in cautions()[name].risks)
        assert reached(desk, desk.record(cautions=kept), "safety") == 1
    assert reached(desk, desk.record(cautions=("generic",)), "safety") == 1


# ---------------------------------------------------------------------- gates
def test_without_the_cause_a_record_earns_half_at_most(desk):
    """Everything else expert: capped. The right family: not capped."""
    missed = grade_record(desk.record(causes=(desk.wrong_cause(family=False),)), desk.case, desk.key)
    assert (
        missed.total == 50
        and missed.of("cause").level == 0
        and any("at most 50" in gate for gate in missed.gates)
    )
    assert sum(Fraction(each.most * each.level, 3) for each in missed.criteria) > 50
    near_ = grade_record(desk.record(causes=(desk.wrong_cause(family=True),)), desk.case, desk.key)
    assert near_.total > 50 and not near_.gates


@pytest.mark.parametrize("unsafe", UNSAFE)
def test_an_unsafe_step_returns_the_record(desk, unsafe):
    """However good the rest: safety 0, and the record goes back with a sentence that says why."""
    sheet = grade_record(desk.record(cautions=(*desk.answer.cautions, unsafe)), desk.case, desk.key)
    assert sheet.returned and sheet.of("safety").level == 0
    assert any(cautions()[unsafe].label in gate for gate in sheet.gates) and "goes back" in sheet.gates[-1]


def test_a_stall_test_is_called_fine_only_where_it_is(desk):
    """On a vehicle where it is refused that is unsafe; on the same vehicle with sound readings it is not."""
    assert refused(desk.work(), "stall_test"), "the frozen cases forbid it"
    record = desk.record(cautions=(*desk.answer.cautions, "stall_here"))
    assert grade_record(record, desk.case, desk.key).returned
    sound = sound_outside(desk)
    assert not grade_record(record, sound, desk.key).returned


def sound_outside(desk: Desk):
    """The case with every reading and look that a stall test depends on as a sound vehicle has them."""
    findings = dict(desk.case._file.findings)
    for name in all_inspections()["stall_test"].needs:
        finding = findings[name]
        readings = tuple(replace(r, value=middle(r), note="") for r in finding.readings)
        looks = tuple(replace(look, grade=0) for look in finding.looks)
        findings[name] = replace(finding, readings=readings, looks=looks)
    return type(desk.case)(replace(desk.case._file, findings=findings))


def middle(reading) -> float:
    """The middle of its spec."""
    low, high = reading.spec or (0.0, 0.0)
    low, high = (high if low is None else low), (low if high is None else high)
    return 0.0 if reading.key.endswith("slip_rpm") else (low + high) / 2.0


def test_a_stall_test_in_the_log_of_a_vehicle_that_forbids_it_returns_the_record(desk):
    """It can only be there by hand: the bench refuses it. Without what it needs it is only out of place."""
    needs = all_inspections()["stall_test"].needs
    late = desk.first("interview", *(name for name in all_inspections() if name in needs), "stall_test")
    sheet = grade_record(late, desk.case, desk.key)
    assert sheet.returned and any("refused as unsafe" in remark for remark in sheet.remarks)
    early = grade_record(desk.first("stall_test"), desk.case, desk.key)
    assert not early.returned and any("cannot have come at that point" in remark for remark in early.remarks)


def test_an_act_that_is_always_refused_returns_the_record(desk):
    """It is no inspection, so it can only be there by hand; it is called by its title."""
    name, act = next(iter(refused_acts().items()))
    steps = (LoggedInspection(inspection=name, minutes=5),)
    sheet = grade_record(replace(desk.record(), inspections=steps), desk.case, desk.key)
    assert sheet.returned and any(act.title in gate for gate in sheet.gates)


def test_a_right_cause_without_a_deciding_finding_is_a_lucky_guess(desk):
    """The same cause, the twin not excluded by what is cited: weak, with the gate. With it: expert, without."""
    guess = desk.record(evidence=(idle_finding(desk),))
    sheet = grade_record(guess, desk.case, desk.key)
    assert not decides(desk.work(guess))
    assert sheet.of("cause").level == 1 and any("lucky guess" in gate for gate in sheet.gates)
    assert not grade_record(desk.expert, desk.case, desk.key).gates


# ---------------------------------------------------------------------- the log
def test_what_was_asked_for_and_refused_is_told_and_costs_nothing(desk):
    """For the instructor, by its title and when; a name that nobody knows is told as it stands."""
    name, act = next(iter(refused_acts().items()))
    asked = (Refused(act=name, after=2), Refused(act="no such act", after=0))
    sheet = grade_record(replace(desk.expert, refused=asked), desk.case, desk.key)
    assert sheet.total == 100 and not sheet.returned and not sheet.gates
    first, second = sheet.remarks
    assert act.title in first and "after 2 inspections" in first and "no such act" in second


def test_minutes_changed_by_hand_are_said(desk):
    """And nothing else is: the findings stay made."""
    first = desk.expert.inspections[0]
    cheap = replace(
        desk.expert, inspections=(replace(first, minutes=1), *desk.expert.inspections[1:]), history=()
    )
    sheet = grade_record(cheap, desk.case, desk.key)
    assert sheet.remarks == (
        f"“{title_of(first.inspection)}” takes {first.minutes} minutes, and the log says 1.",
    )
    assert sheet.total == 100


def test_a_log_changed_by_hand_is_said(desk):
    """Twice the same, one that does not exist, one out of order, a history that does not fit."""
    steps_ = desk.expert.inspections
    odd = (
        LoggedInspection(inspection="crystal_ball", minutes=5),
        LoggedInspection(inspection="measure", minutes=75),
        *steps_,
        steps_[0],
    )
    remarks = grade_record(replace(desk.expert, inspections=odd, attempts=0), desk.case, desk.key).remarks
    for words in ("no inspection of this case", "cannot have come", "in the log twice", "count says 0"):
        assert any(words in remark for remark in remarks), words
    other = replace(desk.expert, handed_in=replace(desk.answer, why="another"))
    assert any("none of those handed in" in r for r in grade_record(other, desk.case, desk.key).remarks)
    shorter = replace(desk.expert, inspections=steps_[:1])
    assert any("shorter" in r for r in grade_record(shorter, desk.case, desk.key).remarks)


def test_cited_findings_that_were_never_made_are_said(desk):
    """In evidence, exclusions and proof."""
    record = desk.record(
        evidence=("sun_spots",),
        excluded=(Excluded(cause=desk.answer.excluded[0].cause, finding="moon_phase"),),
        proof=replace(desk.answer.proof, repeat=("tea_leaves",)),
    )
    remarks = " ".join(grade_record(record, desk.case, desk.key).remarks)
    assert all(name in remarks for name in ("sun_spots", "moon_phase", "tea_leaves"))


def test_what_does_not_belong_together_is_refused():
    """Another case's record or key, or a key from before the rubric."""
    one, other = Desk("W01"), Desk("P01")
    for record, case, key in ((one.expert, other.case, other.key), (one.expert, one.case, other.key)):
        with pytest.raises(ValueError, match="must be of one case"):
            grade_record(record, case, key)
    with pytest.raises(ValueError, match="must hold what findings are worth"):
        grade_record(one.expert, one.case, replace(one.key, worth=EvidenceWeights()))


# ---------------------------------------------------------------------- fair, and the same everywhere
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    why=st.text(max_size=200),
    confidence=st.sampled_from(["", "sure", "not sure"]),
    order=st.randoms(use_true_random=False),
)
def test_free_text_and_the_order_of_lists_change_no_mark(why, confidence, order):
    """Words are for people. Lists are sets, but for the chain."""
    desk = _P01
    lists = ("parts", "causes", "cleared", "evidence", "excluded", "cautions")
    mixed = {
        name: tuple(order.sample(getattr(desk.answer, name), len(getattr(desk.answer, name))))
        for name in lists
    }
    record = desk.record(why=why, confidence=confidence, **mixed)
    record = replace(record, history=())
    assert grade_record(record, desk.case, desk.key) == grade_record(desk.expert, desk.case, desk.key)


NAMES = st.sampled_from(
    sorted(
        {
            name
            for pairs in (_P01.case.part_choices, _P01.case.cause_choices, _P01.case.chain_choices)
            for name, _ in pairs
        }
        | set(cautions())
        | set(_P01.key.worth.findings)
    )
)


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_any_answer_gets_a_sheet(data):
    """Names from any list in any field: a sheet with eight levels and a total within bounds, never an exception."""
    desk = _P01

    def some(most):
        return tuple(data.draw(st.lists(NAMES, max_size=most)))

    record = desk.record(
        parts=some(3),
        causes=some(2),
        cleared=some(3),
        chain=some(5),
        evidence=some(5),
        excluded=tuple(Excluded(cause=a, finding=b) for a, b in zip(some(3), some(3), strict=False)),
        repair=replace(desk.answer.repair, renew=some(4), correct=some(2), also=some(3)),
        cautions=some(4),
    )
    sheet = grade_record(record, desk.case, desk.key)
    assert (
        len(sheet.criteria) == 8
        and 0 <= sheet.total <= 100
        and all(0 <= each.level <= 3 for each in sheet.criteria)
    )


def test_another_program_gives_the_same_sheet(desk):
    """Byte for byte, with other hash seeds, from the record as a file: two machines mark alike."""
    code = (
        "import sys, msgspec; from course_lib import load_case, load_key; "
        "from course_lib.assessment.record.shape import decode; "
        "from course_lib.assessment.rubric import grade_record; r = decode(sys.stdin.buffer.read()); "
        "sys.stdout.buffer.write(msgspec.json.encode(grade_record(r, load_case(r.case_id), load_key(r.case_id))))"
    )
    record = desk.record(evidence=desk.answer.evidence[:1], chain=desk.answer.chain[::-1])
    here = msgspec.json.encode(grade_record(record, desk.case, desk.key))
    environment = os.environ | {"PYTHONHASHSEED": "7"}
    there = subprocess.run(
        [sys.executable, "-c", code],
        input=msgspec.json.encode(record),
        capture_output=True,
        cwd=TOP,
        env=environment,
        check=True,
    )
    assert there.stdout == here


def test_no_reason_names_the_answer(desk):
    """A sheet of wrong answers tells what is missing and never what is true."""
    wrong = desk.record(
        parts=(desk.part(near=False),),
        causes=(desk.wrong_cause(family=False),),
        chain=(),
        evidence=(),
        excluded=(),
        repair=replace(desk.answer.repair, renew=(), correct=(), also=()),
    )
    sheet = grade_record(wrong, desk.case, desk.key)
    said = " ".join([*(each.reason for each in sheet.criteria), *sheet.gates]).lower()
    names = [load_cause(name).label for name in desk.key.causes] + [
        all_parts()[name].label for name in desk.key.parts
    ]
    assert not [name for name in names if name.lower() in said]


# ---------------------------------------------------------------------- the numbers
def test_weights_add_up_and_have_titles():
    """As the rubric of the course has them: 15 25 15 15 10 10 5 5."""
    assert list(WEIGHTS.values()) == [15, 25, 15, 15, 10, 10, 5, 5] and sum(WEIGHTS.values()) == 100
    assert list(TITLES) == list(WEIGHTS)


@pytest.mark.parametrize(
    "levels, points",
    [
        ((2, 0, 1, 1, 0, 1, 0, 1), 25),  # 10 + 0 + 5 + 5 + 0 + 10/3 + 0 + 5/3 = 25, worked by hand
        ((3,) * 8, 100),
        ((0, 1, 0, 0, 0, 0, 0, 0), 8),  # 25/3 = 8.33
        ((0, 1, 0, 0, 0, 1, 0, 1), 13),  # (25 + 10 + 5)/3 = 13.33
        ((0, 2, 0, 0, 0, 0, 0, 0), 17),  # 50/3 = 16.67
    ],
)
def test_points_by_hand(levels, points):
    """Thirds of the weights, added exactly and then rounded once."""
    criteria = tuple(
        criterion_mark(name, reached_, "because.") for name, reached_ in zip(WEIGHTS, levels, strict=True)
    )
    assert total(criteria) == points
    assert total(criteria) == int(
        sum(Fraction(each.most * each.level, 3) for each in criteria) + Fraction(1, 2)
    )


def test_the_bar_is_that_of_the_certificate():
    """Twenty to one is 13 decibans (Good, 1950: ten times the common logarithm of the odds)."""
    assert round(10.0 * 1.30103) == BAR  # log10 20 = 1.30103, from a table of logarithms
    assert certificate.BAR == 20.0


def test_a_sheet_is_plain_data(desk):
    """It goes to JSON and back."""
    sheet = grade_record(desk.expert, desk.case, desk.key)
    assert msgspec.json.decode(msgspec.json.encode(sheet), type=type(sheet)) == sheet
    assert json.loads(msgspec.json.encode(sheet))["criteria"][1]["criterion"] == "cause"


def test_wanted_links_are_links_of_the_unit(desk):
    """The way of the chain is one that can be chosen, and the sound parts are on the parts list."""
    choices = {name for name, _ in desk.case.chain_choices}
    assert {name for names in wanted_links(desk.work()).values() for name in names} <= choices
    assert set(sound_parts(desk.work())) <= {name for name, _ in desk.case.part_choices}
