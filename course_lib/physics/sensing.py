"""What sensors, meter and bus make of the truth: voltages, frequencies, and what a controller believes of them."""

from typing import NamedTuple

import numpy as np

from course_lib.base.arrays import Array, Values

BETA_BASE = 298.15  # K, 25 degrees Celsius, where thermistors are named
RAIL = 1e-3  # of the supply: a converter tells no voltage nearer to either end
STANDING = 1.0  # rad/s, an output slower than this tells no ratio
BUS_MIDDLE = 2.5  # V, both wires while nobody speaks (ISO 11898-2)
FLOATING = 1e-6  # S, of an unterminated bus: what its modules take


class BusLevels(NamedTuple):
    """Dominant levels of both wires [V], see `bus_levels`."""

    high: Array
    low: Array


def divider_voltage(resistance: Values, supply_volts: Values, pull_up: Values) -> Values:
    """Voltage over a resistance that hangs on a supply through a pull-up.

        U = Us R / (R + Rp)

    Parameters                                                                 symbol  unit
        resistance     float or array   from the measured point to ground        R       [ohm]
        supply_volts   float or array   of the sensor supply                     Us      [V]
        pull_up        float or array   inside the controller, above 0           Rp      [ohm]
    Returns
        float or array, broadcast of the inputs                                  U       [V]
    Valid for
        finite resistance; an open circuit is a very large one.
    Source
        Ohm's law: P. Horowitz and W. Hill, The Art of Electronics, chapter 1 (from memory).
    In the workshop
        supply voltage on the pin: open; none: shorted; anything between is believed.
    Example
        >>> [round(divider_voltage(r, 5.0, 1000.0), 2) for r in (253.0, 553.0, 1e9)]
        [1.01, 1.78, 5.0]
    """
    return supply_volts * resistance / (resistance + pull_up)


def seen_resistance(resistance: Values, series: Values, leak: Values) -> Values:
    """Resistance of a sensor with a bad contact in its wire and a leak across it.

        R' = 1 / (1 / R + g) + r

    Parameters                                                                 symbol  unit
        resistance   float or array   of the sensor itself, above 0              R       [ohm]
        series       float or array   of contacts and wire                       r       [ohm]
        leak         float or array   across the sensor; 0 dry                   g       [S]
    Returns
        float or array, broadcast of the inputs                                  R'      [ohm]
    Valid for
        a leak on the sensor's side of the contact.
    Source
        Resistances in series and in parallel.
    In the workshop
        a thermistor with a bad pin reads cold, most when hot; a wet one reads hot, most when cold.
    Example
        >>> [round(seen_resistance(2700.0, r, g)) for r, g in ((0.0, 0.0), (300.0, 0.0), (0.0, 5e-4))]
        [2700, 3000, 1149]
    """
    return 1.0 / (1.0 / resistance + leak) + series


def thermistor_resistance(temperature: Values, at_25c: Values, beta: Values) -> Array:
    """Resistance of a thermistor.

        R = R25 exp(B (1 / T - 1 / 298.15))

    Parameters                                                                 symbol  unit
        temperature   float or array   of the thermistor                         T       [K]
        at_25c        float or array   its resistance at 298.15 K                R25     [ohm]
        beta          float or array   its steepness                             B       [K]
    Returns
        float or array, broadcast of the inputs                                  R       [ohm]
    Valid for
        230 to 430 K, within a degree or two of a real one.
    Source
        Beta form, any handbook of sensors (from memory).
    In the workshop
        it falls by half for every 30 to 40 degrees Fahrenheit.
    Example
        >>> [round(float(thermistor_resistance(t, 2200.0, 3600.0))) for t in (293.15, 363.15)]
        [2703, 253]
    """
    return at_25c * np.exp(beta * (1.0 / temperature - 1.0 / BETA_BASE))


def thermistor_temperature(resistance: Values, at_25c: Values, beta: Values) -> Array:
    """Temperature of a thermistor that has a resistance: `thermistor_resistance` the other way round.

        1 / T = 1 / 298.15 + ln(R / R25) / B

    Parameters                                                                 symbol  unit
        resistance   float or array   above 0                                    R       [ohm]
        at_25c       float or array   its resistance at 298.15 K                 R25     [ohm]
        beta         float or array   its steepness                              B       [K]
    Returns
        float or array, broadcast of the inputs                                  T       [K]
    Valid for
        R above R25 exp(-B / 298.15), some hundredths of an ohm.
    Source
        `thermistor_resistance` solved for the temperature.
    In the workshop
        measure at the sensor's own pins: this is then its temperature, whatever the screen says.
    Example
        >>> [round(float(thermistor_temperature(r, 2200.0, 3600.0)), 1) for r in (2703.0, 253.0)]
        [293.2, 363.2]
    """
    return 1.0 / (1.0 / BETA_BASE + np.log(resistance / at_25c) / beta)


def believed_temperature(
    volts: Values, supply_volts: Values, pull_up: Values, at_25c: Values, beta: Values
) -> Array:
    """Temperature that a controller reads from the voltage of a thermistor's divider.

        R = Rp U / (Us - U);   T as `thermistor_temperature`

    Parameters                                                                 symbol  unit
        volts          float or array   at the pin                               U       [V]
        supply_volts   float or array   of the sensor supply, above 0            Us      [V]
        pull_up        float or array   inside the controller                    Rp      [ohm]
        at_25c         float or array   of the sound sensor                      R25     [ohm]
        beta           float or array   of the sound sensor                      B       [K]
    Returns
        float or array, broadcast of the inputs                                  T       [K]
    Valid for
        any voltage: one within a thousandth of the supply's ends counts as there. A code comes first.
    Source
        `divider_voltage` and `thermistor_resistance` solved backward with the values of the sound sensor.
    In the workshop
        the screen shows a belief; a second thermometer shows whether to share it.
    Example
        >>> [round(float(believed_temperature(u, 5.0, 1000.0, 2200.0, 3600.0)), 1) for u in (1.0096, 1.7802)]
        [363.2, 336.7]
    """
    share = np.clip(volts / supply_volts, RAIL, 1.0 - RAIL)
    return thermistor_temperature(pull_up * share / (1.0 - share), at_25c, beta)


def inductive_amplitude(
    speed: Values, gap: Values, sensitivity: Values, reference_gap: Values, reach: Values
) -> Array:
    """Voltage of a magnetic speed sensor, peak to peak.

        U = k w exp(-(s - s0) / l)

    Parameters                                                                 symbol  unit
        speed           float or array   of the toothed wheel                    w       [rad/s]
        gap             float or array   teeth to sensor                         s       [m]
        sensitivity     float or array   voltage per speed at s0                 k       [V s/rad]
        reference_gap   float or array   where k was found                       s0      [m]
        reach           float or array   gap that takes it down to 1/e           l       [m]
    Returns
        float or array, broadcast of the inputs                                  U       [V]
    Valid for
        no load; gaps of a few millimeters.
    Source
        Faraday's law: voltage goes with speed (W. Ribbens, Understanding Automotive Electronics, from memory).
        Its fall with the gap is invented.
    In the workshop
        a wide gap costs the slow speeds first: the reading dies while the vehicle still rolls.
    Example
        >>> [round(float(inductive_amplitude(104.72, s, 0.04775, 1e-3, 2e-3)), 2) for s in (1e-3, 3e-3)]
        [5.0, 1.84]
    """
    return sensitivity * speed * np.exp((reference_gap - gap) / reach)


def tooth_frequency(speed: Values, teeth: Values) -> Values:
    """Teeth that pass a sensor in a second.

        f = N w / (2 pi)

    Parameters                                                                 symbol  unit
        speed   float or array   of the toothed wheel                            w       [rad/s]
        teeth   float or array   that pass in a turn                             N       [-]
    Returns
        float or array, broadcast of the inputs                                  f       [Hz]
    Valid for
        any speed, while every tooth is seen.
    Source
        Definition.
    In the workshop
        with 60 teeth the hertz on a meter are the revolutions per minute.
    Example
        >>> round(tooth_frequency(188.5, 30))
        900
    """
    return speed * teeth / (2.0 * np.pi)


def missing_tooth(teeth: Values, missing: Values) -> Values:
    """Share of the speed that is not counted when teeth are gone and nobody makes up for them.

        e = n / N

    Parameters                                                                 symbol  unit
        teeth     float or array   that the controller reckons with              N       [-]
        missing   float or array   that are not seen                             n       [-]
    Returns
        float or array, broadcast of the inputs                                  e       [-]
    Valid for
        a mean over whole turns; at every turn there is one period that is too long.
    Source
        Definition.
    In the workshop
        a ratio that is off by the same few percent in every gear is no slip: look at the wheel of the sensor.
    Example
        >>> round(missing_tooth(30, 1), 4)
        0.0333
    """
    return missing / teeth


def ratio_error(turbine_speed: Values, output_speed: Values, ratio: Values) -> Array:
    """How far turbine over output speed lies off the ratio of the gear.

        e = w_t / (i w_o) - 1

    Parameters                                                                 symbol  unit
        turbine_speed   float or array   as it is seen                           w_t     [rad/s]
        output_speed    float or array   as it is seen                           w_o     [rad/s]
        ratio           float or array   of the gear, above 0                    i       [-]
    Returns
        float or array, broadcast of the inputs; above 0 where it slips          e       [-]
    Valid for
        driving; an output slower than 1 rad/s counts as that.
    Source
        Definition.
    In the workshop
        an error that drifts with load slips; an exact one is another gear, or a wrong number in the data.
    Example
        >>> round(float(ratio_error(261.80, 209.44, 1.13072)), 3)
        0.105
    """
    return turbine_speed / (ratio * np.maximum(output_speed, STANDING)) - 1.0


def bus_resistance(first_end: Values, second_end: Values, across: Values) -> Array:
    """Resistance between the two wires of a bus with the battery off.

        R = 1 / (1 / R1 + 1 / R2 + g)

    Parameters                                                                 symbol  unit
        first_end    float or array   one termination, above 0                   R1      [ohm]
        second_end   float or array   the other                                  R2      [ohm]
        across       float or array   a third one, water, a short; 0 none        g       [S]
    Returns
        float or array, broadcast of the inputs; at most a million               R       [ohm]
    Valid for
        no module awake; a missing termination may be infinite.
    Source
        ISO 11898-2, 120 ohm at each end; resistances in parallel.
    In the workshop
        60 ohm: both there; 120: one is missing; much less: a short or one too many. Never with the bus alive.
    Example
        >>> [round(float(bus_resistance(120.0, r, g))) for r, g in ((120.0, 0.0), (np.inf, 0.0), (120.0, 1 / 120))]
        [60, 120, 40]
    """
    return 1.0 / np.maximum(1.0 / first_end + 1.0 / second_end + across, FLOATING)


def bus_levels(resistance: Values, open_volts: Values, driver: Values) -> BusLevels:
    """Voltages of the two wires of a bus while a module sends a dominant bit.

        Ud = U0 R / (R + Rd);   2.5 V + Ud / 2 and 2.5 V - Ud / 2

    Parameters                                                                 symbol  unit
        resistance   float or array   between the wires, see `bus_resistance`    R       [ohm]
        open_volts   float or array   between them without a load                U0      [V]
        driver       float or array   resistance of the sender, above 0          Rd      [ohm]
    Returns
        BusLevels of the high and the low wire                                   -       [V]
    Valid for
        wires that touch nothing else. A scope's mean, or a meter's, lies nearer 2.5 V: most of the time nobody sends.
    Source
        ISO 11898-2, dominant levels; the sender as a source behind a resistance is invented.
    In the workshop
        one termination lost lifts the difference, one too many lowers it; both wires alike touch each other.
    Example
        >>> [round(float(u), 2) for u in bus_levels(60.0, 3.0, 30.0)]
        [3.5, 1.5]
    """
    half = np.asarray(0.5 * open_volts * resistance / (resistance + driver))
    return BusLevels(BUS_MIDDLE + half, BUS_MIDDLE - half)
