"""A learner's repair driven on, beside the page: one drive, of which verdict and debrief both tell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from course_lib.bench.job_queue import Job, JobQueue, Progress
from course_lib.faults.parts import NO_PART

if TYPE_CHECKING:
    from course_lib.assessment.record import Answer
    from course_lib.cases.key import Key
    from course_lib.faults.stored import Story


def repair_of(answer: Answer) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Parts renewed and causes put right by an answer; where its repair is left open, what it names as broken and why."""
    if answer.repair.renew or answer.repair.correct:
        return _real(answer.repair.renew), answer.repair.correct
    return _real(answer.parts), answer.causes


def _real(parts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(part for part in parts if part != NO_PART)


def repair_driven(beside: JobQueue, key: Key, parts: tuple[str, ...], causes: tuple[str, ...]) -> Job:
    """The repair driven on over the owner's miles: a `Story` once it is finished."""

    def drive(_progress: Progress) -> Story:
        from course_lib.cases.repair_forward import drive_repair

        return drive_repair(key, parts, causes)

    return beside.ask(("drive", parts, causes), drive)
