"""What the shift valves feel: governor pressure against spring and load signal."""

import numpy as np

from course_lib.base.arrays import Array, Values

PEDAL_SHAPE = 1.2  # -, how vacuum falls and a cable's cam pulls as the throttle opens: early, as engine torque rises (invented)


def governor_pressure(
    road_speed: Values, start_speed: Values, mid_speed: Values, mid_pressure: Values, slope: Values
) -> Array:
    """Pressure that tells the shift valves the road speed.

        p = pm (v^2 - v0^2) / (vm^2 - v0^2) up to vm, 0 below v0;   above: p = pm + k (v - vm)

    Parameters                                                               symbol  unit
        road_speed     float or array   vehicle speed                          v      [m/s]
        start_speed    float or array   where pressure begins                  v0     [m/s]
        mid_speed      float or array   where the second weight takes over     vm     [m/s]
        mid_pressure   float or array   pressure at mid_speed                  pm     [Pa]
        slope          float or array   rise above mid_speed                   k      [Pa s/m]
    Returns
        float or array, broadcast of the inputs                                p      [Pa]
    Valid for
        mid_speed above start_speed, driving forward; line pressure caps it (not included).
    Source
        A turning weight pushes with m r w^2: square law. Two stages: common practice, no source.
    In the workshop
        late shifts at right pressures: read the governor against road speed.
    Example
        >>> [round(float(governor_pressure(v, 3.0, 9.0, 1e5, 6e3)) / 1e3) for v in (2.0, 6.0, 9.0, 19.0)]
        [0, 38, 100, 160]
    """
    squared = (road_speed**2 - start_speed**2) / (mid_speed**2 - start_speed**2)
    return mid_pressure * np.clip(squared, 0.0, 1.0) + slope * np.maximum(road_speed - mid_speed, 0.0)


def manifold_vacuum(closed_vacuum: Values, throttle: Values, share: Values) -> Array:
    """Engine vacuum at a throttle opening.

        vac = vac0 s (1 - theta)^1.2

    Parameters                                                              symbol  unit
        closed_vacuum   float or array   sound engine, throttle closed        vac0   [Pa]
        throttle        float or array   opening, 0..1                        theta  [-]
        share           float or array   what a tired engine still makes      s      [-]
    Returns
        float or array, broadcast of the inputs                               vac    [Pa]
    Valid for
        throttle from 0 to 1, steady running.
    Source
        Shape invented; that vacuum falls to nothing at full throttle is common practice, no source.
    In the workshop
        a tired engine gives low vacuum everywhere, a loose hose only at the modulator.
    Example
        >>> [round(manifold_vacuum(60e3, theta, 1.0) / 1e3) for theta in (0.0, 0.5, 1.0)]
        [60, 26, 0]
    """
    return closed_vacuum * share * (1.0 - throttle) ** PEDAL_SHAPE


def vacuum_signal(vacuum_at_modulator: Values, full_vacuum: Values) -> Array:
    """Load signal of a vacuum modulator, 0 at full vacuum, 1 without vacuum.

        s = (vf - vac) / vf, held in 0..1

    Parameters                                                              symbol  unit
        vacuum_at_modulator   float or array   vacuum at the diaphragm        vac    [Pa]
        full_vacuum           float or array   vacuum that ends the boost     vf     [Pa]
    Returns
        float or array, broadcast of the inputs                               s      [-]
    Valid for
        full_vacuum above 0.
    Source
        Force balance of diaphragm and spring, straight between its stops.
    In the workshop
        no vacuum means full boost: harsh, late shifts and high idle pressure.
    Example
        >>> [round(float(vacuum_signal(vac, 52e3)), 2) for vac in (60e3, 26e3, 0.0)]
        [0.0, 0.5, 1.0]
    """
    return np.clip((full_vacuum - vacuum_at_modulator) / full_vacuum, 0.0, 1.0)


def cable_signal(throttle: Values, travel_full: Values, slack: Values, offset: Values) -> Array:
    """Load signal of a throttle cable, 0 released, 1 fully pulled.

        s = (X (1 - (1 - theta)^1.2) - x_slack + x_offset) / X, held in 0..1

    Parameters                                                              symbol    unit
        throttle      float or array   opening, 0..1                          theta    [-]
        travel_full   float or array   cable travel at full throttle          X        [m]
        slack         float or array   travel lost before the cable pulls     x_slack  [m]
        offset        float or array   travel set in at the adjuster          x_offset [m]
    Returns
        float or array, broadcast of the inputs                               s        [-]
    Valid for
        travel_full above 0.
    Source
        Geometry; the cam, invented, follows engine torque, so that pressure rises with what must be held.
    In the workshop
        slack gives early, soft shifts and low boost; a cable set tight gives late, harsh ones.
    Example
        >>> [round(float(cable_signal(0.5, 0.04, slack, 0.0)), 2) for slack in (0.0, 0.01, 0.03)]
        [0.56, 0.31, 0.0]
    """
    pulled = travel_full * (1.0 - (1.0 - throttle) ** PEDAL_SHAPE)
    return np.clip((pulled - slack + offset) / travel_full, 0.0, 1.0)


def governor_speed(
    governor_pressure: Values, start_speed: Values, mid_speed: Values, mid_pressure: Values, slope: Values
) -> Array:
    """Road speed at which the governor makes a pressure: `governor_pressure` the other way round.

        v = sqrt(v0^2 + pg / pm (vm^2 - v0^2)) up to pm;   above: v = vm + (pg - pm) / k

    Parameters                                                                  symbol  unit
        governor_pressure   float or array   0 or more                            pg     [Pa]
        start_speed         float or array   where pressure begins                v0     [m/s]
        mid_speed           float or array   where the second weight takes over   vm     [m/s]
        mid_pressure        float or array   pressure at mid_speed                pm     [Pa]
        slope               float or array   rise above mid_speed                 k      [Pa s/m]
    Returns
        float or array, broadcast of the inputs; v0 for no pressure               v      [m/s]
    Valid for
        as `governor_pressure`.
    Source
        `governor_pressure` solved for the speed.
    In the workshop
        a shift speed tells what pressure the valve waited for.
    Example
        >>> [round(float(governor_speed(p, 3.0, 9.0, 1e5, 6e3)), 1) for p in (0.0, 37.5e3, 1.6e5)]
        [3.0, 6.0, 19.0]
    """
    squared = np.clip(governor_pressure / mid_pressure, 0.0, 1.0) * (mid_speed**2 - start_speed**2)
    return np.sqrt(start_speed**2 + squared) + np.maximum(governor_pressure - mid_pressure, 0.0) / slope


def downshift_pressure(
    spring_pressure: Values, signal_pressure: Values, signal: Values, hysteresis: Values
) -> Array:
    """Governor pressure below which a shift valve that stands in the higher gear falls back.

        pd = max(ps + pm s - ph, 0)

    Parameters                                                              symbol  unit
        spring_pressure   float or array   spring, as governor pressure       ps     [Pa]
        signal_pressure   float or array   full signal, as governor pr.       pm     [Pa]
        signal            float or array   load signal, 0..1                  s      [-]
        hysteresis        float or array   upshift less downshift pressure    ph     [Pa]
    Returns
        float or array, broadcast of the inputs; 0: it falls back at rest     pd     [Pa]
    Valid for
        a free valve; `governor_speed` turns the pressure into a road speed.
    Source
        Force balance of the shift valve; its land cuts the load signal off once it has moved.
    In the workshop
        it shifts down slower than it shifted up, else it would hunt on every hill.
    Example
        >>> [round(float(downshift_pressure(30e3, 40e3, s, 20e3)) / 1e3) for s in (0.0, 1.0)]
        [10, 50]
    """
    return np.maximum(spring_pressure + signal_pressure * signal - hysteresis, 0.0)


def trapped_vacuum(vacuum: Values, closed_vacuum: Values, share: Values) -> Array:
    """Vacuum at a modulator whose hose sits behind a check valve.

        vac' = max(vac, s vac0)

    Parameters                                                                symbol  unit
        vacuum          float or array   in the manifold now                    vac    [Pa]
        closed_vacuum   float or array   in the manifold at idle                vac0   [Pa]
        share           float or array   what the valve holds back; 0 no valve  s      [-]
    Returns
        float or array, broadcast of the inputs                                 vac'   [Pa]
    Valid for
        pulls that are short beside the time the reservoir takes to leak down.
    Source
        A check valve lets vacuum in and not out.
    In the workshop
        read the vacuum at the modulator under load: it must fall to almost nothing.
    Example
        >>> [round(float(trapped_vacuum(vac, 60e3, 0.9)) / 1e3) for vac in (60e3, 5e3)]
        [60, 54]
    """
    return np.maximum(vacuum, share * closed_vacuum)
