"""What opens only after something before it is answered: the steps of a worked case, and what a lesson shows after a guess."""

from __future__ import annotations

from collections.abc import Callable, Iterable


def first_unanswered(before: Iterable[str], answered: Callable[[str], bool]) -> str:
    """The first of the names `before` that still waits for an answer; "" where none does, and what follows is open."""
    return next((name for name in before if not answered(name)), "")
