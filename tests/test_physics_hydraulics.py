"""Fluid, sump, pump and circuits: limits, directions, and flow that balances."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import norm

from course_lib.physics import fluid, hydraulics, pump, sump
from course_lib.physics.smooth import smooth_step


def test_viscosity_meets_both_points():
    """The curve passes through the two points it was made from."""
    a, b = fluid.walther_coefficients(36e-6, 313.15, 7.3e-6, 373.15)
    points = fluid.kinematic_viscosity(np.array([313.15, 373.15]), a, b)
    np.testing.assert_allclose(points, [36e-6, 7.3e-6], rtol=1e-12)


def test_hotter_fluid_is_thinner_lighter_and_ages_faster():
    """Directions a mechanic expects, over the whole working range."""
    temperature = np.linspace(250.0, 420.0, 50)
    a, b = fluid.walther_coefficients(36e-6, 313.15, 7.3e-6, 373.15)
    assert np.all(np.diff(fluid.kinematic_viscosity(temperature, a, b)) < 0.0)
    assert np.all(np.diff(fluid.density(temperature, 868.0)) < 0.0)
    assert np.all(np.diff(fluid.oxidation_rate(temperature, 0.0)) > 0.0)
    assert fluid.oxidation_rate(400.0, 0.2) > fluid.oxidation_rate(400.0, 0.0)


def test_smooth_step_is_symmetric_rising_and_exact_at_its_ends():
    """Exactly 0 and 1 at and outside the ends; F(-x) = 1 - F(x) in between."""
    x = np.linspace(-1.5, 1.5, 301)
    y = smooth_step(x, -1.0, 1.0)
    assert np.all(y[x <= -1.0] == 0.0) and np.all(y[x >= 1.0] == 1.0)
    assert np.all(np.diff(y) >= -1e-15)
    np.testing.assert_allclose(y, 1.0 - y[::-1], atol=1e-12)


def test_uncovered_share_is_close_to_the_normal_law():
    """Within 0.017 of the normal law (scipy.stats.norm), and without its tails."""
    margin = np.linspace(-4.0, 4.0, 801)
    share = sump.uncovered_share(margin, 1.0)
    np.testing.assert_allclose(share, norm.cdf(-margin), atol=0.017)
    assert np.all(share[margin >= 3.0] == 0.0) and np.all(share[margin <= -3.0] == 1.0)


def test_sump_height_gives_its_volume_back():
    """Height times areas is the volume again, below, at and above the step."""
    volume = np.array([0.0, 0.001, 0.0018, 0.003])
    height = sump.fluid_height(volume, 0.06, 0.075, 0.03)
    back = 0.06 * np.minimum(height, 0.03) + 0.075 * np.maximum(height - 0.03, 0.0)
    np.testing.assert_allclose(back, volume, atol=1e-15)


def test_slope_and_low_fluid_uncover_the_pickup_only_together():
    """Full on a ramp and low on the flat stay covered; low on a ramp does not."""
    height = np.array([0.056, 0.043, 0.043])
    margin = sump.pickup_margin(height, 0.008, 0.17, np.array([0.2, 0.0, 0.25]), 0.001)
    share = sump.uncovered_share(margin, 0.003)
    assert share[0] == 0.0 and share[1] == 0.0 and share[2] > 0.9


def test_right_level_does_not_foam_and_overfill_does():
    """Exactly no air three scales below the drums, the full 0.22 three scales above."""
    air = sump.overfill_air_share(np.array([0.057, 0.073, 0.089]), 0.073, 0.005)
    np.testing.assert_allclose(air, [0.0, 0.11, 0.22], atol=1e-12)
    assert air[0] == 0.0


def test_suction_caps_the_flow():
    """Never above the geometric flow nor above limit / resistance; close to the smaller far from the knee."""
    ideal = np.geomspace(1e-6, 1e-1, 60)
    cap = 80e3 / (1.3e10 * 0.01)
    drawn = pump.suction_limited_flow(ideal, 1.3e10, 0.01, 80e3)
    assert np.all(drawn <= np.minimum(ideal, cap) * (1.0 + 1e-12))
    assert np.all(np.diff(drawn) >= 0.0)
    assert drawn[0] == pytest.approx(ideal[0], rel=1e-6)
    assert drawn[-1] == pytest.approx(cap, rel=1e-6)


def test_suction_depression_and_air_leak_directions():
    """A plugged strainer pulls deeper, and a deeper pull draws more air; no leak draws none."""
    clean, plugged = pump.suction_depression(5e-4, 7.5e8, 0.01, np.array([0.0, 0.8]))
    assert plugged - 400.0 == pytest.approx(25.0 * (clean - 400.0))
    assert pump.air_leak_flow(5e-6, plugged, 1.2) > pump.air_leak_flow(5e-6, clean, 1.2)
    assert pump.air_leak_flow(0.0, plugged, 1.2) == 0.0


def test_worn_or_hot_pump_slips_more():
    """New pump: the coefficient over viscosity; wear follows the cube; thin fluid slips more."""
    assert pump.slip_conductance(9e-13, 0.01, 1.0) == pytest.approx(9e-11)
    assert pump.slip_conductance(9e-13, 0.01, 2.0) == pytest.approx(9e-11 * (0.3 + 0.7 * 8.0))
    assert pump.slip_conductance(9e-13, 0.005, 1.0) > pump.slip_conductance(9e-13, 0.01, 1.0)


def fed(line, area, leak, hole):
    """Pressure of a circuit with sharp-edged holes in fluid of 830 kg/m3, by the function that vehicles use."""
    discharge = hydraulics.SHARP_EDGE_DISCHARGE
    return hydraulics.fed_pressure(line, discharge * area, leak, discharge * hole, np.sqrt(2.0 / 830.0))


CIRCUITS = dict(
    line=st.floats(1e4, 3e6),
    area=st.floats(5e-7, 2e-5),
    leak=st.floats(0.0, 1e-8),
    hole=st.floats(0.0, 4e-5),
)


@settings(deadline=None, max_examples=200)
@given(**CIRCUITS)
def test_fed_pressure_balances_the_flows(line, area, leak, hole):
    """The pressure agrees within 0.1 % with scipy's bracketing root of the same flow balance."""
    pressure = fed(line, area, leak, hole)

    def imbalance(p):
        outflow = leak * p + hydraulics.orifice_flow(hole, p, 830.0)
        return hydraulics.orifice_flow(area, line - p, 830.0) - outflow

    assert 0.0 < pressure <= line * (1.0 + 1e-12)
    assert pressure == pytest.approx(brentq(imbalance, 0.0, line, rtol=1e-12), rel=1e-3)


def test_fed_pressure_limits():
    """No line, no pressure; no leak, line pressure; a hole alone splits by the squares of the areas."""
    assert fed(0.0, 4e-6, 1e-10, 1e-6) == 0.0
    assert fed(1e6, 4e-6, 0.0, 0.0) == 1e6
    assert fed(1e6, 4e-6, 0.0, 3e-6) == pytest.approx(1e6 * 16.0 / 25.0, rel=1e-12)


def test_more_leak_never_raises_pressure():
    """Monotone in leak and in hole, at the tap and in the line."""
    leak, hole = np.geomspace(1e-13, 1e-8, 40), np.linspace(0.0, 2e-5, 40)
    assert np.all(np.diff(fed(1e6, 4e-6, leak, 1e-6)) < 0.0)
    assert np.all(np.diff(fed(1e6, 4e-6, 1e-10, hole)) < 0.0)
    assert np.all(np.diff(hydraulics.regulated_pressure(4.5e5, 3e-4, leak, 0.04, 2e-4)) < 0.0)


def test_regulator_holds_while_it_spills_and_follows_flow_when_it_cannot():
    """At nominal spill the set pressure; more spills as the straight law says; short of flow, Q / G."""
    leak = 2e-10
    flow = 2e-4 + leak * 4.5e5
    assert hydraulics.regulated_pressure(4.5e5, flow, leak, 0.04, 2e-4) == pytest.approx(4.5e5, rel=1e-12)
    pressure = hydraulics.regulated_pressure(4.5e5, 5e-4, leak, 0.04, 2e-4)
    spill = 2e-4 * (1.0 + (pressure / 4.5e5 - 1.0) / 0.04)
    assert spill + leak * pressure == pytest.approx(5e-4, rel=1e-9)
    assert hydraulics.regulated_pressure(4.5e5, 4e-5, leak, 0.04, 2e-4) == pytest.approx(4e-5 / leak)
    assert hydraulics.regulated_pressure(4.5e5, 0.0, leak, 0.04, 2e-4) == 0.0


@pytest.mark.parametrize(
    "arguments, message",
    [
        ((0.0, 313.15, 7e-6, 373.15), r"viscosity_1 must be greater than 0, got 0\.0\. Give m2/s"),
        ((36e-6, 313.15, 7e-6, 313.15), r"temperature_2 minus temperature_1 must be greater than 0"),
        ((36e-6, -40.0, 7e-6, 313.15), r"temperature_1 must be greater than 0, got -40\.0\. Give kelvin"),
    ],
)
def test_bad_viscosity_points_are_refused(arguments, message):
    """Zero viscosity, one temperature twice and degrees Celsius each give one line."""
    with pytest.raises(ValueError, match=message):
        fluid.walther_coefficients(*arguments)
