"""Repairs of a vehicle driven on, with and without its cause corrected. Only for a case that is closed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from course_lib.base import units
from course_lib.cases.key import Key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults.repair import Past, TrialRepair
from course_lib.plots.drawing import BOLD, DASHED, DOTTED, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.life_tracks import RepairTrack, repair_tracks
from course_lib.plots.palette import INK, OCHRE, RULE, STEEL
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import AxisScale, axis_below, in_sentences

DASHES = (None, DASHED, DOTTED, (0, (6, 2, 1, 2)))
MOST = 1.6  # strength at which the picture ends; 1 brings the owner in
UPPER, LOWER, LEFT, RIGHT, ROW = 0.95, 3.25, 1.5, 7.6, 0.34  # in. of paper


def repair_ahead(life: Past | Key | Sequence[RepairTrack], repairs: dict[str, TrialRepair] | None = None, *, verdict: bool,
                 system: str = "workshop") -> Picture:  # fmt: skip
    """Repairs driven on over the owner's miles: how strongly the worst trouble is felt, and when the owner is back.

    life: a vehicle as it came in, the key of its case, or what `ahead` made of either. repairs: name -> plan, else those every
    debrief compares. verdict: whether failed repairs are singled out. Raises ValueError for a key that holds no vehicle.
    """
    if isinstance(life, Key):
        life = vehicle_of(life)
    driven = repair_tracks(life, repairs) if isinstance(life, Past) else tuple(life)
    sheet = DrawingSheet(
        "Repairs, driven on", "by the same owner, on the same roads", LOWER + 0.75 + ROW * len(driven)
    )
    far = max(float(each.miles[-1]) for each in driven)
    across = AxisScale(0.0, float(units.in_system(far, "mi", system)[0]) * 1.04, LEFT, RIGHT)
    up = AxisScale(0.0, MOST, LOWER, UPPER)
    _field(sheet, across, up, units.in_system(0.0, "mi", system)[1])
    told, ends, colors = [], [], []
    for i, each in enumerate(driven):
        end = units.text_in_system(f"{each.miles[-1]:,.0f} mi", system)
        words = f"back after {end}" if each.back is not None else f"{end} on, still drives as it should"
        colors.append(OCHRE if verdict and each.back is not None else (STEEL, INK, RULE)[i % 3])
        ends.append(_curve(sheet, each, across, up, i, colors[i], system))
        _listed(sheet, each, i, colors[i], words)
        told.append(f"{i + 1}, {each.done}: {words}")
    _numbers(sheet, ends, colors)
    head = f"Repairs driven on over {units.text_in_system(f'{far:,.0f} mi', system)}"
    return sheet.picture(in_sentences([head, *told]))


def _field(sheet: DrawingSheet, across: AxisScale, up: AxisScale, unit: str) -> None:
    """Scales, and the strength at which the owner is back."""
    for value, words in ((0.0, "nothing felt"), (1.0, "the owner\ncomes back")):
        sheet.text(LEFT - 0.08, float(up.at(value)), words, size=SMALL, ha="right", va="center")
    sheet.line([(LEFT, float(up.at(1.0))), (RIGHT, float(up.at(1.0)))], width=LINE, dash=DASHED)
    sheet.line([(LEFT, UPPER), (LEFT, LOWER)], width=HAIR, color=RULE)
    axis_below(sheet, across, LOWER, f"{unit} since the repair", most=6)


def _curve(
    sheet: DrawingSheet,
    each: RepairTrack,
    across: AxisScale,
    up: AxisScale,
    place: int,
    color: str,
    system: str,
) -> tuple[float, float]:
    """One repair over its miles, a wedge where the owner came back; where on paper it ends."""
    miles = np.asarray(units.in_system(each.miles, "mi", system)[0])
    points = [
        (float(across.at(m)), float(up.at(min(s, MOST)))) for m, s in zip(miles, each.strength, strict=True)
    ]
    start = [(float(across.at(0.0)), points[0][1])]
    dash = DASHES[place % len(DASHES)]
    sheet.line([*start, *points], width=BOLD, color=color, dash=dash, name=f"ahead {each.name}", zorder=4)
    x, y = points[-1]
    if each.back is not None:
        wedge = [(x - 0.08, y - 0.08), (x + 0.08, y - 0.08), (x, y + 0.08)]
        sheet.shape(wedge, face=color, edge=None, name="back", zorder=5)
    return x, y


def _numbers(sheet: DrawingSheet, ends: Sequence[tuple[float, float]], colors: Sequence[str]) -> None:
    """The number of each repair at the end of its curve; where several end together, in the order of their curves."""
    taken: list[tuple[float, float]] = []
    for i in sorted(range(len(ends)), key=lambda i: -ends[i][1]):
        (x, y), color = ends[i], colors[i]
        while any(abs(x - a) < 0.2 and abs(y - b) < 0.17 for a, b in taken):
            y -= 0.18
        taken.append((x, y))
        ink = INK if color == RULE else color
        sheet.text(x + 0.08, y - 0.06, str(i + 1), size=SMALL, bold=True, color=ink, name="number", zorder=6)


def _listed(sheet: DrawingSheet, each: RepairTrack, place: int, color: str, words: str) -> None:
    """The repair and its end in words."""
    y, failed = LOWER + 0.7 + ROW * place, color == OCHRE
    sheet.text(0.2, y, str(place + 1), bold=True)
    sheet.line([(0.5, y - 0.04), (1.05, y - 0.04)], width=BOLD, color=color, dash=DASHES[place % len(DASHES)])
    sheet.text(1.2, y, each.done, size=SMALL)
    sheet.text(5.05, y, words, size=SMALL, bold=failed, color=color if failed else INK, name="value")
