"""Codes over the miles: how often each test fails, how failed trips add up, and what the vehicle was doing when one was stored.

A test must fail for as long as its debounce; what opens for a moment fails it only if the moment outlasts that. A two-trip code
needs two failed trips in a row. Shapes: n vehicles, m operating points, C codes, W wires.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.vehicle.actions import STORED, code_steps
from course_lib.vehicle.code_tests import TESTS, Seen
from course_lib.vehicle.control_spec import Code, Control
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.wiring import now_and_then, reduced_wires

OPENING = 0.25  # s that a contact is open for in the mean, when it opens for moments (invented)
TRIP = 8.0 * units.MILE  # m of one drive from a start to the next
SOONEST = 150.0  # m, in which no code is set more than once
BRIEFEST = 1.0  # s, that anything must fail to be noticed at all
MOST = 3.0  # failed trips that are counted
EVENTS = {
    "fluid_jumps": 5.0,
    "turbine_jumps": 3.0,
    "output_jumps": 3.0,
}  # that make one failure, otherwise one
OF_COILS = ("current", "open", "low")  # tests that an open wire of a solenoid fails
OF_SENSORS = {  # what the sensors read whose open wires fail a test
    "fluid_high": "fluid_temperature",
    "fluid_jumps": "fluid_temperature",
    "turbine_none": "turbine_speed",
    "turbine_jumps": "turbine_speed",
    "output_none": "output_speed",
    "output_jumps": "output_speed",
    "range_pattern": "lever",
}


class _CodeTables(NamedTuple):
    """Of each code of a unit: debounce [s], trips and events that make a failure, (C,); wires whose opening fails it, (W, C)."""

    debounce: Array
    trips: Array
    events: Array
    wires: Array


@cache
def _tables(unit: UnitSpec) -> _CodeTables:
    control = control_of(unit)
    codes = control.codes
    opened = np.stack([_wires(code, control, unit) for code in codes], -1)
    return _CodeTables(
        debounce=np.array([code.debounce_s or BRIEFEST for code in codes]),
        trips=np.array([float(code.trips) for code in codes]),
        events=np.array([EVENTS.get(code.test, 1.0) for code in codes]),
        wires=opened.astype(float),
    )


@cache
def ways_of(unit: UnitSpec) -> Flags:
    """The wires through which the current of each solenoid goes, but for the ground that is the controller's own, (W, S)."""
    control, wires = control_of(unit), reduced_wires(unit)
    feeds = wires.feeds[wires.feed_of]
    own = (wires.inner + wires.outer).T > 0.0
    own[feeds, np.arange(len(control.solenoids))] = True
    ways: Flags = own | (wires.source | wires.relay)[:, None]
    return ways


def _wires(code: Code, control: Control, unit: UnitSpec) -> Flags:
    """The wires whose opening fails a code, (W,)."""
    ids, wires = control.wire_ids, reduced_wires(unit)
    if code.test in OF_SENSORS:
        read = OF_SENSORS[code.test]
        names = {wire for sensor in control.sensors if sensor.reads == read for wire in sensor.wires}
        return np.isin(ids, list(names))
    if code.test == "supply_open":
        return wires.source | wires.relay
    if code.test in OF_COILS:
        return ways_of(unit)[:, control.solenoid_ids.index(code.of)]
    return np.zeros(len(ids), bool)


# ---------------------------------------------------------------------- how often they fail
def failing(seen: Seen) -> Array:
    """Share of the time at each point in which each test fails, (n, m, C); moments are not counted in."""
    tests = [TESTS[code.test](seen, code) for code in seen.control.codes]
    shape = seen.electric.volts.shape
    found: Array = np.stack([np.broadcast_to(each, shape) for each in tests], -1).astype(seen.plant.dtype)
    return found


def moments(seen: Seen) -> Array:
    """How often a second a contact opens for long enough to fail each test, at each point (n, m, C)."""
    tables = _tables(seen.plant.unit)
    shares = now_and_then(seen.plant, seen.op)
    if not shares.any():
        return np.zeros((1, 1, len(tables.trips)))
    open_ = np.minimum(shares @ tables.wires, 1.0)
    often: Array = open_ / OPENING * np.exp(-tables.debounce / OPENING) * _alive(seen)
    return often


def _alive(seen: Seen) -> Array:
    """Whether each test runs at each point, (n, m, C): those of the solenoids only with the relay on and their driver at work."""
    e, control = seen.electric, seen.control
    alive = np.ones((*e.volts.shape, len(control.codes)), bool)
    for place, code in enumerate(control.codes):
        if code.test in OF_COILS or code.test == "supply_open":
            alive[..., place] = e.relay_on
        if code.test == "current":
            alive[..., place] &= e.wanted_current[..., seen.solenoid(code)] > code.limit
        if code.test == "open":
            alive[..., place] &= e.duty[..., seen.solenoid(code)] > code.limit
    return alive


def failure_rates(seen: Seen) -> Array:
    """How often each test fails, (n, C) per meter."""
    tables = _tables(seen.plant.unit)
    each = failing(seen) / tables.debounce + moments(seen)
    rates: Array = (seen.seconds[..., None] * each).sum(1) / tables.events
    return rates


def trips_in_a_row(failed: Array, trips: Array) -> Array:
    """How many trips it takes in the mean until so many in a row have failed, when a trip fails with probability `failed`.

    Source: recurrence time of a run in Bernoulli trials, sum of 1 / q^i for i up to its length (W. Feller, An Introduction to
    Probability Theory and Its Applications I, XIII.7; from memory).
    """
    chance = np.maximum(failed, 1e-12)
    return np.where(trips > 1.0, 1.0 / chance + 1.0 / chance**2, 1.0 / chance)


def counted(memory: Memory, seen: Seen, step: Array) -> Memory:
    """The memory after a step [m], (n, 1): failed trips added as they come in the mean; what fails no more is forgotten."""
    tables = _tables(seen.plant.unit)
    often = failure_rates(seen)
    fails = -np.expm1(-TRIP * often)
    rows = tables.trips / trips_in_a_row(fails, tables.trips) / TRIP
    rate = np.where(tables.trips > 1.0, rows, np.minimum(often, 1.0 / SOONEST))
    old = memory.failed[:, 0]
    kept = np.where((often > 0.0) | (old >= tables.trips), old, old * np.exp(-step / TRIP))
    return replace(memory, failed=np.minimum(kept + rate * step, MOST)[:, None])


# ---------------------------------------------------------------------- freeze frame
@dataclass(frozen=True, slots=True, kw_only=True)
class FreezeFrame:
    """What the vehicles were doing when their first code was stored, (n,); where none is, code -1 and all else NaN."""

    code: Array  # its place among the unit's codes
    temperature: Array  # K, believed
    road_speed: Array  # m/s, shown
    volts: Array
    gear: Array  # row of the wanted one
    locked: Array  # 0 or 1, lock-up wanted


def freeze_frame(seen: Seen, memory: Memory) -> FreezeFrame:
    """The frame of the stored code that fails most often, at the point where it does; `seen` with the codes not acted on."""
    stored = code_steps(memory, seen.plant.unit) == STORED
    tables = _tables(seen.plant.unit)
    each = seen.seconds[..., None] * (failing(seen) / tables.debounce + moments(seen)) / tables.events
    often = np.where(stored, each.sum(1), -1.0)
    code, rows = often.argmax(-1), np.arange(len(often))
    point = each[rows, :, code].argmax(-1)
    none = ~stored.any(-1)
    e = seen.electric

    def there(value: Array | Flags) -> Array:
        return np.where(none, np.nan, value[rows, point].astype(float))

    return FreezeFrame(
        code=np.where(none, -1, code),
        temperature=there(e.believed_temperature),
        road_speed=there(e.believed_speed),
        volts=there(e.volts),
        gear=there(e.wanted_gear.astype(float)),
        locked=there(e.lockup_command),
    )
