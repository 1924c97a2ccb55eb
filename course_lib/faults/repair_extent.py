"""Which parts a repair must renew: what brings the vehicle back when it alone is left, driven on and not guessed from limits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from course_lib.faults.parts import BROKEN, NO_PART, WORN, all_parts
from course_lib.faults.repair import (
    YEARS_OF_USE,
    Past,
    TrialRepair,
    drive_forward,
    miles_before_age,
    miles_to_return,
    outcome_of,
)

Parts = tuple[str, ...]
MOST_LEFT = 2  # parts left at once: more than a pair has not been met


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """How far the damage of a vehicle goes.

    must: part -> miles after which the vehicle is back when that part alone is left, soonest first. either: sets of parts, of
    each of which one must be named. may: further parts that are shown worn or broken, or in which a cause sits. unseen: parts
    that no finding shows, though it comes back when they are left: nobody could name them, so such a vehicle is no case.
    """

    must: dict[str, float]
    either: tuple[Parts, ...]
    may: Parts
    unseen: Parts = ()


def extents(pasts: list[Past]) -> list[Extent]:
    """The extent of the damage of vehicles of one unit and use, all driven in one batch."""
    left = [list(_left(past)) for past in pasts]
    trips = [(past, _all_but(past, some)) for past, sets in zip(pasts, left, strict=True) for some in sets]
    lives = drive_forward([(past, plan, YEARS_OF_USE) for past, plan in trips])
    miles = iter([miles_to_return(past, outcome_of(lives, row)) for row, (past, _) in enumerate(trips)])
    return [
        _extent(past, {some: next(miles) for some in sets}) for past, sets in zip(pasts, left, strict=True)
    ]


def _left(past: Past) -> Iterator[Parts]:
    """The sets of parts to leave: none, which is the control; each part that is shown and whose renewal changes something; pairs of
    them; and all that is not shown."""
    some = [part for part in past.shown if _can_be_renewed(past, part)]
    for size in range(MOST_LEFT + 1):
        yield from combinations(some, size)
    if unseen := _unseen(past):
        yield unseen


def _unseen(past: Past) -> Parts:
    return tuple(part for part in past.damaged if part not in past.shown and _can_be_renewed(past, part))


def _can_be_renewed(past: Past, part: str) -> bool:
    """Whether a new part takes anything away: wear of its own, or damage that stays in it."""
    stays = {effect.stays for cause in past.causes for effect in cause.effects}
    return bool(all_parts()[part].entries) or part in stays


def _all_but(past: Past, left: Parts) -> TrialRepair:
    """The whole repair, with some parts left."""
    parts = tuple(part for part in past.damaged if part not in left)
    return TrialRepair(parts=parts, corrected=frozenset(cause.id for cause in past.causes))


def _extent(past: Past, back: dict[Parts, float]) -> Extent:
    """The extent, from the miles after which each set of parts left brings the vehicle back."""
    long = miles_before_age(back[()])
    unseen = _unseen(past)
    soon = sorted((miles, some) for some, miles in back.items() if some and some != unseen and miles <= long)
    must = {some[0]: miles for miles, some in soon if len(some) == 1}
    pairs = [some for _, some in soon if len(some) > 1 and not set(some) & set(must)]
    broken = [part for part in must if past.shown[part] == BROKEN]
    first = [tuple(broken[:1])] if broken else [tuple(must)] if must else []
    either = tuple(_called(past, some) for some in first + pairs) or (_none(past),)
    named = {*must, *(part for some in either for part in some)}
    may = tuple(part for part in past.damaged if part not in named)
    return Extent(must=must, either=either, may=may, unseen=unseen if unseen and back[unseen] <= long else ())


def _called(past: Past, some: Parts) -> Parts:
    """A set of which one must be named. Where all of it is worn and no more, what a workshop would call broken will do as well."""
    worn = all(past.shown[part] == WORN for part in some)
    return (*some, *_shown(past, past.shown, BROKEN)) if worn else some


def _none(past: Past) -> Parts:
    """What may stand as the broken part where none must be renewed: the seat if it is shown broken, else that no part is, or
    whatever is shown worn or broken all the same."""
    seats = _shown(past, past.seats, BROKEN)
    return seats or (NO_PART, *(part for part in past.damaged if part in past.shown))


def _shown(past: Past, parts: Iterable[str], degree: int) -> Parts:
    return tuple(part for part in past.damaged if part in parts and past.shown.get(part) == degree)
