"""One-line calls that lessons show: what a gear train does, worked out by the physics, as tables in workshop words."""

from __future__ import annotations

from course_lib.base.guards import between, one_of
from course_lib.lessons.facts import train
from course_lib.lessons.tables import Table
from course_lib.physics.gearset import CASE, PlanetarySet, solve_train
from course_lib.plots.picture import Picture
from course_lib.shop.apply_chart import Range, brakes_on_overrun, ranges
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import UnitSpec, load_unit

SET = ("sun", "ring", "carrier")
ON, OFF = "on", "\u2013"


def planetary_set(
    held: str, driven: str, *, sun_teeth: int = 36, ring_teeth: int = 80, turns: float = 100
) -> Table:
    """What each part of one planetary set does while one is held and another makes `turns` turns forward."""
    one_of("held", held, SET)
    one_of("driven", driven, [name for name in SET if name != held])
    (out,) = (name for name in SET if name not in (held, driven))
    gear = PlanetarySet(*SET, sun_teeth / ring_teeth)
    turning = solve_train(SET, [gear], [(held, CASE)], driven, out)
    rows = tuple((name, _turned(turning.speeds[name] * turns), _role(name, held, driven)) for name in SET)
    caption = (
        f"Sun with {sun_teeth} teeth, ring with {ring_teeth}; {held} held, {driven} driven: "
        f"ratio {_ratio(turning.ratio)}"
    )
    return Table(caption, ("part", "turns", "what it is"), rows)


def apply_chart(unit: str = "three-speed") -> Table:
    """Which clutch or band is on in which gear, and the ratio of each."""
    spec = load_unit(unit)
    tables = gear_tables(spec)
    rows = []
    for each in _in_order(spec):
        row = spec.gear_index(each.gear)
        marks = [ON if on else OFF for on in tables.applied[row]]
        rows.append((each.label, *marks, _ratio(tables.ratio[row])))
    heads = ("gear", *(element.label for element in spec.elements), "ratio")
    return Table(f"Apply chart of the {spec.title}", heads, tuple(rows))


def member_speeds(unit: str, *gears: str, turns: float = 100) -> Table:
    """Turns of every member of the gear train while the input makes `turns` turns, one column a gear."""
    spec = load_unit(unit)
    for gear in gears:
        one_of("gear", gear, spec.gears)
    trains = [train(spec, spec.gears[gear]) for gear in gears]
    rows = tuple(
        (member.replace("_", " "), *(_turned(each.speeds[member] * turns) for each in trains))
        for member in spec.members
    )
    heads = ("part", *(gear.replace("_", " ") for gear in gears))
    return Table(f"{spec.title}: turns of each part for {turns:g} turns of the input", heads, rows)


def power_path(unit: str, gear: str) -> Picture:
    """The way of the power through a gear: what drives, what is held, what turns along."""
    from course_lib.plots import (
        paths,  # here and below: a lesson's first cell draws nothing, and a drawing library takes 0.3 s
    )

    return paths.power_path(unit, gear, verdict=True)


def speed_lines(unit: str) -> Picture:
    """Speed of every member in every gear, as lines: a held member stands at zero."""
    from course_lib.plots import levers

    return levers.member_speeds(unit, verdict=True)


def gears_left(unit: str, *lost: str) -> Table:
    """Which gears still pull, and which still brake, when each of the elements `lost` holds nothing: one column each."""
    spec = load_unit(unit)
    labels = {element.id: element.label for element in spec.elements}
    for element in lost:
        one_of("element", element, labels)
    rows, off = [], set()
    for at, each in enumerate(_in_order(spec)):
        cells = [_left(spec, each, element) for element in lost]
        off |= {(at, column) for column, text in enumerate(cells, 1) if text != "pulls"}
        rows.append((each.label, *cells))
    heads = ("gear", *(f"without the {labels[element]}" for element in lost))
    return Table(f"{spec.title}: what still pulls", heads, tuple(rows), frozenset(off))


def output_speed(unit: str, gear: str, *rpm: float) -> Table:
    """Speed of the output shaft at some input speeds, nothing sliding."""
    between("rpm", min(rpm), 0, 10_000, "Give engine speeds.")
    spec = load_unit(unit)
    one_of("gear", gear, spec.gears)
    ratio = float(gear_tables(spec).ratio[spec.gear_index(gear)])
    rows = tuple((f"{each:,.0f} rpm", f"{abs(each / ratio):,.0f} rpm") for each in rpm)
    return Table(f"{spec.title} in {gear}, ratio {_ratio(ratio)}", ("input", "output"), rows)


def _in_order(spec: UnitSpec) -> list[Range]:
    """Reverse, the gears of D from the lowest up, then what the lever holds down."""
    return sorted(
        ranges(spec), key=lambda each: (each.name != "reverse", each.name.startswith("manual"), each.ups)
    )


def _left(spec: UnitSpec, each: Range, lost: str) -> str:
    """What is left of a gear without an element: another one that couples the same two members may stand in for it."""
    elements = [name for name in spec.gears[each.gear] if name != lost]
    try:
        train(spec, elements)
    except ValueError:
        return "lost"
    kinds = {e.id: e.kind for e in spec.elements}
    only_one_way = all(kinds[name] == "one-way" for name in elements if _same(spec, name, lost))
    braked = brakes_on_overrun(spec, each.gear) and lost in spec.gears[each.gear]
    return "pulls, but does not brake downhill" if braked and only_one_way else "pulls"


def _same(spec: UnitSpec, one: str, other: str) -> bool:
    couples = {e.id: e.couples for e in spec.elements}
    return couples[one] == couples[other]


def _turned(turns: float) -> str:
    if abs(turns) < 0.5:
        return "stands still"
    return f"{abs(turns):.0f} {'forward' if turns > 0 else 'backward'}"


def _ratio(ratio: float) -> str:
    return f"{abs(ratio):.2f}{' backward' if ratio < 0 else ''}"


def _role(name: str, held: str, driven: str) -> str:
    return {held: "held", driven: "driven"}.get(name, "drives out")
