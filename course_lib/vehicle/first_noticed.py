"""How strongly a driver feels a trouble, on the scale on which it grows evenly, and where he first noticed it."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array, Rows

UNFELT = 0.05  # strength of a complaint below which it might as well be none
NOTICED, LOUD = (
    0.25,
    0.8,
)  # of what makes a driver complain: when it is first noticed, and when it is hardly overlooked


def felt_logarithm(felt: Array) -> Array:
    """Of how strongly something is felt; below UNFELT it might as well be nothing."""
    log: Array = np.log(np.maximum(felt, UNFELT))
    return log


def ratio_or_zero(a: Array, b: Array) -> Array:
    """a / b, and 0 where b is 0."""
    ratio: Array = np.divide(a, b, out=np.zeros(np.broadcast_shapes(a.shape, b.shape)), where=b != 0.0)
    return ratio


class Noticed:
    """Where each of the d drivers of n vehicles first felt a share NOTICED, and a share LOUD, of what makes him complain."""

    def __init__(self, odometer: Array, drivers: int) -> None:
        """odometer (n, 1) m, where the vehicles start."""
        self.at = np.full((2, len(odometer), drivers), np.inf)
        # of each vehicle at its last step: where it was [m], and the logarithm of the worst that was felt there
        self.last = np.concatenate([odometer, np.full_like(odometer, np.log(UNFELT))], 1)

    def note(self, rows: Rows, drivers: Array, ahead: Array, worst: Array) -> None:
        """Vehicles `rows` (k,) have come to `ahead` (k, 1) m, where the worst trouble is so strong (k, 1).

        drivers (k, d): sensitivity of each. Between two steps the logarithm rises evenly.
        """
        (start, before), now = self.last[rows].T[..., None], felt_logarithm(worst)
        for at, share in zip(self.at, (NOTICED, LOUD), strict=True):
            short = np.log(share / np.maximum(drivers, 1e-9)) - before
            part = np.clip(ratio_or_zero(short, now - before), 0.0, 1.0)
            here = np.where(now - before >= short, start + part * (ahead - start), np.inf)
            at[rows] = np.minimum(at[rows], here)
        self.last[rows] = np.concatenate([ahead, now], 1)

    def by(self, odometer: Array) -> Array:
        """(2, n d) m of every life, those of one vehicle side by side; infinite where it was not yet so at `odometer` (n d,)."""
        at = self.at.reshape(2, -1)
        return np.where(at <= odometer, at, np.inf)
