"""The check cells of a class set: one for each criterion, said in one line, with its points for the mark sheet.

On a learner's machine there is no key, and the cell says that the answer is there. On the instructor's desk, keys and cases
lie beside the notebook.
"""

from __future__ import annotations

import os
from pathlib import Path

from course_lib.marking import CheckFailed, NotAnswered, mark, require_passed
from course_lib.record import read_record, record_path
from course_lib.vocabulary import one_of

CHECKS = {"part": 15, "cause": 25}
"""Criterion -> most points."""
LEVELS = "application/vnd.course-level+json"
"""The kind of output in which a check cell tells its points to the marking run."""


def check_criterion(case_id: str, criterion: str, *, folder: str | Path = ".") -> None:
    """The check cell of one criterion: level and points of the answer handed in for a case of a class set."""
    from course_lib.cases import KeyMissing, load_key

    one_of("criterion", criterion, CHECKS)
    path = record_path(case_id, Path(folder) / "answers")
    record = read_record(path) if path.exists() else None
    if record is None or record.handed_in is None:
        raise NotAnswered(f"Nothing handed in for {case_id}. Fill in the diagnosis above and hand it in.")
    try:
        key = load_key(case_id, Path(folder) / "keys")
    except KeyMissing as error:
        if "PYTEST_VERSION" in os.environ:
            raise CheckFailed(f"No key for {case_id}, so it cannot be marked. {error}") from None
        print(f"Handed in: {case_id}, {criterion}. Your instructor marks this case.")
        return
    require_passed(mark(record.handed_in, key), criterion)
    print(f"Right: {case_id}, {criterion}.")
