"""Oil circuits: orifices, leaks, lips and the regulator."""

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.base.constants import SHARP_EDGE_DISCHARGE
from course_lib.physics.smooth import smooth_step

FED_PASSES = 4  # for a leak and a hole together: the worst of 4000 random circuits is then within 0.1 percent
LIP_STIFF = (293.15, 313.15)  # K, 20 to 40 C: a hard lip is stiff below, bends above (fitted)
LIP_SHRUNK = (293.15, 353.15)  # K, 20 to 80 C: a hard lip that fits cold has shrunk away when hot (fitted)


def orifice_flow(
    area: Values, pressure_drop: Values, density: Values, discharge_coefficient: Values = SHARP_EDGE_DISCHARGE
) -> Array:
    """Flow through a sharp hole.

        Q = Cd A sqrt(2 dp / rho)

    Parameters                                                                 symbol  unit
        area                    float or array   hole                            A      [m2]
        pressure_drop           float or array   across the hole, 0 or more      dp     [Pa]
        density                 float or array   of the fluid                    rho    [kg/m3]
        discharge_coefficient   float or array   0.6 to 0.8                      Cd     [-]
    Returns
        float or array, broadcast of the inputs                                  Q      [m3/s]
    Valid for
        turbulent jets; a negative drop gives NaN (merely undefined here).
    Source
        H. E. Merritt, Hydraulic Control Systems, 1967, chapter 3 (from memory).
    In the workshop
        halving a hole halves the flow, but halving the pressure costs only 30 percent.
    Example
        >>> round(float(orifice_flow(3.1416e-6, 5e5, 850.0, 0.61)) * 60000.0, 2)
        3.94
    """
    return discharge_coefficient * area * np.sqrt(2.0 * pressure_drop / density)


def fed_pressure(
    line_pressure: Values, feed_area: Values, leak_conductance: Values, hole_area: Values, jet: Values
) -> Array:
    """Pressure in a circuit that is fed through an orifice and leaks past seals and through a hole.

        A j sqrt(pL - p) = G p + Ah j sqrt(p),   j = sqrt(2 / rho)

    Parameters                                                                        symbol  unit
        line_pressure      float or array   before the orifice, 0 or more               pL     [Pa]
        feed_area          float or array   feed orifice with its coefficient, above 0  A      [m2]
        leak_conductance   float or array   laminar leak per pascal                     G      [m3/(s Pa)]
        hole_area          float or array   open check ball, crack; with coefficient    Ah     [m2]
        jet                float or array   speed of a jet per root of pressure         j      [m/(s Pa^0.5)]
    Returns
        float or array, broadcast of the inputs, 0..pL                                  p      [Pa]
    Valid for
        steady flow, apply finished. Exact without a hole or without a leak; with both within 0.1 percent.
    Source
        Flow balance of `orifice_flow` and a laminar leak.
    In the workshop
        a leaking clutch lowers its own tap by 10 to 20 psi and the line by one or two.
    Example
        >>> round(float(fed_pressure(1e6, 3.666e-6, 1e-10, 0.0, np.sqrt(2.0 / 830.0))) / 1e6, 3)
        0.802
    """
    laminar = leak_conductance * np.sqrt(line_pressure) / (feed_area * jet)
    laminar, holes = np.broadcast_arrays(laminar, hole_area / feed_area)
    side = 1.0 + holes * holes
    share = np.asarray(2.0 / (side + np.sqrt(side * side + 4.0 * laminar * laminar)))
    # Exact with a leak or a hole alone; with both, what they do together is put in again, pass by pass.
    if np.any(both := holes > 0):
        side, twice, found = side[both], 2.0 * laminar[both], share[both]
        joint = twice * holes[both]
        for _ in range(FED_PASSES):
            cross = side + joint * np.sqrt(found)
            found = 2.0 / (cross + np.sqrt(cross * cross + twice * twice))
        share[both] = found
    return line_pressure * share


def regulated_pressure(
    set_pressure: Values, flow: Values, conductance: Values, droop: Values, nominal_flow: Values
) -> Array:
    """Line pressure a regulator valve holds, or what the flow can support if that is less.

        p = min[ (Q + Qn (1 - d) / d) / (G + Qn / (d p_set)),  Q / G ]

    Parameters                                                                symbol  unit
        set_pressure   float or array   at nominal spill                        p_set  [Pa]
        flow           float or array   from the pump                           Q      [m3/s]
        conductance    float or array   of all leaks and circuits, above 0      G      [m3/(s Pa)]
        droop          float or array   share of p_set from shut to nominal     d      [-]
        nominal_flow   float or array   spill at which p_set is held            Qn     [m3/s]
    Returns
        float or array, broadcast of the inputs                                 p      [Pa]
    Valid for
        steady flow; set_pressure and droop above 0.
    Source
        Spring-loaded spill valve with a straight characteristic, spill = Qn (1 + (p / p_set - 1) / d),
        against flow balance Q = G p + spill.
    In the workshop
        below the limit the regulator spills nothing: pressure then follows engine speed.
    Example
        >>> [round(float(regulated_pressure(450e3, q, 2e-10, 0.04, 2e-4)) / 1e3) for q in (5e-5, 2.9e-4)]
        [250, 450]
    """
    valve = nominal_flow / droop
    held = (flow + valve * (1.0 - droop)) / (conductance + valve / set_pressure)
    return np.minimum(held, flow / conductance)


def lip_states(temperature: Values) -> tuple[Array, Array]:
    """How far a hard lip has shrunk, and how stiff it stands, at a temperature.

        hot(T) = F((T - 293) / 60),   cold(T) = 1 - F((T - 293) / 20),   F: smooth step from 0 to 1

    Parameters                                                         symbol  unit
        temperature   float or array   of the fluid                      T      [K]
    Returns
        pair of float or array: hot and cold, each 0..1                  -      [-]
    Valid for
        lips of rubber.
    Source
        Shape invented; that hard lips leak at both ends is common practice, no source.
    In the workshop
        the same seal can fail a cold test and pass a warm one, or the other way round.
    Example
        >>> [tuple(round(float(x), 2) for x in lip_states(t)) for t in (280.0, 303.15, 355.0)]
        [(0.0, 1.0), (0.02, 0.5), (1.0, 0.0)]
    """
    return smooth_step(temperature, *LIP_SHRUNK), 1.0 - smooth_step(temperature, *LIP_STIFF)


def lip_leak(
    hardness: Array, hot: Values, cold: Values, viscosity: Values, shrink: Values, lift: Values
) -> Array:
    """Leak past a piston lip as a multiple of what a sound circuit leaks at that temperature.

        f = 1 + a h^3 hot + b mu h^2 cold

    Parameters                                                                        symbol  unit
        hardness    float or array   0 supple, 1 hard                                   h      [-]
        hot         float or array   how far a hard lip has shrunk, see `lip_states`    hot    [-]
        cold        float or array   how stiff it stands                                cold   [-]
        viscosity   float or array   dynamic, at that temperature                       mu     [Pa s]
        shrink      float or array   added leak of a wholly hard lip, hot               a      [-]
        lift        float or array   the same cold, over viscosity                      b      [1/(Pa s)]
    Returns
        float or array, broadcast of the inputs, 1 or more                              f      [-]
    Valid for
        lips of rubber. Cold, the lip stands off its bore and thick fluid passes as easily as thin, hence the
        factor mu; hot, the lip bends again but is too small.
    Source
        Shape invented; that hard lips leak at both ends is common practice, no source.
    In the workshop
        do the air test cold and hot: a lip that just holds warm can lose a third of its pressure cold.
    Example
        >>> cases = ((273.15, 0.2), (303.15, 0.05), (355.0, 0.009))
        >>> [round(float(lip_leak(1.0, *lip_states(t), mu, 14.0, 1800.0))) for t, mu in cases]
        [361, 46, 15]
    """
    squared = hardness * hardness
    return 1.0 + squared * (shrink * hardness * hot + lift * viscosity * cold)
