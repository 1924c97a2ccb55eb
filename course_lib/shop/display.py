"""Findings in the units the reader wants: the same readings, with the same verdict, in workshop or metric units."""

from __future__ import annotations

import msgspec

from course_lib.base import units
from course_lib.shop.findings import Finding, Look, Paper, Reading

DIFFERENCE = ("_drop_f", "_minus_ambient_f", "_error_f")  # what keys of steps between two temperatures end in


def reading_in_system(reading: Reading, system: str) -> Reading:
    """`reading` as `system` ("workshop" or "metric") shows it; within spec stays within spec.

    Value, swing and spec are rounded alike, so that a reading on the limit of its spec still stands on it.
    Raises ValueError for an unknown system.
    """
    difference = reading.key.endswith(DIFFERENCE)
    decimals = units.metric_decimals(reading.decimals, reading.unit, system)
    unit = units.in_system(0.0, reading.unit, system)[1]
    label = units.text_in_system(reading.label, system)
    if unit == reading.unit:
        return msgspec.structs.replace(reading, label=label)

    def turned(number: float) -> float:
        return round(units.in_system(number, reading.unit, system, difference=difference)[0], decimals)

    def turned_all(numbers: tuple[float | None, ...] | None) -> tuple[float | None, ...] | None:
        return numbers and tuple(None if each is None else turned(each) for each in numbers)

    return msgspec.structs.replace(
        reading,
        label=label,
        value=None if reading.value is None else turned(reading.value),
        unit=unit,
        spec=turned_all(reading.spec),
        sigma=units.in_system(reading.sigma, reading.unit, system, difference=True)[0],
        swing=turned_all(reading.swing),
        decimals=decimals,
        note=units.text_in_system(reading.note, system),
    )


def finding_in_system(finding: Finding, system: str) -> Finding:
    """`finding` with its title, readings, looks and words in `system`. Raises ValueError for an unknown system."""
    return msgspec.structs.replace(
        finding,
        title=units.text_in_system(finding.title, system),
        readings=tuple(reading_in_system(each, system) for each in finding.readings),
        looks=tuple(
            Look(key=each.key, grade=each.grade, text=units.text_in_system(each.text, system))
            for each in finding.looks
        ),
        words=tuple(units.text_in_system(words, system) for words in finding.words),
        papers=finding.papers and tuple(_paper_in_system(each, system) for each in finding.papers),
    )


def _paper_in_system(paper: Paper, system: str) -> Paper:
    rows = (tuple(units.text_in_system(cell, system) for cell in row) for row in paper.rows)
    return msgspec.structs.replace(paper, rows=tuple(rows))
