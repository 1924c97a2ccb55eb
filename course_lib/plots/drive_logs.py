"""A recorded drive: channels over time, each sample a dot, so that one sees what may have happened between two of them."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.plots.drawing import DOTTED, HAIR, SMALL, Dash, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE, STEEL, TINT
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import LINE_HIGH
from course_lib.plots.reading_marks import AxisScale, axis_below, axis_left, in_sentences, number, span
from course_lib.shop.findings import NARROW, Reading, Spec, spec_text

LEFT, RIGHT, KEY, UPPER = 0.95, 5.75, 5.95, 0.98  # in. of paper: the field, the key, the first strip
STRIP, BETWEEN, KEY_LETTERS = 1.05, 0.2, 21
GAP = 1.5  # times the usual step; a longer one is a gap
OUT = "outside spec"
Style = tuple[str, Dash, str]  # color, dash of the line, mark of a sample
STYLES: tuple[Style, ...] = (
    (STEEL, None, "o"),
    (INK, (0, (3, 2)), "s"),
    (INK, (0, (1, 2)), "D"),
)  # of a strip's channels


@dataclass(frozen=True, eq=False, slots=True)
class LogChannel:
    """What one name of the log read at each time, (n,), in workshop units; NaN where it gave nothing.

    strip: channels of one strip stand on one scale, and must have one unit.
    """

    name: str
    unit: str
    values: Array
    strip: str
    decimals: int = 0
    spec: Spec | None = None

    def reading(self, value: float) -> Reading:
        """One of its values."""
        return Reading(key="", label=self.name, value=value, unit=self.unit, spec=self.spec, sigma=0.0,
                       decimals=self.decimals)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LogEvent:
    """What was done, and when [s]."""

    time: float
    words: str


@dataclass(frozen=True, eq=False, slots=True)
class DataLog:
    """What was recorded: times (n,) [s], channels, and what was done meanwhile. Raises ValueError where lengths differ."""

    title: str
    time: Array
    channels: tuple[LogChannel, ...]
    events: tuple[LogEvent, ...] = ()

    def __post_init__(self) -> None:
        for each in self.channels:
            if each.values.shape != self.time.shape:
                raise ValueError(
                    f"values of {each.name} must be as many as times, got {each.values.size} and {self.time.size}. "
                    f"Put NaN where nothing came."
                )

    @property
    def step(self) -> float:
        """The usual time between two samples [s]."""
        return float(np.median(np.diff(self.time)))

    def gaps(self) -> list[tuple[float, float]]:
        """From when to when nothing at all was recorded."""
        ends = np.flatnonzero(np.diff(self.time) > GAP * self.step)
        return [(float(self.time[k]), float(self.time[k + 1])) for k in ends]


def data_log(log: DataLog, *, verdict: bool, system: str = "workshop", side: str = "") -> Picture:
    """A log with a dot for each sample, and nothing drawn where nothing was recorded.

    verdict: whether the picture may say which samples lie outside a spec. Raises ValueError where channels of one strip have
    several units.
    """
    strips = _strips(log, system)
    tall = [max(STRIP, LINE_HIGH * sum(len(_key(c, verdict)) for c in strip) + 0.14) for strip in strips]
    bottom = UPPER + sum(tall) + BETWEEN * (len(strips) - 1)
    notes = _notes(log)
    sheet = DrawingSheet(log.title, side, bottom + 0.62 + LINE_HIGH * len(notes))
    across = AxisScale(float(log.time[0]), float(log.time[-1]), LEFT, RIGHT)
    _gaps(sheet, log, across, bottom)
    y = UPPER
    for strip, high in zip(strips, tall, strict=True):
        _strip(sheet, log, strip, across, (y, y + high), verdict)
        y += high + BETWEEN
    axis_below(sheet, across, bottom, "time, s", most=8)
    _events(sheet, log, across, bottom)
    for k, words in enumerate(notes):
        sheet.text(0.2, bottom + 0.62 + LINE_HIGH * k, words, size=SMALL, color=GRAPHITE, name="value")
    return sheet.picture(_alt(log, strips, verdict))


def _strips(log: DataLog, system: str) -> list[list[LogChannel]]:
    """The channels in the units of the reader, strip by strip. Raises ValueError where units differ within one."""
    found: dict[str, list[LogChannel]] = {}
    for each in log.channels:
        found.setdefault(each.strip, []).append(_in_system(each, system))
    for name, strip in found.items():
        if len(kinds := {each.unit for each in strip}) > 1 or len(strip) > len(STYLES):
            raise ValueError(
                f"strip {name!r} must hold at most {len(STYLES)} channels of one unit, got {len(strip)} of {sorted(kinds)}. "
                f"Give each unit a strip."
            )
    return list(found.values())


def _in_system(channel: LogChannel, system: str) -> LogChannel:
    values, unit = units.in_system(channel.values, channel.unit, system)
    decimals = units.metric_decimals(channel.decimals, channel.unit, system)
    low, high = channel.spec or (None, None)
    ends = tuple(None if n is None else units.in_system(n, channel.unit, system)[0] for n in (low, high))
    spec = None if channel.spec is None else (ends[0], ends[1])
    return LogChannel(channel.name, unit, values, channel.strip, decimals, spec)


def _outside(channel: LogChannel) -> Array:
    """Which samples lie outside the spec, (n,)."""
    low, high = channel.spec or (None, None)
    shown = np.round(channel.values, channel.decimals)
    off = np.zeros(shown.shape, bool)
    if low is not None:
        off |= shown < low
    if high is not None:
        off |= shown > high
    return off


# ---------------------------------------------------------------------- drawing
def _strip(sheet: DrawingSheet, log: DataLog, strip: list[LogChannel], across: AxisScale, ends: tuple[float, float],
           verdict: bool) -> None:  # fmt: skip
    upper, lower = ends
    numbers = [float(n) for each in strip for n in each.values[np.isfinite(each.values)]]
    numbers += [n for each in strip for n in (each.spec or ()) if n is not None]
    up = AxisScale(*span(numbers or [0.0, 1.0], least=4 * 10.0 ** -strip[0].decimals), lower, upper)
    axis_left(sheet, up, LEFT, most=4, across=RIGHT)
    sheet.text(0.2, upper + 0.1, strip[0].unit, size=SMALL, color=GRAPHITE)
    sheet.lines([[(LEFT, y), (RIGHT, y)] for y in ends], width=0.5, color=RULE)
    y = upper + 0.12
    for style, each in zip(STYLES, strip, strict=False):
        if each.spec is not None:
            _field(sheet, each.spec, up)
        _curve(sheet, log, each, across, up, style)
        if verdict and each.spec is not None:
            _wedges(sheet, log, each, across, up)
        y = _named(sheet, each, style, y, verdict)


def _field(sheet: DrawingSheet, spec: Spec, up: AxisScale) -> None:
    low, high = (up.low if spec[0] is None else spec[0]), (up.high if spec[1] is None else spec[1])
    top, bottom = up.at(high), up.at(low)
    sheet.box(LEFT, top, RIGHT - LEFT, bottom - top, face=TINT, edge=None, name="spec", zorder=0.5)
    ends = [end for end in spec if end is not None]
    sheet.lines([[(LEFT, up.at(end)), (RIGHT, up.at(end))] for end in ends], width=1.0, color=INK)


def _curve(sheet: DrawingSheet, log: DataLog, channel: LogChannel, across: AxisScale, up: AxisScale,
           style: Style) -> None:  # fmt: skip
    """The samples as dots, and a line between neighbors in time."""
    color, dash, mark = style
    there = np.isfinite(channel.values)
    xs, ys = across.at(log.time), up.at(channel.values)
    joined = there[:-1] & there[1:] & (np.diff(log.time) <= GAP * log.step)
    parts = [[(xs[k], ys[k]), (xs[k + 1], ys[k + 1])] for k in np.flatnonzero(joined)]
    sheet.lines(parts, width=1.0, color=color, dash=dash, name="curve")
    points = list(zip(xs[there], ys[there], strict=True))
    if points:
        face = color if mark == "o" else PAPER
        sheet.line(
            points,
            width=0.0,
            color=color,
            marker=mark,
            markersize=3.0,
            markerfacecolor=face,
            name="samples",
            markeredgewidth=0.8,
        )


def _wedges(sheet: DrawingSheet, log: DataLog, channel: LogChannel, across: AxisScale, up: AxisScale) -> None:
    """The farthest sample outside the spec on either side, by a wedge that points away from it."""
    assert channel.spec is not None
    there = channel.values
    if not np.isfinite(there).any():
        return
    for end, away, k in (
        (channel.spec[0], 1.0, int(np.nanargmin(there))),
        (channel.spec[1], -1.0, int(np.nanargmax(there))),
    ):
        if end is None or not _outside(channel)[k] or (there[k] - end) * away > 0:
            continue
        x, y = float(across.at(log.time[k])), float(up.at(there[k]))
        wedge = [(x - 0.06, y - 0.06 * away), (x + 0.06, y - 0.06 * away), (x, y + 0.06 * away)]
        sheet.shape(wedge, face=OCHRE, edge=None, name="mark", zorder=5)


def _key(channel: LogChannel, verdict: bool) -> list[tuple[str, str]]:
    """The name of a channel and what it did, in lines, each with its color."""
    told = [
        (channel.name, INK),
        *((words, OCHRE if OUT in words else GRAPHITE) for words in _did(channel, verdict)),
    ]
    return [(line, color) for words, color in told for line in textwrap.wrap(words, KEY_LETTERS)]


def _did(channel: LogChannel, verdict: bool) -> list[str]:
    """From where to where a channel went, its spec, and how often it lay outside."""
    there = channel.values[np.isfinite(channel.values)]
    if not there.size:
        return ["no data"]
    least, most = (channel.reading(float(f(there))) for f in (np.min, np.max))
    told = [most.found_text]
    if least.found_text != most.found_text:
        told = [f"{least.show(float(there.min()))} to {most.found_text}"]
    if channel.spec is not None:
        told.append(f"spec {spec_text(channel.spec, channel.unit, channel.decimals)}")
        if verdict:
            off = int(_outside(channel).sum())
            told.append(f"{off} of {there.size} samples {OUT}" if off else "within spec")
    return told


def _named(sheet: DrawingSheet, channel: LogChannel, style: Style, y: float, verdict: bool) -> float:
    """A channel in the key: its line, its name, what it did; the place of the next."""
    color, dash, mark = style
    sheet.line([(KEY - 0.12, y - 0.05), (KEY + 0.18, y - 0.05)], width=1.0, color=color, dash=dash)
    face = color if mark == "o" else PAPER
    sheet.line(
        [(KEY + 0.03, y - 0.05)], width=0.0, color=color, marker=mark, markersize=4.0, markerfacecolor=face
    )
    for words, hue in _key(channel, verdict):
        sheet.text(KEY + 0.26, y, words, size=SMALL, bold=hue != GRAPHITE, color=hue, name="value")
        y += LINE_HIGH
    return y + 0.06


def _gaps(sheet: DrawingSheet, log: DataLog, across: AxisScale, bottom: float) -> None:
    """Where nothing was recorded: a hatched field through all strips."""
    for start, end in log.gaps():
        x = across.at(start)
        sheet.box(x, UPPER, across.at(end) - x, bottom - UPPER, edge=RULE, width=HAIR, hatch="///", name="gap",
                  zorder=0.4)  # fmt: skip


def _events(sheet: DrawingSheet, log: DataLog, across: AxisScale, bottom: float) -> None:
    for letter, event in zip("ABCDEFGH", log.events, strict=False):
        x = float(across.at(event.time))
        sheet.line([(x, UPPER - 0.08), (x, bottom)], width=HAIR, color=INK, dash=DOTTED)
        sheet.box(x - 0.09, UPPER - 0.27, 0.18, 0.19, face=INK, edge=None)
        sheet.text(x, UPPER - 0.12, letter, size=SMALL, bold=True, color=PAPER, ha="center")


def _notes(log: DataLog) -> list[str]:
    """How often the log looked, what it missed, and what was done, in lines."""
    rate = 1.0 / log.step
    told = [
        f"{number(round(rate, 1))} samples a second: what is shorter than {number(round(log.step, 3))}{NARROW}s may fall between."
    ]
    done = [f"{a} {e.words}, at {e.time:.1f}{NARROW}s" for a, e in zip("ABCDEFGH", log.events, strict=False)]
    gaps = [f"{start:.1f} to {end:.1f}{NARROW}s" for start, end in log.gaps()]
    told += [f"{'; '.join(done)}."] * bool(done)
    told += [f"Hatched: no data from {', '.join(gaps)}."] * bool(gaps)
    return [line for words in told for line in textwrap.wrap(words, 95)]


def _alt(log: DataLog, strips: list[list[LogChannel]], verdict: bool) -> str:
    told = [
        f"{log.title}, {log.time[-1] - log.time[0]:.1f}{NARROW}s",
        " ".join(_notes(log)).replace("Hatched: n", "N"),
    ]
    for each in (channel for strip in strips for channel in strip):
        there = each.values[np.isfinite(each.values)]
        words = "; ".join(_did(each, verdict))
        if there.size:
            words += f"; first {each.reading(float(there[0])).show(float(there[0]))}"
            words += f", last {each.reading(float(there[-1])).show(float(there[-1]))}"
        told.append(f"{each.name}: {words}")
    return in_sentences(told)
