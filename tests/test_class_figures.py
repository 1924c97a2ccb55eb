"""Figures of the class report say the same in the picture and in words, and leave verdicts out where they are not wanted."""

import re

import numpy as np
import pytest

from course_lib.classroom.item_analysis import in_words
from course_lib.plots.class_figures import LEFT, RIGHT, class_economy, class_items, class_part_only

NAMES = ["Broken part", "Root cause", "Chain"]
SHARE, INDEX = [0.9, 0.5, 0.1], [0.45, -0.2, np.nan]
WORDS = [in_words(value) for value in INDEX]


def ends(picture, name):
    """Share shown by each line drawn under a name."""
    return [(line.get_xdata()[1] - LEFT) / (RIGHT - LEFT) for line in picture.named(name)]


@pytest.mark.parametrize("verdict", [True, False])
def test_items_in_picture_and_words(verdict):
    """Length of each bar, number beside it and number in the words are the share; the word for D is there only as a verdict."""
    picture = class_items(NAMES, SHARE, INDEX, WORDS, verdict=verdict)
    assert ends(picture, "share") == pytest.approx(SHARE)
    assert [int(n) for n in re.findall(r"(\d+)% of the points", picture.alt)] == [90, 50, 10]
    assert "D -0.20" in picture.alt and "D not known" in picture.alt
    for place in (picture.alt, " ".join(picture.words())):
        assert ("check the key" in place) == ("very good" in place) == verdict
    with pytest.raises(ValueError, match="lists must be of one length, got 3, 3, 3, 2"):
        class_items(NAMES, SHARE, INDEX, WORDS[:2], verdict=verdict)


def test_economy_draws_every_known_record():
    """A dot for each record whose ideal is known; more than shown stands at the edge; thrift is a verdict."""
    points, ratio = [100, 80, 20, 50], [1.0, 2.0, 9.0, np.nan]
    picture = class_economy(points, ratio, verdict=True)
    (dots,) = picture.named("records")
    x, y = dots.get_xdata(), dots.get_ydata()
    assert len(x) == 3 and (np.diff(x) > 0).all() and (np.diff(y) > 0).all()  # y runs downward
    assert "3 records" in picture.alt and "1.0 to 9.0" in picture.alt and "thriftier half" in picture.alt
    assert "thriftier" not in class_economy(points, ratio, verdict=False).alt
    assert "No records" in class_economy([], [], verdict=True).alt


@pytest.mark.parametrize(
    "before, after, word", [(0.5, 0.2, "smaller"), (0.1, 0.3, "larger"), (0.2, 0.2, "No change")]
)
def test_part_only_before_and_after(before, after, word):
    """Bars as long as the shares; the change in a word, if wanted."""
    picture = class_part_only(before, after, (20, 30), verdict=True)
    assert ends(picture, "share") == pytest.approx([before, after])
    assert f"before {before:.0%} of 20" in picture.alt and f"after {after:.0%} of 30" in picture.alt
    assert word in picture.alt and word not in class_part_only(before, after, (20, 30), verdict=False).alt
    assert "no records" in class_part_only(np.nan, after, (0, 30), verdict=True).alt
