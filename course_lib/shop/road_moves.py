"""What the road test asks of a vehicle, as data."""

from __future__ import annotations

from functools import cache
from typing import Annotated

import msgspec

from course_lib.base.data_files import read_data
from course_lib.shop.findings import BOTH, KindOfControl


class Move(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One thing the road test asks: a lever, a pedal, a speed and a grade, meant for one gear of some kinds of control."""

    key: str
    label: str
    lever: str
    gear: str
    pedal: Annotated[float, msgspec.Meta(ge=0, le=1)]
    mph: Annotated[float, msgspec.Meta(ge=0, le=100)]
    tilt: Annotated[float, msgspec.Meta(ge=-1, le=1)]
    controls: tuple[KindOfControl, ...] = BOTH


class MovesFile(msgspec.Struct, frozen=True):
    """The data file."""

    moves: tuple[Move, ...]


@cache
def all_moves() -> tuple[Move, ...]:
    """Every move, in the order of the data file."""
    return read_data("road_moves", MovesFile).moves
