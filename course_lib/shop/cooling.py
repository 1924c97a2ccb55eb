"""Inspections of the cooler: heat in and out, flow, and whether it is tight."""

from __future__ import annotations

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics import fluid, heat
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, batch_looks
from course_lib.shop.gauges import line_reading
from course_lib.shop.mobility import after_a_drive
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import HOT, AskedPoint, Subject

LONGEST_WAIT = 120.0  # s after which nobody holds the can any longer
GAUGE_END = 320.0  # F, where the needle stands against its stop
COOLING = 6.0  # K over an hour's drive that the return line stays above the coolant
TEST_AIR = 30.0  # psi
BREACH = 2.0e-8  # m2, hole through which half the air is lost, fitted


def cooler_check(subject: Subject) -> Procedure:
    """The flow with the vehicle standing; where it can be driven, temperatures and line after an hour on the owner's roads."""
    work = yield [AskedPoint("P", temperature=HOT), AskedPoint("D")]
    flow = work.cooler_flow[:, 0]
    sump, open_lines = subject.sump_temperature, subject.parameter("heat_line_open")
    weight = fluid.density(sump, subject.parameter("fluid_density_15c")) * subject.parameter(
        "fluid_specific_heat"
    )
    ua = subject.parameter("heat_cooler_ua") * subject.parameter("heat_cooler_air")
    after = work.cooler_flow[:, 1] * weight  # W/K, read idling straight after that drive
    share = heat.effectiveness_one_stream(ua / np.maximum(after, 1e-3))
    drop = share * np.maximum(sump - subject.parameter("heat_cooler_sink"), COOLING)
    grit = subject.parameter("wear_debris")  # baked varnish narrows the cooler and does not come loose
    lost = drop * units.FAHRENHEIT_STEPS
    driven = (
        _sump(subject),
        subject.read("cooler_drop_f", "Temperature lost across the cooler", lost, Instrument("°F", 2)),
        line_reading(subject, work, 1, "d_owner_hot", "D, idle, straight after that drive"),
    )
    bypassed = flow / np.maximum(open_lines, 1e-6)
    return BatchFinding(
        measured=(
            *(after_a_drive(subject, each) for each in driven),
            _can(subject, "cooler_flow_s_per_qt", "Cooler return, seconds for a quart", flow),
            _can(subject, "cooler_bypass_s_per_qt", "The same with a hose in place of the lines", bypassed),
        ),
        seen=(BatchLook(key="return_grit", scale="grit", value=grit, text="the return runs {}"),),
    )


def _sump(subject: Subject) -> BatchReading:
    """Sump temperature after an hour's drive, or as far as the gauge goes where the fluid boils over before that."""
    boils = subject.boils_over
    shown = np.where(boils, GAUGE_END, units.to_fahrenheit(subject.sump_temperature))
    pegged = (("needle at its stop; fluid foams out at the vent and the drive is broken off", boils),)
    return subject.read(
        "sump_temp_f", "Sump temperature after an hour's drive", shown, Instrument("°F", 2), notes=pegged
    )


def _can(subject: Subject, key: str, label: str, flow: Array) -> BatchReading:
    """Seconds until a marked can holds a quart."""
    seconds = units.QUART / np.maximum(flow, 1e-9)
    late = (("stopped before the quart was full", seconds >= LONGEST_WAIT),)
    return subject.read(key, label, np.minimum(seconds, LONGEST_WAIT), Instrument("s", 0.7), notes=late)


def _shut(subject: Subject, what: str) -> Array:
    """Share of the bore of cooler or lines that is shut, (n,)."""
    return 1.0 - subject.parameter(f"heat_{what}_open")


def cooler_pressure(subject: Subject) -> BatchFinding:
    """The cooler alone under air, its ports plugged; cooler and lines blown through; and what floats in the coolant."""
    hole = subject.parameter("heat_cooler_breach")
    return BatchFinding(
        measured=(
            subject.read(
                "cooler_holds_psi",
                "Pressure held after shut-off, cooler, from 30 psi",
                TEST_AIR / (1.0 + hole / BREACH),
                Instrument("psi", 0.5),
            ),
        ),
        seen=batch_looks(
            ("coolant", "coolant", hole / BREACH, "coolant in the radiator: {}"),
            ("cooler_blown", "blown", _shut(subject, "cooler"), "blown through, the cooler {}"),
            ("lines_blown", "blown", _shut(subject, "line"), "blown through, either line {}"),
        ),
    )
