"""Where everything of a wiring diagram lies on paper, by rule from what a unit declares: no place is typed for any unit.

Current runs from the battery up a rail on the left, through a feed to its coils, row by row to the right through both plugs to the
controller, down a bar inside it to its ground, and by the body back to the battery. Groups of rows never mix, so no line crosses
another. Below the coils: sensors, in the same columns; the bus. All lengths in inches of paper.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from course_lib.plots.circuit_symbols import Point
from course_lib.vehicle.control_spec import BODY, MINUS, Control, Sensor, Solenoid, Wire

RAIL, FEED_PIN, BAR, COIL, PLUG, CONTROLLER, RETURN, EDGE = (
    0.6,
    2.0,
    2.35,
    3.55,
    4.35,
    6.2,
    7.35,
    7.8,
)  # across
SHARED = 2.25  # the bar that joins sensors with a wire in common
TOP, ROW, SIGNAL, PIECE, GROUND = 1.15, 0.46, 0.29, 0.62, 0.48  # down: first row, and from row to row
BOX, LETTER, LINE_HIGH = (2.5, 1.65), 0.083, 0.17  # of a sensor: left edge and width
CASE, HEAD = 1.55, 0.4  # where the first ground of the case begins; room over the first row
STUB = 0.3  # how far a signal is drawn inside the controller


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the circuit on paper: the branch it belongs to, its symbol, and its ends."""

    branch: str
    kind: str
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Frame:
    """A box on paper from its upper left corner, with words in it or over it. name: what it stands for."""

    name: str
    corner: Point
    wide: float
    high: float
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Written:
    """Words at a place on paper, begun there, ended there or centered."""

    words: str
    place: Point
    side: str = "left"
    strong: bool = False


@dataclass(slots=True)
class WiringLayout:
    """What is drawn where: nodes by name, pieces, plain joints, pins (plug, number, place), boxes, words, grounds to the case."""

    nodes: dict[str, Point] = field(default_factory=dict)
    stretches: list[Stretch] = field(default_factory=list)
    joints: list[tuple[Point, ...]] = field(default_factory=list)
    pins: list[tuple[str, str, Point]] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    words: list[Written] = field(default_factory=list)
    cases: list[Point] = field(default_factory=list)
    dots: list[Point] = field(default_factory=list)
    bottom: float = TOP

    def run(self, wire: Wire, start: Point, end: Point, columns: tuple[float, ...]) -> None:
        """A wire on a row, with its pins in the columns given for them."""
        self.stretches.append(Stretch(wire.id, "wire" if wire.kind == "twisted" else wire.kind, start, end))
        for pin, x in zip(wire.pins, columns, strict=True):
            plug, _, number = pin.partition(":")
            self.pins.append((plug, number, (x, start[1])))

    def beside_rail(self, label: str, y: float) -> None:
        """Words beside a piece of the rail, in lines around `y`."""
        lines = textwrap.wrap(label, 15)
        for k, words in enumerate(lines):
            self.words.append(
                Written(words, (RAIL + 0.24, y + 0.05 + LINE_HIGH * (k - (len(lines) - 1) / 2)))
            )


def wiring_layout(control: Control, *, signals: bool) -> WiringLayout:
    """The diagram of a control. signals: whether sensors and bus are drawn too, or the power path alone."""
    plan = WiringLayout()
    wires = {wire.id: wire for wire in control.wires}
    y = _coils(plan, control, wires)
    if signals:
        y = _sensors(plan, control, wires, y)
        y = _bus(plan, control, y)
    y = _supply(plan, control, y)
    _grounds(plan, control, y)
    _frames(plan, control)
    return plan


def _pins_at(wire: Wire, *columns: float) -> tuple[float, ...]:
    """The last columns, as many as the wire has pins."""
    return columns[len(columns) - len(wire.pins) :]


# ---------------------------------------------------------------------- coils
def coil_name(solenoid: Solenoid) -> str:
    """A solenoid on a drawing: its letters and what it works on."""
    works_on = solenoid.label.partition(" (")[2].partition(" in ")[0].rstrip(")")
    return (
        f"{solenoid.id.upper()} {works_on or solenoid.drives.replace('lockup', 'lock-up').replace('_', ' ')}"
    )


def _coils(plan: WiringLayout, control: Control, wires: dict[str, Wire]) -> float:
    """Feeds and their coils from the top; the row below them."""
    y = TOP
    for feed in (wire for wire in control.wires if wire.path == "feed"):
        splice, node = feed.ends
        rows = [each for each in control.solenoids if each.feed == feed.id]
        plan.run(feed, (RAIL, y), (BAR, y), _pins_at(feed, FEED_PIN))
        plan.words.append(Written(feed.label, (RAIL + 0.18, y - 0.12)))
        plan.joints.append((plan.nodes.get(splice, (RAIL, y)), (RAIL, y)))
        plan.joints.append(((BAR, y), (BAR, y + ROW * (len(rows) - 1))))
        plan.nodes[splice], plan.nodes[node] = (RAIL, y), (BAR, y)
        plan.dots.append((RAIL, y))
        for k, solenoid in enumerate(rows):
            _coil(plan, solenoid, wires, y)
            plan.dots += [(BAR, y)] * (k < len(rows) - 1) + [(RETURN, y)] * (y > TOP)
            y += ROW
    return y


def _coil(plan: WiringLayout, solenoid: Solenoid, wires: dict[str, Wire], y: float) -> None:
    """A coil, its wires and its driver in a row."""
    chain = [wires[name] for name in solenoid.wires]
    places = [*np.linspace(COIL, PLUG - 0.14, len(chain)).tolist(), CONTROLLER + 0.14]
    plan.stretches.append(Stretch(solenoid.id, "coil", (BAR, y), (COIL, y)))
    plan.words.append(Written(coil_name(solenoid), (BAR + 0.2, y - 0.15)))
    for k, wire in enumerate(chain):
        start, end = (places[k], y), (places[k + 1], y)
        plan.run(wire, start, end, _pins_at(wire, PLUG, CONTROLLER))
        plan.nodes[wire.ends[0]], plan.nodes[wire.ends[1]] = start, end
    plan.stretches.append(Stretch(f"driver_{solenoid.id}", "driver", (CONTROLLER + 0.14, y), (RETURN, y)))


# ---------------------------------------------------------------------- sensors
def _sensors(plan: WiringLayout, control: Control, wires: dict[str, Wire], y: float) -> float:
    """Sensors below the coils; a wire that several have in common gets a bar on their left and a row below the last of them."""
    used = Counter(name for sensor in control.sensors for name in sensor.wires)
    left = {name: count for name, count in used.items() if count > 1}
    tops: dict[str, float] = {}
    for sensor in (each for each in control.sensors if each.wires):
        own = [wires[name] for name in sensor.wires if used[name] == 1]
        y, middle = _sensor(plan, sensor, own, y)
        for name in (name for name in sensor.wires if used[name] > 1):
            plan.joints.append(((SHARED, middle), (BOX[0], middle)))
            tops.setdefault(name, middle)
            left[name] -= 1
            if not left[name]:
                y = _shared(plan, wires[name], tops[name], y)
    return y


def _shared(plan: WiringLayout, wire: Wire, top: float, y: float) -> float:
    plan.joints.append(((SHARED, top), (SHARED, y)))
    _signal(plan, wire, SHARED, y)
    return y + SIGNAL


def _signal(plan: WiringLayout, wire: Wire, x: float, y: float) -> None:
    """A wire of a sensor from its box to the controller."""
    end = CONTROLLER + STUB
    plan.run(wire, (x, y), (end, y), _pins_at(wire, PLUG, CONTROLLER))
    plan.nodes[wire.ends[0]], plan.nodes[wire.ends[1]] = (x, y), (end, y)


def _sensor(plan: WiringLayout, sensor: Sensor, own: list[Wire], y: float) -> tuple[float, float]:
    """A sensor's box and rows; the row below, and the middle of the box."""
    name = sensor.label if sensor.label.startswith(sensor.id) else f"{sensor.id.upper()} {sensor.label}"
    words = textwrap.wrap(name, int((BOX[1] - 0.1) / LETTER))
    high = max(SIGNAL * len(own), LINE_HIGH * len(words) + 0.1, SIGNAL)
    middle = y + high / 2
    plan.frames.append(Frame(f"sensor {sensor.kind}", (BOX[0], y), BOX[1], high, tuple(words)))
    first = middle - SIGNAL * (len(own) - 1) / 2
    for k, wire in enumerate(own):
        _signal(plan, wire, BOX[0] + BOX[1], first + SIGNAL * k)
    pairs = [k for k in range(1, len(own)) if own[k - 1].kind == own[k].kind == "twisted"]
    for k in pairs:
        place = ((PLUG + CONTROLLER) / 2, first + SIGNAL * (k - 0.5) + 0.04)
        plan.words.append(Written("twisted pair", place, "center"))
    if sensor.of:
        plan.joints.append(((SHARED, middle), (BOX[0], middle)))
        plan.cases.append((SHARED, middle))
    return y + high + 0.14, middle


def _bus(plan: WiringLayout, control: Control, y: float) -> float:
    """The wires of the bus, and the modules that they pass through."""
    of_sensors = {name for sensor in control.sensors for name in sensor.wires}
    pair = [wire for wire in control.wires if wire.path == "signal" and wire.id not in of_sensors]
    if not pair:
        return y
    plan.words.append(Written(f"{' over '.join(wire.label for wire in pair)}, twisted", (BOX[0], y + 0.1)))
    y += 0.2
    wide = (CONTROLLER - 0.3 - BOX[0]) / max(len(control.modules), 1)
    boxes = [
        textwrap.wrap(_module_name(control, name), int((wide - 0.2) / LETTER)) for name in control.modules
    ]
    high = max(SIGNAL * (len(pair) - 1) + 0.34, 0.1 + LINE_HIGH * max(map(len, boxes), default=0))
    first = y + (high - SIGNAL * (len(pair) - 1)) / 2
    for k, wire in enumerate(pair):
        _signal(plan, wire, BOX[0], first + SIGNAL * k)
    for k, words in enumerate(boxes):
        plan.frames.append(Frame("module", (BOX[0] + wide * k, y), wide - 0.15, high, tuple(words)))
    return y + high + 0.2


def _module_name(control: Control, name: str) -> str:
    """A module, with the sensors whose values it sends."""
    sent = [sensor.label for sensor in control.sensors if sensor.kind == "message" and sensor.of == name]
    return f"{control.modules[name]} ({', '.join(sent)})" if sent else control.modules[name]


# ---------------------------------------------------------------------- supply and grounds
def trunk(control: Control) -> tuple[list[Wire], list[Wire]]:
    """(the supply wires from the battery to the splice in order, those that go straight to the controller)."""
    supply = [wire for wire in control.wires if wire.path == "supply"]
    feeds = {wire.ends[0] for wire in control.wires if wire.path == "feed"}
    chain: list[Wire] = []
    node = next(iter(feeds), "")
    while before := next((wire for wire in supply if wire.ends[1] == node), None):
        chain.insert(0, before)
        node = before.ends[0]
    return chain, [wire for wire in supply if wire not in chain]


def _supply(plan: WiringLayout, control: Control, y: float) -> float:
    """The rail from the battery up to the splice, and what feeds the controller itself, from where it hangs; the last row."""
    chain, straight = trunk(control)
    hung = [[wire for wire in straight if wire.ends[0] == each.ends[1]] for each in chain]
    below = [wire for wire in straight if not any(wire in each for each in hung)]
    rises = [PIECE * (k + 1) + SIGNAL * sum(max(len(h) - 1, 0) for h in hung[:k]) for k in range(len(chain))]
    rows = [rise + SIGNAL * (len(h) - 1) for rise, h in zip(rises, hung, strict=True) if h]
    whole = max([0.0, *rises[-1:], *rows])
    top = max((place[1] for place in plan.dots if place[0] == RAIL), default=TOP)
    foot = max(y + 0.15 + max(rows, default=0.0), top + whole + 0.3)
    plan.joints.append(((RAIL, top), (RAIL, foot - whole)))
    for wire, rise, here in zip(chain, rises, hung, strict=True):
        high = foot - rise
        plan.stretches.append(Stretch(wire.id, wire.kind, (RAIL, high + PIECE), (RAIL, high)))
        switched = ", its coil switched by the controller" if wire.kind == "relay" else ""
        plan.beside_rail(wire.label + switched, high + PIECE / 2)
        plan.nodes[wire.ends[0]] = (RAIL, high + PIECE)
        if wire is not chain[-1]:
            plan.nodes[wire.ends[1]] = (RAIL, high)
        _straight(plan, here, high, -SIGNAL)
    _straight(plan, below, foot, SIGNAL)
    return foot + SIGNAL * max(len(below) - 1, 0)


def _straight(plan: WiringLayout, wires: list[Wire], first: float, step: float) -> None:
    """Wires from the rail to the controller, in rows."""
    for k, wire in enumerate(wires):
        row = first + step * k
        plan.run(wire, (RAIL, row), (CONTROLLER + STUB, row), _pins_at(wire, CONTROLLER))
        plan.words.append(Written(wire.label, (CONTROLLER - 0.2, row - 0.12), "right"))
        plan.nodes.setdefault(wire.ends[0], (RAIL, row))
        plan.nodes[wire.ends[1]] = (CONTROLLER + STUB, row)
        plan.dots.append((RAIL, row))
    plan.joints.append(((RAIL, first), (RAIL, first + step * max(len(wires) - 1, 0))))


def grounds(control: Control) -> tuple[list[Wire], list[Wire], list[Wire]]:
    """Ground wires: (of the controller, which has a plug; from the body to the battery; all others)."""
    every = [wire for wire in control.wires if wire.path == "ground"]
    back = [wire for wire in every if MINUS in wire.ends]
    rest = [wire for wire in every if wire not in back]
    own = [wire for wire in rest if wire.pins] or rest[:1]
    return own, back, [wire for wire in every if wire not in own and wire not in back]


def _grounds(plan: WiringLayout, control: Control, foot: float) -> None:
    """The controller's bar down to its ground, the body, and back to the battery, whose plus is at `foot`."""
    own, back, others = grounds(control)
    row, body = foot + GROUND, foot + 2 * GROUND
    for wire in own:
        plan.joints.append(((RETURN, TOP), (RETURN, row)))
        plan.run(wire, (RETURN, row), (PLUG + 0.2, row), _pins_at(wire, CONTROLLER))
        plan.words.append(Written(wire.label, (CONTROLLER - 0.2, row - 0.14), "right"))
        plan.joints.append(((PLUG + 0.2, row), (PLUG + 0.2, body)))
        plan.nodes[wire.ends[0]] = (RETURN, row)
    for k, wire in enumerate(others):
        left, right = CASE + 2.3 * k, CASE + 2.3 * k + 2.0
        plan.run(wire, (left, row), (right, row), _pins_at(wire, CONTROLLER))
        plan.words.append(Written(wire.label, (left + 0.15, row - 0.14)))
        plan.joints.append(((right, row), (right, body)))
        plan.cases.append((left, row))
        plan.nodes[wire.ends[0]] = (left, row)
    for wire in back:
        plan.run(wire, (RAIL, body), (BAR, body), _pins_at(wire, CONTROLLER))
        plan.words.append(Written(wire.label, (RAIL + 0.2, body + 0.26)))
    plan.stretches.append(Stretch("battery", "battery", (RAIL, body), (RAIL, foot)))
    plan.beside_rail("battery", (body + foot) / 2)
    plan.stretches.append(Stretch(BODY, "body", (BAR, body), (CONTROLLER, body)))
    plan.words.append(Written("body", (CONTROLLER - 0.1, body + 0.26), "right"))
    plan.nodes[MINUS], plan.nodes[BODY] = (RAIL, body), (PLUG - 0.3, body)
    plan.bottom = body + 0.35


# ---------------------------------------------------------------------- frames
def _frames(plan: WiringLayout, control: Control) -> None:
    """The controller, and the unit: everything behind the plug that the coils return through; the names of the plugs."""
    plug = next((pin[0] for pin in plan.pins if pin[2][0] == PLUG), "")
    rows = [place[1] for name, _, place in plan.pins if name == plug]
    ends = [frame.corner[1] + frame.high for frame in plan.frames]
    tops = [frame.corner[1] for frame in plan.frames]
    inside = [end for top, end in zip(tops, ends, strict=True) if any(top < row < end for row in rows)]
    if plug:
        high = max(max(rows) + 0.1, *inside, 0.0) + 0.07 - TOP + HEAD
        plan.frames.append(Frame("unit", (FEED_PIN, TOP - HEAD), PLUG - FEED_PIN, high))
    own = grounds(control)[0]
    low = plan.nodes[own[0].ends[0]][1] if own else plan.bottom
    plan.frames.append(
        Frame("controller", (CONTROLLER, TOP - HEAD), EDGE - CONTROLLER, low + 0.2 - TOP + HEAD)
    )
    first: dict[tuple[str, float], float] = {}
    for name, _, (x, y) in plan.pins:
        first[name, x] = min(first.get((name, x), y), y)
    plan.words += [Written(name, (x + 0.13, y - 0.07), strong=True) for (name, x), y in first.items()]
