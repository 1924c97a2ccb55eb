"""Cases for a class that cost nothing: the frozen ones under new names, with as many minutes as their seed says."""

from dataclasses import replace

import msgspec

from course_lib.base.case_ids import id_of
from course_lib.cases.case import altered
from course_lib.cases.case_file import load_case, save_case
from course_lib.cases.key_file import load_key, save_key
from course_lib.classroom.register import REGISTER, Register, RegisterEntry

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


def set_of_one_case(place, names, name="M01"):
    """An instructor's folder `place` in which everybody on the list was dealt the same frozen case under its own id."""
    stem = id_of(name)
    register = Register(
        entries=tuple(
            RegisterEntry(name=name, folder=f"{number:03d}-learner", cases=(stem,))
            for number, name in enumerate(names)
        ),
        minutes={stem: load_key(stem).certificate.minutes},
        spread="",
    )
    for folder in ("cases", "keys"):
        (place / folder).mkdir(parents=True)
    save_case(load_case(stem), place / f"cases/{stem}.json")
    save_key(load_key(stem), place / f"keys/{stem}.key")
    (place / REGISTER).write_bytes(msgspec.json.encode(register))
    return place
