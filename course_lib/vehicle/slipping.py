"""What slips, and how: the element that holds least for its share lets the turbine run up until the converter gives no more.

A gear train has one input, so the torque through it is what its weakest element can hold; the others hold. Where the run-up
brings a one-way clutch to stand, it catches the train in a lower gear and the rest of the torque goes through it. Everything
here works on a list of K operating points, elements E on the last axis, in double precision.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.vehicle.drive import Drive
from course_lib.vehicle.gear_tables import GearTables

TINY = 1e-9
LEAST_ASKED = 1.0  # N m at the turbine below which nothing is said to slip
ALIKE = 0.02  # of what the weakest holds: others within it share the slip, so that nothing jumps as two change places


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """How engine and train run at each point, (K,); power and held (K, E)."""

    speed: Array  # rad/s of the engine
    surplus: Array  # rad/s that the turbine turns faster than the road asks
    pull: Array  # N m at the turbine that goes on to the road in this gear
    loss: Array  # share of the torque asked that finds no hold
    engine_power: Array  # W taken from the engine
    converter_loss: Array  # W left in converter and lock-up lining
    power: Array  # W of slip in each element
    held: Array  # N m that each element bears


def weakest(share: Array, joint: Array) -> Array:
    """How much turbine torque [N m] each element lets through before it slips: `joint` N m held per share; (..., E)."""
    return np.where(share > 0.0, joint / np.maximum(share, TINY), np.inf)


class Free(NamedTuple):
    """How the points run where nothing slips, (K,): engine and turbine speed [rad/s], and the torque [N m] asked of the train."""

    speed: Array
    turbine: Array
    asked: Array

    @classmethod
    def of(cls, drive: Drive, turbine: Array) -> Free:
        """With a turbine that would turn at `turbine` [rad/s]."""
        speed = drive.free(turbine)
        turbine = np.minimum(turbine, speed)
        return cls(speed, turbine, drive.torques(speed, turbine)[0])

    def at(self, index: Places) -> Free:
        """Some of the points."""
        return Free(*(value[index] for value in self))


class Train(NamedTuple):
    """The gear train at the points, (K,): its tables, rows of them, what turns at the output [rad/s], what each one-way clutch can
    hold [N m], applied or not, (K, E), and what the driveline passes on [N m at the turbine], infinite where it is whole."""

    tables: GearTables
    gear: Places
    road: Array
    solid: Array
    shaft: Array

    def at(self, index: Places) -> Train:
        """Some of the points."""
        return Train(self.tables, self.gear[index], self.road[index], self.solid[index], self.shaft[index])


class _Weakest(NamedTuple):
    """What lets go first, (K,): its column, the turbine torque [N m] let through, and whether a one-way clutch may catch."""

    joint: Array  # (K, E) N m held by each couple
    limits: Array  # (K, E)
    column: Places
    limit: Array
    lower: Array  # ratio of the gear that would catch, 0 where none does


def _weakest(train: Train, bears: Array) -> _Weakest:
    tables, gear = train.tables, train.gear
    joint = bears @ tables.couple
    limits = weakest(tables.share[gear], joint)
    column = limits.argmin(-1)
    least = limits[np.arange(len(gear)), column]
    lower = tables.caught.ratio[gear, column]
    lower = np.where(least <= train.shaft, lower, 0.0)
    return _Weakest(joint, limits, column, np.minimum(least, train.shaft), lower)


def racing_speed(train: Train, drive: Drive, free: Free, bears: Array) -> Array:
    """Engine speed [rad/s] of each point whose elements can hold `bears` [N m] (K, E)."""
    weak = _weakest(train, bears)
    speed, _, run_up = _raced(drive, free, weak.limit)
    caught = np.flatnonzero((weak.lower > 0.0) & (run_up > weak.lower * train.road))
    if len(caught):
        lower, limits, _ = _lower(train.at(caught), bears[caught], weak.column[caught], weak.joint[caught])
        some = drive.at(caught)
        speed[caught] = _raced(some, Free.of(some, lower), limits.min(-1))[0]
    return speed


def running(train: Train, drive: Drive, free: Free, bears: Array) -> Running:
    """How each point runs whose elements can hold `bears` [N m] (K, E)."""
    weak = _weakest(train, bears)
    out, run_up = _run_up(drive, free, weak.limits, weak.limit, bears, weak.joint)
    out = replace(out, held=train.tables.share[train.gear] * out.pull[:, None])
    caught = np.flatnonzero((weak.lower > 0.0) & (run_up > weak.lower * train.road))
    if len(caught):
        here = bears[caught], weak.column[caught], weak.joint[caught]
        _put(out, caught, _caught(train.at(caught), drive.at(caught), *here), free.turbine[caught])
    return out


def _raced(drive: Drive, free: Free, limit: Array) -> tuple[Array, Flags, Array]:
    """Engine speed, whether it slips, and turbine speed, at the points whose train lets `limit` [N m] through."""
    slips = (free.asked > limit) & (free.asked > LEAST_ASKED)
    speed, run_up = free.speed.copy(), free.turbine.copy()
    some = np.flatnonzero(slips)
    if len(some):
        ratio = free.turbine[some] / np.maximum(free.speed[some], TINY)
        speed[some], raced = drive.at(some).race(limit[some], ratio, free.asked[some])
        run_up[some] = np.maximum(raced, free.turbine[some])
    return speed, slips, run_up


def _run_up(
    drive: Drive, free: Free, limits: Array, limit: Array, bears: Array, joint: Array
) -> tuple[Running, Array]:
    """How points run whose train lets `limit` through, and the turbine speed.

    The heat of slip goes into the weakest element alone, or is shared among those that hold hardly more.
    """
    speed, slips, run_up = _raced(drive, free, limit)
    given, taken = drive.torques(speed, run_up)
    least = np.where(slips, np.maximum(limit, TINY), 1.0)[:, None]
    gap = np.where(slips[:, None], limits / least - 1.0, np.inf)
    weight = np.maximum(1.0 - np.maximum(gap, 0.0) / ALIKE, 0.0)
    weight = weight * np.where(joint > 0.0, bears / np.maximum(joint, TINY), 1.0)
    share = weight / np.maximum(weight.sum(-1, keepdims=True), TINY)
    out = Running(
        speed=speed,
        surplus=run_up - free.turbine,
        pull=given,
        loss=np.where(slips, 1.0 - limit / np.maximum(free.asked, TINY), 0.0),
        engine_power=taken * speed,
        converter_loss=taken * speed - given * run_up,
        power=share * (given * (run_up - free.turbine))[:, None],
        held=given[:, None],
    )
    return out, run_up


def _lower(train: Train, bears: Array, column: Places, joint: Array) -> tuple[Array, Array, Array]:
    """Turbine speed [rad/s] in the gear that has caught the train, what each element lets through there, and what it holds."""
    gear, low = train.gear, train.tables.caught
    left = joint[np.arange(len(gear)), column]  # N m that the slipping element still bears
    reach = np.maximum(bears, train.solid) @ train.tables.couple + low.helped[gear, column] * left[:, None]
    return low.ratio[gear, column] * train.road, weakest(low.share[gear, column], reach), reach


def _caught(train: Train, drive: Drive, bears: Array, column: Places, joint: Array) -> Running:
    """The points at which a one-way clutch has caught the train in a lower gear, while the element `column` slips on."""
    rows, gear, low = np.arange(len(train.gear)), train.gear, train.tables.caught
    turbine, limits, reach = _lower(train, bears, column, joint)
    out, run_up = _run_up(drive, Free.of(drive, turbine), limits, limits.min(-1), reach, reach)
    left, relative = joint[rows, column], low.relative[gear, column]
    part = bears * train.tables.couple[column]
    slid = part / np.maximum(part.sum(-1, keepdims=True), TINY) * (left * relative * turbine)[:, None]
    held = low.share[gear, column] * out.pull[:, None] - low.helped[gear, column] * left[:, None]
    held[rows, column] = left
    lever = low.ratio[gear, column] / np.abs(train.tables.ratio[gear])
    return replace(
        out, surplus=run_up, pull=lever * (out.pull - left * relative), power=out.power + slid, held=held
    )


def _put(out: Running, index: Places, lower: Running, turbine: Array) -> None:
    """Write the caught points into their places; surplus and loss count from the gear that was asked for."""
    for name in ("speed", "pull", "engine_power", "converter_loss", "power", "held"):
        getattr(out, name)[index] = getattr(lower, name)
    out.surplus[index] = lower.surplus - turbine
