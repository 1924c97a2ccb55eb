"""Converter, friction, shifting, heat and road: limits and directions a mechanic could predict."""

import numpy as np
import pytest
from hypothesis import strategies as st

from course_lib.physics import converter, friction, heat, shift_control


def from_zero(high):
    """Exactly zero, or anything that could be measured."""
    return st.just(0.0) | st.floats(1e-6, high)


@pytest.mark.parametrize("stall_ratio", [1.0, 1.6, 2.0, 2.5])
@pytest.mark.parametrize("coupling", [0.8, 0.88])
def test_every_converter_multiplies_from_its_stall_ratio_down_to_one(stall_ratio, coupling):
    """The stall ratio with the turbine held, 1 from the coupling point on, half of the gain half way; a ratio of 1 is a fluid
    coupling, which multiplies nowhere (VDI 2153, from memory)."""
    found = converter.torque_ratio(np.array([0.0, 0.5 * coupling, coupling, 1.0]), stall_ratio, coupling)
    np.testing.assert_allclose(found, [stall_ratio, 0.5 * (stall_ratio + 1.0), 1.0, 1.0], rtol=1e-12)


def test_torque_ratio_ends():
    """The stall ratio at stall, exactly 1 from the coupling point on; efficiency never above 1."""
    ratio = np.linspace(0.0, 1.0, 101)
    multiplied = converter.torque_ratio(ratio, 2.0)
    assert multiplied[0] == 2.0 and np.all(multiplied[ratio > 0.885] == 1.0)
    assert np.all(ratio * multiplied <= 1.0)


def test_converter_lets_go_when_both_turn_as_one():
    """No slip, no torque."""
    assert converter.pump_torque(200.0, 1.0, 0.0075) == 0.0


def test_no_pressure_no_torque():
    """A clutch or band without force holds nothing."""
    assert friction.clutch_torque_capacity(0.0, 0.12, 0.06, 10) == 0.0
    assert friction.band_torque_capacity(0.0, 0.12, 0.07, 5.6) == 0.0


@pytest.mark.parametrize(
    "harm, left",
    [
        ((463.0, 0.0, 0.0, 0.0), 0.92),
        ((363.0, 1.0, 0.0, 0.0), 0.45),
        ((363.0, 0.0, 0.02, 0.0), 0.70),
        ((363.0, 0.0, 0.0, 1.0), 0.88),
    ],
)
def test_each_harm_takes_the_share_its_docstring_says(harm, left):
    """100 K hotter, wholly glazed, two percent of water, fluid at its end; hand calculation from the printed law."""
    assert friction.friction_coefficient(0.125, *harm) == pytest.approx(0.125 * left)


def test_friction_of_a_sound_lining_is_the_base_and_every_harm_lowers_it():
    """Each harm alone takes some of the base away: heat, glaze, water, old fluid."""
    sound = (363.0, 0.0, 0.0, 0.0)
    assert friction.friction_coefficient(0.125, *sound) == 0.125
    for place, harm in enumerate((420.0, 0.5, 0.01, 1.0)):
        state = [*sound[:place], harm, *sound[place + 1 :]]
        assert friction.friction_coefficient(0.125, *state) < 0.125


def test_wear_follows_power_and_heat():
    """Twice the power, twice the wear (Archard 1953); a hot or charred lining wears faster; no slip, none."""
    cool = friction.sliding_wear_depth_rate(1000.0, 0.1, 3.5e-16, 363.0, 0.0)
    assert friction.sliding_wear_depth_rate(2000.0, 0.1, 3.5e-16, 363.0, 0.0) == pytest.approx(2.0 * cool)
    assert friction.sliding_wear_depth_rate(1000.0, 0.1, 3.5e-16, 480.0, 0.0) > 5.0 * cool
    assert friction.sliding_wear_depth_rate(1000.0, 0.1, 3.5e-16, 363.0, 0.5) > 50.0 * cool
    assert friction.sliding_wear_depth_rate(0.0, 0.1, 3.5e-16, 363.0, 0.0) == 0.0


def test_lining_chars_only_when_hot_and_only_once():
    """Exactly nothing at 200 C and below; faster when hotter; nothing left when wholly charred."""
    rate = friction.char_rate(np.array([300.0, 473.15, 500.0, 540.0]), 0.0)
    assert rate[0] == 0.0 and rate[1] == 0.0 and 0.0 < rate[2] < rate[3]
    assert rate[3] == pytest.approx(1.0 / 900.0)
    assert friction.char_rate(600.0, 1.0) == 0.0


def test_governor_is_silent_at_rest_continuous_and_rising():
    """Zero below the start speed; no jump at the second stage; never falls."""
    speed = np.linspace(0.0, 40.0, 4001)
    pressure = shift_control.governor_pressure(speed, 3.0, 9.0, 1e5, 6e3)
    assert np.all(pressure[speed <= 3.0] == 0.0)
    assert np.all(np.diff(pressure) >= 0.0) and np.diff(pressure).max() < 400.0
    assert shift_control.governor_pressure(19.0, 3.0, 9.0, 1e5, 6e3) == pytest.approx(1.6e5)


def test_both_load_signals_rise_with_throttle():
    """From 0 with the throttle closed to 1 fully open, for vacuum and for cable."""
    throttle = np.linspace(0.0, 1.0, 51)
    vacuum = shift_control.vacuum_signal(shift_control.manifold_vacuum(60e3, throttle, 1.0), 52e3)
    cable = shift_control.cable_signal(throttle, 0.04, 0.0, 0.0)
    for signal in (vacuum, cable):
        assert signal[0] == 0.0 and signal[-1] == 1.0 and np.all(np.diff(signal) >= 0.0)


def test_faults_of_the_load_signal_point_the_right_way():
    """Hose off: full signal. Tired engine: more signal. Slack cable: less. Tight cable: more."""
    sound = shift_control.vacuum_signal(shift_control.manifold_vacuum(60e3, 0.4, 1.0), 52e3)
    tired = shift_control.vacuum_signal(shift_control.manifold_vacuum(60e3, 0.4, 0.7), 52e3)
    assert shift_control.vacuum_signal(0.0, 52e3) == 1.0 and tired > sound
    assert (
        shift_control.vacuum_signal(-9e3, 52e3) == 1.0 and shift_control.vacuum_signal(60e3, 52e3) == 0.0
    ), "between its stops"
    slack, right, tight = shift_control.cable_signal(
        0.5, 0.04, np.array([0.01, 0, 0]), np.array([0, 0, 0.01])
    )
    assert slack < right < tight


def test_cooler_limits():
    """Without flow no cooling; with plenty of flow the whole UA; more flow never cools less."""
    flow = np.array([0.0, 0.01, 0.1, 1e4])
    taken = heat.cooler_conductance(flow, 2100.0, 220.0)
    assert taken[0] == 0.0 and np.all(np.diff(taken) > 0.0)
    assert taken[-1] == pytest.approx(220.0, rel=1e-4)
