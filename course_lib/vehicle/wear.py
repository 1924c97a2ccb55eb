"""How fast a vehicle wears, heats its plates, ages its fluid and seals, and loses fluid: rates per meter driven."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics import fluid, friction
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.duty_cycle import DutyCycle
from course_lib.vehicle.memory import no_memory
from course_lib.vehicle.operating_point import Condition, Workings
from course_lib.vehicle.plant import Plant

SEAL_REFERENCE = 363.15  # K, 90 C
SEAL_HALVING = 11.0  # K; a reaction-rate rule of thumb, common practice, no source
LUBE_FLOW = 4e-5  # m3/s of cooler return that keeps every bushing wet; half a quart in 12 s, fitted
HOTTEST_PLATE = (
    580.0  # K; a lining that hot has lost its grip and takes up no more heat; steels blue at 570 to 600 F
)
MOST_PAST = 150.0  # K past it, which a slide burns as fast as any
ROCKING_SUMP = 370.0  # K
DRY = 3.0  # a pack that should be free is not flooded: what drags in it gets so many times as hot as what slips, fitted
SPOT_HEAT, SPOT_WEAR = 4.0, 30.0  # steels all spots: the heat of a slide sits on so much less of them
GRABS_WEAR = 20.0  # linings in fluid that grabs and lets go by turns wear so many times as fast besides
SOAKED_WEAR = 12.0  # soaked paper goes so many times as fast besides
BEARS_BUMP = 9.0  # torque at lock-up beyond the load that drums, clips and rollers bear for life
DEBRIS_WEAR = 20.0  # wear of pins and bushings in old debris, against clean fluid
DEBRIS_IN_PUMP = 8.0  # and of the pump, behind its filter
PUMP_OFFSET, BUSHING_OFFSET = 2e-5, 1.2e-5  # m off center that doubles the wear of pump and bushing
BACKED = 0.25  # share of a blow that reaches rollers with an applied clutch beside them, whose plates give way first
DRIVELINE_SHOCK = 0.15  # shocks that break rollers, as they reach the joints
# What is worn goes on by itself: grit in its own gap, play that hammers, cracks that run. Sound vehicles stay below the least.
GROWS_OVER = 20_000 * units.MILE  # m that the rates below are for, fitted
PIN_GROWS, BUSHING_GROWS, JOINT_GROWS = (3.0, 0.25), (3.0, 0.4), (3.0, 0.3)  # rate, and the least wear
FLAKES = (3.0, 0.30)  # charred paper has lost its resin: as it flakes, the layer below is bared and goes too
PUMP_SCORES, HUB_RUBS, SCORED = (
    1.5,
    2.0,
    0.5,
)  # pump faces scored by themselves, and by a hub that its bushing lets wander
CRACK_GROWS, CRACK_LEAST = 2.2e-4, 0.3  # of a crack each stop, and the least that runs on, fitted


def plate_temperature(plant: Plant, work: Workings, power: Array, energy: Array, spell: Array) -> Array:
    """Hottest plate temperature [K] at each point: sump, a slide as long as the spell [s], and the heat of one engagement."""
    hottest: Array = np.minimum(_heated(plant, work, power, energy, spell), HOTTEST_PLATE)
    return hottest


def _heated(plant: Plant, work: Workings, power: Array, energy: Array, spell: Array) -> Array:
    """The same as hot as the plates would get if they took up heat without end."""
    p = plant.p
    if_pressed = p.element_thermal_resistance > 0
    constant = np.where(if_pressed, p.element_thermal_resistance * p.element_thermal_capacity, 1.0)
    slide = p.element_thermal_resistance * power * (1.0 - np.exp(-spell[..., None] / constant))
    spots = 1.0 + SPOT_HEAT * p.element_hot_spots
    heated = (slide + energy / p.element_thermal_capacity) * spots
    dragged = DRY * p.element_thermal_resistance * work.drag_power
    hottest: Array = work.temperature[..., None] + heated + dragged
    return hottest


def _rubbed(plant: Plant, work: Workings) -> Array:
    """Slip power [W] that goes into linings: where the splines behind an element give way first, its teeth take it."""
    return np.where(work.capacity < plant.p.element_splines, work.slip_power, 0.0)


def _lining_rate(
    plant: Plant, condition: Condition, work: Workings, stops: Array, per_point: Array, plates: Array
) -> Array:
    """Lining lost per face and meter (n, 1, E): by slides, by the engagements of every stop, where water has soaked it, and where
    it is charred so far that it flakes."""
    p = plant.p
    area = p.element_rub_area * p.element_faces
    rate = friction.sliding_wear_depth_rate(1.0, area, p.wear_coefficient[..., None], plates, condition.char)
    used = per_point * (work.shift_heat > 0)
    heat = (rate * work.shift_heat * used).sum(-2, keepdims=True) / (used.sum(-2, keepdims=True) + 1e-12)
    slides = (per_point * rate * (_rubbed(plant, work) + work.drag_power)).sum(-2, keepdims=True)
    left = 1.0 - smooth_step(condition.lining, 0.95 * p.element_lining, p.element_lining)
    soft = 1.0 + GRABS_WEAR * p.fluid_judder[..., None] + SPOT_WEAR * p.element_hot_spots
    soft = soft + SOAKED_WEAR * condition.soaked
    flakes = _grows(condition.char, *FLAKES) * p.element_lining
    engaged = stops[..., None] * p.element_shifts * p.element_engage_wear * heat
    lost: Array = ((slides + engaged) * soft + flakes) * left
    return lost


def _char_rate(plant: Plant, condition: Condition, work: Workings, per_point: Array, heated: Array) -> Array:
    """Char of the linings per meter (n, 1, E): sliding or dragging plates too hot, spells of rocking, and by itself.

    A slide with more power than plates can take up burns them the faster, twice as fast each 1 / `wear_char_climb` kelvins.
    """
    p, plates = plant.p, np.minimum(heated, HOTTEST_PLATE)
    hot = ((_rubbed(plant, work) + work.drag_power) > 0) * per_point
    if p.wear_char_climb.any():
        hot = hot * np.exp2(p.wear_char_climb[..., None] * np.minimum(heated - plates, MOST_PAST))
    slid = (hot * friction.char_rate(plates, condition.char)).sum(-2, keepdims=True)
    rocked = np.minimum(
        ROCKING_SUMP + p.wear_rock_energy[..., None] / p.element_thermal_capacity, HOTTEST_PLATE
    )
    spell = p.wear_rock_time * p.use_rocks
    spells = spell[..., None] * plant.rocked * friction.char_rate(rocked, condition.char)
    charred: Array = slid + spells + _feeds_itself(condition.char, *FLAKES)
    return charred


def _shock(plant: Plant, work: Workings, per_point: Array, stops: Array) -> tuple[Array, Array]:
    """Shocks per meter of elements that come on harder than parts bear (n, 1, E), and the worst of them (n, 1)."""
    p = plant.p
    used = per_point * (work.delay > 0)
    over = np.maximum(work.bump - BEARS_BUMP, 0.0)
    mean = (over * used).sum(-2, keepdims=True) / (used.sum(-2, keepdims=True) + 1e-12)
    each = stops[..., None] * p.element_shifts * mean
    return p.wear_bump[..., None] * each, (p.wear_bump * each.max(-1))


def wear_rates(plant: Plant, condition: Condition, work: Workings, use: DutyCycle) -> Condition:
    """How fast each entry of `condition` changes, per meter; what is remembered is no matter of wear."""
    p = plant.p
    seconds, stops = use.spent(p.use_stops, p.use_standing).astype(plant.dtype), use.stops * p.use_stops
    per_point = seconds[..., None]
    rubbed = _rubbed(plant, work)
    heated = _heated(plant, work, rubbed, work.shift_heat, use.spell.astype(plant.dtype))
    plates = np.minimum(heated, HOTTEST_PLATE)
    bumps, worst = _shock(plant, work, per_point, stops)
    pressed = ~plant.is_one_way
    blows = p.wear_shock[..., None] * np.where(plant.backed, BACKED, 1.0)
    dry = (p.wear_dry * p.use_dry_tow)[..., None] * plant.towed
    hit = (p.wear_one_way[..., None] + dry + blows) * ~pressed
    hot = np.maximum(work.lockup_power - p.control_lockup_bears, 0.0)
    charred = (seconds * hot).sum(-1, keepdims=True) / p.lockup_life
    return Condition(
        oxidation=_aging_rate(plant, condition, work, seconds, use),
        lost=p.leak_outside + p.leak_front + p.leak_pan + p.leak_selector + p.leak_line + p.leak_engine_draws,
        **_metal_rates(plant, condition, work, seconds),
        lockup=charred * (1.0 - condition.lockup),
        driveline=(worst + p.wear_shock * DRIVELINE_SHOCK) * (1.0 - condition.driveline)
        + _feeds_itself(condition.driveline, *JOINT_GROWS),
        lining=_lining_rate(plant, condition, work, stops, per_point, plates) * pressed,
        char=_char_rate(plant, condition, work, per_point, heated) * pressed,
        seal=_seal_rate(plant, condition, work, per_point) * pressed,
        holding=(bumps + p.element_shock + hit) * (1.0 - condition.holding)
        + CRACK_GROWS * stops[..., None] * _past(condition.holding, CRACK_LEAST) * (1.0 - condition.holding),
        soaked=(p.wear_soak * np.minimum(p.fluid_water / 0.02, 2.0))[..., None]
        * pressed
        * (1.0 - condition.soaked),
        memory=no_memory(len(seconds)),
    )


def _aging_rate(plant: Plant, condition: Condition, work: Workings, seconds: Array, use: DutyCycle) -> Array:
    """Oxidation of the fluid per meter, by heat and air, less what a fluid change takes away."""
    p = plant.p
    aged = p.fluid_aging * (seconds * fluid.oxidation_rate(work.temperature, work.air_time)).sum(
        -1, keepdims=True
    )
    rate: Array = aged - use.services * p.fluid_service * condition.oxidation
    return rate


def _past(wear: Array, least: float) -> Array:
    """Wear beyond what a part bears without harm."""
    past: Array = np.maximum(wear - least, 0.0)
    return past


def _grows(wear: Array, rate: float, least: float) -> Array:
    """Growth per meter of what goes on by itself from `least` on."""
    return rate / GROWS_OVER * _past(wear, least)


def _feeds_itself(wear: Array, rate: float, least: float) -> Array:
    """Growth per meter of wear that makes its own grit and play, from `least` on and up to ruin."""
    return _grows(wear, rate, least) * (1.0 - wear)


def _metal_rates(plant: Plant, condition: Condition, work: Workings, seconds: Array) -> dict[str, Array]:
    """Wear of pump, bushings and planet pins per meter: air, grit, a hub off center, and want of lubrication."""
    p, total = plant.p, seconds.sum(-1, keepdims=True)
    air = (seconds * work.air_time).sum(-1, keepdims=True) / total
    returned = (seconds * work.cooler_flow).sum(-1, keepdims=True) / total
    starved = 1.0 + p.wear_lube_starved * (1.0 - np.clip(returned / LUBE_FLOW, 0.0, 1.0))
    grit, dry = 1.0 + DEBRIS_WEAR * p.wear_debris, p.wear_dry * p.use_dry_tow
    pump, bushing = 1.0 + p.pump_offset / PUMP_OFFSET, 1.0 + p.pump_offset / BUSHING_OFFSET
    return {
        "pump": p.pump_wear
        * p.pump_grit
        * (1.0 + p.wear_aerated * air)
        * (1.0 + DEBRIS_IN_PUMP * p.wear_debris)
        * pump
        + (PUMP_SCORES * _past(condition.pump, SCORED) + HUB_RUBS * _past(condition.bushing, SCORED))
        / GROWS_OVER,
        "bushing": (p.wear_bushing * starved**2 * grit * bushing + dry) * (1.0 - condition.bushing)
        + _feeds_itself(condition.bushing, *BUSHING_GROWS),
        "planetary": (p.wear_planet * starved**2 * grit + dry) * (1.0 - condition.planetary)
        + _feeds_itself(condition.planetary, *PIN_GROWS),
    }


def _seal_rate(plant: Plant, condition: Condition, work: Workings, per_point: Array) -> Array:
    """Hardening of the piston lips per meter (n, 1, E): heat, and faster in worn-out fluid."""
    p = plant.p
    aging = 2.0 ** ((work.temperature - SEAL_REFERENCE) / SEAL_HALVING)
    aging = (per_point[..., 0] * aging).sum(-1, keepdims=True)[..., None] * 2.0 ** (
        p.element_drum_heat / SEAL_HALVING
    )
    acid = 1.0 + p.wear_seal_oxidized * condition.oxidation
    hardens: Array = aging * acid[..., None] / p.wear_seal_life[..., None] * (1.0 - condition.seal)
    return hardens
