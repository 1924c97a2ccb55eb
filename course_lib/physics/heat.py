"""Where the heat goes: cooler, case, and how fast the unit warms up."""

import numpy as np

SMALLEST = 1e-12


def effectiveness_counterflow(ntu, capacity_ratio):
    """Share of the possible heat a counterflow cooler moves."""
    x = ntu * (1.0 - capacity_ratio)
    # -expm1(-x)/x tends to 1 at equal streams, where the usual form is 0/0.
    q = ntu * np.where(np.abs(x) < SMALLEST, 1.0, -np.expm1(-x) / np.where(np.abs(x) < SMALLEST, 1.0, x))
    return q / (1.0 + capacity_ratio * q)


def effectiveness_parallel(ntu, capacity_ratio):
    """Share of the possible heat a parallel-flow cooler moves."""
    return -np.expm1(-ntu * (1.0 + capacity_ratio)) / (1.0 + capacity_ratio)


def effectiveness_one_stream(ntu):
    """Share of the possible heat moved when the other side stays at one temperature."""
    return -np.expm1(-ntu)


def cooler_conductance(mass_flow, specific_heat, ua):
    """Heat a cooler takes per kelvin between the incoming fluid and the coolant."""
    capacity_rate = mass_flow * specific_heat
    return capacity_rate * effectiveness_one_stream(ua / np.maximum(capacity_rate, SMALLEST))


def steady_temperature(power, conductance_1, sink_1, conductance_2, sink_2):
    """Temperature at which two heat sinks carry off all the heat."""
    return (power + conductance_1 * sink_1 + conductance_2 * sink_2) / (conductance_1 + conductance_2)


def warm_up(time, power, conductance, capacity, ambient, start):
    """Temperature of a lump that is heated and cooled at the same time."""
    steady = ambient + power / conductance
    return steady + (start - steady) * np.exp(-time * conductance / capacity)
