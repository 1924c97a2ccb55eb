"""The bench in words: the state of a `BenchModel` as one plain dict of sentences, lists and tables.

The page draws this dict and nothing else, so whatever a learner reads on the bench is written here and in the modules beside:
`knowing`, `thinking` and `handing`, `debrief`. What grows or changes by itself stands under its own name, so that a click sends
only that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from course_lib.bench.debrief import draw_debrief, draw_verdict
from course_lib.bench.fields import Choices
from course_lib.bench.findings_sheet import draw_findings
from course_lib.bench.form_sheet import draw_form
from course_lib.bench.suspects_sheet import draw_hint, draw_suspects
from course_lib.bench.units_setting import units_choice
from course_lib.shop.findings import RefusedAct

if TYPE_CHECKING:
    from course_lib.bench.bench_model import BenchModel
    from course_lib.shop.findings import Inspection

#: How far each step opens the vehicle: openness -> word.
OPENNESS = {1: "Talk", 2: "Look", 3: "Measure", 4: "Open the pan", 5: "Open the unit"}

_MODE_WORDS = {
    "practice": "Practice case. You are told at once, and may try again.",
    "without help": "Case without help. No hints and no odds; when it is handed in you are told how you stand.",
    "marked": "Marked case. Your instructor marks it; the answer handed in last counts.",
}
#: Lists that hold nothing but some choices of another, whose words are sent once.
_PART_OF = {"renewable": "parts", "readings": "evidence"}
#: Words the page needs when Python cannot answer, or that stand on every control.
_PHRASES = {
    "waiting": "Waiting for the kernel. Nothing is lost.",
    "stuck": "Still waiting. If no other cell is running, run this cell again; your saved work comes back.",
    "dead": "The kernel was restarted. Your work up to here is saved. Run this cell again to go on.",
    "act_heading": "The inspection",
    "act": "Do this inspection",
    "no_choice": "Choose an inspection to read what it tells and what to watch for.",
    "leave": "Leave it",
    "caution": "Caution.",
    "earlier": "Earlier",
    "later": "Later",
    "take_out": "Take out",
    "add": "Add",
}


def draw_sheet(model: BenchModel) -> dict[str, Any]:
    """The whole page of `model` as plain data; see each part for its shape."""
    return {
        "ack": model.ack,
        "state": model.state.value,
        "label": f"Bench for case {model.case.id}",
        "title": f"Work order {model.case.work_order.number}",
        "minutes": f"{model.minutes_used} min used",
        "notice": [line for line in (model.notice, model.not_saved) if line],
        "units": units_choice(model.system),
        "order": _order(model),
        "inspections": _inspections(model),
        "know": draw_findings(model),
        "think": draw_suspects(model),
        "hand": draw_form(model),
        "verdict": draw_verdict(model),
        "debrief": draw_debrief(model),
        "choices": {name: _choices(name, choices) for name, choices in model.lists().items()},
        "phrases": _PHRASES,
    }


def _choices(name: str, choices: Choices) -> dict[str, Any]:
    """A list of choices: id -> label and group, or the list in which both stand already."""
    whole = _PART_OF.get(name)
    return {choice: whole or [label, group] for choice, label, group in choices}


def _told(complaint: str) -> str:
    """In quotes, unless it holds words of the owner that are quoted already."""
    return complaint if "\u201c" in complaint else f"\u201c{complaint}\u201d"


def _order(model: BenchModel) -> dict[str, Any]:
    order = model.case.work_order
    pairs = [
        ("Vehicle", f"{order.vehicle}, {order.odometer_miles:,}\u00a0mi"),
        ("Unit", order.unit_name),
        ("Since", order.since),
        ("Driving", order.use),
        ("History", order.history),
    ]
    return {
        "complaint": model.words(_told(order.complaint)),
        "owner": order.owner,
        "pairs": [[name, model.words(text)] for name, text in pairs if text],
        "spec": {
            "heading": f"Spec sheet, {order.unit_name}",
            "groups": [
                {"title": title, "rows": [list(row) for row in rows]}
                for title, rows in model.case.spec_sheet(model.system)
            ],
        },
        "mode": _MODE_WORDS[model.mode],
    }


def _inspections(model: BenchModel) -> dict[str, Any]:
    groups = {
        word: {
            "level": level,
            "rows": {each.id: _act(model, each) for each in _acts(model, level)},
        }
        for level, word in OPENNESS.items()
    }
    return {
        "heading": "What you may do next",
        "groups": {word: group for word, group in groups.items() if group["rows"]},
        "chosen": model.chosen,
        "said": list(model.said),
        "hint": draw_hint(model),
    }


def _acts(model: BenchModel, level: int) -> list[Inspection | RefusedAct]:
    """What may be chosen at a level: inspections in the order of the trade, and among them, by minutes, what will be refused."""
    acts: list[Inspection | RefusedAct] = [each for each in model.case.offered if each.openness == level]
    for act in model.case.refused_acts:
        if act.openness == level:
            place = next((k for k, each in enumerate(acts) if each.minutes > act.minutes), len(acts))
            acts.insert(place, act)
    return acts


def _act(model: BenchModel, act: Inspection | RefusedAct) -> dict[str, Any]:
    """One row of the list, and what is said of it once it is chosen."""
    if isinstance(act, RefusedAct):
        told: dict[str, str] = {
            "time": f"{act.minutes} min",
            "needs": "",
            "advice": "",
            "danger": "",
            "caution": "",
        }
        return {**told, **_named(model, act), "done": False}
    return {**_inspection(model, act), **_named(model, act)}


def _named(model: BenchModel, act: Inspection | RefusedAct) -> dict[str, str]:
    return {
        "title": model.words(act.title),
        "tells": model.words(f"What it tells: {act.tells.rstrip('.')}."),
        "button": f"Do this inspection ({act.minutes} min)",
    }


def _inspection(model: BenchModel, inspection: Inspection) -> dict[str, Any]:
    titles = {each.id: each.title for each in model.case.offered}
    missing = [titles.get(name, name) for name in inspection.needs if name not in model.made]
    return {
        "time": "done" if inspection.id in model.made else f"{inspection.minutes} min",
        "done": inspection.id in model.made,
        "needs": f"after: {', '.join(missing)}" if missing else "",
        **_caution(model.words(inspection.caution), inspection.risk),
    }


def _caution(caution: str, risk: str) -> dict[str, str]:
    """The danger before its colon, then what to do; where there is no danger it is plain advice."""
    if risk == "none":
        return {"advice": caution, "danger": "", "caution": ""}
    danger, colon, rest = caution.partition(": ")
    return {"advice": "", "danger": danger + colon.strip(), "caution": rest}
