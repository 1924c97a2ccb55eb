"""Inspections of a unit that has been taken out and apart: its parts, their measures, the bare case, the converter."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, Row, batch_looks
from course_lib.shop.gauges import has_lock_up
from course_lib.shop.graded_scales import sentence
from course_lib.shop.holders import HoldingElement, one_ways, pressed
from course_lib.shop.road_feel import off_center
from course_lib.shop.subject import Subject
from course_lib.vehicle.unit_spec import UnitSpec

BAND_PITCH = 1.0e-3  # m of rod travel a screw turn
PLATE_CRACKS_AT = 1e-3  # m off center that cracks a flex plate all round, fitted
OUT_OF_FLAT = 0.15  # share of a steel's coning that a straightedge shows
WASHERS_GONE = 0.055  # in. of end play that washers worn to the steel leave more, fitted
NEW_FLAT, NEW_BUSHING, WORN_BUSHING, NEW_RUNOUT = 0.0015, 0.0025, 0.006, 0.002  # in.


# ---------------------------------------------------------------------- teardown
def teardown(subject: Subject) -> BatchFinding:
    """Where the damage is, and where it is not."""
    packs, rollers = pressed(subject.unit), one_ways(subject.unit)
    seen = [look for each in packs for look in (*_pack(subject, each), *_odd(subject, each))]
    for each in rollers:
        torque = [of.parameter("element_holding_torque", each.column) for of in (subject, subject.sheet)]
        lost = 1.0 - (1.0 - subject.state("holding", each.column)) * np.minimum(torque[0] / torque[1], 1.0)
        back, said = subject.parameter("element_reversed", each.column), f"{each.label}: {{}}"
        seen += batch_looks((f"roller_{each.stem}", "roller", lost, said))
        seen += batch_looks((f"reversed_{each.stem}", "reversed", back, said), quiet=True)
    seen += _hard_parts(subject)

    def caption(row: Row) -> list[str]:
        return [_pack_sentence(row, each) for each in packs] + [
            sentence(row[f"roller_{each.stem}"]) for each in rollers
        ]

    return BatchFinding(seen=tuple(seen), caption=caption)


def _pack(subject: Subject, holder: HoldingElement) -> tuple[BatchLook, ...]:
    """The lining, the steels and the rubber of one element."""
    column, stem = holder.column, holder.stem
    worn = subject.state("lining", column) / subject.parameter("element_lining", column)
    burnt = subject.state("char", column)
    hard = np.maximum(subject.plant.seal_hardness(subject.condition)[:, 0, column], 0.0)
    seen = batch_looks(
        (f"charred_{stem}", "charred", burnt, "{}"),
        (f"lining_{stem}", "lining", worn, "{}"),
        (f"rubber_{stem}", "rubber", subject.flat(hard), "{}"),
    )
    return seen if holder.is_band else (*seen, *batch_looks((f"steel_{stem}", "steel", burnt, "{}")))


def _pack_sentence(row: Row, holder: HoldingElement) -> str:
    told = {
        name: row[f"{name}_{holder.stem}"]
        for name in ("charred", "lining", "steel", "rubber")
        if f"{name}_{holder.stem}" in row.looks
    }
    steel = f", {told['steel']}" if "steel" in told else ""
    return sentence(f"{holder.label}: lining {told['charred']}, {told['lining']}{steel}; {told['rubber']}")


def _odd(subject: Subject, holder: HoldingElement) -> tuple[BatchLook, ...]:
    """What is seen of an element only when something is wrong."""
    column, stem = holder.column, holder.stem
    swollen = np.maximum(-subject.plant.seal_hardness(subject.condition)[:, 0, column], 0.0)
    splines = [of.parameter("element_splines", column) for of in (subject, subject.sheet)]
    said = f"{holder.label}: {{}}"
    seen = batch_looks(
        (f"swollen_{stem}", "swollen", subject.flat(swollen), said),
        (f"soaked_{stem}", "soaked", subject.state("soaked", column), said),
        (f"drum_{stem}", "drum", subject.state("holding", column), said),
        (
            f"splines_{stem}",
            "splines",
            1.0 - splines[0] / splines[1],
            f"splines behind the {holder.label}: {{}}",
        ),
        (f"ball_seat_{stem}", _hole(subject.unit), subject.parameter("element_hole", column) * 1e6, said),
        quiet=True,
    )
    leaks = subject.parameter("element_leak", column) / subject.sheet.parameter("element_leak", column) - 1.0
    if holder.is_band:
        return (
            *seen,
            *batch_looks((f"servo_{stem}", "servo", leaks, f"servo of the {holder.label}: {{}}"), quiet=True),
        )
    rings = (f"rings_{stem}", "rings", leaks, f"sealing rings of the {holder.label}: {{}}")
    if _in_the_case(subject, holder):
        rings = (f"port_seal_{stem}", "port_seal", leaks, f"seal at the port of the {holder.label}: {{}}")
    spots = (f"spots_{stem}", "spots", subject.parameter("element_hot_spots", column), said)
    unbacked = 1.0 - subject.parameter("element_backing", column)
    ring = (f"snap_ring_{stem}", "snap_ring", unbacked, f"snap ring of the {holder.label}: {{}}")
    return (*seen, *batch_looks(rings, spots, ring, quiet=True))


def _hole(unit: UnitSpec) -> str:
    """The scale of words for a hole behind a lip: a piston that oil behind a dam balances has no ball."""
    return "ball_seat" if unit.control is None else "piston"


def _in_the_case(subject: Subject, holder: HoldingElement) -> bool:
    """Whether oil comes to it through a port of the case, past a seal instead of turning rings: a brake of plates where valves
    and solenoids sit in one body."""
    return subject.unit.control is not None and "case" in holder.element.couples


def _hard_parts(subject: Subject) -> tuple[BatchLook, ...]:
    """Planets, washers, bushings, pump."""
    planetary, bushing = subject.state("planetary"), subject.state("bushing")
    off = units.to_inch(subject.parameter("pump_offset"))
    scored = np.maximum(bushing, subject.parameter("wear_debris"))
    return batch_looks(
        ("rust", "rust", subject.parameter("fluid_water"), "steels and shafts: {}"),
        ("planet", "planet", planetary, "planet pins: {}"),
        ("thrust", "thrust", planetary, "rear thrust washers: {}"),
        ("bushing_scored", "scored", scored, "bushings: {}"),
        ("bushing_side", "one_side", off, "pump bushing and front seal: {}"),
        ("pump_scored", "scored", subject.state("pump"), "pump faces: {}"),
        ("pump_lugs", "lugs", 1.0 - subject.parameter("pump_drive"), "drive lugs of the pump: {}"),
        quiet=True,
    )


# ---------------------------------------------------------------------- measure
def measure(subject: Subject) -> BatchFinding:
    """Clearances, band screws, pump, bushings, end play, flatness."""
    gap = subject.parameter("pump_new_clearance") * (1.0 + subject.state("pump"))
    warp = OUT_OF_FLAT * subject.parameter("wear_steel_warp") * subject.condition.char.max((1, 2))
    worn = NEW_BUSHING + WORN_BUSHING * subject.state("bushing")
    flat = NEW_FLAT + units.to_inch(warp)
    play = units.to_inch(subject.parameter("train_end_play")) + WASHERS_GONE * subject.state("planetary")
    return BatchFinding(
        measured=(
            *(_clearance(subject, each) for each in pressed(subject.unit)),
            subject.read(
                "pump_face_in", "Pump face clearance", units.to_inch(gap), Instrument("in.", 0.0001, 4)
            ),
            subject.read("bushing_clearance_in", "Bushing clearance", worn, Instrument("in.", 0.0003, 4)),
            subject.read("end_play_in", "End play, input shaft", play, Instrument("in.", 0.001, 3)),
            subject.read(
                "steel_flatness_in", "Worst steel plate out of flat", flat, Instrument("in.", 0.0005, 4)
            ),
        )
    )


def _clearance(subject: Subject, holder: HoldingElement) -> BatchReading:
    """Running clearance of a pack, or turns of a band's screw until it grips."""
    value = np.maximum(subject.plant.clearance(subject.condition)[:, 0, holder.column], 0.0)
    if holder.is_band:
        label = f"Screw turns to grip, {holder.label}"
        return subject.read(
            f"turns_{holder.stem}_turns", label, value / BAND_PITCH, Instrument("turns", 0.1, 1)
        )
    key, label = f"clearance_{holder.stem}_in", f"Clearance, {holder.label}"
    return subject.read(key, label, units.to_inch(value), Instrument("in.", 0.001, 3))


# ---------------------------------------------------------------------- case and converter
def bare_case(subject: Subject) -> BatchFinding:
    """Each passage of the bare case filled with solvent."""
    rows = [
        (
            f"weep_{e.stem}",
            "weep",
            subject.parameter("element_crossfeed_case", e.column),
            f"passage of the {e.label}: {{}}",
        )
        for e in pressed(subject.unit)
    ]
    return BatchFinding(seen=batch_looks(*rows, quiet=True))


def converter_check(subject: Subject) -> BatchFinding:
    """Stator by hand, hub, flex plate and, where there is one, the lock-up lining."""
    runout = NEW_RUNOUT + 2.0 * units.to_inch(off_center(subject))
    free, locked = (subject.parameter(f"converter_stator_{how}") for how in ("slip", "lock"))
    seen = batch_looks(
        ("stator_free", "stator_free", free, "stator, turned by hand, {}"),
        ("stator_locked", "stator_locked", locked, "stator, turned by hand, {}"),
        (
            "flexplate",
            "flexplate",
            np.maximum(
                subject.parameter("pump_offset") / PLATE_CRACKS_AT, subject.parameter("converter_plate_crack")
            ),
            "flex plate: {}",
        ),
        quiet=True,
    )
    if has_lock_up(subject):
        seen += batch_looks(("lockup_lining", "charred", subject.state("lockup"), "lock-up lining: {}"))
        leaks = subject.parameter("lockup_leak") / subject.sheet.parameter("lockup_leak") - 1.0
        listed = 1.0 - subject.parameter("lockup_lining")
        seen += batch_looks(
            ("lockup_facing", "facing", listed, "lock-up lining, laid on the drawing: {}"), quiet=True
        )
        seen += batch_looks(
            ("lockup_ring", "rings", leaks, "sealing ring of the lock-up circuit: {}"), quiet=True
        )
    label = "Runout of the hub in its bore"
    return BatchFinding(
        measured=(subject.read("hub_runout_in", label, runout, Instrument("in.", 0.0005, 4)),), seen=seen
    )
