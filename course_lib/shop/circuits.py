"""The electrical side of a unit as a workshop names it: circuits, feeds, solenoids and sensors, each with its place on its axis.

A circuit is the whole way of one current or signal. A wire that several of them share is a circuit of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

import numpy as np

from course_lib.base.arrays import Array
from course_lib.shop.batch import Circuits
from course_lib.shop.subject import Subject
from course_lib.vehicle.control_spec import LINE, LOCKUP, Plug, Sensor, Solenoid, Wire
from course_lib.vehicle.control_tables import control_of, sensor_that
from course_lib.vehicle.unit_spec import UnitSpec

Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit: its name in keys, how it is called, and the places of its wires on the wire axis."""

    stem: str
    label: str
    wires: tuple[int, ...]


@cache
def circuits(unit: UnitSpec) -> tuple[Circuit, ...]:
    """Every circuit of a unit: its solenoids, its sensors, and wires that are shared or stand alone."""
    control = control_of(unit)
    every: list[Solenoid | Sensor] = [*control.solenoids, *control.sensors]
    owners = {wire.id: [each.id for each in every if wire.id in each.wires] for wire in control.wires}
    place = {each.id: i for i, each in enumerate(control.wires)}
    own = [
        Circuit(each.id, each.label, tuple(place[wire] for wire in each.wires if owners[wire] == [each.id]))
        for each in every
    ]
    alone = [
        Circuit(wire.id, wire.label, (place[wire.id],)) for wire in control.wires if len(owners[wire.id]) != 1
    ]
    return tuple(each for each in (*own, *alone) if each.wires)


def worst(subject: Subject, values: Array, own: Array | None = None) -> tuple[Array, Circuits]:
    """(largest of some `values` (n, wires) and of what ails the sensors themselves, `own` (n, sensors), (n,); where it is).

    A wire is named by its circuit and the first pin on it, where contacts are worst; what lies in the unit has no pin.
    """
    control = control_of(subject.unit)
    named = [
        (circuit.stem, ", pin ".join((circuit.label, *control.wires[place].pins[:1])), place)
        for circuit in circuits(subject.unit)
        for place in circuit.wires
    ]
    found = [values[:, place] for _, _, place in named]
    if own is not None:
        named += [(each.id, each.label, -1) for each in control.sensors]
        found += list(np.broadcast_to(own, (subject.size, len(control.sensors))).T)
    each = np.stack(found, -1)
    at = each.argmax(-1)
    return each.max(-1), tuple((stem, label, at == i) for i, (stem, label, _) in enumerate(named))


# ---------------------------------------------------------------------- one by one
def solenoids(unit: UnitSpec) -> Iterator[tuple[int, Solenoid]]:
    """Every solenoid with its place on the solenoid axis."""
    return iter(enumerate(control_of(unit).solenoids))


def pressure_solenoids(unit: UnitSpec) -> tuple[tuple[int, Solenoid], ...]:
    """Those that give a pressure by their current."""
    return tuple((i, each) for i, each in solenoids(unit) if each.law == "linear")


def line_solenoid(unit: UnitSpec) -> tuple[int, Solenoid] | None:
    """The one that sets the line."""
    return _driving(unit, LINE)


def lockup_solenoid(unit: UnitSpec) -> tuple[int, Solenoid] | None:
    """The one behind the lock-up clutch."""
    return _driving(unit, LOCKUP)


def _driving(unit: UnitSpec, what: str) -> tuple[int, Solenoid] | None:
    return next(((i, each) for i, each in solenoids(unit) if each.drives == what), None)


def feeds(unit: UnitSpec) -> tuple[str, ...]:
    """Ids of the wires that feed groups of solenoids, in the order in which the solenoids name them."""
    return tuple(dict.fromkeys(each.feed for _, each in solenoids(unit)))


def sensors(unit: UnitSpec, *kinds: str) -> tuple[tuple[int, Sensor], ...]:
    """The sensors of some kinds with their places on the sensor axis."""
    return tuple((i, each) for i, each in enumerate(control_of(unit).sensors) if each.kind in kinds)


def pressure_switches(unit: UnitSpec) -> tuple[tuple[int, Sensor], ...]:
    """The switches that oil closes."""
    return tuple((i, each) for i, each in sensors(unit, "switch") if each.reads == "pressure")


def only_with(unit: UnitSpec, reads: str, *found: Found) -> tuple[Found, ...]:
    """Some readings or looks where a sensor of the unit tells what they speak of, else none."""
    return () if sensor_that(unit, reads) is None else found


def case_plug(unit: UnitSpec) -> Plug:
    """The plug at the unit's case: that of the first pin of a solenoid's return wires. Raises ValueError where none has a pin."""
    control = control_of(unit)
    named = {wire for each in control.solenoids for wire in each.wires}
    pin = next((wire.pins[0] for wire in control.wires if wire.id in named and wire.pins), "")
    for plug in control.plugs:
        if plug.id == pin.partition(":")[0]:
            return plug
    raise ValueError(
        f"return wires of {unit.title} must pass a plug that is listed, got {pin!r}. Add the plug."
    )


def supply_to(unit: UnitSpec, node: str) -> list[int]:
    """Places of the wires that lie between the battery and a node, from the node back: fuses, relay contacts."""
    wires, found = control_of(unit).wires, []
    ends = {wire.ends[1]: i for i, wire in enumerate(wires) if wire.path == "supply"}
    while node in ends:
        found.append(ends[node])
        node = wires[ends[node]].ends[0]
    return found


def wires(unit: UnitSpec, kind: str) -> tuple[tuple[int, Wire], ...]:
    """The wires of a kind with their places on the wire axis."""
    return tuple((i, each) for i, each in enumerate(control_of(unit).wires) if each.kind == kind)


def wire_place(unit: UnitSpec, wire: str) -> int:
    """Place of a wire on the wire axis."""
    return control_of(unit).wire_ids.index(wire)


def of_wires(subject: Subject, name: str) -> Array:
    """A parameter of every wire, (n, wires)."""
    value: Array = np.broadcast_to(
        getattr(subject.plant.p, name)[:, 0], (subject.size, len(control_of(subject.unit).wires))
    )
    return value
