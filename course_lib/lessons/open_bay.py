"""The open bay: vehicles without end, and a memory of what to practice next.

Every vehicle that was begun lies in a folder, case and sealed key. The memory is nothing but those vehicles and what was handed in
on them, so it can neither be lost apart from them nor disagree with them.
"""

from __future__ import annotations

import secrets
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from course_lib.assessment.marking import Outcome, mark
from course_lib.assessment.record import load_record
from course_lib.base.guards import one_of
from course_lib.cases.case import NO_SEED, Case, altered
from course_lib.cases.case_file import load_case, save_case
from course_lib.cases.key import Key
from course_lib.cases.key_file import load_key, save_key
from course_lib.cases.make import make_case
from course_lib.faults.causes import Cause, causes_of, load_cause
from course_lib.faults.measures import known_units
from course_lib.lessons.misconceptions import misconception_behind, shared_misconceptions
from course_lib.lessons.syllabus import DIFFICULTIES, lesson_of
from course_lib.vehicle.unit_spec import load_unit

REMEMBERED = 40  # vehicles, the latest ones
LATEST = 3  # of a family, by which it is judged
MISSED, UNTRIED = 2.0, 1.0  # what each adds to the weight of a family
THOUGHT = 2.0  # by which the weight of a cause is multiplied that shows why a thought was wrong
ELSEWHERE = 0.4  # share of the vehicles that come from outside the family or lesson asked for: a list of one is no diagnosis
TRIES = 4  # vehicles made to meet a difficulty; then the nearest is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One vehicle that was worked: how the first answer came out (None: not handed in), its families, and the thoughts behind wrong
    causes."""

    name: str
    families: tuple[str, ...]
    outcome: Outcome | None
    thoughts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeRequest:
    """What the learner asks for. family: a group of causes; lesson: its number; difficulty: of DIFFICULTIES; unit: the name of
    a transmission. None: as it comes."""

    family: str | None = None
    lesson: int | None = None
    difficulty: str = "any"
    unit: str | None = None

    def __post_init__(self) -> None:
        if self.family is not None:
            one_of("family", self.family, cause_families())
        if self.lesson is not None:
            lesson_of(self.lesson)
        one_of("difficulty", self.difficulty, DIFFICULTIES)
        if self.unit is not None:
            one_of("unit", self.unit, {unit for unit, _ in vehicle_kinds()})


@cache
def vehicle_kinds() -> tuple[tuple[str, str], ...]:
    """(unit, load signal) of every kind of vehicle there is, simplest unit first."""
    units = sorted(known_units(), key=lambda unit: len(unit.gears))
    return tuple((unit.name, signal) for unit in units for signal in unit.signals)


def bay_units() -> dict[str, str]:
    """Name of each unit -> what people call it, simplest first."""
    return {unit: load_unit(unit).title for unit, _ in vehicle_kinds()}


def cause_families() -> tuple[str, ...]:
    """The groups of causes."""
    return tuple(
        dict.fromkeys(
            cause.group for unit, signal in vehicle_kinds() for cause in causes_of(load_unit(unit), signal)
        )
    )


class Bay:
    """The vehicles of one learner. folder: where records lie; the vehicles lie in "open-bay" beside them."""

    def __init__(self, folder: str | Path = "answers") -> None:
        self.records = Path(folder)
        self.folder = self.records / "open-bay"

    def visits(self) -> list[Visit]:
        """The latest vehicles, oldest first; one that cannot be read any more is passed over."""
        paths = sorted(self.folder.glob("*.key"), key=lambda path: path.stat().st_mtime)
        found = [self._visit(path.stem) for path in paths[-REMEMBERED:]]
        return [visit for visit in found if visit is not None]

    def _visit(self, name: str) -> Visit | None:
        try:
            key = load_key(name, self.folder)
        except (OSError, ValueError):
            return None
        record = load_record(name, self.records)
        handed = [kept.answer for kept in record.history if kept.kind == "handed in"]
        first = handed[0] if handed else record.handed_in
        thoughts = [misconception_behind(cause, key.causes) for cause in (first.causes if first else ())]
        return Visit(
            name=name,
            families=tuple(dict.fromkeys(load_cause(cause).group for cause in key.causes)),
            outcome=mark(first, key).outcome if first else None,
            thoughts=tuple(thought for thought in thoughts if thought),
        )

    def weights(self) -> dict[str, float]:
        """How often each family comes up, against the others: 1, more where it was missed lately or not met yet."""
        met: dict[str, list[bool]] = {family: [] for family in cause_families()}
        for visit in self.visits():
            if visit.outcome is not None:
                for family in visit.families:
                    met[family].append(visit.outcome is not Outcome.PART_AND_CAUSE)
        return {
            family: 1.0 + (MISSED * sum(missed[-LATEST:]) if missed else UNTRIED)
            for family, missed in met.items()
        }

    def thoughts(self) -> list[tuple[str, int]]:
        """Misconceptions that have led astray, commonest first, with how often."""
        return Counter(thought for visit in self.visits() for thought in visit.thoughts).most_common()

    def plan(self) -> tuple[str, ...]:
        """How the next vehicle is chosen, in plain words, and nothing about which one it will be."""
        weights, thoughts = self.weights(), self.thoughts()
        tried = [visit for visit in self.visits() if visit.outcome is not None]
        right = sum(visit.outcome is Outcome.PART_AND_CAUSE for visit in tried)
        lines = [f"Vehicles handed in here: {len(tried)}; part and cause right at the first try: {right}."]
        missed = [family for family, weight in weights.items() if weight > 1.0 + UNTRIED]
        if missed:
            lines.append(
                f"These come up more often, because you missed one of your last three there: {', '.join(missed)}."
            )
        if thoughts:
            say = "; ".join(
                f"\u201c{shared_misconceptions()[thought].says}\u201d" for thought, _ in thoughts[:3]
            )
            lines.append(
                f"Thoughts that have led you astray, so vehicles that show why come up more often: {say}"
            )
        lines.append(
            "Families you have not met yet come up a little more often. Every other one can come at any time."
        )
        return tuple(lines)

    def next(self, wish: PracticeRequest | None = None) -> tuple[Case, Key]:
        """A new vehicle that fits the wish as nearly as may be, kept in the folder."""
        wish = wish or PracticeRequest()
        rng = np.random.default_rng(secrets.randbits(64))
        made = [self._made(wish, rng)]
        while len(made) < TRIES and _off(made[-1][1], wish):
            made.append(self._made(wish, rng))
        case, key = min(made, key=lambda each: _off(each[1], wish))
        self.folder.mkdir(parents=True, exist_ok=True)
        save_key(key, self.folder / f"{case.id}.key")
        save_case(altered(case, seed=NO_SEED), self.folder / f"{case.id}.json")
        return self.open(case.id)

    def open(self, name: str) -> tuple[Case, Key]:
        """A vehicle of the folder. Raises FileNotFoundError when there is none of that name."""
        return load_case(self.folder / f"{name}.json"), load_key(name, self.folder)

    def unfinished(self) -> str | None:
        """The latest vehicle that has not been handed in, if any."""
        return next((visit.name for visit in reversed(self.visits()) if visit.outcome is None), None)

    def _made(self, wish: PracticeRequest, rng: np.random.Generator) -> tuple[Case, Key]:
        """One vehicle by weight; a cause that cannot be made as asked gives way to the next."""
        refusal = ValueError("nothing was tried")
        for _ in range(TRIES):
            unit, signal = _kind(wish, rng)
            cause = self._cause(wish, causes_of(load_unit(unit), signal), rng)
            name = f"bay-{rng.integers(10**9):09d}"
            try:
                return make_case(
                    seed=int(rng.integers(2**31)), unit=unit, signal=signal, cause=cause, name=name
                )
            except ValueError as error:
                refusal = error
        raise refusal

    def _cause(self, wish: PracticeRequest, possible: tuple[Cause, ...], rng: np.random.Generator) -> str:
        weights, thoughts = self.weights(), dict(self.thoughts())
        shown = {cause for thought in thoughts for cause in shared_misconceptions()[thought].causes}
        share = np.array([
            cause.weight * weights[cause.group] * (THOUGHT if cause.id in shown else 1.0) for cause in possible
        ])  # fmt: skip
        inside = np.array([_inside(cause, wish) for cause in possible])
        if inside.any() and not inside.all():
            keep = inside if rng.random() > ELSEWHERE else ~inside
            share = share * keep
        return str(rng.choice([cause.id for cause in possible], p=share / share.sum()))


def not_to_be_had(wish: PracticeRequest) -> str:
    """That no vehicle with the unit asked for can have what is asked for, in one sentence; "" where one can."""
    if any(_can_have(kind, wish) for kind in _kinds(wish)):
        return ""
    asked = " and ".join(name for name in ("family", "lesson") if getattr(wish, name))
    return f"The {bay_units()[wish.unit or '']} has no cause of this {asked}, so a vehicle comes as it comes."


def _kinds(wish: PracticeRequest) -> list[tuple[str, str]]:
    return [kind for kind in vehicle_kinds() if wish.unit in (None, kind[0])]


def _can_have(kind: tuple[str, str], wish: PracticeRequest) -> bool:
    return any(_inside(each, wish) for each in causes_of(load_unit(kind[0]), kind[1]))


def _kind(wish: PracticeRequest, rng: np.random.Generator) -> tuple[str, str]:
    """Unit and load signal of the next vehicle: of those that can have what is asked for, where any can."""
    kinds = _kinds(wish)
    fit = [kind for kind in kinds if _can_have(kind, wish)]
    return (fit or kinds)[rng.integers(len(fit or kinds))]


def _inside(cause: Cause, wish: PracticeRequest) -> bool:
    """Whether a cause is of the family and lesson asked for."""
    taught = lesson_of(wish.lesson).causes if wish.lesson else ()
    return (wish.family is None or wish.family in (cause.group, cause.also_group)) and (
        not taught or cause.id in taught
    )


def _off(key: Key, wish: PracticeRequest) -> float:
    """Minutes by which a vehicle misses the difficulty asked for."""
    if key.certificate is None:
        return 0.0
    low, high = DIFFICULTIES[wish.difficulty]
    return float(max(low - key.certificate.minutes, key.certificate.minutes - high, 0.0))
