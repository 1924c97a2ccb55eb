"""Inspections that ask what happens at some operating points; the points of many are worked at one go.

An inspection, or a part of one, is either a `Found`, or a generator: it yields the operating points it asks for, once, is sent
the `Workings` at them, and returns its `Found`.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import replace
from typing import TypeVar

from course_lib.shop.batch import BatchFinding
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.vehicle.operating_point import Workings

T = TypeVar("T")
Procedure = Generator[list[AskedPoint], Workings, BatchFinding]


def together(
    parts: Sequence[BatchFinding | Procedure],
) -> Generator[list[AskedPoint], Workings, list[BatchFinding]]:
    """Several inspections as one: their points are asked for at one go, and each gets its own."""
    asked = [[] if isinstance(part, BatchFinding) else next(part) for part in parts]
    work = yield [point for points in asked for point in points]
    found, start = [], 0
    for part, points in zip(parts, asked, strict=True):
        stop = start + len(points)
        found.append(part if isinstance(part, BatchFinding) else _answer(part, work.cut(start, stop)))
        start = stop
    return found


def as_one(parts: Sequence[BatchFinding | Procedure]) -> Procedure:
    """The parts of one inspection, put together."""
    found = yield from together(parts)
    drawn = [part.traces for part in found if part.traces is not None]
    return BatchFinding(
        measured=tuple(each for part in found for each in part.measured),
        seen=tuple(each for part in found for each in part.seen),
        caption=next((part.caption for part in found if part.caption is not None), None),
        traces=(lambda row, seed: tuple(each for draw in drawn for each in draw(row, seed)))
        if drawn
        else None,
    )


def as_it_came(part: Procedure) -> Procedure:
    """The same with the controller, where there is one, acting on the codes that are stored."""
    asked = [replace(point, acting=1.0) for point in next(part)]
    work = yield asked
    return _answer(part, work)


def carry_out(subject: Subject, parts: Sequence[BatchFinding | Procedure]) -> list[BatchFinding]:
    """What each of `parts` finds on the vehicles of `subject`."""
    asking = together(parts)
    points = next(asking)
    return _answer(asking, subject.at(points or [AskedPoint("P")]))


def _answer(asking: Generator[list[AskedPoint], Workings, T], work: Workings) -> T:
    """What a generator returns when it is sent the workings it asked for."""
    try:
        asking.send(work)
    except StopIteration as done:
        answer: T = done.value
        return answer
    raise ValueError(
        "an inspection must ask for its points once, got a second time. Ask for all of them at one go."
    )
