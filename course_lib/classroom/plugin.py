"""pytest plugin: which check cells of a notebook earned their points.

A check cell carries `"grade": {"id": "<case>/<half>", "points": n}` in its metadata. That survives edits of a
notebook, where cell numbers do not. With ``--marks-out FILE`` one row per check cell is written as CSV.
The plugin also keeps the cells of one notebook on one worker: scattered cells would be marked wrongly.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

COLUMNS = ("notebook", "check", "points", "earned", "said")
"""Columns of the file that ``--marks-out`` writes. `said` is the one line of a check that did not pass."""

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
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo):
    """Add the last line of a failed cell's error to its report."""
    report = yield
    if call.when == "call" and call.excinfo is not None and _has_grade(report):
        trace = getattr(call.excinfo.value, "inner_traceback", None) or str(call.excinfo.value)
        report.user_properties.append(("said", last_line(trace)))
    return report


class _Collector:
    """Gathers the rows on the controller only; a worker has nothing to write."""

    def __init__(self, config: pytest.Config) -> None:
        self.rows = config.stash[_ROWS]
        self.out = None if hasattr(config, "workerinput") else config.getoption("--marks-out")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the row of a check cell, whether it ran or could not even be started."""
        if _has_grade(report) and (report.when == "call" or report.failed):
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
    """One row of the marks file. Points are earned by a plain pass; a pass after a time-out earns none."""
    about = {name: str(value) for name, value in report.user_properties}
    earned = report.passed and not hasattr(report, "wasxfail")
    return {
        "notebook": report.nodeid.split("::")[0],
        "check": about["check"],
        "points": about["points"],
        "earned": about["points"] if earned else "0",
        "said": "" if earned else about.get("said", "The cell could not be run."),
    }


def last_line(text: str) -> str:
    """The last line of `text` that is not blank, without terminal colors."""
    lines = [line.strip() for line in _ANSI.sub("", text).splitlines() if line.strip()]
    return lines[-1] if lines else ""


def _has_grade(report: pytest.TestReport) -> bool:
    return any(name == "check" for name, _ in report.user_properties)
