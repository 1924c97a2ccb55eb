"""One table with rows from several inspections: the gauge beside the road, the first day beside the last."""

from __future__ import annotations

from collections.abc import Sequence

from course_lib.base.guards import one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.lesson_tables import compared_findings
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import inspect_vehicle

MIXED = "Readings side by side"
"""What stands over rows of several inspections."""


def across(lesson: str, vehicles: Sequence[str], *rows: str, caption: str = "") -> Table:
    """Readings of some vehicles of a lesson, one column each; a row is "inspection/reading key", whatever inspection it is from.

    Raises ValueError for a row of another form, or for a lesson, vehicle, inspection or key that is not there.
    """
    known = load_lesson(lesson).vehicles
    for name in vehicles:
        one_of("vehicle", name, known)
    labels = [known[name].label or name.replace("_", " ") for name in vehicles]
    parts = []
    for row in rows:
        inspection, slash, key = row.partition("/")
        if not slash:
            raise ValueError(
                f"row must be inspection/key, got {row!r}. Write line_pressure/line_pressure_p_idle_psi."
            )
        parts.append(
            compared_findings([inspect_vehicle(known[name], inspection) for name in vehicles], labels, (key,))
        )
    off = frozenset((at, column) for at, part in enumerate(parts) for _, column in part.off)
    titles = {part.caption for part in parts}
    title = caption or (titles.pop() if len(titles) == 1 else MIXED)
    return Table(title, parts[0].heads, tuple(row for part in parts for row in part.rows), off)
