"""Freeze a case: ``python -m course_lib.authoring freeze NAME --cause CAUSE``.

A frozen case is a file, so it stays as it is when the generator or a library changes. Its key lies with it, in
`datasets/keys/`: every learner has it, so nothing that is frozen is ever marked. What is marked is dealt: ``course set``.
An id belongs to one vehicle for good: another vehicle gets the next id of its name, see `datasets/retired.toml`.
"""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Any

import msgspec

from course_lib.authoring.build import TOP
from course_lib.base.case_ids import id_of, retired_ids
from course_lib.cases.case import NO_SEED, Case, WorkOrder, altered, findings_in
from course_lib.cases.case_file import load_case, save_case
from course_lib.cases.key import Key
from course_lib.cases.key_file import save_key
from course_lib.cases.make import make_case
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults import repair
from course_lib.faults.stored import Story
from course_lib.faults.stories import outcome_story


class AnotherVehicle(ValueError):
    """An id that another vehicle has already."""


def freeze(
    name: str,
    *,
    roads: tuple[str, ...] = (),
    words: dict[str, str] | None = None,
    top: Path = TOP,
    **request: Any,
) -> Key:
    """Make the case `request` (see `make_case`), and write it and its key under the id that `name` has. Returns the key.

    Raises `AnotherVehicle`, and writes nothing, where the id is that of another vehicle already. The same vehicle in better words
    may take its place. Files of ids that are retired go.

    roads: parts; for each, the repair that renews it alone and leaves the cause is driven forward too, and kept
    in the key's stories as "only <part>". A worked case follows such a road to its end. words: entries of the work order that
    the course gives in its own words; "told" stands before what the owner says when asked.
    """
    seed = request.pop("seed", None) or secrets.randbits(48)
    case_id = id_of(name)
    case, key = make_case(seed=seed, name=case_id, **request)
    told = {f"only {part}": _road(part, key) for part in roads}
    key = msgspec.structs.replace(key, stories=key.stories | told)
    files = _files(top, case_id)
    if files[0].exists() and _measured(load_case(files[0])) != _measured(case):
        raise AnotherVehicle(
            f"case {case_id} must stay the vehicle that it is, got another one. Enter the version of the course that has it "
            f"beside {name} in datasets/retired.toml, and make it again: it gets the next id."
        )
    for path in files:
        path.parent.mkdir(parents=True, exist_ok=True)
    order = _in_words(case.work_order, words or {})
    save_case(altered(case, seed=NO_SEED, work_order=order), files[0])
    save_key(key, files[1])
    for path in (path for retired in retired_ids(name) for path in _files(top, retired)):
        path.unlink(missing_ok=True)
    return key


def _files(top: Path, case_id: str) -> tuple[Path, Path]:
    """Where a case and its key lie."""
    return top / f"datasets/cases/{case_id}.json", top / f"datasets/keys/{case_id}.key"


def _measured(case: Case) -> tuple[str, str, int, dict[tuple[str, str], float | None]]:
    """What makes a vehicle the one it is, whatever words are used of it: unit, signal, miles, and every number that is found."""
    found = findings_in(case)
    readings = {(name, each.key): each.value for name in found for each in found[name].readings}
    return case.unit, case.signal, case.work_order.odometer_miles, readings


def _in_words(order: WorkOrder, words: dict[str, str]) -> WorkOrder:
    """The work order with entries of its own."""
    own = {name: text for name, text in words.items() if name != "told"}
    if told := words.get("told"):
        own["complaint"] = f"\u201c{told}\u201d Asked what it does: \u201c{order.complaint}\u201d"
    return msgspec.structs.replace(order, **own)


def _road(part: str, key: Key) -> Story:
    """The repair that renews one part and leaves the cause, driven forward."""
    past = vehicle_of(key)
    plan, miles = repair.TrialRepair(parts=(part,)), repair.YEARS_OF_USE
    return outcome_story(past, plan, repair.outcome_of(repair.drive_forward([(past, plan, miles)]), 0), miles)
