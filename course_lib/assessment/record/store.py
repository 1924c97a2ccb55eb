"""Records on disk: written whole or not at all, joined with what another notebook has saved, never overwritten when damaged."""

from __future__ import annotations

import os
import re
import warnings
from collections.abc import Generator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Unpack

import msgspec
from msgspec.structs import replace

from course_lib.assessment.record.shape import (
    Answer,
    Given,
    KeptAnswer,
    MoreFields,
    NewerVersion,
    Record,
    decode,
    hand_in,
    new_answer,
    now,
    this_program,
)
from course_lib.base.case_ids import id_of

#: Largest record file in bytes, and the share of it that the history may take; the oldest entries go first.
MOST_BYTES, MOST_HISTORY_BYTES = 4_000_000, 2_500_000
#: Seconds to wait for another program that is saving into the same folder; a save takes milliseconds.
PATIENCE = 20.0

_CASE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")


class DamagedRecord(ValueError):
    """A record file that cannot be read as one."""


class NewerRecord(DamagedRecord):
    """A record file written by a later version of the course. It is whole, and is left alone."""


class RecordNotSaved(OSError):
    """A record that could not be written to disk; the message says what to do."""


class RecordWarning(UserWarning):
    """A record could not be used, and the work starts from an empty one."""


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
    """Read one record file, of this version or an older one, and change nothing on disk.

    Raises DamagedRecord (one line) for a file that is not a record of the case in its name, NewerRecord for
    one of a later version.
    """
    path = Path(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise DamagedRecord(f"Record {path} is larger than {MOST_BYTES} bytes.")
        record = decode(path.read_bytes())
    except DamagedRecord:
        raise
    except NewerVersion as error:
        raise NewerRecord(f"Record {path} is newer than this course: {error}.") from None
    except (ValueError, RecursionError) as error:
        raise DamagedRecord(f"Record {path} cannot be read: {_one_line(error)}.") from None
    if record.case_id != path.stem:
        raise DamagedRecord(f"Record {path} belongs to another case: {record.case_id!r}.")
    return record


def open_record(case_id: str, folder: str | Path = "answers") -> tuple[Record, str]:
    """The saved record of a case, by id or by name, or an empty one, and one line for the learner ("" if all is well)."""
    case_id = id_of(case_id)
    path = record_path(case_id, folder)
    empty = Record(case_id=case_id)
    try:
        return read_record(path), ""
    except (FileNotFoundError, NotADirectoryError):
        return empty, ""
    except NewerRecord as newer:
        return empty, f"{newer} Until then nothing new is saved."
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
    """Write a record whole or not at all, joined with what another notebook saved meanwhile, and return its path.

    A damaged file in its place is moved aside first. Raises ValueError for a record that could not be read
    back, RecordNotSaved when the disk refuses, or when the file there is of a later version.
    """
    path = record_path(record.case_id, folder)
    msgspec.convert(msgspec.to_builtins(record), Record)  # what is written can always be read again
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with folder_lock(path.parent):
            for left in path.parent.glob(f".{path.stem}.*.part"):  # of a program that died while it wrote
                left.unlink(missing_ok=True)
            write_whole(path, _text(_joined(record, _on_disk(path))))
    except NewerRecord as newer:
        raise RecordNotSaved(f"{newer} Your work is still here, and the file was left as it is.") from None
    except OSError as error:
        raise RecordNotSaved(
            f"{path} could not be written ({error.strerror or error}). Your work is still here. Make the "
            "folder writable or free some space on the disk, then go on: the next step saves again."
        ) from None
    return path


def record_answer(
    case_id: str, *, parts: Given, causes: Given, folder: str | Path = "answers", **more: Unpack[MoreFields]
) -> Record:
    """Hand in a diagnosis by a typed call instead of the form; both write the same record.

    more: any other field of `Answer`, such as evidence, chain, why, confidence; see `new_answer`. Raises ValueError when
    a list is too long or `confidence` is not one of CONFIDENCE.
    """
    record = hand_in(load_record(case_id, folder), new_answer(parts=parts, causes=causes, **more))
    save_record(record, folder)
    return record


def write_whole(path: Path, text: bytes) -> None:
    """Put `text` into a file, whole or not at all. Raises OSError."""
    part = path.with_name(f".{path.stem}.{os.getpid()}.part")
    try:
        with open(part, "wb") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


# ---------------------------------------------------------------------- two notebooks at once
@contextmanager
def folder_lock(folder: Path) -> Generator[None]:
    """Nobody else saves into `folder` meanwhile. The system lets go of the lock by itself when a program dies.

    Where a disk knows no locks, saving goes on without: joining keeps what both had. Raises OSError when it takes too long.
    """
    from filelock import (
        FileLock,
        Timeout,
    )  # here: 0.1 s, and only who saves needs it

    with ExitStack() as stack:
        try:
            stack.enter_context(FileLock(folder / ".lock", timeout=PATIENCE, poll_interval=0.01))
        except Timeout:
            raise OSError("another program is saving there and does not finish") from None
        except (OSError, NotImplementedError):
            pass
        yield


def _joined(mine: Record, theirs: Record | None) -> Record:
    """`mine` with whatever only the saved record holds; no inspection, hand-in or draft of another program is lost."""
    if theirs is None:
        return replace(mine, history=_fitting(mine.history), writer=this_program())
    made = {step.inspection for step in theirs.inspections}
    kept = set(theirs.history)
    shared = [place for place, entry in enumerate(mine.history) if entry in kept]
    new = mine.history[shared[-1] + 1 :] if shared else mine.history
    handed_in_now = [entry for entry in new if entry.kind == "handed in"]
    counts = mine if handed_in_now or theirs.handed_in is None else theirs
    return replace(
        mine,
        inspections=theirs.inspections + tuple(s for s in mine.inspections if s.inspection not in made),
        helped=tuple(dict.fromkeys((*theirs.helped, *mine.helped))),
        refused=tuple(dict.fromkeys((*theirs.refused, *mine.refused))),
        handed_in=counts.handed_in,
        handed_in_at=counts.handed_in_at,
        attempts=max(mine.attempts, theirs.attempts + len(handed_in_now)),
        history=_fitting((*theirs.history, *_displaced(mine, theirs), *new)),
        notes=mine.notes or theirs.notes,
        writer=this_program(),
    )


def _displaced(mine: Record, theirs: Record) -> tuple[KeptAnswer, ...]:
    """The draft of another program that `mine` writes over, if it stands nowhere else."""
    draft = theirs.answer
    known = theirs.writer == this_program() or draft in (mine.answer, Answer())
    if known or any(entry.answer == draft for entry in theirs.history):
        return ()
    return (KeptAnswer(kind="draft", at=now(), minutes=theirs.minutes_used, answer=draft),)


def _fitting(history: tuple[KeptAnswer, ...]) -> tuple[KeptAnswer, ...]:
    """The newest entries that a file has room for."""
    room = MOST_HISTORY_BYTES
    for place in range(len(history) - 1, -1, -1):
        room -= len(_text(history[place]))
        if room < 0:
            return history[place + 1 :]
    return history


def _text(value: object) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=2)


# ---------------------------------------------------------------------- damaged files
def _on_disk(path: Path) -> Record | None:
    """The record that stands there, None if there is none; a damaged file is moved aside. Raises NewerRecord, OSError."""
    try:
        return read_record(path)
    except FileNotFoundError:
        return None
    except NewerRecord:
        raise
    except DamagedRecord:
        move_aside(path)
        return None


def _set_aside(path: Path) -> str:
    try:
        aside = move_aside(path)
    except OSError as error:
        return (
            f"{path.name} cannot be read and could not be moved aside ({error.strerror}). "
            "Move it out of the folder yourself; until then nothing new is saved."
        )
    return f"{path.name} could not be read. It was kept as {aside.name}, and an empty record was started."


def move_aside(path: Path) -> Path:
    """Keep a damaged file under another name, and say which. Raises OSError where it cannot be moved."""
    number = 1
    while (aside := path.with_name(f"{path.stem}.damaged-{number}.json")).exists():
        number += 1
    os.rename(path, aside)
    return aside


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())[:300] or type(error).__name__
