"""The vehicle as its owner drives it: his places with his lever, pedal, slope, trailer and warmth, and what happens there."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags
from course_lib.shop.batch import WATCH, BatchFinding, BatchReading, Instrument, batch_looks
from course_lib.shop.gauges import waiting
from course_lib.shop.mobility import NOT_REACHED, reached
from course_lib.shop.procedure import Procedure
from course_lib.shop.road_feel import jolt, pressed_on
from course_lib.shop.subject import AskedPoint, Subject, slip_until_lifted
from course_lib.vehicle.duty_cycle import SETTING_OFF
from course_lib.vehicle.felt_troubles import BINDS, BOTH
from course_lib.vehicle.operating_point import Operation, Workings

TRIED_PEDAL = 0.5  # with which one tries to get a vehicle off that does not go
PULLING, LIGHT = 0.2, 0.3  # pedal from which a pull is judged, and below which a jolt is
HARDLY = "it hardly moves"
# By what it is read, by the end of its key: the last is a timed pull.
READ_BY = {"rpm": Instrument("rpm", 8.0), "s": WATCH, "pct": Instrument("%", 3.0)}


def as_the_owner_drives(
    subject: Subject, name: str = "owner", said: str = "as the owner drives", *, cold: bool = False
) -> Procedure:
    """What the owner complains of, met at his own places: each trouble where it is worst.

    name: what the keys begin with; said: what labels end in; cold: his first places of the morning, else all others. A place
    that the vehicle does not get to is not read; it is tried from standstill.
    """
    op = subject.day.op
    mine = np.isnan(op.temperature) != cold
    levers = list(dict.fromkeys(each for each, here in zip(op.lever, mine, strict=True) if here))
    tried = yield [AskedPoint(lever, throttle=TRIED_PEDAL) for lever in levers]
    work, sound = subject.driving, subject.sheet.driving
    there = mine & _reached(subject)
    stands = np.stack([~reached(subject, lever, _slowest(subject, lever)) for lever in levers], -1)
    standing = np.where(stands, units.to_rpm(tried.slip), np.nan), np.where(stands, 0.0, np.nan)
    values = (
        ("slip_rpm", "Slips by", slip_until_lifted(work, sound)[0], standing[0]),
        ("flare_rpm", "Slips by, until the gear takes", units.to_rpm(work.flare.max(-1)), None),
        ("wait_s", "Seconds until the gear takes", waiting(work), None),
        ("pull_pct", "Pull against a sound vehicle", _pull(work, sound, op), standing[1]),
    )
    measured = []
    for key, label, value, at_rest in values:
        places = [np.where(there, value, np.nan), *([] if at_rest is None else [at_rest])]
        measured.append(
            _where_worst(subject, f"{name}_{key}", f"{label}, {said}", np.concatenate(places, -1))
        )
    looked = (
        ("bump", _bumps(subject, work, sound)),
        ("judder", np.where(there, work.judder - sound.judder, 0.0)),
        ("bind", _fights(work, sound)),
        ("rolls", _held_back(subject, work)),
    )
    rows = [(f"{name}_{k}", k, np.where(mine, each, 0.0).max(-1), f"{said}: {{}}") for k, each in looked]
    return BatchFinding(measured=tuple(measured), seen=batch_looks(*rows, quiet=True))


def morning(subject: Subject) -> Procedure:
    """The same at the owner's first places of the morning."""
    return as_the_owner_drives(subject, "morning", "as the owner sets off in the morning", cold=True)


def _pull(work: Workings, sound: Workings, op: Operation) -> Array:
    """Minus the share [%] of a sound vehicle's pull, so that the least is the worst, (n, m); NaN where none is judged."""
    judged = (op.throttle > PULLING) & ((work.gear == sound.gear) | (op.road_speed < SETTING_OFF))
    return np.where(judged, -100.0 * work.drive_torque / np.maximum(sound.drive_torque, 1.0), np.nan)


def _bumps(subject: Subject, work: Workings, sound: Workings) -> Array:
    """How hard gears come on with a light foot, (n, m)."""
    jolting = np.where(_light(subject, work, sound), jolt(subject, work, sound), 0.0)
    pressed = np.where(subject.day.op.throttle < LIGHT, pressed_on(subject, work, sound), 0.0)
    return np.maximum(jolting, pressed)


def _light(subject: Subject, work: Workings, sound: Workings) -> Flags:
    """Where a jolt is felt, (n, m): with a light foot, in the gear that a sound vehicle is in."""
    light: Flags = (subject.day.op.throttle < LIGHT) & (work.gear == sound.gear)
    return light


def _held_back(subject: Subject, work: Workings) -> Array:
    """Force [N] with which elements that should be free hold the vehicle back, (n, m)."""
    speed = subject.day.op.road_speed
    return np.where(speed > 0.0, work.drag_power.sum(-1) / np.maximum(speed, SETTING_OFF), 0.0)


def _reached(subject: Subject) -> Array:
    """To which of the owner's places each vehicle gets, (n, m)."""
    op = subject.day.op
    there = [reached(subject, lever, speed) for lever, speed in zip(op.lever, op.road_speed, strict=True)]
    return np.stack(np.broadcast_arrays(*there), -1)


def _slowest(subject: Subject, lever: str) -> float:
    """Road speed [m/s] at which the owner's day with a lever begins to move."""
    op = subject.day.op
    pairs = zip(op.lever, op.road_speed, strict=True)
    return min(float(speed) for each, speed in pairs if each == lever and speed > 0)


def _fights(work: Workings, sound: Workings) -> Array:
    """How much more than in a sound vehicle elements fight each other, in a gear or between two, (n, m)."""
    both = (work.overlap - sound.overlap).max(-1)
    fights: Array = np.maximum(work.tie_up - sound.tie_up, BINDS * both / BOTH)
    return fights


def _where_worst(subject: Subject, key: str, label: str, values: Array) -> BatchReading:
    """The largest of `values` (n, places), with the place where it is out of spec; negative ones are read without their sign."""
    known = np.where(np.isnan(values), -np.inf, values)
    largest, at = known.max(-1), known.argmax(-1)
    shown = np.where(np.isfinite(largest), np.abs(largest), np.nan)
    low, high = subject.unit.spec.get(key, (-np.inf, np.inf))
    out = (shown < low) | (shown > high)
    names = [*(subject.say(each) for each in subject.day.names), *[HARDLY] * len(subject.day.names)]
    notes = tuple((names[i], out & (at == i)) for i in range(values.shape[-1]))
    instrument = READ_BY[key.rpartition("_")[2]]
    return subject.read(key, label, shown, instrument, notes=notes, note=NOT_REACHED)
