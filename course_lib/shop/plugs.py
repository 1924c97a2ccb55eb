"""Plugs, pins, loom and fuses, looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from course_lib.base.arrays import Array, Flags
from course_lib.shop.batch import BatchFinding, BatchLook, batch_looks
from course_lib.shop.circuits import case_plug, of_wires, sensors, worst
from course_lib.shop.subject import Subject
from course_lib.vehicle.control_spec import Plug, Wire
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.unit_spec import UnitSpec

WIRED = ("hall", "inductive", "thermistor", "switch", "pattern")  # sensors with a plug of their own


def plug_look(subject: Subject) -> BatchFinding:
    """Water, green and dull pins, fluid, spread sockets, rubbed wires; and the fuses."""
    contact = of_wires(subject, "wire_contact") - of_wires(subject.sheet, "wire_contact")
    leak, rub = of_wires(subject, "wire_leak"), of_wires(subject, "wire_rub")
    power = _of(subject, lambda wire: bool(wire.pins) and wire.path in ("feed", "return"))
    signal = _of(subject, lambda wire: wire.path == "signal")
    leaking = [1e3 * subject.parameter("sensor_leak", i) for i, _ in sensors(subject.unit, *WIRED)]
    elsewhere = {plug.id for plug in _apart(subject.unit)}
    apart = _of(subject, lambda wire: _begins_at(wire) in elsewhere)
    wet = np.max([np.zeros(subject.size), *leaking], axis=0)
    where = f"{case_plug(subject.unit).label}: {{}}"
    seen = [
        BatchLook(key="plug_water", scale="plug_water", value=wet, text=where, quiet=True),
        _place(subject, "green", "green", contact * power, "pins: {}"),
        _place(subject, "fretted", "fretted", contact * (signal & ~apart), "pins, under a glass: {}"),
        _place(subject, "oil", "plug_oil", leak * signal, "inside the plugs: {}"),
        _place(
            subject,
            "spread",
            "spread",
            of_wires(subject, "wire_shake"),
            "a blade pulled out of each socket: {}",
        ),
        _place(subject, "chafe", "chafe", rub + leak * ~signal, "loom, clip by clip: {}"),
    ]
    seen += _elsewhere(subject, contact)
    blown = of_wires(subject, "wire_open")
    for i, wire in enumerate(control_of(subject.unit).wires):
        if wire.kind == "fuse":
            seen += batch_looks((wire.id, "fuse", blown[:, i], f"{wire.label}: {{}}"), quiet=True)
    return BatchFinding(seen=tuple(seen))


def _elsewhere(subject: Subject, contact: Array) -> Iterator[BatchLook]:
    """The pins of the other plugs."""
    for plug in _apart(subject.unit):
        own = np.array([_begins_at(wire) == plug.id for wire in control_of(subject.unit).wires], bool)
        said = f"{plug.label}, pins, under a glass: {{}}"
        yield _place(subject, f"fretted_{plug.id.lower()}", "fretted", contact * own, said)


def _apart(unit: UnitSpec) -> list[Plug]:
    """The plugs, other than that at the case, from which wires lead to the controller."""
    through = {_begins_at(wire) for wire in control_of(unit).wires if len(wire.pins) > 1}
    return [each for each in control_of(unit).plugs if each.id in through - {case_plug(unit).id}]


def _begins_at(wire: Wire) -> str:
    """The plug of the first pin of a wire; empty where it has none."""
    return wire.pins[0].partition(":")[0] if wire.pins else ""


def _of(subject: Subject, fits: Callable[[Wire], bool]) -> Flags:
    """Which wires are of a sort, (W,) bool."""
    return np.array([fits(wire) for wire in control_of(subject.unit).wires], bool)


def _place(subject: Subject, key: str, scale: str, values: Array, text: str) -> BatchLook:
    """The worst of the wires, with its circuit."""
    value, where = worst(subject, values)
    return BatchLook(key=key, scale=scale, value=value, text=text, quiet=True, of=where)
