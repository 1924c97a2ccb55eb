"""The pump: what it could deliver, what suction lets it draw, what slips back."""

import math

import numpy as np

from course_lib.constants import SHARP_EDGE_DISCHARGE
from course_lib.vocabulary import positive

STANDING_DEPRESSION = 400.0
SUCTION_KNEE = 4.0
SLIP_FIXED_SHARE = 0.3


def geometric_flow(displacement, speed):
    """Flow of a pump without any loss."""
    return displacement * speed / (2.0 * math.pi)


def displacement_of_gear_pump(outer, inner, width):
    """Volume a gear pump moves each turn, from its tooth diameters."""
    positive("inner", inner, "Give the root diameter in meters.")
    positive("outer minus inner", outer - inner, "Give the tip diameter first, then the root diameter.")
    return math.pi / 4.0 * (outer**2 - inner**2) * width


def suction_limited_flow(geometric_flow, suction_resistance, viscosity_dynamic, suction_limit):
    """Flow that the suction side lets a pump draw."""
    demand = geometric_flow * suction_resistance * viscosity_dynamic / suction_limit
    return geometric_flow / (1.0 + demand**SUCTION_KNEE) ** (1.0 / SUCTION_KNEE)


def suction_depression(flow, suction_resistance, viscosity_dynamic, plug):
    """How far the pump inlet is below the outside air."""
    return suction_resistance * viscosity_dynamic * flow / (1.0 - plug) ** 2 + STANDING_DEPRESSION


def air_leak_flow(area, suction_depression, air_density):
    """Air drawn in through a leak on the suction side."""
    return SHARP_EDGE_DISCHARGE * area * np.sqrt(2.0 * suction_depression / air_density)


def slip_conductance(coefficient, viscosity_dynamic, clearance_ratio):
    """Flow that slips back inside the pump, per pascal."""
    opened = SLIP_FIXED_SHARE + (1.0 - SLIP_FIXED_SHARE) * clearance_ratio**3
    return coefficient / viscosity_dynamic * opened


def volumetric_efficiency(actual_flow, displacement, speed):
    """Share of the geometric flow that comes out."""
    return actual_flow / geometric_flow(displacement, speed)


def hydraulic_power(pressure, flow):
    """Power carried by, or lost from, a flow under pressure."""
    return pressure * flow
