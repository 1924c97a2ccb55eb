"""Inspections from outside: walk round the vehicle, its engine, its fluid."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.shop.batch import (
    VACUUM_GAUGE,
    BatchFinding,
    BatchLook,
    BatchReading,
    Instrument,
    Row,
    batch_looks,
)
from course_lib.shop.graded_scales import sentence
from course_lib.shop.mobility import DOES_NOT_DRIVE, NOT_REACHED, drives, foam
from course_lib.shop.subject import COLD, HOT, Subject
from course_lib.vehicle.operating_point import operation
from course_lib.vehicle.unit_spec import UnitSpec

LONG_WAY = 1000.0 * units.MILE  # over which a loss of fluid is counted
NEEDLE_SHAKES = 30.0  # inHg that the vacuum needle swings per share of strokes that miss, fitted
BLOWN_OUT = 1.2  # in. over FULL that leaves the vent as wet as fluid that boils over
# A scorched lining is smelled at once, but darkens the fluid only by what has come off it. Both against wholly oxidized fluid.
DUST_COLOR = 300.0  # per share of the fluid's own weight, fitted
LOCKUP_COLOR, BURNT_SMELL = 0.9, 1.3  # of a lining wholly charred, fitted
STALE = 0.85  # fluid however old smells of varnish, not of lining
SCORCHED = 3.0  # of a third charred, all that comes off is black
# Wear of pump and bushings, and of planet pins, from which metal comes off that can be seen, fitted.
SHEDS, PINS_SHED = 0.35, 0.2


def quarts_lost(subject: Subject, name: str) -> Array:
    """What a leak loses over 1,000 mi, (n,) qt."""
    return units.to_quart(subject.parameter(name) * LONG_WAY)


def walk_round(subject: Subject) -> BatchFinding:
    """Where it is wet, the cooler fins, the tailpipe."""
    over = overfilled(subject)
    over = np.maximum(over, BLOWN_OUT * subject.boils_over)
    return BatchFinding(
        seen=batch_looks(
            ("wet_rear", "wet", quarts_lost(subject, "leak_outside"), "tail of the case: {}"),
            ("wet_front", "wet", quarts_lost(subject, "leak_front"), "bell housing, at the bottom: {}"),
            ("wet_pan", "wet", quarts_lost(subject, "leak_pan"), "rail of the pan: {}"),
            (
                "wet_selector",
                "wet",
                quarts_lost(subject, "leak_selector"),
                "side of the case, at the lever: {}",
            ),
            ("wet_line", "wet", quarts_lost(subject, "leak_line"), "along the cooler lines: {}"),
            ("wet_vent", "vent", over, "round the vent: {}"),
            ("fins", "fins", 1.0 - subject.parameter("heat_cooler_air"), "cooler fins: {}"),
            ("smoke", "smoke", quarts_lost(subject, "leak_engine_draws"), "tailpipe: {}"),
            quiet=True,
        )
    )


def overfilled(subject: Subject) -> Array:
    """How far the fluid stands over the mark, whatever an indicator shows, (n,) in."""
    over: Array = indicated(subject) - units.to_inch(subject.parameter("sump_gauge_offset"))
    return over


def dye_test(subject: Subject) -> BatchFinding:
    """Where fluid with dye in it comes out, under the lamp."""
    return BatchFinding(
        seen=batch_looks(
            ("dye_rear", "dye", quarts_lost(subject, "leak_outside"), "tail of the case and output seal: {}"),
            (
                "dye_front",
                "dye",
                quarts_lost(subject, "leak_front"),
                "bell housing, from the pump and its seal: {}",
            ),
            ("dye_pan", "dye", quarts_lost(subject, "leak_pan"), "pan gasket: {}"),
            (
                "dye_selector",
                "dye",
                quarts_lost(subject, "leak_selector"),
                "seal of the gear lever shaft: {}",
            ),
            ("dye_line", "dye", quarts_lost(subject, "leak_line"), "cooler lines and their joints: {}"),
        )
    )


def engine_check(subject: Subject) -> BatchFinding:
    """Idle speed, manifold vacuum, and how evenly the engine runs."""
    missing = subject.parameter("engine_misfire")
    idle, swing = units.to_rpm(subject.parameter("engine_idle")), NEEDLE_SHAKES * missing
    speed = subject.read("idle_speed_rpm", "Idle speed, P, hot", idle, Instrument("rpm", 10))
    shakes = subject.read("vacuum_swing_inhg", "Swing of the vacuum needle, idle", swing, VACUUM_GAUGE)
    measured = (speed, idle_vacuum(subject), shakes) if has_vacuum(subject) else (speed, shakes)
    return BatchFinding(
        measured=measured, seen=batch_looks(("roughness", "roughness", missing, "the engine {}"), quiet=True)
    )


def has_vacuum(subject: Subject) -> bool:
    """Whether anything is known of the vacuum at the manifold: units that take no load signal from it leave it out."""
    return subject.unit.has("signal_closed_vacuum")


def idle_vacuum(subject: Subject) -> BatchReading:
    """Vacuum at the manifold, idling in P."""
    shown = units.to_inhg(
        subject.plant.hydraulic_controls.vacuum(operation("P"), subject.plant.p.engine_idle)[0]
    )
    return subject.read("manifold_vacuum_inhg", "Vacuum at the manifold, idle", shown, VACUUM_GAUGE)


# ---------------------------------------------------------------------- fluid
def fluid_looks(subject: Subject) -> tuple[BatchLook, ...]:
    """Color, smell and milkiness of the fluid."""
    aged = subject.state("oxidation")
    burnt = np.maximum(subject.condition.char.max((1, 2)), subject.state("lockup"))
    charge = subject.parameter("sump_charge") * subject.parameter("fluid_density_15c")
    dust = lining_lost(subject) * np.minimum(SCORCHED * subject.condition.char[:, 0], 1.0)
    color = aged + DUST_COLOR * dust.sum(-1) / charge + LOCKUP_COLOR * subject.state("lockup")
    return (
        BatchLook(key="color", scale="color", value=color),
        BatchLook(key="smell", scale="smell", value=np.minimum(aged, STALE) + BURNT_SMELL * burnt),
        BatchLook(
            key="milk",
            scale="milk",
            value=subject.parameter("fluid_water"),
            text="the fluid is {}",
            quiet=True,
        ),
    )


def lining_lost(subject: Subject) -> Array:
    """Lining that has worn off each element, (n, E) kg."""
    p = subject.plant.p
    weight = p.element_rub_area * p.element_faces * p.wear_lining_density[..., None]
    return (subject.condition.lining * weight)[:, 0]


def fluid_sentence(row: Row) -> str:
    """Color, smell and, where they were looked for, bubbles."""
    return sentence(
        "Fluid " + ", ".join(row[key] for key in ("color", "smell", "bubbles") if key in row.looks)
    )


def has_dipstick(unit: UnitSpec) -> bool:
    """Whether the level is read on a dipstick: where a controller tells the temperature, it is read at an overflow plug."""
    return unit.control is None


def indicated(subject: Subject, temperature: float = HOT, *, running: bool = True) -> Array:
    """What the level indicator shows [in. from the FULL mark], (n,): the fluid, and what is wrong with the indicator."""
    displacement, drive = (subject.parameter(f"pump_{name}") for name in ("displacement", "drive"))
    flow = (displacement * drive * subject.parameter("engine_idle") / (2 * np.pi))[:, None]
    height = subject.plant.oil.height(subject.condition, np.array([[temperature]]), flow, running=running)
    shown = (
        subject.flat(height) - subject.parameter("sump_full_height") + subject.parameter("sump_gauge_offset")
    )
    return units.to_inch(shown)


def level_reading(
    subject: Subject, key: str, how: str, temperature: float, *, running: bool = True
) -> BatchReading:
    """A reading of the level indicator; how: the way it is taken."""
    shown = indicated(subject, temperature, running=running)
    sigma = 0.02 if temperature > COLD else 0.03  # thick fluid clings to the rod
    return subject.read(key, f"Level from FULL, {how}", shown, Instrument("in.", sigma, 2, signed=True))


def fluid_hot(subject: Subject) -> BatchFinding:
    """Level against the hot mark, running."""
    seen = (*fluid_looks(subject), BatchLook(key="bubbles", scale="bubbles", value=foam(subject)))
    hot = level_reading(subject, "level_hot_in", "hot, idling, P", HOT)
    return BatchFinding(
        measured=(hot.left_out(((f"{NOT_REACHED}: {DOES_NOT_DRIVE}", ~drives(subject)),)),),
        seen=seen,
        caption=lambda row: [fluid_sentence(row)],
    )


def fluid_cold(subject: Subject) -> BatchFinding:
    """Level against the hot mark, cold: idling, and with the engine off."""
    return BatchFinding(
        measured=(
            level_reading(subject, "level_cold_in", "cold, idling, P", COLD),
            level_reading(subject, "level_engine_off_in", "cold, engine off", COLD, running=False),
        ),
        seen=fluid_looks(subject),
        caption=lambda row: [
            fluid_sentence(row),
            "Cold readings only show whether it is safe to warm it up; the hot check counts.",
        ],
    )


def fluid_tests(subject: Subject) -> BatchFinding:
    """A sample of the fluid on the bench: coolant strip, hot plate, white paper, glass, nose and shade."""
    water, color = subject.parameter("fluid_water"), fluid_looks(subject)[0].value
    coolant = water * subject.parameter("fluid_glycol")
    return BatchFinding(
        seen=batch_looks(
            ("glycol", "glycol", coolant, "coolant test strip: {}"),
            ("water", "hot_plate", water, "a drop on the hot plate {}"),
            ("paper", "paper", color, "a drop on white paper: {}"),
            ("specks", "specks", metal(subject), "rubbed between two plates of glass: {}"),
            ("additive", "additive", subject.parameter("fluid_swell"), "warmed in a dish, it {}"),
            ("shade", "shade", subject.parameter("fluid_judder"), "beside a sample of the listed fluid: {}"),
        )
    )


def metal(subject: Subject) -> Array:
    """Fine metal carried by the fluid, (n,): what wore off lately, and what circulates from an earlier failure."""
    worn = shed(subject, "pump", SHEDS) + shed(subject, "bushing", SHEDS)
    return worn + shed(subject, "planetary", PINS_SHED) + subject.parameter("wear_debris")


def shed(subject: Subject, part: str, least: float) -> Array:
    """Wear of a part beyond the `least` from which it sheds metal, (n,)."""
    beyond: Array = np.maximum(subject.state(part) - least, 0.0)
    return beyond
