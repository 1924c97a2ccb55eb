"""One operating point of a vehicle: fluid, oil pressures, torques, slip and heat, for driving and for testing alike.

Shapes: n vehicles, m operating points, E holding elements. Everything of one point has shape (n, m); pressures and slip are
kept for two phases of the oil, on a leading axis: 0 the pump draws fluid, 1 it gulps air. Elements stand last.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from course_lib.constants import AIR_DENSITY
from course_lib.physics import circuit, converter, fluid, friction, heat, pump, shifting, sump
from course_lib.physics.smooth import smooth_step
from course_lib.transmission.point import Condition, Operation, Workings, operation
from course_lib.transmission.spec import gear_tables, load_unit

TINY = 1e-9
FILL_TEMPERATURE = 293.15  # K, at which the charge is stated
HOT = 353.15  # K, 80 C: temperature of the hot mark
LINE_PASSES = 5  # of Newton's rule; flows then balance to rounding, even with torn seals and a gulp of air
LEAST_LINE = 0.1  # share of the line pressure that one pass leaves at least
SMALLEST_CONDUCTANCE = 1e-30  # m3/s/Pa; keeps 0/0 out of a circuit that takes no flow
LEAST_SUCTION = 0.15  # share of the suction head that is left at any pump speed
MOST_PLUGGED = 0.97
MOST_SLIP = 250.0  # rad/s, the engine's own governor or the driver's foot
TOP_SPEED = 45.0  # m/s; a shift that needs more never comes
LONGEST_FILL = 3.0  # s
LONGEST_SLIDE = 2.5  # s, then the driver has lifted
STEP_SHARE = 0.35  # share of the turbine speed that a shift takes away


class Plant:
    """A batch of vehicles of one unit: their parameters, and what they do in a given condition."""

    def __init__(self, unit: str, parameters: dict[str, np.ndarray]) -> None:
        self.unit = load_unit(unit)
        self.tables = gear_tables(unit)
        self.p = SimpleNamespace(**parameters)
        kinds = [element.kind for element in self.unit.elements]
        self.is_band = np.array([kind == "band" for kind in kinds])
        self.is_one_way = np.array([kind == "one-way" for kind in kinds])
        self._walther = fluid.walther_coefficients(
            float(self.p.fluid_viscosity_40c.flat[0]),
            313.15,
            float(self.p.fluid_viscosity_100c.flat[0]),
            373.15,
        )
        self._hot_viscosity = fluid.kinematic_viscosity(HOT, *self._walther)

    # ------------------------------------------------------------------ fluid and sump
    def viscosity(self, condition: Condition, temperature):
        """Kinematic [m2/s] and dynamic [Pa s] viscosity of the fluid in its present age."""
        aged = 1.0 + self.p.fluid_oxidation_thickening * condition.oxidation
        kinematic = fluid.kinematic_viscosity(temperature, *self._walther) * aged
        return kinematic, kinematic * fluid.density(temperature, self.p.fluid_density_15c)

    def height(self, condition: Condition, temperature, pump_flow, *, running: bool = True):
        """Fluid height in the pan [m]; with the engine off the fluid held above comes down."""
        p = self.p
        shrink = fluid.density(FILL_TEMPERATURE, p.fluid_density_15c) / fluid.density(
            temperature, p.fluid_density_15c
        )
        thick = np.sqrt(self.viscosity(condition, temperature)[0] / self._hot_viscosity)
        aloft = (
            p.sump_held_above + p.sump_return_time * pump_flow * thick
            if running
            else p.sump_held_above - p.sump_drain_back
        )
        volume = np.maximum((p.sump_charge - condition.lost) * shrink - aloft, 0.0)
        return sump.fluid_height(volume, p.sump_area_low, p.sump_area_high, p.sump_height_split)

    def _air_time(self, op: Operation, height, flow, viscosity):
        """Share of time the pump draws air: pickup uncovered, air sucked at a gap, or foam from an overfilled pan."""
        p = self.p
        margin = sump.pickup_margin(height, p.sump_pickup_height, p.sump_pickup_lever, op.tilt, 0.0)
        slosh = p.sump_slosh + p.sump_slosh_moving * (op.road_speed > 0)
        uncovered = sump.uncovered_share(margin, slosh)
        pull = pump.suction_depression(flow, p.pump_suction_resistance, viscosity, p.pump_strainer_dirt)
        drawn = pump.air_leak_flow(p.pump_suction_gap, np.minimum(pull, p.pump_suction_limit), AIR_DENSITY)
        foam = sump.overfill_air_share(height, p.sump_rotor_height, p.sump_foam_scale)
        bubbles = drawn / (drawn + flow + TINY) + foam
        return np.minimum(uncovered + bubbles / p.sump_gulp_air, 1.0)

    def strainer_plug(self, condition: Condition):
        """Share of the strainer that is blocked, by old dirt and by the lining shed since."""
        p = self.p
        shed = condition.lining * p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
        return np.minimum(p.pump_strainer_dirt + p.pump_strainer_grip * shed.sum(-1), MOST_PLUGGED)

    def pump_flow(self, condition: Condition, engine_speed, viscosity, density):
        """Fluid [m3/s] the suction side lets the pump draw."""
        p = self.p
        asked = pump.geometric_flow(p.pump_displacement, engine_speed)
        head = p.pump_suction_limit - 0.5 * density * (engine_speed * p.pump_tip_radius) ** 2
        head = np.maximum(head, LEAST_SUCTION * p.pump_suction_limit)
        resistance = p.pump_suction_resistance / (1.0 - self.strainer_plug(condition)) ** 2
        return pump.suction_limited_flow(asked, resistance, viscosity, head)

    # ------------------------------------------------------------------ signals and gear
    def vacuum(self, op: Operation):
        """Manifold vacuum and vacuum at the modulator [Pa]."""
        p = self.p
        manifold = shifting.manifold_vacuum(p.signal_closed_vacuum, op.throttle, p.signal_engine_vacuum)
        return manifold, manifold * np.maximum(1.0 - p.signal_hose_leak - p.signal_diaphragm_leak, 0.0)

    def load_signal(self, op: Operation):
        """Load signal 0 to 1 as the valve passes it on, from vacuum or cable, or from the hand that moves it."""
        p = self.p
        vacuum = shifting.vacuum_signal(self.vacuum(op)[1], p.signal_closed_vacuum)
        cable = shifting.cable_signal(op.throttle, p.signal_travel, p.signal_slack, p.signal_pull)
        own = np.where(p.signal_cable_fitted > 0.5, cable, vacuum)
        return p.signal_gain * np.where(np.isnan(op.signal), own, op.signal)

    def governor(self, road_speed):
        """Governor pressure [Pa]."""
        p = self.p
        return p.governor_gain * shifting.governor_pressure(
            road_speed, p.governor_start, p.governor_mid, p.governor_mid_pressure, p.governor_slope
        )

    def shift_thresholds(self):
        """Spring and load pressure [Pa] of each upshift, lowest first."""
        p = self.p
        return ((p.governor_spring_12, p.governor_load_12), (p.governor_spring_23, p.governor_load_23))

    def upshift_speeds(self, throttle: float):
        """Road speed [m/s] of each upshift at a pedal position, (n, shifts); infinite where it never comes."""
        p = self.p
        signal = self.load_signal(operation("D", throttle=throttle))
        asked = np.concatenate([spring + load * signal for spring, load in self.shift_thresholds()], axis=1)
        needed = asked / np.maximum(p.governor_gain, TINY)
        rise = np.minimum(needed / p.governor_mid_pressure, 1.0)
        first = np.sqrt(p.governor_start**2 + rise * (p.governor_mid**2 - p.governor_start**2))
        speed = first + np.maximum(needed - p.governor_mid_pressure, 0.0) / p.governor_slope
        return np.where(speed < TOP_SPEED, speed, np.inf)

    def _gear(self, op: Operation, signal):
        """Row of the gear table at each point: the lever's gears, chosen by the shift valves."""
        pressure = self.governor(op.road_speed)
        ups = sum(
            shifting.upshift_made(pressure, s, load, signal).astype(int)
            for s, load in self.shift_thresholds()
        )
        table = [[self.unit.gear_index(g) for g in self.unit.levers[lever]] for lever in op.lever]
        longest = max(len(row) for row in table)
        rows = np.array([row + [row[-1]] * (longest - len(row)) for row in table])
        return rows[np.arange(len(table)), np.minimum(ups, longest - 1)]

    # ------------------------------------------------------------------ engine and converter
    def engine_torque(self, throttle, speed):
        """Torque [N m] of the engine at a throttle opening and speed."""
        p = self.p
        shape = 1.0 - 0.25 * (speed / p.engine_best_speed - 1.0) ** 2
        return (
            p.engine_torque
            * p.engine_health
            * np.maximum(shape, 0.0)
            * (1.0 - (1.0 - throttle) ** p.engine_pedal)
        )

    def _drive(self, op: Operation, gear):
        """Engine speed, turbine speed and turbine torque; the stator decides how well torque is multiplied."""
        p = self.p
        ratio = np.abs(self.tables.ratio[gear])
        turbine = op.road_speed / p.vehicle_tire_radius * p.vehicle_axle * ratio
        capacity = p.converter_capacity * (1.0 + p.converter_stator_load * p.converter_stator_slip)
        speed = converter.match_speed(turbine, self.engine_torque(op.throttle, p.engine_best_speed), capacity)
        speed = converter.match_speed(turbine, self.engine_torque(op.throttle, speed), capacity)
        speed = np.where(np.isnan(op.engine_speed), np.maximum(speed, p.engine_idle), op.engine_speed)
        turbine = np.where(ratio > 0, np.minimum(turbine, speed), speed)
        multiplied = 1.0 + (p.converter_stall_ratio - 1.0) * (1.0 - p.converter_stator_slip)
        taken = converter.pump_torque(speed, turbine / speed, capacity)
        return (
            speed,
            turbine,
            taken * converter.torque_ratio(turbine / speed, multiplied, p.converter_coupling),
        )

    def _idle_torque(self):
        """Turbine torque [N m] while standing in gear at idle."""
        p = self.p
        return converter.pump_torque(p.engine_idle, 0.0, p.converter_capacity) * p.converter_stall_ratio

    # ------------------------------------------------------------------ line and circuits
    def _conductances(self, condition: Condition, viscosity):
        """Leak conductances [m3/s/Pa]: pump and valve body (n, m), and each circuit (n, m, E)."""
        p = self.p
        inner = (
            pump.slip_conductance(p.pump_slip, viscosity, 1.0 + condition.pump) + p.line_body_leak / viscosity
        )
        rings = (1.0 + p.line_bushing_leak * condition.bushing)[..., None]
        hard = 1.0 + p.line_seal_leak[..., None] * condition.seal**3
        return inner, p.element_leak / viscosity[..., None] * hard * rings

    def set_pressure(self, signal, reverse):
        """Pressure [Pa] the regulator aims at."""
        p = self.p
        asked = p.line_base * p.line_spring + p.line_boost * p.line_answer * signal
        return asked * (1.0 + p.line_reverse_gain * p.line_reverse_share * reverse)

    def _line(self, goal, flow, inner, leak, applied, density):
        """Line pressure and circuit pressures [Pa] at which pump, leaks and regulator balance."""
        p = self.p
        valve = (p.line_droop, p.line_nominal_flow)
        line = circuit.regulated_pressure(goal, flow, inner + (leak * applied).sum(-1), *valve)
        for _ in range(LINE_PASSES):
            fed = self._fed(line, leak, applied, density)
            each = self._drawn(line, fed, density)
            drawn, slope = each.sum(-1), self._slope(line, fed, each, leak, density).sum(-1)
            # Newton's rule: near this line the circuits draw `drawn - slope * line` and leak `slope` besides.
            better = circuit.regulated_pressure(goal, flow - drawn + slope * line, inner + slope, *valve)
            line = np.maximum(better, LEAST_LINE * line)
        fed = self._fed(line, leak, applied, density)
        used = inner * line + self._drawn(line, fed, density).sum(-1)
        spill = np.maximum(p.line_nominal_flow * (1.0 + (line / goal - 1.0) / p.line_droop), 0.0)
        return line, fed, spill, flow - used - spill

    def _fed(self, line, leak, applied, density):
        p = self.p
        fed = circuit.fed_pressure(
            line[..., None],
            p.element_feed_area,
            leak,
            p.element_hole,
            density[..., None],
            p.line_discharge[..., None],
        )
        return fed * applied

    def _drawn(self, line, fed, density):
        """Flow [m3/s] each applied circuit takes through its feed."""
        p = self.p
        drop = np.maximum(line[..., None] - fed, 0.0)
        flow = circuit.orifice_flow(
            p.element_feed_area, drop, density[..., None], p.line_discharge[..., None]
        )
        return flow * (fed > 0)

    def _slope(self, line, fed, drawn, leak, density):
        """Flow [m3/s/Pa] each applied circuit takes more per pascal of line: feed and leak in a row."""
        p = self.p
        feed = drawn / (2.0 * np.maximum(line[..., None] - fed, TINY))
        root = np.sqrt(2.0 * density[..., None] * np.maximum(fed, TINY))
        jet = p.element_hole * p.line_discharge[..., None] / root
        return feed * (leak + jet) / (feed + leak + jet + SMALLEST_CONDUCTANCE) * (fed > 0)

    # ------------------------------------------------------------------ holding elements
    def clearance(self, condition: Condition):
        """Running clearance of each element [m]: set-up, lining gone, and steels worn and coned (n, 1, E)."""
        p = self.p
        travel = np.where(self.is_band, p.element_wrap, p.element_faces)
        return (
            p.element_clearance
            + condition.lining * travel
            + p.wear_steel_warp[..., None] * condition.char * ~self.is_band
        )

    def _capacity(self, condition: Condition, pressure, temperature, reverse):
        """Torque each element can hold [N m] at its circuit pressure; shapes (..., n, m, E)."""
        p = self.p
        clearance = self.clearance(condition)
        area = p.element_piston_area + p.element_reverse_area * reverse[..., None]
        force = pressure * area - p.element_spring_force * (1.0 + 0.5 * clearance / p.element_stroke)
        force = np.maximum(force, 0.0) * (
            1.0 - smooth_step(clearance, 0.90 * p.element_stroke, p.element_stroke)
        )
        grip = friction.friction_coefficient(
            (p.wear_friction * p.wear_fluid_friction)[..., None],
            temperature[..., None],
            condition.char,
            0.0,
            condition.oxidation[..., None],
        )
        clutch = friction.clutch_torque_capacity(force, grip, p.element_radius, p.element_faces)
        band = friction.band_torque_capacity(force, grip, p.element_radius, p.element_wrap)
        solid = p.element_holding_torque * (1.0 - condition.holding)
        return np.where(self.is_one_way, solid, np.where(self.is_band, band, clutch))

    def _slip(self, capacity, share, torque):
        """Lost share of torque, slip speed [rad/s] of the turbine side, and slip power per element [W]."""
        joint = capacity @ self.tables.together
        asked = share * torque[..., None]
        lost = np.where(share > 0, np.maximum(asked - joint, 0.0) / (asked + TINY), 0.0)
        loss = lost.max(-1)
        slip = np.minimum(loss * torque / self.p.engine_slip_speed, MOST_SLIP)
        sliding = lost > 0
        return loss, slip, capacity * slip[..., None] / np.where(sliding, share, 1.0) * sliding

    def _engage(self, line, leak, density, capacity, share, torque, speed, clearance):
        """Flare [rad/s] and heat [J] of one engagement of each element: the piston fills, then it slides to rest.

        The piston fills with what the feed brings beyond the leak; longer than the shift allows for, the turbine runs away. The
        slide lasts the longer, the less the element holds beyond the torque asked of it.
        """
        p = self.p
        half = 0.5 * line[..., None]
        net = self._drawn(line, half, density) - leak * half
        volume = (p.element_piston_area + p.element_reverse_area) * clearance
        time = np.minimum(volume / np.maximum(net, TINY), LONGEST_FILL)
        late = np.maximum(time - p.element_overlap, 0.0)
        flare = np.minimum(torque[..., None] / p.vehicle_inertia[..., None] * late, MOST_SLIP)
        step = STEP_SHARE * speed[..., None] + flare
        geared = np.where(share > 0, share, 1.0)
        spare = np.maximum(capacity / geared - torque[..., None], TINY)
        slide = np.clip(p.vehicle_inertia[..., None] * step / spare, 0.0, LONGEST_SLIDE)
        return flare * (share > 0), 0.5 * capacity * step / geared * slide * (share > 0)

    # ------------------------------------------------------------------ the whole point
    def operate(self, condition: Condition, op: Operation, weight: np.ndarray | None = None) -> Workings:
        """Everything that happens at the points `op` to vehicles in `condition`.

        Where `op.temperature` is NaN the sump temperature follows from the heat balance over the points, each counted with
        `weight` (n, m) or equally.
        """
        given = np.isnan(op.temperature)
        first = np.where(given, 362.0, op.temperature)
        shape = (self.p.pump_displacement.shape[0], len(op.lever))
        work = self._point(condition, op, np.broadcast_to(first, shape))
        if not given.any():
            return work
        weight = np.ones(shape) if weight is None else weight
        return self._point(condition, op, np.where(given, self._sump_temperature(work, weight), first))

    def _sump_temperature(self, work: Workings, weight):
        """Mean sump temperature of the duty, and how far each point pulls away from it [K]."""
        p = self.p
        gain = (
            work.heat + work.cooler_conductance * p.heat_cooler_sink + work.case_conductance * p.heat_ambient
        )
        loss = work.cooler_conductance + work.case_conductance
        mean = (weight * gain).sum(-1, keepdims=True) / (weight * loss).sum(-1, keepdims=True)
        return np.minimum(mean + p.heat_short_visit * (gain / loss - mean), 460.0)

    def _point(self, condition: Condition, op: Operation, temperature) -> Workings:
        p = self.p
        signal = self.load_signal(op)
        gear = self._gear(op, signal)
        speed, turbine, torque = self._drive(op, gear)
        thin, viscosity = self.viscosity(condition, temperature)
        density = fluid.density(temperature, p.fluid_density_15c)
        height = self.height(condition, temperature, pump.geometric_flow(p.pump_displacement, speed))
        flow = self.pump_flow(condition, speed, viscosity, density)
        air = self._air_time(op, height, flow, viscosity)
        reverse = (self.tables.ratio[gear] < 0).astype(float)
        inner, leak = self._conductances(condition, viscosity)
        phases = np.stack([flow, flow * (1.0 - p.sump_gulp_air)])
        line, fed, spill, residual = self._line(
            self.set_pressure(signal, reverse), phases, inner, leak, self.tables.applied[gear], density
        )
        capacity = self._capacity(condition, fed, temperature, reverse) * self.tables.applied[gear]
        loss, slip, power = self._slip(capacity, self.tables.share[gear], np.broadcast_to(torque, line.shape))
        # A gear that no upshift leads to is engaged from rest, at idle.
        pulling = np.where(self.tables.upshifted[gear], torque, np.minimum(torque, self._idle_torque()))
        flare, shift_heat = self._engage(
            line[0],
            leak,
            density,
            capacity[0],
            self.tables.share[gear],
            pulling,
            turbine,
            self.clearance(condition),
        )
        mix = np.stack([1.0 - air, air])
        mean_line = (mix * line).sum(0)
        swing = 1.0 - np.exp(-p.sump_gulp_time / p.sump_gauge_lag)
        mean_spill = (mix * spill).sum(0)
        cooler = np.minimum(mean_spill * p.heat_cooler_share, p.heat_cooler_flow_max) * p.heat_cooler_open
        slip_power = (mix[..., None] * power).sum(0)
        return Workings(
            temperature=temperature,
            height=height,
            air_time=air,
            signal=signal,
            gear=gear,
            engine_speed=speed,
            turbine_torque=torque,
            line_phase=line,
            line=mean_line,
            line_low=np.where(
                air > 0, np.minimum(mean_line, line[0] - (line[0] - line[1]) * swing), mean_line
            ),
            circuit=(mix[..., None] * fed).sum(0),
            residual=residual,
            spill=mean_spill,
            capacity=capacity[0],
            loss=(mix * loss).sum(0),
            slip=(mix * slip).sum(0),
            slip_power=slip_power,
            heat=self._heat(op, speed, turbine, torque, mean_line, flow) + slip_power.sum(-1),
            cooler_flow=cooler,
            cooler_conductance=heat.cooler_conductance(
                cooler * density, p.fluid_specific_heat, p.heat_cooler_ua * p.heat_cooler_air
            ),
            case_conductance=p.heat_case_still + p.heat_case_moving * op.road_speed,
            clearance=self.clearance(condition),
            flare=flare,
            shift_heat=shift_heat,
        )

    def _heat(self, op: Operation, speed, turbine, torque, line, flow):
        """Heat into the fluid [W] but for slip: converter, pump work, churning."""
        p = self.p
        taken = converter.pump_torque(speed, turbine / speed, p.converter_capacity)
        lost = np.maximum(taken * speed - torque * turbine, 0.0)
        return lost + pump.hydraulic_power(line, flow) + p.heat_churning * speed**2
