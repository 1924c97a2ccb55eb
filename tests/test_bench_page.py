"""The page code of the bench as text: one piece, no markup from strings, no sentence of its own."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

import course_lib.bench as bench
from course_lib.bench.bay_view import BayPage
from course_lib.bench.bench_view import Bench
from course_lib.bench.items_view import ItemPage
from course_lib.bench.units_view import UnitsPage
from course_lib.bench.worked_view import StepPage

HERE = Path(bench.__file__).parent
SCRIPTS = sorted((HERE / "web").glob("*.js"))
PAGES = (Bench, ItemPage, StepPage, UnitsPage, BayPage)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_the_parts_make_one_module(page):
    """A widget takes one module: it has one default export, imports nothing, and no two parts use one name."""
    code = page.__dict__["_esm"]
    assert code.count("export default") == 1 and "import " not in re.sub(r"//.*|/\*.*?\*/", "", code)
    names = re.findall(r"^(?:function|class|const) (\w+)", code, re.MULTILINE)
    assert len(names) == len(set(names)) > 3


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_the_page_code_is_a_module_that_can_be_read(page, tmp_path):
    """Checked by another reader of the language, where there is one."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("needs node; the browser tests read the same code")
    (tmp_path / "page.mjs").write_text(page.__dict__["_esm"], encoding="utf-8")
    done = subprocess.run([node, "--check", str(tmp_path / "page.mjs")], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_nothing_that_is_read_becomes_markup(script):
    """Text goes in as text: none of the doors through which a string turns into elements or code.

    Source: OWASP, DOM based XSS Prevention Cheat Sheet (from memory).
    """
    code = script.read_text(encoding="utf-8")
    doors = (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "new Function",
        "DOMParser",
    )
    assert not [door for door in doors if door in code]


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_scripts_stay_readable(script):
    """House rule: a module of about 400 lines, lines of 160 characters at most."""
    lines = script.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 400
    assert max(map(len, lines)) <= 160, max(lines, key=len)


def test_every_sentence_of_the_page_is_made_in_python():
    """A string in the page code that holds three words with blanks between them would be a sentence."""
    plain = re.sub(r"//.*", "", Bench.__dict__["_esm"])
    strings = re.findall(r'"([^"\n]*)"', plain)
    classes = re.compile(r"[a-z0-9_.\[\]=>:,'#()-]+( [a-z0-9_.\[\]=>:,'#()-]+)*")
    spoken = [each for each in strings if len(each.split()) > 2 and not classes.fullmatch(each)]
    assert not spoken
