"""Help and debrief of the bench without a screen: hints, odds, work beside the page, what is told after the hand-in."""

from __future__ import annotations

import json
import threading

import msgspec
import pytest
from fake_case import WORTH, FakeCase, FakeKey, lives
from test_bench_model import RIGHT, Hand

from course_lib.assessment.record import read_record, record_path
from course_lib.assessment.rubric import WEIGHTS
from course_lib.bench import BenchModel, debrief
from course_lib.bench.bench_pictures import Drawn, PictureMaker, finding_picture
from course_lib.bench.bench_sheet import draw_sheet
from course_lib.bench.job_queue import JobQueue
from course_lib.bench.practice_help import kind_of
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.faults.causes import all_causes, load_cause
from course_lib.faults.clues import clues_in


class Helped(Hand):
    """A hand in practice, with lives to compare with that cost nothing."""

    def open(self):
        self.model = BenchModel(FakeCase(), FakeKey(), folder=self.folder, lives=lives)

    def ask(self, name):
        self.do(name)
        draw_sheet(self.model)  # the page draws it, and with that the work begins
        self.model.helper.beside.wait()
        return draw_sheet(self.model)


@pytest.fixture
def hand(tmp_path):
    return Helped(tmp_path)


def words(blocks):
    """All that is read in some blocks."""
    return json.dumps(blocks, ensure_ascii=False)


# ---------------------------------------------------------------------- beside the page
def test_work_beside_the_page_is_done_once_and_tells_how_far_it_is():
    """Asked twice it is one piece; each report of progress is passed on; then the value is there."""
    seen, gate = [], threading.Event()

    def work(progress):
        gate.wait(10)
        progress(1, 2)
        return "done"

    beside = JobQueue(lambda: seen.append((piece.done, piece.total, piece.finished)))
    piece = beside.ask("a", work)
    assert beside.ask("a", work) is piece and not piece.finished
    gate.set()
    beside.wait()
    assert piece.value == "done" and piece.trouble == ""
    assert seen == [(1, 2, False), (1, 2, True)]


def test_trouble_beside_the_page_is_one_line_and_stops_nothing():
    """The next piece is done all the same."""
    beside = JobQueue(lambda: None)

    def fails(_progress):
        raise OSError("cache folder must be writable,\n got none.")

    first, second = beside.ask("a", fails), beside.ask("b", lambda _progress: 7)
    beside.wait()
    assert first.finished and first.trouble == "cache folder must be writable, got none."
    assert second.value == 7


# ---------------------------------------------------------------------- hints and odds
def test_a_hint_gives_a_direction_first_and_the_inspection_when_asked_again(hand):
    """The first names no inspection; the second names one, its minutes and why; neither names a cause or a suspect."""
    first = hand.ask("hint")["inspections"]["hint"]
    assert first["button"] == "Say which inspection"
    titles = [each.title for each in FakeCase.offered]
    assert "A direction:" in words(first["blocks"])
    assert not any(title in words(first["blocks"]) for title in titles)
    second = hand.ask("hint")["inspections"]["hint"]
    assert second["button"] == "" and "Next: Fluid check, hot, 15 min." in words(second["blocks"])
    assert "of what is still open" in words(second["blocks"])
    for cause, label in FakeCase.cause_choices:
        assert cause not in words(second) and label not in words(second)


def test_a_hint_has_done_its_work_when_an_inspection_was_made(hand):
    """The next one begins with a direction again."""
    hand.ask("hint")
    hand.inspect("interview")
    assert draw_sheet(hand.model)["inspections"]["hint"] == {"button": "Ask for a hint", "blocks": []}


def test_help_asked_for_stands_in_the_record_once(hand):
    """A direction, the inspection, the odds: each once for each stage of the work; kept on disk, told in the debrief."""
    hand.ask("hint")
    hand.ask("hint")
    hand.ask("hint")
    hand.inspect("interview")
    hand.ask("hint")
    hand.ask("odds")
    hand.ask("odds")
    kept = read_record(record_path(FakeCase().id, hand.folder)).helped
    assert [(each.kind, each.after) for each in kept] == [
        ("direction", 0),
        ("inspection", 0),
        ("direction", 1),
        ("odds", 1),
    ]


def test_where_the_findings_can_settle_it_the_hint_sends_back_to_them(hand):
    """More minutes would buy nothing."""
    hand.inspect("fluid_hot", "line_pressure", "pan")
    hint = hand.ask("hint")["inspections"]["hint"]
    assert "What you have found can settle it" in words(hint["blocks"])
    assert hint["button"] == "", "there is no more to ask for"


def test_odds_are_counts_of_a_hundred_and_follow_the_findings(hand):
    """A column at the start and one after each finding, each with a sum of 100; the true cause leads in the end.

    Counts of a hundred, because people reason better with them than with probabilities: Gigerenzer and Hoffrage 1995
    (from memory).
    """
    assert draw_sheet(hand.model)["think"]["odds"] == {"button": "Show how the suspects stand", "blocks": []}
    hand.inspect("line_pressure", "fluid_hot")
    table = hand.ask("odds")["think"]["odds"]["blocks"][0]
    assert table["columns"] == ["suspect", "at the start", "after 1", "after 2"]
    counts = [[int(cell) for cell in row["cells"][1:]] for row in table["rows"]]
    assert [sum(column) for column in zip(*counts, strict=True)] == [100, 100, 100]
    assert table["rows"][0]["cells"][0].startswith("Pressure regulator")
    assert counts[0][0] < counts[0][1], "the line pressure spoke for it"
    assert [row["sign"] for row in table["rows"]] == ["lead", "", "", "", ""]
    assert hand.ask("odds")["think"]["odds"]["blocks"] == [], "put away again"


def test_a_progress_bar_stands_while_lives_are_lived(hand):
    """The page is drawn at once, with a bar; how far it is comes from the work itself."""
    gate, told = threading.Event(), threading.Event()

    def slow(progress):
        progress(2, 4)
        told.set()
        gate.wait(10)
        return lives(lambda done, total: None)

    hand.model = BenchModel(FakeCase(), FakeKey(), folder=hand.folder, lives=slow)
    hand.do("odds")
    draw_sheet(hand.model)
    assert told.wait(10)
    (bar,) = draw_sheet(hand.model)["think"]["odds"]["blocks"]
    assert (bar["kind"], bar["done"], bar["total"]) == ("progress", 2, 4)
    assert bar["label"] == "Lives to compare with, causes lived: 2 of 4"
    hand.inspect("interview")
    assert hand.model.minutes_used == 10, "work goes on meanwhile"
    gate.set()
    hand.model.helper.beside.wait()
    draw_sheet(hand.model)
    hand.model.helper.beside.wait()
    assert draw_sheet(hand.model)["think"]["odds"]["blocks"][0]["kind"] == "table"


def test_lives_that_cannot_be_had_are_told_in_one_line(tmp_path):
    """No odds, and everything else goes on."""

    def broken(_progress):
        raise OSError("cache folder must be writable, got none.")

    model = BenchModel(FakeCase(), FakeKey(), folder=tmp_path, lives=broken)
    model.do({"n": 1, "do": "odds"})
    draw_sheet(model)
    model.helper.beside.wait()
    assert "cache folder must be writable" in words(draw_sheet(model)["think"]["odds"]["blocks"])


def test_marked_mode_gives_neither_hint_nor_odds(tmp_path):
    """Also to a page that asks for them."""
    model = BenchModel(FakeCase(), mode="marked", folder=tmp_path, lives=lives)
    for number, act in enumerate(("hint", "odds", "debrief")):
        model.do({"n": number, "do": act})
    sheet = draw_sheet(model)
    assert (sheet["inspections"]["hint"], sheet["think"]["odds"], sheet["debrief"]) == (None, None, None)
    assert model.helper.standing() is None


def test_the_kind_of_a_case_is_read_off_its_work_order():
    """Nothing of the key is needed to know with which lives to compare."""
    for name in ("P01", "W01"):
        recipe = load_key(name).recipe
        kind = kind_of(load_case(name))
        assert (kind.unit.name, kind.signal, kind.use) == (recipe["unit"], recipe["signal"], recipe["use"])


# ---------------------------------------------------------------------- pictures
def test_pictures_of_findings_come_with_their_words(hand):
    """One PNG and one text for each; an inspection that was not made has none."""
    hand.inspect("line_pressure")
    drawn = {}
    drawer = PictureMaker(hand.model)
    for name in (
        finding_picture("line_pressure", "metric"),
        finding_picture("pan", "metric"),
        "life metric",
        "x",
        7,
    ):
        drawer.ask(name, drawn.__setitem__)
    drawer.beside.wait()
    pictures = drawn.pop("finding line_pressure metric")
    assert pictures.kind == "image/svg+xml" and all(b"<svg" in file and alt for file, alt in pictures.files)
    assert any("331" in alt and "kPa" in alt for _, alt in pictures.files)
    assert set(drawn.values()) == {Drawn()} and len(drawn) == 4


def test_what_whined_can_be_heard_range_by_range(hand):
    """One sound for each gear that drives, with words; a vehicle that is quiet offers none.

    RIFF/WAVE: a WAV file begins with "RIFF" and has "WAVE" at byte 8 (Microsoft and IBM, Multimedia Programming Interface
    and Data Specifications 1.0, 1991; from memory).
    """
    hand.inspect("road_test", "line_pressure")
    groups = draw_sheet(hand.model)["know"]["findings"]
    assert groups["line_pressure"]["listen"] is None
    drawn = {}
    drawer = PictureMaker(hand.model)
    drawer.ask(groups["road_test"]["listen"]["id"], drawn.__setitem__)
    drawer.beside.wait()
    (played,) = drawn.values()
    sounds = played.files
    assert played.kind == "audio/wav"
    assert [words.split(":")[0] for _, words in sounds] == ["Reverse", "First", "Second", "Third"]
    assert all(wav[:4] == b"RIFF" and wav[8:12] == b"WAVE" for wav, _ in sounds)
    assert "no gear whine" in sounds[-1][1], "third is direct drive"


def test_the_picture_of_the_odds_says_what_the_table_says(hand):
    """Same counts, same order."""
    hand.inspect("line_pressure")
    blocks = hand.ask("odds")["think"]["odds"]["blocks"]
    drawn = {}
    drawer = PictureMaker(hand.model)
    drawer.ask(blocks[-1]["id"], drawn.__setitem__)
    drawer.beside.wait()
    ((_, alt),) = drawn[blocks[-1]["id"]].files
    leader = blocks[0]["rows"][0]["cells"]
    assert leader[0] in alt and leader[-1] in alt


# ---------------------------------------------------------------------- the debrief
def test_the_debrief_waits_to_be_asked_for_when_the_cause_is_open(hand):
    """It would tell; the learner is warned, and may try again instead."""
    hand.inspect("line_pressure")
    assert draw_sheet(hand.model)["debrief"] is None
    hand.do("hand_in", answer=RIGHT | {"causes": ["pump_worn_abrasive"]})
    offer = draw_sheet(hand.model)["debrief"]
    assert offer["sections"] == [] and "names the cause" in offer["lead"]
    assert "118,200" not in words(draw_sheet(hand.model))
    hand.do("debrief")
    assert "118,200" in words(draw_sheet(hand.model)["debrief"])
    hand.do("reopen")
    assert draw_sheet(hand.model)["debrief"] is None


def test_the_debrief_says_what_each_inspection_told_and_what_the_twin_would_have_shown(hand, monkeypatch):
    """A suspect falls once, where something first speaks against it; the deciding inspection is found in the learner's own."""
    hand.model.key = msgspec.structs.replace(hand.model.key, worth=WORTH)
    monkeypatch.setattr(debrief, "_graded", lambda *_: None)  # the fake case is not for grading
    hand.inspect("line_pressure", "pan")
    hand.do("hand_in", answer=RIGHT)
    hand.do("debrief")
    parts = {section["id"]: section["blocks"] for section in draw_sheet(hand.model)["debrief"]["sections"]}
    assert list(parts)[:4] == ["happened", "told", "road", "twin"]
    rows = [row["cells"] for row in parts["told"][0]["rows"]]
    assert rows[0][2].startswith("Pump clearance worn wide") and "Fluid level too low" in rows[0][2]
    assert "Pump" not in rows[1][2] and "Filter clogged" in rows[1][2]
    assert "every other suspect" in words(parts["told"])
    assert "takes 60 min" in words(parts["road"]) and "as number 1" in words(parts["road"])
    assert "You used 80 min on 2 inspections." in words(parts["road"])
    assert [row["cells"][3] for row in parts["twin"][1]["rows"]] == [
        "Line pressure, every range, hot and cold (made)",
        "Take the pan off (made)",
    ]


def test_what_is_believed_and_how_it_comes_back_is_told_in_the_debrief_and_never_before(tmp_path):
    """Of no cause, at no step, before the debrief; then of this vehicle's causes, beside the miles simulated for it."""
    key = load_key("P01")
    model = BenchModel(load_case("P01"), key, folder=tmp_path)
    told = {sentence for cause in all_causes().values() for sentence in (cause.belief, cause.returns)}
    answer = RIGHT | {"parts": list(key.parts), "evidence": ["interview"]}
    acts = (
        {"do": "inspect", "inspection": "interview"},
        {"do": "hand_in", "answer": answer | {"causes": ["pump_worn_abrasive"]}},
        {"do": "reopen"},
        {"do": "hand_in", "answer": answer | {"causes": list(key.causes)}},
    )
    for number, act in enumerate(acts):
        model.do({"n": number, **act})
        seen = words(draw_sheet(model))
        assert not [sentence for sentence in told if sentence in seen]
    assert model.record.attempts == 2
    model.do({"n": "debrief", "do": "debrief"})
    parts = {section["id"]: section["blocks"] for section in draw_sheet(model)["debrief"]["sections"]}
    cause, read = all_causes()[key.causes[0]], words(parts["believed"])
    assert cause.belief in read and cause.returns in read
    assert parts["believed"][-1]["items"] == list(key.stories["part only"].text)
    assert f"back after {key.stories['part only'].miles:,.0f} miles" in read


def test_the_debrief_of_the_practice_case_drives_the_repair_and_weighs_the_record(tmp_path):
    """The computed case: eight criteria with points and reasons; the learner's own repair told with odometers."""
    key = load_key("P01")
    model = BenchModel(load_case("P01"), key, folder=tmp_path)
    for number, name in enumerate(("interview", "walk_round", "fluid_cold", "fluid_hot", "cooler_check")):
        model.do({"n": number, "do": "inspect", "inspection": name})
    evidence = [choice[0] for choice in model.lists()["readings"] if choice[0].startswith("cooler")]
    answer = RIGHT | {"parts": list(key.parts), "causes": list(key.causes), "evidence": evidence[:2]}
    model.do({"n": "in", "do": "hand_in", "answer": answer})
    model.do({"n": "debrief", "do": "debrief"})
    first = {section["id"]: section["blocks"] for section in draw_sheet(model)["debrief"]["sections"]}
    assert {block["kind"] for block in first["ahead"]} <= {"text", "progress", "list", "picture"}
    model.beside.wait()
    parts = {section["id"]: section["blocks"] for section in draw_sheet(model)["debrief"]["sections"]}
    told = parts["ahead"][1]["items"]
    assert told[0].startswith("78,129 mi: renewed: planetary set") and "the cause corrected" in told[0]
    lay = clues_in(line for finding in model.findings for line in finding.words)
    meant = [row["cells"][1] for row in parts["about"][0]["rows"]]
    left = [clue.share(load_cause(key.causes[0])) > clue.usual(key.recipe["use"]) for clue, _ in lay]
    assert lay and [each.endswith("with this cause") for each in meant] == left
    rows = parts["sheet"][0]["rows"]
    assert len(rows) == len(WEIGHTS) and all(row["cells"][2] for row in rows)
    points = sum(float(row["cells"][1].split()[0]) for row in rows)
    assert parts["sheet"][1]["text"] == f"{points:.0f} of 100 points." or len(parts["sheet"]) > 2
