"""What the shift valves feel: governor pressure against spring and load signal."""

import numpy as np

from course_lib.constants import AIR_GAS_CONSTANT, ATMOSPHERE, GRAVITY, LAPSE_RATE, SEA_LEVEL_TEMPERATURE

VACUUM_SHAPE = 0.75


def governor_pressure(road_speed, start_speed, mid_speed, mid_pressure, slope):
    """Pressure that tells the shift valves the road speed."""
    squared = (road_speed**2 - start_speed**2) / (mid_speed**2 - start_speed**2)
    return mid_pressure * np.clip(squared, 0.0, 1.0) + slope * np.maximum(road_speed - mid_speed, 0.0)


def centrifugal_weight_pressure(mass, radius, speed, area):
    """Pressure that balances one turning governor weight."""
    return mass * radius * speed**2 / area


def manifold_vacuum(closed_vacuum, throttle, share):
    """Engine vacuum at a throttle opening."""
    return closed_vacuum * share * (1.0 - throttle) ** VACUUM_SHAPE


def vacuum_signal(vacuum_at_modulator, full_vacuum):
    """Load signal of a vacuum modulator, 0 at full vacuum, 1 without vacuum."""
    return np.clip((full_vacuum - vacuum_at_modulator) / full_vacuum, 0.0, 1.0)


def cable_signal(throttle, travel_full, slack, offset):
    """Load signal of a throttle cable, 0 released, 1 fully pulled."""
    return np.clip((throttle * travel_full - slack + offset) / travel_full, 0.0, 1.0)


def upshift_made(governor_pressure, spring_pressure, signal_pressure, signal):
    """Whether the shift valve stands in the higher gear."""
    return governor_pressure > spring_pressure + signal_pressure * signal


def altitude_pressure(height):
    """Air pressure at a height above sea level."""
    exponent = GRAVITY / (AIR_GAS_CONSTANT * LAPSE_RATE)
    return ATMOSPHERE * (1.0 - LAPSE_RATE * height / SEA_LEVEL_TEMPERATURE) ** exponent


def absolute_from_vacuum(barometer, vacuum):
    """Absolute pressure from a vacuum gauge reading."""
    return barometer - vacuum


def vacuum_from_absolute(barometer, absolute):
    """Vacuum gauge reading from an absolute pressure."""
    return barometer - absolute
