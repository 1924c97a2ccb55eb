"""Oil circuits: orifices, leaks, the regulator, and pressure in a turning drum."""

import math

import numpy as np

from course_lib.constants import ORIFICE_VELOCITY, SHARP_EDGE_DISCHARGE, SPOOL_JET_ANGLE
from course_lib.physics.smooth import smooth_step

FED_PASSES = 3  # Newton passes; the worst of 4000 random circuits was then within 1e-5
SMALLEST = 1e-12  # keeps a division by zero out of a circuit without any leak
LIP_STIFF = (293.15, 313.15)  # K, 20 to 40 C: a hard lip is stiff below, bends above (fitted)
LIP_SHRUNK = (293.15, 353.15)  # K, 20 to 80 C: a hard lip that fits cold has shrunk away when hot (fitted)
ECCENTRIC_GAIN = 1.5  # -, exact integral of (1 + e cos)^3 (M. G. Rabie, Fluid Power Engineering)


def orifice_flow(area, pressure_drop, density, discharge_coefficient=SHARP_EDGE_DISCHARGE):
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


def slot_leakage(width, gap, pressure_drop, viscosity, length):
    """Laminar leak through a flat gap.

        Q = w h^3 dp / (12 mu L)

    Parameters                                                         symbol  unit
        width           float or array   across the flow                 w      [m]
        gap             float or array   height of the gap               h      [m]
        pressure_drop   float or array   along the flow                  dp     [Pa]
        viscosity       float or array   dynamic                         mu     [Pa s]
        length          float or array   along the flow                  L      [m]
    Returns
        float or array, broadcast of the inputs                          Q      [m3/s]
    Valid for
        gap much smaller than width and length; Reynolds number below about 1000.
    Source
        M. G. Rabie, Fluid Power Engineering, equation 2.19, page 21.
    In the workshop
        twice the clearance leaks eight times as much.
    Example
        >>> round(slot_leakage(0.05, 30e-6, 0.8e6, 0.010, 0.010) * 60000.0, 4)
        0.054
    """
    return width * gap**3 * pressure_drop / (12.0 * viscosity * length)


def annulus_leakage(diameter, clearance, pressure_drop, viscosity, length, eccentricity=0.0):
    """Laminar leak past a piston, spool or seal land in its bore.

        Q = pi D c^3 dp / (12 mu L) (1 + 1.5 e^2)

    Parameters                                                                    symbol  unit
        diameter        float or array   of the bore                                D      [m]
        clearance       float or array   radial, half the difference in diameter    c      [m]
        pressure_drop   float or array   along the land                             dp     [Pa]
        viscosity       float or array   dynamic                                    mu     [Pa s]
        length          float or array   of the land                                L      [m]
        eccentricity    float or array   offset over clearance, 0..1                e      [-]
    Returns
        float or array, broadcast of the inputs                                     Q      [m3/s]
    Valid for
        clearance much smaller than diameter; laminar flow.
    Source
        M. G. Rabie, Fluid Power Engineering, equation 2.19, page 21; Fox and McDonald, Introduction to
        Fluid Mechanics, example 8.1 (from memory).
    In the workshop
        a piston pushed to one side of its bore leaks two and a half times as much.
    Example
        >>> round(annulus_leakage(0.025, 5e-6, 19e6, 0.018, 0.015) * 1e9, 1)
        57.6
    """
    concentric = slot_leakage(math.pi * diameter, clearance, pressure_drop, viscosity, length)
    return concentric * (1.0 + ECCENTRIC_GAIN * eccentricity**2)


def fed_pressure(
    line_pressure,
    feed_area,
    leak_conductance,
    hole_area,
    density,
    discharge_coefficient=SHARP_EDGE_DISCHARGE,
):
    """Pressure in a circuit that is fed through an orifice and leaks past seals and through a hole.

        Cd A sqrt(2 (pL - p) / rho) = G p + Cd Ah sqrt(2 p / rho)

    Parameters                                                                 symbol  unit
        line_pressure           float or array   before the orifice, 0 or more   pL     [Pa]
        feed_area               float or array   feed orifice, above 0           A      [m2]
        leak_conductance        float or array   laminar leak per pascal         G      [m3/(s Pa)]
        hole_area               float or array   open check ball, crack          Ah     [m2]
        density                 float or array   of the fluid                    rho    [kg/m3]
        discharge_coefficient   float or array   of feed and hole                Cd     [-]
    Returns
        float or array, broadcast of the inputs, 0..pL                           p      [Pa]
    Valid for
        steady flow, apply finished. Relative error below 1e-4; exact without a hole or without a leak.
    Source
        Flow balance of `orifice_flow` and a laminar leak, solved by Newton's method.
    In the workshop
        a leaking clutch lowers its own tap by 10 to 20 psi and the line by one or two.
    Example
        >>> round(float(fed_pressure(1e6, 6e-6, 1e-10, 0.0, 830.0)) / 1e6, 3)
        0.802
    """
    feed = discharge_coefficient * feed_area * np.sqrt(2.0 / density)
    leak = leak_conductance * np.sqrt(line_pressure) / feed
    hole = hole_area / feed_area
    # With s = sqrt(p / pL): leak s^2 + hole s = sqrt(1 - s^2). The difference rises and is convex, and
    # either leak alone gives a start above the root, so Newton's method cannot overshoot.
    s = np.minimum(np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + 4.0 * leak**2))), 1.0 / np.sqrt(1.0 + hole**2))
    for _ in range(FED_PASSES):
        rest = np.sqrt(1.0 - s * s)
        error = leak * s * s + hole * s - rest
        s = s - error / (2.0 * leak * s + hole + s / np.maximum(rest, SMALLEST))
    return line_pressure * s * s


def regulated_pressure(set_pressure, flow, conductance, droop, nominal_flow):
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


def centrifugal_pressure(density, speed, radius, free_radius):
    """Pressure of fluid turning with a drum.

        p = rho w^2 (r^2 - r0^2) / 2

    Parameters                                                         symbol  unit
        density       float or array   of the fluid                      rho    [kg/m3]
        speed         float or array   of the drum                       w      [rad/s]
        radius        float or array   where the pressure is asked       r      [m]
        free_radius   float or array   where the fluid surface stands    r0     [m]
    Returns
        float or array, broadcast of the inputs; 0 inside r0             p      [Pa]
    Valid for
        fluid that turns with the drum.
    Source
        Rigid-body rotation, F. M. White, Fluid Mechanics, chapter 2 (from memory).
    In the workshop
        why a released clutch needs a check ball that lets the trapped fluid go.
    Example
        >>> round(float(centrifugal_pressure(850.0, 314.159, 0.080, 0.030)) / 1e3, 1)
        230.7
    """
    return 0.5 * density * speed**2 * np.maximum(radius**2 - free_radius**2, 0.0)


def centrifugal_piston_force(density, speed, inner, outer, free_radius):
    """Force of the turning fluid on a ring-shaped piston.

        F = pi rho w^2 / 4 [ (ro^2 - r0^2)^2 - (ri^2 - r0^2)^2 ]

    Parameters                                                         symbol  unit
        density       float or array   of the fluid                      rho    [kg/m3]
        speed         float or array   of the drum                       w      [rad/s]
        inner         float or array   inner radius of the piston        ri     [m]
        outer         float or array   outer radius of the piston        ro     [m]
        free_radius   float or array   where the fluid surface stands    r0     [m]
    Returns
        float or array, broadcast of the inputs                          F      [N]
    Valid for
        fluid that turns with the drum; where r is inside r0 its bracket counts 0.
    Source
        `centrifugal_pressure` summed over the piston.
    In the workshop
        at high speed it can hold a clutch half on after it was let go.
    Example
        >>> round(float(centrifugal_piston_force(850.0, 314.159, 0.040, 0.080, 0.030)))
        1961
    """
    outer_term = np.maximum(outer**2 - free_radius**2, 0.0) ** 2
    inner_term = np.maximum(inner**2 - free_radius**2, 0.0) ** 2
    return math.pi / 4.0 * density * speed**2 * (outer_term - inner_term)


def flow_force(width, opening, pressure_drop, discharge_coefficient=SHARP_EDGE_DISCHARGE):
    """Steady force of the jet on a spool valve, always in the closing direction.

        F = 2 Cd Cv w x dp cos(69 degrees)

    Parameters                                                                symbol  unit
        width                   float or array   around the port                w      [m]
        opening                 float or array   of the port                    x      [m]
        pressure_drop           float or array   across the port                dp     [Pa]
        discharge_coefficient   float or array   of the port                    Cd     [-]
    Returns
        float or array, broadcast of the inputs                                 F      [N]
    Valid for
        square lands and openings much larger than the clearance.
    Source
        H. E. Merritt, Hydraulic Control Systems, 1967, chapter on spool valves (from memory).
    In the workshop
        part of what a regulator spring has to hold against, hence the droop.
    Example
        >>> round(flow_force(0.03, 0.0005, 5e5), 2)
        3.22
    """
    jet = 2.0 * discharge_coefficient * ORIFICE_VELOCITY * math.cos(SPOOL_JET_ANGLE)
    return jet * width * opening * pressure_drop


def lip_states(temperature):
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


def lip_leak(hardness, hot, cold, viscosity, shrink, lift):
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
