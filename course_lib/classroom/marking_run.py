"""Mark a class: run the notebook of each learner's own cases against the learner's records.

Records are data and are treated so: nothing from a learner's folder is ever executed. Every learner gets a sandbox of their
own, so that no hand-in can change another's marks or stop the run.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from course_lib.cases.key_file import load_key
from course_lib.classroom.class_marks import LearnerMarks, learner_marks
from course_lib.classroom.class_notebook import GradedCell, class_notebook, graded_cells
from course_lib.classroom.handins import ANSWERS, Handin, read_handins
from course_lib.classroom.marks_files import write_marks
from course_lib.classroom.parallel import Progress, quiet, run_parallel
from course_lib.classroom.register import NOTEBOOK, read_register
from course_lib.classroom.sandbox import Sandbox, SandboxRun, run_sandboxes

if TYPE_CHECKING:
    from distributed import Client

AT_ONCE = 5
"""Sandboxes that share one run: enough to pay for its start, few enough to keep all processors busy to the end."""


class MarkingKit(NamedTuple):
    """What one learner is marked with: notebooks and what must lie beside them, path in the sandbox -> content."""

    files: dict[str, bytes]
    checks: list[GradedCell]


def mark_folder(
    folder: Path | str,
    out: Path | str,
    class_set: Path | str,
    *,
    jobs: int = 1,
    client: Client | None = None,
    progress: Progress = quiet,
) -> list[LearnerMarks]:
    """Mark every learner's folder in `folder`, write the results to the folder `out`, and return them, learner by learner.

    A learner's folder holds `answers/<case id>.json`, or the records themselves. class_set: the instructor's folder of the set
    that was dealt; the course's own cases have their keys in every learner's hands and are not marked. jobs: sandboxes at a time;
    client: of a dask cluster to run them on. Raises FileNotFoundError if there is no learner or no set, and `KeyMissing` before
    anything runs if the key of a case is not at hand.
    """
    register = read_register(Path(class_set))
    expected = {entry.folder: (entry.name, entry.cases) for entry in register.entries}
    handins = read_handins(Path(folder), expected)
    kits = [_kit(handin.cases, Path(class_set)) for handin in handins]
    sandboxes = [_sandbox(kit, handin) for kit, handin in zip(kits, handins, strict=True)]
    ran = _run(sandboxes, jobs, client, progress)
    results = [
        learner_marks(handin, kit.checks, one) for handin, kit, one in zip(handins, kits, ran, strict=True)
    ]
    write_marks(results, Path(out))
    return results


def _run(sandboxes: list[Sandbox], jobs: int, client: Client | None, progress: Progress) -> list[SandboxRun]:
    """What came of each sandbox, in their order. Those that hold the same are run once: nothing else gets into one."""
    held = [frozenset(one.files.items()) for one in sandboxes]
    unlike = list(dict(zip(held, sandboxes, strict=True)).values())
    batches = [unlike[at : at + AT_ONCE] for at in range(0, len(unlike), AT_ONCE)]

    def by_sandbox(done: int, total: int) -> None:
        progress(len(sandboxes) * done // total, len(sandboxes))

    ran = run_parallel(run_sandboxes, batches, jobs=jobs, client=client, progress=by_sandbox)
    known = dict(zip(dict.fromkeys(held), (one for batch in ran for one in batch), strict=True))
    return [known[one] for one in held]


def _kit(cases: tuple[str, ...], place: Path) -> MarkingKit:
    """What the cases of one learner are marked with. Raises `KeyMissing` where a key is not at hand."""
    if not cases:
        return MarkingKit({}, [])
    files = {NOTEBOOK: class_notebook(cases).encode()}
    for case in cases:
        load_key(case, place / "keys")
        files[f"keys/{case}.key"] = (place / "keys" / f"{case}.key").read_bytes()
        files[f"cases/{case}.json"] = (place / "cases" / f"{case}.json").read_bytes()
    return MarkingKit(files, graded_cells(files[NOTEBOOK]))


def _sandbox(kit: MarkingKit, handin: Handin) -> Sandbox:
    """Our files and the learner's records, written anew from what was understood of them; empty where there is none to mark."""
    records = {
        f"{ANSWERS}/{case}.json": msgspec.json.encode(record) for case, record in handin.records.items()
    }
    return Sandbox(kit.files | records if records else {})
