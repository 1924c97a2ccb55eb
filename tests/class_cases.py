"""Cases for a class that cost nothing: the frozen ones under new names, with as many minutes as their seed says."""

from dataclasses import replace

import msgspec

from course_lib.cases import altered, load_case, load_key

FROZEN = ("W01", "P01", "M01")


def relabeled(*, seed, name, unit="T3", cause=None, **_request):
    """A stand-in for `make_case`: a frozen case under a new name; every seventh seed cannot be had."""
    if seed % 7 == 0:
        raise ValueError("no such vehicle")
    stem = FROZEN[seed % len(FROZEN)]
    case, key = load_case(stem), load_key(stem)
    certificate = replace(key.certificate, minutes=5 + seed % 90)
    changed = {"case_id": name, "recipe": {**key.recipe, "seed": seed}, "certificate": certificate}
    return altered(case, id=name, seed=seed), msgspec.structs.replace(key, **changed)
