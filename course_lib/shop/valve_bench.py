"""Valve body and solenoids on the bench: bores under vacuum, solenoids side by side, filter gauze, and which plug sat where."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from course_lib.base import units
from course_lib.base.arrays import Array
from course_lib.physics.solenoid import linear_pressure
from course_lib.shop.batch import BatchFinding, BatchLook, BatchReading, Instrument, batch_looks
from course_lib.shop.circuits import line_solenoid, pressure_solenoids
from course_lib.shop.holders import pressed
from course_lib.shop.meter import BOILING, coil_ohms, in_the_pan, open_circuit, wire_ohms
from course_lib.shop.pan_off import BODY_SPREAD, BORE_LEAKS, PUMP_VACUUM
from course_lib.shop.subject import Subject
from course_lib.vehicle.control_spec import LINE, LOCKUP, Solenoid
from course_lib.vehicle.control_tables import control_of

VACUUM, BENCH_PSI = Instrument("inHg", 0.5, 1), Instrument("psi", 1.0)
BORE_LOSES = (
    0.08 / 0.15
)  # share of a bore's leak that counts as one of the vacuum lost: at 0.15 it holds 18 inHg, fitted
CURRENTS = 0.0, 0.5, 1.0  # A at which a pressure solenoid is tried
CREEPS = 0.1  # s of lag from which filter gauze is packed, fitted


def valve_bench(subject: Subject) -> BatchFinding:
    """Every bore and every solenoid, filter gauze, plugs, and what circulates from an earlier failure."""
    swapped = subject.parameter("control_plugs_swapped")
    measured = [_line_bore(subject), *_solenoids(subject)]
    line = line_solenoid(subject.unit)
    lag = (
        0.0 * subject.parameter("wear_debris") if line is None else subject.parameter("solenoid_lag", line[0])
    )
    mixed = ("map_wrong", "yes", swapped, "two plugs that look alike are on each other's solenoid: {}")
    return BatchFinding(
        measured=tuple(measured),
        seen=(
            BatchLook(key="varnish", scale="varnish", value=subject.state("oxidation")),
            *batch_looks(
                ("screen_blocked", "screen", lag / CREEPS, "filter gauze before the line solenoid: {}"),
                *([] if control_of(subject.unit).look_alike is None else [mixed]),
                ("bore_scratches", "scratches", subject.parameter("wear_debris"), "lands of the valves: {}"),
                quiet=True,
            ),
            _film(subject),
        ),
    )


def _film(subject: Subject) -> BatchLook:
    """Varnish on the spool of a solenoid, by how it hangs; where dirt of an earlier failure circulates, that is why it hangs."""
    clean = subject.parameter("wear_debris") <= 0.0
    places = list(pressure_solenoids(subject.unit))
    hangs = np.stack([subject.parameter("solenoid_hysteresis", i) for i, _ in places], -1) * clean[:, None]
    at = hangs.argmax(-1)
    return BatchLook(
        key="spool_film",
        scale="film",
        value=units.to_psi(hangs.max(-1)),
        text="spools of the solenoids, under a lamp: {}",
        quiet=True,
        of=tuple((each.id, each.label, at == k) for k, (_, each) in enumerate(places)),
    )


def _solenoids(subject: Subject) -> Iterator[BatchReading]:
    """Of each pressure solenoid the bore behind it, its law, how it hangs, and hot its ohms at its own pins and of its wire."""
    hot, wires = coil_ohms(subject, BOILING), wire_ohms(subject, BOILING)
    for i, each in pressure_solenoids(subject.unit):
        if each.drives != LINE:
            stem, label = _behind(subject, each)
            held = PUMP_VACUUM / (1.0 + BORE_LEAKS * BORE_LOSES * subject.parameter("solenoid_bore", i))
            yield subject.read(f"{stem}_bore_inhg", f"Vacuum held, bore of the {label} valve", held, VACUUM)
        yield from _law(subject, i, each)
        spread = units.to_psi(subject.parameter("solenoid_hysteresis", i))
        said = f"{each.label}: up against down, on the bench"
        yield subject.read(f"{each.id}_hysteresis_psi", said, spread, BENCH_PSI)
        said = f"{each.label}, at its own pins, hot, 212 °F"
        yield open_circuit(subject, f"{each.id}_own_hot_ohm", said, hot[:, i])
        loom = wires[:, in_the_pan(subject.unit, each)].sum(-1)
        said = f"Loom in the pan, wire of {each.label}, both plugs apart, hot, 212 °F"
        yield open_circuit(subject, f"{each.id}_loom_hot_ohm", said, loom)


def _law(subject: Subject, place: int, solenoid: Solenoid) -> Iterator[BatchReading]:
    """What a pressure solenoid gives on the stand's own oil at each of the currents."""
    law = [
        subject.parameter(f"solenoid_{name}", place)
        for name in ("zero_current", "full_current", "full_pressure")
    ]
    for current in CURRENTS:
        gives = units.to_psi(linear_pressure(np.full(subject.size, current), *law))
        key, label = (
            f"{solenoid.id}_bench_{10 * current:.0f}_psi",
            f"{solenoid.label}, on the bench, {current:.1f} A",
        )
        yield subject.read(key, label, gives, BENCH_PSI)


def _line_bore(subject: Subject) -> BatchReading:
    """Vacuum of the main regulator's bore, by what leaks past it."""
    leak = subject.parameter("line_body_leak") / subject.sheet.parameter("line_body_leak")
    held: Array = PUMP_VACUUM / (1.0 + BORE_LEAKS * np.maximum(leak - BODY_SPREAD, 0.0))
    return subject.read("line_bore_inhg", "Vacuum held, bore of the pressure regulator", held, VACUUM)


def _behind(subject: Subject, solenoid: Solenoid) -> tuple[str, str]:
    """(stem, label) of what the valve behind a solenoid feeds."""
    if solenoid.drives == LOCKUP:
        return "tcc", "lock-up"
    holder = next(each for each in pressed(subject.unit) if each.element.id == solenoid.drives)
    return holder.stem, holder.label
