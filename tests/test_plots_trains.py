"""Power paths, member speeds, lives, repairs, chains and odds: what is drawn against the gears' balance and the vehicle's miles."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pictured import numbers, written_over

from course_lib import plots
from course_lib.base import units
from course_lib.cases.key_file import load_key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults import stories
from course_lib.plots import palette, suspects
from course_lib.plots.trains import driving_gears, lever_places, solve_range
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import load_unit

EVERY = [(unit, gear) for unit in ("T3", "T4") for gear in driving_gears(load_unit(unit))]
SLIPS = [(unit, gear, name) for unit, gear in EVERY for name in load_unit(unit).gears[gear]]


# ---------------------------------------------------------------------- the balance
# Source: two equal simple sets with a common sun (Simpson's train), sun over ring teeth rho: 2 + rho, 1 + rho, 1 and -1/rho; hand
# calculation by the lever analogy of Benford and Leising, SAE 810102 (from memory). rho = 36/80 of unit T3.
@pytest.mark.parametrize(
    "gear, ratio", [("first", 2.45), ("second", 1.45), ("third", 1.0), ("reverse", -1 / 0.45)]
)
def test_ratios_of_a_simpson_train(gear, ratio):
    """Ratios by hand, and the same number in the words of the picture."""
    assert solve_range("T3", gear).ratio == pytest.approx(ratio)
    assert f"{abs(ratio):.2f} to 1" in plots.power_path("T3", gear, verdict=True).alt


# By hand from the same balance: torque of the front set on its ring and of the rear set on its ring, and what each element holds.
@pytest.mark.parametrize(
    "gear, loads",
    [
        ("first", {"front_ring": 1.0, "sun": -0.45, "output": 2.45, "rear_carrier": -1.45}),
        ("second", {"front_ring": 1.0, "sun": -0.45, "output": 1.45, "rear_carrier": 0.0}),
        ("third", {"front_ring": 1 / 1.45, "sun": 0.45 / 1.45, "output": 1.0, "rear_carrier": 0.0}),
        ("reverse", {"front_ring": 0.0, "sun": 1.0, "output": -1 / 0.45, "rear_carrier": 1 / 0.45 + 1.0}),
    ],
)
def test_torque_in_each_member_by_hand(gear, loads):
    """The largest torque that runs along each member, as a share of the input's."""
    found = solve_range("T3", gear)
    for member, torque in loads.items():
        along = found.loads(member)
        assert along[int(np.argmax(np.abs(along)))] == pytest.approx(torque, abs=1e-9)


@pytest.mark.parametrize("unit, gear", EVERY)
def test_power_in_is_power_out(unit, gear):
    """Nothing is lost in gears that hold: torque times speed at the output is that of the input, which is 1."""
    found = solve_range(unit, gear)
    out = -found.rungs[-1].torque[found.unit.output]
    assert out * found.speeds[found.unit.output] == pytest.approx(1.0)
    assert all(abs(found.loads(member)[-1]) < 1e-9 for member in found.unit.members)


@pytest.mark.parametrize("unit, gear", EVERY)
def test_balance_agrees_with_the_tables_of_the_simulator(unit, gear):
    """Two solutions of one train: the picture's, and the one that drives the vehicles."""
    spec = load_unit(unit)
    tables = gear_tables(spec)
    row = spec.gear_index(gear)
    found = solve_range(unit, gear)
    assert found.ratio == pytest.approx(tables.ratio[row])
    for rung in found.rungs:
        if rung.state == "holds":
            column = next(i for i, e in enumerate(spec.elements) if e.label == rung.label)
            partners = sum(r.members == rung.members and r.state == "holds" for r in found.rungs)
            assert abs(rung.torque[rung.members[0]]) * partners == pytest.approx(tables.share[row, column])


@pytest.mark.parametrize("unit, gear, element", SLIPS)
def test_slip_eats_power(unit, gear, element):
    """While an element slips, output power is what is left of the input's after torque times slip; so the output never gains."""
    found = solve_range(unit, gear, (element,))
    held = next(r for r in found.rungs if r.state == "slips")
    speeds = dict(found.slipped, case=0.0)
    slip = abs(speeds[held.members[0]] - speeds[held.members[1]])
    partners = sum(r.members == held.members and r.state in ("holds", "slips") for r in found.rungs)
    lost = abs(held.torque[held.members[0]]) * partners * slip
    out = -found.rungs[-1].torque[found.unit.output] * found.slipped[found.unit.output]
    assert out == pytest.approx(1.0 - lost)


# ---------------------------------------------------------------------- the power path
@pytest.mark.parametrize("unit, gear", EVERY)
def test_rails_are_as_heavy_as_their_torque(unit, gear):
    """A rail without torque is thin and gray; with torque it is steel or, held still, ink with strokes; heavier for more."""
    picture, found = plots.power_path(unit, gear, verdict=True), solve_range(unit, gear)
    drawn = []
    for member in found.unit.members:
        places = [i for i, rung in enumerate(found.rungs) if member in rung.members]
        rails = picture.named(f"rail {member}")
        loads = np.abs(found.loads(member)[places[0] : places[-1]])
        held = np.sum(loads > 1e-6) if abs(found.speeds[member]) < 1e-6 else 0
        assert len(rails) == len(loads) and len(picture.named(f"still {member}")) == held
        for rail, load in zip(rails, loads, strict=True):
            still = abs(found.speeds[member]) < 1e-6
            color = palette.RULE if load < 1e-6 else palette.INK if still else palette.STEEL
            assert rail.get_color() == color
            drawn.append((load, rail.get_linewidth()))
    assert [width for _, width in sorted(drawn)] == sorted(width for _, width in drawn)


@pytest.mark.parametrize("unit, gear", EVERY)
def test_words_of_the_power_path_hold_the_balance(unit, gear):
    """Every speed of a member stands in the picture and its words; applied elements hold, all others are released."""
    picture, found, spec = (
        plots.power_path(unit, gear, verdict=True),
        solve_range(unit, gear),
        load_unit(unit),
    )
    for member, speed in found.speeds.items():
        (text,) = picture.named(f"turns {member}")
        assert numbers(text.get_text()) == [pytest.approx(speed, abs=0.005)]
        assert f"{member.replace('_', ' ')} {text.get_text()}" in picture.alt
    for element in spec.elements:
        on = element.id in spec.gears[gear]
        assert (
            bool(picture.named(f"holds {element.label}"))
            == on
            == (not picture.named(f"open {element.label}"))
        )


def test_slipping_element_is_seen_only_with_verdict():
    """What slips is dashed ochre with its word; where the learner is to find it, it is drawn as holding."""
    shown, hidden = (
        plots.power_path("T3", "second", ("intermediate_band",), verdict=v) for v in (True, False)
    )
    assert shown.named("slips sun") and "slips" in shown.alt
    assert all(line.is_dashed() for line in shown.named("slips sun"))
    assert not hidden.named("slips sun") and "slips" not in hidden.alt


@pytest.mark.parametrize(
    "gear, slipping, match",
    [
        ("fifth", (), "gear of unit T3"),
        ("neutral", (), "gear must drive"),
        ("second", ("direct_clutch",), "element applied in second"),
    ],
)
def test_impossible_path_is_refused(gear, slipping, match):
    """Unknown gears, neutral, and elements that are not applied there."""
    with pytest.raises(ValueError, match=match):
        plots.power_path("T3", gear, slipping, verdict=True)


@pytest.mark.parametrize("figure", [plots.power_path, plots.member_speeds])
@pytest.mark.parametrize(
    "unit, gear, slipping",
    [("T3", None, ("intermediate_band",)), ("T4", None, ()), ("T3", "second", ()), ("T4", "fourth", ())],
)
def test_words_of_gear_trains_stay_apart(figure, unit, gear, slipping):
    """Nothing is written past the edge or over other words."""
    assert written_over(figure(unit, gear, slipping, verdict=True)) == []


# ---------------------------------------------------------------------- levers
@pytest.mark.parametrize("unit, gear", EVERY)
def test_speeds_lie_on_a_line(unit, gear):
    """On its lever, the speeds of a train lie on a straight line, held or slipping (Willis; SAE 810102, from memory)."""
    element = load_unit(unit).gears[gear][0]
    found = solve_range(unit, gear, (element,))
    for lever in lever_places(found.unit):
        names = list(lever)
        for speeds in (found.speeds, found.slipped):
            line = np.polyfit([lever[n] for n in names], [speeds[n] for n in names], 1)
            assert np.polyval(line, [lever[n] for n in names]) == pytest.approx(
                [speeds[n] for n in names], abs=1e-9
            )


def test_places_on_the_lever_of_a_simpson_train():
    """Sun, carrier, output and ring at 0, 1, 1 + rho and (1 + rho) squared, in units of the first gap, by hand."""
    (lever,) = lever_places(load_unit("T3"))
    rho = 36 / 80
    gap = lever["rear_carrier"]
    placed = [lever[name] / gap for name in ("sun", "rear_carrier", "output", "front_ring")]
    assert placed == pytest.approx([0.0, 1.0, 1 + rho, (1 + rho) ** 2])


def test_sun_turns_backward_while_the_band_slips():
    """In second the load drags the sun backward through a slipping band, and the output falls behind (common practice)."""
    found = solve_range("T3", "second", ("intermediate_band",))
    assert found.slipped["sun"] < 0.0 < found.slipped["output"] < found.speeds["output"]
    picture = plots.member_speeds("T3", "second", ("intermediate_band",), verdict=True)
    assert picture.named("slips") and "sun \u22120.30" in picture.alt
    slipping = [words for words in picture.words() if words.startswith("slips: ")]
    assert slipping == [f"slips: {found.slipped['output']:.2f}"] and "output 0.60" in picture.alt


# ---------------------------------------------------------------------- lives and repairs
@cache
def lived(name):
    """The vehicle of a frozen case, its miles, and its repairs driven on."""
    past = vehicle_of(load_key(name))
    return past, plots.life_track(past), plots.repair_tracks(past)


@pytest.fixture(scope="module", params=["W01", "P01"])
def life(request):
    """Each of the practice cases."""
    return lived(request.param)


def test_life_ends_as_the_vehicle_came_in(life):
    """The last point of every curve is the state from which the findings were taken; miles rise up to the complaint."""
    past, track, _ = life
    assert (np.diff(track.miles) > 0).all() and track.miles[-1] * units.MILE == pytest.approx(past.odometer)
    spec = past.unit
    for stem, left in track.left.items():
        column = next(i for i, e in enumerate(spec.elements) if e.id.startswith(stem))
        own = 1.0 - past.condition.lining[0, 0, column] / past.plant.p.element_lining[0, 0, column]
        assert left[-1] == pytest.approx(own)
        assert (np.diff(left[:-1]) < 1e-9).all()


def test_life_in_words_and_lines(life):
    """Where a curve is thick, the words say since when; every letter stands at its odometer; both ends are said."""
    past, track, driven = life
    picture = plots.life_of(track, verdict=True)
    assert (
        written_over(picture) == written_over(plots.repair_ahead(driven, verdict=True, system="metric")) == []
    )
    assert bool(picture.named("outside")) == ("outside spec from" in picture.alt)
    assert len(picture.named("event")) == len(re.findall(r"(?:^|\. )[A-Z], [\d,]+ mi", picture.alt))
    assert round(past.odometer / units.MILE) in numbers(picture.alt)
    assert past.causes[0].label in picture.alt
    hidden = plots.life_of(track, verdict=False)
    assert (
        past.causes[0].label not in hidden.alt
        and not hidden.named("outside")
        and "within spec" not in hidden.alt
    )


def test_only_what_moves_is_drawn(life):
    """A seal that stays supple takes no room; a fill time that had to be learned does, with its end in words."""
    _, track, _ = life
    still, stem = np.zeros(track.miles.size), next(iter(track.left))
    flat = replace(track, hardness={stem: still}, learned={stem: still})
    assert not [
        words for words in plots.life_of(flat, verdict=True).words() if words.startswith(("Seal", "Learned"))
    ]
    late = replace(flat, learned={stem: np.linspace(0.0, 42.0, still.size)})
    assert re.search(
        r"Learned fill time, [\w ]+: 0 ms at first, 42 ms at the end", plots.life_of(late, verdict=True).alt
    )


def test_curve_is_drawn_where_the_life_was(life):
    """Height on paper is linear in what was lived through: two curves, point by point."""
    _, track, _ = life
    picture = plots.life_of(track, verdict=True)
    for name, values in (("Sump temperature", track.sump_f), ("Line pressure, D, idle, hot", track.line_psi)):
        (curve,) = picture.named(f"curve {name}")
        fit = (
            np.polyfit(values, curve.get_ydata(), 1)
            if np.ptp(values) > 0.5
            else (0.0, np.mean(curve.get_ydata()))
        )
        assert np.polyval(fit, values) == pytest.approx(curve.get_ydata(), abs=0.02)


def test_repairs_driven_on_end_as_the_stories_tell(life):
    """Which repair comes back, and after how many miles, is what the stories of the same vehicle say."""
    past, _, driven = life
    told = stories.compare_repairs(past)
    picture = plots.repair_ahead(driven, verdict=True)
    assert len(picture.named("back")) == sum(each.back is not None for each in driven)
    for each in driven:
        miles = told[each.name].miles
        assert (each.back is None) == (miles is None)
        assert miles is None or each.back == pytest.approx(miles, rel=0.05, abs=1.0)
        assert round(float(each.miles[-1])) in numbers(picture.alt)
    assert [each.back is None for each in driven if each.name == "part and cause"] == [True]
    ends = {n: line for n, each in enumerate(driven, 1) for line in picture.named(f"ahead {each.name}")}
    places = {
        int(t.get_text()): t.get_position()[1]
        for t in picture.figure.axes[0].texts
        if t.get_gid() == "number"
    }
    stay = [n for n, each in enumerate(driven, 1) if each.back is None]
    assert sorted(stay, key=places.get) == sorted(stay, key=lambda n: ends[n].get_ydata()[-1])


def test_chain_in_order_with_its_odometers():
    """Every line of the key is a step, in the order it happened; without verdict the cause is left to fill in."""
    key = load_key("P01")
    picture, hidden = (plots.event_chain(key, verdict=verdict) for verdict in (True, False))
    odometers = [numbers(text.get_text())[0] for text in picture.named("odometer")]
    assert odometers == sorted(odometers) and set(odometers) <= set(numbers(picture.alt))
    label = key.chain[0].partition(": ")[2]
    assert (
        label in picture.alt
        and label not in hidden.alt
        and not any(label in words for words in hidden.words())
    )
    assert all(line.partition(": ")[2] in picture.alt for line in key.chain)
    with pytest.raises(ValueError, match="must begin with its odometer"):
        plots.event_chain(["no odometer here"], verdict=True)


# ---------------------------------------------------------------------- odds
@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=40).filter(lambda w: sum(w) > 0.01))
def test_counts_of_a_hundred_sum_to_a_hundred(weights):
    """Rounded by largest remainders (Hamilton's method): the sum is kept, and no share moves by a whole one."""
    shares = np.array(weights) / sum(weights)
    counts = suspects.of_hundred(shares)
    assert sum(counts) == 100
    assert np.abs(np.array(counts) - 100 * shares).max() < 1.0 + 1e-6


def test_largest_remainders_by_hand():
    """Three equal shares get 34, 33 and 33; 0.501, 0.299 and 0.2 get 50, 30 and 20."""
    assert suspects.of_hundred([1 / 3] * 3) == [34, 33, 33]
    assert suspects.of_hundred([0.501, 0.299, 0.2]) == [50, 30, 20]


def test_bars_numbers_and_words_are_one():
    """Bar lengths go with their numbers, every number is said, the leader is singled out only with verdict."""
    steps = [
        plots.OddsStep("Talk", "slips", {"a": 0.5, "b": 0.3, "c": 0.2}),
        plots.OddsStep("Pan", "clean", {"a": 0.1, "b": 0.05, "c": 0.85}),
    ]
    picture = plots.odds_by_step(steps, verdict=True, labels={"c": "pump worn"})
    widths = np.array([bar.get_width() for bar in picture.named("bar")])
    counts = np.array([numbers(text.get_text())[0] for text in picture.named("count")])
    assert widths == pytest.approx(counts * widths.max() / 85.0)
    assert set(counts) <= set(numbers(picture.alt)) and "pump worn leads with 85" in picture.alt
    assert "leads" not in plots.odds_by_step(steps, verdict=False).alt


def test_head_of_a_column_is_written_out():
    """Whatever was found stands in the picture in full; findings that have no column are counted, in picture and words."""
    found = "48 psi in D at idle, 14 psi below spec, needle swinging 40 to 56"
    steps = [plots.OddsStep(f"Inspection {n}", found, {"a": 0.6, "b": 0.4}) for n in range(7)]
    picture = plots.odds_by_step(steps, verdict=True)
    written = " ".join(picture.words())
    assert written.count(found.split()[-1]) == suspects.MOST_COLUMNS == picture.alt.count(found)
    left_out = f"Left out, because they changed less: {len(steps) - suspects.MOST_COLUMNS}."
    assert left_out in written and left_out in picture.alt
    assert "Left out" not in plots.odds_by_step(steps[:2], verdict=True).alt and written_over(picture) == []


def test_findings_that_moved_the_odds_keep_their_columns():
    """Of eight findings the second decided and the last did nothing: the second is shown, and where all stands now."""
    odds = [{"a": 0.5, "b": 0.5}] * 2 + [{"a": 0.9, "b": 0.1}] * 5 + [{"a": 0.95, "b": 0.05}]
    steps = [plots.OddsStep(f"Inspection {n}", "found", each) for n, each in enumerate(odds)]
    alt = plots.odds_by_step(steps, verdict=True).alt
    assert "After Inspection 0" in alt and "After Inspection 2" in alt and "After Inspection 7" in alt
    assert alt.count("After Inspection") == suspects.MOST_COLUMNS


def test_odds_are_checked():
    """Nothing found yet, and odds that are none, are refused."""
    with pytest.raises(ValueError, match="at least one finding"):
        plots.odds_by_step([], verdict=True)
    with pytest.raises(ValueError, match="must sum to 1"):
        plots.odds_by_step([plots.OddsStep("Talk", "", {"a": 0.5})], verdict=True)
