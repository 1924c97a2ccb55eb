"""What an electronic controller believes of its vehicle, from sensors, switches and messages, and from nothing else.

n vehicles, m operating points. What no sensor of the unit tells is taken as the data file's engineers would: a hot fluid, the
lever where it stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics import sensing
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.control_tables import control_of, control_tables, sensor_that
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.vehicle_batch import Vehicles
from course_lib.vehicle.wiring import HALF, WireResistances

DEFAULT = units.from_fahrenheit(194.0)  # K, taken for the fluid where its sensor is not believed
SUPPLY, PULL_UP = 5.0, 1000.0  # V and ohm, behind which the thermistor hangs
HALL_SUPPLY, HALL_OUTPUT = 9.0, 1000.0  # V, and ohm of what pulls its output down
LOW_FROM, LOW_TO = 1.5, 2.5  # V of the low level between which a square wave is no longer seen
INDUCTIVE = (
    5.0 / units.from_rpm(1000.0),
    1e-3,
    2e-3,
)  # 5 V peak to peak per 1000 rpm at 1 mm, 1/e each 2 mm more
SEEN_FROM, SEEN_TO = 0.2, 0.4  # V peak to peak between which an inductive sensor begins to be seen
HUM = 250.0  # Hz of what a disturbed line brings
DIES_WITHIN = 3.0  # K on either side of the heat at which a sensor dies
BROKEN = 1e4  # ohm in a signal wire, past which nothing comes through
ASTRAY = 0.06  # rad off its mark, past which a lever's sensor shows no lever


@dataclass(frozen=True, slots=True, kw_only=True)
class Beliefs:
    """What the controller believes, (n, m); of speeds how much of the time it sees them."""

    temperature: Array  # K
    fluid_volts: Array  # V
    road_speed: Array  # m/s, from the output sensor
    wheel_speed: Array  # m/s, by message, NaN where none comes
    output_seen: Array
    turbine_seen: Array
    lever: Places  # -1 a pattern that none gives
    brake_on: Flags


def beliefs(vehicles: Vehicles, op: Operation, temperature: Array, wires: WireResistances) -> Beliefs:
    """What is believed at each point; temperature [K]: the true one of the sump."""
    shape = temperature.shape
    believed, volts = _fluid(vehicles, op, temperature, wires)
    road, seen = _output(vehicles, op, wires)
    return Beliefs(
        temperature=np.broadcast_to(believed, shape).astype(vehicles.dtype),
        fluid_volts=np.broadcast_to(volts, shape).astype(vehicles.dtype),
        road_speed=np.broadcast_to(road, shape).astype(vehicles.dtype),
        wheel_speed=np.broadcast_to(_wheels(vehicles, op), shape).astype(vehicles.dtype),
        output_seen=np.broadcast_to(seen, shape).astype(vehicles.dtype),
        turbine_seen=np.broadcast_to(_turbine_seen(vehicles, temperature, wires), shape).astype(
            vehicles.dtype
        ),
        lever=np.broadcast_to(_lever(vehicles, op, wires), shape),
        brake_on=np.broadcast_to(_brake(vehicles, op, wires), shape),
    )


def shown_share(vehicles: Vehicles) -> Array:
    """Road speed that the controller counts, as a share of the true one, (n, 1): teeth that are missing, tires as entered."""
    p, found = vehicles.p, sensor_that(vehicles.unit, "output_speed")
    shown: Array = 1.0 / p.control_tire_scale
    if found is not None:
        own, short = p.sensor_teeth[..., found[0]], p.sensor_teeth_short[..., found[0]]
        shown = shown * (1.0 - sensing.missing_tooth(np.maximum(own, 1.0), short))
    return shown


def _line(vehicles: Vehicles, wires: WireResistances, names: tuple[str, ...]) -> Array:
    """Resistance [ohm] of some wires in a row, (n, .)."""
    return wires.of(_places(vehicles.unit, names))


@cache  # asked for at every step of a life
def _places(unit: UnitSpec, names: tuple[str, ...]) -> Places:
    """Places of some wires on the wire axis."""
    ids = control_of(unit).wire_ids
    return np.array([ids.index(name) for name in names], int)


def _fluid(
    vehicles: Vehicles, op: Operation, temperature: Array, wires: WireResistances
) -> tuple[Array, Array]:
    """Temperature [K] that is believed, and volts at the pin; water across the thermistor leaks where it is wet."""
    found = sensor_that(vehicles.unit, "fluid_temperature")
    if found is None:
        return np.full_like(temperature, DEFAULT), np.full_like(temperature, np.nan)
    p, (place, sensor) = vehicles.p, found
    ohms = sensing.thermistor_resistance(
        temperature, p.sensor_resistance[..., place] * p.sensor_scale[..., place], p.sensor_beta[..., place]
    )
    series, leak = _line(vehicles, wires, sensor.wires), p.sensor_leak[..., place] * op.wet
    volts = np.asarray(sensing.divider_voltage(sensing.seen_resistance(ohms, series, leak), SUPPLY, PULL_UP))
    return sensed_temperature(vehicles.unit, volts), volts


def sensed_temperature(unit: UnitSpec, fluid_volts: Array) -> Array:
    """What the fluid's sensor says by the volts at its pin [K], whatever the controller makes of it; NaN without a sensor."""
    found = sensor_that(unit, "fluid_temperature")
    if found is None:
        return np.full_like(fluid_volts, np.nan)
    nominal = control_tables(unit).nominal
    law = (nominal[f"sensor_{name}"][0, 0, found[0]] for name in ("resistance", "beta"))
    return sensing.believed_temperature(fluid_volts, SUPPLY, PULL_UP, *law)


def _output(vehicles: Vehicles, op: Operation, wires: WireResistances) -> tuple[Array, Array]:
    """Road speed [m/s] from the output sensor, and share of the time in which it is seen."""
    found = sensor_that(vehicles.unit, "output_speed")
    if found is None:
        return np.zeros(op.road_speed.shape), np.zeros(op.road_speed.shape)
    p, (place, sensor) = vehicles.p, found
    shaft = op.road_speed / p.vehicle_tire_radius * p.vehicle_axle
    whole = _line(vehicles, wires, sensor.wires) < BROKEN
    volts = sensing.inductive_amplitude(shaft, p.sensor_gap[..., place], *INDUCTIVE)
    seen = smooth_step(volts, SEEN_FROM, SEEN_TO) * whole
    noise = p.sensor_noise[..., place]
    hum = (noise > SEEN_TO) & (noise > volts) & whole
    false = 2.0 * np.pi * HUM / np.maximum(p.sensor_teeth[..., place], 1.0)
    false = false / p.vehicle_axle * p.vehicle_tire_radius / p.control_tire_scale
    road = np.where(seen > HALF, op.road_speed * shown_share(vehicles), 0.0)
    return np.where(hum, false, road), np.where(hum, 1.0, seen)


def _turbine_seen(vehicles: Vehicles, temperature: Array, wires: WireResistances) -> Array:
    """Share of the time in which the turbine's square wave is seen: low enough where it should be, and alive."""
    found = sensor_that(vehicles.unit, "turbine_speed")
    if found is None:
        return np.zeros_like(temperature)
    p, (place, sensor) = vehicles.p, found
    film = p.wire_leak[..., _places(vehicles.unit, sensor.wires)].sum(-1)
    low = p.sensor_low_level[..., place] + HALL_SUPPLY * film * HALL_OUTPUT / (1.0 + film * HALL_OUTPUT)
    dies = smooth_step(temperature - p.sensor_dies_above[..., place], -DIES_WITHIN, DIES_WITHIN)
    whole = _line(vehicles, wires, sensor.wires) < BROKEN
    seen: Array = (1.0 - smooth_step(low, LOW_FROM, LOW_TO)) * (1.0 - dies) * whole
    return seen


def _wheels(vehicles: Vehicles, op: Operation) -> Array:
    """Road speed [m/s] by the message of the brake module, NaN where it is silent or the unit has none."""
    if sensor_that(vehicles.unit, "wheels") is None:
        return np.full(op.road_speed.shape, np.nan)
    p = vehicles.p
    return np.where(p.bus_wheels_silent > HALF, np.nan, op.road_speed * (1.0 + p.bus_wheel_spread))


def _lever(vehicles: Vehicles, op: Operation, wires: WireResistances) -> Places:
    """The lever that is seen, in the order of the unit; -1 where the contacts make no pattern that a lever gives."""
    unit, found = vehicles.unit, sensor_that(vehicles.unit, "lever")
    true = np.array([list(unit.levers).index(lever) for lever in op.lever])
    if found is None or not found[1].patterns:
        return true
    place, sensor = found
    parted = wires.each(_places(unit, sensor.wires)) > BROKEN
    closed = np.array([[mark == "1" for mark in sensor.patterns[lever]] for lever in op.lever])
    lost = (parted & closed).any(-1) | (np.abs(vehicles.p.sensor_offset[..., place]) > ASTRAY)
    return np.where(lost, -1, true)


def _brake(vehicles: Vehicles, op: Operation, wires: WireResistances) -> Flags:
    """Whether the wire of the brake switch says that the brake is on: it is while standing with the pedal released."""
    found = sensor_that(vehicles.unit, "brake")
    pressed: Flags = (op.road_speed == 0.0) & (op.throttle == 0.0)
    if found is None:
        return pressed
    place, sensor = found
    whole = _line(vehicles, wires, sensor.wires) < BROKEN
    on: Flags = (pressed | (vehicles.p.sensor_stuck[..., place] > HALF)) & whole
    return on
