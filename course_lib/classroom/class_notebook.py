"""The notebook of a class set, made from the cells in `datasets/classroom/class_set.toml`: the learners' copy is what is marked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from course_lib.classroom.build import METADATA, as_text
from course_lib.classroom.checks import CHECKS
from course_lib.datasets import read_data


class Cell(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One cell of the pattern; for_each: of what it stands once each."""

    kind: Literal["markdown", "code"]
    text: str
    for_each: Literal["", "case", "criterion"] = ""


class _Pattern(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    cells: tuple[Cell, ...]


def class_notebook(cases: Sequence[str]) -> str:
    """The text of the notebook for the cases with these ids; the same cases always give the same text."""
    pattern = read_data("classroom/class_set", _Pattern).cells
    once = [cell for cell in pattern if not cell.for_each]
    repeated = [cell for cell in pattern if cell.for_each]
    cells = [_cell(cell.kind, cell.text) for cell in once]
    for number, case in enumerate(cases, start=1):
        cells += _of_one_case(repeated, case, number)
    for place, cell in enumerate(cells):
        cell["id"] = f"class-{place:03d}"
    return as_text({"cells": cells, "metadata": METADATA, "nbformat": 4, "nbformat_minor": 5})


def _of_one_case(pattern: Sequence[Cell], case: str, number: int) -> Iterator[dict]:
    for cell in pattern:
        if cell.for_each == "case":
            yield _cell(cell.kind, cell.text.format(case=case, number=number))
            continue
        for criterion, points in CHECKS.items():
            made = _cell(cell.kind, cell.text.format(case=case, criterion=criterion))
            made["metadata"] = {"grade": {"id": f"{case}/{criterion}", "points": points}}
            yield made


def _cell(kind: str, text: str) -> dict:
    one = {"cell_type": kind, "id": "", "metadata": {}, "source": text.strip("\n").splitlines(keepends=True)}
    return one | ({"outputs": [], "execution_count": None} if kind == "code" else {})
