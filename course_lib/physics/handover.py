"""A shift from clutch to clutch in time: one element fills and grips while another lets go, both on orders of pressure."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Values

THICK_FILL = 0.03  # s, that a fill takes longer for each time that the fluid is thicker than hot (fitted)
CREEP = 1.12  # -, pressure at time-out over that after the torque phase (invented)
LEAST_FLOW = 1e-9  # m3/s, less than this fills no piston
LEAST_GAP = 1e-3  # rad/s, a shift between gears that turn alike is one over this
SPARE = 1.25  # -, of the load: what an off-going element holds before a shift (invented)
LEAST_LOAD = 25.0  # N m, bump and tie-up are told against no less: nobody feels a share of nothing (invented)
SLOWEST_FILL = (
    0.2  # -, of the fill's own flow: what a late piston still gets at the pressure of the ramp (invented)
)
TINY = 1e-6  # N m and more, keeps a moment that is just reached from being found again and again
NOTHING = 1e-30  # keeps divisions by zero out; a quotient of it is a very long time
NEVER = 1e12  # s, a very long time
TURNS = 8  # changes between holding and sliding within one stretch of straight torques, far more than happen


@dataclass(frozen=True, slots=True)
class ShiftOrders:
    """What a controller orders of a shift, as pressures behind the valve; each a float or an array.

    fill_time        at fill pressure, with what it learned [s]
    fill_pressure    [Pa]
    first_pressure   after the fill [Pa]
    goal_pressure    after the torque phase [Pa]
    torque_phase     from first to goal pressure [s]
    time_out         after the fill; then full pressure [s]
    release_delay    the off-going element begins to let go so long after the fill, before it if below 0 [s]
    release_time     in which it lets go [s]
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
    gain              torque per pressure above that [N m/Pa]
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
    motion, turn = _start(plan)
    for stretch in _stretches(plan, np.sort(plan.corners(), axis=0)):
        _follow(motion, turn, stretch)
    return Handover(*(each.reshape(shape) for each in _outcome(_Motion(*motion), plan)))


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
    (motion, turn), speeds = _start(plan), [np.zeros_like(plan.end)]
    for stretch in _stretches(plan, np.take_along_axis(corners, order, 0)):
        _follow(motion, turn, stretch)
        speeds.append(_Motion(*motion).speed.copy())
    places = np.argsort(order, axis=0)[: len(time)]
    return np.take_along_axis(np.stack(speeds), places, 0).T.reshape(*shape, len(time))


class _Motion(NamedTuple):
    """Where each shift stands; a row of one array each, so that some of the shifts are drawn and put back at once."""

    time: Array
    speed: Array  # x
    old: Array  # sign of x, or where it goes from 0
    new: Array  # sign of x + W
    held: Array  # 1 while the off-going element holds
    locked: Array  # 1 once the on-coming one does
    left_at: Array
    peak: Array
    heat: Array
    heat_off: Array
    bump: Array
    tie_up: Array


class _Stretch(NamedTuple):
    """A time in which both torques are straight: its ends, and torque and rate at its start."""

    start: Array
    end: Array
    on: Array
    on_rate: Array
    off: Array
    off_rate: Array


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


def _stretches(plan: _Plan, times: Array) -> Iterator[Array]:
    """The stretches between the corners, in order, a row for each field of `_Stretch`."""
    length = np.diff(times, axis=0)
    one, two = (plan.grips(times[:-1] + share * length) for share in (0.25, 0.75))  # corners may be steps
    safe = np.where(length > 0.0, length, 1.0)
    (on, on_rate), (off, off_rate) = (
        (1.5 * early - 0.5 * late, 2.0 * (late - early) / safe) for early, late in zip(one, two, strict=True)
    )
    yield from np.stack([times[:-1], times[1:], on, on_rate, off, off_rate], axis=1)


def _start(plan: _Plan) -> tuple[Array, Array]:
    """All at rest in the old gear, a row for each field of `_Motion`; and a row for each field of `_Turn`."""
    turning, none = plan.turning, np.zeros_like(plan.end)
    rows = {"new": np.sign(turning.speed_gap), "held": none + 1.0, "left_at": none + np.inf}
    turn = (turning.torque, turning.speed_gap, turning.inertia, turning.most_run_up, plan.load)
    return np.stack([rows.get(name, none) for name in _Motion._fields]), np.stack(np.broadcast_arrays(*turn))


def _follow(motion: Array, turn: Array, stretch: Array) -> None:
    """Through one stretch, from turn to turn, all that are not locked yet."""
    now, ends = _Motion(*motion), stretch[1]
    rows = np.flatnonzero((now.locked == 0.0) & (stretch[0] < ends))
    for _ in range(TURNS):
        if not len(rows):
            break
        drawn = motion.take(rows, 1)
        part = _Motion(*drawn)
        _advance(part, _Stretch(*stretch.take(rows, 1)), _Turn(*turn.take(rows, 1)))
        motion[:, rows] = drawn
        rows = rows[(part.locked == 0.0) & (part.time < ends[rows])]
    np.copyto(now.time, ends, where=now.locked == 0.0)


class _Turn(NamedTuple):
    """What turns, of the shifts drawn."""

    torque: Array
    gap: Array
    inertia: Array
    most_run_up: Array
    load: Array


class _Pull(NamedTuple):
    """Torques now and how they grow: of both elements, and what is left of the turbine's over the on-coming's."""

    on: Array
    on_rate: Array
    off: Array
    off_rate: Array
    drive: Array
    drive_rate: Array


def _advance(motion: _Motion, stretch: _Stretch, turn: _Turn) -> None:
    """To the end of the stretch, or to the next moment at which an element begins or ceases to hold."""
    pull = _pull(motion, stretch, turn)
    slides = (1.0 - motion.held) / turn.inertia
    push = (pull.drive - motion.old * pull.off) * slides
    rate = (pull.drive_rate - motion.old * pull.off_rate) * slides
    back = _first_zero(motion.old * motion.speed, motion.old * push, motion.old * rate)
    there = _first_zero(motion.new * (motion.speed + turn.gap), motion.new * push, motion.new * rate)
    breaks, upward = _break(pull, turn)
    held = motion.held > 0.0
    step = np.minimum(np.where(held, breaks, np.minimum(back, there)), stretch.end - motion.time)
    _count(motion, pull, turn, step, (push, rate))
    pull = _pull(motion, stretch, turn)
    _release(motion, np.flatnonzero(held & (step == breaks)), upward)
    _return(motion, pull, turn, np.flatnonzero(~held & (step == back)))
    _arrive(motion, pull, turn, np.flatnonzero(~held & (step == there)), np.abs(push + rate * step))


def _pull(motion: _Motion, stretch: _Stretch, turn: _Turn) -> _Pull:
    """The torques at the time of the motion."""
    since = motion.time - stretch.start
    on, off = stretch.on + stretch.on_rate * since, stretch.off + stretch.off_rate * since
    drive, drive_rate = turn.torque - motion.new * on, -motion.new * stretch.on_rate
    return _Pull(on, stretch.on_rate, off, stretch.off_rate, drive, drive_rate)


def _break(pull: _Pull, turn: _Turn) -> tuple[Array, Flags]:
    """When the off-going element no longer holds, and whether the turbine then runs up."""
    up = _first_above(pull.drive - pull.off, pull.drive_rate - pull.off_rate)
    up += NEVER * (turn.most_run_up <= 0.0)
    down = _first_above(-pull.drive - pull.off, -pull.drive_rate - pull.off_rate)
    return np.minimum(up, down), up < down


def _first_above(value: Array, rate: Array) -> Array:
    """When a straight line rises above 0; never: a very long time."""
    return (value <= 0.0) * np.maximum(-value, TINY) / np.maximum(rate, NOTHING)


def _first_zero(distance: Array, speed: Array, rate: Array) -> Array:
    """When distance + speed t + rate t^2 / 2 is back at 0, from 0 or above; never: a very long time."""
    distance = np.maximum(distance, 0.0)
    speed = speed + (distance <= 0.0) * np.maximum(-speed, 0.0)
    spread = speed * speed - 2.0 * rate * distance
    root = np.sqrt(np.maximum(spread, 0.0))
    near = speed < 0.0  # the form of the two that does not cancel
    above = near * 2.0 * distance + ~near * (speed + root) + NEVER * (spread < 0.0)
    return np.maximum(above, TINY) / np.maximum(near * (root - speed) - ~near * rate, NOTHING)


def _count(motion: _Motion, pull: _Pull, turn: _Turn, step: Array, course: tuple[Array, Array]) -> None:
    """The step gone: speed, its peak, heat, and what both held too much."""
    (push, rate), half = course, 0.5 * step
    middle = motion.speed + half * (push + 0.5 * rate * half)
    end = motion.speed + step * (push + 0.5 * rate * step)
    end = np.minimum(end, turn.most_run_up + np.maximum(-turn.gap, 0.0))
    humped = np.flatnonzero((push > 0.0) & (push + rate * step < 0.0))
    top = motion.speed[humped] - 0.5 * push[humped] ** 2 / rate[humped]
    motion.peak[humped] = np.maximum(motion.peak[humped], top)
    np.maximum(motion.peak, end, out=motion.peak)
    slip = (motion.speed + turn.gap, middle + turn.gap, end + turn.gap)
    motion.heat[:] += _work(pull.on, pull.on_rate, step, slip)
    motion.heat_off[:] += _work(pull.off, pull.off_rate, step, (motion.speed, middle, end))
    motion.tie_up[:] += step * _excess(pull, turn, step) / turn.load
    motion.speed[:] = end
    motion.time[:] += step


def _work(torque: Array, rate: Array, step: Array, slip: tuple[Array, Array, Array]) -> Array:
    """Friction work of a step; Simpson's rule is exact for a straight torque on a parabola of slip."""
    start, middle, end = (np.abs(each) for each in slip)
    change = rate * step
    return step / 6.0 * (torque * start + 4.0 * (torque + 0.5 * change) * middle + (torque + change) * end)


def _excess(pull: _Pull, turn: _Turn, step: Array) -> Array:
    """Mean over a step of what both hold together over what a shift begins with, at most what the off-going holds."""
    alone = pull.on - SPARE * turn.load
    both, rate = alone + pull.off, pull.on_rate * step
    return _above(both, both + rate + pull.off_rate * step) - _above(alone, alone + rate)


def _above(start: Array, end: Array) -> Array:
    """Mean of what a straight line from start to end has above 0."""
    above = np.maximum(start, 0.0) + np.maximum(end, 0.0)
    below = np.minimum(start, 0.0) + np.minimum(end, 0.0)
    mean: Array = 0.5 * above * above / np.maximum(above - below, NOTHING)
    return mean


def _release(motion: _Motion, now: Places, upward: Flags) -> None:
    """The off-going element gives way."""
    motion.held[now] = 0.0
    motion.old[now] = np.where(upward[now], 1.0, -1.0)
    motion.left_at[now] = np.minimum(motion.left_at[now], motion.time[now])


def _return(motion: _Motion, pull: _Pull, turn: _Turn, now: Places) -> None:
    """Back at the old speed: the off-going element holds again, or is passed."""
    motion.speed[now] = 0.0
    barred = (pull.drive > 0.0) & (turn.most_run_up <= 0.0)
    motion.held[now] = ((np.abs(pull.drive) <= pull.off) | barred)[now]
    motion.old[now] *= -1.0


def _arrive(motion: _Motion, pull: _Pull, turn: _Turn, now: Places, rate: Array) -> None:
    """At the new speed: the on-coming element holds, or is passed."""
    motion.speed[now] = -turn.gap[now]
    motion.locked[now] = (np.abs(turn.torque - motion.old * pull.off) <= pull.on)[now]
    motion.bump[now] = (turn.inertia * rate / turn.load)[now] * motion.locked[now]
    motion.new[now] *= -1.0


def _outcome(motion: _Motion, plan: _Plan) -> Handover:
    """What is told of a shift."""
    left_at = np.where(np.isfinite(motion.left_at), motion.left_at, plan.orders.fill_time)
    flare = np.maximum(motion.peak - np.maximum(-plan.turning.speed_gap, 0.0), 0.0)
    slide = motion.time - left_at
    return Handover(flare, slide, motion.heat, motion.heat_off, motion.bump, motion.tie_up, plan.touch)
