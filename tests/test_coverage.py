"""Nothing the trade or a published standard expects is left out of the course."""

import pytest

from course_lib.classroom import coverage
from course_lib.classroom.build import TOP


@pytest.mark.parametrize("where", [coverage.topics, coverage.causes, coverage.inspections, coverage.thoughts])
def test_nothing_is_uncovered(where):
    """Topics after the ASE Program Standards, area A2 (from memory); the rest are the course's own lists."""
    assert not [name for name, places in where().items() if not places]


def test_the_guide_holds_the_matrix_as_it_is():
    """DEVELOPERS.md is printed by the same command."""
    guide = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    for table in coverage.as_markdown().split("\n\n"):
        assert table in guide, (
            f"run `python -m course_lib.classroom.coverage` and put this table in: {table[:60]}"
        )
