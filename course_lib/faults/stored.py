"""What of a vehicle and its repairs is stored with the key of a case: plain numbers and sentences, which load no simulator."""

from __future__ import annotations

import msgspec

Numbers = list[float]


class StoredGrowth(msgspec.Struct, frozen=True, kw_only=True):
    """One `Growth` of one vehicle: what has changed, and when [m]."""

    change: dict[str, Numbers]
    onset: float
    over: float
    lasts: float | None


class StoredVehicle(msgspec.Struct, frozen=True, kw_only=True):
    """A `Past` as plain numbers, so that it can be kept with the key of a case."""

    unit: str
    signal: str
    use: str
    causes: tuple[str, ...]
    onset_miles: float
    driver: str
    severity: float
    odometer: float
    base: dict[str, Numbers]
    growths: tuple[StoredGrowth, ...]
    condition: dict[str, Numbers]
    felt: dict[str, float]
    events: dict[str, float]
    sump: Numbers = []
    seed: int = 0
    moments: dict[
        str, float
    ] = {}  # odometers [mi] of its background; none in keys before generator version 6
    shape: str = "creeping"


class Story(msgspec.Struct, frozen=True, kw_only=True):
    """A repair driven forward: miles until it came back (None = it did not), the odometer at the end, and the tale."""

    miles: float | None
    odometer_miles: int
    text: tuple[str, ...]
