"""What a writer of a lesson must keep to, looked up by a program: ``python -m course_lib.authoring lint L04``.

Every rule returns sentences that say which item and what to do. House rules, except where a source is named.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import pairwise
from statistics import mean

from course_lib.lessons.item_kinds import AnyItem, Choice, Match, Number, Order, Predict, Sentence, Several
from course_lib.lessons.lesson import Lesson, all_misconceptions, load_lesson

MOST_WORDS_A_SENTENCE = 25
MOST_WORDS = {"stem": 100, "worked": 110, "reply": 45, "option": 25}
UNEVEN, UNEVEN_LETTERS = (
    0.25,
    8,
)  # how far an option's length may lie from their mean: a share, or so many letters
CHOICES_A_LONGEST = 4  # in so many choices of four options, luck makes the longest one the key once
SLIP = "slip"  # the thought behind a mere slip
BELITTLES = re.compile(r"\b(simply|obviously|of course|just|easily|clearly|trivial\w*)\b|!", re.IGNORECASE)
BRITISH = re.compile(
    r"\b(colou?rs? ?grey|\w*colour\w*|grey|tyres?|litres?|metres?|kerbs?|centres?|labour|behaviour|neighbour\w*|\w+ised|"
    r"\w+ising|practise\w*|licence|aluminium|petrol|bonnet|gearbox|travell\w+|labell\w+)\b",
    re.IGNORECASE,
)
ABSOLUTE = re.compile(r"\b(always|never|(all|none) of the above|all of these|none of these)\b", re.IGNORECASE)
NEGATED = re.compile(r"\b(which|what) .*\bnot\b|\bexcept\b|\bNOT\b")
_KEYS: dict[type, tuple[int, int]] = {
    Choice: (1, 1),
    Several: (1, 6),
    Predict: (0, 0),
}  # fewest and most right


def problems(name: str) -> list[str]:
    """Everything that is wrong with the items of a lesson, in words for its writer; empty when nothing is."""
    lesson = load_lesson(name)
    found = [*_of_lesson(lesson), *_of_objectives(lesson), *_of_lengths(lesson)]
    for item in lesson.items:
        found += [f"{item.id}: {text}" for text in (*_of_item(item), *_of_words(item), *_of_kind(item))]
    return [f"{name} {text}" for text in found]


# ---------------------------------------------------------------------- the lesson
def _of_lesson(lesson: Lesson) -> Iterator[str]:
    practice = [item for item in lesson.items if item.part == "practice"]
    if not 8 <= len(practice) <= 10:
        yield f"practice must be 8 to 10 items, got {len(practice)}."
    if len(kinds := {type(item) for item in practice}) < 5:
        yield f"practice must be of at least 5 kinds, got {len(kinds)}."
    if not any(item.sound for item in practice):
        yield "one item must have nothing wrong inside the transmission (sound = true)."
    if not any(isinstance(item, Sentence) for item in practice):
        yield "one item of the practice must be a sentence that no machine marks."
    if not any(isinstance(item, Predict) for item in lesson.items):
        yield "at least one prediction must stand before a demonstration."
    if sum(item.part == "memory" for item in lesson.items) < 2 and lesson.needs:
        yield "two questions from memory must open a lesson that builds on others."


def _of_objectives(lesson: Lesson) -> Iterator[str]:
    practice = [item for item in lesson.items if item.part == "practice"]
    known = {objective.id for objective in lesson.objectives}
    if not 2 <= len(known) <= 4:
        yield f"objectives must be 2 to 4, got {len(known)}."
    for name in sorted(known):
        if (hits := sum(name in item.objectives for item in practice)) < 2:
            yield f"objective {name} must be met by two items, got {hits}."
    for item in practice:
        if set(item.objectives) - known or not item.objectives:
            yield f"{item.id}: objectives must be from {sorted(known)}, got {list(item.objectives)}."


def _of_lengths(lesson: Lesson) -> Iterator[str]:
    choices = [item for item in lesson.scored if isinstance(item, Choice)]
    longest, shortest = (sum(_is_key(item, end) for item in choices) for end in (max, min))
    if longest > -(-len(choices) // CHOICES_A_LONGEST):
        yield (
            f"the longest option (ties count) is the key in {longest} of {len(choices)} choices, a clue. Make a wrong "
            "option in some of them a letter or two longer."
        )
    if len(choices) >= CHOICES_A_LONGEST and not shortest:
        yield "the shortest option is the key in no choice, a clue. Shorten a key."


def _is_key(item: Choice, end: Callable[..., int]) -> bool:
    """Whether no option is longer (`end` max) or shorter (min) than the right one."""
    return any(
        len(each.text) == end(len(other.text) for other in item.options)
        for each in item.options
        if each.right
    )


# ---------------------------------------------------------------------- one item
def _of_item(item: AnyItem) -> Iterator[str]:
    for thought in misconceptions_of(item):
        if thought != SLIP and thought not in all_misconceptions():
            yield f"thinking {thought!r} is in no list of misconceptions. Add it, with what is true."
    if item.part != "practice":
        return
    if not item.difficulty or not 1 <= item.minutes <= 4:
        yield "difficulty and minutes (1 to 4) must be given."
    for field in ("hint", "worked"):
        if not getattr(item, field).strip():
            yield f"{field} must be given."
    if not isinstance(item, Choice | Sentence) and not item.right:
        yield "right, the reply to a right answer, must be given."
    if re.search(r"\d", item.hint):
        yield f"a hint holds no digit, got {item.hint!r}."


def _of_words(item: AnyItem) -> Iterator[str]:
    for kind, text in texts_of(item):
        if len(text.split()) > MOST_WORDS.get(kind, 1000):
            yield f"{kind} must be at most {MOST_WORDS[kind]} words, got {len(text.split())}: {text[:40]!r}."
        for sentence in sentences(text):
            if len(sentence.split()) > MOST_WORDS_A_SENTENCE:
                yield f"sentences have at most {MOST_WORDS_A_SENTENCE} words, got {sentence!r}."
        for pattern, what in ((BELITTLES, "belittles or shouts"), (BRITISH, "is not US spelling")):
            if word := pattern.search(text):
                yield f"{word.group()!r} {what}, in {text[:60]!r}."
    if NEGATED.search(item.stem):
        yield "a stem asks for what is so, without 'not' or 'except'."


def _of_kind(item: AnyItem) -> Iterator[str]:
    if isinstance(item, Choice | Several | Predict):
        yield from _of_options(item)
    if isinstance(item, Number):
        yield from _of_spans(item)
    if isinstance(item, Order):
        if not 4 <= len(item.cards) <= 7:
            yield f"a chain has 4 to 7 cards, got {len(item.cards)}."
        if any(slip.first <= slip.later for slip in item.slips):
            yield "a slip names a card that wrongly stands first: first must be greater than later."
    if isinstance(item, Match):
        if len(item.answers) <= len(item.rows):
            yield "at least one answer must be left over."
        if any(
            row == answer for slip in item.slips for row, answer in (pair.split("-") for pair in slip.pairs)
        ):
            yield "a slip names a right pair."


def _of_options(item: Choice | Several | Predict) -> Iterator[str]:
    options, keys = item.options, [option for option in item.options if option.right]
    most = 4 if not isinstance(item, Several) else 7
    if not 3 <= len(options) <= most:
        yield f"options must be 3 to {most}, got {len(options)}."
    few, many = _KEYS[type(item)]
    if not few <= len(keys) <= min(many, len(options) - 1):
        yield f"the number of right options does not fit the kind, got {len(keys)}."
    for option in options:
        if not isinstance(item, Predict) and not option.right and not option.thinking:
            yield f"wrong option {option.text[:30]!r} needs the thinking behind it."
        if ABSOLUTE.search(option.text):
            yield f"option {option.text[:40]!r} holds a word that gives it away."
    if isinstance(item, Choice):
        size = mean(len(option.text) for option in options)
        for option in options:
            if abs(len(option.text) - size) > max(UNEVEN * size, UNEVEN_LETTERS):
                yield f"options must be of like length, {size:.0f} letters on average, got {len(option.text)}: {option.text!r}."


def _of_spans(item: Number) -> Iterator[str]:
    if not item.low <= item.at <= item.high:
        yield f"low to high must hold the answer {item.at:g}, got {item.low:g} to {item.high:g}."
    spans = sorted([(item.low, item.high), *((slip.low, slip.high) for slip in item.slips)])
    for (low, high), (next_low, _) in pairwise(spans):
        if high < low or next_low <= high:
            yield f"spans must not overlap, got {low:g} to {high:g} and one from {next_low:g}."
    if not item.slips:
        yield "a number needs a reply to at least one common slip."


# ---------------------------------------------------------------------- reading an item
def misconceptions_of(item: AnyItem) -> set[str]:
    """Ids of all the thoughts behind wrong answers to an item."""
    options = getattr(item, "options", ()) or getattr(item, "slips", ())
    return {option.thinking for option in options if option.thinking}


def texts_of(item: AnyItem) -> Iterator[tuple[str, str]]:
    """Every text of an item that a learner may read, each with what it is."""
    yield "stem", item.stem
    yield from (("hint", item.hint), ("worked", item.worked), ("reply", item.right))
    yield from (("cell", cell) for row in item.table for cell in row)
    for option in getattr(item, "options", ()):
        yield from (("option", option.text), ("reply", option.reply))
    yield from (("reply", slip.reply) for slip in getattr(item, "slips", ()))
    yield from (("option", text) for name in ("cards", "rows", "answers") for text in getattr(item, name, ()))
    yield from (
        ("reply", getattr(item, name)) for name in ("other", "missed", "model") if hasattr(item, name)
    )
    yield from (("option", tick) for tick in getattr(item, "ticks", ()))


def sentences(text: str) -> list[str]:
    """The sentences of a text, cut at the marks that end one, at colons and at blank lines."""
    return re.split(r"(?<=[.!?:;])[\"\u201d]?\s|\n\s*\n", text.strip())
