"""Turbine speed over each shift: its shape says which phase went wrong, and how long a gear takes from rest."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array, Flags, Places
from course_lib.physics.handover import Handover
from course_lib.shop.asked_gears import gear_points
from course_lib.shop.batch import WATCH, BatchFinding, BatchReading, Instrument, always, trace
from course_lib.shop.data_log import DELETED
from course_lib.shop.findings import Trace
from course_lib.shop.gauges import waiting
from course_lib.shop.procedure import Procedure
from course_lib.shop.road_feel import NEARLY
from course_lib.shop.subject import RISING, AskedPoint, Subject
from course_lib.vehicle.elements import MOST_RUN_UP
from course_lib.vehicle.shift_kinds import LIVED, shift_kind
from course_lib.vehicle.shifts_in_time import TORQUE_PHASE, ShiftScene

FLARE, TIME = Instrument("rpm", 10), Instrument("s", 0.015, 2)
DIP = Instrument("g", 0.01, 2)
GRIP = 0.5  # g past which the driven tires let go, common practice, no source
GRAVITY = 9.80665  # m/s2, CGPM 1901
GRAPH = np.arange(0.0, 1.6, 0.02)  # s from the command on, as a fast log samples
NOT_COME = "this shift does not come"
SHAPES = (
    "A hump first is a late fill, a dip first an early one; a slow, straight fall is too little pressure."
)


@dataclass(frozen=True, slots=True)
class _Road:
    """Gears of the drive lever on the road: pull of a sound vehicle in each [N m], and (n, gears) where it really gets into."""

    pull: Array
    into: Flags


def shift_graph(subject: Subject) -> Procedure:
    """Flare, tie-up and time of every upshift with a light pedal, and of the first ones cold; seconds to engage from rest."""
    asked = gear_points(subject)
    light = list(asked.values())
    work = yield [*(AskedPoint(lever, acting=1.0) for lever in "DR"), *light]
    wait, shifts = waiting(work), subject.shifts()
    pull = subject.sheet_at(light).drive_torque[0]
    rows = [subject.unit.gear_index(gear) for gear in asked]
    comes = work.gear[:, 2:] == rows  # whatever the controller believes, it must be in that gear afterward
    rest = (
        subject.read(f"engage_{lever.lower()}_s", f"Seconds to engage, {lever}, warm", wait[:, i], WATCH)
        for i, lever in enumerate("DR")
    )
    up, cold = (shift_kind(subject.unit, kind) for kind in ("up", "cold"))
    return BatchFinding(
        measured=(
            *_each(subject, shifts.up, up.shift, _Road(pull, comes), ("", "light pedal")),
            *_each(subject, shifts.cold, cold.shift, _Road(pull, comes), ("_cold", "light pedal, cold")),
            *rest,
        ),
        caption=always(SHAPES, DELETED),
        traces=_graph(subject, comes),
    )


def _each(
    subject: Subject, went: Handover, shift: Places, road: _Road, said: tuple[str, str]
) -> Iterator[BatchReading]:
    """Flare, time and dip of each upshift; shift: place of each among the upshifts, -1 for what is none."""
    weight = subject.parameter("vehicle_mass") * GRAVITY * subject.parameter("vehicle_tire_radius")
    for i, place in enumerate(shift):
        if place < 0:
            continue
        each, end = subject.unit.shifts[place], said[0]
        dip = went.tie_up[:, i] / TORQUE_PHASE * road.pull[place] * subject.parameter("vehicle_axle") / weight
        dip = np.minimum(dip, GRIP)
        label = f"{each.label}, {said[1]}"
        rows = (
            (f"flare_{each.id}{end}_rpm", f"Flare, {label}", units.to_rpm(went.flare[:, i]), FLARE),
            (f"time_{each.id}{end}_s", f"Shift time, {label}", went.slide[:, i], TIME),
            (f"tie_{each.id}{end}_g", f"Dip of the pull before the shift, {label}", dip, DIP),
        )
        comes = (went.slide[:, i] > 0.0) & road.into[:, place + 1]
        lifted = ((RISING, comes & (went.flare[:, i] > NEARLY * MOST_RUN_UP)),)
        for key, name, value, instrument in rows:
            shown = np.where(comes, value, np.nan)
            notes = () if instrument is DIP else lifted
            yield subject.read(key, name, shown, instrument, notes=notes, note=NOT_COME)


def _graph(subject: Subject, into: Flags) -> Callable[[int, int], tuple[Trace, ...]]:
    """Turbine and output speed over every upshift of one vehicle, with a light pedal and warm; into (n, gears): that it gets
    into."""

    def traces(row: int, _seed: int) -> tuple[Trace, ...]:
        one = subject.rows([row])
        # with all shifts of a day: what lets go in the first upshift is what came on from rest
        scene = ShiftScene(one.plant, one.condition, one.sump_temperature[:, None], 0.0, *LIVED)
        before = scene.parts.run.turbine[0]
        ratio = one.plant.ratio[scene.kind.old]
        output = before / np.where(ratio == 0.0, 1.0, ratio)
        drawn = []
        for i, off in enumerate(scene.trace(GRAPH)[0]):
            place = scene.kind.shift[i]
            if place < 0 or not np.isnan(scene.kind.sump[i]) or not into[row, place + 1]:
                continue
            name = scene.kind.names[i]
            speeds = (("turbine", before[i] + off), ("output", np.full(len(GRAPH), output[i])))
            drawn += [
                trace(f"{of}_rpm", f"{of} speed", "rpm", GRAPH, units.to_rpm(speed), at=name)
                for of, speed in speeds
            ]
        return tuple(drawn)

    return traces
