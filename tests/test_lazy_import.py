"""`import course_lib` must stay quick: the pytest plugin and the command line pay for it every time."""

import statistics
import subprocess
import sys

import pytest

import course_lib

HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "ipywidgets", "anywidget", "IPython", "nbformat")


def seconds(statement: str) -> float:
    """Median of five fresh interpreters, import time only."""
    code = f"import time; t = time.perf_counter(); {statement}; print(time.perf_counter() - t)"
    runs = [
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        for _ in range(5)
    ]
    return statistics.median(float(run.stdout) for run in runs)


@pytest.mark.parametrize("module", ["course_lib", "course_lib.cli", "course_lib.classroom.plugin"])
def test_nothing_heavy_is_loaded(module):
    """Neither the package, nor the command line, nor the plugin loads a heavy library by being imported."""
    code = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    allowed = "['numpy']" if module == "course_lib.cli" else "[]"
    assert loaded.strip() in ("[]", allowed)


def test_import_adds_little_to_numpy():
    """House rule: less than 50 ms on top of numpy."""
    assert seconds("import numpy, course_lib") - seconds("import numpy") < 0.050


def test_every_promised_name_is_there():
    """Each name that a notebook may import exists where the table says."""
    for name in course_lib.__all__:
        assert callable(getattr(course_lib, name)), name
    assert set(course_lib.__all__) <= set(dir(course_lib))


def test_an_unknown_name_says_what_there_is():
    """A slip of the pen is answered with the list."""
    with pytest.raises(AttributeError, match="no 'make_cake'. It offers: .*make_case"):
        course_lib.make_cake  # noqa: B018
