"""Oil circuits and the elements they press: line balance, grip, slip, drag of what should be free, and how an element comes on.

Pressed elements are worked only at the points where some vehicle applies them, all of them at one go. The same code serves the
grid of all vehicles and points, and the list of those where the pump gulps air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from course_lib.physics import drag, engagement, friction, hydraulics
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.operating_point import Condition

if TYPE_CHECKING:
    from course_lib.vehicle.plant import Plant

TINY = 1e-9
LINE_PASSES = 3  # of Newton's rule
LEAST_LINE = 0.1  # share of the line pressure that one pass leaves at least
SMALLEST_CONDUCTANCE = 1e-20  # m3/s/Pa; keeps 0/0 out of a circuit that takes no flow
MOST_RUN_UP = 250.0  # rad/s between two gears, then the driver lifts
LONGEST_FILL = 3.0  # s
LEAST_LOAD = 30.0  # N m at the turbine, which idling parts take
LONGEST_SLIDE = 2.5  # s, then the driver has lifted
LIMITS = engagement.Limits(LONGEST_FILL, MOST_RUN_UP, LONGEST_SLIDE)
LIP_SEATS = 2.6  # s until a wholly hard lip seats at 40 F, common practice, no source
SWELL_HOLDS = 0.4  # s that fully swollen rubber keeps a piston out
SWELL_STICKS = 0.85  # share of its way back that it stays out for good
WATER_GRABS = 0.6  # judder of a lining in fluid with two percent of water
SPOTS_GRAB = 1.5  # judder of a pack on steels that are all spots
JUDDER_SLIDE = 0.5  # s of sliding in which it is felt in full
ROUGHNESS = 6e-6  # m, smallest film between plates without clearance
ROLLING = 60.0  # N m at the turbine against which a drag is judged where nothing is pulled
BARE_SLIDES = 0.52  # share of its grip gone with the last of its lining: iron on steel in oil, 0.06 (Shigley; from memory)
PAPER_LIFTS = 0.35  # share of its grip that a facing soaked off its plate has lost
LUGS_LEFT, LUGS_GONE = 0.8, 0.98  # damage of drum and lugs from which they let go, and have let go
RUBS = 1.5e6  # N/m with which plates and bands press that find less room than they are flat
TIGHT = 0.45  # share of a sound clearance under which a released element drags


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of an element and a point, K of them, those of one point side by side; they stand on the last axis.

    What belongs to them is (n, K) on the grid of all vehicles and points, (K,) on a list of single ones. rows: vehicle of each,
    (n, 1) or (K,); column: element and point: place on the axis of points, both (K,).
    """

    rows: np.ndarray
    column: np.ndarray
    point: np.ndarray

    def own(self, value: np.ndarray) -> np.ndarray:
        """An element parameter (n, 1, E) of these pairs."""
        if self.rows.ndim == 2:
            return value[self.rows[:, 0], 0].take(self.column, -1)
        return value.reshape(-1).take(self.rows * value.shape[-1] + self.column)

    def plain(self, value: np.ndarray) -> np.ndarray:
        """A plain parameter (n, 1) of these pairs."""
        return value[self.rows, 0]

    def here(self, value: np.ndarray) -> np.ndarray:
        """What is known of each point, (n, m) or a list of them, at these pairs."""
        return value.take(self.point, -1)

    def joined(self, value: np.ndarray, points: int) -> np.ndarray:
        """Sum over the pairs of each point, on an axis of so many points."""
        if not len(self.point):
            return np.zeros((*value.shape[:-1], points), value.dtype)
        first = self.first()
        total = np.add.reduceat(value, first, axis=-1)
        if len(first) == points:
            return total
        whole = np.zeros((*value.shape[:-1], points), value.dtype)
        whole[..., self.point[first]] = total
        return whole

    def first(self) -> np.ndarray:
        """Place of the first pair of each point that has any."""
        return np.flatnonzero(np.concatenate([[True], self.point[1:] != self.point[:-1]]))

    def spread(self, value: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
        """Values of these pairs at their place among all elements, (E, ...), 0 elsewhere."""
        whole = np.zeros(shape, value.dtype)
        whole[self.column, ..., self.point] = value.T
        return whole


@dataclass(frozen=True, slots=True)
class Circuits(Pairs):
    """The oil circuits of pressed elements: every pair where some vehicle may apply the element.

    on: 1 where applied; feed: discharge coefficient times open feed area [m2]; leak [m3/s/Pa]; hole [m2] with its discharge
    coefficient; jet: sqrt(2 / density).
    """

    on: np.ndarray
    feed: np.ndarray
    leak: np.ndarray
    hole: np.ndarray
    jet: np.ndarray

    def only(self, keep: np.ndarray) -> Circuits:
        """Some of the pairs."""
        here = (getattr(self, name).take(keep, -1) for name in ("on", "feed", "leak", "hole", "jet"))
        return Circuits(self.rows, self.column[keep], self.point[keep], *here)

    def fed(self, line):
        """Pressure [Pa] where feed and leak balance."""
        return hydraulics.fed_pressure(self.here(line), self.feed, self.leak, self.hole, self.jet) * self.on

    def drawn(self, line, fed):
        """Flow [m3/s] taken from the line."""
        return self.feed * self.jet * np.sqrt(np.maximum(self.here(line) - fed, 0.0)) * self.on

    def slope(self, line, fed, drawn):
        """Flow [m3/s/Pa] taken more per pascal of line: feed and leak in a row."""
        feed = drawn / (2.0 * np.maximum(self.here(line) - fed, 1.0))
        out = self.leak + self.hole * self.jet / (2.0 * np.sqrt(np.maximum(fed, 1.0)))
        return feed * out / (feed + out + SMALLEST_CONDUCTANCE)


def line_balance(circuits: Circuits, goal, flow, inner, valve):
    """Line pressure [Pa] at which pump, leaks and regulator balance, and the pressure in each circuit."""
    points = inner.shape[-1]
    leak = inner + circuits.joined(circuits.leak * circuits.on, points)
    line = hydraulics.regulated_pressure(goal, flow, leak, *valve)
    for _ in range(LINE_PASSES):
        fed = circuits.fed(line)
        drawn = circuits.drawn(line, fed)
        slope = circuits.joined(circuits.slope(line, fed, drawn), points)
        away = circuits.joined(drawn, points)
        # Newton's rule: near this line the circuits draw `away - slope * line` and leak `slope` besides.
        better = hydraulics.regulated_pressure(goal, flow - away + slope * line, inner + slope, *valve)
        line = np.maximum(better, LEAST_LINE * line)
    return line, circuits.fed(line)


class Elements:
    """The holding elements of a batch of vehicles at one set of operating points."""

    def __init__(
        self, plant: Plant, condition: Condition, gear, ports, temperature, viscosity, density
    ) -> None:
        self.plant, self.p, self.condition, self.gear = plant, plant.p, condition, gear
        self.temperature, self.viscosity, self.density = temperature, viscosity, density
        self.shape = (len(plant.is_band), *gear.shape)
        self.reverse = (plant.ratio[gear] < 0).astype(plant.dtype)
        self.upshifted = plant.before[gear] > 0
        self.clearance = plant.clearance(condition)
        self.room = self.clearance * (1.0 - SWELL_STICKS * np.minimum(plant.p.fluid_swell, 1.0))[..., None]
        self.jet = np.sqrt(2.0 / density)
        self.lips = hydraulics.lip_states(temperature)
        self.circuits = self._pressed(*ports)

    def _pressed(self, astray, lifted) -> Circuits:
        """The circuits on the grid, at the points where any vehicle applies them."""
        p, plant = self.p, self.plant
        applied = plant.applied[self.gear] * ~plant.is_one_way
        point, column = np.nonzero(applied.any(0))

        def own(value):
            return value[:, 0].take(column, -1)

        astray, lifted, viscosity = (x.take(point, -1) for x in (astray, lifted, self.viscosity))
        shut = astray * own(p.element_port_shut) + lifted
        feed = p.line_discharge * own(p.element_feed_area) * np.maximum(1.0 - shut, 0.02)
        dump = own(p.element_port_dump) * astray + own(p.element_feed_area) * lifted
        hole = p.line_discharge * (own(p.element_hole) + dump)
        lips = tuple(state.take(point, -1) for state in self.lips)
        leak = plant.leak_factor(self.condition, lips, viscosity, column) * own(p.element_leak)
        leak = (leak + own(p.element_bore_leak)) / viscosity
        rows, on = np.arange(len(feed))[:, None], applied[:, point, column]
        return Circuits(rows, column, point, on, feed, leak, hole, self.jet.take(point, -1))

    def among(self, i, j) -> Circuits:
        """The circuits at a list of pairs (vehicle i, point j); their point is the place in the list."""
        each = self.circuits
        count = np.bincount(each.point, minlength=self.gear.shape[1])
        place = np.repeat(np.arange(len(j)), count[j])
        ahead = np.cumsum(count) - count  # pairs of the points before
        nth = np.arange(len(place)) - np.repeat(np.cumsum(count[j]) - count[j], count[j])
        pair, rows = ahead[j[place]] + nth, i[place]
        here = (getattr(each, name)[rows, pair] for name in ("on", "feed", "leak", "hole", "jet"))
        return Circuits(rows, each.column[pair], place, *here)

    # ------------------------------------------------------------------ grip and slip
    def grip(self, each: Pairs, pressure, temperature, reverse):
        """Torque [N m] that elements hold at a pressure."""
        p, clearance, stroke = self.p, each.own(self.clearance), each.own(self.p.element_stroke)
        area = each.own(p.element_piston_area) + each.own(p.element_reverse_area) * reverse
        force = pressure * area - each.own(p.element_spring_force) * (1.0 + 0.5 * clearance / stroke)
        force = np.maximum(force, 0.0) * (1.0 - smooth_step(clearance, 0.90 * stroke, stroke))
        force = force * each.own(p.element_backing)
        base = each.plain(p.wear_friction * p.wear_fluid_friction)
        base = base * (1.0 - PAPER_LIFTS * each.own(self.condition.soaked))
        lost, lining = each.own(self.condition.lining), each.own(p.element_lining)
        base = base * (1.0 - BARE_SLIDES * smooth_step(lost, 0.9 * lining, lining))
        plain = (each.plain(value) for value in (p.fluid_water, self.condition.oxidation))
        glaze = each.own(self.condition.char)
        mu = friction.friction_coefficient(base, temperature, glaze, *plain)
        radius, is_band = each.own(p.element_radius), self.plant.is_band[each.column]
        plates = friction.clutch_torque_capacity(force, mu, radius, each.own(p.element_faces))
        band = (x[..., is_band] for x in (force, mu, radius, each.own(p.element_wrap)))
        plates[..., is_band] = friction.band_torque_capacity(*band)
        plates = plates * (1.0 - smooth_step(each.own(self.condition.holding), LUGS_LEFT, LUGS_GONE))
        return np.minimum(plates, each.own(p.element_splines))

    def bears(self, circuits: Circuits, fed, gear, temperature, rows=None):
        """Torque [N m] that each applied element can hold, (E, ...), on the grid or on a list of vehicles `rows`."""
        plant, at = self.plant, circuits.here
        reverse = (plant.ratio[gear] < 0).astype(fed.dtype)
        grip = self.grip(circuits, fed, at(temperature), at(reverse)) * circuits.on
        held = circuits.spread(grip, (len(plant.is_band), *gear.shape))
        for column in plant.one_ways:
            solid = plant.solid(self.condition, column)
            held[column] = (solid if rows is None else solid[rows, 0]) * plant.applied[gear, column]
        return held

    # ------------------------------------------------------------------ coming on
    def come_on(self, line, fed, capacity, torque, gap, refill):
        """One engagement of each element that its gear fills anew: `Apply` of arrays (E, n, m), 0 where there is none."""
        each, plant = self.circuits, self.plant
        share = plant.share[each.here(self.gear), each.column]
        takes = plant.takes[each.here(self.gear), each.column] * (share > 0)
        filled = np.flatnonzero(takes.any(0))
        each, (share, takes, fed) = each.only(filled), (x.take(filled, -1) for x in (share, takes, fed))
        grip = capacity[each.column, :, each.point].T / np.maximum(share, TINY)
        delay, *slide = self._applied(each, line, fed, grip, torque, gap)
        delay = delay + each.here(refill) + self._seating(each)
        return engagement.Engagement(*(each.spread(value * takes, self.shape) for value in (delay, *slide)))

    def _seating(self, each: Circuits):
        """Seconds for which a hard cold lip stands off its bore and lets the fluid by before it seats."""
        hardness = each.own(self.plant.seal_hardness(self.condition))
        return LIP_SEATS * np.maximum(hardness, 0.0) ** 6 * each.here(self.lips[1])

    def _applied(self, each: Circuits, line, pressure, grip, torque, gap) -> engagement.Engagement:
        """How elements come on at their points."""
        p, own = self.p, each.own
        area = own(p.element_piston_area) + own(p.element_reverse_area) * each.here(self.reverse)
        overlap = own(p.element_overlap) + SWELL_HOLDS * p.fluid_swell
        density = 2.0 / each.jet**2
        return engagement.engage(
            feed=engagement.Feed(each.here(line), pressure, each.feed, density, discharge_coefficient=1.0),
            piston=engagement.Piston(
                stroke_volume=area * np.maximum(own(self.clearance), 0.0),
                spring_pressure=own(p.element_spring_force) / area,
                accumulator_volume=own(p.element_accumulator),
            ),
            capacity=grip,
            load=engagement.Load(
                np.maximum(each.here(torque), LEAST_LOAD), each.here(gap), p.vehicle_inertia
            ),
            overlap=np.where(each.here(self.upshifted), overlap, np.inf),
            limits=LIMITS,
        )

    def judder(self, slide):
        """How much the plates shake on coming on: friction that grabs, times the time they slide; (n, m)."""
        p = self.p
        fluid = p.fluid_judder + WATER_GRABS * np.minimum(p.fluid_water / 0.02, 1.0)
        grabs = fluid[..., None] + SPOTS_GRAB * p.element_hot_spots
        return (np.moveaxis(grabs, -1, 0) * np.minimum(slide / JUDDER_SLIDE, 1.0)).max(0)

    # ------------------------------------------------------------------ what should be free
    def fight(self, line, turbine, torque):
        """Power [W] (E, n, m) lost in released elements that drag, and the share of turbine torque they fight with (n, m)."""
        p, plant = self.p, self.plant
        power = np.zeros(self.shape, line.dtype)
        odd = np.flatnonzero(self._odd())
        if not len(odd):
            return power, np.zeros_like(line)
        power[:, odd] = self._dragging(odd, line[odd], turbine[odd])
        for column in plant.one_ways:
            relative = plant.relative[self.gear[odd], column]
            held = p.element_holding_torque * p.element_reversed * (1.0 - self.condition.holding)
            power[column][odd] = held[odd, :, column] * (relative > 0) * np.abs(relative) * turbine[odd]
        most = np.maximum(torque, ROLLING) * np.maximum(turbine, 1.0)
        return power, np.minimum(power.sum(0) / most, 3.0)

    def _odd(self):
        """Vehicles in which something that should be free may not be, (n,) bool."""
        p = self.p
        fed = (p.element_crossfeed_body + p.element_crossfeed_case + p.element_reversed).max((1, 2)) > 0
        tight = ((self.room < TIGHT * self.plant.sound_clearance) & ~self.plant.is_one_way).any((1, 2))
        return fed | tight

    def _dragging(self, odd, line, turbine):
        """Power [W] (E, n, m) lost in pressed elements of some vehicles: oil film, rubbing without clearance, and pressure that
        has no business there."""
        p, plant = self.p, self.plant
        point, column = np.nonzero(np.repeat(~plant.is_one_way[None], line.shape[1], axis=0))
        each, gear = Pairs(odd[:, None], column, point), self.gear[odd].take(point, -1)
        off = 1.0 - plant.applied[gear, column]
        relative = np.abs(plant.relative[gear, column]) * each.here(turbine)
        fed = each.own(p.element_crossfeed_body + p.element_crossfeed_case)
        hot, reverse = each.here(self.temperature[odd]), each.here(self.reverse[odd])
        grip = self.grip(each, fed * each.here(line), hot, reverse)
        room, sound = each.own(self.room), plant.sound_clearance[0, 0, column]
        film = self._film(each, relative, room) - self._film(each, relative, sound)
        turns = each.own(np.where(plant.is_band, p.element_wrap, p.element_faces))
        pressed = RUBS * np.maximum(TIGHT * sound - room, 0.0) * each.own(p.element_radius) * turns
        drag = grip * (fed > 0) + np.maximum(film, 0.0) + each.plain(p.wear_friction) * pressed
        return each.spread(drag * off * relative, (len(plant.is_band), *line.shape))

    def _film(self, each: Pairs, relative, room):
        """Torque [N m] of the oil film in released elements with that much room [m]."""
        p, faces = self.p, each.own(self.p.element_faces)
        return drag.open_clutch_drag(
            each.here(self.viscosity[each.rows[:, 0]]),
            relative,
            each.own(p.element_radius),
            each.own(p.element_rub_area),
            faces,
            np.maximum(room, 0.0) / faces,
            ROUGHNESS,
        )
