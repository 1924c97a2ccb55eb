"""Tables of what a lesson looks at: findings, several vehicles side by side, spec sheet, words, how a learner stands."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of
from course_lib.lessons.lesson import GlossaryFile, all_misconceptions, lesson_names, load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, subject
from course_lib.lessons.workbook import Workbook
from course_lib.shop.findings import HEADINGS, OUTSIDE, Finding, Reading
from course_lib.shop.inspect import make_inspections
from course_lib.vehicle.unit_spec import load_unit


def finding_table(finding: Finding, keys: tuple[str, ...] = ()) -> Table:
    """A finding as a table: what, found, spec, result; the words come last. keys: the readings to show, all if empty."""
    readings = _chosen(finding, keys)
    rows = [(r.label, r.found_text, r.spec_text, r.verdict) for r in readings]
    off = frozenset((at, 3) for at, r in enumerate(readings) if r.verdict in OUTSIDE)
    rows += [] if keys else [("noticed", words, "", "") for words in finding.words]
    return Table(f"{finding.title}, {finding.minutes} min", HEADINGS, tuple(rows), off)


def compared_findings(findings: list[Finding], labels: list[str], keys: tuple[str, ...] = ()) -> Table:
    """The same inspection of several vehicles, one column each; out of spec is said in words."""
    columns = [_chosen(finding, keys) for finding in findings]
    rows, off = [], set()
    for at, readings in enumerate(zip(*columns, strict=True)):
        off |= {(at, n + 2) for n, reading in enumerate(readings) if reading.verdict in OUTSIDE}
        rows.append(
            (readings[0].label, readings[0].spec_text, *(_with_verdict(reading) for reading in readings))
        )
    return Table(findings[0].title, ("what", "spec", *labels), tuple(rows), frozenset(off))


def spec_rows(unit: str, keys: tuple[str, ...]) -> Table:
    """Some rows of the spec sheet of a unit. Raises ValueError for a reading that has no spec."""
    readings = _sound_readings(unit)
    for key in keys:
        one_of("key", key, readings)
    rows = tuple((readings[key].label, readings[key].spec_text) for key in keys)
    return Table(f"Spec sheet of the {load_unit(unit).title}", ("what", "spec"), rows)


def spoken_number(name: str) -> str:
    """The number of a lesson as one says it: "1" for "L01"."""
    return name.lstrip("L0")


def glossary(*names: str) -> Table:
    """The words that some lessons explain, or all words of the course, in the order of the alphabet."""
    found: dict[str, tuple[str, ...]] = {}
    if not names:
        found |= {
            each.term: (each.term, each.meaning, "") for each in read_data("glossary", GlossaryFile).glossary
        }
    for name in names or lesson_names():
        found |= {
            each.term: (each.term, each.meaning, spoken_number(name)) for each in load_lesson(name).glossary
        }
    rows = tuple(row for _, row in sorted(found.items(), key=lambda pair: pair[0].lower()))
    return Table("Words of the trade", ("word", "what it means", "lesson"), rows, worked_out=False)


def progress(book: Workbook) -> Table:
    """How every practice item of a lesson stands, and the points so far."""
    rows = []
    for item in (*book.lesson.scored, *book.lesson.must_fill):
        result = book.result(item.id)
        state = (
            "right"
            if result.right
            else "closed"
            if result.done
            else "one more try"
            if result.judged
            else "open"
        )
        rows.append(
            (
                str(book.lesson.numbers[item.id]),
                state,
                f"{result.points:.0%}" if item.scored else "not scored",
            )
        )
    return Table(
        f"{book.lesson.title}: {book.share:.0%} of the points",
        ("item", "state", "points"),
        tuple(rows),
        worked_out=False,
    )


def all_progress(folder: Path | str = "answers") -> Table:
    """How far a learner has come, one row a lesson."""
    rows = []
    for name in lesson_names():
        book = Workbook(name, folder=folder)
        left = len(book.open_items)
        state = "passed" if book.passed else f"{left} items open" if left else "try the practice again"
        rows.append((spoken_number(name), book.lesson.title, state, f"{book.share:.0%}"))
    return Table("Your lessons", ("lesson", "title", "state", "points"), tuple(rows), worked_out=False)


def weak_thoughts(folder: Path | str = "answers") -> Counter[str]:
    """How often each misconception stood behind a wrong answer, over all lessons of a learner; mere slips left out."""
    books = [Workbook(name, folder=folder) for name in lesson_names()]
    met = (
        thought for book in books for item in book.lesson.scored for thought in book.result(item.id).thinking
    )
    return Counter(thought for thought in met if thought in all_misconceptions())


def second_thoughts(folder: Path | str = "answers") -> Table:
    """The thoughts that led a learner astray, most frequent first, each beside what is true."""
    met = weak_thoughts(folder).most_common()
    rows = tuple(
        (all_misconceptions()[t].says, all_misconceptions()[t].truth, str(times)) for t, times in met
    )
    return Table("Worth a second thought", ("what is said", "what is true", "times"), rows, worked_out=False)


def _chosen(finding: Finding, keys: tuple[str, ...]) -> list[Reading]:
    readings = {reading.key: reading for reading in finding.readings}
    for key in keys:
        one_of("key", key, readings)
    return [readings[key] for key in keys or readings]


def _with_verdict(reading: Reading) -> str:
    return f"{reading.found_text}, {reading.verdict}" if reading.verdict in OUTSIDE else reading.found_text


@cache
def _sound_readings(unit: str) -> dict[str, Reading]:
    found = make_inspections(subject(LessonVehicle(unit=unit)))
    return {r.key: r for finding in found.values() for r in finding.readings if r.spec is not None}
