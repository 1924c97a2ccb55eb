"""A kind of vehicle: what those have in common that are lived and compared in one batch."""

from __future__ import annotations

from typing import NamedTuple

from course_lib.vehicle.unit_spec import UnitSpec


class VehicleKind(NamedTuple):
    """Unit, load signal and use."""

    unit: UnitSpec
    signal: str
    use: str

    @property
    def name(self) -> str:
        """As files and seeds know it."""
        return f"{self.unit.name} {self.signal} {self.use}"
