"""How vehicles are used, as the data file gives it: the points of a day, and what each kind of use spends at them."""

from __future__ import annotations

from functools import cache

import msgspec

from course_lib.base.data_files import read_data


class DutyPoint(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One operating point of the duty, as the data file gives it.

    rough: how much the road shakes beside an ordinary one; wet: 1 where plugs and wires are damp; pressed_s: how long ago the
    pedal went down, where that is not long past; only: the kind of control in whose days it is.
    """

    lever: str
    pedal: float
    road_speed_mph: float
    tilt: float
    say: str
    lasts_s: float
    sump_f: float | None = None
    rough: float = 0.0
    wet: float = 0.0
    pressed_s: float | None = None
    only: str | None = None


class Use(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A kind of use: stops a mile, miles between fluid changes and in a week, and seconds a mile spends at each point."""

    label: str
    stops_per_mile: float
    service_miles: float
    weekly_miles: float
    seconds_per_mile: dict[str, float]


class Uses(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All points and uses."""

    points: dict[str, DutyPoint]
    uses: dict[str, Use]


@cache
def load_uses() -> Uses:
    """The uses and points of the data file."""
    return read_data("uses", Uses)
