"""The fluid: how thick, how dense, how fast it ages, how springy with air in it."""

import math

import numpy as np

from course_lib.constants import ATMOSPHERE

WALTHER_SHIFT = 0.7
SQUARE_MILLIMETER = 1e-6
OXIDATION_REFERENCE = 352.6
OXIDATION_HALVING = 11.1
OXIDATION_LIFE = 2500.0 * 3600.0
OXIDATION_AIR = 0.8
OIL_EXPANSION = 0.6278
EXPANSION_BASE = 288.15


def walther_coefficients(viscosity_1, temperature_1, viscosity_2, temperature_2):
    """Two coefficients of the viscosity-temperature law, from two measured points."""
    height_1, height_2 = (
        math.log10(math.log10(viscosity / SQUARE_MILLIMETER + WALTHER_SHIFT))
        for viscosity in (viscosity_1, viscosity_2)
    )
    b = (height_1 - height_2) / math.log10(temperature_2 / temperature_1)
    return height_1 + b * math.log10(temperature_1), b


def kinematic_viscosity(temperature, a, b):
    """Kinematic viscosity of an oil at a temperature."""
    return SQUARE_MILLIMETER * (10.0 ** (10.0 ** (a - b * np.log10(temperature))) - WALTHER_SHIFT)


def density(temperature, density_15c):
    """Density of an oil at a temperature."""
    shrink = OIL_EXPANSION / density_15c * (temperature - EXPANSION_BASE)
    return density_15c * np.exp(-shrink * (1.0 + 0.8 * shrink))


def oxidation_rate(temperature, air_share):
    """Share of the fluid's oxidation life used up each second."""
    doublings = (temperature - OXIDATION_REFERENCE) / OXIDATION_HALVING
    return 2.0**doublings / OXIDATION_LIFE * (1.0 + OXIDATION_AIR * air_share)


def effective_bulk_modulus(gas_share, pressure_absolute, bulk_modulus, polytropic_index):
    """Stiffness of oil with free gas bubbles in it."""
    return 1.0 / (gas_share / (polytropic_index * pressure_absolute) + (1.0 - gas_share) / bulk_modulus)


def dissolved_air_volume(pressure_absolute, bunsen_coefficient=0.09):
    """Volume of air, at standard pressure, that a volume of oil holds dissolved."""
    return bunsen_coefficient * pressure_absolute / ATMOSPHERE
