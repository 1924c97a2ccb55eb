"""The words of a worked case, drafted from the road an ideal diagnostician takes through it.

The draft is a file like one written by hand: somebody from the trade reads it, and betters it, before learners see it.
"""

from __future__ import annotations

import json

import numpy as np

from course_lib.cases.case import Case, findings_in
from course_lib.cases.key import Key
from course_lib.diagnosis.expert_path import ExpertPath, ExpertStep, expert_path
from course_lib.diagnosis.key_entries import LESS, MORE, EvidenceAgainst
from course_lib.diagnosis.next_inspection import RankedInspection
from course_lib.faults.causes import load_cause
from course_lib.faults.parts import NO_PART, all_parts, in_a_sentence
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.lessons.worked_case import StepChoice, StepText, WorkedText
from course_lib.shop.findings import Reading, all_inspections

SETTLES = (
    (0.85, "nearly all"),
    (0.6, "most"),
    (0.4, "about half"),
    (0.2, "about a quarter"),
    (0.05, "a little"),
    (-1.0, "next to nothing"),
)
"""Share of the doubt, and how it is said."""

CLEAR = 0.2  # bits of doubt below which a step is made for proof, not to find out
MOST_READINGS = 10  # of one finding, the ones out of spec first


def draft_words(case: Case, key: Key) -> WorkedText:
    """The words of a worked case: the steps of the road, the tempting repair, the why, the proof, and the expert's record."""
    kind = VehicleKind(case.unit_spec, case.signal, str(key.recipe["use"]))
    walked = expert_path(findings_in(case), kind, key.causes[0], np.random.default_rng(0))
    steps = {f"step{i + 1}": _stop(case, walked, i) for i in range(len(walked.steps))}
    steps["fork"] = _fork(key)
    steps["why"] = _why(key)
    steps["proof"] = _proof(case, walked)
    return WorkedText(steps=steps, record=_record(case, key, walked))


TITLES = {"fork": "The fork", "why": "Say why", "proof": "Prove it"}
"""Headings of the last steps; those before are numbered only, because a heading would tell what the expert does next."""


# ---------------------------------------------------------------------- one step of the road
def _stop(case: Case, walked: ExpertPath, place: int) -> StepText:
    stop = walked.steps[place]
    question = "Where do you start?" if place == 0 else "What would you do next?"
    return StepText(
        question=f"{question} {_so_far(walked, place)}".strip(),
        choices=_choices(stop, place),
        inspections=(stop.inspection,),
        readings=_worth_reading(case, stop),
        claims=_claims(case, stop),
        meaning=_meaning(stop, last=place == len(walked.steps) - 1),
    )


def _so_far(walked: ExpertPath, place: int) -> str:
    """Who is still under suspicion before a step."""
    if place == 0:
        return ""
    left = walked.steps[place - 1].standing
    if len(left) == 1:
        return "One suspect is left. It still has to be proved by readings that can be taken again."
    return f"{len(left)} suspects still fit what you know."


def _choices(stop: ExpertStep, place: int) -> tuple[StepChoice, ...]:
    """The step that was taken, one that would settle less, and one that costs more; their places change from step to step."""
    others = [each for each in stop.offered if each.inspection != stop.inspection]
    poor = sorted(others, key=lambda each: each.bits)[:4]
    dear = sorted((each for each in others if each not in poor), key=lambda each: -each.minutes)[:3]
    some = [_taken(stop)]
    some += [_less(stop, poor[place % len(poor)])] if poor else []
    some += [_dear(dear[place % len(dear)])] if dear else []
    turn = place % len(some)
    return tuple(some[-turn:] + some[:-turn])


def _taken(stop: ExpertStep) -> StepChoice:
    about = all_inspections()[stop.inspection]
    settles = _settles(stop.share(stop.inspection))
    reply = f"The expert's choice: {about.minutes} minutes. It tells {about.tells}."
    if stop.doubt > CLEAR:
        reply += f" Here it can be expected to settle {settles} of what is still open."
    return StepChoice(text=about.title, reply=reply)


def _less(stop: ExpertStep, other: RankedInspection) -> StepChoice:
    about = all_inspections()[other.inspection]
    settles = _settles(stop.share(other.inspection))
    reply = f"It tells {about.tells}. Which of the suspects would that take off the list?"
    if stop.doubt > CLEAR:
        reply += f" Here it can be expected to settle {settles} of what is still open."
    return StepChoice(text=about.title, reply=reply)


def _dear(other: RankedInspection) -> StepChoice:
    about = all_inspections()[other.inspection]
    opens = (
        " and opens the unit: what was not measured before can never be measured then"
        if about.openness >= 4
        else ""
    )
    return StepChoice(
        text=about.title,
        reply=f"It would tell something too. It takes {about.minutes} minutes{opens}. What could be known for less?",
    )


def _settles(share: float) -> str:
    return next(words for least, words in SETTLES if share >= least)


def _worth_reading(case: Case, stop: ExpertStep) -> tuple[str, ...]:
    """The readings of a finding that are shown: those out of spec, then others, as many as a page holds."""
    readings = findings_in(case)[stop.inspection].readings
    ranked = sorted(readings, key=lambda r: not r.deviation)[:MOST_READINGS]
    return tuple(r.key for r in readings if r in ranked)


def _claims(case: Case, stop: ExpertStep) -> tuple[tuple[str, str], ...]:
    """What the words rely on: the readings that are out of spec, and on which side."""
    shown, readings = _worth_reading(case, stop), findings_in(case)[stop.inspection].readings
    return tuple((r.key, r.verdict) for r in readings if r.deviation and r.key in shown)


def _meaning(stop: ExpertStep, *, last: bool) -> tuple[str, ...]:
    lines = [_fell(name, row) for name, row in stop.removed]
    left = [f"\u201c{load_cause(name).label}\u201d" for name, _ in stop.standing]
    if last or len(left) == 1:
        lines.append(f"What fits everything found so far: {left[0]}.")
    elif len(left) <= 4:
        lines.append(f"Still on the list: {'; '.join(left)}.")
    else:
        lines.append(f"Still on the list: {'; '.join(left[:3])}; and {len(left) - 3} more.")
    return tuple(lines)


def _fell(name: str, row: EvidenceAgainst | None) -> str:
    label = load_cause(name).label
    if row is None:
        return f"Off the list: \u201c{label}\u201d. Taken together, what was found does not look like it."
    return f"Off the list: \u201c{label}\u201d. {_sentence(row)}"


def _sentence(row: EvidenceAgainst) -> str:
    """What a suspect would have shown and what was found."""
    if row.found == "seen":
        return f"Seen: {row.label} With this cause it would hardly be there."
    if row.found == "not there":
        return (
            f"With this cause one would most likely see or hear: {row.label} Nothing of the kind was found."
        )
    if row.expected in (LESS, MORE):
        return f"Found: {row.found}. With this cause it would be {row.expected}."
    return f"{row.label}: {row.found}. With this cause it would be {row.expected}."


# ---------------------------------------------------------------------- fork, why, proof, record
def _fork(key: Key) -> StepText:
    parts = [in_a_sentence(all_parts()[name].label) for name in key.shortest if name != NO_PART]
    if parts:
        question = f"You have a name for what is broken: {' and '.join(parts)}. Would you renew it now and hand the vehicle back?"
    else:
        question = "Nothing is broken yet. New fluid to the mark and a friendly word: would you hand the vehicle back?"
    return StepText(
        question=question,
        choices=(
            StepChoice(
                text="Yes: what is broken is found",
                reply="On that day every reading may agree with you. Read what the odometer said.",
            ),
            StepChoice(
                text="Yes, and I would watch it",
                reply="Watching costs the owner the same road. Read how far it went.",
            ),
            StepChoice(
                text="Not before I know what caused it",
                reply="Hold on to that question. First see what it costs to leave it unasked.",
            ),
        ),
        road="part only",
        meaning=("A repair that leaves the cause in is a repair on loan. What was it that is still there?",),
    )


def _why(key: Key) -> StepText:
    cause = load_cause(key.causes[0])
    return StepText(
        question="In your own words: how did one thing lead to the other on this vehicle?",
        model=" ".join([f"{cause.label}.", cause.why]),
        ticks=(
            "I began with what was there before the damage.",
            "Each step leads to the next one.",
            "I did not write only that something is worn.",
        ),
    )


def _proof(case: Case, walked: ExpertPath) -> StepText:
    choices = _proofs(*_wrong_and_sound(case, walked))
    turn = len(walked.steps) % len(choices)
    return StepText(
        question="The cause is corrected and the damage repaired. Which reading proves it?",
        choices=tuple(choices[turn:] + choices[:turn]),
        road="part and cause",
        meaning=(
            "Proof means that the reading which was wrong is right. Write down the value before and after.",
            "Write a date to look again beside it.",
        ),
    )


def _proofs(wrong: Reading | None, sound: Reading | None) -> list[StepChoice]:
    """What may be taken for proof: what was wrong read again, what was never wrong, and a short drive."""
    return [
        StepChoice(
            text=f"{wrong.label}, the same way as before"
            if wrong
            else "What was wrong before, looked at again",
            reply="The one that was wrong, taken hot and in the same range. That is proof.",
        ),
        StepChoice(
            text=sound.label if sound else "The fluid level alone",
            reply="It was right all the time. Can a reading that was never wrong show that the fault is gone?",
        ),
        StepChoice(
            text="A drive around the block",
            reply="It tells that the vehicle moves. It moved before, too, between two days of trouble.",
        ),
    ]


def _wrong_and_sound(case: Case, walked: ExpertPath) -> tuple[Reading | None, Reading | None]:
    """The reading farthest out of its spec among the inspections made, and one that was within."""
    made = [findings_in(case)[stop.inspection] for stop in walked.steps]
    readings = [r for finding in made for r in finding.readings if r.value is not None and r.spec is not None]
    against = {row.label for row in walked.against_twin}
    off = [r for r in readings if r.deviation]
    off = [r for r in off if r.label in against] or off
    wrong = max(off, key=lambda r: abs(r.deviation) / max(abs(r.value or 0.0), 1.0), default=None)
    sound = next((r for r in readings if not r.deviation), None)
    return wrong, sound


def _record(case: Case, key: Key, walked: ExpertPath) -> tuple[tuple[str, str], ...]:
    cause = load_cause(key.causes[0])
    wrong, _ = _wrong_and_sound(case, walked)
    rows = [
        ("Broken part", "; ".join(all_parts()[name].label for name in key.shortest) + "."),
        ("Root cause", f"{cause.label}."),
        ("Chain", " Then: ".join(line.split(": ", 1)[-1] + "." for line in key.chain)),
    ]
    if wrong:
        rows.append(("What proves it", f"{wrong.label}: {wrong.found_text}; spec {wrong.spec_text}."))
    if walked.against_twin:
        twin = load_cause(walked.twin).label
        rows.append(("Ruled out", f"\u201c{twin}\u201d. {_sentence(walked.against_twin[0])}"))
    rows.append(
        ("Repair", cause.cure + (" The damage is repaired with it." if NO_PART not in key.shortest else ""))
    )
    rows.append(
        (
            "Proof",
            "What was wrong before is read again, hot, the same way, before and after; recheck at 500 miles.",
        )
    )
    rows.append(("Safety", all_inspections()[walked.deciding].caution))
    return tuple(rows)


# ---------------------------------------------------------------------- as a file
def as_toml(words: WorkedText, case_id: str) -> str:
    """The words as the text of a data file."""
    lines = [
        f"# title:    The words of the worked case {case_id}, step by step",
        "# made by:  the course, drafted from the road of least effort through the case; read and bettered by hand",
        "# invented: yes; the findings are those of the frozen case",
        "# licence:  same as this repository",
        "",
        "record = [",
        *(f"  [{_text(asked)}, {_text(wrote)}]," for asked, wrote in words.record),
        "]",
    ]
    for name, step in words.steps.items():
        lines += ["", *_step_lines(name, step)]
    return "\n".join(lines) + "\n"


def _step_lines(name: str, step: StepText) -> list[str]:
    """One step as lines of a data file."""
    lines = [f"[steps.{name}]", f"question = {_text(step.question)}"]
    for field in ("inspections", "readings", "ticks", "meaning"):
        if value := getattr(step, field):
            lines.append(f"{field} = [{', '.join(_text(each) for each in value)}]")
    lines += [f"{field} = {_text(value)}" for field in ("model", "road") if (value := getattr(step, field))]
    if step.claims:
        pairs = ", ".join(f"[{_text(key)}, {_text(verdict)}]" for key, verdict in step.claims)
        lines.append(f"claims = [{pairs}]")
    for choice in step.choices:
        lines += [
            f"[[steps.{name}.choices]]",
            f"text = {_text(choice.text)}",
            f"reply = {_text(choice.reply)}",
        ]
    return lines


def _text(text: str) -> str:
    """A string of a data file; JSON writes the same escapes."""
    return json.dumps(text.replace("{", "(").replace("}", ")"), ensure_ascii=False)
