"""A case that costs nothing: the face of a computed one, with readings typed in for the bench's tests."""

from __future__ import annotations

import msgspec
import numpy as np

from course_lib.base import units
from course_lib.cases.key import Key
from course_lib.diagnosis.key_entries import Certificate, EvidenceAgainst, EvidenceWeights
from course_lib.diagnosis.population import Population, Sharpness
from course_lib.faults import answer_choices
from course_lib.faults.stored import Story
from course_lib.shop.findings import Finding, Inspection, InspectionRefused, Look, Reading, RefusedAct
from course_lib.vehicle.unit_spec import load_unit


def reading(key, label, value, unit, spec=None, **more) -> Reading:
    return Reading(key=key, label=label, value=value, unit=unit, spec=spec, sigma=1.0, **more)


def finding(inspection, minutes, *words, made_at_f=None, readings=(), looks=()) -> Finding:
    title = next(each.title for each in OFFERED if each.id == inspection)
    return Finding(
        inspection=inspection,
        title=title,
        minutes=minutes,
        made_at_f=made_at_f,
        readings=readings,
        words=words,
        looks=looks,
    )


class WorkOrder(msgspec.Struct, frozen=True, kw_only=True):
    number: str = "4817"
    vehicle: str = "delivery truck, 2.4-ton, green"
    unit_name: str = "T3"
    odometer_miles: int = 120_300
    owner: str = "Ilse Marrow, bakery"
    complaint: str = "When it is hot it revs up and hardly pulls away. Mornings it is fine."
    since: str = "about three weeks, worse each week"
    use: str = "town rounds, trailer in summer"
    history: str = "fluid changed at 88,000 mi; nothing opened so far"


_HOT_OIL = "Hot oil can scald:"
OFFERED = tuple(
    Inspection(
        id=name,
        title=title,
        openness=level,
        minutes=minutes,
        needs=needs,
        risk=risk,
        caution=caution,
        tells=tells,
    )
    for name, title, level, minutes, needs, risk, caution, tells in [
        (
            "interview",
            "Ask the owner",
            1,
            10,
            (),
            "none",
            "Write down the owner's own words.",
            "when it began",
        ),
        (
            "walk_round",
            "Walk round the vehicle",
            2,
            10,
            (),
            "low",
            "Crush: chocks in, brake on.",
            "leaks, hoses",
        ),
        (
            "fluid_cold",
            "Fluid check, cold",
            2,
            5,
            (),
            "low",
            "Belts turn: sleeves tight.",
            "level, color, smell",
        ),
        (
            "fluid_hot",
            "Fluid check, hot",
            2,
            15,
            (),
            "scald",
            "Hot fluid scalds: goggles on.",
            "level, bubbles",
        ),
        ("road_test", "Road test", 2, 25, (), "traffic", "Traffic: two people, one writes.", "shift speeds"),
        (
            "line_pressure",
            "Line pressure test",
            3,
            35,
            (),
            "crush",
            "Wheels turn: stands, chocks.",
            "pump, regulator",
        ),
        (
            "stall_test",
            "Stall test",
            3,
            15,
            ("fluid_hot",),
            "crush",
            "It can leap: nobody in front.",
            "holding clutches",
        ),
        (
            "pan",
            "Pan drop",
            4,
            45,
            (),
            "scald",
            "Hot fluid scalds: let it cool, gloves on.",
            "what has worn off",
        ),
        ("teardown", "Remove and open the unit", 5, 420, ("pan",), "crush", "Weight: chain it.", "each part"),
    ]
)

_FOUND = (
    finding(
        "interview", 10, "“It pulled the market trailer over the hills in July.”", "“Nobody has opened it.”"
    ),
    finding("walk_round", 10, "Dry underneath. Hoses seated."),
    finding(
        "fluid_cold",
        5,
        "Red-brown, see-through.",
        made_at_f=68.0,
        readings=(reading("level_cold_in", "Level above cold mark", -0.1, "in.", (-0.2, 0.2), decimals=1),),
    ),
    finding(
        "fluid_hot",
        15,
        "Red-brown, smells of old frying oil.",
        "Bubbles all along the stick.",
        made_at_f=180.0,
        readings=(reading("level_hot_in", "Level above FULL", -1.3, "in.", (-0.6, 0.0), decimals=1),),
    ),
    finding(
        "road_test",
        25,
        "Slides going up in second, hot.",
        made_at_f=176.0,
        looks=(
            Look(key="hold_first_hard", grade=2, text="first, D, hard pull-away: slips"),
            Look(key="hold_third_hill", grade=2, text="third, up a long hill: slips"),
            Look(key="hold_bend", grade=0, text="D, tight bend at 25 mph: holds"),
            Look(key="whine_gears", grade=2, text="in the reduced gears and in R, gone in third: a whine"),
            Look(key="hold_reverse_ramp", grade=0, text="R, up a ramp: holds"),
        ),
        readings=(
            reading("shift_12_light_mph", "1 to 2, light throttle", 19.0, "mph", (10.0, 14.0)),
            reading("shift_23_light_mph", "2 to 3, light throttle", 23.0, "mph", (18.0, 24.0)),
            reading(
                "shift_23_full_mph",
                "2 to 3, full throttle",
                None,
                "mph",
                (60.0, 70.0),
                note="engine ran away",
            ),
        ),
    ),
    finding(
        "line_pressure",
        35,
        made_at_f=180.0,
        readings=(
            reading(
                "line_pressure_d_idle_psi",
                "Line pressure, D, idle",
                48.0,
                "psi",
                (62.0, 72.0),
                swing=(40.0, 56.0),
            ),
            reading("line_pressure_r_idle_psi", "Line pressure, R, idle", 101.0, "psi", (96.0, 112.0)),
        ),
    ),
    finding(
        "stall_test",
        15,
        made_at_f=195.0,
        readings=(reading("stall_speed_d_rpm", "Stall speed, D", 2450.0, "rpm", (1950.0, 2150.0)),),
    ),
    finding(
        "pan",
        45,
        "A teaspoonful of black powder in the corners.",
        "Some lining flakes, a few steel slivers.",
        made_at_f=110.0,
        readings=(reading("filter_blocked_percent", "Filter blocked", 50.0, "%"),),
    ),
    finding("teardown", 420, "Forward clutch linings black, flaking."),
)
MADE = {each.inspection: each for each in _FOUND}

PARTS = (
    ("no_part_broken", "No part broken yet"),
    ("forward_clutch_plates", "Forward clutch plates"),
    ("direct_clutch_plates", "Direct clutch plates"),
    ("intermediate_band", "Intermediate band lining"),
    ("pump", "Oil pump gears"),
)
CAUSES = (
    ("pressure_regulator_stuck_low", "Pressure regulator valve stuck low"),
    ("pump_worn_abrasive", "Pump clearance worn wide"),
    ("filter_clogged_residue", "Filter clogged with lining residue"),
    ("fluid_low_external_leak", "Fluid level too low"),
)


class FakeCase:
    """One vehicle whose pressure regulator valve sticks low and whose forward clutch burnt."""

    generator_version = 1
    signal = "vacuum"
    unit = "T3"
    unit_spec = load_unit("T3")
    work_order = WorkOrder()
    offered = OFFERED
    refused_acts: tuple[RefusedAct, ...] = ()
    part_choices = PARTS
    cause_choices = CAUSES
    chain_choices = answer_choices.labeled_choices(answer_choices.chain_links(unit_spec))
    repair_choices = answer_choices.labeled_choices(
        answer_choices.offered_for(unit_spec, answer_choices.repair_extras())
    )
    estimate_choices = tuple((way.id, way.label) for way in answer_choices.estimates().ways)
    proof_choices = answer_choices.labeled_choices(
        answer_choices.offered_for(unit_spec, answer_choices.follow_ups())
    )
    caution_choices = answer_choices.labeled_choices(
        answer_choices.offered_for(unit_spec, answer_choices.cautions())
    )

    def __init__(self, id: str = "T3-7") -> None:
        self.id, self.findings = id, ()

    def spec_sheet(self, system: str = "workshop") -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        rows = (("Line pressure, D, idle", "62 to 72 psi"), ("Stall speed", "1,950 to 2,150 rpm"))
        return (("Road test", tuple((label, units.text_in_system(spec, system)) for label, spec in rows)),)

    @property
    def minutes_used(self) -> int:
        return sum(finding.minutes for finding in self.findings)

    def inspect(self, name: str) -> Finding:
        act = next((act for act in self.refused_acts if act.id == name), None)
        if act is not None:
            raise InspectionRefused(f"{act.title} is refused: {act.reason} No minutes were spent.")
        if name not in MADE:
            raise ValueError(f"inspection must be a name from the list, got {name!r}.")
        made = {finding.inspection for finding in self.findings}
        needed = next(each for each in self.offered if each.id == name).needs
        if not set(needed) <= made:
            raise InspectionRefused(f"First make: {', '.join(needed)}. No minutes were spent.")
        if name not in made:
            self.findings = (*self.findings, MADE[name])
        return MADE[name]


STORIES = {
    "part only": Story(
        miles=310.0,
        odometer_miles=120_610,
        text=("New plates, same pressure. 310 miles later the fluid is dark again.",),
    ),
    "cause only": Story(
        miles=4.0,
        odometer_miles=120_304,
        text=("The pressure is right, but the burnt plates cannot hold it.",),
    ),
    "part and cause": Story(
        miles=None, odometer_miles=150_000, text=("29,700 miles on, the pressure reads as on the first day.",)
    ),
}


AGAINST = {
    "pump_worn_abrasive": (
        EvidenceAgainst(
            inspection="line_pressure",
            label="Line pressure, R, idle",
            found="101 psi",
            expected="about 70 psi",
        ),
        EvidenceAgainst(inspection="pan", label="Oil pan", found="no bronze", expected="more than that"),
    ),
    "filter_clogged_residue": (
        EvidenceAgainst(inspection="pan", label="Filter blocked", found="50 %", expected="about 95 %"),
    ),
    "fluid_low_external_leak": (
        EvidenceAgainst(
            inspection="line_pressure",
            label="Line pressure, R, idle",
            found="101 psi",
            expected="about 60 psi",
        ),
    ),
}
WORTH = EvidenceWeights(
    causes=tuple(AGAINST),
    findings={
        seen: tuple(20 * any(row.inspection == seen for row in rows) for rows in AGAINST.values())
        for seen in ("line_pressure", "pan")
    },
)
CERTIFICATE = Certificate(
    minutes=60,
    deciding="line_pressure",
    twin="pump_worn_abrasive",
    openness=3,
    named="pressure_regulator_stuck_low",
    settled=True,
    ratio_with_all=400.0,
    certified=True,
    reason="",
)


def FakeKey(case_id: str = "T3-7") -> Key:
    """The key of the fake case; it holds no vehicle, so that nothing is driven."""
    return Key(
        case_id=case_id,
        parts=("forward_clutch_plates",),
        also=(),
        causes=("pressure_regulator_stuck_low",),
        chain=("118,200 mi: Pressure regulator valve stuck low", "120,300 mi: the owner comes in"),
        stories=STORIES,
        recipe={},
        against=AGAINST,
        certificate=CERTIFICATE,
    )


#: Cause -> what it does to each reading of the fake case, most telling inspection last.
_LIVED = {
    "line_pressure_d_idle_psi": {
        "pressure_regulator_stuck_low": 48.0,
        "pump_worn_abrasive": 50.0,
        "filter_clogged_residue": 60.0,
    },
    "line_pressure_r_idle_psi": {
        "pressure_regulator_stuck_low": 101.0,
        "pump_worn_abrasive": 70.0,
        "filter_clogged_residue": 75.0,
    },
    "level_hot_in": {"fluid_low_external_leak": -2.6, "filter_clogged_residue": -1.2},
    "filter_blocked_percent": {"filter_clogged_residue": 95.0},
}
_SOUND = {
    "line_pressure_d_idle_psi": 67.0,
    "line_pressure_r_idle_psi": 104.0,
    "level_hot_in": -1.2,
    "filter_blocked_percent": 40.0,
}


def lives(progress) -> Population:
    """Forty lives of each cause, and a report of progress in between as a real population gives it."""
    rng = np.random.default_rng(5)
    causes, each = tuple(cause[0] for cause in CAUSES), 40
    cause = np.repeat(np.arange(len(causes)), each)
    sigma = {key: 0.06 * (abs(value) + 1.0) for key, value in _SOUND.items()}
    readings = {}
    for number, key in enumerate(_SOUND, start=1):
        middle = np.array([_LIVED[key].get(name, _SOUND[key]) for name in causes])
        readings[key] = rng.normal(middle[cause], 1.5 * sigma[key])
        progress(number, len(_SOUND))
    by = {reading.key: found.inspection for found in _FOUND for reading in found.readings}
    return Population(
        causes=causes,
        cause=cause,
        weight=np.ones(len(cause)),
        severity=rng.random(len(cause)),
        miles=rng.uniform(500.0, 5000.0, len(cause)),
        readings=readings,
        sigma=sigma,
        made_by={key: by[key] for key in _SOUND},
        sharpness=Sharpness(temper=1.0, tails=8.0),
    )
