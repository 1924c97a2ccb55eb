"""A shift from clutch to clutch in time: one element fills and grips while another lets go, both on orders of pressure."""

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.physics.sliding_mass import SlideState, SlidingMass, TurningMass

THICK_FILL = 0.03  # s, that a fill takes longer for each time that the fluid is thicker than hot (fitted)
CREEP = 1.12  # -, pressure at time-out over that after the torque phase (invented)
LEAST_FLOW = 1e-9  # m3/s, less than this fills no piston
LEAST_GAP = 1e-3  # rad/s, a shift between gears that turn alike is one over this
LEAST_LOAD = 25.0  # N m, bump and tie-up are told against no less: nobody feels a share of nothing (invented)
SLOWEST_FILL = (
    0.2  # -, of the fill's own flow: what a late piston still gets at the pressure of the ramp (invented)
)


@dataclass(frozen=True, slots=True)
class ShiftOrders:
    """What a controller orders of a shift, as pressures behind the valve; each a float or an array.

    fill_time        at fill pressure, with what it learned [s]
    fill_pressure    [Pa]
    first_pressure   after the fill [Pa]
    goal_pressure    after the torque phase [Pa]
    torque_phase     from first to goal pressure, above 0 [s]
    time_out         after the fill, longer than that; then full pressure [s]
    release_delay    the off-going element begins to let go so long after the fill, before it if below 0 [s]
    release_time     in which it lets go, above 0 [s]
    """

    fill_time: Values
    fill_pressure: Values
    first_pressure: Values
    goal_pressure: Values
    torque_phase: Values
    time_out: Values
    release_delay: Values
    release_time: Values


@dataclass(frozen=True, slots=True)
class OnComing:
    """The element that takes over, torque as turbine torque; each a float or an array.

    fill_need         time that the piston really needs at fill pressure, see `fill_time` [s]
    spring_pressure   that moves the piston [Pa]
    gain              torque per pressure beyond that, above 0 [N m/Pa]
    capacity          torque with the valve wide open, finite; 0 if it never grips [N m]
    """

    fill_need: Values
    spring_pressure: Values
    gain: Values
    capacity: Values


@dataclass(frozen=True, slots=True)
class OffGoing:
    """The element that lets go, torque as turbine torque; each a float or an array.

    capacity   before the shift; 0 from rest [N m]
    residual   that stays; 0 if it lets go [N m]
    """

    capacity: Values
    residual: Values


@dataclass(frozen=True, slots=True)
class Turning:
    """What turns, seen from the turbine; each a float or an array.

    torque        of the turbine; below 0 on a coast [N m]
    speed_gap     how much slower it turns afterwards; below 0 for a downshift [rad/s]
    inertia       of what changes speed [kg m2]
    most_run_up   above both speeds: the engine runs away no further; 0 from rest [rad/s]
    """

    torque: Values
    speed_gap: Values
    inertia: Values
    most_run_up: Values


class Handover(NamedTuple):
    """How a shift went, see `hand_over`.

    flare           most turbine speed above the higher of both gears' [rad/s]
    slide           from leaving the old speed to holding the new one, or until nobody waits any longer [s]
    heat            in the on-coming element [J]
    heat_off        in the off-going element [J]
    bump            torque that the turning mass gives up at lock-up, over the load [-]
    tie_up          both hold more than they should: share of the load x time [s]
    touch           from the command to the first grip [s]
    """

    flare: Array
    slide: Array
    heat: Array
    heat_off: Array
    bump: Array
    tie_up: Array
    touch: Array


def fill_time(stroke_volume: Values, flow: Values, thickness: Values) -> Array:
    """Time that a piston takes to its plates.

        t = V / Q + 0.03 s (m - 1)

    Parameters                                                                      symbol  unit
        stroke_volume   float or array   piston area x clearance, and passages        V       [m3]
        flow            float or array   that is left to move it; 0: it never fills   Q       [m3/s]
        thickness       float or array   viscosity over that of hot fluid             m       [-]
    Returns
        float or array, broadcast of the inputs                                       t       [s]
    Valid for
        0.5 to 30 times as thick. A controller's table follows the same law, so a sound cold shift is sound.
    Source
        Piston displacement; the share of thick fluid is fitted.
    In the workshop
        a fill that grew long tells of plates worn thin, of a leak, or of cold fluid: read the temperature first.
    Example
        >>> [round(float(fill_time(1.3e-5, 1.1e-4, m)), 3) for m in (1.0, 4.0)]
        [0.118, 0.208]
    """
    return stroke_volume / np.maximum(flow, LEAST_FLOW) + THICK_FILL * (thickness - 1.0)


def hand_over(
    orders: ShiftOrders, on_coming: OnComing, off_going: OffGoing, turning: Turning, longest: Values
) -> Handover:
    """One element takes over from another: fill, torque phase, slide, lock-up.

        J dx/dt = T - on(t) sign(x + W) - off(t) sign(x),   x(0) = 0;   held at 0 while off can;
        over at x = -W if on can hold;   on = k (p - ps), 0 to its capacity, once the piston has filled

    Parameters                                                                      symbol    unit
        orders      ShiftOrders      what the controller asks for                     p         [SI]
        on_coming   OnComing         the element that takes over                      on k ps   [SI]
        off_going   OffGoing         the element that lets go                         off       [SI]
        turning     Turning          torque, speed gap and inertia at the turbine     T W J     [SI]
        longest     float or array   from the command until nobody waits any longer   -         [s]
    Returns
        Handover of flare, slide, heats, bump, tie-up and touch                       -         [mixed]
    Valid for
        any shift: upshift (W above 0) or downshift (below), driving or coasting (T), from rest (no off-going, no
        run-up). Torque of the turbine and friction do not change with speed. A piston that is late fills on at
        the lower pressure of the ramp. Exact but for a run-up that reaches its limit.
    Source
        Newton's law for the turning mass with dry friction in two places; straight torques between their corners,
        so that speed is a parabola, solved in closed form.
    In the workshop
        late fill: the speed humps up first; early fill: it dips, with a tug; too little grip: a slow straight fall.
    Example
        >>> orders = ShiftOrders(0.115, 4.1e5, 0.8e5, 2.6e5, 0.15, 0.95, 0.02, 0.09)
        >>> turning = Turning(150.0, 60.0, 0.55, 250.0)
        >>> late = OnComing(np.array([0.115, 0.2]), 0.8e5, 1.2e-3, 900.0)
        >>> shift = hand_over(orders, late, OffGoing(190.0, 0.0), turning, 2.5)
        >>> shift.flare.round().tolist(), shift.slide.round(2).tolist()
        ([0.0, 24.0], [0.46, 0.7])
    """
    shape, plan = _plan(orders, on_coming, off_going, turning, longest)
    mass = plan.at_rest()
    mass.follow(_stretches(plan, np.sort(plan.corners(), axis=0)))
    return Handover(*(each.reshape(shape) for each in _outcome(mass.state, plan)))


def turbine_trace(
    orders: ShiftOrders, on_coming: OnComing, off_going: OffGoing, turning: Turning, time: Array
) -> Array:
    """Turbine speed during a shift, less the speed of the old gear: what a graph of a shift shows.

        x(t) of `hand_over`

    Parameters                                                                      symbol    unit
        orders      ShiftOrders   what the controller asks for                        p         [SI]
        on_coming   OnComing      the element that takes over                         on k ps   [SI]
        off_going   OffGoing      the element that lets go                            off       [SI]
        turning     Turning       torque, speed gap and inertia at the turbine        T W J     [SI]
        time        Array         from the command on, rising (times)                 t         [s]
    Returns
        Array (..., times)                                                            x         [rad/s]
    Valid for
        as `hand_over`; nobody stops waiting.
    Source
        As `hand_over`.
    In the workshop
        the shape names the phase that is sick; engine speed that does not follow tells of a sensor.
    Example
        >>> orders = ShiftOrders(0.115, 4.1e5, 0.8e5, 2.6e5, 0.15, 0.95, 0.02, 0.09)
        >>> parts = OnComing(0.115, 0.8e5, 1.2e-3, 900.0), OffGoing(190.0, 0.0), Turning(150.0, 60.0, 0.55, 250.0)
        >>> turbine_trace(orders, *parts, np.array([0.0, 0.4, 0.9])).round().tolist()
        [0.0, -20.0, -60.0]
    """
    shape, plan = _plan(orders, on_coming, off_going, turning, time[-1])
    asked = np.broadcast_to(time[:, None].astype(plan.end.dtype), (len(time), len(plan.end)))
    corners = np.concatenate([asked, plan.corners()])
    order = np.argsort(corners, axis=0, kind="stable")
    mass, speeds = plan.at_rest(), [np.zeros_like(plan.end)]
    for stretch in _stretches(plan, np.take_along_axis(corners, order, 0)):
        mass.follow(stretch[None])
        speeds.append(mass.state.speed.copy())
    places = np.argsort(order, axis=0)[: len(time)]
    return np.take_along_axis(np.stack(speeds), places, 0).T.reshape(*shape, len(time))


@dataclass(frozen=True, slots=True)
class _Plan:
    """Every shift in one row: what each element can hold at any time, and what turns."""

    orders: ShiftOrders
    on_coming: OnComing
    off_going: OffGoing
    turning: Turning
    load: Array
    touch: Array
    end: Array

    def at_rest(self) -> SlidingMass:
        """The turning masses before the shift."""
        turning = [getattr(self.turning, entry.name) for entry in fields(self.turning)]
        return SlidingMass(TurningMass(*[*turning, self.load]))

    def ramp(self) -> tuple[Array, Array, Array]:
        """Torque asked for after the fill, after the torque phase, and at time-out; not yet limited."""
        spring, gain = self.on_coming.spring_pressure, self.on_coming.gain
        goal = self.orders.goal_pressure
        first, later, last = (
            gain * (each - spring) for each in (self.orders.first_pressure, goal, CREEP * goal)
        )
        return np.asarray(first), np.asarray(later), np.asarray(last)

    def corners(self) -> Array:
        """Times between which both torques are straight (corners, shifts): the first 0, the last the end."""
        orders, limit, (first, goal, most) = self.orders, self.on_coming.capacity, self.ramp()
        filled, goal_at = orders.fill_time, orders.fill_time + orders.torque_phase
        full_at, off_at = filled + orders.time_out, filled + orders.release_delay
        lines = ((first, goal, filled, goal_at), (goal, most, goal_at, full_at))
        limited = [_crossing(line, level) for line in lines for level in (0.0, limit)]
        times = [0.0 * self.end, self.touch, filled, *limited, goal_at, full_at, off_at]
        times += [off_at + orders.release_time, self.end]
        return np.stack([np.clip(each, 0.0, self.end) for each in times])

    def grips(self, time: Array) -> tuple[Array, Array]:
        """What the on-coming and the off-going element can hold at a time [N m]."""
        orders, element, off, (first, goal, most) = self.orders, self.on_coming, self.off_going, self.ramp()
        since = time - orders.fill_time
        rise = np.clip(since / orders.torque_phase, 0.0, 1.0)
        creep = np.clip((since - orders.torque_phase) / (orders.time_out - orders.torque_phase), 0.0, 1.0)
        ramp = first + (goal - first) * rise + (most - goal) * creep
        early = element.gain * (orders.fill_pressure - element.spring_pressure)
        on = np.where(since < 0.0, early, np.where(since < orders.time_out, ramp, element.capacity))
        gone = np.clip((since - orders.release_delay) / orders.release_time, 0.0, 1.0)
        held = np.minimum(np.maximum(on, 0.0), element.capacity) * (time >= self.touch)
        return held, off.capacity + (off.residual - off.capacity) * gone


def _crossing(line: tuple[Array, Array, Values, Values], level: Values) -> Array:
    """When a straight line (start, end, since, until) crosses a level; one of its ends if it does not."""
    start, end, since, until = line
    share = np.clip((level - start) / np.where(start == end, 1.0, end - start), 0.0, 1.0)
    return since + (until - since) * share


def _plan(
    orders: ShiftOrders, on_coming: OnComing, off_going: OffGoing, turning: Turning, longest: Values
) -> tuple[tuple[int, ...], _Plan]:
    """The shape that all broadcast to, and all of it in one row and one precision."""
    given = (orders, on_coming, off_going, turning)
    values = [getattr(part, entry.name) for part in given for entry in fields(part)] + [longest]
    kind, shape = np.result_type(*values), np.broadcast_shapes(*(np.shape(value) for value in values))

    def row(value: Values) -> Array:
        return np.broadcast_to(np.asarray(value, kind), shape).ravel()

    flat = [{entry.name: row(getattr(part, entry.name)) for entry in fields(part)} for part in given]
    orders, on_coming = ShiftOrders(**flat[0]), OnComing(**flat[1])
    small = np.abs(flat[3]["speed_gap"]) < LEAST_GAP
    flat[3]["speed_gap"] = np.where(small, LEAST_GAP, flat[3]["speed_gap"])
    load = np.maximum(np.abs(row(turning.torque)), LEAST_LOAD)
    end = row(longest)
    touch = np.minimum(_touch(orders, on_coming), end)
    return shape, _Plan(orders, on_coming, OffGoing(**flat[2]), Turning(**flat[3]), load, touch, end)


def _touch(orders: ShiftOrders, on_coming: OnComing) -> Array:
    """When the plates grip: a piston that is late gets less flow at the ramp's pressure, all of it after time-out."""
    spring, gain = on_coming.spring_pressure, on_coming.gain
    goal = np.minimum(orders.goal_pressure - spring, on_coming.capacity / gain)
    share = 0.5 * goal / np.maximum(orders.fill_pressure - spring, 1.0)
    pace = np.sqrt(np.clip(share, SLOWEST_FILL**2, 1.0))
    late = np.maximum(on_coming.fill_need - orders.fill_time, 0.0)
    in_time = np.minimum(orders.fill_time, on_coming.fill_need)
    return in_time + np.minimum(late / pace, orders.time_out + np.maximum(late - orders.time_out * pace, 0.0))


def _stretches(plan: _Plan, times: Array) -> Array:
    """The stretches between the corners, in order, (stretches, fields of `TorqueStretch`, shifts)."""
    length = np.diff(times, axis=0)
    one, two = (plan.grips(times[:-1] + share * length) for share in (0.25, 0.75))  # corners may be steps
    safe = np.where(length > 0.0, length, 1.0)
    (on, on_rate), (off, off_rate) = (
        (1.5 * early - 0.5 * late, 2.0 * (late - early) / safe) for early, late in zip(one, two, strict=True)
    )
    return np.stack([times[:-1], times[1:], on, on_rate, off, off_rate], axis=1)


def _outcome(motion: SlideState, plan: _Plan) -> Handover:
    """What is told of a shift."""
    left_at = np.where(np.isfinite(motion.left_at), motion.left_at, plan.orders.fill_time)
    flare = np.maximum(motion.peak - np.maximum(-plan.turning.speed_gap, 0.0), 0.0)
    slide = motion.time - left_at
    return Handover(flare, slide, motion.heat, motion.heat_off, motion.bump, motion.tie_up, plan.touch)
