"""A vehicle lives its miles: wear, heat, leaks and aging over the odometer, until its driver complains.

Every lane of the batch is one vehicle with its own step length, so that a sudden failure in one does not slow down the others.
The odometer is in meters here.
"""

from __future__ import annotations

import numpy as np

from course_lib.base.arrays import Array, Flags, Places
from course_lib.vehicle.felt_troubles import sound_like
from course_lib.vehicle.first_noticed import UNFELT, felt_logarithm, ratio_or_zero
from course_lib.vehicle.fleet import Fleet
from course_lib.vehicle.life_lanes import (
    SMALLEST_STEP,
    Anew,
    Bracket,
    Here,
    Lanes,
    Listening,
    Stepping,
    Task,
    Trial,
    Warmth,
)
from course_lib.vehicle.life_log import Events, LifeLog, Lives
from course_lib.vehicle.operating_point import (
    PER_ELEMENT,
    PLAIN,
    Condition,
    packed,
    spread,
    unpacked,
)
from course_lib.vehicle.sump_balance import EXACT, STRIDE, BalanceSearch, day_mean

LONGEST_STEP = 12_874_752.0  # m, 8,000 miles
FIRST_STEP = 1_609_344.0  # m, 1,000 miles, at most, where no earlier step has taught a length
FAILED, SHRINK, GROW = 0.5, 0.1, 3.0  # of a step's length: most after a failure, least, most
CLOSE = 0.01  # of the miles since onset: how closely the moment of complaint is met,
CLOSEST = 402.336  # m, a quarter of a mile, or this
SETTLED = 1.0  # K, how closely the sump temperature must be known to go on; to begin, or to call it a complaint, EXACT
FROM_COLD, AGAIN = 40, 8  # times at most that a step is tried to find that out, from a cold start or not
FARTHEST = 25.0  # K, that one trial moves the guess: with air in the fluid the answer bends sharply
DOUBTED = 15.0  # K above a sound sump, from which a complaint is judged from a cold start only
HOPELESS = 5.0  # times the error that will do, from which no sump makes a step good
SWING = 10.0  # K, most that the guess is carried on from the steps before
STALE = 1 / 32  # share of lives that have ended, from which it pays to make room for others
AT_ONCE = 2048  # lives under way side by side; more only wait for memory
MOST_STEPS = 600  # of one life
# How far apart prediction and correction of a step may be, and the most there can be, in the unit of each entry.
TOLERANCE = dict.fromkeys(PLAIN + PER_ELEMENT, 0.02) | {"lost": 3e-5, "lining": 1.2e-5}
MOST = dict.fromkeys(PLAIN + PER_ELEMENT, 1.0) | dict.fromkeys(("lost", "pump", "lining"), np.inf)
MOST["oxidation"] = 3.0  # past which fluid cannot get any worse


# ---------------------------------------------------------------------- living the miles
def _at_the_start(
    fleet: Fleet, condition: Condition, odometer: Array, horizon: Array, sensitivity: Array, rough: float
) -> Lanes:
    """Every vehicle before its first mile."""
    state, zero = packed(condition), np.zeros(odometer.shape)
    count, no, still = np.arange(len(state)), np.zeros(len(state), bool), 0.0 * state
    sound = sound_like(fleet.plant(odometer), fleet.use).work.temperature.repeat(len(state), 0)
    task = Task(
        row=count,
        horizon=horizon,
        rough=zero + rough,
        drivers=sensitivity,
        most=_most(fleet, state, condition.lining.shape[-1]),
        sound=sound,
    )
    unfelt = zero + np.log(UNFELT)
    return Lanes(
        task=task,
        listening=Listening(turn=0 * count, tried=0 * count, ended=no),
        here=Here(
            odometer=odometer,
            state=state,
            memory=condition.memory,
            **dict.fromkeys(("rate", "before"), still),
            **dict.fromkeys(("past", "climb"), zero),
            felt=unfelt,
        ),
        stepping=Stepping(step=zero, stride=zero, wall=zero, cap=zero),
        bracket=Bracket(far=zero + np.inf, felt=zero, halve=no[:, None]),
        anew=Anew(on=no[:, None], memory=condition.memory, left=zero),
        sump=Warmth(here=sound, rise=0.0 * sound, found=0.0 * sound, cold=~no[:, None]),
        search=BalanceSearch.blank(*sound.shape),
    )


def _most(fleet: Fleet, state: Array, elements: int) -> Array:
    """What no entry of a state (n, k) passes: of the lining, what the element was built with."""
    most = np.tile(spread(MOST, elements), (len(state), 1))
    lining = len(PLAIN) + elements * PER_ELEMENT.index("lining")
    most[:, lining : lining + elements] = fleet.base["element_lining"][:, 0]
    return most


def worst_felt(strength: dict[str, Array]) -> Array:
    """The strongest trouble, (n, 1)."""
    worst: Array = np.max(list(strength.values()), axis=0)
    return worst


def live(
    fleet: Fleet,
    condition: Condition,
    odometer: Array,
    horizon: Array,
    sensitivity: Array,
    *,
    events: Events | None = None,
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
        fleet = fleet.rougher()
    waiting = _at_the_start(fleet, condition, odometer, horizon, sensitivity, rough)
    done = LifeLog(waiting)
    lanes, waiting = waiting.keep(slice(AT_ONCE)), waiting.keep(slice(AT_ONCE, None))
    here = fleet.rows(lanes.task.row)
    while len(lanes):
        trial = _try(here, lanes)
        taken = _judge(here, lanes, trial)
        heard = _heard(lanes, trial, taken)
        done.note(here, lanes, trial, taken, heard, events)
        _pass_on(lanes, trial, heard)
        if np.any(late := ~lanes.listening.ended & (lanes.listening.tried >= MOST_STEPS)):
            raise RuntimeError(
                f"lives must end within {MOST_STEPS} steps, got {late.sum()} under way. Shorten the horizon."
            )
        if lanes.listening.ended.sum() >= STALE * len(lanes):
            free = AT_ONCE - np.count_nonzero(~lanes.listening.ended)
            lanes = lanes.keep(~lanes.listening.ended).join(waiting.keep(slice(free)))
            waiting, here = waiting.keep(slice(free, None)), fleet.rows(lanes.task.row)
    return done.lives()


def _try(fleet: Fleet, lanes: Lanes) -> Trial:
    """Predict, evaluate once, correct."""
    h, sump, step = lanes.here, lanes.sump, _length(fleet, lanes)
    ahead = h.odometer + step
    judged = np.clip(h.state + _growth(h, step), 0.0, lanes.task.most)
    guess = sump.here + np.clip(step * sump.rise, -SWING, SWING)
    memory = lanes.anew.memory.where(lanes.anew.on, h.memory)
    condition = unpacked(judged, memory, fleet.base["element_lining"].dtype)
    warm = np.where(sump.found > 0.0, sump.found, guess)
    now = fleet.moment(ahead, condition, warm, lanes.counts(step))
    there = packed(now.rate)
    state = np.clip(h.state + 0.5 * step * (h.rate + there), 0.0, lanes.task.most)
    tolerance = spread(TOLERANCE, now.rate.lining.shape[-1])
    worst = worst_felt(now.strength)
    return Trial(
        step=step,
        ahead=ahead,
        judged=judged,
        state=state,
        remembers=now.remembers,
        changed=now.remembers.changed & ~lanes.anew.on,
        rate=there,
        error=(np.abs(state - judged) / tolerance).max(1, keepdims=True),
        order=np.where(h.past > 0.0, 3.0, 2.0),
        worst=worst,
        felt=felt_logarithm(worst * lanes.sensitivity()),
        strength=now.strength,
        work=now.work,
    )


def _growth(here: Here, step: Array) -> Array:
    """What the state (n, k) is predicted to grow by over a step [m]."""
    curve = ratio_or_zero(0.5 * step**2, here.past)
    grown = step * here.rate + curve * (here.rate - here.before)
    # Where growth comes to a sudden end, two rates do not make a line: nothing that is used up comes back.
    return np.where(here.rate < 0.0, np.minimum(grown, 0.0), np.maximum(grown, 0.0))


def _length(fleet: Fleet, lanes: Lanes) -> Array:
    """Length of the next trial step [m]: as the error allows, but into the bracket where a complaint has been seen ahead."""
    here, ahead = lanes.here, lanes.bracket
    gap = np.minimum(fleet.longest_step(here.odometer), lanes.task.horizon - here.odometer)
    step = np.minimum(np.maximum(lanes.stepping.step, SMALLEST_STEP), gap)
    seen = np.isfinite(ahead.far)
    bracket = np.where(seen, ahead.far - here.odometer, 0.0)
    aim = bracket * ratio_or_zero(-here.felt, ahead.felt - here.felt)
    close = _close(fleet, lanes, here.odometer + bracket)
    aim = np.where(ahead.halve, 0.5 * bracket, np.clip(aim + 0.2 * close, 0.1 * bracket, 0.9 * bracket))
    aim = np.where(bracket <= close, bracket, aim)
    step = np.where(seen, np.minimum(step, aim), step)
    return np.where((lanes.stepping.step == 0.0) | lanes.listening.ended[:, None], 0.0, step)


def _close(fleet: Fleet, lanes: Lanes, odometer: Array) -> Array:
    """How closely [m] the moment of complaint is wanted."""
    close: Array = np.maximum(CLOSEST, lanes.task.rough * CLOSE * fleet.since(odometer))
    return close


def _judge(fleet: Fleet, lanes: Lanes, trial: Trial) -> Flags:
    """Which lanes take their trial step, (n, 1); all lanes learn from it."""
    found = np.where(trial.changed, trial.work.temperature, _warm(fleet, lanes, trial))
    near = _near_enough(fleet, lanes, trial) | (lanes.weariness() > 10.0)
    known = _known(fleet, lanes, trial, found, near)
    steady = lanes.search.settled(SETTLED * lanes.loose())
    good = trial.fine(lanes.patience())
    fine, over = good & known, trial.complained() & known
    met = over & near
    taken = fine & (met | ~over) & ~lanes.listening.ended[:, None]
    _narrow(lanes, trial, taken, fine & over & ~met)
    edge = taken & fleet.at_edge(trial.ahead)
    _stretch(lanes, trial, known, fine, taken, edge)
    _advance(lanes, trial, taken, edge)
    rise = ratio_or_zero(found - lanes.sump.here, trial.step) * (~edge & steady)
    lanes.sump.here = np.where(taken, found, lanes.sump.here)
    lanes.sump.rise = np.where(taken, rise, lanes.sump.rise)
    lanes.listening.tried += ~(lanes.listening.ended | trial.changed[:, 0])
    _act(lanes, trial, known)
    return taken


def _act(lanes: Lanes, trial: Trial, known: Flags) -> None:
    """Where codes were stored on the way about which something is done, the same step is tried with that."""
    anew = lanes.anew
    anew.memory = trial.remembers.memory.where(trial.changed, anew.memory)
    anew.left = np.where(trial.changed, trial.remembers.left, anew.left)
    anew.on = (anew.on | trial.changed) & ~known


def _stretch(lanes: Lanes, trial: Trial, known: Flags, fine: Flags, taken: Flags, edge: Flags) -> None:
    """Choose the length of the next step; what could not be reached is remembered."""
    s = lanes.stepping
    fresh = taken & ((trial.step == 0.0) | edge)
    learned = np.where(known, _next_step(lanes, trial, fine), s.step)
    s.step = np.where(fresh, _opening(trial.rate), learned)
    s.stride = np.where(taken & np.isinf(lanes.bracket.far), s.step, s.stride)
    failed = known & ~fine
    s.wall = np.where(failed, trial.ahead, s.wall)
    s.cap = np.where(failed, FAILED * trial.step, s.cap)


def _advance(lanes: Lanes, trial: Trial, taken: Flags, edge: Flags) -> None:
    """Move the lanes that have taken their step to its end; at an edge nothing before is like what comes."""
    h = lanes.here
    h.before = np.where(taken, h.rate, h.before)
    h.past = np.where(taken, np.where(edge, 0.0, trial.step), h.past)
    h.climb = np.where(taken, ratio_or_zero(trial.felt - h.felt, trial.step), h.climb)
    h.state = np.where(taken, trial.state, h.state)
    h.memory = trial.remembers.memory.where(taken, h.memory)
    h.rate = np.where(taken, trial.rate, h.rate)
    h.felt = np.where(taken, trial.felt, h.felt)
    h.odometer = np.where(taken, trial.ahead, h.odometer)


def _heard(lanes: Lanes, trial: Trial, taken: Flags) -> Flags:
    """The drivers, (n, d), whose lives end with this step: those who complain here, and all who are left at the horizon."""
    left = np.arange(lanes.task.drivers.shape[1]) >= lanes.listening.turn[:, None]
    complain = trial.complained() & trial.heard_by(lanes.task.drivers)
    return taken & left & (complain | (lanes.here.odometer >= lanes.task.horizon - 1.0))


def _pass_on(lanes: Lanes, trial: Trial, heard: Flags) -> None:
    """Go on for the next driver, who is less easily troubled, where one has complained; end the lane after the last."""
    who, count = lanes.listening, heard.sum(1)
    last = lanes.task.drivers.shape[1] - 1
    who.ended = who.ended | ((count > 0) & (who.turn + count > last))
    who.turn = np.minimum(who.turn + count, last)
    on = (count > 0)[:, None] & ~who.ended[:, None]
    lanes.here.felt = np.where(on, felt_logarithm(trial.worst * lanes.sensitivity()), lanes.here.felt)
    lanes.stepping.step = np.where(
        on, np.maximum(lanes.stepping.step, lanes.stepping.stride), lanes.stepping.step
    )
    lanes.bracket.far, lanes.bracket.halve = (
        np.where(on, np.inf, lanes.bracket.far),
        lanes.bracket.halve & ~on,
    )
    who.tried = np.where(on[:, 0], 0, who.tried)


def _near_enough(fleet: Fleet, lanes: Lanes, trial: Trial) -> Flags:
    """Whether a trial past the complaint, (n, 1), is close behind it.

    A short step always is. A long one is when a straight line through what was felt says so, and what was felt before bears the
    line out: it would not where something sudden has happened in between.
    """
    close = _close(fleet, lanes, trial.ahead)
    rise = trial.felt - lanes.here.felt
    beyond = trial.step * ratio_or_zero(np.maximum(trial.felt, 0.0), rise)
    straight = (rise <= 2.0 * lanes.here.climb * trial.step) | (trial.felt < 0.5 * lanes.bracket.felt)
    near: Flags = (trial.step <= close) | ((beyond <= close) & straight)
    return near


def _warm(fleet: Fleet, lanes: Lanes, trial: Trial) -> Array:
    """Sump temperature [K] ahead, (n, m), as far as the trial tells."""
    free = np.isnan(fleet.duty.op.temperature)
    stride = np.where(lanes.sump.cold, STRIDE * lanes.loose(), FARTHEST)
    lanes.search.learn(trial.work.temperature, trial.work.settled, free, stride)
    return lanes.search.aim.copy()


def _known(fleet: Fleet, lanes: Lanes, trial: Trial, found: Array, near: Flags) -> Flags:
    """Whether the sump temperature was taken closely enough, (n, 1); if not, the same step is tried again with what was found.

    A step far past the complaint, or far off, is thrown back however warm it was. A complaint that is met hot counts only where the
    fluid would get as hot again after a night: the sump is carried along, and may stay hot where it would not.
    """
    sump = lanes.sump
    first, complained = trial.step == 0.0, trial.complained()
    enough = np.where(first | complained, EXACT, SETTLED) * lanes.loose()
    hotter = (trial.work.temperature - lanes.task.sound).mean(1, keepdims=True)
    settled = lanes.search.settled(enough)
    known = settled | (lanes.search.tries >= np.where(sump.cold, FROM_COLD, AGAIN))
    counts = complained & near & trial.fine(lanes.patience())
    counts &= ~(lanes.listening.ended[:, None] | trial.changed)
    doubted = known & counts & ~sump.cold & (hotter > DOUBTED)
    known |= ~first & ((complained & ~near) | ~trial.fine(HOPELESS * lanes.patience()))
    lanes.search.forget(known | trial.changed)
    known &= (
        settled | ~doubted
    ) & ~trial.changed  # what a few tries did not find is sought as patiently as from cold
    rows = np.flatnonzero(doubted)
    if len(rows):
        lower, start = _lower_balance(fleet, lanes, trial, rows)
        known[rows[lower]], found[rows[lower]] = False, start
    sump.found = np.where(known, 0.0, found)
    sump.cold[rows] = True
    sump.cold &= ~known
    return known


def _lower_balance(fleet: Fleet, lanes: Lanes, trial: Trial, rows: Places) -> tuple[Places, Array]:
    """Which of the lanes `rows` balance colder than they were found, and the sump temperatures, (k, m), to try for those.

    Every STRIDE on the way up from a sound sump is asked at one go: lanes that wait for each other would make many rounds of it.
    """
    free = np.isnan(fleet.duty.op.temperature)
    hot = day_mean(trial.work.temperature[rows], free)
    sound = day_mean(lanes.task.sound[rows], free)
    count = np.ceil((hot - sound) / (STRIDE * lanes.loose()[rows]))[:, 0].astype(int)
    first = np.cumsum(count) - count
    of = np.repeat(np.arange(len(rows)), count)
    nth = np.arange(len(of)) - first[of]
    asked = sound[of] + (hot - sound)[of] * (nth / count[of])[:, None]
    answer = _answer(fleet.rows(rows[of]), trial, rows[of], asked - hot[of], free)
    cold_enough = np.where(answer <= asked, nth[:, None], len(of))[:, 0]
    met = np.minimum.reduceat(cold_enough, first)
    lower = np.flatnonzero(met < count)
    place, rows = (first + met)[lower], rows[lower]
    lanes.search.above[rows] = asked[place]
    lanes.search.below[rows] = np.where(met[lower, None] > 0, asked[place - 1], -np.inf)
    return lower, np.where(
        free, trial.work.temperature[rows] + asked[place] - hot[lower], lanes.task.sound[rows]
    )


def _answer(fleet: Fleet, trial: Trial, rows: Places, colder: Array, free: Flags) -> Array:
    """Mean sump temperature [K], (k, 1), that the lanes `rows` of a trial would come to, begun so many kelvins from its own."""
    plant, work = fleet.plant(trial.ahead[rows]), trial.work
    seconds = fleet.duty.spent(plant.p.use_stops, plant.p.use_standing)
    warm = np.where(free, work.temperature[rows] + colder, work.temperature[rows])
    judged = unpacked(trial.judged[rows], trial.remembers.memory.keep(rows), work.temperature.dtype)
    return day_mean(plant.operate(judged, fleet.duty.op, seconds, warm).settled, free)


def _narrow(lanes: Lanes, trial: Trial, taken: Flags, overshot: Flags) -> None:
    """Move the ends of the bracket around the complaint."""
    seen = lanes.bracket
    old = seen.far - lanes.here.odometer
    passed = taken & (trial.ahead >= seen.far)
    seen.far = np.where(overshot, trial.ahead, np.where(passed, np.inf, seen.far))
    seen.felt = np.where(overshot, trial.felt, seen.felt)
    new = seen.far - np.where(taken, trial.ahead, lanes.here.odometer)
    seen.halve = np.isfinite(old) & (new > 0.5 * old)


def _opening(rate: Array) -> Array:
    """Length [m] of a step whose size no earlier step has taught, from how fast things change."""
    elements = (rate.shape[1] - len(PLAIN)) // len(PER_ELEMENT)
    fastest = (np.abs(rate) / spread(TOLERANCE, elements)).max(1, keepdims=True)
    step: Array = np.clip(10.0 / np.maximum(fastest, 1e-30), SMALLEST_STEP, FIRST_STEP)
    return step


def _next_step(lanes: Lanes, trial: Trial, fine: Flags) -> Array:
    """Length [m] to try next, from the error of this trial.

    A step that failed is at least halved, and none is longer before the odometer it could not reach: what is in the way there
    (a lining that begins to char) would only throw it back once more.
    """
    factor = 0.9 * np.maximum(trial.error / lanes.patience(), 1e-9) ** (-1.0 / trial.order)
    step = np.clip(factor, SHRINK, GROW) * trial.step
    cap = np.where(
        fine, np.where(trial.ahead < lanes.stepping.wall, lanes.stepping.cap, np.inf), FAILED * trial.step
    )
    length: Array = np.clip(np.minimum(step, cap), SMALLEST_STEP, LONGEST_STEP)
    return length
