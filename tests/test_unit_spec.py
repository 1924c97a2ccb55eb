"""A unit as data: complete, consistent, refused when broken; gear ratios and torque shares by hand."""

import shutil
import tomllib

import numpy as np
import pytest

from course_lib.datasets import data_folder
from course_lib.transmission import spec

RHO = 36 / 80  # sun over ring teeth, both sets


@pytest.fixture(scope="module")
def text():
    """The data file as it is shipped."""
    return (data_folder() / "units" / "T3.toml").read_text(encoding="utf-8")


@pytest.fixture
def load_broken(tmp_path, monkeypatch, text):
    """A function that loads the unit after one piece of its data file was replaced."""
    shutil.copytree(data_folder() / "units", tmp_path / "units")
    monkeypatch.setattr("course_lib.datasets.data_folder", lambda: tmp_path)
    monkeypatch.setattr(spec, "data_folder", lambda: tmp_path)

    def load(old, replacement):
        assert text.count(old) == 1, f"{old!r} must stand in the data file once"
        (tmp_path / "units" / "T3.toml").write_text(text.replace(old, replacement), encoding="utf-8")
        return spec.load_unit.__wrapped__("T3")

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


def test_every_number_says_unit_origin_and_reason(text):
    """A number without its birth certificate is no data; there are more than a hundred."""
    found = dict(quantities(tomllib.loads(text)))
    assert len(found) > 100
    for path, entry in found.items():
        assert set(entry) == {"value", "unit", "origin", "reason"}, path
        assert (
            np.isfinite(entry["value"]) and entry["unit"] and entry["origin"] and len(entry["reason"]) > 3
        ), path


def test_every_quantity_reaches_the_parameters_and_every_array_is_fresh():
    """What stands in the file is what the simulator gets, and nobody's edits leak into the next vehicle."""
    unit = spec.load_unit("T3")
    one, two = spec.nominal_parameters(unit, 3), spec.nominal_parameters(unit, 3)
    assert set(one) == set(spec.parameter_names(unit))
    for section, group in unit.parameters.items():
        for name, quantity in group.items():
            np.testing.assert_array_equal(one[f"{section}_{name}"], np.full((3, 1), quantity.value))
    one["line_base"][:] = 0.0
    assert two["line_base"].min() > 0.0


@pytest.mark.parametrize(
    "old, replacement, message",
    [
        ("base = { value = 455e3, ", "base = { ", "missing required field `value`"),
        (
            'base = { value = 455e3, unit = "Pa"',
            'base = { value = 455e3, unit = "psi"',
            "Invalid enum value 'psi'",
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
        ("line_boost = 0.006", "line_bost = 0.006", "tolerance of unit T3 .* Did you mean 'line_boost'"),
        ("line_boost = 0.006", "line_boost = 0.9", "Expected `float` < 0.5"),
        ('name = "T3"', 'name = "T3"\ncolor = "red"', "unknown field `color`"),
        (
            'piston_area = { value = 0.0043, unit = "m2", origin = "fitted", '
            'reason = "servo; holds full torque in second twice over" }',
            "",
            "elements of unit T3 must give the same quantities, got .'piston_area'.",
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
    with pytest.raises(ValueError, match="unit must be a name from the list, got 'T33'. Did you mean 'T3'"):
        spec.load_unit("T33")


def test_gear_ratios():
    """1st 2 + rho, 2nd 1 + rho, 3rd 1, reverse -1/rho: Lechner and Naunheimer (from memory)."""
    unit, ratio = spec.load_unit("T3"), spec.gear_tables("T3").ratio
    by_hand = {
        "first": 2 + RHO,
        "second": 1 + RHO,
        "third": 1.0,
        "first_manual": 2 + RHO,
        "reverse": -1 / RHO,
        "neutral": 0,
    }
    for gear, expected in by_hand.items():
        assert ratio[unit.gear_index(gear)] == pytest.approx(expected, abs=1e-12), gear


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
def test_torque_shares(gear, element, expected):
    """Torque of each holding element per turbine torque, from moments about the shaft, by hand.

    1st: the sun gets rho times the ring torque, the rear carrier must hold ring and sun of its set: 1 + rho.
    2nd: the band holds the sun: rho. 3rd: the front ring carries 1/(1 + rho). R: sun driven, carrier holds
    1 + 1/rho.
    """
    unit, share = spec.load_unit("T3"), spec.gear_tables("T3").share
    found = share[unit.gear_index(gear), unit.element_ids.index(element)]
    assert found == pytest.approx(expected, abs=1e-12)


def test_reaction_of_the_case_closes_the_balance_of_moments():
    """Input 1, output -ratio, and what is held by the case sum to 0: statics, whatever the train."""
    unit, tables = spec.load_unit("T3"), spec.gear_tables("T3")
    for gear, held in {"first": [4], "second": [2], "third": [], "first_manual": [3], "reverse": [3]}.items():
        row = unit.gear_index(gear)
        case = sum(tables.share[row, column] for column in held)
        sign = -1.0 if gear == "reverse" else 1.0
        assert 1.0 + sign * case == pytest.approx(tables.ratio[row], abs=1e-12), gear


def test_elements_that_hold_the_same_members_work_together():
    """Low-reverse band and one-way clutch both tie the rear carrier to the case; no others share a job."""
    together = spec.gear_tables("T3").together
    expected = np.eye(5)
    expected[3, 4] = expected[4, 3] = 1.0
    np.testing.assert_array_equal(together, expected)


def test_friction_of_the_lining_is_inside_the_handbook_range():
    """Paper lining in fluid 0.09 to 0.15: machine design handbooks, wet clutch facings (from memory)."""
    unit = spec.load_unit("T3")
    drawn = spec.draw_parameters(unit, np.random.default_rng(4), 500)["wear_friction"]
    assert 0.09 < drawn.min() and drawn.max() < 0.15


def test_draws_differ_keep_their_mean_and_respect_their_limits():
    """Normal spread cut at 2.5 standard deviations; the same generator gives the same vehicles."""
    unit = spec.load_unit("T3")
    base = spec.nominal_parameters(unit)
    drawn = spec.draw_parameters(unit, np.random.default_rng(8), 2000)
    for name, spread in unit.tolerances.items():
        shown = base[name][0] != 0.0
        ratio = (drawn[name] / np.where(base[name] == 0.0, 1.0, base[name]))[:, shown]
        assert np.abs(ratio - 1.0).max() <= 2.5 * spread + 1e-12, name
        assert ratio.mean() == pytest.approx(1.0, abs=0.1 * spread + 1e-12), name
        assert ratio.std() == pytest.approx(spread, rel=0.1, abs=1e-12), name
    again = spec.draw_parameters(unit, np.random.default_rng(8), 2000)
    np.testing.assert_array_equal(drawn["line_base"], again["line_base"])


def test_addresses_of_element_parameters():
    """ "name@element" leads to its column; a misspelling is met with the nearest name."""
    unit = spec.load_unit("T3")
    assert spec.element_target(unit, "element_leak@intermediate_band") == ("element_leak", 2)
    assert spec.element_target(unit, "line_base") == ("line_base", None)
    with pytest.raises(ValueError, match="parameter must be a name from the list, got 'line_bass'"):
        spec.element_target(unit, "line_bass")
    with pytest.raises(ValueError, match="element must be a name .* Did you mean 'direct_clutch'"):
        spec.element_target(unit, "element_leak@direct_cluch")
