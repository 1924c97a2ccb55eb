"""The notebooks: made from their masters, clean, short, readable without code, running from top to bottom."""

import ast
import json
import re
import shutil
from pathlib import Path

import nbformat
import pytest
from nbval_runs import run_nbval

from course_lib.authoring import build
from course_lib.lessons.syllabus import course_case, course_cases

TOP = Path(__file__).resolve().parent.parent
MASTERS = sorted((TOP / "solutions").glob("*.ipynb"))
LEARNERS = sorted((TOP / "notebooks").glob("*.ipynb"))
STORED = [
    path
    for path in MASTERS
    if build.STORED in json.loads(path.read_text(encoding="utf-8"))["cells"][0]["metadata"].get("tags", [])
]
MOST_CODE_CELLS, MOST_LINES, MOST_WORDS_A_CELL, MOST_WORDS_A_SENTENCE = 25, 3, 170, 25
WEIGHTS = {"part": 1, "cause": 2}


def cells(path: Path, kind: str) -> list[dict]:
    """The cells of one kind in a notebook."""
    return [
        cell for cell in json.loads(path.read_text(encoding="utf-8"))["cells"] if cell["cell_type"] == kind
    ]


def source(cell: dict) -> str:
    """The text of a cell."""
    return "".join(cell["source"])


def by_name(path: Path) -> str:
    """Test ids that say which notebook."""
    return f"{path.parent.name}/{path.name}"


def test_the_learners_copies_agree_with_their_masters():
    """Building again would change no byte, and nothing lies in the folders that the build did not write."""
    files = build.built_files(TOP / "solutions", TOP / "notebooks")
    assert {path for path in files if path.parent.name == "notebooks"} == set(LEARNERS)
    for path, text in files.items():
        assert path.read_text(encoding="utf-8") == text, (
            f"{path.name}: run python -m course_lib.authoring build"
        )


def test_building_twice_gives_the_same(tmp_path):
    """A cleaned master is left as it is, ids included; a cell that is put in moves no other id."""
    cell = {"cell_type": "markdown", "metadata": {"collapsed": True}, "source": ["one\n", "two\n"]}
    once = build.clean_notebook({"cells": [cell, dict(cell)]}, "07")
    assert [c["id"] for c in once["cells"]] == ["07-00", "07-01"]
    assert build.clean_notebook(once, "07") == once
    longer = build.clean_notebook({"cells": [once["cells"][0], cell, once["cells"][1]]}, "07")
    assert [c["id"] for c in longer["cells"]] == ["07-00", "07-02", "07-01"]
    assert once["cells"][0]["source"] == ["one\n", "two"] and once["cells"][0]["metadata"] == {}


@pytest.mark.parametrize("path", MASTERS + LEARNERS, ids=by_name)
def test_notebooks_are_clean(path):
    """Valid, ids unique, no counts, nothing of a machine; outputs only in a master that stores them, and there as text."""
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    ids = [cell["id"] for cell in book["cells"]]
    assert len(ids) == len(set(ids)) and ids
    for cell in cells(path, "code"):
        assert path in STORED or (cell["outputs"] == [] and cell["execution_count"] is None)
        assert all(set(output["data"]) <= set(build.KEPT) for output in cell["outputs"])
    assert dict(book.metadata["language_info"]) == {"name": "python"}


@pytest.mark.parametrize("path", LEARNERS, ids=by_name)
def test_nothing_of_the_solution_is_in_a_learners_copy(path):
    """No cell tagged "solution", no typed answer."""
    text = path.read_text(encoding="utf-8")
    assert build.SOLUTION not in [tag for c in cells(path, "code") for tag in c["metadata"].get("tags", [])]
    assert (
        "record_answer" not in text
        and "key.causes" not in text
        and "key.parts" not in text
        and "key.shortest" not in text
    )


@pytest.mark.parametrize("path", MASTERS + LEARNERS, ids=by_name)
def test_code_cells_are_short_calls(path):
    """At most 25 code cells of at most 3 lines, no def, class, shell line or star; explicit imports only."""
    code = cells(path, "code")
    assert len(code) <= MOST_CODE_CELLS
    for cell in code:
        assert len(cell["source"]) <= MOST_LINES
        tree = ast.parse(source(cell))
        kinds = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.If)
        assert not any(isinstance(node, kinds) for node in ast.walk(tree))
        assert "import *" not in source(cell)
        marked = {"nbval-skip", "raises-exception", "nbval-raises-exception"} & set(
            cell["metadata"].get("tags", [])
        )
        assert not marked and not re.search(r"NBVAL_(SKIP|RAISES)", source(cell))


@pytest.mark.parametrize("path", LEARNERS, ids=by_name)
def test_prose_is_short_and_in_american_spelling(path):
    """Cells of at most 170 words, sentences of at most 25, no word that belittles, no British spelling."""
    for cell in cells(path, "markdown"):
        text = source(cell)
        assert len(text.split()) <= MOST_WORDS_A_CELL, text[:60]
        plain = re.sub(r"[*_`#>|]", "", text)
        for sentence in re.split(r"(?<=[.!?:;])\s|\n\s*\n|\n\s*(?:-|\d+\.)\s", plain):
            assert len(sentence.split()) <= MOST_WORDS_A_SENTENCE, sentence
        assert not re.search(
            r"\b(simply|obviously|of course|colour|centre|tyre|litre|gauge reads bad)\b|!", plain
        )


def test_check_cells_are_the_last_code_and_carry_no_points():
    """JupyterLab stops at the first failing cell, so checks come last; what an instructor marks is never in the course."""
    for path in LEARNERS:
        asked = ["(" in source(cell) and source(cell).startswith("check_") for cell in cells(path, "code")]
        assert asked == sorted(asked), f"{path.name}: a check cell stands before another code cell"
        assert not [cell for cell in cells(path, "code") if cell["metadata"].get("grade")]
        assert not any("your instructor marks" in source(cell).lower() for cell in cells(path, "markdown"))


STAGES = ("K01", "K05", "K04", "K14", "K07", "K25")
"""One case of the course for each stage of help: their notebooks are made by one function, and `test_course` opens all of them."""
RUN = [
    path
    for path in MASTERS
    if path not in STORED and ("case_K" not in path.stem or path.stem.removeprefix("case_") in STAGES)
]
BESIDE = [
    path
    for path in LEARNERS
    if path.stem[:2] in ("00", "01", "02", "03") or "power" in path.stem or "K05" in path.stem
]
"""Learners' copies that are run beside the records of their masters; the others differ from masters that are run by fewer cells."""


def test_masters_run_from_top_to_bottom_and_pass(tmp_path):
    """The solved notebooks hand in and pass every check; the learners' copies pass beside those records."""
    for paths in (RUN, BESIDE):
        for path in paths:
            shutil.copy(path, tmp_path)
        done = run_nbval(tmp_path)
        assert done.returncode == 0, done.stdout
        for path in paths:
            (tmp_path / path.name).unlink()


def test_every_stage_of_help_is_run():
    """The cases above stand for all of them."""
    assert {course_case(name).support for name in STAGES} == {
        about.support for about in course_cases().values()
    }
