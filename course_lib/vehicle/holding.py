"""Fifth step of an operating point: line pressure, what every element bears and where it slips, how it comes on, what drags."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array
from course_lib.physics import sump
from course_lib.physics.engagement import Engagement
from course_lib.vehicle.command import Command
from course_lib.vehicle.elements import Elements, ShiftLoad
from course_lib.vehicle.oil_circuits import line_balance
from course_lib.vehicle.oil_phases import Phases, Runs, Supply
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.powertrain import FreeRun, Powertrain
from course_lib.vehicle.vehicle_batch import TINY

LONGEST_REFILL = 12.0  # s
SPONGY = 4.0  # s that air in the fluid keeps a piston waiting: it must be squeezed before anything moves


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What the elements do at each point: by element (E, n, m), all else (n, m)."""

    runs: Runs
    applied: Engagement  # (E, n, m) each, one engagement of what the gear fills anew
    drag_power: Array  # (E, n, m) W in elements that should be free
    dragged: Array  # W, the sum of that
    tie_up: Array  # share of the turbine torque with which elements fight each other


def hold(elements: Elements, op: Operation, command: Command, run: FreeRun) -> Holding:
    """Line pressure and what it holds, in either phase of the oil."""
    p, oil, gear = elements.p, elements.oil, command.gear
    valve = (p.line_droop, p.line_nominal_flow)
    line, fed = line_balance(elements.circuits, command.goal, oil.flow, oil.inner, valve)
    bears = elements.bears(elements.circuits, fed, gear, oil.temperature)
    runs = Phases(elements, run, Supply(command.goal, line, fed, bears)).run()
    drag, tie_up = elements.fight(line, run.turbine, run.torque)
    most = np.minimum(drag.sum(0), runs.pull * run.turbine)  # an engine that pulls loses no more than that
    dragged = np.where(op.throttle > 0.0, most, drag.sum(0))
    return Holding(
        runs=runs,
        applied=_applied(elements, op, run, Supply(command.goal, line, fed, bears)),
        drag_power=drag * (dragged / np.maximum(drag.sum(0), TINY)),
        dragged=dragged,
        tie_up=tie_up,
    )


def _applied(elements: Elements, op: Operation, run: FreeRun, supply: Supply) -> Engagement:
    """How elements come on by springs, orifices and accumulators; a controller's shifts are a matter of their own, in time."""
    if elements.pressed is not None:
        return Engagement(*(np.zeros(elements.shape, supply.line.dtype) for _ in Engagement._fields))
    return elements.come_on(supply.line, supply.fed, supply.bears, _shift(elements, op, run, supply.line))


def _shift(elements: Elements, op: Operation, run: FreeRun, line: Array) -> ShiftLoad:
    """What has to be taken over: in an upshift the pull and the fall of speed, else the idling engine's."""
    v, p, oil, gear = elements.vehicles, elements.p, elements.oil, elements.gear
    idle = Powertrain(v).idle_torque()
    pulling = np.where(elements.upshifted, run.torque, np.minimum(run.torque, idle))
    gap = run.turbine * np.maximum(v.before[gear] / np.maximum(np.abs(v.ratio[gear]), TINY) - 1.0, 0.0)
    gap = np.where(elements.upshifted, gap, p.engine_idle)
    night = sump.refill_time(p.sump_night_drain, oil.flow, oil.inner * line, LONGEST_REFILL)
    refill = np.broadcast_to(op.cold_soaked * night + SPONGY * oil.air, gear.shape)
    return ShiftLoad(pulling.astype(v.dtype), gap.astype(v.dtype), refill)
