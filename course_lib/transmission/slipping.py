"""What slips, and how: the element that holds least for its share lets the turbine run up until the converter gives no more.

A gear train has one input, so the torque through it is what its weakest element can hold; the others hold. Where the run-up
brings a one-way clutch to stand, it catches the train in a lower gear and the rest of the torque goes through it. Everything
here works on a list of K operating points, elements E on the last axis, in double precision.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from course_lib.transmission.drive import Drive
from course_lib.transmission.spec import GearTables

TINY = 1e-9
LEAST_ASKED = 1.0  # N m at the turbine below which nothing is said to slip
ALIKE = 0.02  # of what the weakest holds: others within it share the slip, so that nothing jumps as two change places


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """How engine and train run at each point, (K,); power and held (K, E)."""

    speed: np.ndarray  # rad/s of the engine
    surplus: np.ndarray  # rad/s that the turbine turns faster than the road asks
    pull: np.ndarray  # N m at the turbine that goes on to the road in this gear
    loss: np.ndarray  # share of the torque asked that finds no hold
    engine_power: np.ndarray  # W taken from the engine
    converter_loss: np.ndarray  # W left in converter and lock-up lining
    power: np.ndarray  # W of slip in each element
    held: np.ndarray  # N m that each element bears

    def at(self, index) -> Running:
        """Some of the points."""
        return Running(**{f.name: getattr(self, f.name)[index] for f in fields(Running)})


def weakest(share, joint):
    """How much turbine torque [N m] each element lets through before it slips: `joint` N m held per share; (..., E)."""
    return np.where(share > 0.0, joint / np.maximum(share, TINY), np.inf)


def running(tables: GearTables, drive: Drive, gear, road, bears, solid, shaft) -> Running:
    """How the list of points runs.

    gear rows of the gear tables; road [rad/s] what turns at the output; bears [N m] what the applied elements can hold; solid
    [N m] what each one-way clutch can, applied or not; shaft [N m at the turbine] what the driveline passes on.
    """
    turbine, joint, rows = np.abs(tables.ratio[gear]) * road, bears @ tables.couple, np.arange(len(gear))
    limits = weakest(tables.share[gear], joint)
    column = limits.argmin(-1)
    out, slips, run_up = _run_up(
        drive, turbine, limits, np.minimum(limits[rows, column], shaft), bears, joint
    )
    out = replace(out, held=tables.share[gear] * out.pull[:, None])
    lower = tables.caught.ratio[gear, column]
    own = limits[rows, column] <= shaft
    caught = np.flatnonzero(slips & own & (lower > 0.0) & (run_up > lower * road))
    if len(caught):
        here = (x[caught] for x in (gear, column, road, bears, solid, joint))
        _put(out, caught, _caught(tables, drive.at(caught), *here), turbine[caught])
    return out


def _run_up(drive: Drive, turbine, limits, limit, bears, joint):
    """How points run whose train lets `limit` through, whether they slip, and the turbine speed then.

    The heat of slip goes into the weakest element alone, or is shared among those that hold hardly more.
    """
    speed = drive.free(turbine)
    turbine = np.minimum(turbine, speed)
    asked = drive.torques(speed, turbine)[0]
    slips = (asked > limit) & (asked > LEAST_ASKED)
    ratio, run_up = turbine / np.maximum(speed, TINY), turbine.copy()
    if np.any(slips):
        speed[slips], raced = drive.at(slips).race(limit[slips], ratio[slips])
        run_up[slips] = np.maximum(raced, turbine[slips])
    given, taken = drive.torques(speed, run_up)
    least = np.where(slips, np.maximum(limit, TINY), 1.0)[:, None]
    gap = np.where(slips[:, None], limits / least - 1.0, np.inf)
    weight = np.maximum(1.0 - np.maximum(gap, 0.0) / ALIKE, 0.0)
    weight = weight * np.where(joint > 0.0, bears / np.maximum(joint, TINY), 1.0)
    share = weight / np.maximum(weight.sum(-1, keepdims=True), TINY)
    out = Running(
        speed=speed,
        surplus=run_up - turbine,
        pull=given,
        loss=np.where(slips, 1.0 - limit / np.maximum(asked, TINY), 0.0),
        engine_power=taken * speed,
        converter_loss=taken * speed - given * run_up,
        power=share * (given * (run_up - turbine))[:, None],
        held=given[:, None],
    )
    return out, slips, run_up


def _caught(tables: GearTables, drive: Drive, gear, column, road, bears, solid, joint) -> Running:
    """The points at which a one-way clutch has caught the train in a lower gear, while the element `column` slips on."""
    rows, low = np.arange(len(gear)), tables.caught
    share, helped = low.share[gear, column], low.helped[gear, column]
    turbine, relative = low.ratio[gear, column] * road, low.relative[gear, column]
    left = joint[rows, column]  # N m that the slipping element still bears
    reach = np.maximum(bears, solid) @ tables.couple + helped * left[:, None]
    limits = weakest(share, reach)
    out, _, run_up = _run_up(drive, turbine, limits, limits.min(-1), reach, reach)
    part = bears * tables.couple[column]
    slid = part / np.maximum(part.sum(-1, keepdims=True), TINY) * (left * relative * turbine)[:, None]
    held = share * out.pull[:, None] - helped * left[:, None]
    held[rows, column] = left
    lever = low.ratio[gear, column] / np.abs(tables.ratio[gear])
    return replace(
        out, surplus=run_up, pull=lever * (out.pull - left * relative), power=out.power + slid, held=held
    )


def _put(out: Running, index, lower: Running, turbine) -> None:
    """Write the caught points into their places; surplus and loss count from the gear that was asked for."""
    for name in ("speed", "pull", "engine_power", "converter_loss", "power", "held"):
        getattr(out, name)[index] = getattr(lower, name)
    out.surplus[index] = lower.surplus - turbine
