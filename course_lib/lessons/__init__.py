"""Lessons: what is asked in them, how an answer is judged, what a learner has done so far. It knows no widgets."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from importlib.machinery import ModuleSpec
from types import ModuleType

_UNTIL_0_6 = {
    "across": "readings_across",
    "demos": "gear_train_demos",
    "demos_04": "line_pressure_demos",
    "demos_05": "load_signal_demos",
    "demos_06": "shift_speed_demos",
    "demos_12": "repair_demos",
    "demos_converter": "converter_demos",
    "demos_heat": "fluid_life_demos",
}
"""Where notebooks of version 0.6 import from. A learner's copy is never replaced, so it must go on running; ours import from
`course_lib` alone."""


class _OldNames:
    """Finds the modules above under their old names."""

    def find_spec(self, name: str, _path: Sequence[str] | None, _target: object = None) -> ModuleSpec | None:
        home, _, old = name.rpartition(".")
        return ModuleSpec(name, self) if home == __name__ and old in _UNTIL_0_6 else None  # type: ignore[arg-type]

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        return import_module(f"{__name__}.{_UNTIL_0_6[spec.name.rpartition('.')[2]]}")

    def exec_module(self, module: ModuleType) -> None:
        """It has run already."""


sys.meta_path.append(_OldNames())
