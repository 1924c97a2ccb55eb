"""A batch of vehicles of one unit: their parameters, the tables of the unit, and what their parts are like in a condition.

Shapes: n vehicles, m operating points, E holding elements. Everything of one point has shape (n, m).
"""

from __future__ import annotations

from functools import cache
from typing import Self

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Rows, Values
from course_lib.physics import engine, fluid, hydraulics
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import Condition
from course_lib.vehicle.parameters import Parameters, ParameterSet
from course_lib.vehicle.unit_spec import UnitSpec, nominal_parameters

TINY = 1e-9
HOT = 353.15  # K, 80 C: temperature of the hot mark
SETTLED = 8  # passes to the racing speed, at most, where it is wanted as exactly as can be
LIP_LOST = 12.0  # leak of a swollen lip, in sound circuits
COLD_POINT, HOT_POINT = 313.15, 373.15  # K, 40 and 100 C, at which the viscosity of a fluid is stated


@cache  # of each unit, since vehicles are made anew for every step of a life
def _sound_clearance(unit: UnitSpec) -> Array:
    """Clearance [m] of the elements of a sound vehicle as the data file has it, (1, 1, E)."""
    return nominal_parameters(unit, signal=unit.signals[0])["element_clearance"]


class Vehicles:
    """n vehicles of one unit.

    p: their parameters; tables: those of the unit in double precision; applied, share, relative (G, E), ratio, before (G,) and
    takes (G, E): the same in the precision of the batch. is_band, is_one_way, backed (E,): kinds of elements, and one-way clutches
    with an applied element beside them in first. passes: how often at most the pressure is worked anew at the speed to which an
    engine behind a slipping element races.
    """

    def __init__(self, unit: UnitSpec, parameters: ParameterSet, passes: int = SETTLED) -> None:
        self.unit, self.passes = unit, passes
        self.p = Parameters.of(parameters)
        self.dtype = self.p.pump_displacement.dtype
        self.tables = tables = gear_tables(unit)
        self.applied: Array = tables.applied.astype(self.dtype)
        self.share: Array = tables.share.astype(self.dtype)
        self.relative: Array = tables.relative.astype(self.dtype)
        self.ratio: Array = tables.ratio.astype(self.dtype)
        self.before: Array = tables.before.astype(self.dtype)
        self.takes: Array = tables.takes.astype(self.dtype)
        self.partners = tables.partners
        kinds = np.array([element.kind for element in unit.elements])
        self.is_band: Flags = kinds == "band"
        self.is_one_way: Flags = kinds == "one-way"
        self.one_ways = [int(i) for i in np.flatnonzero(self.is_one_way)]
        # towed with the engine off, the output turns and the input stands: what couples to the input has nothing to do
        self.towed: Flags = np.array([unit.input not in element.couples for element in unit.elements])
        self.sound_clearance: Array = _sound_clearance(unit).astype(self.dtype)
        first, reverse = (self.applied[unit.gear_index(unit.levers[lever][0])] for lever in "DR")
        self.rocked: Array = np.maximum(first, reverse)
        self.backed: Flags = np.zeros(len(kinds), bool)
        for one, other in self.partners:
            self.backed[one] |= bool(self.is_one_way[one] and first[other] > 0)
        self.lockup_gears: Flags = np.array([gear in unit.lockup_gears for gear in unit.gears])
        points = self.p.fluid_viscosity_40c, COLD_POINT, self.p.fluid_viscosity_100c, HOT_POINT
        a, b = fluid.walther_coefficients(*points)
        self._walther: tuple[Array, Array] = (a.astype(self.dtype), b.astype(self.dtype))
        self.hot_viscosity = fluid.kinematic_viscosity(HOT, *self._walther)

    def rows(self, rows: Rows) -> Self:
        """Some of the vehicles."""
        return type(self)(self.unit, self.p.rows(rows).by_name(), self.passes)

    def viscosity(self, condition: Condition, temperature: Values) -> tuple[Array, Array]:
        """Kinematic [m2/s] and dynamic [Pa s] viscosity of the fluid in its present age; worn out, it gets no thicker."""
        aged = 1.0 + self.p.fluid_oxidation_thickening * np.minimum(condition.oxidation, 1.0)
        kinematic = fluid.kinematic_viscosity(temperature, *self._walther) * aged
        return kinematic, kinematic * fluid.density(temperature, self.p.fluid_density_15c)

    def thickness(self, condition: Condition, temperature: Array) -> Array:
        """Viscosity of the fluid against that of new fluid when hot."""
        return self.viscosity(condition, temperature)[0] / self.hot_viscosity

    def exhaust(self, speed: Values, throttle: Values) -> Array:
        """Back pressure [Pa] in the exhaust."""
        return engine.exhaust_back_pressure(speed, throttle, self.p.engine_exhaust)

    # ------------------------------------------------------------------ elements and their circuits
    def seal_hardness(self, condition: Condition) -> Array:
        """Hardness of each piston lip, (n, 1, E): 0 supple, 1 hard; below 0 swollen and soft."""
        hard: Array = np.minimum(condition.seal + self.p.element_seal_set, 1.0)
        return hard - self.p.fluid_swell[..., None]

    def leak_factor(
        self, condition: Condition, lip_states: tuple[Values, Values], viscosity: Array, column: int | Places
    ) -> Array:
        """Leak of circuits against sound ones at that temperature: rings on worn bushings, the lip; (n, m).

        column: one element, or one for each of the m.

        lip_states: `hydraulics.lip_states` of the temperature.
        """
        p = self.p
        hardness = self.seal_hardness(condition)[:, 0].take(np.atleast_1d(column), -1)
        hot, cold = lip_states
        lip = hydraulics.lip_leak(
            np.maximum(hardness, 0.0), hot, cold, viscosity, p.line_seal_leak, p.line_lip_lift
        )
        torn = LIP_LOST * np.maximum(-hardness, 0.0) ** 2
        factor: Array = (lip + torn) * (1.0 + p.line_bushing_leak * condition.bushing)
        return factor

    def solid(self, condition: Condition, column: int) -> Array:
        """Torque [N m] a one-way clutch bears, (n, 1): nothing when fitted backwards."""
        p = self.p
        sound = 1.0 - condition.holding[..., column]
        bears: Array = p.element_holding_torque[..., column] * sound
        return bears * (1.0 - p.element_reversed[..., column])

    def clearance(self, condition: Condition) -> Array:
        """Running clearance of each element [m]: set-up, lining gone, and steels worn and coned (n, 1, E)."""
        p = self.p
        travel = np.where(self.is_band, p.element_wrap, p.element_faces)
        coned = p.wear_steel_warp[..., None] * condition.char * ~self.is_band
        room: Array = p.element_clearance + condition.lining * travel + coned
        return room
