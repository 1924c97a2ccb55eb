"""What fresh vehicles are like, drawn as cases are: ``python -m tests.fresh --cases 2000``.

Causes by weight, units and signals by turns, not filtered by certificates. Printed: how exactly heat and power balance, whether
complaints are met again, why vehicles are refused, whether answers that name what is shown are right, what comes back, and how
slip readings spread. With ``--draws 20``: how often each cause is made in each use that it declares.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from course_lib.cases import as_case, findings_in
from course_lib.catalogue.causes import causes_of
from course_lib.catalogue.parts import BROKEN, NO_PART, all_parts
from course_lib.key import Key
from course_lib.leaving import Extent, extents
from course_lib.marking import mark
from course_lib.record import Answer
from course_lib.repair import Past, miles_ahead, no_age, sound_is_back
from course_lib.scenario import Request, find_pasts
from course_lib.shop.confirm import confirmed_by
from course_lib.shop.talk import troubles_told
from course_lib.transmission.duty import load_uses
from course_lib.transmission.spec import load_unit

from .giveaways.plain_sense import broken_rules
from .worn import KINDS

SEED = 960_000
AT_ONCE = 90
SLIPS = 60  # rpm from which a slip reading counts


@dataclass
class Sums:
    """What has been counted and measured so far."""

    made: int = 0
    refused: Counter = field(default_factory=Counter)
    refused_causes: Counter = field(default_factory=Counter)
    drawn_causes: Counter = field(default_factory=Counter)
    residual: list[float] = field(default_factory=list)  # K
    boils: int = 0
    points: int = 0
    balance: list[float] = field(default_factory=list)  # share of the engine's power, worst of each vehicle
    small: list[float] = field(default_factory=list)  # W, worst below 300 W
    heated: int = 0
    chief: Counter = field(default_factory=Counter)
    others: Counter = field(default_factory=Counter)
    controls: Counter = field(default_factory=Counter)
    whole_back: int = 0
    shown_refused: list[str] = field(default_factory=list)
    must_refused: list[str] = field(default_factory=list)
    must_stays: list[str] = field(default_factory=list)
    no_view: list[str] = field(default_factory=list)
    no_part_back: list[str] = field(default_factory=list)
    sense: list[str] = field(default_factory=list)
    slips: list[float] = field(default_factory=list)
    musts: Counter = field(default_factory=Counter)
    stages: Counter = field(default_factory=Counter)


def books(past: Past, sums: Sums) -> None:
    """Heat and power over the owner's day, as the bay has it."""
    subject = past.subject
    plant, work, day = past.plant, subject.driving, subject.day
    free = np.isnan(day.op.temperature)
    if work.boils_over.any():
        sums.boils += 1
    else:
        again = plant.operate(past.condition, day.op, subject._seconds, guess=work.temperature)
        gap = (again.settled - again.temperature)[:, free]
        sums.residual.append(
            float(np.abs((subject._seconds[:, free] * gap).sum() / subject._seconds[:, free].sum()))
        )
    p = plant.p
    out = work.drive_torque * day.op.road_speed / p.vehicle_tire_radius * p.vehicle_axle
    slip = work.slip_power.sum(-1)
    away = np.abs(work.engine_power - out - work.converter_loss - slip - work.drag_power.sum(-1))
    pulls = day.op.throttle > 0.0
    large = pulls & (work.engine_power > 300.0)
    sums.points += int(pulls.sum())
    sums.balance.append(float((away / np.maximum(work.engine_power, 1.0))[large].max(initial=0.0)))
    sums.small.append(float(away[pulls & ~large].max(initial=0.0)))
    sums.heated += int((slip > work.engine_power * 1.001 + 1.0).sum())


def said(past: Past, seed: int, sums: Sums) -> bool:
    """Whether the vehicle makes a case; what is told of it, and its readings."""
    try:
        case = as_case(f"fresh-{seed}", seed, past, np.random.default_rng(seed))
    except ValueError as error:
        sums.refused["chief complaint not met again" if "met again" in str(error) else str(error)[:60]] += 1
        sums.refused_causes[past.causes[0].id] += 1
        return False
    found = findings_in(case)
    chief, *others = troubles_told(past.subject)
    sums.chief[bool(confirmed_by(chief, found.values()))] += 1
    sums.others.update(bool(confirmed_by(each, found.values())) for each in others)
    for rule in broken_rules(case, past):
        sums.sense.append(f"{seed}: {rule}")
    rows = (
        r
        for f in found.values()
        for r in f.readings
        if r.key.startswith("road_") and r.key.endswith("slip_rpm")
    )
    sums.slips += [r.value for r in rows if r.value is not None and r.value > SLIPS]
    return True


def marked(past: Past, extent: Extent, sums: Sums) -> None:
    """Answers that name what is shown, or what must be renewed; and what comes back."""
    cause = past.causes[0].id
    key = Key(
        case_id="x", parts=tuple(extent.must), also=extent.may, either=extent.either, back=extent.must,
        causes=(cause,), chain=(), stories={}, recipe={},
    )  # fmt: skip

    def right(parts) -> bool:
        return mark(Answer(parts=tuple(parts), causes=(cause,)), key).part_right

    broken = [part for part, degree in past.shown.items() if degree == BROKEN]
    shown = broken or ([NO_PART] if NO_PART in key.allowed else list(past.shown))
    if not right(shown):
        sums.shown_refused.append(f"{past.seed} {cause} {past.shown} {extent}")
    if not right(key.shortest):
        sums.must_refused.append(f"{past.seed} {cause} {extent}")
    whole = miles_ahead(past, past.ahead["part and cause"])
    long = no_age(whole)
    sums.must_stays += [f"{past.seed} {cause} {part}" for part, miles in extent.must.items() if miles > long]
    sums.no_view += [f"{past.seed} {cause} {part}" for part in extent.must if not all_parts()[part].seen]
    if not extent.must and NO_PART in key.allowed and miles_ahead(past, past.ahead["cause only"]) <= long:
        sums.no_part_back.append(f"{past.seed} {cause}")
    if np.isfinite(whole):
        sums.controls[cause] += 1
        sums.whole_back += not sound_is_back(past)
    sums.musts[len(extent.must)] += 1
    sums.stages[past.stage] += 1


def measure(cases: int, seed: int) -> Sums:
    """So many draws."""
    sums = Sums()
    for at in range(0, cases, AT_ONCE):
        wanted = []
        for i in range(at, min(at + AT_ONCE, cases)):
            unit, signal = KINDS[i % len(KINDS)]
            wanted.append(Request(seed=seed + i, unit=unit, signal=signal))
        found = find_pasts(wanted, [np.random.default_rng(request.seed) for request in wanted])
        good = []
        for request, past in zip(wanted, found, strict=True):
            if not isinstance(past, Past):
                sums.refused[" ".join(str(past).split()[:9])] += 1
                continue
            sums.drawn_causes[past.causes[0].id] += 1
            books(past, sums)
            if said(past, request.seed, sums):
                good.append(past)
        sums.made += len(good)
        for kind in {(past.unit, past.use) for past in good}:
            mine = [past for past in good if (past.unit, past.use) == kind]
            for past, extent in zip(mine, extents(mine), strict=True):
                marked(past, extent, sums)
    return sums


def made_of_draws(draws: int, seed: int) -> dict[tuple[str, str, str, str], float]:
    """(unit, signal, use, cause) -> share of draws in which a vehicle is found that comes in."""
    shares = {}
    for unit, signal in KINDS:
        for use in load_uses().uses:
            for cause in causes_of(load_unit(unit), signal):
                if cause.met_in(use):
                    wish = dict(unit=unit, signal=signal, use=use, cause=cause.id)
                    wanted = [Request(seed=seed + i, **wish) for i in range(draws)]
                    found = find_pasts(wanted, [np.random.default_rng(seed + i) for i in range(draws)])
                    shares[unit, signal, use, cause.id] = np.mean(
                        [isinstance(past, Past) for past in found]
                    ).item()
    return shares


def text(sums: Sums, cases: int) -> str:
    """The figures."""
    slips = np.array(sums.slips)
    counts, edges = np.histogram(slips, np.arange(SLIPS, 6000, 100.0))
    top = counts.argmax()
    spread = ", ".join(f"{low:.0f}: {n}" for low, n in zip(edges, counts, strict=False) if n)
    return "\n".join([
        f"drawn {cases}, made {sums.made}; refused: {dict(sums.refused)}",
        f"  of them not met again, by cause: {dict(sums.refused_causes.most_common(12))}",
        f"largest residual of a steady sump {max(sums.residual):.2f} K; {sums.boils} boil over",
        f"worst power balance {max(sums.balance):.2%} above 300 W, {max(sums.small):.2f} W below, at {sums.points} points;"
        f" more heat than the engine gives: {sums.heated}",
        f"chief complaint met again {sums.chief[True]} of {sums.chief.total()}, others {sums.others[True]}/{sums.others.total()}",
        f"whole repair back though a sound vehicle is not: {sums.whole_back}; controls back: {dict(sums.controls.most_common())}",
        f"all that is shown, refused: {len(sums.shown_refused)} {sums.shown_refused[:3]}",
        f"the fewest that must be renewed, refused: {len(sums.must_refused)} {sums.must_refused[:3]}",
        f"a must left does not come back: {len(sums.must_stays)} {sums.must_stays[:3]}; must without a view: {len(sums.no_view)}",
        f"no part, yet back: {len(sums.no_part_back)} {sums.no_part_back[:3]}",
        f"broken rules of plain sense: {len(sums.sense)} {sums.sense[:3]}",
        f"parts that must be renewed: {dict(sorted(sums.musts.items()))}; stages {dict(sums.stages)}",
        f"slip readings over {SLIPS} rpm: {len(slips)}, most in {edges[top]:.0f} to {edges[top + 1]:.0f}:"
        f" {counts[top] / max(len(slips), 1):.1%}",
        f"  {spread}",
    ])  # fmt: skip


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="python -m tests.fresh", description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    if given.cases:
        print(text(measure(given.cases, given.seed), given.cases))
    if given.draws:
        shares = made_of_draws(given.draws, given.seed)
        for name, share in sorted(shares.items(), key=lambda item: item[1]):
            if share < 0.8:
                print(f"{share:.2f}", *name)


if __name__ == "__main__":
    main()
