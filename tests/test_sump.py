"""The temperature a sump settles at: found where it must be, the same for a life and for the bay, and none where there is none."""

from types import SimpleNamespace

import numpy as np
import pytest
from vehicles import drive, line_psi, new, sound, with_cause

from course_lib.base import units
from course_lib.faults.repair import DRIVERS
from course_lib.shop.inspect import BROKEN_OFF, make_findings
from course_lib.shop.mobility import SLIPS_TOO_MUCH, burns
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.vehicle import life
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.felt_troubles import felt_troubles
from course_lib.vehicle.life_events import life_events
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.sump_balance import (
    BOILS_OVER,
    EXACT,
    STRIDE,
    BalanceSearch,
    boils_over,
    day_mean,
    lowest_balance,
)
from course_lib.vehicle.unit_spec import draw_parameters, load_unit

ONSET = 20_000.0
LIVED = [
    ("fluid_low_external_leak", "vacuum", "mixed"),
    ("pump_worn_abrasive", "vacuum", "towing"),
    ("forward_seal_hardened", "vacuum", "yard"),
    ("cooler_clogged_internally", "cable", "towing"),
    ("brakes_dragging", "vacuum", "mixed"),
    ("bushing_worn_ring_loss", "cable", "town"),
]


# ---------------------------------------------------------------------- made-up balances
def found(gap, starts):
    """Where the search ends from each start, (k,), and how often it asked."""
    asked = []

    def ask(rows, temperature):
        asked.append(len(rows))
        return temperature + gap(temperature)

    return lowest_balance(ask, np.array(starts, float)[:, None], np.array([True]))[:, 0], sum(asked)


def three_roots(t):
    """Stays at 360 and at 395, between them it does not stay at 375."""
    return -((t - 360.0) * (t - 375.0) * (t - 395.0)) / 300.0


def test_of_several_roots_the_lowest_that_stays_is_taken():
    """From below it is the first; a search that begins above both finds the nearer one, which is why it begins cold."""
    ends, _ = found(three_roots, [300.0, 340.0, 358.0, 400.0])
    np.testing.assert_allclose(ends[:3], 360.0, atol=EXACT)
    assert ends[3] == pytest.approx(395.0, abs=EXACT)


@pytest.mark.parametrize("steep", [0.6, 1.0, 6.0, 57.0])
def test_however_steep_the_root_is_found(steep):
    """Fixed passes swing where the gap falls faster than by 2 K/K; the root is known in advance."""
    ends, asked = found(lambda t: -steep * (t - 371.3), [320.0, 340.0, 371.0, 390.0])
    np.testing.assert_allclose(ends, 371.3, atol=1.01 * EXACT)
    assert asked < 4 * 25


def test_a_balance_that_is_leapt_across_is_found_at_the_leap():
    """The gap falls from 40 K to -30 K at one temperature, as where an element begins to hold."""
    ends, _ = found(lambda t: np.where(t < 383.2, 40.0, -30.0), [340.0, 420.0])
    np.testing.assert_allclose(ends, 383.2, atol=1.01 * EXACT)


@pytest.mark.parametrize("start", [340.0, 369.0, 371.3, 420.0])
def test_a_point_that_swings_about_the_mean_does_not_lead_the_search_astray(start):
    """Each point is led to the other side of the mean, and the balance of the mean depends on where the first one is.

    The roots, 369.3 and 373.3, are known in advance; a bracket of one trial on each side of them both holds neither.
    """
    points = np.array([True, True])

    def lead(_rows, warm):
        mean = day_mean(warm, points)
        swing = np.where(warm > mean, -8.0, 8.0) * np.array([1.0, -1.0])
        swing = np.where(warm == mean, np.array([8.0, -8.0]), np.array([1.0, -1.0]) * swing[:, :1])
        return mean - 12.0 * (mean - 371.3) + 3.0 * (warm[:, :1] - mean) + swing

    ended = lowest_balance(lead, np.full((1, 2), start), points)
    root = 371.3 + 0.25 * (ended - day_mean(ended, points))[0, 0]
    assert day_mean(ended, points)[0, 0] == pytest.approx(root, abs=1.01 * EXACT)


def test_where_nothing_balances_the_search_ends_at_boiling_over():
    """It gets hotter wherever it is: no number is found, and the last trial says so."""
    ends, _ = found(lambda t: 20.0 + 0.0 * t, [320.0, 400.0])
    np.testing.assert_array_equal(ends, BOILS_OVER)
    assert boils_over(ends, np.full(2, 20.0)).all() and not boils_over(ends, np.full(2, -1.0)).any()


# ---------------------------------------------------------------------- vehicles
@pytest.fixture(scope="module", params=LIVED, ids=lambda lived: f"{lived[0]}-{lived[2]}")
def lived(request):
    """Plant, condition and lives of twelve vehicles that a cause brought to a complaint or through its miles; the use."""
    cause, signal, use = request.param
    world = with_cause(cause, np.linspace(0.2, 1.0, 12), sound(12, signal=signal, seed=3), ONSET, use)
    lives = drive(world, ONSET + 1.0, ONSET + 25_000.0, sensitivity=0.5)
    return world.plant(lives.odometer[:, None]), lives, use


def operated(plant, lives, use, **how):
    """A day of vehicles, and its mean sump temperature, (n,)."""
    day = duty_cycle(use, plant.unit)
    work = plant.operate(lives.condition, day.op, day.spent(plant.p.use_stops, plant.p.use_standing), **how)
    return work, day_mean(work.temperature, np.isnan(day.op.temperature))[:, 0]


def test_the_same_balance_from_three_starts(lived):
    """Cold, colder, and warm as a sound sump is: the day has one beginning only, so it has one end."""
    plant, lives, use = lived
    ends = [operated(plant, lives, use, start=start) for start in (305.0, 325.0, 340.0)]
    for work, mean in ends[1:]:
        np.testing.assert_allclose(mean, ends[0][1], atol=2.0 * EXACT)
        np.testing.assert_array_equal(work.boils_over, ends[0][0].boils_over)


def test_what_is_called_steady_is_a_balance(lived):
    """Heat leads to within 0.5 K of it, or above it from 1 K below and back from 1 K above; boiling, it gets hotter."""
    plant, lives, use = lived
    work, _ = operated(plant, lives, use)
    free = np.isnan(duty_cycle(use, plant.unit).op.temperature)

    def gap(by):
        warm = work.temperature + by * free
        other, _ = operated(plant, lives, use, guess=warm)
        return day_mean(other.settled - warm, free)[:, 0]

    boils = work.boils_over[:, 0]
    between = (gap(-1.0) > 0.0) & (gap(1.0) < 0.0)
    assert np.all((np.abs(gap(0.0)) < EXACT) | between | boils)
    assert np.all(gap(0.0)[boils] > 0.0)


def test_the_bay_is_where_the_life_ended(lived):
    """Within 1 K of its last point, and the chief complaint is there with at least nine tenths of its strength."""
    plant, lives, use = lived
    work, mean = operated(plant, lives, use, start=lives.sump)
    ended = day_mean(lives.sump, np.isnan(duty_cycle(use, plant.unit).op.temperature))[:, 0]
    np.testing.assert_allclose(mean, ended, atol=1.0)
    now = {name: value[:, 0] for name, value in felt_troubles(plant, lives.condition, work, use).items()}
    for i in np.flatnonzero(lives.complained):
        chief = max(lives.felt, key=lambda name, i=i: lives.felt[name][i])
        assert now[chief][i] >= 0.9 * lives.felt[chief][i], (chief, i)


def test_the_temperature_that_is_shown_is_the_one_that_is_used(lived):
    """Gauge, heading of the finding and operating points of a road test: one number."""
    plant, lives, use = lived
    signal = "cable" if plant.p.signal_cable_fitted[0, 0] > 0.5 else "vacuum"
    subject = Subject(
        plant,
        lives.condition,
        signal,
        use,
        felt={n: v[:, None] for n, v in lives.felt.items()},
        sump=lives.sump,
    )
    used = subject.at([AskedPoint("D")]).temperature[:, 0]
    for row, findings in enumerate(make_findings(subject, ("cooler_check", "road_test"))):
        gauge = next(r for r in findings["cooler_check"].readings if r.key == "sump_temp_f")
        road, boils = findings["road_test"], bool(subject.boils_over[row])
        steady = units.to_fahrenheit(used[row])
        assert (BROKEN_OFF in road.words) == boils
        assert road.made_at_f == (None if boils else round(steady))
        if gauge.value is None:  # nobody drives for an hour on what slips
            assert SLIPS_TOO_MUCH in gauge.note and burns(subject)[row]
            continue
        assert bool(gauge.note) == boils
        assert gauge.value == pytest.approx(320.0 if boils else steady, abs=2 * gauge.sigma + 0.5)


def test_without_a_way_out_for_its_heat_it_boils_over_and_the_drive_ends():
    """No cooler, a heavy trailer: the event is noted, every driver stops at once, and no temperature is past that of boiling."""
    world = with_cause(
        "cooler_line_kinked", [1.0], sound(1, heat_case_moving=0.0, heat_line_open=0.0), ONSET, "towing"
    )
    life = drive(world, ONSET + 1.0, ONSET + 5_000.0, sensitivity=0.1, events=life_events)
    assert life.complained.all() and life.odometer[0] / units.MILE < ONSET + 2.0
    assert "boils_over" in life.events[0]
    plant = world.plant(life.odometer[:, None])
    work, mean = operated(plant, life, "towing", start=life.sump)
    assert work.boils_over.all() and mean[0] == pytest.approx(BOILS_OVER, abs=0.1)
    assert life.felt["hot"][0] >= 1.0 / min(DRIVERS.values())


# ---------------------------------------------------------------------- oil
@pytest.mark.parametrize("unit", ["T3", "T4"])
@pytest.mark.parametrize("fahrenheit", [40.0, 80.0, 120.0, 180.0])
def test_a_sound_unit_draws_no_air_in_park(unit, fahrenheit):
    """Common practice, no source: full to its mark it can be revved in P, cold or hot, and the needle stands still."""
    spec = load_unit(unit)
    parameters = draw_parameters(spec, np.random.default_rng(7), 60, signal=spec.signals[-1])
    rpm = [650.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0]
    op = operation(
        "P", engine_speed=[units.from_rpm(x) for x in rpm], temperature=units.from_fahrenheit(fahrenheit)
    )
    work = Plant(spec, parameters).operate(new_condition(60, spec), op)
    assert work.air_time.max() < 0.01


def test_each_vehicle_has_its_own_fluid():
    """A batch of a thin and a thick fluid gives what each gives alone; the thin one leaks more."""
    both = sound(2, fluid_viscosity_100c=[[4.0e-6], [7.3e-6]], fluid_viscosity_40c=[[18e-6], [36e-6]])
    alone = [{name: value[[i]] for name, value in both.items()} for i in range(2)]
    together = line_psi(both, rpm=450.0)
    for i in range(2):
        np.testing.assert_allclose(together[i], line_psi(alone[i], rpm=450.0)[0], rtol=1e-12)
    assert np.all(together[0] < together[1])


def test_thin_oil_costs_pressure():
    """Common practice, no source: a pump that is good at 180 F falls short at idle when the oil is as thin as at 300."""
    worn = new()
    worn.pump[:], worn.oxidation[:] = (
        0.35,
        3.0,
    )  # so hot a sump has long worn out its fluid, which does not make up for the heat
    psi = [
        line_psi(sound(), worn, levers=("D",), temperature=units.from_fahrenheit(f)).item()
        for f in (180.0, 250.0, 300.0)
    ]
    assert psi[0] > psi[1] > psi[2] and psi[2] < 0.9 * psi[0]


def test_of_two_balances_the_lower_is_found_between_two_strides(monkeypatch):
    """One vehicle balances at 352 K as well as where it was found, 380 K; another from its sound sump up nowhere below that."""
    roots = np.array([352.0, np.inf])
    monkeypatch.setattr(
        life, "_answer", lambda world, trial, rows, colder, free: np.where(380.0 + colder < roots[rows][:, None], 400.0, 330.0)
    )  # fmt: skip
    one = np.ones((2, 1))
    search = BalanceSearch.blank(2, 1)
    lanes = SimpleNamespace(task=SimpleNamespace(sound=340.0 * one), loose=lambda: one, search=search)
    trial = SimpleNamespace(work=SimpleNamespace(temperature=380.0 * one))
    world = SimpleNamespace(
        duty=SimpleNamespace(op=SimpleNamespace(temperature=np.array([np.nan]))), rows=lambda rows: None
    )
    lower, start = life._lower_balance(world, lanes, trial, np.arange(2))
    assert list(lower) == [0] and start.item() == search.above[0].item()
    assert search.below[0].item() < 352.0 <= search.above[0].item() <= search.below[0].item() + STRIDE
    assert np.isinf(search.above[1]) and np.isinf(search.below[1])
