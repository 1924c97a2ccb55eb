"""What an inspection finds on a batch of vehicles, as arrays; and how one vehicle's row of it is put for a learner.

Shapes: n vehicles. A batch has no words and no instrument error; both come in when one row is read off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar
from zlib import crc32

import numpy as np
from msgspec import UNSET

from course_lib.base.arrays import Array, Flags, Places
from course_lib.shop.findings import Look, Paper, Reading, Trace
from course_lib.shop.graded_scales import grades, sentence, step_word

Notes = tuple[tuple[str, Flags], ...]  # what is said, and of which vehicles, (n,) bool
Circuits = tuple[tuple[str, str, Flags], ...]  # id, how it is called, and of which vehicles, (n,) bool
Spread = TypeVar("Spread", Array, Flags)
FARTHEST = 2.0  # standard deviations an instrument is off at most


def instrument_error(seed: int, key: str) -> float:
    """How far the instrument of reading `key` is off in a shop of that seed, in standard deviations: always the same."""
    drawn = np.random.default_rng([seed, crc32(key.encode())]).normal()
    return float(np.clip(drawn, -FARTHEST, FARTHEST))


def _drawn(seed: int, key: str) -> float:
    """A number from 0 to below 1 that decides whether a shop of that seed meets `key`: always the same."""
    return float(np.random.default_rng([seed, crc32(key.encode()), 1]).random())


@dataclass(frozen=True, slots=True)
class Instrument:
    """What a reading is taken with: its unit, one standard deviation, the decimals it shows, whether it shows less than nothing,
    and the most it shows."""

    unit: str
    sigma: float
    decimals: int = 0
    signed: bool = False
    most: float = np.inf


PRESSURE_GAUGE = Instrument("psi", 0.7)  # a good 400 psi gauge read to the nearest mark
VACUUM_GAUGE = Instrument("inHg", 0.2, 1)
TACHOMETER = Instrument("rpm", 8)
WATCH = Instrument("s", 0.1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchReading:
    """One reading of n vehicles, in workshop units.

    value (n,), NaN = cannot be read. sigma: one standard deviation of the instrument. signed: the instrument can show less than
    nothing. swing (n, 2): both ends of a needle that does not stand still, else NaN. notes: (text, (n,) where it is said); the
    first that holds is said. asked: (n,) bool, where there is any reason to read it; None: on all. most: end of the instrument's
    range, shown without an error. apart: one standard deviation by which two like vehicles differ in it besides.
    """

    key: str
    label: str
    value: Array
    unit: str
    sigma: float
    decimals: int = 0
    signed: bool = False
    swing: Array | None = None
    notes: Notes = ()
    asked: Flags | None = None
    most: float = np.inf
    apart: float = 0.0

    def reading(self, row: int, seed: int, spec: tuple[float, float] | None) -> Reading:
        """What the instrument of a shop of that seed shows on one vehicle; spec (low, high), infinite where open, or None."""
        known = bool(np.isfinite(self.value[row]))
        past = bool(self.value[row] >= self.most)
        error = 0.0 if past else self.sigma * instrument_error(seed, self.key)
        note = next((text for text, where in self.notes if where[row]), "")
        return Reading(
            key=self.key,
            label=self.label,
            value=self._shown(self.value[row], error) if known else None,
            unit=self.unit,
            spec=None if spec is None else (_end(spec[0]), _end(spec[1])),
            sigma=self.sigma,
            swing=self._swing(row, error),
            decimals=self.decimals,
            note=note,
            past_range=True if past and note else UNSET,  # a share of all stands as a number
        )

    def left_out(self, notes: Notes) -> BatchReading:
        """The same, not to be read where one of the notes holds."""
        gone = np.any([where for _, where in notes], axis=0)
        swing = None if self.swing is None else np.where(gone[:, None], np.nan, self.swing)
        value = np.where(gone, np.nan, self.value)
        return replace(self, value=value, swing=swing, notes=(*notes, *self.notes))

    def only(self, where: Flags, reason: str) -> BatchReading:
        """The same, read on some vehicles only, (n,) bool: on the others there is no reason to."""
        return replace(self.left_out(((reason, ~where),)), asked=where)

    def spread(self, rows: Places, size: int) -> BatchReading:
        """The same among `size` vehicles, of which these are `rows`; the others are not read."""
        swing = None if self.swing is None else _spread(self.swing, rows, size, np.nan)
        notes = tuple((text, _spread(where, rows, size, False)) for text, where in self.notes)
        return replace(self, value=_spread(self.value, rows, size, np.nan), swing=swing, notes=notes)

    @property
    def swing_width(self) -> Array:
        """How far the needle swings, (n,), 0 where it stands still."""
        ends = np.zeros((len(self.value), 2)) if self.swing is None else np.nan_to_num(self.swing)
        return ends[:, 1] - ends[:, 0]

    def _shown(self, value: float, error: float) -> float:
        number = round(float(value) + error, self.decimals) + 0.0  # never minus nothing
        return number if self.signed else max(number, 0.0)

    def _swing(self, row: int, error: float) -> tuple[float, float] | None:
        if self.swing is None or np.isnan(self.swing[row]).any():
            return None
        low, high = self.swing[row]
        return self._shown(low, error), self._shown(high, error)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLook:
    """One thing that is looked at on n vehicles, graded on a scale of words.

    value (n,), NaN = not there to be seen, which counts as the least step. text: how it is said, {} stands for the word. quiet:
    the least step is not worth a sentence. chance (n,): how probable it is that it is met at all when one looks; None: always.
    of: (id, label, where (n,)) of each circuit that it may be seen in: the first that holds is named past the least step. sigma:
    one standard deviation in grades, where two like vehicles differ by more than usual; 0: as usual. absent: what is said in place
    of the least step where it is not there to be seen.
    """

    key: str
    scale: str
    value: Array
    text: str = "{}"
    quiet: bool = False
    chance: Array | None = None
    of: Circuits = ()
    sigma: float = 0.0
    absent: str = ""

    def grades(self) -> Places:
        """Step of each vehicle on the scale, (n,), 0 least."""
        return grades(self.scale, self.value)

    def only(self, where: Flags) -> BatchLook:
        """The same, looked at on some vehicles only, (n,) bool."""
        return replace(self, value=np.where(where, self.value, np.nan))

    def seen_share(self) -> Array:
        """Probability (n,) that more than the least step is met when one looks."""
        there = self.grades() > 0
        return there * (1.0 if self.chance is None else self.chance)

    def spread(self, rows: Places, size: int) -> BatchLook:
        """The same among `size` vehicles, of which these are `rows`; the others are not looked at."""
        chance = None if self.chance is None else _spread(self.chance, rows, size, 0.0)
        of = tuple((name, label, _spread(where, rows, size, False)) for name, label, where in self.of)
        return replace(self, value=_spread(self.value, rows, size, np.nan), chance=chance, of=of)

    def look(self, row: int, seed: int) -> Look:
        """What is seen on one vehicle in a shop of that seed."""
        missed = self.chance is not None and _drawn(seed, self.key) >= self.chance[row]
        step = 0 if missed else int(self.grades()[row])
        missing = self.absent and bool(np.isnan(self.value[row]))
        text = self.text.format(self.absent if missing else step_word(self.scale, step))
        named = [(name, label) for name, label, where in self.of if step and where[row]]
        if not named:
            return Look(key=self.key, grade=step, text=text)
        return Look(key=self.key, grade=step, text=f"{text}, {named[0][1]}", of=named[0][0])


def _end(limit: float) -> float | None:
    """One end of a spec, None where it is open."""
    return limit if np.isfinite(limit) else None


def _spread(values: Spread, rows: Places, size: int, otherwise: float) -> Spread:
    """`values` at `rows` of an array for `size` vehicles."""
    whole = np.full((size, *np.shape(values)[1:]), otherwise)
    whole[rows] = values
    return whole


def batch_looks(*rows: tuple[str, str, Array, str], quiet: bool = False) -> tuple[BatchLook, ...]:
    """Several things that are looked at: key, scale, value (n,) and how it is said of each."""
    return tuple(
        BatchLook(key=key, scale=scale, value=value, text=text, quiet=quiet)
        for key, scale, value, text in rows
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What was read and seen on one vehicle, for those who put it in words; values: the numbers behind the looks."""

    readings: dict[str, Reading]
    looks: dict[str, Look]
    values: dict[str, float]

    def __getitem__(self, key: str) -> str:
        """The words of a look."""
        return self.looks[key].text


def trace(key: str, label: str, unit: str, times: Array, values: Array, *, at: str = "") -> Trace:
    """A trace, to the millisecond and four figures: what is kept of it must stay small."""
    return Trace(
        key=key,
        label=label,
        unit=unit,
        times=tuple(round(float(each), 3) for each in times),
        values=tuple(float(f"{each:.4g}") for each in values),
        at=at,
    )


def always(*words: str) -> Callable[[Row], list[str]]:
    """A caption that says the same of every vehicle: what an inspection cannot tell."""
    return lambda _row: list(words)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchFinding:
    """What one inspection finds on n vehicles.

    caption: puts the looks that are not quiet into sentences; without it, each is a sentence of its own. traces: what instruments
    draw of one row in a shop of a seed, from the same numbers, and only where it is asked for.
    papers: tables that were read, the same of every vehicle.
    """

    measured: tuple[BatchReading, ...] = ()
    seen: tuple[BatchLook, ...] = ()
    caption: Callable[[Row], list[str]] | None = None
    traces: Callable[[int, int], tuple[Trace, ...]] | None = None
    papers: tuple[Paper, ...] = ()

    def row(self, row: int, seed: int, specs: dict[str, tuple[float, float]]) -> Row:
        """One vehicle's row, with the instrument errors of a shop of that seed; specs: key -> (low, high)."""
        asked = [each for each in self.measured if each.asked is None or each.asked[row]]
        readings = {each.key: each.reading(row, seed, specs.get(each.key)) for each in asked}
        values = {each.key: float(each.value[row]) for each in self.seen}
        return Row(
            readings=readings, looks={each.key: each.look(row, seed) for each in self.seen}, values=values
        )

    def always(self, row: Row) -> list[str]:
        """Sentences that are said in any case."""
        if self.caption is not None:
            return self.caption(row)
        return [sentence(row[each.key]) for each in self.seen if not each.quiet]

    def notable(self, row: Row) -> list[str]:
        """Sentences that are said because something is not as it should be."""
        return [sentence(row[each.key]) for each in self.seen if each.quiet and row.looks[each.key].grade]
