"""All that the page of an item shows, as plain data. Nothing of a key is in it before the answer is given."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from course_lib.assessment.record import CONFIDENCE
from course_lib.base import units
from course_lib.lessons.item_kinds import AnyItem, Judged, Predict, Sentence
from course_lib.lessons.item_layout import Layout
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import SIGN
from course_lib.lessons.vehicles import inspect_vehicle
from course_lib.lessons.workbook import ItemResult, Try, Workbook
from course_lib.shop.findings import HEADINGS, Finding

RESULT = {
    "right": "Right.",
    "part": "Part of it is right.",
    "wrong": "This one needs another look.",
}
"""What stands before a reply; a guess and a sentence get none."""


def item_sheet(book: Workbook, name: str, *, system: str = "workshop") -> dict[str, Any]:
    """What the page of item `name` shows in its present state; system: "workshop" or "metric" units."""
    item, result, deal = book.lesson.item(name), book.result(name), book.deal(name)
    made = book.tries(name)[: item.tries]
    whole = {
        "name": name,
        "kind": type(item).__struct_config__.tag,
        "heading": _heading(book, item),
        "stem": item.stem,
        "tables": [
            *_given(item),
            *(_readings(finding) if (finding := item_finding(book.name, name)) else []),
        ],
        "words": list(finding.words) if finding else [],
        "hint": item.hint,
        "sureness": list(CONFIDENCE) if isinstance(item, Predict) else [],
        **item.shown(deal),
        "tries": [_try(item, deal, each, judged) for each, judged in zip(made, result.judged, strict=True)],
        "again": [] if result.done else [deal.on_page(each.given) for each in made[-1:]],
        "done": result.done,
        "closing": _closing(item, result),
        **(_opened(item, deal) if result.done else {}),
    }
    return _in_metric(whole) if system == "metric" else whole


def item_finding(lesson: str, name: str) -> Finding | None:
    """What item `name` of a lesson shows of a vehicle, cut down to the readings it asks about; its words are never cut.

    None if it shows nothing.
    """
    held = load_lesson(lesson)
    wanted = held.item(name).finding
    if wanted is None:
        return None
    finding = inspect_vehicle(held.vehicles[wanted.vehicle], wanted.inspection)
    readings = tuple(r for r in finding.readings if not wanted.keys or r.key in wanted.keys)
    return replace(finding, readings=readings)


def item_unit(lesson: str, name: str) -> str:
    """Name of the unit of the vehicle that item `name` of a lesson shows; "" where it shows none."""
    held = load_lesson(lesson)
    wanted = held.item(name).finding
    return held.vehicles[wanted.vehicle].unit if wanted else ""


def _in_metric(shown: Any) -> Any:
    """The same with every number that carries a workshop unit put in metric; a bare answer is then taken in that unit."""
    if isinstance(shown, dict):
        turned = {name: value if name == "again" else _in_metric(value) for name, value in shown.items()}
        if shown.get("metric"):
            turned |= {"unit": shown["metric"], "metric": shown["unit"]}
        return turned
    if isinstance(shown, list):
        return [_in_metric(each) for each in shown]
    return units.text_in_system(shown, "metric") if isinstance(shown, str) else shown


def _heading(book: Workbook, item: AnyItem) -> str:
    numbers = book.lesson.numbers
    if item.id in numbers:
        return f"Item {numbers[item.id]} of {len(numbers)}"
    if item.part == "lesson" and isinstance(item, Sentence):
        return "Say why"
    return {"memory": "From memory", "warm-up": "Warm-up", "lesson": "Your guess"}[item.part]


def _given(item: AnyItem) -> list[dict[str, Any]]:
    if not item.table:
        return []
    return [
        {
            "caption": f"Given {SIGN}",
            "heads": list(item.table[0]),
            "rows": [list(row) for row in item.table[1:]],
        }
    ]


def _readings(finding: Finding) -> list[dict[str, Any]]:
    """The readings of a finding as a table; its title alone where it has none."""
    rows = [[reading.label, reading.found_text, reading.spec_text] for reading in finding.readings]
    return [
        {
            "caption": f"{finding.title} {SIGN}",
            "heads": list(HEADINGS[:3]) if rows else [],
            "rows": rows,
        }
    ]


def _try(item: AnyItem, deal: Layout, made: Try, judged: Judged) -> dict[str, Any]:
    word = ""
    if not isinstance(item, Predict | Sentence):
        word = RESULT["right" if judged.right else "part" if judged.share > 0 else "wrong"]
        word = "" if judged.replies[0].startswith(word.rstrip(".")) else word  # the reply says it already
    said = item.said(made.given)
    said = said if isinstance(item, Sentence) else deal.read(said)
    sure = f" ({made.sureness})" if made.sureness else ""
    return {"said": said + sure, "word": word, "replies": [deal.read(reply) for reply in judged.replies]}


def _closing(item: AnyItem, result: ItemResult) -> str:
    """One line at the end: how many tries are left, or what the item earned."""
    if not item.scored or not result.judged:
        return ""
    if not result.done:
        return "One more try. It earns half of the points still open."
    return f"{result.points:.0%} of the points of this item."


def _opened(item: AnyItem, deal: Layout) -> dict[str, Any]:
    """What opens when an item is done."""
    opened: dict[str, Any] = {"worked": deal.read(item.worked)}
    if isinstance(item, Sentence):
        opened |= {"model": item.model, "ticks": list(item.ticks)}
    return opened
