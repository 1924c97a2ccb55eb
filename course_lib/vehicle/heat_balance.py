"""Last step of an operating point: the heat that goes into the fluid, its ways out, and the sump temperature they lead to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Places
from course_lib.physics import heat, pump
from course_lib.vehicle.command import Command
from course_lib.vehicle.duty_cycle import SETTING_OFF
from course_lib.vehicle.oil_phases import Runs
from course_lib.vehicle.oil_supply import Oil, OilSupply
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

MOST_PULL = 8.0  # K, no visit is long enough to pull the sump farther from its mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Heat at each point, (n, m)."""

    spill: Array  # m3/s that the regulator lets go
    cooler: Array  # m3/s through the cooler
    warms: Array  # W into the fluid
    carried: Array  # W/K away by the cooler
    shed: Array  # W/K away by the case
    settled: Array  # K, sump temperature that this leads to


@dataclass(frozen=True, slots=True)
class HeatBalance:
    """The heat balance of a batch of vehicles."""

    vehicles: Vehicles

    def heat(
        self, op: Operation, command: Command, weight: Array, oil: Oil, runs: Runs, dragged: Array
    ) -> Heat:
        """What becomes of the heat; weight (n, m): how much each point counts; dragged [W]: in elements that should be free."""
        p = self.vehicles.p
        spill = self.spill(runs.line, command.goal, runs.flow)
        feeds = spill * p.heat_cooler_share
        if p.heat_cooler_bleed.any():
            feeds = feeds + OilSupply(self.vehicles).bleed(runs.line, oil.density)
        cooler = np.minimum(feeds, p.heat_cooler_flow_max) * p.heat_cooler_open * p.heat_line_open
        warms = (
            runs.converter_loss
            + pump.hydraulic_power(runs.line, runs.flow)
            + p.heat_churning * runs.speed**2
            + runs.power.sum(0)
            + dragged
        )
        carried = heat.cooler_conductance(
            cooler * oil.density, p.fluid_specific_heat, p.heat_cooler_ua * p.heat_cooler_air
        )
        shed = p.heat_case_still + p.heat_case_moving * op.road_speed
        gain = warms + carried * p.heat_cooler_sink + shed * p.heat_ambient
        settled = self.settled(gain, carried + shed, weight * self.lasts(op, command.gear))
        return Heat(
            spill=spill,
            cooler=cooler,
            warms=warms,
            carried=carried,
            shed=shed,
            settled=np.where(np.isnan(op.temperature), settled, oil.temperature),
        )

    def spill(self, line: Array, goal: Array, flow: Array) -> Array:
        """Flow [m3/s] the regulator lets go to converter and cooler, no more than the pump brings."""
        p = self.vehicles.p
        spill = p.line_nominal_flow * (1.0 + (line / goal - 1.0) / p.line_droop)
        return np.clip(spill, 0.0, np.maximum(flow, TINY))

    def lasts(self, op: Operation, gear: Places) -> Array:
        """How many times as long it takes to set off in a gear as in the lowest of its lever, (n, m)."""
        unit, ratio = self.vehicles.unit, self.vehicles.ratio
        lowest = np.array([abs(ratio[unit.gear_index(unit.levers[lever][0])]) for lever in op.lever])
        off = (op.road_speed > 0.0) & (op.road_speed < SETTING_OFF)
        return np.where(off, np.maximum(lowest / np.maximum(np.abs(ratio[gear]), TINY), 1.0), 1.0)

    def settled(self, gain: Array, loss: Array, weight: Array) -> Array:
        """Sump temperature [K] that heat and its ways out lead to at each point: the mean of the duty, and the pull of the point.

        gain [W] into the fluid, heat from the sinks included; loss [W/K].
        """
        total = np.maximum((weight * loss).sum(-1, keepdims=True), TINY)
        mean = (weight * gain).sum(-1, keepdims=True) / total
        pull = np.clip(self.vehicles.p.heat_short_visit * (gain / loss - mean), -MOST_PULL, MOST_PULL)
        settled: Array = mean + pull
        return settled
