"""What makers of the course run: ``python -m course_lib.authoring VERB``. It needs a checkout."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, get_args

import click

from course_lib.assessment.record import record_schema
from course_lib.authoring import coverage, fairness_survey
from course_lib.authoring.build import TOP, store_outputs, write_notebooks
from course_lib.authoring.case_recipes import make_course_case
from course_lib.authoring.freeze import freeze
from course_lib.authoring.lesson_checks import problems
from course_lib.base.case_ids import id_of
from course_lib.base.commands import Verb
from course_lib.faults.measures import Signal
from course_lib.lessons.lesson import lesson_names
from course_lib.lessons.syllabus import course_cases


@click.group()
def main() -> None:
    """Make what the course is made of, and check it."""


@main.command("build", cls=Verb)
@click.option(
    "--run", is_flag=True, help="First run the masters whose outputs are stored, and store what they give."
)
@click.option("--top", default=TOP, type=click.Path(path_type=Path), help="Another checkout.")
def build_notebooks(run: bool, top: Path) -> None:
    """Write the learners' notebooks from the solved masters, and say what has changed."""
    if run:
        store_outputs(top / "solutions")
    changed = write_notebooks(top)
    for path in changed:
        print(f"written: {path.relative_to(top)}")
    print(f"{len(changed)} files changed.")


@main.command("case", cls=Verb)
@click.argument("names", nargs=-1)
@click.option("--anew", is_flag=True, help="Make them again, words and all.")
def make_cases(names: tuple[str, ...], anew: bool) -> None:
    """Make the cases of the course that are named, or all, each with all its files; say where they are, not what they are."""
    for name in names or course_cases():
        make_course_case(name, anew=anew)
        print(f"{name} is made, as {id_of(name)}.", flush=True)


@main.command("freeze", cls=Verb)
@click.argument("name")
@click.option("--seed", type=int, help="Default: drawn, and kept in the key only.")
@click.option("--unit", default="T3", show_default=True)
@click.option("--cause", help="Default: drawn.")
@click.option("--also", help="A second cause.")
@click.option("--signal", help="Default: drawn.")
@click.option("--stage", help="Default: drawn.")
@click.option("--use", help="Default: drawn.")
@click.option(
    "--only", multiple=True, metavar="PART", help="Also drive this part-only repair; as often as wanted."
)
def freeze_case(name: str, only: tuple[str, ...], **request: Any) -> None:
    """Draw a case and keep it and its key as files, under the id that NAME (such as M02) has."""
    freeze(name, roads=only, **request)
    print(f"{name} is frozen as {id_of(name)}; every learner has its key, so it is never marked.")


@main.command("lint", cls=Verb)
@click.argument("names", nargs=-1)
def check_lessons(names: tuple[str, ...]) -> None:
    """What is wrong with the items of the lessons named (such as L04), or of all."""
    found = [text for name in names or lesson_names() for text in problems(name)]
    print("\n".join(found) or "Nothing to put right.")
    sys.exit(1 if found else 0)


@main.command("coverage", cls=Verb)
def show_coverage() -> None:
    """What is covered where: topics of the standard, inspections, causes, misconceptions."""
    print(coverage.as_markdown())


@main.command("survey", cls=Verb)
@click.argument("unit")
@click.argument("signal", type=click.Choice(get_args(Signal)))
@click.argument("causes", nargs=-1)
@click.option("--seeds", default=5, show_default=True, help="Cases of each cause.")
def survey_causes(unit: str, signal: str, causes: tuple[str, ...], seeds: int) -> None:
    """How fair the cases of a kind of vehicle are, cause by cause (default: all causes)."""
    print("\n".join(fairness_survey.report(fairness_survey.requests(unit, signal, seeds, list(causes)))))


@main.command("schema", cls=Verb)
def show_schema() -> None:
    """The JSON Schema of a record."""
    print(json.dumps(record_schema(), indent=2))


if __name__ == "__main__":
    main(prog_name="python -m course_lib.authoring")
