"""Nothing the trade or a published standard expects is left out of the course."""

import pytest

from course_lib.authoring import coverage
from course_lib.authoring.build import TOP
from course_lib.base.data_files import read_data
from course_lib.faults.causes import all_causes


@pytest.mark.parametrize(
    "where", [coverage.causes_covered, coverage.inspections_covered, coverage.misconceptions_covered]
)
def test_nothing_is_uncovered(where):
    """Each of the course's own lists is met somewhere."""
    assert not [name for name, places in where().items() if not places]


def test_a_topic_is_covered_where_it_is_asked_for_and_not_where_a_word_falls():
    """Topics after the ASE Program Standards, area A2 (from memory). What no item and no case asks for is listed as not covered; a
    word in prose covers nothing; every cause of the list exists.
    """
    where = coverage.topics_covered()
    whole = "\n".join(coverage.asked_in_lessons().values())
    for topic in read_data("classroom/topics", coverage._Topics).topics:
        assert set(topic.causes) <= set(all_causes()), topic
        assert where[topic.topic] or not any(word in whole for word in topic.words)
    assert sum(not places for places in where.values()) <= 3
    assert "L02" not in where["Removal and refit, flex plate, jack, battery"]  # its prose says "converter"


def test_the_guide_holds_the_matrix_as_it_is():
    """DEVELOPERS.md is printed by the same command."""
    guide = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    for table in coverage.as_markdown().split("\n\n"):
        assert table in guide, (
            f"run `python -m course_lib.authoring coverage` and put this table in: {table[:60]}"
        )
