"""Whether the bay meets again what the owner complains of."""

from __future__ import annotations

from collections.abc import Iterable
from fnmatch import fnmatchcase
from functools import cache
from typing import Literal

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of
from course_lib.shop.findings import Finding, Look, Reading
from course_lib.shop.interview import TALK, troubles_told
from course_lib.shop.order import made_safely
from course_lib.shop.subject import Subject

Sign = (
    tuple[Literal["above spec", "below spec", "not read"], ...] | int
)  # verdicts of a reading, or least grade of a look


class ComplaintsFile(msgspec.Struct, frozen=True):
    """The data file."""

    complaints: dict[str, dict[str, Sign]]


@cache
def all_complaints() -> dict[str, dict[str, Sign]]:
    """Trouble -> what confirms it: key of a reading, * for anything, -> verdicts; key of a look -> least grade."""
    return read_data("complaints", ComplaintsFile).complaints


def confirmed_by(trouble: str, findings: Iterable[Finding]) -> tuple[str, ...]:
    """Keys of the readings and looks in which a trouble is met again, in the order of the findings; none: it is not confirmed.

    What the owner says confirms nothing. Raises ValueError for an unknown trouble.
    """
    one_of("trouble", trouble, all_complaints())
    signs, found = all_complaints()[trouble].items(), []
    for finding in findings:
        if finding.inspection != TALK:
            shown: tuple[Reading | Look, ...] = (*finding.readings, *finding.looks)
            for each in shown:
                if any(fnmatchcase(each.key, key) and _met(each, sign) for key, sign in signs):
                    found.append(each.key)
    return tuple(dict.fromkeys(found))


def _met(each: Reading | Look, sign: Sign) -> bool:
    """Whether a reading has one of the verdicts, or a look the grade, that confirm."""
    if isinstance(each, Reading):
        return isinstance(sign, tuple) and each.verdict in sign
    return isinstance(sign, int) and each.grade >= sign


def check_complaint_met(subject: Subject, findings: dict[str, Finding]) -> dict[str, Finding]:
    """`findings`, everything that would be found on the one vehicle of `subject`.

    Raises ValueError, naming the trouble, where nothing a careful mechanic gets meets again what the owner complains of most.
    """
    chief = troubles_told(subject)[0]
    if not confirmed_by(chief, made_safely(findings)):
        raise ValueError(
            f"chief complaint must be met again in the bay, got {chief!r} of strength {float(subject.felt[chief].flat[0]):.1f} "
            f"in {subject.use} use and no finding that confirms it. Ask for another stage, use or seed."
        )
    return findings
