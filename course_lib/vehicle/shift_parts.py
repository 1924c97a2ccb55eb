"""What the parts of a vehicle make of a shift: its valves, the fill of its pistons, what its elements hold.

Shapes: n vehicles, K shifts. Pressures are those behind a valve. What a valve gives without current or with all of it, and whether
the manual valve goes past it, is asked of the controls: it holds every fault of wires and supply.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import fluid, handover, hydraulics, solenoid
from course_lib.vehicle.command import Asked, Command, Electric
from course_lib.vehicle.control_tables import ControlTables, control_tables
from course_lib.vehicle.elements import LONGEST_FILL, Elements
from course_lib.vehicle.grip import grip
from course_lib.vehicle.holding import SPONGY
from course_lib.vehicle.oil_circuits import Pairs, line_balance
from course_lib.vehicle.operating_point import Condition, new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shift_kinds import NOTHING, ShiftKind
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters
from course_lib.vehicle.vehicle_batch import TINY

PRESS = 1e5  # Pa above its spring's, at which the grip of an element is taken
SLOWEST_FILL = 1e-7  # m3/s of a fill that comes to no end


@dataclass(frozen=True, slots=True)
class Valve:
    """The valves of the elements that come on, (n, K): from the pressure that is wanted to the one that comes.

    believed, true: the controller's and the solenoid's own zero current, full current and full pressure; low, high [Pa]: what
    comes without an order and with the highest; given: it comes at once and whole, whatever is wanted.
    """

    believed: tuple[Array, ...]
    true: tuple[Array, ...]
    bore: Array
    hysteresis: Array
    thickness: Array
    low: Array
    high: Array
    given: Flags

    def gives(self, wanted: Array) -> Array:
        """Pressure [Pa] behind the valve."""
        asked = solenoid.linear_pressure(solenoid.wanted_current(wanted, *self.believed), *self.true)
        came = solenoid.valve_pressure(asked, self.bore, self.hysteresis, self.thickness)
        return np.where(self.given, self.high, np.clip(came, self.low, np.maximum(self.high, self.low)))

    def takes(self, pressure: Array) -> Array:
        """Pressure [Pa] to be wanted for one behind the valve: `gives` the other way round, with a sound solenoid."""
        leak = self.bore * np.minimum(1.0 / self.thickness, solenoid.MOST_THINNING)
        wanted: Array = (pressure + self.hysteresis) * (1.0 + leak)
        return wanted


class ShiftParts:
    """The parts of n vehicles at the shifts of a kind, in a sump of `warm` (n, K) K."""

    def __init__(
        self, plant: Plant, condition: Condition, kind: ShiftKind, warm: Array, acting: float
    ) -> None:
        self.plant, self.condition, self.kind, self.warm = plant, condition, kind, warm
        self.tables: ControlTables = control_tables(plant.unit)
        op = kind.operation(acting).astype(plant.dtype)
        pressure = np.full((*warm.shape, len(plant.unit.elements)), np.nan, plant.dtype)
        pressure[:, np.arange(len(kind.on)), kind.on] = plant.p.control_line_full
        asked = Asked(gear=kind.new, pressure=pressure)
        self.after = plant.electronic_controls.command(op, condition, warm, asked)
        before = replace(self.after, gear=np.broadcast_to(kind.old, warm.shape))
        self.run = plant.powertrain.free_run(op, before, condition.lockup)
        self.oil = plant.oil.oil(condition, op, warm, (self.run.speed, self.after.goal))
        self.thickness: Array = plant.viscosity(condition, warm)[0] / plant.hot_viscosity
        self.elements = Elements(plant, condition, self.after, self.oil)
        self.each = self.elements.opened(self.after, np.arange(len(kind.on)), kind.on)
        regulator = (plant.p.line_droop, plant.p.line_nominal_flow)
        circuits = self.elements.circuits
        self.line: Array = line_balance(circuits, self.after.goal, self.oil.flow, self.oil.inner, regulator)[
            0
        ]
        self.valve = self._valve()

    # ------------------------------------------------------------------ valves
    def valve_at(self, place: Places, column: Places) -> Array:
        """Pressure [Pa] behind the valve of each element in the gear to which the shift at `place` leads; 0 where there is none."""
        electric, which = electric_of(self.after), solenoids_of(self.tables, column)
        pressure: Array = electric.pressure[:, place, which] * ((place != NOTHING) & (column != NOTHING))
        return np.minimum(pressure, self.line)

    def _levers(self) -> Places:
        levers = list(self.plant.unit.levers)
        return np.array([levers.index(lever) for lever in self.kind.lever])

    def _valve(self) -> Valve:
        """The valves of what comes on."""
        p, t, k, which = self.plant.p, self.tables, self.kind, solenoids_of(self.tables, self.kind.on)
        lifted = t.lifted[self._levers(), k.on]
        here = np.arange(len(k.on))
        high = np.where(lifted, self.line, self.valve_at(here, k.on))
        law = "zero_current", "full_current", "full_pressure"
        whole = lifted | t.switched[which] | ~electric_of(self.after).relay_on
        return Valve(
            believed=tuple(t.law(name)[which].astype(self.plant.dtype) for name in law),
            true=tuple(getattr(p, f"solenoid_{name}")[:, 0, which] for name in law),
            bore=p.solenoid_bore[:, 0, which],
            hysteresis=p.solenoid_hysteresis[:, 0, which],
            thickness=self.thickness,
            low=np.where(whole, 0.0, self.valve_at(k.freed, k.on)),
            high=high,
            given=whole,
        )

    def lag(self) -> Array:
        """Seconds that the valve of what comes on is late."""
        lag: Array = self.plant.p.solenoid_lag[:, 0, solenoids_of(self.tables, self.kind.on)]
        return lag

    # ------------------------------------------------------------------ what comes on
    def spring(self) -> Array:
        """Pressure [Pa] at which its piston begins to press."""
        p, own = self.plant.p, self.each.own
        room = own(self.elements.clearance) / own(p.element_stroke)
        spring: Array = own(p.element_spring_force) * (1.0 + 0.5 * room) / self._area()
        return spring

    def _area(self) -> Array:
        p, own, reverse = self.plant.p, self.each.own, self.plant.ratio[self.kind.new] < 0.0
        area: Array = own(p.element_piston_area) + own(p.element_reverse_area) * reverse
        return area

    def fill_need(self, fill_pressure: Array) -> Array:
        """Seconds that its piston needs to the plates at a pressure [Pa] behind the valve.

        What leaks takes from the flow, air in the fluid is squeezed first, and a lip that is hard and cold does not seat at once.
        """
        c, spring = self.each, self.spring()
        volume = self._area() * np.maximum(c.own(self.elements.clearance), 0.0)
        flow = c.feed * c.jet * np.sqrt(np.maximum(np.minimum(fill_pressure, self.line) - spring, 0.0))
        flow = flow - c.leak * spring - c.hole * c.jet * np.sqrt(spring)
        fill = handover.fill_time(volume, np.maximum(flow, SLOWEST_FILL), self.thickness)
        waits = self.lag() + SPONGY * self.oil.air + self.elements.seating(c)
        return np.minimum(fill + waits, LONGEST_FILL)

    def gain(self) -> Array:
        """What it holds at the turbine for each pascal past its spring [N m/Pa]; hardly anything where its plates are gone."""
        gain: Array = np.maximum(self.holds(self.each, self.spring() + PRESS, new=True) / PRESS, TINY)
        return gain

    def most(self) -> Array:
        """What it holds at the turbine with its valve wide open [N m]."""
        c = self.each
        fed = hydraulics.fed_pressure(self.line, c.feed, c.leak, c.hole, c.jet)
        return self.holds(c, np.minimum(fed, self.valve.high), new=True)

    # ------------------------------------------------------------------ what lets go
    def lets_go(self) -> tuple[Array, Array]:
        """What it holds at the turbine before and after [N m]; 0 where nothing lets go."""
        each = Pairs(self.each.rows, self.kind.off, self.each.point)
        here = np.arange(len(self.kind.off))
        pressed = self.valve_at(self.kind.held, self.kind.off), self.valve_at(here, self.kind.off)
        there = self.kind.off != NOTHING
        first, last = (self.holds(each, pressure, new=False) * there for pressure in pressed)
        return first, np.minimum(first, last)

    def holds(self, each: Pairs, pressure: Array, *, new: bool) -> Array:
        """What elements hold at the turbine [N m] at a pressure [Pa], with their share in the new or the old gear."""
        v, gear = self.plant, self.kind.new if new else self.kind.old
        reverse = np.broadcast_to((v.ratio[gear] < 0.0).astype(v.dtype), pressure.shape)
        held = grip(v, self.condition, self.elements.clearance, each, pressure, self.warm, reverse)
        share = v.share[gear, each.column]
        return held / np.where(share > 0.0, share, 1.0)


def solenoids_of(tables: ControlTables, columns: Places) -> Places:
    """Place on the solenoid axis of what works on each of some elements."""
    places: Places = np.argmax(tables.works_on == columns[:, None], axis=-1)
    return places


@cache
def _sound(unit: UnitSpec) -> Plant:
    """One sound new vehicle."""
    return Plant(unit, nominal_parameters(unit, signal=unit.signals[0]))


def planned_fill(unit: UnitSpec, columns: Places, temperature: Array) -> Array:
    """Seconds that the pistons of the elements `columns` of a sound new unit need, in a sump as warm [K], both (n, K)."""
    v, p = _sound(unit), _sound(unit).p
    kinematic, viscosity = v.viscosity(new_condition(1, unit), temperature)
    jet = np.sqrt(2.0 / fluid.density(temperature, p.fluid_density_15c))

    def own(value: Array) -> Array:
        mine: Array = value[0, 0, columns]
        return mine

    area, clearance = own(p.element_piston_area), own(p.element_clearance)
    spring = own(p.element_spring_force) * (1.0 + 0.5 * clearance / own(p.element_stroke)) / area
    flow = p.line_discharge * own(p.element_feed_area) * jet * np.sqrt(p.control_fill_pressure - spring)
    flow = flow - own(p.element_leak) / viscosity * spring
    fill = handover.fill_time(area * clearance, flow, kinematic / v.hot_viscosity)
    late = p.solenoid_lag[0, 0, solenoids_of(control_tables(unit), columns)]
    planned: Array = np.minimum(fill + late, LONGEST_FILL)
    return planned


def electric_of(command: Command) -> Electric:
    """What an electronic control knows of itself. Raises ValueError where the control is hydraulic."""
    if command.electric is None:
        raise ValueError("a shift is followed in time where a controller orders it, got hydraulic controls.")
    return command.electric
