"""The pump: what it could deliver, what suction lets it draw, what slips back."""

import math

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.base.constants import SHARP_EDGE_DISCHARGE

STANDING_DEPRESSION = 400.0  # Pa, lift of about 50 mm from sump to pump (invented geometry)
SUCTION_KNEE = 4.0  # -, how sharply flow bends over at the suction limit (invented)
SLIP_FIXED_SHARE = 0.3  # -, slip past the tooth tips, which side wear leaves alone (invented)


def geometric_flow(displacement: Array, speed: Values) -> Array:
    """Flow of a pump without any loss.

        Q = V w / (2 pi)

    Parameters                                                         symbol  unit
        displacement   float or array   volume moved each turn           V      [m3/rev]
        speed          float or array   turning speed                    w      [rad/s]
    Returns
        float or array, broadcast of the inputs                          Q      [m3/s]
    Valid for
        any speed.
    Source
        Definition, terms as ISO 4391.
    In the workshop
        flow rises with engine speed; pressure does so only when flow is short.
    Example
        >>> round(geometric_flow(22e-6, 73.3) * 60000.0, 1)
        15.4
    """
    return displacement * speed / (2.0 * math.pi)


def suction_limited_flow(
    geometric_flow: Values, suction_resistance: Values, viscosity_dynamic: Values, suction_limit: Values
) -> Array:
    """Flow that the suction side lets a pump draw.

        Q = Qg / (1 + (Qg R mu / p)^4)^(1/4)

    Parameters                                                                symbol  unit
        geometric_flow       float or array   flow without loss                 Qg     [m3/s]
        suction_resistance   float or array   strainer and passage              R      [1/m3]
        viscosity_dynamic    float or array   of the fluid                      mu     [Pa s]
        suction_limit        float or array   most depression, about 80 kPa     p      [Pa]
    Returns
        float or array, broadcast of the inputs, below Qg and p / (R mu)        Q      [m3/s]
    Valid for
        speeds not below 0; laminar strainer.
    Source
        Blend of the two limits, exponent invented; suction cannot pull more than the air pushes.
    In the workshop
        a plugged strainer caps the flow: more engine speed then brings no more oil.
    Example
        >>> round(suction_limited_flow(6e-4, 1.3e10, 0.01, 80e3) * 60000.0, 1)
        30.6
    """
    demand = geometric_flow * suction_resistance * viscosity_dynamic / suction_limit
    return geometric_flow / (1.0 + demand**SUCTION_KNEE) ** (1.0 / SUCTION_KNEE)


def suction_depression(
    flow: Array, suction_resistance: Values, viscosity_dynamic: Values, plug: Values
) -> Array:
    """How far the pump inlet is below the outside air.

        dp = R mu Q / (1 - x)^2 + 400 Pa

    Parameters                                                                symbol  unit
        flow                 float or array   flow drawn                        Q      [m3/s]
        suction_resistance   float or array   clean strainer and passage        R      [1/m3]
        viscosity_dynamic    float or array   of the fluid                      mu     [Pa s]
        plug                 float or array   share of the strainer plugged     x      [-]
    Returns
        float or array, broadcast of the inputs                                 dp     [Pa]
    Valid for
        plug from 0 to below 1.
    Source
        Laminar flow through a mesh; the square is invented (less area and longer ways).
    In the workshop
        the deeper the depression, the more air a leak on the suction side draws.
    Example
        >>> round(suction_depression(6e-4, 7.5e8, 0.01, 0.0))
        4900
    """
    return suction_resistance * viscosity_dynamic * flow / (1.0 - plug) ** 2 + STANDING_DEPRESSION


def air_leak_flow(area: Values, suction_depression: Values, air_density: Values) -> Array:
    """Air drawn in through a leak on the suction side.

        Q = Cd A sqrt(2 dp / rho)

    Parameters                                                                symbol  unit
        area                 float or array   leak area                         A      [m2]
        suction_depression   float or array   inlet below the outside air       dp     [Pa]
        air_density          float or array   of the air outside                rho    [kg/m3]
    Returns
        float or array, broadcast of the inputs                                 Q      [m3/s]
    Valid for
        depression from 0 to about 20 kPa (air taken as incompressible).
    Source
        Orifice equation, Cd = pi / (pi + 2); H. E. Merritt, Hydraulic Control Systems, 1967 (from memory).
    In the workshop
        bubbles with the right level: look at the pickup seal.
    Example
        >>> round(float(air_leak_flow(5e-6, 4900.0, 1.2)) * 60000.0, 1)
        16.6
    """
    return SHARP_EDGE_DISCHARGE * area * np.sqrt(2.0 * suction_depression / air_density)


def slip_conductance(coefficient: Array, viscosity_dynamic: Values, clearance_ratio: Values) -> Array:
    """Flow that slips back inside the pump, per pascal of outlet pressure.

        G = K / mu (0.3 + 0.7 c^3)

    Parameters                                                                   symbol  unit
        coefficient         float or array   slip of the new pump                  K      [m3]
        viscosity_dynamic   float or array   of the fluid                          mu     [Pa s]
        clearance_ratio     float or array   side clearance over that when new     c      [-]
    Returns
        float or array, broadcast of the inputs                                    G      [m3/(s Pa)]
    Valid for
        laminar gaps.
    Source
        Thin-gap flow, cube of the gap (M. G. Rabie, Fluid Power Engineering, equation 2.19); shares invented.
    In the workshop
        a worn pump fails hot and at idle, and recovers with engine speed.
    Example
        >>> round(slip_conductance(9e-13, 0.009, 2.0) / slip_conductance(9e-13, 0.009, 1.0), 2)
        5.9
    """
    opened = SLIP_FIXED_SHARE + (1.0 - SLIP_FIXED_SHARE) * clearance_ratio**3
    return coefficient / viscosity_dynamic * opened


def hydraulic_power(pressure: Array, flow: Values) -> Array:
    """Power carried by, or lost from, a flow under pressure.

        P = p Q

    Parameters                                                         symbol  unit
        pressure   float or array   pressure, or pressure lost           p      [Pa]
        flow       float or array   flow                                 Q      [m3/s]
    Returns
        float or array, broadcast of the inputs                          P      [W]
    Valid for
        all flows.
    Source
        Definition.
    In the workshop
        pressure that is higher than needed comes back as heat.
    Example
        >>> hydraulic_power(1e6, 5e-4)
        500.0
    """
    return pressure * flow
