"""The whole wiring of an electronic control, node by node: what a meter finds between any two of them.

Nodes are the ends of the wires as the unit names them, and between them the pins of the plugs, "X1:6": the harness side of pin 6
of plug X1. Of a wire with pins the first end lies before the first pin, the second end after the last: of a return wire, on the
solenoid's side of the case plug, and inside the controller. n vehicles, m operating points, B branches, N nodes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Places
from course_lib.physics.network import branch_currents, node_voltages
from course_lib.physics.sensing import thermistor_resistance
from course_lib.vehicle.command import Electric
from course_lib.vehicle.control_spec import BATTERY, BODY, CASE, CONTROLLER, CONTROLLER_GROUND, MINUS, Wire
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.electronic_controls import ElectronicControls
from course_lib.vehicle.operating_point import Operation
from course_lib.vehicle.unit_spec import UnitSpec
from course_lib.vehicle.vehicle_batch import Vehicles
from course_lib.vehicle.wiring import (
    HALF,
    PARTED,
    PIN,
    coil_resistances,
    first_contacts,
    leaks,
    reduced_wires,
    wire_resistances,
)

LEAST = 1e-4  # ohm of a pin, so that nothing divides by zero
CLOSED = 0.5  # ohm of a closed switch
TEST_CURRENT = 1e-3  # A that an ohmmeter sends
DRIVEN = 1e-6  # A through a driver, under which it does nothing
POWER = ("supply", "feed", "return", "ground")


class _Piece(NamedTuple):
    """A piece of a wire between two nodes: its copper, its first contact, or another pin, with the plug that it lies in."""

    wire: int
    ends: tuple[str, str]
    copper: bool
    contact: bool
    plug: str


@dataclass(frozen=True, slots=True)
class Netlist:
    """A circuit of conductances: nodes by name, ends (B, 2), conductance (n, m, B) S, source (n, m, N) A into each node."""

    nodes: tuple[str, ...]
    ends: Places
    conductance: Array
    source: Array

    def volts(self) -> Array:
        """Volts of every node against the battery's other pole, or against the first node where it is not there, (n, m, N)."""
        ground = self.nodes.index(MINUS) if MINUS in self.nodes else 0
        return node_voltages(self.ends, self.conductance, self.source, ground)

    def currents(self) -> Array:
        """Amperes through every branch, from its first end to its second, (n, m, B)."""
        return branch_currents(self.ends, self.conductance, self.volts())

    def drop(self, one: str, other: str) -> Array:
        """Volts from one node to another, as a meter with its leads there, (n, m)."""
        volts = self.volts()
        between: Array = volts[..., self.nodes.index(one)] - volts[..., self.nodes.index(other)]
        return between


# ---------------------------------------------------------------------- what a meter finds
def live_circuit(vehicles: Vehicles, op: Operation, temperature: Array, electric: Electric) -> Netlist:
    """Battery, controller and solenoids at operating points, each driver at its duty; temperature (n, m) K of the sump.

    A driver that pulses stands at its pin as so much ground and so much feed as its duty says: the mean of both.
    """
    pieces = _pieces(vehicles.unit, POWER)
    p, wires, twist = vehicles.p, _Conductors(vehicles, temperature), ElectronicControls(vehicles).twist(op)
    built = _Builder(temperature.shape)
    for piece in pieces:
        through = wires.conductance(piece)
        relay = control_of(vehicles.unit).wires[piece.wire].kind == "relay"
        built.join(*piece.ends, np.where(electric.relay_on, through, 1.0 / PARTED) if relay else through)
    _coils(vehicles, temperature, built)
    _leaking(vehicles, pieces, leaks(vehicles, twist), built)
    built.join(CONTROLLER, CONTROLLER_GROUND, 1.0 / p.control_load)
    _drivers(vehicles, electric, built)
    built.join(BATTERY, MINUS, 1.0 / p.supply_resistance)
    built.feed(BATTERY, MINUS, p.supply_charge / p.supply_resistance)
    return built.netlist()


def ohms(
    vehicles: Vehicles,
    between: tuple[str, str],
    unplugged: tuple[str, ...],
    temperature: Array,
    *,
    wet: float = 0.0,
    lever: str = "P",
) -> Array:
    """Resistance [ohm] that a meter finds between two nodes, the battery off and some plugs apart, (n, m).

    temperature (n, m): of sump, coils and thermistor [K]; wet: water where it leaks, 0 or 1; lever: where the lever stands.
    """
    pieces = [piece for piece in _pieces(vehicles.unit, (*POWER, "signal")) if piece.plug not in unplugged]
    wires, built = _Conductors(vehicles, temperature), _Builder(temperature.shape)
    for piece in pieces:
        built.join(*piece.ends, wires.conductance(piece))
    _coils(vehicles, temperature, built)
    _sensors(vehicles, temperature, (wet, lever), built)
    _leaking(vehicles, pieces, vehicles.p.wire_leak, built)
    built.join(CONTROLLER, CONTROLLER_GROUND, 1.0 / vehicles.p.control_load)
    built.feed(*between, np.full((1, 1), TEST_CURRENT))
    circuit = built.netlist(between)
    found: Array = np.minimum(circuit.drop(*between) / TEST_CURRENT, PARTED)
    return found


# ---------------------------------------------------------------------- pieces
@cache
def _pieces(unit: UnitSpec, paths: tuple[str, ...]) -> tuple[_Piece, ...]:
    """The wires of some paths, cut at their pins."""
    found: list[_Piece] = []
    for place, wire in enumerate(control_of(unit).wires):
        if wire.path in paths:
            found += _cut(place, wire)
    return tuple(found)


def _cut(place: int, wire: Wire) -> list[_Piece]:
    """One wire, cut: the copper between its pins, or from its one pin to the far end."""
    (first, last), pins = wire.ends, wire.pins
    if not pins:
        return [_Piece(place, wire.ends, True, True, "")]
    plugs = [pin.partition(":")[0] for pin in pins]
    if len(pins) == 1 and wire.path != "ground":  # the plug lies at its far end
        contact = _Piece(place, (pins[0], last), False, True, plugs[0])
        return [_Piece(place, (first, pins[0]), True, False, ""), contact]
    pieces = [_Piece(place, (first, pins[0]), False, True, plugs[0])]
    if len(pins) == 1:
        return [*pieces, _Piece(place, (pins[0], last), True, False, "")]
    pieces.append(_Piece(place, (pins[0], pins[-1]), True, False, ""))
    return [*pieces, _Piece(place, (pins[-1], last), False, False, plugs[-1])]


class _Conductors:
    """How well each piece of the wires of a batch conducts."""

    def __init__(self, vehicles: Vehicles, temperature: Array) -> None:
        self.whole, self.contacts = wire_resistances(vehicles, temperature), vehicles.p.wire_contact
        self.first = first_contacts(vehicles)

    def conductance(self, piece: _Piece) -> Array:
        """Of one piece [S], (n, 1) or (n, m)."""
        copper = self.whole.of(np.array([piece.wire])) - self.contacts[..., piece.wire]
        ohm = LEAST + copper * piece.copper + self.first[..., piece.wire] * piece.contact
        if not (piece.copper or piece.contact):
            ohm = ohm + PIN
        conducts: Array = 1.0 / np.minimum(ohm, PARTED)
        return conducts


class _Builder:
    """Branches and sources as they come, by the names of the nodes."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self.shape, self.nodes = shape, {MINUS: 0}
        self.ends: list[tuple[int, int]] = []
        self.values: list[Array] = []
        self.sources: list[tuple[int, Array]] = []

    def _node(self, name: str) -> int:
        return self.nodes.setdefault(name, len(self.nodes))

    def join(self, one: str, other: str, conductance: Array) -> None:
        """A branch between two nodes [S]."""
        self.ends.append((self._node(one), self._node(other)))
        self.values.append(np.broadcast_to(np.asarray(conductance, float), self.shape))

    def feed(self, into: str, out_of: str, current: Array) -> None:
        """A source [A] from one node to another."""
        self.sources += [(self._node(into), current), (self._node(out_of), -current)]

    def netlist(self, between: tuple[str, str] | None = None) -> Netlist:
        """All of it, or only what hangs together with two nodes, the second of which voltages count from."""
        kept = list(range(len(self.nodes))) if between is None else self._reached(between)
        place = {node: i for i, node in enumerate(kept)}
        some = [k for k, (one, other) in enumerate(self.ends) if one in place and other in place]
        source = np.zeros((*self.shape, len(kept)))
        for node, current in self.sources:
            source[..., place[node]] += current
        names = list(self.nodes)
        return Netlist(
            nodes=tuple(names[node] for node in kept),
            ends=np.array([[place[node] for node in self.ends[k]] for k in some], int).reshape(-1, 2),
            conductance=np.stack([self.values[k] for k in some], -1) if some else np.zeros((*self.shape, 0)),
            source=source,
        )

    def _reached(self, between: tuple[str, str]) -> list[int]:
        """The nodes that any branch joins with two of them, the second first."""
        found = [self._node(between[1]), self._node(between[0])]
        for node in found:
            for one, other in self.ends:
                if node in (one, other):
                    found += [each for each in (one, other) if each not in found]
        return found


# ---------------------------------------------------------------------- what hangs on the wires
def _coils(vehicles: Vehicles, temperature: Array, built: _Builder) -> None:
    control = control_of(vehicles.unit)
    resistance = coil_resistances(vehicles, temperature)
    for place, solenoid in enumerate(control.solenoids):
        near = control.wires[control.wire_ids.index(solenoid.feed)].ends[1]
        far = control.wires[control.wire_ids.index(solenoid.wires[0])].ends[0]
        built.join(near, far, 1.0 / np.minimum(resistance[..., place], PARTED))


def _drivers(vehicles: Vehicles, electric: Electric, built: _Builder) -> None:
    """Each driver: its pin hangs for a share of the time on ground, for the rest, while the coil runs on, on the feed."""
    control, dead = control_of(vehicles.unit), vehicles.p.solenoid_driver_dead > HALF
    for place, solenoid in enumerate(control.solenoids):
        pin = control.wires[control.wire_ids.index(solenoid.wires[-1])].ends[1]
        near = control.wires[control.wire_ids.index(solenoid.feed)].ends[1]
        on = (electric.measured[..., place] > DRIVEN) & ~dead[..., place]
        duty, through = electric.duty[..., place], on / vehicles.p.control_driver
        built.join(pin, CONTROLLER_GROUND, duty * through)
        built.join(pin, near, (1.0 - duty) * through)
        built.join(CONTROLLER_GROUND, near, -duty * (1.0 - duty) * through)


def _leaking(
    vehicles: Vehicles, pieces: tuple[_Piece, ...] | list[_Piece], leak: Array, built: _Builder
) -> None:
    """What each wire lets go: behind its first pin to the body, or, inside the unit, where it begins, to the case."""
    wires = control_of(vehicles.unit).wires
    for place in sorted({piece.wire for piece in pieces}):
        if leak[..., place].any():
            pins = wires[place].pins
            at, to = (pins[0], BODY) if pins else (wires[place].ends[0], CASE)
            built.join(at, to, leak[..., place])


def _sensors(vehicles: Vehicles, temperature: Array, state: tuple[float, str], built: _Builder) -> None:
    """Sensors as an ohmmeter finds them with the engine off: no pressure on a switch."""
    control, p, (wet, lever) = control_of(vehicles.unit), vehicles.p, state
    for place, sensor in enumerate(control.sensors):
        at = [control.wires[control.wire_ids.index(name)].ends[0] for name in sensor.wires]
        own = p.sensor_resistance[..., place]
        if sensor.kind == "thermistor":
            law = own * p.sensor_scale[..., place], p.sensor_beta[..., place]
            across = 1.0 / thermistor_resistance(temperature, *law) + p.sensor_leak[..., place] * wet
            built.join(at[0], at[1], across)
        elif sensor.kind == "inductive":
            built.join(at[0], at[1], 1.0 / own)
        elif sensor.kind == "switch" and at:
            built.join(at[0], CASE, (p.sensor_stuck[..., place] > HALF) / CLOSED + 1.0 / PARTED)
        elif sensor.kind == "pattern":
            closed = sensor.patterns.get(lever, "0" * len(at))
            for node, mark in zip(at, closed, strict=True):
                built.join(node, CASE, np.full((1, 1), 1.0 / CLOSED if mark == "1" else 1.0 / PARTED))


def feed_nodes(unit: UnitSpec) -> tuple[str, ...]:
    """The node at the coils of each feed, in the order of the feeds."""
    wires = control_of(unit).wires
    return tuple(wires[place].ends[1] for place in reduced_wires(unit).feeds)
