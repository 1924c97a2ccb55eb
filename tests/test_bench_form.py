"""The form of the bench: the whole record in steps, what is given, notes, taking back, units; all without a screen."""

from __future__ import annotations

import pytest
from fake_case import FakeCase, FakeKey
from test_bench_model import RIGHT, Hand, form_fields

from course_lib.assessment.record import (
    Answer,
    Excluded,
    Proof,
    Record,
    RepairPlan,
    record_answer,
    save_record,
)
from course_lib.assessment.record.shape import new_answer
from course_lib.base.units import PSI
from course_lib.bench import Bench, BenchModel, WorkState
from course_lib.bench.bench_sheet import draw_sheet
from course_lib.bench.fields import FIELDS, STEPS, get
from course_lib.faults import answer_choices
from course_lib.vehicle.unit_spec import load_unit

CHAIN = list(answer_choices.chain_links(load_unit("T3")))[:3]
WHOLE = RIGHT | {
    "chain": CHAIN,
    "cleared": ["direct_clutch"],
    "excluded": [["pump_worn_abrasive", "line_pressure_r_idle_psi"], ["filter_clogged_residue", ""]],
    "repair.renew": ["forward_clutch_plates"],
    "repair.correct": ["pressure_regulator_stuck_low"],
    "repair.also": ["flush_cooler"],
    "repair.estimate": "rebuild",
    "repair.asked": True,
    "proof.repeat": ["line_pressure_d_idle_psi"],
    "proof.hot": True,
    "proof.recheck": "recheck_500",
    "proof.advice": ["advice_fluid"],
    "cautions": ["scald", "moving"],
    "notes": "Ask again about July.",
}


@pytest.fixture
def hand(tmp_path):
    hand = Hand(tmp_path)
    hand.inspect("line_pressure")
    return hand


def field(model, name):
    return next(each for each in form_fields(model) if each["name"] == name)


def test_the_whole_record_is_filled_in_and_handed_in(hand):
    """Each field of the form ends in its own place of the record; an open suspect stays with the draft."""
    hand.do("draft", answer=WHOLE)
    assert {each["name"] for each in form_fields(hand.model)} == set(FIELDS) == set(WHOLE)
    assert [each["name"] for each in form_fields(hand.model) if each["value"] != WHOLE[each["name"]]] == []
    hand.do("hand_in")
    handed_in = hand.saved.handed_in
    assert handed_in.repair == RepairPlan(
        renew=("forward_clutch_plates",),
        correct=("pressure_regulator_stuck_low",),
        also=("flush_cooler",),
        estimate="rebuild",
        asked=True,
    )
    assert handed_in.proof == Proof(
        repeat=("line_pressure_d_idle_psi",), hot=True, recheck="recheck_500", advice=("advice_fluid",)
    )
    assert handed_in.excluded == (Excluded(cause="pump_worn_abrasive", finding="line_pressure_r_idle_psi"),)
    assert handed_in.chain == tuple(CHAIN) and handed_in.cautions == ("scald", "moving")
    assert hand.saved.notes == "Ask again about July."
    assert len(hand.saved.answer.excluded) == 2 and hand.model.locked


def test_every_place_of_an_answer_has_a_field():
    """A field added to the record must be asked for somewhere, or the list here says why not."""
    inner = {"repair": RepairPlan, "proof": Proof}
    places = {
        f"{name}.{below}" if below else name
        for name in Answer.__struct_fields__
        for below in (inner[name].__struct_fields__ if name in inner else ("",))
    }
    assert places | {"notes"} == set(FIELDS)
    assert all(get(Record(case_id="x"), name) is not None for name in FIELDS)


def test_only_what_must_be_there_keeps_an_answer_back(hand):
    """Steps left open are handed in, and named."""
    hand.do("hand_in", answer=RIGHT)
    assert hand.model.state is WorkState.RIGHT
    said = draw_sheet(hand.model)["hand"]["said"]
    assert said[1] == "Left open: how it came about, the repair, the proof that it holds, what to watch for."


def test_a_step_says_how_far_it_is(hand):
    """Open, begun, filled in, asked for."""

    def statuses():
        return {name: step["status"] for name, step in draw_sheet(hand.model)["hand"]["steps"].items()}

    hand.do("draft", answer={"parts": ["pump"], "proof.repeat": ["line_pressure_d_idle_psi"]})
    assert statuses()["parts"] == "filled in" and statuses()["proof.repeat"] == "begun"
    assert statuses()["causes"] == "to do"
    hand.do("hand_in")
    assert statuses()["causes"] == "asked for"


def test_a_short_form_asks_for_the_five_that_must_be_there(tmp_path):
    """The fields of the first notebooks, and the learner's own thoughts as ever."""
    model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path, form="short")
    names = [
        f["name"] for step in draw_sheet(model)["hand"]["steps"].values() for f in step["fields"].values()
    ]
    assert names == ["parts", "causes", "evidence", "why", "confidence"]
    with pytest.raises(ValueError, match="form must be"):
        BenchModel(FakeCase(), FakeKey(), folder=tmp_path, form="long")


def test_what_is_given_is_filled_in_again_where_another_tab_has_emptied_it(tmp_path):
    """The record on disk counts, but what came with the case is no work of the learner's that could be lost."""
    given = new_answer(parts="forward_clutch_plates")
    model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path, given=given)
    save_record(Record(case_id=model.case.id, answer=new_answer(parts="pump", why="typed")), tmp_path)
    model.do({"n": 1, "do": "choose", "inspection": "pan"})
    assert model.answer.parts == ("forward_clutch_plates",) and model.answer.why == "typed"


def test_what_is_given_stands_fast_and_is_handed_in(tmp_path):
    """Shown as given, deaf to drafts and taking back, part of the answer that counts; after a restart too."""
    given = new_answer(
        parts="forward_clutch_plates", chain=CHAIN, repair=RepairPlan(renew=("forward_clutch_plates",))
    )
    for _ in range(2):
        model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path, given=given)
        assert model.state is not WorkState.READY
        model.do({"n": 1, "do": "draft", "answer": {"parts": ["pump"], "chain": [], "why": "so"}})
        model.do({"n": 2, "do": "undo"})
        model.do({"n": 3, "do": "undo"})
        assert model.answer.parts == ("forward_clutch_plates",) and model.answer.chain == tuple(CHAIN)
    assert field(model, "parts")["locked"] and field(model, "parts")["note"] == "Given with the case."
    steps = {name: step["status"] for name, step in draw_sheet(model)["hand"]["steps"].items()}
    assert (steps["parts"], steps["chain"], steps["causes"]) == ("given", "given", "to do")
    model.do({"n": 4, "do": "inspect", "inspection": "line_pressure"})
    model.do({"n": 5, "do": "hand_in", "answer": {name: RIGHT[name] for name in RIGHT if name != "parts"}})
    assert model.state is WorkState.RIGHT
    assert model.record.handed_in.repair.renew == ("forward_clutch_plates",)


def test_a_case_with_something_given_is_new_until_the_learner_acts(tmp_path):
    """What came with the case is no work of the learner's, and nothing is written for it."""
    model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path, given=new_answer(parts="pump"))
    assert model.state is WorkState.NEW and list(tmp_path.iterdir()) == []


def test_what_is_given_comes_back_where_another_program_wrote_over_it(tmp_path):
    """A typed call in another cell answers otherwise; the next step on the page has read it, and the given part stands again."""
    model = BenchModel(
        FakeCase(), FakeKey(), folder=tmp_path, given=new_answer(parts="forward_clutch_plates")
    )
    model.do({"n": 1, "do": "inspect", "inspection": "line_pressure"})
    record_answer(
        FakeCase().id, parts="pump", causes="pump_worn_abrasive", folder=tmp_path, why="Typed elsewhere."
    )
    model.do({"n": 2, "do": "inspect", "inspection": "stall_test"})
    assert model.record.attempts == 1 and model.answer.why == "Typed elsewhere."
    assert model.answer.parts == ("forward_clutch_plates",)


def test_changes_are_taken_back_one_by_one(hand):
    """Newest first, typing in one field as one change; inspections stay paid for."""
    hand.do("draft", answer={"parts": ["pump"]})
    hand.do("draft", answer={"parts": ["pump", "forward_clutch_plates"]})
    for text in ("It", "It slipped", "It slipped."):
        hand.do("draft", answer={"why": text})
    assert draw_sheet(hand.model)["hand"]["undo"] == "Take back: how one thing led to the next"
    hand.do("undo")
    assert hand.saved.answer == Answer(parts=("pump", "forward_clutch_plates"))
    hand.do("undo")
    assert hand.saved.answer == Answer(parts=("pump",))
    assert hand.model.form_said == "Taken back: broken part."
    hand.do("undo")
    assert hand.saved.answer == Answer() and draw_sheet(hand.model)["hand"]["undo"] == ""
    before = hand.saved
    hand.do("undo")
    assert hand.saved == before and hand.model.minutes_used == 35


def test_nothing_is_taken_back_from_an_answer_handed_in(hand):
    """It counts as it is; after reopening the next change begins a new list."""
    hand.do("hand_in", answer=RIGHT)
    hand.do("undo")
    assert hand.model.state is WorkState.RIGHT
    hand.do("reopen")
    hand.do("undo")
    assert hand.model.answer.parts == ("forward_clutch_plates",)


def test_an_inspection_chosen_and_not_paid_for_is_left_again(hand):
    """Leaving it costs nothing and changes nothing."""
    before = hand.saved
    hand.do("choose", inspection="pan")
    assert draw_sheet(hand.model)["inspections"]["chosen"] == "pan"
    hand.do("choose", inspection="")
    assert draw_sheet(hand.model)["inspections"]["chosen"] == "" and hand.saved == before


def test_notes_are_the_learners_own(hand):
    """They are saved, stay open after the hand-in, and are no part of the answer."""
    hand.do("hand_in", answer=RIGHT | {"notes": "cold: fine"})
    hand.do("draft", answer={"notes": "cold: fine, hot: not", "parts": ["pump"]})
    assert hand.saved.notes == "cold: fine, hot: not"
    assert hand.saved.answer.parts == ("forward_clutch_plates",) and hand.model.locked
    assert not field(hand.model, "notes")["locked"] and field(hand.model, "excluded")["locked"]


def test_a_link_that_is_moved_is_told(hand):
    """Somebody who does not see the cards hears where the card went."""
    hand.do("draft", answer={"chain": CHAIN})
    turned = [CHAIN[1], CHAIN[0], CHAIN[2]]
    hand.do("draft", answer={"chain": turned}, moved=CHAIN[0])
    label = dict(FakeCase.chain_choices)[CHAIN[0]]
    assert draw_sheet(hand.model)["hand"]["said"] == [f"\u201c{label}\u201d is now number 2 of 3."]
    assert hand.saved.answer.chain == tuple(turned)


def test_a_list_stops_at_its_bound(hand):
    """More than the record holds is never taken."""
    every = list(answer_choices.chain_links(load_unit("T3")))
    hand.do("draft", answer={"chain": every})
    assert hand.saved.answer.chain == tuple(every[: FIELDS["chain"].most])


def test_names_on_no_list_are_shown_and_lost_only_by_the_learner(hand):
    """A typed call may have named what the form does not offer; the page can show it."""
    record_answer("T3-7", parts="engine", causes="pump_worn_abrasive", folder=hand.folder)
    hand.do("choose", inspection="")
    assert field(hand.model, "parts")["extra"] == [["engine", "engine", ""]]


def test_units_change_everywhere_at_once_and_are_remembered(hand):
    """Readings, specs, sump, options and choices; the next bench in this folder opens in them.

    48 psi and the spec of 62 to 72 psi are 331 and 427 to 496 kPa. Source: NIST SP 811 (2008), 1 psi = 6.894757 kPa.
    """
    hand.do("units", system="metric")
    assert abs(PSI / 1000 - 6.894757) < 1e-6
    for model in (hand.model, BenchModel(FakeCase("other"), FakeKey("other"), folder=hand.folder)):
        assert draw_sheet(model)["units"]["value"] == "metric"
    sheet = draw_sheet(hand.model)
    finding = sheet["know"]["findings"]["line_pressure"]
    row = finding["rows"][0]
    assert row[1].startswith("331\u202fkPa") and row[2] == "427 to 496\u202fkPa"
    assert row[4] == "below" and "82" in finding["detail"] and "°C" in finding["detail"]
    assert "331\u202fkPa" in sheet["choices"]["evidence"]["line_pressure_d_idle_psi"][0]
    assert sheet["order"]["pairs"][0][1].endswith("193,604\u00a0km")
    assert not any(unit in str(sheet) for unit in ("\u202fpsi", " psi'", "\u00a0mi'"))
    hand.do("units", system="imperial")
    assert hand.model.system == "metric"
    hand.do("units", system="workshop")
    assert draw_sheet(hand.model)["know"]["findings"]["line_pressure"]["rows"][0][1].startswith("48\u202fpsi")


def test_units_change_on_every_open_bench_of_a_kernel(tmp_path):
    """Two benches in one notebook never show one reading in two units; another folder is another learner's."""
    first, second = (Bench(BenchModel(FakeCase(name), FakeKey(name), folder=tmp_path)) for name in ("a", "b"))
    other = Bench(BenchModel(FakeCase(), FakeKey(), folder=tmp_path / "other"))
    first.told({"n": 1, "do": "units", "system": "metric"})
    assert [bench.sheet["units"]["value"] for bench in (first, second, other)] == [
        "metric",
        "metric",
        "workshop",
    ]


def test_units_hold_where_they_cannot_be_remembered(tmp_path):
    """A folder that cannot be written changes nothing on the page."""
    folder = tmp_path / "answers"
    folder.write_text("in the way")
    model = BenchModel(FakeCase(), FakeKey(), folder=folder)
    model.do({"n": 1, "do": "units", "system": "metric"})
    assert draw_sheet(model)["units"]["value"] == "metric"


def test_what_is_left_follows_from_the_gears_and_the_road(hand):
    """What holds in one range is cleared for every range; what slides in each range it works in is suspect.

    T3 is the known three-speed train of two equal sets with one sun: first D uses the forward clutch and the low one-way
    clutch, third the forward and the direct clutch, reverse the direct clutch and the low-reverse band (textbook).
    """
    assert draw_sheet(hand.model)["know"]["left"] is None
    hand.inspect("road_test")
    roads, elements, _ = draw_sheet(hand.model)["know"]["left"]["blocks"]
    assert [row["sign"] for row in roads["rows"]] == ["care", "care", "within", "within"]
    words = {row["cells"][0]: (row["sign"], row["cells"][1]) for row in elements["rows"]}
    assert words["direct clutch"] == ("cleared", "less likely: holds in R, up a ramp")
    assert words["forward clutch"] == (
        "suspect",
        "suspect: slips in first, D, hard pull-away; third, up a long hill",
    ), "first held in the bend, with a light pedal: that clears nothing"
    assert words["intermediate band"] == ("open", "not asked yet")
    assert roads["rows"][2]["cells"][:2] == ["D, tight bend at 25 mph", "holds"], "as it was found"


def test_what_the_learner_strikes_out_stands_beside_what_the_road_says(hand):
    """The two may differ: the marks are the learner's, kept in the record."""
    hand.inspect("road_test")
    hand.do("draft", answer={"cleared": ["forward_clutch"]})
    rows = draw_sheet(hand.model)["know"]["left"]["blocks"][1]["rows"]
    assert [row["cells"][0] for row in rows if row["cells"][2] == "struck out"] == ["forward clutch"]
    assert hand.saved.answer.cleared == ("forward_clutch",)


def test_titles_of_steps_are_in_the_order_of_the_work():
    """What broke, why, how, by what proof; then what is done about it."""
    assert [step.fields[0].name for step in STEPS] == [
        "parts", "causes", "chain", "evidence", "repair.renew", "proof.repeat", "cautions", "why"
    ]  # fmt: skip
