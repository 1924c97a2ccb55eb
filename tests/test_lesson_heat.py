"""Demonstration of the lesson on heat: how long a fluid lasts."""

import pytest

from course_lib.lessons.fluid_life_demos import fluid_life


def miles(*fahrenheit: float) -> list[float]:
    return [float(row[1].replace(",", "")) for row in fluid_life(*fahrenheit).rows]


def test_twenty_degrees_halve_the_life_of_a_fluid():
    """100,000 miles at 175 °F, half for every 20 °F: the chart of the trade (common practice, no source)."""
    cool, warm, hot = miles(175, 195, 235)
    assert cool == pytest.approx(100_000, rel=0.05)
    assert warm == pytest.approx(cool / 2, rel=0.05) and hot == pytest.approx(cool / 8, rel=0.1)


def test_a_temperature_of_no_sump_is_refused():
    with pytest.raises(ValueError, match="temperature must"):
        fluid_life(800)
