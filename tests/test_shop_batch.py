"""The shop, batch first: a vehicle reads the same alone and among others, and what is asked follows from the unit's own chart."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from course_lib.base.units import MILE
from course_lib.shop import apply_chart, holders, population_findings
from course_lib.shop import subject as subject_module
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, instrument_error
from course_lib.shop.findings import all_inspections
from course_lib.shop.graded_scales import all_scales, grades
from course_lib.shop.inspect import METHODS, make_inspection, methods_of
from course_lib.shop.procedure import carry_out
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life import live
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit

KINDS = (("T3", "vacuum"), ("T3", "cable"), ("T4", "cable"), ("E6", "electronic"))
COUNT = 7
SHOP = Path(population_findings.__file__).parent


def lived(unit, signal):
    """Vehicles of different age, some of them worn and struck, as a batch."""
    spec, rng = load_unit(unit), np.random.default_rng(5)
    base = draw_parameters(spec, rng, COUNT, signal=signal)
    base["fluid_water"][1], base["governor_gear"][2] = 0.01, 0.0
    base["sump_charge"][3] -= 2.5e-3
    base["element_crossfeed_body"][4, 0, 1], base["element_seal_set"][5] = 0.3, 0.9
    world, end = Fleet(spec, "mixed", base), np.linspace(2e3, 90e3, COUNT)[:, None] * MILE
    lives = live(world, new_condition(COUNT, spec), 0 * end, end, 0 * end)
    return Subject(world.plant(end), lives.condition, signal, "mixed", 3, lives.felt)


@pytest.fixture(scope="module", params=KINDS, ids="-".join)
def batch(request):
    """A batch of vehicles, and what every inspection finds on it."""
    subject = lived(*request.param)
    return subject, population_findings.inspect_population(subject)


# ---------------------------------------------------------------------- batch and single vehicle
def test_one_vehicle_reads_the_same_alone_and_among_others(batch):
    """Every reading, swing and look of a row is that of the vehicle alone: cases on axis 0 know nothing of each other."""
    subject, found = batch
    for row in (0, 3, COUNT - 1):
        alone = subject.rows([row])
        for name, method in methods_of(subject.unit).items():
            (single,) = carry_out(alone, [method(alone)])
            for one, many in zip(single.measured, found[name].measured, strict=True):
                assert one.key == many.key and one.label == many.label
                np.testing.assert_allclose(
                    many.value[row], one.value[0], rtol=1e-9, atol=1e-9, err_msg=one.key
                )
                np.testing.assert_allclose(many.swing_width[row], one.swing_width[0], rtol=1e-9, atol=1e-9)
            for one, many in zip(single.seen, found[name].seen, strict=True):
                np.testing.assert_allclose(
                    many.value[row], one.value[0], rtol=1e-9, atol=1e-9, err_msg=one.key
                )


def test_chunks_join_without_a_seam(batch, monkeypatch):
    """Worked three at a time, the same arrays come out."""
    subject, found = batch
    monkeypatch.setattr(subject_module, "CHUNK", 3)
    for name, part in population_findings.inspect_population(subject).items():
        for one, other in zip(part.measured, found[name].measured, strict=True):
            np.testing.assert_allclose(one.value, other.value, rtol=1e-9, atol=1e-9, err_msg=one.key)


def test_all_points_are_worked_at_one_go(batch, monkeypatch):
    """A population costs three runs of the simulator: its day, how far it drives, and all inspections; those whose level is set
    cost three short ones more, and so does one where mounts lift. With a controller: the day, and with
    codes cleared, its shifts as it came, with codes cleared and cold, how far it drives, and all inspections."""
    subject, _ = batch
    runs, operate = [], Plant.operate

    def counted(self, *args, **more):
        runs.append(len(args[1].lever))
        return operate(self, *args, **more)

    monkeypatch.setattr(Plant, "operate", counted)
    population_findings.inspect_population(subject)
    if subject.unit.control is not None:
        assert len(runs) == 7
        return
    assert len(runs) == 6 and sorted(runs[3:]) == sorted([*runs[:2], 2])


def test_an_inspection_asks_once():
    """A part that asks for points a second time is refused: they could not be worked together."""

    def asks_twice(subject):
        yield [AskedPoint("P")]
        yield [AskedPoint("P")]
        return BatchFinding()

    subject = lived("T3", "vacuum")
    with pytest.raises(ValueError, match="ask for its points once, got a second time"):
        carry_out(subject, [asks_twice(subject)])


# ---------------------------------------------------------------------- readings and looks
def test_findings_are_complete(batch):
    """Each key once an inspection, on a scale that exists; what is not read says why; one key means one thing everywhere."""
    _subject, found = batch
    meaning = {}
    for name, part in found.items():
        keys = [each.key for each in (*part.measured, *part.seen)]
        assert len(keys) == len(set(keys)), name
        for each in part.measured:
            assert each.value.shape == (COUNT,) and each.sigma > 0 and each.label
            said = np.any([where for _, where in each.notes] or [np.zeros(COUNT, bool)], axis=0)
            assert (said | np.isfinite(each.value)).all(), each.key
            assert meaning.setdefault(each.key, (each.label, tuple(np.nan_to_num(each.value)))) == (
                each.label,
                tuple(np.nan_to_num(each.value)),
            )
        for each in part.seen:
            assert each.scale in all_scales() and each.value.shape == (COUNT,)
            assert each.grades().max() < len(all_scales()[each.scale].words)


def test_a_finding_is_its_row_in_words(batch):
    """Grades of looks are those of the arrays; every look that is remarkable is said, and words never repeat."""
    subject, found = batch
    for name in found:
        for row in range(COUNT):
            finding = make_inspection(subject, name, row)
            assert [look.grade for look in finding.looks] == [
                int(each.grades()[row]) for each in found[name].seen
            ]
            assert all(word[:1].isupper() or word[:1] == "\u201c" for word in finding.words)
            loud = [
                look
                for look, each in zip(finding.looks, found[name].seen, strict=True)
                if each.quiet and look.grade
            ]
            assert all(any(look.text[1:] in word for word in finding.words) for look in loud)


def test_what_is_not_there_has_the_least_grade():
    """A value that is no number is step 0; at a limit the next word begins."""
    assert list(grades("hold", [np.nan, 0.0, 0.005, 0.9])) == [0, 0, 1, 4]
    unseen = BatchLook(key="x", scale="hold", value=np.array([np.nan]), text="third: {}", quiet=True)
    assert unseen.look(0, 0).grade == 0 and unseen.look(0, 0).text == "third: holds"


def test_what_may_be_missed_is_met_as_often_as_its_chance_says():
    """Over a thousand shops, the same always in one; what is missed has the least step and names no circuit."""
    here = np.ones(1, bool)
    look = BatchLook(
        key="jump",
        scale="jump",
        value=np.array([0.2]),
        chance=np.array([0.3]),
        of=(("feed_b", "feed B", here),),
    )
    seen = [look.look(0, seed) for seed in range(1000)]
    met = sum(each.grade > 0 for each in seen)
    assert abs(met - 300) < 4 * np.sqrt(1000 * 0.3 * 0.7)
    assert seen == [look.look(0, seed) for seed in range(1000)]
    assert {each.of for each in seen if each.grade} == {"feed_b"} and {
        each.of for each in seen if not each.grade
    } == {""}
    assert look.seen_share() == pytest.approx([0.3])


def test_instruments_are_off_by_a_fixed_error_of_a_normal_kind():
    """The error follows from seed and key alone; over many keys it is a normal one cut at two deviations (scipy.stats)."""
    drawn = np.array([instrument_error(seed, f"key_{i}") for seed in range(40) for i in range(50)])
    assert (
        instrument_error(7, "line_psi") == instrument_error(7, "line_psi") != instrument_error(8, "line_psi")
    )
    assert np.abs(drawn).max() == 2.0
    inner = drawn[np.abs(drawn) < 2.0]
    assert stats.kstest(inner, stats.truncnorm(-2, 2).cdf).pvalue > 0.01


def test_a_reading_shows_value_error_note_and_swing():
    """Unsigned instruments do not go below zero; a note stands where it was noted; both ends of the needle carry the error."""
    swing = np.array([[40.0, 56.0], [np.nan, np.nan], [np.nan, np.nan]])
    value = np.array([48.0, 0.0, np.nan])
    notes = (("no needle", np.isnan(value)), ("rises on", value > 40), ("never said first", value > 45))
    line = BatchReading(key="p", label="P", value=value, unit="psi", sigma=1.0, swing=swing, notes=notes)
    shown = [line.reading(row, 11, (62.0, 72.0)) for row in range(3)]
    error = instrument_error(11, "p")
    assert shown[0].value == round(48 + error) and shown[0].swing == (round(40 + error), round(56 + error))
    assert shown[0].note == "rises on"
    assert shown[1].value >= 0.0 and shown[1].swing is None and shown[1].note == ""
    assert shown[2].value is None and shown[2].found_text == "no needle" and shown[2].verdict == "not read"


# ---------------------------------------------------------------------- the unit's own chart
# Coast braking by range: any apply chart of a Simpson set with a one-way clutch on the rear carrier, and of an overdrive set in
# front of it (textbook; from memory).
COAST = {
    "T3": {"first": False, "second": True, "third": True, "first_manual": True, "reverse": True},
    "T4": {
        "first": False,
        "second": True,
        "third": True,
        "fourth": True,
        "first_manual": True,
        "reverse": True,
    },
}
TAPS = {
    "T3": {"forward": "D", "direct": "R", "intermediate": "2", "low_reverse": "R"},
    "T4": {"forward": "D", "direct": "R", "intermediate": "2", "low_reverse": "R", "overdrive_clutch": "P"},
}


@pytest.mark.parametrize("unit", COAST)
def test_engine_braking_by_the_chart(unit):
    """A range brakes on lifting where no one-way clutch stands alone in it."""
    spec = load_unit(unit)
    assert {gear: apply_chart.brakes_on_overrun(spec, gear) for gear in COAST[unit]} == COAST[unit]


@pytest.mark.parametrize("unit", TAPS)
def test_taps_are_read_where_the_element_is_applied(unit):
    """Standing where a lever allows it, else on the road; and nothing is applied where its circuit is due to be empty."""
    spec = load_unit(unit)
    places = {each.stem: apply_chart.tap_range(spec, each) for each in holders.pressed(spec)}
    assert {stem: lever for stem, (lever, ups) in places.items() if ups == 0} == TAPS[unit]
    assert {stem for stem, (_, ups) in places.items() if ups} == set(places) - set(TAPS[unit])
    for each in holders.pressed(spec):
        assert not apply_chart.applied(spec, apply_chart.idle_range(spec, each).gear)[each.column]


def test_stems_name_one_element(batch):
    """No stem could mean another element, or the keys of two would run together."""
    spec = batch[0].unit
    stems = [each.stem for each in holders.holders(spec)]
    assert len(set(stems)) == len(stems)
    for holder in holders.pressed(spec):
        meant = [o for o in spec.element_ids if o.startswith(holder.stem)]
        assert holder.stem == holder.element.short or meant == [holder.element.id]


def test_the_shop_knows_units_and_causes_only_as_data():
    """No module of the shop names an element, a gear, a unit or a shift, and none imports the catalogue."""
    names = set()
    for unit in ("T3", "T4"):
        spec = load_unit(unit)
        names |= {unit, *spec.element_ids, *spec.shift_ids, *spec.gears}
    names -= {"reverse"}  # every unit backs up; the range is called so
    for path in SHOP.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        said = {
            node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
        assert not said & names, path.name
        assert "course_lib.faults" not in path.read_text(encoding="utf-8")


def test_every_inspection_is_offered_in_the_order_of_the_data():
    """Methods and data file list the same inspections; what ends one exists and stands behind it."""
    steps = list(all_inspections().values())
    assert [step.id for step in steps] == list(METHODS)
    place = {step.id: i for i, step in enumerate(steps)}
    for step in steps:
        assert step.gone_after == "" or place[step.gone_after] > place[step.id]
