"""Marking: the verdict table, the words that must not give the answer away, and the one-line failures."""

import msgspec
import pytest

from course_lib.assessment.marking import (
    FEEDBACK,
    MORE_BROKEN,
    NOT_ALONE,
    RETHINK,
    CheckFailed,
    NotAnswered,
    Outcome,
    check_answer,
    handed_in_answer,
    left_undone,
    mark,
    require_passed,
)
from course_lib.assessment.record import CONFIDENCE, Answer, Record, RepairPlan, record_answer, save_record
from course_lib.cases.key import Key
from course_lib.diagnosis.key_entries import EvidenceAgainst

STORIES = {"part only": "it comes back", "cause only": "it never left", "part and cause": "it stays away"}
altered = msgspec.structs.replace
KEY = Key(
    case_id="X1",
    parts=("band", "drum"),
    also=("seals",),
    causes=("leak",),
    chain=(),
    stories=STORIES,
    recipe={},
)

# The table is the definition of a right answer, written out by hand: parts named, causes named, outcome.
TABLE = [
    (("band", "drum"), ("leak",), Outcome.PART_AND_CAUSE),
    (("drum", "band"), ("leak",), Outcome.PART_AND_CAUSE),
    (("band", "drum", "seals"), ("leak",), Outcome.PART_AND_CAUSE),
    (("band", "drum"), ("loose",), Outcome.PART_ONLY),
    (("band", "drum"), (), Outcome.PART_ONLY),
    (("band", "drum"), ("leak", "loose"), Outcome.PART_ONLY),
    (("band",), ("leak",), Outcome.CAUSE_ONLY),
    (("seals",), ("leak",), Outcome.CAUSE_ONLY),
    (("band", "drum", "pump"), ("leak",), Outcome.CAUSE_ONLY),
    ((), ("leak",), Outcome.CAUSE_ONLY),
    (("pump",), ("loose",), Outcome.NEITHER),
    ((), (), Outcome.NEITHER),
]


@pytest.mark.parametrize("parts, causes, outcome", TABLE)
def test_verdict_table(parts, causes, outcome):
    """Every part that must be named, none that may not; exactly the causes; order does not matter."""
    marks = mark(Answer(parts=parts, causes=causes), KEY)
    assert marks.outcome is outcome
    assert marks.part_right == outcome.value.startswith("part")
    assert marks.cause_right == outcome.value.endswith(("and cause", "cause only"))
    assert marks.story == STORIES.get(outcome.value)


def test_two_causes_must_both_be_named():
    """Half of two causes leaves the other one running, so it is not a right cause."""
    key = altered(KEY, **{"causes": ("leak", "tow")})
    assert not mark(Answer(parts=("band", "drum"), causes=("leak",)), key).cause_right
    assert mark(Answer(parts=("band", "drum"), causes=("tow", "leak")), key).cause_right


def test_one_of_two_causes_meets_the_repair_that_leaves_the_other():
    """The story is of the cause left; what is said tells that it is not alone, and names neither."""
    stories = {**STORIES, "all but drip": "half of it stays"}
    key = altered(KEY, **{"causes": ("leak", "drip"), "stories": stories})
    marks = mark(Answer(parts=("band", "drum"), causes=("leak",)), key)
    assert marks.outcome == "part only" and marks.story is stories["all but drip"]
    assert NOT_ALONE in marks.feedback and "drip" not in " ".join(marks.feedback)
    wrong = mark(Answer(parts=("band", "drum"), causes=("leak", "rust")), key)
    assert NOT_ALONE not in wrong.feedback and wrong.story is stories["part only"]


def test_a_wrong_cause_meets_the_finding_that_kills_it():
    """Told from the inspections that were made; from one that was not, only its name; nothing without any inspection."""
    row = EvidenceAgainst(
        inspection="pan", label="Drained against the sheet", found="0.1 qt", expected="about -2.0 qt"
    )
    key = altered(KEY, **{"against": {"dipstick_wrong_length": (row,)}})
    wrong = Answer(parts=("band", "drum"), causes=("dipstick_wrong_length",))
    assert "about -2.0 qt" in mark(wrong, key, ["pan"]).feedback[-1]
    unseen = mark(wrong, key, ["walk_round"]).feedback[-1]
    assert "Take the pan off" in unseen and "qt" not in unseen
    assert mark(wrong, key).feedback == mark(wrong, KEY, ["pan"]).feedback


def test_of_two_wrong_causes_the_first_named_meets_its_finding():
    """One sentence, about the one that was thought of first; a cause that is at work is told nothing against."""
    rows = {
        name: (EvidenceAgainst(inspection="pan", label="Drained", found="0.1 qt", expected=f"about {qt} qt"),)
        for name, qt in (("dipstick_wrong_length", "-2.0"), ("fluid_overfilled", "1.5"))
    }
    key = altered(KEY, **{"against": rows})
    for causes, told in (
        (tuple(rows), "-2.0"),
        (tuple(rows)[::-1], "1.5"),
        (("leak", "fluid_overfilled"), "1.5"),
    ):
        marks = mark(Answer(parts=("band", "drum"), causes=causes), key, ["pan"])
        said = [sentence for sentence in marks.feedback if "about" in sentence]
        assert len(said) == 1 and f"about {told} qt" in said[0]
    assert not any("about" in each for each in mark(Answer(causes=("leak",)), key, ["pan"]).feedback)


@pytest.mark.parametrize(
    "parts, renew, said",
    [
        (("band",), (), True),  # right, and the drum is left to bring the vehicle back
        (("band",), ("drum",), False),  # planned to be renewed
        (("band", "drum"), (), False),
        (("pump",), (), False),  # wrong: what else is broken is no matter yet
        (("band", "pump"), (), False),
    ],
)
def test_a_part_that_is_left_is_told_of_only_where_the_part_is_right(parts, renew, said):
    """Neither named nor planned, a part that brings the vehicle back by itself is told of, without its name."""
    key = altered(KEY, **{"either": (("band", "drum"),), "back": {"drum": 900.0, "band": 12.0}})
    feedback = mark(Answer(parts=parts, causes=("leak",), repair=RepairPlan(renew=renew)), key).feedback
    assert (MORE_BROKEN in feedback) == said
    assert left_undone(parts, key) == tuple(part for part in ("drum", "band") if part not in parts)
    late = altered(key, **{"back": {"drum": 49_900.0, "band": 12.0}})
    assert left_undone(parts, late) == left_undone(parts, key), "late is back as well"


def test_a_blank_half_is_never_right():
    """Not even against a key that asks for nothing."""
    empty = altered(KEY, **{"parts": (), "also": (), "causes": ()})
    assert mark(Answer(), empty).outcome is Outcome.NEITHER


def test_nothing_broken_is_an_answer():
    """A vehicle with no part broken yet is answered by saying so."""
    key = altered(KEY, **{"parts": ("no_part_broken",), "also": (), "stories": {}})
    assert mark(Answer(parts=("no_part_broken",), causes=("leak",)), key).outcome is Outcome.PART_AND_CAUSE
    assert not mark(Answer(parts=("band",), causes=("leak",)), key).part_right


@pytest.mark.parametrize("parts, causes, outcome", TABLE)
@pytest.mark.parametrize("sure", CONFIDENCE)
def test_feedback_never_names_the_answer(parts, causes, outcome, sure):
    """No id of the key appears in what is said, whatever was answered."""
    marks = mark(Answer(parts=parts, causes=causes, confidence=sure), KEY)
    said = " ".join(marks.feedback)
    assert said and not any(name in said for name in ("band", "drum", "seals", "leak"))


def test_sure_and_wrong_asks_for_a_second_thought():
    """Sure and wrong earns a re-think; unsure and wrong, or sure and right, does not."""
    wrong = {"parts": ("pump",), "causes": ("loose",)}
    right = {"parts": ("band", "drum"), "causes": ("leak",)}
    assert RETHINK in mark(Answer(**wrong, confidence=CONFIDENCE[-1]), KEY).feedback
    for half in (right | {"causes": ("loose",)}, right | {"parts": ("pump",)}):
        assert RETHINK in mark(Answer(**half, confidence=CONFIDENCE[-1]), KEY).feedback, "half wrong is wrong"
    assert RETHINK not in mark(Answer(**wrong, confidence=CONFIDENCE[0]), KEY).feedback
    assert RETHINK not in mark(Answer(**right, confidence=CONFIDENCE[-1]), KEY).feedback


def test_every_outcome_has_its_own_words():
    """The four outcomes are told apart by what is said."""
    assert set(FEEDBACK) == set(Outcome)
    assert len(set(FEEDBACK.values())) == len(Outcome)


@pytest.mark.parametrize("parts, causes, outcome", TABLE)
def test_only_a_wrong_half_fails(parts, causes, outcome):
    """`require_passed` fails exactly the wrong half, with a message of one line."""
    marks = mark(Answer(parts=parts, causes=causes), KEY)
    for half, right in (("part", marks.part_right), ("cause", marks.cause_right)):
        if right:
            require_passed(marks, half)
        else:
            with pytest.raises(CheckFailed, match=f"The (broken|root) {half} does not fit") as failed:
                require_passed(marks, half)
            assert "\n" not in str(failed.value)


def test_a_misspelled_half_is_refused():
    """A check cell with a slip of the pen must not pass."""
    with pytest.raises(ValueError, match="got 'parts'. Did you mean 'part'"):
        require_passed(mark(Answer(parts=("band", "drum"), causes=("leak",)), KEY), "parts")
    with pytest.raises(ValueError, match="half must be"):
        check_answer("X1", "reason")


def test_failures_show_as_one_line_in_a_notebook():
    """IPython's hook for an error's own rendering gives one line, the kind of failure first."""
    assert CheckFailed("look again")._render_traceback_() == ["CheckFailed: look again"]
    assert NotAnswered("hand it in")._render_traceback_(None, None, None) == ["NotAnswered: hand it in"]


def test_blank_is_not_answered_yet(tmp_path):
    """No record, an unfinished draft, and a hand-in without that half are all "not answered", not "wrong"."""
    with pytest.raises(NotAnswered, match="Nothing handed in for X1"):
        handed_in_answer("X1", "part", folder=tmp_path)
    save_record(Record(case_id="X1", answer=Answer(parts=("band",))), tmp_path)
    with pytest.raises(NotAnswered, match="Nothing handed in for X1"):
        handed_in_answer("X1", "part", folder=tmp_path)
    record_answer("X1", parts=["band"], causes=[], folder=tmp_path)
    assert handed_in_answer("X1", "part", folder=tmp_path).parts == ("band",)
    with pytest.raises(NotAnswered, match="No cause named for X1"):
        handed_in_answer("X1", "cause", folder=tmp_path)


def test_a_damaged_record_is_kept_and_said(tmp_path):
    """A record that cannot be read counts as not answered; the message says where it was kept."""
    (tmp_path / "X1.json").write_text('{"case_id": "X1", ', encoding="utf-8")
    with pytest.raises(NotAnswered, match="could not be read.*X1.damaged-1.json.*Nothing handed in"):
        handed_in_answer("X1", "part", folder=tmp_path)
    assert (tmp_path / "X1.damaged-1.json").exists()
