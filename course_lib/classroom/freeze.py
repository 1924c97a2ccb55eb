"""Freeze a case: ``python -m course_lib.classroom.freeze NAME --cause CAUSE``.

A frozen case is a file, so it stays as it is when the generator or a library changes. Its key goes to
`datasets/keys/` for practice, or with ``--marked`` to `solutions/keys/`, which is not installed with the course.
"""

from __future__ import annotations

import argparse
import secrets
import sys
from pathlib import Path

import msgspec

from course_lib import repair
from course_lib.cases import NO_SEED, Key, WorkOrder, altered, make_case, save_case, save_key, vehicle_of
from course_lib.classroom.build import TOP
from course_lib.stories import Story, tale


def freeze(
    name: str,
    *,
    marked: bool = False,
    roads: tuple[str, ...] = (),
    words: dict[str, str] | None = None,
    top: Path = TOP,
    **request,
) -> Key:
    """Make the case `request` (see `make_case`), and write it and its key under `name`. Returns the key.

    roads: parts; for each, the repair that renews it alone and leaves the cause is driven forward too, and kept
    in the key's stories as "only <part>". A worked case follows such a road to its end. words: entries of the work order that
    the course gives in its own words; "told" stands before what the owner says when asked.
    """
    seed = request.pop("seed", None) or secrets.randbits(48)
    case, key = make_case(seed=seed, name=name, **request)
    told = {f"only {part}": _road(part, key) for part in roads}
    key = msgspec.structs.replace(key, stories=key.stories | told)
    places = [top / "datasets/cases", top / ("solutions/keys" if marked else "datasets/keys")]
    for place in places:
        place.mkdir(parents=True, exist_ok=True)
    order = _in_words(case.work_order, words or {})
    save_case(altered(case, seed=NO_SEED, work_order=order), places[0] / f"{name}.json")
    save_key(key, places[1] / f"{name}.key")
    return key


def _in_words(order: WorkOrder, words: dict[str, str]) -> WorkOrder:
    """The work order with entries of its own."""
    own = {name: text for name, text in words.items() if name != "told"}
    if told := words.get("told"):
        own["complaint"] = f"\u201c{told}\u201d Asked what it does: \u201c{order.complaint}\u201d"
    return msgspec.structs.replace(order, **own)


def _road(part: str, key: Key) -> Story:
    """The repair that renews one part and leaves the cause, driven forward."""
    past = vehicle_of(key)
    plan, miles = repair.Plan(parts=(part,)), repair.YEARS_OF_USE
    return tale(past, plan, repair.ahead_of(repair.drive_forward([(past, plan, miles)]), 0), miles)


def main(arguments: list[str] | None = None) -> int:
    """Freeze one case; say where it is, not what it is."""
    parser = argparse.ArgumentParser(prog="python -m course_lib.classroom.freeze", description=__doc__)
    parser.add_argument("name", help="id of the case, such as M02")
    parser.add_argument("--marked", action="store_true", help="keep the key out of the installed course")
    parser.add_argument("--seed", type=int, help="default: drawn, and kept in the key only")
    for option in ("unit", "cause", "also", "signal", "stage", "use"):
        parser.add_argument(f"--{option}", help="default: drawn")
    parser.add_argument(
        "--only", nargs="*", default=[], metavar="PART", help="also drive this part-only repair"
    )
    given = vars(parser.parse_args(arguments))
    given = {name: value for name, value in given.items() if name != "unit" or value}
    given = given | {"roads": tuple(given.pop("only"))}
    try:
        freeze(**given)
    except ValueError as error:
        parser.exit(2, f"{error}\n")
    print(
        f"{given['name']} is frozen; its key is beside the {'marked' if given['marked'] else 'practice'} keys."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
