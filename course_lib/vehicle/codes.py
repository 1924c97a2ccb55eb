"""Codes over the miles: how often each test fails, how failed trips add up, and what the vehicle was doing when one was stored.

A test must fail for as long as its debounce; what opens for a moment fails it only if the moment outlasts that. A two-trip code
needs two failed trips in a row. A stored code whose test passes puts the lamp out after a few trips, and is erased after many.
Shapes: n vehicles, m operating points, C codes, W wires.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.physics.loose_contact import MEAN_OPENING, outlasting_share
from course_lib.vehicle.actions import COUNTED, STORED, code_steps, lit
from course_lib.vehicle.code_tests import CODE_PEDAL, TESTS, Seen, volts_judged
from course_lib.vehicle.control_spec import ActionWord, Code, CodeTest, Control
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.wiring import now_and_then, reduced_wires

TRIP = 8.0 * units.MILE  # m of one drive from a start to the next
SOONEST = units.MILE  # m, in which no code is set more than once that takes a drive through the gears
DRIVEN = ("slips", "stuck_on", "lockup_slips", "shift_long", "range_drive")  # those
BRIEFEST = 1.0  # s, that anything must fail to be noticed at all
MOST = 3.0  # failed trips that are counted
SELDOM = 1e-6 / units.MILE  # failures a meter, under which a test does not fail in any life
ERASED = 40.0  # trips in a row passed, each warming the engine up, after which a stored code is erased
EVENTS = {
    "fluid_jumps": 5.0,
    "turbine_jumps": 3.0,
    "output_jumps": 3.0,
}  # that make one failure, otherwise one
GEARS: tuple[CodeTest, ...] = ("ratio", "slips", "stuck_off", "switch_open")
LOCKUPS: tuple[CodeTest, ...] = ("lockup_slips", "lockup_stuck")
SHIFTS: tuple[CodeTest, ...] = ("shift_short", "shift_long", "adapt_limit")
COILS: tuple[CodeTest, ...] = ("current", "open", "low", "high", "supply_open", "stuck_on", "switch_closed")
STOPS: dict[
    ActionWord, tuple[CodeTest, ...]
] = {  # tests that do not run while that is done: they neither fail nor pass
    "relay_off": (*GEARS, *LOCKUPS, *SHIFTS, *COILS),
    "bar_gears": GEARS,
    "lockup_off": LOCKUPS,
    "line_up": SHIFTS,
    "line_full": SHIFTS,
    "default_temperature": ("fluid_cold_start", "fluid_hot"),
    "use_wheels": ("output_wheels",),
}
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
    """Of each code of a unit: debounce [s], share of the moments that last as long; trips, events that make a failure, whether the
    controller then does something, how often a meter it can be set, (C,);
    wires whose opening fails it, (W, C); which tests do not run while it is acted on, (C, C)."""

    debounce: Array
    lasting: Array
    trips: Array
    events: Array
    acts: Flags
    most_often: Array
    wires: Array
    stops: Flags


@cache
def _tables(unit: UnitSpec) -> _CodeTables:
    control = control_of(unit)
    codes = control.codes
    opened = np.stack([_wires(code, control, unit) for code in codes], -1)
    does = [control.actions[code.action].does for code in codes]
    halted = [{test for word in words for test in STOPS.get(word, ())} for words in does]
    debounce = np.array([code.debounce_s or BRIEFEST for code in codes])
    return _CodeTables(
        debounce=debounce,
        lasting=outlasting_share(debounce),
        trips=np.array([float(code.trips) for code in codes]),
        events=np.array([EVENTS.get(code.test, 1.0) for code in codes]),
        most_often=np.array([1.0 / SOONEST if code.test in DRIVEN else np.inf for code in codes]),
        acts=np.array([bool(words) for words in does]),
        wires=opened.astype(float),
        stops=np.array([[code.test in each for code in codes] for each in halted]),
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
def failures(seen: Seen) -> Array:
    """How often a second the test of each code fails at each point, (C, n, m): for as long as the debounce, or by a contact that
    opens for moments which last as long."""
    tables = _tables(seen.plant.unit)
    fails = np.zeros((len(tables.debounce), *seen.electric.volts.shape))
    for place, code in enumerate(seen.control.codes):
        failing = TESTS[code.test](seen, code)
        if failing.any():  # hardly any does, and to divide would cost more than to test
            fails[place] = failing / tables.debounce[place]
    for place, opens in _opens(seen, tables):
        fails[place] += opens * tables.lasting[place] * _alive(seen, seen.control.codes[place])
    fails /= tables.events[:, None, None]
    return fails


def _opens(seen: Seen, tables: _CodeTables) -> Iterator[tuple[int, Array]]:
    """How often a second contacts open that fail a test, (n, m), for the place of each code of which any does."""
    shares = now_and_then(seen.plant, seen.op)
    weak = np.flatnonzero(shares.any((0, 1)))
    for place in np.flatnonzero(tables.wires[weak].any(0)):
        yield int(place), np.minimum(shares[..., weak] @ tables.wires[weak, place], 1.0) / MEAN_OPENING


def _alive(seen: Seen, code: Code) -> Flags:
    """Whether a test runs at each point: those of the solenoids only with the relay on and their driver at work."""
    e = seen.electric
    if code.test == "current":
        return e.relay_on & (e.wanted_current[..., seen.solenoid(code)] > code.limit)
    if code.test == "open":
        return e.relay_on & (e.duty[..., seen.solenoid(code)] > code.limit)
    return e.relay_on if code.test in ("low", "supply_open") else np.ones_like(e.relay_on)


def failure_rates(seen: Seen) -> Array:
    """How often each test fails, (n, C) per meter."""
    rates: Array = np.einsum("nm,cnm->nc", seen.seconds, failures(seen))
    return rates


def trips_in_a_row(failed: Array, trips: Array) -> Array:
    """How many trips it takes in the mean until so many in a row have failed, when a trip fails with probability `failed`.

    Source: recurrence time of a run in Bernoulli trials, sum of 1 / q^i for i up to its length (W. Feller, An Introduction to
    Probability Theory and Its Applications I, XIII.7; from memory).
    """
    chance = np.maximum(failed, 1e-12)
    return np.where(trips > 1.0, 1.0 / chance + 1.0 / chance**2, 1.0 / chance)


def counting_rates(unit: UnitSpec, often: Array) -> Array:
    """Failed trips a meter, in the mean, (n, C), of tests that fail so often, (n, C) per meter: those that will stand in a row."""
    tables, trips = _tables(unit), _tables(unit).trips
    fails = -np.expm1(-TRIP * often)
    in_a_row = trips / trips_in_a_row(fails, trips) / TRIP
    rates: Array = np.where(trips > 1.0, in_a_row, np.minimum(often, tables.most_often))
    return rates


def until_action(memory: Memory, unit: UnitSpec, often: Array) -> Array:
    """Meters until the first code is stored that makes the controller do something, (n, 1); infinite where none will be."""
    tables, failed = _tables(unit), memory.failed[:, 0]
    ahead = tables.acts & (failed + COUNTED < tables.trips) & (often > 0.0)
    rate = np.where(ahead, counting_rates(unit, often), 1.0)
    first: Array = np.where(ahead, (tables.trips - failed) / rate, np.inf).min(-1, keepdims=True)
    return first


def counted(memory: Memory, unit: UnitSpec, often: Array, step: Array) -> Memory:
    """The memory after a step [m], (n, 1), in which tests fail so often, (n, C) per meter: failed trips are added as they come in
    the mean, and what fails no more is forgotten: a pending code at once, a stored one after ERASED trips that pass its test.

    A test that something done about codes keeps from running passes no trip. Each trip is taken as one that warms the engine up.

    Source: a code is erased when it has not failed again in 40 warm-up cycles and its lamp is out (read in service texts,
    of which two say 80; SAE J1979 and 13 CCR 1968.2, from memory).
    """
    tables, fails, old = _tables(unit), often > SELDOM, memory.failed[:, 0]
    stored = old + COUNTED >= tables.trips
    kept = np.where(fails | stored, old, old * np.exp(-step / TRIP))
    failed = np.minimum(kept + counting_rates(unit, often) * fails * step, MOST)
    stopped = lit(memory, unit).astype(float) @ tables.stops > 0.0
    passed = (memory.passed[:, 0] + ~stopped * step / TRIP) * (stored & ~fails)
    forgotten = (failed < COUNTED) | (passed + COUNTED >= ERASED)
    failed, passed = (np.where(forgotten, 0.0, each)[:, None] for each in (failed, passed))
    return replace(memory, failed=failed, passed=passed)


# ---------------------------------------------------------------------- freeze frame
# A point of the day stands for a stretch of it; so far to either side of its middle (common practice, no source)
FRAME_KELVIN, FRAME_SPEED, FRAME_VOLTS = 4.0, 0.25, 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class FreezeFrame:
    """What the vehicles were doing when their first code was stored, (n,); where none is, code -1 and all else NaN."""

    code: Array  # its place among the unit's codes
    temperature: Array  # K, believed
    road_speed: Array  # m/s, shown
    volts: Array
    gear: Array  # row of the wanted one
    locked: Array  # 0 or 1, lock-up wanted


def _runs(seen: Seen) -> Flags:
    """Whether the test of each code runs at each point, (C, n, m): that of a ratio as its own gear pulls, those of currents
    where the driver is at work."""
    e, unit = seen.electric, seen.plant.unit
    runs = np.ones((len(seen.control.codes), *e.volts.shape), bool)
    for place, code in enumerate(seen.control.codes):
        if code.test == "ratio":
            runs[place] = (seen.op.throttle > CODE_PEDAL) & (e.wanted_gear == unit.gear_index(code.of))
        elif code.test in GEARS or code.test == "adapt_limit":
            runs[place] = seen.turning
        elif code.test in ("current", "open"):
            runs[place] = _alive(seen, code)
    return runs


def freeze_frame(seen: Seen, memory: Memory, drawn: Array) -> FreezeFrame:
    """The frame of the stored code that fails most often, at one of the moments at which it does: `drawn` (n, 4), from 0 to below
    1, decides which, and how far speed, temperature and volts were from the middle of their point of the day. `seen` is with the
    codes not acted on. Where it does not fail on that day any more, it is a moment at which its test runs."""
    stored = code_steps(memory, seen.plant.unit) == STORED
    each = np.moveaxis(seen.seconds * failures(seen), 0, -1)
    often = np.where(stored, each.sum(1), -1.0)
    code, rows = often.argmax(-1), np.arange(len(often))
    fails = each[rows, :, code]
    share = np.where(fails.any(-1, keepdims=True), fails, _runs(seen)[code, rows] * seen.seconds).cumsum(-1)
    point = (share <= drawn[:, :1] * share[:, -1:]).sum(-1).clip(max=each.shape[1] - 1)
    apart = 2.0 * drawn[:, 1:] - 1.0
    none = ~stored.any(-1)
    e, volts = seen.electric, seen.electric.volts
    for place, low in enumerate(seen.control.codes):
        if low.test == "supply_low":
            volts = np.where((code == place)[:, None], volts_judged(seen, low), volts)

    def there(value: Array | Flags) -> Array:
        return np.where(none, np.nan, value[rows, point].astype(float))

    return FreezeFrame(
        code=np.where(none, -1, code),
        temperature=there(e.believed_temperature) + FRAME_KELVIN * apart[:, 0],
        road_speed=there(e.believed_speed) * (1.0 + FRAME_SPEED * apart[:, 1]),
        volts=there(volts) + FRAME_VOLTS * apart[:, 2],
        gear=there(e.wanted_gear.astype(float)),
        locked=there(e.lockup_command),
    )
