"""Demonstrations of the lesson on the converter: what it makes of the engine's push, and the heat of a stall."""

import pytest

from course_lib.lessons.converter_demos import push, stall_heat


def column(table, at: int) -> list[float]:
    return [float(row[at].split()[0]) for row in table.rows]


def test_a_sound_converter_multiplies_at_rest_and_a_free_stator_does_not():
    """Light-duty converters give 1.8 to 2.5 times the push at stall and 1 past the coupling point (SAE J643, from memory)."""
    table = push("sound_truck", "hop_truck")
    sound, free = column(table, 1), column(table, 2)
    assert 180 <= sound[0] <= 250 and sound == sorted(sound, reverse=True) and sound[-1] == 100
    assert all(100 <= one <= other for one, other in zip(free, sound, strict=True))
    assert free[0] < (100 + sound[0]) / 2


def test_heat_of_a_stall_grows_with_the_seconds_and_is_large():
    """Energy balance: all power of the engine goes into the oil, so twice the time makes twice the heat."""
    two, five, ten = column(stall_heat(2, 5, 10), 1)
    assert two < five < ten and ten == pytest.approx(2 * five, abs=1.5)
    assert 10 < five < 100


def test_what_is_not_there_is_refused():
    with pytest.raises(ValueError, match="vehicle must"):
        push("no_such_truck")
    with pytest.raises(ValueError, match="seconds must"):
        stall_heat(90)
