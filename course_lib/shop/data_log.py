"""The road with a scan tool recording: ratios, slip, speeds that vanish, and what pressure is commanded.

The log takes a sample some eight times a second, so what lasts a twentieth of a second may be missed: that is a chance, no reading.
Codes are saved and cleared before, so the drive shows the vehicle before a test fails again; whether it then drives in its
emergency gear is looked at as it came.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.shop.apply_chart import DRIVE, ratio
from course_lib.shop.asked_gears import asked_for, electric_of, gear_points, locked_points, reverse_point
from course_lib.shop.batch import (
    TACHOMETER,
    BatchFinding,
    BatchLook,
    BatchReading,
    Instrument,
    Notes,
    always,
    batch_looks,
    trace,
)
from course_lib.shop.circuits import line_solenoid, lockup_solenoid, only_with, sensors
from course_lib.shop.findings import Trace
from course_lib.shop.gauges import cruise, got_there
from course_lib.shop.mobility import NOT_REACHED, where_reached
from course_lib.shop.procedure import Procedure, as_one
from course_lib.shop.scan import output_shown
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.vehicle.beliefs import sensed_temperature
from course_lib.vehicle.command import Electric
from course_lib.vehicle.control_tables import sensor_that
from course_lib.vehicle.felt_troubles import LIGHT_PEDAL
from course_lib.vehicle.operating_point import Workings
from course_lib.vehicle.plant import MISFIRE_SHAKES

HALF_PEDAL, REFERENCE_PEDAL = (
    0.5,
    0.6,
)  # with which ratios are read, and pressure against the sheet in second gear
JUST_PAST = 1.09  # of the speed of the upshift into second: there the converter still helps
BACKING, RAMP, RAMP_PEDAL = units.from_mph(3), 0.14, 0.6  # up a ramp
SIXTY = units.from_mph(60)
ROUGH = 0.6  # share of the worst road over which the log is driven
DRIVEN = 30.0 * 60.0  # s
OPEN_FOR = 0.25  # s that an opening lasts on average, invented
MISSES = 400.0  # strokes that miss during a pull of a log, per share of them, common practice, no source
SWING = 120.0  # rpm that the slip of a lock-up clutch swings when it shudders in earnest, common practice, no source
MILES = 20.0  # driven in that time
MOVES = 0.05  # of a sound vehicle's pull, under which it does not drive
LEAST_TURNING = units.from_rpm(300)
RATIO, SLIP = Instrument("%", 0.25, 1, signed=True, most=100.0), Instrument("rpm", 5, signed=True)
SHARE, SCREEN_PSI = Instrument("%", 0.1, most=100.0), Instrument("psi", 1.5)
MPH, HEAT = Instrument("mph", 0.15, 1), Instrument("\u00b0F", 1.5)
NOT_COMMANDED = "that gear is not commanded"
NO_SPEED = "a speed is missing on the screen"
SAMPLES_A_SECOND, HELD, PAUSE = 8, 2, 1  # of the log; s that each gear is held, and s between two
SAMPLES = "The log has eight samples a second; what is shorter can fall between two of them."
DELETED = "Driven with the codes saved and deleted; what a stored code makes of it is met on the road test."


def data_road(subject: Subject) -> Procedure:
    """Everything the log shows, part by part."""
    slips = lockup_solenoid(subject.unit) is not None and sensor_that(subject.unit, "turbine_speed")
    parts = (_ratios, _lockup, _believed, _vanishing) if slips else (_ratios, _believed, _vanishing)
    return as_one([part(subject) for part in parts])


# ---------------------------------------------------------------------- ratios
def _ratios(subject: Subject) -> Procedure:
    """Ratio on the screen against the sheet, in every gear that is commanded, half pedal as far as driven; up a ramp in R."""
    half = {**gear_points(subject, LIGHT_PEDAL, np.nan), **gear_points(subject, HALF_PEDAL, np.nan)}
    gears = {str(place + 1): each for place, each in enumerate(half.items())}
    back = reverse_point(subject, RAMP_PEDAL, BACKING)
    if back is not None:
        gears["r"] = subject.unit.levers[back.lever][0], replace(back, tilt=RAMP, temperature=np.nan)
    asked = [point for _, point in gears.values()]
    work = yield asked
    electric, there = electric_of(work), got_there(subject, asked)
    found = []
    for i, (name, (gear, _)) in enumerate(gears.items()):
        off = ratio_error(subject, electric, gear)[:, i]
        meant = there[:, i] & asked_for(subject, electric, asked, gear)[:, i]
        notes = (
            (NOT_REACHED, ~there[:, i]),
            (NOT_COMMANDED, ~meant),
            (NO_SPEED, np.isnan(off)),
            ("over 100 %: the output hardly turns", off >= RATIO.most),
        )
        key, label = f"ratio_error_{name}_pct", f"Ratio against the sheet, {gear}, {_how(asked[i])}"
        found.append(subject.read(key, label, np.where(meant, off, np.nan), RATIO, notes=notes))
    told = only_with(subject.unit, "turbine_speed", *found)
    return BatchFinding(measured=told, caption=always(SAMPLES, DELETED), traces=_log(subject, asked, work))


def _how(point: AskedPoint) -> str:
    """With which pedal a gear pulls in the log: the top ones are driven with a light one, for the sake of the speed."""
    if point.tilt > 0.0:
        return "up a ramp"
    return "half pedal" if point.throttle == HALF_PEDAL else "light pedal"


def ratio_error(subject: Subject, electric: Electric, gear: str) -> Array:
    """How far turbine speed over output speed, both as the screen shows them, is from the ratio of a gear, (n, m) percent."""
    output = output_shown(subject, electric.believed_speed)
    wanted = abs(ratio(subject.unit, gear)) * output
    with np.errstate(invalid="ignore", divide="ignore"):
        error = 100.0 * (electric.believed_turbine / wanted - 1.0)
    return np.where(np.isfinite(error), error, np.nan)


# ---------------------------------------------------------------------- lock-up
def _lockup(subject: Subject) -> Procedure:
    """The lock-up clutch cruising: command, slip, and how it swings; and the slip of the lowest gear that pulls with it on."""
    locked = locked_points(subject)
    low = next(iter(locked), None)
    asked = [cruise(subject), *(replace(point, temperature=np.nan) for point in locked.values())]
    work = yield asked
    electric, there = electric_of(work), got_there(subject, asked)
    told: Flags = (electric.lockup_command > 0.0) & there
    slip = units.to_rpm(np.where(told, work.engine_speed - electric.believed_turbine, -np.inf).max(-1))
    swing = (_swing(subject, asked, work) * told).max(-1)
    label, cruising = "Lock-up clutch, steady cruise", ((NOT_REACHED, ~there[:, 0]),)
    off: Notes = (NOT_REACHED, np.all(~there, axis=-1)), ("lock-up is not commanded", np.all(~told, axis=-1))
    commanded = 100.0 * electric.lockup_command[:, 0]
    found = [
        subject.read("tcc_command_pct", f"{label}, commanded", commanded, SHARE).left_out(cruising),
        subject.read("tcc_slip_rpm", "Slip of the lock-up clutch, cruising and pulling", slip, SLIP).left_out(
            off
        ),
        subject.read("tcc_swing_rpm", "Swing of that slip, cruising and pulling", swing, TACHOMETER).left_out(
            off
        ),
    ]
    if low is not None:
        name = subject.unit.levers[DRIVE].index(low) + 1
        turning = abs(ratio(subject.unit, low)) * output_shown(subject, electric.believed_speed)
        slip = units.to_rpm(electric.believed_turbine - turning)[:, 1]
        meant = electric.wanted_gear[:, 1] == subject.unit.gear_index(low)
        label = f"Slips by, {low}, pulling with lock-up on"
        reading = subject.read(f"slip_{name}_lockup_rpm", label, slip, SLIP)
        found.append(reading.left_out(((NOT_REACHED, ~there[:, 1]), (NOT_COMMANDED, ~meant))))
    return BatchFinding(measured=tuple(found))


def _swing(subject: Subject, asked: list[AskedPoint], work: Workings) -> Array:
    """How far [rpm] the slip of the lock-up clutch swings at each point, (n, m): as its lining shakes the vehicle, not as
    the engine does."""
    misfires = MISFIRE_SHAKES * subject.parameter("engine_misfire")[:, None]
    shaking = work.judder - misfires * np.array([point.throttle for point in asked])
    swing: Array = SWING * np.clip(shaking, 0.0, 1.0) * (work.lockup_slip > 0.0)
    return swing


# ---------------------------------------------------------------------- what it believes
def _believed(subject: Subject) -> Procedure:
    """Speeds, temperature, commanded pressure and misfires, and whether it drives in its emergency gear as it came."""
    pull = JUST_PAST * float(subject.sheet.plant.controls.upshift_speeds(REFERENCE_PEDAL)[0, 0])
    second = AskedPoint(DRIVE, throttle=REFERENCE_PEDAL, road_speed=pull)
    fast = AskedPoint(DRIVE, throttle=HALF_PEDAL, road_speed=SIXTY)
    asked = [second, fast, replace(second, acting=1.0)]
    work = yield asked
    electric, unit = electric_of(work), subject.unit
    in_second = electric.wanted_gear[:, 0] == unit.gear_index(unit.levers[DRIVE][1])
    commanded = np.where(in_second, units.to_psi(electric.wanted_line[:, 0]), np.nan)
    label = "Line commanded, second, 60 % pedal"
    others = tuple(
        (f"at that speed {gear} is commanded", electric.wanted_gear[:, 0] == unit.gear_index(gear))
        for gear in unit.levers[DRIVE]
        if gear != unit.levers[DRIVE][1]
    )
    line = subject.read("line_command_psi", label, commanded, SCREEN_PSI, notes=others, note=NOT_COMMANDED)
    missed = MISSES * subject.parameter("engine_misfire")
    pulls = work.drive_torque[:, 2] > MOVES * subject.sheet_at(asked).drive_torque[:, 2]
    limps = np.where(electric.relay_on[:, 2], 0.0, np.where(pulls, 1.0, 2.0))
    return BatchFinding(
        measured=(
            *only_with(unit, "output_speed", *_speeds(subject, electric)),
            *only_with(unit, "fluid_temperature", _warmed_through(subject)),
            *([] if line_solenoid(unit) is None else [line]),
            subject.read("misfires", "Misfires counted, pulling", missed, Instrument("", 0.4)),
        ),
        seen=batch_looks(("limp", "limp", limps, "as it came in it {}"), quiet=True),
    )


def _speeds(subject: Subject, electric: Electric) -> tuple[BatchReading, ...]:
    """What is shown at a timed 60 mph, the second of the points, and how far it is off the wheels there: as the controller compares
    them, by the tire that was entered."""
    shown, wheels = electric.believed_speed[:, 1], electric.wheel_speed[:, 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        off = 100.0 * (shown / wheels - 1.0)
    label = "Speed by the output and the entered tire, against the wheels"
    against = subject.read("oss_wheel_pct", label, off, RATIO, note="wheels silent")
    timed = subject.read("shown_mph_at_60", "Shown at a timed 60 mph", units.to_mph(shown), MPH)
    rolling = (*only_with(subject.unit, "wheels", against), timed)
    return tuple(where_reached(subject, each, DRIVE, SIXTY) for each in rolling)


def _warmed_through(subject: Subject) -> BatchReading:
    """The fluid as the screen has it, mean of the owner's day."""
    warm = subject.seconds * np.isnan(subject.day.op.temperature)
    sensed = sensed_temperature(subject.unit, electric_of(subject.driving).fluid_volts)
    shown = (warm * sensed).sum(-1) / warm.sum(-1)
    return subject.read("tft_max_f", "Fluid on the screen, warmed through", units.to_fahrenheit(shown), HEAT)


# ---------------------------------------------------------------------- what vanishes
def _vanishing(subject: Subject) -> BatchFinding:
    """Signals that vanish and come back on the owner's roads, and a pedal that jumps: chances, by how often they do."""
    electric, moving = electric_of(subject.driving), subject.day.op.road_speed > units.from_mph(2)
    seen = []
    for shares, reads, said in (
        (
            electric.turbine_seen,
            "turbine_speed",
            "turbine speed on the log drops to 0 while the engine turns on: {}",
        ),
        (electric.output_seen, "output_speed", "output speed on the log drops to 0 or leaps: {}"),
    ):
        lost = (subject.seconds * moving * (1.0 - shares)).sum(-1) / (subject.seconds * moving).sum(-1)
        found = sensor_that(subject.unit, reads)
        if found is not None:
            seen.append(_met(f"{found[1].id}_dropouts", DRIVEN * lost / OPEN_FOR, said))
    for i, each in sensors(subject.unit, "message"):
        if each.reads == "pedal":
            jumps = subject.parameter("sensor_jumps", i) * MILES * units.MILE
            seen.append(_met(f"{each.id}_jumps", jumps, "the pedal on the log jumps under a still foot: {}"))
    return BatchFinding(seen=tuple(seen))


def _met(key: str, times: Array, said: str) -> BatchLook:
    """How often something happens that comes about so many times on average: it may stay away for the whole drive."""
    return BatchLook(key=key, scale="times", value=times, text=said, quiet=True, chance=1.0 - np.exp(-times))


# ---------------------------------------------------------------------- the log itself
def _log(
    subject: Subject, asked: list[AskedPoint], work: Workings
) -> Callable[[int, int], tuple[Trace, ...]]:
    """What the log recorded: each gear held for two seconds, with a pause in between."""
    electric = electric_of(work)
    channels = (
        ("engine_rpm", "engine speed", "rpm", units.to_rpm(work.engine_speed)),
        ("turbine_rpm", "turbine speed", "rpm", units.to_rpm(electric.believed_turbine)),
        ("output_rpm", "output speed", "rpm", units.to_rpm(output_shown(subject, electric.believed_speed))),
        ("line_psi", "line commanded", "psi", units.to_psi(electric.wanted_line)),
    )
    held = np.arange(HELD * SAMPLES_A_SECOND) / SAMPLES_A_SECOND
    times = np.concatenate([held + (HELD + PAUSE) * i for i in range(len(asked))])

    def traces(row: int, _seed: int) -> tuple[Trace, ...]:
        return tuple(
            trace(key, label, unit, times, np.repeat(np.nan_to_num(value[row]), len(held)), at="log")
            for key, label, unit, value in channels
        )

    return traces
