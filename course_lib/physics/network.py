"""The electrical circuit: every node of it for meter and scope, and what the solenoids get for lives."""

from dataclasses import dataclass, fields, replace
from typing import NamedTuple, Self

import numpy as np

from course_lib.base.arrays import Array, Flags, Places, Values

STRAY = 1e-9  # S, from every node to ground: a thousand megohm, a hundred times what a meter takes
OPEN = 3e4  # ohm, an open circuit: what is above it counts as this, some tenths of a milliampere
UNLIMITED = 100.0  # A, more than any driver is asked for: it is simply on
MOST_DUTY = 0.95  # -, a driver needs the rest of each period to look at its pin (common practice, no source)
PASSES = 12  # most; sound circuits need two or three
SETTLED = 1e-4  # of the voltage across the coils, from one pass to the next
SAFE = 1e-2  # of an unloaded supply's slope, the least: at a fold there is none left, and a step goes far
NEAR = 0.02  # of the battery's voltage: less than this is dropped in a sound circuit
PAST = 1.0 + 1e-3  # of the way to a corner: just on the other side
LEAST = 1e-6  # V, keeps a dead battery from dividing by zero


@dataclass(frozen=True, slots=True)
class Coils:
    """Solenoids in their circuits, one on the last axis each; a driver at the far end pulses each to ground.

    coil      feed to the pin: coil as warm as it is, contacts on the way [ohm]
    wire      pin to the driver's switch: contacts, wire, driver [ohm], above 0
    leak      pin to the body; 0 sound [S]
    feed      which feed each hangs on, counted from 0 [-]
    """

    coil: Array
    wire: Array
    leak: Array
    feed: Places


@dataclass(frozen=True, slots=True)
class PowerSupply:
    """What feeds solenoids and controller; one number a vehicle, feeds on the last axis.

    battery   open voltage of battery or charging system [V]
    source    its resistance, with what all share on the way out [ohm]
    relay     fuse, relay and wire to the splice of the feeds [ohm]
    feeds     splice to the coils, one for each feed [ohm]
    ground    controller to the battery's other pole [ohm]
    base      the controller itself as a load, above 0 [ohm]
    """

    battery: Values
    source: Values
    relay: Values
    feeds: Array
    ground: Values
    base: Values


@dataclass(frozen=True, slots=True)
class Currents:
    """What regulated drivers bring about, see `regulated_currents`; voltages against the body.

    current    through each coil [A]
    measured   of that, what returns through the driver, so that the controller sees it [A]
    duty       of each driver [-]
    feeds      at the coils, one for each feed [V]
    splice     behind the relay [V]
    ground     of the controller [V]
    supply     across the controller, which measures it [V]
    """

    current: Array
    measured: Array
    duty: Array
    feeds: Array
    splice: Array
    ground: Array
    supply: Array


def node_voltages(ends: Places, conductance: Array, source: Array, ground: int = 0) -> Array:
    """Voltage of every node of a circuit of conductances and source currents.

        sum over the branches of a node of g (v - v') = j for every node but the ground;   v = 0 there

    Parameters                                                                       symbol  unit
        ends          Places   the two nodes of each branch (branches, 2)              -       [-]
        conductance   Array    of each branch (..., branches), 0 or more               g       [S]
        source        Array    current put into each node (..., nodes)                 j       [A]
        ground        int      node from which voltages count                          -       [-]
    Returns
        Array (..., nodes), broadcast of the leading axes                              v       [V]
    Valid for
        0 and 1e-7 to 1e4 S. A battery is a conductance with a source current g V out of one end into the other; a
        regulated driver is the currents that `Currents` gives. Every node has a stray conductance of 1e-9 S
        to ground, so that one that hangs free reads 0. Solved in double precision.
    Raises
        ValueError if a branch ends at no node.
    Source
        Kirchhoff's current law, nodal analysis: Hayt and Kemmerly, Engineering Circuit Analysis (from memory).
    In the workshop
        what flows into a joint flows out of it; the drops around a circuit add up to the battery.
    Example
        >>> divider = np.array([[0, 1], [1, 2], [2, 0]])
        >>> node_voltages(divider, np.array([100.0, 1e-3, 1e-3]), np.array([0.0, 500.0, 0.0])).round(2)
        array([0. , 5. , 2.5])
    """
    nodes = source.shape[-1]
    if ends.min() < 0 or ends.max() >= nodes:
        raise ValueError(f"ends must be nodes 0 to {nodes - 1}, got {ends.max()}. Add the node to `source`.")
    branch = np.arange(len(ends))
    incidence = np.zeros((len(ends), nodes))
    incidence[branch, ends[:, 0]] += 1.0
    incidence[branch, ends[:, 1]] -= 1.0
    free = np.delete(np.arange(nodes), ground)
    reduced = incidence[:, free]
    stamps = (reduced[:, :, None] * reduced[:, None, :]).reshape(len(ends), -1)
    matrix = (conductance @ stamps).reshape(*conductance.shape[:-1], nodes - 1, nodes - 1)
    matrix += STRAY * np.eye(nodes - 1)
    solved = np.linalg.solve(matrix, source[..., free].astype(float)[..., None])[..., 0]
    found = np.zeros((*solved.shape[:-1], nodes), np.result_type(conductance, source))
    found[..., free] = solved
    return found


def branch_currents(ends: Places, conductance: Array, voltage: Array) -> Array:
    """Current of every branch, from its first end to its second.

        i = g (v - v')

    Parameters                                                                       symbol  unit
        ends          Places   the two nodes of each branch (branches, 2)              -       [-]
        conductance   Array    of each branch (..., branches)                          g       [S]
        voltage       Array    of each node (..., nodes), see `node_voltages`          v       [V]
    Returns
        Array (..., branches)                                                          i       [A]
    Valid for
        branches without a source; a battery delivers its source current less this.
    Source
        Ohm's law.
    In the workshop
        no current, no drop: measure a voltage drop with the load on.
    Example
        >>> ends, volts = np.array([[0, 1], [1, 2], [2, 0]]), np.array([0.0, 5.0, 2.5])
        >>> branch_currents(ends, np.array([100.0, 1e-3, 1e-3]), volts).round(4).tolist()
        [-500.0, 0.0025, 0.0025]
    """
    return conductance * (voltage[..., ends[:, 0]] - voltage[..., ends[:, 1]])


def regulated_currents(
    wanted: Array, coils: Coils, supply: PowerSupply, most_duty: Values = MOST_DUTY
) -> Currents:
    """Currents of solenoids whose drivers regulate by pulses, over feeds, relay and ground that they share.

        feed to pin: I R = Vf - Vp;   pin: I = m + G Vp;   pin to switch: m r = Vp - [d Vg + (1 - d) Vf];
        m = min(wanted, m at the most duty), not below 0;   each takes G Vp + d m from its feed, d m goes to ground

    Parameters                                                                       symbol   unit
        wanted      Array            current asked of each driver (..., solenoids)     -        [A]
        coils       Coils            the solenoids' circuits                           R r G    [SI]
        supply      PowerSupply           what feeds them                                   -        [SI]
        most_duty   float or array   (solenoids); 1 for one that is only switched      d        [-]
    Returns
        Currents of coils, drivers, duty and voltages                                  -        [mixed]
    Valid for
        pulses that are short beside the coil's time constant, an ideal diode at the coil. An open circuit may be
        infinite; with nothing switched on behind it, it drops nothing. An on/off solenoid is asked for infinite
        current. Past a fold, where no duty gives all that is wanted, supply falls to where the nearest driver
        saturates; before it, it is as after switching on.
    Source
        Averaged switch and Kirchhoff's laws; Newton's method from above, so the highest solution is found.
    In the workshop
        the driver makes up for a bad contact until its duty is used up; then all that share it weaken together.
    Example
        >>> one = Coils(np.array([7.0]), np.array([0.4]), np.array([0.0]), np.array([0]))
        >>> feeds = [PowerSupply(13.5, 0.02, 0.02, np.array([r]), 0.02, 30.0) for r in (0.03, 4.0, 8.0)]
        >>> [regulated_currents(np.array([1.0]), one, feed).current.round(3).item() for feed in feeds]
        [1.0, 1.0, 0.873]
    """
    lanes, circuit = _circuit(wanted, coils, supply, most_duty)
    state = _settled(circuit)
    measured, ground, feeds = state.measured, state.ground, state.across + state.ground
    grounded, drawn = (flow.sum(0) for flow in _flows(circuit, state))
    source = circuit.battery - circuit.source * (drawn + _base_current(circuit, grounded, drawn))
    current = measured + circuit.drain * (feeds[circuit.feed] - measured * circuit.coil)
    duty = np.where(state.full, circuit.most_duty, state.duty * (measured > 0.0))
    many = (each.T.reshape(*lanes, len(each)) for each in (current, measured, duty, feeds))
    single = (each.reshape(lanes) for each in (_splice(circuit, source, feeds), ground, source - ground))
    return Currents(*many, *single)


@dataclass(frozen=True, slots=True)
class _Circuit:
    """What stays from pass to pass: vehicles and points in one row on the last axis, solenoids or feeds before it."""

    asked: Array
    coil: Array
    total: Array  # ohm, from feed to switch as the driver meets it
    share: Array  # of the feed's voltage that the leak takes from the pin while the driver is off
    drain: Array  # S, coil and leak in series
    feeds: Array
    battery: Array
    source: Array
    relay: Array
    ground: Array
    base: Array
    most_duty: Array  # (solenoids, 1)
    feed: Places
    wet: bool  # whether anything leaks: half of the work, if not

    def only(self, rows: Places) -> Self:
        """Some of the row."""
        kept = {entry.name: getattr(self, entry.name)[..., rows] for entry in fields(self)[:-3]}
        return replace(self, **kept)


class _Total(NamedTuple):
    """A current of all feeds as a straight line: fixed + rise x (splice to controller) + lift x (ground to body)."""

    fixed: Array
    rise: Array
    lift: Array


class _State(NamedTuple):
    """What the drivers do at a voltage across the coils of each feed, and one of the ground."""

    across: Array
    ground: Array
    volts: Array  # across, for each solenoid
    margin: Array
    measured: Array
    duty: Array
    full: Flags  # no duty left


def _circuit(
    wanted: Array, coils: Coils, supply: PowerSupply, most_duty: Values
) -> tuple[tuple[int, ...], _Circuit]:
    """Shape of the leading axes; and all in one precision, in one row, with nothing infinite."""
    single = [supply.battery, supply.source, supply.relay, supply.ground, supply.base]
    many = [wanted, coils.coil, coils.wire, coils.leak, supply.feeds]
    kind = np.result_type(np.float32, *many, *single)
    given = [np.asarray(each, kind) for each in many] + [np.asarray(each, kind)[..., None] for each in single]
    lanes = np.broadcast_shapes(*(each.shape[:-1] for each in given))
    rows = (np.broadcast_to(each, (*lanes, each.shape[-1])).reshape(-1, each.shape[-1]).T for each in given)
    asked, coil, wire, leak, feeds, *lines = (np.minimum(each, OPEN, order="C") for each in rows)
    passed = 1.0 / (1.0 + leak * coil)
    parts = [np.minimum(asked, UNLIMITED), coil, wire + coil * passed, 1.0 - passed, leak * passed, feeds]
    most = np.asarray(np.broadcast_to(most_duty, len(asked)), kind)[:, None]
    return lanes, _Circuit(*[*parts, *(line[0] for line in lines), most, coils.feed, bool(np.any(leak))])


def _splice(circuit: _Circuit, source: Array, feeds: Array) -> Array:
    """Voltage of the joint of relay and feeds by Kirchhoff's rule: a mean of its neighbors', well behaved if one is cut off."""
    weights = 1.0 / np.maximum(circuit.feeds, LEAST)
    found: Array = (source + circuit.relay * (weights * feeds).sum(0)) / (
        1.0 + circuit.relay * weights.sum(0)
    )
    return found


def _margin(circuit: _Circuit, volts: Array, ground: Array) -> Array:
    """Volts that a driver has to spare when it gives what is asked."""
    margin = circuit.most_duty * volts - circuit.asked * circuit.total
    return margin - circuit.share * (volts + ground) if circuit.wet else margin


def _state(circuit: _Circuit, across: Array, ground: Array) -> _State:
    """Each driver gives what is asked, or all that it can."""
    volts = across[circuit.feed]
    margin = _margin(circuit, volts, ground)
    measured = np.maximum(circuit.asked + np.minimum(margin, 0.0) / circuit.total, 0.0)
    needed = measured * circuit.total
    if circuit.wet:
        needed += circuit.share * (volts + ground)
    return _State(across, ground, volts, margin, measured, needed / np.maximum(volts, LEAST), margin < 0.0)


def _by_feed(circuit: _Circuit, values: Array) -> Array:
    """What hangs on each feed, added up."""
    return np.stack([values[circuit.feed == each].sum(0) for each in range(len(circuit.feeds))])


def _flows(circuit: _Circuit, state: _State) -> tuple[Array, Array]:
    """Current to the ground of the controller, and current out of the feed, for each feed."""
    driven = _by_feed(circuit, state.duty * state.measured)
    if not circuit.wet:
        return driven, driven
    leaking = circuit.drain * (state.volts + state.ground - state.measured * circuit.coil)
    return driven, driven + _by_feed(circuit, leaking)


def _rises(circuit: _Circuit, state: _State) -> tuple[Array, Array]:
    """How both `_flows` grow with the voltage across: more where a driver is full, less where it regulates."""
    return _slopes(circuit, state, circuit.most_duty - circuit.share, circuit.share - state.duty)


def _lifts(circuit: _Circuit, state: _State) -> tuple[Array, Array]:
    """How both `_flows` grow with the voltage of the ground at the same voltage across: not without a leak."""
    if not circuit.wet:
        return np.zeros_like(state.across), np.zeros_like(state.across)
    return _slopes(circuit, state, -circuit.share, circuit.share)


def _slopes(circuit: _Circuit, state: _State, full: Array, regulating: Array) -> tuple[Array, Array]:
    """Slopes of both `_flows`, from the drops that a full driver and a regulating one make up for."""
    gain = (state.full & (state.measured > 0.0)) * full / circuit.total
    falling = ~state.full * regulating * state.measured / np.maximum(state.volts, LEAST)
    driven = _by_feed(circuit, circuit.most_duty * gain + falling)
    if not circuit.wet:
        return driven, driven
    return driven, driven + _by_feed(circuit, circuit.drain * (1.0 - circuit.coil * gain))


def _settled(circuit: _Circuit) -> _State:
    """What the drivers do in the end. All as if dry first, which is half of the work, then what leaks once more."""
    across, ground = np.repeat(circuit.battery[None], len(circuit.feeds), 0), np.zeros_like(circuit.battery)
    _settle(replace(circuit, wet=False), across, ground)
    wet = np.flatnonzero(np.any(circuit.drain, axis=0))
    if len(wet):
        part = circuit.only(wet)
        wet_across, wet_ground = (
            np.repeat(part.battery[None], len(part.feeds), 0),
            np.zeros_like(part.battery),
        )
        _settle(part, wet_across, wet_ground)
        across[:, wet], ground[wet] = wet_across, wet_ground
    return _state(circuit, across, ground)


def _settle(circuit: _Circuit, across: Array, ground: Array) -> None:
    """Newton's method on the voltages across, from the battery's own voltage downward, for those that still move."""
    state = _state(circuit, across, ground)
    across[:], ground[:], settled = _step(circuit, state)
    moving = np.flatnonzero(~settled)
    for _ in range(PASSES - 1):
        if not len(moving):
            break
        circuit = circuit.only(np.flatnonzero(~settled))
        state = _state(circuit, across[:, moving], ground[moving])
        across[:, moving], ground[moving], settled = _step(circuit, state)
        moving = moving[~settled]


def _step(circuit: _Circuit, state: _State) -> tuple[Array, Array, Flags]:
    """Voltages across and of the ground toward where they were if every flow were straight, and whether they are there."""
    rises, lifts = _rises(circuit, state), _lifts(circuit, state)
    flows = zip(_flows(circuit, state), rises, lifts, strict=True)
    bases = [flow - rise * state.across - lift * state.ground for flow, rise, lift in flows]
    own = np.maximum(1.0 + circuit.feeds * rises[1], SAFE)
    fixed, lifted = -circuit.feeds * bases[1] / own, -circuit.feeds * lifts[1] / own
    totals = [
        _Total((base + rise * fixed).sum(0), (rise / own).sum(0), (lift + rise * lifted).sum(0))
        for base, rise, lift in zip(bases, rises, lifts, strict=True)
    ]
    left, ground = _loop(circuit, *totals)
    across = left / own + fixed + lifted * ground
    return _moved(circuit, state, across, ground)


def _loop(circuit: _Circuit, grounded: _Total, drawn: _Total) -> tuple[Array, Array]:
    """Voltage between splice and controller, and of the ground, from battery to battery."""
    whole = circuit.base + circuit.source + circuit.ground
    kept, sag = 1.0 - circuit.ground / whole, circuit.source / whole  # both hold the controller's own current
    slope = 1.0 - circuit.ground * (kept * grounded.lift - sag * drawn.lift)
    ground = circuit.ground / np.maximum(slope, SAFE)
    fixed = ground * (kept * grounded.fixed - sag * drawn.fixed + circuit.battery / whole)
    rise = ground * (kept * grounded.rise - sag * drawn.rise)
    line, back = circuit.relay + circuit.source * (1.0 - sag), sag * circuit.ground
    lift = line * drawn.lift - back * grounded.lift + 1.0
    slope = 1.0 + line * drawn.rise - back * grounded.rise + lift * rise
    lost = line * drawn.fixed - back * grounded.fixed + lift * fixed
    left = (circuit.battery * (1.0 - sag) - lost) / np.maximum(slope, SAFE)
    return left, fixed + rise * left


def _moved(circuit: _Circuit, state: _State, across: Array, ground: Array) -> tuple[Array, Array, Flags]:
    """A step taken: all of it, or just past where the first driver on the way is full; and whether it was the last.

    The last is one that hardly moves, or a small one near the battery's voltage: Newton's error is then 0.1 millivolt.
    """
    part, battery = _part(state, _margin(circuit, across[circuit.feed], ground)), circuit.battery
    missed = np.abs(across - state.across).max(0)
    near = (missed <= NEAR * battery) & (across.min(0) >= (1.0 - NEAR) * battery)
    settled = (part >= 1.0) & (near | (missed <= SETTLED * battery + LEAST))
    across = np.clip(state.across + part * (across - state.across), -battery, battery)
    return across, np.clip(state.ground + part * (ground - state.ground), 0.0, battery), settled


def _part(state: _State, there: Array) -> Array:
    """How much of a step toward where the margins are `there` is gone before the first driver is full, and a little more."""
    crossed = (there < 0.0) & ~state.full
    part, rows = np.ones_like(state.ground), np.flatnonzero(crossed.any(0))
    if len(rows):
        here, there = state.margin[:, rows], there[:, rows]
        share = PAST * here / np.maximum(here - there, LEAST)
        part[rows] = np.minimum(np.where(crossed[:, rows], share, 1.0).min(0), 1.0)
    return part


def _base_current(circuit: _Circuit, grounded: Array, drawn: Array) -> Array:
    """The controller's own, between the source's resistance and the ground's."""
    left = circuit.battery - circuit.source * drawn - circuit.ground * grounded
    return left / (circuit.base + circuit.source + circuit.ground)
