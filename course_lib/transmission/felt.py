"""What the driver feels: how far each kind of trouble stands above what an ordinary driver puts up with.

1 means that an ordinary driver comes in for that reason alone. The scales are common practice, no source: what people complain
about, put in numbers. Everything is compared with a sound new vehicle of the same unit in the same use.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib import units
from course_lib.transmission.duty import duty
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import Workings, new_condition
from course_lib.transmission.spec import load_unit, nominal_parameters

LIGHT_PEDAL = 0.12
LOST_PULL = 0.06  # share of the torque asked that finds no hold
OFTEN = 0.6 / units.MILE  # s/m; a fault met for less time than this is noticed less
HARSH = 0.45  # line pressure above a sound vehicle's on a light pedal
LATE, EARLY = 0.80, 1.5  # upshift speed against a sound vehicle's; early and soft feels pleasant
WEAK = 0.25  # pull lost on pulling away
HOT = 30.0  # K above a sound vehicle's sump
FLARE = 45.0  # rad/s of run-away between two gears, above a sound vehicle's
BUZZ = 0.30  # share of time the pump draws air on the flat
SMOKE = units.QUART / (450 * units.MILE)  # fluid burnt by the engine
DRIP = units.QUART / (150 * units.MILE)  # fluid lost where the vehicle parks


@dataclass(frozen=True, slots=True)
class Reference:
    """A sound new vehicle in the same use, to compare with."""

    work: Workings
    light: np.ndarray
    full: np.ndarray


@cache
def reference(unit: str, signal: str, use: str) -> Reference:
    """A sound vehicle of `unit` with that load signal, in that use."""
    spec, day = load_unit(unit), duty(use)
    plant = Plant(unit, nominal_parameters(spec, signal=signal))
    work = plant.operate(new_condition(1, len(spec.elements)), day.op, day.seconds)
    return Reference(work, plant.upshift_speeds(LIGHT_PEDAL), plant.upshift_speeds(1.0))


def felt(plant: Plant, work: Workings, use: str) -> dict[str, np.ndarray]:
    """How strongly each trouble is felt, name -> (n, 1)."""
    signal = "cable" if plant.p.signal_cable_fitted.flat[0] > 0.5 else "vacuum"
    sound, day = reference(plant.unit.name, signal, use), duty(use)
    noticed = np.minimum(day.seconds / OFTEN, 1.0) ** 0.5
    at_ease = (day.op.throttle < 0.3) & (work.signal >= 0)
    moving_off = (day.op.road_speed < 4.0) & (day.op.throttle > 0.2)
    level = np.abs(day.op.tilt) < 0.05
    late = np.concatenate(
        [plant.upshift_speeds(LIGHT_PEDAL) / sound.light, plant.upshift_speeds(1.0) / sound.full], 1
    )
    late = np.minimum(late, 3.0)
    share = np.where(sound.work.line > 0, work.line / sound.work.line, 1.0)
    pull = work.turbine_torque / np.maximum(sound.work.turbine_torque, 1.0)
    heat = (work.temperature - sound.work.temperature).mean(-1, keepdims=True)
    run_away = (work.flare - sound.work.flare).max(-1)
    return {
        "slips": (work.loss * noticed / LOST_PULL).max(-1, keepdims=True),
        "flares": (run_away * noticed / FLARE).max(-1, keepdims=True),
        "harsh": (np.where(at_ease, share - 1.0, 0.0) / HARSH).max(-1, keepdims=True),
        "late": (late.max(-1, keepdims=True) - 1.0) / LATE,
        "early": (1.0 - late.min(-1, keepdims=True)) / EARLY,
        "weak": (np.where(moving_off, 1.0 - pull, 0.0) / WEAK).max(-1, keepdims=True),
        "hot": heat / HOT,
        "buzz": (np.where(level, work.air_time - sound.work.air_time, 0.0) / BUZZ).max(-1, keepdims=True),
        "smoke": plant.p.leak_engine_draws / SMOKE,
        "drip": plant.p.leak_outside / DRIP,
    }
