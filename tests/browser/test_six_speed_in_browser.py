"""A vehicle with the electronic unit at the bench: worked by keys alone, seen at both widths, in light and dark."""

from __future__ import annotations

import re

import pytest
from lab import PATIENCE_MS, open_notebook, run_all, write_notebook
from playwright.sync_api import expect

from course_lib.assessment.record import load_record

CASE = "six-speed-1"
NOTEBOOK = "six.ipynb"
DESK = [
    "from pictured import electric_case\n"
    "from course_lib.bench import open_bench\n"
    f"open_bench(electric_case('green feed pin', {CASE!r}), mode='marked')"
]
PICTURED = [
    *("codes", "service_info", "plug_look", "level_window", "adapts_read", "bus_check", "data_road"),
    *("shift_graph", "volt_drop", "sensor_scope"),
]
ANSWER = {
    "parts": "Case plug",
    "causes": "Salt water has",
    "chain": "The current that is asked for",  # chosen, and not added by its button
    "evidence": "Battery to feed B, lock-up",
    "why": "The pin ate the volts of the coil.",
}
MOST_STOPS = 60  # places that Tab passes on its way


@pytest.fixture(scope="module")
def bench(chromium, lab):
    """One bench for all tests of the module, in the order in which they stand."""
    context = chromium.new_context(viewport={"width": 1280, "height": 1800}, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    write_notebook(lab.folder, NOTEBOOK, DESK)
    open_notebook(page, lab, NOTEBOOK)
    run_all(page, len(DESK))
    root = page.get_by_label(f"Bench for case {CASE}", exact=True)
    root.wait_for()
    yield root
    context.close()
    assert errors == []


def tab_to(root, selector):
    """Press Tab until the focus is on or in something that a selector means."""
    for _ in range(MOST_STOPS):
        if root.evaluate("(_, selector) => Boolean(document.activeElement.closest(selector))", selector):
            return
        root.page.keyboard.press("Tab")
    pytest.fail(f"Tab does not come to {selector}")


def choose(root, act):
    """Down the list of inspections by arrows until one is chosen, and do it."""
    root.locator(".order summary").focus()
    tab_to(root, ".rows")
    root.page.keyboard.press("Space")
    radio = root.locator(f".rows input[value={act}]")
    for _ in range(MOST_STOPS):
        if radio.is_checked():
            break
        root.page.keyboard.press("ArrowDown")
    expect(radio).to_be_checked()
    title = root.locator(f".rows label:has(input[value={act}])").inner_text().split("\n")[0]
    expect(root.locator(".act")).to_contain_text(title)  # what it tells is read before it is done
    tab_to(root, ".act button.main")
    root.page.keyboard.press("Enter")


def test_a_refused_act_is_answered_by_keys_with_its_reason(bench):
    """Chosen like any other; the reason is said in a live region, nothing is spent, nothing is found."""
    choose(bench, "clear_codes")
    said = bench.locator(".act .said")
    expect(said).to_contain_text("only witness")
    expect(said).to_contain_text("No minutes were spent.")
    expect(bench.locator(".minutes")).to_have_text("0 min used")
    assert bench.locator(".act [role=status], .act [aria-live]").count()


def test_findings_come_by_keys_with_pictures_and_words(bench):
    """Every new finding with a picture of its own, each picture with its words; tables hold every reading."""
    for name in PICTURED:
        choose(bench, name)
        expect(bench.locator(f"[data-finding={name}]")).to_be_visible()
        picture = bench.locator(f"[data-finding={name}] img").first
        picture.wait_for()
        expect(picture).to_have_js_property("naturalWidth", 768)
        assert len(picture.get_attribute("alt")) > 40, name
    bench.locator("[data-finding=volt_drop] summary").press("Enter")
    meter = bench.locator("[data-finding=volt_drop] img").last
    expect(meter).to_have_attribute("alt", re.compile("red lead on battery plus, black on X1 pin 2"))


@pytest.mark.parametrize("width", [1280, 800])
@pytest.mark.parametrize("light", ["true", "false"])
def test_nothing_is_cut_off(bench, width, light):
    """At both widths, in light and dark, no finding is wider than its place, and its words differ from their ground."""
    page = bench.page
    page.set_viewport_size({"width": width, "height": 1800})
    page.evaluate("light => { document.body.dataset.jpThemeLight = light; }", light)
    bench.evaluate(
        "root => root.querySelectorAll('details[data-finding]').forEach(each => { each.open = true; })"
    )
    bench.locator(f"[data-finding={PICTURED[0]}] img").first.wait_for()
    wide = bench.evaluate(
        "root => [...root.querySelectorAll('[data-finding]')].filter(each => each.scrollWidth > each.clientWidth + 1)"
        ".map(each => each.dataset.finding)"
    )
    assert wide == []
    right = bench.evaluate("root => root.getBoundingClientRect().right")
    for picture in bench.locator("[data-finding] img").all():
        if picture.is_visible():
            box = picture.bounding_box()
            assert box["x"] + box["width"] <= right + 1


def test_the_answer_is_handed_in_by_keys(bench, lab):
    """Part, cause and proof from the lists of the electrical side, by their groups; the record holds them."""
    page = bench.page
    page.set_viewport_size({"width": 1280, "height": 1800})
    for step, words in ANSWER.items():
        tab_to(bench, f"[data-step='{step}'] > summary")
        page.keyboard.press("Space")
        page.keyboard.press("Tab")
        page.keyboard.type(words)
    groups = bench.evaluate("root => [...root.querySelectorAll('optgroup')].map(group => group.label)")
    assert {
        "Power and ground",
        "Loom and plugs",
        "Sensors",
        "Solenoids and valves",
        "Controller and data",
    } <= set(groups)
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    tab_to(bench, ".buttons button.main")
    page.keyboard.press("Enter")
    expect(bench.locator(".hand .said").first).to_contain_text("your instructor marks it")
    handed = load_record(CASE, lab.folder / "answers").handed_in
    assert handed is not None and handed.parts and handed.causes and handed.evidence == ("feed_b_lockup_v",)
    assert handed.chain == ("current_off",)
