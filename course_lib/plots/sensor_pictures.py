"""What a scope showed of the speed sensors, drawn anew from the readings that were taken off it.

A case keeps the numbers, not the trace: amplitude, noise, gaps and levels say all that a sound or sick speed signal looks like.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics.sensing import tooth_frequency
from course_lib.plots.control_pictures import control_of
from course_lib.plots.picture import Picture
from course_lib.plots.scope_screens import ACROSS, ScopeTrace, scope_trace
from course_lib.plots.waveforms import hall_wave, hash_wave, inductive_wave
from course_lib.shop.findings import Finding
from course_lib.vehicle.control_spec import Control, Sensor
from course_lib.vehicle.unit_spec import UnitSpec

TURNS = units.from_rpm(1000.0)  # rad/s, at which the amplitude of a wheel is read
IDLE_TURNS = units.from_rpm(700.0)  # rad/s, of a turbine at idle
HIGH = 5.0  # V to which the signal of a Hall sensor is pulled up, common practice, no source
HUM = 250.0  # bursts a second of a charging system, common practice, no source
SAMPLES = 2000
INDUCTIVE_DIVISION, HALL_DIVISION = 2e-3, 5e-4  # s
STEPS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # V a division that a scope has


def scope(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """One screen for each speed sensor that was looked at."""
    found, control = {reading.key: reading for reading in finding.readings}, control_of(unit)
    for sensor in control.sensors:
        own = [r for key, r in found.items() if key.startswith(f"{sensor.id}_") and r.value is not None]
        values = {r.key.removeprefix(f"{sensor.id}_"): float(r.value or 0.0) for r in own}
        screen = _inductive(sensor, values) or _hall(sensor, values)
        if screen is not None:
            title, traces, division = screen
            leads = _leads(sensor, control)
            yield scope_trace(title, traces, division, own, verdict=verdict, system=system, leads=leads)


Screen = tuple[str, tuple[ScopeTrace, ...], float]


def _title(sensor: Sensor, at: str) -> str:
    return f"{sensor.label[:1].upper()}{sensor.label[1:]}, {at}"


def _leads(sensor: Sensor, control: Control) -> list[str]:
    """Where tip and clip of the leads are: on the pins of the sensor's own wires, of a Hall sensor on signal and ground."""
    pins = {wire.id: [pin.replace(":", " pin ") for pin in wire.pins] for wire in control.wires}
    if sensor.kind == "inductive":
        tip, clip = (pins[name][-1] for name in sensor.wires)
        return [f"battery-fed scope, tip on {tip}, clip on {clip}"]
    signal, ground = pins[sensor.wires[1]], pins[sensor.wires[-1]]
    return [
        f"{place} tip on {tip}, clip on {clip}"
        for place, tip, clip in zip("12", signal[::-1], ground[::-1], strict=True)
    ]


def _times(division: float, period: float) -> Array:
    """Times (SAMPLES,) of a sweep [s] whose middle lies half a tooth on: there the signal of either kind of sensor rises."""
    times: Array = np.linspace(-0.5, 0.5, SAMPLES) * ACROSS * division + period / 2.0
    return times


def _inductive(sensor: Sensor, values: dict[str, float]) -> Screen | None:
    """Above: its wheel turning; below: at rest, where nothing but noise is left."""
    if "v_per_1000" not in values:
        return None
    division, teeth = INDUCTIVE_DIVISION, int(sensor.quantities["teeth"].value)
    hertz = float(tooth_frequency(TURNS, teeth))
    time = _times(division, 1.0 / hertz)
    gone = tuple(range(2, 2 + round(values.get("long_gaps", 0.0))))
    noise = hash_wave(time, values.get("rest_v", 0.0) / 2.0, HUM, 1)
    wave = inductive_wave(time, hertz, values["v_per_1000"] / 2.0, gone, teeth) + noise
    step = _step(float(np.ptp(wave)) / 4.0)
    turning = ScopeTrace("wheel at 1,000 rpm", time, wave, "V", step, 5.5, trigger=0.0)
    still = ScopeTrace("the same, wheel at rest", time, noise, "V", step, 1.5)
    return _title(sensor, "turning and at rest"), (turning, still), division


def _hall(sensor: Sensor, values: dict[str, float]) -> Screen | None:
    """Above: at the controller; below: at the case plug with the loom off, where only the sensor itself is at work."""
    if "low_v" not in values:
        return None
    division, teeth = HALL_DIVISION, int(sensor.quantities["teeth"].value)
    hertz = float(tooth_frequency(IDLE_TURNS, teeth))
    time = _times(division, 1.0 / hertz)
    ends = (
        ("low_v", "signal at the controller", 4.5, values.get("high_v", HIGH)),
        ("low_x1_v", "signal at the case plug, loom off", 0.5, HIGH),
    )
    traces = [
        ScopeTrace(
            name, time, hall_wave(time, hertz, min(values[key], high), high, (), teeth), "V", 2.0, zero
        )
        for key, name, zero, high in ends
        if key in values
    ]
    level = round(float(traces[0].values.min() + traces[0].values.max()) / 2.0, 1)
    traces[0] = replace(traces[0], trigger=level)
    return _title(sensor, "engine idling"), tuple(traces), division


def _step(volts: float) -> float:
    """The finest scale a division [V] that is not finer than `volts`."""
    return next((step for step in STEPS if step >= volts), STEPS[-1])
