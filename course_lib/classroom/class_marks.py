"""The marks of a class as files: a row for each check, a row for each case, JUnit, and a page for each learner."""

from __future__ import annotations

import csv
import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import msgspec

from course_lib.assessment.rubric.mark_sheet import WEIGHTS
from course_lib.classroom.check_cells import WHOLE
from course_lib.classroom.handins import Handin, one_line, plain_line
from course_lib.classroom.marks_pages import write_pages
from course_lib.classroom.sandbox import SandboxRun

COLUMNS = (
    "learner", "check", "points", "earned", "level", "passed", "said", "minutes", "attempts", "sureness",
    "parts", "causes", "evidence", "why", "remark",
)  # fmt: skip
"""Columns of marks.csv: one row for each learner and check."""
TOLD = ("earned", "level", "passed", "said")
"""What the plugin tells of a check."""
WORK = ("minutes", "attempts", "sureness")
CASE_COLUMNS = (
    "learner", "case", "points", "earned", *WEIGHTS, "returned", "gates", *WORK, "ideal", "inspections",
    "first", "outcome", "parts", "causes", "true", "remark",
)  # fmt: skip
"""Columns of cases.csv, the mark sheet: one row for each learner and case."""
NOTE_COLUMNS = ("learner", "note")
"""Columns of notes.csv: one row for each thing that an instructor should know of a hand-in."""

NOT_RUN, NOTHING = "The cell was not run.", "There is no record to mark."


class LearnerMarks(msgspec.Struct, frozen=True):
    """One learner's marks: name, notes on the hand-in, a row for each check, and one for each case."""

    name: str
    notes: tuple[str, ...]
    rows: tuple[dict[str, str], ...]
    cases: tuple[dict[str, str], ...]

    @property
    def earned(self) -> float:
        """Points earned, over all cases."""
        return sum(float(row["earned"]) for row in self.cases)

    @property
    def most(self) -> float:
        """Points that could be earned."""
        return sum(float(row["points"]) for row in self.cases)


def learner_marks(handin: Handin, checks: Sequence, ran: SandboxRun) -> LearnerMarks:
    """A learner's marks from the hand-in and what its desk said."""
    refused = [f"{case}: {line}" for case, line in handin.remarks.items()]
    trouble = [ran.trouble] if ran.trouble else []
    told = {check: {name: row[name] for name in TOLD} for check, row in ran.said.items()}
    rows = tuple(_row(handin, check, told.get(check.check)) for check in checks)
    facts = {check: json.loads(row["about"] or "{}") for check, row in ran.said.items()}
    of_case = {
        case: [row for row in rows if case_of(row) == case] for case in dict.fromkeys(map(case_of, rows))
    }
    cases = tuple(_case_row(case, mine, facts.get(f"{case}/{WHOLE}", {})) for case, mine in of_case.items())
    remarks = [
        f"{case}: {line}" for case in of_case for line in facts.get(f"{case}/{WHOLE}", {}).get("remarks", ())
    ]
    notes = tuple(one_line(note) for note in (*refused, *handin.notes, *remarks, *trouble))
    return LearnerMarks(handin.name, notes, rows, cases)


def case_of(row: dict[str, str]) -> str:
    """The case of a row of checks."""
    return row["check"].partition("/")[0]


def _case_row(case: str, rows: list[dict[str, str]], facts: dict) -> dict[str, str]:
    """A case in one row: the whole record's points, with its gates, and those of each criterion."""
    whole = [row for row in rows if row["check"].endswith(f"/{WHOLE}")]
    row = dict.fromkeys(CASE_COLUMNS, "") | {
        name: rows[0][name] for name in ("learner", *WORK, "parts", "causes", "remark")
    }
    row |= {name: f"{sum(float(one[name]) for one in whole):g}" for name in ("points", "earned")}
    row |= {one["check"].partition("/")[2]: one["earned"] for one in rows if one not in whole}
    row |= {
        "case": case,
        "gates": " ".join(facts.get("gates", ())),
        "returned": "yes" if facts.get("returned") else "",
    }
    row |= {name: str(facts.get(name) or "") for name in ("first", "outcome", "ideal", "inspections")}
    return row | {"true": "; ".join(facts.get("true", ()))}


def _row(handin: Handin, check, said: dict[str, str] | None) -> dict[str, str]:
    record = handin.records.get(check.case_id)
    answer = record.handed_in if record else None
    row = dict.fromkeys(COLUMNS, "") | {
        "learner": handin.name,
        "check": check.check,
        "points": f"{check.points:g}",
    }
    row["remark"] = handin.remarks.get(check.case_id, "")
    row |= said or {"earned": "0", "said": NOTHING if row["remark"] else NOT_RUN}
    if record:
        row |= {"minutes": str(record.minutes_used), "attempts": str(record.attempts)}
    if answer:
        row |= {name: "; ".join(getattr(answer, name)) for name in ("parts", "causes", "evidence")}
        row |= {"why": answer.why, "sureness": answer.confidence}
    return row


# ---------------------------------------------------------------------- files
def write_marks(results: Sequence[LearnerMarks], out: Path) -> None:
    """Write marks.csv, cases.csv, notes.csv, junit.xml and the pages into the folder `out`."""
    out.mkdir(parents=True, exist_ok=True)
    _write_csv(out / "marks.csv", COLUMNS, [row for one in results for row in one.rows])
    _write_csv(out / "cases.csv", CASE_COLUMNS, [row for one in results for row in one.cases])
    notes = [{"learner": one.name, "note": note} for one in results for note in one.notes]
    _write_csv(out / "notes.csv", NOTE_COLUMNS, notes)
    (out / "junit.xml").write_bytes(junit(results))
    write_pages(results, out / "pages")


def _write_csv(path: Path, columns: Sequence[str], rows: Sequence[dict[str, str]]) -> None:
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


_FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")


def _is_number(text: str) -> bool:
    return bool(re.fullmatch(r"-?\d+(\.\d+)?", text, re.ASCII))


def junit(results: Sequence[LearnerMarks]) -> bytes:
    """The marks as JUnit XML, for whatever reads test reports: a suite for each learner, a case for each check."""
    top = ET.Element("testsuites")
    for one in results:
        failed = [row for row in one.rows if not row["passed"]]
        count = {"tests": str(len(one.rows)), "failures": str(len(failed)), "errors": "0"}
        suite = ET.SubElement(top, "testsuite", {"name": _legal(one.name), **count})
        for row in one.rows:
            case = ET.SubElement(suite, "testcase", {"classname": _legal(one.name), "name": row["check"]})
            if not row["passed"]:
                ET.SubElement(case, "failure", {"message": _legal(row["said"])})
        ET.SubElement(suite, "system-out").text = _legal("\n".join(one.notes))
    ET.indent(top)
    return ET.tostring(top, encoding="utf-8", xml_declaration=True) + b"\n"


def _legal(text: str) -> str:
    """Text with the characters only that XML 1.0 allows (section 2.2)."""
    return re.sub(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "?", text)
