"""An electronic unit that is nothing but a data file: two solenoids, one sensor, no relay, no line solenoid, names of its own."""

import re

import numpy as np
import pytest
from another_unit import FLEET, THIRD, has_no_other_causes, holds_in, stands_in_sheet, struck, unit_added

from course_lib.assessment.marking import Outcome, mark
from course_lib.assessment.record import Answer
from course_lib.assessment.rubric.model_answer import model_record
from course_lib.base import units
from course_lib.cases.make import make_case
from course_lib.faults.causes import causes_of
from course_lib.plots.finding_pictures import pictures_of
from course_lib.plots.levers import member_speeds
from course_lib.plots.paths import power_path
from course_lib.plots.wiring_diagrams import wiring_diagram
from course_lib.shop.inspect import make_inspections, methods_of
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.netlist import ohms
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, nominal_parameters
from course_lib.vehicle.uses import load_uses

NAME = "B3E"
RHO = 40 / 80  # sun over ring teeth, both sets
CAUSE = "filter_clogged_e6"
HOT = units.from_fahrenheit(180.0)


@pytest.fixture(scope="module", autouse=True)
def unit(tmp_path_factory):
    """The data folder with one more file in it."""
    with unit_added(tmp_path_factory.mktemp("data"), NAME) as added:
        yield added


@pytest.fixture(scope="module")
def parameters(unit):
    """Sound vehicles, each with its own spread of manufacture."""
    return draw_parameters(unit, np.random.default_rng(3), FLEET, signal="electronic")


@pytest.fixture(scope="module")
def subject(unit, parameters):
    """The same on the lift."""
    return Subject(Plant(unit, parameters), new_condition(FLEET, unit), "electronic", "mixed")


def test_nobody_else_knows_of_it(unit):
    """No module and no data file of the course names it or what it is made of."""
    control = unit.control
    named = [
        NAME,
        *control.solenoid_ids,
        *control.sensor_ids,
        *control.wire_ids,
        *(each.id for each in control.plugs),
    ]
    own = [name for name in named if name not in ("one", "two", "plus", "minus", "fuse")]  # plain words
    code = [path.read_text(encoding="utf-8") for path in (THIRD.parents[1] / "course_lib").rglob("*.py")]
    assert len(code) > 100
    assert not [name for name in own if any(f'"{name}"' in text for text in code)]


def test_its_gears_are_those_of_its_teeth(unit):
    """2 + rho, 1 and -1/rho (Lechner and Naunheimer, from memory), with rho = 0.5."""
    ratio = gear_tables(unit).ratio
    for gear, expected in {"first": 2 + RHO, "second": 1.0, "reverse": -1 / RHO}.items():
        assert ratio[unit.gear_index(gear)] == pytest.approx(expected, abs=1e-12)


def test_sound_vehicles_meet_its_sheet(unit, subject):
    """Every inspection can be made, and what it reads on a sound vehicle stands in the sheet, but for its error."""
    found = inspect_population(subject)
    assert set(found) == set(methods_of(unit)) and len(found) > 35
    stands_in_sheet(unit, found, 100)


def test_what_it_does_not_have_is_not_found(subject):
    """No reading and no look of a thermistor, a turbine sensor, wheel speeds, a lever sensor, a line or lock-up solenoid."""
    found = inspect_population(subject)
    keys = {each.key for one in found.values() for each in (*one.measured, *one.seen)}
    assert {
        "pickup_v_per_1000",
        "gap_two_a",
        "wire2_ground_ohm",
        "plus_v",
        "shown_mph_at_60",
        "two_ohm",
    } <= keys
    missing = r"tft_.*|tss_.*|ratio_error.*|oss_wheel.*|range_agrees|illegal|line_follows.*|gap_step.*|tcc_.*|relay_v|map_wrong"
    assert not [key for key in keys if re.fullmatch(missing, key)]


@pytest.mark.parametrize("use", list(load_uses().uses))
def test_sound_vehicles_hold_in_every_use(unit, parameters, use):
    holds_in(unit, parameters, use)


def driven(unit, **faults):
    """What one vehicle does, sound but for these (name__owner -> value), slow and fast in D, in R, 1 and N."""
    p = nominal_parameters(unit, signal="electronic")
    for address, value in faults.items():
        name, owner = address.split("__")
        p[name][:, 0, unit.owners(name.partition("_")[0]).index(owner)] = value
    mph = np.array([6.0, 35.0, 5.0, 6.0, 0.0])
    op = operation(["D", "D", "R", "1", "N"], throttle=0.25, road_speed=units.from_mph(mph), temperature=HOT)
    return Plant(unit, p).operate(new_condition(1, unit), op)


def gears(unit, work):
    """The gears it is in."""
    return [list(unit.gears)[row] for row in work.gear[0]]


REST = ["second", "second", "reverse", "neutral", "neutral"]
"""What springs and manual valve make of it without current: the valve of the direct clutch is open then, the other shut."""


def test_it_drives_in_the_gear_that_it_wants(unit):
    """Sound: by speed in D, by the manual valve in R and 1, and the line is where its spring sets it."""
    work = driven(unit)
    assert gears(unit, work) == ["first", "second", "reverse", "first", "neutral"]
    assert np.all(
        work.electric.wanted_line == nominal_parameters(unit, signal="electronic")["control_line_full"]
    )
    assert np.all(np.abs(work.line / work.electric.wanted_line - 1.0) < 0.06)


@pytest.mark.parametrize("wire", ["fuse", "plus", "to_controller", "earth"])
def test_without_current_it_drives_by_the_rest_states(unit, wire):
    """Whatever takes the current away, high gear and reverse are left, as springs and manual valve have it."""
    assert gears(unit, driven(unit, **{f"wire_open__{wire}": 1.0})) == REST


def test_one_parted_return_takes_its_own_solenoid_alone(unit):
    """Without the current of one the direct clutch is on in first too, and fights; without that of the other there is no first."""
    work = driven(unit, wire_open__back_two=1.0)
    assert np.any(work.tie_up[0, 0] > 0.0) and gears(unit, work)[1:3] == ["second", "reverse"]
    assert np.all(driven(unit).tie_up == 0.0)
    assert gears(unit, driven(unit, wire_open__back_one=1.0))[:3] == ["neutral", "second", "reverse"]


def test_a_lost_signal_keeps_it_in_first(unit):
    """Without its one sensor it takes the vehicle for standing."""
    assert gears(unit, driven(unit, sensor_gap__pickup=0.02))[:2] == ["first", "first"]


def test_an_ohmmeter_finds_its_coils(unit):
    """From the controller's plug: coil at 20 C, wire of IEC 60028 copper and its pins; open where the wire is parted."""
    p, warm = nominal_parameters(unit, signal="electronic"), np.full((1, 1), 293.15)
    between, apart = ("coils", "J9:2"), ("J9",)
    assert ohms(Plant(unit, p), between, apart, warm)[0, 0] == pytest.approx(
        6.0 + 3.0 * 0.0345 + 0.01, abs=0.05
    )
    p["wire_open"][..., unit.owners("wire").index("back_two")] = 1.0
    assert ohms(Plant(unit, p), between, apart, warm)[0, 0] > 1e6


def test_it_has_the_causes_of_its_parts_and_no_others(unit):
    """Nothing that names a wire, sensor or solenoid of another unit, and no cause of a hydraulic control."""
    ids = {cause.id for cause in causes_of(unit, "electronic")}
    assert {CAUSE, "tire_data_wrong", "cooler_restricted_e6", "line_regulator_bore_worn"} <= ids
    assert not ids & {
        "pcd_pce_plugs_swapped",
        "module_missing_on_bus",
        "wheel_sizes_mixed",
        "vacuum_hose_leak",
    }
    has_no_other_causes(unit, "electronic")


def test_it_lives_and_a_cause_ends_its_life_early(unit, parameters):
    """Sound, few complain in 60,000 miles and no code is stored; with a clogged filter all do; nothing is out of range."""
    sound, miles = struck(unit, parameters, None)
    assert np.mean(miles < 60_000.0) < 0.1 and np.all(sound.condition.memory.failed < 1.0)
    _, miles = struck(unit, parameters, CAUSE)
    assert np.all((miles >= 20_000.0) & (miles < 60_000.0))


@pytest.fixture(scope="module")
def made(unit):
    """A case of it and its key."""
    return make_case(seed=5, unit=NAME, cause=CAUSE)


def test_it_runs_a_case(made):
    """Generated and proved: the part alone comes back, the whole repair holds; the model answer is right in both halves."""
    case, key = made
    assert key.causes == (CAUSE,) and key.parts[0] in dict(case.part_choices)
    assert key.stories["part only"].miles is not None and key.stories["part and cause"].miles is None
    right = model_record(case, key).handed_in
    assert mark(right, key).outcome is Outcome.PART_AND_CAUSE
    wrong = next(name for name, _ in case.cause_choices if name not in key.causes)
    assert not mark(Answer(parts=key.parts, causes=(wrong,)), key).cause_right


def test_its_pictures_draw(unit, subject, made):
    """Wiring, ranges, levers, and every finding of a vehicle of it."""
    said = " ".join(wiring_diagram("Wiring", unit.control, (), verdict=False).words())
    control = unit.control
    assert all(each.id in said for each in control.plugs)
    assert all(
        each.label in said for each in (*control.sensors, *(w for w in control.wires if w.kind == "fuse"))
    )
    assert all(
        each.id.upper() in said and each.drives.replace("_", " ") in said for each in control.solenoids
    )
    for gear in ("first", "second", "reverse"):
        assert power_path(NAME, gear, verdict=False).svg() and member_speeds(NAME, gear, verdict=False).svg()
    found = make_inspections(subject, row=0)
    drawn = {name: pictures_of(finding, verdict=True, unit=NAME) for name, finding in found.items()}
    assert {"road_test", "stall_test", "air_test"} <= {n for n, each in drawn.items() if each}
