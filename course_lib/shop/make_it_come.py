"""What comes and goes: loom and plugs moved by hand, heated and wetted. Not to have seen it is a chance, no proof."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics.loose_contact import chance_seen
from course_lib.shop.batch import BatchFinding, BatchLook, batch_looks
from course_lib.shop.circuits import of_wires, sensors, worst
from course_lib.shop.meter import OPEN_SHARE
from course_lib.shop.subject import HOT, Subject
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.wiring import open_shares

MOVED_FOR, SOAKED_FOR = 60.0, 300.0  # s that each place is moved, heated or wetted
HEATED = units.from_fahrenheit(
    235.0
)  # of the sump, after a long climb: the case plug is not hotter under the gun
FRETTED = 50.0  # ohm in a pin from which the current steps as it is tapped, common practice, no source
STEPS, TOUCHES = (
    0.05,
    0.5,
)  # how a pin that frets, and a bare wire on metal, show on the graph: shares of time, fitted
NOTICED = 0.9  # share of mechanics who see what does happen


# ---------------------------------------------------------------------- moved, heated, wetted
def wiggle(subject: Subject) -> BatchFinding:
    """What jumps on the graph while loom and plugs are moved and the unit is levered up."""
    open_for = _open(subject, HOT, shake=1.0)
    frets = (of_wires(subject, "wire_contact") > FRETTED) * STEPS
    touches = (of_wires(subject, "wire_rub") > 0.0) * TOUCHES
    shares = np.maximum.reduce([open_for, frets, touches])
    return BatchFinding(seen=(_met(subject, "jump", "jump", (shares,), MOVED_FOR, "on the graph: {}"),))


def soak(subject: Subject) -> BatchFinding:
    """What fails as it is heated, and as it is wetted: a contact, or a sensor that dies of heat or that water shunts."""
    p, hot, wet = subject.plant.p, _open(subject, HEATED), _open(subject, HOT, wet=1.0)
    dies = (p.sensor_dies_above[:, 0] < HEATED).astype(float)
    wrong = OPEN_SHARE * (p.sensor_leak[:, 0] > 0.0)  # it reads wrong, it does not vanish
    return BatchFinding(
        seen=(
            _met(subject, "hot", "soak", (hot, dies), SOAKED_FOR, "heated: {}"),
            _met(subject, "wet", "soak", (wet, wrong), SOAKED_FOR, "wetted: {}"),
            *batch_looks(*_square_waves(subject), quiet=True),
        )
    )


def _square_waves(subject: Subject) -> Iterator[tuple[str, str, Array, str]]:
    """Whether each Hall sensor still gives its square wave, hot, at its own plug."""
    for i, each in sensors(subject.unit, "hall"):
        dead = (subject.parameter("sensor_dies_above", i) < HEATED).astype(float)
        yield f"hot_{each.id}", "dead", dead, f"{each.label}, heated, at its own plug: {{}}"


def _open(subject: Subject, temperature: float, **moment: float) -> Array:
    """Share of the time that each wire is open, (n, W), at rest with the sump that warm, shaken or wet."""
    warm = np.full((subject.size, 1), temperature)
    shares: Array = open_shares(subject.plant, operation("P", **moment), warm)[:, 0]
    return shares


def _met(
    subject: Subject, key: str, scale: str, shares: tuple[Array, ...], seconds: float, text: str
) -> BatchLook:
    """How much of the time the worst circuit is lost, which it is, and how probable it is to be met in so many seconds; shares:
    of the wires (n, W) and, where they can fail, of the sensors themselves (n, sensors). A contact opens for moments; a sensor that
    dies or is shunted stays wrong on the screen for as long as it is hot or wet, and nobody misses that."""
    value, where = worst(subject, *shares)
    steady = (np.stack([each.max(-1) for each in shares[1:]]) > 0.0).any(0) if shares[1:] else False
    chance = np.where(steady, 1.0, NOTICED * chance_seen(value, seconds))
    return BatchLook(key=key, scale=scale, value=value, text=text, quiet=True, of=where, chance=chance)
