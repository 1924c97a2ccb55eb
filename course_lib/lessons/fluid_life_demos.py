"""One-line calls on heat: how long a fluid lasts at a temperature."""

from __future__ import annotations

from course_lib.base import units
from course_lib.base.guards import between
from course_lib.lessons.tables import Table
from course_lib.physics import fluid

MPH = 40.0  # a mixed day on the road, for turning hours into miles


def fluid_life(*fahrenheit: float) -> Table:
    """Miles until a fluid is worn out that stays at a temperature, without air in it, at 40 mph.

    fahrenheit: sump temperatures, 100 to 350.
    """
    rows = []
    for hot in fahrenheit:
        between("temperature", hot, 100, 350, "Give the temperature of a sump in use, in °F.")
        hours = 1.0 / (3600.0 * float(fluid.oxidation_rate(units.from_fahrenheit(hot), 0.0)))
        rows.append((f"{hot:g} °F", f"{_rounded(hours * MPH):,.0f}"))
    return Table("How long a fluid lasts", ("sump at", "miles at 40 mph"), tuple(rows), worked_out=False)


def _rounded(miles: float) -> float:
    return float(f"{miles:.2g}")
