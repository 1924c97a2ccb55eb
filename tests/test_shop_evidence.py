"""What the shop shows when one thing in a vehicle is wrong, and what it shows unchanged: how mechanics tell twins apart.

That these inspections tell these things apart is common practice, no source, unless a source stands beside the check.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from course_lib.base import units
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters, parameter_place

STEPS = 5
SHARES = np.linspace(0.0, 1.0, STEPS)


def shown(unit, signal, wrong, worn):
    """Values and grades by key of vehicles in which `wrong` (address -> value) and `worn` (entry -> value) grow from nothing."""
    spec = load_unit(unit)
    parameters = nominal_parameters(spec, STEPS, signal=signal)
    for address, value in wrong:
        name, column = parameter_place(spec, address)
        here = (slice(None), 0) if column is None else (slice(None), 0, column)
        sound = parameters[name][here].copy()
        parameters[name][here] = sound + SHARES * (value - sound)
    condition = new_condition(STEPS, spec)
    for name, value in worn:
        getattr(condition, name)[:] = (SHARES * value).reshape(
            STEPS, *[1] * (getattr(condition, name).ndim - 1)
        )
    return inspect_population(Subject(Plant(spec, parameters), condition, signal, "mixed"))


@cache
def evidence(unit, signal, wrong, worn=()):
    """Reading key -> (values, spec), look key -> grades, by "inspection.key"."""
    found, sheet = shown(unit, signal, wrong, worn), load_unit(unit).spec
    read = {
        f"{name}.{m.key}": (m.value, sheet.get(m.key))
        for name, part in found.items()
        for m in part.measured
        if m.asked is None or m.asked.any()
    }
    looks = {f"{name}.{s.key}": s.grades() for name, part in found.items() for s in part.seen}
    return read, looks


def outside(value, spec):
    """Below (-1), inside (0) or above (1) spec; 2 where nothing can be read."""
    if np.isnan(value):
        return 2
    return int(value > spec[1]) - int(value < spec[0])


# What is wrong (address -> value it grows to) | kind of vehicle | readings outside spec at the end | looks at the end, at
# least that grade | readings and looks that stay as they were
LOW, OK, HIGH, UNREAD = -1, 0, 1, 2
CASES = {
    "converter drains over night: both gears late once": (
        {"sump_night_drain": 2.0e-3},
        "T3 vacuum",
        {
            "cold_start.engage_d_first_s": HIGH,
            "cold_start.engage_r_first_s": HIGH,
            "cold_start.line_after_2s_psi": LOW,
            "cold_start.engage_d_second_s": OK,
            "road_test.engage_d_s": OK,
            "fluid_hot.level_hot_in": OK,
        },
        {"valve_body.drain_valve": 2, "interview.worse_cold": 1},
        ("teardown.rubber_forward",),
    ),
    "lip of the forward clutch hard: only its circuit, cold": (
        {"element_seal_set@forward_clutch": 1.0},
        "T3 vacuum",
        {
            "air_test.air_forward_clutch_psi": LOW,
            "air_test.air_direct_clutch_psi": OK,
            "line_pressure.circuit_drop_forward_cold_psi": HIGH,
            "line_pressure.circuit_drop_direct_cold_psi": OK,
            "line_pressure.line_pressure_r_cold_psi": OK,
        },
        {"air_test.hiss_forward": 2, "teardown.rubber_forward": 4, "pan.rubber_brittle": 1},
        ("teardown.rubber_direct", "pan.rubber_soft"),
    ),
    "swelling additive: soft, not hard": (
        {"fluid_swell": 1.0},
        "T3 vacuum",
        {"air_test.air_direct_clutch_psi": LOW},
        {
            "fluid_tests.additive": 2,
            "pan.rubber_soft": 2,
            "teardown.swollen_direct": 2,
            "air_test.return_late_direct": 2,
        },
        ("teardown.rubber_direct", "pan.rubber_brittle"),
    ),
    "lever out of step: cured by a nudge": (
        {"element_port_shut@forward_clutch": 0.95, "element_port_dump@forward_clutch": 9e-6},
        "T3 vacuum",
        {
            "linkage_check.lever_off_deg": HIGH,
            "line_pressure.line_pressure_d_idle_psi": OK,
            "line_pressure.circuit_drop_forward_psi": HIGH,
            "line_pressure.line_pressure_d_nudged_psi": OK,
            "line_pressure.line_pressure_r_idle_psi": OK,
            "air_test.air_forward_clutch_psi": OK,
        },
        {"linkage_check.detent": 3, "road_test.creep_n": 2},
        ("linkage_check.kickdown",),
    ),
    "valve body joins two passages: nothing with the body off": (
        {"element_crossfeed_body@direct_clutch": 0.4},
        "T3 vacuum",
        {
            "line_pressure.residual_direct_psi": HIGH,
            "line_pressure.residual_forward_psi": OK,
            "valve_body.body_gap_in": HIGH,
            "air_test.air_direct_clutch_psi": OK,
            "line_pressure.line_pressure_d_idle_psi": OK,
        },
        {"road_test.bind_first": 2, "valve_body.print_direct": 2},
        ("bare_case.weep_direct", "air_test.cross_direct", "road_test.bind_third"),
    ),
    "case joins two passages: still there with the body off": (
        {"element_crossfeed_case@direct_clutch": 0.4},
        "T3 vacuum",
        {"line_pressure.residual_direct_psi": HIGH, "valve_body.body_gap_in": OK},
        {"road_test.bind_first": 2, "bare_case.weep_direct": 2, "air_test.cross_direct": 2},
        ("valve_body.print_direct",),
    ),
    "cooler line crushed: a bypass hose cures it": (
        {"heat_line_open": 0.15},
        "T3 vacuum",
        {"cooler_check.cooler_flow_s_per_qt": HIGH, "cooler_check.cooler_bypass_s_per_qt": OK},
        {},
        ("cooler_check.return_grit", "walk_round.fins"),
    ),
    "cooler blocked inside: a bypass hose of the lines does not": (
        {"heat_cooler_open": 0.15},
        "T3 vacuum",
        {"cooler_check.cooler_flow_s_per_qt": HIGH, "cooler_check.cooler_bypass_s_per_qt": HIGH},
        {},
        ("cooler_check.return_grit", "walk_round.fins"),
    ),
    "no air through the fins: flow as it should be": (
        {"heat_cooler_air": 0.04},
        "T3 vacuum",
        {"cooler_check.sump_temp_f": HIGH, "cooler_check.cooler_flow_s_per_qt": OK},
        {"walk_round.fins": 3},
        ("cooler_check.return_grit",),
    ),
    "coolant in the fluid": (
        {"fluid_water": 0.02, "fluid_glycol": 1.0, "heat_cooler_breach": 6e-8},
        "T3 vacuum",
        {"cooler_pressure.cooler_holds_psi": LOW},
        {
            "fluid_hot.milk": 2,
            "fluid_tests.water": 2,
            "fluid_tests.glycol": 1,
            "cooler_pressure.coolant": 2,
            "pan.rust": 2,
        },
        ("pan.silt",),
    ),
    "water from outside: no glycol, and the cooler holds": (
        {"fluid_water": 0.02},
        "T3 vacuum",
        {"cooler_pressure.cooler_holds_psi": OK},
        {"fluid_hot.milk": 2, "fluid_tests.water": 2, "pan.silt": 2},
        ("fluid_tests.glycol", "cooler_pressure.coolant"),
    ),
    "stator spins: weak from rest only": (
        {"converter_stator_slip": 1.0},
        "T3 vacuum",
        {
            "road_test.pull_away_pct": LOW,
            "road_test.pull_60_pct": OK,
            "stall_test.stall_d_rpm": LOW,
            "exhaust_pressure.exhaust_2500_psi": OK,
            "engine_check.manifold_vacuum_inhg": OK,
        },
        {"converter_check.stator_free": 2},
        ("converter_check.stator_locked", "exhaust_pressure.revs_freely"),
    ),
    "stator seized: weak at speed only, the engine revs freely": (
        {"converter_stator_lock": 1.0},
        "T3 vacuum",
        {
            "road_test.pull_away_pct": OK,
            "road_test.pull_60_pct": LOW,
            "stall_test.stall_d_rpm": OK,
            "cooler_check.sump_temp_f": HIGH,
        },
        {"converter_check.stator_locked": 2},
        ("converter_check.stator_free", "exhaust_pressure.revs_freely"),
    ),
    "exhaust blocked: pressure at the tap, vacuum sinks, will not rev": (
        {"engine_exhaust": 4.0},
        "T3 vacuum",
        {
            "exhaust_pressure.exhaust_2500_psi": HIGH,
            "exhaust_pressure.manifold_vacuum_2500_inhg": LOW,
            "road_test.pull_60_pct": LOW,
        },
        {"exhaust_pressure.revs_freely": 1},
        ("converter_check.stator_free", "converter_check.stator_locked", "engine_check.roughness"),
    ),
    "engine misses: rough everywhere, not as gears come on": (
        {"engine_misfire": 0.15, "engine_health": 0.7},
        "T3 vacuum",
        {
            "engine_check.vacuum_swing_inhg": HIGH,
            "road_test.pull_away_pct": LOW,
            "road_test.pull_60_pct": LOW,
        },
        {"engine_check.roughness": 3, "road_test.judder_steady": 2},
        ("road_test.judder_12", "road_test.judder_23", "teardown.spots_direct"),
    ),
    "hot spots on one pack: only that pack shudders": (
        {"element_hot_spots@direct_clutch": 1.0},
        "T3 vacuum",
        {"line_pressure.circuit_drop_direct_psi": OK},
        {"road_test.judder_23": 2, "teardown.spots_direct": 2},
        ("road_test.judder_12", "road_test.judder_d", "road_test.judder_steady", "fluid_tests.shade"),
    ),
    "fluid that grabs: every engagement shudders": (
        {"fluid_judder": 1.0},
        "T3 vacuum",
        {"line_pressure.line_pressure_d_idle_psi": OK},
        {"road_test.judder_12": 1, "road_test.judder_d": 1, "fluid_tests.shade": 2},
        ("road_test.judder_steady", "teardown.spots_direct"),
    ),
    "cushion gone: one shift kicks": (
        {"element_accumulator@intermediate_band": 0.0},
        "T3 vacuum",
        {"line_pressure.line_pressure_d_idle_psi": OK, "signal_check.modulator_vacuum_inhg": OK},
        {"road_test.bump_12": 1, "air_test.accumulator_intermediate": 2},
        ("road_test.bump_23", "road_test.bump_d", "air_test.accumulator_direct"),
    ),
    "load signal high: every shift kicks, and late": (
        {"signal_hose_leak": 0.7},
        "T3 vacuum",
        {
            "road_test.shift_12_light_mph": HIGH,
            "road_test.shift_23_light_mph": HIGH,
            "line_pressure.line_pressure_d_idle_psi": HIGH,
            "signal_check.modulator_vacuum_inhg": LOW,
            "signal_check.manifold_vacuum_inhg": OK,
            "signal_check.modulator_holds_inhg": OK,
        },
        {
            "road_test.bump_12": 1,
            "road_test.bump_23": 1,
            "road_test.bump_d": 1,
            "signal_check.hose_hisses": 2,
        },
        ("signal_check.hose_wet", "air_test.accumulator_intermediate"),
    ),
    "idle fast: only engaging kicks": (
        {"engine_idle": units.from_rpm(1250)},
        "T3 vacuum",
        {"engine_check.idle_speed_rpm": HIGH, "line_pressure.line_pressure_d_idle_psi": OK},
        {"road_test.bump_d": 1, "road_test.bump_r": 1},
        ("road_test.bump_12", "road_test.bump_23", "road_test.clunk"),
    ),
    "joint worn: a clunk, pressures right": (
        {"vehicle_lash": 0.15},
        "T3 vacuum",
        {"driveline_check.joint_play_deg": HIGH, "line_pressure.line_pressure_d_idle_psi": OK},
        {"road_test.clunk": 2},
        ("road_test.bump_d", "road_test.bump_12", "driveline_check.wheels_follow"),
    ),
    "shaft broken: pressures right, no drive, the shaft turns": (
        {"vehicle_shaft": 0.0},
        "T3 vacuum",
        {
            "road_test.pull_away_pct": LOW,
            "line_pressure.line_pressure_d_idle_psi": OK,
            "line_pressure.line_pressure_r_idle_psi": OK,
        },
        {"driveline_check.wheels_follow": 1},
        ("air_test.hiss_forward",),
    ),
    "brakes drag": (
        {"vehicle_brake_drag": 900.0},
        "T3 vacuum",
        {"driveline_check.wheel_drag_lbf": HIGH},
        {"road_test.rolls": 2, "driveline_check.brake_hot": 2},
        ("walk_round.fins", "driveline_check.wheels_follow"),
    ),
    "mount broken: pressures move as the unit lifts": (
        {"vehicle_mount_lift": 0.03},
        "T3 cable",
        {
            "driveline_check.mount_lift_in": HIGH,
            "driveline_check.mount_line_move_psi": HIGH,
            "line_pressure.line_pressure_d_idle_psi": OK,
            "signal_check.cable_rest_in": OK,
        },
        {},
        ("signal_check.cable_drags", "linkage_check.detent"),
    ),
    "governor gone: no upshift, line right": (
        {"governor_gear": 0.0},
        "T3 vacuum",
        {
            "road_test.shift_12_light_mph": UNREAD,
            "road_test.shift_23_full_mph": UNREAD,
            "governor_pressure.governor_pressure_40_psi": LOW,
            "road_test.pull_away_pct": OK,
            "road_test.pull_60_pct": UNREAD,
            "line_pressure.line_pressure_d_idle_psi": OK,
        },
        {},
        ("road_test.hold_manual_1", "valve_body.shift_valve_12", "road_test.start_gear"),
    ),
    "governor stuck open: starts in third": (
        {"governor_stuck": units.from_psi(35.0)},
        "T3 vacuum",
        {"governor_pressure.governor_pressure_0_psi": HIGH, "road_test.shift_23_light_mph": LOW},
        {"road_test.start_gear": 2},
        ("converter_check.stator_free", "road_test.hold_manual_1"),
    ),
    "one shift valve hangs: that shift and none below it": (
        {"shift_stuck@23": 1.0},
        "T3 vacuum",
        {
            "road_test.shift_23_light_mph": UNREAD,
            "road_test.shift_12_light_mph": OK,
            "governor_pressure.governor_pressure_40_psi": OK,
            "line_pressure.circuit_direct_psi": LOW,
            "line_pressure.circuit_drop_direct_psi": OK,
        },
        {"valve_body.shift_valve_23": 3},
        ("valve_body.shift_valve_12",),
    ),
    "kickdown off: nothing but the kickdown": (
        {"signal_kickdown": 0.0},
        "T3 vacuum",
        {
            "road_test.kickdown_32_mph": UNREAD,
            "road_test.shift_12_full_mph": OK,
            "linkage_check.kickdown_travel_in": LOW,
        },
        {"linkage_check.kickdown": 2},
        ("linkage_check.detent",),
    ),
    "trapped vacuum: right at idle, wrong under load, right by hand": (
        {"signal_trapped": 0.9},
        "T3 vacuum",
        {
            "signal_check.modulator_vacuum_inhg": OK,
            "signal_check.modulator_full_load_vacuum_inhg": HIGH,
            "line_pressure.line_pressure_d_idle_psi": OK,
            "signal_by_hand.line_pressure_p_signal_high_psi": OK,
            "signal_by_hand.line_pressure_p_signal_pedal_psi": LOW,
        },
        {},
        ("signal_check.hose_wet", "signal_check.hose_hisses"),
    ),
    "pack without clearance: creeps in N, pressures right": (
        {"element_clearance@forward_clutch": 0.5e-4},
        "T3 vacuum",
        {
            "measure.clearance_forward_in": LOW,
            "line_pressure.line_pressure_d_idle_psi": OK,
            "air_test.air_forward_clutch_psi": OK,
        },
        {"road_test.creep_n": 2, "air_test.stroke_short_forward": 2},
        ("linkage_check.detent", "air_test.cross_forward"),
    ),
    "one-way clutch backward": (
        {"element_reversed@low_one_way_clutch": 1.0},
        "T3 vacuum",
        {
            "road_test.pull_away_pct": LOW,
            "stall_test.stall_d_rpm": HIGH,
            "line_pressure.line_pressure_d_idle_psi": OK,
        },
        {
            "teardown.reversed_low_one_way_clutch": 1,
            "road_test.hold_first_hard": 4,
        },
        ("teardown.roller_low_one_way_clutch", "road_test.bind_reverse"),
    ),
    "overdrive clutch slack: no engine braking in third, none missing in fourth": (
        {"element_leak@overdrive_clutch": 4e-11},
        "T4 cable",
        {"air_test.air_overdrive_clutch_psi": LOW},
        {"road_test.coast_third": 1, "road_test.coast_manual_2": 1},
        ("road_test.coast_fourth", "air_test.hiss_overdrive_brake"),
    ),
    "lock-up hung on: the engine dies on stopping": (
        {"lockup_stuck": 1.0},
        "T4 cable",
        {"line_pressure.lockup_release_rest_psi": LOW, "engine_check.idle_speed_rpm": OK},
        {"road_test.dies_stopping": 1, "valve_body.lockup_valve": 3},
        ("engine_check.roughness",),
    ),
    "lock-up ring leaks: shudder while cruising only": (
        {"lockup_leak": 30.0},
        "T4 cable",
        {
            "line_pressure.lockup_apply_drop_psi": HIGH,
            "road_test.lockup_slip_rpm": HIGH,
            "line_pressure.line_pressure_d_idle_psi": OK,
        },
        {"road_test.judder_lockup": 2},
        ("road_test.judder_12", "road_test.judder_d", "road_test.judder_steady"),
    ),
    "regulator bore worn: low hot and idling, pump faces sound, that bore alone": (
        {"line_body_leak": 5.5e-12},
        "T3 vacuum",
        {
            "valve_body.bore_vacuum_regulator_inhg": LOW,
            "valve_body.bore_vacuum_shift_23_inhg": OK,
            "valve_body.bore_vacuum_boost_inhg": OK,
            "line_pressure.line_pressure_d_idle_psi": LOW,
            "line_pressure.line_pressure_p_2000_psi": OK,
            "measure.pump_face_in": OK,
            "air_test.air_direct_clutch_psi": OK,
        },
        {},
        ("valve_body.regulator", "teardown.pump_scored", "road_test.whine_pump"),
    ),
    "bore of the 2-3 valve worn: short at the tap, tight with the body off": (
        {"element_bore_leak@direct_clutch": 1.5e-12},
        "T3 vacuum",
        {
            "line_pressure.circuit_drop_direct_psi": HIGH,
            "line_pressure.circuit_drop_forward_psi": OK,
            "air_test.air_direct_clutch_psi": OK,
            "valve_body.bore_vacuum_shift_23_inhg": LOW,
            "valve_body.bore_vacuum_shift_12_inhg": OK,
        },
        {},
        ("air_test.hiss_direct", "teardown.rings_direct", "valve_body.shift_valve_23"),
    ),
    "sun gear shell off its splines: only first, and steel": (
        {
            "element_splines@direct_clutch": 0.0,
            "element_splines@intermediate_band": 0.0,
            "train_end_play": 1.8e-3,
        },
        "T3 vacuum",
        {
            "road_test.road_manual_1_slip_rpm": OK,
            "road_test.road_second_pull_slip_rpm": HIGH,
            "road_test.road_reverse_ramp_slip_rpm": HIGH,
            "line_pressure.circuit_drop_direct_psi": OK,
            "air_test.air_direct_clutch_psi": OK,
            "measure.end_play_in": HIGH,
        },
        {"teardown.splines_direct": 2, "teardown.splines_intermediate": 2, "pan.steel": 3},
        ("teardown.splines_forward", "teardown.charred_direct", "teardown.thrust"),
    ),
    "snap ring out: pressure at the tap, and nothing held": (
        {"element_backing@direct_clutch": 0.0},
        "T3 vacuum",
        {
            "road_test.road_reverse_ramp_slip_rpm": HIGH,
            "road_test.road_second_pull_slip_rpm": OK,
            "line_pressure.circuit_drop_direct_psi": OK,
            "air_test.air_direct_clutch_psi": OK,
            "measure.clearance_direct_in": OK,
        },
        {"air_test.stroke_long_direct": 2, "teardown.snap_ring_direct": 2},
        ("teardown.snap_ring_forward", "teardown.rings_direct", "air_test.stroke_long_forward"),
    ),
    "gasket covers a hole: second late, servo tight": (
        {"element_feed_area@intermediate_band": 3e-7},
        "T3 vacuum",
        {
            "road_test.flare_12_rpm": HIGH,
            "air_test.air_intermediate_band_psi": OK,
            "road_test.engage_r_s": OK,
        },
        {"valve_body.gasket_intermediate": 2},
        ("valve_body.gasket_direct", "valve_body.balls_in_tray", "teardown.servo_intermediate"),
    ),
    "flex plate cracked: knocks idling, seen through the hole": (
        {"converter_plate_crack": 1.0},
        "T3 vacuum",
        {"converter_check.hub_runout_in": HIGH, "driveline_check.joint_play_deg": OK},
        {"road_test.knock_idle": 2, "driveline_check.plate_hole": 2, "converter_check.flexplate": 2},
        ("road_test.knock_load", "driveline_check.bolts_hole", "teardown.bushing_side", "road_test.clunk"),
    ),
    "converter bolts loose: rattles with the pedal": (
        {"converter_bolts_loose": 1.0},
        "T3 vacuum",
        {"converter_check.hub_runout_in": OK, "driveline_check.joint_play_deg": OK},
        {"road_test.knock_load": 3, "driveline_check.bolts_hole": 2},
        ("road_test.knock_idle", "driveline_check.plate_hole", "road_test.clunk"),
    ),
    "park pawl on the edge of its teeth": (
        {"lever_park_short": 0.9},
        "T3 cable",
        {"pan.park_reach_in": LOW, "linkage_check.lever_off_deg": OK, "linkage_check.switch_off_deg": OK},
        {"linkage_check.park": 2, "pan.park_pawl": 2},
        ("linkage_check.detent", "linkage_check.cranks"),
    ),
    "neutral switch moved": (
        {"lever_switch_off": 0.25},
        "T3 cable",
        {"linkage_check.switch_off_deg": HIGH, "linkage_check.lever_off_deg": OK, "pan.park_reach_in": OK},
        {"linkage_check.cranks": 3},
        ("linkage_check.detent", "linkage_check.park"),
    ),
    "lock-up orifice closed: short of apply pressure, ring and bore tight": (
        {"lockup_orifice": 0.07},
        "T4 cable",
        {
            "line_pressure.lockup_apply_drop_psi": HIGH,
            "air_test.air_lockup_psi": OK,
            "valve_body.bore_vacuum_lockup_inhg": OK,
        },
        {"valve_body.lockup_orifice": 2, "road_test.judder_lockup": 1},
        ("converter_check.lockup_ring", "converter_check.lockup_facing"),
    ),
    "lock-up apply bore worn: holds no vacuum": (
        {"lockup_bore": 0.9},
        "T4 cable",
        {
            "line_pressure.lockup_apply_drop_psi": HIGH,
            "air_test.air_lockup_psi": OK,
            "valve_body.bore_vacuum_lockup_inhg": LOW,
            "valve_body.bore_vacuum_regulator_inhg": OK,
        },
        {"road_test.judder_lockup": 1},
        ("valve_body.lockup_orifice", "converter_check.lockup_ring", "valve_body.lockup_valve"),
    ),
    "lock-up lining too narrow: slides under full apply pressure": (
        {"lockup_lining": 0.5},
        "T4 cable",
        {
            "line_pressure.lockup_apply_drop_psi": OK,
            "road_test.lockup_slip_rpm": HIGH,
            "valve_body.bore_vacuum_lockup_inhg": OK,
        },
        {"converter_check.lockup_facing": 1, "road_test.judder_lockup": 1},
        ("valve_body.lockup_orifice", "converter_check.lockup_ring"),
    ),
    "three leaks, each where it is": (
        {"leak_pan": 4e-9, "leak_selector": 4e-9, "leak_line": 4e-9, "sump_rail_bend": 1.5e-3},
        "T3 vacuum",
        {"pan.pan_rail_gap_in": HIGH},
        {
            "walk_round.wet_pan": 2,
            "walk_round.wet_selector": 2,
            "walk_round.wet_line": 2,
            "dye_test.dye_pan": 2,
            "dye_test.dye_selector": 2,
            "dye_test.dye_line": 2,
        },
        ("walk_round.wet_rear", "walk_round.wet_front", "dye_test.dye_rear", "dye_test.dye_front"),
    ),
    "hub off center": (
        {"pump_offset": 3.5e-4, "leak_front": 2e-9},
        "T3 vacuum",
        {"converter_check.hub_runout_in": HIGH},
        {"road_test.knock_idle": 2, "teardown.bushing_side": 2, "walk_round.wet_front": 2},
        ("walk_round.wet_rear", "road_test.clunk"),
    ),
    "drive lugs broken: nothing circulates": (
        {"pump_drive": 0.05},
        "T3 vacuum",
        {
            "line_pressure.line_pressure_p_idle_psi": LOW,
            "line_pressure.line_pressure_r_idle_psi": LOW,
            "road_test.pull_away_pct": LOW,
            "air_test.air_forward_clutch_psi": OK,
        },
        {"teardown.pump_lugs": 2, "road_test.whine_pump": 3},
        ("air_test.hiss_forward",),
    ),
    "old debris circulates": (
        {"wear_debris": 1.0},
        "T3 vacuum",
        {"line_pressure.line_pressure_p_idle_psi": OK},
        {"pan.old_dirt": 2, "cooler_check.return_grit": 2, "fluid_tests.specks": 3},
        ("pan.powder", "fluid_hot.color"),
    ),
    "feed pin green: what shares it is short of current under load, coils and relay right": (
        {"wire_contact@feed_b": 8.0},
        "E6 electronic",
        {
            "volt_drop.feed_b_v": HIGH,
            "volt_drop.feed_b_lockup_v": HIGH,
            "volt_drop.feed_a_v": OK,
            "volt_drop.relay_v": OK,
            "command_actual.gap_pcd_lockup_a": LOW,
            "command_actual.gap_pca_a": OK,
            "solenoid_case.pcd_ohm": OK,
            "line_command.gap_idle_psi": OK,
        },
        {"plug_look.green": 3},
        ("plug_look.spread", "wiggle.jump"),
    ),
    "relay contacts burnt: both feeds drop together": (
        {"wire_contact@relay_k1": 1.5},
        "E6 electronic",
        {
            "volt_drop.relay_v": HIGH,
            "volt_drop.feed_a_v": HIGH,
            "volt_drop.feed_b_v": HIGH,
            "ground_drop.g1_v": OK,
        },
        {},
        ("plug_look.green",),
    ),
    "ground rotten: the controller sees low volts, the battery is right": (
        {"wire_contact@ground_g1": 1.5},
        "E6 electronic",
        {
            "ground_drop.g1_v": HIGH,
            "ground_drop.g2_crank_v": OK,
            "data_parked.volts_v": LOW,
            "battery_charging.charge_v": OK,
            "volt_drop.relay_v": OK,
        },
        {},
        ("plug_look.plug_water",),
    ),
    "battery weak: every controller complains": (
        {"supply_rest": 11.6, "supply_charge": 12.2, "supply_resistance": 0.03},
        "E6 electronic",
        {
            "battery_charging.rest_v": LOW,
            "battery_charging.crank_v": LOW,
            "battery_charging.charge_v": LOW,
            "codes.controllers": HIGH,
            "ground_drop.g1_v": OK,
        },
        {},
        ("wiggle.jump",),
    ),
    "fluid sensor's pin fretted: reads cold, most when hot, sensor right at its own pins": (
        {"wire_contact@wire_tft": 1000.0},
        "E6 electronic",
        {
            "level_window.tft_error_f": LOW,
            "data_parked.tft_minus_ambient_f": LOW,
            "solenoid_tcm.tft_ohm_gap": HIGH,
            "solenoid_case.tft_ohm_68": OK,
        },
        {"plug_look.fretted": 3, "wiggle.jump": 1},
        ("plug_look.plug_water", "soak.wet"),
    ),
    "fluid sensor drifted: wrong at its own pins": (
        {"sensor_scale@tft": 2.0},
        "E6 electronic",
        {
            "data_parked.tft_minus_ambient_f": LOW,
            "solenoid_case.tft_ohm_68": HIGH,
            "solenoid_tcm.tft_ohm_gap": OK,
        },
        {},
        ("plug_look.fretted", "wiggle.jump"),
    ),
    "water in the case plug: reads hot after a damp night, right when dry": (
        {"sensor_leak@tft": 5e-4},
        "E6 electronic",
        {"data_parked.tft_minus_ambient_f": HIGH, "level_window.tft_error_f": OK},
        {"plug_look.plug_water": 2, "soak.wet": 2},
        ("soak.hot", "wiggle.jump"),
    ),
    "terminal spread: jumps by hand, ohms right": (
        {"wire_shake@wire_pce": 1.0},
        "E6 electronic",
        {"solenoid_case.pce_ohm": OK, "solenoid_tcm.pce_tcm_ohm": OK, "command_actual.gap_pce_a": OK},
        {"plug_look.spread": 3, "wiggle.jump": 2},
        ("soak.hot", "plug_look.chafe"),
    ),
    "loom parts hot: right cold, open hot": (
        {"wire_opens_above@loom_pcc": 370.0},
        "E6 electronic",
        {"solenoid_case.pcc_ohm": OK, "solenoid_case.pcc_hot_ohm": HIGH, "solenoid_case.pcd_hot_ohm": OK},
        {"soak.hot": 2},
        ("wiggle.jump", "soak.wet"),
    ),
    "gap of the output sensor: weak, and lost near rest": (
        {"sensor_gap@oss": 4e-3},
        "E6 electronic",
        {"sensor_scope.oss_v_per_1000": LOW, "sensor_scope.oss_rest_v": OK, "data_road.oss_wheel_pct": OK},
        {"data_road.oss_dropouts": 1},
        ("soak.hot",),
    ),
    "tooth gone: every ratio high alike": (
        {"sensor_teeth_short@oss": 1.0},
        "E6 electronic",
        {
            "sensor_scope.oss_long_gaps": HIGH,
            "sensor_scope.oss_v_per_1000": OK,
            "data_road.oss_wheel_pct": LOW,
            "data_road.ratio_error_2_pct": HIGH,
            "data_road.ratio_error_5_pct": HIGH,
        },
        {},
        ("data_road.oss_dropouts",),
    ),
    "fluid crept into the controller's plug: low level lifted there, right at the case": (
        {"wire_leak@wire_tss": 1.5e-4},
        "E6 electronic",
        {"sensor_scope.tss_low_v": HIGH, "sensor_scope.tss_low_x1_v": OK},
        {"plug_look.oil": 2},
        ("soak.hot_tss",),
    ),
    "lever's sensor off its mark": (
        {"sensor_offset@trs": 0.13},
        "E6 electronic",
        {"range_check.offset_deg": HIGH, "range_check.lever_off_deg": OK},
        {"data_parked.range_agrees": 1, "range_check.line_without_d": 1},
        ("range_check.detent",),
    ),
    "pressure switch welded": (
        {"sensor_stuck@psh": 1.0},
        "E6 electronic",
        {"switch_check.psh_off_ohm": LOW, "line_command.gap_idle_psi": OK},
        {"data_parked.psh_closed": 1},
        ("data_parked.psl_closed",),
    ),
    "brake switch on: no lock-up is commanded": (
        {"sensor_stuck@brake": 1.0},
        "E6 electronic",
        {"data_road.tcc_command_pct": LOW, "line_command.tcc_apply_psi": LOW},
        {"data_parked.brake_on": 1, "switch_check.brake_free": 1},
        ("switch_check.pedal_jump",),
    ),
    "screen packed: the line lags a pedal step, steady it follows": (
        {"solenoid_lag@pca": 0.4},
        "E6 electronic",
        {"line_command.gap_step_psi": LOW, "line_command.gap_idle_psi": OK, "command_actual.gap_pca_a": OK},
        {"valve_bench.screen_blocked": 2},
        ("plug_look.green",),
    ),
    "bore of the lock-up valve worn: its tap low under command": (
        {"solenoid_bore@tcp": 3.0},
        "E6 electronic",
        {
            "line_command.tcc_apply_psi": LOW,
            "valve_bench.tcc_bore_inhg": LOW,
            "valve_bench.rc_bore_inhg": OK,
            "command_actual.gap_tcp_a": OK,
        },
        {},
        ("valve_bench.screen_blocked",),
    ),
    "rings of a drum leak: taps sink in third, fifth and reverse, valves right": (
        {"element_leak@reduction_clutch": 2.0e-12},
        "E6 electronic",
        {
            "line_command.dip_3_psi": HIGH,
            "line_command.dip_r_psi": HIGH,
            "line_command.dip_2_psi": OK,
            "valve_bench.rc_bore_inhg": OK,
        },
        {"air_test.hiss_rc": 1, "teardown.rings_rc": 1},
        ("air_test.hiss_sb",),
    ),
    "learned values of another unit": (
        {"control_stale_fill": 0.055},
        "E6 electronic",
        {"adapts_read.fill_rc_ms": HIGH, "adapts_read.fill_lc_ms": HIGH, "measure.clearance_rc_in": OK},
        {},
        ("data_set.calibration_matches",),
    ),
    "tire size entered wrong: speeds shown, not ratios": (
        {"control_tire_scale": 1.106},
        "E6 electronic",
        {
            "data_set.tire_pct": HIGH,
            "data_road.shown_mph_at_60": LOW,
            "data_road.ratio_error_3_pct": OK,
            "data_road.oss_wheel_pct": LOW,  # what sets P0721
        },
        {},
        ("data_set.calibration_matches",),
    ),
    "two tire sizes: the wheels disagree": (
        {"bus_wheel_spread": 0.1},
        "E6 electronic",
        {"data_set.sidewall_spread_pct": HIGH, "data_road.oss_wheel_pct": LOW, "data_set.tire_pct": OK},
        {},
        ("data_road.oss_dropouts",),
    ),
    "a terminator gone": (
        {"bus_termination": 1e6},
        "E6 electronic",
        {"bus_check.ohm": HIGH, "bus_check.modules_missing": OK},
        {},
        ("data_parked.brake_on",),
    ),
    "a module silent: all others complain": (
        {"bus_wheels_silent": 1.0},
        "E6 electronic",
        {"bus_check.modules_missing": HIGH, "bus_check.ohm": OK, "codes.controllers": HIGH},
        {},
        ("data_parked.brake_on",),
    ),
    "coil shorted: low at the case plug, cold and hot": (
        {"solenoid_coil@pcc": 1.4},
        "E6 electronic",
        {"solenoid_case.pcc_ohm": LOW, "solenoid_case.pcc_hot_ohm": LOW, "solenoid_case.pcb_ohm": OK},
        {},
        ("wiggle.jump",),
    ),
    "short behind a blown fuse: the feed to ground": (
        {"wire_open@fuse_f1": 1.0, "wire_leak@feed_a": 3.0},
        "E6 electronic",
        {
            "solenoid_tcm.feed_a_ground_ohm": LOW,
            "solenoid_tcm.feed_b_ground_ohm": LOW,
            "volt_drop.feed_a_v": HIGH,
            "volt_drop.relay_v": OK,
        },
        {"plug_look.fuse_f1": 1, "plug_look.chafe": 3},
        ("plug_look.fuse_f2",),
    ),
    "fluid short: at the plug, in a bend, in the pan": (
        {"sump_charge": 7.79e-3},
        "E6 electronic",
        {"level_window.short_qt": HIGH, "line_command.jitter_psi": HIGH, "level_window.tft_error_f": OK},
        {},
        ("plug_look.plug_water",),
    ),
    "one cylinder misses: the shudder stays with the lock-up off": (
        {"engine_misfire": 0.10},
        "E6 electronic",
        {"data_road.misfires": HIGH, "data_road.tcc_swing_rpm": OK},
        {"actuator.tcc_off_judder": 1, "engine_check.roughness": 1},
        ("soak.hot",),
    ),
    "plugs exchanged: another gear, exactly; currents right, the wrong taps": (
        {"control_plugs_swapped": 1.0},
        "E6 electronic",
        {
            "command_actual.gap_pcd_a": OK,
            "command_actual.gap_pce_a": OK,
            "line_command.tap_rc_psi": LOW,
            "line_command.tap_sb_psi": LOW,
            "line_command.tap_lc_psi": OK,
            "data_road.ratio_error_4_pct": OK,
        },
        {"valve_bench.map_wrong": 1},
        ("plug_look.green",),
    ),
    "spool sticky: electrically perfect": (
        {"solenoid_hysteresis@pce": 3e5},
        "E6 electronic",
        {
            "valve_bench.pce_hysteresis_psi": HIGH,
            "solenoid_case.pce_ohm": OK,
            "command_actual.gap_pce_a": OK,
            "shift_graph.flare_12_rpm": HIGH,
            "shift_graph.flare_34_rpm": OK,
            "line_command.dip_2_psi": OK,
        },
        {"valve_bench.spool_film": 2},
        ("wiggle.jump",),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_wrong_shows_where_mechanics_look_for_it(case):
    """At the end of the road the deciding readings are out, those of the twins are not, and no look grows milder on the way."""
    wrong, kind, expected, seen, untouched = CASES[case]
    unit, signal = kind.split()
    read, looks = evidence(unit, signal, tuple(wrong.items()))
    got = {key: outside(values[-1], spec) for key, (values, spec) in read.items() if key in expected}
    assert got == expected
    for key, least in seen.items():
        assert looks[key][0] == 0 and looks[key][-1] >= least, (key, looks[key])
        assert np.all(np.diff(looks[key]) >= 0), (key, looks[key])
    for key in untouched:
        assert looks[key][-1] == looks[key][0] == 0, (key, looks[key])


WORN = {
    "planet pins dry": (
        {"planetary": 0.8},
        {"road_test.whine_gears": 3, "teardown.planet": 3, "teardown.thrust": 2, "pan.steel": 2},
        ("road_test.whine_pump",),
    ),
    "joints shocked": ({"driveline": 0.7}, {"road_test.clunk": 2}, ("road_test.knock_idle",)),
    "linings soaked": (
        {"soaked": 0.9},
        {"teardown.soaked_direct": 2, "pan.flakes": 2},
        ("teardown.swollen_direct",),
    ),
    "fluid worn out": (
        {"oxidation": 1.5},
        {"fluid_hot.color": 5, "fluid_tests.paper": 3, "valve_body.varnish": 1},
        ("fluid_hot.milk",),
    ),
    "packs burnt": (
        {"char": 0.9},
        {"teardown.charred_direct": 4, "teardown.steel_direct": 3, "pan.smell": 3},
        ("teardown.spots_direct",),
    ),
    "drum lugs cracked": (
        {"holding": 0.9},
        {"teardown.drum_direct": 3, "teardown.roller_low_one_way_clutch": 3},
        ("teardown.reversed_low_one_way_clutch",),
    ),
    "pump worn": (
        {"pump": 1.3},
        {"teardown.pump_scored": 2, "road_test.whine_pump": 2, "fluid_tests.specks": 3},
        ("teardown.pump_lugs",),
    ),
}


@pytest.mark.parametrize("case", WORN)
def test_wear_shows_in_the_parts_and_in_the_pan(case):
    """What is worn is seen, heard or lies in the pan; a new vehicle shows none of it."""
    worn, seen, untouched = WORN[case]
    _, looks = evidence("T3", "vacuum", (), tuple(worn.items()))
    for key, least in seen.items():
        assert looks[key][0] == 0 and looks[key][-1] >= least, (key, looks[key])
        assert np.all(np.diff(looks[key]) >= 0)
    assert all(looks[key][-1] == 0 for key in untouched)


@pytest.mark.parametrize("kind", ["T3 vacuum", "T3 cable", "T4 cable", "E6 electronic"])
def test_a_sound_new_vehicle_shows_nothing(kind):
    """Every reading of the sheets' own vehicle is within spec, and every look at its least but for the fuzz on the magnet.

    Without a code there is no freeze frame to read.
    """
    read, looks = evidence(*kind.split(), ())
    out = {key for key, (v, spec) in read.items() if spec is None or outside(v[0], spec)}
    assert {key for key in out if not key.startswith("codes.frame_")} == set()
    assert {key for key, grade in looks.items() if grade[0]} == {"pan.magnet"}


def test_workshop_numbers_against_published_limits():
    """Engages under 1.2 s in D and 1.5 s in R, exhaust under 1.25 psi at idle and 3 at 2,500 rpm, a quart off the cooler in 30 s.

    Usual limits of workshop and engine-rebuilding bulletins, from memory; common practice.
    """
    read, _ = evidence("T3", "vacuum", ())
    most = {
        "road_test.engage_d_s": 1.2,
        "road_test.engage_r_s": 1.5,
        "exhaust_pressure.exhaust_idle_psi": 1.25,
        "exhaust_pressure.exhaust_2500_psi": 3.0,
        "cooler_check.cooler_flow_s_per_qt": 30.0,
    }
    found = {key: read[key][0][0] for key in most}
    assert all(found[key] <= limit for key, limit in most.items()), found


def test_drag_and_play_in_workshop_units():
    """445 N is 100 lbf and a hundredth of a turn 3.6 degrees (NIST SP 811, conversion factors)."""
    read, _ = evidence("T3", "vacuum", (("vehicle_brake_drag", 444.822), ("vehicle_lash", 0.02 * np.pi)))
    assert read["driveline_check.wheel_drag_lbf"][0][-1] == pytest.approx(100.0, abs=1e-3)
    assert read["driveline_check.joint_play_deg"][0][-1] == pytest.approx(3.6)
