"""A unit as data: complete, consistent, refused when broken; gear ratios and torque shares by hand."""

import pickle
import shutil
import tomllib

import numpy as np
import pytest

from course_lib.base import units
from course_lib.base.data_files import data_folder
from course_lib.physics import gearset
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle import unit_spec
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.parameters import PARAMETER_NAMES, PARAMETER_UNITS
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.uses import load_uses

UNITS = sorted(path.stem for path in (data_folder() / "units").glob("*.toml"))
RHO = 36 / 80  # sun over ring teeth, both sets of the three-speed train
FRONT = 36 / 84  # sun over ring teeth, overdrive set


@pytest.fixture(scope="module")
def text():
    """The data file as it is shipped."""
    return (data_folder() / "units" / "T3.toml").read_text(encoding="utf-8")


@pytest.fixture
def load_broken(tmp_path, monkeypatch, text):
    """A function that loads the unit after one piece of its data file was replaced."""
    shutil.copytree(data_folder() / "units", tmp_path / "units")
    monkeypatch.setattr("course_lib.base.data_files.data_folder", lambda: tmp_path)
    monkeypatch.setattr(unit_spec, "data_folder", lambda: tmp_path)

    def load(old, replacement):
        assert text.count(old) == 1, f"{old!r} must stand in the data file once"
        (tmp_path / "units" / "T3.toml").write_text(text.replace(old, replacement), encoding="utf-8")
        return unit_spec.load_unit.__wrapped__("T3")

    return load


def quantities(tree, path=()):
    """Every table of the data file that holds a value, with its path."""
    if isinstance(tree, dict) and "value" in tree:
        yield path, tree
    elif isinstance(tree, dict):
        for name, branch in tree.items():
            yield from quantities(branch, (*path, name))
    elif isinstance(tree, list):
        for place, branch in enumerate(tree):
            yield from quantities(branch, (*path, place))


@pytest.mark.parametrize("name", UNITS)
def test_every_number_says_unit_origin_and_reason(name):
    """A number without its birth certificate is no data; there are more than a hundred in each unit."""
    text = (data_folder() / "units" / f"{name}.toml").read_text(encoding="utf-8")
    found = dict(quantities(tomllib.loads(text)))
    assert len(found) > 100
    for path, entry in found.items():
        assert set(entry) == {"value", "unit", "origin", "reason"}, path
        assert np.isfinite(entry["value"]) and entry["unit"] and entry["origin"], path
        assert len(entry["reason"]) > 3, path


def of_control(unit):
    """Solenoids, sensors and wires of a unit, with what all of a kind have; none where the control is hydraulic."""
    if unit.control is None:
        return []
    return [(owner, each, getattr(unit.control, f"{owner}s")) for owner, each in unit.control.each.items()]


@pytest.mark.parametrize("name", UNITS)
def test_every_quantity_reaches_the_parameters_and_every_array_is_fresh(name):
    """What stands in the file is what the simulator gets, and nobody's edits leak into the next vehicle."""
    unit = unit_spec.load_unit(name)
    signal = unit.signals[0]
    one, two = (unit_spec.nominal_parameters(unit, 3, signal=signal) for _ in range(2))
    assert set(one) == set(PARAMETER_NAMES)
    for section, group in unit.parameters.items():
        for key, quantity in group.items():
            found = one[f"{section}_{key}"]
            if (section, key) != ("signal", "cable_fitted"):  # told by the signal asked for
                np.testing.assert_array_equal(found, np.full((3, 1), quantity.value))
    for column, shift in enumerate(unit.shifts):
        for key, quantity in shift.quantities.items():
            np.testing.assert_array_equal(one[f"shift_{key}"][:, 0, column], np.full(3, quantity.value))
    for owner, each, owners in of_control(unit):
        for column, part in enumerate(owners):
            for key, quantity in (each | part.quantities).items():
                np.testing.assert_array_equal(one[f"{owner}_{key}"][:, 0, column], np.full(3, quantity.value))
    one["pump_displacement"][:] = 0.0
    assert two["pump_displacement"].min() > 0.0


@pytest.mark.parametrize("name", UNITS)
def test_every_parameter_is_given_in_the_unit_it_is_declared_in(name):
    """One list for all units: what a cause may change in one has the same name and the same unit of measure in every other."""
    unit = unit_spec.load_unit(name)
    given = {
        f"{section}_{key}": each.unit
        for section, group in unit.parameters.items()
        for key, each in group.items()
    }
    for prefix, groups in (("element", unit.elements), ("shift", unit.shifts)):
        given |= {f"{prefix}_{key}": each.unit for group in groups for key, each in group.quantities.items()}
    for owner, each, owners in of_control(unit):
        for part in owners:
            given |= {f"{owner}_{key}": q.unit for key, q in (each | part.quantities).items()}
    assert given == {key: measure for key, measure in PARAMETER_UNITS.items() if unit.has(key)}


def test_a_unit_that_was_sent_to_another_process_is_the_same_unit():
    """Its tables are not solved anew for the copy, and no other unit passes for it."""
    units_ = [unit_spec.load_unit(name) for name in UNITS]
    for unit in units_:
        copy = pickle.loads(pickle.dumps(unit))
        assert copy is not unit and copy == unit and gear_tables(copy) is gear_tables(unit)
    assert len(set(units_)) == len(UNITS) and units_[0] != UNITS[0]


def test_a_parameter_set_holds_every_parameter_and_no_other():
    """What a vehicle is made of is refused in words, with the name that was meant."""
    unit = unit_spec.load_unit("T3")
    known = unit_spec.nominal_parameters(unit)
    assert Plant(unit, known).p.line_base is known["line_base"]
    with pytest.raises(ValueError, match="parameter must be .* got 'line_bast'. Did you mean 'line_base'"):
        Plant(unit, {**known, "line_bast": known["line_base"]})
    del known["sump_slosh"]
    with pytest.raises(ValueError, match="must hold every parameter, got none for .'sump_slosh'."):
        Plant(unit, known)


@pytest.mark.parametrize(
    "old, replacement, message",
    [
        ("base = { value = 455e3, ", "base = { ", "missing required field `value`"),
        (
            'base = { value = 455e3, unit = "Pa"',
            'base = { value = 455e3, unit = "psi"',
            "parameter line_base of unit T3 must be in Pa, got psi. Convert its value",
        ),
        ('base = { value = 455e3, unit = "Pa"', 'base = { value = "65 psi", unit = "Pa"', "Expected `float`"),
        ('"65 psi at no load and hot idle"', '""', "length >= 1"),
        (
            'second = ["forward_clutch", "intermediate_band"]',
            'second = ["forward_clutch", "intermediate_bend"]',
            "element of gear second of unit T3 must be a name from the list, got 'intermediate_bend'",
        ),
        (
            '2 = ["second"]',
            '2 = ["sekond"]',
            "gear of lever 2 of unit T3 must be a name .* Did you mean 'second'",
        ),
        (
            "[parameters.train]\nend_play",
            "[parameters.train]\nend_gap",
            "parameter of unit T3 .* Did you mean 'train_end_play'",
        ),
        ("judder = {", "jutter = {", "parameter of unit T3 .* Did you mean 'fluid_judder'"),
        (
            'kickdown = { value = 13.4, unit = "m/s", origin = "invented", '
            'reason = "the full pedal fetches first below 30 mph" }',
            "",
            "shift 12 of unit T3 must give every shift parameter, got none for kickdown. Add it",
        ),
        (
            'night_drain = { value = 0.15e-3, unit = "m3", origin = "fitted", '
            'reason = "converter fluid that is back in the sump after a night" }',
            "",
            "unit T3 must give every parameter, got none for sump_night_drain. Add it",
        ),
        (
            "holding_torque = { value = 1900,",
            "holding_torqe = { value = 1900,",
            "parameter of element low_one_way_clutch of unit T3 .* Did you mean 'holding_torque'",
        ),
        ("line_boost = 0.006", "line_bost = 0.006", "tolerance of unit T3 .* Did you mean 'line_boost'"),
        ("line_boost = 0.006", "line_boost = 0.9", "Expected `float` < 0.5"),
        ('name = "T3"', 'name = "T3"\ncolor = "red"', "unknown field `color`"),
        (
            'piston_area = { value = 0.0051, unit = "m2", origin = "fitted", '
            'reason = "servo; holds stall torque in second, hot, with a little to spare" }',
            "",
            "element intermediate_band of unit T3 must give every element parameter, got none for piston_area. Add it",
        ),
    ],
)
def test_a_broken_data_file_is_refused_in_one_line(load_broken, old, replacement, message):
    """The message names the entry and says what to do."""
    with pytest.raises(ValueError, match=message) as caught:
        load_broken(old, replacement)
    assert "\n" not in str(caught.value)


def test_the_unbroken_copy_loads(load_broken):
    """The refusals above are due to what was broken, not to the copying."""
    assert load_broken('name = "T3"', 'name = "T3" ').name == "T3"


def test_an_unknown_unit_is_refused():
    """The nearest name is offered."""
    with pytest.raises(ValueError, match="got 'three-sped'. Did you mean 'three-speed'"):
        unit_spec.load_unit("three-sped")


def test_a_unit_is_found_by_its_title():
    """What people call it, and the name of its data file: the same unit. Titles tell units apart, and none holds a code."""
    names = sorted(path.stem for path in (data_folder() / "units").glob("*.toml"))
    titles = [unit_spec.load_unit(name).title for name in names]
    assert [unit_spec.load_unit(title).name for title in titles] == names and len(set(titles)) == len(names)
    assert not any(name in title for name in names for title in titles)


THREE_SPEEDS = {
    "neutral": 0.0,
    "first": 2 + RHO,
    "second": 1 + RHO,
    "third": 1.0,
    "first_manual": 2 + RHO,
    "reverse": -1 / RHO,
}


@pytest.mark.parametrize(
    "name, by_hand", [("T3", THREE_SPEEDS), ("T4", THREE_SPEEDS | {"fourth": 1 / (1 + FRONT)})]
)
def test_gear_ratios(name, by_hand):
    """1st 2 + rho, 2nd 1 + rho, 3rd 1, reverse -1/rho: Lechner and Naunheimer (from memory).

    Overdrive: the carrier drives and the sun stands, so the ring turns 1 + rho times as fast.
    """
    unit, ratio = unit_spec.load_unit(name), gear_tables(unit_spec.load_unit(name)).ratio
    assert set(by_hand) == set(unit.gears)
    for gear, expected in by_hand.items():
        assert ratio[unit.gear_index(gear)] == pytest.approx(expected, abs=1e-12), gear


def test_ratios_of_the_sheet():
    """2.45, 1.45, 1.00, 0.70 and -2.22, as a learner is told them."""
    unit, ratio = unit_spec.load_unit("T4"), gear_tables(unit_spec.load_unit("T4")).ratio
    told = {"first": 2.45, "second": 1.45, "third": 1.0, "fourth": 0.70, "reverse": -2.22}
    for gear, expected in told.items():
        assert ratio[unit.gear_index(gear)] == pytest.approx(expected, abs=0.005), gear


@pytest.mark.parametrize("name", UNITS)
def test_every_gear_set_can_be_built(name):
    """The planets mesh, divide evenly and do not touch: VDI 2157 and AGMA 6123 (from memory)."""
    for gears in unit_spec.load_unit(name).planetary_sets:
        sun, ring, planets = gears.sun_teeth, gears.ring_teeth, gears.planets
        assert (ring - sun) % 2 == 0, "R = S + 2 P"
        planet = (ring - sun) // 2
        assert (sun + ring) % planets == 0, "(S + R) / n whole"
        assert (sun + planet) * np.sin(np.pi / planets) > planet + 2, "tips clear each other"


@pytest.mark.parametrize("name", ["T3", "T4"])
@pytest.mark.parametrize(
    "gear, element, expected",
    [
        ("first", "forward_clutch", 1.0),
        ("first", "low_one_way_clutch", 1 + RHO),
        ("second", "forward_clutch", 1.0),
        ("second", "intermediate_band", RHO),
        ("third", "forward_clutch", 1 / (1 + RHO)),
        ("third", "direct_clutch", RHO / (1 + RHO)),
        ("first_manual", "forward_clutch", 1.0),
        ("first_manual", "low_reverse_band", 1 + RHO),
        ("reverse", "direct_clutch", 1.0),
        ("reverse", "low_reverse_band", 1 + 1 / RHO),
    ],
)
def test_torque_shares(name, gear, element, expected):
    """Torque of each holding element per turbine torque, from moments about the shaft, by hand.

    1st: the sun gets rho times the ring torque, the rear carrier must hold ring and sun of its set: 1 + rho.
    2nd: the band holds the sun: rho. 3rd: the front ring carries 1/(1 + rho). R: sun driven, carrier holds
    1 + 1/rho. An overdrive set in front that turns as one changes nothing behind it.
    """
    unit, share = unit_spec.load_unit(name), gear_tables(unit_spec.load_unit(name)).share
    found = share[unit.gear_index(gear), unit.element_ids.index(element)]
    assert found == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    "gear, element, expected",
    [
        ("first", "overdrive_one_way_clutch", FRONT),
        ("reverse", "overdrive_clutch", FRONT),
        ("fourth", "overdrive_brake", FRONT / (1 + FRONT)),
        ("fourth", "forward_clutch", 1 / (1 + FRONT) / (1 + RHO)),
        ("fourth", "direct_clutch", RHO / (1 + FRONT) / (1 + RHO)),
    ],
)
def test_torque_shares_of_the_overdrive_set(gear, element, expected):
    """Turning as one, the ring gives 1 and its sun needs rho; the sun held, carrier 1 splits into ring and sun, by hand."""
    unit, share = unit_spec.load_unit("T4"), gear_tables(unit_spec.load_unit("T4")).share
    found = share[unit.gear_index(gear), unit.element_ids.index(element)]
    assert found == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("name", UNITS)
def test_reaction_of_the_case_closes_the_balance_of_moments(name):
    """Input 1, output -ratio, and what the case holds sum to 0 (statics): by elements, and by a sun that never turns."""
    unit, tables = unit_spec.load_unit(name), gear_tables(unit_spec.load_unit(name))
    sets = [
        gearset.PlanetarySet(s.sun, s.ring, s.carrier, s.sun_teeth / s.ring_teeth)
        for s in unit.planetary_sets
    ]
    held_by = {element.id: element.couples for element in unit.elements}
    for gear, applied in unit.gears.items():
        ratio, pairs = (
            tables.ratio[unit.gear_index(gear)],
            [*dict.fromkeys(held_by[name] for name in applied)],
        )
        if not ratio:
            continue
        train = gearset.solve_train(
            unit.members, sets, pairs, input_member=unit.input, output_member=unit.output
        )
        held = sum(train.torques[i] for i, pair in enumerate(pairs) if pair[1] == "case")
        held -= sum(s.rho * train.set_torques[i] for i, s in enumerate(sets) if s.sun == "case")
        assert held == pytest.approx(ratio - 1.0, abs=1e-12), gear


def test_elements_that_hold_the_same_members_work_together():
    """Low-reverse band and low one-way clutch, overdrive clutch and its one-way clutch; no others share a job."""
    for name, pairs in (("T3", {(3, 4)}), ("T4", {(3, 4), (5, 6)})):
        assert set(gear_tables(unit_spec.load_unit(name)).partners) == pairs | {(b, a) for a, b in pairs}


@pytest.mark.parametrize("name", UNITS)
def test_one_way_clutches_overrun_forward(name):
    """In a higher gear a one-way clutch turns in its free direction, and where it holds it stands."""
    unit, tables = unit_spec.load_unit(name), gear_tables(unit_spec.load_unit(name))
    one_ways = [i for i, element in enumerate(unit.elements) if element.kind == "one-way"]
    assert bool(one_ways) == (unit.control is None), "shifts clutch to clutch need none"
    for gear in unit.levers["D"]:
        row = unit.gear_index(gear)
        speeds, applied = tables.relative[row, one_ways], tables.applied[row, one_ways]
        assert np.all(speeds[applied == 1] == pytest.approx(0.0, abs=1e-12))
        assert np.all(speeds[applied == 0] > 0.1), gear


@pytest.mark.parametrize("name", UNITS)
def test_upshifts_take_one_new_element_and_drop_the_ratio(name):
    """Each upshift of the drive lever fills one element anew and lands in a longer gear."""
    unit, tables = unit_spec.load_unit(name), gear_tables(unit_spec.load_unit(name))
    rows = [unit.gear_index(gear) for gear in unit.levers["D"]]
    assert np.all(np.diff(tables.ratio[rows]) < 0.0)
    np.testing.assert_array_equal(tables.before[rows[1:]], tables.ratio[rows[:-1]])
    assert np.all(tables.takes[rows[1:]].sum(1) == 1.0)


def test_friction_of_the_lining_is_inside_the_handbook_range():
    """Paper lining in fluid 0.09 to 0.15: machine design handbooks, wet clutch facings (from memory)."""
    unit = unit_spec.load_unit("T3")
    drawn = unit_spec.draw_parameters(unit, np.random.default_rng(4), 500)["wear_friction"]
    assert 0.09 < drawn.min() and drawn.max() < 0.15


def test_draws_differ_keep_their_mean_and_respect_their_limits():
    """Normal spread cut at 2.5 standard deviations; the same generator gives the same vehicles."""
    unit = unit_spec.load_unit("T3")
    base = unit_spec.nominal_parameters(unit)
    drawn = unit_spec.draw_parameters(unit, np.random.default_rng(8), 2000)
    for name, spread in unit.tolerances.items():
        shown = base[name][0] != 0.0
        ratio = (drawn[name] / np.where(base[name] == 0.0, 1.0, base[name]))[:, shown]
        assert np.abs(ratio - 1.0).max() <= 2.5 * spread + 1e-12, name
        assert ratio.mean() == pytest.approx(1.0, abs=0.1 * spread + 1e-12), name
        assert ratio.std() == pytest.approx(spread, rel=0.1, abs=1e-12), name
    again = unit_spec.draw_parameters(unit, np.random.default_rng(8), 2000)
    np.testing.assert_array_equal(drawn["line_base"], again["line_base"])


def test_addresses_of_parameters():
    """ "name@element" and "name@shift" lead to their column; a misspelling is met with the nearest name."""
    unit = unit_spec.load_unit("T4")
    assert unit_spec.parameter_place(unit, "element_leak@intermediate_band") == ("element_leak", 2)
    assert unit_spec.parameter_place(unit, "shift_spring@34") == ("shift_spring", 2)
    assert unit_spec.parameter_place(unit, "line_base") == ("line_base", None)
    with pytest.raises(ValueError, match="parameter must be a name from the list, got 'line_bass'"):
        unit_spec.parameter_place(unit, "line_bass")
    with pytest.raises(ValueError, match="element must be a name .* Did you mean 'direct_clutch'"):
        unit_spec.parameter_place(unit, "element_leak@direct_cluch")
    with pytest.raises(ValueError, match="shift must be a name from the list, got '34'"):
        unit_spec.parameter_place(unit_spec.load_unit("T3"), "shift_spring@34")


# ---------------------------------------------------------------- sound vehicles and their sheet
FITTED = [(name, signal) for name in UNITS for signal in unit_spec.load_unit(name).signals]
HOT = units.from_fahrenheit(180.0)


@pytest.fixture(scope="module", params=FITTED, ids="-".join)
def fleet(request):
    """Two hundred sound vehicles of a unit with one kind of signal: the unit, and its plant."""
    name, signal = request.param
    unit = unit_spec.load_unit(name)
    return unit, Plant(unit, unit_spec.draw_parameters(unit, np.random.default_rng(12), 200, signal=signal))


def inside(unit, key, values, error=0.0):
    """Assert that all values stand in the range of the sheet, but for the error of the instrument."""
    low, high = unit.spec[key]
    good = (values >= low - error) & (values <= high + error)
    assert np.all(good), (key, np.min(values), np.max(values), (low, high))


def test_sound_vehicles_meet_every_row_of_their_sheet(fleet):
    """Nearly all that is read has a row in the sheet, and 200 draws of manufacture stand inside it."""
    unit, plant = fleet
    signal = next(s for s in unit.signals if (s == "cable") == bool(plant.p.signal_cable_fitted.all()))
    subject = Subject(plant, new_condition(200, unit), signal, "mixed")
    found = inspect_population(subject)
    # Where the level is right nothing is set, and nothing read after it; a level by overflow is set where it is checked.
    right = found.pop("set_level").measured if "set_level" in found else ()
    assert bool(right) == (unit.control is None)
    assert not any(np.isfinite(reading.value).any() for reading in right)
    readings = [r for each in found.values() for r in each.measured if r.asked is None or r.asked.any()]
    judged = [reading for reading in readings if reading.key in unit.spec]
    assert len(judged) > 0.9 * len(readings) > 80
    for reading in judged:
        inside(unit, reading.key, reading.value[np.isfinite(reading.value)], reading.sigma)
    assert np.isfinite([reading.value for reading in judged]).mean() > 0.99


def test_sound_vehicles_shift_where_their_sheet_says(fleet):
    """Light and full pedal where the sheet has a row; down below up, and a kickdown below the full upshift."""
    unit, plant = fleet
    for pedal, word in ((LIGHT_PEDAL, "light"), (1.0, "full")):
        up = units.to_mph(plant.controls.upshift_speeds(pedal))
        assert np.all(np.diff(up, axis=1) > 0.0)
        for column, shift in enumerate(unit.shift_ids):
            if f"shift_{shift}_{word}_mph" in unit.spec:
                inside(unit, f"shift_{shift}_{word}_mph", up[:, column])
    assert np.all(plant.controls.downshift_speeds() < plant.controls.upshift_speeds(0.0))
    assert np.all(plant.controls.kickdown_speeds() < plant.controls.upshift_speeds(1.0))


def test_sound_vehicles_hold_at_stall(fleet):
    """On the brakes with the pedal down, forward and in reverse, nothing slips."""
    unit, plant = fleet
    full = operation(("D", "R"), throttle=1.0, temperature=HOT)
    assert np.all(plant.operate(new_condition(200, unit), full).loss == 0.0)


@pytest.mark.parametrize("use", [use for use in load_uses().uses if use != "yard"])
def test_sound_vehicles_hold_and_stay_cool_in_every_ordinary_use(fleet, use):
    """No fight, no slip but for a gulp on the steepest ramp, sump of the sheet. (Yard work runs hotter.)"""
    unit, plant = fleet
    day = duty_cycle(use, unit)
    work = plant.operate(new_condition(200, unit), day.op, day.seconds)
    kept = work.lockup_on * plant.p.control_lockup_slip  # an electronic control keeps it slipping a little
    assert np.all(work.loss < 0.03) and np.all(work.tie_up == 0.0)
    np.testing.assert_allclose(work.lockup_slip, kept, rtol=1e-3)
    warm = np.isnan(day.op.temperature)
    mean = (work.temperature * day.seconds)[:, warm].sum(1) / day.seconds[:, warm].sum()
    inside(unit, "sump_temp_f", units.to_fahrenheit(mean))


def test_overdrive_and_lock_up_belong_to_the_cruise():
    """At 55 mph on light pedal fourth and lock-up, at rest and in second neither: fewer revolutions, less heat."""
    work = {}
    for name in ("T3", "T4"):
        unit = unit_spec.load_unit(name)
        plant = Plant(unit, unit_spec.nominal_parameters(unit, 1, signal="cable"))
        op = operation(
            "D",
            throttle=[0.25, 0.3, 0.0],
            road_speed=units.from_mph(np.array([55.0, 25.0, 0.0])),
            temperature=HOT,
        )
        work[name] = plant.operate(new_condition(1, unit), op)
    assert unit_spec.load_unit("T4").gear_index("fourth") == work["T4"].gear[0, 0]
    assert work["T4"].lockup_on[0].tolist() == [1.0, 0.0, 0.0] and not work["T3"].lockup_on.any()
    assert work["T4"].engine_speed[0, 0] < 0.75 * work["T3"].engine_speed[0, 0]
    assert work["T4"].heat[0, 0] < 0.5 * work["T3"].heat[0, 0]


def test_the_rear_of_the_four_speed_is_the_three_speed():
    """T4 is T3 with an overdrive set in front: what both have is the same but for what the front asks for."""
    three, four = unit_spec.load_unit("T3"), unit_spec.load_unit("T4")
    behind = {element.id: element.quantities for element in four.elements}
    for element in three.elements:
        assert behind[element.id] == element.quantities, element.id
    assert four.shifts[: len(three.shifts)] == three.shifts
    differ = {
        f"{section}_{key}"
        for section, group in three.parameters.items()
        for key, quantity in group.items()
        if four.parameters[section][key].value != quantity.value
    }
    assert differ == {
        "signal_cable_fitted",
        "lockup_fitted",
        "sump_charge",
        "sump_held_above",
        "pump_displacement",
    }
    shared = set(three.spec) & set(four.spec)
    assert {key for key in shared if three.spec[key] != four.spec[key]} == set()
