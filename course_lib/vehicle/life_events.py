"""The landmarks of a life: what is noted in its log, each at the odometer where it first happens. The same list for all."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Flags
from course_lib.vehicle.actions import STORED, actions, code_steps, lit
from course_lib.vehicle.adaptation import at_a_limit
from course_lib.vehicle.operating_point import Condition, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec

LINE_SHORT, ALL_OF_IT = 0.85, 0.98  # shares of what is set, and of the most that can be
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
    "learned_at_limit": "what the controller has learned stands at its end stop",
    "lamp": "warning lamp lit",
    "limp_home": "controller lets go of the solenoids and limps home",
    "codes_cleared": "codes cleared",
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
CODES_CLEARED = "codes_cleared"  # is no crossing: somebody did it, see `since_clearing`
CODE_STORED, CODE_LABEL = "code_stored", "code {} stored"


def life_events(plant: Plant, condition: Condition, work: Workings) -> dict[str, Flags]:
    """For each landmark, whether it has happened, (n,) bool."""
    p = plant.p
    found = {
        "fluid_short": condition.lost[:, 0] > 0.5 * units.QUART,
        "fluid_much_short": condition.lost[:, 0] > 1.1 * units.QUART,
        "air_drawn": work.air_time.max(-1) > 0.15,
        "line_low": _line_short(plant, work),
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
    return found | _element_landmarks(plant, condition, work) | _controller_landmarks(plant, condition)


def _line_short(plant: Plant, work: Workings) -> Flags:
    """Whether line pressure falls short of what is set, but not where all of it is wanted: no pump brings that at idle."""
    short = work.line / work.goal < LINE_SHORT
    if work.electric is not None:
        short &= work.goal < ALL_OF_IT * plant.p.control_line_full
    falls: Flags = short.max(-1)
    return falls


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


def _controller_landmarks(plant: Plant, condition: Condition) -> dict[str, Flags]:
    """The landmarks of an electronic control: each code, and what it then does."""
    control, memory = plant.unit.control, condition.memory
    if control is None:
        return {}
    stored = code_steps(memory, plant.unit) == STORED
    return {  # in causal order, for those of one mile
        "learned_at_limit": at_a_limit(plant.p, memory)[:, 0],
        **{f"{CODE_STORED}@{code.id}": stored[:, i] for i, code in enumerate(control.codes)},
        "lamp": lit(memory, plant.unit).any(-1),
        "limp_home": actions(memory, plant.unit).relay_off[:, 0],
    }


def event_label(event: str, unit: UnitSpec) -> str:
    """What people call a landmark."""
    name, _, element = event.partition("@")
    if not element:
        return LABELS[name]
    if name == CODE_STORED:
        return CODE_LABEL.format(element)
    return ELEMENT_LABELS[name].format(next(e.label for e in unit.elements if e.id == element))
