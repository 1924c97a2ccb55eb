"""An apply in time: the piston fills and strokes, pressure rises against the cushion, plates slide, then they lock."""

from typing import NamedTuple

import numpy as np

from course_lib.base.constants import SHARP_EDGE_DISCHARGE
from course_lib.physics.hydraulics import orifice_flow

SMALLEST = 1e-12  # keeps divisions by zero out of a circuit without flow, without cushion or without grip


class Engagement(NamedTuple):
    """How one element came on: [s], [rad/s], [s], [J], [-] and [s], see `engage`."""

    delay: np.ndarray
    flare: np.ndarray
    slip_time: np.ndarray
    heat: np.ndarray
    bump: np.ndarray
    tie_up: np.ndarray


class Takeover(NamedTuple):
    """How the plates took the load over: [rad/s], [s], [J], [-] and [s], see `take_over`."""

    flare: np.ndarray
    slip_time: np.ndarray
    heat: np.ndarray
    bump: np.ndarray
    tie_up: np.ndarray


def net_flow(
    pressure,
    line_pressure,
    circuit_pressure,
    feed_area,
    density,
    discharge_coefficient=SHARP_EDGE_DISCHARGE,
):
    """Flow that is left to move a piston or an accumulator while the circuit stands at a pressure.

        Qn(p) = Cd A sqrt(2 (pL - p) / rho) - (p / pe) Cd A sqrt(2 (pL - pe) / rho), not below 0

    Parameters                                                                        symbol  unit
        pressure                float or array   in the circuit now                     p      [Pa]
        line_pressure           float or array   before the feed orifice                pL     [Pa]
        circuit_pressure        float or array   in the end, see `circuit.fed_pressure`   pe   [Pa]
        feed_area               float or array   feed orifice                           A      [m2]
        density                 float or array   of the fluid                           rho    [kg/m3]
        discharge_coefficient   float or array   of the feed                            Cd     [-]
    Returns
        float or array, broadcast of the inputs                                         Qn     [m3/s]
    Valid for
        any leak: what leaks is known from the steady pressure, where all that is fed leaks away. Exact for
        laminar leaks; a hole leaks a little more than that below the steady pressure.
    Source
        Flow balance of `circuit.orifice_flow` and a leak proportional to pressure.
    In the workshop
        a leaking circuit is slow before it slips: the leak takes from the fill.
    Example
        >>> round(float(net_flow(8e4, 4.5e5, 4.3e5, 6.2e-6, 830.0)) * 60000.0, 2)
        6.49
    """
    feed = orifice_flow(feed_area, np.maximum(line_pressure - pressure, 0.0), density, discharge_coefficient)
    steady = np.maximum(line_pressure - circuit_pressure, 0.0)
    leak = orifice_flow(feed_area, steady, density, discharge_coefficient)
    return np.maximum(feed - leak * pressure / np.maximum(circuit_pressure, SMALLEST), 0.0)


def take_over(ramp_time, capacity, load, speed_gap, inertia, lead, lag, most_run_up, longest_slide):
    """Slide of plates whose grip rises evenly, from first grip to lock-up.

        T(t) = Tc min(t / tr, 1);   J dw/dt = TL - T(t) once nothing else holds;   w = 0 ends it

    Parameters                                                                      symbol  unit
        ramp_time       float or array   from first grip to full grip                 tr     [s]
        capacity        float or array   grip at full pressure, as turbine torque     Tc     [N m]
        load            float or array   turbine torque, above 0                      TL     [N m]
        speed_gap       float or array   turbine speed to be worked off               w0     [rad/s]
        inertia         float or array   of what changes speed, at the turbine        J      [kg m2]
        lead            float or array   first grip before the other lets go          s0     [s]
        lag             float or array   first grip after the other has let go        -      [s]
        most_run_up     float or array   the engine runs away no further than this    -      [rad/s]
        longest_slide   float or array   then the driver has lifted                   -      [s]
    Returns
        Takeover of flare, slip time, heat, bump, tie-up                              -      [mixed]
    Valid for
        friction that does not change with slip; one of lead and lag is 0. Exact while neither limit is
        reached; where one is, the heat is that of a straight line between the ends.
    Source
        Newton's law for the turning mass, in closed form: the slide is a parabola in time.
    In the workshop
        a short ramp locks with grip to spare and bangs, a long one slurs and heats the plates.
    Example
        >>> slide = take_over(0.3, 800.0, 200.0, 60.0, 0.5, 0.1, 0.0, 250.0, 2.5)
        >>> [round(float(x), 3) for x in slide]
        [0.0, 0.227, 2644.79, 2.028, 0.025]
    """
    ramp_time = np.maximum(ramp_time, SMALLEST)
    rate = np.maximum(capacity, SMALLEST) / ramp_time
    start = speed_gap + np.minimum(load / inertia * lag, most_run_up)
    slide = _Slide(rate, capacity, load, inertia, lead, start, speed_gap + most_run_up)
    end = np.minimum(slide.lock_time(ramp_time), lead + longest_slide)
    taken = load / rate
    peak = np.where(capacity > load, np.clip(taken, lead, end), end)
    return Takeover(
        flare=np.maximum(slide.gap(peak, ramp_time) - speed_gap, 0.0),
        slip_time=end,
        heat=speed_gap * slide.impulse(lead, ramp_time) + slide.heat(end, ramp_time),
        bump=np.maximum(slide.grip(end) / load - 1.0, 0.0),
        tie_up=np.maximum(lead - taken, 0.0) * (capacity > load),
    )


def engage(
    line_pressure,
    circuit_pressure,
    feed_area,
    density,
    discharge_coefficient,
    stroke_volume,
    spring_pressure,
    accumulator_volume,
    capacity,
    load,
    speed_gap,
    inertia,
    overlap,
    longest_fill,
    most_run_up,
    longest_slide,
):
    """An element comes on while another one lets go: fill and stroke, ramp, slide, lock.

        delay = Vs / Qn(ps);   tr = Va / Qn((ps + pe) / 2);   then `take_over`

    Parameters                                                                          symbol  unit
        line_pressure           float or array   before the feed orifice                  pL     [Pa]
        circuit_pressure        float or array   in the end, see `circuit.fed_pressure`   pe     [Pa]
        feed_area               float or array   feed orifice                             A      [m2]
        density                 float or array   of the fluid                             rho    [kg/m3]
        discharge_coefficient   float or array   of the feed                              Cd     [-]
        stroke_volume           float or array   piston area x clearance, and passages    Vs     [m3]
        spring_pressure         float or array   that moves the piston, force / area      ps     [Pa]
        accumulator_volume      float or array   taken up from ps to pe                   Va     [m3]
        capacity                float or array   grip at pe, as turbine torque            Tc     [N m]
        load                    float or array   turbine torque, above 0                  TL     [N m]
        speed_gap               float or array   turbine speed to be worked off           w0     [rad/s]
        inertia                 float or array   of what changes speed, at the turbine    J      [kg m2]
        overlap                 float or array   until the other lets go; inf: none does   -      [s]
        longest_fill            float or array   no delay is taken to be longer           -      [s]
        most_run_up             float or array   the engine runs away no further          -      [rad/s]
        longest_slide           float or array   then the driver has lifted               -      [s]
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
        >>> parts = engage(
        ...     4.5e5, 4.3e5, 6.2e-6, 830.0, 0.611, 1.4e-5, 8e4, 2e-5, 800.0, 100.0, 60.0, 0.5, 0.2, 3.0, 250.0, 2.5
        ... )
        >>> [round(float(x), 2) for x in parts]
        [0.13, 0.0, 0.19, 1738.37, 4.09, 0.03]
    """
    feed = (line_pressure, circuit_pressure, feed_area, density, discharge_coefficient)
    fill = net_flow(spring_pressure, *feed) * (circuit_pressure > spring_pressure)
    delay = np.minimum(stroke_volume / np.maximum(fill, SMALLEST), longest_fill)
    rise = net_flow(0.5 * (spring_pressure + circuit_pressure), *feed)
    ramp = np.minimum(accumulator_volume / np.maximum(rise, SMALLEST), longest_fill)
    overlap = np.where(np.isfinite(overlap), overlap, delay)
    lead, lag = np.maximum(overlap - delay, 0.0), np.maximum(delay - overlap, 0.0)
    slide = take_over(ramp, capacity, load, speed_gap, inertia, lead, lag, most_run_up, longest_slide)
    return Engagement(delay, *slide)


class _Slide(NamedTuple):
    """The slide as polynomials in time: grip rises at `rate` up to `capacity`, the other element lets go at `lead`."""

    rate: np.ndarray
    capacity: np.ndarray
    load: np.ndarray
    inertia: np.ndarray
    lead: np.ndarray
    start: np.ndarray
    most: np.ndarray

    def grip(self, time):
        """Torque [N m] at a time."""
        return np.minimum(self.rate * time, self.capacity)

    def impulse(self, time, ramp_time):
        """Torque times time [N m s] up to a time."""
        rising = np.minimum(time, ramp_time)
        return 0.5 * self.rate * rising**2 + self.capacity * (time - rising)

    def gap(self, time, ramp_time):
        """Speed gap [rad/s] at a time after `lead`."""
        push = self.load * (time - self.lead)
        brake = self.impulse(time, ramp_time) - self.impulse(self.lead, ramp_time)
        return np.clip(self.start + (push - brake) / self.inertia, 0.0, self.most)

    def lock_time(self, ramp_time):
        """Time [s] at which the gap is worked off: during the ramp, after it, or as good as never."""
        lead, over = self.lead, self.load - self.rate * self.lead
        rising = (self.load + np.sqrt(over**2 + 2.0 * self.rate * self.inertia * self.start)) / self.rate
        knee = np.maximum(lead, ramp_time)
        spare = np.maximum(self.capacity - self.load, SMALLEST)
        brake = self.impulse(knee, ramp_time) - self.impulse(lead, ramp_time)
        left = self.inertia * self.start + self.load * (knee - lead) - brake
        return np.where(rising <= ramp_time, rising, knee + np.maximum(left, 0.0) / spare)

    def heat(self, end, ramp_time):
        """Friction work [J] after `lead`; Simpson's rule is exact for the ramp, the trapezoid for what follows."""
        knee = np.clip(ramp_time, self.lead, end)
        middle = 0.5 * (self.lead + knee)
        at = [self.grip(t) * self.gap(t, ramp_time) for t in (self.lead, middle, knee, end)]
        ramp = (knee - self.lead) * (at[0] + 4.0 * at[1] + at[2]) / 6.0
        return ramp + 0.5 * (end - knee) * (at[2] + at[3])
