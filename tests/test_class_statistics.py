"""Statistics of a class against printed examples, another library, and what must hold for any class."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from course_lib.classroom import item_analysis as stat

# Twelve learners, five items, right or wrong; and ten learners, four items with points.
RIGHT = np.array(
    [
        [1, 0, 0, 1, 0], [0, 0, 0, 0, 1], [0, 0, 0, 0, 0], [0, 0, 0, 0, 0], [0, 0, 1, 0, 0], [0, 0, 0, 0, 0],
        [0, 1, 1, 0, 1], [1, 1, 1, 1, 1], [0, 1, 0, 1, 0], [1, 1, 0, 0, 0], [1, 0, 0, 1, 1], [1, 0, 0, 1, 0],
    ]
)  # fmt: skip
POINTS = np.array(
    [
        [9.3, 8.4, 8.2, 6.4], [9.7, 8.8, 12.0, 11.0], [13.7, 15.1, 13.1, 15.9], [12.1, 13.2, 9.5, 12.8], [5.6, 4.9, 8.4, 7.2],
        [9.2, 13.4, 7.2, 7.6], [9.7, 10.2, 8.9, 8.8], [16.0, 15.6, 12.5, 14.4], [8.8, 6.6, 9.2, 7.0], [11.0, 9.5, 9.3, 7.9],
    ]
)  # fmt: skip
classes = st.integers(2, 12).flatmap(
    lambda n: st.integers(2, 6).flatmap(
        lambda k: arrays(float, (n, k), elements=st.integers(0, 3).map(lambda v: v / 3))
    )
)


def test_groups_against_a_printed_exercise():
    """Groups of 10, right in the upper and lower one: index D of five items; then groups of 11.

    Source: exercise after Ebel & Frisbie, Essentials of Educational Measurement (as printed on an exercise sheet).
    """
    upper, lower = np.array([7, 9, 10, 5, 8]) / 10, np.array([3, 5, 7, 8, 7]) / 10
    assert stat.discrimination_of_groups(upper, lower) == pytest.approx([0.40, 0.40, 0.30, -0.30, 0.10])
    assert stat.discrimination_of_groups(9 / 11, 3 / 11) == pytest.approx(0.545, abs=0.001)


@pytest.mark.parametrize(
    "index, word",
    [
        (0.4, "very good"),
        (0.39, "reasonably good"),
        (0.3, "reasonably good"),
        (0.29, "marginal"),
        (0.2, "marginal"),
        (0.19, "poor"),
        (0.0, "poor"),
        (-0.01, "negative: check the key"),
        (np.nan, "not known"),
    ],
)
def test_the_scale_of_ebel_and_frisbie(index, word):
    """Ebel & Frisbie: 0.40 and up very good, 0.30 to 0.39 reasonably good, 0.20 to 0.29 marginal, below poor (from memory)."""
    assert stat.in_words(index) == word


@pytest.mark.parametrize(
    "table, value",
    [([[20, 5], [10, 15]], 0.40), ([[45, 15], [25, 15]], 0.1304), ([[25, 35], [5, 35]], 0.2593)],
)
def test_kappa_against_printed_tables(table, value):
    """Cohen's kappa: 20, 5 / 10, 15 gives 0.40; two tables with the same 60 % seen and other margins give 0.130 and 0.259.

    Source: widely printed textbook example; scikit-learn's cohen_kappa_score gives the same.
    """
    pairs = [(a, b) for a in (0, 1) for b in (0, 1) for _ in range(table[a][b])]
    assert stat.kappa(*zip(*pairs, strict=True)) == pytest.approx(value, abs=1e-4)


def test_kappa_knows_its_limits():
    """Full agreement is 1; where everybody got the same mark it is unknown; other lengths are refused."""
    assert stat.kappa("abcab", "abcab") == pytest.approx(1.0)
    assert np.isnan(stat.kappa("aaa", "aaa"))
    with pytest.raises(ValueError, match="got 2 and 3 marks"):
        stat.kappa("ab", "abc")


@pytest.mark.parametrize(
    "scores, value, low, high",
    [(RIGHT, 0.5584192439862541, -0.016, 0.855), (POINTS, 0.9124635666994806, 0.770, 0.976)],
)
def test_reliability_against_another_library(scores, value, low, high):
    """Value and Feldt's interval as pingouin 0.7.0 gives them (`cronbach_alpha` of the same numbers)."""
    found = stat.reliability(scores)
    assert found.value == pytest.approx(value, rel=1e-9)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-4)


def test_alpha_from_covariances():
    """k mean covariance / (mean variance + (k - 1) mean covariance): the other way to write alpha, by numpy."""
    table = np.cov(POINTS.T)
    k = len(table)
    between = (table.sum() - np.trace(table)) / (k * (k - 1))
    assert stat.alpha(POINTS) == pytest.approx(k * between / (np.trace(table) / k + (k - 1) * between))


def test_kr20_by_hand():
    """Two learners of four right in both items, one in the first, one in neither: p = 3/4 and 1/2, p q = 3/16 + 4/16 = 7/16;
    sums 2 2 1 0 have variance 11/16; KR-20 = 2 (1 - 7/11) = 8/11."""
    assert stat.kr20([[1, 1], [1, 1], [1, 0], [0, 0]]) == pytest.approx(8 / 11)
    assert stat.kr20(RIGHT) == pytest.approx(stat.alpha(RIGHT))
    with pytest.raises(ValueError, match="0 and 1 only"):
        stat.kr20([[1, 0.5], [0, 1]])


@given(classes)
@settings(max_examples=80, deadline=None)
def test_what_holds_for_any_class(scores):
    """Shares stay shares; the order of the list changes nothing; item-rest is numpy's correlation; no number out of nothing."""
    assert ((0 <= stat.difficulty(scores)) & (stat.difficulty(scores) <= 1)).all()
    index = stat.discrimination(scores)
    assert (np.abs(index) <= 1 + 1e-9).all()
    turned = scores[::-1]
    assert np.allclose(stat.discrimination(turned), index) and np.allclose(
        stat.difficulty(turned), stat.difficulty(scores)
    )
    assert np.allclose(stat.discrimination(1 - scores), index)
    for item, value in enumerate(stat.item_rest(scores)):
        rest = scores.sum(axis=1) - scores[:, item]
        if np.std(rest) > 1e-9 and np.std(scores[:, item]) > 1e-9:
            assert value == pytest.approx(np.corrcoef(scores[:, item], rest)[0, 1])
        else:
            assert np.isnan(value)
    found = stat.reliability(scores)
    assert np.isnan(found.value) or found.low <= found.value <= found.high <= 1


def test_an_item_that_tells_good_from_weak_is_found():
    """A ladder of learners: an item right for the upper half has D = 1, one right for the lower half D = -1, one for all D = 0."""
    ladder = (np.arange(20)[:, None] > np.array([2, 5, 8, 11, 14])).astype(float)
    found = []
    for item in (np.arange(20) >= 10, np.arange(20) < 10, np.ones(20)):
        found.append(stat.discrimination(np.column_stack([ladder, item]))[-1])
    assert found == pytest.approx([1.0, -1.0, 0.0])
    assert stat.in_words(found[1]) == "negative: check the key"


@pytest.mark.parametrize(
    "scores, said",
    [
        (RIGHT, "Only 12 learners"),
        (RIGHT[:, :3], "Only 3 items"),
        (RIGHT[:1], "two learners and two items at least; here are 1 and 5"),
        (np.ones((6, 3)), "Everybody has the same sum"),
        (np.column_stack([RIGHT, np.ones(12)]), "1 of 6 items were the same for everybody"),
        ([[1, 0], [0, 1], [1, 0], [0, 1], [1, 1]], "Below 0"),
    ],
)
def test_a_reliability_says_why_to_doubt_it(scores, said):
    """Small classes, short tests, no spread: said in the same breath as the number."""
    assert said in str(stat.reliability(scores))


def test_a_large_class_with_many_items_has_nothing_to_doubt():
    """Sixty learners, eight items on one ability: no warning, and a narrow interval."""
    rng = np.random.default_rng(3)
    scores = (rng.normal(size=(60, 1)) + rng.normal(size=(60, 8)) > 0).astype(float)
    found = stat.reliability(scores)
    assert not found.warnings and found.high - found.low < 0.25 and found.value > 0.7


def test_scores_must_be_a_table():
    """A flat list is a slip, not a class."""
    with pytest.raises(ValueError, match="learner x item, got 1 axes"):
        stat.alpha([1, 0, 1])
