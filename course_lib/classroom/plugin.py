"""pytest plugin: which check cells of a notebook earned their points.

A check cell of a class set carries `"grade": {"id": "<case>/<criterion>", "points": n}` in its metadata. That survives edits of a
notebook, where cell numbers do not. With ``--marks-out FILE`` one row per check cell is written as CSV.
A check that is marked in levels tells its points in an output of the kind `LEVELS`; the others earn all or nothing.
The plugin also keeps the cells of one notebook on one worker: scattered cells would be marked wrongly.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Generator, Iterable
from pathlib import Path
from typing import Any

import pytest

from course_lib.classroom import LEVELS

COLUMNS = ("notebook", "check", "points", "earned", "level", "passed", "said", "about")
"""Columns of the file that ``--marks-out`` writes. `said` is the reason for the level, or the one line of a check that did not
pass. A cell that is no check and failed has a row too, with no name under `check`: what comes after it was not marked fairly."""

_ANSI = re.compile(r"\x1b\[[0-9;]*m")
_ROWS = pytest.StashKey[list[dict[str, str]]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--marks-out``."""
    group = parser.getgroup("course")
    group.addoption("--marks-out", metavar="FILE", help="write one CSV row for each check cell to FILE")


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """With several workers, give each notebook to one worker: its cells need each other."""
    option = config.option
    runs_notebooks = getattr(option, "nbval", False) or getattr(option, "nbval_lax", False)
    if runs_notebooks and getattr(option, "numprocesses", None):
        option.dist = "loadfile"


def pytest_configure(config: pytest.Config) -> None:
    """Start with an empty list of rows."""
    config.stash[_ROWS] = []
    config.pluginmanager.register(_Collector(config), "course-marks")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Copy a cell's grade to the properties that travel with its report, also from worker to controller."""
    for item in items:
        grade = getattr(getattr(item, "cell", None), "metadata", {}).get("grade")
        if grade:
            item.user_properties += [("check", str(grade["id"])), ("points", str(grade["points"]))]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Add the last line of a failed cell's error to its report."""
    report = yield
    if call.when == "call" and call.excinfo is not None and hasattr(item, "cell"):
        trace = getattr(call.excinfo.value, "inner_traceback", None) or str(call.excinfo.value)
        report.user_properties.append(("said", last_line(trace)))
    if call.when == "call" and _has_grade(report):
        report.user_properties += told_level(getattr(item, "test_outputs", None) or ())
    return report


def told_level(outputs: Iterable[Any]) -> list[tuple[str, str]]:
    """What the outputs of a check cell tell of its level, as properties; empty for a check that is marked all or nothing."""
    for output in outputs:
        told = (output.get("data") or {}).get(LEVELS)
        if told:
            about = json.dumps(told["about"], sort_keys=True) if told["about"] else ""
            words = {"level": str(told["level"]), "reason": str(told["reason"]), "about": about}
            return [("earned", f"{told['points']:g}"), *words.items()]
    return []


class _Collector:
    """Gathers the rows on the controller only; a worker has nothing to write."""

    def __init__(self, config: pytest.Config) -> None:
        self.rows = config.stash[_ROWS]
        self.out = None if hasattr(config, "workerinput") else config.getoption("--marks-out")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the row of a check cell, whether it ran or could not even be started."""
        if report.failed or (_has_grade(report) and report.when == "call"):
            self.rows.append(row(report))

    def pytest_sessionfinish(self) -> None:
        """Write the CSV, in an order that does not depend on the number of workers."""
        if not self.out:
            return
        with Path(self.out).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, COLUMNS)
            writer.writeheader()
            writer.writerows(sorted(self.rows, key=lambda one: (one["notebook"], one["check"])))


def row(report: pytest.TestReport) -> dict[str, str]:
    """One row of the marks file. Without a level, points are earned by a plain pass; a pass after a time-out earns none."""
    about = {name: str(value) for name, value in report.user_properties}
    passed = report.passed and not hasattr(report, "wasxfail")
    failed = "" if passed else about.get("said", "The cell could not be run.")
    return {
        "notebook": report.nodeid.split("::")[0],
        "check": about.get("check", ""),
        "points": about.get("points", "0"),
        "earned": about.get("earned", about.get("points", "0") if passed else "0"),
        "level": about.get("level", ""),
        "passed": "yes" if passed else "",
        "said": about.get("reason", failed),
        "about": about.get("about", ""),
    }


def last_line(text: str) -> str:
    """The last line of `text` that is not blank, without terminal colors."""
    lines = [line.strip() for line in _ANSI.sub("", text).splitlines() if line.strip()]
    return lines[-1] if lines else ""


def _has_grade(report: pytest.TestReport) -> bool:
    return any(name == "check" for name, _ in report.user_properties)
