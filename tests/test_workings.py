"""What happens at one operating point: what holds, what drags, what comes on, and what a gauge follows, one law after the other."""

import numpy as np
import pytest
from vehicles import BAND, COLD, DIRECT, FORWARD, HOT, IDLE, LOW_REVERSE, ONE_WAY, SPEC, UNIT, new, sound

from course_lib.base import units
from course_lib.vehicle import (
    elements,
    grip,
    heat_balance,
    holding,
    hydraulic_controls,
    oil_circuits,
    oil_supply,
    powertrain,
)
from course_lib.vehicle.operating_point import SHORTEST_SLIDE, new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters

FIRST, SECOND, THIRD, REVERSE = "first", "second", "third", "reverse"
GEARS = {  # lever, pedal and road speed [mph] at which a sound vehicle is in that gear
    FIRST: ("D", 0.3, 5.0),
    SECOND: ("D", 0.3, 25.0),
    THIRD: ("D", 0.3, 55.0),
    REVERSE: ("R", 0.3, 5.0),
}


def at(*gears, condition=None, cases=1, temperature=HOT, **changes):
    """A vehicle driven in these gears, hot: its workings."""
    levers, pedals, speeds = zip(*(GEARS[gear] for gear in gears), strict=True)
    plant = Plant(SPEC, sound(cases, **changes))
    op = operation(
        levers, throttle=list(pedals), road_speed=[units.from_mph(mph) for mph in speeds], temperature=temperature
    )  # fmt: skip
    return plant.operate(new(cases) if condition is None else condition, op)


def element(name, column, value):
    """A parameter of one element."""
    found = np.array(sound()[name], float)
    found[..., column] = value
    return {name: found}


def worn(**entries):
    """A new condition but for these, the same in every element."""
    condition = new()
    for name, value in entries.items():
        getattr(condition, name)[:] = value
    return condition


def test_the_points_are_in_their_gears():
    unit = load_unit(UNIT)
    assert [unit.gear_index(name) for name in GEARS] == list(at(*GEARS).gear[0])


# ---------------------------------------------------------------------- what holds
HOLDS = [(FORWARD, FIRST), (BAND, SECOND), (DIRECT, THIRD), (LOW_REVERSE, REVERSE), (DIRECT, REVERSE)]


@pytest.mark.parametrize("column, gear", HOLDS)
@pytest.mark.parametrize(
    "what, share",
    [
        ({"element_backing": 0.5}, 0.5),
        ({"element_faces": 2.0}, 2.0),
        ({"condition": {"soaked": 1.0}}, 1.0 - grip.PAPER_LIFTS),
        ({"condition": {"soaked": 0.5}}, 1.0 - 0.5 * grip.PAPER_LIFTS),
        ({"condition": {"holding": grip.LUGS_GONE}}, 0.0),
        ({"condition": {"holding": 0.95 * grip.LUGS_LEFT}}, 1.0),
    ],
)
def test_grip_goes_with_what_makes_it(column, gear, what, share):
    """Coulomb: half the force, half the torque; twice the faces, twice. Soaked paper lifts off, torn lugs hold nothing. A band
    has no faces, and wraps itself tighter: less friction costs it more than its share (Euler and Eytelwein)."""
    is_band = Plant(SPEC, sound()).is_band[column]
    changes = {name: np.array(sound()[name]) * value for name, value in what.items() if name != "condition"}
    condition = worn(**what.get("condition", {}))
    whole, found = (x.capacity[0, 0, column] for x in (at(gear), at(gear, condition=condition, **changes)))
    if is_band and "element_faces" in what:
        share = 1.0
    if is_band and "soaked" in what.get("condition", {}):
        assert 0.7 * share * whole < found < 0.99 * share * whole
    else:
        assert whole > 0.0 and found == pytest.approx(share * whole, rel=2e-3)


@pytest.mark.parametrize("column, gear", HOLDS)
def test_without_its_lining_metal_slides_on_metal(column, gear):
    """Iron on steel in oil grips half as well as paper (friction 0.06 against 0.125: Shigley, friction materials for clutches; from
    memory). With a quarter left it grips as well as new; the way to the worn face is taken out here, so that friction is left."""
    p = sound()
    room = np.array(p["element_clearance"], float)
    travel = np.where(Plant(SPEC, p).is_band, p["element_wrap"], p["element_faces"])

    def grip(share):
        condition = worn(lining=0.0)
        condition.lining[..., column] = share * p["element_lining"][..., column]
        set_up = {"element_clearance": room - condition.lining * travel}
        return at(gear, condition=condition, **set_up).capacity[0, 0, column]

    whole, thin, bare = (grip(share) for share in (0.0, 0.75, 1.0))
    assert thin == pytest.approx(whole, rel=2e-3)
    assert 0.3 * whole < bare < 0.55 * whole


@pytest.mark.parametrize("column, gear", HOLDS)
def test_splines_that_give_way_hold_what_they_can(column, gear):
    whole = at(gear).capacity[0, 0, column]
    for share in (0.5, 2.0):
        found = at(gear, **element("element_splines", column, share * whole)).capacity[0, 0, column]
        assert found == pytest.approx(min(share, 1.0) * whole, rel=1e-3)


@pytest.mark.parametrize("column, gear", HOLDS)
def test_a_piston_at_the_end_of_its_stroke_presses_nothing(column, gear):
    """Room beyond the stroke: no grip. Room to spare: hardly less than sound, for the spring that is pressed further."""
    stroke = sound()["element_stroke"][0, 0, column]
    whole = at(gear).capacity[0, 0, column]
    gone, near = (
        at(gear, **element("element_clearance", column, share * stroke)).capacity[0, 0, column]
        for share in (1.0, 0.85)
    )
    assert gone == 0.0 and 0.8 * whole < near < whole


def test_what_is_not_applied_holds_nothing():
    capacity = at(*GEARS).capacity[0] > 0.0
    applied = Plant(SPEC, sound()).applied[at(*GEARS).gear[0]] > 0
    assert np.all(capacity == applied)


def test_a_one_way_clutch_bears_what_is_left_of_it():
    """Half of its rollers, half; fitted backwards nothing; without oil as much as with it."""
    whole = at(FIRST).capacity[0, 0, ONE_WAY]
    assert at(FIRST, condition=worn(holding=0.5)).capacity[0, 0, ONE_WAY] == pytest.approx(0.5 * whole)
    assert at(FIRST, **element("element_reversed", ONE_WAY, 1.0)).capacity[0, 0, ONE_WAY] == 0.0
    low = at(FIRST, line_base=0.5 * sound()["line_base"])
    assert low.capacity[0, 0, ONE_WAY] == pytest.approx(whole)
    assert low.capacity[0, 0, FORWARD] < at(FIRST).capacity[0, 0, FORWARD]


@pytest.mark.parametrize("fault", ["element_port_shut", "element_port_dump", "both"])
def test_a_lever_between_two_detents_is_cured_by_a_nudge(fault):
    """A port half shut, or one that dumps: less pressure in that circuit, until the lever is pushed into its detent."""
    sizes = {"element_port_shut": 0.9, "element_port_dump": 4e-6}
    wrong = {}
    for name in sizes if fault == "both" else [fault]:
        wrong |= element(name, FORWARD, sizes[name])
    op = operation(
        ["D", "D"], throttle=0.2, engine_speed=units.from_rpm(1000), nudged=[0.0, 1.0], temperature=HOT
    )
    whole, found = (
        Plant(SPEC, sound(**each)).operate(new(), op).circuit[0, :, FORWARD] for each in ({}, wrong)
    )
    assert found[0] < 0.99 * whole[0] and found[1] == pytest.approx(whole[1], rel=1e-9)
    assert whole[0] == whole[1] > 0.0


# ---------------------------------------------------------------------- what should be free
def test_nothing_fights_in_a_sound_vehicle():
    work = at(*GEARS)
    assert np.all(work.drag_power == 0.0) and np.all(work.tie_up == 0.0)


def test_rollers_fitted_backwards_fight_where_they_should_overrun():
    """Nothing in first, which they should hold; above it they bear what they can and turn with the relative speed."""
    work = at(*GEARS, **element("element_reversed", ONE_WAY, 1.0))
    tables = Plant(SPEC, sound()).relative[work.gear[0], ONE_WAY]
    fights = work.tie_up[0]
    assert tables[0] == 0.0 and fights[0] == 0.0
    assert np.all((fights > 0.0) == (tables > 0.0)) and np.any(fights > 0.0)
    gone = at(*GEARS, condition=worn(holding=1.0), **element("element_reversed", ONE_WAY, 1.0))
    assert np.all(gone.tie_up == 0.0), "broken rollers hold nothing back"
    weak, weaker = (
        at(*GEARS, **element("element_reversed", ONE_WAY, share)).drag_power[0, :, ONE_WAY]
        for share in (2e-3, 1e-3)
    )
    np.testing.assert_allclose(weak, 2.0 * weaker)


@pytest.mark.parametrize("column", [DIRECT, BAND, LOW_REVERSE])
@pytest.mark.parametrize("way", ["element_crossfeed_body", "element_crossfeed_case"])
def test_pressure_that_has_no_business_there_drags(column, way):
    """Only where the element is not applied and its members turn against each other; both ways in are one leak to it."""
    work = at(*GEARS, **element(way, column, 0.3))
    plant = Plant(SPEC, sound())
    free = (plant.applied[work.gear[0], column] == 0) & (plant.relative[work.gear[0], column] != 0.0)
    assert np.all((work.drag_power[0, :, column] > 0.0) == free) and free.any()
    others = [each for each in range(len(plant.is_band)) if each != column]
    assert np.all(work.drag_power[0][:, others] == 0.0)
    assert np.all(work.tie_up[0][free] > 0.0)
    twin = {"element_crossfeed_body", "element_crossfeed_case"} - {way}
    np.testing.assert_allclose(at(*GEARS, **element(*twin, column, 0.3)).drag_power, work.drag_power)


def test_what_drags_takes_no_more_than_is_pulled_and_warms_the_oil():
    work = at(THIRD, **element("element_crossfeed_case", LOW_REVERSE, 1.0))
    whole = at(THIRD)
    turbine = work.drag_power.sum() / max(work.drive_torque.item(), 1e-9)
    assert turbine > 0.0 and work.drive_torque < whole.drive_torque and work.heat > whole.heat
    assert work.drag_power.sum() <= work.engine_power.item()


@pytest.mark.parametrize("column", [FORWARD, DIRECT, BAND, LOW_REVERSE])
def test_a_pack_without_room_drags_and_one_with_room_does_not(column):
    """Less than its share of the sound clearance: it rubs where it is released and turns."""
    clearance = Plant(SPEC, sound()).sound_clearance[0, 0, column]
    tight, roomy = (
        at(*GEARS, **element("element_clearance", column, share * clearance)).drag_power[0, :, column]
        for share in (0.5 * elements.TIGHT, 1.05 * elements.TIGHT)
    )
    plant = Plant(SPEC, sound())
    gear = at(*GEARS).gear[0]
    free = (plant.applied[gear, column] == 0) & (plant.relative[gear, column] != 0.0)
    assert np.all((tight > 0.0) == free) and np.all(roomy == 0.0)


def test_a_tight_pack_rubs_by_its_friction_besides_the_film():
    """Half the friction, less drag, and not half; the tighter, the more."""
    clearance = Plant(SPEC, sound()).sound_clearance[0, 0, DIRECT]

    def drag(share, friction=1.0):
        tight = element("element_clearance", DIRECT, share * clearance)
        work = at(FIRST, **tight, wear_friction=friction * sound()["wear_friction"])
        return work.drag_power[0, 0, DIRECT]

    share = 0.8 * elements.TIGHT
    assert drag(share) > drag(share, friction=0.5) > 0.5 * drag(share)
    assert drag(share) < drag(0.5 * share)


def test_plates_that_find_too_little_room_press_by_hand():
    """1.5 N a micrometer short of 0.45 of the sound room, at the radius, by faces and friction, as fast as it turns."""
    plant = plant_with()
    room = 0.97 * elements.TIGHT * plant.sound_clearance[0, 0, DIRECT]
    full, half = (
        at(FIRST, **element("element_clearance", DIRECT, room), wear_friction=share * 0.125).drag_power[
            0, 0, DIRECT
        ]
        for share in (1.0, 0.5)
    )
    first = plant.unit.gear_index(FIRST)
    turbine = abs(plant.ratio[first]) * units.from_mph(5.0) / 0.36 * 3.4
    short = 0.03 * elements.TIGHT * 1.02e-3
    torque = 0.5 * 0.125 * 1.5e6 * short * 0.062 * 8
    assert full - half == pytest.approx(torque * abs(plant.relative[first, DIRECT]) * turbine, rel=0.01)


def test_swollen_rubber_takes_the_room():
    """A piston that sticks out is as good as a pack set too tight."""
    assert np.any(at(*GEARS, fluid_swell=1.0).drag_power > 0.0)


# ---------------------------------------------------------------------- coming on
def test_fluid_and_plates_that_grab_judder():
    """Fluid alone, plates alone and both; two percent of water are as much as any; of sound ones nothing."""
    assert at(SECOND).judder == 0.0
    fluid, plates, both = (
        at(SECOND, **change).judder.item()
        for change in (
            {"fluid_judder": 0.2},
            element("element_hot_spots", BAND, 0.2),
            {"fluid_judder": 0.2} | element("element_hot_spots", BAND, 0.2),
        )
    )
    assert both == pytest.approx(fluid + plates) and min(fluid, plates) > 0.0
    damp, wet, soaked = (at(SECOND, fluid_water=water).judder.item() for water in (0.01, 0.02, 0.1))
    assert 0.0 < damp < wet
    assert wet == pytest.approx(2.0 * damp, rel=0.2) and soaked == pytest.approx(wet, rel=0.2)
    longer = at(SECOND, fluid_judder=0.2, vehicle_inertia=0.5 * sound()["vehicle_inertia"]).judder.item()
    assert 0.0 < longer < fluid, "a shorter slide shakes for less time"


def test_a_hard_lip_seats_late_and_only_cold():
    """Wholly hard, a piston waits for its lip; hot oil seats it; half hard it hardly shows."""
    engage = operation("D", engine_speed=IDLE, temperature=COLD)
    hot = operation("D", engine_speed=IDLE, temperature=HOT)

    def delay(hardness, op):
        plant = Plant(SPEC, sound(**element("element_seal_set", FORWARD, hardness)))
        return plant.operate(new(), op).delay[0, 0, FORWARD]

    late = delay(1.0, engage) - delay(0.0, engage)
    assert late > 0.5 > delay(0.5, engage) - delay(0.0, engage)
    assert abs(delay(1.0, hot) - delay(0.0, hot)) < 0.5 * late
    assert delay(0.0, engage) > 0.0


def test_what_comes_on_anew_has_a_delay_and_what_stays_on_has_none():
    """Each gear fills what the one below it did not apply."""
    work, plant = at(*GEARS), Plant(SPEC, sound())
    takes = plant.takes[work.gear[0]] * (plant.share[work.gear[0]] > 0) * ~plant.is_one_way
    assert np.all((work.delay[0] > 0.0) == (takes > 0))
    assert np.all((work.shift_heat[0] > 0.0) <= (takes > 0))


def test_a_jerk_is_torque_by_time():
    """Twice as long a slide, half the jerk; nothing engaged, none."""
    work = at(*GEARS)
    slides = work.slide > SHORTEST_SLIDE
    assert slides.any() and np.all(work.jerk[work.slide == 0.0] == 0.0)
    np.testing.assert_allclose((work.jerk * work.slide)[slides], 1.0 + work.bump[slides])


def test_room_and_a_small_feed_are_waited_for():
    """Twice the volume to fill, twice the wait; half the hole, about twice."""
    base = at(SECOND).delay[0, 0, BAND]
    clearance = Plant(SPEC, sound()).clearance(new())[0, 0, BAND]
    roomy = at(SECOND, **element("element_clearance", BAND, 1.5 * clearance))
    assert roomy.delay[0, 0, BAND] == pytest.approx(1.5 * base, rel=0.02)
    feed = sound()["element_feed_area"][0, 0, BAND]
    assert at(SECOND, **element("element_feed_area", BAND, 0.5 * feed)).delay[0, 0, BAND] > 1.6 * base


# ---------------------------------------------------------------------- pressure, air and gauge
def test_without_air_the_needle_stands():
    work = at(*GEARS)
    assert np.all(work.air_time < 1e-4)
    np.testing.assert_allclose(work.line_low, work.line, rtol=1e-3)
    np.testing.assert_allclose(work.line_phase, np.stack([work.line, work.line]), rtol=1e-3)


def short(quarts, **changes):
    """A vehicle short of fluid, on the road."""
    return at(FIRST, SECOND, THIRD, condition=worn(lost=quarts * units.QUART), **changes)


def test_gulps_swing_the_needle_between_both_pressures():
    """The mean lies between by the share of time; the needle falls no further than the gulp, and a lazy gauge falls less."""
    work = next(found for found in map(short, np.arange(1.0, 6.0, 0.1)) if np.all(found.air_time > 0.2))
    lost = next(quarts for quarts in np.arange(1.0, 6.0, 0.1) if np.all(short(quarts).air_time > 0.2))
    (drawing, gulping), air = work.line_phase, work.air_time
    assert np.all(air < 0.98) and np.all(gulping < drawing)
    np.testing.assert_allclose(work.line, drawing + air * (gulping - drawing), rtol=1e-6)
    assert np.all(work.line_low >= gulping) and np.all(work.line_low < drawing)
    assert np.all(work.line_low <= work.line)
    lag = sound()["sump_gauge_lag"]
    lazy, quick = (short(lost, sump_gauge_lag=share * lag).line_low for share in (20.0, 0.02))
    assert np.all(quick < lazy)
    np.testing.assert_allclose(quick, gulping, rtol=0.02)


def test_fine_bubbles_swing_the_needle_less_than_gulps():
    """Air sucked in at a gap comes and goes too fast for a gauge, a first-order lag: 1 - 1/e of the fall in one time constant."""
    time = sound()["sump_gulp_time"]
    for lag, share in ((oil_supply.FINE * time, 0.6321206), (time, 1.0 - np.exp(-oil_supply.FINE))):
        work = at(SECOND, pump_suction_gap=2e-6, sump_gauge_lag=lag)
        drawing, gulping = work.line_phase[:, 0, 0]
        assert 0.02 < work.air_time.item() < 0.6 and gulping < drawing and oil_supply.FINE < 1.0
        followed = min(work.line.item(), drawing - share * (drawing - gulping))
        assert work.line_low.item() == pytest.approx(followed, rel=1e-4)


def test_the_cooler_gets_a_share_of_what_the_regulator_lets_go():
    """Never more than its tube passes; both obstacles in its way count."""
    work = at(*GEARS)
    share, most = (sound()[name].item() for name in ("heat_cooler_share", "heat_cooler_flow_max"))
    np.testing.assert_allclose(work.cooler_flow, np.minimum(share * work.spill, most))
    for obstacle in ("heat_cooler_open", "heat_line_open"):
        half = at(*GEARS, **{obstacle: 0.5})
        np.testing.assert_allclose(half.cooler_flow, 0.5 * work.cooler_flow, rtol=1e-6)
        assert np.all(half.cooler_conductance < work.cooler_conductance)
    assert np.all(at(*GEARS, heat_cooler_open=0.0).cooler_conductance == 0.0)


def test_more_is_let_go_where_less_leaks_and_never_more_than_is_pumped():
    tight, leaky = at(*GEARS), at(*GEARS, line_body_leak=6.0 * sound()["line_body_leak"])
    assert np.all(leaky.spill < tight.spill) and np.all(leaky.line < tight.line)
    assert np.all(tight.spill >= 0.0)


# ---------------------------------------------------------------------- heat at one go
def test_heat_is_the_sum_of_its_sources_and_leaves_by_cooler_and_case():
    """With the sump given, what it would settle to is the balance by hand: gain over conductance, all points alike."""
    work = at(THIRD)
    p = Plant(SPEC, sound()).p
    gain = work.heat + work.cooler_conductance * p.heat_cooler_sink + work.case_conductance * p.heat_ambient
    assert work.heat > work.converter_loss
    speed = units.from_mph(GEARS[THIRD][2])
    assert work.case_conductance == pytest.approx((p.heat_case_still + p.heat_case_moving * speed).item())
    op = operation("D", throttle=0.3, road_speed=speed)
    steady = Plant(SPEC, sound()).operate(new(), op)
    by_hand = (
        steady.heat
        + steady.cooler_conductance * p.heat_cooler_sink
        + steady.case_conductance * p.heat_ambient
    ) / (steady.cooler_conductance + steady.case_conductance)
    assert steady.settled == pytest.approx(by_hand.item(), abs=0.01) and gain > work.heat
    assert steady.temperature == pytest.approx(by_hand.item(), abs=0.6)


def test_churning_and_pumping_warm_the_oil_with_the_square_of_the_speed():
    base, twice = at(THIRD), at(THIRD, heat_churning=2.0 * sound()["heat_churning"])
    more = (twice.heat - base.heat).item()
    assert more == pytest.approx(sound()["heat_churning"].item() * base.engine_speed.item() ** 2)


def test_what_drains_back_with_the_engine_off_stands_in_the_pan():
    """By hand: volume over the area of the pan above its step, of what always drains and of what a converter loses over night."""
    still = np.array([[0.0]])

    def height(running=False, temperature=COLD, **changes):
        return (
            Plant(SPEC, sound(**changes))
            .oil.height(new(), np.array([[temperature]]), still, running=running)
            .item()
        )

    area = sound()["sump_area_high"].item()
    assert height(sump_night_drain=1e-4) - height(sump_night_drain=0.0) == pytest.approx(1e-4 / area)
    assert height(running=True, sump_night_drain=1e-4) == height(running=True, sump_night_drain=0.0)
    drains = sound()["sump_drain_back"].item()
    assert height() - height(sump_drain_back=0.0) == pytest.approx(drains / area)
    assert height(temperature=HOT) > height(), "warm fluid takes more room"
    assert height(sump_charge=sound()["sump_charge"] - 1e-4) - height() == pytest.approx(
        -1e-4 / area, rel=0.01
    )


# ---------------------------------------------------------------------- pedal, shifts
def test_brakes_that_drag_and_a_trailer_ask_for_more_pedal():
    """Only where the vehicle moves and the foot is down; a trailer only where one is hitched."""
    speed = units.from_mph(30.0)
    op = operation(
        ["D"] * 4, throttle=[0.3, 0.3, 0.0, 0.3], road_speed=[speed, 0.0, speed, speed], loaded=[0, 0, 0, 1]
    )
    plain, drags, tows = (
        Plant(SPEC, sound(**change)).controls.throttle(op)[0]
        for change in ({}, {"vehicle_brake_drag": 300.0}, {"vehicle_trailer": 0.5 * sound()["vehicle_mass"]})
    )
    np.testing.assert_allclose(plain, [0.3, 0.3, 0.0, 0.3])
    assert list(drags > plain) == [True, False, False, True]
    np.testing.assert_allclose(tows, [0.3, 0.3, 0.0, 0.45])
    assert np.all(Plant(SPEC, sound(vehicle_brake_drag=1e5)).controls.throttle(op) <= 1.0)


def test_what_does_not_shift_up_is_not_fetched_down():
    """A hung valve: no upshift at any speed, and no kickdown of that shift either."""
    plant = Plant(SPEC, sound(**element("shift_stuck", 1, 1.0)))
    whole = Plant(SPEC, sound())
    assert np.isinf(plant.controls.upshift_speeds(1.0)[0, 1]) and np.isfinite(
        plant.controls.upshift_speeds(1.0)[0, 0]
    )
    assert plant.controls.kickdown_speeds()[0, 1] == 0.0 and plant.controls.downshift_speeds()[0, 1] == 0.0
    assert plant.controls.kickdown_speeds()[0, 0] == whole.controls.kickdown_speeds()[0, 0] > 0.0
    assert Plant(SPEC, sound(signal_kickdown=0.0)).controls.kickdown_speeds().max() == 0.0
    assert Plant(SPEC, sound(governor_gear=0.0)).controls.kickdown_speeds().max() == 0.0
    cable = nominal_parameters(load_unit("T4"), signal="cable")
    for slack, fetched in (
        (0.9, False),
        (1.1, True),
    ):  # what is left of its travel falls just short, or is just enough
        slack = cable["signal_travel"] * (1.0 - hydraulic_controls.LAST_OF_CABLE) / slack
        speeds = Plant(load_unit("T4"), {**cable, "signal_slack": slack}).controls.kickdown_speeds()
        assert speeds.any() if fetched else speeds.max() == 0.0


# ---------------------------------------------------------------------- lock-up
def test_the_lock_up_comes_on_where_it_may():
    """Above its speed, in its gears, on a light pedal, where one is fitted; a hung valve leaves it on in every gear.

    That it lets go past about two thirds of the pedal is common practice, no source.
    """
    unit = load_unit("T4")
    top = units.to_mph(nominal_parameters(unit, signal="cable")["lockup_speed"].item())

    def on(lever="D", mph=65.0, throttle=0.15, **changes):
        parameters = nominal_parameters(unit, signal="cable")
        for name, value in changes.items():
            parameters[name] = np.full_like(parameters[name], value)
        plant = Plant(load_unit("T4"), parameters)
        op = operation(lever, throttle=throttle, road_speed=units.from_mph(mph), temperature=HOT)
        return plant.operate(new_condition(1, unit), op).lockup_on.item() > 0.5

    assert on() and not on(mph=top - 1.0) and on(throttle=0.64) and not on(throttle=0.66)
    assert not on(lever="1", mph=top + 1.0) and not on(lockup_fitted=0.0)
    assert on(mph=5.0, lockup_stuck=1.0) and on(lever="R", mph=5.0, lockup_stuck=1.0)
    assert not on(lever="N", mph=0.0, lockup_stuck=1.0), "in neutral there is nothing to lock"


@pytest.mark.parametrize(
    "leak, orifice, bore, less", [(3.0, 1.0, 0.0, True), (1.0, 1.0, 0.5, True), (1.0, 0.5, 0.0, True), (0.0, 0.5, 0.0, False)]
)  # fmt: skip
def test_a_lock_up_piston_gets_less_behind_a_leak(leak, orifice, bore, less):
    """A torn ring or a worn bore takes from it, a narrow orifice as far as something leaks behind it; tight, it gets all."""
    parameters = nominal_parameters(load_unit("T4"), signal="cable")
    whole = Plant(load_unit("T4"), dict(parameters)).powertrain.lockup_share().item()
    parameters["lockup_leak"] = leak * parameters["lockup_leak"]
    parameters["lockup_orifice"] = orifice * parameters["lockup_orifice"]
    parameters["lockup_bore"] = bore + parameters["lockup_bore"]
    share = Plant(load_unit("T4"), parameters).powertrain.lockup_share().item()
    assert 0.0 < share < whole < 1.0 if less else share == 1.0


# ---------------------------------------------------------------------- one formula at a time, with the numbers of the unit
def plant_with(**changes):
    return Plant(SPEC, sound(**changes))


def test_the_regulator_aims_at_base_and_boost_and_more_in_reverse():
    """455 kPa and 602 kPa of boost at full signal; 1.55 times that in reverse, as far as the boost valve is whole."""
    sound_ = plant_with()
    assert sound_.controls.set_pressure(0.5, 0.0).item() == pytest.approx(455e3 + 301e3)
    assert sound_.controls.set_pressure(0.5, 1.0).item() == pytest.approx(756e3 * 1.55)
    assert plant_with(line_reverse_share=0.4).controls.set_pressure(0.5, 1.0).item() == pytest.approx(
        756e3 * 1.22
    )
    assert plant_with(line_spring=0.8).controls.set_pressure(0.5, 0.0).item() == pytest.approx(364e3 + 301e3)
    assert plant_with(line_answer=0.5).controls.set_pressure(0.5, 0.0).item() == pytest.approx(
        455e3 + 150.5e3
    )


def test_the_governor_gives_what_its_speed_leaves_and_never_less_than_it_hangs_at():
    """Its gear slips: half the speed. Its weights hang: half the pressure. Rings leak: so much less. Stuck: never below."""
    speed = 8.94  # m/s, at which 138 kPa are due
    assert plant_with().controls.governor(speed).item() == pytest.approx(138e3)
    assert plant_with(governor_gear=0.5).controls.governor(2.0 * speed).item() == pytest.approx(138e3)
    assert plant_with(governor_gain=0.5, governor_leak=0.2).controls.governor(speed).item() == pytest.approx(
        0.4 * 138e3
    )
    assert plant_with(governor_stuck=50e3).controls.governor(0.0).item() == pytest.approx(50e3)
    assert plant_with(governor_stuck=50e3).controls.governor(speed).item() == pytest.approx(138e3)


def test_shift_speeds_follow_the_governor():
    """Twice as fast with half the gear; at rest where it hangs beyond what the valve asks; never where nothing comes."""
    whole = plant_with().controls.upshift_speeds(1.0)
    np.testing.assert_allclose(
        plant_with(governor_gear=0.75).controls.upshift_speeds(1.0), whole / 0.75, rtol=1e-6
    )
    weak, asked = plant_with(governor_gain=0.8), plant_with()
    for shift, mps in enumerate(weak.controls.upshift_speeds(1.0)[0]):
        wanted = asked.p.shift_spring[0, 0, shift] + asked.p.shift_load[0, 0, shift]
        assert weak.controls.governor(mps).item() == pytest.approx(wanted, rel=1e-6), (
            "where it shifts the valve is just moved"
        )
    stuck = plant_with(governor_stuck=5e5)
    assert (
        not stuck.controls.upshift_speeds(1.0).any()
        and not stuck.controls.downshift_speeds().any()
        and not stuck.controls.kickdown_speeds().any()
    )
    assert np.isinf(plant_with(governor_gain=0.01).controls.upshift_speeds(1.0)).all()
    between = plant_with(governor_stuck=150e3).controls.upshift_speeds(0.0)[0]
    assert between[0] == 0.0 and between[1] == 0.0
    light = plant_with(governor_stuck=20e3).controls.upshift_speeds(0.0)[0]
    assert light[0] == 0.0 < light[1] == pytest.approx(whole_light()[1])


def whole_light():
    """Upshift speeds of a sound vehicle with the pedal released."""
    return plant_with().controls.upshift_speeds(0.0)[0]


def test_vacuum_falls_by_what_leaks_on_its_way():
    """Hose and diaphragm take their shares; what is trapped in a plugged hose stays; back pressure takes from all of it."""
    op = operation("D")
    manifold, reaches = plant_with(signal_hose_leak=0.3, signal_diaphragm_leak=0.2).controls.vacuum(op)
    assert manifold.item() == pytest.approx(60957.0) and reaches.item() == pytest.approx(0.5 * 60957.0)
    assert plant_with(signal_hose_leak=0.7, signal_diaphragm_leak=0.7).controls.vacuum(op)[1].item() == 0.0
    assert plant_with(signal_engine_vacuum=0.7).controls.vacuum(op)[0].item() == pytest.approx(0.7 * 60957.0)
    choked = plant_with(engine_exhaust=4.0)
    pedal = operation("D", throttle=0.3)
    assert choked.controls.vacuum(pedal, 300.0)[0] < choked.controls.vacuum(pedal)[0]


def test_the_signal_is_what_vacuum_or_cable_or_hand_gives():
    """No vacuum, full signal; the hand overrules both; a bent stem passes on its share."""
    for pedal, least, most in ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0), (0.4, 0.3, 0.7)):
        assert least <= plant_with().controls.load_signal(operation("D", throttle=pedal)).item() <= most
    assert plant_with(signal_gain=0.5).controls.load_signal(
        operation("D", throttle=1.0)
    ).item() == pytest.approx(0.5)
    assert plant_with().controls.load_signal(operation("D", signal=0.3)).item() == pytest.approx(0.3)
    parameters = nominal_parameters(load_unit("T4"), signal="cable")
    for name, value, signal in (("signal_slack", 0.25, 0.75), ("signal_pull", 0.25, 0.25)):
        changed = {**parameters, name: value * parameters["signal_travel"]}
        pedal = 1.0 if name == "signal_slack" else 0.0
        assert Plant(load_unit("T4"), changed).controls.load_signal(
            operation("D", throttle=pedal)
        ).item() == pytest.approx(signal)


def test_a_unit_that_lifts_off_its_mount_pulls_its_own_cable_in_gear_only():
    """By its lift times the share of full torque: moving or with a heavy foot, not in park, not at rest on a light pedal."""
    plant = plant_with()
    op = operation(
        ["D", "D", "D", "N", "P", "R"],
        throttle=[0.4, 0.4, 0.8, 0.8, 0.8, 0.8],
        road_speed=[10.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    )
    np.testing.assert_allclose(plant.controls.twist(op)[0], [0.4, 0.0, 0.8, 0.0, 0.0, 0.8])


def test_room_is_set_up_plus_lining_gone_plus_coned_steels():
    """Pack: so much a face, and its steels; band: so much times its wrap, and no steels."""
    condition = worn(lining=1e-4, char=0.5)
    room = plant_with().clearance(condition)[0, 0]
    assert room[DIRECT] == pytest.approx(1.02e-3 + 8 * 1e-4 + 0.5 * 9e-4)
    assert room[BAND] == pytest.approx(2e-3 + 5.6 * 1e-4)


def test_a_circuit_leaks_by_bushing_lip_and_swollen_rubber():
    """Warm, a sound lip leaks as the sheet says; worn bushings multiply; rubber too soft leaks by the square of the swelling."""
    from course_lib.physics.hydraulics import lip_states

    viscosity = plant_with().viscosity(new(), np.array([[HOT]]))[1]

    def factor(condition=None, **changes):
        return (
            plant_with(**changes).leak_factor(condition or new(), lip_states(HOT), viscosity, DIRECT).item()
        )

    assert factor() == pytest.approx(1.0)
    assert factor(worn(bushing=0.5)) == pytest.approx(2.0), "two of it for a bushing all worn"
    assert factor(fluid_swell=0.5) - 1.0 == pytest.approx(0.25 * (factor(fluid_swell=1.0) - 1.0))
    hard = worn(seal=0.8)
    assert factor(hard) > 1.5 and factor(hard, fluid_swell=0.8) == pytest.approx(1.0), (
        "swelling makes up for hardness"
    )
    assert plant_with(element_seal_set=0.5).seal_hardness(worn(seal=0.8)).max() == 1.0


def test_a_one_way_clutch_bears_by_what_is_left_and_nothing_backward():
    assert plant_with().solid(worn(holding=0.25), ONE_WAY).item() == pytest.approx(0.75 * 1900.0)
    assert plant_with(element_reversed=1.0).solid(new(), ONE_WAY).item() == 0.0


def test_the_lock_up_lining_holds_by_pressure_area_and_what_is_left_of_it():
    """Friction times force times radius; charred it keeps a share; half a facing holds half."""
    parameters = nominal_parameters(load_unit("T4"), signal="cable")

    def grip(worn_=0.0, **changes):
        return (
            Plant(
                load_unit("T4"),
                {**parameters, **{k: np.full_like(parameters[k], v) for k, v in changes.items()}},
            )
            .powertrain.lockup_grip(6e5, worn_)
            .item()
        )

    p = {name: value.flat[0] for name, value in parameters.items() if value.size}
    share = Plant(load_unit("T4"), parameters).powertrain.lockup_share().item()
    by_hand = (
        p["wear_friction"] * p["wear_fluid_friction"] * 6e5 * share * p["lockup_area"] * p["lockup_radius"]
    )
    assert grip() == pytest.approx(by_hand, rel=1e-6)
    assert grip(lockup_lining=0.5) == pytest.approx(0.5 * by_hand) and grip(0.5) < by_hand
    assert grip(1.0) == pytest.approx((1.0 - powertrain.CHARRED_GRIP) * by_hand)


def test_setting_off_in_a_higher_gear_takes_as_much_longer():
    """By the ratio of the gears, while it sets off; on the road and at rest no longer than else."""
    plant = plant_with()
    op = operation(["D"] * 4, road_speed=[0.0, 2.0, 2.0, 20.0])
    gears = [plant.unit.gear_index(gear) for gear in ("first", "first", "second", "second")]
    first, second = (abs(plant.ratio[plant.unit.gear_index(gear)]) for gear in ("first", "second"))
    np.testing.assert_allclose(
        plant.heat_balance.lasts(op, np.array([gears]))[0], [1.0, 1.0, first / second, 1.0]
    )


def test_the_sump_settles_at_the_mean_and_is_pulled_by_each_place():
    """Two places, one hotter: the mean by heat and ways out, and so much of the way from it; no farther than the most."""
    plant = plant_with(heat_short_visit=0.2)
    gain, loss, weight = np.array([[36e3, 40e3]]), np.array([[100.0, 100.0]]), np.array([[3.0, 1.0]])
    np.testing.assert_allclose(
        plant.heat_balance.settled(gain, loss, weight)[0], [370.0 - 0.2 * 10.0, 370.0 + 0.2 * 30.0]
    )
    pulled = plant.heat_balance.settled(np.array([[36e3, 100e3]]), loss, np.array([[1.0, 0.0]]))[0]
    np.testing.assert_allclose(pulled, [360.0, 360.0 + heat_balance.MOST_PULL])


def test_the_needle_follows_a_gulp_by_how_long_it_lasts():
    """One minus e to the minus time over lag; fine bubbles come and go so much faster."""
    plant = plant_with(sump_gulp_time=0.35, sump_gauge_lag=0.35)
    assert plant.oil.needle_swing(0.0).item() == pytest.approx(1.0 - np.exp(-1.0))
    assert plant.oil.needle_swing(1.0).item() == pytest.approx(1.0 - np.exp(-oil_supply.FINE))
    swing = plant.oil.needle_swing
    assert swing(0.5).item() == pytest.approx(0.5 * (swing(0.0) + swing(1.0)).item())


def test_the_regulator_lets_go_what_is_too_much():
    """At its goal the nominal flow; a droop's worth of pressure more, twice that; never more than is pumped."""
    plant, goal = plant_with(), 6e5
    nominal, droop = plant.p.line_nominal_flow.item(), plant.p.line_droop.item()
    assert plant.heat_balance.spill(goal, goal, 1.0).item() == pytest.approx(nominal)
    assert plant.heat_balance.spill(goal * (1.0 + droop), goal, 1.0).item() == pytest.approx(2.0 * nominal)
    assert plant.heat_balance.spill(goal * (1.0 - droop), goal, 1.0).item() == pytest.approx(0.0, abs=1e-9)
    assert plant.heat_balance.spill(goal * (1.0 - 2.0 * droop), goal, 1.0).item() == 0.0
    assert plant.heat_balance.spill(goal * 2.0, goal, 1e-4).item() == pytest.approx(1e-4)


def test_a_dirty_strainer_lets_through_less_and_lining_makes_it_dirty():
    """By weight: what comes off a lining plugs it, but never all of it."""
    kilograms = 1e-4 * 0.0062 * 8 * 900.0
    one = new()
    one.lining[..., DIRECT] = 1e-4
    assert plant_with().oil.strainer_plug(one).item() == pytest.approx(4.0 * kilograms, rel=1e-5)
    assert plant_with(pump_strainer_dirt=0.3).oil.strainer_plug(one).item() == pytest.approx(
        0.3 + 4.0 * kilograms, rel=1e-5
    )
    assert plant_with(pump_strainer_dirt=2.0).oil.strainer_plug(new()).item() == oil_supply.MOST_PLUGGED
    _, viscosity = plant_with().viscosity(new(), np.array([[COLD]]))
    flows = [
        plant_with(pump_strainer_dirt=d).oil.pump_flow(new(), 300.0, viscosity, 860.0).item()
        for d in (0.0, 0.5, 0.8)
    ]
    asked = 2.2e-5 * 300.0 / (2.0 * np.pi)
    assert asked >= flows[0] > flows[1] > flows[2] > 0.0
    listed = plant_with(pump_strainer_dirt=0.5).oil.pump_flow(
        new(), np.array([300.0]), viscosity[0], 860.0, np.array([0])
    )
    assert listed.item() == pytest.approx(flows[1])


def test_an_engine_gives_by_pedal_health_and_what_chokes_it():
    plant = plant_with()
    at = {"throttle": np.array([[0.5]]), "speed": np.array([[200.0]])}
    whole = plant.powertrain.engine_torque(**at).item()
    assert plant_with(engine_health=0.7).powertrain.engine_torque(**at).item() == pytest.approx(0.7 * whole)
    assert plant.powertrain.engine_torque(np.array([[1.0]]), np.array([[251.0]])).item() == pytest.approx(
        300.0
    )
    assert plant.powertrain.engine_torque(np.array([[0.0]]), np.array([[200.0]])).item() == 0.0
    assert plant_with(engine_exhaust=4.0).powertrain.engine_torque(**at) < whole


def pairs(points, elements, rows, seed=0):
    """Random pairs of element and point, as the circuits keep them; some points have none."""
    has = np.random.default_rng(seed).random((points, elements)) < 0.4
    point, column = np.nonzero(has)
    return oil_circuits.Pairs(np.arange(rows)[:, None], column, point)


def test_what_belongs_to_pairs_is_summed_and_put_by_point():
    """Against adding one by one; a point without a pair has nothing, and no pairs at all are nothing everywhere."""
    each = pairs(7, 4, 3)
    assert set(range(7)) - set(each.point), "some point has none"
    value = np.random.default_rng(1).random((3, len(each.point)))
    total, whole = np.zeros((3, 7)), np.zeros((4, 3, 7))
    for k, (column, point) in enumerate(zip(each.column, each.point, strict=True)):
        total[:, point] += value[:, k]
        whole[column, :, point] = value[:, k]
    np.testing.assert_allclose(each.joined(value, 7), total)
    np.testing.assert_array_equal(each.spread(value, (4, 3, 7)), whole)
    none = oil_circuits.Pairs(each.rows, each.column[:0], each.point[:0])
    np.testing.assert_array_equal(none.joined(value[:, :0], 7), np.zeros((3, 7)))
    parameter = np.random.default_rng(2).random((3, 1, 4))
    np.testing.assert_array_equal(each.own(parameter), parameter[:, 0][:, each.column])
    listed = oil_circuits.Pairs(np.arange(len(each.point)) % 3, each.column, each.point)
    np.testing.assert_array_equal(listed.own(parameter), parameter[listed.rows, 0, listed.column])
    here = np.random.default_rng(3).random((3, 7))
    np.testing.assert_array_equal(each.here(here), here[:, each.point])


def test_a_circuit_takes_what_its_leak_loses():
    """Where feed and leak balance: as much is drawn through the feed as leaks; and a pascal more draws what the slope says."""
    plant = plant_with(**element("element_hole", DIRECT, 5e-7))
    op = operation(["D", "R"], throttle=[0.3, 0.3], road_speed=[15.0, 2.0], temperature=HOT)
    kept = []
    plain = oil_circuits.line_balance

    def keep(each, *rest):
        kept.append(each)
        return plain(each, *rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(holding, "line_balance", keep)
        plant.operate(new(), op)
    each, line = kept[0], np.full((1, 2), 6e5)
    fed = each.fed(line)
    drawn = each.drawn(line, fed)
    lost = (each.leak * fed + each.hole * each.jet * np.sqrt(fed)) * each.on
    np.testing.assert_allclose(drawn, lost, rtol=5e-3)
    more = line + 1000.0
    rise = (each.drawn(more, each.fed(more)) - drawn) / 1000.0
    np.testing.assert_allclose(each.slope(line, fed, drawn), rise, rtol=0.05, atol=1e-16)
    some = each.only(np.array([0, 2]))
    np.testing.assert_array_equal(some.fed(line), fed[:, [0, 2]])
