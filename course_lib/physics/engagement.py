"""An apply in time: the piston fills and strokes, pressure rises against the cushion, plates slide, then they lock."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.base.constants import SHARP_EDGE_DISCHARGE
from course_lib.physics.hydraulics import orifice_flow

SMALLEST = 1e-12  # keeps divisions by zero out of a circuit without flow, without cushion or without grip


@dataclass(frozen=True, slots=True)
class Feed:
    """What fills and presses a circuit; each a float or an array.

    line_pressure           before the feed orifice [Pa]
    circuit_pressure        in the end, see `hydraulics.fed_pressure` [Pa]
    area                    of the feed orifice [m2]
    density                 of the fluid [kg/m3]
    discharge_coefficient   of the feed orifice [-]
    """

    line_pressure: Values
    circuit_pressure: Values
    area: Values
    density: Values
    discharge_coefficient: Values = SHARP_EDGE_DISCHARGE


@dataclass(frozen=True, slots=True)
class Piston:
    """What the fluid has to move before and while the plates grip; each a float or an array.

    stroke_volume        piston area x clearance, and passages [m3]
    spring_pressure      that moves the piston, force / area [Pa]
    accumulator_volume   taken up from the spring's pressure to the steady one [m3]
    """

    stroke_volume: Values
    spring_pressure: Values
    accumulator_volume: Values


@dataclass(frozen=True, slots=True)
class Load:
    """What the plates have to take over, seen from the turbine; each a float or an array.

    torque      of the turbine, above 0 [N m]
    speed_gap   turbine speed to be worked off [rad/s]
    inertia     of what changes speed [kg m2]
    """

    torque: Values
    speed_gap: Values
    inertia: Values


@dataclass(frozen=True, slots=True)
class Limits:
    """Where nobody waits any longer; each a float or an array.

    longest_fill    no delay is taken to be longer [s]
    most_run_up     the engine runs away no further [rad/s]
    longest_slide   then the driver has lifted [s]
    """

    longest_fill: Values
    most_run_up: Values
    longest_slide: Values


class Engagement(NamedTuple):
    """How one element came on: [s], [rad/s], [s], [J], [-] and [s], see `engage`."""

    delay: Array
    flare: Array
    slip_time: Array
    heat: Array
    bump: Array
    tie_up: Array


class Takeover(NamedTuple):
    """How the plates took the load over: [rad/s], [s], [J], [-] and [s], see `take_over`."""

    flare: Array
    slip_time: Array
    heat: Array
    bump: Array
    tie_up: Array


def net_flow(pressure: Values, feed: Feed) -> Array:
    """Flow that is left to move a piston or an accumulator while the circuit stands at a pressure.

        Qn(p) = Cd A sqrt(2 (pL - p) / rho) - (p / pe) Cd A sqrt(2 (pL - pe) / rho), not below 0

    Parameters                                                                      symbol         unit
        pressure   float or array   in the circuit now                                p              [Pa]
        feed       Feed             what fills it, and its steady pressure            pL pe A rho Cd [SI]
    Returns
        float or array, broadcast of the inputs                                       Qn             [m3/s]
    Valid for
        any leak: what leaks is known from the steady pressure, where all that is fed leaks away. Exact for
        laminar leaks; a hole leaks a little more than that below the steady pressure.
    Source
        Flow balance of `hydraulics.orifice_flow` and a leak proportional to pressure.
    In the workshop
        a leaking circuit is slow before it slips: the leak takes from the fill.
    Example
        >>> round(float(net_flow(8e4, Feed(4.5e5, 4.3e5, 6.2e-6, 830.0))) * 60000.0, 2)
        6.49
    """
    orifice = (feed.density, feed.discharge_coefficient)
    fed = orifice_flow(feed.area, np.maximum(feed.line_pressure - pressure, 0.0), *orifice)
    steady = np.maximum(feed.line_pressure - feed.circuit_pressure, 0.0)
    leak = orifice_flow(feed.area, steady, *orifice)
    return np.maximum(fed - leak * pressure / np.maximum(feed.circuit_pressure, SMALLEST), 0.0)


def take_over(
    ramp_time: Values, capacity: Values, load: Load, lead: Values, lag: Values, limits: Limits
) -> Takeover:
    """Slide of plates whose grip rises evenly, from first grip to lock-up.

        T(t) = Tc min(t / tr, 1);   J dw/dt = TL - T(t) once nothing else holds;   w = 0 ends it

    Parameters                                                                      symbol   unit
        ramp_time   float or array   from first grip to full grip                     tr       [s]
        capacity    float or array   grip at full pressure, as turbine torque         Tc       [N m]
        load        Load             torque, speed gap and inertia at the turbine     TL w0 J  [SI]
        lead        float or array   first grip before the other lets go              s0       [s]
        lag         float or array   first grip after the other has let go            -        [s]
        limits      Limits           of run-up and slide                              -        [SI]
    Returns
        Takeover of flare, slip time, heat, bump, tie-up                              -        [mixed]
    Valid for
        friction that does not change with slip; one of lead and lag is 0. Exact while neither limit is
        reached; where one is, the heat is that of a straight line between the ends.
    Source
        Newton's law for the turning mass, in closed form: the slide is a parabola in time.
    In the workshop
        a short ramp locks with grip to spare and bangs, a long one slurs and heats the plates.
    Example
        >>> slide = take_over(0.3, 800.0, Load(200.0, 60.0, 0.5), 0.1, 0.0, Limits(3.0, 250.0, 2.5))
        >>> [round(float(x), 3) for x in slide]
        [0.0, 0.227, 2644.79, 2.028, 0.025]
    """
    ramp_time = np.maximum(ramp_time, SMALLEST)
    rate = np.maximum(capacity, SMALLEST) / ramp_time
    start = load.speed_gap + np.minimum(load.torque / load.inertia * lag, limits.most_run_up)
    most = load.speed_gap + limits.most_run_up
    slide = _Slide(rate, ramp_time, capacity, load, lead, start, most)
    end = np.minimum(slide.lock_time(), lead + limits.longest_slide)
    taken = load.torque / rate
    peak = np.where(capacity > load.torque, np.clip(taken, lead, end), end)
    return Takeover(
        flare=np.maximum(slide.gap(peak) - load.speed_gap, 0.0),
        slip_time=end,
        heat=load.speed_gap * slide.impulse(lead) + slide.heat(end),
        bump=np.maximum(slide.grip(end) / load.torque - 1.0, 0.0),
        tie_up=np.maximum(lead - taken, 0.0) * (capacity > load.torque),
    )


def engage(
    feed: Feed, piston: Piston, capacity: Values, load: Load, overlap: Values, limits: Limits
) -> Engagement:
    """An element comes on while another one lets go: fill and stroke, ramp, slide, lock.

        delay = Vs / Qn(ps);   tr = Va / Qn((ps + pe) / 2);   then `take_over`

    Parameters                                                                          symbol    unit
        feed       Feed             of its circuit, with the steady pressure pe           pL pe ..  [SI]
        piston     Piston           stroke, spring and accumulator                        Vs ps Va  [SI]
        capacity   float or array   grip at pe, as turbine torque                         Tc        [N m]
        load       Load             torque, speed gap and inertia at the turbine          TL w0 J   [SI]
        overlap    float or array   until the other lets go; inf: none does               -         [s]
        limits     Limits           of fill, run-up and slide                             -         [SI]
    Returns
        Apply: delay from command to first grip [s]; flare, highest speed over the speed before [rad/s];
        slip time from first grip to lock-up [s]; heat in this element [J]; bump, torque at lock-up over
        load less 1 [-]; tie-up, time in which both hold more than the load [s]
    Valid for
        a feed that holds the line. Grip is taken to rise evenly; the rate is the one that brings about
        three quarters of the pressure at the right moment.
    Source
        `net_flow`, and Newton's law for the turning mass.
    In the workshop
        a leak first delays, then flares; a lost cushion bangs; too little clearance ties up.
    Example
        >>> feed, piston = Feed(4.5e5, 4.3e5, 6.2e-6, 830.0, 0.611), Piston(1.4e-5, 8e4, 2e-5)
        >>> parts = engage(feed, piston, 800.0, Load(100.0, 60.0, 0.5), 0.2, Limits(3.0, 250.0, 2.5))
        >>> [round(float(x), 2) for x in parts]
        [0.13, 0.0, 0.19, 1738.37, 4.09, 0.03]
    """
    spring, steady = piston.spring_pressure, feed.circuit_pressure
    fill = net_flow(spring, feed) * (steady > spring)
    delay = np.minimum(piston.stroke_volume / np.maximum(fill, SMALLEST), limits.longest_fill)
    rise = net_flow(0.5 * (spring + steady), feed)
    ramp = np.minimum(piston.accumulator_volume / np.maximum(rise, SMALLEST), limits.longest_fill)
    overlap = np.where(np.isfinite(overlap), overlap, delay)
    lead, lag = np.maximum(overlap - delay, 0.0), np.maximum(delay - overlap, 0.0)
    return Engagement(delay, *take_over(ramp, capacity, load, lead, lag, limits))


class _Slide(NamedTuple):
    """The slide as polynomials in time: grip rises at `rate` for `ramp_time` up to `capacity`, the other lets go at `lead`."""

    rate: Array
    ramp_time: Array
    capacity: Values
    load: Load
    lead: Values
    start: Array
    most: Values

    def grip(self, time: Values) -> Array:
        """Torque [N m] at a time."""
        torque: Array = np.minimum(self.rate * time, self.capacity)
        return torque

    def impulse(self, time: Values) -> Array:
        """Torque times time [N m s] up to a time."""
        rising: Array = np.minimum(time, self.ramp_time)
        return 0.5 * self.rate * rising**2 + self.capacity * (time - rising)

    def gap(self, time: Values) -> Array:
        """Speed gap [rad/s] at a time after `lead`."""
        push = self.load.torque * (time - self.lead)
        brake = self.impulse(time) - self.impulse(self.lead)
        return np.clip(self.start + (push - brake) / self.load.inertia, 0.0, self.most)

    def lock_time(self) -> Array:
        """Time [s] at which the gap is worked off: during the ramp, after it, or as good as never."""
        lead, torque, inertia = self.lead, self.load.torque, self.load.inertia
        over = torque - self.rate * lead
        rising = (torque + np.sqrt(over**2 + 2.0 * self.rate * inertia * self.start)) / self.rate
        knee = np.maximum(lead, self.ramp_time)
        spare = np.maximum(self.capacity - torque, SMALLEST)
        brake = self.impulse(knee) - self.impulse(lead)
        left = inertia * self.start + torque * (knee - lead) - brake
        return np.where(rising <= self.ramp_time, rising, knee + np.maximum(left, 0.0) / spare)

    def heat(self, end: Array) -> Array:
        """Friction work [J] after `lead`; Simpson's rule is exact for the ramp, the trapezoid for what follows."""
        knee = np.clip(self.ramp_time, self.lead, end)
        middle = 0.5 * (self.lead + knee)
        at = [self.grip(time) * self.gap(time) for time in (self.lead, middle, knee, end)]
        ramp = (knee - self.lead) * (at[0] + 4.0 * at[1] + at[2]) / 6.0
        return ramp + 0.5 * (end - knee) * (at[2] + at[3])
