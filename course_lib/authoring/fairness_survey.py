"""How fair the cases of a kind of vehicle are: ``python -m course_lib.authoring survey``.

Makes fresh cases of every cause, certifies each, and prints for each cause how many were made and certified, how long an ideal
diagnostician takes, what decides, and which twin is the hardest to exclude.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from course_lib.diagnosis.certificate import certify
from course_lib.diagnosis.key_entries import Certificate
from course_lib.diagnosis.lived_populations import population_of, population_of_pasts
from course_lib.diagnosis.odds import odds
from course_lib.diagnosis.population import Findings, Population
from course_lib.faults.causes import causes_of
from course_lib.faults.repair import Past
from course_lib.faults.scenario import Request, draw_scenario, find_pasts
from course_lib.faults.vehicle_kind import VehicleKind
from course_lib.shop.findings import OPENS, inspections_for, offered_inspections
from course_lib.shop.order import in_order
from course_lib.vehicle.unit_spec import load_unit

AT_ONCE = 96  # vehicles looked for in one batch


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyedCase:
    """One case that was asked for. past None: refused, and why. outside: probability that outside inspections give each cause."""

    request: Request
    cause: str
    past: Past | None
    refused: str
    certificate: Certificate | None = None
    said: dict[str, float] | None = None
    outside: dict[str, float] | None = None


def requests(unit: str, signal: str, seeds: int, causes: list[str] | None = None) -> list[Request]:
    """A request for each cause and seed."""
    names = causes or [cause.id for cause in causes_of(load_unit(unit), signal)]
    return [
        Request(seed=seed, unit=unit, cause=name, signal=signal) for name in names for seed in range(seeds)
    ]


def survey_cases(wanted: list[Request]) -> Iterator[SurveyedCase]:
    """Make and certify every case of `wanted`, kind by kind."""
    seeds = {id(r): [0, r.seed, *f"{r.unit} {r.signal} {r.cause}".encode()] for r in wanted}
    kinds: dict[VehicleKind, list[Request]] = {}
    for request in wanted:
        drawn = draw_scenario(request, np.random.default_rng(seeds[id(request)]))
        kinds.setdefault(drawn.kind, []).append(request)
    for kind, group in kinds.items():
        for at in range(0, len(group), AT_ONCE):
            some = group[at : at + AT_ONCE]
            found = find_pasts(some, [np.random.default_rng(seeds[id(request)]) for request in some])
            yield from _certified(kind, some, found)


def _certified(
    kind: VehicleKind, some: list[Request], found: list[Past | ValueError]
) -> Iterator[SurveyedCase]:
    rng = np.random.default_rng(len(some))
    population = population_of(kind)
    pasts = [past for past in found if isinstance(past, Past)]
    fresh = population_of_pasts(pasts) if pasts else None
    place = 0
    for request, past in zip(some, found, strict=True):
        if isinstance(past, ValueError) or fresh is None:
            yield SurveyedCase(request=request, cause=str(request.cause), past=None, refused=str(past))
            continue
        findings = in_terms_of(population, fresh.findings(place, rng))
        place += 1
        yield survey_one(population, request, past, findings, rng)


def survey_one(
    population: Population, request: Request, past: Past, findings: Findings, rng: np.random.Generator
) -> SurveyedCase:
    """The certificate of one case, and what all inspections and those from outside say of its cause."""
    cause = past.causes[0].id
    offered = list(offered_inspections(inspections_for(past.unit.kind_of_control)).values())
    outside = [each.id for each in offered if each.openness < OPENS]
    return SurveyedCase(
        request=request,
        cause=cause,
        past=past,
        refused="",
        certificate=certify(population, findings, cause, offered, rng, allowed=in_order),
        said=dict(odds(population, findings).table()),
        outside=dict(odds(population, findings.keep(population.keys_of(outside))).table()),
    )


def in_terms_of(population: Population, findings: Findings) -> Findings:
    """Findings with exactly the things of a population: what it does not know is left out, what was not there is absent."""
    known = findings.keep([*population.readings, *population.looks])
    there = {name: findings.objects.get(name, False) for name in population.objects}
    return Findings(readings=known.readings, looks=known.looks, objects=there)


# ---------------------------------------------------------------------- the table
COLUMNS = (
    "cause",
    "made",
    "certified",
    "minutes",
    "opened",
    "decides",
    "hardest look-alike",
    "named",
    "named outside",
)


def survey_table(cases: list[SurveyedCase]) -> list[tuple[str, ...]]:
    """A row for each cause: see COLUMNS. named: share for which the true cause leads, with all inspections and outside."""
    rows: list[tuple[str, ...]] = []
    for cause in dict.fromkeys(case.cause for case in cases):
        mine = [case for case in cases if case.cause == cause]
        certificates = [case.certificate for case in mine if case.certificate]
        fair = [each for each in certificates if each.certified]
        rows.append(
            (
                cause,
                f"{len(certificates)}/{len(mine)}",
                f"{len(fair)}/{len(mine)}",
                f"{np.median([each.minutes for each in fair]):.0f}" if fair else "-",
                f"{np.mean([each.opened for each in fair]):.0%}" if fair else "-",
                _commonest(each.deciding for each in fair),
                _commonest(each.twin for each in (fair or certificates)),
                _share(cause, [case.said for case in mine]),
                _share(cause, [case.outside for case in mine]),
            )
        )
    return rows


def _commonest(names: Iterable[str]) -> str:
    count = Counter(names).most_common(1)
    return count[0][0] if count else "-"


def _share(cause: str, said: list[dict[str, float] | None]) -> str:
    """Share of the cases made in which `cause` leads."""
    leads = [max(each, key=lambda name: each[name]) == cause for each in said if each]
    return f"{np.mean(leads):.0%}" if leads else "-"


def report(wanted: list[Request]) -> list[str]:
    """The table of some requests as lines of text, and under it every case that was refused or not certified, and why."""
    cases = list(survey_cases(wanted))
    rows: list[tuple[str, ...]] = [COLUMNS, *survey_table(cases)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(COLUMNS))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
    for case in cases:
        why = case.refused or (
            case.certificate.reason if case.certificate and not case.certificate.certified else ""
        )
        lines += [f"{case.cause} {case.request.seed}: {why}"] if why else []
    return lines
