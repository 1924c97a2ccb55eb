"""`import course_lib` must stay quick: the pytest plugin and the command line pay for it every time."""

import importlib
import json
import subprocess
import sys

import pytest

import course_lib
from course_lib.base.data_files import data_folder

HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "ipywidgets", "anywidget", "IPython", "nbformat")

NOT_AT_FIRST = ("scipy", "pandas", "matplotlib", "joblib", "jinja2", "filelock", "distributed")


def seconds_after_numpy(module: str) -> float:
    """Best of five fresh interpreters: what importing `module` adds when numpy is there already."""
    code = f"import time, numpy; t = time.perf_counter(); import {module}; print(time.perf_counter() - t)"
    command = [sys.executable, "-c", code]
    runs = [subprocess.run(command, capture_output=True, text=True, check=True) for _ in range(5)]
    return min(float(run.stdout) for run in runs)


@pytest.mark.parametrize("module", ["course_lib", "course_lib.cli", "course_lib.classroom.plugin"])
def test_nothing_heavy_is_loaded(module):
    """Neither the package, nor the command line, nor the plugin loads a heavy library by being imported."""
    code = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    allowed = "['numpy']" if module == "course_lib.cli" else "[]"
    assert loaded.strip() in ("[]", allowed)


ROOMS_LOADED = {
    "import course_lib": {},
    "from course_lib import load_case; load_case('M01').inspect('interview').readings": {
        "base", "vehicle", "shop", "faults", "cases",
    },
    "from course_lib import load_key; load_key('M01')": {
        "base", "vehicle", "shop", "faults", "diagnosis", "cases",
    },
    "import os, tempfile; os.chdir(tempfile.mkdtemp()); from course_lib import load_case, load_key, open_bench; "
    "open_bench(load_case('M01'), load_key('M01'))": {
        "base", "vehicle", "shop", "faults", "diagnosis", "cases", "assessment", "bench",
    },
}  # fmt: skip
"""What a learner does -> the rooms it may load."""
LIGHT = {
    "vehicle": {
        "command",
        "control_spec",
        "growth",
        "memory",
        "operating_point",
        "parameters",
        "unit_spec",
        "uses",
    },
    "shop": {"display", "findings", "holders", "order", "road_moves"},
    "diagnosis": {"key_entries"},
}
"""Of rooms that simulate, the modules that only say what things are."""


def modules_after(code: str) -> set[str]:
    """The modules of course_lib that a fresh interpreter holds once it has run `code`."""
    show = "print('loaded:', *(name for name in sys.modules if name.startswith('course_lib.')))"
    command = [sys.executable, "-c", f"import sys; {code}; {show}"]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return set(said.partition("loaded: ")[2].split())


@pytest.mark.parametrize("code", ROOMS_LOADED)
def test_what_a_learner_opens_loads_no_simulator(code):
    """A case is a work order, findings and choices: neither the physics nor the diagnosis; its key only says what it holds."""
    loaded = [name.split(".")[1:] for name in modules_after(code)]
    assert {room for room, *_ in loaded} <= set(ROOMS_LOADED[code])
    heavy = [parts for parts in loaded if len(parts) > 1 and parts[1] not in LIGHT.get(parts[0], {parts[1]})]
    assert not heavy


def test_a_case_that_is_only_read_loads_no_scipy():
    """What opens a case and checks an answer starts in every kernel, so it must be quick; linear algebra comes with the advice."""
    code = "import sys; from course_lib import check_answer, load_case, open_bench; load_case('M01'); print('scipy' in sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert loaded.strip() == "False"


FIRST_CELLS = [
    "\n".join("".join(cell["source"]) for cell in cells[:1])
    for cells in (
        [
            cell
            for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]
            if cell["cell_type"] == "code"
        ]
        for path in sorted(data_folder("notebooks").glob("*.ipynb"))
    )
]
"""What every notebook runs first."""


@pytest.mark.parametrize("cell", sorted(set(FIRST_CELLS)))
def test_a_first_cell_loads_neither_a_drawing_library_nor_one_for_statistics(cell):
    """A learner waits for it: the first picture brings the drawing library, a class report the tables. Only the top-level names are
    used, so that a module may move."""
    code = f"import sys\n{cell}\nprint([m for m in {NOT_AT_FIRST!r} if m in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert loaded.strip() in ("[]", "['scipy']" if "open_bay" in cell else "[]"), (
        "only the open bay makes vehicles"
    )
    assert all(line.startswith("from course_lib import ") for line in cell.splitlines())


OLD = {
    "across": "across",
    "demos": "power_path",
    "demos_04": "line_sweep",
    "demos_05": "shifts_by_pedal",
    "demos_06": "balance",
    "demos_12": "homes",
    "demos_converter": "push",
    "demos_heat": "fluid_life",
}
"""Modules that notebooks of version 0.6 import, and a name from each."""


def test_notebooks_of_version_0_6_find_their_demonstrations():
    """A learner's copy is never replaced: what it imports is there under the old name, and is loaded once."""
    for old, name in OLD.items():
        there = importlib.import_module(f"course_lib.lessons.{old}")
        assert getattr(there, name) is getattr(course_lib, name)
    with pytest.raises(ModuleNotFoundError, match="demos_07"):
        importlib.import_module("course_lib.lessons.demos_07")


def test_a_lessons_first_cell_takes_no_longer_than_the_common_libraries():
    """At most 1.3 times the processor time of importing numpy, pandas and pyplot alone."""
    common = seconds_of("import numpy, pandas, matplotlib.pyplot")
    assert max(seconds_of(cell) for cell in FIRST_CELLS if "line_sweep" in cell) < 1.3 * common


def seconds_of(code: str) -> float:
    """Processor time of a piece of code in a fresh interpreter, the best of five."""
    whole = f"import time\nstart = time.process_time()\n{code}\nprint(time.process_time() - start)"
    runs = [
        subprocess.run([sys.executable, "-c", whole], capture_output=True, text=True, check=True)
        for _ in range(5)
    ]
    return min(float(run.stdout) for run in runs)


def test_import_adds_little_to_numpy():
    """House rule: less than 50 ms on top of numpy."""
    assert seconds_after_numpy("course_lib") < 0.050


def test_every_promised_name_is_there():
    """Each name that a notebook may import exists where the table says."""
    for name in course_lib.__all__:
        assert callable(getattr(course_lib, name)), name
    assert set(course_lib.__all__) <= set(dir(course_lib))


def test_an_unknown_name_says_what_there_is():
    """A slip of the pen is answered with the list."""
    with pytest.raises(AttributeError, match="no 'make_cake'. It offers: .*make_case"):
        course_lib.make_cake  # noqa: B018
