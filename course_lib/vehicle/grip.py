"""What pressed elements hold: force of the piston, friction of the lining, and what damage leaves of both."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array
from course_lib.physics import friction
from course_lib.physics.smooth import smooth_step
from course_lib.vehicle.oil_circuits import Pairs
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.vehicle_batch import Vehicles

BARE_SLIDES = 0.52  # share of its grip gone with the last of its lining: iron on steel in oil, 0.06 (Shigley; from memory)
PAPER_LIFTS = 0.35  # share of its grip that a facing soaked off its plate has lost
LUGS_LEFT, LUGS_GONE = 0.8, 0.98  # damage of drum and lugs from which they let go, and have let go


def grip(
    vehicles: Vehicles,
    condition: Condition,
    clearances: Array,
    each: Pairs,
    pressure: Array,
    temperature: Array,
    reverse: Array,
) -> Array:
    """Torque [N m] that elements hold at a pressure.

    clearances (n, 1, E) m; of each pair: pressure [Pa], temperature [K], and reverse, 1 where the second piston area joins.
    """
    p, clearance, stroke = vehicles.p, each.own(clearances), each.own(vehicles.p.element_stroke)
    area = each.own(p.element_piston_area) + each.own(p.element_reverse_area) * reverse
    force = pressure * area - each.own(p.element_spring_force) * (1.0 + 0.5 * clearance / stroke)
    force = np.maximum(force, 0.0) * (1.0 - smooth_step(clearance, 0.90 * stroke, stroke))
    force = force * each.own(p.element_backing)
    base = each.plain(p.wear_friction * p.wear_fluid_friction)
    base = base * (1.0 - PAPER_LIFTS * each.own(condition.soaked))
    lost, lining = each.own(condition.lining), each.own(p.element_lining)
    base = base * (1.0 - BARE_SLIDES * smooth_step(lost, 0.9 * lining, lining))
    plain = (each.plain(value) for value in (p.fluid_water, condition.oxidation))
    glaze = each.own(condition.char)
    mu = friction.friction_coefficient(base, temperature, glaze, *plain)
    radius, is_band = each.own(p.element_radius), vehicles.is_band[each.column]
    plates = friction.clutch_torque_capacity(force, mu, radius, each.own(p.element_faces))
    band = (x[..., is_band] for x in (force, mu, radius, each.own(p.element_wrap)))
    plates[..., is_band] = friction.band_torque_capacity(*band)
    plates = plates * (1.0 - smooth_step(each.own(condition.holding), LUGS_LEFT, LUGS_GONE))
    return np.minimum(plates, each.own(p.element_splines))
