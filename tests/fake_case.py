"""A case that costs nothing: the face of a computed one, with readings typed in for the bench's tests."""

from __future__ import annotations

import sys
import types

import msgspec


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    key: str
    label: str
    value: float | None
    unit: str
    spec: tuple[float | None, float | None] | None = None
    sigma: float = 1.0
    swing: tuple[float, float] | None = None
    decimals: int = 0
    note: str = ""

    @property
    def verdict(self):
        if self.value is None:
            return "not read"
        if self.spec is None:
            return "noted"
        low, high = self.spec
        if low is not None and self.value < low:
            return "below spec"
        return "above spec" if high is not None and self.value > high else "within spec"

    @property
    def deviation(self):
        bound = {"below spec": 0, "above spec": 1}.get(self.verdict)
        return 0.0 if bound is None else self.value - self.spec[bound]

    @property
    def found_text(self):
        if self.value is None:
            return "not read"
        text = f"{self.value:.{self.decimals}f} {self.unit}".rstrip()
        return text + (f" (swinging {self.swing[0]:g} to {self.swing[1]:g})" if self.swing else "")

    @property
    def spec_text(self):
        return "" if self.spec is None else f"{self.spec[0]:g} to {self.spec[1]:g} {self.unit}".rstrip()


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    inspection: str
    title: str
    minutes: int
    made_at_f: float | None = None
    readings: tuple[Reading, ...] = ()
    words: tuple[str, ...] = ()


class Inspection(msgspec.Struct, frozen=True, kw_only=True):
    id: str
    title: str
    openness: int
    minutes: int
    risk: str = ""
    caution: str = ""
    tells: str = ""
    needs: tuple[str, ...] = ()


class InspectionRefused(ValueError):
    """Fake of the shop's refusal."""


try:
    from course_lib.shop.findings import Finding, Inspection, InspectionRefused, Reading  # type: ignore  # noqa
except ImportError:
    module = types.ModuleType("course_lib.shop.findings")
    for each in (Reading, Finding, Inspection, InspectionRefused):
        setattr(module, each.__name__, each)
    sys.modules["course_lib.shop.findings"] = module


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
        tells=tells,
        risk=risk,
        caution=caution,
    )
    for name, title, level, minutes, needs, tells, risk, caution in [
        (
            "interview",
            "Ask the owner",
            1,
            10,
            (),
            "When it began, what was done to it, how it is driven.",
            "",
            "",
        ),
        (
            "walk_round",
            "Walk round the vehicle",
            2,
            10,
            (),
            "Leaks, hoses, wires, what hangs loose.",
            "A rolling vehicle can crush:",
            "chocks in, key out, brake on.",
        ),
        (
            "fluid_cold",
            "Fluid check, cold",
            2,
            5,
            (),
            "Level, color, smell before the heat hides them.",
            "Moving belts can catch:",
            "sleeves tight, hands away from the fan.",
        ),
        (
            "fluid_hot",
            "Fluid check, hot",
            2,
            15,
            (),
            "The level that counts, and what the fluid carries.",
            _HOT_OIL,
            "goggles on, wipe with a rag in hand.",
        ),
        (
            "road_test",
            "Road test",
            2,
            25,
            (),
            "At which speeds it shifts, what slips and when.",
            "Traffic:",
            "two people; one drives, one writes. Lift the moment it slides.",
        ),
        (
            "line_pressure",
            "Line pressure test",
            3,
            35,
            (),
            "What the pump and the regulator give in each range.",
            "A wheel that turns on a stand can throw the vehicle:",
            "chocks, stands, helper on the brake.",
        ),
        (
            "stall_test",
            "Stall test",
            3,
            15,
            ("fluid_hot",),
            "Whether the clutches and the converter hold.",
            "The vehicle can leap:",
            "brakes on, nobody in front; 5 seconds at most, then idle in N to cool.",
        ),
        (
            "pan",
            "Pan drop",
            4,
            45,
            (),
            "What has worn off, and what the filter has caught.",
            _HOT_OIL,
            "let it cool, goggles and gloves on. Used fluid goes by local rules.",
        ),
        (
            "teardown",
            "Remove and open the unit",
            5,
            420,
            ("pan",),
            "What each part looks like.",
            "A unit that falls can kill:",
            "transmission jack, chained; never under a jack alone.",
        ),
    ]
)

MADE = {
    "interview": Finding(
        inspection="interview",
        title="Ask the owner",
        minutes=10,
        words=("“It pulled the market trailer over the hills in July.”", "“Nobody has opened it.”"),
    ),
    "walk_round": Finding(
        inspection="walk_round",
        title="Walk round the vehicle",
        minutes=10,
        words=("Dry underneath. Hoses seated.",),
    ),
    "fluid_cold": Finding(
        inspection="fluid_cold",
        title="Fluid check, cold",
        minutes=5,
        made_at_f=68.0,
        readings=(
            Reading(
                key="level_cold_in",
                label="Level above cold mark",
                value=-0.1,
                unit="in.",
                spec=(-0.2, 0.2),
                decimals=1,
            ),
        ),
        words=("Red-brown, see-through.",),
    ),
    "fluid_hot": Finding(
        inspection="fluid_hot",
        title="Fluid check, hot",
        minutes=15,
        made_at_f=180.0,
        readings=(
            Reading(
                key="level_hot_in",
                label="Level above FULL",
                value=-1.3,
                unit="in.",
                spec=(-0.6, 0.0),
                decimals=1,
            ),
        ),
        words=("Red-brown, smells of old frying oil.", "Bubbles all along the stick."),
    ),
    "road_test": Finding(
        inspection="road_test",
        title="Road test",
        minutes=25,
        made_at_f=176.0,
        readings=(
            Reading(
                key="shift_12_light_mph",
                label="1 to 2, light throttle",
                value=19.0,
                unit="mph",
                spec=(10, 14),
            ),
            Reading(
                key="shift_23_light_mph",
                label="2 to 3, light throttle",
                value=23.0,
                unit="mph",
                spec=(18, 24),
            ),
            Reading(
                key="shift_23_full_mph",
                label="2 to 3, full throttle",
                value=None,
                unit="mph",
                spec=(60, 70),
                note="engine ran away first",
            ),
        ),
        words=("Slides going up in second, hot.",),
    ),
    "line_pressure": Finding(
        inspection="line_pressure",
        title="Line pressure test",
        minutes=35,
        made_at_f=180.0,
        readings=(
            Reading(
                key="line_pressure_d_idle_psi",
                label="Line pressure, D, idle",
                value=48.0,
                unit="psi",
                spec=(62, 72),
                swing=(40, 56),
            ),
            Reading(
                key="line_pressure_r_idle_psi",
                label="Line pressure, R, idle",
                value=101.0,
                unit="psi",
                spec=(96, 112),
            ),
        ),
    ),
    "stall_test": Finding(
        inspection="stall_test",
        title="Stall test",
        minutes=15,
        made_at_f=195.0,
        readings=(
            Reading(
                key="stall_speed_d_rpm", label="Stall speed, D", value=2450.0, unit="rpm", spec=(1950, 2150)
            ),
        ),
    ),
    "pan": Finding(
        inspection="pan",
        title="Pan drop",
        minutes=45,
        made_at_f=110.0,
        readings=(Reading(key="filter_blocked_share", label="Filter blocked", value=50.0, unit="%"),),
        words=("A teaspoonful of black powder in the corners.", "Some lining flakes, a few steel slivers."),
    ),
    "teardown": Finding(
        inspection="teardown",
        title="Remove and open the unit",
        minutes=420,
        words=("Forward clutch linings black, flaking.",),
    ),
}

PARTS = (
    ("no_part_broken", "No part broken yet"),
    ("forward_clutch", "Forward clutch plates"),
    ("direct_clutch", "Direct clutch plates"),
    ("intermediate_band", "Intermediate band lining"),
    ("pump", "Oil pump gears"),
)
CAUSES = (
    ("regulator_stuck_low", "Pressure regulator valve stuck low"),
    ("pump_worn", "Pump clearance worn wide"),
    ("filter_clogged", "Filter clogged with lining residue"),
    ("fluid_low", "Fluid level too low"),
)


class FakeCase:
    """One vehicle whose pressure regulator valve sticks low and whose forward clutch burnt."""

    generator_version = 1
    signal = "vacuum"
    unit = "T3"
    work_order = WorkOrder()
    spec_sheet = (("Line pressure, D, idle", "62 to 72 psi"), ("Stall speed", "1,950 to 2,150 rpm"))
    offered = OFFERED
    part_choices = PARTS
    cause_choices = CAUSES

    def __init__(self, id: str = "T3-7") -> None:
        self.id, self.findings = id, ()

    @property
    def minutes_used(self) -> int:
        return sum(finding.minutes for finding in self.findings)

    def inspect(self, name: str) -> Finding:
        if name not in MADE:
            raise ValueError(f"inspection must be a name from the list, got {name!r}.")
        made = {finding.inspection for finding in self.findings}
        needed = next(each for each in self.offered if each.id == name).needs
        if not set(needed) <= made:
            raise InspectionRefused(f"First: {', '.join(needed)}.")
        if name not in made:
            self.findings = (*self.findings, MADE[name])
        return MADE[name]


class FakeStory(msgspec.Struct, frozen=True, kw_only=True):
    miles: float | None
    odometer_miles: int
    text: tuple[str, ...]


STORIES = {
    "part only": FakeStory(
        miles=310.0,
        odometer_miles=120_610,
        text=("New plates, same pressure. 310 miles later the fluid is dark again.",),
    ),
    "cause only": FakeStory(
        miles=4.0,
        odometer_miles=120_304,
        text=("The pressure is right, but the burnt plates cannot hold it.",),
    ),
    "part and cause": FakeStory(
        miles=None, odometer_miles=150_000, text=("29,700 miles on, the pressure reads as on the first day.",)
    ),
}


class FakeKey(msgspec.Struct, frozen=True, kw_only=True):
    case_id: str = "T3-7"
    parts: tuple[str, ...] = ("forward_clutch",)
    also: tuple[str, ...] = ()
    causes: tuple[str, ...] = ("regulator_stuck_low",)
    chain: tuple[str, ...] = ()
    stories: dict[str, FakeStory] = msgspec.field(default_factory=lambda: STORIES)
