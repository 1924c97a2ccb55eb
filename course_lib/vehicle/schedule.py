"""Which gear an electronic controller wants: a table of speeds by pedal, looked up with the speed it believes."""

from __future__ import annotations

from functools import cache

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.vehicle.actions import Actions
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.vehicle_batch import Vehicles

LIGHT = 0.15  # pedal up to which it shifts as early as it ever does
BEND = 1.3  # the speeds rise with this power of the pedal (invented)
FETCHES = 0.85  # pedal past which it fetches the lower gear
FETCHED = 0.92  # of the speed of the upshift on the floor, up to which it does, so that it does not shift to and fro
FASTEST = units.from_rpm(4600.0)  # rad/s of the turbine, past which no lower gear is given
COLD, LATER = (
    units.from_fahrenheit(32.0),
    units.from_mph(5.0),
)  # K under which it shifts later, by so much [m/s]
HOT_MODE = units.from_fahrenheit(266.0)  # K past which it spares the fluid: lock-up from second, no top gear


def upshifts(vehicles: Vehicles, pedal: Values) -> Array:
    """Speed [m/s] as the controller counts it, of each upshift at a pedal: (n, S), or (n, m, S) with a pedal (n, m)."""
    p = vehicles.p
    light, full = (x if np.ndim(pedal) else x[:, 0] for x in (p.shift_light, p.shift_full))
    speeds: Array = light + (full - light) * _opened(np.asarray(pedal)[..., None])
    return speeds


def _opened(pedal: Array) -> Array:
    """How far the speeds have risen from those of a light pedal to those of the floor, 0 to 1."""
    opened: Array = np.clip((pedal - LIGHT) / (1.0 - LIGHT), 0.0, 1.0) ** BEND
    return opened


def wanted_gear(
    vehicles: Vehicles,
    seen: Places,
    pedal: Array,
    speeds: tuple[Array, Array],
    temperature: Array,
    actions: Actions | None,
) -> Places:
    """Row of the gear table that the controller wants, (n, m).

    seen: which lever it sees; speeds [m/s]: road speed that the schedule goes by, and the highest it knows of, at which no gear
    may race the turbine; temperature [K] it believes; actions: what is done at each point about its codes, None nothing anywhere.
    """
    table, count = _lever_gears(vehicles.unit)
    asked = speeds[0] - LATER * (temperature < COLD)
    ups = _ups(vehicles, pedal, asked)
    top = (temperature < COLD) | (temperature > HOT_MODE)
    top = top if actions is None else top | actions.no_top
    last = count[seen] - 1
    ups = np.minimum(ups, np.maximum(last - (top & (last > 0)), 0))
    ups = _unraced(vehicles, table, seen, ups, speeds[1])
    if actions is not None and actions.barred.any():
        ups = _allowed(ups, _barred(table[seen], actions.barred))
    wanted: Places = table[seen, ups]
    return wanted


@cache
def _lever_gears(unit: UnitSpec) -> tuple[Places, Places]:
    """Rows of the gear table by lever and number of upshifts, (L, S + 1), the last repeated; and how many each lever has."""
    levers = [[unit.gear_index(gear) for gear in gears] for gears in unit.levers.values()]
    longest = max(len(gears) for gears in levers)
    table = [row + [row[-1]] * (longest - len(row)) for row in levers]
    return np.array(table), np.array([len(gears) for gears in levers])


def _ups(vehicles: Vehicles, pedal: Array, asked: Array) -> Places:
    """How many upshifts lie below the speed `asked` [m/s], each only after the one before, (n, m)."""
    p, open_ = vehicles.p, _opened(pedal)
    ups, free = np.zeros(asked.shape, int), np.ones(asked.shape, bool)
    for shift in range(p.shift_light.shape[-1]):
        light, full = p.shift_light[..., shift], p.shift_full[..., shift]
        free &= asked > light + (full - light) * open_
        ups += free
    return ups


def _unraced(vehicles: Vehicles, table: Places, seen: Places, ups: Places, speed: Array) -> Places:
    """The lowest gear from `ups` upward in which the turbine does not race at a road speed [m/s]; the highest where it would in
    all."""
    shaft = speed / vehicles.p.vehicle_tire_radius * vehicles.p.vehicle_axle
    for _ in range(table.shape[1] - 1):
        races = np.abs(vehicles.ratio[table[seen, ups]]) * shaft > FASTEST
        if not races.any():
            break
        ups = np.minimum(ups + races, table.shape[1] - 1)
    return ups


def _barred(table: Places, barred: Flags) -> Flags:
    """Which of the gears of each lever must not be driven in, (n, m, S + 1); a lever of which all are barred keeps its gears."""
    some: Flags = np.take_along_axis(barred, table, -1)
    return some & ~some.all(-1, keepdims=True)


def _allowed(ups: Places, barred: Flags) -> Places:
    """The nearest gear that is not barred, a lower one before a higher."""
    steps = np.arange(barred.shape[-1]) - ups[..., None]
    far = np.where(barred, np.inf, np.where(steps <= 0, -steps, 100 + steps))
    nearest: Places = far.argmin(-1)
    return nearest
