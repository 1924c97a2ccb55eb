"""What a scope showed of the speed sensors, drawn anew from the readings that were taken off it.

A case keeps the numbers, not the trace: amplitude, noise, gaps and levels say all that a sound or sick speed signal looks like.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base import units
from course_lib.physics.sensing import tooth_frequency
from course_lib.plots.control_pictures import control_of
from course_lib.plots.picture import Picture
from course_lib.plots.scope_screens import ACROSS, ScopeTrace, scope_trace
from course_lib.plots.waveforms import hall_wave, hash_wave, inductive_wave
from course_lib.shop.findings import Finding
from course_lib.vehicle.control_spec import Sensor
from course_lib.vehicle.unit_spec import UnitSpec

TURNS = units.from_rpm(1000.0)  # rad/s, at which the amplitude of a wheel is read
IDLE_TURNS = units.from_rpm(700.0)  # rad/s, of a turbine at idle
HIGH = 4.9  # V to which a controller pulls up the signal of a Hall sensor, invented
HUM = 250.0  # bursts a second of a charging system, common practice, no source
SAMPLES = 2000
INDUCTIVE_DIVISION, HALL_DIVISION = 2e-3, 5e-4  # s
STEPS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # V a division that a scope has


def scope(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """One screen for each speed sensor that was looked at."""
    found = {reading.key: reading for reading in finding.readings}
    for sensor in control_of(unit).sensors:
        own = [r for key, r in found.items() if key.startswith(f"{sensor.id}_") and r.value is not None]
        values = {r.key.removeprefix(f"{sensor.id}_"): float(r.value or 0.0) for r in own}
        screen = _inductive(sensor, values) or _hall(sensor, values)
        if screen is not None:
            title, traces, division = screen
            yield scope_trace(title, traces, division, own, verdict=verdict, system=system)


Screen = tuple[str, tuple[ScopeTrace, ...], float]


def _title(sensor: Sensor, at: str) -> str:
    return f"{sensor.label[:1].upper()}{sensor.label[1:]}, {at}"


def _inductive(sensor: Sensor, values: dict[str, float]) -> Screen | None:
    """Above: its wheel turning; below: at rest, where nothing but noise is left."""
    if "v_per_1000" not in values:
        return None
    division = INDUCTIVE_DIVISION
    time = np.linspace(0.0, ACROSS * division, SAMPLES)
    teeth = int(sensor.quantities["teeth"].value)
    gone = tuple(range(4, 4 + round(values.get("long_gaps", 0.0))))
    noise = hash_wave(time, values.get("rest_v", 0.0) / 2.0, HUM, 1)
    wave = (
        inductive_wave(time, float(tooth_frequency(TURNS, teeth)), values["v_per_1000"] / 2.0, gone, teeth)
        + noise
    )
    step = _step(float(np.ptp(wave)) / 4.0)
    turning = ScopeTrace("across its two wires, wheel at 1,000 rpm", time, wave, "V", step, 5.5)
    still = ScopeTrace("the same, wheel at rest", time, noise, "V", step, 1.5)
    return _title(sensor, "turning and at rest"), (turning, still), division


def _hall(sensor: Sensor, values: dict[str, float]) -> Screen | None:
    """Above: at the controller; below: at the case plug with the loom off, where only the sensor itself is at work."""
    if "low_v" not in values:
        return None
    division = HALL_DIVISION
    time = np.linspace(0.0, ACROSS * division, SAMPLES)
    teeth = int(sensor.quantities["teeth"].value)
    ends = (
        ("low_v", "signal at the controller", 4.5),
        ("low_x1_v", "signal at the case plug, loom off", 0.5),
    )
    traces = tuple(
        ScopeTrace(
            name,
            time,
            hall_wave(
                time, float(tooth_frequency(IDLE_TURNS, teeth)), min(values[key], HIGH), HIGH, (), teeth
            ),
            "V",
            2.0,
            zero,
        )
        for key, name, zero in ends
        if key in values
    )
    return _title(sensor, "engine idling"), traces, division


def _step(volts: float) -> float:
    """The finest scale a division [V] that is not finer than `volts`."""
    return next((step for step in STEPS if step >= volts), STEPS[-1])
