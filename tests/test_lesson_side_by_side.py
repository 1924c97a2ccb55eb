"""The calls of lessons that compare: what they show comes from the apply chart and from the vehicles, not from words typed in."""

from __future__ import annotations

import pytest

from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.side_by_side import (
    ASKED,
    HELD,
    HELD_LESS,
    LESS_LIKELY,
    OPEN,
    SUSPECT,
    noticed,
    route,
    suspects,
)
from course_lib.lessons.vehicles import LessonVehicle, inspect_vehicle
from course_lib.shop.apply_chart import applied
from course_lib.shop.holders import pressed
from course_lib.vehicle.unit_spec import load_unit

RANGES = ("first", "second", "third", "manual_2", "manual_1", "reverse")


def standing(**given) -> dict[str, str]:
    return {row[0]: row[3] for row in suspects("T3", **given).rows}


@pytest.mark.parametrize("unit", ["T3", "T4"])
def test_route_asks_every_element_and_no_move_asks_them_all(unit):
    """A road test that leaves an element out cannot clear it; common practice, no source."""
    table = route(unit)
    assert all(ASKED in column for column in list(zip(*table.rows, strict=True))[1:])
    assert all(set(row[1:]) != {ASKED} for row in table.rows)


# What a lost element of a three-speed unit with two equal sets takes with it: TM 9-8000, chapter 23 (from memory).
LOST = {
    "direct clutch": ("third", "reverse"),
    "low one-way clutch": ("first",),
    "intermediate band": ("second", "manual_2"),
    "forward clutch": ("first", "second", "third", "manual_2", "manual_1"),
}


@pytest.mark.parametrize("element", LOST)
def test_the_lost_element_is_the_one_suspect(element):
    """Whatever pulls speaks for its parts, and one is left that held nowhere."""
    slips = LOST[element]
    found = standing(holds=[name for name in RANGES if name not in slips], slips=slips)
    assert [name for name, now in found.items() if now == SUSPECT] == [element]


def test_a_missing_third_with_a_sound_reverse_is_first_a_matter_of_command():
    """Reverse asks more of the direct clutch than third: 1.00 of the torque over 1.55 times the pressure, against 0.31."""
    table = suspects("T3", holds=["first", "second", "reverse"], missing=["third"])
    assert not table.off and "commands" in table.caption
    (row,) = (row for row in table.rows if row[0] == "direct clutch")
    assert row[2] == "R (2.1 times as much)" and row[3] == LESS_LIKELY


def test_holding_with_less_on_it_leaves_a_part_under_suspicion():
    """Third puts half as much on the direct clutch as reverse does, each for its pressure: a good third does not clear it."""
    found = standing(holds=["first", "second", "third"], slips=["reverse"])
    assert found["direct clutch"] == HELD_LESS and found["low-reverse band"] == SUSPECT


def test_no_part_that_slips_is_ever_struck_off():
    """A leak at the check ball of the direct clutch is out of spec in third and not in reverse, though reverse asks more of that
    clutch: whatever holds and slips, the part stays on the list of those that work in what fails.
    """
    vehicle = LessonVehicle(cause="direct_check_ball_leak", severity=0.5, miles=20)
    read = {r.key: r.verdict for r in inspect_vehicle(vehicle, "road_test").readings}
    assert read["flare_23_rpm"] == "above spec" and read["road_reverse_ramp_slip_rpm"] == "within spec"
    table = suspects("T3", holds=["first", "second", "reverse"], slips=["third"])
    (row,) = (row for row in table.rows if row[0] == "direct clutch")
    assert row[3] == LESS_LIKELY and "none" not in table.caption and "circuit pressure" in table.caption
    for element, ranges in LOST.items():
        for count in range(len(RANGES)):
            held = [name for name in RANGES[:count] if name not in ranges[:1]]
            assert standing(holds=held, slips=ranges[:1])[element] not in (HELD, OPEN)


def test_what_another_part_can_stand_in_for_is_not_spoken_for():
    """Manual 1 pulls on either the band or the one-way clutch, so it speaks for neither."""
    found = standing(holds=["manual_1"], slips=["first"])
    assert found["forward clutch"] == LESS_LIKELY and found["low one-way clutch"] == SUSPECT


def test_a_range_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="range must be"):
        suspects("T3", holds=["fourth"], slips=[])


def test_looks_come_from_the_vehicles_one_column_each():
    """The strip turns with coolant and stays with river water; heads are the labels of the lesson."""
    table = noticed("L02", ["camper", "hay_truck"], "fluid_tests", "glycol", "water")
    labels = [load_lesson("L02").vehicles[name].label for name in ("camper", "hay_truck")]
    assert list(table.heads[1:]) == labels
    strip, plate = table.rows
    assert strip[1] != strip[2] and plate[1] == plate[2]


@pytest.mark.parametrize("names, inspection, key", [(["tram"], "pan", "magnet"), (["van"], "pan", "wings")])
def test_unknown_vehicles_and_looks_are_refused(names, inspection, key):
    with pytest.raises(ValueError, match="must be"):
        noticed("L02", names, inspection, key)


def test_the_twin_ties_up_in_second_and_the_broken_clutch_does_not():
    """A one-way clutch turned round locks where it should run free; what lesson 3 says in words."""
    (row,) = noticed("L03", ["pickup", "wagon"], "road_test", "bind_second").rows
    assert row[1] == "free" and row[2] != "free"


def burnt(name: str, *, least: int) -> set[str]:
    """Elements of a vehicle of lesson 8 whose lining is charred by so many steps or more."""
    looks = {
        look.key: look.grade for look in inspect_vehicle(load_lesson("L08").vehicles[name], "teardown").looks
    }
    stems = [holder.stem for holder in pressed(load_unit("T3"))]
    return {stem for stem in stems if looks[f"charred_{stem}"] >= least}


def test_rocking_burns_what_first_and_reverse_use_and_spares_the_rest():
    """The pattern that lesson 8 reads from the apply chart; common practice, no source."""
    unit = load_unit("T3")
    used = {
        holder.stem
        for gear in ("first", "reverse")
        for holder in pressed(unit)
        if applied(unit, gear)[holder.column]
    }
    assert burnt("snow_truck", least=3) == used


def test_a_band_set_without_room_burns_alone():
    assert burnt("bread_van", least=1) == {"intermediate"}


def test_the_clutch_that_comes_on_last_is_worst_where_the_push_is_short_under_load():
    assert burnt("hill_van", least=3) == {"direct"}


def test_new_linings_on_spotted_steels_shake_and_new_steels_cure_it():
    """The wrong road of lesson 8: the reading comes back, the shake stays, until the steels are new."""
    (shake,) = noticed("L08", ["wagon", "wagon_new", "wagon_right"], "road_test", "judder_23").rows
    assert shake[1] == shake[2] != shake[3] == "smooth"


def test_long_heat_hardens_rubber_and_a_minute_does_not():
    """How lesson 8 tells an event from a process; common practice, no source."""
    grades = {
        name: {
            look.key: look.grade
            for look in inspect_vehicle(load_lesson("L08").vehicles[name], "teardown").looks
        }
        for name in ("snow_truck", "old_truck")
    }
    assert grades["snow_truck"]["rubber_direct"] == 0 < grades["old_truck"]["rubber_direct"]
    stems = {holder.stem for holder in pressed(load_unit("T3"))}
    assert all(grades["old_truck"][f"rubber_{stem}"] >= 2 for stem in stems)
    assert "direct" in burnt("old_truck", least=2) < stems


def test_a_tow_hides_in_red_fluid():
    (color,) = noticed("L08", ["towed_car"], "pan", "color").rows
    (planet,) = noticed("L08", ["towed_car"], "teardown", "planet").rows
    assert color[1] == "clear bright red" and "blue" in planet[1]


def test_a_new_converter_does_not_stop_a_misfire():
    (shake,) = noticed("L11", ["bus", "bus_converter"], "road_test", "judder_steady").rows
    assert shake[1] == shake[2] != "smooth"


def test_old_dirt_outlives_every_part_of_the_unit_until_cooler_and_converter_are_done():
    vans = ["vet_van", "vet_second", "vet_flushed"]
    (dirt,) = noticed("L11", vans, "pan", "old_dirt").rows
    assert "older than any part" in dirt[1] and dirt[1] == dirt[2] and "nothing older" in dirt[3]


def test_a_new_seal_does_not_center_the_unit():
    """Dry at first, worn on one side again months later, unless the unit was set back on center."""
    trucks = ["log_truck", "log_truck_seal", "log_truck_centered"]
    (side,) = noticed("L11", trucks, "teardown", "bushing_side").rows
    (knock,) = noticed("L11", trucks, "road_test", "knock_idle").rows
    assert "one side" in side[1] and "one side" in side[2] and side[3] == "worn evenly"
    assert "knock" in knock[1] and "knock" in knock[2] and knock[3] == "quiet"
