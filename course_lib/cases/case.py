"""A case: the vehicle as a learner meets it, and apart from it the key.

A case holds a work order and findings, nothing else: no cause, no parameter, no wear. The key holds what is broken, why, and the
repairs driven forward.
"""

from __future__ import annotations

import base64
import re
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.base.data_files import data_folder
from course_lib.base.editions import id_of, retired_note
from course_lib.cases.key import Key
from course_lib.diagnosis.cache import kept_case
from course_lib.diagnosis.certificate import part_road
from course_lib.diagnosis.closure import fingerprint
from course_lib.diagnosis.fair import Fairness, judge
from course_lib.diagnosis.lives import findings_of, population_of
from course_lib.diagnosis.weighing import Worth, weigh
from course_lib.faults import choices, stories
from course_lib.faults.causes import cause_choices
from course_lib.faults.leaving import extents
from course_lib.faults.mended import mended
from course_lib.faults.objects import Told, found_on
from course_lib.faults.parts import NO_PART, part_choices
from course_lib.faults.people import load_people
from course_lib.faults.repair import YEARS_OF_USE, Past, Stage, StoredVehicle
from course_lib.faults.scenario import GENERATOR_VERSION, Request, find_past
from course_lib.faults.stories import Story
from course_lib.shop import talk
from course_lib.shop.confirm import met_again
from course_lib.shop.findings import Finding, Inspection, all_inspections, load_inspection, spec_text
from course_lib.shop.inspect import check_allowed, make_inspections
from course_lib.shop.subject import Subject
from course_lib.vehicle.duty import load_uses
from course_lib.vehicle.spec import load_unit

ATTEMPTS = 4  # vehicles looked for before a request is refused
NO_SEED = 0
"""The seed that a learner's case shows: with the true one, anybody could make the key again. The key keeps the true one."""
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
        """(id, label) of every part to choose from; the same for every case with this unit and load signal."""
        return part_choices(load_unit(self.unit), self.signal)

    @property
    def cause_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every root cause to choose from; the same for every case with this unit and load signal."""
        return cause_choices(load_unit(self.unit), self.signal)

    @property
    def chain_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every link a chain can have; the same for every case with this unit."""
        return choices.pairs(choices.links(self.unit))

    @property
    def repair_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of what can belong to a repair beside parts and cause; the same for every case."""
        return choices.pairs(choices.repairs())

    @property
    def estimate_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of the ways an owner can be offered; the same for every case."""
        return tuple((way.id, way.label) for way in choices.estimates().ways)

    @property
    def proof_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of rechecks ("recheck_...") and advice ("advice_..."); the same for every case."""
        return choices.pairs(choices.follow_ups())

    @property
    def caution_choices(self) -> tuple[tuple[str, str], ...]:
        """(id, label) of every caution; the same for every case."""
        return choices.pairs(choices.cautions())

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

    def anew(self) -> Case:
        """The same vehicle with nothing inspected yet."""
        return Case(self._file)

    def __repr__(self) -> str:
        order = self.work_order
        return f"Case {self.id}: {order.vehicle}, {order.odometer_miles:,} miles. {len(self._made)} inspections made."


def findings_in(case: Case) -> dict[str, Finding]:
    """Every finding a case holds, by inspection, made or not: for marking it and for writing its words; no page shows them."""
    return case._file.findings


def altered(case: Case, **entries) -> Case:
    """The same vehicle with other entries of its `CaseFile`, such as seed=NO_SEED, and nothing inspected."""
    return Case(msgspec.structs.replace(case._file, **entries))


def make_case(
    *,
    seed: int,
    unit: str = "T3",
    cause: str | None = None,
    also: str | None = None,
    signal: str | None = None,
    stage: Stage | None = None,
    use: str | None = None,
    name: str | None = None,
) -> tuple[Case, Key]:
    """Make a case and its key.

    seed: same seed and request, same case. unit: a transmission of the data files. cause, signal ("vacuum", "cable"), stage
    ("early", "driving", "no drive") and use are drawn when None; a later stage shows more damage. also: a second cause in the
    same vehicle. name: id of the case, else unit and seed. Only cases are made whose chief complaint is met again in the bay
    and whose cause can be told: see `shop.confirm`, `differential.certificate`. What was made once is kept, and comes back at
    once. Raises ValueError, with the numbers, for a request that cannot be met or certified.
    """
    request = Request(seed=seed, unit=unit, cause=cause, also=also, signal=signal, stage=stage, use=use)
    case_id = check_case_id(name or f"{unit}-{seed}")
    made_from, kinds = fingerprint(__name__), tuple[CaseFile, Key]
    file, key = kept_case(f"{request} {case_id}", made_from, kinds, lambda: _on_one_core(request, case_id))
    return Case(file), key


def _on_one_core(request: Request, case_id: str) -> tuple[CaseFile, Key]:
    """`_certified`, with linear algebra in one thread: its matrices are so small that sharing them costs a quarter of the time."""
    from threadpoolctl import threadpool_limits  # here: a case that is only read makes none

    with threadpool_limits(1, user_api="blas"):
        return _certified(request, case_id)


def _certified(request: Request, case_id: str) -> tuple[CaseFile, Key]:
    """The first of some vehicles that meets the request and can be certified."""
    seed, refusal = request.seed, ValueError("nothing was tried")
    for attempt in range(ATTEMPTS):
        rng = np.random.default_rng([seed, attempt])
        try:
            past = find_past(request, rng)
            case, fairness = _dressed(case_id, seed, past, rng)
            if fairness.certificate.certified:
                return case._file, _key(case, seed, past, fairness)
            refusal = ValueError(fairness.certificate.reason)
        except ValueError as error:
            refusal = error
    raise refusal


def as_case(case_id: str, seed: int, past: Past, rng: np.random.Generator) -> Case:
    """A past as a case with work order and findings, fair or not."""
    subject = _subject(past, seed, rng)
    findings = met_again(subject, make_inspections(subject))
    file = CaseFile(
        id=case_id,
        seed=seed,
        generator_version=GENERATOR_VERSION,
        unit=past.unit,
        signal=past.signal,
        work_order=_work_order(past, subject, findings, rng),
        findings=findings,
    )
    return Case(file)


def _dressed(case_id: str, seed: int, past: Past, rng: np.random.Generator) -> tuple[Case, Fairness]:
    """A past as a case, and how fair it is."""
    case, causes = as_case(case_id, seed, past, rng), tuple(cause.id for cause in past.causes)
    return case, judge(case._file.findings, (past.unit, past.signal, past.use), causes, rng)


def check_case_id(case_id: str) -> str:
    """`case_id` if it can name a file; raises ValueError otherwise."""
    if not CASE_ID.fullmatch(case_id):
        raise ValueError(
            f"case id must be letters, digits and dashes, 40 at most, got {case_id!r}. Give another."
        )
    return case_id


def _subject(past: Past, seed: int, rng: np.random.Generator) -> Subject:
    """The vehicle on the lift, with what lies about on it and what is told of it."""
    clues = [(clue, str(rng.choice(clue.words))) for clue in found_on(past.causes, past.background, rng)]
    return Subject(
        plant=past.plant,
        condition=past.condition,
        signal=past.signal,
        use=past.use,
        seed=seed,
        felt={name: np.array([[value]]) for name, value in past.felt.items()},
        sump=past.sump,
        objects=tuple((clue.inspection, words) for clue, words in clues if not isinstance(clue, Told)),
        history=tuple(words for clue, words in clues if isinstance(clue, Told)),
    )


def _work_order(past: Past, subject: Subject, findings: dict[str, Finding], rng) -> WorkOrder:
    people, unit = load_people(), load_unit(past.unit)
    cold = any(look.key == "worse_cold" and look.grade for look in findings[talk.TALK].looks)
    background = replace(past.background, worse_cold=np.array([cold]))
    return WorkOrder(
        number=str(int(rng.integers(1000, 9999))),
        vehicle=str(rng.choice(people.vehicles[past.use])),
        unit_name=f"{unit.name} with {'throttle cable' if subject.signal == 'cable' else 'vacuum modulator'}",
        odometer_miles=round(past.odometer / units.MILE),
        owner=str(rng.choice(people.owners[past.use])),
        complaint=talk.complaint(subject),
        since=str(rng.choice([each.words for each in people.since if each.fits(background)])),
        use=load_uses().uses[past.use].label,
        history="; ".join(subject.history[:1]) or "no papers",
    )


# ---------------------------------------------------------------------- the key
def _key(case: Case, seed: int, past: Past, fairness: Fairness) -> Key:
    extent, found = extents([past])[0], case._file.findings
    if extent.unseen:
        raise ValueError(
            f"a part that must be renewed must be shown by a finding, got {', '.join(extent.unseen)}, which none shows."
            " Take another seed."
        )
    after = mended(past, found, seed)
    key = Key(
        case_id=case.id,
        parts=tuple(extent.must),
        also=extent.may,
        either=extent.either,
        back={part: round(miles, 1) for part, miles in extent.must.items()},
        causes=tuple(cause.id for cause in past.causes),
        chain=stories.chain(past),
        stories={},
        recipe=_recipe(seed, past),
        vehicle=StoredVehicle.of(past),
        against=fairness.against,
        worth=_worth(found, past, tuple(fairness.against)),
        lasting=after.lasting,
        mended=after.proof,
    )
    road = part_road([part for part in key.shortest if part != NO_PART], found, past.unit, past.signal)
    told = stories.compared(past, key.shortest)
    return msgspec.structs.replace(key, stories=told, certificate=replace(fairness.certificate, part=road))


def _recipe(seed: int, past: Past) -> dict[str, str | int | float | None]:
    """How a case was made."""
    return {
        "seed": seed,
        "unit": past.unit,
        "signal": past.signal,
        "use": past.use,
        "severity": round(past.severity, 6),
        "driver": past.driver,
        "stage": past.stage,
        "onset_miles": round(past.onset_miles),
        "miles_since_onset": round(past.miles_since_onset),
    }


def _worth(findings: dict[str, Finding], past: Past, wrong: tuple[str, ...]) -> Worth:
    """What each finding is worth against each wrong cause."""
    population = population_of(past.unit, past.signal, past.use)
    found = findings_of(population, list(findings.values()))
    return weigh(population, found, [cause.id for cause in past.causes], wrong)


def vehicle_of(key: Key) -> Past:
    """The vehicle of a case as it came in. Raises ValueError where the key has none."""
    if key.vehicle is None:
        raise ValueError(f"key of case {key.case_id} must hold its vehicle, got none. Make the case anew.")
    return key.vehicle.past()


def drive_repair(key: Key, parts=(), causes=(), *, miles: float = YEARS_OF_USE) -> Story:
    """Drive a repair of the vehicle of a case forward; see `stories.drive_repair`."""
    return stories.drive_repair(vehicle_of(key), parts, causes, miles=miles)


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
            f"{what} must be a file that exists, got {path}. "
            f"{retired_note(path.stem) or 'Check its name, or copy it back.'}"
        ) from None


def save_case(case: Case, path: str | Path) -> None:
    """Write `case` to a file: work order in plain text, findings sealed. The key is not in it."""
    sealed = _seal(case._file).decode()
    stored = _CaseOnDisk(case_id=case.id, work_order=case.work_order, sealed_findings=sealed)
    Path(path).write_bytes(msgspec.json.format(msgspec.json.encode(stored), indent=2) + b"\n")


def load_case(path_or_id: str | Path) -> Case:
    """A stored case, by path or by the name of one that comes with the course, with nothing inspected yet.

    Raises FileNotFoundError or ValueError with one line that says what to do.
    """
    path = Path(path_or_id)
    if path.suffix != ".json":
        path = data_folder() / "cases" / f"{check_case_id(id_of(str(path_or_id)))}.json"
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
    """The key of a case, by id or by name: from `folders`, else from those that come with the course.

    Raises KeyMissing when there is none here, ValueError when the file is damaged.
    """
    case_id = check_case_id(id_of(case_id))
    places = [Path(f) for f in folders] or [data_folder() / "keys"]
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
