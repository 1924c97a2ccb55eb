"""What is left: which ranges the road test found holding, and what each of them says about the holding elements."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from course_lib.shop.findings import Finding
from course_lib.shop.road_moves import Move, all_moves
from course_lib.vehicle.unit_spec import UnitSpec

_ASKED = "hold_"  # what the keys of looks begin with that say how a gear held under load


@dataclass(frozen=True, slots=True)
class RangeDriven:
    """One thing driven on the road: how it is said, its gear and what that applies, how it held, and whether it did."""

    label: str
    gear: str
    elements: tuple[str, ...]
    found: str
    holds: bool


@dataclass(frozen=True, slots=True)
class ElementStatus:
    """What the road says about one element. word: "cleared", "suspect" or "open"; by: the ranges that say so."""

    element: str
    label: str
    word: str
    by: tuple[str, ...]


@cache
def _moves() -> dict[str, Move]:
    return {move.key: move for move in all_moves()}


def ranges_driven(unit: UnitSpec, findings: Collection[Finding]) -> tuple[RangeDriven, ...]:
    """Every gear that was asked under load and tried, in the order it was driven."""
    looks = [look for f in findings for look in f.looks if look.key.removeprefix(_ASKED) in _moves()]
    not_tried = {r.key for f in findings for r in f.readings if r.value is None}
    found = []
    for look in looks:
        move = _moves()[look.key.removeprefix(_ASKED)]
        if f"road_{move.key}_slip_rpm" in not_tried:
            continue
        label, _, said = look.text.partition(": ")
        found.append(RangeDriven(label, move.gear, unit.gears[move.gear], said, look.grade == 0))
    return tuple(found)


def element_statuses(unit: UnitSpec, roads: Collection[RangeDriven]) -> tuple[ElementStatus, ...]:
    """What the ranges driven say about each holding element: in a gear that held however it was asked, every element is sound,
    so another one must answer for a gear that slides."""
    sliding = {road.gear for road in roads if not road.holds}
    found = []
    for element in unit.elements:
        asked = [road for road in roads if element.id in road.elements]
        held = tuple(road.label for road in asked if road.gear not in sliding)
        slid = tuple(road.label for road in asked if not road.holds)
        word = "cleared" if held else "suspect" if slid else "open"
        found.append(ElementStatus(element.id, element.label, word, held or slid))
    return tuple(found)
