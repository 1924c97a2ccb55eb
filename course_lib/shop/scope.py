"""The speed sensors on a scope: how high, how clean and how whole the signal of each is."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base import units
from course_lib.physics.sensing import inductive_amplitude
from course_lib.shop.batch import BatchFinding, BatchReading, Instrument
from course_lib.shop.circuits import of_wires, sensors, wire_place
from course_lib.shop.meter import COUNT, ROOM, wire_ohms
from course_lib.shop.subject import Subject
from course_lib.vehicle.beliefs import HALL_OUTPUT, HALL_SUPPLY, INDUCTIVE
from course_lib.vehicle.control_spec import Sensor

SCOPE_VOLTS = Instrument("V", 0.03, 2)
DEPTH = Instrument("in.", 0.002, 3)
READ_AT = units.from_rpm(1000)
HALL_HIGH = 5.0  # V, of its square wave, common practice, no source
HALL_CURRENT = 0.010  # A that a Hall sensor takes, common practice, no source


def sensor_scope(subject: Subject) -> BatchFinding:
    """Volts of inductive sensors at 1,000 rpm and at rest, gaps in the wheel; level and supply of Hall sensors."""
    inductive, hall = sensors(subject.unit, "inductive"), sensors(subject.unit, "hall")
    return BatchFinding(
        measured=(
            *(each for place, sensor in inductive for each in _inductive(subject, place, sensor)),
            *(each for place, sensor in hall for each in _hall(subject, place, sensor)),
        )
    )


def _inductive(subject: Subject, place: int, sensor: Sensor) -> Iterator[BatchReading]:
    gap, noise, gone = (
        subject.parameter(f"sensor_{name}", place) for name in ("gap", "noise", "teeth_short")
    )
    volts = inductive_amplitude(READ_AT, gap, *INDUCTIVE)
    name, label = sensor.id, sensor.label
    wide = units.to_inch(gap)
    yield subject.read(
        f"{name}_gap_in", f"{label}, air gap by depth, sensor out and wheel turned", wide, DEPTH
    )
    yield subject.read(f"{name}_v_per_1000", f"{label}, peak to peak at 1,000 rpm", volts, SCOPE_VOLTS)
    yield subject.read(f"{name}_rest_v", f"{label}, peak to peak at rest", noise, SCOPE_VOLTS)
    yield subject.read(f"{name}_long_gaps", f"{label}, long gaps in a turn of its wheel", gone, COUNT)


def _hall(subject: Subject, place: int, sensor: Sensor) -> Iterator[BatchReading]:
    """Low level at both ends of the loom, and supply: an oil film lets current past from the supply to the signal pin."""
    wires = [wire_place(subject.unit, each) for each in sensor.wires]
    film, own = of_wires(subject, "wire_leak")[:, wires].sum(-1), subject.parameter("sensor_low_level", place)
    lifted = own + HALL_SUPPLY * film * HALL_OUTPUT / (1.0 + film * HALL_OUTPUT)
    supply = HALL_SUPPLY - HALL_CURRENT * wire_ohms(subject, ROOM)[:, wires].max(-1)
    name, label = sensor.id, sensor.label
    yield subject.read(f"{name}_low_v", f"{label}, low level at the controller", lifted, SCOPE_VOLTS)
    yield subject.read(f"{name}_low_x1_v", f"{label}, low level at the case plug, loom off", own, SCOPE_VOLTS)
    high = HALL_HIGH + (HALL_SUPPLY - HALL_HIGH) * film * HALL_OUTPUT / (1.0 + film * HALL_OUTPUT)
    yield subject.read(f"{name}_high_v", f"{label}, high level at the controller", high, SCOPE_VOLTS)
    yield subject.read(f"{name}_supply_v", f"{label}, supply", np.maximum(supply, 0.0), SCOPE_VOLTS)
