"""Electrical physics against numbers printed elsewhere, Kirchhoff's rules, limits and directions.

"From memory" means that the source was not at hand when the value was written down, "read" that it was; every such
value was also recomputed by hand with the formula shown.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from course_lib.base.constants import ZERO_CELSIUS
from course_lib.physics import copper, network, solenoid

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
        assert 100.0 * solenoid.duty_for(0.80, resistance, volts) == pytest.approx(printed, abs=0.1)
    for extra, printed in ((4.0, 1.169), (6.0, 0.989), (8.0, 0.857)):
        most = solenoid.pulsed_current(0.95, 13.5, hot + extra, 12e-3, 1000.0).mean
        assert most == pytest.approx(printed, rel=1e-3)
        assert solenoid.duty_for(most, hot + extra, 13.5) == pytest.approx(0.95)


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
