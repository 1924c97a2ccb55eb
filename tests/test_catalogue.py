"""The catalogue: every cause and part speaks of things that exist, in words that give nothing away, and is offered where it fits.

Which causes and parts a workshop meets, and how each shows, is common practice, no source.
"""

from __future__ import annotations

import re

import msgspec
import numpy as np
import pytest

from course_lib.base import data_files as datasets
from course_lib.faults import causes, measures, parts
from course_lib.faults.cause_pairs import all_pairs, pairs_of
from course_lib.faults.causes import Cause, Effect, all_causes, cause_choices, causes_of, load_cause
from course_lib.faults.clues import HistoryClue, ObjectClue, all_clues, all_facts, all_objects
from course_lib.faults.measures import exists, known_units, nominal
from course_lib.faults.parts import NO_PART, Part, PartView, all_parts, part_choices, renew
from course_lib.faults.visible_damage import visible_damage
from course_lib.shop.findings import all_inspections
from course_lib.shop.subject import Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit, nominal_parameters
from course_lib.vehicle.uses import load_uses

UNITS = known_units()
KINDS = [(unit, signal) for unit in UNITS for signal in unit.signals]
IDS = [f"{unit.name} {signal}" for unit, signal in KINDS]
# Grit and a dry bearing are no damage yet: pump and rollers go by and by.
WEARS_WITH_THE_MILES = {"pump_worn_abrasive", "overdrive_owc_worn"}
LONGEST_SENTENCE = 25  # words, house rule for what a learner reads
WHEN = re.compile(r"\b(day|week|month|season|winter|summer|year|mile|hour)s?\b|\bwithin\b")
VERDICTS = re.compile(
    r"\b(cause[ds]?|fault|because|therefore|wrong|broken part|diagnos\w*|worn out|repair (this|it))\b", re.I
)
BRITISH = re.compile(
    r"\b(tyre|colou?red? grey|grey|colour\w*|lorry|bonnet|boot|gearbox|petrol|windscreen|licen[c]e|kerb|neighbour\w*|"
    r"centre|metre|litre|aluminium|mould|spanner|motorway|roundabout|tonne|programme)\b",
    re.I,
)


def everywhere(cause: Cause):
    """The units that can have `cause`."""
    return [unit for unit in UNITS if cause.fits(unit)]


def prose(cause: Cause) -> list[str]:
    """Everything about a cause that somebody reads."""
    return [cause.label, cause.belief, cause.why, cause.returns, cause.cure]


# ---------------------------------------------------------------------- what the data speak of
@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_a_cause_changes_things_in_the_units_it_fits(cause):
    """It fits at least one unit, and there every effect moves its own parameter, mild and severe alike, and no other column."""
    assert everywhere(cause)
    for unit in everywhere(cause):
        base = nominal_parameters(unit, 2, signal=unit.signals[0])
        growth = cause.growth(unit, base, np.array([0.0, 1.0]), np.zeros((2, 1)))
        assert set(growth.change) == {effect.parameter.partition("@")[0] for effect in cause.effects}
        for name, change in growth.change.items():
            assert change.shape == base[name].shape
            assert np.all(np.abs(change).reshape(2, -1).max(-1) > 0), name
        for effect in cause.effects:
            name, _, column = effect.parameter.partition("@")
            if column:
                other = [
                    c
                    for c in measures.columns(name, unit)
                    if f"{name}@{c}" not in {e.parameter for e in cause.effects}
                ]
                places = [measures.columns(name, unit).index(c) for c in other]
                assert np.all(growth.change[name][..., places] == 0.0)


@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_severe_is_further_from_sound_than_mild(cause):
    """For every effect: nothing is milder when it is severe, so that severity can be found by bisection."""
    unit = everywhere(cause)[0]
    base = nominal_parameters(unit, 2, signal=unit.signals[0])
    for change in cause.growth(unit, base, np.array([0.0, 1.0]), np.zeros((2, 1))).change.values():
        mild, severe = np.abs(change)
        assert np.all(severe >= mild)


@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_a_cause_names_parts_things_and_inspections_that_exist(cause):
    """Its seat is a part of every unit it fits, and what it leaves behind is found at an inspection."""
    for unit in everywhere(cause):
        for signal in set(unit.signals) & set(cause.signals):
            assert cause.seat in {"", *dict(part_choices(unit, signal))}


def test_every_thing_is_found_at_an_inspection():
    """Each is seen where one can look, and there are things enough that lead nowhere."""
    for thing in all_objects().values():
        assert thing.inspection in all_inspections(), thing.id
    left = {each.thing for cause in all_causes().values() for each in cause.leaves}
    assert left <= set(all_objects()) and len(set(all_objects()) - left) >= 8
    assert len(all_facts()) >= 50


def test_the_catalogue_is_whole():
    """At least 84 causes and 50 parts besides "nothing broken yet"; every group of the file is used."""
    assert len(all_causes()) >= 84 and len(all_parts()) >= 51 and NO_PART in all_parts()
    groups = datasets.read_data("causes", causes.CausesFile).groups
    assert {c.group for c in all_causes().values()} | {c.also_group for c in all_causes().values()} == {
        *groups,
        "",
    }
    assert {cause.weight for cause in all_causes().values()} == {1.0, 3.0, 6.0}


@pytest.mark.parametrize(
    "part", [p for p in all_parts().values() if p.id != NO_PART], ids=lambda part: part.id
)
def test_every_part_can_be_seen(part):
    """Each part has a view, and what stays in a part when a cause is put right goes with a new one."""
    assert part.seen
    for cause in all_causes().values():
        for effect in cause.effects:
            assert effect.parameter not in part.owns or effect.stays in ("", part.id, cause.seat)


# ---------------------------------------------------------------------- where they are offered
@pytest.mark.parametrize("unit, signal", KINDS, ids=IDS)
def test_choices_follow_from_unit_and_signal(unit, signal):
    """What is offered fits; overdrive parts are offered exactly where there is an overdrive, hose and cable where they are."""
    offered, have = dict(cause_choices(unit, signal)), dict(part_choices(unit, signal))
    hydraulic = signal in measures.HYDRAULIC
    assert len(offered) >= (55 if hydraulic else 44) and NO_PART in have
    assert ("overdrive_brake_plates" in have) == ("overdrive_brake" in unit.element_ids)
    assert ("overdrive_owc_worn" in offered) == ("overdrive_one_way_clutch" in unit.element_ids)
    assert ("vacuum_hose" in have) == ("vacuum_hose_leak" in offered) == (signal == "vacuum")
    assert ("throttle_cable" in have) == ("throttle_cable_slack" in offered) == (signal == "cable")
    assert ("case_plug" in have) == ("case_connector_water" in offered) == (not hydraulic)
    fitted = hydraulic and nominal("lockup_fitted", unit) > 0
    assert ("lockup_circuit_leak" in offered) == ("lockup_valve_stuck_on" in offered) == fitted
    # Where a lock-up clutch bypasses the converter at cruise, nobody feels a stator that cannot free-wheel.
    assert ("stator_owc_seized" in offered) == (hydraulic and not fitted)


def test_a_cause_is_met_in_the_uses_it_names():
    """Stop and go is no highway trouble; a leak is met everywhere."""
    assert load_cause("stop_start_heat").met_in("town") and not load_cause("stop_start_heat").met_in(
        "highway"
    )
    assert all(load_cause("fluid_low_external_leak").met_in(use) for use in load_uses().uses)


def test_every_cause_is_offered_somewhere():
    """No cause is left out of every list."""
    assert {c.id for unit, signal in KINDS for c in causes_of(unit, signal)} == set(all_causes())


def test_labels_are_told_apart_and_give_no_id_away():
    """No two labels of a list are equal; none shows an id."""
    for items in (all_causes(), all_parts()):
        labels = [item.label for item in items.values()]
        assert len(set(labels)) == len(labels)
        assert not any("_" in label for label in labels)


# ---------------------------------------------------------------------- words
@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_words_are_plain_us_english(cause):
    """Sentences of at most 25 words, US spelling, no label repeated where it would be the answer."""
    for text in prose(cause):
        assert not BRITISH.search(text), text
        for sentence in re.split(r"(?<=[.;:!?])\s", text):
            assert len(sentence.split()) <= LONGEST_SENTENCE, sentence
    for text in (cause.belief, cause.why, cause.returns, cause.cure):
        assert text.endswith(".")


@pytest.mark.parametrize("clue", all_clues().values(), ids=lambda clue: clue.id)
def test_what_lies_about_names_no_cause(clue):
    """Things and lines say what is seen or told, in short sentences: never a label, an id, or a verdict."""
    named = {
        text for each in all_causes().values() for text in (each.label.lower(), each.id.replace("_", " "))
    }
    for text in clue.words:
        assert not any(name in text.lower() for name in named)
        assert not VERDICTS.search(text) and not BRITISH.search(text), text
        assert len(text.split()) <= LONGEST_SENTENCE and text.endswith("."), text


@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_belief_and_why_differ(cause):
    """The tempting answer is not the cause, and how it comes back is told apart from why."""
    assert len({cause.belief, cause.why, cause.returns, cause.cure, cause.label}) == 5


@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_how_it_comes_back_says_nothing_of_when(cause):
    """The miles are simulated for each vehicle and stand beside the sentence, which must not say otherwise."""
    assert not WHEN.search(cause.returns), cause.returns


@pytest.mark.parametrize("cause", all_causes().values(), ids=lambda cause: cause.id)
def test_no_sentence_speaks_of_a_signal_the_vehicle_may_lack(cause):
    """A cause that vehicles with a cable can have blames no modulator alone, and the other way round."""
    for text in (cause.belief, cause.returns):
        for word, needed in (("modulator", "vacuum"), ("cable", "cable")):
            other = {"vacuum": "cable", "cable": "modulator"}[needed]
            assert word not in text or cause.signals == (needed,) or other in text, text


# ---------------------------------------------------------------------- measures, limits, renewing
@pytest.mark.parametrize("unit, signal", KINDS, ids=IDS)
def test_in_sound_new_vehicles_nothing_is_shown(unit, signal):
    """Fifty sound vehicles, each with its own spread, in fifty shops: no view shows anything."""
    plant = Plant(unit, draw_parameters(unit, np.random.default_rng(3), 50, signal=signal))
    subject = Subject(plant, new_condition(50, unit), signal, "mixed")
    assert not any(degree.any() for degree in visible_damage(subject, np.arange(50)).values())


@pytest.mark.parametrize("cause", [c for c in all_causes().values() if c.seat], ids=lambda cause: cause.id)
def test_a_severe_cause_shows_in_the_part_it_sits_in(cause):
    """At full growth of a severe cause a workshop is shown its seat, in every unit it fits."""
    for unit in everywhere(cause):
        signal = next(s for s in unit.signals if s in cause.signals)
        base = nominal_parameters(unit, signal=signal)
        growth = cause.growth(unit, base, np.array([1.0]), np.zeros((1, 1)))
        world = Fleet(unit, "mixed", base, (growth,))
        plant = world.plant(np.full((1, 1), 1.01 * float(growth.over[0, 0])))
        subject = Subject(plant, new_condition(1, unit), signal, "mixed")
        found = visible_damage(subject, [0])[cause.seat][0]
        assert bool(found) != (cause.id in WEARS_WITH_THE_MILES), cause.seat


def test_renewing_a_part_sets_back_its_own_entries_only():
    """A new forward pack: lining, char and paper of that pack new, fluid new; its rubber and the direct pack as they were."""
    unit = load_unit("T3")
    ruined = new_condition(1, unit)
    for name in (*PLAIN, *PER_ELEMENT):
        getattr(ruined, name)[:] = 0.5
    mended = renew(ruined, load_unit("T3"), ["forward_clutch_plates"])
    forward, direct = (unit.element_ids.index(name) for name in ("forward_clutch", "direct_clutch"))
    assert mended.seal[0, 0, forward] == 0.5
    for name in ("lining", "char", "soaked"):
        assert getattr(mended, name)[0, 0, forward] == 0.0 and getattr(mended, name)[0, 0, direct] == 0.5
    assert mended.oxidation[0, 0] == mended.lost[0, 0] == 0.0 and mended.bushing[0, 0] == 0.5
    assert np.all(ruined.char == 0.5)


def test_what_a_repair_buys():
    """A new seat buys the miles of the cause; another part buys nothing; an event that sits in no part is over after any repair."""
    hose, loose, tow = (
        load_cause(name) for name in ("vacuum_hose_leak", "band_adjusted_loose", "towed_wheels_down")
    )
    assert hose.bought_miles(["vacuum_hose"]) == hose.returns_after_miles > 0
    assert hose.bought_miles(["vacuum_modulator"]) == 0.0
    assert loose.bought_miles(["intermediate_band"]) == 0.0
    assert tow.bought_miles([]) == tow.returns_after_miles > 0


def test_a_cause_that_may_sit_in_several_places_changes_what_belongs_to_its_own():
    """At each solenoid the same sizes, of that solenoid and its wires alone, staying in the parts that own them."""
    placed = [cause for cause in all_causes().values() if cause.places]
    assert len(placed) >= 6
    assert all(cause.place == cause.places[0] for cause in placed)
    for cause in placed:
        for place in cause.places:
            there = load_cause(f"{cause.id}@{place}")
            assert (there.id, there.place, there.label) == (cause.id, place, cause.label)
            for old, new in zip(cause.effects, there.effects, strict=True):
                assert (new.how, new.mild, new.severe) == (old.how, old.mild, old.severe)
                if cause.place in old.parameter:
                    assert new.parameter == old.parameter.replace(cause.place, place)
                    assert new.parameter in all_parts()[new.stays].owns
            assert there.seat in {effect.stays for effect in there.effects}
        with pytest.raises(ValueError, match="place of cause"):
            cause.at("ssa")


def test_an_event_is_over_after_its_miles():
    """A tow changes parameters while it lasts, and not before or after; a worn bore stays."""
    unit = load_unit("T3")
    base, onset = nominal_parameters(unit), np.full((1, 1), 1000.0)
    tow = load_cause("towed_wheels_down").growth(unit, base, np.array([0.5]), onset)
    world = Fleet(load_unit("T3"), "mixed", base, (tow,))
    dry = [
        float(world.plant(np.array([[x]])).p.use_dry_tow[0, 0])
        for x in (999.0, 1000.0 + 8000.0, 1000.0 + 1e6)
    ]
    assert dry[0] == dry[2] == 0.0 < dry[1]
    assert np.isinf(load_cause("governor_ring_leak").growth(unit, base, np.array([0.5]), onset).lasts).all()


# ---------------------------------------------------------------------- pairs
def test_pairs_are_of_two_causes_that_one_vehicle_can_have():
    """Each pair is possible in at least one unit; the pairs of a unit are pairs of causes it offers."""
    assert len(all_pairs()) >= 4
    for pair in all_pairs():
        assert pair.both[0].id != pair.both[1].id
        assert any(pair in pairs_of(unit, signal) for unit, signal in KINDS)
    for unit, signal in KINDS:
        offered = dict(cause_choices(unit, signal))
        assert all(set(pair.causes) <= set(offered) for pair in pairs_of(unit, signal))


# ---------------------------------------------------------------------- refusals
@pytest.fixture
def other_files(tmp_path, monkeypatch):
    """A function that gives the catalogue another file in place of one of its own, in an empty cache."""

    def put(name: str, text: str):
        real = datasets.data_folder()
        for path in [*real.glob("*.toml"), *real.glob("units/*.toml")]:
            target = tmp_path / path.relative_to(real)
            target.parent.mkdir(exist_ok=True)
            target.write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")
        for module in (datasets, measures):
            monkeypatch.setattr(module, "data_folder", lambda name="datasets": tmp_path)
        for function in (all_causes, all_parts, all_objects, all_facts, all_pairs):
            function.cache_clear()

    yield put
    monkeypatch.undo()
    for function in (all_causes, all_parts, all_objects, all_facts, all_pairs):
        function.cache_clear()


def spoiled(name: str, old: str, new: str) -> str:
    """A data file with its first `old` replaced."""
    text = (datasets.data_folder() / name).read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new, 1)


@pytest.mark.parametrize(
    "name, old, new, load, message",
    [
        ("causes.toml", '"leak_outside"', '"leak_outsid"', all_causes, "Did you mean 'leak_outside'"),
        ("causes.toml", "leak@intermediate_band", "leak@intermediate_bend", all_causes, "Did you mean 'intermediate_band'"),
        ("causes.toml", "shift_stuck@23", "shift_stuck@32", all_causes, "stands behind the @ of shift_stuck@32"),
        ("causes.toml", 'group = "Fluid"', 'group = "Fluids"', all_causes, "Did you mean 'Fluid'"),
        ("causes.toml", "weight = 6", "weight = 0", all_causes, "weight"),
        ("causes.toml", 'uses = ["town"', 'uses = ["twon"', all_causes, "Did you mean 'town'"),
        ("causes.toml", 'needs = ["lockup_fitted"]', 'needs = ["lockup_fited"]', all_causes, "Did you mean 'lockup_fitted'"),
        ("parts.toml", '"char@forward_clutch"', '"chr@forward_clutch"', all_parts, "Did you mean 'char'"),
        ("parts.toml", '"line_spring"', '"line_sprung"', all_parts, "Did you mean 'line_spring'"),
        ("parts.toml", 'signals = ["vacuum"]', 'signals = ["vacum"]', all_parts, "Invalid enum value 'vacum'"),
        ("parts.toml", "worn = 1, broken = 3", 'worn = "above"', all_parts, "a look with grades or a reading with sides"),
        ("parts.toml", '"char@direct_clutch"', '"char@forward_clutch"', all_parts, "must have one owner"),
        ("causes.toml", 'stays = "rear_seal"', 'stays = "rear_seel"', all_causes, "Did you mean 'rear_seal'"),
        ("causes.toml", 'thing = "nylon_crumbs"', 'thing = "nylon_crumb"', all_objects, "Did you mean 'nylon_crumbs'"),
        ("facts.toml", 'of = ["', 'of = ["not_', all_facts, "cause of fact"),
        ("pairs.toml", "vacuum_hose_leak", "vacuum_hose_leek", all_pairs, "Did you mean 'vacuum_hose_leak'"),
    ],
)  # fmt: skip
def test_a_wrong_name_is_refused_when_the_file_is_read(other_files, name, old, new, load, message):
    """The refusal says what stood there and what was probably meant."""
    other_files(name, spoiled(name, old, new))
    with pytest.raises(ValueError, match=message):
        load()


def test_unknown_things_are_met_with_the_nearest_one():
    """A cause asked for by a wrong name."""
    with pytest.raises(ValueError, match="Did you mean 'governor_ring_leak'"):
        load_cause("governor_ring_leek")


def test_records_refuse_what_they_do_not_know():
    """An entry with a field too many is an error, not a note."""
    for record in (Cause, Effect, Part, PartView, ObjectClue, HistoryClue):
        with pytest.raises(msgspec.ValidationError, match="unknown field"):
            msgspec.convert({**_least(record), "colour": "red"}, record)


def _least(record) -> dict:
    """The least that a record takes."""
    effect = {"parameter": "line_base", "how": "add", "mild": 1.0, "severe": 2.0}
    words = dict.fromkeys(("id", "label", "group", "belief", "why", "returns", "cure"), "x")
    return {
        Cause: {**words, "weight": 1.0, "effects": [effect], "sets_in_over_miles": 0.0},
        Effect: effect,
        Part: {"id": "x", "label": "x", "group": "x"},
        PartView: {"look": "pump_scored", "broken": 2},
        ObjectClue: {"id": "x", "inspection": "pan", "innocent": 0.1, "words": ["x"]},
        HistoryClue: {"id": "x", "innocent": 0.1, "words": ["x"]},
    }[record]


def test_a_unit_without_an_element_has_no_cause_or_part_of_it():
    """Existence is asked of the data: an address behind the @ that a unit lacks does not exist there."""
    assert exists("element_leak@direct_clutch", load_unit("T3"))
    assert not exists("element_leak@overdrive_clutch", load_unit("T3"))
    assert not exists("shift_stuck@34", load_unit("T3")) and exists("shift_stuck@34", load_unit("T4"))
    assert not exists("line_base@direct_clutch", load_unit("T3"))
    assert parts.all_parts()["overdrive_clutch_plates"].fits(load_unit("T4"))
