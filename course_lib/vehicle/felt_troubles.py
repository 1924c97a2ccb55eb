"""What the driver feels: how far each kind of trouble stands above what an ordinary driver puts up with.

1 means that an ordinary driver comes in for that reason alone. The scales are common practice, no source: what people complain
about, put in numbers. Everything is compared with a sound new vehicle of the same unit in the same use.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.vehicle.duty_cycle import SETTING_OFF, DutyCycle, duty_cycle
from course_lib.vehicle.felt_controls import felt_of_controller
from course_lib.vehicle.operating_point import Condition, Workings, new_condition
from course_lib.vehicle.owner_day import driven_day
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

LIGHT_PEDAL = 0.12
LOST_PULL = 0.06  # share of the torque asked that finds no hold
OFTEN = 0.6 / units.MILE  # s/m; a fault met for less time than this is noticed less
HARSH = 0.50  # line pressure above a sound vehicle's on a light pedal
JERK = 0.8  # how much faster the torque comes on than in a sound vehicle
LURCH = 0.9  # creeping pull in gear at idle above a sound vehicle's
LATE, EARLY = 0.80, 1.5  # upshift speed against a sound vehicle's; early and soft feels pleasant
WEAK = 0.25  # pull lost
HOT = 30.0  # K above a sound vehicle's sump
BOILED = 20.0  # fluid leaves by the vent: there the drive ends, however patient the driver
FLARE = 45.0  # rad/s of run-away between two gears, above a sound vehicle's
DELAY = 1.0  # s of waiting for a gear beyond a sound vehicle's
BUZZ = 0.30  # share of time the pump draws air on the flat
SMOKE = units.QUART / (450 * units.MILE)  # fluid burnt by the engine
DRIP = units.QUART / (150 * units.MILE)  # fluid lost where the vehicle parks
BINDS = 0.15  # share of the turbine torque with which elements fight
BOTH = 0.25  # s longer than in a sound vehicle that two elements hold at once in a shift
JUDDER = 0.6
WHINE = 0.5  # pins and washers worn
CLUNK, KNOCK = 0.12, 3e-4  # rad of play in joints; m off center of the converter hub
FASTEST = 33.5  # m/s, 75 mph
KICKDOWN_MISSED = 1.2  # with the linkage off
THUMP = 0.018  # m the unit lifts off its mounts
DRAG = (
    300.0  # N that hold the vehicle back when it should roll: brakes, or plates and bands that do not let go
)
PLATE, BOLTS = (
    0.35,
    0.35,
)  # share of a flex plate cracked, of converter bolts loose, that is heard by everybody
ROLLS = 0.35  # share of a tooth that the park pawl does not reach
NO_START = 0.12  # rad that the neutral switch is off its mark
LOOSE = 0.25  # rad of play in shafts that shocks have ruined
NIGHT_FILL, FIRST_WAIT, LONGEST_NIGHT = 2.2e-4, 1.0, 12.0  # m3/s of the pump at idle; s; s


@dataclass(frozen=True, slots=True)
class SoundVehicle:
    """A sound new vehicle in the same use, to compare with."""

    work: Workings
    light: Array
    full: Array


@cache
def sound_vehicle(unit: UnitSpec, signal: str, use: str) -> SoundVehicle:
    """A sound vehicle of `unit` with that load signal, in that use."""
    plant = Plant(unit, nominal_parameters(unit, signal=signal))
    work = driven_day(plant, new_condition(1, unit), duty_cycle(use, unit)).work
    return SoundVehicle(work, plant.controls.upshift_speeds(LIGHT_PEDAL), plant.controls.upshift_speeds(1.0))


def sound_like(plant: Plant, use: str) -> SoundVehicle:
    """The sound vehicle that those of a batch are compared with."""
    signal = "cable" if plant.p.signal_cable_fitted.flat[0] > 0.5 else plant.unit.signals[0]
    return sound_vehicle(plant.unit, signal, use)


def felt_troubles(plant: Plant, condition: Condition, work: Workings, use: str) -> dict[str, Array]:
    """How strongly each trouble is felt, name -> (n, 1)."""
    sound, day = sound_like(plant, use), duty_cycle(use, plant.unit)
    felt = (
        _in_gear(plant, work, sound, day)
        | _at_rest(plant, condition, work, sound, day)
        | _shifts(plant, sound)
    )
    for name, strength in felt_of_controller(plant, condition, work, day).items():
        felt[name] = np.maximum(felt[name], strength) if name in felt else strength
    return felt


def _in_gear(plant: Plant, work: Workings, sound: SoundVehicle, day: DutyCycle) -> dict[str, Array]:
    """What is felt while driving: slides, shocks, lack of pull, shaking."""
    worst, p = _worst(np.minimum(day.seconds / OFTEN, 1.0) ** 0.5), plant.p
    alike = work.gear == sound.work.gear  # a shift a little early or late is no trouble of its own
    pulling = (day.op.throttle > 0.2) & (alike | (day.op.road_speed < SETTING_OFF))
    pull = work.drive_torque / np.maximum(sound.work.drive_torque, 1.0)
    broken = (1.0 - p.vehicle_shaft) * (day.op.throttle > 0)
    waits = worst((work.delay - sound.work.delay).max(-1) / DELAY)
    first = np.minimum(p.sump_night_drain / NIGHT_FILL, LONGEST_NIGHT)
    both = (work.overlap - sound.work.overlap).max(-1)
    return {
        "slips": worst(np.maximum(work.loss, broken) / LOST_PULL),
        "flares": worst((work.flare - sound.work.flare).max(-1) / FLARE),
        "harsh": _harsh(work, sound, day, alike),
        "weak": _most(np.where(pulling, 1.0 - pull, 0.0) / WEAK),
        "delays": np.maximum(waits, (first - FIRST_WAIT) / (2.0 * DELAY)),
        "binds": worst(np.maximum((work.tie_up - sound.work.tie_up) / BINDS, both / BOTH)),
        "judders": worst((work.judder - sound.work.judder) / JUDDER),
    }


def _harsh(work: Workings, sound: SoundVehicle, day: DutyCycle, alike: Flags) -> Array:
    """How hard it comes on with a light foot: line pressure, the rise of torque, and the pull of a fast idle."""
    harder = np.where(sound.work.line > 0, work.line / sound.work.line, 1.0) - 1.0
    harder = harder * (work.electric is None)  # behind valves that regulate, line pressure alone is not felt
    jerk = alike * (work.jerk / np.maximum(sound.work.jerk, 1.0) - 1.0).max(-1)
    creep = work.turbine_torque / np.maximum(sound.work.turbine_torque, 1.0) - 1.0
    lurch = np.where(day.op.road_speed == 0.0, creep, 0.0)
    worst = np.maximum(np.maximum(harder / HARSH, jerk / JERK), lurch / LURCH)
    return _most(np.where(day.op.throttle < 0.3, worst, 0.0))


def _at_rest(
    plant: Plant, condition: Condition, work: Workings, sound: SoundVehicle, day: DutyCycle
) -> dict[str, Array]:
    """What is heard, smelled and seen around the vehicle."""
    p, sump = plant.p, work.temperature - sound.work.temperature
    flat = (np.abs(day.op.tilt) < 0.05) & np.isnan(day.op.temperature)
    reduced = np.any(np.abs(plant.ratio[work.gear]) > 1.05, axis=-1, keepdims=True)
    loose = p.vehicle_lash + condition.driveline * LOOSE - 0.04
    return {
        "hot": np.where(work.boils_over, BOILED, sump.mean(-1, keepdims=True) / HOT),
        "buzz": _most(np.where(flat, work.air_time - sound.work.air_time, 0.0) / BUZZ),
        "smoke": p.leak_engine_draws / SMOKE,
        "drip": (p.leak_outside + p.leak_front + p.leak_pan + p.leak_selector + p.leak_line) / DRIP,
        "whines": condition.planetary / WHINE * reduced,
        "knocks": np.maximum.reduce(
            [
                loose / CLUNK,
                p.pump_offset / KNOCK,
                p.vehicle_mount_lift / THUMP,
                p.converter_plate_crack / PLATE,
                p.converter_bolts_loose / BOLTS,
            ]
        ),
        "rolls_off": p.lever_park_short / ROLLS,
        "no_start": p.lever_switch_off / NO_START,
        "stalls": _most(np.where(day.op.road_speed == 0.0, work.lockup_on, 0.0) * 3.0),
        "drags": np.maximum(p.vehicle_brake_drag, _held_back(work, day)) / DRAG,
    }


def _held_back(work: Workings, day: DutyCycle) -> Array:
    """Force [N] with which elements that should be free hold the vehicle back, largest over the points, (n, 1)."""
    power = work.drag_power.sum(-1)
    return _most(np.where(day.op.road_speed > 0.0, power / np.maximum(day.op.road_speed, SETTING_OFF), 0.0))


def _shifts(plant: Plant, sound: SoundVehicle) -> dict[str, Array]:
    """When it shifts, light and full pedal side by side against a sound vehicle's."""
    pedals = LIGHT_PEDAL, 1.0
    each = np.concatenate([plant.controls.upshift_speeds(pedal) for pedal in pedals], 1)
    due = np.concatenate([sound.light, sound.full], 1)
    reached = due < FASTEST  # a later shift than that is met by hardly anybody
    late = np.where(reached, np.minimum(each / np.where(reached, due, 1.0), 3.0), 1.0)
    return {
        "late": (late.max(-1, keepdims=True) - 1.0) / LATE,
        "early": (1.0 - late.min(-1, keepdims=True)) / EARLY,
        "no_kickdown": KICKDOWN_MISSED * (1.0 - plant.p.signal_kickdown) * plant.unit.has("signal_kickdown"),
    }


def _most(strength: Array) -> Array:
    """Largest over the points, (n, 1)."""
    most: Array = strength.max(-1, keepdims=True)
    return most


def _worst(noticed: Array) -> Callable[[Array], Array]:
    """A function: largest over the points, each counted as far as it is met often enough to be noticed."""
    return lambda strength: _most(strength * noticed)
