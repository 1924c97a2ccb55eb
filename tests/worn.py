"""Vehicles in every state a cause can bring about, worn at random: to hold the model to its own books."""

import numpy as np

from course_lib.faults.causes import causes_of
from course_lib.vehicle.fleet import parameters_at
from course_lib.vehicle.memory import new_memory
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, Condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit

KINDS = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"))


def worn_vehicles(unit: str, signal: str, each: int, seed: int) -> tuple[Plant, Condition]:
    """`each` vehicles of every cause, of any severity, full grown, in a random condition."""
    spec, rng = load_unit(unit), np.random.default_rng(seed)
    causes = causes_of(spec, signal)
    count = each * len(causes)
    base = draw_parameters(spec, rng, count, signal=signal)
    growths = []
    for k, cause in enumerate(causes):
        growth = cause.growth(spec, base, rng.random(count), np.zeros((count, 1)))
        own = np.repeat(np.arange(len(causes)) == k, each).astype(float)
        change = {n: c * own.reshape((-1,) + (1,) * (c.ndim - 1)) for n, c in growth.change.items()}
        growths.append(type(growth)(change=change, onset=growth.onset, over=growth.over, lasts=growth.lasts))
    plant = Plant(spec, parameters_at(base, tuple(growths), growths[0].onset + 1e9))
    elements = len(spec.elements)

    def some(shape, most):
        return most * rng.random(shape) ** 3

    plain = {name: some((count, 1), {"lost": 2.0e-3, "pump": 3.0}.get(name, 1.0)) for name in PLAIN}
    own = {name: some((count, 1, elements), {"lining": 0.6e-3}.get(name, 1.0)) for name in PER_ELEMENT}
    return plant, Condition(**plain, **own, memory=new_memory(count, spec))
