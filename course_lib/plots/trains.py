"""What a gear train does in each range: who turns, who holds, who slips. All of it from the linear balance, for any unit.

The power path is drawn as a ladder: a rail for every member, a rung for every gear set and holding element. How heavy a rail is
drawn at a place is the torque it carries there, so no table of who drives whom is typed anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from course_lib.base.arrays import Array
from course_lib.base.guards import one_of
from course_lib.physics.gearset import CASE
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.unit_spec import Element, UnitSpec, load_unit

SLIDES = 0.3  # turns of a slipping element for a turn of the input, where nothing else is said
NOTHING = 1e-6  # turns and torques below are none


Couple = tuple[str, str]  # two members that an element ties together


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """What stands at one place along the rails: a gear set, a holding element, the input or the output.

    torque: member -> torque it gets there, the input's being 1; state: "holds", "slips", "open" or "" for gears.
    """

    kind: str
    label: str
    members: tuple[str, ...]
    torque: dict[str, float]
    state: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedRange:
    """A gear with its train solved: speeds for a turn of the input, without and with the slip, and the rungs from left to right."""

    unit: UnitSpec
    gear: str
    ratio: float
    speeds: dict[str, float]
    slipped: dict[str, float]
    slipping: tuple[str, ...]
    rungs: tuple[Rung, ...]

    @property
    def name(self) -> str:
        """How people call it: the lever where it has only one gear, else lever and gear."""
        for lever, gears in self.unit.levers.items():
            if self.gear in gears:
                return f"{lever} {self.gear}" if len(gears) > 1 else lever
        return self.gear

    def loads(self, member: str) -> tuple[float, ...]:
        """Torque in the rail of a member to the right of each rung."""
        return tuple(float(x) for x in np.cumsum([rung.torque.get(member, 0.0) for rung in self.rungs]))


def driving_gears(unit: UnitSpec) -> tuple[str, ...]:
    """The gears of a unit that drive, each ratio once, forward ones first."""
    found: dict[float, str] = {}
    for gear, ratio in zip(unit.gears, gear_tables(unit).ratio, strict=True):
        if ratio:
            found.setdefault(round(float(ratio), 9), gear)
    return tuple(gear for ratio, gear in sorted(found.items(), key=lambda pair: pair[0] < 0))


@cache
def solve_range(unit: str, gear: str, slipping: tuple[str, ...] = (), slides: float = SLIDES) -> SolvedRange:
    """The train of a gear, with elements that should hold but slip by `slides` turns for a turn of the input.

    Raises ValueError for an unknown unit, gear or element, for a gear that does not drive, and for an element that is not
    applied in it.
    """
    spec = load_unit(unit)
    one_of(f"gear of unit {unit}", gear, driving_gears(spec) + tuple(spec.gears))
    applied = [element for element in spec.elements if element.id in spec.gears[gear]]
    for name in slipping:
        one_of(f"element applied in {gear} of unit {unit}", name, [element.id for element in applied])
    if not gear_tables(spec).ratio[spec.gear_index(gear)]:
        raise ValueError(
            f"gear must drive, got {gear} of unit {unit}. Choose from: {', '.join(driving_gears(spec))}."
        )
    couples = list(dict.fromkeys(element.couples for element in applied))
    speeds, held = _speeds(spec, couples, {}), _torques(spec, couples)
    torque = dict(zip(couples, held[len(spec.planetary_sets) :], strict=False))
    slid = {e.couples: -slides * float(np.sign(torque[e.couples])) for e in applied if e.id in slipping}
    return SolvedRange(
        unit=spec,
        gear=gear,
        ratio=1.0 / speeds[spec.output],
        speeds=speeds,
        slipped=_speeds(spec, couples, slid),
        slipping=slipping,
        rungs=_rungs(spec, applied, torque, held, slipping),
    )


def _shares(spec: UnitSpec) -> list[dict[str, float]]:
    """For each set, weight of each member: weights times speeds sum to nothing (Willis), and torques stand in them."""
    found = []
    for each in spec.planetary_sets:
        rho = each.sun_teeth / each.ring_teeth
        found.append({each.sun: rho, each.ring: 1.0, each.carrier: -(1.0 + rho)})
    return found


def _ties(spec: UnitSpec, couples: Sequence[tuple[str, str]]) -> np.ndarray:
    """One row for each gear set and each pair coupled, (k, members); the case has no column."""
    place = {name: i for i, name in enumerate(spec.members)}
    weights = _shares(spec) + [{first: 1.0, second: -1.0} for first, second in couples]
    matrix = np.zeros((len(weights), len(place)))
    for row, each in zip(matrix, weights, strict=True):
        for name, weight in each.items():
            if name != CASE:
                row[place[name]] += weight
    return matrix


def _speeds(
    spec: UnitSpec, couples: Sequence[Couple], slid: dict[tuple[str, str], float]
) -> dict[str, float]:
    """Speed of every member for a turn of the input; slid: pair -> how much faster its first member turns than its second."""
    driven = np.array([[float(name == spec.input) for name in spec.members]])
    right = [0.0] * len(spec.planetary_sets) + [slid.get(pair, 0.0) for pair in couples] + [1.0]
    solved = np.linalg.solve(np.concatenate([_ties(spec, couples), driven]), np.array(right))
    return dict(zip(spec.members, map(float, solved), strict=True))


def _torques(spec: UnitSpec, couples: Sequence[Couple]) -> Array:
    """Torque of each set (on its ring), of each pair (on its first member), and at the output, for an input torque of 1."""
    load = np.array([[-float(name == spec.output) for name in spec.members]])
    drive = np.array([float(name == spec.input) for name in spec.members])
    torques: Array = np.linalg.solve(np.concatenate([_ties(spec, couples), load]).T, -drive)
    return torques


def _rungs(
    spec: UnitSpec,
    applied: list[Element],
    torque: dict[Couple, float],
    held: Array,
    slipping: tuple[str, ...],
) -> tuple[Rung, ...]:
    """Input, clutches, gear sets, what holds against the case, output: from left to right."""
    both = {pair: sum(element.couples == pair for element in applied) for pair in torque}

    def holder(element: Element) -> Rung:
        first, second = element.couples
        on = element in applied
        share = torque[element.couples] / both[element.couples] if on else 0.0
        state = "open" if not on else "slips" if element.id in slipping else "holds"
        given = {first: share} if second == CASE else {first: share, second: -share}
        return Rung(
            kind=element.kind, label=element.label, members=element.couples, torque=given, state=state
        )

    gears = []
    for i, (each, weights) in enumerate(zip(spec.planetary_sets, _shares(spec), strict=True)):
        given = {name: weight * float(held[i]) for name, weight in weights.items()}
        gears.append(
            Rung(kind="set", label=f"set {i + 1}", members=(each.ring, each.carrier, each.sun), torque=given)
        )
    start = Rung(kind="input", label="in", members=(spec.input,), torque={spec.input: 1.0})
    end = Rung(kind="output", label="out", members=(spec.output,), torque={spec.output: -float(held[-1])})
    between = sorted([*map(holder, spec.elements), *gears], key=lambda rung: _along(spec, rung))
    return (start, *between, end)


def _along(spec: UnitSpec, rung: Rung) -> tuple[float, int]:
    """Where a rung stands: as far along as its members are on the way from input to output; what holds to the case last."""
    places = [spec.members.index(name) for name in rung.members if name != CASE]
    return sum(places) / len(places), 2 if CASE in rung.members else int(rung.kind == "set")


def lever_places(spec: UnitSpec) -> list[dict[str, float]]:
    """For each train of sets that share members, the place of each member along its lever, first sun at 0, first carrier at 1.

    Places obey the same equation as speeds, so that speeds over places always lie on a straight line. A train whose members are
    not all on one line gets one lever for each of its sets.
    """
    levers = []
    for sets in _trains(spec):
        weights = [_shares(spec)[i] for i in sets]
        names = list(dict.fromkeys(name for each in weights for name in each))
        if len(names) - len(sets) == 2:
            levers.append(_lever(names, weights))
        else:
            levers += [_lever(list(each), [each]) for each in weights]
    return levers


def _trains(spec: UnitSpec) -> list[list[int]]:
    """Places of the gear sets that hang together by shared members."""
    found: list[list[int]] = []
    for i, each in enumerate(spec.planetary_sets):
        mine = {each.sun, each.ring, each.carrier}
        near = [train for train in found if any(mine & set(_shares(spec)[k]) for k in train)]
        found = [train for train in found if train not in near] + [
            sorted([i, *(k for train in near for k in train)])
        ]
    return found


def _lever(names: list[str], weights: list[dict[str, float]]) -> dict[str, float]:
    sun, _, carrier = weights[0]
    rows = [[each.get(name, 0.0) for name in names] for each in weights]
    fixed = [[float(name == end) for name in names] for end in (sun, carrier)]
    solved = np.linalg.solve(np.array(rows + fixed), np.array([0.0] * len(rows) + [0.0, 1.0]))
    return dict(zip(names, map(float, solved), strict=True))
