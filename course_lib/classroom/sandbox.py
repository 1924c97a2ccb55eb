"""A learner's sandbox: a clean folder with our notebooks and their records, and nothing else, in which pytest --nbval-lax runs.

A sandbox is plain data until it is run, so that it can be run in another process or on another machine.
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

CELL_TIMEOUT_S = 60
"""A check cell reads two small files; a minute is ample, and a stuck kernel does not hold up the class."""
RUN_TIMEOUT_S = 900
"""Longest that one run over a few sandboxes may take, all in all."""


class Sandbox(NamedTuple):
    """What is laid out: path in it -> content."""

    files: dict[str, bytes]


class SandboxRun(NamedTuple):
    """What came of a sandbox: check -> the plugin's row; trouble: one line, "" where the run finished."""

    said: dict[str, dict[str, str]]
    trouble: str


def run_sandboxes(sandboxes: Sequence[Sandbox]) -> list[SandboxRun]:
    """Lay sandboxes out, each in a folder of its own, run the notebooks there, and take them away again.

    They share one program, because its start takes longer than a sandbox. Where that does not finish, each gets one to itself.
    """
    with tempfile.TemporaryDirectory(prefix="sandboxes-") as room:
        places = {f"learner{number:04d}": one for number, one in enumerate(sandboxes) if _has_notebook(one)}
        for name, one in places.items():
            _lay_out(one, Path(room) / "sandboxes" / name)
        out = Path(room) / "marks.csv"
        said = _pytest(Path(room) / "sandboxes", out) if places else ""
        if out.exists():
            return _read(out, len(sandboxes))
    if len(places) > 1:
        return [run_sandboxes([one])[0] for one in sandboxes]
    trouble = f"NOT MARKED FAIRLY: the marking run did not finish. It said: {said}."
    return [SandboxRun({}, trouble if _has_notebook(one) else "") for one in sandboxes]


def _has_notebook(sandbox: Sandbox) -> bool:
    return any(name.endswith(".ipynb") for name in sandbox.files)


def _lay_out(sandbox: Sandbox, place: Path) -> None:
    for name, content in sandbox.files.items():
        path = place / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _read(out: Path, sandboxes: int) -> list[SandboxRun]:
    """The rows of each sandbox's checks, and what the first other cell said that failed: our fault, never the learner's."""
    with out.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    ran = []
    for number in range(sandboxes):
        mine = [row for row in rows if row["notebook"].startswith(f"learner{number:04d}/")]
        ours = [row["said"] for row in mine if not row["check"]]
        trouble = f"NOT MARKED FAIRLY: a cell of our own notebook failed. {ours[0]}" if ours else ""
        ran.append(SandboxRun({row["check"]: row for row in mine if row["check"]}, trouble))
    return ran


def _pytest(place: Path, out: Path) -> str:
    """Run it; the last line it said. A kernel ends by itself when the program that started it is gone."""
    command, environment = _command(place, out), _clean_environment()
    try:
        run = subprocess.run(
            command, cwd=place, env=environment, timeout=RUN_TIMEOUT_S,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return f"nothing for {RUN_TIMEOUT_S} seconds"
    return (run.stdout.strip().splitlines() or ["nothing"])[-1]


def _command(place: Path, out: Path) -> list[str]:
    return [
        sys.executable, "-m", "pytest", "-q", "-p", "nbval.plugin", "-p", "course_lib.classroom.plugin",
        "-p", "no:cacheprovider", "--nbval-lax", "--nbval-current-env",
        "--nbval-cell-timeout", str(CELL_TIMEOUT_S), "--noconftest", "-c", os.devnull,
        "--rootdir", str(place), "--marks-out", str(out), str(place),
    ]  # fmt: skip


def _clean_environment() -> dict[str, str]:
    """Our environment without settings that could load other code into the run."""
    drop = {"PYTEST_ADDOPTS", "PYTEST_PLUGINS", "PYTHONSTARTUP"}
    kept = {name: value for name, value in os.environ.items() if name not in drop}
    return kept | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONSAFEPATH": "1"}
