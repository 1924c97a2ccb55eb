"""The holding elements of a unit as a workshop names them: what oil presses, and the one-way clutches."""

from __future__ import annotations

from dataclasses import dataclass

from course_lib.vehicle.unit_spec import Element, UnitSpec


@dataclass(frozen=True, slots=True)
class HoldingElement:
    """A holding element: its column on the element axis, and the stem that names its readings."""

    column: int
    stem: str
    element: Element

    @property
    def label(self) -> str:
        """How the shop calls it."""
        return self.element.label

    @property
    def is_band(self) -> bool:
        """Whether it is a band."""
        return self.element.kind == "band"


def holders(unit: UnitSpec) -> tuple[HoldingElement, ...]:
    """Every holding element, in the order of the element axis."""
    return tuple(HoldingElement(column, _stem(unit, each), each) for column, each in enumerate(unit.elements))


def pressed(unit: UnitSpec) -> tuple[HoldingElement, ...]:
    """The elements that oil presses."""
    return tuple(each for each in holders(unit) if each.element.kind != "one-way")


def one_ways(unit: UnitSpec) -> tuple[HoldingElement, ...]:
    """The one-way clutches."""
    return tuple(each for each in holders(unit) if each.element.kind == "one-way")


def _stem(unit: UnitSpec, element: Element) -> str:
    """What the trade calls it in short, else the id without its kind, where no other element could be meant by it."""
    if element.kind == "one-way" or element.short:
        return element.short or element.id
    short = element.id.removesuffix("_clutch").removesuffix("_band")
    return element.id if any(o.startswith(short) for o in unit.element_ids if o != element.id) else short
