"""Scored items answered by rules that need no knowledge of transmissions: none may earn more than blind luck and five points.

Run ``python -m pytest tests/test_lessons_blind.py -s -n 0`` to read the table. Source of the clues: Haladyna, Downing and
Rodriguez, A Review of Multiple-Choice Item-Writing Guidelines, 2002 (from memory); the five points are the project's own.
"""

import random
import re
from collections.abc import Callable
from statistics import mean

from course_lib.lessons.item_kinds import AnyItem, Choice, Match, Number, Order, Several
from course_lib.lessons.item_layout import Layout, lay_out
from course_lib.lessons.lesson import lesson_names, load_lesson

MOST = 0.05  # points above luck, of 1
LEARNERS = 200
NOTHING = re.compile(
    r"^(?:nothing|no fault|no repair|leave it)\b|\bnothing (?:is )?(?:wrong|broken|inside)\b",
    re.IGNORECASE,
)
SCORED = [
    (name, item)
    for name in lesson_names()
    for item in load_lesson(name).scored
    if not isinstance(item, Number)
]


class Seen:
    """An item as one learner sees it: its things in the order of the page, and the letters of a right answer there."""

    def __init__(self, name: str, item: AnyItem, seed: str) -> None:
        self.name, self.item = name, item
        self.deal: Layout = lay_out(item.dealt, f"{seed}/{name}/{item.id}")
        shown = item.shown(self.deal)
        self.things = next(shown[kind] for kind in ("options", "cards", "answers") if kind in shown)
        self.letters = [letter for letter, _ in self.things]
        self.right = self.deal.on_page(item.solution())

    def points(self, given: str) -> float:
        """What an answer in letters of the page earns at the first try."""
        return self.item.judge(self.deal.of_file(given)).share


Rule = Callable[[Seen, "Learner"], str | None]


class Learner:
    """Somebody who has worked through all lessons before and remembers nothing but letters."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.now = [Seen(name, item, f"learner {seed}") for name, item in SCORED]
        self.before = [Seen(name, item, f"learner {seed} before") for name, item in SCORED]
        self.place = {(seen.name, seen.item.id): seen for seen in self.now}

    def blind(self, seen: Seen) -> str:
        """An answer by somebody who does not read."""
        if isinstance(seen.item, Choice):
            return self.rng.choice(seen.letters)
        if isinstance(seen.item, Several):
            ticked = "".join(letter for letter in seen.letters if self.rng.random() < 0.5)
            return ticked or self.rng.choice(seen.letters)
        mixed = self.rng.sample(seen.letters, len(seen.letters))
        return "".join(mixed[: len(seen.item.rows)] if isinstance(seen.item, Match) else mixed)


def lesson_before(seen: Seen, learner: Learner) -> str | None:
    """The letters that were right in the item of the same number and kind of the lesson before."""
    last = learner.place.get((f"L{int(seen.name[1:]) - 1:02d}", seen.item.id))
    if last is None or type(last.item) is not type(seen.item) or len(last.letters) != len(seen.letters):
        return None
    return last.right if isinstance(seen.item, Several) or len(last.right) == len(seen.right) else None


def attempt_before(seen: Seen, learner: Learner) -> str | None:
    """The letters that were right when the same practice was done before."""
    return learner.before[learner.now.index(seen)].right


def by_length(end: Callable) -> Rule:
    """The option, or the half of them, at one end of the lengths."""

    def rule(seen: Seen, learner: Learner) -> str | None:
        if isinstance(seen.item, Choice):
            return end(seen.things, key=lambda thing: (len(thing[1]), learner.rng.random()))[0]
        if isinstance(seen.item, Several):
            ranked = sorted(seen.things, key=lambda thing: len(thing[1]), reverse=end is max)
            return "".join(letter for letter, _ in ranked[: (len(ranked) + 1) // 2])
        return None

    return rule


def nothing(seen: Seen, learner: Learner) -> str | None:
    """The option that says that nothing is wrong."""
    if not isinstance(seen.item, Choice):
        return None
    said = [letter for letter, text in seen.things if NOTHING.search(text)]
    return learner.rng.choice(said) if said else None


def place(at: int) -> Rule:
    """The option that stands first or last."""
    return lambda seen, learner: seen.letters[at] if isinstance(seen.item, Choice) else None


def tick(count: int) -> Rule:
    """So many boxes from the top; 0 for all of them."""
    return lambda seen, learner: (
        "".join(seen.letters[: count or None]) if isinstance(seen.item, Several) else None
    )


def as_shown(seen: Seen, learner: Learner) -> str | None:
    """Cards and answers as they lie."""
    if isinstance(seen.item, Order):
        return "".join(seen.letters)
    return "".join(seen.letters[: len(seen.item.rows)]) if isinstance(seen.item, Match) else None


def echo(seen: Seen, learner: Learner) -> str | None:
    """The option that repeats most words of the question."""
    if not isinstance(seen.item, Choice):
        return None
    stem = set(re.findall(r"[a-z]{4,}", seen.item.stem.lower()))
    return max(
        seen.things,
        key=lambda thing: (len(stem & set(re.findall(r"[a-z]{4,}", thing[1].lower()))), learner.rng.random()),
    )[0]


def number(seen: Seen, learner: Learner) -> str | None:
    """The option that holds most figures, where one does."""
    if not isinstance(seen.item, Choice) or not any(re.search(r"\d", text) for _, text in seen.things):
        return None
    return max(seen.things, key=lambda thing: (len(re.findall(r"\d", thing[1])), learner.rng.random()))[0]


RULES: dict[str, Rule] = {
    "letters of the lesson before": lesson_before,
    "letters of the attempt before": attempt_before,
    "longest": by_length(max),
    "shortest": by_length(min),
    "first": place(0),
    "last": place(-1),
    "nothing is wrong": nothing,
    "words of the question": echo,
    "a number": number,
    "tick all": tick(0),
    "tick three": tick(3),
    "as they lie": as_shown,
}


def earned() -> dict[str, tuple[float, float, int]]:
    """For each rule: mean points of the items to which it says something, what luck earns on the same, and how many they are."""
    gains: dict[str, list[tuple[float, float]]] = {rule: [] for rule in RULES}
    touched: dict[str, set[tuple[str, str]]] = {rule: set() for rule in RULES}
    for number_ in range(LEARNERS):
        learner = Learner(number_)
        for seen in learner.now:
            for name, rule in RULES.items():
                if (given := rule(seen, learner)) is not None:
                    gains[name].append((seen.points(given), seen.points(learner.blind(seen))))
                    touched[name].add((seen.name, seen.item.id))
    return {
        name: (mean(points for points, _ in both), mean(luck for _, luck in both), len(touched[name]))
        for name, both in gains.items()
    }


def test_no_rule_without_knowledge_earns_more_than_luck():
    """Letters of the lesson or the attempt before, longest, shortest, first, "nothing is wrong", tick all, ..."""
    table = earned()
    for rule, (points, luck, items) in table.items():
        print(f"{rule:30s} {points:6.1%} luck {luck:6.1%} {points - luck:+6.1%} over {items} items")
    for rule, (points, luck, items) in table.items():
        assert items >= 4, f"{rule} says nothing to enough items"
        assert points <= luck + MOST, (rule, points, luck)
