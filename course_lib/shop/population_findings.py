"""Everything every inspection would find on a whole population of vehicles, as arrays: no words, no instrument error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading
from course_lib.shop.inspect import methods_of
from course_lib.shop.procedure import carry_out
from course_lib.shop.subject import Subject


def inspect_population(subject: Subject) -> dict[str, BatchFinding]:
    """What each inspection finds on the vehicles of `subject`, whatever must come first: inspection id -> `Found`.

    Readings are in workshop units, (n,) each, NaN where nothing can be read. A key may stand under several inspections; then
    it is the same there.
    """
    parts, methods = [subject.rows(rows) for rows in subject.chunks()], methods_of(subject.unit)
    found = [carry_out(part, [method(part) for method in methods.values()]) for part in parts]
    return {name: _joined([each[i] for each in found]) for i, name in enumerate(methods)}


def _joined(parts: list[BatchFinding]) -> BatchFinding:
    """The same inspection of one batch after the other as one."""
    return BatchFinding(
        measured=tuple(_one_reading(each) for each in zip(*(part.measured for part in parts), strict=True)),
        seen=tuple(_one_look(each) for each in zip(*(part.seen for part in parts), strict=True)),
    )


def _one_reading(parts: tuple[BatchReading, ...]) -> BatchReading:
    swings = [part.swing for part in parts if part.swing is not None]
    asked = [part.asked for part in parts if part.asked is not None]
    notes = zip(*(part.notes for part in parts), strict=True)
    return replace(
        parts[0],
        value=np.concatenate([part.value for part in parts]),
        swing=np.concatenate(swings) if swings else None,
        asked=np.concatenate(asked) if asked else None,
        notes=tuple((each[0][0], np.concatenate([where for _, where in each])) for each in notes),
    )


def _one_look(parts: tuple[BatchLook, ...]) -> BatchLook:
    chances = [part.chance for part in parts if part.chance is not None]
    chance = np.concatenate(chances) if chances else None
    value = np.concatenate([part.value for part in parts])
    every = zip(*(part.of for part in parts), strict=True)
    of = tuple((each[0][0], each[0][1], np.concatenate([where for *_, where in each])) for each in every)
    return replace(parts[0], value=value, chance=chance, of=of)
