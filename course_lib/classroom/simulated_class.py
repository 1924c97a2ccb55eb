"""A simulated class: apprentices with a skill, a belief, a neighbor or nothing but luck, who hand in real records.

Each record begins as an expert's and loses what its learner cannot do. The class is demo data, and a test that the class
report finds what was put in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np

from course_lib.assessment.record import (
    CONFIDENCE,
    Answer,
    LoggedInspection,
    Record,
    RepairPlan,
    hand_in,
    save_record,
)
from course_lib.assessment.rubric.model_answer import model_record
from course_lib.cases.case import Case
from course_lib.cases.case_file import load_case
from course_lib.cases.key import Key
from course_lib.cases.key_file import load_key
from course_lib.classroom.register import RegisterEntry, read_register
from course_lib.lessons.misconceptions import cause_believed
from course_lib.shop.findings import InspectionRefused

HARDNESS = {
    "parts": -1.5, "causes": 0.0, "chain": 0.5, "evidence": 0.0, "excluded": 1.0, "repair": 0.5, "proof": 0.0, "cautions": -1.0,
}  # fmt: skip
"""What each field of an answer asks for, on the scale of skill: even odds where the two are equal. An invention of this class."""
EXPERT, GUESSER = 9.0, -9.0
"""Skills with which everything, and nothing, comes off."""
MOST_IDLE = 4  # inspections that somebody without any skill makes beside those needed
BLANK = Answer()


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedLearner:
    """One member of a simulated class. skill: 0 is ordinary; thought: a misconception that names the cause wherever it can;
    copies: the name of whoever the records are copied from; learns: hands in again, and then without the thought."""

    skill: float = 0.0
    thought: str = ""
    copies: str = ""
    learns: bool = False


def mixed_class(
    names: list[str], thoughts: list[str], rng: np.random.Generator
) -> dict[str, SimulatedLearner]:
    """A class as teachers know it: the first is perfect, the second guesses, the last copies from the third; of the others, every
    third holds a thought, and half of those learn."""
    if len(names) < 4:
        raise ValueError(f"names must be at least four, got {len(names)}. Simulate a larger class.")
    roster = {names[0]: SimulatedLearner(skill=EXPERT), names[1]: SimulatedLearner(skill=GUESSER)}
    for place, name in enumerate(names[2:-1]):
        held = thoughts[(place // 3) % len(thoughts)] if thoughts and place % 3 == 1 else ""
        roster[name] = SimulatedLearner(
            skill=float(rng.normal(0.5, 1.2)), thought=held, learns=place % 6 == 1
        )
    return roster | {names[-1]: SimulatedLearner(copies=names[2])}


def work_class(
    class_set: Path, out: Path, roster: Mapping[str, SimulatedLearner], rng: np.random.Generator
) -> None:
    """Let a class work the cases of a set and hand in to `out`, a folder for each learner. Those without an entry hand in nothing.

    class_set: the instructor's folder, since a simulated learner is made from the key.
    """
    entries = {entry.name: entry for entry in read_register(class_set).entries}
    for name, one in roster.items():
        if not one.copies:
            _hand_in_all(entries[name], one, class_set, out, rng)
    for name, one in roster.items():
        if one.copies:
            _copy_all(entries[name], entries[one.copies], out)


def _hand_in_all(
    entry: RegisterEntry, one: SimulatedLearner, place: Path, out: Path, rng: np.random.Generator
) -> None:
    for case_id in entry.cases:
        case, key = load_case(place / "cases" / f"{case_id}.json"), load_key(case_id, place / "keys")
        save_record(simulated_record(one, case, key, rng), out / entry.folder / "answers")


def _copy_all(mine: RegisterEntry, other: RegisterEntry, out: Path) -> None:
    """The other's records under the ids of one's own cases: what a copier does when the cases differ."""
    for case_id, from_id in zip(mine.cases, other.cases, strict=True):
        text = (out / other.folder / "answers" / f"{from_id}.json").read_text(encoding="utf-8")
        path = out / mine.folder / "answers" / f"{case_id}.json"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text.replace(from_id, case_id), encoding="utf-8")


def simulated_record(
    one: SimulatedLearner, case: Case, key: Key, rng: np.random.Generator, *, expert: Record | None = None
) -> Record:
    """The record that an apprentice hands in on a case. expert: an expert's on the same case, where one is at hand."""
    expert = expert or model_record(case, key)
    best = expert.handed_in or BLANK
    answer = _as_able(best, one.skill, case, key, rng)
    cause = cause_believed(one.thought, key.causes, [name for name, _ in case.cause_choices])
    mistaken = _with_cause(answer, cause) if cause else answer
    steps = _steps(expert, one.skill, case, rng)
    record = Record(case_id=case.id, generator_version=case.generator_version, inspections=steps)
    record = hand_in(record, mistaken)
    return hand_in(record, _with_cause(answer, key.causes[0])) if one.learns and cause else record


def _as_able(best: Answer, skill: float, case: Case, key: Key, rng: np.random.Generator) -> Answer:
    """The expert's answer with the fields that come off, the others as they go wrong; everybody writes a sentence of their own."""
    poor = _poor(best, case, key, rng)
    lost = {
        name: getattr(poor, name)
        for name, hard in HARDNESS.items()
        if rng.random() > 1 / (1 + np.exp(hard - skill))
    }
    sure = CONFIDENCE[int(rng.integers(len(CONFIDENCE)))]
    return msgspec.structs.replace(best, **lost, why=f"Thought {rng.integers(10**9)}.", confidence=sure)


def _poor(best: Answer, case: Case, key: Key, rng: np.random.Generator) -> Answer:
    """Every field as it looks when it goes wrong: a sound part, a wrong cause, a link, a look, the part alone renewed."""
    parts = [name for name, _ in case.part_choices if name not in key.allowed]
    causes = [name for name, _ in case.cause_choices if name not in key.causes]
    return Answer(
        parts=(str(rng.choice(parts)),),
        causes=(str(rng.choice(causes)),),
        chain=best.chain[-1:],
        evidence=("interview",),
        repair=RepairPlan(renew=key.shortest),
    )


def _with_cause(answer: Answer, cause: str) -> Answer:
    """The answer with one cause, which the repair plan puts right."""
    repair = msgspec.structs.replace(answer.repair, correct=(cause,))
    return msgspec.structs.replace(answer, causes=(cause,), repair=repair, confidence=CONFIDENCE[-1])


def _steps(
    expert: Record, skill: float, case: Case, rng: np.random.Generator
) -> tuple[LoggedInspection, ...]:
    """The expert's inspections, with idle ones before them: the more, the less the skill. A guesser makes the first alone."""
    if skill <= GUESSER:
        return expert.inspections[:1]
    idle = int(rng.binomial(MOST_IDLE, 1 / (1 + np.exp(skill))))
    outside = [each.id for each in case.offered if each.openness <= 2]
    fresh = case.anew()
    for name in [*rng.permutation(outside)[:idle], *(step.inspection for step in expert.inspections)]:
        try:
            fresh.inspect(str(name))
        except InspectionRefused:
            continue
    return tuple(
        LoggedInspection(inspection=each.inspection, minutes=each.minutes) for each in fresh.findings
    )
