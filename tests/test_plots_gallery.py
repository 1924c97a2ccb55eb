"""The gallery runs from top to bottom and shows every figure there is."""

import json
from pathlib import Path

from course_lib import plots

GALLERY = json.loads((Path(__file__).parent / "gallery.ipynb").read_text(encoding="utf-8"))
CODE = ["".join(cell["source"]) for cell in GALLERY["cells"] if cell["cell_type"] == "code"]
DATA = {"life_track", "repair_tracks"}  # numbers for a figure, none themselves
THROUGH_PICTURES_OF = {
    "board", "cooler", "fluid_level", "gauge", "governor_curve", "oil_pan", "road_trace", "rows", "shift_speeds",
}  # fmt: skip


def test_gallery_runs_and_shows_every_figure(monkeypatch):
    """Every cell runs; every public figure function is called in it, straight or through `pictures_of`."""
    shown, called = [], set()

    def noted(name, draw):
        def drawn(*args, **how):
            called.add(name)
            return draw(*args, **how)

        return drawn

    figures = [name for name in plots.__all__ if name[0].islower() and name not in DATA]
    for name in figures:
        monkeypatch.setattr(plots, name, noted(name, getattr(plots, name)))
    monkeypatch.setattr("IPython.display.display", lambda *things: shown.extend(things))
    scope: dict = {}
    for cell in CODE:
        exec(compile(cell, "gallery", "exec"), scope)
    pictures = [thing for thing in shown if isinstance(thing, plots.Picture)]
    assert len(pictures) > 120 and len({picture.alt for picture in pictures}) > 90
    assert called == set(figures) - THROUGH_PICTURES_OF


def test_gallery_is_kept_without_outputs():
    """Pictures are drawn when it is run; none is stored."""
    assert not any(cell.get("outputs") for cell in GALLERY["cells"])
