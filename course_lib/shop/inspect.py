"""Making an inspection: what must come first, what is refused because it could do harm, and the finding."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from course_lib import units
from course_lib.shop import inside, outside, talk
from course_lib.shop.findings import Finding, InspectionRefused, load_inspection
from course_lib.shop.subject import COLD, HOT, Subject

METHODS: dict[str, Callable[[Subject], outside.Found]] = {
    "interview": talk.interview,
    "walk_round": outside.walk_round,
    "engine_check": outside.engine_check,
    "fluid_cold": outside.fluid_cold,
    "fluid_hot": outside.fluid_hot,
    "signal_check": outside.signal_check,
    "signal_by_hand": outside.signal_by_hand,
    "road_test": outside.road_test,
    "line_pressure": outside.line_pressure,
    "governor_pressure": outside.governor_pressure,
    "stall_test": outside.stall_test,
    "cooler_check": outside.cooler_check,
    "pan": inside.pan,
    "air_test": inside.air_test,
    "valve_body": inside.valve_body,
    "teardown": inside.teardown,
    "measure": inside.measure,
}
SLIDES_RPM = 150  # engine run-away on the road past which a stall test would do harm
ON_OWN_WHEELS = (
    "road_test",
    "line_pressure",
    "governor_pressure",
    "stall_test",
    "signal_by_hand",
    "cooler_check",
    "fluid_hot",
    "fluid_cold",
)
MADE_AT = {
    name: HOT for name in ("fluid_hot", "line_pressure", "signal_by_hand", "stall_test", "governor_pressure")
} | {"fluid_cold": COLD}


def make_inspection(subject: Subject, name: str) -> Finding:
    """The finding of one inspection, whatever was done before. Raises ValueError for an unknown name."""
    step = load_inspection(name)
    readings, words = METHODS[name](subject)
    made_at = MADE_AT.get(name, subject.sump_temperature if name in ("road_test", "cooler_check") else None)
    return Finding(
        inspection=name,
        title=step.title,
        minutes=step.minutes,
        made_at_f=None if made_at is None else round(units.to_fahrenheit(made_at)),
        readings=tuple(readings),
        words=tuple(words),
    )


def check_allowed(name: str, done: Iterable[Finding]) -> None:
    """Raise InspectionRefused when the inspection cannot or must not be made after those already `done`."""
    reason = _objection(name, {finding.inspection: finding for finding in done})
    if reason:
        raise InspectionRefused(f"{load_inspection(name).title} is refused: {reason} No minutes were spent.")


def _objection(name: str, made: dict[str, Finding]) -> str:
    """Why the inspection may not be made now; empty when it may."""
    missing = [need for need in load_inspection(name).needs if need not in made]
    if missing:
        return f"first make \u201c{load_inspection(missing[0]).title}\u201d."
    if "teardown" in made and name in (*ON_OWN_WHEELS, "pan", "air_test"):
        return "the unit is apart, so this can never be taken again. Use what you have."
    if "pan" in made and name in ON_OWN_WHEELS:
        return "the pan is off and the fluid is out. Outside tests come before opening."
    return _stall_objection(made) if name == "stall_test" else ""


def _stall_objection(made: dict[str, Finding]) -> str:
    """A stall test at low line pressure, low fluid or with a clutch that slides burns what is left."""
    pressures = made["line_pressure"].readings
    low = [r for r in pressures if r.key.startswith("line_pressure") and r.verdict == "below spec"]
    if low:
        return (
            f"{low[0].label} is {low[0].found_text}, spec {low[0].spec_text}. At low line pressure a stall burns the "
            "clutches in seconds; find the pressure first."
        )
    level = made["fluid_hot"].readings[0]
    if level.verdict != "within spec":
        return f"fluid level is {level.found_text} from FULL. Set the level first."
    sliding = [
        r for r in made["road_test"].readings if r.key.endswith("slip_rpm") and (r.value or 0) > SLIDES_RPM
    ]
    if sliding:
        return f"it slides on the road ({sliding[0].label}: {sliding[0].found_text}). A stall would burn it."
    return ""
