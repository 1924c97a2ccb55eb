"""Vehicles for the tests of the simulator: sound ones, worn ones, and ones that a cause has befallen."""

import numpy as np

from course_lib.base import units
from course_lib.faults.causes import load_cause
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit, nominal_parameters

UNIT = "T3"
SPEC = load_unit(UNIT)
ELEMENTS = SPEC.element_ids
FORWARD, DIRECT, BAND, LOW_REVERSE, ONE_WAY = range(5)
HOT = units.from_fahrenheit(180.0)
COLD = units.from_fahrenheit(68.0)
IDLE = units.from_rpm(650.0)
LEVERS = ("P", "N", "D", "2", "1", "R")


def sound(cases=1, *, signal="vacuum", seed=None, **changes):
    """Parameters of new vehicles: equal ones, or drawn with their spread when `seed` is given."""
    unit = load_unit(UNIT)
    if seed is None:
        parameters = nominal_parameters(unit, cases, signal=signal)
    else:
        parameters = draw_parameters(unit, np.random.default_rng(seed), cases, signal=signal)
    for name, value in changes.items():
        parameters[name] = np.broadcast_to(value, parameters[name].shape).astype(float)
    return parameters


def scaled(parameters, name, factor):
    """`parameters` with one entry multiplied; `factor` broadcasts against it."""
    return {**parameters, name: parameters[name] * factor}


def new(cases=1):
    """Condition of new vehicles."""
    return new_condition(cases, SPEC)


def line_psi(parameters, condition=None, levers=LEVERS, *, rpm=650.0, temperature=HOT, **op):
    """Line pressure [psi] on the gauge, vehicles by operating points."""
    plant = Plant(SPEC, parameters)
    condition = new(len(parameters["line_base"])) if condition is None else condition
    speed = units.from_rpm(np.asarray(rpm))
    return units.to_psi(
        plant.operate(condition, operation(levers, engine_speed=speed, temperature=temperature, **op)).line
    )


def with_cause(cause, severity, parameters, onset_miles, use="mixed"):
    """A world in which `cause` befalls each vehicle at `onset_miles`; severity (n,) from 0 to 1."""
    count = len(parameters["line_base"])
    onset = np.broadcast_to(np.asarray(onset_miles, float) * units.MILE, (count, 1))
    growth = load_cause(cause).growth(load_unit(UNIT), parameters, np.broadcast_to(severity, (count,)), onset)
    return Fleet(SPEC, use, parameters, (growth,))


def drive(world, start_miles, end_miles, *, condition=None, sensitivity=1.0, **how):
    """Live from one odometer to another, or to the complaint; sensitivity 0 never complains."""
    count = len(world.base["line_base"])
    ends = [np.broadcast_to(np.asarray(x, float), (count, 1)) for x in (start_miles, end_miles, sensitivity)]
    condition = new(count) if condition is None else condition
    return live(world, condition, ends[0] * units.MILE, ends[1] * units.MILE, ends[2], **how)
