"""What lessons show and reckon with: slots and sums, numbers from the physics, demonstrations against handbooks, units."""

import json
import re
import tomllib
from types import SimpleNamespace

import msgspec
import pytest
from IPython.core.formatters import DisplayFormatter

from course_lib.base import units
from course_lib.bench import items_view, open_item, open_lesson, units_view
from course_lib.bench.items_view import GUESS_FIRST, WANTED
from course_lib.lessons import facts, gear_train_demos
from course_lib.lessons.item_kinds import AnyItem, Choice, Match, Number, Order
from course_lib.lessons.item_layout import lay_out
from course_lib.lessons.item_sheet import item_finding, item_sheet
from course_lib.lessons.lesson import Facts, Lesson, fill, lesson_names, load_lesson, work_out
from course_lib.lessons.lesson_tables import compared_findings, finding_table, spec_rows
from course_lib.lessons.line_pressure_demos import line_sweep
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, inspect_vehicle, read_vehicles, subject
from course_lib.lessons.workbook import Workbook

LESSONS = lesson_names()
GAUGE = Number(
    id="q1",
    stem="Line pressure?",
    unit="psi",
    at=65.0,
    low=62.0,
    high=72.0,
    right="Right.",
    other="Look at the table.",
)


# ---------------------------------------------------------------------- slots and sums
def test_a_slot_is_a_sum_over_the_facts():
    """Numbers, names, four signs and parentheses; a slot alone is a number, one in a text is written."""
    known = Facts({"rpm": 2200, "second": {"call": "ratio", "gear": "second"}, "half": "rpm / 2"}, {})
    assert work_out("-(rpm - 200) * 2 / 4 + 1", known) == -999.0
    assert fill({"at": "{half}", "text": "{rpm:,.0f} rpm, {0 - 1.5:.1f}"}, known) == {
        "at": 1100.0,
        "text": "2,200 rpm, \u22121.5",
    }
    assert fill(["{rpm / second:.0f}", 3, True], known) == ["1517", 3, True]


@pytest.mark.parametrize(
    "text", ["__import__('os')", "rpm.real", "rpm ** 9", "[1]", "'a'", "rpm +", "f(1)", "1 if 1 else 2"]
)
def test_a_slot_runs_no_code(text):
    """Anything but a sum is refused, so a data file can do nothing but reckon."""
    with pytest.raises(ValueError, match="slot must"):
        work_out(text, {"rpm": 1.0})


def test_an_unknown_name_is_told_with_its_nearest():
    """A misspelled fact, call or vehicle names what was meant."""
    with pytest.raises(ValueError, match="Did you mean 'second'"):
        work_out("secnd", Facts({"second": 1.0}, {}))
    with pytest.raises(ValueError, match="call must"):
        Facts({"x": {"call": "load_unit"}}, {})["x"]
    with pytest.raises(ValueError, match="vehicle must"):
        Facts({"x": {"call": "reading", "vehicle": "bus", "inspection": "road_test", "key": "y"}}, {})["x"]


def test_a_lesson_file_with_a_wrong_word_is_refused():
    """An unknown field, kind or vehicle entry is an error, not something that is quietly left out."""
    for wrong in (
        'kind = "quiz"\nid = "a"\nstem = "b"',
        'kind = "sentence"\nid = "a"\nstem = "b"\nmodel = "c"\nhnt = "d"',
    ):
        with pytest.raises(msgspec.ValidationError):
            msgspec.convert(tomllib.loads(wrong), AnyItem)
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({"title": "a"}, Lesson)
    with pytest.raises(ValueError, match="like of vehicle b"):
        read_vehicles({"a": {}, "b": {"like": "c"}})


# ---------------------------------------------------------------------- numbers and vehicles
def test_facts_are_what_a_handbook_gives():
    """Two equal sets with a common sun: 2 + r, 1 + r, 1, and 1/r backward, with r sun teeth over ring teeth.

    Source: H. L. Benford and M. B. Leising, The Lever Analogy, SAE 810102 (from memory); the sun in first at -1/r times the
    output, by hand from the Willis equation.
    """
    r = facts.teeth(wheel="sun") / facts.teeth(wheel="ring")
    assert facts.gear_ratio(gear="first") == pytest.approx(2 + r)
    assert facts.gear_ratio(gear="second") == pytest.approx(1 + r)
    assert facts.gear_ratio(gear="third") == pytest.approx(1)
    assert facts.gear_ratio(gear="reverse") == pytest.approx(-1 / r)
    assert facts.speed(gear="first", member="sun") == pytest.approx(-1 / r / (2 + r))
    assert facts.share(gear="reverse", element="low_reverse_band") == pytest.approx(1 + 1 / r)
    assert facts.applied_in_gear(gear="third", element="direct_clutch") == 1.0
    assert facts.applied_in_gear(gear="second", element="direct_clutch") == 0.0


def test_a_vehicle_without_a_cause_is_within_spec_and_one_with_a_cause_is_not():
    """A sound vehicle reads within spec on the gauge; the regulator held open reads low, and a new pump changes nothing."""
    sound, low = LessonVehicle(), LessonVehicle(cause="pressure_regulator_stuck_low")
    verdicts = [r.verdict for r in inspect_vehicle(sound, "line_pressure").readings]
    assert set(verdicts) <= {"within spec", "noted"}
    key = "line_pressure_p_idle_psi"
    before = facts.reading(vehicle=low, inspection="line_pressure", key=key)
    after = facts.reading(
        vehicle=msgspec.structs.replace(low, fitted=("front_pump",)), inspection="line_pressure", key=key
    )
    cured = facts.reading(
        vehicle=msgspec.structs.replace(low, corrected=True), inspection="line_pressure", key=key
    )
    assert before == after < facts.spec(key=key, end="low") <= cured


def test_what_a_vehicle_came_with_is_there_and_miles_wear_it():
    """Worn, charred and hard entries stand in the condition; driven with a cause, damage only grows."""
    came = subject(
        LessonVehicle(worn={"oxidation": 0.4}, charred={"direct_clutch": 0.5}, hard={"forward_clutch": 0.7})
    )
    ids = came.unit.element_ids
    assert came.condition.oxidation[0, 0] == 0.4
    assert came.condition.char[0, 0, ids.index("direct_clutch")] == 0.5
    assert came.condition.seal[0, 0, ids.index("forward_clutch")] == 0.7
    driven = subject(LessonVehicle(cause="direct_check_ball_leak", severity=1.0, miles=300))
    assert driven.condition.char.max() > 0 or driven.condition.lining.max() > 0
    for wrong in (LessonVehicle(worn={"oxidatoin": 1.0}), LessonVehicle(hard={"clutch": 1.0})):
        with pytest.raises(ValueError, match="must be a name from the list"):
            subject(wrong)


# ---------------------------------------------------------------------- demonstrations
@pytest.mark.parametrize(
    ("held", "driven", "ratio"),
    [
        ("ring", "sun", "3.22"),
        ("sun", "ring", "1.45"),
        ("carrier", "sun", "2.22 backward"),
        ("ring", "carrier", "0.31"),
    ],
)
def test_one_planetary_set_gives_the_ratios_of_the_textbook(held, driven, ratio):
    """36 and 80 teeth: 1 + R/S, 1 + S/R, -R/S, 1/(1 + R/S), by hand.

    Source: Budynas and Nisbett, Shigley's Mechanical Engineering Design, planetary trains (from memory).
    """
    assert gear_train_demos.planetary_set(held, driven).caption.endswith(f"ratio {ratio}")


def test_what_is_lost_with_each_part_is_what_every_shop_knows():
    """Third and reverse go with the direct clutch, second with its band, and so on: common practice, no source."""
    lost = {
        "forward_clutch": {"first, D", "second, D", "third, D", "manual 1", "manual 2"},
        "direct_clutch": {"R", "third, D"},
        "intermediate_band": {"second, D", "manual 2"},
        "low_reverse_band": {"R"},
        "low_one_way_clutch": {"first, D"},
    }
    table = gear_train_demos.gears_left("T3", *lost)
    for column, gears in enumerate(lost.values(), 1):
        assert {row[0] for row in table.rows if row[column] == "lost"} == gears
    coasting = {row[0] for row in table.rows if "but does not brake" in row[4]}
    assert coasting == {"manual 1"}  # the low-reverse band is what brakes there


def test_the_chart_of_every_unit_agrees_with_its_speeds():
    """In every gear a held member stands still, and input over output is the ratio of the chart."""
    for unit in ("T3", "T4"):
        ratios = {row[0].split(",")[0]: row[-1] for row in gear_train_demos.apply_chart(unit).rows}
        speeds = gear_train_demos.member_speeds(unit, "first", "second", "third")
        out = dict(zip(speeds.heads, next(row for row in speeds.rows if row[0] == "output"), strict=True))
        for gear in ("first", "second", "third"):
            assert 100 / float(out[gear].split()[0]) == pytest.approx(float(ratios[gear]), rel=0.02)
    assert "2,000 rpm" in gear_train_demos.output_speed("T3", "third", 2000).rows[0][1]


def test_pictures_of_a_lesson_carry_their_words():
    """Power path, speeds and a finding come as pictures whose alternative text names members and readings."""
    assert "intermediate band" in gear_train_demos.power_path("T3", "second").alt
    assert "rear carrier" in gear_train_demos.speed_lines("T3").alt
    assert "psi" in open_lesson("L01").figure("bus", "line_pressure").alt


def test_a_lesson_draws_what_needs_the_sheet_of_its_unit(monkeypatch):
    """A wiring diagram or a meter on a plug is drawn from the unit's own data: of a figure, and of what an item shows."""
    six = LessonVehicle(unit="E6", signal="electronic")
    name, item = next((name, i) for name in lesson_names() for i in load_lesson(name).items if i.finding)
    for vehicle in ("six", item.finding.vehicle):
        monkeypatch.setitem(load_lesson(name).vehicles, vehicle, six)
    assert "oltage drop" in open_lesson(name).figure("six", "volt_drop").alt
    drop = inspect_vehicle(six, "volt_drop")
    monkeypatch.setattr(items_view, "item_finding", lambda *_of: drop)
    assert "oltage drop" in items_view._picture.__wrapped__(name, item.id, "workshop")["alt"]


# ---------------------------------------------------------------------- tables and pages
def test_a_table_says_in_words_what_is_out_of_spec_and_reads_no_html():
    """Caption, column and row heads; out of spec is bold and in words; text of a vehicle is never taken for HTML."""
    finding = inspect_vehicle(LessonVehicle(cause="pressure_regulator_stuck_low"), "line_pressure")
    made = finding_table(finding, ("line_pressure_p_idle_psi",))
    assert made.rows[0][3] == "below spec" and "<strong>below spec</strong>" in made._repr_html_()
    assert '<th scope="col"' in made._repr_html_() and "<caption" in made._repr_html_()
    both = compared_findings([finding, finding], ["<before>", "after"], ("line_pressure_p_idle_psi",))
    assert "&lt;before&gt;" in both._repr_html_() and both.rows[0][2].endswith("below spec")
    with pytest.raises(ValueError, match="Did you mean"):
        spec_rows("T3", ("line_pressure_p_idel_psi",))


def test_metric_turns_every_number_and_takes_every_answer():
    """65 psi is 448 kPa (NIST SP 811: 6.894757 kPa a psi), on tables, pages and in answers."""
    shown = Table("At 65 psi", ("what", "spec"), (("line", "62 to 72 psi"),)).shown("metric")
    assert shown.caption == "At 448 kPa" and shown.rows[0][1] == "427 to 496 kPa"
    assert GAUGE.read("448 kPa") == pytest.approx(65.0, abs=0.1)
    assert GAUGE.read("65") == GAUGE.read(" 65 PSI ") == 65.0
    assert GAUGE.judge("448 kpa").right and not GAUGE.judge("448").right
    degrees = msgspec.structs.replace(GAUGE, unit="\u00b0F", low=179.0, high=181.0, at=180.0)
    assert degrees.judge("82.2 \u00b0C").right
    for unit in units.METRIC:
        item = msgspec.structs.replace(GAUGE, unit=unit)
        value, metric = units.in_system(65.0, unit, "metric")
        assert item.judge(f"{value:.6f} {metric}").right
    with pytest.raises(ValueError, match="unit must be psi or kPa"):
        GAUGE.read("65 bar")
    assert GAUGE.read("\u22123") == -3.0 and GAUGE.read("1,250.5") == 1250.5


def test_a_page_in_metric_asks_in_metric(tmp_path):
    """The unit beside the box is the metric one, and slots in the words are turned; the answer on file stays as given."""
    book = Workbook("L01", folder=tmp_path)
    plain, metric = (item_sheet(book, "q4", system=system) for system in ("workshop", "metric"))
    assert plain["unit"] == metric["unit"] == "rpm"  # the same everywhere
    with pytest.raises(ValueError, match="system must"):
        open_lesson("L01", system="imperial", folder=str(tmp_path))


def test_letters_stay_with_what_they_name():
    """What is dealt keeps its letters from run to run, never lies in the order of the file, and turns there and back."""
    for count in range(2, 9):
        for seed in ("q1", "q7", "w"):
            dealt = lay_out(count, seed)
            assert sorted(dealt.order) == list(range(count)) != list(dealt.order)
            assert dealt == lay_out(count, seed)
            for letters in ("ABCDEFGH"[:count], "abcdefgh"[:count]):
                assert dealt.of_file(dealt.on_page(letters)) == letters != dealt.on_page(letters)


def test_one_item_is_judged_by_hand():
    """Shares by hand: one wrong row of four is 3/4; one card moved to the front of five leaves 3 of 4 neighbors; replies fit."""
    book = Workbook("L01", folder="nowhere")
    match, order, choice = (book.lesson.item(name) for name in ("q1", "q7", "q6"))
    assert isinstance(match, Match) and isinstance(order, Order) and isinstance(choice, Choice)
    given = match.solution()[:3] + "abcde"[match.answers.index("holds the output still")]
    judged = match.judge(given)
    assert judged.share == 0.75 and judged.replies == (f"Row 4: {match.slips[2].reply}",)
    right = order.solution()
    judged = order.judge(right[-1] + right[:-1])
    assert judged.share == 0.75 and judged.replies == (order.slips[0].reply,)
    assert choice.judge("a").thinking == ("one_gear_one_part",)


def test_the_page_says_what_is_wrong_and_saves_what_is_right(tmp_path):
    """Without a browser: a message of the page is answered by one line, or by a sheet with the reply."""
    page = open_item("L01", "q6", folder=str(tmp_path))
    said = []
    page.send = lambda content, buffers=None: said.append(content)  # what would go to the page
    page.told({"given": ""})
    page.told({})
    assert len(said) == 2 and said[0] == {"say": WANTED["choice"]} and page.sheet["tries"] == []
    page.told({"given": right_letter(page, "The low-reverse band")})
    assert (
        page.sheet["done"]
        and page.sheet["tries"][0]["replies"][0].startswith("Right")
        and "worked" in page.sheet
    )
    assert repr(page) == repr(open_item("L01", "q6", folder=str(tmp_path)))


def right_letter(page, text: str) -> str:
    """The letter under which an option stands on a page."""
    return next(letter for letter, option in page.sheet["options"] if option == text)


def test_a_disk_that_refuses_is_told_in_words(tmp_path):
    """An answer that cannot be saved is not replied to: nothing is shown that would be lost."""
    (tmp_path / "file").write_text("in the way")
    page = open_item("L01", "q6", folder=str(tmp_path / "file"))
    said = []
    page.send = lambda content, buffers=None: said.append(content)
    page.told({"given": "B"})
    assert "could not be saved" in said[0]["say"] and page.sheet["tries"] == []


def test_practice_begun_afresh_opens_the_items_where_they_stand(tmp_path):
    """`again` and no further cell: pages on the screen are open once more, predictions stay answered."""
    lesson = open_lesson("L01", folder=str(tmp_path))
    lesson.ask("p1", "q6")
    lesson.book.answer("p1", "A", sureness="sure")
    lesson.book.answer("q6", "B")
    lesson.again()
    assert lesson._pages["p1"].sheet["done"] and not lesson._pages["q6"].sheet["tries"]


def test_a_reply_to_ticks_names_each_by_its_letter():
    """Two wrong ticks get two replies, in the order of the letters; a right one that was left out gets its own word."""
    item = Workbook("L04", folder="nowhere").lesson.item("q1")
    judged = item.judge("ABE")
    assert judged.replies == (f"[B]: {item.options[1].reply}", f"[E]: {item.options[4].reply}", item.missed)


class Notebook:
    """What a notebook gives a page of it: formatters, the cell that is running, places that can be written again."""

    def __init__(self):
        self.display_formatter, self.cell, self.places = DisplayFormatter(), "", []

    def get_parent(self):
        """The request that runs the cell."""
        return {"header": {"msg_id": f"{self.cell} {len(self.places)}"}, "metadata": {"cellId": self.cell}}

    def display(self, *things, **_how):
        """A place, with what was written there last."""
        place = SimpleNamespace(now=things[0])
        place.update = lambda now, raw: setattr(place, "now", now)
        self.places.append(place)
        return place

    def show(self, cell, thing):
        """End a cell with a thing; its place on the page."""
        self.cell = cell
        assert self.display_formatter.format(thing) == ({}, {})
        return self.places[-1]


def test_tables_and_pictures_follow_the_switch_where_they_stand(tmp_path, monkeypatch):
    """psi, then kPa, then psi again; what is shown later comes in the units chosen; 62 psi is 427 kPa (NIST SP 811: 6.894757)."""
    notebook = Notebook()
    monkeypatch.setattr(units_view, "get_ipython", lambda: notebook)
    monkeypatch.setattr(units_view, "display", notebook.display)
    monkeypatch.setattr(items_view, "display", notebook.display)
    lesson = open_lesson("L04", folder=str(tmp_path))
    lesson.ask("q3")
    table = notebook.show("a", lesson.spec("line_pressure_d_idle_psi"))
    picture = notebook.show("b", line_sweep("healthy"))
    before = [place.now["text/html"] for place in (table, picture)]
    assert "62 to 72\u202fpsi" in before[0]
    lesson._choose("metric")
    assert "427 to 496\u202fkPa" in table.now["text/html"] and "kPa" in picture.now["text/html"]
    assert lesson._pages["q3"].sheet["unit"] == "kPa" and lesson._switch.sheet["value"] == "metric"
    later = notebook.show("c", compared_findings([lesson.finding("healthy", "line_pressure")], ["one"]))
    assert "kPa" in later.now["text/html"] and "psi" not in later.now["text/html"]
    again = notebook.show("a", lesson.spec("line_pressure_d_idle_psi"))
    lesson._choose("workshop")
    assert [
        table.now["text/html"],
        again.now["text/html"],
    ] != before  # a cell that ran again has its old place no more
    assert [again.now["text/html"], picture.now["text/html"]] == before
    assert open_lesson("L05", folder=str(tmp_path)).system == "workshop"


def test_what_follows_a_guess_waits_for_it(tmp_path, monkeypatch):
    """Run All: a table under an open guess shows one line and nothing of its own; it opens where it stands when the guess is
    locked, stays open when the cell runs again, and what stands before the guess never waits.
    """
    notebook = Notebook()
    monkeypatch.setattr(units_view, "get_ipython", lambda: notebook)
    monkeypatch.setattr(units_view, "display", notebook.display)
    monkeypatch.setattr(items_view, "display", notebook.display)
    lesson = open_lesson("L04", folder=str(tmp_path))
    before = notebook.show("a", lesson.spec("line_pressure_d_idle_psi"))
    lesson.ask("p1")
    table = notebook.show("b", lesson.spec("line_pressure_r_idle_psi"))
    picture = notebook.show("c", line_sweep("healthy"))
    lesson.ask("p2", "q2")
    last = notebook.show("d", lesson.spec("line_pressure_p_idle_psi"))
    assert "psi" in before.now["text/html"]
    for place in (table, picture, last):
        assert GUESS_FIRST in place.now["text/html"] and "psi" not in str(place.now)
    lesson._choose("metric")
    assert "kPa" in before.now["text/html"] and "kPa" not in str(table.now)
    page = lesson._pages["p1"]
    page.told({"given": "A", "sureness": "sure"})
    assert "kPa" in table.now["text/html"] and "<img" in picture.now["text/html"]
    assert GUESS_FIRST in last.now["text/html"]  # p2 is still open
    again = notebook.show("b", lesson.spec("line_pressure_r_idle_psi"))
    assert "kPa" in again.now["text/html"] or GUESS_FIRST in again.now["text/html"]
    page = lesson._pages["p2"]
    page.told({"given": "C", "sureness": "sure"})
    assert "kPa" in last.now["text/html"] and "kPa" in again.now["text/html"]


def test_every_learner_and_every_attempt_gets_an_order_of_its_own(tmp_path):
    """Orders stay through a restart; another learner, another lesson and the practice done again have others; an answer is kept in
    letters of the file and earns the same in every order.
    """
    pages = [open_item("L01", "q6", folder=str(tmp_path / name)) for name in ("one", "one", "two")]
    orders = [[text for _, text in page.sheet["options"]] for page in pages]
    assert orders[0] == orders[1]
    books = [Workbook("L01", folder=tmp_path / name) for name in "abcdefgh"]
    assert len({tuple(book.deal(item.id) for item in book.lesson.scored) for book in books}) == len(books)
    other = Workbook("L02", folder=tmp_path / "a")
    assert [books[0].deal(name) for name in ("q1", "q4")] != [other.deal(name) for name in ("q1", "q4")]
    for book in books:
        page = open_item("L01", "q6", folder=str(book.path.parent))
        page.told({"given": right_letter(page, "The low-reverse band")})
        assert page.sheet["done"] and [each.given for each in book.tries("q6")] == ["B"]
        assert page.sheet["tries"][0]["said"].startswith(right_letter(page, "The low-reverse band") + ".")
    before = {item.id: books[0].deal(item.id) for item in books[0].lesson.scored}
    books[0].again()
    assert before != {item.id: books[0].deal(item.id) for item in books[0].lesson.scored}


def test_letters_in_texts_are_those_of_the_page(tmp_path):
    """The worked answer and the replies name options by the letters under which this learner sees them."""
    for number in range(6):
        book = Workbook("L01", folder=tmp_path / str(number))
        page = open_item("L01", "q5", folder=str(book.path.parent))
        letters = {text: letter for letter, text in page.sheet["options"]}
        right = sorted(letters[text] for text in ("Third, in D", "Reverse"))
        page.told({"given": letters["Manual 1"]})
        assert page.sheet["tries"][0]["replies"][0].startswith(f"{letters['Manual 1']}: ")
        assert page.sheet["again"] == [letters["Manual 1"]]
        page.told({"given": "".join(right)})
        assert page.sheet["closing"].endswith("% of the points of this item.") and page.sheet["done"]
        assert page.sheet["worked"].startswith(f"{right[0]} and {right[1]}. ")
    for name in LESSONS:  # no mark is left over, and none names an option that is not there
        for item in load_lesson(name).items:
            marks = [
                m
                for text in (item.worked, item.hint, item.right)
                for m in re.findall(r"\[([A-H, ]+)\]", text)
            ]
            assert all("ABCDEFGH".index(letter) < item.dealt for mark in marks for letter in mark.split(", "))


def test_a_record_of_the_first_version_is_read_as_it_was_meant(tmp_path):
    """It kept cards and matches in letters of a page that was mixed by the id of the item alone."""
    book = Workbook("L01", folder=tmp_path)
    old = {
        name: [
            {"given": lay_out(book.lesson.item(name).dealt, name).on_page(book.lesson.item(name).solution())}
        ]
        for name in ("q1", "q7")
    }
    whole = {"schema_version": 1, "lesson": "L01", "tries": old | {"q6": [{"given": "B"}]}}
    book.path.write_text(json.dumps(whole))
    assert [book.result(name).points for name in ("q1", "q6", "q7")] == [1.0, 1.0, 1.0]
    book.answer("q9", "C")
    assert json.loads(book.path.read_text())["schema_version"] == 2
    assert [book.result(name).points for name in ("q1", "q6", "q7", "q9")] == [1.0] * 4


def test_items_show_what_was_noticed_and_a_picture(tmp_path):
    """Words of a finding reach the page of every item that has one, and a picture without a verdict wherever one can be drawn."""
    shown = 0
    for name in LESSONS:
        for item in load_lesson(name).items:
            if item.finding:
                page = open_item(name, item.id, folder=str(tmp_path))
                assert page.sheet["words"] == list(item_finding(name, item.id).words) != []
                shown += page.sheet["picture"] is not None
    assert shown >= 25
    page = open_item("L08", "q4", folder=str(tmp_path))
    assert any("Direct clutch" in words for words in page.sheet["words"]) and page.sheet["picture"]["alt"]


def test_practice_begins_again_by_a_button(tmp_path):
    """The page that shows the standing follows each answer; its button opens the items where they stand."""
    lesson = open_lesson("L01", folder=str(tmp_path))
    lesson.ask("q6")
    standing = lesson.progress()
    assert not standing.sheet["begun"] and "0%" in standing.sheet["caption"]
    page = lesson._pages["q6"]
    page.told({"given": right_letter(page, "The low-reverse band")})
    assert standing.sheet["begun"] and "0%" not in standing.sheet["caption"].replace("10%", "").replace(
        "11%", ""
    )
    standing._handle_custom_msg({"again": True}, [])
    assert not page.sheet["tries"] and not standing.sheet["begun"]
