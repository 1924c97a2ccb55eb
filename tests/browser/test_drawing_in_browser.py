"""How pages are drawn, and how a sheet takes in what has changed, in Chromium alone: no notebook, no kernel."""

from __future__ import annotations

import pytest

from course_lib.bench.page_script import page_script

PUBLIC = "{ node, draw, merged, keep, widget, choiceGroup, table }"
#: (before, patch, after). Source: RFC 7396, appendix A, all of its examples whose result is an object.
PATCHES = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.fixture
def blank(page):
    """An empty page that knows what all pages are drawn with."""
    page.set_content("<main></main>")
    code = page_script("items.js").partition("// One item of a lesson")[0]
    page.evaluate(
        f"() => {{ {code}\n Object.assign(window, {PUBLIC}, {{ root: document.querySelector('main') }}); }}"
    )
    return page


def test_a_sheet_takes_in_what_has_changed_as_the_standard_says(blank):
    """Every example of the standard that a sheet can meet; what was there before is not written over."""
    for before, patch, after in PATCHES:
        got = blank.evaluate("([before, patch]) => [merged(before, patch), before]", [before, patch])
        assert got == [after, before]


def test_a_missed_change_is_asked_for(blank):
    """Turn 3 after turn 1: the page keeps what it has and asks for the whole."""
    told = blank.evaluate(
        """() => {
            const [state, sent] = [{ whole: { turn: 1, a: 1 } }, []];
            const model = { get: (name) => state[name], set: (name, value) => { state[name] = value; }, send: (m) => sent.push(m) };
            keep(model, { changed: { turn: 2, a: 2 } });
            keep(model, { changed: { turn: 4, a: 4 } });
            const missed = state.whole;
            keep(model, { whole: { turn: 4, a: 4 } });
            return [missed, sent, state.whole];
        }"""
    )
    assert told == [{"turn": 2, "a": 2}, [{"do": "whole"}], {"turn": 4, "a": 4}]


def test_the_same_key_keeps_the_same_element_with_its_focus_and_what_was_typed(blank):
    """Moved, with others before it and taken away: it is the same input, with focus, caret and text."""
    blank.evaluate(
        """() => {
            window.show = (names) => draw(root, names.map((key) => node("input", { key, id: key })));
            show(["a", "b", "c"]);
        }"""
    )
    blank.locator("#c").press_sequentially("typed")
    blank.keyboard.press("ArrowLeft")
    blank.evaluate("() => { window.before = document.querySelector('#c'); show(['new', 'c', 'a']); }")
    assert blank.evaluate(
        "() => [[...root.children].map((each) => each.id), document.activeElement === before, before.value, before.selectionStart]"
    ) == [["new", "c", "a"], True, "typed", 4]


def test_nothing_stands_for_nothing_and_text_is_never_markup(blank):
    """Null, false and an empty text leave no trace and move no neighbor; a text that looks like an element stays a text."""
    blank.evaluate("() => draw(root, null, node('b', { id: 'b' }), false, '', '<i>x</i>', undefined)")
    blank.evaluate("() => { window.before = document.querySelector('#b'); }")
    blank.evaluate("() => draw(root, node('p', {}, 'now'), node('b', { id: 'b' }), false, '', '<i>y</i>')")
    assert blank.evaluate("() => document.querySelector('#b') === before")
    assert (
        blank.locator("main").inner_text().split() == ["now", "<i>y</i>"] and blank.locator("i").count() == 0
    )


def test_what_is_the_learners_is_set_once_and_what_is_the_sheets_every_time(blank):
    """`start` begins a box, which is then the learner's; `checked` and `holds` follow the sheet; a trait of null is taken away."""
    blank.evaluate(
        """() => {
            window.show = (n) => draw(root,
                node("input", { id: "mine", start: { value: `start ${n}` } }),
                node("input", { id: "box", type: "checkbox", checked: n === 2, title: n === 1 ? "one" : null }),
                node("select", { id: "list", holds: `${n}` }, [1, 2, 9].map((k) => node("option", { key: k, value: k }, `${k}`))));
            show(1);
            document.querySelector("#mine").value = "mine";
            document.querySelector("#box").checked = true;
            show(9);
        }"""
    )
    read = """() => ['#mine', '#box', '#list'].map((at) => document.querySelector(at))
        .map((each) => each.type === 'checkbox' ? each.checked : each.value)"""
    assert blank.evaluate(read) == ["mine", False, "9"]
    assert blank.locator("#box").get_attribute("title") is None
    blank.evaluate("() => show(2)")
    assert blank.evaluate(read) == ["mine", True, "2"]


def test_a_table_names_its_rows_and_signs_only_the_second_cell(blank):
    """The first cell is the head of its row; the sign stands before the second, and a screen reader leaves it out."""
    blank.evaluate(
        """() => draw(root, table({ caption: "T", columns: ["a", "b", "c"], rows: [{ cells: ["1", "2", "3"], sign: "above" }] }))"""
    )
    row = blank.locator("tbody tr")
    assert row.locator("th").inner_text() == "1" and row.locator("td").all_inner_texts() == ["▶2", "3"]
    assert row.locator("[aria-hidden=true]").count() == 1 and row.get_attribute("class") == "above"
    blank.evaluate("""() => draw(root, table({ caption: "Nothing yet.", columns: ["a"], rows: [] }))""")
    assert blank.locator("table").count() == 0 and blank.locator("main").inner_text() == "Nothing yet."
