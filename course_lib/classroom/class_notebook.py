"""The notebook of a class set, made from the cells in `datasets/classroom/class_set.toml`: the learners' copy is what is marked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Literal

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.notebooks import as_text, notebook_of
from course_lib.classroom.check_cells import CHECKS


class PatternCell(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One cell of the pattern; for_each: of what it stands once each."""

    kind: Literal["markdown", "code"]
    text: str
    for_each: Literal["", "case", "criterion"] = ""


class _Pattern(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    cells: tuple[PatternCell, ...]


def class_notebook(cases: Sequence[str]) -> str:
    """The text of the notebook for the cases with these ids; the same cases always give the same text."""
    pattern = read_data("classroom/class_set", _Pattern).cells
    cells = [
        cell for kind, group in groupby(pattern, key=_for_each) for cell in _laid(kind, list(group), cases)
    ]
    for place, cell in enumerate(cells):
        cell["id"] = f"class-{place:03d}"
    return as_text(notebook_of(cells))


def _for_each(cell: PatternCell) -> str:
    return cell.for_each


def _laid(kind: str, group: list[PatternCell], cases: Sequence[str]) -> Iterator[dict]:
    """Cells that stand together in the pattern, as often as they are to stand."""
    if not kind:
        yield from (_cell(cell.kind, cell.text) for cell in group)
        return
    for number, case in enumerate(cases, start=1):
        for criterion, points in CHECKS.items() if kind == "criterion" else [("", 0)]:
            for cell in group:
                made = _cell(cell.kind, cell.text.format(case=case, number=number, criterion=criterion))
                made["metadata"] = (
                    {"grade": {"id": f"{case}/{criterion}", "points": points}} if points else {}
                )
                yield made


def _cell(kind: str, text: str) -> dict:
    one = {"cell_type": kind, "id": "", "metadata": {}, "source": text.strip("\n").splitlines(keepends=True)}
    return one | ({"outputs": [], "execution_count": None} if kind == "code" else {})
