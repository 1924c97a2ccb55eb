"""What the road asks of the vehicle."""

from course_lib.constants import AIR_DENSITY, GRAVITY

ROLLING_SPEED = 44.8056
WHEEL_INERTIA_SHARE = 0.04
ENGINE_INERTIA_SHARE = 0.0025


def road_load(speed, mass, drag_area, grade, rolling_coefficient=0.01, air_density=AIR_DENSITY):
    """Force at the tires that holds a steady speed."""
    drag = 0.5 * air_density * drag_area * speed**2
    return drag + mass * GRAVITY * (rolling_coefficient * (1.0 + speed / ROLLING_SPEED) + grade)


def wheel_speed(speed, tire_radius):
    """Turning speed of a wheel that rolls without slip."""
    return speed / tire_radius


def mass_factor(total_ratio):
    """How much heavier a vehicle feels in acceleration because its wheels and engine must spin up."""
    return 1.0 + WHEEL_INERTIA_SHARE + ENGINE_INERTIA_SHARE * total_ratio**2
