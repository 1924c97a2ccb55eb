"""Applies in time, drag of released elements, and what else goes with an engagement."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from course_lib.physics import converter, engagement, engine, fluid, hydraulics, shift_control, sump
from course_lib.physics import drag as dragging

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
    jet = np.sqrt(2.0 / SOUND["density"])
    steady = hydraulics.fed_pressure(line_pressure, 0.611 * SOUND["feed_area"], conductance, 0.0, jet)
    spring = SOUND["spring_pressure"]
    grip = SOUND["capacity"] * np.maximum(steady - spring, 0.0) / (SOUND["circuit_pressure"] - spring)
    return SOUND | dict(line_pressure=line_pressure, circuit_pressure=steady, capacity=grip) | changes


def feed_of(case):
    """The feed of a case given in plain numbers such as `SOUND`."""
    names = ("line_pressure", "circuit_pressure", "feed_area", "density", "discharge_coefficient")
    return engagement.Feed(*(case[name] for name in names))


def engage(case):
    """`engagement.engage` of a case given in plain numbers."""
    piston = engagement.Piston(case["stroke_volume"], case["spring_pressure"], case["accumulator_volume"])
    load = engagement.Load(case["load"], case["speed_gap"], case["inertia"])
    limits = engagement.Limits(case["longest_fill"], case["most_run_up"], case["longest_slide"])
    return engagement.engage(feed_of(case), piston, case["capacity"], load, case["overlap"], limits)


def take_over(ramp_time, capacity, load, times, limits):
    """`engagement.take_over`; load: torque, speed gap, inertia; times: lead and lag; limits: run-up and slide."""
    return engagement.take_over(
        ramp_time, capacity, engagement.Load(*load), *times, engagement.Limits(np.inf, *limits)
    )


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
    slide = take_over(ramp_time, capacity, (load, gap, inertia), (lead, lag), (1e4, 1e3))
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
        fed = hydraulics.orifice_flow(case["feed_area"], case["line_pressure"] - pressure, 830.0, 0.611)
        return [fed - conductance * pressure]

    def reach(volume):
        event = lambda time, state: state[0] - volume  # noqa: E731
        event.terminal = True
        return event

    goals = [reach(case["stroke_volume"]), reach(case["stroke_volume"] + 0.75 * cushion)]
    goals[0].terminal = False
    exact = solve_ivp(flow, (0.0, 5.0), [0.0], events=goals, max_step=1e-3, rtol=1e-8)
    filled, most = exact.t_events[0][0], exact.t_events[1][0]
    assert engage(case).delay == pytest.approx(filled, rel=0.02)
    ramp = cushion / engagement.net_flow(0.5 * (spring + steady), feed_of(case))
    assert 0.75 * ramp == pytest.approx(most - filled, rel=0.12)


def test_leak_delays_and_flares_until_nothing_comes():
    """More leak, longer delay, more flare, longer slide; a leak that holds the piston back never grips."""
    leak = np.array([0.0, 2e-11, 6e-11, 1.2e-10, 4e-10, 2e-9])
    parts = engage(leaking(leak, overlap=0.13))
    assert np.all(np.diff(parts.delay[:-1]) > 0.0)
    assert np.all(np.diff(parts.flare) >= 0.0) and parts.flare[-2] > parts.flare[0]
    assert np.all(np.diff(parts.slip_time[:-1]) > 0.0)
    assert parts.delay[-1] == SOUND["longest_fill"] and parts.heat[-1] == 0.0


def test_cushion_softens_and_pressure_hardens():
    """Less accumulator volume, larger bump; more line pressure with its grip, earlier and harder."""
    cushion = np.array([8e-5, 4e-5, 2e-5, 1e-5, 0.0])
    assert np.all(np.diff(engage(SOUND | dict(accumulator_volume=cushion)).bump) > 0.0)
    bare = engage(SOUND | dict(accumulator_volume=0.0))
    assert bare.bump == pytest.approx(SOUND["capacity"] / SOUND["load"] - 1.0)
    line = np.array([3.5e5, 4.5e5, 7e5, 1e6])
    parts = engage(leaking(1e-11, line_pressure=line))
    assert np.all(np.diff(parts.bump) > 0.0) and np.all(np.diff(parts.delay) < 0.0)


def test_clearance_decides_between_tie_up_and_flare():
    """A short stroke grips before the other lets go, a long one after: never both."""
    stroke = np.linspace(2e-6, 4e-5, 40)
    parts = engage(SOUND | dict(stroke_volume=stroke))
    assert parts.tie_up[0] > 0.1 and parts.flare[0] == 0.0
    assert parts.flare[-1] > 20.0 and parts.tie_up[-1] == 0.0
    assert np.all(parts.tie_up * parts.flare == 0.0)
    assert np.all(np.diff(parts.delay) > 0.0) and np.all(np.diff(parts.flare) >= 0.0)


def test_grip_that_just_bears_the_load_fights_nobody():
    """Two that hold more than the load together tie up; one that holds just the load does not, however long both are on."""
    fights, bears = (
        take_over(0.1, grip, (200.0, 60.0, 0.5), (0.3, 0.0), (250.0, 2.5)) for grip in (201.0, 200.0)
    )
    assert fights.tie_up > 0.15 and bears.tie_up == 0.0


def test_grip_below_the_load_never_locks():
    """The slide then lasts until the driver lifts, the engine runs away to its limit, and nothing bangs."""
    parts = engage(SOUND | dict(capacity=np.array([0.0, 100.0, 149.0]), load=150.0))
    np.testing.assert_allclose(parts.slip_time, SOUND["longest_slide"] + SOUND["overlap"] - parts.delay)
    assert np.all(parts.bump == 0.0) and np.all(parts.tie_up == 0.0)
    assert np.all(parts.flare <= SOUND["most_run_up"]) and parts.flare[0] == SOUND["most_run_up"]
    assert parts.heat[0] < 1e-9 and np.all(parts.heat[1:] > 1e4)


def test_heat_of_a_slide_that_the_driver_ends():
    """Hand calculation: grip 100 of 150 N m, gap 60 and rising 100 rad/s each second, two seconds: 100 x (120 + 200) J."""
    slide = take_over(0.0, 100.0, (150.0, 60.0, 0.5), (0.0, 0.0), (1e4, 2.0))
    assert slide.slip_time == pytest.approx(2.0) and slide.heat == pytest.approx(32_000.0)
    assert slide.flare == pytest.approx(200.0) and slide.bump == 0.0


def test_heat_of_a_slide_without_load_is_that_of_the_masses():
    """J w^2 / 2, whatever the ramp (Khurmi and Gupta, Theory of Machines, from memory)."""
    slide = take_over(np.array([0.0, 0.01, 0.3, 0.9]), 500.0, (1e-9, 80.0, 0.4), (0.0, 0.0), (250.0, 5.0))
    np.testing.assert_allclose(slide.heat, 0.5 * 0.4 * 80.0**2, rtol=1e-6)


def test_single_precision_stays_single():
    """Batches in single precision are not cast up, and agree with double within a thousandth."""
    single = engage({name: np.float32(value) for name, value in SOUND.items()})
    double = engage(SOUND)
    assert all(part.dtype == np.float32 for part in single)
    np.testing.assert_allclose(single, double, rtol=1e-3)


# ---------------------------------------------------------------- what rubs though it should not, and what grabs
PACK = dict(viscosity=0.009, speed=200.0, radius=0.062, area=0.0062, friction_faces=10, roughness=5e-6)


def test_film_drag_is_plane_shear_flow():
    """Ten gaps of 0.13 mm at 12.4 m/s: 859 Pa on 62 cm2 at 62 mm, hand calculation: 3.30 N m."""
    shear = 0.009 * 200.0 * 0.062 / 1.3e-4
    assert shear == pytest.approx(858.5, rel=1e-3)
    drag = dragging.open_clutch_drag(gap=1.3e-4, **PACK)
    assert drag == pytest.approx(10 * 858.46 * 0.0062 * 0.062, rel=1e-4)


def test_tight_pack_drags_and_backwards_as_much():
    """Drag rises as the gap closes, stops rising where the plates touch, and knows no direction."""
    drag = dragging.open_clutch_drag(gap=np.array([1.3e-4, 5e-5, 2e-5, 5e-6, 0.0, -1e-4]), **PACK)
    assert np.all(np.diff(drag[:4]) > 0.0) and np.all(drag[3:] == drag[3])
    assert dragging.open_clutch_drag(gap=1e-4, **PACK | dict(speed=-200.0)) == pytest.approx(
        dragging.open_clutch_drag(gap=1e-4, **PACK)
    )


@pytest.mark.parametrize("slope", [-0.01, 0.002, 0.0079, 0.0081, 0.03])
def test_judder_begins_where_the_eigenvalues_say(slope):
    """Mass, spring and damper under a sliding clutch: numpy's eigenvalues grow exactly when the index is above 0."""
    capacity, damping, stiffness, inertia = 250.0, 2.0, 8e3, 0.4
    matrix = np.array([[0.0, 1.0], [-stiffness / inertia, (slope * capacity - damping) / inertia]])
    grows = np.linalg.eigvals(matrix).real.max() > 0.0
    assert (dragging.judder(slope, capacity, damping) > 0.0) == grows


# ---------------------------------------------------------------- converter and lock-up
def test_standing_stator_costs_nothing_below_the_coupling_point():
    """Launch and stall are normal; beyond the coupling point the loss grows with speed ratio and with speed squared."""
    ratio = np.array([0.0, 0.5, 0.88, 0.92, 0.96, 1.0])
    slow, fast = (converter.stator_brake(speed, ratio, 6.4e-3, 0.88) for speed in (125.0, 250.0))
    assert np.all(fast[:3] == 0.0) and np.all(np.diff(fast[2:]) > 0.0)
    np.testing.assert_allclose(fast, 4.0 * slow)


# ---------------------------------------------------------------- signals and shift valves
def test_governor_speed_undoes_governor_pressure():
    """There and back over the whole road, both stages."""
    speed = np.linspace(3.2, 40.0, 60)
    pressure = shift_control.governor_pressure(speed, 3.13, 8.94, 138e3, 14470.0)
    np.testing.assert_allclose(
        shift_control.governor_speed(pressure, 3.13, 8.94, 138e3, 14470.0), speed, rtol=1e-12
    )


def test_downshift_is_slower_than_upshift_and_free_at_rest():
    """With hysteresis the valve falls back below the speed of its upshift; a large one holds until rest."""
    signal = np.linspace(0.0, 1.0, 5)
    up = 110e3 + 338e3 * signal
    down = shift_control.downshift_pressure(110e3, 338e3, signal, 60e3)
    np.testing.assert_allclose(up - down, 60e3)
    assert shift_control.downshift_pressure(11e3, 262e3, 0.0, 30e3) == 0.0


def test_trapped_vacuum_shows_only_under_load():
    """At idle right, at full throttle still there: the reading that tells a check-valved port from a modulator."""
    idle, full = shift_control.trapped_vacuum(np.array([60e3, 2e3]), 60e3, 0.95)
    assert idle == 60e3 and full == pytest.approx(57e3)
    assert shift_control.trapped_vacuum(2e3, 60e3, 0.0) == 2e3


def test_blocked_exhaust_takes_power_at_speed_and_vacuum_with_it():
    """1 is the trade's limit, 3 psi at 2500 rpm without load (common practice, no source)."""
    speed = np.array([68.0, 130.0, 261.8])
    pressure = engine.exhaust_back_pressure(speed, 0.0, 1.0)
    assert pressure[-1] / 6894.757 == pytest.approx(3.0, rel=0.01)
    assert np.all(np.diff(engine.choked_torque_share(pressure)) < 0.0)
    assert np.all(np.diff(engine.choked_vacuum(60e3, pressure)) < 0.0)
    assert engine.choked_torque_share(0.0) == 1.0 and engine.choked_vacuum(60e3, 0.0) == 60e3


# ---------------------------------------------------------------- first start, and lips cold and hot
def test_refilling_is_a_balance_of_flows():
    """1.2 L at 12 L/min take 6 s, hand calculation; a pump that only covers its leaks never gets there."""
    assert sump.refill_time(1.2e-3, 2.5e-4, 5e-5, 60.0) == pytest.approx(6.0)
    assert sump.refill_time(1.2e-3, 4e-5, 5e-5, 60.0) == 60.0


def forward_circuit_psi(hardness, temperature, lift):
    """Pressure of the forward circuit of the teaching unit at 65 psi line, fluid of the common class."""
    kinematic = fluid.kinematic_viscosity(
        temperature, *fluid.walther_coefficients(36e-6, 313.15, 7.3e-6, 373.15)
    )
    density = fluid.density(temperature, 868.0)
    factor = hydraulics.lip_leak(
        hardness, *hydraulics.lip_states(temperature), kinematic * density, 14.0, lift
    )
    leak = 1.2e-13 / (kinematic * density) * factor
    feed, jet = hydraulics.SHARP_EDGE_DISCHARGE * 6.2e-6, np.sqrt(2.0 / density)
    return hydraulics.fed_pressure(448e3, feed, leak, 0.0, jet) / 6894.757


def test_hard_lip_loses_cold_what_a_supple_one_holds():
    """45 psi of 65 at 20 to 68 degrees F, and about as bad hot (common practice, no source); supple: none of it."""
    cold = np.array([266.5, 280.0, 293.15])
    np.testing.assert_allclose(forward_circuit_psi(1.0, cold, 1800.0), 45.0, atol=2.5)
    assert np.all(forward_circuit_psi(0.0, cold, 1800.0) > 64.0)
    assert np.all(hydraulics.lip_leak(0.0, *hydraulics.lip_states(cold), 0.2, 14.0, 1800.0) == 1.0)
    assert hydraulics.lip_leak(1.0, *hydraulics.lip_states(355.0), 0.009, 14.0, 1800.0) == pytest.approx(
        15.0, rel=0.02
    )


def test_half_hard_lip_is_a_cold_complaint():
    """Two thirds hard: 45 psi cold and 62 warm, as the trade describes it (common practice, no source)."""
    assert forward_circuit_psi(0.65, 280.0, 4300.0) == pytest.approx(45.0, abs=3.0)
    assert forward_circuit_psi(0.65, 353.0, 4300.0) == pytest.approx(62.0, abs=2.0)


def test_harder_lips_leak_more_at_any_temperature():
    """Directions only: with hardness the factor never falls."""
    hardness = np.linspace(0.0, 1.0, 11)[:, None]
    temperature, viscosity = (
        np.array([260.0, 290.0, 305.0, 330.0, 360.0]),
        np.array([0.3, 0.09, 0.05, 0.02, 0.008]),
    )
    factor = hydraulics.lip_leak(hardness, *hydraulics.lip_states(temperature), viscosity, 14.0, 1800.0)
    assert np.all(np.diff(factor, axis=0) > 0.0)
