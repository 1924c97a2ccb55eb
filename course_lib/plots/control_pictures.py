"""Pictures of what is found on an electronic control: figures fed with the numbers of a finding and the data of its unit.

Each yields the pictures that the finding has something for; none where it has nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.plots import reading_rows
from course_lib.plots.bus_roll_calls import BusModule, bus_roll_call
from course_lib.plots.drive_logs import DataLog, LogChannel, LogEvent, data_log
from course_lib.plots.lead_places import LeadPlaces, ohms_places, volts_places
from course_lib.plots.learned_values import LearnedValue, adapts_bars
from course_lib.plots.listed_codes import FrameEntry, ListedCode, code_list
from course_lib.plots.meter_faces import MeterReading, meter
from course_lib.plots.picture import Picture
from course_lib.plots.plug_faces import PlugPin, plug_face
from course_lib.plots.reading_lists import in_order
from course_lib.plots.reading_marks import conditions
from course_lib.plots.shift_traces import ShiftTrace, shift_graph
from course_lib.plots.valve_bodies import valve_bench
from course_lib.plots.wiring_diagrams import MeasuredPoints, wiring_diagram
from course_lib.shop.apply_chart import ratio
from course_lib.shop.findings import OUTSIDE, Finding, Reading
from course_lib.vehicle.control_spec import Control, Plug, Sensor, Solenoid, Wire
from course_lib.vehicle.unit_spec import UnitSpec

OWN = "Transmission controller"
FRAME = "frame_"  # begins the keys of a freeze frame
HOT_F, COLD_F = 200.0, 120.0  # degrees Fahrenheit of the sump in a frame, common practice, no source
STATES = ("", "pending", "stored")  # of a code, by the step of its look
LOG = "log"  # at which the traces of a drive were taken
TURBINE, OUTPUT = "turbine_rpm", "output_rpm"  # traces of a shift
STATE = {"volts": "Circuit live, its loads on", "ohms": "Key off, circuit dead"}
DRAWN = ("green", "fretted", "spread", "oil")  # looks that are drawn in the pins they were seen in


def control_of(unit: UnitSpec) -> Control:
    """The electronic control of a unit. Raises ValueError where it has none."""
    if unit.control is None:
        raise ValueError(f"unit must have an electronic control, got {unit.title}. Draw another picture.")
    return unit.control


# ---------------------------------------------------------------------- codes
def codes(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Every code that is pending or stored, by controller; the freeze frame beside the one that it was kept for."""
    control, steps = control_of(unit), {look.key: look.grade for look in finding.looks}
    keepers = {name: label[:1].upper() + label[1:] for name, label in control.modules.items()}
    frames = [reading for reading in finding.readings if reading.key.startswith(FRAME)]
    kept_for = " ".join(reading.note for reading in frames)
    found: list[ListedCode] = []
    for code in sorted(control.codes, key=lambda code: -steps.get(f"code_{code.id}", 0)):
        if state := STATES[steps.get(f"code_{code.id}", 0)]:
            words = code.label[:1].upper() + code.label[1:]
            frame = tuple(_entry(reading, unit) for reading in frames if code.id in kept_for)
            found.append(ListedCode(code.id, words, state, keepers.get(code.keeper, OWN), frame))
    yield code_list(found, (OWN, *keepers.values()), verdict=verdict, system=system)


def _entry(reading: Reading, unit: UnitSpec) -> FrameEntry:
    """One value of a freeze frame: a gear by its name, what is on or off in that word, a number with its unit."""
    value, what = reading.value or 0.0, reading.key.removeprefix(FRAME)
    if what == "gear":
        gears = ("reverse", *unit.levers["D"])
        return FrameEntry("gear", gears[min(round(value), len(gears) - 1)])
    if what == "lockup":
        return FrameEntry("lock-up", "on" if value else "off")
    name = reading.label.partition(", ")[2]
    return FrameEntry(name, reading.with_unit(reading.show(value)), _word(what, value))


def _word(what: str, value: float) -> str:
    """A word for a value of a frame by which frames are compared; empty where the number says it."""
    if what == "tft_f":
        return "hot" if value > HOT_F else "cold" if value < COLD_F else "warm"
    return ("moving" if value else "standing") if what == "mph" else ""


# ---------------------------------------------------------------------- wiring
def wiring(_finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """The diagram of the unit as its papers have it."""
    yield wiring_diagram(f"Wiring of the {unit.title}", control_of(unit), (), verdict=verdict, system=system)


def drops(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """The points of every drop on the power path, and the meter of the one that says most."""
    control = control_of(unit)
    measured = [
        MeasuredPoints(reading, *places.nodes)
        for reading in finding.readings
        if (places := volts_places(reading.key, control)) is not None
    ]
    if measured:
        signals = any(_of_signals(each, control) for each in measured)
        yield wiring_diagram(
            finding.title, control, measured, signals=signals, verdict=verdict, system=system,
            side=conditions(finding, system),
        )  # fmt: skip
    yield from _meter_of(finding, "volts", lambda key: volts_places(key, control), verdict, system)


def _of_signals(measured: MeasuredPoints, control: Control) -> bool:
    """Whether a drop was measured on a wire of the sensors, which the power path does not show."""
    ends = (measured.red, measured.black)
    return any(wire.path == "signal" and wire.ends == ends for wire in control.wires)


def ohms(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Every reading in ohms, and the meter of the one that says most, its leads at the two points."""
    control = control_of(unit)
    readings = [reading for reading in finding.readings if reading.unit == "ohm"]
    yield reading_rows.rows(readings, finding, verdict=verdict, system=system)
    yield from _meter_of(finding, "ohms", lambda key: ohms_places(key, control), verdict, system)


def _meter_of(
    finding: Finding, setting: str, places_of: Callable[[str], LeadPlaces | None], verdict: bool, system: str
) -> Iterator[Picture]:
    """A meter with the first reading out of its spec, or, where that must not be said, with the first of all."""
    for reading in in_order(finding.readings, verdict):
        places = places_of(reading.key)
        if places is not None and reading.value is not None:
            open_ = setting == "ohms" and reading.past_range is True
            shown = msgspec.structs.replace(reading, value=None, note="") if open_ else reading
            one = MeterReading(
                shown, setting, places.pieces, places.points, places.red, places.black, STATE[setting]
            )
            yield meter(one, verdict=verdict, system=system)
            return


# ---------------------------------------------------------------------- plugs
def plug(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """The face of every plug in which something was seen, of the first where nothing was; what has no pin stands in words."""
    control, seen = control_of(unit), [look for look in finding.looks if look.grade]
    first, left = control.plugs[0], {look.of: look.key for look in seen if look.key in DRAWN}
    soaked = any(look.key == "plug_water" for look in seen)
    words = [units.text_in_system(look.text, system) for look in finding.looks]
    drawn = 0
    for face in control.plugs:
        here = {
            of: state
            for of, state in left.items()
            if any(_plug(pin) == face.id for pin in _pins_of(of, control))
        }
        if here or (face is first and (soaked or not left)):
            states = {pin: state for of, state in here.items() for pin in _pins_of(of, control)}
            pins = _pins(face, control, states, "water" if soaked and face is first else "clean")
            said = [] if drawn else [each[:1].upper() + each[1:] for each in words]
            yield plug_face(face.label[:1].upper() + face.label[1:], pins, said, verdict=verdict)
            drawn += 1
        left = {of: state for of, state in left.items() if of not in here}


def _pins(face: Plug, control: Control, states: dict[str, str], otherwise: str) -> list[PlugPin]:
    """The pins of a plug in order; states: plug and number -> what was seen."""
    through = {pin: wire for wire in control.wires for pin in wire.pins}
    names = [f"{face.id}:{number}" for number in range(1, face.pins + 1)]
    return [
        PlugPin(k, _short(through[name], control), states.get(name, otherwise))
        if name in through
        else PlugPin(k, "empty", "empty")
        for k, name in enumerate(names, 1)
    ]


def _plug(pin: str) -> str:
    return pin.partition(":")[0]


def _owners(control: Control) -> list[Solenoid | Sensor]:
    """Everything that has wires of its own."""
    return [*control.solenoids, *control.sensors]


def _pins_of(of: str, control: Control) -> list[str]:
    """The pins of a circuit: of a solenoid or sensor, or of a wire that stands alone."""
    owner = next((each for each in _owners(control) if each.id == of), None)
    names = (of,) if owner is None else owner.wires
    return [pin for wire in control.wires if wire.id in names for pin in wire.pins]


def _short(wire: Wire, control: Control) -> str:
    """What runs through a pin, in a word or two: the solenoid or sensor that it serves, else the wire by its own name."""
    served = [each.id for each in _owners(control) if wire.id in each.wires]
    if not served:
        return wire.label.partition(",")[0]
    name = wire.id.removeprefix("wire_").replace("_", " ")
    words = [word.upper() if word in served else word for word in name.split()]
    return " ".join(words)


# ---------------------------------------------------------------------- the log
def log(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """What was recorded on the drive, a strip for each unit of measure, with the moments at which a gear was asked for."""
    kept = [each for each in finding.traces if each.at == LOG]
    if not kept:
        return
    time = np.array(kept[0].times)
    channels = tuple(
        LogChannel(each.label[:1].upper() + each.label[1:], each.unit, np.array(each.values), each.unit)
        for each in kept
    )
    starts = [
        float(time[0]),
        *(float(time[k + 1]) for k in np.flatnonzero(np.diff(time) > 2 * np.median(np.diff(time)))),
    ]
    gears = _gears_held(finding, unit)
    events = (
        tuple(LogEvent(*each) for each in zip(starts, gears, strict=True))
        if len(gears) == len(starts)
        else ()
    )
    yield data_log(DataLog("Data log, gear by gear", time, channels, events), verdict=verdict, system=system,
                   side=conditions(finding, system))  # fmt: skip


def _gears_held(finding: Finding, unit: UnitSpec) -> list[str]:
    """The gears that the log holds one after the other, in the order of their readings."""
    places = [r.key.split("_")[2] for r in finding.readings if r.key.startswith("ratio_error_")]
    drive = unit.levers["D"]
    return [drive[int(place) - 1] if place.isdigit() else "reverse" for place in places]


# ---------------------------------------------------------------------- shifts
def shifts(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Turbine speed over each shift that was recorded, with what was read off it; those with something out of spec first."""
    drive, kept = unit.levers["D"], {(each.at, each.key): each for each in finding.traces}
    found = [
        (shift, place, [r for r in finding.readings if f"_{shift.id}_" in r.key and "_cold_" not in r.key])
        for place, shift in enumerate(unit.shifts)
    ]
    if verdict:
        found.sort(key=lambda one: not any(r.verdict in OUTSIDE for r in one[2]))
    for shift, place, readings in found:
        at = f"{shift.id[0]}-{shift.id[1:]}"
        if (at, TURBINE) in kept:
            turbine, output = (np.array(kept[at, key].values) for key in (TURBINE, OUTPUT))
            old, new = (abs(ratio(unit, gear)) * output for gear in drive[place : place + 2])
            trace = ShiftTrace(np.array(kept[at, TURBINE].times), turbine, old, new, ())
            yield shift_graph(f"Shift {shift.label}, light pedal", trace, readings, verdict=verdict, system=system,
                              side=conditions(finding, system))  # fmt: skip


# ---------------------------------------------------------------------- learned values, bus, bench
def learned(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """What the controller has learned, between the ends that it may reach."""
    given = {name: quantity.value for name, quantity in unit.parameters["control"].items()}
    ends = {
        "ms": tuple(1e3 * given[f"fill_{end}"] for end in ("least", "most")),
        "psi": tuple(units.to_psi(given[f"pressure_{end}"]) for end in ("least", "most")),
    }
    values = [
        LearnedValue(reading, *ends[reading.unit]) for reading in finding.readings if reading.unit in ends
    ]
    yield adapts_bars("What the controller has learned", values, verdict=verdict, system=system)


def bus(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Every controller that belongs on the bus, the silent ones by name, and what was measured on its wires."""
    silent = next((r.note for r in finding.readings if r.key == "modules_missing"), "")
    names = (OWN, *control_of(unit).modules.values())
    modules = [BusModule(name[:1].upper() + name[1:], name.lower() not in silent.lower()) for name in names]
    readings = [reading for reading in finding.readings if reading.unit]
    yield bus_roll_call(modules, readings, verdict=verdict, system=system)


def bench(finding: Finding, _unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Bores and solenoids side by side."""
    bores = [r for r in finding.readings if r.key.endswith("_bore_inhg")]
    solenoids: Sequence[Reading] = [r for r in finding.readings if r.key.endswith("_hysteresis_psi")]
    yield valve_bench("Valve body on the bench", bores, solenoids, verdict=verdict, system=system)
