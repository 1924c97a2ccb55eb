"""Operating points that ask an electronic control for one gear after the other, and what it says of itself there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from course_lib.base.arrays import Flags
from course_lib.shop.apply_chart import DRIVE, ratio
from course_lib.shop.gauges import PULLING_PEDAL, TOP_SPEED
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.vehicle.command import Electric
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import Workings

BEFORE = 0.7  # of the speed of the first upshift, at which first gear is looked at
LOCKED = 1.15  # of the least speed of lock-up


def electric_of(work: Workings) -> Electric:
    """What the controller knows and does. Raises ValueError where the control is hydraulic."""
    if work.electric is None:
        raise ValueError(
            "vehicle must have an electronic control to be asked, got a hydraulic one. Ask another."
        )
    return work.electric


def gear_points(
    subject: Subject, pedal: float = LIGHT_PEDAL, temperature: float = HOT
) -> dict[str, AskedPoint]:
    """Gear of the drive lever -> a point at which the sheet's vehicle is in it, as far as a road allows such speeds."""
    gears = subject.unit.levers[DRIVE]
    first = BEFORE * float(subject.sheet.plant.controls.upshift_speeds(pedal)[0, 0])
    speeds = [first, *(subject.past_shift(place, pedal) for place in range(len(gears) - 1))]
    return {
        gear: AskedPoint(DRIVE, throttle=pedal, road_speed=speed, temperature=temperature)
        for gear, speed in zip(gears, speeds, strict=True)
        if speed <= TOP_SPEED
    }


def locked_points(subject: Subject) -> dict[str, AskedPoint]:
    """Gear of the drive lever -> a point, pulling, at which it is in that gear with its lock-up clutch on."""
    least = LOCKED * float(subject.sheet.parameter("lockup_speed")[0])
    shifts = [
        *(float(each) for each in subject.sheet.plant.controls.upshift_speeds(PULLING_PEDAL)[0]),
        TOP_SPEED,
    ]
    found = {}
    for place, gear in enumerate(subject.unit.levers[DRIVE]):
        slowest = max(least, shifts[place - 1] if place else 0.0)
        if gear in subject.unit.lockup_gears and slowest < shifts[place]:
            middle = 0.5 * (slowest + min(shifts[place], TOP_SPEED))
            found[gear] = AskedPoint(DRIVE, throttle=PULLING_PEDAL, road_speed=middle, temperature=HOT)
    return found


def reverse_point(subject: Subject, pedal: float, speed: float) -> AskedPoint | None:
    """Backing up; None where no lever backs up."""
    levers = (lever for lever, gears in subject.unit.levers.items() if ratio(subject.unit, gears[0]) < 0.0)
    lever = next(levers, None)
    return None if lever is None else AskedPoint(lever, throttle=pedal, road_speed=speed, temperature=HOT)


def asked_for(subject: Subject, electric: Electric, points: Sequence[AskedPoint], gear: str) -> Flags:
    """Where a gear is asked for, (n, m): by the controller, or by a lever that has no other gear."""
    alone = [subject.unit.levers[point.lever] == (gear,) for point in points]
    asked: Flags = (electric.wanted_gear == subject.unit.gear_index(gear)) | np.array(alone)
    return asked


def as_it_came(point: AskedPoint) -> AskedPoint:
    """The same point with the controller acting on the codes that are stored."""
    return replace(point, acting=1.0)
