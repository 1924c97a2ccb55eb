"""What a transmission is: its gear train, its holding elements and every number of it, read from a data file.

A parameter set is a dictionary ``name -> array``. A plain parameter has shape (cases, 1), one that belongs to the holding
elements has shape (cases, 1, elements), so that both broadcast against operating points. Names carry their section:
``pump_displacement``, ``element_clearance``. SI throughout.
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Literal

import msgspec
import numpy as np

from course_lib.base.data_files import data_folder, read_data
from course_lib.base.guards import one_of
from course_lib.vehicle.parameters import PARAMETER_NAMES, PARAMETER_UNITS, ParameterSet

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

OWNED = (
    "element_",
    "shift_",
)  # how parameters begin that belong to an element or a shift, not to the whole vehicle

Name = Annotated[str, msgspec.Meta(min_length=1)]
Origin = Literal["invented", "fitted", "textbook", "common practice", "memory"]


class Quantity(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One number of a data file: value, SI unit, where it comes from and why it is plausible."""

    value: float
    unit: Name
    origin: Origin
    reason: Name


class PlanetarySetSpec(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One simple planetary set: which members its gears are, and the tooth counts."""

    sun: Name
    ring: Name
    carrier: Name
    sun_teeth: Annotated[int, msgspec.Meta(gt=0)]
    ring_teeth: Annotated[int, msgspec.Meta(gt=0)]


class Element(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A clutch, band or one-way clutch and the two members it couples."""

    id: Name
    label: Name
    kind: Literal["clutch", "band", "one-way"]
    couples: tuple[Name, Name]
    quantities: dict[str, Quantity]


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
    signals: tuple[Literal["vacuum", "cable"], ...]
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


def _check_parameters(unit: UnitSpec) -> None:
    """Every parameter that `Parameters` declares is given, in its unit of measure, and no other; tolerances are for those."""
    plain = {
        f"{section}_{name}": q for section, group in unit.parameters.items() for name, q in group.items()
    }
    _check_given(f"unit {unit.name}", "", plain, "parameter")
    for element in unit.elements:
        owner = f"element {element.id} of unit {unit.name}"
        _check_given(
            owner, "element_", element.quantities, "element parameter", some=element.kind == "one-way"
        )
    for shift in unit.shifts:
        _check_given(f"shift {shift.id} of unit {unit.name}", "shift_", shift.quantities, "shift parameter")
    for name in unit.tolerances:
        one_of(f"tolerance of unit {unit.name}", name, PARAMETER_NAMES)


def _check_given(
    owner: str, prefix: str, given: dict[str, Quantity], what: str, *, some: bool = False
) -> None:
    """The quantities of one owner against what is declared for its kind; some: it may leave some out, as it has no such part."""
    declared = [
        name.removeprefix(prefix)
        for name in PARAMETER_NAMES
        if (name.startswith(prefix) if prefix else not name.startswith(OWNED))
    ]
    for name, quantity in given.items():
        one_of(f"parameter of {owner}", name, declared)
        if quantity.unit != (unit := PARAMETER_UNITS[prefix + name]):
            raise ValueError(
                f"parameter {name} of {owner} must be in {unit}, got {quantity.unit}. Convert its value."
            )
    missing = [name for name in declared if name not in given]
    if missing and not some:
        raise ValueError(f"{owner} must give every {what}, got none for {', '.join(missing)}. Add it.")


def nominal_parameters(unit: UnitSpec, cases: int = 1, *, signal: str = "vacuum") -> ParameterSet:
    """Fresh arrays of the data file's values for `cases` equal vehicles with the given load signal.

    Plain parameters have shape (cases, 1), element parameters (cases, 1, elements), shift parameters (cases, 1, shifts).
    """
    one_of("signal", signal, unit.signals)
    values = {
        f"{section}_{name}": np.full((cases, 1), quantity.value)
        for section, group in unit.parameters.items()
        for name, quantity in group.items()
    }
    for name in unit.elements[0].quantities:
        row = [
            e.quantities[name].value if name in e.quantities else NO_PISTON.get(name, 0.0)
            for e in unit.elements
        ]
        values[f"element_{name}"] = np.tile(np.array(row), (cases, 1, 1))
    for name in unit.shifts[0].quantities:
        values[f"shift_{name}"] = np.tile(
            np.array([s.quantities[name].value for s in unit.shifts]), (cases, 1, 1)
        )
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
    """Split a parameter address "name", "name@element" or "name@shift" into the name and the column behind the @.

    Raises ValueError for an unknown name, element or shift.
    """
    name, _, column = address.partition("@")
    one_of("parameter", name, PARAMETER_NAMES)
    if not column:
        return name, None
    what, ids = ("shift", unit.shift_ids) if name.startswith("shift_") else ("element", unit.element_ids)
    one_of(what, column, ids)
    return name, ids.index(column)
