"""How fast things wear: by what, in which proportion, and up to where; every law on one set of workings."""

from dataclasses import replace

import numpy as np
import pytest
from electronic import UNIT as E6
from electronic import changed
from vehicles import BAND, DIRECT, FORWARD, LOW_REVERSE, ONE_WAY, SPEC, new, sound

from course_lib.base import units
from course_lib.physics import fluid
from course_lib.vehicle import wear
from course_lib.vehicle.duty_cycle import SETTING_OFF, duty_cycle
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, Condition, new_condition
from course_lib.vehicle.owner_day import driven_day
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.wear import plate_temperature, wear_rates

DAY = duty_cycle("mixed", SPEC)
PRESSED = (FORWARD, DIRECT, BAND, LOW_REVERSE)


@pytest.fixture(scope="module")
def work():
    """Workings of a sound new vehicle over its day."""
    return Plant(SPEC, sound()).operate(new(), DAY.op, DAY.seconds)


def rate(entry, work, condition=None, **changes) -> np.ndarray:
    """How fast one entry of the condition grows per meter, one number or one for each element."""
    found = wear_rates(Plant(SPEC, sound(**changes)), condition or new(), work, DAY)
    return getattr(found, entry).reshape(-1)


def worn(**entries) -> Condition:
    """A new condition but for these, the same in every element."""
    blank = new()
    return replace(
        blank, **{name: np.full_like(getattr(blank, name), value) for name, value in entries.items()}
    )


def shape_of(work, **entries):
    """The workings with some entries the same everywhere."""
    return replace(
        work, **{name: np.full_like(getattr(work, name), value) for name, value in entries.items()}
    )


def test_a_sound_vehicle_loses_no_fluid_and_wears_hardly_at_all(work):
    """Nothing grows backward in a new vehicle, and 10,000 miles take less than a tenth of anything."""
    found = wear_rates(Plant(SPEC, sound()), new(), work, DAY)
    far = 10_000 * units.MILE
    for entry in PLAIN + PER_ELEMENT:
        value = getattr(found, entry)
        assert np.all(value >= 0.0), entry
        whole = sound()["element_lining"].max() if entry == "lining" else 1.0
        assert entry == "oxidation" or np.all(value * far < 0.1 * whole), entry
    assert found.lost == 0.0


@pytest.mark.parametrize(
    "entry, name, much",
    [
        ("lost", "leak_outside", 1e-9),
        ("lost", "leak_front", 1e-9),
        ("lost", "leak_pan", 1e-9),
        ("lost", "leak_selector", 1e-9),
        ("lost", "leak_line", 1e-9),
        ("lost", "leak_engine_draws", 1e-9),
    ],
)
def test_every_leak_takes_what_it_takes(work, entry, name, much):
    assert rate(entry, work, **{name: much}) == pytest.approx(much)


@pytest.mark.parametrize(
    "entry, name",
    [
        ("oxidation", "fluid_aging"),
        ("pump", "pump_wear"),
        ("pump", "pump_grit"),
        ("bushing", "wear_bushing"),
        ("planetary", "wear_planet"),
    ],
)
def test_a_rate_is_in_proportion_to_its_own_parameter(work, entry, name):
    """A sound vehicle has some of each; twice the parameter is twice of it, none is none."""
    twice, once, none = (rate(entry, work, **{name: by * sound()[name]}) for by in (2.0, 1.0, 0.0))
    assert none == 0.0 < once and twice / once == pytest.approx(2.0)


def test_an_owner_who_stands_longer_ages_his_fluid_standing(work):
    """Three times the standing is twice as much more of the seconds at rest; stopping oftener, of those setting off."""
    still, off = DAY.op.road_speed == 0.0, (DAY.op.road_speed > 0.0) & (DAY.op.road_speed < SETTING_OFF)
    each = DAY.seconds[0] * fluid.oxidation_rate(work.temperature[0], work.air_time[0])
    whole = rate("oxidation", work, fluid_service=0.0)
    for name, here in (("use_standing", still), ("use_stops", off)):
        more = rate("oxidation", work, fluid_service=0.0, **{name: 3.0})
        assert here.any() and (more - whole) / whole == pytest.approx(
            2.0 * each[here].sum() / each.sum(), rel=1e-3
        )


def test_fresh_fluid_takes_the_age_away(work):
    """Each service takes out its share of the age there is; in fluid of no age there is none to take."""
    old, new_, unserved = (
        rate("oxidation", work, worn(oxidation=age), fluid_service=share)
        for age, share in ((0.8, 1.0), (0.0, 1.0), (0.8, 0.0))
    )
    assert unserved == pytest.approx(new_) and old - new_ == pytest.approx(-0.8 * DAY.services)


# ---------------------------------------------------------------------- metal
@pytest.mark.parametrize("entry, off", [("pump", wear.PUMP_OFFSET), ("bushing", wear.BUSHING_OFFSET)])
def test_a_hub_off_center_doubles_and_triples(work, entry, off):
    sound_rate = rate(entry, work)
    assert rate(entry, work, pump_offset=off) == pytest.approx(2.0 * sound_rate)
    assert rate(entry, work, pump_offset=2.0 * off) == pytest.approx(3.0 * sound_rate)


@pytest.mark.parametrize(
    "entry, factor", [("pump", wear.DEBRIS_IN_PUMP), ("bushing", wear.DEBRIS_WEAR), ("planetary", wear.DEBRIS_WEAR)]
)  # fmt: skip
def test_old_debris_wears_metal(work, entry, factor):
    assert rate(entry, work, wear_debris=0.5) == pytest.approx((1.0 + 0.5 * factor) * rate(entry, work))


def test_air_wears_the_pump_by_its_share_of_the_time(work):
    """Half the time in foam is half as much more as all the time; bushings do not mind."""
    dry, half, foam = (rate("pump", shape_of(work, air_time=air), wear_aerated=6.0) for air in (0.0, 0.5, 1.0))  # fmt: skip
    assert foam == pytest.approx(7.0 * dry) and half == pytest.approx(4.0 * dry)
    assert rate("bushing", shape_of(work, air_time=1.0)) == pytest.approx(rate("bushing", work), rel=0.2)


@pytest.mark.parametrize("entry", ["bushing", "planetary"])
def test_want_of_returning_oil_wears_what_it_feeds(work, entry):
    """None at all counts in full, enough or more not at all, half of it between; the pump has its own oil."""
    flows = (0.0, 0.5 * wear.LUBE_FLOW, wear.LUBE_FLOW, 3.0 * wear.LUBE_FLOW)
    none, half, enough, more = (rate(entry, shape_of(work, cooler_flow=flow), wear_lube_starved=4.0) for flow in flows)  # fmt: skip
    assert more == pytest.approx(enough) and half == pytest.approx(9.0 * enough)
    assert none == pytest.approx(25.0 * enough)
    a, b = (rate("pump", shape_of(work, cooler_flow=flow), wear_lube_starved=4.0) for flow in flows[:2])
    assert a == b


@pytest.mark.parametrize(
    "entry, rule",
    [("bushing", wear.BUSHING_GROWS), ("planetary", wear.PIN_GROWS), ("driveline", wear.JOINT_GROWS)],
)
def test_worn_metal_goes_on_by_itself_from_some_wear_on(work, entry, rule):
    """Below the least it does not; past it the more is gone the faster, and a ruined part wears no more."""
    least = rule[1]
    still = {"wear_bushing": 0.0, "wear_planet": 0.0, "wear_shock": 0.0, "wear_bump": 0.0}
    below, some, more, ruined = (
        rate(entry, work, worn(**{entry: size}), **still)
        for size in (0.9 * least, least + 0.1, least + 0.2, 1.0)
    )
    assert below == 0.0 and ruined == 0.0 and 0.0 < some < more
    assert some == pytest.approx(rule[0] / wear.GROWS_OVER * 0.1 * (0.9 - least))


@pytest.mark.parametrize(
    "entry", ["bushing", "planetary", "lockup", "driveline", "holding", "seal", "soaked"]
)
def test_what_is_ruined_wears_no_more_and_half_worn_half_as_fast(work, entry):
    """What wears a part takes its share of what is left of it; what it does to itself is told apart above."""
    hard = {
        "wear_soak": 1e-6, "fluid_water": 0.02, "wear_shock": 1e-6, "wear_dry": 1e-6, "use_dry_tow": 1.0, "element_shock": 1e-6,
    }  # fmt: skip
    loaded, none = shape_of(work, lockup_power=10.0), dict.fromkeys(hard, 0.0)
    whole, half, ruined = (rate(entry, loaded, worn(**{entry: size}), **hard) for size in (0.0, 0.5, 1.0))
    itself = rate(entry, loaded, worn(**{entry: 0.5}), **none) - 0.5 * rate(entry, loaded, **none)
    assert np.all(ruined == 0.0) and np.any(whole > 0.0)
    np.testing.assert_allclose(half - itself, 0.5 * whole, rtol=1e-9, atol=1e-25)


def test_scored_pump_faces_and_a_hub_that_wanders_go_on(work):
    scored = rate("pump", work, worn(pump=wear.SCORED + 0.4)) - rate("pump", work)
    rubs = rate("pump", work, worn(bushing=wear.SCORED + 0.4)) - rate("pump", work)
    assert scored * wear.GROWS_OVER == pytest.approx(0.4 * wear.PUMP_SCORES)
    assert rubs * wear.GROWS_OVER == pytest.approx(0.4 * wear.HUB_RUBS)
    assert rate("pump", work, worn(pump=0.9 * wear.SCORED, bushing=0.9 * wear.SCORED)) == rate("pump", work)


@pytest.mark.parametrize("entry", ["bushing", "planetary"])
def test_towing_with_the_wheels_down_runs_dry(work, entry):
    """It is no matter whether the day wears: dry miles come on top, and only while it is towed."""
    dry = rate(entry, work, wear_dry=1e-5, use_dry_tow=1.0) - rate(entry, work)
    assert dry == pytest.approx(1e-5) and rate(entry, work, wear_dry=1e-5) == rate(entry, work)


# ---------------------------------------------------------------------- plates
def plates_of(work, *, power=0.0, energy=0.0, spell=np.inf, plant=None, **changes):
    """Plate temperature above the sump [K] of each element, the same at every point."""
    plant, still = plant or Plant(SPEC, sound(**changes)), shape_of(work, drag_power=0.0, temperature=360.0)
    shape = work.slip_power.shape
    spells = np.full((1, shape[1]), spell)
    return (plate_temperature(plant, still, np.full(shape, power), np.full(shape, energy), spells) - 360.0)[0, 0]  # fmt: skip


def test_plates_without_heat_are_as_warm_as_the_oil(work):
    np.testing.assert_allclose(plates_of(work), 0.0, atol=1e-9)


def test_a_slide_heats_plates_toward_power_times_resistance(work):
    """Newton's law of cooling, by hand: 1 - 1/e of the way after one time constant, nothing at once."""
    p = Plant(SPEC, sound()).p
    resistance, capacity = p.element_thermal_resistance[0, 0], p.element_thermal_capacity[0, 0]
    for column in PRESSED:
        constant = resistance[column] * capacity[column]
        final = 10.0 * resistance[column]
        assert plates_of(work, power=10.0)[column] == pytest.approx(final)
        assert plates_of(work, power=10.0, spell=constant)[column] == pytest.approx(0.6321206 * final)
        assert plates_of(work, power=10.0, spell=1e-9)[column] == pytest.approx(0.0, abs=1e-6)
        # so short a slide leaves all its heat in the plates
        assert plates_of(work, power=10.0, spell=1e-3 * constant)[column] == pytest.approx(
            10.0 * 1e-3 * constant / capacity[column], rel=1e-3
        )
        assert plates_of(work, energy=500.0)[column] == pytest.approx(500.0 / capacity[column])


def test_no_plate_gets_hotter_than_one_that_has_lost_its_grip(work):
    assert plates_of(work, power=1e6)[list(PRESSED)] + 360.0 == pytest.approx(wear.HOTTEST_PLATE)


def test_on_spotted_steels_the_same_slide_is_hotter(work):
    plain, spotted = plates_of(work, power=20.0), plates_of(work, power=20.0, element_hot_spots=1.0)
    np.testing.assert_allclose(spotted, (1.0 + wear.SPOT_HEAT) * plain)


def test_what_drags_gets_hotter_than_what_slips(work):
    """A pack that should be free is not flooded with oil."""
    dragged = replace(shape_of(work, drag_power=10.0, temperature=360.0))
    plant, none = Plant(SPEC, sound()), np.zeros(work.slip_power.shape)
    hot = plate_temperature(plant, dragged, none, none, np.full((1, none.shape[1]), np.inf))[0, 0] - 360.0
    np.testing.assert_allclose(hot[list(PRESSED)], wear.DRY * plates_of(work, power=10.0)[list(PRESSED)])


# ---------------------------------------------------------------------- linings
def still(work, **entries):
    """Workings in which nothing slides, drags or engages, but for these, at a sump that leaves all else alone."""
    quiet = {"slip_power": 0.0, "drag_power": 0.0, "shift_heat": 0.0, "temperature": 360.0}
    return shape_of(work, **quiet | entries)


def test_nothing_that_does_not_slide_loses_lining_or_chars(work):
    assert np.all(rate("lining", still(work)) == 0.0) and np.all(rate("char", still(work)) == 0.0)


def test_a_slide_takes_lining_of_pressed_elements_only(work):
    """So little power that the plates stay cool: twice the power is twice the wear, and it may as well be a drag."""
    one, two = (rate("lining", still(work, slip_power=power)) for power in (1e-3, 2e-3))
    assert np.all(one[list(PRESSED)] > 0.0) and one[ONE_WAY] == 0.0
    np.testing.assert_allclose(two, 2.0 * one, rtol=1e-3)
    np.testing.assert_allclose(rate("lining", still(work, drag_power=1e-3)), one, rtol=1e-3)


def test_a_hotter_slide_takes_more_for_its_heat_and_chars(work):
    mild, hard = still(work, slip_power=1.0), still(work, slip_power=2e4)
    cool, hot = rate("lining", mild)[list(PRESSED)], rate("lining", hard)[list(PRESSED)] / 2e4
    assert np.all(hot > 2.0 * cool)
    charred = rate("char", hard)
    assert np.all(charred[list(PRESSED)] > 1e3 * rate("char", mild)[list(PRESSED)])
    assert np.all(charred[list(PRESSED)] > 0.0) and charred[ONE_WAY] == 0.0


def test_torn_splines_take_the_slide_and_spare_the_lining(work):
    """Where the teeth behind a pack give way before its lining, the lining does not rub."""
    slid = still(work, slip_power=50.0, capacity=200.0)
    assert np.all(rate("lining", slid, element_splines=199.0) == 0.0)
    assert np.all(rate("lining", slid, element_splines=201.0)[list(PRESSED)] > 0.0)
    assert np.all(rate("char", slid, element_splines=199.0) == 0.0)


def test_every_stop_costs_an_engagement(work):
    """Twice the stops, twice the engagements; twice the heat of each, twice the wear, the plates hardly warmer."""
    once = shape_of(still(work), shift_heat=1e-3)
    base = rate("lining", once)
    np.testing.assert_allclose(rate("lining", shape_of(still(work), shift_heat=2e-3)), 2.0 * base, rtol=1e-3)
    np.testing.assert_allclose(rate("lining", once, use_stops=2.0 * sound()["use_stops"]), 2.0 * base, rtol=1e-3)  # fmt: skip
    assert np.any(base > 0.0)


def test_a_lining_that_is_gone_wears_no_more(work):
    slid = still(work, slip_power=1.0)
    thickness = sound()["element_lining"]
    gone = replace(new(), lining=np.array(np.broadcast_to(thickness, new().lining.shape)))
    half = replace(new(), lining=0.5 * gone.lining)
    assert np.all(rate("lining", slid, gone) == 0.0)
    np.testing.assert_allclose(rate("lining", slid, half), rate("lining", slid))


@pytest.mark.parametrize(
    "what, factor",
    [
        ({"fluid_judder": 0.5}, 1.0 + 0.5 * wear.GRABS_WEAR),
        ({"element_hot_spots": 0.5}, 1.0 + 0.5 * wear.SPOT_WEAR),
    ],
)
def test_what_grabs_wears_linings_faster(work, what, factor):
    slid = still(work, slip_power=1e-6)
    np.testing.assert_allclose(rate("lining", slid, **what), factor * rate("lining", slid), rtol=1e-3)


def test_soaked_paper_wears_faster_and_soaks_from_water(work):
    """Linings only, as far as there is water, and not beyond soaked."""
    slid = still(work, slip_power=1e-6)
    factor = 1.0 + 0.5 * wear.SOAKED_WEAR
    np.testing.assert_allclose(
        rate("lining", slid, worn(soaked=0.5)), factor * rate("lining", slid), rtol=1e-3
    )
    dry, damp, wet = (rate("soaked", work, wear_soak=1e-6, fluid_water=water) for water in (0.0, 0.01, 0.02))
    assert np.all(dry == 0.0) and np.all(damp[list(PRESSED)] > 0.0) and damp[ONE_WAY] == 0.0
    np.testing.assert_allclose(wet, 2.0 * damp)
    assert np.all(rate("soaked", work, worn(soaked=1.0), wear_soak=1e-6, fluid_water=0.02) == 0.0)


def test_rocking_chars_what_it_works_while_it_lasts(work):
    """Only of an owner who rocks the vehicle, only what takes turns in it, and the harder the hotter."""
    rocked = {"use_rocks": 1.0, "wear_rock_time": 1e-4}
    off, mild, hard = (
        rate("char", still(work), **rocked | {"wear_rock_energy": joules}) for joules in (1.0, 1e5, 1e6)
    )
    taking_turns = Plant(SPEC, sound()).rocked.reshape(-1) > 0
    taking_turns[ONE_WAY] = False  # it has no lining
    assert np.all(hard[taking_turns] > off[taking_turns]) and np.all(hard >= mild) and np.all(mild >= off)
    assert np.all(hard[~taking_turns] == 0.0) and taking_turns.any()
    twice = rate("char", still(work), **rocked | {"wear_rock_energy": 1e6, "wear_rock_time": 2e-4})
    np.testing.assert_allclose(twice, 2.0 * hard)
    assert np.all(rate("char", still(work), wear_rock_time=1e-4, wear_rock_energy=1e5, use_rocks=0.0) == 0.0)


# ---------------------------------------------------------------------- seals, rollers, drums, joints
def test_seals_harden_twice_as_fast_for_every_so_many_kelvin(work):
    """The rule of reaction rates (common practice, no source), in the sump and beside a hot drum; none in one-way clutches."""
    cool, warm = (
        rate("seal", shape_of(work, temperature=t)) for t in (wear.SEAL_REFERENCE, wear.SEAL_REFERENCE + wear.SEAL_HALVING)
    )  # fmt: skip
    np.testing.assert_allclose(warm, 2.0 * cool)
    assert np.all(cool[list(PRESSED)] > 0.0) and cool[ONE_WAY] == 0.0
    drum = sound()["element_drum_heat"] + wear.SEAL_HALVING
    np.testing.assert_allclose(
        rate("seal", shape_of(work, temperature=wear.SEAL_REFERENCE), element_drum_heat=drum), warm
    )


def test_seals_harden_faster_in_worn_out_fluid_and_no_further_than_hard(work):
    acid = sound()["wear_seal_oxidized"].item()
    np.testing.assert_allclose(
        rate("seal", work, worn(oxidation=0.5)), (1.0 + 0.5 * acid) * rate("seal", work)
    )
    np.testing.assert_allclose(rate("seal", work, worn(seal=0.75)), 0.25 * rate("seal", work))
    twice = 2.0 * sound()["wear_seal_life"]
    np.testing.assert_allclose(rate("seal", work, wear_seal_life=twice), 0.5 * rate("seal", work))


def test_shocks_break_drums_and_joints_only_beyond_what_they_bear(work):
    """A bump within what parts bear for life counts nothing; beyond it the excess counts, in the parts that shift."""
    mild, hard, harder = (shape_of(work, bump=wear.BEARS_BUMP + more, delay=0.3) for more in (-0.1, 1.0, 2.0))
    shifts = sound()["element_shifts"].reshape(-1) > 0
    base = rate("holding", mild)
    one, two = (rate("holding", each) - base for each in (hard, harder))
    assert np.all(one[shifts] > 0.0) and np.all(one[~shifts] == 0.0) and shifts.any()
    np.testing.assert_allclose(two, 2.0 * one)
    joints = [rate("driveline", each) for each in (mild, hard, harder)]
    assert joints[0] < joints[1] and joints[2] - joints[0] == pytest.approx(2.0 * (joints[1] - joints[0]))
    assert joints[1] - joints[0] == pytest.approx(one.max()), "joints meet the worst of them"
    assert np.all(rate("holding", shape_of(hard, delay=0.0)) == base), "what is not engaged bangs nowhere"


def test_a_shock_counts_by_the_time_spent_where_it_comes(work):
    """The same bump at one point or at another: as the seconds of the two."""
    here = []
    for point in (1, 3):
        bump, delay = (np.zeros_like(work.bump) for _ in range(2))
        delay[:], bump[:, point] = 0.3, wear.BEARS_BUMP + 1.0
        here.append(rate("driveline", replace(work, bump=bump, delay=delay)).item())
    seconds = DAY.spent(sound()["use_stops"], sound()["use_standing"])[0]
    assert here[0] / here[1] == pytest.approx(seconds[1] / seconds[3]) and here[0] != here[1]


def test_one_way_clutches_are_hurt_by_blows_and_pressed_elements_are_not(work):
    """A clutch applied beside the rollers takes most of a blow; a tow run dry hurts the towed ones."""
    backed = Plant(SPEC, sound()).backed.reshape(-1)
    hit = rate("holding", work, wear_one_way=1e-6) - rate("holding", work, wear_one_way=0.0)
    blow = rate("holding", work, wear_shock=1e-6) - rate("holding", work)
    assert hit[ONE_WAY] == pytest.approx(1e-6) and np.allclose(hit[list(PRESSED)], 0.0)
    assert blow[ONE_WAY] == pytest.approx(1e-6 * (wear.BACKED if backed[ONE_WAY] else 1.0))
    assert np.allclose(blow[list(PRESSED)], 0.0)
    joints = rate("driveline", work, wear_shock=1e-6) - rate("driveline", work)
    assert joints == pytest.approx(1e-6 * wear.DRIVELINE_SHOCK)
    shock = rate("holding", work, element_shock=1e-6) - rate("holding", work)
    np.testing.assert_allclose(shock, 1e-6)


def test_a_crack_runs_on_with_every_stop_from_some_size_on(work):
    """Below the least it rests; what is ruined can crack no further."""
    quiet, alone = still(work, bump=0.0), {"wear_one_way": 0.0}
    rest, runs, ruined = (
        rate("holding", quiet, worn(holding=size), **alone)
        for size in (0.9 * wear.CRACK_LEAST, wear.CRACK_LEAST + 0.2, 1.0)
    )
    assert np.all(ruined == 0.0) and np.all(rest == 0.0)
    np.testing.assert_allclose(runs, wear.CRACK_GROWS * DAY.stops * 0.2 * (0.8 - wear.CRACK_LEAST))
    stops = 2.0 * sound()["use_stops"]
    more = rate("holding", quiet, worn(holding=wear.CRACK_LEAST + 0.2), use_stops=stops, **alone)
    np.testing.assert_allclose(more, 2.0 * runs)


def test_the_lock_up_lining_chars_by_the_heat_in_it(work):
    one, two = (rate("lockup", shape_of(work, lockup_power=power)) for power in (10.0, 20.0))
    seconds = DAY.spent(sound()["use_stops"], sound()["use_standing"]).sum()
    assert one == pytest.approx(10.0 * seconds / sound()["lockup_life"].item())
    assert two == pytest.approx(2.0 * one)
    assert rate("lockup", shape_of(work, lockup_power=10.0), worn(lockup=1.0)) == 0.0


def test_a_condition_has_a_rate_for_every_entry(work):
    found = wear_rates(Plant(SPEC, sound()), new(), work, DAY)
    assert all(getattr(found, name).shape == (1, 1) for name in PLAIN)
    assert all(getattr(found, name).shape == new().char.shape for name in PER_ELEMENT)


def test_a_slide_harder_than_plates_can_take_burns_them_the_faster():
    """Past the hottest a plate gets, in the six-speed twice as fast each 33 K; below nothing changes."""
    day = duty_cycle("mixed", E6)

    def charred(watts, climb):
        plant, condition = changed(wear_char_climb=climb), new_condition(1, E6)
        work = driven_day(plant, condition, day).work
        power = np.zeros_like(work.slip_power)
        power[..., E6.element_ids.index("reduction_clutch")] = watts
        return wear_rates(plant, condition, replace(work, slip_power=power), day).char.max()

    assert charred(8e3, 0.03) == charred(8e3, 0.0)
    assert charred(3e4, 0.03) > 2.0 * charred(3e4, 0.0) > 0.0
