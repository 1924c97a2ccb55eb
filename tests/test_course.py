"""The cases of the course: what is said of each, how much is given, and that nothing gives the answer away."""

import json
from collections import Counter

import pytest
from msgspec.structs import replace

from course_lib.assessment.marking import CheckFailed
from course_lib.assessment.record import Answer, Record, save_record
from course_lib.assessment.rubric import model_record
from course_lib.authoring.build import TOP
from course_lib.authoring.case_recipes import CRITERIA, recipes
from course_lib.bench.bench_sheet import draw_sheet
from course_lib.bench.course_view import open_case
from course_lib.bench.fields import FIELDS, get
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.classroom.check_cells import check_criterion
from course_lib.faults.causes import all_causes, load_cause
from course_lib.lessons.syllabus import BLANK, OWN, course_case, course_cases, given_part

CASES = course_cases()
BENCHED = [name for name, about in CASES.items() if about.support in BLANK]


def test_every_case_has_a_recipe_and_a_companion():
    """Twenty-eight of them; a case is set beside another one of the course."""
    assert list(CASES) == [f"K{i:02d}" for i in range(1, 29)] == list(recipes())
    assert all(about.beside in CASES and about.beside != name for name, about in CASES.items())


def test_help_fades_over_the_course():
    """Every stage is there, worked ones first, and nothing is without help before lesson 10."""
    count = Counter(about.support for about in CASES.values())
    assert set(count) == {"worked", "independent", "without help", *BLANK}
    assert min(about.lesson for about in CASES.values() if about.alone) >= 10
    assert {about.lesson for about in CASES.values()} == set(range(1, 13)) - {3}


def test_what_the_course_says_names_no_cause():
    """Neither the data file nor a learner's notebook holds the id or the words of a cause."""
    texts = [(TOP / "datasets/course.toml").read_text(encoding="utf-8")]
    texts += [p.read_text(encoding="utf-8") for p in sorted((TOP / "notebooks").glob("case_K*.ipynb"))]
    assert len(texts) == 1 + len(CASES)
    for cause in all_causes().values():
        assert not any(cause.id in text or cause.label in text for text in texts), cause.id


@pytest.mark.parametrize("name", CASES)
def test_the_frozen_case_is_what_the_recipe_asks_for(name):
    """Cause, unit and signal; certified; in the words of the course; no seed to make the key from."""
    case, key, recipe = load_case(name), load_key(name), recipes()[name]
    assert key.causes == tuple(cause for cause in (recipe.cause, recipe.also) if cause)
    assert (case.unit, case.signal, key.recipe["use"]) == (recipe.unit, recipe.signal, recipe.use)
    assert key.certificate.certified and case.seed == 0
    assert CASES[name].told in case.work_order.complaint and case.work_order.owner == CASES[name].owner


@pytest.mark.parametrize("name", BENCHED)
def test_what_is_given_and_what_is_blank(name):
    """At each stage of completion help goes from the end of the record backward, and it is an expert's."""
    case, key, support = load_case(name), load_key(name), CASES[name].support
    (given, made), nothing = given_part(case, key, support), Answer()
    for field in (*BLANK[support], *OWN):
        assert getattr(given, field) == getattr(nothing, field)
    assert set(given.parts) >= set(key.parts)
    if "causes" not in BLANK[support]:
        assert given.causes == key.causes and given.evidence
    assert not case.findings and bool(made) == bool(given.evidence)


def test_where_all_is_the_learners_nothing_is_given():
    """Independent cases, with and without help, begin with an empty record."""
    assert given_part(None, None, "independent") == (None, ()) == given_part(None, None, "without help")


def test_an_unknown_case_is_named_with_the_nearest_one():
    """One line that says what to do."""
    with pytest.raises(ValueError, match="Did you mean 'K"):
        course_case("K7")


def test_no_cause_is_met_twice_before_the_last_lessons():
    """What a learner has seen worked is never what a later case asks for."""
    seen = Counter(recipe.cause for recipe in recipes().values())
    assert max(seen.values()) == 1
    assert all(load_cause(cause).label for cause in seen)


def test_notebooks_open_their_own_case():
    """One call opens the page, two check it; a worked case has a step for each of its steps."""
    for name, about in CASES.items():
        notebook = json.loads((TOP / f"notebooks/case_{name}.ipynb").read_text(encoding="utf-8"))
        code = "\n".join("".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "code")
        assert f'open_case("{name}")' in code
        blank = BLANK.get(about.support, () if about.support == "worked" else tuple(CRITERIA))
        assert code.count("check_criterion(") == len(set(blank) & set(CRITERIA)) + about.alone


@pytest.mark.parametrize("name", CASES)
def test_every_case_opens(name, tmp_path):
    """On its page, with as much of the record as is given; worked ones step by step."""
    page = open_case(name, folder=tmp_path)
    if CASES[name].support == "worked":
        assert all(repr(page.step(step)) for step in page.worked.words.steps)
    else:
        assert name in repr(page) and bool(page.model.given) == (CASES[name].support in BLANK)


def test_where_part_and_cause_are_given_the_verdict_is_on_what_the_learner_wrote(tmp_path):
    """K06 with a repair that leaves the cause: nobody is praised for what was given; with the expert's repair it is green."""
    model = open_case("K06", folder=tmp_path).model
    words = {"why": "It leaked, so it ran low.", "confidence": "sure"}
    model.do({"n": 1, "do": "hand_in", "answer": words | {"repair.renew": ["rear_seal"]}})
    verdict = draw_sheet(model)["verdict"]
    assert verdict["heading"] == "What you filled in" and not verdict["good"] and not verdict["story"]
    assert [line.partition(":")[0] for line in verdict["lines"]] == ["Repair plan", "Verification"]
    assert verdict["lines"][0].startswith("Repair plan: 0 of 10 points.")
    expert = model_record(load_case("K06"), load_key("K06")).answer
    whole = {
        name: get(Record(case_id="K06", answer=expert), name)
        for name in FIELDS
        if name[:5] in ("repai", "proof")
    }
    model.do({"n": 2, "do": "reopen"})
    model.do({"n": 3, "do": "hand_in", "answer": words | whole})
    assert draw_sheet(model)["verdict"]["good"], draw_sheet(model)["verdict"]


def test_the_whole_record_says_whether_it_passes(tmp_path, capsys):
    """All earned: passed. Cause and evidence alone, 40 points at most: not yet, and in words that fit that. All but the cause,
    50 points: not passed either, for that is what the course is about."""
    expert = model_record(load_case("K06"), load_key("K06"))
    save_record(expert, tmp_path / "all" / "answers")
    check_criterion("K06", "record", folder=tmp_path / "all")
    assert "Passed: more than 50 points are needed." in capsys.readouterr().out
    half = Answer(
        causes=expert.answer.causes, evidence=expert.answer.evidence, why="so it slid", confidence="sure"
    )
    save_record(replace(expert, answer=half, handed_in=half), tmp_path / "half" / "answers")
    with pytest.raises(
        CheckFailed, match="^K06, record: 32 of 100 points. Not passed yet: more than 50 points are needed.$"
    ):
        check_criterion("K06", "record", folder=tmp_path / "half")
    assert "Not passed" not in capsys.readouterr().out.partition("'text/plain': '',")[0], (
        "a failure says its sentence once"
    )
    blind = replace(expert.answer, causes=())
    save_record(replace(expert, answer=blind, handed_in=blind), tmp_path / "blind" / "answers")
    with pytest.raises(CheckFailed, match="points. Without the root cause a record earns at most 50 points"):
        check_criterion("K06", "record", folder=tmp_path / "blind")
