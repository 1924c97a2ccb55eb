"""What fresh vehicles are like, drawn as cases are: ``python -m tests.fresh --cases 2000``.

Causes by weight, units and signals by turns, not filtered by certificates. Printed: how exactly heat and power balance, whether
complaints are met again, why vehicles are refused, whether answers that name what is shown are right, what comes back, and how
slip readings spread. ``--cases 0 --draws 20`` prints how often each cause makes a case in each use that it declares, and why not.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from course_lib.assessment.marking import mark
from course_lib.assessment.record import Answer
from course_lib.cases.case import findings_in
from course_lib.cases.key import Key
from course_lib.cases.make import as_case
from course_lib.diagnosis.lived_populations import subject_of
from course_lib.faults.causes import causes_of
from course_lib.faults.parts import BROKEN, NO_PART, all_parts
from course_lib.faults.repair import Past, miles_before_age, miles_to_return, sound_vehicle_returns
from course_lib.faults.repair_extent import Extent, extents
from course_lib.faults.scenario import Request, find_pasts
from course_lib.shop.complaint_check import check_complaint_met, confirmed_by
from course_lib.shop.inspect import make_findings
from course_lib.shop.interview import troubles_told
from course_lib.vehicle.sump_balance import EXACT, day_mean
from course_lib.vehicle.unit_spec import load_unit
from course_lib.vehicle.uses import load_uses

from .giveaways.plain_sense import broken_rules
from .worn import KINDS

SEED = 960_000
AT_ONCE = 90
DRAWN_AT_ONCE = (
    160  # vehicles of one kind looked for in one batch: one of many lives is far cheaper than many small ones
)
ENOUGH = 0.6  # share of draws in which a cause must make a case, in every use that it declares
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


def _off_balance(past: Past, free) -> float:
    """How far [K] the day's sump is from a root of its balance; where heat leaps at the root, the root lies between."""
    work = past.subject.driving

    def gap(by: float) -> float:
        asked = work.temperature + by * free
        day = past.subject.day.op
        settled = past.plant.operate(past.condition, day, past.subject._seconds, guess=asked).settled
        return float(day_mean(settled - asked, free)[0, 0])

    here = gap(0.0)
    return min(abs(here), EXACT) if here * gap(float(np.copysign(EXACT, here))) <= 0.0 else abs(here)


def books(past: Past, sums: Sums) -> None:
    """Heat and power over the owner's day, as the bay has it."""
    subject = past.subject
    plant, work, day = past.plant, subject.driving, subject.day
    free = np.isnan(day.op.temperature)
    if work.boils_over.any():
        sums.boils += 1
    else:
        sums.residual.append(_off_balance(past, free))
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
    whole = miles_to_return(past, past.ahead["part and cause"])
    long = miles_before_age(whole)
    sums.must_stays += [f"{past.seed} {cause} {part}" for part, miles in extent.must.items() if miles > long]
    sums.no_view += [f"{past.seed} {cause} {part}" for part in extent.must if not all_parts()[part].seen]
    if not extent.must and NO_PART in key.allowed and miles_to_return(past, past.ahead["cause only"]) <= long:
        sums.no_part_back.append(f"{past.seed} {cause}")
    if np.isfinite(whole):
        sums.controls[cause] += 1
        sums.whole_back += not sound_vehicle_returns(past)
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
        for kind in dict.fromkeys((past.unit, past.use) for past in good):
            mine = [past for past in good if (past.unit, past.use) == kind]
            for past, extent in zip(mine, extents(mine), strict=True):
                if extent.unseen:
                    sums.refused["shown by nothing, yet back"] += 1
                    sums.refused_causes[past.causes[0].id] += 1
                    sums.made -= 1
                    continue
                marked(past, extent, sums)
    return sums


@dataclass(frozen=True, slots=True)
class Draws:
    """Vehicles drawn of one cause in one kind of use: how many became a case, and why the others did not."""

    made: int
    refused: Counter

    @property
    def share(self) -> float:
        """Of the draws, those that became a case."""
        return self.made / max(self.made + self.refused.total(), 1)


def made_of_draws(
    draws: int, seed: int, kinds=KINDS, uses: Sequence[str] = (), causes: Sequence[str] = ()
) -> dict[tuple[str, str, str, str], Draws]:
    """(unit, signal, use, cause) -> what became of so many draws. uses, causes: only these, all when none is given."""
    found = {}
    for unit, signal in kinds:
        for use in uses or load_uses().uses:
            met = [cause.id for cause in causes_of(load_unit(unit), signal) if cause.met_in(use)]
            names = [name for name in met if name in causes or not causes]
            for at in range(0, len(names), max(DRAWN_AT_ONCE // draws, 1)):
                some = names[at : at + max(DRAWN_AT_ONCE // draws, 1)]
                wanted = [
                    Request(seed=seed + i, unit=unit, signal=signal, use=use, cause=name)
                    for name in some
                    for i in range(draws)
                ]
                why = refusals(wanted)
                for k, name in enumerate(some):
                    mine = why[k * draws : (k + 1) * draws]
                    found[unit, signal, use, name] = Draws(mine.count(""), Counter(filter(None, mine)))
    return found


def refusals(wanted: list[Request]) -> list[str]:
    """Why each of some requests for one kind of vehicle makes no case, in a few words; empty where it does.

    Every vehicle is inspected as the bay does it, all in one batch. What lies about and is told confirms nothing; it is left out.
    """
    pasts = find_pasts(wanted, [np.random.default_rng([r.seed, *str(r.cause).encode()]) for r in wanted])
    why = ["" if isinstance(past, Past) else _few_words(past) for past in pasts]
    came = [(i, past) for i, past in enumerate(pasts) if isinstance(past, Past)]
    if not came:
        return why
    subject = subject_of([past for _, past in came])
    for row, (findings, (i, _)) in enumerate(zip(make_findings(subject), came, strict=True)):
        try:
            check_complaint_met(subject.rows([row]), findings)
        except ValueError as error:
            why[i] = _few_words(error)
    return why


def _few_words(error: ValueError) -> str:
    """The head of a refusal: which rule, and for a complaint which one."""
    text = str(error)
    if "met again" in text:
        return f"not met again: {text.split('got ')[1].split(' of strength')[0]}"
    return "no such complaint" if "must reach stage" in text else "does not come back, or does when put right"


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


def text_of_draws(found: dict[tuple[str, str, str, str], Draws]) -> str:
    """Refusals by reason, then every cause that falls short in a use, worst first."""
    reasons = sum((each.refused for each in found.values()), Counter())
    drawn = sum(each.made + each.refused.total() for each in found.values())
    short = sorted((name for name in found if found[name].share < ENOUGH), key=lambda name: found[name].share)
    return "\n".join([
        f"drawn {drawn}, made {sum(each.made for each in found.values())}; refused: {dict(reasons.most_common())}",
        f"{len(short)} of {len(found)} causes in a use are made in less than {ENOUGH:.0%} of draws",
        *(f"{found[name].share:.0%} {' '.join(name)}: {dict(found[name].refused)}" for name in short),
    ])  # fmt: skip


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="python -m tests.fresh", description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument(
        "--kind", action="append", default=[], help='only this one, such as "T3 vacuum"; with --draws'
    )
    parser.add_argument("--use", action="append", default=[], help="only this one; with --draws")
    parser.add_argument("--cause", action="append", default=[], help="only this one; with --draws")
    given = parser.parse_args()
    if given.cases:
        print(text(measure(given.cases, given.seed), given.cases))
    if given.draws:
        kinds = [kind for kind in KINDS if not given.kind or " ".join(kind) in given.kind]
        found = made_of_draws(given.draws, given.seed, kinds, given.use, given.cause)
        print(text_of_draws(found))


if __name__ == "__main__":
    main()
