"""Making an inspection: the finding it gives, whatever may be made when; that stands in `order`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from course_lib.base import units
from course_lib.shop import (
    controls,
    cooling,
    gauges,
    interview,
    level_setting,
    pan_off,
    road_test,
    teardown,
    walk_round,
)
from course_lib.shop.batch import BatchFinding
from course_lib.shop.findings import Finding, inspections_for, load_inspection
from course_lib.shop.mobility import driven_for
from course_lib.shop.procedure import Procedure, carry_out
from course_lib.shop.subject import COLD, HOT, Subject
from course_lib.vehicle.unit_spec import UnitSpec

METHODS: dict[str, Callable[[Subject], BatchFinding | Procedure]] = {
    "interview": interview.interview,
    "walk_round": walk_round.walk_round,
    "dye_test": walk_round.dye_test,
    "engine_check": walk_round.engine_check,
    "fluid_cold": walk_round.fluid_cold,
    "fluid_hot": walk_round.fluid_hot,
    "set_level": level_setting.set_level,
    "fluid_tests": walk_round.fluid_tests,
    "signal_check": controls.signal_check,
    "linkage_check": controls.linkage_check,
    "signal_by_hand": controls.signal_by_hand,
    "exhaust_pressure": gauges.exhaust_pressure,
    "cold_start": road_test.cold_start,
    "road_test": road_test.road_test,
    "driveline_check": road_test.driveline_check,
    "line_pressure": gauges.line_pressure,
    "governor_pressure": gauges.governor_readings,
    "stall_test": road_test.stall_test,
    "cooler_check": cooling.cooler_check,
    "cooler_pressure": cooling.cooler_pressure,
    "pan": pan_off.pan,
    "air_test": pan_off.air_test,
    "valve_body": pan_off.valve_body,
    "teardown": teardown.teardown,
    "measure": teardown.measure,
    "bare_case": teardown.bare_case,
    "converter_check": teardown.converter_check,
}
Method = Callable[[Subject], BatchFinding | Procedure]
BROKEN_OFF = "Fluid foams out at the vent; the drive is broken off there."


def make_inspection(subject: Subject, name: str, row: int = 0) -> Finding:
    """The finding of one inspection of vehicle `row`, whatever was done before. Raises ValueError for an unknown name."""
    load_inspection(name)
    return make_inspections(subject, (name,), row)[name]


def methods_of(unit: UnitSpec) -> dict[str, Method]:
    """How each inspection is made that vehicles with a unit can be asked for, by id."""
    return {name: METHODS[name] for name in inspections_for(unit.kind_of_control)}


def make_inspections(
    subject: Subject, names: Iterable[str] | None = None, row: int = 0
) -> dict[str, Finding]:
    """The findings of several inspections of vehicle `row`, all where none are named, worked at one go: id -> `Finding`."""
    return make_findings(subject if subject.size == 1 else subject.rows([row]), names)[0]


def make_findings(subject: Subject, names: Iterable[str] | None = None) -> list[dict[str, Finding]]:
    """`make_inspections` for every vehicle."""
    names = tuple(methods_of(subject.unit) if names is None else names)
    found = carry_out(subject, [METHODS[name](subject) for name in names])
    return [
        {name: _finding(subject, row, name, each) for name, each in zip(names, found, strict=True)}
        for row in range(subject.size)
    ]


def _finding(subject: Subject, row: int, name: str, found: BatchFinding) -> Finding:
    step = load_inspection(name)
    seen = found.row(row, subject.seed, subject.unit.spec)
    as_driven = step.sump == "as driven"
    boils = as_driven and bool(subject.boils_over[row])
    notable = [BROKEN_OFF] * boils + found.notable(seen) + subject.lying_about(name)
    made_at = {"hot": HOT, "cold": COLD}.get(step.sump)
    if as_driven and not boils:
        made_at = float(subject.sump_temperature[row])
    saved = 0 if driven_for(subject, step.drive_minutes)[row] else step.drive_minutes
    return Finding(
        inspection=name,
        title=step.title,
        minutes=step.minutes - saved,
        made_at_f=None if made_at is None else round(units.to_fahrenheit(made_at)),
        readings=tuple(seen.readings.values()),
        words=(*found.always(seen), *(notable or filter(None, [step.sound]))),
        looks=tuple(seen.looks.values()),
        traces=() if found.traces is None else found.traces(row),
    )
