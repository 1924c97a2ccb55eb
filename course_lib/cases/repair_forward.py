"""The vehicle of a case after a repair, driven forward: simulated, and so apart from what a learner opens."""

from __future__ import annotations

from course_lib.cases.key import Key
from course_lib.faults import stories
from course_lib.faults.repair import YEARS_OF_USE, Past, restore
from course_lib.faults.stored import Story


def vehicle_of(key: Key) -> Past:
    """The vehicle of a case as it came in. Raises ValueError where the key has none."""
    if key.vehicle is None:
        raise ValueError(f"key of case {key.case_id} must hold its vehicle, got none. Make the case anew.")
    return restore(key.vehicle)


def drive_repair(key: Key, parts=(), causes=(), *, miles: float = YEARS_OF_USE) -> Story:
    """Drive a repair of the vehicle of a case forward; see `stories.drive_repair`."""
    return stories.story_of_repair(vehicle_of(key), parts, causes, miles=miles)
