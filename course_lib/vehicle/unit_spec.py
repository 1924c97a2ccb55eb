"""What a transmission is: its gear train, its holding elements and every number of it, read from a data file.

A parameter set is a dictionary ``name -> array``. A plain parameter has shape (cases, 1), one of an owner (holding element,
shift, solenoid, sensor or wire) has shape (cases, 1, owners), so that both broadcast against operating points. Names carry
their section: ``pump_displacement``, ``element_clearance``. SI throughout.
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Literal

import msgspec
import numpy as np

from course_lib.base.data_files import data_folder, read_data
from course_lib.base.guards import one_of
from course_lib.vehicle.control_spec import LINE, LOCKUP, Control, Name, Quantity
from course_lib.vehicle.parameters import ONLY_WITH, PARAMETER_NAMES, PARAMETER_UNITS, ParameterSet

# A one-way clutch has no piston and no lining; these stand where the arithmetic would divide by nothing.
NO_PISTON = {
    "feed_area": 1e-9,
    "stroke": 1.0,
    "lining": 1.0,
    "rub_area": 1.0,
    "faces": 1.0,
    "thermal_capacity": 1.0,
    "splines": 1e9,
    "backing": 1.0,
}

OWNERS = (
    "element",
    "shift",
    "solenoid",
    "sensor",
    "wire",
)  # whose parameters begin with their name and stand on their axis
OWNED = tuple(f"{owner}_" for owner in OWNERS)
ControlKind = Literal["hydraulic", "electronic"]


class PlanetarySetSpec(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One simple planetary set: which members its gears are, the tooth counts, and how many planets stand between."""

    sun: Name
    ring: Name
    carrier: Name
    sun_teeth: Annotated[int, msgspec.Meta(gt=0)]
    ring_teeth: Annotated[int, msgspec.Meta(gt=0)]
    planets: Annotated[int, msgspec.Meta(gt=1)] = 4


class Element(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A clutch, band or one-way clutch and the two members it couples. short: how the trade writes it in short, where it does."""

    id: Name
    label: Name
    kind: Literal["clutch", "band", "one-way"]
    couples: tuple[Name, Name]
    quantities: dict[str, Quantity]
    short: str = ""


class Shift(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One upshift of the drive lever, lowest first, and the numbers of its shift valve."""

    id: Name
    label: Name
    quantities: dict[str, Quantity]


class UnitSpec(msgspec.Struct, frozen=True, forbid_unknown_fields=True, eq=False):
    """A transmission as data: everything that tells one unit from another. Two of one name are the same unit.

    title: how people call it; name: its data file.
    """

    name: Name
    title: Name
    signals: tuple[Literal["vacuum", "cable", "electronic"], ...]
    members: tuple[Name, ...]
    input: Name
    output: Name
    planetary_sets: tuple[PlanetarySetSpec, ...]
    gears: dict[str, tuple[Name, ...]]
    levers: dict[str, tuple[Name, ...]]
    shifts: tuple[Shift, ...]
    elements: tuple[Element, ...]
    parameters: dict[str, dict[str, Quantity]]
    tolerances: dict[str, Annotated[float, msgspec.Meta(ge=0, lt=0.5)]]
    spec: dict[str, tuple[float, float]]
    lockup_gears: tuple[Name, ...] = ()
    control: Control | None = None

    def __eq__(self, other: object) -> bool:
        return isinstance(other, UnitSpec) and self.name == other.name

    def __hash__(self) -> int:
        return hash(self.name)

    @property
    def element_ids(self) -> tuple[str, ...]:
        """Ids of the holding elements, in the order of the element axis."""
        return tuple(element.id for element in self.elements)

    @property
    def shift_ids(self) -> tuple[str, ...]:
        """Ids of the upshifts, in the order of the shift axis."""
        return tuple(shift.id for shift in self.shifts)

    @property
    def kind_of_control(self) -> ControlKind:
        """Whether springs and oil shift it, or a controller."""
        return "hydraulic" if self.control is None else "electronic"

    def owners(self, owner: str) -> tuple[str, ...]:
        """Ids on the axis of an owner of parameters: element, shift, solenoid, sensor or wire; empty where it has none."""
        if owner == "element":
            return self.element_ids
        if owner == "shift":
            return self.shift_ids
        return () if self.control is None else tuple(getattr(self.control, f"{owner}_ids"))

    def has(self, parameter: str) -> bool:
        """Whether a vehicle with this unit has a parameter of that name: not those of the other kind of control."""
        others = (names for kind, names in ONLY_WITH.items() if kind != self.kind_of_control)
        return parameter in PARAMETER_NAMES and not any(parameter in names for names in others)

    def gear_index(self, gear: str) -> int:
        """Row of `gear` in the tables of `GearTables`."""
        return list(self.gears).index(gear)


@cache
def load_unit(name: str) -> UnitSpec:
    """The unit called `name`: its title ("three-speed"), or the name of its data file.

    Raises ValueError for an unknown or inconsistent unit.
    """
    names = sorted(path.stem for path in (data_folder() / "units").glob("*.toml"))
    if name not in names:  # the files are read only then: it takes a while
        titles = {read_data(f"units/{each}", UnitSpec).title: each for each in names}
        one_of("unit", name, titles)
        name = titles[name]
    unit = read_data(f"units/{name}", UnitSpec)
    _check_names(unit)
    if unit.control is not None:
        _check_control(unit.control, unit)
    _check_parameters(unit)
    return unit


def _check_names(unit: UnitSpec) -> None:
    """Every gear lists known elements and every lever known gears, with a shift between each two."""
    for gear, applied in unit.gears.items():
        for element in applied:
            one_of(f"element of gear {gear} of unit {unit.name}", element, unit.element_ids)
    for lever, gears in unit.levers.items():
        for gear in gears:
            one_of(f"gear of lever {lever} of unit {unit.name}", gear, unit.gears)
    longest = max(len(gears) for gears in unit.levers.values())
    if len(unit.shifts) != longest - 1:
        raise ValueError(
            f"unit {unit.name} must give one shift between each two gears of a lever, {longest - 1} in all, got "
            f"{len(unit.shifts)}. Add or remove some."
        )


def _check_control(control: Control, unit: UnitSpec) -> None:
    """Every solenoid works on something the unit has through wires that exist, and every code tests what there is."""
    wires, elements = control.wire_ids, unit.element_ids
    for solenoid in control.solenoids:
        owner = f"solenoid {solenoid.id} of unit {unit.name}"
        one_of(f"what {owner} drives", solenoid.drives, (*elements, LINE, LOCKUP))
        for wire in (solenoid.feed, *solenoid.wires):
            one_of(f"wire of {owner}", wire, wires)
    for sensor in control.sensors:
        for wire in sensor.wires:
            one_of(f"wire of sensor {sensor.id} of unit {unit.name}", wire, wires)
    for code in control.codes:
        one_of(f"action of code {code.id} of unit {unit.name}", code.action, control.actions)
        known = (*unit.gears, *elements, *control.solenoid_ids, *control.sensor_ids, *control.modules, "")
        one_of(f"what code {code.id} of unit {unit.name} is of", code.of, known)
    for gear in unit.gears:
        one_of(f"gear of the electric chart of unit {unit.name}", gear, control.commanded)
    for lever in unit.levers:
        one_of(f"lever of the ports of unit {unit.name}", lever, control.ports)


def _owned(unit: UnitSpec) -> dict[str, dict[str, dict[str, Quantity]]]:
    """The quantities of each owner of parameters: owner -> id -> name -> quantity."""
    found = {
        "element": {each.id: each.quantities for each in unit.elements},
        "shift": {each.id: each.quantities for each in unit.shifts},
    }
    if unit.control is None:
        return found | {owner: {} for owner in OWNERS[2:]}
    for owner in OWNERS[2:]:
        each, owners = unit.control.each[owner], getattr(unit.control, f"{owner}s")  # type: ignore[index]
        found[owner] = {one.id: {**each, **one.quantities} for one in owners}
    return found


def _check_parameters(unit: UnitSpec) -> None:
    """Every parameter that `Parameters` declares for its kind of control is given, in its unit, and no other; tolerances are for
    those."""
    plain = {
        f"{section}_{name}": q for section, group in unit.parameters.items() for name, q in group.items()
    }
    _check_given(unit, f"unit {unit.name}", "", plain)
    holders = {element.id: element.kind for element in unit.elements}
    for owner, ids in _owned(unit).items():
        for name, given in ids.items():
            bare = owner == "element" and holders[name] == "one-way"
            _check_given(unit, f"{owner} {name} of unit {unit.name}", f"{owner}_", given, some=bare)
    for name in unit.tolerances:
        one_of(f"tolerance of unit {unit.name}", name, PARAMETER_NAMES)


def _check_given(
    unit: UnitSpec, owner: str, prefix: str, given: dict[str, Quantity], *, some: bool = False
) -> None:
    """The quantities of one owner against what is declared for its kind; some: it may leave some out, as it has no such part."""
    declared = [
        name.removeprefix(prefix)
        for name in PARAMETER_NAMES
        if unit.has(name) and (name.startswith(prefix) if prefix else not name.startswith(OWNED))
    ]
    for name, quantity in given.items():
        one_of(f"parameter of {owner}", name, declared)
        if quantity.unit != (wanted := PARAMETER_UNITS[prefix + name]):
            raise ValueError(
                f"parameter {name} of {owner} must be in {wanted}, got {quantity.unit}. Convert its value."
            )
    missing = [name for name in declared if name not in given]
    if missing and not some:
        what = f"{prefix.removesuffix('_')} parameter" if prefix else "parameter"
        raise ValueError(f"{owner} must give every {what}, got none for {', '.join(missing)}. Add it.")


def nominal_parameters(unit: UnitSpec, cases: int = 1, *, signal: str = "vacuum") -> ParameterSet:
    """Fresh arrays of the data file's values for `cases` equal vehicles with the given load signal.

    Plain parameters have shape (cases, 1), those of an owner (cases, 1, owners). What the unit's control does not have is 0.
    """
    one_of("signal", signal, unit.signals)
    given = {
        f"{section}_{name}": quantity.value
        for section, group in unit.parameters.items()
        for name, quantity in group.items()
    }
    owned = _owned(unit)
    values: ParameterSet = {}
    for name in PARAMETER_NAMES:
        owner, _, own = name.partition("_")
        if owner not in OWNERS:
            values[name] = np.full((cases, 1), float(given.get(name, 0.0)))
            continue
        otherwise = NO_PISTON.get(own, 0.0) if owner == "element" else 0.0
        row = [each[own].value if own in each else otherwise for each in owned[owner].values()]
        values[name] = np.tile(np.array(row, dtype=float), (cases, 1, 1))
    values["signal_cable_fitted"] = np.full((cases, 1), float(signal == "cable"))
    return values


def draw_parameters(
    unit: UnitSpec, rng: np.random.Generator, cases: int = 1, *, signal: str = "vacuum"
) -> ParameterSet:
    """Parameters of `cases` different sound vehicles: nominal values, each with its spread of manufacture."""
    values = nominal_parameters(unit, cases, signal=signal)
    for name, spread in unit.tolerances.items():
        values[name] = values[name] * np.clip(
            rng.normal(1.0, spread, values[name].shape), 1 - 2.5 * spread, 1 + 2.5 * spread
        )
    return values


def parameter_place(unit: UnitSpec, address: str) -> tuple[str, int | None]:
    """Split a parameter address "name" or "name@owner" into the name and the column behind the @; see `UnitSpec.owners`.

    Raises ValueError for an unknown name or owner.
    """
    name, _, column = address.partition("@")
    one_of("parameter", name, PARAMETER_NAMES)
    if not column:
        return name, None
    owner = name.partition("_")[0]
    ids = unit.owners(owner)
    one_of(owner, column, ids)
    return name, ids.index(column)
