"""What may be inspected when, what is refused because it would do harm, and what the owner says."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from course_lib.shop import interview
from course_lib.shop.findings import (
    BOTH,
    Finding,
    InspectionRefused,
    Reading,
    all_inspections,
    inspections_for,
    offered_inspections,
)
from course_lib.shop.graded_scales import all_scales, sentence
from course_lib.shop.inspect import make_inspection, make_inspections
from course_lib.shop.order import check_allowed
from course_lib.shop.subject import Subject
from course_lib.vehicle.felt_troubles import felt_troubles
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters


def vehicle(unit="T3", signal="vacuum", *, troubles=None, objects=(), history=(), **changes):
    """One new vehicle; changes: parameters, one value for all their columns."""
    spec = load_unit(unit)
    parameters = nominal_parameters(spec, signal=signal)
    for name, value in changes.items():
        parameters[name] = np.full_like(parameters[name], value)
    return Subject(
        Plant(spec, parameters),
        new_condition(1, spec),
        signal,
        "mixed",
        4,
        {name: np.array([[value]]) for name, value in (troubles or {}).items()},
        objects=objects,
        history=history,
    )


SOUND = make_inspections(vehicle())
OFFERED = [(kind, name) for kind in BOTH for name in inspections_for(kind)]


def blank(name, *readings):
    """A finding of an inspection in which nothing is remarkable."""
    return Finding(inspection=name, title=name, minutes=1, made_at_f=None, readings=readings, words=())


def refused(name, done, offered=()):
    """The reason why an inspection is refused."""
    with pytest.raises(InspectionRefused) as error:
        check_allowed(name, done, offered)
    return str(error.value)


# ---------------------------------------------------------------------- order
@pytest.mark.parametrize("kind, name", [each for each in OFFERED if all_inspections()[each[1]].needs])
def test_what_must_come_first_comes_first(kind, name):
    """Without it the inspection is refused and says what is missing; with it, it may be made."""
    offered = inspections_for(kind)
    needs = offered_inspections(offered)[name].needs
    assert f"first: \u201c{all_inspections()[needs[0]].title}\u201d" in refused(name, [], offered)
    check_allowed(name, [SOUND.get(need, blank(need)) for need in needs], offered)


@pytest.mark.parametrize("stage", ["pan", "teardown"])
def test_what_is_opened_cannot_be_driven(stage):
    """With the pan off nothing runs that needs oil; taken apart, nothing that needs the unit whole. The rest stays open."""
    done = [SOUND[name] for name in ("fluid_hot", "line_pressure", "road_test", "pan", "teardown")]
    done = done[: 4 if stage == "pan" else 5]
    runs = {
        "cold_start",
        "road_test",
        "driveline_check",
        "line_pressure",
        "governor_pressure",
        "stall_test",
        "cooler_check",
    }
    runs |= {
        "fluid_cold",
        "fluid_hot",
        "set_level",
        "dye_test",
        "signal_by_hand",
        "engine_check",
        "exhaust_pressure",
    }
    whole = {"linkage_check", "pan", "air_test"}
    for name in SOUND:
        if stage == "pan" and "teardown" in all_inspections()[name].needs:
            assert "first: " in refused(name, done)
        elif name in runs or (stage == "teardown" and name in whole):
            assert "pan is off" in refused(name, done) or "unit is apart" in refused(name, done)
        else:
            check_allowed(name, done)


# ---------------------------------------------------------------------- the stall test
def before_a_stall(subject):
    """The findings that a stall test needs, on a vehicle."""
    return [make_inspection(subject, name) for name in all_inspections()["stall_test"].needs]


STALLS_DO_HARM = {
    "low line pressure": (vehicle(line_spring=0.6), "burns the clutches"),
    "low fluid": (vehicle(sump_charge=8.6e-3), "from FULL"),
    "slip on the road": (vehicle(wear_friction=0.08), "slips on the road"),
    "elements that fight": (vehicle(element_crossfeed_body=0.1), r"on the road: [^.]*\bties up"),
    "a shudder": (vehicle(element_hot_spots=1.0), r"on the road: [^.]*\b(shudder|shake)"),
    "an engine that dies": (vehicle("T4", "cable", lockup_stuck=1.0), r"on the road: [^.]*\bdies"),
}


@pytest.mark.parametrize("why", STALLS_DO_HARM)
def test_a_stall_that_would_do_harm_is_refused_with_the_reason(why):
    """Workshop manuals forbid it with wrong fluid or pressure, and wherever something already slips or binds (common practice)."""
    subject, reason = STALLS_DO_HARM[why]
    with pytest.raises(InspectionRefused, match=reason):
        check_allowed("stall_test", before_a_stall(subject))


def test_a_pressure_that_was_not_read_forbids_a_stall():
    """Unknown is not right: with one line reading missing the test is refused."""
    done = {name: SOUND[name] for name in all_inspections()["stall_test"].needs}
    line = done["line_pressure"]
    unread = msgspec.structs.replace(line.readings[0], value=None, note="no needle")
    done["line_pressure"] = msgspec.structs.replace(line, readings=(unread, *line.readings[1:]))
    with pytest.raises(InspectionRefused, match="no needle"):
        check_allowed("stall_test", done.values())


@pytest.mark.parametrize("unit, signal", [("T3", "vacuum"), ("T3", "cable"), ("T4", "cable")])
def test_a_sound_vehicle_may_be_stalled(unit, signal):
    """Nothing of a sound vehicle stands in the way."""
    check_allowed("stall_test", before_a_stall(vehicle(unit, signal)))


# ---------------------------------------------------------------------- words
def test_findings_made_at_one_go_are_those_made_one_by_one():
    """Whatever is asked together, each finding is the same; a name that does not exist is met with the nearest."""
    assert {name: make_inspection(vehicle(), name) for name in SOUND} == SOUND
    with pytest.raises(ValueError, match="Did you mean 'line_pressure'"):
        make_inspection(vehicle(), "line_presure")


def test_a_finding_of_an_older_case_has_no_looks():
    """A stored finding without looks is still a finding."""
    stored = b'{"inspection":"x","title":"X","minutes":1,"made_at_f":null,"readings":[],"words":["Dry."]}'
    assert msgspec.json.decode(stored, type=Finding).looks == ()


def test_what_lies_about_is_seen_where_it_lies():
    """Objects show at their inspection and nowhere else, in place of the sentence that all is well; history shows in the talk."""
    subject = vehicle(
        objects=tuple((name, f"A {name} thing.") for name in SOUND), history=("A bill is there.",)
    )
    for name in SOUND:
        words = make_inspection(subject, name).words
        assert [word for word in words if word.endswith("thing.")] == [f"A {name} thing."]
        assert all_inspections()[name].sound not in words or not all_inspections()[name].sound
    assert "A bill is there." in make_inspection(subject, "interview").words


@pytest.mark.parametrize("name", [name for name, each in all_inspections().items() if each.stays])
def test_a_thing_that_lies_about_does_not_unsay_what_is_sound(name):
    """Where `stays`, the sentence that all is well stands beside the thing; a fault that is seen takes it away."""
    step = all_inspections()[name]
    assert make_inspection(vehicle("E6", "electronic", objects=((name, "A thing."),)), name).words[-2:] == (
        step.sound,
        "A thing.",
    )
    worn = vehicle("E6", "electronic", sensor_leak=0.01, solenoid_lag=0.4)
    assert step.sound not in make_inspection(worn, name).words


def test_every_trouble_a_driver_feels_has_words():
    """The troubles of `felt` and the scales of what owners say are the same, and a stronger trouble gets another word, where the
    scale has one: a lamp is lit or not."""
    kinds = (vehicle(), vehicle("E6", "electronic"))
    names = set().union(*(felt_troubles(s.plant, s.condition, s.driving, "mixed") for s in kinds))
    scales = {name.removeprefix("says_") for name in all_scales() if name.startswith("says_")}
    assert names == scales
    for name in names:
        told = {interview.in_owner_words(name, strength) for strength in (0.0, 1.0, 3.0)}
        assert len(told) == min(3, len(all_scales()[f"says_{name}"].words) - 1)


def test_the_owner_tells_the_worst_first_and_not_everything():
    """Three troubles at most, those below notice not at all; at the counter two."""
    subject = vehicle(troubles={"slips": 1.0, "hot": 3.0, "drip": 0.9, "late": 0.6, "buzz": 0.1})
    words = make_inspection(subject, "interview").words
    assert [word for word in words if word.startswith("\u201c")] == [
        f"\u201c{sentence(interview.in_owner_words(name, strength))}\u201d"
        for name, strength in (("hot", 3.0), ("slips", 1.0), ("drip", 0.9))
    ]
    assert interview.complaint(subject) == "It smells like something is cooking, and it slips."
    grades = {look.key: look.grade for look in make_inspection(subject, "interview").looks}
    assert grades["says_hot"] == 3 and grades["says_late"] == 0 and grades["says_buzz"] == 0


def test_a_faint_trouble_is_told_when_there_is_no_other():
    """Whoever comes in says something."""
    assert (
        interview.complaint(vehicle(troubles={"drip": 0.1, "slips": 0.0}))
        == "There is a small spot where it stands."
    )


def test_cold_and_hot_troubles_are_told():
    """A drained converter is a morning trouble; a hot sump a trouble of the road."""
    night = make_inspection(vehicle(sump_night_drain=2e-3), "interview").words
    hot = make_inspection(vehicle(heat_cooler_air=0.02), "interview").words
    plain = make_inspection(vehicle(), "interview").words
    assert any("in the morning" in word for word in night) and not any(
        "in the morning" in word for word in hot
    )
    assert any("It gets hot after a climb" in word for word in hot)
    assert any("No clear difference" in word for word in plain)


def test_readings_of_a_case_stay_what_the_bench_shows():
    """Every reading of a sound vehicle has a text and a spec, and is within it."""
    for finding in SOUND.values():
        for reading in finding.readings:
            assert isinstance(reading, Reading) and reading.verdict == "within spec", reading.key
