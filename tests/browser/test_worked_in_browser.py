"""The first notebook in JupyterLab, as a learner meets it: by keys, after a restart, without barriers."""

from __future__ import annotations

import shutil
from importlib.resources import files

import nbformat
import pytest
from lab import failures, open_notebook, restart_kernel, run_all, write_notebook
from playwright.sync_api import expect

from course_lib.base.data_files import data_folder
from course_lib.bench.worked_view import RECORD_WAITS
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import load_key
from course_lib.cli import FIRST_NOTEBOOK
from course_lib.lessons.worked_case import WorkedCase

CELLS = [
    "from course_lib import open_worked",
    'case = open_worked("W01")',
    'case.step("look")',
    'case.step("think")',
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def answer(lab, *names: str) -> None:
    """Answer steps with their first choice, as if on an earlier day."""
    case = WorkedCase(load_case("W01"), load_key("W01"), folder=lab.folder / "answers")
    for name in names:
        case.lock(name, choice=0, sureness="sure")


@pytest.fixture
def steps(page, lab):
    """Two steps of the worked case on a page, not yet answered; the test fails on any script error. Those before are answered."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    answer(lab, "listen", "drive", "fork")
    write_notebook(lab.folder, "steps.ipynb", CELLS)
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    open_notebook(page, lab, "steps.ipynb")
    run_all(page, len(CELLS))
    expect(page.locator(".worked-step")).to_have_count(2)
    yield page.locator(".worked-step")
    assert errors == []


def open_first(steps) -> None:
    """Answer the first of the steps with the pointer."""
    steps.first.get_by_role("radio").first.check()
    steps.first.get_by_label("fairly sure").check()
    steps.first.get_by_role("button").click()
    expect(steps.first.locator("table").first).to_be_visible()


def test_a_step_is_answered_by_keys_alone(page, steps):
    """Tab, arrows and Space answer; D D in a control deletes no cell; the focus lands on what opened."""
    first = steps.first
    expect(first.locator("table")).to_have_count(0)
    first.get_by_role("radio").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("d")
    page.keyboard.press("d")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(first.locator("table").first).to_be_visible()
    picture = first.locator("img").first
    expect(picture).to_have_js_property("naturalWidth", 768)
    assert len(picture.get_attribute("alt")) > 40
    expect(first.locator(".answered")).to_be_focused()
    expect(first.locator(".answered")).to_have_text(
        "You said: Low fluid and air can leave the list (not sure)"
    )
    assert page.locator(".jp-CodeCell").count() == len(CELLS)


def test_an_open_answer_is_asked_for_in_words(steps):
    """Nothing chosen, nothing opened: the page says what is missing, where a screen reader hears it."""
    steps.first.get_by_role("button").click()
    expect(steps.first.get_by_role("status")).to_contain_text("Choose an answer and how sure you are")
    expect(steps.first.locator("table")).to_have_count(0)
    open_first(steps)
    steps.nth(1).get_by_role("button").click()
    expect(steps.nth(1).get_by_role("status")).to_contain_text("write your sentence")


def test_a_restart_loses_no_prediction(page, steps):
    """After a restart of the kernel a step that was open is open again, with the same answer; it waited for the one before."""
    expect(steps.nth(1).locator(".waits")).to_contain_text("Answer step 2 first")
    expect(steps.nth(1).get_by_role("textbox")).to_have_count(0)
    open_first(steps)
    steps.nth(1).get_by_role("textbox").fill("It needs oil <b>behind</b> the piston.")
    steps.nth(1).get_by_role("button").click()
    said = "You said: It needs oil <b>behind</b> the piston."
    expect(steps.nth(1).locator(".answered")).to_have_text(said)
    restart_kernel(page)
    run_all(page, len(CELLS))
    expect(steps.nth(1).locator(".answered")).to_have_text(said)
    expect(steps.first.locator(".answered")).to_contain_text("(fairly sure)")


def test_no_barrier_that_axe_can_find(page, steps):
    """WCAG 2.2 A and AA, light and dark, before and after the step opens.

    Source: W3C, Web Content Accessibility Guidelines 2.2; rules as implemented by axe-core.
    """
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))

    def look():
        for light in ("true", "false"):
            page.evaluate("(light) => { document.body.dataset.jpThemeLight = light }", light)
            asked = "(rules) => axe.run({include: [['.worked-step']]}, {runOnly: rules})"
            result = page.evaluate(asked, RULES)
            assert len(result["passes"]) > 5, "axe looked at next to nothing"
            assert [(each["id"], each["nodes"][0]["html"][:120]) for each in result["violations"]] == []

    look()
    open_first(steps)
    look()


def test_the_first_notebook_runs_to_its_end(page, lab):
    """Run All over the notebook as it is handed out: no cell fails, the first step asks, and the others wait for it.

    A cell that fails is put behind it, so that this test is known to see one.
    """
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    book = nbformat.read(data_folder("notebooks") / FIRST_NOTEBOOK, as_version=4)
    book.cells.append(nbformat.v4.new_code_cell("1 / 0"))
    nbformat.write(book, lab.folder / FIRST_NOTEBOOK)
    page.set_viewport_size({"width": 1280, "height": 9000})
    open_notebook(page, lab, FIRST_NOTEBOOK)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    expect(page.get_by_text("ZeroDivisionError").first).to_be_visible(timeout=60_000)
    assert ["ZeroDivisionError" in text for text in failures(page)] == [True]
    expect(page.locator(".worked-step .answered")).to_have_count(0)
    expect(page.locator(".worked-step .waits")).to_have_count(10)


def test_the_record_waits_for_the_steps_above_it(page, lab):
    """The expert's record holds nothing while a step above it is open, and is there, without a new run, once it is answered."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    answer(lab, "listen", "look")
    cells = [*CELLS[:2], 'case.step("drive")', "case.record()"]
    write_notebook(lab.folder, "record.ipynb", cells)
    open_notebook(page, lab, "record.ipynb")
    run_all(page, len(cells))
    page.get_by_text("The expert's record").first.click()
    expect(page.get_by_text(RECORD_WAITS)).to_be_visible()
    expect(page.get_by_role("row", name="Root cause")).to_have_count(0)
    open_first(page.locator(".worked-step"))
    page.get_by_text("The expert's record").first.click()
    expect(page.get_by_role("row", name="Root cause")).to_be_visible()


def test_units_are_chosen_once_for_the_whole_page(page, lab):
    """One switch, by keys: work order, spec sheet and every open step change; what is chosen but not sent stays chosen."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    answer(lab, "listen", "look", "drive")
    cells = [*CELLS[:2], "case.work_order()", 'case.step("drive")', 'case.step("fork")']
    write_notebook(lab.folder, "units.ipynb", cells)
    open_notebook(page, lab, "units.ipynb")
    run_all(page, len(cells))
    steps = page.locator(".worked-step:not(.worked-units)")
    drive, fork = steps.first, steps.nth(1)
    expect(steps).to_have_count(2)
    expect(drive).to_contain_text("mph")
    expect(page.get_by_role("row", name="odometer")).to_contain_text("miles")
    fork.get_by_role("radio").first.check()
    page.get_by_role("group", name="Units").get_by_role("radio").first.focus()
    page.keyboard.press("ArrowRight")
    expect(drive).to_contain_text("km/h")
    expect(drive).not_to_contain_text("mph")
    expect(page.get_by_role("row", name="odometer")).to_contain_text("km")
    expect(fork.get_by_role("radio").first).to_be_checked()
    assert (lab.folder / "answers" / ".units").read_text() == "metric"
    assert failures(page) == []
