"""Figures: each returns a `Picture`, which carries its own words.

`verdict` is required everywhere: True says what a reading means, False leaves that to the learner, in picture and words alike.
`system`, of those that show quantities, is "workshop" or "metric". Importing this loads no drawing library; the first figure does.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "BusModule": "bus_roll_calls",
    "CircuitPiece": "meter_faces",
    "DataLog": "drive_logs",
    "FrameEntry": "listed_codes",
    "LearnedValue": "learned_values",
    "ListedCode": "listed_codes",
    "LogChannel": "drive_logs",
    "LogEvent": "drive_logs",
    "MeasuredPoints": "wiring_diagrams",
    "MeterReading": "meter_faces",
    "OddsStep": "suspects",
    "Picture": "picture",
    "PlugPin": "plug_faces",
    "ScopeTrace": "scope_screens",
    "ShiftPhase": "shift_traces",
    "ShiftTrace": "shift_traces",
    "adapts_bars": "learned_values",
    "board": "gauge_faces",
    "bus_roll_call": "bus_roll_calls",
    "code_list": "listed_codes",
    "cooler": "cooler_picture",
    "data_log": "drive_logs",
    "event_chain": "chains",
    "fluid_level": "dipstick",
    "gauge": "gauge_faces",
    "governor_curve": "curves",
    "life_of": "life_history",
    "life_track": "life_tracks",
    "line_against_rpm": "curves",
    "member_speeds": "levers",
    "meter": "meter_faces",
    "odds_by_step": "suspects",
    "of_finding": "finding_pictures",
    "oil_pan": "pans",
    "packs": "plates",
    "pictures_of": "finding_pictures",
    "plug_face": "plug_faces",
    "power_path": "paths",
    "repair_ahead": "repairs_ahead",
    "repair_tracks": "life_tracks",
    "road_trace": "road_test_trace",
    "rows": "reading_rows",
    "scope_trace": "scope_screens",
    "shift_graph": "shift_traces",
    "shift_speeds": "reading_rows",
    "valve_bench": "valve_bodies",
    "wiring_diagram": "wiring_diagrams",
}

__all__ = sorted(_HOMES)  # built from the one list above, so that the two cannot disagree


def __getattr__(name: str) -> Any:
    """Load `name` from its module on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"course_lib.plots has no {name!r}. It offers: {', '.join(__all__)}.")
    return getattr(import_module(f"course_lib.plots.{_HOMES[name]}"), name)
