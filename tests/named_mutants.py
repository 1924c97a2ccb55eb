"""Small wrong changes that once stayed unseen, each with the tests that must turn red: ``python -m tests.named_mutants [WORD]``.

Each is written into a scratch copy of the checkout and its tests run there. `tests.mutants` draws such changes by chance within the
rooms that compute; these stand in what lies around them: what is saved, refused, given, kept. A line that has been rewritten since
is said to be gone: enter what it reads now.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from time import monotonic
from typing import NamedTuple

TOP = Path(__file__).resolve().parent.parent
COPIED = (
    "course_lib",
    "datasets",
    "notebooks",
    "solutions",
    "tests",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
)
FAILED = 1  # the exit code of pytest for tests that ran and failed


class Change(NamedTuple):
    """What goes wrong, in which room, the line as it is and as it becomes, and the tests that notice."""

    what: str
    room: str
    old: str
    new: str
    tests: tuple[str, ...]


CHANGES = (
    Change(
        "stall test up to 400 rpm of slip",
        "shop",
        "SLIPS_RPM = 150",
        "SLIPS_RPM = 400",
        ("test_shop_laws.py::test_a_stall_is_refused_on_the_limit_and_not_before",),
    ),
    Change(
        "help asked for in another tab is lost on saving",
        "assessment",
        "helped=tuple(dict.fromkeys((*theirs.helped, *mine.helped)))",
        "helped=mine.helped",
        ("test_record.py::test_help_asked_for_in_another_tab_stays",),
    ),
    Change(
        "parts given are not filled in again after a reread",
        "bench",
        "            return\n        self._fill_in_given()",
        "            return",
        ("test_bench_form.py::test_what_is_given_comes_back_where_another_program_wrote_over_it",),
    ),
    Change(
        "lock-up holds up to nine tenths of the pedal",
        "vehicle",
        "LOCKUP_PEDAL = 0.65",
        "LOCKUP_PEDAL = 0.9",
        ("test_workings.py::test_the_lock_up_comes_on_where_it_may",),
    ),
    Change(
        "any driver will do",
        "faults",
        "off = off + OTHER_DRIVER *",
        "off = off + 0.0 *",
        ("test_leaving.py::test_every_wish_counts",),
    ),
    Change(
        "any severity will do",
        "faults",
        "off + OTHER_SEVERITY *",
        "off + 0.0 *",
        ("test_leaving.py::test_every_wish_counts",),
    ),
    Change(
        "any stage will do",
        "faults",
        "off = off + OTHER_STAGE *",
        "off = off + 0.0 *",
        ("test_leaving.py::test_every_wish_counts",),
    ),
    Change(
        "what a kept file imports is not looked at",
        "diagnosis",
        "ahead += _imported(path, package)",
        "ahead += []",
        ("test_differential_closure.py::test_what_lives_depend_on_is_in_and_what_they_do_not_is_out",),
    ),
    Change(
        "a kept file outlives the numeric library",
        "diagnosis",
        'return sorted(named - {"", package.name} - sys.stdlib_module_names)',
        "return []",
        ("test_differential_closure.py",),
    ),
    Change(
        "attempts of another program do not count",
        "assessment",
        "attempts=max(mine.attempts, theirs.attempts + len(handed_in_now))",
        "attempts=mine.attempts",
        ("test_record.py",),
    ),
    Change(
        "a stall test with the level far off",
        "shop",
        "FAR_OFF = 0.6",
        "FAR_OFF = 2.0",
        (
            "test_shop_laws.py::test_a_stall_is_refused_on_the_limit_and_not_before",
            "test_shop_laws.py::test_a_level_is_set_to_the_mark_and_only_where_it_is_far_off",
        ),
    ),
    Change(
        "mark: a record passes with the points of one without the cause",
        "assessment",
        "self.total > PASS_MARK",
        "self.total >= PASS_MARK",
        ("test_rubric_rules.py",),
    ),
    Change(
        "mark: an unsafe record passes",
        "assessment",
        " and not self.returned",
        "",
        ("test_rubric_rules.py",),
    ),
    Change(
        "mark: a weak criterion counts as met",
        "assessment",
        "SOUND = 2",
        "SOUND = 1",
        ("test_rubric_rules.py",),
    ),
    Change(
        "mark: a sound part beside the broken one is no fault",
        "assessment",
        " and named <= key.allowed",
        "",
        ("test_marking.py",),
    ),
    Change(
        "mark: some of the causes are enough",
        "assessment",
        "set(answer.causes) == set(key.causes)",
        "set(answer.causes) <= set(key.causes)",
        ("test_marking.py",),
    ),
    Change(
        "mark: a record without the cause keeps its points",
        "assessment",
        "min(points, WITHOUT_CAUSE) if not cause.level else points",
        "points",
        ("test_rubric.py",),
    ),
    Change(
        "mark: an unsafe step sends nothing back",
        "assessment",
        "returned=bool(unsafe)",
        "returned=False",
        ("test_rubric.py",),
    ),
    Change(
        "mark: a reading wrong when hot may be repeated cold",
        "assessment",
        "if not proof.hot and any(",
        "if not proof and any(",
        ("test_rubric.py", "test_rubric_rules.py"),
    ),
    Change(
        "mark: the bar itself leaves a cause standing",
        "diagnosis",
        "if together < bar",
        "if together <= bar",
        ("test_rubric_rules.py",),
    ),
    Change(
        "mark: what age brings counts as a return",
        "cases",
        "> age",
        "> YEARS_OF_USE",
        ("test_rubric_rules.py",),
    ),
    Change(
        "record: notes of another tab are lost on saving",
        "assessment",
        "notes=mine.notes or theirs.notes",
        "notes=mine.notes",
        ("test_record.py",),
    ),
    Change(
        "record: the draft that is written over is lost",
        "assessment",
        "*_displaced(mine, theirs), ",
        "",
        ("test_record.py",),
    ),
    Change(
        "debrief: told before it is asked for",
        "bench",
        "    if not model.debriefed:\n        right",
        "    if model.marks is None:\n        right",
        ("test_bench_help.py",),
    ),
)
"""The first six stayed unseen in version 0.5.0."""


def wrong(change: Change, top: Path) -> tuple[Path, str]:
    """The file of a checkout in which a change belongs, and its text with it. Raises ValueError where its line is gone."""
    found = [
        (path, text)
        for path in sorted((top / "course_lib" / change.room).rglob("*.py"))
        if change.old in (text := path.read_text(encoding="utf-8"))
    ]
    if len(found) != 1 or found[0][1].count(change.old) != 1:
        raise ValueError(
            f"{change.what}: the line must stand once in course_lib/{change.room}, got {len(found)} files with"
            f" {change.old!r}. Enter what it reads now."
        )
    path, text = found[0]
    return path, text.replace(change.old, change.new)


def run(top: Path, tests: tuple[str, ...]) -> subprocess.CompletedProcess[str]:
    """Some files of tests in a copy of the checkout, until one fails."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-p", "no:cacheprovider"]
    where = os.environ | {"PYTHONPATH": str(top), "PYTHONDONTWRITEBYTECODE": "1"}
    paths = [f"tests/{name}" for name in tests]
    return subprocess.run([*command, *paths], cwd=top, env=where, capture_output=True, text=True)


def main(words: list[str]) -> int:
    """Try each change whose name holds one of some words, all without; the exit code is 1 where one is not noticed."""
    unseen = 0
    with tempfile.TemporaryDirectory(prefix="named-") as place:
        top = Path(place)
        for name in COPIED:
            copy = shutil.copytree if (TOP / name).is_dir() else shutil.copy
            copy(TOP / name, top / name)
        for change in CHANGES:
            if words and not any(word in change.what for word in words):
                continue
            begun = monotonic()
            path, text = wrong(change, top)
            sound = path.read_text(encoding="utf-8")
            path.write_text(text, encoding="utf-8")
            done = run(top, change.tests)
            path.write_text(sound, encoding="utf-8")
            told = [
                line.removeprefix("FAILED tests/")
                for line in done.stdout.splitlines()
                if line.startswith("FAILED")
            ]
            unseen += done.returncode != FAILED
            said = (
                told[0]
                if done.returncode == FAILED and told
                else f"NOT NOTICED (pytest ended with {done.returncode})"
            )
            print(f"{change.what}: {said[:140]}, {monotonic() - begun:.0f} s", flush=True)
    return int(unseen > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
