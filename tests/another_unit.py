"""A unit more than the course has: its data file is laid beside the others for as long as a test module runs."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from course_lib.base.data_files import data_folder
from course_lib.faults.causes import all_causes
from course_lib.vehicle import unit_spec
from course_lib.vehicle.unit_spec import UnitSpec

THIRD = Path(__file__).parent / "third_unit"


@contextmanager
def unit_added(folder: Path, name: str) -> Iterator[UnitSpec]:
    """The unit `name` of the tests in a data folder made under `folder`; afterwards as if it had never been there."""
    shutil.copytree(data_folder(), folder / "datasets")
    shutil.copy(THIRD / f"{name}.toml", folder / "datasets" / "units")
    with pytest.MonkeyPatch.context() as patch:
        for module in ("base.data_files", "vehicle.unit_spec", "faults.measures"):
            patch.setattr(f"course_lib.{module}.data_folder", lambda name="datasets": folder / "datasets")
        yield unit_spec.load_unit(name)
    for function in (unit_spec.load_unit, all_causes):
        function.cache_clear()
