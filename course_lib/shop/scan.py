"""Inspections with a scan tool while the vehicle stands: codes, live data, learned values, data of the controller; and the papers.

What a screen shows is what the controller believes or commands, never a pressure.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, Row, batch_looks
from course_lib.shop.circuits import control_of, feeds, reading_sensor, sensors, solenoids
from course_lib.shop.graded_scales import sentence
from course_lib.shop.holders import pressed
from course_lib.shop.meter import CRANKED_OUT, cranking_volts
from course_lib.shop.order import PRESSURE_UNKNOWN
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import COLD, AskedPoint, Subject
from course_lib.vehicle import codes as trouble_codes
from course_lib.vehicle.control_spec import ActionWord, Control
from course_lib.vehicle.operating_point import Workings

COUNT = Instrument("", 0.1)
SCREEN_VOLTS = Instrument("V", 0.05, 1)
SCREEN_FAHRENHEIT = Instrument("\u00b0F", 1.5, signed=True)
LEARNED_TIME, LEARNED_PRESSURE = Instrument("ms", 2, signed=True), Instrument("psi", 0.5, signed=True)
# What a controller does that leaves nobody knowing what holds the clutches, and what makes it drive in its emergency gear.
BY_DEFAULT: tuple[ActionWord, ...] = ("default_temperature", "line_full", "relay_off")
NOT_CLEARED = "A code names a circuit; the part in it that is named is often sound."
SAVED = "Saved with their frames, then cleared so that the tests can run."


# ---------------------------------------------------------------------- codes
def codes(subject: Subject) -> BatchFinding:
    """Every code of the unit: none, pending or stored; how many controllers complain; the frame of the first."""
    control, steps = control_of(subject.unit), trouble_codes.steps(subject.condition.memory, subject.unit)
    seen = [
        BatchLook(
            key=f"code_{code.id}",
            scale="code",
            value=steps[:, i].astype(float),
            text=f"{code.id}, {code.label}: {{}}",
            quiet=True,
        )
        for i, code in enumerate(control.codes)
    ]
    unknown = [bool(set(control.actions[code.action].does) & set(BY_DEFAULT)) for code in control.codes]
    by_default = ((steps == trouble_codes.STORED) & np.array(unknown)).any(-1)
    said = "while these codes stand, the controller gives pressure by default: {}"
    seen += batch_looks((PRESSURE_UNKNOWN, "yes", by_default.astype(float), said), quiet=True)
    complain = _complaining(subject, steps)
    many = subject.read("controllers", "Controllers that complain", complain, COUNT)
    return BatchFinding(measured=(many, *_frame(subject)), seen=tuple(seen), caption=_saved)


def _saved(row: Row) -> list[str]:
    found = [look for key, look in row.looks.items() if key.startswith("code_") and look.grade]
    return [NOT_CLEARED, SAVED] if found else []


def _complaining(subject: Subject, steps: Array) -> Array:
    """How many controllers on the bus have a code of their own, (n,): all of them where one falls silent or the start starves them."""
    control = control_of(subject.unit)
    keepers = {code.keeper for code in control.codes}
    stored = steps == trouble_codes.STORED
    own = [stored[:, [c.keeper == name for c in control.codes]].any(-1) for name in sorted(keepers)]
    others = len(control.modules) - len(keepers) + 1
    all_of = (cranking_volts(subject) < CRANKED_OUT) | (silent(subject) > 0)
    number: Array = np.where(all_of, 1.0 + others, np.sum(own, axis=0))
    return number


def _frame(subject: Subject) -> Iterator[BatchReading]:
    """What the vehicle was doing when its first code was stored."""
    frame = trouble_codes.frame(subject.plant, subject.condition, subject.driving, subject.day.op)
    rows: tuple[tuple[str, str, Array, Instrument], ...] = (
        ("frame_tft_f", "Frame: fluid", units.to_fahrenheit(frame.temperature), Instrument("\u00b0F", 1.5)),
        ("frame_mph", "Frame: road speed", units.to_mph(frame.speed), Instrument("mph", 0.5)),
        ("frame_volts", "Frame: supply", frame.volts, SCREEN_VOLTS),
        ("frame_gear", "Frame: gear commanded, R as 0", frame.gear, COUNT),
        ("frame_lockup", "Frame: lock-up commanded, 1 on", frame.lockup, COUNT),
    )
    for key, label, value, instrument in rows:
        yield subject.read(key, label, value, instrument, note="no code stored")


# ---------------------------------------------------------------------- papers
def service_info(subject: Subject) -> BatchFinding:
    """What the diagram says of this unit: which circuits share a feed, a plug, a ground."""
    told = _shared(control_of(subject.unit))
    return BatchFinding(caption=lambda _: told)


def _shared(control: Control) -> list[str]:
    named = {wire.id: wire for wire in control.wires}
    told = []
    for feed in dict.fromkeys(each.feed for each in control.solenoids):
        pins = " and ".join(named[feed].pins)
        fed = ", ".join(each.label for each in control.solenoids if each.feed == feed)
        told.append(sentence(f"{named[feed].label}{f' ({pins})' if pins else ''} feeds {fed}"))
    for solenoid in control.solenoids:
        pins = [pin for wire in solenoid.wires for pin in named[wire].pins]
        told.append(sentence(f"{solenoid.label} returns by {', '.join(pins) or 'a wire of its own'}"))
    for wire in control.wires:
        shared = [each.label for each in control.sensors if wire.id in each.wires]
        if len(shared) > 1:
            told.append(sentence(f"{wire.label} ({', '.join(wire.pins)}) is shared by {' and '.join(shared)}"))
    by_relay = [wire.label for wire in control.wires if wire.path == "supply"]
    return [*told, sentence(f"All of it passes {', '.join(by_relay)}")]


# ---------------------------------------------------------------------- parked
def data_parked(subject: Subject) -> Procedure:
    """Live data in the morning after a damp night, before anything moves: idling in P, then the lever through its places."""
    levers = tuple(subject.unit.levers)
    asked = [AskedPoint(lever, temperature=COLD, cold_soaked=1.0, wet=1.0) for lever in levers]
    work = yield asked
    electric, park = electric_of(work), levers.index("P")
    warmer = (electric.believed_temperature[:, park] - COLD) * units.FAHRENHEIT_STEPS
    agrees = (electric.lever_seen == np.arange(len(levers))).all(-1)
    measured = (
        subject.read("volts_v", "Volts at the controller, idling", electric.volts[:, park], SCREEN_VOLTS),
        subject.read("tft_minus_ambient_f", "Fluid on the screen less outside air", warmer, SCREEN_FAHRENHEIT),
        missing(subject),
        subject.read(
            "oss_rpm",
            "Output speed on the screen, standing",
            units.to_rpm(output_shown(subject, electric.believed_speed)[:, park]),
            Instrument("rpm", 2),
        ),
    )
    return BatchFinding(
        measured=measured,
        seen=batch_looks(
            ("range_agrees", "no_yes", agrees.astype(float), "range on the screen agrees with the lever: {}"),
            ("brake_on", "yes", electric.brake_on[:, park].astype(float), "brake on the screen, foot off: {}"),
            *(
                (f"{each.id}_closed", "yes", closed_empty(subject, i), f"{each.label} closed, engine off: {{}}")
                for i, each in pressure_switches(subject)
            ),
        ),
    )


def pressure_switches(subject: Subject) -> list[tuple[int, Sensor]]:
    """The pressure switches with their places on the sensor axis."""
    return [(i, each) for i, each in sensors(subject.unit, "switch") if each.reads == "pressure"]


def closed_empty(subject: Subject, place: int) -> Array:
    """Whether a switch is closed without pressure, (n,): its own contact, or water in its plug."""
    stuck, leak = (subject.parameter(f"sensor_{name}", place) for name in ("stuck", "leak"))
    return ((stuck > HALF) | (leak > SWITCH_LEAK)).astype(float)


def silent(subject: Subject) -> Array:
    """Modules that say nothing on the bus, (n,)."""
    return (subject.parameter("bus_wheels_silent") > HALF).astype(float)


def missing(subject: Subject) -> BatchReading:
    """How many controllers on the list do not answer."""
    return subject.read("modules_missing", "Controllers that do not answer", silent(subject), COUNT)


def output_shown(subject: Subject, believed: Array) -> Array:
    """Output shaft speed [rad/s] behind a road speed that the controller believes [m/s], (n, m)."""
    tire, axle, scale = (
        subject.parameter(name)[:, None]
        for name in ("vehicle_tire_radius", "vehicle_axle", "control_tire_scale")
    )
    return believed * scale * axle / tire
