"""What the service manual of an electronic unit says: charts, codes, pins and learning, all of it read from the unit's data."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

from course_lib.base import units
from course_lib.physics.copper import COPPER_BASE
from course_lib.shop.apply_chart import DRIVE, learns, ratio
from course_lib.shop.circuits import case_plug, feeds, solenoids, supply_to
from course_lib.shop.findings import Paper
from course_lib.shop.holders import pressed
from course_lib.vehicle import adaptation
from course_lib.vehicle.actions import LAMP_OUT
from course_lib.vehicle.code_tests import SLOWEST
from course_lib.vehicle.codes import ERASED
from course_lib.vehicle.control_spec import (
    CONTROLLER,
    ActionWord,
    Code,
    CodeTest,
    Control,
    Plug,
    Quantity,
    Solenoid,
    Wire,
)
from course_lib.vehicle.control_tables import control_of
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

NONE = "\u2013"
SHOP_UNITS = ("ohm", "V", "K", "-")  # that stand in a unit's file as a workshop says them


def _volts(limit: float) -> str:
    return f"{limit:.2f} V"


def _amperes(limit: float) -> str:
    return f"{limit:.2f} A"


def _percent(limit: float) -> str:
    return f"{100.0 * limit:.0f} %"


def _rpm(limit: float) -> str:
    return f"{units.to_rpm(limit):,.0f} rpm"


def _seconds(limit: float) -> str:
    return f"{limit:.2f} s"


def _fahrenheit(limit: float) -> str:
    return f"{units.to_fahrenheit(limit):.0f} \u00b0F"


def _steps(limit: float) -> str:
    return f"{limit * units.FAHRENHEIT_STEPS:.0f} \u00b0F apart"


def _gravity(limit: float) -> str:
    return f"{limit:.2f} g"


def _plain(_limit: float) -> str:
    return ""


# What makes each test fail, and how its limit is said.
FAILS: dict[CodeTest, tuple[str, Callable[[float], str]]] = {
    "supply_low": ("volts at the controller under {}", _volts),
    "supply_high": ("volts at the controller over {}", _volts),
    "supply_open": ("relay on, and behind it under {}", _volts),
    "current": ("driver on, current off its command by more than {}", _amperes),
    "open": ("duty over {}, and no current", _percent),
    "low": ("driver off, and its pin under {}: touches ground, or is open", _volts),
    "high": ("driver on, current over {}", _amperes),
    "ratio": (
        "pulling, faster than a walk, turbine over output off the gear's ratio by more than {}",
        _percent,
    ),
    "slips": ("the ratio fails in three gears of one drive", _plain),
    "stuck_off": ("the ratio fails in each gear driven that uses it, in no other", _plain),
    "stuck_on": ("pulling, the output is slowed by more than {} in gears that do not use it", _gravity),
    "lockup_slips": ("commanded on, slip over {}", _rpm),
    "lockup_stuck": ("commanded off and pulling, slip under {}", _rpm),
    "shift_short": ("upshifts are over in less than {}", _seconds),
    "shift_long": ("upshifts take more than {}", _seconds),
    "adapt_limit": ("what is learned, fill time or shift pressure, stands at its end stop", _plain),
    "fluid_cold_start": ("after a night fluid and air {}, or the fluid never moves", _steps),
    "fluid_low": ("volts of the sensor under {}: reads hot", _volts),
    "fluid_high": ("volts of the sensor over {}: reads cold", _volts),
    "fluid_jumps": ("the temperature jumps", _plain),
    "fluid_hot": ("fluid over {}", _fahrenheit),
    "turbine_none": ("moving, engine over {}, and no turbine speed", _rpm),
    "turbine_jumps": ("turbine speed comes and goes", _plain),
    "output_none": ("turbine over {}, and no output speed", _rpm),
    "output_jumps": ("output speed comes and goes, or leaps by {}", _rpm),
    "output_wheels": ("output speed off the wheels by more than {}", _percent),
    "range_pattern": ("a pattern that no place of the lever gives", _plain),
    "range_drive": ("drives, and the lever is seen in P or N", _plain),
    "switch_open": ("commanded on in its gears, and it never closes", _plain),
    "switch_closed": ("closed in gears that do not use it", _plain),
    "brake": (f"brake on above {units.to_mph(SLOWEST):.0f} mph with the pedal down", _plain),
    "misfire": ("crankshaft uneven", _plain),
    "pedal": ("the two tracks disagree", _plain),
    "not_heard": ("nothing from it on the bus", _plain),
    "data_set": ("numbers of the controllers do not belong together", _plain),
}
DOES: dict[ActionWord, str] = {
    "freeze_adapts": "learns nothing",
    "line_up": "more line",
    "line_full": "full line",
    "lockup_off": "no lock-up",
    "no_top": "no top gear",
    "default_temperature": "takes a fixed fluid temperature",
    "bar_gears": "leaves out the gears that need it",
    "use_wheels": "takes the wheels' speed",
    "driver_off": "switches that driver off",
    "relay_off": "relay off until the next start: gear by springs and manual valve",
}


def short(solenoid: Solenoid) -> str:
    """A solenoid without what it works on."""
    return solenoid.label.partition(" (")[0]


@cache
def papers(unit: UnitSpec) -> tuple[Paper, ...]:
    """The tables of the manual. Raises ValueError where the control is hydraulic."""
    made = (_apply_chart, _solenoids, _sensors, _lever, _plugs, _codes, _learning, _relearn)
    return tuple(table for table in (make(unit) for make in made) if table.rows)


# ---------------------------------------------------------------------- charts
def _apply_chart(unit: UnitSpec) -> Paper:
    control, labels = control_of(unit), {each.element.id: each.label for each in pressed(unit)}
    rows = []
    for gear, holds in unit.gears.items():
        asked = [short(each) for each in control.solenoids if each.drives in control.commanded[gear]]
        past = [
            labels[name]
            for lever, gears in unit.levers.items()
            if gear in gears
            for name in _lifted(control, lever)
        ]
        hydraulic = " and ".join(past) or NONE
        turns = ratio(unit, gear)
        rows.append(
            (
                gear,
                f"{turns:.3f}".replace("-", "\u2212") if turns else NONE,
                _list(labels.get(e, e) for e in holds),
                _list(asked),
                hydraulic,
            )
        )
    heads = (
        "gear",
        "ratio",
        "what holds",
        "solenoids that give pressure",
        "fed by the lever, round its valve",
    )
    return Paper(title="Apply chart", heads=heads, rows=tuple(rows))


def _lifted(control: Control, lever: str) -> tuple[str, ...]:
    return control.ports[lever].line


def _solenoids(unit: UnitSpec) -> Paper:
    sheet, rows = nominal_parameters(unit, signal=unit.signals[0]), []
    for i, each in solenoids(unit):
        none, full, most = (
            float(sheet[f"solenoid_{name}"][0, 0, i])
            for name in ("zero_current", "full_current", "full_pressure")
        )
        rest = "full pressure" if full < none else "nothing"
        law = (
            f"full from {full:.2f} A"
            if each.law == "on_off"
            else (f"0 psi at {none:.2f} A, {units.to_psi(most):.0f} psi at {full:.2f} A")
        )
        ohms = unit.spec.get(f"{each.id}_ohm")
        cold = NONE if ohms is None else f"{ohms[0]:g} to {ohms[1]:g} ohm"
        rows.append((f"{each.id.upper()}, {each.label}", _way(unit, each), rest, law, cold))
    heads = (
        "solenoid",
        "feed, and its return",
        "without current",
        "with current",
        f"at {units.to_fahrenheit(COPPER_BASE):.0f} \u00b0F",
    )
    return Paper(title="Solenoids", heads=heads, rows=tuple(rows))


def _way(unit: UnitSpec, solenoid: Solenoid) -> str:
    named = {wire.id: wire for wire in control_of(unit).wires}
    back = [pin for wire in solenoid.wires for pin in named[wire].pins]
    return f"{named[solenoid.feed].label}; back by {_list(back)}"


def _sensors(unit: UnitSpec) -> Paper:
    named = {wire.id: wire for wire in control_of(unit).wires}
    rows = []
    for each in control_of(unit).sensors:
        pins = "; ".join(f"{named[wire].label}: {_list(named[wire].pins)}" for wire in each.wires)
        law = "; ".join(_quantity(name, q) for name, q in each.quantities.items())
        rows.append((each.label, each.kind, pins or "over the bus", law or NONE))
    return Paper(
        title="Sensors and switches", heads=("sensor", "kind", "wires and pins", "sheet"), rows=tuple(rows)
    )


def _quantity(name: str, quantity: Quantity) -> str:
    """A number of the sheet as a workshop reads it: with its value where the shop has the same unit, else as its reason says it."""
    said = name.replace("_", " ")
    if quantity.unit in SHOP_UNITS:
        said += f" {quantity.value:,g} {quantity.unit}".removesuffix(" -")
    return f"{said}: {quantity.reason}"


def _lever(unit: UnitSpec) -> Paper:
    control = control_of(unit)
    found = next((each for each in control.sensors if each.kind == "pattern"), None)
    named = {wire.id: wire for wire in control.wires}
    wires = [] if found is None else [f"wire {_list(named[wire].pins[:1])}" for wire in found.wires]
    rows = (
        []
        if found is None
        else [
            (lever, *("closed" if bit == "1" else "open" for bit in pattern))
            for lever, pattern in found.patterns.items()
        ]
    )
    return Paper(
        title="Range sensor, contacts in each place of the lever", heads=("lever", *wires), rows=tuple(rows)
    )


def _plugs(unit: UnitSpec) -> Paper:
    rows = []
    for plug in control_of(unit).plugs:
        mine = [wire for wire in control_of(unit).wires if any(_in(plug, pin) for pin in wire.pins)]
        mine.sort(key=lambda wire: int(_number(plug, wire)))
        pins = "; ".join(f"{_number(plug, wire)} {wire.label}" for wire in mine)
        rows.append((plug.label, f"{plug.pins} pins, {len(mine)} used", _other_half(unit, plug), pins))
    heads = ("plug", "pins", "the half that is not the loom's", "which wire is on which pin")
    title = "Plugs, numbered as the loom's half is seen from its mating face"
    return Paper(title=title, heads=heads, rows=tuple(rows))


def _in(plug: Plug, pin: str) -> bool:
    return pin.partition(":")[0] == plug.id


def _number(plug: Plug, wire: Wire) -> str:
    return next(pin.partition(":")[2] for pin in wire.pins if _in(plug, pin))


def _other_half(unit: UnitSpec, plug: Plug) -> str:
    """Where the half of a plug sits that is not on the loom: what the wires of its last pins end in."""
    if plug == case_plug(unit):
        return "sits in the case, with the wires of the pan"
    driven = {each.wires[-1] for each in control_of(unit).solenoids}
    ends = [wire.pins[-1] for wire in control_of(unit).wires if wire.id in driven and wire.pins]
    return "sits in the controller" if any(_in(plug, pin) for pin in ends) else "sits in the sensor"


# ---------------------------------------------------------------------- codes
def _codes(unit: UnitSpec) -> Paper:
    control = control_of(unit)
    rows = tuple(
        (f"{code.id}, {code.label}", _fails(code), _how_long(code), _trips(code), _action(control, code))
        for code in control.codes
    )
    heads = ("code", "fails when", "for", "stored", "then the controller")
    title = f"Codes; after {LAMP_OUT:.0f} trips in a row without the fault the lamp is out, after {ERASED:.0f} the code is erased"
    return Paper(title=title, heads=heads, rows=rows)


def _fails(code: Code) -> str:
    said, put = FAILS[code.test]
    return said.format(put(code.limit))


def _how_long(code: Code) -> str:
    return f"{code.debounce_s:g} s" if code.debounce_s else "at once"


def _trips(code: Code) -> str:
    return "at the first failed trip" if code.trips == 1 else "at the second failed trip in a row"


def _action(control: Control, code: Code) -> str:
    action = control.actions[code.action]
    up = f"line up by {units.to_psi(action.line_up):.0f} psi"
    return _list(up if word == "line_up" else DOES[word] for word in action.does)


# ---------------------------------------------------------------------- what is learned
def _learning(unit: UnitSpec) -> Paper:
    sheet = {
        name: float(value.flat[0]) for name, value in nominal_parameters(unit, signal=unit.signals[0]).items()
    }
    fill = [_signed(1e3 * sheet[f"control_fill_{end}"], "ms") for end in ("least", "most")]
    pressure = [_signed(units.to_psi(sheet[f"control_pressure_{end}"]), "psi") for end in ("least", "most")]
    packs = _list(each.label for each in pressed(unit) if learns(unit, each.element.id))
    warm = [_fahrenheit(each) for each in (adaptation.COLDEST, adaptation.HOTTEST)]
    miles = sheet["control_learn"] / units.MILE
    rows = (
        ("fill time of each clutch", f"{fill[0]} to {fill[1]}", packs),
        (
            "pressure of each upshift",
            f"{pressure[0]} to {pressure[1]}",
            _list(each.label for each in unit.shifts),
        ),
        ("how fast", f"two thirds in {miles:.0f} mi", "as long as it is driven as below"),
        ("learns only while", f"{warm[0]} to {warm[1]}", "fluid on the screen, both speed sensors seen"),
        (
            "learns only while",
            f"{adaptation.LEAST_VOLTS:.0f} to {adaptation.MOST_VOLTS:.0f} V",
            "supply, no code pending",
        ),
        ("stops learning", "while a code stands that says so", "see the codes: \u201clearns nothing\u201d"),
    )
    return Paper(
        title="What the controller learns, and how far", heads=("what", "from and to", "of"), rows=rows
    )


def _relearn(unit: UnitSpec) -> Paper:
    sheet = nominal_parameters(unit, signal=unit.signals[0])
    miles = float(sheet["control_learn"].flat[0]) / units.MILE
    top = unit.levers[DRIVE][-1]
    steps = (
        "after new plates, drum, valve body, solenoid or controller; never as a test: what was learned is a wear gauge",
        "write the learned values down, then reset them with the scan tool; battery over 12.4 V, engine off",
        f"warm it up until the screen shows {_fahrenheit(adaptation.COLDEST)}, level in its window",
        f"pull away with a light pedal and drive through every upshift into {top}; coast down to a stop; again and again",
        f"after {miles:.0f} mi two thirds are learned, after {3.0 * miles:.0f} mi nearly all: read again, none at its end stop",
    )
    rows = tuple((str(i), step) for i, step in enumerate(steps, start=1))
    return Paper(title="Learning anew after a repair", heads=("step", "what is done"), rows=rows)


# ---------------------------------------------------------------------- the diagram in sentences
def supplies(unit: UnitSpec) -> Iterator[str]:
    """By which fuses, contacts and grounds feeds and controller hang on the battery, and what each feed serves."""
    control = control_of(unit)
    named = {wire.id: wire for wire in control.wires}
    for start, said in ((named[feeds(unit)[0]].ends[0], "to the feeds"), (CONTROLLER, "to the controller")):
        way = [control.wires[place].label for place in reversed(supply_to(unit, start))]
        yield f"{said} from the battery by {', then '.join(way)}"
    for feed in feeds(unit):
        pins = f" ({_list(named[feed].pins)})" if named[feed].pins else ""
        fed = _list(each.label for _, each in solenoids(unit) if each.feed == feed)
        yield f"{named[feed].label}{pins} feeds {fed}"
    for wire in control.wires:
        shared = [each.label for each in control.sensors if wire.id in each.wires]
        if len(shared) > 1:
            yield f"{wire.label} ({_list(wire.pins)}) is shared by {' and '.join(shared)}"
    yield f"back to the battery by {_list(wire.label for wire in control.wires if wire.path == 'ground')}"


def _list(names: Iterator[str] | list[str] | tuple[str, ...]) -> str:
    return ", ".join(names) or NONE


def _signed(number: float, unit: str) -> str:
    """With its sign, a true minus."""
    return f"{number:+.0f} {unit}".replace("-", "\u2212")
