"""The order in which files of tests are handed to the workers."""

LONGEST = (
    "test_notebooks", "test_bench_in_browser", "test_cases", "test_life", "test_worked_in_browser", "test_lessons_in_browser",
    "test_class_marking", "test_trade_agreement", "test_verdicts", "test_class_hostile", "test_notebooks_stored", "test_plots",
)  # fmt: skip
"""Files that take longest, in seconds measured: they are begun first, so that no worker is left with one at the end."""


def pytest_collection_modifyitems(items):
    """The longest first; all else as it was."""
    place = {name: at for at, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(LONGEST)))
