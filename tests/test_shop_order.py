"""Which inspection may follow which: the rule for planning and the rule at the bench are one."""

import pytest
from test_shop_rules import SOUND

from course_lib.shop.findings import all_inspections
from course_lib.shop.order import GONE, _objection, in_order


@pytest.mark.parametrize("name", [name for name in all_inspections() if name != "stall_test"])
def test_what_may_be_planned_may_be_done(name):
    """All that must come first made, one of it missing, the pan off, the unit apart: of a sound vehicle both say the same."""
    needs = set(all_inspections()[name].needs)
    for made in (
        needs,
        set(),
        *(needs - {each} for each in needs),
        *(needs | {stage} for stage in GONE),
        set(GONE),
    ):
        allowed = not _objection(name, {each: SOUND[each] for each in made})
        assert in_order(name, made) == allowed, made
    assert in_order(name, needs) or needs & set(GONE)
