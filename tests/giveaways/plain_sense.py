"""Rules of plain sense for what is said of a vehicle: the words are read as anybody reads them, and held against its life.

Nothing here looks at the conditions in the data files, so that a wrong condition there is found. Which rules there are is common
practice, no source.
"""

from __future__ import annotations

import re

import numpy as np

from course_lib.cases.case import Case
from course_lib.faults.repair import Past
from course_lib.vehicle.uses import load_uses

ROOM = 1.3  # factor by which people may be off when they say how long
EVENT_MILES = 2_000  # past which nobody speaks of an event of these weeks
# Pattern of "since" -> weeks it stands for.
SINCE = {
    "yesterday": (0, 0.3),
    "day or two": (0.1, 0.5),
    "some days": (0.3, 1.3),
    "this week": (0, 1),
    "about a week|a week or so": (0.7, 1.7),
    "week or two": (0.7, 2.6),
    "two weeks": (1.4, 3.1),
    "three or four weeks": (2.5, 5.2),
    "some weeks": (1.8, 8.5),
    "last month": (3.5, 9),
    "two months": (6, 12),
    "three or four months": (10, 19),
    "some months": (7, 44),
    "every month": (12, 70),
    "half a year": (17, 36),
    "better part of a year": (28, 50),
    "about a year": (40, 66),
    "one or two years": (50, 112),
    "more than a year": (50, np.inf),
    "longer than anyone": (90, np.inf),
    "cold spell": (0.3, 8),
    "mornings are cold": (1.5, 14),
}
# Pattern of a sentence -> moment that must have been.
NEEDS = {
    r"unit has been out|bell housing bolts shine|cross member has been down|front seal (has been|was)|"
    r"fitted over a pit|rope put": "out",
    r"\bapart before|was apart|had it apart|has been repaired|bench within|built on|put it together|has been renewed before|"
    r"clutch pack was done|lists linings|lined plates|three different ages|more than once|only what was burnt": "apart",
    r"pan bolts|pan rail|pan gasket|filter was changed|new filter went|pan was resealed|drip at the pan|fluid was changed|"
    r"service bill|last service|old fluid went back|fluid was kept|fluid change names": "pan_off",
    r"valve body (was out|has been taken)|every bolt of the valve body|valve body bolts carry|bolts of the valve body|firm up|"
    r"shift smarter": "body_out",
    r"engine (was|has been) (out|lifted)|new mounts|mounts are new|lifting eyes": "engine_out",
    r"bought it|second-hand|second, has": "bought",
}
# Two patterns that cannot both be said.
CLASH = (
    (
        r"never been apart|ever had the unit out",
        r"has been out|\bapart (before|this)|repaired|bench|bolts shine|cross member has been",
    ),
    (r"one owner|from new|other hands", r"bought it used|second-hand|second, has"),
    (
        r"line for the transmission is blank|none for the transmission|nothing for the transmission",
        r"pan bolts|filter|service bill|resealed|fluid was changed",
    ),
)  # fmt: skip
KINDS = r"\b(van|truck|bus|wagon|sedan|cab|flatbed)\b"  # "pickup" is also what the pump drinks from


def broken_rules(case: Case, past: Past) -> list[str]:
    """What does not go together in work order, history and things of a case, a sentence for each; none: all is plain sense."""
    order = case.work_order
    said = [words for finding in _all(case) for words in finding.words] + [order.history]
    return [
        *_since(order.since, case, past),
        *(each for words in said for each in _moments(words, past)),
        *(each for words in said for each in _events(words, past)),
        *(f"{one} / {other}" for one, other in _clashes(said)),
        *(
            f"another vehicle: {words}"
            for words in said
            for kind in re.findall(KINDS, words)
            if kind not in order.vehicle
        ),
    ]


def _all(case: Case):
    return case._file.findings.values()


def _weeks(miles: float, past: Past) -> float:
    return miles / load_uses().uses[past.use].weekly_miles


def _since(since: str, case: Case, past: Past) -> list[str]:
    """How long, in which way, and with what it began."""
    of = past.background
    weeks = _weeks(of.odometer[0] - of.at["noticed"][0], past)
    spans = [span for pattern, span in SINCE.items() if re.search(pattern, since)]
    wrong = [f"{since}: {weeks:.1f} weeks" for low, high in spans if not low / ROOM <= weeks <= high * ROOM]
    known = bool(spans) or "last job" in since
    cold = any(look.key == "worse_cold" and look.grade for look in case._file.findings["interview"].looks)
    if re.search("one (moment|day|morning)", since) and of.shape[0] != "sudden":
        wrong.append(f"a moment for what crept up: {since}")
    if re.search("crept|slowly|every month", since) and of.shape[0] == "sudden":
        wrong.append(f"crept up, at once: {since}")
    if re.search("cold", since) and not cold:
        wrong.append(f"cold blamed, and it is no worse cold: {since}")
    if re.search("last (job|repair)", since) and not _job_before(past):
        wrong.append(f"no job before it was noticed: {since}")
    return wrong if known else [*wrong, f"no span is known for: {since}"]


def _job_before(past: Past) -> bool:
    """Whether a job on the unit was done in the two weeks of driving before it was noticed."""
    of = past.background
    gaps = [of.at["noticed"][0] - of.at[job][0] for job in ("out", "apart", "pan_off", "body_out")]
    return any(0.0 <= _weeks(gap, past) <= 2.0 for gap in gaps if np.isfinite(gap))


def _moments(words: str, past: Past) -> list[str]:
    """What must have been done, or not, for a sentence to be true."""
    at = past.background.at
    wrong = [f"no {m}: {words}" for p, m in NEEDS.items() if re.search(p, words) and np.isnan(at[m][0])]
    if (
        re.search("never been apart|ever had the unit out", words)
        and np.isfinite([at["apart"][0], at["out"][0]]).any()
    ):
        wrong.append(f"apart or out: {words}")
    if re.search(r"one owner|from new|other hands", words) and np.isfinite(at["bought"][0]):
        wrong.append(f"bought used: {words}")
    if re.search(r"\byears\b", words) and _weeks(past.background.odometer[0], past) < 104:
        wrong.append(f"younger than that: {words}")
    return wrong


def _events(words: str, past: Past) -> list[str]:
    """Events of these weeks, and loads that go with a kind of use."""
    wrong = []
    if (
        re.search("stuck a few|it was stuck|was towed|on the hook", words)
        and past.miles_since_onset > EVENT_MILES
    ):
        wrong.append(f"{past.miles_since_onset:,.0f} miles ago: {words}")
    if re.search("boat", words) and past.use not in ("towing", "mixed"):
        wrong.append(f"in {past.use}: {words}")
    if re.search("stop after stop|hundreds of stops|idles for hours", words) and past.use in (
        "highway",
        "towing",
    ):
        wrong.append(f"in {past.use}: {words}")
    return wrong


def _clashes(said: list[str]):
    """Pairs of sentences that contradict each other."""
    for one, other in CLASH:
        yield from (
            (a, b) for a in said if re.search(one, a) for b in said if a is not b and re.search(other, b)
        )
