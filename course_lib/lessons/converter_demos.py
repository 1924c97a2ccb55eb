"""One-line calls on the converter: what it makes of the engine's push, and what a stall costs in heat."""

from __future__ import annotations

from course_lib.base import units
from course_lib.base.guards import between, one_of
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.tables import Table
from course_lib.lessons.vehicles import LessonVehicle, subject
from course_lib.physics import converter, fluid
from course_lib.vehicle.unit_spec import load_unit

LESSON = "L07"
SPEED_RATIOS = {
    "stands": 0.0,
    "a quarter as fast": 0.25,
    "half as fast": 0.5,
    "three quarters": 0.75,
    "almost as fast": 0.95,
}
CONVERTER_QUARTS = 8.0  # oil in the converter of a light truck: common practice, no source


def push(*vehicles: str) -> Table:
    """What the turbine gives for each 100 of push the engine puts in, by how fast the turbine turns against the engine.

    Raises ValueError for a vehicle that the lesson does not have.
    """
    known = load_lesson(LESSON).vehicles
    for name in vehicles:
        one_of("vehicle", name, known)
    columns = [_gives(known[name]) for name in vehicles]
    rows = tuple((said, *(column[at] for column in columns)) for at, said in enumerate(SPEED_RATIOS))
    return Table("Push out for 100 in", ("the turbine", *(known[name].label for name in vehicles)), rows)


def stall_heat(*seconds: float, unit: str = "three-speed") -> Table:
    """How much hotter the oil in the converter of a sound unit gets while it is held at stall.

    seconds: how long, 0 to 60. Nothing is carried away: the return is slow against such power.
    """
    spec = load_unit(unit)
    plant = subject(LessonVehicle(unit=spec.name)).plant
    p = plant.p
    torque = float(plant.powertrain.engine_torque(1.0, p.engine_best_speed).max())
    power = torque * converter.stall_speed(torque, float(p.converter_capacity.max()))
    density = float(fluid.density(units.from_fahrenheit(180.0), p.fluid_density_15c).max())
    stored = units.from_quart(CONVERTER_QUARTS) * density * float(p.fluid_specific_heat.max())
    rows = []
    for held in seconds:
        between("seconds", held, 0, 60, "Give how long the pedal is held, in seconds.")
        rows.append((f"{held:g} seconds", f"{power * held / stored * 1.8:.0f} °F"))
    return Table(
        f"{spec.title}, held at stall", ("pedal held", "oil in the converter hotter by"), tuple(rows)
    )


def _gives(vehicle: LessonVehicle) -> list[str]:
    p = subject(vehicle).plant.p
    left = 1.0 - float(p.converter_stator_slip.max())
    stall_ratio = 1.0 + (float(p.converter_stall_ratio.max()) - 1.0) * left
    coupling = float(p.converter_coupling.max())
    return [
        f"{100 * float(converter.torque_ratio(ratio, stall_ratio, coupling)):.0f}"
        for ratio in SPEED_RATIOS.values()
    ]
