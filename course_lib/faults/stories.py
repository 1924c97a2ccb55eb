"""What happened to a vehicle, and what comes of a repair, told with odometers."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import msgspec

from course_lib.base import units
from course_lib.base.guards import one_of
from course_lib.faults.causes import Cause, all_causes
from course_lib.faults.parts import all_parts, in_a_sentence
from course_lib.faults.repair import (
    YEARS_OF_USE,
    Past,
    RepairOutcome,
    TrialRepair,
    drive_forward,
    outcome_of,
    trial_repairs,
    with_outcomes,
)
from course_lib.faults.stored import Story
from course_lib.shop import interview
from course_lib.vehicle.life_events import event_label as event_label
from course_lib.vehicle.life_events import life_events
from course_lib.vehicle.unit_spec import UnitSpec


def life_story(past: Past) -> tuple[str, ...]:
    """What happened since the cause set in, in order, with odometers."""
    onset = past.onset_miles
    since = {event: mile for event, mile in past.events.items() if mile / units.MILE > onset + 0.5}
    lines = [f"{onset:,.0f} mi: {cause.label}{_where(cause, past.unit)}" for cause in past.causes]
    lines += _landmarks(past, since)
    return (*lines, f"{past.odometer / units.MILE:,.0f} mi: the owner comes in")


def _where(cause: Cause, unit: UnitSpec) -> str:
    """Which solenoid a cause is at, where it may be at several."""
    solenoids = unit.control.solenoids if unit.control else ()
    return next((f" (here {each.label})" for each in solenoids if each.id == cause.place), "")


def _landmarks(past: Past, events: dict[str, float]) -> list[str]:
    """Events as lines, in the order they happened."""
    return [
        f"{mile / units.MILE:,.0f} mi: {event_label(event, past.unit)}"
        for event, mile in sorted(events.items(), key=lambda each: each[1])
    ]


def compare_repairs(past: Past, first: tuple[str, ...] = ()) -> dict[str, Story]:
    """The repairs every debrief compares, each driven forward, without what happens on the way. first: see `tale`."""
    ahead = past.ahead or with_outcomes([past])[0].ahead
    return {
        name: outcome_story(past, plan, ahead[name], YEARS_OF_USE, first)
        for name, plan in trial_repairs(past).items()
    }


def story_of_repair(
    past: Past, parts: Sequence[str] = (), causes: Collection[str] = (), *, miles: float = YEARS_OF_USE
) -> Story:
    """Drive a repair forward over `miles` of the owner's use and tell it, landmarks and all.

    parts: ids of the parts renewed; causes: ids of the causes whose correction was carried out, right or wrong (setting, cleaning,
    flushing, advice: what the catalogue calls the cure). Raises ValueError for an unknown id.
    """
    for part in parts:
        one_of("part", part, all_parts())
    for cause in causes:
        one_of("cause", cause, all_causes())
    plan = TrialRepair(parts=tuple(parts), corrected=frozenset(causes) & {cause.id for cause in past.causes})
    lives = drive_forward([(past, plan, miles)], life_events)
    story = outcome_story(past, plan, outcome_of(lives, 0), miles, plan.parts)
    fresh = {name: mile for name, mile in lives.events[0].items() if mile > past.odometer + 2.0 * units.MILE}
    text = (story.text[0], *_landmarks(past, fresh), *story.text[1:])
    return msgspec.structs.replace(story, text=text)


def outcome_story(
    past: Past, plan: TrialRepair, ahead: RepairOutcome, miles: float, first: tuple[str, ...] = ()
) -> Story:
    """One repair driven forward. It never names the cause; of many parts renewed it names those of `first`, else the worst."""
    here, there = past.odometer / units.MILE, ahead.odometer / units.MILE
    named = [part for part in plan.parts if part in first] or list(plan.parts[:1])
    renewed = ", ".join(in_a_sentence(all_parts()[part].label) for part in named)
    renewed += " and what was worn with it" if len(named) < len(plan.parts) else ""
    done = f"{here:,.0f} mi: {'renewed: ' + renewed if renewed else 'no part renewed'}; fluid new"
    done += _left_undone(past, plan)
    if not ahead.complained:
        lamp = ", but a warning lamp is on" if ahead.felt.get("lamp", 0.0) > 0.0 else ""
        end = f"{there:,.0f} mi: {_miles(miles)} on, it still drives as it should{lamp}."
        return Story(miles=None, odometer_miles=round(there), text=(done, end))
    worst = max(ahead.felt, key=lambda name: ahead.felt[name])
    gone = max(there - here, 1.0)
    words = interview.in_owner_words(worst, ahead.felt[worst])
    back = f"{there:,.0f} mi: it is back after {_miles(gone)}. \u201cAgain {words}.\u201d"
    if plan.corrected == {cause.id for cause in past.causes} and set(plan.parts) >= set(past.damaged):
        back += " So would one be by then that never had the fault: that is age."
    return Story(miles=gone, odometer_miles=round(there), text=(done, back))


def _left_undone(past: Past, plan: TrialRepair) -> str:
    """What was done about the causes, naming none."""
    if not plan.corrected:
        return "; the cause left as it was."
    if len(plan.corrected) < len(past.causes):
        return "; one of two causes corrected."
    return " and to the mark; the cause corrected."


def _miles(distance: float) -> str:
    return "1 mile" if round(distance) == 1 else f"{distance:,.0f} miles"
