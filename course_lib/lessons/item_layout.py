"""In which order the things to choose from lie on a learner's page, and what their letters mean.

Answers are kept and judged in the letters of the lesson file, where A is what stands first; a page has letters of its own. So
marking knows no order, and a record stays readable however it was dealt. In the texts of a lesson, [C] or [A, C] stands for
options by their letters in the file, and is read as the letters of the page.
"""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_lowercase, ascii_uppercase

_MARK = re.compile(r"\[([A-Ha-h](?:, [A-Ha-h])*)\]")


@dataclass(frozen=True)
class Layout:
    """How the things of an item lie on a page. order: the place in the file of what is shown first, second, ...

    Empty for an item that has nothing to lay out.
    """

    order: tuple[int, ...] = ()

    def lettered(self, things: Sequence[str], letters: str = ascii_uppercase) -> list[list[str]]:
        """The things in the order of the page, each behind its letter there; as they stand, if nothing is laid out."""
        shown = [things[n] for n in self.order] or things
        return [[letter, thing] for letter, thing in zip(letters, shown, strict=False)]

    def of_file(self, given: str) -> str:
        """An answer in letters of the page, in those of the file. What is no letter of the page stays as it is."""
        return self._turned(given, dict(enumerate(self.order)))

    def on_page(self, given: str) -> str:
        """An answer in letters of the file, in those of the page."""
        return self._turned(given, {place: at for at, place in enumerate(self.order)})

    def read(self, text: str) -> str:
        """A text of the lesson as the learner of this page reads it: [A, C] as two letters of the page, "B and D"."""
        return _MARK.sub(lambda mark: _listed(sorted(self.on_page(mark[1]).split(", "))), text)

    def _turned(self, given: str, place: dict[int, int]) -> str:
        if not place:
            return given
        letters = {a[n]: a[at] for a in (ascii_uppercase, ascii_lowercase) for n, at in place.items()}
        return "".join(letters.get(letter, letter) for letter in given)


def lay_out(count: int, seed: str) -> Layout:
    """`count` things laid out in a way that depends on `seed` alone and never leaves them as the file has them."""
    order = list(range(count))
    shuffle = random.Random(f"{seed}/{count}").shuffle
    while order == list(range(count)) and count > 1:
        shuffle(order)
    return Layout(tuple(order))


def _listed(letters: list[str]) -> str:
    """ "A", "A and C", "A, C and D"."""
    return " and ".join(filter(None, (", ".join(letters[:-1]), letters[-1])))
