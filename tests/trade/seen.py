"""What the workshop finds on a batch of vehicles, as arrays by key."""

from __future__ import annotations

import numpy as np

from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.plant import Plant

Seen = tuple[np.ndarray, tuple[float | None, float | None] | None, float]


def all_seen(plant: Plant, condition: Condition, signal: str, use: str) -> dict[str, Seen]:
    """ "inspection.key" -> (values (n,), spec, uncertainty of the instrument); of a look its grade, without spec.

    What comes and goes counts as seen where one who looks for it meets it oftener than not.
    """
    subject = Subject(plant=plant, condition=condition, signal=signal, use=use)
    sheet = plant.unit.spec
    found: dict[str, Seen] = {}
    for inspection, each in inspect_population(subject).items():
        for reading in each.measured:
            found[f"{inspection}.{reading.key}"] = (reading.value, sheet.get(reading.key), reading.sigma)
        for look in each.seen:
            met = 1.0 if look.chance is None else look.chance >= 0.5
            found[f"{inspection}.{look.key}"] = (look.grades() * met, None, 0.0)
    return found
