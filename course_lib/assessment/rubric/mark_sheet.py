"""The mark sheet: eight criteria, four levels each, the gates, and what a record needs to pass."""

from __future__ import annotations

import msgspec

#: Criterion -> the points it is worth at its highest level; they add up to 100. Common practice of this course, no source.
WEIGHTS = {
    "part": 15,
    "cause": 25,
    "chain": 15,
    "evidence": 15,
    "look-alikes": 10,
    "repair": 10,
    "proof": 5,
    "safety": 5,
}
TITLES = {
    "part": "Broken part",
    "cause": "Root cause",
    "chain": "Chain",
    "evidence": "Evidence",
    "look-alikes": "Look-alikes excluded",
    "repair": "Repair plan",
    "proof": "Verification",
    "safety": "Safety",
}
TOP = 3  # the highest level
SOUND = 2  # the level from which a criterion is met
WITHOUT_CAUSE = 50  # most points of a record that misses the cause
PASS_MARK = WITHOUT_CAUSE  # a record passes with more, so that none passes that misses the cause


class CriterionMark(msgspec.Struct, frozen=True, kw_only=True):
    """One criterion judged: level 0 missing, 1 weak, 2 sound, 3 expert; points out of `most`; why, in one sentence."""

    criterion: str
    level: int
    points: float
    most: int
    reason: str

    @property
    def passed(self) -> bool:
        """Whether the criterion is met."""
        return self.level >= SOUND


class MarkSheet(msgspec.Struct, frozen=True, kw_only=True):
    """A graded record.

    criteria: the eight, in order; gates: what caps or returns the record, in sentences; total 0 to 100; returned: whether an
    unsafe step sends it back to the learner. remarks, for the instructor: what in the log does not fit, and
    what was asked for and does harm.
    """

    case_id: str
    criteria: tuple[CriterionMark, ...]
    gates: tuple[str, ...]
    total: int
    returned: bool
    remarks: tuple[str, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether the record passes: with more than `PASS_MARK` points, and no unsafe step."""
        return self.total > PASS_MARK and not self.returned

    @property
    def verdict(self) -> str:
        """Whether the record passes, and what that takes, in one sentence."""
        return f"{'Passed' if self.passed else 'Not passed yet'}: more than {PASS_MARK} points are needed."

    def of(self, criterion: str) -> CriterionMark:
        """What one criterion came to."""
        return next(each for each in self.criteria if each.criterion == criterion)


def criterion_mark(criterion: str, level: int, reason: str) -> CriterionMark:
    """A criterion at a level, with its points."""
    most = WEIGHTS[criterion]
    return CriterionMark(
        criterion=criterion, level=level, points=round(most * level / TOP, 1), most=most, reason=reason
    )


def total(criteria: tuple[CriterionMark, ...]) -> int:
    """Points of all criteria, to the nearest whole one, halves up; in whole thirds, so that it is the same everywhere."""
    thirds = sum(each.most * each.level for each in criteria)
    return (2 * thirds + TOP) // (2 * TOP)
