"""Demonstrations of lesson 6: what an upshift waits for, and when the governor brings it."""

import numpy as np
import pytest

from course_lib.base import units
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.shift_speed_demos import PEDALS, balance, waited_for
from course_lib.lessons.vehicles import LessonVehicle, inspect_vehicle, subject
from course_lib.shop.mobility import NOT_REACHED


def cells(vehicle: str) -> list[list[str]]:
    """The rows of one vehicle, the first column left out."""
    label = load_lesson("L06").vehicles[vehicle].label
    return [list(row[1:]) for row in balance("healthy", vehicle).rows if row[0].startswith(label)]


def test_an_upshift_comes_where_the_governor_brings_what_it_waits_for():
    """On a sound unit, governor pressure at the shift speed is spring plus load: force balance of the valve."""
    plant = subject(LessonVehicle()).plant
    for pedal in PEDALS.values():
        speeds = plant.controls.upshift_speeds(pedal)[0]
        brought = [float(plant.controls.governor(np.array([[speed]]))[0, 0]) for speed in speeds]
        assert brought == pytest.approx(list(waited_for(plant, pedal)), rel=1e-6, abs=0.02 * units.PSI)


def test_a_leaking_ring_waits_for_the_same_and_gets_it_late():
    """Against the healthy unit: pressures alike, speeds higher, at every pedal."""
    for sound, sick in zip(cells("healthy")[:3], cells("sedan"), strict=True):
        assert sick[0::2] == sound[0::2]
        assert speed(sick[1]) > speed(sound[1]) and speed(sick[3]) > speed(sound[3])


def test_a_false_load_waits_for_more_except_at_full_pedal():
    """The load signal is at its end there (common practice, no source)."""
    sound, sick = cells("healthy")[:3], cells("bakery_van")
    assert [psi(row[0]) for row in sick[:2]] > [psi(row[0]) for row in sound[:2]]
    assert sick[2] == sound[2]


def test_what_is_late_is_marked_and_a_shift_that_never_comes_is_said():
    """Marks stand in the columns of road speed only, and never on the first vehicle, which the others are compared with."""
    table = balance("healthy", "sedan")
    assert table.off and all(row >= 3 and column in (2, 4) for row, column in table.off)
    assert table.rows[5][2] == NOT_REACHED and table.rows[5][4] == "no upshift"
    assert {(5, 2), (5, 4)} <= table.off


def test_the_curve_of_a_sound_governor_is_about_one_psi_for_a_mile_an_hour():
    """Common practice, no source: 20 psi within 3 at 20 mph, 55 to 60 at 60, nothing at rest."""
    read = {r.key: r.value for r in inspect_vehicle(LessonVehicle(), "governor_pressure").readings}
    assert read["governor_pressure_0_psi"] < 2
    assert read["governor_pressure_20_psi"] == pytest.approx(20, abs=3)
    assert 54 <= read["governor_pressure_60_psi"] <= 61


def test_an_unknown_vehicle_is_refused():
    """It is named, with the nearest that exists."""
    with pytest.raises(ValueError, match="must be"):
        balance("seden")


def psi(cell: str) -> float:
    """Number of a cell of pressure."""
    return float(cell.split()[0])


def speed(cell: str) -> float:
    """Number of a cell of road speed; infinite where the shift never comes, or later than the gear lasts."""
    return float("inf") if cell in ("no upshift", NOT_REACHED) else float(cell.split()[0])
