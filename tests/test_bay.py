"""The open bay: what it remembers, and what it offers next."""

from collections import Counter
from dataclasses import replace

import msgspec
import numpy as np
import pytest

from course_lib.assessment.record import Answer, hand_in, load_record, save_record
from course_lib.cases.case import NO_SEED, altered
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.faults.causes import causes_of, load_cause
from course_lib.lessons import open_bay as room
from course_lib.lessons.misconceptions import misconception_rules
from course_lib.lessons.open_bay import Bay, PracticeRequest, cause_families
from course_lib.vehicle.unit_spec import load_unit


@pytest.fixture()
def bay(tmp_path, monkeypatch):
    """A bay whose vehicles are copies of the practice case with another cause written on the key: no lives are lived."""
    case, key = load_case("P01"), load_key("P01")

    def make(*, seed, unit, signal, cause, name):
        return altered(case, id=name), msgspec.structs.replace(key, case_id=name, causes=(cause,))

    monkeypatch.setattr(room, "make_case", make)
    return Bay(tmp_path)


def answered(bay, causes=None, parts=None):
    """A vehicle that was handed in: rightly, or with other causes."""
    case, key = bay.next()
    answer = Answer(parts=parts or key.parts, causes=causes or key.causes)
    save_record(hand_in(load_record(case.id, bay.records), answer), bay.records)
    return key


def test_a_vehicle_comes_back_as_it_was(bay):
    """Case and key lie in the folder; the seed does not, and the key cannot be read by accident."""
    case, key = bay.next()
    again, its_key = bay.open(case.id)
    assert (again.work_order, its_key) == (case.work_order, key) and again.seed == NO_SEED
    assert bay.unfinished() == case.id
    assert not any(key.causes[0].encode() in path.read_bytes() for path in bay.folder.iterdir())


def test_a_family_that_was_missed_comes_up_more_often(bay):
    """Three misses weigh more than one, and a right answer makes it common again."""
    key = answered(bay, causes=("fluid_overfilled",))
    while key.causes == ("fluid_overfilled",):
        key = answered(bay, causes=("fluid_overfilled",))
    family = load_cause(key.causes[0]).group
    weights = bay.weights()
    assert weights[family] == max(weights.values()) > 1.0 + room.UNTRIED
    assert any(family in line for line in bay.plan())


def test_what_was_right_is_met_less_often_than_what_is_new(bay):
    """A right answer leaves the weight at one."""
    family = load_cause(answered(bay).causes[0]).group
    weights = bay.weights()
    assert weights[family] == 1.0 < min(w for name, w in weights.items() if name != family)
    assert bay.unfinished() is None


def test_the_thought_behind_a_wrong_cause_is_remembered(bay, monkeypatch):
    """A cause named for a known reason brings up vehicles that show why it was wrong."""
    entry = next(entry for entry in misconception_rules() if entry.when)
    monkeypatch.setattr(Bay, "_cause", lambda *_: entry.when[0])
    answered(bay, causes=(entry.named[0],))
    monkeypatch.undo()
    assert bay.thoughts() == [(entry.thought, 1)]
    assert any("astray" in line for line in bay.plan())


def test_half_and_more_of_what_is_asked_for_and_never_all(bay):
    """Of a family asked for, about the share that the room states; the rest from elsewhere."""
    rng, possible = np.random.default_rng(1), causes_of(load_unit("T3"), "vacuum")
    family = cause_families()[0]
    drawn = [bay._cause(PracticeRequest(family=family), possible, rng) for _ in range(300)]
    share = np.mean([family in (load_cause(c).group, load_cause(c).also_group) for c in drawn])
    assert 1.0 - room.ELSEWHERE - 0.1 < share < 1.0 - room.ELSEWHERE + 0.1
    assert len(Counter(drawn)) > 10


def test_what_is_asked_for_decides_the_unit():
    """A family that only one unit has brings that unit, with its one signal; a unit asked for comes whatever else is."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        assert room._kind(PracticeRequest(family="Sensors"), rng) == ("E6", "electronic")
        assert room._kind(PracticeRequest(unit="T3", family="Sensors"), rng)[0] == "T3"
    assert "The three-speed has no cause of this family" in room.not_to_be_had(
        PracticeRequest(unit="T3", family="Sensors")
    )
    for wish in (
        PracticeRequest(unit="E6", family="Sensors"),
        PracticeRequest(family="Sensors"),
        PracticeRequest(),
    ):
        assert room.not_to_be_had(wish) == ""
    assert list(room.bay_units().values()) == ["three-speed", "four-speed", "six-speed"]


@pytest.mark.parametrize("made, taken", [((5, 40, 55, 30), 55), ((5, 70), 70)])
def test_the_nearest_to_the_difficulty_is_taken(bay, monkeypatch, made, taken):
    """No vehicle of the wanted kind within a few tries is no reason to send anybody away; the first that fits ends the search."""
    minutes, make = iter(made), room.make_case

    def timed(**request):
        case, key = make(**request)
        certificate = replace(key.certificate, minutes=next(minutes))
        return case, msgspec.structs.replace(key, certificate=certificate)

    monkeypatch.setattr(room, "make_case", timed)
    case, key = bay.next(PracticeRequest(difficulty="hard"))
    assert key.certificate.minutes == taken and not list(minutes)
    assert [path.stem for path in bay.folder.glob("*.json")] == [case.id]


@pytest.mark.parametrize(
    "wish", [{"family": "Wheels"}, {"lesson": 13}, {"difficulty": "esay"}, {"unit": "T9"}]
)
def test_a_wish_nobody_can_meet_is_refused_in_one_line(wish):
    """With what can be asked for."""
    with pytest.raises(ValueError, match="must be") as refused:
        PracticeRequest(**wish)
    assert "\n" not in str(refused.value)


def test_a_damaged_vehicle_is_passed_over(bay):
    """Nothing else is lost with it."""
    first, _ = bay.next()
    second, _ = bay.next()
    (bay.folder / f"{first.id}.key").write_bytes(b"nothing")
    assert [visit.name for visit in bay.visits()] == [second.id]
