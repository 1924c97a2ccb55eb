"""The lever with screen and gauge, and the fluid level in its temperature window."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.shop.apply_chart import DRIVE
from course_lib.shop.asked_gears import electric_of
from course_lib.shop.batch import BatchFinding, BatchReading, Instrument, batch_looks
from course_lib.shop.circuits import only_with, sensors
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import AskedPoint, Subject
from course_lib.shop.walk_round import fluid_looks, fluid_sentence
from course_lib.vehicle.control_tables import sensor_that

ANGLE, DETENT = Instrument("degrees", 0.5, 1, signed=True), Instrument("degrees", 0.3, 1)
TOO_MUCH = 0.2  # qt over, from which it is said
THERMOMETER, PLUG = Instrument("\u00b0F", 1.5, signed=True), Instrument("qt", 0.05, 2, signed=True)
LEVER_TURN = 12.0  # degrees of the lever from a port wholly open to wholly shut
WINDOW = units.from_fahrenheit(104.0)  # middle of the window in which the level is read
TRIED = np.linspace(
    units.from_fahrenheit(40.0), units.from_fahrenheit(300.0), 14
)  # K at which the screen is read
EXPANDS = 0.00075  # per K, of a fluid of this class, from memory
NEVER = "the screen never comes into the window"


# ---------------------------------------------------------------------- lever
def range_check(subject: Subject) -> Procedure:
    """The lever through its places: what the screen says, what the gauge says, and how far the sensor is off its mark."""
    levers = tuple(subject.unit.levers)
    work = yield [AskedPoint(lever) for lever in levers]
    seen, drive = electric_of(work).lever_seen, levers.index(DRIVE)
    illegal, unseen = (seen < 0).any(-1).astype(float), (seen[:, drive] != drive).astype(float)
    shut, said = (
        subject.plant.p.element_port_shut.max((1, 2)),
        "pressure of D at the gauge, another range on the screen: {}",
    )
    pattern = ("illegal", "yes", illegal, "a pattern on the screen that no place of the lever gives: {}")
    off = [np.degrees(subject.parameter("sensor_offset", i)) for i, _ in sensors(subject.unit, "pattern")]
    measured = [subject.read("offset_deg", "Range sensor off its mark", each, ANGLE) for each in off]
    measured.append(subject.read("lever_off_deg", "Lever mark off the detent by", LEVER_TURN * shut, DETENT))
    return BatchFinding(
        measured=tuple(measured),
        seen=batch_looks(
            *only_with(subject.unit, "lever", pattern, ("line_without_d", "yes", unseen, said)),
            ("detent", "detent", shut, "lever and detent {}"),
            ("park", "park", subject.parameter("lever_park_short"), "in P on a slope, pushed by hand: {}"),
            quiet=True,
        ),
    )


# ---------------------------------------------------------------------- level
def level_window(subject: Subject) -> Procedure:
    """How much fluid is missing when the screen stands in the window, and what a second thermometer says then."""
    work = yield [AskedPoint("P", temperature=float(each)) for each in TRIED]
    true = _where_shown(electric_of(work).believed_temperature)
    if sensor_that(subject.unit, "fluid_temperature") is None:  # then a thermometer shows the window
        true = np.full(subject.size, WINDOW)
    error = (WINDOW - true) * units.FAHRENHEIT_STEPS
    screen = subject.read(
        "tft_error_f", "Screen less a thermometer at the pan", error, THERMOMETER, note=NEVER
    )
    return BatchFinding(
        measured=(*only_with(subject.unit, "fluid_temperature", screen), _short(subject, true)),
        seen=fluid_looks(subject),
        caption=lambda row: [fluid_sentence(row)],
    )


def _where_shown(believed: Array) -> Array:
    """True temperature [K] at which the screen stands in the window, (n,); believed: on the screen at each tried, (n, m)."""
    there = [np.interp(WINDOW, row, TRIED, left=np.nan, right=np.nan) for row in believed]
    return np.array(there)


def _short(subject: Subject, true: Array) -> BatchReading:
    """Quarts missing at the overflow plug, (n,): the charge against the sheet's, and what the fluid has swollen by heat."""
    sheet = subject.sheet.parameter("sump_charge")
    here = subject.parameter("sump_charge") - subject.state("lost")
    warm = np.where(np.isfinite(true), true, TRIED[-1]) - WINDOW
    missing = units.to_quart(sheet - here * (1.0 + EXPANDS * warm))
    over = (("too much", missing < -TOO_MUCH),)
    return subject.read("short_qt", "Missing at the overflow plug", missing, PLUG, notes=over)
