"""The trade's expectations as a table, and how one of them is held against lives.

What a row may expect of a reading, a look or a felt trouble:

    normal       within spec; without a spec, or for a look, as on sound vehicles of the same miles
    high, low    above or below that
    lo..hi       within these numbers, in the unit of the key; also ">= x" and "<= x"
    unread       it cannot be read at all
    a|b          one or the other

Of a thing lying about ("walk_round.object") or of what papers and owner tell ("interview.history") a row expects one of the
given words. Of "codes.stored" and "codes.pending" it expects codes: "P0741|P0894" one of them is stored (or at least pending),
"none" no code at all. "key - key" is the difference of two readings; "*" in a key stands for every key that fits, and all
must agree. A cell is judged on the median life: on the median of what the lives of that cause give, as an instrument of that
uncertainty could read it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import NamedTuple

import msgspec
import numpy as np

HERE = Path(__file__).parent
ELECTRONIC = HERE / "expected_e6"
FIELDS = ("FLUID", "ROAD", "PRESS", "STALL", "EXT", "AIR", "PAN", "OPEN")
FIELDS += ("CODE", "DATA", "GRAPH", "ELEC", "LOOK", "ADAPT")  # of an electronic unit
CODE_STATES = {"codes.pending": 1, "codes.stored": 2}  # from which state of a code on it counts
NO_CODE = "none"
STAGES = {"early": ("early",), "late": ("driving", "no drive"), "driving": ("driving",)}
SIGNALS = ("vacuum", "cable", "electronic")
NOTICED = 0.25  # a felt trouble weaker than this is not worth a word
WIDE = 2.0  # instrument uncertainties that "as on a sound vehicle" leaves on either side


class Row(msgspec.Struct, frozen=True, array_like=True):
    """One line of a data file."""

    see: str
    expect: str
    say: str
    only: str = ""


class Exempt(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A cell, or a row of a pattern, in which the model and the rule of thumb part.

    where: "T3 vacuum", "T3 cable", "T4 cable", "E6 electronic"; empty = wherever.
    """

    cause: str
    see: str
    why: str
    where: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cell:
    """One expectation of one cause."""

    cause: str
    field: str
    see: str
    expect: str
    say: str
    only: str = ""

    def __str__(self) -> str:
        return " ".join(filter(None, (self.cause, self.field, self.see, self.only)))

    @property
    def stage(self) -> tuple[str, ...]:
        """Stages of damage it speaks of; empty = all."""
        return next((STAGES[word] for word in self.only.split() if word in STAGES), ())

    def fits(self, unit: str, signal: str) -> bool:
        """Whether it speaks of such a vehicle."""
        words = [word for word in self.only.split() if word not in STAGES]
        return all(word == (signal if word in SIGNALS else unit) for word in words)


class Sight(NamedTuple):
    """What a key gives over lives: values (n,), NaN = cannot be read; those of sound vehicles; spec and uncertainty.

    sigma 0: a look or a felt trouble, of which less is never amiss.
    """

    values: np.ndarray
    sound: np.ndarray
    spec: tuple[float | None, float | None] | None = None
    sigma: float = 0.0

    def minus(self, other: Sight) -> Sight:
        """The difference of two readings."""
        sigma = float(np.hypot(self.sigma, other.sigma))
        return Sight(self.values - other.values, self.sound - other.sound, None, sigma)

    @property
    def usual(self) -> tuple[float, float]:
        """Least and most that counts as normal."""
        if self.spec is not None:
            low, high = (
                np.inf * sign if end is None else end for end, sign in zip(self.spec, (-1, 1), strict=True)
            )
            return float(low), float(high)
        sound = self.sound[np.isfinite(self.sound)]
        if not len(sound):
            return np.inf, -np.inf
        low, high = np.quantile(sound, (0.02, 0.98))
        return float(low - WIDE * self.sigma) if self.sigma else -np.inf, float(high + WIDE * self.sigma)

    def take(self, rows) -> Sight:
        """The same for some of the lives."""
        return self._replace(values=self.values[rows])


def meets(expect: str, value, sight: Sight) -> np.ndarray:
    """Whether `value` is what is expected, for each entry."""
    value = np.asarray(value, float)
    return np.any([_meets_one(one.strip(), value, sight) for one in expect.split("|")], axis=0)


def _meets_one(expect: str, value: np.ndarray, sight: Sight) -> np.ndarray:
    low, high = sight.usual
    off = sight.sigma
    if expect == "unread":
        return ~np.isfinite(value)
    if expect in ("normal", "low", "high"):
        return {
            "normal": (value >= low - off) & (value <= high + off),
            "low": value < low,
            "high": value > high,
        }[expect]
    least, most = _bounds(expect)
    return (value >= least - off) & (value <= most + off)


def _bounds(expect: str) -> tuple[float, float]:
    if found := re.fullmatch(r"(>=|<=) (-?[\d.]+)", expect):
        limit = float(found[2])
        return (limit, np.inf) if found[1] == ">=" else (-np.inf, limit)
    if found := re.fullmatch(r"(-?[\d.]+?)\.\.(-?[\d.]+)", expect):
        return float(found[1]), float(found[2])
    raise ValueError(
        f"an expectation must be normal, low, high, unread, lo..hi, >= x or <= x, got {expect!r}. Correct the row."
    )


def median_life(values: np.ndarray) -> float:
    """The median; NaN when at least half cannot be read."""
    readable = values[np.isfinite(values)]
    return float(np.median(readable)) if 2 * len(readable) > len(values) else float("nan")


def names_a_thing(cell_see: str) -> bool:
    """Whether the row speaks of things lying about or of what is told."""
    return cell_see.endswith((".object", ".history"))


def names_codes(cell_see: str) -> bool:
    """Whether the row speaks of the codes that are found."""
    return cell_see in CODE_STATES


def keys_that_fit(pattern: str, keys) -> list[str]:
    """Keys that a pattern with "*" stands for."""
    return sorted(key for key in keys if fnmatchcase(key, pattern))


@cache
def cells() -> tuple[Cell, ...]:
    """Every expectation, in the order of the files."""
    paths = (*sorted((HERE / "expected").glob("*.toml")), ELECTRONIC / "cells.toml")
    return tuple(cell for path in paths for cell in _cells_of(path))


def _cells_of(path: Path) -> Iterator[Cell]:
    table = msgspec.toml.decode(path.read_bytes(), type=dict[str, dict[str, tuple[Row, ...]]])
    for cause, fields in table.items():
        for field, rows in fields.items():
            if field not in FIELDS:
                raise ValueError(
                    f"a field must be one of {', '.join(FIELDS)}, got {field!r} for {cause}. Correct {path.name}."
                )
            yield from (Cell(cause, field, row.see, row.expect, row.say, row.only) for row in rows)


@cache
def limits() -> dict[str, tuple[float, float, float]]:
    """What the trade calls normal of a key of the electronic unit: least, most, and what the instrument may be off by."""
    table = msgspec.toml.decode(
        (ELECTRONIC / "spec.toml").read_bytes(), type=dict[str, dict[str, tuple[float, float, float]]]
    )
    return table["spec"]


class Twin(msgspec.Struct, frozen=True, array_like=True):
    """A cause of the electronic unit, the cause that is mistaken for it, and the key that separates the two."""

    cause: str
    other: str
    see: str


@cache
def twins() -> tuple[Twin, ...]:
    """The twin of each cause of the electronic unit."""
    return msgspec.toml.decode((ELECTRONIC / "twins.toml").read_bytes(), type=dict[str, tuple[Twin, ...]])[
        "twins"
    ]


class ExceptionsFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The data file of exceptions and of what the table does not say."""

    exceptions: tuple[Exempt, ...] = ()
    not_expressible: tuple[tuple[str, str, str], ...] = ()


@cache
def exceptions_file() -> ExceptionsFile:
    """Argued exceptions, and the trade's sayings for which there is nothing to read: (cause, saying, reason)."""
    return msgspec.toml.decode((HERE / "exceptions.toml").read_bytes(), type=ExceptionsFile)


class OpenFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The data file of cells that wait for the model. open: `Outcome.row` of each; missing: cause -> what the model lacks."""

    open: tuple[tuple[str, ...], ...]
    missing: dict[str, str]


@cache
def open_file() -> OpenFile:
    """Cells in which the model is at fault, and how."""
    return msgspec.toml.decode((HERE / "open.toml").read_bytes(), type=OpenFile)


class Pattern(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What works and what does not, who is suspected, and the reading that splits the suspects.

    shows: rows that every suspect shows; suspects: cause -> what it gives at `splits`; only: as in a row.
    """

    name: str
    shows: tuple[Row, ...]
    splits: str
    suspects: dict[str, str]
    only: str = ""


class PatternsFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The data file of patterns."""

    patterns: tuple[Pattern, ...]


@cache
def patterns() -> tuple[Pattern, ...]:
    """The pattern table."""
    return msgspec.toml.decode((HERE / "patterns.toml").read_bytes(), type=PatternsFile).patterns
