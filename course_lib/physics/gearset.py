"""Planetary gear trains: speeds and torques by one linear solve."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array
from course_lib.base.guards import positive

CASE = "case"  # the name that stands for the housing in a coupling
Weights = tuple[tuple[str, float], ...]  # member and weight


@dataclass(frozen=True, slots=True)
class PlanetarySet:
    """One simple planetary set: names of its three members, and sun teeth over ring teeth."""

    sun: str
    ring: str
    carrier: str
    rho: float

    def __post_init__(self) -> None:
        positive("rho", self.rho, "Give sun teeth over ring teeth.")

    @property
    def shares(self) -> Weights:
        """Member and weight: weights times speeds sum to zero, and torques stand in these proportions."""
        return ((self.sun, self.rho), (self.ring, 1.0), (self.carrier, -(1.0 + self.rho)))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainState:
    """A train at input speed 1 and input torque 1; torques are positive in the input direction.

    speeds          speed of each member
    ratio           input speed / output speed, negative in reverse
    torques         by place in `couplings`: torque on the first member of the pair
    output_torque   torque given to the load
    set_torques     by place in `sets`: torque of the mesh on the ring; on the sun rho times that
    """

    speeds: dict[str, float]
    ratio: float
    torques: dict[int, float]
    output_torque: float
    set_torques: dict[int, float]


def solve_train(
    members: Sequence[str],
    sets: Sequence[PlanetarySet],
    couplings: Sequence[tuple[str, str]],
    input_member: str,
    output_member: str,
) -> TrainState:
    """Speeds and torques of a gear train with some of its members tied together or held.

        rho ws + wr - (1 + rho) wc = 0 for each set;   Ts : Tr : Tc = rho : 1 : -(1 + rho);
        equal speeds across each coupling;   torques on each member sum to zero

    Parameters                                                                      symbol  unit
        members         sequence of str             all turning members               -      [-]
        sets            sequence of PlanetarySet    gear sets                         rho    [-]
        couplings       sequence of pairs of str    applied; second may be "case"     -      [-]
        input_member    str                         turns at 1 with torque 1          -      [-]
        output_member   str                         drives the load                   -      [-]
    Returns
        TrainState, all relative to input speed and torque                            w, T   [-]
    Valid for
        steady turning without friction loss.
    Raises
        ValueError  an unknown member, too few couplings (nothing drives) or too many (tied up).
    Source
        Willis equation; H. L. Benford and M. B. Leising, The Lever Analogy, SAE 810102 (from memory).
    In the workshop
        shows what each clutch and band must hold: reverse asks most, so weakness shows there first.
    Example
        >>> simple = PlanetarySet("sun", "ring", "carrier", 20 / 80)
        >>> state = solve_train(("sun", "ring", "carrier"), [simple], [("ring", "case")], "sun", "carrier")
        >>> round(state.ratio, 6), round(state.torques[0], 6), round(state.output_torque, 6)
        (5.0, 4.0, 5.0)
    """
    row = {name: i for i, name in enumerate(members)}
    _check_names(row, sets, couplings, (input_member, output_member))
    columns = [_column(row, gear.shares) for gear in sets]
    columns += [_column(row, ((first, 1.0), (second, -1.0))) for first, second in couplings]
    _check_count(len(members), len(columns) + 1)
    drive = _column(row, ((input_member, 1.0),))
    speeds = _solve(np.array([*columns, drive]), np.eye(len(members))[-1])
    # Torque balance has the same weights, transposed: what ties speeds is what carries torque.
    loads = np.array([*columns, _column(row, ((output_member, -1.0),))])
    torques = _solve(loads.T, -drive)
    return TrainState(
        speeds={name: float(speeds[i]) for name, i in row.items()},
        ratio=float(1.0 / speeds[row[output_member]]),
        torques=dict(enumerate(torques[len(sets) : -1].tolist())),
        output_torque=float(torques[-1]),
        set_torques=dict(enumerate(torques[: len(sets)].tolist())),
    )


def _column(row: dict[str, int], weights: Weights) -> Array:
    """Weights per member as a vector; the case has no row because it neither turns nor needs balance."""
    column = np.zeros(len(row))
    for name, weight in weights:
        if name != CASE:
            column[row[name]] += weight
    return column


def _check_names(
    row: dict[str, int],
    sets: Sequence[PlanetarySet],
    couplings: Sequence[tuple[str, str]],
    ends: tuple[str, str],
) -> None:
    named = {name for gear in sets for name, _ in gear.shares} | {name for pair in couplings for name in pair}
    unknown = sorted((named | set(ends)) - set(row) - {CASE})
    if unknown:
        raise ValueError(f"member must be one of {sorted(row)}, got {unknown}. Correct the name.")


def _check_count(members: int, ties: int) -> None:
    if ties < members:
        raise ValueError(f"ties must be {members}, got {ties}: nothing drives. Apply one more element.")
    if ties > members:
        raise ValueError(f"ties must be {members}, got {ties}: the train ties up. Release one element.")


def _solve(matrix: Array, right: Array) -> Array:
    if np.linalg.matrix_rank(matrix) < len(matrix):
        raise ValueError("ties must hold each member once, got one loose or held twice. Change a coupling.")
    return np.linalg.solve(matrix, right)
