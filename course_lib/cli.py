"""The command `course`: open the notebooks, make a set for a class, or mark a class."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import click

from course_lib.base.commands import Verb
from course_lib.base.data_files import data_folder

FIRST_NOTEBOOK = "00_start_here.ipynb"
DEFAULT_FOLDER = "my-course"
"""Where a learner's copies and answers go when no folder is named: beside the place the command is run."""


@click.group()
def main() -> None:
    """Training cases: find what broke, and why."""


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


@main.command("open", cls=Verb, context_settings={"ignore_unknown_options": True})
@click.option("--only-copy", is_flag=True, help="Copy the notebooks and stop.")
@click.argument("given", nargs=-1, type=click.UNPROCESSED, metavar="[FOLDER] [OPTIONS OF JUPYTERLAB]...")
def open_course(given: tuple[str, ...], only_copy: bool) -> None:
    """Copy the notebooks to FOLDER (my-course, if none is named) and open them; unknown options go on to JupyterLab."""
    named = next((each for each in given if not each.startswith("-")), None)
    folder = Path(named or DEFAULT_FOLDER).expanduser()
    rest = list(given)
    if named is not None:
        rest.remove(named)
    fresh = copy_notebooks(folder)
    print(f"Your folder: {folder.resolve()} ({len(fresh)} notebooks new, the rest left as you had them).")
    if not only_copy:
        sys.exit(subprocess.call([sys.executable, "-m", "jupyterlab", str(folder / FIRST_NOTEBOOK), *rest]))


@main.command("set", cls=Verb)
@click.argument("class_list", type=click.Path(path_type=Path))
@click.argument("out", type=click.Path(path_type=Path))
@click.option(
    "--secret", type=click.Path(path_type=Path), required=True,
    help="A file with the secret of the class; made if missing.",
)  # fmt: skip
@click.option("--each", default=3, show_default=True, help="Cases for each learner.")
@click.option("--lesson", type=int, help="Number of the lesson whose causes are drawn (default: all).")
@click.option("--difficulty", default="any", show_default=True, help="any, easy, medium or hard.")
@click.option(
    "--unit", default="three-speed", show_default=True, help="three-speed, four-speed or six-speed."
)
@click.option("--signal", help="vacuum, cable or electronic (default: drawn).")
@click.option("--use", help="What the vehicles are used for, such as mixed or towing (default: drawn).")
@click.option("--jobs", default=2, show_default=True, help="Cases to make at a time.")
def make_set(class_list: Path, out: Path, secret: Path, jobs: int, **wish: Any) -> None:
    """Make a set of cases for a class: everybody's own, equally hard.

    CLASS_LIST is a CSV file with a column "name", OUT the folder to make.
    """
    from course_lib.classroom import class_secret, class_set  # here: opening the course needs none of it
    from course_lib.classroom.parallel import progress_line

    names = class_set.read_class_list(class_list)
    class_set.check_new(out)
    key, fresh = class_secret.read_secret(secret)
    made = class_set.draw_set(
        names, key, class_set.SetRequest(**wish), jobs=jobs, progress=progress_line("Cases made")
    )
    register = class_set.write_set(made, out, key)
    if fresh:
        print(f"A new secret was written to {secret}. Keep it: with it the same set can be made again.")
    print(f"{len(names)} folders to hand out: {out / 'learners'}. Keys, for you alone: {out / 'instructor'}.")
    print(register.spread)


@main.command("mark", cls=Verb)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--set", "class_set", required=True, help="The instructor's folder of the class set.")
@click.option(
    "--out", default="marks", show_default=True, type=click.Path(path_type=Path),
    help="The folder to write the marks to.",
)  # fmt: skip
@click.option("--jobs", default=2, show_default=True, help="Learners to mark at a time.")
@click.option("--cluster", help="Address of a dask scheduler to mark on instead.")
def mark_class(folder: Path, class_set: str, out: Path, jobs: int, cluster: str | None) -> None:
    """Mark the records of a class: FOLDER holds one folder for each learner."""
    from course_lib.classroom import parallel  # here: opening the course needs none of it
    from course_lib.classroom.marking_run import mark_folder

    with parallel.cluster(cluster) as client:
        progress = parallel.progress_line("Hand-ins marked")
        results = mark_folder(folder, out, class_set, jobs=jobs, client=client, progress=progress)
    notes = sum(len(one.notes) for one in results)
    if unmarked := sum(len(one.not_marked) for one in results):
        print(f"{unmarked} cases could not be marked and count nowhere: {out / 'notes.csv'} says why.")
    print(f"{len(results)} hand-ins marked, {notes} notes. Begin with {out / 'pages' / 'index.html'}")


if __name__ == "__main__":
    main()
