"""The wires of an electronic control: how much each resists, the reduced circuit that lives are made of, and which contacts open.

n vehicles, m operating points, W wires, S solenoids, F feeds. A wire has its resistance from copper and contacts; parted, it has
none that counts.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics.copper import copper_resistance, wire_resistance
from course_lib.physics.loose_contact import ContactWeakness, open_share
from course_lib.physics.network import Coils, PowerSupply
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.control_spec import BATTERY, CONTROLLER, CONTROLLER_GROUND, MINUS, Control
from course_lib.vehicle.control_tables import control_of, control_tables
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.vehicle_batch import HOT, Vehicles

ENGINE_BAY = units.from_fahrenheit(140.0)  # K, harness and controller while driving
LEAST_LEFT = 1e-9  # share of a parted wire that is left, so that nothing divides by zero
RUB_FROM, RUB_TO = (
    0.1,
    0.5,
)  # share of full torque between which a lifting unit brings a rubbed wire to the case
PULL_DOWN = 1e-5  # S, with which the controller holds its pins while the driver is off: 100 kohm (invented)
HEAT_SPREAD = 4.0  # K on either side between which a contact that parts by heat does so
OFTEN_OPEN = 0.5  # share of time open, past which a contact counts as open for good
PARTED = 1e7  # ohm, of what is open
PIN = 0.005  # ohm of a sound pin
HALF = 0.5  # past it a yes-or-no entry says yes


class Wires(NamedTuple):
    """Which wires make the reduced circuit, (W,) flags, and places."""

    source: Flags  # from the battery, for solenoids and controller alike
    relay: Flags  # on to the splice
    base: Flags  # on to the controller
    ground: Flags  # controller to battery
    feeds: Places  # (F,) wire of each feed
    feed_of: Places  # (S,) feed of each solenoid
    inner: Array  # (S, W) 1 for what lies between a coil and the case plug
    outer: Array  # (S, W) 1 for what lies between that plug and the driver
    others: Array  # (W,) ohm of its pins behind the first


@cache
def reduced_wires(unit: UnitSpec) -> Wires:
    """The wires of the reduced circuit of a unit. Raises ValueError where no wires lead from battery to controller and back."""
    control = control_of(unit)
    ids = control.wire_ids
    feeds = tuple(dict.fromkeys(solenoid.feed for solenoid in control.solenoids))
    to_splice = _way(control, control.wires[ids.index(feeds[0])].ends[0], BATTERY)
    to_controller = _way(control, CONTROLLER, BATTERY)
    inner, outer = (np.zeros((len(control.solenoids), len(ids))) for _ in range(2))
    for row, solenoid in enumerate(control.solenoids):
        plugged = False
        for name in solenoid.wires:
            wire = ids.index(name)
            plugged |= bool(control.wires[wire].pins)
            (outer if plugged else inner)[row, wire] = 1.0
    return Wires(
        source=np.isin(ids, list(to_splice & to_controller)),
        relay=np.isin(ids, list(to_splice - to_controller)),
        base=np.isin(ids, list(to_controller - to_splice)),
        ground=np.isin(ids, list(_way(control, MINUS, CONTROLLER_GROUND))),
        feeds=np.array([ids.index(name) for name in feeds]),
        feed_of=np.array([feeds.index(solenoid.feed) for solenoid in control.solenoids]),
        inner=inner,
        outer=outer,
        others=np.array([PIN * max(len(wire.pins) - 1, 0) for wire in control.wires]),
    )


def _way(control: Control, node: str, start: str) -> set[str]:
    """The wires that lead from `start` to a node, each from its first end to its second."""
    way = _back(control, node, start)
    if way is None:
        raise ValueError(f"wires must lead from {start} to {node}, found no way. Add what is missing.")
    return set(way)


def _back(control: Control, node: str, start: str) -> tuple[str, ...] | None:
    """The same from the node backward; None where there is no way."""
    if node == start:
        return ()
    for wire in control.wires:
        if wire.ends[1] == node and wire.path in ("supply", "ground"):
            before = _back(control, wire.ends[0], start)
            if before is not None:
                return (*before, wire.id)
    return None


# ---------------------------------------------------------------------- single wires
def open_shares(vehicles: Vehicles, op: Operation, temperature: Array) -> Array:
    """Share of time in which each wire is open: for moments, shaken or wet, or for as long as it is hot, (n, m, W)."""
    moments = now_and_then(vehicles, op)
    shares: Array = moments + (1.0 - moments) * parted(vehicles, temperature)
    return shares


def now_and_then(vehicles: Vehicles, op: Operation) -> Array:
    """Share of time in which a contact is open for moments, (n, m, W)."""
    p = vehicles.p
    shares = np.zeros((len(p.wire_shake), len(op.lever), p.wire_shake.shape[-1]), vehicles.dtype)
    weak = np.flatnonzero((p.wire_shake + p.wire_wet).any((0, 1)))
    if len(weak):
        contact = ContactWeakness(p.wire_shake[..., weak], 0.0, p.wire_wet[..., weak])
        shares[..., weak] = open_share(contact, op.shake[:, None], HOT, op.wet[:, None])
    return shares


def parted(vehicles: Vehicles, temperature: Array) -> Array:
    """Share of time in which a contact is parted by heat, (n, m, W)."""
    away = temperature[..., None] - vehicles.p.wire_opens_above
    shares: Array = smooth_step(away, -HEAT_SPREAD, HEAT_SPREAD)
    return shares


def wire_resistances(vehicles: Vehicles, temperature: Array) -> Array:
    """Resistance [ohm] of each wire with its contacts, (n, 1, W), or (n, m, W) where one parts by heat.

    A contact that is open for moments only counts as closed.
    """
    whole = copper_resistances(vehicles, temperature) + vehicles.p.wire_contact
    resistances: Array = np.minimum(whole, PARTED).astype(vehicles.dtype)
    return resistances


def copper_resistances(vehicles: Vehicles, temperature: Array) -> Array:
    """Of these, the copper alone, in which a wire parts."""
    p = vehicles.p
    copper = wire_resistance(p.wire_length, p.wire_section, ENGINE_BAY)
    whole = copper / np.maximum(1.0 - p.wire_open, LEAST_LEFT)
    if float(p.wire_opens_above.min()) < float(temperature.max()) + HEAT_SPREAD:
        whole = whole / np.where(parted(vehicles, temperature) > OFTEN_OPEN, LEAST_LEFT, 1.0)
    return np.asarray(whole)


def first_contacts(vehicles: Vehicles) -> Array:
    """Resistance [ohm] at the first pin of each wire, where a bad contact lies; its other pins are sound, (n, 1, W)."""
    others = reduced_wires(vehicles.unit).others.astype(vehicles.dtype)
    first: Array = np.maximum(vehicles.p.wire_contact - others, 0.0)
    return first


def coil_resistances(vehicles: Vehicles, temperature: Array) -> Array:
    """Resistance [ohm] of the coil at the end of each solenoid's wires, as warm as the sump, (n, m, S)."""
    coil = plugged(vehicles, vehicles.p.solenoid_coil)
    return np.asarray(copper_resistance(coil, temperature[..., None]))


def plugged(vehicles: Vehicles, value: Array) -> Array:
    """What belongs to each solenoid, (..., S), by the plug it hangs on, and the other way round."""
    swapped = vehicles.p.control_plugs_swapped > HALF
    if not swapped.any():
        return value
    other = value.take(control_tables(vehicles.unit).exchanged, -1)
    return np.where(swapped[..., None], other, value)


def leaks(vehicles: Vehicles, twist: Array) -> Array:
    """Conductance [S] from each wire to body or case, (n, m, W); twist (n, m): share of full torque that lifts the unit."""
    p = vehicles.p
    if not p.wire_rub.any():
        return p.wire_leak
    touches = smooth_step(twist, RUB_FROM, RUB_TO)[..., None]
    leaking: Array = p.wire_leak + p.wire_rub * touches
    return leaking


# ---------------------------------------------------------------------- the reduced circuit
def reduced(vehicles: Vehicles, temperature: Array, each: Array, twist: Array) -> tuple[Coils, PowerSupply]:
    """The circuit of the solenoids as `physics.network.regulated_currents` takes it, with the relay closed.

    temperature [K] of the sump; each: `wire_resistances`; twist: share of full torque that lifts the unit.
    """
    p, wires = vehicles.p, reduced_wires(vehicles.unit)
    sums = {name: _sum(each, getattr(wires, name)) for name in ("source", "relay", "base", "ground")}
    driver = np.where(p.solenoid_driver_dead > HALF, PARTED, p.control_driver[..., None])
    inner, outer = (x.T.astype(each.dtype) for x in (wires.inner, wires.outer))
    plug = first_contacts(vehicles) @ outer
    coils = Coils(  # a rubbed wire leaks behind its first pin, on the harness' side of the plug
        coil=coil_resistances(vehicles, temperature) + each @ inner + plug,
        wire=(each @ outer - plug + driver).astype(each.dtype),
        leak=leaks(vehicles, twist) @ (inner + outer),
        feed=wires.feed_of,
    )
    supply = PowerSupply(
        battery=p.supply_charge,
        source=p.supply_resistance + sums["source"],
        relay=sums["relay"],
        feeds=each[..., wires.feeds],
        ground=sums["ground"],
        base=p.control_load + sums["base"],
    )
    return coils, supply


def _sum(each: Array, which: Flags) -> Array:
    """Resistance of some of the wires in a row."""
    total: Array = each[..., which].sum(-1)
    return total
