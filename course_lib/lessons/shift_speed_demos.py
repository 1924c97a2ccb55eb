"""One-line calls of lesson 6: what an upshift waits for, and the road speed at which the governor brings it."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import subject
from course_lib.shop.apply_chart import DRIVE
from course_lib.shop.mobility import NOT_REACHED, gives_out
from course_lib.shop.subject import Subject
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.plant import Plant

LESSON = "L06"
PEDALS = {"light pedal": LIGHT_PEDAL, "half pedal": 0.5, "full pedal": 1.0}
LATE = 1.25  # an upshift this many times later than that of the first vehicle in the table is marked


def balance(*vehicles: str) -> Table:
    """For some vehicles of the lesson and three pedals: the governor pressure each upshift waits for, and when it comes.

    Raises ValueError for a vehicle that the lesson does not have.
    """
    known = load_lesson(LESSON).vehicles
    for name in vehicles:
        one_of("vehicle", name, known)
    subjects = [subject(known[name]) for name in vehicles]
    rows: list[tuple[str, ...]] = []
    off: set[tuple[int, int]] = set()
    sound = subjects[0].plant
    for name, each in zip(vehicles, subjects, strict=True):
        for pedal, throttle in PEDALS.items():
            late = (
                each.plant.controls.upshift_speeds(throttle)[0]
                > LATE * sound.controls.upshift_speeds(throttle)[0]
            )
            off |= {(len(rows), 2 + 2 * int(shift)) for shift in np.flatnonzero(late)}
            rows.append((f"{known[name].label}, {pedal}", *_cells(each, throttle)))
    shifts = range(1, len(rows[0]) // 2 + 1)
    heads = [text for gear in shifts for text in (f"{gear} to {gear + 1} waits for", "and comes at")]
    return Table(
        "The balance of the shift valves", ("vehicle and pedal", *heads), tuple(rows), frozenset(off)
    )


def waited_for(plant: Plant, throttle: float) -> np.ndarray:
    """Governor pressure [Pa] that each upshift of a vehicle waits for at a pedal position, (S,): spring and load signal."""
    signal = plant.hydraulic_controls.load_signal(operation("D", throttle=throttle))[:, 0]
    waited: np.ndarray = (plant.p.shift_spring[:, 0] + plant.p.shift_load[:, 0] * signal[:, None])[0]
    return waited


def _cells(subject: Subject, throttle: float) -> list[str]:
    plant, cells = subject.plant, []
    fastest = float(gives_out(subject, floored=throttle == 1.0)[DRIVE][0])
    for pressure, speed in zip(
        waited_for(plant, throttle), plant.controls.upshift_speeds(throttle)[0], strict=True
    ):
        cells += [f"{units.to_psi(pressure):.0f} psi", _told(speed, fastest)]
    return cells


def _told(speed: float, fastest: float) -> str:
    if not np.isfinite(speed):
        return "no upshift"
    return f"{units.to_mph(speed):.0f} mph" if speed < fastest else NOT_REACHED
