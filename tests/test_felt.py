"""What a driver feels: nothing in a sound vehicle, each trouble by what makes it and by nothing else, and more for more of it."""

from dataclasses import replace

import numpy as np
import pytest
from vehicles import SPEC, UNIT, new, sound

from course_lib.base import units
from course_lib.vehicle.duty_cycle import SETTING_OFF, duty_cycle
from course_lib.vehicle.felt_troubles import felt_troubles, sound_like
from course_lib.vehicle.first_noticed import LOUD, NOTICED, UNFELT, Noticed
from course_lib.vehicle.life_events import LABELS, event_label, life_events
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters

USES = ("mixed", "town", "highway", "towing", "yard")
LEAKS = ("leak_outside", "leak_front", "leak_pan", "leak_selector", "leak_line")


def at_work(use="mixed", condition=None, **changes):
    """A vehicle over its day: plant, condition, workings."""
    plant, condition = Plant(SPEC, sound(**changes)), condition or new()
    day = duty_cycle(use, SPEC)
    return plant, condition, plant.operate(condition, day.op, day.seconds)


def troubles(use="mixed", condition=None, **changes) -> dict[str, float]:
    """What is felt of it."""
    return {
        name: value.item() for name, value in felt_troubles(*at_work(use, condition, **changes), use).items()
    }


def seen(change, use="mixed") -> dict[str, float]:
    """What is felt of a sound vehicle whose workings are changed: change(work, day) gives the entries that are not its own."""
    plant, condition, work = at_work(use)
    work = replace(work, **change(work, duty_cycle(use, SPEC)))
    return {name: value.item() for name, value in felt_troubles(plant, condition, work, use).items()}


@pytest.mark.parametrize("unit, signal", [("T3", "vacuum"), ("T3", "cable"), ("T4", "cable")])
@pytest.mark.parametrize("use", USES)
def test_nothing_is_felt_in_a_sound_new_vehicle(unit, signal, use):
    """It is what everything is compared with."""
    spec = load_unit(unit)
    plant, day = Plant(spec, nominal_parameters(spec, signal=signal)), duty_cycle(use, spec)
    condition = new_condition(1, spec)
    work = plant.operate(condition, day.op, day.seconds)
    assert all(value.shape == (1, 1) for value in felt_troubles(plant, condition, work, use).values())
    # no more than what a driver would not tell from nothing
    assert max(value.item() for value in felt_troubles(plant, condition, work, use).values()) < UNFELT
    assert sound_like(plant, use) is sound_like(plant, use)


@pytest.mark.parametrize(
    "name, much, trouble",
    [
        *((leak, units.QUART / (100.0 * units.MILE), "drip") for leak in LEAKS),
        ("leak_engine_draws", units.QUART / (300.0 * units.MILE), "smoke"),
        ("pump_offset", 4e-4, "knocks"),
        ("vehicle_mount_lift", 0.03, "knocks"),
        ("converter_plate_crack", 0.5, "knocks"),
        ("converter_bolts_loose", 0.5, "knocks"),
        ("lever_park_short", 0.5, "rolls_off"),
        ("lever_switch_off", 0.2, "no_start"),
    ],
)
def test_a_fault_outside_the_oil_is_felt_as_its_own_trouble(name, much, trouble):
    """Half of it is half as much, it comes to a complaint, and nothing else comes to half of one."""
    half, whole = troubles(**{name: 0.5 * much}), troubles(**{name: much})
    assert whole[trouble] > 1.0 and half[trouble] == pytest.approx(0.5 * whole[trouble])
    assert max(value for other, value in whole.items() if other != trouble) < 0.5


def test_leaks_to_the_outside_add_up():
    """The owner sees one puddle."""
    share = units.QUART / (1000.0 * units.MILE)
    one = troubles(**{LEAKS[0]: share})["drip"]
    assert troubles(**dict.fromkeys(LEAKS, share))["drip"] == pytest.approx(len(LEAKS) * one)


def test_play_is_felt_from_some_size_on():
    """Sound joints have play; shocks that loosen shafts add to it."""
    plant, condition, work = at_work()
    loose = replace(condition, driveline=np.full((1, 1), 1.0))
    assert felt_troubles(plant, loose, work, "mixed")["knocks"].item() > 1.0
    play = [troubles(vehicle_lash=lash)["knocks"] for lash in (0.05, 0.1, 0.2, 0.4)]
    assert np.all(np.diff(play) > 0.0) and play[-1] > 1.0 > play[0]


def test_a_missed_kickdown_is_a_complaint():
    gone, little = (troubles(signal_kickdown=left)["no_kickdown"] for left in (0.0, 0.7))
    assert gone > 1.0 and little == pytest.approx(0.3 * gone)


def test_worn_pins_whine_where_the_gears_turn_against_each_other():
    """In direct drive the sets turn as one block: a use that hardly leaves it hears as much, for some gear is always reduced."""
    plant, condition, work = at_work()
    worn = replace(condition, planetary=np.full((1, 1), 0.8))
    assert felt_troubles(plant, worn, work, "mixed")["whines"].item() > 1.0
    direct = int(np.argmin(np.abs(plant.ratio - 1.0)))
    block = replace(work, gear=np.full_like(work.gear, direct))
    assert felt_troubles(plant, worn, block, "mixed")["whines"].item() == 0.0


def test_a_broken_shaft_leaves_nothing_to_drive_with():
    assert troubles(vehicle_shaft=0.0)["slips"] > 5.0


@pytest.mark.parametrize(
    "trouble, entry, little, much",
    [
        ("flares", "flare", units.from_rpm(100.0), units.from_rpm(1500.0)),
        ("delays", "delay", 0.3, 3.0),
        ("judders", "judder", 0.1, 2.0),
        ("binds", "tie_up", 0.03, 0.6),
        ("slips", "loss", 0.01, 0.3),
    ],
)
def test_what_goes_beyond_a_sound_vehicle_is_felt(trouble, entry, little, much):
    """A little is put up with, much is complained of, and what stands between stands between."""
    a, between, b = (
        seen(lambda work, _, x=x: {entry: getattr(work, entry) + x})[trouble]
        for x in (little, 0.5 * (little + much), much)
    )
    assert 0.0 < a < 0.8 and b > 1.0 and a < between < b
    assert between == pytest.approx(0.5 * (a + b), rel=0.02)


def test_what_is_met_seldom_is_noticed_less():
    """The same slide at the point where the owner is longest, and at the one where he is shortest."""
    day = duty_cycle("mixed", SPEC)
    order = np.argsort(day.seconds[0])
    felt_at = []
    for point in (order[0], order[-1]):
        here = np.arange(len(order)) == point
        felt_at.append(seen(lambda work, _, here=here: {"loss": work.loss + 0.05 * here})["slips"])
    assert 0.0 < felt_at[0] < felt_at[1]


def test_the_worst_of_one_fault_counts_not_its_sum():
    """One flare is felt as it is, whether others come or not."""
    first = np.zeros_like(at_work()[2].flare)
    first[0, :, 0] = 50.0
    second = first + 0.5 * np.roll(first, 1, -1)
    a, b = (seen(lambda work, _, x=x: {"flare": work.flare + x})["flares"] for x in (first, second))
    assert a == pytest.approx(b) and a > 0.0


def test_hard_on_a_light_pedal_and_not_on_a_heavy_one():
    """Line pressure above a sound vehicle's is felt as harsh where little torque is asked."""

    def high(where):
        return seen(lambda work, day: {"line": work.line * np.where(where(day.op), 1.8, 1.0)})["harsh"]

    assert high(lambda op: op.throttle < 0.3) > 1.0 and high(lambda op: op.throttle >= 0.3) < UNFELT
    assert seen(lambda work, _: {"line": work.line * 0.7})["harsh"] < UNFELT, "a soft shift is not harsh"


def test_a_fast_idle_lurches_at_rest():
    """Twice the pull in gear at a standstill is felt as harsh; the same on the road is not."""
    at_rest = seen(
        lambda work, day: {
            "turbine_torque": work.turbine_torque * np.where(day.op.road_speed == 0.0, 3.0, 1.0)
        }
    )
    rolling = seen(
        lambda work, day: {
            "turbine_torque": work.turbine_torque * np.where(day.op.road_speed > 0.0, 3.0, 1.0)
        }
    )
    assert at_rest["harsh"] > 1.0 and rolling["harsh"] < UNFELT


def test_want_of_pull_is_weak_where_the_pedal_asks_for_it():
    """Half of the pull gone under load is complained of; none gone, or gone on a closed pedal, is not."""

    def pull(share, where):
        return seen(
            lambda work, day: {"drive_torque": work.drive_torque * np.where(where(day.op), share, 1.0)}
        )["weak"]

    assert pull(0.5, lambda op: op.throttle > 0.2) > 1.0 and pull(0.5, lambda op: op.throttle <= 0.2) == 0.0
    assert pull(0.9, lambda op: op.throttle > 0.2) < 1.0 and pull(1.3, lambda op: op.throttle > 0.2) == 0.0


def test_another_gear_on_the_road_is_no_want_of_pull():
    """Pull in a higher gear is less; that is a late or early shift, unless the vehicle is setting off."""

    def pull(where):
        return seen(
            lambda work, day: {
                "gear": np.where(where(day.op), (work.gear + 1) % 3, work.gear),
                "drive_torque": work.drive_torque * np.where(where(day.op), 0.5, 1.0),
            }
        )["weak"]

    assert pull(lambda op: op.road_speed >= SETTING_OFF) == 0.0
    assert pull(lambda op: op.road_speed < SETTING_OFF) > 1.0


def test_heat_is_felt_above_a_sound_vehicle_and_boiling_over_ends_any_patience():
    warmer = [seen(lambda work, _, k=k: {"temperature": work.temperature + k})["hot"] for k in (5.0, 10.0, 60.0)]  # fmt: skip
    assert warmer[1] == pytest.approx(2.0 * warmer[0]) and warmer[0] < 1.0 < warmer[2]
    assert seen(lambda work, _: {"boils_over": np.ones((1, 1), bool)})["hot"] > 3.0 * warmer[2]


def test_air_in_the_pump_buzzes_on_the_flat():
    """In a bend or on a hill oil leaves the pickup of any vehicle for a moment."""

    def buzz(where):
        return seen(lambda work, day: {"air_time": work.air_time + 0.6 * where(day.op)})["buzz"]

    def level(op):
        return (np.abs(op.tilt) < 0.05) & np.isnan(op.temperature)

    assert buzz(level) > 1.0 and buzz(lambda op: ~level(op)) == 0.0


def test_a_lock_up_that_stays_on_stalls_at_rest():
    on = seen(lambda work, day: {"lockup_on": np.where(day.op.road_speed == 0.0, 1.0, 0.0) + 0.0 * work.lockup_on})  # fmt: skip
    assert on["stalls"] > 1.0
    assert (
        seen(lambda work, day: {"lockup_on": (day.op.road_speed > 0.0) + 0.0 * work.lockup_on})["stalls"]
        == 0.0
    )


def test_what_holds_back_is_felt_as_force_on_the_road():
    """The same power of dragging plates holds back more the slower it goes; at rest nothing is held back."""
    day = duty_cycle("mixed", SPEC)

    def held(point, power):
        here = (np.arange(len(day.names)) == point)[None, :, None]
        return seen(lambda work, _: {"drag_power": 0.0 * work.drag_power + power * here / here.shape[-1]})[
            "drags"
        ]

    rolling = np.flatnonzero(day.op.road_speed >= SETTING_OFF)
    slow, fast = rolling[np.argmin(day.op.road_speed[rolling])], np.argmax(day.op.road_speed)
    still = int(np.argmin(day.op.road_speed))
    assert held(slow, 3000.0) > held(fast, 3000.0) > 0.0
    assert held(slow, 3000.0) / held(fast, 3000.0) == pytest.approx(
        day.op.road_speed[fast] / day.op.road_speed[slow]
    )
    assert held(still, 3000.0) == 0.0


@pytest.mark.parametrize("gain, trouble, other", [(0.5, "late", "early"), (3.0, "early", "late")])
def test_shifts_are_late_or_early_against_a_sound_vehicle(gain, trouble, other):
    """A governor that gives half the pressure shifts late, one that gives three times as much early; never both."""
    found = troubles(governor_gain=gain)
    assert found[trouble] > 0.3 and found[other] < UNFELT
    assert troubles(governor_gain=gain**0.5)[trouble] < found[trouble]
    assert troubles(governor_gain=gain**0.1)[trouble] > 0.02, "a little of it is felt a little"


# ---------------------------------------------------------------------- first noticed
def test_a_trouble_is_noticed_before_it_is_loud_and_both_before_the_end():
    """Felt e-fold for every 1000 m: where a share of what makes a driver complain is passed follows from logarithms, by hand."""
    start, end, worst = 0.0, 5000.0, UNFELT * np.exp(5.0)
    book = Noticed(np.full((2, 1), start), 2)
    drivers = np.array([[1.0, 2.0], [0.5, 1.0]])
    book.note(np.arange(2), drivers, np.full((2, 1), end), np.full((2, 1), worst))
    for at, level in zip(book.at, (NOTICED, LOUD), strict=True):
        by_hand = 1000.0 * np.log(level / (UNFELT * drivers))
        np.testing.assert_allclose(at, np.where(by_hand <= end, np.maximum(by_hand, start), np.inf))
    assert np.all(book.at[0] <= book.at[1]) and np.all(book.at[:, :, 1] <= book.at[:, :, 0])


def test_the_first_time_counts_and_nothing_after_the_end():
    """Stronger later changes nothing; a life that ended before never noticed it."""
    book = Noticed(np.zeros((1, 1)), 1)
    one = np.ones((1, 1))
    for ahead, worst in ((1000.0, 1.0), (2000.0, UNFELT), (3000.0, 1.0)):
        book.note(np.arange(1), one, ahead * one, worst * one)
    first = book.at[:, 0, 0]
    assert np.all((first > 0.0) & (first < 1000.0))
    early = book.by(np.array([first[0] - 1.0]))
    late = book.by(np.array([first[1] + 1.0]))
    assert np.all(np.isinf(early)) and np.all(late[:, 0] == first)


def test_what_is_never_strong_is_never_noticed():
    book = Noticed(np.zeros((1, 1)), 1)
    book.note(np.arange(1), np.ones((1, 1)), np.full((1, 1), 9e6), np.full((1, 1), 0.9 * NOTICED))
    assert np.all(np.isinf(book.at))


# ---------------------------------------------------------------------- landmarks of a life
PLAIN = {
    "lost": ("fluid_short", "fluid_much_short"),
    "oxidation": ("fluid_aged",),
    "pump": ("pump_worn",),
    "bushing": ("bushing_worn",),
    "planetary": ("pins_worn",),
    "lockup": ("lockup_charred",),
    "driveline": ("joints_loose",),
}
BY_ELEMENT = {
    "char": {"pressed": ("darkened", "burnt")},
    "seal": {"pressed": ("seal_hard",)},
    "holding": {"pressed": ("cracked",), "one-way": ("one_way_damaged",)},
}


def happened(condition, **changes) -> set[str]:
    """The landmarks that have happened to a vehicle in that condition, its oil circuit as in a new one."""
    plant, _, work = at_work(**changes)
    return {name for name, there in life_events(plant, condition, work).items() if there.item()}


@pytest.mark.parametrize("unit, use", [(unit, use) for unit in ("T3", "T4") for use in USES])
def test_nothing_has_happened_to_a_new_vehicle(unit, use):
    """In neutral, in reverse and in overdrive the line is what it is due to be there."""
    spec = load_unit(unit)
    day = duty_cycle(use, spec)
    plant = Plant(spec, nominal_parameters(spec, signal="cable"))
    condition = new_condition(1, spec)
    there = life_events(plant, condition, plant.operate(condition, day.op, day.seconds))
    assert [name for name, yes in there.items() if yes.item()] == []


@pytest.mark.parametrize("entry", PLAIN)
def test_wear_of_a_kind_is_its_own_landmark(entry):
    """Little of it is none, more of it is met in order, and no other one with it."""
    sizes = [0.3, 0.7, 1.5] if entry != "lost" else [0.3 * units.QUART, 0.7 * units.QUART, 1.5 * units.QUART]
    met = [happened(replace(new(), **{entry: np.full((1, 1), size)})) for size in sizes]
    assert met[0] == set() and met[-1] == set(PLAIN[entry])
    assert met[0] <= met[1] <= met[2]


@pytest.mark.parametrize("entry", BY_ELEMENT)
@pytest.mark.parametrize("column", range(len(load_unit(UNIT).elements)))
def test_wear_of_an_element_is_told_of_that_element(entry, column):
    """Little of it is no landmark, all of it is every one of its own, of that element and no other."""
    element = load_unit(UNIT).elements[column]
    kind = "one-way" if element.kind == "one-way" else "pressed"
    for size, names in ((0.02, ()), (0.9, BY_ELEMENT[entry].get(kind, ()))):
        value = np.zeros((1, 1, len(load_unit(UNIT).elements)))
        value[..., column] = size
        assert happened(replace(new(), **{entry: value})) == {f"{name}@{element.id}" for name in names}


def test_a_lining_half_gone_is_half_of_its_own_thickness():
    plant, condition, _ = at_work()
    for share, gone in ((0.4, False), (0.6, True)):
        lining = share * np.broadcast_to(plant.p.element_lining, condition.lining.shape)
        pressed = {e.id for e in plant.unit.elements if e.kind != "one-way"}
        found = happened(replace(condition, lining=np.array(lining)))
        assert found == ({f"half_gone@{name}" for name in pressed} if gone else set())


def test_every_landmark_has_words():
    """What the log can hold, people can say."""
    plant, condition, work = at_work()
    words = [event_label(name, plant.unit) for name in life_events(plant, condition, work)]
    assert all(words) and len(set(words)) == len(words) > len(LABELS)
