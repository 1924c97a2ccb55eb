"""The bench without a screen: every state, every way between them, and nothing lost or done twice."""

from __future__ import annotations

import json
import os

import pytest
from fake_case import CAUSES, MADE, OFFERED, PARTS, STORIES, FakeCase, FakeKey

from course_lib.assessment.record import (
    MOST_CHARACTERS,
    Answer,
    Excluded,
    LoggedInspection,
    Record,
    RecordNotSaved,
    load_record,
    record_answer,
    save_record,
)
from course_lib.bench import BenchModel, WorkState, work_record
from course_lib.bench.bench_sheet import draw_sheet
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.shop.findings import refused_acts

RIGHT = {
    "parts": ["forward_clutch_plates"],
    "causes": ["pressure_regulator_stuck_low"],
    "evidence": ["line_pressure_d_idle_psi"],
    "why": "Low pressure let the plates slip.",
    "confidence": "sure",
}
OUTCOMES = [
    (RIGHT, WorkState.RIGHT, "part and cause"),
    (RIGHT | {"causes": ["pump_worn_abrasive"]}, WorkState.PART_ONLY, "part only"),
    (RIGHT | {"parts": ["pump"]}, WorkState.CAUSE_ONLY, "cause only"),
    (RIGHT | {"parts": ["pump"], "causes": ["pump_worn_abrasive"]}, WorkState.NEITHER, "neither"),
]


def form_fields(model):
    """Every field of the form and of the learner's own thoughts, as the page gets it."""
    sheet = draw_sheet(model)
    steps = [sheet["think"], *sheet["hand"]["steps"].values()]
    return [field for step in steps for field in step["fields"].values()]


def inspection_rows(model):
    """Every inspection that is offered, as the page gets it."""
    groups = draw_sheet(model)["inspections"]["groups"].values()
    return {name: row for group in groups for name, row in group["rows"].items()}


class Hand:
    """Sends numbered acts to a model, as the page does."""

    def __init__(self, folder, mode="practice"):
        self.folder, self.mode, self.count = folder, mode, 0
        self.open()

    def open(self):
        """A new kernel: a new case object, a new model, the same folder."""
        key = FakeKey() if self.mode == "practice" else None
        self.model = BenchModel(FakeCase(), key, mode=self.mode, folder=self.folder)

    def do(self, name, **more):
        self.count += 1
        self.model.do({"n": f"hand-{self.count}", "do": name, **more})
        return self.model

    def inspect(self, *names):
        for name in names:
            self.do("inspect", inspection=name)
        return self.model

    @property
    def saved(self):
        return load_record("T3-7", self.folder)


@pytest.fixture
def hand(tmp_path):
    return Hand(tmp_path)


def test_a_new_case_is_new_and_writes_nothing(hand, tmp_path):
    """Opening and looking leave no file behind."""
    assert hand.model.state is WorkState.NEW
    hand.do("choose", inspection="pan")
    assert hand.model.state is WorkState.NEW
    assert os.listdir(tmp_path) == []


def test_an_inspection_costs_its_minutes_and_is_saved_at_once(hand):
    """Finding, minutes and record agree; the choice is cleared for the next decision."""
    hand.do("choose", inspection="line_pressure")
    assert hand.model.chosen == "line_pressure"
    hand.inspect("line_pressure")
    assert hand.model.state is WorkState.INSPECTING
    assert hand.model.minutes_used == 35 and hand.model.chosen == ""
    assert hand.saved.inspections == (LoggedInspection(inspection="line_pressure", minutes=35),)
    assert hand.model.said == (
        "Done: Line pressure test. 35 min, 35 min in all.",
        "Line pressure, D, idle: 48\u202fpsi (swinging 40 to 56), 14\u202fpsi below spec.",
    )
    assert hand.inspect("fluid_cold").said[1:] == (
        "1 reading, none outside spec.",
        "Red-brown, see-through.",
    )


@pytest.mark.parametrize(
    "name, said",
    [
        ("stall_test", "First make: fluid_hot. No minutes were spent."),
        ("", "Choose an inspection first."),
        ("dyno", "Choose an inspection first."),
        (None, "Choose an inspection first."),
        ("interview", "Ask the owner is done already, and what it found stands below. Nothing was spent."),
    ],
)
def test_a_refusal_says_why_and_costs_nothing(hand, name, said):
    """What must come first, nothing chosen, no such inspection, done before."""
    before = hand.inspect("interview").record
    hand.inspect(name)
    assert hand.model.said == (said,)
    assert hand.model.record == before and hand.saved == before


def test_the_same_act_twice_is_done_once(hand):
    """A message that comes again is answered, not repeated."""
    act = {"n": "page-1", "do": "inspect", "inspection": "interview"}
    hand.model.do(act)
    hand.model.do(act | {"inspection": "pan"})
    assert [step.inspection for step in hand.saved.inspections] == ["interview"]
    assert hand.model.ack == "page-1"


def test_what_is_refused_is_chosen_like_any_other(hand):
    """An act that is never allowed stands in its list by its minutes, and is answered with the reason; nothing is spent."""
    act = next(act for act in refused_acts().values() if act.openness == 3)
    hand.model.case.refused_acts = (act,)
    rows = next(
        group["rows"]
        for group in draw_sheet(hand.model)["inspections"]["groups"].values()
        if act.id in group["rows"]
    )
    row, other = rows[act.id], rows[next(name for name in rows if name != act.id)]
    assert set(row) == set(other) and row["time"] == f"{act.minutes} min" and not row["done"]
    hand.model.do({"n": 901, "do": "choose", "inspection": act.id})
    assert hand.model.chosen == act.id
    hand.model.do({"n": 902, "do": "inspect", "inspection": act.id})
    (said,) = hand.model.said
    assert act.reason.split(".")[0] in said and hand.model.minutes_used == 0 and not hand.model.made


def test_what_does_harm_stands_in_the_record_and_what_only_comes_too_early_does_not(hand):
    """Once for each stage of the work, on the disk at once, and told in the debrief; no points are lost."""
    act = next(act for act in refused_acts().values() if "electronic" in act.controls)
    hand.model.case.refused_acts = (act,)
    early = next(each for each in hand.model.case.offered if each.needs)
    for name in (act.id, act.id, early.id, "interview", act.id):
        hand.do("inspect", inspection=name)
    assert not hand.model.made or early.id not in hand.model.made
    assert [(each.act, each.after) for each in hand.saved.refused] == [(act.id, 0), (act.id, 1)]
    hand.do("hand_in", answer=RIGHT | {"evidence": ["interview"]})
    hand.do("debrief")
    assert json.dumps(draw_sheet(hand.model)["debrief"]).count(act.title) == 1


def test_an_unknown_act_is_refused(hand):
    """A page older or newer than the library is told so."""
    with pytest.raises(ValueError, match="do must be .* Did you mean 'inspect'"):
        hand.do("inspects")


def test_a_draft_is_kept_whole_and_only_names_on_the_lists(hand):
    """Unknown, doubled and surplus names are dropped, half characters and long text cut; nothing raises."""
    hand.inspect("line_pressure")
    names = [part[0] for part in PARTS[1:]] + ["pump", "engine", 7]
    draft = {
        "parts": names,
        "causes": "pump_worn_abrasive",
        "evidence": ["level_hot_in"],
        "why": "\ud800" + "x" * 9999,
        "proof.hot": "yes",
        "excluded": [
            ["engine", ""],
            ["pump_worn_abrasive", "level_hot_in"],
            "pump",
            ["pump_worn_abrasive", "line_pressure_d_idle_psi"],
        ],
    }
    hand.do("draft", answer=draft | {"confidence": "certain"})
    assert hand.saved.answer == Answer(
        parts=("forward_clutch_plates", "direct_clutch_plates", "intermediate_band", "pump"),
        why="?" + "x" * (MOST_CHARACTERS - 1),
        excluded=(Excluded(cause="pump_worn_abrasive", finding=""),),
    )
    before = hand.saved
    hand.do("draft", answer="not a form")
    hand.do("draft", answer={"engine": "new", "parts.renew": ["pump"]})
    assert hand.saved == before


def test_evidence_can_be_named_only_from_what_was_found(hand):
    """Readings that were read, what was noticed, and why a reading could not be taken."""
    assert hand.model.lists()["evidence"] == ()
    hand.inspect("road_test")
    choices = {choice[0]: choice[1] for choice in hand.model.lists()["evidence"]}
    assert list(choices) == ["road_test", "shift_12_light_mph", "shift_23_light_mph", "shift_23_full_mph"]
    assert choices["shift_12_light_mph"] == "1 to 2, light throttle: 19\u202fmph"


def test_ready_when_every_field_has_something(hand):
    """Each missing field keeps the answer back, is named, and is marked on the form."""
    hand.inspect("line_pressure")
    for field, nothing in [
        ("parts", []),
        ("causes", []),
        ("evidence", []),
        ("why", "  "),
        ("confidence", ""),
    ]:
        hand.do("hand_in", answer=RIGHT | {field: nothing})
        assert hand.model.state is WorkState.INSPECTING
        assert list(hand.model.gaps()) == [field]
        assert [each["name"] for each in form_fields(hand.model) if each["asked"]] == [field]
        assert hand.model.form_said.startswith("Not handed in yet.")
    hand.do("draft", answer=RIGHT)
    assert hand.model.state is WorkState.READY
    assert not any(each["asked"] for each in form_fields(hand.model))
    assert hand.saved.handed_in is None and hand.saved.attempts == 0


def test_no_part_broken_stands_alone(hand):
    """It is an answer of its own, and cannot be hedged with a part."""
    hand.inspect("line_pressure")
    hand.do("hand_in", answer=RIGHT | {"parts": ["no_part_broken", "pump"]})
    assert "cannot stand beside" in hand.model.gaps()["parts"]
    hand.do("hand_in", answer=RIGHT | {"parts": ["no_part_broken"]})
    assert hand.model.state is WorkState.CAUSE_ONLY


@pytest.mark.parametrize("answer, state, outcome", OUTCOMES, ids=[row[2] for row in OUTCOMES])
def test_practice_is_marked_at_once_and_driven_forward(hand, answer, state, outcome):
    """The state says which half was found; the page shows the marking's words and the story."""
    hand.inspect("line_pressure")
    hand.do("hand_in", answer=answer)
    assert hand.model.state is state and hand.model.locked
    verdict = draw_sheet(hand.model)["verdict"]
    assert verdict["lines"] == list(hand.model.marks.feedback)
    assert verdict["story"] == (list(STORIES[outcome].text) if outcome in STORIES else [])
    assert verdict["good"] is (outcome == "part and cause")


def test_reopening_unlocks_and_the_last_answer_counts(hand):
    """Handed in, reopened, revised, handed in again: two attempts, both kept."""
    hand.inspect("line_pressure")
    first = RIGHT | {"causes": ["pump_worn_abrasive"]}
    hand.do("hand_in", answer=first)
    hand.do("draft", answer=RIGHT)
    hand.inspect("pan")
    assert hand.saved.answer.causes == ("pump_worn_abrasive",), "locked: no draft, no inspection"
    assert len(hand.saved.inspections) == 1 and "Reopen it" in hand.model.said[0]
    hand.do("reopen")
    assert hand.model.state is WorkState.READY and draw_sheet(hand.model)["verdict"] is None
    hand.inspect("pan")
    hand.do("hand_in", answer=RIGHT)
    assert hand.model.state is WorkState.RIGHT
    assert hand.saved.attempts == 2
    assert [each.answer.causes for each in hand.saved.history] == [
        ("pump_worn_abrasive",),
        ("pressure_regulator_stuck_low",),
    ]
    assert "attempt 2" in draw_sheet(hand.model)["hand"]["said"][0]


def test_handing_in_twice_is_one_attempt(hand):
    """A second click on a slow machine changes nothing."""
    hand.inspect("line_pressure")
    hand.do("hand_in", answer=RIGHT)
    hand.do("hand_in", answer=RIGHT)
    assert hand.saved.attempts == 1


def test_marked_mode_says_nothing_about_right_or_wrong(tmp_path):
    """Right and wrong answers leave the same page behind, but for the answer itself."""
    pages = []
    for number, answer in enumerate((RIGHT, RIGHT | {"causes": ["pump_worn_abrasive"]})):
        hand = Hand(tmp_path / str(number), "marked")
        hand.inspect("line_pressure")
        hand.do("hand_in", answer=answer)
        assert hand.model.state is WorkState.UNMARKED and hand.model.marks is None
        sheet = draw_sheet(hand.model)
        assert sheet["verdict"] is None
        assert sheet["hand"]["said"][0].endswith("; your instructor marks it.")
        assert (
            sheet["debrief"] is None
            and sheet["inspections"]["hint"] is None
            and sheet["think"]["odds"] is None
        )
        del sheet["hand"]["steps"], sheet["hand"]["said"]
        pages.append(sheet)
    assert pages[0] == pages[1]


def test_a_marked_case_may_be_revised_and_the_latest_counts(tmp_path):
    """Until then the earlier answer keeps counting, also over a restart in between."""
    hand = Hand(tmp_path, "marked")
    hand.inspect("line_pressure")
    hand.do("hand_in", answer=RIGHT | {"causes": ["pump_worn_abrasive"]})
    hand.do("reopen")
    hand.do("draft", answer=RIGHT)
    hand.open()
    assert hand.model.state is WorkState.READY
    assert hand.saved.handed_in.causes == ("pump_worn_abrasive",)
    hand.do("hand_in")
    assert hand.saved.handed_in.causes == ("pressure_regulator_stuck_low",)


@pytest.mark.parametrize("mode, key", [("practice", None), ("without help", None), ("marked", FakeKey())])
def test_a_key_belongs_to_every_mode_but_the_marked_one(mode, key, tmp_path):
    """Nobody is told how it stands without it; a marked case must not hold it."""
    with pytest.raises(ValueError, match="key must be left out in marked mode and given in every other"):
        BenchModel(FakeCase(), key, mode=mode, folder=tmp_path)
    with pytest.raises(ValueError, match="mode must be"):
        BenchModel(FakeCase(), key, mode="exam", folder=tmp_path)


def test_a_key_of_another_case_is_refused(tmp_path):
    """A case that was dealt cannot be opened with hints and odds by lending it a key of the course."""
    with pytest.raises(ValueError, match="key must belong to case T3-7, got one of W01"):
        BenchModel(FakeCase(), load_key("W01"), folder=tmp_path)


def test_without_help_the_hand_in_is_judged_and_nothing_helps(tmp_path):
    """No hint and no odds, also to a page that asks for them; then the verdict, and the debrief."""
    model = BenchModel(FakeCase(), FakeKey(), mode="without help", folder=tmp_path)
    for number, act in enumerate(("hint", "odds")):
        model.do({"n": number, "do": act})
    assert not model.record.helped and model.helper.standing() is None
    sheet = draw_sheet(model)
    assert (sheet["inspections"]["hint"], sheet["think"]["odds"]) == (None, None)
    assert sheet["order"]["mode"].startswith("Case without help.")
    model.do({"n": 3, "do": "inspect", "inspection": "line_pressure"})
    model.do({"n": 4, "do": "hand_in", "answer": RIGHT})
    assert model.state is WorkState.RIGHT and draw_sheet(model)["verdict"]["good"]
    assert "instructor" not in draw_sheet(model)["hand"]["said"][0]


def test_a_restart_brings_everything_back(hand):
    """Findings, minutes, draft and verdict are on the sheet again, word for word."""
    hand.inspect("interview", "fluid_hot", "stall_test")
    hand.do("draft", answer=RIGHT | {"evidence": ["stall_speed_d_rpm"]})
    before = draw_sheet(hand.model)
    hand.open()
    after = draw_sheet(hand.model)
    for part in ("minutes", "know", "state", "order", "think"):
        assert after[part] == before[part]
    assert after["hand"]["steps"] == before["hand"]["steps"]
    hand.do("hand_in")
    handed_in = draw_sheet(hand.model)
    hand.open()
    assert draw_sheet(hand.model)["verdict"] == handed_in["verdict"]
    assert draw_sheet(hand.model)["hand"] == handed_in["hand"]


def test_a_recorded_inspection_that_no_longer_exists_is_told_and_kept(tmp_path):
    """A record from another generator opens; the minutes stay spent."""
    save_record(
        Record(case_id="T3-7", inspections=(LoggedInspection(inspection="dyno", minutes=50),)), tmp_path
    )
    model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path)
    assert "could not be repeated" in draw_sheet(model)["notice"][0]
    assert model.minutes_used == 50


def test_after_a_failed_save_the_older_record_on_disk_undoes_nothing(hand, monkeypatch):
    """What could not be written stays in memory, and is written with the next change that can be."""
    hand.inspect("interview")

    def refuse(*_what):
        raise RecordNotSaved("no room left")

    with monkeypatch.context() as full:
        full.setattr(work_record, "save_record", refuse)
        hand.inspect("fluid_cold")
        assert hand.model.not_saved == "no room left"
        hand.do("choose", inspection="pan")
    assert [step.inspection for step in hand.model.record.inspections] == ["interview", "fluid_cold"]
    hand.do("draft", answer={"notes": "later"})
    assert len(hand.saved.inspections) == 2 and hand.model.not_saved == ""


def test_a_damaged_record_is_told_on_the_sheet(tmp_path):
    """The learner reads where the old file went and goes on."""
    (tmp_path / "T3-7.json").write_text("half a rec")
    hand = Hand(tmp_path)
    assert "T3-7.damaged-1.json" in draw_sheet(hand.model)["notice"][0]
    assert hand.inspect("interview").state is WorkState.INSPECTING


def test_damage_while_at_work_loses_nothing(hand, tmp_path):
    """Memory is the better copy: the damaged file goes aside and the whole record is written again."""
    hand.inspect("interview")
    (tmp_path / "T3-7.json").write_text("half a rec")
    hand.inspect("pan")
    assert [step.inspection for step in hand.saved.inspections] == ["interview", "pan"]


def test_a_typed_answer_and_the_form_never_undo_each_other(hand):
    """The file is the one truth: each side takes over what the other wrote."""
    hand.inspect("line_pressure")
    record_answer("T3-7", parts="pump", causes="pump_worn_abrasive", why="typed", folder=hand.folder)
    hand.do("choose", inspection="")
    assert hand.model.state is WorkState.NEITHER
    assert hand.saved.inspections == (LoggedInspection(inspection="line_pressure", minutes=35),)
    hand.do("reopen")
    hand.do("hand_in", answer=RIGHT)
    assert hand.saved.attempts == 2


def test_inspections_made_by_call_count_too(tmp_path):
    """`case.inspect` in a cell before the bench opens is on the record and paid for."""
    case = FakeCase()
    case.inspect("interview")
    model = BenchModel(case, FakeKey(), folder=tmp_path)
    assert model.minutes_used == 10
    model.do({"n": 1, "do": "inspect", "inspection": "pan"})
    assert [step.inspection for step in load_record("T3-7", tmp_path).inspections] == ["interview", "pan"]


def test_a_folder_that_cannot_be_written_is_told_and_tried_again(tmp_path):
    """Work goes on in memory; the first save that succeeds holds all of it."""
    folder = tmp_path / "answers"
    folder.write_text("a file stands in the way")
    hand = Hand(folder)
    hand.inspect("interview", "line_pressure")
    hand.do("hand_in", answer=RIGHT)
    sheet = draw_sheet(hand.model)
    assert (
        "could not be written" in sheet["notice"][0] and "could not be written" in sheet["hand"]["said"][-1]
    )
    assert hand.model.state is WorkState.RIGHT
    folder.unlink()
    hand.do("reopen")
    hand.inspect("pan")
    assert draw_sheet(hand.model)["notice"] == []
    assert [step.inspection for step in hand.saved.inspections] == ["interview", "line_pressure", "pan"]
    assert hand.saved.attempts == 1


def test_the_sheet_is_plain_data_and_never_holds_the_answer(hand):
    """What goes to the page survives JSON and has the key's words only as options of the full lists."""
    sheet = draw_sheet(hand.inspect("interview", "line_pressure", "road_test"))
    assert json.loads(json.dumps(sheet)) == sheet
    choices = sheet.pop("choices")
    assert list(choices["parts"]) == [part[0] for part in PARTS]
    assert list(choices["causes"]) == [cause[0] for cause in CAUSES]
    assert "pressure_regulator_stuck_low" not in json.dumps(sheet)
    assert not any(line in json.dumps(sheet) for story in STORIES.values() for line in story.text)


def test_a_result_gives_side_and_size(hand):
    """Words, wedge side and number come from the same reading."""
    groups = draw_sheet(hand.inspect("line_pressure", "road_test"))["know"]["findings"]
    rows = {what: (side, result) for group in groups.values() for what, _, _, result, side in group["rows"]}
    assert rows == {
        "Line pressure, D, idle": ("below", "14\u202fpsi below spec"),
        "Line pressure, R, idle": ("within", "within spec"),
        "1 to 2, light throttle": ("above", "5\u202fmph above spec"),
        "2 to 3, light throttle": ("within", "within spec"),
        "2 to 3, full throttle": ("not", "not read"),
    }
    assert list(groups) == ["line_pressure", "road_test"]


def test_each_inspection_shows_minutes_danger_and_what_must_come_first(hand):
    """The danger stands before what to do about it; advice without danger is not dressed as a caution."""
    rows = inspection_rows(hand.model)
    assert list(rows) == [each.id for each in OFFERED]
    assert rows["pan"]["button"] == "Do this inspection (45 min)"
    assert (rows["pan"]["danger"], rows["pan"]["caution"]) == ("Hot fluid scalds:", "let it cool, gloves on.")
    assert rows["interview"]["danger"] == "" and rows["interview"]["advice"]
    assert rows["stall_test"]["needs"] == "after: Fluid check, hot"
    hand.inspect("fluid_hot")
    rows = inspection_rows(hand.model)
    assert rows["stall_test"]["needs"] == "" and rows["fluid_hot"]["time"] == "done"


def test_the_practice_case_of_the_course_is_worked_to_its_end(tmp_path):
    """The computed case has the same face as the fake: every inspection is made, or refused with a reason."""
    model = BenchModel(load_case("P01"), load_key("P01"), folder=tmp_path)
    for number, inspection in enumerate(model.case.offered):
        model.do({"n": number, "do": "inspect", "inspection": inspection.id})
        made = inspection.id in {finding.inspection for finding in model.findings}
        assert made or "No minutes were spent." in model.said[0]
    evidence = [model.lists()["evidence"][0][0]]
    answer = RIGHT | {"parts": list(model.key.parts), "causes": list(model.key.causes), "evidence": evidence}
    model.do({"n": "last", "do": "hand_in", "answer": answer})
    assert model.state is WorkState.RIGHT and draw_sheet(model)["verdict"]["story"]
    again = BenchModel(load_case("P01"), load_key("P01"), folder=tmp_path)
    assert json.dumps(draw_sheet(again)["know"]) == json.dumps(draw_sheet(model)["know"])
    assert again.state is WorkState.RIGHT


def test_the_fake_is_read_whole():
    """Each inspection of the fake has a finding, so that no test passes for lack of data."""
    assert set(MADE) == {each.id for each in OFFERED}
