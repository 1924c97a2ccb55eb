"""What each finding of a case is worth against each wrong cause, kept with the key so that marking needs no lives to compare with.

Weights are whole decibans, ten times the common logarithm of a likelihood ratio: 10 is ten to one, 13 is twenty to one.
Source of the unit: I. J. Good, Probability and the Weighing of Evidence (1950), chapter 6, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import msgspec

from course_lib.differential.contradiction import Comparison, Contradiction
from course_lib.differential.lives import TALK
from course_lib.differential.odds import odds
from course_lib.differential.population import COMPLAINT, Findings, Population

MOST = 60  # decibans one finding can count, a million to one: no instrument and no look is surer than that
LOOK_ALIKES = 6  # causes that fit the complaint best
DECIBANS = 10.0 * math.log10(math.e) / 2.0  # for each squared spread


class Worth(msgspec.Struct, frozen=True, kw_only=True):
    """What the findings of a case are worth.

    causes: the wrong ones; look_alikes: those of them that fit the complaint best, best first; findings: id of a reading, or of
    an inspection for what was noticed there -> decibans against each of `causes`, below 0 where it speaks for it.
    """

    causes: tuple[str, ...] = ()
    look_alikes: tuple[str, ...] = ()
    findings: dict[str, tuple[int, ...]] = {}

    def against(self, finding: str, cause: str) -> int:
        """Decibans that a finding speaks against a wrong cause; 0 for what is not known."""
        row = self.findings.get(finding)
        return row[self.causes.index(cause)] if row and cause in self.causes else 0


def weigh(population: Population, found: Findings, against: Mapping[str, Contradiction]) -> Worth:
    """The worth of everything `found` on a vehicle. against: each wrong cause set beside it."""
    columns: dict[str, dict[str, int]] = {}
    for cause, contradiction in against.items():
        for row in contradiction.rows:
            of = columns.setdefault(_place(population, row), {})
            of[cause] = _stronger(of.get(cause, 0), _decibans(row))
    told = dict(odds(population, found.keep(population.keys_of(()))).table())
    nearest = sorted(against, key=lambda cause: -told[cause])[:LOOK_ALIKES]
    rows = {place: tuple(of.get(cause, 0) for cause in against) for place, of in sorted(columns.items())}
    return Worth(causes=tuple(against), look_alikes=tuple(nearest), findings=rows)


def _place(population: Population, row: Comparison) -> str:
    """The id under which a learner can name it: a reading by its key, all that was noticed by its inspection."""
    if row.kind == "reading":
        return row.key
    made_by = population.made_by[row.key]
    return TALK if made_by == COMPLAINT else made_by


def _decibans(row: Comparison) -> int:
    return round(min(max(DECIBANS * row.edge, -MOST), MOST))


def _stronger(one: int, other: int) -> int:
    """What was noticed at one inspection counts once, by the thing that says most."""
    return max(one, other, key=abs)
