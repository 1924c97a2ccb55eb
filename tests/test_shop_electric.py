"""The electrical side of the shop: meters obey Ohm and Kirchhoff, screens believe, codes hold the vehicle back until cleared."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import msgspec
import numpy as np
import pytest

from course_lib.base import units
from course_lib.shop.apply_chart import ratio
from course_lib.shop.asked_gears import electric_of, gear_points, locked_points
from course_lib.shop.display import finding_in_system
from course_lib.shop.findings import Finding
from course_lib.shop.inspect import make_inspection, methods_of
from course_lib.shop.meter import ROOM
from course_lib.shop.order import _objection
from course_lib.shop.procedure import carry_out
from course_lib.shop.scan import adapts_read
from course_lib.shop.service_manual import DOES, FAILS
from course_lib.shop.shift_graph import GRIP
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.shop.under_load import PULLING, feed_currents
from course_lib.vehicle.control_spec import ActionWord, CodeTest
from course_lib.vehicle.memory import new_memory
from course_lib.vehicle.netlist import live_circuit, ohms
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.shifts_in_time import TORQUE_PHASE
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters, parameter_place

UNIT = load_unit("E6")
MOST_BYTES = 3000  # that a trace may take in a file


def vehicle(stored: str = "", **wrong: float) -> Subject:
    """One six-speed; wrong: address, written with __ for @, -> value; stored: a code that its controller has stored."""
    parameters = nominal_parameters(UNIT, signal="electronic")
    for address, value in wrong.items():
        name, column = parameter_place(UNIT, address.replace("__", "@"))
        parameters[name][(slice(None), 0) if column is None else (slice(None), 0, column)] = value
    memory = new_memory(1, UNIT)
    if stored:
        memory.failed[:, 0, UNIT.control.code_ids.index(stored)] = 2.0
    condition = replace(new_condition(1, UNIT), memory=memory)
    return Subject(Plant(UNIT, parameters), condition, "electronic", "mixed", seed=4)


def value(subject: Subject, inspection: str, key: str) -> float:
    """A reading without the error of its instrument."""
    made = dict(read(subject, inspection))
    return made[key]


def read(subject: Subject, inspection: str) -> list[tuple[str, float]]:
    """Every reading of an inspection without error."""
    (found,) = carry_out(subject, [methods_of(UNIT)[inspection](subject)])
    return [(each.key, float(each.value[0])) for each in found.measured]


def looks(subject: Subject, inspection: str) -> dict[str, int]:
    """Grades of an inspection."""
    return {each.key: each.grade for each in make_inspection(subject, inspection).looks}


# ---------------------------------------------------------------------- meters
def test_a_drop_without_current_is_nothing_over_a_rotten_pin():
    """Ohm's law: 5 ohm in a feed and no current read 0 V, the same pin under load reads volts (common practice, no source)."""
    subject = vehicle(stored="P0657", wire_contact__feed_b=5.0)
    point = next(iter(gear_points(subject, PULLING).values()))
    off, on = (electric_of(subject.at([replace(point, acting=acting)])) for acting in (1.0, 0.0))
    assert feed_currents(subject, off) == pytest.approx(0.0)
    assert feed_currents(subject, on).max() > 0.5
    assert value(subject, "volt_drop", "feed_b_v") > 2.0


def test_more_current_more_drop():
    """With the lock-up on as well, the feed that it shares drops more, the other does not (Kirchhoff's rule of nodes)."""
    subject = vehicle(wire_contact__feed_b=5.0)
    lockup, alone = (value(subject, "volt_drop", f"feed_b_{name}v") for name in ("lockup_", ""))
    assert lockup > alone > 1.0


@pytest.mark.parametrize("wrong", [{}, {"wire_contact__feed_b": 3.0}, {"wire_contact__relay_k1": 0.8}])
def test_drops_agree_with_the_whole_circuit(wrong):
    """Battery to feed pin by the currents of the reduced circuit, against nodal analysis of every wire, third, lock-up on."""
    subject = vehicle(**wrong)
    point = locked_points(subject)["third"]
    work = subject.at([point])
    op = operation(
        point.lever, throttle=point.throttle, road_speed=point.road_speed, temperature=point.temperature
    )
    whole = live_circuit(subject.plant, op, work.temperature, electric_of(work)).drop("battery", "feed_b")
    assert value(subject, "volt_drop", "feed_b_lockup_v") == pytest.approx(float(whole[0, 0]), abs=0.1)


def test_ohms_end_where_the_plug_is_apart():
    """A bad wire of the loom shows from the controller's plug and not from the box side of the case plug; the coil in both."""
    sound, loom, coil = vehicle(), vehicle(wire_contact__wire_pcd=20.0), vehicle(solenoid_coil__pcd=9.3)
    case, tcm = (
        (lambda of: value(of, "solenoid_case", "pcd_ohm")),
        (lambda of: value(of, "solenoid_tcm", "pcd_tcm_ohm")),
    )
    assert case(loom) == pytest.approx(case(sound)) and tcm(loom) == pytest.approx(
        tcm(sound) + 20.0, abs=0.05
    )
    assert case(coil) == pytest.approx(case(sound) + 4.0, abs=0.05) and tcm(coil) > tcm(sound) + 3.9


def test_ohms_agree_with_the_whole_circuit():
    """Coil and loom from the controller's plug, against nodal analysis with the battery off."""
    subject = vehicle()
    whole = ohms(subject.plant, ("feed_b", "X2:6"), unplugged=("X2",), temperature=np.full((1, 1), ROOM))
    assert value(subject, "solenoid_tcm", "pcd_tcm_ohm") == pytest.approx(float(whole[0, 0]), abs=0.1)


def test_hot_copper_resists_more():
    """212 F against 68 F: 1 + 0.00393 x 80 (IEC 60028; from memory)."""
    subject = vehicle()
    hot, cold = (value(subject, "solenoid_case", f"pca_{name}ohm") for name in ("hot_", ""))
    assert hot / cold == pytest.approx(1.3144, rel=0.01)


def test_water_in_the_plug_is_found_by_ohms_and_whenever_it_is_wetted():
    """A film of 4 kohm beside the thermistor's own 2.7 kohm (parallel resistances): over 1 kohm less, in the plug and not in the
    sensor; and it is on the screen at each wetting, with no chance to miss it."""
    wet, pin = vehicle(sensor_leak__tft=2.5e-4), vehicle(wire_contact__wire_tft=300.0)
    own = value(wet, "solenoid_case", "tft_ohm_68")
    gap = own * 4000.0 / (own + 4000.0) - own
    assert value(wet, "solenoid_tcm", "tft_ohm_gap") == pytest.approx(gap, abs=1.0) and gap < -1000.0
    assert value(pin, "solenoid_tcm", "tft_ohm_gap") == pytest.approx(300.0, abs=1.0)
    assert all(looks(replace(wet, seed=seed), "soak")["wet"] >= 1 for seed in range(40))


# ---------------------------------------------------------------------- screens
def test_the_code_that_stopped_the_learning_is_the_one_whose_frame_was_kept():
    """Of two ratio codes the one that fails more often is taken as the first, on both screens alike."""
    subject, ids = vehicle(stored="P0731", element_leak__reduction_clutch=4e-11), UNIT.control.code_ids
    subject.condition.memory.failed[:, 0, ids.index("P0733")] = 2.0
    found = make_inspection(subject, "codes").readings, make_inspection(subject, "adapts_read").looks
    frame = next(each for each in found[0] if each.key == "frame_mph")
    stopped = next(each for each in found[1] if each.key == "learning_stopped")
    assert "P0733" in frame.note and stopped.of == "P0733" and "P0731" not in stopped.text


def test_a_bad_pin_reads_cold_most_when_hot_and_water_reads_hot_most_when_cold():
    """Of every thermistor that falls with heat: a divider with series resistance, and with a leak across (handbooks of sensors)."""
    pin, water, sound = vehicle(wire_contact__wire_tft=300.0), vehicle(sensor_leak__tft=5e-4), vehicle()
    points = [AskedPoint("P", temperature=units.from_fahrenheit(f), wet=1.0) for f in (68.0, 194.0)]
    shown = [electric_of(each.at(points)).believed_temperature[0] for each in (pin, water, sound)]
    cold, hot = (shown[0] - shown[2]), (shown[1] - shown[2])
    assert cold[1] < cold[0] < 0.0 and hot[0] > hot[1] > 0.0


def test_the_log_says_that_reverse_is_tried_up_a_ramp_and_which_gear_stands_in_for_second():
    """With a larger tire entered every shift comes late: where second is due, first is still commanded, and the note says so."""
    finding = make_inspection(vehicle(control_tire_scale=1.2), "data_road")
    labels = {each.key: each.label for each in finding.readings}
    assert "up a ramp" in labels["ratio_error_r_pct"] and "up a ramp" not in labels["ratio_error_1_pct"]
    line = next(each for each in finding.readings if each.key == "line_command_psi")
    assert line.value is None and line.note == "at that speed first is commanded"


def test_plugs_exchanged_give_another_gear_exactly_not_a_slip():
    """The ratio of the other gear to the thousandth, at any load (ratios by Willis' equation)."""
    subject = vehicle(control_plugs_swapped=1.0)
    exact = 100.0 * (ratio(UNIT, "third") / ratio(UNIT, "second") - 1.0)
    assert value(subject, "data_road", "ratio_error_2_pct") == pytest.approx(exact, abs=0.1)
    assert looks(subject, "valve_bench")["map_wrong"] == 1


def test_commands_are_read_and_oil_is_gauged():
    """A worn bore behind the regulator moves the gauge and not the screen."""
    worn, sound = vehicle(line_body_leak=6e-12), vehicle()
    assert value(worn, "data_road", "line_command_psi") == pytest.approx(
        value(sound, "data_road", "line_command_psi")
    )
    assert value(worn, "line_command", "gap_idle_psi") < value(sound, "line_command", "gap_idle_psi") - 5.0


# ---------------------------------------------------------------------- codes
def test_a_stored_code_limps_until_it_is_cleared_and_has_its_frame():
    """As it came in the relay is off and it drives in one gear; cleared, every gear is there again until a test fails."""
    coded, sound = vehicle(stored="P0657"), vehicle()
    assert (looks(coded, "data_road")["limp"], looks(sound, "data_road")["limp"]) == (1, 0)
    assert looks(coded, "codes")["code_P0657"] == 2 and looks(coded, "codes")["pressure_by_default"] == 1
    for gear in ("2", "3", "5"):
        assert abs(value(coded, "data_road", f"ratio_error_{gear}_pct")) < 2.0
    assert value(coded, "road_test", "pull_away_pct") < 50.0 < value(sound, "road_test", "pull_away_pct")
    frame = dict(read(coded, "codes"))
    assert np.isfinite(
        [frame[key] for key in ("frame_tft_f", "frame_mph", "frame_volts", "frame_gear")]
    ).all()
    assert np.isnan(value(sound, "codes", "frame_tft_f"))


def test_what_a_diagram_says_stands_in_the_papers():
    """Every solenoid stands under its feed, every shared wire is named, without a measurement."""
    finding = make_inspection(vehicle(), "service_info")
    words = " ".join(finding.words)
    assert all(each.label.lower() in words.lower() for each in UNIT.control.solenoids)
    assert not finding.readings and "X1:2" in words


def test_the_manual_has_what_a_mechanic_looks_up():
    """Every gear with what holds, every code with what fails it, every plug, every place of the lever: as many rows as the unit
    has; the resting solenoids are those of its limp-home gear (common practice, no source)."""
    control = UNIT.control
    by_title = {
        each.title.split(",")[0].split(";")[0]: each
        for each in make_inspection(vehicle(), "service_info").papers
    }
    chart, codes, coils = (by_title[name] for name in ("Apply chart", "Codes", "Solenoids"))
    assert [row[0] for row in chart.rows] == list(UNIT.gears) and len(codes.rows) == len(control.codes)
    assert all(len(row) == len(paper.heads) for paper in by_title.values() for row in paper.rows)
    assert all(all(cell for cell in row) and "{" not in " ".join(row) for row in codes.rows)
    resting = {row[0].split("(")[1].rstrip(")") for row in coils.rows if row[2] == "full pressure"}
    assert resting == {"line", "low clutch", "high clutch"}
    assert {row[0] for row in by_title["Range sensor"].rows} == set(UNIT.levers)
    halves = [row[2] for row in by_title["Plugs"].rows]
    assert len(set(halves)) == len(halves) == len(control.plugs)
    for row in by_title["Plugs"].rows:
        pins = [int(each.split()[0]) for each in row[3].split("; ")]
        assert len(pins) > 1 and pins == sorted(set(pins))
    told = {code.id: row[1] for code, row in zip(control.codes, codes.rows, strict=True)}
    assert all("5 mph" in told[code.id] for code in control.codes if code.test == "brake")


def test_a_clamp_is_read_as_warm_as_it_says():
    """Its duty is that of coils as hot as the owner gets them, so the finding stands at that temperature."""
    subject = vehicle()
    made_at = make_inspection(subject, "command_actual").made_at_f
    assert made_at == round(units.to_fahrenheit(float(subject.sump_temperature[0])))


def test_every_test_of_a_code_is_said_and_every_action():
    """A new word of the data file must be put in a mechanic's words too."""
    assert set(FAILS) == set(get_args(CodeTest)) and set(DOES) == set(get_args(ActionWord))


def test_the_manual_is_read_in_the_units_of_the_reader():
    """Pressures of the tables turn with the sheet."""
    finding = make_inspection(vehicle(), "service_info")
    metric = finding_in_system(msgspec.json.decode(msgspec.json.encode(finding), type=Finding), "metric")
    told = [
        " ".join(cell for paper in of.papers for row in paper.rows for cell in row)
        for of in (finding, metric)
    ]
    assert " psi" in told[0] and " psi" not in told[1] and "kPa" in told[1]


# ---------------------------------------------------------------------- traces
def test_a_shift_runs_from_one_gears_line_to_the_next():
    """Turbine speed over output speed is the old ratio at the command and the new one at the end (definition of a ratio)."""
    finding = make_inspection(vehicle(), "shift_graph")
    drawn = {(each.at, each.key): each for each in finding.traces}
    for i, (old, new) in enumerate(zip(UNIT.levers["D"], UNIT.levers["D"][1:], strict=False)):
        turbine, output = (drawn[(f"{i + 1}-{i + 2}", f"{of}_rpm")].values for of in ("turbine", "output"))
        assert turbine[0] / output[0] == pytest.approx(ratio(UNIT, old), rel=0.01)
        assert turbine[-1] / output[-1] == pytest.approx(ratio(UNIT, new), rel=0.01)


def test_what_holds_back_before_a_shift_dips_the_pull_by_force_over_weight(monkeypatch):
    """A share of the pull lost over the torque phase, in g: force at the tires over the weight (Newton; standard gravity of the
    CGPM, 1901), and never more than tires hold."""
    subject, share = vehicle(), 0.4
    shifts = subject.shifts()
    tied = shifts.up._replace(tie_up=np.full_like(shifts.up.tie_up, share * TORQUE_PHASE))
    monkeypatch.setattr(Subject, "shifts", lambda *_, **__: replace(shifts, up=tied))
    found = make_inspection(subject, "shift_graph")
    pull = subject.sheet_at(list(gear_points(subject).values())).drive_torque[0]
    p = subject.plant.p
    force = share * pull * p.vehicle_axle.item() / p.vehicle_tire_radius.item()
    dips = [r.value for r in found.readings if r.key.startswith("tie_") and "cold" not in r.key]
    expected = np.minimum(force / (p.vehicle_mass.item() * 9.80665), GRIP)[: len(dips)]
    np.testing.assert_allclose(dips, expected, atol=0.015)
    assert len(dips) == 5 and 0.03 < max(expected) < GRIP


@pytest.mark.parametrize("name", ["shift_graph", "data_road"])
def test_traces_are_small_and_survive_a_file(name):
    """As many values as times, each trace within its share of a file, and the same again when read back."""
    finding = make_inspection(vehicle(), name)
    assert finding.traces
    for each in finding.traces:
        assert len(each.times) == len(each.values) and np.isfinite(each.values).all()
        assert len(msgspec.json.encode(each)) < MOST_BYTES
    assert msgspec.json.decode(msgspec.json.encode(finding), type=Finding) == finding
    plain = make_inspection(vehicle(), "battery_charging")
    assert b"drawn" not in msgspec.json.encode(plain) and plain.traces == ()


def test_learned_values_say_that_a_code_has_stopped_them_and_read_as_the_screen_has_them():
    """Frozen by P0733 which names itself, not by P0300; at its limit of 60 ms a fill never shows more."""
    frozen, learns = (vehicle(stored=code) for code in ("P0733", "P0300"))
    for subject, stopped in ((frozen, 1), (learns, 0)):
        (look,) = make_inspection(subject, "adapts_read").looks
        assert look.grade == stopped and ("P0733" in look.text) == bool(stopped)
    most = frozen.parameter("control_fill_most")[0]
    for seed in range(20):
        frozen.condition.memory.fill[:] = 2.0 * most
        shown = {r.key: r.value for r in make_inspection(replace(frozen, seed=seed), "adapts_read").readings}
        assert shown["fill_rc_ms"] == round(1e3 * most)
    for each in adapts_read(
        learns
    ).measured:  # like vehicles stand a step of learning apart, however exact the screen
        assert each.apart >= 1.0 > each.sigma


def test_a_worn_lockup_bore_slips_far_before_it_shakes_and_its_slip_swings():
    """While the controller keeps the slip there is nothing to see; past that slip and swing rise together."""
    early, late = (vehicle(solenoid_bore__tcp=bore) for bore in (1.0, 3.0))
    assert value(early, "data_road", "tcc_swing_rpm") == 0.0 < value(late, "data_road", "tcc_swing_rpm")
    assert value(late, "data_road", "tcc_slip_rpm") > 100.0 > value(early, "data_road", "tcc_slip_rpm")


# ---------------------------------------------------------------------- what is said
def notes(subject: Subject, inspection: str) -> dict[str, str]:
    """What stands beside each reading."""
    return {each.key: each.note for each in make_inspection(subject, inspection).readings}


def test_road_moves_are_in_the_gear_that_they_name():
    """On a sound six-speed every gear of D is asked in turn; in limp-home only the gear that it holds is (the gear follows from
    the rest states)."""
    sound, limp = (make_inspection(each, "road_test") for each in (vehicle(), vehicle(stored="P0657")))
    moves = [each for each in sound.readings if each.key.startswith("road_")]
    assert {each.label.split(", ")[1] for each in moves} >= set(UNIT.levers["D"])
    assert all(each.value is not None and not each.note for each in moves)
    tried = {each.key for each in limp.readings if each.key.startswith("road_") and each.value is not None}
    assert tried == {"road_fourth_steady_slip_rpm", "road_reverse_ramp_slip_rpm"}
    assert not [
        each for each in limp.looks if each.key.startswith(("bump_1", "bump_2", "bind_1")) and each.grade
    ]


def test_what_comes_in_place_of_a_shift_is_said():
    """In limp-home no shift comes; each row says which gear it is in, and no downshift is read from a gear never reached."""
    said = notes(vehicle(stored="P0657"), "road_test")
    assert said["shift_12_light_mph"] == "it is in fourth, not in first"
    assert said["shift_45_light_mph"] == "it stays in fourth" and said["downshift_32_mph"].endswith("second")


def test_a_limping_vehicle_that_does_not_move_is_not_said_to_drive():
    """Relay off and the high clutch empty: nothing pulls in the emergency gear."""
    grades = [
        looks(vehicle(stored="P0657", **wrong), "data_road")["limp"]
        for wrong in ({}, {"element_splines__high_clutch": 0.0})
    ]
    assert grades == [1, 2]
    assert any(
        "emergency gear" in words for words in make_inspection(vehicle(stored="P0657"), "data_road").words
    )


def test_nothing_is_read_at_sixty_by_who_never_gets_there():
    """A brake that drags with all its might: 60 mph and the cruise with lock-up are not reached."""
    subject = vehicle(vehicle_brake_drag=20_000.0)
    said = notes(subject, "data_road")
    assert {said[key] for key in ("shown_mph_at_60", "oss_wheel_pct", "tcc_command_pct", "tcc_slip_rpm")} == {
        "not reached"
    }
    assert all(make_inspection(subject, name).minutes > 0 for name in ("data_road", "shift_graph"))


def test_taps_are_read_where_their_gear_is_commanded():
    """With a tire entered too large every shift comes late; all taps but the top gear's dip are read all the same."""
    late = make_inspection(vehicle(control_tire_scale=1.4), "line_command")
    unread = [each.key for each in late.readings if each.value is None]
    assert unread == ["dip_6_psi"]


def test_reverse_is_read_whatever_the_controller_makes_of_the_lever():
    """The lever's oil goes past the valves there, so that tap and ratio are read though no gear is known to the controller."""
    unknown = vehicle(wire_contact__wire_trs_b=1e9)
    at = [AskedPoint("R", temperature=HOT)]
    assert unknown.at(at).electric.wanted_gear.item() != vehicle().at(at).electric.wanted_gear.item()
    for name, key in (("line_command", "dip_r_psi"), ("data_road", "ratio_error_r_pct")):
        assert value(unknown, name, key) == pytest.approx(value(vehicle(), name, key), abs=1.0)


def test_with_its_code_stored_the_shifts_go_by_the_wheels():
    """What the missing tooth makes late is in time again once the controller takes the wheels' speed, as its table says."""
    tooth = {"sensor_teeth_short__oss": 1.0}
    by_tooth, by_wheels = (vehicle(**tooth), vehicle(stored="P0723", **tooth))
    right, late, again = (
        value(v, "road_test", "shift_12_full_mph") for v in (vehicle(), by_tooth, by_wheels)
    )
    assert late > right + 0.5 and again == pytest.approx(right)
    silent = vehicle(stored="P0723", bus_wheels_silent=1.0, **tooth)
    assert value(silent, "road_test", "shift_12_full_mph") == pytest.approx(late)


def test_a_line_that_is_commanded_full_is_said_to_be():
    """In limp-home the gauge of the first start stands far over the sheet, and no fault of the line is meant."""
    assert notes(vehicle(stored="P0657"), "cold_start")["line_after_2s_psi"] == "full line is commanded"
    assert notes(vehicle(stored="P0711"), "cold_start")["line_after_2s_psi"] == "more than usual is commanded"
    assert not notes(vehicle(), "cold_start")["line_after_2s_psi"]


def test_each_ratio_of_the_log_says_with_which_pedal_it_was_read():
    """What slips at half pedal may hold with a light one, and past the speed of a road only that is driven."""
    labels = {r.key: r.label for r in make_inspection(vehicle(), "data_road").readings}
    assert labels["ratio_error_4_pct"].endswith("half pedal") and labels["ratio_error_6_pct"].endswith(
        "light pedal"
    )
    assert labels["ratio_error_r_pct"].endswith("up a ramp")


def test_a_break_in_the_unit_has_no_pin():
    """Heat brings both; only the contact in a plug is told with its pin, a sensor that dies by its name alone."""
    inside, plug, sensor = (
        next(
            each for each in make_inspection(vehicle(**{wrong: 370.0}), "soak").looks if each.key == "hot"
        ).text
        for wrong in ("wire_opens_above__loom_pcc", "wire_opens_above__wire_pcc", "sensor_dies_above__tss")
    )
    assert "pin" not in inside and "pin X1:5" in plug and sensor.endswith("turbine speed sensor")


def test_insulation_has_no_upper_limit():
    """However well a wire is insulated, it is within spec: there is no reading too high."""
    readings = [
        each
        for name in ("solenoid_case", "solenoid_tcm", "switch_check")
        for each in make_inspection(vehicle(), name).readings
        if each.key.endswith(("ground_ohm", "off_ohm"))
    ]
    assert readings and all(each.spec[1] is None and "or more" in each.spec_text for each in readings)


@pytest.mark.parametrize("wire", ["fuse_f1", "relay_k1", "feed_b"])
def test_no_drop_is_more_than_the_battery_gives(wire):
    """Kirchhoff's rule of meshes: over a parted way stands the supply, and it is said that nothing flows there."""
    finding = make_inspection(vehicle(**{f"wire_open__{wire}": 1.0}), "volt_drop")
    supply = float(nominal_parameters(UNIT, signal="electronic")["supply_charge"].item())
    drops = {each.key: each for each in finding.readings}
    assert all(each.value <= supply + 3.0 * each.sigma for each in finding.readings)
    assert drops["feed_b_v"].value == pytest.approx(supply, abs=0.2)
    assert drops["feed_b_v"].note == "no current flows"


def test_a_driver_that_does_not_pull_is_named_by_its_pin():
    """Who holds the spare coil knows on which pin it hangs."""
    pins = {
        each: next(
            look
            for look in make_inspection(
                vehicle(**{f"solenoid_driver_dead__{each}": 1.0}), "solenoid_tcm"
            ).looks
        )
        for each in ("pcb", "pcc")
    }
    assert pins["pcb"].of == "pcb" and pins["pcc"].of == "pcc" and pins["pcb"].text != pins["pcc"].text


def test_a_unit_without_bands_sheds_no_band_fibers():
    """The pan of a six-speed speaks of what can lie in it."""
    finding = make_inspection(vehicle(), "pan")
    assert not any("fibers" in words for words in finding.words) and any("powder" in w for w in finding.words)


def test_too_much_fluid_is_not_said_to_be_missing_only():
    """Overfull, the reading says so, and what is done about it is to let it run out."""
    over = make_inspection(vehicle(sump_charge=0.0115), "level_window")
    assert next(each.note for each in over.readings if each.key == "short_qt") == "too much"
    assert "over by" in _objection("road_test", {"level_window": over}) and "run out" in _objection(
        "road_test", {"level_window": over}
    )


def test_a_wire_that_parts_in_the_heat_is_seen_by_the_clamp_as_hot_as_the_owner_gets_it():
    """Whole at 68 F: the same command, no current once the day's heat has parted it."""
    cool, hot = (vehicle(wire_opens_above__loom_pcc=kelvin) for kelvin in (400.0, 340.0))
    gaps = [value(each, "command_actual", "gap_pcc_a") for each in (cool, hot)]
    assert abs(gaps[0]) < 0.05 and gaps[1] < -0.5


def test_the_first_start_engages_in_the_cold_fluid_and_not_in_the_hot():
    """A piston whose seal leaks fills late in thin fluid; thick fluid hardly leaks (laminar leakage goes with 1/viscosity)."""
    leaks = vehicle(element_bore_leak__low_clutch=1e-11)
    cold, warm = value(leaks, "cold_start", "engage_d_second_s"), value(leaks, "shift_graph", "engage_d_s")
    assert cold < 1.2 < warm
    assert value(vehicle(), "cold_start", "engage_d_second_s") > value(vehicle(), "shift_graph", "engage_d_s")


def test_the_duty_of_a_sound_circuit_is_the_same_however_hot_the_owner_drives():
    """Copper has more resistance when hot (0.39 % for each kelvin, IEC 60028); the duty is read at the temperature written down."""
    owners = [replace(vehicle(heat_cooler_open=share), use="town") for share in (1.0, 0.0)]
    temperatures = [each.sump_temperature.item() for each in owners]
    duties = [value(each, "command_actual", "duty_pcb_pct") for each in owners]
    assert temperatures[1] - temperatures[0] > 10.0 and abs(duties[0] - duties[1]) < 0.5


def test_the_bench_finds_the_law_of_each_solenoid():
    """On the stand the pressure follows the line between zero and full current (data sheets of proportional valves; common
    practice, no source); a solenoid of the other kind shows the mirror of it."""
    sheet, other = {}, {}
    for found, subject in (
        (sheet, vehicle()),
        (other, vehicle(solenoid_zero_current__pcb=0.15, solenoid_full_current__pcb=1.0)),
    ):
        found |= dict(read(subject, "valve_bench"))
    assert sheet["pcb_bench_0_psi"] == pytest.approx(250.0, abs=1.0) and other["pcb_bench_0_psi"] == 0.0
    assert sheet["pcb_bench_10_psi"] == 0.0 and other["pcb_bench_10_psi"] == pytest.approx(250.0, abs=1.0)
    middle = 250.0 * (0.95 - 0.5) / (0.95 - 0.1)
    assert sheet["pcb_bench_5_psi"] == pytest.approx(middle, abs=0.5)


def test_a_sensor_is_measured_where_it_sits():
    """Its own coil by the meter, its gap by depth: a sensor that stands off reads a wide gap and right ohms."""
    subject = vehicle(sensor_gap__oss=2.5e-3)
    readings = {
        each.key: each
        for name in ("sensor_scope", "solenoid_case")
        for each in make_inspection(subject, name).readings
    }
    assert readings["oss_gap_in"].verdict == "above spec" and readings["oss_ohm"].verdict == "within spec"
    assert readings["oss_v_per_1000"].verdict == "below spec"


def test_a_brake_switch_that_does_not_change_has_no_travel():
    """What a foot finds: a switch set right changes early in the travel, one that is stuck never."""
    stuck = next(
        each
        for each in make_inspection(vehicle(sensor_stuck__brake=1.0), "switch_check").readings
        if each.key == "brake_travel_in"
    )
    assert stuck.value is None and "does not change" in stuck.note
    assert 0.1 < value(vehicle(), "switch_check", "brake_travel_in") < 0.4


def test_nothing_is_felt_of_a_shift_that_does_not_come():
    """In limp-home the looks of an upshift say that it does not come, in place of a smooth one."""
    felt = {each.key: each.text for each in make_inspection(vehicle(stored="P0657"), "road_test").looks}
    assert felt["bump_56"].endswith("does not come") and felt["bind_23"].endswith("does not come")
    sound = {each.key: each.text for each in make_inspection(vehicle(), "road_test").looks}
    assert sound["bump_56"].endswith("smooth")


def test_no_road_test_goes_faster_than_a_road_allows():
    """Shifts that the sheet has over 75 mph are no part of it (limits of public roads, common practice, no source)."""
    found = {
        each.key: each for each in make_inspection(vehicle(), "road_test").readings if each.unit == "mph"
    }
    assert "shift_34_full_mph" in found and "kickdown_65_mph" not in found
    assert all(each.spec[1] < 80.0 for each in found.values())


def test_who_is_silent_is_not_said_to_answer():
    """The last word of the roll call agrees with its reading."""
    words = [make_inspection(vehicle(bus_wheels_silent=each), "bus_check").words for each in (0.0, 1.0)]
    assert any("Every controller" in each for each in words[0]) and not any(
        "Every" in each for each in words[1]
    )
