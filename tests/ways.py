"""The three ways through the library, as they are really gone: `python tests/ways.py [case] [click] [mark]` prints them.

Each way is gone once to warm what is loaded and kept, then once more under a trace of the calls into `course_lib`. A line is a
file and the functions called in it; files stand in the order in which they are first entered.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from types import FrameType

import course_lib

PACKAGE = f"{Path(course_lib.__file__).parent}{os.sep}"
REQUEST = {"seed": 4, "cause": "fluid_low_external_leak", "use": "mixed", "signal": "vacuum"}
NUMBER = count(1)


@dataclass
class Way:
    """Files entered, each with its functions, and how often the way went from one file into another."""

    files: dict[str, list[str]] = field(default_factory=dict)
    changes: int = 0
    here: str = ""

    def note(self, frame: FrameType, event: str, _arg: object) -> None:
        """One call, as `sys.setprofile` tells it."""
        if event != "call" or not frame.f_code.co_filename.startswith(PACKAGE):
            return
        name = frame.f_code.co_filename.removeprefix(PACKAGE)
        self.changes += name != self.here
        self.here = name
        functions = self.files.setdefault(name, [])
        called = frame.f_code.co_qualname.split(".<locals>")[0]
        if not called.startswith("<") and called not in functions:
            functions.append(called)


@contextmanager
def traced() -> Iterator[Way]:
    """The calls into the package meanwhile, of this thread."""
    way = Way()
    sys.setprofile(way.note)
    try:
        yield way
    finally:
        sys.setprofile(None)


def making_a_case() -> Way:
    """From the request to case and key, the lives to compare with being at hand. Under a name of its own it is not kept yet."""
    course_lib.make_case(**REQUEST, name=f"way-{os.getpid()}-{next(NUMBER)}")
    with traced() as way:
        course_lib.make_case(**REQUEST, name=f"way-{os.getpid()}-{next(NUMBER)}")
    return way


def a_click() -> Way:
    """From the page's act, an inspection, to the sheet that is sent back; the message arrives where ipywidgets hands it over."""
    case, key = course_lib.load_case("M01"), course_lib.load_key("M01")
    with tempfile.TemporaryDirectory() as folder:
        bench = course_lib.open_bench(case, key, folder=folder)
        bench._handle_custom_msg({"n": 1, "do": "inspect", "inspection": "interview"}, [])
        with traced() as way:
            bench._handle_custom_msg({"n": 2, "do": "inspect", "inspection": "walk_round"}, [])
    return way


def a_mark() -> Way:
    """From record, case and key to outcome and mark sheet, the whole repair being planned."""
    from course_lib.assessment import rubric

    mark, case, key = course_lib.mark, course_lib.load_case("M01"), course_lib.load_key("M01")
    record = rubric.model_record(case, key)
    for _ in range(2):
        with traced() as way:
            rubric.grade_record(record, case, key)
            mark(record.handed_in, key)
    return way


WAYS: dict[str, Callable[[], Way]] = {"case": making_a_case, "click": a_click, "mark": a_mark}


def main(names: list[str]) -> None:
    """Print the ways of those names, else all."""
    for name in names or WAYS:
        way = WAYS[name]()
        print(f"\n{name}: {len(way.files)} files, {way.changes:,} changes of file")
        for file, functions in way.files.items():
            print(f"  {file}: {', '.join(functions) or '-'}")


if __name__ == "__main__":
    main(sys.argv[1:])
