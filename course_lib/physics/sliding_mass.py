"""A turning mass between two dry frictions, one at its old speed and one at its new, from turn to turn."""

from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Flags, Places

SPARE = 1.25  # -, of the load: what an off-going element holds before a shift (invented)
TINY = 1e-6  # N m and more, keeps a moment that is just reached from being found again and again
NOTHING = 1e-30  # keeps divisions by zero out; a quotient of it is a very long time
NEVER = 1e12  # s, a very long time
TURNS = 8  # changes between holding and sliding within one stretch of straight torques, far more than happen


class SlideState(NamedTuple):
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


class TorqueStretch(NamedTuple):
    """A time in which both torques are straight: its ends, and torque and rate at its start."""

    start: Array
    end: Array
    on: Array
    on_rate: Array
    off: Array
    off_rate: Array


class TurningMass(NamedTuple):
    """What turns: its drive, what it has to lose, and the load that tie-up and bump are told against."""

    torque: Array
    gap: Array
    inertia: Array
    most_run_up: Array
    load: Array


class SlidingMass:
    """Many turning masses at once, all at rest in the old gear to begin with."""

    def __init__(self, turn: TurningMass) -> None:
        """One shift for each number in the row that every field is."""
        none = np.zeros_like(turn.load)
        rows = {"new": np.sign(turn.gap), "held": none + 1.0, "left_at": none + np.inf}
        self._turn = np.stack(turn)
        self._motion = np.stack([rows.get(name, none) for name in SlideState._fields])

    @property
    def state(self) -> SlideState:
        """Where each stands now."""
        return SlideState(*self._motion)

    def follow(self, stretches: Array) -> None:
        """Through some stretches (stretches, fields of `TorqueStretch`, shifts), from turn to turn, all that are not locked yet.

        Each at its own stretch: as many rounds as the longest of them has turns, and not the sum of the longest in every stretch.
        """
        now, ahead = self.state, _ahead(stretches)
        rows = np.flatnonzero((now.locked == 0.0) & (ahead[0] < len(stretches)))
        at, turns = ahead[0, rows], np.zeros(len(rows), int)
        while len(rows):
            drawn = self._motion.take(rows, 1)
            part, stretch = SlideState(*drawn), TorqueStretch(*stretches[at, :, rows].T)
            _advance(part, stretch, TurningMass(*self._turn.take(rows, 1)))
            free, turns = part.locked == 0.0, turns + 1
            over = (part.time >= stretch.end) | (turns >= TURNS)
            np.copyto(part.time, stretch.end, where=free & over)
            self._motion[:, rows] = drawn
            at, turns = np.where(over, ahead[at + 1, rows], at), turns * ~over
            left = free & (at < len(stretches))
            rows, at, turns = rows[left], at[left], turns[left]


def _ahead(stretches: Array) -> Places:
    """Place of the next stretch from each on, (stretches + 1, shifts), that has any length; their number: none."""
    places, none = np.arange(len(stretches))[:, None], len(stretches)
    long = np.where(stretches[:, 0] < stretches[:, 1], places, none)
    after = np.full((1, stretches.shape[-1]), none)
    found: Places = np.minimum.accumulate(np.concatenate([long, after])[::-1])[::-1]
    return found


class _Pull(NamedTuple):
    """Torques now and how they grow: of both elements, and what is left of the turbine's over the on-coming's."""

    on: Array
    on_rate: Array
    off: Array
    off_rate: Array
    drive: Array
    drive_rate: Array


def _advance(motion: SlideState, stretch: TorqueStretch, turn: TurningMass) -> None:
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


def _pull(motion: SlideState, stretch: TorqueStretch, turn: TurningMass) -> _Pull:
    """The torques at the time of the motion."""
    since = motion.time - stretch.start
    on, off = stretch.on + stretch.on_rate * since, stretch.off + stretch.off_rate * since
    drive, drive_rate = turn.torque - motion.new * on, -motion.new * stretch.on_rate
    return _Pull(on, stretch.on_rate, off, stretch.off_rate, drive, drive_rate)


def _break(pull: _Pull, turn: TurningMass) -> tuple[Array, Flags]:
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


def _count(
    motion: SlideState, pull: _Pull, turn: TurningMass, step: Array, course: tuple[Array, Array]
) -> None:
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


def _excess(pull: _Pull, turn: TurningMass, step: Array) -> Array:
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


def _release(motion: SlideState, now: Places, upward: Flags) -> None:
    """The off-going element gives way."""
    motion.held[now] = 0.0
    motion.old[now] = np.where(upward[now], 1.0, -1.0)
    motion.left_at[now] = np.minimum(motion.left_at[now], motion.time[now])


def _return(motion: SlideState, pull: _Pull, turn: TurningMass, now: Places) -> None:
    """Back at the old speed: the off-going element holds again, or is passed."""
    motion.speed[now] = 0.0
    barred = (pull.drive > 0.0) & (turn.most_run_up <= 0.0)
    motion.held[now] = ((np.abs(pull.drive) <= pull.off) | barred)[now]
    motion.old[now] *= -1.0


def _arrive(motion: SlideState, pull: _Pull, turn: TurningMass, now: Places, rate: Array) -> None:
    """At the new speed: the on-coming element holds, or is passed."""
    motion.speed[now] = -turn.gap[now]
    motion.locked[now] = (np.abs(turn.torque - motion.old * pull.off) <= pull.on)[now]
    motion.bump[now] = (turn.inertia * rate / turn.load)[now] * motion.locked[now]
    motion.new[now] *= -1.0
