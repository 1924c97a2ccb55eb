"""Mark a class: run the course's own notebooks against each learner's records.

Records are data and are treated so: nothing from a learner's folder is ever executed. Only files named after
a graded case, small, plain and readable as a record, are copied beside a fresh copy of our notebook.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import stat
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from course_lib.datasets import data_folder
from course_lib.record import Record, read_record, save_record

CELL_TIMEOUT_S = 60
"""A check cell reads two small files; a minute is ample, and a stuck kernel does not hold up the class."""

COLUMNS = (
    "learner", "check", "points", "earned", "said", "minutes", "attempts", "sureness",
    "parts", "causes", "evidence", "why", "remark",
)  # fmt: skip
"""Columns of the marks file: one row for each learner and check."""


class Check(NamedTuple):
    """One graded cell: `check` is "<case id>/<half>"."""

    notebook: str
    check: str
    points: float

    @property
    def case_id(self) -> str:
        """The case this check belongs to."""
        return self.check.split("/")[0]


class Learner(NamedTuple):
    """One learner's folder: the records that were taken, by case id, and what was refused, by case id."""

    name: str
    records: dict[str, Record]
    remarks: dict[str, str]


def mark_folder(folder: Path | str, out: Path | str, *, notebooks: Path | None = None, jobs: int = 1) -> int:
    """Mark every learner's folder in `folder` and write the marks file `out`. Returns the number of learners.

    A learner's folder holds `answers/<case id>.json`, or the records themselves. Raises FileNotFoundError if
    there is no learner, and `KeyMissing` before anything runs if the key of a graded case is not at hand.
    """
    notebooks = notebooks or data_folder("notebooks")
    checks = graded_checks(notebooks)
    learners = read_class(Path(folder), {check.case_id for check in checks})
    _keys_at_hand(checks)
    with tempfile.TemporaryDirectory(prefix="marking-") as room:
        desks = _lay_out(Path(room), learners, notebooks, checks)
        said = _run(Path(room), jobs)
    _write(Path(out), [row for at, one in desks.items() for row in _rows(one, checks, said.get(at, {}))])
    return len(learners)


def graded_checks(notebooks: Path) -> list[Check]:
    """Every graded cell of the notebooks in a folder, in order."""
    found = []
    for path in sorted(notebooks.glob("*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        grades = [cell["metadata"]["grade"] for cell in cells if "grade" in cell["metadata"]]
        found += [Check(path.name, grade["id"], grade["points"]) for grade in grades]
    return found


def read_class(folder: Path, case_ids: set[str]) -> list[Learner]:
    """The learners in `folder`, one for each sub-folder, in order of their names. Links are passed over."""
    if not folder.is_dir():
        raise FileNotFoundError(f"folder must be an existing folder, got {folder}. Check the path.")
    rooms = sorted(p for p in folder.iterdir() if p.is_dir() and not p.is_symlink() and p.name[0] != ".")
    if not rooms:
        raise FileNotFoundError(
            f"folder must hold one folder for each learner, got none in {folder}. "
            "Put each learner's answers in a folder with the learner's name."
        )
    return [read_learner(room, case_ids) for room in rooms]


def read_learner(room: Path, case_ids: set[str]) -> Learner:
    """Take the records of the graded cases from one learner's folder; note what had to be refused."""
    inner = room / "answers"
    place = inner if inner.is_dir() and not inner.is_symlink() else room
    records, remarks = {}, {}
    for case_id in sorted(case_ids):
        try:
            records[case_id] = _plain_record(place / f"{case_id}.json")
        except FileNotFoundError:
            remarks[case_id] = "no record"
        except (OSError, ValueError) as error:
            remarks[case_id] = f"record refused: {error}"
    return Learner(room.name, records, remarks)


def _plain_record(path: Path) -> Record:
    """Read one record without following a link or waiting on a pipe."""
    if not stat.S_ISREG(path.lstat().st_mode):
        raise ValueError("it is not a plain file")
    return read_record(path)


def _keys_at_hand(checks: list[Check]) -> None:
    from course_lib.cases import load_key  # here: reading a class needs no simulator

    for case_id in sorted({check.case_id for check in checks}):
        load_key(case_id)


def _lay_out(room: Path, learners: list[Learner], notebooks: Path, checks: list[Check]) -> dict[str, Learner]:
    """Give each learner a desk: our graded notebooks and the records taken. Desks are numbered, not named."""
    desks = {}
    for number, learner in enumerate(learners):
        desk = room / f"desk{number:04d}"
        desk.mkdir()
        for name in {check.notebook for check in checks}:
            shutil.copyfile(notebooks / name, desk / name)
        for record in learner.records.values():
            save_record(record, desk / "answers")
        desks[desk.name] = learner
    return desks


def _run(room: Path, jobs: int) -> dict[str, dict[str, dict[str, str]]]:
    """Run nbval over all desks. Returns desk -> check -> the plugin's row."""
    out = room / "marks.csv"
    command, environment = _command(room, out, jobs), _clean_environment()
    done = subprocess.run(command, cwd=room, env=environment, capture_output=True, text=True)
    if not out.exists():
        said = (done.stdout + done.stderr).strip().splitlines() or ["nothing"]
        raise RuntimeError(f"The marking run did not finish. pytest said: {said[-1]}. Try it with --jobs 1.")
    found: dict[str, dict[str, dict[str, str]]] = {}
    with out.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["notebook"].split("/")[0], {})[row["check"]] = row
    return found


def _command(room: Path, out: Path, jobs: int) -> list[str]:
    workers = ["-p", "xdist.plugin", "-n", str(jobs)] if jobs > 1 else []
    return [
        sys.executable, "-m", "pytest", "-q", "-p", "nbval.plugin", "-p", "course_lib.classroom.plugin",
        "-p", "no:cacheprovider", *workers, "--nbval-lax", "--nbval-current-env",
        "--nbval-cell-timeout", str(CELL_TIMEOUT_S), "--noconftest", "-c", os.devnull,
        "--rootdir", str(room), "--marks-out", str(out), str(room),
    ]  # fmt: skip


def _clean_environment() -> dict[str, str]:
    """Our environment without settings that could load other code into the run."""
    drop = {"PYTEST_ADDOPTS", "PYTEST_PLUGINS", "PYTHONSTARTUP"}
    kept = {name: value for name, value in os.environ.items() if name not in drop}
    return kept | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONSAFEPATH": "1"}


def _rows(learner: Learner, checks: list[Check], said: dict[str, dict[str, str]]) -> list[dict[str, str]]:
    return [_row(learner, check, said.get(check.check)) for check in checks]


def _row(learner: Learner, check: Check, said: dict[str, str] | None) -> dict[str, str]:
    record = learner.records.get(check.case_id)
    answer = record.handed_in if record else None
    result = said or {"earned": "0", "said": "The cell was not run."}
    row = dict.fromkeys(COLUMNS, "") | {
        "learner": learner.name, "check": check.check, "points": f"{check.points:g}",
        "earned": result["earned"], "said": result["said"], "remark": learner.remarks.get(check.case_id, ""),
    }  # fmt: skip
    if record:
        row |= {"minutes": str(record.minutes_used), "attempts": str(record.attempts)}
    if answer:
        row |= {name: "; ".join(getattr(answer, name)) for name in ("parts", "causes", "evidence")}
        row |= {"why": answer.why, "sureness": answer.confidence}
    return {name: plain_cell(value) for name, value in row.items()}


def plain_cell(text: str) -> str:
    """`text` as a spreadsheet will show it: a learner's words must not be run as a formula."""
    text = re.sub(r"[\x00-\x1f]+", " ", text).strip()
    return "'" + text if text[:1] in ("=", "+", "-", "@") and not _is_number(text) else text


def _is_number(text: str) -> bool:
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", text))


def _write(out: Path, rows: list[dict[str, str]]) -> None:
    with out.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
