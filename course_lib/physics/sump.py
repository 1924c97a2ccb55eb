"""The sump: fluid height, and how much air the pump pickup gets."""

import numpy as np

from course_lib.physics.smooth import smooth_step

SLOSH_REACH = 3.0
OVERFILL_AIR_MOST = 0.22


def fluid_height(volume, area_low, area_high, height_split):
    """Height of the fluid in a pan of two steps."""
    low_volume = area_low * height_split
    return np.minimum(volume, low_volume) / area_low + np.maximum(volume - low_volume, 0.0) / area_high


def pickup_margin(height, pickup_height, lever, tilt, speed_drawdown):
    """Fluid left above the pickup on a slope, in braking or in a bend."""
    return height - pickup_height - lever * tilt - speed_drawdown


def uncovered_share(margin, slosh):
    """Share of time in which the sloshing fluid uncovers the pickup."""
    return smooth_step(-margin, -SLOSH_REACH * slosh, SLOSH_REACH * slosh)


def overfill_air_share(height, rotor_height, scale):
    """Air share whipped into the fluid by the turning drums when the level stands too high."""
    reach = SLOSH_REACH * scale
    return OVERFILL_AIR_MOST * smooth_step(height, rotor_height - reach, rotor_height + reach)
