"""Gear trains: what goes in comes out, for any teeth, and refusals that say what to do."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from course_lib.physics.gearset import PlanetarySet, solve_train

MEMBERS = ("input", "front_ring", "sun", "output", "rear_carrier")
FORWARD, DIRECT = ("front_ring", "input"), ("sun", "input")
BAND, LOW = ("sun", "case"), ("rear_carrier", "case")
RANGES = {
    "first": (FORWARD, LOW),
    "second": (FORWARD, BAND),
    "third": (FORWARD, DIRECT),
    "reverse": (DIRECT, LOW),
}


def train(front, rear, couplings):
    """Two sets with a common sun, front and rear ratio free."""
    sets = [
        PlanetarySet("sun", "front_ring", "output", front),
        PlanetarySet("sun", "output", "rear_carrier", rear),
    ]
    return sets, solve_train(MEMBERS, sets, couplings, "input", "output")


teeth = st.tuples(st.integers(12, 60), st.integers(10, 40)).map(lambda t: t[0] / (t[0] + 2 * t[1]))
gears = st.sampled_from(sorted(RANGES))


@settings(deadline=None, max_examples=60)
@given(front=teeth, rear=teeth, gear=gears)
def test_power_out_is_power_in(front, rear, gear):
    """Without friction the load gets the power of the input, in every range."""
    _, state = train(front, rear, RANGES[gear])
    assert state.output_torque * state.speeds["output"] == pytest.approx(1.0, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(front=teeth, rear=teeth, gear=gears)
def test_outside_torques_sum_to_zero(front, rear, gear):
    """Input torque, torque from the case and the load's counter torque balance."""
    _, state = train(front, rear, RANGES[gear])
    held = sum(state.torques[i] for i, pair in enumerate(RANGES[gear]) if pair[1] == "case")
    assert 1.0 + held - state.output_torque == pytest.approx(0.0, abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(front=teeth, rear=teeth, gear=gears)
def test_every_member_balances_and_every_mesh_is_lossless(front, rear, gear):
    """Torques on each member sum to zero; each set takes as much power as it gives; Willis holds."""
    sets, state = train(front, rear, RANGES[gear])
    total = dict.fromkeys((*MEMBERS, "case"), 0.0)
    total["input"] += 1.0
    total["output"] -= state.output_torque
    for i, (first, second) in enumerate(RANGES[gear]):
        total[first] += state.torques[i]
        total[second] -= state.torques[i]
    for i, gear_set in enumerate(sets):
        rho, ring = gear_set.rho, state.set_torques[i]
        loads = {gear_set.sun: rho * ring, gear_set.ring: ring, gear_set.carrier: -(1.0 + rho) * ring}
        assert sum(loads.values()) == pytest.approx(0.0, abs=1e-9)
        assert sum(t * state.speeds[name] for name, t in loads.items()) == pytest.approx(0.0, abs=1e-9)
        for name, torque in loads.items():
            total[name] += torque
    assert all(abs(total[name]) < 1e-9 for name in MEMBERS)


@settings(deadline=None, max_examples=60)
@given(rho=teeth)
def test_equal_sets_follow_the_printed_formulas(rho):
    """First 2 + rho, second 1 + rho, third 1, reverse -1 / rho (Lechner and Naunheimer; from memory)."""
    printed = {"first": 2.0 + rho, "second": 1.0 + rho, "third": 1.0, "reverse": -1.0 / rho}
    for gear, ratio in printed.items():
        assert train(rho, rho, RANGES[gear])[1].ratio == pytest.approx(ratio, rel=1e-9)


@pytest.mark.parametrize(
    "couplings, message",
    [
        ((FORWARD,), r"ties must be 5, got 4: nothing drives\. Apply one more element\."),
        ((FORWARD, LOW, BAND), r"ties must be 5, got 6: the train ties up\. Release one element\."),
        ((LOW, BAND), r"ties must hold each member once, got one loose or held twice"),
        ((FORWARD, ("output", "case")), r"ties must hold each member once"),
        ((FORWARD, ("sum", "case")), r"member must be one of .*'sun'.*, got \['sum'\]\. Correct the name\."),
    ],
)
def test_trains_that_cannot_be_solved_are_refused(couplings, message):
    """Neutral, tie-up, a loose member, a held output and a misspelled name each give one line."""
    with pytest.raises(ValueError, match=message):
        train(0.45, 0.45, couplings)


@pytest.mark.parametrize(
    "sun, drive, load, wrong",
    [
        ("son", "input", "output", "son"),
        ("sun", "inlet", "output", "inlet"),
        ("sun", "input", "outlet", "outlet"),
    ],
)
def test_a_misspelled_member_is_refused_wherever_it_stands(sun, drive, load, wrong):
    """In a gear set, as the one that drives and as the one that is driven."""
    sets = [
        PlanetarySet(sun, "front_ring", "output", 0.4),
        PlanetarySet("sun", "output", "rear_carrier", 0.4),
    ]
    with pytest.raises(ValueError, match=rf"member must be one of .*got \['{wrong}'\]\. Correct the name\."):
        solve_train(MEMBERS, sets, RANGES["first"], drive, load)


def test_ratio_of_teeth_must_be_positive():
    """A set with no sun teeth is refused."""
    with pytest.raises(ValueError, match=r"rho must be greater than 0, got 0"):
        PlanetarySet("sun", "ring", "carrier", 0.0)
