"""The command `course`: open the notebooks, make a set for a class, or mark a class."""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from pathlib import Path

from course_lib.base.data_files import data_folder

FIRST_NOTEBOOK = "00_start_here.ipynb"
DEFAULT_FOLDER = "my-course"
"""Where a learner's copies and answers go when no folder is named: beside the place the command is run."""


def main(arguments: list[str] | None = None) -> int:
    """Run one verb. Returns the exit code; a mistake of the user is one line, never a traceback."""
    parser = _parser()
    known, rest = parser.parse_known_args(arguments)
    if rest and known.verb != "open":
        parser.error(f"unknown option {rest[0]}. See: course {known.verb} --help")
    try:
        return known.run(known, rest)
    except (OSError, ValueError, RuntimeError) as error:
        print(f"course {known.verb}: {error}", file=sys.stderr)
        return 2


def copy_notebooks(folder: Path) -> list[Path]:
    """Copy the course's notebooks to `folder`; what is there already stays as it is. Returns the new ones."""
    folder.mkdir(parents=True, exist_ok=True)
    fresh = []
    for source in sorted(data_folder("notebooks").glob("*.ipynb")):
        target = folder / source.name
        if not target.exists():
            shutil.copyfile(source, target)
            fresh.append(target)
    return fresh


def open_course(known: argparse.Namespace, rest: list[str]) -> int:
    """Copy the notebooks and start JupyterLab at the first one; unknown options go on to JupyterLab."""
    folder = Path(known.folder).expanduser()
    fresh = copy_notebooks(folder)
    print(f"Your folder: {folder.resolve()} ({len(fresh)} notebooks new, the rest left as you had them).")
    if known.only_copy:
        return 0
    return subprocess.call([sys.executable, "-m", "jupyterlab", str(folder / FIRST_NOTEBOOK), *rest])


def mark_class(known: argparse.Namespace, _rest: list[str]) -> int:
    """Mark a class and say where the marks are."""
    from course_lib.classroom.marking_run import mark_folder  # here: opening the course needs none of it
    from course_lib.classroom.parallel import cluster, progress_line

    with cluster(known.cluster) as client:
        results = mark_folder(
            known.folder,
            known.out,
            known.set,
            jobs=known.jobs,
            client=client,
            progress=progress_line("Hand-ins marked"),
        )
    notes = sum(len(one.notes) for one in results)
    print(
        f"{len(results)} hand-ins marked, {notes} notes. Begin with {Path(known.out) / 'pages' / 'index.html'}"
    )
    return 0


def make_set(known: argparse.Namespace, _rest: list[str]) -> int:
    """Make a set for a class and say how equal it is."""
    from course_lib.classroom import class_secret, class_set  # here: opening the course needs none of it
    from course_lib.classroom.parallel import progress_line

    out, names = Path(known.out), class_set.read_class_list(Path(known.class_list))
    class_set.check_new(out)
    secret, fresh = class_secret.read_secret(Path(known.secret))
    wish = class_set.SetRequest(**{name: getattr(known, name) for name in class_set.SetRequest.__slots__})
    made = class_set.draw_set(names, secret, wish, jobs=known.jobs, progress=progress_line("Cases made"))
    register = class_set.write_set(made, out, secret)
    if fresh:
        print(f"A new secret was written to {known.secret}. Keep it: with it the same set can be made again.")
    print(f"{len(names)} folders to hand out: {out / 'learners'}. Keys, for you alone: {out / 'instructor'}.")
    print(register.spread)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="course", description="Training cases: find what broke, and why.")
    verbs = parser.add_subparsers(dest="verb", required=True)
    start = verbs.add_parser("open", help="copy the notebooks to a folder of yours and open them")
    start.add_argument("folder", nargs="?", default=DEFAULT_FOLDER, help="your folder (default: %(default)s)")
    start.add_argument("--only-copy", action="store_true", help="copy the notebooks and stop")
    start.set_defaults(run=open_course)
    _add_set(verbs)
    mark = verbs.add_parser("mark", help="mark the records of a class")
    mark.add_argument("folder", help="a folder with one folder for each learner")
    mark.add_argument("--set", required=True, help="the instructor's folder of the class set")
    mark.add_argument(
        "--out", default="marks", help="the folder to write the marks to (default: %(default)s)"
    )
    mark.add_argument("--jobs", type=int, default=2, help="learners to mark at a time (default: %(default)s)")
    mark.add_argument("--cluster", help="address of a dask scheduler to mark on instead")
    mark.set_defaults(run=mark_class)
    return parser


def _add_set(verbs) -> None:
    one = verbs.add_parser("set", help="make a set of cases for a class: everybody's own, equally hard")
    one.add_argument("class_list", help='a CSV file with a column "name"')
    one.add_argument("out", help="the folder to make")
    one.add_argument("--secret", required=True, help="a file with the secret of the class; made if missing")
    one.add_argument("--each", type=int, default=3, help="cases for each learner (default: %(default)s)")
    one.add_argument("--lesson", type=int, help="number of the lesson whose causes are drawn (default: all)")
    one.add_argument("--difficulty", default="any", help="any, easy, medium or hard (default: %(default)s)")
    one.add_argument("--unit", default="three-speed", help="the transmission (default: %(default)s)")
    one.add_argument("--signal", help="vacuum or cable (default: drawn)")
    one.add_argument("--use", help="what the vehicles are used for, such as mixed or towing (default: drawn)")
    one.add_argument("--jobs", type=int, default=2, help="cases to make at a time (default: %(default)s)")
    one.set_defaults(run=make_set)


if __name__ == "__main__":
    sys.exit(main())
