"""A class set marked for real: by nbval, on this machine, on a cluster, and on a machine that knows nothing of this one."""

import html
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from class_cases import relabeled
from class_desk import run_desks_here
from extras import from_extra

from course_lib.classroom import marking_run, sandbox
from course_lib.classroom.class_set import SetRequest, draw_set, write_set
from course_lib.classroom.marking_run import mark_folder
from course_lib.classroom.parallel import run_parallel
from course_lib.classroom.register import NOTEBOOK, read_register
from course_lib.classroom.sandbox import Sandbox, SandboxRun, run_sandboxes
from course_lib.classroom.simulated_class import EXPERT, GUESSER, SimulatedLearner, work_class

TOP = Path(__file__).resolve().parent.parent
SECRET, NAMES = b"a secret for marking in tests", ["Ana", "Bo", "Cy"]
ROSTER = {"Ana": SimulatedLearner(skill=EXPERT), "Bo": SimulatedLearner(skill=GUESSER)}  # Cy hands in nothing


@pytest.fixture(scope="module")
def classroom(tmp_path_factory):
    """A set with one case each, and what was handed in: folder with `set` and `in`."""
    top = tmp_path_factory.mktemp("class")
    write_set(draw_set(NAMES, SECRET, SetRequest(each=1), maker=relabeled), top / "set", SECRET)
    work_class(top / "set/instructor", top / "in", ROSTER, np.random.default_rng(3))
    return top


@pytest.fixture(scope="module")
def marked(classroom):
    """Marked by nbval on this machine: every file that comes of it."""
    mark_folder(classroom / "in", classroom / "out", classroom / "set/instructor")
    return files(classroom / "out")


def files(top):
    """Path below `top` -> content."""
    return {
        path.relative_to(top).as_posix(): path.read_bytes()
        for path in sorted(top.rglob("*"))
        if path.is_file()
    }


def test_a_class_set_is_marked_by_its_own_notebook(classroom, marked):
    """The expert has every point, the guesser few, who handed in nothing none; each check says why."""
    results = mark_here(classroom)
    assert [one.name for one in results] == NAMES
    assert results[0].earned == results[0].most == 100 and results[1].earned < 50 and results[2].earned == 0
    assert all(row["said"] for one in results for row in one.rows)
    assert {
        "cases.csv",
        "marks.csv",
        "notes.csv",
        "junit.xml",
        "pages/index.html",
        "pages/001-ana.html",
    } <= set(marked)
    assert b"The cause is exact, and it passes the five questions." in marked["pages/001-ana.html"]
    vehicle = results[0].cases[0]["vehicle"]
    assert " of " in vehicle and html.escape(vehicle).encode() in marked["pages/001-ana.html"]


def mark_here(classroom, out="here"):
    """Marked in this process, without a kernel."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            marking_run, "run_sandboxes", lambda desks: run_desks_here(desks, classroom / f"desks-{out}")
        )
        return mark_folder(classroom / "in", classroom / out, classroom / "set/instructor")


def test_nbval_marks_as_the_rubric_does(classroom, marked):
    """What nbval reports is what the rubric says when it is asked directly, file by file."""
    mark_here(classroom, "direct")
    assert files(classroom / "direct") == marked


def test_a_cluster_gives_the_same_marks(classroom, marked):
    """Two workers of a dask cluster on this machine: the same code, the same files."""
    distributed = from_extra("cluster", "distributed")
    how = {"n_workers": 2, "threads_per_worker": 1, "dashboard_address": None, "processes": True}
    with distributed.LocalCluster(**how) as cluster, distributed.Client(cluster) as client:
        mark_folder(classroom / "in", classroom / "cluster", classroom / "set/instructor", client=client)
    assert files(classroom / "cluster") == marked


def test_another_instructors_machine_gives_the_same_marks(classroom, marked, tmp_path):
    """Another home, working folder, time zone, language, order of hashes and copy of the course: the same files."""
    copy = tmp_path / "elsewhere"
    for name in ("course_lib", "datasets", "notebooks"):
        shutil.copytree(TOP / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(classroom / "set/instructor", tmp_path / "keys at home")
    shutil.copytree(classroom / "in", tmp_path / "hand-ins")
    home = tmp_path / "home"
    home.mkdir()
    kept = {
        name: value for name, value in os.environ.items() if name in ("PATH", "SYSTEMROOT", "LD_LIBRARY_PATH")
    }
    there = kept | {
        "HOME": str(home),
        "PYTHONPATH": str(copy),
        "TZ": "Asia/Tokyo",
        "LC_ALL": "C",
        "PYTHONHASHSEED": "7",
    }
    call = [
        sys.executable,
        "-m",
        "course_lib.cli",
        "mark",
        "hand-ins",
        "--set",
        "keys at home",
        "--out",
        "marks",
        "--jobs",
        "1",
    ]
    done = subprocess.run(call, cwd=tmp_path, env=there, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "3 hand-ins marked" in done.stdout and "3 of 3" in done.stderr
    assert files(tmp_path / "marks") == marked


def test_the_learners_own_notebook_only_says_that_the_answer_is_there(classroom):
    """Without a key the checks of the notebook handed out pass once something is handed in, and give nothing away."""
    from course_lib.assessment.marking import NotAnswered
    from course_lib.classroom.check_cells import check_criterion

    entry = read_register(classroom / "set/instructor").entries[1]
    room, case = classroom / "set/learners" / entry.folder, entry.cases[0]
    with pytest.raises(NotAnswered, match=f"Nothing handed in for {case}"):
        check_criterion(case, "cause", folder=room)
    shutil.copytree(classroom / "in" / entry.folder / "answers", room / "answers")
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTEST_VERSION", raising=False)
        assert check_criterion(case, "cause", folder=room) is None
    with pytest.raises(ValueError, match="Did you mean 'cause'"):
        check_criterion(case, "causes", folder=room)


# ------------------------------------------------------------------ when things go wrong
def test_a_broken_notebook_of_ours_is_never_the_learners_fault():
    """A cell of our own that fails is said in capitals, beside the marks that came of it."""
    cell = {
        "cell_type": "code",
        "id": "a",
        "metadata": {},
        "outputs": [],
        "execution_count": None,
        "source": "1 / 0",
    }
    text = f'{{"cells": [{__import__("json").dumps(cell)}], "metadata": {{}}, "nbformat": 4, "nbformat_minor": 5}}'
    (ran,) = run_sandboxes([Sandbox({"broken.ipynb": text.encode()})])
    assert ran.trouble.startswith("NOT MARKED FAIRLY") and "ZeroDivisionError" in ran.trouble


def test_a_run_that_does_not_finish_is_tried_learner_by_learner(monkeypatch):
    """One desk that ends the program takes nobody with it: the others are run alone, and it gets a line."""
    asked = []

    def ends_early(place, out):
        names = sorted(path.name for path in place.iterdir())
        asked.append(len(names))
        if any((place / name / "bad").exists() for name in names):
            return "Fatal Python error"
        out.write_text(
            "notebook,check,points,earned,level,passed,said,about\n"
            + "learner0000/a.ipynb,X/part,1,1,,yes,,\n"
        )
        return ""

    monkeypatch.setattr(sandbox, "_pytest", ends_early)
    good, bad = Sandbox({"a.ipynb": b"{}"}), Sandbox({"a.ipynb": b"{}", "bad": b""})
    ran = run_sandboxes([good, bad, good, Sandbox({})])
    assert asked == [3, 1, 1, 1]
    assert [bool(one.said) for one in ran] == [True, False, True, False]
    assert "It said: Fatal Python error" in ran[1].trouble and ran[3] == SandboxRun({}, "")


def test_results_come_in_order_however_they_arrive():
    """Late first items do not move others; progress counts every one."""
    seen = []
    found = run_parallel(
        _slowly, [0.2, 0.0, 0.1], jobs=2, progress=lambda done, total: seen.append((done, total))
    )
    assert found == ["0.2", "0.0", "0.1"] and seen == [(1, 3), (2, 3), (3, 3)]


def _slowly(seconds):
    time.sleep(seconds)
    return str(seconds)


def test_the_notebook_marked_is_ours_and_not_the_one_handed_in(classroom):
    """Whatever a learner made of the notebook, the desk holds the one made from the register."""
    entry = read_register(classroom / "set/instructor").entries[0]
    (classroom / "in" / entry.folder / NOTEBOOK).write_text("{}")
    try:
        results = mark_here(classroom, "own")
    finally:
        (classroom / "in" / entry.folder / NOTEBOOK).unlink()
    assert results[0].earned == 100
