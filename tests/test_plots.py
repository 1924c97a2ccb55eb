"""Figures and their words: both ways against the findings they are drawn from."""

import re
import subprocess
import sys
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from pictured import FAULTY, STATES, findings, numbers, written_over

from course_lib import plots
from course_lib.base import units
from course_lib.bench.page_script import style
from course_lib.faults.parts import out_of_order
from course_lib.plots import drawing, finding_pictures, palette
from course_lib.plots.drawing import DrawingSheet, contrast, luminance
from course_lib.plots.picture import Picture
from course_lib.shop.display import finding_in_system, reading_in_system
from course_lib.shop.findings import Reading, all_inspections
from course_lib.shop.mobility import SLIPS_TOO_MUCH

UNITS = ("T3", "T4")
WORKSHOP_UNITS = re.compile(r"\b(psi|inHg|mph|qt|lbf)\b|\u00b0F|\bin\.(?!\w)|\d[ \u202f]mi\b")
MEANING = re.compile(r"within|outside spec|(below|above) spec|slips|^\S+ (below|above)$")


@cache
def every(state, unit="T3", *, verdict=True, system="workshop"):
    """Every picture of every finding of a vehicle, drawn once for all tests."""
    how = {"verdict": verdict, "system": system, "unit": unit}
    return [
        picture for finding in findings(state, unit).values() for picture in plots.pictures_of(finding, **how)
    ]


@pytest.fixture(scope="module")
def healthy():
    """Every picture of the sound vehicles, with verdicts."""
    return {unit: every("healthy", unit) for unit in UNITS}


# ---------------------------------------------------------------------- palette
# Source: WCAG 2.2, success criterion 1.4.3 and the definition of contrast ratio; #767676 on white as the darkest gray that just
# meets 4.5 to 1 is the example every checker prints (from memory).
@pytest.mark.parametrize(
    "one, other, printed, tolerance",
    [
        ("#000000", "#FFFFFF", 21.0, 1e-9),
        ("#767676", "#FFFFFF", 4.54, 0.005),
        ("#FFFFFF", "#FFFFFF", 1.0, 1e-9),
    ],
)
def test_contrast_is_that_of_wcag(one, other, printed, tolerance):
    """Contrast ratios at the printed digits, the same both ways round."""
    assert contrast(one, other) == pytest.approx(printed, abs=tolerance)
    assert contrast(one, other) == contrast(other, one)


def test_luminance_is_that_of_the_standard():
    """Pure red, green and blue have the luminance of the standard's own coefficients, and mid gray is linear in none."""
    assert [luminance(c) for c in ("#FF0000", "#00FF00", "#0000FF")] == pytest.approx(
        [0.2126, 0.7152, 0.0722]
    )
    assert luminance("#808080") == pytest.approx(0.2159, abs=5e-5)


@pytest.mark.parametrize("shown", [dict.fromkeys(palette.DARK), palette.DARK], ids=["light", "dark"])
def test_words_and_strokes_stand_out(shown):
    """Words reach 4.5 to 1 on paper and on the field of a spec (1.4.3), strokes 3 to 1 on paper (1.4.11, WCAG 2.2)."""
    of = {color: dark or color for color, dark in shown.items()}
    papers = (of[palette.PAPER], of[palette.TINT])
    assert min(contrast(of[color], paper) for color in palette.WORDS for paper in papers) >= 4.5
    assert contrast(of[palette.OCHRE], of[palette.OCHRE_WASH]) >= 4.5
    assert min(contrast(of[color], papers[0]) for color in palette.STROKES) >= 3.0


def test_pictures_have_the_colors_of_the_page():
    """What a page calls paper, ink or steel is the same color in a picture, light and dark."""
    text = style("bench.css").read_text(encoding="utf-8")
    light, dark = (dict(re.findall(r"--([\w-]+): (#\w+);", part)) for part in text.split("}")[:2])
    assert light.keys() == dark.keys() >= {"paper", "ink", "graphite", "rule", "tint", "steel", "ochre"}
    for name, color in light.items():
        drawn = getattr(palette, name.replace("-", "_").upper())
        assert (color.upper(), dark[name].upper()) == (drawn, palette.DARK[drawn]), name


@pytest.mark.parametrize("state", FAULTY)
def test_a_picture_follows_a_dark_page(state):
    """No color of a picture is fixed: each is a name that has a light and a dark value in the file."""
    for picture in every(state):
        text = picture.svg().decode()
        drawn = text.split("</style>", 1)[1]
        assert re.findall(r"(?:fill|stroke)(?:: |=\")(?!none|var|url)[^;\"]+", drawn) == [], picture.alt
        used = set(re.findall(r"var\(--([\w-]+)\)", drawn))
        light, dark = text.split("@media (prefers-color-scheme:dark)")
        assert all(f"--{name}:#" in part for name in used for part in (light, dark))


# Source: Machado, Oliveira and Fernandes, A Physiologically-based Model for Simulation of Color Vision Deficiency (2009), table of
# matrices at severity 1.0 (from memory; each row sums to 1, so that gray stays gray).
BLIND = {
    "red": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "green": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "blue": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def lab(color, matrix=None):
    """CIELAB of an sRGB color (D65; CIE 15), as eyes that lack one kind of cone see it."""
    shares = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    linear = np.clip(np.eye(3) @ linear if matrix is None else np.array(matrix) @ linear, 0.0, 1.0)
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ linear
    t = xyz / (0.9505, 1.0, 1.089)
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("lacks", BLIND)
def test_strokes_differ_without_a_kind_of_cone(lacks):
    """Any two strokes stay more than 10 CIELAB units apart; gray is seen as gray (rows of the matrix sum to 1)."""
    assert np.allclose(np.sum(BLIND[lacks], axis=1), 1.0, atol=2e-6)
    seen = [lab(color, BLIND[lacks]) for color in palette.STROKES]
    apart = [np.linalg.norm(a - b) for i, a in enumerate(seen) for b in seen[i + 1 :]]
    assert min(apart) > 10.0


def colors(picture, color):
    """Everything drawn in a color, lines, faces, edges and words alike."""
    wanted, found = drawing.rgba(color), []
    for axes in picture.figure.axes:
        for artist in axes.get_children():
            for getter in ("get_color", "get_facecolor", "get_edgecolor"):
                drawn = getattr(artist, getter, lambda: None)()
                if (
                    drawn is not None
                    and len(drawn)
                    and np.any(np.all(np.isclose(drawing.rgba(drawn), wanted), axis=-1))
                ):
                    found.append(artist)
                    break
    return found


@pytest.mark.parametrize("state", FAULTY)
def test_ochre_never_stands_alone(state):
    """Where something is ochre, which is steel's neighbor in gray, a word says so too: below, above, swings, slips."""
    for picture in every(state):
        if colors(picture, palette.OCHRE):
            assert any(re.search(r"below|above|slips", words) for words in picture.words()), picture.alt


# ---------------------------------------------------------------------- the picture
def test_picture_carries_its_words():
    """The image has the words as its alternative text, quotes and all, and no picture goes without."""
    picture = DrawingSheet("Title", "side", 2.0).picture('needle at 48 "psi" & rising')
    assert 'alt="needle at 48 &quot;psi&quot; &amp; rising"' in picture.html() == picture._repr_html_()
    assert ElementTree.fromstring(picture.svg()).tag == "{http://www.w3.org/2000/svg}svg"
    with pytest.raises(ValueError, match="alt must be what a reader sees"):
        Picture(picture.figure, "  ")


def test_same_picture_same_bytes():
    """Drawn twice, a finding gives the same file: saved notebooks do not change by themselves."""
    first, second = (plots.of_finding(findings("healthy")["fluid_hot"], verdict=True).svg() for _ in range(2))
    assert first == second


def test_no_shared_state_of_the_drawing_library():
    """The figures never load pyplot, which would keep every figure alive and draw into each other's."""
    code = "import sys; from course_lib import plots; print('matplotlib.pyplot' in sys.modules)"
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "False"
    )


# ---------------------------------------------------------------------- words against state
def drawn_readings(states):
    """(finding, kind of picture, readings) for every picture that is drawn from readings."""
    for state, unit in states:
        for finding in findings(state, unit).values():
            for kind in finding_pictures.KINDS:
                if readings := finding_pictures._met(finding, kind):
                    yield finding, kind, readings


@pytest.mark.parametrize(
    "system, states",
    [
        ("workshop", [("healthy", "T3"), ("worn pump", "T3"), ("burnt direct clutch", "T4")]),
        ("metric", [("fluid low", "T3")]),
    ],
)
def test_words_hold_every_reading(system, states):
    """Each reading a picture is drawn from stands in its words: value, spec, unit, and how far outside."""
    seen = 0
    for finding, kind, readings in drawn_readings(states):
        (picture,) = kind.draw(finding, readings, None, verdict=True, system=system)
        alt = picture.alt
        there = {abs(n) for n in numbers(alt)}
        for reading in readings:
            shown = reading_in_system(reading, system)
            wanted = {shown.value, *(end for end in shown.spec or () if end is not None)}
            assert {round(abs(n), shown.decimals) for n in wanted} <= {
                round(n, shown.decimals) for n in there
            }, (reading, alt)
            assert shown.unit in alt
            assert reading.spec is None or reading.verdict in alt
            seen += 1
    assert seen > 80 * len(states)


@pytest.mark.parametrize("state", STATES)
def test_words_written_in_the_picture_are_in_the_alternative_text(state):
    """No number is shown to the eye alone: what is written as a reading is said as well."""
    for picture in every(state):
        said = {abs(n) for n in numbers(picture.alt)}
        for text in picture.named("value"):
            assert {abs(n) for n in numbers(text.get_text())} <= said, text.get_text()


@pytest.mark.parametrize("system", ["workshop", "metric"])
def test_notes_beside_a_number_are_written_too(system):
    """What a mechanic notes beside a number, "lifted at once" say, stands in the picture as in its words."""
    noted = 0
    for finding, kind, readings in drawn_readings([("fluid low", "T3"), ("worn pump", "T4")]):
        (picture,) = kind.draw(finding, readings, None, verdict=True, system=system)
        written = " ".join(" ".join(picture.words()).split())
        for reading in readings:
            if reading.note and reading.value is not None:
                note = reading_in_system(reading, system).note
                assert note in written and note in picture.alt
                noted += 1
    assert noted >= 6


@pytest.mark.parametrize("unit", UNITS)
def test_words_are_sentences(healthy, unit):
    """Every alternative text ends with one stop, also after a unit that has its own, as "in." has."""
    for picture in (*healthy[unit], *every("worn pump", unit)):
        assert picture.alt.endswith(".") and ".." not in picture.alt, picture.alt


@pytest.mark.parametrize("state", FAULTY)
def test_nothing_is_judged_where_the_learner_judges(state):
    """Without verdict no word of judgment and no ochre is left, in picture and words alike; readings and specs stay."""
    titled = (
        sorted(every(state, verdict=judged), key=lambda one: one.words()[0]) for judged in (True, False)
    )
    for judged, open_ in zip(*titled, strict=True):
        # Why a drive was not made is a thing met, and no judgment of a reading.
        told = [words.replace(SLIPS_TOO_MUCH, "") for words in (open_.alt, *open_.words())]
        assert not [words for words in told if MEANING.search(words.replace("below line", ""))], open_.alt
        assert not [a for a in colors(open_, palette.OCHRE) if a.get_gid() != "swing"]
        assert set(numbers(open_.alt)) <= set(numbers(judged.alt))
        assert "spec" not in judged.alt or "spec" in open_.alt


@pytest.mark.parametrize("unit", UNITS)
def test_healthy_vehicle_shows_nothing_outside(healthy, unit):
    """A sound vehicle has no wedge, no ochre and no word of deviation in any picture."""
    assert len(healthy[unit]) > 20
    for picture in healthy[unit]:
        assert not colors(picture, palette.OCHRE), picture.alt
        assert not re.search(r"(below|above|outside) spec", picture.alt)


@pytest.mark.parametrize("state", FAULTY)
def test_faulty_vehicle_shows_something_outside(state):
    """Each faulty vehicle shows at least one deviation, drawn and said."""
    outside = [picture for picture in every(state) if re.search(r"(below|above) spec", picture.alt)]
    assert outside and all(colors(picture, palette.OCHRE) for picture in outside)


@pytest.mark.parametrize("unit", UNITS)
def test_metric_everywhere_at_once(unit):
    """In metric no workshop unit is left anywhere, and the verdicts are the same."""
    for workshop, metric in zip(
        every("worn pump", unit), every("worn pump", unit, system="metric"), strict=True
    ):
        left = [words for words in (metric.alt, *metric.words()) if WORKSHOP_UNITS.search(words)]
        assert not left, left
        judged = [
            re.findall(r"within spec|below spec|above spec", picture.alt) for picture in (workshop, metric)
        ]
        assert judged[0] == judged[1]


@pytest.mark.parametrize("unit", UNITS)
def test_words_stay_on_the_sheet_and_apart(healthy, unit):
    """Nothing is written past the edge or over other words, in pictures of sound and of faulty vehicles."""
    for picture in (*healthy[unit], *every("worn pump", unit, system="metric")):
        assert written_over(picture) == [], picture.alt


# ---------------------------------------------------------------------- which picture
def test_every_inspection_is_pictured_or_only_words():
    """Inspections with readings have a picture; those of words alone may have none; both are met among a sound vehicle's."""
    pictured = {name: len(plots.pictures_of(f, verdict=True)) for name, f in findings("healthy").items()}
    assert set(pictured) <= set(all_inspections())
    assert all(count for name, count in pictured.items() if findings("healthy")[name].readings)
    assert plots.of_finding(findings("healthy")["interview"], verdict=True) is None


@pytest.mark.parametrize(
    "state, unit, inspection", [("burnt direct clutch", "T4", "teardown"), ("burnt direct clutch", "T3", "road_test"),
                                ("fluid low", "T3", "pan"), ("fluid low", "T3", "line_pressure")])  # fmt: skip
def test_what_is_out_of_order_comes_first(state, unit, inspection):
    """Pictures with a reading outside its spec, or with damage that was seen, stand before those without; in each of them
    nothing within spec is named before what is not, and where nothing may be judged the order is that of the inspection."""
    finding = findings(state, unit)[inspection]
    off = [r for r in finding.readings if r.deviation] + [
        look for look in finding.looks if out_of_order(look)
    ]
    assert off, "a state that shows nothing here tests nothing"
    judged, open_ = ([p.words()[0] for p in plots.pictures_of(finding, verdict=v)] for v in (True, False))
    kinds = [
        (kind, readings)
        for kind in finding_pictures.KINDS
        if (readings := finding_pictures._met(finding, kind)) is not None
    ]
    wrong = [finding_pictures._out_of_order(finding, *one) for one in kinds]
    assert any(wrong) and judged == [open_[i] for i in sorted(range(len(open_)), key=lambda i: not wrong[i])]
    for picture in plots.pictures_of(finding, verdict=True):
        if "engine speed" not in picture.alt and "Dipstick" not in picture.alt:
            assert not re.search(r"within spec.*(below|above) spec", picture.alt), picture.alt


@pytest.mark.parametrize("torn, drawn", [(0, 0), (1, 1), (2, 2)])
def test_a_torn_seal_of_a_servo_is_drawn(torn, drawn):
    """A servo whose seal is whole, nicked or torn, by the shop's grades: what is left of it on the paper."""
    finding = findings("healthy")["teardown"]
    words = ("seal whole", "seal nicked", "seal torn")[torn]
    looks = tuple(
        replace(look, grade=torn, text=f"servo: {words}") if look.key == "servo_intermediate" else look
        for look in finding.looks
    )
    picture = plots.packs(replace(finding, looks=looks), verdict=True)
    assert len(picture.named("seal torn")) == drawn
    assert (f"servo {words}" in picture.alt) == bool(torn)
    assert (len(picture.named("servo piston")) == 1) == bool(torn)  # the sound ones are listed only


def test_first_picture_is_of_finding():
    """`of_finding` is the first of `pictures_of`."""
    for name in ("interview", "fluid_hot", "cold_start", "exhaust_pressure"):
        finding = findings("worn pump")[name]
        first, all_ = plots.of_finding(finding, verdict=True), plots.pictures_of(finding, verdict=True)
        assert (first is None and not all_) or first.alt == all_[0].alt


# ---------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    "draw",
    [
        plots.fluid_level,
        plots.oil_pan,
        plots.cooler,
        plots.packs,
        plots.governor_curve,
        plots.line_against_rpm,
        plots.shift_speeds,
    ],
)
def test_wrong_finding_is_refused(draw):
    """A picture of a finding that holds nothing of the kind says what to draw instead."""
    with pytest.raises(ValueError, match=r"must hold .* got .*\. \w"):
        draw(findings("healthy")["interview"], verdict=True)


def test_gauge_needs_a_value_and_a_system():
    """Nothing to read, mixed units and an unknown system are refused."""
    reading = findings("healthy")["line_pressure"].readings[0]
    empty = Reading(key="a", label="A", value=None, unit="psi", spec=None, sigma=1.0)
    with pytest.raises(ValueError, match="must have a value"):
        plots.gauge(empty, verdict=True)
    with pytest.raises(ValueError, match="system must be a name from the list"):
        plots.gauge(reading, verdict=True, system="imperial")
    mixed = [reading, findings("healthy")["engine_check"].readings[0]]
    with pytest.raises(ValueError, match="must have one unit"):
        plots.board(mixed, findings("healthy")["line_pressure"], verdict=True)


# ---------------------------------------------------------------------- readings in metric
@settings(max_examples=150, deadline=None)
@given(
    value=st.floats(-3000, 3000), low=st.floats(-3000, 3000), wide=st.floats(0, 500),
    unit=st.sampled_from(sorted(units.METRIC)), decimals=st.integers(0, 4),
)  # fmt: skip
def test_verdict_is_the_same_in_metric(value, low, wide, unit, decimals):
    """A reading as its instrument shows it, against a spec as printed, has one verdict in both systems."""
    spec = (round(low, decimals), round(low + wide, decimals))
    reading = Reading(
        key="k", label="K", value=round(value, decimals), unit=unit, spec=spec, sigma=0.1, decimals=decimals
    )
    assert reading_in_system(reading, "metric").verdict == reading.verdict
    assert reading_in_system(reading, "workshop") == reading


# Source: NIST Special Publication 811 (2008), appendix B.8: 1 psi = 6.894 757 kPa, 1 inHg (conventional) = 3.386 389 kPa,
# 1 US quart = 0.946 352 9 L, 1 mile = 1.609 344 km, 1 lbf = 4.448 222 N, t/C = (t/F - 32)/1.8.
@pytest.mark.parametrize(
    "value, unit, shown, metric",
    [
        (66.0, "psi", 455.05, "kPa"), (18.0, "inHg", 60.955, "kPa"), (1.0, "qt", 0.94635, "L"), (0.05, "in.", 1.27, "mm"),
        (180.0, "\u00b0F", 82.2222, "\u00b0C"), (60.0, "mph", 96.5606, "km/h"), (1000.0, "mi", 1609.344, "km"),
        (10.0, "lbf", 44.48222, "N"), (650.0, "rpm", 650.0, "rpm"),
    ],
)  # fmt: skip
def test_metric_values_are_those_of_nist(value, unit, shown, metric):
    """NIST SP 811 at the printed digits; what is the same everywhere stays."""
    found, name = units.in_system(value, unit, "metric")
    assert (found, name) == (pytest.approx(shown, rel=1e-5), metric)
    assert units.in_system(value, unit, "workshop") == (value, unit)


@pytest.mark.parametrize(
    "words, metric",
    [
        ("D, tight bend at 25 mph", "D, tight bend at 40 km/h"), ("hand pump, 18 inHg", "hand pump, 61 kPa"),
        ("36,145 mi: the owner comes in", "58,170 km: the owner comes in"), ("back after 944 miles", "back after 1,519 km"),
        ("sump past 250 \u00b0F in places", "sump past 121.1 \u00b0C in places"), ("within 62 to 72 psi", "within 427 to 496 kPa"),
        ("seconds for a quart", "seconds for 0.95 L"), ("Upshift 1 to 2, light pedal", "Upshift 1 to 2, light pedal"),
    ],
)  # fmt: skip
def test_words_are_put_in_metric(words, metric):
    """Numbers that carry a unit are converted with it; all others stay."""
    assert units.text_in_system(words, "metric").replace("\u202f", " ") == metric
    assert units.text_in_system(words, "workshop") == words


def test_temperature_step_has_no_zero_point():
    """A cooler that takes 18 degrees Fahrenheit takes 10 degrees Celsius; a sump of 212 is one of 100."""
    finding = findings("healthy")["cooler_check"]
    drop = next(r for r in finding.readings if r.key == "cooler_drop_f")
    shown = next(r for r in finding_in_system(finding, "metric").readings if r.key == "cooler_drop_f")
    assert shown.value == pytest.approx(drop.value / 1.8, abs=0.06) and shown.unit == "\u00b0C"
    assert units.in_system(212.0, "\u00b0F", "metric")[0] == pytest.approx(100.0)
