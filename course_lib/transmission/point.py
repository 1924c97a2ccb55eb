"""What is asked of a vehicle, the state it is in, and what then happens: the records `plant` works with.

Shapes: n vehicles, m operating points, E holding elements, p = 2 phases of the oil (0 fluid, 1 a gulp of air).
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """What the vehicle is doing, m operating points. Arrays of length m unless said otherwise.

    lever: names; throttle 0 to 1; road_speed m/s; tilt: grade or acceleration over g, toward uncovering the pickup.
    engine_speed rad/s, NaN = whatever throttle and converter give. signal: load signal set by hand, NaN = the vehicle's own.
    temperature K of the sump, NaN = from the heat balance. brakes_hold: road speed is held at zero against the engine.
    """

    lever: tuple[str, ...]
    throttle: np.ndarray
    road_speed: np.ndarray
    tilt: np.ndarray
    engine_speed: np.ndarray
    signal: np.ndarray
    temperature: np.ndarray

    def __post_init__(self) -> None:
        sizes = {len(getattr(self, f.name)) for f in fields(self)}
        if len(sizes) != 1:
            raise ValueError(
                f"operation arrays must have one length, got {sorted(sizes)}. Give one entry per point."
            )


def operation(
    lever, *, throttle=0.0, road_speed=0.0, tilt=0.0, engine_speed=np.nan, signal=np.nan, temperature=np.nan
):
    """An `Operation` from scalars or lists, each stretched to the longest."""
    levers = (lever,) if isinstance(lever, str) else tuple(lever)
    numbers = np.broadcast_arrays(
        np.zeros(len(levers)), throttle, road_speed, tilt, engine_speed, signal, temperature
    )[1:]
    names = ("throttle", "road_speed", "tilt", "engine_speed", "signal", "temperature")
    arrays = {name: np.array(a, dtype=float) for name, a in zip(names, numbers, strict=True)}
    size = len(arrays["throttle"])
    return Operation(lever=levers * size if len(levers) == 1 else levers, **arrays)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Wear and damage of n vehicles. Plain entries (n, 1), element entries (n, 1, E).

    oxidation 0 to 1; lost m3 of fluid; pump: clearance growth over new; bushing 0 to 1 worn; lining m lost per face;
    char 0 to 1; seal 0 supple to 1 hard; holding 0 to 1 damage of one-way clutches.
    """

    oxidation: np.ndarray
    lost: np.ndarray
    pump: np.ndarray
    bushing: np.ndarray
    lining: np.ndarray
    char: np.ndarray
    seal: np.ndarray
    holding: np.ndarray


PLAIN = ("oxidation", "lost", "pump", "bushing")
PER_ELEMENT = ("lining", "char", "seal", "holding")


def new_condition(cases: int, elements: int) -> Condition:
    """Condition of `cases` new vehicles."""
    plain = {name: np.zeros((cases, 1)) for name in PLAIN}
    return Condition(**plain, **{name: np.zeros((cases, 1, elements)) for name in PER_ELEMENT})


@dataclass(frozen=True, slots=True, kw_only=True)
class Workings:
    """What happens at each operating point. (n, m) unless said otherwise; p = 2 phases of the oil, E elements."""

    temperature: np.ndarray  # K, sump
    height: np.ndarray  # m, fluid in the pan
    air_time: np.ndarray  # share of time the pump gulps air
    signal: np.ndarray  # load signal at the valve, 0 to 1
    gear: np.ndarray  # row of the unit's gear table
    engine_speed: np.ndarray  # rad/s
    turbine_torque: np.ndarray  # N m asked of the gear train
    line_phase: np.ndarray  # (p, n, m) Pa
    line: np.ndarray  # Pa, mean that a gauge settles to
    line_low: np.ndarray  # Pa, low end of the needle's swing
    circuit: np.ndarray  # (n, m, E) Pa, mean, 0 where not applied
    residual: np.ndarray  # (p, n, m) m3/s, flow balance: delivered minus leaked minus spilled
    spill: np.ndarray  # m3/s, mean
    capacity: np.ndarray  # (n, m, E) N m, while the pump draws fluid
    loss: np.ndarray  # share of the asked torque that finds no hold, mean over phases
    slip: np.ndarray  # rad/s of the turbine side, mean over phases
    slip_power: np.ndarray  # (n, m, E) W
    heat: np.ndarray  # W into the fluid
    cooler_flow: np.ndarray  # m3/s
    cooler_conductance: np.ndarray  # W/K
    case_conductance: np.ndarray  # W/K
    clearance: np.ndarray = field(repr=False)  # (n, 1, E) m
    flare: np.ndarray = field(repr=False)  # (n, m, E) rad/s the turbine runs away while the element fills
    shift_heat: np.ndarray = field(repr=False)  # (n, m, E) J that one engagement leaves in the plates
