"""One operating point of a vehicle: fluid, signals, engine, oil pressures, torques, slip and heat, for driving and testing alike.

Its steps: `controls` (pedal and lever to gear and pressures), `powertrain` (to turbine torque), `oil_supply` (sump and pump),
`elements` and `holding` (pressure, grip and slip in both phases of the oil), `heat_balance`. Shapes: n vehicles, m operating
points, E holding elements. Everything of one point has shape (n, m); elements stand last in what is handed out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.vehicle.command import Command, Electric
from course_lib.vehicle.control_face import Controls
from course_lib.vehicle.electronic_controls import ElectronicControls
from course_lib.vehicle.elements import Elements
from course_lib.vehicle.heat_balance import Heat, HeatBalance
from course_lib.vehicle.holding import Holding, hold
from course_lib.vehicle.hydraulic_controls import HydraulicControls
from course_lib.vehicle.oil_supply import Oil, OilSupply
from course_lib.vehicle.operating_point import Condition, Operation, Workings
from course_lib.vehicle.powertrain import FreeRun, Powertrain
from course_lib.vehicle.sump_balance import FROM_COLD, boils_over, day_mean, lowest_balance
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

MISFIRE_SHAKES = 12.0
SEEN = 0.5  # share of time from which a turbine speed counts as seen


@dataclass(frozen=True, slots=True)
class _Steps:
    """What each step of an operating point came to."""

    command: Command
    run: FreeRun
    oil: Oil
    holding: Holding
    heat: Heat


class Plant(Vehicles):
    """A batch of vehicles of one unit, and what they do in a given condition."""

    @property
    def controls(self) -> Controls:
        """What makes gear and pressures of pedal and lever."""
        return self.hydraulic_controls if self.unit.control is None else self.electronic_controls

    @property
    def hydraulic_controls(self) -> HydraulicControls:
        """Load signal, governor and shift valves, of a unit that has them."""
        return HydraulicControls(self)

    @property
    def electronic_controls(self) -> ElectronicControls:
        """Controller, wires and solenoids, of a unit that has them."""
        return ElectronicControls(self)

    @property
    def powertrain(self) -> Powertrain:
        """Engine, converter and lock-up clutch."""
        return Powertrain(self)

    @property
    def oil(self) -> OilSupply:
        """Fluid, sump and pump."""
        return OilSupply(self)

    @property
    def heat_balance(self) -> HeatBalance:
        """Heat into the fluid, and its ways out."""
        return HeatBalance(self)

    def operate(
        self,
        condition: Condition,
        op: Operation,
        weight: Values | None = None,
        guess: Values | None = None,
        *,
        start: Values = FROM_COLD,
    ) -> Workings:
        """Everything that happens at the points `op` to vehicles in `condition`.

        Where `op.temperature` is NaN the sump temperature follows from the heat balance over those points, each counted with
        `weight` (n, m) or equally: the lowest at which it stays, searched from `start` [K], (n, m) or one for all; see
        `sump_balance`. guess: temperatures [K], (n, m), to take instead; `Workings.settled` says what they lead to.
        """
        op = op.astype(self.dtype)
        free = np.isnan(op.temperature)
        shape = (self.p.pump_displacement.shape[0], len(op.lever))
        weight = np.broadcast_to((1.0 if weight is None else weight) * free, shape).astype(self.dtype)
        first = np.where(free, start if guess is None else guess, op.temperature)
        first = np.broadcast_to(first, shape).astype(self.dtype)
        if guess is None and free.any():
            return self._steady(condition, op, first, weight)
        return self.at_temperature(condition, op, first, weight)

    def _steady(self, condition: Condition, op: Operation, first: Array, weight: Array) -> Workings:
        """The workings at the sump temperature that stays."""
        whole: Workings | None = None

        def lead(rows: Places, warm: Array) -> Array:
            nonlocal whole
            some = self if len(rows) == len(first) else self.rows(rows)
            work = some.at_temperature(condition.keep(rows), op, warm, weight[rows])
            if whole is None:
                whole = work.copy()
            else:
                whole.put(rows, work)
            return work.settled

        lowest_balance(lead, first, np.isnan(op.temperature))
        assert whole is not None
        return whole

    def at_temperature(
        self, condition: Condition, op: Operation, temperature: Array, weight: Array
    ) -> Workings:
        """One pass at given sump temperatures [K], (n, m), step by step."""
        command = self.controls.command(op, condition, temperature)
        run = self.powertrain.free_run(op, command, condition.lockup)
        oil = self.oil.oil(condition, op, temperature, (run.speed, command.goal))
        elements = Elements(self, condition, command, oil)
        holding = hold(elements, op, command, run)
        heat = self.heat_balance.heat(op, command, weight, oil, holding.runs, holding.dragged)
        return self._workings(_Steps(command, run, oil, holding, heat), elements, np.isnan(op.temperature))

    def _workings(self, steps: _Steps, elements: Elements, free: Flags) -> Workings:
        """All steps as one record; free (m,): the points whose sump temperature follows from the balance."""
        command, run, oil, holding, heat = steps.command, steps.run, steps.oil, steps.holding, steps.heat
        runs, warmer = holding.runs, heat.settled - oil.temperature
        return Workings(
            temperature=oil.temperature,
            height=oil.height,
            air_time=oil.air,
            signal=command.signal,
            gear=command.gear,
            engine_speed=runs.speed,
            engine_power=runs.engine_power,
            converter_loss=runs.converter_loss,
            line_phase=np.stack([runs.drawing, runs.gulping]),
            line_low=self._line_low(steps),
            line=runs.line,
            goal=command.goal,
            loss=runs.loss,
            slip=runs.surplus,
            tie_up=holding.tie_up,
            judder=self._judder(steps, elements),
            exhaust=self.exhaust(runs.speed, command.throttle),
            drive_torque=self._drive_torque(steps),
            boils_over=boils_over(day_mean(oil.temperature, free), day_mean(warmer, free)),
            clearance=elements.clearance,
            electric=self._measured(steps),
            **_of_run(run),
            **_of_heat(heat),
            **_by_element(holding),
            circuit=np.moveaxis(elements.circuit_pressures(runs.fed, runs.line), 0, -1),
        )

    def _line_low(self, steps: _Steps) -> Array:
        """Low end [Pa] of the swing of a gauge's needle, where the pump gulps air."""
        runs, oil = steps.holding.runs, steps.oil
        fall = (runs.drawing - runs.gulping) * self.oil.needle_swing(oil.fine)
        return np.where(oil.air > 0, np.minimum(runs.line, runs.drawing - fall), runs.line)

    def _drive_torque(self, steps: _Steps) -> Array:
        """What reaches the wheels' side of the gear train [N m]; what drags takes from it, at most to a stall."""
        lost = steps.holding.dragged / np.maximum(steps.run.turbine, TINY)
        left = np.maximum(steps.holding.runs.pull - lost, 0.0)
        reaches: Array = np.abs(self.ratio[steps.command.gear]) * left
        return reaches

    def _measured(self, steps: _Steps) -> Electric | None:
        """What the controller knows, with the turbine as fast as it turns in the end."""
        electric = steps.command.electric
        if electric is None:
            return None
        turbine = (steps.run.turbine + steps.holding.runs.surplus) * (electric.turbine_seen > SEEN)
        return replace(electric, believed_turbine=turbine.astype(self.dtype))

    def _judder(self, steps: _Steps, elements: Elements) -> Array:
        """How much it shakes: plates that come on, a sliding lock-up lining, an engine that misses."""
        plates = elements.judder(steps.holding.applied.slip_time)
        shaken = np.maximum(plates, self.powertrain.lock_judder(steps.run.lock_slip))
        misfire = MISFIRE_SHAKES * self.p.engine_misfire * steps.command.throttle
        worst: Array = np.maximum(shaken, misfire)
        return worst


def _of_run(run: FreeRun) -> dict[str, Array]:
    """What `Workings` says of turbine and lock-up clutch, (n, m)."""
    return {
        "turbine_torque": run.torque,
        "lockup_on": run.locked.astype(run.torque.dtype),
        "lockup_slip": run.lock_slip,
        "lockup_power": run.lock_power,
    }


def _of_heat(heat: Heat) -> dict[str, Array]:
    """What `Workings` says of heat and cooler, (n, m)."""
    return {
        "spill": heat.spill,
        "heat": heat.warms,
        "cooler_flow": heat.cooler,
        "cooler_conductance": heat.carried,
        "case_conductance": heat.shed,
        "settled": heat.settled,
    }


def _by_element(holding: Holding) -> dict[str, Array]:
    """What `Workings` says of each element, (n, m, E)."""
    runs, applied = holding.runs, holding.applied
    values = {
        "capacity": runs.bears,
        "held": runs.held,
        "slip_power": runs.power,
        "drag_power": holding.drag_power,
        "delay": applied.delay,
        "flare": applied.flare,
        "bump": applied.bump,
        "slide": applied.slip_time,
        "overlap": applied.tie_up,
        "shift_heat": applied.heat,
    }
    return {name: np.moveaxis(value, 0, -1) for name, value in values.items()}
