"""Inspections made with the pan still on: look, drive, and measure from outside. Each returns (readings, words)."""

from __future__ import annotations

import numpy as np

from course_lib import units
from course_lib.physics import fluid
from course_lib.shop.findings import Reading
from course_lib.shop.subject import COLD, HOT, Subject
from course_lib.shop.words import grade, sentence, word
from course_lib.transmission.felt import LIGHT_PEDAL
from course_lib.transmission.point import operation

IDLE = units.from_rpm(650)
IDLE_LEVERS = ("P", "N", "D", "2", "1", "R")
RPMS = (1000, 1500, 2000, 2500)
FULL_SIGNAL_RPMS = (650, 1000, 2500)
LONGEST_WAIT = 120.0  # s after which nobody holds the can any longer
STALL_LIMIT = 3200  # rpm at which one lifts at once
BY_HAND = units.from_rpm(2000)
GAUGE_SIGMA = 0.7  # psi, a good 400 psi gauge read to the nearest mark
GOVERNOR_MPH = (0, 20, 40, 60)
FULL_VACUUM_INHG = 18.0
COOLING = 6.0  # K over an hour's drive that the return line stays above the coolant

Found = tuple[list[Reading], list[str]]


def walk_round(subject: Subject) -> Found:
    """Leaks, fins, marks."""
    words = subject.found("walk_round")
    return [], words or ["No wet joint, fins clean, vent open, tires worn evenly."]


def engine_check(subject: Subject) -> Found:
    """Idle speed and manifold vacuum."""
    manifold = subject.plant.vacuum(operation("P"))[0].item()
    readings = [
        subject.read(
            "idle_speed_rpm", "Idle speed, P, hot", units.to_rpm(subject.parameter("engine_idle")), "rpm", 10
        ),
        subject.read(
            "manifold_vacuum_inhg",
            "Vacuum at the manifold, idle",
            units.to_inhg(manifold),
            "inHg",
            0.2,
            decimals=1,
        ),
    ]
    return readings, subject.found("engine_check") or ["The engine idles evenly and picks up cleanly."]


# ---------------------------------------------------------------------- fluid
def fluid_words(subject: Subject, air: float) -> str:
    """Color, smell and bubbles of the fluid."""
    burnt = float(subject.condition.char.max())
    color = subject.entry("oxidation") + 0.9 * burnt
    return sentence(
        f"Fluid {word('color', color)}, {word('smell', color + 0.4 * burnt)}, {word('bubbles', air)}"
    )


def _level(subject: Subject, temperature: float, *, running: bool) -> float:
    """What the level indicator shows [in. from the FULL mark]: the fluid, and what is wrong with the indicator."""
    flow = subject.parameter("pump_displacement") * subject.parameter("engine_idle") / (2 * np.pi)
    height = subject.plant.height(subject.condition, np.array([[temperature]]), flow, running=running).item()
    shown = height - subject.parameter("sump_full_height") + subject.parameter("sump_gauge_offset")
    return units.to_inch(shown)


def fluid_hot(subject: Subject) -> Found:
    """Level against the hot mark, running."""
    work = subject.at(operation("P", engine_speed=IDLE, temperature=HOT))
    foam = float(max(work.air_time.item(), subject.driving.air_time.mean()))
    level = subject.read(
        "level_hot_in",
        "Level from FULL, hot, idling, P",
        _level(subject, HOT, running=True),
        "in.",
        0.02,
        decimals=2,
        signed=True,
    )
    return [level], [fluid_words(subject, foam), *subject.found("fluid_hot")]


def fluid_cold(subject: Subject) -> Found:
    """Level against the hot mark, cold: idling, and with the engine off."""
    readings = [
        subject.read(
            "level_cold_in",
            "Level from FULL, cold, idling, P",
            _level(subject, COLD, running=True),
            "in.",
            0.03,
            decimals=2,
            signed=True,
        ),
        subject.read(
            "level_engine_off_in",
            "Level from FULL, cold, engine off",
            _level(subject, COLD, running=False),
            "in.",
            0.03,
            decimals=2,
            signed=True,
        ),
    ]
    return readings, [
        fluid_words(subject, 0.0),
        "Cold readings only show whether it is safe to warm it up; the hot check counts.",
    ]


# ---------------------------------------------------------------------- load signal
def signal_check(subject: Subject) -> Found:
    """Whether the load signal reaches the transmission."""
    readings = _cable(subject) if subject.signal == "cable" else _vacuum(subject)
    sound = (
        "The cable moves freely."
        if subject.signal == "cable"
        else "The hose is dry and sits tight at both ends."
    )
    return readings, subject.found("signal_check") or [sound]


def _cable(subject: Subject) -> list[Reading]:
    travel = np.clip(
        subject.parameter("signal_travel") - subject.parameter("signal_slack"),
        0.0,
        subject.parameter("signal_travel"),
    )
    rest = max(subject.parameter("signal_pull") - subject.parameter("signal_slack"), 0.0)
    return [
        subject.read(
            "cable_travel_in",
            "Cable travel, pedal to the floor, engine off",
            units.to_inch(travel),
            "in.",
            0.02,
            decimals=2,
        ),
        subject.read("cable_rest_in", "Cable held out at rest", units.to_inch(rest), "in.", 0.02, decimals=2),
    ]


def _vacuum(subject: Subject) -> list[Reading]:
    idle = operation("P")
    manifold, reaches = (units.to_inhg(value.item()) for value in subject.plant.vacuum(idle))
    loaded = units.to_inhg(subject.plant.vacuum(operation("D", throttle=1.0))[1].item())
    holds = FULL_VACUUM_INHG * max(1.0 - 1.6 * subject.parameter("signal_diaphragm_leak"), 0.0)
    return [
        subject.read(
            "manifold_vacuum_inhg", "Vacuum at the manifold, idle", manifold, "inHg", 0.2, decimals=1
        ),
        subject.read(
            "modulator_vacuum_inhg", "Vacuum at the modulator, idle", reaches, "inHg", 0.2, decimals=1
        ),
        subject.read(
            "modulator_full_load_vacuum_inhg",
            "Vacuum at the modulator, full pedal",
            loaded,
            "inHg",
            0.2,
            decimals=1,
        ),
        subject.read(
            "modulator_holds_inhg", "Hand pump on the modulator holds, of 18", holds, "inHg", 0.2, decimals=1
        ),
    ]


def signal_by_hand(subject: Subject) -> Found:
    """Line pressure in Park with the load signal moved by hand, and at what the pedal really gives."""
    own = subject.plant.load_signal(operation("P", throttle=1.0)).item() / max(
        subject.parameter("signal_gain"), 1e-6
    )
    asks = {"low": 0.0, "high": 1.0, "pedal": own}
    op = operation("P", engine_speed=BY_HAND, signal=list(asks.values()), temperature=HOT)
    work = subject.at(op)
    cable = subject.signal == "cable"
    labels = {
        "low": "cable at rest" if cable else "hand pump, 18 inHg",
        "high": "cable pulled fully by hand" if cable else "hose off and plugged",
        "pedal": "cable pulled as far as the pedal pulls it"
        if cable
        else "as the hose gives it at full pedal",
    }
    readings = [
        _pressure(subject, work, i, f"p_signal_{name}", f"P, 2,000 rpm, {labels[name]}")
        for i, name in enumerate(asks)
    ]
    swept = operation(
        "P", engine_speed=[units.from_rpm(rpm) for rpm in FULL_SIGNAL_RPMS], signal=1.0, temperature=HOT
    )
    work = subject.at(swept)
    readings += [
        _pressure(subject, work, i, f"p_signal_high_{rpm}", f"P, {rpm:,} rpm, {labels['high']}")
        for i, rpm in enumerate(FULL_SIGNAL_RPMS)
    ]
    return readings, [sentence(_answer(readings))]


def _answer(readings: list[Reading]) -> str:
    moved = (readings[1].value or 0.0) - (readings[0].value or 0.0)
    return f"From rest to full signal the needle moves {max(moved, 0.0):.0f} psi"


# ---------------------------------------------------------------------- pressures
def _pressure(subject: Subject, work, point: int, key: str, where: str) -> Reading:
    """One line-pressure reading; the needle swings where the pump gulps air."""
    mean = units.to_psi(work.line[0, point].item())
    low, high = (
        units.to_psi(work.line_low[0, point].item()),
        units.to_psi(work.line_phase[0, 0, point].item()),
    )
    swing = (low, high) if high - low > 3.0 and work.air_time[0, point] > 0.01 else None
    shown = 0.5 * (low + high) if swing else mean
    return subject.read(
        f"line_pressure_{key}_psi", f"Line pressure, {where}", shown, "psi", GAUGE_SIGMA, swing=swing
    )


def line_pressure(subject: Subject) -> Found:
    """Every lever position at idle, Park against engine speed, one cold reading, and the circuits against the line."""
    idle = subject.at(operation(IDLE_LEVERS, engine_speed=IDLE, temperature=HOT))
    readings = [
        _pressure(subject, idle, i, f"{lever.lower()}_idle", f"{lever}, idle")
        for i, lever in enumerate(IDLE_LEVERS)
    ]
    swept = subject.at(operation("P", engine_speed=[units.from_rpm(rpm) for rpm in RPMS], temperature=HOT))
    readings += [_pressure(subject, swept, i, f"p_{rpm}", f"P, {rpm:,} rpm") for i, rpm in enumerate(RPMS)]
    cold = subject.at(operation("P", engine_speed=IDLE, temperature=COLD))
    readings.append(_pressure(subject, cold, 0, "p_cold", "P, idle, cold, first thing"))
    readings += _circuit_drops(subject)
    shaking = [reading.label for reading in readings if reading.swing]
    words = (
        [f"The needle does not stand still at {len(shaking)} of the readings."]
        if shaking
        else ["The needle stands still."]
    )
    return readings, words


def _circuit_drops(subject: Subject) -> list[Reading]:
    """How far the tap of each circuit stands below the line while it is applied, at idle with a light signal."""
    unit = subject.plant.unit
    levers = {"1": "forward_clutch", "2": "intermediate_band", "R": "direct_clutch"}
    readings = []
    for lever, element in [*levers.items(), ("R", "low_reverse_band")]:
        if lever not in unit.levers or not subject.has(element):
            continue
        work = subject.at(operation(lever, engine_speed=units.from_rpm(1000), temperature=HOT))
        drop = units.to_psi((work.line - work.circuit[..., subject.column(element)]).item())
        name = unit.elements[subject.column(element)].label
        key = element.removesuffix("_clutch").removesuffix("_band")
        readings.append(
            subject.read(
                f"circuit_drop_{key}_psi",
                f"Tap of the {name} below line, {lever}, 1,000 rpm",
                drop,
                "psi",
                1.0,
            )
        )
    return readings


def governor_pressure(subject: Subject) -> Found:
    """The governor curve."""
    readings = [
        subject.read(
            f"governor_pressure_{mph}_psi",
            f"Governor pressure, {mph} mph",
            units.to_psi(subject.plant.governor(units.from_mph(mph)).item()),
            "psi",
            0.5,
        )
        for mph in GOVERNOR_MPH
    ]
    return readings, ["Read on the way up and again on the way down: both agree."]


# ---------------------------------------------------------------------- road, stall, cooler
MOVES = (
    ("first_hard", "first, D, hard pull-away", "D", 0.65, 7, 0.12),
    ("manual_1", "manual 1, pulling", "1", 0.55, 10, 0.08),
    ("second_pull", "second, pulling", "2", 0.60, 28, 0.08),
    ("third_hill", "third, up a long hill", "D", 0.60, 52, 0.08),
    ("bend", "D, tight bend at 25 mph", "D", 0.30, 25, 0.225),
    ("ramp", "D, up a steep ramp", "D", 0.50, 5, 0.235),
    ("reverse_ramp", "R, up a ramp", "R", 0.50, 3, 0.14),
)


def road_test(subject: Subject) -> Found:
    """Every holding element asked in turn, and the shift speeds."""
    temperature = float(np.clip(subject.sump_temperature, 340.0, 420.0))
    op = operation(
        [move[2] for move in MOVES],
        throttle=[move[3] for move in MOVES],
        road_speed=[units.from_mph(move[4]) for move in MOVES],
        tilt=[move[5] for move in MOVES],
        temperature=temperature,
    )
    work = subject.at(op)
    readings, words = [], []
    for i, (key, label, *_rest) in enumerate(MOVES):
        slip = units.to_rpm(work.slip[0, i].item())
        readings.append(subject.read(f"road_{key}_slip_rpm", f"Engine runs away, {label}", slip, "rpm", 8))
        if grade("hold", work.loss[0, i].item()):
            words.append(sentence(f"{label}: {word('hold', work.loss[0, i].item())}"))
    readings += _shift_speeds(subject) + _flares(subject)
    return readings, words or ["Every range holds."]


def _shift_speeds(subject: Subject) -> list[Reading]:
    readings = []
    for pedal, name in ((LIGHT_PEDAL, "light"), (1.0, "full")):
        for shift, speed in zip(("12", "23"), subject.plant.upshift_speeds(pedal)[0], strict=True):
            label = f"Upshift {shift[0]} to {shift[1]}, {name} pedal"
            mph = units.to_mph(speed) if np.isfinite(speed) else None
            readings.append(
                subject.read(
                    f"shift_{shift}_{name}_mph", label, mph, "mph", 0.5, note="" if mph else "no upshift"
                )
            )
    return readings


def _flares(subject: Subject) -> list[Reading]:
    """How far the engine runs away between two gears."""
    hot = subject.sump_temperature
    shifts = (("12", "D", 30, "intermediate_band"), ("23", "D", 50, "direct_clutch"))
    readings = []
    for shift, lever, mph, element in shifts:
        if subject.has(element):
            work = subject.at(
                operation(lever, throttle=0.55, road_speed=units.from_mph(mph), temperature=hot)
            )
            flare = units.to_rpm(work.flare[0, 0, subject.column(element)].item())
            label = f"Engine runs away between {shift[0]} and {shift[1]}, half pedal"
            readings.append(subject.read(f"flare_{shift}_rpm", label, flare, "rpm", 25))
    return readings


def stall_test(subject: Subject) -> Found:
    """Full throttle against the brakes, D and R."""
    work = subject.at(operation(["D", "R"], throttle=1.0, temperature=HOT))
    speeds = units.to_rpm(work.engine_speed + work.slip)[0]
    readings = [
        subject.read(
            f"stall_{lever.lower()}_rpm",
            f"Stall speed, {lever}",
            min(float(speed), STALL_LIMIT),
            "rpm",
            20,
            note="lifted at once, it went on rising" if speed > STALL_LIMIT else "",
        )
        for lever, speed in zip("DR", speeds, strict=True)
    ]
    return readings, ["Five seconds each, two minutes in N between."]


def cooler_check(subject: Subject) -> Found:
    """Temperature before and after the cooler on the owner's kind of road, and the flow."""
    work = subject.at(operation("P", engine_speed=IDLE, temperature=HOT))
    flow = work.cooler_flow.item()
    sump = subject.sump_temperature
    rate = max(
        flow
        * fluid.density(sump, subject.parameter("fluid_density_15c"))
        * subject.parameter("fluid_specific_heat"),
        1.0,
    )
    share = subject.driving.cooler_conductance.mean() / rate
    drop = np.clip(share, 0.0, 1.0) * max(sump - subject.parameter("heat_cooler_sink"), COOLING)
    seconds = min(units.QUART / max(flow, 1e-9), LONGEST_WAIT)
    readings = [
        subject.read(
            "sump_temp_f", "Sump temperature after an hour's drive", units.to_fahrenheit(sump), "°F", 2
        ),
        subject.read("cooler_drop_f", "Temperature lost across the cooler", drop * 1.8, "°F", 2),
        subject.read(
            "cooler_flow_s_per_qt",
            "Cooler return, seconds for a quart",
            seconds,
            "s",
            0.7,
            note="stopped before the quart was full" if seconds >= LONGEST_WAIT else "",
        ),
    ]
    return readings, subject.found("cooler_check") or ["The return runs clean."]
