"""Which inspection may be made now: what must come first, what is past, what is refused because it could do harm."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from course_lib.shop.findings import (
    Finding,
    Inspection,
    InspectionRefused,
    Reading,
    in_place_of,
    load_inspection,
    refused_acts,
    title_of,
)

FAR_OFF = 0.6  # in. from FULL on the level indicator, about a quart
FAR_SHORT = 2.0  # qt missing at the overflow plug: what runs out where the engine was stopped for it
FOAMS = SMOKES = 2  # grade of bubbles and of smoke from which nobody drives a road test
# How a level is read in a unit with a dipstick and in one without: key of the reading -> how far off nobody drives, how it is said.
LEVELS = {
    "level_hot_in": (FAR_OFF, "fluid level is {} from FULL"),
    "short_qt": (FAR_SHORT, "fluid is short by {}"),
}
# Where line pressure is read, or read against its command -> what those keys begin with.
PRESSURES = {"line_pressure": "line_pressure", "line_command": "gap_"}
UNFIT_BEFORE = ("fluid_hot", "set_level")  # driven for a moment, to find out whether it may be driven at all
SLIPS_RPM = 150  # slip on the road past which a stall test would do harm
PRESSURE_UNKNOWN = "pressure_by_default"  # look at the codes: while they stand, nobody knows the pressure
# Looks on the road, and the grade from which a stall test would do harm.
SHAKES = {"bind_": 2, "judder_": 2, "dies_": 1}
GONE = {
    "teardown": "the unit is apart, so this can never be taken again. Use what you have.",
    "pan": "the pan is off and the fluid is out. Outside tests come before opening.",
}


def check_allowed(name: str, done: Iterable[Finding], offered: Collection[str] = ()) -> None:
    """Raise InspectionRefused when the inspection cannot or must not be made after those already `done`.

    offered: inspections that can be made of the vehicle, where that is known.
    """
    act = refused_acts().get(name)
    reason = act.reason if act else _objection(name, {each.inspection: each for each in done}, offered)
    if reason:
        raise InspectionRefused(f"{title_of(name)} is refused: {reason} No minutes were spent.")


def in_order(name: str, made: Iterable[str]) -> bool:
    """Whether an inspection may come after those `made`, whatever they found."""
    step, done = load_inspection(name), set(made)
    return not _gone(step, done) and not _missing(step, done)


def does_harm(name: str, made: Collection[str], offered: Collection[str]) -> bool:
    """Whether what is refused after those `made` is refused for the harm it does, and not because it is not its turn."""
    return name in refused_acts() or (name in offered and in_order(name, made))


def steps_to(inspection: str, table: dict[str, Inspection], made: Collection[str]) -> tuple[str, ...]:
    """Inspections to make, in order, up to and with `inspection`: first those that it needs and that are not yet `made`."""
    steps: list[str] = []
    for need in table[inspection].needs:
        if need not in made and need in table:
            steps += [step for step in steps_to(need, table, made) if step not in steps]
    return (*steps, inspection)


def _missing(step: Inspection, made: Collection[str]) -> list[str]:
    """What must come first and has not been made, nor what takes its place in the other kind of control."""
    return [need for need in step.needs if not {need, load_inspection(need).instead} & set(made)]


def _gone(step: Inspection, made: Collection[str]) -> str:
    """Why the inspection can never be made after those `made`; empty when it can. Who took the unit apart has had the pan off."""
    gone = (reason for stage, reason in GONE.items() if stage in made and step.gone_after in ("pan", stage))
    return next(gone, "")


def _objection(name: str, made: dict[str, Finding], offered: Collection[str] = ()) -> str:
    """Why the inspection may not be made now; empty when it may."""
    step = load_inspection(name)
    if offered and name not in offered:
        place = in_place_of(name, offered)
        instead = (
            f" Its place is taken by \u201c{load_inspection(place).title}\u201d." if place != name else ""
        )
        return f"this unit has nothing to take it from.{instead}"
    missing = _missing(step, made)
    for each in (step, *(load_inspection(in_place_of(need, offered or missing)) for need in missing)):
        if gone := _gone(each, made):
            return gone if each is step else f"it needs \u201c{each.title}\u201d, and {gone}"
    if missing:
        titles = [load_inspection(in_place_of(need, offered or missing)).title for need in missing]
        quoted = [f"\u201c{title}\u201d" for title in titles]
        return f"first: {' and '.join(filter(None, (', '.join(quoted[:-1]), quoted[-1])))}."
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
    looks = {look.key: look for finding in made.values() for look in finding.looks}
    level = _level(made)
    if level is not None and level.value is not None and abs(level.value) >= LEVELS[level.key][0]:
        return f"{_said(level)}, and driving on would burn what is left. {_instead(level)}"
    for key, least in (("bubbles", FOAMS), ("smoke", SMOKES)):
        if key in looks and looks[key].grade >= least:
            return f"{looks[key].text}: nobody drives a vehicle that foams or smokes. {_instead(level)}"
    return ""


def _level(made: dict[str, Finding]) -> Reading | None:
    """The level as it was read, hot or in its window; None where it was not."""
    return next((r for each in made.values() for r in each.readings if r.key in LEVELS), None)


def _said(level: Reading) -> str:
    if level.key == "short_qt" and (level.value or 0.0) < 0.0:
        return f"fluid is over by {level.with_unit(level.show(-(level.value or 0.0)))}"
    return LEVELS[level.key][1].format(level.found_text)


def _instead(level: Reading | None) -> str:
    """What is done in place of a drive: the level set on a dipstick, or filled up at the plug."""
    if level is not None and level.key == "short_qt":
        over = (level.value or 0.0) < 0.0
        return f"{'Let it run out' if over else 'Fill it up'} in its window first."
    return f"\u201c{load_inspection('set_level').title}\u201d tries the owner's roads for a few seconds each in its place."


def _stall_objection(made: dict[str, Finding]) -> str:
    """A stall test at low or unknown line pressure, low fluid or with something that slips, binds or shakes burns what is left."""
    looks = (look for finding in made.values() for look in finding.looks)
    unknown = next((look for look in looks if look.key == PRESSURE_UNKNOWN and look.grade), None)
    if unknown is not None:
        return f"{unknown.text}. Nobody knows what holds the clutches then; repair first."
    gauges = ((made[name], start) for name, start in PRESSURES.items() if name in made)
    pressures = [r for finding, start in gauges for r in finding.readings if r.key.startswith(start)]
    low = [r for r in pressures if r.verdict in ("below spec", "not read")]
    if low:
        return (
            f"{low[0].label} is {low[0].found_text}, spec {low[0].spec_text}. At low line pressure a stall burns the "
            "clutches in seconds; find the pressure first."
        )
    level = _level(made)
    if level is not None and level.verdict != "within spec":
        return f"{_said(level)}. Set the level first."
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
