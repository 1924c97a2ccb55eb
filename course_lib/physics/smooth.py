"""One smooth switch, used wherever a thing sets in gradually. Exactly 0 and exactly 1 outside its range."""

import numpy as np

from course_lib.base.arrays import Array, Values


def smooth_step(value: Values, low: Values, high: Values) -> Array:
    """Rise from exactly 0 at `low` to exactly 1 at `high`, with three smooth derivatives.

        y = 35 u^4 - 84 u^5 + 70 u^6 - 20 u^7,   u = (value - low) / (high - low), held in 0..1

    Parameters                                                         symbol  unit
        value   float or array   quantity that drives the switch         x      [any]
        low     float or array   y is exactly 0 up to here               -      [same]
        high    float or array   y is exactly 1 from here                -      [same]
    Returns
        float or array, broadcast of the inputs                          y      [-]
    Valid for
        high greater than low.
    Source
        The distribution function of the Beta(4, 4) law. Its standard deviation is exactly one sixth of
        the range, so over +/- 3 sigma it stands in for the normal law without tails (largest
        difference 0.017). A tail that never ends would let parts slip and char at rest.
    In the workshop
        nothing happens below the limit, and then it comes on quickly.
    Example
        >>> [round(float(smooth_step(x, 10.0, 20.0)), 3) for x in (9.0, 15.0, 16.0, 20.0)]
        [0.0, 0.5, 0.71, 1.0]
    """
    u: Array = np.clip((value - low) / (high - low), 0.0, 1.0)
    squared = u * u  # a general power would cost more than all the rest
    return squared * squared * (35.0 - u * (84.0 - u * (70.0 - 20.0 * u)))
