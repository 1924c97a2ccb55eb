"""The order in which files of tests are handed to the workers, and what is known to be wrong and not yet mended."""

import pytest

LONGEST = (
    "test_notebooks", "test_bench_in_browser", "test_cases", "test_life", "test_worked_in_browser", "test_lessons_in_browser",
    "test_class_marking", "test_trade_agreement", "test_verdicts", "test_class_hostile", "test_notebooks_stored", "test_plots",
)  # fmt: skip
"""Files that take longest, in seconds measured: they are begun first, so that no worker is left with one at the end."""


SEALS = "a seal gets suppler again where the fluid boils over: states must not fall with miles"
BRINK = "a life that ends hot and the bay settle on different balances of a sump on the brink"
BURNS = "since slip is solved the packs of this chain wear or burn otherwise than the test expects; to be fitted anew"
KNOWN = {
    "test_heat_hardens_the_seals": SEALS,
    "test_rubber_that_does_not_age_stays_supple_in_the_same_heat": SEALS,
    "test_long_heat_hardens_rubber_and_a_minute_does_not": SEALS,
    "test_the_bay_is_where_the_life_ended[forward_seal_hardened-yard]": BRINK,
    "test_the_bay_is_where_the_life_ended[brakes_dragging-mixed]": BRINK,
    "test_neutral_drops_break_the_one_way_clutch_and_the_drum_of_the_direct_clutch": BURNS,
    "test_a_burnt_forward_pack_measures_about_a_quarter_inch": BURNS,
}
"""Faults that are known and open, by the name of the test that shows each: it is run, reported, and does not stop a release."""


def pytest_collection_modifyitems(items):
    """The longest first; all else as it was."""
    place = {name: at for at, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(LONGEST)))
    for item in items:
        if item.name in KNOWN:
            item.add_marker(pytest.mark.xfail(reason=KNOWN[item.name], strict=False))
