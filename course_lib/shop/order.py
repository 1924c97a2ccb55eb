"""Which inspection may be made now: what must come first, what is past, what is refused because it could do harm."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from course_lib.shop.findings import Finding, Inspection, InspectionRefused, load_inspection

FAR_OFF = 0.6  # in. from FULL on the level indicator, about a quart
FOAMS = SMOKES = 2  # grade of bubbles and of smoke from which nobody drives a road test
UNFIT_BEFORE = ("fluid_hot", "set_level")  # driven for a moment, to find out whether it may be driven at all
SLIPS_RPM = 150  # slip on the road past which a stall test would do harm
# Looks on the road, and the grade from which a stall test would do harm.
SHAKES = {"bind_": 2, "judder_": 2, "dies_": 1}
GONE = {
    "teardown": "the unit is apart, so this can never be taken again. Use what you have.",
    "pan": "the pan is off and the fluid is out. Outside tests come before opening.",
}


def check_allowed(name: str, done: Iterable[Finding]) -> None:
    """Raise InspectionRefused when the inspection cannot or must not be made after those already `done`."""
    reason = _objection(name, {finding.inspection: finding for finding in done})
    if reason:
        raise InspectionRefused(f"{load_inspection(name).title} is refused: {reason} No minutes were spent.")


def in_order(name: str, made: Iterable[str]) -> bool:
    """Whether an inspection may come after those `made`, whatever they found."""
    step, done = load_inspection(name), set(made)
    return not _gone(step, done) and done.issuperset(step.needs)


def _gone(step: Inspection, made: Collection[str]) -> str:
    """Why the inspection can never be made after those `made`; empty when it can. Who took the unit apart has had the pan off."""
    gone = (reason for stage, reason in GONE.items() if stage in made and step.gone_after in ("pan", stage))
    return next(gone, "")


def _objection(name: str, made: dict[str, Finding]) -> str:
    """Why the inspection may not be made now; empty when it may."""
    step = load_inspection(name)
    missing = [need for need in step.needs if need not in made]
    if missing:
        return f"first make \u201c{load_inspection(missing[0]).title}\u201d."
    if gone := _gone(step, made):
        return gone
    if _driven_on(step) and (unfit := _unfit(made)):
        return unfit
    return _stall_objection(made) if name == "stall_test" else ""


def made_safely(findings: dict[str, Finding]) -> list[Finding]:
    """Of everything that would be found, what a careful mechanic gets: nothing from a vehicle driven that nobody drives."""
    unfit = _unfit(findings)
    return [each for name, each in findings.items() if not (unfit and _driven_on(load_inspection(name)))]


def _driven_on(step: Inspection) -> bool:
    """Whether the vehicle is driven for it as it came in; warming it up for the level is how one finds out."""
    return step.drive_minutes > 0 and step.id not in UNFIT_BEFORE


def _unfit(made: dict[str, Finding]) -> str:
    """Why nobody drives the vehicle as it came in; empty when there is no such reason in what was found."""
    instead = f"\u201c{load_inspection('set_level').title}\u201d tries the owner's roads for a few seconds each in its place."
    looks = {look.key: look for finding in made.values() for look in finding.looks}
    level = next((r for f in made.values() for r in f.readings if r.key == "level_hot_in"), None)
    if level is not None and level.value is not None and abs(level.value) >= FAR_OFF:
        return (
            f"fluid level is {level.found_text} from FULL, and driving on would burn what is left. {instead}"
        )
    for key, least in (("bubbles", FOAMS), ("smoke", SMOKES)):
        if key in looks and looks[key].grade >= least:
            return f"{looks[key].text}: nobody drives a vehicle that foams or smokes. {instead}"
    return ""


def _stall_objection(made: dict[str, Finding]) -> str:
    """A stall test at low line pressure, low fluid or with something that slips, binds or shakes burns what is left."""
    pressures = [r for r in made["line_pressure"].readings if r.key.startswith("line_pressure")]
    low = [r for r in pressures if r.verdict in ("below spec", "not read")]
    if low:
        return (
            f"{low[0].label} is {low[0].found_text}, spec {low[0].spec_text}. At low line pressure a stall burns the "
            "clutches in seconds; find the pressure first."
        )
    level = made["fluid_hot"].readings[0]
    if level.verdict != "within spec":
        return f"fluid level is {level.found_text} from FULL. Set the level first."
    return _road_objection(made["road_test"])


def _road_objection(road_test: Finding) -> str:
    """What slips, binds, shakes or dies on the road and would be broken by a stall; empty when nothing does."""
    slipping = [
        r
        for r in road_test.readings
        if r.key.endswith("slip_rpm") and (r.value is None or r.value > SLIPS_RPM)
    ]
    if slipping:
        return f"it slips on the road ({slipping[0].label}: {slipping[0].found_text}). A stall would burn it."
    shaking = [
        look
        for look in road_test.looks
        for start, worst in SHAKES.items()
        if look.key.startswith(start) and look.grade >= worst
    ]
    if shaking:
        return f"on the road: {shaking[0].text}. Find out why first; a stall would break what ties up, shudders or dies."
    return ""
