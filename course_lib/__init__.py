"""Training notebooks and graded cases about automatic transmissions: what is broken, and why it broke.

Everything a notebook needs can be imported from here. Nothing is loaded until it is asked for, so that
``import course_lib`` stays quick for the pytest plugin and the command line.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "make_case": "cases.make",
    "load_case": "cases.case_file",
    "load_key": "cases.key_file",
    "record_answer": "assessment.record",
    "save_record": "assessment.record",
    "mark": "assessment.marking",
    "check_answer": "assessment.marking",
    "check_criterion": "classroom.check_cells",
    "open_bench": "bench",
    "open_worked": "bench.worked_view",
    "open_bay": "bench.bay_view",
    "open_case": "bench.course_view",
    "open_lesson": "bench.items_view",
    "open_item": "bench.items_view",
    "answer_items": "lessons.workbook",
    "check_item": "lessons.workbook",
    "check_lesson": "lessons.workbook",
    "all_progress": "lessons.lesson_tables",
    "glossary": "lessons.lesson_tables",
    "second_thoughts": "lessons.lesson_tables",
    "apply_chart": "lessons.gear_train_demos",
    "gears_left": "lessons.gear_train_demos",
    "member_speeds": "lessons.gear_train_demos",
    "output_speed": "lessons.gear_train_demos",
    "planetary_set": "lessons.gear_train_demos",
    "power_path": "lessons.gear_train_demos",
    "speed_lines": "lessons.gear_train_demos",
    "noticed": "lessons.side_by_side",
    "route": "lessons.side_by_side",
    "suspects": "lessons.side_by_side",
    "across": "lessons.readings_across",
    "line_sweep": "lessons.line_pressure_demos",
    "oil_budget": "lessons.line_pressure_demos",
    "line_by_vacuum": "lessons.load_signal_demos",
    "shifts_by_pedal": "lessons.load_signal_demos",
    "balance": "lessons.shift_speed_demos",
    "push": "lessons.converter_demos",
    "stall_heat": "lessons.converter_demos",
    "fluid_life": "lessons.fluid_life_demos",
    "homes": "lessons.repair_demos",
    "outcomes": "lessons.repair_demos",
}
"""Name a notebook may import -> the room of the library that it lives in."""

__all__ = sorted(_HOMES)  # built from the one list above, so that the two cannot disagree


def __getattr__(name: str) -> Any:
    """Load `name` from its room on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"course_lib has no {name!r}. It offers: {', '.join(__all__)}.")
    return getattr(import_module(f"course_lib.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    """The names a notebook may import, for the editor's completion list."""
    return list(__all__)
