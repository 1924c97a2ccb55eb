"""Copper: how much a wire resists, and how much more when it is hot."""

from course_lib.base.arrays import Values

COPPER_RESISTIVITY = 1.7241e-8  # ohm m, annealed copper at 20 degrees Celsius (IEC 60028)
COPPER_RISE = 0.00393  # 1/K, from 20 degrees Celsius on (IEC 60028; from memory)
COPPER_BASE = 293.15  # K, 20 degrees Celsius


def copper_resistance(at_20c: Values, temperature: Values) -> Values:
    """Resistance of something made of copper at a temperature.

        R = R20 (1 + 0.00393 (T - 293.15))

    Parameters                                                       symbol  unit
        at_20c        float or array   resistance at 293.15 K          R20     [ohm]
        temperature   float or array   of the copper                   T       [K]
    Returns
        float or array, broadcast of the inputs                        R       [ohm]
    Valid for
        220 to 480 K.
    Source
        IEC 60028, annealed copper (from memory).
    In the workshop
        write the temperature beside every reading of a coil: hot it reads a third more than cold.
    Example
        >>> round(copper_resistance(5.3, 373.15), 3)
        6.966
    """
    return at_20c * (1.0 + COPPER_RISE * (temperature - COPPER_BASE))


def wire_resistance(length: Values, section: Values, temperature: Values) -> Values:
    """Resistance of a copper wire, one way.

        R = rho l / A at 293.15 K, and as `copper_resistance` elsewhere

    Parameters                                                       symbol  unit
        length        float or array   of the wire                     l       [m]
        section       float or array   of its copper                   A       [m2]
        temperature   float or array   of the copper                   T       [K]
    Returns
        float or array, broadcast of the inputs                        R       [ohm]
    Valid for
        solid copper of the named section; strands may have up to a seventh more (IEC 60228).
    Source
        IEC 60028, resistivity of annealed copper.
    In the workshop
        no sound wire of a harness reaches half an ohm; a meter that shows more has found a contact.
    Example
        >>> round(wire_resistance(4.0, 0.5e-6, 293.15), 3)
        0.138
    """
    return copper_resistance(COPPER_RESISTIVITY * length / section, temperature)
