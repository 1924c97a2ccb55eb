"""What a learner thinks, in words: suspects, what is struck out, notes; in practice also a hint and the odds."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from course_lib.bench.fields import THINKING
from course_lib.bench.form_sheet import draw_field
from course_lib.bench.page_blocks import Block, picture, progress_bar, table_block, text
from course_lib.bench.practice_help import INSPECTION
from course_lib.diagnosis.key_entries import BAR

if TYPE_CHECKING:
    from course_lib.bench.bench_model import BenchModel
    from course_lib.bench.job_queue import Job
    from course_lib.bench.practice_help import OddsAndAdvice

#: Suspects that have a row of their own in the table of odds, and the latest findings that have a column.
_MOST_ROWS = 5
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


def draw_suspects(model: BenchModel) -> dict[str, Any]:
    """The learner's own thoughts; `odds` is None outside practice."""
    return {
        "heading": "What you think",
        "lead": _lead(model),
        "fields": {field.name: draw_field(model, field) for field in THINKING},
        "odds": _odds(model) if model.mode == "practice" else None,
    }


def _lead(model: BenchModel) -> str:
    """Whose thoughts these are, and what counts."""
    whose = (
        "The expert thought so, as far as it is given."
        if "excluded" in model.given
        else "This part is yours."
    )
    return f"{whose} A suspect with a finding against it counts as ruled out; what you tick, as seen to be sound."


def draw_hint(model: BenchModel) -> dict[str, Any] | None:
    """A hint about the next inspection: a direction first, the inspection when asked again. None outside practice."""
    if model.mode != "practice" or model.locked:
        return None
    helper = model.helper
    piece = helper.standing() if helper.hints else None
    done = piece is not None and piece.finished and not piece.trouble and _settled(piece.value)
    button = "" if done else ("Ask for a hint", "Say which inspection", "")[helper.hints]
    return {"button": button, "blocks": _worked_out(piece, model, _hint_lines)}


def _settled(standing: OddsAndAdvice) -> bool:
    """Whether what was found can settle it, so that no further inspection is worth its minutes."""
    now = standing.odds[-1]
    best = standing.advice[0] if standing.advice else None
    return now.ratio >= BAR or best is None or best.bits < _LITTLE * max(now.bits, 1e-9)


def _worked_out(
    piece: Job | None, model: BenchModel, draw: Callable[[BenchModel, OddsAndAdvice], list[Block]]
) -> list[Block]:
    """What came of a piece of work: a progress bar until it is there, then what `draw` makes of it."""
    if piece is None:
        return []
    if not piece.finished:
        return [progress_bar(piece, "Working it out", "Lives to compare with, causes lived")]
    if piece.trouble:
        return [text(f"This could not be worked out. {piece.trouble}")]
    return draw(model, piece.value)


def _hint_lines(model: BenchModel, standing: OddsAndAdvice) -> list[Block]:
    if _settled(standing):
        return [text("What you have found can settle it. Which suspect explains every finding?")]
    now, best = standing.odds[-1], standing.advice[0]
    table = {each.id: each for each in model.case.offered}
    first = table[best.steps[0]]
    if model.helper.hints < INSPECTION:
        tells = model.words(first.tells.rstrip("."))
        return [
            text(f"A direction: {_OPENNESS[first.openness]}. Ask yourself what would tell you about {tells}.")
        ]
    lines = [text(f"Next: {model.words(first.title)}, {first.minutes} min.")]
    if len(best.steps) > 1:
        then = ", then ".join(model.words(table[step].title) for step in best.steps[1:])
        lines.append(text(f"It opens the way to: {then}."))
    share = next(words for least, words in _SHARES if best.bits >= least * now.bits)
    lines.append(text(f"Why: for the minutes it takes it should settle most, {share} of what is still open."))
    return lines


def _odds(model: BenchModel) -> dict[str, Any]:
    helper = model.helper
    button = "Put the odds away" if helper.odds_shown else "Show how the suspects stand"
    return {
        "button": button,
        "blocks": _worked_out(helper.standing() if helper.odds_shown else None, model, _odds_blocks),
    }


def _odds_blocks(model: BenchModel, standing: OddsAndAdvice) -> list[Block]:
    """Suspects as they stood at the start, now, and after the findings that changed most, of 100 vehicles like this one."""
    # here: a bench that shows no odds loads no drawing library
    from course_lib.plots.suspects import MOST_COLUMNS, of_hundred, telling

    last = len(standing.odds) - 1
    pairs = pairwise(standing.odds)
    moved = [0.0, *(float(abs(now.probability - before.probability).sum()) for before, now in pairs)]
    after = telling(moved, MOST_COLUMNS)
    rows = [int(i) for i in standing.odds[-1].order[:_MOST_ROWS]]
    shares = [standing.odds[i].probability[rows] for i in after]
    counts = [of_hundred([*share, 1.0 - share.sum()]) for share in shares]
    called = dict(model.case.cause_choices)
    labels = [called[standing.odds[-1].causes[i]] for i in rows] + ["all others"]
    heads = [f"after {i}" if i else "at the start" for i in after]
    body = [
        ((label, *(str(count[place]) for count in counts)), "lead" if place == 0 else "")
        for place, label in enumerate(labels)
    ]
    return [
        table_block("Of 100 vehicles like this one, so many have it", ["suspect", *heads], body),
        text("The numbers in the heads are those of the findings above; what changed less is left out."),
        picture(f"odds {model.system} {last}"),
    ]
