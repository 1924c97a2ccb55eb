"""What is drawn, measured with a ruler, against the state of the vehicle it was drawn from."""

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pictured import STATES, findings, numbers, subject

from course_lib import plots
from course_lib.base import units
from course_lib.plots import dipstick, gauge_faces, pans, plates
from course_lib.shop.batch import FARTHEST
from course_lib.shop.findings import Reading
from course_lib.shop.subject import HOT, AskedPoint

replace = msgspec.structs.replace


def reading(value, *, spec=(62.0, 72.0), swing=None, unit="psi", decimals=0):
    """A line pressure as a gauge shows it."""
    return Reading(
        key="line_pressure_d_idle_psi", label="Line pressure, D, idle", value=value, unit=unit, spec=spec, sigma=0.7, swing=swing,
        decimals=decimals,
    )  # fmt: skip


def direction(line):
    """Direction [degrees, clockwise from the right on paper] from the tail of a line to its tip."""
    xs, ys = line.get_xdata(), line.get_ydata()
    return np.degrees(np.arctan2(ys[-1] - ys[0], xs[-1] - xs[0])) % 360.0


def graded(finding, **grades):
    """The finding with some looks at other grades."""
    looks = tuple(replace(look, grade=grades.get(look.key, look.grade)) for look in finding.looks)
    return replace(finding, looks=looks)


# ---------------------------------------------------------------------- gauges
@settings(max_examples=15, deadline=None)
@given(value=st.integers(0, 380))
def test_needle_points_where_the_reading_is(value):
    """A dial of 270 degrees begins at the lower left; the needle is as far round it as the reading is up the scale (EN 837-1
    has such dials, from memory)."""
    shown = reading(float(value))
    picture = plots.gauge(shown, verdict=True)
    (needle,) = picture.named("needle")
    full = gauge_faces.full_scale([shown])
    assert direction(needle) == pytest.approx((135.0 + 270.0 * value / full) % 360.0, abs=0.01)
    assert float(value) in numbers(picture.alt)


@pytest.mark.parametrize("wide", [0.0, 12.0])
def test_needle_never_hides_a_number(wide):
    """Wherever the needle stands or swings, the numbers of the face lie above it, with paper around those that it crosses."""
    for value in (0.0, 10.0, 50.0, 100.0):
        shown = reading(value, swing=(max(value - wide, 0.0), value + wide) if wide else None)
        picture = plots.gauge(shown, verdict=True)
        (needle,), face = picture.named("needle"), picture.named("scale")
        full = gauge_faces.full_scale([shown])
        assert [t.get_text() for t in face] == [
            f"{n:,}" for n in range(0, full + 1, gauge_faces.FACES[full][0])
        ]
        assert all(t.get_zorder() > needle.get_zorder() for t in face)
        renderer = picture.figure.canvas.get_renderer()
        hub, tip = (needle.get_transform().transform(needle.get_xydata()[i]) for i in (0, -1))
        for text in face:
            along = hub + np.linspace(0.0, 1.0, 200)[:, None] * (tip - hub)
            crossed = any(text.get_window_extent(renderer).contains(*point) for point in along)
            assert text.get_path_effects() or not crossed, (value, text.get_text())


def test_swing_and_spec_are_drawn_where_they_are():
    """The swing is the sector between both ends of the needle's way, the spec the one between its limits; both in the words."""
    picture = plots.gauge(reading(48.0, swing=(40.0, 56.0)), verdict=True)
    (swing,), (around, across) = picture.named("swing"), picture.named("spec")
    assert (swing.theta1, swing.theta2) == pytest.approx((135 + 2.7 * 40, 135 + 2.7 * 56))
    assert (around.theta1, around.theta2) == pytest.approx((135 + 2.7 * 62, 135 + 2.7 * 72))
    assert across.get_width() > 0
    assert gauge_faces.full_scale([reading(72.0)]) == 100
    assert (
        numbers(picture.alt)[:5] == [48.0, 40.0, 56.0, 62.0, 72.0] and "14\u202fpsi below spec" in picture.alt
    )


@pytest.mark.parametrize(
    "value, full", [(14.0, 15), (48.0, 60), (66.0, 100), (150.0, 200), (250.0, 400), (455.0, 700)]
)
def test_smallest_gauge_that_can_take_it(value, full):
    """As in a shop: the smallest gauge whose scale the reading does not fill; too much for all is refused."""
    assert gauge_faces.full_scale([reading(value, spec=None)]) == full
    with pytest.raises(ValueError, match="reading must be at most"):
        gauge_faces.full_scale([reading(1e6, spec=None)])


@pytest.mark.parametrize("state", STATES)
def test_gauges_agree_with_the_simulator(state):
    """Number in the words, needle on the face, and pressure in the vehicle are one, within the error of the gauge."""
    finding = findings(state)["line_pressure"]
    picture = plots.of_finding(finding, verdict=False)  # with a verdict, what is within spec is only listed
    levers = [f"line_pressure_{lever}_idle_psi" for lever in "prnd21"]
    shown = [r for key in levers for r in finding.readings if r.key == key]
    work = subject(state).at([AskedPoint(r.key.split("_")[2].upper(), temperature=HOT) for r in shown])
    for needle, r, line in zip(picture.named("needle"), shown, units.to_psi(work.line[0]), strict=True):
        on_face = ((direction(needle) - 135.0) % 360.0) / 270.0 * gauge_faces.full_scale(shown)
        assert r.swing is not None or abs(on_face - line) <= FARTHEST * r.sigma + 0.51
        assert on_face == pytest.approx(r.value, abs=0.01) and r.value in numbers(picture.alt)


# ---------------------------------------------------------------------- level
@pytest.mark.parametrize("state", STATES)
def test_film_ends_at_the_level(state):
    """The film on paper ends as far from FULL as the reading says, as long as the stick is; a low sump is drawn low."""
    finding = findings(state)["fluid_hot"]
    (edge,) = plots.fluid_level(finding, verdict=True).named("film edge")
    drawn = (np.mean(edge.get_xdata()) - dipstick.FULL_AT) / dipstick.PAPER_PER_INCH
    (level,) = [r for r in finding.readings if dipstick.is_level(r)]
    assert drawn == pytest.approx(level.value, abs=0.01)


def test_marks_of_the_stick_are_those_of_the_spec():
    """The bars across the stick stand at both ends of the spec, in either system at the same place."""
    finding = findings("healthy")["fluid_cold"]
    for system in units.SYSTEMS:
        bars = plots.fluid_level(finding, verdict=True, system=system).named("spec")
        places = [(bar.get_xdata()[0] - dipstick.FULL_AT) / dipstick.PAPER_PER_INCH for bar in bars]
        assert places == pytest.approx([end for r in finding.readings for end in r.spec])


def test_bubbles_come_with_their_word():
    """No bubble where none was seen, and more for every step of the scale."""
    finding = findings("healthy")["fluid_hot"]
    counts = [
        len(plots.fluid_level(graded(finding, bubbles=grade), verdict=True).named("bubble"))
        for grade in range(4)
    ]
    assert counts[0] == 0 and counts == sorted(set(counts))


# ---------------------------------------------------------------------- pan
@pytest.mark.parametrize("key", pans.MATERIALS)
def test_pieces_in_the_pan_are_as_many_as_seen(key):
    """Nothing lies there at the least grade; at every other one, as many pieces as stand for it, and always more."""
    finding = findings("healthy")["pan"]
    steps = range(len(pans.MATERIALS[key][2]))
    counts = []
    for grade in steps:
        drawn = plots.oil_pan(graded(finding, **{key: grade}), verdict=True).named(f"piece {key}")
        counts.append(sum(len(np.atleast_1d(a.get_xdata())) if key == "powder" else 1 for a in drawn))
    assert counts[0] == 0
    assert counts == sorted(set(counts))
    assert counts == [pans.pieces(replace(finding.looks[0], key=key, grade=grade)) for grade in steps]


def test_nothing_lies_in_the_hairs_of_the_magnet():
    """However much there is of everything, pieces keep off the longest beard: what hangs there is told from what lies there."""
    most = {key: len(counts) - 1 for key, (_, _, counts, _) in pans.MATERIALS.items()}
    picture = plots.oil_pan(graded(findings("healthy")["pan"], **most, magnet=4), verdict=True)
    x, y, radius = pans.MAGNET
    hairs = [line for drawn in picture.named("hairs") for line in drawn.get_segments()]
    reach = max(np.hypot(*(line[1] - (x, y))) for line in hairs)
    solid = [key for key in most if key not in ("powder", "silt", "rust")]  # one closed shape or line a piece
    boxes = [a.get_window_extent().extents for key in solid for a in picture.named(f"piece {key}")]
    middles = np.array(boxes).reshape(-1, 2, 2).mean(1) / picture.figure.dpi
    away = np.hypot(middles[:, 0] - x, picture.figure.get_figheight() - middles[:, 1] - y)
    assert len(boxes) > 100 and away.min() > reach > radius


@pytest.mark.parametrize("state", STATES)
def test_caption_and_pan_agree(state):
    """What the words name as absent is not drawn, and what is drawn they name."""
    picture = plots.oil_pan(findings(state)["pan"], verdict=True)
    there, _, absent = picture.alt.partition(". No ")
    for key, (name, *_) in pans.MATERIALS.items():
        assert bool(picture.named(f"piece {key}")) == (f"{name}, " in there)
        assert bool(picture.named(f"piece {key}")) != (name in absent.partition(". ")[0])


def test_magnet_and_filter_by_their_grades():
    """A clean magnet has no hairs and an open filter no dark pleat; both fill up step by step."""
    finding = findings("healthy")["pan"]
    hairs, shut = [], []
    for grade in range(5):
        picture = plots.oil_pan(graded(finding, magnet=grade, filter=min(grade, 3)), verdict=True)
        lines = [line for drawn in picture.named("hairs") for line in drawn.get_segments()]
        hairs.append(max((np.hypot(*(line[1] - line[0])) for line in lines), default=0.0))
        shut.append(len(picture.named("pleat shut")))
    assert hairs[0] == 0.0 and hairs == sorted(set(hairs))
    assert shut[:4] == sorted(set(shut[:4])) and shut[0] == 0 and shut[3] == 11


# ---------------------------------------------------------------------- packs
@pytest.mark.parametrize("state", STATES)
def test_gap_is_the_clearance_to_scale(state):
    """The gap before the end plate, laid against the ruler of the picture, is the clearance that was measured."""
    finding = findings(state)["measure"]
    picture = plots.packs(finding, verdict=False)  # with a verdict, what is within spec is only listed
    measured = [r.value for r in finding.readings if r.key.startswith("clearance_")]
    drawn = [np.ptp([segment[0][0] for segment in gap.get_segments()]) for gap in picture.named("gap")]
    assert [gap / plates.PAPER_PER_INCH for gap in drawn] == pytest.approx(measured)


def test_worn_lining_is_drawn_thinner():
    """Each step of wear leaves thinner linings; worn to the steel, none is drawn."""
    finding = findings("healthy")["teardown"]
    widths = []
    for grade in range(4):
        linings = plots.packs(graded(finding, lining_forward=grade), verdict=True).named("lining")[
            : 2 * plates.PLATES
        ]
        new = [a for a in linings if a.get_extents().x1 < 640]
        widths.append(max((np.ptp(a.get_xy()[:, 0]) for a in new), default=0.0))
    assert widths == sorted(widths, reverse=True) and widths[-1] < widths[0] / 2


def test_spots_only_where_they_were_seen():
    """A ring of spots is drawn from the grade of the look, on the steels of that pack alone."""
    finding = findings("healthy")["teardown"]
    assert not plots.packs(finding, verdict=True).named("spot")
    spotted = plots.packs(graded(finding, spots_direct=2), verdict=True).named("spot")
    assert len(spotted) == plates.SPOTS[2] * (plates.PLATES + 1)


# ---------------------------------------------------------------------- rows and curves
def test_marks_stand_left_and_right_of_the_field():
    """Within: a disc in the field. Below and above: a wedge on the left and the right of it."""
    finding = findings("healthy")["stall_test"]
    for value, side in ((1500.0, -1), (2000.0, 0), (3000.0, 1)):
        one = reading(value, spec=(1900.0, 2200.0), unit="rpm")
        picture = plots.rows([one], finding, verdict=True)
        (field,), (mark,) = picture.named("spec"), picture.named("mark")
        middle = np.mean(mark.get_extents().intervalx) / picture.figure.dpi
        low, high = field.get_x(), field.get_x() + field.get_width()
        assert int(middle > high) - int(middle < low) == side


def test_line_is_broken_where_it_is_shorter_than_the_deviation():
    """A deviation that the row has room for is drawn to the scale of its field; one that it has not is broken off."""
    finding = findings("healthy")["stall_test"]
    for value, broken in ((1880.0, 0), (2000.0, 0), (2300.0, 0), (3000.0, 1), (100.0, 1)):
        one = reading(value, spec=(1900.0, 2200.0), unit="rpm")
        picture = plots.rows([one], finding, verdict=True)
        assert len(picture.named("cut")) == broken, value
        assert not plots.rows([one], finding, verdict=False).named("cut")


@pytest.mark.parametrize("state", STATES)
def test_governor_curve_climbs_as_the_readings_do(state):
    """Higher on paper means more pressure; every reading is one point of the curve."""
    finding = findings(state)["governor_pressure"]
    (curve,) = plots.governor_curve(finding, verdict=True).named("curve")
    values = np.array([r.value for r in finding.readings])
    rise = np.diff(curve.get_ydata()) / np.diff(values)
    assert len(curve.get_xdata()) == len(values) and (rise < 0).all()
    assert rise == pytest.approx(np.full(len(rise), rise[0]), rel=1e-6)


def test_signal_and_line_come_in_one_chart():
    """Readings of two findings share a chart, one curve for each way the signal is set, told apart in the words."""
    both = [findings("healthy")[name] for name in ("line_pressure", "signal_by_hand")]
    alt = plots.line_against_rpm(*both, verdict=True).alt
    assert "signal as it is" in alt and alt.count("at 2,000 rpm") >= 3


# ---------------------------------------------------------------------- road and cooler
@pytest.mark.parametrize("unit", ["T3", "T4"])
def test_road_trace_shifts_where_the_road_test_did(unit):
    """The saw-tooth drops at the shift points that were read, by the step between two ratios of the sheet."""
    finding = findings("healthy", unit)["road_test"]
    picture = plots.road_trace(finding, unit, verdict=True)
    (pull,) = picture.named("pull")
    xs = pull.get_xdata()
    shifts = [r.value for r in finding.readings if r.key.startswith("shift_") and r.key.endswith("_full_mph")]
    drops = np.array(xs[2::2]) - xs[0]
    assert drops / drops[0] * min(shifts) == pytest.approx(sorted(shifts), abs=1e-6)
    assert set(shifts) <= set(numbers(picture.alt))


def test_slip_is_drawn_as_long_as_it_is():
    """A slip of twice the speed is a line of twice the length; a sound vehicle has none."""
    sound = plots.road_trace(findings("healthy")["road_test"], "T3", verdict=True)
    assert not sound.named("slip")
    finding = findings("burnt direct clutch")["road_test"]
    slips = [r.value for r in finding.readings if r.key.startswith("road_") and r.value > 300]
    drawn = [np.ptp(line.get_ydata()) for line in plots.road_trace(finding, "T3", verdict=True).named("slip")]
    assert np.divide(drawn, slips) == pytest.approx(np.full(len(slips), drawn[0] / slips[0]))


def test_jar_fills_slower_through_a_blocked_cooler():
    """The longer a quart takes, the less oil stands in the jar."""
    finding = findings("healthy")["cooler_check"]
    fills = []
    for seconds in (15.0, 30.0, 90.0):
        slow = tuple(
            replace(r, value=seconds) if r.key == "cooler_flow_s_per_qt" else r for r in finding.readings
        )
        (oil,) = plots.cooler(replace(finding, readings=slow), verdict=True).named("oil")
        fills.append(oil.get_height())
    assert fills == sorted(fills, reverse=True) and fills[0] == pytest.approx(2 * fills[1])
