"""Where heat and its ways out balance: the lowest temperature that stays, searched for many vehicles at once.

The answer to a temperature is the one that its heat would lead to; what it is above the temperature asked is the gap. The gap may
fall fifty times as fast as the temperature rises (slip that oil too thin brings about) or leap up (a cooler that gets no more
oil), so neither fixed passes nor Newton's rule find its root: only a bracket holds. Every day starts cold, so of several roots the
lowest counts, the first that is met on the way up. Shapes: n vehicles; everything is (n, 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import numpy as np

from course_lib.base.arrays import Array, Batched, Flags, Places, Values

BOILS_OVER = 430.0  # K, 314 F: here linings and seals char and the fluid foams out at the vent (temperature charts of the trade)
FROM_COLD = 340.0  # K, from which a search goes up; sound units settle above
EXACT = 0.5  # K, to which a temperature that is called steady is known
STRIDE = 5.0  # K at a time, so that no pair of roots is leapt over
STEEPEST, FLATTEST = -5.0, -0.5  # slopes of the gap that one aim allows for
NARROW = 2.0 * EXACT  # K between the ends of a bracket, from which the points keep their ways off the mean
HALVED = 3  # every so many tries inside a bracket halves it, whatever the slope says
MOST_TRIES = 400  # of a search; only a fault takes as many
AT_THE_RIM = 0.01  # K, to which single precision knows a temperature


def day_mean(temperature: Array, free: Flags) -> Array:
    """Mean sump temperature [K], (n, 1), of the points that share a balance; free (m,) bool says which do."""
    mean: Array = (temperature * free).sum(-1, keepdims=True) / max(free.sum(), 1)
    return mean


@dataclass(slots=True)
class BalanceSearch(Batched):
    """What trials of one moment have taught about its balance: that of the mean over the points of a day.

    How far each point lies off the mean follows every trial, until the bracket is narrow. Then it is held: two trials with other
    ways off the mean are trials of two balances, and their bracket may hold the root of neither.
    """

    below: Array  # K, hottest mean that was found too cold
    above: Array  # K, coldest mean that was found too hot
    asked: Array  # K, mean of the last trial
    gap: Array  # K, of it
    tries: Array
    slope: Array  # of the gap over what was asked, as last seen
    held: Flags  # bool, the points keep their ways off the mean
    aim: Array  # (n, m) K, to try next
    off: Array  # K, how far from the root the last trial was, by slope or bracket

    @classmethod
    def blank(cls, count: int, points: int) -> Self:
        """Nothing tried yet."""
        still = np.zeros((count, 1))
        aim = np.zeros((count, points))
        return cls(
            below=still - np.inf,
            above=still + np.inf,
            asked=still,
            gap=still,
            tries=still,
            slope=still - 1.0,
            held=still > 0.0,
            aim=aim,
            off=still + np.inf,
        )

    def forget(self, where: Flags) -> None:
        """Begin anew `where`, (n, 1): the vehicle is not the same any more."""
        self.below = np.where(where, -np.inf, self.below)
        self.above = np.where(where, np.inf, self.above)
        self.tries = np.where(where, 0.0, self.tries)
        self.held = self.held & ~where

    def learn(self, given: Array, settled: Array, free: Flags, stride: Values) -> None:
        """Take in a trial, and aim at what to try next.

        The secant through the last two trials aims; it is halved where it would leave the bracket, and now and then anyway. As
        long as there is no bracket no aim is farther than `stride`.

        given, settled: temperatures [K], (n, m), that were taken and what they lead to; free: (m,) bool, the points that balance.
        """
        asked, answer = day_mean(given, free), day_mean(settled, free)
        gap = answer - asked
        moved = (self.tries > 0) & (asked != self.asked)
        slope = np.divide(gap - self.gap, asked - self.asked, out=self.slope.copy(), where=moved)
        self.slope = np.clip(slope, STEEPEST, FLATTEST)
        below = np.where(gap > 0.0, np.maximum(self.below, asked), self.below)
        above = np.where(gap > 0.0, self.above, np.minimum(self.above, asked))
        narrow = ~self.held & (above - below < NARROW)
        self.below = np.where(narrow, np.where(gap > 0.0, asked, -np.inf), below)
        self.above = np.where(narrow, np.where(gap > 0.0, np.inf, asked), above)
        self.held = self.held | narrow
        self.asked, self.gap, self.tries = asked, gap, self.tries + 1.0
        away = np.clip(-gap / self.slope, -stride, stride)
        between = np.isfinite(self.below) & np.isfinite(self.above)
        low, high = np.where(between, self.below, 0.0), np.where(between, self.above, np.inf)
        aim = asked + away
        halved = between & ((aim <= low) | (aim >= high) | (self.tries % HALVED == 0))
        aim = np.where(halved, low + 0.5 * np.where(between, high - low, 0.0), aim)
        off_mean = np.where(self.held, given - asked, settled - answer)
        self.aim = np.where(free, np.minimum(aim, BOILS_OVER) + off_mean, settled)
        # A slope seen elsewhere may be too steep here: until there is a bracket the whole gap counts as the way to the root.
        within = np.where(self.held, high - low, np.inf)
        self.off = np.minimum(np.maximum(np.abs(away), np.abs(gap)), within)

    def settled(self, close: Values) -> Flags:
        """Whether the last trial was at a root, as closely [K] as that, or where there is no use in going on, (n, 1) bool."""
        return (self.off < close) | boils_over(self.asked, self.gap)


def boils_over(asked: Array, gap: Array) -> Flags:
    """Whether it still gets hotter where the fluid already leaves by the vent."""
    return (asked >= BOILS_OVER - AT_THE_RIM) & (gap > 0.0)


def lowest_balance(lead: Callable[[Places, Array], Array], start: Array, free: Flags) -> Array:
    """Temperatures [K], (n, m), from which `lead(rows, temperatures)` [K] was found to lead nowhere else, nearly.

    lead is called with the rows that are still searched, (k,), and what to try, (k, m). The search goes the way that `start`
    leads, up where it is colder than its heat makes it, and stops at the first root of the mean over the points `free`, (m,) bool,
    on the way, known to EXACT; or at BOILS_OVER where there is none below it. What is returned is always the last that was tried.
    """
    at, rows = np.array(start), np.arange(len(start))
    search = BalanceSearch.blank(*start.shape)
    for _ in range(MOST_TRIES):
        given = at[rows]
        search.learn(given, lead(rows, given), free, STRIDE)
        left = ~search.settled(EXACT)[:, 0]
        at[rows[left]] = search.aim[left]
        rows, search = rows[left], search.keep(left)
        if not len(rows):
            return at
    raise RuntimeError(
        f"a sump must settle in {MOST_TRIES} tries, got {len(rows)} that do not. Check the heat balance."
    )
