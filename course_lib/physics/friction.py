"""Clutches and bands: what they hold, how they heat, wear and char."""

import numpy as np

from course_lib.base.arrays import Array, Flags, Values
from course_lib.physics.smooth import smooth_step

# Lining model: shapes and shares invented and fitted to plausible lives, unless a line says otherwise.
FRICTION_BASE_TEMPERATURE = 363.0  # K, 90 degrees C, where `base` is measured
FRICTION_FADE = 0.0008  # 1/K, friction lost as the plate heats
FRICTION_LOST_GLAZED = 0.55  # -, friction lost when wholly glazed
FRICTION_LOST_WATER = 0.30  # -, friction lost at WATER_REFERENCE
WATER_REFERENCE = 0.02  # -, 2 percent water by volume
FRICTION_LOST_OXIDIZED = 0.12  # -, friction lost in fluid at the end of its life
WEAR_HEAT_TEMPERATURE = 423.15  # K, 150 degrees C: wear doubled (paper limit, Shigley; from memory)
WEAR_HEAT_SCALE = 25.0  # K, wear grows e-fold per step above that
WEAR_GLAZED = 200.0  # -, extra wear of a wholly charred lining
CHAR_START = 473.15  # K, 200 degrees C: no char below
CHAR_FULL = 533.15  # K, 260 degrees C: full rate
CHAR_TIME = 900.0  # s, time scale of charring at the full rate


def clutch_torque_capacity(
    apply_force: Array, friction_coefficient: Values, mean_radius: Values, friction_faces: Values
) -> Array:
    """Largest torque a multi-plate clutch holds before it slips.

        T = z mu F rm

    Parameters                                                                 symbol  unit
        apply_force            float or array   net force on the pack            F      [N]
        friction_coefficient   float or array   lining on steel, in fluid        mu     [-]
        mean_radius            float or array   (ro + ri) / 2, plates run in      rm     [m]
        friction_faces         int or array     rubbing faces                    z      [-]
    Returns
        float or array, broadcast of the inputs                                  T      [N m]
    Valid for
        flat faces and a fully applied pack; not while applying.
    Source
        Budynas and Nisbett, Shigley's Mechanical Engineering Design, chapter on clutches (from memory).
    In the workshop
        slips only hot or loaded: compare T with the torque asked of the pack.
    Example
        >>> round(clutch_torque_capacity(2000.0, 0.12, 0.07, 6), 1)
        100.8
    """
    return friction_faces * friction_coefficient * apply_force * mean_radius


def band_torque_capacity(
    apply_force: Values,
    friction_coefficient: Values,
    radius: Values,
    wrap_angle: Values,
    *,
    energizing: bool | Flags = True,
) -> Array:
    """Largest torque a band holds before its drum slips.

        energizing: T = P r (e^(mu a) - 1),   other way round: T = P r (1 - e^(-mu a))

    Parameters                                                                symbol  unit
        apply_force            float or array   servo force on the band end     P      [N]
        friction_coefficient   float or array   lining on drum, in fluid        mu     [-]
        radius                 float or array   of the drum                     r      [m]
        wrap_angle             float or array   angle of contact                a      [rad]
        energizing             bool or array    drum drags toward the anchor    -      [-]
    Returns
        array, broadcast of the inputs                                          T      [N m]
    Valid for
        a flexible band in contact over the whole angle.
    Source
        Capstan (Eytelwein) equation; A. Slocum, Capstan and Band Brake, design sheet, 2013.
    In the workshop
        the same band holds about half as much when the drum pulls the other way.
    Example
        >>> band = (500.0, 0.12, 0.07, 5.7596)
        >>> [round(float(band_torque_capacity(*band, energizing=way)), 2) for way in (True, False)]
        [34.86, 17.47]
    """
    grip = np.expm1(friction_coefficient * wrap_angle)
    return apply_force * radius * np.where(energizing, grip, grip / (1.0 + grip))


def friction_coefficient(
    base: Array, plate_temperature: Values, glaze: Values, water: Values, oxidation: Values
) -> Array:
    """Friction coefficient of a wet lining in its present state.

        mu = mu0 (1 - 0.0008 (Tp - 363)) (1 - 0.55 g) (1 - 0.30 w / 0.02) (1 - 0.12 ox)

    Parameters                                                              symbol  unit
        base                float or array   good lining, right fluid, 90 C   mu0    [-]
        plate_temperature   float or array   lining surface                   Tp     [K]
        glaze               float or array   share of the face glazed, 0..1   g      [-]
        water               float or array   volume share of water            w      [-]
        oxidation           float or array   share of fluid life used, 0..1   ox     [-]
    Returns
        float or array, broadcast of the inputs                               mu     [-]
    Valid for
        250 to 1500 K and water up to 6 percent, where every factor is above 0.
    Source
        Level: paper lining in oil 0.09 to 0.15, Shigley, table of friction materials (from memory).
        How it falls: invented, fitted to plausible lives.
    In the workshop
        a glazed clutch slips though its pressure and clearance are right.
    Example
        >>> round(friction_coefficient(0.125, 363.0, 0.5, 0.0, 0.0), 3)
        0.091
    """
    return (
        base
        * (1.0 - FRICTION_FADE * (plate_temperature - FRICTION_BASE_TEMPERATURE))
        * (1.0 - FRICTION_LOST_GLAZED * glaze)
        * (1.0 - FRICTION_LOST_WATER * water / WATER_REFERENCE)
        * (1.0 - FRICTION_LOST_OXIDIZED * oxidation)
    )


def sliding_wear_depth_rate(
    power: Values, area: Values, wear_coefficient: Array, plate_temperature: Values, glaze: Values
) -> Array:
    """How fast a slipping lining gets thinner.

        dw/dt = k P / A (1 + exp((Tp - 423) / 25) + 200 g)

    Parameters                                                              symbol  unit
        power               float or array   friction power of the pack       P      [W]
        area                float or array   lining area, all faces           A      [m2]
        wear_coefficient    float or array   volume worn per work, cool       k      [m3/J]
        plate_temperature   float or array   lining surface                   Tp     [K]
        glaze               float or array   share of the face charred        g      [-]
    Returns
        float or array, broadcast of the inputs; depth per face             dw/dt   [m/s]
    Valid for
        plate temperatures below 10 000 K (the exponential stays finite).
    Source
        J. F. Archard, Journal of Applied Physics 24 (1953) 981: worn volume K F s / H, so K / (mu H) per
        work of friction (from memory). The growth with heat and char is invented.
    In the workshop
        cool shifts wear a lining over years, one hot slip over minutes.
    Example
        >>> round(float(sliding_wear_depth_rate(1000.0, 0.1, 3.5e-16, 363.0, 0.0)) * 3600e9, 1)
        13.7
    """
    heat = np.exp((plate_temperature - WEAR_HEAT_TEMPERATURE) / WEAR_HEAT_SCALE)
    return wear_coefficient * power / area * (1.0 + heat + WEAR_GLAZED * glaze)


def char_rate(plate_temperature: Values, char: Values) -> Array:
    """How fast a lining chars.

        dg/dt = step(Tp; 473..533 K) (1 - g) / 900 s

    Parameters                                                              symbol  unit
        plate_temperature   float or array   lining surface                   Tp     [K]
        char                float or array   share of the face charred        g      [-]
    Returns
        float or array, broadcast of the inputs                             dg/dt   [1/s]
    Valid for
        any temperature; exactly 0 below 200 degrees C.
    Source
        That paper linings char above about 400 degrees F is common practice, no source; times invented.
    In the workshop
        the burnt smell in the fluid, and it does not go away by itself.
    Example
        >>> [round(float(char_rate(t, 0.0)) * 60.0, 3) for t in (450.0, 503.15, 560.0)]
        [0.0, 0.033, 0.067]
    """
    return smooth_step(plate_temperature, CHAR_START, CHAR_FULL) * (1.0 - char) / CHAR_TIME
