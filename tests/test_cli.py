"""The command `course`: copies without overwriting, passes options on, answers mistakes in one line."""

import subprocess
import sys

import pytest
from class_cases import set_of_one_case

from course_lib import cli
from course_lib.base.data_files import data_folder


def test_only_copy_leaves_the_notebooks_in_the_folder(tmp_path, capsys):
    """Every notebook of the course is there afterwards, and nothing was started."""
    assert cli.main(["open", str(tmp_path / "mine"), "--only-copy"]) == 0
    ours = {path.name for path in data_folder("notebooks").glob("*.ipynb")}
    assert {path.name for path in (tmp_path / "mine").iterdir()} == ours
    assert cli.FIRST_NOTEBOOK in ours
    assert f"{len(ours)} notebooks new" in capsys.readouterr().out


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
    """Options that the command does not know go on to JupyterLab, in their order."""
    started = []
    monkeypatch.setattr(cli.subprocess, "call", lambda command: started.append(command) or 0)
    assert cli.main(["open", str(tmp_path), "--no-browser", "--port=9123"]) == 0
    first = str(tmp_path / cli.FIRST_NOTEBOOK)
    assert started == [[sys.executable, "-m", "jupyterlab", first, "--no-browser", "--port=9123"]]


@pytest.mark.parametrize(
    "folder, said", [("none", "must be an existing folder"), ("class", "one folder for each learner")]
)
def test_a_wrong_folder_is_one_line(tmp_path, capsys, folder, said):
    """Marking a folder that is missing or empty ends with exit code 2 and one line."""
    (tmp_path / "class").mkdir()
    dealt = set_of_one_case(tmp_path / "set", ["Ana"])
    call = ["mark", str(tmp_path / folder), "--set", str(dealt), "--out", str(tmp_path / "marks")]
    assert cli.main(call) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1
    assert not (tmp_path / "marks").exists()


def test_unknown_options_of_marking_are_refused(tmp_path, capsys):
    """Only `open` passes options on; elsewhere a slip of the pen must not be swallowed."""
    with pytest.raises(SystemExit):
        cli.main(["mark", str(tmp_path), "--set", "mine", "--ot", "marks", "--fast"])
    assert "unknown option" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        cli.main(["mark", str(tmp_path)])
    assert "required: --set" in capsys.readouterr().err, "the course's own cases are not marked"


def test_the_module_runs_as_a_program():
    """`python -m course_lib.cli --help` names every verb."""
    run = subprocess.run([sys.executable, "-m", "course_lib.cli", "--help"], capture_output=True, text=True)
    assert run.returncode == 0 and "{open,set,mark}" in run.stdout
