"""Every lesson: what a writer must keep to, the verdict of every answer, numbers from the physics, claims that hold."""

import html
import itertools
import json
import random
import re
from concurrent.futures import ThreadPoolExecutor
from statistics import median

import pytest
from extras import from_extra
from hypothesis import given as with_any
from hypothesis import strategies as st

from course_lib.assessment.marking import CheckFailed, NotAnswered
from course_lib.authoring import lesson_checks as checks
from course_lib.base.data_files import data_folder, read_data
from course_lib.lessons import workbook as books
from course_lib.lessons.item_kinds import Choice, Match, Number, Order, Predict, Several
from course_lib.lessons.item_sheet import item_sheet
from course_lib.lessons.lesson import (
    GlossaryFile,
    MisconceptionsFile,
    all_misconceptions,
    lesson_names,
    load_lesson,
)
from course_lib.lessons.lesson_tables import all_progress, glossary, second_thoughts, weak_thoughts
from course_lib.lessons.vehicles import inspect_vehicle
from course_lib.lessons.workbook import Try, Workbook, answer_items, check_item, check_lesson, judge_item

LESSONS = lesson_names()
ITEMS = [(name, item.id) for name in LESSONS for item in load_lesson(name).items]
SCORED = [(name, item.id) for name in LESSONS for item in load_lesson(name).scored]
EASIEST, HARDEST = 9.0, 12.0  # US grades: median at most, single lesson at most


def wrong_answers(item) -> list[str]:
    """One wrong answer for each thought behind a slip, as it would be given."""
    if isinstance(item, Choice):
        return ["ABCD"[n] for n, option in enumerate(item.options) if not option.right]
    if isinstance(item, Several):
        whole = item.solution()
        return [whole + "ABCDEFG"[n] for n, option in enumerate(item.options) if not option.right] + [
            whole[1:]
        ]
    if isinstance(item, Number):
        return [f"{(slip.low + slip.high) / 2:.9g}" for slip in item.slips] + [
            f"{abs(item.high) * 1e3 + 7:.9g}"
        ]
    if isinstance(item, Order):
        right = item.solution()
        swaps = [(slip.first - 1, slip.later - 1) for slip in item.slips]
        return [moved(right, first, later) for first, later in swaps] + [right[::-1]]
    return [swapped(item, pair) for slip in item.slips for pair in slip.pairs]


def moved(letters: str, first: int, later: int) -> str:
    """The letters with the one at `first` put right before the one at `later`."""
    card = letters[first]
    rest = letters.replace(card, "")
    at = rest.index(letters[later])
    return rest[:at] + card + rest[at:]


def swapped(item: Match, pair: str) -> str:
    """A match in which only that pair, and whoever had its answer, is wrong."""
    row, answer = (int(n) - 1 for n in pair.split("-"))
    given = list(item.solution())
    if answer < len(given):
        given[answer] = given[row]
    given[row] = "abcdefgh"[answer]
    return "".join(given)


# ---------------------------------------------------------------------- what a writer must keep to
@pytest.mark.parametrize("name", LESSONS)
def test_a_lesson_keeps_the_rules_of_writing(name):
    """Kinds, objectives, positions, lengths, hints without a digit, words that belittle: all in `checks`."""
    assert checks.problems(name) == []


def test_misconceptions_of_the_trade_are_all_there_and_name_causes_that_exist():
    """Each of the 22 of oil and the 20 of current has words, a truth, and only causes of the catalogue; ids of lessons do not
    double them."""
    from course_lib.faults.causes import all_causes

    common = read_data("misconceptions", MisconceptionsFile).misconceptions
    assert len(common) == 22 + 20
    for name, each in all_misconceptions().items():
        assert each.says.endswith(".") and each.truth.endswith("."), name
        assert set(each.causes) <= set(all_causes()), name


def test_a_word_is_explained_once():
    """No two lessons put the same word into the glossary; with the common words, each stands there once, in order."""
    terms = [entry.term for name in LESSONS for entry in load_lesson(name).glossary]
    assert [term for term in terms if terms.count(term) > 1] == []
    shown = [row[0] for row in glossary().rows]
    assert len(shown) == len(set(shown)) > 30 and set(terms) <= set(shown)
    assert shown == sorted(shown, key=str.lower)
    assert all(row[1].endswith(".") for row in glossary().rows)


def test_no_word_of_the_glossary_is_another_with_a_word_added():
    """ "Lock-up" beside "lock-up clutch" would be one thing twice; two that share only their first word are named here."""
    terms = [row[0] for row in glossary().rows]
    twice = {(one, other) for one in terms for other in terms if other.startswith(f"{one} ")}
    assert twice <= {("governor", "governor pressure"), ("vacuum", "vacuum hose")}


def test_what_a_lesson_explains_is_not_explained_again():
    """The common words are those that no lesson explains."""
    common = {each.term for each in read_data("glossary", GlossaryFile).glossary}
    assert common.isdisjoint(entry.term for name in LESSONS for entry in load_lesson(name).glossary)


@pytest.mark.parametrize("name", LESSONS)
def test_what_the_words_rely_on_holds_in_the_physics(name):
    """Every claim of a lesson (vehicle, inspection, reading, verdict) is what the simulator gives."""
    lesson = load_lesson(name)
    for vehicle, inspection, key, verdict in lesson.claims:
        readings = {r.key: r for r in inspect_vehicle(lesson.vehicles[vehicle], inspection).readings}
        assert readings[key].verdict == verdict, (vehicle, key, readings[key].found_text)


# ---------------------------------------------------------------------- verdicts
@pytest.mark.parametrize(("name", "item"), ITEMS)
def test_the_right_answer_passes_and_says_why(name, item):
    """The solution of every item earns all; a scored one is told why it is right."""
    asked = load_lesson(name).item(item)
    result = judge_item(asked, (Try(given=asked.solution()),))
    assert result.points == 1.0 and result.right and result.done
    assert not asked.scored or result.judged[0].replies[0].strip()


@pytest.mark.parametrize(("name", "item"), SCORED)
def test_every_wrong_answer_fails_with_its_own_reason(name, item):
    """Each slip a writer foresaw earns less than all and has a reply of its own, which no other slip shares."""
    asked = load_lesson(name).item(item)
    said = {}
    for given in wrong_answers(asked):
        judged = asked.judge(given)
        assert judged.share < 1.0, given
        assert judged.replies and all(reply.strip() for reply in judged.replies), given
        said[given] = judged.replies
    assert len(set(said.values())) >= min(len(said), 2)


@pytest.mark.parametrize(("name", "item"), SCORED)
def test_an_answer_that_cannot_be_read_is_told_what_to_do(name, item):
    """Blank and nonsense are refused in one line, and cost no try."""
    asked = load_lesson(name).item(item)
    for given in ("", "  ", "?!", "\u00df\u2603", "9" * 400 + "x"):
        with pytest.raises(ValueError, match="must be"):
            asked.read(given)


@pytest.mark.parametrize(("name", "item"), ITEMS)
def test_the_page_holds_no_answer_before_it_is_given(name, item, tmp_path):
    """No reply, no key, no worked answer is on the page of an item that is not answered yet; a mixed order is mixed."""
    book = Workbook(name, folder=tmp_path)
    asked, shown = book.lesson.item(item), json.dumps(item_sheet(book, item), ensure_ascii=False)
    secret = [text for kind, text in checks.texts_of(asked) if kind in ("reply", "worked") and text.strip()]
    for text in secret:
        assert html.unescape(text) not in shown
    if isinstance(asked, Order):
        assert [text for _, text in item_sheet(book, item)["cards"]] != list(asked.cards)
    if isinstance(asked, Several | Choice | Predict):
        assert not re.search(r'"right"|"thinking"', shown)


def test_guessing_blindly_does_not_pass():
    """Random answers to every lesson, many times over: nobody passes by luck (seeded)."""
    rng = random.Random(7)
    for name in LESSONS:
        scored = load_lesson(name).scored
        shares = []
        for _ in range(40):
            points = [
                judge_item(item, tuple(Try(given=blind(item, rng)) for _ in range(item.tries))).points
                for item in scored
            ]
            shares.append(sum(points) / len(points))
        assert max(shares) < books.PASS_SHARE
        assert median(shares) < 0.6


@with_any(text=st.text(max_size=40) | st.text("ABCDEFGabcdefg, ;.0123456789psi-", max_size=12))
def test_no_text_breaks_an_item(text):
    """Whatever is typed into an item is either refused in words or judged with a share between 0 and 1."""
    for item in load_lesson("L01").items:
        try:
            judged = item.judge(text)
        except ValueError as error:
            assert "must be" in str(error)
        else:
            assert 0.0 <= judged.share <= 1.0 and item.said(text).strip()


def test_no_notebook_of_a_learner_holds_an_answer():
    """Neither the typed calls of the solution nor a stored output is in what learners get."""
    for path in sorted(data_folder("notebooks").glob("*.ipynb")):
        book = json.loads(path.read_text(encoding="utf-8"))
        assert "answer_items(" not in path.read_text(encoding="utf-8") and "answer_item(" not in str(book)
        assert not any(cell.get("outputs") for cell in book["cells"])


def blind(item, rng: random.Random) -> str:
    """An answer by somebody who does not read the question."""
    if isinstance(item, Choice):
        return rng.choice("ABCD"[: len(item.options)])
    if isinstance(item, Several):
        return "".join(c for c in "ABCDEFG"[: len(item.options)] if rng.random() < 0.5) or "A"
    if isinstance(item, Number):
        return f"{rng.uniform(0, 3) * abs(item.at):.4g}"
    letters = list("ABCDEFGH"[: len(item.cards if isinstance(item, Order) else item.answers)])
    rng.shuffle(letters)
    return "".join(letters if isinstance(item, Order) else letters[: len(item.rows)])


# ---------------------------------------------------------------------- a learner's book
def test_the_second_try_earns_half_of_what_it_adds(tmp_path):
    """A wrong choice, then the right one: half. One wrong pair first: its share in full, the rest by half."""
    book = Workbook("L01", folder=tmp_path)
    choice = next(item for item in book.lesson.scored if isinstance(item, Choice))
    book.answer(choice.id, wrong_answers(choice)[0])
    assert not book.result(choice.id).done
    assert book.answer(choice.id, choice.solution()).points == 0.5
    with pytest.raises(ValueError, match="must still be open"):
        book.answer(choice.id, choice.solution())
    order = next(item for item in book.lesson.scored if isinstance(item, Order))
    first = order.judge(wrong_answers(order)[0]).share
    book.answer(order.id, wrong_answers(order)[0])
    assert book.answer(order.id, order.solution()).points == pytest.approx((1 + first) / 2)


def test_a_worse_second_try_takes_nothing_away():
    """Points never fall by trying again."""
    several = next(load_lesson(n).item(i) for n, i in SCORED if isinstance(load_lesson(n).item(i), Several))
    good = several.solution()[1:] or "A"
    bad = "".join(c for c in "ABCDEFG"[: len(several.options)] if c not in several.solution())
    once, twice = (
        judge_item(several, (Try(given=good),)),
        judge_item(several, (Try(given=good), Try(given=bad))),
    )
    assert twice.points == once.points > 0 and twice.done


@pytest.mark.parametrize("name", LESSONS)
def test_a_lesson_is_passed_by_the_typed_calls_of_its_solution(name, tmp_path):
    """The check cell waits for every answer, names what is open, and passes when all is right."""
    lesson, folder = load_lesson(name), str(tmp_path)
    with pytest.raises(NotAnswered, match=f"items {lesson.numbers[lesson.scored[0].id]}, "):
        check_lesson(name, folder=folder)
    answer_items(name, folder=folder, **{item.id: item.solution() for item in lesson.scored})
    with pytest.raises(NotAnswered, match=f"item {lesson.numbers[lesson.must_fill[0].id]}\\b"):
        check_lesson(name, folder=folder)
    answer_items(name, folder=folder, **{item.id: "Two words." for item in lesson.must_fill})
    assert "100%" in check_lesson(name, folder=folder)
    check_item(name, lesson.scored[0].id, folder=folder)


def test_a_poor_practice_is_told_how_to_start_afresh(tmp_path):
    """All answered, too much of it wrong: the check says so in one line, and `again` opens the practice once more."""
    folder, lesson = str(tmp_path), load_lesson("L01")
    book = Workbook("L01", folder=folder)
    for item in lesson.scored:
        for given in (wrong_answers(item) * 2)[:2]:
            if not book.result(item.id).done:
                book.answer(item.id, given)
    answer_items("L01", folder=folder, p1="B", q10="Two words.")
    with pytest.raises(CheckFailed, match="Do the practice again"):
        check_lesson("L01", folder=folder)
    assert sum(weak_thoughts(folder).values()) >= 3
    worst = second_thoughts(folder).rows
    assert worst and [int(row[2]) for row in worst] == sorted((int(row[2]) for row in worst), reverse=True)
    assert all_progress(folder).rows[0][2] == "try the practice again"
    book.again()
    assert len(book.open_items) == len(lesson.scored)
    assert book.tries("p1") and not weak_thoughts(folder)


def test_two_pages_and_a_typed_call_lose_nothing_of_each_other(tmp_path):
    """Books of the same lesson opened twice see each other's answers, in whatever order they are given."""
    one, two = Workbook("L01", folder=tmp_path), Workbook("L01", folder=tmp_path)
    one.answer("q6", "B")
    two.answer("q9", "C")
    answer_items("L01", folder=str(tmp_path), q5="CE")
    assert [one.result(name).points for name in ("q5", "q6", "q9")] == [1.0, 1.0, 1.0]


def test_many_at_once_lose_nothing(tmp_path):
    """Every item answered from threads of their own, all at the same time: each answer is on file."""
    items = [item for item in load_lesson("L01").items]

    def one(item):
        sure = "sure" if isinstance(item, Predict) else ""
        return Workbook("L01", folder=tmp_path).answer(item.id, item.solution(), sureness=sure).right

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(one, items))
    book = Workbook("L01", folder=tmp_path)
    assert all(len(book.tries(item.id)) == 1 for item in items) and book.passed


@pytest.mark.parametrize(
    "damage",
    [b"", b"{", b"[]", b'{"lesson": "L02"}', b'{"lesson": "L01", "tries": {"q1": [{"given": 3}]}}', b"\xff"],
)
def test_a_damaged_file_is_kept_aside_and_the_work_goes_on(tmp_path, damage):
    """Nothing is overwritten: the old file lies beside the new one."""
    path = tmp_path / "L01.json"
    path.write_bytes(damage)
    book = Workbook("L01", folder=tmp_path)
    book.answer("q6", "B")
    assert book.result("q6").right
    assert [p.read_bytes() for p in tmp_path.glob("L01.damaged-*.json")] == [damage]


def test_an_answer_to_an_item_that_was_rewritten_is_left_out(tmp_path):
    """An old answer that can no longer be read counts as not given; one beyond the tries counts for nothing."""
    tries = {
        "q6": [{"given": "Z"}],
        "q9": [{"given": "A"}, {"given": "A"}, {"given": "C"}],
        "gone": [{"given": "A"}],
    }
    (tmp_path / "L01.json").write_text(json.dumps({"lesson": "L01", "tries": tries}))
    book = Workbook("L01", folder=tmp_path)
    assert book.result("q6").points == 0 and not book.result("q6").done
    assert book.result("q9").points == 0 and book.result("q9").done


def test_reading_ease_of_the_items():
    """Median Flesch-Kincaid grade of the lessons' items at most 9, none above 12.

    Formula: Kincaid and others, 1975, as the library textstat works it out.
    """
    textstat = from_extra("reference", "textstat")
    grades = []
    for name in LESSONS:
        prose = " ".join(
            text for item in load_lesson(name).items for kind, text in checks.texts_of(item) if kind != "cell"
        )
        grades.append(textstat.flesch_kincaid_grade(re.sub(r"[*_{}]", "", prose)))
    assert median(grades) <= EASIEST and max(grades) <= HARDEST, dict(zip(LESSONS, grades, strict=True))


def test_data_folder_has_no_lesson_that_is_not_loaded():
    """Every file in the folder is a lesson with a name of two figures."""
    names = [path.name for path in (data_folder() / "lessons").iterdir()]
    assert names and all(re.fullmatch(r"L\d\d\.toml", name) for name in names)


# ---------------------------------------------------------------------- the notebooks of the lessons
def prose_of(name: str) -> list[str]:
    """The prose cells of the learners' notebook of a lesson, without tables and marks."""
    (path,) = data_folder("notebooks").glob(f"lesson_{name[1:]}_*.ipynb")
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    prose = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]
    return [re.sub(r"[*_`#]", "", re.sub(r"^\|.*$", "", text, flags=re.M)) for text in prose]


WITH_NOTEBOOK = [
    name for name in LESSONS if list(data_folder("notebooks").glob(f"lesson_{name[1:]}_*.ipynb"))
]


def test_reading_ease_of_the_notebooks():
    """Median grade of all sections at most 9, none above 12; formula as above. Sources are not prose, short cells no measure."""
    textstat = from_extra("reference", "textstat")
    cells = [text for name in WITH_NOTEBOOK for text in prose_of(name) if "Sources" not in text[:12]]
    grades = {text[:50]: textstat.flesch_kincaid_grade(text) for text in cells if len(text.split()) >= 30}
    assert median(grades.values()) <= EASIEST
    assert [(start, grade) for start, grade in grades.items() if grade > HARDEST] == []


@pytest.mark.parametrize("name", WITH_NOTEBOOK)
def test_a_lesson_takes_forty_to_sixty_minutes(name):
    """Prose at 130 words a minute, items as their writers say, and six minutes for replies and demonstrations.

    130 words a minute: common practice of this project, no source.
    """
    lesson = load_lesson(name)
    reading = sum(len(text.split()) for text in prose_of(name)) / 130
    items = sum(item.minutes for item in lesson.items)
    assert 38 <= reading + items + 6 <= 62, (reading, items)


@pytest.mark.parametrize("name", WITH_NOTEBOOK)
def test_a_notebook_asks_every_item_of_its_lesson_once_and_in_order(name):
    """Memory first, then predictions as the lesson goes, warm-up and practice last; no item is left out or asked twice."""
    (path,) = data_folder("notebooks").glob(f"lesson_{name[1:]}_*.ipynb")
    code = "\n".join(
        "".join(c["source"])
        for c in json.loads(path.read_text(encoding="utf-8"))["cells"]
        if c["cell_type"] == "code"
    )
    calls = re.findall(r"\.ask\(([^)]*)\)", code)
    asked = [item for call in calls for item in re.findall(r'"(\w+)"', call)]
    lesson = load_lesson(name)
    assert sorted(asked) == sorted(item.id for item in lesson.items)
    stages = ["memory", "lesson", "warm-up", "practice"]
    order = [stages.index(lesson.item(item).part) for item in asked]
    assert order == sorted(order)
    assert code.rstrip().endswith(f'check_lesson("{name}")')


@pytest.mark.parametrize("name", WITH_NOTEBOOK)
def test_every_demonstration_says_what_to_look_for(name):
    """The prose before each table or figure says "Look for this", or asks; after it, some prose says what it means."""
    (path,) = data_folder("notebooks").glob(f"lesson_{name[1:]}_*.ipynb")
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    silent = re.compile(r"\.(ask|progress|words)\(|^from |^import |open_lesson\(|check_lesson\(")
    for before, cell in itertools.pairwise(cells):
        code = "".join(cell["source"])
        if cell["cell_type"] == "code" and not silent.search(code):
            words = "".join(before["source"])
            assert "Look for this" in words or "?" in words or before["cell_type"] == "code", code
    text = " ".join(prose_of(name))
    assert text.count("What it means") >= 4
