"""Third step of an operating point, from sump to pump: how high the fluid stands, how much air the pump draws, what it brings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Places, Values
from course_lib.base.constants import AIR_DENSITY
from course_lib.physics import fluid, hydraulics, pump, sump
from course_lib.vehicle.operating_point import Condition, Operation
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

FILL_TEMPERATURE = 293.15  # K, at which the charge is stated
LEAST_SUCTION = 0.15  # share of the suction head that is left at any pump speed
MOST_PLUGGED = 0.97
RAINS = 1.35e-4  # m3/s that leaks, rings and lubrication rain down from above, beside what comes back from the cooler
THICKEST = 3.0  # times that thick fluid needs to run back, against hot fluid
FINE = 0.3  # time a fine bubble lasts, against a gulp


@dataclass(frozen=True, slots=True, kw_only=True)
class Oil:
    """Fluid, sump and pump at each point, (n, m), before anything slips."""

    temperature: Array  # K
    viscosity: Array  # Pa s
    density: Array  # kg/m3
    height: Array  # m, in the pan
    flow: Array  # m3/s that the pump draws
    air: Array  # share of time in which it draws air
    fine: Array  # share of that which is fine bubbles
    inner: Array  # m3/s/Pa that pump and body leak


@dataclass(frozen=True, slots=True)
class OilSupply:
    """Fluid, sump and pump of a batch of vehicles."""

    vehicles: Vehicles

    def oil(
        self, condition: Condition, op: Operation, temperature: Array, turning: tuple[Array, Array]
    ) -> Oil:
        """What the pump draws at each point; turning: its speed [rad/s], and the line pressure [Pa] it is asked for."""
        speed, goal = turning
        p = self.vehicles.p
        _, viscosity = self.vehicles.viscosity(condition, temperature)
        density = fluid.density(temperature, p.fluid_density_15c)
        height = self.height(condition, temperature, pump.geometric_flow(p.pump_displacement, speed))
        flow = self.pump_flow(condition, speed, viscosity, density)
        air, fine = self._air_time(op, height, flow, viscosity)
        slip = pump.slip_conductance(p.pump_slip, viscosity, 1.0 + condition.pump)
        inner = slip + p.line_body_leak / viscosity
        if p.heat_cooler_bleed.any():
            inner = inner + self.bleed(goal, density) * p.heat_cooler_open * p.heat_line_open / goal
        return Oil(
            temperature=temperature,
            viscosity=viscosity,
            density=density,
            height=height,
            flow=flow,
            air=air,
            fine=fine,
            inner=inner,
        )

    def bleed(self, line: Array, density: Array) -> Array:
        """Flow [m3/s] through the orifice that feeds an open cooler from the line, past the regulator."""
        p = self.vehicles.p
        return hydraulics.orifice_flow(p.heat_cooler_bleed, line, density, p.line_discharge)

    def height(
        self, condition: Condition, temperature: Values, pump_flow: Values, *, running: bool = True
    ) -> Array:
        """Fluid height in the pan [m]; with the engine off the fluid held above comes down.

        What the regulator lets go returns to the suction side: only what leaks, lubricates or goes to the cooler is on its way
        down, however fast the pump turns.
        """
        p = self.vehicles.p
        shrink = fluid.density(FILL_TEMPERATURE, p.fluid_density_15c) / fluid.density(
            temperature, p.fluid_density_15c
        )
        thick = np.sqrt(self.vehicles.viscosity(condition, temperature)[0] / self.vehicles.hot_viscosity)
        thick = np.minimum(thick, THICKEST)
        aloft = (
            p.sump_held_above
            + p.sump_return_time * np.minimum(pump_flow, p.heat_cooler_flow_max + RAINS) * thick
            if running
            else p.sump_held_above - p.sump_drain_back - p.sump_night_drain
        )
        volume = np.maximum((p.sump_charge - condition.lost) * shrink - aloft, 0.0)
        return sump.fluid_height(volume, p.sump_area_low, p.sump_area_high, p.sump_height_split)

    def _air_time(self, op: Operation, height: Array, flow: Array, viscosity: Array) -> tuple[Array, Array]:
        """Share of time the pump draws air: pickup uncovered, air sucked at a gap, or foam; and how much of it is fine bubbles."""
        p = self.vehicles.p
        margin = sump.pickup_margin(height, p.sump_pickup_height, p.sump_pickup_lever, op.tilt, 0.0)
        slosh = p.sump_slosh + p.sump_slosh_moving * (op.road_speed > 0)
        uncovered = sump.uncovered_share(margin, slosh)
        pull = pump.suction_depression(flow, p.pump_suction_resistance, viscosity, p.pump_strainer_dirt)
        drawn = pump.air_leak_flow(p.pump_suction_gap, np.minimum(pull, p.pump_suction_limit), AIR_DENSITY)
        foam = sump.overfill_air_share(height, p.sump_rotor_height, p.sump_foam_scale)
        bubbles = (drawn / (drawn + flow + TINY) + foam) / p.sump_gulp_air
        return np.minimum(uncovered + bubbles, 1.0), bubbles / np.maximum(uncovered + bubbles, TINY)

    def strainer_plug(self, condition: Condition) -> Array:
        """Share of the strainer that is blocked, by old dirt and by the lining shed since."""
        p = self.vehicles.p
        shed = condition.lining * p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
        blocked: Array = np.minimum(p.pump_strainer_dirt + p.pump_strainer_grip * shed.sum(-1), MOST_PLUGGED)
        return blocked

    def pump_flow(
        self,
        condition: Condition,
        engine_speed: Values,
        viscosity: Values,
        density: Values,
        rows: Places | None = None,
    ) -> Array:
        """Fluid [m3/s] the suction side lets the pump draw, on the grid or on a list of vehicles `rows`."""
        p = self.vehicles.p

        def of(value: Array) -> Array:
            return value if rows is None else value[rows, 0]

        limit = of(p.pump_suction_limit)
        dynamic = 0.5 * density * (engine_speed * of(p.pump_tip_radius)) ** 2
        head = np.maximum(limit - dynamic, LEAST_SUCTION * limit)
        asked = pump.geometric_flow(of(p.pump_displacement * p.pump_drive), engine_speed)
        narrow = of(p.pump_suction_resistance) / (1.0 - of(self.strainer_plug(condition))) ** 2
        return pump.suction_limited_flow(asked, narrow, viscosity, head)

    def needle_swing(self, fine: Values) -> Array:
        """Share of the fall of pressure in a gulp that the needle of a gauge follows; fine bubbles come and go too fast for it."""
        lasts = self.vehicles.p.sump_gulp_time / self.vehicles.p.sump_gauge_lag
        return -fine * np.expm1(-FINE * lasts) - (1.0 - fine) * np.expm1(-lasts)
