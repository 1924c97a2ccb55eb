"""What a full answer can choose from: whole lists, the same for every case, and true of what a vehicle shows."""

from __future__ import annotations

from dataclasses import replace
from fnmatch import fnmatchcase

import msgspec
import numpy as np
import pytest
from scipy.stats import norm

from course_lib.assessment.record import MOST_NAMES
from course_lib.base.guards import one_of
from course_lib.cases.case import findings_in
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.cases.repair_forward import vehicle_of
from course_lib.diagnosis.evidence_weight import MOST, ODD, weigh_evidence
from course_lib.diagnosis.population import COMPLAINT, Findings, Population, Sharpness
from course_lib.faults.after_repair import after_repair
from course_lib.faults.answer_choices import (
    LINK_KINDS,
    cautions,
    chain_links,
    follow_ups,
    labeled_choices,
    links_in_finding,
    repair_extras,
)
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import all_parts
from course_lib.faults.visible_damage import inspection_by_key
from course_lib.shop.complaint_check import all_complaints
from course_lib.shop.findings import Finding, Look, Reading, all_inspections
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life_events import CODE_STORED, CODES_CLEARED, ELEMENT_LABELS, LABELS
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.unit_spec import load_unit

UNITS = ("T3", "T4", "E6")
FROZEN = ("W01", "P01", "M01")
KINDS = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"), ("E6", "electronic"))


# ---------------------------------------------------------------------- the lists
def test_the_lists_are_the_same_for_every_case_of_a_unit():
    """They come from the unit alone; ids are unique and labels are told apart."""
    cases = [load_case(name) for name in FROZEN]
    for name in ("chain_choices", "repair_choices", "proof_choices", "caution_choices"):
        lists = {getattr(case, name) for case in cases}
        assert len(lists) == len({case.unit for case in cases})
        for choices in lists:
            assert len({i for i, _ in choices}) == len(choices) == len({label for _, label in choices})


@pytest.mark.parametrize("unit", UNITS)
def test_links_name_only_what_there_is(unit):
    """Events of the log, readings and looks that inspections give, in the order of the stages."""
    book = chain_links(load_unit(unit))
    log = {*LABELS, *ELEMENT_LABELS, CODE_STORED}
    assert all(event.partition("@")[0] in log for link in book.values() for event in link.events)
    kinds = [LINK_KINDS.index(link.kind) for link in book.values()]
    assert kinds == sorted(kinds) and set(kinds) == {0, 1, 2, 3}
    assert not [label for _, label in labeled_choices(book) if "{" in label]
    assert {"lockup_burns", "lockup_off"} <= set(book) or unit != "T4"


def test_links_know_every_landmark_of_a_life():
    """Whatever the log of a life can note is part of some link; that somebody cleared its codes is no doing of the vehicle."""
    known = {
        event.partition("@")[0]
        for unit in UNITS
        for link in chain_links(load_unit(unit)).values()
        for event in link.events
    }
    assert known == {*LABELS, *ELEMENT_LABELS, CODE_STORED} - {CODES_CLEARED}


def test_every_pattern_of_a_link_meets_a_finding():
    """No link waits for a reading or a look that no inspection of any vehicle gives."""
    given = {f"says_{trouble}" for trouble in all_complaints()}.union(
        *(inspection_by_key(load_unit(unit), signal) for unit, signal in KINDS)
    )
    for link in (link for unit in UNITS for link in chain_links(load_unit(unit)).values()):
        idle = [p for p in (*link.out, *link.looks) if not any(fnmatchcase(key, p) for key in given)]
        # Tapped at rest only where the circuit is not asked standing, screws only on bands: one spelling for all elements.
        assert not idle or "@" in link.id, (link.id, idle)
        assert len(idle) < len(link.out) + len(link.looks) or not (link.out or link.looks), link.id


def test_every_cause_and_part_has_its_set_up_and_its_advice():
    """So that the highest level can be had whatever the case."""
    set_up = {group for each in repair_extras().values() if each.kind == "set_up" for group in each.groups}
    advice = {group for each in follow_ups().values() if each.sound for group in each.groups}
    causes = {group for cause in all_causes().values() for group in (cause.group, cause.also_group) if group}
    assert causes <= advice
    assert causes - set_up <= {"Earlier repair"}
    assert {part.group for part in all_parts().values()} - set_up <= {"None", "Cooling"}
    for group in (*(g for each in repair_extras().values() for g in each.groups), *advice):
        one_of("group", group, {*causes, *(part.group for part in all_parts().values()), "Earlier repair"})


def test_every_danger_of_an_inspection_has_a_caution():
    """And all of them together fit into one answer, with when not to test."""
    answered = {risk for each in cautions().values() for risk in each.risks}
    risks = {risk for each in all_inspections().values() for risk in each.risk.split(", ")}
    assert risks - {"none", "low"} == answered
    assert sum(bool(each.risks) for each in cautions().values()) + 2 <= MOST_NAMES
    for each in cautions().values():
        for name in filter(None, (each.refused, each.allowed)):
            one_of("inspection", name, all_inspections())


def test_unsafe_cautions_read_like_the_others():
    """No word gives them away: they are as long as the rest."""
    lengths = {
        kind: [len(e.label.split()) for e in cautions().values() if e.kind == kind]
        for kind in ("care", "unsafe")
    }
    assert abs(np.mean(lengths["care"]) - np.mean(lengths["unsafe"])) < 4


# ---------------------------------------------------------------------- what shows a link
def finding(*readings: Reading, looks: tuple[Look, ...] = ()) -> Finding:
    return Finding(
        inspection="x", title="x", minutes=1, made_at_f=None, readings=readings, words=(), looks=looks
    )


def reading(key: str, value: float | None) -> Reading:
    return Reading(key=key, label=key, value=value, unit="psi", spec=(60.0, 70.0), sigma=1.0)


@pytest.mark.parametrize(
    "value, shown", [(59.0, {"line_low"}), (60.0, set()), (70.0, set()), (71.0, {"line_high"}), (None, set())]
)
def test_a_reading_shows_the_link_of_the_side_it_left(value, shown):
    """Within spec or not read, it shows nothing."""
    assert links_in_finding(load_unit("T3"), finding(reading("line_pressure_p_idle_psi", value))) == shown


def test_a_look_shows_a_link_from_its_grade_on():
    """Below it, nothing; an element's link only by the look of that element."""
    assert links_in_finding(load_unit("T3"), finding(looks=(Look(key="hiss_direct", grade=1, text=""),))) == {
        "seal_hard@direct_clutch"
    }
    two = {"seal_hard@direct_clutch", "circuit_short@direct_clutch"}
    assert (
        links_in_finding(load_unit("T3"), finding(looks=(Look(key="hiss_direct", grade=2, text=""),))) == two
    )


# ---------------------------------------------------------------------- mended
@pytest.mark.parametrize("name", FROZEN)
def test_a_sound_vehicle_has_nothing_at_work_and_nothing_to_prove(name):
    """The same vehicle without its causes and with all parts new: nothing lasts, and nothing comes right that was not wrong."""
    past = vehicle_of(load_key(name))
    like_new = new_condition(1, past.unit)
    sound = replace(past, world=Fleet(past.world.unit, past.use, past.world.base), condition=like_new)
    assert after_repair(sound, findings_in(load_case(name)), seed=3).lasting == ()


@pytest.mark.parametrize("name", FROZEN)
def test_what_lasts_and_what_is_mended_belong_to_the_case(name):
    """Links of the unit that stand at the start of a chain; ids that can be cited, each wrong before; both never empty here."""
    case, key = load_case(name), load_key(name)
    assert key.lasting and {chain_links(case.unit_spec)[link].kind for link in key.lasting} == {"state"}
    findings = findings_in(case)
    wrong = {
        r.key
        for f in findings.values()
        for r in f.readings
        if r.verdict in ("below spec", "above spec", "not read")
    }
    looked_at = {name for name, f in findings.items() if any(look.grade for look in f.looks)}
    assert key.mended and set(key.mended) <= wrong | looked_at and "interview" not in key.mended


def test_a_finding_that_stays_wrong_proves_nothing():
    """Asked of the vehicle as it would be after the repair, nothing is left to come right."""
    past = vehicle_of(load_key("P01"))
    sound = replace(
        past, world=Fleet(past.world.unit, past.use, past.world.base), condition=new_condition(1, past.unit)
    )
    from course_lib.faults.after_repair import _findings

    (right,) = _findings(sound, [(sound.condition, sound.world)], seed=3)
    assert after_repair(sound, right, seed=3).proof == ()


# ---------------------------------------------------------------------- worth
def population(means: dict[str, float], spread: float, sigma: float, lives: int = 900) -> Population:
    """Causes whose only reading is normal around a mean."""
    rng = np.random.default_rng(5)
    cause = np.repeat(np.arange(len(means)), lives)
    value = np.array(list(means.values()))[cause] + spread * rng.standard_normal(len(cause))
    return Population(
        causes=tuple(means),
        cause=cause,
        weight=np.ones(len(cause)),
        severity=np.zeros(len(cause)),
        miles=np.ones(len(cause)),
        readings={"gauge": value},
        looks={"color": np.zeros(len(cause), int)},
        objects={"rag": cause == 0},
        sigma={"gauge": sigma},
        made_by={"gauge": "bench", "color": "bench", "rag": "bench"},
        sharpness=Sharpness(),
    )


def test_worth_is_the_likelihood_ratio_of_two_normal_causes():
    """Against the ratio of two normal densities (scipy.stats.norm), mixed with the small chance that anything is shown."""
    lives = population({"true": 50.0, "twin": 52.0, "far": 80.0}, spread=2.0, sigma=0.5)
    found = 50.5
    worth = weigh_evidence(lives, Findings(readings={"gauge": found}), ["true"], ["twin", "far"])
    density = {
        name: norm.pdf(found, mean, 2.0) for name, mean in (("true", 50.0), ("twin", 52.0), ("far", 80.0))
    }
    any_ = sum(density.values()) / 3.0
    mixed = {name: (1.0 - ODD) * each + ODD * any_ for name, each in density.items()}
    for cause in ("twin", "far"):
        expected = 10.0 * np.log10(mixed["true"] / mixed[cause])
        assert worth.against("gauge", cause) == pytest.approx(expected, abs=2.0)
    assert worth.against("gauge", "far") > 13 > worth.against("gauge", "twin")


def test_worth_speaks_for_a_cause_that_fits_better_and_is_bounded():
    """Below 0 for the better one; never more than a million to one; 0 for what nobody knows."""
    lives = population({"true": 50.0, "other": 52.0}, spread=1.0, sigma=0.2)
    worth = weigh_evidence(lives, Findings(readings={"gauge": 53.0}), ["true"], ["other"])
    assert -MOST <= worth.against("gauge", "other") < 0
    assert worth.against("no such finding", "other") == worth.against("gauge", "no such cause") == 0


def test_what_was_noticed_counts_by_the_thing_that_says_most():
    """A rag that only one cause leaves, beside a color that says nothing."""
    lives = population({"true": 50.0, "other": 50.0}, spread=1.0, sigma=0.2)
    found = Findings(readings={"gauge": 50.0}, looks={"color": 0}, objects={"rag": True})
    worth = weigh_evidence(lives, found, ["true"], ["other"])
    assert worth.against("bench", "other") >= 10 > abs(worth.against("gauge", "other"))


def test_look_alikes_are_the_six_wrong_causes_that_fit_the_complaint_best():
    """Nine causes, of which the owner tells the less the later each stands: told what the first one gives, the next six follow it,
    whatever a gauge says afterwards."""
    names = [f"cause_{number}" for number in range(9)]
    lives = population(dict.fromkeys(names, 50.0), spread=1.0, sigma=0.2)
    told = replace(
        lives,
        looks={**lives.looks, "told": lives.cause},
        made_by={**lives.made_by, "told": COMPLAINT},
    )
    found = Findings(readings={"gauge": 50.0}, looks={"told": 0})
    worth = weigh_evidence(told, found, names[:1], names[1:])
    assert worth.look_alikes == tuple(names[1:7]) and worth.causes == tuple(names[1:])


@pytest.mark.parametrize("name", FROZEN)
def test_the_worth_in_a_key_covers_the_case(name):
    """Every reading and every inspection with something to notice; whole decibans against every wrong cause."""
    case, worth = load_case(name), load_key(name).worth
    keys = {r.key for f in findings_in(case).values() for r in f.readings}
    assert keys <= set(worth.findings) and {"interview", "road_test", "pan"} <= set(worth.findings)
    assert all(
        len(row) == len(worth.causes) and max(map(abs, row)) <= MOST for row in worth.findings.values()
    )
    assert set(worth.look_alikes) < set(worth.causes) and not set(load_key(name).causes) & set(worth.causes)
    assert msgspec.json.decode(msgspec.json.encode(worth), type=type(worth)) == worth


def test_what_starts_a_chain_is_something_that_a_cause_changes():
    """No pattern waits for a change that no cause makes."""
    changes = {effect.parameter for cause in all_causes().values() for effect in cause.effects}
    for link in chain_links(load_unit("E6")).values():
        idle = [start for start in link.starts if not any(fnmatchcase(name, start) for name in changes)]
        assert not idle, (link.id, idle)
    assert chain_links(load_unit("E6"))["volts_lost"].begins(["wire_contact@feed_b"])
    assert not chain_links(load_unit("E6"))["volts_lost"].begins(["wire_shake@feed_b", "supply_rest"])
