"""Check cells: one for each criterion of the rubric and one for the whole record, said in one line each.

For a case of the course the learner is told how it stands. Of a case that an instructor dealt there is no key on a learner's
machine, and the cell says that the answer is there. In a marking run, keys and cases lie beside the notebook; then the
cell tells its level to the marking run as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from course_lib.assessment.marking import CheckFailed, NotAnswered, key_or_none, mark, nothing_handed_in
from course_lib.assessment.record import Answer, Record, read_record, record_path
from course_lib.assessment.rubric.mark_sheet import WEIGHTS
from course_lib.base.case_ids import id_of
from course_lib.base.guards import one_of
from course_lib.classroom import LEVELS

if TYPE_CHECKING:
    from course_lib.cases.key import Key

WHOLE, MOST = "record", 100
CHECKS = {**WEIGHTS, WHOLE: MOST}
"""Check -> most points: the criteria of the rubric, and the whole record with its gates."""


class CheckOutcome(NamedTuple):
    """What a check tells: level ("" for the whole record), points, why, whether it is green, and facts for the class report."""

    level: int | str
    points: float
    reason: str
    passed: bool
    about: Mapping[str, Any] = MappingProxyType({})


def check_criterion(case_id: str, criterion: str, *, folder: str | Path = ".") -> None:
    """The check cell of one criterion, or of the whole "record", for the answer handed in for a case of a class set or of
    the course.

    Raises `NotAnswered` when nothing was handed in, `CheckFailed` for what does not pass by the rubric,
    ValueError for another name.
    """
    one_of("criterion", criterion, CHECKS)
    record = _handed_in(case_id, Path(folder))
    told = _told(case_id, Path(folder).resolve(), record)
    if told is None:
        print(f"Handed in: {case_id}, {criterion}. Your instructor marks this case.")
        return
    one = told[criterion]
    line = f"{case_id}, {criterion}: {one.points:g} of {CHECKS[criterion]} points. {one.reason}"
    _tell(one, line if one.passed else "")
    if not one.passed:
        raise CheckFailed(line)


def _handed_in(case_id: str, folder: Path) -> Record:
    case_id = id_of(case_id)
    try:
        record = read_record(record_path(case_id, folder / "answers"))
    except FileNotFoundError:
        record = None
    if record is None or record.handed_in is None:
        raise NotAnswered(nothing_handed_in(case_id, folder / "answers"))
    return record


@lru_cache(maxsize=4)
def _told(case_id: str, folder: Path, record: Record) -> dict[str, CheckOutcome] | None:
    """What every check of a case tells; None on a learner's machine. Under pytest a missing key is a failed check."""
    from course_lib.assessment.rubric import grade_record
    from course_lib.cases.case_file import load_case  # here: a blank answer needs no simulator loaded

    file = folder / "cases" / f"{case_id}.json"  # of a class set; a case of the course is found by its name
    key = key_or_none(case_id, *([folder / "keys"] if file.exists() else []))
    if key is None:
        return None
    case = load_case(file if file.exists() else case_id)
    sheet = grade_record(record, case, key)
    told = {
        one.criterion: CheckOutcome(one.level, one.points, one.reason, one.passed) for one in sheet.criteria
    }
    reason = " ".join(sheet.gates) or sheet.verdict
    order = case.work_order
    said: dict[str, Any] = {"vehicle": f"{order.vehicle} of {order.owner}"}
    said |= {"returned": sheet.returned, "remarks": list(sheet.remarks), "gates": list(sheet.gates)}
    return told | {
        WHOLE: CheckOutcome("", float(sheet.total), reason, sheet.passed, _facts(record, key) | said)
    }


def _facts(record: Record, key: Key) -> dict[str, Any]:
    """What a class report asks of a record beside its points; first: the outcome of the first answer handed in."""
    handed_in = [kept.answer for kept in record.history if kept.kind == "handed in"]
    last = record.handed_in or Answer()
    return {
        "first": mark(handed_in[0] if handed_in else last, key).outcome.value,
        "outcome": mark(last, key).outcome.value,
        "true": list(key.causes),
        "ideal": key.certificate.minutes if key.certificate else None,
        "inspections": len(record.inspections),
    }


def _tell(one: CheckOutcome, line: str) -> None:
    """The line for people, "" where an error says it, and for the marking run the same as data."""
    from IPython.display import display  # here: only a notebook has it loaded

    data = {"level": one.level, "points": one.points, "reason": one.reason, "about": dict(one.about)}
    display({"text/plain": line, LEVELS: data}, raw=True)  # type: ignore[no-untyped-call]  # IPython: untyped
