"""Elements that rub when they should not: the film in a released pack, and friction that grabs."""

import numpy as np

from course_lib.base.arrays import Array, Values


def open_clutch_drag(
    viscosity: Values,
    speed: Values,
    radius: Values,
    area: Values,
    friction_faces: Values,
    gap: Values,
    roughness: Values,
) -> Array:
    """Torque that the fluid film in a released pack or band passes on.

        T = z mu w r^2 A / h,   h = max(gap, roughness)

    Parameters                                                                 symbol  unit
        viscosity        float or array   dynamic                                mu     [Pa s]
        speed            float or array   between the two sides, any sign        w      [rad/s]
        radius           float or array   mean radius of the lining              r      [m]
        area             float or array   one face                               A      [m2]
        friction_faces   int or array     rubbing faces                          z      [-]
        gap              float or array   clearance at one face; 0 or less rubs  h      [m]
        roughness        float or array   film that is left when plates touch    -      [m]
    Returns
        float or array, broadcast of the inputs, 0 or more                       T      [N m]
    Valid for
        a gap full of fluid. At high speed a real film tears and drags less: this is the most.
    Source
        Plane shear flow (Couette), F. M. White, Fluid Mechanics, chapter 4 (from memory).
    In the workshop
        a pack set too tight creeps in Neutral and scorches though its pressure is right.
    Example
        >>> [round(float(open_clutch_drag(0.009, 200.0, 0.062, 0.0062, 10, gap, 5e-6)), 1) for gap in (1.3e-4, 2.5e-5)]
        [3.3, 17.2]
    """
    film = np.maximum(gap, roughness)
    return friction_faces * viscosity * np.abs(speed) * radius**2 * area / film


def judder(friction_slope: Values, capacity: Values, damping: Values) -> Array:
    """How strongly a sliding clutch shakes itself, 0 while it slides quietly.

        J = max(s T / c - 1, 0)

    Parameters                                                                      symbol  unit
        friction_slope   float or array   share of grip gained per rad/s less slip    s      [s]
        capacity         float or array   grip of the sliding element, 0 or more      T      [N m]
        damping          float or array   of shafts and mounts, above 0               c      [N m s]
    Returns
        float or array, broadcast of the inputs, 0 or more                            J      [-]
    Valid for
        steady slip; above 0 the shaking grows until the plates stick and break loose by turns.
    Source
        Damping below zero (s T > c) makes a slide unstable: D. J. Inman, Engineering Vibration, chapter on
        self-excited vibration (from memory).
    In the workshop
        shudder while sliding from the day of a fluid change: friction that rises as slip falls.
    Example
        >>> [round(float(judder(s, 250.0, 2.0)), 2) for s in (-0.004, 0.004, 0.012)]
        [0.0, 0.0, 0.5]
    """
    return np.maximum(friction_slope * capacity / damping - 1.0, 0.0)
