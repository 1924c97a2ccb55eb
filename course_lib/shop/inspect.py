"""Making an inspection: the finding it gives, whatever may be made when; that stands in `order`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec

from course_lib.base import units
from course_lib.shop import (
    controls,
    cooling,
    data_log,
    gauges,
    interview,
    level_setting,
    line_command,
    make_it_come,
    meter,
    pan_off,
    plugs,
    range_level,
    road_test,
    scan,
    scope,
    shift_graph,
    teardown,
    under_load,
    valve_bench,
    walk_round,
)
from course_lib.shop.batch import BatchFinding
from course_lib.shop.findings import Finding, inspections_for, load_inspection
from course_lib.shop.mobility import driven_for
from course_lib.shop.procedure import Procedure, carry_out
from course_lib.shop.subject import COLD, HOT, Subject
from course_lib.vehicle.unit_spec import UnitSpec

Method = Callable[[Subject], BatchFinding | Procedure]
METHODS: dict[str, Method] = {
    "interview": interview.interview,
    "codes": scan.codes,
    "service_info": scan.service_info,
    "walk_round": walk_round.walk_round,
    "plug_look": plugs.plug_look,
    "dye_test": walk_round.dye_test,
    "engine_check": walk_round.engine_check,
    "fluid_cold": walk_round.fluid_cold,
    "fluid_hot": walk_round.fluid_hot,
    "level_window": range_level.level_window,
    "set_level": level_setting.set_level,
    "fluid_tests": walk_round.fluid_tests,
    "battery_charging": meter.battery_charging,
    "data_parked": scan.data_parked,
    "adapts_read": scan.adapts_read,
    "data_set": scan.data_set,
    "signal_check": controls.signal_check,
    "linkage_check": controls.linkage_check,
    "range_check": range_level.range_check,
    "switch_check": meter.switch_check,
    "bus_check": meter.bus_check,
    "signal_by_hand": controls.signal_by_hand,
    "exhaust_pressure": gauges.exhaust_pressure,
    "cold_start": road_test.cold_start,
    "road_test": road_test.road_test,
    "data_road": data_log.data_road,
    "shift_graph": shift_graph.shift_graph,
    "command_actual": under_load.command_actual,
    "volt_drop": under_load.volt_drop,
    "ground_drop": under_load.ground_drop,
    "sensor_scope": scope.sensor_scope,
    "solenoid_case": meter.solenoid_case,
    "solenoid_tcm": meter.solenoid_tcm,
    "wiggle": make_it_come.wiggle,
    "soak": make_it_come.soak,
    "actuator": line_command.actuator,
    "driveline_check": road_test.driveline_check,
    "line_pressure": gauges.line_pressure,
    "line_command": line_command.line_command,
    "governor_pressure": gauges.governor_readings,
    "stall_test": road_test.stall_test,
    "cooler_check": cooling.cooler_check,
    "cooler_pressure": cooling.cooler_pressure,
    "pan": pan_off.pan,
    "air_test": pan_off.air_test,
    "valve_body": pan_off.valve_body,
    "valve_bench": valve_bench.valve_bench,
    "teardown": teardown.teardown,
    "measure": teardown.measure,
    "bare_case": teardown.bare_case,
    "converter_check": teardown.converter_check,
}
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
    notable, besides = [BROKEN_OFF] * boils + found.notable(seen), subject.lying_about(name)
    sound = [step.sound] if step.sound and not notable and (step.stays or not besides) else []
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
        words=(*found.always(seen), *notable, *sound, *besides),
        looks=tuple(seen.looks.values()),
        drawn=msgspec.UNSET if found.traces is None else found.traces(row, subject.seed),
        papers=found.papers or msgspec.UNSET,
    )
