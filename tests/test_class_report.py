"""The class report finds what was put into a simulated class: who is perfect, guesses or copied, and what misled whom."""

import itertools

import numpy as np
import pandas as pd
import pytest
from class_cases import relabeled
from class_desk import run_desks_here

from course_lib.assessment.rubric import grade_record
from course_lib.assessment.rubric.mark_sheet import TITLES, WEIGHTS
from course_lib.assessment.rubric.model_answer import model_record
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.classroom import item_analysis, marking_run, report, simulated_class
from course_lib.classroom.class_set import SetRequest, draw_set, write_set
from course_lib.classroom.simulated_class import (
    EXPERT,
    GUESSER,
    SimulatedLearner,
    mixed_class,
    simulated_record,
    work_class,
)
from course_lib.faults.causes import all_causes
from course_lib.lessons.misconceptions import (
    cause_believed,
    misconception_behind,
    misconception_rules,
    shared_misconceptions,
)

SECRET, NAMES = b"one more secret for the tests", [f"Learner {n:02d}" for n in range(14)]
PERFECT, LUCK, FIRST, COPIER = NAMES[0], NAMES[1], NAMES[2], NAMES[-1]
ABSENT = "Nobody's Hand-in"
EACH = 2


@pytest.fixture(scope="module")
def thought():
    """A misconception that misleads on some of the frozen cases."""
    choices = [name for name, _ in load_case("P01").cause_choices]
    truths = [load_key(name).causes for name in ("W01", "P01", "M01")]
    return max(
        shared_misconceptions(),
        key=lambda name: sum(bool(cause_believed(name, true, choices)) for true in truths),
    )


@pytest.fixture(scope="module")
def marks(tmp_path_factory, thought):
    """A class that worked and was marked, in this process; the folder of the marks."""
    top = tmp_path_factory.mktemp("class")
    made = draw_set([*NAMES, ABSENT], SECRET, SetRequest(each=EACH), maker=relabeled)
    write_set(made, top / "set", SECRET)
    roster = mixed_class(NAMES, [thought], np.random.default_rng(11))
    work_class(top / "set/instructor", top / "in", roster, np.random.default_rng(12))
    rooms = (top / f"desks{n}" for n in itertools.count())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(marking_run, "run_sandboxes", lambda desks: run_desks_here(desks, next(rooms)))
        marking_run.mark_folder(top / "in", top / "marks", top / "set/instructor")
    return report.read_marks(top / "marks")


@pytest.fixture(scope="module")
def table(marks):
    """One row for each learner."""
    return report.learners(marks)


# ------------------------------------------------------------------ who is who
def test_the_perfect_one_is_on_top_and_solved_everything(table):
    """Full points on every case, in no more than a few times the ideal minutes."""
    assert table.loc[PERFECT, "points"] == table.loc[PERFECT, "of"] == 100 * EACH
    assert table.loc[PERFECT, "solved"] == EACH


def test_the_guesser_and_the_absent_are_at_the_bottom(table):
    """A guesser earns little and solves nothing; who handed in nothing is listed, with none."""
    others = table.drop(index=[LUCK, ABSENT, COPIER])
    assert table.loc[LUCK, "solved"] == 0 and table.loc[LUCK, "points"] < others["points"].min()
    assert table.loc[ABSENT, "points"] == 0 and table.loc[ABSENT, "notes"] > 0


def test_the_copier_is_told_and_earns_little(marks, table):
    """Both sides of a copied record have a note; on other cases the copied answers are worth little."""
    found = report.copied(marks)
    assert set(found.index) == {FIRST, COPIER}
    assert FIRST in found.loc[COPIER, "note"] and COPIER in found.loc[FIRST, "note"]
    assert table.loc[COPIER, "points"] < table.loc[PERFECT, "points"] / 2


def test_skill_shows_in_the_points():
    """On one case, many apprentices: more skill earns more points, rank by rank."""
    case, key = load_case("P01"), load_key("P01")
    means, expert = [], model_record(case, key)
    for skill, tries in ((GUESSER, 1), (-1.0, 6), (1.5, 6), (EXPERT, 1)):
        rng = np.random.default_rng(5)
        records = [
            simulated_record(SimulatedLearner(skill=skill), case, key, rng, expert=expert)
            for _ in range(tries)
        ]
        means.append(np.mean([grade_record(record, case, key).total for record in records]))
    assert means == sorted(means) and means[0] < 35 and means[-1] == 100


# ------------------------------------------------------------------ thoughts
def test_the_commonest_thought_is_the_one_put_in(marks, thought):
    """The thought that was given to some is the commonest found, with its words; right causes count for nobody."""
    found = report.thoughts(marks)
    assert found.index[0] == thought and found.iloc[0]["said"] == shared_misconceptions()[thought].says
    causes = report.wrong_causes(marks)
    assert causes["times"].is_monotonic_decreasing
    assert shared_misconceptions()[thought].truth in set(causes["in truth"])


def test_those_who_learned_show_in_the_part_only_rate(marks):
    """The thought is there at the first hand-in and gone at the last, so that fewer records name the part alone."""
    found = report.part_only(marks)
    assert found.before > found.after and found.records_before == found.records_after == len(marks.handed_in)
    assert f"{found.before:.0%}" in str(found)


def test_an_earlier_class_can_stand_for_before(marks):
    """With the marks of an earlier set, its last outcomes are the ones before."""
    earlier = report.ClassMarks(marks.cases.assign(outcome="part only"), marks.notes)
    found = report.part_only(marks, earlier)
    assert found.before == 1.0 and found.after == report.part_only(marks).after
    few = report.ClassMarks(marks.cases[:4], marks.notes)
    assert "may be chance" in str(report.part_only(few))


def test_the_map_of_wrong_causes_is_sound():
    """Every name in it exists, every thought is in the list, no entry is hidden by one before it."""
    every = set(all_causes())
    for place, entry in enumerate(misconception_rules()):
        assert set(entry.named) | set(entry.when) <= every and entry.thought in shared_misconceptions()
        assert not set(entry.named) & set(entry.when)
        seen = [misconception_behind(name, [true]) for name in entry.named for true in entry.when or every]
        assert entry.thought in seen, f"entry {place} never counts"
    assert misconception_behind("pump_worn_abrasive", ["pump_worn_abrasive"]) == ""


# ------------------------------------------------------------------ questions
def test_items_are_the_statistics_of_the_scores(marks):
    """Difficulty is the share of points; a criterion put in as hard comes out harder than one put in as easy."""
    found, scores = report.items(marks), report.scores(marks)
    assert list(found.index) == list(TITLES.values()) and ABSENT not in scores.index
    assert found["share of points"].to_numpy() == pytest.approx(scores.mean().to_numpy(), abs=0.006)
    assert found.loc["Safety", "share of points"] > found.loc["Look-alikes excluded", "share of points"]
    assert (found["D"] > 0).sum() >= 6  # skill was put in, so most criteria tell the good from the weak


def test_trust_says_how_small_the_class_is(marks):
    """Fourteen learners: both reliabilities come with their interval and with the doubt."""
    for name, found in report.trust(marks).items():
        assert "Only 14 learners" in str(found), name
        assert found.low < found.value < found.high
    assert report.trust(marks)["cases solved (KR-20)"].value == pytest.approx(
        item_analysis.kr20(report.solved(marks))
    )


def test_economy_compares_with_the_ideal(marks):
    """Two rows at most; records add up; idle inspections make it more than the ideal way."""
    found = report.economy(marks)
    assert found["records"].sum() == len(marks.handed_in) and set(found.index) <= {"solved", "not solved"}
    assert (found["minutes"] > 0).all()


def test_a_second_marker_is_compared(marks, tmp_path):
    """A person who agrees throughout has kappa 1; one who gives the same level to everybody does not."""
    rows = marks.handed_in[["learner", "case"]].assign(
        cause=(marks.handed_in["cause"] * 3 / WEIGHTS["cause"]).round(), safety=2
    )
    rows.to_csv(tmp_path / "second.csv", index=False)
    found = report.agreement(marks, tmp_path / "second.csv")
    assert found.loc["Root cause", "kappa"] == 1.0 and found.loc["Safety", "kappa"] < 0.5
    pd.DataFrame({"learner": ["x"], "case": ["y"], "cause": [1]}).to_csv(tmp_path / "other.csv", index=False)
    with pytest.raises(ValueError, match="second must hold learners and cases"):
        report.agreement(marks, tmp_path / "other.csv")


# ------------------------------------------------------------------ slips
def test_a_folder_without_marks_is_one_line(tmp_path):
    """Before marking there is nothing to report."""
    with pytest.raises(FileNotFoundError, match="Mark the class first"):
        report.read_marks(tmp_path)
    with pytest.raises(ValueError, match="at least four"):
        mixed_class(NAMES[:3], [], np.random.default_rng(0))


def test_one_seed_gives_one_class():
    """The same generator, the same roster."""
    one, two = (mixed_class(NAMES, ["low_is_pump"], np.random.default_rng(4)) for _ in range(2))
    assert one == two and simulated_class.HARDNESS.keys() >= {"causes", "chain"}
