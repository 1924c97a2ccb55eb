"""The bench in JupyterLab, seen and worked as a learner does: by mouse, by keys, fast, and after a restart."""

from __future__ import annotations

import re
import statistics
import time
from importlib.resources import files

import nbformat
import pytest
from lab import PATIENCE_MS, open_notebook, restart_kernel, run_all, save, write_notebook
from playwright.sync_api import expect

from course_lib.assessment.record import load_record

DESK = [
    "from fake_case import FakeCase, FakeKey, WorkOrder, lives\n"
    "from course_lib.bench import open_bench\n"
    "def show(case_id, **order):\n"
    "    case = FakeCase(case_id)\n"
    "    case.work_order = WorkOrder(**order)\n"
    "    return open_bench(case, FakeKey(case_id), lives=lives)",
    "pass",
    "pass",
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SENTENCE = "Low pressure let the plates slip, and slipping burnt them."


class Desk:
    """One notebook in one browser page for all tests: a new bench comes by running its second cell anew."""

    notebook = "desk.ipynb"

    def __init__(self, page, lab):
        self.page, self.lab, self.errors = page, lab, []
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        write_notebook(lab.folder, self.notebook, DESK)
        open_notebook(page, lab, self.notebook)
        run_all(page, len(DESK))

    def run(self, cell, source):
        """Write `source` into a cell and run it; do not wait."""
        self.page.locator(".jp-CodeCell .cm-content").nth(cell).click()
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(source)
        self.page.keyboard.press("Control+Enter")


@pytest.fixture(scope="module")
def desk(chromium, lab):
    context = chromium.new_context(viewport={"width": 1280, "height": 1800}, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    yield Desk(context.new_page(), lab)
    context.close()


@pytest.fixture
def page(desk):
    """The page of the desk, as wide and as light as it was at first."""
    desk.page.set_viewport_size({"width": 1280, "height": 1800})
    return desk.page


class Bench:
    """The bench on a page, with the record it writes."""

    def __init__(self, desk, case_id, order=""):
        self.page, self.lab, self.case_id, self.notebook = desk.page, desk.lab, case_id, desk.notebook
        desk.run(1, f"show({case_id!r}{order})")
        self.root = self.page.get_by_label(f"Bench for case {case_id}", exact=True)
        self.root.wait_for()

    @property
    def record(self):
        return load_record(self.case_id, self.lab.folder / "answers")

    def radio(self, inspection):
        return self.root.locator(f".rows input[value={inspection}]")

    @property
    def act(self):
        return self.root.locator(".act button.main")

    @property
    def hand_in(self):
        return self.root.locator(".buttons button.main")

    def found(self, inspection):
        return self.root.locator(f"[data-finding={inspection}]")

    def inspect(self, *inspections):
        for inspection in inspections:
            self.radio(inspection).check()
            self.act.click()
            expect(self.found(inspection)).to_be_visible()

    def step(self, name):
        """A step of the form, opened."""
        step = self.root.locator(f"[data-step='{name}']")
        if step.get_attribute("open") is None:
            step.locator("summary").click()
        return step

    def fill(self, part="forward_clutch_plates", cause="pressure_regulator_stuck_low", why=SENTENCE):
        for name in ("parts", "causes", "evidence", "why"):
            self.step(name)
        for name in ("parts", "causes", "evidence", "why"):
            self.step(name)
        self.root.get_by_label("Broken part", exact=True).select_option(part)
        self.root.get_by_label("Root cause", exact=True).select_option(cause)
        self.root.get_by_label("Finding that proves it", exact=True).select_option("line_pressure_d_idle_psi")
        self.root.get_by_label("How one thing led to the next").fill(why)
        self.root.get_by_label("fairly sure").check()


@pytest.fixture
def bench(page, desk, request):
    """A bench whose case is named after the test; the test fails on any script error."""
    yield Bench(desk, re.sub(r"\W", "-", request.node.name)[5:43].strip("-_"))
    assert desk.errors == []


def test_a_whole_case_by_mouse(bench):
    """Caution before the act, a refusal for free, half an answer, reopened, the whole answer."""
    bench.radio("stall_test").check()
    expect(bench.root.locator(".caution")).to_contain_text("Caution. It can leap:")
    bench.act.click()
    expect(bench.root.locator(".act .said")).to_contain_text("No minutes were spent.")
    expect(bench.root.locator(".minutes")).to_have_text("0 min used")
    bench.inspect("fluid_hot", "line_pressure")
    expect(bench.root.locator(".minutes")).to_have_text("50 min used")
    bench.fill(cause="pump_worn_abrasive")
    bench.hand_in.click()
    expect(bench.root.locator(".verdict h4")).to_have_text("Part found, cause still open")
    assert bench.record.handed_in.causes == ("pump_worn_abrasive",)
    bench.hand_in.click()
    bench.root.get_by_label("Root cause", exact=True).select_option("pressure_regulator_stuck_low")
    bench.hand_in.click()
    expect(bench.root.locator(".verdict h4")).to_have_text("Part and cause found")
    assert bench.record.attempts == 2 and bench.record.handed_in.causes == ("pressure_regulator_stuck_low",)
    assert bench.record.handed_in.why == SENTENCE


def test_a_whole_case_by_keyboard_alone(bench, page):
    """From the work order to the debrief only keys; each stop is reached by Tab in reading order."""
    keys = page.keyboard

    def press(*names):
        for name in names:
            keys.press(name)

    def opened(step):
        """Tab to the next step and open it."""
        press("Tab")
        expect(bench.root.locator(f"[data-step='{step}'] > summary")).to_be_focused()
        press("Space")
        press("Tab")

    bench.root.locator(".order summary").focus()
    press("Enter")
    expect(bench.root.locator(".order details dl").first).to_be_visible()
    expect(bench.root.locator(".order details h4").first).to_be_visible()
    press("Tab", "Space")
    expect(bench.radio("interview")).to_be_checked()
    press(*["ArrowDown"] * 5)
    expect(bench.radio("line_pressure")).to_be_checked()
    press("Tab", "Tab", "Enter")
    expect(bench.radio("line_pressure")).to_be_focused()
    expect(bench.radio("line_pressure")).not_to_be_checked()
    press("Space", "Tab", "Enter")
    expect(bench.found("line_pressure")).to_be_visible()
    expect(bench.act).to_be_focused()
    press("Tab", "Tab", "Tab")
    keys.type("Pump clearance")
    expect(bench.root.get_by_label("Finding that speaks against it")).to_be_visible()
    press("Tab")
    keys.type("Line pressure, R")
    press(*["Tab"] * 2, "Space")
    press(*["Tab"] * 5)
    keys.type("Ask about July.")
    press("Tab")
    opened("parts")
    keys.type("Forward")
    expect(bench.root.get_by_label("Second broken part, if any")).to_be_visible()
    press("Tab")
    opened("causes")
    keys.type("Pressure regulator")
    expect(bench.root.get_by_label("Second root cause, if any")).to_be_visible()
    press("Tab")
    opened("chain")
    for link in ("The fluid runs low", "The pump draws air"):
        keys.type(link)
        press("Tab", "Enter", "Shift+Tab")
    expect(bench.root.locator(".cards li")).to_have_count(2)
    press(*["Shift+Tab"] * 3, "Enter")
    expect(bench.root.locator(".cards li").first).to_contain_text("The pump draws air")
    expect(bench.root.get_by_role("button", name="Earlier: The pump draws air")).to_be_focused()
    press(*["Tab"] * 7)
    opened("evidence")
    keys.type("Line pressure, D")
    expect(bench.root.get_by_label("Second finding that proves it, if any")).to_be_visible()
    press("Tab", *["Tab"] * 3)
    opened("why")
    keys.type(SENTENCE)
    press("Tab", "Space", "ArrowRight", "Tab", "Enter")
    expect(bench.root.locator(".verdict h4")).to_have_text("Part and cause found")
    handed_in = bench.record.handed_in
    assert (handed_in.why, handed_in.confidence) == (SENTENCE, "fairly sure")
    assert handed_in.evidence == ("line_pressure_d_idle_psi",) and len(handed_in.chain) == 2
    assert [(each.cause, each.finding) for each in handed_in.excluded] == [
        ("pump_worn_abrasive", "line_pressure_r_idle_psi")
    ]
    assert handed_in.cleared == ("forward_clutch",) and bench.record.notes == "Ask about July."
    press("Tab", "Enter")
    expect(bench.root.locator("[data-part=happened]")).to_be_visible()


def test_pictures_units_hint_odds_and_debrief(bench, page, record_property):
    """What is drawn comes with its words; units change everywhere; help and debrief come at a button."""
    bench.inspect("road_test", "line_pressure")
    picture = bench.found("line_pressure").locator("img").first
    picture.wait_for()
    assert "48" in picture.get_attribute("alt") and "psi" in picture.get_attribute("alt")
    expect(picture).to_have_js_property("naturalWidth", 768)
    expect(bench.found("road_test").locator("table")).to_have_count(0)  # folded since the next one came
    bench.root.get_by_label("kPa").check()
    expect(bench.found("line_pressure").locator("tbody tr").first).to_contain_text("331\u202fkPa")
    expect(bench.found("line_pressure").locator("img").first).to_have_attribute("alt", re.compile("331.*kPa"))
    bench.root.get_by_role("button", name="Ask for a hint").click()
    expect(bench.root.locator(".act .help")).to_contain_text("A direction:")
    bench.root.get_by_role("button", name="Show how the suspects stand").click()
    expect(bench.root.locator(".think table")).to_contain_text("after 2")
    bench.root.locator(".think img").wait_for()
    assert axe_findings(page) == []
    bench.fill()
    bench.hand_in.click()
    expect(bench.root.locator(".verdict h4")).to_have_text("Part and cause found")
    start = time.perf_counter()
    bench.root.get_by_role("button", name="Read the debrief").click()
    bench.root.locator("[data-part=twin]").wait_for()
    record_property("click_to_debrief_s", f"{time.perf_counter() - start:.3f}")
    print(f"click to debrief: {(time.perf_counter() - start) * 1000:.0f} ms")
    expect(bench.root.locator(".debrief h4")).to_be_focused()
    assert axe_findings(page) == []


def test_a_restarted_kernel_is_told_and_nothing_is_lost(bench, page):
    """The dead page says so within seconds; run again, it holds all it held."""
    bench.inspect("interview", "line_pressure")
    bench.fill()
    bench.root.get_by_label("Notes, for yourself").fill("Fine when cold.")
    bench.root.get_by_label("direct clutch", exact=True).check()
    page.wait_for_function("() => document.querySelector('.bench').dataset.state === 'ready to hand in'")
    bench.found("line_pressure").locator("img").first.wait_for()
    before = bench.root.locator(".know").inner_text()
    restart_kernel(page)
    expect(bench.root.locator(".notice")).to_contain_text("The kernel was restarted.")
    page.locator("#jp-main-statusbar").get_by_text(re.compile(r"\| Idle$")).wait_for()
    run_all(page, 2)
    expect(bench.root.locator(".minutes")).to_have_text("45 min used")
    expect(bench.root.locator(".notice")).to_be_empty()
    expect(bench.root.locator(".know")).to_have_text(before, use_inner_text=True)
    bench.step("why")
    expect(bench.root.get_by_label("How one thing led to the next")).to_have_value(SENTENCE)
    expect(bench.root.get_by_label("Notes, for yourself")).to_have_value("Fine when cold.")
    expect(bench.root.get_by_label("direct clutch", exact=True)).to_be_checked()
    bench.hand_in.click()
    expect(bench.root.locator(".verdict h4")).to_have_text("Part and cause found")


def test_fast_typing_then_handing_in_loses_nothing(bench, page):
    """What stood in the field at the click is what was handed in, every time."""
    bench.inspect("line_pressure")
    bench.fill(why="")
    field = bench.root.get_by_label("How one thing led to the next")
    for attempt in range(1, 4):
        text = f"Try {attempt}: " + "the plates slipped and burnt. " * 3
        field.click()
        page.keyboard.press("Control+a")
        page.keyboard.type(text)
        bench.hand_in.click()
        expect(bench.root.locator(".verdict")).to_be_visible()
        assert bench.record.handed_in.why == text
        assert bench.record.attempts == attempt
        bench.hand_in.click()
        expect(bench.root.locator(".verdict")).to_be_hidden()


def test_the_notebooks_keys_stay_out_and_saving_stays_in(bench, page):
    """D twice, Enter and the arrows in our controls do not touch the cell; Ctrl+S saves the notebook."""
    cell = page.locator(".jp-Notebook-cell")
    bench.inspect("line_pressure")
    for control in (
        bench.radio("pan"),
        bench.act,
        bench.step("parts").get_by_label("Broken part", exact=True),
        bench.step("why").get_by_label("How one thing led to the next"),
        bench.root.get_by_label("fairly sure"),
        bench.hand_in,
    ):
        control.focus()
        for key in ("d", "d", "x", "b", "ArrowDown", "ArrowUp"):
            page.keyboard.press(key)
        expect(cell).to_have_count(len(DESK))
        expect(bench.root).to_be_visible()
        save(page, bench.notebook)


def test_a_busy_kernel_never_does_another_inspection(bench, desk):
    """The click carries its own choice; choosing further while waiting changes nothing."""
    desk.run(2, "import time; time.sleep(3)")
    bench.radio("interview").check()
    bench.act.click()
    bench.radio("teardown").check()
    expect(bench.root.locator(".act .said")).to_contain_text("Waiting for the kernel.")
    expect(bench.found("interview")).to_be_visible()
    assert [step.inspection for step in bench.record.inspections] == ["interview"]
    expect(bench.radio("teardown")).to_be_checked()


def test_a_double_click_is_one_decision(bench):
    """Neither a second inspection nor a reopened order comes of it."""
    bench.radio("line_pressure").check()
    bench.act.dblclick()
    expect(bench.found("line_pressure")).to_be_visible()
    bench.fill()
    bench.hand_in.dblclick()
    expect(bench.root.locator(".verdict")).to_be_visible()
    assert bench.record.attempts == 1 and len(bench.record.inspections) == 1
    expect(bench.hand_in).to_have_text("Reopen the work order")


def test_a_reopened_page_shows_the_work_again(bench, page):
    """The kernel lived on: nothing but the page was lost."""
    bench.inspect("fluid_hot")
    save(page, bench.notebook)
    page.reload()
    page.locator("#jp-main-statusbar").get_by_text(re.compile(r"\| Idle$")).wait_for()
    run_all(page, 2)
    expect(bench.found("fluid_hot")).to_be_visible()


def test_what_is_read_is_never_markup(page, desk):
    """An owner who speaks HTML is quoted, not obeyed."""
    speech = "<img src=x onerror=window.hurt=1>"
    bench = Bench(desk, "markup", f", complaint={speech!r}")
    expect(bench.root.locator(".complaint")).to_contain_text(speech)
    expect(bench.root.locator("img[src=x]")).to_have_count(0)
    assert page.evaluate("window.hurt") is None


def axe_findings(page):
    """Violations of WCAG 2.2 A and AA in our own output, as axe-core sees them: (rule, place)."""
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    result = page.evaluate(
        "(rules) => axe.run({include: [['.bench']]}, {runOnly: rules, resultTypes: ['violations']})",
        RULES,
    )
    assert len(result["passes"]) > 10, "axe looked at next to nothing"
    return [(each["id"], node["html"][:120]) for each in result["violations"] for node in each["nodes"]]


def test_no_barrier_that_axe_can_find(bench, page):
    """WCAG 2.2 A and AA: light and dark, wide, narrow and zoomed, at work, with gaps, with a verdict; nothing runs over.

    Source: W3C, Web Content Accessibility Guidelines 2.2; rules as implemented by axe-core.
    """

    def look(*ways):
        for light, width in ways:
            page.evaluate("(light) => { document.body.dataset.jpThemeLight = light }", light)
            page.set_viewport_size({"width": width, "height": 2600})
            assert axe_findings(page) == []
            own, inner = page.evaluate(
                "() => { const b = document.querySelector('.bench'); return [b.clientWidth, b.scrollWidth] }"
            )
            assert inner <= own, f"sideways scroll at {width} px"

    # 640 px is what 1280 leave at a zoom of 200 %.
    every = [(light, width) for light in ("false", "true") for width in (640, 800, 1280)]
    look(*every[2::3], every[0])
    bench.inspect("fluid_hot", "road_test", "line_pressure")
    bench.radio("pan").check()
    bench.root.locator(".order summary").click()
    bench.root.locator(".left > summary").click()
    bench.hand_in.click()
    expect(bench.root.locator(".asked").first).to_be_visible()
    for name in ("chain", "repair.renew", "proof.repeat", "cautions"):
        bench.step(name)
    bench.step("chain").get_by_label("Next link").select_option(index=3)
    bench.step("chain").get_by_role("button", name="Add").click()
    expect(bench.root.locator(".cards li")).to_have_count(1)
    look(*every)
    bench.fill(cause="pump_worn_abrasive")
    bench.hand_in.click()
    expect(bench.root.locator(".verdict")).to_be_visible()
    look(*every[1::3])


WATCH = """(root) => {
    const took = [];
    let start = null;
    root.addEventListener("click", () => { start = performance.now(); }, true);
    new MutationObserver((changes) => {
        const fresh = changes.flatMap((change) => [...change.addedNodes]).some((node) => node.dataset?.finding);
        if (fresh && start !== null) { took.push(performance.now() - start); start = null; }
    }).observe(root, { childList: true, subtree: true });
    window.took = took;
}"""


def test_an_answer_comes_without_delay(bench, page, record_property):
    """Click to finding, as the page itself sees it: one report for each inspection. The time is told, not judged.

    1 s is where a train of thought breaks. Source: R. B. Miller, Response time in man-computer conversational transactions,
    AFIPS 1968 (from memory).
    """
    inspections = ("interview", "walk_round", "fluid_cold", "fluid_hot", "road_test", "line_pressure", "pan")
    bench.root.evaluate(WATCH)
    bench.inspect(*inspections)
    took = page.evaluate("window.took")
    assert len(took) == len(inspections)
    record_property("click_to_finding_median_ms", f"{statistics.median(took):.0f}")
    print(f"click to finding: median {statistics.median(took):.0f} ms, longest {max(took):.0f} ms")


def test_the_saved_notebook_shows_the_hint_and_no_answer(bench, page):
    """What stays in the file is the line that says how to bring the bench back."""
    bench.inspect("line_pressure")
    bench.act.focus()
    save(page, bench.notebook)
    expect(page.locator(".bench-hint")).to_be_hidden()
    outputs = nbformat.read(bench.lab.folder / bench.notebook, as_version=4).cells[1].outputs
    hint = f"Bench for case {bench.case_id}. Run this cell to show it."
    assert [output["data"]["text/plain"] for output in outputs] == [hint, hint]
