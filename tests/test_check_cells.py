"""Check cells, called as a notebook calls them: what they print, what they raise, and that each sentence is said once."""

import re

import pytest
from msgspec.structs import replace

from course_lib import load_case, load_key, record_answer, save_record
from course_lib.assessment.marking import CheckFailed, NotAnswered, Outcome, check_answer, mark
from course_lib.assessment.record import Answer
from course_lib.assessment.rubric import model_record
from course_lib.classroom.check_cells import CHECKS, check_criterion


@pytest.fixture(autouse=True)
def desk(tmp_path, monkeypatch):
    """A learner's folder."""
    monkeypatch.chdir(tmp_path)


def test_a_right_half_prints_one_line_and_a_wrong_one_raises_one(capsys):
    """Each half for itself: the part right, the cause wrong, and the other way round."""
    key = load_key("M01")
    for named, right in (
        ({"parts": key.parts, "causes": ["neutral_drop_abuse"]}, "part"),
        ({"parts": ["front_pump"], "causes": key.causes}, "cause"),
    ):
        record_answer("M01", **named)
        wrong = {"part": "cause", "cause": "part"}[right]
        check_answer("M01", right)
        assert capsys.readouterr().out == f"Right: M01, {right}.\n"
        with pytest.raises(CheckFailed, match="does not fit the findings"):
            check_answer("M01", wrong)
        assert capsys.readouterr().out == ""


def test_a_half_that_is_blank_or_no_half_is_asked_for():
    """Nothing handed in; one half of it missing; a name that is none."""
    with pytest.raises(NotAnswered, match="Nothing handed in for M01"):
        check_answer("M01", "part")
    record_answer("M01", parts=["front_pump"], causes=[])
    with pytest.raises(NotAnswered, match="No cause named for M01"):
        check_answer("M01", "cause")
    record_answer("M01", parts=[], causes=["neutral_drop_abuse"])
    with pytest.raises(NotAnswered, match="No part named for M01"):
        check_answer("M01", "part")
    with pytest.raises(ValueError, match="half must be"):
        check_answer("M01", "whole")


def test_a_case_that_was_dealt_is_marked_by_the_instructor_alone(monkeypatch, capsys):
    """No key on this machine: a learner is told that it is handed in; under pytest the check fails."""
    record_answer("V-ABCDEFGH", parts=["front_pump"], causes=["neutral_drop_abuse"])
    with pytest.raises(
        CheckFailed, match="No key for V-ABCDEFGH, so pytest cannot mark it.*copies them there first"
    ):
        check_answer("V-ABCDEFGH", "part")
    monkeypatch.delenv("PYTEST_VERSION")
    check_answer("V-ABCDEFGH", "part")
    assert capsys.readouterr().out == "Handed in: V-ABCDEFGH, part. Your instructor marks this case.\n"


@pytest.mark.parametrize("criterion", CHECKS)
def test_a_case_without_help_says_how_it_stands_and_says_it_once(criterion, capsys):
    """Right: one line with its points. Wrong: the error is the line, and nothing is printed beside it."""
    expert = model_record(load_case("K25"), load_key("K25"))
    save_record(expert, "answers")
    check_criterion("K25", criterion)
    assert re.search(
        rf"K25, {criterion}: {CHECKS[criterion]} of {CHECKS[criterion]} points\.", capsys.readouterr().out
    )
    wrong = Answer(parts=("no_part_broken",), causes=("neutral_drop_abuse",), why="I am sure.")
    save_record(replace(expert, answer=wrong, handed_in=wrong, history=()), "other/answers")
    with pytest.raises(
        CheckFailed, match=f"^K25, {criterion}: [0-9.]+ of {CHECKS[criterion]} points. "
    ) as failed:
        check_criterion("K25", criterion, folder="other")
    shown = capsys.readouterr().out
    assert "'text/plain': ''" in shown and "instructor" not in shown
    assert failed.value._render_traceback_() == [f"CheckFailed: {failed.value}"]


def test_half_of_two_causes_tells_the_repair_that_leaves_the_other():
    """Only with the right part is it that repair; with a wrong part it is what any wrong part comes to."""
    one, two = "neutral_drop_abuse", load_key("M01").causes[0]
    stories = {name: name for name in (f"all but {two}", f"all but {one}", *Outcome)}
    key = replace(load_key("M01"), causes=(one, two), stories=stories)
    right, wrong = Answer(parts=key.parts, causes=(one,)), Answer(parts=("front_pump",), causes=(one,))
    assert mark(right, key).story == f"all but {two}"
    assert mark(wrong, key).story == Outcome.NEITHER
