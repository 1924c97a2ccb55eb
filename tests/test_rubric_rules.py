"""Rules of the rubric that the ladder of levels passes by, each by a record that differs in that one thing."""

import dataclasses

import pytest
from graded import Desk, Excluded, replace

from course_lib.assessment.marking import SURE
from course_lib.assessment.rubric import chain, evidence, grade_record, model_answer, repair_plan, safety
from course_lib.assessment.rubric.chain import true_links, wanted_links
from course_lib.assessment.rubric.evidence import BAR, SPEAKS, decides, twin
from course_lib.assessment.rubric.mark_sheet import TOP, WITHOUT_CAUSE, MarkSheet, criterion_mark
from course_lib.assessment.rubric.part_and_cause import damaged_parts, five_questions
from course_lib.assessment.rubric.repair_plan import called_for, groups, judge_proof, judge_repair
from course_lib.assessment.rubric.safety import judge_safety
from course_lib.assessment.rubric.work import work_of
from course_lib.cases import repair_forward
from course_lib.diagnosis.key_entries import EvidenceWeights
from course_lib.faults.answer_choices import LINK_KINDS, cautions, estimates, follow_ups, repair_extras
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import NO_PART, all_parts
from course_lib.shop.findings import OPENS, all_inspections, inspections_for, offered_inspections

UNCONDITIONAL = tuple(
    each.id for each in cautions().values() if each.kind == "not" and not (each.refused or each.looks)
)
BY_LOOKS = tuple(
    each.id for each in cautions().values() if each.kind == "not" and each.looks and not each.refused
)


@pytest.fixture(scope="module")
def desk():
    """The practice case, its key and the expert's record."""
    return Desk("P01")


def test_a_reading_that_was_never_taken_brings_nothing_back(desk):
    """The fifth question asks for a reading taken before the repair: named without it, it is not answered."""
    work = desk.work()
    repeat = next(name for name in desk.answer.proof.repeat if name in work.key.mended)
    inspection = work.had[repeat].inspection
    assert five_questions(desk.work(desk.proof(repeat=(repeat,))))["brings back"]
    only = replace(
        desk.without(inspection),
        handed_in=replace(desk.answer, proof=replace(desk.answer.proof, repeat=(repeat,))),
    )
    assert repeat not in work_of(only, desk.case, desk.key).had
    assert not five_questions(work_of(only, desk.case, desk.key))["brings back"]


def test_what_stays_out_of_order_is_a_true_link_without_a_log(desk):
    """What the key calls lasting belongs to the chain even where neither the log nor a finding tells of it."""
    work = desk.work()
    silent = next(name for name in dict(desk.case.chain_choices) if name not in true_links(work))
    key = replace(desk.key, lasting=(*desk.key.lasting, silent))
    assert silent in true_links(work_of(desk.expert, desk.case, key))


def test_cleaning_and_related_wear_are_called_for_where_there_is_any(desk, monkeypatch):
    """No damage beside the part: nothing to renew beside it. No dirt and no damage in its life: nothing to clean."""
    assert {"wear", "flush"} <= set(called_for(desk.work()))
    alone = replace(desk.key, also=(), parts=desk.key.parts[:1], either=(), back={})
    work = work_of(desk.expert, desk.case, alone)
    assert not damaged_parts(work) and "wear" not in called_for(work) and "flush" in called_for(work)
    for links, dirty in (({}, False), ({"dirt_travels": true_links(work)["dirt_travels"]}, True)):
        monkeypatch.setattr(repair_plan, "true_links", lambda work, links=links: links)
        assert ("flush" in called_for(work)) == dirty


def test_a_life_without_a_link_has_no_start(desk, monkeypatch):
    """Then no chain begins rightly, and none is asked for."""
    monkeypatch.setattr(chain, "wanted_links", lambda work: {})
    assert not chain.starts_right(desk.work())


def test_advice_must_fit_the_cause(desk):
    """Sound advice about something else leaves the fault its way back."""
    causes = groups(desk.work())
    other = next(
        each.id
        for each in follow_ups().values()
        if each.kind == "advice" and each.sound and not set(each.groups) & causes
    )
    assert judge_proof(desk.work()).level == 3
    assert judge_proof(desk.work(desk.proof(advice=(other,)))).level == 2


def test_a_recheck_is_no_advice(desk):
    """The booking of a recheck among what the owner is told keeps no fault away."""
    recheck = desk.answer.proof.recheck
    assert follow_ups()[recheck].sound and not follow_ups()[recheck].groups
    assert judge_proof(desk.work(desk.proof(advice=(recheck,)))).level == 2


def test_a_plan_for_another_cause_mends_nothing_where_nothing_is_broken(desk):
    """Renewing nothing is no work done: with the wrong cause put right as well, neither half is mended."""
    key = replace(desk.key, parts=(NO_PART,), also=(), either=(), back={})
    wrong, right = (
        judge_repair(work_of(desk.repair(renew=(), correct=correct), desk.case, key))
        for correct in ((desk.wrong_cause(family=False),), desk.key.causes)
    )
    assert wrong.level == 0 and "neither" in wrong.reason and right.level > 0


def test_a_start_is_asked_for_where_nothing_stays_out_of_order(desk):
    """With nothing lasting, the links of the start that are true of the vehicle are asked for."""
    at_the_start = {name for name, link in true_links(desk.work()).items() if link.kind == "state"}
    assert at_the_start
    for lasting in ((), ("no_link_of_this_unit",)):
        work = work_of(desk.expert, desk.case, replace(desk.key, lasting=lasting))
        assert at_the_start & set(true_links(work)) == set(wanted_links(work)["state"])
    kept = wanted_links(desk.work())["state"]
    assert kept and set(kept) <= set(desk.key.lasting), "of the practice case something stays out of order"


def test_a_reading_is_found_by_its_name_and_has_a_number_and_a_spec(desk):
    """Each reading that was taken is its own; none without number or spec, none that was not taken."""
    work = desk.work()
    taken = [reading for finding in work.made for reading in finding.readings]
    assert len(taken) > 1 and all(work.reading(each.key).key == each.key for each in taken)
    for lacking in ({"value": None}, {"spec": None}):
        made = tuple(
            replace(each, readings=tuple(replace(r, **lacking) for r in each.readings)) for each in work.made
        )
        assert not any(dataclasses.replace(work, made=made).reading(each.key) for each in taken)
    assert work.reading("no_such_reading") is None and work.reading("interview") is None


def test_the_expert_is_sure_and_advises_what_fits(desk):
    """What an expert tells the owner is sound and about this trouble, and the answer is given as sure."""
    told = [follow_ups()[name] for name in desk.answer.proof.advice]
    assert desk.answer.confidence == SURE
    assert told and all(each.sound and set(each.groups) & groups(desk.work()) for each in told)


def test_the_expert_names_the_general_rule_where_nothing_forbids_a_test(desk, monkeypatch):
    """Of when not to test, what is true of every vehicle; what a look would have to show is left out."""
    for module in (safety, model_answer):
        monkeypatch.setattr(module, "holds", lambda work, caution: False)
    named = model_answer._cautions(desk.work())
    assert set(named) & set(UNCONDITIONAL)
    assert all(name in UNCONDITIONAL for name in named if cautions()[name].kind == "not")
    assert judge_safety(desk.work(desk.record(cautions=named))).level == 3


def test_the_expert_cites_nothing_where_nothing_decides(desk):
    """On a case whose findings speak against no cause there is a record without evidence, and the evidence earns nothing."""
    silent = {name: (0,) * len(desk.key.worth.causes) for name in desk.key.worth.findings}
    key = replace(desk.key, worth=replace(desk.key.worth, findings=silent))
    record = model_answer.model_record(desk.case, key)
    assert record.handed_in.evidence == () and record.handed_in.causes == key.causes
    assert grade_record(record, desk.case, key).of("evidence").level == 0


def test_only_a_set_up_that_belongs_to_the_vehicle_is_called_for(desk):
    """Cleaning and related wear are called for under their own names, never under that of a measured set-up."""
    wanted = called_for(desk.work())
    assert all(repair_extras()[name].kind == kind for kind, names in wanted.items() for name in names)
    assert any(each.groups and set(each.groups) & groups(desk.work()) for each in repair_extras().values())


def test_when_not_to_test_must_be_true_of_this_vehicle(desk):
    """Ruled out by a look that is not there: too careful. Where nothing forbids a test, the general rule is what is asked for."""
    care = tuple(name for name in desk.answer.cautions if cautions()[name].kind == "care")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(safety, "holds", lambda work, caution: False)
        for chosen, expected in ((UNCONDITIONAL, 3), ((), 2), ((*UNCONDITIONAL, *BY_LOOKS), 2)):
            assert judge_safety(desk.work(desk.record(cautions=(*care, *chosen)))).level == expected
        assert "could be tested" in judge_safety(desk.work(desk.record(cautions=(*care, *BY_LOOKS)))).reason


def test_a_part_that_is_no_part_is_an_idle_renewal_and_no_mishap(desk):
    """A record may name what the catalogue has not, or that no part is broken: the plan is driven with the rest of it."""
    renew = (*desk.answer.repair.renew, "gone_from_the_catalogue", "no_part_broken")
    assert judge_repair(desk.work(desk.repair(renew=renew))).level == 2


@pytest.mark.parametrize(
    "earlier, later, against",
    [(None, 3.0, True), (3.0, None, True), (5.0, 3.0, True), (3.0, 3.0, False), (3.0, 5.0, False)],
)
def test_only_the_log_excuses_a_chain_told_backward(desk, monkeypatch, earlier, later, against):
    """A link of a later stage may stand first where this life had it first; where the log is silent, the way of a chain rules."""
    every = true_links(desk.work())
    late, early = (
        next(name for name, link in every.items() if link.kind == stage) for stage in ("damage", "state")
    )
    met = {late: earlier, early: later}
    monkeypatch.setattr(chain, "_odometer", lambda work, link: met[link.id])
    assert chain._out_of_order(desk.work(), [late, early]) == against
    assert not chain._out_of_order(desk.work(), [early, late])


def test_related_wear_is_done_by_its_name_or_by_renewing_all_of_it():
    """Some of the worn parts are not all of them."""
    desk = Desk("K16")
    worn, ids = sorted(damaged_parts(desk.work())), called_for(desk.work())["wear"]
    assert len(worn) > 1, "the frozen case has several"
    for renew, also, done in (
        ((), (), False),
        (worn[:1], (), False),
        (worn, (), True),
        ((), tuple(ids)[:1], True),
    ):
        work = desk.work(desk.repair(renew=(*desk.key.parts, *renew), also=also))
        assert repair_plan._done(work, "wear", ids) == done
        assert repair_plan._done(work, "flush", {"flush_nothing"}) is False


def test_an_estimate_fits_what_is_broken_and_asks(desk):
    """The way that fits and the owner's word are the last step of a plan; either one missing, or another way, costs it."""
    assert judge_repair(desk.work()).level == 3 and desk.answer.repair.asked
    fits = {way.id for way in estimates().fitting(repair_plan.cost(desk.work()))}
    assert desk.answer.repair.estimate in fits
    for other in (
        {"asked": False},
        *({"estimate": way.id} for way in estimates().ways if way.id not in fits),
    ):
        found = judge_repair(desk.work(desk.repair(**other)))
        assert found.level == 2 and "ask the owner first" in found.reason


@pytest.mark.parametrize(
    "parts, causes, ways",
    [
        (["vacuum_hose"], ["vacuum_hose_leak"], {"in_place"}),
        ([], ["low_owc_reversed"], {"repair"}),
        (["direct_clutch_plates"], ["throttle_cable_slack"], {"repair"}),
        (["front_pump", "torque_converter", "direct_clutch_plates"], ["pump_worn_abrasive"], {"repair", "rebuild"}),
        (["case", "direct_clutch_plates", "planetary_set"], ["case_porosity_crossfeed"], {"rebuild", "exchange"}),
    ],
)  # fmt: skip
def test_more_that_is_broken_asks_for_a_larger_way(parts, causes, ways):
    """Nothing inside: the unit stays in. A pack: a repair. Half of it: repair or rebuild. The case as well: rebuild or exchange.

    That a repair is weighed against the price of a rebuild so is common practice, no source.
    """
    book = estimates()
    assert {way.id for way in book.fitting(book.share(parts, causes))} == ways
    shares = [book.share(parts[:n], causes) for n in range(len(parts) + 1)]
    assert shares == sorted(shares)


def test_of_what_slides_the_part_that_broke_is_asked_for():
    """Other elements slide as well; asked for is what happens to the element of the broken part, where it has one."""
    for name, others in (("K17", True), ("P01", False)):
        desk = Desk(name)
        places = {place for part in desk.key.shortest for place in all_parts()[part].places}
        for stage in ("action", "damage"):
            true = {name for name, link in true_links(desk.work()).items() if link.kind == stage}
            own = {name for name in true if name.partition("@")[2] in places}
            assert true and set(wanted_links(desk.work())[stage]) == (own or true)
        assert bool(places) == others


def test_groups_are_those_of_parts_and_causes(desk):
    """That nothing is broken is no group of parts."""
    key = desk.key
    mine = {
        group
        for name in key.causes
        for group in (all_causes()[name].group, all_causes()[name].also_group)
        if group
    }
    assert groups(desk.work()) == mine | {all_parts()[name].group for name in key.shortest}
    assert not {all_parts()[name].group for name in key.shortest} <= mine
    nothing = replace(key, parts=(NO_PART,), also=(), either=(), back={})
    assert groups(work_of(desk.expert, desk.case, nothing)) == mine


def test_every_set_up_called_for_is_one_of_these_groups_and_no_other(desk):
    """A pressure is not set where a cooler was blocked."""
    wanted, mine = called_for(desk.work())["set_up"], groups(desk.work())
    for each in repair_extras().values():
        if each.kind == "set_up":
            assert (each.id in wanted) == bool(set(each.groups) & mine)
    assert "set_pressure" not in wanted


def test_what_is_named_need_not_be_said_again_in_the_plan(desk):
    """How far the damage goes is told by the parts named, or by the plan, or by both together."""
    assert grade_record(desk.repair(renew=()), desk.case, desk.key).of("part").level == 3


def test_a_cause_too_many_put_right_is_idle(desk):
    """It stays away, and a sound thing was worked on; that nothing is broken is no work at all."""
    correct = (*desk.key.causes, desk.wrong_cause(family=False))
    found = judge_repair(desk.work(desk.repair(correct=correct)))
    assert found.level == 2 and "something sound" in found.reason
    assert judge_repair(desk.work(desk.repair(renew=(*desk.answer.repair.renew, NO_PART)))).level == 3


def test_new_parts_alone_do_not_keep_it_away(desk):
    """Every part renewed and the cause left in, it comes back; with the cause put right as well, it does not."""
    assert not repair_plan.plan_stays_away(desk.work(desk.repair(correct=())))
    assert repair_plan.plan_stays_away(desk.work(desk.repair(renew=tuple(desk.key.allowed))))


def test_a_look_proves_less_than_a_number_where_there_is_one(desk):
    """Repeated look, number at hand: sound. No number comes right on this vehicle: the look is all there is."""
    look = next(name for name in desk.key.mended if name in desk.work().had and not desk.work().reading(name))
    record = desk.proof(repeat=(look,))
    found = judge_proof(desk.work(record))
    assert found.level == 2 and "numbers" in found.reason
    assert judge_proof(work_of(record, desk.case, replace(desk.key, mended=(look,)))).level == 3


def test_where_nothing_is_known_to_come_right_any_reading_may_be_repeated(desk):
    """A key that names no reading that comes right asks for none in particular."""
    key = replace(desk.key, mended=())
    other = next(name for name in desk.work().had if name not in desk.key.mended)
    record = desk.proof(repeat=(other,))
    assert judge_proof(desk.work(record)).level == 1
    assert judge_proof(work_of(record, desk.case, key)).level == 3


def test_the_expert_says_what_is_hurt_beside_and_nothing_beside_nothing(desk):
    """With the part the damage beside it; where nothing is broken, that and no more."""
    assert desk.answer.parts == (
        *desk.key.shortest,
        *(each for each in desk.key.also if each in damaged_parts(desk.work())),
    )
    key = replace(desk.key, parts=(NO_PART,), either=(), back={})
    answer = model_answer.model_record(desk.case, key).handed_in
    assert damaged_parts(work_of(desk.expert, desk.case, key)) and answer.parts == (NO_PART,)
    assert NO_PART not in answer.repair.renew


def test_the_expert_tells_a_whole_chain_of_a_vehicle_nobody_looked_at(desk):
    """One link for each stage that this life has, in order; shown ones before others, any where none was shown."""
    work = dataclasses.replace(desk.work(), made=())
    wanted = wanted_links(work)
    told = model_answer._chain(work)
    assert [stage for stage in LINK_KINDS if stage in wanted] == [
        next(stage for stage in wanted if name in wanted[stage]) for name in told
    ]


@pytest.mark.parametrize("name", ["P01", "K15", "K17", "M01"])
def test_the_expert_makes_no_inspection_for_nothing(name):
    """Each is cited, shows a link of the chain, or must come before one that does; or it is the talk with the owner."""
    desk = Desk(name)
    work, answer = desk.work(), desk.answer
    cited = [*answer.evidence, *(each.finding for each in answer.excluded), *answer.proof.repeat]
    wanted = {work.had[each].inspection for each in cited}
    wanted |= {each.inspection for each in work.made if work.shown[each.inspection] & set(answer.chain)}
    table = {each.id: each for each in desk.case.offered}
    needed = model_answer._with_needs(list(wanted), table) | {"interview"}
    assert {each.inspection for each in work.made} <= needed


@pytest.mark.parametrize("name", ["P01", "K16", "K24"])
def test_the_expert_clears_nothing_that_he_renews(name):
    """What is called sound has no part that is renewed beside it, and something is called sound."""
    answer = Desk(name).answer
    renewed = {place for part in answer.repair.renew for place in all_parts()[part].places}
    assert answer.cleared and renewed.isdisjoint(answer.cleared)


def worth_of(desk, **findings):
    """The key with that worth against ten wrong causes, the first of them the twin."""
    causes = tuple(f"cause_{i}" for i in range(10))
    fields = {name: getattr(desk.key.certificate, name) for name in desk.key.certificate.__slots__}
    certificate = type(desk.key.certificate)(
        **fields | {"twin": causes[0], "minutes": 0, "deciding": "cooler_check"}
    )
    return replace(
        desk.key,
        worth=EvidenceWeights(causes=causes, look_alikes=causes[:3], findings=findings),
        certificate=certificate,
    )


@pytest.mark.parametrize("lacking, level", [({}, 1), ({"value": None}, 3), ({"spec": None}, 3)])
def test_a_number_is_asked_for_only_where_there_is_one(desk, lacking, level):
    """A reading without a number or without a spec is none that could be cited: then a look must do."""
    number, sound = "cooler_bypass_s_per_qt", (BAR,) * 10
    key = worth_of(desk, **{number: sound, "fluid_hot": sound})
    work = dataclasses.replace(work_of(desk.record(evidence=("fluid_hot",)), desk.case, key))
    assert any(reading.key == number for finding in work.all_findings for reading in finding.readings)
    work.__dict__["all_findings"] = tuple(
        replace(each, readings=tuple(replace(r, **lacking) for r in each.readings))
        for each in work.all_findings
    )
    assert evidence.judge_evidence(work).level == level


def test_the_deciding_inspection_decides_in_company(desk):
    """A second finding that says nothing of the twin takes nothing from it."""
    key = worth_of(desk, cooler_check=(SPEAKS, *(BAR,) * 5, *(0,) * 4), fluid_hot=(0,) * 10)
    for cited, enough in ((("cooler_check", "fluid_hot"), True), (("fluid_hot",), False)):
        work = work_of(desk.record(evidence=cited), desk.case, key)
        assert twin(work) in evidence.left_standing(work, cited) and decides(work) == enough


def test_minutes_of_opening_are_not_minutes_outside(desk, monkeypatch):
    """Only what is done before the unit is opened is held against the ideal minutes, and to the minute."""
    minutes = {name: each.minutes for name, each in all_inspections().items()}
    key = worth_of(desk, pump_face_in=(20,) * 10)
    steps = desk.first("interview", "pan", "teardown", "measure").inspections[:4]
    record = replace(desk.record(evidence=("pump_face_in",)), inspections=steps)
    for allowed, level in ((minutes["interview"], 3), (minutes["interview"] - 1, 2)):
        monkeypatch.setattr(evidence, "OUTSIDE_MINUTES", allowed)
        found = evidence.judge_evidence(work_of(record, desk.case, key))
        assert found.level == level, found.reason


def test_a_key_without_a_vehicle_marks_by_what_it_says(desk):
    """Nothing can be driven forward: whole is what renews all that must be and puts every cause right."""
    key = replace(desk.key, vehicle=None, either=(), back={})
    assert set(key.parts) < key.allowed
    for renew, correct, away in (
        (key.parts, key.causes, True),
        (key.parts[1:], key.causes, False),
        (key.parts, (), False),
        (tuple(key.allowed), key.causes, True),
    ):
        work = work_of(desk.repair(renew=renew, correct=correct), desk.case, key)
        assert repair_plan.plan_stays_away(work) == away
    assert grade_record(desk.expert, desk.case, key).of("repair").level == 3
    assert grade_record(desk.expert, desk.case, key).of("chain").level <= 3


def test_a_key_without_a_certificate_marks(desk):
    """Nothing in it names a twin or ideal minutes; the same record is graded by what is left."""
    sheet = grade_record(desk.expert, desk.case, replace(desk.key, certificate=None))
    assert sheet.of("cause").level == 3 and sheet.of("evidence").level >= 2


@pytest.mark.parametrize("name", ["P01", "K15", "K16", "K17", "M01"])
def test_the_expert_goes_the_cheap_way_and_cites_no_makeweight(name):
    """Talk first, nothing opened before all that is done outside, and no citation without which as much would be settled."""
    desk = Desk(name)
    work, cited = desk.work(), desk.answer.evidence
    opened = [all_inspections()[each.inspection].openness >= OPENS for each in work.made]
    assert work.made[0].inspection == "interview" and opened == sorted(opened)
    for place in range(1, len(cited)):
        assert model_answer._standing(work, cited[: place + 1]) < model_answer._standing(work, cited[:place])
    assert all(max(work.worth.findings[each]) >= BAR for each in cited)
    repeat = work.had[desk.answer.proof.repeat[0]].inspection
    best = [each for each in work.key.mended if work.reading(each)] or [
        each for each in work.key.mended if each in work.had
    ]
    assert work.reading(desk.answer.proof.repeat[0]) or not any(work.reading(each) for each in best)
    assert all_inspections()[repeat].openness <= min(
        all_inspections()[work.had[each].inspection].openness for each in best
    )
    out = desk.answer.excluded
    assert len({each.finding for each in out}) == len(out) <= 2 and out[0].cause == twin(work)


@pytest.mark.parametrize("control", ["hydraulic", "electronic"])
def test_what_an_inspection_needs_comes_with_all_that_needs_it_in_turn(control):
    """Closed under need, and nothing else; what the other kind of control lacks is stood for by what takes its place."""
    every = offered_inspections(inspections_for(control))
    for name in every:
        found = model_answer._with_needs([name], every)
        assert name in found and all(set(every[each].needs) <= found for each in found)
        assert all(any(each in every[other].needs for other in found) for each in found - {name})


def test_the_expert_gives_no_advice_that_does_harm(desk, monkeypatch):
    """Advice about this very trouble that is unsound is not given."""
    told = next(each for each in desk.answer.proof.advice)
    book = {name: replace(each, sound=False) if name == told else each for name, each in follow_ups().items()}
    monkeypatch.setattr(model_answer, "follow_ups", lambda: book)
    assert told not in model_answer._proof(desk.work()).advice


def test_the_expert_books_a_recheck_wherever_it_stands_in_the_book(desk, monkeypatch):
    """The order of the data is no matter."""
    book = dict(reversed(follow_ups().items()))
    monkeypatch.setattr(model_answer, "follow_ups", lambda: book)
    booked = follow_ups()[model_answer._proof(desk.work()).recheck]
    assert booked.kind == "recheck" and booked.sound


def test_standing_is_counted_by_causes_then_words_then_minutes(desk):
    """A number settles what a look settles, and goes before it; of two that settle as much the quicker goes first."""
    work = work_of(
        desk.expert, desk.case, worth_of(desk, cooler_bypass_s_per_qt=(BAR,) * 10, fluid_hot=(BAR,) * 10)
    )
    minutes = {name: work.had[name].minutes for name in ("cooler_bypass_s_per_qt", "fluid_hot")}
    assert model_answer._standing(work, ("cooler_bypass_s_per_qt",)) == (
        False,
        0,
        0,
        minutes["cooler_bypass_s_per_qt"],
    )
    assert model_answer._standing(work, ("fluid_hot",)) == (False, 0, 1, minutes["fluid_hot"])
    assert model_answer._standing(work, ()) == (True, 10, 0, 0)
    assert model_answer._standing(work, tuple(minutes)) == (False, 0, 1, sum(minutes.values()))
    assert model_answer._counts(work, "fluid_hot") and not model_answer._counts(work, "interview")


def test_what_is_known_of_the_whole_repair_is_not_driven_again(desk, monkeypatch):
    """Everything renewed that may be, and every cause put right: that stays away by the case's own certificate."""
    monkeypatch.setattr(repair_forward, "stays_away", lambda *_: pytest.fail("it was driven"))
    assert repair_plan.plan_stays_away(desk.work(desk.repair(renew=tuple(desk.key.allowed))))
    nothing = replace(desk.key, parts=(NO_PART,), also=(), either=(), back={})
    assert repair_plan.plan_stays_away(work_of(desk.repair(renew=()), desk.case, nothing))


def test_nothing_broken_beside_a_part_is_no_right_area(desk):
    """Where nothing is broken, that and a sound part together are simply wrong."""
    nothing = replace(desk.key, parts=(NO_PART,), also=(), either=(), back={})
    record = desk.record(parts=(NO_PART, desk.part(near=False)))
    assert grade_record(record, desk.case, nothing).of("part").level == 0
    alone = desk.record(
        parts=(NO_PART,), cleared=tuple(name for name, _ in desk.case.part_choices if name != NO_PART)[:2]
    )
    assert grade_record(alone, desk.case, nothing).of("part").level == 3


# ---------------------------------------------------------------------- the pass rule
def test_a_record_passes_above_what_one_without_the_cause_can_have_and_only_if_safe():
    """At the most points without the cause it does not pass, one more and it does; an unsafe step sends any record back."""
    sheet = MarkSheet(case_id="x", criteria=(), gates=(), total=WITHOUT_CAUSE, returned=False)
    assert not sheet.passed and sheet.verdict.startswith("Not passed yet")
    assert replace(sheet, total=WITHOUT_CAUSE + 1).passed
    assert replace(sheet, total=WITHOUT_CAUSE + 1).verdict.startswith("Passed")
    assert not replace(sheet, total=100, returned=True).passed
    assert [criterion_mark("part", reached, "").passed for reached in range(TOP + 1)] == [
        False,
        False,
        True,
        True,
    ]


def test_findings_stand_together_against_the_bar_and_each_inspection_speaks_once():
    """Worked by hand: of one inspection the most telling reading counts, those of two add up, and the bar itself excludes."""
    worth = EvidenceWeights(causes=("a", "b"), findings={"one": (8, 2), "two": (6, 13), "three": (5, -4)})
    assert worth.left_standing([["one", "two"]], 13) == ["a"]
    assert worth.left_standing([["one"], ["three"]], 13) == ["b"]
    assert worth.left_standing([["one", "two"], ["three"]], 13) == ["b"]
    assert worth.left_standing([["never made"]], 13) == ["a", "b"]


@pytest.mark.parametrize(
    ("whole", "back", "away"), [(8_000.0, 5_000.0, True), (8_000.0, 3_000.0, False), (None, 49_000.0, False)]
)
def test_what_age_brings_back_is_no_fault_of_the_plan(desk, monkeypatch, whole, back, away):
    """Half the miles after which the whole repair is back: what comes later is age; where it never is back, nothing is."""
    story = replace(desk.key.stories["part and cause"], miles=whole)
    key = replace(desk.key, stories=desk.key.stories | {"part and cause": story})
    monkeypatch.setattr(repair_forward, "drive_forward", lambda trips: trips)
    monkeypatch.setattr(repair_forward, "outcome_of", lambda _lives, _row: None)
    monkeypatch.setattr(repair_forward, "miles_to_return", lambda _past, _outcome: back)
    assert repair_forward.stays_away(key, (), desk.key.causes) == away


def test_what_is_cited_must_not_speak_against_the_cause_that_is_named(desk):
    """The same readings with a cause that they exclude: whoever names it has not read them."""
    named = next(
        c for c in desk.key.worth.causes if c not in evidence.left_standing(desk.work(), desk.answer.evidence)
    )
    assert evidence.judge_evidence(desk.work()).level == 3
    assert evidence.judge_evidence(desk.work(desk.record(causes=(named,)))).level == 1


def test_a_kinsman_of_the_cause_is_a_near_look_alike(desk):
    """A mechanic fears the causes of the same family, however little they fit the complaint."""
    kin = evidence.families(desk.key.causes)
    near = evidence.near_look_alikes(desk.work())
    assert {c for c in desk.key.worth.causes if evidence.families([c]) & kin} <= near
    far = [c for c in desk.key.worth.causes if c not in near]
    assert far and not any(evidence.families([c]) & kin for c in far)


def test_more_proof_after_the_case_is_decided_costs_nothing(desk):
    """A weighty finding from an inspection made long after the deciding ones: minutes and opening count up to those."""
    all_of_it = dataclasses.replace(desk.work(), made=desk.work().all_findings)
    late = next(
        name
        for name in all_of_it.had
        if evidence.weighty(all_of_it, name)
        and all_inspections()[all_of_it.had[name].inspection].openness >= OPENS
    )
    steps = [f.inspection for f in desk.work().made if f.inspection != all_of_it.had[late].inspection]
    made = tuple(
        f for name in (*steps, all_of_it.had[late].inspection) for f in all_of_it.made if f.inspection == name
    )
    answer = replace(desk.answer, evidence=(*desk.answer.evidence, late))
    more = dataclasses.replace(desk.work(), made=made, answer=answer)
    assert late in evidence.cited(more)
    assert evidence.judge_evidence(more).level == evidence.judge_evidence(desk.work()).level == 3


def test_the_twin_may_fall_by_the_finding_named_against_it(desk, monkeypatch):
    """What is cited halves the suspects; the twin falls by what stands beside it among the look-alikes."""
    nearest = twin(desk.work())
    name = next(n for n in desk.work().had if desk.key.worth.against(n, nearest) >= BAR)
    half = desk.record(excluded=())
    monkeypatch.setattr(evidence, "left_standing", lambda work, names: [nearest])
    monkeypatch.setattr(evidence, "_on_ideal_way", lambda work, name: False)
    assert not decides(desk.work(half))
    assert decides(desk.work(desk.record(excluded=(Excluded(cause=nearest, finding=name),))))
