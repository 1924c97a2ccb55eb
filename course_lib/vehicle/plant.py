"""One operating point of a vehicle: fluid, signals, engine, oil pressures, torques, slip and heat, for driving and testing alike.

Shapes: n vehicles, m operating points, E holding elements. Everything of one point has shape (n, m). Two phases of the oil are
worked: the pump draws fluid, or it gulps air. Elements stand last in what is handed out.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from course_lib.base.constants import AIR_DENSITY
from course_lib.physics import converter, engine, fluid, heat, hydraulics, pump, shift_control, sump
from course_lib.vehicle.drive import Drive
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.oil_circuits import Elements, line_balance
from course_lib.vehicle.oil_phases import SETTLED, Phases, Supply
from course_lib.vehicle.operating_point import Condition, Operation, Workings, operation
from course_lib.vehicle.parameters import Parameters
from course_lib.vehicle.sump_balance import FROM_COLD, boils_over, day_mean, lowest_balance
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

TINY = 1e-9
FILL_TEMPERATURE = 293.15  # K, at which the charge is stated
HOT = 353.15  # K, 80 C: temperature of the hot mark
MOST_PULL = 8.0  # K, no visit is long enough to pull the sump farther from its mean
LEAST_SUCTION = 0.15  # share of the suction head that is left at any pump speed
MOST_PLUGGED = 0.97
SETTING_OFF = 4.0  # m/s, below which a vehicle is setting off or backing
TOP_SPEED = 45.0  # m/s; a shift that needs more never comes
RAINS = 1.35e-4  # m3/s that leaks, rings and lubrication rain down from above, beside what comes back from the cooler
THICKEST = 3.0  # times that thick fluid needs to run back, against hot fluid
FINE = 0.3  # time a fine bubble lasts, against a gulp
LIP_LOST = 12.0  # leak of a swollen lip, in sound circuits
LAST_OF_CABLE = 0.85  # of its travel, with which a cable fetches the lower gear
LOCKUP_PEDAL = 0.65  # pedal past which the lock-up clutch lets go
CHARRED_GRIP = 0.7  # share of its grip that a charred lock-up lining has lost
LOCKUP_RING = 0.06  # pressure a sound ring costs
LOCKUP_SHAKES, SHAKING_SLIP = (
    1.5,
    5.0,
)  # judder of a sliding lock-up lining, and the slip [rad/s] from which it shakes in full
LONGEST_REFILL = 12.0  # s
SPONGY = 4.0  # s that air in the fluid keeps a piston waiting: it must be squeezed before anything moves
MISFIRE_SHAKES = 12.0


@lru_cache
def _sound_clearance(unit: UnitSpec) -> np.ndarray:
    """Clearance [m] of the elements of a sound vehicle as the data file has it, (1, 1, E)."""
    return nominal_parameters(unit, signal=unit.signals[0])["element_clearance"]


class Plant:
    """A batch of vehicles of one unit: their parameters, and what they do in a given condition.

    passes: how often at most the pressure is worked anew at the speed to which an engine behind a slipping element races.
    """

    def __init__(self, unit: UnitSpec, parameters: dict[str, np.ndarray], passes: int = SETTLED) -> None:
        self.unit, self.passes = unit, passes
        self.p = Parameters(**parameters)
        self.dtype = self.p.pump_displacement.dtype
        self.tables = tables = gear_tables(unit)
        names = ("applied", "share", "relative", "ratio", "before", "takes")
        self.applied, self.share, self.relative, self.ratio, self.before, self.takes = (
            getattr(tables, name).astype(self.dtype) for name in names
        )
        self.partners = tables.partners
        kinds = np.array([element.kind for element in self.unit.elements])
        self.is_band, self.is_one_way = kinds == "band", kinds == "one-way"
        self.one_ways = [int(i) for i in np.flatnonzero(self.is_one_way)]
        # towed with the engine off, the output turns and the input stands: what couples to the input has nothing to do
        self.towed = np.array([self.unit.input not in element.couples for element in self.unit.elements])
        self.sound_clearance = _sound_clearance(unit).astype(self.dtype)
        engaged = [self.applied[self.unit.gear_index(self.unit.levers[lever][0])] for lever in "DR"]
        self.rocked = np.maximum(*engaged)
        self.backed = np.zeros(
            len(kinds), bool
        )  # one-way clutches with an applied element beside them in first
        for one, other in self.partners:
            self.backed[one] |= bool(self.is_one_way[one] and engaged[0][other] > 0)
        self._throttle: tuple = (None, None)  # the operation last asked about, and its throttle
        self.lockup_gears = np.array([gear in self.unit.lockup_gears for gear in self.unit.gears])
        points = self.p.fluid_viscosity_40c, 313.15, self.p.fluid_viscosity_100c, 373.15
        self._walther = tuple(each.astype(self.dtype) for each in fluid.walther_coefficients(*points))
        self._hot_viscosity = fluid.kinematic_viscosity(HOT, *self._walther)

    def rows(self, rows) -> Plant:
        """Some of the vehicles."""
        return Plant(self.unit, self.p.rows(rows).by_name(), self.passes)

    # ------------------------------------------------------------------ fluid and sump
    def viscosity(self, condition: Condition, temperature):
        """Kinematic [m2/s] and dynamic [Pa s] viscosity of the fluid in its present age; worn out, it gets no thicker."""
        aged = 1.0 + self.p.fluid_oxidation_thickening * np.minimum(condition.oxidation, 1.0)
        kinematic = fluid.kinematic_viscosity(temperature, *self._walther) * aged
        return kinematic, kinematic * fluid.density(temperature, self.p.fluid_density_15c)

    def height(self, condition: Condition, temperature, pump_flow, *, running: bool = True):
        """Fluid height in the pan [m]; with the engine off the fluid held above comes down.

        What the regulator lets go returns to the suction side: only what leaks, lubricates or goes to the cooler is on its way
        down, however fast the pump turns.
        """
        p = self.p
        shrink = fluid.density(FILL_TEMPERATURE, p.fluid_density_15c) / fluid.density(
            temperature, p.fluid_density_15c
        )
        thick = np.sqrt(self.viscosity(condition, temperature)[0] / self._hot_viscosity)
        thick = np.minimum(thick, THICKEST)
        aloft = (
            p.sump_held_above
            + p.sump_return_time * np.minimum(pump_flow, p.heat_cooler_flow_max + RAINS) * thick
            if running
            else p.sump_held_above - p.sump_drain_back - p.sump_night_drain
        )
        volume = np.maximum((p.sump_charge - condition.lost) * shrink - aloft, 0.0)
        return sump.fluid_height(volume, p.sump_area_low, p.sump_area_high, p.sump_height_split)

    def _air_time(self, op: Operation, height, flow, viscosity):
        """Share of time the pump draws air: pickup uncovered, air sucked at a gap, or foam; and how much of it is fine bubbles."""
        p = self.p
        margin = sump.pickup_margin(height, p.sump_pickup_height, p.sump_pickup_lever, op.tilt, 0.0)
        slosh = p.sump_slosh + p.sump_slosh_moving * (op.road_speed > 0)
        uncovered = sump.uncovered_share(margin, slosh)
        pull = pump.suction_depression(flow, p.pump_suction_resistance, viscosity, p.pump_strainer_dirt)
        drawn = pump.air_leak_flow(p.pump_suction_gap, np.minimum(pull, p.pump_suction_limit), AIR_DENSITY)
        foam = sump.overfill_air_share(height, p.sump_rotor_height, p.sump_foam_scale)
        bubbles = (drawn / (drawn + flow + TINY) + foam) / p.sump_gulp_air
        return np.minimum(uncovered + bubbles, 1.0), bubbles / np.maximum(uncovered + bubbles, TINY)

    def strainer_plug(self, condition: Condition):
        """Share of the strainer that is blocked, by old dirt and by the lining shed since."""
        p = self.p
        shed = condition.lining * p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
        return np.minimum(p.pump_strainer_dirt + p.pump_strainer_grip * shed.sum(-1), MOST_PLUGGED)

    def pump_flow(self, condition: Condition, engine_speed, viscosity, density, rows=None):
        """Fluid [m3/s] the suction side lets the pump draw, on the grid or on a list of vehicles `rows`."""
        p = self.p
        plug, displacement, tip, limit, narrow = (
            value if rows is None else value[rows, 0]
            for value in (
                self.strainer_plug(condition),
                p.pump_displacement * p.pump_drive,
                p.pump_tip_radius,
                p.pump_suction_limit,
                p.pump_suction_resistance,
            )
        )
        head = np.maximum(limit - 0.5 * density * (engine_speed * tip) ** 2, LEAST_SUCTION * limit)
        asked = pump.geometric_flow(displacement, engine_speed)
        return pump.suction_limited_flow(asked, narrow / (1.0 - plug) ** 2, viscosity, head)

    # ------------------------------------------------------------------ load on the engine, signals and gear
    def throttle(self, op: Operation):
        """Throttle opening at each point: what the point says, and what trailer and dragging brakes ask in addition."""
        if self._throttle[0] is not op:
            p = self.p
            drag = p.vehicle_brake_drag * p.vehicle_tire_radius / (p.vehicle_axle * p.engine_torque)
            asked = op.throttle * (1.0 + op.loaded * p.vehicle_trailer / p.vehicle_mass)
            asked = np.minimum(asked + drag * ((op.road_speed > 0) & (op.throttle > 0)), 1.0)
            self._throttle = (op, asked.astype(self.dtype))
        return self._throttle[1]

    def exhaust(self, speed, throttle):
        """Back pressure [Pa] in the exhaust."""
        return engine.exhaust_back_pressure(speed, throttle, self.p.engine_exhaust)

    def vacuum(self, op: Operation, engine_speed=None):
        """Manifold vacuum and vacuum at the modulator [Pa]; back pressure at an engine speed [rad/s] takes from both."""
        p, throttle = self.p, self.throttle(op)
        manifold = shift_control.manifold_vacuum(p.signal_closed_vacuum, throttle, p.signal_engine_vacuum)
        if engine_speed is not None:
            manifold = engine.choked_vacuum(manifold, self.exhaust(engine_speed, throttle))
        reaches = manifold * np.maximum(1.0 - p.signal_hose_leak - p.signal_diaphragm_leak, 0.0)
        return manifold, shift_control.trapped_vacuum(reaches, p.signal_closed_vacuum, p.signal_trapped)

    def twist(self, op: Operation):
        """Share of full torque with which the engine lifts the unit off a broken mount."""
        moving = (op.road_speed > 0) | (op.throttle > 0.5)
        in_gear = np.array([lever not in "PN" for lever in op.lever])
        return self.throttle(op) * moving * in_gear

    def load_signal(self, op: Operation):
        """Load signal 0 to 1 as the valve passes it on, from vacuum or cable, or from the hand that moves it."""
        p = self.p
        turning = np.where(
            np.isnan(op.engine_speed), p.engine_best_speed * self.throttle(op), op.engine_speed
        )
        vacuum = shift_control.vacuum_signal(self.vacuum(op, turning)[1], p.signal_closed_vacuum)
        pulled = p.signal_pull + p.vehicle_mount_lift * self.twist(op)
        cable = shift_control.cable_signal(self.throttle(op), p.signal_travel, p.signal_slack, pulled)
        own = np.where(p.signal_cable_fitted > 0.5, cable, vacuum)
        return p.signal_gain * np.where(np.isnan(op.signal), own, op.signal)

    def governor(self, road_speed):
        """Governor pressure [Pa]."""
        p = self.p
        curve = shift_control.governor_pressure(
            road_speed * p.governor_gear,
            p.governor_start,
            p.governor_mid,
            p.governor_mid_pressure,
            p.governor_slope,
        )
        return np.maximum(p.governor_gain * (1.0 - p.governor_leak) * curve, p.governor_stuck)

    def _speed_at(self, pressure):
        """Road speed [m/s] at which the governor gives a pressure; 0 where it gives it at rest, infinite where never."""
        p = self.p
        needed = pressure / np.maximum(p.governor_gain * (1.0 - p.governor_leak), TINY)
        curve = (p.governor_start, p.governor_mid, p.governor_mid_pressure, p.governor_slope)
        speed = shift_control.governor_speed(needed, *curve)
        speed = speed / np.maximum(p.governor_gear, TINY)
        speed = np.where(pressure <= p.governor_stuck, 0.0, speed)
        return np.where(speed < TOP_SPEED, speed, np.inf)

    def upshift_speeds(self, throttle: float):
        """Road speed [m/s] of each upshift at a pedal position, (n, S); infinite where it never comes."""
        p = self.p
        signal = self.load_signal(operation("D", throttle=throttle))
        speed = self._speed_at(p.shift_spring[:, 0] + p.shift_load[:, 0] * signal)
        speed = np.where(p.shift_stuck[:, 0] > 0.5, np.inf, speed)
        return np.maximum.accumulate(speed, axis=1)

    def downshift_speeds(self):
        """Road speed [m/s] of each downshift with the pedal released, (n, S); 0 where it stays up to a stop."""
        p = self.p
        signal = self.load_signal(operation("D"))
        valve = (p.shift_spring[:, 0], p.shift_load[:, 0], signal, p.shift_hysteresis[:, 0])
        speed = self._speed_at(shift_control.downshift_pressure(*valve))
        return np.where(np.isfinite(self.upshift_speeds(0.0)), np.minimum(speed, TOP_SPEED), 0.0)

    def kickdown_speeds(self):
        """Highest road speed [m/s] at which the pedal on the floor fetches the lower gear, (n, S); 0 where it never does."""
        p = self.p
        fetched = p.shift_kickdown[:, 0] * (p.signal_kickdown > 0.5) * (p.governor_gear > 0.5)
        fetched = np.where(self._speed_at(p.shift_spring[:, 0]) > 0.0, fetched, 0.0)
        pulled = shift_control.cable_signal(1.0, p.signal_travel, p.signal_slack, p.signal_pull)
        fetched = np.where((p.signal_cable_fitted > 0.5) & (pulled < LAST_OF_CABLE), 0.0, fetched)
        return np.where(np.isfinite(self.upshift_speeds(1.0)), fetched, 0.0)

    def _gear(self, op: Operation, signal):
        """Row of the gear table at each point: the lever's gears, chosen by the shift valves."""
        p, pressure = self.p, self.governor(op.road_speed)
        ups, free = np.zeros(pressure.shape, int), np.ones(pressure.shape, bool)
        for s in range(len(self.unit.shifts)):
            asked = p.shift_spring[..., s] + p.shift_load[..., s] * signal
            free &= (pressure > asked) & (p.shift_stuck[..., s] < 0.5)
            ups += free
        table = [[self.unit.gear_index(g) for g in self.unit.levers[lever]] for lever in op.lever]
        longest = max(len(row) for row in table)
        rows = np.array([row + [row[-1]] * (longest - len(row)) for row in table])
        return rows[np.arange(len(table)), np.minimum(ups, longest - 1)]

    # ------------------------------------------------------------------ engine and converter
    def engine_torque(self, throttle, speed):
        """Torque [N m] of the engine at a throttle opening and speed."""
        peak, *speeds = self._engine(throttle)
        return engine.engine_torque(speed, peak, *speeds) * engine.choked_torque_share(
            self.exhaust(speed, throttle)
        )

    def _engine(self, throttle):
        """The engine at a throttle opening: its largest torque [N m], and the speeds [rad/s] of that and without load."""
        p = self.p
        opened = 1.0 - (1.0 - throttle) ** p.engine_pedal
        best = p.engine_best_speed
        return (
            p.engine_torque * p.engine_health * opened,
            engine.peak_speed(best, throttle),
            engine.free_speed(best, throttle),
        )

    def _drive(self, op: Operation, gear, goal, worn) -> tuple[Drive, np.ndarray]:
        """Engine and converter at each point, (n, m), and whether the lock-up clutch is commanded on; worn (n, 1): its char."""
        p, throttle = self.p, self.throttle(op)
        on = self._locks(op, gear)
        pedal = (throttle > 0.0) & np.isnan(op.engine_speed)
        peak, best, free = self._engine(throttle)
        capacity = p.converter_capacity * (1.0 + p.converter_stator_load * p.converter_stator_slip)
        stall = 1.0 + (p.converter_stall_ratio - 1.0) * (1.0 - p.converter_stator_slip)
        lockup = on * pedal * self._lockup_grip(goal, worn)
        each = {
            "peak_torque": peak,
            "peak_speed": best,
            "free_speed": free,
            "choke": self.exhaust(1.0, throttle) / engine.TORQUE_PRESSURE,
            "idle": p.engine_idle,
            "given": op.engine_speed,
            "capacity": capacity,
            "coupling": p.converter_coupling,
            "stall_ratio": stall,
            "stator_lock": p.converter_stator_lock * (lockup == 0.0),  # locked, no fluid goes round
            "lockup": lockup,
        }
        return Drive(**{name: np.broadcast_to(value, gear.shape) for name, value in each.items()}), on

    def _locks(self, op: Operation, gear):
        """Whether the lock-up clutch is commanded on, (n, m)."""
        p = self.p
        cruising = (
            self.lockup_gears[gear] & (op.road_speed > p.lockup_speed) & (self.throttle(op) < LOCKUP_PEDAL)
        )
        return (p.lockup_fitted > 0.5) & (
            cruising | ((p.lockup_stuck > 0.5) & (np.abs(self.ratio[gear]) > 0))
        )

    def _lockup_grip(self, goal, worn):
        """Torque [N m] that the lining of the lock-up clutch holds."""
        p = self.p
        mu = p.wear_friction * p.wear_fluid_friction * p.lockup_lining * (1.0 - CHARRED_GRIP * worn)
        return mu * goal * self.lockup_share() * p.lockup_area * p.lockup_radius

    def lockup_share(self):
        """Share of the line pressure that stands behind the lock-up piston.

        Its ring takes the rest, the more the narrower the orifice that feeds it, and so does a worn bore of its valve.
        """
        p = self.p
        return 1.0 / (1.0 + LOCKUP_RING * p.lockup_leak / np.maximum(p.lockup_orifice, TINY) + p.lockup_bore)

    def _idle_torque(self):
        """Turbine torque [N m] while standing in gear at idle."""
        p = self.p
        return converter.pump_torque(p.engine_idle, 0.0, p.converter_capacity) * p.converter_stall_ratio

    # ------------------------------------------------------------------ leaks, goal and grip
    def seal_hardness(self, condition: Condition):
        """Hardness of each piston lip, (n, 1, E): 0 supple, 1 hard; below 0 swollen and soft."""
        hard = np.minimum(condition.seal + self.p.element_seal_set, 1.0)
        return hard - self.p.fluid_swell[..., None]

    def leak_factor(self, condition: Condition, lip_states, viscosity, column):
        """Leak of circuits against sound ones at that temperature: rings on worn bushings, the lip; (n, m).

        column: one element, or one for each of the m.

        lip_states: `circuit.lip_states` of the temperature.
        """
        p = self.p
        hardness = self.seal_hardness(condition)[:, 0].take(np.atleast_1d(column), -1)
        hot, cold = lip_states
        lip = hydraulics.lip_leak(
            np.maximum(hardness, 0.0), hot, cold, viscosity, p.line_seal_leak, p.line_lip_lift
        )
        torn = LIP_LOST * np.maximum(-hardness, 0.0) ** 2
        return (lip + torn) * (1.0 + p.line_bushing_leak * condition.bushing)

    def solid(self, condition: Condition, column: int):
        """Torque [N m] a one-way clutch bears, (n, 1): nothing when fitted backwards."""
        p = self.p
        sound = 1.0 - condition.holding[..., column]
        return p.element_holding_torque[..., column] * sound * (1.0 - p.element_reversed[..., column])

    def set_pressure(self, signal, reverse):
        """Pressure [Pa] the regulator aims at."""
        p = self.p
        asked = p.line_base * p.line_spring + p.line_boost * p.line_answer * signal
        return asked * (1.0 + p.line_reverse_gain * p.line_reverse_share * reverse)

    def clearance(self, condition: Condition):
        """Running clearance of each element [m]: set-up, lining gone, and steels worn and coned (n, 1, E)."""
        p = self.p
        travel = np.where(self.is_band, p.element_wrap, p.element_faces)
        coned = p.wear_steel_warp[..., None] * condition.char * ~self.is_band
        return p.element_clearance + condition.lining * travel + coned

    # ------------------------------------------------------------------ the whole point
    def operate(
        self, condition: Condition, op: Operation, weight=None, guess=None, *, start=FROM_COLD
    ) -> Workings:
        """Everything that happens at the points `op` to vehicles in `condition`.

        Where `op.temperature` is NaN the sump temperature follows from the heat balance over those points, each counted with
        `weight` (n, m) or equally: the lowest at which it stays, searched from `start` [K], (n, m) or one for all; see
        `steady`. guess: temperatures [K], (n, m), to take instead; `Workings.settled` says what they lead to.
        """
        op = op.astype(self.dtype)
        free = np.isnan(op.temperature)
        shape = (self.p.pump_displacement.shape[0], len(op.lever))
        weight = np.broadcast_to((1.0 if weight is None else weight) * free, shape).astype(self.dtype)
        first = np.where(free, start if guess is None else guess, op.temperature)
        first = np.broadcast_to(first, shape).astype(self.dtype)
        if guess is None and free.any():
            return self._steady(condition, op, first, weight)
        return self._point(condition, op, first, weight)

    def _steady(self, condition: Condition, op: Operation, first, weight) -> Workings:
        """The workings at the sump temperature that stays."""
        whole: Workings | None = None

        def lead(rows, warm):
            nonlocal whole
            some = self if len(rows) == len(first) else self.rows(rows)
            work = some._point(condition.rows(rows), op, warm, weight[rows])
            if whole is None:
                whole = work.copy()
            else:
                whole.put(rows, work)
            return work.settled

        lowest_balance(lead, first, np.isnan(op.temperature))
        assert whole is not None
        return whole

    def _lasts(self, op: Operation, gear):
        """How many times as long it takes to set off in a gear as in the lowest of its lever, (n, m)."""
        lowest = np.array(
            [abs(self.ratio[self.unit.gear_index(self.unit.levers[lever][0])]) for lever in op.lever]
        )
        off = (op.road_speed > 0.0) & (op.road_speed < SETTING_OFF)
        return np.where(off, np.maximum(lowest / np.maximum(np.abs(self.ratio[gear]), TINY), 1.0), 1.0)

    def _settled(self, gain, loss, weight):
        """Sump temperature [K] that heat and its ways out lead to at each point: the mean of the duty, and the pull of the point.

        gain [W] into the fluid, heat from the sinks included; loss [W/K].
        """
        total = np.maximum((weight * loss).sum(-1, keepdims=True), TINY)
        mean = (weight * gain).sum(-1, keepdims=True) / total
        pull = np.clip(self.p.heat_short_visit * (gain / loss - mean), -MOST_PULL, MOST_PULL)
        return mean + pull

    def _turning(self, drive: Drive, gear, road):
        """Engine and turbine speed [rad/s] where nothing slips; in neutral the turbine goes with the engine."""
        ratio = np.abs(self.ratio[gear])
        speed = drive.free(ratio * road)
        return speed.astype(self.dtype), np.where(ratio > 0, np.minimum(ratio * road, speed), speed).astype(
            self.dtype
        )

    def _point(self, condition: Condition, op: Operation, temperature, weight) -> Workings:
        p = self.p
        signal = self.load_signal(op).astype(self.dtype)
        gear = self._gear(op, signal)
        reverse = self.ratio[gear] < 0
        goal = self.set_pressure(signal, reverse).astype(self.dtype)
        drive, locked = self._drive(op, gear, goal, condition.lockup)
        road = np.broadcast_to(op.road_speed / p.vehicle_tire_radius * p.vehicle_axle, gear.shape)
        speed, turbine = self._turning(drive, gear, road)
        torque, taken = (x.astype(self.dtype) for x in drive.torques(speed, turbine))
        lock_slip = locked * (speed - turbine)
        lock_power = lock_slip * drive.lining(speed, taken - np.minimum(taken, drive.lockup))
        _, viscosity = self.viscosity(condition, temperature)
        density = fluid.density(temperature, p.fluid_density_15c)
        height = self.height(condition, temperature, pump.geometric_flow(p.pump_displacement, speed))
        flow = self.pump_flow(condition, speed, viscosity, density)
        air, fine = self._air_time(op, height, flow, viscosity)
        inner = (
            pump.slip_conductance(p.pump_slip, viscosity, 1.0 + condition.pump) + p.line_body_leak / viscosity
        )
        astray = ((1.0 - op.nudged) * np.ones_like(temperature)).astype(self.dtype)
        lifted = (p.vehicle_mount_lift * p.vehicle_mount_port * self.twist(op)).astype(self.dtype)
        ports = astray, np.broadcast_to(lifted, astray.shape)
        elements = Elements(self, condition, gear, ports, temperature, viscosity, density)
        line, fed = line_balance(elements.circuits, goal, flow, inner, (p.line_droop, p.line_nominal_flow))
        bears = elements.bears(elements.circuits, fed, gear, temperature)
        upshifted = self.before[gear] > 0
        pulling = np.where(upshifted, torque, np.minimum(torque, self._idle_torque()))
        gap = turbine * np.maximum(self.before[gear] / np.maximum(np.abs(self.ratio[gear]), TINY) - 1.0, 0.0)
        gap = np.where(upshifted, gap, p.engine_idle).astype(self.dtype)
        refill = op.cold_soaked * sump.refill_time(p.sump_night_drain, flow, inner * line, LONGEST_REFILL)
        refill = np.broadcast_to(refill + SPONGY * air, gear.shape)
        applied = elements.come_on(line, fed, bears, pulling.astype(self.dtype), gap, refill)
        supply = Supply(goal, flow, inner, line, fed, bears)
        runs = Phases(self, elements, drive, road, supply, air, (speed, torque, taken, turbine)).run()
        mean, power = runs.line, runs.power
        drag, tie_up = elements.fight(line, turbine, torque)
        dragged = np.where(op.throttle > 0.0, np.minimum(drag.sum(0), runs.pull * turbine), drag.sum(0))
        drag = drag * (dragged / np.maximum(drag.sum(0), TINY))
        spill = self._spill(mean, goal, runs.flow)
        cooler = (
            np.minimum(spill * p.heat_cooler_share, p.heat_cooler_flow_max)
            * p.heat_cooler_open
            * p.heat_line_open
        )
        warms = (
            runs.converter_loss
            + pump.hydraulic_power(mean, runs.flow)
            + p.heat_churning * runs.speed**2
            + power.sum(0)
            + dragged
        )
        carried = heat.cooler_conductance(
            cooler * density, p.fluid_specific_heat, p.heat_cooler_ua * p.heat_cooler_air
        )
        shed = p.heat_case_still + p.heat_case_moving * op.road_speed
        gain = warms + carried * p.heat_cooler_sink + shed * p.heat_ambient
        per_element = {
            "circuit": runs.fed,
            "capacity": runs.bears,
            "held": runs.held,
            "slip_power": power,
            "drag_power": drag,
            "delay": applied.delay,
            "flare": applied.flare,
            "bump": applied.bump,
            "slide": applied.slip_time,
            "overlap": applied.tie_up,
            "shift_heat": applied.heat,
        }
        free = np.isnan(op.temperature)
        settled = self._settled(gain, carried + shed, weight * self._lasts(op, gear))
        settled = np.where(free, settled, temperature)
        shaken = np.maximum(elements.judder(applied.slip_time), self._lock_judder(lock_slip))
        return Workings(
            temperature=temperature,
            height=height,
            air_time=air,
            signal=signal,
            gear=gear,
            engine_speed=runs.speed,
            engine_power=runs.engine_power,
            converter_loss=runs.converter_loss,
            turbine_torque=torque,
            line_phase=np.stack([runs.drawing, runs.gulping]),
            line=mean,
            line_low=np.where(
                air > 0,
                np.minimum(mean, runs.drawing - (runs.drawing - runs.gulping) * self._swing(fine)),
                mean,
            ),
            spill=spill,
            loss=runs.loss,
            slip=runs.surplus,
            tie_up=tie_up,
            judder=np.maximum(shaken, MISFIRE_SHAKES * p.engine_misfire * self.throttle(op)),
            lockup_on=locked.astype(self.dtype),
            lockup_slip=lock_slip,
            lockup_power=lock_power,
            exhaust=self.exhaust(runs.speed, self.throttle(op)),
            drive_torque=np.abs(self.ratio[gear])
            * np.maximum(runs.pull - dragged / np.maximum(turbine, TINY), 0.0),
            heat=warms,
            cooler_flow=cooler,
            cooler_conductance=carried,
            case_conductance=shed,
            settled=settled,
            boils_over=boils_over(day_mean(temperature, free), day_mean(settled - temperature, free)),
            clearance=elements.clearance,
            **{name: np.moveaxis(value, 0, -1) for name, value in per_element.items()},
        )

    def _swing(self, fine):
        """Share of the fall of pressure in a gulp that the needle of a gauge follows; fine bubbles come and go too fast for it."""
        lasts = self.p.sump_gulp_time / self.p.sump_gauge_lag
        return -fine * np.expm1(-FINE * lasts) - (1.0 - fine) * np.expm1(-lasts)

    def _spill(self, line, goal, flow):
        """Flow [m3/s] the regulator lets go to converter and cooler, no more than the pump brings."""
        p = self.p
        spill = p.line_nominal_flow * (1.0 + (line / goal - 1.0) / p.line_droop)
        return np.clip(spill, 0.0, np.maximum(flow, TINY))

    def _lock_judder(self, slip):
        """How much a sliding lock-up lining shakes the vehicle."""
        return (LOCKUP_SHAKES + self.p.fluid_judder) * np.minimum(slip / SHAKING_SLIP, 1.0)
