"""One-line calls of lesson 5: what the load signal does to line pressure and to the upshifts."""

from __future__ import annotations

from course_lib.base import units
from course_lib.base.guards import between, one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, subject
from course_lib.physics.shift_control import vacuum_signal
from course_lib.shop.subject import HOT
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.unit_spec import load_unit

LESSON = "L05"
TEST_RPM = 2000.0  # where the pump has oil to spare: the engine speed of the test by hand
PEDALS = {"a light pedal": LIGHT_PEDAL, "half pedal": 0.5, "full pedal": 1.0}


def line_by_vacuum(*inhg: float, unit: str = "three-speed") -> Table:
    """Line pressure of a sound unit in Park, hot, at 2,000 rpm, with a hand pump that holds some vacuums [inHg]."""
    spec, rows = load_unit(unit), []
    for vacuum in inhg:
        between("vacuum", vacuum, 0, 25, "Give what a hand pump can hold, in inHg.")
        rows.append((f"{vacuum:g} inHg", f"{_line(spec.name, vacuum):.0f} psi"))
    return Table(
        f"{spec.title}, Park, hot, {TEST_RPM:,.0f} rpm", ("vacuum by hand", "line pressure"), tuple(rows)
    )


def shifts_by_pedal(*vehicles: str) -> Table:
    """Road speed of each upshift at three pedals, for some vehicles of the lesson."""
    known = load_lesson(LESSON).vehicles
    rows = []
    for name in vehicles:
        one_of("vehicle", name, known)
        plant = subject(known[name]).plant
        for pedal, throttle in PEDALS.items():
            speeds = plant.controls.upshift_speeds(throttle)[0]
            rows.append(
                (f"{known[name].label}, {pedal}", *(f"{units.to_mph(speed):.0f} mph" for speed in speeds))
            )
    shifts = len(rows[0]) - 1
    heads = ("vehicle and pedal", *(f"{gear} to {gear + 1}" for gear in range(1, shifts + 1)))
    return Table("Upshifts against the pedal", heads, tuple(rows))


def _line(unit: str, inhg: float) -> float:
    """Line pressure [psi] of a sound unit with the load signal that a vacuum gives."""
    sound = subject(LessonVehicle(unit=unit))
    closed = sound.plant.p.signal_closed_vacuum
    signal = float(vacuum_signal(units.from_inhg(inhg), closed)[0, 0])
    point = operation("P", engine_speed=units.from_rpm(TEST_RPM), temperature=HOT, signal=signal)
    return float(units.to_psi(sound.plant.operate(sound.condition, point).line[0, 0]))
