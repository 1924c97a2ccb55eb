"""Types of what the library computes with: arrays over vehicles, operating points and elements; and plain numbers."""

from dataclasses import dataclass, fields
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]  # numbers, in the precision of the batch
Values = float | Array  # one for all, or an array that broadcasts
Flags = NDArray[np.bool_]
Places = NDArray[np.integer[Any]]  # rows, columns, gears
Rows = Places | Flags | slice  # which of a batch


@dataclass(slots=True)
class Batched:
    """Arrays of a batch side by side, for structures to inherit from: the batch is the first axis of each."""

    def keep(self, rows: Rows) -> Self:
        """Some of the batch."""
        return type(self)(**{entry.name: getattr(self, entry.name)[rows] for entry in fields(self)})

    def join(self, others: Self) -> Self:
        """These and others after them."""
        names = [entry.name for entry in fields(self)]
        return type(self)(**{n: np.concatenate([getattr(self, n), getattr(others, n)]) for n in names})
