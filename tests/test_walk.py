"""The draft of a worked case: its choices follow from the advice alone, and what is written as a file is read as it was."""

import tomllib

import msgspec
import pytest

from course_lib.authoring.worked_draft import _choices, as_toml
from course_lib.diagnosis.expert_path import ExpertStep
from course_lib.diagnosis.next_inspection import RankedInspection
from course_lib.lessons.worked_case import StepChoice, StepText, WorkedText
from course_lib.shop.findings import all_inspections

OFFERED = list(all_inspections())[:12]


def stop(taken: str) -> ExpertStep:
    """A step at which inspections of equal length are offered, the first of them the best."""
    offered = tuple(
        RankedInspection(inspection=name, bits=float(-place), minutes=30, steps=(name,))
        for place, name in enumerate(OFFERED)
    )
    return ExpertStep(inspection=taken, offered=offered, doubt=2.0, removed=(), standing=())


@pytest.mark.parametrize("place", range(6))
def test_choices_hold_the_step_taken_one_that_settles_less_and_one_that_costs_more(place):
    """Three different ones; where minutes are equal, the order of the advice decides, so that a draft comes out the same again."""
    texts = [choice.text for choice in _choices(stop(OFFERED[0]), place)]
    titles = [all_inspections()[name].title for name in OFFERED]
    assert len(texts) == len(set(texts)) == 3 and titles[0] in texts
    poorest, longest = titles[:-5:-1], titles[1:4]
    assert poorest[place % 4] in texts and longest[place % 3] in texts


def test_words_come_back_from_their_file():
    """Quotes, accents and signs survive; a brace would open a slot, so it becomes a parenthesis."""
    step = StepText(
        question='Say "why": 62 to 72\u202fpsi \\ hot?',
        choices=(StepChoice(text="A", reply="No."), StepChoice(text="B", reply="Yes.")),
        inspections=("pan",),
        readings=("drained_qt",),
        road="part and cause",
        meaning=("One line.", "Two."),
        claims=(("drained_qt", "below spec"),),
    )
    written = StepText(question="Write it.", model="Because.", ticks=("names the cause",))
    words = WorkedText(steps={"step1": step, "why": written}, record=(("Proof", "Read again."),))
    assert msgspec.convert(tomllib.loads(as_toml(words, "X1")), WorkedText) == words
    slotted = WorkedText(steps={"why": msgspec.structs.replace(written, model="{slot}")})
    assert 'model = "(slot)"' in as_toml(slotted, "X1")
