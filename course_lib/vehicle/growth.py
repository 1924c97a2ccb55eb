"""A change that befalls a vehicle: it sets in, grows over a distance, and may pass. The odometer is in meters here."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from course_lib.base.arrays import Array, Rows
from course_lib.vehicle.parameters import ParameterSet

FADE = 1.0  # m over which a passing event is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """A change of parameters that sets in at an odometer and grows to its full size over a distance.

    change: parameter name -> what is added at full size, shaped like the parameter; onset, over and lasts: meters, (n, 1).
    A change that lasts (an event such as one bad tow) is gone so far after its onset; otherwise it is there for good.
    """

    change: ParameterSet
    onset: Array
    over: Array
    lasts: Array = field(default_factory=lambda: np.full((1, 1), np.inf))

    def __post_init__(self) -> None:
        object.__setattr__(self, "lasts", np.broadcast_to(self.lasts, self.onset.shape))

    def share(self, odometer: Array) -> Array:
        """How much of the change is there at `odometer` (n, 1): 0 before onset, 1 when full grown, 0 when it has passed."""
        left = np.clip((self.onset + self.lasts - odometer) / FADE, 0.0, 1.0)
        return np.minimum(np.clip((odometer - self.onset) / self.over, 0.0, 1.0), left)

    def edges(self) -> tuple[Array, ...]:
        """Odometers (n, 1) at which the share of the change bends."""
        end = self.onset + self.lasts
        return self.onset, self.onset + self.over, end - FADE, end

    def rows(self, rows: Rows) -> Growth:
        """The same for some of the vehicles only."""
        change = {name: value[rows] for name, value in self.change.items()}
        return Growth(change=change, onset=self.onset[rows], over=self.over[rows], lasts=self.lasts[rows])
