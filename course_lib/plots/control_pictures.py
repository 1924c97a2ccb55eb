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
from course_lib.plots.valve_bodies import valve_bench
from course_lib.plots.wiring_diagrams import MeasuredPoints, wiring_diagram
from course_lib.shop.findings import Finding, Reading
from course_lib.vehicle.control_spec import Control, Sensor, Solenoid, Wire
from course_lib.vehicle.unit_spec import UnitSpec

OWN = "Transmission controller"
STATES = ("", "pending", "stored")  # of a code, by the step of its look
LOG = "log"  # at which the traces of a drive were taken
OVER_RANGE = 1e7  # ohm from which a meter shows no way for current
STATE = {"volts": "Circuit live, its loads on", "ohms": "Key off, circuit dead"}
DRAWN_AS = {
    "fretted": "green",
    "spread": "spread",
    "oil": "oil",
    "green": "green",
}  # look -> how a pin is drawn


def control_of(unit: UnitSpec) -> Control:
    """The electronic control of a unit. Raises ValueError where it has none."""
    if unit.control is None:
        raise ValueError(f"unit must have an electronic control, got {unit.title}. Draw another picture.")
    return unit.control


# ---------------------------------------------------------------------- codes
def codes(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """Every code that is pending or stored, by controller; the frame beside the first that is stored."""
    control, steps = control_of(unit), {look.key: look.grade for look in finding.looks}
    keepers = {name: label[:1].upper() + label[1:] for name, label in control.modules.items()}
    frame = tuple(
        FrameEntry(reading.label.partition(": ")[2] or reading.label, reading.found_text)
        for reading in finding.readings
        if reading.key.startswith("frame_") and (reading.value is not None or reading.note)
    )
    found: list[ListedCode] = []
    for code in sorted(control.codes, key=lambda code: -steps.get(f"code_{code.id}", 0)):
        state = STATES[steps.get(f"code_{code.id}", 0)]
        if state:
            words = code.label[:1].upper() + code.label[1:]
            found.append(
                ListedCode(code.id, words, state, keepers.get(code.keeper, OWN), () if found else frame)
            )
    yield code_list(found, (OWN, *keepers.values()), verdict=verdict, system=system)


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
            open_ = setting == "ohms" and reading.value >= OVER_RANGE
            shown = msgspec.structs.replace(reading, value=None, note="") if open_ else reading
            one = MeterReading(
                shown, setting, places.pieces, places.points, places.red, places.black, STATE[setting]
            )
            yield meter(one, verdict=verdict, system=system)
            return


# ---------------------------------------------------------------------- plugs
def plug(finding: Finding, unit: UnitSpec, *, verdict: bool, system: str) -> Iterator[Picture]:
    """The face of the plug in which something was seen, else of the first; what has no pin stands below in words."""
    control, seen = control_of(unit), [look for look in finding.looks if look.grade]
    pins = {look.of: DRAWN_AS[look.key] for look in seen if look.key in DRAWN_AS}
    states = {pin: state for of, state in pins.items() for pin in _pins_of(of, control)}
    wet = any(look.key == "water" for look in seen)
    name = next((pin.partition(":")[0] for pin in states), control.plugs[0].id)
    face = next(plug for plug in control.plugs if plug.id == name)
    through = {pin: wire for wire in control.wires for pin in wire.pins}
    drawn = []
    for number in range(1, face.pins + 1):
        wire = through.get(f"{name}:{number}")
        state = states.get(f"{name}:{number}", "water" if wet and name == control.plugs[0].id else "clean")
        drawn.append(
            PlugPin(number, _short(wire, control), state) if wire else PlugPin(number, "empty", "empty")
        )
    words = [units.text_in_system(look.text, system) for look in finding.looks]
    yield plug_face(
        face.label[:1].upper() + face.label[1:],
        drawn,
        [w[:1].upper() + w[1:] for w in words],
        verdict=verdict,
    )


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
