"""Shifts of an electronic unit in time, what is learned of them, and how that is carried."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from electronic import changed

from course_lib.base import units
from course_lib.physics.handover import Handover
from course_lib.vehicle.adaptation import learn, learned
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.memory import new_memory
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.owner_day import driven_day
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shift_kinds import LIVED, shift_kind
from course_lib.vehicle.shifts_in_time import GOAL, ShiftScene, shifts_in_time
from course_lib.vehicle.unit_spec import draw_parameters, load_unit, nominal_parameters

UNIT = load_unit("E6")
HOT = units.from_fahrenheit(175.0)
NAMES = {kind: shift_kind(UNIT, kind).names for kind in ("up", "cold", "down", "coast", "rest")}
ELEMENT = dict(zip(UNIT.element_ids, range(len(UNIT.elements)), strict=True))
LC, HC, RC, SB, LB = (
    ELEMENT[f"{n}"]
    for n in ("low_clutch", "high_clutch", "reduction_clutch", "sun_brake", "low_reverse_brake")
)


def shifts(plant, sump=HOT, memory=None):
    condition = new_condition(len(plant.p.pump_displacement), UNIT)
    return shifts_in_time(plant, replace(condition, memory=memory or condition.memory), sump)


@cache
def sound():
    return shifts(changed())


# ---------------------------------------------------------------------- the shifts that are followed
def test_each_shift_exchanges_one_element_and_says_which():
    """As the apply chart has it: of each pair of gears one comes on and one lets go; from rest none lets go."""
    for kind in NAMES:
        each = shift_kind(UNIT, kind)
        gears = list(UNIT.gears.values())
        for k, name in enumerate(each.names):
            old, new = set(gears[each.old[k]]), set(gears[each.new[k]])
            assert {UNIT.element_ids[each.on[k]]} == new - old, name
            assert ({UNIT.element_ids[each.off[k]]} if each.off[k] >= 0 else set()) == old - new, name
    assert NAMES["up"] == ("1-2", "2-3", "3-4", "4-5", "5-6")
    assert NAMES["down"] == NAMES["coast"] == ("2-1", "3-2", "4-3", "5-4", "6-5")
    assert NAMES["cold"] == ("N-D", "1-2", "2-3") and NAMES["rest"] == ("N-D", "N-R")


def test_a_sound_vehicle_shifts_as_it_is_meant():
    """No flare, no tie-up worth the name, a slide of 0.35 to 0.60 s (spec sheet of the unit), hot and on a cold morning alike;
    N-D in 0.5 to 0.9 s, N-R in 0.7 to 1.1 s; hardly anything to learn."""
    for kind in LIVED:
        found = sound().of(kind)
        assert np.all(found.flare < 1.0) and np.all(found.tie_up < 0.05), kind
    slides = np.concatenate([sound().up.slide, sound().cold.slide[:, 1:]], 1)
    assert np.all((slides > 0.35) & (slides < 0.60))
    drive, reverse = (sound().rest.touch + sound().rest.slide)[0]
    assert 0.5 < drive < 0.9 and 0.7 < reverse < 1.1
    assert np.all(np.abs(sound().fill) < 1e-3)
    assert np.all(np.abs(units.to_psi(sound().pressure)) < 1.0)


@pytest.mark.parametrize("kind", ["down", "coast"])
def test_downshifts_and_coast_down_of_a_sound_vehicle_come_to_an_end(kind):
    scene = ShiftScene(changed(), new_condition(1, UNIT), HOT, 1.0, kind)
    found = scene.follow()
    assert np.all(found.slide < 1.5) and np.all(found.touch < 1.0)
    trace = scene.trace(np.linspace(0.0, 3.0, 50))
    np.testing.assert_allclose(trace[..., -1], -scene.turning.speed_gap, atol=1.0)


# ---------------------------------------------------------------------- what goes wrong in them
@pytest.mark.parametrize(
    "changes, element, late",
    [
        ({"element_clearance__sun_brake": 0.00236}, SB, 0.03),
        ({"element_leak__reduction_clutch": 4e-12}, RC, 0.002),
        ({"element_hole__high_clutch": 2.5e-6}, HC, 0.03),
        ({"solenoid_bore__pcd": 0.8}, RC, 0.02),
        ({"solenoid_lag__pce": 0.1}, SB, 0.05),
    ],
)
def test_what_fills_late_flares_and_asks_for_a_longer_fill_of_that_element_alone(changes, element, late):
    found = shifts(changed(**changes))
    asked = found.fill[0, 0] - sound().fill[0, 0]
    assert asked[element] > late
    assert np.all(np.abs(np.delete(asked, element)) < 0.2 * asked[element])
    comes = shift_kind(UNIT, "up").on == element
    assert np.all(
        found.up.slide[0, comes] + found.up.flare[0, comes] > (sound().up.slide + sound().up.flare)[0, comes]
    )


def test_a_fluid_sensor_that_reads_cold_fills_too_long_and_ties_up():
    """1 kohm in its wire: it believes cold fluid and holds the fill too long, so that both elements hold; all fills alike."""
    found = shifts(changed(wire_contact__wire_tft=1000.0))
    assert np.all(found.fill[0, 0, [LC, HC, RC, SB]] < -0.01)
    assert np.all(found.up.tie_up > sound().up.tie_up)


def test_weak_friction_slides_longer_in_every_shift_and_a_worn_bore_in_its_own():
    weak, bore = shifts(changed(wear_fluid_friction=0.7)), shifts(changed(solenoid_bore__pcd=0.5))
    assert np.all(weak.up.slide > 1.2 * sound().up.slide) and np.all(weak.pressure > units.from_psi(3.0))
    mine = shift_kind(UNIT, "up").on == RC
    assert np.all(bore.up.slide[0, mine] > 1.2 * sound().up.slide[0, mine])
    np.testing.assert_allclose(bore.up.slide[0, ~mine], sound().up.slide[0, ~mine], rtol=0.02)


def test_without_the_relay_nothing_is_shifted_and_the_lever_bangs():
    """F5: no upshift happens; from neutral all oil comes at once."""
    memory = new_memory(1, UNIT)
    memory.failed[0, 0, UNIT.control.code_ids.index("P0657")] = 1.0
    limp = shifts(changed(), memory=memory)
    assert not limp.up.slide.any() and not limp.up.heat.any()
    assert limp.rest.bump[0, 0] > 2.0 * sound().rest.bump[0, 0]


# ---------------------------------------------------------------------- learning
def test_what_is_learned_puts_the_shift_right():
    """With the change that is wanted, a worn bore and a loose brake shift as they are meant."""
    for changes in ({"solenoid_bore__pcd": 0.15}, {"element_clearance__sun_brake": 0.0014}):
        plant = changed(**changes)
        bad = shifts(plant)
        memory = replace(new_memory(1, UNIT), fill=bad.fill, pressure=bad.pressure)
        good = shifts(plant, memory=memory)
        np.testing.assert_allclose(good.up.slide, sound().up.slide, atol=0.03)
        assert np.all(good.up.flare < 1.0)
        np.testing.assert_allclose(good.fill, bad.fill, atol=1e-3)


def test_learning_follows_the_exponential_and_any_step_is_worth_two_halves():
    plant = changed(3)
    p, rng = plant.p, np.random.default_rng(2)
    start = new_memory(3, UNIT)
    wanted = 0.03 * rng.random(start.fill.shape), 5e4 * rng.random(start.pressure.shape)
    yes = np.array([[True], [True], [False]])
    for miles in (0.0, 3.0, 50.0, 4000.0):
        step = np.full((3, 1), miles * units.MILE)
        one = learn(p, start, wanted, yes, step)
        two = learn(p, learn(p, start, wanted, yes, 0.5 * step), wanted, yes, 0.5 * step)
        np.testing.assert_allclose(one.fill, two.fill, rtol=1e-9)
        np.testing.assert_allclose(one.pressure, two.pressure, rtol=1e-9)
        share = 1.0 - np.exp(-step / p.control_learn)[:2, :, None]
        np.testing.assert_allclose(one.fill[:2], share * wanted[0][:2], rtol=1e-9)
        assert not one.fill[2].any() and not one.pressure[2].any()


def test_after_ten_times_its_length_it_has_learned_what_it_wants_within_the_limits():
    plant = changed()
    p, memory = plant.p, new_memory(1, UNIT)
    wanted = np.full_like(memory.fill, 0.5), np.full_like(memory.pressure, -1e6)
    for _ in range(10):
        memory = learn(p, memory, wanted, np.array([[True]]), p.control_learn)
    fill, pressure = learned(p, memory)
    np.testing.assert_allclose(fill, p.control_fill_most[0, 0], rtol=1e-4)
    np.testing.assert_allclose(pressure, p.control_pressure_least[0, 0], rtol=1e-4)
    assert np.all(fill <= p.control_fill_most) and np.all(pressure >= p.control_pressure_least)


def test_what_was_learned_of_old_plates_binds_and_is_unlearned():
    """A start value, not a fault that stays: at once the fills are 45 ms too long; when all is learned, as they were meant."""
    plant = changed(control_stale_fill=0.045, control_stale_pressure=units.from_psi(15.0))
    first = shifts(plant)
    assert np.all(first.up.tie_up > sound().up.tie_up + 0.005)
    memory = learn(
        plant.p, new_memory(1, UNIT), (first.fill, first.pressure), np.array([[True]]), np.array([[1e7]])
    )
    for mine, should in zip(learned(plant.p, memory), (first.fill, first.pressure), strict=True):
        np.testing.assert_allclose(mine, should, atol=1e-6 + 1e-3 * np.abs(should).max())


# ---------------------------------------------------------------------- as part of the day
def test_the_day_has_each_shift_at_the_gear_it_leads_to():
    """Slide and heat stand at the element that comes on; cold where the fluid is cold; a hydraulic unit has none of it."""
    plant, day = changed(), duty_cycle("mixed", UNIT)
    driven = driven_day(plant, new_condition(1, UNIT), day)
    work, gears = driven.work, list(UNIT.gears)
    for point in range(len(day.names)):
        gear = gears[work.gear[0, point]]
        if gear in UNIT.levers["D"][1:]:
            place = UNIT.levers["D"].index(gear) - 1
            column = shift_kind(UNIT, "up").on[place]
            cold = np.isfinite(day.op.temperature[point])
            found = driven.shifts.cold if cold else driven.shifts.up
            place = place + 1 if cold else place
            assert work.slide[0, point, column] == found.slide[0, place]
            assert work.shift_heat[0, point].sum() == found.heat[0, place]
            assert np.count_nonzero(work.slide[0, point]) == 1
    t4 = load_unit("T4")
    plain = driven_day(
        Plant(t4, nominal_parameters(t4, signal="cable")), new_condition(1, t4), duty_cycle("mixed", t4)
    )
    assert plain.shifts is None and plain.work.slide.any()


def test_vehicles_in_a_batch_shift_as_they_do_alone():
    parameters = draw_parameters(UNIT, np.random.default_rng(4), 6, signal="electronic")
    whole = shifts(Plant(UNIT, parameters))
    alone = shifts(Plant(UNIT, {name: value[4:5] for name, value in parameters.items()}))
    for name in Handover._fields:
        np.testing.assert_allclose(
            getattr(alone.up, name), getattr(whole.up, name)[4:5], rtol=1e-6, atol=1e-9
        )
    assert GOAL == pytest.approx(np.median(whole.up.slide), rel=0.15)
