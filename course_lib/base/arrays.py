"""Types of what the library computes with: arrays over vehicles, operating points and elements; and plain numbers."""

from dataclasses import Field, fields
from typing import Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]  # numbers, in the precision of the batch
Values = float | Array  # one for all, or an array that broadcasts
Flags = NDArray[np.bool_]
Places = NDArray[np.integer[Any]]  # rows, columns, gears
Rows = Places | Flags | slice  # which of a batch


class Batched:
    """Arrays of a batch side by side, for dataclasses to inherit from: the batch is the first axis of each. An entry may be such a
    structure itself."""

    __slots__ = ()
    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    def keep(self, rows: Rows) -> Self:
        """Some of the batch."""
        values = {entry.name: getattr(self, entry.name) for entry in fields(self)}
        return type(self)(
            **{n: v.keep(rows) if isinstance(v, Batched) else v[rows] for n, v in values.items()}
        )

    def join(self, *others: Self) -> Self:
        """These and others after them."""
        values = {e.name: [getattr(each, e.name) for each in (self, *others)] for e in fields(self)}
        return type(self)(**{name: _joined(parts) for name, parts in values.items()})


def _joined(parts: list[Any]) -> Any:
    """Entries of one name after each other."""
    first, *others = parts
    return first.join(*others) if isinstance(first, Batched) else np.concatenate(parts)
