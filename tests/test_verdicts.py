"""The verdict set: each kind of record gets its own verdict, by nbval in a folder and by marking a class.

A marking run that passes a wrong record, or fails a right one, is the worst mistake this course can make. So
the real notebook runs here against records of every kind; `test_class_hostile` has those that are up to something.
"""

import csv
import re
import shutil

import pytest
from class_cases import set_of_one_case
from msgspec.structs import replace
from nbval_runs import run_nbval

from course_lib import load_case, load_key, save_record
from course_lib.assessment.record import hand_in as hand_in_answer
from course_lib.assessment.rubric import model_record
from course_lib.base.case_ids import id_of
from course_lib.base.data_files import data_folder
from course_lib.cases.key_file import KeyMissing
from course_lib.classroom import marking_run
from course_lib.classroom.class_marks import COLUMNS
from course_lib.classroom.marking_run import mark_folder
from course_lib.classroom.marks_files import plain_cell
from course_lib.classroom.plugin import last_line

CASE, NOTEBOOK = id_of("M01"), "02_without_help.ipynb"
WRONG_PART, WRONG_CAUSE = "no_part_broken", "neutral_drop_abuse"

# Kind of record -> points earned for (part, cause, whole record), written out by hand from the rubric.
VERDICTS = {
    "right": ("15", "25", "100"),
    "part only": ("15", "0", "50"),
    "cause only": ("0", "25", "85"),
    "wrong": ("0", "0", "50"),
    "blank": ("0", "0", "0"),
    "damaged": ("0", "0", "0"),
}


@pytest.fixture(scope="module")
def key():
    """The key of the case."""
    return load_key(CASE)


def hand_in(desk, kind, key):
    """Leave in `desk` what a learner of that kind leaves."""
    answers = desk / "answers"
    answers.mkdir(parents=True)
    if kind == "blank":
        return
    expert = model_record(load_case(CASE), key)
    parts = (WRONG_PART,) if kind in ("cause only", "wrong") else key.parts
    causes = (WRONG_CAUSE,) if kind in ("part only", "wrong") else key.causes
    answer = replace(expert.handed_in, parts=parts, causes=causes, why="=1+1 is not a formula")
    save_record(hand_in_answer(replace(expert, attempts=0, history=()), answer), answers)
    if kind == "damaged":
        record = answers / f"{CASE}.json"
        text = record.read_text(encoding="utf-8")
        record.write_text(text[: len(text) // 2], encoding="utf-8")


@pytest.fixture(scope="module")
def dealt(tmp_path_factory):
    """The instructor's folder of a set in which everybody has the one case."""
    return set_of_one_case(tmp_path_factory.mktemp("set") / "instructor", VERDICTS)


@pytest.fixture(scope="module")
def marked(tmp_path_factory, key, dealt):
    """The whole class marked once: kind -> check -> row of the marks file."""
    room = tmp_path_factory.mktemp("class")
    for kind in VERDICTS:
        hand_in(room / kind, kind, key)
    out = tmp_path_factory.mktemp("out")
    assert len(mark_folder(room, out, dealt, jobs=2)) == len(VERDICTS)
    rows = list(csv.DictReader((out / "marks.csv").read_text(encoding="utf-8").splitlines()))
    assert tuple(rows[0]) == COLUMNS and not [row for row in rows if "NOT MARKED FAIRLY" in row["said"]]
    return {kind: {row["check"]: row for row in rows if row["learner"] == kind} for kind in VERDICTS}


@pytest.mark.parametrize("kind, points", VERDICTS.items())
def test_each_kind_of_record_gets_its_verdict(marked, kind, points):
    """Points for the part, the cause and the whole, as the table says; no learner's code gets a say."""
    assert tuple(marked[kind][f"{CASE}/{each}"]["earned"] for each in ("part", "cause", "record")) == points


def test_the_marks_file_says_why(marked):
    """Each level carries its reason; what was refused says so."""
    check = f"{CASE}/cause"
    assert (
        marked["right"][check]["said"].startswith("The cause is exact")
        and not marked["right"][check]["remark"]
    )
    assert marked["part only"][f"{CASE}/record"]["said"].startswith(
        "Without the root cause a record earns at most 50"
    )
    assert marked["blank"][check]["said"] == "There is no record to mark."
    assert marked["blank"][check]["remark"] == "no record"
    assert marked["damaged"][check]["remark"].startswith("record refused: ")


def test_a_learners_words_are_not_a_formula(marked):
    """A spreadsheet runs a cell that begins with = + - or @; ours begin with an apostrophe then."""
    assert marked["right"][f"{CASE}/part"]["why"] == "'=1+1 is not a formula"
    assert [plain_cell(text) for text in ("-1.5", "@x", "a\nb", "")] == ["-1.5", "'@x", "a b", ""]


def test_nbval_fails_exactly_the_wrong_cells(tmp_path, key):
    """Each learner in a folder of their own: wrong cells fail with one line each, all others pass, no wall of traceback."""
    failing = {"right": [], "part only": ["3"], "cause only": ["2"], "blank": ["2", "3"]}
    for kind in failing:
        hand_in(tmp_path / kind, kind, key)
        shutil.copy(data_folder("notebooks") / NOTEBOOK, tmp_path / kind)
    done = run_nbval(tmp_path)
    failures, _, summary = done.stdout.partition("short test summary info")
    # Where CI is set, pytest repeats in its summary what was said above it.
    said = [line for line in failures.splitlines() if line.startswith(("CheckFailed:", "NotAnswered:"))]
    failed = re.findall(r"^FAILED ([\w ]+)/\w+\.ipynb::Cell (\d+)", summary, re.MULTILINE)
    assert done.returncode == 1 and "Traceback (most recent call last)" not in done.stdout
    assert {kind: [cell for whose, cell in failed if whose == kind] for kind in failing} == failing
    assert len(said) == len(failed) == 4 and "4 failed, 12 passed" in done.stdout


def test_workers_give_the_same_marks(tmp_path, key, dealt, monkeypatch):
    """Marked in one run, or each in a run of its own and two at a time: every file that comes of it is the same."""
    for kind in ("right", "part only"):
        hand_in(tmp_path / "class" / kind, kind, key)
    for jobs, at_once in ((1, 2), (2, 1)):
        monkeypatch.setattr(marking_run, "AT_ONCE", at_once)
        mark_folder(tmp_path / "class", tmp_path / f"jobs{jobs}", dealt, jobs=jobs)
    one, two = (
        {path.relative_to(top): path.read_bytes() for path in top.rglob("*") if path.is_file()}
        for top in (tmp_path / "jobs1", tmp_path / "jobs2")
    )
    assert one == two and len(one) == 5 + len(VERDICTS)


def test_a_missing_key_stops_the_run_before_it_starts(tmp_path, key):
    """Without its key a case cannot be marked; nobody is given points, and nothing is written."""
    dealt = set_of_one_case(tmp_path / "set", ["right"])
    (dealt / f"keys/{CASE}.key").unlink()
    hand_in(tmp_path / "class" / "right", "right", key)
    with pytest.raises(KeyMissing, match=CASE):
        mark_folder(tmp_path / "class", tmp_path / "marks", dealt)
    with pytest.raises(FileNotFoundError, match="set must be the instructor's folder"):
        mark_folder(tmp_path / "class", tmp_path / "marks", tmp_path / "nowhere")
    assert not (tmp_path / "marks").exists()


def test_the_last_line_is_without_colors():
    """What a check said is plain text in the marks file."""
    assert last_line("one\n\x1b[31mCheckFailed\x1b[0m: look again\n\n") == "CheckFailed: look again"
