"""The landmarks of a life: what is noted in its log, each at the odometer where it first happens. The same list for all."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Flags
from course_lib.vehicle.operating_point import Condition, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec

SLIDING = 1500.0  # W of slip in an element that counts as a slide worth a line

LABELS = {
    "fluid_short": "fluid half a quart short",
    "fluid_much_short": "fluid more than a quart short",
    "air_drawn": "pump draws air in places",
    "line_low": "line pressure falls short under way",
    "hot": "sump past 250 \u00b0F in places",
    "boils_over": "fluid foams out at the vent",
    "fluid_aged": "fluid worn out",
    "pump_worn": "pump clearance half as much again",
    "bushing_worn": "bushings half worn",
    "weak_pull": "engine pulls less than it should",
    "pins_worn": "planet pins half worn",
    "lining_soaked": "lining paper soft with water",
    "lockup_charred": "lock-up lining charred",
    "joints_loose": "joints and shafts loosened by shocks",
}
ELEMENT_LABELS = {
    "slides": "{} slips",
    "darkened": "{} linings darken",
    "half_gone": "{} lining half gone",
    "burnt": "{} burnt",
    "seal_hard": "{} seal hard",
    "one_way_damaged": "{} damaged",
    "cracked": "{} drum or lug cracked",
}


def life_events(plant: Plant, condition: Condition, work: Workings) -> dict[str, Flags]:
    """For each landmark, whether it has happened, (n,) bool."""
    p = plant.p
    found = {
        "fluid_short": condition.lost[:, 0] > 0.5 * units.QUART,
        "fluid_much_short": condition.lost[:, 0] > 1.1 * units.QUART,
        "air_drawn": work.air_time.max(-1) > 0.15,
        "line_low": (work.line / work.goal).min(-1) < 0.85,
        "hot": work.temperature.mean(-1) > units.from_fahrenheit(250.0),
        "boils_over": work.boils_over[:, 0],
        "fluid_aged": condition.oxidation[:, 0] > 1.0,
        "pump_worn": condition.pump[:, 0] > 0.5,
        "bushing_worn": condition.bushing[:, 0] > 0.5,
        "weak_pull": p.engine_health[:, 0] < 0.9,
        "pins_worn": condition.planetary[:, 0] > 0.5,
        "lining_soaked": condition.soaked.max((1, 2)) > 0.5,
        "lockup_charred": condition.lockup[:, 0] > 0.5,
        "joints_loose": condition.driveline[:, 0] > 0.5,
    }
    return found | _element_landmarks(plant, condition, work)


def _element_landmarks(plant: Plant, condition: Condition, work: Workings) -> dict[str, Flags]:
    """The landmarks of each holding element."""
    found = {}
    left = 1.0 - condition.lining / plant.p.element_lining
    slides = np.any(work.slip_power > SLIDING, axis=1)
    for column, element in enumerate(plant.unit.elements):
        at = f"@{element.id}"
        if element.kind == "one-way":
            found["one_way_damaged" + at] = condition.holding[:, 0, column] > 0.4
            continue
        found["slides" + at] = slides[:, column]
        found["darkened" + at] = condition.char[:, 0, column] > 0.05
        found["half_gone" + at] = left[:, 0, column] < 0.5
        found["burnt" + at] = condition.char[:, 0, column] > 0.35
        found["cracked" + at] = condition.holding[:, 0, column] > 0.5
        found["seal_hard" + at] = condition.seal[:, 0, column] > 0.5
    return found


def event_label(event: str, unit: UnitSpec) -> str:
    """What people call a landmark."""
    name, _, element = event.partition("@")
    if not element:
        return LABELS[name]
    return ELEMENT_LABELS[name].format(next(e.label for e in unit.elements if e.id == element))
