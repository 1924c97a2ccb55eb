"""What lies about and what is told: shared between causes, never a giveaway, true to the life of the vehicle.

That mechanics find such things and hear such stories is common practice, no source; the shares are chosen and their effect is
measured here and, on more cases, by ``python -m tests.giveaways.report``.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from giveaways import report as giveaways
from giveaways.plain_sense import broken_rules

from course_lib.base import units
from course_lib.cases.make import as_case
from course_lib.diagnosis.lived_populations import findings_of, population_of
from course_lib.diagnosis.metric import metric_of
from course_lib.faults.background import JOBS, MOMENTS, When, draw_background, lived_background
from course_lib.faults.causes import all_causes, job_bounds
from course_lib.faults.clues import all_clues, all_facts, all_objects, draw_clues
from course_lib.faults.people import load_people
from course_lib.faults.repair import restore, store
from course_lib.faults.stored import StoredVehicle
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import all_inspections
from course_lib.shop.pan_off import DEBRIS
from course_lib.vehicle.unit_spec import load_unit
from course_lib.vehicle.uses import load_uses

CASES = 100
MOST_TELLS = 12
OPENED = 4  # openness from which an inspection opens the unit


@pytest.fixture(scope="module")
def found():
    """Fresh vehicles, by kind."""
    return giveaways.pasts(CASES)


@pytest.fixture(scope="module")
def pasts(found):
    """The same, one after the other."""
    return [past for mine in found.values() for past in mine]


def background(cause, rng, count=400, use="mixed"):
    """Backgrounds of many vehicles with one cause, noticed half way from onset to complaint."""
    onset = rng.uniform(30e3, 75e3, count)
    miles = np.exp(rng.uniform(*np.log((60.0, 6000.0)), count))
    lived = lived_background(use, "vacuum", onset, onset + miles, onset + 0.5 * miles, onset + 0.9 * miles)
    return draw_background(lived, [job_bounds([cause])] * count, rng)


# ---------------------------------------------------------------------- the data
def test_things_are_shared():
    """A thing is left by several causes or by none; what one cause alone leaves is a tell-tale, and there are few."""
    for thing in all_objects().values():
        causes = [cause.id for cause in all_causes().values() if thing.share(cause)]
        assert len(causes) != 1 or thing.tells, thing.id
        assert thing.innocent > 0.0 and len(set(thing.words)) >= 3, thing.id
        assert not thing.tells or all_inspections()[thing.inspection].openness >= OPENED, thing.id
        assert all(thing.share(all_causes()[name]) > thing.innocent for name in causes), thing.id
    assert 0 < len(giveaways.sole_sentences()) <= MOST_TELLS


def test_nothing_lies_in_the_pan_that_its_caption_denies():
    """What the pan says of powder, fibers and metals is measured: no thing beside it speaks of the same."""
    measured = {kind.split()[-1] for kind in DEBRIS.values()} | {"aluminum", "silver", "shimmer"}
    assert {"powder", "fibers", "sparkle", "glitter", "slivers"} <= measured
    there = [text for thing in all_objects().values() if thing.inspection == "pan" for text in thing.words]
    assert len(there) > 12 and not [
        text for text in there if measured & set(re.findall(r"[a-z]+", text.lower()))
    ]


def test_lines_of_history_are_shared():
    """Each is told of three causes at least or of none in particular, in several wordings, seldom, and not much oftener."""
    for fact in all_facts().values():
        assert len(fact.of) != 1 and len(fact.of) != 2, fact.id
        assert len(set(fact.words)) >= 2, fact.id
        # that codes were cleared befalls vehicles of any cause, and matters to whoever reads codes: it is told more often than not
        seldom = 0.6 if "cleared" in fact.when.ago and not fact.of else 0.15
        assert max(fact.innocent, fact.often) <= seldom and fact.often <= 4.0 * fact.innocent, fact.id


def test_no_line_is_told_much_oftener_of_one_cause():
    """What must be so counts as well: over the lives of a kind, the cause a line is told of most has it at most four times
    as often as the middle one."""
    population = population_of(VehicleKind(load_unit("T3"), "vacuum", "mixed"))
    metric = metric_of(population)
    for name in set(all_facts()) & set(metric.objects):  # the others go with another kind of control
        share = metric.share[:, metric.objects.index(name)]
        if np.median(share) > 0.01:  # some go with a kind of use or of cause that is rare here
            assert share.max() <= 4.0 * np.median(share), name
        assert share.max() <= 0.16, name


def test_a_population_is_made_up_as_vehicles_come_in():
    """All lives of a cause together weigh what the cause weighs, however many there are of it; and what an owner says is no
    surer than one grade up or down, where a workshop's look is."""
    population = population_of(VehicleKind(load_unit("T3"), "vacuum", "mixed"))
    weight = np.bincount(population.cause, population.weight, minlength=len(population.causes))
    lived = np.unique(population.cause)
    assert len(lived) > 60
    for place in lived:
        assert weight[place] == pytest.approx(all_causes()[population.causes[place]].weight)
    metric = metric_of(population)
    spread = dict(zip(metric.names, np.sqrt(np.diag(metric.covariance)), strict=True))
    said = [spread[key] for key in population.looks if population.made_by[key] in ("interview", "complaint")]
    seen = [spread[key] for key in population.looks if population.made_by[key] == "teardown"]
    assert min(said) >= 1.0 > np.median(seen)


def test_sentences_are_told_apart():
    """No wording stands for two things, so that what is found can be counted."""
    words = [text for clue in all_clues().values() for text in clue.words]
    assert len(words) == len(set(words))


def test_every_span_of_time_has_words():
    """Whenever it was noticed, sudden or creeping, there is something to say."""
    rows = load_people().since
    for use in load_uses().uses:
        for weeks in np.geomspace(0.01, 3000.0, 200):
            for part in (0.0, 0.9):
                now, noticed = np.array([1e6]), np.array([1e6 - weeks * load_uses().uses[use].weekly_miles])
                lived = lived_background(
                    use, "cable", noticed, now, noticed, noticed + part * (now - noticed)
                )
                assert any(row.fits(lived) for row in rows), (use, weeks, part)


# ---------------------------------------------------------------------- backgrounds
def test_a_cause_dates_from_its_job():
    """A fresh unit was apart when the cause set in, with all that goes with it; a job that a cause rules out was never done."""
    rng = np.random.default_rng(1)
    for cause in all_causes().values():
        of = background(cause, rng, 50)
        for job in cause.dates_from:
            assert np.allclose(of.at[job], of.at["onset"]), (cause.id, job)
        for job in cause.rules_out:
            assert np.isnan(of.at[job]).all(), (cause.id, job)
        for job in JOBS:
            assert not np.any(of.at[job] > of.at["onset"] + 1e-6) and not np.any(of.at[job] < 0.0)
    fresh = background(all_causes()["clutch_clearance_loose"], rng, 50)
    assert np.allclose(fresh.at["out"], fresh.at["onset"]) and np.allclose(
        fresh.at["pan_off"], fresh.at["onset"]
    )


def test_weeks_are_miles_by_the_owners_driving():
    """500 miles before the visit are a week on the long road and over eight in a yard."""
    for use, weeks in (("highway", 1.0), ("yard", 500 / 60)):
        lived = lived_background(
            use, "cable", *(np.array([x]) for x in (39_500.0, 40_000.0, 39_500.0, 39_900.0))
        )
        assert lived.weeks("onset") == pytest.approx(weeks)


def test_what_must_be_so_is_asked_of_the_past():
    """A sentence of a job is said only while that job is as lately done as it says; one of no job, only when there was none."""
    of = background(all_causes()["brakes_dragging"], np.random.default_rng(2))
    lately = When(ago={"out": (0.0, 70.0)}).met(of)
    assert 0.1 < lately.mean() < 0.9 and np.all(of.weeks("out")[lately] < 70.0)
    assert np.array_equal(When(never=("out",)).met(of), np.isnan(of.at["out"]))
    with pytest.raises(ValueError, match="Did you mean 'pan_off'"):
        When(never=("pan_of",))


def test_found_as_often_as_the_shares_say():
    """What is drawn for a vehicle is what the odds reckon with: share times what is not missed, where it may be said."""
    cause, rng = all_causes()["vacuum_hose_leak"], np.random.default_rng(3)
    thing = all_objects()["hose_on_exhaust"]
    lived = background(cause, rng, 1)
    drawn = [thing in draw_clues([cause], lived, rng) for _ in range(400)]
    expected = thing.share(cause) * (1.0 - thing.missed)
    assert np.mean(drawn) == pytest.approx(expected, abs=4.0 * np.sqrt(expected * (1.0 - expected) / 400))
    population = population_of(VehicleKind(load_unit("T3"), "vacuum", "mixed"))
    metric, row = metric_of(population), population.causes.index(cause.id)
    assert metric.share[row, metric.objects.index(thing.id)] == pytest.approx(expected, abs=0.01)


# ---------------------------------------------------------------------- cases
def made(name, number, past):
    """The vehicle as a case; None where the bay does not meet its complaint again, so that it is none."""
    try:
        return as_case(name, number, past, np.random.default_rng(number))
    except ValueError as refused:
        assert "must be met again in the bay" in str(refused)
        return None


def test_words_follow_the_life(pasts):
    """Nothing said of a vehicle contradicts its life: since, history, marks, event and use."""
    for number, past in enumerate(pasts):
        if (case := made(f"sense-{number}", number, past)) is None:
            continue
        assert not broken_rules(case, past), (past.causes[0].id, case.work_order)


def test_the_rules_can_be_broken(pasts):
    """The same vehicles with their jobs, or the moment they were noticed, taken away break them."""
    broken = 0
    for number, past in enumerate(pasts[:40]):
        if (case := made(f"sense-{number}", number, past)) is None:
            continue
        of = past.background
        none = {name: np.array([np.nan]) if name in (*JOBS, "bought") else at for name, at in of.at.items()}
        long_ago = none | {"noticed": 0.2 * of.odometer}
        broken += bool(broken_rules(case, replace(past, background=replace(of, at=none))))
        assert broken_rules(case, replace(past, background=replace(of, at=long_ago)))
    assert broken >= 10


def test_noticed_between_onset_and_complaint(pasts):
    """The trouble is noticed after its cause has set in and before the owner comes in; what is sudden is loud at once."""
    for past in pasts:
        of = past.background
        assert of.at["onset"][0] - 1e-6 <= of.at["noticed"][0] <= past.odometer / units.MILE + 1e-6
        assert of.shape[0] in ("sudden", "creeping")
    assert 0.1 < np.mean([past.background.shape[0] == "sudden" for past in pasts]) < 0.9


def test_a_background_is_kept_with_the_vehicle(pasts):
    """Stored and read back, the moments are the same; a vehicle stored before there were any has none."""
    past = pasts[0]
    stored = store(past)
    again = restore(stored).background
    for name in MOMENTS:
        assert np.array_equal(again.at[name], past.background.at[name], equal_nan=True)
    old = {
        name: getattr(stored, name) for name in stored.__struct_fields__ if name not in ("moments", "shape")
    }
    assert np.isnan(restore(StoredVehicle(**old)).background.at["out"][0])


def test_what_was_found_is_read_back(pasts):
    """Every thing and line in the findings of a case is counted, under whichever wording, and nothing else is."""
    for number, past in enumerate(pasts[:20]):
        if (case := made(f"read-{number}", number, past)) is None:
            continue
        every = list(case._file.findings.values())
        read = findings_of(population_of(past.kind), every).objects
        lines = {line for finding in every for line in finding.words}
        there = {name for name, clue in all_clues().items() if lines & set(clue.words)}
        assert {name for name, seen in read.items() if seen} == there
    assert re.search(r"\w", case.work_order.since)


# ---------------------------------------------------------------------- what it gives away
def test_nothing_is_given_away(found):
    """An ideal reasoner, with history and things in the odds, beside one without: hardly better before the vehicle is examined, as
    good as before once it is."""
    named = giveaways.measured(found)
    room = 2.0 * np.sqrt(0.25 / CASES)  # two standard errors of a share
    assert named["interview, history"].leads <= named["interview"].leads + 0.08 + 0.5 * room
    assert (
        named["interview, walk round, things, history"].leads
        <= named["interview, walk round"].leads + 0.10 + 0.5 * room
    )
    assert (
        named["interview, walk round, things, history"].surely
        <= named["interview, walk round"].surely + 0.10 + 0.5 * room
    )
    assert named[giveaways.ALONE].leads <= 0.40 + room
    assert named["all outside"].leads >= 0.97 - 0.5 * room
    assert named["all outside, things, history"].leads >= 0.97 - 0.5 * room
    assert named["everything, things, history"].leads >= 0.99 - 0.5 * room
