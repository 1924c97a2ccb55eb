"""Clutches and bands: what they hold, how they heat, wear and char."""

from typing import NamedTuple

import numpy as np

from course_lib.physics.smooth import smooth_step
from course_lib.vocabulary import positive

FRICTION_BASE_TEMPERATURE = 363.0
FRICTION_FADE = 0.0008
FRICTION_LOST_GLAZED = 0.55
FRICTION_LOST_WATER = 0.30
WATER_REFERENCE = 0.02
FRICTION_LOST_OXIDIZED = 0.12
WEAR_HEAT_TEMPERATURE = 423.15
WEAR_HEAT_SCALE = 25.0
WEAR_GLAZED = 200.0
CHAR_START = 473.15
CHAR_FULL = 533.15
CHAR_TIME = 900.0


class Engagement(NamedTuple):
    """How a clutch brought two turning masses together."""

    common_speed: float
    slip_time: float
    heat: float


def mean_radius_uniform_wear(outer, inner):
    """Radius at which the friction of a worn-in plate acts."""
    positive("inner", inner, "Give the inner radius of the lining in meters.")
    positive("outer minus inner", outer - inner, "Give the outer radius first, then the inner radius.")
    return (outer + inner) / 2.0


def mean_radius_uniform_pressure(outer, inner):
    """Radius at which the friction of a new, evenly pressed plate acts."""
    positive("inner", inner, "Give the inner radius of the lining in meters.")
    positive("outer minus inner", outer - inner, "Give the outer radius first, then the inner radius.")
    return 2.0 / 3.0 * (outer**3 - inner**3) / (outer**2 - inner**2)


def clutch_torque_capacity(apply_force, friction_coefficient, mean_radius, friction_faces):
    """Largest torque a multi-plate clutch holds before it slips."""
    return friction_faces * friction_coefficient * apply_force * mean_radius


def band_torque_capacity(apply_force, friction_coefficient, radius, wrap_angle, energizing=True):
    """Largest torque a band holds before its drum slips."""
    grip = np.expm1(friction_coefficient * wrap_angle)
    return apply_force * radius * np.where(energizing, grip, grip / (1.0 + grip))


def friction_coefficient(base, plate_temperature, glaze, water, oxidation):
    """Friction coefficient of a wet lining in its present state."""
    return (
        base
        * (1.0 - FRICTION_FADE * (plate_temperature - FRICTION_BASE_TEMPERATURE))
        * (1.0 - FRICTION_LOST_GLAZED * glaze)
        * (1.0 - FRICTION_LOST_WATER * water / WATER_REFERENCE)
        * (1.0 - FRICTION_LOST_OXIDIZED * oxidation)
    )


def sliding_wear_depth_rate(power, area, wear_coefficient, plate_temperature, glaze):
    """How fast a slipping lining gets thinner."""
    heat = np.exp((plate_temperature - WEAR_HEAT_TEMPERATURE) / WEAR_HEAT_SCALE)
    return wear_coefficient * power / area * (1.0 + heat + WEAR_GLAZED * glaze)


def char_rate(plate_temperature, char):
    """How fast a lining chars, as share of the lining per second."""
    return smooth_step(plate_temperature, CHAR_START, CHAR_FULL) * (1.0 - char) / CHAR_TIME


def engagement(inertia_1, speed_1, inertia_2, speed_2, torque):
    """Common speed, slip time and heat when a constant clutch torque brings two masses together."""
    total = inertia_1 + inertia_2
    reduced = inertia_1 * inertia_2 / total
    slip = speed_1 - speed_2
    common = (inertia_1 * speed_1 + inertia_2 * speed_2) / total
    return Engagement(common, reduced * np.abs(slip) / torque, 0.5 * reduced * slip**2)


def bulk_temperature_rise(energy, mass, specific_heat):
    """Temperature rise of plates that soak up one engagement."""
    return energy / (mass * specific_heat)
