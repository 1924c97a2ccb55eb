"""All that the page of an item shows, as plain data. Nothing of a key is in it before the answer is given."""

from __future__ import annotations

from typing import Any

from course_lib import units
from course_lib.lessons.book import Book, Result
from course_lib.lessons.kinds import AnyItem, Predict, Sentence, Shown
from course_lib.lessons.vehicles import inspect
from course_lib.record import CONFIDENCE

RESULT = {
    "right": "Right.",
    "part": "Part of it is right.",
    "wrong": "This one needs another look.",
}
"""What stands before a reply; a guess and a sentence get none."""


def sheet(book: Book, name: str, *, system: str = "workshop") -> dict[str, Any]:
    """What the page of item `name` shows in its present state; system: "workshop" or "metric" units."""
    item, result = book.lesson.item(name), book.result(name)
    made = book.tries(name)[: item.tries]
    whole = {
        "name": name,
        "kind": type(item).__struct_config__.tag,
        "heading": _heading(book, item),
        "stem": item.stem,
        "tables": [*_given(item), *(_found(book, item.finding) if item.finding else [])],
        "hint": item.hint,
        "sureness": list(CONFIDENCE) if isinstance(item, Predict) else [],
        **item.shown(),
        "tries": [_try(item, each, judged) for each, judged in zip(made, result.judged, strict=True)],
        "again": [] if result.done else [each.given for each in made[-1:]],
        "done": result.done,
        "closing": _closing(item, result),
        **(_opened(item) if result.done else {}),
    }
    return _in_metric(whole) if system == "metric" else whole


def _in_metric(shown: Any) -> Any:
    """The same with every number that carries a workshop unit put in metric; a bare answer is then taken in that unit."""
    if isinstance(shown, dict):
        turned = {name: value if name == "again" else _in_metric(value) for name, value in shown.items()}
        if shown.get("metric"):
            turned |= {"unit": shown["metric"], "metric": shown["unit"]}
        return turned
    if isinstance(shown, list):
        return [_in_metric(each) for each in shown]
    return units.text_shown(shown, "metric") if isinstance(shown, str) else shown


def _heading(book: Book, item: AnyItem) -> str:
    numbers = book.lesson.numbers
    if item.id in numbers:
        return f"Item {numbers[item.id]} of {len(numbers)}"
    if item.part == "lesson" and isinstance(item, Sentence):
        return "In your own words"
    return {"memory": "From memory", "warm-up": "Warm-up", "lesson": "Your guess"}[item.part]


def _given(item: AnyItem) -> list[dict[str, Any]]:
    if not item.table:
        return []
    return [{"caption": "Given", "heads": list(item.table[0]), "rows": [list(row) for row in item.table[1:]]}]


def _found(book: Book, wanted: Shown) -> list[dict[str, Any]]:
    finding = inspect(book.lesson.vehicles[wanted.vehicle], wanted.inspection)
    readings = [r for r in finding.readings if not wanted.keys or r.key in wanted.keys]
    rows = [[reading.label, reading.found_text, reading.spec_text] for reading in readings]
    return [{"caption": finding.title, "heads": ["what", "found", "spec"], "rows": rows}]


def _try(item: AnyItem, made, judged) -> dict[str, Any]:
    word = ""
    if not isinstance(item, Predict | Sentence):
        word = RESULT["right" if judged.right else "part" if judged.share > 0 else "wrong"]
        word = "" if judged.replies[0].startswith(word.rstrip(".")) else word  # the reply says it already
    said = item.said(made.given) + (f" ({made.sureness})" if made.sureness else "")
    return {"said": said, "word": word, "replies": list(judged.replies)}


def _closing(item: AnyItem, result: Result) -> str:
    """One line at the end: how many tries are left, or what the item earned."""
    if not item.scored or not result.judged:
        return ""
    if not result.done:
        return "One more try. It earns half of the points still open."
    return f"{result.points:.0%} of the points of this item."


def _opened(item: AnyItem) -> dict[str, Any]:
    """What opens when an item is done."""
    opened: dict[str, Any] = {"worked": item.worked}
    if isinstance(item, Sentence):
        opened |= {"model": item.model, "ticks": list(item.ticks)}
    return opened
