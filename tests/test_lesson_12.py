"""Demonstrations of lesson 12: repairs driven on, findings and their homes; vehicles of a lesson with two causes."""

import pytest

from course_lib.lessons import facts
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.repair_demos import NOT_SEEN, SEEN, homes, outcomes
from course_lib.lessons.vehicles import LessonVehicle, came_back, subject

VEHICLES = load_lesson("L12").vehicles


def test_a_repair_that_leaves_the_cause_comes_back_and_the_whole_one_stays():
    """Part only comes back, cause only is back at once where the damage is driven on, both stay (definition of a root cause)."""
    names = ("rings", "parts", "bushing", "both")
    rings, parts, cause, both = (came_back(VEHICLES[f"parks_{name}_later"]) for name in names)
    assert both is None and cause is not None and parts is not None and rings is not None
    assert cause < 2.0 < rings < parts
    told = [row[1] for row in outcomes("parks_rings_later", "parks_bushing_later", "parks_both_later").rows]
    assert (
        told[0].startswith("back after")
        and told[1] == "back on the first mile"
        and told[2].startswith("content")
    )


def test_of_two_causes_the_one_that_was_left_comes_back():
    """One put right by its id, the other goes on; with both put right the owner stays away."""
    assert came_back(VEHICLES["egg_modulator_later"]) is not None
    assert came_back(VEHICLES["egg_both_later"]) is None
    plant = subject(VEHICLES["egg_modulator"]).plant.p
    assert float(plant.signal_diaphragm_leak.max()) == 0.0
    assert float(subject(VEHICLES["egg_van"]).plant.p.signal_diaphragm_leak.max()) > 0.1


def test_two_causes_do_together_what_each_does_alone():
    """Parameters that only one of them touches are the same as where that one is alone."""
    both = LessonVehicle(cause="vacuum_hose_leak", severity=0.4, also="governor_ring_leak", also_severity=0.6)
    hose, ring = (
        LessonVehicle(cause="vacuum_hose_leak", severity=0.4),
        LessonVehicle(cause="governor_ring_leak", severity=0.6),
    )
    for name, single in (("signal_hose_leak", hose), ("governor_leak", ring)):
        assert getattr(subject(both).plant.p, name) == pytest.approx(getattr(subject(single).plant.p, name))


def test_each_finding_has_the_home_the_physics_gives_it():
    """A leak outside wets the case, a torn diaphragm the hose; both lower the level (common practice, no source)."""
    rows = ("walk_round/wet_rear", "signal_check/hose_wet", "fluid_hot/level_hot_in")
    table = homes("egg_van", "egg_torn", "egg_leak", rows=rows)
    assert [row[1:] for row in table.rows] == [(NOT_SEEN, SEEN), (SEEN, NOT_SEEN), (SEEN, SEEN)]


@pytest.mark.parametrize(
    "call",
    [
        lambda: outcomes("parks"),
        lambda: outcomes("park"),
        lambda: homes("egg_van", "egg_torn", rows=("level_hot_in",)),
        lambda: homes("egg_van", "egg_torn", rows=("fluid_hot/level",)),
        lambda: homes("egg_both_later", "egg_torn", rows=("fluid_hot/level_hot_in",)),
        lambda: facts.until_back(vehicle=VEHICLES["egg_both_later"]),
    ],
)
def test_what_cannot_be_told_is_refused(call):
    """A repair that was not driven on, a finding that is none, a comeback that never was: each with what to do."""
    with pytest.raises(ValueError, match="must (be|have|come)"):
        call()
