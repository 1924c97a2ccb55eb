"""Rules every formula keeps: arrays, docstring tables, examples, short bodies. The tests walk the package."""

import ast
import doctest
import importlib
import inspect
import json
import pkgutil
import re
from dataclasses import fields, is_dataclass
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from course_lib import physics

TOP = Path(__file__).resolve().parent.parent
MODULES = [
    importlib.import_module(f"course_lib.physics.{found.name}")
    for found in pkgutil.iter_modules(physics.__path__)
]
FUNCTIONS = {
    f"{module.__name__.rsplit('.', 1)[1]}.{name}": function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
}
SET_UP_ONLY = {
    "gearset.solve_train",
    "trouble_code.bytes_of",
    "trouble_code.code_of",
    "trouble_code.standard_value",
}
WITH_AN_AXIS = {
    "network.node_voltages",
    "network.branch_currents",
    "network.regulated_currents",
    "handover.turbine_trace",
}
ELEMENTWISE = sorted(set(FUNCTIONS) - SET_UP_ONLY - WITH_AN_AXIS)
# Three valid values per argument name, ordered so that any row fits with any other.
VALUES = {
    "a": (7.9, 8.0, 8.1),
    "accumulator_volume": (0.0, 1e-5, 4e-5),
    "across": (0.0, 1.0 / 120.0, 10.0),
    "air_density": (1.0, 1.1, 1.2),
    "air_share": (0.0, 0.1, 0.9),
    "apply_force": (0.0, 500.0, 4000.0),
    "area": (1e-6, 1e-4, 0.1),
    "area_high": (0.07, 0.075, 0.08),
    "area_low": (0.05, 0.055, 0.06),
    "at_20c": (4.5, 5.3, 24.0),
    "at_25c": (2000.0, 2200.0, 10e3),
    "b": (3.1, 3.13, 3.15),
    "back_pressure": (0.0, 2e4, 9e4),
    "base": (0.09, 0.12, 0.15),
    "best_speed": (230.0, 250.0, 270.0),
    "beta": (3500.0, 3600.0, 3950.0),
    "bore": (0.0, 0.5, 2.0),
    "capacity": (0.005, 0.0075, 0.01),
    "capacity_share": (0.0, 0.2, 0.41),
    "char": (0.0, 0.4, 1.0),
    "circuit_pressure": (0.0, 4e5, 1.6e6),
    "clearance_ratio": (1.0, 1.5, 3.0),
    "closed_vacuum": (50e3, 55e3, 60e3),
    "coefficient": (7e-13, 8e-13, 9e-13),
    "cold": (0.0, 0.4, 1.0),
    "conductance": (1e-10, 2e-10, 3e-10),
    "coupling_ratio": (0.85, 0.88, 0.9),
    "current": (0.0, 0.5, 1.2),
    "damping": (1.0, 2.0, 4.0),
    "debounce": (0.0, 0.2, 1.0),
    "density": (780.0, 820.0, 860.0),
    "density_15c": (850.0, 868.0, 880.0),
    "discharge_coefficient": (0.61, 0.65, 0.7),
    "displacement": (18e-6, 22e-6, 26e-6),
    "driver": (20.0, 30.0, 40.0),
    "droop": (0.03, 0.04, 0.06),
    "duty": (0.0, 0.4, 1.0),
    "energizing": (True, False, True),
    "feed_area": (1e-6, 4e-6, 7e-6),
    "fill_need": (0.06, 0.115, 0.3),
    "fill_pressure": (3.9e5, 4.1e5, 4.3e5),
    "fill_time": (0.07, 0.115, 0.2),
    "first_end": (60.0, 120.0, 240.0),
    "first_pressure": (5e4, 8e4, 1.2e5),
    "flow": (0.0, 2e-4, 5e-4),
    "free_speed": (430.0, 520.0, 600.0),
    "frequency": (100.0, 300.0, 1000.0),
    "friction_coefficient": (0.08, 0.12, 0.15),
    "friction_faces": (1, 6, 10),
    "friction_slope": (-0.004, 0.004, 0.012),
    "full_current": (0.9, 1.0, 1.1),
    "full_pressure": (1.6e6, 1.7e6, 1.8e6),
    "full_vacuum": (50e3, 52e3, 54e3),
    "gain": (8e-4, 1.2e-3, 3e-3),
    "gap": (1e-5, 2e-5, 3e-5),
    "geometric_flow": (0.0, 2e-4, 6e-4),
    "glaze": (0.0, 0.3, 1.0),
    "goal_pressure": (2e5, 2.6e5, 3e5),
    "governor_pressure": (0.0, 50e3, 200e3),
    "hardness": (0.0, 0.5, 1.0),
    "height": (0.02, 0.05, 0.08),
    "height_split": (0.02, 0.03, 0.04),
    "high": (2.0, 3.0, 4.0),
    "hole_area": (0.0, 2e-6, 8e-6),
    "hot": (0.0, 0.5, 1.0),
    "hysteresis": (0.0, 2e4, 5e4),
    "inductance": (8e-3, 12e-3, 20e-3),
    "inertia": (0.3, 0.5, 0.8),
    "jet": (0.045, 0.048, 0.05),
    "lag": (0.0, 0.05, 0.3),
    "lead": (0.2, 0.0, 0.0),
    "leak": (0.0, 5e-4, 1e-2),
    "leak_conductance": (0.0, 1e-11, 1e-9),
    "length": (0.5, 2.0, 4.0),
    "lever": (-0.1, 0.1, 0.17),
    "lift": (0.0, 1800.0, 4300.0),
    "line_pressure": (0.0, 4.5e5, 1.7e6),
    "longest": (10.0, 20.0, 30.0),
    "longest_fill": (2.0, 3.0, 4.0),
    "longest_slide": (2.0, 2.5, 3.0),
    "low": (-1.0, 0.0, 1.0),
    "margin": (-0.02, 0.001, 0.02),
    "mass_flow": (0.0, 0.02, 0.14),
    "mean_opening": (0.1, 0.25, 0.5),
    "mean_radius": (0.05, 0.06, 0.07),
    "mid_pressure": (0.8e5, 1e5, 1.2e5),
    "mid_speed": (8.0, 9.0, 10.0),
    "missing": (0, 1, 2),
    "moisture": (0.0, 0.5, 1.0),
    "most_run_up": (200.0, 250.0, 300.0),
    "nominal_flow": (1e-4, 2e-4, 3e-4),
    "ntu": (0.0, 1.0, 5.0),
    "offset": (-0.005, 0.0, 0.005),
    "open_volts": (2.5, 3.0, 3.5),
    "output_speed": (0.0, 100.0, 300.0),
    "overlap": (0.0, 0.15, 0.3),
    "oxidation": (0.0, 0.5, 1.0),
    "peak_speed": (140.0, 180.0, 250.0),
    "peak_torque": (0.0, 50.0, 300.0),
    "pickup_height": (0.006, 0.008, 0.01),
    "plate_temperature": (300.0, 500.0, 600.0),
    "plug": (0.0, 0.5, 0.9),
    "power": (0.0, 1e3, 1.2e4),
    "pressure": (0.0, 5e5, 1e6),
    "pressure_drop": (0.0, 5e5, 1e6),
    "pull_current": (0.25, 0.27, 0.4),
    "pull_up": (900.0, 1000.0, 1100.0),
    "radius": (0.03, 0.07, 0.08),
    "ramp_time": (0.0, 0.2, 0.5),
    "ratio": (0.7, 1.1, 4.0),
    "reach": (1e-3, 2e-3, 3e-3),
    "reference_gap": (0.8e-3, 1e-3, 1.2e-3),
    "release_current": (0.1, 0.15, 0.2),
    "release_delay": (-0.1, 0.02, 0.05),
    "release_time": (0.05, 0.09, 0.15),
    "residual": (0.0, 10.0, 60.0),
    "resistance": (2.0, 5.3, 30.0),
    "road_speed": (0.0, 6.0, 25.0),
    "rotor_height": (0.05, 0.06, 0.073),
    "roughness": (3e-6, 5e-6, 8e-6),
    "scale": (0.003, 0.004, 0.005),
    "second_end": (110.0, 120.0, np.inf),
    "section": (0.5e-6, 0.75e-6, 1.5e-6),
    "sensitivity": (0.02, 0.05, 0.1),
    "series": (0.0, 200.0, 1000.0),
    "set_pressure": (4e5, 8e5, 1.6e6),
    "shake": (0.0, 0.8, 1.2),
    "shaking": (0.0, 0.8, 1.1),
    "share": (0.0, 0.7, 1.0),
    "shrink": (0.0, 10.0, 14.0),
    "signal": (0.0, 0.5, 1.0),
    "signal_pressure": (2e4, 4e4, 6e4),
    "slack": (0.0, 0.01, 0.03),
    "slope": (4e3, 5e3, 6e3),
    "slosh": (0.002, 0.003, 0.004),
    "specific_heat": (500.0, 2100.0, 4178.0),
    "speed": (1.0, 70.0, 300.0),
    "speed_drawdown": (0.0, 0.001, 0.004),
    "speed_gap": (0.0, 40.0, 120.0),
    "speed_ratio": (0.0, 0.5, 1.0),
    "spring_pressure": (2e4, 3e4, 9e4),
    "stall_ratio": (1.8, 2.0, 2.2),
    "start_speed": (2.0, 3.0, 4.0),
    "stroke_volume": (0.0, 1e-5, 2e-5),
    "suction_depression": (0.0, 4e3, 2e4),
    "suction_limit": (7e4, 8e4, 9e4),
    "suction_resistance": (7.5e8, 1e9, 1.3e10),
    "supply_volts": (4.5, 5.0, 5.5),
    "teeth": (29, 30, 60),
    "temperature": (260.0, 353.15, 420.0),
    "temperature_1": (310.0, 313.15, 315.0),
    "temperature_2": (370.0, 373.15, 375.0),
    "thickness": (0.5, 1.0, 20.0),
    "throttle": (0.0, 0.5, 1.0),
    "tilt": (-0.2, 0.0, 0.3),
    "time": (0.0, 2e-3, 0.5),
    "time_out": (0.9, 0.95, 1.0),
    "torque": (20.0, 40.0, 300.0),
    "torque_phase": (0.1, 0.15, 0.2),
    "travel_full": (0.03, 0.04, 0.05),
    "turbine_speed": (0.0, 150.0, 400.0),
    "ua": (50.0, 150.0, 220.0),
    "used": (0.0, 1e-4, 6e-4),
    "vacuum": (0.0, 20e3, 60e3),
    "vacuum_at_modulator": (0.0, 26e3, 60e3),
    "value": (-3.0, 0.5, 5.0),
    "viscosity": (0.005, 0.01, 0.1),
    "viscosity_1": (34e-6, 36e-6, 40e-6),
    "viscosity_2": (7.0e-6, 7.3e-6, 7.6e-6),
    "viscosity_dynamic": (0.005, 0.01, 0.1),
    "volts": (8.0, 10.0, 14.8),
    "volume": (0.0, 0.002, 0.006),
    "water": (0.0, 0.01, 0.03),
    "wear_coefficient": (1e-16, 3e-16, 5e-16),
    "wet": (0.0, 0.5, 1.2),
    "wrap_angle": (3.0, 5.0, 5.76),
    "zero_current": (0.1, 0.15, 0.2),
}


def names_of(function):
    """Argument names in order."""
    return list(inspect.signature(function).parameters)


def numbers_of(function):
    """Names of the plain numbers that a formula takes, in order: what is handed in together stands with its fields."""
    numbers = []
    for name, argument in inspect.signature(function).parameters.items():
        kind = argument.annotation
        numbers += [field.name for field in fields(kind)] if is_dataclass(kind) else [name]
    return numbers


def called(function, numbers):
    """A formula called with its plain numbers, in order."""
    left, arguments = iter(numbers), {}
    for name, argument in inspect.signature(function).parameters.items():
        kind = argument.annotation
        arguments[name] = kind(*islice(left, len(fields(kind)))) if is_dataclass(kind) else next(left)
    return function(**arguments)


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_array_equals_scalars(name):
    """One call on broadcast arrays gives what the scalar calls give, all finite, without a warning.

    Column of the first argument against rows of the others; nine scalar calls check the nine cells.
    """
    function = FUNCTIONS[name]
    rows = [np.array(VALUES[number]) for number in numbers_of(function)]
    grid = np.asarray(called(function, [rows[0][:, None], *rows[1:]]))
    for i in range(3):
        for j in range(grid.shape[-1]):
            single = called(function, [rows[0][i].item(), *(row[j].item() for row in rows[1:])])
            assert np.all(np.isfinite(single))
            np.testing.assert_allclose(grid[..., i, j], single, rtol=1e-13)


SECTIONS = ("Returns", "Valid for", "Source", "In the workshop", "Example")
TABLE_ROW = re.compile(r"^ {4}(\w+) {2,}(?:float|int|bool|str|sequence|pair|[A-Z]\w+)\b.* \[.+\]$")


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_docstring_table_is_the_signature(name):
    """The table lists exactly the arguments, in order, each with a unit; every section is there."""
    text = inspect.getdoc(FUNCTIONS[name])
    table = text.split("\nParameters")[1].split("\nReturns\n")[0].splitlines()[1:]
    found = [TABLE_ROW.match(line) for line in table]
    assert all(found), table
    assert [match.group(1) for match in found] == names_of(FUNCTIONS[name])
    order = [text.index(f"\n{part}\n") for part in SECTIONS]
    assert order == sorted(order)
    assert re.search(r"\[.+\]", text.split("\nReturns\n")[1].splitlines()[0])


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_run(module):
    """Every docstring example gives the result it prints, and every formula has one."""
    result = doctest.testmod(module)
    formulas = sum(function.__module__ == module.__name__ for function in FUNCTIONS.values())
    assert result.failed == 0
    assert result.attempted >= formulas


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_bodies_are_short(module):
    """No function has more than 20 lines below its docstring."""
    for node in ast.walk(ast.parse(inspect.getsource(module))):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            assert not body or body[-1].end_lineno - body[0].lineno < 20, node.name


def test_table_of_values_has_no_leftovers():
    """Every argument name in the table above is still used by a formula."""
    used = {number for name in ELEMENTWISE for number in numbers_of(FUNCTIONS[name])}
    assert set(VALUES) == used


def test_what_no_vehicle_uses_does_not_stand_here():
    """Every public formula is used outside this room, by vehicles or lessons, or by a formula that is."""
    room = TOP / "course_lib/physics"
    outside = [path for path in TOP.glob("course_lib/**/*.py") if path.parent != room]
    used = set().union(*(_names(path) for path in [*outside, *TOP.glob("solutions/*.ipynb")]))
    inside = {
        node.name: {getattr(each, "id", "") or getattr(each, "attr", "") for each in ast.walk(node)}
        for path in room.glob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
    }
    for _ in inside:
        used |= set().union(*(names for name, names in inside.items() if name in used))
    unused = {name for name in FUNCTIONS if name.partition(".")[2] not in used}
    assert not unused


def _names(path):
    """Every name that code or a notebook's code cells use; what stands in a text does not count."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".ipynb":
        cells = [cell for cell in json.loads(text)["cells"] if cell["cell_type"] == "code"]
        return set(re.findall(r"\w+", " ".join("".join(cell["source"]) for cell in cells)))
    return {getattr(node, "id", "") or getattr(node, "attr", "") for node in ast.walk(ast.parse(text))}
