"""The torque converter: what it takes from the engine, what it gives the turbine."""

import numpy as np

CAPACITY_POWER = 6
MATCH_STEPS = 5
SMALLEST = 1e-12


def pump_torque(speed, speed_ratio, capacity):
    """Torque the converter takes from the engine."""
    return capacity * (1.0 - speed_ratio**CAPACITY_POWER) * speed**2


def torque_ratio(speed_ratio, stall_ratio, coupling_ratio=0.88):
    """Turbine torque over engine torque."""
    return np.maximum(stall_ratio - (stall_ratio - 1.0) * speed_ratio / coupling_ratio, 1.0)


def efficiency(speed_ratio, torque_ratio):
    """Power out over power in."""
    return speed_ratio * torque_ratio


def capacity_factor(speed, torque):
    """Engine speed over the root of engine torque: the larger, the looser the converter."""
    return speed / np.sqrt(torque)


def stall_speed(torque, capacity):
    """Engine speed with the turbine held still."""
    return np.sqrt(torque / capacity)


def match_speed(turbine_speed, engine_torque, capacity):
    """Engine speed at which the converter takes exactly the engine's torque."""
    turbine = turbine_speed * turbine_speed
    stall = engine_torque / capacity
    # With x = speed^2 the balance is x^3 - stall x^2 - turbine^3 = 0. The start lies above the root,
    # where the curve is rising and convex, so Newton walks down to it without overshoot.
    x = turbine + stall
    for _ in range(MATCH_STEPS):
        slope = x * (3.0 * x - 2.0 * stall)
        x = x - (x * x * (x - stall) - turbine**3) / np.maximum(slope, SMALLEST)
    return np.sqrt(x)
