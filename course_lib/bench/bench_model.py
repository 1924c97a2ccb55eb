"""The bench without a screen: what may be done on a case, and in which state the work is.

The page sends acts to `do()`; `bench_sheet` says what then stands on it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from course_lib.assessment.marking import Marks, Outcome, mark
from course_lib.assessment.record import Answer, Record
from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.bench import fields, replies, units_setting
from course_lib.bench.fields import FIELDS, choice_lists, get, steps_of
from course_lib.bench.job_queue import JobQueue
from course_lib.bench.practice_help import HINTS, Lives, PracticeHelp
from course_lib.bench.work_record import WorkRecord
from course_lib.faults.parts import NO_PART
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import Finding, Inspection, InspectionRefused, RefusedAct
from course_lib.shop.order import does_harm

if TYPE_CHECKING:
    from course_lib.cases.case import Case
    from course_lib.cases.key import Key

MODES = ("practice", "without help", "marked")
#: Acts remembered, so that one sent twice is done once.
_REMEMBERED = 500


class WorkState(StrEnum):
    """Where the work on a case stands."""

    NEW = "new"
    INSPECTING = "inspecting"
    READY = "ready to hand in"
    RIGHT = "handed in: part and cause"
    PART_ONLY = "handed in: part only"
    CAUSE_ONLY = "handed in: cause only"
    NEITHER = "handed in: neither"
    UNMARKED = "handed in: not marked yet"


_STATE_OF = {
    Outcome.PART_AND_CAUSE: WorkState.RIGHT,
    Outcome.PART_ONLY: WorkState.PART_ONLY,
    Outcome.CAUSE_ONLY: WorkState.CAUSE_ONLY,
    Outcome.NEITHER: WorkState.NEITHER,
}


class BenchModel:
    """One learner at work on one case.

    mode: "practice" or "without help" (a hand-in is marked at once; need `key`; hints and odds in practice only), or "marked"
    (the instructor marks it; `key` stays away).
    folder holds the records. form: "full" or "short", how much of a record is asked for. given: parts of the record that
    are filled in beforehand and stand fast. lives: where to take the lives from that odds and hints compare with; None =
    the population of the vehicle's kind. Opening a case again repeats its recorded inspections, so the findings are back
    after a restart. Raises ValueError for a mode, form or key that does not fit.
    """

    def __init__(self, case: Case, key: Key | None = None, *, mode: str = "practice", folder: str | Path = "answers",
                 form: str = "full", given: Answer | None = None, lives: Lives | None = None) -> None:  # fmt: skip
        one_of("mode", mode, MODES)
        one_of("form", form, fields.FORMS)
        _check_key(case, key, mode)
        self.case, self.key, self.mode, self.folder, self.form = case, key, mode, folder, form
        self.given = fields.given_fields(given or Answer())
        self.changed: Callable[[], None] = lambda: None
        self.helper = PracticeHelp(case, lives, lambda: self.changed())
        self.beside = JobQueue(lambda: self.changed())
        self.system = units_setting.units_kept(folder)
        self._work = WorkRecord(case, folder, self.given)
        self.chosen = ""
        self.said: tuple[str, ...] = ()
        self.form_said = ""
        self.asked_for: tuple[str, ...] = ()
        self.ack: int | str = 0
        self.debriefed = False
        self._reopened = False
        self._lists: tuple[Any, dict[str, fields.Choices]] = (None, {})
        self._handled: deque[int | str] = deque(maxlen=_REMEMBERED)

    # ------------------------------------------------------------------ where the work stands
    @property
    def record(self) -> Record:
        """What the learner has done and answered so far."""
        return self._work.record

    @property
    def notice(self) -> str:
        """What was wrong with the record when it was opened; "" for nothing."""
        return self._work.notice

    @property
    def not_saved(self) -> str:
        """Why the record could not be saved; "" where it was."""
        return self._work.not_saved

    @property
    def answer(self) -> Answer:
        """The draft in the form."""
        return self.record.answer

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings made so far, in the order they were made, in the units the learner reads."""
        return tuple(finding_in_system(finding, self.system) for finding in self.case.findings)

    @property
    def made(self) -> tuple[str, ...]:
        """Inspections made so far."""
        return tuple(finding.inspection for finding in self.case.findings)

    @property
    def minutes_used(self) -> int:
        """Minutes spent on inspections so far."""
        return self.record.minutes_used

    @property
    def locked(self) -> bool:
        """True while a handed-in answer stands and the work order has not been reopened."""
        return self.record.handed_in == fields.handed_over(self.answer) and not self._reopened

    @property
    def marks(self) -> Marks | None:
        """Marks of the answer handed in last; None in marked mode or before the first hand-in."""
        if self.key is None or self.record.handed_in is None:
            return None
        return mark(self.record.handed_in, self.key, self.made)

    @property
    def state(self) -> WorkState:
        """The one place that says where the work stands."""
        if self.locked:
            marks = self.marks
            return WorkState.UNMARKED if marks is None else _STATE_OF[marks.outcome]
        if not self.gaps():
            return WorkState.READY
        return WorkState.INSPECTING if self._work.begun else WorkState.NEW

    def lists(self) -> dict[str, fields.Choices]:
        """Every list that something is chosen from."""
        asked = (self.made, self.system)
        if self._lists[0] != asked:
            self._lists = (
                asked,
                choice_lists(self.case, self.findings, self.words, self.given.get("cleared", ())),
            )
        return self._lists[1]

    def steps(self) -> tuple[fields.FormStep, ...]:
        """The steps of the form."""
        return steps_of(self.form, self.lists())

    def gaps(self) -> dict[str, str]:
        """What still keeps the answer from being handed in: name of the field -> one sentence."""
        asked = [field for step in self.steps() for field in step.fields if field.gap]
        gaps = {field.name: field.gap for field in asked if not self.filled(field.name)}
        if NO_PART in self.answer.parts and len(self.answer.parts) > 1:
            gaps["parts"] = fields.NO_HEDGE
        return gaps

    def filled(self, name: str) -> bool:
        """Whether something stands in a field; blanks in a text are nothing."""
        value = get(self.record, name)
        return bool(value.strip() if isinstance(value, str) else value)

    def words(self, text: str) -> str:
        """A text of the case in the units the learner reads."""
        return units.text_in_system(text, self.system)

    def read_units(self) -> None:
        """Take over the units that another bench has changed."""
        self.system, self.said = units_setting.units_kept(self.folder), ()

    def undoable(self) -> str:
        """Label of the change that would be taken back next; "" when there is none."""
        return "" if self.locked or not self._work.undoable else FIELDS[self._work.undoable].label

    # ------------------------------------------------------------------ acts
    def do(self, act: dict[str, Any]) -> None:
        """Carry out one act of the page: `{n, do, ...}`; an `n` seen before changes nothing.

        `do` is "choose" or "inspect" (with `inspection`), "draft" (with `answer`: field -> value, only what changed),
        "hand_in" (the same), "undo", "reopen", "hint", "odds", "debrief" or "units" (with `system`). Raises ValueError for
        any other `do`.
        """
        acts: dict[str, Callable[[dict[str, Any]], None]] = {
            "choose": self._choose,
            "inspect": self._inspect,
            "draft": self._draft,
            "hand_in": self._hand_in,
            "undo": self._undo,
            "reopen": self._reopen,
            "hint": self._hint,
            "odds": self._odds,
            "debrief": self._debrief,
            "units": self._units,
        }
        one_of("do", act.get("do", ""), acts)
        number = act.get("n", 0)
        self.ack = number
        if number in self._handled:
            return
        self._handled.append(number)
        self._work.reread()
        acts[act["do"]](act)

    def _choose(self, act: dict[str, Any]) -> None:
        name = act.get("inspection", "")
        self.chosen = name if self._offered(name) else ""

    def _inspect(self, act: dict[str, Any]) -> None:
        inspection = self._offered(act.get("inspection", ""))
        if inspection is None:
            self.said = ("Choose an inspection first.",)
        elif self.locked:
            self.said = ("This order is handed in. Reopen it below to inspect further; nothing was spent.",)
        elif inspection.id in self.made:
            self.said = (
                f"{inspection.title} is done already, and what it found stands below. Nothing was spent.",
            )
        else:
            self._carry_out(inspection)

    def _carry_out(self, inspection: Inspection | RefusedAct) -> None:
        try:
            finding = self.case.inspect(inspection.id)
        except InspectionRefused as refused:
            self.said = (self.words(str(refused)),)
            if does_harm(inspection.id, self.made, [each.id for each in self.case.offered]):
                self._work.note_refused(inspection.id)
            return
        self._work.note_finding(finding)
        self._work.save()
        self.chosen = ""
        self.helper.moved_on()
        self.said = replies.of_inspection(finding_in_system(finding, self.system), self.minutes_used)

    def _draft(self, act: dict[str, Any]) -> None:
        changes, lists = act.get("answer"), self.lists()
        before = self.record
        for name, value in changes.items() if isinstance(changes, dict) else ():
            if name in FIELDS and self._open(name):
                self._work.change(name, fields.checked(FIELDS[name], value, lists))
        if self.record != before:
            self.asked_for = tuple(name for name in self.asked_for if name in self.gaps())
            self.form_said = replies.of_order(act.get("moved"), self.answer.chain, lists["links"])
            self._work.save()

    def _open(self, name: str) -> bool:
        """Whether a field may be changed: notes always, the rest until it is handed in, and never what was given."""
        return name not in self.given and (name == "notes" or not self.locked)

    def _undo(self, _act: dict[str, Any]) -> None:
        if not self.undoable():
            return
        self.form_said = f"Taken back: {self.undoable().lower()}."
        self._work.undo()
        self._work.save()

    def _hand_in(self, act: dict[str, Any]) -> None:
        if self.locked:
            return
        self._draft(act)
        gaps = self.gaps()
        self.asked_for = tuple(gaps)
        if gaps:
            self.form_said = replies.of_gaps(gaps)
            self._work.save()
            return
        self._work.hand_in()
        self._reopened = self.debriefed = False
        self.form_said = ""
        self._work.save()

    def _reopen(self, _act: dict[str, Any]) -> None:
        if self.locked:
            self._reopened = True
            self.form_said = (
                "The work order is open again. Your last answer counts until you hand in the next."
            )

    def _hint(self, _act: dict[str, Any]) -> None:
        if self.mode == "practice" and not self.locked:
            self.helper.hint()
            self._work.note_help(HINTS[self.helper.hints])

    def _odds(self, _act: dict[str, Any]) -> None:
        if self.mode == "practice":
            self.helper.show_odds()
            if self.helper.odds_shown:
                self._work.note_help("odds")

    def _debrief(self, _act: dict[str, Any]) -> None:
        self.debriefed = self.marks is not None and self.locked

    def _units(self, act: dict[str, Any]) -> None:
        if act.get("system") in units.SYSTEMS:
            self.system = act["system"]
            self.said = ()
            units_setting.keep_units(self.system, self.folder)

    def _offered(self, name: object) -> Inspection | RefusedAct | None:
        acts: list[Inspection | RefusedAct] = [*self.case.offered, *self.case.refused_acts]
        return next((act for act in acts if act.id == name), None)


def _check_key(case: Case, key: Key | None, mode: str) -> None:
    """Raise ValueError for a key in marked mode, none in another, or one of another case."""
    copy = "Copy the line from the course's notebook."
    if (key is None) != (mode == "marked"):
        raise ValueError(
            f"key must be left out in marked mode and given in every other, got mode {mode!r} "
            f"{'without' if key is None else 'with'} a key. {copy}"
        )
    if key is not None and key.case_id != case.id:
        raise ValueError(f"key must belong to case {case.id}, got one of {key.case_id}. {copy}")
