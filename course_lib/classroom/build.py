"""Build the learners' notebooks from the solved masters: ``python -m course_lib.classroom.build``.

A master in `solutions/` is the whole lesson with its solution. Cells tagged "solution" (the typed answer, the
instructor's remarks) are left out of the learners' copy; nothing else differs. A master whose first cell is tagged
"instructor" has none. Both are written in one clean
form: fixed cell ids, no outputs, no counts, one kernel name. Building twice gives the same bytes.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

SOLUTION, INSTRUCTOR = "solution", "instructor"
"""The tag of a cell that only the master holds, and of a first cell whose notebook has no learners' copy."""

TOP = Path(__file__).resolve().parents[2]
"""The checkout: masters are not installed with the library, so this command needs one."""

METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
"""What every notebook says about its language; nothing of the machine it was last opened on."""


def clean(notebook: dict, stem: str) -> dict:
    """The notebook with fixed ids "<stem>-<nn>", no outputs, no counts and the standard metadata.

    An id that a cell has already is kept if it fits the form, so that inserting a cell moves no other id.
    """
    taken = {cell.get("id") for cell in notebook["cells"]}
    cells: list[dict] = []
    used: set[str] = set()
    for cell in notebook["cells"]:
        name = cell.get("id", "")
        if not _fits(name, stem) or name in used:
            name = _free_id(stem, taken | used)
        used.add(name)
        cells.append(_clean_cell(cell, name))
    return {"cells": cells, "metadata": METADATA, "nbformat": 4, "nbformat_minor": 5}


def without_solution(notebook: dict) -> dict:
    """The learners' copy: the notebook without the cells tagged "solution"."""
    kept = [cell for cell in notebook["cells"] if SOLUTION not in cell["metadata"].get("tags", [])]
    return notebook | {"cells": kept}


def as_text(notebook: dict) -> str:
    """The notebook as the text of its file; the same notebook always gives the same text."""
    return json.dumps(notebook, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def build(masters: Path, learners: Path) -> dict[Path, str]:
    """Every file the build writes and its text: cleaned masters, and the learners' copies."""
    files = {}
    for path in sorted(masters.glob("*.ipynb")):
        master = clean(json.loads(path.read_text(encoding="utf-8")), path.stem[:2])
        files[path] = as_text(master)
        if INSTRUCTOR not in master["cells"][0]["metadata"].get("tags", []):
            files[learners / path.name] = as_text(without_solution(master))
    return files


def main(top: Path = TOP) -> int:
    """Write what has changed and say so."""
    changed = 0
    for path, text in build(top / "solutions", top / "notebooks").items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"written: {path.relative_to(top)}")
            changed += 1
    print(f"{changed} files changed.")
    return 0


def _fits(name: str, stem: str) -> bool:
    number = name.removeprefix(f"{stem}-")
    return name.startswith(f"{stem}-") and len(number) == 2 and number.isdigit()


def _free_id(stem: str, taken: set) -> str:
    return next(name for n in range(100) if (name := f"{stem}-{n:02d}") not in taken)


def _clean_cell(cell: dict, name: str) -> dict:
    metadata = {key: cell["metadata"][key] for key in ("grade", "tags") if cell["metadata"].get(key)}
    source = "".join(cell["source"]).rstrip()
    one = {"cell_type": cell["cell_type"], "id": name, "metadata": metadata}
    one["source"] = source.splitlines(keepends=True)
    return one | ({"outputs": [], "execution_count": None} if cell["cell_type"] == "code" else {})


if __name__ == "__main__":
    sys.exit(main())
