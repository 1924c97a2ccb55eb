"""Freezing a case: what a learner gets holds neither the answer nor the seed from which it could be made again."""

import msgspec
import pytest

from course_lib.authoring.freeze import AnotherVehicle, freeze
from course_lib.base import case_ids
from course_lib.base.data_files import data_folder
from course_lib.cases.case import NO_SEED
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import KeyMissing, load_key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.faults.repair import sound_vehicle_returns

FROZEN = sorted(path.stem for path in (data_folder() / "cases").glob("*.json"))


def test_a_frozen_case_comes_back_and_its_key_lies_apart(tmp_path):
    """Case and key round-trip; a road is driven as asked."""
    key = freeze(
        "X1",
        roads=("front_pump",),
        top=tmp_path,
        seed=5,
        cause="band_adjusted_loose",
        signal="vacuum",
        use="mixed",
    )
    assert load_key("X1", tmp_path / "datasets/keys") == key
    assert set(key.stories) == {"part only", "cause only", "part and cause", "only front_pump"}
    assert key.stories["only front_pump"].miles is not None, "a new pump cannot cure a loose band"
    with pytest.raises(KeyMissing, match="X1"):
        load_key("X1", tmp_path / "datasets/cases")
    case = load_case(tmp_path / "datasets/cases/X1.json")
    assert case.id == "X1" and case.inspect("interview").words


def test_a_drawn_seed_is_kept_to_the_key(tmp_path):
    """Without a seed one is drawn; two cases of the same request differ, and neither shows its seed."""
    one, two = (
        freeze(name, top=tmp_path, cause="throttle_cable_slack", use="mixed") for name in ("X1", "X2")
    )
    assert one.recipe["seed"] != two.recipe["seed"]
    assert load_case(tmp_path / "datasets/cases/X1.json").seed == NO_SEED


@pytest.mark.parametrize("name", FROZEN)
def test_cases_of_the_course_hide_their_answer(name):
    """No seed in the case, and none of its ids in the file or in what the case shows of itself."""
    case, key = load_case(name), load_key(name)
    file = (data_folder() / "cases" / f"{name}.json").read_text(encoding="utf-8")
    shown = file + repr(case) + msgspec.json.encode(case.work_order).decode()
    assert case.seed == NO_SEED
    assert not any(answer in shown for answer in (*key.causes, *key.parts))


@pytest.mark.parametrize("name", FROZEN)
def test_cases_of_the_course_can_be_answered(name):
    """Every part and cause of the key is among the choices; the repair holds only with the cause put right."""
    case, key = load_case(name), load_key(name)
    assert set(key.parts) <= {choice for choice, _ in case.part_choices}
    assert set(key.causes) <= {choice for choice, _ in case.cause_choices}
    assert key.stories["part only"].miles is not None and (
        key.stories["part and cause"].miles is None or sound_vehicle_returns(vehicle_of(key))
    )


def test_an_id_belongs_to_one_vehicle_for_good(tmp_path, monkeypatch):
    """Other words of the same vehicle are taken; another vehicle is refused until its name has a new id, and then the old goes."""
    wish = {"top": tmp_path, "cause": "throttle_cable_slack", "use": "mixed"}
    freeze("X1", seed=1, **wish)
    freeze("X1", seed=1, words={"owner": "Somebody else"}, **wish)
    before = (tmp_path / "datasets/cases/X1.json").read_bytes()
    assert b"Somebody else" in before
    with pytest.raises(AnotherVehicle, match="case X1 must stay the vehicle that it is.*retired.toml"):
        freeze("X1", seed=2, **wish)
    assert (tmp_path / "datasets/cases/X1.json").read_bytes() == before
    monkeypatch.setattr(case_ids, "_retired", lambda: {"X1": ("0.5.0",)})
    key = freeze("X1", seed=2, **wish)
    assert key.case_id == load_case(tmp_path / "datasets/cases/X1-2.json").id == "X1-2"
    assert sorted(path.name for path in tmp_path.rglob("X1*")) == ["X1-2.json", "X1-2.key"]
    assert load_key("X1", tmp_path / "datasets/keys") == key


def test_every_case_has_its_key_and_nothing_of_a_retired_one_is_left():
    """What comes with the course is whole: a case, a key, and no vehicle that is not dealt any more."""
    keys = sorted(path.stem for path in (data_folder() / "keys").glob("*.key"))
    assert keys == FROZEN and not set(FROZEN) & set(case_ids.all_retired())
