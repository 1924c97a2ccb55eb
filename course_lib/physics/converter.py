"""The torque converter: what it takes from the engine, what it gives the turbine."""

import numpy as np

MATCH_STEPS = 4  # Newton steps; the worst of 2000 random cases was then within 1e-6
STANDING_STATOR = 0.8  # -, its torque at equal speeds, of the pump's at stall (invented)
SMALLEST = 1e-30  # keeps a division by zero out of an engine and turbine at rest


def pump_torque(speed, speed_ratio, capacity):
    """Torque the converter takes from the engine.

        T = lam (1 - SR^6) w^2

    Parameters                                                           symbol  unit
        speed         float or array   engine speed                        w      [rad/s]
        speed_ratio   float or array   turbine speed / engine speed        SR     [-]
        capacity      float or array   torque / speed^2 at stall           lam    [N m s2]
    Returns
        float or array, broadcast of the inputs                            T      [N m]
    Valid for
        SR from 0 to 1, the engine driving.
    Source
        Square law: VDI 2153, SAE J643 (from memory). The shape 1 - SR^6 is invented.
    In the workshop
        a slipping stator or foaming fluid changes capacity, and with it the stall speed.
    Example
        >>> round(pump_torque(200.0, 0.0, 0.0075), 1)
        300.0
    """
    squared = speed_ratio * speed_ratio
    return capacity * (1.0 - squared * squared * squared) * speed**2


def torque_ratio(speed_ratio, stall_ratio, coupling_ratio=0.88):
    """Turbine torque over engine torque.

        TR = max(TR0 - (TR0 - 1) SR / SRc, 1)

    Parameters                                                              symbol  unit
        speed_ratio      float or array   turbine speed / engine speed        SR     [-]
        stall_ratio      float or array   torque ratio at stall               TR0    [-]
        coupling_ratio   float or array   SR where the stator lets go         SRc    [-]
    Returns
        float or array, broadcast of the inputs                               TR     [-]
    Valid for
        SR from 0 to 1, stall_ratio not below 1.
    Source
        Straight line through stall and coupling point; a published open converter data set lies within
        0.02 of it (ADVISOR vehicle simulator, US National Renewable Energy Laboratory, TX_AUTO4_IDEAL).
    In the workshop
        a stator that slips takes the extra torque away: lazy start, low stall speed.
    Example
        >>> [round(float(torque_ratio(sr, 2.0)), 2) for sr in (0.0, 0.44, 0.9)]
        [2.0, 1.5, 1.0]
    """
    return np.maximum(stall_ratio - (stall_ratio - 1.0) * speed_ratio / coupling_ratio, 1.0)


def efficiency(speed_ratio, torque_ratio):
    """Power out over power in.

        eta = SR TR

    Parameters                                                           symbol  unit
        speed_ratio    float or array   turbine speed / engine speed       SR     [-]
        torque_ratio   float or array   turbine / engine torque            TR     [-]
    Returns
        float or array, broadcast of the inputs                            eta    [-]
    Valid for
        the engine driving.
    Source
        Definition, SAE J643 (from memory).
    In the workshop
        what is missing heats the fluid; at stall all of it does.
    Example
        >>> efficiency(0.8, 1.1)
        0.8800000000000001
    """
    return speed_ratio * torque_ratio


def capacity_factor(speed, torque):
    """Engine speed over the root of engine torque: the larger, the looser the converter.

        K = w / sqrt(T)

    Parameters                                                           symbol  unit
        speed    float or array   engine speed                             w      [rad/s]
        torque   float or array   engine torque, above 0                   T      [N m]
    Returns
        float or array, broadcast of the inputs                            K      [rad/s / sqrt(N m)]
    Valid for
        the engine driving. At stall, capacity = 1 / K^2.
    Source
        SAE J643 (from memory).
    In the workshop
        a replacement converter of the wrong K stalls at the wrong speed though nothing slips.
    Example
        >>> round(float(capacity_factor(151.2, 100.0)), 2)
        15.12
    """
    return speed / np.sqrt(torque)


def stall_speed(torque, capacity):
    """Engine speed with the turbine held still.

        w = sqrt(T / lam)

    Parameters                                                           symbol  unit
        torque     float or array   engine torque, 0 or more               T      [N m]
        capacity   float or array   torque / speed^2 at stall              lam    [N m s2]
    Returns
        float or array, broadcast of the inputs                            w      [rad/s]
    Valid for
        every clutch holding; if one slips the turbine turns and the speed is higher.
    Source
        `pump_torque` at speed ratio 0.
    In the workshop
        above specification something slips; below it, a tired engine or a slipping stator. A stall test
        can hurt people and burn the unit: only as the service manual allows, brakes on, wheels chocked,
        nobody in front or behind, about five seconds (common practice, no source).
    Example
        >>> round(float(stall_speed(300.0, 0.0075)), 1)
        200.0
    """
    return np.sqrt(torque / capacity)


def match_speed(turbine_speed, engine_torque, capacity):
    """Engine speed at which the converter takes exactly the engine's torque.

        lam (w^2 - wt^6 / w^4) = T,   which is `pump_torque` with SR = wt / w

    Parameters                                                           symbol  unit
        turbine_speed   float or array   0 or more                         wt     [rad/s]
        engine_torque   float or array   0 or more                         T      [N m]
        capacity        float or array   torque / speed^2 at stall         lam    [N m s2]
    Returns
        float or array, broadcast of the inputs; wt when T is 0            w      [rad/s]
    Valid for
        the engine driving; not for coasting. Relative error below 1e-5.
    Source
        `pump_torque`, solved by Newton's method.
    In the workshop
        the engine runs faster than the road asks whenever the converter slips.
    Example
        >>> [round(float(match_speed(wt, 300.0, 0.0075)), 1) for wt in (0.0, 200.0)]
        [200.0, 242.1]
    """
    turbine = turbine_speed * turbine_speed
    stall = engine_torque / capacity
    # With x = w^2 the balance is x^3 - stall x^2 - turbine^3 = 0. The start lies above the root, where
    # the curve rises and is convex, so Newton's method walks down to it without overshoot.
    x, cubed = turbine + stall, turbine * turbine * turbine
    for _ in range(MATCH_STEPS):
        slope = x * (3.0 * x - 2.0 * stall)
        x = x - (x * x * (x - stall) - cubed) / np.maximum(slope, SMALLEST)
    return np.sqrt(x)


def locked_speed(turbine_speed, engine_torque, capacity, lockup_torque):
    """Engine speed with a lock-up clutch beside the converter.

        `match_speed` with T - Tl, not below 0

    Parameters                                                              symbol  unit
        turbine_speed   float or array   0 or more                            wt     [rad/s]
        engine_torque   float or array   0 or more                            T      [N m]
        capacity        float or array   torque / speed^2 at stall            lam    [N m s2]
        lockup_torque   float or array   grip of the lock-up lining, 0 off    Tl     [N m]
    Returns
        float or array, broadcast of the inputs; wt when the lining holds     w      [rad/s]
    Valid for
        the engine driving, lock-up settled.
    Source
        Torque balance: what the lining does not carry, the fluid has to.
    In the workshop
        lock-up drops the engine two to four hundred rpm at steady pedal; a drop that comes and goes slips.
    Example
        >>> [round(float(locked_speed(200.0, 150.0, 0.0075, lock)), 1) for lock in (0.0, 100.0, 200.0)]
        [218.9, 205.8, 200.0]
    """
    return match_speed(turbine_speed, np.maximum(engine_torque - lockup_torque, 0.0), capacity)


def stator_brake(speed, speed_ratio, capacity, coupling_ratio):
    """Torque that a stator which cannot turn with the fluid takes from the turbine.

        Ts = 0.8 lam w^2 max(SR - SRc, 0) / (1 - SRc)

    Parameters                                                                    symbol  unit
        speed            float or array   engine speed                              w      [rad/s]
        speed_ratio      float or array   turbine speed / engine speed              SR     [-]
        capacity         float or array   torque / speed^2 at stall                 lam    [N m s2]
        coupling_ratio   float or array   SR where a sound stator lets go, below 1  SRc    [-]
    Returns
        float or array, broadcast of the inputs, 0 or more                          Ts     [N m]
    Valid for
        SR from 0 to 1. A sound stator takes nothing there.
    Source
        That a standing stator brakes beyond the coupling point: any text on fluid couplings and torque
        converters (from memory). Square law as for the pump; straight line and size invented.
    In the workshop
        pulls away well, will not go fast and boils: nothing is wrong below the coupling point.
    Example
        >>> [round(float(stator_brake(250.0, sr, 6.4e-3, 0.88))) for sr in (0.5, 0.94, 1.0)]
        [0, 160, 320]
    """
    past = np.maximum(speed_ratio - coupling_ratio, 0.0) / (1.0 - coupling_ratio)
    return STANDING_STATOR * capacity * past * speed**2
