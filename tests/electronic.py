"""Vehicles with the electronic unit, sound but for what a test changes."""

import numpy as np

from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters, parameter_place

UNIT = load_unit("E6")


def parameters_with(cases=1, **changes):
    """Parameters of sound vehicles but for these: name or name__owner -> value, or one for each case."""
    parameters = nominal_parameters(UNIT, cases, signal="electronic")
    for address, value in changes.items():
        name, column = parameter_place(UNIT, address.replace("__", "@"))
        each = np.broadcast_to(np.asarray(value, float), (cases,))
        if column is None:
            parameters[name] = parameters[name] * 0.0 + each.reshape(-1, *[1] * (parameters[name].ndim - 1))
        else:
            parameters[name][:, 0, column] = each
    return parameters


def changed(cases=1, **changes):
    """Those vehicles."""
    return Plant(UNIT, parameters_with(cases, **changes))
