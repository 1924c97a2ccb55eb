"""What a learner left on a vehicle that has gone from the course: read-only, in words, above the bench of today's vehicle."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from pathlib import Path

from course_lib.assessment.record import Answer, DamagedRecord, Record, read_record
from course_lib.base.case_ids import records_before, retired_note
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import all_parts
from course_lib.shop.findings import all_inspections


class RetiredRecord:
    """One record of a retired case as it is shown: the sentence that says so, and what was done and answered."""

    def __init__(self, case_id: str, record: Record) -> None:
        self.note, self.rows = retired_note(case_id), rows_of(record)

    def __repr__(self) -> str:
        return "\n".join([self.note, *(f"{name}: {text}" for name, text in self.rows)])

    def _repr_html_(self) -> str:
        rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in self.rows)
        return (
            f'<details class="bench-earlier"><summary>{escape(self.note)}</summary><dl>{rows}</dl></details>'
        )


def retired_records(case_id: str, folder: str | Path) -> list[RetiredRecord]:
    """Records in `folder` of vehicles that stood where `case_id` stands today, oldest first; unreadable ones are left out."""
    found = []
    for retired, path in records_before(case_id, folder).items():
        try:
            found.append(RetiredRecord(retired, read_record(path)))
        except (OSError, DamagedRecord):
            continue
    return found


def rows_of(record: Record) -> list[tuple[str, str]]:
    """What a record says without its vehicle: (heading, words); headings without words are left out."""
    answer = record.handed_in or record.answer
    titles = {name: each.title for name, each in all_inspections().items()}
    made = _named((step.inspection for step in record.inspections), titles) or "none"
    rows = [
        ("Handed in", record.handed_in_at if record.handed_in else "not yet"),
        ("Inspections", f"{made} ({record.minutes_used} min)"),
        *_answered(answer),
        ("Notes", record.notes),
    ]
    return [(name, text) for name, text in rows if text]


def _answered(answer: Answer) -> list[tuple[str, str]]:
    parts = {name: each.label for name, each in all_parts().items()}
    causes = {name: each.label for name, each in all_causes().items()}
    return [
        ("Broken part", _named(answer.parts, parts)),
        ("Root cause", _named(answer.causes, causes)),
        ("Ruled out", _named((each.cause for each in answer.excluded), causes)),
        ("In your own words", answer.why),
    ]


def _named(ids: Iterable[str], labels: dict[str, str]) -> str:
    """Names joined; what the catalogue has no more keeps its id."""
    return "; ".join(labels.get(each, each) for each in ids)
