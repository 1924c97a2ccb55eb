"""Each thing that is wrong shows in its own readings and looks, by its size, and in no other: one thing moved at a time.

Where a reading follows from a size by units or simple geometry alone, it is worked out by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fnmatch import fnmatch
from functools import cache
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest

from course_lib.base import units
from course_lib.physics import fluid
from course_lib.shop import (
    complaint_check,
    controls,
    gauges,
    interview,
    level_setting,
    mobility,
    order,
    owner_drive,
    pan_off,
    road_feel,
    road_test,
    teardown,
    walk_round,
)
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, batch_looks
from course_lib.shop.findings import Finding, InspectionRefused, Look, Reading, all_inspections
from course_lib.shop.graded_scales import Scale, all_scales, grades, sentence
from course_lib.shop.inspect import make_inspections
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import AskedPoint, Subject, slip_until_lifted
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters, parameter_place

DIRECT = load_unit("T3").element_ids.index("direct_clutch")
STEPS = 3  # sound, half, whole
KINDS = {"T3 vacuum": ("T3", "vacuum"), "T3 cable": ("T3", "cable"), "T4 cable": ("T4", "cable")}


def vehicles(kind="T3 vacuum", wrong=(), worn=()) -> Subject:
    """Vehicles in which addresses `wrong` and entries of the condition `worn` come to nothing, half and whole of a size."""
    unit, signal = KINDS[kind]
    spec = load_unit(unit)
    parameters, condition = (
        nominal_parameters(spec, STEPS, signal=signal),
        new_condition(STEPS, spec),
    )
    shares = np.linspace(0.0, 1.0, STEPS)
    for address, value in dict(wrong).items():
        name, column = parameter_place(spec, address)
        here = (slice(None), 0) if column is None else (slice(None), 0, column)
        parameters[name][here] += shares * (value - parameters[name][here])
    for address, value in dict(worn).items():
        name, _, element = address.partition("@")
        entry = getattr(condition, name)
        columns = [spec.element_ids.index(element)] if element else slice(None)
        entry[(..., columns) if entry.ndim == 3 else slice(None)] = (shares * value).reshape(
            STEPS, *[1] * (entry.ndim - 1)
        )
    return Subject(Plant(spec, parameters), condition, signal, "mixed")


@cache
def found(kind, wrong=(), worn=()) -> dict[str, np.ndarray]:
    """Every reading and every value behind a look, by "inspection.key"."""
    every = inspect_population(vehicles(kind, wrong, worn))
    rows = [
        (name, each.key, each.value) for name, part in every.items() for each in (*part.measured, *part.seen)
    ]
    return {f"{name}.{key}": np.asarray(value, float) for name, key, value in rows}


def moved(kind, wrong=(), worn=()) -> dict[str, np.ndarray]:
    """Those that are not the same in all three."""
    every = found(kind, tuple(dict(wrong).items()), tuple(dict(worn).items()))
    return {
        key: value for key, value in every.items() if not np.allclose(value, value[0], rtol=1e-5, atol=1e-9, equal_nan=True)
    }  # fmt: skip


LEAK = 2e-10  # m3 a meter, a quart in about 3,000 miles
OWN = [
    ({"leak_outside": LEAK}, {}, "walk_round.wet_rear dye_test.dye_rear"),
    ({"leak_front": LEAK}, {}, "walk_round.wet_front dye_test.dye_front"),
    ({"leak_pan": LEAK}, {}, "walk_round.wet_pan dye_test.dye_pan"),
    ({"leak_selector": LEAK}, {}, "walk_round.wet_selector dye_test.dye_selector"),
    ({"leak_line": LEAK}, {}, "walk_round.wet_line dye_test.dye_line"),
    ({"leak_engine_draws": LEAK}, {}, "walk_round.smoke"),
    ({"lever_park_short": 0.6}, {}, "linkage_check.park pan.park_reach_in pan.park_pawl"),
    ({"lever_switch_off": 0.2}, {}, "linkage_check.switch_off_deg linkage_check.cranks"),
    ({"signal_kickdown": 0.9}, {}, "linkage_check.kickdown_travel_in linkage_check.kickdown"),
    (
        {"pump_offset": 4e-4},
        {},
        "road_test.knock_idle teardown.bushing_side converter_check.hub_runout_in converter_check.flexplate",
    ),
    (
        {"converter_plate_crack": 0.7},
        {},
        "road_test.knock_idle driveline_check.plate_hole converter_check.hub_runout_in converter_check.flexplate",
    ),
    ({"converter_bolts_loose": 0.7}, {}, "road_test.knock_load driveline_check.bolts_hole"),
    ({"sump_rail_bend": 1e-3}, {}, "pan.pan_rail_gap_in"),
    ({"pump_sand": 1.0}, {}, "pan.sand"),
    (
        {"wear_debris": 1.0},
        {},
        "fluid_tests.specks cooler_check.return_grit pan.aluminum pan.bronze pan.old_dirt valve_body.bore_scratches "
        "teardown.bushing_scored",
    ),
    ({"train_end_play": 3e-3}, {}, "measure.end_play_in"),
    ({"vehicle_lash": 0.2}, {}, "road_test.clunk driveline_check.joint_play_deg"),
    ({"heat_cooler_breach": 3e-8}, {}, "cooler_pressure.cooler_holds_psi cooler_pressure.coolant"),
    (
        {"sump_gauge_offset": 0.01},
        {},
        "fluid_cold.level_cold_in fluid_cold.level_engine_off_in fluid_hot.level_hot_in cold_start.level_morning_in "
        "pan.stick_length",
    ),
    (
        {"engine_misfire": 0.1},
        {},
        "engine_check.vacuum_swing_inhg engine_check.roughness cold_start.morning_judder road_test.owner_judder "
        "road_test.judder_steady",
    ),
    ({}, {"driveline": 0.8}, "road_test.clunk driveline_check.joint_play_deg"),
    (
        {},
        {"holding@direct_clutch": 0.5},
        "pan.steel pan.magnet teardown.drum_direct",
    ),
    (
        {"element_hot_spots@direct_clutch": 0.5},
        {},
        "road_test.owner_judder road_test.judder_r "
        "road_test.judder_23 teardown.spots_direct",
    ),
    (
        {"fluid_judder": 0.4},
        {},
        "fluid_tests.shade cold_start.morning_judder road_test.owner_judder road_test.judder_d road_test.judder_r "
        "road_test.judder_12 road_test.judder_23",
    ),
    ({"pump_new_clearance": 6e-5}, {}, "measure.pump_face_in"),
    (
        {},
        {"planetary": 0.8},
        "fluid_tests.specks road_test.whine_gears pan.bronze "
        "pan.steel teardown.planet teardown.thrust measure.end_play_in",
    ),
    (
        {},
        {"lockup": 0.8},
        "fluid_cold.color fluid_cold.smell fluid_hot.color fluid_hot.smell fluid_tests.paper pan.powder pan.color pan.smell",
    ),
    (
        {"sump_night_drain": 1e-3},
        {},
        "interview.worse_cold fluid_cold.level_engine_off_in cold_start.level_morning_in cold_start.engage_d_first_s "
        "cold_start.engage_r_first_s cold_start.line_after_2s_psi valve_body.drain_valve",
    ),
]  # fmt: skip
OWN_OF_ANOTHER = [
    ({"lockup_leak": 4.0}, "line_pressure.lockup_apply_drop_psi air_test.air_lockup_psi converter_check.lockup_ring"),
    ({"lockup_orifice": 0.3}, "line_pressure.lockup_apply_drop_psi valve_body.lockup_orifice"),
    ({"signal_travel": 0.04}, "signal_check.cable_travel_in"),
]  # fmt: skip


@pytest.mark.parametrize(
    "wrong, worn, keys", OWN, ids=lambda each: "" if isinstance(each, str) else "-".join(each)
)
def test_one_thing_wrong_moves_its_own_findings_and_no_other(wrong, worn, keys):
    """Half of it stands between nothing and the whole."""
    changed = moved("T3 vacuum", wrong, worn)
    assert set(changed) == set(keys.split())
    for sound, half, whole in changed.values():
        assert sound < half <= whole or sound > half >= whole


@pytest.mark.parametrize("wrong, keys", OWN_OF_ANOTHER)
def test_that_holds_of_a_unit_with_lock_up_and_cable(wrong, keys):
    assert set(moved("T4 cable", wrong)) == set(keys.split())


# A sound vehicle has so much of these, and of all else that is looked at nothing.
NEVER_NOTHING = {
    "worse_hot", "worse_cold", "bubbles", "whine_pump", "clunk", "drain_valve", "magnet",
    "hiss_*", "stroke_short_*", "stroke_long_*",
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_new_vehicle_has_nothing_of_what_is_looked_for(kind):
    """Not only too little for a word: what is compared with a sound vehicle comes to nothing on it."""
    for name, part in inspect_population(vehicles(kind)).items():
        for each in part.seen:
            if not any(fnmatch(each.key, key) for key in NEVER_NOTHING):
                assert np.all(np.nan_to_num(each.value) < 1e-6), f"{name}.{each.key}"


def value(kind, key, wrong=(), worn=()) -> np.ndarray:
    """One of them."""
    return found(kind, tuple(dict(wrong).items()), tuple(dict(worn).items()))[key]


HALVES = np.array([0.0, 0.5, 1.0])
LINING_KG, BAND_KG = (
    4e-4 * 0.0062 * 8 * 900.0,
    4e-4 * 0.0189 * 900.0,
)  # 0.4 mm off: area, faces, density of the unit
VACUUM = 60957.0 / 3386.389  # inHg, from pascals
GOVERNOR_40 = (138000.0 + 14470.0 * (40.0 * 0.44704 - 8.94)) / 6894.757  # psi, past the second weight
BY_HAND = [  # reading | what is wrong | what it shows of nothing, half and whole, by units and geometry
    ("driveline_check.wheel_drag_lbf", {"vehicle_brake_drag": 444.8222}, {}, 100.0 * HALVES),  # 4.448222 N to the pound
    ("driveline_check.mount_lift_in", {"vehicle_mount_lift": 0.0254}, {}, HALVES),
    ("linkage_check.switch_off_deg", {"lever_switch_off": math.radians(10.0)}, {}, 10.0 * HALVES),
    ("walk_round.wet_rear", {"leak_outside": 0.946353e-3 / 1609344.0}, {}, HALVES),  # a quart in 1,000 miles
    ("pan.drained_qt", {}, {"lost": 2.0 * 0.946353e-3}, -2.0 * HALVES),
    ("cooler_pressure.cooler_holds_psi", {"heat_cooler_breach": 2e-8}, {}, 30.0 / (1.0 + HALVES)),
    ("engine_check.idle_speed_rpm", {"engine_idle": 1000.0 * math.pi / 30.0}, {}, lambda sheet: sheet + HALVES * (1000.0 - sheet)),
    ("cooler_pressure.cooler_blown", {"heat_cooler_open": 0.3}, {}, 0.7 * HALVES),
    ("cooler_pressure.lines_blown", {"heat_line_open": 0.3}, {}, 0.7 * HALVES),
    ("walk_round.fins", {"heat_cooler_air": 0.3}, {}, 0.7 * HALVES),
    ("linkage_check.kickdown", {"signal_kickdown": 0.3}, {}, 0.7 * HALVES),
    ("teardown.charred_direct", {}, {"char@direct_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.steel_direct", {}, {"char@direct_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.rubber_direct", {}, {"seal@direct_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.drum_direct", {}, {"holding@direct_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.soaked_direct", {}, {"soaked@direct_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.roller_low_one_way_clutch", {}, {"holding@low_one_way_clutch": 0.6}, 0.6 * HALVES),
    ("teardown.planet", {}, {"planetary": 0.6}, 0.6 * HALVES),
    ("teardown.thrust", {}, {"planetary": 0.6}, 0.6 * HALVES),
    ("teardown.pump_scored", {}, {"pump": 0.6}, 0.6 * HALVES),
    ("teardown.bushing_scored", {}, {"bushing": 0.6}, 0.6 * HALVES),
    ("bare_case.weep_direct", {"element_crossfeed_case@direct_clutch": 0.3}, {}, 0.3 * HALVES),
    ("road_test.whine_gears", {}, {"planetary": 0.6}, 0.6 * HALVES),
    # pan: dust by weight, metal by wear beyond what sheds none
    ("pan.filter", {"pump_strainer_dirt": 0.6}, {}, 0.6 * HALVES),
    ("pan.filter", {}, {"lining@direct_clutch": 4e-4}, 4.0 * LINING_KG * HALVES),
    ("pan.powder", {}, {"lining@direct_clutch": 4e-4}, 0.1 * LINING_KG / 0.1 * HALVES),  # a tenth of it, against 100 g
    ("pan.powder", {}, {"lockup": 0.5}, 0.5 * pan_off.LOCKUP_SHEDS * HALVES),
    ("pan.fibers", {}, {"lining@intermediate_band": 4e-4}, 0.1 * BAND_KG / 0.06 * HALVES),  # against 60 g
    ("pan.aluminum", {}, {"pump": 0.75}, pan_off.PUMP_METAL * np.array([0.0, 0.025, 0.4])),
    ("pan.magnet", {}, {"pump": 0.6}, pan_off.EVERY_MAGNET + 2.0 * pan_off.PUMP_METAL * 0.6 * HALVES),
    ("pan.magnet", {}, {"holding@direct_clutch": 0.6}, pan_off.EVERY_MAGNET + pan_off.ROLLER_METAL * 0.6 * HALVES),
    ("pan.magnet", {"pump_drive": 0.6}, {}, pan_off.EVERY_MAGNET + pan_off.ROLLER_METAL * 0.4 * HALVES),
    ("pan.rubber_brittle", {}, {"seal@direct_clutch": 0.6}, 0.6 * HALVES),
    ("pan.flakes", {}, {"soaked@direct_clutch": 0.6}, 0.6 * HALVES),
    ("pan.neck_ring", {"pump_suction_gap": 1e-6}, {}, HALVES),  # square millimeters
    ("pan.silt", {"fluid_water": 0.02, "fluid_glycol": 1.0}, {}, 0.02 * HALVES * (1.0 - HALVES)),
    ("pan.rust", {"fluid_water": 0.02}, {}, 0.02 * HALVES),
    ("pan.park_reach_in", {"lever_park_short": 0.5}, {}, pan_off.PAWL_REACH * (1.0 - 0.5 * HALVES)),
    ("pan.pan_rail_gap_in", {"sump_rail_bend": 0.0254}, {}, pan_off.FLAT_RAIL + HALVES),
    # fluid
    ("fluid_tests.glycol", {"fluid_water": 0.02, "fluid_glycol": 1.0}, {}, 0.02 * HALVES**2),
    ("fluid_tests.specks", {}, {"planetary": 0.6}, [0.0, 0.1, 0.4]),
    ("fluid_tests.specks", {}, {"pump": 0.75}, [0.0, 0.025, 0.4]),
    ("fluid_tests.specks", {}, {"bushing": 0.75}, [0.0, 0.025, 0.4]),
    ("fluid_cold.color", {}, {"oxidation": 0.8}, 0.8 * HALVES),
    ("fluid_cold.smell", {}, {"oxidation": 0.8}, 0.8 * HALVES),
    ("fluid_cold.smell", {}, {"oxidation": 3.0}, np.minimum(3.0 * HALVES, walk_round.STALE)),
    ("fluid_cold.smell", {}, {"char@direct_clutch": 0.3}, 0.3 * walk_round.BURNT_SMELL * HALVES),
    ("fluid_cold.smell", {}, {"lockup": 0.3}, 0.3 * walk_round.BURNT_SMELL * HALVES),
    ("fluid_cold.color", {}, {"lockup": 0.3}, 0.3 * walk_round.LOCKUP_COLOR * HALVES),
    (  # three tenths charred, nine tenths of the dust are black; by the weight of 9.46 L of 868 kg/m3
        "fluid_cold.color", {}, {"lining@direct_clutch": 4e-4, "char@direct_clutch": 0.3},
        walk_round.DUST_COLOR * 0.9 * LINING_KG / (0.00946 * 868.0) * HALVES**2,
    ),
    # air: what a circuit loses, in units of a sound one
    ("air_test.hiss_direct", {"element_hole@direct_clutch": 1e-6, "element_leak@direct_clutch": 1.2e-12}, {}, 1.0 + 29.0 * HALVES),
    (
        "air_test.air_direct_clutch_psi", {"element_leak@direct_clutch": 1.2e-13 + 1.2e-13 * pan_off.AIR_FEED}, {},
        30.0 / (1.0 + HALVES),
    ),
    ("air_test.air_governor_psi", {"governor_leak": 0.4}, {}, 30.0 * (1.0 - 0.4 * HALVES)),
    ("air_test.stroke_short_direct", {"element_clearance@direct_clutch": 0.0}, {}, 1.0 - (1.0 - HALVES) / 0.45),
    ("air_test.stroke_long_direct", {"element_clearance@direct_clutch": 3e-3}, {}, (1.02e-3 + 1.98e-3 * HALVES) / 6e-3),
    ("air_test.stroke_long_direct", {"element_backing@direct_clutch": 0.3}, {}, [0.17, 0.35, 0.7]),
    ("air_test.return_late_low_reverse", {"fluid_swell": 0.6}, {}, 0.6 * HALVES),
    ("air_test.cross_direct", {"element_crossfeed_case@direct_clutch": 0.3}, {}, 0.3 * HALVES),
    ("air_test.accumulator_direct", {"element_accumulator@direct_clutch": 1e-5}, {}, 0.75 * HALVES),
    # valve body and governor
    (
        "valve_body.body_gap_in", {"element_crossfeed_body@direct_clutch": 0.25}, {},
        pan_off.FLAT_BODY + 0.5 * pan_off.PRINT_GAP * HALVES**0.5,
    ),
    ("valve_body.print_direct", {"element_crossfeed_body@direct_clutch": 0.25}, {}, 0.25 * HALVES),
    ("valve_body.regulator", {"line_spring": 0.7}, {}, 0.3 * HALVES),
    ("valve_body.regulator", {"line_spring": 1.3}, {}, 0.3 * HALVES),
    ("valve_body.regulator", {"line_answer": 0.3, "line_spring": 0.9}, {}, 0.7 * HALVES),
    ("valve_body.boost_sleeve", {"line_reverse_share": 0.3}, {}, 0.7 * HALVES),
    ("valve_body.drain_valve", {"sump_night_drain": 0.946353e-3}, {}, lambda sheet: sheet + HALVES * (1.0 - sheet)),
    ("valve_body.gasket_direct", {"element_feed_area@direct_clutch": 2.45e-6}, {}, 0.5 * HALVES),
    ("valve_body.balls_in_tray", {"element_feed_area@forward_clutch": 1.24e-5}, {}, HALVES),
    ("valve_body.shift_valve_23", {"shift_stuck@23": 1.0}, {}, HALVES),
    ("valve_body.varnish", {}, {"oxidation": 0.8}, 0.8 * HALVES),
    ("valve_body.governor_weights", {"governor_gain": 0.4}, {}, 0.6 * HALVES),
    ("valve_body.governor_weights", {"governor_stuck": 0.5 * pan_off.JAMMED}, {}, 0.5 * HALVES),
    ("valve_body.governor_teeth", {"governor_gear": 0.2}, {}, 0.8 * HALVES),
    ("valve_body.governor_bore", {"governor_leak": 0.4}, {}, 0.4 * HALVES),
    ("governor_pressure.governor_pressure_40_psi", {"governor_gain": 0.4}, {}, (1.0 - 0.6 * HALVES) * GOVERNOR_40),
    ("governor_pressure.governor_pressure_40_psi", {"governor_leak": 0.4}, {}, (1.0 - 0.4 * HALVES) * GOVERNOR_40),
    # apart
    ("teardown.roller_low_one_way_clutch", {"element_holding_torque@low_one_way_clutch": 950.0}, {}, 0.5 * HALVES),
    (
        "teardown.roller_low_one_way_clutch", {"element_holding_torque@low_one_way_clutch": 950.0},
        {"holding@low_one_way_clutch": 0.6}, 1.0 - (1.0 - 0.6 * HALVES) * (1.0 - 0.5 * HALVES),
    ),
    ("teardown.roller_low_one_way_clutch", {"element_holding_torque@low_one_way_clutch": 3800.0}, {}, 0.0 * HALVES),
    ("teardown.reversed_low_one_way_clutch", {"element_reversed@low_one_way_clutch": 1.0}, {}, HALVES),
    ("teardown.splines_direct", {"element_splines@direct_clutch": 2500.0}, {}, 0.5 * HALVES),
    ("teardown.ball_seat_direct", {"element_hole@direct_clutch": 1e-6}, {}, HALVES),
    ("teardown.rings_direct", {"element_leak@direct_clutch": 3.6e-13}, {}, 2.0 * HALVES),
    ("teardown.servo_intermediate", {"element_leak@intermediate_band": 3e-13}, {}, 2.0 * HALVES),
    ("teardown.spots_direct", {"element_hot_spots@direct_clutch": 0.5}, {}, 0.5 * HALVES),
    ("teardown.snap_ring_direct", {"element_backing@direct_clutch": 0.3}, {}, 0.7 * HALVES),
    ("teardown.pump_lugs", {"pump_drive": 0.6}, {}, 0.4 * HALVES),
    ("teardown.bushing_side", {"pump_offset": 2.54e-4}, {}, 0.01 * HALVES),
    ("teardown.rust", {"fluid_water": 0.02}, {}, 0.02 * HALVES),
    ("measure.pump_face_in", {}, {"pump": 0.8}, 4.4e-5 / 0.0254 * (1.0 + 0.8 * HALVES)),
    ("measure.bushing_clearance_in", {}, {"bushing": 0.5}, teardown.NEW_BUSHING + 0.5 * teardown.WORN_BUSHING * HALVES),
    ("measure.end_play_in", {}, {"planetary": 0.8}, 4.6e-4 / 0.0254 + 0.8 * teardown.WASHERS_GONE * HALVES),
    ("measure.end_play_in", {"train_end_play": 3e-3}, {}, (4.6e-4 + 2.54e-3 * HALVES) / 0.0254),
    (
        "measure.steel_flatness_in", {}, {"char@direct_clutch": 0.5},
        teardown.NEW_FLAT + teardown.OUT_OF_FLAT * 9e-4 / 0.0254 * 0.5 * HALVES,
    ),
    ("converter_check.hub_runout_in", {"pump_offset": 2.54e-4}, {}, teardown.NEW_RUNOUT + 0.02 * HALVES),  # twice off center
    (
        "converter_check.hub_runout_in", {"converter_plate_crack": 0.5}, {},
        teardown.NEW_RUNOUT + road_feel.CRACKED_WANDERS / 0.0254 * HALVES,
    ),
    ("converter_check.flexplate", {"pump_offset": 0.5 * teardown.PLATE_CRACKS_AT, "converter_plate_crack": 0.3}, {}, 0.5 * HALVES),
    ("converter_check.flexplate", {"pump_offset": 1e-4, "converter_plate_crack": 0.3}, {}, 0.3 * HALVES),
    ("converter_check.stator_free", {"converter_stator_slip": 0.7}, {}, 0.7 * HALVES),
    ("converter_check.stator_locked", {"converter_stator_lock": 0.7}, {}, 0.7 * HALVES),
    # engine, signal and lever
    ("engine_check.vacuum_swing_inhg", {"engine_misfire": 0.1}, {}, 0.1 * walk_round.NEEDLE_SHAKES * HALVES),
    ("engine_check.manifold_vacuum_inhg", {"signal_engine_vacuum": 0.7}, {}, VACUUM * (1.0 - 0.3 * HALVES)),
    (
        "signal_check.modulator_vacuum_inhg", {"signal_hose_leak": 0.3, "signal_diaphragm_leak": 0.2}, {},
        VACUUM * (1.0 - 0.5 * HALVES),
    ),
    (
        "signal_check.modulator_holds_inhg", {"signal_diaphragm_leak": 0.25}, {},
        18.0 * (1.0 - 0.25 * controls.DIAPHRAGM_LETS_GO * HALVES),
    ),
    ("signal_check.modulator_stem", {"signal_gain": 0.5}, {}, 0.5 * HALVES),
    ("signal_check.hose_hisses", {"signal_hose_leak": 0.3}, {}, 0.3 * HALVES),
    ("linkage_check.lever_off_deg", {"element_port_shut@forward_clutch": 0.5}, {}, 0.5 * controls.LEVER_TURN * HALVES),
    ("linkage_check.kickdown_travel_in", {"signal_kickdown": 0.0}, {}, 1.0 - 0.9 * HALVES),
    # road and driveline
    ("road_test.clunk", {"vehicle_lash": 0.2}, {}, np.degrees(0.02 + 0.18 * HALVES)),
    ("driveline_check.joint_play_deg", {}, {"driveline": 0.8}, np.degrees(0.02 + 0.2 * HALVES)),
    ("road_test.knock_idle", {"pump_offset": 1e-4, "converter_plate_crack": 0.5}, {}, 0.5 * road_feel.CRACKED_WANDERS * HALVES),
    ("road_test.whine_pump", {"pump_drive": 0.6}, {}, lambda sheet: [sheet, 0.2, 0.4]),
    ("road_test.whine_pump", {}, {"pump": 0.85}, lambda sheet: [sheet, 0.075 * road_feel.PUMP_HUM, 0.5 * road_feel.PUMP_HUM]),
    ("road_test.rolls", {"vehicle_brake_drag": 400.0}, {}, 400.0 * HALVES),
    ("road_test.judder_steady", {"engine_misfire": 0.1}, {}, 0.1 * road_feel.MISFIRE_SHAKES * road_feel.HALF_PEDAL * HALVES),
    ("driveline_check.wheels_follow", {"vehicle_shaft": 0.0}, {}, HALVES),
    ("fluid_cold.level_engine_off_in", {"sump_night_drain": 1.5e-4 + 0.075 * 0.0254}, {}, lambda sheet: sheet + HALVES),
]  # fmt: skip


@pytest.mark.parametrize(
    "key, wrong, worn, shows", BY_HAND, ids=lambda each: each if isinstance(each, str) else ""
)
def test_readings_that_units_and_geometry_give(key, wrong, worn, shows):
    read = value("T3 vacuum", key, wrong, worn)
    if callable(shows):  # of what the sheet's vehicle shows
        shows = shows(read[0])
    np.testing.assert_allclose(read, shows, rtol=1e-4, atol=1e-6)


@pytest.mark.parametrize(
    "key, wrong, shows",
    [
        ("converter_check.lockup_ring", {"lockup_leak": 3.0}, 2.0 * HALVES),
        ("converter_check.lockup_facing", {"lockup_lining": 0.4}, 0.6 * HALVES),
        ("air_test.air_lockup_psi", {"lockup_leak": 1.0 + pan_off.AIR_FEED}, 30.0 / (1.0 + HALVES)),
        ("valve_body.lockup_orifice", {"lockup_orifice": 0.3}, 0.7 * HALVES),
        ("valve_body.lockup_valve", {"lockup_stuck": 1.0}, HALVES),
        ("signal_check.cable_travel_in", {"signal_slack": 0.0254}, lambda sheet: sheet - HALVES),
        ("signal_check.cable_travel_in", {"signal_travel": 0.0254}, lambda sheet: sheet + HALVES * (1.0 - sheet)),
        ("signal_check.cable_travel_in", {"signal_slack": 0.2}, lambda sheet: [sheet, 0.0, 0.0]),
        ("signal_check.cable_rest_in", {"signal_pull": 0.0254}, HALVES),
        ("signal_check.cable_rest_in", {"signal_slack": 0.0254}, 0.0 * HALVES),
        ("signal_check.cable_rest_in", {"signal_pull": 0.0254, "signal_slack": 0.0127}, 0.5 * HALVES),
        ("signal_check.cable_drags", {"signal_pull": 0.0254}, HALVES),
    ],
)  # fmt: skip
def test_the_same_of_lock_up_and_cable(key, wrong, shows):
    read = value("T4 cable", key, wrong)
    np.testing.assert_allclose(read, shows(read[0]) if callable(shows) else shows, rtol=1e-4, atol=1e-6)


def bore(share, key, **wrong):
    """Vacuum [inHg] of a sound bore, and of one that loses so much."""
    read = value("T4 cable" if "lockup" in key else "T3 vacuum", f"valve_body.bore_vacuum_{key}_inhg", wrong)
    assert read[-1] == pytest.approx(pan_off.PUMP_VACUUM / (1.0 + pan_off.BORE_LEAKS * share))
    return read


def test_every_bore_reads_what_is_lost_past_its_own_valve():
    """At a share of 0.08 it holds 18 inHg, the usual limit (from memory); a sound one the vacuum of the pump."""
    assert bore(0.08, "lockup", lockup_bore=0.08)[-1] == pytest.approx(18.0, abs=0.05)
    bore(0.3, "boost", line_reverse_share=0.7)
    bore(0.3, "governor", governor_leak=0.3)
    bore(1.0, "regulator", line_body_leak=(1.0 + pan_off.BODY_SPREAD) * 5.2e-13)
    spread = bore(0.0, "regulator", line_body_leak=pan_off.BODY_SPREAD * 5.2e-13)
    assert np.allclose(spread, pan_off.PUMP_VACUUM), "so much one body differs from another"
    for shift, element, leak in (("12", "intermediate_band", 1.0e-13), ("23", "direct_clutch", 1.2e-13)):
        wrong = {f"element_bore_leak@{element}": pan_off.BORE_SHARE * leak}
        bore(1.0, f"shift_{shift}", **wrong)
        bore(0.0, f"shift_{'12' if shift == '23' else '23'}", **wrong)


def test_a_can_is_full_when_a_quart_has_come():
    """The same flow, bypassing the lines, comes by what they hold back the sooner; nobody waits past two minutes."""
    subject = vehicles(wrong={"heat_line_open": 0.4})
    flow = subject.at([AskedPoint("P", temperature=units.from_fahrenheit(180.0))]).cooler_flow[:, 0]
    read, bypassed = (
        value("T3 vacuum", f"cooler_check.cooler_{key}_s_per_qt", {"heat_line_open": 0.4})
        for key in ("flow", "bypass")
    )
    np.testing.assert_allclose(read * flow, units.QUART, rtol=1e-5)
    np.testing.assert_allclose(bypassed, read * (1.0 - 0.6 * HALVES), rtol=1e-5)
    shut = value("T3 vacuum", "cooler_check.cooler_flow_s_per_qt", {"heat_cooler_open": 0.0})
    assert shut[-1] == 120.0 > shut[1]


def test_what_the_pump_turns_at_idle_is_on_its_way_down_and_not_in_the_pan():
    """So much a revolution, by revolutions: a slower idle leaves more in the pan; broken lugs all of it."""
    for wrong in ({"engine_idle": 30.0}, {"pump_drive": 0.3}):
        subject = vehicles(wrong=wrong)
        read = value("T3 vacuum", "fluid_hot.level_hot_in", wrong)
        turns = units.to_rpm(subject.parameter("engine_idle")) / 60.0 * subject.parameter("pump_drive")
        flow = (subject.parameter("pump_displacement") * turns)[:, None]
        hot = np.array([[units.from_fahrenheit(180.0)]])
        height = subject.plant.oil.height(subject.condition, hot, flow)[:, 0] - subject.parameter(
            "sump_full_height"
        )
        known = np.isfinite(read)
        np.testing.assert_allclose(read[known], (height / 0.0254)[known], atol=1e-5)
        assert known[:2].all() and read[0] < read[1]


def test_fluid_is_told_in_one_sentence():
    """Color and smell, and bubbles where they were looked for; what is wrong besides in sentences of its own."""
    made = make_inspections(vehicles().rows([0]), ["fluid_hot", "fluid_cold"])
    hot, cold = (made[name].words[0] for name in ("fluid_hot", "fluid_cold"))
    assert (
        hot.startswith("Fluid ") and cold.startswith("Fluid ") and "bubbles" in hot and "bubbles" not in cold
    )
    wet = make_inspections(vehicles(wrong={"fluid_water": 0.05}).rows([2]), ["fluid_cold"])["fluid_cold"]
    assert any(words.startswith("The fluid is ") for words in wet.words)


def test_the_signal_is_moved_by_what_is_fitted():
    """Nobody pulls a cable where there is a hose."""
    for kind, fitted, other in (
        ("T3 vacuum", "hose", "cable"),
        ("T3 cable", "cable", "hose"),
        ("T4 cable", "cable", "hose"),
    ):
        one = vehicles(kind).rows([0])
        readings = make_inspections(one, ["signal_by_hand"])["signal_by_hand"].readings
        assert readings and all(other not in each.label for each in readings)
        assert sum(fitted in each.label for each in readings) >= len(readings) - 1


def test_what_stands_over_the_mark_wets_the_vent():
    """As much as the rod shows, but for what is wrong with the rod; nothing where it stands below."""
    over = {"lost": -8e-4}
    rod = value("T3 vacuum", "fluid_hot.level_hot_in", {"sump_gauge_offset": 0.01}, over)
    vent = value("T3 vacuum", "walk_round.wet_vent", {"sump_gauge_offset": 0.01}, over)
    np.testing.assert_allclose(vent, np.maximum(rod - 0.01 / 0.0254 * HALVES, 0.0), atol=1e-6)
    assert vent[-1] > 0.3


def test_two_ways_across_into_a_circuit_add_up():
    """What stands in it is so much of the line, and never more than the line."""
    key = "line_pressure.residual_direct_psi"
    ways = [f"element_crossfeed_{way}@direct_clutch" for way in ("body", "case")]
    both = value("T3 vacuum", key, {ways[0]: 0.2, ways[1]: 0.1})
    np.testing.assert_allclose(both, value("T3 vacuum", key, {ways[0]: 0.3}), rtol=1e-5)
    whole, more = (value("T3 vacuum", key, dict.fromkeys(ways[:n], 1.0)) for n in (1, 2))
    assert more[-1] == pytest.approx(whole[-1], rel=1e-3)


def test_a_tap_reads_by_how_much_its_circuit_is_below_the_line():
    """The gauge on the line and the one on the tap, one subtracted from the other."""
    subject = vehicles(wrong={"element_hole@direct_clutch": 1e-6})
    for temperature, name in ((180.0, ""), (68.0, "cold_")):
        point = gauges.standing("R", temperature=units.from_fahrenheit(temperature))
        work = subject.at([point])
        below = units.to_psi(work.line[:, 0] - work.circuit[:, 0, DIRECT])
        key = f"line_pressure.circuit_drop_direct_{name}psi"
        read = value("T3 vacuum", key, {"element_hole@direct_clutch": 1e-6})
        np.testing.assert_allclose(read, below, rtol=1e-4, atol=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_a_tap_that_needs_an_upshift_is_read_where_it_first_comes(kind):
    """Driven on with a light pedal past its own upshift: the circuit of what then comes on, at the first speed with the gear in."""
    subject = vehicles(kind)
    for where in (each for each in gauges.ranges(subject.unit) if each.ups):
        asked = gauges.driven_on(
            subject, where.ups - 1, gauges.LIGHT_PEDAL, temperature=units.from_fahrenheit(180.0)
        )
        work = subject.at(asked)
        first = (work.gear[0] == subject.unit.gear_index(where.gear)).argmax()
        for holder in gauges.coming_on(subject.unit, where.gear):
            shown = units.to_psi(work.circuit[0, first, holder.column])
            assert value(kind, f"line_pressure.circuit_{holder.stem}_psi")[0] == pytest.approx(
                shown, rel=1e-5
            )


def test_a_jolt_is_how_much_sooner_the_torque_comes():
    """In half the time, twice as fast: by so much it is more than the sheet's; in the same time it is none."""
    subject = vehicles()
    work = subject.at([AskedPoint("D"), AskedPoint("R")])
    sooner = replace(work, slide=work.slide / 2.0)
    assert np.all(work.slide.max(-1) > 0.05)
    np.testing.assert_allclose(road_feel.jolt(subject, work, work), 0.0, atol=1e-6)
    np.testing.assert_allclose(road_feel.jolt(subject, sooner, work), 1.0 / road_feel.JERK, rtol=1e-6)
    assert np.all(road_feel.jolt(subject, work, sooner) < 0.0)


def test_shaking_is_of_the_gear_that_comes_and_not_of_engine_or_lock_up():
    """An engine that misses shakes by itself, more with more pedal; a lock-up clutch that slips shakes as well."""
    subject = vehicles(wrong={"engine_misfire": 0.1})
    work = subject.at([AskedPoint("D")])
    engine = road_feel.MISFIRE_SHAKES * 0.1 * HALVES[:, None] * 0.5
    for judder, slip, shakes in (
        (engine, 0.0, 0.0 * engine),
        (engine + 0.2, 0.0, engine + 0.2),
        (engine + 0.2, 5.0, 0.0 * engine),
    ):
        each = replace(work, judder=judder, lockup_slip=np.full_like(judder, slip))
        np.testing.assert_allclose(road_feel._shaking(subject, each, 0.5), shakes)


@pytest.mark.parametrize("place, column", [(0, 2), (1, DIRECT)])
def test_an_upshift_is_felt_where_it_first_comes(place, column):
    """The bump with a light pedal, flare and shaking with half a pedal, each at the first of the speeds with the gear in."""
    wrong = {
        "fluid_judder": 0.4,
        "element_clearance@intermediate_band": 3e-3,
        "element_clearance@direct_clutch": 3e-3,
    }
    subject = vehicles(wrong=wrong)
    shift, gear = subject.unit.shifts[place], subject.unit.levers["D"][place + 1]
    for pedal, felt in ((0.12, {"bump", "bind"}), (road_feel.HALF_PEDAL, {"flare", "judder"})):
        asked = gauges.driven_on(subject, place, pedal)
        work, sheet = subject.at(asked), subject.sheet_at(asked)
        here = {
            "bump": road_feel.jolt(subject, work, sheet),
            "bind": road_feel.BINDS / road_feel.BOTH * (work.overlap - sheet.overlap).max(-1),
            "flare": units.to_rpm(work.flare.max(-1)),
            "judder": work.judder,
        }
        first = (work.gear == subject.unit.gear_index(gear)).argmax(-1)
        for name in felt:
            key = f"road_test.{name}_{shift.id}" + ("_rpm" if name == "flare" else "")
            read = value("T3 vacuum", key, wrong)
            np.testing.assert_allclose(read, here[name][np.arange(STEPS), first], rtol=1e-4, atol=1e-5)


def test_two_that_hold_at_once_bind_by_how_much_longer_they_do():
    """With too little room the band comes on before the other lets go: by the seconds, against those an owner comes in for."""
    wrong = {"element_clearance@intermediate_band": 2e-4}
    subject = vehicles(wrong=wrong)
    asked = gauges.driven_on(subject, 0, gauges.LIGHT_PEDAL)
    work, sheet = subject.at(asked), subject.sheet_at(asked)
    first = (work.gear == subject.unit.gear_index(subject.unit.levers["D"][1])).argmax(-1)
    longer = (work.overlap - sheet.overlap).max(-1)[np.arange(STEPS), first]
    read = value("T3 vacuum", "road_test.bind_12", wrong)
    assert longer[-1] > 0.05
    np.testing.assert_allclose(read, longer * road_feel.BINDS / road_feel.BOTH, rtol=1e-4, atol=1e-6)


def test_no_forward_range_helps_a_vehicle_that_does_not_back_up():
    """A mechanic shifts by hand to get up to a speed; into reverse no forward gear brings it."""
    subject = vehicles(wrong={"element_backing@low_reverse_band": 0.0}).rows([2])
    assert mobility.drives(subject).all()
    for by_hand in (False, True):
        assert not mobility.reached(subject, "R", units.from_mph(3.0), by_hand=by_hand).any()


def test_a_vehicle_creeps_by_what_is_tight_or_pressed_of_its_first_gear():
    """Under so much of its room a pack drags; what crosses into it presses; another pack's room is no matter."""
    forward = nominal_parameters(load_unit("T3"))["element_clearance"][0, 0, 0]
    tight = value("T3 vacuum", "road_test.creep_n", {"element_clearance@forward_clutch": 0.0})
    np.testing.assert_allclose(tight, np.maximum(1.0 - (1.0 - HALVES) / 0.45, 0.0), atol=1e-6)
    for way in ("crossfeed_body", "crossfeed_case", "port_shut"):
        fed = value("T3 vacuum", "road_test.creep_n", {f"element_{way}@forward_clutch": 0.2})
        np.testing.assert_allclose(fed, road_feel.PRESSED_ON * 0.2 * HALVES, rtol=1e-5)
    assert (
        not value("T3 vacuum", "road_test.creep_n", {"element_clearance@direct_clutch": 0.0}).any()
        and forward > 0.0
    )


def test_a_band_gives_way_when_the_engine_is_to_brake():
    """What is left of its grip unwinding, by Euler's belt, against what a closed throttle asks; none in a sound vehicle."""
    wrong = {"wear_friction": 0.01}
    lost = value("T3 vacuum", "road_test.coast_second", wrong)
    assert lost[0] == 0.0 < lost[-1] <= 1.0
    subject = vehicles(wrong=wrong)
    work = subject.at([AskedPoint("D", road_speed=subject.past_shift(0, 0.0))])
    band = 2
    unwound = work.capacity[:, 0, band] * np.exp(
        -subject.parameter("wear_friction") * subject.parameter("element_wrap", band)
    )
    asked = subject.plant.share[work.gear[:, 0], band] * road_feel.COAST_TORQUE
    np.testing.assert_allclose(lost, np.clip(1.0 - unwound / asked, 0.0, 1.0), atol=1e-4)
    shaft = value("T3 vacuum", "road_test.coast_manual_1", {"vehicle_shaft": 0.3})
    np.testing.assert_allclose(shaft, 0.7 * HALVES, atol=1e-6)


def test_a_pack_worn_by_a_hundredth_an_inch_a_face_is_that_much_wider_by_its_faces():
    """Clearance adds up face by face; a band's screw turns one pitch a millimeter (invented unit)."""
    lining = 2.54e-4
    pack = value("T3 vacuum", "measure.clearance_direct_in", worn={"lining@direct_clutch": lining})
    faces = nominal_parameters(load_unit("T3"))["element_faces"][0, 0, DIRECT]
    np.testing.assert_allclose(pack - pack[0], 0.01 * faces * HALVES, rtol=1e-6)
    turns = value("T3 vacuum", "measure.turns_intermediate_turns", wrong={"element_clearance@intermediate_band": 5e-3})  # fmt: skip
    assert turns[-1] == pytest.approx(5.0)


def test_a_worn_lining_is_told_by_what_is_left_of_it():
    whole = nominal_parameters(load_unit("T3"))["element_lining"][0, 0, DIRECT]
    worn = value("T3 vacuum", "teardown.lining_direct", worn={"lining@direct_clutch": whole})
    np.testing.assert_allclose(worn, HALVES)


@pytest.mark.parametrize(
    "key, wrong, worn",
    [
        ("air_test.hiss_forward", {"element_hole@forward_clutch": 1e-6}, {}),
        ("air_test.hiss_forward", {"element_leak@forward_clutch": 5e-12}, {}),
        ("air_test.hiss_forward", {}, {"seal@forward_clutch": 0.9}),
        ("road_test.judder_12", {"fluid_judder": 0.4}, {}),
        ("road_test.judder_23", {"element_hot_spots@direct_clutch": 0.4}, {}),
        ("road_test.judder_d", {"fluid_judder": 0.4}, {}),
        ("road_test.bump_23", {"signal_hose_leak": 0.7}, {}),
        ("road_test.flare_12_rpm", {}, {"lining@intermediate_band": 4e-4}),
        ("line_pressure.residual_direct_psi", {"element_crossfeed_body@direct_clutch": 0.2}, {}),
        ("line_pressure.circuit_drop_forward_psi", {"element_hole@forward_clutch": 1e-6}, {}),
        ("exhaust_pressure.exhaust_2500_psi", {"engine_exhaust": 4.0}, {}),
        ("cooler_check.sump_temp_f", {"heat_cooler_air": 0.4}, {}),
        ("pan.magnet", {}, {"pump": 0.8}),
        ("pan.powder", {}, {"char@direct_clutch": 0.3, "lining@direct_clutch": 2e-4}),
        ("measure.steel_flatness_in", {}, {"char@direct_clutch": 0.3}),
    ],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_more_of_it_shows_more(key, wrong, worn):
    """Not only that it is there: half of it stands well between."""
    none, half, whole = value("T3 vacuum", key, wrong, worn)
    assert none < half < whole and half - none > 0.1 * (whole - none)


def test_a_vehicle_that_stands_is_tried_where_it_stands():
    """With a shaft broken it goes nowhere: what slips is read from standstill, and it says so."""
    from course_lib.shop.procedure import carry_out

    still = vehicles(wrong={"vehicle_shaft": 0.0}).rows([2])
    (found_,) = carry_out(still, [owner_drive.as_the_owner_drives(still)])
    slip, _pull = (
        next(m for m in found_.measured if m.key == f"owner_{key}") for key in ("slip_rpm", "pull_pct")
    )
    assert slip.value[0] > 200.0 and slip.reading(0, 1, None).note == owner_drive.HARDLY


def test_the_slowest_of_a_lever_is_its_own_and_moves():
    subject = vehicles()
    op = subject.day.op
    for lever in dict.fromkeys(op.lever):
        own = [speed for each, speed in zip(op.lever, op.road_speed, strict=True) if each == lever]
        assert owner_drive._slowest(subject, lever) == min(speed for speed in own if speed > 0.0)


def test_a_bore_that_leaks_holds_less_vacuum_and_a_body_shows_where_it_leaks():
    """Vacuum falls with the leak, from that of a sound bore; the circuit behind it is not asked."""
    bores = [key for key in found("T3 vacuum") if "bore_vacuum" in key]
    assert bores
    sound = [value("T3 vacuum", key)[0] for key in bores]
    assert all(each == pytest.approx(pan_off.PUMP_VACUUM, abs=0.5) for each in sound)


def test_hot_and_cold_level_stand_apart_by_what_the_fluid_swells():
    """Warm fluid stands higher; with the engine off what is held above comes down: higher still."""
    cold, off = (
        value("T3 vacuum", f"fluid_cold.{key}")[0] for key in ("level_cold_in", "level_engine_off_in")
    )
    hot = value("T3 vacuum", "fluid_hot.level_hot_in")[0]
    assert cold < hot < off
    assert hot == pytest.approx(0.0, abs=0.05), "a sound vehicle stands at FULL"
    lost = value("T3 vacuum", "fluid_hot.level_hot_in", worn={"lost": 1e-3})
    assert lost[0] > lost[1] > lost[2]


# ---------------------------------------------------------------------- how far it drives
@pytest.mark.parametrize(
    "wrong", [{"engine_health": 0.12}, {"vehicle_brake_drag": 4000.0}, {"wear_friction": 0.01}]
)
def test_a_vehicle_gets_as_fast_as_its_wheels_push_more_than_holds_it(wrong):
    """Rolling takes 1.5 percent of the weight, the air 0.75 N per (m/s)2 (common practice, no source), dragging brakes the rest."""
    subject = vehicles(wrong=wrong)
    mass, drag = subject.parameter("vehicle_mass"), subject.parameter("vehicle_brake_drag")
    arm = subject.parameter("vehicle_axle") / subject.parameter("vehicle_tire_radius")
    for lever in ("D", "1", "R"):
        for floored in (True, False):
            first = np.full(STEPS, np.inf)
            for mph in reversed(mobility.MILES_PER_HOUR):
                speed = units.from_mph(mph)
                pedals = (1.0,) if floored else mobility.PEDALS
                point = AskedPoint(lever, road_speed=speed, temperature=units.from_fahrenheit(180.0))
                work = subject.at([replace(point, throttle=pedal) for pedal in pedals])
                push = work.drive_torque.max(-1) * arm
                first = np.where(push <= 0.015 * mass * 9.81 + 0.75 * speed**2 + drag, speed, first)
            np.testing.assert_allclose(mobility.gives_out(subject, floored=floored)[lever], first)
            if not floored:
                there = [
                    mobility.reached(subject, lever, units.from_mph(mph)) for mph in (0.0, 5.0, 20.0, 60.0)
                ]
                for mph, each in zip((0.0, 5.0, 20.0, 60.0), there, strict=True):
                    assert list(each) == list((units.from_mph(mph) < first) | (mph == 0.0))


def _day(slip_rpm, seconds=(300.0, 700.0), temperature=(math.nan, math.nan)):
    """What `burns` asks of vehicles: how they slip at the two places of a day."""
    return SimpleNamespace(
        day=SimpleNamespace(
            seconds=np.array([seconds]), op=SimpleNamespace(temperature=np.array(temperature))
        ),
        driving=SimpleNamespace(slip=units.from_rpm(np.array(slip_rpm, float))),
    )


def test_an_hour_is_not_driven_on_what_slips_by_more_than_300_rpm():
    """Where the owner spends a twentieth of his day or more, and not cold; shorter steep places one drives round."""
    assert list(mobility.burns(_day([[0.0, 299.0], [301.0, 0.0], [0.0, 301.0]]))) == [False, True, True]
    assert list(mobility.burns(_day([[900.0, 0.0]], seconds=(49.0, 951.0)))) == [False]
    assert list(mobility.burns(_day([[900.0, 0.0]], seconds=(51.0, 949.0)))) == [True]
    assert list(mobility.burns(_day([[900.0, 0.0]], temperature=(290.0, math.nan)))) == [False]


def test_what_does_not_reach_25_mph_is_not_driven_on_the_road(monkeypatch):
    """Twenty is not enough, and one forward range that gets to thirty is; slip forbids an hour and not less."""
    fastest = {
        "D": units.from_mph(np.array([20.0, 20.0, 30.0])),
        "1": units.from_mph(np.array([20.0, 30.0, 20.0])),
    }
    monkeypatch.setattr(
        mobility, "gives_out", lambda subject: fastest | {"2": np.zeros(3), "R": np.full(3, np.inf)}
    )
    monkeypatch.setattr(mobility, "burns", lambda subject: np.array([False, False, True]))
    subject = vehicles()
    assert list(mobility.drives(subject)) == [False, True, True]
    assert list(mobility.driven_for(subject, 59)) == [False, True, True]
    assert list(mobility.driven_for(subject, 60)) == [False, True, False]


# ---------------------------------------------------------------------- the owner's roads
def test_a_pull_is_judged_where_the_pedal_asks_and_the_gear_is_the_same():
    """Half the torque is half the pull; at rest the gear does not matter, on the road another gear is another pull."""
    subject = vehicles().rows([0])
    sound, op = subject.sheet.driving, subject.day.op
    half = replace(sound, drive_torque=0.5 * sound.drive_torque)
    asked = (op.throttle > owner_drive.PULLING) & (sound.drive_torque[0] > 1.0)
    np.testing.assert_allclose(owner_drive._pull(half, sound, op)[0, asked], -50.0)
    assert np.isnan(owner_drive._pull(half, sound, op)[0, op.throttle <= owner_drive.PULLING]).all()
    other = replace(half, gear=half.gear + 1)
    assert list(np.isnan(owner_drive._pull(other, sound, op)[0, asked])) == list(
        op.road_speed[asked] >= owner_drive.SETTING_OFF
    )
    light = owner_drive._light(subject, sound, sound)[0]
    assert list(light) == list(op.throttle < owner_drive.LIGHT) and light.any() and not light.all()
    assert not owner_drive._light(subject, other, sound).any()


def test_what_drags_holds_back_by_its_power_over_the_speed():
    """Newtons from watts; standing it holds nothing back. Elements that hold together longer fight by so much of a second."""
    subject = vehicles().rows([0])
    work = subject.sheet.driving
    dragging = replace(work, drag_power=np.full_like(work.drag_power, 1000.0))
    elements, speed = work.drag_power.shape[-1], subject.day.op.road_speed
    force = owner_drive._held_back(subject, dragging)[0]
    moving = speed > owner_drive.SETTING_OFF
    np.testing.assert_allclose(force[moving], 1000.0 * elements / speed[moving])
    assert not force[speed == 0.0].any()
    longer = replace(work, overlap=work.overlap + owner_drive.BOTH / 2.0)
    np.testing.assert_allclose(owner_drive._fights(longer, work), owner_drive.BINDS / 2.0)
    tied = replace(work, tie_up=work.tie_up + 0.3)
    np.testing.assert_allclose(owner_drive._fights(tied, work), 0.3)


def test_what_slips_on_the_owners_roads_is_read_where_he_gets_to():
    """The worst of his places, and none tried at rest where it drives."""
    wrong = {"wear_friction": 0.05}
    subject = vehicles(wrong=wrong)
    warm = np.isnan(subject.day.op.temperature)
    assert mobility.drives(subject).all()
    slip = np.where(warm & owner_drive._reached(subject), units.to_rpm(subject.driving.slip), 0.0).max(-1)
    np.testing.assert_allclose(value("T3 vacuum", "road_test.owner_slip_rpm", wrong), slip, rtol=1e-5)
    assert slip[-1] > 100.0
    shaking = value("T3 vacuum", "road_test.owner_judder", {"fluid_judder": 0.4})
    subject = vehicles(wrong={"fluid_judder": 0.4})
    judder = (subject.driving.judder - subject.sheet.driving.judder)[:, warm].max(-1)
    np.testing.assert_allclose(shaking, judder, rtol=1e-5)


# ---------------------------------------------------------------------- what is refused, and at which warmth it is made
def test_a_finding_says_how_warm_it_was_made():
    """Hot, cold, as warm as the drive made it, or nothing where the fluid boiled over before the drive was through."""
    subject = vehicles().rows([0])
    made = make_inspections(subject, ["fluid_hot", "fluid_cold", "road_test", "walk_round"])
    warm = round(units.to_fahrenheit(float(subject.sump_temperature[0])))
    assert [made[name].made_at_f for name in ("fluid_hot", "fluid_cold", "road_test", "walk_round")] == [
        180,
        68,
        warm,
        None,
    ]
    boils = vehicles(wrong={"heat_cooler_open": 0.0, "heat_case_moving": 0.05, "heat_case_still": 1.0}).rows(
        [2]
    )
    assert boils.boils_over.all()
    made = make_inspections(boils, ["fluid_hot", "road_test"])
    assert (made["fluid_hot"].made_at_f, made["road_test"].made_at_f) == (180, None)
    assert any("boil" in words or "foam" in words for words in made["road_test"].words)


def allowed(name, *findings) -> bool:
    """Whether that inspection may come after those findings."""
    try:
        order.check_allowed(name, findings)
    except InspectionRefused:
        return False
    return True


def before(name, **shown) -> list[Finding]:
    """Findings of all that must come before an inspection: nothing but what is given, by inspection."""
    return [finding(need, *shown.get(need, ())) for need in all_inspections()[name].needs]


LEVEL = Reading(key="level_hot_in", label="", value=0.0, unit="in.", spec=(-0.3, 0.3), sigma=0.02, decimals=2)


def with_level(inches) -> Reading:
    return msgspec.structs.replace(LEVEL, value=inches)


@pytest.mark.parametrize(
    "shown, fit",
    [
        ((with_level(0.60),), False),
        ((with_level(-0.60),), False),
        ((with_level(0.59),), True),
        ((with_level(None),), True),
        ((LEVEL, Look(key="bubbles", grade=2, text="foam")), False),
        ((LEVEL, Look(key="bubbles", grade=1, text="few")), True),
        ((LEVEL, Look(key="smoke", grade=2, text="smoke")), False),
        ((LEVEL, Look(key="smoke", grade=1, text="haze")), True),
    ],
)
def test_a_road_test_is_refused_on_the_limit_and_not_before(shown, fit):
    """0.6 in. on the indicator is about a quart; what foams or leaves smoke behind is not driven (common practice, no source)."""
    assert allowed("road_test", *before("road_test", fluid_hot=shown)) == fit
    found = {each.inspection: each for each in before("road_test", fluid_hot=shown)}
    road = finding("road_test")
    assert (road in order.made_safely(found | {"road_test": road})) == fit


def test_a_stall_is_refused_on_the_limit_and_not_before():
    """More than 150 rpm of slip, or slip that cannot be read; what binds or shakes in earnest, an engine that dies at all; pressure
    and level in spec. That a stall burns what slips is common practice, no source."""
    sound = {"fluid_hot": (LEVEL,)}
    assert allowed("stall_test", *before("stall_test", **sound))
    slip = Reading(key="road_x_slip_rpm", label="", value=0.0, unit="rpm", spec=(0.0, 50.0), sigma=8.0)
    for number, fine in ((150.0, True), (151.0, False), (None, False)):
        road = (msgspec.structs.replace(slip, value=number),)
        assert allowed("stall_test", *before("stall_test", **sound, road_test=road)) == fine
    for start, worst in (("bind_", 2), ("judder_", 2), ("dies_", 1)):
        for grade, fine in ((worst - 1, True), (worst, False)):
            road = (Look(key=f"{start}x", grade=grade, text="it shakes"),)
            assert allowed("stall_test", *before("stall_test", **sound, road_test=road)) == fine
    line = Reading(
        key="line_pressure_p_idle_psi", label="", value=60.0, unit="psi", spec=(60.0, 70.0), sigma=0.7
    )
    for number, fine in ((60.0, True), (58.0, False), (90.0, True), (None, False)):
        shown = (msgspec.structs.replace(line, value=number),)
        assert allowed("stall_test", *before("stall_test", **sound, line_pressure=shown)) == fine
    for inches, fine in ((0.3, True), (0.4, False), (-0.4, False)):
        assert allowed("stall_test", *before("stall_test", fluid_hot=(with_level(inches),))) == fine


def test_an_inspection_is_in_order_after_what_it_needs_and_before_what_ends_it():
    needs = all_inspections()["stall_test"].needs
    assert order.in_order("stall_test", needs) and not order.in_order("stall_test", needs[1:])
    assert not order.in_order("stall_test", [*needs, "teardown"])
    assert not order.in_order("stall_test", ["teardown"])


@pytest.mark.parametrize(
    "wrong, worn, unfit",
    [
        ({}, {}, False),
        ({"pump_suction_gap": 1e-6}, {}, True),
        ({"leak_engine_draws": 3e-9}, {}, True),
        ({}, {"lost": 2e-3}, True),
        ({"pump_drive": 0.002}, {"lost": 2e-3}, False),
    ],
)
def test_foam_smoke_or_level_each_alone_make_it_unfit_and_what_does_not_drive_is_not_asked(
    wrong, worn, unfit
):
    assert list(level_setting.unfit(vehicles(wrong=wrong, worn=worn)))[-1] == unfit


# ---------------------------------------------------------------------- shifts, starts and gauges
def test_a_shift_that_never_comes_has_no_speed():
    """Without a kickdown none is read, and it says so; a valve that hangs says there is no upshift."""
    for wrong, key, why in (
        ({"signal_kickdown": 0.0}, "kickdown_21_mph", "no kickdown"),
        ({"shift_stuck@23": 1.0}, "shift_23_full_mph", "no upshift"),
        ({"shift_stuck@23": 1.0}, "downshift_32_mph", "no upshift"),
        ({"governor_stuck": 2e5}, "downshift_21_mph", "stays up to a stop"),
    ):
        subject = vehicles(wrong=wrong).rows([2])
        shown = {each.key: each for each in make_inspections(subject, ["road_test"])["road_test"].readings}[
            key
        ]
        assert shown.value is None and shown.note == why, key


def test_it_starts_in_the_gear_that_the_governor_leaves():
    """Stuck at a pressure of road speed it starts in a higher gear; with lock-up stuck on the engine dies stopping."""
    assert list(value("T3 vacuum", "road_test.start_gear", {"governor_stuck": 2e5}))[::2] == [0.0, 2.0]
    assert list(value("T4 cable", "road_test.dies_stopping", {"lockup_stuck": 1.0}))[::2] == [0.0, 1.0]


def test_two_seconds_after_a_long_night_the_line_stands_as_far_as_the_converter_has_filled():
    """What the first gear waits longer than the second is the time of filling: two seconds of it give that share."""
    night = {"sump_night_drain": 1.5e-3}
    first, second, after, line = (
        value("T3 vacuum", key, night)
        for key in (
            "cold_start.engage_d_first_s",
            "cold_start.engage_d_second_s",
            "cold_start.line_after_2s_psi",
            "line_pressure.line_pressure_d_cold_psi",
        )
    )
    filling = first - second
    assert filling[0] < 2.0 < filling[-1]
    np.testing.assert_allclose(after, line * np.minimum(2.0 / filling, 1.0), rtol=1e-3)


def test_both_sides_of_the_lock_up_piston():
    """At rest the release side has the line, and nothing where lock-up hangs on; cruising the apply side lacks what leaks."""
    key = "line_pressure.lockup_release_rest_psi"
    stuck, line = (
        value("T4 cable", each, {"lockup_stuck": 1.0})
        for each in (key, "line_pressure.line_pressure_d_idle_psi")
    )
    np.testing.assert_allclose(stuck[[0, -1]], [line[0], 0.0], rtol=1e-5, atol=1e-6)
    subject = vehicles("T4 cable", {"lockup_leak": 4.0})
    below = subject.at([gauges.cruise(subject)]).line[:, 0] * (
        1.0 - subject.flat(subject.plant.powertrain.lockup_share())
    )
    read = value("T4 cable", "line_pressure.lockup_apply_drop_psi", {"lockup_leak": 4.0})
    np.testing.assert_allclose(read, units.to_psi(below), rtol=1e-4)


def test_what_the_cooler_takes_is_its_share_of_the_way_to_the_coolant():
    """1 - exp(-NTU) of it, for one stream against coolant of one temperature (Incropera, heat exchangers; from memory), at the flow
    at which it is read: idling in gear, straight after the drive. Without flow the line is as cold as the coolant."""
    for wrong in ({"heat_cooler_air": 0.4}, {"heat_cooler_open": 0.5}):
        subject = vehicles(wrong=wrong)
        sump = subject.sump_temperature
        carried = (
            subject.at([AskedPoint("D")]).cooler_flow[:, 0]
            * fluid.density(sump, subject.parameter("fluid_density_15c"))
            * subject.parameter("fluid_specific_heat")
        )
        units_of_transfer = (
            subject.parameter("heat_cooler_ua") * subject.parameter("heat_cooler_air") / carried
        )
        drop = (1.0 - np.exp(-units_of_transfer)) * (sump - subject.parameter("heat_cooler_sink"))
        read = value("T3 vacuum", "cooler_check.cooler_drop_f", wrong)
        np.testing.assert_allclose(read, 1.8 * drop, rtol=1e-4)
    shut = {"heat_cooler_open": 0.0}
    whole = vehicles(wrong=shut).sump_temperature - vehicles(wrong=shut).parameter("heat_cooler_sink")
    read = value("T3 vacuum", "cooler_check.cooler_drop_f", shut)
    np.testing.assert_allclose(read[-1], 1.8 * whole[-1], rtol=1e-3)


def test_an_engine_that_cannot_breathe_out_revs_by_its_back_pressure():
    """The same pressure is read and heard; at idle there is less of it than at 2,500 rpm."""
    read, heard, idle = (
        value("T3 vacuum", f"exhaust_pressure.{key}", {"engine_exhaust": 4.0})
        for key in ("exhaust_2500_psi", "revs_freely", "exhaust_idle_psi")
    )
    np.testing.assert_allclose(read, heard)
    assert read[-1] > idle[-1] > 0.0 and read[0] == 0.0


# ---------------------------------------------------------------------- road and stall, one reading at a time
def test_every_move_is_read_where_it_is_driven():
    """Slip and what finds no hold, at the lever, pedal, speed and slope of the move."""
    wrong = {"wear_friction": 0.06}
    subject = vehicles(wrong=wrong)
    for move in road_test.moves(subject):
        point = AskedPoint(
            move.lever, throttle=move.pedal, road_speed=units.from_mph(move.mph), tilt=move.tilt
        )
        work = subject.at([point])
        there = mobility.reached(subject, move.lever, point.road_speed, by_hand=True)
        assert there.all(), "it still drives everywhere"
        slip = value("T3 vacuum", f"road_test.road_{move.key}_slip_rpm", wrong)
        np.testing.assert_allclose(slip, units.to_rpm(work.slip[:, 0]), rtol=1e-4, atol=1e-3)
        loss = value("T3 vacuum", f"road_test.hold_{move.key}", wrong)
        np.testing.assert_allclose(loss, work.loss[:, 0], rtol=1e-4, atol=1e-6)


def test_a_gear_of_rest_is_tried_standing_where_it_does_not_pull():
    """A vehicle that stands is read at rest, and says so; a gear that must be reached by an upshift is not read."""
    subject = vehicles(wrong={"vehicle_shaft": 0.0}).rows([2])
    shown = {each.key: each for each in make_inspections(subject, ["road_test"])["road_test"].readings}
    first, third = shown["road_first_hard_slip_rpm"], shown["road_third_hill_slip_rpm"]
    assert first.value > 200.0 and first.note == road_test.STANDS
    assert third.value is None and third.note == mobility.NOT_REACHED


def test_pulls_are_shares_of_the_sheets():
    """A weak engine by its health; in a gear that would over-rev none is read."""
    wrong = {"engine_health": 0.6}
    subject = vehicles(wrong=wrong)
    for mph, key, _ in road_test.PULLS:
        asked = [AskedPoint("D", throttle=1.0, road_speed=units.from_mph(mph))]
        share = 100.0 * (subject.at(asked).drive_torque / subject.sheet_at(asked).drive_torque)[:, 0]
        read = value("T3 vacuum", f"road_test.{key}", wrong)
        np.testing.assert_allclose(read, share, rtol=1e-4)
        assert read[0] == pytest.approx(100.0) and read[-1] < 75.0
    stays = vehicles(wrong={"shift_stuck@12": 1.0}).rows([2])
    shown = {each.key: each for each in make_inspections(stays, ["road_test"])["road_test"].readings}[
        "pull_60_pct"
    ]
    assert shown.value is None and shown.note == road_test.OVER_REVS


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("pedal", [0.0, 0.12, 0.5, 1.0])
def test_a_gear_is_looked_at_well_past_its_upshift_and_short_of_the_next(kind, pedal):
    """No farther than half way to the next by ratio, nor two fifths past its own."""
    subject = vehicles(kind)
    speeds = [*subject.sheet.plant.controls.upshift_speeds(pedal)[0], np.inf]
    for place in range(len(subject.unit.shifts)):
        own, after = speeds[place : place + 2]
        assert subject.past_shift(place, pedal) == pytest.approx(
            min(1.4 * own, math.sqrt(own * after)), rel=1e-6
        )


@pytest.mark.parametrize("kind", KINDS)
def test_stalls_and_coasts_are_asked_of_the_gears_they_belong_to(kind):
    """A stall of every gear that stands by itself and of none that an upshift leads to; engine braking of forward gears only."""
    subject = vehicles(kind)
    found_ = inspect_population(subject)
    levers = subject.unit.levers
    stalled = {each.key.split("_")[1].upper() for each in found_["stall_test"].measured}
    standing = {gears[0] for lever, gears in levers.items() if lever in stalled}
    upshifted = {gear for gears in levers.values() for gear in gears[1:]}
    drive = {lever: gears[0] for lever, gears in levers.items() if lever not in ("P", "N")}
    assert standing == set(drive.values()) - upshifted and len(standing) == len(stalled)
    coasts = [each.key for each in found_["road_test"].seen if each.key.startswith("coast_")]
    assert coasts and not any("reverse" in key for key in coasts)


def test_shift_speeds_are_read_in_miles_per_hour():
    """By a mile of 1,609 m and an hour: full and light pedal, down and kickdown, each of its own shift."""
    subject = vehicles(wrong={"governor_gain": 0.85})
    plant = subject.plant
    for i, shift in enumerate(subject.unit.shifts):
        down = shift.id[::-1]
        for key, speeds in (
            (f"shift_{shift.id}_full_mph", plant.controls.upshift_speeds(1.0)),
            (f"shift_{shift.id}_light_mph", plant.controls.upshift_speeds(0.12)),
            (f"downshift_{down}_mph", plant.controls.downshift_speeds()),
            (f"kickdown_{down}_mph", plant.controls.kickdown_speeds()),
        ):
            read = value("T3 vacuum", f"road_test.{key}", {"governor_gain": 0.85})
            known = np.isfinite(read)
            assert known[0]
            np.testing.assert_allclose(read[known], speeds[known, i] * 3600.0 / 1609.344, rtol=1e-5)


def test_a_stall_is_let_go_where_it_runs_away_and_not_taken_where_it_cannot():
    """Read up to the limit, with the note that it was rising; without a shaft or with the engine dying, not at all."""

    def stalled(kind="T3 vacuum", **wrong):
        one = vehicles(kind, wrong).rows([2])
        return {each.key: each for each in make_inspections(one, ["stall_test"])["stall_test"].readings}[
            "stall_d_rpm"
        ]

    weak = stalled(wear_friction=0.01)
    assert weak.value == pytest.approx(3200.0, abs=50) and "rising" in weak.note
    for why, one in (
        ("nothing to load", stalled(vehicle_shaft=0.0)),
        ("dies", stalled("T4 cable", lockup_stuck=1.0)),
    ):
        assert one.value is None and why in one.note
    sound, tired = stalled(), stalled(engine_health=0.7)
    assert sound.note == tired.note == "" and tired.value / sound.value == pytest.approx(
        0.7**0.5, rel=0.05
    ), "square law"


def test_a_unit_that_lifts_moves_the_pressures_in_its_circuits():
    """The largest change, up or down, against the same unit held down; nothing of one that does not lift."""
    np.testing.assert_array_equal(
        road_test._largest(np.array([[1.0, -5.0, 2.0], [0.0, 3.0, -2.0]])), [-5.0, 3.0]
    )
    wrong = {"vehicle_mount_lift": 0.03}
    subject = vehicles(wrong=wrong)
    held = [AskedPoint("D", throttle=road_test.AGAINST_BRAKES, temperature=units.from_fahrenheit(180.0))]
    change = units.to_psi(subject.at(held).circuit - vehicles().at(held).circuit)[:, 0]
    read = value("T3 vacuum", "driveline_check.mount_line_move_psi", wrong)
    np.testing.assert_allclose(np.abs(read), np.abs(change).max(-1), rtol=1e-3, atol=1e-4)
    assert read[0] == 0.0 and np.all(np.sign(read[1:]) == np.sign(change[1:].sum(-1)))


# ---------------------------------------------------------------------- what the owner says
def owner_with(**felt) -> Subject:
    """A sound vehicle whose owner feels so much of each trouble."""
    return replace(vehicles().rows([0]), felt={name: np.array([[each]]) for name, each in felt.items()})


def test_the_owner_tells_what_he_notices_worst_first():
    """As many as he may, those he notices; the worst of all even if faint, and then as much of it as is noticed at all."""
    subject = owner_with(hot=0.6, slips=1.0, buzz=0.2, whines=0.55)
    assert interview._by_size({name: each.item() for name, each in interview._told(subject, 2).items()}) == [
        "slips",
        "hot",
    ]
    told = {name: each.item() for name, each in interview._told(subject, 4).items()}
    assert told == {"hot": 0.6, "slips": 1.0, "buzz": 0.0, "whines": 0.55}
    faint = {name: each.item() for name, each in interview._told(owner_with(hot=0.1, slips=0.05), 4).items()}
    assert faint == {"hot": interview.NOTICED, "slips": 0.0}
    assert interview._told(owner_with(), 4) == {} and interview.troubles_told(subject)[0] == "slips"


def test_the_places_where_it_slips_are_the_worst_of_the_day():
    """So many at most, and none where hardly anything is lost."""
    subject = vehicles(wrong={"wear_friction": 0.05}).rows([2])
    loss = subject.driving.loss[0]
    places = {name: each.item() for name, each in interview._places(subject).items()}
    worst = sorted((each for each in loss if each > interview.SLIPS), reverse=True)[: interview.MOST_PLACES]
    assert sorted((each for each in places.values() if each), reverse=True) == pytest.approx(worst) and worst
    assert list(places) == list(subject.day.names)
    assert interview.where_it_slips(subject)[0] == subject.say(subject.day.names[int(loss.argmax())])
    assert not interview.where_it_slips(vehicles().rows([0]))


def test_cold_makes_slower_by_what_the_first_gear_waits_longer():
    cold, warm = (
        vehicles().at([AskedPoint(lever, **more) for lever in "DR"]).delay
        for more in ({"cold_soaked": 1.0, "temperature": units.from_fahrenheit(68.0)}, {})
    )
    np.testing.assert_allclose(
        value("T3 vacuum", "interview.worse_cold"), (cold - warm).max((1, 2)), rtol=1e-4
    )


# ---------------------------------------------------------------------- one reading
def reading(number, spec=(62.0, 72.0), **more) -> Reading:
    return Reading(key="p_psi", label="P", value=number, unit="psi", spec=spec, sigma=1.0, **more)


@pytest.mark.parametrize(
    "number, spec, decimals, verdict, off",
    [
        (62.0, (62.0, 72.0), 0, "within spec", 0.0),
        (72.0, (62.0, 72.0), 0, "within spec", 0.0),
        (72.4, (62.0, 72.0), 0, "within spec", 0.0),
        (72.6, (62.0, 72.0), 0, "above spec", 1.0),
        (72.6, (62.0, 72.0), 1, "above spec", 0.6),
        (60.0, (62.0, 72.0), 0, "below spec", -2.0),
        (60.0, (None, 72.0), 0, "within spec", 0.0),
        (75.0, (None, 72.0), 0, "above spec", 3.0),
        (75.0, (62.0, None), 0, "within spec", 0.0),
        (61.0, (62.0, None), 0, "below spec", -1.0),
        (61.0, None, 0, "noted", 0.0),
        (None, (62.0, 72.0), 0, "not read", 0.0),
        (None, None, 0, "not read", 0.0),
    ],
)
def test_a_reading_against_its_spec(number, spec, decimals, verdict, off):
    """On the limit is within; an open end is never passed; what is not read is neither."""
    one = reading(number, spec, decimals=decimals)
    assert (one.verdict, one.deviation) == (verdict, pytest.approx(off))


def test_how_a_reading_is_written():
    """Thousands in groups, a true minus, no minus before nothing, a swing and a note behind it, an open spec in words."""
    assert reading(1234.4).found_text == "1,234\u202fpsi"
    assert reading(-0.2).found_text == "0\u202fpsi" and reading(-0.7).found_text == "\u22121\u202fpsi"
    assert reading(50.0, swing=(40.0, 60.0), note="hot").found_text == "50\u202fpsi (swinging 40 to 60), hot"
    assert reading(None).found_text == "not read"
    assert reading(5.0, (None, 72.0)).spec_text == "up to 72\u202fpsi"
    assert (
        reading(5.0, (62.0, None)).spec_text == "62 or more\u202fpsi"
        and reading(5.0, None).spec_text == "\u2013"
    )


INSTRUMENTS = {  # what is read with one and the same instrument
    "pressure gauge": ("line_pressure_*", "circuit_*_psi", "residual_*", "line_swing_psi"),
    "two pressure gauges": ("circuit_drop_*", "lockup_apply_drop_psi"),
    "low-pressure gauge": ("exhaust_*_psi",),
    "tachometer under way": (
        "*_slip_rpm",
        "owner_flare_rpm",
        "found_flare_rpm",
        "set_flare_rpm",
        "morning_flare_rpm",
    ),
    "vacuum gauge": ("manifold_vacuum_*", "modulator_*_inhg", "vacuum_swing_inhg"),
    "steel rule": ("cable_*_in", "kickdown_travel_in"),
    "feeler gauge": ("clearance_*_in", "end_play_in"),
    "watch": ("engage_*_s", "*_wait_s"),
    "timed pull": ("*_pull_pct", "pull_*_pct"),
    "air gauge": ("air_*_psi", "cooler_holds_psi"),
}


def test_one_instrument_is_off_by_as_much_wherever_it_is_used():
    """And a difference by the root of the sum of squares (JCGM 100:2008, section 5.1.2: uncorrelated readings)."""
    every = {
        each.key: each.sigma
        for kind in KINDS
        for part in inspect_population(vehicles(kind)).values()
        for each in part.measured
    }
    drops = [key for key in every if fnmatch(key, "circuit_drop_*")]
    sigma = {}
    for name, keys in INSTRUMENTS.items():
        mine = {key for key in every if any(fnmatch(key, pattern) for pattern in keys)}
        mine -= set(drops) if name == "pressure gauge" else set()
        assert len(mine) > 1, name
        (sigma[name],) = {every[key] for key in mine}
    assert sigma["two pressure gauges"] == pytest.approx(math.sqrt(2.0) * sigma["pressure gauge"], rel=0.05)


def test_old_dirt_is_of_every_metal_alike():
    old = [value("T3 vacuum", f"pan.{metal}", {"wear_debris": 1.0}) for metal in ("aluminum", "bronze")]
    np.testing.assert_allclose(*old)
    assert old[0][-1] > old[0][1] > 0.0


# ---------------------------------------------------------------------- a batch of readings and looks
def batch(**more) -> BatchReading:
    """Four vehicles' readings, one of which cannot be taken."""
    fields = {
        "key": "a_psi",
        "label": "A",
        "value": np.array([1.0, 2.0, np.nan, 4.0]),
        "unit": "psi",
        "sigma": 0.0,
    }
    return BatchReading(**fields | more)


def test_the_first_note_that_holds_is_said():
    notes = (("one", np.array([0, 1, 1, 0], bool)), ("two", np.array([0, 1, 0, 1], bool)))
    assert [batch(notes=notes).reading(i, 1, None).note for i in range(4)] == ["", "one", "one", "two"]


def test_what_is_left_out_is_not_read_and_says_why_before_anything_else():
    """On the others nothing changes; what is only asked of some is not shown of the others at all."""
    where = np.array([True, False, False, True])
    swing = np.array([[0.0, 2.0]] * 4)
    one = batch(swing=swing, notes=(("old", np.ones(4, bool)),)).left_out((("why", where),))
    assert np.isnan(one.value[where]).all() and one.value[1] == 2.0 and np.isnan(one.swing[0]).all()
    assert [one.reading(i, 1, None).note for i in range(4)] == ["why", "old", "old", "why"]
    assert one.reading(0, 1, None).swing is None and one.reading(1, 1, None).swing == (0.0, 2.0)
    some = batch().only(where, "not asked")
    assert some.reading(1, 1, None).note == "not asked" and some.reading(0, 1, None).value == 1.0
    rows = BatchFinding(measured=(some,))
    assert "a_psi" in rows.row(0, 1, {}).readings and "a_psi" not in rows.row(1, 1, {}).readings


def test_spread_puts_rows_in_their_places():
    wide = batch(swing=np.array([[0.0, 2.0]] * 4), notes=(("n", np.ones(4, bool)),)).spread(
        np.array([5, 3, 2, 0]), 6
    )
    np.testing.assert_array_equal(wide.value, [4.0, np.nan, np.nan, 2.0, np.nan, 1.0])
    assert list(wide.notes[0][1]) == [True, False, True, True, False, True]
    np.testing.assert_array_equal(wide.swing_width, [2.0, 0.0, 2.0, 2.0, 0.0, 2.0])
    assert list(batch().swing_width) == [0.0] * 4


def test_an_instrument_that_knows_no_less_than_nothing_shows_none():
    for signed, shown in ((False, 0.0), (True, -3.0)):
        assert batch(value=np.full(4, -3.0), signed=signed).reading(0, 1, None).value == shown
    nothing = batch(value=np.full(4, -0.3), signed=True).reading(0, 1, None).value
    assert math.copysign(1.0, nothing) == 1.0, "nothing has no sign"


def test_an_error_is_so_many_standard_deviations_of_the_instrument():
    """Twice the spread, twice off; both ends of a swing are off alike; rounded last."""
    from course_lib.shop.batch import instrument_error

    off = instrument_error(3, "a_psi")
    for sigma in (0.5, 1.0):
        ends = np.array([[40.0, 60.0]] * 4)
        one = batch(value=np.full(4, 50.0), sigma=sigma, decimals=4, swing=ends).reading(0, 3, None)
        assert one.value == pytest.approx(50.0 + sigma * off, abs=1e-4) and one.sigma == sigma
        assert one.swing == (
            pytest.approx(40.0 + sigma * off, abs=1e-4),
            pytest.approx(60.0 + sigma * off, abs=1e-4),
        )


def test_looks_are_graded_said_and_kept_quiet_about():
    """A quiet look is told only when it is more than nothing; without a caption the others are sentences of their own."""
    scale = next(name for name, each in all_scales().items() if len(each.words) > 2)
    top = all_scales()[scale].limits[-1]
    ends = np.array([-1.0, top])
    one, two = batch_looks(("a", scale, ends, "a: {}")), batch_looks(("b", scale, ends, "b: {}"), quiet=True)
    part = BatchFinding(seen=(*one, *two))
    words = all_scales()[scale].words
    for row, grade in ((0, 0), (1, len(words) - 1)):
        here = part.row(row, 1, {})
        assert here.looks["a"].grade == grade and here["a"] == f"a: {words[grade]}"
        assert part.always(here) == [sentence(f"a: {words[grade]}")]
        assert part.notable(here) == ([sentence(f"b: {words[grade]}")] if grade else [])
    told = BatchFinding(seen=(*one, *two), caption=lambda row: ["Told."])
    assert told.always(told.row(0, 1, {})) == ["Told."]
    some = one[0].only(np.array([True, False]))
    assert list(some.grades()) == [0, 0] and list(one[0].spread(np.array([2, 0]), 3).grades()) == [
        len(words) - 1,
        0,
        0,
    ]


# ---------------------------------------------------------------------- words and scales
def test_a_value_on_a_limit_has_the_next_word_and_no_number_the_least():
    scale = "bubbles"
    limits = np.array(all_scales()[scale].limits)
    assert list(grades(scale, limits)) == list(range(1, len(limits) + 1))
    assert list(grades(scale, limits - 1e-9)) == list(range(len(limits)))
    assert grades(scale, np.nan) == 0 and grades(scale, np.inf) == len(limits)


@pytest.mark.parametrize("limits, words", [((1.0,), ("a",)), ((2.0, 1.0), ("a", "b", "c")), ((), ("a", "b"))])
def test_a_scale_that_is_none_is_refused(limits, words):
    with pytest.raises(ValueError, match="limits must rise and be one fewer than words"):
        Scale(limits=limits, words=words)
    assert Scale(limits=(1.0, 2.0), words=("a", "b", "c")).limits == (1.0, 2.0)


@pytest.mark.parametrize(
    "text, said",
    [
        (" fluid red ", "Fluid red."),
        ("Why?", "Why?"),
        ("oh!", "Oh!"),
        ("\u201cIt slips.\u201d", "\u201cIt slips.\u201d"),
        ("t", "T."),
    ],
)
def test_a_sentence_ends_once(text, said):
    assert sentence(text) == said


# ---------------------------------------------------------------------- small rules
def test_the_first_place_where_it_is_so_counts():
    there = np.array([[0, 1, 1], [0, 0, 0], [1, 0, 1]], bool)
    values = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0], [7.0, 8.0, 9.0]])
    np.testing.assert_array_equal(gauges.first_where(there, values), [2.0, np.nan, 7.0])


def test_a_needle_swings_only_where_the_pump_gulps_air():
    """Short of fluid the needle swings between what it shows while drawing and what it falls to, and shows the middle."""
    short = vehicles(worn={"lost": 4.5e-3})
    work = short.at(
        [AskedPoint("P", engine_speed=units.from_rpm(2500), temperature=units.from_fahrenheit(180.0))]
    )
    shown = gauges.line_reading(short, work, 0, "x", "x")
    swings = np.isfinite(shown.swing[:, 0])
    assert not swings[0] and swings[-1]
    np.testing.assert_allclose(shown.value[swings], shown.swing[swings].mean(-1))
    np.testing.assert_allclose(shown.value[~swings], units.to_psi(work.line[~swings, 0]))
    assert np.all(shown.swing_width[swings] > gauges.LEAST_SWING)


def test_the_worst_place_is_read_and_named_where_it_is_out_of_spec():
    """Of places with and without a number the largest counts; a share below nothing is read without its sign."""
    subject = vehicles()
    places = len(subject.day.names)
    values = np.full((STEPS, places), np.nan)
    values[1, :2], values[2, 2] = (5.0, 900.0), 300.0
    slip = owner_drive._where_worst(subject, "owner_slip_rpm", "Slips by", values)
    assert np.isnan(slip.value[0]) and list(slip.value[1:]) == [900.0, 300.0]
    named = [slip.reading(row, 1, None).note for row in range(STEPS)]
    assert named == ["not reached", subject.say(subject.day.names[1]), subject.say(subject.day.names[2])]
    pull = owner_drive._where_worst(
        subject, "owner_pull_pct", "Pull", -np.where(np.isnan(values), 100.0, values / 10.0)
    )
    assert list(pull.value) == [100.0, 0.5, 30.0]


def finding(inspection, *shown) -> Finding:
    """A finding of one inspection with those readings and looks."""
    readings = tuple(each for each in shown if isinstance(each, Reading))
    seen = tuple(each for each in shown if isinstance(each, Look))
    return Finding(
        inspection=inspection, title="", minutes=1, made_at_f=None, words=(), readings=readings, looks=seen
    )


def test_a_trouble_is_confirmed_by_verdict_or_grade_and_not_by_less():
    """Of every trouble: each of its signs alone, just strong enough and just too weak, at an inspection and in talk."""
    for trouble, signs in complaint_check.all_complaints().items():
        for key, sign in signs.items():
            key = key.replace("*", "x")
            if isinstance(sign, int):
                enough, short = (Look(key=key, grade=grade, text="") for grade in (sign, sign - 1))
            else:
                spec = (1.0, 2.0)
                by = {"above spec": 3.0, "below spec": 0.0, "not read": None}
                enough, short = (
                    Reading(key=key, label="", value=number, unit="", spec=spec, sigma=0.0)
                    for number in (by[sign[0]], 1.5)
                )
            assert complaint_check.confirmed_by(trouble, [finding("road_test", enough)]) == (key,)
            assert complaint_check.confirmed_by(trouble, [finding("road_test", short)]) == ()
            assert complaint_check.confirmed_by(trouble, [finding("interview", enough)]) == ()
            twice = [finding("road_test", enough), finding("line_pressure", enough)]
            assert complaint_check.confirmed_by(trouble, twice) == (key,)


@pytest.mark.parametrize("quarts", [-1.5, -0.2, 0.2, 1.5])
def test_a_level_is_set_to_the_mark_and_only_where_it_is_far_off(quarts):
    """What is drawn off or filled is what was wrong; a level near the mark is left alone."""
    subject = vehicles(worn={"lost": quarts * units.QUART})
    far = level_setting.far_off(subject)
    assert list(far) == [False, False, abs(quarts) > 1.0], "a quart is about 0.6 in."
    there = level_setting.with_level_set(subject)
    np.testing.assert_allclose(level_setting.indicated(there), 0.0, atol=0.02)
    assert np.all(np.abs(there.condition.lost - there.condition.lost[0]) < 0.1 * units.QUART)


def test_a_finding_shown_in_other_units_stays_what_it_is():
    """Verdict and place on the limit stay; a step between two temperatures is a difference, not a temperature."""
    from course_lib.shop.display import finding_in_system, reading_in_system

    drop = Reading(key="cooler_drop_f", label="lost", value=18.0, unit="\u00b0F", spec=(9.0, 36.0), sigma=1.8)
    at = msgspec.structs.replace(drop, key="sump_temp_f", value=212.0, spec=(32.0, None), swing=(32.0, 212.0))
    shown, there = reading_in_system(drop, "metric"), reading_in_system(at, "metric")
    assert (shown.value, shown.spec, shown.sigma) == (10.0, (5.0, 20.0), pytest.approx(1.0))
    assert (there.value, there.spec, there.swing, there.unit) == (100.0, (0.0, None), (0.0, 100.0), "\u00b0C")
    assert there.sigma == pytest.approx(1.0), "a spread is a difference as well"
    assert reading_in_system(at, "workshop") == at
    blind = msgspec.structs.replace(at, value=None, spec=None, swing=None)
    assert (
        reading_in_system(blind, "metric").value is None and reading_in_system(blind, "metric").spec is None
    )
    whole = finding("pan", drop, Look(key="a", grade=2, text="dry"))
    turned = finding_in_system(whole, "metric")
    assert turned.readings == (shown,) and turned.looks == whole.looks
    with pytest.raises(ValueError, match="system"):
        reading_in_system(at, "imperial")


def test_seen_is_not_seen_where_it_is_not_looked_at():
    one = BatchLook(key="a", scale="bubbles", value=np.array([9.0, 9.0]))
    assert list(one.only(np.array([False, True])).grades()) == [0, grades("bubbles", 9.0)]


def test_old_fluid_does_not_smell_of_a_lining_that_is_not_burnt():
    """Common practice, no source: fluid that was never changed smells of frying oil and varnish; the sharp smell is of lining."""
    limits = all_scales()["smell"].limits
    assert limits[1] < walk_round.STALE < limits[2] < walk_round.STALE + walk_round.BURNT_SMELL


# ---------------------------------------------------------------------- an engine that runs away
def _running(engine, slip):
    return SimpleNamespace(engine_speed=units.from_rpm(np.array(engine)), slip=units.from_rpm(np.array(slip)))


def test_a_tester_lifts_before_the_engine_runs_away():
    """Common practice, no source: nobody holds the pedal down until the valves float; what slips where a sound engine turns as fast
    is read all the same."""
    ours = _running([3000.0, 5500.0, 5500.0, 5200.0, 6000.0], [900.0, 3000.0, 800.0, 300.0, 0.0])
    sound = _running([2100.0, 2500.0, 2500.0, 5000.0, 6000.0], [0.0] * 5)
    slip, rising = slip_until_lifted(ours, sound)
    np.testing.assert_allclose(slip, [900.0, 1500.0, 0.0, 100.0, 0.0])
    np.testing.assert_array_equal(rising, [False, True, True, True, False])
