"""A lesson as data: read, its slots filled with numbers that the library works out, its parts checked against each other.

A slot is a sum in braces, `{engine_rpm / second:.0f}`, over the names of the lesson's `[facts]`. A text that is one slot
without a format is that number.
"""

from __future__ import annotations

import ast
import operator
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any

import msgspec

from course_lib.base.data_files import data_folder, read_data
from course_lib.base.guards import one_of
from course_lib.lessons import facts as calls
from course_lib.lessons.item_kinds import AnyItem
from course_lib.lessons.vehicles import LessonVehicle, read_vehicles

PASS_SHARE = 0.8
"""Share of the points of a lesson from which on it is passed: common practice of this project, no source."""

_SLOT = re.compile(r"\{([^{}:]+)(?::([^{}]*))?\}")
_SIGNS: dict[type, Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}


class Objective(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing a learner can do after the lesson. `verb` is a verb that an item can test, `text` goes on from it."""

    id: str
    verb: str
    text: str


class Misconception(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A thought that leads good people astray: what is said, what is true, and causes whose cases show it."""

    says: str
    truth: str
    causes: tuple[str, ...] = ()


class Term(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A word of the trade, explained in a sentence or two."""

    term: str
    meaning: str


class Lesson(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One lesson.

    facts: name -> number, or a call of `course_lib.lessons.facts` with its arguments. vehicles: name -> what the lesson
    shows. claims: vehicle, inspection, reading key and verdict that the words of the lesson rely on; a test holds them
    against the physics. misconceptions: those that no other lesson has. glossary: the words explained here first.
    """

    title: str
    objectives: tuple[Objective, ...]
    items: tuple[AnyItem, ...]
    read_minutes: int
    practice_minutes: int
    needs: tuple[str, ...] = ()
    facts: dict[str, Any] = {}
    vehicles: dict[str, LessonVehicle] = {}
    claims: tuple[tuple[str, str, str, str], ...] = ()
    misconceptions: dict[str, Misconception] = {}
    glossary: tuple[Term, ...] = ()

    def item(self, name: str) -> AnyItem:
        """The item `name`. Raises ValueError naming the nearest one that exists."""
        one_of("item", name, [item.id for item in self.items])
        return next(item for item in self.items if item.id == name)

    @property
    def scored(self) -> tuple[AnyItem, ...]:
        """The items that give points."""
        return tuple(item for item in self.items if item.scored)

    @property
    def must_fill(self) -> tuple[AnyItem, ...]:
        """The items of the practice that are not scored and still must be filled in."""
        return tuple(item for item in self.items if item.part == "practice" and not item.scored)

    @property
    def numbers(self) -> dict[str, int]:
        """The items of the practice -> their numbers, as the learner counts them."""
        practice = [item.id for item in self.items if item.part == "practice"]
        return {name: number for number, name in enumerate(practice, 1)}


class MisconceptionsFile(msgspec.Struct, frozen=True):
    """The data file of the misconceptions that several lessons meet."""

    misconceptions: dict[str, Misconception]


class GlossaryFile(msgspec.Struct, frozen=True):
    """The data file of the words that every lesson and case may use."""

    glossary: tuple[Term, ...]


def lesson_names() -> tuple[str, ...]:
    """The names of all lessons, in order."""
    return tuple(sorted(path.stem for path in (data_folder() / "lessons").glob("*.toml")))


@cache
def load_lesson(name: str) -> Lesson:
    """The lesson `name` ("L01"), its slots filled. Raises ValueError, with what to correct."""
    one_of("lesson", name, lesson_names())
    path = data_folder() / "lessons" / f"{name}.toml"
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
        raw["vehicles"] = read_vehicles(raw.get("vehicles", {}))
        numbers = Facts(raw.get("facts", {}), raw["vehicles"])
        lesson = msgspec.convert(fill(raw, numbers), Lesson)
    except (msgspec.ValidationError, tomllib.TOMLDecodeError, ValueError) as error:
        raise ValueError(f"lesson file {path.name} must be valid, got: {error} Correct that entry.") from None
    ids = [item.id for item in lesson.items]
    if len(ids) != len(set(ids)):
        raise ValueError(f"items of lesson {name} must have different ids, got {ids}. Rename one.")
    return lesson


@cache
def all_misconceptions() -> dict[str, Misconception]:
    """Every misconception by id: those of the data file, then those of single lessons."""
    found = dict(read_data("misconceptions", MisconceptionsFile).misconceptions)
    for name in lesson_names():
        own = load_lesson(name).misconceptions
        if twice := set(own) & set(found):
            raise ValueError(
                f"misconceptions of lesson {name} must be new, got {sorted(twice)}. Drop them there."
            )
        found |= own
    return found


class Facts(Mapping[str, float]):
    """The numbers of a lesson by name; each is worked out when it is first asked for."""

    def __init__(self, facts: dict[str, Any], vehicles: dict[str, LessonVehicle]) -> None:
        self._facts, self._vehicles = facts, vehicles
        self._known: dict[str, float] = {}

    def __getitem__(self, name: str) -> float:
        one_of("fact", name, self._facts)
        if name not in self._known:
            self._known[name] = self._work_out(self._facts[name])
        return self._known[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._facts)

    def __len__(self) -> int:
        return len(self._facts)

    def _work_out(self, given: Any) -> float:
        if isinstance(given, str):
            return work_out(given, self)
        if not isinstance(given, dict):
            return float(given)
        named = dict(given)
        call = named.pop("call", "")
        one_of("call", call, calls.CALLS)
        if "vehicle" in named:
            one_of("vehicle", named["vehicle"], self._vehicles)
            named["vehicle"] = self._vehicles[named["vehicle"]]
        return calls.CALLS[call](**named)


def fill(value: Any, numbers: Mapping[str, float]) -> Any:
    """`value`, read from a data file, with every slot in it filled. Raises ValueError for one that cannot be."""
    if isinstance(value, dict):
        return {name: fill(each, numbers) for name, each in value.items()}
    if isinstance(value, list):
        return [fill(each, numbers) for each in value]
    if not isinstance(value, str):
        return value
    alone = _SLOT.fullmatch(value)
    if alone and alone[2] is None:
        return work_out(alone[1], numbers)
    return _SLOT.sub(lambda slot: formatted_number(work_out(slot[1], numbers), slot[2]), value)


def formatted_number(number: float, form: str | None) -> str:
    """A number as a learner reads it, with a true minus sign."""
    return format(number, form or ",.0f").replace("-", "\u2212")


def work_out(text: str, numbers: Mapping[str, float]) -> float:
    """The value of a sum of numbers and names with + - * / and parentheses. Raises ValueError for anything else."""
    try:
        return _value(ast.parse(text.strip(), mode="eval").body, numbers)
    except SyntaxError:
        raise ValueError(f"slot must be a sum like {{rpm / second}}, got {text!r}.") from None


def _value(node: ast.AST, numbers: Mapping[str, float]) -> float:
    if isinstance(node, ast.BinOp) and type(node.op) in _SIGNS:
        return _SIGNS[type(node.op)](_value(node.left, numbers), _value(node.right, numbers))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -_value(node.operand, numbers)
    if isinstance(node, ast.Name):
        return numbers[node.id]
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return float(node.value)
    raise ValueError(f"slot must hold numbers, names, + - * / and parentheses, got {ast.unparse(node)!r}.")
