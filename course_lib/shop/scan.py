"""Inspections with a scan tool while the vehicle stands: codes, live data, learned values, data of the controller; and the papers.

What a screen shows is what the controller believes or commands, never a pressure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Places
from course_lib.physics.trouble_code import SCALINGS, bytes_of, code_of, standard_value
from course_lib.shop.apply_chart import DRIVE, learns
from course_lib.shop.asked_gears import electric_of
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, Row, batch_looks
from course_lib.shop.circuits import only_with, pressure_switches
from course_lib.shop.graded_scales import sentence
from course_lib.shop.holders import pressed
from course_lib.shop.meter import COUNT, closed_empty, missing, silent
from course_lib.shop.order import PRESSURE_UNKNOWN
from course_lib.shop.procedure import Procedure
from course_lib.shop.service_manual import papers, supplies
from course_lib.shop.subject import COLD, AskedPoint, Subject
from course_lib.vehicle.actions import STORED, code_steps, lit
from course_lib.vehicle.code_tests import cranking_volts
from course_lib.vehicle.codes import freeze_frame
from course_lib.vehicle.control_spec import ActionWord
from course_lib.vehicle.control_tables import control_of

SCREEN_VOLTS = Instrument("V", 0.03, 1)
SCREEN_FAHRENHEIT = Instrument("\u00b0F", 1.5, signed=True)
FRAME_FAHRENHEIT, FRAME_MPH = Instrument("\u00b0F", 1.5), Instrument("mph", 0.5)
SHAFT = Instrument("rpm", 2)
LEARNED_TIME = Instrument("ms", 0.2, signed=True)  # read off a screen, which rounds and does not err
LEARNED_PRESSURE = Instrument("psi", 0.2, signed=True)
# What is learned goes up and down by a step for what each shift was like: where it stands when it is read is chance. The size of a
# step is invented.
LEARNED_BY = {"ms": 4.0, "psi": 1.0}
WORD = Instrument("", 0.1, most=-np.inf)  # the screen shows a word, which stands in the note
ENTERED, SPREAD = Instrument("%", 0.3, 1, signed=True), Instrument("%", 0.15, 1)
OFF_THE_BRAKE = 0.05  # pedal with which the foot is surely off the brake
STARVED = 9.6  # V while cranking, below which every controller starts anew and complains, common practice, no source
LETS_PAST = (
    1e5  # ohm past an open switch from which the controller takes it as closed, common practice, no source
)
# What a controller does that leaves nobody knowing what holds the clutches.
BY_DEFAULT: tuple[ActionWord, ...] = ("default_temperature", "line_full", "relay_off")
# Grades: of two vehicles with one fault the one has run a test often enough, the other not yet, or somebody has cleared it. Fitted:
# at 1.0 the odds after codes alone came truest (Brier score 0.297 of 600 vehicles held out; 0.323 as looks usually are).
SET_OR_NOT = 1.0
NAMES_A_CIRCUIT = "A code names a circuit; the part that is named is often sound."
SAVED = "Saved with their frames. They are deleted only for the drive with the scan tool, so that the tests can run."


# ---------------------------------------------------------------------- codes
def codes(subject: Subject) -> BatchFinding:
    """Every code of the unit: none, pending or stored; and how many controllers complain."""
    control, steps = control_of(subject.unit), code_steps(subject.condition.memory, subject.unit)
    sent = sorted((bytes_of(code.id), i) for i, code in enumerate(control.codes))
    seen = [
        BatchLook(
            key=f"code_{code_of(*two_bytes)}",
            scale="code",
            value=steps[:, i].astype(float),
            text=f"{code_of(*two_bytes)}, {control.codes[i].label}: {{}}",
            quiet=True,
            sigma=SET_OR_NOT,
        )
        for two_bytes, i in sent
    ]
    unknown = [bool(set(control.actions[code.action].does) & set(BY_DEFAULT)) for code in control.codes]
    by_default = ((steps == STORED) & np.array(unknown, bool)).any(-1)
    said = "a code is stored, and the controller gives pressure {}"
    seen += batch_looks((PRESSURE_UNKNOWN, "by_default", by_default.astype(float), said), quiet=True)
    complain = _complaining(subject, steps)
    many = subject.read("controllers", "Controllers that complain", complain, COUNT)
    return BatchFinding(measured=(many, *_frame(subject, steps)), seen=tuple(seen), caption=_saved)


def _first_frame(subject: Subject, steps: Places) -> dict[str, Array]:
    """What the vehicle was doing when its first code was stored, by name of a frame's entry, (n,); NaN where none is."""
    rows = np.flatnonzero((steps == STORED).any(-1))
    frame = {
        name: np.full(subject.size, np.nan)
        for name in ("code", "temperature", "road_speed", "volts", "gear", "locked")
    }
    if rows.size:
        some = subject.rows(rows)
        seen = freeze_frame(some.cleared(), some.condition.memory, some.by_chance(4))
        for name in frame:
            frame[name][rows] = getattr(seen, name)
    return frame


def _frame(subject: Subject, steps: Places) -> Iterator[BatchReading]:
    """The first code's freeze frame, as a screen shows it."""
    unit, frame = subject.unit, _first_frame(subject, steps)
    of = tuple((f"at {code}", frame["code"] == i) for i, code in enumerate(control_of(unit).code_ids))
    gears = tuple((gear, frame["gear"] == unit.gear_index(gear)) for gear in unit.gears)
    on = ("on", frame["locked"] == 1.0), ("off", frame["locked"] == 0.0)
    speed = units.to_mph(_sent("0D", 3.6 * frame["road_speed"]) / 3.6)
    for key, label, value, instrument, notes in (
        ("tft_f", "fluid", units.to_fahrenheit(frame["temperature"]), FRAME_FAHRENHEIT, of),
        ("mph", "road speed", speed, FRAME_MPH, of),
        ("volts", "supply", _sent("42", frame["volts"]), SCREEN_VOLTS, of),
        ("gear", "gear commanded", _forward(subject, frame["gear"]), WORD, gears),
        ("lockup", "lock-up commanded", frame["locked"], WORD, on),
    ):
        key, label = f"frame_{key}", f"Freeze frame, {label}"
        yield subject.read(key, label, value, instrument, notes=notes, note="no code is stored")


def _sent(item: str, value: Array) -> Array:
    """A standard data item as it comes over the wire: in whole steps, in one byte or two."""
    count, scale, offset, _ = SCALINGS[item]
    steps = np.clip(np.round((value - offset) / scale), 0.0, 256.0**count - 1.0)
    return np.asarray(standard_value(item, *((steps,) if count == 1 else (steps // 256.0, steps % 256.0))))


def _forward(subject: Subject, row: Array) -> Array:
    """Number of the forward gear in each row of the gear table, 0 for what is none, NaN where there is no row."""
    drive = subject.unit.levers[DRIVE]
    number = np.array([drive.index(gear) + 1 if gear in drive else 0 for gear in subject.unit.gears], float)
    return np.where(np.isfinite(row), number[np.nan_to_num(row).astype(int)], np.nan)


def _saved(row: Row) -> list[str]:
    found = [look for key, look in row.looks.items() if key.startswith("code_") and look.grade]
    return [NAMES_A_CIRCUIT, SAVED] if found else []


def _complaining(subject: Subject, steps: Places) -> Array:
    """How many controllers have a code of their own, (n,): all that answer where one is silent or the start starves them."""
    control = control_of(subject.unit)
    keepers = [code.keeper for code in control.codes]
    stored = steps == STORED
    own = [stored[:, [each == name for each in keepers]].any(-1) for name in sorted(set(keepers))]
    everybody = (cranking_volts(subject.plant)[:, 0] < STARVED) | (silent(subject) > 0.0)
    number: Array = np.where(everybody, 1.0 + len(control.modules) - silent(subject), np.sum(own, axis=0))
    return number


# ---------------------------------------------------------------------- papers
def service_info(subject: Subject) -> BatchFinding:
    """The diagram in sentences, which circuits share a feed and a ground; and the tables of the manual."""
    told = [sentence(each) for each in supplies(subject.unit)]
    drawn = batch_looks(("diagram", "diagram", np.zeros(subject.size), "{}"), quiet=True)
    return BatchFinding(seen=drawn, caption=lambda _row: told, papers=papers(subject.unit))


# ---------------------------------------------------------------------- parked
def data_parked(subject: Subject) -> Procedure:
    """Live data in the morning after a damp night, before anything moves: the lever through its places, engine idling."""
    levers = tuple(subject.unit.levers)
    morning = {"temperature": COLD, "cold_soaked": 1.0, "wet": 1.0}
    revved = AskedPoint("P", throttle=OFF_THE_BRAKE, **morning)
    work = yield [*(AskedPoint(lever, **morning) for lever in levers), revved]
    electric, park = electric_of(work), levers.index("P")
    warmer = (electric.believed_temperature[:, park] - COLD) * units.FAHRENHEIT_STEPS
    differs = (electric.lever_seen[:, :-1] != np.arange(len(levers))).any(-1)
    turning = np.abs(units.to_rpm(output_shown(subject, electric.believed_speed)[:, park]))
    agrees = (
        "range_agrees",
        "yes_no",
        differs.astype(float),
        "range on the screen agrees with the lever: {}",
    )
    brake = ("brake_on", "yes", electric.brake_on[:, -1].astype(float), "brake on the screen, foot off: {}")
    rows = [*only_with(subject.unit, "lever", agrees), *only_with(subject.unit, "brake", brake)]
    for i, each in pressure_switches(subject.unit):
        shut = (closed_empty(subject, i) < LETS_PAST).astype(float)
        rows.append((f"{each.id}_closed", "yes", shut, f"{each.label} closed, engine off: {{}}"))
    fluid = subject.read("tft_minus_ambient_f", "Fluid on the screen less air", warmer, SCREEN_FAHRENHEIT)
    output = subject.read("oss_rpm", "Output speed on the screen, standing", turning, SHAFT)
    return BatchFinding(
        measured=(
            subject.read("volts_v", "Volts on the screen, idling", electric.volts[:, park], SCREEN_VOLTS),
            *only_with(subject.unit, "fluid_temperature", fluid),
            *only_with(subject.unit, "output_speed", output),
            missing(subject),
        ),
        seen=batch_looks(*rows),
    )


def output_shown(subject: Subject, believed: Array) -> Array:
    """Speed of the output shaft on the screen [rad/s], (n, m), behind a road speed that the controller believes [m/s]."""
    tire, axle, scale = (
        subject.parameter(name)[:, None]
        for name in ("vehicle_tire_radius", "vehicle_axle", "control_tire_scale")
    )
    turns: Array = believed * scale * axle / tire
    return turns


def adapts_read(subject: Subject) -> BatchFinding:
    """What the controller has learned: fill times by element, pressures by shift, each against new; and whether a code has stopped
    it: then they stand where they stood."""
    unit, p, memory = subject.unit, subject.plant.p, subject.condition.memory
    fill = np.clip(memory.fill[:, 0] + p.control_stale_fill, p.control_fill_least, p.control_fill_most)
    pressure = memory.pressure[:, 0] + p.control_stale_pressure
    pressure = np.clip(pressure, p.control_pressure_least, p.control_pressure_most)
    fills = [
        subject.read(
            f"fill_{each.stem}_ms",
            f"Learned fill time, {each.label}",
            1e3 * fill[:, each.column],
            LEARNED_TIME,
        )
        for each in pressed(unit)
        if learns(unit, each.element.id)
    ]
    pressures = [
        subject.read(
            f"pressure_{shift.id}_psi",
            f"Learned pressure, {shift.label}",
            units.to_psi(pressure[:, i]),
            LEARNED_PRESSURE,
        )
        for i, shift in enumerate(unit.shifts)
    ]
    every = (replace(each, apart=LEARNED_BY[each.unit]) for each in (*fills, *pressures))
    return BatchFinding(measured=tuple(every), seen=(_stopped(subject),))


def _stopped(subject: Subject) -> BatchLook:
    """Whether a code has stopped the learning, and which."""
    control, lamps = control_of(subject.unit), lit(subject.condition.memory, subject.unit)
    freezes = [
        (i, code)
        for i, code in enumerate(control.codes)
        if "freeze_adapts" in control.actions[code.action].does
    ]
    stops = lamps[:, [i for i, _ in freezes]]
    # among several the one whose frame was kept, if it does so: it came first
    several = stops.sum(-1, keepdims=True) > 1
    first = _first_frame(subject, code_steps(subject.condition.memory, subject.unit) * several)["code"]
    own = stops & (first[:, None] == [i for i, _ in freezes])
    named = np.where(own.any(-1, keepdims=True), own, stops)
    return BatchLook(
        key="learning_stopped",
        scale="yes",
        value=stops.any(-1).astype(float),
        text="learning stopped by a code, the values stand as they stood then: {}",
        of=tuple((code.id, code.id, named[:, at]) for at, (_, code) in enumerate(freezes)),
        sigma=SET_OR_NOT,
    )


def data_set(subject: Subject) -> BatchFinding:
    """Tire and axle as entered against the vehicle, whether the controllers belong together, and four sidewalls."""
    entered = 100.0 * (subject.parameter("control_tire_scale") - 1.0)
    spread = 100.0 * subject.parameter("bus_wheel_spread")
    wrong = subject.parameter("control_wrong_number")
    said = "numbers of engine and transmission controller belong together: {}"
    return BatchFinding(
        measured=(
            subject.read(
                "tire_pct", "Revolutions for a distance, entered against sidewall", entered, ENTERED
            ),
            subject.read("sidewall_spread_pct", "Largest tire against smallest, sidewalls", spread, SPREAD),
        ),
        seen=batch_looks(("calibration_matches", "yes_no", wrong, said)),
    )
