"""One-line calls of lesson 4: line pressure over engine speed for several vehicles, and where their oil goes."""

from __future__ import annotations

from msgspec.structs import replace

from course_lib.base import units
from course_lib.base.guards import between, one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.picture_in_units import PictureInUnits, picture_in_units
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import inspect_vehicle, subject
from course_lib.physics import fluid
from course_lib.shop.findings import Finding
from course_lib.shop.gauges import IDLE_RPM
from course_lib.shop.subject import HOT, Subject
from course_lib.vehicle.operating_point import operation

LESSON = "L04"
SWEEP = {
    "line_pressure_p_idle_psi": IDLE_RPM,
    "line_pressure_p_1000_psi": 1000.0,
    "line_pressure_p_1500_psi": 1500.0,
    "line_pressure_p_2000_psi": 2000.0,
    "line_pressure_p_2500_psi": 2500.0,
}


def line_sweep(*vehicles: str) -> PictureInUnits:
    """Line pressure in Park, hot, over engine speed: one row of dots for each vehicle of the lesson.

    Raises ValueError for a vehicle that the lesson does not have.
    """
    # here: a lesson's first cell draws nothing, and a drawing library takes 0.3 s
    from course_lib.plots.curves import line_against_rpm

    known = load_lesson(LESSON).vehicles
    for name in vehicles:
        one_of("vehicle", name, known)
    found = [_rows_of(inspect_vehicle(known[name], "line_pressure"), known[name].label) for name in vehicles]
    return picture_in_units(lambda system: line_against_rpm(*found, verdict=True, system=system))


def oil_budget(*vehicles: str, rpm: tuple[float, ...] = (IDLE_RPM, 2000.0)) -> Table:
    """Quarts a minute in Park, hot: what the pump brings, what the regulator spills, and what leaks on the way.

    rpm: engine speeds. Raises ValueError for a vehicle that the lesson does not have.
    """
    between("rpm", min(rpm), 400, 6000, "Give engine speeds of a running engine.")
    known = load_lesson(LESSON).vehicles
    rows = []
    for name in vehicles:
        one_of("vehicle", name, known)
        for speed in rpm:
            brought, spilled = _flows(subject(known[name]), speed)
            parts = (brought, spilled, brought - spilled)
            rows.append(
                (f"{known[name].label}, {speed:,.0f} rpm", *(f"{_quarts(part):.0f}" for part in parts))
            )
    heads = ("Park, hot, quarts a minute", "pump brings", "regulator spills", "leaks away")
    return Table("Where the oil goes", heads, tuple(rows))


def _rows_of(finding: Finding, label: str) -> Finding:
    """Only the readings in Park over engine speed, named for their vehicle, so that several fit into one picture."""
    readings = {reading.key: reading for reading in finding.readings}
    named = tuple(
        replace(readings[key], label=f"Line pressure, P, {rpm:,.0f} rpm, {label}")
        for key, rpm in SWEEP.items()
    )
    return replace(finding, readings=named)


def _flows(vehicle: Subject, rpm: float) -> tuple[float, float]:
    """What the pump brings and what the regulator spills [m3/s]."""
    plant, speed = vehicle.plant, units.from_rpm(rpm)
    works = plant.operate(vehicle.condition, operation("P", engine_speed=speed, temperature=HOT))
    viscosity = plant.viscosity(vehicle.condition, works.temperature)[1]
    density = fluid.density(works.temperature, plant.p.fluid_density_15c)
    brought = plant.oil.pump_flow(vehicle.condition, works.engine_speed, viscosity, density)
    return float(brought[0, 0]), float(works.spill[0, 0])


def _quarts(flow: float) -> float:
    return float(units.to_quart(flow * 60.0))
