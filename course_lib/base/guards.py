"""The guards that refuse bad input, and the wording of every refusal.

Form of a message: ``<name> must be <rule>, got <value>. <next step>``
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

import numpy as np
from numpy.typing import ArrayLike


def positive(name: str, value: ArrayLike, hint: str = "") -> None:
    """Raise ValueError unless every element of `value` is greater than 0."""
    if not np.all(np.asarray(value) > 0):
        raise ValueError(f"{name} must be greater than 0, got {value!r}. {hint}".rstrip())


def between(name: str, value: ArrayLike, low: float, high: float, hint: str = "") -> None:
    """Raise ValueError unless every element of `value` lies in [low, high]."""
    array = np.asarray(value)
    if not np.all((array >= low) & (array <= high)):
        raise ValueError(f"{name} must be between {low:g} and {high:g}, got {value!r}. {hint}".rstrip())


def one_of(name: str, value: str, allowed: Iterable[str]) -> None:
    """Raise ValueError unless `value` is one of `allowed`; the message names the nearest match."""
    names = list(allowed)
    if value in names:
        return
    near = get_close_matches(str(value), names, n=1, cutoff=0.4)
    step = f"Did you mean {near[0]!r}?" if near else f"Choose from: {', '.join(names)}."
    raise ValueError(f"{name} must be a name from the list, got {value!r}. {step}")
