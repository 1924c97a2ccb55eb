"""Workshop units and back. The only place where SI and workshop units meet.

Each pair is `to_x(si_value)` and `from_x(workshop_value)`; arrays work. Factors: NIST Special Publication
811 (2008), appendix B; the inch, pound, quart and mile are exact by law, inHg is the conventional one.
"""

import math
import re
from typing import NamedTuple, TypeVar

from course_lib.base.arrays import Array
from course_lib.base.constants import GRAVITY, ZERO_CELSIUS
from course_lib.base.guards import one_of

Number = TypeVar("Number", float, Array)

INCH = 0.0254  # m, exact
MILE = 63360 * INCH  # m, exact: 1609.344
QUART = 57.75 * INCH**3  # m3, US liquid quart, exact: a quarter of 231 cubic inches
POUND = 0.45359237  # kg, exact
POUND_FORCE = POUND * GRAVITY  # N, exact
PSI = POUND_FORCE / INCH**2  # Pa
INHG = 3386.389  # Pa, conventional inch of mercury at 0 degrees Celsius
FAHRENHEIT_STEPS = 1.8  # degrees Fahrenheit in a kelvin, exact
REV_PER_MINUTE = 2.0 * math.pi / 60.0  # rad/s


def to_psi(pascal: Number) -> Number:
    """Pressure in psi from pascal."""
    return pascal / PSI


def from_psi(psi: Number) -> Number:
    """Pressure in pascal from psi."""
    return psi * PSI


def to_inhg(pascal: Number) -> Number:
    """Pressure or vacuum in inches of mercury from pascal."""
    return pascal / INHG


def from_inhg(inhg: Number) -> Number:
    """Pressure or vacuum in pascal from inches of mercury."""
    return inhg * INHG


def to_inch(meter: Number) -> Number:
    """Length in inches from meters."""
    return meter / INCH


def from_inch(inch: Number) -> Number:
    """Length in meters from inches."""
    return inch * INCH


def to_quart(cubic_meter: Number) -> Number:
    """Volume in US quarts from cubic meters."""
    return cubic_meter / QUART


def from_quart(quart: Number) -> Number:
    """Volume in cubic meters from US quarts."""
    return quart * QUART


def to_mph(meter_per_second: Number) -> Number:
    """Road speed in miles per hour from meters per second."""
    return meter_per_second * 3600.0 / MILE


def from_mph(mph: Number) -> Number:
    """Road speed in meters per second from miles per hour."""
    return mph * MILE / 3600.0


def to_fahrenheit(kelvin: Number) -> Number:
    """Temperature in degrees Fahrenheit from kelvin."""
    return FAHRENHEIT_STEPS * (kelvin - ZERO_CELSIUS) + 32.0


def from_fahrenheit(fahrenheit: Number) -> Number:
    """Temperature in kelvin from degrees Fahrenheit."""
    return (fahrenheit - 32.0) / FAHRENHEIT_STEPS + ZERO_CELSIUS


def to_rpm(radian_per_second: Number) -> Number:
    """Turning speed in revolutions per minute from radians per second."""
    return radian_per_second / REV_PER_MINUTE


def from_rpm(rpm: Number) -> Number:
    """Turning speed in radians per second from revolutions per minute."""
    return rpm * REV_PER_MINUTE


# ---------------------------------------------------------------------- workshop or metric, for the eye
SYSTEMS = ("workshop", "metric")


class _Display(NamedTuple):
    """How a workshop unit is shown in metric: its unit there, and value * factor + offset."""

    unit: str
    factor: float
    offset: float = 0.0


METRIC = {
    "psi": _Display("kPa", PSI / 1000.0),
    "inHg": _Display("kPa", INHG / 1000.0),
    "qt": _Display("L", QUART * 1000.0),
    "in.": _Display("mm", INCH * 1000.0),
    "\u00b0F": _Display("\u00b0C", 1.0 / FAHRENHEIT_STEPS, -32.0 / FAHRENHEIT_STEPS),
    "mph": _Display("km/h", MILE / 1000.0),
    "mi": _Display("km", MILE / 1000.0),
    "lbf": _Display("N", POUND_FORCE),
}
_WORDS = {"mile": "mi", "miles": "mi", "quart": "qt", "quarts": "qt"}
_NUMBER = r"[\u2212-]?\d[\d,]*(?:\.\d+)?"
_MEASURED = re.compile(
    rf"(?:({_NUMBER})( to ))?({_NUMBER})([ \u00a0\u202f]?)("
    + "|".join(sorted((re.escape(unit) for unit in (*METRIC, *_WORDS)), key=len, reverse=True))
    + r")(?!\w)"
)
_SPELLED = {"a quart": "0.95 L", "the quart was full": "0.95 L were in", "a mile": "1.6 km"}


def metric_decimals(decimals: int, unit: str, system: str) -> int:
    """Decimals that show in `system` what `decimals` show of a workshop unit: never coarser, and at most ten times finer."""
    if not _converts(unit, system):
        return decimals
    return max(0, decimals + math.ceil(-math.log10(METRIC[unit].factor)))


def in_system(value: Number, unit: str, system: str, *, difference: bool = False) -> tuple[Number, str]:
    """(value, unit) as `system` ("workshop" or "metric") shows a value in a workshop unit; arrays work.

    difference: the value is a step between two readings, so that no zero point moves. Units that are the same everywhere
    (rpm, s, %, turns) come back as they are. Raises ValueError for an unknown system.
    """
    if not _converts(unit, system):
        return value, unit
    to = METRIC[unit]
    return value * to.factor + (0.0 if difference else to.offset), to.unit


def text_in_system(text: str, system: str) -> str:
    """`text` with every number that carries a workshop unit put in `system`: "at 60 mph" is "at 97 km/h" in metric."""
    if not _converts("psi", system):
        return text
    for words, metric in _SPELLED.items():
        text = re.sub(rf"\b{words}\b", metric, text)
    return _MEASURED.sub(_in_metric, text)


def _in_metric(found: re.Match[str]) -> str:
    first, to, second, gap, unit = found.groups()
    unit = _WORDS.get(unit, unit)
    numbers = (f"{_number_in_metric(first, unit)}{to}" if first else "") + _number_in_metric(second, unit)
    return f"{numbers}{gap or ' '}{METRIC[unit].unit}"


def _number_in_metric(text: str, unit: str) -> str:
    decimals = metric_decimals(len(text.partition(".")[2]), unit, "metric")
    value, _ = in_system(float(text.replace(",", "").replace("\u2212", "-")), unit, "metric")
    return f"{round(value, decimals) + 0.0:,.{decimals}f}".replace("-", "\u2212")


def _converts(unit: str, system: str) -> bool:
    """Whether a workshop unit looks different in `system`."""
    one_of("system", system, SYSTEMS)
    return system == "metric" and unit in METRIC
