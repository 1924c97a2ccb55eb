"""Plugs, pins, loom and fuses, looked at."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from course_lib.base.arrays import Array, Flags
from course_lib.shop.batch import BatchFinding, BatchLook, batch_looks
from course_lib.shop.circuits import case_plug, control_of, of_wires, sensors, worst
from course_lib.shop.subject import Subject
from course_lib.vehicle.control_spec import Wire

WIRED = ("hall", "inductive", "thermistor", "switch", "pattern")  # sensors with a plug of their own


def plug_look(subject: Subject) -> BatchFinding:
    """Water, green and dull pins, fluid, spread sockets, rubbed wires; and the fuses."""
    contact = of_wires(subject, "wire_contact") - of_wires(subject.sheet, "wire_contact")
    leak, rub = of_wires(subject, "wire_leak"), of_wires(subject, "wire_rub")
    power = _of(subject, lambda wire: bool(wire.pins) and wire.path in ("feed", "return"))
    signal = _of(subject, lambda wire: wire.path == "signal")
    leaking = [1e3 * subject.parameter("sensor_leak", i) for i, _ in sensors(subject.unit, *WIRED)]
    wet = np.max([np.zeros(subject.size), *leaking], axis=0)
    where = f"{case_plug(subject.unit).label}: {{}}"
    seen = [
        BatchLook(key="plug_water", scale="plug_water", value=wet, text=where, quiet=True),
        _place(subject, "green", "green", contact * power, "pins: {}"),
        _place(subject, "fretted", "fretted", contact * signal, "pins, under a glass: {}"),
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
    blown = of_wires(subject, "wire_open")
    for i, wire in enumerate(control_of(subject.unit).wires):
        if wire.kind == "fuse":
            seen += batch_looks((wire.id, "fuse", blown[:, i], f"{wire.label}: {{}}"), quiet=True)
    return BatchFinding(seen=tuple(seen))


def _of(subject: Subject, fits: Callable[[Wire], bool]) -> Flags:
    """Which wires are of a sort, (W,) bool."""
    return np.array([fits(wire) for wire in control_of(subject.unit).wires], bool)


def _place(subject: Subject, key: str, scale: str, values: Array, text: str) -> BatchLook:
    """The worst of the wires, with its circuit."""
    value, where = worst(subject, values)
    return BatchLook(key=key, scale=scale, value=value, text=text, quiet=True, of=where)
