"""What a learner thinks, in words: suspects, what is struck out, notes; in practice also a hint and the odds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..catalogue.causes import load_cause
from ..differential.certificate import BAR
from .fields import THINKING
from .handing import draw_field
from .helping import INSPECTION

if TYPE_CHECKING:
    from ..differential.odds import Odds
    from .beside import Piece
    from .helping import Standing
    from .model import BenchModel

#: Suspects that have a row of their own in the table of odds, and the latest findings that have a column.
_MOST_ROWS, _MOST_COLUMNS = 5, 4
_LITTLE = 0.02  # share of what is open below which no inspection is worth its minutes
_SHARES = ((0.85, "nearly all"), (0.6, "about two thirds"), (0.42, "about half"), (0.28, "about a third"), (0.16, "about a fifth"),
           (0.07, "about a tenth"), (0.0, "a little"))  # fmt: skip
_OPENNESS = {
    1: "talk",
    2: "look, without opening anything",
    3: "measure from outside",
    4: "open the pan",
    5: "open the unit",
}


def draw_thinking(model: BenchModel) -> dict[str, Any]:
    """The learner's own thoughts; `odds` is None in marked mode."""
    return {
        "heading": "What you think",
        "lead": "This part is yours. Suspects with a finding against them count as ruled out in your record.",
        "fields": [draw_field(model, field) for field in THINKING],
        "odds": _odds(model) if model.mode == "practice" else None,
    }


def draw_hint(model: BenchModel) -> dict[str, Any] | None:
    """A hint about the next inspection: a direction first, the inspection when asked again. None in marked mode."""
    if model.mode != "practice" or model.locked:
        return None
    helper = model.helper
    button = ("Ask for a hint", "Say which inspection", "")[helper.hints]
    return {"button": button, **_worked_out(helper.standing() if helper.hints else None, model, _hint_lines)}


def _worked_out(piece: Piece | None, model: BenchModel, draw) -> dict[str, Any]:
    """What came of a piece of work: a progress bar until it is there, then what `draw` makes of it."""
    if piece is None:
        return {"progress": None, "blocks": []}
    if not piece.finished:
        label = "Working it out"
        if piece.total:
            label = f"Lives to compare with: {piece.done} of {piece.total} causes lived"
        return {"progress": {"label": label, "done": piece.done, "total": piece.total}, "blocks": []}
    if piece.trouble:
        return {
            "progress": None,
            "blocks": [{"kind": "text", "text": f"This could not be worked out. {piece.trouble}"}],
        }
    return {"progress": None, "blocks": draw(model, piece.value)}


def _hint_lines(model: BenchModel, standing: Standing) -> list[dict[str, Any]]:
    now = standing.odds[-1]
    best = standing.advice[0] if standing.advice else None
    if now.ratio >= BAR or best is None or best.bits < _LITTLE * max(now.bits, 1e-9):
        return [_text("What you have found can settle it. Which suspect leaves no finding without a home?")]
    table = {each.id: each for each in model.case.offered}
    first = table[best.steps[0]]
    if model.helper.hints < INSPECTION:
        tells = model.words(first.tells.rstrip("."))
        return [
            _text(
                f"A direction: {_OPENNESS[first.openness]}. Ask yourself what would tell you about {tells}."
            )
        ]
    lines = [_text(f"Next: {model.words(first.title)}, {first.minutes} min.")]
    if len(best.steps) > 1:
        then = ", then ".join(model.words(table[step].title) for step in best.steps[1:])
        lines.append(_text(f"It clears the way for: {then}."))
    share = next(words for least, words in _SHARES if best.bits >= least * now.bits)
    lines.append(
        _text(f"Why: for the minutes it takes it should settle most, {share} of what is still open.")
    )
    return lines


def _text(text: str) -> dict[str, Any]:
    return {"kind": "text", "text": text}


def _odds(model: BenchModel) -> dict[str, Any]:
    helper = model.helper
    button = "Put the odds away" if helper.odds_shown else "Show how the suspects stand"
    return {
        "button": button,
        **_worked_out(helper.standing() if helper.odds_shown else None, model, _odds_table),
    }


def _odds_table(model: BenchModel, standing: Standing) -> list[dict[str, Any]]:
    """Suspects as they stood before the first and after each of the latest findings, of 100 vehicles like this one."""
    after = list(range(len(standing.odds)))[-_MOST_COLUMNS:]
    shown = [standing.odds[i] for i in after]
    rows = [int(i) for i in shown[-1].order[:_MOST_ROWS]]
    counts = np.array([_of_hundred(each, rows) for each in shown])
    titles = ["at the start", *(f"after {number}" for number in range(1, len(standing.odds)))]
    labels = [load_cause(shown[-1].causes[i]).label for i in rows] + ["all others"]
    return [
        {
            "kind": "table",
            "caption": "How the suspects stand: of 100 vehicles like this one",
            "columns": ["suspect", *(titles[i] for i in after)],
            "rows": [
                {"cells": [label, *(str(count) for count in column)], "sign": "lead" if place == 0 else ""}
                for place, (label, column) in enumerate(zip(labels, counts.T, strict=True))
            ],
        },
        _text("The numbers over the columns are those of the findings above."),
    ]


def _of_hundred(odds: Odds, rows: list[int]) -> list[int]:
    """Odds of some causes and of all others together as counts out of 100 that add up, by largest remainder."""
    share = np.append(odds.probability[rows], 0.0)
    share[-1] = 1.0 - share.sum()
    exact = 100.0 * share
    count = np.floor(exact).astype(int)
    count[np.argsort(count - exact)[: 100 - count.sum()]] += 1
    return count.tolist()
