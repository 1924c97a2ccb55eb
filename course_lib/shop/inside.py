"""Inspections that open the pan or the unit. Each returns (readings, words)."""

from __future__ import annotations

import numpy as np

from course_lib import units
from course_lib.shop.outside import Found, fluid_words
from course_lib.shop.subject import Subject
from course_lib.shop.words import sentence, word

GRAM = 1e-3
BAND_PITCH = 1.0e-3  # m of rod travel a screw turn
PUMP_METAL, BUSHING_METAL, ROLLER_METAL = 0.25, 0.6, 2.5  # magnet and glitter grades per unit of wear, fitted
AIR_TEST_PSI = 30.0
AIR_FEED = 16.0  # leak, in units of a sound circuit's, at which half the air pressure is lost
SOUND_LEAK = 1.1e-13  # m3, leak of a sound circuit


def _pressed(subject: Subject) -> list[tuple[int, str, str]]:
    """Column, id and label of the elements with a lining."""
    return [(i, e.id, e.label) for i, e in enumerate(subject.plant.unit.elements) if e.kind != "one-way"]


def debris(subject: Subject) -> dict[str, float]:
    """How much of each kind lies in the pan: lining powder and fibers in kg shed lately, metals as wear."""
    p = subject.plant.p
    shed = (
        subject.condition.lining * p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
    )[0, 0]
    fresh = shed * np.clip(subject.condition.char[0, 0] * 6.0 + 0.10, 0.0, 1.0)
    powder = p.element_sheds[0, 0]
    return {
        "black lining powder": float((fresh * powder).sum() / GRAM / 100.0),
        "coarse black band fibers": float((fresh * (1.0 - powder)).sum() / GRAM / 60.0),
        "aluminum sparkle": PUMP_METAL * max(subject.entry("pump") - 0.35, 0.0),
        "bronze glitter": 0.15 * max(subject.entry("bushing") - 0.35, 0.0),
        "steel slivers": float(0.15 * max(subject.condition.holding.max() - 0.15, 0.0)),
    }


def pan(subject: Subject) -> Found:
    """Quantity drained, debris by kind and amount, magnet, fluid."""
    found = debris(subject)
    short = subject.parameter("sump_charge") - subject.entry("lost") - _sound_charge(subject)
    drained = subject.read(
        "drained_qt", "Drained against the sheet", units.to_quart(short), "qt", 0.08, decimals=1, signed=True
    )
    metal = 0.12 + 2.0 * subject.entry("pump") * PUMP_METAL + 0.3 * subject.entry("bushing") * BUSHING_METAL
    metal += ROLLER_METAL * float(subject.condition.holding.max())
    caption = ", ".join(
        f"{word('amount', amount)} of {kind}"
        for kind, amount in found.items()
        if word("amount", amount) != "none"
    )
    absent = [kind for kind, amount in found.items() if word("amount", amount) == "none"]
    words = [
        sentence(
            f"In the pan: {caption or 'no debris to speak of'}; no {', no '.join(absent)}"
            if absent
            else f"In the pan: {caption}"
        ),
        sentence(f"Magnet: {word('magnet', metal)}"),
        fluid_words(subject, 0.0),
    ]
    return [drained], words + subject.found("pan")


def _sound_charge(subject: Subject) -> float:
    return next(q.value for n, q in subject.plant.unit.parameters["sump"].items() if n == "charge")


def _leak(subject: Subject, column: int) -> float:
    """Leakage of a circuit in units of a sound one: rings, hard lip, holes."""
    p = subject.plant.p
    hard = 1.0 + subject.parameter("line_seal_leak") * float(subject.condition.seal[0, 0, column]) ** 3
    rings = 1.0 + subject.parameter("line_bushing_leak") * subject.entry("bushing")
    hole = float(p.element_hole[0, 0, column]) / 0.05e-6
    return float(p.element_leak[0, 0, column]) / SOUND_LEAK * hard * rings + hole


def air_test(subject: Subject) -> Found:
    """Each circuit with 30 psi of air."""
    readings, words = [], []
    for column, element, label in _pressed(subject):
        leak = _leak(subject, column)
        kept = AIR_TEST_PSI / (1.0 + max(leak - 1.0, 0.0) / AIR_FEED)
        readings.append(
            subject.read(f"air_{element}_psi", f"Air the {label} circuit keeps, of 30", kept, "psi", 0.5)
        )
        words.append(sentence(f"{label}: {word('hiss', leak)}"))
    return readings, words + subject.found("air_test")


def valve_body(subject: Subject) -> Found:
    """Valves, springs, balls and gasket print."""
    varnish = subject.entry("oxidation") > 0.9
    words = [
        "A gold stain lies on every bare surface; valves slide on a tap."
        if varnish
        else "Valves fall freely when dry."
    ]
    return [], (
        subject.found("valve_body") or ["Springs whole, balls all there, gasket print unbroken."]
    ) + words


def teardown(subject: Subject) -> Found:
    """Where the damage is, and where it is not."""
    words = []
    for column, _, label in _pressed(subject):
        left = float((subject.condition.lining / subject.plant.p.element_lining)[0, 0, column])
        burnt, hard = (float(getattr(subject.condition, name)[0, 0, column]) for name in ("char", "seal"))
        steel = f", {word('steel', burnt)}" if subject.plant.unit.elements[column].kind == "clutch" else ""
        words.append(
            sentence(
                f"{label}: lining {word('charred', burnt)}, {word('lining', left)}{steel}; {word('rubber', hard)}"
            )
        )
    for element in subject.plant.unit.elements:
        if element.kind == "one-way":
            words.append(sentence(f"{element.label}: {word('roller', subject.entry('holding', element.id))}"))
    return [], words + subject.found("teardown")


def measure(subject: Subject) -> Found:
    """Clearances, band screws, pump, bushings, flatness."""
    readings = []
    clearance = subject.plant.clearance(subject.condition)[0, 0]
    for column, element, label in _pressed(subject):
        name = element.removesuffix("_clutch").removesuffix("_band")
        if subject.plant.unit.elements[column].kind == "clutch":
            value = units.to_inch(clearance[column])
            readings.append(
                subject.read(f"clearance_{name}_in", f"Clearance, {label}", value, "in.", 0.001, decimals=3)
            )
        else:
            turns = clearance[column] / BAND_PITCH
            readings.append(
                subject.read(
                    f"turns_{name}_turns", f"Screw turns to grip, {label}", turns, "turns", 0.1, decimals=1
                )
            )
    gap = subject.parameter("pump_new_clearance") * (1.0 + subject.entry("pump"))
    warp = 0.15 * subject.parameter("wear_steel_warp") * float(subject.condition.char.max())
    readings += [
        subject.read("pump_face_in", "Pump face clearance", units.to_inch(gap), "in.", 0.0001, decimals=4),
        subject.read(
            "bushing_clearance_in",
            "Bushing clearance",
            0.0025 + 0.006 * subject.entry("bushing"),
            "in.",
            0.0003,
            decimals=4,
        ),
        subject.read(
            "steel_flatness_in",
            "Worst steel plate out of flat",
            0.0015 + units.to_inch(warp),
            "in.",
            0.0005,
            decimals=4,
        ),
    ]
    return readings, subject.found("measure") or ["Measured dry, with full lift, at four points."]
