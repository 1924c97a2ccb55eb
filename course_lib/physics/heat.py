"""What a cooler takes out of the fluid."""

import numpy as np

from course_lib.base.arrays import Array, Values

SMALLEST = 1e-12  # keeps 0/0 out of equal streams and of a cooler without flow


def effectiveness_one_stream(ntu: Values) -> Array:
    """Share of the possible heat moved when the other side stays at one temperature.

        eff = 1 - e^-NTU

    Parameters                                                         symbol  unit
        ntu   float or array   UA / heat capacity rate                   NTU    [-]
    Returns
        float or array                                                   eff    [-]
    Valid for
        steady flow; much more coolant than fluid.
    Source
        F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 11 (from memory).
    In the workshop
        the cooler in a radiator tank: the coolant hardly warms up.
    Example
        >>> round(float(effectiveness_one_stream(1.0)), 3)
        0.632
    """
    return -np.expm1(-ntu)


def cooler_conductance(mass_flow: Values, specific_heat: Values, ua: Values) -> Array:
    """Heat a cooler takes per kelvin between the incoming fluid and the coolant.

        G = m c (1 - e^(-UA / (m c)))

    Parameters                                                         symbol  unit
        mass_flow       float or array   fluid through the cooler        m      [kg/s]
        specific_heat   float or array   of the fluid, about 2100        c      [J/(kg K)]
        ua              float or array   of the cooler                   UA     [W/K]
    Returns
        float or array, broadcast of the inputs; 0 without flow          G      [W/K]
    Valid for
        coolant at one temperature.
    Source
        `effectiveness_one_stream`.
    In the workshop
        restricted cooler lines cost cooling in proportion once flow is small.
    Example
        >>> [round(float(cooler_conductance(m, 2100.0, 220.0))) for m in (0.0, 0.02, 0.14)]
        [0, 42, 155]
    """
    capacity_rate = mass_flow * specific_heat
    return capacity_rate * effectiveness_one_stream(ua / np.maximum(capacity_rate, SMALLEST))
