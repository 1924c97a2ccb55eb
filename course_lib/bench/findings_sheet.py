"""What a learner knows so far, in words: the findings as tables, and what is left of the unit after them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from course_lib.bench.bench_pictures import finding_picture, sounds_name
from course_lib.bench.element_status import ElementStatus, RangeDriven, element_statuses, ranges_driven
from course_lib.bench.page_blocks import table_block, text
from course_lib.bench.replies import outside_spec
from course_lib.shop.findings import HEADINGS

if TYPE_CHECKING:
    from course_lib.bench.bench_model import BenchModel
    from course_lib.shop.findings import Finding, Paper, Reading

_WORDS = {"cleared": "less likely: holds in", "suspect": "suspect: slips in", "open": "not asked yet"}


def draw_findings(model: BenchModel) -> dict[str, Any]:
    """Findings in the order they were made, numbered; what an act brought stands beside its button too."""
    return {
        "heading": "What you know so far",
        "empty": "Nothing yet.",
        "columns": list(HEADINGS),
        "findings": {
            each.inspection: _finding(model, number, each)
            for number, each in enumerate(model.findings, start=1)
        },
        "left": _left(model),
    }


def _finding(model: BenchModel, number: int, finding: Finding) -> dict[str, Any]:
    return {
        "title": f"{number}  {finding.title}",
        "detail": model.words(f"{finding.minutes} min{_made_at(finding)}"),
        "outside": outside_spec(finding),
        "words": list(finding.words),
        "rows": [_reading(each) for each in finding.readings],
        "papers": [_paper(each) for each in finding.papers or ()],
        "picture": finding_picture(finding.inspection, model.system),
        "listen": {"heading": "Listen to it", "id": heard} if (heard := sounds_name(finding)) else None,
    }


def _paper(paper: Paper) -> dict[str, Any]:
    """A table of a manual, folded under its title."""
    return {
        "title": paper.title,
        "table": table_block(paper.title, paper.heads, [(row, "") for row in paper.rows]),
    }


def _made_at(finding: Finding) -> str:
    return "" if finding.made_at_f is None else f", sump at {finding.made_at_f:.0f} \u00b0F"


def _reading(reading: Reading) -> list[str]:
    """What was read, what is found, its spec, the result, and on which side it lies: no names, they would outweigh the numbers."""
    side = reading.verdict.split()[0]
    return [reading.label, reading.found_text, reading.spec_text, reading.result_text, side]


def _left(model: BenchModel) -> dict[str, Any] | None:
    """Which ranges hold and what that says about each element; None before the road test."""
    unit = model.case.unit_spec
    roads = ranges_driven(unit, model.case.findings)
    if not roads:
        return None
    labels = {element.id: element.label for element in unit.elements}
    return {
        "heading": "What is left",
        "blocks": [
            table_block("Ranges driven", ["range", "found", "what works in it"], [_road(model, road, labels) for road in roads]),
            table_block("What they say about each holding element", ["element", "what the road says", "your mark"],
                  [_element(model, each) for each in element_statuses(unit, roads)]),
            text("This is about holding only. What holds may still engage late, or let go when cold or hot."),
        ],
    }  # fmt: skip


def _road(model: BenchModel, road: RangeDriven, labels: dict[str, str]) -> tuple[list[str], str]:
    elements = ", ".join(labels[name] for name in road.elements)
    return [model.words(road.label), road.found, elements], "within" if road.holds else "care"


def _element(model: BenchModel, each: ElementStatus) -> tuple[list[str], str]:
    said = f"{_WORDS[each.word]} {'; '.join(each.by)}".strip()
    mine = "struck out" if each.element in model.answer.cleared else "\u2013"
    return [each.label, model.words(said), mine], each.word
