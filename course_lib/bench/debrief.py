"""After the hand-in, in words: the verdict at once, and the debrief: what happened, and what each step of the learner's told."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from course_lib.assessment.rubric import TITLES, CriterionMark, MarkSheet, grade_record
from course_lib.assessment.rubric.evidence import BAR
from course_lib.bench.page_blocks import Block, ordered, picture, progress_bar, table_block, text
from course_lib.bench.repair_drive import repair_driven, repair_of
from course_lib.faults.causes import all_causes, load_cause
from course_lib.faults.clues import clues_in
from course_lib.faults.parts import in_a_sentence
from course_lib.shop.findings import Finding, all_inspections, title_of

if TYPE_CHECKING:
    from course_lib.assessment.marking import Marks
    from course_lib.bench.bench_model import BenchModel
    from course_lib.cases.key import Key

_VERDICT_WORDS = {
    "part and cause": "Part and cause found",
    "part only": "Part found, cause still open",
    "cause only": "Cause found, part still open",
    "neither": "Part and cause still open",
}
_HELP_WORDS = {
    "direction": "A direction",
    "inspection": "The next inspection",
    "odds": "How the suspects stand",
}
#: Criterion -> the field of the answer that it looks at.
_LOOKS_AT = {"part": "parts", "cause": "causes", "look-alikes": "excluded", "safety": "cautions"}
#: Suspects named one by one beside an inspection; the rest are counted.
_NAMED = 3


def draw_verdict(model: BenchModel) -> dict[str, Any] | None:
    """Marks and the repair driven forward; None unless a handed-in answer was marked and still stands."""
    marks = model.marks
    if marks is None or not model.locked:
        return None
    if {"parts", "causes"} <= model.given.keys():
        return _verdict_on_own(model)
    told = _told_after(model, marks)
    return {
        "heading": _VERDICT_WORDS[marks.outcome],
        "good": marks.part_right and marks.cause_right,
        "lines": [model.words(line) for line in marks.feedback],
        "spoken": f"{_VERDICT_WORDS[marks.outcome]}. Read on below.",
        "story_heading": "After this repair",
        "story": [model.words(line) for line in told],
    }


def _told_after(model: BenchModel, marks: Marks) -> tuple[str, ...]:
    """What comes of the learner's repair, without what happens on the way: that would tell what breaks."""
    answer = model.record.handed_in
    if model.key is None or model.key.vehicle is None or answer is None:
        return marks.story.text if marks.story else ()
    piece = repair_driven(model.beside, model.key, *repair_of(answer))
    if not piece.finished:
        return ("Your repair is being driven on.",)
    return (
        (f"It could not be driven on. {piece.trouble}",)
        if piece.trouble
        else (piece.value.text[0], piece.value.text[-1])
    )


def _verdict_on_own(model: BenchModel) -> dict[str, Any]:
    """The verdict where part and cause were given: on what the learner filled in, not on what was there."""
    sheet = _graded(model, model.key)
    own = [each for each in sheet.criteria if _is_own(model, each)] if sheet else []
    return {
        "heading": "What you filled in",
        "good": all(each.passed for each in own),
        "lines": [
            model.words(f"{TITLES[each.criterion]}: {each.points:g} of {each.most} points. {each.reason}")
            for each in own
        ],
        "spoken": "What you filled in is marked. Read on below.",
        "story_heading": "",
        "story": [],
    }


def _is_own(model: BenchModel, level: CriterionMark) -> bool:
    """Whether nothing that the criterion looks at was given."""
    field = _LOOKS_AT.get(level.criterion, level.criterion)
    return not any(name.partition(".")[0] == field for name in model.given)


def _graded(model: BenchModel, key: Key | None) -> MarkSheet | None:
    """The record against the eight criteria; None where the key lacks what the rubric needs."""
    if key is None:
        return None
    try:
        return grade_record(model.record, model.case, key)
    except ValueError:
        return None


def draw_debrief(model: BenchModel) -> dict[str, Any] | None:
    """The debrief: an offer of it, or all of it once it was asked for; None unless an answer was marked and still stands."""
    marks = model.marks
    if marks is None or not model.locked or model.key is None:
        return None
    if not model.debriefed:
        right = marks.part_right and marks.cause_right
        warning = (
            "" if right else "It names the cause. If you want to try again, reopen the work order first."
        )
        return {"heading": "Debrief", "button": "Read the debrief", "lead": warning, "sections": []}
    key = model.key
    parts = (_happened, _told, _lay_about, _road, _twin, _believed, _ahead, _sheet)
    sections = [part(model, key) for part in parts]
    return {
        "heading": "Debrief",
        "button": "",
        "lead": "",
        "sections": [section for section in sections if section["blocks"]],
    }


def _section(name: str, title: str, blocks: list[Block]) -> dict[str, Any]:
    return {"id": name, "title": title, "blocks": blocks}


def _happened(model: BenchModel, key: Key) -> dict[str, Any]:
    """What happened, mile by mile, and the life of the unit as one picture."""
    blocks = [ordered([model.words(line) for line in key.chain])]
    if key.vehicle is not None:
        blocks.append(picture(f"life {model.system}"))
    return _section("happened", "What happened, mile by mile", blocks)


def _told(model: BenchModel, key: Key) -> dict[str, Any]:
    """What each inspection made told: the suspects that its findings speak against, each where it first fell."""
    fallen: set[str] = set()
    rows = []
    for number, finding in enumerate(model.findings, start=1):
        new = [c for c in _against(key, finding) if c not in fallen]
        fallen.update(new)
        rows.append(([f"{number}  {finding.title}", f"{finding.minutes} min", _suspects(model, new)], ""))
    if not rows:
        return _section("told", "", [])
    left = [cause for cause in key.against if cause not in fallen]
    end = "That is every other suspect."
    if left:
        standing = _standing(key, model.findings)
        together = f"leave {_suspects(model, standing)}" if standing else "exclude them"
        end = f"No one inspection of yours excludes {_suspects(model, left)}; all together {together}."
    caption, columns = "Your inspections, in order", ["inspection", "minutes", "speaks against"]
    return _section("told", "What each inspection told you", [table_block(caption, columns, rows), text(end)])


def _lay_about(model: BenchModel, key: Key) -> dict[str, Any]:
    """What lay about and what was told, each with how often a cause leaves it and how often it is there whatever the cause."""
    causes = [load_cause(name) for name in key.causes if name in all_causes()]
    use = str((key.recipe or {}).get("use", ""))
    rows = []
    for clue, words in clues_in(line for finding in model.findings for line in finding.words):
        usual, left = clue.usual(use), max((clue.share(cause) for cause in causes), default=0.0)
        meant = (
            f"{100 * left:.0f} in 100 with this cause"
            if left > usual
            else "nothing: it is met with any cause"
        )
        rows.append(([model.words(words), meant, f"{100 * usual:.0f} in 100"], ""))
    if not rows:
        return _section("about", "", [])
    columns = ["seen or told", "what it meant here", "on vehicles with any cause"]
    return _section(
        "about", "What lay about and what was told", [table_block("Things and lines", columns, rows)]
    )


def _against(key: Key, finding: Finding) -> list[str]:
    """The wrong causes that a finding speaks against: something in it excludes them, or is what tells most of all."""
    ids = _ids(finding)
    return [
        cause
        for cause, rows in key.against.items()
        if any(row.inspection == finding.inspection for row in rows)
        or any(key.worth.against(name, cause) >= BAR for name in ids)
    ]


def _standing(key: Key, findings: Collection[Finding]) -> list[str]:
    """The wrong causes that all findings together leave standing."""
    return key.worth.left_standing([_ids(finding) for finding in findings], BAR)


def _ids(finding: Finding) -> list[str]:
    """What of a finding can be named as evidence: each reading, and all that was noticed."""
    return [*(reading.key for reading in finding.readings), finding.inspection]


def _suspects(model: BenchModel, causes: list[str]) -> str:
    """Some suspects by name, the rest as a number."""
    if not causes:
        return "no further suspect"
    named = "; ".join(_label(model, cause) for cause in causes[:_NAMED])
    rest = len(causes) - _NAMED
    return f"{named}; and {rest} more" if rest > 0 else named


def _label(model: BenchModel, cause: str) -> str:
    return dict(model.case.cause_choices).get(cause, cause)


def _road(model: BenchModel, key: Key) -> dict[str, Any]:
    """The shortest road, beside the learner's own."""
    certificate = key.certificate
    if certificate is None:
        return _section("road", "", [])
    deciding = all_inspections().get(certificate.deciding)
    title = f"\u201c{deciding.title}\u201d decides" if deciding else "The complaint alone decides"
    opened = "with the pan or the unit open" if certificate.opened else "without opening anything"
    lines = [
        f"Always take the inspection that settles most for its minutes: that takes {certificate.minutes} min, {opened}. {title}.",
        f"You used {model.minutes_used} min on {len(model.findings)} inspections.",
    ]
    if deciding and deciding.id in model.made:
        lines.append(f"You made the deciding one as number {model.made.index(deciding.id) + 1}.")
    if certificate.part is not None:
        seen = all_inspections()[certificate.part.deciding].title
        lines.append(
            f"What is broken is seen under \u201c{seen}\u201d. To see every part that must be named, with what comes first: "
            f"{certificate.part.minutes} min."
        )
        if certificate.part.twin:
            lines.append(
                f"Taken alone, that finding fits \u201c{_part(model, certificate.part.twin)}\u201d as well."
            )
    if deciding and deciding.first_round:
        lines.append(
            "Nothing is measured by then: it decides among the causes of this course. In a bay, measure what you renew."
        )
    lines += _helped(model) + _refused(model)
    return _section("road", "The shortest road", [text(model.words(line)) for line in lines])


def _helped(model: BenchModel) -> list[str]:
    """The help that was asked for on the way, as the record has it."""
    kinds = [each.kind for each in model.record.helped]
    if not kinds:
        return []
    told = [f"{words}: {kinds.count(kind)}" for kind, words in _HELP_WORDS.items() if kind in kinds]
    return [f"Help you asked for. {'; '.join(told)}. It costs no points; try the next case with less of it."]


def _refused(model: BenchModel) -> list[str]:
    """What was asked for and does harm, as the record has it."""
    asked = dict.fromkeys(title_of(each.act) for each in model.record.refused)
    if not asked:
        return []
    named = "; ".join(f"\u201c{title}\u201d" for title in asked)
    return [f"Refused because it does harm: {named}. It costs no points, and it stands in your record."]


def _twin(model: BenchModel, key: Key) -> dict[str, Any]:
    """The cause that looks most like this one, and what tells the two apart on this vehicle."""
    twin = key.certificate.twin if key.certificate else ""
    if not twin:
        return _section("twin", "", [])
    rows = [
        (
            [
                model.words(each.label),
                model.words(each.found),
                model.words(each.expected),
                _title(model, each.inspection),
            ],
            "",
        )
        for each in key.against.get(twin, ())
    ]
    blocks = [text(f"The look-alike hardest to rule out here: {_label(model, twin)}.")]
    if rows:
        columns = ["what", "found", "the look-alike would show", "by"]
        blocks.append(table_block("What tells the two apart on this vehicle", columns, rows))
    return _section("twin", "The look-alike you should have feared", blocks)


def _title(model: BenchModel, inspection: str) -> str:
    """The inspection, and whether it was made."""
    step = all_inspections().get(inspection)
    made = "made" if inspection in model.made else "not made"
    return f"{step.title if step else inspection} ({made})"


def _believed(model: BenchModel, key: Key) -> dict[str, Any]:
    """What is often believed in place of the cause and how it comes back while the cause is left: in general, and here.

    The sentences are those of the catalogue: met on one vehicle or another, not on every one.
    What is said of this one is simulated.
    """
    blocks = []
    for cause in (all_causes()[name] for name in key.causes if name in all_causes()):
        blocks.append(text(f"Often believed on vehicles with this cause: \u201c{cause.belief}\u201d"))
        blocks.append(text(f"Met on one of them or another, where the cause was left: {cause.returns}"))
    story = key.stories.get("part only")
    if blocks and story is not None:
        how = "the parts named here are renewed, and the cause is left, or is in the new part as it was in the old:"
        blocks.append(text(f"On this vehicle, simulated: {how}"))
        blocks.append(ordered([model.words(line) for line in story.text]))
    return _section("believed", "What is often believed, and how it comes back", blocks)


def _ahead(model: BenchModel, key: Key) -> dict[str, Any]:
    """The learner's own repair, driven on over the owner's miles."""
    answer = model.record.handed_in
    if key.vehicle is None or answer is None:
        return _section("ahead", "", [])
    parts, causes = repair_of(answer)
    renewed = ", ".join(_part(model, part) for part in parts) or "no part"
    lead = [
        text(
            f"You renew: {renewed}. You put right: {'; '.join(_label(model, cause) for cause in causes) or 'nothing'}."
        )
    ]
    piece = repair_driven(model.beside, key, parts, causes)
    if not piece.finished:
        blocks = [progress_bar(piece, "Your repair is being driven on", "Miles driven")]
    elif piece.trouble:
        blocks = [text(f"It could not be driven on. {piece.trouble}")]
    else:
        beside = text("The picture shows the first of these miles, with other repairs beside yours.")
        told = ordered([model.words(line) for line in piece.value.text])
        blocks = [told, beside, picture(f"ahead {model.system}")]
    if key.back:
        alone = "; ".join(
            f"{_part(model, part)}, back after {max(miles, 1):,.0f} mi" for part, miles in key.back.items()
        )
        blocks.append(text(model.words(f"Parts that must be renewed, each if it alone were left: {alone}.")))
    return _section("ahead", "Your repair, driven on", lead + blocks)


def _part(model: BenchModel, part: str) -> str:
    return in_a_sentence(dict(model.case.part_choices).get(part, part))


def _sheet(model: BenchModel, key: Key) -> dict[str, Any]:
    """The record against the eight criteria, each with its reason."""
    sheet = _graded(model, key)
    if sheet is None:
        return _section("sheet", "", [])
    rows = [
        ([TITLES[each.criterion], f"{each.points:g} of {each.most}", model.words(each.reason)], "")
        for each in sheet.criteria
    ]
    lines = [f"{sheet.total} of 100 points.", *sheet.gates]
    columns = ["criterion", "points", "why"]
    blocks = [table_block("Eight criteria", columns, rows), *(text(model.words(line)) for line in lines)]
    return _section("sheet", "Your record, line by line", blocks)
