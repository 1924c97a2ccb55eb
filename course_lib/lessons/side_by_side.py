"""One-line calls of lessons that compare: how several vehicles look and sound, what a road test asks and clears."""

from __future__ import annotations

from collections.abc import Sequence

from course_lib.base.guards import one_of
from course_lib.lessons.facts import train
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, inspect_vehicle, subject
from course_lib.shop.apply_chart import DRIVE, Range, applied, ranges
from course_lib.shop.findings import Finding, Look
from course_lib.shop.holders import HoldingElement, holders
from course_lib.shop.road_test import moves
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import UnitSpec, load_unit

ASKED, NOT_ASKED = "asked", "\u2013"
SUSPECT, HELD_LESS, LESS_LIKELY = "suspect", "suspect: held where less was asked", "less likely"
HELD, PARTLY, OPEN = "held", "explains a part", "not asked"
CALLED = {
    "charred": "lining, burnt or not",
    "lining": "lining, how worn",
    "steel": "steel plates",
    "rubber": "piston seal",
}
"""What is looked at, by the first word of the key of a look that says only how it is."""


def noticed(lesson: str, names: Sequence[str], inspection: str, *keys: str) -> Table:
    """What is seen, heard and smelled on several vehicles of a lesson, one column each; keys: the looks to show, in order.

    Raises ValueError for a lesson, a vehicle, an inspection or a look that is not there.
    """
    vehicles = load_lesson(lesson).vehicles
    for name in names:
        one_of("vehicle", name, vehicles)
    findings = [inspect_vehicle(vehicles[name], inspection) for name in names]
    rows = tuple(_row([_look(finding, key) for finding in findings]) for key in keys)
    heads = ("look", *(vehicles[name].label or name.replace("_", " ") for name in names))
    return Table(findings[0].title, heads, rows)


def route(unit: str = "three-speed") -> Table:
    """Which holding element each move of a road test asks, one column an element."""
    spec = load_unit(unit)
    asked = [
        (move.label, applied(spec, move.gear))
        for move in moves(subject(LessonVehicle(unit=spec.name, signal=spec.signals[0])))
    ]
    rows = tuple((label, *(ASKED if on else NOT_ASKED for on in row)) for label, row in asked)
    heads = ("move", *(holder.label for holder in holders(spec)))
    return Table(f"{spec.title}: what each move of the road test asks", heads, rows)


def suspects(
    unit: str, *, holds: Sequence[str], slips: Sequence[str] = (), missing: Sequence[str] = ()
) -> Table:
    """What is left of the holding elements after some ranges held, some slipped, and some never came.

    A range that holds speaks for the elements that it cannot do without, and only up to what it asks of them: their share of the
    torque that comes in, over the line pressure of the lever. Raises ValueError for a range that is not there.
    """
    spec = load_unit(unit)
    by_name = {each.name: each for each in ranges(spec)}
    for name in (*holds, *slips, *missing):
        one_of("range", name, by_name)
    good, bad = ([by_name[name] for name in names] for names in (holds, (*slips, *missing)))
    found = [_standing(spec, holder, good, bad) for holder in holders(spec)]
    off = frozenset((at, 3) for at, row in enumerate(found) if row[3] in (SUSPECT, HELD_LESS))
    heads = ("part", "works in what fails", "held in, against what fails", "now")
    return Table(f"{spec.title}: {_left(len(off), len(found), slips)}", heads, tuple(found), off)


def _left(count: int, total: int, slips: Sequence[str]) -> str:
    """What stands over the suspects."""
    if count:
        return f"{count} of {total} {'stand' if count > 1 else 'stands'} out"
    if slips:
        return "no part stands out: read the circuit pressure of each less likely one in the gear that slips"
    return "no part stands out: look first at what commands the gear"


def _standing(
    spec: UnitSpec, holder: HoldingElement, good: list[Range], bad: list[Range]
) -> tuple[str, str, str, str]:
    """A row of `suspects`: an element, the bad ranges it works in, the good ones that needed it and how much they asked of it, and
    how it stands."""
    works = [each for each in bad if applied(spec, each.gear)[holder.column]]
    most = max((_asked(spec, each, holder) for each in works), default=0.0)
    held = [each for each in good if _needed(spec, each, holder)]
    times = [_asked(spec, each, holder) / most for each in held] if most else []
    told = [f"{r.label} ({n:.1f} times as much)" for r, n in zip(held, times, strict=True)] if most else []
    now = (HELD if held else OPEN) if not works else PARTLY if len(works) < len(bad) else _suspicion(times)
    return (
        holder.label,
        "; ".join(each.label for each in works) or NOT_ASKED,
        "; ".join(told or [each.label for each in held]) or NOT_ASKED,
        now,
    )


def _suspicion(times: list[float]) -> str:
    """How an element stands that works in all that is bad, by how much good ranges asked of it against the bad ones."""
    if not times:
        return SUSPECT
    return HELD_LESS if max(times) < 1.0 else LESS_LIKELY


def _asked(spec: UnitSpec, each: Range, holder: HoldingElement) -> float:
    """Torque that an element must hold in a range, for each part of torque that comes in and of the line pressure in D."""
    share = float(abs(gear_tables(spec).share[spec.gear_index(each.gear), holder.column]))
    return (
        share if holder.element.kind == "one-way" else share / (_line(spec, each.lever) / _line(spec, DRIVE))
    )


def _line(spec: UnitSpec, lever: str) -> float:
    """Middle of the spec of line pressure at idle, in psi."""
    return sum(spec.spec[f"line_pressure_{lever.lower()}_idle_psi"]) / 2.0


def _needed(spec: UnitSpec, each: Range, holder: HoldingElement) -> bool:
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
    kind, _, stem = looks[0].key.partition("_")
    name = head if split else f"{stem.replace('_', ' ')}, {CALLED.get(kind, kind)}"
    return name, *(look.text.removeprefix(f"{name}: ") for look in looks)
