"""Shifts from clutch to clutch: against general solvers of the same equation, in direction, and in kind."""

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from course_lib.physics import handover, sliding_mass
from course_lib.physics.handover import OffGoing, OnComing, ShiftOrders, Turning, hand_over, turbine_trace

LONGEST = 2.5
SOUND = {
    "orders": ShiftOrders(0.115, 4.1e5, 0.8e5, 2.65e5, 0.15, 0.95, 0.02, 0.09),
    "on_coming": OnComing(0.115, 0.8e5, 1.2e-3, 900.0),
    "off_going": OffGoing(187.5, 0.0),
    "turning": Turning(150.0, 60.0, 0.55, 250.0),
}


def shift(**changes):
    """`SOUND` with other values, by the names of the fields."""
    return {
        name: replace(
            part, **{entry.name: changes.pop(entry.name) for entry in fields(part) if entry.name in changes}
        )
        for name, part in SOUND.items()
    }


def drawn(kind, number, seed):
    """Random shifts of a kind, sound and sick."""
    rng = np.random.default_rng(seed)
    among = lambda low, high: rng.uniform(low, high, number)  # noqa: E731
    torque, gap, release, run_up = among(40.0, 300.0), among(25.0, 120.0), 0.02, 1e4
    residual = np.where(rng.random(number) < 0.2, among(0.0, 0.6), 0.0) * torque
    holding = 1.25 * torque
    if kind == "downshift":
        gap, release = -gap, among(-0.3, 0.05)
    if kind == "coast":
        gap, torque, release = -gap, -among(5.0, 40.0), among(-0.1, 0.05)
        holding, residual = among(30.0, 80.0), among(-20.0, 20.0).clip(0.0)
    if kind == "from rest":
        torque, holding, residual, run_up = among(15.0, 60.0), 0.0, 0.0, 0.0
    spring, gain = among(5e4, 9e4), among(0.8e-3, 3e-3)
    goal = spring + (np.abs(torque) + 0.55 * np.abs(gap) / 0.45) / gain
    fill = among(0.07, 0.2)
    phases = (0.15, 0.95, release, 0.09)
    return {
        "orders": ShiftOrders(fill, 4.1e5, spring + among(-5e4, 5e4), goal + among(-4e4, 8e4), *phases),
        "on_coming": OnComing(fill + among(-0.06, 0.1), spring, gain * among(0.6, 1.1), among(20.0, 900.0)),
        "off_going": OffGoing(holding, residual),
        "turning": Turning(torque, gap, 0.55, run_up),
    }


KINDS = ("upshift", "downshift", "coast", "from rest")


def numbers(parts):
    """All fields of all parts in one dictionary."""
    return {e.name: getattr(part, e.name) for part in parts.values() for e in fields(part)}


def torques(time, one, touch):
    """What both elements of one shift can hold at a time, straight from the equation."""
    since, goal = time - one["fill_time"], one["goal_pressure"]
    rise = min(max(since / one["torque_phase"], 0.0), 1.0)
    slow = (since - one["torque_phase"]) / (one["time_out"] - one["torque_phase"])
    ramp = one["first_pressure"] + (goal - one["first_pressure"]) * rise
    ramp += (handover.CREEP - 1.0) * goal * min(max(slow, 0.0), 1.0)
    pressure = one["fill_pressure"] if since < 0.0 else ramp
    grip = min(max(one["gain"] * (pressure - one["spring_pressure"]), 0.0), one["capacity"])
    grip = 0.0 if time < touch else grip if since < one["time_out"] else one["capacity"]
    let_go = min(max((since - one["release_delay"]) / one["release_time"], 0.0), 1.0)
    return grip, one["holding"] + (one["residual"] - one["holding"]) * let_go


def whole(parts):
    """The numbers of shifts; both capacities have names of their own."""
    found = numbers(parts)
    return found | {"capacity": parts["on_coming"].capacity, "holding": parts["off_going"].capacity}


def integrated(one, touch):
    """One shift by scipy's general solver: flare, slide, heats, bump and tie-up, mode by mode.

    State: speed over the old gear's, heat on, heat off, tie-up.
    """
    torque, gap, inertia, load = (
        one["torque"],
        one["speed_gap"],
        one["inertia"],
        max(abs(one["torque"]), 25.0),
    )
    run_up = one["most_run_up"]

    def rates(time, state, held, old, new):
        on, off = torques(time, one, touch)
        both = max(on + off - 1.25 * load, 0.0) - max(on - 1.25 * load, 0.0)
        rise = 0.0 if held else (torque - new * on - old * off) / inertia
        return [rise, on * abs(state[0] + gap), off * abs(state[0]), both / load]

    def back(time, state, held, old, new):
        return 1.0 if held or time <= begun + 1e-9 else state[0] * old

    def there(time, state, held, old, new):
        return 1.0 if held or time <= begun + 1e-9 else (state[0] + gap) * new

    def breaks(time, state, held, old, new):
        on, off = torques(time, one, touch)
        drive = torque - new * on
        return 1.0 if not held else off - (-drive if run_up <= 0.0 else abs(drive))

    for event in (back, there, breaks):
        event.terminal = True
    marks = [
        touch,
        one["fill_time"] + np.array([0.0, one["torque_phase"], one["time_out"], one["release_delay"]]),
    ]
    marks = np.sort(
        np.clip(np.concatenate([[marks[0]], marks[1], [marks[1][-1] + one["release_time"]]]), 0.0, LONGEST)
    )
    state, begun, held, old, new = np.zeros(4), 0.0, True, 1.0, np.sign(gap)
    left, peak, bump, locked = np.inf, 0.0, 0.0, False
    while begun < LONGEST and not locked:
        later = marks[marks > begun + 1e-12]
        until = later[0] if len(later) else LONGEST
        on, off = torques(begun + 1e-13, one, touch)
        drive = torque - new * on
        if held and (drive < -off or (run_up > 0.0 and drive > off)):
            held, old = False, np.sign(drive)
        if not held:
            left = min(left, begun)
        span = (begun, until)
        options = dict(
            events=[back, there, breaks], rtol=1e-8, atol=1e-8, max_step=2e-3, args=(held, old, new)
        )
        found = solve_ivp(rates, span, state, **options)
        state, begun = found.y[:, -1].copy(), found.t[-1]
        peak = max(peak, found.y[0].max())
        on, off = torques(begun, one, touch)
        if found.t_events[0].size:
            state[0], drive = 0.0, torque - new * on
            held, old = bool(abs(drive) <= off or (drive > 0.0 and run_up <= 0.0)), -old
        elif found.t_events[1].size:
            locked = abs(torque - old * off) <= on
            bump = abs(torque - new * on - old * off) / load if locked else 0.0
            state[0], new = -gap, -new
        elif found.t_events[2].size:
            held, old = False, -1.0 if run_up <= 0.0 else np.sign(torque - new * on)
    slide = begun - (left if np.isfinite(left) else one["fill_time"])
    return [max(peak - max(-gap, 0.0), 0.0), slide, state[1], state[2], bump, state[3]]


@pytest.mark.parametrize("kind", KINDS)
def test_shift_is_what_a_general_solver_finds(kind):
    """scipy.integrate.solve_ivp (RK45) on the same equation, random shifts, sound and sick."""
    parts = drawn(kind, 15, 5)
    found = np.stack(hand_over(**parts, longest=LONGEST))
    rows = whole(parts)
    for row in range(15):
        one = {name: float(np.broadcast_to(value, 15)[row]) for name, value in rows.items()}
        expected = integrated(one, found[-1, row])
        np.testing.assert_allclose(
            found[:6, row], expected, rtol=1e-3, atol=5e-3
        )  # a peak between two samples


def test_late_fill_flares_and_early_fill_ties_up():
    """The later the piston, the higher the flare and the longer the slide; the earlier, the more both hold (direction)."""
    late = hand_over(**shift(fill_need=np.linspace(0.115, 0.3, 8)), longest=LONGEST)
    assert late.flare[0] < 1e-6 and np.all(np.diff(late.flare) > 0.0) and np.all(np.diff(late.slide) > 0.0)
    assert np.all(np.diff(late.touch) > 0.0) and np.all(np.diff(late.tie_up) <= 1e-6)
    early = hand_over(**shift(fill_need=np.linspace(0.115, 0.02, 8)), longest=LONGEST)
    assert np.all(early.flare < 1e-6) and np.all(np.diff(early.tie_up) > 0.0)


def test_flare_is_what_the_trade_reckons():
    """60 ms too late with 100 N m and 0.55 kg m2 is 104 rpm (computed, Newton), when the one lets go as the fill ends."""
    parts = shift(
        torque=100.0,
        release_delay=0.0,
        release_time=1e-4,
        fill_need=0.175,
        torque_phase=0.01,
        goal_pressure=7.4e5,
    )
    found = hand_over(**parts, longest=LONGEST)
    assert found.touch - parts["orders"].fill_time == pytest.approx(0.060, rel=1e-3)
    assert found.flare * 60.0 / (2.0 * np.pi) == pytest.approx(104.0, rel=0.01)


def test_weak_grip_slides_long_and_then_bangs():
    """Less gain: a longer slide, more heat; past the time-out full pressure ends it with a bang (direction)."""
    found = hand_over(**shift(gain=np.linspace(1.2e-3, 0.7e-3, 11)), longest=LONGEST)
    assert np.all(np.diff(found.slide) > 0.0)
    banged = found.bump > 2.0
    assert banged[-1] and not banged[0] and np.all(np.diff(banged.astype(int)) >= 0)
    assert np.all(np.diff(found.bump[~banged]) < 0.0) and found.bump[~banged].max() < 1.0
    fast = hand_over(**shift(goal_pressure=np.linspace(2.65e5, 5e5, 6)), longest=LONGEST)
    assert (
        np.all(np.diff(fast.slide) < 0.0)
        and np.all(np.diff(fast.bump) > 0.0)
        and np.all(np.diff(fast.heat) < 0.0)
    )


def test_what_never_lets_go_or_never_grips_is_no_good_shift():
    """Both are waited for as long as anyone waits: neither reads as a short, sound slide."""
    stuck = hand_over(**shift() | {"off_going": OffGoing(2000.0, 2000.0)}, longest=LONGEST)
    assert stuck.slide == pytest.approx(LONGEST - 0.115) and stuck.tie_up > 1.0
    empty = hand_over(**shift() | {"on_coming": OnComing(0.115, 0.8e5, 1.2e-3, 0.0)}, longest=LONGEST)
    assert empty.slide > 2.0 and empty.flare == 250.0 and empty.heat == 0.0


def test_cold_shift_is_sound_where_the_table_knows_the_cold():
    """Thick fluid fills later. With the same law in the table nothing flares; with a table that reads hot it does."""
    cold = handover.fill_time(1.27e-5, 1.1e-4, np.array([1.0, 3.0, 8.0]))
    assert np.all(np.diff(cold) > 0.0)
    known = hand_over(**shift(fill_need=cold, fill_time=cold), longest=LONGEST)
    np.testing.assert_allclose(known.slide, known.slide[0], rtol=1e-9)
    assert np.all(known.flare < 1e-6)
    believed_hot = hand_over(**shift(fill_need=cold, fill_time=cold[0]), longest=LONGEST)
    assert np.all(np.diff(believed_hot.flare) > 0.0)


def test_downshift_under_load_runs_up_and_is_caught():
    """The one lets go, the turbine runs up by itself, the other catches it: gap x J / T after letting go, little heat."""
    run_up = 60.0 * 0.55 / 150.0
    parts = shift(speed_gap=-60.0, release_delay=-0.2, fill_need=np.array([0.15, 0.2, 0.3]))
    found = hand_over(**parts, longest=LONGEST)
    assert found.slide[0] == pytest.approx(run_up, rel=0.3)
    assert found.flare[0] < 5.0 and np.all(np.diff(found.flare) > 10.0)
    sound = hand_over(**SOUND, longest=LONGEST)
    assert found.heat[0] < 0.1 * sound.heat


def test_coasting_downshift_needs_the_clutch_to_turn_the_engine():
    """Without it the turbine falls; with it, the harder it grips, the shorter; the work comes from the vehicle."""
    parts = shift(
        torque=-20.0, speed_gap=-30.0, release_delay=-0.05, goal_pressure=np.array([1.3e5, 1.6e5, 2.2e5])
    )
    parts |= {"off_going": OffGoing(40.0, 0.0)}
    found = hand_over(**parts, longest=LONGEST)
    assert np.all(np.diff(found.slide) < 0.0) and np.all(found.flare < 1e-6)
    empty = parts | {"on_coming": OnComing(0.115, 0.8e5, 1.2e-3, 0.0)}
    assert np.all(turbine_trace(**empty, time=np.array([0.0, 1.0]))[:, 1] < -10.0)


def test_from_rest_all_that_turned_becomes_heat():
    """From idle to a standstill: heat is the turning mass's energy and what the engine brought meanwhile (conservation)."""
    gap, torque = np.linspace(50.0, 90.0, 7), 25.0
    parts = shift(torque=torque, speed_gap=gap, most_run_up=0.0, goal_pressure=1.5e5) | {
        "off_going": OffGoing(0.0, 0.0)
    }
    found = hand_over(**parts, longest=LONGEST)
    left_at = 0.115 + 0.15 * torque / (
        1.2e-3 * (1.5e5 - 0.8e5)
    )  # when the rising grip is as much as the torque
    time = np.linspace(left_at, LONGEST, 4001)
    brought = torque * np.trapezoid(turbine_trace(**parts, time=time) + gap[:, None], time)
    until_then = 0.5 * torque * (left_at - 0.115) * gap
    np.testing.assert_allclose(found.heat, 0.5 * 0.55 * gap**2 + brought + until_then, rtol=1e-4)
    np.testing.assert_allclose(found.touch + found.slide, found.slide + 0.115)


def test_trace_shows_what_the_numbers_say():
    """The top of the graph is the flare; it ends at the new speed when the slide is over."""
    parts = shift(fill_need=np.array([0.115, 0.2, 0.25]))
    found = hand_over(**parts, longest=LONGEST)
    time = np.linspace(0.0, 1.5, 3001)
    speed = turbine_trace(**parts, time=time)
    np.testing.assert_allclose(speed.max(-1), found.flare, atol=0.1)
    np.testing.assert_array_equal(speed[:, -1], -60.0)
    left = time[np.argmax(np.abs(speed) > 0.0, axis=-1)]
    there = time[np.argmax(speed == -60.0, axis=-1)]
    np.testing.assert_allclose(there - left, found.slide, atol=2e-3)


@pytest.mark.parametrize("kind", KINDS)
def test_many_shifts_are_each_alone(kind):
    """To the last bit, whoever else is in the batch; single precision is kept, and as good as double."""
    parts = drawn(kind, 200, 8)
    found = hand_over(**parts, longest=LONGEST)
    for row in (0, 71, 199):
        one = {
            name: type(part)(*(float(np.broadcast_to(getattr(part, e.name), 200)[row]) for e in fields(part)))
            for name, part in parts.items()
        }
        np.testing.assert_array_equal([each[row] for each in found], hand_over(**one, longest=LONGEST))
    single = {
        name: type(part)(*(np.asarray(getattr(part, e.name), np.float32) for e in fields(part)))
        for name, part in parts.items()
    }
    rough = hand_over(**single, longest=np.float32(LONGEST))
    assert all(each.dtype == np.float32 for each in rough)
    np.testing.assert_allclose(rough.slide, found.slide, atol=1e-3)
    np.testing.assert_allclose(rough.heat, found.heat, rtol=1e-4, atol=0.5)
    np.testing.assert_allclose(rough.bump, found.bump, atol=1e-2)


def test_equal_gears_need_no_slide():
    """No speed gap: no division by nothing, no heat to speak of."""
    found = np.stack(hand_over(**shift(speed_gap=0.0), longest=LONGEST))
    assert np.all(np.isfinite(found))
    assert found[2] < 1.0


def test_what_flickers_does_not_stop_the_clock(monkeypatch):
    """However often an element may begin and cease to hold, the time of the shift goes on to its end."""
    monkeypatch.setattr(sliding_mass, "_advance", lambda state, stretch, mass: None)
    assert hand_over(**SOUND, longest=LONGEST).slide == pytest.approx(LONGEST - 0.115)
