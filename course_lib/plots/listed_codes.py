"""Codes as a screen lists them, and beside each what was stored at its moment, so that frames can be compared down a column."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.plots.drawing import LINE, SMALL, TEXT, DrawingSheet
from course_lib.plots.palette import GRAPHITE, INK, PAPER, RULE
from course_lib.plots.picture import Picture
from course_lib.plots.reading_marks import in_sentences

STATES = ("stored", "pending")
CODE, WORDS, FRAME, END = (
    0.48,
    1.2,
    3.4,
    7.8,
)  # in. of paper: where the columns begin, and where the last ends
MOST_COLUMNS, LETTER = 6, 0.083  # of a frame, beside its code; in. of paper, a letter of SMALL
WORD_LETTERS, ALL_LETTERS = 25, 88
LINE_HIGH = 0.18


@dataclass(frozen=True, slots=True)
class FrameEntry:
    """One value of a freeze frame: what it is, as it is shown with its unit, and a word for it ("hot"), if there is one."""

    name: str
    text: str
    word: str = ""


@dataclass(frozen=True, slots=True)
class ListedCode:
    """A code as its controller gives it: what it says, whether it is "stored" or "pending", and its freeze frame."""

    code: str
    words: str
    state: str
    controller: str
    frame: tuple[FrameEntry, ...] = ()

    def __post_init__(self) -> None:
        one_of("state", self.state, STATES)


def code_list(
    codes: Sequence[ListedCode],
    asked: Sequence[str],
    *,
    verdict: bool,
    system: str = "workshop",
    side: str = "",
) -> Picture:
    """Every code of every controller that was asked, in the order given; a controller without codes says so.

    The first values of the frames stand in columns, all others in lines below. verdict: whether the picture may say in what all
    frames are alike. Raises ValueError for a code of a controller that was not asked.
    """
    for each in codes:
        one_of("controller", each.controller, asked)
    shown = [_in_system(code, system) for code in codes]
    columns = list(dict.fromkeys(entry.name for code in shown for entry in code.frame))[:MOST_COLUMNS]
    ends = [line for line in (_alike(shown),) if verdict and line]
    lines = textwrap.wrap(ends[0], ALL_LETTERS) if ends else []
    high = 1.3 + sum(_high(code, columns) for code in shown) + 0.44 * len(asked)
    high += 0.24 * sum(not _of(shown, name) for name in asked) + LINE_HIGH * len(lines) + 0.1 * bool(lines)
    sheet = DrawingSheet("Codes", side, max(high, 1.8))
    y = _heads(sheet, columns)
    for name in asked:
        y = _controller(sheet, name, _of(shown, name), columns, y)
    for k, words in enumerate(lines):
        sheet.text(0.2, y + 0.1 + LINE_HIGH * k, words, size=SMALL, bold=True, name="value")
    return sheet.picture(_alt(shown, asked, ends))


def _of(codes: Sequence[ListedCode], controller: str) -> list[ListedCode]:
    return [code for code in codes if code.controller == controller]


def _in_system(code: ListedCode, system: str) -> ListedCode:
    frame = tuple(FrameEntry(e.name, units.text_in_system(e.text, system), e.word) for e in code.frame)
    return ListedCode(code.code, code.words, code.state, code.controller, frame)


def _alike(codes: Sequence[ListedCode]) -> str:
    """In what the frames agree: values whose word, or without one whose text, is the same in each of at least two."""
    frames = [{e.name: e.word or e.text for e in code.frame} for code in codes if code.frame]
    if len(frames) < 2:
        return ""
    shared = [f"{n} {w}" for n, w in frames[0].items() if all(frame.get(n) == w for frame in frames[1:])]
    return f"Alike in all {len(frames)} frames: {', '.join(shared) if shared else 'nothing'}"


# ---------------------------------------------------------------------- drawing
def _place(columns: Sequence[str], k: int) -> tuple[float, int]:
    """Where column `k` of the frames begins [in.], and how many letters it takes."""
    wide = (END - FRAME) / len(columns)
    return FRAME + wide * k, int((wide - 0.05) / LETTER)


def _heads(sheet: DrawingSheet, columns: Sequence[str]) -> float:
    for x, words in ((CODE, "code"), (WORDS, "what it says")):
        sheet.text(x, 0.88, words, size=SMALL, color=GRAPHITE)
    for k, name in enumerate(columns):
        x, letters = _place(columns, k)
        lines = textwrap.wrap(name, letters)
        for i, words in enumerate(lines):
            sheet.text(x, 0.88 - LINE_HIGH * (len(lines) - 1 - i), words, size=SMALL, color=GRAPHITE)
    return 1.15


def _controller(
    sheet: DrawingSheet, name: str, codes: Sequence[ListedCode], columns: Sequence[str], y: float
) -> float:
    """One controller and its codes; the baseline below them."""
    sheet.line([(0.2, y - 0.18), (END, y - 0.18)], width=0.5, color=RULE)
    sheet.text(0.2, y + 0.03, name, bold=True)
    y += 0.3
    for code in codes:
        _row(sheet, code, columns, y)
        y += _high(code, columns)
    if not codes:
        sheet.text(CODE, y, "no codes", size=SMALL)
        y += 0.24
    return y + 0.14


def _words(code: ListedCode, columns: Sequence[str]) -> list[str]:
    """What a code says, in lines: as wide as the frames leave room for."""
    return textwrap.wrap(code.words, WORD_LETTERS if columns else ALL_LETTERS - WORD_LETTERS)


def _high(code: ListedCode, columns: Sequence[str]) -> float:
    beside = max((len(lines) for lines in _cells(code, columns)), default=0)
    lines = max(2, len(_words(code, columns)), beside + len(_also(code, columns)))
    return LINE_HIGH * lines + 0.14


def _row(sheet: DrawingSheet, code: ListedCode, columns: Sequence[str], y: float) -> None:
    _sign(sheet, code.state, 0.31, y - 0.05)
    sheet.text(CODE, y, code.code, size=TEXT, bold=True)
    sheet.text(CODE, y + LINE_HIGH, code.state, size=SMALL)
    for i, words in enumerate(_words(code, columns)):
        sheet.text(WORDS, y + LINE_HIGH * i, words, size=SMALL)
    cells = _cells(code, columns)
    for k, lines in enumerate(cells):
        for i, words in enumerate(lines):
            x = _place(columns, k)[0]
            sheet.text(x, y + LINE_HIGH * i, words, size=SMALL, bold=i == 0, name="value")
    y += LINE_HIGH * max((len(lines) for lines in cells), default=0)
    for i, words in enumerate(_also(code, columns)):
        sheet.text(FRAME, y + LINE_HIGH * i, words, size=SMALL, color=GRAPHITE, name="value")


def _cells(code: ListedCode, columns: Sequence[str]) -> list[list[str]]:
    """What stands in each column of the frame, in lines; a dash where the frame has nothing."""
    frame = {entry.name: entry for entry in code.frame}
    cells = []
    for k, name in enumerate(columns):
        letters = _place(columns, k)[1]
        entry = frame.get(name, FrameEntry(name, "\u2013"))
        cells.append(textwrap.wrap(entry.text, letters) + textwrap.wrap(entry.word, letters))
    return cells


def _also(code: ListedCode, columns: Sequence[str]) -> list[str]:
    """What a frame holds beyond the columns."""
    rest = [f"{e.name} {_told(e)}" for e in code.frame if e.name not in columns]
    wide = int((END - FRAME) / LETTER)
    return textwrap.wrap("; ".join(rest), wide)


def _sign(sheet: DrawingSheet, state: str, x: float, y: float) -> None:
    """Stored: a filled square; pending: an open one, dashed."""
    if state == "stored":
        sheet.box(x - 0.06, y - 0.06, 0.12, 0.12, face=INK, edge=INK, width=LINE, name="stored")
    else:
        sheet.box(
            x - 0.06,
            y - 0.06,
            0.12,
            0.12,
            face=PAPER,
            edge=INK,
            width=LINE,
            linestyle=(0, (2, 1)),
            name="pending",
        )


# ---------------------------------------------------------------------- words
def _told(entry: FrameEntry) -> str:
    return f"{entry.text} ({entry.word})" if entry.word else entry.text


def _alt(codes: Sequence[ListedCode], asked: Sequence[str], ends: Sequence[str]) -> str:
    told = []
    for name in asked:
        mine = _of(codes, name)
        told.append(
            f"{name}: {len(mine)} code{'s' if len(mine) != 1 else ''}" if mine else f"{name}: no codes"
        )
        for code in mine:
            frame = ", ".join(f"{e.name} {_told(e)}" for e in code.frame)
            told.append(f"{code.code}, {code.state}, {code.words}" + (f"; frame: {frame}" if frame else ""))
    return in_sentences(["Codes", *told, *ends])
