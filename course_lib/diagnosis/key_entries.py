"""What the key of a case holds of how it is diagnosed. Made once, with the case; read without any lives to compare with."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import msgspec

from course_lib.faults.causes import load_cause
from course_lib.shop.findings import OPENS, all_inspections

BAR = 20.0  # odds of the leader to the runner-up at which a cause counts as found
LESS, MORE = "less than was found", "more than was found"  # what a look would be with another cause


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPath:
    """How the broken part is seen. view: key of the look or reading that shows it with least work, of this part alone where
    there is one; deciding: the inspection that gives it; twin: a part of which the same view is just as bad, "" where none
    is; minutes: of every inspection that shows a part which must be named, and of those that must come first."""

    view: str
    deciding: str
    twin: str
    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Whether a case can be solved, and how hard it is.

    minutes, deciding (inspection), twin (cause hardest to exclude), openness, named: of the ideal path. ratio_with_all: odds
    of the true cause to the best other one after every inspection. certified: at least the bar; reason: why not, else empty.
    """

    minutes: int
    deciding: str
    twin: str
    openness: int
    named: str
    settled: bool
    ratio_with_all: float
    certified: bool
    reason: str
    part: PartPath | None = None  # where a part must be named

    @property
    def opened(self) -> bool:
        """Whether the unit must be opened to be sure."""
        return self.openness >= OPENS


class EvidenceAgainst(msgspec.Struct, frozen=True, kw_only=True):
    """One finding beside what a suspect, made as strong as fits this vehicle best, would have shown. Texts carry their unit."""

    inspection: str
    label: str
    found: str
    expected: str


class EvidenceWeights(msgspec.Struct, frozen=True, kw_only=True):
    """What the findings of a case are worth.

    causes: the wrong ones; look_alikes: those of them that fit the complaint best, best first, then those that fit best after
    the first round; findings: id of a reading, or of an inspection for what was noticed there -> decibans against each of
    `causes`, below 0 where it speaks for it.
    """

    causes: tuple[str, ...] = ()
    look_alikes: tuple[str, ...] = ()
    findings: dict[str, tuple[int, ...]] = {}

    def against(self, finding: str, cause: str) -> int:
        """Decibans that a finding speaks against a wrong cause; 0 for what is not known."""
        row = self.findings.get(finding)
        return row[self.causes.index(cause)] if row and cause in self.causes else 0

    def left_standing(self, groups: Iterable[Iterable[str]], bar: int) -> list[str]:
        """The wrong causes against which the findings together speak less than `bar`; in each group only the one that says most."""
        none = (0,) * len(self.causes)
        rows = [[self.findings.get(name) or none for name in group] for group in groups]
        spoken = [sum(max(row[i] for row in group) for group in rows) for i in range(len(self.causes))]
        return [cause for cause, together in zip(self.causes, spoken, strict=True) if together < bar]


def killing_sentence(suspect: str, rows: tuple[EvidenceAgainst, ...], made: Collection[str]) -> str:
    """The one finding that kills a suspect, from the inspections `made`; else which kind of step would. "" when there is none."""
    label = load_cause(suspect).label
    seen = [row for row in rows if row.inspection in made]
    if seen:
        row = seen[0]
        if row.expected in (LESS, MORE):
            return f"Found: {row.found}. With \u201c{label}\u201d it would be {row.expected}."
        return f"If it were \u201c{label}\u201d: {row.label}, {row.expected}. Found: {row.found}."
    if rows:
        title = all_inspections()[rows[0].inspection].title
        return (
            f"What speaks loudest against \u201c{label}\u201d is \u201c{title}\u201d, which you did not make."
        )
    return ""
