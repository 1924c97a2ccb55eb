"""A solenoid and its valve: from current to pressure, and how current comes about in a pulsed coil."""

from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.physics.smooth import smooth_step

MOST_THINNING = 1.5  # -, a worn bore leaks this much more than with its hot fluid, never more (invented)


class Pulses(NamedTuple):
    """Current of a pulsed coil over one period: mean, most and least [A], see `pulsed_current`."""

    mean: Array
    most: Array
    least: Array


def linear_pressure(
    current: Values, zero_current: Values, full_current: Values, full_pressure: Values
) -> Array:
    """Pressure that a pressure control solenoid asks of its valve.

        p = pf (I - I0) / (I1 - I0), held in 0..pf

    Parameters                                                                  symbol  unit
        current         float or array   through the coil                         I       [A]
        zero_current    float or array   that leaves no pressure                  I0      [A]
        full_current    float or array   that gives all of it                     I1      [A]
        full_pressure   float or array   at I1 and beyond                         pf      [Pa]
    Returns
        float or array, broadcast of the inputs                                   p       [Pa]
    Valid for
        I0 and I1 apart. Normally low: I1 above I0. Normally high: I1 below I0, full pressure without current.
    Source
        Force balance of armature, spring and pressure, straight between its stops.
    In the workshop
        too little current empties one circuit and fills another: ask which way the solenoid rests.
    Example
        >>> [round(float(linear_pressure(i, 0.15, 1.0, 1.7e6)) / 1e3) for i in (0.0, 0.575, 1.2)]
        [0, 850, 1700]
        >>> [round(float(linear_pressure(i, 0.95, 0.1, 1.7e6)) / 1e3) for i in (0.0, 0.525, 1.2)]
        [1700, 850, 0]
    """
    return full_pressure * np.clip((current - zero_current) / (full_current - zero_current), 0.0, 1.0)


def wanted_current(
    pressure: Values, zero_current: Values, full_current: Values, full_pressure: Values
) -> Array:
    """Current that a controller asks for to get a pressure: `linear_pressure` the other way round.

        I = I0 + (I1 - I0) p / pf, p held in 0..pf

    Parameters                                                                  symbol  unit
        pressure        float or array   wanted                                   p       [Pa]
        zero_current    float or array   that leaves no pressure                  I0      [A]
        full_current    float or array   that gives all of it                     I1      [A]
        full_pressure   float or array   at I1, above 0                           pf      [Pa]
    Returns
        float or array, broadcast of the inputs                                   I       [A]
    Valid for
        the sound valve that the controller believes in.
    Source
        `linear_pressure` solved for the current.
    In the workshop
        the pressure on a screen is this belief, never a gauge.
    Example
        >>> [round(float(wanted_current(p, 0.15, 1.0, 1.7e6)), 3) for p in (0.0, 0.85e6, 1.7e6)]
        [0.15, 0.575, 1.0]
    """
    return zero_current + (full_current - zero_current) * np.clip(pressure / full_pressure, 0.0, 1.0)


def pull_in(current: Values, release_current: Values, pull_current: Values) -> Array:
    """How far an on/off solenoid has drawn its plunger, 0 released to 1 pulled in.

        y = F((I - I0) / (I1 - I0)),   F: smooth step from 0 to 1

    Parameters                                                                  symbol  unit
        current           float or array   through the coil                       I       [A]
        release_current   float or array   the plunger rests up to here           I0      [A]
        pull_current      float or array   it is drawn in from here               I1      [A]
    Returns
        float or array, broadcast of the inputs                                   y       [-]
    Valid for
        I1 above I0; the pressure of its circuit goes with y.
    Source
        Shape invented; that a plunger needs a least current is common practice, no source.
    In the workshop
        a click proves that the coil pulls, not that oil follows.
    Example
        >>> [round(float(pull_in(i, 0.15, 0.27)), 2) for i in (0.1, 0.21, 0.45)]
        [0.0, 0.5, 1.0]
    """
    return smooth_step(current, release_current, pull_current)


def valve_pressure(pressure: Values, bore: Values, hysteresis: Values, thickness: Values) -> Array:
    """What a worn bore and a sticky spool leave of the pressure that a solenoid asks for.

        pv = max(p / (1 + b min(1 / m, 1.5)) - h, 0)

    Parameters                                                                  symbol  unit
        pressure     float or array   asked for                                   p       [Pa]
        bore         float or array   leak of the bore, hot fluid; 0 new          b       [-]
        hysteresis   float or array   pressure a sticky spool stays short         h       [Pa]
        thickness    float or array   viscosity over that of hot fluid, above 0   m       [-]
    Returns
        float or array, broadcast of the inputs                                   pv      [Pa]
    Valid for
        a spool that still moves; a seized one holds its pressure.
    Source
        Laminar leak against the feed of the valve: shape invented, fitted to plausible lives.
    In the workshop
        a bore leaks most when hot: a vehicle that shifts well for a mile tells of leaks, not of friction.
    Example
        >>> [round(float(valve_pressure(6e5, b, h, 1.0)) / 1e3) for b, h in ((0, 0), (0.5, 0), (0, 1e5))]
        [600, 400, 500]
    """
    leak = bore * np.minimum(1.0 / thickness, MOST_THINNING)
    return np.maximum(pressure / (1.0 + leak) - hysteresis, 0.0)


def coil_current(time: Values, volts: Values, resistance: Values, inductance: Values) -> Array:
    """Current of a coil after it is switched on.

        i = V / R (1 - exp(-t R / L))

    Parameters                                                                  symbol  unit
        time         float or array   since it was switched on, 0 or more         t       [s]
        volts        float or array   across coil and what lies in its loop       V       [V]
        resistance   float or array   of all that, above 0                        R       [ohm]
        inductance   float or array   of the coil, above 0                        L       [H]
    Returns
        float or array, broadcast of the inputs                                   i       [A]
    Valid for
        a plunger that stands still: the dip at which it moves is not shown.
    Source
        W. H. Hayt and J. E. Kemmerly, Engineering Circuit Analysis, RL circuits (from memory).
    In the workshop
        turns that touch make the rise steep, a bad contact makes it flat and low.
    Example
        >>> [round(float(coil_current(t, 13.5, 5.3, 12e-3)), 3) for t in (0.0, 2e-3, 1.0)]
        [0.0, 1.494, 2.547]
    """
    return volts / resistance * -np.expm1(-time * resistance / inductance)


def pulsed_current(
    duty: Values, volts: Values, resistance: Values, inductance: Values, frequency: Values
) -> Pulses:
    """Mean and ripple of the current in a pulsed coil that runs on through a diode between the pulses.

        mean = d V / R;   most = V / R (1 - exp(-d T / tau)) / (1 - exp(-T / tau));
        least = most exp(-(1 - d) T / tau);   tau = L / R, T = 1 / f

    Parameters                                                                  symbol  unit
        duty         float or array   share of the period that it is on, 0..1     d       [-]
        volts        float or array   while it is on                              V       [V]
        resistance   float or array   of the loop, above 0                        R       [ohm]
        inductance   float or array   of the coil, above 0                        L       [H]
        frequency    float or array   of the pulses, above 0                      f       [Hz]
    Returns
        Pulses of mean, most and least                                            -       [A]
    Valid for
        an ideal diode at the coil, steady pulses. A real one takes 0.7 V: about 4 percent less.
    Source
        N. Mohan, T. Undeland, W. Robbins, Power Electronics, step-down converter (from memory).
    In the workshop
        a meter shows the mean, a scope the saw teeth; slow pulses make large teeth.
    Example
        >>> [round(float(i), 3) for i in pulsed_current(0.4, 13.5, 5.3, 12e-3, 300.0)]
        [1.019, 1.471, 0.608]
    """
    full, decay = volts / resistance, resistance / (inductance * frequency)
    most = full * np.expm1(-duty * decay) / np.expm1(-decay)
    return Pulses(np.asarray(duty * full), most, most * np.exp((duty - 1.0) * decay))
