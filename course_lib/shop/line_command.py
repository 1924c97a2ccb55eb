"""A gauge on the line against the pressure that is commanded, and solenoids commanded one at a time.

What a screen calls line pressure is a command; only the gauge says what oil makes of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.physics.solenoid import linear_pressure, valve_pressure, wanted_current
from course_lib.shop.apply_chart import DRIVE, applied
from course_lib.shop.asked_gears import asked_for, electric_of, gear_points, reverse_point
from course_lib.shop.batch import BatchFinding, BatchReading, Instrument, always, batch_looks
from course_lib.shop.circuits import feeds, line_solenoid, lockup_solenoid, solenoids
from course_lib.shop.gauges import cruise, first_where, line_reading
from course_lib.shop.holders import pressed
from course_lib.shop.meter import circuit_ohms
from course_lib.shop.procedure import Procedure, as_one
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import Workings
from course_lib.vehicle.plant import MISFIRE_SHAKES

AGAINST = Instrument("psi", 1.5, signed=True)
TAP = Instrument("psi", 1.5)
DIPPED_AT = units.from_rpm(1000)
REVVED = units.from_rpm(2500)
FULL_SPEED = units.from_mph(5)
BACKING = units.from_mph(3)
BEND, BEND_SPEED = 0.25, units.from_mph(30)  # g of a bend, and how fast it is taken
LOCKED = units.from_psi(82.0)  # Pa, middle of what a locked clutch is commanded
STEPPED = 0.3  # s after the pedal goes down, when the gauge is read
FULL, LEAST = 1.0, 0.0  # of the line that a scan tool can command
COMMANDED_RPM = units.from_rpm(2000)
CRUISE_PEDAL = 0.35
COMMAND_ONLY = "What the screen shows is a command; the gauge says what the oil does."


def line_command(subject: Subject) -> Procedure:
    """Gauge less command at several loads, dips of each gear, the needle in a bend, the lock-up tap."""
    return as_one([part(subject) for part in (_against_command, _dips, _in_a_bend, _lockup_tap)])


def _against_command(subject: Subject) -> Procedure:
    full = AskedPoint(DRIVE, throttle=FULL, road_speed=FULL_SPEED, temperature=HOT)
    asked = {
        "idle": ("D, idle", AskedPoint(DRIVE, temperature=HOT)),
        "2500": ("P, 2,500 rpm", AskedPoint("P", engine_speed=REVVED, temperature=HOT)),
        "full": ("D, full pedal", full),
    }
    back = reverse_point(subject, LEAST, 0.0)
    if back is not None:
        asked["r"] = (f"{back.lever}, idle", back)
    regulated = line_solenoid(subject.unit) is not None
    if regulated:
        asked["step"] = (f"{STEPPED:g} s after the pedal goes down", replace(full, pressed_for=STEPPED))
    work = yield [point for _, point in asked.values()]
    gaps = gap_to_command(work)
    meant = "command" if regulated else "what the spring of the regulator sets"
    found = [
        subject.read(f"gap_{name}_psi", f"Gauge less {meant}, {said}", gaps[:, i], AGAINST)
        for i, (name, (said, _)) in enumerate(asked.items())
    ]
    return BatchFinding(measured=tuple(found), caption=always(COMMAND_ONLY) if regulated else None)


def gap_to_command(work: Workings) -> Array:
    """Line pressure less what is commanded, (n, m) psi."""
    gap: Array = units.to_psi(work.line - electric_of(work).wanted_line)
    return gap


def _dips(subject: Subject) -> Procedure:
    """How far the taps of a gear's clutches stand under what their valves give: what leaks behind them, and no more."""
    gears = {str(i + 1): (gear, point) for i, (gear, point) in enumerate(gear_points(subject).items())}
    back = reverse_point(subject, LIGHT_PEDAL, BACKING)
    if back is not None:
        gears["r"] = subject.unit.levers[back.lever][0], back
    points = [replace(point, engine_speed=DIPPED_AT) for _, point in gears.values()]
    work, found = (yield points), []
    under = units.to_psi(given(subject, work, [point.lever for point in points]) - work.circuit)
    for name, (gear, _) in gears.items():
        there = asked_for(subject, electric_of(work), points, gear)
        most = np.where(applied(subject.unit, gear) > 0.0, under, 0.0).max(-1)
        dip = first_where(there, np.maximum(most, 0.0))
        label = f"Clutch tap below valve pressure, {gear}, 1,000 rpm"
        note = "that gear is not commanded at any of the speeds"
        found.append(subject.read(f"dip_{name}_psi", label, dip, TAP, note=note))
    return BatchFinding(measured=(*found, *_taps(subject, work)))


def _taps(subject: Subject, work: Workings) -> Iterator[BatchReading]:
    """The tap of each clutch less what is commanded of it, at the first point where a gear is commanded that asks its solenoid."""
    electric, chart = electric_of(work), control_of(subject.unit).commanded
    asked = np.minimum(electric.wanted_pressure, electric.wanted_line[..., None])
    off = units.to_psi(work.circuit - asked)
    for each in pressed(subject.unit):
        gears = [gear for gear in subject.unit.levers[DRIVE] if each.element.id in chart[gear]]
        rows = [subject.unit.gear_index(gear) for gear in gears]
        there: Flags = np.isin(electric.wanted_gear, rows)
        value = first_where(there, off[..., each.column])
        at = first_where(there, electric.wanted_gear.astype(float))
        label, note = f"Clutch tap less its command, {each.label}", "no gear that asks for it is commanded"
        notes = tuple((f"in {gear}", at == row) for gear, row in zip(gears, rows, strict=True))
        yield subject.read(f"tap_{each.stem}_psi", label, value, AGAINST, notes=notes, note=note)


def given(subject: Subject, work: Workings, levers: Sequence[str]) -> Array:
    """Pressure that valve and line give each element, (n, m, E) Pa: the whole line where a lever's oil lifts it past its valve."""
    unit, control = subject.unit, control_of(subject.unit)
    found = np.repeat(work.line[..., None], len(unit.elements), -1)
    for i, each in solenoids(unit):
        if each.drives in unit.element_ids:
            lifted = np.array([each.drives in control.ports[lever].line for lever in levers])
            pressure = np.where(lifted, np.inf, electric_of(work).pressure[..., i])
            found[..., unit.element_ids.index(each.drives)] = np.minimum(pressure, work.line)
    return found


def _in_a_bend(subject: Subject) -> Procedure:
    bend = AskedPoint(DRIVE, throttle=LIGHT_PEDAL, road_speed=BEND_SPEED, tilt=BEND, temperature=HOT)
    work = yield [bend]
    swing = line_reading(subject, work, 0, "bend", "in a bend").swing_width
    return BatchFinding(measured=(subject.read("jitter_psi", "Swing of the needle, in a bend", swing, TAP),))


def _lockup_tap(subject: Subject) -> Procedure:
    """Pressure at the lock-up tap, cruising, with a fixed pressure commanded by the scan tool."""
    work = yield [replace(cruise(subject), temperature=HOT)]
    behind = lockup_solenoid(subject.unit)
    if behind is None:
        return BatchFinding()
    place, thickness = behind[0], subject.plant.thickness(subject.condition, np.array([[HOT]]))[:, 0]
    law = [
        subject.parameter(f"solenoid_{name}", place)
        for name in ("zero_current", "full_current", "full_pressure")
    ]
    sheet = [
        subject.sheet.parameter(f"solenoid_{name}", place)
        for name in ("zero_current", "full_current", "full_pressure")
    ]
    volts = electric_of(work).feed_volts[:, 0, feeds(subject.unit).index(behind[1].feed)]
    flows = np.minimum(wanted_current(LOCKED, *sheet), volts / circuit_ohms(subject, HOT)[:, place])
    bore, spool = (subject.parameter(f"solenoid_{name}", place) for name in ("bore", "hysteresis"))
    tap = np.minimum(valve_pressure(linear_pressure(flows, *law), bore, spool, thickness), work.line[:, 0])
    asked = electric_of(work).lockup_command[:, 0] > 0.0
    tap = np.where(asked, tap, 0.0)
    label = f"Lock-up tap, cruising, {units.to_psi(LOCKED):.0f} psi commanded where the controller locks up"
    unasked = (("lock-up is not commanded", ~asked),)
    return BatchFinding(
        measured=(subject.read("tcc_apply_psi", label, units.to_psi(tap), TAP, notes=unasked),)
    )


# ---------------------------------------------------------------------- solenoids commanded
def actuator(subject: Subject) -> Procedure:
    """Line commanded from least to full with the gauge on; on-off solenoids clicked; lock-up let go while it shudders."""
    turning = AskedPoint("P", engine_speed=COMMANDED_RPM, temperature=HOT)
    asked = [
        replace(turning, signal=LEAST),
        replace(turning, signal=FULL),
        AskedPoint(DRIVE, temperature=HOT),
    ]
    work = yield asked
    follows = units.to_psi(work.line[:, 1] - work.line[:, 0])
    ohms = circuit_ohms(subject, HOT)
    label = "Line follows its command, least to full, P, 2,000 rpm"
    rows: list[tuple[str, str, Array, str]] = []
    for i, each in solenoids(subject.unit):
        if each.law == "on_off":
            flows = electric_of(work).feed_volts[:, 2, feeds(subject.unit).index(each.feed)] / ohms[:, i]
            silent = (flows < subject.parameter("solenoid_full_current", i)).astype(float)
            rows.append((f"click_{each.id}", "click", silent, f"{each.label}, commanded on and off: {{}}"))
    left = MISFIRE_SHAKES * subject.parameter("engine_misfire") * CRUISE_PEDAL
    said = "shudder that is left with the lock-up commanded off, same speed and load: {}"
    line = subject.read("line_follows_psi", label, follows, AGAINST)
    if lockup_solenoid(subject.unit) is not None:
        rows.append(("tcc_off_judder", "judder", left, said))
    return BatchFinding(
        measured=() if line_solenoid(subject.unit) is None else (line,), seen=batch_looks(*rows)
    )
