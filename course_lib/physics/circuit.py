"""Oil circuits: orifices, leaks, the regulator, and pressure in a turning drum."""

import math

import numpy as np

from course_lib.constants import ORIFICE_VELOCITY, SHARP_EDGE_DISCHARGE, SPOOL_JET_ANGLE

FED_PASSES = 4
SMALLEST = 1e-12


def orifice_flow(area, pressure_drop, density, discharge_coefficient=SHARP_EDGE_DISCHARGE):
    """Flow through a sharp hole."""
    return discharge_coefficient * area * np.sqrt(2.0 * pressure_drop / density)


def slot_leakage(width, gap, pressure_drop, viscosity, length):
    """Laminar leak through a flat gap."""
    return width * gap**3 * pressure_drop / (12.0 * viscosity * length)


def annulus_leakage(diameter, clearance, pressure_drop, viscosity, length, eccentricity=0.0):
    """Laminar leak past a piston, spool or seal land in its bore."""
    concentric = slot_leakage(math.pi * diameter, clearance, pressure_drop, viscosity, length)
    return concentric * (1.0 + 1.5 * eccentricity**2)


def fed_pressure(
    line_pressure,
    feed_area,
    leak_conductance,
    hole_area,
    density,
    discharge_coefficient=SHARP_EDGE_DISCHARGE,
):
    """Pressure in a circuit that is fed through an orifice and leaks."""
    feed = discharge_coefficient * feed_area * np.sqrt(2.0 / density)
    leak = leak_conductance * np.sqrt(line_pressure) / feed
    hole = hole_area / feed_area
    # s = sqrt(p / line): leak s^2 + hole s = sqrt(1 - s^2). Convex and rising, so Newton from above cannot overshoot.
    s = np.minimum(np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + 4.0 * leak**2))), 1.0 / np.sqrt(1.0 + hole**2))
    for _ in range(FED_PASSES):
        rest = np.sqrt(1.0 - s * s)
        error = leak * s * s + hole * s - rest
        s = s - error / (2.0 * leak * s + hole + s / np.maximum(rest, SMALLEST))
    return line_pressure * s * s


def regulated_pressure(set_pressure, flow, conductance, droop, nominal_flow):
    """Line pressure a regulator valve holds, or what the flow can support if that is less."""
    held = (flow + nominal_flow * (1.0 - droop) / droop) / (conductance + nominal_flow / (droop * set_pressure))
    return np.minimum(held, flow / conductance)


def centrifugal_pressure(density, speed, radius, free_radius):
    """Pressure of fluid turning with a drum."""
    return 0.5 * density * speed**2 * np.maximum(radius**2 - free_radius**2, 0.0)


def centrifugal_piston_force(density, speed, inner, outer, free_radius):
    """Force of the turning fluid on a ring-shaped piston."""
    outer_term = np.maximum(outer**2 - free_radius**2, 0.0) ** 2
    inner_term = np.maximum(inner**2 - free_radius**2, 0.0) ** 2
    return math.pi / 4.0 * density * speed**2 * (outer_term - inner_term)


def flow_force(width, opening, pressure_drop, discharge_coefficient=SHARP_EDGE_DISCHARGE):
    """Steady force of the jet on a spool valve, always in the closing direction."""
    jet = 2.0 * discharge_coefficient * ORIFICE_VELOCITY * math.cos(SPOOL_JET_ANGLE)
    return jet * width * opening * pressure_drop
