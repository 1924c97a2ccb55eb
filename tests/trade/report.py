"""Where the simulator and the trade part: prints the cells that disagree, and how far.

python -m tests.trade.report                     all causes
python -m tests.trade.report pump_worn_abrasive  some causes
python -m tests.trade.report --lives [CAUSE...]  what the lives of each cause are like
python -m tests.trade.report --patterns          the symptom patterns
python -m tests.trade.report --twins             what separates each electronic cause from its twin
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np

from course_lib.faults.causes import all_causes

from .held import CODE_KEY, NOT_READ, Outcome, held, outcomes, shows, split
from .lives import SEVERITIES, VEHICLES, Batch, batch, kinds, use_of
from .table import CODE_STATES, NOTICED, Cell, cells, exceptions_file, names_a_thing, patterns, twins


def main(words: list[str]) -> None:
    """Print what is asked."""
    options = {word for word in words if word.startswith("--")}
    causes = [word for word in words if word not in options] or None
    if "--lives" in options:
        _print_lives(causes)
    elif "--severity" in options:
        _print_severities(causes)
    elif "--patterns" in options:
        _print_patterns()
    elif "--twins" in options:
        _print_twins(causes)
    else:
        _print_cells(causes)


def _print_cells(causes) -> None:
    missing = sorted({cell.cause for cell in cells()} - set(all_causes()))
    if missing:
        print("Not in the catalogue:", ", ".join(missing))
    found = outcomes(causes)
    unread = Counter(o.cell.see for o in found if o.problem == NOT_READ)
    bad = [outcome for outcome in found if not outcome.agreed and outcome.problem != NOT_READ]
    for cause in dict.fromkeys(outcome.cell.cause for outcome in bad):
        print(f"\n{cause}")
        for outcome in bad:
            if outcome.cell.cause == cause:
                print("  ", outcome)
    print("\n" + summary(found))
    if unread:
        print(
            "Keys that nothing reads:", ", ".join(f"{key} ({count})" for key, count in unread.most_common())
        )


def summary(found: list[Outcome]) -> str:
    """How many cells agree, over all and by field."""
    by_cell: dict[Cell, list[bool]] = {}
    for outcome in found:
        by_cell.setdefault(outcome.cell, []).append(outcome.agreed)
    agreed = sum(all(each) for each in by_cell.values())
    fields = Counter(cell.field for cell in by_cell)
    good = Counter(cell.field for cell, each in by_cell.items() if all(each))
    parts = ", ".join(f"{field} {good[field]}/{fields[field]}" for field in fields)
    return (
        f"{agreed} of {len(by_cell)} cells agree on every vehicle ({agreed / max(len(by_cell), 1):.1%}); {parts}. "
        f"{len(exceptions_file().exceptions)} exceptions listed."
    )


def _print_lives(causes) -> None:
    for unit, signal, use in kinds():
        lives = batch(unit, signal, use)
        print(f"\n{lives.name}, {use}; never complained: {', '.join(lives.silent) or 'none'}")
        sound = {k: np.quantile(s.sound, 0.9) for k, s in lives.sights.items() if k.startswith("felt.")}
        print(
            "  sound vehicles feel, at most:",
            {k[5:]: round(float(v), 2) for k, v in sound.items() if v > 0.1},
        )
        for cause in dict.fromkeys(lives.cause.tolist()):
            if causes is None or cause in causes:
                rows = lives.rows(cause)
                stages = ", ".join(f"{n} {stage}" for stage, n in Counter(lives.stage[rows].tolist()).items())
                miles = " / ".join(f"{x:,.0f}" for x in np.quantile(lives.miles[rows], (0.1, 0.5, 0.9)))
                felt = {
                    k: np.median(s.values[rows]) for k, s in lives.sights.items() if k.startswith("felt.")
                }
                strong = sorted((k for k in felt if felt[k] > NOTICED), key=lambda k: -felt[k])
                what = ", ".join(f"{key.removeprefix('felt.')} {felt[key]:.1f}" for key in strong)
                print(f"  {cause:30s} {stages}; {miles} mi; {what}; {_codes(lives, rows)}")


def _codes(lives: Batch, rows) -> str:
    """Codes that are stored on one life in ten at least, with the share of the lives."""
    stored = {key.removeprefix(CODE_KEY): np.mean(sight.values[rows] >= CODE_STATES["codes.stored"])
              for key, sight in lives.sights.items() if key.startswith(CODE_KEY)}  # fmt: skip
    often = sorted((code for code in stored if stored[code] >= 0.1), key=lambda code: -stored[code])
    return ", ".join(f"{code} {stored[code]:.0%}" for code in often)


def _print_severities(causes) -> None:
    """Where in its range a cause is most like what the trade describes."""
    print(f"{'severity':40s}", *(f"{severity:5.2f}" for severity in SEVERITIES))
    for cause in causes or sorted(all_causes()):
        for unit, signal in VEHICLES:
            lives = batch(unit, signal, use_of(cause))
            told = [
                c for c in cells() if c.cause == cause and c.fits(unit, signal) and not names_a_thing(c.see)
            ]
            if told and cause in lives.cause:
                each = [[held(cell, lives.at_severity(s)) for cell in told] for s in SEVERITIES]
                shares = [np.mean([o.agreed for o in found if not o.problem] or [np.nan]) for found in each]
                print(f"{cause:30s}{lives.name:10s}", *(f"{share:5.0%}" for share in shares))


def _print_patterns() -> None:
    for pattern in patterns():
        print(f"\n{pattern.name}")
        for outcome in pattern_outcomes(pattern):
            print("  ", "ok " if outcome.agreed else "NO ", outcome.cell.cause, outcome)


def _print_twins(causes) -> None:
    for twin in twins():
        if causes is None or twin.cause in causes:
            pair = split(twin)
            print("ok " if pair.apart else "NO ", pair)


def pattern_outcomes(pattern) -> list[Outcome]:
    """Every suspect of a pattern on every vehicle it can befall: what it shows, and what splits it from the others."""
    found = []
    probe = Cell("", "ROAD", "", "", "", pattern.only)
    for unit, signal, use in kinds():
        for cause, splits in pattern.suspects.items():
            if use_of(cause) == use and probe.fits(unit, signal):
                lives = batch(unit, signal, use)
                if cause in set(lives.cause) | set(lives.silent):
                    rows = [*pattern.shows, type(pattern.shows[0])(pattern.splits, splits, "what splits it")]
                    found += [shows(row, cause, lives, probe.stage) for row in rows]
    return found


if __name__ == "__main__":
    main(sys.argv[1:])
