"""A vehicle lives its miles: wear, heat, leaks and aging over the odometer, until its driver complains.

Every lane of the batch is one vehicle with its own step length, so that a sudden failure in one does not slow down the others.
The odometer is in meters here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from course_lib.vehicle.felt_troubles import sound_like
from course_lib.vehicle.first_noticed import UNFELT
from course_lib.vehicle.first_noticed import felt_logarithm as _logarithm
from course_lib.vehicle.first_noticed import ratio_or_zero as _over
from course_lib.vehicle.fleet import MILE, Fleet, parameters_at
from course_lib.vehicle.growth import Growth
from course_lib.vehicle.life_log import LifeLog, Lives
from course_lib.vehicle.operating_point import (
    PER_ELEMENT,
    PLAIN,
    Condition,
    Workings,
    packed,
    spread,
    unpacked,
)
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.sump_balance import EXACT, STRIDE, BalanceSearch, day_mean

__all__ = ("Growth", "Lives", "Fleet", "live", "parameters_at", "worst_felt")

SMALLEST_STEP = 0.05 * MILE  # is accepted whatever its error
LONGEST_STEP = 8000.0 * MILE
FIRST_STEP = 1000.0 * MILE  # at most, where no earlier step has taught a length
FAILED, SHRINK, GROW = 0.5, 0.1, 3.0  # of a step's length: most after a failure, least, most
CLOSE = 0.01  # of the miles since onset: how closely the moment of complaint is met,
CLOSEST = 0.25 * MILE  # or this
SETTLED = 1.0  # K, how closely the sump temperature must be known to go on; to begin, or to call it a complaint, EXACT
FROM_COLD, AGAIN = 40, 8  # times at most that a step is tried to find that out, from a cold start or not
FARTHEST = 25.0  # K, that one trial moves the guess: with air in the fluid the answer bends sharply
DOUBTED = 15.0  # K above a sound sump, from which a complaint is judged from a cold start only
HOPELESS = 5.0  # times the error that will do, from which no sump makes a step good
SWING = 10.0  # K, most that the guess is carried on from the steps before
STALE = 1 / 32  # share of lives that have ended, from which it pays to make room for others
AT_ONCE = 2048  # lives under way side by side; more only wait for memory
MOST_STEPS = 600  # of one life
PATIENT = 20.0  # steps after which a life is looked at less closely
# How far apart prediction and correction of a step may be, and the most there can be, in the unit of each entry.
TOLERANCE = dict.fromkeys(PLAIN + PER_ELEMENT, 0.02) | {"lost": 3e-5, "lining": 1.2e-5}
MOST = dict.fromkeys(PLAIN + PER_ELEMENT, 1.0) | dict.fromkeys(("lost", "pump", "lining"), np.inf)
MOST["oxidation"] = 3.0  # past which fluid cannot get any worse


# ---------------------------------------------------------------------- living the miles
@dataclass(slots=True, kw_only=True)
class _Lanes(BalanceSearch):
    """The vehicles under way, (n, 1) unless said otherwise: where they are, and what earlier trials have taught.

    As a `Search` it is that for the sump of the step that is being tried.
    """

    row: np.ndarray  # (n,) place in the batch
    horizon: np.ndarray  # m
    rough: np.ndarray  # how many times less exact than usual
    drivers: np.ndarray  # (n, d) sensitivity of each, the one who complains first at the head
    turn: np.ndarray  # (n,) the driver who is listened to
    most: np.ndarray  # (n, k) what no entry of the state passes
    odometer: np.ndarray  # m
    state: np.ndarray  # (n, k)
    rate: np.ndarray  # (n, k) per meter, here
    before: np.ndarray  # (n, k) the rate one step ago
    past: np.ndarray  # m of that step; 0: nothing before this is like it
    step: np.ndarray  # m to try next; 0: the rate here is not known yet
    wall: np.ndarray  # m, odometer that a step from behind could not reach
    cap: np.ndarray  # m, longest step before that
    felt: np.ndarray  # logarithm of sensitivity times the worst that is felt; a complaint from 0 on
    climb: np.ndarray  # 1/m, how that rose over the last step
    far: np.ndarray  # m, nearest odometer past the complaint
    far_felt: np.ndarray  # logarithm, as felt there
    halve: np.ndarray  # bool, the last trial narrowed down the complaint by less than half
    ended: np.ndarray  # (n,) bool
    tried: np.ndarray  # (n,) steps for this driver
    stride: np.ndarray  # m, step to take where no complaint is near
    warm: np.ndarray  # (n, m) K, sump at each point of the duty, here
    warmth: np.ndarray  # (n, m) K/m, how it rises
    found: np.ndarray  # (n, m) K, sump ahead as a trial found it, for the same step once more; 0: nothing
    sound: np.ndarray  # (n, m) K, sump of a sound vehicle
    cold: np.ndarray  # bool, the sump of this step is sought from that of a sound vehicle up

    def sensitivity(self) -> np.ndarray:
        """Of the driver who is listened to, (n, 1)."""
        return np.take_along_axis(self.drivers, self.turn[:, None], 1)

    def weariness(self) -> np.ndarray:
        """How many times as far off as at first will do, (n, 1): a life on the brink could be drawn out without end."""
        return 1.0 + (self.tried[:, None] / PATIENT) ** 3

    def loose(self) -> np.ndarray:
        """How many times as loosely the sump may be known, (n, 1): the miles ask less of it than of the steps."""
        return np.sqrt(self.rough)

    def patience(self) -> np.ndarray:
        """How many times the tolerance is good enough, (n, 1)."""
        return self.rough * self.weariness()

    def join(self, others: _Lanes) -> _Lanes:
        """These lanes and others after them."""
        names = [entry.name for entry in fields(self)]
        return _Lanes(**{n: np.concatenate([getattr(self, n), getattr(others, n)]) for n in names})


def _at_the_start(world: Fleet, condition: Condition, odometer, horizon, sensitivity, rough) -> _Lanes:
    """Every vehicle before its first mile."""
    state, zero = packed(condition), np.zeros(odometer.shape)
    no, count = np.zeros(len(state), bool), np.arange(len(state))
    sound = sound_like(world.plant(odometer), world.use).work.temperature.repeat(len(state), 0)
    nowhere, unfelt, still = zero + np.inf, zero + np.log(UNFELT), 0.0 * state
    search = BalanceSearch.blank(*sound.shape)
    nought = dict.fromkeys(("past", "step", "wall", "cap", "climb", "far_felt", "stride"), zero)
    return _Lanes(
        **{entry.name: getattr(search, entry.name) for entry in fields(search)},
        **nought,
        row=count,
        horizon=horizon,
        rough=zero + rough,
        drivers=sensitivity,
        turn=0 * count,
        most=_most(world, state, condition.lining.shape[-1]),
        odometer=odometer,
        state=state,
        rate=still,
        before=still,
        felt=unfelt,
        far=nowhere,
        halve=no[:, None],
        ended=no,
        tried=0 * count,
        warm=sound,
        warmth=0.0 * sound,
        found=0.0 * sound,
        sound=sound,
        cold=~no[:, None],
    )


def _most(world: Fleet, state: np.ndarray, elements: int) -> np.ndarray:
    """What no entry of a state (n, k) passes: of the lining, what the element was built with."""
    most = np.tile(spread(MOST, elements), (len(state), 1))
    lining = len(PLAIN) + elements * PER_ELEMENT.index("lining")
    most[:, lining : lining + elements] = world.base["element_lining"][:, 0]
    return most


@dataclass(frozen=True, slots=True)
class _Trial:
    """What a trial step of every lane came to."""

    step: np.ndarray  # m (n, 1)
    ahead: np.ndarray  # m (n, 1), odometer there
    judged: np.ndarray  # (n, k), as predicted: rate, strength and work are of this state
    state: np.ndarray  # (n, k), as corrected: from here it goes on
    rate: np.ndarray  # (n, k)
    error: np.ndarray  # (n, 1), in units of the tolerance
    order: np.ndarray  # (n, 1), power of the step that the error goes with
    worst: np.ndarray  # (n, 1), the strongest trouble
    felt: np.ndarray  # (n, 1), logarithm, to the driver who is listened to
    strength: dict[str, np.ndarray]
    work: Workings

    def complained(self) -> np.ndarray:
        """Whether the driver complains there, (n, 1)."""
        return self.felt >= 0.0

    def heard_by(self, drivers) -> np.ndarray:
        """Which drivers, (n, d) by their sensitivity, have had enough."""
        return _logarithm(self.worst * drivers) >= 0.0

    def fine(self, patience) -> np.ndarray:
        """Whether the step is accurate enough, so many times the tolerance, or cannot be shorter, (n, 1)."""
        return (self.error < patience) | (self.step <= 1.01 * SMALLEST_STEP)


def worst_felt(strength: dict[str, np.ndarray]) -> np.ndarray:
    """The strongest trouble, (n, 1)."""
    return np.max(list(strength.values()), axis=0)


def live(
    world: Fleet,
    condition: Condition,
    odometer: np.ndarray,
    horizon: np.ndarray,
    sensitivity: np.ndarray,
    *,
    events: Callable[[Plant, Condition, Workings], dict[str, np.ndarray]] | None = None,
    rough: float = 1.0,
) -> Lives:
    """Drive every vehicle from `odometer` until its driver complains or it reaches `horizon`.

    odometer and horizon [m] have shape (n, 1), sensitivity (n, d), falling: d drivers of the same vehicle, each a life of its
    own; they share the miles, so that all of them cost little more than one. A driver complains when sensitivity times the
    strongest felt trouble reaches 1. Method: one evaluation a step. The rule of Adams and Bashforth, second order with uneven
    steps, predicts; the trapezoid with the rate found there corrects; how far the two are apart judges the step, for each
    vehicle by itself. The moment of complaint is closed in on by trial steps, never by interpolation through a sudden change.
    rough: how many times less exact the steps, the sump and the moment of complaint may be, where speed counts for more.
    Raises RuntimeError when a life takes more than `MOST_STEPS` steps.
    """
    if rough > 1.0:
        world = world.rougher()
    waiting = _at_the_start(world, condition, odometer, horizon, sensitivity, rough)
    done = LifeLog(waiting)
    lanes, waiting = waiting.keep(slice(AT_ONCE)), waiting.keep(slice(AT_ONCE, None))
    here = world.rows(lanes.row)
    while len(lanes.row):
        trial = _try(here, lanes)
        taken = _judge(here, lanes, trial)
        heard = _heard(lanes, trial, taken)
        done.note(here, lanes, trial, taken, heard, events)
        _pass_on(lanes, trial, taken, heard)
        if np.any(late := ~lanes.ended & (lanes.tried >= MOST_STEPS)):
            raise RuntimeError(
                f"lives must end within {MOST_STEPS} steps, got {late.sum()} under way. Shorten the horizon."
            )
        if lanes.ended.sum() >= STALE * len(lanes.row):
            free = AT_ONCE - np.count_nonzero(~lanes.ended)
            lanes = lanes.keep(~lanes.ended).join(waiting.keep(slice(free)))
            waiting, here = waiting.keep(slice(free, None)), world.rows(lanes.row)
    return done.lives()


def _try(world: Fleet, lanes: _Lanes) -> _Trial:
    """Predict, evaluate once, correct."""
    step = _length(world, lanes)
    ahead = lanes.odometer + step
    curve = _over(0.5 * step**2, lanes.past)
    grown = step * lanes.rate + curve * (lanes.rate - lanes.before)
    # Where growth comes to a sudden end, two rates do not make a line: nothing that is used up comes back.
    grown = np.where(lanes.rate < 0.0, np.minimum(grown, 0.0), np.maximum(grown, 0.0))
    judged = np.clip(lanes.state + grown, 0.0, lanes.most)
    dtype = world.base["element_lining"].dtype
    warm = np.where(lanes.found > 0.0, lanes.found, lanes.warm + np.clip(step * lanes.warmth, -SWING, SWING))
    rate, work, strength = world.slope(ahead, unpacked(judged, dtype), warm)
    there = packed(rate)
    state = np.clip(lanes.state + 0.5 * step * (lanes.rate + there), 0.0, lanes.most)
    tolerance = spread(TOLERANCE, rate.lining.shape[-1])
    apart = (np.abs(state - judged) / tolerance).max(1, keepdims=True)
    order = np.where(lanes.past > 0.0, 3.0, 2.0)
    worst = worst_felt(strength)
    felt = _logarithm(worst * lanes.sensitivity())
    return _Trial(step, ahead, judged, state, there, apart, order, worst, felt, strength, work)


def _length(world: Fleet, lanes: _Lanes) -> np.ndarray:
    """Length of the next trial step [m]: as the error allows, but into the bracket where a complaint has been seen ahead."""
    gap = np.minimum(world.longest_step(lanes.odometer), lanes.horizon - lanes.odometer)
    step = np.minimum(np.maximum(lanes.step, SMALLEST_STEP), gap)
    seen = np.isfinite(lanes.far)
    bracket = np.where(seen, lanes.far - lanes.odometer, 0.0)
    aim = bracket * _over(-lanes.felt, lanes.far_felt - lanes.felt)
    close = _close(world, lanes, lanes.odometer + bracket)
    aim = np.where(lanes.halve, 0.5 * bracket, np.clip(aim + 0.2 * close, 0.1 * bracket, 0.9 * bracket))
    aim = np.where(bracket <= close, bracket, aim)
    step = np.where(seen, np.minimum(step, aim), step)
    return np.where((lanes.step == 0.0) | lanes.ended[:, None], 0.0, step)


def _close(world: Fleet, lanes: _Lanes, odometer) -> np.ndarray:
    """How closely [m] the moment of complaint is wanted."""
    return np.maximum(CLOSEST, lanes.rough * CLOSE * world.since(odometer))


def _judge(world: Fleet, lanes: _Lanes, trial: _Trial) -> np.ndarray:
    """Which lanes take their trial step, (n, 1); all lanes learn from it."""
    patience = lanes.patience()
    found = _warm(world, lanes, trial)
    near = _near_enough(world, lanes, trial) | (lanes.weariness() > 10.0)
    known = _known(world, lanes, trial, found, near)
    steady = lanes.settled(SETTLED * lanes.loose())
    fine, over = trial.fine(patience) & known, trial.complained() & known
    met = over & near
    taken = fine & (met | ~over) & ~lanes.ended[:, None]
    _narrow(lanes, trial, taken, fine & over & ~met)
    edge = taken & world.at_edge(trial.ahead)
    fresh = taken & ((trial.step == 0.0) | edge)
    learned = np.where(known, _next_step(lanes, trial, fine), lanes.step)
    lanes.step = np.where(fresh, _opening(trial.rate), learned)
    lanes.stride = np.where(taken & np.isinf(lanes.far), lanes.step, lanes.stride)
    failed = known & ~fine
    lanes.wall = np.where(failed, trial.ahead, lanes.wall)
    lanes.cap = np.where(failed, FAILED * trial.step, lanes.cap)
    lanes.before = np.where(taken, lanes.rate, lanes.before)
    lanes.past = np.where(taken, np.where(edge, 0.0, trial.step), lanes.past)
    rise = _over(found - lanes.warm, trial.step) * (~edge & steady)
    lanes.warm = np.where(taken, found, lanes.warm)
    lanes.warmth = np.where(taken, rise, lanes.warmth)
    lanes.climb = np.where(taken, _over(trial.felt - lanes.felt, trial.step), lanes.climb)
    for name in ("state", "rate", "felt"):
        setattr(lanes, name, np.where(taken, getattr(trial, name), getattr(lanes, name)))
    lanes.odometer = np.where(taken, trial.ahead, lanes.odometer)
    lanes.tried += ~lanes.ended
    return taken


def _heard(lanes: _Lanes, trial: _Trial, taken) -> np.ndarray:
    """The drivers, (n, d), whose lives end with this step: those who complain here, and all who are left at the horizon."""
    left = np.arange(lanes.drivers.shape[1]) >= lanes.turn[:, None]
    complain = trial.complained() & trial.heard_by(lanes.drivers)
    return taken & left & (complain | (lanes.odometer >= lanes.horizon - 1.0))


def _pass_on(lanes: _Lanes, trial: _Trial, taken, heard) -> None:
    """Go on for the next driver, who is less easily troubled, where one has complained; end the lane after the last."""
    count = heard.sum(1)
    last = lanes.drivers.shape[1] - 1
    lanes.ended = lanes.ended | ((count > 0) & (lanes.turn + count > last))
    lanes.turn = np.minimum(lanes.turn + count, last)
    on = (count > 0)[:, None] & ~lanes.ended[:, None]
    lanes.felt = np.where(on, _logarithm(trial.worst * lanes.sensitivity()), lanes.felt)
    lanes.step = np.where(on, np.maximum(lanes.step, lanes.stride), lanes.step)
    lanes.far, lanes.halve = np.where(on, np.inf, lanes.far), lanes.halve & ~on
    lanes.tried = np.where(on[:, 0], 0, lanes.tried)


def _near_enough(world: Fleet, lanes: _Lanes, trial: _Trial) -> np.ndarray:
    """Whether a trial past the complaint, (n, 1), is close behind it.

    A short step always is. A long one is when a straight line through what was felt says so, and what was felt before bears the
    line out: it would not where something sudden has happened in between.
    """
    close = _close(world, lanes, trial.ahead)
    rise = trial.felt - lanes.felt
    beyond = trial.step * _over(np.maximum(trial.felt, 0.0), rise)
    straight = (rise <= 2.0 * lanes.climb * trial.step) | (trial.felt < 0.5 * lanes.far_felt)
    return (trial.step <= close) | ((beyond <= close) & straight)


def _warm(world: Fleet, lanes: _Lanes, trial: _Trial) -> np.ndarray:
    """Sump temperature [K] ahead, (n, m), as far as the trial tells."""
    free = np.isnan(world.duty.op.temperature)
    stride = np.where(lanes.cold, STRIDE * lanes.loose(), FARTHEST)
    lanes.learn(trial.work.temperature, trial.work.settled, free, stride)
    return lanes.aim.copy()


def _known(world: Fleet, lanes: _Lanes, trial: _Trial, found, near) -> np.ndarray:
    """Whether the sump temperature was taken closely enough, (n, 1); if not, the same step is tried again with what was found.

    A step far past the complaint, or far off, is thrown back however warm it was. A complaint that is met hot counts only where the
    fluid would get as hot again after a night: the sump is carried along, and may stay hot where it would not.
    """
    first, complained = trial.step == 0.0, trial.complained()
    enough = np.where(first | complained, EXACT, SETTLED) * lanes.loose()
    hotter = (trial.work.temperature - lanes.sound).mean(1, keepdims=True)
    settled = lanes.settled(enough)
    known = settled | (lanes.tries >= np.where(lanes.cold, FROM_COLD, AGAIN))
    counts = complained & near & trial.fine(lanes.patience()) & ~lanes.ended[:, None]
    doubted = known & counts & ~lanes.cold & (hotter > DOUBTED)
    known |= ~first & ((complained & ~near) | ~trial.fine(HOPELESS * lanes.patience()))
    lanes.forget(known)
    known &= settled | ~doubted  # what a few tries did not find is sought as patiently as from cold
    rows = np.flatnonzero(doubted)
    if len(rows):
        lower, start = _lower_balance(world, lanes, trial, rows)
        known[rows[lower]], found[rows[lower]] = False, start
    lanes.found = np.where(known, 0.0, found)
    lanes.cold[rows] = True
    lanes.cold &= ~known
    return known


def _lower_balance(world: Fleet, lanes: _Lanes, trial: _Trial, rows) -> tuple[np.ndarray, np.ndarray]:
    """Which of the lanes `rows` balance colder than they were found, and the sump temperatures, (k, m), to try for those.

    Every STRIDE on the way up from a sound sump is asked at one go: lanes that wait for each other would make many rounds of it.
    """
    free = np.isnan(world.duty.op.temperature)
    hot = day_mean(trial.work.temperature[rows], free)
    sound = day_mean(lanes.sound[rows], free)
    count = np.ceil((hot - sound) / (STRIDE * lanes.loose()[rows]))[:, 0].astype(int)
    first = np.cumsum(count) - count
    of = np.repeat(np.arange(len(rows)), count)
    nth = np.arange(len(of)) - first[of]
    asked = sound[of] + (hot - sound)[of] * (nth / count[of])[:, None]
    answer = _answer(world.rows(rows[of]), trial, rows[of], asked - hot[of], free)
    cold_enough = np.where(answer <= asked, nth[:, None], len(of))[:, 0]
    met = np.minimum.reduceat(cold_enough, first)
    lower = np.flatnonzero(met < count)
    place, rows = (first + met)[lower], rows[lower]
    lanes.above[rows] = asked[place]
    lanes.below[rows] = np.where(met[lower, None] > 0, asked[place - 1], -np.inf)
    return lower, np.where(free, trial.work.temperature[rows] + asked[place] - hot[lower], lanes.sound[rows])


def _answer(world: Fleet, trial: _Trial, rows, colder, free) -> np.ndarray:
    """Mean sump temperature [K], (k, 1), that the lanes `rows` of a trial would come to, begun so many kelvins from its own."""
    plant, work = world.plant(trial.ahead[rows]), trial.work
    seconds = world.duty.spent(plant.p.use_stops, plant.p.use_standing)
    warm = np.where(free, work.temperature[rows] + colder, work.temperature[rows])
    judged = unpacked(trial.judged[rows], work.temperature.dtype)
    return day_mean(plant.operate(judged, world.duty.op, seconds, warm).settled, free)


def _narrow(lanes: _Lanes, trial: _Trial, taken, overshot) -> None:
    """Move the ends of the bracket around the complaint."""
    old = lanes.far - lanes.odometer
    passed = taken & (trial.ahead >= lanes.far)
    lanes.far = np.where(overshot, trial.ahead, np.where(passed, np.inf, lanes.far))
    lanes.far_felt = np.where(overshot, trial.felt, lanes.far_felt)
    new = lanes.far - np.where(taken, trial.ahead, lanes.odometer)
    lanes.halve = np.isfinite(old) & (new > 0.5 * old)


def _opening(rate: np.ndarray) -> np.ndarray:
    """Length [m] of a step whose size no earlier step has taught, from how fast things change."""
    elements = (rate.shape[1] - len(PLAIN)) // len(PER_ELEMENT)
    fastest = (np.abs(rate) / spread(TOLERANCE, elements)).max(1, keepdims=True)
    return np.clip(10.0 / np.maximum(fastest, 1e-30), SMALLEST_STEP, FIRST_STEP)


def _next_step(lanes: _Lanes, trial: _Trial, fine) -> np.ndarray:
    """Length [m] to try next, from the error of this trial.

    A step that failed is at least halved, and none is longer before the odometer it could not reach: what is in the way there
    (a lining that begins to char) would only throw it back once more.
    """
    factor = 0.9 * np.maximum(trial.error / lanes.patience(), 1e-9) ** (-1.0 / trial.order)
    step = np.clip(factor, SHRINK, GROW) * trial.step
    cap = np.where(fine, np.where(trial.ahead < lanes.wall, lanes.cap, np.inf), FAILED * trial.step)
    return np.clip(np.minimum(step, cap), SMALLEST_STEP, LONGEST_STEP)
