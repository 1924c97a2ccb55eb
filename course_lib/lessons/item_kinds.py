"""The kinds of things a lesson asks, and how an answer to each is judged.

An answer is one short text: "B" for a choice, "ACD" for several, "105 psi" for a number, the letters of the cards in order for
a chain, one small letter for each row of a match, or a sentence. Letters are those of the lesson file; see `dealing`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from itertools import pairwise
from string import ascii_lowercase, ascii_uppercase
from typing import Any, ClassVar, Literal

import msgspec

from course_lib.base import units
from course_lib.lessons.item_layout import Layout

TRIES = 2
"""How often a scored item may be answered; the second try earns half of what it adds."""

_NUMBER = re.compile(r"\s*([-+\u2212]?[\d,]*\.?\d+)\s*(.*?)\s*", re.DOTALL)


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """An answer judged: share of the points 0..1, what is said to it, and the ids of the thoughts behind its slips."""

    share: float
    replies: tuple[str, ...] = ()
    thinking: tuple[str, ...] = ()

    @property
    def right(self) -> bool:
        """Whether nothing is left to put right."""
        return self.share >= 1.0


class Option(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing to choose. `thinking` is the id of the misconception that makes a wrong one tempting."""

    text: str
    reply: str
    right: bool = False
    thinking: str = ""


class Span(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Numbers from `low` to `high`, ends included, that come from one slip, and the reply to it."""

    low: float
    high: float
    reply: str
    thinking: str = "slip"


class Swap(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A wrong order: card `first` stands before card `later` (counted from 1 in the right order)."""

    first: int
    later: int
    reply: str
    thinking: str = "slip"


class WrongPairs(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Wrong matches, each "row-answer" counted from 1 in the order of the file, and the reply to all of them."""

    pairs: tuple[str, ...]
    reply: str
    thinking: str = "slip"


class ShownFinding(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An inspection of one of the lesson's vehicles, cut down to some reading keys (all of them if none is named)."""

    vehicle: str
    inspection: str
    keys: tuple[str, ...] = ()


class Item(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind"):
    """What every item has, whatever its kind.

    part: where it stands. objectives: ids of what it serves. table: rows of given facts, the first one the heads.
    finding: what an inspection of a vehicle of the lesson gave, shown without a verdict.
    sound: the story ends in "nothing is wrong inside the transmission". hint: a direction, without a number.
    right: said to a right answer. worked: the worked answer, open when the tries are used up.
    """

    id: str
    stem: str
    part: Literal["memory", "lesson", "warm-up", "practice"] = "practice"
    objectives: tuple[str, ...] = ()
    difficulty: Literal["", "easy", "medium", "hard"] = ""
    minutes: float = 1.0
    table: tuple[tuple[str, ...], ...] = ()
    finding: ShownFinding | None = None
    sound: bool = False
    hint: str = ""
    right: str = ""
    worked: str = ""

    marked: ClassVar[bool] = True
    """Whether an answer can be right or wrong at all."""
    tries: ClassVar[int] = TRIES
    """How often it may be answered."""

    @property
    def scored(self) -> bool:
        """Whether points are given for it."""
        return self.marked and self.part == "practice"

    @property
    def dealt(self) -> int:
        """How many things are laid out for the learner in an order that is drawn; 0 for none."""
        return 0

    def shown(self, deal: Layout, /) -> dict[str, Any]:
        """What a page needs to ask for the answer, laid out as dealt; it holds nothing of the key."""
        raise NotImplementedError

    def read(self, given: str) -> Any:
        """The answer in `given`. Raises ValueError, with what to do, for one that cannot be read."""
        raise NotImplementedError

    def judge(self, given: str) -> Judged:
        """Judge an answer."""
        raise NotImplementedError

    def solution(self) -> str:
        """An answer that is right in all."""
        raise NotImplementedError

    def said(self, given: str) -> str:
        """The answer in words, for the learner; letters are marked, as in all texts of a lesson."""
        return given


class OneOf(Item, frozen=True, kw_only=True):
    """One of three or four options; what is common to a choice and a prediction."""

    options: tuple[Option, ...]

    def shown(self, deal: Layout, /) -> dict[str, Any]:
        """The options, lettered."""
        return {"options": deal.lettered([option.text for option in self.options])}

    def read(self, given: str) -> int:
        """Place of the option whose letter is given."""
        return _places(given, len(self.options), "one letter", 1)[0]

    def said(self, given: str) -> str:
        """The letter and the words of the option."""
        at = self.read(given)
        return f"[{ascii_uppercase[at]}]. {self.options[at].text}"


class Choice(OneOf, tag="choice", frozen=True, kw_only=True):
    """A choice of which one option is right."""

    @property
    def dealt(self) -> int:
        """Every option."""
        return len(self.options)

    def judge(self, given: str) -> Judged:
        """Right or not, with the reply of the option."""
        option = self.options[self.read(given)]
        return Judged(share=float(option.right), replies=(option.reply,), thinking=_thoughts([option]))

    def solution(self) -> str:
        """The letter of the right option."""
        return "".join(ascii_uppercase[n] for n, option in enumerate(self.options) if option.right)


class Several(Item, tag="several", frozen=True, kw_only=True):
    """All that apply; one point for each option handled rightly. `missed` is said when a right one was left out."""

    options: tuple[Option, ...]
    missed: str

    @property
    def dealt(self) -> int:
        """Every option."""
        return len(self.options)

    def shown(self, deal: Layout, /) -> dict[str, Any]:
        """The options, lettered."""
        return {"options": deal.lettered([option.text for option in self.options])}

    def read(self, given: str) -> tuple[int, ...]:
        """Places of the options whose letters are given, in order."""
        return tuple(sorted(_places(given, len(self.options), "letters", None)))

    def judge(self, given: str) -> Judged:
        """The share of options handled rightly; a reply to each wrong tick, by its letter, and one if something was missed."""
        ticked = self.read(given)
        if ticked == self.read(self.solution()):
            return Judged(share=1.0, replies=(self.right,))
        wrong = [option for n, option in enumerate(self.options) if option.right != (n in ticked)]
        share = 1.0 - len(wrong) / len(self.options)
        replies = [
            f"[{ascii_uppercase[n]}]: {self.options[n].reply}" for n in ticked if not self.options[n].right
        ]
        replies += [self.missed] if any(option.right for option in wrong) else []
        return Judged(share=share, replies=tuple(replies), thinking=_thoughts(wrong))

    def solution(self) -> str:
        """The letters of the right options."""
        return "".join(ascii_uppercase[n] for n, option in enumerate(self.options) if option.right)

    def said(self, given: str) -> str:
        """The letters, one by one."""
        return f"[{', '.join(ascii_uppercase[n] for n in self.read(given))}]"


class Number(Item, tag="number", frozen=True, kw_only=True):
    """A number with a unit ("" for a ratio). Right from `low` to `high`; `at` is what the worked answer finds."""

    unit: str
    at: float
    low: float
    high: float
    slips: tuple[Span, ...] = ()
    other: str

    def shown(self, _deal: Layout, /) -> dict[str, Any]:
        """The unit, and the metric one in which an answer is taken too."""
        metric = units.METRIC.get(self.unit)
        return {"unit": self.unit, "metric": metric.unit if metric else ""}

    def read(self, given: str) -> float:
        """The number in the item's unit. A unit may be written behind it: the item's own, or the metric one."""
        found = _NUMBER.fullmatch(given)
        if not found or not found[1].strip("+-\u2212,"):
            raise ValueError(f"answer must be a number, got {given!r}. Write it in figures, like 12.5.")
        value, unit = float(found[1].replace(",", "").replace("\u2212", "-")), found[2].rstrip(".").lower()
        metric = units.METRIC.get(self.unit)
        if unit in ("", self.unit.rstrip(".").lower()):
            return value
        if metric and unit == metric.unit.lower():
            return (value - metric.offset) / metric.factor
        wanted = " or ".join(filter(None, (self.unit, metric.unit if metric else ""))) or "no unit"
        raise ValueError(f"unit must be {wanted}, got {unit!r}. Write the number alone, or with that unit.")

    def judge(self, given: str) -> Judged:
        """Right within its tolerance; a common slip gets its own reply."""
        value = self.read(given)
        if self.low <= value <= self.high:
            return Judged(share=1.0, replies=(self.right,))
        for slip in self.slips:
            if slip.low <= value <= slip.high:
                return Judged(share=0.0, replies=(slip.reply,), thinking=_thoughts([slip]))
        return Judged(share=0.0, replies=(self.other,), thinking=("slip",))

    def solution(self) -> str:
        """The number that the worked answer finds, with its unit."""
        return f"{self.at:.6g} {self.unit}".strip()

    def said(self, given: str) -> str:
        """The answer, with its unit even if it was written without."""
        alone = given.strip()
        return f"{alone} {self.unit}".strip() if alone[-1:].isdigit() else alone


class Order(Item, tag="order", frozen=True, kw_only=True):
    """Cards to put in order; `cards` stand in the right one. One point for each right neighbor."""

    cards: tuple[str, ...]
    slips: tuple[Swap, ...] = ()
    other: str

    @property
    def dealt(self) -> int:
        """Every card."""
        return len(self.cards)

    def shown(self, deal: Layout, /) -> dict[str, Any]:
        """The cards, lettered."""
        return {"cards": deal.lettered(self.cards)}

    def read(self, given: str) -> tuple[int, ...]:
        """Places in the right order (from 0) of the cards, in the order given."""
        return tuple(_places(given, len(self.cards), "every letter once, in order", len(self.cards)))

    def judge(self, given: str) -> Judged:
        """The share of right neighbors; the reply of the first slip that is met."""
        order = self.read(given)
        steps = list(pairwise(order))
        share = sum(b == a + 1 for a, b in steps) / len(steps)
        if share >= 1.0:
            return Judged(share=1.0, replies=(self.right,))
        for slip in self.slips:
            if order.index(slip.first - 1) < order.index(slip.later - 1):
                return Judged(share=share, replies=(slip.reply,), thinking=_thoughts([slip]))
        return Judged(share=share, replies=(self.other,), thinking=("slip",))

    def solution(self) -> str:
        """The letters of the cards in the right order, which is that of the file."""
        return ascii_uppercase[: len(self.cards)]

    def said(self, given: str) -> str:
        """The cards in words, with arrows."""
        return " → ".join(self.cards[n] for n in self.read(given))


class Match(Item, tag="match", frozen=True, kw_only=True):
    """Rows to match with answers. `answers` stand in the order of the rows, those left over at their end."""

    rows: tuple[str, ...]
    answers: tuple[str, ...]
    slips: tuple[WrongPairs, ...] = ()
    other: str

    @property
    def dealt(self) -> int:
        """Every answer; the rows stay as they are."""
        return len(self.answers)

    def shown(self, deal: Layout, /) -> dict[str, Any]:
        """The rows by number, and the answers with small letters."""
        return {"rows": list(self.rows), "answers": deal.lettered(self.answers, ascii_lowercase)}

    def read(self, given: str) -> tuple[int, ...]:
        """Place in the file of the answer given to each row."""
        what = f"{len(self.rows)} different letters, one for each row"
        return tuple(_places(given, len(self.answers), what, len(self.rows)))

    def judge(self, given: str) -> Judged:
        """The share of rows matched rightly; one reply to each thought behind the wrong pairs, by the numbers of its rows."""
        picked = self.read(given)
        wrong = [f"{row + 1}-{answer + 1}" for row, answer in enumerate(picked) if row != answer]
        if not wrong:
            return Judged(share=1.0, replies=(self.right,))
        met = [slip for slip in self.slips if set(slip.pairs) & set(wrong)]
        known = {pair for slip in met for pair in slip.pairs}
        replies = [_of_rows(slip.pairs, wrong) + slip.reply for slip in met]
        replies += [_of_rows(set(wrong) - known, wrong) + self.other] if set(wrong) - known else []
        return Judged(
            share=1.0 - len(wrong) / len(self.rows),
            replies=tuple(replies),
            thinking=_thoughts(met) or ("slip",),
        )

    def solution(self) -> str:
        """The small letter of each row's answer: they stand in the order of the rows."""
        return ascii_lowercase[: len(self.rows)]

    def said(self, given: str) -> str:
        """Number and letter of each pair."""
        return ", ".join(f"{n + 1}[{ascii_lowercase[a]}]" for n, a in enumerate(self.read(given)))


class Sentence(Item, tag="sentence", frozen=True, kw_only=True):
    """A sentence in the learner's own words. No machine marks it; it is compared with `model` and `ticks`."""

    model: str
    ticks: tuple[str, ...] = ()

    marked: ClassVar[bool] = False
    tries: ClassVar[int] = 1

    def shown(self, _deal: Layout, /) -> dict[str, Any]:
        """Nothing but the stem is needed."""
        return {}

    def read(self, given: str) -> str:
        """The sentence. Raises ValueError for an empty one."""
        if len(given.split()) < 2:
            raise ValueError("answer must be a sentence of yours, got nothing. A short one will do.")
        return given.strip()

    def judge(self, given: str) -> Judged:
        """A sentence counts as filled in, whatever it says."""
        self.read(given)
        return Judged(share=1.0, replies=(self.right,) if self.right else ())

    def solution(self) -> str:
        """The model sentence."""
        return self.model


class Predict(OneOf, tag="predict", frozen=True, kw_only=True):
    """A guess before a demonstration: locked, never scored. No option is right or wrong; each has its reply."""

    part: Literal["memory", "lesson", "warm-up", "practice"] = "lesson"

    marked: ClassVar[bool] = False
    tries: ClassVar[int] = 1

    def judge(self, given: str) -> Judged:
        """The reply of the option; a guess has no points to lose."""
        return Judged(share=1.0, replies=(self.options[self.read(given)].reply,))

    def solution(self) -> str:
        """The first option: every guess is accepted."""
        return "A"


AnyItem = Choice | Several | Number | Order | Match | Sentence | Predict


def _places(given: str, count: int, what: str, wanted: int | None) -> list[int]:
    """Places of the letters in `given`, each at most once. `wanted` is how many there must be, None for any."""
    letters = re.sub(r"[\s,;.]", "", given).upper()
    places = [ascii_uppercase.find(letter) for letter in letters]
    fits = all(0 <= place < count for place in places) and len(set(places)) == len(places)
    if not fits or not places or wanted not in (None, len(places)):
        last = ascii_uppercase[count - 1]
        raise ValueError(f"answer must be {what}, A to {last}, got {given!r}. Choose, then press the button.")
    return places


def _of_rows(pairs: Collection[str], wrong: list[str]) -> str:
    """The rows of the wrong pairs that a reply is about: "Rows 2, 3: "."""
    rows = [pair.split("-")[0] for pair in wrong if pair in pairs]
    return f"Row{'s' if len(rows) > 1 else ''} {', '.join(rows)}: "


def _thoughts(slips: Iterable[Option | Span | Swap | WrongPairs]) -> tuple[str, ...]:
    """The different thoughts behind some slips, in their order."""
    return tuple(dict.fromkeys(slip.thinking for slip in slips if slip.thinking))
