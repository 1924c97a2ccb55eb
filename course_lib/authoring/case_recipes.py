"""Make the cases of the course: ``python -m course_lib.authoring case [K01 ...]``.

For each one it writes the frozen case, its key, the draft of its words where it is worked, and its notebook in `solutions/`. What
is there already is kept unless ``--anew`` is given: words that somebody has bettered are not lost.
"""

from __future__ import annotations

from typing import Any

import msgspec

from course_lib.authoring.build import SOLUTION, STORED, TOP, clean_notebook
from course_lib.authoring.freeze import AnotherVehicle, freeze
from course_lib.authoring.worked_draft import TITLES, as_toml, draft_words
from course_lib.base.case_ids import id_of
from course_lib.base.data_files import read_data
from course_lib.base.notebooks import as_text, notebook_of
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.classroom.check_cells import WHOLE
from course_lib.lessons.syllabus import BLANK, CourseCase, course_case
from course_lib.lessons.worked_case import WorkedText

MOST_SEEDS = 40  # tried, one after the other, before a recipe is refused
CRITERIA = {
    "parts": "part", "causes": "cause", "chain": "chain", "evidence": "evidence", "excluded": "look-alikes", "repair": "repair",
    "proof": "proof", "cautions": "safety",
}  # fmt: skip
"""Field of a record -> the criterion that looks at it."""


class Recipe(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a case is made; see solutions/cases.toml."""

    unit: str
    signal: str
    use: str
    cause: str
    also: str | None = None
    stage: str | None = None
    seed: int | None = None


class Recipes(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The data file."""

    cases: dict[str, Recipe]


def recipes() -> dict[str, Recipe]:
    """How every case of the course is made."""
    text = (TOP / "solutions/cases.toml").read_text(encoding="utf-8")
    return msgspec.toml.decode(text, type=Recipes).cases


def make_course_case(name: str, *, anew: bool = False) -> None:
    """Make one case of the course with all its files."""
    about = course_case(name)
    case_id = id_of(name)
    if anew or not (TOP / f"datasets/cases/{case_id}.json").exists():
        _frozen(name, about, recipes()[name])
    words = TOP / f"datasets/worked/{case_id}.toml"
    if about.support == "worked" and (anew or not words.exists()):
        words.write_text(as_toml(draft_words(load_case(name), load_key(name)), name), encoding="utf-8")
    master = TOP / f"solutions/case_{name}.ipynb"
    notebook = notebook_of(notebook_cells(name, about))
    master.write_text(as_text(clean_notebook(notebook, master.stem[:2])), encoding="utf-8", newline="\n")


def _frozen(name: str, about: CourseCase, recipe: Recipe) -> None:
    """Freeze the first seed from the recipe's on with which the case can be made and certified."""
    request = {field: getattr(recipe, field) for field in ("unit", "signal", "use", "cause", "also", "stage")}
    words = {field: getattr(about, field) for field in ("owner", "vehicle", "told", "history")}
    refusal = ""
    first = recipe.seed or 100 * int(name.strip("K"))
    for seed in range(first, first + MOST_SEEDS):
        try:
            freeze(name, words=words, seed=seed, **request)
            return
        except AnotherVehicle:
            raise
        except ValueError as error:
            refusal = str(error)
    raise ValueError(
        f"case {name} must be one that can be made, got {MOST_SEEDS} refusals. The last one: {refusal}"
    )


# ---------------------------------------------------------------------- the notebook
HELP = {
    "worked": "An expert has worked this case. At each step you say first what you would do; then the step opens, with the "
    "expert's reasons. Nothing here is scored.",
    "completion 1": "The record is filled in as far as the repair. You read what was done and found, check the record against "
    "it, and write the repair and its proof.",
    "completion 2": "Part, cause and evidence are given. You put the chain in order, rule out the look-alikes, and write repair "
    "and proof.",
    "completion 3": "The broken part is given. Everything else is yours, the cause and the tests that show it included. Each "
    "minute is paid for.",
    "independent": "The whole record is yours. When you hand it in you are told how you stand, and why.",
    "without help": "The whole record is yours, without hints and odds. Minutes are counted, and an unsafe test sends the "
    "record back. When you hand it in you are told how you stand, and why: it is marked for your own eyes.",
}
"""How much help there is, said at the head of a notebook."""

MINUTES = {
    "worked": 40,
    "completion 1": 20,
    "completion 2": 25,
    "completion 3": 30,
    "independent": 35,
    "without help": 40,
}
SAFETY = (
    "**This is training, not a service manual.** People, vehicles and numbers are made up. On a real vehicle its service manual, "
    "local rules and licensed practice decide."
)


def notebook_cells(name: str, about: CourseCase) -> list[dict[str, Any]]:
    """The cells of a case's master notebook."""
    head = [
        _text(
            f"# Case {name}\n\n*{about.owner}. {about.vehicle[0].upper()}{about.vehicle[1:]}.*\n\n> \u201c{about.told}\u201d"
        ),
        _text(_what_for(about)),
        _code(f"from course_lib import {'' if about.support == 'worked' else 'check_criterion, '}open_case"),
    ]
    body = _worked_cells(name) if about.support == "worked" else _bench_cells(name, about)
    head[0]["metadata"] = {"tags": [STORED]} if about.support == "worked" else {}
    return head + body + [_text(_after(about))]


def _what_for(about: CourseCase) -> str:
    verbs = {
        "worked": ["*predict* each step before it opens", "*tell apart* what is broken and what broke it"],
        "completion 1": [
            "*read* a record and see what each finding settles",
            "*write* a repair that holds and the reading that proves it",
        ],
        "completion 2": [
            "*put in order* how one thing led to the next",
            "*rule out* the look-alikes, each by its own test",
        ],
        "completion 3": [
            "*choose* the tests that tell the suspects apart",
            "*name* the cause, not only the part",
        ],
    }.get(
        about.support,
        ["*choose* the cheap tests that split the suspects", "*record* part, cause, chain, repair and proof"],
    )
    wanted = "\n".join(f"{i}. {verb};" for i, verb in enumerate(verbs, 1)).rstrip(";") + "."
    return (
        f"**In this case you will**\n\n{wanted}\n\n{HELP[about.support]} About {MINUTES[about.support]} minutes. It goes with "
        f"lesson {about.lesson}.\n\n{SAFETY}"
    )


VEHICLE = (
    "## The vehicle\n\n*Look for this:* the complaint, and the spec sheet for the wall. A reading is judged against that sheet, "
    "never against a feeling."
)
RECORD = "## The record\n\nThis is what the expert wrote. Part and cause are two answers, always."
WHOLE_ROAD = "## The whole road\n\nFor reading: every step, every answer with its reply, and what was found."
BENCH = "## The bench\n\nRun the next cell and work on the page that opens. Your work is kept: run the cell again and it is back."
CHECK = (
    "## Check\n\nThese cells look at what you handed in last, one thing at a time. Each says in one line how it stands and why. Go "
    "back to the bench, revise, and run them again. *Run All Cells* stops at the first one that is not "
    "satisfied: run the others by hand."
)
SOLVED = "## The solution\n\nThis cell is in the instructor's copy only. It hands in the record of an expert by the typed call."


def _worked_cells(name: str) -> list[dict[str, Any]]:
    words = read_data(f"worked/{id_of(name)}", WorkedText)
    found = [_code(f'case = open_case("{name}")'), _text(VEHICLE), _code("case.work_order()")]
    for number, step in enumerate(words.steps, 1):
        title = f". {TITLES[step]}" if step in TITLES else ""
        found += [_text(f"## Step {number}{title}"), _code(f'case.step("{step}")')]
    return [
        *found,
        _text(RECORD),
        _code("case.record()"),
        _text(WHOLE_ROAD, SOLUTION),
        _code("case.whole()", SOLUTION),
    ]


def _bench_cells(name: str, about: CourseCase) -> list[dict[str, Any]]:
    found = [_text(BENCH), _code(f'open_case("{name}")')]
    solution = [
        _text(SOLVED, SOLUTION),
        _code(
            "from course_lib import load_case, load_key, save_record\nfrom course_lib.assessment.rubric import expert_record",
            SOLUTION,
        ),
        _code(f'save_record(expert_record(load_case("{name}"), load_key("{name}")))', SOLUTION),
    ]
    return [*found, *solution, _text(CHECK), *_checks(name, about)]


def _checks(name: str, about: CourseCase) -> list[dict[str, Any]]:
    """A check for each thing the learner has written; without help also one for the whole record with its gates."""
    blank = BLANK.get(about.support)
    asked = [each for field, each in CRITERIA.items() if blank is None or field in blank]
    return [
        _code(f'check_criterion("{name}", "{each}")') for each in (*asked, *([WHOLE] if about.alone else []))
    ]


def _after(about: CourseCase) -> str:
    beside = f"Set it beside case {about.beside}: much looks alike there. What is different, and which test shows it?"
    blank = (
        "What you wrote here will be blank in the next case as well, and more with it.\n\n"
        if about.support in BLANK
        else ""
    )
    return f"## Afterwards\n\n{blank}{beside}\n\n*Sources.* Order of work and cautions: common practice, no source."


def _text(source: str, *tags: str) -> dict[str, Any]:
    return _cell("markdown", source, tags)


def _code(source: str, *tags: str) -> dict[str, Any]:
    return _cell("code", source, tags)


def _cell(kind: str, source: str, tags: tuple[str, ...]) -> dict[str, Any]:
    return {
        "cell_type": kind,
        "metadata": {"tags": list(tags)} if tags else {},
        "source": source.splitlines(keepends=True),
    }
