"""The life of a unit over its odometer. Only for a case that is closed: it shows what was hidden."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.cases.key import Key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults.repair import Past
from course_lib.plots.drawing import DOTTED, HAIR, LINE, SMALL, DrawingSheet
from course_lib.plots.life_tracks import LifeTrack, life_track
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import AxisScale, axis_below, both_ends, in_sentences, number, span
from course_lib.shop.graded_scales import all_scales, step_word
from course_lib.shop.holders import pressed
from course_lib.vehicle.life_events import event_label

LEFT, RIGHT, FIRST = 2.15, 7.65, 1.1  # in. of paper: the strips, and where the first begins
STRIP, GAP = 0.72, 0.24
WORD_HIGH = 0.155  # of a line of words beside an axis
KEY_LETTERS = 92
Happened = list[tuple[float, list[str]]]  # miles, and what happened there
LEAST_SPAN, STIR = 10.0, 0.03  # of an axis that has no ends; share of it that a curve must move to be drawn
SAME_MILES = 0.5  # events closer than that stand under one letter


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One curve over the odometer: values (n,) as shown, its spec, and words along the axis where it is a scale of words."""

    name: str
    unit: str
    values: np.ndarray
    spec: tuple[float, float] | None = None
    words: tuple[tuple[float, str], ...] = ()
    ends: tuple[float, float] | None = None
    decimals: int = 0


def life_of(life: Past | Key | LifeTrack, *, verdict: bool, system: str = "workshop") -> Picture:
    """The last miles of a vehicle: temperature and line pressure, taps, lining, seal and learned fill times as far as they move,
    with what happened in letters.

    life: a vehicle as it came in, the key of its case, or what `track` made of either. verdict: whether the picture may say what
    was outside spec, and name the cause. Raises ValueError for a key that holds no vehicle.
    """
    lived = (
        life
        if isinstance(life, LifeTrack)
        else life_track(vehicle_of(life) if isinstance(life, Key) else life)
    )
    strips = _strips(lived, system)
    happened = _happened(lived.past, verdict)
    bottom = FIRST + (STRIP + GAP) * len(strips)
    lines = [textwrap.wrap(text, KEY_LETTERS) for _, text in _told(happened, system)]
    sheet = DrawingSheet(
        "Life of this unit",
        "lived by the simulator; shown when the case is closed",
        bottom + 0.6 + _key_high(lines),
    )
    miles = np.asarray(units.in_system(lived.miles, "mi", system)[0])
    across = AxisScale(float(miles[0]), float(miles[-1]), LEFT, RIGHT)
    _events(sheet, happened, across, bottom, system)
    for i, strip in enumerate(strips):
        _strip(sheet, strip, miles, across, FIRST + (STRIP + GAP) * i, verdict)
    axis_below(sheet, across, bottom - 0.1, f"odometer, {units.in_system(0.0, 'mi', system)[1]}", most=5)
    _key(sheet, _told(happened, system), bottom + 0.65)
    return sheet.picture(_life_alt(strips, happened, lived, verdict, system))


# ---------------------------------------------------------------------- what is drawn of a life
def _strips(lived: LifeTrack, system: str) -> list[Strip]:
    spec, stem = lived.past.unit.spec, _worst(lived)
    name = _name(lived, stem)
    found = [
        _measured("Sump temperature", lived.sump_f, "\u00b0F", spec.get("sump_temp_f"), system),
        _measured(
            "Line pressure, D, idle, hot", lived.line_psi, "psi", spec.get("line_pressure_d_idle_psi"), system
        ),
    ]
    if lived.drop_psi:
        tap = _moved_most(lived.drop_psi)
        due = spec.get(f"circuit_drop_{tap}_psi")
        found.append(
            _measured(f"Tap below line, {_name(lived, tap)}", lived.drop_psi[tap], "psi", due, system)
        )
    found += [
        Strip(name=f"Lining left, {name}", unit="%", values=100.0 * lived.left[stem], ends=(0.0, 105.0)),
        _hardest(lived),
        *_learned(lived),
    ]
    return [*found[:2], *(strip for strip in found[2:] if _moves(strip))]


def _moves(strip: Strip) -> bool:
    """Whether there is anything to see in a strip: what stays as it was only takes room from what broke."""
    low, high = strip.ends or (0.0, LEAST_SPAN)
    return float(np.ptp(strip.values)) >= STIR * (high - low)


def _moved_most(values: dict[str, np.ndarray]) -> str:
    """The element whose values have changed most since the beginning of the picture."""
    return max(values, key=lambda each: abs(float(values[each][-1] - values[each][0])))


def _learned(lived: LifeTrack) -> list[Strip]:
    """The fill time that a controller had to change most, where one learns."""
    if not lived.learned:
        return []
    stem = _moved_most(lived.learned)
    return [Strip(name=f"Learned fill time, {_name(lived, stem)}", unit="ms", values=lived.learned[stem])]


def _hardest(lived: LifeTrack) -> Strip:
    """The seal that is hardest in the end, on the scale of words that a teardown uses."""
    limits = (0.0, *all_scales()["rubber"].limits)
    said = [step_word("rubber", i).split(",")[0].removeprefix("seal ") for i in range(len(limits))]
    stem = max(lived.hardness, key=lambda each: lived.hardness[each][-1])
    return Strip(
        name=f"Seal, {_name(lived, stem)}", unit="", values=lived.hardness[stem], ends=(0.0, 1.0), decimals=2,
        words=tuple(zip(limits, said, strict=True)),
    )  # fmt: skip


def _measured(
    name: str, values: Array, unit: str, spec: tuple[float | None, float | None] | None, system: str
) -> Strip:
    """A strip in the units of the reader."""
    shown, to = units.in_system(values, unit, system)
    if spec is None:
        return Strip(name=name, unit=to, values=np.asarray(shown))
    low, high = (float(units.in_system(end, unit, system)[0]) for end in both_ends(spec))
    return Strip(name=name, unit=to, values=np.asarray(shown), spec=(low, high))


def _worst(lived: LifeTrack) -> str:
    """The element that has lost most lining since the beginning of the picture."""
    return min(lived.left, key=lambda each: lived.left[each][-1] - lived.left[each][0])


def _name(lived: LifeTrack, stem: str) -> str:
    """How people call an element."""
    return next(each.label for each in pressed(lived.past.unit) if each.stem == stem)


def _happened(past: Past, verdict: bool) -> Happened:
    """(miles, what happened there), in order: the causes, the landmarks since then, the complaint."""
    unit, here = past.unit, past.odometer / units.MILE
    told = [(past.onset_miles, cause.label if verdict else "the cause sets in") for cause in past.causes]
    told += [
        (mile / units.MILE, event_label(event, unit))
        for event, mile in past.events.items()
        if mile / units.MILE > past.onset_miles
    ]
    told.append((here, "the owner comes in"))
    found: Happened = []
    for miles, words in sorted(told, key=lambda each: each[0]):
        if found and miles - found[-1][0] < max(SAME_MILES, 0.02 * past.miles_since_onset):
            found[-1][1].append(words)
        else:
            found.append((miles, [words]))
    return found


def _told(happened: Happened, system: str) -> list[tuple[str, str]]:
    """(letter, what it stands for)."""
    return [
        (chr(ord("A") + i), units.text_in_system(f"{miles:,.0f} mi: {'; '.join(words)}", system))
        for i, (miles, words) in enumerate(happened)
    ]


# ---------------------------------------------------------------------- drawing a life
def _strip(
    sheet: DrawingSheet, strip: Strip, miles: np.ndarray, across: AxisScale, y: float, verdict: bool
) -> None:
    numbers = [*strip.values, *(strip.spec or ())]
    ends = strip.ends or span(
        [float(n) for n in numbers], least=LEAST_SPAN, pad=0.12, floor=min(0.0, *numbers)
    )
    up = AxisScale(*ends, y + STRIP, y)
    name = textwrap.fill(strip.name, 18)
    sheet.text(0.2, y + 0.12, name, size=SMALL, bold=True, va="top")
    if strip.unit:
        told = f"{strip.unit}" + (
            f", spec {number(round(strip.spec[0]))} to {number(round(strip.spec[1]))}" if strip.spec else ""
        )
        sheet.text(0.2, y + 0.26 + 0.17 * name.count("\n") + 0.25, told, size=SMALL, color=GRAPHITE)
    if strip.spec:
        low, high = (float(up.at(end)) for end in strip.spec)
        sheet.box(LEFT, high, RIGHT - LEFT, low - high, face=TINT, edge=None, name="spec")
        sheet.lines([[(LEFT, at), (RIGHT, at)] for at in (low, high)], width=0.6, dash=DOTTED)
    sheet.line([(LEFT, y), (LEFT, y + STRIP)], width=HAIR, color=RULE)
    ticks = strip.words or tuple((float(t), number(float(t))) for t in up.ticks(3))
    for (value, words), y_of in zip(ticks, _apart([float(up.at(value)) for value, _ in ticks]), strict=True):
        sheet.line([(LEFT - 0.05, y_of), (LEFT, float(up.at(value)))], width=HAIR, color=RULE)
        sheet.text(LEFT - 0.08, y_of, words, size=SMALL, ha="right", va="center")
    xs, ys = across.at(miles), up.at(strip.values)
    sheet.line(list(zip(xs, ys, strict=True)), width=LINE, color=STEEL, name=f"curve {strip.name}", zorder=4)
    if strip.spec and verdict:
        _outside(sheet, xs, ys, strip)


def _apart(places: list[float]) -> list[float]:
    """Places from below upward, moved up where two lines of words would touch."""
    moved: list[float] = []
    for y in places:
        moved.append(min(y, moved[-1] - WORD_HIGH) if moved else y)
    return moved


def _outside(sheet: DrawingSheet, xs: Array, ys: Array, strip: Strip) -> None:
    """What is outside spec, three times as thick; from half way to the last point that was within."""
    assert strip.spec is not None
    out = (strip.values < strip.spec[0]) | (strip.values > strip.spec[1])
    for run in np.split(np.arange(len(out)), np.flatnonzero(np.diff(out.astype(int))) + 1):
        if not out[run[0]]:
            continue
        points = [(float(xs[i]), float(ys[i])) for i in run]
        for i, place in ((run[0] - 1, 0), (run[-1] + 1, len(points))):
            if 0 <= i < len(out):
                near = points[0 if place == 0 else -1]
                points.insert(place, ((float(xs[i]) + near[0]) / 2, (float(ys[i]) + near[1]) / 2))
        sheet.line(points, width=3 * LINE, color=OCHRE, name="outside", zorder=5, solid_capstyle="round")


def _events(sheet: DrawingSheet, happened: Happened, across: AxisScale, bottom: float, system: str) -> None:
    """A line through all strips for each event, with its letter."""
    last = -1.0
    for i, (miles, _) in enumerate(happened):
        x = float(np.clip(across.at(units.in_system(miles, "mi", system)[0]), LEFT, RIGHT))
        sheet.line([(x, FIRST - 0.08), (x, bottom - 0.1)], width=HAIR, name="event", zorder=3)
        tab = max(x, last + 0.22)
        last = tab
        sheet.line([(x, FIRST - 0.08), (tab, FIRST - 0.2)], width=HAIR)
        sheet.box(tab - 0.1, FIRST - 0.4, 0.2, 0.22, face=INK, edge=None)
        sheet.text(
            tab,
            FIRST - 0.285,
            chr(ord("A") + i),
            size=SMALL,
            bold=True,
            color=PAPER,
            ha="center",
            va="center",
        )


def _key_high(lines: Sequence[Sequence[str]]) -> float:
    return sum(0.17 * len(each) + 0.07 for each in lines) + 0.1


def _key(sheet: DrawingSheet, told: Sequence[tuple[str, str]], y: float) -> None:
    for letter, text in told:
        sheet.box(0.2, y - 0.14, 0.19, 0.2, face=INK, edge=None)
        sheet.text(0.295, y - 0.04, letter, size=SMALL, bold=True, color=PAPER, ha="center", va="center")
        lines = textwrap.wrap(text, KEY_LETTERS)
        for i, words in enumerate(lines):
            sheet.text(0.5, y + 0.17 * i, words, size=SMALL)
        y += 0.17 * len(lines) + 0.07


def _life_alt(
    strips: Sequence[Strip], happened: Happened, lived: LifeTrack, verdict: bool, system: str
) -> str:
    first, last = (units.text_in_system(f"{mile:,.0f} mi", system) for mile in lived.miles[[0, -1]])
    told = [f"Life of this unit from {first} to {last}"]
    for strip in strips:
        start, end = (_value(strip, strip.values[i]) for i in (0, -1))
        words = f"{strip.name}: {start} at first, {end} at the end"
        if strip.spec:
            words += f"; spec {strip.spec[0]:.0f} to {strip.spec[1]:.0f} {strip.unit}"
            out = np.flatnonzero((strip.values < strip.spec[0]) | (strip.values > strip.spec[1]))
            if verdict:
                miles = units.text_in_system(f"{lived.miles[out[0]]:,.0f} mi", system) if len(out) else ""
                words += f"; outside spec from {miles}" if miles else "; within spec throughout"
        told.append(words)
    told += [f"{letter}, {text}" for letter, text in _told(happened, system)]
    return in_sentences(told)


def _value(strip: Strip, value: float) -> str:
    if strip.words:
        return [words for limit, words in strip.words if value >= limit][-1]
    return f"{value:.{strip.decimals}f} {strip.unit}"
