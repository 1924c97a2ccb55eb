"""Chains of damage: with every link there, the end of the chain happens; one link taken out, it does not.

A link is taken out by giving the parameter that carries it a harmless value. That such chains exist is common practice,
no source; that each hangs on its links is what is tested. Drivers here never complain: all live the same miles.
"""

import numpy as np
import pytest
from vehicles import BAND, DIRECT, FORWARD, ONE_WAY, SPEC, drive, sound, with_cause

from course_lib.base import units
from course_lib.vehicle.fleet import Fleet

ONSET = 20_000.0
BURNT = 0.35  # char at which plates count as burnt


def lived(cause, use, miles, *, severity=0.5, without=(), **harmless):
    """Where a vehicle stands `miles` after onset; `without` names effects of the cause that are taken out."""
    world = with_cause(cause, severity, sound(**harmless), ONSET, use)
    for name in without:
        world.growths[0].change[name][:] = 0.0
    return drive(world, ONSET + 1.0, ONSET + miles, sensitivity=0.0)


def worst_char(life):
    """Worst char of the two clutches."""
    return life.condition.char[0, 0, [FORWARD, DIRECT]].max()


@pytest.mark.parametrize(
    "cause, use, miles, harmless",
    [
        pytest.param("fluid_low_external_leak", "mixed", 3_000, {"sump_pickup_height": -1.0}, id="leak: pickup uncovered"),
        pytest.param("dipstick_wrong_length", "mixed", 3_000, {"sump_pickup_height": -1.0}, id="dipstick: pickup uncovered"),
        pytest.param("pump_worn_abrasive", "mixed", 20_000, {"pump_wear": 0.0}, id="grit: clearance grows"),
        pytest.param("pump_worn_abrasive", "mixed", 20_000, {"pump_slip": 1e-20}, id="grit: clearance leaks"),
        pytest.param("filter_clogged_residue", "town", 6_000, {"pump_suction_resistance": 1.0}, id="filter: suction limit"),
        pytest.param("cooler_clogged_internally", "towing", 10_000, {"heat_case_still": 400.0}, id="cooler: heat"),
        pytest.param("cooler_clogged_internally", "towing", 10_000, {"wear_friction": 0.25}, id="cooler: plates lose hold"),
    ],
)  # fmt: skip
def test_without_one_link_no_clutch_burns(cause, use, miles, harmless):
    """All links there: a clutch burns. One harmless: none is even darkened, within the same miles."""
    assert worst_char(lived(cause, use, miles, severity=0.8)) > BURNT
    assert worst_char(lived(cause, use, miles, severity=0.8, **harmless)) < 0.04


def test_heat_hardens_the_seals():
    """Cooler narrowed, 15,000 miles of towing, nothing burnt yet: seals harden; the case cooled another way, they stay supple."""
    hot = lived("cooler_clogged_internally", "towing", 15_000, severity=0.55)
    cooled = lived("cooler_clogged_internally", "towing", 15_000, severity=0.55, heat_case_still=400.0)
    assert hot.condition.seal[0, 0, DIRECT] > 0.15 and worst_char(hot) == 0.0
    assert cooled.condition.seal[0, 0, DIRECT] < 0.01


def test_rubber_that_does_not_age_stays_supple_in_the_same_heat():
    """The second link of that chain: without aging the sump is as hot, the seals are not hard."""
    hot, ageless = (
        lived("cooler_clogged_internally", "towing", 15_000, severity=0.2, **harmless)
        for harmless in ({}, {"wear_seal_life": 1e15})
    )
    assert hot.condition.seal[0, 0, DIRECT] > 0.1 and ageless.condition.seal.max() < 1e-3
    assert ageless.felt["hot"][0] == pytest.approx(hot.felt["hot"][0], rel=0.02)


def test_servo_leak_wears_the_band_and_only_the_band():
    """Torn servo seal: the band slides, chars or thins. The leak taken out, nothing is left of the cause."""
    torn = lived("intermediate_servo_seal_leak", "town", 6_000, severity=0.2)
    whole = lived("intermediate_servo_seal_leak", "town", 6_000, severity=0.2, without=["element_leak"])
    lost = torn.condition.lining[0, 0] / np.maximum(whole.condition.lining[0, 0], 1e-12)
    assert lost[BAND] > 5.0 and np.all(lost[[FORWARD, DIRECT]] < 1.5)
    assert torn.felt["slips"][0] > 1.0 and whole.felt["slips"][0] < 0.2
    assert whole.condition.char.max() < 0.01


def test_neutral_drops_break_the_one_way_clutch_and_the_drum_of_the_forward_clutch():
    """Shock damages the rollers until first slips, and cracks the drum. Each hangs on its own shock; without any nothing breaks."""
    dropped = lived("neutral_drop_abuse", "mixed", 10_000)
    rollers = lived("neutral_drop_abuse", "mixed", 10_000, without=["element_shock"])
    kind = lived("neutral_drop_abuse", "mixed", 10_000, without=["wear_shock", "element_shock"])
    strong = lived("neutral_drop_abuse", "mixed", 10_000, element_holding_torque=1e9)
    assert dropped.condition.holding[0, 0, ONE_WAY] > 0.9 and dropped.felt["slips"][0] > 1.0
    assert kind.condition.holding[0, 0, ONE_WAY] < 0.02 and kind.felt["slips"][0] < 0.2
    assert dropped.condition.holding[0, 0, FORWARD] > 0.9 and rollers.condition.holding[0, 0, FORWARD] == 0.0
    assert dropped.condition.holding[0, 0, DIRECT] == 0.0  # it is not on in D, first
    assert rollers.condition.holding[0, 0, ONE_WAY] > 0.9 and rollers.felt["slips"][0] > 1.0
    assert worst_char(rollers) == worst_char(kind) == 0.0
    # The clutch that holds ten thousand times as much still holds when a hair of it is left.
    assert strong.condition.holding[0, 0, ONE_WAY] == pytest.approx(
        dropped.condition.holding[0, 0, ONE_WAY], rel=0.01
    )


def test_weak_modulator_burns_what_it_cannot_press():
    """Collapsed bellows: too little line under load burns a clutch; the signal restored, none."""
    assert worst_char(lived("modulator_bellows_collapsed", "town", 6_000)) > BURNT
    assert worst_char(lived("modulator_bellows_collapsed", "town", 6_000, without=["signal_gain"])) == 0.0


@pytest.mark.parametrize(
    "cause, column",
    [("drum_splines_cut", FORWARD), ("sun_shell_stripped", DIRECT), ("sun_shell_stripped", BAND)],
)
def test_teeth_that_give_way_spare_the_lining(cause, column):
    """Stripped splines slip, and their slip is no heat in the lining behind them; the same slide in the plates chars it."""
    stripped = lived(cause, "mixed", 9_000, severity=0.2)
    whole = lived(cause, "mixed", 9_000, severity=0.2, without=["element_splines"])
    slack = lived("snap_ring_missing", "mixed", 9_000, severity=0.2)
    assert stripped.felt["slips"][0] > 1.0 > 0.2 > whole.felt["slips"][0]
    assert stripped.condition.char[0, 0, column] < 0.04 < BURNT < slack.condition.char[0, 0, DIRECT]


def test_worn_bores_burn_what_they_feed_and_nothing_else():
    """Feed of the direct pack lost past the 2-3 valve: that pack chars. With the bore whole, none; the forward pack in neither."""
    worn = lived("shift_bore_worn", "mixed", 9_000)
    tight = lived("shift_bore_worn", "mixed", 9_000, without=["element_bore_leak"])
    assert worn.condition.char[0, 0, DIRECT] > BURNT
    assert tight.condition.char.max() < 0.04 and worn.condition.char[0, 0, FORWARD] < 0.04


def test_a_regulator_bore_costs_pressure_by_its_leak():
    """Worn past its severity the bore lets line pressure fall and a clutch burns; its leak taken out, nothing slips."""
    worn = lived("regulator_bore_worn", "town", 9_000)
    tight = lived("regulator_bore_worn", "town", 9_000, without=["line_body_leak"])
    assert worst_char(worn) > BURNT and worst_char(tight) < 0.04
    assert tight.felt["slips"][0] < 0.2


@pytest.mark.parametrize("entry", ["leak_pan", "leak_selector", "leak_line"])
def test_every_leak_empties_the_pan(entry):
    """A quart in 150 miles lost at any joint is a quart short after 150 miles, and dripped on the drive."""
    leak = units.QUART / (150.0 * units.MILE)
    life = drive(Fleet(SPEC, "highway", sound(**{entry: leak})), 1.0, 151.0, sensitivity=0.0)
    assert life.condition.lost[0, 0] == pytest.approx(units.QUART, rel=0.01)
    assert life.felt["drip"][0] == pytest.approx(1.0, rel=0.01)
