"""What is asked of a vehicle, the state it is in, and what then happens: the records `plant` works with.

Shapes: n vehicles, m operating points, E holding elements, p = 2 phases of the oil (0 fluid, 1 a gulp of air).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import ArrayLike, DTypeLike

from course_lib.base.arrays import Array, Batched, Flags, Places
from course_lib.base.guards import between, one_of
from course_lib.vehicle.command import Electric
from course_lib.vehicle.memory import Memory, new_memory
from course_lib.vehicle.unit_spec import UnitSpec

SHORTEST_SLIDE = 0.05  # s


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """What the vehicle is doing, m operating points. Arrays of length m unless said otherwise.

    lever: names; throttle 0 to 1; road_speed m/s; tilt: grade or acceleration over g, toward uncovering the pickup.
    engine_speed rad/s, NaN = whatever throttle and converter give. signal: load signal set by hand, NaN = the vehicle's own.
    temperature K of the sump, NaN = from the heat balance. Yes or no, as 1 or 0: loaded, the owner's trailer is on; nudged, the
    lever is held right in its detent; cold_soaked, the first start after a night; wet, water on plugs and wires; acting, the
    controller acts on the codes that are stored. shake: 0 standing still, see `physics.loose_contact.road_shaking`. pressed_for:
    s since the pedal went down, NaN = long ago.
    """

    lever: tuple[str, ...]
    throttle: Array
    road_speed: Array
    tilt: Array
    engine_speed: Array
    signal: Array
    temperature: Array
    loaded: Array
    nudged: Array
    cold_soaked: Array
    acting: Array
    shake: Array
    wet: Array
    pressed_for: Array

    def __post_init__(self) -> None:
        sizes = {len(getattr(self, f.name)) for f in fields(self)}
        if len(sizes) != 1:
            raise ValueError(
                f"operation arrays must have one length, got {sorted(sizes)}. Give one entry per point."
            )

    def astype(self, dtype: DTypeLike) -> Operation:
        """The same with numbers of that type."""
        return Operation(lever=self.lever, **{name: getattr(self, name).astype(dtype) for name in NUMBERS})


NUMBERS = tuple(f.name for f in fields(Operation) if f.name != "lever")
# What a person or a data file may ask for: beyond it, the laws behind an operating point were never tried.
ALLOWED = {
    "throttle": (0.0, 1.0, "shares of the pedal's way, 0 to 1"),
    "signal": (0.0, 1.0, "shares of the full load signal, 0 to 1"),
    "road_speed": (0.0, 60.0, "m/s"),
    "engine_speed": (0.0, 1000.0, "rad/s"),
    "tilt": (-1.0, 1.0, "parts of the acceleration of gravity"),
    "temperature": (230.0, 480.0, "K"),
    "pressed_for": (0.0, 60.0, "s"),
    "shake": (0.0, 1.5, "what `physics.loose_contact.road_shaking` gives, 0 to 1.5"),
}
NOT_GIVEN = {"engine_speed": np.nan, "signal": np.nan, "temperature": np.nan, "pressed_for": np.nan}


def operation(lever: str | Sequence[str], **numbers: ArrayLike) -> Operation:
    """An `Operation` from scalars or lists by its field names, each stretched to the longest; what is left out is 0 or NaN.

    Raises ValueError for a name that is none, or a number outside `ALLOWED`.
    """
    levers = (lever,) if isinstance(lever, str) else tuple(lever)
    given = [numbers.pop(name, NOT_GIVEN.get(name, 0.0)) for name in NUMBERS]
    for name in numbers:
        one_of("number of an operation", name, NUMBERS)
    stretched = np.broadcast_arrays(np.zeros(len(levers)), *given)[1:]
    arrays = {name: np.array(a, dtype=float) for name, a in zip(NUMBERS, stretched, strict=True)}
    for name, (low, high, unit) in ALLOWED.items():
        given_to = arrays[name][~np.isnan(arrays[name])]
        between(name, given_to, low, high, f"Give it in {unit}.")
    size = len(arrays["throttle"])
    return Operation(lever=levers * size if len(levers) == 1 else levers, **arrays)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition(Batched):
    """Wear and damage of n vehicles. Plain entries (n, 1), element entries (n, 1, E).

    oxidation, 1 worn out; lost m3 of fluid; pump: clearance growth over new. From 0 new to 1 ruined: bushing; planetary, pins and
    washers; lockup, its lining; driveline, joints and shafts. By element: lining m lost per face; char 0 to 1; seal 0 supple to
    1 hard; holding: rollers of one-way clutches, drum and lugs of the others, 0 to 1; soaked, lining paper in water, 0 to 1.
    memory: what the controller remembers, which does not wear; see `adaptation` and `codes`.
    """

    oxidation: Array
    lost: Array
    pump: Array
    bushing: Array
    planetary: Array
    lockup: Array
    driveline: Array
    lining: Array
    char: Array
    seal: Array
    holding: Array
    soaked: Array
    memory: Memory


PLAIN = ("oxidation", "lost", "pump", "bushing", "planetary", "lockup", "driveline")
PER_ELEMENT = ("lining", "char", "seal", "holding", "soaked")


def new_condition(cases: int, unit: UnitSpec) -> Condition:
    """Condition of `cases` new vehicles."""
    plain = {name: np.zeros((cases, 1)) for name in PLAIN}
    own = {name: np.zeros((cases, 1, len(unit.elements))) for name in PER_ELEMENT}
    return Condition(**plain, **own, memory=new_memory(cases, unit))


def packed(condition: Condition) -> Array:
    """What wears, as rows (n, k) of double precision, so that small additions are not lost."""
    entries = [getattr(condition, name) for name in PLAIN + PER_ELEMENT]
    return np.concatenate([np.reshape(entry, (len(entry), -1)) for entry in entries], 1, dtype=float)


def unpacked(state: Array, memory: Memory, dtype: DTypeLike = float) -> Condition:
    """The conditions of rows (n, k), and what is remembered."""
    plain = {name: state[:, i : i + 1].astype(dtype) for i, name in enumerate(PLAIN)}
    parts = np.split(state[:, None, len(PLAIN) :].astype(dtype), len(PER_ELEMENT), axis=2)
    own = dict(zip(PER_ELEMENT, parts, strict=True))
    return Condition(**plain, **own, memory=memory.astype(dtype))


def spread(values: dict[str, float], elements: int) -> Array:
    """One value of each entry name, laid out like a row (k,)."""
    return np.repeat(
        [values[n] for n in PLAIN + PER_ELEMENT], [1] * len(PLAIN) + [elements] * len(PER_ELEMENT)
    )


WITHOUT_POINTS = {"clearance", "boils_over"}  # of `Workings`: (n, 1, E) and (n, 1)
POINTS_LAST = {"line_phase"}  # (p, n, m); all else is (n, m) or (n, m, E)


@dataclass(frozen=True, slots=True, kw_only=True)
class Workings:
    """What happens at each operating point. (n, m) unless said otherwise; p = 2 phases of the oil, E elements."""

    temperature: Array  # K, sump
    height: Array  # m, fluid in the pan
    air_time: Array  # share of time the pump gulps air
    signal: Array  # load signal at the valve, 0 to 1
    gear: Places  # row of the unit's gear table
    engine_speed: Array  # rad/s, that of the racing engine where something slips, mean over phases
    engine_power: Array  # W taken from the engine, mean over phases
    converter_loss: Array  # W left in converter and lock-up lining, mean over phases
    turbine_torque: Array  # N m asked of the gear train
    line_phase: Array  # (p, n, m) Pa
    line: Array  # Pa, mean that a gauge settles to
    line_low: Array  # Pa, low end of the needle's swing
    goal: Array  # Pa, at which the regulator aims
    circuit: Array  # (n, m, E) Pa, mean, 0 where not applied
    spill: Array  # m3/s, mean
    capacity: Array  # (n, m, E) N m that each applied element can hold, mean over phases
    held: Array  # (n, m, E) N m that each element bears, with what couples the same members, mean over phases
    loss: Array  # share of the asked torque that finds no hold, mean over phases
    slip: Array  # rad/s of the turbine side, mean over phases
    slip_power: Array  # (n, m, E) W
    drag_power: Array  # (n, m, E) W in elements that should be free
    tie_up: Array  # share of the turbine torque with which elements fight each other
    judder: Array  # 0 smooth; past 1 it shakes
    lockup_on: Array  # 0 or 1, the lock-up clutch is commanded
    lockup_slip: Array  # rad/s in the lock-up clutch
    lockup_power: Array  # W into its lining
    exhaust: Array  # Pa, back pressure
    drive_torque: Array  # N m that reaches the wheels' side of the gear train
    heat: Array  # W into the fluid
    cooler_flow: Array  # m3/s
    cooler_conductance: Array  # W/K
    case_conductance: Array  # W/K
    settled: Array  # K, sump temperature that this heat leads to
    boils_over: Flags  # (n, 1) bool, no balance below the temperature at which fluid leaves by the vent
    clearance: Array = field(repr=False)  # (n, 1, E) m
    # One engagement of each element that the gear fills anew; 0 elsewhere, (n, m, E):
    delay: Array = field(repr=False)  # s from the command to first grip
    flare: Array = field(repr=False)  # rad/s the turbine runs away meanwhile
    bump: Array = field(repr=False)  # torque at lock-up beyond the load, as a ratio
    slide: Array = field(repr=False)  # s of sliding
    overlap: Array = field(repr=False)  # s in which the outgoing element holds as well
    shift_heat: Array = field(repr=False)  # J left in the plates
    electric: Electric | None = field(repr=False)  # None where the control is hydraulic

    @property
    def jerk(self) -> Array:
        """How fast the torque of an engagement comes on, in loads a second, (n, m, E); 0 where there is none."""
        return (1.0 + self.bump) * (self.slide > 0) / np.maximum(self.slide, SHORTEST_SLIDE)

    def copy(self) -> Workings:
        """The same in arrays of its own."""
        electric = None if self.electric is None else self.electric.copy()
        return replace(self, electric=electric, **{name: getattr(self, name).copy() for name in ARRAYS})

    def put(self, rows: Places, work: Workings) -> None:
        """Write the workings of the vehicles `rows` over what stands there."""
        if self.electric is not None and work.electric is not None:
            self.electric.put(rows, work.electric)
        for name in ARRAYS:
            place = np.s_[:, rows] if name in POINTS_LAST else rows
            getattr(self, name)[place] = getattr(work, name)

    def cut(self, start: int, stop: int) -> Workings:
        """The workings at some of the operating points."""
        values = {name: getattr(self, name) for name in ARRAYS if name not in WITHOUT_POINTS}
        some = {n: v[..., start:stop] if n in POINTS_LAST else v[:, start:stop] for n, v in values.items()}
        electric = None if self.electric is None else self.electric.cut(start, stop)
        return replace(self, electric=electric, **some)


ARRAYS = tuple(f.name for f in fields(Workings) if f.name != "electric")
