"""How long each figure takes to draw: `pytest tests/test_plots_speed.py`. Spread over several processes nothing is timed."""

import electric_pictures
import pytest
from extras import from_extra
from pictured import findings

from course_lib import plots
from course_lib.cases.key_file import load_key
from course_lib.vehicle.unit_spec import load_unit

from_extra("benchmark", "pytest_benchmark")

# One finding for each figure of an inspection; drawing is timed from the finding to the image in the page.
PICTURED = (
    "line_pressure",
    "fluid_hot",
    "pan",
    "teardown",
    "measure",
    "road_test",
    "governor_pressure",
    "signal_by_hand",
    "cooler_check",
)


@pytest.mark.parametrize("name", PICTURED)
def test_speed_of_a_finding(benchmark, name):
    """From finding to image."""
    finding = findings("worn pump")[name]
    assert "<img" in benchmark(lambda: plots.of_finding(finding, verdict=True).html())


@pytest.mark.parametrize("figure", [plots.power_path, plots.member_speeds])
def test_speed_of_a_gear_train(benchmark, figure):
    """All ranges of unit T3."""
    assert "<img" in benchmark(lambda: figure("T3", verdict=True).html())


@pytest.mark.parametrize("figure", [plots.life_of, plots.repair_ahead, plots.event_chain])
def test_speed_of_a_debrief(benchmark, figure):
    """From the key of a case, lived again, to the image."""
    key = load_key("W01")
    assert "<img" in benchmark.pedantic(lambda: figure(key, verdict=True).html(), rounds=2)


def test_speed_of_a_road_trace(benchmark):
    """From finding to image."""
    finding = findings("worn pump")["road_test"]
    assert "<img" in benchmark(lambda: plots.road_trace(finding, "T3", verdict=True).html())


def test_speed_of_odds(benchmark):
    """Six findings, forty suspects."""
    steps = [
        plots.OddsStep(f"Finding {k}", "", {f"suspect {i}": 1 / 40 for i in range(40)}) for k in range(6)
    ]
    assert "<img" in benchmark(lambda: plots.odds_by_step(steps, verdict=True).html())


def test_speed_of_a_wiring_diagram(benchmark):
    """The whole wiring of the six-speed with five drops, the largest of the electrical figures."""
    control = load_unit("E6").control
    how = {"title": "Wiring", "control": control, "measured": electric_pictures.drops(), "verdict": True}
    assert "<img" in benchmark(lambda: plots.wiring_diagram(**how).html())
