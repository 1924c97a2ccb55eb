"""Inspections with current in the circuit: commanded against measured, and where the volts stay between battery and solenoid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.base.arrays import Array
from course_lib.shop.apply_chart import DRIVE
from course_lib.shop.asked_gears import electric_of, gear_points, locked_points
from course_lib.shop.batch import BatchFinding, BatchReading, Instrument, always
from course_lib.shop.circuits import (
    feeds,
    lockup_solenoid,
    pressure_solenoids,
    solenoids,
    supply_to,
    wire_place,
)
from course_lib.shop.meter import VOLTMETER, wire_ohms
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.vehicle.code_tests import STARTER
from course_lib.vehicle.command import Electric
from course_lib.vehicle.control_spec import LOCKUP
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.wiring import plugged

CLAMP = Instrument("A", 0.01, 2, signed=True)
DUTY = Instrument("%", 0.3, most=95.0)
SENSOR_CURRENT = (
    0.015  # A through the sensors' ground: one of three wires and one thermistor, common practice, no source
)
OPEN = 1e6  # ohm, past which a way is parted
FLOWS = 0.005  # A, under which a clamp shows no current
HOT_GAP = "Measured less commanded, warmed through"
NO_CURRENT = "no current flows"
PULLING = 1.0  # pedal at which a feed is loaded as hard as it ever is
ELECTRICAL_ONLY = "A current that is as commanded says nothing of the oil behind it."
UNDER_LOAD = "Measured with the loads on: without current a sound circuit shows no drop, a parted one the whole supply."


# ---------------------------------------------------------------------- command and current
def command_actual(subject: Subject) -> Procedure:
    """Clamp less screen for every pressure solenoid in the gear that asks it for most, as hot as the owner gets it, and the duty
    there in fluid of the sheet's temperature; again with lock-up on."""
    unit, alone, locked = subject.unit, gear_points(subject), locked_points(subject)
    gears = [*alone, *locked]
    hot = [*alone.values(), *locked.values()]
    through = [replace(each, temperature=np.nan) for each in hot]
    work = yield [*through, *hot]
    wanted = _wanted(electric_of(subject.sheet_at(through)))[0]
    gap = _gap(subject, electric_of(work))
    duty = 100.0 * electric_of(work).duty[:, len(through) :]  # hotter coils alone would raise it
    behind, count, measured = lockup_solenoid(unit), len(alone), []
    for i, each in pressure_solenoids(unit):
        own = each.drives == LOCKUP
        at = int(wanted[count:, i].argmax() + count if own and locked else wanted[:count, i].argmax())
        measured += _at(subject, each.id, f"{each.label}, {gears[at]}", gap[:, at, i], duty[:, at, i])
        if locked and behind is not None and each.feed == behind[1].feed and not own:
            at = int(wanted[count:, i].argmax()) + count
            key, label = f"gap_{each.id}_lockup_a", f"{each.label}, {gears[at]} with lock-up on"
            measured.append(subject.read(key, f"{HOT_GAP}, {label}", gap[:, at, i], CLAMP))
    return BatchFinding(measured=tuple(measured), caption=always(ELECTRICAL_ONLY))


def _wanted(electric: Electric) -> Array:
    """Current asked of each solenoid, (n, m, S) A; 0 for one that is simply on."""
    return np.where(np.isfinite(electric.wanted_current), electric.wanted_current, 0.0)


def _gap(subject: Subject, electric: Electric) -> Array:
    """What the clamp reads on the wire of each driver less what is commanded, (n, m, S) A, whichever coil it is plugged on."""
    clamped = plugged(subject.plant, electric.current)
    return np.where(np.isfinite(electric.wanted_current), clamped - electric.wanted_current, 0.0)


def _at(subject: Subject, name: str, label: str, gap: Array, duty: Array) -> list[BatchReading]:
    return [
        subject.read(f"gap_{name}_a", f"{HOT_GAP}, {label}", gap, CLAMP),
        subject.read(f"duty_{name}_pct", f"Duty, {label}", duty, DUTY),
    ]


# ---------------------------------------------------------------------- voltage drops
def feed_currents(subject: Subject, electric: Electric) -> Array:
    """Mean current through each feed, (n, m, F) A: a pulsed driver draws only while it is on."""
    drawn = electric.duty * electric.current
    of = np.array([feeds(subject.unit).index(each.feed) for _, each in solenoids(subject.unit)])
    return np.stack([drawn[..., of == i].sum(-1) for i in range(len(feeds(subject.unit)))], -1)


def volt_drop(subject: Subject) -> Procedure:
    """Battery to each feed pin and across the relay, pulling hard in every gear, and again with lock-up on."""
    unit, hard, locked = subject.unit, gear_points(subject, PULLING), locked_points(subject)
    work = yield [*hard.values(), *locked.values()]
    currents, ohms = feed_currents(subject, electric_of(work)), wire_ohms(subject, HOT)
    wires, count = control_of(unit).wires, len(hard)
    shared, behind, measured = (
        supply_to(unit, wires[wire_place(unit, feeds(unit)[0])].ends[0]),
        lockup_solenoid(unit),
        [],
    )
    whole = currents.sum(-1)
    dead = whole.max(-1) < FLOWS
    for i, feed in enumerate(feeds(unit)):
        place = wire_place(unit, feed)
        drop = _volts(subject, (ohms[:, shared].sum(-1), whole), (ohms[:, place], currents[..., i]))
        label, none = (
            f"Battery to {wires[place].label}",
            ((NO_CURRENT, dead | (currents[..., i].max(-1) < FLOWS)),),
        )
        value = drop[:, :count].max(-1)
        measured.append(subject.read(f"{feed}_v", f"{label}, loads on", value, VOLTMETER, notes=none))
        if locked and behind is not None and feed == behind[1].feed:
            label, value = f"{label}, lock-up on as well", drop[:, count:].max(-1)
            measured.append(subject.read(f"{feed}_lockup_v", label, value, VOLTMETER, notes=none))
    for place in (i for i in shared if wires[i].kind == "relay"):
        drop = _volts(subject, (ohms[:, place], whole)).max(-1)
        label = f"Across the {wires[place].label}"
        measured.append(subject.read("relay_v", label, drop, VOLTMETER, notes=((NO_CURRENT, dead),)))
    return BatchFinding(measured=tuple(measured), caption=always(UNDER_LOAD))


def _volts(subject: Subject, *pieces: tuple[Array, Array]) -> Array:
    """Drop (n, ...) over pieces in a row, each of some ohms (n,) with its current (n, ...): over what is parted, with its loads
    still behind it, stands the whole supply, and nowhere more."""
    many = (-1, *[1] * (pieces[0][1].ndim - 1))
    parted = np.max([ohms for ohms, _ in pieces], axis=0).reshape(many) >= OPEN
    supply = subject.parameter("supply_charge").reshape(many)
    drop = sum((ohms.reshape(many) * current for ohms, current in pieces), np.zeros_like(pieces[0][1]))
    return np.where(parted, supply, np.minimum(drop, supply))


def ground_drop(subject: Subject) -> Procedure:
    """Every ground under its load: the controller's with the solenoids on and the plugs wet, the engine's while it is cranked."""
    control = control_of(subject.unit)
    work = yield [AskedPoint(DRIVE, temperature=HOT, wet=1.0)]
    electric, ohms = electric_of(work), wire_ohms(subject, HOT)
    load = electric.volts[:, 0] / subject.parameter("control_load")
    through = (electric.duty * electric.measured).sum(-1)[:, 0] + load
    measured = []
    for i, wire in enumerate(control.wires):
        if wire.path == "ground":
            stem, cranked = wire.id.removeprefix("ground_"), "case" in wire.ends
            current = np.full(subject.size, STARTER) if cranked else through
            key, said = (f"{stem}_crank_v", "cranking") if cranked else (f"{stem}_v", "loads on")
            drop = _volts(subject, (ohms[:, i], current))
            measured.append(subject.read(key, f"{wire.label}, {said}", drop, VOLTMETER))
        elif sum(wire.id in each.wires for each in control.sensors) > 1:
            drop = _volts(subject, (ohms[:, i], np.full(subject.size, SENSOR_CURRENT)))
            key = f"{wire.id.removeprefix('wire_')}_v"
            measured.append(subject.read(key, f"{wire.label}, sensors on", drop, VOLTMETER))
    return BatchFinding(measured=tuple(measured), caption=always(UNDER_LOAD))
