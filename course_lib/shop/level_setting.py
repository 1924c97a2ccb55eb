"""A vehicle that must not be driven as it came in: its level set, and its owner's roads driven for a moment before and after."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Flags
from course_lib.shop.batch import BatchFinding, Instrument, Row
from course_lib.shop.graded_scales import grades
from course_lib.shop.mobility import drives, foam
from course_lib.shop.order import FAR_OFF, FOAMS, SMOKES
from course_lib.shop.owner_drive import as_the_owner_drives
from course_lib.shop.procedure import Procedure, carry_out
from course_lib.shop.subject import Subject
from course_lib.shop.walk_round import indicated, quarts_lost
from course_lib.vehicle.sump_balance import FROM_COLD

PASSES = 5  # steps that bring the level to the mark
FIT = "nothing stands in the way of a road test"
NEAR_THE_MARK = "the level is near the mark"
NOTHING_TO_SET = (
    "Level near the mark, no foam, no smoke: nothing to set, and nothing stands in the way of a road test."
)


def far_off(subject: Subject) -> Flags:
    """Which vehicles have a level far off the mark, as their indicator shows it, (n,) bool."""
    return (np.abs(indicated(subject)) >= FAR_OFF) & drives(subject)


def unfit(subject: Subject) -> Flags:
    """Which vehicles nobody drives a road test with: level far off, foam, smoke that hangs in the air, (n,) bool."""
    foams = grades("bubbles", foam(subject)) >= FOAMS
    smokes = grades("smoke", quarts_lost(subject, "leak_engine_draws")) >= SMOKES
    return (far_off(subject) | foams | smokes) & drives(subject)


def with_level_set(subject: Subject) -> Subject:
    """The same vehicles with fluid drawn off or filled until the indicator stands at FULL."""
    there = subject
    for _ in range(PASSES):
        over = units.from_inch(indicated(there)) * there.parameter("sump_area_high")
        lost = there.condition.lost + over[:, None]
        there = replace(there, condition=replace(there.condition, lost=lost), sump=FROM_COLD)
    return there


def set_level(subject: Subject) -> Procedure:
    """What is filled or drawn off, and the owner's roads for a few seconds each, as it came in and with the level set."""
    before = yield from as_the_owner_drives(subject, "found", "tried as it came in")
    far, tried = far_off(subject), unfit(subject)
    rows = np.flatnonzero(far)
    right = with_level_set(subject.rows(rows))
    (after,) = carry_out(right, [as_the_owner_drives(right, "set", "tried with the level set")])
    filled = np.zeros(subject.size)
    filled[rows] = units.to_quart(subject.state("lost")[rows] - right.state("lost"))
    label = "Filled up to FULL; less than nothing was drawn off"
    amount = subject.read("level_set_qt", label, filled, Instrument("qt", 0.1, 1, signed=True))
    return BatchFinding(
        measured=(
            amount.only(far, NEAR_THE_MARK),
            *(each.only(tried, FIT) for each in before.measured),
            *(each.spread(rows, subject.size).only(far, NEAR_THE_MARK) for each in after.measured),
        ),
        seen=(
            *(each.only(tried) for each in before.seen),
            *(each.spread(rows, subject.size).only(far) for each in after.seen),
        ),
        caption=_told,
    )


def _told(row: Row) -> list[str]:
    """What is said where nothing had to be set or tried."""
    return [] if row.readings else [NOTHING_TO_SET]
