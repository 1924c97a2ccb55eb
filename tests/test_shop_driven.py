"""What a vehicle that hardly drives is not asked, what nobody drives, and whether the bay meets again what the owner said.

Common practice, no source, unless a source stands beside the check.
"""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from electronic import changed
from test_shop_rules import refused, vehicle

from course_lib.base import units
from course_lib.shop import level_setting, mobility, road_test
from course_lib.shop.complaint_check import all_complaints, check_complaint_met, confirmed_by
from course_lib.shop.findings import all_inspections
from course_lib.shop.inspect import make_inspection, make_inspections
from course_lib.shop.order import check_allowed, made_safely
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.vehicle.felt_troubles import felt_troubles
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.unit_spec import load_unit

NO_PUMP = {"pump_drive": 0.002}


def offered(subject):
    """The inspections that a unit with its kind of control is offered."""
    return [step for step in all_inspections().values() if subject.unit.kind_of_control in step.controls]


def readings(subject, name):
    """Key -> reading of one inspection."""
    return {each.key: each for each in make_inspection(subject, name).readings}


# ---------------------------------------------------------------------- a vehicle that does not drive
def test_a_vehicle_without_oil_is_not_driven():
    """Broken drive lugs leave no pressure: no road speed is reached, so nothing is read at one, and no hour is driven."""
    subject = vehicle(**NO_PUMP)
    road, governor = readings(subject, "road_test"), readings(subject, "governor_pressure")
    for key in (
        "shift_12_full_mph",
        "shift_23_light_mph",
        "downshift_21_mph",
        "kickdown_32_mph",
        "road_third_hill_slip_rpm",
    ):
        assert road[key].value is None and road[key].note == "not reached", key
    assert road["road_first_hard_slip_rpm"].value > 500 and "stands" in road["road_first_hard_slip_rpm"].note
    assert governor["governor_pressure_0_psi"].value is not None
    assert all(governor[f"governor_pressure_{mph}_psi"].found_text == "not reached" for mph in (20, 40, 60))
    assert readings(subject, "fluid_hot")["level_hot_in"].note.startswith("not reached")
    cooler = readings(subject, "cooler_check")
    for key in ("sump_temp_f", "cooler_drop_f", "line_pressure_d_owner_hot_psi"):
        assert cooler[key].value is None and "not driven" in cooler[key].note


@pytest.mark.parametrize("name", [s.id for s in offered(vehicle()) if s.drive_minutes])
def test_what_is_not_driven_is_not_paid_for(name):
    """The minutes of the drive are spent by a sound vehicle only."""
    step = all_inspections()[name]
    assert make_inspection(vehicle(), name).minutes == step.minutes
    assert make_inspection(vehicle(**NO_PUMP), name).minutes == step.minutes - step.drive_minutes > 0


def test_an_hour_is_driven_by_what_holds_and_counts_as_an_hour():
    """A quarter of the grip slips in every day's driving: it may be tried, and is not driven for an hour."""
    weak = vehicle(wear_friction=0.04)
    assert mobility.burns(weak).all() and not mobility.burns(vehicle()).any()
    assert "slip" in readings(weak, "cooler_check")["sump_temp_f"].note
    assert all_inspections()["cooler_check"].drive_minutes == 60


def test_on_a_lift_less_is_enough():
    """What does not move the vehicle can still turn free wheels; nothing that fails on a lift drives on the road."""
    shares = np.linspace(0.0, 1.0, 6)
    for share in shares:
        subject = vehicle(vehicle_shaft=share)
        road, lift = (mobility.gives_out(subject, lifted=lifted)["D"] for lifted in (False, True))
        assert lift >= road
    assert mobility.gives_out(vehicle(vehicle_shaft=0.0), lifted=True)["D"] == 0.0


def test_a_sound_vehicle_reaches_highway_speed_and_a_dragging_one_does_not():
    """Force at the wheels against rolling and air: by hand 0.015 x 2,050 kg x 9.81 + 0.75 x 29.1^2 = 936 N at 65 mph."""
    held = mobility.ROLLING * 2050 + mobility.AIR_DRAG * units.from_mph(65.0) ** 2
    assert held == pytest.approx(935, abs=3)
    assert np.isinf(mobility.gives_out(vehicle())["D"]).all()
    assert mobility.gives_out(vehicle(vehicle_brake_drag=2.0e4))["D"] == 0.0


def test_an_eased_pedal_lets_a_late_governor_shift_up():
    """Half of the governor's pressure leaks away: with the pedal on the floor first ends before second comes. Eased, it shifts."""
    late = vehicle(governor_leak=0.45)
    sixty = units.from_mph(60.0)
    assert mobility.gives_out(late, floored=True)["D"] < late.plant.controls.upshift_speeds(1.0)[0, 0]
    assert mobility.reached(late, "D", sixty).all() and mobility.reached(late, "D", sixty, lifted=True).all()
    assert readings(late, "road_test")["shift_12_full_mph"].found_text == mobility.NOT_REACHED
    assert readings(late, "road_test")["shift_23_light_mph"].value > 30.0
    assert readings(late, "governor_pressure")["governor_pressure_60_psi"].verdict == "below spec"


def test_a_mechanic_helps_himself_where_an_owner_stands():
    """Rollers of first gone: D does not pull away. Manual 1 holds on its band, and at speed D is seen to hold second and third."""
    broken = vehicle()
    broken.condition.holding[..., broken.unit.element_ids.index("low_one_way_clutch")] = 1.0
    thirty = units.from_mph(30.0)
    assert (
        not mobility.reached(broken, "D", thirty).any()
        and mobility.reached(broken, "D", thirty, by_hand=True).all()
    )
    found = readings(broken, "road_test")
    assert found["road_first_hard_slip_rpm"].verdict == "above spec"
    for key in ("road_manual_1_slip_rpm", "road_second_pull_slip_rpm", "road_third_hill_slip_rpm"):
        assert found[key].verdict == "within spec", key


# ---------------------------------------------------------------------- as the owner drives
def test_what_only_the_owner_meets_is_met_on_his_roads():
    """Fluid that bends uncover slips at his places, and the place is said; cold troubles are met where he sets off cold."""
    low = readings(vehicle(sump_charge=7.6e-3), "road_test")["owner_slip_rpm"]
    assert low.verdict == "above spec" and low.note
    hard = vehicle(element_seal_set=1.0)
    warm, cold = readings(hard, "road_test"), readings(hard, "cold_start")
    assert warm["owner_wait_s"].value < cold["morning_wait_s"].value


def test_the_trailer_is_on_when_the_owner_drives():
    """A trailer makes the owner's places worse; the moves of the shop are driven without it."""
    more = []
    for grip in (0.085, 0.09, 0.095, 0.1):
        light, heavy = (
            readings(vehicle(vehicle_trailer=kg, wear_friction=grip), "road_test") for kg in (0, 1500)
        )
        more.append(
            [heavy[key].value - light[key].value for key in ("owner_slip_rpm", "road_first_hard_slip_rpm")]
        )
    owner, shop = np.max(more, axis=0)
    assert owner > 100 > 3 * shop


# ---------------------------------------------------------------------- what nobody drives
UNFIT = {
    "over": (vehicle(sump_charge=11.3e-3), "from FULL"),
    "under": (vehicle(sump_charge=7.0e-3), "from FULL"),
    "foam": (vehicle(pump_suction_gap=6e-6), "foams"),
    "smoke": (vehicle(leak_engine_draws=2e-9), "smokes"),
}
DRIVEN = [s.id for s in offered(vehicle()) if s.drive_minutes and s.id not in ("fluid_hot", "set_level")]


@pytest.mark.parametrize("why", UNFIT)
@pytest.mark.parametrize("name", DRIVEN)
def test_what_nobody_drives_is_refused_with_what_to_do(why, name):
    """Foam, smoke and a level far off forbid every drive; the reason is said and the inspection that stands in its place."""
    subject, reason = UNFIT[why]
    done = [
        make_inspection(subject, each) for each in ("walk_round", "fluid_hot", *all_inspections()[name].needs)
    ]
    said = refused(name, done)
    assert reason in said and all_inspections()["set_level"].title in said
    check_allowed("set_level", done)


def test_a_level_near_the_mark_forbids_nothing():
    """Half an inch is topped up, not refused."""
    subject = vehicle(sump_charge=9.0e-3)
    for name in DRIVEN:
        check_allowed(name, [make_inspection(subject, each) for each in ("walk_round", "fluid_hot")])


@pytest.mark.parametrize("quarts", [-2.0, -1.2, 1.5, 2.0])
def test_setting_the_level_gives_back_what_is_wrong(quarts):
    """What is filled or drawn off to FULL is what was short or too much, and sets the trouble right where the level was all."""
    subject = vehicle(sump_charge=9.46e-3 + units.from_quart(quarts))
    found = readings(subject, "set_level")
    assert found["level_set_qt"].value == pytest.approx(-quarts, abs=0.35)
    assert found["set_slip_rpm"].verdict == "within spec"
    assert level_setting.indicated(level_setting.with_level_set(subject)) == pytest.approx(0.0, abs=1e-3)


def test_a_sound_vehicle_has_nothing_to_set():
    """No reading is taken where there is no reason to, and the sentence says so."""
    finding = make_inspection(vehicle(), "set_level")
    assert finding.readings == () and "nothing to set" in finding.words[0]
    low = make_inspection(vehicle(sump_charge=9.46e-3 - units.from_quart(1.2)), "set_level")
    assert low.readings and not any("nothing to set" in words for words in low.words)


def test_a_wrong_level_indicator_is_believed():
    """An indicator that reads an inch low has too much filled in, and the foam comes with it."""
    subject = vehicle(sump_gauge_offset=-0.030)
    right = level_setting.with_level_set(subject)
    assert readings(subject, "set_level")["level_set_qt"].value > 1.0
    assert mobility.foam(right) > mobility.foam(subject)


# ---------------------------------------------------------------------- the complaint, met again
def test_every_trouble_has_what_confirms_it():
    """The table speaks of the troubles of `felt`, and every key in it is one that some inspection gives."""
    subject = vehicle()
    unit = load_unit("E6")
    electronic = Subject(changed(), new_condition(1, unit), "electronic", "mixed")
    assert set(all_complaints()) == {
        trouble
        for each in (subject, electronic)
        for trouble in felt_troubles(each.plant, each.condition, each.driving, "mixed")
    }
    sound = make_inspections(subject).values()
    for trouble in all_complaints():
        assert confirmed_by(trouble, sound) == (), trouble
    with pytest.raises(
        ValueError, match="trouble must be a name from the list, got 'slipping'. Did you mean 'slips'"
    ):
        confirmed_by("slipping", sound)


MET = {
    "slips": {"wear_friction": 0.06},
    "flares": {"element_feed_area": 2e-6},
    "harsh": {"line_spring": 1.6},
    "weak": {"engine_health": 0.4},
    "delays": {"sump_night_drain": 2e-3},
    "binds": {"element_crossfeed_case": 0.3},
    "judders": {"element_hot_spots": 1.0},
    "hot": {"heat_cooler_air": 0.04},
    "buzz": {"pump_suction_gap": 3e-6},
    "smoke": {"leak_engine_draws": 2e-9},
    "drip": {"leak_outside": 3e-9},
    "knocks": {"vehicle_lash": 0.15},
    "drags": {"vehicle_brake_drag": 900.0},
    "late": {"signal_hose_leak": 0.7},
    "early": {"governor_stuck": units.from_psi(35.0)},
    "no_kickdown": {"signal_kickdown": 0.0},
    "rolls_off": {"lever_park_short": 0.6},
    "no_start": {"lever_switch_off": 0.2},
}


@pytest.mark.parametrize("trouble", MET)
def test_a_trouble_is_met_again(trouble):
    """A vehicle made for it shows it in a finding that a careful mechanic gets; a sound one does not."""
    subject = vehicle(**MET[trouble])
    assert (
        float(felt_troubles(subject.plant, subject.condition, subject.driving, "mixed")[trouble][0, 0]) > 0.6
    )
    assert confirmed_by(trouble, made_safely(make_inspections(subject)))


def test_what_the_owner_says_confirms_nothing():
    """Talk is not met again by talk."""
    talk = make_inspection(vehicle(troubles={"slips": 5.0}), "interview")
    assert confirmed_by("slips", [talk]) == ()


def test_a_vehicle_whose_complaint_is_not_met_is_no_case():
    """A sound vehicle of which somebody says that it slips is refused, with the trouble; one that slips is not."""
    said = {"troubles": {"slips": 3.0}}
    check_complaint_met(slips := vehicle(**said, wear_friction=0.06), make_inspections(slips))
    with pytest.raises(ValueError, match="met again in the bay, got 'slips' of strength 3.0 in mixed use"):
        check_complaint_met(sound := vehicle(**said), make_inspections(sound))


# ---------------------------------------------------------------------- what nobody can ask
ASKED_WRONG = {
    "a lever that is none": (AskedPoint("L"), "lever must be a name from the list, got 'L'"),
    "a pedal in percent": (
        AskedPoint("D", throttle=30.0),
        "throttle must be between 0 and 1, got .*shares of the pedal",
    ),
    "a signal in psi": (AskedPoint("P", signal=60.0), "signal must be between 0 and 1"),
    "a sump in Celsius": (
        AskedPoint("P", temperature=80.0),
        "temperature must be between 230 and 480, got .*in K",
    ),
    "a road speed in mph": (
        AskedPoint("D", road_speed=65.0),
        "road_speed must be between 0 and 60, got .*in m/s",
    ),
}


@pytest.mark.parametrize("what", ASKED_WRONG)
def test_a_point_that_no_vehicle_can_be_asked_for_is_refused(what):
    """What a person or a data file gets wrong is said where it comes in, with what was expected."""
    point, reason = ASKED_WRONG[what]
    with pytest.raises(ValueError, match=reason):
        vehicle().at([point])


def test_a_move_that_cannot_be_driven_is_refused_when_the_data_are_read():
    """A pedal past the floor in the data file of the road test is named."""
    row = {"key": "x", "label": "x", "lever": "D", "gear": "first", "pedal": 75, "mph": 7, "tilt": 0.1}
    with pytest.raises(msgspec.ValidationError, match="<= 1.0"):
        msgspec.convert(row, road_test.Move)


# ---------------------------------------------------------------------- bores, end play, dye
def test_worn_bores_lose_vacuum_and_only_they():
    """22 inHg in a sound bore; 18 is the usual limit of vacuum tests of valve bodies, from memory."""
    keys = ("bore_vacuum_regulator_inhg", "bore_vacuum_boost_inhg", "bore_vacuum_governor_inhg")
    ways = ({"line_body_leak": 5.2e-13 * 3.0}, {"line_reverse_share": 0.4}, {"governor_leak": 0.4})
    for worn, way in zip(keys, ways, strict=True):
        found = readings(vehicle(**way), "valve_body")
        assert [key for key in keys if found[key].verdict == "below spec"] == [worn]
    assert all(readings(vehicle(), "valve_body")[key].verdict == "within spec" for key in keys)


def test_end_play_follows_the_thrust_washers():
    """Washers that are scored leave more play than 0.035 in., the usual upper limit (common practice, no source)."""
    play = [measured_with(planetary=wear)["end_play_in"] for wear in (0.0, 0.25, 0.6)]
    assert [each.verdict for each in play] == ["within spec", "within spec", "above spec"]


def measured_with(**worn):
    """What is measured on a vehicle with some wear."""
    subject = vehicle()
    for name, value in worn.items():
        getattr(subject.condition, name)[:] = value
    return readings(subject, "measure")


def test_dye_shows_a_leak_that_is_only_damp():
    """A leak of less than a tenth of a quart in 1,000 miles looks dry and glows; each joint by itself."""
    leak = float(units.from_quart(0.06) / (1000.0 * units.MILE))
    for where in ("outside", "front"):
        subject, key = vehicle(**{f"leak_{where}": leak}), {"outside": "rear", "front": "front"}[where]
        wet, dye = (
            {k.key: k.grade for k in make_inspection(subject, n).looks} for n in ("walk_round", "dye_test")
        )
        assert wet[f"wet_{key}"] == 0
        assert {name for name, grade in dye.items() if grade} == {f"dye_{key}"}


RUNS = ("engine_check", "fluid_cold", "fluid_hot", "dye_test", "signal_check", "signal_by_hand", "exhaust_pressure", "cold_start",
        "driveline_check", "line_pressure", "governor_pressure", "stall_test", "cooler_check")  # fmt: skip


def test_exhaust_gas_is_named_wherever_an_engine_runs_and_labels_wherever_fluid_is_let_out():
    """Exhaust led outside; used oil in a closed, labeled can, apart from solvent (40 CFR 279, from memory)."""
    caution = {name: step.caution for name, step in all_inspections().items()}
    assert all("Exhaust gas kills" in caution[name] for name in RUNS)
    assert all(
        "labeled can" in caution[name]
        for name in ("pan", "fluid_tests", "set_level", "valve_body", "bare_case")
    )
    assert (
        "twice the speed" in caution["governor_pressure"]
        and "never brake hard" in caution["governor_pressure"]
    )
