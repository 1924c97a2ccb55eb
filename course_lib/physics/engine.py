"""What a blocked exhaust does to an engine, and through it to the load signal."""

import numpy as np

REFERENCE_BACK_PRESSURE = (
    20.7e3  # Pa, 3 psi: where the trade calls an exhaust blocked (common practice, no source)
)
REFERENCE_SPEED = 261.8  # rad/s, 2500 rpm without load
NO_LOAD_CHARGE = 0.3  # -, cylinder charge without load, of a full one (invented)
TORQUE_PRESSURE = 4.3e5  # Pa, back pressure that halves the torque: see `choked_torque_share`


def exhaust_back_pressure(speed, throttle, coefficient):
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


def choked_torque_share(back_pressure):
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


def choked_vacuum(vacuum, back_pressure):
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
