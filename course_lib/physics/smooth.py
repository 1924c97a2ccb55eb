"""One smooth switch, used wherever a thing sets in gradually. Exactly 0 and exactly 1 outside its range."""

import numpy as np


def smooth_step(value, low, high):
    """Rise from exactly 0 at `low` to exactly 1 at `high`, with three smooth derivatives."""
    u = np.clip((value - low) / (high - low), 0.0, 1.0)
    return u**4 * (35.0 - u * (84.0 - u * (70.0 - 20.0 * u)))
