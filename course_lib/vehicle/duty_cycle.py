"""What a vehicle does all day: the operating points of its use, and how long a mile spends at each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Values
from course_lib.base.guards import one_of
from course_lib.physics.loose_contact import road_shaking
from course_lib.vehicle.operating_point import Operation, operation
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.uses import DutyPoint, load_uses

SETTING_OFF = 4.0  # m/s, below which a vehicle is setting off or backing


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyCycle:
    """A use made ready for arithmetic: m points, seconds a meter at each and how long one spell lasts [s], both (1, m); stops
    and fluid changes a meter."""

    names: tuple[str, ...]
    op: Operation
    seconds: Array
    spell: Array
    stops: float
    services: float

    def spent(self, stops: Values, standing: Values) -> Array:
        """Seconds a meter at each point (n, m) of an owner who stops and stands so many times as much."""
        still = self.op.road_speed == 0.0
        moving_off = (self.op.road_speed < SETTING_OFF) & ~still
        return self.seconds * np.where(still, standing, np.where(moving_off, stops, 1.0))


def _shake(point: DutyPoint) -> float:
    """How hard a point shakes."""
    return float(min(road_shaking(units.from_mph(point.road_speed_mph), point.rough), 1.0))


def duty_cycle(use: str, unit: UnitSpec) -> DutyCycle:
    """The duty of a kind of use, with the points for that unit's kind of control. Raises ValueError for an unknown use."""
    return _duty_cycle(use, unit.kind_of_control)


@cache
def _duty_cycle(use: str, control: str) -> DutyCycle:
    book = load_uses()
    one_of("use", use, book.uses)
    chosen = book.uses[use]
    spent = {n: s for n, s in chosen.seconds_per_mile.items() if book.points[n].only in (None, control)}
    names = tuple(spent)
    points = [book.points[name] for name in names]
    op = operation(
        [point.lever for point in points],
        throttle=[point.pedal for point in points],
        road_speed=[units.from_mph(point.road_speed_mph) for point in points],
        tilt=[point.tilt for point in points],
        temperature=[np.nan if p.sump_f is None else units.from_fahrenheit(p.sump_f) for p in points],
        loaded=1.0,
        acting=1.0,
        shake=[_shake(point) for point in points],
        wet=[point.wet for point in points],
        pressed_for=[np.nan if point.pressed_s is None else point.pressed_s for point in points],
    )
    seconds = np.array([list(spent.values())]) / units.MILE
    return DutyCycle(
        names=names,
        op=op,
        seconds=seconds,
        spell=np.array([[point.lasts_s for point in points]]),
        stops=chosen.stops_per_mile / units.MILE,
        services=1.0 / (chosen.service_miles * units.MILE),
    )
