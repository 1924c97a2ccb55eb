"""The state of lives under way: what each has to live, where it is, how far it tries to go, and what its trials have taught.

Every lane of the batch is one vehicle with its own step length. Shapes: n lanes, d drivers of each vehicle, k entries of a packed
condition, m points of the day. The odometer is in meters here; everything is (n, 1) unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Batched, Flags, Places
from course_lib.vehicle.first_noticed import felt_logarithm
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.operating_point import Workings
from course_lib.vehicle.owner_day import Remembered
from course_lib.vehicle.sump_balance import BalanceSearch

SMALLEST_STEP = 80.4672  # m, a twentieth of a mile; is accepted whatever its error
FIRST_MILE = 1609.344  # m
PATIENT = 20.0  # steps after which a life is looked at less closely


@dataclass(slots=True, kw_only=True)
class Task(Batched):
    """What each lane has to live; nothing of it changes on the way."""

    row: Places  # (n,) place in the batch
    horizon: Array  # m
    rough: Array  # how many times less exact than usual
    drivers: Array  # (n, d) sensitivity of each, the one who complains first at the head
    most: Array  # (n, k) what no entry of the state passes
    sound: Array  # (n, m) K, sump of a sound vehicle


@dataclass(slots=True, kw_only=True)
class Listening(Batched):
    """Who is listened to in each lane, (n,)."""

    turn: Places  # the driver
    tried: Places  # steps for this driver
    ended: Flags  # no driver is left


@dataclass(slots=True, kw_only=True)
class Here(Batched):
    """Where each lane is, and what it is like there."""

    odometer: Array  # m
    state: Array  # (n, k)
    memory: Memory
    rate: Array  # (n, k) per meter
    before: Array  # (n, k) the rate one step ago
    past: Array  # m of that step; 0: nothing before this is like it
    felt: Array  # logarithm of sensitivity times the worst that is felt; a complaint from 0 on
    climb: Array  # 1/m, how that rose over the last step


@dataclass(slots=True, kw_only=True)
class Stepping(Batched):
    """How far each lane tries to go."""

    step: Array  # m to try next; 0: the rate here is not known yet
    stride: Array  # m, step to take where no complaint is near
    wall: Array  # m, odometer that a step from behind could not reach
    cap: Array  # m, longest step before that


@dataclass(slots=True, kw_only=True)
class Bracket(Batched):
    """The nearest complaint that has been seen ahead."""

    far: Array  # m, nearest odometer past it; infinite where none has been seen
    felt: Array  # logarithm, as felt there
    halve: Flags  # the last trial narrowed it down by less than half


@dataclass(slots=True, kw_only=True)
class Warmth(Batched):
    """The sump of each lane."""

    here: Array  # (n, m) K, at each point of the duty
    rise: Array  # (n, m) K/m
    found: Array  # (n, m) K, ahead as a trial found it, for the same step once more; 0: nothing
    cold: Flags  # it is sought from that of a sound vehicle up


@dataclass(slots=True, kw_only=True)
class Anew(Batched):
    """A step that is tried again, since codes were stored in it about which something is then done."""

    on: Flags  # it is tried with that
    memory: Memory  # as it was where the first action came on
    left: Array  # m that were left then


@dataclass(slots=True, kw_only=True)
class Lanes(Batched):
    """The vehicles under way."""

    task: Task
    listening: Listening
    here: Here
    stepping: Stepping
    bracket: Bracket
    anew: Anew
    sump: Warmth
    search: BalanceSearch  # for the sump of the step that is being tried

    def __len__(self) -> int:
        return len(self.task.row)

    def sensitivity(self) -> Array:
        """Of the driver who is listened to."""
        return np.take_along_axis(self.task.drivers, self.listening.turn[:, None], 1)

    def weariness(self) -> Array:
        """How many times as far off as at first will do: a life on the brink could be drawn out without end."""
        times: Array = 1.0 + (self.listening.tried[:, None] / PATIENT) ** 3
        return times

    def loose(self) -> Array:
        """How many times as loosely the sump may be known: the miles ask less of it than of the steps."""
        times: Array = np.sqrt(self.task.rough)
        return times

    def patience(self) -> Array:
        """How many times the tolerance is good enough."""
        return self.task.rough * self.weariness()

    def counts(self, step: Array) -> Array:
        """Meters over which a step [m] is remembered: a life begins with a mile, for codes to be set."""
        return np.where(self.anew.on, self.anew.left, np.where(step == 0.0, FIRST_MILE, step))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What a trial step of every lane came to."""

    step: Array  # m
    ahead: Array  # m, odometer there
    judged: Array  # (n, k), as predicted: rate, strength and work are of this state
    state: Array  # (n, k), as corrected: from here it goes on
    remembers: Remembered
    changed: Flags  # what is done about codes is not what it was tried with
    rate: Array  # (n, k) per meter
    error: Array  # in units of the tolerance
    order: Array  # power of the step that the error goes with
    worst: Array  # the strongest trouble
    felt: Array  # logarithm, to the driver who is listened to
    strength: dict[str, Array]
    work: Workings

    def complained(self) -> Flags:
        """Whether the driver complains there."""
        return self.felt >= 0.0

    def heard_by(self, drivers: Array) -> Flags:
        """Which drivers, (n, d) by their sensitivity, have had enough."""
        return felt_logarithm(self.worst * drivers) >= 0.0

    def fine(self, patience: Array) -> Flags:
        """Whether the step is accurate enough, so many times the tolerance, or cannot be shorter."""
        return (self.error < patience) | (self.step <= 1.01 * SMALLEST_STEP)
