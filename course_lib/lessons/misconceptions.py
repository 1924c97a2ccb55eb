"""Which thought stands behind a wrong cause: from `datasets/classroom/wrong_causes.toml` to the list of misconceptions."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cache

import msgspec

from course_lib.base.data_files import read_data
from course_lib.lessons.lesson import Misconception, MisconceptionsFile


class MisconceptionRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Whoever names one of `named` on a vehicle with a cause of `when` (any, where it is empty) most likely thought so."""

    named: tuple[str, ...]
    thought: str
    when: tuple[str, ...] = ()

    def fits(self, true: Collection[str]) -> bool:
        """Whether the entry speaks of a vehicle with these causes."""
        return not self.when or not set(self.when).isdisjoint(true)


class _Entries(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    entries: tuple[MisconceptionRule, ...]


@cache
def misconception_rules() -> tuple[MisconceptionRule, ...]:
    """The data file, in its order: the first entry that fits counts."""
    return read_data("classroom/wrong_causes", _Entries).entries


@cache
def shared_misconceptions() -> dict[str, Misconception]:
    """What the trade says wrongly, and what is true, by id."""
    return read_data("misconceptions", MisconceptionsFile).misconceptions


def misconception_behind(named: str, true: Collection[str]) -> str:
    """The id of the misconception behind a wrong cause, "" where none is known or the cause is right."""
    if named in true:
        return ""
    return next(
        (each.thought for each in misconception_rules() if named in each.named and each.fits(true)), ""
    )


def cause_believed(thought: str, true: Collection[str], choices: Sequence[str]) -> str:
    """The wrong cause that somebody with this thought names on a vehicle with the causes `true`; "" where it does not mislead."""
    return next((name for name in choices if thought and misconception_behind(name, true) == thought), "")
