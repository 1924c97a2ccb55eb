"""Which vehicle stands behind the name of a case: another vehicle gets another id, and its name keeps its place in the course."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from course_lib.base.data_files import read_data


class _Retired(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The data file; see datasets/retired.toml."""

    retired: dict[str, tuple[str, ...]]


def id_of(name: str) -> str:
    """The id of the vehicle that stands behind `name` today; what is no name of the course, such as an id, stays as it is."""
    return _ids(name)[-1]


def retired_ids(name: str) -> dict[str, str]:
    """Ids of the vehicles that stood behind `name` before, oldest first -> the last version of the course that had them."""
    return dict(zip(_ids(name), _retired().get(name, ()), strict=False))


def all_retired() -> dict[str, str]:
    """The same for every name of the course."""
    return {case_id: version for name in _retired() for case_id, version in retired_ids(name).items()}


def records_before(case_id: str, folder: str | Path) -> dict[str, Path]:
    """Records in `folder` of vehicles that stood where the vehicle `case_id` stands: id -> file, oldest first."""
    name = next((each for each in _retired() if id_of(each) == case_id), case_id)
    files = {each: Path(folder) / f"{each}.json" for each in retired_ids(name)}
    return {each: path for each, path in files.items() if path.is_file()}


def retired_note(case_id: str) -> str:
    """One sentence about a record of a vehicle that has left the course; "" for every other id."""
    version = all_retired().get(case_id)
    if version is None:
        return ""
    return (
        f"{case_id}.json is of a vehicle that the course had up to version {version}: "
        "it is kept as it was, can be read, and is not marked."
    )


@cache
def _retired() -> dict[str, tuple[str, ...]]:
    return read_data("retired", _Retired).retired


def _ids(name: str) -> list[str]:
    return [name, *(f"{name}-{number}" for number in range(2, len(_retired().get(name, ())) + 2))]
