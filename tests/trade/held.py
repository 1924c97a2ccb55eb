"""Holding the table against the lives: what each cell gives, and whether it agrees."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from course_lib.faults.causes import load_cause
from course_lib.faults.clues import TOLD_AT, all_facts, all_objects

from .lives import Batch, batch, kinds, use_of
from .table import (
    CODE_STATES,
    NO_CODE,
    Cell,
    Row,
    Sight,
    Twin,
    cells,
    keys_that_fit,
    median_life,
    meets,
    names_a_thing,
    names_codes,
)

HISTORY = "interview.history"
NOT_READ = "no such reading or look"
OFTEN = 0.3  # share of the vehicles of a cause on which a thing must lie to be counted as left
CODE_KEY = "codes.code_"  # under which the state of a code is found: 0 none, 1 pending, 2 stored
LEAST_STEP = 0.5  # of a look: half a step of its scale
FEWEST = 3  # lives below which a cell says nothing


@dataclass(frozen=True, slots=True)
class Outcome:
    """A cell held against the lives of one kind of vehicle.

    agreed; share: of the lives, that agree by themselves; median, low, high: what the lives give (5 to 95 %); lives: how many;
    problem: why nothing could be compared, else empty.
    """

    cell: Cell
    vehicle: str
    agreed: bool
    share: float = 0.0
    median: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    lives: int = 0
    problem: str = ""

    @property
    def row(self) -> tuple[str, ...]:
        """What tells this outcome from every other: cause, vehicle, what is seen, for whom, and what is expected."""
        return (self.cell.cause, self.vehicle, self.cell.see, str(self.cell.only), self.cell.expect)

    def __str__(self) -> str:
        got = self.problem or (
            f"{_number(self.median)} ({_number(self.low)} to {_number(self.high)}), {self.lives} lives, {self.share:.0%} agree"
        )
        return f"{self.vehicle:10s} {self.cell.field:5s} {self.cell.see} {self.cell.only}: {self.cell.expect} \u2013 {got}"


def _number(value: float) -> str:
    return "unread" if np.isnan(value) else f"{value:.4g}"


def outcomes(causes=None) -> list[Outcome]:
    """Every cell held against every kind of vehicle in which its cause can occur; `causes`: only these."""
    wanted = [cell for cell in cells() if causes is None or cell.cause in causes]
    uses = {use_of(cell.cause) for cell in wanted}
    found = []
    for unit, signal, use in kinds():
        if use in uses:
            lives = batch(unit, signal, use)
            here = set(lives.cause) | set(lives.silent)
            found += [
                held(c, lives)
                for c in wanted
                if c.cause in here and c.fits(unit, signal) and use_of(c.cause) == use
            ]
    return found


def held(cell: Cell, lives: Batch) -> Outcome:
    """One cell against the lives of one kind of vehicle."""
    if names_a_thing(cell.see):
        there = _is_left(cell)
        return Outcome(
            cell, lives.name, there, float(there), problem="" if there else "nothing of the kind is left"
        )
    rows = lives.rows(cell.cause, cell.stage)
    if names_codes(cell.see):
        found = _compared(replace(cell, expect=">= 1"), lives, rows, codes_found(cell, lives))
        return replace(found, cell=cell)
    return _compared(cell, lives, rows, sights_of(cell.see, lives))


def _compared(cell: Cell, lives: Batch, rows: np.ndarray, sights: list[Sight]) -> Outcome:
    if len(rows) < FEWEST:
        return Outcome(
            cell, lives.name, False, lives=len(rows), problem=f"only {len(rows)} lives at this stage"
        )
    if not sights:
        return Outcome(cell, lives.name, False, lives=len(rows), problem=NOT_READ)
    return min(
        (_judged(cell, lives, sight.take(rows)) for sight in sights), key=lambda o: (o.agreed, o.share)
    )


def _judged(cell: Cell, lives: Batch, sight: Sight) -> Outcome:
    middle = median_life(sight.values)
    readable = sight.values[np.isfinite(sight.values)]
    low, high = np.quantile(readable, (0.05, 0.95)) if len(readable) else (np.nan, np.nan)
    return Outcome(
        cell=cell,
        vehicle=lives.name,
        agreed=bool(meets(cell.expect, middle, sight)),
        share=float(meets(cell.expect, sight.values, sight).mean()),
        median=middle,
        low=float(low),
        high=float(high),
        lives=len(sight.values),
    )


def sights_of(see: str, lives: Batch) -> list[Sight]:
    """What a key, a pattern of keys or a difference of keys gives."""
    if " - " in see:
        parts = [lives.sights.get(key) for key in see.split(" - ")]
        return [] if None in parts else [reduce(Sight.minus, parts)]
    return [lives.sights[key] for key in keys_that_fit(see, lives.sights)]


def codes_found(cell: Cell, lives: Batch) -> list[Sight]:
    """Whether one of the codes that a cell expects is found on each life, 1 or 0; nothing where the unit has no codes."""
    least = CODE_STATES[cell.see]
    there = {
        key.removeprefix(CODE_KEY): sight.values >= least
        for key, sight in lives.sights.items()
        if key.startswith(CODE_KEY)
    }
    if not there:
        return []
    there[NO_CODE] = ~np.any(list(there.values()), axis=0)
    met = np.any([there[word] for word in cell.expect.split("|")], axis=0)
    return [Sight(met.astype(float), np.zeros(0))]


@dataclass(frozen=True, slots=True)
class Split:
    """What the key that separates two twins gives on the median life of each, and by how much the instrument may be off."""

    twin: Twin
    here: float
    there: float
    sigma: float

    @property
    def apart(self) -> bool:
        """Whether the two differ by more than the instrument; what can be read on one of them only tells them apart as well."""
        if np.isnan(self.here) or np.isnan(self.there):
            return np.isnan(self.here) != np.isnan(self.there)
        return abs(self.here - self.there) > (self.sigma or LEAST_STEP)

    def __str__(self) -> str:
        twin = self.twin
        return f"{twin.cause} | {twin.other}: {twin.see} {_number(self.here)} | {_number(self.there)} (off by {self.sigma:.2g})"


def split(twin: Twin) -> Split:
    """A pair of twins held against the lives of both, on the vehicle in which both can occur."""
    middles, sigma = [], 0.0
    for cause in (twin.cause, twin.other):
        unit, signal = next(
            kind[:2] for kind in kinds() if kind[1] in load_cause(cause).signals and kind[2] == use_of(cause)
        )
        lives = batch(unit, signal, use_of(cause))
        sight = lives.sights.get(twin.see)
        middles.append(np.nan if sight is None else median_life(sight.values[lives.rows(cause)]))
        sigma = 0.0 if sight is None else max(sigma, sight.sigma)
    return Split(twin, *middles, sigma)


def _is_left(cell: Cell) -> bool:
    """Whether the cause often leaves such a thing at that inspection, or has such a story told of it oftener than most."""
    cause = load_cause(cell.cause)
    place = cell.see.removesuffix(".object")
    dated = set(cause.dates_from)
    told = [line for line in all_facts().values() if line.share(cause) or dated & set(line.when.ago)]
    clues = [*told, *(thing for thing in all_objects().values() if thing.share(cause) >= OFTEN)]
    here = [clue for clue in clues if clue.inspection == (TOLD_AT if cell.see == HISTORY else place)]
    return any(re.search(cell.expect, words, re.IGNORECASE) for clue in here for words in clue.words)


def shows(row: Row, cause: str, lives: Batch, stages=()) -> Outcome:
    """A row of a pattern against the lives of one suspect."""
    cell = Cell(cause, "ROAD", row.see, row.expect, row.say)
    return _compared(cell, lives, lives.rows(cause, stages), sights_of(row.see, lives))
