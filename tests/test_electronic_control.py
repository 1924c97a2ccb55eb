"""The steady point of an electronic unit: from sensors to beliefs, currents, pressures, and the gear that they make."""

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from electronic import UNIT, parameters_with

from course_lib.base import units
from course_lib.physics.network import regulated_currents
from course_lib.vehicle import netlist
from course_lib.vehicle.adaptation import may_learn
from course_lib.vehicle.codes import ways_of
from course_lib.vehicle.command import Asked
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.felt_troubles import felt_troubles
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.uses import load_uses
from course_lib.vehicle.wiring import coil_resistances, leaks, open_shares, reduced, wire_resistances

HOT = units.from_fahrenheit(180.0)
CONTROL = UNIT.control
SOLENOIDS, WIRES, SENSORS = CONTROL.solenoid_ids, CONTROL.wire_ids, CONTROL.sensor_ids
GEARS = list(UNIT.gears)
ELEMENT = {"LC": 0, "HC": 1, "RC": 2, "SB": 3, "LB": 4}
OF = {"LC": "pcb", "HC": "pcc", "RC": "pcd", "SB": "pce"}
HIGH, LOW = (0.95, 0.1), (0.15, 1.0)  # currents without and with all pressure
# mph at which a light pedal is well inside each gear
CRUISE = {"first": 7.0, "second": 14.0, "third": 22.0, "fourth": 31.0, "fifth": 41.0, "sixth": 60.0}


def run(op, cases=1, **changes):
    """What happens to sound vehicles but for these changes."""
    return Plant(UNIT, parameters_with(cases, **changes)).operate(new_condition(cases, UNIT), op)


@cache
def cruising(throttle=0.25):
    """One point in each gear of D."""
    mph = np.array(list(CRUISE.values()))
    return operation("D", throttle=throttle, road_speed=units.from_mph(mph), temperature=HOT)


def test_it_drives_in_the_gear_that_it_wants():
    """Sound: a point in each gear, found where it was wanted; nothing slips and nothing fights."""
    work = run(cruising())
    assert [GEARS[gear] for gear in work.gear[0]] == list(CRUISE)
    np.testing.assert_array_equal(work.gear, work.electric.wanted_gear)
    assert not work.loss.any() and not work.tie_up.any()


# ---------------------------------------------------------------------- limp-home
@pytest.mark.parametrize(
    "high, drive, ties, reverse_ties",
    [
        (("LC", "HC"), "fourth", False, False),
        (("LC", "RC"), "third", False, False),
        (("LC", "SB"), "second", False, True),
        (("HC", "RC"), "fifth", False, False),
        (("LC", "HC", "RC"), "fourth", True, False),
        ((), "neutral", False, False),
    ],
)
def test_the_limp_gear_follows_from_the_rest_states(high, drive, ties, reverse_ties):
    """No current anywhere: the normally-high clutches make the gear; in R the manual valve does, whatever they are.

    Which pair makes which gear is the unit's own apply chart; that dead solenoids leave it is common practice, no source.
    """
    rest = {}
    for name, solenoid in OF.items():
        zero, full = HIGH if name in high else LOW
        rest |= {f"solenoid_zero_current__{solenoid}": zero, f"solenoid_full_current__{solenoid}": full}
    op = operation(("D", "R"), throttle=0.2, road_speed=units.from_mph(3.0), temperature=HOT)
    work = run(op, wire_open__relay_k1=1.0, **rest)
    assert np.all(work.electric.current < 1e-4)
    assert [GEARS[gear] for gear in work.gear[0]] == [drive, "reverse"]
    assert ((work.tie_up[0] > 0.5) == (ties, reverse_ties)).all(), work.tie_up
    assert work.line.min() > 0.95 * parameters_with()["control_line_full"].item(), (
        "without current the line is full"
    )


def test_two_plugs_exchanged_give_exact_ratios():
    """D on E and E on D: 1.46 where 2.26 was wanted, and the other way round, 0.69 for 0.87 and 0.87 for 0.69; none slips."""
    work, ratio = run(cruising(), control_plugs_swapped=1.0), gear_tables(UNIT).ratio
    turns = work.electric.believed_turbine[0] / (cruising().road_speed / 0.36 * 3.4)
    wrong = {"second": 1.463, "third": 2.262, "fifth": 0.686, "sixth": 0.874}
    for column, gear in enumerate(CRUISE):
        expected = wrong.get(gear, ratio[UNIT.gear_index(gear)])
        assert turns[column] == pytest.approx(expected, abs=2e-3), gear
    assert not work.slip.any()


@pytest.mark.parametrize("use", list(load_uses().uses))
def test_sound_vehicles_hold_in_every_use(use):
    """No loss, nothing fights, the slip of the lock-up clutch as it is kept, the cooler fed."""
    day = duty_cycle(use, UNIT)
    work = (
        run(day.op)
        if False
        else Plant(UNIT, parameters_with()).operate(new_condition(1, UNIT), day.op, day.seconds)
    )
    assert not work.loss.any() and not work.tie_up.any()
    slip = units.to_rpm(work.lockup_slip[work.lockup_on > 0])
    assert np.all((slip > 25.0) & (slip < 55.0)) and work.cooler_flow.min() > 0.0


def test_in_limp_every_command_shown_is_that_of_limp():
    """With the relay switched off by a code nothing is asked for: no current, full line, and no gap of an ampere on a screen."""
    condition = new_condition(1, UNIT)
    condition.memory.failed[0, 0, CONTROL.code_ids.index("P0657")] = 1.0
    plant, op = Plant(UNIT, parameters_with()), replace(cruising(), acting=np.ones(len(CRUISE)))
    limp, cleared = plant.operate(condition, op), plant.operate(condition, cruising())
    assert {GEARS[gear] for gear in limp.gear[0]} == {"fourth"} and not limp.electric.lockup_command.any()
    assert not limp.electric.wanted_current.any() and not limp.electric.measured.any()
    np.testing.assert_array_equal(limp.electric.wanted_gear, limp.gear)
    assert np.all(limp.electric.wanted_line == plant.p.control_line_full) and not limp.electric.relay_on.any()
    assert [GEARS[gear] for gear in cleared.gear[0]] == list(CRUISE), "after clearing it drives as ever"


def test_a_barred_gear_gives_way_to_the_next_lower_with_the_line_full():
    """A ratio code bars its gear as long as it acts; every other gear stays."""
    condition = new_condition(1, UNIT)
    condition.memory.failed[0, 0, CONTROL.code_ids.index("P0733")] = 2.0
    work = Plant(UNIT, parameters_with()).operate(condition, replace(cruising(), acting=np.ones(len(CRUISE))))
    assert [GEARS[g] for g in work.gear[0]] == ["first", "second", "second", "fourth", "fifth", "sixth"]
    assert units.to_psi(work.electric.wanted_line).min() == pytest.approx(250.0, abs=0.1)


# ---------------------------------------------------------------------- two charts
def test_what_the_manual_valve_feeds_in_reverse_is_not_asked_for():
    """R oil lifts clutch and brake past their valves. Were the clutch's solenoid energized too, exchanged plugs would tie R up.

    So nothing is commanded in R that R oil feeds: the electric chart is not the hydraulic one.
    """
    op = operation("R", throttle=0.2, road_speed=2.0, temperature=HOT)
    assert set(CONTROL.ports["R"].line) == set(UNIT.gears["reverse"])
    assert not set(CONTROL.commanded["reverse"]) & set(CONTROL.ports["R"].line)
    swapped = Plant(UNIT, parameters_with(control_plugs_swapped=1.0))
    sound = swapped.operate(new_condition(1, UNIT), op)
    assert GEARS[sound.gear[0, 0]] == "reverse" and not sound.tie_up.any() and not sound.loss.any()
    every = np.full((1, 1, len(ELEMENT)), np.nan)
    every[..., ELEMENT["RC"]] = 1.7e6
    asked = Asked(gear=np.array([UNIT.gear_index("reverse")]), pressure=every)
    hot = np.full((1, 1), HOT)
    wrongly = swapped.electronic_controls.command(op, new_condition(1, UNIT), hot, asked)
    assert wrongly.pressed[0, 0, ELEMENT["SB"]] > 1.5e6, "energized, the clutch's plug presses the sun brake"


# ---------------------------------------------------------------------- directions
def test_a_leak_of_oil_raises_no_pressure():
    """Rings, bores, holes and body of 60 vehicles: no line and no circuit stands above a sound vehicle's, but where the engine
    races and the pump with it."""
    rng, cases = np.random.default_rng(1), 60
    parameters = parameters_with(cases)
    parameters["element_leak"] *= np.exp(rng.uniform(0.0, 3.0, (cases, 1, 5)))
    parameters["line_body_leak"] *= rng.uniform(1.0, 3.0, (cases, 1))
    parameters["solenoid_bore"] += rng.uniform(0.0, 0.2, (cases, 1, len(SOLENOIDS)))
    parameters["element_hole"] += rng.uniform(0.0, 3e-7, (cases, 1, 5))
    leaky, sound = Plant(UNIT, parameters).operate(new_condition(cases, UNIT), cruising()), run(cruising())
    in_gear = (leaky.gear == sound.gear) & (leaky.slip == 0.0)  # in another gear other circuits hold
    assert in_gear.mean() > 0.5
    assert np.all((leaky.line <= sound.line * (1.0 + 1e-6))[in_gear])
    assert np.all((leaky.circuit <= sound.circuit * (1.0 + 1e-6) + 1.0)[in_gear])


def test_a_resistance_raises_no_current_and_may_raise_the_line():
    """Bad contacts in supply, feeds, returns and ground of 200 vehicles; less current in the line's solenoid is more line."""
    rng, cases = np.random.default_rng(2), 200
    parameters = parameters_with(cases)
    power = [i for i, wire in enumerate(CONTROL.wires) if wire.path != "signal"]
    parameters["wire_contact"][:, 0, power] += rng.uniform(0.0, 1.0, (cases, len(power))) ** 8 * 12.0
    sick, sound = Plant(UNIT, parameters).operate(new_condition(cases, UNIT), cruising()), run(cruising())
    assert np.all(sick.electric.current <= sound.electric.current + 1e-3)
    assert np.all(sick.goal >= sound.goal * (1.0 - 1e-3)) and np.any(sick.goal > 1.5 * sound.goal)


def test_nothing_gets_more_than_is_commanded():
    """In each gear: a circuit that holds by its solenoid stands below what was asked of it, and below the line."""
    work = run(cruising())
    asked = np.minimum(work.electric.wanted_pressure, work.line[..., None])
    assert np.all(work.circuit <= asked + 1.0)
    lines = units.to_psi(work.line - work.electric.wanted_line)
    assert np.all(np.abs(lines) < 8.0), "the gauge shows what the screen says, within 8 psi"


# ---------------------------------------------------------------------- belief
def test_what_no_sensor_tells_changes_no_belief():
    """Leaks, bores, plate clearances and friction: pressures differ, and not one belief or wish of the controller."""
    hidden = {
        "element_leak": 4e-13,
        "line_body_leak": 7e-13,
        "element_clearance": 1.6e-3,
        "solenoid_bore__pcd": 0.5,
    }
    sound, changed_ = run(cruising(0.16)), run(cruising(0.16), **hidden)
    assert np.abs(changed_.circuit - sound.circuit).max() > 5e3
    told = [
        f.name for f in fields(sound.electric) if f.name.startswith(("believed", "wanted", "fluid", "lever"))
    ]
    for name in (*told, "volts", "turbine_seen", "output_seen", "brake_on", "measured", "duty"):
        ours, theirs = (getattr(work.electric, name) for work in (sound, changed_))
        np.testing.assert_array_equal(ours, theirs, err_msg=name)


@pytest.mark.parametrize(
    "series, leak, outside, believed",
    [
        (200.0, 0.0, (104.0, 194.0), (97.0, 158.0)),
        (300.0, 0.0, (104.0, 194.0), (94.0, 146.0)),
        (1000.0, 0.0, (104.0, 200.0), (76.0, 104.0)),
        (0.0, 5e-4, (68.0, 104.0, 194.0), (107.0, 129.0, 202.0)),
    ],
)
def test_a_bad_contact_reads_cold_and_water_reads_hot(series, leak, outside, believed):
    """Degrees Fahrenheit, from divider and thermistor by hand: series most where it is hot, water most where it is cold."""
    temperature = units.from_fahrenheit(np.array(outside))
    op = operation("P", temperature=temperature, wet=1.0)
    work = run(op, wire_contact__wire_tft=series + 0.01, sensor_leak__tft=leak)
    told = units.to_fahrenheit(work.electric.believed_temperature[0])
    np.testing.assert_allclose(told, believed, atol=1.0)
    dry = run(replace(op, wet=np.zeros(len(outside))), sensor_leak__tft=leak)
    np.testing.assert_allclose(dry.electric.believed_temperature[0], temperature, atol=0.2)


def test_tires_as_entered_move_shown_speed_and_shift_points_alone():
    """A tenth too many: it shows too little and shifts as much later by true speed; ratios stay exact."""
    wrong, right = (Plant(UNIT, parameters_with(control_tire_scale=scale)) for scale in (1.1, 1.0))
    late = wrong.controls.upshift_speeds(0.3) / right.controls.upshift_speeds(0.3)
    np.testing.assert_allclose(late, 1.1)
    work = wrong.operate(new_condition(1, UNIT), cruising())
    np.testing.assert_allclose(
        work.electric.believed_speed * 1.1, np.broadcast_to(cruising().road_speed, (1, 6))
    )


def test_a_lost_contact_of_the_range_sensor_makes_a_pattern_that_no_lever_gives():
    """In every lever two of four contacts are closed, so one bad wire is seen where its contact should be closed."""
    op = operation(("P", "R", "N", "D", "2"), temperature=HOT)
    assert {sum(mark == "1" for mark in each) for each in CONTROL.sensors[5].patterns.values()} == {2}
    seen = run(op, wire_open__wire_trs_a=1.0).electric.lever_seen[0]
    assert (seen == -1).tolist() == [True, True, False, False, False]
    assert np.all(run(op).electric.lever_seen[0] == np.arange(5))


def test_a_wide_gap_costs_the_slow_speeds_first():
    """The output sensor's voltage goes with speed: with 5 mm the reading dies while the vehicle still rolls."""
    op = operation("D", throttle=0.2, road_speed=units.from_mph(np.array([5.0, 20.0, 60.0])), temperature=HOT)
    assert np.all(run(op).electric.output_seen[0] == 1.0)
    seen = run(op, sensor_gap__oss=6.5e-3).electric.output_seen[0]
    assert seen[0] < 0.1 and seen[2] > 0.9 and np.all(np.diff(seen) >= 0.0)


# ---------------------------------------------------------------------- circuit
def bad_circuits(cases):
    """Parameters with one to three bad contacts each, some with a rubbed wire, some with a weak supply."""
    rng, parameters = np.random.default_rng(1), parameters_with(cases)
    sick = [
        w.id
        for w in CONTROL.wires
        if w.path in ("feed", "return") or w.id in ("ground_g1", "relay_k1", "fuse_f2")
    ]
    most = {"ground_g1": 1.0, "fuse_f2": 2.0}
    rubbed = [wire.id for wire in CONTROL.wires if wire.path == "return" and wire.pins]
    for row in range(cases):
        for name in rng.choice(sick, rng.integers(1, 4)):
            parameters["wire_contact"][row, 0, WIRES.index(name)] += rng.uniform(0.0, most.get(name, 10.0))
        if rng.random() < 0.4:
            parameters["wire_leak"][row, 0, WIRES.index(rng.choice(rubbed))] = rng.uniform(0.0, 3.0)
        parameters["supply_charge"][row] = rng.uniform(11.0, 15.0)
    return parameters


@pytest.fixture(scope="module")
def circuits():
    """400 faulty circuits at three points: workings, whole circuit, and the volts of its nodes."""
    plant = Plant(UNIT, bad_circuits(400))
    op = operation(
        "D", throttle=[0.0, 0.25, 0.9], road_speed=[0.0, 25.0, 18.0], temperature=[300.0, 355.0, 380.0]
    )
    work = plant.operate(new_condition(400, UNIT), op)
    circuit = netlist.live_circuit(plant, op, work.temperature, work.electric)
    return plant, work, circuit, circuit.volts()


def test_the_reduced_circuit_agrees_with_the_whole_one(circuits):
    """Current of every coil within 0.05 A, volts of the controller within 0.05 V; by Kirchhoff's laws alone."""
    plant, work, circuit, volts = circuits
    coil = coil_resistances(plant, work.temperature)
    at = circuit.nodes.index
    for place, solenoid in enumerate(CONTROL.solenoids):
        near = CONTROL.wires[WIRES.index(solenoid.feed)].ends[1]
        far = CONTROL.wires[WIRES.index(solenoid.wires[0])].ends[0]
        whole = (volts[..., at(near)] - volts[..., at(far)]) / coil[..., place]
        assert np.abs(whole - work.electric.current[..., place]).max() < 0.05, solenoid.id
    own = volts[..., at("controller_supply")] - volts[..., at("controller_ground")]
    on = work.electric.relay_on
    assert np.abs(own - work.electric.volts)[on].max() < 0.05 and on.mean() > 0.9


def test_charge_and_power_are_conserved_in_the_wiring(circuits):
    """What flows into a node flows out of it, and the battery's power is what the branches take: within 0.1 percent (Kirchhoff)."""
    _, _, circuit, volts = circuits
    flow = circuit.currents()
    into = circuit.source.copy()
    for branch, (one, other) in enumerate(circuit.ends):
        into[..., one] -= flow[..., branch]
        into[..., other] += flow[..., branch]
    assert np.abs(into).max() < 1e-3 * np.abs(flow).max()
    across = volts[..., circuit.ends[:, 0]] - volts[..., circuit.ends[:, 1]]
    np.testing.assert_allclose((flow * across).sum(-1), (circuit.source * volts).sum(-1), rtol=1e-3)


def test_a_feed_that_resists_takes_from_all_that_share_it():
    """Two solenoids of feed B asked for 1.00 A at 212 F and 13.5 V: 0.94, 0.81, 0.70 and 0.58 A behind 4, 5, 6 and 8 ohm.

    The figures are reckoned by hand for two coils behind one resistance; the circuit has pins, relay and driver besides, which
    count most where the duty has just run out, at 4 ohm.
    """
    ohm = np.array([4.0, 5.0, 6.0, 8.0])
    plant = Plant(UNIT, parameters_with(4, wire_contact__feed_b=ohm, supply_charge=13.5))
    hot = np.full((4, 1), units.from_fahrenheit(212.0))
    coils, supply = reduced(plant, hot, wire_resistances(plant, hot), 0.0 * hot)
    wanted = np.tile([0.95, 0.95, 0.1, 1.0, 0.15, 1.0, 0.0], (4, 1, 1))
    found = regulated_currents(wanted, coils, supply).current[:, 0, SOLENOIDS.index("pcd")]
    assert np.all(np.abs(found - [0.94, 0.81, 0.70, 0.58]) < [0.09, 0.05, 0.02, 0.02])
    alone = run(cruising(), 4, wire_contact__feed_b=ohm).electric.current[:, 1, SOLENOIDS.index("pce")]
    assert np.all(alone[:3] > 0.99), "held by one solenoid alone, five ohm do not show"


@pytest.mark.parametrize("fahrenheit, least, most", [(68.0, 0.29, 0.35), (212.0, 0.38, 0.45)])
def test_duty_tells_how_warm_the_copper_is(fahrenheit, least, most):
    """The line's solenoid at 0.80 A and 13.5 V, against the sheet: copper resists a third more hot (IEC 60028)."""
    line = (250.0 - 211.0 * 0.7 - 60.0) / 190.0
    op = operation("P", signal=line, temperature=units.from_fahrenheit(fahrenheit))
    work = run(op, supply_charge=13.5)
    assert work.electric.measured[0, 0, 0] == pytest.approx(0.80, abs=0.01)
    assert least < work.electric.duty[0, 0, 0] < most


def test_a_sick_ground_drops_the_relay():
    """Under 8.5 V the controller lets its relay go: no current, the line full, the gear of limp-home."""
    ohm = np.array([0.0, 1.0, 3.0, 8.0])
    work = run(operation("D", throttle=0.2, road_speed=2.0, temperature=HOT), 4, wire_contact__ground_g1=ohm)
    volts, on = work.electric.volts[:, 0], work.electric.relay_on[:, 0]
    assert np.all(np.diff(volts) < 0.0) and on.tolist() == (volts > 8.5).tolist() and on[0] and not on[-1]
    assert GEARS[work.gear[-1, 0]] == "fourth" and not work.electric.current[-1].any()
    assert work.goal[-1, 0] > 3.0 * work.goal[0, 0]


def test_a_meter_finds_no_drop_where_no_current_flows():
    """A feed pin of 5 ohm, the relay off: the drop over it reads 0 V; with the load on, volts."""
    parameters = parameters_with(2, wire_contact__feed_b=5.0)
    parameters["wire_open"][0, 0, WIRES.index("relay_k1")] = 1.0
    plant, op = Plant(UNIT, parameters), cruising()
    work = plant.operate(new_condition(2, UNIT), op)
    drop = netlist.live_circuit(plant, op, work.temperature, work.electric).drop("relay_out", "feed_b")
    assert np.all(np.abs(drop[0]) < 1e-3) and drop[1].max() > 1.0


def test_a_rubbed_wire_touches_as_the_unit_lifts():
    """Half an ohm to the body at full torque: meter and lives find the same current, and none of it at rest."""
    plant = Plant(UNIT, parameters_with(wire_rub__wire_pcd=2.0))
    op = operation("D", throttle=[0.0, 0.9], road_speed=[0.0, 5.0], temperature=HOT)
    work = plant.operate(new_condition(1, UNIT), op)
    current = work.electric.current[0, :, SOLENOIDS.index("pcd")]
    assert current[0] == pytest.approx(0.15, abs=0.01) and current[1] > 1.0
    circuit = netlist.live_circuit(plant, op, work.temperature, work.electric)
    drop = (
        circuit.drop("feed_b", "x1_pcd")[0]
        / coil_resistances(plant, work.temperature)[0, :, SOLENOIDS.index("pcd")]
    )
    np.testing.assert_allclose(drop, current, rtol=0.02)


def test_what_leaks_and_what_rubs_add_up():
    """Of one wire, at full torque; at rest the leak alone."""
    plant = Plant(
        UNIT, parameters_with(3, wire_leak__wire_pcd=[0.0, 0.3, 0.3], wire_rub__wire_pcd=[2.0, 0.0, 2.0])
    )
    rub, leak, both = leaks(plant, np.broadcast_to([0.0, 1.0], (3, 2)))[..., WIRES.index("wire_pcd")]
    assert rub[0] == 0.0 < rub[1] and leak[0] == leak[1] == pytest.approx(0.3)
    np.testing.assert_allclose(both, rub + leak)


def test_every_current_goes_through_its_own_wires_and_what_all_hang_on():
    """Fuse and relay open every solenoid, a feed those that it feeds, a wire its own; the ground is the controller's own."""
    ways = dict(zip(WIRES, ways_of(UNIT), strict=True))
    assert ways["fuse_f1"].all() and ways["relay_k1"].all() and not ways["ground_g1"].any()
    for place, solenoid in enumerate(CONTROL.solenoids):
        assert np.flatnonzero(ways[f"wire_{solenoid.id}"]).tolist() == [place]
        assert ways[solenoid.feed][place] and ways["feed_a"][place] != ways["feed_b"][place]


@pytest.mark.parametrize(
    "changes, learns",
    [
        ({}, True),
        ({"wire_open__wire_tss": 1.0}, False),
        ({"sensor_gap__oss": 0.02}, False),
        ({"wire_contact__wire_tft": 3000.0}, False),  # takes the fluid for cold
        ({"supply_charge": 10.0}, False),
        ({"supply_charge": 17.0}, False),
    ],
)
def test_it_learns_only_warm_and_with_the_speeds_and_volts_it_needs(changes, learns):
    """As it believes them, in the mean of the drive."""
    work = run(cruising(), **changes)
    assert (
        may_learn(work.electric, np.ones((1, len(CRUISE))), new_condition(1, UNIT).memory, UNIT).item()
        == learns
    )


def test_a_gear_other_than_the_wanted_one_is_felt_and_none_at_all_is_felt_most():
    """In a day of mixed use: sound, nothing; two plugs exchanged, second and its neighbors; a solenoid that gives no gear; limp."""
    day, felt = duty_cycle("mixed", UNIT), []
    for changes in (
        {},
        {"control_plugs_swapped": 1.0},
        {"wire_open__relay_k1": 1.0},
        {"wire_open__wire_pcd": 1.0},
    ):
        plant, condition = Plant(UNIT, parameters_with(**changes)), new_condition(1, UNIT)
        work = plant.operate(condition, day.op, day.seconds)
        felt.append(felt_troubles(plant, condition, work, "mixed")["limp"].item())
        assert (changes.keys() == {"wire_open__wire_pcd"}) == (GEARS.index("neutral") in work.gear)
    assert felt[0] == 0.0 and sorted(felt) == felt and felt[2] > 1.0 > felt[1] > 0.1


@pytest.mark.parametrize(
    "fahrenheit, top, locked", [(180.0, "sixth", []), (25.0, "fifth", []), (275.0, "fifth", ["second"])]
)
def test_cold_and_very_hot_fluid_leave_out_the_top_gear(fahrenheit, top, locked):
    """Cold, so that it warms up; very hot, so that it is spared, and then the lock-up comes on in second too, never in first."""
    heat = units.from_fahrenheit(fahrenheit)
    road = operation("D", throttle=0.25, road_speed=units.from_mph(CRUISE["sixth"]), temperature=heat)
    assert GEARS[run(road).electric.wanted_gear.item()] == top
    held = operation(["1", "2"], throttle=0.6, road_speed=units.from_mph(29.0), temperature=heat)
    locks = run(held).electric.lockup_command[0] > 0.0
    assert [gear for gear, lock in zip(("first", "second"), locks, strict=True) if lock] == locked


def test_an_ohmmeter_reads_what_lies_between_its_leads():
    """Coils at 68 F, thermistor, sensor coil; a rubbed wire to the body, a sound one to nowhere, with the plugs apart."""
    plant = Plant(UNIT, parameters_with(wire_leak__wire_pcd=2.5))
    cold = np.full((1, 1), units.from_fahrenheit(68.0))

    def ohm(one, other, *apart):
        return netlist.ohms(plant, (one, other), apart, cold).item()

    assert ohm("feed_b", "x1_pcd", "X1") == pytest.approx(5.3, abs=0.1)
    assert ohm("feed_b", "x1_ssa", "X1") == pytest.approx(24.0, abs=0.2)
    assert ohm("tft", "sensor_ground", "X1") == pytest.approx(2700.0, rel=0.01)
    assert ohm("oss", "oss_back", "X1") == pytest.approx(320.0, rel=0.01)
    assert ohm("X1:6", "body", "X1", "X2") == pytest.approx(0.4, abs=0.05)
    assert ohm("X1:7", "body", "X1", "X2") > 1e6 and ohm("X1:7", "X2:7", "X1", "X2") < 0.5


def test_a_contact_opens_by_shaking_and_one_in_the_pan_by_heat():
    """At rest never, on the road now and then; past its heat for good, and then the normally-high clutch binds the low gears."""
    plant = Plant(UNIT, parameters_with(wire_shake__wire_pce=1.2))
    op = operation("D", throttle=0.2, road_speed=[0.0, 27.0], shake=[0.0, 0.9], temperature=HOT)
    shares = open_shares(plant, op, np.full((1, 2), HOT))[0, :, WIRES.index("wire_pce")]
    assert shares[0] == 0.0 and 0.1 < shares[1] < 0.6
    hot = operation(
        "D", throttle=0.2, road_speed=2.0, temperature=units.from_fahrenheit(np.array([150.0, 240.0]))
    )
    work = run(hot, wire_opens_above__loom_pcc=units.from_fahrenheit(200.0))
    assert work.electric.current[0, :, SOLENOIDS.index("pcc")].round(2).tolist() == [0.95, 0.0]
    assert work.tie_up[0, 0] == 0.0 and (work.tie_up[0, 1] > 0.0 or work.gear[0, 1] != work.gear[0, 0])


# ---------------------------------------------------------------------- lock-up, line, heat
def test_the_lock_up_clutch_keeps_its_slip_as_long_as_its_pressure_reaches():
    """40 rpm whatever bore and ring take; when all of the pressure is not enough it slips more."""
    op = operation("D", throttle=0.25, road_speed=units.from_mph(60.0), temperature=HOT)
    work = run(op, 3, solenoid_bore__tcp=np.array([0.0, 1.0, 9.0]))
    slip, asked = (
        units.to_rpm(work.lockup_slip[:, 0]),
        work.electric.wanted_current[:, 0, SOLENOIDS.index("tcp")],
    )
    assert (
        slip[0] == pytest.approx(40.0, abs=0.5) and slip[1] == pytest.approx(40.0, abs=0.5) and slip[2] > 60.0
    )
    assert np.all(np.diff(asked) > 0.0), "the command tells what the slip does not"


def test_a_line_that_lags_shows_right_after_the_pedal_goes_down():
    """With a clogged screen before its solenoid; half a minute later, and in a sound unit, the line is there."""
    op = operation(
        "D", throttle=0.8, road_speed=units.from_mph(30.0), pressed_for=[0.3, 30.0], temperature=HOT
    )
    work = run(op, 2, solenoid_lag__pca=np.array([0.02, 1.5]))
    short = work.electric.wanted_line - work.line
    assert units.to_psi(short[1, 0]) > 30.0 and np.all(units.to_psi(short[[0, 0, 1], [0, 1, 1]]) < 8.0)
    assert work.loss[1, 0] > 0.05 and not work.loss[0].any()


def test_full_line_does_not_starve_the_cooler():
    """Limp-home in town: the regulator lets nothing go, an orifice feeds the cooler, and the sump settles."""
    day = duty_cycle("town", UNIT)
    plant = Plant(UNIT, parameters_with(wire_open__relay_k1=1.0))
    work = plant.operate(new_condition(1, UNIT), day.op, day.seconds)
    assert not work.boils_over.any() and work.cooler_flow.min() > 1e-5 and work.spill.min() == 0.0
