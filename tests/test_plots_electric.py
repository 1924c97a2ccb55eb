"""Figures of electrical findings: words and drawing from the same numbers, nothing over anything else, traces as on a scope."""

import re
from functools import cache
from itertools import pairwise

import electric_pictures as sample
import numpy as np
import pytest
from msgspec.structs import replace
from pictured import numbers, written_over

from course_lib import plots
from course_lib.plots import drawing, palette, plug_faces, waveforms
from course_lib.plots.circuit_symbols import SYMBOLS, CircuitStrip, draw_piece
from course_lib.plots.drawing import DrawingSheet
from course_lib.plots.shift_traces import SEEN
from course_lib.plots.wiring_diagrams import between_nodes
from course_lib.plots.wiring_layout import wiring_layout
from course_lib.vehicle.unit_spec import load_unit

NAMES = sorted(sample.pictures(verdict=True))
MEANING = re.compile(r"within|outside spec|(below|above) spec|\bflare:|dips|slow to|Alike")
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


OCHRE = tuple(np.round(drawing.rgba(palette.OCHRE), 3))


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
        assert any(re.search(r"below|above|outside|no way|silent", words) for words in picture.words()), (
            picture.alt
        )


@pytest.mark.parametrize("name", NAMES)
def test_words_are_sentences_in_the_units_of_the_reader(name):
    """One stop at the end; in metric no workshop unit is left."""
    metric = drawn(True, "metric")[name]
    assert metric.alt.endswith(".") and ".." not in metric.alt
    assert not [words for words in (metric.alt, *metric.words()) if WORKSHOP.search(words)]


def long(words):
    """Words three times as long as they are."""
    return f"{words} of the intermediate reduction stage, measured at the far end"


def test_long_words_and_many_rows_stand_free():
    """Long names, a dozen codes, wide numbers, seven modules: still nothing over anything else."""
    label, tcm = long("Insulation of the coil"), sample.ASKED[0]
    wide = sample.reading("a", label, 12345.6, "k\u03a9", (100.0, None), 1, note="drifts while it warms")
    frame = sample.frame(
        216, 54, "reverse", "slipping", 13.4, name_of_a_value="1,234 rpm", other=long("value")
    )
    codes = [plots.ListedCode(f"P27{k}", long("Circuit"), "stored", tcm, frame) for k in range(10, 22)]
    log = sample.log()
    named = [
        plots.LogChannel(long(c.name), c.unit, c.values, c.strip, c.decimals, c.spec) for c in log.channels
    ]
    base = sample.meter()
    meter = plots.MeterReading(wide, "ohms", base.pieces, base.points, 0, 6, long("All loads on") * 2)
    modules = [plots.BusModule(f"Module {k} of the second bus", k % 2 == 0, long("note")) for k in range(7)]
    learned = [
        plots.LearnedValue(replace(v.reading, label=long(v.reading.label)), v.least, v.most)
        for v in sample.learned()
    ]
    many = [
        plots.code_list(codes, sample.ASKED, verdict=True),
        plots.data_log(plots.DataLog("x", log.time, tuple(named), log.events), verdict=True),
        plots.shift_graph("x", sample.shift("late"), (wide, *sample.SHIFT_READINGS), verdict=True),
        plots.meter(meter, verdict=True),
        plots.scope_trace("x", sample.scopes()["coil"][0][1], 1e-3, (wide,), verdict=True),
        plots.bus_roll_call(modules, (wide,), verdict=True),
        plots.adapts_bars("x", learned, verdict=True),
        plots.wiring_diagram(
            "x", load_unit("E6").control, (plots.MeasuredPoints(wide, "pcd", "x2_pcd"),), verdict=True
        ),
        plots.valve_bench("x", (), (wide,) * 9, verdict=True),
    ]
    assert [(p.words()[:2], over) for p in many if (over := written_over(p))] == []


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


def test_downshift_is_read_the_other_way_round():
    """Where the new gear asks for more speed, a late catch is still a flare above it, and a lazy one a slow rise."""
    sound = sample.shift("sound")
    time, old, new = sound.time, sound.new, sound.old

    def climb(took, over):
        share = np.clip((time - 0.4) / took, 0.0, 1.0)
        return old + (new - old) * share + over * np.exp(-(((time - 0.4 - took) / 0.1) ** 2))

    def seen(took, over):
        return [
            word
            for word, _, _ in plots.ShiftTrace(time, climb(took, over), old, new, (), climb(0.4, 0.0)).shape()
        ]

    assert (seen(0.4, 0.0), seen(0.4, 250.0), seen(1.0, 0.0)) == ([], ["flare"], ["slow rise"])


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


# ---------------------------------------------------------------------- wiring
def small(plugs):
    """Two solenoids, one on each feed, and one sensor; without plugs no wire has a pin."""
    control = load_unit("E6").control
    coils, sensors = (control.solenoids[0], control.solenoids[-1]), control.sensors[1:2]
    kept = {name for each in (*coils, *sensors) for name in each.wires}
    wires = [w for w in control.wires if w.id in kept or w.path not in ("return", "signal")]
    wires = [w if plugs else replace(w, pins=()) for w in wires]
    return replace(control, solenoids=coils, sensors=sensors, wires=tuple(wires), modules={})


UNITS = {"six-speed": load_unit("E6").control, "small": small(True), "small without plugs": small(False)}


def strokes(plan):
    """Every straight stretch of the diagram, as pairs of places."""
    every = [(s.start, s.end) for s in plan.stretches]
    every += [pair for joint in plan.joints for pair in pairwise(joint)]
    return [(np.array(a), np.array(b)) for a, b in every if a != b]


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("signals", [True, False])
def test_no_line_of_the_diagram_crosses_another(unit, signals):
    """Stretches meet only at their ends: no two cross, and none lies on another, for any unit."""
    every = strokes(wiring_layout(UNITS[unit], signals=signals))
    assert len(every) > (60 if unit == "six-speed" and signals else 15)
    for k, (a, b) in enumerate(every):
        for c, d in every[k + 1 :]:
            assert not crossing(a, b, c, d), (a, b, c, d)
            for axis in (0, 1):
                if a[1 - axis] == b[1 - axis] == c[1 - axis] == d[1 - axis]:
                    shared = min(max(a[axis], b[axis]), max(c[axis], d[axis])) - max(
                        min(a[axis], b[axis]), min(c[axis], d[axis])
                    )
                    assert shared <= 1e-9, (a, b, c, d)


@pytest.mark.parametrize("unit", UNITS)
def test_words_of_the_diagram_stand_free(unit):
    """No two labels overlap, and no line runs through one; sensors' boxes keep off each other."""
    picture = plots.wiring_diagram("x", UNITS[unit], (), verdict=True)
    assert written_over(picture) == []
    renderer = picture.figure.canvas.get_renderer()
    to_sheet = picture.figure.axes[0].transData.inverted()
    plan = wiring_layout(UNITS[unit], signals=True)
    lines = strokes(plan)
    boxes = {(f.corner, f.wide, f.high) for f in plan.frames if f.words}
    for text in picture.named("label") + picture.named("pin"):
        (x0, y0), (x1, y1) = to_sheet.transform(text.get_window_extent(renderer).get_points())
        left, right, top, bottom = x0, x1, min(y0, y1) + 0.03, max(y0, y1) - 0.03
        if any(
            c[0] <= left and right <= c[0] + w and c[1] <= top and bottom <= c[1] + h for c, w, h in boxes
        ):
            continue  # a module stands on the bus wires, which end behind it
        for a, b in lines:
            apart = (
                max(a[0], b[0]) < left
                or min(a[0], b[0]) > right
                or max(a[1], b[1]) < top
                or min(a[1], b[1]) > bottom
            )
            assert apart, (text.get_text(), a, b)
    sides = [(c[0], c[0] + w, c[1], c[1] + h) for c, w, h in boxes]
    for k, one in enumerate(sides):
        for other in sides[k + 1 :]:
            assert one[1] <= other[0] or other[1] <= one[0] or one[3] <= other[2] or other[3] <= one[2]


def test_diagram_holds_everything_that_is_declared():
    """Each wire, coil and pin of the unit is drawn once, and each node has a place of its own."""
    control = UNITS["six-speed"]
    plan = wiring_layout(control, signals=True)
    drawn_ = [s.branch for s in plan.stretches]
    assert {w.id for w in control.wires} | set(control.solenoid_ids) <= set(drawn_)
    assert len(drawn_) == len(set(drawn_))
    declared = sorted(pin for w in control.wires for pin in w.pins)
    assert sorted(f"{plug}:{number}" for plug, number, _ in plan.pins) == declared
    assert {end for w in control.wires for end in w.ends} <= set(plan.nodes)
    for wire in control.wires:
        assert plan.nodes[wire.ends[0]] != plan.nodes[wire.ends[1]], wire.id


def test_way_of_the_current_is_found():
    """From battery plus to the feed, and round through a coil to the body: the pieces in their order."""
    control = UNITS["six-speed"]
    assert between_nodes(control, "battery", "feed_b") == ["fuse_f1", "relay_k1", "feed_b"]
    assert between_nodes(control, "pcd", "body") == ["loom_pcd", "wire_pcd", "driver_pcd", "ground_g1"]
    assert between_nodes(control, "x1_pcd", "x2_pcd") == ["wire_pcd"]
    assert between_nodes(control, "battery", "tft") == []


def test_what_takes_the_volts_is_heavy_and_nothing_else():
    """The drop lies over three pieces; two of them are found sound, so the third alone is drawn heavy, with what it takes."""
    judged, open_ = drawn()["power path"], drawn(verdict=False)["power path"]
    assert len(judged.named("takes")) == 2 and not open_.named("takes")
    assert [t.get_text() for t in judged.named("value")].count("6.82\u202fV") == 1
    alone = plots.wiring_diagram("x", UNITS["six-speed"], sample.drops()[:1], verdict=True)
    assert len(alone.named("takes")) == 2 * 3
    sound = plots.wiring_diagram("x", UNITS["six-speed"], sample.drops()[1:], verdict=True)
    assert not sound.named("takes") and OCHRE not in faces(sound)


@pytest.mark.parametrize("name", ["wiring", "power path"])
def test_marks_stand_at_their_points_and_apart(name):
    """Two tags a reading, numbered as in the list; no tag lies on another or on words."""
    picture = drawn()[name]
    marks = [t.get_text() for t in picture.named("mark") if hasattr(t, "get_text")]
    count = len(sample.drops()) + (name == "wiring")
    assert sorted(marks) == sorted(f"{k}{sign}" for k in range(1, count + 1) for sign in "+\u2212")
    tags = [t.get_bbox() for t in picture.named("tag")]
    for k, one in enumerate(tags):
        assert not any(one.overlaps(other) for other in tags[k + 1 :])
    with pytest.raises(ValueError, match="node must be a name from the list"):
        plots.wiring_diagram("x", UNITS["small"], (sample.SENSOR_GROUND,), verdict=True)


def test_wiring_is_said_pin_by_pin():
    """Who cannot see the diagram hears through which pins each coil and each sensor runs, and where the leads were."""
    alt = drawn()["wiring"].alt
    assert "Feed B, X1 pin 2: PCD reduction clutch, back by X1 pin 6, X2 pin 6" in alt
    assert "OSS, output speed sensor: X1 pin 14, X2 pin 14, X1 pin 15, X2 pin 15" in alt
    for leads in ("red on battery plus, black on X1 pin 2", "red on X2 pin 31, black on body"):
        assert re.search(rf"\b\d, {leads}", alt), leads


# ---------------------------------------------------------------------- learned values, bus, plug, bench
def test_learned_values_stand_between_their_ends():
    """Bars run from 0 to what was learned; one that can go no farther says so, one short of it does not."""
    picture = drawn()["learned"]
    values = sample.learned()
    bars, stops = picture.named("bar"), picture.named("stop")
    assert len(bars) == len(stops) == len(values)
    for bar, stop, value in zip(bars, stops, values, strict=True):
        ends = sorted(segment[0][0] for segment in stop.get_segments())
        share = bar.get_width() / (ends[1] - ends[0])
        assert share == pytest.approx(abs(value.reading.value) / (value.most - value.least), abs=1e-6)
    assert picture.alt.count("at its end") == 1 and "at its end" not in drawn(verdict=False)["learned"].alt
    with pytest.raises(ValueError, match="on both sides of 0"):
        plots.LearnedValue(values[0].reading, 5.0, 60.0)
    with pytest.raises(ValueError, match="at least one learned value"):
        plots.adapts_bars("x", (), verdict=True)


def test_silent_modules_are_told_from_those_that_answer():
    """A dashed box and the word for each that is silent; nobody asked is refused."""
    picture = drawn()["bus"]
    assert (len(picture.named("answers")), len(picture.named("silent"))) == (3, 1)
    assert picture.named("silent")[0].get_linestyle() != picture.named("answers")[0].get_linestyle()
    assert "Transmission controller: silent" in picture.alt and "Brake module: answers" in picture.alt
    with pytest.raises(ValueError, match="at least one module"):
        plots.bus_roll_call((), verdict=True)


def test_pins_have_a_pattern_for_what_is_wrong_with_them():
    """Each state once in the key and once a pin, each with another look; what is absent is said too."""
    picture, pins = drawn()["plug"], sample.plug()
    looks = {}
    for state in plug_faces.STATES:
        found = picture.named(state)
        assert len(found) == 1 + sum(pin.state == state for pin in pins)
        disc = found[0]
        arcs = state == "spread"  # drawn over the disc
        looks[state] = (
            disc.get_hatch(),
            disc.get_facecolor(),
            disc.get_linestyle(),
            disc.get_linewidth(),
            arcs,
        )
    assert len(set(looks.values())) == len(looks)
    assert len(picture.html()) < 150_000
    clean = plots.plug_face("x", [plots.PlugPin(1, "feed")], verdict=True).alt
    assert "green: none" in clean and "clean: pin 1" in clean and "pin 2 feed B: green" in picture.alt
    with pytest.raises(ValueError, match="state must be a name from the list"):
        plots.PlugPin(1, "feed", "rusty")
    with pytest.raises(ValueError, match="at least one pin"):
        plots.plug_face("x", (), verdict=True)


def test_bench_shows_every_bore_and_solenoid():
    """A bore below its least vacuum has a wedge to its left; every solenoid has a card."""
    picture = drawn()["bench"]
    assert len(picture.named("card")) == 7 and len(picture.named("land")) == 3 * 3
    bore = picture.alt.partition("Reduction clutch regulator: ")[2].partition(". ")[0]
    assert bore.startswith("11\u202finHg") and bore.endswith("below spec")
    with pytest.raises(ValueError, match="bores or solenoids"):
        plots.valve_bench("x", (), (), verdict=True)
    mixed = (sample.reading("a", "A", 20.0, "inHg"), sample.reading("b", "B", 5.0, "psi"))
    with pytest.raises(ValueError, match="one unit"):
        plots.valve_bench("x", mixed, (), verdict=True)


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
