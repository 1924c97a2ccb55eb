"""Lives whose codes somebody cleared shortly before they came in: only what has failed again since then is stored."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.base.arrays import Array, Places
from course_lib.vehicle.actions import code_steps
from course_lib.vehicle.first_noticed import felt_logarithm
from course_lib.vehicle.fleet import Fleet, FleetMoment
from course_lib.vehicle.life import worst_felt
from course_lib.vehicle.life_events import CODES_CLEARED
from course_lib.vehicle.life_log import Lives
from course_lib.vehicle.memory import clear_codes
from course_lib.vehicle.operating_point import packed, unpacked


def cleared_before(fleet: Fleet, lives: Lives, since: Array, sensitivity: Array) -> Lives:
    """The lives as they come in where their codes were cleared, so many meters `since` (n,) before; 0: nobody cleared any.

    fleet: the vehicle of each life; sensitivity (n,) of its driver. The lamp is out and nothing is done about codes until a test
    fails again, over as many miles; what is learned stays. What is felt is felt anew, and who then has nothing to complain of
    does not come in. The miles are taken as too few for wear. Where no code stood there was none to clear. Raises ValueError for a
    distance below 0.
    """
    if np.any(since < 0.0):
        raise ValueError(
            f"meters since codes were cleared must be 0 or more, got {since.min():.0f}. Give 0 for never."
        )
    if fleet.unit.control is None:
        return lives
    stood = code_steps(lives.condition.memory, fleet.unit).any(-1)
    rows = np.flatnonzero((since > 0.0) & lives.complained & stood)
    if not len(rows):
        return lives
    some, here = fleet.rows(rows), lives.condition.keep(rows)
    cleared = unpacked(packed(here), clear_codes(here.memory), some.base["element_lining"].dtype)
    odometer = lives.odometer[rows, None]
    now = some.moment(odometer, cleared, step=since[rows, None])
    if now.remembers.changed.any():
        acted = replace(cleared, memory=now.remembers.memory)
        now = some.moment(odometer, acted, now.work.temperature, now.remembers.left)
    return _came_in(lives, rows, now, since[rows], sensitivity[rows])


def _came_in(lives: Lives, rows: Places, now: FleetMoment, since: Array, sensitivity: Array) -> Lives:
    """The lives of which `rows` come in as they are `now`."""
    memory = lives.condition.memory.keep(np.arange(len(lives.odometer)))
    memory.put(rows, now.remembers.memory)
    sump, complained = lives.sump.copy(), lives.complained.copy()
    sump[rows] = now.work.temperature
    complained[rows] = felt_logarithm(worst_felt(now.strength)[:, 0] * sensitivity) >= 0.0
    felt = {name: value.copy() for name, value in lives.felt.items()}
    for name, value in now.strength.items():
        felt[name][rows] = value[:, 0]
    events = list(lives.events)
    for row, odometer in zip(rows, lives.odometer[rows] - since, strict=True):
        events[row] = events[row] | {CODES_CLEARED: float(odometer)}
    return replace(
        lives,
        condition=replace(lives.condition, memory=memory),
        sump=sump,
        complained=complained,
        felt=felt,
        events=tuple(events),
    )
