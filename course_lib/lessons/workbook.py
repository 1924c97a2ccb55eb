"""A learner's work on a lesson: answers kept in the letters of its file, judged anew whenever they are looked at.

Points are never stored, so the file holds nothing that could be wrong about them: `answers/<lesson>.json`.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec
from msgspec.structs import replace

from course_lib.assessment.marking import CheckFailed, NotAnswered
from course_lib.assessment.record import (
    CONFIDENCE,
    MOST_BYTES,
    MOST_CHARACTERS,
    clean_text,
    record_path,
    write_whole,
)
from course_lib.assessment.record.store import folder_lock, move_aside
from course_lib.base.guards import one_of
from course_lib.lessons.item_kinds import AnyItem, Judged, Match, Order, Predict
from course_lib.lessons.item_layout import Layout, lay_out
from course_lib.lessons.lesson import PASS_SHARE, load_lesson

SECOND_TRY = 0.5
"""What the second try earns of the share that it adds."""

AGAIN = "Do the practice again"
"""The words on the button that opens the practice items once more."""

Name = Annotated[str, msgspec.Meta(max_length=80)]
Text = Annotated[str, msgspec.Meta(max_length=MOST_CHARACTERS)]


class Try(msgspec.Struct, frozen=True, kw_only=True):
    """One answer as it was given; `sureness` is one of CONFIDENCE for a prediction, else empty."""

    given: Text
    sureness: Name = ""


Tries = dict[Name, tuple[Try, ...]]


class LessonRecord(msgspec.Struct, frozen=True, kw_only=True):
    """What is kept of a lesson: item id -> the answers given, in order. seed: what options, cards and answers are dealt by; drawn
    once for a learner and anew when the practice is done again, "" before anything was dealt.
    """

    schema_version: Literal[1, 2] = 2
    lesson: Name
    seed: Name = ""
    tries: Tries = {}


class ItemResult(msgspec.Struct, frozen=True, kw_only=True):
    """How an item stands. points: 0..1. done: nothing more is asked of it. thinking: thoughts behind the slips."""

    points: float
    done: bool
    right: bool
    judged: tuple[Judged, ...]

    @property
    def thinking(self) -> tuple[str, ...]:
        """Ids of the thoughts behind all slips, in their order."""
        return tuple(dict.fromkeys(thought for judged in self.judged for thought in judged.thinking))


class Workbook:
    """One learner's work on one lesson. The file is the only memory: an answer is on disk before it is replied to."""

    def __init__(self, name: str, *, folder: Path | str = "answers") -> None:
        self.name, self.lesson = name, load_lesson(name)
        self.path = record_path(name, folder)
        self._unsaved_seed = secrets.token_hex(8)

    def tries(self, item: str) -> tuple[Try, ...]:
        """The answers given to an item; those that can no longer be read (the item was rewritten) are left out."""
        asked = self.lesson.item(item)
        return tuple(each for each in self._read().tries.get(item, ()) if _readable(asked, each.given))

    def deal(self, item: str) -> Layout:
        """How an item is laid out for this learner: the same at every look, until the practice is done again."""
        return lay_out(self.lesson.item(item).dealt, f"{self._seed()}/{self.name}/{item}")

    def result(self, item: str) -> ItemResult:
        """How an item stands."""
        return judge_item(self.lesson.item(item), self.tries(item))

    def answer(self, item: str, given: str, *, sureness: str = "") -> ItemResult:
        """Take an answer in letters of the file. Raises ValueError for one that cannot be read, or when nothing more is asked."""
        asked, given = self.lesson.item(item), clean_text(given)
        if self.result(item).done:
            raise ValueError(
                f"item must still be open, got {item!r}, which is closed. Go on to the next one."
            )
        if isinstance(asked, Predict):
            one_of("sureness", sureness, CONFIDENCE)
        asked.read(given)
        one = Try(given=given, sureness=sureness)
        self._update(lambda record: {"tries": record.tries | {item: (*record.tries.get(item, ()), one)}})
        return self.result(item)

    def again(self) -> None:
        """Start the practice items afresh, dealt anew; predictions and sentences stay."""
        scored = {item.id for item in self.lesson.scored}
        self._update(
            lambda record: {
                "tries": {name: made for name, made in record.tries.items() if name not in scored},
                "seed": secrets.token_hex(8),
            }
        )

    @property
    def share(self) -> float:
        """Points earned so far as a share of all points of the lesson."""
        scored = self.lesson.scored
        return sum(self.result(item.id).points for item in scored) / max(len(scored), 1)

    @property
    def open_items(self) -> tuple[str, ...]:
        """The practice items that still wait for an answer."""
        asked = self.lesson.scored + self.lesson.must_fill
        return tuple(item.id for item in asked if not self.result(item.id).done)

    @property
    def passed(self) -> bool:
        """Whether every practice item is answered and the points reach `PASS_SHARE`."""
        return not self.open_items and self.share >= PASS_SHARE

    def _read(self) -> LessonRecord:
        """The saved record, empty if there is none. One that cannot be read is moved aside, never overwritten."""
        try:
            if self.path.stat().st_size > MOST_BYTES:
                raise ValueError(f"larger than {MOST_BYTES} bytes")
            found = msgspec.json.decode(self.path.read_bytes(), type=LessonRecord)
            if found.lesson != self.name:
                raise ValueError(f"belongs to lesson {found.lesson!r}")
            return self._of_first(found) if found.schema_version == 1 else found
        except (FileNotFoundError, NotADirectoryError):
            return LessonRecord(lesson=self.name)
        except (msgspec.MsgspecError, ValueError, RecursionError):
            move_aside(self.path)
            return LessonRecord(lesson=self.name)

    def _of_first(self, found: LessonRecord) -> LessonRecord:
        """A record of the first version: it kept cards and matches in the letters of a page dealt by the id of the item."""
        mixed = {item.id: item for item in self.lesson.items if isinstance(item, Order | Match)}
        tries = {
            name: tuple(
                replace(each, given=lay_out(mixed[name].dealt, name).of_file(each.given)) for each in made
            )
            if name in mixed
            else made
            for name, made in found.tries.items()
        }
        return replace(found, schema_version=2, tries=tries)

    def _seed(self) -> str:
        """What is dealt by, kept on disk from the first look on; where that cannot be written, for this sitting."""
        if seed := self._read().seed:
            return seed
        try:
            self._update(lambda record: {"seed": record.seed or self._unsaved_seed})
        except OSError:
            return self._unsaved_seed
        return self._read().seed

    def _update(self, change: Callable[[LessonRecord], dict[str, Any]]) -> None:
        """Put the changed fields of the record on disk, with nobody else writing meanwhile. Raises OSError."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with folder_lock(self.path.parent):
            found = self._read()
            found = replace(found, **change(found))
            write_whole(self.path, msgspec.json.format(msgspec.json.encode(found), indent=2))


def judge_item(item: AnyItem, tries: tuple[Try, ...]) -> ItemResult:
    """How an item stands after some answers: the first counts in full, what the second adds counts by half."""
    judged = tuple(item.judge(each.given) for each in tries[: item.tries])
    points, best = 0.0, 0.0
    for number, each in enumerate(judged):
        points += max(each.share - best, 0.0) * SECOND_TRY ** min(number, 1)
        best = max(best, each.share)
    right = bool(judged) and judged[-1].right
    return ItemResult(points=points, done=right or len(judged) >= item.tries, right=right, judged=judged)


def answer_items(name: str, *, folder: str = "answers", **given: Any) -> None:
    """Answer several items at once, by their ids and in letters of the lesson file: what a solved notebook does instead of a page.

    An item that is closed already stays as it is.
    """
    book = Workbook(name, folder=folder)
    for item, answer in given.items():
        if not book.result(item).done:
            sure = CONFIDENCE[1] if isinstance(book.lesson.item(item), Predict) else ""
            book.answer(item, str(answer), sureness=sure)


def check_item(name: str, item: str, *, folder: str = "answers") -> None:
    """Pass if the item is answered rightly; else fail with one line. For check cells at the end of a notebook."""
    book = Workbook(name, folder=folder)
    result = book.result(item)
    if not result.judged:
        raise NotAnswered(
            f"Item {item} of lesson {name} has no answer yet. Answer it on its page, then run this again."
        )
    if not result.right:
        raise CheckFailed(
            f"Item {item} of lesson {name}: {book.deal(item).read(result.judged[-1].replies[0])}"
        )


def _items(book: Workbook) -> str:
    """The open items as the learner counts them."""
    numbers = [str(book.lesson.numbers[name]) for name in book.open_items]
    return f"item{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def check_lesson(name: str, *, folder: str = "answers") -> str:
    """One line with the points of a lesson that is passed; else fail with one line that says what is missing."""
    book = Workbook(name, folder=folder)
    if book.open_items:
        raise NotAnswered(f"Still open: {_items(book)}. Answer above, then run this cell again.")
    if not book.passed:
        raise CheckFailed(
            f"{book.share:.0%} of the points, {PASS_SHARE:.0%} are wanted. Read the replies again. "
            f'Then press "{AGAIN}" above: the items are open once more.'
        )
    return f"Lesson passed with {book.share:.0%} of the points."


def _readable(item: AnyItem, given: str) -> bool:
    try:
        item.read(given)
    except ValueError:
        return False
    return True
