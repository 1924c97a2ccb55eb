"""Every kind of hand-in gets its line and its marks in one run; none runs code, touches another's marks or stops the run."""

import csv
import os
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import pytest
from class_cases import set_of_one_case
from hostile import CASE, KINDS, NONE, RIGHT, STRANGER

from course_lib import load_case, load_key, record_answer, save_record
from course_lib.assessment.record import Answer, Record
from course_lib.assessment.rubric import model_record
from course_lib.classroom import handins
from course_lib.classroom.check_cells import CHECKS
from course_lib.classroom.class_marks import CASE_COLUMNS, COLUMNS, LearnerMarks, learner_marks
from course_lib.classroom.class_notebook import GradedCell
from course_lib.classroom.handins import CUT_OFF, NO_RECORD, Handin, note_copies, read_handins
from course_lib.classroom.marking_run import mark_folder
from course_lib.classroom.marks_files import junit
from course_lib.classroom.marks_pages import page_of, write_pages
from course_lib.classroom.sandbox import SandboxRun

LEAST_KINDS = 40


def folder_of(top, name):
    """The folder of a kind: under its own name, or the one that is the trick."""
    given = KINDS[name].name or name.replace("_", " ")
    return top / (os.fsdecode(given) if isinstance(given, bytes) else given)


@pytest.fixture(scope="module")
def canary(tmp_path_factory):
    """A file that is written if any code of a learner runs."""
    return tmp_path_factory.mktemp("canary") / "ran.txt"


@pytest.fixture(scope="module")
def classroom(tmp_path_factory, canary):
    """A folder with a hand-in of every kind."""
    top, source = tmp_path_factory.mktemp("class"), tmp_path_factory.mktemp("right")
    save_record(model_record(load_case(CASE), load_key(CASE)), source)
    text = (source / f"{CASE}.json").read_text(encoding="utf-8")
    for name, kind in KINDS.items():
        kind.build(folder_of(top, name), text, f"open({str(canary)!r}, 'a').write({name!r})")
    return top


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    """Where the marks go."""
    return tmp_path_factory.mktemp("out") / "marks"


@pytest.fixture(scope="module")
def marked(classroom, out, tmp_path_factory):
    """The one run over all of them, everybody dealt the same case: kind -> result."""
    listed = [folder_of(classroom, name).name for name, kind in KINDS.items() if kind.says != STRANGER]
    place = set_of_one_case(tmp_path_factory.mktemp("set") / "instructor", listed)
    results = {result.name: result for result in mark_folder(classroom, out, place, jobs=2)}
    return {name: results[handins.printable_name(folder_of(classroom, name).name)] for name in KINDS}


def test_there_are_enough_kinds():
    """At least forty kinds, most of which must earn nothing."""
    assert len(KINDS) >= LEAST_KINDS and sum(kind.earned == NONE for kind in KINDS.values()) > LEAST_KINDS / 2


@pytest.mark.parametrize("name", KINDS)
def test_each_kind_gets_its_marks_and_its_line(marked, name):
    """The points that the record deserves, and one clear line that says what was found."""
    result, kind = marked[name], KINDS[name]
    assert result.earned == kind.earned and len(result.rows) == (0 if kind.says == STRANGER else len(CHECKS))
    if kind.says:
        assert any(re.search(kind.says, note) for note in result.notes), result.notes
    assert all(row["passed"] for row in result.rows) == (kind.earned == RIGHT or not result.rows)
    lines = [*result.notes, *(row["said"] for row in result.rows), *(row["remark"] for row in result.rows)]
    assert all(line.isprintable() and len(line) < 400 for line in lines)
    assert not any("Traceback" in line or "NOT MARKED FAIRLY" in line for line in lines)


def test_nobody_earns_without_a_line(marked):
    """Whoever got nothing is told why, in every row."""
    for result in marked.values():
        assert all(row["said"] for row in result.rows if row["earned"] == "0")


def test_no_code_of_a_learner_has_run(marked, canary):
    """The file that any of them would have written is not there."""
    assert not canary.exists()


def test_the_hand_ins_are_left_as_they_were(classroom, marked, out):
    """Nothing was written into a learner's folder, and every entry has a result."""
    assert not list(classroom.rglob("__pycache__")) and not list(classroom.rglob("*.pyc"))
    assert (folder_of(classroom, "cut_off") / "answers" / f"{CASE}.json").exists()
    visible = [path for path in classroom.iterdir() if not path.name.startswith(".hidden-")]
    assert len(visible) == len(KINDS) == len(marked)


def test_no_cell_of_the_table_is_a_formula(out, marked):
    """Read as a spreadsheet reads it: no cell begins with a sign that starts a formula; rows stay rows."""
    for name in ("marks.csv", "notes.csv"):
        with (out / name).open(newline="", encoding="utf-8") as file:
            rows = list(csv.reader(file))
        assert len({len(row) for row in rows}) == 1
        cells = [cell for row in rows for cell in row]
        assert not [cell for cell in cells if cell[:1] in tuple("=+-@\t\r") and cell]
        assert all(cell.isprintable() for cell in cells)
    assert len([row for row in rows if row[0] == "learner"]) == 1


class Tags(HTMLParser):
    """The tags of a page and their attributes."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.names = set(), set()
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.names |= {name for name, _ in attributes}


def test_the_pages_hold_our_own_tags_only(out, marked):
    """No script, no picture, no handler, nothing loaded from elsewhere, whatever a learner wrote."""
    pages = sorted((out / "pages").glob("*.html"))
    hand_ins = len(set(map(id, marked.values())))
    assert len(pages) >= hand_ins + 1
    for page in pages:
        found = Tags(page.read_text(encoding="utf-8"))
        assert not found.tags & {"script", "img", "iframe", "object", "svg", "link", "form"}
        assert not {name for name in found.names if name.startswith("on") or name == "src"}
        assert re.fullmatch(r"[a-z0-9-]+\.html", page.name)


def test_the_report_for_machines_is_well_formed(out, marked):
    """JUnit: a suite for each hand-in, a failure for each check that was not passed."""
    top = ET.parse(out / "junit.xml").getroot()
    suites = {suite.get("name"): suite for suite in top}
    assert len(suites) == len(list(top))
    for result in marked.values():
        failed = [case for suite in top if suite.get("name") == result.name for case in suite.iter("failure")]
        assert len(failed) == sum(not row["passed"] for row in result.rows)


# ------------------------------------------------------------------ a class with cases of their own
def test_a_record_of_somebody_elses_case_is_told(tmp_path):
    """Renamed to the own case, or copied with its id changed: the line says whose case it is, or that it is a copy."""
    expected = {
        "01-ana": ("Ana", ("V-AAAAAAAA",)),
        "02-bo": ("Bo", ("V-BBBBBBBB",)),
        "03-cy": ("Cy", ("V-CCCCCCCC",)),
    }
    record_answer(
        "V-AAAAAAAA", parts=["pump"], causes=["x"], why="I saw it.", folder=tmp_path / "class/01-ana/answers"
    )
    text = (tmp_path / "class/01-ana/answers/V-AAAAAAAA.json").read_text()
    for folder, case, content in (
        ("02-bo", "V-BBBBBBBB", text),
        ("Cy", "V-CCCCCCCC", text.replace("V-AAAAAAAA", "V-CCCCCCCC")),
        ("stranger", "V-AAAAAAAA", text),
    ):
        (tmp_path / "class" / folder / "answers").mkdir(parents=True)
        (tmp_path / "class" / folder / "answers" / f"{case}.json").write_text(content)
    found = {one.name: one for one in read_handins(tmp_path / "class", expected)}
    assert list(found["Ana"].records) == ["V-AAAAAAAA"] and not found["Bo"].records
    assert "holds a record of case V-AAAAAAAA, which was given to Ana" in found["Bo"].notes
    assert any("word for word, as one of Ana" in note for note in found["Cy"].notes)
    assert found["stranger"].notes == ("not on the list of this set: nothing was read",)


def test_half_a_record_is_refused_in_plain_words(tmp_path):
    """An instructor reads what happened and what to do, and no word of a file format."""
    record_answer(
        "V-AAAAAAAA", parts=["pump"], causes=["x"], why="I saw it.", folder=tmp_path / "01-ana/answers"
    )
    path = tmp_path / "01-ana/answers/V-AAAAAAAA.json"
    path.write_bytes(path.read_bytes()[:200])
    (ana,) = read_handins(tmp_path, {"01-ana": ("Ana", ("V-AAAAAAAA",))})
    assert not ana.records
    assert ana.remarks == {"V-AAAAAAAA": f"record refused: {CUT_OFF}"} and "Ask for it" in CUT_OFF


def test_records_of_several_others_are_told_in_the_order_of_their_cases(tmp_path):
    """The same hand-ins give the same notes on every machine."""
    ids = [f"V-{letter * 8}" for letter in "ABCDEF"]
    mine = tuple(f"V-{number:08d}" for number in range(len(ids)))
    expected = {f"0{n}": (f"Learner {n}", (case,)) for n, case in enumerate(ids)} | {"09-zoe": ("Zoe", mine)}
    answers = tmp_path / "class/09-zoe/answers"
    for own, other in zip(mine, reversed(ids), strict=True):
        record_answer(other, parts=["pump"], causes=["x"], why="Mine.", folder=answers)
        (answers / f"{other}.json").rename(answers / f"{own}.json")
    found = {one.name: one for one in read_handins(tmp_path / "class", expected)}
    told = [note for note in found["Zoe"].notes if note.startswith("holds a record")]
    assert told == [
        f"holds a record of case {case}, which was given to Learner {n}" for n, case in enumerate(ids)
    ]


def test_whoever_hands_in_nothing_is_on_the_list(tmp_path):
    """A learner without a folder has a line and no marks, and is not forgotten."""
    (tmp_path / "01-ana").mkdir()
    found = read_handins(tmp_path, {"01-ana": ("Ana", ("V-A",)), "02-bo": ("Bo", ("V-B",))})
    assert [one.name for one in found] == ["Ana", "Bo"]
    assert found[1].notes == ("no folder with this name was handed in",) and found[1].remarks == {
        "V-B": "no record"
    }


def test_an_error_of_ours_is_no_mark_of_anybodys():
    """A check that ends in an error is not marked, is worth nothing and counts nowhere, and stands first in the notes; one that
    was judged counts as before."""
    judged = {
        "earned": "0",
        "level": "",
        "passed": "",
        "about": "",
        "said": "CheckFailed: V-1, part: 0 of 15 points.",
    }
    checks = [GradedCell("V-1/record", 100.0), GradedCell("V-2/record", 100.0)]
    ran = {"V-1/record": judged, "V-2/record": judged | {"said": "KeyError: 'passed'"}}
    records = {case: Record(case_id=case) for case in ("V-1", "V-2")}
    found = learner_marks(Handin("Ana", ("V-1", "V-2"), records, {}), checks, SandboxRun(ran, ""))
    assert found.not_marked == ("V-2",) and (found.earned, found.most) == (0.0, 100.0)
    assert found.notes[0] == "V-2: Not marked: KeyError: 'passed'"
    (suite,) = ET.fromstring(junit([found]))
    assert (suite.get("failures"), suite.get("errors")) == ("1", "1")
    assert "Not marked" in page_of(found)


def test_whoever_hands_in_no_folder_has_one_note():
    """Not one more for each case."""
    gone = Handin("Bo", ("V-1", "V-2"), {}, dict.fromkeys(("V-1", "V-2"), NO_RECORD), ("no folder",))
    assert learner_marks(gone, [GradedCell("V-1/record", 100.0)], SandboxRun({}, "")).notes == ("no folder",)


def test_a_strangers_markup_stays_text_on_every_page(tmp_path):
    """A name, a reason, a word of the learner's own and a note that hold markup are shown as they were written."""
    bad = "<script>alert(1)</script>{{ 7 * 7 }}"
    row = dict.fromkeys(COLUMNS, "") | {
        "learner": bad,
        "check": "V-1/part",
        "points": "15",
        "earned": "0",
        "said": bad,
        "why": bad,
    }
    case = dict.fromkeys(CASE_COLUMNS, "") | {"case": "V-1", "vehicle": bad, "points": "100", "earned": "0"}
    write_pages([LearnerMarks(bad, (bad,), (row | {"remark": bad},), (case,))], tmp_path)
    for path in tmp_path.iterdir():
        text = path.read_text(encoding="utf-8")
        assert "<script" not in text and "&lt;script&gt;" in text and "{{ 7 * 7 }}" in text


def test_two_records_that_say_nothing_are_no_copies_of_each_other(tmp_path):
    """What is too little to be told apart accuses nobody."""
    empty = Record(case_id="V-1", handed_in=Answer(parts=("pump",)), handed_in_at="2026-01-01T00:00:00")
    handins = [Handin(name, ("V-1",), {"V-1": empty}, {}) for name in ("Ana", "Bo")]
    assert [one.notes for one in note_copies(handins, {})] == [(), ()]
