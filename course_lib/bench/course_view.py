"""A case of the course on its page: an expert's road to predict, or the bench with as much of the record as is given."""

from __future__ import annotations

from pathlib import Path

from course_lib.bench.bench_view import Bench, open_bench
from course_lib.bench.worked_view import WorkedPages, open_worked
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.lessons.syllabus import course_case, given_part


def open_case(name: str, *, folder: str | Path = "answers") -> Bench | WorkedPages:
    """Open a case of the course by its id, such as "K05"; end a cell with it to show it.

    Raises ValueError for an unknown id, FileNotFoundError when a file of the case is missing.
    """
    about = course_case(name)
    if about.support == "worked":
        return open_worked(name, folder=str(folder))
    case = load_case(name)
    key = load_key(name)
    given, inspections = given_part(case, key, about.support)
    for inspection in inspections:
        case.inspect(inspection)
    return open_bench(
        case, key, mode="without help" if about.alone else "practice", folder=folder, given=given
    )
