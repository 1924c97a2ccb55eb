"""The gear that the pressures make: found among all that the train can have, whatever the controller wanted."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.vehicle.grip import grip
from course_lib.vehicle.oil_circuits import Pairs
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.vehicle_batch import Vehicles

SHORT = 0.98  # of what was wanted, under which a circuit counts as short of it
STRAY = 3000.0  # Pa in a circuit that should be empty, from which it counts
OUTDONE = 0.25  # of what the strongest gear can carry: under it, the wanted one gives way
NOTHING = 2.0  # N m at the turbine, under which no gear drives


def gear_found(
    vehicles: Vehicles,
    condition: Condition,
    temperature: Array,
    wanted: Places,
    torque: Array,
    pressures: tuple[Array, Array, Flags],
) -> Places:
    """Row of the gear table that holds at each point, (n, m).

    wanted: the gear that was asked for; torque [N m] at the turbine in it; pressures: asked for and given, (n, m, E) Pa, and
    which elements the manual valve lifts past their valves, (m, E). A gear carries what its weakest element can hold for its
    share. The wanted one stays if it carries the torque, or is not far weaker than the strongest; else that takes its place,
    or none where nothing holds.
    """
    asked, given, lifted = pressures
    in_gear = vehicles.applied[wanted] > 0.0
    strange = np.where(in_gear, given < SHORT * asked, given > STRAY) & ~vehicles.is_one_way & ~lifted
    i, j = np.nonzero(strange.any(-1))
    found = wanted.copy()
    if len(i):
        carries = _carried(vehicles, condition, temperature[i, j], given[i, j], lifted[j], i)
        best, rows = carries.argmax(-1), np.arange(len(i))
        strongest, own = carries[rows, best], carries[rows, wanted[i, j]]
        stays = (own >= torque[i, j]) & (own >= OUTDONE * strongest)
        stays |= vehicles.ratio[wanted[i, j]] == 0.0
        idle = vehicles.unit.gear_index(vehicles.unit.levers["N"][0])
        found[i, j] = np.where(strongest < NOTHING, idle, np.where(stays, wanted[i, j], best))
    return found


def _carried(
    vehicles: Vehicles, condition: Condition, temperature: Array, given: Array, lifted: Flags, rows: Places
) -> Array:
    """Turbine torque [N m] that each gear can carry at a list of K points of the vehicles `rows`, (K, G)."""
    elements = given.shape[-1]
    place = np.repeat(np.arange(len(rows)), elements)
    each = Pairs(rows[place], np.tile(np.arange(elements), len(rows)), place)
    held = grip(
        vehicles,
        condition,
        vehicles.clearance(condition),
        each,
        given.ravel(),
        temperature[place],
        lifted.ravel().astype(given.dtype),
    ).reshape(given.shape)
    for column in vehicles.one_ways:
        held[:, column] = vehicles.solid(condition, column)[rows, 0]
    joint = held @ vehicles.tables.couple.astype(held.dtype)
    share = vehicles.share
    with np.errstate(divide="ignore"):
        bears = np.where(share > 0.0, joint[:, None] / np.where(share > 0.0, share, 1.0), np.inf).min(-1)
    carried: Array = np.where(vehicles.ratio != 0.0, bears, 0.0)
    return carried
