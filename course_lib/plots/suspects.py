"""How the suspects stand as findings come in, in numbers of vehicles: of 100 like this one, how many have it.

Natural frequencies are read more surely than percentages. Source: Gigerenzer and Hoffrage, How to Improve Bayesian Reasoning
Without Instruction, Psychological Review 102 (1995) (from memory).
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from course_lib.plots.drawing import BOLD, HAIR, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, RULE, STEEL
from course_lib.plots.picture import Picture

MOST_ROWS, MOST_COLUMNS = 7, 4
OTHERS = "all others"
HEAD, ROW, LINE_HIGH = 0.75, 0.37, 0.18  # in. of paper: where the head begins, a row, a line of the head
NAMES, END, NAME_LETTERS = 2.75, 7.8, 28


@dataclass(frozen=True, slots=True)
class OddsStep:
    """The odds after one finding: what was found, in a few words, and suspect -> probability, sum 1."""

    title: str
    found: str
    odds: Mapping[str, float]


def of_hundred(shares: Sequence[float]) -> list[int]:
    """Shares that sum to 1 as whole numbers that sum to 100: the largest remainders are rounded up."""
    scaled = np.asarray(shares, float) * 100.0
    whole = np.floor(scaled + 1e-9)
    missing = round(100.0 - whole.sum())
    whole[np.argsort(whole - scaled, kind="stable")[:missing]] += 1
    return [int(n) for n in whole]


def telling(moved: Sequence[float], most: int) -> list[int]:
    """The steps to show of many: the first, the last, and between them those at which the odds moved most.

    moved: how far the odds moved at each step, of the first anything.
    """
    last = len(moved) - 1
    between = sorted(range(1, last), key=lambda i: -moved[i])[: most - 2]
    return sorted({0, *between, last})


def odds_by_step(
    steps: Sequence[OddsStep],
    *,
    verdict: bool,
    labels: Mapping[str, str] | None = None,
) -> Picture:
    """The odds after each of some findings, in the order they were taken.

    steps: at least one; where there are more than fit, the most telling ones. labels: suspect -> how it is called. verdict:
    whether the leader may be singled out. Raises ValueError without a step, and for odds that do not sum to 1.
    """
    given, steps = len(steps), _checked(steps)
    rows = _rows(steps)
    names = [_called(row, labels) for row in rows]
    counts = [
        of_hundred([step.odds.get(row, 0.0) for row in rows[:-1]] + [_rest(step, rows)]) for step in steps
    ]
    wide = (END - NAMES) / len(steps)
    heads = [_head(step, wide) for step in steps]
    first = HEAD + LINE_HIGH * max(len(bold + plain) for bold, plain in heads) + 0.22
    side = "of 100 vehicles like this one, so many have it"
    sheet = DrawingSheet("How the suspects stand", side, first + ROW * len(rows) + 0.45)
    for k, (bold, plain) in enumerate(heads):
        for i, words in enumerate(bold + plain):
            high, color = i < len(bold), INK if i < len(bold) else GRAPHITE
            sheet.text(NAMES + wide * k, HEAD + LINE_HIGH * i, words, size=SMALL, bold=high, color=color)
    sheet.line([(0.2, first - 0.28), (END, first - 0.28)], width=BOLD)
    leader = max(range(len(rows) - 1), key=lambda i: counts[-1][i]) if verdict and len(rows) > 1 else None
    for i, name in enumerate(names):
        y = first + ROW * i
        lines = "\n".join(textwrap.wrap(name, NAME_LETTERS, max_lines=2, placeholder=" \u2026"))
        sheet.text(0.2, y + 0.015, lines, size=SMALL, bold=i == leader, va="center", linespacing=1.1)
        sheet.line([(0.2, y + 0.19), (END, y + 0.19)], width=0.4, color=RULE)
        for k in range(len(steps)):
            _bar(sheet, [column[i] for column in counts], k, NAMES + wide * k, wide, y, leads=i == leader)
    skipped = given - len(steps)
    left_out = f" Left out, because they changed less: {skipped}." if skipped else ""
    words = f"Each column: after that finding.{left_out} 0: fewer than one of 200."
    sheet.text(0.2, first + ROW * len(rows) + 0.2, words, size=SMALL, color=GRAPHITE)
    return sheet.picture(_alt(steps, names, counts, leader) + left_out)


def _checked(steps: Sequence[OddsStep]) -> list[OddsStep]:
    if not steps:
        raise ValueError("steps must hold at least one finding, got none. Inspect something first.")
    for step in steps:
        if abs(sum(step.odds.values()) - 1.0) > 1e-6:
            raise ValueError(
                f"odds must sum to 1, got {sum(step.odds.values()):.4f} after {step.title}. Give every suspect."
            )
    pairs = pairwise(steps)
    moved = [
        0.0,
        *(
            sum(abs(share - before.odds.get(name, 0.0)) for name, share in now.odds.items())
            for before, now in pairs
        ),
    ]
    return [steps[i] for i in telling(moved, MOST_COLUMNS)]


def _rows(steps: Sequence[OddsStep]) -> list[str]:
    """The suspects that stood highest at any time, the last findings' order first, and the rest as one."""
    highest = {name: max(step.odds.get(name, 0.0) for step in steps) for step in steps for name in step.odds}
    chosen = sorted(highest, key=lambda name: -highest[name])[: MOST_ROWS - 1]
    return [*sorted(chosen, key=lambda name: -steps[-1].odds.get(name, 0.0)), OTHERS]


def _rest(step: OddsStep, rows: Sequence[str]) -> float:
    return 1.0 - sum(step.odds.get(row, 0.0) for row in rows[:-1])


def _called(row: str, labels: Mapping[str, str] | None) -> str:
    return (labels or {}).get(row, row.replace("_", " "))


def _head(step: OddsStep, wide: float) -> tuple[list[str], list[str]]:
    """What stands over a column, in lines: the inspection, and what it found."""
    letters = int(wide * 11.0)
    return textwrap.wrap(step.title, letters), textwrap.wrap(step.found, letters)


def _bar(
    sheet: DrawingSheet, counts: Sequence[int], k: int, x: float, wide: float, y: float, *, leads: bool
) -> None:
    """One number with its bar."""
    long = (wide - 0.42) * counts[k] / 100.0
    face, edge = (STEEL, INK) if leads else (RULE, None)
    sheet.line([(x, y - 0.13), (x, y + 0.13)], width=HAIR, color=RULE)
    sheet.box(x, y - 0.1, long, 0.2, face=face, edge=edge, width=1.0, name="bar")
    sheet.text(x + long + 0.05, y + 0.05, str(counts[k]), size=SMALL, bold=leads, name="count")


def _alt(
    steps: Sequence[OddsStep], names: Sequence[str], counts: Sequence[Sequence[int]], leader: int | None
) -> str:
    told = []
    for step, column in zip(steps, counts, strict=True):
        numbers = ", ".join(f"{name} {count}" for name, count in zip(names, column, strict=True))
        told.append(f"After {step.title}{f', {step.found}' if step.found else ''}: {numbers}")
    leads = "" if leader is None else f" {names[leader]} leads with {counts[-1][leader]}."
    return f"Of 100 vehicles like this one. {'. '.join(told)}.{leads}"
