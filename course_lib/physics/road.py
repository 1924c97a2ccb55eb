"""What the road asks of the vehicle."""

from course_lib.constants import AIR_DENSITY, GRAVITY

ROLLING_SPEED = 44.8056  # m/s, 147 ft/s: rolling resistance doubled (Mannering and Washburn)
WHEEL_INERTIA_SHARE = 0.04  # - (Gillespie, Fundamentals of Vehicle Dynamics; from memory)
ENGINE_INERTIA_SHARE = 0.0025  # - (Gillespie, Fundamentals of Vehicle Dynamics; from memory)


def road_load(speed, mass, drag_area, grade, rolling_coefficient=0.01, air_density=AIR_DENSITY):
    """Force at the tires that holds a steady speed.

        F = rho CdA v^2 / 2 + m g (f (1 + v / 44.8) + grade)

    Parameters                                                              symbol  unit
        speed                 float or array   vehicle speed, 0 or more       v      [m/s]
        mass                  float or array   vehicle with load              m      [kg]
        drag_area             float or array   drag coefficient x area        CdA    [m2]
        grade                 float or array   rise over run                  -      [-]
        rolling_coefficient   float or array   at walking speed               f      [-]
        air_density           float or array   of the air                     rho    [kg/m3]
    Returns
        float or array, broadcast of the inputs                               F      [N]
    Valid for
        paved roads, grades up to about 0.2 (sine taken as tangent).
    Source
        F. L. Mannering and S. S. Washburn, Principles of Highway Engineering and Traffic Analysis.
    In the workshop
        a 5 percent grade asks more of the unit than the wind at 60 mph.
    Example
        >>> round(road_load(26.8, 2050.0, 1.0, 0.05))
        1766
    """
    drag = 0.5 * air_density * drag_area * speed**2
    return drag + mass * GRAVITY * (rolling_coefficient * (1.0 + speed / ROLLING_SPEED) + grade)


def wheel_speed(speed, tire_radius):
    """Turning speed of a wheel that rolls without slip.

        w = v / r

    Parameters                                                         symbol  unit
        speed         float or array   vehicle speed                     v      [m/s]
        tire_radius   float or array   rolling radius                    r      [m]
    Returns
        float or array, broadcast of the inputs                          w      [rad/s]
    Valid for
        tires that do not spin.
    Source
        Definition.
    In the workshop
        other tires shift the shift points on the speedometer.
    Example
        >>> round(wheel_speed(26.8224, 0.3429), 2)
        78.22
    """
    return speed / tire_radius


def mass_factor(total_ratio):
    """How much heavier a vehicle feels in acceleration because its wheels and engine must spin up.

        k = 1 + 0.04 + 0.0025 N^2

    Parameters                                                         symbol  unit
        total_ratio   float or array   gear ratio x axle ratio           N      [-]
    Returns
        float or array                                                   k      [-]
    Valid for
        passenger cars and light trucks.
    Source
        T. D. Gillespie, Fundamentals of Vehicle Dynamics, chapter on acceleration (from memory).
    In the workshop
        in first gear part of the engine's push only spins the engine up.
    Example
        >>> round(mass_factor(7.5), 3)
        1.181
    """
    return 1.0 + WHEEL_INERTIA_SHARE + ENGINE_INERTIA_SHARE * total_ratio**2
