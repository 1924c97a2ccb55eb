"""The record: written whole or not at all, never overwritten when damaged, proof against odd names."""

from __future__ import annotations

import os
import re
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course_lib import record as rec
from course_lib.record import Answer, Record, Step

FULL = Record(
    case_id="T3-7",
    generator_version=2,
    inspections=(Step(inspection="road_test", minutes=25), Step(inspection="pan", minutes=45)),
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
    b'{"case_id": "T3-7", "answer": {"parts": ["a", "b", "c", "d"]}}',
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
        repair=rec.Repair(renew=names, correct=(name,) * rec.MOST_CAUSES, also=names),
        proof=rec.Proof(repeat=(name,) * rec.MOST_EVIDENCE, hot=True, recheck=name, advice=names),
        cautions=names,
        why=text,
        confidence=name,
    )
    record = Record(
        case_id="T3-7",
        inspections=tuple(Step(inspection=f"{number:080}", minutes=1) for number in range(100)),
        answer=answer,
        handed_in=answer,
        history=tuple(rec.Kept(at=str(number), answer=answer) for number in range(150)),
        notes=text,
    )
    rec.save_record(record, tmp_path)
    assert rec.save_record(record, tmp_path).stat().st_size < rec.MOST_BYTES
    found = rec.load_record("T3-7", tmp_path)
    assert msgspec.structs.replace(found, history=()) == msgspec.structs.replace(record, history=())
    assert 50 < len(found.history) < 150 and found.history == record.history[-len(found.history) :]


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
    with pytest.raises(ValueError, match="parts must be at most 3 names, got 4"):
        rec.record_answer("T3-7", parts=list("abcd"), causes="x", folder=tmp_path)
    with pytest.raises(ValueError, match="confidence must be .* Did you mean 'sure'"):
        rec.record_answer("T3-7", parts="a", causes="x", confidence="surely", folder=tmp_path)
    assert files(tmp_path) == []


def test_text_is_made_fit_for_a_file():
    """Half a character, as a broken paste can leave, is replaced and the length is cut."""
    assert rec.clean_text("a\ud800b") == "a?b"
    assert len(rec.clean_text("x" * 10_000)) == rec.MOST_CHARACTERS


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.binary(max_size=300), st.text(max_size=100).map(str.encode), st.just(b"{}")))
def test_no_bytes_can_break_the_loader(tmp_path, content):
    """Any content gives a record or a file set aside with its bytes kept; never an exception."""
    path = tmp_path / "T3-7.json"
    path.write_bytes(content)
    record, message = rec.open_record("T3-7", tmp_path)
    assert record.case_id == "T3-7"
    kept = path if not message else tmp_path / re.search(r"T3-7\.damaged-\d+\.json", message)[0]
    assert kept.read_bytes() == content
    kept.unlink()


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(Record.__struct_fields__), JSON)
def test_no_wrong_field_can_break_the_loader(tmp_path, field, value):
    """A record with any one field replaced by any JSON is read as a valid record or set aside."""
    path = tmp_path / "T3-7.json"
    path.write_bytes(msgspec.json.encode(msgspec.to_builtins(FULL) | {field: value}))
    record, message = rec.open_record("T3-7", tmp_path)
    assert bool(message) != path.exists()
    msgspec.convert(msgspec.to_builtins(record), Record)
