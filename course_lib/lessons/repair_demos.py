"""One-line calls of lesson 12: what came of a repair, and which cause gives a finding a home."""

from __future__ import annotations

from course_lib.base.guards import one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, came_back, inspect_vehicle
from course_lib.shop.findings import OUTSIDE, Finding

LESSON = "L12"
SEEN, NOT_SEEN = "explains it", "does not explain it"


def outcomes(*vehicles: str) -> Table:
    """What came of some repairs of the lesson, driven on by an ordinary owner: miles until he came back, or how far without.

    Raises ValueError for a vehicle that the lesson does not have, or that was not driven on.
    """
    rows: list[tuple[str, ...]] = []
    off: set[tuple[int, int]] = set()
    for name in vehicles:
        vehicle = _known(name)
        if not vehicle.then_miles:
            raise ValueError(f"vehicle must have been driven on, got {name!r}. Give it then_miles.")
        miles = came_back(vehicle)
        if miles is not None:
            off.add((len(rows), 1))
        rows.append((vehicle.label, _told(miles, vehicle.then_miles)))
    return Table("What came of it", ("repair", "the owner"), tuple(rows), frozenset(off))


def homes(whole: str, *single: str, rows: tuple[str, ...]) -> Table:
    """Which of some single causes gives each finding of a vehicle a home: the same trouble is found where that cause is alone.

    whole: the vehicle as it came in. single: vehicles with one cause each. rows: "inspection/key" of readings or looks.
    Raises ValueError for a row of another form, or where the whole vehicle shows nothing out of the ordinary.
    """
    shown = []
    for row in rows:
        inspection, slash, key = row.partition("/")
        if not slash:
            raise ValueError(f"row must be inspection/key, got {row!r}. Write fluid_hot/level_hot_in.")
        wrong, words = _wrong(inspect_vehicle(_known(whole), inspection), key)
        if not wrong:
            raise ValueError(f"row must be a finding, got {row!r}, which is in order. Leave it out.")
        found = [_wrong(inspect_vehicle(_known(name), inspection), key)[0] for name in single]
        shown.append((words, *(SEEN if each else NOT_SEEN for each in found)))
    heads = ("finding", *(_known(name).label for name in single))
    return Table("Which cause explains each finding", heads, tuple(shown))


def _known(name: str) -> LessonVehicle:
    vehicles = load_lesson(LESSON).vehicles
    one_of("vehicle", name, vehicles)
    return vehicles[name]


def _told(miles: float | None, driven: float) -> str:
    if miles is None:
        return f"content after {driven:,.0f} miles"
    return "back on the first mile" if miles < 2.0 else f"back after {miles:,.0f} miles"


def _wrong(finding: Finding, key: str) -> tuple[bool, str]:
    """Whether a reading is out of spec, or a look out of the ordinary, and how it is said."""
    readings = {reading.key: reading for reading in finding.readings}
    looks = {look.key: look for look in finding.looks}
    one_of("key", key, [*readings, *looks])
    if key in readings:
        return readings[key].verdict in OUTSIDE, f"{readings[key].label}: {readings[key].found_text}"
    return looks[key].grade > 0, looks[key].text
