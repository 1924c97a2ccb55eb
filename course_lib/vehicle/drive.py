"""Engine, converter and lock-up clutch as one torque balance: how fast they run, freely and where the train holds no more.

Every array of a `Drive` has one shape, that of the operating points it is asked about: (n, m) or a list (K,).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import converter, engine

TINY = 1e-9
NEWTON_STEPS = 6  # on a choked engine, from above; the worst of 2,000 random cases was then within 1e-6
ROOT_STEPS = (
    5  # of false position below the coupling point; the worst of a population was then within 0.01 N m
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What drives the gear train at each point."""

    peak_torque: Array  # N m, of the engine at this pedal
    peak_speed: Array  # rad/s
    free_speed: Array  # rad/s, without load
    choke: Array  # s/rad, back pressure by engine speed, of what halves the torque
    idle: Array  # rad/s, below which the idle governor lets no engine fall
    given: Array  # rad/s, engine speed held by hand, NaN where it follows from the balance
    capacity: Array  # N m s2, of the converter at stall
    coupling: Array  # speed ratio where the stator lets go
    stall_ratio: Array  # torque ratio at stall, with its stator as it is
    stator_lock: Array  # share by which the stator cannot turn
    lockup: Array  # N m that the lock-up lining holds, 0 off

    def at(self, index: Places | Flags | tuple[Places, ...]) -> Drive:
        """The same for some of the points."""
        return Drive(**{f.name: getattr(self, f.name)[index] for f in fields(Drive)})

    # ------------------------------------------------------------------ torques
    def engine_torque(self, speed: Array) -> Array:
        """Torque [N m] the engine gives at a speed."""
        free = engine.engine_torque(speed, self.peak_torque, self.peak_speed, self.free_speed)
        return free * engine.choked_torque_share(self.choke * speed * engine.TORQUE_PRESSURE)

    def lining(self, speed: Array, fluid: Array) -> Array:
        """Torque [N m] of the lock-up lining: its grip, but no more than the engine has left beside what the fluid takes."""
        if not self.lockup.any():
            return self.lockup
        return np.clip(self.engine_torque(speed) - fluid, 0.0, self.lockup)

    def torques(self, speed: Array, turbine: Array) -> tuple[Array, Array]:
        """Turbine torque and torque taken from the engine [N m]."""
        given, taken = self._torques(speed, turbine)
        return np.maximum(given, 0.0), taken

    def _torques(self, speed: Array, turbine: Array) -> tuple[Array, Array]:
        """The same; below 0 where a stator that cannot turn brakes more than the pump drives."""
        ratio = turbine / np.maximum(speed, TINY)
        fluid = converter.pump_torque(speed, ratio, self.capacity, self.coupling)
        given = fluid * converter.torque_ratio(ratio, self.stall_ratio, self.coupling)
        if self.stator_lock.any():
            given -= self.stator_lock * converter.stator_brake(speed, ratio, self.capacity, self.coupling)
        lining = self.lining(speed, fluid)
        return given + lining, fluid + lining

    # ------------------------------------------------------------------ speeds
    def _ruled(self, speed: Array) -> Array:
        """The speed that hand or idle governor leave."""
        return np.where(np.isnan(self.given), np.maximum(speed, self.idle), self.given)

    def _root(self, square: Array, linear: Array, plain: Array, above: Flags) -> Array:
        """Engine speed at which square w^2 + linear w + plain, what is taken, is what the engine gives; exact, without a choke.

        above: whether it lies past the peak. Both sides are quadratics in the speed: the root at which taking overtakes giving.
        """
        rising = engine.FLAT
        bend = np.where(above, engine.STEEP / (self.free_speed / self.peak_speed - 1.0) ** 2, rising)
        curve = self.peak_torque * bend / self.peak_speed**2
        a = square + curve
        b = linear - 2.0 * curve * self.peak_speed
        c = plain - self.peak_torque * (1.0 - bend)
        root = np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0))
        up = b > 0.0
        speed = np.where(
            up, -2.0 * c / (b + root + TINY), (root - b) / np.where(up | (a == 0.0), 1.0, 2.0 * a)
        )
        if not np.any(self.choke):
            return speed
        # From the root without choke, which lies above, Newton's rule on the convex difference walks down.
        for _ in range(NEWTON_STEPS):
            taken, slope = (square * speed + linear) * speed + plain, 2.0 * square * speed + linear
            given = self.peak_torque - curve * (speed - self.peak_speed) ** 2
            away = taken * (1.0 + self.choke * speed) - given
            fall = (
                slope * (1.0 + self.choke * speed)
                + taken * self.choke
                + 2.0 * curve * (speed - self.peak_speed)
            )
            speed = np.where(self.choke > 0.0, np.maximum(speed - away / np.maximum(fall, TINY), 0.0), speed)
        return speed

    def free(self, turbine: Array) -> Array:
        """Engine speed [rad/s] with a turbine that turns at `turbine` and slips nowhere."""
        x = turbine / self.coupling
        lam, kink = self.capacity, np.maximum(x, TINY)
        coupled = lam * converter.AT_COUPLING * kink**2 + self.lockup > self.engine_torque(kink)
        steep = lam * converter.AT_COUPLING / (1.0 - self.coupling) ** 2
        tilt, lift = 1.0 - self.coupling - converter.BEYOND * self.coupling, converter.BEYOND * turbine
        square = np.where(coupled, steep * tilt, lam)
        linear = np.where(coupled, steep * (lift - tilt * turbine), -lam * converter.LINEAR * x)
        plain = np.where(coupled, -steep * lift * turbine, -lam * converter.SQUARE * x * x) + self.lockup
        peak = self.peak_speed
        above = (square * peak + linear) * peak + plain < self.peak_torque / (1.0 + self.choke * peak)
        speed = self._root(square, linear, plain, above)
        speed = np.where(self.engine_torque(turbine) <= self.lockup, turbine, np.maximum(speed, turbine))
        return self._ruled(speed)

    def _gives(self, torque: Array) -> Array:
        """Engine speed past the peak at which it gives just `torque`; its idle where it never gives as much."""
        bend = engine.STEEP / (self.free_speed / self.peak_speed - 1.0) ** 2
        curve = self.peak_torque * bend / self.peak_speed**2
        a, b = np.maximum(curve, TINY), torque * self.choke - 2.0 * curve * self.peak_speed
        c = torque - self.peak_torque * (1.0 - bend)
        speed = (np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0)) - b) / (2.0 * a)
        return self._ruled(np.where(self.engine_torque(self.peak_speed) > torque, speed, self.idle))

    def speed_of(self, share: Array) -> Array:
        """Engine speed at which the converter takes `share` of its stall torque."""
        square, peak = self.capacity * share, self.peak_speed
        above = square * peak**2 + self.lockup < self.peak_torque / (1.0 + self.choke * peak)
        return self._ruled(self._root(square, 0.0 * square, self.lockup, above))

    def race(self, limit: Array, ratio: Array, asked: Array) -> tuple[Array, Array]:
        """Engine and turbine speed [rad/s] at which the turbine torque has come down to `limit` [N m].

        ratio, asked: speed ratio and turbine torque without slip, from which the turbine runs up. The torque falls steadily
        with the speed ratio, so the root is one: past the coupling point in closed form, below it by false position.
        """
        speed = self._gives(limit)
        lining = np.where(speed > self.idle, self.lockup, 0.0)  # an idling engine has nothing left for it
        share = np.maximum(limit - lining, 0.0) / (self.capacity * np.maximum(speed, TINY) ** 2)
        found = converter.coupled_ratio(share, self.coupling)
        search = (share >= converter.AT_COUPLING) | (self.stator_lock > 0.0)
        if np.any(search):
            some = self.at(search)
            found[search] = some.ratio_at(limit[search], ratio[search], asked[search])
            speed[search] = some.speed_of(converter.capacity_share(found[search], some.coupling))
        return speed, found * speed

    def ratio_at(self, limit: Array, low: Array, asked: Array) -> Array:
        """Speed ratio from `low` up at which the turbine torque is `limit`: short of the coupling point, or past it where a
        stator that cannot turn brakes there. asked: the turbine torque at `low`."""

        def left_over(ratio: Array) -> Array:
            speed = self.speed_of(converter.capacity_share(ratio, self.coupling))
            return self._torques(speed, ratio * speed)[0] - limit

        middle = left_over(self.coupling)
        past = (self.stator_lock > 0.0) & ((low > self.coupling) | (middle > 0.0))
        bottom = np.where(past & (low < self.coupling), self.coupling, low)
        at_bottom = np.where(bottom == low, asked - limit, middle)
        top, at_top = self.coupling, middle
        if np.any(past):
            top = np.where(past, 1.0, top)
            at_top = np.where(past, left_over(np.ones_like(low)), middle)
        return falling_root(left_over, (bottom, at_bottom), (np.maximum(top, bottom), at_top), ROOT_STEPS)


def falling_root(
    function: Callable[[Array], Array], low: tuple[Array, Array], high: tuple[Array, Array], steps: int
) -> Array:
    """Where a falling function of arrays is 0: false position after Anderson and Bjoerck.

    An end that stays twice counts for less, by as much as the other has shrunk, or for half of it.

    low, high: the ends (place, value) of the bracket.
    """
    (bottom, left), (top, right) = low, high
    old = np.zeros_like(left)
    middle = bottom
    for _ in range(steps):
        width = left - right
        part = np.where(width > TINY, left / np.where(width > TINY, width, 1.0), 0.0)
        middle = bottom + (top - bottom) * np.clip(part, 0.0, 1.0)
        value = function(middle)
        up = value > 0.0
        moved = np.where(up, left, right)
        kept = np.maximum(1.0 - value / np.where(moved == 0.0, 1.0, moved), 0.0)
        kept = np.where(kept > 0.0, kept, 0.5)
        right = np.where(up & (old > 0.0), kept * right, right)
        left = np.where(~up & (old < 0.0), kept * left, left)
        bottom, left = np.where(up, middle, bottom), np.where(up, value, left)
        top, right = np.where(up, top, middle), np.where(up, right, value)
        old = np.where(up, 1.0, -1.0)
    return middle
