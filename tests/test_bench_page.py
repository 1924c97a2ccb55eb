"""The page code of the bench as text: one piece, no markup from strings, no sentence of its own."""

from __future__ import annotations

import itertools
import json
import re
import shutil
import statistics
import subprocess
import threading
from pathlib import Path

import pytest

import course_lib.bench as bench
from course_lib.bench.bay_view import BayPage
from course_lib.bench.bench_model import BenchModel
from course_lib.bench.bench_view import Bench
from course_lib.bench.fields import FIELDS
from course_lib.bench.items_view import ItemPage
from course_lib.bench.sheet_page import SheetPage, changes
from course_lib.bench.units_view import UnitsPage
from course_lib.bench.worked_view import StepPage
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key

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


# ---------------------------------------------------------------------- what goes to the page
#: Bytes of a message that an act brings: of most of them, and of each of the acts a learner makes all the time.
USUAL, MOST = 2 * 1024, 12 * 1024
#: (before, after, what is sent). Source: RFC 7396, appendix A; those whose patch is the least that does it.
PATCHES = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"a": "b", "b": "c"}, {"b": "c"}),
    ({"a": "b"}, {}, {"a": None}),
    ({"a": "b", "b": "c"}, {"b": "c"}, {"a": None}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d"}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    ({"e": None}, {"e": None, "a": 1}, {"a": 1}),
    ({"a": {"b": 1, "c": 2}}, {"a": {"b": 1}}, {"a": {"c": None}}),
]


@pytest.mark.parametrize("before, after, patch", PATCHES)
def test_only_what_has_changed_is_sent(before, after, patch):
    """Objects are gone into, lists are sent whole, None takes away."""
    assert changes(before, after) == patch
    assert changes(after, after) == {}


class Line:
    """What goes from a page's kernel to the page: the sheet as the page then has it, and the bytes of each message."""

    def __init__(self, page):
        self.page, self.sheet, self.bytes = page, merged({}, page.get_state("whole")["whole"]), []
        page.send = self.send

    def send(self, content, buffers=None):
        self.bytes.append(len(json.dumps(content, ensure_ascii=False).encode()))
        if "changed" in content:
            assert content["changed"]["turn"] == self.sheet["turn"] + 1
            self.sheet = merged(self.sheet, content["changed"])


def merged(before, patch):
    """A merge patch carried out, written down from the pseudocode of RFC 7396, section 2."""
    if not isinstance(patch, dict):
        return patch
    after = dict(before) if isinstance(before, dict) else {}
    for name, value in patch.items():
        if value is None:
            after.pop(name, None)
        else:
            after[name] = merged(after.get(name), value)
    return after


def test_a_click_sends_little_and_the_page_ends_up_with_the_whole(tmp_path):
    """The course's longest road test, and every inspection there is: what each act sends, and that the sheet misses nothing.

    Limits: house rules; the whole sheet of such a case is 70 KB.
    """
    case, key = load_case("K22"), load_key("K22")
    page = Bench(BenchModel(case, key, folder=tmp_path))
    line, numbers = Line(page), itertools.count(1)

    def click(do, **more):
        page._handle_custom_msg({"n": f"click-{next(numbers)}", "do": do, **more}, [])

    for each in sorted(case.offered, key=lambda each: each.openness):
        click("choose", inspection=each.id)
        click("inspect", inspection=each.id)
    lists = page.model.lists()
    for name, field in FIELDS.items():
        value = {"tick": True, "text": "One thing led to the next."}.get(field.kind)
        if value is None:
            names = [choice[0] for choice in lists[field.choices]]
            value = {"radios": names[0], "pairs": [[names[0], ""]]}.get(field.kind, names[:2])
        click("draft", answer={name: value})
    click("hand_in", answer={"parts": list(key.parts), "causes": list(key.causes)})
    click("debrief")
    click("reopen")
    page.model.beside.wait()
    assert len(line.bytes) > 70 and max(line.bytes) < MOST and statistics.median(line.bytes) < USUAL
    assert line.sheet == merged({}, page.sheet)
    page._handle_custom_msg({"do": "whole"}, [])
    assert line.bytes[-1] > 5 * MOST, "a page that has missed a turn gets everything"


def test_a_sheet_that_has_not_changed_is_not_sent(tmp_path):
    """Work beside the page reports its progress often; most reports change nothing."""
    page = SheetPage({"a": {"b": 1}})
    line = Line(page)
    page.show(lambda: {"a": {"b": 1}})
    assert line.bytes == [] and page.sheet["turn"] == 0
    page.show(lambda: {"a": {"b": 2}})
    assert line.sheet == {"turn": 1, "a": {"b": 2}}


def test_an_older_sheet_never_replaces_a_newer_one():
    """Help draws in a thread of its own; a click that is shown while it draws is not undone by what it drew."""
    page, state = SheetPage({"at": 0}), {"at": 1}
    begun, clicked = threading.Event(), threading.Event()

    def slowly():
        drawn = dict(state)
        begun.set()
        clicked.wait(0.2)
        return drawn

    helper = threading.Thread(target=page.show, args=(slowly,))
    helper.start()
    begun.wait()
    state["at"] = 2
    click = threading.Thread(target=page.show, args=(lambda: dict(state),))
    click.start()
    click.join(0.05)
    clicked.set()
    helper.join()
    click.join()
    assert page.sheet["at"] == 2
