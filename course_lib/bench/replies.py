"""Sentences that answer an act: what an inspection brought, what is still open, when it was handed in."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from course_lib.assessment.record import Record
from course_lib.bench.fields import FIELDS, Choices
from course_lib.faults.parts import out_of_order
from course_lib.shop.findings import Finding

#: Lines of a new finding that stand beside the button.
_IN_SHORT = 8
#: Fields as they are called in a sentence, where that is not their label.
_IN_A_SENTENCE = {
    "evidence": "the finding that proves it",
    "why": "a sentence in your own words",
    "confidence": "how sure you are",
}


def of_inspection(finding: Finding, minutes_used: int) -> tuple[str, ...]:
    """What stands beside the button: minutes, then readings outside spec, then words; the table has all of it."""
    lines = [f"Done: {finding.title}. {finding.minutes} min, {minutes_used} min in all."]
    outside = [reading for reading in finding.readings if reading.deviation]
    found = [f"{reading.label}: {reading.found_text}, {reading.result_text}." for reading in outside]
    if finding.readings and not outside:
        count = len(finding.readings)
        found.append(f"{count} reading{'s' if count > 1 else ''}, none outside spec.")
    found += finding.words
    left = len(found) - _IN_SHORT
    return (
        *lines,
        *found[:_IN_SHORT],
        *([f"{left} more below, under the finding itself."] if left > 0 else []),
    )


def outside_spec(finding: Finding) -> str:
    """How many readings are outside spec, and whether something was seen that is not as it should be; "" for neither."""
    count = sum(bool(reading.deviation) for reading in finding.readings)
    told = [f"{count} reading{'s' if count > 1 else ''} outside spec"] * bool(count)
    return ", ".join(told + ["something not as it should be"] * any(map(out_of_order, finding.looks)))


def name_of(field: str) -> str:
    """A field as it is called in a sentence."""
    return _IN_A_SENTENCE.get(field) or FIELDS[field].label.lower()


def of_gaps(gaps: Collection[str]) -> str:
    """What keeps an answer from being handed in."""
    return f"Not handed in yet. Still open: {', '.join(name_of(each) for each in gaps)}."


def of_order(moved: object, chain: tuple[str, ...], links: Choices) -> str:
    """Where a link of the chain stands after it was moved; "" when none was."""
    if moved not in chain:
        return ""
    label = next((link[1] for link in links if link[0] == moved), str(moved))
    return f"\u201c{label}\u201d is now number {chain.index(str(moved)) + 1} of {len(chain)}."


def of_hand_in(record: Record, marked_at_once: bool) -> str:
    """When the last answer was handed in, how often, and what happens next; "" before the first."""
    if record.handed_in is None:
        return ""
    tries = f", attempt {record.attempts}" if record.attempts > 1 else ""
    end = "." if marked_at_once else "; your instructor marks it."
    return f"Handed in{_clock(record.handed_in_at)}{tries}{end}"


def _clock(time: str) -> str:
    try:
        when = datetime.fromisoformat(time)
    except ValueError:  # a record written by hand may hold none
        return ""
    return f" at {when.hour % 12 or 12}:{when:%M} {'AM' if when.hour < 12 else 'PM'} on {when:%b} {when.day}"
