"""Where the leads of a meter stand for a reading: found from its key, by rule from what the unit's wiring declares.

A key names a wire, a solenoid or a pin of the unit and ends in what was read: "feed_b_lockup_v", "pcd_hot_ohm", "wire6_ground_ohm".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from course_lib.plots.meter_faces import CircuitPiece
from course_lib.plots.wiring_diagrams import between_nodes, point_name
from course_lib.plots.wiring_layout import coil_name, grounds, trunk
from course_lib.vehicle.control_spec import BATTERY, BODY, MINUS, Control, Solenoid, Wire

VOLTS = re.compile(r"(?P<name>\w+?)(_lockup|_crank)?_v")
OHMS = re.compile(r"(?P<name>\w+?)_(?P<how>hot_ohm|tcm_ohm|ground_ohm|ohm)")
PIN = re.compile(r"wire(\d+)")
AT_THE_CASE = ("ohm", "hot_ohm")  # of a coil, with the case plug apart


@dataclass(frozen=True, slots=True)
class LeadPlaces:
    """A circuit in a row, the names of the points before, between and after its pieces, and which of them the leads touch.

    nodes: red and black as the wiring calls them, "" where the point is no node of it.
    """

    pieces: tuple[CircuitPiece, ...]
    points: tuple[str, ...]
    red: int
    black: int
    nodes: tuple[str, str] = ("", "")


# ---------------------------------------------------------------------- volts
def volts_places(key: str, control: Control) -> LeadPlaces | None:
    """Where the leads stand for a drop in volts; None for a key that names no piece of the wiring."""
    found = VOLTS.fullmatch(key)
    wire = found and _wire_called(found["name"], control)
    if not wire:
        return None
    red = BATTERY if wire.path == "feed" else wire.ends[0]
    pieces, nodes = _way_through(wire, control)
    start, end = nodes.index(red), nodes.index(wire.ends[1])
    before, after = _folded(pieces[:start]), _folded(pieces[end:])
    names = [point_name(control, node) for node in nodes]
    points = (*names[: len(before)], *names[start : end + 1], *names[len(names) - len(after) :])
    return LeadPlaces(
        (*before, *pieces[start:end], *after),
        points,
        len(before),
        len(before) + end - start,
        (red, wire.ends[1]),
    )


def _folded(pieces: tuple[CircuitPiece, ...]) -> tuple[CircuitPiece, ...]:
    """What lies outside the leads, as one piece."""
    if len(pieces) < 2:
        return pieces
    loads = any(piece.kind == "coil" for piece in pieces)
    return (
        CircuitPiece("solenoid, driver, their wires", "load") if loads else CircuitPiece("wires", "wire"),
    )


def _wire_called(name: str, control: Control) -> Wire | None:
    """The wire that a key means: by its id, its id without what sort it is, or its kind where that is enough."""
    for wire in control.wires:
        if name in (wire.id, wire.id.removeprefix("ground_"), wire.id.removeprefix("wire_")):
            return wire
    return next((wire for wire in control.wires if wire.kind == name), None)


def _way_through(wire: Wire, control: Control) -> tuple[tuple[CircuitPiece, ...], list[str]]:
    """The pieces in a row of the way that current takes through a wire, and the nodes before, between and after them."""
    for solenoid in control.solenoids:
        way = list(_around(solenoid, control))
        if any(branch == wire.id for branch, *_ in way):
            return tuple(piece for _, piece, _ in way), [BATTERY, *(node for *_, node in way)]
    after = [
        each
        for name in between_nodes(control, wire.ends[1], MINUS)
        for each in control.wires
        if each.id == name
    ]
    way_back = [wire, *(after if wire.path == "ground" else [])]
    return tuple(_piece(each) for each in way_back), [wire.ends[0], *(each.ends[1] for each in way_back)]


def _piece(wire: Wire) -> CircuitPiece:
    """A wire by its name alone: what it carries or joins stands in the reading."""
    return CircuitPiece(wire.label.partition(",")[0], "wire" if wire.kind == "twisted" else wire.kind)


def _around(solenoid: Solenoid, control: Control) -> Iterator[tuple[str, CircuitPiece, str]]:
    """(branch, piece, node behind it) of the circuit of a solenoid, from the battery round to its other pole."""
    named = {wire.id: wire for wire in control.wires}
    own, back, _ = grounds(control)
    for wire in (*trunk(control)[0], named[solenoid.feed]):
        yield wire.id, _piece(wire), wire.ends[1]
    returns = [named[name] for name in solenoid.wires]
    yield solenoid.id, CircuitPiece(coil_name(solenoid), "coil"), returns[0].ends[0]
    for wire in returns:
        yield wire.id, _piece(wire), wire.ends[1]
    if own:
        yield f"driver_{solenoid.id}", CircuitPiece("driver", "driver"), own[0].ends[0]
    for wire in (*own, *back):
        yield wire.id, _piece(wire), wire.ends[1]


# ---------------------------------------------------------------------- ohms
def ohms_places(key: str, control: Control) -> LeadPlaces | None:
    """Where the leads stand for a reading in ohms on a dead circuit; None for a key that names no piece of the wiring."""
    found = OHMS.fullmatch(key)
    if not found:
        return None
    name, how = found["name"], found["how"]
    if how == "ground_ohm":
        return _against_body(name, control)
    solenoid = next((each for each in control.solenoids if each.id == name), None)
    return None if solenoid is None else _through(solenoid, control, at_the_case=how in AT_THE_CASE)


def _through(solenoid: Solenoid, control: Control, *, at_the_case: bool) -> LeadPlaces:
    """A coil with what lies before it up to the plug that is apart."""
    named = {wire.id: wire for wire in control.wires}
    returns = [named[name] for name in solenoid.wires if not (at_the_case and named[name].pins)]
    nodes = [
        named[solenoid.feed].ends[1],
        *(wire.ends[0] for wire in returns),
        (returns or [named[solenoid.wires[0]]])[-1].ends[1],
    ]
    inner = [CircuitPiece(coil_name(solenoid), "coil"), *(_piece(wire) for wire in returns)]
    points = [point_name(control, node) for node in nodes]
    apart = CircuitPiece("plug apart", "parted")
    return LeadPlaces(
        (*((apart,) if at_the_case else ()), *inner, apart),
        (
            *(("loom side",) if at_the_case else ()),
            *points,
            "loom side" if at_the_case else "controller side",
        ),
        1 if at_the_case else 0,
        len(inner) + (1 if at_the_case else 0),
    )


def _against_body(name: str, control: Control) -> LeadPlaces | None:
    """A wire, named by its id or the number of its pin, against the body."""
    pin = PIN.fullmatch(name)
    for wire in control.wires:
        numbers = [each.partition(":")[2] for each in wire.pins]
        if wire.id == name or (pin and wire.path == "return" and pin[1] in numbers):
            points = (point_name(control, wire.ends[1]), wire.label, BODY)
            return LeadPlaces(
                (_piece(wire), CircuitPiece("what lies between wire and body", "parted")), points, 0, 2
            )
    return None
