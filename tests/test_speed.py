"""How fast lives are lived: the batch against a plain loop of scipy, and its inner piece against compiled code.

The compiled rivals are copies of the line balance only (flows of pump, leaks and regulator), not of the whole right-hand
side: one with the same Newton's rule for speed, one by exact bisection as an independent check of the pressure.
The table: `pytest tests/test_speed.py --dist no`. Spread over several processes nothing is timed, all is run once.
"""

import time

import numpy as np
import pytest
from numba import njit
from test_life import complaint_by_scipy
from vehicles import HOT, LEVERS, UNIT, drive, new, sound, with_cause

from course_lib import units
from course_lib.transmission.plant import Plant
from course_lib.transmission.point import operation

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

    leak [m3/s/Pa], feed and hole [m3/s/sqrt(Pa)] of each applied circuit.
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
    parameters["element_leak"] = parameters["element_leak"] * rng.uniform(
        1, 40, parameters["element_leak"].shape
    )
    parameters["element_hole"] = rng.uniform(0, 4e-6, parameters["element_hole"].shape)
    parameters["element_hole"][..., 4] = 0.0
    plant = Plant(UNIT, parameters)
    op = operation(LEVERS, engine_speed=units.from_rpm(900), temperature=HOT)
    captured = {}
    inner = plant._line

    def record(*arguments):
        captured["arguments"] = arguments
        return inner(*arguments)

    plant._line = record
    plant.operate(new(200), op)
    plant._line = inner
    return plant, captured["arguments"]


@njit
def tap_pressure(line, leak, feed, hole):
    """Pressure [Pa] of one circuit, by the closed start and three Newton passes of `circuit.fed_pressure`."""
    a, b = leak * np.sqrt(line) / feed, hole / feed
    s = min(np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + 4.0 * a * a))), 1.0 / np.sqrt(1.0 + b * b))
    for _ in range(3):
        rest = np.sqrt(max(1.0 - s * s, 0.0))
        s -= (a * s * s + b * s - rest) / (2.0 * a * s + b + s / max(rest, 1e-12))
    return line * s * s


@njit
def compiled_newton(goal, flow, inner, leak, feed, hole, droop, nominal):
    """Line pressure [Pa], (2, n, m), as the plant finds it; leak, feed and hole (n, m, E), 0 where not applied."""
    line = np.empty(flow.shape)
    for k, i, j in np.ndindex(flow.shape):
        valve = nominal / droop
        lid = flow[k, i, j] + valve * (1.0 - droop)
        total = inner[i, j] + leak[i, j].sum()
        now = min(lid / (total + valve / goal[i, j]), flow[k, i, j] / total)
        for _ in range(5):
            drawn, slope = 0.0, inner[i, j]
            for e in range(leak.shape[2]):
                if feed[i, j, e] > 0.0:
                    tap = tap_pressure(now, leak[i, j, e], feed[i, j, e], hole[i, j, e])
                    drop = max(now - tap, 1e-9)
                    takes = feed[i, j, e] * np.sqrt(max(now - tap, 0.0))
                    out = leak[i, j, e] + 0.5 * hole[i, j, e] / np.sqrt(max(tap, 1e-9))
                    steep = 0.5 * takes / drop * out / (0.5 * takes / drop + out + 1e-30)
                    drawn += takes - steep * now
                    slope += steep
            left = flow[k, i, j] - drawn
            better = min((left + valve * (1.0 - droop)) / (slope + valve / goal[i, j]), left / slope)
            now = max(better, 0.1 * now)
        line[k, i, j] = now
    return line


def flat(plant, arguments):
    """Arguments of `compiled_newton` from those of the plant's own balance."""
    goal, flow, inner, leak, applied, density = arguments
    p = plant.p
    jet = p.line_discharge[..., None] * np.sqrt(2.0 / density)[..., None]
    wanted = [np.broadcast_to(x, flow.shape[1:]) for x in (goal, inner)]
    circuits = [
        np.broadcast_to(applied * x, leak.shape)
        for x in (leak, p.element_feed_area * jet, p.element_hole * jet)
    ]
    goal, inner, leak, feed, hole = (np.ascontiguousarray(x) for x in (*wanted, *circuits))
    return (
        goal,
        np.ascontiguousarray(flow),
        inner,
        leak,
        feed,
        hole,
        p.line_droop[0, 0],
        p.line_nominal_flow[0, 0],
    )


def compiled(plant, arguments):
    """Every point of the pump's fluid phase by the compiled balance, (n, m)."""
    goal, flow, inner, leak, feed, hole, droop, nominal = flat(plant, arguments)
    line = np.empty(flow.shape[1:])
    for i, j in np.ndindex(line.shape):
        point = goal[i, j], flow[0, i, j], inner[i, j], leak[i, j], feed[i, j], hole[i, j]
        line[i, j] = compiled_line(*point, droop, nominal)
    return line


def test_compiled_and_numpy_find_the_same_line(balance):
    """Bisection to the last bit against Newton's rule: within 1e-4, a hundredth of a psi."""
    plant, arguments = balance
    np.testing.assert_allclose(plant._line(*arguments)[0][0], compiled(plant, arguments), rtol=1e-4)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_numpy(timed, balance):
    """As it is shipped; both phases of the oil."""
    plant, arguments = balance
    timed(plant._line, *arguments, rounds=20)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_compiled(timed, balance):
    """Newton's rule in compiled loops, both phases, compiled before the clock starts; the same pressures come out."""
    plant, arguments = balance
    plain = flat(plant, arguments)
    compiled_newton(*plain)
    line = timed(compiled_newton, *plain, rounds=20)
    np.testing.assert_allclose(line, plant._line(*arguments)[0], rtol=1e-6)
