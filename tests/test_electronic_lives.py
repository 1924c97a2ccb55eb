"""Lives of the electronic unit: sound ones, what learning hides, and chains of cause that break where one link is taken out.

The miles are calibrated, not predicted: what is held here is their order, and what happens without a link.
"""

import msgspec
import numpy as np
import pytest
from electronic import changed

from course_lib.base import units
from course_lib.physics import copper
from course_lib.vehicle import duty_cycle, wiring
from course_lib.vehicle.actions import STORED, code_steps
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.life import live
from course_lib.vehicle.life_events import life_events
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.owner_day import driven_day
from course_lib.vehicle.since_clearing import cleared_before
from course_lib.vehicle.unit_spec import draw_parameters, load_unit, parameter_place

UNIT = load_unit("E6")
ONSET, FAR = 20_000.0, 60_000.0  # mi; from the onset on
COUNT = 8
COLD_LININGS = {"element_thermal_resistance": 1e-9, "element_thermal_capacity": 1e9}


def put(values, changes):
    """Set parameters name or name__owner in a set."""
    for address, value in changes.items():
        name, column = parameter_place(UNIT, address.replace("__", "@"))
        values[name][..., slice(None) if column is None else column] = value


def fleet(grown, over, use="mixed", unit=UNIT, **changes):
    """Eight vehicles in which changes (mild, severe) grow over so many miles; changes: what else is different from the start."""
    base = draw_parameters(unit, np.random.default_rng(3), COUNT, signal="electronic")
    put(base, changes)
    change = {}
    for address, (mild, severe) in grown.items():
        name, column = parameter_place(UNIT, address.replace("__", "@"))
        added = change.setdefault(name, np.zeros_like(base[name]))
        size = np.linspace(mild, severe, COUNT)
        if column is None:
            added += size.reshape(-1, *[1] * (added.ndim - 1))
        else:
            added[:, 0, column] = size
    start = np.full((COUNT, 1), ONSET * units.MILE)
    growth = Growth(change=change, onset=start, over=np.full_like(start, over * units.MILE))
    return Fleet(unit, use, base, (growth,))


def lived(world, sensitivity=1.0):
    """Their lives from onset, and the miles to the complaint; infinite where there is none."""
    start = np.full((COUNT, 1), ONSET * units.MILE)
    lives = live(
        world,
        new_condition(COUNT, world.unit),
        start,
        start + FAR * units.MILE,
        np.full((COUNT, 1), sensitivity),
        rough=2.0,
    )
    return lives, np.where(lives.complained, lives.odometer / units.MILE - ONSET, np.inf)


def without(*words):
    """The unit whose controller never does what `words` say."""
    actions = {
        name: msgspec.structs.replace(action, does=tuple(w for w in action.does if w not in words))
        for name, action in UNIT.control.actions.items()
    }
    control = msgspec.structs.replace(UNIT.control, actions=actions)
    return msgspec.structs.replace(UNIT, name=f"E6 without {' '.join(words)}", control=control)


def stored(lives):
    """The codes that any vehicle came with."""
    steps = code_steps(lives.condition.memory, UNIT)
    return {code for code, step in zip(UNIT.control.code_ids, steps.T, strict=True) if (step == STORED).any()}


FEED_B = {"wire_contact__feed_b": (10.0, 24.0)}
BORE = {"solenoid_bore__pcd": (0.35, 2.2)}
RING = {"element_leak__reduction_clutch": (4.5e-13, 3.4e-12)}
SPREAD = {"wire_shake__wire_pce": (0.85, 1.2)}
NO_LIMIT = {"control_fill_most": 10.0, "control_pressure_least": -1e9, "control_pressure_most": 1e9}


# ---------------------------------------------------------------------- sound
@pytest.mark.parametrize(
    "use, count, miles", [("mixed", 200, 100_000), ("town", 60, 100_000), ("yard", 40, 40_000)]
)
def test_sound_vehicles_go_their_miles_without_a_code(use, count, miles):
    """No code, fills within 45 ms of what they were meant to be, nothing slips; as far as cases are driven."""
    base = draw_parameters(UNIT, np.random.default_rng(1), count, signal="electronic")
    base = {name: value.astype(np.float32) for name, value in base.items()}
    start = np.zeros((count, 1))
    lives = live(
        Fleet(UNIT, use, base),
        new_condition(count, UNIT),
        start,
        start + miles * units.MILE,
        np.ones((count, 1)),
        rough=4.0,
    )
    assert not lives.complained.any()
    assert not code_steps(lives.condition.memory, UNIT).any()
    assert np.all(np.abs(lives.condition.memory.fill) < 0.045) and lives.condition.memory.fill.max() > 0.005
    assert np.all(lives.felt["slips"] < 0.1)


# ---------------------------------------------------------------------- what learning hides
def test_learning_hides_a_worn_bore_until_its_limit_and_never_a_leak_in_the_gear():
    """A bore is felt in the shift: frozen it comes soonest, without a limit latest. A ring leak slips in the gear itself."""
    miles = {
        (cause, how): np.median(lived(fleet(grown, 12_000, **changes))[1])
        for cause, grown in (("bore", BORE), ("ring", RING))
        for how, changes in (("learns", {}), ("frozen", {"control_learn": 1e15}), ("no limit", NO_LIMIT))
    }
    assert miles["bore", "frozen"] < 0.8 * miles["bore", "learns"] < 0.64 * miles["bore", "no limit"]
    for how in ("frozen", "no limit"):
        assert miles["ring", how] == pytest.approx(miles["ring", "learns"], rel=0.1)


def test_a_bore_that_is_sound_never_brings_anybody_in():
    assert np.isinf(lived(fleet({"solenoid_bore__pcd": (0.0, 0.0)}, 12_000))[1]).all()


# ---------------------------------------------------------------------- links
def test_a_sick_feed_ends_in_limp_and_without_limp_later():
    """Pin, current, pressure, slip: the controller's own test comes first and takes the relay off; left alone it drives on longer.

    To an ordinary driver, who does not come for a lamp alone.
    """
    lives, miles = lived(fleet(FEED_B, 5_000, "towing"), 0.5)
    assert np.all(lives.felt["limp"] > 1.0) and stored(lives) & {"P2716", "P2725", "P0743"}
    free, later = lived(fleet(FEED_B, 5_000, "towing", without("relay_off")), 0.5)
    assert np.median(later) > np.median(miles) and not free.felt["limp"].any()
    assert np.isinf(lived(fleet({"wire_contact__feed_b": (0.0, 0.0)}, 5_000, "towing"))[1]).all()


def test_a_sick_feed_driven_on_burns_the_clutch_that_it_starves():
    """Without what the controller does about its codes, and seen by whom little troubles: third and fifth slip until the reduction
    clutch is burnt, and no other. With linings that take no heat nothing chars, and limping home spares it."""
    column, free = UNIT.element_ids.index("reduction_clutch"), without("relay_off", "bar_gears", "line_full")
    char = lived(fleet(FEED_B, 5_000, "towing", free), 0.1)[0].condition.char[:, 0]
    assert np.median(char[:, column]) > 0.35 and char.max() == char[:, column].max()
    assert not np.delete(char, column, 1).any()
    for spared in (fleet(FEED_B, 5_000, "towing", free, **COLD_LININGS), fleet(FEED_B, 5_000, "towing")):
        assert lived(spared, 0.1)[0].condition.char.max() < 1e-3


def test_copper_that_does_not_warm_leaves_more_current(monkeypatch):
    """A small link: a hot coil takes more volts, so the duty saturates sooner."""
    _, miles = lived(fleet(FEED_B, 5_000, "towing"))
    monkeypatch.setattr(
        wiring, "copper_resistance", lambda at_20c, _t: copper.copper_resistance(at_20c, 293.15)
    )
    assert np.median(lived(fleet(FEED_B, 5_000, "towing"))[1]) > np.median(miles)


def test_a_pin_that_opens_when_shaken_needs_a_road_that_shakes(monkeypatch):
    """Spread terminal: code and limp on a real road, nothing on a smooth one; without limp only moments without drive are left."""
    lives, miles = lived(fleet(SPREAD, 1_500), 0.5)
    assert np.isfinite(miles).all() and stored(lives) & {"P2727", "P2729"} and lives.felt["limp"].max() > 1.0
    free, later = lived(fleet(SPREAD, 1_500, unit=without("relay_off")), 0.5)
    assert not free.felt["limp"].any() and np.median(later) > 1.1 * np.median(miles)
    duty_cycle._duty_cycle.cache_clear()
    monkeypatch.setattr(duty_cycle, "_shake", lambda _point: 0.0)
    try:
        assert np.isinf(lived(fleet(SPREAD, 1_500))[1]).all()
    finally:
        duty_cycle._duty_cycle.cache_clear()


def test_a_turbine_sensor_that_dies_hot_is_felt_through_the_line_that_it_orders():
    """F4 puts the line up, and that is what is hard; without that the code is there all the same, and nothing is hard."""
    dies = {"sensor_dies_above__tss": (-258.0, -262.0)}
    hard, _ = lived(fleet(dies, 1_000))
    soft, _ = lived(fleet(dies, 1_000, unit=without("line_full", "relay_off")))
    assert "P0717" in stored(hard) & stored(soft)
    assert np.median(hard.felt["harsh"]) > 0.8 > 0.4 > np.median(soft.felt["harsh"])


def test_a_low_level_is_felt_because_the_pickup_uncovers():
    low = {"sump_charge": (-1.2e-3, -2.0e-3)}
    _, miles = lived(fleet(low, 100))
    assert np.isfinite(miles).all()
    dry = fleet(low, 100, sump_pickup_height=-1.0)
    assert np.all(lived(dry)[1] > miles)


def test_a_ring_leak_burns_the_plates_it_lets_slip_unless_they_cannot_heat():
    """Seen by whom little troubles: it is the clutch of the leak that chars; with linings that take no heat nothing does."""
    column = UNIT.element_ids.index("reduction_clutch")
    burnt, miles = lived(fleet(RING, 15_000, unit=without("relay_off", "bar_gears", "line_full")), 0.1)
    char = burnt.condition.char[:, 0]
    assert np.median(char[:, column]) > 0.1 and np.all(char.argmax(-1) == column)
    cold, same = lived(
        fleet(RING, 15_000, unit=without("relay_off", "bar_gears", "line_full"), **COLD_LININGS), 0.1
    )
    assert cold.condition.char.max() < 1e-3
    assert np.median(same) >= 0.9 * np.median(miles)


# ---------------------------------------------------------------------- codes cleared on the way in
def test_after_clearing_only_what_has_failed_again_is_stored():
    """Third slips for a leaking ring: after two miles nothing is back, as it takes two trips; after twenty it is, but where limp
    was felt and the slip alone is at the limit. What is learned stays, and where nobody cleared anything all is what it was."""
    world = fleet(RING, 3_000)
    lives, _ = lived(world, 0.25)
    stood = code_steps(lives.condition.memory, UNIT) == STORED
    assert lives.complained.all() and stood.any(1).all()

    def after(miles):
        return cleared_before(world, lives, np.full(COUNT, miles * units.MILE), np.full(COUNT, 0.25))

    soon, late = after(2.0), after(20.0)
    back = [(code_steps(each.condition.memory, UNIT) == STORED).any(1) for each in (soon, late)]
    assert not back[0].any() and back[1].sum() >= COUNT - 1
    for each, lit in zip((soon, late), back, strict=True):
        np.testing.assert_array_equal(each.felt["lamp"] > 0.0, lit)
    np.testing.assert_allclose(soon.condition.memory.fill, lives.condition.memory.fill, atol=3e-3)
    cleared = [events["codes_cleared"] for events in soon.events]
    np.testing.assert_allclose(cleared, lives.odometer - 2.0 * units.MILE)
    np.testing.assert_array_equal(after(0.0).condition.memory.failed, lives.condition.memory.failed)
    with pytest.raises(ValueError, match="0 or more"):
        after(-1.0)


def test_who_comes_for_the_lamp_stays_away_while_it_is_out():
    """A wire that parts now and then: limp and lamp were the complaint. Two miles on it has not parted again."""
    world = fleet(SPREAD, 3_000)
    lives, _ = lived(world, 0.25)
    assert lives.complained.all()
    for miles, comes in ((2.0, False), (500.0, True)):
        since, driver = np.full(COUNT, miles * units.MILE), np.full(COUNT, 0.25)
        after = cleared_before(world, lives, since, driver)
        assert np.all(after.complained == comes) and np.all((after.felt["limp"] > 1.0) == comes)


def test_a_line_held_at_full_is_not_told_as_one_that_falls_short():
    """Without current in its solenoid the regulator aims at all there is, which no pump brings at idle."""
    condition, day = new_condition(1, UNIT), duty_cycle.duty_cycle("mixed", UNIT)
    for changes, told in (({"wire_open__wire_pca": 1.0}, False), ({"line_body_leak": 1e-9}, True)):
        plant = changed(**changes)
        work = driven_day(plant, condition, day).work
        assert life_events(plant, condition, work)["line_low"].item() == told
