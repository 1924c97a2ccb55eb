"""The shop: words follow numbers, twins can be told apart, and nothing in here knows a cause."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import course_lib
from course_lib.cases.case import findings_in
from course_lib.cases.make import make_case
from course_lib.shop import findings
from course_lib.shop.findings import Reading, all_inspections
from course_lib.shop.graded_scales import all_scales, grade, sentence, word
from course_lib.shop.inspect import METHODS

TWINS = (
    ("fluid_low_external_leak", "dipstick_wrong_length", "filter_neck_air_leak"),
    ("pump_worn_abrasive", "filter_clogged_residue", "pressure_regulator_stuck_low"),
    ("vacuum_hose_leak", "modulator_diaphragm_ruptured"),
    ("intermediate_servo_seal_leak", "band_adjusted_loose"),
)


def verdicts(case):
    """(reading, verdict) of everything outside spec, found at any inspection."""
    readings = [r for f in findings_in(case).values() for r in f.readings]
    return {(r.key, r.verdict) for r in readings if r.verdict not in ("within spec", "noted")}


@pytest.mark.parametrize("group", TWINS, ids=lambda group: group[0])
def test_twins_differ_in_a_reading(group):
    """Burnt or sliding alike, any two of a look-alike group still differ in at least one reading against its spec."""
    made = {cause: verdicts(make_case(seed=6, cause=cause, signal="vacuum")[0]) for cause in group}
    for a, b in itertools.combinations(made, 2):
        assert made[a] ^ made[b], (a, b)


def test_slack_cable_and_weak_modulator_answer_the_hand_differently():
    """The cable unit answers a full pull by hand; the weak modulator does not answer the hose pulled off (common practice)."""
    cable = findings_in(make_case(seed=6, cause="throttle_cable_slack")[0])["signal_by_hand"].readings
    weak = findings_in(make_case(seed=6, cause="modulator_bellows_collapsed")[0])["signal_by_hand"].readings
    full = "line_pressure_p_signal_high_psi"
    assert next(r for r in cable if r.key == full).verdict == "within spec"
    assert next(r for r in weak if r.key == full).verdict == "below spec"


@pytest.mark.parametrize("scale", sorted(all_scales()))
@given(a=st.floats(-1, 40), b=st.floats(-1, 40))
def test_a_larger_number_never_gets_a_milder_word(scale, a, b):
    """Grades rise with the number, so a word can always be read back as a step of its scale."""
    low, high = sorted((a, b))
    assert grade(scale, low) <= grade(scale, high)
    assert word(scale, low) == all_scales()[scale].words[grade(scale, low)]


def test_every_inspection_has_a_method_and_a_caution():
    """The list a learner sees and the methods agree; each says what can hurt and what it tells."""
    assert set(all_inspections()) == set(METHODS)
    assert all(each.caution and each.tells and each.minutes > 0 for each in all_inspections().values())


def reading(value, spec=(62.0, 72.0), **more):
    """A line-pressure reading."""
    return Reading(key="p_psi", label="P", value=value, unit="psi", spec=spec, sigma=1.0, **more)


def test_a_reading_is_judged_as_it_is_shown():
    """A needle rounded onto the edge of spec is within it; the text carries unit, swing and a true minus."""
    assert reading(61.6).verdict == "within spec"
    assert reading(61.4).verdict == "below spec" and reading(61.4).deviation == -1.0
    assert reading(74).verdict == "above spec"
    assert reading(None, note="no upshift").found_text == "no upshift"
    assert reading(48, swing=(40, 56)).found_text == "48\u202fpsi (swinging 40 to 56)"
    assert reading(-0.41, decimals=2).found_text == "\u22120.41\u202fpsi"
    assert reading(5).spec_text == "62 to 72\u202fpsi"


def test_a_sentence_is_a_sentence():
    """Capital first, one stop at the end, numbers untouched."""
    assert sentence("direct clutch: 2 faces") == "Direct clutch: 2 faces."
    assert sentence("Done.") == "Done."


def test_headings_of_readings_stand_in_one_place():
    """A table of readings is headed alike wherever it stands, so its words are written once."""
    library = Path(course_lib.__file__).parent
    files = [path for end in ("py", "js") for path in library.rglob(f"*.{end}")]
    heads = [path.name for path in files if '"what", "found", "spec"' in path.read_text(encoding="utf-8")]
    assert heads == ["findings.py"] and findings.HEADINGS == ("what", "found", "spec", "result")
