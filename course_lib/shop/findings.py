"""What an inspection is, and what it gives: readings with unit, spec and uncertainty, and words."""

from __future__ import annotations

from collections.abc import Collection
from functools import cache
from typing import Annotated, Literal

import msgspec

from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of

OPENS = 4  # openness from which on the unit is opened
Openness = Annotated[int, msgspec.Meta(ge=1, le=5)]
KindOfControl = Literal["hydraulic", "electronic"]
BOTH: tuple[KindOfControl, ...] = ("hydraulic", "electronic")
NARROW = "\u202f"  # stands between a number and its unit, so that they never part at a line's end


class InspectionRefused(ValueError):
    """An inspection that may not be made now. Nothing is spent; the message says why and what to do first."""


class Inspection(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One step a workshop can take. openness: 1 talk, 2 look, 3 measure, 4 open the pan, 5 open the unit.

    drive_minutes: how many of the minutes are driven, left out where the vehicle is not; needs: what must have been made
    before; gone_after: the inspection after which this one can never be made; sump: how warm the sump is meanwhile; sound: what
    is said when nothing else is worth a word; stays: also beside things that lie about. controls: the kinds of control it is
    for; instead: what takes its place where the control is of the other kind; first_round: made of every vehicle before
    anything is measured.
    """

    id: str
    title: str
    openness: Openness
    minutes: Annotated[int, msgspec.Meta(gt=0)]
    risk: str
    caution: str
    tells: str
    drive_minutes: Annotated[int, msgspec.Meta(ge=0)] = 0
    needs: tuple[str, ...] = ()
    gone_after: str = ""
    sump: Literal["", "hot", "cold", "as driven"] = ""
    sound: str = ""
    stays: bool = False
    controls: tuple[KindOfControl, ...] = BOTH
    instead: str = ""
    first_round: bool = False


class RefusedAct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A way of finding out that a bench refuses whenever it is asked for, and why. Nothing is spent on it.

    minutes, tells: what it would take and what one might hope to learn, so that a list does not give it away.
    """

    id: str
    title: str
    openness: Openness
    minutes: Annotated[int, msgspec.Meta(gt=0)]
    tells: str
    controls: tuple[KindOfControl, ...]
    reason: str


class InspectionsFile(msgspec.Struct, frozen=True):
    """The data file."""

    inspections: tuple[Inspection, ...]
    refused: tuple[RefusedAct, ...]


@cache
def all_inspections() -> dict[str, Inspection]:
    """Every inspection by id, cheapest way in first."""
    return {each.id: each for each in read_data("inspections", InspectionsFile).inspections}


@cache
def refused_acts() -> dict[str, RefusedAct]:
    """Everything by id that is refused whenever it is asked for."""
    return {each.id: each for each in read_data("inspections", InspectionsFile).refused}


def inspections_for(control: KindOfControl) -> tuple[str, ...]:
    """Ids of the inspections of vehicles with that kind of control, in the order of the data file."""
    return tuple(each.id for each in all_inspections().values() if control in each.controls)


def in_place_of(need: str, offered: Collection[str]) -> str:
    """The inspection itself where a vehicle offers it, else what takes its place there."""
    return need if need in offered else load_inspection(need).instead or need


def offered_inspections(names: Collection[str]) -> dict[str, Inspection]:
    """The inspections that one vehicle offers, by id, each with what must come before it among them."""
    return {
        each.id: msgspec.structs.replace(each, needs=tuple(in_place_of(need, names) for need in each.needs))
        for each in all_inspections().values()
        if each.id in names
    }


def title_of(name: str) -> str:
    """What an inspection or a refused act is called; the name itself where it is neither."""
    known: dict[str, Inspection | RefusedAct] = {**all_inspections(), **refused_acts()}
    return known[name].title if name in known else name


def load_inspection(name: str) -> Inspection:
    """The inspection `name`. Raises ValueError naming the nearest one that exists."""
    if name not in all_inspections():
        one_of("inspection", name, all_inspections())
    return all_inspections()[name]


HEADINGS = ("what", "found", "spec", "result")  # of a table of readings, wherever one stands
OUTSIDE = ("below spec", "above spec")  # verdicts
Spec = tuple[float | None, float | None]  # low and high, None: open on that side


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """One number as the instrument shows it, in workshop units.

    value None = could not be read, and note says why. spec (low, high), None = no spec. sigma: one standard deviation of the
    instrument. swing: both ends when the needle does not stand still. past_range: the instrument shows no number, only what note
    says; left out of a file where it does.
    """

    key: str
    label: str
    value: float | None
    unit: str
    spec: Spec | None
    sigma: float
    swing: tuple[float, float] | None = None
    decimals: int = 0
    note: str = ""
    past_range: bool | msgspec.UnsetType = msgspec.UNSET

    @property
    def verdict(self) -> str:
        """Against spec, as rounded on the instrument: "within spec", "below spec", "above spec", "noted" or "not read"."""
        if self.value is None:
            return "not read"
        if self.spec is None:
            return "noted"
        return {-1: "below spec", 0: "within spec", 1: "above spec"}[
            (self.deviation > 0) - (self.deviation < 0)
        ]

    @property
    def deviation(self) -> float:
        """How far outside spec, signed; 0 inside, or when there is nothing to compare."""
        if self.value is None or self.spec is None:
            return 0.0
        low, high = self.spec
        shown = round(self.value, self.decimals)
        if low is not None and shown < low:
            return shown - low
        return shown - high if high is not None and shown > high else 0.0

    def show(self, number: float) -> str:
        """A number of this reading with its decimals and a true minus sign."""
        text = f"{number + 0.0:,.{self.decimals}f}"
        zero = f"{0.0:.{self.decimals}f}"
        return text.replace("-", "" if text[1:] == zero else "\u2212")

    def with_unit(self, text: str) -> str:
        """`text` followed by the unit."""
        return f"{text}{NARROW}{self.unit}" if self.unit else text

    @property
    def found_text(self) -> str:
        """The reading in words: "48 psi (swinging 40 to 56)"."""
        if self.value is None or self.past_range:
            return self.note or "not read"
        text = self.with_unit(self.show(self.value))
        if self.swing is not None:
            text += f" (swinging {self.show(self.swing[0])} to {self.show(self.swing[1])})"
        return f"{text}, {self.note}" if self.note else text

    @property
    def result_text(self) -> str:
        """The verdict with its size: "14 psi below spec"; a value that has no spec, or was not read, is only that."""
        floor = (
            self.spec is not None and self.spec[1] is None
        )  # insulation: by how much it is short of it says nothing
        if self.verdict not in OUTSIDE or self.past_range or floor:
            return self.verdict
        return f"{self.with_unit(self.show(abs(self.deviation)))} {self.verdict}"

    @property
    def spec_text(self) -> str:
        """The spec in words: "62 to 72 psi"."""
        return spec_text(self.spec, self.unit, self.decimals)


def spec_text(spec: Spec | None, unit: str, decimals: int) -> str:
    """A spec range in words."""
    if spec is None:
        return "\u2013"
    shown = Reading(key="", label="", value=None, unit=unit, spec=None, sigma=0.0, decimals=decimals)
    low, high = (None if end is None else shown.show(end) for end in spec)
    if low is None:
        return shown.with_unit(f"up to {high}")
    if low == high:
        return shown.with_unit(low)
    return shown.with_unit(f"{low} or more" if high is None else f"{low} to {high}")


class Look(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing looked at: its step on a scale of words, 0 least, and how it is said; of: the circuit that it is seen in."""

    key: str
    grade: int
    text: str
    of: str = ""


class Trace(msgspec.Struct, frozen=True, kw_only=True):
    """What an instrument drew: `values` in `unit` at `times` [s], as many; kept, so that a picture needs no vehicle.

    at: how it was taken, the same for all that belong on one picture.
    """

    key: str
    label: str
    unit: str
    times: tuple[float, ...]
    values: tuple[float, ...]
    at: str = ""


class Paper(msgspec.Struct, frozen=True, kw_only=True):
    """A table of a manual: its title, the heads of its columns, and rows of as many cells, the first of which names the row."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """What one inspection gave. made_at_f: sump temperature in degrees Fahrenheit at which it was made.

    looks: what was seen, heard and felt, graded; words: the same in sentences, and what lay about. drawn: what instruments drew,
    and papers, what was read in them: left out of a file where there is nothing.
    """

    inspection: str
    title: str
    minutes: int
    made_at_f: float | None
    readings: tuple[Reading, ...]
    words: tuple[str, ...]
    looks: tuple[Look, ...] = ()
    drawn: tuple[Trace, ...] | msgspec.UnsetType = msgspec.UNSET
    papers: tuple[Paper, ...] | msgspec.UnsetType = msgspec.UNSET

    @property
    def traces(self) -> tuple[Trace, ...]:
        """What instruments drew."""
        return self.drawn or ()
