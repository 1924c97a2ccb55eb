"""What is felt of an electronic control besides: a lamp, wrong gears, a speedometer that lies, moments without drive.

Strengths as in `felt_troubles`: 1 brings an ordinary driver in. The scales are common practice, no source, fitted.
"""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics.loose_contact import MEAN_OPENING
from course_lib.vehicle.actions import lit
from course_lib.vehicle.codes import ways_of
from course_lib.vehicle.command import Electric
from course_lib.vehicle.duty_cycle import SETTING_OFF, DutyCycle
from course_lib.vehicle.operating_point import Condition, Workings
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.wiring import now_and_then

LAMP = 1.1  # a warning lamp and nothing else: brings in who comes for anything
WRONG_GEAR = np.log(1.9)  # of the ratio driven in over the one wanted, that everybody comes in for
NO_GEAR = 3.0
MISSES = 0.12 * units.MILE  # m: strength for each moment without drive in a mile
HUNTS = 0.028  # share of the teeth that are missing, so that the speed seen swings about a shift point
LEVER_OFF = 0.06  # rad that the sensor of the lever is off its mark
SPEEDO, MOST_SPEEDO = 0.10, 2.0  # share that the speedometer is off; and how much that can trouble anybody
STAYS = 4.5  # without current it sets off in the gear that is left
OFTEN = 0.6 / units.MILE  # s/m; what is met for less time than this is noticed less
FLOWS = 0.1  # A, from which a solenoid has a current to lose


def felt_of_controller(
    plant: Plant, condition: Condition, work: Workings, day: DutyCycle
) -> dict[str, Array]:
    """What the driver feels of the controller, name -> (n, 1); nothing of hydraulic controls."""
    if work.electric is None:
        return {}
    return {
        "lamp": LAMP * np.asarray(lit(condition.memory, plant.unit).any(-1, keepdims=True), float),
        "limp": _wrong_gear(plant, work, work.electric, day),
        "misses": _misses(plant, work, work.electric, day),
        "speedo": _speedo(work.electric, day),
        "hunts": _hunts(plant),
        "no_start": _lever_off(plant) / LEVER_OFF,
    }


def _noticed(day: DutyCycle) -> Array:
    """How much each point counts, (1, m): as far as it is met often enough."""
    noticed: Array = np.minimum(day.seconds / OFTEN, 1.0) ** 0.5
    return noticed


def _wrong_gear(plant: Plant, work: Workings, electric: Electric, day: DutyCycle) -> Array:
    """How far the gears that hold are off those the controller goes by; without current, off those it has then given up."""
    ratio, wanted = np.abs(plant.ratio[work.gear]), np.abs(plant.ratio[electric.wanted_gear])
    both = (ratio > 0.0) & (wanted > 0.0)
    off = np.abs(np.log(np.where(both, ratio, 1.0) / np.where(both, wanted, 1.0))) / WRONG_GEAR
    off = np.where((ratio == 0.0) & (wanted > 0.0), NO_GEAR, off)
    stays = ~electric.relay_on & (day.op.road_speed < SETTING_OFF) & (wanted > 0.0)
    worst: Array = (np.maximum(off, STAYS * stays) * _noticed(day)).max(-1, keepdims=True)
    return worst


def _misses(plant: Plant, work: Workings, electric: Electric, day: DutyCycle) -> Array:
    """Moments in which an open contact takes the current from a solenoid that has some, by how many there are in a mile."""
    shares = now_and_then(plant, day.op)
    if not shares.any():
        return np.zeros((len(work.gear), 1), work.line.dtype)
    ways = ways_of(plant.unit)
    flows = (electric.current > FLOWS).astype(work.line.dtype)
    open_ = np.minimum((shares @ ways * flows).sum(-1), 1.0)
    seconds = day.spent(plant.p.use_stops, plant.p.use_standing)
    missed: Array = (seconds * open_).sum(-1, keepdims=True) / MEAN_OPENING * MISSES
    return missed


def _speedo(electric: Electric, day: DutyCycle) -> Array:
    """How far the speed shown is off the true one on the road."""
    moving = day.op.road_speed > SETTING_OFF
    off = np.abs(electric.believed_speed / np.where(moving, day.op.road_speed, 1.0) - 1.0)
    felt: Array = np.minimum((off * moving).max(-1, keepdims=True) / SPEEDO, MOST_SPEEDO)
    return felt


def _hunts(plant: Plant) -> Array:
    """How much a speed swings once a turn, as teeth are missing."""
    p = plant.p
    swings: Array = (p.sensor_teeth_short / np.maximum(p.sensor_teeth, 1.0)).max(-1) / HUNTS
    return swings


def _lever_off(plant: Plant) -> Array:
    """How far [rad] the sensor of the lever is off its mark, (n, 1)."""
    off: Array = np.abs(plant.p.sensor_offset).max(-1)
    return off
