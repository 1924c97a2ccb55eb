"""The marks of a learner: a row for each check and a row for each case, from the hand-in and from what its checks said."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from course_lib.assessment.rubric.mark_sheet import WEIGHTS
from course_lib.classroom.check_cells import WHOLE
from course_lib.classroom.class_notebook import GradedCell
from course_lib.classroom.handins import NO_RECORD, Handin, one_line
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
    "learner", "case", "vehicle", "points", "earned", *WEIGHTS, "returned", "gates", *WORK, "ideal", "inspections",
    "first", "outcome", "parts", "causes", "true", "remark",
)  # fmt: skip
"""Columns of cases.csv, the mark sheet: one row for each learner and case."""
Row = dict[str, str]
"""One row of a table of marks: column -> text."""

NOT_MARKED = "Not marked:"
"""How a check begins to speak that ended in an error of ours: worth no points, and counted nowhere."""
_OURS = re.compile(r"(?!CheckFailed|NotAnswered)\w+: ")
"""An error that is no judgment."""
NOT_RUN, NOTHING = "The cell was not run.", "There is no record to mark."


class LearnerMarks(msgspec.Struct, frozen=True):
    """One learner's marks: name, notes on the hand-in, a row for each check, and one for each case."""

    name: str
    notes: tuple[str, ...]
    rows: tuple[Row, ...]
    cases: tuple[Row, ...]

    def rows_of(self, case: str) -> list[Row]:
        """The rows of the checks of a case."""
        return [row for row in self.rows if case_of(row) == case]

    @property
    def not_marked(self) -> tuple[str, ...]:
        """The cases that could not be marked."""
        rows = [row for row in self.rows if row["said"].startswith(NOT_MARKED)]
        return tuple(dict.fromkeys(case_of(row) for row in rows))

    @property
    def earned(self) -> float:
        """Points earned, over all cases."""
        return sum(float(row["earned"]) for row in self.cases)

    @property
    def most(self) -> float:
        """Points that could be earned."""
        return sum(float(row["points"]) for row in self.cases)


def learner_marks(handin: Handin, checks: Sequence[GradedCell], ran: SandboxRun) -> LearnerMarks:
    """A learner's marks from the hand-in and what its checks said."""
    refused = [f"{case}: {line}" for case, line in handin.remarks.items()]
    if not handin.records and handin.notes and set(handin.remarks.values()) == {NO_RECORD}:
        refused = []  # the note says why there is none
    trouble = [ran.trouble] if ran.trouble else []
    told = {check: _told(row) for check, row in ran.said.items()}
    rows = tuple(_row(handin, check, told.get(check.check)) for check in checks)
    facts = {check: json.loads(row["about"] or "{}") for check, row in ran.said.items()}
    of_case = {
        case: [row for row in rows if case_of(row) == case] for case in dict.fromkeys(map(case_of, rows))
    }
    cases = tuple(_case_row(case, mine, facts.get(f"{case}/{WHOLE}", {})) for case, mine in of_case.items())
    remarks = [
        f"{case}: {line}" for case in of_case for line in facts.get(f"{case}/{WHOLE}", {}).get("remarks", ())
    ]
    marks = LearnerMarks(handin.name, (), rows, cases)
    errors = [f"{case}: {marks.rows_of(case)[0]['said']}" for case in marks.not_marked]
    notes = tuple(one_line(note) for note in (*errors, *refused, *handin.notes, *remarks, *trouble))
    return msgspec.structs.replace(marks, notes=notes)


def _told(row: Row) -> Row:
    """What the plugin tells of a check; one that ended in an error of ours is no mark of anybody's."""
    told = {name: row[name] for name in TOLD}
    if _OURS.match(row["said"]) and not (row["passed"] or row["level"] or row["about"]):
        told |= {"points": "0", "said": f"{NOT_MARKED} {row['said']}"}
    return told


def case_of(row: Row) -> str:
    """The case of a row of checks."""
    return row["check"].partition("/")[0]


def _case_row(case: str, rows: list[Row], facts: Mapping[str, Any]) -> Row:
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
    row |= {
        name: str(facts.get(name) or "") for name in ("vehicle", "first", "outcome", "ideal", "inspections")
    }
    return row | {"true": "; ".join(facts.get("true", ()))}


def _row(handin: Handin, check: GradedCell, said: Row | None) -> Row:
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
