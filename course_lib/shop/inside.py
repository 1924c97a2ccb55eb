"""Inspections with the pan off: what lies in it, the circuits under air, the valve body on the bench."""

from __future__ import annotations

import numpy as np

from course_lib import units
from course_lib.physics.circuit import lip_states
from course_lib.shop.chart import Holder, pressed
from course_lib.shop.gauges import has_lock_up
from course_lib.shop.measured import Found, Measured, Row, Seen
from course_lib.shop.outside import fluid_looks, fluid_sentence
from course_lib.shop.subject import HOT, Subject
from course_lib.shop.words import sentence

GRAM = 1e-3
PUMP_METAL, BUSHING_METAL, ROLLER_METAL = 0.25, 0.6, 2.5  # magnet and glitter grades per unit of wear, fitted
AIR_TEST_PSI = 30.0
AIR_FEED = 16.0  # leak, in units of a sound circuit's, at which half the air pressure is lost
SOUND_HOLE = 0.05e-6  # m2, hole that loses as much air as a sound circuit
TIGHT_AIR, BOTTOMED = (
    0.45,
    0.9,
)  # clearance against the sheet's, and stroke used, from which the piston's travel is remarked
PRINT_GAP = 0.012  # in. that the body stands open per share of the line that crosses, fitted
DEBRIS = {
    "powder": "black lining powder",
    "fibers": "coarse black band fibers",
    "aluminum": "aluminum sparkle",
    "bronze": "bronze glitter",
    "steel": "steel slivers",
}


# ---------------------------------------------------------------------- pan
def debris(subject: Subject) -> dict[str, np.ndarray]:
    """How much of each kind lies in the pan, (n,) each: lining powder and fibers by what was shed lately, metals by wear."""
    p, condition = subject.plant.p, subject.condition
    weight = p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
    fresh = (condition.lining * weight * np.clip(condition.char * 6.0 + 0.10, 0.0, 1.0))[:, 0]
    powder, old = p.element_sheds[:, 0], subject.parameter("wear_debris")
    gears = np.maximum(subject.state("planetary") - 0.2, 0.0)
    return {
        "powder": (fresh * powder).sum(-1) / GRAM / 100.0,
        "fibers": (fresh * (1.0 - powder)).sum(-1) / GRAM / 60.0,
        "aluminum": PUMP_METAL * np.maximum(subject.state("pump") - 0.35, 0.0) + 0.1 * old,
        "bronze": 0.15 * (np.maximum(subject.state("bushing") - 0.35, 0.0) + gears) + 0.1 * old,
        "steel": 0.15 * (np.maximum(condition.holding.max((1, 2)) - 0.15, 0.0) + gears)
        + 0.5 * (1.0 - subject.parameter("pump_drive")),
    }


def pan(subject: Subject) -> Found:
    """Quantity drained, debris by kind and amount, magnet, filter, fluid."""
    charge = subject.sheet.parameter("sump_charge")
    short = subject.parameter("sump_charge") - subject.state("lost") - charge
    metal = 0.12 + PUMP_METAL * 2.0 * subject.state("pump") + BUSHING_METAL * 0.3 * subject.state("bushing")
    metal = metal + ROLLER_METAL * np.maximum(
        subject.condition.holding.max((1, 2)), 1.0 - subject.parameter("pump_drive")
    )
    amounts = tuple(Seen(key=key, scale="amount", value=value) for key, value in debris(subject).items())
    return Found(
        measured=(
            subject.read(
                "drained_qt",
                "Drained against the sheet",
                units.to_quart(short),
                "qt",
                0.08,
                decimals=1,
                signed=True,
            ),
        ),
        seen=(
            *amounts,
            Seen(key="magnet", scale="magnet", value=metal, text="magnet: {}"),
            *fluid_looks(subject),
            *_odd_debris(subject),
        ),
        caption=lambda row: [_lies(row), sentence(row["magnet"]), fluid_sentence(row)],
    )


def _odd_debris(subject: Subject) -> tuple[Seen, ...]:
    """What lies in a pan only when something is wrong."""
    water, swell = subject.parameter("fluid_water"), subject.parameter("fluid_swell")
    plugged = subject.flat(subject.plant.strainer_plug(subject.condition))
    hardest = subject.plant.seal_hardness(subject.condition)[
        :, 0, [each.column for each in pressed(subject.unit)]
    ].max(-1)
    return (
        Seen(key="filter", scale="filter", value=plugged, text="filter: {}", quiet=True),
        Seen(
            key="flakes",
            scale="flakes",
            value=subject.state("soaked"),
            text="on the pan floor: {}",
            quiet=True,
        ),
        Seen(
            key="silt",
            scale="silt",
            value=water * (1.0 - subject.parameter("fluid_glycol")),
            text="under the fluid: {}",
            quiet=True,
        ),
        Seen(key="rust", scale="rust", value=water, text="magnet and pan floor: {}", quiet=True),
        Seen(key="rubber_brittle", scale="crumbs", value=hardest, text="rubber: {}", quiet=True),
        Seen(key="rubber_soft", scale="soft_crumbs", value=swell, text="rubber: {}", quiet=True),
        Seen(
            key="old_dirt",
            scale="old_dirt",
            value=subject.parameter("wear_debris"),
            text="in the corners: {}",
            quiet=True,
        ),
    )


def _lies(row: Row) -> str:
    """The caption of a pan: what lies in it, and what does not."""
    there = [f"{row[key]} of {kind}" for key, kind in DEBRIS.items() if row.looks[key].grade]
    absent = [kind for key, kind in DEBRIS.items() if not row.looks[key].grade]
    text = f"In the pan: {', '.join(there) or 'no debris to speak of'}"
    return sentence(f"{text}; no {', no '.join(absent)}" if absent else text)


# ---------------------------------------------------------------------- air
def air_test(subject: Subject) -> Found:
    """Each circuit with 30 psi of air: what it keeps, how the piston moves, what else moves."""
    measured: list[Measured] = []
    seen: list[Seen] = []
    for each in pressed(subject.unit):
        lost = _leak(subject, each)
        measured.append(_air(subject, f"air_{each.element.id}_psi", each.label, _held(lost)))
        seen.append(Seen(key=f"hiss_{each.stem}", scale="hiss", value=lost, text=f"{each.label}: {{}}"))
        seen += _piston(subject, each)
    kept = AIR_TEST_PSI * (1.0 - subject.parameter("governor_leak"))
    measured.append(_air(subject, "air_governor_psi", "governor", kept))
    if has_lock_up(subject):
        kept = _held(subject.parameter("lockup_leak"))
        measured.append(_air(subject, "air_lockup_psi", "lock-up", kept))
    return Found(measured=tuple(measured), seen=tuple(seen))


def _held(lost: np.ndarray) -> np.ndarray:
    """Air [psi] a circuit keeps that loses so many times what a sound one loses."""
    return AIR_TEST_PSI / (1.0 + np.maximum(lost - 1.0, 0.0) / AIR_FEED)


def _air(subject: Subject, key: str, label: str, kept: np.ndarray) -> Measured:
    return subject.read(key, f"Air the {label} circuit keeps, of 30", kept, "psi", 0.5)


def _leak(subject: Subject, holder: Holder) -> np.ndarray:
    """Leakage of a circuit in units of a sound one, (n,): rings, lip, holes."""
    column = holder.column
    viscosity = subject.plant.viscosity(subject.condition, np.array([[HOT]]))[1]
    factor = subject.flat(subject.plant.leak_factor(subject.condition, lip_states(HOT), viscosity, column))
    own = subject.parameter("element_leak", column) / subject.sheet.parameter("element_leak", column)
    return own * factor + subject.parameter("element_hole", column) / SOUND_HOLE


def _piston(subject: Subject, holder: Holder) -> list[Seen]:
    """How one piston moves on air, and what moves with it."""
    column, stem = holder.column, holder.stem
    clearance = subject.plant.clearance(subject.condition)[:, 0, column]
    sound = subject.sheet.plant.clearance(subject.sheet.condition)[0, 0, column]
    cushion = subject.parameter("element_accumulator", column) / subject.sheet.parameter(
        "element_accumulator", column
    )
    said = f"{holder.label}: {{}}"
    looks = (
        (f"stroke_short_{stem}", "stroke_short", 1.0 - clearance / (TIGHT_AIR * sound)),
        (f"stroke_long_{stem}", "stroke_long", clearance / subject.parameter("element_stroke", column)),
        (f"return_late_{stem}", "return_late", subject.parameter("fluid_swell")),
        (f"cross_{stem}", "cross", subject.parameter("element_crossfeed_case", column)),
        (f"accumulator_{stem}", "accumulator", 1.0 - cushion),
    )
    return [
        Seen(key=key, scale=scale, value=subject.flat(value), text=said, quiet=True)
        for key, scale, value in looks
    ]


# ---------------------------------------------------------------------- valve body
def valve_body(subject: Subject) -> Found:
    """Valves one by one, springs, gasket print, flatness."""
    slack, deaf = np.abs(subject.parameter("line_spring") - 1.0), 1.0 - subject.parameter("line_answer")
    crossed = [
        (each, subject.parameter("element_crossfeed_body", each.column)) for each in pressed(subject.unit)
    ]
    gap = PRINT_GAP * np.sqrt(np.maximum.reduce([share for _, share in crossed]))
    valves = [
        ("regulator", "pressure regulator and boost plug", np.maximum(slack, deaf)),
        ("boost_sleeve", "sleeve of the reverse boost", 1.0 - subject.parameter("line_reverse_share")),
        ("lockup_valve", "lock-up valve", subject.parameter("lockup_stuck")),
        (
            "drain_valve",
            "check valve to the converter",
            units.to_quart(subject.parameter("sump_night_drain")),
        ),
    ]
    valves += [
        (f"shift_valve_{s.id}", f"shift valve {s.label}", subject.parameter("shift_stuck", i))
        for i, s in enumerate(subject.unit.shifts)
    ]
    scales = {"boost_sleeve": "sleeve", "drain_valve": "check_valve"}
    return Found(
        measured=(
            subject.read(
                "body_gap_in", "Widest gap under a straightedge", 0.0005 + gap, "in.", 0.0003, decimals=4
            ),
        ),
        seen=(
            Seen(key="varnish", scale="varnish", value=subject.state("oxidation")),
            *(
                Seen(key=k, scale=scales.get(k, "valve"), value=v, text=f"{said}: {{}}", quiet=True)
                for k, said, v in valves
            ),
            *(
                Seen(
                    key=f"print_{each.stem}",
                    scale="print",
                    value=share,
                    text=f"gasket print beside the {each.label} feed: {{}}",
                    quiet=True,
                )
                for each, share in crossed
            ),
        ),
    )
