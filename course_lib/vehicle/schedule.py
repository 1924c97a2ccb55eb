"""Which gear an electronic controller wants: a table of speeds by pedal, looked up with the speed it believes."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.vehicle.actions import Actions
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
    open_ = np.clip((np.asarray(pedal)[..., None] - LIGHT) / (1.0 - LIGHT), 0.0, 1.0) ** BEND
    speeds: Array = light + (full - light) * open_
    return speeds


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
    unit, p = vehicles.unit, vehicles.p
    levers = [[unit.gear_index(gear) for gear in gears] for gears in unit.levers.values()]
    longest = max(len(gears) for gears in levers)
    table = np.array([row + [row[-1]] * (longest - len(row)) for row in levers])[seen]  # (n, m, S + 1)
    count = np.array([len(gears) for gears in levers])[seen]
    asked = speeds[0] - LATER * (temperature < COLD)
    ups = (asked[..., None] > upshifts(vehicles, pedal)).cumprod(-1).sum(-1)
    shaft = speeds[1] / p.vehicle_tire_radius * p.vehicle_axle
    races = np.abs(vehicles.ratio[table]) * shaft[..., None] > FASTEST
    ups = np.maximum(ups, races.cumprod(-1).sum(-1))
    top = (temperature < COLD) | (temperature > HOT_MODE)
    top = top if actions is None else top | actions.no_top
    ups = np.minimum(ups, np.maximum(count - 1 - (top & (count > 1)), 0))
    if actions is not None and actions.barred.any():
        ups = _allowed(ups, _barred(table, actions.barred))
    wanted: Places = np.take_along_axis(table, ups[..., None], -1)[..., 0]
    return wanted


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
