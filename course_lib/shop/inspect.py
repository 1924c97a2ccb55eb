"""Making an inspection: the finding it gives, whatever may be made when; that stands in `order`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from course_lib.base import units
from course_lib.shop import apart, cooling, gauges, inside, outside, road, setting, signals, talk
from course_lib.shop.asking import Asking, carry_out
from course_lib.shop.driven import driven
from course_lib.shop.findings import Finding, load_inspection
from course_lib.shop.measured import Found
from course_lib.shop.subject import COLD, HOT, Subject

METHODS: dict[str, Callable[[Subject], Found | Asking]] = {
    "interview": talk.interview,
    "walk_round": outside.walk_round,
    "dye_test": outside.dye_test,
    "engine_check": outside.engine_check,
    "fluid_cold": outside.fluid_cold,
    "fluid_hot": outside.fluid_hot,
    "set_level": setting.set_level,
    "fluid_tests": outside.fluid_tests,
    "signal_check": signals.signal_check,
    "linkage_check": signals.linkage_check,
    "signal_by_hand": signals.signal_by_hand,
    "exhaust_pressure": gauges.exhaust_pressure,
    "cold_start": road.cold_start,
    "road_test": road.road_test,
    "driveline_check": road.driveline_check,
    "line_pressure": gauges.line_pressure,
    "governor_pressure": gauges.governor_pressure,
    "stall_test": road.stall_test,
    "cooler_check": cooling.cooler_check,
    "cooler_pressure": cooling.cooler_pressure,
    "pan": inside.pan,
    "air_test": inside.air_test,
    "valve_body": inside.valve_body,
    "teardown": apart.teardown,
    "measure": apart.measure,
    "bare_case": apart.bare_case,
    "converter_check": apart.converter_check,
}
BROKEN_OFF = "Fluid foams out at the vent; the drive is broken off there."


def make_inspection(subject: Subject, name: str, row: int = 0) -> Finding:
    """The finding of one inspection of vehicle `row`, whatever was done before. Raises ValueError for an unknown name."""
    load_inspection(name)
    return make_inspections(subject, (name,), row)[name]


def make_inspections(subject: Subject, names: Iterable[str] = METHODS, row: int = 0) -> dict[str, Finding]:
    """The findings of several inspections of vehicle `row`, all worked at one go: inspection id -> `Finding`."""
    return make_findings(subject if subject.size == 1 else subject.rows([row]), names)[0]


def make_findings(subject: Subject, names: Iterable[str] = METHODS) -> list[dict[str, Finding]]:
    """`make_inspections` for every vehicle."""
    names = tuple(names)
    found = carry_out(subject, [METHODS[name](subject) for name in names])
    return [
        {name: _finding(subject, row, name, each) for name, each in zip(names, found, strict=True)}
        for row in range(subject.size)
    ]


def _finding(subject: Subject, row: int, name: str, found: Found) -> Finding:
    step = load_inspection(name)
    seen = found.row(row, subject.seed, subject.unit.spec)
    as_driven = step.sump == "as driven"
    boils = as_driven and bool(subject.boils_over[row])
    notable = [BROKEN_OFF] * boils + found.notable(seen) + subject.lying_about(name)
    made_at = {"hot": HOT, "cold": COLD}.get(step.sump)
    if as_driven and not boils:
        made_at = float(subject.sump_temperature[row])
    saved = 0 if driven(subject, step.drive_minutes)[row] else step.drive_minutes
    return Finding(
        inspection=name,
        title=step.title,
        minutes=step.minutes - saved,
        made_at_f=None if made_at is None else round(units.to_fahrenheit(made_at)),
        readings=tuple(seen.readings.values()),
        words=(*found.always(seen), *(notable or filter(None, [step.sound]))),
        looks=tuple(seen.looks.values()),
    )
