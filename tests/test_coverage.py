"""Nothing the trade or a published standard expects is left out of the course without a reason."""

import pytest

from course_lib.authoring import coverage, lesson_coverage
from course_lib.faults.causes import all_causes
from course_lib.faults.measures import known_units
from course_lib.lessons.lesson import all_misconceptions
from course_lib.shop.findings import all_inspections


def signals_met() -> set[str]:
    """The load signals with which the causes that lessons show are met."""
    shown = [all_causes()[name] for name, places in lesson_coverage.causes_in_lessons().items() if places]
    return {signal for cause in shown for signal in cause.signals}


def taught(causes) -> bool:
    """Whether lessons speak of a load signal with which one of some causes is met."""
    return not causes or any(signals_met() & set(all_causes()[name].signals) for name in causes)


def test_every_inspection_is_met_in_a_lesson():
    """Whatever a unit that lessons speak of can be asked."""
    nowhere = [name for name, places in coverage.inspections_covered().items() if not places]
    kinds = {unit.kind_of_control for unit in known_units() if signals_met() & set(unit.signals)}
    assert not [name for name in nowhere if kinds & set(all_inspections()[name].controls)]


def test_every_misconception_is_met_in_a_lesson():
    """Each thought that leads astray, where a lesson has vehicles that show it."""
    nowhere = [name for name, places in coverage.misconceptions_covered().items() if not places]
    assert not [name for name in nowhere if taught(all_misconceptions()[name].causes)]


def test_most_causes_of_each_group_are_met_in_a_lesson():
    """Three in four of each group of the list; one that no lesson has yet is met in the open bay."""
    groups: dict[str, list[bool]] = {}
    for name, places in coverage.causes_covered().items():
        if taught([name]):
            groups.setdefault(all_causes()[name].group, []).append(bool(places))
    assert not [group for group, met in groups.items() if sum(met) < 0.75 * len(met)]


@pytest.mark.parametrize("topic", coverage.standard(), ids=lambda topic: topic.topic)
def test_a_topic_is_covered_where_it_is_asked_for_or_left_out_with_a_reason(topic):
    """Topics after the ASE Program Standards, area A2 (from memory). Either an item or a case asks for it, or the list says why
    nothing does; never both. A word in prose covers nothing; every cause of the list exists.
    """
    assert set(topic.causes) <= set(all_causes())
    assert bool(coverage.topics_covered()[topic.topic]) != bool(topic.left_out)


def test_a_word_in_prose_covers_nothing():
    """The prose of L02 says "converter"; none of its items asks for it."""
    assert "L02" not in coverage.topics_covered()["Removal and refit, flex plate, jack, battery"]


def test_the_printed_matrix_says_what_the_rules_ask():
    """Every name of every list has its row, with its places."""
    printed = coverage.as_markdown()
    for where in (
        coverage.topics_covered,
        coverage.inspections_covered,
        coverage.causes_covered,
        coverage.misconceptions_covered,
    ):
        for name, places in where().items():
            assert f"| {name} | {' '.join(places)}" in printed
