"""Pictures of what is found on an electronic unit: which are drawn, whether their words hold the finding, where the leads stand."""

import re

import numpy as np
import pytest
from msgspec.structs import replace
from pictured import ELECTRIC, electric, electric_case, numbers, written_over

from course_lib import plots
from course_lib.plots import drawing, palette
from course_lib.plots.lead_places import ohms_places, volts_places
from course_lib.shop.display import finding_in_system, reading_in_system
from course_lib.shop.findings import Look, all_inspections
from course_lib.vehicle.unit_spec import load_unit

SICK = tuple(state for state in ELECTRIC if state != "sound")
NEW = [name for name, each in all_inspections().items() if each.controls == ("electronic",)]
IN_WORDS = ("wiggle", "soak", "data_parked")  # words and a short table say all of it
IN_THE_TABLE = {  # single values, that a picture would only repeat
    "data_parked": r".+",
    "data_road": r"(?!ratio_error).+",
    "shift_graph": r"engage_.+|tie_\w+_cold_g",
}
MEANING = re.compile(r"within spec|outside spec|(below|above) spec")
WORKSHOP = re.compile(r"\b(psi|inHg|mph|qt)\b|\u00b0F")


def drawn(state, name, *, verdict=True, system="workshop"):
    """The pictures of one finding."""
    return plots.pictures_of(electric(state)[name], verdict=verdict, system=system, unit="E6")


@pytest.mark.parametrize("name", NEW)
def test_every_new_finding_is_pictured(name):
    """Each inspection of an electronic control has a picture, but for those whose finding is a word or two."""
    assert bool(drawn("sound", name)) == (name not in IN_WORDS)


@pytest.mark.parametrize("system", ["workshop", "metric"])
@pytest.mark.parametrize("name", NEW)
def test_words_hold_every_reading(name, system):
    """Each reading but single values stands in the words of a picture of its finding, with spec and unit."""
    for state in ("sound", "green feed pin"):
        alt = " ".join(picture.alt for picture in drawn(state, name, system=system))
        there = {abs(n) for n in numbers(alt)}
        for reading in electric(state)[name].readings:
            shown = reading_in_system(reading, system)
            if reading.key.startswith(("frame_", "controllers", "modules_missing")) or shown.value is None:
                continue  # a gear by its name; a list that says itself who complains and who is silent
            if re.fullmatch(IN_THE_TABLE.get(name, ""), reading.key):
                continue
            if shown.past_range:
                assert shown.note in alt  # there is no number to be said
                continue
            wanted = {shown.value, *(end for end in shown.spec or () if end is not None)}
            assert {round(abs(n), shown.decimals) for n in wanted} <= {
                round(n, shown.decimals) for n in there
            }, (reading, alt)
            assert shown.unit in alt


@pytest.mark.parametrize("state", ELECTRIC)
def test_words_stay_on_the_sheet_and_apart(state):
    """Nothing is written past the edge or over other words: sick units with verdicts, the sound one without and in metric."""
    how = {"verdict": False, "system": "metric"} if state == "sound" else {}
    for name in NEW:
        for picture in drawn(state, name, **how):
            assert written_over(picture) == [], (name, picture.alt)


@pytest.mark.parametrize("state", SICK)
def test_nothing_is_judged_where_the_learner_judges(state):
    """Without verdict there is no word of judgment and no ochre; the words are sentences; metric leaves no workshop unit."""
    for name in NEW:
        for picture in drawn(state, name, verdict=False, system="metric"):
            assert not MEANING.search(picture.alt), picture.alt
            assert not [a for a in _ochre(picture) if a.get_gid() != "swing"], name
            assert not WORKSHOP.search(" ".join((picture.alt, *picture.words()))), (name, picture.alt)
            assert picture.alt.endswith(".") and ".." not in picture.alt


def _ochre(picture):
    wanted = tuple(drawing.rgba(palette.OCHRE))
    found = []
    for axes in picture.figure.axes:
        for artist in axes.get_children():
            for name in ("get_color", "get_facecolor", "get_edgecolor"):
                if (get := getattr(artist, name, None)) is not None:
                    colors = drawing.rgba(get())
                    rows = colors.reshape(-1, 4) if colors.size else []
                    found += [artist for row in rows if tuple(row) == wanted]
    return found


# ---------------------------------------------------------------------- leads
def test_leads_stand_at_the_ends_of_what_is_measured():
    """By hand from the wiring diagram: a feed from the battery to behind its pin, the relay across its contacts, a coil at its two
    pins of the case plug, a return wire against the body."""
    control = load_unit("E6").control
    feed = volts_places("feed_b_lockup_v", control)
    assert feed.nodes == ("battery", "feed_b")
    between = [feed.pieces[k].label for k in range(feed.red, feed.black)]
    assert between == ["fuse F1", "contacts of power relay K1", "feed B"]
    assert (feed.points[feed.red], feed.points[feed.black]) == ("battery plus", "X1 pin 2")
    assert volts_places("relay_v", control).nodes == ("fuse_out", "relay_out")
    ground = volts_places("g2_crank_v", control)
    assert ground.nodes == ("case", "body") and ground.pieces[ground.red].label == "ground G2"
    coil = ohms_places("pcc_hot_ohm", control)
    assert (coil.points[coil.red], coil.points[coil.black]) == ("X1 pin 1", "X1 pin 5")
    assert {piece.kind for piece in coil.pieces[: coil.red] + coil.pieces[coil.black :]} == {"parted"}
    wire = ohms_places("wire6_ground_ohm", control)
    assert (wire.points[wire.red], wire.points[wire.black]) == ("X2 pin 6", "body")
    assert wire.pieces[0].label == "return wire 6 of PCD"
    for nothing in ("volts_v", "rest_v", "bus_ohm", "rpm"):
        assert volts_places(nothing, control) is None and ohms_places(nothing, control) is None


def test_meter_shows_the_reading_that_is_out_of_spec():
    """Of all drops the meter is held to the one that says most, and the piece between its leads is drawn heavy."""
    _, face = drawn("green feed pin", "volt_drop")
    worst = next(r for r in electric("green feed pin")["volt_drop"].readings if r.deviation)
    assert worst.show(worst.value) in face.words() and "above spec" in face.alt
    first = electric("green feed pin")["volt_drop"].readings[0]
    assert (
        drawn("green feed pin", "volt_drop", verdict=False)[-1]
        .words()[0]
        .lower()
        .startswith(first.label.lower()[:8])
    )


def test_open_coil_is_no_way_for_current():
    """A coil past the range of the meter shows OL, not a number."""
    finding = electric("sound")["solenoid_case"]
    readings = tuple(
        replace(r, value=5e6, past_range=True, note="open, over 5 megohms") if r.key == "pcc_ohm" else r
        for r in finding.readings
    )
    pictures = plots.pictures_of(replace(finding, readings=readings), verdict=True, unit="E6")
    assert any("OL" in picture.words() for picture in pictures)


# ---------------------------------------------------------------------- one by one
def test_codes_stand_with_their_frame():
    """Stored before pending, each with its words; the frame beside the code that it was kept for; the gear by its name."""
    finding = electric("green feed pin")["codes"]
    (picture,) = drawn("green feed pin", "codes")
    assert picture.alt.index("P0741") < picture.alt.index("P0733") and "pending" in picture.alt
    kept = next(r.note for r in finding.readings if r.key == "frame_volts").split()[-1]
    frame = picture.alt.partition(kept)[2].partition(". ")[0]
    assert re.search(r"lock-up:? (on|off)", frame) and re.search(
        r"gear:? (reverse|first|second|third|fourth|fifth|sixth)", frame
    )
    assert picture.alt.count("lock-up") == 1
    (sound,) = drawn("sound", "codes")
    assert "P07" not in sound.alt and "no codes" in sound.alt


def test_plug_marks_the_pins_of_the_circuit():
    """The pin of the circuit that a look names carries its state; water covers the case plug; what is seen in no pin is said."""
    (clean,) = drawn("sound", "plug_look")
    assert "green: none" in clean.alt and "fuse F1".lower() in clean.alt.lower()
    (picture,) = drawn("green feed pin", "plug_look")
    assert "pin 2 feed B: green" in picture.alt and "green: pin 2" in picture.alt
    finding = electric("oil in the loom")["plug_look"]
    dull = Look(key="green", grade=2, text="pins: a green rim, ground G1", of="ground_g1")
    looks = tuple(dull if look.key == "green" else look for look in finding.looks)
    faces = plots.pictures_of(replace(finding, looks=looks), verdict=True, unit="E6")
    assert [face.words()[0] for face in faces] == ["Case plug X1", "Controller plug X2"]
    assert "ground G1: green" in faces[1].alt and "TFT" not in faces[1].alt.partition("pin 31")[2]
    finding = electric("sound")["plug_look"]
    wet = tuple(
        Look(key="plug_water", grade=3, text="case plug X1: wet") if x.key == "plug_water" else x
        for x in finding.looks
    )
    (soaked,) = plots.pictures_of(replace(finding, looks=wet), verdict=True, unit="E6")
    assert "clean: none" in soaked.alt


def test_log_names_the_gear_of_each_stretch():
    """As many stretches as gears were held, each named, and the pauses hatched."""
    finding = electric("sound")["data_road"]
    held = [r for r in finding.readings if r.key.startswith("ratio_error_")]
    picture = drawn("sound", "data_road")[1]
    assert len(picture.named("gap")) >= len(held) - 1
    assert "A first, at 0.0" in picture.alt and "reverse, at" in picture.alt


def test_shift_graph_has_its_two_lines():
    """Turbine speed begins on the line of the old gear and ends on that of the new: output speed times the ratio of the sheet."""
    graph = next(p for p in drawn("sound", "shift_graph") if p.words()[0].startswith("Shift 2 to 3"))
    (turbine,) = graph.named("turbine")
    ys = turbine.get_ydata()
    assert ys[0] < ys[-1]  # downward on paper: the turbine falls
    assert "a flare" not in graph.alt


def test_scope_shows_gap_noise_and_level():
    """A missing tooth, noise at rest and a low amplitude are told; the oil film lifts the low level at the controller only."""
    alts = {p.words()[0]: p.alt for p in drawn("sick sensor", "sensor_scope")}
    output = next(alt for title, alt in alts.items() if title.startswith("Output"))
    assert output.count("below spec") >= 1 and output.count("above spec") >= 2
    turbine = next(p for p in drawn("oil in the loom", "sensor_scope") if p.words()[0].startswith("Turbine"))
    lifted, own = (trace.get_ydata() for trace in turbine.named("trace"))
    assert np.ptp(lifted) < 0.9 * np.ptp(own)


def test_scope_says_how_it_was_taken():
    """Time base, trigger and pins of the leads stand on the screen; the trace reaches the level that was read off it."""
    (turbine,) = (p for p in drawn("oil in the loom", "sensor_scope") if p.words()[0].startswith("Turbine"))
    high = next(r for r in electric("oil in the loom")["sensor_scope"].readings if r.key == "tss_high_v")
    assert f"from 2 to {high.value:.1f}\u202fV" in turbine.alt and high.verdict == "above spec"
    for words in (
        "500\u202f\u00b5s a division",
        "trigger on 1, rising through",
        "1 tip on X2 pin 13, clip on X2 pin 11",
    ):
        assert words in turbine.alt and any(words in written for written in turbine.words())
    assert len(turbine.named("trigger")) == 2


def test_bus_names_who_is_silent():
    """The module that says nothing is drawn silent, the others answer."""
    (picture,) = drawn("many at once", "bus_check")
    assert "Brake module: silent" in picture.alt and picture.alt.count("answers") >= 3
    (whole,) = drawn("sound", "bus_check")
    assert "silent" not in whole.alt


def test_learned_value_at_its_end():
    """A fill time at the end of what may be learned is said to stand there."""
    (picture,) = drawn("green feed pin", "adapts_read")
    assert "reduction clutch" in picture.alt and "at its end" in picture.alt


@pytest.mark.parametrize("system", ["workshop", "metric"])
def test_spec_sheet_says_what_the_findings_say(system):
    """Every spec of a finding stands on the sheet of its case in the same units; a step of temperature is no temperature."""
    case = electric_case("sound", "sheet")
    groups = case.spec_sheet(system)
    sheet = {label: spec for _, rows in groups for label, spec in rows}
    assert sum(len(rows) for _, rows in groups) == len(sheet) > len(groups) > 10
    for finding in electric("sound").values():
        for reading in finding_in_system(finding, system).readings:
            if reading.spec is not None:
                assert sheet[reading.label] == reading.spec_text
    screen = sheet["Screen less a thermometer at the pan"].replace("\u202f", " ")
    assert screen == {"workshop": "\u22125 to 5 \u00b0F", "metric": "\u22122.8 to 2.8 \u00b0C"}[system]
