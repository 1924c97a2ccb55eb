"""The fluid: how thick, how dense, how fast it ages, how springy with air in it."""

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.base.guards import positive

WALTHER_SHIFT = 0.7  # mm2/s, added inside the logarithms (ASTM D341 form; from memory)
SQUARE_MILLIMETER = 1e-6  # m2, the law is written for mm2/s
OIL_EXPANSION = 0.6278  # kg/(m3 K), times 1/density (API MPMS 11.1, lubricating oils; from memory)
EXPANSION_CURVE = 0.8  # -, second-order share of the expansion (API MPMS 11.1)
EXPANSION_BASE = 288.15  # K, 15 degrees Celsius, reference of the density
OXIDATION_REFERENCE = 352.6  # K, 175 degrees F, where the life is OXIDATION_LIFE (common practice, no source)
OXIDATION_HALVING = 11.1  # K, 20 degrees F: life halves (common practice, no source)
OXIDATION_LIFE = 2500.0 * 3600.0  # s, 100 000 miles at 40 mph (common practice, no source)
OXIDATION_AIR = 0.8  # -, how much foam speeds oxidation (invented; fitted to plausible lives)


def walther_coefficients(
    viscosity_1: Values, temperature_1: Values, viscosity_2: Values, temperature_2: Values
) -> tuple[Array, Array]:
    """Two coefficients of the viscosity-temperature law, from two measured points.

        b = (Y1 - Y2) / (lg T2 - lg T1),   a = Y1 + b lg T1,   Y = lg lg(nu + 0.7), nu in mm2/s

    Parameters                                                         symbol  unit
        viscosity_1     float or array   kinematic, first temperature    nu1    [m2/s]
        temperature_1   float or array   first temperature               T1     [K]
        viscosity_2     float or array   kinematic, second temperature   nu2    [m2/s]
        temperature_2   float or array   second temperature              T2     [K]
    Returns
        pair of floats or arrays for `kinematic_viscosity`               a, b   [-]
    Valid for
        mineral oils between about 2 and 20 000 mm2/s; two different temperatures.
    Raises
        ValueError  a viscosity or a temperature is not above 0, or the second point is not hotter.
    Source
        ASTM D341 and ISO 3448, Walther / MacCoull form (from memory).
    In the workshop
        the two numbers on a data sheet, at 40 and 100 degrees C, fix the whole curve.
    Example
        >>> a, b = walther_coefficients(36e-6, 313.15, 7.3e-6, 373.15)
        >>> round(float(a), 3), round(float(b), 3)
        (8.019, 3.135)
    """
    for name, value in (("viscosity_1", viscosity_1), ("viscosity_2", viscosity_2)):
        positive(name, value, "Give m2/s: 36 mm2/s is 36e-6.")
    positive("temperature_1", temperature_1, "Give kelvin.")
    positive("temperature_2 minus temperature_1", temperature_2 - temperature_1, "Give the cold point first.")
    height_1, height_2 = (
        np.log10(np.log10(viscosity / SQUARE_MILLIMETER + WALTHER_SHIFT))
        for viscosity in (viscosity_1, viscosity_2)
    )
    b = (height_1 - height_2) / np.log10(temperature_2 / temperature_1)
    return height_1 + b * np.log10(temperature_1), b


def kinematic_viscosity(temperature: Values, a: Values, b: Values) -> Array:
    """Kinematic viscosity of an oil at a temperature.

        lg lg(nu + 0.7) = a - b lg T,   nu in mm2/s inside the logarithms

    Parameters                                                         symbol  unit
        temperature   float or array   fluid temperature                 T      [K]
        a             float or array   first coefficient                 a      [-]
        b             float or array   second coefficient                b      [-]
    Returns
        float or array, broadcast of the inputs                          nu     [m2/s]
    Valid for
        2 to 20 000 mm2/s; times density gives the dynamic viscosity.
    Source
        ASTM D341 and ISO 3448, Walther / MacCoull form (from memory).
    In the workshop
        cold fluid is syrup, hot fluid leaks past every worn seal: test at the stated temperature.
    Example
        >>> a, b = walther_coefficients(36e-6, 313.15, 7.3e-6, 373.15)
        >>> round(float(kinematic_viscosity(353.15, a, b)) * 1e6, 1)
        11.1
    """
    return SQUARE_MILLIMETER * (10.0 ** (10.0 ** (a - b * np.log10(temperature))) - WALTHER_SHIFT)


def density(temperature: Values, density_15c: Values) -> Array:
    """Density of an oil at a temperature.

        rho = rho15 exp(-x (1 + 0.8 x)),   x = 0.6278 / rho15 (T - 288.15)

    Parameters                                                         symbol  unit
        temperature   float or array   fluid temperature                 T      [K]
        density_15c   float or array   density at 15 degrees C           rho15  [kg/m3]
    Returns
        float or array, broadcast of the inputs                          rho    [kg/m3]
    Valid for
        lubricating oils, 800 to 1160 kg/m3, up to about 150 degrees C.
    Source
        API MPMS 11.1 / ASTM D1250, lubricating-oil group; 0.6278 from memory.
    In the workshop
        fluid swells about 0.7 percent for every 10 degrees C, so a level set cold reads high when hot.
    Example
        >>> round(float(density(373.15, 870.0)), 1)
        815.8
    """
    shrink = OIL_EXPANSION / density_15c * (temperature - EXPANSION_BASE)
    return density_15c * np.exp(-shrink * (1.0 + EXPANSION_CURVE * shrink))


def oxidation_rate(temperature: Values, air_share: Values) -> Array:
    """Share of the fluid's oxidation life used up each second.

        r = 2^((T - 352.6) / 11.1) / 2500 h * (1 + 0.8 phi)

    Parameters                                                         symbol  unit
        temperature   float or array   fluid temperature                 T      [K]
        air_share     float or array   share of air bubbles, 0..1        phi    [-]
    Returns
        float or array, broadcast of the inputs                          r      [1/s]
    Valid for
        300 to 480 K, the span of the chart.
    Source
        Life halves for every 20 degrees F, 100 000 miles at 175 degrees F: common practice, no source.
        The share for air is invented.
    In the workshop
        a unit that runs 40 degrees F hotter ages its fluid four times as fast.
    Example
        >>> round(float(oxidation_rate(352.6, 0.0)) * 3600.0 * 2500.0, 3)
        1.0
    """
    doublings = (temperature - OXIDATION_REFERENCE) / OXIDATION_HALVING
    return 2.0**doublings / OXIDATION_LIFE * (1.0 + OXIDATION_AIR * air_share)
