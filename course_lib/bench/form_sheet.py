"""What a learner hands in, in words: the steps of the record, each with its fields and how far it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from course_lib.assessment.record import MOST_CHARACTERS
from course_lib.bench.fields import Field, FormStep, get, plain
from course_lib.bench.replies import name_of, of_hand_in

if TYPE_CHECKING:
    from course_lib.bench.bench_model import BenchModel

_ORDINALS = (
    "",
    "Second",
    "Third",
    "Fourth",
    "Fifth",
    "Sixth",
    "Seventh",
    "Eighth",
    "Ninth",
    "Tenth",
    "Eleventh",
    "Twelfth",
)
_NOTES = {
    "chain": "Put the links in the order in which they happened: what was out of order first, what the owner feels last.",
    "excluded": "A suspect stays open until a finding speaks against it.",
}
_BLANKS = {"excluded": "still open", "chain": "choose a link"}


def draw_form(model: BenchModel) -> dict[str, Any]:
    """The form: steps with fields, the buttons, and what was said last."""
    steps = model.steps()
    return {
        "heading": "What you hand in",
        "lead": "" if model.locked else _lead(steps, model),
        "steps": {
            step.fields[0].name: _step(model, number, step) for number, step in enumerate(steps, start=1)
        },
        "button": "Reopen the work order" if model.locked else "Hand in",
        "act": "reopen" if model.locked else "hand_in",
        "undo": f"Take back: {model.undoable().lower()}" if model.undoable() else "",
        "said": _said(model),
    }


def _lead(steps: tuple[FormStep, ...], model: BenchModel) -> str:
    """How to open a step, and what must be filled in."""
    fields = [field for step in steps for field in step.fields]
    needed = [name_of(field.name) for field in fields if field.gap and field.name not in model.given]
    given = (
        " What is marked \u201cgiven\u201d is filled in; the other steps are yours." if model.given else ""
    )
    end = (
        f" To hand it in you need: {', '.join(needed)}. What else you leave out earns nothing."
        if needed
        else ""
    )
    return f"Open a step with the space bar or a click.{given}{end}"


def _step(model: BenchModel, number: int, step: FormStep) -> dict[str, Any]:
    names = [field.name for field in step.fields]
    asked = any(name in model.asked_for for name in names)
    return {
        "title": f"{number}  {step.title}",
        "status": _status(model, names, asked),
        "asked": asked,
        "fields": {field.name: draw_field(model, field) for field in step.fields},
    }


def _status(model: BenchModel, names: list[str], asked: bool) -> str:
    if all(name in model.given for name in names):
        return "given"
    filled = [model.filled(name) for name in names]
    if all(filled):
        return "filled in"
    return "asked for" if asked else "begun" if any(filled) else "to do"


def draw_field(model: BenchModel, field: Field) -> dict[str, Any]:
    """One field: its label, what stands in it, and whether it may be changed."""
    value = plain(get(model.record, field.name))
    given = field.name in model.given
    asked = model.gaps().get(field.name, "") if field.name in model.asked_for else ""
    return {
        "name": field.name,
        "kind": field.kind,
        "label": field.label,
        "labels": _labels(field),
        "blank": _BLANKS.get(field.name, "choose"),
        "value": value,
        "choices": field.choices,
        "extra": _extra(model, field, value),
        "most": MOST_CHARACTERS if field.kind == "text" else field.most,
        "locked": given or (model.locked and field.name != "notes"),
        "note": "Given with the case." if given else _NOTES.get(field.name, ""),
        "asked": asked,
    }


def _labels(field: Field) -> list[str]:
    """What stands over the first, the second and every further name."""
    if field.kind == "selects":
        more = (f"{_ORDINALS[place]} {field.label.lower()}, if any" for place in range(1, field.most))
        return [field.label, *more]
    if field.kind == "pairs":
        return [f"Suspect {place}" for place in range(1, field.most + 1)] + ["Finding that speaks against it"]
    return [field.label]


def _extra(model: BenchModel, field: Field, value: Any) -> list[list[str]]:
    """Names that stand in a field and on no list, as a typed call may have put them there; (id, label, group)."""
    if not isinstance(value, list):
        return []
    known = {choice[0] for choice in model.lists().get(field.choices, ())}
    names = [row[0] if isinstance(row, list) else row for row in value]
    return [[name, name, ""] for name in names if name not in known]


def _said(model: BenchModel) -> list[str]:
    if not model.locked:
        return [line for line in (model.form_said, model.not_saved) if line]
    left = [
        step.title.lower() for step in model.steps() if not any(model.filled(f.name) for f in step.fields)
    ]
    lines = [of_hand_in(model.record, model.key is not None)]
    if left:
        lines.append(f"Left open: {', '.join(left)}.")
    return [line for line in (*lines, model.not_saved) if line]
