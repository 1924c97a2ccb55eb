"""What a learner did and answered on one case, kept in `answers/<case_id>.json` so that it cannot be lost.

The file is plain data: nothing in it is ever run. It is written whole or not at all, and a file that cannot
be read is moved aside, never overwritten.
"""

from __future__ import annotations

import os
import re
import warnings
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from .vocabulary import one_of

#: How sure a learner may say to be, least first.
CONFIDENCE = ("not sure", "fairly sure", "sure")
#: Most parts, causes and pieces of evidence that one answer may name.
MOST_PARTS, MOST_CAUSES, MOST_EVIDENCE = 3, 2, 3
#: Longest text in characters, and largest record file in bytes; a full record stays far below.
MOST_CHARACTERS = 4000
MOST_BYTES = 1_000_000
#: Handed-in answers that are kept; the count of attempts goes on beyond it.
MOST_HISTORY = 30

_CASE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")

Name = Annotated[str, Meta(max_length=80)]
Text = Annotated[str, Meta(max_length=MOST_CHARACTERS)]


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A diagnosis: ids of the broken parts and root causes, what proves them, how one led to the other."""

    parts: Annotated[tuple[Name, ...], Meta(max_length=MOST_PARTS)] = ()
    causes: Annotated[tuple[Name, ...], Meta(max_length=MOST_CAUSES)] = ()
    evidence: Annotated[tuple[Name, ...], Meta(max_length=MOST_EVIDENCE)] = ()
    why: Text = ""
    confidence: Name = ""


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """One inspection carried out, and the minutes it took."""

    inspection: Name
    minutes: Annotated[int, Meta(ge=0, le=100_000)]


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """All that is kept of a learner's work on one case.

    `answer` is the draft; `handed_in` the answer that counts (None before the first hand-in), `handed_in_at`
    its local date and time (ISO 8601); `history` holds each handed-in answer, oldest first.
    """

    schema_version: Literal[1] = 1
    case_id: Name
    generator_version: Annotated[int, Meta(ge=0)] = 0
    inspections: Annotated[tuple[Step, ...], Meta(max_length=100)] = ()
    answer: Answer = Answer()
    handed_in: Answer | None = None
    handed_in_at: Name = ""
    attempts: Annotated[int, Meta(ge=0, le=1_000_000)] = 0
    history: Annotated[tuple[Answer, ...], Meta(max_length=MOST_HISTORY)] = ()
    notes: Text = ""

    @property
    def minutes_used(self) -> int:
        """Minutes spent on inspections so far."""
        return sum(step.minutes for step in self.inspections)


class DamagedRecord(ValueError):
    """A record file that cannot be read as one."""


class RecordNotSaved(OSError):
    """A record that could not be written to disk; the message says what to do."""


class RecordWarning(UserWarning):
    """A damaged record was moved aside and the work starts from an empty one."""


def record_path(case_id: str, folder: str | Path = "answers") -> Path:
    """The file of a case's record.

    Raises ValueError for an id that could lead out of the folder.
    """
    if not isinstance(case_id, str) or not _CASE_ID.fullmatch(case_id):
        raise ValueError(
            "case_id must be 1 to 40 letters, digits, dashes and underscores, "
            f"got {case_id!r}. Take the id from the top of the notebook."
        )
    return Path(folder) / f"{case_id}.json"


def read_record(path: str | Path) -> Record:
    """Read one record file and change nothing on disk.

    Raises DamagedRecord (one line) for a file that is not a record of the case in its name.
    """
    path = Path(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise DamagedRecord(f"Record {path} is larger than {MOST_BYTES} bytes.")
        record = msgspec.json.decode(path.read_bytes(), type=Record)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        raise DamagedRecord(f"Record {path} cannot be read: {error}.") from None
    if record.case_id != path.stem:
        raise DamagedRecord(f"Record {path} belongs to another case: {record.case_id!r}.")
    return record


def open_record(case_id: str, folder: str | Path = "answers") -> tuple[Record, str]:
    """The saved record of a case, or an empty one, and one line for the learner ("" if all is well)."""
    path = record_path(case_id, folder)
    empty = Record(case_id=case_id)
    try:
        return read_record(path), ""
    except (FileNotFoundError, NotADirectoryError):
        return empty, ""
    except DamagedRecord:
        return empty, _set_aside(path)
    except OSError as error:
        return empty, f"{path} could not be read ({error.strerror}). Check that you may open this file."


def load_record(case_id: str, folder: str | Path = "answers") -> Record:
    """The saved record of a case, or an empty one; warns (RecordWarning) when a file could not be used."""
    record, message = open_record(case_id, folder)
    if message:
        warnings.warn(message, RecordWarning, stacklevel=2)
    return record


def save_record(record: Record, folder: str | Path = "answers") -> Path:
    """Write a record whole or not at all, and return its path.

    A damaged file in its place is moved aside first. Raises ValueError for a record that could not be read
    back, RecordNotSaved when the disk refuses.
    """
    path = record_path(record.case_id, folder)
    msgspec.convert(msgspec.to_builtins(record), Record)  # what is written can always be read again
    text = msgspec.json.format(msgspec.json.encode(record), indent=2)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _make_way(path)
        _write_whole(path, text)
    except OSError as error:
        raise RecordNotSaved(
            f"{path} could not be written ({error.strerror or error}). Your work is still here. Make the "
            "folder writable or free some space on the disk, then go on: the next step saves again."
        ) from None
    return path


def clean_text(text: object) -> str:
    """Text that a record can hold: whole characters, and no longer than MOST_CHARACTERS."""
    whole = str(text).encode("utf-8", "replace").decode("utf-8")
    return whole[:MOST_CHARACTERS]


def hand_in(record: Record, answer: Answer) -> Record:
    """The record after `answer` was handed in: it counts from now on, and one more attempt is noted."""
    return msgspec.structs.replace(
        record,
        answer=answer,
        handed_in=answer,
        handed_in_at=datetime.now().isoformat(timespec="seconds"),
        attempts=record.attempts + 1,
        history=(*record.history, answer)[-MOST_HISTORY:],
    )


def record_answer(
    case_id: str,
    *,
    parts: Iterable[str] | str,
    causes: Iterable[str] | str,
    evidence: Iterable[str] | str = (),
    why: str = "",
    confidence: str = "",
    folder: str | Path = "answers",
) -> Record:
    """Hand in a diagnosis by a typed call instead of the form; both write the same record.

    Raises ValueError when a list is too long or `confidence` is not one of CONFIDENCE.
    """
    if confidence:
        one_of("confidence", confidence, CONFIDENCE)
    answer = Answer(
        parts=_names("parts", parts, MOST_PARTS),
        causes=_names("causes", causes, MOST_CAUSES),
        evidence=_names("evidence", evidence, MOST_EVIDENCE),
        why=clean_text(why),
        confidence=confidence,
    )
    record = hand_in(load_record(case_id, folder), answer)
    save_record(record, folder)
    return record


def _names(name: str, given: Iterable[str] | str, most: int) -> tuple[str, ...]:
    names = (given,) if isinstance(given, str) else tuple(given)
    if len(names) > most:
        raise ValueError(f"{name} must be at most {most} names, got {len(names)}. Keep what you can prove.")
    return names


def _set_aside(path: Path) -> str:
    try:
        aside = _move_aside(path)
    except OSError as error:
        return (
            f"{path.name} cannot be read and could not be moved aside ({error.strerror}). "
            "Move it out of the folder yourself; until then nothing new is saved."
        )
    return f"{path.name} could not be read. It was kept as {aside.name}, and an empty record was started."


def _make_way(path: Path) -> None:
    try:
        read_record(path)
    except FileNotFoundError:
        return
    except DamagedRecord:
        _move_aside(path)


def _move_aside(path: Path) -> Path:
    number = 1
    while (aside := path.with_name(f"{path.stem}.damaged-{number}.json")).exists():
        number += 1
    os.rename(path, aside)
    return aside


def _write_whole(path: Path, text: bytes) -> None:
    part = path.with_name(f".{path.stem}.{os.getpid()}.part")
    try:
        with open(part, "wb") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
