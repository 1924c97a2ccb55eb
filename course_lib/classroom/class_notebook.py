"""The notebook of a class set, made from the cells in `datasets/classroom/class_set.toml`: the learners' copy is what is marked."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, Literal, NamedTuple

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.notebooks import as_text, notebook_of
from course_lib.classroom.check_cells import CHECKS


class PatternCell(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One cell of the pattern; for_each: of what it stands once each."""

    kind: Literal["markdown", "code"]
    text: str
    for_each: Literal["", "case", "criterion"] = ""


class GradedCell(NamedTuple):
    """One graded cell: `check` is "<case id>/<criterion>"."""

    check: str
    points: float

    @property
    def case_id(self) -> str:
        """The case this check belongs to."""
        return self.check.split("/")[0]


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


def graded_cells(content: bytes) -> list[GradedCell]:
    """Every graded cell of a notebook, in order."""
    grades = [cell["metadata"].get("grade") for cell in json.loads(content)["cells"]]
    return [GradedCell(grade["id"], grade["points"]) for grade in grades if grade]


def _for_each(cell: PatternCell) -> str:
    return cell.for_each


def _laid(kind: str, group: list[PatternCell], cases: Sequence[str]) -> Iterator[dict[str, Any]]:
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


def _cell(kind: str, text: str) -> dict[str, Any]:
    source = text.strip("\n").splitlines(keepends=True)
    one: dict[str, Any] = {"cell_type": kind, "id": "", "metadata": {}, "source": source}
    return one | ({"outputs": [], "execution_count": None} if kind == "code" else {})
