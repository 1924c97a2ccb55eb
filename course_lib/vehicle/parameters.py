"""The parameters of a vehicle by name, each with its SI unit: the one list that data files, drawn vehicles and code are held to.

What a parameter means, and where its value comes from, stands beside the value in `datasets/units/`. A new one is declared here
and then given a value in every unit's file.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Annotated, Self, get_type_hints

from course_lib.base.arrays import Array, Rows
from course_lib.base.guards import one_of

ParameterSet = dict[str, Array]  # arrays by name, as data files and causes address them


# Not frozen: that would take three times as long to make, at every step of a life.
@dataclass(slots=True, kw_only=True, eq=False)
class Parameters:
    """Parameters of n vehicles: plain ones (n, 1), those of an element (n, 1, E), of a shift (n, 1, S); of a solenoid, a sensor
    or a wire likewise, on an axis of length 0 where the control is hydraulic. What a unit's control does not have is 0."""

    # fluid
    fluid_viscosity_40c: Annotated[Array, "m2/s"]
    fluid_viscosity_100c: Annotated[Array, "m2/s"]
    fluid_density_15c: Annotated[Array, "kg/m3"]
    fluid_specific_heat: Annotated[Array, "J/(kg K)"]
    fluid_oxidation_thickening: Annotated[Array, "-"]
    fluid_water: Annotated[Array, "-"]
    fluid_glycol: Annotated[Array, "-"]
    fluid_judder: Annotated[Array, "-"]
    fluid_swell: Annotated[Array, "-"]
    fluid_aging: Annotated[Array, "-"]
    fluid_service: Annotated[Array, "-"]

    # sump
    sump_charge: Annotated[Array, "m3"]
    sump_held_above: Annotated[Array, "m3"]
    sump_drain_back: Annotated[Array, "m3"]
    sump_night_drain: Annotated[Array, "m3"]
    sump_return_time: Annotated[Array, "s"]
    sump_area_low: Annotated[Array, "m2"]
    sump_area_high: Annotated[Array, "m2"]
    sump_height_split: Annotated[Array, "m"]
    sump_full_height: Annotated[Array, "m"]
    sump_gauge_offset: Annotated[Array, "m"]
    sump_rail_bend: Annotated[Array, "m"]
    sump_pickup_height: Annotated[Array, "m"]
    sump_pickup_lever: Annotated[Array, "m"]
    sump_slosh: Annotated[Array, "m"]
    sump_slosh_moving: Annotated[Array, "m"]
    sump_rotor_height: Annotated[Array, "m"]
    sump_foam_scale: Annotated[Array, "m"]
    sump_gulp_air: Annotated[Array, "-"]
    sump_gulp_time: Annotated[Array, "s"]
    sump_gauge_lag: Annotated[Array, "s"]

    # pump
    pump_displacement: Annotated[Array, "m3/rev"]
    pump_slip: Annotated[Array, "m3"]
    pump_new_clearance: Annotated[Array, "m"]
    pump_suction_resistance: Annotated[Array, "1/m3"]
    pump_suction_limit: Annotated[Array, "Pa"]
    pump_tip_radius: Annotated[Array, "m"]
    pump_strainer_dirt: Annotated[Array, "-"]
    pump_strainer_grip: Annotated[Array, "1/kg"]
    pump_suction_gap: Annotated[Array, "m2"]
    pump_wear: Annotated[Array, "1/m"]
    pump_grit: Annotated[Array, "-"]
    pump_sand: Annotated[Array, "-"]
    pump_drive: Annotated[Array, "-"]
    pump_offset: Annotated[Array, "m"]

    # line pressure and passages
    line_base: Annotated[Array, "Pa"]
    line_boost: Annotated[Array, "Pa"]
    line_reverse_gain: Annotated[Array, "-"]
    line_reverse_share: Annotated[Array, "-"]
    line_spring: Annotated[Array, "-"]
    line_answer: Annotated[Array, "-"]
    line_droop: Annotated[Array, "-"]
    line_nominal_flow: Annotated[Array, "m3/s"]
    line_body_leak: Annotated[Array, "m3"]
    line_bushing_leak: Annotated[Array, "-"]
    line_seal_leak: Annotated[Array, "-"]
    line_lip_lift: Annotated[Array, "1/(Pa s)"]
    line_discharge: Annotated[Array, "-"]

    # load signal
    signal_cable_fitted: Annotated[Array, "-"]
    signal_closed_vacuum: Annotated[Array, "Pa"]
    signal_engine_vacuum: Annotated[Array, "-"]
    signal_hose_leak: Annotated[Array, "-"]
    signal_diaphragm_leak: Annotated[Array, "-"]
    signal_gain: Annotated[Array, "-"]
    signal_travel: Annotated[Array, "m"]
    signal_slack: Annotated[Array, "m"]
    signal_trapped: Annotated[Array, "-"]
    signal_kickdown: Annotated[Array, "-"]
    signal_pull: Annotated[Array, "m"]

    # governor
    governor_start: Annotated[Array, "m/s"]
    governor_mid: Annotated[Array, "m/s"]
    governor_mid_pressure: Annotated[Array, "Pa"]
    governor_slope: Annotated[Array, "Pa/(m/s)"]
    governor_gain: Annotated[Array, "-"]
    governor_gear: Annotated[Array, "-"]
    governor_leak: Annotated[Array, "-"]
    governor_stuck: Annotated[Array, "Pa"]

    # engine
    engine_torque: Annotated[Array, "N m"]
    engine_best_speed: Annotated[Array, "rad/s"]
    engine_health: Annotated[Array, "-"]
    engine_idle: Annotated[Array, "rad/s"]
    engine_pedal: Annotated[Array, "-"]
    engine_exhaust: Annotated[Array, "-"]
    engine_misfire: Annotated[Array, "-"]

    # converter
    converter_capacity: Annotated[Array, "N m s2"]
    converter_stall_ratio: Annotated[Array, "-"]
    converter_coupling: Annotated[Array, "-"]
    converter_stator_slip: Annotated[Array, "-"]
    converter_stator_load: Annotated[Array, "-"]
    converter_stator_lock: Annotated[Array, "-"]
    converter_plate_crack: Annotated[Array, "-"]
    converter_bolts_loose: Annotated[Array, "-"]

    # lock-up clutch
    lockup_fitted: Annotated[Array, "-"]
    lockup_speed: Annotated[Array, "m/s"]
    lockup_area: Annotated[Array, "m2"]
    lockup_radius: Annotated[Array, "m"]
    lockup_leak: Annotated[Array, "-"]
    lockup_stuck: Annotated[Array, "-"]
    lockup_life: Annotated[Array, "J"]
    lockup_orifice: Annotated[Array, "-"]
    lockup_bore: Annotated[Array, "-"]
    lockup_lining: Annotated[Array, "-"]

    # gear train
    train_end_play: Annotated[Array, "m"]

    # lever
    lever_park_short: Annotated[Array, "-"]
    lever_switch_off: Annotated[Array, "rad"]

    # vehicle
    vehicle_tire_radius: Annotated[Array, "m"]
    vehicle_axle: Annotated[Array, "-"]
    vehicle_inertia: Annotated[Array, "kg m2"]
    vehicle_mass: Annotated[Array, "kg"]
    vehicle_trailer: Annotated[Array, "kg"]
    vehicle_brake_drag: Annotated[Array, "N"]
    vehicle_mount_lift: Annotated[Array, "m"]
    vehicle_mount_port: Annotated[Array, "1/m"]
    vehicle_lash: Annotated[Array, "rad"]
    vehicle_shaft: Annotated[Array, "-"]

    # heat
    heat_ambient: Annotated[Array, "K"]
    heat_cooler_ua: Annotated[Array, "W/K"]
    heat_cooler_sink: Annotated[Array, "K"]
    heat_cooler_flow_max: Annotated[Array, "m3/s"]
    heat_cooler_share: Annotated[Array, "-"]
    heat_cooler_bleed: Annotated[Array, "m2"]
    heat_cooler_open: Annotated[Array, "-"]
    heat_line_open: Annotated[Array, "-"]
    heat_cooler_breach: Annotated[Array, "m2"]
    heat_cooler_air: Annotated[Array, "-"]
    heat_case_still: Annotated[Array, "W/K"]
    heat_case_moving: Annotated[Array, "W s/(K m)"]
    heat_churning: Annotated[Array, "N m s"]
    heat_short_visit: Annotated[Array, "-"]

    # wear
    wear_friction: Annotated[Array, "-"]
    wear_fluid_friction: Annotated[Array, "-"]
    wear_coefficient: Annotated[Array, "m3/J"]
    wear_seal_life: Annotated[Array, "s"]
    wear_bushing: Annotated[Array, "1/m"]
    wear_one_way: Annotated[Array, "1/m"]
    wear_shock: Annotated[Array, "1/m"]
    wear_steel_warp: Annotated[Array, "m"]
    wear_lining_density: Annotated[Array, "kg/m3"]
    wear_lube_starved: Annotated[Array, "-"]
    wear_aerated: Annotated[Array, "-"]
    wear_debris: Annotated[Array, "-"]
    wear_planet: Annotated[Array, "1/m"]
    wear_dry: Annotated[Array, "1/m"]
    wear_bump: Annotated[Array, "-"]
    wear_soak: Annotated[Array, "1/m"]
    wear_char_climb: Annotated[Array, "1/K"]
    wear_rock_energy: Annotated[Array, "J"]
    wear_rock_time: Annotated[Array, "s"]
    wear_seal_oxidized: Annotated[Array, "-"]

    # leaks
    leak_outside: Annotated[Array, "m3/m"]
    leak_front: Annotated[Array, "m3/m"]
    leak_engine_draws: Annotated[Array, "m3/m"]
    leak_pan: Annotated[Array, "m3/m"]
    leak_selector: Annotated[Array, "m3/m"]
    leak_line: Annotated[Array, "m3/m"]

    # use
    use_stops: Annotated[Array, "-"]
    use_standing: Annotated[Array, "-"]
    use_rocks: Annotated[Array, "1/m"]
    use_dry_tow: Annotated[Array, "-"]

    # each holding element
    element_faces: Annotated[Array, "-"]
    element_radius: Annotated[Array, "m"]
    element_piston_area: Annotated[Array, "m2"]
    element_reverse_area: Annotated[Array, "m2"]
    element_spring_force: Annotated[Array, "N"]
    element_feed_area: Annotated[Array, "m2"]
    element_leak: Annotated[Array, "m3"]
    element_clearance: Annotated[Array, "m"]
    element_stroke: Annotated[Array, "m"]
    element_lining: Annotated[Array, "m"]
    element_rub_area: Annotated[Array, "m2"]
    element_wrap: Annotated[Array, "rad"]
    element_thermal_resistance: Annotated[Array, "K/W"]
    element_thermal_capacity: Annotated[Array, "J/K"]
    element_drum_heat: Annotated[Array, "K"]
    element_holding_torque: Annotated[Array, "N m"]
    element_hole: Annotated[Array, "m2"]
    element_accumulator: Annotated[Array, "m3"]
    element_port_shut: Annotated[Array, "-"]
    element_port_dump: Annotated[Array, "m2"]
    element_crossfeed_body: Annotated[Array, "-"]
    element_crossfeed_case: Annotated[Array, "-"]
    element_bore_leak: Annotated[Array, "m3"]
    element_splines: Annotated[Array, "N m"]
    element_backing: Annotated[Array, "-"]
    element_hot_spots: Annotated[Array, "-"]
    element_seal_set: Annotated[Array, "-"]
    element_reversed: Annotated[Array, "-"]
    element_shock: Annotated[Array, "1/m"]
    element_engage_wear: Annotated[Array, "-"]
    element_overlap: Annotated[Array, "s"]
    element_shifts: Annotated[Array, "-"]
    element_sheds: Annotated[Array, "-"]

    # each upshift
    shift_spring: Annotated[Array, "Pa"]
    shift_load: Annotated[Array, "Pa"]
    shift_hysteresis: Annotated[Array, "Pa"]
    shift_kickdown: Annotated[Array, "m/s"]
    shift_stuck: Annotated[Array, "-"]

    # each shift of an electronic schedule
    shift_light: Annotated[Array, "m/s"]
    shift_full: Annotated[Array, "m/s"]
    shift_back: Annotated[Array, "m/s"]

    # electronic control: the controller and what is stored in it
    control_torque_scale: Annotated[Array, "-"]
    control_tire_scale: Annotated[Array, "-"]
    control_wrong_number: Annotated[Array, "-"]
    control_plugs_swapped: Annotated[Array, "-"]
    control_line_least: Annotated[Array, "Pa"]
    control_line_full: Annotated[Array, "Pa"]
    control_line_drive: Annotated[Array, "Pa"]
    control_line_reverse: Annotated[Array, "Pa"]
    control_line_spare: Annotated[Array, "Pa"]
    control_safety: Annotated[Array, "-"]
    control_fill_pressure: Annotated[Array, "Pa"]
    control_lockup_slip: Annotated[Array, "rad/s"]
    control_lockup_bears: Annotated[Array, "W"]
    control_most_duty: Annotated[Array, "-"]
    control_pulse: Annotated[Array, "Hz"]
    control_driver: Annotated[Array, "ohm"]
    control_load: Annotated[Array, "ohm"]
    control_stale_fill: Annotated[Array, "s"]
    control_stale_pressure: Annotated[Array, "Pa"]
    control_learn: Annotated[Array, "m"]
    control_fill_least: Annotated[Array, "s"]
    control_fill_most: Annotated[Array, "s"]
    control_pressure_least: Annotated[Array, "Pa"]
    control_pressure_most: Annotated[Array, "Pa"]

    # battery, charging, and the bus
    supply_rest: Annotated[Array, "V"]
    supply_charge: Annotated[Array, "V"]
    supply_resistance: Annotated[Array, "ohm"]
    supply_ripple: Annotated[Array, "V"]
    bus_wheels_silent: Annotated[Array, "-"]
    bus_wheel_spread: Annotated[Array, "-"]
    bus_termination: Annotated[Array, "ohm"]

    # each solenoid and the valve behind it
    solenoid_coil: Annotated[Array, "ohm"]
    solenoid_inductance: Annotated[Array, "H"]
    solenoid_zero_current: Annotated[Array, "A"]
    solenoid_full_current: Annotated[Array, "A"]
    solenoid_full_pressure: Annotated[Array, "Pa"]
    solenoid_bore: Annotated[Array, "-"]
    solenoid_hysteresis: Annotated[Array, "Pa"]
    solenoid_lag: Annotated[Array, "s"]
    solenoid_driver_dead: Annotated[Array, "-"]
    solenoid_opens_above: Annotated[Array, "K"]

    # each sensor
    sensor_scale: Annotated[Array, "-"]
    sensor_resistance: Annotated[Array, "ohm"]
    sensor_beta: Annotated[Array, "K"]
    sensor_teeth: Annotated[Array, "-"]
    sensor_threshold: Annotated[Array, "Pa"]
    sensor_leak: Annotated[Array, "S"]
    sensor_gap: Annotated[Array, "m"]
    sensor_teeth_short: Annotated[Array, "-"]
    sensor_noise: Annotated[Array, "V"]
    sensor_low_level: Annotated[Array, "V"]
    sensor_dies_above: Annotated[Array, "K"]
    sensor_stuck: Annotated[Array, "-"]
    sensor_offset: Annotated[Array, "rad"]
    sensor_jumps: Annotated[Array, "1/m"]

    # each wire, with its pins
    wire_length: Annotated[Array, "m"]
    wire_section: Annotated[Array, "m2"]
    wire_contact: Annotated[Array, "ohm"]
    wire_open: Annotated[Array, "-"]
    wire_leak: Annotated[Array, "S"]
    wire_rub: Annotated[Array, "S"]
    wire_shake: Annotated[Array, "-"]
    wire_wet: Annotated[Array, "-"]
    wire_opens_above: Annotated[Array, "K"]

    @classmethod
    def of(cls, values: ParameterSet) -> Self:
        """The parameters of a set. Raises ValueError unless it holds every one that is declared here, and no other."""
        if values.keys() != PARAMETER_UNITS.keys():
            for name in values:
                one_of("parameter", name, PARAMETER_NAMES)
            missing = [name for name in PARAMETER_NAMES if name not in values]
            raise ValueError(f"a parameter set must hold every parameter, got none for {missing}. Add them.")
        # names as declared, of which Python need not compare the letters, are passed on several times as fast
        return cls(**{name: values[name] for name in PARAMETER_NAMES})

    def by_name(self) -> ParameterSet:
        """The same as arrays by name."""
        return {name: getattr(self, name) for name in PARAMETER_NAMES}

    def rows(self, rows: Rows) -> Self:
        """Some of the vehicles."""
        return type(self)(**{name: getattr(self, name)[rows] for name in PARAMETER_NAMES})


PARAMETER_NAMES = tuple(field.name for field in fields(Parameters))
# Which parameters only one kind of control has; all others are those of every unit.
_SHIFT_VALVES = ("shift_spring", "shift_load", "shift_hysteresis", "shift_kickdown", "shift_stuck")
_PRESSURE_BOOST = (
    "line_base",
    "line_boost",
    "line_reverse_gain",
    "line_reverse_share",
    "line_spring",
    "line_answer",
)
_SCHEDULE = ("shift_light", "shift_full", "shift_back")
_FED_FOR_GOOD = (
    "heat_cooler_bleed"  # an orifice from the line to the cooler, beside what the regulator lets go
)
_ELECTRIC = ("control_", "supply_", "bus_", "solenoid_", "sensor_", "wire_")
ONLY_WITH = {
    "hydraulic": frozenset(
        name
        for name in PARAMETER_NAMES
        if name.startswith(("signal_", "governor_")) or name in (*_SHIFT_VALVES, *_PRESSURE_BOOST)
    ),
    "electronic": frozenset(
        n for n in PARAMETER_NAMES if n.startswith(_ELECTRIC) or n in (*_SCHEDULE, _FED_FOR_GOOD)
    ),
}
PARAMETER_UNITS: dict[str, str] = {
    name: hint.__metadata__[0] for name, hint in get_type_hints(Parameters, include_extras=True).items()
}
