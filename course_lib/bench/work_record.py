"""The record of one case at work: kept in step with the disk and with the case, saved after every change, its last changes undone.

The record on disk is the one truth. Each act reads it, changes it and writes it back, so that a typed `record_answer`, a second
tab or a restarted kernel never undo each other's work.
"""

from __future__ import annotations

from collections import deque
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from course_lib.assessment.record import (
    DamagedRecord,
    Helped,
    HelpKind,
    LoggedInspection,
    Record,
    RecordNotSaved,
    Refused,
    hand_in,
    open_record,
    read_record,
    record_path,
    save_record,
)
from course_lib.bench.fields import FIELDS, get, handed_over, put

if TYPE_CHECKING:
    from course_lib.cases.case import Case
    from course_lib.shop.findings import Finding

#: Changes that can be taken back.
_TAKEN_BACK = 100


class WorkRecord:
    """The record of `case` in `folder`. given: field -> value, filled in beforehand and standing fast.

    notice: what was wrong when the record was opened; not_saved: why it could not be written, "" where it was.
    """

    def __init__(self, case: Case, folder: str | Path, given: dict[str, Any]) -> None:
        self._case, self._folder, self._given = case, folder, given
        self._before: deque[tuple[str, Any]] = deque(maxlen=_TAKEN_BACK)
        self.not_saved = ""
        self.record, self.notice = open_record(case.id, folder)
        self._fill_in_given()
        self._repeat_recorded()

    @property
    def begun(self) -> bool:
        """Whether the learner has done anything on this case besides taking notes."""
        blank = Record(case_id=self._case.id)
        for name, value in {**self._given, "notes": self.record.notes}.items():
            blank = put(blank, name, value)
        return bool(self.record.inspections or self.record.handed_in or self.record.answer != blank.answer)

    @property
    def undoable(self) -> str:
        """The field whose change would be taken back next; "" when there is none."""
        return self._before[-1][0] if self._before else ""

    def reread(self) -> None:
        """Take over what another cell or tab has saved; memory is the better copy after a failed save."""
        if self.not_saved:
            return
        try:
            self.record = read_record(record_path(self._case.id, self._folder))
        except (OSError, DamagedRecord):
            return
        self._fill_in_given()
        self._repeat_recorded()

    def save(self) -> None:
        """Write the record; why it could not be written stands in `not_saved`."""
        try:
            save_record(self.record, self._folder)
            self.not_saved = ""
        except RecordNotSaved as error:
            self.not_saved = str(error)

    def change(self, name: str, value: Any) -> None:
        """Put a value into a field. Typing on in a text is one change."""
        old = get(self.record, name)
        if value == old:
            return
        if not (FIELDS[name].kind == "text" and self.undoable == name):
            self._before.append((name, old))
        self.record = put(self.record, name, value)

    def undo(self) -> None:
        """Take back the last change."""
        name, value = self._before.pop()
        self.record = put(self.record, name, value)

    def hand_in(self) -> None:
        """Hand in the draft as it stands; it stays in the form, and nothing before it can be taken back."""
        draft = self.record.answer
        self.record = replace(hand_in(self.record, handed_over(draft)), answer=draft)
        self._before.clear()

    def note_finding(self, finding: Finding) -> None:
        """Note an inspection with its minutes."""
        made = LoggedInspection(inspection=finding.inspection, minutes=finding.minutes)
        self.record = replace(
            self.record,
            inspections=(*self.record.inspections, made),
            generator_version=self._case.generator_version,
        )

    def note_help(self, kind: HelpKind) -> None:
        """Note that help was asked for, once for each kind and stage of the work."""
        asked = Helped(kind=kind, after=len(self.record.inspections))
        if asked not in self.record.helped:
            self.record = replace(self.record, helped=(*self.record.helped, asked))
            self.save()

    def note_refused(self, act: str) -> None:
        """Note that something was asked for that does harm, once for each stage of the work."""
        asked = Refused(act=act, after=len(self.record.inspections))
        if asked not in self.record.refused:
            self.record = replace(self.record, refused=(*self.record.refused, asked))
            self.save()

    def _fill_in_given(self) -> None:
        for name, value in self._given.items():
            self.record = put(self.record, name, value)

    def _repeat_recorded(self) -> None:
        """Bring case and record to the same inspections: repeat the recorded, note the ones made by call."""
        made = {finding.inspection for finding in self._case.findings}
        for step in self.record.inspections:
            if step.inspection in made:
                continue
            try:
                self._case.inspect(step.inspection)
            except ValueError as refused:
                self.notice = f"A saved inspection could not be repeated; its minutes stay. {refused}"
        recorded = {step.inspection for step in self.record.inspections}
        for finding in self._case.findings:
            if finding.inspection not in recorded:
                self.note_finding(finding)
