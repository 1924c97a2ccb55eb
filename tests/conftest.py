"""How the tests are run: longest files first, each file by one worker; a run of all that there is allows no test to be skipped."""

import pytest

LONGEST = (
    "test_giveaways", "test_trade_agreement", "test_notebooks", "test_cases", "test_bench_in_browser", "test_life",
    "test_worked_in_browser", "test_lessons_in_browser", "test_class_marking", "test_verdicts", "test_class_hostile",
    "test_notebooks_stored", "test_leaving", "test_shop", "test_plots",
)  # fmt: skip
"""Files that take longest, in seconds measured: they are begun first, so that no worker is left with one at the end."""


def pytest_addoption(parser):
    """Add ``--none-skipped``, for a machine that has every extra."""
    parser.addoption("--none-skipped", action="store_true", help="a test that is skipped is red")


def pytest_collection_modifyitems(items):
    """The longest first; all else as it was."""
    place = {name: at for at, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(LONGEST)))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """With ``-n``: each file by one worker, since its tests share what takes long to make, in the order of this one."""
    from xdist.scheduler import LoadFileScheduling  # here: without xdist nobody asks

    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """A test that is skipped counts as failed where every extra is there."""
    return none_skipped(item.config, (yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector):
    """The same for a file."""
    return none_skipped(collector.config, (yield))


def none_skipped(config, report):
    """The report, failed in place of skipped where nothing may be skipped; what is expected to fail may."""
    if report.skipped and config.getoption("none_skipped") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, though --none-skipped was given: {report.longrepr}"
    return report
