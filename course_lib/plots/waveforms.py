"""What a scope would show, from numbers: speed sensors, coils fed with pulses, noise. Volts or amperes over times (n,) [s]."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array
from course_lib.base.guards import between, positive
from course_lib.physics.solenoid import coil_current, pulsed_current

TOOTH = 0.28  # of the pitch: half width of the flux bump of a tooth; gives nearly a sine, as sensors of this kind do
NEAR = 3  # teeth to either side whose flux is felt


def inductive_wave(
    time: Array, frequency: float, peak: float, missing: tuple[int, ...] = (), teeth: int = 30
) -> Array:
    """Voltage [V] of an inductive speed sensor: the slope of the flux that passing teeth make (Faraday's law).

    frequency: teeth a second [Hz]; peak: of the even train [V], half of peak to peak; missing: numbers of the teeth that are
    gone, of `teeth` on the wheel: there the voltage pauses for a pitch, and the edges beside it stand higher.
    """
    positive("frequency", frequency, "A wheel at rest gives no voltage.")
    passed = np.asarray(time) * frequency

    def slope(absent: tuple[int, ...], where: Array) -> Array:
        nearest = np.round(where)
        total = np.zeros_like(where)
        for k in range(-NEAR, NEAR + 1):
            tooth = nearest + k
            there = ~np.isin(np.mod(tooth, teeth), absent)
            x = (where - tooth) / TOOTH
            total -= there * x * np.exp(-0.5 * x * x)
        return total

    even = float(np.abs(slope((), np.linspace(0.0, 1.0, 201))).max())
    wave: Array = peak * slope(missing, passed) / even
    return wave


def hall_wave(time: Array, frequency: float, low: float, high: float, missing: tuple[int, ...] = (), teeth: int = 60,
              edge: float = 5e-6) -> Array:  # fmt: skip
    """Voltage [V] of a Hall sensor: `low` while a tooth stands before it, `high` between teeth; edges of `edge` [s].

    frequency: teeth a second [Hz]; missing: numbers of the teeth that are gone, of `teeth` on the wheel.
    """
    between("low", low, -1.0, high, "The low level lies under the high one.")
    turned = np.asarray(time) * frequency
    tooth, share = np.floor(turned), np.mod(turned, 1.0)
    steep = max(edge * frequency, 1e-9)
    before = np.clip(np.minimum(share / steep, (0.5 - share) / steep + 1.0), 0.0, 1.0)
    before *= ~np.isin(np.mod(tooth, teeth), missing)
    wave: Array = high - (high - low) * before
    return wave


def pulse_wave(time: Array, frequency: float, duty: float, off: float, on: float) -> Array:
    """Voltage [V] at a controller's pin that pulls to ground: `on` for the share `duty` of each period, `off` for the rest."""
    between("duty", duty, 0.0, 1.0)
    wave: Array = np.where(np.mod(np.asarray(time) * frequency, 1.0) < duty, on, off)
    return wave


def coil_wave(
    time: Array, frequency: float, duty: float, volts: float, resistance: float, inductance: float
) -> Array:
    """Current [A] of a coil fed with pulses, in its steady state, with an ideal diode across it.

    It rises as `coil_current` does while the driver is on, and dies away with the same time constant while it is off.
    """
    positive("inductance", inductance)
    between("duty", duty, 0.0, 1.0)
    ends = pulsed_current(duty, volts, resistance, inductance, frequency)
    since = np.mod(np.asarray(time), 1.0 / frequency)
    rise = coil_current(since, volts, resistance, inductance) + ends.least * np.exp(
        -since * resistance / inductance
    )
    fall = ends.most * np.exp(-(since - duty / frequency) * resistance / inductance)
    wave: Array = np.where(since * frequency < duty, rise, fall)
    return wave


def hash_wave(time: Array, size: float, frequency: float, seed: int) -> Array:
    """Noise [V] of a charging system or an ignition on a wire: short bursts `frequency` times a second, `size` peak."""
    rng = np.random.default_rng(seed)
    passed = np.mod(np.asarray(time) * frequency, 1.0)
    grain = rng.uniform(-1.0, 1.0, passed.shape)
    wave: Array = size * grain * np.exp(-passed * 8.0)
    return wave
