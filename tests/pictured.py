"""Vehicles for the tests of the figures: a sound one, three that fail in different ways, their findings, and what pictures say."""

import re
from functools import cache

import numpy as np

from course_lib.base import units
from course_lib.cases.case import NO_SEED, Case, CaseFile, WorkOrder
from course_lib.faults.scenario import GENERATOR_VERSION
from course_lib.shop.inspect import make_inspections
from course_lib.shop.subject import Subject
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters, parameter_place

# State -> (parameters times, entries of the condition, entries of one element), each from a new vehicle.
STATES: dict[str, tuple[dict, dict, dict]] = {
    "healthy": ({}, {}, {}),
    "fluid low": ({}, {"lost": units.from_quart(2.6), "oxidation": 0.7}, {}),
    "burnt direct clutch": (
        {},
        {"oxidation": 1.3},
        {"direct_clutch": {"char": 0.8, "lining": 4.5e-4, "seal": 0.7}},
    ),
    "worn pump": ({"line_spring": 0.75}, {"pump": 2.5, "bushing": 0.9, "planetary": 0.6}, {}),
}
# State -> address of a parameter -> its value, on the electronic unit. "as it came": with codes and learned values of some miles.
ELECTRIC: dict[str, dict[str, float]] = {
    "sound": {},
    "green feed pin": {"wire_contact@feed_b": 6.0},
    "sick sensor": {"sensor_gap@oss": 3e-3, "sensor_teeth_short@oss": 1.0, "sensor_noise@oss": 0.6},
    "oil in the loom": {
        "wire_leak@wire_tss": 2e-4,
        "wire_contact@wire_tft": 400.0,
        "wire_contact@ground_g1": 0.12,
    },
    "many at once": {
        "bus_wheels_silent": 1.0,
        "bus_termination": 1e6,
        "supply_rest": 11.6,
        "supply_charge": 12.4,
        "solenoid_bore@pcd": 6.0,
        "solenoid_coil@pcc": 1.8,
    },
}
FAULTY = tuple(name for name in STATES if name != "healthy")


@cache
def subject(state, unit="T3"):
    """The vehicle in a state, on the lift."""
    factors, entries, elements = STATES[state]
    spec = load_unit(unit)
    parameters = nominal_parameters(spec, signal=spec.signals[-1])
    for name, factor in factors.items():
        parameters[name] = parameters[name] * factor
    condition = new_condition(1, spec)
    for name, value in entries.items():
        getattr(condition, name)[:] = value
    for element, worn in elements.items():
        for name, value in worn.items():
            getattr(condition, name)[0, 0, spec.element_ids.index(element)] = value
    return Subject(Plant(spec, parameters), condition, spec.signals[-1], "mixed", seed=7)


@cache
def findings(state, unit="T3"):
    """What every inspection finds on it."""
    return make_inspections(subject(state, unit))


@cache
def electric(state):
    """What every inspection finds on an electronic unit in a state of `ELECTRIC`; all but the sound one have codes."""
    spec = load_unit("E6")
    parameters = nominal_parameters(spec, signal="electronic")
    for address, value in ELECTRIC[state].items():
        name, place = parameter_place(spec, address)
        parameters[name][... if place is None else (..., place)] = value
    condition = new_condition(1, spec)
    if state != "sound":
        codes = spec.control.code_ids
        condition.memory.failed[:, 0, [codes.index("P0741"), codes.index("P2716")]] = 2.0
        condition.memory.failed[:, 0, codes.index("P0733")] = 1.0
        condition.memory.fill[:, 0, spec.element_ids.index("reduction_clutch")] = 0.060
    return make_inspections(Subject(Plant(spec, parameters), condition, "electronic", "mixed", seed=7))


LEAST_PT = 10.0  # 14 px where a picture is 800 px wide; 9 px in a column of 500 px, the least that is read (common practice)
NUMBER = re.compile(r"[\u2212-]?\d[\d,]*(?:\.\d+)?")


def numbers(text):
    """Every number in a text, minus signs and thousands put right."""
    return [float(found.replace(",", "").replace("\u2212", "-")) for found in NUMBER.findall(text)]


def written_over(picture):
    """Words past the edge of the sheet or too small to read, and pairs written over each other by more than a hair."""
    renderer, box = picture.figure.canvas.get_renderer(), picture.figure.bbox
    texts = [text for axes in picture.figure.axes for text in axes.texts if text.get_text().strip()]
    ends = np.array([text.get_window_extent(renderer).extents for text in texts])
    past = (ends[:, :2] < 0).any(1) | (ends[:, 2] > box.width) | (ends[:, 3] > box.height)
    past |= np.array([text.get_fontsize() < LEAST_PT for text in texts])
    wide = np.minimum.outer(ends[:, 2], ends[:, 2]) - np.maximum.outer(ends[:, 0], ends[:, 0])
    high = np.minimum.outer(ends[:, 3], ends[:, 3]) - np.maximum.outer(ends[:, 1], ends[:, 1])
    over = np.argwhere(np.triu((wide > 12) & (high > 8), 1))
    said = [text.get_text() for text in texts]
    return [said[i] for i in np.flatnonzero(past)] + [(said[i], said[k]) for i, k in over]


def electric_case(state, case_id):
    """A vehicle with the electronic unit in a state of `ELECTRIC`, to be worked at the bench; nobody knows its key."""
    order = WorkOrder(
        number="6001", vehicle="pickup, crew cab", unit_name="six-speed, electronically controlled", odometer_miles=61_000,
        owner="N. Varga, roofer", complaint="Strong in second, weak in third on the long hill.", since="two weeks",
        use="pulling a trailer", history="",
    )  # fmt: skip
    known = {
        "id": case_id,
        "seed": NO_SEED,
        "generator_version": GENERATOR_VERSION,
        "unit": "E6",
        "signal": "electronic",
    }
    return Case(CaseFile(work_order=order, findings=electric(state), **known))
