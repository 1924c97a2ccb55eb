"""Build the learners' notebooks from the solved masters: ``python -m course_lib.authoring build``.

A master in `solutions/` is the whole lesson with its solution. Cells tagged "solution" (the typed answer, the
instructor's remarks) are left out of the learners' copy; nothing else differs. A master whose first cell is tagged
"instructor" has none. Both are written in one clean form: fixed cell ids, no outputs, no counts, one kernel name. Building twice
gives the same bytes.

A master whose first cell is tagged "stored" keeps what its cells gave, as text, so that it can be read without being run.
``python -m course_lib.authoring build --run`` runs those and stores it; strict nbval holds it against a new run.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

from course_lib.base.notebooks import as_text, notebook_of

SOLUTION, INSTRUCTOR, STORED = "solution", "instructor", "stored"
"""The tag of a cell that only the master holds; of a first cell whose notebook has no learners' copy; of one whose master keeps
its outputs."""

KEPT = ("text/plain", "text/html", "text/markdown")
"""Outputs that are stored: the same on every machine and at every run."""

TOP = Path(__file__).resolve().parents[2]
"""The checkout: masters are not installed with the library, so this command needs one."""


def clean_notebook(notebook: dict[str, Any], stem: str) -> dict[str, Any]:
    """The notebook with fixed ids "<stem>-<nn>", no counts, no outputs but those that are stored, and the standard metadata.

    An id that a cell has already is kept if it fits the form, so that inserting a cell moves no other id.
    """
    taken = {cell.get("id") for cell in notebook["cells"]}
    cells: list[dict[str, Any]] = []
    used: set[str] = set()
    for cell in notebook["cells"]:
        name = cell.get("id", "")
        if not _fits(name, stem) or name in used:
            name = _free_id(stem, taken | used)
        used.add(name)
        cells.append(_clean_cell(cell, name))
    whole = notebook_of(cells)
    return _with_outputs(whole, notebook) if _tagged(notebook, STORED) else whole


def without_solution(notebook: dict[str, Any]) -> dict[str, Any]:
    """The learners' copy: the notebook without the cells tagged "solution", and without a word of what was given."""
    kept = [cell for cell in notebook["cells"] if SOLUTION not in cell["metadata"].get("tags", [])]
    plain: dict[str, Any] = {"outputs": [], "execution_count": None}
    return notebook | {"cells": [cell | (plain if cell["cell_type"] == "code" else {}) for cell in kept]}


def _tagged(notebook: dict[str, Any], tag: str) -> bool:
    return tag in notebook["cells"][0]["metadata"].get("tags", [])


def run_notebook(notebook: dict[str, Any]) -> dict[str, Any]:
    """The notebook with what its cells give, run from top to bottom in an empty folder. Raises nbclient's error where one fails."""
    import nbformat
    from nbclient import NotebookClient

    book = nbformat.reads(json.dumps(notebook), as_version=4)  # type: ignore[no-untyped-call]  # nbformat: untyped
    with tempfile.TemporaryDirectory() as folder:
        NotebookClient(book, timeout=120, resources={"metadata": {"path": folder}}).execute()
    ran: dict[str, Any] = json.loads(nbformat.writes(book))  # type: ignore[no-untyped-call]  # nbformat: untyped
    return ran


def built_files(masters: Path, learners: Path) -> dict[Path, str]:
    """Every file the build writes and its text: cleaned masters, and the learners' copies."""
    files = {}
    for path in sorted(masters.glob("*.ipynb")):
        master = clean_notebook(json.loads(path.read_text(encoding="utf-8")), path.stem[:2])
        files[path] = as_text(master)
        if not _tagged(master, INSTRUCTOR):
            files[learners / path.name] = as_text(without_solution(master))
    return files


def store_outputs(masters: Path) -> None:
    """Run every master whose outputs are stored, and store them anew."""
    for path in sorted(masters.glob("*.ipynb")):
        master = json.loads(path.read_text(encoding="utf-8"))
        if _tagged(master, STORED):
            path.write_text(
                as_text(clean_notebook(run_notebook(master), path.stem[:2])), encoding="utf-8", newline="\n"
            )


def write_notebooks(top: Path = TOP) -> list[Path]:
    """Write every file that the build changes, and return them."""
    changed = []
    for path, text in built_files(top / "solutions", top / "notebooks").items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8", newline="\n")
            changed.append(path)
    return changed


def _fits(name: str, stem: str) -> bool:
    number = name.removeprefix(f"{stem}-")
    return name.startswith(f"{stem}-") and len(number) == 2 and number.isdigit()


def _free_id(stem: str, taken: set[str]) -> str:
    return next(name for n in range(100) if (name := f"{stem}-{n:02d}") not in taken)


def _clean_cell(cell: dict[str, Any], name: str) -> dict[str, Any]:
    metadata = {key: cell["metadata"][key] for key in ("grade", "tags") if cell["metadata"].get(key)}
    source = "".join(cell["source"]).rstrip()
    one = {"cell_type": cell["cell_type"], "id": name, "metadata": metadata}
    one["source"] = source.splitlines(keepends=True)
    return one | ({"outputs": [], "execution_count": None} if cell["cell_type"] == "code" else {})


def _with_outputs(cleaned: dict[str, Any], given: dict[str, Any]) -> dict[str, Any]:
    """The cleaned notebook with the outputs of the one given, counted as if it had been run from top to bottom."""
    cells, count = [], 0
    for cell, old in zip(cleaned["cells"], given["cells"], strict=True):
        count += cell["cell_type"] == "code"
        if old.get("outputs"):
            cell = cell | {"outputs": _kept(old["outputs"], count), "execution_count": count}
        cells.append(cell)
    return cleaned | {"cells": cells}


def _kept(outputs: list[dict[str, Any]], count: int) -> list[dict[str, Any]]:
    """What is stored of a cell's outputs: what was shown or returned, as text."""
    kept = []
    for output in outputs:
        data = {kind: text for kind, text in output.get("data", {}).items() if kind in KEPT}
        one = {"output_type": output["output_type"], "data": data, "metadata": {}}
        if output["output_type"] == "execute_result":
            one["execution_count"] = count
        if data:
            kept.append(one)
    return kept
