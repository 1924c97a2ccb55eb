"""From a number to a word, by graded scales, so that words and numbers cannot disagree."""

from __future__ import annotations

from bisect import bisect_right
from functools import cache

import msgspec

from course_lib.datasets import read_data
from course_lib.vocabulary import one_of


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
def _scales() -> dict[str, Scale]:
    return read_data("words", ScalesFile).scales


def grade(scale: str, value: float) -> int:
    """Step of `value` on a scale, 0 least. Raises ValueError for an unknown scale."""
    one_of("scale", scale, _scales())
    return bisect_right(_scales()[scale].limits, value)


def word(scale: str, value: float) -> str:
    """The word for `value` on a scale."""
    return _scales()[scale].words[grade(scale, value)] if scale in _scales() else str(grade(scale, value))


def sentence(text: str) -> str:
    """`text` with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?", "\u201d")) else ".")
