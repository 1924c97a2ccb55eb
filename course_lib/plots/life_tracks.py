"""The miles of one vehicle as curves: what it was like at many odometers, and what comes of repairs.

A life is lived again, by the same code that made the case. Nothing is drawn that the vehicle did not live through.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.faults.repair import (
    YEARS_OF_USE,
    Past,
    TrialRepair,
    drive_forward,
    miles_to_return,
    outcome_of,
    trial_repairs,
)
from course_lib.shop.apply_chart import tap_range
from course_lib.shop.gauges import standing
from course_lib.shop.holders import pressed
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.life_log import Lives
from course_lib.vehicle.operating_point import Condition, new_condition
from course_lib.vehicle.sump_balance import FROM_COLD

BEFORE = 0.4  # of the miles since onset that are drawn before it
POINTS, LATE = 20, 6  # odometers at which a life is looked at, and how many more shortly before its end
AHEAD = 12  # odometers at which each repair is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeTrack:
    """One vehicle over its last miles. n odometers, rising, the last being that of the complaint.

    miles (n,); sump_f (n,) mean of the owner's day; line_psi (n,) in D, idle, hot; drop_psi element -> (n,), its tap below line, of
    those that can be asked standing; left and hardness element -> (n,), share of the lining, and of the lips when hot, 0 supple to
    1 hard; learned element -> (n,), its fill time beyond that of a new one [ms], of a controller that learns.
    """

    past: Past
    miles: np.ndarray
    sump_f: np.ndarray
    line_psi: np.ndarray
    drop_psi: dict[str, np.ndarray]
    left: dict[str, np.ndarray]
    hardness: dict[str, np.ndarray]
    learned: dict[str, np.ndarray]


def life_track(past: Past) -> LifeTrack:
    """The life that ended with `past`, from a little before its cause set in."""
    fresh = any(cause.fresh_unit for cause in past.causes)
    start = past.onset_miles if fresh else 0.0
    first = past.onset_miles if fresh else max(past.onset_miles - BEFORE * past.miles_since_onset, 1.0)
    here = past.odometer / units.MILE
    late = here - past.miles_since_onset * np.geomspace(0.1, 0.002, LATE)
    miles = np.unique([*np.linspace(first + 1.0, here, POINTS), past.onset_miles + 1.0, *late])
    condition = _with_last(_lived(past.world, start, miles), past.condition)
    odometer = miles[:, None] * units.MILE
    world = past.world.rows(np.zeros(len(miles), int))
    sump = np.concatenate([np.full_like(past.sump, FROM_COLD).repeat(len(miles) - 1, 0), past.sump])
    subject = Subject(world.plant(odometer), condition, past.signal, past.use, sump=sump)
    asked = [(each, tap_range(subject.unit, each)) for each in pressed(subject.unit)]
    taps = [(each, lever) for each, (lever, ups) in asked if not ups]
    points = [AskedPoint("D", temperature=HOT), *(standing(lever, temperature=HOT) for _, lever in taps)]
    work = subject.at(points)
    drops = [work.line[:, i] - work.circuit[:, i, each.column] for i, (each, _) in enumerate(taps, 1)]
    left = 1.0 - condition.lining[:, 0] / subject.plant.p.element_lining[:, 0]
    hardness = np.clip(subject.plant.seal_hardness(condition)[:, 0], 0.0, None)
    return LifeTrack(
        past=past,
        miles=miles,
        sump_f=units.to_fahrenheit(subject.sump_temperature),
        line_psi=units.to_psi(work.line[:, 0]),
        drop_psi={each.stem: units.to_psi(drop) for (each, _), drop in zip(taps, drops, strict=True)},
        left={each.stem: left[:, each.column] for each in pressed(subject.unit)},
        hardness={each.stem: hardness[:, each.column] for each in pressed(subject.unit)},
        learned=_fill_times(condition, subject),
    )


def _fill_times(condition: Condition, subject: Subject) -> dict[str, np.ndarray]:
    """Learned fill time [ms] of each element at every odometer; none where no controller learns."""
    fill = condition.memory.fill
    return {each.stem: 1e3 * fill[:, 0, each.column] for each in pressed(subject.unit) if fill.size}


def _lived(world: Fleet, start: float, miles: np.ndarray) -> Condition:
    """The conditions of one vehicle at every odometer, each lived on from the one before, so that nothing wears backward."""
    here, condition = np.array([[start * units.MILE]]), new_condition(1, world.unit)
    passed = []
    for there in miles * units.MILE:
        end = np.array([[there]])
        condition = live(world, condition, here, end, np.zeros((1, 1))).condition
        passed.append(condition)
        here = end
    return passed[0].join(*passed[1:])


def _with_last(lived: Condition, last: Condition) -> Condition:
    """The conditions with the last one as the vehicle came in: the state from which its findings were taken."""
    return lived.keep(slice(-1)).join(last)


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairTrack:
    """One repair driven forward. n looks.

    done: what was done, in words that give nothing away; miles (n,) since the repair, rising; strength (n,) of the worst trouble, 1
    brings the owner in; back: miles after which the owner came back, None where that did not happen.
    """

    name: str
    done: str
    miles: np.ndarray
    strength: np.ndarray
    back: float | None


def repair_tracks(
    past: Past, repairs: dict[str, TrialRepair] | None = None, far: float = YEARS_OF_USE
) -> tuple[RepairTrack, ...]:
    """Repairs driven forward over `far` miles or to the complaint: those every debrief compares, where none are named."""
    named = repairs or trial_repairs(past)
    whole = drive_forward([(past, plan, far) for plan in named.values()])
    back = [miles_to_return(past, outcome_of(whole, row)) for row in range(len(named))]
    ends = [min(miles, far) for miles in back]
    steps = [end * (k + 1) / AHEAD for end in ends for k in range(AHEAD - 1)]
    plan_of = [plan for plan in named.values() for _ in range(AHEAD - 1)]
    way = drive_forward([(past, plan, miles) for plan, miles in zip(plan_of, steps, strict=True)])
    words = "{name}: {}" if repairs else "{}"
    return tuple(
        RepairTrack(
            name=name,
            done=words.format(_done(past, plan), name=name),
            miles=np.append(steps[at], ends[row]),
            strength=np.append(_worst(past, way)[at], _worst(past, whole)[row]),
            back=back[row] if np.isfinite(back[row]) else None,
        )
        for row, (name, plan, at) in enumerate(_blocks(named))
    )


def _worst(past: Past, lives: Lives) -> np.ndarray:
    """How strongly its driver feels the worst trouble at the end of each life; 1 brings him in."""
    worst: Array = np.max(list(lives.felt.values()), axis=0) * past.sensitivity
    return worst


def _blocks(named: dict[str, TrialRepair]) -> Iterator[tuple[str, TrialRepair, slice]]:
    for i, (name, plan) in enumerate(named.items()):
        yield name, plan, slice(i * (AHEAD - 1), (i + 1) * (AHEAD - 1))


def _done(past: Past, plan: TrialRepair) -> str:
    """A repair in words that name neither part nor cause."""
    parts = "parts renewed" if plan.parts else "no part renewed"
    if not plan.corrected:
        return f"{parts}, cause left"
    return f"{parts}, {'cause' if len(plan.corrected) == len(past.causes) else 'one of two causes'} corrected"
