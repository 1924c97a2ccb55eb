"""Sets for a class: every learner gets cases of their own, equally hard, and the instructor keeps the keys.

`draw_set` makes the cases, `write_set` the folders. Both depend on the secret, the class list and the wish alone.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from course_lib.base.guards import one_of
from course_lib.cases.case import NO_SEED, Case, altered
from course_lib.cases.case_file import save_case
from course_lib.cases.key import Key
from course_lib.cases.key_file import save_key
from course_lib.cases.make import make_case
from course_lib.classroom.case_dealing import Evenness, deal_cases, evenness_of
from course_lib.classroom.class_notebook import class_notebook
from course_lib.classroom.class_secret import case_id_of, common_size, derive, pad_case, same_times, seed_of
from course_lib.classroom.parallel import Progress, quiet, run_parallel
from course_lib.classroom.register import NOTEBOOK, REGISTER, Register, RegisterEntry
from course_lib.faults.causes import Cause, causes_of
from course_lib.lessons.syllabus import DIFFICULTIES, course_lessons, lesson_of
from course_lib.vehicle.unit_spec import load_unit
from course_lib.vehicle.uses import load_uses

MOST_LEARNERS, MOST_NAME = 500, 80
CASES_EACH, MOST_CASES = 3, 12
SPARE = 0.2  # more cases than needed, so that those that stand out can be left out
MOST_DRAWS = 6  # times the cases needed; then the wish cannot be met


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRequest:
    """What the cases of a set should be: for a lesson (by number), of a difficulty, with a unit, signal and use; None = drawn."""

    each: int = CASES_EACH
    lesson: int | None = None
    difficulty: str = "any"
    unit: str = "T3"
    signal: str | None = None
    use: str | None = None

    def causes(self) -> tuple[str, ...]:
        """The causes to draw from; empty: any. Raises ValueError for a signal, use or lesson that does
        not exist or that the unit has not."""
        spec = load_unit(self.unit)
        if self.signal is not None:
            one_of(f"signal of the {spec.title}", self.signal, spec.signals)
        if self.use is not None:
            one_of("use", self.use, load_uses().uses)
        if self.lesson is None:
            return ()
        lesson = lesson_of(self.lesson)
        signals = (self.signal,) if self.signal else spec.signals
        there = {cause.id for signal in signals for cause in causes_of(spec, signal) if self._met(cause)}
        found = tuple(cause for cause in lesson.causes if cause in there)
        if lesson.causes and not found:
            fit = [
                str(number)
                for number, each in course_lessons().items()
                if not each.causes or there & {*each.causes}
            ]
            raise ValueError(
                f"lesson must have a cause that the {spec.title} can have, got {self.lesson}. Choose another unit, signal or "
                f"use, or one of the lessons {', '.join(fit)}."
            )
        return found

    def _met(self, cause: Cause) -> bool:
        return self.use is None or cause.met_in(self.use)


@dataclass(frozen=True, slots=True)
class ClassSet:
    """A set as drawn: the learners' entries, every case with its key, and how equal it is."""

    entries: tuple[RegisterEntry, ...]
    cases: dict[str, tuple[Case, Key]]
    spread: Evenness


class _Draw(msgspec.Struct, frozen=True):
    """One case to be made, as plain data that can be sent to another process or machine."""

    number: int
    seed: int
    name: str
    request: dict[str, Any]


Maker = Callable[..., tuple[Case, Key]]


# ---------------------------------------------------------------------- the class list
def read_class_list(path: Path) -> list[str]:
    """The names on a class list: CSV, from the column "name", else from the first. Blank lines are passed over.

    Raises ValueError for an empty or too long list, a name twice, or a file that is not text.
    """
    try:
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline="")))
    except (UnicodeDecodeError, csv.Error):
        raise ValueError(
            f"class list must be a CSV file in UTF-8, got {path}. Save it as CSV UTF-8."
        ) from None
    column, start = _name_column(rows)
    names = [
        " ".join(row[column].split()) for row in rows[start:] if len(row) > column and row[column].strip()
    ]
    if not 0 < len(names) <= MOST_LEARNERS:
        raise ValueError(
            f"class list must hold 1 to {MOST_LEARNERS} names, got {len(names)} in {path}. Check the file."
        )
    long = [name for name in names if len(name) > MOST_NAME]
    twice = sorted({name for name in names if [n.casefold() for n in names].count(name.casefold()) > 1})
    if long or twice:
        raise ValueError(
            f"names must be different and at most {MOST_NAME} characters, got {(long or twice)[0]!r}. Add a number or shorten it."
        )
    return names


def _name_column(rows: list[list[str]]) -> tuple[int, int]:
    """The column with the names, and the first row with one."""
    head = [cell.strip().casefold() for cell in rows[0]] if rows else []
    return (head.index("name"), 1) if "name" in head else (0, 0)


def folder_names(names: Iterable[str]) -> list[str]:
    """A folder for each name: its place on the list, and what of the name any disk can hold."""
    return [f"{number:02d}-{_slug(name)}".rstrip("-") for number, name in enumerate(names, start=1)]


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.casefold()).strip("-")[:40].strip("-")


# ---------------------------------------------------------------------- drawing
def draw_set(
    names: list[str],
    secret: bytes,
    wish: SetRequest,
    *,
    jobs: int = 1,
    progress: Progress = quiet,
    maker: Maker = make_case,
) -> ClassSet:
    """Make cases until there are enough that fit the wish, and deal them. jobs: cases made at a time.

    Raises ValueError when the wish cannot be met.
    """
    one_of("difficulty", wish.difficulty, DIFFICULTIES)
    if not 1 <= wish.each <= MOST_CASES:
        raise ValueError(
            f"cases for each learner must be 1 to {MOST_CASES}, got {wish.each}. Three are common."
        )
    pool = _pool(len(names) * wish.each, secret, wish, jobs, progress, maker)
    minutes = [_minutes(key) for _, key in pool]
    rng = np.random.default_rng(seed_of(secret, "deal"))
    marks = [(" ".join(key.causes), case.work_order.owner) for case, key in pool]
    table = deal_cases(minutes, marks, len(names), wish.each, rng)
    entries = [
        RegisterEntry(name=name, folder=folder, cases=tuple(pool[i][0].id for i in row))
        for name, folder, row in zip(names, folder_names(names), table, strict=True)
    ]
    dealt = {pool[i][0].id: pool[i] for i in table.ravel()}
    return ClassSet(entries=tuple(entries), cases=dealt, spread=evenness_of(minutes, table))


def _pool(
    needed: int, secret: bytes, wish: SetRequest, jobs: int, progress: Progress, maker: Maker
) -> list[tuple[Case, Key]]:
    """The first cases, in the order of their numbers, that fit the wish: the same ones however many are made at a time."""
    wanted = needed + int(np.ceil(SPARE * needed)) if needed > 1 else 1
    causes, low, high = wish.causes(), *DIFFICULTIES[wish.difficulty]
    found: list[tuple[Case, Key]] = []
    start = 0
    while len(found) < wanted and start < MOST_DRAWS * needed + MOST_DRAWS:
        draws = [_draw(secret, n, wish, causes) for n in range(start, start + max(wanted - len(found), 1))]
        made = run_parallel(_Make(maker), draws, jobs=jobs, progress=_after(len(found), wanted, progress))
        found += [pair for pair in made if pair is not None and low <= _minutes(pair[1]) <= high]
        start += len(draws)
    if len(found) < needed:
        raise ValueError(
            f"wish must be one that vehicles can meet, got {len(found)} of {needed} cases in {start} tries. "
            "Ask for another lesson, difficulty or use."
        )
    return found[:wanted]


def _after(done: int, wanted: int, progress: Progress) -> Progress:
    """Progress that goes on where an earlier round left off."""
    return lambda at, _total: progress(min(done + at, wanted), wanted)


def _draw(secret: bytes, number: int, wish: SetRequest, causes: tuple[str, ...]) -> _Draw:
    pick = int.from_bytes(derive(secret, "cause", number)[:8], "big")
    request = {"unit": load_unit(wish.unit).name, "signal": wish.signal, "use": wish.use}
    request["cause"] = causes[pick % len(causes)] if causes else None
    return _Draw(number, seed_of(secret, "vehicle", number), case_id_of(secret, number), request)


@dataclass(frozen=True, slots=True)
class _Make:
    """Makes one case; None for a vehicle that cannot be had. The seed leaves the case and stays in the key."""

    maker: Maker

    def __call__(self, draw: _Draw) -> tuple[Case, Key] | None:
        try:
            case, key = self.maker(seed=draw.seed, name=draw.name, **draw.request)
        except ValueError:
            return None
        return altered(case, seed=NO_SEED), key


def _minutes(key: Key) -> int:
    if key.certificate is None:
        raise ValueError(f"key of {key.case_id} must hold a certificate, got none. Make the case anew.")
    return key.certificate.minutes


# ---------------------------------------------------------------------- folders
def check_new(out: Path) -> None:
    """Raise FileExistsError where `out` exists: a set is never overwritten."""
    if out.exists():
        raise FileExistsError(
            f"{out} must not exist yet, or a set handed out could be lost. Name a new folder."
        )


def write_set(made: ClassSet, out: Path, secret: bytes) -> Register:
    """Write `out`/learners with a folder for each learner, and `out`/instructor with keys and register.

    Either all of it is written or nothing. Raises FileExistsError where `out` exists: a set is never overwritten.
    """
    check_new(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    register = Register(
        entries=made.entries,
        minutes={name: _minutes(key) for name, (_, key) in sorted(made.cases.items())},
        spread=str(made.spread),
    )
    with tempfile.TemporaryDirectory(dir=out.parent, prefix=".set-") as room:
        top = Path(room) / "set"
        _write_instructor(made, register, top / "instructor", secret)
        for entry in made.entries:
            _write_learner(entry, top)
        same_times(top)
        top.rename(out)
    return register


def _write_instructor(made: ClassSet, register: Register, place: Path, secret: bytes) -> None:
    for name in ("cases", "keys"):
        (place / name).mkdir(parents=True)
    paths = [place / "cases" / f"{name}.json" for name in sorted(made.cases)]
    for path in paths:
        case, key = made.cases[path.stem]
        save_case(case, path)
        save_key(key, place / "keys" / f"{path.stem}.key")
    size = common_size(paths)
    for path in paths:
        pad_case(path, size, secret)
    text = msgspec.json.format(msgspec.json.encode(register), indent=2)
    (place / REGISTER).write_bytes(text + b"\n")
    place.chmod(0o700)


def _write_learner(entry: RegisterEntry, top: Path) -> None:
    place = top / "learners" / entry.folder
    (place / "cases").mkdir(parents=True)
    for name in entry.cases:
        shutil.copyfile(top / "instructor/cases" / f"{name}.json", place / "cases" / f"{name}.json")
    (place / NOTEBOOK).write_text(class_notebook(entry.cases), encoding="utf-8", newline="\n")
