"""Root causes: what each changes in a vehicle, how it sets in, and how it comes back when only its seat is renewed."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Literal

import msgspec
import numpy as np

from course_lib import units
from course_lib.datasets import read_data
from course_lib.transmission.life import Growth
from course_lib.transmission.spec import UnitSpec, element_target
from course_lib.vocabulary import one_of

SUDDEN = 1.0  # miles over which a sudden change sets in
Distance = Annotated[float, msgspec.Meta(ge=0)]


class Effect(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One parameter a cause changes, and its size when mild and when severe."""

    parameter: str
    how: Literal["set", "scale", "add"]
    mild: float
    severe: float

    def change(self, value: np.ndarray, column: int | None, severity: np.ndarray) -> np.ndarray:
        """What is added to the parameter array `value` at full growth, severity (n,) between 0 mild and 1 severe."""
        size = self.mild + (self.severe - self.mild) * severity
        size = size.reshape((-1,) + (1,) * (value.ndim - 1))
        full = {"set": size - value, "scale": value * (size - 1.0), "add": size + 0.0 * value}[self.how]
        if column is None:
            return full
        only = np.zeros_like(value)
        only[..., column] = full[..., column]
        return only


class LeftBehind(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A thing the cause leaves lying about, and the inspection at which it is seen."""

    inspection: str
    words: str


class Cause(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A root cause as data; the fields are explained at the head of datasets/causes.toml."""

    id: str
    label: str
    group: str
    effects: tuple[Effect, ...]
    sets_in_over_miles: Distance
    why: str
    cure: str
    signals: tuple[Literal["vacuum", "cable"], ...] = ("vacuum", "cable")
    seat: str = ""
    returns_after_miles: Distance = 0.0
    objects: tuple[LeftBehind, ...] = ()
    history: tuple[str, ...] = ()

    def growth(self, unit: UnitSpec, base: dict[str, np.ndarray], severity, onset) -> Growth:
        """The change this cause brings: severity (n,), onset [m] (n, 1)."""
        change: dict[str, np.ndarray] = {}
        for effect in self.effects:
            name, column = element_target(unit, effect.parameter)
            change[name] = change.get(name, 0.0) + effect.change(
                base[name], column, np.asarray(severity, float)
            )
        over = max(self.sets_in_over_miles, SUDDEN) * units.MILE
        return Growth(
            change=change, onset=np.asarray(onset, float), over=np.full_like(np.asarray(onset, float), over)
        )

    @property
    def sudden(self) -> bool:
        """Whether it sets in at once."""
        return self.sets_in_over_miles <= SUDDEN


class CausesFile(msgspec.Struct, frozen=True):
    """The data file."""

    causes: tuple[Cause, ...]


@cache
def all_causes() -> dict[str, Cause]:
    """Every cause by id, in the order of the data file."""
    return {cause.id: cause for cause in read_data("causes", CausesFile).causes}


def load_cause(name: str) -> Cause:
    """The cause `name`. Raises ValueError naming the nearest one that exists."""
    one_of("cause", name, all_causes())
    return all_causes()[name]


def cause_choices(signal: str) -> tuple[tuple[str, str], ...]:
    """(id, label) of the causes a unit with that load signal can have: the same list for every case."""
    return tuple((cause.id, cause.label) for cause in all_causes().values() if signal in cause.signals)
