"""What the owner says: chosen by what is felt most, in plain words."""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array
from course_lib.shop.batch import BatchFinding, BatchLook, Row
from course_lib.shop.graded_scales import sentence, word
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import COLD, AskedPoint, Subject

TALK = "interview"  # the inspection that is talk
NOTICED = (
    0.5  # a trouble felt less than this is not worth a word: half of what an ordinary driver comes in for
)
MOST_TROUBLES, MOST_PLACES = 3, 2
SEEN_AT_ONCE = ("lamp",)  # troubles that are told whatever else there is: they stand before the driver's eyes
SLIPS = 0.02  # share of the torque lost at a place from which it is remembered


def in_owner_words(name: str, strength: float) -> str:
    """How an owner puts a trouble of that strength."""
    return word(f"says_{name}", max(strength, NOTICED))


def _told(subject: Subject, most: int) -> dict[str, Array]:
    """Strength of each trouble that is told, else 0, (n,) each: the `most` that are noticed most, one at least."""
    names = list(subject.felt)
    strength = (
        np.stack([subject.flat(subject.felt[name]) for name in names], -1)
        if names
        else np.zeros((subject.size, 0))
    )
    place = (-strength).argsort(-1, kind="stable").argsort(-1, kind="stable")
    told = (place == 0) | ((place < most) & (strength > NOTICED))
    told |= np.isin(names, SEEN_AT_ONCE) & (strength > NOTICED)
    return dict(zip(names, np.where(told, np.maximum(strength, NOTICED), 0.0).T, strict=True))


def troubles_told(subject: Subject) -> list[str]:
    """The troubles that the owner of one vehicle tells, the chief one first."""
    return _by_size({name: float(strength[0]) for name, strength in _told(subject, MOST_TROUBLES).items()})


def _places(subject: Subject) -> dict[str, Array]:
    """Torque lost at each place of the owner's day where it slips worst, else 0, (n,) each."""
    loss = subject.driving.loss
    place = (-loss).argsort(-1, kind="stable").argsort(-1, kind="stable")
    worst = np.where((place < MOST_PLACES) & (loss > SLIPS), loss, 0.0)
    return dict(zip(subject.day.names, worst.T, strict=True))


def where_it_slips(subject: Subject) -> list[str]:
    """The places in the day of one owner where it slips, worst first."""
    return _by_size({subject.say(name): float(loss[0]) for name, loss in _places(subject).items()})


def _by_size(values: dict[str, float]) -> list[str]:
    """The names of what is more than nothing, largest first."""
    return [name for name, value in sorted(values.items(), key=lambda item: -item[1]) if value > 0]


def complaint(subject: Subject) -> str:
    """What the owner of one vehicle says at the counter."""
    told = {name: float(strength[0]) for name, strength in _told(subject, 2).items()}
    text = sentence(", and ".join(in_owner_words(name, told[name]) for name in _by_size(told)))
    places = where_it_slips(subject)
    return text + (f" It is worst {places[0]}." if places else "")


def interview(subject: Subject) -> Procedure:
    """The owner's answers to open questions."""
    cold = {"cold_soaked": 1.0, "temperature": COLD}
    work = yield [AskedPoint("D", **cold), AskedPoint("R", **cold), AskedPoint("D"), AskedPoint("R")]
    slower = work.delay[:, :2] - work.delay[:, 2:]
    seen = [
        *(
            BatchLook(key=f"says_{name}", scale=f"says_{name}", value=v)
            for name, v in _told(subject, MOST_TROUBLES).items()
        ),
        *(
            BatchLook(key=f"worst_{name}", scale="worst_place", value=loss, text=subject.say(name))
            for name, loss in _places(subject).items()
        ),
        BatchLook(key="worse_hot", scale="worse_hot", value=subject.sump_temperature),
        BatchLook(key="worse_cold", scale="worse_cold", value=slower.max((1, 2))),
    ]
    return BatchFinding(seen=tuple(seen), caption=lambda row: _answers(row) + list(subject.history))


def _answers(row: Row) -> list[str]:
    """The troubles told, in the owner's words, where it slips, and whether cold or heat makes a difference."""
    told = _by_size({key: value for key, value in row.values.items() if key.startswith("says_")})
    words = [f"\u201c{sentence(row[key])}\u201d" for key in told]
    places = _by_size({key: value for key, value in row.values.items() if key.startswith("worst_")})
    if places:
        words.append(f"It slips most {row[places[0]]}.")
        words += [f"It also slips {row[key]}." for key in places[1:]]
    when = [sentence(row[key]) for key in ("worse_hot", "worse_cold") if row.looks[key].grade]
    return words + (when or ["No clear difference between cold and hot."])
