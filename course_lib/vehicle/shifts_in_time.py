"""Shifts of an electronic unit in time: what the controller orders, what the vehicle's parts make of it, and how that goes.

The controller goes by the numbers of a sound new unit and by what it has learned; `shift_parts` has what the vehicle really is.
Shapes: n vehicles, m operating points, K shifts, E elements.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import DTypeLike

from course_lib.base.arrays import Array, Flags, Places, Values
from course_lib.physics import handover
from course_lib.physics.handover import Handover, OffGoing, OnComing, ShiftOrders, Turning
from course_lib.vehicle.actions import actions
from course_lib.vehicle.adaptation import learned
from course_lib.vehicle.duty_cycle import SETTING_OFF
from course_lib.vehicle.elements import LONGEST_FILL, LONGEST_SLIDE, MOST_RUN_UP, plates_shake
from course_lib.vehicle.operating_point import Condition, Operation, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shift_kinds import LIVED, Kind, ShiftKind, shift_kind
from course_lib.vehicle.shift_parts import ShiftParts, electric_of, planned_fill
from course_lib.vehicle.unit_spec import UnitSpec

Part = TypeVar("Part", ShiftOrders, OnComing, OffGoing, Turning)

TORQUE_PHASE, GOAL, TIME_OUT = 0.15, 0.45, 0.95  # s: of a shift as it is meant; then full pressure, fitted
PASSES, USUAL = (
    0.12,
    6e5,
)  # share of the line that flow forces press past a spool, beyond that many Pa above its own, fitted
TUGS = 6.0  # a tug under way is felt so many times as much as one while setting off, fitted
RISE = 1.2  # s in which a circuit that nothing regulates fills up to the line past its orifice, fitted
SHORT = 0.003  # s by which a fill is meant to fall short, so that the plates touch with the ramp and not before, fitted
RELEASE_DELAY, RELEASE_TIME = (
    0.02,
    0.09,
)  # s: after the fill the other element begins to let go, and takes so long, fitted
MORNING = 290.0  # K, under which the fluid is as cold as in the first shifts of a day
SPARE = 1.25  # times its load that the element which lets go holds at first


@dataclass(frozen=True, slots=True, kw_only=True)
class Shifts:
    """The shifts of an owner's day, `Handover`s of arrays (n, K): upshifts with a light pedal, the first of a cold morning, and
    from neutral to drive and reverse.

    fill (n, 1, E) s and pressure (n, 1, S) Pa: the learned changes with which they would go as they are meant.
    """

    up: Handover
    cold: Handover
    rest: Handover
    fill: Array
    pressure: Array

    def of(self, kind: Kind) -> Handover:
        """Those of a kind."""
        found: Handover = getattr(self, kind)
        return found


def shifts_in_time(plant: Plant, condition: Condition, sump: Values, acting: float = 1.0) -> Shifts:
    """The shifts of an owner's day; sump K, (n, 1) or one for all: of the day. acting: 1 the controller acts on its codes.

    Where it has taken the relay off, nothing is shifted but by the lever, and nothing is learned.
    """
    scene = ShiftScene(plant, condition, sump, acting, *LIVED)
    up, cold, rest = _apart(scene.follow(), plant.unit, LIVED)
    learns = ~(actions(condition.memory, plant.unit).relay_off[..., None] & (acting > 0.0))
    fill, pressure = (np.where(learns, each, 0.0) for each in (scene.fill_wanted(), scene.pressure_wanted()))
    return Shifts(up=up, cold=cold, rest=rest, fill=fill, pressure=pressure)


def _apart(found: Handover, unit: UnitSpec, kinds: tuple[Kind, ...]) -> list[Handover]:
    """Shifts of some kinds that were followed together, by kind."""
    ends = np.cumsum([len(shift_kind(unit, kind).names) for kind in kinds])[:-1]
    return [Handover(*part) for part in zip(*(np.split(each, ends, axis=1) for each in found), strict=True)]


class ShiftScene:
    """Some kinds of shifts of n vehicles, made ready to be followed; everything (n, K) unless said otherwise."""

    def __init__(self, plant: Plant, condition: Condition, sump: Values, acting: float, *kinds: Kind) -> None:
        self.plant, self.memory, self.kind = plant, condition.memory, shift_kind(plant.unit, *kinds)
        size = len(plant.p.pump_displacement), len(self.kind.on)
        warm = np.where(np.isnan(self.kind.sump), sump, self.kind.sump)
        warm = np.broadcast_to(warm, size).astype(plant.dtype)
        self.parts = parts = ShiftParts(plant, condition, self.kind, warm, acting)
        self.spring, self.gain = parts.spring(), parts.gain()
        self.turning = self._turning()
        fill_pressure = parts.valve.gives(plant.p.control_fill_pressure)
        self.need = parts.fill_need(fill_pressure)
        self.planned_fill, self.planned_pressure = self._plan()
        self.orders = self._orders(fill_pressure)
        barred = actions(self.memory, plant.unit).barred[:, 0, self.kind.new] & (acting > 0.0)
        ordered = electric_of(parts.after).relay_on & ~barred
        self.happens: Flags = ordered | (self.kind.shift < 0)

    def follow(self) -> Handover:
        """How they go; all 0 where the controller does not shift."""
        found = handover.hand_over(*self._given(), LONGEST_FILL + LONGEST_SLIDE)
        return Handover(*(np.where(self.happens, each, 0.0) for each in found))

    def trace(self, time: Array) -> Array:
        """Turbine speed less that of the old gear [rad/s], (n, K, times), at times [s] from the command on."""
        return handover.turbine_trace(*self._given(), time)

    def _given(self) -> tuple[ShiftOrders, OnComing, OffGoing, Turning]:
        held, residual = self.parts.lets_go()
        load = SPARE * np.maximum(self.turning.torque, handover.LEAST_LOAD)
        on = OnComing(
            fill_need=self.need, spring_pressure=self.spring, gain=self.gain, capacity=self.parts.most()
        )
        off = OffGoing(capacity=np.maximum(np.minimum(held, load), residual), residual=residual)
        kind = self.plant.dtype
        return _as(self.orders, kind), _as(on, kind), _as(off, kind), _as(self.turning, kind)

    def _turning(self) -> Turning:
        """Load and speeds: those of the old gear, or from rest those of an idling engine that is brought to a stand."""
        run, ratio, k, p = self.parts.run, self.plant.ratio, self.kind, self.plant.p
        rest = ratio[k.old] == 0.0
        step = 1.0 - ratio[k.new] / np.where(rest, 1.0, ratio[k.old])
        idle = self.plant.powertrain.idle_torque()
        return Turning(
            torque=np.where(rest, idle, run.torque),
            speed_gap=np.where(rest, run.turbine, run.turbine * step),
            inertia=p.vehicle_inertia,
            most_run_up=np.where(rest, 0.0, MOST_RUN_UP).astype(self.plant.dtype),
        )

    # ------------------------------------------------------------------ what the controller does
    def _plan(self) -> tuple[Array, Array]:
        """Fill time [s] and pressure [Pa] of the controller's tables: a sound new unit, as warm and as loaded as it believes."""
        k, electric = self.kind, electric_of(self.parts.after)
        tables = self.parts.tables
        fill = planned_fill(self.plant.unit, k.on, electric.believed_temperature)
        torque = self.plant.p.control_torque_scale * self.turning.torque
        torque = torque + self.turning.inertia * np.abs(self.turning.speed_gap) / GOAL
        pressure = tables.springs[k.new, k.on] + torque * tables.needed[k.new, k.on]
        return fill.astype(self.plant.dtype), pressure.astype(self.plant.dtype)

    def _orders(self, fill_pressure: Array) -> ShiftOrders:
        """What comes of its orders behind the valves."""
        fill, pressure = self._learned()
        valve, spring = self.parts.valve, self.parts.tables.springs[self.kind.new, self.kind.on]
        return ShiftOrders(
            fill_time=np.where(valve.given, 0.0, np.maximum(self.planned_fill + fill - SHORT, 0.0)),
            fill_pressure=fill_pressure,
            first_pressure=np.where(
                valve.given, self.spring, valve.gives(np.maximum(spring + pressure, 0.0))
            ),
            goal_pressure=valve.gives(self.planned_pressure + pressure) + self._passes(),
            torque_phase=np.where(valve.given, RISE, TORQUE_PHASE).astype(self.plant.dtype),
            time_out=np.where(valve.given, RISE + TORQUE_PHASE, TIME_OUT).astype(self.plant.dtype),
            release_delay=RELEASE_DELAY,
            release_time=RELEASE_TIME,
        )

    def _passes(self) -> Array:
        """Pressure [Pa] that a regulating valve lets by beyond what is wanted, of a line far above it."""
        excess = self.parts.line - self.planned_pressure - USUAL
        return PASSES * np.maximum(excess, 0.0) * ~self.parts.valve.given

    def _learned(self) -> tuple[Array, Array]:
        """Learned changes of fill time [s] and pressure [Pa] that are in force at each shift."""
        fill, pressure = learned(self.plant.p, self.memory)
        up = self.kind.shift >= 0
        return fill[:, 0, self.kind.on], pressure[:, 0, self.kind.shift] * up

    # ------------------------------------------------------------------ what it should learn
    def fill_wanted(self) -> Array:
        """Learned change (n, 1, E) s with which each piston would be at its plates in time: the mean over its upshifts, or what it
        needs from rest; 0 where it is never filled on the way up."""
        k, late = self.kind, self.need - self.planned_fill
        fill = np.zeros((len(late), 1, len(self.plant.unit.elements)), late.dtype)
        for column in range(fill.shape[-1]):
            if len(learns := _teachers(k, column)):
                fill[:, 0, column] = late[:, learns].mean(-1)
        return fill

    def pressure_wanted(self) -> Array:
        """Learned change (n, 1, S) Pa with which each upshift would slide as long as it should."""
        turning, valve = self.turning, self.parts.valve
        torque = turning.torque + turning.inertia * turning.speed_gap / GOAL
        missing = valve.takes(self.spring + torque / self.gain) - self.planned_pressure
        ups = np.flatnonzero((self.kind.shift >= 0) & np.isnan(self.kind.sump))
        return missing[:, None, ups]


def _as(part: Part, kind: DTypeLike) -> Part:
    """A part of a shift in the precision of the batch."""
    return replace(part, **{f.name: np.asarray(getattr(part, f.name), kind) for f in fields(part)})


def _teachers(kind: ShiftKind, column: int) -> Places:
    """The shifts by which the fill of an element is learned."""
    mine = (kind.on == column) & np.isnan(kind.sump)
    ups = np.flatnonzero(mine & (kind.shift >= 0))
    forward = np.array([lever != "R" for lever in kind.lever])
    return ups if len(ups) else np.flatnonzero(mine & forward)


# ---------------------------------------------------------------------- the shifts as part of the day
def with_shifts(plant: Plant, op: Operation, work: Workings, shifts: Shifts) -> Workings:
    """The workings with how the elements of each gear come on: as in the shift that leads into it."""
    which, columns = _leading(plant.unit, op, work.gear)
    each = Handover(
        *(np.concatenate([getattr(shifts.of(kind), name) for kind in LIVED], 1) for name in Handover._fields)
    )
    none = which < 0

    def spread(values: Array) -> Array:
        whole = np.zeros((*which.shape, len(plant.unit.elements)), values.dtype)
        here = np.take_along_axis(values, np.maximum(which, 0), 1) * ~none
        np.put_along_axis(whole, columns[..., None], here[..., None], -1)
        return whole

    slide = spread(each.slide)
    return replace(
        work,
        delay=spread(each.touch),
        flare=spread(each.flare),
        bump=spread(each.bump),
        slide=slide,
        overlap=TUGS * spread(each.tie_up),
        shift_heat=spread(each.heat),
        judder=np.maximum(work.judder, plates_shake(plant.p, np.moveaxis(slide, -1, 0))),
    )


def _leading(unit: UnitSpec, op: Operation, gear: Places) -> tuple[Places, Places]:
    """Place among the shifts of the day of the one that leads into each gear, -1 none, and the column that comes on, (n, m)."""
    kind = shift_kind(unit, *LIVED)
    cold = np.flatnonzero(~np.isnan(kind.sump))
    tables = np.full((2, len(unit.gears)), -1)
    for place in range(len(kind.new)):
        if place not in cold:
            tables[:, kind.new[place]] = place
    tables[1, kind.new[cold]] = cold
    morning = (~np.isnan(op.temperature) & (op.temperature < MORNING)).astype(int)
    first = tables[morning, unit.gear_index(unit.levers["D"][0])]
    from_rest = np.array([lever == "D" for lever in op.lever]) & (op.road_speed < SETTING_OFF)
    # in limp-home another gear than first takes up the load from rest; neutral takes up none
    which = np.where(from_rest & (gear != unit.gear_index(unit.levers["N"][0])), first, tables[morning, gear])
    return which, kind.on[which]
