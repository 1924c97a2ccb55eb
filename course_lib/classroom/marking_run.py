"""Mark a class: run the notebook of each learner's own cases against the learner's records.

Records are data and are treated so: nothing from a learner's folder is ever executed. Every learner gets a desk of their
own, so that no hand-in can change another's marks or stop the run.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from course_lib.classroom.class_marks import LearnerMarks, learner_marks, write_marks
from course_lib.classroom.handins import ANSWERS, Handin, read_handins
from course_lib.classroom.parallel import Progress, quiet, run_parallel
from course_lib.classroom.sandbox import Sandbox, SandboxRun, run_sandboxes

AT_ONCE = 5
"""Desks that share one run: enough to pay for its start, few enough to keep all processors busy to the end."""


class GradedCell(NamedTuple):
    """One graded cell: `check` is "<case id>/<half or criterion>"."""

    notebook: str
    check: str
    points: float

    @property
    def case_id(self) -> str:
        """The case this check belongs to."""
        return self.check.split("/")[0]


class MarkingKit(NamedTuple):
    """What one learner is marked with: notebooks and what must lie beside them, path below the desk -> content."""

    files: dict[str, bytes]
    checks: list[GradedCell]


def mark_folder(
    folder: Path | str,
    out: Path | str,
    class_set: Path | str,
    *,
    jobs: int = 1,
    client: Any = None,
    progress: Progress = quiet,
) -> list[LearnerMarks]:
    """Mark every learner's folder in `folder`, write the results to the folder `out`, and return them, learner by learner.

    A learner's folder holds `answers/<case id>.json`, or the records themselves. class_set: the instructor's folder of the set
    that was dealt; the course's own cases have their keys in every learner's hands and are not marked. jobs: desks at a time;
    client: of a dask cluster to run them on. Raises FileNotFoundError if there is no learner or no set, and `KeyMissing` before
    anything runs if the key of a case is not at hand.
    """
    handins, lessons = _of_set(Path(folder), Path(class_set))
    desks = [_desk(lesson, handin) for lesson, handin in zip(lessons, handins, strict=True)]
    ran = _run(desks, jobs, client, progress)
    results = [
        learner_marks(handin, lesson.checks, one)
        for handin, lesson, one in zip(handins, lessons, ran, strict=True)
    ]
    write_marks(results, Path(out))
    return results


def _run(desks: list[Sandbox], jobs: int, client: Any, progress: Progress) -> list[SandboxRun]:
    """What came of each desk, in their order. Desks that hold the same are run once: nothing else gets onto a desk."""
    held = [frozenset(desk.files.items()) for desk in desks]
    unlike = list(dict(zip(held, desks, strict=True)).values())
    batches = [unlike[at : at + AT_ONCE] for at in range(0, len(unlike), AT_ONCE)]

    def by_desk(done: int, total: int) -> None:
        progress(len(desks) * done // total, len(desks))

    ran = run_parallel(run_sandboxes, batches, jobs=jobs, client=client, progress=by_desk)
    known = dict(zip(dict.fromkeys(held), (one for batch in ran for one in batch), strict=True))
    return [known[one] for one in held]


def _checks(name: str, content: bytes) -> list[GradedCell]:
    """Every graded cell of a notebook, in order."""
    cells = json.loads(content)["cells"]
    grades = [cell["metadata"]["grade"] for cell in cells if "grade" in cell["metadata"]]
    return [GradedCell(name, grade["id"], grade["points"]) for grade in grades]


def _of_set(folder: Path, place: Path) -> tuple[list[Handin], list[MarkingKit]]:
    """Everybody marked with the notebook of the cases that were given to them."""
    from course_lib.classroom.class_set import (
        read_register,  # here: a command that is refused loads no simulator
    )

    register = read_register(place)
    handins = read_handins(folder, {entry.folder: (entry.name, entry.cases) for entry in register.entries})
    return handins, [_lesson_of(handin.cases, place) for handin in handins]


def _lesson_of(cases: tuple[str, ...], place: Path) -> MarkingKit:
    from course_lib.cases.key_file import load_key
    from course_lib.classroom.class_notebook import class_notebook
    from course_lib.classroom.class_set import NOTEBOOK

    if not cases:
        return MarkingKit({}, [])
    files = {NOTEBOOK: class_notebook(cases).encode()}
    for case in cases:
        load_key(case, place / "keys")
        files[f"keys/{case}.key"] = (place / "keys" / f"{case}.key").read_bytes()
        files[f"cases/{case}.json"] = (place / "cases" / f"{case}.json").read_bytes()
    return MarkingKit(files, _checks(NOTEBOOK, files[NOTEBOOK]))


def _desk(lesson: MarkingKit, handin: Handin) -> Sandbox:
    """Our files and the learner's records, written anew from what was understood of them; empty where there is none to mark."""
    records = {
        f"{ANSWERS}/{case}.json": msgspec.json.encode(record) for case, record in handin.records.items()
    }
    return Sandbox(lesson.files | records if records else {})
