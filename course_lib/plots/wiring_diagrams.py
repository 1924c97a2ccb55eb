"""A wiring diagram with the points between which something was measured, and the piece that takes the volts drawn heavy."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import dataclass

from course_lib.base.guards import one_of
from course_lib.plots.circuit_symbols import CircuitStrip, Point, draw_piece, ground_sign
from course_lib.plots.drawing import BOLD, DASHED, LINE, SMALL, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, OCHRE, PAPER, RULE
from course_lib.plots.picture import Picture
from course_lib.plots.reading_lists import across, heads, in_order, lines_high
from course_lib.plots.reading_marks import in_sentences, reading_in_words
from course_lib.plots.wiring_layout import (
    RAIL,
    Frame,
    Stretch,
    WiringLayout,
    coil_name,
    grounds,
    trunk,
    wiring_layout,
)
from course_lib.shop.display import reading_in_system
from course_lib.shop.findings import OUTSIDE, Reading
from course_lib.vehicle.control_spec import BATTERY, MINUS, Control

TAG = (0.29, 0.18)  # in. of paper: a mark of a measured point, wide and high
FRAMES = ("controller", "unit")  # boxes with their name over them
MINUS_SIGN = "\u2212"


@dataclass(frozen=True, slots=True)
class MeasuredPoints:
    """A reading, and the two nodes of the wiring that the leads touched; black "body" for a reading against ground."""

    reading: Reading
    red: str
    black: str


def wiring_diagram(title: str, control: Control, measured: Sequence[MeasuredPoints], *, verdict: bool, signals: bool = True,
                   system: str = "workshop", side: str = "") -> Picture:  # fmt: skip
    """The wiring of a unit, drawn by rule from what it declares, with numbered marks where the leads of a meter were.

    signals: whether sensors and bus are drawn, or the power path alone. verdict: whether the picture may say what a reading means;
    what lies between the points of a reading outside its spec is then drawn heavy, but for what another reading found sound.
    Raises ValueError for a node that is not in the drawing.
    """
    plan = wiring_layout(control, signals=signals)
    shown = [MeasuredPoints(reading_in_system(m.reading, system), m.red, m.black) for m in measured]
    for each in shown:
        for node in (each.red, each.black):
            one_of("node", node, plan.nodes)
    listed = in_order([each.reading for each in shown], verdict)
    high = plan.bottom + (0.55 + lines_high(listed) if listed else 0.1)
    sheet = DrawingSheet(title, side, high)
    heavy = _takes(control, shown) if verdict else {}
    _draw(sheet, plan, heavy)
    numbers = {id(each.reading): str(k + 1) for k, each in enumerate(shown)}
    _marks(sheet, plan, shown)
    if listed:
        heads(sheet, plan.bottom + 0.2, verdict)
    y = plan.bottom + 0.46
    for reading in listed:
        y = across(sheet, reading, y, verdict, numbers[id(reading)])
    return sheet.picture(_alt(title, control, shown, signals, verdict))


# ---------------------------------------------------------------------- what takes the volts
def _branches(control: Control) -> list[tuple[str, str, str]]:
    """(branch, node, node) of everything that may carry current."""
    wires = {wire.id: wire for wire in control.wires}
    every = [(wire.id, *wire.ends) for wire in control.wires]
    own = grounds(control)[0]
    for each in control.solenoids:
        if not each.wires:
            continue
        every.append((each.id, wires[each.feed].ends[1], wires[each.wires[0]].ends[0]))
        if own:
            every.append((f"driver_{each.id}", wires[each.wires[-1]].ends[1], own[0].ends[0]))
    chain = trunk(control)[0]
    return [*every, ("battery", MINUS, chain[0].ends[0])] if chain else every


def between_nodes(control: Control, red: str, black: str) -> list[str]:
    """The branches of the shortest way between two nodes, none where there is no way."""
    came: dict[str, tuple[str, str]] = {red: ("", "")}
    waiting = deque([red])
    while waiting and black not in came:
        node = waiting.popleft()
        for branch, one, other in _branches(control):
            for here, there in ((one, other), (other, one)):
                if here == node and there not in came:
                    came[there] = (branch, node)
                    waiting.append(there)
    way = []
    node = black
    while node in came and came[node][0]:
        branch, node = came[node]
        way.append(branch)
    return way[::-1]


def _takes(control: Control, measured: Sequence[MeasuredPoints]) -> dict[str, str]:
    """Branch -> what is found across it, for what no reading within spec has shown sound."""
    sound = {
        branch
        for each in measured
        if each.reading.verdict == "within spec"
        for branch in between_nodes(control, each.red, each.black)
    }
    found: dict[str, str] = {}
    for each in measured:
        if each.reading.verdict in OUTSIDE and each.reading.value is not None:
            for branch in between_nodes(control, each.red, each.black):
                if branch not in sound:
                    found.setdefault(branch, each.reading.with_unit(each.reading.show(each.reading.value)))
    return found


# ---------------------------------------------------------------------- drawing
def _draw(sheet: DrawingSheet, plan: WiringLayout, heavy: dict[str, str]) -> None:
    for frame in plan.frames:
        _frame(sheet, frame)
    for joint in plan.joints:
        if joint[0] != joint[-1]:
            sheet.line(list(joint), name="joint")
    for stretch in plan.stretches:
        _stretch(sheet, stretch, heavy.get(stretch.branch, ""))
    for x, y in plan.dots:
        sheet.disc(x, y, 0.04, face=INK, edge=None)
    for x, y in plan.cases:
        sheet.line([(x, y), (x, y + 0.08)])
        ground_sign(sheet, x, y + 0.08)
    for _, number, (x, y) in plan.pins:
        draw_piece(CircuitStrip(sheet, (x - 0.1, y), (x + 0.1, y)), "pin")
        sheet.box(x - 0.1, y - 0.23, 0.2, 0.14, face=PAPER, edge=None, zorder=1)  # over the dashes of a frame
        sheet.text(x, y - 0.1, number, size=SMALL, ha="center", name="pin")
    for each in plan.words:
        sheet.text(*each.place, each.words, size=SMALL, bold=each.strong, ha=each.side, name="label")


def _frame(sheet: DrawingSheet, frame: Frame) -> None:
    """The controller and the unit dashed, with their name over them; sensors and modules as boxes with words."""
    x, y = frame.corner
    if frame.name in FRAMES:
        sheet.box(
            x, y, frame.wide, frame.high, edge=RULE, width=LINE, linestyle=DASHED, zorder=0.5, name="frame"
        )
        sheet.text(x + 0.04, y - 0.08, frame.name, size=SMALL, color=GRAPHITE, name="label")
        return
    sheet.box(x, y, frame.wide, frame.high, face=PAPER, width=LINE, name="sensor", zorder=2.5)
    first = y + frame.high / 2 + 0.05 - 0.17 * (len(frame.words) - 1) / 2
    for k, words in enumerate(frame.words):
        sheet.text(
            x + frame.wide / 2, first + 0.17 * k, words, size=SMALL, ha="center", name="label", zorder=5
        )


def _stretch(sheet: DrawingSheet, stretch: Stretch, takes: str) -> None:
    """A piece; one that takes the volts heavy, between two strokes, with what it takes beside it."""
    width, color = (BOLD * 1.4, OCHRE) if takes else (LINE, INK)
    draw_piece(CircuitStrip(sheet, stretch.start, stretch.end, width, color), stretch.kind)
    if not takes:
        return
    (x0, y0), (x1, y1) = stretch.start, stretch.end
    level = y0 == y1
    for x, y in ((x0, y0), (x1, y1)):
        ends = [(x, y - 0.09), (x, y + 0.09)] if level else [(x - 0.09, y), (x + 0.09, y)]
        sheet.line(ends, width=BOLD, color=OCHRE, name="takes", zorder=4)
    place: Point = ((x0 + x1) / 2, y0 + 0.24) if level else (x0 - 0.12, (y0 + y1) / 2 + 0.05)
    side = "center" if level else "right"
    sheet.text(*place, takes, size=SMALL, bold=True, color=OCHRE, ha=side, halo=True, name="value", zorder=6)


def _marks(sheet: DrawingSheet, plan: WiringLayout, measured: Sequence[MeasuredPoints]) -> None:
    """A tag at each point: its number, + for the red lead, - for the black one; side by side under a row, piled beside the rail."""
    taken: Counter[Point] = Counter()
    wide, high = TAG
    for k, each in enumerate(measured):
        for node, filled in ((each.red, True), (each.black, False)):
            x, y = plan.nodes[node]
            there = taken[x, y]
            taken[x, y] += 1
            left, top = x - wide / 2 - (wide + 0.02) * there, y + 0.06
            if x == RAIL:
                left, top = x - wide - 0.21, y - high / 2 + (high + 0.02) * there
            sheet.disc(x, y, 0.045, face=INK if filled else PAPER, width=LINE, zorder=6)
            sheet.box(left, top, wide, high, face=INK if filled else PAPER, width=1.0, name="tag", zorder=6)
            sheet.text(left + wide / 2, top + 0.14, f"{k + 1}{'+' if filled else MINUS_SIGN}", size=SMALL, bold=True, ha="center",
                       color=PAPER if filled else INK, name="mark", zorder=7)  # fmt: skip


# ---------------------------------------------------------------------- words
def _pins(pins: Sequence[str]) -> str:
    return ", ".join(pin.replace(":", " pin ") for pin in pins)


def point_name(control: Control, node: str) -> str:
    """A node as a mechanic finds it: by the pin beside it, else by its name."""
    ends = Counter(end for wire in control.wires for end in wire.ends)
    for wire in control.wires:
        near = (
            wire.ends[0] if ends[wire.ends[1]] > 1 else wire.ends[1]
        )  # of one pin: where no other wire ends
        if len(wire.pins) == 1 and node == near:
            return _pins(wire.pins)
        if len(wire.pins) > 1 and node in wire.ends:
            return _pins([wire.pins[0 if node == wire.ends[0] else -1]])
    return "battery plus" if node == BATTERY else node.replace("_", " ")


def _alt(
    title: str, control: Control, measured: Sequence[MeasuredPoints], signals: bool, verdict: bool
) -> str:
    wires = {wire.id: wire for wire in control.wires}

    def pins(names: Sequence[str]) -> str:
        return _pins([pin for name in names for pin in wires[name].pins])

    told = [title, f"Battery, {', '.join(wire.label for wire in trunk(control)[0])}"]
    for feed in (wire for wire in control.wires if wire.path == "feed"):
        coils = [
            ", back by ".join(filter(None, (coil_name(each), pins(each.wires))))
            for each in control.solenoids
            if each.feed == feed.id
        ]
        told.append(f"{', '.join(filter(None, (feed.label, _pins(feed.pins))))}: {'; '.join(coils)}")
    told += [wire.label for wire in control.wires if wire.path == "ground"]
    if signals:
        told += [
            f"{each.id.upper()}, {each.label}: {pins(each.wires)}" for each in control.sensors if each.wires
        ]
    for k, each in enumerate(measured):
        leads = f"red on {point_name(control, each.red)}, black on {point_name(control, each.black)}"
        told.append(f"{k + 1}, {leads}, {reading_in_words(each.reading, verdict)}")
    return in_sentences([words[:1].upper() + words[1:] for words in told])
