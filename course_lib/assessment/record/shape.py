"""What a record is: its shape, its limits, its versions. Plain data; nothing here touches a disk."""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Annotated, Any, Literal, TypedDict, TypeVar, Unpack

import msgspec
from msgspec import Meta

from course_lib.base.guards import one_of

#: How sure a learner may say to be, least first.
CONFIDENCE = ("not sure", "fairly sure", "sure")
#: Most parts, causes and pieces of evidence that one answer may name.
MOST_PARTS, MOST_CAUSES, MOST_EVIDENCE = 6, 2, 5
#: Most links of a chain, look-alikes excluded, and names in any other list of an answer.
MOST_LINKS, MOST_EXCLUDED, MOST_NAMES = 12, 4, 12
#: Longest text in characters.
MOST_CHARACTERS = 4000
#: Version of the record that is written. Older ones are read, newer ones are left alone.
SCHEMA_VERSION = 3

_RUN = secrets.token_hex(6)

Name = Annotated[str, Meta(max_length=80)]
Text = Annotated[str, Meta(max_length=MOST_CHARACTERS)]
Given = Iterable[str] | str
T = TypeVar("T")
Names = Annotated[tuple[Name, ...], Meta(max_length=MOST_NAMES)]


class Excluded(msgspec.Struct, frozen=True, kw_only=True):
    """A look-alike that was ruled out: id of the cause, and of the finding that rules it out."""

    cause: Name
    finding: Name


class RepairPlan(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be done: parts to renew, causes to put right, and what else belongs to it (ids of `repairs.toml`).

    estimate: the way the owner is offered (ids of `estimate.toml`); asked: whether the owner's word is asked for first.
    """

    renew: Names = ()
    correct: Annotated[tuple[Name, ...], Meta(max_length=MOST_CAUSES)] = ()
    also: Names = ()
    estimate: Name = ""
    asked: bool = False


class Proof(msgspec.Struct, frozen=True, kw_only=True):
    """How the repair is shown to hold: readings taken again, whether hot, when to look again, what the owner is told."""

    repeat: Annotated[tuple[Name, ...], Meta(max_length=MOST_EVIDENCE)] = ()
    hot: bool = False
    recheck: Name = ""
    advice: Names = ()


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A diagnosis, in ids: what broke and why, what was seen to be sound, how one led to the other, what proves it,
    what was ruled out, what is to be done, how that is proven, and what to watch for."""

    parts: Annotated[tuple[Name, ...], Meta(max_length=MOST_PARTS)] = ()
    causes: Annotated[tuple[Name, ...], Meta(max_length=MOST_CAUSES)] = ()
    cleared: Names = ()
    chain: Annotated[tuple[Name, ...], Meta(max_length=MOST_LINKS)] = ()
    evidence: Annotated[tuple[Name, ...], Meta(max_length=MOST_EVIDENCE)] = ()
    excluded: Annotated[tuple[Excluded, ...], Meta(max_length=MOST_EXCLUDED)] = ()
    repair: RepairPlan = RepairPlan()
    proof: Proof = Proof()
    cautions: Names = ()
    why: Text = ""
    confidence: Name = ""


class LoggedInspection(msgspec.Struct, frozen=True, kw_only=True):
    """One inspection carried out, and the minutes it took."""

    inspection: Name
    minutes: Annotated[int, Meta(ge=0, le=100_000)]


HelpKind = Literal["direction", "inspection", "odds"]


class Helped(msgspec.Struct, frozen=True, kw_only=True):
    """Help that was asked for: a direction, the next inspection by name, or the odds; after so many inspections."""

    kind: HelpKind
    after: Annotated[int, Meta(ge=0, le=100)]


class Refused(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for and refused because it does harm (id of an inspection or of a refused act); after so many inspections."""

    act: Name
    after: Annotated[int, Meta(ge=0, le=100)]


class KeptAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """An answer kept for good: one handed in, or a draft that another open notebook wrote over.

    at: date and time with its offset (ISO 8601); minutes: spent on inspections by then.
    """

    kind: Literal["handed in", "draft"] = "handed in"
    at: Name = ""
    minutes: Annotated[int, Meta(ge=0, le=10_000_000)] = 0
    answer: Answer


def this_program() -> str:
    """A name for the program that runs this, told from every other one that may save."""
    return f"{_RUN}-{os.getpid()}"


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """All that is kept of a learner's work on one case.

    `answer` is the draft; `handed_in` the answer that counts (None before the first hand-in), `handed_in_at`
    its date and time; `history` each answer handed in and each draft displaced, oldest first; `writer` the
    program that saved last; `helped` the help asked for in practice and `refused` what was asked for and does harm,
    neither of which costs points.
    """

    schema_version: Literal[3] = 3
    case_id: Name
    generator_version: Annotated[int, Meta(ge=0)] = 0
    inspections: Annotated[tuple[LoggedInspection, ...], Meta(max_length=100)] = ()
    helped: Annotated[tuple[Helped, ...], Meta(max_length=400)] = ()
    refused: Annotated[tuple[Refused, ...], Meta(max_length=400)] = ()
    answer: Answer = Answer()
    handed_in: Answer | None = None
    handed_in_at: Name = ""
    attempts: Annotated[int, Meta(ge=0, le=1_000_000)] = 0
    history: Annotated[tuple[KeptAnswer, ...], Meta(max_length=20_000)] = ()
    notes: Text = ""
    writer: Name = msgspec.field(default_factory=this_program)

    @property
    def minutes_used(self) -> int:
        """Minutes spent on inspections so far."""
        return sum(step.minutes for step in self.inspections)


class NewerVersion(ValueError):
    """A record of a later version of the course than this one."""


def record_schema() -> dict[str, Any]:
    """The JSON Schema of a record file, for whoever reads records with other programs."""
    return msgspec.json.schema(Record)


def decode(data: bytes) -> Record:
    """A record from the bytes of a file, whatever version wrote it.

    Raises ValueError (one line) for bytes that are no record, NewerVersion for one of a later course.
    """
    raw = json.loads(data.decode("utf-8"), object_pairs_hook=_no_twice, parse_constant=_no_constant)
    if not isinstance(raw, dict):
        raise ValueError(f"a record must be an object, got {type(raw).__name__}")
    version = raw.get("schema_version", 1)
    if isinstance(version, int) and version > SCHEMA_VERSION:
        raise NewerVersion(
            f"it is of schema version {version} and this course reads up to {SCHEMA_VERSION}. Update the course"
        )
    while (step := _UPGRADES.get(version if type(version) is int else None)) is not None:
        raw, version = step(raw), version + 1
    record = msgspec.convert(raw, Record)
    msgspec.json.encode(record)  # half characters are found here
    return record


def clean_text(text: object) -> str:
    """Text that a record can hold: whole characters, and no longer than MOST_CHARACTERS."""
    whole = str(text).encode("utf-8", "replace").decode("utf-8")
    return whole[:MOST_CHARACTERS]


def hand_in(record: Record, answer: Answer) -> Record:
    """The record after `answer` was handed in: it counts from now on, and one more attempt is noted."""
    kept = KeptAnswer(at=now(), minutes=record.minutes_used, answer=answer)
    return msgspec.structs.replace(
        record,
        answer=answer,
        handed_in=answer,
        handed_in_at=kept.at,
        attempts=record.attempts + 1,
        history=(*record.history, kept),
    )


def now() -> str:
    """Date and time with its offset, to the microsecond (ISO 8601)."""
    return datetime.now().astimezone().isoformat(timespec="microseconds")


class MoreFields(TypedDict, total=False):
    """The fields of an answer beside parts and causes, as they may be typed; excluded: (cause, finding) pairs."""

    cleared: Given
    chain: Given
    evidence: Given
    excluded: Iterable[tuple[str, str]]
    repair: RepairPlan
    proof: Proof
    cautions: Given
    why: str
    confidence: str


def new_answer(*, parts: Given = (), causes: Given = (), **more: Unpack[MoreFields]) -> Answer:
    """An answer from typed names; a single name may stand without brackets.

    Raises ValueError when a list is too long or `confidence` is not one of CONFIDENCE, TypeError for another field.
    """
    if unknown := more.keys() - MoreFields.__annotations__.keys():
        raise TypeError(
            f"an answer has no field {min(unknown)!r}. It has: {', '.join(Answer.__struct_fields__)}."
        )
    confidence = more.get("confidence", "")
    if confidence:
        one_of("confidence", confidence, CONFIDENCE)
    pairs = _at_most("excluded", more.get("excluded", ()), MOST_EXCLUDED)
    return Answer(
        parts=_names("parts", parts, MOST_PARTS),
        causes=_names("causes", causes, MOST_CAUSES),
        cleared=_names("cleared", more.get("cleared", ()), MOST_NAMES),
        chain=_names("chain", more.get("chain", ()), MOST_LINKS),
        evidence=_names("evidence", more.get("evidence", ()), MOST_EVIDENCE),
        excluded=tuple(Excluded(cause=cause, finding=finding) for cause, finding in pairs),
        repair=more.get("repair") or RepairPlan(),
        proof=more.get("proof") or Proof(),
        cautions=_names("cautions", more.get("cautions", ()), MOST_NAMES),
        why=clean_text(more.get("why", "")),
        confidence=confidence,
    )


def _names(name: str, given: Given, most: int) -> tuple[str, ...]:
    return _at_most(name, (given,) if isinstance(given, str) else given, most)


def _at_most(name: str, given: Iterable[T], most: int) -> tuple[T, ...]:
    names = tuple(given)
    if len(names) > most:
        raise ValueError(f"{name} must be at most {most} names, got {len(names)}. Keep what you can prove.")
    return names


def _no_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("an entry stands in it twice")
    return found


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number of a record")


def _from_1(raw: dict[str, Any]) -> dict[str, Any]:
    """Version 1 kept bare answers as its history, each one handed in."""
    history = raw.get("history", [])
    kept = [{"answer": answer} for answer in history] if isinstance(history, list) else history
    return raw | {"schema_version": 2, "history": kept}


def _from_2(raw: dict[str, Any]) -> dict[str, Any]:
    """Version 2 knew no estimate; none was given."""
    return raw | {"schema_version": 3}


_UPGRADES: dict[Any, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _from_1, 2: _from_2}
