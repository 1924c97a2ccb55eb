"""Which picture goes with a finding: decided by what was read and seen, never by the name of the inspection."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from course_lib.faults.parts import out_of_order
from course_lib.plots import (
    control_pictures,
    cooler_picture,
    curves,
    dipstick,
    gauge_faces,
    pans,
    plates,
    reading_rows,
    sensor_pictures,
)
from course_lib.plots.picture import Picture
from course_lib.plots.road_test_trace import road_trace
from course_lib.shop.findings import OUTSIDE, Finding, Reading
from course_lib.vehicle.unit_spec import UnitSpec, load_unit


@dataclass(frozen=True, slots=True)
class _Kind:
    """Pictures of a finding: drawn where every one of `keys` (patterns of keys of readings and looks) is met, from `least`
    readings that meet the first; what meets `also` is drawn in it too."""

    keys: tuple[str, ...]
    draw: Callable[..., Iterable[Picture]]
    least: int = 1
    also: tuple[str, ...] = ()


def _faces(title: str = "") -> Callable[..., Iterable[Picture]]:
    """Readings on gauges; title: where what all their names share makes none."""

    def draw(
        finding: Finding, readings: list[Reading], _unit: UnitSpec | None, **how: Any
    ) -> Iterable[Picture]:
        if len(readings) == 1:
            return (gauge_faces.gauge(readings[0], **how),)
        return (gauge_faces.board(readings, finding, title=title, **how),)

    return draw


def _whole(draw: Callable[..., Picture]) -> Callable[..., Iterable[Picture]]:
    """A picture that looks at the whole finding, not only at the readings that called for it."""
    return lambda finding, _readings, _unit, **how: (draw(finding, **how),)


def _with_unit(draw: Callable[..., Iterator[Picture]]) -> Callable[..., Iterable[Picture]]:
    """Pictures that need the unit's data beside the finding; none where the unit is not known."""
    return lambda finding, _readings, unit, **how: () if unit is None else draw(finding, unit, **how)


def _rows(finding: Finding, readings: list[Reading], _unit: UnitSpec | None, **how: Any) -> Iterable[Picture]:
    return (reading_rows.rows(readings, finding, **how),)


def _titled(title: str, lead: str) -> Callable[..., Iterable[Picture]]:
    """Readings row by row over one scale."""
    return lambda finding, readings, _unit, **how: (
        reading_rows.on_one_scale(title, readings, finding, lead=lead, **how),
    )


def _slip(finding: Finding, readings: list[Reading], _unit: UnitSpec | None, **how: Any) -> Iterator[Picture]:
    """What slips, and what flares in a shift, each under its own name."""
    for title, lead in (("Slip", "Slips by, "), ("Flare", "Flare, ")):
        flares = title == "Flare"
        if own := [each for each in readings if each.label.startswith("Flare") == flares]:
            yield reading_rows.on_one_scale(title, own, finding, lead=lead, **how)


# In this order; a finding may call for several.
KINDS = (
    _Kind((r"level_\w+_in",), _whole(dipstick.fluid_level)),
    _Kind((r"powder", r"magnet", r"filter"), _whole(pans.oil_pan), 0, (r".+",)),
    _Kind((r"lining_\w+",), _whole(plates.packs), 0, tuple(f"{name}_\\w+" for name in plates.SEEN)),
    _Kind((r"(clearance|turns)_\w+",), _whole(plates.packs)),
    _Kind(("cooler_flow_s_per_qt", *cooler_picture.SHOWN), _whole(cooler_picture.cooler)),
    _Kind((r"line_pressure_\w_idle_psi",), _faces()),
    _Kind((r"line_pressure_p_(signal_\w+|\d+)_psi",), _whole(curves.line_against_rpm), 3),
    _Kind(
        (r"circuit_drop_\w+_psi",), _titled("How far below line each circuit stands", "Pressure below line, ")
    ),
    _Kind(
        (r"residual_\w+_psi",),
        _titled("Circuits that should be empty", "Pressure where there should be none, "),
    ),
    _Kind((r"governor_pressure_\d+_psi",), _whole(curves.governor_curve), 2),
    _Kind((r"shift_\w+_mph",), _whole(reading_rows.shift_speeds)),
    _Kind((r"(road|owner|morning|found|set|flare)_\w+_rpm",), _slip),
    _Kind((r"stall_\w_rpm",), _faces()),
    _Kind((r"(modulator|manifold)_\w*inhg",), _faces()),
    _Kind((r"exhaust_\w+_psi",), _faces()),
    _Kind((r"air_\w+_psi",), _faces("Pressure held after shut-off, from 30 psi")),
    _Kind((r"cooler_holds_psi",), _faces()),
    _Kind((r"(?!level_|clearance_).+_(in|deg|lbf)",), _rows),
    # of an electronic control
    _Kind((r"code_\w+",), _with_unit(control_pictures.codes), 0, (r"frame_\w+",)),
    _Kind(("diagram",), _with_unit(control_pictures.wiring), 0),
    _Kind(
        ("green", "plug_water"), _with_unit(control_pictures.plug), 0, ("fretted", "spread", "oil", "chafe")
    ),
    _Kind((r"ratio_error_\w+_pct",), _titled("Ratio against the sheet", "Ratio against the sheet, ")),
    _Kind((r"ratio_error_\w+_pct",), _with_unit(control_pictures.log)),
    _Kind((r"time_\w+_s",), _with_unit(control_pictures.shifts), 1, (r"(flare|tie)_\w+",)),
    _Kind((r"time_\w+_s",), _titled("Shift times", "Shift time, ")),
    _Kind((r"(rest|crank|charge|ripple)_v",), _rows, 4),
    _Kind((r"gap_\w+_a",), _titled("Current by clamp meter, less the command", "Measured less commanded, ")),
    _Kind((r"duty_\w+_pct",), _titled("Duty of the drivers", "Duty, ")),
    _Kind((r"\w+_v", "(relay|g1)_v"), _with_unit(control_pictures.drops)),
    _Kind((r"\w+_ohm(_gap)?",), _with_unit(control_pictures.ohms)),
    _Kind((r"fill_\w+_ms",), _with_unit(control_pictures.learned), 1, (r"pressure_\w+_psi",)),
    _Kind(("ohm", "modules_missing"), _with_unit(control_pictures.bus), 1, ("high_v", "low_v")),
    _Kind((r"\w+_(v_per_1000|low_v)",), _with_unit(sensor_pictures.scope), 1, (r"\w+_v", r"\w+_gaps")),
    _Kind(
        (r"gap_\w+_psi",),
        _titled("Line pressure, gauge less command", "Gauge less command, "),
    ),
    _Kind(
        (r"dip_\w+_psi",),
        _titled("Clutch taps below what their valves give", "Clutch tap below valve pressure, "),
    ),
    _Kind((r"tap_\w+_psi",), _titled("Clutch taps less their commands", "Clutch tap less its command, ")),
    _Kind((r"(jitter|tcc_\w+|line_follows)_psi",), _rows),
    _Kind((r"(short_qt|tft_error_f)", "short_qt"), _rows),
    _Kind((r"(tire|sidewall_spread)_pct",), _rows),
    _Kind((r"\w+_bore_inhg",), _with_unit(control_pictures.bench), 1, (r"\w+_hysteresis_psi",)),
    _Kind((r"\w+_bench_\d+_psi",), _rows),
)


def pictures_of(
    finding: Finding, *, verdict: bool, system: str = "workshop", unit: str | None = None
) -> tuple[Picture, ...]:
    """Every picture that shows something of `finding`, those with something out of order first; none where there is nothing
    but words.

    verdict: whether a picture may say what a reading means. unit: name of the transmission, for pictures that need its sheet.
    """
    return tuple(_pictures(finding, verdict=verdict, system=system, unit=unit))


def of_finding(
    finding: Finding, *, verdict: bool, system: str = "workshop", unit: str | None = None
) -> Picture | None:
    """The picture that shows most of `finding`, or None where there is nothing but words; see `pictures_of`."""
    return next(_pictures(finding, verdict=verdict, system=system, unit=unit), None)


def _pictures(finding: Finding, *, verdict: bool, system: str, unit: str | None) -> Iterator[Picture]:
    met = [(kind, readings) for kind in KINDS if (readings := _met(finding, kind)) is not None]
    if verdict:  # where nobody may say what a reading means, not even the order of the pictures does
        met.sort(key=lambda one: not _out_of_order(finding, *one))
    spec = load_unit(unit) if unit else None
    for kind, readings in met:
        yield from kind.draw(finding, readings, spec, verdict=verdict, system=system)
    if unit and any(each.key.startswith("shift_") for each in finding.readings):
        yield road_trace(finding, unit, verdict=verdict, system=system)


def _out_of_order(finding: Finding, kind: _Kind, readings: list[Reading]) -> bool:
    """Whether a picture shows a reading outside its spec, or damage that was seen."""
    drawn = (*kind.keys, *kind.also)
    looks = [look for look in finding.looks if _matches(look.key, drawn)]
    readings = readings + [r for r in finding.readings if _matches(r.key, drawn)]
    return any(r.verdict in OUTSIDE for r in readings) or any(map(out_of_order, looks))


def _matches(key: str, patterns: tuple[str, ...]) -> bool:
    return any(re.fullmatch(pattern, key) for pattern in patterns)


def _met(finding: Finding, kind: _Kind) -> list[Reading] | None:
    """The readings a kind of picture is drawn from, None where it does not fit."""
    keys = [r.key for r in finding.readings] + [look.key for look in finding.looks]
    if not all(any(re.fullmatch(pattern, key) for key in keys) for pattern in kind.keys):
        return None
    wanted = [r for r in finding.readings if re.fullmatch(kind.keys[0], r.key) and r.value is not None]
    return wanted if len(wanted) >= kind.least else None
