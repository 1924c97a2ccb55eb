"""One-line calls of lessons that compare: how several vehicles look and sound, what a road test asks and clears."""

from __future__ import annotations

from collections.abc import Sequence

from course_lib.lessons.facts import train
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import Vehicle, inspect, subject
from course_lib.shop.chart import Holder, Range, applied, holders, ranges
from course_lib.shop.findings import Finding, Look
from course_lib.shop.road import moves
from course_lib.transmission.spec import UnitSpec, load_unit
from course_lib.vocabulary import one_of

ASKED, NOT_ASKED = "asked", "\u2013"
CLEARED, SUSPECT, PARTLY, OPEN = "cleared", "suspect", "explains a part", "not asked"


def noticed(lesson: str, names: Sequence[str], inspection: str, *keys: str) -> Table:
    """What is seen, heard and smelled on several vehicles of a lesson, one column each; keys: the looks to show, in order.

    Raises ValueError for a lesson, a vehicle, an inspection or a look that is not there.
    """
    vehicles = load_lesson(lesson).vehicles
    for name in names:
        one_of("vehicle", name, vehicles)
    findings = [inspect(vehicles[name], inspection) for name in names]
    rows = tuple(_row([_look(finding, key) for finding in findings]) for key in keys)
    heads = ("look", *(vehicles[name].label or name.replace("_", " ") for name in names))
    return Table(findings[0].title, heads, rows)


def route(unit: str = "T3") -> Table:
    """Which holding element each move of a road test asks, one column an element."""
    spec = load_unit(unit)
    asked = [
        (move.label, applied(spec, move.gear))
        for move in moves(subject(Vehicle(unit=unit, signal=spec.signals[0])))
    ]
    rows = tuple((label, *(ASKED if on else NOT_ASKED for on in row)) for label, row in asked)
    heads = ("move", *(holder.label for holder in holders(spec)))
    return Table(f"{unit}: what each move of the road test asks", heads, rows)


def suspects(unit: str, *, holds: Sequence[str], slides: Sequence[str]) -> Table:
    """What is left of the holding elements after some ranges held and some slid or were missing.

    A range that holds clears every element without which it could not. Raises ValueError for a range that is not there.
    """
    spec = load_unit(unit)
    by_name = {each.name: each for each in ranges(spec)}
    for name in (*holds, *slides):
        one_of("range", name, by_name)
    good, bad = ([by_name[name] for name in names] for names in (holds, slides))
    found = [_standing(spec, holder, good, bad) for holder in holders(spec)]
    off = frozenset((at, 3) for at, row in enumerate(found) if row[3] == SUSPECT)
    said = f"{len(off)} of {len(found)} left" if off else "none left: look at what commands the gear"
    return Table(f"{unit}: {said}", ("part", "works in what is bad", "cleared by", "now"), tuple(found), off)


def _standing(
    spec: UnitSpec, holder: Holder, good: list[Range], bad: list[Range]
) -> tuple[str, str, str, str]:
    """A row of `suspects`: an element, the bad ranges it works in, the good ones that clear it, and how it stands."""
    cleared = [each.label for each in good if _needed(spec, each, holder)]
    works = [each.label for each in bad if applied(spec, each.gear)[holder.column]]
    now = CLEARED if cleared else OPEN if not works else SUSPECT if len(works) == len(bad) else PARTLY
    return holder.label, "; ".join(works) or NOT_ASKED, "; ".join(cleared) or NOT_ASKED, now


def _needed(spec: UnitSpec, each: Range, holder: Holder) -> bool:
    """Whether a range drives nothing without an element."""
    try:
        train(spec, [name for name in spec.gears[each.gear] if name != holder.element.id])
    except ValueError:
        return True
    return False


def _look(finding: Finding, key: str) -> Look:
    looks = {look.key: look for look in finding.looks}
    one_of("look", key, looks)
    return looks[key]


def _row(looks: list[Look]) -> tuple[str, ...]:
    """A row of words; what they begin with alike ("magnet: ") is said once, as its head."""
    head, split, _ = looks[0].text.partition(": ")
    name = head if split else looks[0].key.replace("_", " ")
    return name, *(look.text.removeprefix(f"{name}: ") for look in looks)
