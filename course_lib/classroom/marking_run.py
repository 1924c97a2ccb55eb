"""Mark a class: run the course's own notebooks against each learner's records.

Records are data and are treated so: nothing from a learner's folder is ever executed. Every learner gets a desk of their
own, so that no hand-in can change another's marks or stop the run.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from course_lib.classroom.desk import Desk, Ran, run_desks
from course_lib.classroom.handins import ANSWERS, Handin, read_handins
from course_lib.classroom.results import Result, result_of, write_results
from course_lib.classroom.spreading import Progress, quiet, spread_out
from course_lib.datasets import data_folder

AT_ONCE = 5
"""Desks that share one run: enough to pay for its start, few enough to keep all processors busy to the end."""


class Check(NamedTuple):
    """One graded cell: `check` is "<case id>/<half or criterion>"."""

    notebook: str
    check: str
    points: float

    @property
    def case_id(self) -> str:
        """The case this check belongs to."""
        return self.check.split("/")[0]


class Lesson(NamedTuple):
    """What one learner is marked with: notebooks and what must lie beside them, path below the desk -> content."""

    files: dict[str, bytes]
    checks: list[Check]


def mark_folder(
    folder: Path | str,
    out: Path | str,
    *,
    notebooks: Path | None = None,
    class_set: Path | str | None = None,
    jobs: int = 1,
    client: Any = None,
    progress: Progress = quiet,
) -> list[Result]:
    """Mark every learner's folder in `folder`, write the results to the folder `out`, and return them, learner by learner.

    A learner's folder holds `answers/<case id>.json`, or the records themselves. notebooks: whose graded cells count, by
    default the course's; class_set: the instructor's folder of a set, whose notebooks count instead. jobs: desks at a time;
    client: of a dask cluster to run them on. Raises FileNotFoundError if there is no learner, and `KeyMissing` before
    anything runs if the key of a graded case is not at hand.
    """
    if class_set is not None:
        handins, lessons = _of_set(Path(folder), Path(class_set))
    else:
        handins, lessons = _of_course(Path(folder), notebooks or data_folder("notebooks"))
    desks = [_desk(lesson, handin) for lesson, handin in zip(lessons, handins, strict=True)]
    ran = _run(desks, jobs, client, progress)
    results = [
        result_of(handin, lesson.checks, one)
        for handin, lesson, one in zip(handins, lessons, ran, strict=True)
    ]
    write_results(results, Path(out))
    return results


def _run(desks: list[Desk], jobs: int, client: Any, progress: Progress) -> list[Ran]:
    """What came of each desk, in their order. Desks that hold the same are run once: nothing else gets onto a desk."""
    held = [frozenset(desk.files.items()) for desk in desks]
    unlike = list(dict(zip(held, desks, strict=True)).values())
    batches = [unlike[at : at + AT_ONCE] for at in range(0, len(unlike), AT_ONCE)]

    def by_desk(done: int, total: int) -> None:
        progress(len(desks) * done // total, len(desks))

    ran = spread_out(run_desks, batches, jobs=jobs, client=client, progress=by_desk)
    known = dict(zip(dict.fromkeys(held), (one for batch in ran for one in batch), strict=True))
    return [known[one] for one in held]


def graded_checks(notebooks: Path) -> list[Check]:
    """Every graded cell of the notebooks in a folder, in order."""
    return _checks((path.name, path.read_bytes()) for path in sorted(notebooks.glob("*.ipynb")))


def _checks(notebooks: Iterable[tuple[str, bytes]]) -> list[Check]:
    found = []
    for name, content in notebooks:
        cells = json.loads(content)["cells"]
        grades = [cell["metadata"]["grade"] for cell in cells if "grade" in cell["metadata"]]
        found += [Check(name, grade["id"], grade["points"]) for grade in grades]
    return found


def _of_course(folder: Path, notebooks: Path) -> tuple[list[Handin], list[Lesson]]:
    """Everybody marked with the course's own graded notebooks."""
    from course_lib.cases import load_key  # here: reading a class needs no simulator

    checks = graded_checks(notebooks)
    cases = sorted({check.case_id for check in checks})
    handins = read_handins(folder, cases)
    for case_id in cases:
        load_key(case_id)
    files = {name: (notebooks / name).read_bytes() for name in {check.notebook for check in checks}}
    return handins, [Lesson(_begun(files, checks, handin), checks) for handin in handins]


def _begun(files: dict[str, bytes], checks: list[Check], handin: Handin) -> dict[str, bytes]:
    """The notebooks of the cases that a learner has a record of: the others would only say that nothing was handed in."""
    names = {check.notebook for check in checks if check.case_id in handin.records}
    return {name: content for name, content in files.items() if name in names}


def _of_set(folder: Path, place: Path) -> tuple[list[Handin], list[Lesson]]:
    """Everybody marked with the notebook of the cases that were given to them."""
    from course_lib.classroom.sets import read_register  # here: so does a class without a set

    register = read_register(place)
    handins = read_handins(
        folder, expected={entry.folder: (entry.name, entry.cases) for entry in register.entries}
    )
    return handins, [_lesson_of(handin.cases, place) for handin in handins]


def _lesson_of(cases: tuple[str, ...], place: Path) -> Lesson:
    from course_lib.cases import load_key
    from course_lib.classroom.class_notebook import class_notebook
    from course_lib.classroom.sets import NOTEBOOK

    if not cases:
        return Lesson({}, [])
    files = {NOTEBOOK: class_notebook(cases).encode()}
    for case in cases:
        load_key(case, place / "keys")
        files[f"keys/{case}.key"] = (place / "keys" / f"{case}.key").read_bytes()
        files[f"cases/{case}.json"] = (place / "cases" / f"{case}.json").read_bytes()
    return Lesson(files, _checks([(NOTEBOOK, files[NOTEBOOK])]))


def _desk(lesson: Lesson, handin: Handin) -> Desk:
    """Our files and the learner's records, written anew from what was understood of them; empty where there is none to mark."""
    records = {
        f"{ANSWERS}/{case}.json": msgspec.json.encode(record) for case, record in handin.records.items()
    }
    return Desk(lesson.files | records if records else {})
