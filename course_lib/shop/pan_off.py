"""Inspections with the pan off: what lies in it, the circuits under air, the valve body on the bench."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics.hydraulics import lip_states
from course_lib.shop.apply_chart import DRIVE, coming_on
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, Row, batch_looks
from course_lib.shop.gauges import has_lock_up
from course_lib.shop.graded_scales import sentence
from course_lib.shop.holders import HoldingElement, pressed
from course_lib.shop.subject import HOT, Subject
from course_lib.shop.walk_round import (
    PINS_SHED,
    SHEDS,
    fluid_looks,
    fluid_sentence,
    has_dipstick,
    lining_lost,
    shed,
)
from course_lib.vehicle.elements import TIGHT

GRAM = 1e-3
PUMP_METAL, BUSHING_METAL, ROLLER_METAL = 0.25, 0.6, 2.5  # magnet and glitter grades per unit of wear, fitted
EVERY_MAGNET = 0.12  # magnet grade of a sound unit that has run
LOCKUP_SHEDS = 2.0  # powder grades of a lock-up lining that is all gone, fitted
AIR_TEST_PSI = 30.0
AIR_FEED = 16.0  # leak, in units of a sound circuit's, at which half the air pressure is lost
SOUND_HOLE = 0.05e-6  # m2, hole that loses as much air as a sound circuit
PUMP_VACUUM, BORE_LEAKS = (
    22.0,
    2.8,
)  # inHg a sound bore holds; at a share of 0.08 lost it holds 18, the usual limit from memory
BORE_SHARE = 6.0  # leaks of a sound circuit past a bore that holds a quarter of the vacuum, fitted
BODY_SPREAD = 1.3  # leak of a body against the sheet's that is still sound
FLAT_RAIL, PAWL_REACH = 0.003, 0.33  # in., of a sound pan rail and a sound park pawl
FLAT_BODY = 0.0005  # in., of a sound face
JAMMED = 120e3  # Pa that a governor gives at rest, jammed open, fitted
PRINT_GAP = 0.012  # in. that the body stands open per share of the line that crosses, fitted
DEBRIS = {
    "powder": "black lining powder",
    "fibers": "coarse black band fibers",
    "aluminum": "aluminum sparkle",
    "bronze": "bronze glitter",
    "steel": "steel slivers",
}


# ---------------------------------------------------------------------- pan
def debris(subject: Subject) -> dict[str, Array]:
    """How much of each kind lies in the pan, (n,) each: lining powder and fibers by what was shed lately, metals by wear."""
    p, condition = subject.plant.p, subject.condition
    fresh = lining_lost(subject) * np.clip(condition.char[:, 0] * 6.0 + 0.10, 0.0, 1.0)
    powder, old = p.element_sheds[:, 0], subject.parameter("wear_debris")
    gears = shed(subject, "planetary", PINS_SHED)
    return {
        "powder": (fresh * powder).sum(-1) / GRAM / 100.0 + LOCKUP_SHEDS * subject.state("lockup"),
        **({"fibers": (fresh * (1.0 - powder)).sum(-1) / GRAM / 60.0} if _has_bands(subject) else {}),
        "aluminum": PUMP_METAL * shed(subject, "pump", SHEDS) + 0.1 * old,
        "bronze": 0.15 * (shed(subject, "bushing", SHEDS) + gears) + 0.1 * old,
        "steel": 0.15
        * (np.maximum(condition.holding.max((1, 2)) - 0.15, 0.0) + gears + stripped(subject).max(-1))
        + 0.5 * (1.0 - subject.parameter("pump_drive")),
    }


def _has_bands(subject: Subject) -> bool:
    """Whether anything in the unit can shed fibers."""
    return any(each.is_band for each in pressed(subject.unit))


def stripped(subject: Subject) -> Array:
    """Share of the splines behind each pressed element that is gone, (n, E), against the sheet's."""
    columns = [each.column for each in pressed(subject.unit)]
    left = (
        subject.plant.p.element_splines[:, 0, columns] / subject.sheet.plant.p.element_splines[:, 0, columns]
    )
    return 1.0 - left


def pan(subject: Subject) -> BatchFinding:
    """Quantity drained, debris by kind and amount, magnet, filter, fluid."""
    charge = subject.sheet.parameter("sump_charge")
    short = subject.parameter("sump_charge") - subject.state("lost") - charge
    rail = FLAT_RAIL + units.to_inch(subject.parameter("sump_rail_bend"))
    reach = PAWL_REACH * (1.0 - subject.parameter("lever_park_short"))
    amounts = tuple(BatchLook(key=key, scale="amount", value=value) for key, value in debris(subject).items())
    return BatchFinding(
        measured=(
            subject.read(
                "drained_qt",
                "Drained against the sheet",
                units.to_quart(short),
                Instrument("qt", 0.08, 1, signed=True),
            ),
            subject.read(
                "pan_rail_gap_in",
                "Widest gap under a straightedge, pan rail",
                rail,
                Instrument("in.", 0.002, 3),
            ),
            subject.read("park_reach_in", "Park pawl sinks in by", reach, Instrument("in.", 0.01, 2)),
        ),
        seen=(
            *amounts,
            BatchLook(key="magnet", scale="magnet", value=_on_the_magnet(subject), text="magnet: {}"),
            *fluid_looks(subject),
            *_odd_debris(subject),
        ),
        caption=lambda row: [_lies(row), sentence(row["magnet"]), fluid_sentence(row)],
    )


def _on_the_magnet(subject: Subject) -> Array:
    """Fine metal on the magnet, (n,): some on every one, and what pump, bushings, rollers and drive lugs shed."""
    broken = np.maximum(subject.condition.holding.max((1, 2)), 1.0 - subject.parameter("pump_drive"))
    pump, bushing = PUMP_METAL * 2.0 * subject.state("pump"), BUSHING_METAL * 0.3 * subject.state("bushing")
    grades: Array = EVERY_MAGNET + pump + bushing + ROLLER_METAL * broken
    return grades


def _odd_debris(subject: Subject) -> tuple[BatchLook, ...]:
    """What lies in a pan only when something is wrong."""
    water, dry = subject.parameter("fluid_water"), 1.0 - subject.parameter("fluid_glycol")
    plugged = subject.flat(subject.plant.oil.strainer_plug(subject.condition))
    columns = [each.column for each in pressed(subject.unit)]
    hardest = subject.plant.seal_hardness(subject.condition)[:, 0, columns].max(-1)
    gap, stick = subject.parameter("pump_suction_gap") * 1e6, subject.parameter("sump_gauge_offset")
    gauge = [("stick_length", "stick", stick, "dipstick, laid against the drawing: {}")]
    return batch_looks(
        ("filter", "filter", plugged, "filter: {}"),
        ("flakes", "flakes", subject.condition.soaked.max((1, 2)), "on the pan floor: {}"),
        ("silt", "silt", water * dry, "under the fluid: {}"),
        ("rust", "rust", water, "magnet and pan floor: {}"),
        ("rubber_brittle", "crumbs", hardest, "rubber: {}"),
        ("rubber_soft", "soft_crumbs", subject.parameter("fluid_swell"), "rubber: {}"),
        ("neck_ring", "neck_ring", gap, "sealing ring of the filter neck: {}"),
        *(gauge if has_dipstick(subject.unit) else ()),
        ("sand", "sand", subject.parameter("pump_sand"), "under a lens, what the fluid leaves on paper: {}"),
        ("old_dirt", "old_dirt", subject.parameter("wear_debris"), "in the corners: {}"),
        (
            "park_pawl",
            "pawl",
            subject.parameter("lever_park_short"),
            "park pawl, seen past the valve body: {}",
        ),
        quiet=True,
    )


def _lies(row: Row) -> str:
    """The caption of a pan: what lies in it, and what does not."""
    looked_for = {key: kind for key, kind in DEBRIS.items() if key in row.looks}
    there = [f"{row[key]} of {kind}" for key, kind in looked_for.items() if row.looks[key].grade]
    absent = [kind for key, kind in looked_for.items() if not row.looks[key].grade]
    text = f"In the pan: {', '.join(there) or 'no debris to speak of'}"
    return sentence(f"{text}; no {', no '.join(absent)}" if absent else text)


# ---------------------------------------------------------------------- air
def air_test(subject: Subject) -> BatchFinding:
    """Each circuit with 30 psi of air: what it keeps, how the piston moves, what else moves."""
    measured: list[BatchReading] = []
    seen: list[BatchLook] = []
    for each in pressed(subject.unit):
        lost = _leak(subject, each)
        measured.append(_air(subject, f"air_{each.element.id}_psi", each.label, _held(lost)))
        seen.append(BatchLook(key=f"hiss_{each.stem}", scale="hiss", value=lost, text=f"{each.label}: {{}}"))
        seen += _piston(subject, each)
    if subject.unit.has("governor_leak"):
        kept = AIR_TEST_PSI * (1.0 - subject.parameter("governor_leak"))
        measured.append(_air(subject, "air_governor_psi", "governor", kept))
    if has_lock_up(subject):
        kept = _held(subject.parameter("lockup_leak"))
        measured.append(_air(subject, "air_lockup_psi", "lock-up", kept))
    return BatchFinding(measured=tuple(measured), seen=tuple(seen))


def _held(lost: Array) -> Array:
    """Air [psi] a circuit keeps that loses so many times what a sound one loses."""
    kept: Array = AIR_TEST_PSI / (1.0 + np.maximum(lost - 1.0, 0.0) / AIR_FEED)
    return kept


def _air(subject: Subject, key: str, label: str, kept: Array) -> BatchReading:
    return subject.read(
        key, f"Pressure held after shut-off, {label} circuit, from 30 psi", kept, Instrument("psi", 0.5)
    )


def _leak(subject: Subject, holder: HoldingElement) -> Array:
    """Leakage of a circuit in units of a sound one, (n,): rings, lip, holes."""
    column = holder.column
    viscosity = subject.plant.viscosity(subject.condition, np.array([[HOT]]))[1]
    factor = subject.flat(subject.plant.leak_factor(subject.condition, lip_states(HOT), viscosity, column))
    own = subject.parameter("element_leak", column) / subject.sheet.parameter("element_leak", column)
    return own * factor + subject.parameter("element_hole", column) / SOUND_HOLE


def _piston(subject: Subject, holder: HoldingElement) -> tuple[BatchLook, ...]:
    """How one piston moves on air, and what moves with it."""
    column, stem = holder.column, holder.stem
    clearance = subject.plant.clearance(subject.condition)[:, 0, column]
    sound = subject.sheet.plant.clearance(subject.sheet.condition)[0, 0, column]
    sheet = subject.sheet.parameter("element_accumulator", column)
    cushion = subject.parameter("element_accumulator", column) / np.where(sheet > 0.0, sheet, np.inf)
    cushion = np.where(sheet > 0.0, cushion, 1.0)
    far = clearance / subject.parameter("element_stroke", column)
    unbacked = 1.0 - subject.parameter("element_backing", column)
    said = f"{holder.label}: {{}}"
    return batch_looks(
        (f"stroke_short_{stem}", "stroke_short", 1.0 - clearance / (TIGHT * sound), said),
        (f"stroke_long_{stem}", "stroke_long", np.maximum(far, unbacked), said),
        (f"return_late_{stem}", "return_late", subject.parameter("fluid_swell"), said),
        (f"cross_{stem}", "cross", subject.parameter("element_crossfeed_case", column), said),
        (f"accumulator_{stem}", "accumulator", 1.0 - cushion, said),
        quiet=True,
    )


def _wide_feeds(subject: Subject) -> Array:
    """How much wider than on the sheet the widest feed of a circuit is, (n,): a check ball that is missing leaves it open."""
    feeds = subject.plant.p.element_feed_area / subject.sheet.plant.p.element_feed_area
    return subject.flat(feeds.max((1, 2))) - 1.0


def _governor(subject: Subject) -> list[tuple[str, str, Array, str]]:
    """The governor, one look for each of its parts."""
    gear, leak = subject.parameter("governor_gear"), subject.parameter("governor_leak")
    hangs = np.maximum(1.0 - subject.parameter("governor_gain"), subject.parameter("governor_stuck") / JAMMED)
    return [
        ("governor_weights", "weights", hangs, "governor weights and valve: {}"),
        ("governor_teeth", "teeth", 1.0 - gear, "teeth of the governor's gear: {}"),
        ("governor_bore", "grooves", leak, "bore in which the governor's rings run: {}"),
    ]


# ---------------------------------------------------------------------- valve body
def valve_body(subject: Subject) -> BatchFinding:
    """Valves one by one, springs, balls, gasket print, flatness; and the governor, whose cover is off by then."""
    crossed = [subject.parameter("element_crossfeed_body", each.column) for each in pressed(subject.unit)]
    gap = FLAT_BODY + PRINT_GAP * np.sqrt(np.maximum.reduce(crossed))
    prints = [
        (f"print_{each.stem}", "print", share, f"gasket print beside the {each.label} feed: {{}}")
        for each, share in zip(pressed(subject.unit), crossed, strict=True)
    ]
    label = "Widest gap under a straightedge"
    face = subject.read("body_gap_in", label, gap, Instrument("in.", 0.0003, 4))
    covered = subject.plant.p.element_feed_area / subject.sheet.plant.p.element_feed_area
    prints += [
        (
            f"gasket_{each.stem}",
            "gasket",
            1.0 - covered[:, 0, each.column],
            f"gasket over the {each.label} feed: {{}}",
        )
        for each in pressed(subject.unit)
    ]
    return BatchFinding(
        measured=(face, *_bores(subject)),
        seen=(
            BatchLook(key="varnish", scale="varnish", value=subject.state("oxidation")),
            *batch_looks(*_valves(subject), *_governor(subject), *prints, quiet=True),
        ),
    )


def _bores(subject: Subject) -> tuple[BatchReading, ...]:
    """Vacuum that each bore holds with its valve in place, by what leaks past it."""
    leak = subject.parameter("line_body_leak") / subject.sheet.parameter("line_body_leak")
    worn: tuple[tuple[str, str, Array], ...] = (
        ("regulator", "pressure regulator", np.maximum(leak - BODY_SPREAD, 0.0)),
        ("boost", "reverse boost", 1.0 - subject.parameter("line_reverse_share")),
        ("governor", "governor feed", subject.parameter("governor_leak")),
    )
    for i, shift in enumerate(subject.unit.shifts):
        worn += ((f"shift_{shift.id}", f"shift valve {shift.label}", _feed_lost(subject, i)),)
    if has_lock_up(subject):
        worn += (("lockup", "lock-up apply valve", subject.parameter("lockup_bore")),)
    return tuple(
        subject.read(
            f"bore_vacuum_{key}_inhg",
            f"Vacuum held, bore of the {label}",
            PUMP_VACUUM / (1.0 + BORE_LEAKS * share),
            Instrument("inHg", 0.4, 1),
        )
        for key, label, share in worn
    )


def _feed_lost(subject: Subject, place: int) -> Array:
    """What leaks past a shift valve, (n,), against the leak of the sound circuits that it feeds."""
    fed = coming_on(subject.unit, subject.unit.levers[DRIVE][place + 1])
    lost = [
        subject.parameter("element_bore_leak", each.column)
        / subject.sheet.parameter("element_leak", each.column)
        for each in fed
    ]
    most: Array = np.maximum.reduce(lost)
    return most / BORE_SHARE


def _valves(subject: Subject) -> list[tuple[str, str, Array, str]]:
    """The valves, one look each."""
    slack, deaf = np.abs(subject.parameter("line_spring") - 1.0), 1.0 - subject.parameter("line_answer")
    worn, drains = 1.0 - subject.parameter("line_reverse_share"), subject.parameter("sump_night_drain")
    found = [
        ("regulator", "valve", np.maximum(slack, deaf), "pressure regulator and boost plug: {}"),
        ("boost_sleeve", "sleeve", worn, "sleeve of the reverse boost: {}"),
        ("lockup_valve", "valve", subject.parameter("lockup_stuck"), "lock-up valve: {}"),
        ("lockup_orifice", "orifice", 1.0 - subject.parameter("lockup_orifice"), "lock-up apply orifice: {}"),
        ("drain_valve", "check_valve", units.to_quart(drains), "check valve to the converter: {}"),
    ]
    found += [
        ("balls_in_tray", "balls", _wide_feeds(subject), "check balls in the tray: {}"),
        (
            "bore_scratches",
            "scratches",
            subject.parameter("wear_debris"),
            "bores of the valves, under a lamp: {}",
        ),
    ]
    for i, shift in enumerate(subject.unit.shifts):
        stuck, said = subject.parameter("shift_stuck", i), f"shift valve {shift.label}: {{}}"
        found.append((f"shift_valve_{shift.id}", "valve", stuck, said))
    return found
