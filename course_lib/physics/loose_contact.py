"""Contacts that open by shake, heat and moisture: how often, for how long, and what a test sees of it."""

from dataclasses import dataclass

import numpy as np

from course_lib.base.arrays import Array, Values
from course_lib.physics.smooth import smooth_step

MOST_OPEN = 0.6  # -, share of time that the worst contact is open (invented)
OPENS = (
    0.72,
    1.3,
)  # -, what moves a contact before it opens at all, and until it can open no more (invented)
WARMING = (320.15, 365.15)  # K, 47 to 92 C: heat lifts a weak contact (invented)
ROAD_SHAKE = 0.9 / 30.0  # s/m, shaking per speed (invented)
MEAN_OPENING = 0.25  # s, an opening lasts on average (invented)


@dataclass(frozen=True, slots=True)
class ContactWeakness:
    """What opens a contact; each 0 for a sound one, about 1 for a bad one, a float or an array.

    shake   how much it minds shaking [-]
    hot     how much it minds heat [-]
    wet     how much it minds moisture [-]
    """

    shake: Values
    hot: Values
    wet: Values


def road_shaking(speed: Values, roughness: Values) -> Values:
    """How much a road shakes what hangs on the vehicle; a hand that wiggles a plug shakes with about 1.1.

        s = 0.9 v / (30 m/s) + q

    Parameters                                                                 symbol  unit
        speed       float or array   of the vehicle                              v       [m/s]
        roughness   float or array   of the road besides; 0 smooth               q       [-]
    Returns
        float or array, broadcast of the inputs                                  s       [-]
    Valid for
        0 to 40 m/s.
    Source
        Shape invented.
    In the workshop
        a smooth road clears no loose contact: drive the road on which the owner had it.
    Example
        >>> [round(road_shaking(v, q), 2) for v, q in ((0.0, 0.0), (27.0, 0.0), (15.0, 0.5))]
        [0.0, 0.81, 0.95]
    """
    return ROAD_SHAKE * speed + roughness


def open_share(contact: ContactWeakness, shaking: Values, temperature: Values, moisture: Values) -> Array:
    """Share of time that a contact is open.

        phi = 0.6 F((shake s + hot H(T) + wet m - 0.72) / 0.58),   H from 0 at 47 C to 1 at 92 C;   F, H: smooth steps

    Parameters                                                                 symbol  unit
        contact       ContactWeakness   what the contact minds                   -       [-]
        shaking       float or array    see `road_shaking`                       s       [-]
        temperature   float or array    of the contact                           T       [K]
        moisture      float or array    0 dry to 1 wet                           m       [-]
    Returns
        float or array, broadcast of the inputs, 0..0.6                          phi     [-]
    Valid for
        a contact that closes again; one that never does is a resistance.
    Source
        Shape invented; that these three open contacts is common practice, no source.
    In the workshop
        always, hot, cold, wet or rough: ask when, and bring that about, one at a time.
    Example
        >>> weak = ContactWeakness(1.0, 0.0, 0.0)
        >>> [round(float(open_share(weak, s, 350.0, 0.0)), 2) for s in (0.0, 0.9, 1.1)]
        [0.0, 0.08, 0.49]
    """
    warm = smooth_step(temperature, *WARMING)
    return MOST_OPEN * smooth_step(
        contact.shake * shaking + contact.hot * warm + contact.wet * moisture, *OPENS
    )


def outlasting_share(debounce: Values, mean_opening: Values = MEAN_OPENING) -> Array:
    """Share of the openings that last longer than a controller waits.

        q = exp(-t / t_m)

    Parameters                                                                 symbol  unit
        debounce       float or array   time that a test must fail               t       [s]
        mean_opening   float or array   how long they last on average, above 0   t_m     [s]
    Returns
        float or array, broadcast of the inputs                                  q       [-]
    Valid for
        openings that end as likely in one moment as in the next.
    Source
        Exponential law.
    In the workshop
        a jerk without a code may still be a contact: it came back before the controller believed it.
    Example
        >>> [round(float(outlasting_share(t)), 3) for t in (0.0, 0.2, 1.0)]
        [1.0, 0.449, 0.018]
    """
    return np.exp(-debounce / mean_opening)


def chance_seen(share: Values, time: Values, mean_opening: Values = MEAN_OPENING) -> Array:
    """Chance that at least one opening begins while one looks.

        P = 1 - exp(-phi t / t_m)

    Parameters                                                                 symbol  unit
        share          float or array   of time that the contact is open         phi     [-]
        time           float or array   of the test                              t       [s]
        mean_opening   float or array   how long openings last, above 0          t_m     [s]
    Returns
        float or array, broadcast of the inputs, 0..1                            P       [-]
    Valid for
        openings that come independently of each other, under the conditions of the test.
    Source
        Poisson's law: phi / t_m openings begin in a second.
    In the workshop
        not seen is no proof: the longer and rougher the test, the more it says.
    Example
        >>> [round(float(chance_seen(phi, 10.0)), 3) for phi in (0.0, 0.004, 0.1)]
        [0.0, 0.148, 0.982]
    """
    return -np.expm1(-share * time / mean_opening)
