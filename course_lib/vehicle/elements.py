"""Fourth step of an operating point: what the holding elements bear, how they come on, and what drags that should be free."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import drag, engagement, hydraulics
from course_lib.vehicle.command import Command
from course_lib.vehicle.grip import grip
from course_lib.vehicle.oil_circuits import EACH, Circuits, Pairs
from course_lib.vehicle.oil_supply import Oil
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.parameters import Parameters
from course_lib.vehicle.vehicle_batch import TINY, Vehicles

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
TIED = 2.0  # times the turbine's power, the most that a third element takes when it is pressed besides a gear's own
ROLLING = 60.0  # N m at the turbine against which a drag is judged where nothing is pulled
RUBS = 1.5e6  # N/m with which plates and bands press that find less room than they are flat
TIGHT = 0.45  # share of a sound clearance under which a released element drags


class ShiftLoad(NamedTuple):
    """What an element that comes on has to take over at each point, (n, m)."""

    torque: Array  # N m at the turbine
    gap: Array  # rad/s that the turbine has to lose
    refill: Array  # s until there is oil for it


def plates_shake(p: Parameters, slide: Array) -> Array:
    """How much plates shake on coming on, sliding for so long [s], (E, n, m): friction that grabs, times that time; (n, m)."""
    fluid = p.fluid_judder + WATER_GRABS * np.minimum(p.fluid_water / 0.02, 1.0)
    grabs = fluid[..., None] + SPOTS_GRAB * p.element_hot_spots
    shakes: Array = (np.moveaxis(grabs, -1, 0) * np.minimum(slide / JUDDER_SLIDE, 1.0)).max(0)
    return shakes


class Elements:
    """The holding elements of a batch of vehicles at one set of operating points."""

    def __init__(self, vehicles: Vehicles, condition: Condition, command: Command, oil: Oil) -> None:
        self.vehicles, self.p, self.condition = vehicles, vehicles.p, condition
        self.gear, self.oil = command.gear, oil
        self.shape = (len(vehicles.is_band), *command.gear.shape)
        self.reverse: Array = command.reverse.astype(vehicles.dtype)
        self.upshifted: Flags = vehicles.before[command.gear] > 0
        self.clearance = vehicles.clearance(condition)
        swollen = np.minimum(vehicles.p.fluid_swell, 1.0)
        self.room: Array = self.clearance * (1.0 - SWELL_STICKS * swollen)[..., None]
        self.jet: Array = np.sqrt(2.0 / oil.density)
        self.lips = hydraulics.lip_states(oil.temperature)
        self.pressed = command.pressed
        self.circuits = self._applied_circuits(command)

    def _applied_circuits(self, command: Command) -> Circuits:
        """The circuits on the grid, at the points where any vehicle applies them."""
        applied = self.vehicles.applied[self.gear] * ~self.vehicles.is_one_way
        point, column = np.nonzero(applied.any(0))
        cap = None if command.pressed is None else command.pressed[:, point, column]
        return replace(self.opened(command, point, column), on=applied[:, point, column], cap=cap)

    def opened(self, command: Command, point: Places, column: Places) -> Circuits:
        """The circuits of pairs of a point and an element, (K,) each, with their valves wide open."""
        p, v = self.p, self.vehicles

        def own(value: Array) -> Array:
            return value[:, 0].take(column, -1)

        def here(value: Array) -> Array:
            return value.take(point, -1)

        astray, lifted, viscosity = here(command.astray), here(command.lifted), here(self.oil.viscosity)
        shut = astray * own(p.element_port_shut) + lifted
        feed = p.line_discharge * own(p.element_feed_area) * np.maximum(1.0 - shut, 0.02)
        dump = own(p.element_port_dump) * astray + own(p.element_feed_area) * lifted
        lips = here(self.lips[0]), here(self.lips[1])
        leak = v.leak_factor(self.condition, lips, viscosity, column) * own(p.element_leak)
        return Circuits(
            rows=np.arange(len(feed))[:, None],
            column=column,
            point=point,
            on=np.ones_like(feed),
            feed=feed,
            leak=(leak + own(p.element_bore_leak)) / viscosity,
            hole=p.line_discharge * (own(p.element_hole) + dump),
            jet=here(self.jet),
        )

    def among(self, i: Places, j: Places) -> Circuits:
        """The circuits at a list of pairs (vehicle i, point j); their point is the place in the list."""
        each = self.circuits
        count = np.bincount(each.point, minlength=self.gear.shape[1])
        place = np.repeat(np.arange(len(j)), count[j])
        ahead = np.cumsum(count) - count  # pairs of the points before
        nth = np.arange(len(place)) - np.repeat(np.cumsum(count[j]) - count[j], count[j])
        pair, rows = ahead[j[place]] + nth, i[place]
        on, feed, leak, hole, jet = (getattr(each, name)[rows, pair] for name in EACH)
        cap = None if each.cap is None else each.cap[rows, pair]
        return Circuits(rows, each.column[pair], place, on, feed, leak, hole, jet, cap)

    # ------------------------------------------------------------------ grip and slip
    def grip(self, each: Pairs, pressure: Array, temperature: Array, reverse: Array) -> Array:
        """Torque [N m] that elements hold at a pressure."""
        return grip(self.vehicles, self.condition, self.clearance, each, pressure, temperature, reverse)

    def bears(
        self, circuits: Circuits, fed: Array, gear: Places, temperature: Array, rows: Places | None = None
    ) -> Array:
        """Torque [N m] that each applied element can hold, (E, ...), on the grid or on a list of vehicles `rows`."""
        v, at = self.vehicles, circuits.here
        reverse = (v.ratio[gear] < 0).astype(fed.dtype)
        gripped = self.grip(circuits, fed, at(temperature), at(reverse)) * circuits.on
        held = circuits.spread(gripped, (len(v.is_band), *gear.shape))
        for column in v.one_ways:
            solid = v.solid(self.condition, column)
            held[column] = (solid if rows is None else solid[rows, 0]) * v.applied[gear, column]
        return held

    # ------------------------------------------------------------------ coming on
    def come_on(self, line: Array, fed: Array, capacity: Array, shift: ShiftLoad) -> engagement.Engagement:
        """One engagement of each element that its gear fills anew: `Engagement` of arrays (E, n, m), 0 where there is none."""
        each, v = self.circuits, self.vehicles
        share = v.share[each.here(self.gear), each.column]
        takes = v.takes[each.here(self.gear), each.column] * (share > 0)
        filled = np.flatnonzero(takes.any(0))
        each, (share, takes, fed) = each.only(filled), (x.take(filled, -1) for x in (share, takes, fed))
        held = capacity[each.column, :, each.point].T / np.maximum(share, TINY)
        delay, *slide = self._applied(each, line, fed, held, shift)
        delay = delay + each.here(shift.refill) + self.seating(each)
        return engagement.Engagement(*(each.spread(value * takes, self.shape) for value in (delay, *slide)))

    def seating(self, each: Circuits) -> Array:
        """Seconds for which a hard cold lip stands off its bore and lets the fluid by before it seats."""
        hardness = each.own(self.vehicles.seal_hardness(self.condition))
        return LIP_SEATS * np.maximum(hardness, 0.0) ** 6 * each.here(self.lips[1])

    def _applied(
        self, each: Circuits, line: Array, pressure: Array, grip: Array, shift: ShiftLoad
    ) -> engagement.Engagement:
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
                np.maximum(each.here(shift.torque), LEAST_LOAD), each.here(shift.gap), p.vehicle_inertia
            ),
            overlap=np.where(each.here(self.upshifted), overlap, np.inf),
            limits=LIMITS,
        )

    def judder(self, slide: Array) -> Array:
        """How much the plates shake on coming on; (n, m)."""
        return plates_shake(self.p, slide)

    # ------------------------------------------------------------------ what should be free
    def fight(self, line: Array, turbine: Array, torque: Array) -> tuple[Array, Array]:
        """Power [W] (E, n, m) lost in released elements that drag, and the share of turbine torque they fight with (n, m)."""
        p, v = self.p, self.vehicles
        power = np.zeros(self.shape, line.dtype)
        odd = np.flatnonzero(self._odd())
        if not len(odd):
            return power, np.zeros_like(line)
        power[:, odd] = self._dragging(odd, line[odd], turbine[odd])
        for column in v.one_ways:
            relative = v.relative[self.gear[odd], column]
            held = p.element_holding_torque * p.element_reversed * (1.0 - self.condition.holding)
            power[column][odd] = held[odd, :, column] * (relative > 0) * np.abs(relative) * turbine[odd]
        most = np.maximum(torque, ROLLING) * np.maximum(turbine, 1.0)
        if self.pressed is not None:  # a train held three times stands, or brakes no harder than that
            power = np.minimum(power, TIED * most)
        return power, np.minimum(power.sum(0) / most, 3.0)

    def circuit_pressures(self, fed: Array, line: Array) -> Array:
        """Pressure [Pa] in every circuit, (E, n, m): those that hold are `fed`, the others stand as their valve leaves them."""
        if self.pressed is None:
            return fed
        free = (self.vehicles.applied[self.gear] == 0.0) & ~self.vehicles.is_one_way
        pressures: Array = fed + np.moveaxis(np.minimum(self.pressed, line[..., None]) * free, -1, 0)
        return pressures

    def _odd(self) -> Flags:
        """Vehicles in which something that should be free may not be, (n,) bool."""
        p = self.p
        fed = (p.element_crossfeed_body + p.element_crossfeed_case + p.element_reversed).max((1, 2)) > 0
        tight = ((self.room < TIGHT * self.vehicles.sound_clearance) & ~self.vehicles.is_one_way).any((1, 2))
        either: Flags = fed | tight
        if self.pressed is None:
            return either
        stray = (self.pressed > 0.0) & (self.vehicles.applied[self.gear] == 0.0) & ~self.vehicles.is_one_way
        fights: Flags = either | stray.any((1, 2))
        return fights

    def _dragging(self, odd: Places, line: Array, turbine: Array) -> Array:
        """Power [W] (E, n, m) lost in pressed elements of some vehicles: oil film, rubbing without clearance, and pressure that
        has no business there."""
        p, v = self.p, self.vehicles
        point, column = np.nonzero(np.repeat(~v.is_one_way[None], line.shape[1], axis=0))
        each, gear = Pairs(odd[:, None], column, point), self.gear[odd].take(point, -1)
        off = 1.0 - v.applied[gear, column]
        relative = np.abs(v.relative[gear, column]) * each.here(turbine)
        fed = each.own(p.element_crossfeed_body + p.element_crossfeed_case)
        hot, reverse = each.here(self.oil.temperature[odd]), each.here(self.reverse[odd])
        pressure = fed * each.here(line)
        if self.pressed is not None:
            pressure = np.maximum(pressure, np.minimum(self.pressed[odd][:, point, column], each.here(line)))
        held = self.grip(each, pressure, hot, reverse)
        room, sound = each.own(self.room), v.sound_clearance[0, 0, column]
        film = self._film(each, relative, room) - self._film(each, relative, sound)
        turns = each.own(np.where(v.is_band, p.element_wrap, p.element_faces))
        pressed = RUBS * np.maximum(TIGHT * sound - room, 0.0) * each.own(p.element_radius) * turns
        torque = held * (pressure > 0.0) + np.maximum(film, 0.0) + each.plain(p.wear_friction) * pressed
        return each.spread(torque * off * relative, (len(v.is_band), *line.shape))

    def _film(self, each: Pairs, relative: Array, room: Array) -> Array:
        """Torque [N m] of the oil film in released elements with that much room [m]."""
        p, faces = self.p, each.own(self.p.element_faces)
        return drag.open_clutch_drag(
            each.here(self.oil.viscosity[each.rows[:, 0]]),
            relative,
            each.own(p.element_radius),
            each.own(p.element_rub_area),
            faces,
            np.maximum(room, 0.0) / faces,
            ROUGHNESS,
        )
