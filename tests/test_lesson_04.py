"""Demonstrations of lesson 4: shapes of line pressure over engine speed, where the oil goes, rows of several inspections."""

import re

import pytest

from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.line_pressure_demos import line_sweep, oil_budget
from course_lib.lessons.readings_across import across
from course_lib.lessons.vehicles import inspect_vehicle

RPM = (650, 1000, 1500, 2000, 2500)


def dots(vehicle: str) -> list[float]:
    """Line pressure in Park over engine speed, as the picture tells it in words."""
    return [float(n) for n in re.findall(r"rpm: (\d+)\u202fpsi", line_sweep(vehicle).alt)]


def test_the_picture_shows_what_the_gauge_shows():
    """Five dots a vehicle, the readings of the same inspection, and the vehicle's name beside them."""
    readings = {
        r.key: r for r in inspect_vehicle(load_lesson("L04").vehicles["truck_a"], "line_pressure").readings
    }
    keys = [f"line_pressure_p_{at}_psi" for at in ("idle", 1000, 1500, 2000, 2500)]
    assert dots("truck_a") == [round(readings[key].value) for key in keys]
    assert "truck A" in line_sweep("truck_a").alt and len(dots("truck_a")) == len(RPM)


def test_the_shapes_differ_as_the_trade_says():
    """Worn pump climbs, blocked filter sinks, slack regulator stays low (common practice, no source)."""
    worn, blocked, slack, sound = (dots(name) for name in ("truck_a", "truck_c", "truck_b", "healthy"))
    assert worn[0] < 0.75 * sound[0] and worn[3] > 0.9 * sound[3]
    assert blocked[0] > 0.9 * sound[0] and blocked[4] < 0.5 * sound[4]
    assert max(slack) < 0.75 * min(sound) and max(slack) - min(slack) < 0.15 * min(slack)
    assert max(sound) - min(sound) < 0.15 * min(sound)


def test_a_worn_pump_runs_out_and_a_slack_regulator_gives_away():
    """At idle one spills nothing and the other nearly all; what the pump brings goes with speed (size times turns)."""
    rows = [tuple(float(cell) for cell in row[1:]) for row in oil_budget("truck_a", "truck_b").rows]
    (a_slow, a_fast), (b_slow, b_fast) = rows[:2], rows[2:]
    assert a_slow[1] == 0 and a_fast[1] > 0
    assert b_slow[1] > 0.7 * b_slow[0] and b_fast[1] > 0.9 * b_fast[0]
    for slow, fast in ((a_slow, a_fast), (b_slow, b_fast)):
        assert fast[0] / slow[0] == pytest.approx(2000 / 650, rel=0.1)
    for brought, spilled, leaked in rows:
        assert brought == pytest.approx(spilled + leaked, abs=1.01)  # each is rounded


def test_the_pump_brings_its_size_times_its_turns():
    """22 cm3 a turn at 650 rpm are 14.3 L/min or 15.1 qt/min (worked by hand); slip inside the pump counts as a leak."""
    (row,) = oil_budget("healthy", rpm=(650,)).rows
    assert float(row[1]) == pytest.approx(22e-6 * 650 / 9.4635e-4, rel=0.05)


def test_rows_of_several_inspections_stand_in_one_table():
    """The order of the rows is kept, and what is out of spec is said in words and marked."""
    table = across(
        "L04",
        ["truck_b", "truck_b_after"],
        "line_pressure/line_pressure_p_idle_psi",
        "road_test/road_first_hard_slip_rpm",
    )
    assert [row[0].split(",")[0] for row in table.rows] == ["Line pressure", "Slips by"]
    assert table.heads[2:] == ("truck B", "truck B, new pump")
    assert table.off == {(0, 2), (0, 3), (1, 2), (1, 3)}
    assert all("spec" in table.rows[at][column] for at, column in table.off)


@pytest.mark.parametrize(
    "call",
    [
        lambda: line_sweep("truck_z"),
        lambda: oil_budget("truck_z"),
        lambda: oil_budget("truck_a", rpm=(10,)),
        lambda: across("L04", ["truck_z"], "line_pressure/line_pressure_p_idle_psi"),
        lambda: across("L04", ["truck_a"], "line_pressure_p_idle_psi"),
        lambda: across("L04", ["truck_a"], "line_pressure/line_pressure_q_psi"),
    ],
)
def test_what_is_not_there_is_refused(call):
    """An unknown vehicle, reading or engine speed is named, with what to do."""
    with pytest.raises(ValueError, match="must be"):
        call()
