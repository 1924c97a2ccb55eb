"""Where lives ended, and the log of what happened on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Flags
from course_lib.vehicle.first_noticed import Noticed
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life_lanes import Lanes, Trial
from course_lib.vehicle.operating_point import Condition, Workings, unpacked
from course_lib.vehicle.plant import Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class Lives:
    """Where a batch of lives ended. n lives: those of the drivers of one vehicle stand next to each other.

    condition; odometer (n,) m; complained (n,) bool, else the horizon was reached; felt name -> (n,), how strongly each trouble
    is felt; events: for each life, event name -> odometer [m] of its first crossing. Condition, sump (n, m) K and what is felt
    are those of one moment: of the last evaluation. noticed (2, n) m: where its driver first
    felt it, and where it was loud; see `Noticed`.
    """

    condition: Condition
    sump: Array
    odometer: Array
    complained: Flags
    felt: dict[str, Array]
    events: tuple[dict[str, float], ...]
    noticed: Array


Events = Callable[[Plant, Condition, Workings], dict[str, Flags]]


class LifeLog:
    """Collects the lives as they end."""

    def __init__(self, lanes: Lanes) -> None:
        self.drivers = lanes.task.drivers.shape[1]
        count = len(lanes) * self.drivers
        self.state = np.repeat(lanes.here.state, self.drivers, axis=0)
        self.memory = lanes.here.memory.keep(np.repeat(np.arange(len(lanes)), self.drivers))
        self.sump = np.repeat(lanes.sump.here, self.drivers, axis=0)
        self.odometer, self.complained = np.zeros(count), np.zeros(count, bool)
        self.felt: dict[str, Array] = {}
        self.when: dict[str, Array] = {}  # event -> odometer of its first crossing; infinite: never
        self.noticed = Noticed(lanes.here.odometer, self.drivers)

    def note(
        self, fleet: Fleet, lanes: Lanes, trial: Trial, taken: Flags, heard: Flags, events: Events | None
    ) -> None:
        """Store what has ended, and the first crossing of every event for the lanes that moved on."""
        lane, driver = np.nonzero(heard)
        life = lanes.task.row[lane] * self.drivers + driver
        self.state[life], self.odometer[life] = trial.judged[lane], trial.ahead[lane, 0]
        self.memory.put(life, trial.remembers.arriving.keep(lane))
        self.sump[life] = trial.work.temperature[lane]
        self.complained[life] = trial.heard_by(lanes.task.drivers)[lane, driver]
        for name, value in trial.strength.items():
            self.felt.setdefault(name, np.zeros(len(self.odometer)))[life] = value[lane, 0]
        on = taken[:, 0]
        self.noticed.note(lanes.task.row[on], lanes.task.drivers[on], trial.ahead[on], trial.worst[on])
        if events is None:
            return
        condition = unpacked(trial.judged, trial.remembers.memory)
        for name, happened in events(fleet.plant(trial.ahead), condition, trial.work).items():
            when = self.when.setdefault(name, np.full(len(self.odometer) // self.drivers, np.inf))
            now = happened & taken[:, 0]
            when[lanes.task.row[now]] = np.minimum(when[lanes.task.row[now]], trial.ahead[now, 0])

    def lives(self) -> Lives:
        """All of them."""
        logs: tuple[dict[str, float], ...] = tuple({} for _ in self.odometer)
        for name, when in self.when.items():
            at = np.repeat(when, self.drivers)
            for life in np.flatnonzero(at <= self.odometer):
                logs[life][name] = float(at[life])
        return Lives(
            condition=unpacked(self.state, self.memory),
            sump=self.sump,
            odometer=self.odometer,
            complained=self.complained,
            felt=self.felt,
            events=logs,
            noticed=self.noticed.by(self.odometer),
        )
