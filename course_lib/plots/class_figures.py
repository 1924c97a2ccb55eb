"""Figures of a class report: how each criterion does as a question, what inspecting was worth, part-only before and after.

`verdict`: True adds what the numbers say of a question; False leaves that to the reader.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from course_lib.plots.drawing import HAIR, HEAVY, MARGIN, SMALL, TOP, WIDTH, DrawingSheet
from course_lib.plots.palette import GRAPHITE, OCHRE, RULE, STEEL
from course_lib.plots.picture import Picture

ROW, LEFT, RIGHT = 0.34, 2.1, 4.5  # in.: height of a row, ends of the scale
DOT = 0.05  # in.
X0, X1, Y0, Y1 = 1.1, WIDTH - 0.6, TOP + 0.25, 3.7  # in.: the field of the dots
MOST_SHOWN = 6.0  # times the ideal minutes; more stands at the edge


def class_items(
    names: Sequence[str],
    share: Sequence[float],
    index: Sequence[float],
    words: Sequence[str],
    *,
    verdict: bool,
) -> Picture:
    """A row for each criterion: the share of its points that the class earned, and index D; words: what D says.

    A value that is not known (nan) is drawn as such. Raises ValueError where the lists differ in length.
    """
    if not len(names) == len(share) == len(index) == len(words):
        raise ValueError(
            f"lists must be of one length, got {len(names)}, {len(share)}, {len(index)}, {len(words)}. Match them."
        )
    sheet = DrawingSheet(
        "How each criterion does", "share of its points, and index D", TOP + ROW * (len(names) + 1.2)
    )
    said = []
    for row, (name, part, d, meaning) in enumerate(zip(names, share, index, words, strict=True)):
        y = TOP + ROW * (row + 0.5)
        known = _bar(sheet, y, name, part)
        sheet.text(RIGHT + 0.5, y + 0.05, known, ha="right")
        mark = _d(d) + (f", {meaning}" if verdict and np.isfinite(d) else "")
        color = OCHRE if verdict and d < 0 else GRAPHITE
        sheet.text(RIGHT + 0.75, y + 0.05, mark, color=color, size=SMALL, name="index")
        said.append(f"{name}: {known} of the points, {mark}")
    foot = TOP + ROW * (len(names) + 0.6)
    for value in (0.0, 0.5, 1.0):
        at = LEFT + (RIGHT - LEFT) * value
        sheet.text(at, foot, f"{value:.0%}", color=GRAPHITE, size=SMALL, ha="center")
    head = "Share of the points that the class earned on each criterion, and index D."
    return sheet.picture(f"{head} {'; '.join(said)}.")


def _bar(sheet: DrawingSheet, y: float, name: str, share: float) -> str:
    """A named row with a bar as long as the share; the share in words."""
    sheet.text(LEFT - 0.15, y + 0.05, name, ha="right")
    sheet.line([(LEFT, y), (RIGHT, y)], width=HAIR, color=RULE)
    if not np.isfinite(share):
        return "not known"
    sheet.line([(LEFT, y), (LEFT + (RIGHT - LEFT) * float(share), y)], width=HEAVY, color=STEEL, name="share")
    return f"{share:.0%}"


def _d(index: float) -> str:
    return f"D {index:+.2f}" if np.isfinite(index) else "D not known"


def class_economy(points: Sequence[float], ratio: Sequence[float], *, verdict: bool) -> Picture:
    """A dot for each record: points against the minutes spent, as a multiple of the ideal ones. Unknown ones are left out."""
    known = [(p, r) for p, r in zip(points, ratio, strict=True) if np.isfinite(p) and np.isfinite(r)]
    both = np.array(known).reshape(-1, 2)
    sheet = DrawingSheet("What inspecting was worth", "each dot is one record", 4.4)
    sheet.line([(X0, Y0), (X0, Y1), (X1, Y1)], width=HAIR, color=RULE)
    for earned in (0, 50, 100):
        sheet.text(X0 - 0.12, _y(earned) + 0.05, str(earned), color=GRAPHITE, size=SMALL, ha="right")
    for times in range(0, int(MOST_SHOWN) + 1):
        end = " or more" if times == MOST_SHOWN else ""
        sheet.text(_x(times), Y1 + 0.22, f"{times}{end}", color=GRAPHITE, size=SMALL, ha="center")
    sheet.text(MARGIN, Y0 - 0.1, "points", color=GRAPHITE, size=SMALL)
    below = "minutes of inspections, as times the ideal"
    sheet.text((X0 + X1) / 2, Y1 + 0.52, below, color=GRAPHITE, size=SMALL, ha="center")
    sheet.line([(_x(1.0), Y0), (_x(1.0), Y1)], width=HAIR, color=RULE, dash=(0, (4, 2)))
    if known:
        sheet.dots([(_x(r), _y(p)) for p, r in known], DOT, color=STEEL, name="records")
    return sheet.picture(_economy_in_words(both, verdict))


def _x(times: float) -> float:
    return X0 + (X1 - X0) * min(times, MOST_SHOWN) / MOST_SHOWN


def _y(earned: float) -> float:
    return Y1 - (Y1 - Y0) * earned / 100.0


def _economy_in_words(both: np.ndarray, verdict: bool) -> str:
    head = "Points of each record against its minutes, as times the ideal minutes."
    if not len(both):
        return f"{head} No records."
    earned, times = np.median(both, axis=0)
    said = f"{head} {len(both)} records, median {earned:.0f} points and {times:.1f} times the ideal"
    thrifty = both[both[:, 1] <= np.median(both[:, 1])][:, 0].mean()
    lavish = both[both[:, 1] >= np.median(both[:, 1])][:, 0].mean()
    more = (
        f"; the thriftier half earned {thrifty:.0f} points on average, the other half {lavish:.0f}"
        if verdict
        else ""
    )
    return f"{said}, from {both[:, 1].min():.1f} to {both[:, 1].max():.1f}{more}."


def class_part_only(before: float, after: float, records: tuple[int, int], *, verdict: bool) -> Picture:
    """Two bars: the share of records that name the part and miss the cause, before and after."""
    sheet = DrawingSheet("The part, and not the cause", "share of the records", 2.1)
    said = []
    for row, (word, share, count) in enumerate(
        zip(("before", "after"), (before, after), records, strict=True)
    ):
        y = TOP + 0.3 + 0.5 * row
        known = (
            f"{_bar(sheet, y, word, share)} of {count}"
            if count
            else f"{_bar(sheet, y, word, np.nan)}: no records"
        )
        sheet.text(RIGHT + 0.25, y + 0.05, known)
        said.append(f"{word} {known}")
    change = _change(before, after) if verdict else ""
    if change:
        sheet.text(LEFT, TOP + 1.2, change, color=GRAPHITE, size=SMALL)
    return sheet.picture(
        f"Records that name the part and miss the cause: {', '.join(said)}. {change}".rstrip()
    )


def _change(before: float, after: float) -> str:
    if not (np.isfinite(before) and np.isfinite(after)):
        return ""
    if round(before, 2) == round(after, 2):
        return "No change."
    return f"A {'smaller' if after < before else 'larger'} share than before."
