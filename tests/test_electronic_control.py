"""The steady point of an electronic unit: from sensors to beliefs, currents, pressures, and the gear that they make."""

from functools import cache

import numpy as np
import pytest

from course_lib.base import units
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters
from course_lib.vehicle.uses import load_uses

UNIT = load_unit("E6")
HOT = units.from_fahrenheit(180.0)
CONTROL = UNIT.control
SOLENOIDS, WIRES, SENSORS = CONTROL.solenoid_ids, CONTROL.wire_ids, CONTROL.sensor_ids
GEARS = list(UNIT.gears)
ELEMENT = {"LC": 0, "HC": 1, "RC": 2, "SB": 3, "LB": 4}
OF = {"LC": "pcb", "HC": "pcc", "RC": "pcd", "SB": "pce"}
HIGH, LOW = (0.95, 0.1), (0.15, 1.0)  # currents without and with all pressure
# mph at which a light pedal is well inside each gear
CRUISE = {"first": 7.0, "second": 14.0, "third": 22.0, "fourth": 31.0, "fifth": 41.0, "sixth": 60.0}


def changed(cases=1, **changes):
    """Parameters of a sound vehicle but for these: name or name__owner -> value, or one for each case."""
    parameters = nominal_parameters(UNIT, cases, signal="electronic")
    for address, value in changes.items():
        name, _, owner = address.partition("__")
        axis = name.partition("_")[0]
        if owner:
            parameters[name][:, 0, UNIT.owners(axis).index(owner)] = value
        else:
            parameters[name][:] = np.reshape(value, (-1, *[1] * (parameters[name].ndim - 1)))
    return parameters


def run(op, cases=1, **changes):
    """What happens to sound vehicles but for these changes."""
    return Plant(UNIT, changed(cases, **changes)).operate(new_condition(cases, UNIT), op)


@cache
def cruising(throttle=0.25):
    """One point in each gear of D."""
    mph = np.array(list(CRUISE.values()))
    return operation("D", throttle=throttle, road_speed=units.from_mph(mph), temperature=HOT)


def test_it_drives_in_the_gear_that_it_wants():
    """Sound: a point in each gear, found where it was wanted; nothing slips and nothing fights."""
    work = run(cruising())
    assert [GEARS[gear] for gear in work.gear[0]] == list(CRUISE)
    np.testing.assert_array_equal(work.gear, work.electric.wanted_gear)
    assert not work.loss.any() and not work.tie_up.any()


# ---------------------------------------------------------------------- limp-home
@pytest.mark.parametrize(
    "high, drive, ties, reverse_ties",
    [
        (("LC", "HC"), "fourth", False, False),
        (("LC", "RC"), "third", False, False),
        (("LC", "SB"), "second", False, True),
        (("HC", "RC"), "fifth", False, False),
        (("LC", "HC", "RC"), "fourth", True, False),
        ((), "neutral", False, False),
    ],
)
def test_the_limp_gear_follows_from_the_rest_states(high, drive, ties, reverse_ties):
    """No current anywhere: the normally-high clutches make the gear; in R the manual valve does, whatever they are.

    Which pair makes which gear is the unit's own apply chart; that dead solenoids leave it is common practice, no source.
    """
    rest = {}
    for name, solenoid in OF.items():
        zero, full = HIGH if name in high else LOW
        rest |= {f"solenoid_zero_current__{solenoid}": zero, f"solenoid_full_current__{solenoid}": full}
    op = operation(("D", "R"), throttle=0.2, road_speed=units.from_mph(3.0), temperature=HOT)
    work = run(op, wire_open__relay_k1=1.0, **rest)
    assert np.all(work.electric.current < 1e-4)
    assert [GEARS[gear] for gear in work.gear[0]] == [drive, "reverse"]
    assert ((work.tie_up[0] > 0.5) == (ties, reverse_ties)).all(), work.tie_up
    assert work.line.min() > 0.95 * changed()["control_line_full"].item(), "without current the line is full"


def test_two_plugs_exchanged_give_exact_ratios():
    """D on E and E on D: 1.46 where 2.26 was wanted, and the other way round, 0.69 for 0.87 and 0.87 for 0.69; none slips."""
    work, ratio = run(cruising(), control_plugs_swapped=1.0), gear_tables(UNIT).ratio
    turns = work.electric.believed_turbine[0] / (cruising().road_speed / 0.36 * 3.4)
    wrong = {"second": 1.463, "third": 2.262, "fifth": 0.686, "sixth": 0.874}
    for column, gear in enumerate(CRUISE):
        expected = wrong.get(gear, ratio[UNIT.gear_index(gear)])
        assert turns[column] == pytest.approx(expected, abs=2e-3), gear
    assert not work.slip.any()


@pytest.mark.parametrize("use", list(load_uses().uses))
def test_sound_vehicles_hold_in_every_use(use):
    """No loss, nothing fights, the slip of the lock-up clutch as it is kept, the cooler fed."""
    day = duty_cycle(use, UNIT)
    work = (
        run(day.op) if False else Plant(UNIT, changed()).operate(new_condition(1, UNIT), day.op, day.seconds)
    )
    assert not work.loss.any() and not work.tie_up.any()
    slip = units.to_rpm(work.lockup_slip[work.lockup_on > 0])
    assert np.all((slip > 25.0) & (slip < 55.0)) and work.cooler_flow.min() > 0.0
