"""The marks of a class as files: a row for each check, a row for each case, JUnit, and a page for each learner."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

from course_lib.classroom.class_marks import CASE_COLUMNS, COLUMNS, NOT_MARKED, LearnerMarks, Row
from course_lib.classroom.handins import plain_line
from course_lib.classroom.marks_pages import write_pages

NOTE_COLUMNS = ("learner", "note")
"""Columns of notes.csv: one row for each thing that an instructor should know of a hand-in."""
_FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")


def write_marks(results: Sequence[LearnerMarks], out: Path) -> None:
    """Write marks.csv, cases.csv, notes.csv, junit.xml and the pages into the folder `out`."""
    out.mkdir(parents=True, exist_ok=True)
    _write_csv(out / "marks.csv", COLUMNS, [row for one in results for row in one.rows])
    _write_csv(out / "cases.csv", CASE_COLUMNS, [row for one in results for row in one.cases])
    notes = [{"learner": one.name, "note": note} for one in results for note in one.notes]
    _write_csv(out / "notes.csv", NOTE_COLUMNS, notes)
    (out / "junit.xml").write_bytes(junit(results))
    write_pages(results, out / "pages")


def _write_csv(path: Path, columns: Sequence[str], rows: Sequence[Row]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows({name: plain_cell(value) for name, value in row.items()} for row in rows)


def plain_cell(text: str) -> str:
    """`text` as a spreadsheet will show it: a learner's words must not be run as a formula.

    Spreadsheets run what begins with = + - @ or with a tab or a line end before one of them (OWASP, "CSV Injection"; from memory);
    some programs take the wide forms of these for the same.
    """
    text = plain_line(text)
    return "'" + text if text[:1] in _FORMULA and not _is_number(text) else text


def _is_number(text: str) -> bool:
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", text, re.ASCII))


def junit(results: Sequence[LearnerMarks]) -> bytes:
    """The marks as JUnit XML, for whatever reads test reports: a suite for each learner, a case for each check."""
    top = ET.Element("testsuites")
    for one in results:
        failed = [row for row in one.rows if not row["passed"]]
        errors = [row for row in failed if row["said"].startswith(NOT_MARKED)]
        count = {
            "tests": str(len(one.rows)),
            "failures": str(len(failed) - len(errors)),
            "errors": str(len(errors)),
        }
        suite = ET.SubElement(top, "testsuite", {"name": _legal(one.name), **count})
        for row in one.rows:
            case = ET.SubElement(suite, "testcase", {"classname": _legal(one.name), "name": row["check"]})
            if not row["passed"]:
                ET.SubElement(case, "error" if row in errors else "failure", {"message": _legal(row["said"])})
        ET.SubElement(suite, "system-out").text = _legal("\n".join(one.notes))
    ET.indent(top)
    whole: bytes = ET.tostring(top, encoding="utf-8", xml_declaration=True)
    return whole + b"\n"


def _legal(text: str) -> str:
    """Text with the characters only that XML 1.0 allows (section 2.2)."""
    return re.sub(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "?", text)
