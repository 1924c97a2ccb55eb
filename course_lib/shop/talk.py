"""What the owner says: chosen by what is felt most, in plain words."""

from __future__ import annotations

import numpy as np

from course_lib.shop.outside import Found
from course_lib.shop.subject import Subject
from course_lib.shop.words import sentence
from course_lib.transmission.duty import duty

NOTICED = 0.25  # a trouble felt less than this is not worth a word
SAID = {
    "slips": ("the engine roars and it hardly pulls", "it slides", "it lets go now and then"),
    "flares": ("it races between the gears", "it slurs between the gears", "the shifts have become lazy"),
    "harsh": (
        "it bangs into gear like a dropped crate",
        "it thumps into gear",
        "it shifts harder than it used to",
    ),
    "late": (
        "it screams before it changes, or never does",
        "it hangs on to each gear",
        "it changes up a little late",
    ),
    "early": (
        "it is in top gear before the corner",
        "it changes up early and softly",
        "it changes up very smoothly",
    ),
    "weak": (
        "it can hardly get out of its own way",
        "it has no pull from a stop",
        "it is a bit slow off the mark",
    ),
    "hot": ("it smells like something is cooking", "it smells hot after a climb", "it runs a little hot"),
    "buzz": ("something under the floor buzzes all the time", "there is a buzz", "I hear a faint buzz"),
    "smoke": (
        "white smoke hangs behind me all day",
        "it smokes white from the tailpipe",
        "there is a little white smoke",
    ),
    "drip": (
        "it leaves a puddle wherever it stands",
        "it drips where I park",
        "there is a small spot where it stands",
    ),
}
STRENGTHS = (2.5, 0.8)


def said(name: str, strength: float) -> str:
    """How an owner puts a trouble of that strength."""
    strong, plain, faint = SAID[name]
    return strong if strength > STRENGTHS[0] else plain if strength > STRENGTHS[1] else faint


def troubles(subject: Subject, most: int = 3) -> list[tuple[str, float]]:
    """The troubles felt most, strongest first."""
    order = sorted(subject.felt.items(), key=lambda item: -item[1])
    return [(name, value) for name, value in order if value > NOTICED][:most] or order[:1]


def where_it_slides(subject: Subject) -> list[str]:
    """The places in the owner's day where it lets go, worst first."""
    loss = subject.driving.loss[0]
    names = duty(subject.use).names
    return [subject.say(names[i]) for i in np.argsort(-loss)[:2] if loss[i] > 0.02]


def complaint(subject: Subject) -> str:
    """What the owner says at the counter."""
    parts = [said(name, value) for name, value in troubles(subject, 2)]
    text = sentence(", and ".join(parts))
    places = where_it_slides(subject)
    return text + (f" It is worst {places[0]}." if places else "")


def interview(subject: Subject) -> Found:
    """The owner's answers to open questions."""
    words = [f"\u201c{sentence(said(name, value))}\u201d" for name, value in troubles(subject)]
    places = where_it_slides(subject)
    if places:
        words.append(f"It lets go {' and '.join(places)}.")
    hot = subject.sump_temperature > 372.0
    words.append(
        "Worse when hot, after a climb or an hour's work."
        if hot
        else "No clear difference between cold and hot."
    )
    return [], [*words, *subject.history]
