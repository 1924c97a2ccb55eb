"""A vehicle on its owner's day, with the shifts in between, and what its controller makes of it for the days to come.

Shapes: n vehicles, m operating points of the day. With hydraulic controls there are no shifts in time and nothing is remembered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Values
from course_lib.vehicle.actions import actions
from course_lib.vehicle.adaptation import learn, may_learn
from course_lib.vehicle.code_tests import Seen
from course_lib.vehicle.codes import counted, failure_rates, until_action
from course_lib.vehicle.control_tables import control_tables
from course_lib.vehicle.duty_cycle import SETTING_OFF, DutyCycle
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.operating_point import Condition, Operation, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shifts_in_time import Shifts, shifts_in_time, with_shifts
from course_lib.vehicle.sump_balance import FROM_COLD, day_mean

SLOW, TORQUE_RISES = (
    0.1,
    0.25,
)  # s: of a valve, from which it counts; until the torque of a pedal put down is there, invented
STEPPED = 0.6  # pedal that is put down at once
SPRINGS = 1e5  # Pa, about what return springs take
DRIVE_IN = np.array(
    [[20.0 * units.MILE]]
)  # m from the complaint to the workshop, in which codes are still set


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivenDay:
    """What happens over a day. shifts: None with hydraulic controls."""

    work: Workings
    shifts: Shifts | None


def driven_day(
    plant: Plant,
    condition: Condition,
    day: DutyCycle,
    warm: Array | None = None,
    *,
    start: Values = FROM_COLD,
) -> DrivenDay:
    """The day of vehicles in a condition; warm: sump temperatures (n, m) K to take, else those of the balance from `start` up."""
    seconds = day.spent(plant.p.use_stops, plant.p.use_standing)
    work = plant.operate(condition, day.op, seconds, warm, start=start)
    if plant.unit.control is None:
        return DrivenDay(work=work, shifts=None)
    work = after_the_pedal(plant, day.op, work)
    sump = day_mean(work.temperature, np.isnan(day.op.temperature))
    shifts = shifts_in_time(plant, condition, sump)
    return DrivenDay(work=with_shifts(plant, day.op, work, shifts), shifts=shifts)


def after_the_pedal(plant: Plant, op: Operation, work: Workings) -> Workings:
    """The workings with what slips for a moment after the pedal went down, where the valve of the line pressure is slow.

    The torque is there before the line has followed: by the law of a first order lag from the line of a light pedal.
    """
    tables, p = control_tables(plant.unit), plant.p
    if tables.line < 0 or not (p.solenoid_lag[..., tables.line] > SLOW).any():
        return work
    lag = np.maximum(p.solenoid_lag[..., tables.line], 1e-3)
    missing = np.maximum(work.line - p.control_line_drive, 0.0) * np.exp(-TORQUE_RISES / lag)
    left = 1.0 - missing / np.maximum(work.line - SPRINGS, SPRINGS)
    bears = work.capacity * np.maximum(left, 0.0)[..., None]
    holds = np.where(work.held > 0.0, bears / np.maximum(work.held, 1.0), 1.0).min(-1)
    stepped = (op.throttle >= STEPPED) & (op.road_speed > 0.0)
    return replace(
        work, loss=np.where(stepped, np.maximum(work.loss, 1.0 - np.minimum(holds, 1.0)), work.loss)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What is remembered at the end of a step, and after the drive in besides.

    changed (n, 1): what is done about codes is no longer what the day was driven with. Then the step ends, for the memory, where
    the first action came on, and `left` [m], (n, 1), is still to be driven with it; 0 elsewhere.
    """

    memory: Memory
    arriving: Memory
    changed: Flags
    left: Array


def remembered(
    plant: Plant, condition: Condition, day: DutyCycle, driven: DrivenDay, step: Array
) -> Remembered:
    """What comes of a step [m], (n, 1), at whose end the vehicles are as `driven` says."""
    memory = condition.memory
    if driven.shifts is None:
        return Remembered(
            memory=memory, arriving=memory, changed=np.zeros(step.shape, bool), left=np.zeros(step.shape)
        )
    seen = seen_on(plant, day, driven, memory)
    moving = seen.seconds * (day.op.road_speed > SETTING_OFF)
    allowed = may_learn(seen.electric, moving, memory, plant.unit)
    wanted = driven.shifts.fill, driven.shifts.pressure
    often, unit = failure_rates(seen), plant.unit
    first = until_action(memory, unit, often)
    memory = learn(plant.p, memory, wanted, allowed, np.minimum(step, first))
    arriving = counted(memory, unit, often, np.minimum(step + DRIVE_IN, first))
    memory = counted(memory, unit, often, np.minimum(step, first))
    changed = actions(memory, unit).bits != actions(condition.memory, unit).bits
    left = np.where(changed, np.maximum(step - first, 0.0), 0.0)
    return Remembered(memory=memory, arriving=arriving, changed=changed, left=left)


def seen_on(plant: Plant, day: DutyCycle, driven: DrivenDay, memory: Memory) -> Seen:
    """What there is for the tests of codes on a day. Raises ValueError where the control is hydraulic."""
    if driven.shifts is None or driven.work.electric is None:
        raise ValueError("codes are tested where a controller is, got hydraulic controls.")
    seconds = day.spent(plant.p.use_stops, plant.p.use_standing)
    shape = driven.work.temperature.shape
    return Seen(
        plant=plant,
        op=day.op,
        seconds=np.broadcast_to(seconds, shape),
        work=driven.work,
        electric=driven.work.electric,
        shifts=driven.shifts,
        memory=memory,
    )
