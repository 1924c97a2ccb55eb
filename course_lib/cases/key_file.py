"""Keys on the disk, sealed against an accidental look, apart from the cases they belong to."""

from __future__ import annotations

from pathlib import Path

from course_lib.base.case_ids import id_of
from course_lib.base.data_files import data_folder
from course_lib.cases.case import check_case_id
from course_lib.cases.key import Key
from course_lib.cases.sealing import BROKEN, seal, unseal


class KeyMissing(FileNotFoundError):
    """There is no key for a case on this machine."""


def save_key(key: Key, path: str | Path) -> None:
    """Write `key` to a file, sealed against an accidental look."""
    Path(path).write_bytes(seal(key) + b"\n")


def load_key(case_id: str, *folders: str | Path) -> Key:
    """The key of a case, by id or by name: from `folders`, else from those that come with the course.

    Raises KeyMissing when there is none here, ValueError when the file is damaged.
    """
    case_id = check_case_id(id_of(case_id))
    places = [Path(f) for f in folders] or [data_folder() / "keys"]
    for path in (place / f"{case_id}.key" for place in places):
        if path.is_file():
            try:
                return unseal(path.read_bytes(), Key)
            except BROKEN as error:
                raise ValueError(
                    f"key file {path} must be whole, got {type(error).__name__}. Copy it again."
                ) from None
    raise KeyMissing(
        f"key of case {case_id} must be in {' or '.join(str(p) for p in places)}, got none. Ask your instructor."
    )
