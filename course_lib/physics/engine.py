"""The engine as the transmission meets it: torque over speed at a pedal, and what a blocked exhaust does to it."""

import numpy as np

from course_lib.base.arrays import Array, Values

REFERENCE_BACK_PRESSURE = (
    20.7e3  # Pa, 3 psi: where the trade calls an exhaust blocked (common practice, no source)
)
REFERENCE_SPEED = 261.8  # rad/s, 2500 rpm without load
NO_LOAD_CHARGE = 0.3  # -, cylinder charge without load, of a full one (invented)
FLAT, STEEP = 0.25, 1.0  # share of its torque lost at rest, and at the speed it reaches without load
LEAST_OPENING = 0.30  # below which a smaller opening moves the peak no further
REACH = 1.4  # how far past its best speed a full opening drives it without load, against that speed
TORQUE_PRESSURE = 4.3e5  # Pa, back pressure that halves the torque: see `choked_torque_share`


def peak_speed(best_speed: Values, throttle: Values) -> Array:
    """Engine speed at which an opening gives its largest torque.

        wp = wb sqrt(max(theta, 0.30))

    Parameters                                                                symbol  unit
        best_speed   float or array   of the largest torque, wide open          wb     [rad/s]
        throttle     float or array   opening, 0..1                             theta  [-]
    Returns
        float or array, broadcast of the inputs                                 wp     [rad/s]
    Valid for
        engines with a throttle.
    Source
        Invented; that a throttled engine gives its best at a lower speed is common practice, no source.
    In the workshop
        on a light pedal an engine falls off early: there is nothing to gain from more speed.
    Example
        >>> [round(float(peak_speed(251.0, theta))) for theta in (0.1, 0.5, 1.0)]
        [137, 177, 251]
    """
    return best_speed * np.sqrt(np.maximum(throttle, LEAST_OPENING))


def free_speed(best_speed: Values, throttle: Values) -> Array:
    """Engine speed at which an opening gives no torque any more: how fast it runs with nothing to drive.

        wf = wb (1 + 1.4 sqrt(theta))

    Parameters                                                                symbol  unit
        best_speed   float or array   of the largest torque, wide open          wb     [rad/s]
        throttle     float or array   opening, 0..1                             theta  [-]
    Returns
        float or array, broadcast of the inputs                                 wf     [rad/s]
    Valid for
        engines with a throttle and no governor.
    Source
        Invented, so that a floored engine without load ends near 5,800 rpm.
    In the workshop
        how far an engine speeds up when a clutch lets go; nobody tries it out.
    Example
        >>> [round(float(free_speed(251.0, theta))) for theta in (0.25, 1.0)]
        [427, 602]
    """
    return best_speed * (1.0 + REACH * np.sqrt(throttle))


def engine_torque(speed: Values, peak_torque: Values, peak_speed: Values, free_speed: Values) -> Array:
    """Torque of an engine at an opening, over its speed.

        T = T1 (1 - q (w / wp - 1)^2),  not below 0;  q = 0.25 below wp, 1 / (wf / wp - 1)^2 above

    Parameters                                                                symbol  unit
        speed         float or array   engine speed                             w      [rad/s]
        peak_torque   float or array   largest at this opening                  T1     [N m]
        peak_speed    float or array   speed of that                            wp     [rad/s]
        free_speed    float or array   speed at which none is left, above wp    wf     [rad/s]
    Returns
        float or array, broadcast of the inputs                                 T      [N m]
    Valid for
        a warm engine that drives; braking is left out.
    Source
        Two parabolas through rest, peak and run-away (invented).
    In the workshop
        the engine that races behind a slipping clutch is one that gives less and less.
    Example
        >>> [round(float(engine_torque(w, 300.0, 251.0, 602.0))) for w in (0.0, 251.0, 426.5, 602.0)]
        [225, 300, 225, 0]
    """
    bend = np.where(speed <= peak_speed, FLAT, STEEP / (free_speed / peak_speed - 1.0) ** 2)
    return peak_torque * np.maximum(1.0 - bend * (speed / peak_speed - 1.0) ** 2, 0.0)


def exhaust_back_pressure(speed: Values, throttle: Values, coefficient: Array) -> Array:
    """Pressure before a narrow place in the exhaust.

        p = C 20.7 kPa (w / 262) (0.3 + 0.7 theta) / 0.3

    Parameters                                                                   symbol  unit
        speed         float or array   engine speed                                w      [rad/s]
        throttle      float or array   opening, 0..1                               theta  [-]
        coefficient   float or array   0 clear; 1 gives 3 psi at 2500 rpm, no load   C    [-]
    Returns
        float or array, broadcast of the inputs                                    p      [Pa]
    Valid for
        a clogged honeycomb, whose fine passages flow laminar; a crushed pipe rises more steeply.
    Source
        Hagen and Poiseuille: pressure drop proportional to flow (any fluid text). Charge invented.
    In the workshop
        under 1.25 psi at idle and under 3 psi at 2500 rpm is clear (common practice, no source).
    Example
        >>> [round(exhaust_back_pressure(w, theta, 1.0) / 6894.757, 2) for w, theta in ((261.8, 0.0), (209.4, 1.0))]
        [3.0, 8.0]
    """
    charge = (NO_LOAD_CHARGE + (1.0 - NO_LOAD_CHARGE) * throttle) / NO_LOAD_CHARGE
    return coefficient * REFERENCE_BACK_PRESSURE * speed / REFERENCE_SPEED * charge


def choked_torque_share(back_pressure: Array) -> Array:
    """Share of its torque an engine keeps against a back pressure.

        s = 1 / (1 + p / 4.3e5 Pa)

    Parameters                                                            symbol  unit
        back_pressure   float or array   above the outside air, 0 or more   p      [Pa]
    Returns
        float or array                                                      s      [-]
    Valid for
        engines without supercharging.
    Source
        Pushing out the gas costs p of a mean effective pressure of about 9e5 Pa; what stays behind takes the
        room of about p / 8e5 Pa of the fresh charge (compression 8 to 1): together p / 4.3e5 Pa.
    In the workshop
        weak at high speed and fair at idle, and the stall speed is one to three hundred low.
    Example
        >>> round(choked_torque_share(7e4), 2)
        0.86
    """
    return 1.0 / (1.0 + back_pressure / TORQUE_PRESSURE)


def choked_vacuum(vacuum: Values, back_pressure: Values) -> Array:
    """Manifold vacuum that a back pressure leaves.

        vac' = max(vac - p, 0)

    Parameters                                                            symbol  unit
        vacuum          float or array   with a clear exhaust               vac    [Pa]
        back_pressure   float or array   above the outside air, 0 or more   p      [Pa]
    Returns
        float or array, broadcast of the inputs                             vac'   [Pa]
    Valid for
        steady running. That one pascal costs one pascal is invented.
    Source
        Gas left behind expands into the manifold when the inlet opens; that vacuum sinks at a steady
        2500 rpm is common practice, no source.
    In the workshop
        vacuum that is right at idle and sinks while the speed is held: look at the exhaust.
    Example
        >>> [round(float(choked_vacuum(6e4, p)) / 1e3) for p in (1e4, 5e4, 9e4)]
        [50, 10, 0]
    """
    return np.maximum(vacuum - back_pressure, 0.0)
