"""What an electronic control is, as data of a unit: solenoids, sensors, wires, codes, and what each gear is commanded from.

Everything that differs from unit to unit stands in its data file; the laws behind the words (how a solenoid answers, what a code
tests) are closed lists here, each word with its function in `vehicle/`.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

Name = Annotated[str, msgspec.Meta(min_length=1)]
Origin = Literal["invented", "fitted", "textbook", "common practice", "memory"]


class Quantity(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One number of a data file: value, SI unit, where it comes from and why it is plausible."""

    value: float
    unit: Name
    origin: Origin
    reason: Name


LINE, LOCKUP = "line", "lockup"  # what a solenoid may work on besides an element
# nodes that the wires of every unit end at: the battery's poles, what wires outside and inside the unit leak to, the controller
BATTERY, MINUS, BODY, CASE = "battery", "battery_minus", "body", "case"
CONTROLLER, CONTROLLER_GROUND = "controller_supply", "controller_ground"

Path = Literal["supply", "feed", "return", "ground", "signal"]
CodeTest = Literal[
    "supply_low",  # volts at the controller under the limit
    "supply_high",
    "supply_open",  # volts behind the relay under the limit
    "current",  # measured differs from wanted by more than the limit [A], driver on
    "open",  # no current though the duty is over the limit
    "low",  # pin under the limit [V] with the driver off: shorted to ground, or open
    "high",  # current over the limit [A]
    "ratio",  # |turbine / output - ratio| over the limit, in gear `of`
    "slips",  # three different gears fail in one trip
    "stuck_off",  # the ratio fails in each gear that uses `of`, and in none that does not
    "stuck_on",  # ties up, or its switch is closed against command
    "lockup_slips",  # slip [rad/s] over the limit at full command
    "lockup_stuck",  # no slip without command
    "shift_short",
    "shift_long",  # time [s] of a shift past the limit
    "adapt_limit",  # what is learned for `of` stands at its limit
    "fluid_cold_start",  # temperature differs from the outside by more than the limit [K] after a night, or never moves
    "fluid_low",
    "fluid_high",  # volts of the fluid sensor past the limit
    "fluid_jumps",
    "fluid_hot",  # past the limit [K]
    "turbine_none",
    "turbine_jumps",
    "output_none",
    "output_jumps",
    "output_wheels",  # differs from the wheels by more than the limit, a share
    "range_pattern",  # a pattern that no lever gives
    "range_drive",  # drive torque and road speed in P or N
    "switch_open",  # a pressure switch that never closes
    "switch_closed",  # one that is closed where it must not be
    "brake",  # brake wire on though the vehicle is driven, or wire and message disagree
    "misfire",
    "pedal",
    "not_heard",  # no message from module `of`
    "data_set",  # numbers of the controllers do not belong together
]
ActionWord = Literal[
    "freeze_adapts",
    "line_up",  # more line pressure, by `line_up` of the action
    "line_full",
    "lockup_off",
    "no_top",  # the highest gear of a lever is barred
    "default_temperature",
    "bar_gears",  # gears that need what the code suspects are barred
    "use_wheels",  # wheel speeds in place of the output sensor
    "driver_off",  # the solenoid of the code is switched off
    "relay_off",  # all solenoids without current until the next start
]


class Solenoid(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A solenoid: what it works on, its law, what it gives without current, and the wires that feed and return its current.

    drives: an element, "line" or "lockup"; law: "linear" gives a pressure between zero_current and full_current, "on_off" all or
    nothing from full_current on. A linear one whose full_current is the lower is normally high.
    """

    id: Name
    label: Name
    drives: Name
    law: Literal["linear", "on_off"]
    feed: Name
    wires: tuple[Name, ...]
    quantities: dict[str, Quantity]


class Sensor(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A sensor, switch or message. reads: what it tells; of: the element of a pressure switch, the module of a message; patterns:
    of a lever's sensor, which of its wires' contacts are closed ("0110"), by lever."""

    id: Name
    label: Name
    kind: Literal["hall", "inductive", "thermistor", "switch", "pattern", "message"]
    reads: Literal[
        "turbine_speed", "output_speed", "fluid_temperature", "pressure", "lever", "brake", "pedal", "wheels"
    ]
    quantities: dict[str, Quantity]
    wires: tuple[Name, ...] = ()
    of: str = ""
    patterns: dict[Name, Name] = {}


class Wire(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One branch of the wiring between two nodes: a wire with its pins, a fuse, a relay contact, a ground strap.

    path: supply (battery to the splice, and to the controller), feed (splice to a group of coils), return (coil to controller),
    ground (controller to battery), signal (sensors). kind: how it is drawn. pins: "X1:2", plug and number, from its first node on.
    """

    id: Name
    label: Name
    kind: Literal["wire", "fuse", "relay", "ground", "twisted"]
    path: Path
    ends: tuple[Name, Name]
    quantities: dict[str, Quantity]
    pins: tuple[str, ...] = ()


class Code(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A trouble code: what it says, what is tested, when it fails, and what the controller then does.

    id and label as SAE J2012 has them as far as they were read; words: "read" in a public list of the generic codes, or
    "memory". of: solenoid, gear, element, sensor or module; limit: in SI, what it means depends on the test; debounce_s: so long
    it must fail; trips: failed trips until it is confirmed (1 at the first, 2 two in a row); action: one of `Control.actions`.
    keeper: the controller in which it is stored.
    """

    id: Name
    label: Name
    words: Literal["read", "memory"]
    test: CodeTest
    limit: float
    debounce_s: Annotated[float, msgspec.Meta(ge=0)]
    trips: Literal[1, 2]
    action: Name
    of: str = ""
    keeper: Name = "transmission"


class Action(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the controller does while a code stands: words of the closed list, and by how much it raises the line [Pa]."""

    does: tuple[ActionWord, ...]
    line_up: float = 0.0


class Port(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the manual valve feeds in a lever: elements whose pressure valve gets oil, and elements lifted to line pressure
    past their valve whatever it does."""

    fed: tuple[Name, ...] = ()
    line: tuple[Name, ...] = ()


class Plug(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A plug: what people call it, where it sits, and its number of pins."""

    id: Name
    label: Name
    pins: Annotated[int, msgspec.Meta(gt=0)]


class Control(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An electronic control.

    each: quantities that stand for every solenoid, sensor or wire unless it gives its own. commanded: gear -> elements whose
    solenoids are asked for pressure (the electric chart; the hydraulic one stands in the unit's gears); ports: lever -> what the
    manual valve feeds; look_alike: two solenoids whose plugs fit each other; modules: controllers on the bus besides this one.
    """

    each: dict[Literal["solenoid", "sensor", "wire"], dict[str, Quantity]]
    solenoids: tuple[Solenoid, ...]
    sensors: tuple[Sensor, ...]
    wires: tuple[Wire, ...]
    plugs: tuple[Plug, ...]
    commanded: dict[str, tuple[Name, ...]]
    ports: dict[str, Port]
    actions: dict[str, Action]
    codes: tuple[Code, ...]
    modules: dict[str, Name]
    look_alike: tuple[Name, Name] | None = None

    @property
    def solenoid_ids(self) -> tuple[str, ...]:
        """Ids of the solenoids, in the order of the solenoid axis."""
        return tuple(each.id for each in self.solenoids)

    @property
    def sensor_ids(self) -> tuple[str, ...]:
        """Ids of the sensors, in the order of the sensor axis."""
        return tuple(each.id for each in self.sensors)

    @property
    def wire_ids(self) -> tuple[str, ...]:
        """Ids of the wires, in the order of the wire axis."""
        return tuple(each.id for each in self.wires)

    @property
    def code_ids(self) -> tuple[str, ...]:
        """The codes, in the order of the code axis."""
        return tuple(each.id for each in self.codes)
