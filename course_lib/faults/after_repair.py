"""What would be found of a vehicle with only the damage mended, and with all of it: which troubles last, which readings come right.

Both are looked up when a case is made and kept with its key, so that chain and proof are marked without driving anything, and the
same everywhere. Of a record only the repair plan is driven forward, where it is not the whole repair.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from course_lib.faults.answer_choices import chain_links, links_in_finding
from course_lib.faults.repair import Past, TrialRepair, condition_after, join_vehicles, stack_conditions
from course_lib.shop.findings import OUTSIDE, Finding
from course_lib.shop.inspect import make_findings
from course_lib.shop.interview import TALK
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.memory import clear_codes, reset_learned
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.unit_spec import UnitSpec

WRONG = (*OUTSIDE, "not read")


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterRepair:
    """lasting: links of a chain that are found, and would be even when whatever the causes ruined is new, the causes at work and
    nothing yet learned of what was ruined;
    proof: what is found wrong, and right once parts and causes are put right, but not already by clearing the codes. There a
    reading stands by its key, and an inspection by its id where less is noticed than before."""

    lasting: tuple[str, ...]
    proof: tuple[str, ...]


def after_repair(past: Past, before: dict[str, Finding], seed: int) -> AfterRepair:
    """What a workshop would find of `past`, where it found `before`, with the damage mended and with all of it."""
    victims = tuple(part for part in past.damaged if part not in past.seats)
    mended = condition_after(past, TrialRepair(parts=victims))
    mended = replace(mended, memory=reset_learned(mended.memory))
    vehicles = [(mended, past.world), _whole(past)]
    if past.unit.control is not None:
        cleared = replace(past.condition, memory=clear_codes(past.condition.memory))
        vehicles.append((cleared, past.world))
    damage, whole, *cleared_only = _findings(past, vehicles, seed)
    idle = {name for found in cleared_only for name in _righted(before, found)}
    proof = tuple(name for name in _righted(before, whole) if name not in idle)
    return AfterRepair(lasting=_starts(past, before, damage), proof=proof)


def findings_when_repaired(past: Past, seed: int) -> dict[str, Finding]:
    """Everything a workshop would find once all that is broken is new and every cause is put right, fluid new and to the mark."""
    (found,) = _findings(past, [_whole(past)], seed)
    return found


def _whole(past: Past) -> tuple[Condition, Fleet]:
    """The vehicle after the whole repair."""
    plan = TrialRepair(parts=past.damaged, corrected=frozenset(cause.id for cause in past.causes))
    return condition_after(past, plan), Fleet(past.unit, past.use, past.world.base)


def _starts(past: Past, before: dict[str, Finding], mended: dict[str, Finding]) -> tuple[str, ...]:
    """States, as links of a chain, that are found `before` and with the damage `mended`, without those that follow from another
    one."""
    shown = _shown(past.unit, before) & _shown(past.unit, mended) or _shown(past.unit, mended)
    states = [link for link in chain_links(past.unit).values() if link.id in shown]
    changed = [effect.parameter for cause in past.causes for effect in cause.effects]
    first = {link.id for link in states if link.begins(changed)}
    return tuple(link.id for link in states if not first or not link.starts or link.id in first)


def _shown(unit: UnitSpec, found: dict[str, Finding]) -> frozenset[str]:
    """The states, as links of a chain, that findings show."""
    links = frozenset().union(*(links_in_finding(unit, finding) for finding in found.values()))
    return frozenset(name for name in links if chain_links(unit)[name].kind == "state")


def _righted(before: dict[str, Finding], after: dict[str, Finding]) -> tuple[str, ...]:
    """What is wrong in `before` and right in `after`."""
    verdict = {reading.key: reading.verdict for finding in after.values() for reading in finding.readings}
    found = [r.key for f in before.values() for r in f.readings if r.verdict in WRONG]
    right = [key for key in found if verdict.get(key) == "within spec"]
    quieter = [name for name, finding in before.items() if _quieter(finding, after[name])]
    return tuple(dict.fromkeys(right + quieter))


def _quieter(before: Finding, after: Finding) -> bool:
    """Whether something was noticed that is gone; what people tell is no proof."""
    grade = {look.key: look.grade for look in after.looks}
    return before.inspection != TALK and any(grade[look.key] < look.grade for look in before.looks)


def _findings(past: Past, vehicles: list[tuple[Condition, Fleet]], seed: int) -> list[dict[str, Finding]]:
    """Everything a workshop would find of each vehicle after a repair, the fluid new and to the mark."""
    worlds = join_vehicles([world for _, world in vehicles])
    subject = Subject(
        plant=worlds.plant(np.full((len(vehicles), 1), past.odometer)),
        condition=stack_conditions([condition for condition, _ in vehicles]),
        signal=past.signal,
        use=past.use,
        seed=seed,
        felt={name: np.zeros((len(vehicles), 1)) for name in past.felt},
    )
    return make_findings(subject)
