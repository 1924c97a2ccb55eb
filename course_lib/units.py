"""Workshop units and back. The only place where SI and workshop units meet.

Each pair is `to_x(si_value)` and `from_x(workshop_value)`; arrays work. Factors: NIST Special Publication
811 (2008), appendix B; the inch, pound, quart and mile are exact by law, inHg is the conventional one.
"""

import math

from course_lib.constants import GRAVITY, ZERO_CELSIUS

INCH = 0.0254  # m, exact
MILE = 63360 * INCH  # m, exact: 1609.344
QUART = 57.75 * INCH**3  # m3, US liquid quart, exact: a quarter of 231 cubic inches
POUND = 0.45359237  # kg, exact
POUND_FORCE = POUND * GRAVITY  # N, exact
PSI = POUND_FORCE / INCH**2  # Pa
INHG = 3386.389  # Pa, conventional inch of mercury at 0 degrees Celsius
REV_PER_MINUTE = 2.0 * math.pi / 60.0  # rad/s
POUND_INCH = POUND_FORCE * INCH  # N m


def to_psi(pascal):
    """Pressure in psi from pascal."""
    return pascal / PSI


def from_psi(psi):
    """Pressure in pascal from psi."""
    return psi * PSI


def to_inhg(pascal):
    """Pressure or vacuum in inches of mercury from pascal."""
    return pascal / INHG


def from_inhg(inhg):
    """Pressure or vacuum in pascal from inches of mercury."""
    return inhg * INHG


def to_inch(meter):
    """Length in inches from meters."""
    return meter / INCH


def from_inch(inch):
    """Length in meters from inches."""
    return inch * INCH


def to_quart(cubic_meter):
    """Volume in US quarts from cubic meters."""
    return cubic_meter / QUART


def from_quart(quart):
    """Volume in cubic meters from US quarts."""
    return quart * QUART


def to_mile(meter):
    """Distance in miles from meters."""
    return meter / MILE


def from_mile(mile):
    """Distance in meters from miles."""
    return mile * MILE


def to_mph(meter_per_second):
    """Road speed in miles per hour from meters per second."""
    return meter_per_second * 3600.0 / MILE


def from_mph(mph):
    """Road speed in meters per second from miles per hour."""
    return mph * MILE / 3600.0


def to_celsius(kelvin):
    """Temperature in degrees Celsius from kelvin."""
    return kelvin - ZERO_CELSIUS


def from_celsius(celsius):
    """Temperature in kelvin from degrees Celsius."""
    return celsius + ZERO_CELSIUS


def to_fahrenheit(kelvin):
    """Temperature in degrees Fahrenheit from kelvin."""
    return 1.8 * (kelvin - ZERO_CELSIUS) + 32.0


def from_fahrenheit(fahrenheit):
    """Temperature in kelvin from degrees Fahrenheit."""
    return (fahrenheit - 32.0) / 1.8 + ZERO_CELSIUS


def to_rpm(radian_per_second):
    """Turning speed in revolutions per minute from radians per second."""
    return radian_per_second / REV_PER_MINUTE


def from_rpm(rpm):
    """Turning speed in radians per second from revolutions per minute."""
    return rpm * REV_PER_MINUTE


def to_pound_inch(newton_meter):
    """Torque in pound-force inches from newton meters."""
    return newton_meter / POUND_INCH


def from_pound_inch(pound_inch):
    """Torque in newton meters from pound-force inches."""
    return pound_inch * POUND_INCH
