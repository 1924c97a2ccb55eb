"""What every workshop knows must come out of the model. Each fact: common practice, no source."""

import numpy as np
import pytest
from vehicles import COLD, DIRECT, FORWARD, HOT, IDLE, SPEC, UNIT, drive, line_psi, new, sound

from course_lib.base import units
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit

SHEET = load_unit(UNIT).spec
HALF_INCH = units.from_inch(0.5)


def level_in(parameters, condition, *, temperature=HOT, running=True):
    """What the level indicator shows [in. from FULL]."""
    plant = Plant(SPEC, parameters)
    flow = parameters["pump_displacement"] * IDLE / (2 * np.pi)
    height = plant.oil.height(condition, np.array([[temperature]]), flow, running=running)
    return units.to_inch(height - plant.p.sump_full_height + plant.p.sump_gauge_offset).item()


def short_of(quarts):
    """A new condition with so much fluid missing."""
    condition = new()
    condition.lost[:] = quarts * units.QUART
    return condition


def forward_leak(times, age_miles):
    """A vehicle whose forward circuit comes to leak so many times as much, within 500 miles of an age."""
    parameters = sound()
    more = np.zeros_like(parameters["element_leak"])
    more[..., FORWARD] = (times - 1.0) * parameters["element_leak"][..., FORWARD]
    onset = np.full((1, 1), age_miles * units.MILE)
    growth = Growth(change={"element_leak": more}, onset=onset, over=np.full((1, 1), 500 * units.MILE))
    return Fleet(SPEC, "mixed", parameters, (growth,))


# ---------------------------------------------------------------------- level
def test_half_an_inch_on_the_indicator_hides_a_quart():
    """Common practice, no source: an indicator half an inch wrong, filled to its mark, leaves about a quart out."""
    wrong = sound(sump_gauge_offset=HALF_INCH)
    assert level_in(wrong, short_of(0.0)) == pytest.approx(level_in(sound(), short_of(0.0)) + 0.5)
    quarts = np.linspace(0.0, 2.0, 401)
    shown = [level_in(wrong, short_of(q)) for q in quarts]
    hidden = quarts[np.argmin(np.abs(np.array(shown) - level_in(sound(), short_of(0.0))))]
    assert 0.7 < hidden < 1.3


def test_the_level_is_read_hot_with_the_engine_running():
    """Common practice, no source: cold it stands lower, with the engine off higher, as the sheet says for each."""
    full = short_of(0.0)
    hot, cold = level_in(sound(), full), level_in(sound(), full, temperature=COLD)
    off = level_in(sound(), full, temperature=COLD, running=False)
    for value, key in ((hot, "level_hot_in"), (cold, "level_cold_in"), (off, "level_engine_off_in")):
        low, high = SHEET[key]
        assert low <= value <= high, key
    assert cold < hot - 0.3 and off > hot + 0.3
    # Filled to FULL with the engine off it ends more than a quart short.
    quarts = np.linspace(0.0, 3.0, 301)
    stopped = [level_in(sound(), short_of(q), temperature=COLD, running=False) for q in quarts]
    assert quarts[np.argmin(np.abs(stopped))] > 1.0


def test_a_pan_drained_of_too_little_is_short_whatever_the_indicator_says():
    """Common practice, no source: what runs out of the pan counts; a wrong indicator at FULL does not."""
    wrong, missing = sound(sump_gauge_offset=2 * HALF_INCH), short_of(2.0)
    assert SHEET["level_hot_in"][0] <= level_in(wrong, missing) <= SHEET["level_hot_in"][1]
    assert -units.to_quart(missing.lost.item()) < SHEET["drained_qt"][0]
    height = {
        q: Plant(SPEC, wrong).oil.height(short_of(q), np.array([[HOT]]), 2e-4).item() for q in (0.0, 2.0)
    }
    assert height[2.0] < 0.65 * height[0.0]


STARVED = {"throttle": 0.3, "road_speed": 3.0, "tilt": 0.25}


def test_with_fluid_short_every_range_loses_pressure_and_gets_it_back_when_filled():
    """Common practice, no source: two quarts short, on a ramp at low speed, all fall by a third and more; filled, all are right."""
    ranges = ("D", "2", "1", "R")
    right, short = (line_psi(sound(), short_of(q), ranges, rpm=650, **STARVED)[0] for q in (0.0, 2.0))
    level = line_psi(sound(), short_of(0.0), ranges, rpm=650, throttle=0.3, road_speed=3.0)[0]
    assert np.all(short < 0.66 * level)
    assert np.all(right > 0.85 * level)
    for lever, psi in zip(("P", "N", "D", "2", "1", "R"), line_psi(sound(), short_of(0.0))[0], strict=True):
        low, high = SHEET[f"line_pressure_{lever.lower()}_idle_psi"]
        assert low <= psi <= high


# ---------------------------------------------------------------------- what holds tells what is gone
LEVERS = operation(("D", "2", "1", "R"), throttle=0.4, road_speed=[2.0, 8.0, 2.0, 1.0], temperature=HOT)


def test_reverse_good_and_nothing_forward_points_at_the_forward_clutch():
    """Common practice, no source: R holds, so line pressure exists; D, 2 and 1 share only the forward clutch."""
    burnt = new()
    burnt.char[..., FORWARD] = 1.0
    burnt.lining[..., FORWARD] = 0.95 * sound()["element_lining"][..., FORWARD]
    work = Plant(SPEC, sound()).operate(burnt, LEVERS)
    assert np.all(work.loss[0, :3] > 0.95) and work.loss[0, 3] < 0.01
    healthy = Plant(SPEC, sound()).operate(new(), LEVERS)
    assert np.all(
        work.line[0, :3] > 0.99 * healthy.line[0, :3]
    )  # the engine races there, and the pump with it
    np.testing.assert_allclose(work.line[0, 3], healthy.line[0, 3], rtol=1e-4)
    assert units.to_psi(work.line[0, 3]) > SHEET["line_pressure_r_idle_psi"][0]


@pytest.mark.parametrize(
    "column, gone",
    [(FORWARD, "D21"), (DIRECT, "R"), (2, "2"), (3, "R")],
    ids=["forward", "direct", "band", "low"],
)
def test_the_levers_that_fail_name_the_element(column, gone):
    """Common practice, no source: the apply chart read backward. Manual 1 also has the one-way clutch to lean on."""
    worn = new()
    worn.lining[..., column] = sound()["element_lining"][..., column]
    worn.char[..., column] = 1.0
    loss = Plant(SPEC, sound()).operate(worn, LEVERS).loss[0]
    assert "".join(lever for lever, lost in zip("D21R", loss, strict=True) if lost > 0.5) == gone


# ---------------------------------------------------------------------- what the feeler gauge says
@pytest.fixture(scope="module")
def burnt_forward():
    """A vehicle driven on until the forward clutch holds less than half in any lever, past 110,000 miles."""
    world = forward_leak(15.0, 110_000)
    life = drive(world, 0, 110_700, sensitivity=0.0)
    return world.plant(life.odometer[:, None]), life.condition


def test_a_burnt_forward_pack_measures_about_a_quarter_inch(burnt_forward):
    """Common practice, no source: 0.20 to 0.30 in. at the end of a life, and no lever forward holds a hard start."""
    plant, condition = burnt_forward
    assert 0.20 < units.to_inch(plant.clearance(condition)[0, 0, FORWARD]) < 0.30
    loss = plant.operate(condition, LEVERS).loss[0]
    assert np.all(loss[:3] > 0.5) and loss[3] < 0.01


def test_the_drum_beside_it_is_sound(burnt_forward):
    """Common practice, no source: the direct pack beside it measures about a third of that, unburnt."""
    plant, condition = burnt_forward
    clearance = plant.clearance(condition)[0, 0]
    assert clearance[DIRECT] < clearance[FORWARD] / 2.5
    assert condition.char[0, 0, DIRECT] < 0.01


def test_lining_and_steels_both_add_to_the_clearance(burnt_forward):
    """Common practice, no source: of what is added, the lining makes the most, coned and worn steels a part."""
    plant, condition = burnt_forward
    added = plant.clearance(condition)[0, 0, FORWARD] - plant.p.element_clearance[0, 0, FORWARD]
    steel = plant.p.wear_steel_warp[0, 0] * condition.char[0, 0, FORWARD]
    lining = condition.lining[0, 0, FORWARD] * plant.p.element_faces[0, 0, FORWARD]
    assert added == pytest.approx(steel + lining, rel=1e-12)
    assert 0.05 < steel / added < 0.5 < lining / added


def test_a_sound_used_drum_comes_to_eight_or_nine_hundredths():
    """Common practice, no source: 0.08 to 0.09 in. (here 0.075 to 0.095), sound, after 100,000 miles of mixed use."""
    life = drive(Fleet(SPEC, "mixed", sound()), 0, 100_000, sensitivity=0.0)
    measured = units.to_inch(Plant(SPEC, sound()).clearance(life.condition)[0, 0, DIRECT])
    assert 0.075 < measured < 0.095
    assert life.condition.char.max() == 0.0 and life.felt["slips"].max() < 0.1
