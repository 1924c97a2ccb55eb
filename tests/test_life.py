"""Lives: against an independent integrator, against formulas, against time, and against their own bookkeeping."""

import itertools
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import RK45
from vehicles import ELEMENTS, SPEC, UNIT, drive, new, sound, with_cause

from course_lib.base import units
from course_lib.diagnosis.lived_populations import ROUGH
from course_lib.faults.causes import all_causes
from course_lib.vehicle.fleet import Fleet, FleetMoment, parameters_at
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.life import (
    FIRST_STEP,
    MOST,
    TOLERANCE,
    _at_the_start,
    _most,
    _narrow,
    _next_step,
    _opening,
    live,
    worst_felt,
)
from course_lib.vehicle.life_lanes import SMALLEST_STEP, Bracket
from course_lib.vehicle.memory import Memory, new_memory
from course_lib.vehicle.operating_point import PER_ELEMENT, PLAIN, new_condition, operation, packed, unpacked
from course_lib.vehicle.owner_day import Remembered
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, parameter_place
from course_lib.vehicle.uses import load_uses
from course_lib.vehicle.wear import plate_temperature

ONSET = 20_000.0  # miles
COUNT = len(ELEMENTS)
POSSIBLE = [cause for cause in all_causes().values() if cause.fits(load_unit(UNIT))]


# ---------------------------------------------------------------------- the same lives by scipy
def flat(condition):
    """The condition of one vehicle as a vector."""
    return np.concatenate([getattr(condition, name).ravel() for name in PLAIN + PER_ELEMENT])


def shaped(vector, world):
    """The vector as a condition, kept within what is possible."""
    entries = {name: vector[[i]].reshape(1, 1) for i, name in enumerate(PLAIN)}
    for i, name in enumerate(PER_ELEMENT):
        start = len(PLAIN) + COUNT * i
        entries[name] = vector[start : start + COUNT].reshape(1, 1, COUNT)
    most = MOST | {"lining": world.base["element_lining"]}
    return replace(new(), **{n: np.clip(v, 0.0, most[n]) for n, v in entries.items()})


class Settled:
    """Rates and what is felt as functions of odometer and vector, the sump settled to 0.01 K from where it stood before."""

    def __init__(self, world, odometer, vector):
        self.world, self.warm = world, None
        self.go_on(odometer, vector)

    def found(self, odometer, vector):
        """Rates as a vector, strongest trouble, sump temperatures."""
        warm = self.warm
        for _ in range(60):
            now = self.world.moment(np.full((1, 1), odometer), shaped(vector, self.world), warm)
            warm = now.work.settled
            if np.abs(now.work.settled - now.work.temperature).max() < 0.01:
                break
        return flat(now.rate), worst_felt(now.strength).item(), warm

    def go_on(self, odometer, vector):
        """The vehicle has got here: the sump is as warm as it is here, whatever the integrator tries next."""
        self.warm = self.found(odometer, vector)[2]

    def rate(self, odometer, vector):
        """Rates as a vector."""
        return self.found(odometer, vector)[0]


def complaint_by_scipy(world, start, end, sensitivity):
    """Odometer [m] of the complaint by Runge and Kutta's rule of solve_ivp, rtol 1e-6, and bisection; NaN when there is none."""
    vector = flat(new())
    here = Settled(world, start, vector)
    size = {n: (1, 1) if n in PLAIN else (1, 1, COUNT) for n in PLAIN + PER_ELEMENT}
    exact = flat(replace(new(), **{n: np.full(size[n], 1e-3 * TOLERANCE[n]) for n in size}))
    # A growth has corners, and the integrator must not step across one.
    corners = {edge.item() for edge in world.growths[0].edges() if start < edge.item() < end}
    for begin, stop in itertools.pairwise((start, *sorted(corners), end)):
        life = RK45(here.rate, begin, vector, stop, 1000 * units.MILE, rtol=1e-6, atol=exact)
        while life.status == "running":
            life.step()
            if here.found(life.t, life.y)[1] * sensitivity >= 1.0:
                between = life.dense_output()
                return bisected(
                    lambda x, y=between: here.found(x, y(x))[1] * sensitivity >= 1.0, life.t_old, life.t
                )
            here.go_on(life.t, life.y)
        vector = life.y
    return np.nan


def bisected(true, low, high):
    """Where `true` sets in between `low` and `high`, to a meter."""
    while high - low > 1.0:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if true(middle) else (middle, high)
    return high


COMPARED = [
    ("seal_swell_additive_used", "mixed", 1.0),
    ("seal_swell_additive_used", "highway", 0.5),
    ("filter_clogged_residue", "town", 0.5),
    ("pump_worn_abrasive", "mixed", 1.0),
    ("pump_worn_abrasive", "towing", 0.3),
    ("pump_worn_abrasive", "highway", 0.5),
    ("bellhousing_dowel_missing", "town", 0.5),
    ("modulator_diaphragm_ruptured", "towing", 0.3),
    ("bushing_worn_ring_loss", "town", 0.5),
    ("bushing_worn_ring_loss", "mixed", 1.0),
    ("governor_ring_leak", "yard", 0.4),
    ("intermediate_servo_seal_leak", "town", 0.5),
    ("low_reverse_seal_torn", "highway", 0.5),
    ("low_reverse_seal_torn", "mixed", 1.0),
    ("fluid_low_external_leak", "mixed", 0.5),
    ("cooler_not_flushed", "highway", 0.5),
    ("neutral_drop_abuse", "mixed", 1.0),
    ("neutral_drop_abuse", "towing", 0.3),
]


@pytest.fixture(scope="module")
def compared():
    """Miles from onset to complaint by the batch, by the rough batch and by scipy, name -> (3,), for the lives that end in one."""
    miles = {}
    for place, (cause, use, sensitivity) in list(enumerate(COMPARED))[
        ::2
    ]:  # the other half costs a minute more and says the same
        parameters = sound(signal=all_causes()[cause].signals[0], seed=place)
        world = with_cause(cause, 0.3 + 0.02 * place, parameters, ONSET, use)
        start = ONSET + (1.0 if all_causes()[cause].sudden else 0.0)
        life = drive(world, start, ONSET + 20_000, sensitivity=sensitivity)
        if life.complained[0] and life.odometer[0] > start * units.MILE:
            ends = start * units.MILE, 1.2 * life.odometer[0]
            rough = drive(world, start, ONSET + 20_000, sensitivity=sensitivity, rough=ROUGH)
            by_scipy = complaint_by_scipy(world, *ends, sensitivity)
            each = np.array([life.odometer[0], rough.odometer[0], by_scipy])
            miles[f"{cause} {use}"] = each / units.MILE - ONSET
    return miles


@pytest.mark.parametrize(("which", "limits"), [(0, (0.02, 0.06, 0.15)), (1, (0.04, 0.12, 0.25))])
def test_lives_end_where_scipy_ends_them(compared, which, limits):
    """scipy.integrate.RK45, rtol 1e-6: half within 2 % of the miles since onset, all but one within 6 %, none beyond 15 %.

    The batch closes in on the complaint to within 1 % of that distance, or a quarter of a mile, and from behind. A life that
    hangs for long at the brink of slipping is settled by a trace of char and may come out further off. Lives of a population
    are lived more roughly: half within 4 %, all but one within 12 %, none beyond 25 %.
    """
    late = {name: each[which] / each[2] - 1.0 for name, each in compared.items()}
    off = np.sort(np.abs(list(late.values())))
    report = [f"{name}: {compared[name][2]:.1f} mi {value:+.4f}" for name, value in late.items()]
    assert len(off) >= 8, report
    assert np.median(off) < limits[0] and off[-2] < limits[1] and off[-1] < limits[2], report


def test_those_lives_are_not_all_alike(compared):
    """The longest is more than twenty times the shortest, so that the comparison means something."""
    miles = [each[2] for each in compared.values()]
    assert max(miles) > 20.0 * min(miles)


@pytest.mark.parametrize("cause", ["pump_worn_abrasive", "throttle_cable_slack", "cooler_clogged_internally"])
def test_a_life_takes_few_evaluations(cause, monkeypatch):
    """A count, not a time: fewer than 35 passes over the duty from onset to complaint, of 64 lives in the mean."""
    counted = []
    inner = Fleet.moment

    def moment(world, odometer, *others):
        counted.append(len(odometer))
        return inner(world, odometer, *others)

    monkeypatch.setattr(Fleet, "moment", moment)
    known = all_causes()[cause]
    parameters = sound(64, signal=known.signals[0], seed=0)
    world = with_cause(cause, np.linspace(0.0, 1.0, 64), parameters, ONSET)
    life = drive(world, ONSET + (1.0 if known.sudden else 0.0), ONSET + 30_000, sensitivity=0.5)
    assert life.complained.any()
    assert sum(counted) / 64 < 35.0


# ---------------------------------------------------------------------- against formulas
class Formula(Fleet):
    """One vehicle a lane whose oxidation follows a given rule, whatever its plant would say; `felt` from odometer and oxidation."""

    def __init__(self, rate, felt, count=1, growths=(), duty="mixed"):
        super().__init__(SPEC, duty, sound(count), growths)
        self.rate, self.felt, self.asked = rate, felt, []

    def rows(self, rows):
        """The rule is the same for all."""
        return self

    def moment(self, odometer, condition, warm=None, step=0.0):
        """Nothing but the rule."""
        self.asked.append(odometer.copy())
        age = self.rate(odometer, condition.oxidation) + 0.0 * odometer
        return FleetMoment(
            rate=replace(new(len(odometer)), oxidation=age),
            work=SimpleNamespace(settled=warm, temperature=warm),
            strength={"felt": self.felt(odometer, condition.oxidation) + 0.0 * odometer},
            remembers=Remembered(
                memory=condition.memory,
                arriving=condition.memory,
                changed=np.zeros(odometer.shape, bool),
                left=0.0 * odometer,
            ),
        )


@pytest.mark.parametrize("pull", [0.5, 3.0, 20.0])
def test_a_life_that_decays_follows_the_exponential(pull):
    """y' = (1 - y) k: y = 1 - exp(-k x), from slow to stiff, within the tolerance of a step."""
    far = 30_000 * units.MILE
    world = Formula(lambda x, y: (1.0 - y) * pull / far, lambda x, y: 0.0)
    life = drive(world, 0, 30_000, sensitivity=1.0)
    expected = 1.0 - np.exp(-pull)
    assert life.condition.oxidation.item() == pytest.approx(expected, abs=TOLERANCE["oxidation"])
    assert not life.complained.any() and len(world.asked) < 60


@pytest.mark.parametrize("tenfold_in", [500.0, 5_000.0, 25_000.0])
def test_a_complaint_that_grows_like_wear_is_met(tenfold_in):
    """y' = k y from 0.1: it is felt as 1 after ln(10) / k, by hand; to 5 % of the miles, most of it from the first steps.

    The corrected step is off by a sixth of its distance from the predicted one (W. E. Milne's device for these two rules, even
    steps: error constants 5/12 and -1/12), so by up to a sixth of the tolerance: 3 % of 0.1 at the start.
    """
    k = np.log(10.0) / (tenfold_in * units.MILE)
    world = Formula(lambda x, y: k * y, lambda x, y: y)
    condition = new()
    condition.oxidation[:] = 0.1
    life = drive(world, 0, 30_000, condition=condition)
    assert life.complained.all()
    assert life.odometer.item() / units.MILE == pytest.approx(tenfold_in, rel=0.05)


@pytest.mark.parametrize("before", [0.0, 0.04, 0.99])
@pytest.mark.parametrize("after", [1.0001, 40.0])
@pytest.mark.parametrize("jump", [3.0, 777.7, 19_999.0])
def test_a_sudden_complaint_is_met(before, after, jump):
    """Felt jumps at one odometer: the life ends within 1 % or a quarter of a mile past it, never before it."""
    world = Formula(lambda x, y: 0.0, lambda x, y: np.where(x < jump * units.MILE, before, after))
    late = drive(world, 0, 30_000).odometer.item() / units.MILE - jump
    assert 0.0 <= late <= max(0.0101 * jump, 0.26)


@pytest.mark.parametrize("jump", [777.7, 19_999.0])
def test_a_sudden_complaint_after_a_slow_rise_is_met_as_closely(jump):
    """What grew slowly before does not pass for the growth of what then breaks, barely past the bar."""
    world = Formula(
        lambda x, y: 0.0,
        lambda x, y: np.where(x < jump * units.MILE, 0.5 + 0.2 * x / (jump * units.MILE), 1.0001),
    )
    late = drive(world, 0, 30_000).odometer.item() / units.MILE - jump
    assert 0.0 <= late <= max(0.0101 * jump, 0.26)


@pytest.mark.parametrize("error, share", [(1.001, 0.5), (1e6, 0.1), (0.999, 0.9), (1e-6, 3.0)])
def test_a_step_that_failed_is_halved_and_no_step_grows_past_its_bounds(error, share):
    """Just failed, far off, just good, much better than asked: half, a tenth, hardly longer, three times."""
    mile, one = np.full((1, 1), units.MILE), np.ones((1, 1))
    stepping = SimpleNamespace(wall=0.0 * one, cap=np.inf * one)
    lanes = SimpleNamespace(patience=lambda: one, stepping=stepping)
    trial = SimpleNamespace(error=error * one, order=3.0 * one, step=1000.0 * mile, ahead=5000.0 * mile)
    step = _next_step(lanes, trial, np.array([[error < 1.0]])).item() / (1000.0 * units.MILE)
    assert step == pytest.approx(share, rel=1e-3)


def test_a_rougher_world_is_the_same_one():
    """Vehicles, use and changes stay; only the pressure behind a racing engine is worked once."""
    world = with_cause("pump_worn_abrasive", 0.5, sound(), ONSET)
    rough = world.rougher()
    assert (rough.unit, rough.use, rough.passes) == (world.unit, world.use, 1)
    assert rough.base is world.base and rough.growths == world.growths
    exact, loose = (drive(world, ONSET, ONSET + 30_000, rough=rough) for rough in (1.0, 4.0))
    assert loose.odometer == pytest.approx(exact.odometer, rel=0.1)


def test_a_trouble_that_comes_and_goes_is_not_closed_in_on_for_ever():
    """A complaint that is there only in a predicted state does not hold a life up."""
    seen = []

    def felt(odometer, age):
        seen.append(len(seen))
        return np.where(len(seen) == 5, 1.5, 0.99) + 0.0 * odometer

    world = Formula(lambda x, y: 1e-9, felt)
    life = drive(world, 0, 30_000)
    assert not life.complained.any() and len(seen) < 60


def test_steps_stop_at_every_edge_of_a_change():
    """No step crosses an onset, the end of a growth, or the last meter of an event that passes."""
    mile = np.full((1, 1), units.MILE)
    change = Growth(change={}, onset=5_000 * mile, over=700 * mile, lasts=2_000 * mile)
    assert [edge.item() / units.MILE for edge in change.edges()] == pytest.approx(
        [5_000, 5_700, 7_000, 7_000], abs=0.001
    )
    world = Formula(lambda x, y: 0.0, lambda x, y: 0.0, growths=(change,))
    drive(world, 0, 30_000)
    asked = np.concatenate(world.asked)
    for edge in change.edges():
        assert np.abs(asked - edge).min() < 1e-3


# ---------------------------------------------------------------------- sound lives
@pytest.mark.parametrize("use", list(load_uses().uses))
def test_sound_vehicles_outlast_their_use(use):
    """Median of 12 draws: 25,000 miles of yard work, 80,000 of anything else, without a complaint."""
    expected = 25_000 if use == "yard" else 80_000
    life = drive(Fleet(SPEC, use, sound(12, seed=21)), 0.0, 2.0 * expected)
    assert np.median(life.odometer) / units.MILE > expected


def test_harder_use_wears_faster():
    """Lining lost and seals hardened after 30,000 miles: yard more than town, town more than highway."""
    lives = {
        use: drive(Fleet(SPEC, use, sound()), 0, 30_000, sensitivity=0.0)
        for use in ("highway", "town", "yard")
    }
    worn = [lives[use].condition.lining.sum() for use in ("highway", "town", "yard")]
    hard = [lives[use].condition.seal.sum() for use in ("highway", "town", "yard")]
    assert worn[0] < worn[1] < worn[2] and hard[0] < hard[1] < hard[2]


# ---------------------------------------------------------------------- bookkeeping
@pytest.mark.parametrize("cause", [c.id for c in POSSIBLE if c.sudden and not c.lasts_miles])
@pytest.mark.parametrize("severity", [0.0, 1.0])
def test_at_complaint_a_sudden_cause_is_there_in_full(cause, severity):
    """The parameters are the vehicle's own, changed by exactly what the data file says."""
    known = all_causes()[cause]
    parameters = sound(signal=known.signals[0], seed=2)
    world = with_cause(cause, severity, parameters, ONSET)
    life = drive(world, ONSET + 1.0, ONSET + 30_000, sensitivity=1.0)
    now = world.plant(life.odometer[:, None]).p
    changed = {}
    for effect in known.effects:
        name, column = parameter_place(load_unit(UNIT), effect.parameter)
        size = effect.severe if severity else effect.mild
        value = changed.get(name, parameters[name].copy())
        place = ... if column is None else (..., column)
        value[place] = {"set": 0 * value + size, "scale": value * size, "add": value + size}[effect.how][
            place
        ]
        changed[name] = value
    for name, value in parameters.items():
        np.testing.assert_allclose(
            getattr(now, name), changed.get(name, value), rtol=1e-12, atol=1e-30, err_msg=name
        )
    assert set(changed) and any(np.any(changed[n] != parameters[n]) for n in changed)


@pytest.mark.parametrize("cause", [c.id for c in POSSIBLE if not c.sudden])
def test_a_growing_cause_grows_in_a_straight_line(cause):
    """Nothing at onset, half at half the distance, all at the end and ever after."""
    known = all_causes()[cause]
    parameters = sound(signal=known.signals[0])
    world = with_cause(cause, 0.5, parameters, ONSET)
    over = known.sets_in_over_miles
    states = [
        parameters_at(parameters, world.growths, np.full((1, 1), (ONSET + share * over) * units.MILE))
        for share in (-1.0, 0.0, 0.5, 1.0, 5.0)
    ]
    for name in world.growths[0].change:
        before, start, half, full, after = (state[name] for state in states)
        np.testing.assert_array_equal(before, parameters[name])
        np.testing.assert_array_equal(start, parameters[name])
        np.testing.assert_allclose(half, 0.5 * (start + full), rtol=1e-9)
        np.testing.assert_allclose(
            full, after, rtol=1e-12, atol=1e-12 * np.abs(full).max() + 1e-12 * np.abs(start).max()
        )
        assert np.any(full != start)


def mixed_batch(rows=None):
    """Six different vehicles with a worsening leak; `rows` picks and orders them."""
    parameters = sound(6, seed=31)
    world = with_cause("fluid_low_external_leak", np.linspace(0, 1, 6), parameters, ONSET)
    return world if rows is None else world.rows(rows)


def test_the_order_of_vehicles_does_not_matter():
    """Each lane has its own steps: the same lives in any order and in any company."""
    order = np.array([3, 0, 5, 1])
    whole, some = drive(mixed_batch(), ONSET, 40_000), drive(mixed_batch(order), ONSET, 40_000)
    np.testing.assert_allclose(some.odometer, whole.odometer[order], rtol=1e-12)
    for name in PLAIN + PER_ELEMENT:
        expected = getattr(whole.condition.keep(order), name)
        np.testing.assert_allclose(
            getattr(some.condition, name), expected, rtol=1e-9, atol=1e-15, err_msg=name
        )


@pytest.mark.parametrize("use", ["town", "highway"])
def test_a_life_split_in_two_ends_the_same(use):
    """Parked over night at 37,000 miles; the steps differ, so entries agree to the error accepted of a step."""
    world = Fleet(SPEC, use, sound(4, seed=41))
    whole = drive(world, 0, 70_000, sensitivity=0.0)
    first = drive(world, 0, 37_000, sensitivity=0.0)
    second = drive(world, 37_000, 70_000, condition=first.condition, sensitivity=0.0)
    for name in PLAIN + PER_ELEMENT:
        ends = getattr(second.condition, name), getattr(whole.condition, name)
        np.testing.assert_allclose(*ends, rtol=0.01, atol=TOLERANCE[name], err_msg=name)


def test_a_complaint_does_not_depend_on_where_the_log_begins():
    """Starting to drive before the onset or at it, equally old: the same complaint, to 6 % of the miles since."""
    world = mixed_batch()
    aged = drive(world, ONSET - 3_000, ONSET, sensitivity=0.0).condition
    early, late = drive(world, ONSET - 3_000, 40_000), drive(world, ONSET, 40_000, condition=aged)
    since = [life.odometer / units.MILE - ONSET for life in (early, late)]
    np.testing.assert_allclose(since[0], since[1], rtol=0.06)


def test_the_company_a_life_is_in_does_not_matter(monkeypatch):
    """Two side by side, the others waiting until there is room: the same lives."""
    whole = drive(mixed_batch(), ONSET, 40_000)
    monkeypatch.setattr("course_lib.vehicle.life.AT_ONCE", 2)
    queued = drive(mixed_batch(), ONSET, 40_000)
    np.testing.assert_allclose(queued.odometer, whole.odometer, rtol=1e-12)
    for name in PLAIN + PER_ELEMENT:
        ends = getattr(queued.condition, name), getattr(whole.condition, name)
        np.testing.assert_allclose(*ends, rtol=1e-9, atol=1e-15, err_msg=name)


def test_lanes_that_are_parted_and_joined_are_the_same_lanes():
    """Every array of every part of their state follows its lane."""
    start, horizon = np.arange(8.0).reshape(2, 4, 1)
    lanes = _at_the_start(mixed_batch([0, 1, 2, 3]), new(4), start, horizon, np.ones((4, 2)), 1.0)
    again = lanes.keep(np.array([2, 0])).join(lanes.keep(np.array([False, True, False, True])))
    old, late = dict(arrays_of(lanes)), dict(arrays_of(again))
    assert len(old) > 30 and "lanes.search.held" in old and "lanes.here.memory.fill" in old
    for name, value in old.items():
        np.testing.assert_array_equal(late[name], value[[2, 0, 1, 3]], err_msg=name)


def arrays_of(batched, name="lanes"):
    """(name, array) of all that is in a structure of arrays."""
    for entry in fields(batched):
        value, place = getattr(batched, entry.name), f"{name}.{entry.name}"
        yield from [(place, value)] if isinstance(value, np.ndarray) else arrays_of(value, place)


def test_what_a_controller_remembers_follows_its_vehicle():
    """An electronic control remembers by element, shift and code, a hydraulic one nothing; it moves with its row."""
    assert all(value.size == 0 for value in new(3).memory.entries().values())
    unit = load_unit("E6")
    memory = new_condition(3, unit).memory
    codes = len(unit.control.codes)
    sizes = {"fill": len(unit.elements), "pressure": len(unit.shifts), "failed": codes, "passed": codes}
    assert {name: value.shape for name, value in memory.entries().items()} == {
        name: (3, 1, size) for name, size in sizes.items()
    }
    own = Memory(
        **{
            n: v + np.arange(3.0).reshape(3, 1, 1) + np.arange(v.shape[-1])
            for n, v in memory.entries().items()
        }
    )
    condition = replace(new_condition(3, unit), memory=own)
    turned = unpacked(packed(condition), own).keep(np.array([2, 0])).join(condition.keep(slice(1, 2))).memory
    blank, mixed = new_memory(3, unit), own.where(np.array([[True], [False], [True]]), memory)
    blank.put(np.array([0, 2]), own.keep(np.array([0, 2])))
    for name, value in own.entries().items():
        np.testing.assert_array_equal(getattr(turned, name), value[[2, 0, 1]])
        np.testing.assert_array_equal(getattr(mixed, name), value * np.array([1, 0, 1]).reshape(3, 1, 1))
        np.testing.assert_array_equal(getattr(blank, name), getattr(mixed, name))


def test_single_precision_lives_the_same_life():
    """Parameters in single precision: complaints within 1 % of the miles since onset."""
    world = mixed_batch()
    base = {name: value.astype(np.float32) for name, value in world.base.items()}
    growth = world.growths[0]
    change = {name: value.astype(np.float32) for name, value in growth.change.items()}
    single = Fleet(SPEC, world.use, base, (Growth(change=change, onset=growth.onset, over=growth.over),))
    exact, rough = (drive(w, ONSET, 40_000).odometer / units.MILE - ONSET for w in (world, single))
    np.testing.assert_allclose(rough, exact, rtol=0.01)


def test_an_event_leaves_its_wear_and_is_gone():
    """A leak that lasts 100 miles: the fluid lost is the area under it, by hand, and the plant is as before."""
    leak, mile = units.QUART / (100.0 * units.MILE), np.full((1, 1), units.MILE)
    passing = Growth(
        change={"leak_outside": np.full((1, 1), leak)},
        onset=1_000 * mile,
        over=1.0 * mile,
        lasts=100.0 * mile,
    )
    world = Fleet(SPEC, "highway", sound(leak_outside=0.0), (passing,))
    life = drive(world, 0, 3_000, sensitivity=0.0)
    # Half a mile is missing at the start, where it sets in, and half a meter at the end.
    area = (100.0 - 0.5) * units.MILE - 0.5
    assert life.condition.lost.item() == pytest.approx(leak * area, rel=1e-9)
    shares = [passing.share(odometer * mile).item() for odometer in (999, 1_000.5, 1_050, 1_100, 2_000)]
    assert shares == pytest.approx([0.0, 0.5, 1.0, 0.0, 0.0])
    assert world.plant(3_000 * mile).p.leak_outside.item() == 0.0


def test_no_step_jumps_over_a_burn_out():
    """A circuit that soon holds nothing wears only on the way there: a step across it would leave the pack sound.

    From the first mile or from the onset, the same char.
    """
    parameters = sound()
    more = np.zeros_like(parameters["element_leak"])
    more[..., 0] = 29.0 * parameters["element_leak"][..., 0]
    onset = np.full((1, 1), 60_000 * units.MILE)
    leak = Growth(change={"element_leak": more}, onset=onset, over=np.full((1, 1), 500 * units.MILE))
    world = Fleet(SPEC, "mixed", parameters, (leak,))
    whole = drive(world, 0, 61_000, sensitivity=0.0).condition
    aged = drive(world, 0, 60_000, sensitivity=0.0).condition
    apart = drive(world, 60_000, 61_000, condition=aged, sensitivity=0.0).condition
    assert whole.char[0, 0, 0] > 0.3
    assert whole.char[0, 0, 0] == pytest.approx(apart.char[0, 0, 0], abs=0.05)


def test_a_contented_driver_reaches_the_horizon():
    """Sensitivity 0 never complains; the odometer then stands at the horizon."""
    life = drive(mixed_batch(), ONSET, 26_000, sensitivity=0.0)
    assert not life.complained.any()
    np.testing.assert_allclose(life.odometer / units.MILE, 26_000, atol=1e-3)


def test_a_more_sensitive_driver_comes_earlier():
    """The same vehicle, five drivers; two may come in within the same hundredth of the miles."""
    parameters = sound(5)
    world = with_cause("pump_worn_abrasive", 0.5, parameters, ONSET)
    life = drive(world, ONSET + 1, 70_000, sensitivity=np.array([[0.2], [0.4], [0.7], [1.0], [1.5]]))
    assert np.all(np.diff(life.odometer) <= 0.0) and len(set(life.odometer)) >= 4


def test_drivers_of_one_vehicle_complain_as_each_does_alone():
    """They share the miles, so the order of their complaints is theirs and the place within what one is closed in on."""
    sensitivity, onset = (1.0, 0.5, 0.25, 0.1), 20_000.0
    world = mixed_batch().rows(slice(0, 4))
    count = len(world.base["line_base"])
    start, end = (np.full((count, 1), miles * units.MILE) for miles in (onset, onset + 30_000.0))
    aged = new(count)
    together = live(world, aged, start, end, np.tile(sensitivity, (count, 1)))
    for k, one in enumerate(sensitivity):
        alone = live(world, aged, start, end, np.full((count, 1), one))
        mine = slice(k, None, len(sensitivity))
        np.testing.assert_array_equal(together.complained[mine], alone.complained)
        gone, gone_alone = (x - onset * units.MILE for x in (together.odometer[mine], alone.odometer))
        # With air in the fluid what is felt hardly grows for some miles, so a complaint there is told less sharply in miles.
        np.testing.assert_allclose(gone, gone_alone, rtol=0.10, atol=3.0 * units.MILE)
    assert (np.diff(together.odometer.reshape(count, -1), axis=1) >= -units.MILE).all()
    assert together.complained.any()


def test_conditions_only_worsen_and_stay_possible():
    """Along a hard life nothing heals but the fluid, and no share passes 1."""
    world = with_cause("fluid_low_external_leak", np.linspace(0, 1, 3), sound(3, seed=1), 1_000, "yard")
    condition, odometer = new(3), 0.0
    for end in np.linspace(1_000, 6_000, 8):
        later = drive(world, odometer, end, condition=condition, sensitivity=0.0).condition
        for name in ("pump", "bushing", "lost", *PER_ELEMENT):
            assert np.all(getattr(later, name) >= getattr(condition, name) - 1e-15), name
        for name in ("bushing", "char", "seal", "holding"):
            assert getattr(later, name).max() <= 1.0, name
        assert np.all(later.lining <= world.base["element_lining"])
        condition, odometer = later, end


def test_events_are_logged_where_they_first_happen():
    """Fluid lost crosses half a quart once, where a straight leak puts it."""
    leak = units.QUART / (1000 * units.MILE)
    world = Fleet(SPEC, "highway", sound(leak_outside=leak))
    life = drive(
        world, 0, 3_000, sensitivity=0.0,
        events=lambda plant, condition, work: {"short": condition.lost[:, 0] > 0.5 * units.QUART},
    )  # fmt: skip
    assert life.condition.lost.item() == pytest.approx(3.0 * units.QUART, rel=1e-9)
    logged = life.events[0]["short"] / units.MILE
    assert 500.0 <= logged <= 3_000.0


def test_plates_are_hotter_than_the_sump_and_capped():
    """A long slide heats the plate by resistance times power; without slip it has the sump's temperature."""
    plant = Plant(SPEC, sound())
    work = plant.operate(new(), operation("D", throttle=0.4, road_speed=3.0, temperature=360.0))
    nothing = np.zeros_like(work.slip_power)
    spell = np.full((1, 1), 6.0)
    np.testing.assert_allclose(plate_temperature(plant, work, nothing, nothing, spell), 360.0)
    p = plant.p
    power = np.full_like(work.slip_power, 1000.0)
    warm = plate_temperature(plant, work, power, nothing, spell)[0, 0, 0] - 360.0
    time_constant = (p.element_thermal_resistance * p.element_thermal_capacity)[0, 0, 0]
    by_hand = 0.020 * 1000.0 * (1.0 - np.exp(-6.0 / time_constant))
    assert warm == pytest.approx(by_hand, rel=1e-9)
    assert plate_temperature(plant, work, power * 1e4, nothing, spell).max() == 580.0


def test_a_horizon_too_far_is_refused_in_one_line(monkeypatch):
    """Never an endless loop: the message says what to do."""
    monkeypatch.setattr("course_lib.vehicle.life.MOST_STEPS", 3)
    with pytest.raises(
        RuntimeError, match="lives must end within 3 steps, got 6 under way. Shorten the horizon"
    ):
        drive(mixed_batch(), ONSET, 40_000, sensitivity=0.0)


def test_growth_share_is_bounded():
    """0 before, 1 after."""
    growth = Growth(change={}, onset=np.array([[100.0]]), over=np.array([[50.0]]))
    shares = [growth.share(np.array([[x]])).item() for x in (0.0, 100.0, 125.0, 150.0, 1e9)]
    assert shares == [0.0, 0.0, 0.5, 1.0, 1.0]
    assert SMALLEST_STEP > 0.0


# ---------------------------------------------------------------------- the length of a step
def test_a_first_step_is_as_long_as_what_changes_fastest_allows():
    """Ten tolerances of the fastest entry, no shorter than the smallest step and no longer than the first may be."""
    elements = len(new().lining[0, 0])
    rate = np.zeros((3, packed(new()).shape[1]))
    rate[0, PLAIN.index("pump")] = TOLERANCE["pump"] / (50.0 * units.MILE)
    rate[1, PLAIN.index("pump")] = -TOLERANCE["pump"] / (1e-4 * units.MILE)
    rate[0, len(PLAIN) + elements * PER_ELEMENT.index("lining")] = TOLERANCE["lining"] / (100.0 * units.MILE)
    np.testing.assert_allclose(_opening(rate)[:, 0], [500.0 * units.MILE, SMALLEST_STEP, FIRST_STEP])


def test_no_entry_passes_what_there_is_of_it():
    """Linings no more than the element was built with, shares no more than all; metal and fluid as much as it comes to."""
    world = Fleet(SPEC, "mixed", sound(2))
    state = packed(new(2))
    most = unpacked(_most(world, state, len(ELEMENTS)), new(2).memory)
    np.testing.assert_array_equal(most.lining, world.base["element_lining"])
    assert np.all(most.char == 1.0) and np.all(most.seal == 1.0) and np.all(most.oxidation == 3.0)
    assert np.isinf(most.pump).all() and np.isinf(most.lost).all()


@pytest.mark.parametrize(
    "taken, overshot, ahead, far, halve",
    [
        (True, False, 40.0, 100.0, True),  # the bracket fell from 90 to 60: less than half
        (True, False, 60.0, 100.0, False),  # to 40
        (True, False, 100.0, np.inf, False),  # past it after all
        (False, True, 30.0, 30.0, False),  # seen nearer
        (False, True, 90.0, 90.0, True),
        (False, False, 40.0, 100.0, True),
    ],
)
def test_the_bracket_of_a_complaint_narrows_from_both_ends(taken, overshot, ahead, far, halve):
    """Its far end is the nearest overshoot; where a trial took away less than half of it, the next one halves it."""
    one = np.ones((1, 1))
    bracket = Bracket(far=100.0 * one, felt=0.7 * one, halve=one > 2)
    lanes = SimpleNamespace(bracket=bracket, here=SimpleNamespace(odometer=10.0 * one))
    _narrow(
        lanes, SimpleNamespace(ahead=ahead * one, felt=0.3 * one), np.array([[taken]]), np.array([[overshot]])
    )
    assert bracket.far.item() == far and (np.isinf(far) or bracket.halve.item() == halve)
    assert bracket.felt.item() == (0.3 if overshot else 0.7)


def test_a_step_goes_no_farther_than_the_next_edge_or_a_part_of_what_grows():
    """Before an onset up to it; while it grows, three tenths of its way or a mile; after it, as far as it likes."""
    mile = np.full((1, 1), units.MILE)
    slow = Growth(change={}, onset=1_000 * mile, over=1_000 * mile)
    quick = Growth(change={}, onset=5_000 * mile, over=2 * mile)
    world = Fleet(SPEC, "mixed", sound(), (slow, quick))
    for odometer, longest in (
        (400.0, 600.0),
        (1_000.0, 300.0),
        (1_900.0, 100.0),
        (2_000.0, 3_000.0),
        (5_000.0, 1.0),
        (5_002.0, np.inf),
    ):
        assert world.longest_step(odometer * mile).item() / units.MILE == pytest.approx(longest, rel=1e-6)
        assert world.at_edge(odometer * mile).item() == (odometer in (1_000.0, 2_000.0, 5_000.0, 5_002.0))
    for odometer, since in ((400.0, 400.0), (1_000.0, 0.0), (1_900.0, 900.0), (6_000.0, 5_000.0)):
        assert world.since(odometer * mile).item() / units.MILE == pytest.approx(since)


def test_every_change_adds_its_share_to_the_parameter_of_its_vehicle():
    """Half way, half of it, on top of another; of element parameters by element; the vehicle's own parameters stay as they are."""
    mile, base = np.full((1, 1), units.MILE), sound()
    one = {"pump_slip": np.full((1, 1), 4e-13), "element_hole": np.zeros_like(base["element_hole"])}
    one["element_hole"][..., 1] = 2e-6
    changes = (
        Growth(change=one, onset=1_000 * mile, over=1_000 * mile),
        Growth(
            change={"pump_slip": np.full((1, 1), 1e-13)}, onset=0 * mile, over=1 * mile, lasts=1_800 * mile
        ),
    )
    at = parameters_at(base, changes, 1_500 * mile)
    assert at["pump_slip"].item() == pytest.approx(base["pump_slip"].item() + 2e-13 + 1e-13)
    np.testing.assert_allclose(at["element_hole"][0, 0], [0.0, 1e-6, 0.0, 0.0, 0.0])
    assert parameters_at(base, changes, 5_000 * mile)["pump_slip"].item() == pytest.approx(
        base["pump_slip"].item() + 4e-13
    )
    assert base["element_hole"].max() == 0.0
