"""Electrical physics, sensors and codes against numbers printed elsewhere, Kirchhoff's rules, limits and directions.

"From memory" means that the source was not at hand when the value was written down, "read" that it was; every such
value was also recomputed by hand with the formula shown.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from course_lib.base.constants import ZERO_CELSIUS
from course_lib.base.units import from_rpm, to_rpm
from course_lib.physics import copper, loose_contact, network, sensing, solenoid, trouble_code

# --- copper ----------------------------------------------------------------------------------------------


def test_copper_resists_more_when_hot():
    """E1: IEC 60028, annealed copper 0.00393 per K (from memory; the resistivity was read); 0.1 percent."""
    celsius = np.array([-20.0, 60.0, 100.0, 120.0])
    found = copper.copper_resistance(5.30, celsius + ZERO_CELSIUS)
    np.testing.assert_allclose(found, [4.467, 6.133, 6.966, 7.383], rtol=1e-3)
    same_law = 5.30 * (234.5 + 100.0) / (234.5 + 20.0)
    assert same_law == pytest.approx(6.966, rel=1e-3)


def test_copper_agrees_with_the_cable_table():
    """E2: IEC 60228, factors to 20 degrees Celsius, read on a cable maker's page; the table uses 0.004 per K: 0.5 percent."""
    celsius = np.array([50.0, 75.0, 100.0])
    factors = 1.0 / copper.copper_resistance(1.0, celsius + ZERO_CELSIUS)
    np.testing.assert_allclose(factors, [0.893, 0.820, 0.758], rtol=5e-3)


def test_wires_lie_below_what_the_standard_allows():
    """E3: IEC 60028 value and IEC 60228 tables, read on three pages; 0.1 percent."""
    ideal = copper.wire_resistance(1.0, 0.75e-6, 293.15)
    assert ideal == pytest.approx(22.99e-3, rel=1e-3)
    assert ideal < 24.5e-3 < 26.0e-3
    allowed = 4.0 * 39.0e-3
    assert copper.wire_resistance(4.0, 0.5e-6, 293.15) < allowed == pytest.approx(0.156, rel=1e-3)
    assert copper.copper_resistance(allowed, 90.0 + ZERO_CELSIUS) == pytest.approx(0.199, rel=1e-3)


# --- coils -----------------------------------------------------------------------------------------------


def test_coil_rises_with_its_time_constant():
    """E8: Hayt and Kemmerly, Engineering Circuit Analysis, RL circuits (from memory); 0.1 percent."""
    constant = 12e-3 / 5.3
    assert constant == pytest.approx(2.264e-3, rel=1e-3)
    full = solenoid.coil_current(1.0, 13.5, 5.3, 12e-3)
    assert full == pytest.approx(2.547, rel=1e-3)
    assert solenoid.coil_current(constant, 13.5, 5.3, 12e-3) == pytest.approx(0.63212 * full, rel=1e-4)
    assert solenoid.coil_current(2e-3, 13.5, 5.3, 12e-3) == pytest.approx(1.494, rel=1e-3)


def test_pulsed_coil_is_what_is_printed():
    """E9: Mohan, Undeland and Robbins, Power Electronics, step-down converter (from memory); 0.1 percent."""
    slow = solenoid.pulsed_current(0.40, 13.5, 5.3, 12e-3, 300.0)
    np.testing.assert_allclose(slow, [1.0189, 1.471, 0.608], rtol=1e-3)
    fast = solenoid.pulsed_current(0.40, 13.5, 5.3, 12e-3, 3000.0)
    np.testing.assert_allclose(fast, [1.0189, 1.064, 0.974], rtol=1e-3)


@pytest.mark.parametrize("duty", [0.05, 0.4, 0.95])
def test_pulsed_coil_is_what_a_general_solver_finds(duty):
    """Forty periods by scipy.integrate.solve_ivp; then mean, most and least of the last one."""
    period, time = 1.0 / 300.0, [0.0]
    current, shown = [0.0], []
    for beat in range(40):
        for start, end, volts in (
            (beat, beat + duty, 13.5),
            (beat + duty, beat + 1, 0.0),
        ):
            rise = lambda t, i, volts=volts: (volts - 5.3 * i) / 12e-3  # noqa: E731
            span = (start * period, end * period)
            found = solve_ivp(rise, span, current[-1:], rtol=1e-9, t_eval=np.linspace(*span, 200))
            time, current = found.t, found.y[0]
            shown.append((time, current))
    mean = sum(np.trapezoid(i, t) for t, i in shown[-2:]) / period
    most, least = max(i.max() for _, i in shown[-2:]), min(i.min() for _, i in shown[-2:])
    np.testing.assert_allclose(
        solenoid.pulsed_current(duty, 13.5, 5.3, 12e-3, 300.0), [mean, most, least], rtol=1e-4
    )


def test_duty_is_an_ohmmeter():
    """E10: E1 and E9 together; 0.1 point, and 0.1 percent of the most current at 95 percent."""
    hot = copper.copper_resistance(5.30, 100.0 + ZERO_CELSIUS)
    cases = ((5.30, 13.5, 31.4), (hot, 13.5, 41.3), (hot + 4.0, 13.5, 65.0), (hot + 4.0, 10.0, 87.7))
    for resistance, volts, printed in cases:
        mean = solenoid.pulsed_current(printed / 100.0, volts, resistance, 12e-3, 1000.0).mean
        assert mean == pytest.approx(0.80, abs=1e-3 * volts / resistance)
    for extra, printed in ((4.0, 1.169), (6.0, 0.989), (8.0, 0.857)):
        most = solenoid.pulsed_current(0.95, 13.5, hot + extra, 12e-3, 1000.0).mean
        assert most == pytest.approx(printed, rel=1e-3)


@pytest.mark.parametrize("zero, full", [(0.15, 1.0), (0.95, 0.10), (1.285, 0.10)])
def test_wanted_current_gives_the_wanted_pressure(zero, full):
    """Both ways round, normally low and normally high; outside the stops both hold."""
    pressure = np.linspace(0.0, 1.7e6, 30)
    current = solenoid.wanted_current(pressure, zero, full, 1.7e6)
    np.testing.assert_allclose(solenoid.linear_pressure(current, zero, full, 1.7e6), pressure, atol=1e-6)
    assert solenoid.wanted_current(9e9, zero, full, 1.7e6) == pytest.approx(full)
    assert solenoid.wanted_current(-1.0, zero, full, 1.7e6) == pytest.approx(zero)


def test_one_resistance_raises_one_pressure_and_lowers_another():
    """Less current: more where the solenoid rests open, less where it rests shut (direction)."""
    less = np.array([0.8, 0.7, 0.4])
    assert np.all(np.diff(solenoid.linear_pressure(less, 0.95, 0.10, 1.7e6)) > 0.0)
    assert np.all(np.diff(solenoid.linear_pressure(less, 0.15, 1.00, 1.7e6)) < 0.0)


def test_a_sick_valve_never_raises_its_pressure():
    """A bore loses most when hot, no more than all; a spool stays short; a sound one leaves all (direction and limits)."""
    pressure = np.linspace(0.0, 1.7e6, 30)
    np.testing.assert_array_equal(solenoid.valve_pressure(pressure, 0.0, 0.0, 1.0), pressure)
    hot = solenoid.valve_pressure(pressure, 0.8, 5e4, 1.0)
    cold = solenoid.valve_pressure(pressure, 0.8, 5e4, 20.0)
    assert np.all(hot <= cold) and np.all(cold <= pressure) and np.all(hot >= 0.0)
    thin = solenoid.valve_pressure(pressure, 0.8, 5e4, np.array([[0.5], [0.1]]))
    np.testing.assert_allclose(thin[0], thin[1])


# --- the whole circuit -----------------------------------------------------------------------------------


def test_drop_needs_current():
    """E11: 0.05 ohm drops 10 mV at 0.2 A, 0.20 V at 4 A, 6.0 V at 120 A, and nothing without a load (exact, Ohm)."""
    ends = np.array([[1, 0], [1, 2], [2, 0]])
    for amperes, printed in ((0.2, 0.010), (4.0, 0.20), (120.0, 6.0), (0.0, 0.0)):
        load = amperes / (12.0 - printed)
        conductance = np.array([1e4, 1.0 / 0.05, load])
        source = np.array([0.0, 12.0 * 1e4 + amperes, 0.0])  # makes up for what its own resistance drops
        volts = network.node_voltages(ends, conductance, source)
        assert volts[1] - volts[2] == pytest.approx(printed, abs=1e-6)
        drops = volts[1] - volts[2] + volts[2] - volts[0]
        assert drops == pytest.approx(12.0, abs=1e-6)


def test_nodes_of_random_circuits_obey_kirchhoff():
    """What flows into every node flows out of it; what the sources give is what the branches turn into heat."""
    rng = np.random.default_rng(4)
    ends = np.array([pair for pair in rng.integers(0, 12, (60, 2)) if pair[0] != pair[1]])
    conductance = 10.0 ** rng.uniform(-5.0, 2.5, (50, len(ends)))
    source = rng.normal(size=(50, 12))
    source[:, 0] -= source.sum(-1)
    volts = network.node_voltages(ends, conductance, source)
    current = network.branch_currents(ends, conductance, volts)
    left = source.copy()
    for branch, (start, end) in enumerate(ends):
        left[:, start] -= current[:, branch]
        left[:, end] += current[:, branch]
    np.testing.assert_allclose(left, 0.0, atol=1e-6)
    given = (source * volts).sum(-1)
    np.testing.assert_allclose((current**2 / conductance).sum(-1), given, rtol=1e-3)


def test_what_hangs_free_reads_nothing():
    """An open wire, an island of two nodes, a meter's million ohms on it: finite and 0, not NaN; single precision too."""
    ends = np.array([[0, 1], [1, 2], [3, 4]])
    for kind in (np.float32, np.float64):
        conductance, source = np.array([0.1, 0.0, 200.0], kind), np.array([0, 1.2, 0, 0, 0], kind)
        volts = network.node_voltages(ends, conductance, source)
        assert volts.dtype == kind
        np.testing.assert_allclose(volts, [0.0, 12.0, 0.0, 0.0, 0.0], atol=1e-6)


def test_a_branch_to_nowhere_is_refused():
    """The message names the node and what to do."""
    with pytest.raises(ValueError, match=r"ends must be nodes 0 to 1, got 2\. Add the node"):
        network.node_voltages(np.array([[0, 2]]), np.ones(1), np.zeros(2))


FEED = np.array([0, 0, 0, 1, 1, 1, 1])
MOST = np.array([0.95] * 6 + [1.0])


def faults(number, seed=1):
    """Random vehicles with seven solenoids on two feeds, most with one to three electrical faults."""
    rng = np.random.default_rng(seed)
    wanted = np.concatenate(
        [rng.uniform(0.1, 1.0, (number, 6)), np.where(rng.random((number, 1)) < 0.3, np.inf, 0.0)], 1
    )
    coil = np.where(np.arange(7) < 6, 5.3, 24.0) * rng.uniform(0.9, 1.35, (number, 7))
    wire, leak = np.full((number, 7), 0.4), np.zeros((number, 7))
    feeds, relay, ground = np.full((number, 2), 0.03), np.full(number, 0.03), np.full(number, 0.02)
    sick = lambda share: rng.random(number) < share  # noqa: E731
    which = rng.integers(0, 7, number)
    rows = np.arange(number)
    wire[rows, which] += sick(0.3) * rng.uniform(0.0, 30.0, number)
    wire[rows, which] = np.where(sick(0.1), np.inf, wire[rows, which])
    leak[rows, which] = sick(0.3) * 10.0 ** rng.uniform(-3.0, 1.0, number)
    feeds[rows, which % 2] += sick(0.4) * rng.uniform(0.0, 24.0, number)
    relay += sick(0.2) * rng.uniform(0.0, 6.0, number)
    relay[sick(0.03)] = np.inf
    ground += sick(0.3) * rng.uniform(0.0, 6.0, number)
    supply = network.PowerSupply(rng.uniform(10.0, 14.8, number), 0.02, relay, feeds, ground, 30.0)
    return wanted, network.Coils(coil, wire, leak, FEED), supply


def solved(duty, coils, supply, blocked):
    """Node voltages (battery, splice, feeds, ground, pins) and driver currents at a duty, by one matrix for all of it.

    A pulsed switch is a transformer without loss: its pin meets duty x ground + (1 - duty) x feed.
    """
    number = len(duty)
    matrix, source = np.zeros((number, 12, 12)), np.zeros((number, 12))

    def stamp(one, other, conductance):
        for a, b in ((one, other), (other, one)):
            if a is not None:
                matrix[:, a, a] += conductance
                if b is not None:
                    matrix[:, a, b] -= conductance

    stamp(0, None, 1.0 / supply.source)
    source[:, 0] += supply.battery / supply.source
    stamp(0, 1, 1.0 / np.minimum(supply.relay, network.OPEN))
    stamp(0, 4, 1.0 / supply.base)
    stamp(4, None, 1.0 / supply.ground)
    for feed in (0, 1):
        stamp(1, 2 + feed, 1.0 / supply.feeds[:, feed])
    through = np.where(blocked, 0.0, 1.0 / np.minimum(coils.wire, network.OPEN))
    for each in range(7):
        feed, pin, share = 2 + FEED[each], 5 + each, duty[:, each]
        stamp(feed, pin, 1.0 / coils.coil[:, each])
        stamp(pin, None, coils.leak[:, each] + 1e-12)
        for node, part in ((pin, 1.0), (4, -share), (feed, share - 1.0)):
            for other, weight in ((pin, 1.0), (4, -share), (feed, share - 1.0)):
                matrix[:, node, other] += part * weight * through[:, each]
    volts = np.linalg.solve(matrix, source[..., None])[..., 0]
    meets = duty * volts[:, 4:5] + (1.0 - duty) * volts[:, 2 + FEED]
    return volts, (volts[:, 5:] - meets) * through, volts[:, 5:] - meets


def raised(wanted, coils, supply, most):
    """The same circuit by time: duties rise slowly from nothing until each driver measures what it wants."""
    duty, blocked = np.zeros_like(wanted), np.zeros(wanted.shape, bool)
    scale = (coils.coil + np.minimum(coils.wire, 50.0)) / supply.battery[:, None]
    for _ in range(1500):
        volts, measured, lead = solved(duty, coils, supply, blocked)
        blocked = lead < 0.0  # the diode and the switch carry current one way only
        short = np.minimum(wanted, 5.0) - np.where(blocked, 0.0, measured)
        duty = np.clip(duty + 0.1 * scale * short, 0.0, most)
    return volts, np.where(blocked, 0.0, measured), duty


def test_reduced_network_is_the_full_one():
    """400 random faults against all nodes solved while duties rise from nothing: currents within 0.02 A, volts 0.1 V."""
    wanted, coils, supply = faults(400)
    found = network.regulated_currents(wanted, coils, supply, MOST)
    volts, measured, _ = raised(wanted, coils, supply, MOST)
    current = (volts[:, 2 + FEED] - volts[:, 5:]) / coils.coil
    np.testing.assert_allclose(found.current, current, atol=0.02)
    np.testing.assert_allclose(found.measured, measured, atol=0.02)
    np.testing.assert_allclose(found.feeds, volts[:, 2:4], atol=0.1)
    np.testing.assert_allclose(found.splice, volts[:, 1], atol=0.1)
    np.testing.assert_allclose(found.ground, volts[:, 4], atol=0.1)
    np.testing.assert_allclose(found.supply, volts[:, 0] - volts[:, 4], atol=0.1)


def test_node_voltages_agree_where_drivers_are_currents():
    """The meter's way: drivers put in as the currents found; every node as in the reduced network."""
    wanted, coils, supply = faults(400)
    found = network.regulated_currents(wanted, coils, supply, MOST)
    ends = [
        (0, 1),
        (1, 2),
        (1, 5),
        (2, 3),
        (2, 4),
        (5, 0),
    ]  # source, relay, controller, feeds, ground; 1 battery, 2 splice
    for each in range(7):
        ends += [(3 + FEED[each], 6 + each), (6 + each, 0)]
    number = len(wanted)
    lines = [np.full(number, 1.0 / 0.02), 1.0 / supply.relay, np.full(number, 1.0 / 30.0)]
    lines += [1.0 / supply.feeds[:, 0], 1.0 / supply.feeds[:, 1], 1.0 / supply.ground]
    for each in range(7):
        lines += [1.0 / coils.coil[:, each], coils.leak[:, each]]
    source = np.zeros((number, 13))
    source[:, 1] = supply.battery / 0.02
    source[:, 6:] -= found.measured
    source[:, 5] += (found.duty * found.measured).sum(-1)
    for each in range(7):
        source[:, 3 + FEED[each]] += (1.0 - found.duty[:, each]) * found.measured[:, each]
    volts = network.node_voltages(np.array(ends), np.stack(lines, -1), source)
    closed = np.isfinite(
        supply.relay
    )  # behind an open relay the reduced network lets some tenths of a milliampere through
    np.testing.assert_allclose(volts[closed, 3:5], found.feeds[closed], atol=0.01)
    np.testing.assert_allclose(volts[closed, 2], found.splice[closed], atol=0.01)
    np.testing.assert_allclose(volts[:, 5], found.ground, atol=0.01)
    np.testing.assert_allclose(volts[:, 1] - volts[:, 5], found.supply, atol=0.01)


def test_charge_and_power_are_conserved():
    """Within 0.1 percent: current into every joint leaves it; what battery gives is what coils, wires and leaks take."""
    wanted, coils, supply = faults(2000, seed=3)
    found = network.regulated_currents(wanted, coils, supply, MOST)
    volts = found.feeds[:, FEED]
    pin = volts - found.current * coils.coil
    leaking = coils.leak * pin
    np.testing.assert_allclose(found.current, found.measured + leaking, rtol=1e-3, atol=1e-9)
    drawn = np.stack(
        [(leaking + found.duty * found.measured)[:, FEED == feed].sum(-1) for feed in (0, 1)], -1
    )
    closed = np.isfinite(supply.relay)
    through = (found.splice[:, None] - found.feeds) / supply.feeds
    np.testing.assert_allclose(through[closed], drawn[closed], rtol=1e-3, atol=1e-3)
    own = found.supply / supply.base
    back = found.ground / supply.ground
    np.testing.assert_allclose(back, own + (found.duty * found.measured).sum(-1), rtol=1e-3, atol=1e-4)
    given = supply.battery * (own + drawn.sum(-1))
    wire = np.minimum(coils.wire, network.OPEN)
    taken = (found.current**2 * coils.coil + found.measured**2 * wire + leaking * pin).sum(-1)
    taken += (drawn**2 * supply.feeds).sum(-1) + back**2 * supply.ground + own**2 * supply.base
    taken += (own + drawn.sum(-1)) ** 2 * supply.source
    taken += drawn.sum(-1) ** 2 * np.where(closed, supply.relay, 0.0)
    np.testing.assert_allclose(taken[closed], given[closed], rtol=1e-3)


def one_vehicle(**changes):
    """A sound vehicle: six pressure solenoids and one that is off, 1 A wanted of each."""
    line = {"battery": 13.5, "source": 0.02, "relay": 0.03, "ground": 0.02, "base": 30.0} | changes
    feeds = np.stack(np.broadcast_arrays(line.pop("feed_a", 0.03), line.pop("feed_b", 0.03)), -1)
    wire = np.full(7, 0.4) + line.pop("wire", 0.0)
    leak = np.zeros(7) + line.pop("leak", 0.0)
    coil = np.array([6.97] * 6 + [31.5])
    wanted = np.array([1.0] * 6 + [0.0])
    coils = network.Coils(coil, wire, leak, FEED)
    return network.regulated_currents(wanted, coils, network.PowerSupply(feeds=feeds, **line), MOST)


@pytest.mark.parametrize("piece", ["source", "relay", "ground", "feed_a", "feed_b"])
def test_a_resistance_never_raises_a_current(piece):
    """Anywhere in the supply, and no more than wanted is ever given (direction and limit)."""
    ohms = np.concatenate([np.linspace(0.0, 30.0, 61), [1e3, 1e6, np.inf]])
    found = one_vehicle(**{piece: ohms})
    assert np.all(found.current <= 1.0 + 1e-9)
    touched = (
        slice(0, 6)
        if piece in ("source", "relay", "ground")
        else slice(0, 3)
        if piece == "feed_a"
        else slice(3, 6)
    )
    assert np.all(np.diff(found.current[:, touched].min(-1)) <= 1e-6)
    assert np.all(np.isfinite(found.current)) and np.all(found.duty <= MOST)
    assert np.all(found.current[-1, touched] < 1e-3)


def test_a_shared_feed_takes_its_solenoids_down_together_and_a_wire_only_its_own():
    """Half-splitting by what is shared (direction); one leak lifts its own current and is not measured."""
    shared = one_vehicle(feed_b=8.0).current
    assert np.all(shared[3:6] < 0.7) and np.ptp(shared[3:6]) < 1e-9
    np.testing.assert_allclose(shared[:3], 1.0)
    wire = np.zeros(7)
    wire[3] = 12.0
    single = one_vehicle(wire=wire).current
    assert single[3] < 0.75
    np.testing.assert_allclose(single[[0, 1, 2, 4, 5]], 1.0)
    leak = np.zeros((9, 7))
    leak[:, 3] = [0.0, 1e-3, 1e-2, 0.1, 0.3, 1.0, 3.0, 10.0, 1e3]
    found = one_vehicle(leak=leak)
    assert np.all(np.diff(found.current[:, 3]) >= -1e-9) and np.all(np.diff(found.measured[:, 3]) <= 1e-9)
    assert found.measured[-1, 3] == 0.0
    assert found.current[-1, 3] == pytest.approx(found.feeds[-1, 1] / (6.97 + 1e-3), rel=1e-3)
    np.testing.assert_allclose(found.current[:, :3], 1.0)


def test_a_driver_hides_a_contact_until_its_duty_is_used_up():
    """E10 in the circuit: one coil alone, 100 degrees Celsius; most current 1.169 A with 4 ohm, 0.989 with 6, 0.857 with 8."""
    hot = copper.copper_resistance(5.30, 100.0 + ZERO_CELSIUS)
    wire = np.array([[0.0], [4.0], [6.0], [8.0]]) + 1e-6
    alone = network.Coils(np.array([hot]), wire, np.zeros(1), np.array([0]))
    stiff = network.PowerSupply(13.5, 0.0, 0.0, np.zeros(1), 0.0, 30.0)
    found = network.regulated_currents(np.array([9.9]), alone, stiff).current[:, 0]
    np.testing.assert_allclose(found[1:], [1.169, 0.989, 0.857], rtol=1e-3)
    asked = network.regulated_currents(np.array([0.8]), alone, stiff)
    np.testing.assert_allclose(asked.current[:, 0], 0.8)
    np.testing.assert_allclose(100.0 * asked.duty[:2, 0], [41.3, 65.0], atol=0.1)


def test_bad_ground_lifts_the_controller():
    """The drop across it is what the controller lacks (Kirchhoff); less than 8.5 V from some ohms on."""
    ohms = np.linspace(0.0, 3.0, 13)
    found = one_vehicle(ground=ohms)
    assert np.all(np.diff(found.supply) < 0.0) and np.all(np.diff(found.ground) > 0.0)
    np.testing.assert_allclose(found.supply + found.ground, 13.5, atol=0.3)
    assert found.supply[0] > 13.0 and found.supply[-1] < 8.5


def test_currents_of_a_batch_are_those_of_its_vehicles():
    """To the last bit, whoever else is in the batch; any leading axes; single precision is kept, and within 0.002 A."""
    wanted, coils, supply = faults(60, seed=9)
    found = network.regulated_currents(wanted, coils, supply, MOST)
    for row in (0, 13, 59):
        one = network.Coils(coils.coil[row], coils.wire[row], coils.leak[row], FEED)
        lines = [supply.battery, supply.source, supply.relay, supply.feeds, supply.ground, supply.base]
        fed = network.PowerSupply(*(line if np.ndim(line) == 0 else line[row] for line in lines))
        alone = network.regulated_currents(wanted[row], one, fed, MOST)
        for name in ("current", "measured", "duty", "feeds", "splice", "ground", "supply"):
            np.testing.assert_array_equal(getattr(alone, name), getattr(found, name)[row])
        assert alone.supply.shape == () and alone.feeds.shape == (2,)
    single = lambda array: np.asarray(array, np.float32)  # noqa: E731
    lines = [supply.battery, supply.source, supply.relay, supply.ground, supply.base]
    battery, source, relay, ground, base = (single(line).reshape(-1, 1) for line in lines)
    rough = network.regulated_currents(
        single(wanted)[:, None],
        network.Coils(*(single(each)[:, None] for each in (coils.coil, coils.wire, coils.leak)), FEED),
        network.PowerSupply(battery, source, relay, single(supply.feeds)[:, None], ground, base),
        MOST,
    )
    assert rough.current.shape == (60, 1, 7) and rough.current.dtype == rough.supply.dtype == np.float32
    np.testing.assert_allclose(rough.current[:, 0], found.current, atol=2e-3)


# --- sensors ---------------------------------------------------------------------------------------------


def test_divider_is_what_is_printed():
    """E4: Ohm's law; Horowitz and Hill, The Art of Electronics, chapter 1 (from memory); 0.1 percent."""
    assert sensing.divider_voltage(253.0, 5.0, 1000.0) == pytest.approx(1.010, rel=1e-3)
    assert sensing.divider_voltage(sensing.seen_resistance(253.0, 300.0, 0.0), 5.0, 1000.0) == pytest.approx(
        1.780, rel=1e-3
    )


def test_thermistor_is_what_is_printed():
    """E5: table read on a calculator page, 10 kohm and 3950 K; the form from memory; 0.2 percent; both ways round."""
    kelvin = np.array([-20.0, 0.0, 20.0, 60.0, 100.0]) + ZERO_CELSIUS
    found = sensing.thermistor_resistance(kelvin, 10e3, 3950.0)
    np.testing.assert_allclose(found, [105.38e3, 33.62e3, 12.54e3, 2.49e3, 0.6975e3], rtol=2e-3)
    np.testing.assert_allclose(sensing.thermistor_temperature(found, 10e3, 3950.0), kelvin)


def test_two_constants_stand_for_three():
    """E6: Steinhart and Hart, Deep-Sea Research 15 (1968) 497 (law from memory, the widely copied constants of a 10 kohm sensor
    read in a forum program): 10 kohm is 24.68 C, 1 kohm 94.67. The form of two constants that vehicles use, laid through these two,
    stays within 2 K of it from 0 to 99 C."""
    ohm = np.array([10e3, 1e3, *np.geomspace(850.0, 33e3, 60)])
    three = 1.0 / (1.009249522e-3 + 2.378405444e-4 * np.log(ohm) + 2.019202697e-7 * np.log(ohm) ** 3)
    printed = np.array([24.68, 94.67]) + ZERO_CELSIUS
    np.testing.assert_allclose(three[:2], printed, atol=0.02)
    beta = np.log(10.0) / (1.0 / printed[0] - 1.0 / printed[1])
    at_25 = 10e3 * np.exp(beta * (1.0 / (25.0 + ZERO_CELSIUS) - 1.0 / printed[0]))
    np.testing.assert_allclose(
        sensing.thermistor_temperature(np.array([10e3, 1e3]), at_25, beta), printed, atol=0.02
    )
    assert three.min() < 5.0 + ZERO_CELSIUS and three.max() > 98.0 + ZERO_CELSIUS
    np.testing.assert_allclose(sensing.thermistor_temperature(ohm, at_25, beta), three, atol=2.0)


def believed(celsius, series=0.0, leak=0.0):
    """What the controller reads at a temperature [C], 2200 ohm and 3600 K."""
    sound = sensing.thermistor_resistance(np.asarray(celsius) + ZERO_CELSIUS, 2200.0, 3600.0)
    volts = sensing.divider_voltage(sensing.seen_resistance(sound, series, leak), 5.0, 1000.0)
    return sensing.believed_temperature(volts, 5.0, 1000.0, 2200.0, 3600.0) - ZERO_CELSIUS


def test_what_a_bad_pin_does_to_a_thermistor():
    """E7: E4 and E5 together; 0.1 K. Series reads cold, most when hot; a leak reads hot, most when cold (direction)."""
    np.testing.assert_allclose(believed([40.0, 90.0], series=300.0), [34.2, 63.5], atol=0.1)
    np.testing.assert_allclose(believed([40.0, 90.0], series=1000.0), [24.6, 39.6], atol=0.1)
    np.testing.assert_allclose(believed([20.0, 90.0], leak=1.0 / 2000.0), [41.9, 94.4], atol=0.1)
    celsius = np.linspace(-20.0, 130.0, 31)
    np.testing.assert_allclose(believed(celsius), celsius, atol=1e-6)
    cold, hot = believed(celsius, series=200.0) - celsius, believed(celsius, leak=1e-3) - celsius
    assert np.all(cold < 0.0) and np.all(np.diff(cold) < 0.0)
    assert np.all(hot > 0.0) and np.all(np.diff(hot) < 0.0)


def test_open_and_shorted_sensors_are_believed_something():
    """No infinity at the rails: very cold and very hot (limits)."""
    rails = sensing.believed_temperature(np.array([-0.1, 0.0, 5.0, 9.0]), 5.0, 1000.0, 2200.0, 3600.0)
    assert np.all(np.isfinite(rails)) and rails[0] == rails[1] > 500.0 and rails[2] == rails[3] < 230.0


def test_meter_loads_what_it_measures():
    """E12: Horowitz and Hill, chapter 1 (from memory), 2.381 V; 0.2 percent: two of 1 Mohm, a meter of 10 Mohm."""
    ends = np.array([[0, 1], [1, 2], [2, 0], [2, 0]])
    volts = network.node_voltages(ends, np.array([1.0, 1e-6, 1e-6, 1e-7]), np.array([0.0, 5.0, 0.0]))
    assert volts[2] == pytest.approx(2.381, rel=2e-3)


def test_bus_is_what_the_standard_says():
    """E13, E14: ISO 11898-2 (120 ohm and the levels read, 60 by parallel law); workshop band 57 to 63 (common practice)."""
    assert sensing.bus_resistance(120.0, 120.0, 0.0) == pytest.approx(60.0, abs=0.1)
    assert sensing.bus_resistance(120.0, np.inf, 0.0) == pytest.approx(120.0, abs=0.1)
    assert sensing.bus_resistance(120.0, 120.0, 1.0 / 120.0) == pytest.approx(40.0, abs=0.1)
    levels = sensing.bus_levels(60.0, 3.0, 30.0)
    np.testing.assert_allclose(levels, [3.5, 1.5])
    assert (levels.high - levels.low) / 60.0 == pytest.approx(33.3e-3, rel=2e-3)
    for ohms in (40.0, 120.0):
        high, low = sensing.bus_levels(ohms, 3.0, 30.0)
        assert high - low > 1.5 and high + low == pytest.approx(5.0)
    assert (
        np.diff(sensing.bus_levels(0.5, 3.0, 30.0)) > -0.5
    )  # shorted wires: below what a receiver takes for dominant


def test_speed_sensors_are_what_is_printed():
    """E15: sensor handbooks; Ribbens, Understanding Automotive Electronics (from memory); exact."""
    assert sensing.tooth_frequency(from_rpm(1800.0), 30) == pytest.approx(900.0)
    assert sensing.tooth_frequency(from_rpm(700.0), 60) == pytest.approx(700.0)
    lost = sensing.missing_tooth(30, 1)
    assert 100.0 * lost == pytest.approx(3.33, abs=0.005)
    output = from_rpm(2000.0)
    assert 100.0 * sensing.ratio_error(1.131 * output, output * (1.0 - lost), 1.131) == pytest.approx(
        3.45, abs=0.005
    )
    per_speed = 5.0 / from_rpm(1000.0)
    slow, fast = sensing.inductive_amplitude(from_rpm(np.array([100.0, 1000.0])), 1e-3, per_speed, 1e-3, 2e-3)
    assert slow == pytest.approx(0.5) and fast == pytest.approx(5.0)
    gaps = sensing.inductive_amplitude(from_rpm(1000.0), np.linspace(1e-3, 5e-3, 5), per_speed, 1e-3, 2e-3)
    assert np.all(np.diff(gaps) < 0.0)


def test_ratio_and_slip_from_two_speeds():
    """E18: definition; 0.1 rpm: fourth 1.13072, turbine 2500, output 2000: slip 238.6 rpm, ratio error 10.55 percent."""
    turbine, output = from_rpm(2500.0), from_rpm(2000.0)
    error = sensing.ratio_error(turbine, output, 1.13072)
    assert 100.0 * error == pytest.approx(10.55, abs=0.005)
    assert to_rpm(error * 1.13072 * output) == pytest.approx(238.6, abs=0.1)
    assert sensing.ratio_error(1.13072 * output, output, 1.13072) == pytest.approx(0.0, abs=1e-12)
    assert np.isfinite(sensing.ratio_error(turbine, 0.0, 1.13072))


# --- contacts that come and go ---------------------------------------------------------------------------


def test_contact_opens_by_what_it_minds():
    """Sound: never. Each cause alone raises the share, up to its most (limits and directions; invented shape)."""
    sound = loose_contact.ContactWeakness(0.0, 0.0, 0.0)
    assert loose_contact.open_share(sound, 1.1, 400.0, 1.0) == 0.0
    kelvin = np.linspace(290.0, 400.0, 23)
    spread = loose_contact.ContactWeakness(1.0, 0.0, 0.0)
    rough = loose_contact.open_share(spread, np.linspace(0.0, 2.0, 21), 350.0, 0.0)
    relay = loose_contact.open_share(loose_contact.ContactWeakness(0.0, 1.1, 0.0), 0.0, kelvin, 0.0)
    wet = loose_contact.open_share(
        loose_contact.ContactWeakness(0.0, 0.0, 1.2), 0.0, 300.0, np.linspace(0.0, 1.0, 11)
    )
    for share in (rough, relay, wet):
        assert share[0] == 0.0 and share[-1] > 0.2 and np.all(np.diff(share) >= 0.0) and share.max() <= 0.6


def test_openings_are_what_a_draw_by_chance_shows():
    """A contact drawn in time (openings as a Poisson process, exponential lengths): share that outlasts, chance seen."""
    rng = np.random.default_rng(12)
    lengths = rng.exponential(0.25, 40000)
    for wait in (0.1, 0.2, 1.0):
        assert np.mean(lengths > wait) == pytest.approx(loose_contact.outlasting_share(wait), abs=0.01)
    begun = rng.poisson(0.004 * 10.0 / 0.25, 40000)
    assert np.mean(begun > 0) == pytest.approx(loose_contact.chance_seen(0.004, 10.0), abs=0.01)
    assert loose_contact.chance_seen(0.0, 1e4) == 0.0 and loose_contact.chance_seen(0.3, 1e4) == 1.0


# --- codes and data --------------------------------------------------------------------------------------


def test_codes_of_two_bytes():
    """E16: SAE J2012 / ISO 15031-6 (read in a source file's comment and in an open-source packet library); exact."""
    for first, second, printed in (
        (0x01, 0x33, "P0133"),
        (0x07, 0x41, "P0741"),
        (0x08, 0x94, "P0894"),
        (0xC1, 0x00, "U0100"),
    ):
        assert trouble_code.code_of(first, second) == printed
        assert trouble_code.bytes_of(printed) == (first, second)
    codes = {trouble_code.code_of(first, second) for first in range(256) for second in range(256)}
    assert len(codes) == 65536 and all(
        trouble_code.code_of(*trouble_code.bytes_of(code)) == code for code in codes
    )
    assert {code[0] for code in codes} == set("PCBU")


def test_standard_data():
    """E17: SAE J1979 / ISO 15031-5 (from memory; 1726 is a common example); 0.1 percent."""
    assert trouble_code.standard_value("0C", 0x1A, 0xF8) == pytest.approx(1726.0)
    assert trouble_code.standard_value("0D", 0x3C) == pytest.approx(60.0)
    assert trouble_code.standard_value("05", 0x7B) == pytest.approx(83.0)
    assert trouble_code.standard_value("42", 0x34, 0xBC) == pytest.approx(13.500)
    assert trouble_code.standard_value("11", 0x59) == pytest.approx(34.9, rel=1e-3)
    assert trouble_code.standard_value("04", 0x80) == pytest.approx(50.2, rel=1e-3)
    np.testing.assert_allclose(trouble_code.standard_value("0D", np.array([0.0, 255.0])), [0.0, 255.0])
    assert all(
        trouble_code.standard_value(share, 0xFF) == pytest.approx(100.0) for share in ("04", "11", "49")
    )
    assert all(
        trouble_code.standard_value(count, 0x01, 0x2C) == pytest.approx(300.0) for count in ("1F", "21", "31")
    )


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: trouble_code.code_of(256, 0), "first must be between 0 and 255, got 256"),
        (lambda: trouble_code.bytes_of("P4741"), "code must be like P0741, got 'P4741'"),
        (lambda: trouble_code.standard_value("0E", 1.0), "parameter must be a name from the list, got '0E'"),
    ],
)
def test_what_is_no_code_is_refused(call, message):
    """Each refusal says what was wrong and what was expected."""
    with pytest.raises(ValueError, match=message):
        call()
