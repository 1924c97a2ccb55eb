"""A unit that is nothing but a data file: read, driven, worn out, struck by causes, without one line of code for it."""

from pathlib import Path

import numpy as np
import pytest
from another_unit import FLEET, has_no_other_causes, holds_in, stands_in_sheet, struck, unit_added

from course_lib.base.data_files import data_folder
from course_lib.cases.make import make_case
from course_lib.faults.causes import causes_of
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle import unit_spec
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.uses import load_uses

HERE = Path(__file__).parent
NAME = "B3"
RHO = 40 / 80  # sun over ring teeth, both sets


@pytest.fixture(scope="module", autouse=True)
def unit(tmp_path_factory):
    """The data folder with one more file in it."""
    with unit_added(tmp_path_factory.mktemp("data"), NAME) as added:
        yield added


@pytest.fixture(scope="module")
def parameters(unit):
    """Sound vehicles, each with its own spread of manufacture."""
    return unit_spec.draw_parameters(unit, np.random.default_rng(3), FLEET, signal="vacuum")


def test_nobody_else_knows_of_it():
    """No module and no data file of the course names it: what it does, it does as data."""
    course = data_folder().parent / "course_lib"
    texts = [
        *HERE.parent.glob("course_lib/**/*.py"),
        *HERE.parent.glob("datasets/*.toml"),
        *course.glob("**/*.py"),
    ]
    assert len(texts) > 40
    assert not [path for path in texts if f'"{NAME}"' in path.read_text(encoding="utf-8")]


def test_its_gears_are_those_of_its_teeth(unit):
    """2 + rho, 1 + rho, 1 and -1/rho (Lechner and Naunheimer, from memory), with rho = 0.5."""
    ratio = gear_tables(unit).ratio
    for gear, expected in {"first": 2 + RHO, "second": 1 + RHO, "third": 1.0, "reverse": -1 / RHO}.items():
        assert ratio[unit.gear_index(gear)] == pytest.approx(expected, abs=1e-12)


def test_sound_vehicles_meet_its_sheet(unit, parameters):
    """Every inspection can be made, and what it reads on a sound vehicle stands in the sheet, but for its error."""
    new = new_condition(FLEET, unit)
    found = inspect_population(Subject(Plant(unit, parameters), new, "vacuum", "mixed"))
    stands_in_sheet(unit, found, 80)


@pytest.mark.parametrize("use", list(load_uses().uses))
def test_sound_vehicles_hold_in_every_use(unit, parameters, use):
    holds_in(unit, parameters, use)


def test_it_has_the_causes_of_its_parts_and_no_others(unit):
    """Band, cable, overdrive and lock-up causes cannot occur; those of pump, line and clutches can."""
    ids = {cause.id for cause in causes_of(unit, "vacuum")}
    assert {
        "pump_worn_abrasive",
        "forward_seal_hardened",
        "vacuum_hose_leak",
        "cooler_clogged_internally",
    } <= ids
    assert not ids & {
        "band_adjusted_loose",
        "overdrive_owc_worn",
        "lockup_valve_stuck_on",
        "throttle_cable_slack",
    }
    has_no_other_causes(unit, "vacuum")


def test_it_lives_and_a_cause_ends_its_life_early(unit, parameters):
    """Sound, few complain in 60,000 miles of mixed use; with a worn pump nearly all do, and nothing is out of range."""
    _, sound = struck(unit, parameters, None)
    _, worn = struck(unit, parameters, "pump_worn_abrasive")
    assert np.mean(sound < 60_000.0) < 0.1
    assert np.mean(worn < 60_000.0) > 0.9 and np.all(worn >= 20_000.0)


def test_it_runs_a_case(unit):
    """Generated, looked at from the interview to the bench, and proved: the part alone comes back, the whole repair holds."""
    case, key = make_case(seed=5, unit=NAME, cause="pump_worn_abrasive", use="mixed")
    assert key.causes == ("pump_worn_abrasive",) and key.parts[0] in dict(case.part_choices)
    assert "pump_worn_abrasive" in dict(case.cause_choices)
    assert not {"intermediate_band", "overdrive_brake"} & set(dict(case.part_choices))
    for inspection in ("interview", "fluid_hot", "line_pressure", "pan", "air_test", "teardown", "measure"):
        case.inspect(inspection)
    keys = {reading.key for finding in case.findings for reading in finding.readings}
    assert {"line_pressure_d_idle_psi", "clearance_low_reverse_brake_in"} <= keys
    assert key.stories["part only"].miles is not None and key.stories["part and cause"].miles is None


def test_no_two_cases_of_it_are_the_same(unit):
    """Another seed, another vehicle; the same seed, the same one."""
    one, again, other = (
        make_case(seed=seed, unit=NAME, cause="vacuum_hose_leak", use="mixed") for seed in (1, 1, 2)
    )
    assert one[1].recipe == again[1].recipe and one[0].work_order == again[0].work_order
    assert one[1].recipe != other[1].recipe
