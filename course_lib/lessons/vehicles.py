"""Vehicles that a lesson shows: described in its file, lived by the simulator, looked at by the inspections of the shop.

A vehicle is named for what a person sees ("truck_a"), never for what ails it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, NamedTuple

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.faults.causes import load_cause
from course_lib.faults.measures import Signal
from course_lib.faults.parts import renew
from course_lib.faults.repair import DRIVERS, TrialRepair, growths_after
from course_lib.shop.findings import Finding
from course_lib.shop.inspect import make_inspection
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.life import live
from course_lib.vehicle.operating_point import PLAIN, Condition, new_condition
from course_lib.vehicle.unit_spec import UnitSpec, load_unit, nominal_parameters

UNFELT = 1e-6  # sensitivity of a driver who never complains, so that all the miles are driven

Share = Annotated[float, msgspec.Meta(ge=0, le=1)]


class LessonVehicle(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A vehicle of a lesson, and the label it stands under in a table. Without a cause it is sound.

    severity: of the cause, 0 mild to 1 severe. also, also_severity: a second cause that set in with it. miles: driven since then,
    in the owner's `use`. over_qt: quarts filled in above the mark from the first mile on. worn, charred and hard: what it came
    with besides, as in `Condition`: plain entries by name, lining char and hardness of seals by element. fitted, corrected: a
    repair made after that, parts renewed and which causes were put right, all of them or some by id. then_miles: driven on after
    the repair, or until the owner comes back.
    """

    label: str = ""
    unit: str = "T3"
    signal: Signal = "vacuum"
    use: str = "mixed"
    cause: str = ""
    severity: Share = 0.5
    also: str = ""
    also_severity: Share = 0.5
    miles: Annotated[float, msgspec.Meta(ge=0, le=60_000)] = 0.0
    over_qt: Annotated[float, msgspec.Meta(ge=-3, le=3)] = 0.0
    worn: dict[str, float] = {}
    charred: dict[str, Share] = {}
    hard: dict[str, Share] = {}
    fitted: tuple[str, ...] = ()
    corrected: bool | tuple[str, ...] = False
    then_miles: Annotated[float, msgspec.Meta(ge=0, le=60_000)] = 0.0

    @property
    def unit_spec(self) -> UnitSpec:
        """Its transmission."""
        return load_unit(self.unit)


def read_vehicles(raw: dict[str, dict[str, Any]]) -> dict[str, LessonVehicle]:
    """The vehicles of a lesson file by name; one that is `like` another one before it takes over what it leaves out."""
    whole: dict[str, dict[str, Any]] = {}
    for name, given in raw.items():
        model = given.get("like")
        if model is not None:
            one_of(f"like of vehicle {name}", model, whole)
        own = {field: value for field, value in given.items() if field != "like"}
        whole[name] = (whole[model] if model else {}) | own
    return msgspec.convert(whole, dict[str, LessonVehicle])


def subject(vehicle: LessonVehicle) -> Subject:
    """The vehicle on the lift, ready to be inspected."""
    return _lived(msgspec.json.encode(vehicle)).subject


def came_back(vehicle: LessonVehicle) -> float | None:
    """Miles from the repair until the owner came back, or None who has driven `then_miles` content."""
    return _lived(msgspec.json.encode(vehicle)).came_back


class _Lived(NamedTuple):
    """A vehicle at the end of its story, and miles from the repair until its owner came back, if he did."""

    subject: Subject
    came_back: float | None


class _Before(NamedTuple):
    """A vehicle as it came in: what ails it, by cause, its condition, and its odometer (1, 1) in meters."""

    base: dict[str, np.ndarray]
    causes: dict[str, Growth]
    condition: Condition
    here: np.ndarray


@cache
def _lived(described: bytes) -> _Lived:
    vehicle = msgspec.json.decode(described, type=LessonVehicle)
    as_it_came = msgspec.structs.replace(vehicle, label="", fitted=(), corrected=False, then_miles=0.0)
    base, causes, condition, here = _before(msgspec.json.encode(as_it_came))
    world = Fleet(vehicle.unit_spec, vehicle.use, base, tuple(causes.values()))
    if vehicle.fitted or vehicle.corrected:
        condition = renew(condition, vehicle.unit_spec, vehicle.fitted)
        world = Fleet(vehicle.unit_spec, vehicle.use, base, tuple(_left(vehicle, causes, here)))
    back = None
    if vehicle.then_miles:
        far = here + vehicle.then_miles * units.MILE
        lived = live(world, condition, here + units.MILE, far, np.full((1, 1), DRIVERS["ordinary"]))
        back = float(lived.odometer[0] - here[0, 0]) / units.MILE if lived.complained[0] else None
        condition, here = lived.condition, lived.odometer[:, None]
    return _Lived(Subject(world.plant(here), condition, vehicle.signal, vehicle.use), back)


@cache
def _before(described: bytes) -> _Before:
    """The life up to the repair, lived once for all repairs that are tried on a vehicle."""
    vehicle = msgspec.json.decode(described, type=LessonVehicle)
    base = nominal_parameters(vehicle.unit_spec, signal=vehicle.signal)
    base |= {"sump_charge": base["sump_charge"] + units.from_quart(vehicle.over_qt)}
    causes = _causes(vehicle, base)
    condition, here = _came_with(vehicle), np.full((1, 1), max(vehicle.miles, 1.0) * units.MILE)
    if vehicle.miles:
        world = Fleet(vehicle.unit_spec, vehicle.use, base, tuple(causes.values()))
        condition = live(world, condition, np.zeros((1, 1)), here, np.full((1, 1), UNFELT)).condition
    return _Before(base, causes, condition, here + sum(growth.over for growth in causes.values()))


def _causes(vehicle: LessonVehicle, base: dict[str, np.ndarray]) -> dict[str, Growth]:
    """What each cause changes, from mile 0 on, by the id of the cause."""
    asked = {vehicle.cause: vehicle.severity, vehicle.also: vehicle.also_severity}
    unit, start = vehicle.unit_spec, np.zeros((1, 1))
    return {
        name: load_cause(name).growth(unit, base, np.array([severity]), start)
        for name, severity in asked.items()
        if name
    }


def _left(vehicle: LessonVehicle, causes: dict[str, Growth], here: np.ndarray) -> Iterator[Growth]:
    """What is left of the causes after the repair."""
    corrected = causes if vehicle.corrected is True else vehicle.corrected or ()
    plan = TrialRepair(parts=tuple(vehicle.fitted), corrected=frozenset(corrected))
    return growths_after(
        vehicle.unit_spec, {load_cause(name): causes[name] for name in causes}, plan, float(here[0, 0])
    )


def _came_with(vehicle: LessonVehicle) -> Condition:
    """The condition before the cause sets in. Raises ValueError for an entry or an element that is not there."""
    ids = vehicle.unit_spec.element_ids
    condition = new_condition(1, vehicle.unit_spec)
    for name, value in vehicle.worn.items():
        one_of("worn", name, PLAIN)
        getattr(condition, name)[:] = value
    for field, by_element in (("char", vehicle.charred), ("seal", vehicle.hard)):
        for element, value in by_element.items():
            one_of("element", element, ids)
            getattr(condition, field)[0, 0, ids.index(element)] = value
    return condition


@cache
def _finding(described: bytes, inspection: str) -> Finding:
    return make_inspection(_lived(described).subject, inspection)


def inspect_vehicle(vehicle: LessonVehicle, inspection: str) -> Finding:
    """What one inspection of the vehicle gives; the same each time. Raises ValueError for an unknown inspection."""
    return _finding(msgspec.json.encode(vehicle), inspection)
