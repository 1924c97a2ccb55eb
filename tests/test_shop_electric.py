"""The electrical side of the shop: meters obey Ohm and Kirchhoff, screens believe, codes hold the vehicle back until cleared."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from course_lib.base import units
from course_lib.shop.apply_chart import ratio
from course_lib.shop.asked_gears import electric_of, gear_points, locked_points
from course_lib.shop.findings import Finding
from course_lib.shop.inspect import make_inspection, methods_of
from course_lib.shop.meter import ROOM
from course_lib.shop.procedure import carry_out
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.shop.under_load import PULLING, feed_currents
from course_lib.vehicle.memory import new_memory
from course_lib.vehicle.netlist import live_circuit, ohms
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
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


# ---------------------------------------------------------------------- screens
def test_a_bad_pin_reads_cold_most_when_hot_and_water_reads_hot_most_when_cold():
    """Of every thermistor that falls with heat: a divider with series resistance, and with a leak across (handbooks of sensors)."""
    pin, water, sound = vehicle(wire_contact__wire_tft=300.0), vehicle(sensor_leak__tft=5e-4), vehicle()
    points = [AskedPoint("P", temperature=units.from_fahrenheit(f), wet=1.0) for f in (68.0, 194.0)]
    shown = [electric_of(each.at(points)).believed_temperature[0] for each in (pin, water, sound)]
    cold, hot = (shown[0] - shown[2]), (shown[1] - shown[2])
    assert cold[1] < cold[0] < 0.0 and hot[0] > hot[1] > 0.0


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


# ---------------------------------------------------------------------- traces
def test_a_shift_runs_from_one_gears_line_to_the_next():
    """Turbine speed over output speed is the old ratio at the command and the new one at the end (definition of a ratio)."""
    finding = make_inspection(vehicle(), "shift_graph")
    drawn = {(each.at, each.key): each for each in finding.traces}
    for i, (old, new) in enumerate(zip(UNIT.levers["D"], UNIT.levers["D"][1:], strict=False)):
        turbine, output = (drawn[(f"{i + 1}-{i + 2}", f"{of}_rpm")].values for of in ("turbine", "output"))
        assert turbine[0] / output[0] == pytest.approx(ratio(UNIT, old), rel=0.01)
        assert turbine[-1] / output[-1] == pytest.approx(ratio(UNIT, new), rel=0.01)


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


def test_a_worn_lockup_bore_slips_far_before_it_shakes_and_its_slip_swings():
    """While the controller keeps the slip there is nothing to see; past that slip and swing rise together."""
    early, late = (vehicle(solenoid_bore__tcp=bore) for bore in (1.0, 3.0))
    assert value(early, "data_road", "tcc_swing_rpm") == 0.0 < value(late, "data_road", "tcc_swing_rpm")
    assert value(late, "data_road", "tcc_slip_rpm") > 100.0 > value(early, "data_road", "tcc_slip_rpm")
