"""Codes of an electronic control: what fails them, how they are counted, and what the controller then does."""

from dataclasses import replace

import numpy as np
import pytest
from electronic import changed

from course_lib.base import units
from course_lib.vehicle.actions import NO_CODE, PENDING, STORED, actions, code_steps, lit
from course_lib.vehicle.codes import (
    FRAME_SPEED,
    TRIP,
    counted,
    failure_rates,
    failures,
    freeze_frame,
    trips_in_a_row,
)
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.memory import clear_codes, new_memory, reset_learned
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.owner_day import driven_day, remembered, seen_on
from course_lib.vehicle.unit_spec import load_unit

UNIT = load_unit("E6")
CODES = {code.id: code for code in UNIT.control.codes}


def remembering(**failed):
    """Memories of one vehicle for each code, with so many failed trips of it."""
    memory = new_memory(len(failed), UNIT)
    for row, (code, trips) in enumerate(failed.items()):
        memory.failed[row, 0, UNIT.control.code_ids.index(code)] = trips
    return memory


@pytest.mark.parametrize("code", CODES.values(), ids=lambda code: code.id)
def test_every_code_does_what_its_action_says_and_nothing_else(code):
    """As the data file has it: flags of its words, the line raised by so much, what is barred or switched off."""
    does, action = actions(remembering(**{code.id: code.trips}), UNIT), UNIT.control.actions[code.action]
    plain = {
        "freeze_adapts",
        "line_full",
        "lockup_off",
        "no_top",
        "default_temperature",
        "use_wheels",
        "relay_off",
    }
    assert {word for word in plain if getattr(does, word).item()} == plain & set(action.does)
    assert does.line_up.item() == action.line_up
    names = list(UNIT.control.actions)
    assert [name for i, name in enumerate(names) if does.bits.item() >> i & 1] == [code.action]
    assert does.driver_off.any() == ("driver_off" in action.does)
    assert not does.barred.any() or "bar_gears" in action.does


SINGLE = {
    "P0218": ("", "fluid_hot"), "P0562": ("", "supply_low"), "P0563": ("", "supply_high"), "P0882": ("", "supply_low"),
    "P0657": ("", "supply_open"), "P0614": ("", "data_set"), "P0705": ("", "range_pattern"), "P0706": ("", "range_drive"),
    "P0894": ("", "slips"), "P0895": ("", "shift_short"), "P0896": ("", "shift_long"), "P0703": ("", "brake"),
    "P0504": ("", "brake"), "P0842": ("psh", "switch_closed"), "P0843": ("psh", "switch_open"), "P0751": ("psl", "switch_open"),
    "P0752": ("psl", "switch_closed"), "P0300": ("engine", "misfire"), "P2138": ("engine", "pedal"),
    "U0100": ("engine", "not_heard"), "U0121": ("brakes", "not_heard"),
}  # fmt: skip
RATIOS = dict(
    P0731="first",
    P0732="second",
    P0733="third",
    P0734="fourth",
    P0735="fifth",
    P0729="sixth",
    P0736="reverse",
)
DOES, CIRCUIT = {1: "stuck_off", 2: "stuck_on", 3: "current"}, {0: "open", 2: "low", 3: "high"}
WORKED = {"pca": (745, 960), "pcb": (775, 964), "pcc": (795, 968), "pcd": (2713, 2718), "pce": (2722, 2727)}
SENSED = {710: {1: "fluid_cold_start", 2: "fluid_low", 3: "fluid_high", 4: "fluid_jumps"}}
SENSED |= {
    715: {1: "turbine_jumps", 2: "turbine_none"},
    720: {1: "output_wheels", 2: "output_none", 3: "output_jumps"},
}


def standard_codes():
    """Code -> what it is of, and the test behind it, as the standard numbers them."""
    found = SINGLE | {code: (gear, "ratio") for code, gear in RATIOS.items()}
    for solenoid, (first, circuit) in WORKED.items():
        found |= {f"P{first + step:04}": (solenoid, test) for step, test in DOES.items()}
        found |= {f"P{circuit + step:04}": (solenoid, test) for step, test in CIRCUIT.items()}
    del found["P0960"]  # this unit tells an open line solenoid by P0748
    for first, tests in SENSED.items():
        of = {710: "", 715: "tss", 720: "oss"}[first]
        found |= {f"P{first + step:04}": (of, test) for step, test in tests.items()}
    found |= {"P0753": ("ssa", "open"), "P0973": ("ssa", "low"), "P0974": ("ssa", "high")}
    found |= {"P0741": ("tcp", "lockup_slips"), "P0742": ("tcp", "lockup_stuck"), "P0743": ("tcp", "current")}
    found |= {"P2769": ("tcp", "low"), "P2770": ("tcp", "high")}
    learned = ("low_clutch", "reduction_clutch", "high_clutch", "sun_brake")  # friction elements A to D
    return found | {f"P{2700 + place}": (element, "adapt_limit") for place, element in enumerate(learned)}


def test_codes_are_numbered_as_the_standard_numbers_them():
    """SAE J2012, public list of generic codes (numbers and meanings from memory where the unit's file says so): within a family
    performance or stuck off, stuck on, electrical follow each other, as do open, range, low and high of a circuit. The standard
    lets a maker choose which solenoid is A; here the letters are those of the unit's own names."""
    assert {code.id: (code.of, code.test) for code in CODES.values()} == standard_codes()


def test_gears_that_need_what_a_code_suspects_are_barred():
    """A ratio bars its gear, a solenoid or a pressure switch all gears of its element, a speed sensor none."""
    does = actions(remembering(P0733=2, P2723=2, P0751=2, P0717=1), UNIT)
    gears = [[gear for gear, bar in zip(UNIT.gears, row[0], strict=True) if bar] for row in does.barred]
    brake = [gear for gear, holds in UNIT.gears.items() if "sun_brake" in holds]
    low = [gear for gear, holds in UNIT.gears.items() if "low_reverse_brake" in holds]
    assert gears == [["third"], brake, low, []]


def test_two_trips_in_a_row_confirm_and_the_highest_raise_of_the_line_counts():
    memory = remembering(P0733=0.9, P0734=1.0, P0735=2.0 - 1e-9, P0717=0.4)
    assert [steps.max() for steps in code_steps(memory, UNIT)] == [NO_CODE, PENDING, STORED, NO_CODE]
    both = remembering(P0562=2, P0712=1)
    both.failed[0] += both.failed[1]
    raises = [UNIT.control.actions[CODES[name].action].line_up for name in ("P0562", "P0712")]
    assert raises[0] != raises[1] and actions(both, UNIT).line_up[0] == max(raises)


def test_a_hydraulic_unit_has_no_codes():
    unit = load_unit("T4")
    with pytest.raises(ValueError, match="must have an electronic control"):
        code_steps(new_memory(1, unit), unit)
    assert np.size(new_memory(1, unit).failed) == 0


def test_clearing_leaves_what_is_learned_and_a_reset_leaves_the_codes():
    memory = remembering(P0733=2)
    memory.fill[:], memory.pressure[:] = 0.01, 5e4
    cleared, reset = clear_codes(memory), reset_learned(memory)
    assert code_steps(cleared, UNIT).max() == NO_CODE and np.all(cleared.fill == 0.01)
    assert np.all(cleared.pressure == 5e4)
    assert code_steps(reset, UNIT).max() == STORED and not reset.fill.any() and not reset.pressure.any()


# ---------------------------------------------------------------------- tests and trips
def day_of(memory=None, **changes):
    """A vehicle with changes on its day in mixed use, and what its controller sees of it."""
    plant, day = changed(**changes), duty_cycle("mixed", UNIT)
    condition = new_condition(len(plant.p.pump_displacement), UNIT)
    condition = replace(condition, memory=memory or condition.memory)
    driven = driven_day(plant, condition, day)
    return seen_on(plant, day, driven, condition.memory)


def failing(**changes):
    """The codes whose tests fail anywhere on the day of a vehicle with changes."""
    rates = failure_rates(day_of(**changes))[0]
    return {code for code, rate in zip(UNIT.control.code_ids, rates, strict=True) if rate > 0.0}


def test_nothing_fails_on_a_sound_day():
    assert failing() == set()


@pytest.mark.parametrize(
    "changes, codes",
    [
        ({"wire_open__wire_pce": 1.0}, {"P2725", "P2727", "P2729"}),
        ({"wire_open__relay_k1": 1.0}, {"P0657"}),
        ({"sensor_leak__tft": 0.01}, {"P0711"}),
        ({"wire_open__wire_tft": 1.0}, {"P0713", "P0711"}),
        ({"sensor_scale__tft": 0.01}, {"P0712"}),
        ({"sensor_dies_above__tss": 300.0}, {"P0717"}),
        ({"sensor_gap__oss": 0.02}, {"P0722"}),
        ({"control_tire_scale": 1.2}, {"P0721"}),
        ({"sensor_stuck__psh": 1.0}, {"P0842"}),
        ({"wire_rub__wire_psh": 1.0}, {"P0842"}),
        ({"solenoid_opens_above__pce": 300.0}, {"P2725", "P2727", "P2729"}),
        ({"sensor_stuck__brake": 1.0}, {"P0703", "P0504"}),
        ({"engine_misfire": 0.05}, {"P0300"}),
        ({"control_wrong_number": 1.0}, {"P0614"}),
        ({"bus_wheels_silent": 1.0}, {"U0121"}),
        ({"supply_rest": 11.0, "supply_resistance": 0.02}, {"P0882"}),
        ({"supply_charge": 18.0}, {"P0563"}),
    ],
)
def test_each_circuit_fails_its_own_codes(changes, codes):
    """What is sick and what the controller says of it (criteria of the unit's data file)."""
    assert codes <= failing(**changes)


def test_a_gear_that_slips_fails_its_ratio_and_one_that_does_not_cannot():
    """A ring leak that leaves third and fifth without grip: their ratios, and the solenoid that both need; not the others'."""
    found = failing(element_leak__reduction_clutch=4e-11)
    assert "P0733" in found and found.isdisjoint({"P0731", "P0732", "P0734", "P0729"})


def test_what_is_true_but_not_seen_fails_nothing():
    """Belief isolation: a fluid much too low or linings half gone are no code of themselves."""
    plant, day = changed(sump_charge=changed().p.sump_charge.item() - 4e-4), duty_cycle("mixed", UNIT)
    condition = new_condition(1, UNIT)
    worn = replace(condition, lining=condition.lining + 1e-4)
    for vehicles, state in ((plant, condition), (changed(), worn)):
        seen = seen_on(vehicles, day, driven_day(vehicles, state, day), state.memory)
        same = day_of()
        for name in ("volts", "believed_temperature", "believed_speed", "wheel_speed", "lever_seen"):
            np.testing.assert_allclose(getattr(seen.electric, name), getattr(same.electric, name), rtol=0.02)


def test_two_failed_trips_in_a_row_take_as_many_trips_as_chance_has_it():
    """1/q + 1/q^2 (Feller), against 20,000 drawn series of trips by the rule itself: pending after one, forgotten after a pass."""
    rng = np.random.default_rng(5)
    for chance in (0.2, 0.5, 0.9, 1.0):
        needed = []
        for _ in range(5000):
            trips, row = 0, 0
            while row < 2:
                trips, row = trips + 1, (row + 1) * (rng.random() < chance)
            needed.append(trips)
        found = trips_in_a_row(np.array(chance), np.array(2.0))
        assert found == pytest.approx(np.mean(needed), rel=0.05)
        assert trips_in_a_row(np.array(chance), np.array(1.0)) == pytest.approx(1.0 / chance)


def test_codes_are_counted_by_trips():
    """Always failing: a two-trip code is pending after one trip and stored after two, a one-trip code at once; what fails no more
    before it is stored is forgotten to the last trace, what is stored stays for a while."""
    ids, memory = list(UNIT.control.code_ids), new_memory(1, UNIT)
    often = np.zeros((1, len(ids)))
    often[0, [ids.index("P0733"), ids.index("P0717")]] = 1.0, 0.05
    for trips, step in ((1, PENDING), (2, STORED)):
        after = counted(memory, UNIT, often, np.array([[trips * TRIP]]))
        assert code_steps(after, UNIT)[0, ids.index("P0733")] == step
        assert code_steps(after, UNIT)[0, ids.index("P0717")] == STORED
    one = counted(memory, UNIT, often, np.array([[TRIP]]))
    for start, left in ((one, NO_CODE), (after, STORED)):
        passed = counted(start, UNIT, 0.0 * often, np.array([[20.0 * TRIP]]))
        assert (passed.failed[0, 0, ids.index("P0733")] > 0.0) == (left == STORED)
        assert code_steps(passed, UNIT)[0, ids.index("P0733")] == left
    halves = counted(
        counted(memory, UNIT, often, np.array([[0.4 * TRIP]])), UNIT, often, np.array([[0.6 * TRIP]])
    )
    np.testing.assert_allclose(halves.failed, one.failed, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(
    "code, goes",
    [
        ("P0562", True),
        ("P0717", True),
        ("P0711", False),
        ("P0733", False),
        ("P2727", False),
        ("P0741", False),
    ],
)
def test_a_code_passes_no_trip_while_its_test_does_not_run(code, goes):
    """Voltage and speeds are watched whatever is done; a gear that is barred, a solenoid without relay, a lock-up that is off and a
    temperature taken as given are not: such a code stays until it is cleared."""
    memory = remembering(**{code: 2})
    after = counted(memory, UNIT, np.zeros((1, len(CODES))), np.array([[50.0 * TRIP]]))
    assert (code_steps(after, UNIT).max() == NO_CODE) == goes and lit(after, UNIT).any() != goes


def test_the_lamp_goes_out_before_the_code_does_and_comes_back_with_the_fault():
    """Lit and acted on; out and acted on no more, but stored; failing again: lit at once."""
    memory, often = remembering(P0562=2), np.zeros((1, len(CODES)))
    out = counted(memory, UNIT, often, np.array([[5.0 * TRIP]]))
    assert actions(memory, UNIT).line_up > 0.0 and actions(out, UNIT).line_up == 0.0
    assert not lit(out, UNIT).any() and code_steps(out, UNIT).max() == STORED
    often[0, UNIT.control.code_ids.index("P0562")] = 1.0
    assert lit(counted(out, UNIT, often, np.array([[TRIP]])), UNIT).any()
    assert not clear_codes(out).passed.any()


def test_the_first_code_that_acts_ends_the_count_of_the_others():
    """An open coil is seen after 0.2 s: what takes 1 s or a trip is not set any more, as the relay is off by then."""
    ids, day = list(UNIT.control.code_ids), duty_cycle("mixed", UNIT)
    plant, condition = changed(wire_open__wire_pce=1.0), new_condition(1, UNIT)
    driven = driven_day(plant, condition, day)
    now = remembered(plant, condition, day, driven, np.array([[5.0 * units.MILE]]))
    assert now.changed.all() and 4.9 * units.MILE < now.left.item() < 5.0 * units.MILE
    acted = replace(condition, memory=now.memory)
    driven = driven_day(plant, acted, day)
    later = remembered(plant, acted, day, driven, now.left)
    assert not later.changed.any() and not later.left.any()
    steps = dict(zip(ids, code_steps(later.arriving, UNIT)[0], strict=True))
    stored = {code for code, step in steps.items() if step == STORED}
    assert stored and stored <= {"P2727", "P2729"} and not driven.work.electric.relay_on.any()
    gears = [list(UNIT.gears)[gear] for gear in driven.work.gear[0]]
    assert {gear for gear, lever in zip(gears, day.op.lever, strict=True) if lever == "D"} == {"fourth"}


def test_in_limp_what_is_shown_is_limps():
    """No current is wanted or there, full line, no lock-up: so that no gap shows that is none."""
    seen = day_of(memory=remembering(P0657=1))
    e = seen.electric
    assert (
        not e.relay_on.any()
        and not e.wanted_current.any()
        and not e.current.any()
        and not e.lockup_command.any()
    )
    np.testing.assert_allclose(e.wanted_line, seen.plant.p.control_line_full * np.ones_like(e.wanted_line))
    np.testing.assert_array_equal(e.wanted_gear, seen.work.gear)
    assert not failure_rates(seen).any()


def test_a_freeze_frame_tells_where_the_code_failed():
    """Output speed lost at a crawl: seen at walking pace; a sensor that dies hot: at the hottest place; none without a code."""
    memory = remembering(P0722=1)
    middle = np.full((1, 4), 0.5)
    frame = freeze_frame(day_of(sensor_gap__oss=0.006), memory, middle)
    assert UNIT.control.code_ids[int(frame.code[0])] == "P0722" and units.to_mph(frame.road_speed[0]) < 12.0
    none = freeze_frame(day_of(), new_memory(1, UNIT), middle)
    assert none.code[0] == -1 and np.isnan(none.temperature[0])


def test_a_contact_that_opens_for_moments_is_counted_by_those_that_last():
    """The rougher the road the more; hardly any code whose debounce is long, many of one that waits 0.2 s."""
    rates = dict(zip(UNIT.control.code_ids, failure_rates(day_of(wire_shake__wire_pce=1.2))[0], strict=True))
    assert rates["P2727"] > 10.0 * rates["P2725"] > 0.0 and rates["P2718"] == 0.0
    assert failure_rates(day_of(wire_shake__wire_pce=0.5)).max() == 0.0


def test_a_freeze_frame_is_of_any_moment_at_which_the_code_fails():
    """A shaking contact fails wherever the road is rough: many draws give many frames, each of a point where it does fail."""
    seen, rng = day_of(wire_shake__wire_pce=1.2), np.random.default_rng(3)
    memory = remembering(P2729=1)
    frames = [freeze_frame(seen, memory, rng.random((1, 4))) for _ in range(60)]
    gears = {float(frame.gear[0]) for frame in frames}
    speeds = np.array([frame.road_speed[0] for frame in frames])
    assert len(gears) > 1 and np.ptp(speeds) > 5.0 and len({float(f.temperature[0]) for f in frames}) == 60
    place = UNIT.control.code_ids.index("P2729")
    failing = (seen.seconds * np.moveaxis(failures(seen), 0, -1)[..., place])[0] > 0.0
    middles = seen.electric.believed_speed[0][failing]
    assert all(
        np.min(np.abs(speed - middles) / np.maximum(middles, 0.1)) <= FRAME_SPEED + 1e-9 for speed in speeds
    )


def test_a_frame_of_a_ratio_is_in_its_gear_even_where_it_holds_today():
    """A stored ratio code whose gear holds on the day: the frame is still of that gear, moving and pulling."""
    seen, gears = day_of(), list(UNIT.gears)
    for code, gear in RATIOS.items():
        for point in (0.0, 0.5, 0.999):
            frame = freeze_frame(seen, remembering(**{code: 2}), np.array([[point, 0.5, 0.5, 0.5]]))
            assert gears[int(frame.gear[0])] == gear and frame.road_speed[0] > 0.0
