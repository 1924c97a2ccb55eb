"""What the gear train of a unit does in each gear: speed ratios, torque shares, and what becomes of them when an element slips."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import msgspec
import numpy as np

from course_lib.base.arrays import Array, Flags
from course_lib.physics import gearset
from course_lib.vehicle.unit_spec import Element, UnitSpec


class Caught(msgspec.Struct, frozen=True):
    """The lower gear in which a one-way clutch catches the train when an element of a gear slips: rows gears, columns elements.

    ratio (G, E) of that gear, 0 where nothing catches; share (G, E, F) torque each element then carries per turbine torque, were
    the slipping one gone; helped (G, E, F) what each is spared per torque that the slipping one still bears; relative (G, E)
    speed between the two members of the slipping one, per turbine speed.
    """

    ratio: Array
    share: Array
    helped: Array
    relative: Array


class GearTables(msgspec.Struct, frozen=True):
    """Apply chart and torque shares of a unit, one row a gear (G), one column an element (E).

    applied (G, E) 0 or 1; share (G, E) torque an element carries per turbine torque; relative (G, E) speed between the two
    members an element couples, per turbine speed, 0 where it is applied; ratio (G,) input / output speed, signed, 0 in
    neutral; before (G,) ratio of the gear an upshift comes from, 0 where none leads here; takes (G, E) 1 where an
    element is filled anew on entering the gear; couple (E, E) 1 for elements that couple the same two members; caught: what
    becomes of a gear when one of its elements slips.
    """

    applied: Array
    share: Array
    relative: Array
    ratio: Array
    before: Array
    takes: Array
    couple: Array
    caught: Caught

    @property
    def partners(self) -> tuple[tuple[int, int], ...]:
        """Pairs of different elements that couple the same two members."""
        return tuple((int(i), int(j)) for i, j in zip(*np.nonzero(self.couple), strict=True) if i != j)

    @property
    def upshifted(self) -> Flags:
        """Whether a gear is reached by an upshift, (G,)."""
        return self.before > 0


def _gear_train(unit: UnitSpec, elements: list[Element]) -> gearset.TrainState:
    """Solve the train with `elements` applied; two that couple the same members count once."""
    couplings = list(dict.fromkeys(element.couples for element in elements))
    sets = [
        gearset.PlanetarySet(s.sun, s.ring, s.carrier, s.sun_teeth / s.ring_teeth)
        for s in unit.planetary_sets
    ]
    return gearset.solve_train(
        unit.members, sets, couplings, input_member=unit.input, output_member=unit.output
    )


@cache
def gear_tables(unit: UnitSpec) -> GearTables:
    """Apply chart, torque shares and speeds of a unit, from the linear balance of its gear train."""
    size = (len(unit.gears), len(unit.elements))
    applied, share, relative, ratio = np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(size[0])
    for row, names in enumerate(unit.gears.values()):
        elements = [unit.elements[unit.element_ids.index(n)] for n in names]
        applied[row] = [float(e.id in names) for e in unit.elements]
        if (driven := _driven(unit, elements)) is not None:
            ratio[row], torques, relative[row] = driven
            share[row] = np.abs(torques)
    before = np.zeros(size[0])
    takes = applied * 1.0
    idle = applied[unit.gear_index(unit.levers["N"][0])]
    for gears in unit.levers.values():
        rows = [unit.gear_index(gear) for gear in gears]
        for low, high in pairwise(rows):
            before[high] = ratio[low]
            takes[high] = applied[high] * (1.0 - applied[low])
    takes[before == 0] *= 1.0 - idle
    pairs = [e.couples for e in unit.elements]
    couple = np.array([[float(a == b) for b in pairs] for a in pairs])
    return GearTables(applied, share, relative, ratio, before, takes, couple, _caught(unit))


def _driven(unit: UnitSpec, elements: list[Element]) -> tuple[float, Array, Array] | None:
    """Ratio of the train with `elements` applied, and by element of the unit torque and relative speed; None where none drives."""
    if not _drives(unit, elements):
        return None
    state = _gear_train(unit, elements)
    couplings = list(dict.fromkeys(element.couples for element in elements))
    at = {element.id: state.torques[couplings.index(element.couples)] for element in elements}
    speeds = dict(state.speeds, case=0.0)
    relative = np.array([speeds[e.couples[0]] - speeds[e.couples[1]] for e in unit.elements])
    return state.ratio, np.array([at.get(e.id, 0.0) for e in unit.elements]), relative


def _caught(unit: UnitSpec) -> Caught:
    """Where a slipping element lets the train fall back on a one-way clutch."""
    count = len(unit.elements)
    ratio, relative = np.zeros((len(unit.gears), count)), np.zeros((len(unit.gears), count))
    share, helped = np.zeros((len(unit.gears), count, count)), np.zeros((len(unit.gears), count, count))
    for row, names in enumerate(unit.gears.values()):
        elements = [e for e in unit.elements if e.id in names]
        whole = _driven(unit, elements)
        for column, slipping in enumerate(unit.elements):
            if whole is None or slipping not in elements:
                continue
            left = [e for e in elements if e.couples != slipping.couples]
            if (lower := _lower_gear(unit, left, whole[0])) is None:
                continue
            ratio[row, column], torques, speeds = lower
            way = np.sign(torques)
            share[row, column] = np.abs(torques)
            helped[row, column] = (np.abs(torques) - way * whole[1]) / abs(whole[1][column])
            relative[row, column] = abs(speeds[column])
    return Caught(ratio, share, helped, relative)


def _locking(unit: UnitSpec, column: int) -> float:
    """Torque of a one-way clutch in the first gear that relies on it; its sign is the way in which it locks."""
    for names in unit.gears.values():
        if unit.element_ids[column] in names:
            driven = _driven(unit, [e for e in unit.elements if e.id in names])
            if driven is not None and driven[1][column] != 0.0:
                return float(driven[1][column])
    return 0.0


def _lower_gear(unit: UnitSpec, elements: list[Element], ratio: float) -> tuple[float, Array, Array] | None:
    """The nearest lower gear that one more one-way clutch makes of `elements`; None where there is none."""
    found = []
    for column, each in enumerate(unit.elements):
        if each.kind != "one-way" or each in elements:
            continue
        try:
            made = _driven(unit, [*elements, each])
        except ValueError:  # it would tie the train up, or leave a member loose
            continue
        if made is None or made[0] * ratio <= 0.0 or abs(made[0]) < abs(ratio) + 1e-6:
            continue
        if made[1][column] * _locking(unit, column) > 0.0:
            found.append(made)
    return min(found, key=lambda made: abs(made[0]), default=None)


def _drives(unit: UnitSpec, elements: list[Element]) -> bool:
    """Whether that many couplings tie input to output: fewer leave the train loose, as in neutral."""
    couplings = dict.fromkeys(element.couples for element in elements)
    return len(couplings) >= len(unit.members) - len(unit.planetary_sets) - 1
