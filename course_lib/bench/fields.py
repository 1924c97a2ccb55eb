"""What a learner fills in: every field of the record, how it is chosen, and what may stand in it.

A field has the name of its place in `Answer` ("repair.renew"); the learner's notes are a field too, beside the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Protocol

from msgspec.structs import replace

from course_lib.assessment.record import (
    CONFIDENCE,
    MOST_CAUSES,
    MOST_EVIDENCE,
    MOST_EXCLUDED,
    MOST_LINKS,
    MOST_NAMES,
    MOST_PARTS,
    Answer,
    Excluded,
    Record,
    clean_text,
)
from course_lib.base.guards import one_of
from course_lib.faults.answer_choices import chain_links, follow_ups
from course_lib.faults.causes import all_causes
from course_lib.faults.parts import NO_PART, all_parts, in_a_sentence

if TYPE_CHECKING:
    from course_lib.cases.case import Case
    from course_lib.shop.findings import Finding

Kind = Literal["selects", "checks", "cards", "pairs", "radios", "tick", "text"]
Choices = tuple[tuple[str, str, str], ...]
Words = Callable[[str], str]
FORMS = ("full", "short")
#: Kinds of links as the list groups them.
_LINK_KINDS = {
    "state": "What is out of order",
    "action": "What then happens",
    "damage": "What that ruins",
    "felt": "What the owner feels",
}


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to fill in. label: what stands over it; kind: how it is filled in; choices: the list it is chosen from;
    most: names it can hold; gap: what is said when it is left out and may not be; short: whether a short form asks for it."""

    name: str
    label: str
    kind: Kind
    choices: str = ""
    most: int = 1
    gap: str = ""
    short: bool = False


@dataclass(frozen=True, slots=True)
class FormStep:
    """Some fields that belong together, under one heading."""

    title: str
    fields: tuple[Field, ...]


# In the order of the work: what one thinks on the way, then what one puts one's name to.
THINKING = (
    Field("excluded", "Suspect", "pairs", "causes", MOST_EXCLUDED),
    Field("cleared", "Seen to be sound", "checks", "elements", MOST_NAMES),
    Field("notes", "Notes, for yourself", "text"),
)
STEPS = (
    FormStep("The broken part", (
        Field("parts", "Broken part", "selects", "parts", MOST_PARTS,
              "Choose the broken part, or \u201cNo part broken yet\u201d.", True),)),
    FormStep("The root cause", (
        Field("causes", "Root cause", "selects", "causes", MOST_CAUSES, "Choose the root cause.", True),)),
    FormStep("How it came about", (
        Field("chain", "Next link", "cards", "links", MOST_LINKS),)),
    FormStep("What proves it", (
        Field("evidence", "Finding that proves it", "selects", "evidence", MOST_EVIDENCE,
              "Choose at least one finding that proves it.", True),)),
    FormStep("The repair", (
        Field("repair.renew", "Part to renew", "selects", "renewable", MOST_NAMES),
        Field("repair.correct", "Cause to put right", "selects", "causes", MOST_CAUSES),
        Field("repair.also", "What else belongs to it", "checks", "repairs", MOST_NAMES),
        Field("repair.estimate", "Way you offer the owner", "radios", "estimates"),
        Field("repair.asked", "Ask the owner first, and again before it costs more than the estimate", "tick"))),
    FormStep("The proof that it holds", (
        Field("proof.repeat", "Reading to take again", "selects", "readings", MOST_EVIDENCE),
        Field("proof.hot", "Take them hot, after a drive", "tick"),
        Field("proof.recheck", "When to look again", "radios", "rechecks"),
        Field("proof.advice", "What the owner is told", "checks", "advice", MOST_NAMES))),
    FormStep("What to watch for", (
        Field("cautions", "Cautions that apply to this job", "checks", "cautions", MOST_NAMES),)),
    FormStep("In your own words", (
        Field("why", "How one thing led to the next", "text", "", 1, "Write one sentence: how one thing led to the next.", True),
        Field("confidence", "How sure are you?", "radios", "sureness", 1, "Say how sure you are.", True))),
)  # fmt: skip
FIELDS = {field.name: field for field in (*THINKING, *(f for step in STEPS for f in step.fields))}
NO_HEDGE = "\u201cNo part broken yet\u201d cannot stand beside a broken part. Take one of them out."


def steps_of(form: str, lists: dict[str, Choices]) -> tuple[FormStep, ...]:
    """The steps that a form ("full", "short") asks for. A field is left out where there is nothing to choose from."""
    one_of("form", form, FORMS)
    steps = (
        FormStep(
            step.title, tuple(f for f in step.fields if (f.short or form == "full") and _offers(f, lists))
        )
        for step in STEPS
    )
    return tuple(step for step in steps if step.fields)


def _offers(field: Field, lists: dict[str, Choices]) -> bool:
    return bool(not field.choices or lists[field.choices] or field.name in ("evidence", "proof.repeat"))


# ---------------------------------------------------------------------- what stands in a field
def get(record: Record, name: str) -> Any:
    """What stands in the field `name` of a record."""
    value: Any = record
    for step in _path(name):
        value = getattr(value, step)
    return value


def put(record: Record, name: str, value: Any) -> Record:
    """The record with `value` in the field `name`."""
    changed: Record = _put(record, _path(name), value)
    return changed


def _path(name: str) -> list[str]:
    return [name] if name == "notes" else ["answer", *name.split(".")]


def _put(struct: Any, path: list[str], value: Any) -> Any:
    inner = value if len(path) == 1 else _put(getattr(struct, path[0]), path[1:], value)
    return replace(struct, **{path[0]: inner})


def checked(field: Field, given: Any, lists: dict[str, Choices]) -> Any:
    """What the page sent for a field, made fit for the record: only names on its list, each once, text that a file can hold."""
    if field.kind == "text":
        return clean_text(given)
    if field.kind == "tick":
        return given is True
    allowed = [choice[0] for choice in lists[field.choices]]
    if field.kind == "radios":
        return given if isinstance(given, str) and given in allowed else ""
    if field.kind == "pairs":
        return _pairs(given, allowed, [choice[0] for choice in lists["evidence"]], field.most)
    names = given if isinstance(given, list | tuple) else ()
    return tuple(dict.fromkeys(n for n in names if isinstance(n, str) and n in allowed))[: field.most]


def _pairs(given: Any, causes: list[str], findings: list[str], most: int) -> tuple[Excluded, ...]:
    """Suspects, each once, with the finding that speaks against it; "" while none does."""
    rows = given if isinstance(given, list | tuple) else ()
    pairs: dict[str, str] = {}
    for row in rows:
        if isinstance(row, list | tuple) and len(row) == 2 and row[0] in causes:
            pairs.setdefault(row[0], row[1] if row[1] in findings else "")
    return tuple(Excluded(cause=cause, finding=finding) for cause, finding in pairs.items())[:most]


def plain(value: Any) -> Any:
    """What stands in a field as the page gets it."""
    if isinstance(value, tuple):
        return [[each.cause, each.finding] if isinstance(each, Excluded) else each for each in value]
    return value


def given_fields(given: Answer) -> dict[str, Any]:
    """The fields that an answer filled in beforehand has something in: name -> value."""
    whole, empty = Record(case_id="given", answer=given), Record(case_id="given")
    return {name: get(whole, name) for name in FIELDS if get(whole, name) != get(empty, name)}


def handed_over(answer: Answer) -> Answer:
    """The answer as it is handed in: a suspect that nothing speaks against is a thought, and stays with the draft."""
    return replace(answer, excluded=tuple(each for each in answer.excluded if each.finding))


# ---------------------------------------------------------------------- the lists to choose from
def choice_lists(
    case: Case, findings: Collection[Finding], words: Words, cleared: Collection[str] = ()
) -> dict[str, Choices]:
    """Every list of choices by name: (id, label, group). findings: those made, as they are shown; words: puts a text in the
    units the learner reads. cleared: what is given as sound, parts as well as elements."""
    evidence = evidence_choices(findings)
    readings = {reading.key for finding in findings for reading in finding.readings}
    return {
        "parts": _grouped(case.part_choices, all_parts()),
        "renewable": _grouped((c for c in case.part_choices if c[0] != NO_PART), all_parts()),
        "causes": _grouped(case.cause_choices, all_causes()),
        "elements": _may_be_cleared(case, cleared),
        "evidence": evidence,
        "readings": tuple(choice for choice in evidence if choice[0] in readings),
        "sureness": tuple((each, each, "") for each in CONFIDENCE),
        **_of_the_record(case, words),
    }


def _may_be_cleared(case: Case, given: Collection[str]) -> Choices:
    """The holding elements; parts too where they are given, because a road test clears elements only."""
    elements = tuple((each.id, each.label, "") for each in case.unit_spec.elements)
    more = set(given) - {element for element, *_ in elements}
    return elements + tuple(
        (name, in_a_sentence(label), "") for name, label in case.part_choices if name in more
    )


def _of_the_record(case: Case, words: Words) -> dict[str, Choices]:
    """The lists that only a full record asks for."""
    groups = {link.id: _LINK_KINDS[link.kind] for link in chain_links(case.unit_spec).values()}
    kinds = {name: each.kind for name, each in follow_ups().items()}
    proof = [(id, words(label), kinds.get(id)) for id, label in case.proof_choices]
    return {
        "links": tuple((id, words(label), groups.get(id, "")) for id, label in case.chain_choices),
        "repairs": _mixed((id, words(label)) for id, label in case.repair_choices),
        "estimates": tuple((id, words(label), "") for id, label in case.estimate_choices),
        "rechecks": tuple((id, label, "") for id, label, kind in proof if kind == "recheck"),
        "advice": _mixed((id, label) for id, label, kind in proof if kind == "advice"),
        "cautions": _mixed((id, words(label)) for id, label in case.caution_choices),
    }


def _mixed(choices: Iterable[tuple[str, str]]) -> Choices:
    """Choices to tick by their words, so that the place in the list does not tell which are sound."""
    return tuple((id, label, "") for id, label in sorted(choices, key=lambda choice: choice[1].lower()))


class _Grouped(Protocol):
    """An entry of a catalogue that stands in a group."""

    @property
    def group(self) -> str: ...


def _grouped(choices: Iterable[tuple[str, str]], catalogue: Mapping[str, _Grouped]) -> Choices:
    """Choices with the group that the catalogue puts them in; "" for one that is not in it."""
    return tuple((id, label, catalogue[id].group if id in catalogue else "") for id, label in choices)


def evidence_choices(findings: Collection[Finding]) -> Choices:
    """What can be named as proof: (id, words, inspection) of everything found."""
    choices = []
    for finding in findings:
        if finding.words:
            choices.append((finding.inspection, f"{finding.title}: what was noticed", finding.title))
        for reading in finding.readings:
            if reading.value is not None or reading.note:
                if reading.value is None or reading.past_range:
                    found = reading.note
                else:
                    found = reading.with_unit(reading.show(reading.value))
                choices.append((reading.key, f"{reading.label}: {found}", finding.title))
    return tuple(choices)
