"""Cases on the disk: the work order in plain text, the findings sealed against an accidental look."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import msgspec

from course_lib.base.case_ids import id_of, retired_note
from course_lib.base.data_files import data_folder
from course_lib.base.guards import one_of
from course_lib.cases.case import Case, CaseFile, WorkOrder, check_case_id, file_of
from course_lib.cases.sealing import BROKEN, seal, unseal
from course_lib.vehicle.unit_spec import load_unit


class _CaseOnDisk(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    case_id: Annotated[str, msgspec.Meta(max_length=40)]
    work_order: WorkOrder
    sealed_findings: str


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise FileNotFoundError(
            f"{what} must be a file that exists, got {path}. "
            f"{retired_note(path.stem) or 'Check its name, or copy it back.'}"
        ) from None


def save_case(case: Case, path: str | Path) -> None:
    """Write `case` to a file: work order in plain text, findings sealed. The key is not in it."""
    sealed = seal(file_of(case)).decode()
    stored = _CaseOnDisk(case_id=case.id, work_order=case.work_order, sealed_findings=sealed)
    Path(path).write_bytes(msgspec.json.format(msgspec.json.encode(stored), indent=2) + b"\n")


def load_case(path_or_id: str | Path) -> Case:
    """A stored case, by path or by the name of one that comes with the course, with nothing inspected yet.

    Raises FileNotFoundError or ValueError with one line that says what to do.
    """
    path = Path(path_or_id)
    if path.suffix != ".json":
        path = data_folder() / "cases" / f"{check_case_id(id_of(str(path_or_id)))}.json"
    try:
        stored = msgspec.json.decode(_read(path, "case"), type=_CaseOnDisk)
        found = unseal(stored.sealed_findings.encode(), CaseFile)
    except BROKEN as error:
        raise ValueError(
            f"case file {path} must be whole, got {type(error).__name__}. Copy it from the course again."
        ) from None
    if (found.id, found.work_order) != (stored.case_id, stored.work_order):
        raise ValueError(
            f"findings in case file {path} must be those of case {stored.case_id} and its work order, got others. "
            "Copy it from the course again."
        )
    one_of(f"signal of case {found.id}", found.signal, load_unit(found.unit).signals)
    return Case(found)
