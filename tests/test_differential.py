"""The odds, the advice and the certificate on problems whose answer is known: from textbooks, by hand, or by count."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from populations import Trade, exact, inspection

from course_lib.diagnosis import next_inspection as advice_module
from course_lib.diagnosis.calibration import fit_sharpness, reliability_table
from course_lib.diagnosis.certificate import certify, ideal_path
from course_lib.diagnosis.contradiction import contradiction
from course_lib.diagnosis.fairness import of_what, rows_against
from course_lib.diagnosis.key_entries import BAR
from course_lib.diagnosis.lived_populations import findings_of
from course_lib.diagnosis.metric import metric_of
from course_lib.diagnosis.next_inspection import rank_inspections
from course_lib.diagnosis.odds import entropy_bits, odds
from course_lib.diagnosis.population import COMPLAINT, Findings, Population, Sharpness
from course_lib.shop.findings import Finding, Look
from course_lib.shop.order import steps_to

KILLS = 3.0  # spreads past which one finding alone rules a suspect out


@pytest.fixture(scope="module")
def trade():
    """(trade, its population with fitted sharpness, fresh lives of the same trade)."""
    rng = np.random.default_rng(1)
    made = Trade(rng)
    lives = made.lives(rng, 60)
    lives = replace(lives, sharpness=fit_sharpness(lives, rng))
    return made, lives, made.lives(rng, 50)


# ---------------------------------------------------------------------- two causes at once
def test_two_causes_take_the_minutes_of_both():
    """By hand: the leak is common, so that a wet joint alone stands at 100 to 1 for it; only the second look finds the other."""
    causes = ("leak", "sound joint", "leak with jam")
    looks = {"wet": [1, 0, 1], "jammed": [0, 0, 1]}
    population = exact(causes, [0, 1, 2], looks, [100.0, 50.0, 1.0])
    offered, found = (
        [inspection("wet", 10), inspection("jammed", 15)],
        Findings(looks={"wet": 1, "jammed": 1}),
    )
    first, both = (
        certify(population, found, causes[2], offered, np.random.default_rng(0), to_the_end=on)
        for on in (False, True)
    )
    assert both.named == causes[2] and both.minutes == 25 and both.certified
    assert first.named == "leak" and first.minutes == 10


def test_a_second_cause_that_nothing_shows_is_not_certified():
    """Where both together look just like the first alone, no minutes are enough."""
    causes = ("leak", "leak with jam")
    population = exact(causes, [0, 1], {"wet": [1, 1]}, [3.0, 1.0])
    made = certify(
        population,
        Findings(looks={"wet": 1}),
        causes[1],
        [inspection("wet")],
        np.random.default_rng(0),
        to_the_end=True,
    )
    assert not made.certified and "must lead leak by 20 to 1" in made.reason


# ---------------------------------------------------------------------- what may be missed
def intermittent(chance):
    """A loose pin that shows itself at so many wiggles in a hundred, and a bad coil that never does; one life of each."""
    plain = exact(("loose pin", "bad coil"), [0, 1], {})
    return replace(plain, objects={"jump": np.array([chance, 0.0])}, made_by={"jump": "wiggle"})


def wiggled(grade):
    look = Look(key="jump", grade=grade, text="current: nothing jumps" if not grade else "current: jumps")
    return Finding(
        inspection="wiggle", title="Wiggle", minutes=20, made_at_f=None, readings=(), words=(), looks=(look,)
    )


def test_nothing_seen_is_a_weak_finding():
    """By hand: a pin that is met at 8 of 10 wiggles and was not met has 0.2 of its odds left; one that was met is certain."""
    population = intermittent(0.8)
    said = {grade: odds(population, findings_of(population, [wiggled(grade)])) for grade in (0, 1)}
    missed, met = (dict(each.table()) for each in said.values())
    assert missed["loose pin"] / missed["bad coil"] == pytest.approx(0.2, rel=0.01)
    assert met["loose pin"] > 0.99
    assert not findings_of(population, []).objects  # what was not looked for says nothing


def test_what_was_missed_is_told_as_a_chance():
    """Beside a suspect stands how often it would be met, in the words of the look."""
    population = intermittent(0.95)
    for grade, suspect, expected in ((0, "loose pin", "most likely"), (1, "bad coil", "seldom")):
        found = {"wiggle": wiggled(grade)}
        rows = rows_against(population, findings_of(population, list(found.values())), found, suspect)
        assert [row.found for row in rows] == [found["wiggle"].looks[0].text]
        assert f"would {expected} be met" == rows[0].expected


# ---------------------------------------------------------------------- textbooks
def table(causes, counts):
    """One look with two outcomes: counts[cause] = (shown, not shown) as weights."""
    cause = np.repeat(np.arange(len(causes)), 2)
    return exact(causes, cause, {"test": [1, 0] * len(causes)}, np.ravel(counts))


def test_base_rate_is_not_forgotten():
    """Eddy (1982), in Kahneman, Slovic and Tversky, Judgment under Uncertainty: 1 %, 80 %, 9.6 % give 7.8 % (from memory)."""
    population = table(("ill", "well"), [(0.01 * 0.80, 0.01 * 0.20), (0.99 * 0.096, 0.99 * 0.904)])
    said = dict(odds(population, Findings(looks={"test": 1})).table())
    assert said["ill"] == pytest.approx(0.078, abs=0.001)


# Source: Altman and Bland, Diagnostic tests 1 and 2, BMJ 308 (1994) 1552 and BMJ 309 (1994) 102; 231, 32, 27 and 54 patients
@pytest.mark.parametrize(
    "prevalence, positive, negative",
    [(258 / 344, 0.88, 0.67), (0.25, 0.45, 0.95)],
    ids=["as found", "one in four"],
)
def test_predictive_values_match_published(prevalence, positive, negative):
    """Printed to two figures; the prevalence of 0.25 is from memory of the same note."""
    sick, sound = np.array([231, 27]) / 258, np.array([32, 54]) / 86
    population = table(("sick", "sound"), [prevalence * sick, (1 - prevalence) * sound])
    shown, absent = (odds(population, Findings(looks={"test": grade})) for grade in (1, 0))
    assert dict(shown.table())["sick"] == pytest.approx(positive, abs=0.005)
    assert dict(absent.table())["sound"] == pytest.approx(negative, abs=0.005)
    prior, likelihood = prevalence / (1 - prevalence), sick[0] / sound[0]
    assert likelihood == pytest.approx(2.41, abs=0.005)
    shown_odds = shown.probability[0] / shown.probability[1]
    assert shown_odds == pytest.approx(prior * likelihood)


# Source: Quinlan, Induction of Decision Trees, Machine Learning 1 (1986); Mitchell, Machine Learning, chapter 3 (from memory)
QUINLAN = {  # outcome: (yes, no)
    "outlook": [(2, 3), (4, 0), (3, 2)],
    "humidity": [(3, 4), (6, 1)],
    "wind": [(6, 2), (3, 3)],
}
PUBLISHED_GAIN = {"outlook": 0.247, "humidity": 0.152, "wind": 0.048}


def test_entropy_and_information_gain_match_published():
    """Nine yes and five no make 0.940 bit; the gain of each attribute; the tree asks for the outlook first."""
    assert entropy_bits(np.array([9, 5]) / 14) == pytest.approx(0.940, abs=0.001)
    for name, outcomes in QUINLAN.items():
        counts = np.array(outcomes)
        cause, look = (
            np.repeat(np.tile([0, 1], len(counts)), counts.ravel()),
            np.repeat(np.arange(len(counts)), counts.sum(1)),
        )
        population = exact(("yes", "no"), cause, {name: look})
        (only,) = rank_inspections(population, Findings(), [inspection(name)], (), np.random.default_rng(0))
        assert only.bits == pytest.approx(PUBLISHED_GAIN[name], abs=0.001)
    assert max(PUBLISHED_GAIN, key=PUBLISHED_GAIN.get) == "outlook"


def chain(length):
    """A chain of stages, one of which is broken: a gauge after each shows whether the fault lies before it."""
    at = np.arange(length)
    return exact([f"stage {i}" for i in at], at, {f"after {i}": at <= i for i in range(length - 1)})


@pytest.mark.parametrize("broken", range(8))
def test_half_split_finds_one_of_eight_in_three(broken):
    """Eight equal faults in a chain need log2(8) = 3 tests. Shannon (1948), Cover and Thomas, Elements of Information Theory."""
    population = chain(8)
    offered = [inspection(name) for name in population.looks]
    path = ideal_path(population, population.findings(broken), offered, np.random.default_rng(0))
    assert path.named == f"stage {broken}" and len(path.steps) == 3
    assert path.steps[0].inspection == "after 3"


def test_best_questions_take_about_the_entropy():
    """Priors 0.4, 0.3, 0.2, 0.1: entropy 1.846 bit, best questions 1.90. Huffman's code, Cover and Thomas (from memory)."""
    prior = np.array([0.4, 0.3, 0.2, 0.1])
    assert entropy_bits(prior) == pytest.approx(1.846, abs=0.001)
    looks = {name: np.arange(4) == i for i, name in enumerate("abcd")}
    population = exact("abcd", np.arange(4), looks, prior)
    offered = [inspection(name) for name in looks]
    rng = np.random.default_rng(0)
    taken = [len(ideal_path(population, population.findings(i), offered, rng).steps) for i in range(4)]
    assert prior @ taken == pytest.approx(1.90)
    assert entropy_bits(prior) <= prior @ taken <= entropy_bits(prior) + 1.0


# Source: Kadane and Simon, Optimal strategies for a class of constrained sequential problems (1975): order by P over C
CHANCE, COST = np.array([0.20, 0.25, 0.40, 0.15]), np.array([10.0, 4.0, 20.0, 3.0])


def cost_of(order):
    """Expected cost of checking one place after the other until the fault is found."""
    spent = np.cumsum(COST[list(order)])
    return float(CHANCE[list(order)] @ spent)


def test_bits_per_minute_keep_to_probability_over_cost():
    """The best order by P/C costs 20.25. Bits per minute may swap near ties; they cost no more than one part in a hundred."""
    best = min(permutations(range(4)), key=cost_of)
    assert best == (1, 3, 0, 2) and cost_of(best) == pytest.approx(20.25)
    population = exact("abcd", np.arange(4), {n: np.arange(4) == i for i, n in enumerate("abcd")}, CHANCE)
    offered = [inspection(name, int(cost)) for name, cost in zip("abcd", COST, strict=True)]
    advised = rank_inspections(population, Findings(), offered, (), np.random.default_rng(0))
    assert cost_of(["abcd".index(each.inspection) for each in advised]) <= 1.01 * 20.25


# ---------------------------------------------------------------------- odds
def test_odds_sum_to_one_and_forget_no_cause(trade):
    """With everything read, the floor still leaves every cause something."""
    _, lives, fresh = trade
    now = odds(lives, fresh.findings(7, np.random.default_rng(0)))
    assert now.probability.sum() == pytest.approx(1.0) and now.lives.sum() == pytest.approx(1.0)
    assert now.probability.min() > 0.0
    assert [p for _, p in now.table()] == sorted(now.probability, reverse=True)
    assert now.ratio == pytest.approx(now.table()[0][1] / now.table()[1][1])


def test_nothing_found_leaves_the_prior():
    """Before any finding the odds are the weights."""
    population = exact("ab", [0, 1, 1], {"x": [0, 1, 2]}, [1.0, 2.0, 1.0])
    assert odds(population, Findings()).probability == pytest.approx([0.25, 0.75])


def test_a_reading_that_cannot_be_taken_speaks():
    """Lives without an upshift have no shift speed; a vehicle without one is like them, one with a speed is not."""
    shift = np.r_[np.full(20, np.nan), np.linspace(30.0, 34.0, 20)]
    population = Population(
        causes=("stuck", "free"),
        cause=np.repeat([0, 1], 20),
        weight=np.ones(40),
        severity=np.tile(np.linspace(0, 1, 20), 2),
        miles=np.full(40, 100.0),
        readings={"shift_mph": shift},
        sigma={"shift_mph": 0.5},
        made_by={"shift_mph": "road_test"},
    )
    assert odds(population, Findings(readings={"shift_mph": np.nan})).leader == "stuck"
    assert odds(population, Findings(readings={"shift_mph": 32.0})).leader == "free"


def test_objects_that_lie_about_everywhere_say_little(trade):
    """A thing left by one cause, and now and then by chance, moves the odds toward it; its absence moves them away."""
    _, lives, _ = trade
    before, there, gone = (
        dict(odds(lives, Findings(objects=objects)).table())["cause 2"]
        for objects in ({}, {"herring": True}, {"herring": False})
    )
    assert gone < before < there < 0.9


def test_unknown_finding_is_refused(trade):
    """A key that no life has is a mistake, and the message names the nearest."""
    with pytest.raises(ValueError, match="reading 3"):
        odds(trade[1], Findings(readings={"reading3": 1.0}))


# ---------------------------------------------------------------------- calibration
def mean_gap(said, right):
    """Mean distance between what was said and what came true, over all answers that say more than one in five."""
    rows = [row for row in reliability_table(said, right) if row[0] >= 0.2]
    return np.average([abs(row[3] - row[4]) for row in rows], weights=[row[2] for row in rows])


def asked(lives, fresh, answer, rng):
    """Odds of every cause for fresh lives after a random share of the benches: (said, right)."""
    places = sorted(set(lives.made_by.values()))
    said, right = [], []
    for life in range(len(fresh)):
        some = rng.permutation(places)[: rng.integers(0, len(places) + 1)]
        found = fresh.findings(life, rng).keep(lives.keys_of(some))
        said += list(answer(lives, found))
        right += [i == fresh.cause[life] for i in range(len(lives.causes))]
    return np.array(said), np.array(right)


def product_of_independents(lives, found):
    """The negative control: each cause a mean and a spread for each reading, multiplied as if gauges had no common news."""
    total = np.zeros(len(lives.causes))
    for key, value in found.readings.items():
        for cause in range(len(lives.causes)):
            seen = lives.readings[key][lives.cause == cause]
            spread = np.hypot(seen.std(), lives.sigma[key])
            total[cause] -= 0.5 * ((value - seen.mean()) / spread) ** 2 + np.log(spread)
    weight = np.exp(total - total.max())
    return weight / weight.sum()


def test_odds_come_true_where_a_product_of_independents_does_not(trade):
    """Readings here repeat each other: counting each as news of its own says 90 % far too often; whole lives do not."""
    _, lives, fresh = trade
    ours = asked(lives, fresh, lambda p, f: odds(p, f).probability, np.random.default_rng(3))
    naive = asked(lives, fresh, product_of_independents, np.random.default_rng(3))
    assert mean_gap(*ours) < 0.1
    assert mean_gap(*naive) > 0.15


def test_reliability_counts_by_hand():
    """Four answers in two ranges."""
    rows = reliability_table(
        np.array([0.2, 0.3, 0.9, 1.0]), np.array([False, True, True, True]), (0.0, 0.5, 1.0)
    )
    assert rows == [(0.0, 0.5, 2, 0.25, 0.5), (0.5, 1.0, 2, 0.95, 1.0)]


def test_lives_of_one_vehicle_are_not_each_others_neighbors():
    """Copies of a vehicle would make the spread of manufacture look small and the odds too sure."""
    rng = np.random.default_rng(5)
    lives = Trade(rng).lives(rng, 12)
    twice = lives.rows(np.repeat(np.arange(len(lives)), 4))
    own = replace(twice, vehicle=np.arange(len(twice)))
    assert np.trace(metric_of(twice).covariance) > 1.5 * np.trace(metric_of(own).covariance)


# ---------------------------------------------------------------------- advice and the ideal way
def test_advice_judges_an_inspection_with_what_it_needs():
    """A test that needs another first costs the minutes of both and brings the bits of both."""
    population = exact("abcd", np.arange(4), {"x": [0, 0, 1, 1], "y": [0, 1, 0, 1]})
    offered = [inspection("x", 5), inspection("y", 10, needs=["x"])]
    by_name = {
        each.inspection: each
        for each in rank_inspections(population, Findings(), offered, (), np.random.default_rng(0))
    }
    assert (by_name["y"].steps, by_name["y"].minutes) == (("x", "y"), 15)
    assert by_name["y"].bits == pytest.approx(2.0) and by_name["x"].bits == pytest.approx(1.0)
    later = rank_inspections(population, Findings(looks={"x": 1}), offered, ["x"], np.random.default_rng(0))
    assert [(each.inspection, each.minutes) for each in later] == [("y", 10)]
    assert later[0].bits == pytest.approx(1.0)


def test_needs_come_in_order_and_once():
    """A need of two needs is made once, first."""
    offered = {
        e.id: e for e in (inspection("a"), inspection("b", needs=["a"]), inspection("c", needs=["a", "b"]))
    }
    assert steps_to("c", offered, ()) == ("a", "b", "c")
    assert steps_to("c", offered, ("a",)) == ("b", "c")


def test_sampled_advice_agrees_with_the_whole(trade, monkeypatch):
    """A few hundred lives stand for all of them: the bits move by little."""
    _, lives, fresh = trade
    offered = [inspection(name) for name in sorted(set(lives.made_by.values()))]
    found = fresh.findings(3).keep({"reading 0", "reading 1"})

    def bits():
        made = rank_inspections(lives, found, offered, (), np.random.default_rng(0))
        return np.array([each.bits for each in sorted(made, key=lambda each: each.inspection)])

    sampled = bits()
    monkeypatch.setattr(advice_module, "MOST_LIVES", len(lives))
    monkeypatch.setattr(advice_module, "MOST_TRUTHS", len(lives))
    assert np.abs(sampled - bits()).max() < 0.25


def test_expected_bits_are_what_is_gained_on_average(trade):
    """Over many fresh lives the entropy falls by about what was promised before the first reading."""
    _, lives, fresh = trade
    rng = np.random.default_rng(0)
    offered = [inspection(name) for name in sorted(set(lives.made_by.values()))]
    before = odds(lives, Findings()).bits
    for promised in rank_inspections(lives, Findings(), offered, (), rng)[:3]:
        keys = lives.keys_of([promised.inspection])
        after = [odds(lives, fresh.findings(i, rng).keep(keys)).bits for i in range(0, len(fresh), 2)]
        assert promised.bits == pytest.approx(before - np.mean(after), abs=0.25)


def test_the_way_obeys_what_is_allowed_and_what_is_needed():
    """A forbidden inspection is never made; a need comes before what needs it."""
    population = exact("abcd", np.arange(4), {"x": [0, 0, 1, 1], "y": [0, 1, 0, 1], "z": [0, 1, 2, 3]})
    offered = [inspection("x", 5), inspection("y", 5, needs=["x"]), inspection("z", 1)]
    rng = np.random.default_rng(0)
    free = ideal_path(population, population.findings(2), offered, rng)
    assert [step.inspection for step in free.steps] == ["z"]
    bound = ideal_path(
        population, population.findings(2), offered, rng, allowed=lambda name, made: name != "z"
    )
    assert [step.inspection for step in bound.steps] == ["x", "y"]
    assert (bound.named, bound.settled, bound.deciding, bound.minutes, bound.twin) == (
        "c",
        True,
        "y",
        10,
        "d",
    )


def test_what_is_known_at_once_costs_nothing():
    """The complaint is looked at before the first inspection."""
    population = exact("ab", [0, 1], {"slips": [0, 1]})
    population = replace(population, made_by={"slips": COMPLAINT})
    path = ideal_path(population, population.findings(1), [], np.random.default_rng(0))
    assert (path.steps, path.named, path.settled) == ((), "b", True)


def test_certificate_of_a_case_that_can_be_told():
    """It names the minutes, the inspection that decides, the hardest twin, and whether the unit is opened."""
    population = exact("abc", np.arange(3), {"look": [0, 0, 1], "pan": [0, 1, 0]})
    offered = [inspection("look", 5), inspection("pan", 45, openness=4)]
    given = certify(population, population.findings(1), "b", offered, np.random.default_rng(0))
    assert given.certified and not given.reason
    assert (given.minutes, given.deciding, given.twin, given.opened) == (50, "pan", "a", True)
    assert not certify(population, population.findings(2), "c", offered, np.random.default_rng(0)).opened


def test_certificate_is_refused_with_the_reason():
    """Two causes that show the same cannot be told apart, and the refusal says which and how far."""
    population = exact("abc", np.arange(3), {"look": [0, 0, 1]})
    given = certify(population, population.findings(0), "a", [inspection("look")], np.random.default_rng(0))
    assert not given.certified and not given.settled and given.ratio_with_all == pytest.approx(1.0)
    assert "cause a must lead b by 20 to 1" in given.reason


def test_a_diagnostician_that_follows_the_advice_ends_right(trade):
    """A diagnostician that follows the advice ends at the true cause; the bar keeps its promise."""
    _, lives, fresh = trade
    offered = [inspection(name) for name in sorted(set(lives.made_by.values()))]
    rng = np.random.default_rng(4)
    given = [
        certify(lives, fresh.findings(i, rng), fresh.causes[fresh.cause[i]], offered, rng)
        for i in range(0, len(fresh), 15)
    ]
    settled = [(c.named == fresh.causes[fresh.cause[15 * i]]) for i, c in enumerate(given) if c.settled]
    assert len(settled) > 0.4 * len(given)
    assert np.mean(settled) > BAR / (BAR + 1.0) - 0.1


# ---------------------------------------------------------------------- against a suspect
def test_contradiction_fits_the_severity_and_finds_the_reading_that_kills():
    """Cause 0 at a known severity moves one gauge; suspect 1 cannot move it, whatever its severity."""
    severity = np.tile(np.linspace(0.0, 1.0, 21), 2)
    cause = np.repeat([0, 1], 21)
    rng = np.random.default_rng(0)
    population = Population(
        causes=("valve", "pump"),
        cause=cause,
        weight=np.ones(42),
        severity=severity,
        miles=np.full(42, 500.0),
        readings={
            "line_d_psi": 70.0 - 40.0 * severity + rng.normal(size=42),
            "line_r_psi": np.where(cause == 0, 100.0, 100.0 - 60.0 * severity) + rng.normal(size=42),
        },
        sigma={"line_d_psi": 0.7, "line_r_psi": 0.7},
        made_by={"line_d_psi": "line_pressure", "line_r_psi": "line_pressure"},
    )
    found = Findings(readings={"line_d_psi": 46.0, "line_r_psi": 64.0})  # the pump, at severity 0.6
    against = contradiction(population, found, "valve")
    assert against.severity == pytest.approx(0.6, abs=0.1)
    strongest = against.rows[0]
    assert (strongest.key, strongest.kind, strongest.read) == ("line_r_psi", "reading", 64.0)
    assert strongest.predicted == pytest.approx(100.0, abs=2.0) and strongest.gap > KILLS
    assert all(row.gap < KILLS for row in contradiction(population, found, "pump").rows)


@pytest.mark.parametrize(
    "there, suspect",
    [(True, "b"), (False, "a")],
)
def test_contradiction_by_a_thing_that_lies_about(there, suspect):
    """An object only one cause leaves speaks for it when found, against it when missing."""
    population = Population(
        causes=("a", "b"),
        cause=np.repeat([0, 1], 30),
        weight=np.ones(60),
        severity=np.tile(np.linspace(0, 1, 30), 2),
        miles=np.full(60, 100.0),
        readings={},
        sigma={},
        objects={"crumbs": np.repeat([True, False], 30)},
        made_by={"crumbs": "pan"},
    )
    (row,) = contradiction(population, Findings(objects={"crumbs": there}), suspect).rows
    assert (row.key, row.kind, row.read) == ("crumbs", "object", float(there))
    assert (row.predicted < 0.5) == there and row.edge > 0.0


def test_a_look_is_told_with_what_it_is_of():
    """Beside a look-alike a look says of which element or of what it is, as the finding's own sentences do."""
    words = (
        "Forward clutch: not burnt, run in.",
        "Low-reverse band: black, worn, grooves nearly gone; seal supple.",
    )
    looks = [
        Look(key="lining_low_reverse", grade=2, text="worn, grooves nearly gone"),
        Look(key="lining_forward", grade=0, text="run in"),
        Look(key="fibers", grade=2, text="a teaspoonful"),
        Look(key="servo_low_reverse", grade=2, text="servo of the low-reverse band: seal torn"),
    ]
    finding = Finding(
        inspection="teardown",
        title="",
        minutes=1,
        made_at_f=None,
        readings=(),
        words=words,
        looks=tuple(looks),
    )
    assert [of_what(look, finding) for look in looks] == [
        "Low-reverse band: worn, grooves nearly gone",
        "Forward clutch: run in",
        "coarse black band fibers: a teaspoonful",
        "servo of the low-reverse band: seal torn",
    ]


def test_contradiction_needs_a_finding():
    """Nothing speaks against anybody before the first inspection."""
    with pytest.raises(ValueError, match="Make an inspection first"):
        contradiction(exact("ab", [0, 1], {"x": [0, 1]}), Findings(), "a")


# ---------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    "change, message",
    [
        ({"severity": np.zeros(3)}, "severity must be one number a life"),
        ({"made_by": {}}, "key must be a name from the list"),
        ({"readings": {"x": np.zeros(2)}, "looks": {}}, "sigma of x must be greater than 0"),
    ],
)
def test_a_population_that_does_not_agree_with_itself_is_refused(change, message):
    """At the door, with the name of what is wrong."""
    with pytest.raises(ValueError, match=message):
        replace(exact("ab", [0, 1], {"x": [0, 1]}), **change)


@pytest.mark.parametrize("change", [{"temper": 0.0}, {"tails": -1.0}, {"floor": 1.0}])
def test_impossible_sharpness_is_refused(change):
    """A kernel needs a width and a floor below 1."""
    with pytest.raises(ValueError, match=next(iter(change))):
        Sharpness(**change)
