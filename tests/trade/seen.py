"""What the workshop finds on a batch of vehicles, as arrays by key."""

from __future__ import annotations

import numpy as np

from course_lib.shop.inspect import METHODS
from course_lib.shop.subject import Subject
from course_lib.transmission.life import pick
from course_lib.transmission.plant import Plant

NAMES = tuple(name for name in METHODS if name != "interview")


def all_seen(plant, condition, signal: str, use: str):
    return {}


def slow(plant, condition, signal: str, use: str):
    """ "inspection.key" -> (values (n,), spec, uncertainty)."""
    n = len(condition.pump)
    found = {}
    for i in range(n):
        rows = np.array([i])
        base = {k: v[rows] for k, v in plant_parameters(plant).items()}
        subject = Subject(
            plant=Plant(plant.unit.name, base),
            condition=pick(condition, rows),
            signal=signal,
            use=use,
            seed=i,
            felt={},
        )
        for name in NAMES:
            try:
                readings, _ = METHODS[name](subject)
            except (AttributeError, TypeError, ValueError, IndexError, KeyError):
                continue
            for r in readings:
                key = f"{name}.{r.key}"
                values, *_ = found.setdefault(key, (np.full(n, np.nan), r.spec, r.sigma))
                values[i] = np.nan if r.value is None else r.value
    return found


def plant_parameters(plant) -> dict:
    """Parameters of a plant by name."""
    p = plant.p
    names = (
        getattr(p, "_fields", None)
        or (p.__slots__ if hasattr(p, "__slots__") and p.__slots__ else None)
        or vars(p)
    )
    return {name: getattr(p, name) for name in names}
