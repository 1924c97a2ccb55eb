"""Planetary gear trains: speeds and torques by one linear solve."""

import math
from dataclasses import dataclass

import numpy as np

from course_lib.vocabulary import positive

CASE = "case"


@dataclass(frozen=True, slots=True)
class PlanetarySet:
    """One simple planetary set: names of its three members, and sun teeth over ring teeth."""

    sun: str
    ring: str
    carrier: str
    rho: float

    def __post_init__(self):
        positive("rho", self.rho, "Give sun teeth over ring teeth.")

    @property
    def shares(self):
        """Member and weight: weights times speeds sum to zero, and torques stand in these proportions."""
        return ((self.sun, self.rho), (self.ring, 1.0), (self.carrier, -(1.0 + self.rho)))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainState:
    """Speeds and torques of a train, for input speed 1 and input torque 1."""

    speeds: dict[str, float]
    ratio: float
    torques: dict[int, float]
    output_torque: float
    set_torques: dict[int, float]


def solve_train(members, sets, couplings, input_member, output_member):
    """Speeds and torques of a gear train with some of its members tied together or held."""
    row = {name: i for i, name in enumerate(members)}
    _check_names(row, sets, couplings, (input_member, output_member))
    columns = [_column(row, gear.shares) for gear in sets]
    columns += [_column(row, ((a, 1.0), (b, -1.0))) for a, b in couplings]
    _check_count(len(members), len(columns) + 1)
    ties = np.array([*columns, _column(row, ((input_member, 1.0),))])
    speeds = _solve(ties, np.eye(len(members))[-1])
    # Torque balance uses the same weights, transposed: what ties speeds is what carries torque.
    loads = np.array([*columns, _column(row, ((output_member, -1.0),))])
    torques = _solve(loads.T, -_column(row, ((input_member, 1.0),)))
    return _train_state(row, len(sets), speeds, torques, output_member)


def planet_speed(sun_speed, carrier_speed, sun_teeth, planet_teeth):
    """Speed of the planets about their own pins, seen from the case."""
    return carrier_speed - (sun_speed - carrier_speed) * sun_teeth / planet_teeth


def mesh_conditions(sun, planet, ring, planets):
    """Reasons why a simple planetary set of these tooth numbers could not be built."""
    problems = []
    if ring != sun + 2 * planet:
        problems.append(f"ring teeth must be sun + 2 x planet = {sun + 2 * planet}, got {ring}")
    if (sun + ring) % planets:
        problems.append(f"sun + ring = {sun + ring} teeth must divide by {planets} planets")
    if (sun + planet) * math.sin(math.pi / planets) <= planet + 2:
        problems.append(f"{planets} planets of {planet} teeth touch each other")
    return tuple(problems)


def _column(row, weights):
    """Weights per member as a vector; the case has no row because it neither turns nor needs balance."""
    column = np.zeros(len(row))
    for name, weight in weights:
        if name != CASE:
            column[row[name]] += weight
    return column


def _check_names(row, sets, couplings, ends):
    named = {name for gear in sets for name, _ in gear.shares} | {name for pair in couplings for name in pair}
    unknown = (named | set(ends)) - set(row) - {CASE}
    if unknown:
        raise ValueError(f"member must be one of {sorted(row)}, got {sorted(unknown)}. Correct the name.")


def _check_count(members, ties):
    if ties != members:
        state, step = ("free", "Apply one more") if ties < members else ("locked twice", "Release one")
        raise ValueError(f"ties must be {members} for {members} members, got {ties}: train is {state}. {step}.")


def _solve(matrix, right):
    if np.linalg.matrix_rank(matrix) < len(matrix):
        raise ValueError("ties must fix every member once, got a loose or doubly held member. Change a coupling.")
    return np.linalg.solve(matrix, right)


def _train_state(row, set_count, speeds, torques, output_member):
    output_speed = speeds[row[output_member]]
    return TrainState(
        speeds={name: float(speeds[i]) for name, i in row.items()},
        ratio=float(1.0 / output_speed),
        torques={i: float(torque) for i, torque in enumerate(torques[set_count:-1])},
        output_torque=float(torques[-1]),
        set_torques={i: float(torque) for i, torque in enumerate(torques[:set_count])},
    )
