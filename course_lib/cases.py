"""A case: the vehicle as a learner meets it, and apart from it the key.

A case holds a work order and findings, nothing else: no cause, no parameter, no wear. The key holds what is broken, why, and the
repairs driven forward.
"""

from __future__ import annotations

import base64
import re
import zlib
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
import numpy as np

from course_lib import scenario, units
from course_lib.catalogue.causes import cause_choices, told_of_others
from course_lib.catalogue.objects import HISTORY, red_herrings
from course_lib.catalogue.parts import all_parts, part_choices
from course_lib.datasets import data_folder, read_data
from course_lib.scenario import Request
from course_lib.shop import talk
from course_lib.shop.findings import Finding, Inspection, all_inspections, load_inspection, spec_text
from course_lib.shop.inspect import METHODS, check_allowed, make_inspection
from course_lib.shop.subject import Subject
from course_lib.transmission.duty import load_uses
from course_lib.transmission.events import label as event_label
from course_lib.transmission.spec import load_unit

GENERATOR_VERSION = 1
RED_HERRINGS = 2
CASE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,39}")
T = TypeVar("T")


class KeyMissing(FileNotFoundError):
    """There is no key for a case on this machine."""


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


class Story(msgspec.Struct, frozen=True, kw_only=True):
    """A repair driven forward: miles until it came back (None = it did not), the odometer at the end, and the tale."""

    miles: float | None
    odometer_miles: int
    text: tuple[str, ...]


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to a case, kept apart from it.

    parts must be named, also may be named, causes are the root causes; chain: what happened, in order, with odometers; stories:
    outcome -> the repair it amounts to, driven forward; recipe: how the case was made.
    """

    case_id: str
    parts: tuple[str, ...]
    also: tuple[str, ...]
    causes: tuple[str, ...]
    chain: tuple[str, ...]
    stories: dict[str, Story]
    recipe: dict[str, str | int | float | None]


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
    """One vehicle to diagnose. Inspections are paid for in minutes and answer the same each time."""

    def __init__(self, file: CaseFile) -> None:
        self._file = file
        self._made: list[Finding] = []

    id = property(lambda self: self._file.id, doc="Name of the case.")
    seed = property(lambda self: self._file.seed, doc="Seed it was made from.")
    generator_version = property(
        lambda self: self._file.generator_version, doc="Version of the generator that made it."
    )
    unit = property(lambda self: self._file.unit, doc="Name of the transmission.")
    signal = property(lambda self: self._file.signal, doc='Load signal: "vacuum" or "cable".')
    work_order = property(lambda self: self._file.work_order, doc="What the counter wrote down.")
    findings = property(lambda self: tuple(self._made), doc="Findings so far, in order.")
    minutes_used = property(lambda self: sum(f.minutes for f in self._made), doc="Minutes spent so far.")

    @property
    def offered(self) -> tuple[Inspection, ...]:
        """Inspections that can be made of this vehicle."""
        return tuple(each for each in all_inspections().values() if each.id in self._file.findings)

    @property
    def part_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every part to choose from; the same for every case with this load signal."""
        return part_choices(load_unit(self.unit), self.signal)

    @property
    def cause_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every root cause to choose from; the same for every case with this load signal."""
        return cause_choices(load_unit(self.unit), self.signal)

    @property
    def spec_sheet(self) -> tuple[tuple[str, str], ...]:
        """(reading, spec) of everything the unit's sheet gives."""
        readings = [r for f in self._file.findings.values() for r in f.readings if r.spec is not None]
        return tuple(dict((r.label, spec_text(r.spec, r.unit, r.decimals)) for r in readings).items())

    def inspect(self, inspection: str) -> Finding:
        """Make an inspection. One made before is not paid for again.

        Raises ValueError for an unknown name, InspectionRefused when something must come first or it could do harm.
        """
        load_inspection(inspection)
        for finding in self._made:
            if finding.inspection == inspection:
                return finding
        check_allowed(inspection, self._made)
        self._made.append(self._file.findings[inspection])
        return self._made[-1]

    def __repr__(self) -> str:
        order = self.work_order
        return f"Case {self.id}: {order.vehicle}, {order.odometer_miles:,} miles. {len(self._made)} inspections made."


class People(msgspec.Struct, frozen=True):
    """The data file of owners and vehicles."""

    owners: dict[str, tuple[str, ...]]
    since: tuple[str, ...]
    vehicles: dict[str, tuple[str, ...]]


def make_case(
    *,
    seed: int,
    unit: str = "T3",
    cause: str | None = None,
    signal: str | None = None,
    stage: scenario.Stage | None = None,
    use: str | None = None,
    name: str | None = None,
) -> tuple[Case, Key]:
    """Make a case and its key.

    seed: same seed and request, same case. unit: a transmission of the data files. cause, signal ("vacuum", "cable"), stage
    ("early", "driving", "no drive") and use are drawn when None; a later stage shows more damage, an early one is harder to
    see. name: id of the case, else unit and seed. Raises ValueError, with the numbers, for a request that cannot be met.
    """
    request = Request(seed=seed, unit=unit, cause=cause, signal=signal, stage=stage, use=use)
    rng = np.random.default_rng(seed)
    past = scenario.find_past(request, rng)
    case_id = check_case_id(name or f"{unit}-{seed}")
    subject = _subject(past, rng)
    file = CaseFile(
        id=case_id,
        seed=seed,
        generator_version=GENERATOR_VERSION,
        unit=unit,
        signal=past.drawn.signal,
        work_order=_work_order(past, subject, rng),
        findings={inspection: make_inspection(subject, inspection) for inspection in METHODS},
    )
    return Case(file), _key(case_id, past)


def check_case_id(case_id: str) -> str:
    """`case_id` if it can name a file; raises ValueError otherwise."""
    if not CASE_ID.fullmatch(case_id):
        raise ValueError(
            f"case id must be letters, digits and dashes, 40 at most, got {case_id!r}. Give another."
        )
    return case_id


def _subject(past: scenario.Past, rng: np.random.Generator) -> Subject:
    cause = past.drawn.cause
    strange = [each for each in red_herrings() if each not in cause.objects]
    herrings = [strange[i] for i in rng.choice(len(strange), RED_HERRINGS, replace=False)]
    lying = [*cause.objects, *(each for each in herrings if each.inspection != HISTORY)]
    objects = [(each.inspection, each.words) for each in lying]
    decoys = told_of_others(cause, load_unit(past.drawn.request.unit), past.drawn.signal)
    history = [
        *cause.history,
        *(each.words for each in herrings if each.inspection == HISTORY),
        str(rng.choice(decoys)),
    ]
    return Subject(
        plant=past.world.plant(np.array([[past.odometer]])),
        condition=past.condition,
        signal=past.drawn.signal,
        use=past.drawn.use,
        seed=past.drawn.request.seed,
        felt=past.felt,
        objects=tuple(objects),
        history=tuple(str(line) for line in rng.permutation(history)),
    )


def _work_order(past: scenario.Past, subject: Subject, rng: np.random.Generator) -> WorkOrder:
    people, unit = read_data("people", People), load_unit(past.drawn.request.unit)
    return WorkOrder(
        number=str(int(rng.integers(1000, 9999))),
        vehicle=str(rng.choice(people.vehicles[past.drawn.use])),
        unit_name=f"{unit.name} with {'throttle cable' if subject.signal == 'cable' else 'vacuum modulator'}",
        odometer_miles=round(past.odometer / units.MILE),
        owner=str(rng.choice(people.owners[past.drawn.use])),
        complaint=talk.complaint(subject),
        since=str(rng.choice(people.since)) if past.miles_since_onset > 5 else "since the last job on it",
        use=load_uses().uses[past.drawn.use].label,
        history="; ".join(subject.history[:1]) or "no papers",
    )


# ---------------------------------------------------------------------- the key
def _key(case_id: str, past: scenario.Past) -> Key:
    must, also = scenario.broken_parts(past)
    return Key(
        case_id=case_id,
        parts=must,
        also=also,
        causes=(past.drawn.cause.id,),
        chain=_chain(past),
        stories=_stories(past),
        recipe={
            "seed": past.drawn.request.seed,
            "unit": past.drawn.request.unit,
            "signal": past.drawn.signal,
            "use": past.drawn.use,
            "severity": round(past.severity, 6),
            "driver": past.driver,
            "stage": past.stage,
            "onset_miles": round(past.drawn.onset_miles),
            "miles_since_onset": round(past.miles_since_onset),
        },
    )


def _chain(past: scenario.Past) -> tuple[str, ...]:
    """What happened since the cause set in, in order, with odometers."""
    unit = load_unit(past.drawn.request.unit)
    onset = past.drawn.onset_miles
    since = [
        (mile / units.MILE, event) for event, mile in past.events.items() if mile / units.MILE > onset + 0.5
    ]
    lines = [f"{onset:,.0f} mi: {past.drawn.cause.label}"]
    lines += [f"{mile:,.0f} mi: {event_label(event, unit)}" for mile, event in sorted(since)]
    return (*lines, f"{past.odometer / units.MILE:,.0f} mi: the owner comes in")


def _stories(past: scenario.Past) -> dict[str, Story]:
    plans = scenario.plans(past)
    miles = scenario.same_miles(past)
    lives = scenario.drive_forward([(past, plan, miles) for plan in plans.values()])
    return {name: tale(past, plan, lives, i, miles) for i, (name, plan) in enumerate(plans.items())}


def tale(past: scenario.Past, plan: scenario.Plan, lives, i: int, miles: float) -> Story:
    """One repair driven forward, told with odometers. It names the broken part, never the cause nor the part it sits in."""
    here, there = past.odometer / units.MILE, float(lives.odometer[i]) / units.MILE
    must, _ = scenario.broken_parts(past)
    named = [part for part in plan.parts if part in must] or list(plan.parts)
    renewed = ", ".join(all_parts()[part].label.lower() for part in named)
    renewed += " and what was worn with it" if len(named) < len(plan.parts) else ""
    done = f"{here:,.0f} mi: {'renewed: ' + renewed if renewed else 'no part renewed'}; fluid new and to the mark"
    done += "; the cause corrected." if plan.correct_cause else "; the cause left as it was."
    if not lives.complained[i]:
        return Story(
            miles=None,
            odometer_miles=round(there),
            text=(done, f"{there:,.0f} mi: {_miles(miles)} on, it still drives as it should."),
        )
    worst = max(lives.felt, key=lambda name: lives.felt[name][i])
    gone = max(there - here, 1.0)
    words = talk.said(worst, float(lives.felt[worst][i]))
    return Story(
        miles=gone,
        odometer_miles=round(there),
        text=(done, f"{there:,.0f} mi: it is back after {_miles(gone)}. \u201cAgain {words}.\u201d"),
    )


def _miles(distance: float) -> str:
    return "1 mile" if round(distance) == 1 else f"{distance:,.0f} miles"


# ---------------------------------------------------------------------- files
def _seal(value) -> bytes:
    """Packed so that nobody reads it by accident; it is no protection against somebody who wants to."""
    return base64.b85encode(zlib.compress(msgspec.json.encode(value), 9))


def _unseal(text: bytes, schema: type[T]) -> T:
    return msgspec.json.decode(zlib.decompress(base64.b85decode(text.strip())), type=schema)


class _CaseOnDisk(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    case_id: Annotated[str, msgspec.Meta(max_length=40)]
    work_order: WorkOrder
    sealed_findings: str


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise FileNotFoundError(
            f"{what} must be a file that exists, got {path}. Check its name, or copy it back."
        ) from None


def save_case(case: Case, path: str | Path) -> None:
    """Write `case` to a file: work order in plain text, findings sealed. The key is not in it."""
    stored = _CaseOnDisk(
        case_id=case.id, work_order=case.work_order, sealed_findings=_seal(case._file).decode()
    )
    Path(path).write_bytes(msgspec.json.format(msgspec.json.encode(stored), indent=2) + b"\n")


def load_case(path_or_id: str | Path) -> Case:
    """A stored case, by path or by the id of one that comes with the course, with nothing inspected yet.

    Raises FileNotFoundError or ValueError with one line that says what to do.
    """
    path = Path(path_or_id)
    if path.suffix != ".json":
        path = data_folder() / "cases" / f"{check_case_id(str(path_or_id))}.json"
    try:
        return Case(
            _unseal(
                msgspec.json.decode(_read(path, "case"), type=_CaseOnDisk).sealed_findings.encode(), CaseFile
            )
        )
    except (msgspec.MsgspecError, ValueError, zlib.error) as error:
        raise ValueError(
            f"case file {path} must be whole, got {type(error).__name__}. Copy it from the course again."
        ) from None


def save_key(key: Key, path: str | Path) -> None:
    """Write `key` to a file, sealed against an accidental look."""
    Path(path).write_bytes(_seal(key) + b"\n")


def load_key(case_id: str, *folders: str | Path) -> Key:
    """The key of a case: from `folders`, else from the practice keys and then the instructor's keys of this checkout.

    Raises KeyMissing when there is none here, ValueError when the file is damaged.
    """
    check_case_id(case_id)
    places = [Path(f) for f in folders] or [data_folder() / "keys", data_folder("solutions") / "keys"]
    for path in (place / f"{case_id}.key" for place in places):
        if path.is_file():
            try:
                return _unseal(path.read_bytes(), Key)
            except (msgspec.MsgspecError, ValueError, zlib.error) as error:
                raise ValueError(
                    f"key file {path} must be whole, got {type(error).__name__}. Copy it again."
                ) from None
    raise KeyMissing(
        f"key of case {case_id} must be in {' or '.join(str(p) for p in places)}, got none. Ask your instructor."
    )
