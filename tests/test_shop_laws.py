"""Each thing that is wrong shows in its own readings and looks, by its size, and in no other: one thing moved at a time.

Where a reading follows from a size by units or simple geometry alone, it is worked out by hand.
"""

from __future__ import annotations

import math
from functools import cache
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest

from course_lib import units
from course_lib.shop import confirm, gauges, inside, owner, setting
from course_lib.shop.findings import Finding, Look, Reading
from course_lib.shop.measured import Found, Measured, Seen, looks
from course_lib.shop.readings import all_measured
from course_lib.shop.subject import Subject, slip_until_lifted
from course_lib.shop.words import Scale, all_scales, grades, sentence
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import new_condition
from course_lib.transmission.spec import load_unit, nominal_parameters, target

DIRECT = load_unit("T3").element_ids.index("direct_clutch")
STEPS = 3  # sound, half, whole
KINDS = {"T3 vacuum": ("T3", "vacuum"), "T3 cable": ("T3", "cable"), "T4 cable": ("T4", "cable")}


def vehicles(kind="T3 vacuum", wrong=(), worn=()) -> Subject:
    """Vehicles in which addresses `wrong` and entries of the condition `worn` come to nothing, half and whole of a size."""
    unit, signal = KINDS[kind]
    spec = load_unit(unit)
    parameters, condition = (
        nominal_parameters(spec, STEPS, signal=signal),
        new_condition(STEPS, len(spec.elements)),
    )
    shares = np.linspace(0.0, 1.0, STEPS)
    for address, value in dict(wrong).items():
        name, column = target(spec, address)
        here = (slice(None), 0) if column is None else (slice(None), 0, column)
        parameters[name][here] += shares * (value - parameters[name][here])
    for address, value in dict(worn).items():
        name, _, element = address.partition("@")
        entry = getattr(condition, name)
        columns = [spec.element_ids.index(element)] if element else slice(None)
        entry[(..., columns) if entry.ndim == 3 else slice(None)] = (shares * value).reshape(
            STEPS, *[1] * (entry.ndim - 1)
        )
    return Subject(Plant(unit, parameters), condition, signal, "mixed")


@cache
def found(kind, wrong=(), worn=()) -> dict[str, np.ndarray]:
    """Every reading and every value behind a look, by "inspection.key"."""
    every = all_measured(vehicles(kind, wrong, worn))
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


def value(kind, key, wrong=(), worn=()) -> np.ndarray:
    """One of them."""
    return found(kind, tuple(dict(wrong).items()), tuple(dict(worn).items()))[key]


HALVES = np.array([0.0, 0.5, 1.0])
BY_HAND = [  # reading | what is wrong | what it shows of nothing, half and whole, by units and geometry
    ("driveline_check.wheel_drag_lbf", {"vehicle_brake_drag": 444.8222}, {}, 100.0 * HALVES),  # 4.448222 N to the pound
    ("driveline_check.mount_lift_in", {"vehicle_mount_lift": 0.0254}, {}, HALVES),
    ("linkage_check.switch_off_deg", {"lever_switch_off": math.radians(10.0)}, {}, 10.0 * HALVES),
    ("walk_round.wet_rear", {"leak_outside": 0.946353e-3 / 1609344.0}, {}, HALVES),  # a quart in 1,000 miles
    ("pan.drained_qt", {}, {"lost": 2.0 * 0.946353e-3}, -2.0 * HALVES),
    ("cooler_pressure.cooler_holds_psi", {"heat_cooler_breach": 2e-8}, {}, 30.0 / (1.0 + HALVES)),
    ("engine_check.idle_speed_rpm", {"engine_idle": 1000.0 * math.pi / 30.0}, {}, None),
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
]  # fmt: skip


@pytest.mark.parametrize(
    "key, wrong, worn, shows", BY_HAND, ids=lambda each: each if isinstance(each, str) else ""
)
def test_readings_that_units_and_geometry_give(key, wrong, worn, shows):
    read = value("T3 vacuum", key, wrong, worn)
    if shows is None:  # from the sheet's idle to 1,000 rpm
        shows = read[0] + HALVES * (1000.0 - read[0])
    np.testing.assert_allclose(read, shows, rtol=1e-4, atol=1e-6)


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
    from course_lib.shop.asking import carry_out

    still = vehicles(wrong={"vehicle_shaft": 0.0}).rows([2])
    (found_,) = carry_out(still, [owner.as_the_owner_drives(still)])
    slip, pull = (
        next(m for m in found_.measured if m.key == f"owner_{key}") for key in ("slip_rpm", "pull_pct")
    )
    assert slip.value[0] > 200.0 and slip.reading(0, 1, None).note == owner.HARDLY


def test_the_slowest_of_a_lever_is_its_own_and_moves():
    subject = vehicles()
    op = subject.day.op
    for lever in dict.fromkeys(op.lever):
        own = [speed for each, speed in zip(op.lever, op.road_speed, strict=True) if each == lever]
        assert owner._slowest(subject, lever) == min(speed for speed in own if speed > 0.0)


def test_a_bore_that_leaks_holds_less_vacuum_and_a_body_shows_where_it_leaks():
    """Vacuum falls with the leak, from that of a sound bore; the circuit behind it is not asked."""
    bores = [key for key in found("T3 vacuum") if "bore_vacuum" in key]
    assert bores
    sound = [value("T3 vacuum", key)[0] for key in bores]
    assert all(each == pytest.approx(inside.PUMP_VACUUM, abs=0.5) for each in sound)


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


# ---------------------------------------------------------------------- a batch of readings and looks
def batch(**more) -> Measured:
    """Four vehicles' readings, one of which cannot be taken."""
    fields = {
        "key": "a_psi",
        "label": "A",
        "value": np.array([1.0, 2.0, np.nan, 4.0]),
        "unit": "psi",
        "sigma": 0.0,
    }
    return Measured(**fields | more)


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
    rows = Found(measured=(some,))
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


def test_an_error_is_so_many_standard_deviations_of_the_instrument():
    """Twice the spread, twice off; both ends of a swing are off alike; rounded last."""
    from course_lib.shop.measured import instrument_error

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
    one, two = looks(("a", scale, ends, "a: {}")), looks(("b", scale, ends, "b: {}"), quiet=True)
    part = Found(seen=(*one, *two))
    words = all_scales()[scale].words
    for row, grade in ((0, 0), (1, len(words) - 1)):
        here = part.row(row, 1, {})
        assert here.looks["a"].grade == grade and here["a"] == f"a: {words[grade]}"
        assert part.always(here) == [sentence(f"a: {words[grade]}")]
        assert part.notable(here) == ([sentence(f"b: {words[grade]}")] if grade else [])
    told = Found(seen=(*one, *two), caption=lambda row: ["Told."])
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
        [{"lever": "P", "engine_speed": units.from_rpm(2500), "temperature": units.from_fahrenheit(180.0)}]
    )
    shown = gauges.pressure(short, work, 0, "x", "x")
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
    slip = owner._where_worst(subject, "owner_slip_rpm", "Slips by", values)
    assert np.isnan(slip.value[0]) and list(slip.value[1:]) == [900.0, 300.0]
    named = [slip.reading(row, 1, None).note for row in range(STEPS)]
    assert named == ["not reached", subject.say(subject.day.names[1]), subject.say(subject.day.names[2])]
    pull = owner._where_worst(
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
    for trouble, signs in confirm.all_complaints().items():
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
            assert confirm.confirmed_by(trouble, [finding("road_test", enough)]) == (key,)
            assert confirm.confirmed_by(trouble, [finding("road_test", short)]) == ()
            assert confirm.confirmed_by(trouble, [finding("interview", enough)]) == ()
            twice = [finding("road_test", enough), finding("line_pressure", enough)]
            assert confirm.confirmed_by(trouble, twice) == (key,)


@pytest.mark.parametrize("quarts", [-1.5, -0.2, 0.2, 1.5])
def test_a_level_is_set_to_the_mark_and_only_where_it_is_far_off(quarts):
    """What is drawn off or filled is what was wrong; a level near the mark is left alone."""
    subject = vehicles(worn={"lost": quarts * units.QUART})
    far = setting.far_off(subject)
    assert list(far) == [False, False, abs(quarts) > 1.0], "a quart is about 0.6 in."
    there = setting.with_level_set(subject)
    np.testing.assert_allclose(setting.indicated(there), 0.0, atol=0.02)
    assert np.all(np.abs(there.condition.lost - there.condition.lost[0]) < 0.1 * units.QUART)


def test_a_finding_shown_in_other_units_stays_what_it_is():
    """Verdict and place on the limit stay; a step between two temperatures is a difference, not a temperature."""
    from course_lib.shop.display import finding_shown, reading_shown

    drop = Reading(key="cooler_drop_f", label="lost", value=18.0, unit="\u00b0F", spec=(9.0, 36.0), sigma=1.8)
    at = msgspec.structs.replace(drop, key="sump_temp_f", value=212.0, spec=(32.0, None), swing=(32.0, 212.0))
    shown, there = reading_shown(drop, "metric"), reading_shown(at, "metric")
    assert (shown.value, shown.spec, shown.sigma) == (10.0, (5.0, 20.0), pytest.approx(1.0))
    assert (there.value, there.spec, there.swing, there.unit) == (100.0, (0.0, None), (0.0, 100.0), "\u00b0C")
    assert there.sigma == pytest.approx(1.0), "a spread is a difference as well"
    assert reading_shown(at, "workshop") == at
    blind = msgspec.structs.replace(at, value=None, spec=None, swing=None)
    assert reading_shown(blind, "metric").value is None and reading_shown(blind, "metric").spec is None
    whole = finding("pan", drop, Look(key="a", grade=2, text="dry"))
    turned = finding_shown(whole, "metric")
    assert turned.readings == (shown,) and turned.looks == whole.looks
    with pytest.raises(ValueError, match="system"):
        reading_shown(at, "imperial")


def test_seen_is_not_seen_where_it_is_not_looked_at():
    one = Seen(key="a", scale="bubbles", value=np.array([9.0, 9.0]))
    assert list(one.only(np.array([False, True])).grades()) == [0, grades("bubbles", 9.0)]


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
