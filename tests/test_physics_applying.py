"""Applies in time, drag of released elements, and what else goes with an engagement."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from course_lib.physics import applying, circuit

SOUND = dict(
    line_pressure=4.5e5,
    circuit_pressure=4.3e5,
    feed_area=6.2e-6,
    density=830.0,
    discharge_coefficient=0.611,
    stroke_volume=1.4e-5,
    spring_pressure=8e4,
    accumulator_volume=2e-5,
    capacity=800.0,
    load=150.0,
    speed_gap=60.0,
    inertia=0.5,
    overlap=0.2,
    longest_fill=3.0,
    most_run_up=250.0,
    longest_slide=2.5,
)


def leaking(conductance, line_pressure=4.5e5, **changes):
    """`SOUND` with a leak: the steady pressure falls, and the grip above the spring pressure with it."""
    steady = circuit.fed_pressure(
        line_pressure, SOUND["feed_area"], conductance, 0.0, SOUND["density"], 0.611
    )
    spring = SOUND["spring_pressure"]
    grip = SOUND["capacity"] * np.maximum(steady - spring, 0.0) / (SOUND["circuit_pressure"] - spring)
    return SOUND | dict(line_pressure=line_pressure, circuit_pressure=steady, capacity=grip) | changes


def integrated(capacity, load, speed_gap, inertia, ramp_time, lead, run_up):
    """The slide by a general solver of differential equations: last gap, slip time, heat and highest gap."""

    def rates(time, state):
        grip = capacity * min(time / ramp_time, 1.0)
        held = time < lead
        return [0.0 if held else (load - grip) / inertia, grip * state[0]]

    locked = lambda time, state: state[0]  # noqa: E731
    locked.terminal, locked.direction = True, -1
    start = [speed_gap + run_up, 0.0]
    first = solve_ivp(rates, (0.0, lead), start, max_step=2e-3, rtol=1e-8) if lead > 0 else None
    state = start if first is None else first.y[:, -1]
    rest = solve_ivp(rates, (lead + 1e-12, 20.0), state, events=locked, max_step=2e-3, rtol=1e-8)
    return rest.t[-1], rest.y[1, -1], rest.y[0].max()


@pytest.mark.parametrize("ramp_time", [0.02, 0.3, 0.8])
@pytest.mark.parametrize("capacity, load", [(900.0, 80.0), (900.0, 400.0), (500.0, 450.0)])
@pytest.mark.parametrize("lead, lag", [(0.0, 0.0), (0.12, 0.0), (0.5, 0.0), (0.0, 0.06)])
def test_slide_is_what_a_general_solver_finds(ramp_time, capacity, load, lead, lag):
    """Slip time, heat and flare within 2 % of scipy's solve_ivp on the same law of motion."""
    inertia, gap = 0.5, 60.0
    slide = applying.take_over(ramp_time, capacity, load, gap, inertia, lead, lag, 1e4, 1e3)
    time, heat, highest = integrated(capacity, load, gap, inertia, ramp_time, lead, load / inertia * lag)
    assert slide.slip_time == pytest.approx(time, rel=0.02)
    assert slide.heat == pytest.approx(heat, rel=0.02)
    assert slide.flare == pytest.approx(highest - gap, rel=0.02, abs=0.05)
    grip = capacity * min(time / ramp_time, 1.0)
    assert slide.bump == pytest.approx(max(grip / load - 1.0, 0.0), rel=0.02, abs=0.01)


@pytest.mark.parametrize("conductance", [0.0, 1e-11, 6e-11])
@pytest.mark.parametrize("cushion", [1e-5, 4e-5])
def test_filling_is_what_a_general_solver_finds(conductance, cushion):
    """Volume against time by solve_ivp: the fill within 2 %; on the ramp 3/4 of the rise within 12 % of its time."""
    case = leaking(conductance, accumulator_volume=cushion)
    spring, steady = case["spring_pressure"], float(case["circuit_pressure"])

    def flow(time, volume):
        swept = max(volume[0] - case["stroke_volume"], 0.0) / cushion
        pressure = spring + (steady - spring) * swept
        fed = circuit.orifice_flow(case["feed_area"], case["line_pressure"] - pressure, 830.0, 0.611)
        return [fed - conductance * pressure]

    def reach(volume):
        event = lambda time, state: state[0] - volume  # noqa: E731
        event.terminal = True
        return event

    goals = [reach(case["stroke_volume"]), reach(case["stroke_volume"] + 0.75 * cushion)]
    goals[0].terminal = False
    exact = solve_ivp(flow, (0.0, 5.0), [0.0], events=goals, max_step=1e-3, rtol=1e-8)
    filled, most = exact.t_events[0][0], exact.t_events[1][0]
    assert applying.engage(**case).delay == pytest.approx(filled, rel=0.02)
    feed = [case[name] for name in list(SOUND)[:5]]
    ramp = cushion / applying.net_flow(0.5 * (spring + steady), *feed)
    assert 0.75 * ramp == pytest.approx(most - filled, rel=0.12)


def test_leak_delays_and_flares_until_nothing_comes():
    """More leak, longer delay, more flare, longer slide; a leak that holds the piston back never grips."""
    leak = np.array([0.0, 2e-11, 6e-11, 1.2e-10, 4e-10, 2e-9])
    parts = applying.engage(**leaking(leak, overlap=0.13))
    assert np.all(np.diff(parts.delay[:-1]) > 0.0)
    assert np.all(np.diff(parts.flare) >= 0.0) and parts.flare[-2] > parts.flare[0]
    assert np.all(np.diff(parts.slip_time[:-1]) > 0.0)
    assert parts.delay[-1] == SOUND["longest_fill"] and parts.heat[-1] == 0.0


def test_cushion_softens_and_pressure_hardens():
    """Less accumulator volume, larger bump; more line pressure with its grip, earlier and harder."""
    cushion = np.array([8e-5, 4e-5, 2e-5, 1e-5, 0.0])
    assert np.all(np.diff(applying.engage(**SOUND | dict(accumulator_volume=cushion)).bump) > 0.0)
    bare = applying.engage(**SOUND | dict(accumulator_volume=0.0))
    assert bare.bump == pytest.approx(SOUND["capacity"] / SOUND["load"] - 1.0)
    line = np.array([3.5e5, 4.5e5, 7e5, 1e6])
    parts = applying.engage(**leaking(1e-11, line_pressure=line))
    assert np.all(np.diff(parts.bump) > 0.0) and np.all(np.diff(parts.delay) < 0.0)


def test_clearance_decides_between_tie_up_and_flare():
    """A short stroke grips before the other lets go, a long one after: never both."""
    stroke = np.linspace(2e-6, 4e-5, 40)
    parts = applying.engage(**SOUND | dict(stroke_volume=stroke))
    assert parts.tie_up[0] > 0.1 and parts.flare[0] == 0.0
    assert parts.flare[-1] > 20.0 and parts.tie_up[-1] == 0.0
    assert np.all(parts.tie_up * parts.flare == 0.0)
    assert np.all(np.diff(parts.delay) > 0.0) and np.all(np.diff(parts.flare) >= 0.0)


def test_grip_below_the_load_never_locks():
    """The slide then lasts until the driver lifts, the engine runs away to its limit, and nothing bangs."""
    parts = applying.engage(**SOUND | dict(capacity=np.array([0.0, 100.0, 149.0]), load=150.0))
    np.testing.assert_allclose(parts.slip_time, SOUND["longest_slide"] + SOUND["overlap"] - parts.delay)
    assert np.all(parts.bump == 0.0) and np.all(parts.tie_up == 0.0)
    assert np.all(parts.flare <= SOUND["most_run_up"]) and parts.flare[0] == SOUND["most_run_up"]
    assert parts.heat[0] < 1e-9 and np.all(parts.heat[1:] > 1e4)


def test_heat_of_a_slide_without_load_is_that_of_the_masses():
    """J w^2 / 2, whatever the ramp (Khurmi and Gupta, Theory of Machines, from memory)."""
    slide = applying.take_over(np.array([0.01, 0.3, 0.9]), 500.0, 1e-9, 80.0, 0.4, 0.0, 0.0, 250.0, 5.0)
    np.testing.assert_allclose(slide.heat, 0.5 * 0.4 * 80.0**2, rtol=1e-6)


def test_single_precision_stays_single():
    """Batches in single precision are not cast up, and agree with double within a thousandth."""
    single = applying.engage(**{name: np.float32(value) for name, value in SOUND.items()})
    double = applying.engage(**SOUND)
    assert all(part.dtype == np.float32 for part in single)
    np.testing.assert_allclose(single, double, rtol=1e-3)
