"""How fast lives are lived: the batch against a plain loop of scipy, and its inner piece against compiled code.

The compiled rivals are copies of the line balance only (flows of pump, leaks and regulator), not of the whole right-hand
side: one with the same Newton's rule for speed, one by exact bisection as an independent check of the pressure.
The table: `pytest tests/test_speed.py`. Spread over several processes nothing is timed, all is run once.
"""

import time

import numpy as np
import pytest
from extras import from_extra
from test_life import complaint_by_scipy
from vehicles import HOT, LEVERS, SPEC, drive, new, sound, with_cause

from course_lib.base import units
from course_lib.diagnosis.lived_populations import ROUGH, build_population
from course_lib.faults.causes import causes_of
from course_lib.faults.repair import DRIVERS
from course_lib.faults.scenario import Request, ScenarioSearch, draw_scenario
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.physics import hydraulics
from course_lib.vehicle import oil_circuits
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import draw_parameters, load_unit

njit = from_extra("benchmark", "numba").njit
ONSET = 20_000.0
END = 30_000.0
LIVES = 256
FEW = 3


def batch():
    """256 different vehicles with a growing leak, from onset to complaint."""
    world = with_cause("fluid_low_external_leak", np.linspace(0.2, 1.0, LIVES), sound(LIVES, seed=1), ONSET)
    return drive(world, ONSET, END)


def by_scipy():
    """The first few of them, one after the other, by solve_ivp."""
    world = with_cause("fluid_low_external_leak", np.linspace(0.2, 1.0, LIVES), sound(LIVES, seed=1), ONSET)
    rows = [world.rows(np.array([row])) for row in range(0, LIVES, LIVES // FEW)][:FEW]
    return [complaint_by_scipy(one, ONSET * units.MILE, END * units.MILE, 1.0) for one in rows]


@pytest.fixture
def timed(request):
    """A function that calls and times another; it only calls it where processes run side by side."""
    if request.config.getoption("dist", "no") != "no":
        return lambda function, *arguments, rounds: function(*arguments)
    benchmark = request.getfixturevalue("benchmark")
    return lambda function, *arguments, rounds: benchmark.pedantic(function, args=arguments, rounds=rounds)


@pytest.mark.benchmark(group="lives")
def test_lives_in_a_batch(timed):
    """256 lives at once; every one ends in a complaint."""
    assert timed(batch, rounds=2).complained.all()


@pytest.mark.benchmark(group="lives")
def test_lives_one_by_one_with_scipy(timed):
    """Three lives by scipy.integrate.solve_ivp with the same rates."""
    assert len(timed(by_scipy, rounds=1)) == FEW


@pytest.fixture(scope="module")
def crowd():
    """What a population of T3 vacuum lives: every cause, four vehicles each, seven severities."""
    rng, unit = np.random.default_rng(4), load_unit("T3")
    met = [cause.id for cause in causes_of(unit, "vacuum") if cause.met_in("mixed")]
    wish = dict(seed=0, unit="T3", signal="vacuum", use="mixed")
    drawn = [draw_scenario(Request(cause=cause, **wish), rng) for cause in met for _ in range(4)]
    search = ScenarioSearch(drawn, [draw_parameters(unit, rng, signal="vacuum") for _ in drawn], rough=ROUGH)
    of = np.repeat(np.arange(len(drawn)), 7)
    return search, search.world(of, np.tile(np.linspace(0.07, 0.93, 7), len(drawn))), of


@pytest.mark.benchmark(group="lives of a population")
def test_lives_of_a_population(timed, crowd):
    """Some 6,800 lives, four drivers of each vehicle: lives a second are that number over this time."""
    search, world, of = crowd
    drivers = np.tile(np.arange(len(DRIVERS)), (len(of), 1))
    assert timed(search.live_on, world, of, drivers, rounds=1).complained.mean() > 0.5


@pytest.mark.benchmark(group="a population")
def test_a_population_with_all_that_is_found_on_it(timed):
    """All causes of a kind of vehicle, some 6,800 lives, of which a thousand and more are kept and measured."""
    assert len(timed(build_population, VehicleKind(SPEC, "vacuum", "mixed"), rounds=1)) > 1000


def test_the_batch_is_at_least_five_times_as_fast_a_life():
    """Time per life, the wide margin leaves room for a busy machine."""
    start = time.perf_counter()
    batch()
    middle = time.perf_counter()
    by_scipy()
    per_life = (middle - start) / LIVES, (time.perf_counter() - middle) / FEW
    assert per_life[1] > 5.0 * per_life[0]


# ---------------------------------------------------------------------- the line balance, compiled
@njit
def compiled_line(goal, flow, inner, leak, feed, hole, droop, nominal):
    """Line pressure [Pa] of one point: bisection on the same balance, circuits solved exactly by bisection.

    leak [m3/s/Pa], feed and hole [m3/s/sqrt(Pa)] of each circuit, 0 where not applied.
    """
    low, high = 0.0, 2.0 * goal
    for _ in range(60):
        line = 0.5 * (low + high)
        used = inner * line + max(nominal * (1.0 + (line / goal - 1.0) / droop), 0.0)
        for e in range(leak.size):
            least, most = 0.0, line
            for _ in range(60):
                tap = 0.5 * (least + most)
                if feed[e] * np.sqrt(line - tap) > leak[e] * tap + hole[e] * np.sqrt(tap):
                    least = tap
                else:
                    most = tap
            used += leak[e] * least + hole[e] * np.sqrt(least)
        if used < flow:
            low = line
        else:
            high = line
    return 0.5 * (low + high)


@pytest.fixture(scope="module")
def balance():
    """Arguments of the line balance for 200 leaky vehicles at six points."""
    parameters = sound(200, seed=2)
    rng = np.random.default_rng(3)
    leak = parameters["element_leak"]
    parameters["element_leak"] = leak * rng.uniform(1, 40, leak.shape)
    parameters["element_hole"] = rng.uniform(0, 4e-6, leak.shape) * (leak > 0)
    seen = []

    def record(*arguments):
        seen.append(arguments)
        return oil_circuits.line_balance(*arguments)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("course_lib.vehicle.holding.line_balance", record)
        op = operation(LEVERS, engine_speed=units.from_rpm(900), temperature=HOT)
        Plant(SPEC, parameters).operate(new(200), op)
    return seen[0]


def line_of(arguments):
    """Line pressure [Pa], (n, m), as it is shipped."""
    return oil_circuits.line_balance(*arguments)[0]


@njit
def tap_pressure(line, leak, feed, hole, passes):
    """Pressure [Pa] of one circuit, by the closed start and the passes of `Circuits.fed`."""
    laminar, holes = leak * np.sqrt(line) / feed, hole / feed
    side = 1.0 + holes * holes
    share = 2.0 / (side + np.sqrt(side * side + 4.0 * laminar * laminar))
    for _ in range(passes):
        cross = side + 2.0 * laminar * holes * np.sqrt(share)
        share = 2.0 / (cross + np.sqrt(cross * cross + 4.0 * laminar * laminar))
    return line * share


@njit
def compiled_newton(goal, flow, inner, leak, feed, hole, droop, nominal, line_passes, tap_passes):
    """Line pressure [Pa], (n, m), as the plant finds it; leak, feed and hole (n, m, E), 0 where not applied."""
    line = np.empty(flow.shape)
    for i, j in np.ndindex(flow.shape):
        valve = nominal[i] / droop[i]
        lid = valve * (1.0 - droop[i])
        total = inner[i, j] + leak[i, j].sum()
        now = min((flow[i, j] + lid) / (total + valve / goal[i, j]), flow[i, j] / total)
        for _ in range(line_passes):
            drawn, slope = 0.0, inner[i, j]
            for e in range(leak.shape[2]):
                if feed[i, j, e] > 0.0:
                    tap = tap_pressure(now, leak[i, j, e], feed[i, j, e], hole[i, j, e], tap_passes)
                    takes = feed[i, j, e] * np.sqrt(max(now - tap, 0.0))
                    steep = takes / (2.0 * max(now - tap, 1.0))
                    out = leak[i, j, e] + hole[i, j, e] / (2.0 * np.sqrt(max(tap, 1.0)))
                    steep *= out / (steep + out + 1e-30)
                    drawn += takes - steep * now
                    slope += steep
            left = flow[i, j] - drawn
            better = min((left + lid) / (slope + valve / goal[i, j]), left / slope)
            now = max(better, oil_circuits.LEAST_LINE * now)
        line[i, j] = now
    return line


def flat(arguments):
    """Arguments of `compiled_newton` from those of the plant's own balance; every circuit on the whole grid."""
    pressed, goal, flow, inner, (droop, nominal) = arguments
    shape = pressed.column.max() + 1, *flow.shape
    each = pressed.leak, pressed.feed * pressed.jet, pressed.hole * pressed.jet
    leak, feed, hole = (np.moveaxis(pressed.spread(x * pressed.on, shape), 0, -1).copy() for x in each)
    goal, inner = (np.ascontiguousarray(np.broadcast_to(x, flow.shape)) for x in (goal, inner))
    return goal, flow, inner, leak, feed, hole, droop[:, 0], nominal[:, 0]


def compiled(arguments):
    """Every point by the compiled bisection, (n, m)."""
    goal, flow, inner, leak, feed, hole, droop, nominal = flat(arguments)
    line = np.empty(flow.shape)
    for i, j in np.ndindex(line.shape):
        point = goal[i, j], flow[i, j], inner[i, j], leak[i, j], feed[i, j], hole[i, j]
        line[i, j] = compiled_line(*point, droop[i], nominal[i])
    return line


def test_compiled_and_numpy_find_the_same_line(balance):
    """Bisection to the last bit against Newton's rule: within 5e-4, a twentieth of a psi."""
    np.testing.assert_allclose(line_of(balance), compiled(balance), rtol=5e-4)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_numpy(timed, balance):
    """As it is shipped."""
    timed(line_of, balance, rounds=20)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_compiled(timed, balance):
    """Newton's rule in compiled loops, compiled before the clock starts; the same pressures come out."""
    plain = *flat(balance), oil_circuits.LINE_PASSES, hydraulics.FED_PASSES
    compiled_newton(*plain)
    line = timed(compiled_newton, *plain, rounds=20)
    np.testing.assert_allclose(line, line_of(balance), rtol=1e-6)
