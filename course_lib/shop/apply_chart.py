"""What the apply chart of a unit tells a workshop: which lever asks which element, and where an element should be at rest."""

from __future__ import annotations

from dataclasses import dataclass

from course_lib.base.arrays import Array
from course_lib.shop.holders import HoldingElement, one_ways, pressed
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import UnitSpec

DRIVE = "D"  # the lever that changes gear by itself


@dataclass(frozen=True, slots=True)
class Range:
    """One gear at one lever position: its name in keys, how it is said, and how many upshifts stand before it."""

    name: str
    label: str
    lever: str
    gear: str
    ups: int


def ratio(unit: UnitSpec, gear: str) -> float:
    """Ratio of a gear: input over output speed, signed, 0 in neutral."""
    return float(gear_tables(unit).ratio[unit.gear_index(gear)])


def applied(unit: UnitSpec, gear: str) -> Array:
    """Which elements a gear applies, (E,) of 0 and 1."""
    row: Array = gear_tables(unit).applied[unit.gear_index(gear)]
    return row


def ranges(unit: UnitSpec) -> tuple[Range, ...]:
    """Every gear at every lever position that drives: what is reached without an upshift first, then by the order of the gate."""
    found = []
    for lever, gears in unit.levers.items():
        for ups, gear in enumerate(gears):
            if ratio(unit, gear) < 0:
                found.append(Range("reverse", lever, lever, gear, ups))
            elif ratio(unit, gear) > 0:
                own = lever == DRIVE
                name = gear if own else f"manual_{lever}"
                found.append(Range(name, f"{gear}, {lever}" if own else f"manual {lever}", lever, gear, ups))
    return tuple(sorted(found, key=lambda each: each.ups))


def tap_range(unit: UnitSpec, holder: HoldingElement) -> tuple[str, int]:
    """Lever and number of upshifts at which an element is first applied, in the order of the gate, standing if possible."""
    places = [
        (ups, lever)
        for lever, gears in unit.levers.items()
        for ups, gear in enumerate(gears)
        if applied(unit, gear)[holder.column]
    ]
    ups, lever = min(places, key=lambda place: place[0])
    return lever, ups


def idle_range(unit: UnitSpec, holder: HoldingElement) -> Range:
    """A range that drives without an element, standing if possible: its circuit is due to be empty there."""
    return next(each for each in ranges(unit) if not applied(unit, each.gear)[holder.column])


def coming_on(unit: UnitSpec, gear: str) -> tuple[HoldingElement, ...]:
    """The pressed elements that come on anew when a gear is entered."""
    takes = gear_tables(unit).takes[unit.gear_index(gear)]
    return tuple(each for each in pressed(unit) if takes[each.column])


def learns(unit: UnitSpec, element: str) -> bool:
    """Whether a controller learns the fill time of an element: where a gear of the drive lever brings it on."""
    return any(element == each.element.id for gear in unit.levers[DRIVE] for each in coming_on(unit, gear))


def brakes_on_overrun(unit: UnitSpec, gear: str) -> bool:
    """Whether a sound unit brakes the vehicle in a gear: no one-way clutch stands alone in it."""
    couples = {tuple(each.element.couples) for each in pressed(unit) if applied(unit, gear)[each.column]}
    alone = [each for each in one_ways(unit) if applied(unit, gear)[each.column]]
    return ratio(unit, gear) != 0 and all(tuple(each.element.couples) in couples for each in alone)
