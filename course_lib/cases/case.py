"""A case: the vehicle as a learner meets it, and apart from it the key.

A case holds a work order and findings, nothing else: no cause, no parameter, no wear. The key holds what is broken, why, and the
repairs driven forward.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cached_property
from operator import attrgetter

import msgspec

from course_lib.base.units import text_in_system
from course_lib.faults import answer_choices
from course_lib.faults.causes import cause_choices
from course_lib.faults.parts import part_choices
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import (
    Finding,
    Inspection,
    RefusedAct,
    load_inspection,
    offered_inspections,
    refused_acts,
)
from course_lib.shop.order import check_allowed
from course_lib.vehicle.unit_spec import UnitSpec, load_unit

NO_SEED = 0
"""The seed that a learner's case shows: with the true one, anybody could make the key again. The key keeps the true one."""
CASE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,39}")


class WorkOrder(msgspec.Struct, frozen=True, kw_only=True):
    """What the counter wrote down."""

    number: str
    vehicle: str
    unit_name: str
    odometer_miles: int
    owner: str
    complaint: str
    since: str
    use: str
    history: str


class CaseFile(msgspec.Struct, frozen=True, kw_only=True):
    """A case as stored."""

    id: str
    seed: int
    generator_version: int
    unit: str
    signal: str
    work_order: WorkOrder
    findings: dict[str, Finding]


class Case:
    """One vehicle to diagnose. Inspections are paid for in minutes and answer the same each time.

    Its lists of choices never change, so each is put together once: a page asks for all of them at every click.
    """

    def __init__(self, file: CaseFile) -> None:
        self._file = file
        self._made: list[Finding] = []

    @property
    def id(self) -> str:
        """Name of the case."""
        return self._file.id

    @property
    def seed(self) -> int:
        """Seed it was made from."""
        return self._file.seed

    @property
    def generator_version(self) -> int:
        """Version of the generator that made it."""
        return self._file.generator_version

    @property
    def unit(self) -> str:
        """Name of the transmission."""
        return self._file.unit

    @property
    def unit_spec(self) -> UnitSpec:
        """The transmission itself: its gears, elements and spec sheet."""
        return load_unit(self.unit)

    @property
    def signal(self) -> str:
        """Load signal: "vacuum", "cable", or "electronic" where a controller works it."""
        return self._file.signal

    @property
    def work_order(self) -> WorkOrder:
        """What the counter wrote down."""
        return self._file.work_order

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings so far, in order."""
        return tuple(self._made)

    @property
    def minutes_used(self) -> int:
        """Minutes spent so far."""
        return sum(f.minutes for f in self._made)

    @property
    def offered(self) -> tuple[Inspection, ...]:
        """Inspections that can be made of this vehicle."""
        return tuple(offered_inspections(self._file.findings).values())

    @property
    def refused_acts(self) -> tuple[RefusedAct, ...]:
        """Ways of finding out that are refused on this vehicle whenever they are asked for."""
        control = self.unit_spec.kind_of_control
        return tuple(act for act in refused_acts().values() if control in act.controls)

    @cached_property
    def part_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every part to choose from; the same for every case with this unit and load signal."""
        return part_choices(self.unit_spec, self.signal)

    @cached_property
    def cause_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every root cause to choose from; the same for every case with this unit and load signal."""
        return cause_choices(self.unit_spec, self.signal)

    @cached_property
    def chain_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every link a chain can have; the same for every case with this unit."""
        return answer_choices.labeled_choices(answer_choices.chain_links(self.unit_spec))

    @cached_property
    def repair_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of what can belong to a repair beside parts and cause; the same for every case with this unit."""
        return self._labeled(answer_choices.repair_extras())

    @cached_property
    def estimate_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of the ways an owner can be offered; the same for every case."""
        return tuple((way.id, way.label) for way in answer_choices.estimates().ways)

    @cached_property
    def proof_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of rechecks ("recheck_...") and advice ("advice_..."); the same for every case with this unit."""
        return self._labeled(answer_choices.follow_ups())

    @cached_property
    def caution_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every caution; the same for every case with this unit."""
        return self._labeled(answer_choices.cautions())

    def _labeled(self, book: dict[str, answer_choices.Choice]) -> tuple[tuple[str, str], ...]:
        """(id, label) of what of a list is offered for this unit."""
        return answer_choices.labeled_choices(answer_choices.offered_for(self.unit_spec, book))

    def spec_sheet(self, system: str = "workshop") -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        """(inspection, ((reading, spec), ...)) of everything the unit's sheet gives, in "workshop" or "metric" units.

        A reading that several inspections give stands with the first of them.
        """
        groups, told = [], set[str]()
        for finding in self._file.findings.values():
            due = {r.label: r for r in finding.readings if r.spec is not None and r.label not in told}
            shown = (reading_in_system(each, system) for each in due.values())
            if due:
                groups.append(
                    (text_in_system(finding.title, system), tuple((r.label, r.spec_text) for r in shown))
                )
            told |= set(due)
        return tuple(groups)

    def inspect(self, inspection: str) -> Finding:
        """Make an inspection. One made before is not paid for again.

        Raises ValueError for an unknown name, InspectionRefused when something must come first, it could do harm, or this unit has
        nothing to inspect there.
        """
        if inspection not in refused_acts():
            load_inspection(inspection)
        for finding in self._made:
            if finding.inspection == inspection:
                return finding
        check_allowed(inspection, self._made, self._file.findings)
        self._made.append(self._file.findings[inspection])
        return self._made[-1]

    def anew(self) -> Case:
        """The same vehicle with nothing inspected yet."""
        return Case(self._file)

    def __repr__(self) -> str:
        order = self.work_order
        return f"Case {self.id}: {order.vehicle}, {order.odometer_miles:,} miles. {len(self._made)} inspections made."


#: What a case holds; beside the class, so that completion shows a learner none of it.
file_of: Callable[[Case], CaseFile] = attrgetter("_file")


def findings_in(case: Case) -> dict[str, Finding]:
    """Every finding a case holds, by inspection, made or not: for marking it and for writing its words; no page shows them."""
    return file_of(case).findings


def altered(case: Case, **entries: str | int | WorkOrder) -> Case:
    """The same vehicle with other entries of its `CaseFile`, such as seed=NO_SEED, and nothing inspected."""
    return Case(msgspec.structs.replace(file_of(case), **entries))


def check_case_id(case_id: str) -> str:
    """`case_id` if it can name a file; raises ValueError otherwise."""
    if not CASE_ID.fullmatch(case_id):
        raise ValueError(
            f"case id must be letters, digits and dashes, 40 at most, got {case_id!r}. Give another."
        )
    return case_id
