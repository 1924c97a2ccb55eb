"""What befell a vehicle besides its cause: jobs done on it, owners, and when the trouble began and was noticed.

Drawn once for a vehicle, before anything is said of it. Whatever is told of it, lies about or stands on a work order reads these
moments and nothing else, so that no two sentences about one vehicle can contradict each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import msgspec
import numpy as np

from course_lib.base.guards import one_of
from course_lib.faults.measures import HYDRAULIC
from course_lib.vehicle.uses import load_uses

Shape = Literal["", "sudden", "creeping"]
# How often each job has been done on a vehicle that came in: a shop sees what has been worked on before (fitted to nothing).
JOBS = {"out": 0.45, "apart": 0.42, "pan_off": 0.42, "body_out": 0.28, "engine_out": 0.45}
BRINGS = {"apart": ("out", "body_out", "pan_off"), "body_out": ("pan_off",)}  # jobs that are part of another
MOMENTS = ("made", "bought", *JOBS, "onset", "noticed", "cleared")
LATELY, LATELY_WEEKS = 0.8, 40.0  # share of the jobs that were done in so many weeks before the cause set in
SECOND_HAND = 0.55
CLEARED_BEFORE = (
    0.15  # of electronic ones, that had their codes cleared for whatever reason before the cause set in
)
# Of the noticed miles, or of time: how fast a sudden trouble becomes a loud one.
SUDDEN_SHARE, SUDDEN_WEEKS = 0.05, 0.2
SAME_JOB_WEEKS = 1.0  # noticed within so many after a job, it is said to date from it


@dataclass(frozen=True, kw_only=True)
class Background:
    """The moments of n vehicles of one kind of use. odometer (n,) mi, as they come in; at: name of `MOMENTS` -> odometer (n,) mi,
    NaN = never; shape (n,): "sudden" or "creeping"; worse_cold (n,) bool, or None where nobody has asked yet."""

    use: str
    signal: str
    odometer: np.ndarray
    at: dict[str, np.ndarray]
    shape: np.ndarray
    worse_cold: np.ndarray | None = None

    def weeks(self, moment: str) -> np.ndarray:
        """How long ago, (n,) weeks of the owner's driving; NaN = never."""
        weeks: np.ndarray = (self.odometer - self.at[moment]) / load_uses().uses[self.use].weekly_miles
        return weeks

    @property
    def after_job(self) -> np.ndarray:
        """Whether it was noticed right after a job on the unit, (n,)."""
        noticed = self.weeks("noticed")
        gaps = [self.weeks(job) - noticed for job in ("out", "apart", "pan_off", "body_out")]
        right_after: np.ndarray = np.any([(gap >= -1e-6) & (gap <= SAME_JOB_WEEKS) for gap in gaps], axis=0)
        return right_after


@dataclass(frozen=True, slots=True, kw_only=True)
class JobBounds:
    """What the causes of one vehicle say of the jobs on it. dates_from: done when they set in; rules_out: never done."""

    dates_from: frozenset[str]
    rules_out: frozenset[str]


class When(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What must be so before a sentence may be said. ago: moment -> [from, to] weeks; never: moments; shape, uses, signals: one of
    them; worse_cold: cold makes it worse; after_job: noticed right after a job."""

    ago: dict[str, tuple[float, float]] = {}
    never: tuple[str, ...] = ()
    shape: Shape = ""
    uses: tuple[str, ...] = ()
    signals: tuple[str, ...] = ()
    worse_cold: bool = False
    after_job: bool = False

    def __post_init__(self) -> None:
        for name in (*self.ago, *self.never):
            one_of("moment", name, MOMENTS)

    def met(self, of: Background) -> np.ndarray:
        """Whether it is so, (n,) bool."""
        so = np.full(len(of.odometer), of.use in (self.uses or (of.use,)))
        so &= of.signal in (self.signals or (of.signal,))
        for name, (low, high) in self.ago.items():
            so &= (of.weeks(name) >= low) & (of.weeks(name) < high)
        for name in self.never:
            so &= np.isnan(of.at[name])
        if self.shape:
            so &= of.shape == self.shape
        if self.worse_cold:
            so &= False if of.worse_cold is None else of.worse_cold
        return so & of.after_job if self.after_job else so


def lived_background(
    use: str,
    signal: str,
    onset: np.ndarray,
    odometer: np.ndarray,
    noticed: np.ndarray,
    loud: np.ndarray,
    cleared: np.ndarray | None = None,
) -> Background:
    """The backgrounds of n vehicles as far as they were lived, nothing else drawn yet. Arrays (n,) mi; noticed and loud: where the
    driver first felt a little of the trouble, and nearly as much as made him come in; cleared: where somebody cleared its codes,
    NaN nobody did."""
    never = np.full(len(odometer), np.nan)
    at = dict.fromkeys(MOMENTS, never) | {"made": np.zeros(len(odometer)), "onset": onset, "noticed": noticed}
    at |= {} if cleared is None else {"cleared": cleared}
    week = load_uses().uses[use].weekly_miles
    sudden = loud - noticed <= np.maximum(SUDDEN_SHARE * (odometer - noticed), SUDDEN_WEEKS * week)
    shape = np.where(sudden, "sudden", "creeping")
    return Background(use=use, signal=signal, odometer=odometer, at=at, shape=shape)


def draw_background(lived: Background, bounds: Sequence[JobBounds], rng: np.random.Generator) -> Background:
    """`lived` with owners and jobs drawn for n vehicles, each within its `bounds`.

    Every job comes before the onset. The one from which a cause dates was done then; what a cause rules out was never done.
    """
    at, onset = dict(lived.at), lived.at["onset"]
    count, week = len(onset), load_uses().uses[lived.use].weekly_miles
    at["bought"] = np.where(rng.random(count) < SECOND_HAND, onset * rng.uniform(0.1, 0.9, count), np.nan)
    for job, share in JOBS.items():
        lately = onset - week * rng.uniform(0.0, LATELY_WEEKS, count)
        long_ago = onset * rng.uniform(0.2, 0.8, count)
        done = np.where(rng.random(count) < LATELY, np.maximum(lately, 0.2 * onset), long_ago)
        at[job] = np.where(rng.random(count) < share, done, np.nan)
        at[job] = np.where([job in each.dates_from for each in bounds], onset, at[job])
        at[job] = np.where([job in each.rules_out for each in bounds], np.nan, at[job])
    if lived.signal not in HYDRAULIC:  # a clearing before the onset, of which no code says anything any more
        before = np.where(
            rng.random(count) < CLEARED_BEFORE, onset - week * rng.uniform(0.0, LATELY_WEEKS, count), np.nan
        )
        at["cleared"] = np.where(np.isnan(at["cleared"]), np.maximum(before, 0.2 * onset), at["cleared"])
    for job, others in BRINGS.items():
        for other in others:
            at[other] = np.fmax(at[other], at[job])
    return replace(lived, at=at)
