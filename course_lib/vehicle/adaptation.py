"""What an electronic controller learns of its shifts, where it may, and how fast: the only thing that hides a fault by itself.

Fill times by element and pressures by shift are moved until a shift goes as it is meant, within limits. They hide what happens in a
shift, never what happens in a gear.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.vehicle.actions import PENDING, actions, code_steps
from course_lib.vehicle.command import Electric
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.parameters import Parameters
from course_lib.vehicle.unit_spec import UnitSpec

COLDEST, HOTTEST = (
    units.from_fahrenheit(158.0),
    units.from_fahrenheit(230.0),
)  # K that the controller believes, to learn
LEAST_VOLTS, MOST_VOLTS = 11.0, 16.0
SEEN = 0.9  # share of time that a speed sensor must be seen


def learned(p: Parameters, memory: Memory) -> tuple[Array, Array]:
    """Changes of fill time [s], (n, 1, E), and pressure [Pa], (n, 1, S), in force: what is remembered, and what was
    learned of parts that are no longer in the vehicle; both within the limits."""
    fill = memory.fill + p.control_stale_fill[..., None]
    return (
        _within(fill, p.control_fill_least, p.control_fill_most),
        _within(memory.pressure + p.control_stale_pressure[..., None], *_pressure_limits(p)),
    )


def at_a_limit(p: Parameters, memory: Memory) -> Flags:
    """Whether anything that is learned stands at an end stop, (n, 1)."""
    fill, pressure = learned(p, memory)
    stops = (fill, p.control_fill_least, p.control_fill_most), (pressure, *_pressure_limits(p))
    stands = [(each <= least[..., None]) | (each >= most[..., None]) for each, least, most in stops]
    found: Flags = np.logical_or(*(np.any(each, axis=-1) for each in stands))
    return found


def _pressure_limits(p: Parameters) -> tuple[Array, Array]:
    return p.control_pressure_least, p.control_pressure_most


def _within(value: Array, least: Array, most: Array) -> Array:
    return np.clip(value, least[..., None], most[..., None])


def may_learn(electric: Electric, weight: Array, memory: Memory, unit: UnitSpec) -> Flags:
    """Whether the controllers learn, (n, 1): in the mean of the drive, weight (n, m), warm as they believe, with the volts and the
    speeds they need, and with no code that is pending or freezes it."""
    share = weight / weight.sum(-1, keepdims=True)
    believed = (electric.believed_temperature * share).sum(-1, keepdims=True)
    volts = (electric.volts * share).sum(-1, keepdims=True)
    seen = (np.minimum(electric.turbine_seen, electric.output_seen) * share).sum(-1, keepdims=True)
    warm = (believed > COLDEST) & (believed < HOTTEST)
    powered = (volts > LEAST_VOLTS) & (volts < MOST_VOLTS)
    pending = (code_steps(memory, unit) == PENDING).any(-1, keepdims=True)
    learns: Flags = warm & powered & (seen > SEEN) & ~pending & ~actions(memory, unit).freeze_adapts
    return learns


def learn(p: Parameters, memory: Memory, wanted: tuple[Array, Array], allowed: Flags, step: Array) -> Memory:
    """The memory after a step [m], (n, 1): on its way to what is wanted at the end of the step, fills (n, 1, E) and pressures
    (n, 1, S).

    Source: the exact solution of y' = (wanted - y) / length over the step, so that any two steps are worth one of both lengths,
    however long.
    """
    left = np.exp(-step / p.control_learn)[..., None]
    fill, pressure = wanted
    stale = p.control_stale_fill[..., None], p.control_stale_pressure[..., None]
    aims = (
        _within(fill, p.control_fill_least, p.control_fill_most) - stale[0],
        _within(pressure, *_pressure_limits(p)) - stale[1],
    )
    new = (
        np.where(allowed[..., None], aim + (old - aim) * left, old)
        for aim, old in zip(aims, (memory.fill, memory.pressure), strict=True)
    )
    return replace(memory, fill=next(new), pressure=next(new))
