"""Types of what the library computes with: arrays over vehicles, operating points and elements; and plain numbers."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]  # numbers, in the precision of the batch
Values = float | Array  # one for all, or an array that broadcasts
Flags = NDArray[np.bool_]
Places = NDArray[np.integer[Any]]  # rows, columns, gears
Rows = Places | Flags | slice  # which of a batch
