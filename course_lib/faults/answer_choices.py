"""What a full answer can choose from: links of a chain, what belongs to a repair, its proof, cautions.

The lists depend on the unit alone and never on the case, so that they give nothing away. What goes with one kind of control only
says so under `controls`; everything else is offered for every unit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from fnmatch import fnmatchcase
from functools import cache
from typing import Literal, TypeVar

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import all_parts
from course_lib.shop.findings import OUTSIDE, Finding, Look
from course_lib.shop.holders import HoldingElement, one_ways, pressed
from course_lib.vehicle.unit_spec import ControlKind, UnitSpec

Pair = tuple[str, str]  # (id, label)
LINK_KINDS = ("state", "action", "damage", "felt")
"""The way of a chain: what is out of order, what the elements then do, what that ruins, what the owner feels."""
LinkKind = Literal["state", "action", "damage", "felt"]
Side = Literal["below", "above", "either"]


BOTH: tuple[ControlKind, ...] = ("hydraulic", "electronic")


class ChainLink(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One link a chain can have; the fields are explained at the head of datasets/record/links.toml."""

    id: str
    label: str
    kind: LinkKind = msgspec.field(name="stage")  # in the data file; elsewhere a stage is one of a life
    events: tuple[str, ...] = ()
    out: dict[str, Side] = {}
    looks: dict[str, int] = {}
    of: Literal["", "pressed", "one-way"] = ""
    lock_up: bool = False
    starts: tuple[str, ...] = ()
    controls: tuple[ControlKind, ...] = BOTH

    def begins(self, changed: Iterable[str]) -> bool:
        """Whether one of some changes, by "parameter@place", shows first in this link."""
        return any(fnmatchcase(name, start) for name in changed for start in self.starts)

    def shown_by(self, out: list[tuple[str, str]], looks: Iterable[Look]) -> bool:
        """Whether one of some readings (key, side of the spec it left) or looks shows this link."""
        sides = (
            (wanted, side) for key, side in out for each, wanted in self.out.items() if fnmatchcase(key, each)
        )
        return any(wanted in ("either", side) for wanted, side in sides) or any(
            reaches_grade(look, self.looks) for look in looks
        )


def links_in_finding(unit: UnitSpec, finding: Finding) -> frozenset[str]:
    """The links that something in `finding` shows: a reading out of spec on their side, or a look that reaches their grade."""
    out = [
        (reading.key, reading.verdict.split()[0])
        for reading in finding.readings
        if reading.verdict in OUTSIDE
    ]
    looks = [look for look in finding.looks if look.grade]
    return frozenset(link.id for link in chain_links(unit).values() if link.shown_by(out, looks))


def reaches_grade(look: Look, wanted: dict[str, int]) -> bool:
    """Whether a look is one of those `wanted`, by key (* stands for any text), and reaches the grade."""
    return any(look.grade >= grade and fnmatchcase(look.key, key) for key, grade in wanted.items())


class RepairExtra(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing that belongs to a repair beside parts and cause; see datasets/record/repairs.toml."""

    id: str
    label: str
    kind: Literal["flush", "wear", "set_up", "relearn", "harm"]
    groups: tuple[str, ...] = ()
    controls: tuple[ControlKind, ...] = BOTH


class EstimateOption(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One way to offer in an estimate; where `least` is below `most` the unit comes out, and the cost in rebuilds decides."""

    id: str
    label: str
    least: float = 0.0
    most: float = 0.0


class Estimates(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What decides between the ways of an estimate; see datasets/record/estimate.toml."""

    rebuild: float
    out: float
    ways: tuple[EstimateOption, ...]
    in_place: frozenset[str]
    apart: frozenset[str]
    hours: dict[str, float]
    own: dict[str, float]

    def share(self, parts: Collection[str], causes: Collection[str]) -> float:
        """What parts and causes cost against a rebuild; 0 where the unit can stay in."""
        if set(parts) <= self.in_place and self.apart.isdisjoint(causes):
            return 0.0
        each = (self.own.get(name, self.hours[all_parts()[name].group]) for name in parts)
        return (self.out + sum(each)) / self.rebuild

    def fitting(self, share: float) -> tuple[EstimateOption, ...]:
        """The ways that fit such a share."""
        return tuple(w for w in self.ways if (w.least < share <= w.most if share else not w.most))


class FollowUp(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One recheck or piece of advice; see datasets/record/proof.toml."""

    id: str
    label: str
    kind: Literal["recheck", "advice"]
    sound: bool
    groups: tuple[str, ...] = ()
    controls: tuple[ControlKind, ...] = BOTH


class Caution(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One caution; see datasets/record/cautions.toml."""

    id: str
    label: str
    kind: Literal["care", "generic", "not", "unsafe"]
    risks: tuple[str, ...] = ()
    refused: str = ""
    allowed: str = ""
    looks: dict[str, int] = {}
    controls: tuple[ControlKind, ...] = BOTH


Choice = TypeVar("Choice", ChainLink, RepairExtra, FollowUp, Caution)


class _Links(msgspec.Struct, frozen=True):
    links: tuple[ChainLink, ...]


class _Repairs(msgspec.Struct, frozen=True):
    repairs: tuple[RepairExtra, ...]


class _Proof(msgspec.Struct, frozen=True):
    proof: tuple[FollowUp, ...]


class _Cautions(msgspec.Struct, frozen=True):
    cautions: tuple[Caution, ...]


@cache
def chain_links(unit: UnitSpec) -> dict[str, ChainLink]:
    """Every link that a vehicle with that unit can have, by id, in the order of their kinds."""
    book = offered_for(unit, {link.id: link for link in read_data("record/links", _Links).links}).values()
    found = [each for link in book if unit.lockup_gears or not link.lock_up for each in _spread(link, unit)]
    return {link.id: link for kind in LINK_KINDS for link in found if link.kind == kind}


def _spread(link: ChainLink, unit: UnitSpec) -> list[ChainLink]:
    """One link for each element it speaks of; itself when it speaks of none."""
    if not link.of:
        return [link]
    holders = pressed(unit) if link.of == "pressed" else one_ways(unit)
    return [_for(link, each) for each in holders]


def _for(link: ChainLink, holder: HoldingElement) -> ChainLink:
    def named(text: str) -> str:
        return text.replace("{element}", holder.element.id).replace("{stem}", holder.stem)

    return msgspec.structs.replace(
        link,
        id=named(link.id),
        label=link.label.replace("{element}", holder.label),
        events=tuple(named(event) for event in link.events),
        out={named(key): side for key, side in link.out.items()},
        looks={named(key): grade for key, grade in link.looks.items()},
    )


@cache
def repair_extras() -> dict[str, RepairExtra]:
    """Everything that can belong to a repair beside parts and cause, by id."""
    return {each.id: each for each in read_data("record/repairs", _Repairs).repairs}


@cache
def estimates() -> Estimates:
    """What an owner can be offered, and what decides. Raises ValueError for a part or cause that does not exist."""
    book = read_data("record/estimate", Estimates)
    for name in (*book.in_place, *book.own):
        one_of("part of the estimate", name, all_parts())
    for name in book.apart:
        one_of("cause of the estimate", name, all_causes())
    return book


@cache
def follow_ups() -> dict[str, FollowUp]:
    """Every recheck and piece of advice, by id."""
    return {each.id: each for each in read_data("record/proof", _Proof).proof}


@cache
def cautions() -> dict[str, Caution]:
    """Every caution, by id."""
    return {each.id: each for each in read_data("record/cautions", _Cautions).cautions}


def offered_for(unit: UnitSpec, book: dict[str, Choice]) -> dict[str, Choice]:
    """What of a list goes with the control of a unit."""
    return {name: each for name, each in book.items() if unit.kind_of_control in each.controls}


def labeled_choices(book: dict[str, Choice]) -> tuple[Pair, ...]:
    """(id, label) of each entry, in order."""
    return tuple((each.id, each.label) for each in book.values())
