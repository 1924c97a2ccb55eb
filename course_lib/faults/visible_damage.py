"""What the findings of a workshop show of each part: sound, worn or broken. Nothing else says what is broken on a vehicle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np

from course_lib.faults.parts import BROKEN, NO_PART, SOUND, WORN, Part, PartView, parts_of
from course_lib.shop.batch import BatchFinding, BatchReading, instrument_error
from course_lib.shop.findings import Finding
from course_lib.shop.holders import holders
from course_lib.shop.inspect import METHODS, methods_of
from course_lib.shop.procedure import carry_out
from course_lib.shop.subject import Subject
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

Degrees = np.ndarray | int  # of n vehicles (n,), or of one: SOUND, WORN, BROKEN, or whatever is looked at
ByKey = Mapping[str, Degrees]  # grades of looks, or sides of its spec on which a reading stands: -1, 0, 1
SIDES = {"below": -1, "above": 1}


def view_keys(view: PartView, unit: UnitSpec) -> tuple[str, ...]:
    """The keys of the looks or readings that a view speaks of, on that unit."""
    key = view.look or view.reading
    each = [holder for holder in holders(unit) if holder.element.id in view.of]
    filled = [key.format(stem=holder.stem, element=holder.element.id) for holder in each]
    return tuple(filled) if view.of else (key,)


def damage_in_findings(findings: dict[str, Finding], unit: UnitSpec, signal: str) -> dict[str, int]:
    """What findings, by inspection, show of each part that is not sound: part -> WORN or BROKEN."""
    return {part: max(views.values()) for part, views in damaged_views(findings, unit, signal).items()}


def visible_damage(subject: Subject, seeds: Sequence[int] | np.ndarray) -> dict[str, np.ndarray]:
    """What a workshop would be shown of each part of n vehicles, by part: (n,) of SOUND, WORN and BROKEN.

    seeds (n,): of the shop that takes each; see `instrument_error`.
    """
    seeds = np.asarray(seeds)
    each = [_shown(subject.rows(rows), seeds[rows]) for rows in subject.chunks()]
    return {part: np.concatenate([some[part] for some in each]) for part in each[0]}


def _shown(subject: Subject, seeds: np.ndarray) -> dict[str, np.ndarray]:
    """The same of a few."""
    unit = subject.unit
    names = _inspections(unit, subject.signal)
    found = carry_out(subject, [METHODS[name](subject) for name in names])
    wanted = {
        key for part in parts_of(unit, subject.signal) for view in part.seen for key in view_keys(view, unit)
    }
    grade = {each.key: each.grades() for one in found for each in one.seen if each.key in wanted}
    side = {r.key: _sides(r, subject, seeds) for one in found for r in one.measured if r.key in wanted}
    degrees = _degrees(unit, subject.signal, grade, side)
    return {part: np.broadcast_to(degree, (subject.size,)) for part, degree in degrees.items()}


def _sides(each: BatchReading, subject: Subject, seeds: np.ndarray) -> np.ndarray:
    """Side of its spec on which a reading stands, (n,): -1, 0 or 1, as each shop's instrument shows it."""
    low, high = subject.unit.spec[each.key]
    some, which = np.unique(seeds, return_inverse=True)
    error = np.array([instrument_error(int(seed), each.key) for seed in some])[which]
    value = np.round(each.value + each.sigma * error, each.decimals)  # as `Reading.verdict` sees it
    return np.where(value > high, 1, np.where(value < low, -1, 0))


def _degrees(unit: UnitSpec, signal: str, grade: ByKey, side: ByKey) -> dict[str, Degrees]:
    """Degree of each part, from grades by look and sides by reading."""
    return {part.id: _worst(part, unit, grade, side) for part in parts_of(unit, signal) if part.id != NO_PART}


def _worst(part: Part, unit: UnitSpec, grade: ByKey, side: ByKey) -> Degrees:
    """The worst that any view of a part shows."""
    worst: Degrees = SOUND
    for view in part.seen:
        for key in view_keys(view, unit):
            if key in grade or key in side:
                worst = np.maximum(worst, _counts(view, key, grade, side))
    return worst


def _counts(view: PartView, key: str, grade: ByKey, side: ByKey) -> Degrees:
    """What one view shows."""
    degree: Degrees = SOUND
    for limit, counts in ((view.worn, WORN), (view.broken, BROKEN)):
        if isinstance(limit, int):
            degree = np.maximum(degree, (grade[key] >= limit) * counts)
        elif limit is not None:
            degree = np.maximum(degree, (side[key] == SIDES[limit]) * counts)
    return degree


def damaged_views(findings: dict[str, Finding], unit: UnitSpec, signal: str) -> dict[str, dict[str, int]]:
    """The views under which findings, by inspection, show parts that are not sound: part -> key -> WORN or BROKEN."""
    grade, side = _read(findings)
    found: dict[str, dict[str, int]] = {}
    for part in parts_of(unit, signal):
        for view in part.seen:
            for key in view_keys(view, unit):
                if key in (grade if view.look else side) and (degree := int(_counts(view, key, grade, side))):
                    found.setdefault(part.id, {})[key] = degree
    return found


def _read(findings: dict[str, Finding]) -> tuple[dict[str, int], dict[str, int]]:
    """Grades by look and sides of spec by reading."""
    grade = {look.key: look.grade for finding in findings.values() for look in finding.looks}
    side = {r.key: int(np.sign(r.deviation)) for finding in findings.values() for r in finding.readings}
    return grade, side


def views_of(part: Part, unit: UnitSpec) -> tuple[str, ...]:
    """Keys of everything that shows a part on that unit."""
    return tuple(key for view in part.seen for key in view_keys(view, unit))


@cache  # it takes every inspection of a vehicle
def inspection_by_key(unit: UnitSpec, signal: str) -> dict[str, str]:
    """The inspection that gives each look and reading of a kind of vehicle, the least opening first: key -> inspection."""
    plant = Plant(unit, nominal_parameters(unit, signal=signal))
    subject = Subject(plant, new_condition(1, unit), signal, "mixed")
    methods = methods_of(unit)
    found: list[BatchFinding] = carry_out(subject, [method(subject) for method in methods.values()])
    place: dict[str, str] = {}
    for name, one in zip(methods, found, strict=True):
        for key in (*(each.key for each in one.measured), *(each.key for each in one.seen)):
            place.setdefault(key, name)
    return place


def _inspections(unit: UnitSpec, signal: str) -> tuple[str, ...]:
    """The inspections that hold the views of the parts of a kind of vehicle."""
    place = inspection_by_key(unit, signal)
    keys = [key for part in parts_of(unit, signal) for key in views_of(part, unit)]
    return tuple(name for name in METHODS if name in {place[key] for key in keys if key in place})
