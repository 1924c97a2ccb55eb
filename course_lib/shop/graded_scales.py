"""From a number to a word, by graded scales, so that words and numbers cannot disagree."""

from __future__ import annotations

from functools import cache

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from course_lib.base.arrays import Places
from course_lib.base.data_files import read_data
from course_lib.base.guards import one_of


class Scale(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Words from least to most, and the values at which the next word begins."""

    limits: tuple[float, ...]
    words: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.words) != len(self.limits) + 1 or list(self.limits) != sorted(self.limits):
            raise ValueError(
                f"limits must rise and be one fewer than words, got {self.limits}. Correct the scale."
            )


class ScalesFile(msgspec.Struct, frozen=True):
    """The data file."""

    scales: dict[str, Scale]


@cache
def all_scales() -> dict[str, Scale]:
    """Every scale by name."""
    return read_data("words", ScalesFile).scales


def _scale(name: str) -> Scale:
    one_of("scale", name, all_scales())
    return all_scales()[name]


def grades(scale: str, values: ArrayLike) -> Places:
    """Step of each of `values` on a scale, 0 least, also where there is no number. Raises ValueError for an unknown scale."""
    numbers = np.nan_to_num(np.asarray(values, float), nan=-np.inf)
    steps: Places = np.searchsorted(_scale(scale).limits, numbers, side="right")
    return steps


def grade(scale: str, value: float) -> int:
    """Step of one value on a scale, 0 least. Raises ValueError for an unknown scale."""
    return int(grades(scale, value))


def step_word(scale: str, step: int) -> str:
    """The word for a step of a scale."""
    return _scale(scale).words[step]


def word(scale: str, value: float) -> str:
    """The word for `value` on a scale."""
    return step_word(scale, grade(scale, value))


def sentence(text: str) -> str:
    """`text` with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?", "\u201d")) else ".")
