"""Which inspection may follow which: the rule for planning and the rule at the bench are one."""

import msgspec
import pytest
from test_shop_rules import OFFERED, SOUND, blank

from course_lib.shop.findings import (
    BOTH,
    InspectionRefused,
    Look,
    Reading,
    all_inspections,
    inspections_for,
    load_inspection,
    offered_inspections,
    refused_acts,
)
from course_lib.shop.order import FAR_SHORT, GONE, PRESSURE_UNKNOWN, _objection, check_allowed, in_order


@pytest.mark.parametrize("kind, name", [each for each in OFFERED if each[1] != "stall_test"])
def test_what_may_be_planned_may_be_done(kind, name):
    """All that must come first made, one of it missing, the pan off, the unit apart: of a sound vehicle both say the same."""
    offered = inspections_for(kind)
    needs = set(offered_inspections(offered)[name].needs)
    for made in (
        needs,
        set(),
        *(needs - {each} for each in needs),
        *(needs | {stage} for stage in GONE),
        set(GONE),
    ):
        allowed = not _objection(name, {each: SOUND.get(each, blank(each)) for each in made}, offered)
        assert in_order(name, made) == allowed, made
    assert in_order(name, needs) or needs & set(GONE)


# ---------------------------------------------------------------------- two kinds of control
@pytest.mark.parametrize("kind", BOTH)
def test_what_must_come_first_can_be_asked_for(kind):
    """Each need, and what takes the place of an inspection, is offered by vehicles with that control and stands before it."""
    offered = offered_inspections(inspections_for(kind))
    place = {name: i for i, name in enumerate(offered)}
    for step in offered.values():
        assert all(place[need] < place[step.id] for need in step.needs), step.id
    for step in all_inspections().values():
        if kind not in step.controls and step.instead:
            assert step.instead in offered, step.id


def test_what_a_unit_does_not_have_is_refused_and_says_what_takes_its_place():
    """A six-speed has no dipstick, no vacuum hose and no governor: the bench names what is done instead, and nothing is spent."""
    offered = inspections_for("electronic")
    for name, place in (
        ("fluid_hot", "level_window"),
        ("line_pressure", "line_command"),
        ("governor_pressure", ""),
    ):
        with pytest.raises(InspectionRefused, match="No minutes were spent") as refusal:
            check_allowed(name, [], offered)
        place = place or load_inspection(name).instead
        assert f"\u201c{load_inspection(place).title}\u201d" in str(refusal.value)
    with pytest.raises(InspectionRefused, match=load_inspection("level_window").title):
        check_allowed("road_test", [], offered)
    check_allowed("road_test", [blank("level_window")], offered)


@pytest.mark.parametrize("name", refused_acts())
def test_an_act_that_does_harm_is_refused_whatever_was_done(name):
    """With its reason, before and after every inspection (SAE J1979 for clearing, from memory; the rest common practice)."""
    for done in ([], [blank(each) for each in inspections_for("electronic")]):
        with pytest.raises(InspectionRefused) as refusal:
            check_allowed(name, done)
        assert refused_acts()[name].reason in str(refusal.value)
    assert name not in all_inspections()


def short(quarts):
    """A level read in its window."""
    return blank("level_window", Reading(key="short_qt", label="Missing", value=quarts, unit="qt", spec=(-0.1, 0.15),
                                         sigma=0.05, decimals=2))  # fmt: skip


def gap(psi):
    """Gauge against command."""
    return blank("line_command", Reading(key="gap_idle_psi", label="Gauge less command", value=psi, unit="psi",
                                         spec=(-8, 8), sigma=1.5))  # fmt: skip


def test_a_stall_needs_a_known_pressure_and_a_right_level():
    """Refused with codes that leave the pressure to defaults, under the command, short of fluid (common practice, no source)."""
    offered = inspections_for("electronic")
    fine = [blank("codes"), short(0.0), gap(0.0), blank("road_test")]
    check_allowed("stall_test", fine, offered)
    unknown = Look(key=PRESSURE_UNKNOWN, grade=1, text="pressure by default: yes")
    coded = msgspec.structs.replace(blank("codes"), looks=(unknown,))
    for wrong, reason in (
        ([coded, *fine[1:]], "by default"),
        ([fine[0], short(0.4), *fine[2:]], "short by"),
        ([*fine[:2], gap(-20.0), fine[3]], "find the pressure first"),
    ):
        with pytest.raises(InspectionRefused, match=reason):
            check_allowed("stall_test", wrong, offered)


def test_nobody_drives_on_far_too_little_fluid():
    """Read at the overflow plug; a little short is driven, carefully."""
    offered = inspections_for("electronic")
    check_allowed("data_road", [blank("codes"), short(FAR_SHORT - 0.1)], offered)
    with pytest.raises(InspectionRefused, match="Fill it up in its window"):
        check_allowed("data_road", [blank("codes"), short(FAR_SHORT)], offered)


def test_a_refusal_names_all_that_must_come_first():
    """Whoever asks for a stall test at once is told every inspection that it needs, not one at a time."""
    with pytest.raises(InspectionRefused) as refused:
        check_allowed("stall_test", (), inspections_for("electronic"))
    offered = offered_inspections(inspections_for("electronic"))
    assert all(load_inspection(need).title in str(refused.value) for need in offered["stall_test"].needs)


@pytest.mark.parametrize("name", ["engine_check", "exhaust_pressure"])
def test_no_engine_runs_with_the_pan_off(name):
    """The fluid is out by then, and the pump would run dry."""
    assert in_order(name, load_inspection(name).needs) and not in_order(
        name, (*load_inspection(name).needs, "pan")
    )


def test_nobody_is_sent_for_what_can_never_be_made():
    """With the pan off a drop of the feeds is gone for good: it is said at once, and not first that papers are missing; the same
    where what it needs is gone."""
    done = [blank("codes"), blank("pan")]
    for name in ("volt_drop", "line_command", "shift_graph"):
        with pytest.raises(InspectionRefused, match="pan is off"):
            check_allowed(name, done, inspections_for("electronic"))
