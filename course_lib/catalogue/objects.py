"""Things that lie about on a vehicle: those that a cause leaves behind, and those that lead nowhere."""

from __future__ import annotations

from functools import cache

import msgspec

from course_lib.datasets import read_data
from course_lib.vocabulary import one_of

HISTORY = "history"  # stands for an inspection where the thing is not seen but told


class LyingAbout(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A thing, the inspection at which it is found and what is seen; herring: it is also found where it means nothing."""

    id: str
    inspection: str
    words: str
    herring: bool = False


class ObjectsFile(msgspec.Struct, frozen=True):
    """The data file."""

    objects: tuple[LyingAbout, ...]


@cache
def all_objects() -> dict[str, LyingAbout]:
    """Every thing by id, in the order of the data file."""
    return {each.id: each for each in read_data("objects", ObjectsFile).objects}


def load_object(name: str) -> LyingAbout:
    """The thing `name`. Raises ValueError naming the nearest one that exists."""
    one_of("object", name, all_objects())
    return all_objects()[name]


def red_herrings() -> tuple[LyingAbout, ...]:
    """The things and sayings that can be found on a vehicle where they lead nowhere."""
    return tuple(each for each in all_objects().values() if each.herring)
