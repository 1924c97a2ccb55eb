"""What a class handed in, read as data: only the expected records, only plain files, only so many bytes. Nothing else is opened.

Whatever cannot be used gets one line that says so. A folder is never walked: the records are asked for by name.
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator, Mapping
from itertools import combinations, islice
from pathlib import Path
from typing import NamedTuple

import msgspec

from course_lib.assessment.record import MOST_BYTES, Record
from course_lib.assessment.record.shape import decode
from course_lib.base.case_ids import retired_note

MOST_SHOWN, MOST_LISTED, LONGEST_LINE = 5, 200, 240
ANSWERS = "answers"
NO_RECORD = "no record"
CUT_OFF = "the file was cut off or changed by hand. Ask for it once more"
_CODE = {".py", ".pth", ".so", ".pyd", ".dll", ".sh", ".bat", ".cfg", ".ini", ".toml"}
_PACKED = {".zip", ".gz", ".bz2", ".xz", ".tar", ".tgz", ".7z", ".rar"}
_KINDS = (
    (stat.S_ISLNK, "a link"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


class Handin(NamedTuple):
    """One learner's hand-in: name as it is shown, ids of the cases expected, the records taken, what was refused (case id ->
    line), and notes on the rest."""

    name: str
    cases: tuple[str, ...]
    records: dict[str, Record]
    remarks: dict[str, str]
    notes: tuple[str, ...] = ()


Expected = Mapping[str, tuple[str, tuple[str, ...]]]
"""Folder -> (name on the list, ids of the cases)."""


def read_handins(folder: Path, expected: Expected) -> list[Handin]:
    """What lies in `folder`, one hand-in for each entry, in order of their names.

    expected: what each one was given. A learner who is expected and handed in nothing is listed too. Raises
    FileNotFoundError where there is no folder, or nothing in it.
    """
    if not folder.is_dir():
        raise FileNotFoundError(f"folder must be an existing folder, got {folder}. Check the path.")
    rooms = sorted(
        (path for path in folder.iterdir() if not _litter(path)), key=lambda path: os.fsencode(path.name)
    )
    if not rooms:
        raise FileNotFoundError(
            f"folder must hold one folder for each learner, got none in {folder}. "
            "Put each learner's answers in a folder with the learner's name."
        )
    return note_copies(list(_of_each(rooms, expected)), expected)


def _litter(path: Path) -> bool:
    """Hidden files that file managers leave behind; a hidden folder or link is somebody's doing."""
    return path.name[0] == "." and _kind(path) == "a file"


def _of_each(rooms: list[Path], expected: Expected) -> Iterator[Handin]:
    """By folder as it was handed out, or by the learner's name; whoever is not on the list gets a line and no marks."""
    named = {name.casefold(): folder for folder, (name, _) in expected.items()}
    left = dict(expected)
    for room in rooms:
        folder = room.name if room.name in left else named.get(room.name.casefold(), "")
        if folder in left:
            yield read_handin(room, *left.pop(folder))
        else:
            yield Handin(
                printable_name(room.name), (), {}, {}, ("not on the list of this set: nothing was read",)
            )
    for name, cases in left.values():
        yield Handin(
            name, cases, {}, dict.fromkeys(cases, NO_RECORD), ("no folder with this name was handed in",)
        )


def read_handin(room: Path, name: str, cases: tuple[str, ...]) -> Handin:
    """Take the records of `cases` from one entry of the hand-ins; note what had to be refused and what was left alone."""
    kind = _kind(room)
    if kind != "a folder":
        line = f"{kind} was handed in, not a folder: nothing was read"
        return Handin(name, cases, {}, dict.fromkeys(cases, NO_RECORD), (line + _advice(room),))
    inner = room / ANSWERS
    place = inner if _kind(inner) == "a folder" else room
    records, remarks = {}, {}
    for case_id in cases:
        try:
            records[case_id] = read_bounded(place / f"{case_id}.json", case_id)
        except FileNotFoundError:
            remarks[case_id] = NO_RECORD
        except json.JSONDecodeError:
            remarks[case_id] = f"record refused: {CUT_OFF}"
        except (OSError, ValueError) as error:
            remarks[case_id] = f"record refused: {one_line(getattr(error, 'strerror', None) or error)}"
    return Handin(name, cases, records, remarks, tuple(_notes(room, inner, place, cases)))


def read_bounded(path: Path, case_id: str) -> Record:
    """The record of a case from a plain file of at most MOST_BYTES, without following a link or waiting on a pipe.

    Raises FileNotFoundError, OSError or ValueError with one line that holds no path.
    """
    kind = _kind(path)
    if kind == "nothing":
        raise FileNotFoundError(path)
    if kind != "a file":
        raise ValueError(f"it is not a plain file but {kind}")
    flags = (
        os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    )
    with os.fdopen(os.open(path, flags), "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise ValueError("it is not a plain file")
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValueError(f"it is larger than {MOST_BYTES} bytes")
    return _decoded(data, case_id)


def _decoded(data: bytes, case_id: str) -> Record:
    try:
        record = decode(data)
    except UnicodeDecodeError:
        raise ValueError("it is not text in UTF-8") from None
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except msgspec.ValidationError as error:
        entry = str(error).rpartition(" - at `$")[2].strip("`.") or "itself"
        raise ValueError(f"its entry {printable_name(entry)} is not as the course writes it") from None
    if record.case_id != case_id:
        raise ValueError(f"it belongs to another case: {printable_name(record.case_id)}")
    return record


# ---------------------------------------------------------------------- notes
def _notes(room: Path, inner: Path, place: Path, cases: tuple[str, ...]) -> Iterator[str]:
    """One line for each thing in a folder that an instructor may want to know; names only, nothing is opened."""
    kind = _kind(inner)
    if kind not in ("a folder", "nothing"):
        yield f"{ANSWERS} is {kind}, not a folder: it was not opened"
    names = _listed(room) + (_listed(place) if place != room else [])
    wanted = {f"{case_id}.json" for case_id in cases}
    code = [name for name in names if Path(name).suffix.casefold() in _CODE]
    packed = [name for name in names if Path(name).suffix.casefold() in _PACKED]
    other = [
        name for name in names if name.endswith(".json") and name not in wanted and ".damaged-" not in name
    ]
    if code:
        yield f"code or settings found and left alone, never run: {_some(code)}"
    if packed:
        yield f"packed files found and not unpacked: {_some(packed)}. Ask for the folder itself"
    gone = [note for name in other if (note := retired_note(name.removesuffix(".json")))]
    other = [name for name in other if not retired_note(name.removesuffix(".json"))]
    yield from gone[:MOST_SHOWN]
    if other:
        yield f"records of other names found and not read: {_some(other)}"
    if not wanted & set(names) and any(name.endswith(".ipynb") for name in names):
        yield f"a notebook was handed in without its records: ask for the folder {ANSWERS}"
    if len(names) >= MOST_LISTED:
        yield f"more than {MOST_LISTED} files in the folder: the rest was not looked at"


def _listed(place: Path) -> list[str]:
    with os.scandir(place) as entries:
        return sorted(entry.name for entry in islice(entries, MOST_LISTED))


def _some(names: list[str]) -> str:
    more = f" and {len(names) - MOST_SHOWN} more" if len(names) > MOST_SHOWN else ""
    return ", ".join(printable_name(name) for name in names[:MOST_SHOWN]) + more


def _advice(room: Path) -> str:
    return ". Unpack it into a folder with the learner's name" if room.suffix.casefold() in _PACKED else ""


def note_copies(handins: list[Handin], expected: Expected) -> list[Handin]:
    """The hand-ins, with a note on each record that says the same as another learner's, and on records of others' cases."""
    notes: dict[int, list[str]] = {place: list(one.notes) for place, one in enumerate(handins)}
    owner = {case: name for name, cases in expected.values() for case in cases}
    cores = [{_core(record) for record in one.records.values()} - {b""} for one in handins]
    for one, two in combinations(range(len(handins)), 2):
        for here, other in ((one, two), (two, one)) if cores[one] & cores[two] else ():
            notes[here].append(
                f"a record is the same, word for word, as one of {handins[other].name}: somebody copied"
            )
    for place, handin in enumerate(handins):
        for case in sorted({remark.rpartition(": ")[2] for remark in handin.remarks.values()} & set(owner)):
            notes[place].append(f"holds a record of case {case}, which was given to {owner[case]}")
    return [one._replace(notes=tuple(notes[place])) for place, one in enumerate(handins)]


def _core(record: Record) -> bytes:
    """What a learner put into a record, in bytes, whichever case it is of; nothing where that is too little to be told apart."""
    answer = record.handed_in
    if answer is None or not answer.why.strip() or not record.handed_in_at:
        return b""
    return msgspec.json.encode((record.handed_in_at, answer, record.inspections))


# ---------------------------------------------------------------------- words
def _kind(path: Path) -> str:
    """What lies at a path, links not followed."""
    try:
        mode = path.lstat().st_mode
    except (OSError, ValueError):
        return "nothing"
    return next((word for is_kind, word in _KINDS if is_kind(mode)), "a file")


def printable_name(name: str) -> str:
    """A name from a disk as it can be printed anywhere: no control characters, no half characters, not too long."""
    whole = os.fsencode(name).decode("utf-8", "replace") if isinstance(name, str) else str(name)
    plain = "".join(c if c.isprintable() else "?" for c in whole)
    return plain if len(plain) <= 80 else plain[:77] + "..."


def one_line(said: object) -> str:
    """Any message as one line of bearable length, without characters that steer a screen."""
    text = plain_line(str(said))
    return text if len(text) <= LONGEST_LINE else text[: LONGEST_LINE - 3] + "..."


def plain_line(text: str) -> str:
    """Text on one line, with single blanks, and without the characters that steer a screen or turn its lines around."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
