"""What an electronic controller remembers of its vehicle: it travels with the vehicle through all its miles and repairs."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import DTypeLike

from course_lib.base.arrays import Array, Batched, Flags, Places
from course_lib.vehicle.unit_spec import UnitSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory(Batched):
    """What the controllers of n vehicles remember; every axis is empty where the control is hydraulic.

    fill (n, 1, E) s: learned change of each element's fill time; pressure (n, 1, S) Pa: learned change of each shift's pressure;
    failed (n, 1, C): failed trips in a row of each code, a real number, since lives count at a rate; passed (n, 1, C): trips in
    a row that a stored code has passed since.
    """

    fill: Array
    pressure: Array
    failed: Array
    passed: Array

    def entries(self) -> dict[str, Array]:
        """Each entry by its name."""
        return {entry.name: getattr(self, entry.name) for entry in fields(self)}

    def astype(self, dtype: DTypeLike) -> Memory:
        """The same with numbers of that type."""
        return Memory(**{name: value.astype(dtype) for name, value in self.entries().items()})

    def put(self, rows: Places, memory: Memory) -> None:
        """Write the memories of the vehicles `rows` over what stands there."""
        for name, value in memory.entries().items():
            getattr(self, name)[rows] = value

    def where(self, taken: Flags, otherwise: Memory) -> Memory:
        """This memory in the vehicles `taken`, (n, 1), another in the rest."""
        others = otherwise.entries()
        return Memory(**{n: np.where(taken[..., None], v, others[n]) for n, v in self.entries().items()})


def new_memory(cases: int, unit: UnitSpec) -> Memory:
    """Memory of `cases` new vehicles: nothing learned, no code."""
    control = unit.control
    sizes = (0, 0, 0) if control is None else (len(unit.elements), len(unit.shifts), len(control.codes))
    return _blank(cases, *sizes)


def reset_learned(memory: Memory) -> Memory:
    """The same with nothing learned: the controller begins with its own numbers again."""
    return replace(memory, fill=0.0 * memory.fill, pressure=0.0 * memory.pressure)


def clear_codes(memory: Memory) -> Memory:
    """The same with no code, stored or pending; what is learned stays."""
    return replace(memory, failed=0.0 * memory.failed, passed=0.0 * memory.passed)


def no_memory(cases: int) -> Memory:
    """Where nothing can be remembered: in rates of wear, and in hydraulic controls."""
    return _blank(cases, 0, 0, 0)


def _blank(cases: int, elements: int, shifts: int, codes: int) -> Memory:
    fill, pressure, failed, passed = (np.zeros((cases, 1, size)) for size in (elements, shifts, codes, codes))
    return Memory(fill=fill, pressure=pressure, failed=failed, passed=passed)
