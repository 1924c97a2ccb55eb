"""What tells the transmission what to do: the load signal, the lever and the kickdown, at rest and moved by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.shop.batch import VACUUM_GAUGE, BatchFinding, BatchReading, Instrument, Row, batch_looks
from course_lib.shop.gauges import line_reading
from course_lib.shop.graded_scales import sentence
from course_lib.shop.procedure import Procedure
from course_lib.shop.subject import HOT, AskedPoint, Subject
from course_lib.shop.walk_round import idle_vacuum
from course_lib.vehicle.operating_point import operation

BY_HAND = units.from_rpm(2000)
FULL_SIGNAL_RPMS = (650, 1000, 2500)
FULL_VACUUM_INHG = 18.0
DIAPHRAGM_LETS_GO = 1.6  # share of a hand pump's vacuum lost per share that the engine's vacuum loses, fitted
LEVER_TURN = 12.0  # degrees of the lever from a port wholly open to wholly shut
KICKDOWN_TRAVEL = 1.0  # in., of a kickdown rod that is connected
SLACK_ROD = 0.1  # in., of one that hangs loose


def signal_check(subject: Subject) -> BatchFinding:
    """Whether the load signal reaches the transmission."""
    return _cable(subject) if subject.signal == "cable" else _vacuum(subject)


def _cable(subject: Subject) -> BatchFinding:
    travel, slack, pull = (subject.parameter(f"signal_{name}") for name in ("travel", "slack", "pull"))
    moves = units.to_inch(np.clip(travel - slack, 0.0, travel))
    rest = units.to_inch(np.maximum(pull - slack, 0.0))
    return BatchFinding(
        measured=(
            subject.read(
                "cable_travel_in",
                "Cable travel, pedal to the floor, engine off",
                moves,
                Instrument("in.", 0.02, 2),
            ),
            subject.read("cable_rest_in", "Cable held out at rest", rest, Instrument("in.", 0.02, 2)),
        ),
        seen=batch_looks(("cable_drags", "cable", units.to_inch(pull), "the cable {}")),
    )


def _vacuum(subject: Subject) -> BatchFinding:
    reaches = units.to_inhg(subject.plant.hydraulic_controls.vacuum(operation("P"))[1])
    loaded = units.to_inhg(subject.plant.hydraulic_controls.vacuum(operation("D", throttle=1.0))[1])
    torn = subject.parameter("signal_diaphragm_leak")
    holds = FULL_VACUUM_INHG * np.maximum(1.0 - DIAPHRAGM_LETS_GO * torn, 0.0)
    rows = (
        ("modulator_vacuum_inhg", "Vacuum at the modulator, idle", reaches),
        ("modulator_full_load_vacuum_inhg", "Vacuum at the modulator, full pedal", loaded),
        ("modulator_holds_inhg", "Modulator holds vacuum, 18 inHg applied", holds),
    )
    return BatchFinding(
        measured=(
            idle_vacuum(subject),
            *(subject.read(key, label, shown, VACUUM_GAUGE) for key, label, shown in rows),
        ),
        seen=batch_looks(
            ("hose_wet", "hose", torn, "the hose {} inside"),
            ("hose_hisses", "hose_ends", subject.parameter("signal_hose_leak"), "along the hose: {}"),
            ("modulator_stem", "stem", 1.0 - subject.parameter("signal_gain"), "stem of the modulator: {}"),
        ),
    )


def signal_by_hand(subject: Subject) -> Procedure:
    """Line pressure in Park with the load signal moved by hand, and at what the pedal really gives."""
    cable = subject.signal == "cable"
    full = "cable pulled fully by hand" if cable else "hose off and plugged"
    own = "cable pulled as far as the pedal pulls it" if cable else "as the hose gives it at full pedal"
    turning = AskedPoint("P", engine_speed=BY_HAND, temperature=HOT)
    asked = [
        (
            "p_signal_low",
            f"P, 2,000 rpm, {'cable at rest' if cable else 'hand pump, 18 inHg'}",
            replace(turning, signal=0.0),
        ),
        ("p_signal_high", f"P, 2,000 rpm, {full}", replace(turning, signal=1.0)),
        ("p_signal_pedal", f"P, 2,000 rpm, {own}", replace(turning, throttle=1.0)),
    ]
    reverse = AskedPoint("R", engine_speed=BY_HAND, temperature=HOT, signal=1.0)
    asked.append(("r_signal_high", f"R, 2,000 rpm, wheels clear, {full}", reverse))
    for rpm in FULL_SIGNAL_RPMS:
        point = replace(turning, engine_speed=units.from_rpm(rpm), signal=1.0)
        asked.append((f"p_signal_high_{rpm}", f"P, {rpm:,} rpm, {full}", point))
    work = yield [point for _, _, point in asked]
    measured = tuple(line_reading(subject, work, i, key, where) for i, (key, where, _) in enumerate(asked))
    return BatchFinding(measured=measured, caption=_answer)


def _answer(row: Row) -> list[str]:
    low, high = (row.readings[f"line_pressure_p_signal_{end}_psi"].value or 0.0 for end in ("low", "high"))
    return [sentence(f"From rest to full signal the needle moves {max(high - low, 0.0):.0f} psi")]


def linkage_check(subject: Subject) -> BatchFinding:
    """Whether lever and manual valve agree, and whether the pedal reaches the kickdown."""
    shut = subject.plant.p.element_port_shut.max((1, 2))
    connected = subject.parameter("signal_kickdown")
    switch = subject.parameter("lever_switch_off")
    travel = SLACK_ROD + (KICKDOWN_TRAVEL - SLACK_ROD) * connected
    return BatchFinding(
        measured=(
            _degrees(subject, "lever_off_deg", "Lever mark off the detent by", LEVER_TURN * shut),
            _degrees(subject, "switch_off_deg", "Neutral switch off its mark by", np.degrees(switch)),
            subject.read(
                "kickdown_travel_in",
                "Kickdown travel, pedal to the floor",
                travel,
                Instrument("in.", 0.02, 2),
            ),
        ),
        seen=batch_looks(
            ("detent", "detent", shut, "lever and detent {}"),
            ("kickdown", "kickdown", 1.0 - connected, "kickdown {}"),
            ("cranks", "cranks", np.degrees(switch), "key turned in every place of the lever: {}"),
            ("park", "park", subject.parameter("lever_park_short"), "in P on a slope, pushed by hand: {}"),
            quiet=True,
        ),
    )


def _degrees(subject: Subject, key: str, label: str, value: Array) -> BatchReading:
    return subject.read(key, label, value, Instrument("degrees", 0.3, 1))
