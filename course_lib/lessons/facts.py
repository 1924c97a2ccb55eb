"""Numbers that lessons use, worked out by the library, so that no item can say what the physics does not.

What stands in `CALLS` may be called from the `[facts]` table of a lesson file.
"""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np

from course_lib.base.guards import one_of
from course_lib.lessons.vehicles import LessonVehicle, came_back, inspect_vehicle
from course_lib.physics.gearset import PlanetarySet, TrainState, solve_train
from course_lib.shop.holders import holders
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import UnitSpec, load_unit


def gear_ratio(*, unit: str = "T3", gear: str) -> float:
    """Ratio of a gear: input speed over output speed, negative in reverse, 0 where nothing is driven."""
    spec = load_unit(unit)
    one_of("gear", gear, spec.gears)
    return float(gear_tables(spec).ratio[spec.gear_index(gear)])


def share(*, unit: str = "T3", gear: str, element: str) -> float:
    """Torque that an element must hold in a gear, as a multiple of the torque that comes in."""
    return float(_cell(unit, gear, element, gear_tables(load_unit(unit)).share))


def applied_in_gear(*, unit: str = "T3", gear: str, element: str) -> float:
    """1 where the gear uses the element, else 0."""
    return float(_cell(unit, gear, element, gear_tables(load_unit(unit)).applied))


def speed(*, unit: str = "T3", gear: str, member: str) -> float:
    """Speed of a member of the gear train in a gear, with the input turning at 1; negative is backward."""
    spec = load_unit(unit)
    one_of("gear", gear, spec.gears)
    one_of("member", member, spec.members)
    return train(spec, spec.gears[gear]).speeds[member]


def teeth(*, unit: str = "T3", planetary_set: int = 1, wheel: str) -> float:
    """Tooth count of the "sun" or the "ring" of a planetary set, counted from 1."""
    one_of("wheel", wheel, ("sun", "ring"))
    return float(getattr(load_unit(unit).planetary_sets[planetary_set - 1], f"{wheel}_teeth"))


def spec(*, unit: str = "T3", key: str, end: str) -> float:
    """The "low" or "high" end of a spec of the unit's sheet, in workshop units."""
    sheet = load_unit(unit).spec
    one_of("key", key, sheet)
    one_of("end", end, ("low", "high"))
    return float(sheet[key][end == "high"])


def reading(*, vehicle: LessonVehicle, inspection: str, key: str) -> float:
    """What an instrument shows on a vehicle of the lesson, in workshop units, rounded as it is read."""
    readings = {each.key: each for each in inspect_vehicle(vehicle, inspection).readings}
    one_of("key", key, readings)
    found = readings[key]
    if found.value is None:
        raise ValueError(f"reading {key} must be a number, got {found.found_text!r}. Take another reading.")
    return round(found.value, found.decimals)


def until_back(*, vehicle: LessonVehicle) -> float:
    """Miles from the repair until the owner of a vehicle of the lesson came back, rounded as an odometer shows them."""
    miles = came_back(vehicle)
    if miles is None:
        raise ValueError(
            f"vehicle must come back within {vehicle.then_miles:,.0f} miles, got none. Leave a cause, or drive on."
        )
    return float(round(miles))


def train(unit: UnitSpec, elements: Collection[str]) -> TrainState:
    """The gear train of a unit with some elements holding; two that couple the same members count once.

    Raises ValueError where that many do not drive.
    """
    couplings = list(dict.fromkeys(e.couples for e in unit.elements if e.id in elements))
    sets = [PlanetarySet(s.sun, s.ring, s.carrier, s.sun_teeth / s.ring_teeth) for s in unit.planetary_sets]
    return solve_train(unit.members, sets, couplings, unit.input, unit.output)


def _cell(unit: str, gear: str, element: str, table: np.ndarray) -> float:
    spec_ = load_unit(unit)
    one_of("gear", gear, spec_.gears)
    one_of("element", element, [holder.element.id for holder in holders(spec_)])
    return float(table[spec_.gear_index(gear), spec_.element_ids.index(element)])


CALLS: dict[str, Callable[..., float]] = {
    "ratio": gear_ratio,
    "share": share,
    "applied": applied_in_gear,
    "speed": speed,
    "teeth": teeth,
    "spec": spec,
    "reading": reading,
    "until_back": until_back,
}
"""What a lesson file may call, by name."""
