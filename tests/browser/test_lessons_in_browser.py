"""Items of a lesson in JupyterLab: every kind by keys alone, replies, restart, no barrier, nothing given away."""

from __future__ import annotations

import json
import re
import shutil
from importlib.resources import files

import pytest
from lab import open_notebook, restart_kernel, run_all, save, write_notebook
from playwright.sync_api import expect

from course_lib.base.data_files import data_folder
from course_lib.bench.items_view import GUESS_FIRST
from course_lib.lessons.lesson import load_lesson
from course_lib.lessons.workbook import Workbook

CELLS = [
    "from course_lib import open_lesson",
    'lesson = open_lesson("L01")',
    'lesson.ask("p1", "r1", "q1", "q3", "q5", "q6", "q7")',
    'lesson.spec("line_pressure_d_idle_psi")',
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LESSON = load_lesson("L01")


@pytest.fixture
def items(page, lab):
    """One item of each kind on a page, not yet answered; the test fails on any script error."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    write_notebook(lab.folder, "items.ipynb", CELLS)
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.set_viewport_size({"width": 1280, "height": 4000})
    open_notebook(page, lab, "items.ipynb")
    run_all(page, len(CELLS))
    found = page.locator(".lesson-item")
    expect(found).to_have_count(7)
    yield dict(zip(("p1", "r1", "q1", "q3", "q5", "q6", "q7"), found.all(), strict=True))
    assert errors == []


def send(item):
    """Press the button of an item by the keyboard."""
    item.locator(".send").focus()
    item.page.keyboard.press("Enter")


def test_items_by_keys_without_barriers_and_through_a_restart(page, lab, items):
    """Keys alone answer every kind; D D deletes no cell; the focus lands on the reply. Nothing of an open item is on the
    page or in the saved notebook; a restart loses no answer; axe finds no barrier before or after.
    """
    no_barrier(page, 9)
    assert not given_away(page, lab, "q5")
    answer_by_keys(page, lab, items)
    no_barrier(page, 5)  # all answered: no controls are left
    restart_kernel(page)
    run_all(page, len(CELLS))
    expect(page.locator(".lesson-item")).to_have_count(7)
    again = page.locator(".lesson-item").nth(5)
    expect(again.locator(".answered")).to_contain_text(f"{on_page(lab, 'q6', 'B')}. The low-reverse band")
    expect(again.locator(".choices")).to_contain_text(f"{on_page(lab, 'q6', 'C')}. The forward clutch")
    assert given_away(page, lab, "q5")  # now that it is answered, its worked answer is there


def on_page(lab, name: str, given: str) -> str:
    """An answer in letters of the lesson file, in those of this learner's page."""
    return Workbook("L01", folder=lab.folder / "answers").deal(name).on_page(given)


def given_away(page, lab, name: str) -> bool:
    """Whether a reply or the worked answer of an item is on the page or in the notebook as saved."""
    save(page, "items.ipynb")
    item = LESSON.item(name)
    shown = page.content() + (lab.folder / "items.ipynb").read_text(encoding="utf-8")
    worked = item.worked.rpartition("]")[2]  # its letters are those of the page
    return any(text in shown for text in (*(option.reply for option in item.options), worked))


def no_barrier(page, least: int):
    """No rule of WCAG 2.2 A and AA is broken, light and dark; at least so many of them had something to look at.

    Source: W3C, Web Content Accessibility Guidelines 2.2; rules as implemented by axe-core.
    """
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    for light in ("true", "false"):
        page.evaluate("(light) => { document.body.dataset.jpThemeLight = light }", light)
        asked = "(rules) => axe.run({include: [['.lesson-item']]}, {runOnly: rules})"
        result = page.evaluate(asked, RULES)
        assert len(result["passes"]) >= least, "axe looked at next to nothing"
        assert [(each["id"], each["nodes"][0]["html"][:120]) for each in result["violations"]] == []


def answer_by_keys(page, lab, items):
    """Answer all seven kinds by arrows, Space, letters and Enter, with D D in between."""
    guess = items["p1"]
    send(guess)
    expect(guess.get_by_role("status")).to_contain_text("Choose an answer")
    guess.get_by_role("radio").first.focus()
    for key in ("Space", "ArrowDown", "d", "d", "Tab", "Space"):
        page.keyboard.press(key)
    send(guess)
    expect(guess.locator(".reply")).to_be_focused()
    expect(guess.locator(".answered")).to_contain_text("B. Backward")

    items["r1"].get_by_role("textbox").focus()
    page.keyboard.type("A *part* breaks; a <b>cause</b> stays.")
    for units, shown in (("kPa, °C, km", "kPa"), ("psi, °F, miles", "psi")):
        page.get_by_label(units).check()  # items are drawn anew, what is begun stays, tables follow
        expect(page.locator(".jp-OutputArea-output table").filter(has_text="Spec sheet")).to_contain_text(
            shown
        )
    expect(items["r1"].get_by_role("textbox")).to_have_value("A *part* breaks; a <b>cause</b> stays.")
    send(items["r1"])
    expect(items["r1"].locator(".answered")).to_have_text("You said: A *part* breaks; a <b>cause</b> stays.")

    picks = items["q1"].get_by_role("combobox")
    for pick, letter in zip(picks.all(), on_page(lab, "q1", LESSON.item("q1").solution()), strict=True):
        pick.focus()
        page.keyboard.type(f"{letter}.")
    send(items["q1"])
    expect(items["q1"].locator(".closing")).to_have_text("100% of the points of this item.")

    items["q3"].get_by_role("textbox").focus()
    page.keyboard.type("0.45")
    page.keyboard.press("Tab")
    send(items["q3"])
    expect(items["q3"].locator(".word")).to_have_text("This one needs another look.")
    expect(items["q3"].locator(".closing")).to_have_text(
        "One more try. It earns half of the points still open."
    )
    expect(items["q3"].locator(".reply").first).to_contain_text("one tooth count over the other")
    items["q3"].get_by_role("textbox").fill("1.45")
    send(items["q3"])
    expect(items["q3"].locator(".closing")).to_have_text("50% of the points of this item.")

    for text in ("Third, in D", "Reverse"):
        items["q5"].get_by_role("checkbox", name=text).focus()
        page.keyboard.press("Space")
    send(items["q5"])
    expect(items["q5"].locator(".closing")).to_have_text("100% of the points of this item.")

    items["q6"].get_by_role("radio", name="The low-reverse band").focus()
    page.keyboard.press("Space")
    send(items["q6"])
    expect(items["q6"].locator(".closing")).to_have_text("100% of the points of this item.")

    sort_cards(page, items["q7"], on_page(lab, "q7", LESSON.item("q7").solution()))
    send(items["q7"])
    expect(items["q7"].locator(".closing")).to_have_text("100% of the points of this item.")
    assert page.locator(".jp-CodeCell").count() == len(CELLS)
    saved = json.loads((lab.folder / "answers" / "L01.json").read_text(encoding="utf-8"))
    assert [each["given"] for each in saved["tries"]["q3"]] == ["0.45", "1.45"]
    assert saved["tries"]["p1"][0]["sureness"] and len(saved["tries"]) == 7


def sort_cards(page, item, letters: str):
    """Move the cards up into an order by their buttons, the focus staying with the card."""
    for place, letter in enumerate(letters):
        card = item.locator(f'[data-card="{letter}"]')
        now = [each.get_attribute("data-card") for each in item.locator("[data-card]").all()].index(letter)
        for step in range(now - place):
            if step == 0:
                card.locator(".up").focus()
            page.keyboard.press("Enter")
            expect(card.locator("button:focus")).to_have_count(1)


def test_the_lesson_runs_to_its_end(page, lab):
    """Run All over lesson 1 as it is handed out: only the check at its end waits, in one line and no traceback."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    notebook = "lesson_01_power_paths.ipynb"
    shutil.copy(data_folder("notebooks") / notebook, lab.folder)
    page.set_viewport_size({"width": 1280, "height": 16000})
    open_notebook(page, lab, notebook)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    expect(page.locator(".lesson-item")).to_have_count(
        len(LESSON.items) + 1, timeout=60_000
    )  # and the standing
    expect(page.get_by_text(GUESS_FIRST).first).to_be_visible()  # no answer stands under an open guess
    expect(page.locator(".jp-OutputArea-output table").filter(has_text="Sun with 36 teeth")).to_have_count(0)
    guess = page.locator(".lesson-item").nth(2)
    for radio in (1, 3):
        guess.get_by_role("radio").nth(radio).focus()
        page.keyboard.press("Space")
    send(guess)
    expect(
        page.locator(".jp-OutputArea-output table").filter(has_text="carrier held, sun driven")
    ).to_have_count(1)
    failed = page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']")
    expect(failed).to_have_count(1)
    expect(failed).to_have_text(re.compile(r"^NotAnswered: Still open: items 1, .*10\. Answer above"))


def test_the_practice_is_done_again_by_keys(page, lab):
    """A button under the standing asks once more, opens the items in another order, and says so where the focus is."""
    shutil.rmtree(lab.folder / "answers", ignore_errors=True)
    page.set_viewport_size({"width": 1280, "height": 4000})
    write_notebook(lab.folder, "again.ipynb", [*CELLS[:2], 'lesson.ask("q6")', "lesson.progress()"])
    open_notebook(page, lab, "again.ipynb")
    run_all(page, 4)
    expect(page.locator(".lesson-item")).to_have_count(2)
    item, standing = page.locator(".lesson-item").all()
    item.get_by_role("radio", name="The low-reverse band").focus()
    page.keyboard.press("Space")
    send(item)
    expect(standing.locator("caption")).to_contain_text("11% of the points")
    no_barrier(page, 5)
    send(standing)
    expect(standing.locator(".no")).to_be_focused()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    expect(standing.get_by_role("status")).to_be_focused()
    expect(standing.locator("caption")).to_contain_text("0% of the points")
    expect(item.get_by_role("radio")).to_have_count(4)
