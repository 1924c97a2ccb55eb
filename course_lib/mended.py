"""What would be found of a vehicle with only the damage mended, and with all of it: which troubles last, which readings come right.

Both are looked up when a case is made and kept with its key, so that marking needs no simulation and is the same everywhere.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.catalogue.parts import NO_PART, renew
from course_lib.choices import links, shown_links
from course_lib.repair import Past, broken_parts
from course_lib.shop.findings import Finding
from course_lib.shop.inspect import make_inspections
from course_lib.shop.subject import Subject
from course_lib.transmission.world import World

TALK = "interview"
WRONG = ("below spec", "above spec", "not read")


def lasting_links(past: Past, seed: int) -> tuple[str, ...]:
    """What is out of order in `past` even when whatever its causes ruined is new: the causes at work, as links of a chain."""
    victims = [part for parts in broken_parts(past) for part in parts if part not in (NO_PART, *past.seats)]
    found = _findings(past, victims, seed).values()
    shown = frozenset().union(*(shown_links(past.unit, finding) for finding in found))
    return tuple(link.id for link in links(past.unit).values() if link.stage == "state" and link.id in shown)


def mended_findings(past: Past, before: dict[str, Finding], seed: int) -> tuple[str, ...]:
    """What is wrong in `before` and right once parts and causes are put right: the proof of a repair.

    Readings by their keys; an inspection by its id where less is noticed than before.
    """
    every = [part for parts in broken_parts(past) for part in parts if part != NO_PART]
    sound = replace(past, world=World(past.unit, past.use, past.world.base))
    after = _findings(sound, every, seed)
    verdict = {reading.key: reading.verdict for finding in after.values() for reading in finding.readings}
    found = [r.key for f in before.values() for r in f.readings if r.verdict in WRONG]
    right = [key for key in found if verdict.get(key) == "within spec"]
    quieter = [name for name, finding in before.items() if _quieter(finding, after[name])]
    return tuple(dict.fromkeys(right + quieter))


def _quieter(before: Finding, after: Finding) -> bool:
    """Whether something was noticed that is gone; what people tell is no proof."""
    grade = {look.key: look.grade for look in after.looks}
    return before.inspection != TALK and any(grade[look.key] < look.grade for look in before.looks)


def _findings(past: Past, renewed: list[str], seed: int) -> dict[str, Finding]:
    """Everything a workshop would find with those parts new and the fluid new and to the mark."""
    subject = Subject(
        plant=past.plant,
        condition=renew(past.condition, past.unit, renewed),
        signal=past.signal,
        use=past.use,
        seed=seed,
        felt={name: np.zeros((1, 1)) for name in past.felt},
        objects=(),
        history=(),
    )
    return make_inspections(subject)
