"""Right or wrong: the only place that decides it, and the words in which a learner is told.

A wrong diagnosis is data (`Marks`), never an error. One function, `require_passed`, turns it into a failing
cell for the check at the end of a notebook and for the instructor's run. Nothing said here names the answer.
"""

from __future__ import annotations

import os
from collections.abc import Collection
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from course_lib.assessment.record import CONFIDENCE, Answer, open_record
from course_lib.base.case_ids import id_of, records_before, retired_note
from course_lib.base.guards import one_of

if TYPE_CHECKING:
    from course_lib.cases.key import Key
    from course_lib.faults.stored import Story

HALVES = ("part", "cause")
"""The two halves of a diagnosis; each has its own check cell."""

SURE = CONFIDENCE[-1]
"""The step of `Answer.confidence` that earns a written re-think when the answer is wrong."""


class Outcome(StrEnum):
    """What a diagnosis named rightly."""

    PART_AND_CAUSE = "part and cause"
    PART_ONLY = "part only"
    CAUSE_ONLY = "cause only"
    NEITHER = "neither"


class Marks(msgspec.Struct, frozen=True, kw_only=True):
    """A marked answer. `feedback` are sentences for the learner; `story` is the repair driven forward."""

    outcome: Outcome
    part_right: bool
    cause_right: bool
    feedback: tuple[str, ...]
    story: Story | None = None


class CheckFailed(AssertionError):
    """A check that did not pass. Shows as one line in a notebook, without a traceback."""

    def _render_traceback_(self, *_args: object) -> list[str]:
        """IPython asks an exception for its own wording under this name."""
        return [f"{type(self).__name__}: {self}"]


class NotAnswered(CheckFailed):
    """There is nothing to check yet."""


FEEDBACK = {
    Outcome.PART_AND_CAUSE: (
        "Part and cause are right. Put right what you named, and the trouble is gone for good.",
        "Keep the finding that settled it for you: it is the reading to repeat as proof after the repair.",
    ),
    Outcome.PART_ONLY: (
        "Your answer for the part is right: nothing to change there.",
        "The root cause is still open. Which finding can your cause not explain? Start there.",
    ),
    Outcome.CAUSE_ONLY: (
        "You found what started it.",
        "The broken part is not right yet: name what would bring it back if you left it, and no part that is sound.",
    ),
    Outcome.NEITHER: (
        "Neither half fits the findings yet.",
        "List what still works. It makes the parts it uses less likely. Then ask what starts the trouble off.",
    ),
}
"""What a learner is told for each outcome. The missing half is named; the answer never is."""

NOT_ALONE = "What you named is at work, and it is not alone: mend it, and a reading or two still stay wrong."
"""Said when some of several causes were named, and no wrong one."""

MORE_BROKEN = (
    "It is not the only one: another part, neither named nor renewed, would bring the vehicle back by itself."
)
"""Said when the part is right, and another one that must be renewed too is left."""

RETHINK = (
    "You were sure. That is worth a minute: write down the finding that made you sure, "
    "and one other cause that would give the same finding."
)


def mark(answer: Answer, key: Key, made: Collection[str] = ()) -> Marks:
    """Mark `answer` against `key`.

    The part is right when one part is named of every set of which one must be, such as the broken part that soonest brings
    the vehicle back when it is left, and nothing outside the parts that may be named. The cause is right when exactly the root
    causes are named, in any order. made: inspections made; with a wrong cause, the finding among them that kills it is
    told, from what that cause would have shown on this vehicle.
    """
    part_right = parts_right(answer, key)
    cause_right = bool(answer.causes) and set(answer.causes) == set(key.causes)
    outcome = _OUTCOMES[part_right, cause_right]
    return Marks(
        outcome=outcome,
        part_right=part_right,
        cause_right=cause_right,
        feedback=_feedback(outcome, answer, _left(answer, key))
        + (_undone(answer, key) if part_right else ())
        + _killed(answer, key, made),
        story=_story(outcome, answer, key),
    )


def require_passed(marks: Marks, half: str) -> None:
    """Raise `CheckFailed` with one line unless that half ("part" or "cause") of the diagnosis is right."""
    one_of("half", half, HALVES)
    if half == "part" and not marks.part_right:
        raise CheckFailed(
            "The broken part does not fit the findings. Look again at what still works, then revise it."
        )
    if half == "cause" and not marks.cause_right:
        raise CheckFailed(
            "The root cause does not fit the findings. "
            "Look for the finding that your cause does not explain, then revise the record."
        )


def check_answer(case_id: str, half: str) -> None:
    """The check cell of a notebook: is that half of the answer handed in for `case_id` right?

    Prints one line when it is. Raises `NotAnswered` when nothing has been handed in, and `CheckFailed` when
    that half is wrong. On a learner's machine there is no key of a case that an instructor dealt: then it prints that
    the instructor marks it. Under pytest a check never passes for lack of a key: it raises `CheckFailed`.
    """
    one_of("half", half, HALVES)
    answer = handed_in_answer(case_id, half)
    key = key_or_none(case_id)
    if key is None:
        print(f"Handed in: {case_id}, {half}. Your instructor marks this case.")
        return
    require_passed(mark(answer, key), half)
    print(f"Right: {case_id}, {half}.")


def handed_in_answer(case_id: str, half: str, *, folder: str | Path = "answers") -> Answer:
    """The answer handed in for `case_id`; `NotAnswered` if there is none or that half of it is blank."""
    record, trouble = open_record(case_id, folder)
    answer = record.handed_in
    if answer is None:
        raise NotAnswered(f"{trouble} {nothing_handed_in(case_id, folder)}".lstrip())
    if not (answer.parts if half == "part" else answer.causes):
        raise NotAnswered(f"No {half} named for {case_id}. Revise the diagnosis above and hand it in again.")
    return answer


def nothing_handed_in(case_id: str, folder: str | Path) -> str:
    """What is said where there is nothing to check yet, and of a record of a vehicle that stood there before."""
    before = [retired_note(each) for each in records_before(id_of(case_id), folder)]
    return " ".join(
        [f"Nothing handed in for {case_id}. Fill in the diagnosis above and hand it in.", *before]
    )


def _killed(answer: Answer, key: Key, made: Collection[str]) -> tuple[str, ...]:
    """The finding that kills the first wrong cause named; nothing without inspections, or where the key cannot tell."""
    wrong = [cause for cause in answer.causes if key.against.get(cause)]
    if not made or not wrong:
        return ()
    from course_lib.diagnosis.key_entries import killing_sentence  # here: the pytest plugin loads no numpy

    return (killing_sentence(wrong[0], key.against[wrong[0]], made),)


def parts_right(answer: Answer, key: Key) -> bool:
    """Whether the broken part is named, and nothing sound beside it; see `mark`."""
    named = set(answer.parts)
    return bool(named) and all(named & set(some) for some in key.needed) and named <= key.allowed


def left_undone(named: Collection[str], key: Key) -> tuple[str, ...]:
    """The parts that bring the vehicle back by themselves when they are left, and are not `named`."""
    return tuple(part for part in key.back if part not in named)


def _undone(answer: Answer, key: Key) -> tuple[str, ...]:
    """What a part does that must be renewed too and is neither named nor planned to be."""
    return (MORE_BROKEN,) if left_undone({*answer.parts, *answer.repair.renew}, key) else ()


def _left(answer: Answer, key: Key) -> set[str]:
    """The causes left when some were named and no wrong one; empty otherwise."""
    named = set(answer.causes)
    return set(key.causes) - named if named and named < set(key.causes) else set()


def _story(outcome: Outcome, answer: Answer, key: Key) -> Story | None:
    """The repair that the answer amounts to, driven forward."""
    left = _left(answer, key)
    name = f"all but {left.pop()}" if len(left) == 1 and parts_right(answer, key) else outcome.value
    return key.stories.get(name)


def _feedback(outcome: Outcome, answer: Answer, left: set[str]) -> tuple[str, ...]:
    wrong = outcome is not Outcome.PART_AND_CAUSE
    rethink = wrong and answer.confidence == SURE
    return FEEDBACK[outcome] + ((NOT_ALONE,) if left else ()) + ((RETHINK,) if rethink else ())


_OUTCOMES = {
    (True, True): Outcome.PART_AND_CAUSE,
    (True, False): Outcome.PART_ONLY,
    (False, True): Outcome.CAUSE_ONLY,
    (False, False): Outcome.NEITHER,
}


def key_or_none(case_id: str, *folders: Path) -> Key | None:
    """The key of a case, looked for as `load_key` does; None on a learner's machine that has none.

    Under pytest a check never passes for lack of a key: there a missing one raises `CheckFailed`.
    """
    from course_lib.cases.key_file import KeyMissing, load_key  # here: the pytest plugin loads no numpy

    try:
        return load_key(case_id, *folders)
    except KeyMissing as error:
        if "PYTEST_VERSION" in os.environ:  # pytest sets it for its own processes and the kernels they start
            raise CheckFailed(
                f"No key for {case_id}, so pytest cannot mark it. {error} Who has the keys copies them there first."
            ) from None
        return None
