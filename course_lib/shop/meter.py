"""Inspections with a meter: battery, ohms, switches, bus; and the currents and voltage drops of a circuit under load.

Every reading is Ohm's law on the currents that flow. So the drop over a rotten contact is 0 where no current flows, and ohms are
read on a dead circuit, behind whatever plug is apart.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base.arrays import Array
from course_lib.physics.sensing import (
    BUS_MIDDLE,
    bus_levels,
    bus_resistance,
    seen_resistance,
    thermistor_resistance,
)
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, always, batch_looks
from course_lib.shop.circuits import feeds, of_wires, pressure_switches, sensors, solenoids, wire_place
from course_lib.shop.subject import Subject
from course_lib.vehicle import wiring
from course_lib.vehicle.code_tests import cranking_volts
from course_lib.vehicle.control_spec import Solenoid
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.unit_spec import UnitSpec

OVER_RANGE = 5e6  # ohm, past which a meter shows that the circuit is open
VOLTMETER, OHMMETER = Instrument("V", 0.02, 2), Instrument("ohm", 0.06, 1, most=OVER_RANGE)
BATTERY_METER = Instrument("V", 0.03, 1)
LESS = Instrument("ohm", 0.06, 1, signed=True, most=OVER_RANGE)
INSULATION = Instrument("ohm", 0.2, most=OVER_RANGE)
BUS_OHMS = Instrument("ohm", 0.5)
COUNT = Instrument("", 0.1)
RULE, TRAVEL = (
    Instrument("in.", 0.03, 2),
    0.25,
)  # in. of a brake switch that is set right, common practice, no source
ROOM, BOILING = 293.15, 373.15  # K, 68 and 212 F: at which coils are compared
CLOSED = 1.0  # ohm of a closed switch with its leads
OPEN_SHARE = 0.5  # of a part that is wholly open, stuck, silent: from there it counts as such
BUS_END, BUS_BUSY = (
    120.0,
    0.2,
)  # ohm at the controller's end of the bus (ISO 11898-2); share of time in which anybody sends
BUS_SENDER = 3.0, 30.0  # V and ohm of what sends, so that 60 ohm stand at 3.5 and 1.5 V (ISO 11898-2)
JUMPS_A_MILE = 1609.344
NO_LOAD = "A voltage that is right without load says nothing of the circuit under load."


# ---------------------------------------------------------------------- ohms of things
def wire_ohms(subject: Subject, temperature: float) -> Array:
    """Resistance of every wire with its pins, (n, W); temperature: of the sump [K], for what lies in it."""
    wires = wiring.wire_resistances(subject.plant, np.full((subject.size, 1), temperature))
    return wires.each(np.arange(len(subject.unit.owners("wire"))))[:, 0]


def coil_ohms(subject: Subject, temperature: float) -> Array:
    """Resistance of the coil behind every plug in the pan at a temperature [K], (n, S)."""
    ohms: Array = wiring.coil_resistances(subject.plant, np.full((subject.size, 1), temperature))[:, 0]
    return ohms


def circuit_ohms(subject: Subject, temperature: float) -> Array:
    """Resistance of each solenoid with its wires, feed apart, (n, S)."""
    unit, wires = subject.unit, wire_ohms(subject, temperature)
    ways = [wires[:, [wire_place(unit, wire) for wire in each.wires]].sum(-1) for _, each in solenoids(unit)]
    whole: Array = coil_ohms(subject, temperature) + np.stack(ways, -1)
    return whole


def to_case(subject: Subject, *, levered: bool) -> Array:
    """Conductance [S] from every wire to case or body, (n, W); levered: with the unit lifted, so that what rubs touches."""
    leak: Array = of_wires(subject, "wire_leak") + levered * of_wires(subject, "wire_rub")
    return leak


def in_the_pan(unit: UnitSpec, solenoid: Solenoid) -> list[int]:
    """Places of the wires between a solenoid and the case plug: those of its return that have no pin."""
    wires = control_of(unit).wires
    return [i for i in (wire_place(unit, each) for each in solenoid.wires) if not wires[i].pins]


def return_pins(unit: UnitSpec) -> dict[int, str]:
    """Place of each return wire outside the pan -> number of its pin at the case plug."""
    named = {wire for _, each in solenoids(unit) for wire in each.wires}
    wires = enumerate(control_of(unit).wires)
    return {i: wire.pins[0].partition(":")[2] for i, wire in wires if wire.id in named and wire.pins}


def open_circuit(
    subject: Subject, key: str, label: str, ohms: Array, instrument: Instrument = OHMMETER
) -> BatchReading:
    """A reading in ohms, at the end of the meter's range where the circuit is open."""
    shown = np.minimum(ohms, OVER_RANGE)
    return subject.read(
        key,
        label,
        shown,
        instrument,
        notes=((f"open, over {OVER_RANGE / 1e6:.0f} megohms", ohms >= OVER_RANGE),),
    )


# ---------------------------------------------------------------------- battery
def battery_charging(subject: Subject) -> BatchFinding:
    """Volts of the battery at rest, cranking and charging, and what ripples on them."""
    rows = (
        ("rest_v", "Battery at rest", subject.parameter("supply_rest")),
        ("crank_v", "Battery, least while cranking", cranking_volts(subject.plant)),
        ("charge_v", "Charging, 1,500 rpm", subject.parameter("supply_charge")),
        ("ripple_v", "Ripple, peak to peak", subject.parameter("supply_ripple")),
    )
    return BatchFinding(
        measured=tuple(subject.read(key, label, value, BATTERY_METER) for key, label, value in rows),
        caption=always(NO_LOAD),
    )


# ---------------------------------------------------------------------- ohms at the plugs
def solenoid_case(subject: Subject) -> BatchFinding:
    """Each coil with its wire in the pan, at 68 F and again at 212 F, and the least insulation to the case."""
    measured = []
    for temperature, key, said in ((ROOM, "{}_ohm", "at 68 °F"), (BOILING, "{}_hot_ohm", "hot, 212 °F")):
        coils, wires = coil_ohms(subject, temperature), wire_ohms(subject, temperature)
        for i, each in solenoids(subject.unit):
            ohms = coils[:, i] + wires[:, in_the_pan(subject.unit, each)].sum(-1)
            label = f"{each.label}, box side, {said}"
            measured.append(open_circuit(subject, key.format(each.id), label, ohms))
    inside = [i for _, each in solenoids(subject.unit) for i in in_the_pan(subject.unit, each)]
    leak = to_case(subject, levered=False)[:, inside].sum(-1)
    measured.append(open_circuit(subject, "coil_ground_ohm", "Coils to case", _ohms(leak), INSULATION))
    measured += [*_thermistors(subject), *_sensor_coils(subject)]
    told = "Right cold is not right hot, and says nothing of the valve that a coil moves."
    return BatchFinding(measured=tuple(measured), caption=always(told))


def _thermistors(subject: Subject) -> Iterator[BatchReading]:
    """Each thermistor at its own pins, corrected to 68 F."""
    for i, each in sensors(subject.unit, "thermistor"):
        label = f"{each.label}, at its own pins, at 68 °F"
        yield subject.read(f"{each.id}_ohm_68", label, _own_ohms(subject, i), Instrument("ohm", 20))


def _own_ohms(subject: Subject, place: int) -> Array:
    """Resistance [ohm] of a thermistor at 68 F, (n,)."""
    at_25c, beta = (subject.parameter(f"sensor_{name}", place) for name in ("resistance", "beta"))
    ohms: Array = subject.parameter("sensor_scale", place) * thermistor_resistance(
        np.array(ROOM), at_25c, beta
    )
    return ohms


def _sensor_coils(subject: Subject) -> Iterator[BatchReading]:
    """The coil of each inductive sensor at its own pins, as cold."""
    for i, each in sensors(subject.unit, "inductive"):
        ohms = subject.parameter("sensor_resistance", i)
        yield subject.read(
            f"{each.id}_ohm", f"{each.label}, at its own pins, at 68 °F", ohms, Instrument("ohm", 2)
        )


def _ohms(conductance: Array) -> Array:
    """Resistance [ohm] of a conductance [S], infinite where it is 0."""
    ohms: Array = 1.0 / np.maximum(conductance, 1e-12)
    return ohms


def solenoid_tcm(subject: Subject) -> BatchFinding:
    """Coil, wire and pins together from the controller's plug; each wire to ground; what the loom adds to a sensor; the drivers."""
    unit, wires = subject.unit, wire_ohms(subject, ROOM)
    coils, ground = coil_ohms(subject, ROOM), to_case(subject, levered=True)
    whole = circuit_ohms(subject, ROOM)
    measured = [
        open_circuit(subject, f"{each.id}_tcm_ohm", f"{each.label}, loom side", whole[:, i])
        for i, each in solenoids(unit)
    ]
    for i, pin in return_pins(unit).items():
        label = f"Wire {pin} to ground, unit levered up"
        measured.append(
            open_circuit(subject, f"wire{pin}_ground_ohm", label, _ohms(ground[:, i]), INSULATION)
        )
    measured += [*_feeds_to_ground(subject, coils), *_gaps(subject, wires)]
    return BatchFinding(measured=tuple(measured), seen=(_drivers(subject),))


def _drivers(subject: Subject) -> BatchLook:
    """Whether each driver pulls a spare coil; the one that does not is named by the pin that the coil hangs on."""
    dead, pins = subject.plant.p.solenoid_driver_dead[:, 0], return_pins(subject.unit)
    own = [
        [pins[place] for place in (wire_place(subject.unit, wire) for wire in each.wires) if place in pins]
        for _, each in solenoids(subject.unit)
    ]
    where = tuple(
        (each.id, f"that of pin {' and '.join(own[i])}", dead.argmax(-1) == i)
        for i, each in solenoids(subject.unit)
    )
    said = "a spare coil on each driver in turn: {}"
    return BatchLook(key="driver_pulls", scale="driver", value=dead.max(-1), text=said, quiet=True, of=where)


def _feeds_to_ground(subject: Subject, coils: Array) -> Iterator[BatchReading]:
    """Each feed to ground with its fuse out: its own leak, those of its returns through their coils, and those of the other feeds
    through the splice in which all of them meet."""
    unit, ground, ohms = subject.unit, to_case(subject, levered=False), wire_ohms(subject, ROOM)
    wires, places = control_of(unit).wires, [wire_place(unit, feed) for feed in feeds(unit)]
    leaks = np.stack([ground[:, place] for place in places], -1)
    for i, each in solenoids(unit):
        behind = ground[:, [wire_place(unit, wire) for wire in each.wires]].sum(-1)
        leaks[:, feeds(unit).index(each.feed)] += 1.0 / (coils[:, i] + _ohms(behind))
    through = 1.0 / (ohms[:, places] + _ohms(leaks))
    for i, feed in enumerate(feeds(unit)):
        others = through.sum(-1) - through[:, i]
        whole = leaks[:, i] + 1.0 / (ohms[:, places[i]] + _ohms(others))
        label = f"{wires[places[i]].label} to ground, fuse out"
        yield open_circuit(subject, f"{feed}_ground_ohm", label, _ohms(whole), INSULATION)


def _gaps(subject: Subject, wires: Array) -> Iterator[BatchReading]:
    """What loom and pins add to a thermistor, and what water across the plug takes off: at the controller less at the sensor's
    own pins, cold."""
    for i, each in sensors(subject.unit, "thermistor"):
        added = wires[:, [wire_place(subject.unit, wire) for wire in each.wires]].sum(-1)
        own = _own_ohms(subject, i)
        gap = seen_resistance(own, added, subject.parameter("sensor_leak", i)) - own
        label = f"{each.label}, at the controller less at its own pins"
        yield open_circuit(subject, f"{each.id}_ohm_gap", label, gap, LESS)


# ---------------------------------------------------------------------- switches and bus
def closed_empty(subject: Subject, place: int) -> Array:
    """Resistance [ohm] of a pressure switch without pressure, (n,): its contact, or what water lets past it."""
    stuck = subject.parameter("sensor_stuck", place) > OPEN_SHARE
    return np.where(stuck, CLOSED, _ohms(subject.parameter("sensor_leak", place)))


def switch_check(subject: Subject) -> BatchFinding:
    """Pressure switches without pressure, brake switch, and the pedal swept from stop to stop, engine off."""
    unit = subject.unit
    measured = [
        open_circuit(
            subject, f"{each.id}_off_ohm", f"{each.label}, engine off", closed_empty(subject, i), INSULATION
        )
        for i, each in pressure_switches(unit)
    ]
    rows = []
    for i, each in enumerate(control_of(unit).sensors):
        if each.reads == "brake":
            stuck = subject.parameter("sensor_stuck", i)
            rows.append(
                (f"{each.id}_free", "yes_no", stuck, f"{each.label} opens as the foot is lifted: {{}}")
            )
            label, travel = (
                f"Pedal travel until the {each.label} changes",
                np.where(stuck < OPEN_SHARE, TRAVEL, np.nan),
            )
            note = "it does not change in the whole travel"
            measured.append(subject.read(f"{each.id}_travel_in", label, travel, RULE, note=note))
        elif each.reads == "pedal":
            jumps = subject.parameter("sensor_jumps", i) * JUMPS_A_MILE
            rows.append((f"{each.id}_jump", "pedal", jumps, f"{each.label}, swept slowly: {{}}"))
    return BatchFinding(measured=tuple(measured), seen=batch_looks(*rows))


def bus_check(subject: Subject) -> BatchFinding:
    """Ohms between the bus wires with the battery off, their volts with the key on, and who answers."""
    ohms = bus_resistance(BUS_END, subject.parameter("bus_termination"), 0.0)
    levels = bus_levels(ohms, *BUS_SENDER)
    return BatchFinding(
        measured=(
            subject.read("ohm", "Bus, wire to wire, battery off", ohms, BUS_OHMS),
            subject.read("high_v", "Bus high, key on", _mostly_idle(levels.high), VOLTMETER),
            subject.read("low_v", "Bus low, key on", _mostly_idle(levels.low), VOLTMETER),
            missing(subject),
        ),
        seen=batch_looks(
            ("silent", "yes", silent(subject), "a controller on the list is silent: {}"), quiet=True
        ),
    )


def _mostly_idle(level: Array) -> Array:
    """Mean volts that a meter shows of a bus wire whose level while somebody sends is `level` [V]."""
    mean: Array = (1.0 - BUS_BUSY) * BUS_MIDDLE + BUS_BUSY * level
    return mean


def silent(subject: Subject) -> Array:
    """Modules that say nothing on the bus, (n,)."""
    return (subject.parameter("bus_wheels_silent") > OPEN_SHARE).astype(float)


def missing(subject: Subject) -> BatchReading:
    """How many controllers on the list do not answer, and which."""
    gone, modules = silent(subject), control_of(subject.unit).modules
    wheels = next((each.of for each in control_of(subject.unit).sensors if each.reads == "wheels"), "")
    notes = ((modules[wheels], gone > 0.0),) if wheels in modules else ()
    return subject.read("modules_missing", "Controllers that do not answer", gone, COUNT, notes=notes)
