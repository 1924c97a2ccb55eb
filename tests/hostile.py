"""Hand-ins that are careless, unlucky or up to something: one builder for each kind, and what the marking must say of it.

A builder gets the folder of its learner, the text of a record that is right, and the line of code that must never run.
"""

import gzip
import io
import json
import os
import pickle
import socket
import zipfile
from dataclasses import dataclass

from course_lib.base.case_ids import id_of

CASE = id_of("M01")
RIGHT, NONE = 100.0, 0.0
STRANGER = "not on the list of this set"


@dataclass
class Kind:
    """Builds a hand-in; earned: points it must get; says: what one of its lines must hold ("" for none)."""

    build: object
    earned: float = NONE
    says: str = "record refused"
    name: object = None


KINDS: dict[str, Kind] = {}


def kind(earned=NONE, says="record refused", name=None):
    """Enter a builder under its own name; name: of the learner's folder, as text or bytes, where that is the trick."""

    def enter(build):
        KINDS[build.__name__] = Kind(build, earned, says, name)
        return build

    return enter


def put(room, data, name=f"{CASE}.json"):
    """Write a file into the answers of a learner's folder."""
    path = room / "answers" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def changed(text, **fields):
    """The record with some of its fields replaced."""
    return json.dumps(json.loads(text) | fields)


def answered(text, **fields):
    """The record with some fields of the answer handed in replaced."""
    raw = json.loads(text)
    return changed(text, handed_in=raw["handed_in"] | fields)


def all_wrong(text):
    """The record with nothing in its answer but a wrong part and a wrong cause."""
    answer = {"parts": ["no_part_broken"], "causes": ["neutral_drop_abuse"], "why": "I am sure."}
    return changed(text, handed_in=answer)


# ------------------------------------------------------------------ controls
@kind(RIGHT, "")
def right(room, text, code):
    put(room, text)


@kind(NONE, "")
def wrong(room, text, code):
    put(room, all_wrong(text))


@kind(RIGHT, "")
def records_without_the_folder(room, text, code):
    room.mkdir(parents=True)
    (room / f"{CASE}.json").write_text(text)


# ------------------------------------------------------------------ code that wants to run
def with_code(name, body="{code}"):
    """A right record, and beside it, above it and in the answers a file that would run."""

    def build(room, text, code):
        put(room, text)
        for place in (room, room / "answers"):
            (place / name).write_text(body.format(code=code))

    build.__name__ = "code_in_" + name.replace(".", "_")
    KINDS[build.__name__] = Kind(build, RIGHT, f"never run: {name}")


with_code("conftest.py")
with_code("course_lib.py")
with_code("json.py")
with_code("msgspec.py")
with_code("sitecustomize.py")
with_code("test_mine.py", "def test_it():\n    {code}\n")
with_code("mine.pth", "import os; {code}")
with_code("pytest.ini", "[pytest]\naddopts = -p mine\n")
with_code("pyproject.toml", "[tool.pytest.ini_options]\naddopts = '-p mine'\n")
with_code("ipython_config.py")


@kind(NONE, "a notebook was handed in without its records")
def notebook_instead_of_a_record(room, text, code):
    room.mkdir(parents=True)
    (room / "class_set.ipynb").write_text(notebook(code))


@kind(RIGHT, "")
def own_notebook_beside_a_record(room, text, code):
    put(room, text)
    (room / "class_set.ipynb").write_text(notebook(code))


@kind(NONE, "record refused")
def notebook_named_as_a_record(room, text, code):
    put(room, notebook(code))


def notebook(code):
    """A notebook that runs a line of code."""
    cell = {
        "cell_type": "code",
        "source": code,
        "metadata": {},
        "outputs": [],
        "execution_count": None,
        "id": "a",
    }
    return json.dumps({"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5})


@kind()
def pickled(room, text, code):
    class Evil:
        def __reduce__(self):
            return exec, (code,)

    put(room, pickle.dumps(Evil()))


@kind(RIGHT, "")
def words_that_are_templates(room, text, code):
    put(room, answered(text, why="{0.__class__} {{7*7}} ${7*7} %(x)s `rm` $(id) {% raw %} __import__('os')"))


@kind(NONE, "record refused")
def object_that_names_a_class(room, text, code):
    put(room, json.dumps({"py/object": "subprocess.Popen", "args": code}))


@kind(NONE, "")
def own_key_that_says_the_answer_is_right(room, text, code):
    put(room, all_wrong(text))
    (room / "keys").mkdir()
    (room / "keys" / f"{CASE}.key").write_text("mine")


# ------------------------------------------------------------------ not a plain file
@kind(NONE, "not a plain file but a link")
def link_to_another_record(room, text, code):
    put(room, text, "elsewhere.json")
    os.symlink("elsewhere.json", room / "answers" / f"{CASE}.json")


@kind(NONE, "not a plain file but a link")
def link_to_a_file_of_the_system(room, text, code):
    (room / "answers").mkdir(parents=True)
    os.symlink("/etc/passwd", room / "answers" / f"{CASE}.json")


@kind(NONE, "not a plain file but a link")
def link_to_a_device_without_end(room, text, code):
    (room / "answers").mkdir(parents=True)
    os.symlink("/dev/zero", room / "answers" / f"{CASE}.json")


@kind(NONE, "answers is a link")
def link_for_the_answers(room, text, code):
    put(room, text).parent.rename(room / "elsewhere")
    os.symlink("elsewhere", room / "answers")


@kind(NONE, "a link was handed in")
def link_for_the_whole_folder(room, text, code):
    other = room.with_name(".hidden-" + room.name)
    put(other, text)
    os.symlink(other.name, room)


@kind(NONE, "not a plain file but a folder")
def folder_named_as_a_record(room, text, code):
    (room / "answers" / f"{CASE}.json").mkdir(parents=True)


@kind(NONE, "not a plain file but a pipe")
def pipe_that_nobody_writes_to(room, text, code):
    (room / "answers").mkdir(parents=True)
    os.mkfifo(room / "answers" / f"{CASE}.json")


@kind(NONE, "not a plain file but a socket")
def socket_as_a_record(room, text, code):
    (room / "answers").mkdir(parents=True)
    here = os.getcwd()
    os.chdir(room / "answers")  # a socket's path must be short
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind(f"{CASE}.json")
    finally:
        os.chdir(here)


@kind(NONE, "a file was handed in, not a folder")
def file_instead_of_a_folder(room, text, code):
    room.write_text(text)


@kind(NONE, "answers is a file")
def file_named_answers(room, text, code):
    room.mkdir()
    (room / "answers").write_text(text)


@kind(NONE, "Unpack it")
def zip_instead_of_a_folder(room, text, code):
    with zipfile.ZipFile(room.with_name(room.name), "w") as packed:
        packed.writestr(f"answers/{CASE}.json", text)


KINDS["zip_instead_of_a_folder"].name = "zip instead of a folder.zip"


@kind(NONE, "not unpacked")
def zip_that_would_fill_the_disk(room, text, code):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("zeros", b"\0" * 20_000_000)
    put(room, inner.getvalue(), "answers.zip")


# ------------------------------------------------------------------ not a record
@kind(NONE, "larger than")
def hundred_megabytes(room, text, code):
    with put(room, text).open("r+b") as file:
        file.truncate(100 * 2**20)


@kind(NONE, "nested too deeply|cannot be read|record refused")
def nested_deeply(room, text, code):
    put(room, '{"case_id": ' + "[" * 100_000 + "]" * 100_000 + "}")


@kind(NONE, "stands in it twice")
def entry_twice(room, text, code):
    put(room, text.rstrip()[:-1] + f', "case_id": "{CASE}"}}')


@kind(NONE, "NaN")
def not_a_number(room, text, code):
    put(room, changed(text, attempts=float("nan")))


@kind()
def number_without_end(room, text, code):
    put(room, text.replace('"attempts": 1', '"attempts": 1e999'))


@kind()
def number_of_five_thousand_digits(room, text, code):
    put(room, text.replace('"attempts": 1', '"attempts": ' + "9" * 5000))


@kind()
def wrong_type(room, text, code):
    put(room, changed(text, handed_in="both of them"))


@kind()
def list_where_one_is_wanted(room, text, code):
    put(room, answered(text, why=["a", "b"]))


@kind()
def ten_thousand_parts(room, text, code):
    put(room, answered(text, parts=["pump"] * 10_000))


@kind()
def novel_of_an_explanation(room, text, code):
    put(room, answered(text, why="because " * 1000))


@kind(NONE, "it belongs to another case: P01")
def record_of_another_case(room, text, code):
    put(room, changed(text, case_id="P01"))


@kind(NONE, "it belongs to another case")
def path_as_a_case(room, text, code):
    put(room, changed(text, case_id=f"../../{CASE}"))


@kind(NONE, "version 99")
def version_of_the_future(room, text, code):
    put(room, changed(text, schema_version=99))


@kind()
def version_in_words(room, text, code):
    put(room, changed(text, schema_version="two"))


@kind()
def cut_off(room, text, code):
    put(room, text[: len(text) // 2])


@kind()
def empty_file(room, text, code):
    put(room, "")


@kind()
def nothing_but_null(room, text, code):
    put(room, "null")


@kind()
def two_records_in_one(room, text, code):
    put(room, text + text)


@kind()
def xml_that_grows(room, text, code):
    put(room, '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "xx"><!ENTITY c "&b;&b;">]><a>&c;</a>')


@kind(NONE, "not text in UTF-8")
def encoded_in_16_bits(room, text, code):
    put(room, text.encode("utf-16"))


@kind(NONE, "not text in UTF-8")
def encoded_for_one_country(room, text, code):
    put(room, answered(text, why="x").replace('"x"', '"gr\u00fcn"').encode("latin-1"))


@kind(NONE, "not text in UTF-8")
def packed_record(room, text, code):
    put(room, gzip.compress(text.encode()))


@kind()
def half_a_character(room, text, code):
    put(room, answered(text, why="x").replace('"x"', '"\\ud800"'))


@kind()
def minutes_below_zero(room, text, code):
    put(room, changed(text, inspections=[{"inspection": "interview", "minutes": -500}]))


# ------------------------------------------------------------------ words that bite
@kind(RIGHT, "")
def formula_as_an_explanation(room, text, code):
    put(room, answered(text, why='=HYPERLINK("http://x","marks")'))


@kind(RIGHT, "")
def formula_behind_a_tab(room, text, code):
    put(room, answered(text, why="\t=1+1"))


@kind(RIGHT, "")
def script_as_an_explanation(room, text, code):
    put(room, answered(text, why="</td></table><script>alert(1)</script><img src=x onerror=alert(1)>"))


@kind(RIGHT, "")
def row_that_breaks_out_of_its_cell(room, text, code):
    put(room, answered(text, why='","100"\r\n"Somebody Else","M01/part","1","1"'))


@kind(RIGHT, "")
def letters_that_steer_a_screen(room, text, code):
    put(room, answered(text, why="\x1b[2J\x1b]0;title\x07 \u202emoc.live \x00 \x08\x08"))


@kind(RIGHT, "")
def marks_in_the_record(room, text, code):
    put(room, changed(text, earned=100, points=100, marks={f"{CASE}/part": 100}))


@kind(RIGHT, "", name="=cmd|' C'!A0")
def formula_as_a_name(room, text, code):
    put(room, text)


@kind(RIGHT, "", name="<script>alert(1)<&>")
def script_as_a_name(room, text, code):
    put(room, text)


@kind(NONE, STRANGER, name=b"not \xff\xfe text")
def name_that_is_no_text(room, text, code):
    put(room, text)


@kind(NONE, STRANGER, name="two\nlines, \x1b[31mred")
def name_of_two_lines(room, text, code):
    put(room, text)


@kind(NONE, STRANGER, name="n" * 250)
def name_without_end(room, text, code):
    put(room, text)


@kind(NONE, "no record", name=".out of sight")
def hidden_folder(room, text, code):
    room.mkdir()


# ------------------------------------------------------------------ half done
@kind(NONE, "no record")
def empty_folder(room, text, code):
    room.mkdir()


@kind(NONE, "")
def draft_that_was_never_handed_in(room, text, code):
    put(room, changed(text, handed_in=None))


@kind(NONE, "records of other names found and not read: m01.json")
def name_in_small_letters(room, text, code):
    put(room, text, "m01.json")


@kind(NONE, "no record")
def folder_in_a_folder(room, text, code):
    put(room / "my work", text)


@kind(RIGHT, "more than 200 files")
def six_hundred_files(room, text, code):
    put(room, text)
    for number in range(600):
        (room / f"{number}.txt").touch()


@kind(RIGHT, "word for word, as one of the copied one")
def copied_record(room, text, code):
    put(room, answered(text, why="The band was backed off, so it slid and burnt. I saw the turns."))


@kind(RIGHT, "word for word, as one of copied record")
def the_copied_one(room, text, code):
    copied_record(room, text, code)
