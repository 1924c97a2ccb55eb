"""Slip as one torque balance: nothing is made from nothing, nothing jumps, and it spreads over the whole scale."""

from dataclasses import replace

import numpy as np
import pytest

from course_lib.base import units
from course_lib.physics import engine
from course_lib.vehicle import oil_phases, slipping
from course_lib.vehicle.drive import Drive, falling_root
from course_lib.vehicle.duty_cycle import duty_cycle
from course_lib.vehicle.gear_tables import gear_tables
from course_lib.vehicle.operating_point import new_condition, operation
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters
from course_lib.vehicle.vehicle_batch import SETTLED
from tests.worn import KINDS, worn_vehicles

USES = ("mixed", "town", "highway", "towing", "yard")


def drives(count: int, seed: int) -> tuple[Drive, np.ndarray]:
    """Random engines, converters and turbine speeds."""
    rng = np.random.default_rng(seed)
    pedal = rng.choice([0.0, 0.02, 0.1, 0.25, 0.5, 0.8, 1.0], count)
    lockup = rng.choice([0.0, 0.0, 150.0], count) * (pedal > 0)
    drive = Drive(
        peak_torque=300.0 * rng.uniform(0.3, 1.0, count) * (1.0 - (1.0 - pedal) ** 1.6),
        peak_speed=engine.peak_speed(251.0, pedal),
        free_speed=engine.free_speed(251.0, pedal),
        choke=rng.choice([0.0, 1.0, 3.0], count) * engine.exhaust_back_pressure(1.0, pedal, 1.0) / engine.TORQUE_PRESSURE,
        idle=np.full(count, 68.0),
        given=np.full(count, np.nan),
        capacity=rng.uniform(4.5e-3, 9e-3, count),
        coupling=np.full(count, 0.88),
        stall_ratio=rng.uniform(1.7, 2.3, count),
        stator_lock=rng.choice([0.0, 0.0, 0.5, 1.0], count) * (lockup == 0.0),
        lockup=lockup,
    )  # fmt: skip
    return drive, rng.uniform(0.0, 400.0, count)


def test_engine_and_converter_agree_to_the_last_digit():
    """Without slip: what the converter takes is what the engine gives, choked exhausts and lock-up included."""
    drive, turbine = drives(4000, 1)
    speed = drive.free(turbine)
    _, taken = drive.torques(speed, np.minimum(turbine, speed))
    ruled = (speed < drive.idle + 1e-6) | (speed < turbine + 1e-6)
    np.testing.assert_allclose(taken[~ruled], drive.engine_torque(speed)[~ruled], rtol=1e-6, atol=1e-6)


def test_the_run_up_ends_where_the_train_takes_no_more():
    drive, turbine = drives(4000, 2)
    speed = drive.free(turbine)
    turbine = np.minimum(turbine, speed)
    asked, _ = drive.torques(speed, turbine)
    some = asked > 1.0
    some_drive, share = drive.at(some), np.random.default_rng(3).random(some.sum())
    limit = asked[some] * share
    raced, run_up = some_drive.race(limit, (turbine / np.maximum(speed, 1e-9))[some], asked[some])
    given, taken = some_drive.torques(raced, run_up)
    plain = (some_drive.stator_lock == 0.0) & (some_drive.lockup == 0.0) & (some_drive.choke == 0.0)
    np.testing.assert_allclose(given[plain], limit[plain], rtol=0.01, atol=0.5)
    open_converter = some_drive.lockup == 0.0
    np.testing.assert_allclose(given[open_converter], limit[open_converter], rtol=0.06, atol=4.0)
    idling = raced < some_drive.idle + 1e-6
    np.testing.assert_allclose(taken[~idling], some_drive.engine_torque(raced)[~idling], rtol=1e-6, atol=1e-6)


def test_lock_up_shares_the_torque():
    """Off, the plain converter; holding, no slip; between, lining and fluid together carry the engine torque."""
    one = np.ones(5)
    drive = Drive(
        peak_torque=150.0 * one, peak_speed=200.0 * one, free_speed=600.0 * one, choke=0 * one, idle=68.0 * one,
        given=np.nan * one, capacity=0.0075 * one, coupling=0.88 * one, stall_ratio=2.0 * one, stator_lock=0 * one,
        lockup=np.array([0.0, 40.0, 100.0, 150.0, 300.0]),
    )  # fmt: skip
    turbine = 200.0 * one
    speed = drive.free(turbine)
    assert np.all(np.diff(speed[:4]) < 0.0) and np.all(speed[3:] == 200.0)
    given, taken = drive.torques(speed, turbine)
    np.testing.assert_allclose(taken, drive.engine_torque(speed), rtol=1e-6)
    np.testing.assert_allclose(given, taken, rtol=1e-6)  # past the coupling point nothing is multiplied


def test_no_engine_falls_below_its_idle_nor_leaves_the_speed_it_is_held_at():
    """The governor of the idle, and a hand on the throttle; a lining never carries more than the engine has left."""
    drive, turbine = drives(2000, 4)
    assert np.all(drive.free(turbine) >= drive.idle)
    held = replace(drive, given=np.where(np.arange(2000) % 2, 150.0, np.nan))
    speed = held.free(turbine)
    assert np.all(speed[1::2] == 150.0)
    np.testing.assert_array_equal(speed[::2], drive.free(turbine)[::2])
    fluid = 20.0 * np.ones(2000)
    lining, engine_ = drive.lining(200.0, fluid), drive.engine_torque(200.0)
    np.testing.assert_allclose(lining, np.clip(np.minimum(drive.lockup, engine_ - 20.0), 0.0, None))
    assert lining.max() > 0.0


@pytest.mark.parametrize("root", [0.0, 1e-4, 0.3, 0.9999, 1.0])
def test_of_a_straight_line_the_first_step_finds_the_root(root):
    """Wherever between the ends it lies; a curve is closed in on from both sides, and no step leaves the bracket."""
    asked = []

    def line(place):
        asked.append(place)
        return 7.0 * (root - place)

    low, high = np.zeros(1), np.ones(1)
    assert falling_root(line, (low, line(low)), (high, line(high)), 1) == pytest.approx(root, abs=1e-9)

    def curve(place):
        asked.append(place)
        return np.exp(-3.0 * place) - np.exp(-3.0 * root)

    found = falling_root(curve, (low, curve(low)), (high, curve(high)), 8)
    assert found == pytest.approx(root, abs=1e-6) and all(0.0 <= each <= 1.0 for each in asked)


def test_the_pressure_is_that_of_the_racing_engine():
    """Behind a slipping clutch the engine runs up, and a pump that only just keeps up gains by it: as if it were held there."""
    parameters = nominal_parameters(load_unit("T3"))
    parameters["line_body_leak"] = 15.0 * parameters["line_body_leak"]
    parameters["wear_friction"] = 0.3 * parameters["wear_friction"]
    point = {"throttle": 0.6, "road_speed": 2.0, "temperature": 370.0}
    raced, unraced = (
        Plant(load_unit("T3"), parameters, passes).operate(
            new_condition(1, load_unit("T3")), operation("D", **point)
        )
        for passes in (SETTLED, 0)
    )
    assert raced.slip > 50.0 and raced.line > 1.02 * unraced.line
    held = operation("D", **point, engine_speed=raced.engine_speed.item())
    by_hand = Plant(load_unit("T3"), parameters, 0).operate(new_condition(1, load_unit("T3")), held)
    assert raced.line == pytest.approx(by_hand.line, rel=0.02)


# ---------------------------------------------------------------------- the books
@pytest.fixture(
    scope="module",
    params=[(kind, use) for kind in KINDS for use in USES],
    ids=lambda p: f"{'-'.join(p[0])}-{p[1]}",
)
def points(request):
    """Worn vehicles of every cause over a whole day: plant, condition, duty, workings."""
    kind, use = request.param
    plant, condition = worn_vehicles(*kind, each=3, seed=11)
    day = duty_cycle(use, plant.unit)
    work = plant.operate(
        condition, day.op, np.broadcast_to(day.seconds, (len(condition.pump), len(day.names)))
    )
    return plant, condition, day, work


def test_power_in_is_power_out_and_losses(points):
    plant, _, day, work = points
    p = plant.p
    out = work.drive_torque * day.op.road_speed / p.vehicle_tire_radius * p.vehicle_axle
    losses = work.converter_loss + work.slip_power.sum(-1) + work.drag_power.sum(-1)
    away = np.abs(work.engine_power - out - losses)
    pulling = day.op.throttle > 0.0
    large = pulling & (work.engine_power > 300.0)
    assert large.sum() > 500 and np.all((away / np.maximum(work.engine_power, 1.0))[large] < 0.01)
    assert np.all(away[pulling & ~large] < 3.0)


def test_the_engine_gives_what_is_taken(points):
    """Where the pump draws fluid all the time; else means over both phases of the oil hide the law."""
    plant, _, day, work = points
    clean = (
        (work.air_time < oil_phases.GULPS)
        & (day.op.throttle > 0.0)
        & (work.engine_speed > 1.001 * plant.p.engine_idle)
    )
    given = (
        plant.powertrain.engine_torque(plant.controls.throttle(day.op), work.engine_speed) * work.engine_speed
    )
    assert clean.sum() > 300
    np.testing.assert_allclose(given[clean], work.engine_power[clean], rtol=0.01, atol=3.0)


def test_slip_never_heats_more_than_the_engine_gives(points):
    *_, work = points
    assert np.all(work.slip_power.sum(-1) <= work.engine_power * 1.001 + 1.0)
    assert np.mean(work.slip_power.sum(-1) > 100.0) > 0.1


def test_no_element_bears_more_than_it_can(points):
    plant, _, _, work = points
    joint = work.capacity @ plant.tables.couple
    asked = (work.held > 5.0) & (plant.applied[work.gear] > 0)
    assert np.all((work.held <= 1.02 * joint)[asked])


def test_one_element_is_heated_unless_caught_or_alike(points):
    """The others hold. A second one slips where a one-way clutch has caught the train, or where both hold alike."""
    plant, _, _, work = points
    clean = work.air_time < oil_phases.GULPS
    heated = ((work.slip_power > 1.0) & clean[..., None]) @ np.minimum(plant.tables.couple, 1.0) > 0
    couples = {tuple(row) for row in plant.tables.couple}
    count = sum((heated & (np.array(c) > 0)).any(-1).astype(int) for c in couples)
    several = count > 1
    joint = work.capacity @ plant.tables.couple
    share = plant.share[work.gear]
    limits = np.sort(np.where(share > 0, joint / np.maximum(share, 1e-9), np.inf), -1)
    catches = (plant.tables.caught.ratio[work.gear] > 0).any(-1)
    distinct = limits[..., -1] if limits.shape[-1] < 2 else limits
    alike = distinct[..., 1] <= (1.0 + slipping.ALIKE) * distinct[..., 0] + 1.0
    assert np.all((catches | alike | (count <= 1))[several])
    assert (count == 1).sum() > 50


# ---------------------------------------------------------------------- nothing jumps
def weakened(column: int, steps: int) -> tuple[Plant, np.ndarray]:
    """The sheet vehicle in `steps` copies, one element's friction surface shrinking to nothing."""
    spec = load_unit("T3")
    parameters = nominal_parameters(spec, steps)
    parameters["element_radius"][:, 0, column] *= np.linspace(1.0, 0.0, steps)
    return Plant(load_unit("T3"), parameters), duty_cycle("towing", load_unit("T3")).op


@pytest.mark.parametrize("column", range(4), ids=["forward", "direct", "band", "low"])
def test_nothing_jumps_as_an_element_weakens(column):
    steps = 1500
    plant, op = weakened(column, steps)
    op = replace(op, temperature=np.full(len(op.lever), units.from_fahrenheit(190.0)))
    work = plant.operate(new_condition(steps, load_unit("T3")), op)
    for value, most in ((work.slip, 0.08), (work.slip_power.sum(-1), 0.08), (work.drive_torque, 0.02)):
        span = np.ptp(value, axis=0)
        jump = np.abs(np.diff(value, axis=0)).max(0)
        assert np.all((jump <= most * span)[span > 1.0]), (jump / np.maximum(span, 1.0)).max()


@pytest.mark.parametrize("what", ["pump", "strainer", "leak"])
def test_nothing_jumps_as_the_supply_goes(what):
    """The pressure is that of the racing engine; a choked pump brings no less flow for turning faster."""
    steps, spec = 800, load_unit("T3")
    parameters, condition = nominal_parameters(spec, steps), new_condition(steps, load_unit("T3"))
    if what == "pump":
        condition.pump[:, 0] = np.linspace(0.0, 6.0, steps)
    elif what == "strainer":
        parameters["pump_strainer_dirt"][:, 0] = np.linspace(0.5, 0.97, steps)
    else:
        parameters["element_leak"][:, 0, 0] *= np.linspace(1.0, 150.0, steps)
    op = operation(
        "D", throttle=[0.3, 0.65, 0.6], road_speed=[2.0, 3.0, 25.0], temperature=units.from_fahrenheit(200.0)
    )
    work = Plant(load_unit("T3"), parameters).operate(condition, op)
    for value, most in ((work.slip_power.sum(-1), 0.14), (work.drive_torque, 0.05)):
        span = np.ptp(value, axis=0)
        jump = np.abs(np.diff(value, axis=0)).max(0)
        assert np.all((jump <= most * span)[span > 1.0]), (jump / np.maximum(span, 1.0)).max()


# ---------------------------------------------------------------------- what hangs on what
def band_gone(**parameters) -> tuple[Plant, object]:
    spec = load_unit("T3")
    values = nominal_parameters(spec)
    values["element_radius"][:, 0, 2] = 0.0
    for name, (column, value) in parameters.items():
        values[name][:, 0, column] = value
    return Plant(load_unit("T3"), values), operation(
        "2", throttle=0.25, road_speed=5.0, temperature=units.from_fahrenheit(180.0)
    )


def test_the_low_one_way_clutch_catches_second_gear_without_its_band():
    """Common practice, no source: no band, no second; it stays in first and pulls like first."""
    gone, op = band_gone()
    first = Plant(load_unit("T3"), nominal_parameters(load_unit("T3")))
    caught = gone.operate(new_condition(1, load_unit("T3")), op)
    pull = first.operate(new_condition(1, load_unit("T3")), replace(op, lever=("1",))).drive_torque
    np.testing.assert_allclose(caught.drive_torque, pull, rtol=0.01)
    backward, op = band_gone(element_reversed=(4, 1.0))
    assert backward.operate(new_condition(1, load_unit("T3")), op).drive_torque[0, 0] < 0.02 * pull[0, 0]


@pytest.mark.parametrize("unit", ["T3", "T4"])
def test_what_is_caught_begins_without_a_jump(unit):
    """Virtual work: the torque that the slipping element bears is what the lower gear must be given up for."""
    tables = gear_tables(load_unit(unit))
    low = tables.caught
    found = np.argwhere(low.ratio > 0)
    assert len(found) >= 2
    for row, column in found:
        given_up = (1.0 - tables.ratio[row] / low.ratio[row, column]) / low.relative[row, column]
        assert tables.share[row, column] == pytest.approx(given_up)
