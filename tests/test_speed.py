"""How fast lives are lived: the batch against a plain loop of scipy, and its inner piece against compiled code.

The compiled rival is a copy of the line balance only (flows of pump, leaks and regulator by Newton's rule), not of the
whole right-hand side. It checks the NumPy code as well: both must find the same pressure. Run with
`pytest tests/test_speed.py --benchmark-only` for the table.
"""

import time

import numpy as np
import pytest
from numba import njit
from test_life import complaint_by_scipy
from vehicles import HOT, LEVERS, UNIT, drive, new, sound, with_cause

from course_lib import units
from course_lib.transmission.plant import Plant, operation

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


@pytest.mark.benchmark(group="lives")
def test_lives_in_a_batch(benchmark):
    """256 lives at once; every one ends in a complaint."""
    assert benchmark.pedantic(batch, rounds=2, iterations=1).complained.all()


@pytest.mark.benchmark(group="lives")
def test_lives_one_by_one_with_scipy(benchmark):
    """Three lives by scipy.integrate.solve_ivp with the same rates."""
    assert len(benchmark.pedantic(by_scipy, rounds=1, iterations=1)) == FEW


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


def compiled(plant, arguments):
    """Every point of the pump's fluid phase by the compiled balance, (n, m)."""
    goal, flow, inner, leak, applied, density = arguments
    p = plant.p
    jet = p.line_discharge[..., None] * np.sqrt(2.0 / density)[..., None]
    feed, hole, leaks = (applied * x for x in (p.element_feed_area * jet, p.element_hole * jet, leak))
    feed, hole, leaks = (np.broadcast_to(x, leaks.shape) for x in (feed, hole, leaks))
    line = np.empty(flow.shape[1:])
    for i, j in np.ndindex(line.shape):
        fixed = (p.line_droop[i, 0], p.line_nominal_flow[i, 0])
        line[i, j] = compiled_line(
            goal[i, j], flow[0, i, j], inner[i, j], leaks[i, j], feed[i, j], hole[i, j], *fixed
        )
    return line


def test_compiled_and_numpy_find_the_same_line(balance):
    """Bisection to the last bit against Newton's rule: within 1e-4, a hundredth of a psi."""
    plant, arguments = balance
    np.testing.assert_allclose(plant._line(*arguments)[0][0], compiled(plant, arguments), rtol=1e-4)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_numpy(benchmark, balance):
    """As it is shipped; both phases of the oil."""
    plant, arguments = balance
    benchmark.pedantic(plant._line, args=arguments, rounds=10, iterations=2)


@pytest.mark.benchmark(group="line balance, 1,200 points")
def test_line_balance_compiled(benchmark, balance):
    """One phase, exact bisection, compiled by numba before the clock starts."""
    plant, arguments = balance
    compiled(plant, arguments)
    benchmark.pedantic(compiled, args=(plant, arguments), rounds=3, iterations=1)
