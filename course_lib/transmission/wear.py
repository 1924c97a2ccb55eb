"""How fast a vehicle wears, heats its plates, ages its fluid and seals, and loses fluid: rates per meter driven."""

from __future__ import annotations

import numpy as np

from course_lib.physics import fluid, friction
from course_lib.physics.smooth import smooth_step
from course_lib.transmission.duty import Duty
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import Condition, Workings

SEAL_REFERENCE = 363.15  # K, 90 C
SEAL_HALVING = 11.0  # K; a reaction-rate rule of thumb, common practice, no source
LUBE_FLOW = 4e-5  # m3/s of cooler return that keeps every bushing wet; half a quart in 12 s, fitted
HOTTEST_PLATE = (
    580.0  # K; a lining that hot has lost its grip and takes up no more heat; steels blue at 570 to 600 F
)


def plate_temperature(plant: Plant, work: Workings, power, energy):
    """Hottest plate temperature [K] at each point: sump, one long slide, and the heat of one engagement."""
    p = plant.p
    if_pressed = p.element_thermal_resistance > 0
    constant = np.where(if_pressed, p.element_thermal_resistance * p.element_thermal_capacity, 1.0)
    slide = p.element_thermal_resistance * power * (1.0 - np.exp(-p.wear_slip_time[..., None] / constant))
    return np.minimum(
        work.temperature[..., None] + slide + energy / p.element_thermal_capacity, HOTTEST_PLATE
    )


def _lining_rate(plant: Plant, condition: Condition, work: Workings, use: Duty, plates) -> np.ndarray:
    """Lining lost per face and meter (n, 1, E), by slides and by the engagements of every stop."""
    p, per_point = plant.p, use.seconds[..., None]

    def worn(heat):
        area = p.element_rub_area * p.element_faces
        return friction.sliding_wear_depth_rate(
            heat, area, p.wear_coefficient[..., None], plates, condition.char
        )

    used = per_point * (work.shift_heat > 0)
    an_engagement = (worn(work.shift_heat) * used).sum(-2, keepdims=True) / (
        used.sum(-2, keepdims=True) + 1e-12
    )
    engagements = use.stops * p.element_shifts * p.element_engage_wear
    left = 1.0 - smooth_step(condition.lining, 0.95 * p.element_lining, p.element_lining)
    return ((per_point * worn(work.slip_power)).sum(-2, keepdims=True) + engagements * an_engagement) * left


def rates(plant: Plant, condition: Condition, work: Workings, use: Duty) -> Condition:
    """How fast each entry of `condition` changes, per meter."""
    p, seconds = plant.p, use.seconds
    per_point = seconds[..., None]
    plates = plate_temperature(plant, work, work.slip_power, work.shift_heat)
    sliding = (work.slip_power > 0) * per_point
    air = (seconds * work.air_time).sum(-1, keepdims=True) / seconds.sum()
    returned = (seconds * work.cooler_flow).sum(-1, keepdims=True) / seconds.sum()
    lube = 1.0 - np.clip(returned / LUBE_FLOW, 0.0, 1.0)
    aging = 2.0 ** ((work.temperature[..., None] + p.element_drum_heat - SEAL_REFERENCE) / SEAL_HALVING)
    aged = (seconds * fluid.oxidation_rate(work.temperature, work.air_time)).sum(-1, keepdims=True)
    pressed = ~plant.is_one_way
    return Condition(
        oxidation=aged - use.services * p.fluid_service * condition.oxidation,
        lost=p.leak_outside + p.leak_engine_draws,
        pump=p.pump_wear * p.pump_grit * (1.0 + p.wear_aerated * air),
        bushing=p.wear_bushing * (1.0 + p.wear_lube_starved * lube) * (1.0 - condition.bushing),
        lining=_lining_rate(plant, condition, work, use, plates) * pressed,
        char=(sliding * friction.char_rate(plates, condition.char)).sum(-2, keepdims=True) * pressed,
        seal=(per_point * aging).sum(-2, keepdims=True)
        / p.wear_seal_life[..., None]
        * (1.0 - condition.seal)
        * pressed,
        holding=((p.wear_one_way + p.wear_shock)[..., None]) * (1.0 - condition.holding) * ~pressed,
    )
