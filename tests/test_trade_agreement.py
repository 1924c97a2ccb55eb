"""The simulator against the trade: what mechanics expect to find for each cause, and which symptoms go together.

The expectations stand in tests/trade/expected/, the patterns in tests/trade/patterns.toml: common practice, no source. A cell
that does not agree must be argued in tests/trade/exceptions.toml, and an exception that agrees after all must go. Where the model
is at fault the cell stands in tests/trade/open.toml with what the model lacks, and no new disagreement may join.
`python -m tests.trade.report` prints what disagrees and how far.
"""

import re
from fnmatch import fnmatchcase
from functools import cache

import numpy as np
import pytest
from trade import held, lives, table
from trade.report import pattern_outcomes

from course_lib.faults.causes import all_causes, load_cause
from course_lib.shop.population_findings import inspect_population
from course_lib.shop.subject import Subject
from course_lib.vehicle.operating_point import new_condition
from course_lib.vehicle.plant import Plant
from course_lib.vehicle.unit_spec import load_unit, nominal_parameters

FEWEST_CELLS = 500
LEAST_AGREED = 0.96  # with what is argued still more; the rest is listed as open
MOST_DONE = 0.25  # share of the open cells that may agree by now, before the list must be made anew
CAUSES = sorted({cell.cause for cell in table.cells()})
ELECTRONIC = sorted({twin.cause for twin in table.twins()})
AS_ON_SOUND = (
    "actuator.tcc_off_judder",
    "fluid_tests.shade",
)  # felt, not measured: normal is what sound vehicles give
BRINK = 0.1  # so near to half of the lives a cell is on the brink: another machine's last digits may turn it
BY_CHANCE = 0.75  # share of its cells that another cause may meet


@pytest.fixture(scope="module")
def outcomes():
    """Every cell on every vehicle, cause -> outcomes."""
    found = held.outcomes()
    return {cause: [o for o in found if o.cell.cause == cause] for cause in CAUSES}


def exempts(exempt, outcome) -> bool:
    """Whether an exception speaks of that outcome."""
    same = (exempt.cause, exempt.see) == (outcome.cell.cause, outcome.cell.see)
    return same and (not exempt.where or outcome.vehicle in exempt.where)


def argued(outcome) -> bool:
    """Whether the cell, or the row of a pattern, stands among the exceptions for that vehicle."""
    return any(exempts(exempt, outcome) for exempt in table.exceptions_file().exceptions)


def on_the_brink(outcome) -> bool:
    """Whether about as many lives agree as do not."""
    return abs(outcome.share - 0.5) <= BRINK


@cache
def seen_in_patterns() -> list:
    """Every row of every pattern held against its suspects."""
    return [outcome for pattern in table.patterns() for outcome in pattern_outcomes(pattern)]


def test_every_cause_of_the_catalogue_has_its_expectations():
    """No cause is skipped, none is invented, and the table is as large as the trade's."""
    assert set(CAUSES) == set(all_causes())
    assert len(table.cells()) >= FEWEST_CELLS
    assert len(set(table.cells())) == len(table.cells())
    for cause in CAUSES:
        fields = {cell.field for cell in table.cells() if cell.cause == cause}
        assert fields >= {"ROAD", "PRESS", "EXT"} or len(fields) >= 5 or cause in ELECTRONIC, cause


@pytest.mark.parametrize("cause", ELECTRONIC)
def test_every_electronic_cause_has_cells_and_a_twin(cause):
    """Two fields and three cells at least, and one twin that is split by a key of which both expect something, and not the same."""
    mine = [cell for cell in table.cells() if cell.cause == cause]
    assert len(mine) >= 3 and len({cell.field for cell in mine}) >= 2
    (twin,) = [twin for twin in table.twins() if twin.cause == cause]
    assert twin.other in ELECTRONIC and twin.other != cause
    here, there = (
        {c.expect for c in table.cells() if (c.cause, c.see) == (name, twin.see)}
        for name in (cause, twin.other)
    )
    assert here and there and not here & there


def test_every_key_of_an_electronic_cell_has_limits_or_is_a_word():
    """Nothing is called normal or high of which the table does not say what is normal; codes are those of the unit."""
    codes = {code.id for code in load_unit("E6").control.codes} | {table.NO_CODE}
    for cell in table.cells():
        if cell.cause in ELECTRONIC:
            if table.names_codes(cell.see):
                assert set(cell.expect.split("|")) <= codes, str(cell)
            elif not table.names_a_thing(cell.see) and {"normal", "high", "low"} & set(
                cell.expect.split("|")
            ):
                known = any(fnmatchcase(cell.see, key) for key in (*table.limits(), *AS_ON_SOUND))
                assert known, str(cell)
    assert all(least <= most and sigma >= 0 for least, most, sigma in table.limits().values())


def test_the_sheet_of_the_electronic_unit_says_what_the_trade_calls_normal():
    """Limit by limit, for every reading that is taken; of what is looked at and of codes no sheet speaks."""
    unit = load_unit("E6")
    sheet = Subject(
        Plant(unit, nominal_parameters(unit, signal="electronic")),
        new_condition(1, unit),
        "electronic",
        "mixed",
    )
    read = {
        f"{name}.{r.key}": r.key for name, found in inspect_population(sheet).items() for r in found.measured
    }
    seen = {f"{name}.{look.key}" for name, found in inspect_population(sheet).items() for look in found.seen}
    assert set(table.limits()) <= set(read) | seen
    for key in set(read) & set(table.limits()):
        if not key.startswith("codes."):
            assert unit.spec[read[key]] == table.limits()[key][:2], key


@pytest.mark.parametrize("cause", CAUSES)
def test_what_is_found_is_what_the_trade_expects(cause, outcomes):
    """Every cell of the cause agrees on every vehicle in which it can occur, is on the brink, is argued, or stands open."""
    assert outcomes[cause], "no vehicle can have it"
    off = [o for o in outcomes[cause] if not o.agreed and not on_the_brink(o)]
    known = table.open_file().open
    new = [str(o) for o in off if not argued(o) and o.row not in known]
    assert not new, "\n".join(new)


def test_the_open_list_is_true(outcomes):
    """What stands open is a cell of the table, and does not agree, but for a few on the brink; nobody argues it as well."""
    every = {o.row: o for found in outcomes.values() for o in found}
    rows = table.open_file().open
    assert set(rows) <= set(every)
    assert np.mean([every[row].agreed for row in rows] or [0.0]) <= MOST_DONE
    assert not [row for row in rows if argued(every[row])]


def test_nothing_stands_open_without_a_reason():
    """For each cause with an open cell, and for no other, it is said what the model lacks."""
    listed = table.open_file()
    assert set(listed.missing) == {cause for cause, *_ in listed.open}
    assert all(len(what.split()) > 10 and what.endswith(".") for what in listed.missing.values())


def test_enough_of_the_cells_agree(outcomes):
    """A cell counts only when it agrees on every vehicle."""
    cells = [
        [o.agreed for o in found if o.cell == cell]
        for found in outcomes.values()
        for cell in {o.cell for o in found}
    ]
    assert np.mean([all(each) for each in cells]) >= LEAST_AGREED


@pytest.mark.parametrize("exempt", table.exceptions_file().exceptions, ids=lambda e: f"{e.cause} {e.see}")
def test_an_exception_that_agrees_after_all_is_struck_off(exempt, outcomes):
    """It disagrees on each vehicle it names, in a cell or a pattern, or is on the brink there, and is argued in two sentences."""
    named = [o for o in (*outcomes[exempt.cause], *seen_in_patterns()) if exempts(exempt, o)]
    assert any(not o.agreed for o in named), "agrees: strike it off"
    off = {o.vehicle for o in named if not o.agreed or on_the_brink(o)}
    assert off == (set(exempt.where) or {o.vehicle for o in named}), "agrees on some: strike those off"
    assert len(re.findall(r"[.!?](\s|$)", exempt.why)) == 2, "not argued in two sentences"


def test_the_cells_of_one_cause_do_not_fit_another(outcomes):
    """Held against the lives of the cause next to it in the list, a cause's cells mostly fail: they say something."""
    fits = []
    here = lives.batch("T3", "vacuum", lives.USUAL_USE)
    names = sorted(set(here.cause.tolist()))
    for cause, other in zip(names, names[1:] + names[:1], strict=True):
        telling = [
            c
            for c in table.cells()
            if c.cause == cause and "normal" not in c.expect and not table.names_a_thing(c.see)
        ]
        swapped = [
            held.shows(table.Row(c.see, c.expect, c.say), other, here)
            for c in telling
            if c.fits("T3", "vacuum")
        ]
        fits += [o.agreed for o in swapped]
    assert len(fits) > 100 and np.mean(fits) < BY_CHANCE


@pytest.mark.parametrize("twin", table.twins(), ids=lambda twin: twin.cause)
def test_twins_are_split_by_one_inspection(twin):
    """On the median life of each the named reading differs by more than the instrument is off, and the look by a step."""
    pair = held.split(twin)
    assert pair.apart, str(pair)


@pytest.mark.parametrize("pattern", table.patterns(), ids=lambda pattern: pattern.name)
def test_every_suspect_shows_the_pattern_and_the_split(pattern):
    """Each suspect shows what the pattern says, and gives at the splitting reading what tells it apart; or it is argued."""
    found = pattern_outcomes(pattern)
    assert {o.cell.cause for o in found} == set(pattern.suspects)
    new = [f"{o.cell.cause}: {o}" for o in found if not (o.agreed or on_the_brink(o) or argued(o))]
    assert not new, "\n".join(new)


def test_a_cause_is_lived_wherever_it_can_occur():
    """Every vehicle that can have the cause has lives of it in its batch, so that no vehicle is skipped in silence."""
    for cause in CAUSES:
        for unit, signal in lives.VEHICLES:
            kind = (unit, signal, lives.use_of(cause))
            there = lives.batch(*kind) if kind in lives.kinds() else None
            possible = load_cause(cause).fits(load_unit(unit)) and signal in load_cause(cause).signals
            lived = there is not None and (cause in there.cause or cause in there.silent)
            assert possible == lived, (cause, unit, signal)


# ---------------------------------------------------------------------- the table's own arithmetic
SPEC = table.Sight(np.array([60.0, 70.0, 80.0]), np.array([66.0]), (62.0, 72.0), 1.0)
LOOK = table.Sight(np.array([0.0, 1.0, 3.0]), np.array([0.0, 0.0, 1.0, 1.0]))


@pytest.mark.parametrize(
    "expect, sight, met",
    [
        ("normal", SPEC, [False, True, False]),
        ("low", SPEC, [True, False, False]),
        ("high", SPEC, [False, False, True]),
        ("normal|high", SPEC, [False, True, True]),
        ("75..85", SPEC, [False, False, True]),
        (">= 70", SPEC, [False, True, True]),
        ("<= -1", SPEC, [False, False, False]),
        ("normal", LOOK, [True, True, False]),
        ("high", LOOK, [False, False, True]),
        (">= 1", LOOK, [False, True, True]),
    ],
)
def test_an_expectation_is_met(expect, sight, met):
    """By values within it, give or take the instrument; a look is normal when sound vehicles give it too."""
    assert table.meets(expect, sight.values, sight).tolist() == met


def test_what_cannot_be_read_meets_only_that():
    """A reading that cannot be taken is neither normal nor off."""
    gone = SPEC._replace(values=np.array([np.nan]))
    assert table.meets("unread", gone.values, gone).all()
    assert not table.meets("normal|low|high", gone.values, gone).any()
    assert np.isnan(table.median_life(np.array([np.nan, np.nan, 5.0])))


def test_an_unknown_expectation_is_refused():
    """With the words that are possible."""
    with pytest.raises(ValueError, match="must be normal, low, high"):
        table.meets("about 5", SPEC.values, SPEC)
