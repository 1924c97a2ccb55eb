"""Figures of electrical findings: words and drawing from the same numbers, nothing over anything else, traces as on a scope."""

import re
from functools import cache

import electric_pictures as sample
import numpy as np
import pytest
from msgspec.structs import replace
from pictured import numbers, written_over

from course_lib import plots
from course_lib.plots import drawing, waveforms
from course_lib.plots.circuit_symbols import SYMBOLS, CircuitStrip, draw_piece
from course_lib.plots.drawing import DrawingSheet
from course_lib.plots.shift_traces import SEEN

NAMES = sorted(sample.pictures(verdict=True))
MEANING = re.compile(r"within|outside spec|(below|above) spec|\bflare:|dips|slowly|Alike")
WORKSHOP = re.compile(r"\b(psi|mph|inHg)\b|\u00b0F")


@cache
def drawn(verdict=True, system="workshop"):
    """Every figure once."""
    return sample.pictures(verdict=verdict, system=system)


def faces(picture):
    """Colors of everything drawn."""
    found = set()
    for artist in picture.figure.axes[0].get_children():
        for getter in ("get_color", "get_facecolor", "get_edgecolor"):
            color = getattr(artist, getter, lambda: None)()
            if color is not None and len(color):
                found |= {tuple(np.round(c, 3)) for c in np.atleast_2d(drawing.rgba(color))}
    return found


OCHRE = tuple(np.round(drawing.rgba(drawing.OCHRE), 3))


# ---------------------------------------------------------------------- every figure
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("verdict, system", [(True, "workshop"), (False, "metric")])
def test_nothing_is_written_over_or_too_small(name, verdict, system):
    """No word past the edge, over another, or under the least size, at the width at which pages show it."""
    assert written_over(drawn(verdict, system)[name]) == []


@pytest.mark.parametrize("name", NAMES)
def test_numbers_of_the_drawing_are_said(name):
    """Whatever is written as a value stands in the words too."""
    picture = drawn()[name]
    said = {abs(n) for n in numbers(picture.alt)}
    for text in picture.named("value"):
        assert {abs(n) for n in numbers(text.get_text())} <= said, text.get_text()


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_judged_without_verdict(name):
    """Without verdict no judging word and no ochre is left; every number stays."""
    judged, open_ = drawn()[name], drawn(verdict=False)[name]
    assert not [words for words in (open_.alt, *open_.words()) if MEANING.search(words)]
    assert OCHRE not in faces(open_)
    assert set(numbers(open_.alt)) <= set(numbers(judged.alt))


@pytest.mark.parametrize("name", NAMES)
def test_ochre_has_a_word_beside_it(name):
    """Care is never said by color alone."""
    picture = drawn()[name]
    if OCHRE in faces(picture):
        assert any(re.search(r"below|above|outside|no way", words) for words in picture.words()), picture.alt


@pytest.mark.parametrize("name", NAMES)
def test_words_are_sentences_in_the_units_of_the_reader(name):
    """One stop at the end; in metric no workshop unit is left."""
    metric = drawn(True, "metric")[name]
    assert metric.alt.endswith(".") and ".." not in metric.alt
    assert not [words for words in (metric.alt, *metric.words()) if WORKSHOP.search(words)]


# ---------------------------------------------------------------------- codes and data
def test_codes_carry_their_frames():
    """Each code with its state and every value of its frame, in its row and in words; a controller without codes says so."""
    picture = drawn()["codes"]
    written = " ".join(" ".join(picture.words()).split())
    for code in sample.codes():
        assert f"{code.code}, {code.state}, {code.words}" in picture.alt
        for entry in code.frame:
            assert entry.text in written and f"{entry.name} {entry.text}" in picture.alt
    states = [code.state for code in sample.codes()]
    assert [len(picture.named(state)) for state in ("stored", "pending")] == [
        states.count("stored"), states.count("pending")
    ]  # fmt: skip
    assert "Brake module: no codes" in picture.alt and "no codes" in picture.words()


def test_what_all_frames_share_is_found():
    """Three frames alike in lock-up and heat say so; a fourth that differs takes it back."""
    hill = [code for code in sample.codes() if code.frame and code.code != "P0882"]
    alike = plots.code_list(hill, sample.ASKED, verdict=True).alt.partition("Alike in all 3 frames: ")[2]
    assert "lock-up on" in alike and "fluid hot" in alike and "gear" not in alike
    assert "lock-up" not in drawn()["codes"].alt.partition("Alike in all 4 frames: ")[2]


def test_code_of_a_stranger_is_refused():
    """A state that no controller knows, and a controller that was not asked."""
    code = sample.codes()[0]
    with pytest.raises(ValueError, match="state must be a name from the list"):
        plots.ListedCode(code.code, code.words, "confirmed", code.controller)
    with pytest.raises(ValueError, match="controller must be a name from the list"):
        plots.code_list(sample.codes(), sample.ASKED[:1], verdict=True)


def test_out_of_spec_comes_first_in_a_table():
    """With verdict what is outside stands above the rest, by a wedge and a word; without it the order is that of the screen."""
    readings = sample.data().readings
    labels = [r.label.split()[0] for r in readings]

    def order(picture):
        return [w.split()[0] for w in picture.words() if w.split()[0] in labels and w[0].isupper()]

    off = [r for r in readings if r.verdict.endswith(("above spec", "below spec"))]
    assert off and order(drawn()["data"])[: len(off)] == [r.label.split()[0] for r in off]
    assert drawn(verdict=False)["data"].alt.index(readings[0].label) < drawn(verdict=False)["data"].alt.index(
        off[0].label
    )
    with pytest.raises(ValueError, match=r"must hold values, got .*\. Read"):
        plots.data_table(replace(sample.data(), readings=(), looks=()), verdict=True)


# ---------------------------------------------------------------------- logs
def test_every_sample_is_a_dot_and_gaps_stay_empty():
    """As many dots as samples; no line crosses a gap of the log or a channel that gave nothing."""
    log, picture = sample.log(), drawn()["log"]
    dots, lines = picture.named("samples"), picture.named("curve")
    assert [len(d.get_xdata()) for d in dots] == [int(np.isfinite(c.values).sum()) for c in log.channels]
    (start, end), = log.gaps()  # fmt: skip
    assert (start, end) == pytest.approx((7.375, 8.5))
    gap = picture.named("gap")[0].get_bbox()
    for line in lines:
        for (x0, _), (x1, _) in line.get_segments():
            assert not (x0 <= gap.x0 + 1e-6 and x1 >= gap.x1 - 1e-6)
    assert "No data from 7.4 to 8.5" in picture.alt and "8 samples a second" in picture.alt


def test_samples_outside_are_counted():
    """The share of samples outside a channel's spec is that of its numbers, gaps left out."""
    slip = next(c for c in sample.log().channels if c.spec)
    shown = np.round(slip.values[np.isfinite(slip.values)])
    off = int(((shown < slip.spec[0]) | (shown > slip.spec[1])).sum())
    assert off and f"{off} of {shown.size} samples outside spec" in drawn()["log"].alt


def test_log_refuses_what_does_not_fit():
    """Channels of another length, and two units on one scale."""
    log = sample.log()
    with pytest.raises(ValueError, match="must be as many as times"):
        plots.DataLog("x", log.time[:-1], log.channels)
    mixed = plots.LogChannel("Pedal", "%", log.channels[4].values, "speeds")
    with pytest.raises(ValueError, match=r"of one unit.*Give each unit a strip"):
        plots.data_log(plots.DataLog("x", log.time, (log.channels[0], mixed)), verdict=True)


# ---------------------------------------------------------------------- shifts
@pytest.mark.parametrize(
    "kind, seen", [("sound", []), ("late", ["flare"]), ("early", ["dip"]), ("weak", ["slow fall"])]
)
def test_shape_of_a_shift_is_seen(kind, seen):
    """A late fill is a hump, an early one a dip, a weak element a slow fall, and a sound shift none of them."""
    assert [word for word, _, _ in sample.shift(kind).shape()] == seen
    assert set(seen) <= set(drawn()[f"shift {kind}"].words())
    assert not {"flare", "dip", "slow fall"} & set(drawn(verdict=False)[f"shift {kind}"].words())


def test_hump_is_as_high_as_it_was_made():
    """A hump of 210 rpm is read within the rounding of its samples; a sound shift has none."""
    assert sample.shift("late").hump[1] == pytest.approx(210.0, abs=SEEN / 4)
    assert sample.shift("sound").hump[1] < SEEN / 4 and sample.shift("sound").dip[1] < SEEN / 4
    assert sample.shift("weak").slide(sample.shift("weak").turbine) > 0.75  # s: poor by the spec sheet


# ---------------------------------------------------------------------- meter
def test_leads_touch_the_named_points():
    """The tips stand at the two points of the circuit, and what lies between is what the words name."""
    meter, picture = sample.meter(), drawn()["drop"]
    red, black = (lead.get_xdata()[-1] for lead in picture.named("lead"))
    pieces = {text.get_text(): text.get_position()[0] for text in picture.named("piece")}
    between = [x for x in pieces.values() if red < x < black]
    assert (
        len(between) >= len(meter.inside) and "Between them: relay K1, feed B wire, X1 pin 2." in picture.alt
    )
    assert not [x for words, x in pieces.items() if "fuse" in words and x > red]
    assert f"red lead on {meter.points[1]}, black on {meter.points[4]}" in picture.alt


def test_leads_never_cross():
    """Each stretch of one lead against each of the other, wherever they are put."""
    base = sample.meter()
    for red in range(7):
        for black in set(range(7)) - {red}:
            one = plots.MeterReading(
                base.reading, base.setting, base.pieces, base.points, red, black, base.state
            )
            ways = [
                np.array(lead.get_xydata()) for lead in plots.meter(one, verdict=True).named("lead")
            ]  # fmt: skip
            for a, b in zip(ways[0][:-1], ways[0][1:], strict=True):
                for c, d in zip(ways[1][:-1], ways[1][1:], strict=True):
                    assert not crossing(a, b, c, d)


def crossing(a, b, c, d):
    """Whether two stretches meet."""

    def turn(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0


def test_no_way_is_no_number():
    """A circuit without a way shows OL and says so; a meter needs two points and a name for each."""
    assert "OL" in drawn()["no way"].words() and "OL, no way for current" in drawn()["no way"].alt
    base = sample.meter()
    for change, message in (({"black": base.red}, "must touch two points"), ({"points": base.points[1:]}, "one more than"),
                            ({"red": 9}, "red must be between"), ({"setting": "farads"}, "name from the list")):  # fmt: skip
        with pytest.raises(ValueError, match=message):
            plots.MeterReading(**{name: change.get(name, getattr(base, name)) for name in base.__slots__})


@pytest.mark.parametrize("kind", SYMBOLS)
@pytest.mark.parametrize("end", [(3.0, 1.0), (1.0, 3.0)])
def test_symbols_stay_in_their_stretch(kind, end):
    """Every symbol lies between its ends and no farther than 0.25 in. beside the line, across and down alike."""
    sheet = DrawingSheet("x", "", 4.0)
    before = len(sheet.axes.get_children())
    draw_piece(CircuitStrip(sheet, (1.0, 1.0), end), kind)
    drawn_ = sheet.axes.get_children()[: len(sheet.axes.get_children()) - before] or sheet.axes.get_children()
    along = 0 if end[0] > 1.0 else 1
    for artist in drawn_:
        for place in getattr(artist, "get_xydata", lambda: [])():
            if place[1] > 0.5:
                assert 1.0 - 1e-9 <= place[along] <= 3.0 + 1e-9 and abs(place[1 - along] - 1.0) <= 0.25


# ---------------------------------------------------------------------- scope
def test_scope_states_its_scales():
    """Volts and time of a division as they were set; a trace lies where they put it."""
    picture = drawn()["scope hall"]
    assert (
        "1\u202fms a division, 10\u202fms in all" in picture.words() and "1\u202fV a division" in picture.alt
    )
    (trace,) = picture.named("trace")
    x, y = np.array(trace.get_xydata()).T
    assert x.max() - x.min() == pytest.approx(10 * 0.46, rel=1e-3)
    assert (y.max() - y.min()) / 0.46 == pytest.approx(4.9 - 2.1, rel=1e-6)


def test_scope_says_what_it_cuts():
    """What goes past the edge is cut there, and the words say so; three traces are refused."""
    time = np.linspace(0.0, 1.0, 50)
    far = plots.ScopeTrace("far", time, 100.0 * time, "V", 1.0)
    picture = plots.scope_trace("x", (far,), 0.1, verdict=True)
    assert "past the edge of the screen" in picture.alt
    (trace,) = picture.named("trace")
    assert min(trace.get_ydata()) >= 0.7
    with pytest.raises(ValueError, match="one or two"):
        plots.scope_trace("x", (far,) * 3, 0.1, verdict=True)


# Source: step-down converter, any text of power electronics (from memory), worked by hand: 13.5 V, 5.3 ohm, 12 mH, duty 0.40,
# 300 Hz, ideal diode, time constant 2.264 ms: mean 1.0189 A, largest 1.471, least 0.608.
def test_coil_current_is_that_of_the_worked_example():
    """Mean is duty times V/R whatever the pulses; the ends follow from the time constant."""
    time = np.linspace(0.0, 1.0 / 300.0, 200_001)
    current = waveforms.coil_wave(time[:-1], 300.0, 0.40, 13.5, 5.3, 0.012)
    assert current.mean() == pytest.approx(0.40 * 13.5 / 5.3, rel=1e-4)
    assert (current.max(), current.min()) == pytest.approx((1.471, 0.608), abs=5e-4)


def test_missing_tooth_is_one_long_period():
    """Zero crossings of a wheel with 30 teeth: one period twice as long, the edges beside it higher, all others alike."""
    time = np.linspace(0.0, 30 / 700.0, 60_001)[:-1]
    wave = waveforms.inductive_wave(time, 700.0, 2.4, (12,))
    whole = waveforms.inductive_wave(time, 700.0, 2.4)
    assert whole.max() == pytest.approx(2.4, rel=1e-3) and -whole.min() == pytest.approx(2.4, rel=1e-3)
    falls = time[1:][(wave[:-1] > 0) & (wave[1:] <= 0)] * 700.0
    periods = np.diff(falls)
    assert np.sum(periods > 1.9) == 1 and np.sum(np.abs(periods - 1.0) < 0.05) >= 26
    assert wave.max() > 2.5


def test_hall_wave_has_its_levels_and_frequency():
    """Two levels, half the time each; as many falls as teeth; a tooth that is gone leaves one fall out."""
    time = np.linspace(0.0, 60 / 700.0, 240_001)[:-1]
    wave = waveforms.hall_wave(time, 700.0, 0.4, 4.9)
    assert (wave.min(), wave.max()) == pytest.approx((0.4, 4.9)) and wave.mean() == pytest.approx(
        2.65, abs=0.02
    )

    def falls(values):
        return int(np.sum((values[:-1] > 2.5) & (values[1:] <= 2.5)))

    assert falls(waveforms.hall_wave(time, 700.0, 0.4, 4.9, (7,))) == falls(wave) - 1


def test_noise_is_the_same_for_a_seed():
    """Bursts within their size, drawn again alike, another seed otherwise."""
    time = np.linspace(0.0, 0.02, 500)
    one = waveforms.hash_wave(time, 0.5, 900.0, 3)
    assert np.abs(one).max() <= 0.5 and np.array_equal(one, waveforms.hash_wave(time, 0.5, 900.0, 3))
    assert not np.array_equal(one, waveforms.hash_wave(time, 0.5, 900.0, 4))
