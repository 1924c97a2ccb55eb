"""The bench without a screen: what may be done on a case, in which state the work is, and keeping it saved.

The record on disk is the one truth. Each act reads it, changes it and writes it back, so that a typed
`record_answer`, a second tab or a restarted kernel never undo each other's work. The view only draws
`sheet()` and sends acts to `do()`.
"""

from __future__ import annotations

from collections import deque
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from ..marking import Marks, Outcome, mark
from ..record import (
    CONFIDENCE,
    MOST_CAUSES,
    MOST_EVIDENCE,
    MOST_PARTS,
    Answer,
    DamagedRecord,
    RecordNotSaved,
    Step,
    clean_text,
    hand_in,
    open_record,
    read_record,
    record_path,
    save_record,
)
from ..shop.findings import Finding, Inspection, InspectionRefused
from ..vocabulary import one_of
from .sheet import draw_sheet, result_text

if TYPE_CHECKING:
    from ..cases import Case, Key

MODES = ("practice", "marked")
#: Part id that says nothing has broken yet; it cannot stand beside a broken part.
NO_PART = "no_part_broken"
#: The fields of the form, as they are called in a sentence.
_FIELDS = {
    "parts": "broken part",
    "causes": "root cause",
    "evidence": "the finding that proves it",
    "why": "how one led to the other",
    "confidence": "how sure you are",
}
#: Acts remembered, so that one sent twice is done once.
_REMEMBERED = 500
#: Lines of a new finding that stand beside the button.
_IN_SHORT = 8


class State(StrEnum):
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
    Outcome.PART_AND_CAUSE: State.RIGHT,
    Outcome.PART_ONLY: State.PART_ONLY,
    Outcome.CAUSE_ONLY: State.CAUSE_ONLY,
    Outcome.NEITHER: State.NEITHER,
}


class BenchModel:
    """One learner at work on one case.

    `mode` is "practice" (a hand-in is marked at once; needs `key`) or "marked" (the instructor marks it;
    `key` stays away). `folder` holds the records. Opening a case again repeats its recorded inspections, so
    the findings are back after a restart. Raises ValueError for a mode or key that does not fit.
    """

    def __init__(
        self, case: Case, key: Key | None = None, *, mode: str = "practice", folder: str | Path = "answers"
    ) -> None:
        one_of("mode", mode, MODES)
        if (key is None) == (mode == "practice"):
            raise ValueError(
                f"key must be given in practice mode and left out in marked mode, got mode {mode!r} "
                f"{'without' if key is None else 'with'} a key. Copy the line from the course's notebook."
            )
        self.case, self.key, self.mode, self.folder = case, key, mode, folder
        self.record, self.notice = open_record(case.id, folder)
        self.not_saved = ""
        self.chosen = ""
        self.said: tuple[str, ...] = ()
        self.form_said = ""
        self.asked_for: tuple[str, ...] = ()
        self.ack: int | str = 0
        self._reopened = False
        self._handled: deque[int | str] = deque(maxlen=_REMEMBERED)
        self._repeat_recorded()

    @property
    def answer(self) -> Answer:
        """The draft in the form."""
        return self.record.answer

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings made so far, in the order they were made."""
        return self.case.findings

    @property
    def minutes_used(self) -> int:
        """Minutes spent on inspections so far."""
        return self.record.minutes_used

    @property
    def locked(self) -> bool:
        """True while a handed-in answer stands and the work order has not been reopened."""
        return self.record.handed_in == self.answer and not self._reopened

    @property
    def marks(self) -> Marks | None:
        """Marks of the answer handed in last; None in marked mode or before the first hand-in."""
        if self.key is None or self.record.handed_in is None:
            return None
        return mark(self.record.handed_in, self.key, [each.inspection for each in self.case.findings])

    @property
    def state(self) -> State:
        """The one place that says where the work stands."""
        if self.locked:
            marks = self.marks
            return State.UNMARKED if marks is None else _STATE_OF[marks.outcome]
        if not self.gaps():
            return State.READY
        begun = self.record.inspections or self.answer != Answer() or self.record.handed_in
        return State.INSPECTING if begun else State.NEW

    def gaps(self) -> dict[str, str]:
        """What still keeps the answer from being handed in: name of the field -> one sentence."""
        answer, gaps = self.answer, {}
        if not answer.parts:
            gaps["parts"] = "Choose the broken part, or “No part broken yet”."
        elif NO_PART in answer.parts and len(answer.parts) > 1:
            gaps["parts"] = "“No part broken yet” cannot stand beside a broken part. Take one of them out."
        if not answer.causes:
            gaps["causes"] = "Choose the root cause."
        if not answer.evidence:
            gaps["evidence"] = "Choose at least one finding that proves it."
        if not answer.why.strip():
            gaps["why"] = "Write one sentence: how one led to the other."
        if not answer.confidence:
            gaps["confidence"] = "Say how sure you are."
        return gaps

    def evidence_choices(self) -> tuple[tuple[str, str, str], ...]:
        """What can be named as proof: (id, words, inspection title) of every finding made."""
        choices = []
        for finding in self.findings:
            if finding.words:
                choices.append((finding.inspection, f"{finding.title}: what was noticed", finding.title))
            for reading in finding.readings:
                if reading.value is not None:
                    found = reading.with_unit(reading.show(reading.value))
                    choices.append((reading.key, f"{reading.label}: {found}", finding.title))
                elif reading.note:
                    choices.append((reading.key, f"{reading.label}: {reading.note}", finding.title))
        return tuple(choices)

    def sheet(self) -> dict[str, Any]:
        """Everything the page shows, as plain data; every word of it is made here in Python."""
        return draw_sheet(self)

    def do(self, act: dict[str, Any]) -> None:
        """Carry out one act of the page: `{n, do, ...}`; an `n` seen before changes nothing.

        `do` is "choose" or "inspect" (with `inspection`), "draft" or "hand_in" (with `answer`, the whole form
        as plain data) or "reopen". Raises ValueError for any other `do`.
        """
        one_of("do", act.get("do", ""), _ACTS)
        number = act.get("n", 0)
        self.ack = number
        if number in self._handled:
            return
        self._handled.append(number)
        self._reread()
        _ACTS[act["do"]](self, act)

    def _choose(self, act: dict[str, Any]) -> None:
        name = act.get("inspection", "")
        self.chosen = name if self._offered(name) else ""

    def _inspect(self, act: dict[str, Any]) -> None:
        inspection = self._offered(act.get("inspection", ""))
        if inspection is None:
            self.said = ("Choose an inspection first.",)
        elif self.locked:
            self.said = ("This order is handed in. Reopen it below to inspect further; nothing was spent.",)
        elif inspection.id in self._made():
            self.said = (f"{inspection.title} is done already; see Findings. Nothing was spent.",)
        else:
            self._carry_out(inspection)

    def _carry_out(self, inspection: Inspection) -> None:
        try:
            finding = self.case.inspect(inspection.id)
        except InspectionRefused as refused:
            self.said = (str(refused),)
            return
        self._note(finding)
        self.chosen = ""
        self._save()
        head = f"Done: {finding.title}. {finding.minutes} min, {self.minutes_used} min in all."
        self.said = (head, *_in_short(finding))

    def _draft(self, act: dict[str, Any]) -> None:
        answer = self._checked(act.get("answer"))
        if self.locked or answer == self.answer:
            return
        self.record = replace(self.record, answer=answer)
        self.asked_for = tuple(name for name in self.asked_for if name in self.gaps())
        self.form_said = ""
        self._save()

    def _hand_in(self, act: dict[str, Any]) -> None:
        if self.locked:
            return
        if "answer" in act:
            self.record = replace(self.record, answer=self._checked(act["answer"]))
        gaps = self.gaps()
        self.asked_for = tuple(gaps)
        if gaps:
            self.form_said = f"Not handed in yet. Still open: {', '.join(_FIELDS[each] for each in gaps)}."
            self._save()
            return
        self.record = hand_in(self.record, self.answer)
        self._reopened = False
        self.form_said = ""
        self._save()

    def _reopen(self, _act: dict[str, Any]) -> None:
        if self.locked:
            self._reopened = True
            self.form_said = (
                "The work order is open again. Your last answer counts until you hand in the next."
            )

    def handed_in_text(self) -> str:
        """When the last answer was handed in, how often, and what happens next; "" before the first."""
        if self.record.handed_in is None:
            return ""
        tries = f", attempt {self.record.attempts}" if self.record.attempts > 1 else ""
        end = "." if self.mode == "practice" else "; your instructor marks it."
        return f"Handed in{_clock(self.record.handed_in_at)}{tries}{end}"

    def _offered(self, name: object) -> Inspection | None:
        return next((inspection for inspection in self.case.offered if inspection.id == name), None)

    def _made(self) -> tuple[str, ...]:
        return tuple(finding.inspection for finding in self.findings)

    def _checked(self, given: Any) -> Answer:
        """An Answer from the page's data: only names on the lists, each once, text made fit for the file."""
        form = given if isinstance(given, dict) else {}
        sure = form.get("confidence", "")
        return Answer(
            parts=_known(form.get("parts"), [choice[0] for choice in self.case.part_choices], MOST_PARTS),
            causes=_known(form.get("causes"), [choice[0] for choice in self.case.cause_choices], MOST_CAUSES),
            evidence=_known(form.get("evidence"), [c[0] for c in self.evidence_choices()], MOST_EVIDENCE),
            why=clean_text(form.get("why", "")),
            confidence=sure if sure in CONFIDENCE else "",
        )

    def _reread(self) -> None:
        """Take over what another cell or tab has saved; memory is the better copy after a failed save."""
        if self.not_saved:
            return
        try:
            self.record = read_record(record_path(self.case.id, self.folder))
        except (OSError, DamagedRecord):
            return
        self._repeat_recorded()

    def _repeat_recorded(self) -> None:
        """Bring case and record to the same inspections: repeat the recorded, note the ones made by call."""
        for step in self.record.inspections:
            if step.inspection in self._made():
                continue
            try:
                self.case.inspect(step.inspection)
            except ValueError as refused:
                self.notice = f"A saved inspection could not be repeated; its minutes stay. {refused}"
        recorded = {step.inspection for step in self.record.inspections}
        for finding in self.findings:
            if finding.inspection not in recorded:
                self._note(finding)

    def _note(self, finding: Finding) -> None:
        step = Step(inspection=finding.inspection, minutes=finding.minutes)
        self.record = replace(
            self.record,
            inspections=(*self.record.inspections, step),
            generator_version=self.case.generator_version,
        )

    def _save(self) -> None:
        try:
            save_record(self.record, self.folder)
            self.not_saved = ""
        except RecordNotSaved as error:
            self.not_saved = str(error)


_ACTS = {
    "choose": BenchModel._choose,
    "inspect": BenchModel._inspect,
    "draft": BenchModel._draft,
    "hand_in": BenchModel._hand_in,
    "reopen": BenchModel._reopen,
}


def _known(given: Any, allowed: list[str], most: int) -> tuple[str, ...]:
    names = given if isinstance(given, list | tuple) else ()
    once = dict.fromkeys(name for name in names if isinstance(name, str) and name in allowed)
    return tuple(once)[:most]


def _clock(time: str) -> str:
    try:
        when = datetime.fromisoformat(time)
    except ValueError:  # a record written by hand may hold none
        return ""
    return f" at {when.hour % 12 or 12}:{when:%M} {'AM' if when.hour < 12 else 'PM'} on {when:%b} {when.day}"


def _in_short(finding: Finding) -> tuple[str, ...]:
    """What stands out, beside the button: readings outside spec, then words; the table has all of it."""
    outside = [reading for reading in finding.readings if reading.deviation]
    lines = [f"{reading.label}: {reading.found_text}, {result_text(reading)}." for reading in outside]
    if finding.readings and not outside:
        count = len(finding.readings)
        lines.append(f"{count} reading{'s' if count > 1 else ''}, none outside spec.")
    lines += finding.words
    left = len(lines) - _IN_SHORT
    return tuple(lines[:_IN_SHORT]) + ((f"{left} more under Findings.",) if left > 0 else ())
