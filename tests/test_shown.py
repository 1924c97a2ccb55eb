"""Views of parts, checked by perturbing: one measure of a vehicle as the sheet has it is moved at a time, and all is looked at."""

from functools import cache

import numpy as np
import pytest

from course_lib.faults import visible_damage
from course_lib.faults.causes import causes_of
from course_lib.faults.measures import exists, known_units, nominal
from course_lib.faults.parts import BROKEN, NO_PART, WORN, all_parts, parts_of
from course_lib.faults.repair import join_vehicles, stack_conditions
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.unit_spec import nominal_parameters, parameter_place

KINDS = [(unit, signal) for unit in known_units() for signal in unit.signals]
IDS = [f"{unit.name}-{signal}" for unit, signal in KINDS]
RUINED = {
    "pump": 1.2,
    "bushing": 0.95,
    "seal": 0.95,
}  # how far a worn-out entry of the condition goes; others 0.9
# Where one thing shows two parts, as it does in a workshop: whose measure it is, and what is called broken beside it.
ALSO_BROKEN = {
    ("planetary_set", "thrust_washers"),
    (
        "vehicle_harness",
        "case_plug",
    ),  # oil in the controller's plug has come through the body of the case plug
}
# Parts that own nothing a workshop could renew apart: shown by the measure of another, or by how the unit is bolted up.
OWN_NOTHING = {NO_PART, "pressure_solenoid_set"}  # the set is what shops order: its members own all


def ruined(unit, name):
    """A new vehicle's condition with one entry worn out."""
    condition = new_condition(1, unit)
    entry, _, element = name.partition("@")
    value = RUINED.get(entry, 0.9)
    if element:
        column = unit.element_ids.index(element)
        full = (
            nominal_parameters(unit, signal=unit.signals[0])["element_lining"][0, 0, column]
            if entry == "lining"
            else 1.0
        )
        getattr(condition, entry)[..., column] = value * full
    else:
        getattr(condition, entry)[:] = value
    return condition


def changed(unit, signal, effects, severity):
    """The sheet's parameters with some effects of a cause."""
    base = nominal_parameters(unit, signal=signal)
    for effect in effects:
        name, column = parameter_place(unit, effect.parameter)
        base[name] = base[name] + effect.change(base[name], column, np.array([severity]))
    return base


def by_causes(unit, signal, part):
    """(cause and how severe, parameters) with all that each cause changes of a part's own."""
    for cause in causes_of(unit, signal):
        mine = [e for e in cause.effects if e.parameter in part.owns and part.id in (cause.seat, e.stays)]
        for severity in (0.0, 1.0) if mine else ():
            yield f"{cause.id} {severity:g}", changed(unit, signal, mine, severity)


@cache
def moved(unit_signal):
    """(owner, measure, cause and how severe) of each lane, and what is shown of each part in it."""
    unit, signal = KINDS[unit_signal]
    whole, lanes = nominal_parameters(unit, signal=signal), []
    for part in parts_of(unit, signal):
        for name in part.owns:
            if not exists(name, unit) or (name.startswith("lockup") and not nominal("lockup_fitted", unit)):
                continue
            if name in part.entries:
                lanes.append((part.id, name, "", whole, ruined(unit, name)))
        for how, values in by_causes(unit, signal, part):
            lanes.append((part.id, "all that is its own", how, values, new_condition(1, unit)))
        if not any(lane[0] == part.id for lane in lanes):  # no cause moves it: codes name it, and it is sound
            for name in filter(lambda name: name.startswith("solenoid_coil"), part.owns):
                base, column = nominal_parameters(unit, signal=signal), parameter_place(unit, name)[1]
                base["solenoid_coil"][..., column] *= 3.0
                lanes.append((part.id, name, "coil of three times the ohms", base, new_condition(1, unit)))
    world = join_vehicles([Fleet(unit, "mixed", values) for *_, values, _ in lanes])
    subject = Subject(
        world.plant(np.zeros((len(lanes), 1))),
        stack_conditions([lane[-1] for lane in lanes]),
        signal,
        "mixed",
    )
    degrees = visible_damage.visible_damage(subject, np.zeros(len(lanes), int))
    return [
        (lane[:3], {part: int(d[i]) for part, d in degrees.items() if d[i]}) for i, lane in enumerate(lanes)
    ]


@pytest.mark.parametrize("kind", range(len(KINDS)), ids=IDS)
def test_a_measure_that_is_moved_shows_its_owner(kind):
    """No part can be broken that no view shows: worn out, or as far as a cause moves it when mild, its owner is seen."""
    unseen = [lane for lane, degrees in moved(kind) if lane[0] not in degrees]
    assert not unseen


@pytest.mark.parametrize("kind", range(len(KINDS)), ids=IDS)
def test_a_measure_that_is_moved_breaks_no_other_part(kind):
    """A view of "broken" is moved by no measure of another part, but where the trade cannot tell the two either."""
    others = {
        (lane[0], part)
        for lane, degrees in moved(kind)
        for part, degree in degrees.items()
        if degree == BROKEN and part != lane[0]
    }
    assert others <= ALSO_BROKEN


@pytest.mark.parametrize("kind", range(len(KINDS)), ids=IDS)
def test_every_part_of_a_list_can_be_shown(kind):
    """Each part that owns something is worn or broken in some lane; each of the others is shown beside one."""
    unit, signal = KINDS[kind]
    seen = {part for _, degrees in moved(kind) for part, degree in degrees.items() if degree >= WORN}
    assert {part.id for part in parts_of(unit, signal)} - seen <= OWN_NOTHING


def test_every_view_is_a_finding():
    """No key of the data file is misspelled: each stands in some inspection of some kind of vehicle."""
    found = set().union(*(visible_damage.inspection_by_key(unit, signal) for unit, signal in KINDS))
    for part in all_parts().values():
        for view in part.seen:
            assert any(key in found for unit, _ in KINDS for key in visible_damage.view_keys(view, unit)), (
                part.id,
                view,
            )
        assert part.owns or part.id in OWN_NOTHING
