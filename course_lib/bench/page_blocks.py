"""The blocks that a page only shows, as plain data: texts, lists, tables, pictures, progress."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from course_lib.bench.job_queue import Job

Block = dict[str, Any]

_DRAWING = "The picture is being drawn."


def text(words: str) -> Block:
    """One paragraph."""
    return {"kind": "text", "text": words}


def ordered(items: Sequence[str]) -> Block:
    """A list whose order means something."""
    return {"kind": "list", "ordered": True, "items": list(items)}


def table_block(caption: str, columns: Sequence[str], rows: Sequence[tuple[Sequence[str], str]]) -> Block:
    """A table; each row is its cells and its sign ("" for none), which says how the page marks it."""
    return {
        "kind": "table",
        "caption": caption,
        "columns": list(columns),
        "rows": [{"cells": list(cells), "sign": sign} for cells, sign in rows],
    }


def picture(name: str) -> Block:
    """A picture that the page asks for by name."""
    return {"kind": "picture", "id": name, "waiting": _DRAWING}


def progress_bar(piece: Job, doing: str, counted: str) -> Block:
    """How far a piece of work is. doing: what is said while nothing can be counted; counted: what is counted."""
    label = f"{counted}: {piece.done} of {piece.total}" if piece.total else doing
    return {"kind": "progress", "label": label, "done": piece.done, "total": piece.total}
