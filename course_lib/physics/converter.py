"""The torque converter: what it takes from the engine, what it gives the turbine."""

import numpy as np

from course_lib.base.arrays import Array, Values

LINEAR, SQUARE = 0.10525, 0.48277  # how the torque taken falls up to the coupling point
AT_COUPLING = 1.0 - LINEAR - SQUARE  # -, share of the stall torque taken there
BEYOND = 0.21031  # how it goes on falling past it
STANDING_STATOR = 0.8  # -, its torque at equal speeds, of the pump's at stall (invented)


def capacity_share(speed_ratio: Values, coupling_ratio: Values = 0.88) -> Array:
    """Torque the converter takes at a speed ratio, as a share of what it takes at stall and the same engine speed.

        x = SR / SRc;  u = (SR - SRc) / (1 - SRc)
        c = 1 - 0.10525 x - 0.48277 x^2  up to the coupling point,  0.41198 (1 - u) (1 + 0.21031 u)  past it

    Parameters                                                              symbol  unit
        speed_ratio      float or array   turbine speed / engine speed        SR     [-]
        coupling_ratio   float or array   SR where the stator lets go         SRc    [-]
    Returns
        float or array, broadcast of the inputs                               c      [-]
    Valid for
        SR from 0 to 1, the engine driving.
    Source
        Fitted to a published open converter data set, within 2 % of it from stall to 0.95 (ADVISOR vehicle
        simulator, US National Renewable Energy Laboratory, TX_AUTO4_IDEAL).
    In the workshop
        why the engine comes down when the vehicle gets going, and runs up when a clutch behind it lets go.
    Example
        >>> [round(float(capacity_share(sr)), 3) for sr in (0.0, 0.5, 0.88, 1.0)]
        [1.0, 0.784, 0.412, 0.0]
    """
    x = speed_ratio / coupling_ratio
    u = (speed_ratio - coupling_ratio) / (1.0 - coupling_ratio)
    below = 1.0 - LINEAR * x - SQUARE * x * x
    return np.where(speed_ratio <= coupling_ratio, below, AT_COUPLING * (1.0 - u) * (1.0 + BEYOND * u))


def coupled_ratio(capacity_share: Values, coupling_ratio: Values = 0.88) -> Array:
    """Speed ratio past the coupling point at which a share of the stall torque is taken.

        `capacity_share` solved for SR, with c not above its value at the coupling point

    Parameters                                                              symbol  unit
        capacity_share   float or array   0 to 0.412                          c      [-]
        coupling_ratio   float or array   SR where the stator lets go         SRc    [-]
    Returns
        float or array, broadcast of the inputs, SRc to 1                     SR     [-]
    Valid for
        the engine driving; more than the coupling point takes gives SRc.
    Source
        `capacity_share`, a quadratic there.
    In the workshop
        how little the engine has to run ahead of the turbine on a light pedal.
    Example
        >>> [round(float(coupled_ratio(c)), 3) for c in (0.0, 0.2, 0.41198)]
        [1.0, 0.948, 0.88]
    """
    left = np.maximum(1.0 - capacity_share / AT_COUPLING, 0.0)
    slope = 1.0 - BEYOND
    u = (np.sqrt(slope * slope + 4.0 * BEYOND * left) - slope) / (2.0 * BEYOND)
    return coupling_ratio + (1.0 - coupling_ratio) * u


def pump_torque(speed: Values, speed_ratio: Values, capacity: Values, coupling_ratio: Values = 0.88) -> Array:
    """Torque the converter takes from the engine.

        T = lam c w^2,  c from `capacity_share`

    Parameters                                                              symbol  unit
        speed            float or array   engine speed                        w      [rad/s]
        speed_ratio      float or array   turbine speed / engine speed        SR     [-]
        capacity         float or array   torque / speed^2 at stall           lam    [N m s2]
        coupling_ratio   float or array   SR where the stator lets go         SRc    [-]
    Returns
        float or array, broadcast of the inputs                               T      [N m]
    Valid for
        SR from 0 to 1, the engine driving.
    Source
        Square law: VDI 2153, SAE J643 (from memory).
    In the workshop
        a slipping stator or foaming fluid changes capacity, and with it the stall speed.
    Example
        >>> round(float(pump_torque(200.0, 0.0, 0.0075)), 1)
        300.0
    """
    return capacity * capacity_share(speed_ratio, coupling_ratio) * speed**2


def torque_ratio(speed_ratio: Values, stall_ratio: Values, coupling_ratio: Values = 0.88) -> Array:
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


def stall_speed(torque: Values, capacity: Values) -> Array:
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


def stator_brake(speed: Values, speed_ratio: Values, capacity: Values, coupling_ratio: Values) -> Array:
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
