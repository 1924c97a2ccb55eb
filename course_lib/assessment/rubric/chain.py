"""The chain of events a learner puts together, against what the vehicle lived."""

from __future__ import annotations

from fnmatch import fnmatchcase

from course_lib.assessment.rubric.mark_sheet import CriterionMark, criterion_mark
from course_lib.assessment.rubric.work import Work
from course_lib.faults.answer_choices import LINK_KINDS, ChainLink, chain_links
from course_lib.faults.parts import all_parts

ASKED = {
    "state": "what is out of order at the start",
    "action": "what the elements then do",
    "damage": "what that ruins",
    "felt": "what the owner feels",
}


def true_links(work: Work) -> dict[str, ChainLink]:
    """The links that are true of the vehicle: by the log of its life, or by what a workshop finds on it."""
    every = chain_links(work.case.unit_spec)
    return {name: link for name, link in every.items() if name in work.key.lasting or _true(work, link)}


def _true(work: Work, link: ChainLink) -> bool:
    if _odometer(work, link) is not None:
        return True
    logged_only = bool(link.of and link.events)
    return not logged_only and any(link.id in shown for shown in work.shown.values())


def _odometer(work: Work, link: ChainLink) -> float | None:
    """Where in its life the link first came true; None where the log does not say."""
    log = work.key.vehicle.events if work.key.vehicle else {}
    return min(
        (mile for name, mile in log.items() if any(fnmatchcase(name, event) for event in link.events)),
        default=None,
    )


def wanted_links(work: Work) -> dict[str, list[str]]:
    """For each kind of link that this life has, those one of which must be named.

    At the start it is what stays out of order with the damage mended; later on what happens to the part that broke. Damage that
    no finding shows is true and need not be told.
    """
    true = true_links(work)
    wanted = {kind: [name for name, link in true.items() if link.kind == kind] for kind in LINK_KINDS}
    lasting = [name for name in wanted["state"] if name in work.key.lasting]
    wanted["state"] = lasting or wanted["state"]
    found = frozenset().union(*work.shown.values())
    wanted["damage"] = [name for name in wanted["damage"] if name in found]
    ends = {f"@{element}" for element in _elements(work)}
    for kind in ("action", "damage"):
        own = [name for name in wanted[kind] if f"@{name.partition('@')[2]}" in ends]
        wanted[kind] = own or wanted[kind]
    return {kind: names for kind, names in wanted.items() if names}


def _elements(work: Work) -> set[str]:
    """The holding elements that the broken parts belong to."""
    return {place for part in work.key.shortest if part in all_parts() for place in all_parts()[part].places}


def starts_right(work: Work) -> bool:
    """Whether the chain begins with something that is out of order because of the cause, before any damage."""
    first = next(iter(work.answer.chain), "")
    wanted = wanted_links(work)
    return first in wanted[next(iter(wanted))] if wanted else False


def link_shown(work: Work, name: str) -> bool:
    """Whether the learner made a finding that shows this link."""
    return any(name in work.shown[finding.inspection] for finding in work.made)


def judge_chain(work: Work) -> CriterionMark:
    """None; one link; all links, one not evidenced; every link with a reading or a look."""
    chosen, true = list(dict.fromkeys(work.answer.chain)), true_links(work)
    if not chosen:
        return criterion_mark("chain", 0, "No link of a chain is named.")
    if not any(name in true for name in chosen):
        return criterion_mark("chain", 0, "No link of your chain happened on this vehicle.")
    false = [name for name in chosen if name not in true]
    if false:
        right, wrong = len(chosen) - len(false), len(false)
        return criterion_mark(
            "chain", 1, f"Links of your chain that happened on this vehicle: {right}; that did not: {wrong}."
        )
    missing = [kind for kind, names in wanted_links(work).items() if not set(names) & set(chosen)]
    if missing:
        return criterion_mark("chain", 1, f"A link is missing: {ASKED[missing[0]]}.")
    if _out_of_order(work, chosen):
        return criterion_mark("chain", 1, "The links are right; two of them stand in the wrong order.")
    bare = [name for name in chosen if not link_shown(work, name)]
    if len(bare) > 1:
        return criterion_mark(
            "chain", 1, "The links are right; more than one has no reading or look of yours behind it."
        )
    if bare:
        return criterion_mark(
            "chain", 2, "All links are there; one has no reading or look of yours behind it."
        )
    return criterion_mark("chain", 3, "Every link is there, in order, with a reading or a look.")


def _out_of_order(work: Work, chosen: list[str]) -> bool:
    """Whether two links stand against both the way of a chain and the log of this life."""
    every = chain_links(work.case.unit_spec)
    return any(
        _against(work, every[one], every[other])
        for place, one in enumerate(chosen)
        for other in chosen[place + 1 :]
    )


def _against(work: Work, one: ChainLink, other: ChainLink) -> bool:
    if LINK_KINDS.index(one.kind) <= LINK_KINDS.index(other.kind):
        return False
    first, second = _odometer(work, one), _odometer(work, other)
    return first is None or second is None or first > second
