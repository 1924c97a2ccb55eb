"""Parts that must be renewed, repairs driven forward, and damage that stays in its part: every answer is driven."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from course_lib.assessment.marking import MORE_BROKEN, mark
from course_lib.assessment.record import Answer, RepairPlan
from course_lib.base import units
from course_lib.cases.key import Key
from course_lib.faults import repair
from course_lib.faults.cause_pairs import check_together
from course_lib.faults.causes import causes_of, load_cause
from course_lib.faults.measures import known_units
from course_lib.faults.parts import BROKEN, NO_PART, renew
from course_lib.faults.repair import (
    STAGES,
    TrialRepair,
    condition_after,
    drive_forward,
    growths_after,
    miles_before_age,
    miles_to_return,
    outcome_of,
)
from course_lib.faults.repair_extent import extents
from course_lib.faults.scenario import Request, draw_scenario, find_pasts
from course_lib.faults.visible_damage import damage_in_findings
from course_lib.shop.inspect import make_inspections
from course_lib.vehicle.fleet import Fleet, parameters_at
from course_lib.vehicle.life import live
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit, nominal_parameters, parameter_place

SOME = 24
KINDS = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"), ("E6", "electronic"))


@cache
def fresh():
    """Vehicles that came in, by turns of every kind, each with the extent of its damage and the key it makes."""
    wanted = [Request(seed=970_000 + i, unit=KINDS[i % 4][0], signal=KINDS[i % 4][1]) for i in range(SOME)]
    found = find_pasts(wanted, [np.random.default_rng(request.seed) for request in wanted])
    pasts = [past for past in found if isinstance(past, repair.Past)]
    assert len(pasts) >= 0.6 * SOME
    return [(past, extents([past])[0]) for past in pasts]


def key_of(past, extent):
    """What marking needs of the key of a vehicle."""
    return Key(
        case_id="x", parts=tuple(extent.must), also=extent.may, either=extent.either, back=extent.must,
        causes=tuple(cause.id for cause in past.causes), chain=(), stories={}, recipe={},
    )  # fmt: skip


def accepted(past, extent, parts):
    """Whether an answer that names those parts, however many, is right."""
    answer = Answer(parts=tuple(parts), causes=tuple(cause.id for cause in past.causes))
    return mark(answer, key_of(past, extent)).part_right


def everything(past):
    """The ids of all its causes."""
    return frozenset(cause.id for cause in past.causes)


# ---------------------------------------------------------------------- keys
def test_whoever_names_what_is_shown_is_right():
    """All that is shown broken, and exactly what must be renewed: both are accepted of every vehicle."""
    for past, extent in fresh():
        broken = [part for part, degree in past.shown.items() if degree == BROKEN]
        shown = broken or [NO_PART] if NO_PART in key_of(past, extent).allowed else broken or list(past.shown)
        assert accepted(past, extent, shown), (past.causes[0].id, past.shown, extent)
        assert accepted(past, extent, extent.must or key_of(past, extent).shortest)


def test_what_brings_it_back_and_is_shown_by_nothing_is_found_out():
    """A worn pump of which no finding spoke could not be named by anybody: such a vehicle is no case. Shown, it must be renewed."""
    request = Request(seed=972_001, unit="T3", signal="vacuum", cause="pump_worn_abrasive")
    (past,) = find_pasts([request], [np.random.default_rng(request.seed)])
    shown = extents([past])[0]
    past.__dict__["shown"] = {}
    hidden = extents([past])[0]
    assert "front_pump" in shown.must and not shown.unseen
    assert hidden.unseen == ("front_pump",) and not hidden.must


def test_a_sound_part_is_refused():
    """A part that nothing shows and no cause sits in makes any answer wrong."""
    for past, extent in fresh():
        sound = next(part for part in ("rear_seal", "case", "front_seal") if part not in past.damaged)
        assert not accepted(past, extent, [*key_of(past, extent).shortest, sound])


def test_what_is_shown_is_looked_for_once(monkeypatch):
    """What more is told of a vehicle changes nothing of what is shown of it; a new vehicle is looked at."""
    past, _ = fresh()[0]
    shown = past.shown
    monkeypatch.setattr(repair, "visible_damage", lambda *_: {})
    assert past.told(seed=past.seed).shown == shown and shown
    assert replace(past).shown == {}


def test_what_must_be_renewed_is_shown_and_comes_back():
    """No key asks for what no finding shows; each part of it, left alone, brings the vehicle back long before its age does."""
    for past, extent in fresh():
        found = damage_in_findings(make_inspections(past.subject), past.unit, past.signal)
        assert found == past.shown and set(extent.must) <= set(found)
        plans = [
            TrialRepair(parts=tuple(p for p in past.damaged if p != part), corrected=everything(past))
            for part in extent.must
        ]
        whole = miles_before_age(miles_to_return(past, past.ahead["part and cause"]))
        lives = drive_forward([(past, plan, repair.YEARS_OF_USE) for plan in plans]) if plans else None
        for row, miles in enumerate(extent.must.values()):
            assert (
                miles_to_return(past, outcome_of(lives, row)) == pytest.approx(miles, rel=1e-3)
                and miles <= whole
            )


def test_no_part_means_that_none_need_be_renewed():
    """Where "no part broken yet" is right, the cause put right alone keeps the vehicle away as long as all parts new do."""
    for past, extent in fresh():
        if NO_PART in key_of(past, extent).allowed:
            assert miles_to_return(past, past.ahead["cause only"]) > miles_before_age(
                miles_to_return(past, past.ahead["part and cause"])
            )


def test_an_older_key_is_marked_as_it_was():
    """A key from before there were leave tests: its part must be named, what it allows may be, and nothing else."""
    old = Key(
        case_id="x",
        parts=("front_pump",),
        also=("filter",),
        causes=("pump_worn_abrasive",),
        chain=(),
        stories={},
        recipe={},
    )
    right = {
        ("front_pump",): True,
        ("front_pump", "filter"): True,
        ("filter",): False,
        ("front_pump", "case"): False,
    }
    for parts, good in right.items():
        assert mark(Answer(parts=parts, causes=("pump_worn_abrasive",)), old).part_right == good


def test_a_verdict_tells_that_another_part_is_left():
    """Nothing is said where all of it is named or planned, and no part is named: the miles stand in the repair driven on."""
    key = Key(
        case_id="x", parts=("front_pump", "filter"), either=(("front_pump",),), also=(), causes=("pump_worn_abrasive",),
        back={"front_pump": 12.0, "filter": 897.0}, chain=(), stories={}, recipe={},
    )  # fmt: skip
    said = mark(Answer(parts=("front_pump",), causes=key.causes), key)
    assert said.part_right and MORE_BROKEN in said.feedback
    whole = [Answer(parts=("front_pump", "filter"), causes=key.causes),
             Answer(parts=("front_pump",), causes=key.causes, repair=RepairPlan(renew=("front_pump", "filter")))]  # fmt: skip
    assert not any(MORE_BROKEN in mark(answer, key).feedback for answer in whole)


# ---------------------------------------------------------------------- damage stays in its part
STAYS = [
    ("intermediate_servo_seal_leak", "element_leak@intermediate_band", "servo_assembly"),
    ("vacuum_hose_leak", "signal_hose_leak", "vacuum_hose"),
    ("coolant_in_fluid", "heat_cooler_breach", "cooler"),
    ("forward_seal_hardened", "element_seal_set@forward_clutch", "clutch_piston_seals"),
    ("converter_not_seated", "pump_drive", "front_pump"),
    ("fluid_low_external_leak", "leak_outside", "rear_seal"),
    ("feed_b_pin_corroded", "wire_contact@feed_b", "case_plug"),
    ("harness_pinched_refit", "wire_open@fuse_f1", "fuse_f1"),
    ("tcm_driver_killed_by_short", "solenoid_driver_dead@pcc", "transmission_controller"),
    ("pce_solenoid_varnish", "solenoid_hysteresis@pce", "pressure_solenoid_e"),
    ("lc_piston_cracked", "element_hole@low_clutch", "clutch_drums"),
]


@pytest.mark.parametrize("cause, parameter, part", STAYS, ids=[row[0] for row in STAYS])
def test_the_four_cells_of_damage(cause, parameter, part):
    """Cause put right or left, part renewed or left: gone, frozen at its share, anew after the miles bought, or going on."""
    ill, here = load_cause(cause), 50_000 * units.MILE
    unit = next(unit for unit in known_units() if ill.fits(unit))
    base = nominal_parameters(unit, signal=unit.signals[0])
    growth = ill.growth(
        unit, base, np.array([0.5]), np.array([[here - 0.5 * max(ill.sets_in_over_miles, 1) * units.MILE]])
    )
    name, column = parameter_place(unit, parameter)
    share = next(effect.share for effect in ill.effects if effect.parameter == parameter)

    def off(parts, corrected, miles):
        """How far the parameter is from sound, so many miles after the repair."""
        plan = TrialRepair(parts=parts, corrected=frozenset([cause] if corrected else []))
        growths = tuple(growths_after(unit, {ill: growth}, plan, here))
        now = parameters_at(base, growths, np.array([[here + miles * units.MILE]]))
        return float((now[name] - base[name]).ravel()[column or 0])

    then = float(growth.share(np.array([[here]]))[0, 0]) * float(growth.change[name].ravel()[column or 0])
    assert then != 0.0
    assert off((part,), True, 5.0) == off((part,), True, 50_000.0) == 0.0
    assert (
        off((), True, 5.0) == pytest.approx(share * then, rel=1e-4) == pytest.approx(off((), True, 50_000.0))
    )
    assert abs(off((), False, 50_000.0)) >= abs(then)
    if ill.returns_after_miles:
        assert off((part,), False, 0.5 * ill.returns_after_miles) == 0.0
        assert abs(off((part,), False, 50_000.0)) >= abs(then)


def test_the_part_that_a_code_names_is_often_innocent():
    """A solenoid is renewed and the pin in front of it left: it is as bad as before; new plates with what was learned of the old
    unit kick as before, and with every cause put right the controller begins anew."""
    wanted = [
        Request(seed=972_100, unit="E6", use="mixed", cause=cause)
        for cause in ("feed_b_pin_corroded", "adapts_not_reset")
    ]
    pin, stale = find_pasts(wanted, [np.random.default_rng(request.seed) for request in wanted])
    solenoid, plates = TrialRepair(parts=("pressure_solenoid_d",)), TrialRepair(parts=("rc_plates",))
    lives = drive_forward([(pin, solenoid, 500.0), (stale, plates, 500.0)])
    assert (
        miles_to_return(pin, outcome_of(lives, 0)) < 50 and miles_to_return(stale, outcome_of(lives, 1)) < 50
    )
    for past in (pin, stale):
        whole = condition_after(past, TrialRepair(parts=past.damaged, corrected=everything(past))).memory
        assert not whole.fill.any() and not whole.pressure.any() and not whole.failed.any()
        assert not past.ahead["part and cause"].complained or repair.sound_vehicle_returns(past)


def test_an_event_does_not_come_back_on_schedule():
    """A tow that nobody warned of comes again, after other miles on every vehicle; a setting left wrong is wrong at once."""
    tow = load_cause("towed_wheels_down")
    times = [tow.occasion(seed) for seed in range(40)]
    assert min(times) < 0.7 and max(times) > 1.3 and np.mean(times) == pytest.approx(1.0, abs=0.15)
    assert load_cause("governor_stuck_open").occasion(7) == 1.0


# ---------------------------------------------------------------------- what is worn goes on by itself
def driven(use="mixed", miles=20_000.0, **entries):
    """Condition after so many miles of sound vehicles that begin with some wear; element entries by (name, element)."""
    unit = load_unit("T3")
    condition = new_condition(1, unit)
    for name, value in entries.items():
        entry, _, element = name.partition("__")
        where = (..., unit.element_ids.index(element)) if element else ...
        getattr(condition, entry)[where] = value
    world, far = Fleet(load_unit("T3"), use, nominal_parameters(unit)), np.array([[miles * units.MILE]])
    return live(world, condition, 0 * far, far, 0 * far).condition


@pytest.mark.parametrize(
    "entry, least", [("planetary", 0.25), ("bushing", 0.4), ("driveline", 0.3), ("pump", 0.5)]
)
def test_what_is_worn_feeds_itself(entry, least):
    """Past its threshold a part goes on by itself; below it, it wears as a new one does."""
    grown = {
        at: float(getattr(driven(**{entry: at}), entry)[0, 0]) - at for at in (0.0, 0.8 * least, least + 0.25)
    }
    assert grown[0.8 * least] == pytest.approx(grown[0.0], rel=0.3, abs=0.02)
    assert grown[least + 0.25] > 5.0 * max(grown[0.0], 0.02)


@pytest.mark.parametrize(
    "element", ["forward_clutch", "direct_clutch", "intermediate_band", "low_reverse_band"]
)
def test_a_black_flaking_lining_goes_on_by_itself(element):
    """Left in, one that flakes at its edges (0.35 charred and more) chars on, sheds faster than one that is merely darkened, and is
    gone in sheets within the years a repair is driven. What is gone does not come back."""
    unit = load_unit("T3")
    column, whole = unit.element_ids.index(element), nominal_parameters(unit)["element_lining"]

    def after(miles, char):
        found = driven(miles=miles, **{f"char__{element}": char})
        return found.char[0, 0, column], found.lining[0, 0, column] / whole[0, 0, column]

    (dark, thinner), (black, thin) = after(10_000.0, 0.15), after(10_000.0, 0.36)
    assert dark == pytest.approx(0.15, abs=0.02) and black > 0.43
    assert thin > thinner + 0.2
    for miles in (30_000.0, 40_000.0, repair.YEARS_OF_USE):
        assert min(after(miles, 0.4)) > 0.85, miles


def test_a_burnt_band_must_be_renewed():
    """A vehicle whose low-reverse band is black and flaking at the edges behind a torn servo seal: left in, it brings the vehicle
    back though backing up is all that it is used for, on the highway."""
    wanted = Request(
        seed=88137, unit="T4", signal="cable", cause="low_reverse_seal_torn", use="highway", stage="driving"
    )
    past = find_pasts([wanted], [np.random.default_rng(wanted.seed)])[0]
    column = past.unit.element_ids.index("low_reverse_band")
    assert past.shown["low_reverse_band"] == BROKEN and past.condition.char[0, 0, column] > 0.35
    assert "low_reverse_band" in extents([past])[0].must


def test_cracked_lugs_run_on_and_let_go():
    """A drum with a third of its lugs cracked is worse after 20,000 miles, a marked one is not; with all gone nothing holds."""
    unit = load_unit("T3")
    column = unit.element_ids.index("direct_clutch")
    marked, cracked = (driven(holding__direct_clutch=h).holding[0, 0, column] for h in (0.2, 0.5))
    assert marked == pytest.approx(0.2, abs=0.02) and cracked > 0.8
    top = operation("D", throttle=[0.4], road_speed=[25.0], temperature=[355.0])
    held = []
    for h in (0.0, 0.5, 1.0):
        condition = new_condition(1, unit)
        condition.holding[..., column] = h
        held.append(
            float(
                Plant(load_unit("T3"), nominal_parameters(unit))
                .operate(condition, top)
                .capacity[0, 0, column]
            )
        )
    assert held[0] == pytest.approx(held[1]) and held[0] > 0.0 == held[2]


def test_sound_vehicles_are_left_alone():
    """Twelve sound vehicles over 90,000 miles: none of them reaches a wear from which it would go on by itself."""
    unit = load_unit("T3")
    base = draw_parameters(unit, np.random.default_rng(5), 12, signal="vacuum")
    far = np.full((12, 1), 90_000 * units.MILE)
    aged = live(
        Fleet(load_unit("T3"), "mixed", base), new_condition(12, unit), 0 * far, far, 0 * far
    ).condition
    assert aged.planetary.max() < 0.25 and aged.bushing.max() < 0.4 and aged.driveline.max() < 0.3
    assert aged.pump.max() < 0.5 and aged.holding.max() < 0.3


def test_soaked_paper_is_cured_pack_by_pack():
    """A new forward pack leaves the direct one soaked."""
    past = next(iter(fresh()))[0]
    soaked = new_condition(1, load_unit("T3"))
    soaked.soaked[:] = 0.7
    ids = load_unit("T3").element_ids
    dried = renew(soaked, load_unit("T3"), ["forward_clutch_plates"]).soaked[0, 0]
    assert dried[ids.index("forward_clutch")] == 0.0 and dried[ids.index("direct_clutch")] == 0.7
    assert past.condition.soaked.shape[-1] == len(past.unit.elements)


# ---------------------------------------------------------------------- two causes
def test_causes_that_rule_each_other_out_are_not_drawn():
    """A governor stuck open and shut; a band too loose and too tight; filled too high and leaking; one strainer choked twice."""
    for pair in (
        ("governor_stuck_closed", "governor_stuck_open"),
        ("governor_ring_leak", "governor_stuck_open"),
        ("band_adjusted_loose", "band_adjusted_tight"),
        ("lockup_valve_stuck_on", "lockup_orifice_blocked"),
        ("fluid_overfilled", "pan_gasket_leak"),
        ("filter_clogged_residue", "sealant_strings_in_pickup"),
        ("pressure_regulator_stuck_high", "regulator_bore_worn"),
    ):
        with pytest.raises(ValueError, match="must be able to be in one vehicle"):
            check_together([load_cause(name) for name in pair])
    check_together([load_cause(name) for name in ("vacuum_hose_leak", "neutral_drop_abuse")])


# ---------------------------------------------------------------------- wishes
def wished():
    """What is wished of a past, and a function: how far a life is from it, all else as wished."""
    rng = np.random.default_rng(3)
    wish = replace(
        draw_scenario(Request(seed=3, cause="vacuum_hose_leak"), rng), stage="driving", driver="ordinary"
    )
    wish = replace(wish, wanted_miles=900.0, wanted_severity=0.5)

    def far(miles=900.0, stage="driving", driver="ordinary", severity=0.5):
        places = np.array([STAGES.index(stage)]), np.array([list(repair.DRIVERS).index(driver)])
        return wish.distance(np.array([miles]), *places, np.array([severity])).item()

    return far


def test_every_wish_counts():
    """A life that is as wished is at 0. Stage counts most, then the whole range of severity, then the driver; miles by their
    factor, too few as much as too many."""
    far = wished()
    stage, severity, driver = far(stage="early"), far(severity=0.5 - 0.25) * 4.0, far(driver="stoic")
    assert far() == 0.0 < driver < severity < stage
    assert far(severity=0.75) == pytest.approx(far(severity=0.25)) and far(driver="patient") == driver
    assert far(miles=1800.0) == pytest.approx(far(miles=450.0)) == pytest.approx(np.log(2.0))
    assert far(miles=1800.0, stage="early", driver="stoic", severity=1.0) == pytest.approx(
        np.log(2.0) + stage + driver + severity / 2.0
    )


def test_wishes_come_true_where_they_can():
    """Vehicles that came in are nearer to their wishes for stage and driver than chance would bring them."""
    may = [cause.id for cause in causes_of(load_unit("T3"), "vacuum") if cause.met_in("mixed")]
    wanted = [
        Request(seed=980_000 + i, cause=name, signal="vacuum", use="mixed") for i, name in enumerate(may[::3])
    ]
    rngs = [np.random.default_rng(request.seed) for request in wanted]
    wishes = [draw_scenario(request, np.random.default_rng(request.seed)) for request in wanted]
    met = [
        (wish, past)
        for wish, past in zip(wishes, find_pasts(wanted, rngs), strict=True)
        if isinstance(past, repair.Past)
    ]
    assert len(met) >= 16
    assert np.mean([past.driver == wish.driver for wish, past in met]) > 0.4
    assert np.mean([past.stage == wish.stage for wish, past in met]) > 0.5


def test_what_is_left_open_is_drawn_as_often_as_it_is_met():
    """A frequent cause oftener than a rare one, by their weights; uses by their shares, twice as many in mixed use
    as towing."""
    rng, count = np.random.default_rng(7), 3000
    drawn = [draw_scenario(Request(seed=0, signal="vacuum"), rng) for _ in range(count)]
    causes = causes_of(load_unit("T3"), "vacuum")
    for weight in {cause.weight for cause in causes}:
        expected = count * weight / sum(cause.weight for cause in causes)
        mine = [cause for cause in causes if cause.weight == weight]
        met = sum(each.causes[0] in mine for each in drawn) / len(mine)
        assert abs(met - expected) < 5.0 * np.sqrt(expected / len(mine)), weight
    anywhere = [each.use for each in drawn if not each.causes[0].uses]
    assert len(anywhere) > 500
    assert 1.5 < anywhere.count("mixed") / anywhere.count("towing") < 2.6
