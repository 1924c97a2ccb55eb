"""Worked cases: no step opens unanswered, predictions are kept, every slot fills, every claim holds."""

import json
from types import SimpleNamespace

import pytest

from course_lib.base.data_files import data_folder, read_data
from course_lib.lessons import worked_case
from course_lib.lessons.worked_case import StepChoice, StepText, WorkedCase, WorkedText
from course_lib.shop.findings import NARROW, Finding, Inspection, Reading

GAUGE = Reading(key="line_psi", label="Line", value=48.0, unit="psi", spec=(62.0, 72.0), sigma=1.0)
STEPS = {
    "look": StepText(
        question="What will the gauge of {owner} read?",
        choices=(StepChoice(text="Low", reply="See."), StepChoice(text="High", reply="Why?")),
        inspections=("line_pressure",),
        meaning=("It reads {line_psi}, {line_psi:off} under {line_psi:spec}.",),
        claims=(("line_psi", "below spec"),),
    ),
    "say": StepText(question="Why?", model="Because.", ticks=("I named it.",), road="part only"),
}
WORKED = [path.stem for path in sorted((data_folder() / "worked").glob("*.toml"))]


@pytest.fixture
def small(tmp_path, monkeypatch):
    """A worked case of two steps that costs nothing; called again, it is opened again in the same folder."""
    about = Inspection(
        id="line_pressure",
        title="Line pressure",
        openness=3,
        minutes=35,
        risk="hot oil",
        caution="Goggles.",
        tells="",
    )
    finding = Finding(
        inspection="line_pressure",
        title="Line pressure",
        minutes=35,
        made_at_f=180.0,
        readings=(GAUGE,),
        words=("Steady.",),
    )
    order = SimpleNamespace(odometer_miles=61_160, owner="Ida", vehicle="van")
    case = SimpleNamespace(id="W9", offered=(about,), work_order=order, inspect=lambda name: finding)
    story = SimpleNamespace(miles=310.0, odometer_miles=61_470, text=("It came back.",))
    key = SimpleNamespace(stories={"part only": story})
    monkeypatch.setattr(worked_case, "read_data", lambda name, schema: WorkedText(steps=STEPS))
    return lambda: WorkedCase(case, key, folder=tmp_path / "answers")


def test_no_step_opens_unanswered(small):
    """Before the prediction the sheet holds the question and nothing that answers it; then everything."""
    case = small()
    closed = case.sheet("look")
    assert closed["answered"] == "" and closed["blocks"] == [] and "48" not in json.dumps(closed)
    assert closed["question"] == "What will the gauge of Ida read?" and closed["choices"] == ["Low", "High"]
    case.lock("look", choice=1, sureness="sure")
    sheet = case.sheet("look")
    assert sheet["answered"] == "You said: High (sure)"
    assert [block["kind"] for block in sheet["blocks"]] == [
        "text",
        "heading",
        "caution",
        "table",
        "list",
        "picture",
        "text",
    ]
    assert sheet["blocks"][0]["text"] == "Why?"
    assert sheet["blocks"][-1]["text"] == f"It reads 48{NARROW}psi, 14{NARROW}psi under 62 to 72{NARROW}psi."


def test_the_caution_stands_before_what_was_found(small):
    """Danger first: the caution comes before the table in the sheet."""
    case = small()
    case.lock("look", choice=0, sureness="not sure")
    kinds = [block["kind"] for block in case.sheet("look")["blocks"]]
    assert kinds.index("caution") < kinds.index("table")


def test_a_step_waits_for_the_one_before_it(small):
    """Its question may tell what was found there; nothing of it is in the sheet before that."""
    case = small()
    waiting = case.sheet("say")
    assert waiting["waits"].startswith("Answer step 1 first") and "Why?" not in json.dumps(waiting)
    case.lock("look", choice=0, sureness="sure")
    assert case.sheet("say")["waits"] == "" and case.sheet("say")["question"] == "Why?"


def test_all_of_a_step_is_read_in_the_units_chosen(small):
    """Table, words and slots alike: 48 psi is 331 kPa (1 psi = 6.894757 kPa, NIST SP 811, appendix B)."""
    case = small()
    case.lock("look", choice=1, sureness="sure")
    case.system = "metric"
    told = json.dumps(case.sheet("look"), ensure_ascii=False)
    assert f"{48 * 6.894757:.0f}{NARROW}kPa" in told and "psi" not in told
    assert f"{427 - 331}{NARROW}kPa under" in told


def test_a_prediction_is_locked_and_outlives_the_kernel(small):
    """A second answer changes nothing, and opening the case again finds the first."""
    first = small()
    first.lock("look", choice=1, sureness="sure")
    first.lock("look", choice=0, sureness="not sure")
    assert first.sheet("look")["answered"] == small().sheet("look")["answered"] == "You said: High (sure)"


def test_a_sentence_is_compared_and_the_road_is_driven(small):
    """A step without choices takes a sentence, then shows model, ticks and the repair's story."""
    case = small()
    with pytest.raises(ValueError, match="words must be a sentence of yours"):
        case.lock("say", words="  ")
    case.lock("say", words="It leaks.")
    sheet = case.sheet("say")
    assert sheet["answered"] == "You said: It leaks."
    assert [block.get("text", block.get("items")) for block in sheet["blocks"]] == [
        "Because.", ["I named it."], "It came back.",
    ]  # fmt: skip


def test_slips_are_refused(small):
    """No such step, no choice made, no sureness, no such slot: each is refused with a next step."""
    case = small()
    with pytest.raises(ValueError, match="step must be .* Did you mean 'look'"):
        case.sheet("lok")
    with pytest.raises(ValueError, match="choice must be between 0 and 1, got -1"):
        case.lock("look", sureness="sure")
    with pytest.raises(ValueError, match="sureness must be"):
        case.lock("look", choice=0)
    with pytest.raises(ValueError, match="slot must be .* Did you mean 'line_psi'"):
        case.fill("{line_ps}")
    assert case.predictions == {}


def test_a_damaged_predictions_file_starts_afresh(small):
    """Predictions are not scored; a file that cannot be read counts as none."""
    small().lock("look", choice=1, sureness="sure")
    small().path.write_text("{", encoding="utf-8")
    assert small().predictions == {}


def test_there_is_a_worked_case():
    """The tests below run over at least one."""
    assert WORKED


@pytest.fixture(params=WORKED)
def frozen(request, tmp_path):
    """Each worked case of the course, over its frozen case."""
    from course_lib.cases.case_file import load_case
    from course_lib.cases.key_file import load_key

    return WorkedCase(load_case(request.param), load_key(request.param), folder=tmp_path)


@pytest.mark.parametrize("system", ["workshop", "metric"])
def test_every_step_is_drawn_with_its_pictures(frozen, system):
    """A step shows a part of a finding; no picture asks for readings that the part has not."""
    from course_lib.bench.worked_view import _with_picture

    frozen.system = system
    drawn = 0
    for name, text in frozen.words.steps.items():
        frozen.lock(
            name, choice=0 if text.choices else -1, sureness="sure" if text.choices else "", words="A reason."
        )
        blocks = [_with_picture(frozen, block) for block in frozen.sheet(name)["blocks"]]
        drawn += sum(block is not None and block["kind"] == "picture" for block in blocks)
    assert drawn


def test_every_step_opens_and_every_slot_fills(frozen):
    """With any answer, each step opens, and no slot is left in any word that a learner reads."""
    for name, text in frozen.words.steps.items():
        frozen.lock(
            name, choice=0 if text.choices else -1, sureness="sure" if text.choices else "", words="A reason."
        )
        shown = json.dumps(frozen.sheet(name))
        assert frozen.sheet(name)["blocks"] and "{" not in shown.replace('{"', "")
        for choice in text.choices:
            frozen.fill(choice.text), frozen.fill(choice.reply)
    assert all(asked and wrote for asked, wrote in frozen.record_rows())


def test_every_claim_of_the_words_holds(frozen):
    """What the words say about a reading is what the frozen case found: prose and physics cannot disagree."""
    readings = frozen.readings()
    claims = [claim for text in frozen.words.steps.values() for claim in text.claims]
    assert claims
    assert {key: readings[key].verdict for key, _ in claims} == dict(claims)


def test_the_words_type_no_reading(frozen):
    """No number with a workshop unit is typed in the words of a step: readings are slots."""
    for name, text in frozen.words.steps.items():
        typed = " ".join((*text.meaning, text.model, *(choice.reply for choice in text.choices)))
        assert not any(f"{digit} psi" in typed or f"{digit} rpm" in typed for digit in "0123456789"), name


@pytest.mark.parametrize("name", WORKED)
def test_choices_are_fair(name):
    """Three or four choices, none said to be wrong in so many words, lengths that give nothing away."""
    for step, text in read_data(f"worked/{name}", WorkedText).steps.items():
        assert not text.choices or 3 <= len(text.choices) <= 4, step
        assert not any(
            choice.reply.lower().startswith(("wrong", "no,", "right", "yes")) for choice in text.choices
        )
