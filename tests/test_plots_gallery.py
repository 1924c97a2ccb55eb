"""The gallery runs from top to bottom and shows every figure there is; and how long each figure takes to draw."""

import json
from pathlib import Path

import pytest
from pictured import findings

from course_lib import plots
from course_lib.cases.key_file import load_key

GALLERY = json.loads((Path(__file__).parent / "gallery.ipynb").read_text(encoding="utf-8"))
CODE = ["".join(cell["source"]) for cell in GALLERY["cells"] if cell["cell_type"] == "code"]


def test_gallery_runs_and_shows_every_figure(monkeypatch):
    """Every cell runs; every public figure function is called in it, straight or through `pictures_of`."""
    shown, called = [], set()

    def noted(name, draw):
        def drawn(*args, **how):
            called.add(name)
            return draw(*args, **how)

        return drawn

    figures = [name for name in plots.__all__ if name[0].islower() and name not in ("ahead", "track")]
    for name in figures:
        monkeypatch.setattr(plots, name, noted(name, getattr(plots, name)))
    monkeypatch.setattr("IPython.display.display", lambda *things: shown.extend(things))
    scope: dict = {}
    for cell in CODE:
        exec(compile(cell, "gallery", "exec"), scope)
    pictures = [thing for thing in shown if isinstance(thing, plots.Picture)]
    assert len(pictures) > 120 and len({picture.alt for picture in pictures}) > 90
    assert called >= {
        "pictures_of",
        "of_finding",
        "power_path",
        "member_speeds",
        "life_of",
        "repair_ahead",
        "chain",
        "odds",
        "packs",
    }


def test_gallery_is_kept_without_outputs():
    """Pictures are drawn when it is run; none is stored."""
    assert not any(cell.get("outputs") for cell in GALLERY["cells"])


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
