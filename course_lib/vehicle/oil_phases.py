"""What slips in either phase of the oil: while the pump draws fluid, and while it gulps air.

Only the pairs of vehicle and point that slip or gulp are worked, in one list. Where something slips the engine races, and the
pump with it: the pressure is worked anew at that speed until speed and pressure agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Places
from course_lib.vehicle.elements import Elements
from course_lib.vehicle.oil_circuits import line_balance
from course_lib.vehicle.oil_supply import OilSupply
from course_lib.vehicle.powertrain import FreeRun
from course_lib.vehicle.slipping import LEAST_ASKED, Free, Running, Train, racing_speed, running, weakest
from course_lib.vehicle.vehicle_batch import TINY

GULPS = 4e-3  # share of time with air from which it counts
AGREES = 3.0  # rad/s between the speed at which the pressure was taken and the one that follows


class Supply(NamedTuple):
    """Pressures at each point while the pump draws fluid, (n, m), and what elements hold."""

    goal: Array  # Pa
    line: Array  # Pa
    fed: Array  # Pa, of the circuits
    bears: Array  # (E, n, m) N m


@dataclass(slots=True)
class Runs:
    """How every point runs, (n, m): means over both phases, but the line pressure of each. By element (E, n, m)."""

    line: Array
    drawing: Array
    gulping: Array
    flow: Array
    speed: Array
    surplus: Array
    pull: Array
    loss: Array
    engine_power: Array
    converter_loss: Array
    power: Array
    held: Array
    bears: Array
    fed: Array


@dataclass(slots=True)
class _Listed:
    """Pressure, flow and grip worked at one engine speed, on the list (K,); bears (K, E)."""

    line: Array
    flow: Array
    bears: Array
    fed: Array  # (E, K)


class Phases:
    """Works out `Runs` of a batch at its points."""

    def __init__(self, elements: Elements, run: FreeRun, supply: Supply) -> None:
        self.vehicles, self.elements, self.supply = elements.vehicles, elements, supply
        self.free_run, self.oil = run, elements.oil
        v, p = self.vehicles, self.vehicles.p
        self.share: Array = np.moveaxis(v.share[elements.gear], -1, 0)
        joint = np.tensordot(v.tables.couple.astype(v.dtype), supply.bears, 1)
        self.shaft: Array = np.where(p.vehicle_shaft < 1.0, p.vehicle_shaft * p.engine_torque, np.inf)
        limit = np.minimum(weakest(self.share, joint).min(0), self.shaft)
        drawing = np.nonzero((run.torque > limit) & (run.torque > LEAST_ASKED))
        gulping = np.nonzero(self.oil.air > GULPS)
        self.i, self.j = (np.concatenate(pair) for pair in zip(drawing, gulping, strict=True))
        self.drawn = len(drawing[0])  # the first so many of the list draw fluid, the others gulp
        self.gulps = np.arange(len(self.i)) >= self.drawn
        self.drive = run.drive.at((self.i, self.j))
        here = (x[self.i, self.j].astype(float) for x in (run.speed, run.turbine, run.torque))
        self.free, self.train = Free(*here), self._train(run.road[self.i, self.j])

    def run(self) -> Runs:
        """The whole grid."""
        s, r = self.supply, self.free_run
        out = Runs(
            line=s.line.copy(),
            drawing=s.line.copy(),
            gulping=s.line.copy(),
            flow=self.oil.flow.copy(),
            speed=r.speed.copy(),
            surplus=np.zeros_like(r.torque),
            pull=r.torque.copy(),
            loss=np.zeros_like(r.torque),
            engine_power=r.taken * r.speed,
            converter_loss=r.taken * r.speed - r.torque * r.turbine,
            power=np.zeros_like(s.bears),
            held=self.share * r.torque,
            bears=s.bears.copy(),
            fed=self.elements.circuits.spread(s.fed, s.bears.shape),
        )
        if len(self.i):
            listed, found = self._raced(self._unraced(out.fed))
            self._fill(out, listed, found)
        return out

    # ------------------------------------------------------------------ on the list
    def _worked(self, index: Places, speed: Array | None) -> _Listed:
        """Pressure and grip at some places of the list, the pump turned at `speed` [rad/s].

        A choked suction lets no more flow through a faster pump, but no less either.
        """
        i, j, gulps = self.i[index], self.j[index], self.gulps[index]
        e, s, oil, p = self.elements, self.supply, self.oil, self.vehicles.p
        flow = oil.flow[i, j]
        if speed is not None:
            supply = OilSupply(self.vehicles)
            faster = supply.pump_flow(e.condition, speed, oil.viscosity[i, j], oil.density[i, j], i)
            flow = np.maximum(flow, faster)
        drawn = flow * (1.0 - gulps * p.sump_gulp_air[i, 0])
        some = e.among(i, j)
        valve = (p.line_droop[i, 0], p.line_nominal_flow[i, 0])
        goal, inner = (np.broadcast_to(x, s.line.shape)[i, j] for x in (s.goal, oil.inner))
        line, fed = line_balance(some, goal, drawn, inner, valve)
        bears = e.bears(some, fed, e.gear[i, j], oil.temperature[i, j], i)
        return _Listed(line, flow, bears.T.astype(float), some.spread(fed, bears.shape))

    def _unraced(self, fed: Array) -> _Listed:
        """The list at the speeds of the free engines: known from the grid but for the gulps; fed (E, n, m)."""
        i, j, s = self.i, self.j, self.supply
        listed = _Listed(s.line[i, j], self.oil.flow[i, j], s.bears[:, i, j].T.astype(float), fed[:, i, j])
        index = np.arange(self.drawn, len(i))
        if len(index):
            here = self._worked(index, None)
            _store(listed, index, here, here.bears)
        return listed

    def _train(self, road: Array) -> Train:
        """The gear train at the points of the list."""
        v, e = self.vehicles, self.elements
        solid = np.zeros((len(self.i), len(v.is_band)))
        for column in v.one_ways:
            solid[:, column] = v.solid(e.condition, column)[self.i, 0]
        return Train(v.tables, e.gear[self.i, self.j], road.astype(float), solid, self.shaft[self.i, 0])

    def _speed(self, index: Places, bears: Array) -> Array:
        """Engine speed [rad/s] at some places of the list, whose elements can hold `bears`."""
        return racing_speed(self.train.at(index), self.drive.at(index), self.free.at(index), bears)

    def _raced(self, listed: _Listed) -> tuple[_Listed, Running]:
        """The list with its pressures taken at the speeds to which the engines race, begun at those of the free engines."""
        low, low_bears = self.free.speed.copy(), listed.bears.copy()
        asked = racing_speed(self.train, self.drive, self.free, low_bears)
        low_gap = asked - low
        high, high_bears, high_gap = low.copy(), low_bears.copy(), np.zeros_like(low)
        index = np.flatnonzero(low_gap > AGREES)
        for turn in range(self.vehicles.passes):
            if not len(index):
                break
            here = self._worked(index, asked[index])
            gap = self._speed(index, here.bears) - asked[index]
            over = (gap < 0.0) | (turn == 0)
            up, down = index[over], index[~over]
            high[up], high_bears[up], high_gap[up] = asked[up], here.bears[over], gap[over]
            low[down], low_bears[down], low_gap[down] = asked[down], here.bears[~over], gap[~over]
            part = low_gap[index] / np.maximum(low_gap[index] - high_gap[index], TINY)
            part = np.clip(part, 0.0, 1.0)
            asked[index] = low[index] + part * (high[index] - low[index])
            mixed = low_bears[index] + part[:, None] * (high_bears[index] - low_bears[index])
            _store(listed, index, here, mixed)
            index = index[np.abs(gap) > AGREES]
        return listed, running(self.train, self.drive, self.free, listed.bears)

    def _fill(self, out: Runs, listed: _Listed, found: Running) -> None:
        """Write the list into the grid: what slips while the pump draws, then the gulps by their share of the time."""
        draws, gulps = slice(0, self.drawn), slice(self.drawn, None)
        i, j = self.i[draws], self.j[draws]
        same = ("speed", "surplus", "pull", "loss", "engine_power", "converter_loss")
        for name in same:
            getattr(out, name)[i, j] = getattr(found, name)[draws]
        for name in ("power", "held"):
            getattr(out, name)[:, i, j] = getattr(found, name)[draws].T
        out.line[i, j] = out.drawing[i, j] = out.gulping[i, j] = listed.line[draws]
        out.flow[i, j] = listed.flow[draws]
        out.bears[:, i, j], out.fed[:, i, j] = listed.bears[draws].T, listed.fed[:, draws]
        i, j = self.i[gulps], self.j[gulps]
        part = self.oil.air[i, j]
        out.gulping[i, j] = listed.line[gulps]
        for name in same:
            value = getattr(out, name)
            value[i, j] += part * (getattr(found, name)[gulps] - value[i, j])
        for value, other in ((out.line, listed.line), (out.flow, listed.flow)):
            value[i, j] += part * (other[gulps] - value[i, j])
        pairs = (
            (out.power, found.power.T),
            (out.held, found.held.T),
            (out.bears, listed.bears.T),
            (out.fed, listed.fed),
        )
        for value, other in pairs:
            value[:, i, j] += part * (other[:, gulps] - value[:, i, j])


def _store(listed: _Listed, index: Places, here: _Listed, bears: Array) -> None:
    """Write what was worked at some places of the list into it."""
    listed.line[index], listed.flow[index], listed.bears[index] = here.line, here.flow, bears
    listed.fed[:, index] = here.fed
