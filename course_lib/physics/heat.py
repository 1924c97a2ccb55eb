"""Where the heat goes: cooler, case, and how fast the unit warms up."""

import numpy as np

SMALLEST = 1e-12  # keeps 0/0 out of equal streams and of a cooler without flow


def effectiveness_counterflow(ntu, capacity_ratio):
    """Share of the possible heat a counterflow cooler moves.

        eff = (1 - e^-x) / (1 - Cr e^-x),   x = NTU (1 - Cr);   NTU / (1 + NTU) for Cr = 1

    Parameters                                                              symbol  unit
        ntu              float or array   UA / smaller heat capacity rate     NTU    [-]
        capacity_ratio   float or array   smaller / larger rate, 0..1         Cr     [-]
    Returns
        float or array, broadcast of the inputs                               eff    [-]
    Valid for
        steady flow.
    Source
        F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 11 (from memory).
    In the workshop
        a cooler that is half plugged still cools well; nearly plugged it does not.
    Example
        >>> [round(float(effectiveness_counterflow(n, cr)), 4) for n, cr in ((5.0, 0.7), (1.0, 1.0))]
        [0.9207, 0.5]
    """
    x = ntu * (1.0 - capacity_ratio)
    equal = np.abs(x) < SMALLEST
    # (1 - e^-x) / x tends to 1 for equal streams, where the printed form is 0/0.
    q = ntu * np.where(equal, 1.0, -np.expm1(-x) / np.where(equal, 1.0, x))
    return q / (1.0 + capacity_ratio * q)


def effectiveness_parallel(ntu, capacity_ratio):
    """Share of the possible heat a parallel-flow cooler moves.

        eff = (1 - e^(-NTU (1 + Cr))) / (1 + Cr)

    Parameters                                                              symbol  unit
        ntu              float or array   UA / smaller heat capacity rate     NTU    [-]
        capacity_ratio   float or array   smaller / larger rate, 0..1         Cr     [-]
    Returns
        float or array, broadcast of the inputs                               eff    [-]
    Valid for
        steady flow.
    Source
        F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 11 (from memory).
    In the workshop
        swapped cooler hoses cost a little cooling, not all of it.
    Example
        >>> round(float(effectiveness_parallel(5.0, 0.7)), 4)
        0.5881
    """
    return -np.expm1(-ntu * (1.0 + capacity_ratio)) / (1.0 + capacity_ratio)


def effectiveness_one_stream(ntu):
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


def cooler_conductance(mass_flow, specific_heat, ua):
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


def steady_temperature(power, conductance_1, sink_1, conductance_2, sink_2):
    """Temperature at which two heat sinks carry off all the heat.

        T = (P + G1 T1 + G2 T2) / (G1 + G2)

    Parameters                                                         symbol  unit
        power           float or array   heat made                       P      [W]
        conductance_1   float or array   to the first sink               G1     [W/K]
        sink_1          float or array   its temperature                 T1     [K]
        conductance_2   float or array   to the second sink              G2     [W/K]
        sink_2          float or array   its temperature                 T2     [K]
    Returns
        float or array, broadcast of the inputs                          T      [K]
    Valid for
        at least one conductance above 0.
    Source
        Heat balance.
    In the workshop
        without the cooler only the case sheds heat, and that takes a far hotter sump.
    Example
        >>> round(steady_temperature(5000.0, 150.0, 354.0, 25.0, 303.0), 1)
        375.3
    """
    return (power + conductance_1 * sink_1 + conductance_2 * sink_2) / (conductance_1 + conductance_2)


def warm_up(time, power, conductance, capacity, ambient, start):
    """Temperature of a lump that is heated and cooled at the same time.

        T = Ts + (T0 - Ts) e^(-t G / C),   Ts = Ta + P / G

    Parameters                                                         symbol  unit
        time          float or array   since the start                   t      [s]
        power         float or array   heat made                         P      [W]
        conductance   float or array   to the surroundings, above 0      G      [W/K]
        capacity      float or array   fluid and metal                   C      [J/K]
        ambient       float or array   surroundings                      Ta     [K]
        start         float or array   temperature at time 0             T0     [K]
    Returns
        float or array, broadcast of the inputs                          T      [K]
    Valid for
        one temperature throughout; steady power.
    Source
        F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5 (from memory).
    In the workshop
        a level checked after five minutes of idling is not yet a hot level.
    Example
        >>> round(float(warm_up(300.0, 12e3, 150.0, 36.8e3, 298.15, 298.15)) - 273.15, 1)
        81.4
    """
    steady = ambient + power / conductance
    return steady + (start - steady) * np.exp(-time * conductance / capacity)
