"""An id belongs to one vehicle: what was left on a vehicle that has gone is kept, can be read, says so, and is not marked."""

import pytest
from msgspec.structs import replace

from course_lib import load_case, load_key, open_bench, record_answer
from course_lib.assessment.marking import NotAnswered, check_answer, handed_in_answer
from course_lib.assessment.record import load_record, read_record
from course_lib.base import case_ids
from course_lib.base.case_ids import all_retired, id_of, records_before, retired_ids, retired_note
from course_lib.bench.retired_record import retired_records
from course_lib.cases.case import altered
from course_lib.classroom.check_cells import check_criterion
from course_lib.classroom.handins import read_handins


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A learner who handed in P01 before its vehicle changed, twice."""
    mine = tmp_path / "class/ana"
    record_answer(
        "P01-2",
        parts=["front_pump"],
        causes=["gone_from_the_catalogue"],
        why="It whined.",
        folder=mine / "answers",
    )
    monkeypatch.setattr(case_ids, "_retired", lambda: {"P01-2": ("0.5.0", "0.6.0")})
    monkeypatch.chdir(mine)
    return mine


def test_a_name_keeps_its_place_and_each_vehicle_has_an_id_of_its_own(room):
    """P01, P01-2, P01-3; an id that is no name of the course stays as it is."""
    assert (id_of("P01-2"), id_of("P01-2-3"), id_of("V-ABCDEFGH")) == ("P01-2-3", "P01-2-3", "V-ABCDEFGH")
    assert retired_ids("P01-2") == all_retired() == {"P01-2": "0.5.0", "P01-2-2": "0.6.0"}
    assert list(records_before("P01-2-3", "answers")) == ["P01-2"] and not records_before("K05", "answers")
    assert "up to version 0.5.0" in retired_note("P01-2") and retired_note("P01-2-3") == ""


def test_the_earlier_work_is_shown_above_the_bench_to_be_read(room, capsys):
    """One sentence, then what was answered in words; the new vehicle begins with an empty record, and the file stays as it is."""
    before = (room / "answers/P01-2.json").read_bytes()
    case, key = (
        altered(load_case(_shipped("P01-2")), id="P01-2-3"),
        replace(load_key("V", _as("V", room)), case_id="P01-2-3"),
    )
    bench = open_bench(case, key)
    (earlier,) = retired_records("P01-2-3", "answers")
    assert (
        repr(earlier).splitlines()[0] == retired_note("P01-2")
        and repr(earlier).splitlines()[0] in capsys.readouterr().out
    )
    assert ("Root cause", "gone_from_the_catalogue") in earlier.rows and (
        "In your own words",
        "It whined.",
    ) in earlier.rows
    assert "<details" in earlier._repr_html_() and "Front pump" == dict(earlier.rows)["Broken part"]
    assert bench.model.record.handed_in is None
    bench.model.do({"n": 1, "do": "inspect", "inspection": "interview"})
    assert (
        read_record(room / "answers/P01-2-3.json").inspections
        and (room / "answers/P01-2.json").read_bytes() == before
    )


def test_it_is_not_marked_and_says_so(room):
    """By either check cell, and in what an instructor is told of a folder; a new answer is marked as today's vehicle."""
    for check in (check_answer, check_criterion):
        with pytest.raises(
            NotAnswered, match="Nothing handed in for P01-2.*up to version 0.5.0.*is not marked"
        ):
            check("P01-2", "part")
    (handin,) = read_handins(room.parent, {room.name: ("Ana", ("V-ABCDEFGH",))})
    assert retired_note("P01-2") in handin.notes
    record_answer("P01-2", parts=["front_pump"], causes=["x"])
    assert load_record("P01-2").case_id == "P01-2-3" and handed_in_answer("P01-2", "part").causes == ("x",)


def test_a_case_that_has_gone_says_so(room):
    """Asked for by its own id, it is named with the version that had it."""
    with pytest.raises(
        FileNotFoundError, match="P01-2-2.json is of a vehicle that the course had up to version 0.6.0"
    ):
        load_case("P01-2-2")


def _shipped(name):
    """The file of a case as it lies in the course, whatever the test calls it."""
    from course_lib.base.data_files import data_folder

    return data_folder() / f"cases/{name}.json"


def _as(name, folder):
    """A folder with the key of P01 under another name."""
    from course_lib.base.data_files import data_folder

    (folder / f"{name}.key").write_bytes((data_folder() / "keys/P01-2.key").read_bytes())
    return folder
