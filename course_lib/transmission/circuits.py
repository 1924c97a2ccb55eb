"""Oil circuits and the elements they press: line balance, grip, slip, drag of what should be free, and how an element comes on.

Each pressed element is worked only at the points where some vehicle applies it. The same code serves the grid of all vehicles
and points, and the list of those where the pump gulps air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from course_lib.physics import applying, circuit, dragging, friction
from course_lib.physics.smooth import smooth_step
from course_lib.transmission.point import Condition

if TYPE_CHECKING:
    from course_lib.transmission.plant import Plant

TINY = 1e-9
BOTH_PASSES = 3
LINE_PASSES = 3  # of Newton's rule
LEAST_LINE = 0.1  # share of the line pressure that one pass leaves at least
SMALLEST_CONDUCTANCE = 1e-20  # m3/s/Pa; keeps 0/0 out of a circuit that takes no flow
MOST_SLIP = 250.0  # rad/s, the engine's own governor or the driver's foot
LONGEST_FILL = 3.0  # s
LEAST_LOAD = 30.0  # N m at the turbine, which idling parts take
LONGEST_SLIDE = 2.5  # s, then the driver has lifted
LIP_SEATS = 2.6  # s until a wholly hard lip seats at 40 F, common practice, no source
SWELL_HOLDS = 0.4  # s that fully swollen rubber keeps a piston out
SWELL_STICKS = 0.85  # share of its way back that it stays out for good
WATER_GRABS = 0.6  # judder of a lining in fluid with two percent of water
SPOTS_GRAB = 1.5  # judder of a pack on steels that are all spots
JUDDER_SLIDE = 0.5  # s of sliding in which it is felt in full
ROUGHNESS = 6e-6  # m, smallest film between plates without clearance
ROLLING = 60.0  # N m at the turbine against which a drag is judged where nothing is pulled
PAPER_LIFTS = 0.35  # share of its grip that a facing soaked off its plate has lost
RUBS = 1.5e6  # N/m with which plates and bands press that find less room than they are flat
TIGHT = 0.45  # share of a sound clearance under which a released element drags


@dataclass(frozen=True, slots=True)
class Circuit:
    """One pressed element at the pairs of vehicle and point where it may be applied.

    at: index of those pairs; rows: their vehicles, None where all of them stand on the first axis; grid: whether the points
    stand on a second axis. on 1 where applied.
    feed: discharge coefficient times open feed area [m2]; leak [m3/s/Pa]; hole [m2] with its discharge coefficient.
    """

    column: int
    at: tuple
    rows: np.ndarray | None
    on: np.ndarray
    feed: np.ndarray
    leak: np.ndarray
    hole: np.ndarray
    grid: bool = True

    def own(self, value: np.ndarray) -> np.ndarray:
        """An element parameter (n, 1, E) at these pairs."""
        return self.plain(value[:, :, self.column])

    def plain(self, value: np.ndarray) -> np.ndarray:
        """A plain parameter (n, 1) at these pairs."""
        mine = value if self.rows is None else value[self.rows]
        return mine if self.grid else mine[:, 0]

    def fed(self, line, jet):
        """Pressure [Pa] where feed and leak balance; jet = sqrt(2 / density)."""
        line, jet = line[self.at], jet[self.at]
        laminar = self.leak * np.sqrt(line) / (self.feed * jet)
        holes = self.hole / self.feed
        side = 1.0 + holes * holes
        share = 2.0 / (side + np.sqrt(side * side + 4.0 * laminar * laminar))
        # Exact with a leak or a hole alone; with both, what they do together is put in twice over.
        for _ in range(BOTH_PASSES if np.any(self.hole > 0) else 0):
            cross = side + 2.0 * laminar * holes * np.sqrt(share)
            share = 2.0 / (cross + np.sqrt(cross * cross + 4.0 * laminar * laminar))
        return line * share * self.on

    def drawn(self, line, jet, fed):
        """Flow [m3/s] taken from the line."""
        return self.feed * jet[self.at] * np.sqrt(np.maximum(line[self.at] - fed, 0.0)) * self.on

    def slope(self, line, jet, fed, drawn):
        """Flow [m3/s/Pa] taken more per pascal of line: feed and leak in a row."""
        feed = drawn / (2.0 * np.maximum(line[self.at] - fed, 1.0))
        out = self.leak + self.hole * jet[self.at] / (2.0 * np.sqrt(np.maximum(fed, 1.0)))
        return feed * out / (feed + out + SMALLEST_CONDUCTANCE)


def balance(circuits: list[Circuit], goal, flow, inner, jet, valve):
    """Line pressure [Pa] at which pump, leaks and regulator balance, and the pressure in each circuit."""
    leak = inner.copy()
    for each in circuits:
        leak[each.at] += each.leak * each.on
    line = circuit.regulated_pressure(goal, flow, leak, *valve)
    for _ in range(LINE_PASSES):
        away, slope = np.zeros_like(line), np.zeros_like(line)
        for each in circuits:
            fed = each.fed(line, jet)
            drawn = each.drawn(line, jet, fed)
            away[each.at] += drawn
            slope[each.at] += each.slope(line, jet, fed, drawn)
        # Newton's rule: near this line the circuits draw `away - slope * line` and leak `slope` besides.
        better = circuit.regulated_pressure(goal, flow - away + slope * line, inner + slope, *valve)
        line = np.maximum(better, LEAST_LINE * line)
    return line, [each.fed(line, jet) for each in circuits]


class Elements:
    """The holding elements of a batch of vehicles at one set of operating points."""

    def __init__(
        self, plant: Plant, condition: Condition, gear, ports, temperature, viscosity, density
    ) -> None:
        self.plant, self.p, self.condition, self.gear = plant, plant.p, condition, gear
        self.temperature, self.viscosity = temperature, viscosity
        self.reverse = plant.ratio[gear] < 0
        self.upshifted = plant.before[gear] > 0
        self.clearance = plant.clearance(condition)
        self.room = self.clearance * (1.0 - SWELL_STICKS * np.minimum(plant.p.fluid_swell, 1.0))[..., None]
        self.jet = np.sqrt(2.0 / density)
        self.lips = circuit.lip_states(temperature)
        self.circuits = [self._circuit(column, *ports) for column in plant.pressed]
        self.circuits = [each for each in self.circuits if each.on.size]

    def _circuit(self, column: int, astray, lifted) -> Circuit:
        """The circuit of one element on the grid, at the points where any vehicle applies it."""
        p = self.p
        applied = self.plant.applied[self.gear, column]
        points = np.flatnonzero(applied.any(0))
        at = (slice(None), points)
        on = applied[at]

        def own(value):
            return value[:, 0, column, None]

        shut = astray[at] * own(p.element_port_shut) + lifted[at]
        feed = p.line_discharge * own(p.element_feed_area) * np.maximum(1.0 - shut, 0.02)
        dump = own(p.element_port_dump) * astray[at] + own(p.element_feed_area) * lifted[at]
        hole = p.line_discharge * (own(p.element_hole) + dump)
        lips = tuple(state[at] for state in self.lips)
        leak = self.plant.leak_factor(self.condition, lips, self.viscosity[at], column)
        leak = leak * own(p.element_leak) / self.viscosity[at]
        return Circuit(column, at, None, on, feed, leak, np.broadcast_to(hole, on.shape))

    def among(self, i, j) -> list[Circuit]:
        """The circuits at a list of pairs (vehicle i, point j)."""
        some = []
        for each in self.circuits:
            place = np.full(self.gear.shape[1], -1)
            place[each.at[1]] = np.arange(len(each.at[1]))
            here = np.flatnonzero(place[j] >= 0)
            rows, points = i[here], place[j[here]]
            on, feed, leak, hole = (a[rows, points] for a in (each.on, each.feed, each.leak, each.hole))
            some.append(Circuit(each.column, (here,), rows, on, feed, leak, hole, grid=False))
        return some

    # ------------------------------------------------------------------ grip and slip
    def grip(self, each: Circuit, pressure, temperature, reverse):
        """Torque [N m] the element of a circuit holds at a pressure."""
        p, column = self.p, each.column
        clearance, stroke = each.own(self.clearance), each.own(p.element_stroke)
        area = each.own(p.element_piston_area) + each.own(p.element_reverse_area) * reverse
        force = pressure * area - each.own(p.element_spring_force) * (1.0 + 0.5 * clearance / stroke)
        force = np.maximum(force, 0.0) * (1.0 - smooth_step(clearance, 0.90 * stroke, stroke))
        base = each.plain(
            p.wear_friction * p.wear_fluid_friction * (1.0 - PAPER_LIFTS * self.condition.soaked)
        )
        glaze, water = each.own(self.condition.char), each.plain(p.fluid_water)
        mu = friction.friction_coefficient(
            base, temperature, glaze, water, each.plain(self.condition.oxidation)
        )
        if self.plant.is_band[column]:
            return friction.band_torque_capacity(
                force, mu, each.own(p.element_radius), each.own(p.element_wrap)
            )
        return friction.clutch_torque_capacity(
            force, mu, each.own(p.element_radius), each.own(p.element_faces)
        )

    def hold(self, circuits, fed, gear, temperature, torque, rows=None):
        """What the applied elements can hold, and what slips: capacity (E, ...), lost share, slip [rad/s], power (E, ...) [W]."""
        plant = self.plant
        reverse = (plant.ratio[gear] < 0).astype(torque.dtype)
        capacity = np.zeros((len(plant.is_band), *gear.shape), torque.dtype)
        for each, pressure in zip(circuits, fed, strict=True):
            at = each.at
            capacity[each.column][at] = self.grip(each, pressure, temperature[at], reverse[at]) * each.on
        for column in plant.one_ways:
            solid = plant.solid(self.condition, column)
            capacity[column] = (solid if rows is None else solid[rows, 0]) * plant.applied[gear, column]
        joint = capacity.copy()
        for one, other in plant.partners:
            joint[one] += capacity[other]
        share = np.moveaxis(plant.share[gear], -1, 0)
        lost = np.where(share > 0, np.maximum(1.0 - joint / np.maximum(share * torque, TINY), 0.0), 0.0)
        loss = lost.max(0)
        slow = self.p.engine_slip_speed if rows is None else self.p.engine_slip_speed[rows, 0]
        slip = np.minimum(loss * torque / slow, MOST_SLIP)
        return capacity, loss, slip, capacity * slip / np.where(lost > 0, share, 1.0) * (lost > 0)

    # ------------------------------------------------------------------ coming on
    def come_on(self, line, fed, capacity, torque, speed, gap, refill):
        """One engagement of each element that its gear fills anew: `Apply` of arrays (E, n, m), 0 where there is none."""
        plant = self.plant
        found = np.zeros((len(applying.Apply._fields), *capacity.shape), torque.dtype)
        for each, pressure in zip(self.circuits, fed, strict=True):
            at = each.at
            share = plant.share[self.gear[at], each.column]
            takes = plant.takes[self.gear[at], each.column] * (share > 0)
            if not takes.any():
                continue
            apply = self._applied(each, line, pressure, capacity, share, torque, gap)
            for name, value in enumerate(apply):
                found[name, each.column][at] = value * takes
            found[0, each.column][at] += (refill[at] + self._seating(each)) * takes
        return applying.Apply(*found)

    def _seating(self, each: Circuit):
        """Seconds for which a hard cold lip stands off its bore and lets the fluid by before it seats."""
        hardness = self.plant.seal_hardness(self.condition)[..., each.column]
        return LIP_SEATS * np.maximum(hardness, 0.0) ** 6 * self.lips[1][each.at]

    def _applied(self, each: Circuit, line, pressure, capacity, share, torque, gap) -> applying.Apply:
        """How one element comes on at its points."""
        p, at, own = self.p, each.at, each.own
        reverse = self.reverse[at].astype(torque.dtype)
        area = own(p.element_piston_area) + own(p.element_reverse_area) * reverse
        return applying.engage(
            line_pressure=line[at],
            circuit_pressure=pressure,
            feed_area=each.feed,
            density=2.0 / self.jet[at] ** 2,
            discharge_coefficient=1.0,
            stroke_volume=area * np.maximum(own(self.clearance), 0.0),
            spring_pressure=own(p.element_spring_force) / area,
            accumulator_volume=own(p.element_accumulator),
            capacity=capacity[each.column][at] / np.maximum(share, TINY),
            load=np.maximum(torque[at], LEAST_LOAD),
            speed_gap=gap[at],
            inertia=p.vehicle_inertia,
            overlap=np.where(
                self.upshifted[at], own(p.element_overlap) + SWELL_HOLDS * p.fluid_swell, np.inf
            ),
            longest_fill=LONGEST_FILL,
            most_run_up=MOST_SLIP,
            longest_slide=LONGEST_SLIDE,
        )

    def judder(self, slide):
        """How much the plates shake on coming on: friction that grabs, times the time they slide; (n, m)."""
        p = self.p
        fluid = p.fluid_judder + WATER_GRABS * np.minimum(p.fluid_water / 0.02, 1.0)
        worst = np.zeros_like(slide[0])
        for each in self.circuits:
            grabs = fluid + SPOTS_GRAB * each.own(p.element_hot_spots)
            worst = np.maximum(worst, grabs * np.minimum(slide[each.column] / JUDDER_SLIDE, 1.0))
        return worst

    # ------------------------------------------------------------------ what should be free
    def fight(self, line, turbine, torque):
        """Power [W] (E, n, m) lost in released elements that drag, and the share of turbine torque they fight with (n, m)."""
        p, plant = self.p, self.plant
        power = np.zeros((len(plant.is_band), *line.shape), line.dtype)
        odd = np.flatnonzero(self._odd())
        if not len(odd):
            return power, np.zeros_like(line)
        for column in range(len(plant.is_band)):
            relative = np.abs(plant.relative[self.gear[odd], column]) * turbine[odd]
            if plant.is_one_way[column]:
                over = plant.relative[self.gear[odd], column] > 0
                held = p.element_holding_torque * p.element_reversed * (1.0 - self.condition.holding)
                power[column][odd] = held[odd, :, column] * over * relative
                continue
            power[column][odd] = self._drag(odd, column, line[odd], relative) * relative
        most = np.maximum(torque, ROLLING) * np.maximum(turbine, 1.0)
        return power, np.minimum(power.sum(0) / most, 3.0)

    def _odd(self):
        """Vehicles in which something that should be free may not be, (n,) bool."""
        p = self.p
        fed = (p.element_crossfeed_body + p.element_crossfeed_case + p.element_reversed).max((1, 2)) > 0
        tight = ((self.room < TIGHT * self.plant.sound_clearance) & ~self.plant.is_one_way).any((1, 2))
        return fed | tight

    def _drag(self, odd, column, line, relative):
        """Torque [N m] of one released element: oil film, rubbing without clearance, and pressure that has no business there."""
        p = self.p
        off = 1.0 - self.plant.applied[self.gear[odd], column]
        fed = (p.element_crossfeed_body + p.element_crossfeed_case)[odd, :, column]
        nothing = np.zeros(line.shape, line.dtype)
        each = Circuit(column, (odd,), odd, off, nothing, nothing, nothing)
        grip = self.grip(each, fed * line, self.temperature[odd], self.reverse[odd])
        room, sound = self.room[odd, :, column], self.plant.sound_clearance[..., column]
        film = self._film(odd, column, relative, room) - self._film(odd, column, relative, sound)
        turns = (p.element_wrap if self.plant.is_band[column] else p.element_faces)[odd, :, column]
        pressed = RUBS * np.maximum(TIGHT * sound - room, 0.0) * p.element_radius[odd, :, column] * turns
        return (grip * (fed > 0) + np.maximum(film, 0.0) + p.wear_friction[odd] * pressed) * off

    def _film(self, odd, column, relative, room):
        """Torque [N m] of the oil film in a released element with that much room [m]."""
        p, faces = self.p, self.p.element_faces[odd, :, column]
        return dragging.open_clutch_drag(
            self.viscosity[odd],
            relative,
            p.element_radius[odd, :, column],
            p.element_rub_area[odd, :, column],
            faces,
            np.maximum(room, 0.0) / faces,
            ROUGHNESS,
        )
