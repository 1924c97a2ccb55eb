"""Electrical findings for the tests of their figures: numbers an electronic unit would give, all invented."""

import numpy as np

from course_lib import plots
from course_lib.plots import (
    CircuitPiece,
    DataLog,
    FrameEntry,
    LearnedValue,
    ListedCode,
    LogChannel,
    LogEvent,
    MeasuredPoints,
    MeterReading,
    ScopeTrace,
    ShiftPhase,
    ShiftTrace,
)
from course_lib.plots.waveforms import coil_wave, hall_wave, hash_wave, inductive_wave, pulse_wave
from course_lib.shop.findings import Reading
from course_lib.vehicle.unit_spec import load_unit

ASKED = ("Transmission controller", "Engine controller", "Brake module")


def reading(key, label, value, unit, spec=None, decimals=0, **more):
    """A reading without noise."""
    return Reading(
        key=key, label=label, value=value, unit=unit, spec=spec, sigma=0.0, decimals=decimals, **more
    )


def frame(sump, speed, gear, lockup, volts, **more):
    """A freeze frame with its words."""
    entries = [
        FrameEntry("fluid", f"{sump} \u00b0F", "hot" if sump > 200 else "cold" if sump < 120 else "warm"),
        FrameEntry("road speed", f"{speed} mph", "standing" if not speed else "moving"),
        FrameEntry("gear", gear),
        FrameEntry("lock-up", lockup),
        FrameEntry("supply", f"{volts:.1f} V"),
        FrameEntry("pedal", f"{more.pop('pedal', 34)} %"),
    ]
    return (*entries, *(FrameEntry(name.replace("_", " "), text) for name, text in more.items()))


def codes():
    """A feed pin that has gone green, on a long hill, and what else speaks up."""
    tcm, ecm = ASKED[:2]
    own = {
        "line_commanded": "212 psi",
        "PCD_commanded": "1.00 A",
        "PCD_measured": "0.81 A",
        "duty": "95 %",
        "since_start": "2,460 s",
    }
    return (
        ListedCode(
            "P2716",
            "Pressure control solenoid D, electrical",
            "stored",
            tcm,
            frame(216, 54, "third", "on", 13.4, **own),
        ),
        ListedCode(
            "P0743",
            "Converter lock-up solenoid circuit, electrical",
            "pending",
            tcm,
            frame(221, 61, "fifth", "on", 13.3, **own),
        ),
        ListedCode(
            "P0733", "Wrong ratio in third gear", "pending", tcm, frame(218, 49, "third", "on", 13.4, **own)
        ),
        ListedCode(
            "P0882",
            "Controller supply voltage low",
            "stored",
            tcm,
            frame(214, 0, "first", "off", 8.9, pedal=0),
        ),
        ListedCode("P0700", "Transmission controller asks for the lamp", "stored", ecm),
    )


def log():
    """A minute cut to twelve seconds: turbine speed drops out twice, the tool loses the bus once, lock-up slips."""
    rng = np.random.default_rng(5)
    t = np.delete(np.arange(0.0, 12.0, 0.125), np.arange(60, 68))
    oss = 1180 + 60 * t + rng.normal(0, 3, t.size)
    tss = 1.1307 * oss
    engine = tss + np.where(t > 5.0, 240.0, 1250.0 * np.exp(-t)) + rng.normal(0, 8, t.size)
    slip = np.where(t > 5.0, engine - tss, np.nan)
    tss = np.where((np.abs(t - 3.1) < 0.2) | (np.abs(t - 10.2) < 0.13), 0.0, tss)
    pedal = np.where(t > 1.0, 34.0, 12.0) + rng.normal(0, 0.4, t.size)
    fluid = np.where(t > 6.0, np.nan, 204 + 0.4 * t)
    return DataLog(
        "Data log, long hill, fourth with lock-up on",
        t,
        (
            LogChannel("Engine speed", "rpm", engine, "speeds"),
            LogChannel("Turbine speed (TSS)", "rpm", tss, "speeds"),
            LogChannel("Output speed (OSS)", "rpm", oss, "speeds"),
            LogChannel("Lock-up slip, engine minus turbine", "rpm", slip, "slip", 0, (25.0, 55.0)),
            LogChannel("Pedal", "%", pedal, "pedal"),
            LogChannel("Fluid temperature (TFT)", "\u00b0F", fluid, "fluid", 0),
        ),
        (LogEvent(1.0, "pedal to a third"), LogEvent(5.0, "lock-up commanded on")),
    )


def shift(kind="late"):
    """A 2-3 shift from the spec sheet's ratios: sound, fill late (flare), fill early (tie-up), or weak (slow)."""
    t = np.arange(0.0, 2.0, 0.01)
    output = 1250 + 55 * t
    old, new = 2.262 * output, 1.463 * output
    done = {"sound": 0.42, "late": 0.5, "early": 0.4, "weak": 1.2}[kind]

    def fall(start, took):
        share = np.clip((t - start) / took, 0.0, 1.0)
        return old + (new - old) * (3 * share**2 - 2 * share**3)

    turbine = fall(0.47 if kind != "late" else 0.52, done)
    if kind == "late":
        turbine = turbine + 210 * np.exp(-(((t - 0.47) / 0.06) ** 2))
    if kind == "early":
        turbine = turbine - 130 * np.exp(-(((t - 0.34) / 0.035) ** 2))
    phases = [
        ("fill", 0.2, 0.315),
        ("torque", 0.315, 0.47),
        ("inertia", 0.47, 0.47 + done),
        ("lock", 0.47 + done, 1.9),
    ]
    return ShiftTrace(
        t,
        turbine,
        old,
        new,
        tuple(ShiftPhase(*p) for p in phases),
        fall(0.47, 0.42),
        turbine + 180,
    )


SHIFT_READINGS = (
    reading("flare_23_rpm", "Flare, 2-3", 212.0, "rpm", (None, 50.0)),
    reading("time_23_s", "Shift time, 2-3", 0.5, "s", (0.35, 0.6), 2),
    reading("tie_23_g", "Dip of acceleration, 2-3", 0.01, "g", (None, 0.05), 2),
)


def meter(value=6.8, *, spec=(None, 0.5)):
    """The drop of feed B under load, or a coil with no way through."""
    names = (
        "battery +",
        "F1 out",
        "K1 out",
        "X1 pin 2, loom",
        "X1 pin 2, case",
        "X1 pin 6",
        "battery \u2212",
    )
    pieces = (
        CircuitPiece("fuse F1 20 A", "fuse"),
        CircuitPiece("relay K1", "relay"),
        CircuitPiece("feed B wire", "wire"),
        CircuitPiece("X1 pin 2", "pin"),
        CircuitPiece("coil PCD", "coil"),
        CircuitPiece("driver and ground", "driver"),
    )
    if value is None:
        return MeterReading(
            reading("ohm", "Solenoid C at X1, 212 \u00b0F", None, "\u03a9", (6.6, 7.4), 1),
            "ohms",
            (CircuitPiece("X1 pulled apart", "parted"), CircuitPiece("coil PCC", "coil"),
             CircuitPiece("X1 pulled apart", "parted")),
            ("loom side of pin 1", "X1 pin 1, case side", "X1 pin 5, case side", "loom side of pin 5"),
            1,
            2,
            "Key off two minutes, X1 unplugged, sump at 212 \u00b0F by a second thermometer",
        )  # fmt: skip
    return MeterReading(
        reading("drop", "Voltage drop, feed B, third with lock-up on", value, "V", spec, 2),
        "volts",
        pieces,
        names,
        1,
        4,
        "All loads of feed B commanded on: PCD 1.00 A, lock-up on",
    )


def scopes():
    """Screens a mechanic meets: coil current over its pulses, a missing tooth, a Hall signal that does not go low, noise."""
    ms = np.linspace(0.0, 0.02, 2001)
    fast = np.linspace(0.0, 0.01, 2001)
    slow = np.linspace(0.0, 0.005, 2001)
    coil = ScopeTrace(
        "current of PCD, clamp", slow, coil_wave(slow, 1000.0, 0.51, 13.5, 7.0, 0.012), "A", 0.2, 0.0
    )
    pin = ScopeTrace(
        "voltage at X2, pin of PCD", slow, pulse_wave(slow, 1000.0, 0.51, 13.5, 0.3), "V", 5.0, 4.5
    )
    oss = ScopeTrace("OSS, across its two wires", ms, inductive_wave(ms, 700.0, 2.4, (4,)), "V", 1.0, 4.0)
    tss = ScopeTrace("TSS, signal to sensor ground", fast, hall_wave(fast, 700.0, 2.1, 4.9), "V", 1.0, 1.0)
    noisy = ScopeTrace(
        "OSS, across its two wires", ms, inductive_wave(ms, 200.0, 0.5) + hash_wave(ms, 0.5, 900.0, 3), "V", 0.5, 4.0
    )  # fmt: skip
    low = reading("tss_low_v", "Low level of TSS", 2.1, "V", (0.3, 0.8), 1)
    high = reading("tss_high_v", "High level of TSS", 4.9, "V", (4.6, 5.2), 1)
    return {
        "coil": (("Solenoid D, third gear, hot", (coil, pin), 5e-4), ()),
        "tooth": (
            ("Output speed sensor, 1,400 rpm", (oss,), 2e-3),
            (reading("oss", "Peak to peak for each 1,000 rpm", 3.4, "V", (4.0, 6.0), 1),
             reading("gaps", "Long gaps in a turn", 1.0, "", (0.0, 0.0))),
        ),
        "hall": (("Turbine speed sensor, 700 rpm", (tss,), 1e-3), (low, high)),
        "noise": (("Output speed sensor, 400 rpm", (noisy,), 2e-3), ()),
    }  # fmt: skip


def drops():
    """Voltage drops round the power path: all of it lies in feed B."""
    rows = (
        ("Battery + to feed B behind X1, third with lock-up on", 6.82, 0.5, "battery", "feed_b"),
        ("Battery + to feed A behind X1, the same", 0.21, 0.5, "battery", "feed_a"),
        ("Fuse F1", 0.04, 0.2, "battery", "fuse_out"),
        ("Contacts of relay K1", 0.06, 0.2, "fuse_out", "relay_out"),
        ("Ground G1, all loads on", 0.05, 0.1, "controller_ground", "body"),
    )
    return tuple(
        MeasuredPoints(reading(f"drop_{k}", label, value, "V", (None, most), 2), red, black)
        for k, (label, value, most, red, black) in enumerate(rows)
    )


SENSOR_GROUND = MeasuredPoints(
    reading("sensor_ground_v", "Sensor ground", 0.01, "V", (None, 0.05), 2),
    "sensor_ground",
    "x2_sensor_ground",
)


def learned():
    """What is learned with a worn reduction clutch: its fill at the end, the pressure of its shifts high."""
    fills = (("low clutch", 12), ("high clutch", -4), ("reduction clutch", 60), ("sun brake", 8))
    shifts = (("1-2", 1), ("2-3", 14), ("3-4", 0), ("4-5", 9), ("5-6", -2))
    return (
        *(LearnedValue(reading(n, f"Fill, {n}", v, "ms", (-15.0, 15.0)), -40.0, 60.0) for n, v in fills),
        *(
            LearnedValue(reading(n, f"Pressure, shift {n}", v, "psi", (-3.0, 3.0)), -12.0, 24.0)
            for n, v in shifts
        ),
    )


def plug():
    """X1 after a winter: water on one side, green where the feed comes in, a socket spread by a probe."""
    names = "feed A|feed B|PCA|PCB|PCC|PCD|PCE|TCP|SSA|fluid temp.|sensor ground|TSS supply|TSS signal|OSS|OSS back|PSH|PSL|empty"
    seen = {2: "green", 6: "spread", 10: "water", 11: "water", 16: "pushed back", 5: "oil", 18: "empty"}
    return tuple(plots.PlugPin(k, name, seen.get(k, "clean")) for k, name in enumerate(names.split("|"), 1))


def pictures(*, verdict, system="workshop"):
    """Every figure of an electrical finding, by name."""
    how = {"verdict": verdict, "system": system}
    drawn = {
        "codes": plots.code_list(codes(), ASKED, **how),
        "no codes": plots.code_list((), ASKED, **how),
        "log": plots.data_log(log(), **how),
        "drop": plots.meter(meter(), **how),
        "no way": plots.meter(meter(None), **how),
    }
    for kind in ("sound", "late", "early", "weak"):
        drawn[f"shift {kind}"] = plots.shift_graph(
            "Shift 2-3, light pedal", shift(kind), SHIFT_READINGS, **how
        )
    for name, (what, readings) in scopes().items():
        drawn[f"scope {name}"] = plots.scope_trace(*what, readings, **how)
    control = load_unit("E6").control
    drawn["wiring"] = plots.wiring_diagram(
        "Wiring of the six-speed", control, (*drops(), SENSOR_GROUND), **how
    )
    drawn["power path"] = plots.wiring_diagram(
        "Power path, under load", control, drops(), signals=False, **how
    )
    drawn["learned"] = plots.adapts_bars("What the controller has learned", learned(), **how)
    drawn["bus"] = plots.bus_roll_call(
        (
            plots.BusModule("Engine controller", True, "names the transmission controller as not heard"),
            plots.BusModule("Transmission controller", False, "no answer, key on, engine off"),
            plots.BusModule("Brake module", True),
            plots.BusModule("Instrument module", True, "names the transmission controller as not heard"),
        ),
        (
            reading(
                "ohm", "Between the bus wires, battery off, pins 6 and 14", 118.0, "\u03a9", (57.0, 63.0)
            ),
            reading("high", "Bus high, dominant", 3.5, "V", (2.75, 4.5), 1),
        ),
        **how,
    )
    drawn["bench"] = plots.valve_bench(
        "Valve body on the bench",
        (
            reading("rc", "Reduction clutch regulator", 11.0, "inHg", (20.0, None)),
            reading("tcc", "Lock-up regulator", 22.0, "inHg", (20.0, None)),
            reading("line", "Line regulator", 21.0, "inHg", (20.0, None)),
        ),
        tuple(
            reading(
                name,
                f"{name.upper()} at 68 \u00b0F",
                ohm,
                "\u03a9",
                (22.0, 26.0) if name == "ssa" else (5.0, 5.6),
                1,
            )
            for name, ohm in zip(
                ("pca", "pcb", "pcc", "pcd", "pce", "tcp", "ssa"),
                (5.3, 5.2, 9.1, 5.3, 5.4, 5.3, 24.1),
                strict=True,
            )
        ),
        **how,
    )
    drawn["plug"] = plots.plug_face(
        "Plug X1, box side", plug(), ("Film of water up to the second row",), verdict=verdict
    )
    return drawn
