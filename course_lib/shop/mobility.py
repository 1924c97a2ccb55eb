"""How far the vehicles still drive: nothing is read at a speed that they do not reach, and nobody drives far on what slips.

All of it follows from the torque that still reaches the wheels, whatever took the rest.
"""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.shop.apply_chart import ranges
from course_lib.shop.batch import BatchReading, Notes
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.vehicle.operating_point import Workings

MILES_PER_HOUR = (0, 5, 10, 20, 30, 40, 50, 60, 75)  # speeds tried one after the other
SPEEDS = units.from_mph(np.array(MILES_PER_HOUR, float))  # m/s
# What does not shift up with the pedal on the floor does so when the driver eases it.
PEDALS = (1.0, 0.5, 0.35)
# N per kg, 1.5 percent of the weight; N per (m/s)2: a light truck, common practice, no source.
ROLLING, AIR_DRAG = 0.14715, 0.75
WHEELS_CLEAR = 60.0  # N at the tire that turns axle and wheels on a lift, common practice, no source
FAR_SPEED = units.from_mph(25)  # a vehicle that does not get so fast is not driven for an hour
BURNS_RPM = 300  # slip at which an hour's drive would burn what is left; one drives round steep places
HOUR = 60  # minutes
MUCH_OF_IT = 0.05  # share of the owner's day
NOT_REACHED = "not reached"
DOES_NOT_DRIVE, SLIPS_TOO_MUCH = "not driven: no pull", "not driven: too much slip"


def forward(subject: Subject) -> list[str]:
    """Levers that drive forward, the drive lever first, in the order of the gate."""
    return list(dict.fromkeys(each.lever for each in ranges(subject.unit) if each.name != "reverse"))


def backward(subject: Subject) -> list[str]:
    """Levers that back up."""
    return [each.lever for each in ranges(subject.unit) if each.name == "reverse"]


def _tried(subject: Subject) -> tuple[list[str], Workings]:
    """Hot: idling in P first, then every lever that drives, at every speed, with every pedal; worked once."""
    return subject.once("can it be driven", lambda: _try(subject))


def _try(subject: Subject) -> tuple[list[str], Workings]:
    levers = [*forward(subject), *backward(subject)]
    asked = [
        AskedPoint(lever, throttle=pedal, road_speed=units.from_mph(mph), temperature=HOT)
        for lever in levers
        for mph in MILES_PER_HOUR
        for pedal in PEDALS
    ]
    return levers, subject.at([AskedPoint("P", temperature=HOT), *asked])


def foam(subject: Subject) -> Array:
    """Share of time with air in the fluid, idling hot or over the owner's day, (n,)."""
    share: Array = np.maximum(_tried(subject)[1].air_time[:, 0], subject.driving.air_time.mean(-1))
    return share


def _fails(subject: Subject, lifted: bool, floored: bool) -> dict[str, Array]:
    """Lever -> at which of the speeds tried less torque comes to the wheels than holds them, (n, speeds) bool."""
    return subject.once(f"gives out, {lifted=}, {floored=}", lambda: _hold_back(subject, lifted, floored))


def _hold_back(subject: Subject, lifted: bool, floored: bool) -> dict[str, Array]:
    levers, work = _tried(subject)
    radius, axle = subject.parameter("vehicle_tire_radius"), subject.parameter("vehicle_axle")
    push = work.drive_torque[:, 1:] * (axle / radius)[:, None]
    push = push.reshape(subject.size, len(levers), len(SPEEDS), len(PEDALS))
    push = push[..., PEDALS.index(1.0)] if floored else push.max(-1)
    held = ROLLING * subject.parameter("vehicle_mass")[:, None] + AIR_DRAG * SPEEDS**2
    held = held + subject.parameter("vehicle_brake_drag")[:, None]
    fails = push <= (WHEELS_CLEAR if lifted else held[:, None])
    return dict(zip(levers, fails.swapaxes(0, 1), strict=True))


def gives_out(subject: Subject, *, lifted: bool = False, floored: bool = False) -> dict[str, Array]:
    """Lever -> first speed [m/s] that a vehicle does not reach on the level with it, (n,), infinite where there is none.

    lifted: with the wheels clear on a lift, where next to nothing holds them. floored: the pedal stays on the floor all the way.
    """
    return {
        lever: np.where(fails.any(-1), SPEEDS[fails.argmax(-1)], np.inf)
        for lever, fails in _fails(subject, lifted, floored).items()
    }


def reached(
    subject: Subject, lever: str, speed: float, *, lifted: bool = False, by_hand: bool = False
) -> Flags:
    """Which vehicles get to a road speed [m/s] with a lever, (n,) bool; at rest all do.

    by_hand: as a mechanic does and the owner does not: any forward range that still pulls brings the vehicle up to that speed, and
    then the lever is moved. lifted: see `gives_out`.
    """
    fails = _fails(subject, lifted, floored=False)
    levers = forward(subject) if by_hand and lever in forward(subject) else [lever]
    stays_behind = np.all([fails[each] for each in levers], axis=0) & (SPEEDS <= speed)
    there: Flags = (speed <= 0.0) | ~stays_behind.any(-1)
    return there


def drives(subject: Subject) -> Flags:
    """Which vehicles can be driven on the road in some forward range, (n,) bool."""
    fastest = gives_out(subject)
    drive: Flags = np.any([FAR_SPEED < fastest[lever] for lever in forward(subject)], axis=0)
    return drive


def burns(subject: Subject) -> Flags:
    """Which vehicles slip so much, warm, where the owner spends his day that an hour of it would burn what is left, (n,) bool."""
    seconds = subject.day.seconds[0]
    much = np.isnan(subject.day.op.temperature) & (seconds > MUCH_OF_IT * seconds.sum())
    burnt: Flags = units.to_rpm(subject.driving.slip[:, much].max(-1)) > BURNS_RPM
    return burnt


def driven_for(subject: Subject, minutes: float) -> Flags:
    """Which vehicles are driven for so many minutes on end, (n,) bool."""
    return drives(subject) & ~(burns(subject) if minutes >= HOUR else np.zeros(subject.size, bool))


def far_notes(subject: Subject) -> Notes:
    """Why an hour's drive is not made, and with which vehicles."""
    return (DOES_NOT_DRIVE, ~drives(subject)), (SLIPS_TOO_MUCH, burns(subject))


def after_a_drive(subject: Subject, reading: BatchReading) -> BatchReading:
    """A reading that is taken at the end of an hour's drive, left out where that drive is not made."""
    return reading.left_out(far_notes(subject))


def where_reached(
    subject: Subject, reading: BatchReading, lever: str, speed: float, *, lifted: bool = False
) -> BatchReading:
    """A reading that is taken at a road speed [m/s], left out where no mechanic gets the vehicle to it."""
    there = reached(subject, lever, speed, lifted=lifted, by_hand=True)
    return reading.left_out(((NOT_REACHED, ~subject.flat(there).astype(bool)),))
