"""The sump: fluid height, and how much air the pump pickup gets."""

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.physics.smooth import smooth_step

SLOSH_REACH = 3.0  # -, no wave is taken to be more than three standard deviations high
SMALLEST = 1e-12  # m3/s; keeps a division by zero out of a pump that only covers its leaks
OVERFILL_AIR_MOST = 0.22  # -, air share with drums well under the level (invented)


def fluid_height(volume: Values, area_low: Values, area_high: Values, height_split: Values) -> Array:
    """Height of the fluid in a pan of two steps.

        h = min(V, A1 h1) / A1 + max(V - A1 h1, 0) / A2

    Parameters                                                         symbol  unit
        volume         float or array   fluid in the pan                 V      [m3]
        area_low       float or array   pan area below the step          A1     [m2]
        area_high      float or array   pan area above the step          A2     [m2]
        height_split   float or array   height of the step               h1     [m]
    Returns
        float or array, broadcast of the inputs                          h      [m]
    Valid for
        volume not below 0.
    Source
        Geometry.
    In the workshop
        one quart moves the level on the gauge by about half an inch.
    Example
        >>> round(float(fluid_height(0.003, 0.06, 0.075, 0.03)), 3)
        0.046
    """
    low_volume = area_low * height_split
    return np.minimum(volume, low_volume) / area_low + np.maximum(volume - low_volume, 0.0) / area_high


def pickup_margin(
    height: Array, pickup_height: Values, lever: Values, tilt: Values, speed_drawdown: Values
) -> Array:
    """Fluid left above the pickup on a slope, in braking or in a bend.

        m = h - hp - L (grade + a / g) - d

    Parameters                                                                  symbol  unit
        height           float or array   level with the vehicle at rest, flat    h      [m]
        pickup_height    float or array   pickup mouth above the pan floor        hp     [m]
        lever            float or array   pickup off the pan center, uphill +     L      [m]
        tilt             float or array   grade + acceleration / g                -      [-]
        speed_drawdown   float or array   level drawn down at the pickup          d      [m]
    Returns
        float or array, broadcast of the inputs; below 0 the pickup sucks air     m      [m]
    Valid for
        tilt up to about 0.4 and fluid that still touches both ends of the pan.
    Source
        Geometry: the free surface stands square to gravity plus acceleration.
    In the workshop
        a low level is felt first on a ramp or when braking, not on the flat.
    Example
        >>> round(pickup_margin(0.056, 0.008, 0.17, 0.25, 0.002), 4)
        0.0035
    """
    return height - pickup_height - lever * tilt - speed_drawdown


def uncovered_share(margin: Values, slosh: Values) -> Array:
    """Share of time in which the sloshing fluid uncovers the pickup.

        share = F(-m / s),   F: smooth step over +/- 3 with standard deviation 1

    Parameters                                                         symbol  unit
        margin   float or array   mean fluid above the pickup            m      [m]
        slosh    float or array   standard deviation of the wave         s      [m]
    Returns
        float or array, broadcast of the inputs                          share  [-]
    Valid for
        slosh above 0. Exactly 0 for margins above 3 slosh, exactly 1 below -3 slosh; in between within
        0.017 of the normal law.
    Source
        Waves taken as normally distributed (invented); `smooth_step` instead of the normal law so
        that a full sump gives no air at all.
    In the workshop
        air comes in gulps: the needle of the gauge flickers before it falls.
    Example
        >>> [round(float(uncovered_share(m, 0.003)), 3) for m in (0.01, 0.003, 0.0, -0.01)]
        [0.0, 0.173, 0.5, 1.0]
    """
    return smooth_step(-margin, -SLOSH_REACH * slosh, SLOSH_REACH * slosh)


def overfill_air_share(height: Values, rotor_height: Values, scale: Values) -> Array:
    """Air share whipped into the fluid by the turning drums when the level stands too high.

        phi = 0.22 F((h - hr) / s),   F: smooth step over +/- 3 with standard deviation 1

    Parameters                                                         symbol  unit
        height         float or array   fluid level                      h      [m]
        rotor_height   float or array   level that half wets the drums   hr     [m]
        scale          float or array   how gradually foaming sets in    s      [m]
    Returns
        float or array, broadcast of the inputs, 0..0.22                 phi    [-]
    Valid for
        scale above 0. Exactly 0 more than 3 scale below rotor_height.
    Source
        Shape and most foam invented; that overfilling foams is common practice, no source.
    In the workshop
        too much fluid looks like too little: foam on the gauge, buzz, slip.
    Example
        >>> [round(float(overfill_air_share(h, 0.073, 0.005)), 2) for h in (0.056, 0.073, 0.1)]
        [0.0, 0.11, 0.22]
    """
    reach = SLOSH_REACH * scale
    return OVERFILL_AIR_MOST * smooth_step(height, rotor_height - reach, rotor_height + reach)


def refill_time(volume: Values, flow: Values, used: Values, longest: Values) -> Array:
    """Time for which a drained converter takes the fluid that the circuits wait for.

        t = V / (Q - Qu), held in 0..tmax

    Parameters                                                               symbol  unit
        volume    float or array   missing in the converter                    V      [m3]
        flow      float or array   from the pump                               Q      [m3/s]
        used      float or array   leaks on the way                            Qu     [m3/s]
        longest   float or array   no time is taken to be longer               tmax   [s]
    Returns
        float or array, broadcast of the inputs                                t      [s]
    Valid for
        the first start after standing; the circuits fill only afterwards.
    Source
        Balance of volume.
    In the workshop
        seconds of nothing in Drive and in Reverse, once a morning, then all is well.
    Example
        >>> round(float(refill_time(1.2e-3, 2.4e-4, 4e-5, 30.0)), 1)
        6.0
    """
    return np.minimum(volume / np.maximum(flow - used, SMALLEST), longest)
