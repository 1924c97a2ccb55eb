"""The shifts of an electronic unit that are followed in time: from which gear to which, what comes on and what lets go."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Literal

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Places
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import Operation, operation
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

Kind = Literal["up", "cold", "down", "coast", "rest"]
LIVED: tuple[Kind, ...] = (
    "up",
    "cold",
    "rest",
)  # what an owner's day is made of; the others are looked at in the shop
LIGHT, FULL = 0.25, 0.95  # pedal of a light upshift, and of one down with the pedal on the floor
COLD = units.from_fahrenheit(40.0)  # K, of the first shifts in the morning
FALLS = 0.7  # of the highest speed of an upshift, at which the pedal on the floor fetches the lower gear
NOTHING = -1  # column of what lets go from rest


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftKind:
    """K shifts. names: "1-2"; lever; numbers (K,): pedal, road speed [m/s], sump [K], NaN = that of the day; rows of the gears
    before and after, columns of the element that comes on and of the one that lets go, -1 none; row of the upshift, -1 none.

    freed, held: place of a shift to whose gear the element that comes on does not belong, and of one to which the one that lets go
    does; -1 none. There its valve is seen without and with an order.
    """

    names: tuple[str, ...]
    lever: tuple[str, ...]
    pedal: Array
    speed: Array
    sump: Array
    old: Places
    new: Places
    on: Places
    off: Places
    shift: Places
    freed: Places
    held: Places

    def operation(self, acting: float) -> Operation:
        """What the vehicle is doing at each; acting: the controller acts on its codes."""
        return operation(self.lever, throttle=self.pedal, road_speed=self.speed, acting=acting)


@dataclass(frozen=True, slots=True)
class _One:
    name: str
    lever: str
    gears: tuple[str, str]
    pedal: float = 0.0
    speed: float = 0.0
    sump: float = np.nan
    shift: int = -1


@cache
def shift_kind(unit: UnitSpec, *kinds: Kind) -> ShiftKind:
    """The shifts of some kinds, one after the other."""
    drive = unit.levers["D"]
    neutral, first, reverse = unit.levers["N"][0], drive[0], unit.levers["R"][0]
    values = nominal_parameters(unit, signal=unit.signals[0])
    light, full, back = (values[f"shift_{name}"][0, 0] for name in ("light", "full", "back"))
    speeds = light + (full - light) * pedal_share(LIGHT)
    pairs = [(f"{i + 1}-{i + 2}", pair, i) for i, pair in enumerate(pairwise(drive))]
    each: dict[Kind, list[_One]] = {
        "up": [_One(name, "D", pair, LIGHT, speeds[i], shift=i) for name, pair, i in pairs],
        "cold": [
            _One("N-D", "D", (neutral, first), sump=COLD),
            *(_One(name, "D", pair, LIGHT, speeds[i], COLD, i) for name, pair, i in pairs[:2]),
        ],
        "down": [_One(name[::-1], "D", pair[::-1], FULL, FALLS * full[i]) for name, pair, i in pairs],
        "coast": [_One(name[::-1], "D", pair[::-1], 0.0, back[i]) for name, pair, i in pairs],
        "rest": [_One("N-D", "D", (neutral, first)), _One("N-R", "R", (neutral, reverse))],
    }
    return _together(unit, [one for kind in kinds for one in each[kind]])


def pedal_share(pedal: float) -> float:
    """How far between the speeds of a light and of a full pedal an upshift lies at a pedal position."""
    return float(np.clip((pedal - 0.15) / 0.85, 0.0, 1.0) ** 1.3)


def _together(unit: UnitSpec, shifts: list[_One]) -> ShiftKind:
    old, new = (np.array([unit.gear_index(one.gears[i]) for one in shifts]) for i in (0, 1))
    applied = gear_tables(unit).applied
    on, off = _which(applied[new] * (1.0 - applied[old])), _which(applied[old] * (1.0 - applied[new]))
    return ShiftKind(
        names=tuple(one.name for one in shifts),
        lever=tuple(one.lever for one in shifts),
        pedal=np.array([one.pedal for one in shifts]),
        speed=np.array([one.speed for one in shifts]),
        sump=np.array([one.sump for one in shifts]),
        old=old,
        new=new,
        on=on,
        off=off,
        shift=np.array([one.shift for one in shifts]),
        freed=_which(1.0 - applied[new][:, on].T),
        held=_which((applied[new][:, off].T) * (off != NOTHING)[:, None]),
    )


def _which(rows: Iterable[Array]) -> Places:
    """The first place in each row that is not 0, or none."""
    return np.array([int(np.argmax(row)) if row.any() else NOTHING for row in rows])
