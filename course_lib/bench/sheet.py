"""The bench in words: the state of a `BenchModel` as one plain dict of sentences, lists and tables.

The page draws this dict and nothing else, so whatever a learner reads on the bench is written here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..catalogue.parts import all_parts
from ..record import CONFIDENCE, MOST_CAUSES, MOST_CHARACTERS, MOST_EVIDENCE, MOST_PARTS

if TYPE_CHECKING:
    from ..shop.findings import Finding, Inspection, Reading
    from .model import BenchModel

#: How far each step opens the vehicle: openness -> word.
OPENNESS = {1: "Talk", 2: "Look", 3: "Measure", 4: "Open the pan", 5: "Open the unit"}

_MODE_WORDS = {
    "practice": "Practice case. You are told at once, and may try again.",
    "marked": "Marked case. Your instructor marks it; the answer handed in last counts.",
}
_VERDICT_WORDS = {
    "part and cause": "Part and cause found",
    "part only": "Part found, cause still open",
    "cause only": "Cause found, part still open",
    "neither": "Part and cause still open",
}
_ORDINALS = ("", "Second ", "Third ")
#: Words the page needs when Python cannot answer.
_PHRASES = {
    "waiting": "Waiting for the kernel. Nothing is lost.",
    "stuck": "Still waiting. If no other cell is running, run this cell again; your saved work comes back.",
    "dead": "The kernel was restarted. Your work up to here is saved. Run this cell again to go on.",
    "act_heading": "The inspection",
    "act": "Do this inspection",
    "no_choice": "Choose an inspection to read what it tells and what to watch for.",
    "caution": "Caution.",
}


def draw_sheet(model: BenchModel) -> dict[str, Any]:
    """The whole page of `model` as plain data; see each part below for its shape."""
    order = model.case.work_order
    return {
        "ack": model.ack,
        "state": model.state.value,
        "label": f"Bench for case {model.case.id}",
        "title": f"Work order {order.number}",
        "minutes": f"{model.minutes_used} min used",
        "mode": _MODE_WORDS[model.mode],
        "notice": [line for line in (model.notice, model.not_saved) if line],
        "complaint": f"“{order.complaint}”",
        "owner": order.owner,
        "order": [list(pair) for pair in _order_pairs(model)],
        "spec": {
            "heading": f"Spec sheet, unit {order.unit_name}",
            "rows": [list(row) for row in model.case.spec_sheet],
        },
        "inspections": _inspections(model),
        "findings": _findings(model),
        "form": _form(model),
        "verdict": _verdict(model),
        "phrases": _PHRASES,
    }


def _order_pairs(model: BenchModel) -> list[tuple[str, str]]:
    order = model.case.work_order
    pairs = [
        ("Vehicle", f"{order.vehicle}, {order.odometer_miles:,}\u00a0mi"),
        ("Unit", order.unit_name),
        ("Since", order.since),
        ("Use", order.use),
        ("History", order.history),
    ]
    return [(name, text) for name, text in pairs if text]


def _inspections(model: BenchModel) -> dict[str, Any]:
    groups = [
        {
            "level": level,
            "word": word,
            "rows": [_inspection(model, each) for each in model.case.offered if each.openness == level],
        }
        for level, word in OPENNESS.items()
    ]
    return {
        "heading": "Next inspection",
        "groups": [group for group in groups if group["rows"]],
        "chosen": model.chosen,
        "said": list(model.said),
    }


def _inspection(model: BenchModel, inspection: Inspection) -> dict[str, Any]:
    made = {finding.inspection for finding in model.findings}
    titles = {each.id: each.title for each in model.case.offered}
    missing = [titles.get(name, name) for name in inspection.needs if name not in made]
    return {
        "id": inspection.id,
        "title": inspection.title,
        "time": "done" if inspection.id in made else f"{inspection.minutes} min",
        "done": inspection.id in made,
        "needs": f"after: {', '.join(missing)}" if missing else "",
        "tells": f"What it tells: {inspection.tells.rstrip('.')}.",
        **_caution(inspection),
        "button": f"Do this inspection ({inspection.minutes} min)",
    }


def _caution(inspection: Inspection) -> dict[str, str]:
    """The danger before its colon, then what to do; where there is no danger it is plain advice."""
    if inspection.risk == "none":
        return {"advice": inspection.caution, "danger": "", "caution": ""}
    danger, colon, rest = inspection.caution.partition(": ")
    return {"advice": "", "danger": danger + colon.strip(), "caution": rest}


def _findings(model: BenchModel) -> dict[str, Any]:
    """Newest first: what an act brought stands beside its button, numbered so that the order stays clear."""
    numbered = [_finding(number, each) for number, each in enumerate(model.findings, start=1)]
    return {
        "heading": "Findings",
        "empty": "None yet.",
        "columns": ["what", "found", "spec", "result"],
        "groups": numbered[::-1],
    }


def _finding(number: int, finding: Finding) -> dict[str, Any]:
    made_at = "" if finding.made_at_f is None else f", sump at {finding.made_at_f:.0f} °F"
    return {
        "id": finding.inspection,
        "title": f"{number}  {finding.title}",
        "detail": f"{finding.minutes} min{made_at}",
        "words": list(finding.words),
        "rows": [_reading(each) for each in finding.readings],
    }


def _reading(reading: Reading) -> dict[str, str]:
    return {
        "id": reading.key,
        "what": reading.label,
        "found": reading.found_text,
        "spec": reading.spec_text,
        "result": result_text(reading),
        "side": reading.verdict.split()[0],
    }


def result_text(reading: Reading) -> str:
    """The verdict with its size: "14 psi below spec"."""
    if not reading.deviation:
        return reading.verdict
    return f"{reading.with_unit(reading.show(abs(reading.deviation)))} {reading.verdict}"


def _form(model: BenchModel) -> dict[str, Any]:
    answer, gaps = model.answer, model.gaps()
    asked = {name: gaps[name] for name in model.asked_for if name in gaps}
    evidence = model.evidence_choices()
    locked = model.locked
    parts = [(name, label, _group(name)) for name, label in model.case.part_choices]
    selects = [
        *_selects("parts", "Broken part", answer.parts, parts, MOST_PARTS, locked),
        *_selects("causes", "Root cause", answer.causes, model.case.cause_choices, MOST_CAUSES, locked),
        *_selects("evidence", "Finding that proves it", answer.evidence, evidence, MOST_EVIDENCE, locked),
    ]
    return {
        "heading": "Your diagnosis",
        "locked": locked,
        "selects": selects,
        "why": {"label": "How one led to the other", "value": answer.why, "most": MOST_CHARACTERS},
        "sure": {"label": "How sure are you?", "value": answer.confidence, "options": list(CONFIDENCE)},
        "asked": asked,
        "button": "Reopen the work order" if locked else "Hand in",
        "act": "reopen" if locked else "hand_in",
        "said": _form_said(model),
    }


def _group(part: str) -> str:
    """The group of a part on the parts list; "" for one that is on none."""
    found = all_parts().get(part)
    return found.group if found else ""


def _form_said(model: BenchModel) -> list[str]:
    said = model.handed_in_text() if model.locked else model.form_said
    return [line for line in (said, model.not_saved) if line]


def _selects(
    name: str, label: str, chosen: tuple[str, ...], choices: Any, most: int, locked: bool
) -> list[dict[str, Any]]:
    """One select for each name chosen and, unless locked, one more while there is room."""
    options = [{"id": c[0], "label": c[1], "group": c[2] if len(c) > 2 else ""} for c in choices]
    known = {option["id"] for option in options}  # a typed call may have named what no list holds
    options += [{"id": each, "label": each, "group": ""} for each in chosen if each not in known]
    return [
        {
            "id": f"{name}-{place}",
            "name": name,
            "label": label if place == 0 else f"{_ORDINALS[place]}{label.lower()}, if any",
            "blank": "choose" if place == 0 else "none",
            "value": chosen[place] if place < len(chosen) else "",
            "options": options,
        }
        for place in range(max(1, min(len(chosen) + (not locked), most)))
    ]


def _verdict(model: BenchModel) -> dict[str, Any] | None:
    """Marks and the repair driven forward; None unless a handed-in answer was marked and still stands."""
    marks = model.marks
    if marks is None or not model.locked:
        return None
    story = marks.story
    return {
        "heading": _VERDICT_WORDS[marks.outcome],
        "good": marks.part_right and marks.cause_right,
        "lines": list(marks.feedback),
        "spoken": f"{_VERDICT_WORDS[marks.outcome]}. Read on below.",
        "story_heading": "After this repair",
        "story": list(story.text) if story else [],
    }
