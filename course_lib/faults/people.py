"""Owners, their vehicles, and how they say since when."""

from __future__ import annotations

from functools import cache

import msgspec

from course_lib.base.data_files import read_data
from course_lib.faults.background import Background, When


class Since(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How owners say since when: words, from how many weeks to how many, and what must be so besides."""

    words: str
    weeks: tuple[float, float]
    when: When = When()

    def fits(self, background: Background) -> bool:
        """Whether it can be said of a vehicle."""
        low, high = self.weeks
        return bool(low <= background.weeks("noticed")[0] < high and self.when.met(background)[0])


class People(msgspec.Struct, frozen=True):
    """The data file of owners and vehicles."""

    owners: dict[str, tuple[str, ...]]
    since: tuple[Since, ...]
    vehicles: dict[str, tuple[str, ...]]


@cache
def load_people() -> People:
    """The owners, vehicles and phrases of the data file."""
    return read_data("people", People)
