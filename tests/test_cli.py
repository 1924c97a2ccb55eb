"""The commands: `course` copies without overwriting and passes options on; mistakes are answered in one line."""

import json
import subprocess
import sys

import pytest
from class_cases import set_of_one_case
from click.testing import CliRunner

from course_lib import cli
from course_lib.authoring.__main__ import main as makers
from course_lib.base.data_files import data_folder
from course_lib.faults.measures import known_units


def run(*arguments):
    """What the command said, and its exit code."""
    return CliRunner().invoke(cli.main, [str(each) for each in arguments], prog_name="course")


def make(*arguments):
    """The same of a makers' command."""
    return CliRunner().invoke(makers, [str(each) for each in arguments], prog_name="make")


def test_only_copy_leaves_the_notebooks_in_the_folder(tmp_path):
    """Every notebook of the course is there afterwards, and nothing was started."""
    result = run("open", tmp_path / "mine", "--only-copy")
    assert result.exit_code == 0
    ours = {path.name for path in data_folder("notebooks").glob("*.ipynb")}
    assert {path.name for path in (tmp_path / "mine").iterdir()} == ours
    assert cli.FIRST_NOTEBOOK in ours
    assert f"{len(ours)} notebooks new" in result.stdout


def test_a_learners_copy_is_never_overwritten(tmp_path):
    """Opening the course again leaves notes in a notebook, and the answers, as they are."""
    mine = tmp_path / cli.FIRST_NOTEBOOK
    mine.write_text("my notes")
    (tmp_path / "answers").mkdir()
    (tmp_path / "answers" / "P01.json").write_text("mine")
    fresh = cli.copy_notebooks(tmp_path)
    assert mine.read_text() == "my notes" and mine not in fresh
    assert (tmp_path / "answers" / "P01.json").read_text() == "mine"
    assert cli.copy_notebooks(tmp_path) == []


def test_open_starts_the_lab_at_the_first_notebook(tmp_path, monkeypatch):
    """Options that the command does not know go on to JupyterLab, in their order; its exit code is handed back."""
    started = []
    monkeypatch.setattr(cli.subprocess, "call", lambda command: started.append(command) or 3)
    monkeypatch.chdir(tmp_path)
    options = ["--no-browser", "--port=9123"]
    for given, folder in (
        ([tmp_path / "mine", *options], str(tmp_path / "mine")),
        (options, cli.DEFAULT_FOLDER),
    ):
        assert run("open", *given).exit_code == 3
        first = str(cli.Path(folder) / cli.FIRST_NOTEBOOK)
        assert started.pop() == [sys.executable, "-m", "jupyterlab", first, *options]


@pytest.mark.parametrize(
    "folder, said", [("none", "must be an existing folder"), ("class", "one folder for each learner")]
)
def test_a_wrong_folder_is_one_line(tmp_path, folder, said):
    """Marking a folder that is missing or empty ends with exit code 2 and one line."""
    (tmp_path / "class").mkdir()
    dealt = set_of_one_case(tmp_path / "set", ["Ana"])
    result = run("mark", tmp_path / folder, "--set", dealt, "--out", tmp_path / "marks")
    assert result.exit_code == 2
    assert result.stderr.startswith("course mark: ")
    assert said in result.stderr and result.stderr.count("\n") == 1
    assert not (tmp_path / "marks").exists()


def test_unknown_options_of_marking_are_refused(tmp_path):
    """Only `open` passes options on; elsewhere a slip of the pen must not be swallowed."""
    slip = run("mark", tmp_path, "--set", "mine", "--fast")
    assert slip.exit_code == 2 and "No such option" in slip.stderr and "--fast" in slip.stderr
    bare = run("mark", tmp_path)
    assert bare.exit_code == 2 and "'--set'" in bare.stderr, "the course's own cases are not marked"


def test_help_names_every_unit_that_a_set_can_be_made_with():
    """By their titles, as `--unit` takes them."""
    told = " ".join(CliRunner().invoke(cli.main, ["set", "--help"]).output.split())
    assert all(unit.title in told for unit in known_units())


def test_the_module_runs_as_a_program():
    """`python -m course_lib.cli --help` names every verb."""
    told = subprocess.run([sys.executable, "-m", "course_lib.cli", "--help"], capture_output=True, text=True)
    assert told.returncode == 0 and all(f"\n  {verb} " in told.stdout for verb in ("open", "set", "mark"))


# ---------------------------------------------------------------------- the makers' command
def test_every_makers_command_is_a_verb_of_one():
    """`python -m course_lib.authoring --help` names them all, and each explains itself."""
    told = subprocess.run(
        [sys.executable, "-m", "course_lib.authoring", "--help"], capture_output=True, text=True
    )
    verbs = ("build", "case", "coverage", "freeze", "lint", "schema", "survey")
    assert told.returncode == 0 and all(f"\n  {verb} " in told.stdout for verb in verbs)
    assert set(makers.commands) == set(verbs) and all(verb.help for verb in makers.commands.values())


def test_building_writes_what_has_changed_and_nothing_else(tmp_path):
    """The learners' copy comes without the solution; a second run finds nothing to do."""
    cells = [
        {"cell_type": "markdown", "id": "", "metadata": {}, "source": ["# One"]},
        {"cell_type": "code", "id": "", "metadata": {"tags": ["solution"]}, "source": ["1"], "outputs": []},
    ]
    for name in ("solutions", "notebooks"):
        (tmp_path / name).mkdir()
    (tmp_path / "solutions/one.ipynb").write_text(json.dumps({"cells": cells}))
    result = make("build", "--top", tmp_path)
    assert result.exit_code == 0 and result.stdout.endswith("2 files changed.\n")
    assert f"written: {cli.Path('notebooks/one.ipynb')}\n" in result.stdout
    assert len(json.loads((tmp_path / "notebooks/one.ipynb").read_text())["cells"]) == 1
    assert make("build", "--top", tmp_path).stdout == "0 files changed.\n"


def test_a_lint_that_finds_something_ends_with_1(monkeypatch):
    """Sentences for the writer, and an exit code for a machine; a lesson that is not there is one line."""
    assert make("lint", "L01").stdout == "Nothing to put right.\n"
    monkeypatch.setitem(
        makers.commands["lint"].callback.__globals__, "problems", lambda name: [f"{name} is odd."]
    )
    found = make("lint", "L01", "L02")
    assert found.exit_code == 1 and found.stdout == "L01 is odd.\nL02 is odd.\n"
    monkeypatch.undo()
    refused = make("lint", "L99")
    assert (
        refused.exit_code == 2
        and refused.stderr.startswith("make lint: ")
        and refused.stderr.count("\n") == 1
    )


def test_a_case_that_cannot_be_frozen_is_one_line():
    """What cannot be made is said in one line, and nothing is written."""
    refused = make("freeze", "M99", "--cause", "no_such_cause", "--seed", "1")
    assert refused.exit_code == 2 and refused.stderr.startswith("make freeze: ")
    assert refused.stderr.count("\n") == 1 and "no_such_cause" in refused.stderr
