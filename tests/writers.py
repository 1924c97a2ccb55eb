"""A learner's program that saves and saves, run as a process of its own: `python tests/writers.py FOLDER NAME KIND TIMES`.

It prints the number of each save once that save has returned, so that whoever kills it knows what must be on the disk.
"""

from __future__ import annotations

import sys

from course_lib.assessment.record import Answer, LoggedInspection, Record, hand_in, load_record, save_record

CASE = "T3-7"


def change(record: Record, kind: str, name: str, number: int) -> Record:
    """One more thing done: an inspection, a hand-in or a word of the draft, told from every other by name and number."""
    words = f"{name}-{number}"
    fields = {name: getattr(record, name) for name in Record.__struct_fields__}
    if kind == "inspection":
        step = LoggedInspection(inspection=words, minutes=number)
        return Record(**fields | {"inspections": (*record.inspections, step)})
    answer = Answer(parts=("band",), why=words)
    return hand_in(record, answer) if kind == "hand in" else Record(**fields | {"answer": answer})


def main(folder: str, name: str, kind: str, times: str) -> None:
    """Save `times` changes of one kind, each on what is on the disk, as the bench does."""
    for number in range(int(times)):
        save_record(change(load_record(CASE, folder), kind, name, number), folder)
        print(number, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
