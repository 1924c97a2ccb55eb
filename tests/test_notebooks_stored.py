"""What the worked cases store: the same as a new run gives, held by strict nbval."""

import re
import shutil

from nbval_runs import run_nbval
from test_notebooks import STORED

from course_lib.lessons.syllabus import course_cases


def test_every_worked_case_stores_its_road():
    """The worked cases of the course, and the first notebook."""
    worked = {name for name, about in course_cases().items() if about.support == "worked"}
    assert {path.stem.removeprefix("case_") for path in STORED} == worked | {"00_start_here"}


def test_a_new_run_gives_what_is_stored(tmp_path):
    """Strict: every cell gives what the self-learner reads in the file; where one figure of it is changed, that cell fails."""
    for path in STORED:
        shutil.copy(path, tmp_path)
    text = (tmp_path / "case_K08.ipynb").read_text(encoding="utf-8")
    reading = re.search(r"\| \d+\srpm \|", text)
    assert reading
    (tmp_path / "changed.ipynb").write_text(text.replace(reading[0], "| 7777 rpm |", 1), encoding="utf-8")
    done = run_nbval(tmp_path, "--nbval")
    failed = re.findall(r"^FAILED (\w+)\.ipynb::Cell \d+", done.stdout, re.MULTILINE)
    assert failed == ["changed"] and "1 failed" in done.stdout and "7777 rpm" in done.stdout, done.stdout
