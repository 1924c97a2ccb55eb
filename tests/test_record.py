"""The record: written whole or not at all, never overwritten when damaged, proof against odd names."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import jsonschema
import msgspec
import pytest
from filelock import FileLock
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course_lib.assessment import record as rec
from course_lib.assessment.record import Answer, LoggedInspection, Record

TOP = Path(__file__).resolve().parent.parent
FULL = Record(
    case_id="T3-7",
    generator_version=2,
    inspections=(
        LoggedInspection(inspection="road_test", minutes=25),
        LoggedInspection(inspection="pan", minutes=45),
    ),
    answer=Answer(parts=("forward_clutch",), why="half a sentence"),
    notes="asked for the trailer's weight",
)
ANSWER = Answer(
    parts=("forward_clutch",),
    causes=("regulator_stuck_low",),
    evidence=("pan",),
    why="It slipped.",
    confidence="sure",
)

WRITER = Path(__file__).with_name("writers.py")


def files(folder: Path) -> list[str]:
    """What a learner finds in the folder; the lock is nobody's business."""
    return sorted(set(os.listdir(folder)) - {".lock"})


def test_a_saved_record_comes_back_equal(tmp_path):
    """Round trip through the file, with only the record left in the folder."""
    full = rec.hand_in(FULL, ANSWER)
    rec.save_record(full, tmp_path / "answers")
    assert rec.load_record("T3-7", tmp_path / "answers") == full
    assert files(tmp_path / "answers") == ["T3-7.json"]


def test_no_file_is_an_empty_record_and_no_message(tmp_path):
    """A case never opened before starts empty, and nothing is written by looking."""
    assert rec.open_record("T3-7", tmp_path) == (Record(case_id="T3-7"), "")
    assert files(tmp_path) == []


@pytest.mark.parametrize(
    "case_id",
    [
        "",
        "../T3-7",
        "a/b",
        "a\\b",
        "..",
        ".hidden",
        "T3 7",
        "T3-7.json",
        "x" * 41,
        "T3\n",
        "T3-7\x00",
        None,
        7,
    ],
)
def test_a_case_id_cannot_lead_out_of_the_folder(case_id, tmp_path):
    """Every reader and writer goes through this one check."""
    with pytest.raises(ValueError, match="case_id must be"):
        rec.record_path(case_id, tmp_path)
    with pytest.raises(ValueError, match="case_id must be"):
        rec.open_record(case_id, tmp_path)
    with pytest.raises(ValueError, match="case_id must be"):
        rec.save_record(Record(case_id=case_id), tmp_path)


DAMAGED = [
    b"",
    b"{",
    b"[]",
    b"\xff\xfe\x00",
    b'{"case_id": "T3-7", "attempts": "two"}',
    b'{"case_id": "T3-8"}',
    b'{"case_id": "T3-7", "schema_version": "two"}',
    b'{"case_id": "T3-7", "schema_version": 0}',
    b'{"case_id": "T3-7", "schema_version": true}',
    b'{"case_id": "T3-7", "case_id": "T3-7"}',
    b'{"case_id": "T3-7", "answer": {"why": "a", "why": "b"}}',
    b'{"case_id": "T3-7", "attempts": NaN}',
    b'{"case_id": "T3-7", "attempts": 1e999}',
    b'{"case_id": "T3-7", "attempts": ' + b"9" * 5000 + b"}",
    b'{"case_id": "T3-7", "notes": "\\ud800"}',
    b'{"case_id": "T3-7", "answer": {"parts": ["a", "b", "c", "d", "e", "f", "g"]}}',
    b'{"case_id": "T3-7", "schema_version": 2, "history": [{"parts": ["bare"]}]}',
    b'{"case_id": "T3-7", "notes": ' + b'{"a":' * 50_000 + b"1" + b"}" * 50_000 + b"}",
    b"[" * 100_000,
    b'{"case_id": "T3-7", "notes": "' + b"x" * (rec.MOST_CHARACTERS + 1) + b'"}',
    b'{"case_id": "T3-7"}' + b" " * rec.MOST_BYTES,
]


@pytest.mark.parametrize("damage", DAMAGED, ids=range(len(DAMAGED)))
def test_a_damaged_file_is_kept_aside_and_named(damage, tmp_path):
    """The old bytes stay, the learner is told where, and an empty record goes on."""
    path = tmp_path / "T3-7.json"
    path.write_bytes(damage)
    record, message = rec.open_record("T3-7", tmp_path)
    assert record == Record(case_id="T3-7")
    assert "T3-7.damaged-1.json" in message
    assert (tmp_path / "T3-7.damaged-1.json").read_bytes() == damage
    assert not path.exists()


def test_a_second_damaged_file_does_not_replace_the_first(tmp_path):
    """Each gets a number of its own."""
    for text in ("first", "second"):
        (tmp_path / "T3-7.json").write_text(text)
        with pytest.warns(rec.RecordWarning, match="damaged-"):
            rec.load_record("T3-7", tmp_path)
    assert (tmp_path / "T3-7.damaged-1.json").read_text() == "first"
    assert (tmp_path / "T3-7.damaged-2.json").read_text() == "second"


def test_saving_never_overwrites_a_damaged_file(tmp_path):
    """Damage that happened after the case was opened is set aside at the next save too."""
    (tmp_path / "T3-7.json").write_text("half a rec")
    rec.save_record(FULL, tmp_path)
    assert (tmp_path / "T3-7.damaged-1.json").read_text() == "half a rec"
    assert rec.load_record("T3-7", tmp_path) == FULL


def test_a_damaged_file_that_cannot_be_moved_is_left_alone(tmp_path, monkeypatch):
    """No rename, no save: the message says what to do and the bytes stay."""
    (tmp_path / "T3-7.json").write_text("half a rec")
    monkeypatch.setattr(os, "rename", refuse)
    record, message = rec.open_record("T3-7", tmp_path)
    assert record == Record(case_id="T3-7") and "Move it out of the folder" in message
    with pytest.raises(rec.RecordNotSaved, match="could not be written"):
        rec.save_record(FULL, tmp_path)
    assert (tmp_path / "T3-7.json").read_text() == "half a rec"


def refuse(*_args, **_kwargs):
    raise PermissionError(13, "Permission denied")


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_save_cut_short_leaves_the_old_record(step, tmp_path, monkeypatch):
    """Whatever fails between the first byte and the last, the file on disk is a whole record."""
    rec.save_record(FULL, tmp_path)
    monkeypatch.setattr(os, step, refuse)
    with pytest.raises(rec.RecordNotSaved, match=r"could not be written \(Permission denied\)"):
        rec.save_record(rec.hand_in(FULL, ANSWER), tmp_path)
    monkeypatch.undo()
    assert rec.load_record("T3-7", tmp_path) == FULL
    assert files(tmp_path) == ["T3-7.json"]


def test_a_folder_that_cannot_be_made_is_one_line_that_says_what_to_do(tmp_path):
    """Here a file stands where the folder should be."""
    (tmp_path / "answers").write_text("in the way")
    with pytest.raises(rec.RecordNotSaved) as caught:
        rec.save_record(FULL, tmp_path / "answers")
    assert "Make the folder writable" in str(caught.value) and "\n" not in str(caught.value)


def test_what_could_not_be_read_back_is_not_written(tmp_path):
    """The bounds hold on the way out as well."""
    long = msgspec.structs.replace(FULL, notes="x" * (rec.MOST_CHARACTERS + 1))
    with pytest.raises(msgspec.ValidationError, match="length"):
        rec.save_record(long, tmp_path)
    assert files(tmp_path) == []


def test_handing_in_counts_and_keeps_every_answer(tmp_path):
    """The last answer counts and every earlier one stays, with when it was handed in."""
    record = FULL
    for number in range(40):
        record = rec.hand_in(record, msgspec.structs.replace(ANSWER, why=str(number)))
    assert record.attempts == 40
    assert [kept.answer.why for kept in record.history] == [str(number) for number in range(40)]
    assert record.handed_in == record.answer == record.history[-1].answer
    assert record.history[-1].minutes == FULL.minutes_used
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}[+-]\d\d:\d\d", record.handed_in_at)
    assert rec.read_record(rec.save_record(record, tmp_path)) == record


def test_the_largest_record_fits_the_bound(tmp_path):
    """Every field at its limit, in characters of four bytes, stays below MOST_BYTES; of a history without end the newest stay."""
    name, text = "\U0001f527" * 80, "\U0001f527" * rec.MOST_CHARACTERS
    names = (name,) * rec.MOST_NAMES
    answer = Answer(
        parts=(name,) * rec.MOST_PARTS,
        causes=(name,) * rec.MOST_CAUSES,
        cleared=names,
        chain=(name,) * rec.MOST_LINKS,
        evidence=(name,) * rec.MOST_EVIDENCE,
        excluded=(rec.Excluded(cause=name, finding=name),) * rec.MOST_EXCLUDED,
        repair=rec.RepairPlan(renew=names, correct=(name,) * rec.MOST_CAUSES, also=names),
        proof=rec.Proof(repeat=(name,) * rec.MOST_EVIDENCE, hot=True, recheck=name, advice=names),
        cautions=names,
        why=text,
        confidence=name,
    )
    record = Record(
        case_id="T3-7",
        inspections=tuple(LoggedInspection(inspection=f"{number:080}", minutes=1) for number in range(100)),
        answer=answer,
        handed_in=answer,
        history=tuple(rec.KeptAnswer(at=str(number), answer=answer) for number in range(150)),
        notes=text,
    )
    rec.save_record(record, tmp_path)
    assert rec.save_record(record, tmp_path).stat().st_size < rec.MOST_BYTES
    found = rec.load_record("T3-7", tmp_path)
    assert msgspec.structs.replace(found, history=()) == msgspec.structs.replace(record, history=())
    assert 40 < len(found.history) < 150 and found.history == record.history[-len(found.history) :]


def test_the_typed_call_writes_what_the_form_writes(tmp_path):
    """A single name may be given without brackets; earlier work stays."""
    rec.save_record(FULL, tmp_path)
    record = rec.record_answer(
        "T3-7",
        parts="forward_clutch",
        causes=["regulator_stuck_low"],
        evidence="pan",
        why="It slipped.",
        confidence="sure",
        folder=tmp_path,
    )
    assert record.handed_in == ANSWER
    assert record.inspections == FULL.inspections
    assert rec.load_record("T3-7", tmp_path) == record


def test_the_typed_call_refuses_what_the_form_cannot_say(tmp_path):
    """Too many names, or a sureness that is not on the list."""
    with pytest.raises(ValueError, match="parts must be at most 6 names, got 7"):
        rec.record_answer("T3-7", parts=list("abcdefg"), causes="x", folder=tmp_path)
    with pytest.raises(ValueError, match="confidence must be .* Did you mean 'sure'"):
        rec.record_answer("T3-7", parts="a", causes="x", confidence="surely", folder=tmp_path)
    assert files(tmp_path) == []


def test_text_is_made_fit_for_a_file():
    """Half a character, as a broken paste can leave, is replaced and the length is cut."""
    assert rec.clean_text("a\ud800b") == "a?b"
    assert len(rec.clean_text("x" * 10_000)) == rec.MOST_CHARACTERS


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)
WHOLE = json.loads(msgspec.json.encode(rec.hand_in(msgspec.structs.replace(FULL, answer=ANSWER), ANSWER)))
FUZZ = settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    database=None,
)


def places(value, path=()) -> list[tuple]:
    """The path of every entry of a JSON value, the whole first."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path] + [place for key, each in inner for place in places(each, (*path, key))]


def changed(value, path, new):
    """`value` with the entry at `path` replaced."""
    if not path:
        return new
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = changed(value[path[0]], path[1:], new)
    return copy


def check_any_file(folder: Path, content: bytes) -> None:
    """Any content gives a record that can be saved, a file set aside, or one left alone; its bytes are kept; no exception."""
    path = folder / "T3-7.json"
    path.write_bytes(content)
    record, message = rec.open_record("T3-7", folder)
    assert record.case_id == "T3-7" and "\n" not in message
    aside = re.search(r"T3-7\.damaged-\d+\.json", message)
    kept = folder / aside[0] if aside else path
    assert kept.read_bytes() == content and (
        bool(message) == bool(aside) or "newer than this course" in message
    )
    kept.unlink()
    if not message:
        msgspec.convert(msgspec.to_builtins(record), Record)
        msgspec.json.encode(record)


@FUZZ
@given(
    st.one_of(
        st.binary(max_size=300), st.text(max_size=100).map(str.encode), JSON.map(json.dumps).map(str.encode)
    )
)
def test_no_bytes_can_break_the_loader(tmp_path, content):
    """Bytes, text and JSON of any kind."""
    check_any_file(tmp_path, content)


@FUZZ
@given(st.sampled_from(places(WHOLE)), JSON)
def test_no_wrong_entry_can_break_the_loader(tmp_path, path, value):
    """A whole record with any one entry, however deep, replaced by any JSON."""
    check_any_file(tmp_path, json.dumps(changed(WHOLE, path, value)).encode())


@FUZZ
@given(st.integers(0, len(json.dumps(WHOLE))), st.integers(0, 40), st.binary(max_size=6))
def test_no_torn_file_can_break_the_loader(tmp_path, start, length, patch):
    """A whole record with a stretch of bytes lost or replaced."""
    text = json.dumps(WHOLE).encode()
    check_any_file(tmp_path, text[:start] + patch + text[start + length :])


# ---------------------------------------------------------------------- two programs, and programs that die
def writer(folder: Path, name: str, kind: str, times: int) -> subprocess.Popen:
    """A program that saves on its own; see tests/writers.py."""
    command = [sys.executable, "-W", "error", str(WRITER), str(folder), name, kind, str(times)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=TOP)


def whys(record: Record, kind: str) -> set[str]:
    return {kept.answer.why for kept in record.history if kept.kind == kind}


def test_help_asked_for_in_another_tab_stays(tmp_path):
    """Two tabs that both asked for help: whichever saves last, the file holds what each of them asked, once and oldest first."""
    asked = [
        rec.Helped(kind=kind, after=after)
        for kind, after in (("direction", 0), ("odds", 2), ("direction", 3))
    ]
    rec.save_record(Record(case_id="T3-7", helped=(asked[0], asked[1]), writer="another"), tmp_path)
    rec.save_record(Record(case_id="T3-7", helped=(asked[0], asked[2])), tmp_path)
    assert rec.load_record("T3-7", tmp_path).helped == tuple(asked)


def test_what_was_refused_in_another_tab_stays(tmp_path):
    """As help does: once, oldest first."""
    asked = [rec.Refused(act=act, after=after) for act, after in (("a", 0), ("b", 2), ("a", 3))]
    rec.save_record(Record(case_id="T3-7", refused=(asked[0], asked[1]), writer="another"), tmp_path)
    rec.save_record(Record(case_id="T3-7", refused=(asked[0], asked[2])), tmp_path)
    assert rec.load_record("T3-7", tmp_path).refused == tuple(asked)


@pytest.mark.parametrize("kind, times", [("inspection", 40), ("hand in", 30), ("draft", 30)])
def test_two_writers_at_once_lose_nothing(kind, times, tmp_path):
    """Every save of both is found again: inspections once each, every hand-in, every draft that the other wrote over."""
    both = [writer(tmp_path, name, kind, times) for name in "ab"]
    said = [each.communicate()[0].split() for each in both]
    assert [len(each) for each in said] == [times, times] and [each.returncode for each in both] == [0, 0]
    record = rec.load_record("T3-7", tmp_path)
    wanted = {f"{name}-{number}" for name in "ab" for number in range(times)}
    if kind == "inspection":
        assert sorted(step.inspection for step in record.inspections) == sorted(wanted)
    elif kind == "hand in":
        assert whys(record, "handed in") == wanted and len(record.history) == record.attempts == 2 * times
        assert record.handed_in == record.history[-1].answer
    else:  # its own drafts a program may write over, the last one of each stays
        assert {f"{name}-{times - 1}" for name in "ab"} <= whys(record, "draft") | {record.answer.why}
    assert files(tmp_path) == ["T3-7.json"]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal on this system")
@pytest.mark.parametrize("kind", ["inspection", "hand in", "draft"])
def test_a_program_killed_while_saving_loses_nothing_saved(kind, tmp_path):
    """Killed at any moment: the file is whole, holds every save that had returned, and the next program saves at once."""
    process = writer(tmp_path, "a", kind, 90)
    for _ in range(5):
        process.stdout.readline()
    process.send_signal(signal.SIGKILL)
    done = 4 + len(process.communicate()[0].split())
    check_killed(tmp_path, kind, done)


def check_killed(folder: Path, kind: str, done: int) -> None:
    """What must be there after a program was killed that had said it saved number `done`."""
    record = rec.read_record(folder / "T3-7.json")
    if kind == "draft":
        saved = int(record.answer.why.removeprefix("a-")) + 1
    else:
        saved = len(record.inspections if kind == "inspection" else record.history)
    assert saved in (done + 1, done + 2)
    rec.save_record(msgspec.structs.replace(record, notes="after"), folder)
    assert rec.read_record(folder / "T3-7.json").notes == "after"
    assert files(folder) == ["T3-7.json"]


def test_a_stale_page_brings_nothing_back_and_takes_nothing_away(tmp_path):
    """One program saves what it read long ago: the other's inspection and hand-in stay, and its hand-in still counts."""
    old = FULL
    rec.save_record(old, tmp_path)
    newer = rec.hand_in(old, ANSWER)
    newer = msgspec.structs.replace(
        newer, inspections=(*old.inspections, LoggedInspection(inspection="measure", minutes=75))
    )
    rec.save_record(newer, tmp_path)
    rec.save_record(msgspec.structs.replace(old, notes="still here"), tmp_path)
    found = rec.load_record("T3-7", tmp_path)
    assert found.inspections == newer.inspections and found.handed_in == ANSWER and found.attempts == 1
    assert found.history == newer.history and found.notes == "still here" and found.answer == old.answer


def test_a_draft_of_another_program_is_kept_once_and_ones_own_is_not(tmp_path):
    """Written over by me: kept as a draft. Saved again by me: no second copy."""
    rec.save_record(msgspec.structs.replace(FULL, writer="another"), tmp_path)
    path = tmp_path / "T3-7.json"
    path.write_text(path.read_text().replace(rec.Record(case_id="x").writer, "another"))
    for why in ("mine", "mine again"):
        rec.save_record(msgspec.structs.replace(FULL, answer=Answer(why=why)), tmp_path)
    (kept,) = rec.load_record("T3-7", tmp_path).history
    assert kept.kind == "draft" and kept.answer == FULL.answer and kept.minutes == FULL.minutes_used


def test_a_folder_held_too_long_is_one_line(tmp_path, monkeypatch):
    """Another program that saves and never ends: the learner is told, and nothing is written past it."""
    monkeypatch.setattr("course_lib.assessment.record.store.PATIENCE", 0.05)
    with FileLock(tmp_path / ".lock"):
        with pytest.raises(rec.RecordNotSaved, match="another program is saving there"):
            rec.save_record(FULL, tmp_path)
    rec.save_record(FULL, tmp_path)
    assert rec.load_record("T3-7", tmp_path) == FULL


def test_a_disk_without_locks_still_saves(tmp_path):
    """Where the lock cannot be had for good, saving goes on."""
    (tmp_path / ".lock").mkdir()
    rec.save_record(FULL, tmp_path)
    assert rec.load_record("T3-7", tmp_path) == FULL


# ---------------------------------------------------------------------- versions
VERSION_1 = b"""{"schema_version": 1, "case_id": "T3-7", "generator_version": 2,
 "inspections": [{"inspection": "road_test", "minutes": 25}],
 "answer": {"parts": ["band"], "causes": ["leak"], "evidence": ["pan"], "why": "It slid.", "confidence": "sure"},
 "handed_in": {"parts": ["band"], "causes": ["leak"], "evidence": ["pan"], "why": "It slid.", "confidence": "sure"},
 "handed_in_at": "2026-03-02T10:11:12", "attempts": 2,
 "history": [{"parts": ["drum"]}, {"parts": ["band"], "causes": ["leak"], "why": "It slid.", "confidence": "sure"}]}"""


@pytest.mark.parametrize("text", [VERSION_1, VERSION_1.replace(b'"schema_version": 1, ', b"")])
def test_a_record_of_the_first_version_loads_and_is_saved_as_this_one(text, tmp_path):
    """With or without its number; nothing of it is lost, and what it had not is empty."""
    path = tmp_path / "T3-7.json"
    path.write_bytes(text)
    record = rec.read_record(path)
    assert record.handed_in.why == "It slid." and record.handed_in.excluded == () and record.attempts == 2
    assert [kept.answer.parts for kept in record.history] == [("drum",), ("band",)]
    rec.save_record(record, tmp_path)
    assert b'"schema_version": 3' in path.read_bytes()
    assert msgspec.structs.replace(rec.read_record(path), writer=record.writer) == record


def test_a_record_of_a_later_version_is_left_alone(tmp_path):
    """One clear line; the file stays byte for byte, also when something is to be saved."""
    path, text = tmp_path / "T3-7.json", b'{"case_id": "T3-7", "schema_version": 4, "answer": {"new": 1}}'
    path.write_bytes(text)
    record, message = rec.open_record("T3-7", tmp_path)
    assert record == Record(case_id="T3-7")
    assert "schema version 4" in message and "Update the course" in message and "\n" not in message
    with pytest.raises(rec.RecordNotSaved, match="newer than this course"):
        rec.save_record(FULL, tmp_path)
    with pytest.raises(rec.DamagedRecord, match="newer"):  # whoever marks refuses it like any other
        rec.read_record(path)
    assert path.read_bytes() == text and files(tmp_path) == ["T3-7.json"]


def test_the_schema_says_what_the_loader_takes(tmp_path):
    """A JSON Schema checker of others (jsonschema, draft 2020-12) and the loader agree on good and bad records."""
    printed = subprocess.run(
        [sys.executable, "-m", "course_lib.authoring", "schema"], capture_output=True, check=True, cwd=TOP
    )
    assert json.loads(printed.stdout) == json.loads(json.dumps(rec.record_schema()))
    checker = jsonschema.Draft202012Validator(rec.record_schema())
    checker.check_schema(checker.schema)
    whole = json.loads(msgspec.json.encode(rec.hand_in(FULL, ANSWER)))
    assert checker.is_valid(whole)
    assert rec.read_record(rec.save_record(rec.hand_in(FULL, ANSWER), tmp_path)).handed_in == ANSWER
    for change in BAD_CHANGES:
        assert not checker.is_valid(whole | change), change
        (tmp_path / "T3-7.json").write_bytes(msgspec.json.encode(whole | change))
        with pytest.raises(rec.DamagedRecord):
            rec.read_record(tmp_path / "T3-7.json")


BAD_CHANGES = (
    {"attempts": -1},
    {"inspections": [{"inspection": "pan"}]},
    {"inspections": [{"inspection": "pan", "minutes": 1.5}]},
    {"answer": {"evidence": ["a"] * (rec.MOST_EVIDENCE + 1)}},
    {"answer": {"excluded": [{"cause": "leak"}]}},
    {"answer": {"proof": {"hot": "yes"}}},
    {"history": [{"kind": "guessed", "answer": {}}]},
    {"notes": None},
)


def test_the_typed_call_can_say_all_that_the_form_can(tmp_path):
    """Every field of an answer has its place in the call."""
    full = rec.record_answer(
        "T3-7",
        parts="band",
        causes="leak",
        cleared=["drum"],
        chain=["oil_short", "slides"],
        excluded=[("rust", "pan")],
        repair=rec.RepairPlan(renew=("band",), correct=("leak",), also=("flush",)),
        proof=rec.Proof(repeat=("line_psi",), hot=True, recheck="500_miles", advice=("watch_level",)),
        cautions="hot_fluid",
        folder=tmp_path,
    ).handed_in
    assert full.excluded == (rec.Excluded(cause="rust", finding="pan"),) and full.cautions == ("hot_fluid",)
    assert full == rec.load_record("T3-7", tmp_path).handed_in
    empty = [name for name in Answer.__struct_fields__ if getattr(full, name) == getattr(Answer(), name)]
    assert empty == ["evidence", "why", "confidence"]
    with pytest.raises(ValueError, match="excluded must be at most 4"):
        rec.record_answer("T3-7", parts="a", causes="b", excluded=[("a", "b")] * 5, folder=tmp_path)


def test_notes_of_another_tab_stay_until_others_are_written(tmp_path):
    """A tab that has written none leaves those that are saved; one that has some puts its own in their place."""
    for notes, kept in (("theirs", "theirs"), ("", "theirs"), ("mine", "mine")):
        rec.save_record(rec.Record(case_id="T3-7", notes=notes), tmp_path)
        assert rec.load_record("T3-7", tmp_path).notes == kept
