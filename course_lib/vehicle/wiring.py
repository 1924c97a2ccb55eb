"""The wires of an electronic control: how much each resists, the reduced circuit that lives are made of, and which contacts open.

n vehicles, m operating points, W wires, S solenoids, F feeds. A wire has its resistance from copper and contacts; parted, it has
none that counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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
    every = np.arange(vehicles.p.wire_opens_above.shape[-1])
    shares: Array = moments + (1.0 - moments) * parted(vehicles, temperature, every)
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


def parted(vehicles: Vehicles, temperature: Array, columns: Places) -> Array:
    """Share of time in which the contacts of some wires are parted by heat, (n, m, columns)."""
    away = temperature[..., None] - vehicles.p.wire_opens_above[..., columns]
    shares: Array = smooth_step(away, -HEAT_SPREAD, HEAT_SPREAD)
    return shares


@dataclass(frozen=True, slots=True)
class WireResistances:
    """Resistance of the wires of a batch with their contacts: whole (n, 1, W) ohm, and more (n, m, columns) of those wires that
    part by heat at some point. A contact that is open for moments only counts as closed."""

    whole: Array
    more: Array
    columns: Places

    def of(self, wires: Places | Flags) -> Array:
        """Of some wires in a row, (n, 1) or (n, m)."""
        total: Array = self.whole[..., wires].sum(-1)
        return total if not len(self.columns) else total + self.more @ self._weights(wires)

    def each(self, wires: Places) -> Array:
        """Of some wires one by one, (n, 1, wires) or (n, m, wires)."""
        return np.stack([self.of(np.array([wire])) for wire in wires], -1)

    def rows(self, lines: Array) -> Array:
        """Of several rows of wires, (n, 1, rows) or (n, m, rows); lines (rows, W): 1 for what is in each."""
        total: Array = self.whole @ lines.T.astype(self.whole.dtype)
        return (
            total
            if not len(self.columns)
            else total + self.more @ lines[:, self.columns].T.astype(total.dtype)
        )

    def _weights(self, wires: Places | Flags) -> Array:
        """Which of the columns are among some wires, 0 or 1."""
        among = np.zeros(self.whole.shape[-1], self.whole.dtype)
        among[wires] = 1.0
        return among[self.columns]


def wire_resistances(vehicles: Vehicles, temperature: Array) -> WireResistances:
    """The wires at operating points in a sump of `temperature` (n, m) K."""
    p, hottest = vehicles.p, float(temperature.max()) + HEAT_SPREAD
    copper = wire_resistance(p.wire_length, p.wire_section, ENGINE_BAY)
    whole = copper / np.maximum(1.0 - p.wire_open, LEAST_LEFT) + p.wire_contact
    columns = np.flatnonzero((p.wire_opens_above < hottest).any((0, 1)))
    open_ = parted(vehicles, temperature, columns) > OFTEN_OPEN
    kept = np.minimum(whole, PARTED).astype(vehicles.dtype)
    return WireResistances(kept, (open_ * PARTED).astype(vehicles.dtype), columns)


def first_contacts(vehicles: Vehicles) -> Array:
    """Resistance [ohm] at the first pin of each wire, where a bad contact lies; its other pins are sound, (n, 1, W)."""
    others = reduced_wires(vehicles.unit).others.astype(vehicles.dtype)
    first: Array = np.maximum(vehicles.p.wire_contact - others, 0.0)
    return first


def coil_resistances(vehicles: Vehicles, temperature: Array) -> Array:
    """Resistance [ohm] of the coil at the end of each solenoid's wires, as warm as the sump, (n, m, S); parted if too hot."""
    p, warm = vehicles.p, temperature[..., None]
    ohms = np.asarray(copper_resistance(plugged(vehicles, p.solenoid_coil), warm))
    if float(temperature.max()) <= p.solenoid_opens_above.min():
        return ohms
    return np.where(warm > plugged(vehicles, p.solenoid_opens_above), PARTED, ohms).astype(ohms.dtype)


def plugged(vehicles: Vehicles, value: Array) -> Array:
    """What belongs to each solenoid, (..., S), by the plug it hangs on, and the other way round."""
    swapped = vehicles.p.control_plugs_swapped > HALF
    if not swapped.any():
        return value
    other = value.take(control_tables(vehicles.unit).exchanged, -1)
    return np.where(swapped[..., None], other, value)


def leaks(vehicles: Vehicles, twist: Array) -> Array:
    """Conductance [S] from each wire to body or case, (n, m, W); twist (n, m): share of full torque that lifts the unit."""
    return _leak(vehicles, twist, np.eye(vehicles.p.wire_leak.shape[-1], dtype=vehicles.dtype))


def leak_of(vehicles: Vehicles, twist: Array, wires: Sequence[str]) -> Array:
    """The same of some wires together, (n, m)."""
    own = np.isin(control_of(vehicles.unit).wire_ids, list(wires))
    return _leak(vehicles, twist, own[:, None].astype(vehicles.dtype))[..., 0]


def _leak(vehicles: Vehicles, twist: Array, lines: Array) -> Array:
    """The same of rows of wires; lines (W, rows): 1 for what is in each."""
    p, leaking = vehicles.p, vehicles.p.wire_leak @ lines
    if p.wire_rub.any():
        leaking = leaking + (p.wire_rub @ lines) * smooth_step(twist, RUB_FROM, RUB_TO)[..., None]
    return leaking


# ---------------------------------------------------------------------- the reduced circuit
def reduced(
    vehicles: Vehicles, temperature: Array, each: WireResistances, twist: Array
) -> tuple[Coils, PowerSupply]:
    """The circuit of the solenoids as `physics.network.regulated_currents` takes it, with the relay closed.

    temperature [K] of the sump; each: `wire_resistances`; twist: share of full torque that lifts the unit.
    """
    p, wires, kind = vehicles.p, reduced_wires(vehicles.unit), vehicles.dtype
    sums = {name: each.of(getattr(wires, name)) for name in ("source", "relay", "base", "ground")}
    driver = np.where(p.solenoid_driver_dead > HALF, PARTED, p.control_driver[..., None]).astype(kind)
    plug = first_contacts(vehicles) @ wires.outer.T.astype(kind)
    coils = Coils(  # a rubbed wire leaks behind its first pin, on the harness' side of the plug
        coil=coil_resistances(vehicles, temperature) + (each.rows(wires.inner) + plug),
        wire=each.rows(wires.outer) + (driver - plug),
        leak=_leak(vehicles, twist, (wires.inner + wires.outer).T.astype(kind)),
        feed=wires.feed_of,
    )
    supply = PowerSupply(
        battery=p.supply_charge,
        source=p.supply_resistance + sums["source"],
        relay=sums["relay"],
        feeds=each.each(wires.feeds),
        ground=sums["ground"],
        base=p.control_load + sums["base"],
    )
    return coils, supply
