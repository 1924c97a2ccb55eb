"""A unit more than the course has: its data file is laid beside the others for as long as a test module runs; and what is asked of
every such unit, whatever its control."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from course_lib.base import units
from course_lib.base.data_files import data_folder
from course_lib.faults.causes import all_causes, causes_of, load_cause
from course_lib.vehicle import unit_spec
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec

FLEET = 40
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


def stands_in_sheet(unit, found, at_least):
    """What inspections read on sound vehicles of it stands in its sheet, but for the error of a reading."""
    readings = [reading for each in found.values() for reading in each.measured if reading.key in unit.spec]
    assert len(readings) > at_least
    for reading in readings:
        low, high = unit.spec[reading.key]
        value = reading.value[np.isfinite(reading.value)]
        assert np.all((value >= low - reading.sigma) & (value <= high + reading.sigma)), reading.key


def holds_in(unit, parameters, use):
    """Sound vehicles of it slip nowhere but for a gulp on the steepest ramp, and nothing fights, at any point of any day."""
    day = duty_cycle(use, unit)
    work = Plant(unit, parameters).operate(new_condition(FLEET, unit), day.op, day.seconds)
    assert np.all(work.loss < 0.03) and np.all(work.tie_up == 0.0)


def has_no_other_causes(unit, signal):
    """Every cause that it does not have is one that does not fit it."""
    for cause in set(all_causes()) - {cause.id for cause in causes_of(unit, signal)}:
        assert not load_cause(cause).fits(unit) or signal not in load_cause(cause).signals


def struck(unit, parameters, cause):
    """Lives on mixed use with a cause from 20,000 miles on, or without one: what was lived, odometer at the complaint [mi].

    Nothing is out of range at their ends.
    """
    onset = 20_000.0 if cause else 0.0
    ends = [np.full((FLEET, 1), miles * units.MILE) for miles in (onset, 60_000.0)]
    growths = (load_cause(cause).growth(unit, parameters, np.ones(FLEET), ends[0]),) if cause else ()
    world = Fleet(unit, "mixed", parameters, growths)
    lived = live(world, new_condition(FLEET, unit), *ends, np.ones((FLEET, 1)))
    for name in ("char", "seal", "holding"):
        damage = getattr(lived.condition, name)
        assert np.all((damage >= 0.0) & (damage <= 1.0))
    return lived, np.ravel(lived.odometer) / units.MILE
