"""What a controller does about the codes it has stored: how far each code is, and the actions of those that are confirmed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import get_args

import numpy as np

from course_lib.base.arrays import Array, Batched, Flags, Places
from course_lib.vehicle.control_spec import ActionWord, Code, Control
from course_lib.vehicle.memory import Memory
from course_lib.vehicle.unit_spec import UnitSpec

WORDS: tuple[ActionWord, ...] = get_args(ActionWord)
NO_CODE, PENDING, STORED = 0, 1, 2  # how far a code is
COUNTED = 1e-6  # of a trip: what so little is missing from is a whole one
LAMP_OUT = 3.0  # trips in a row that a stored code has passed, from which its lamp is out


@dataclass(frozen=True, slots=True, kw_only=True)
class Actions(Batched):
    """What the controllers of n vehicles do, (n, 1) unless said otherwise.

    Flags that say themselves what they are stand for the words of `control_spec.ActionWord`. line_up: Pa that the line is raised
    by; barred (n, 1, G): gears not to be driven in; driver_off (n, 1, S): solenoids switched off; bits: bit of each action
    that is on, in the order of `Control.actions`.
    """

    freeze_adapts: Flags
    line_up: Array
    line_full: Flags
    lockup_off: Flags
    no_top: Flags
    default_temperature: Flags
    use_wheels: Flags
    relay_off: Flags
    barred: Flags
    driver_off: Flags
    bits: Places


@dataclass(frozen=True, slots=True)
class _ActionTables:
    """The actions of each code of a unit, (C, ...)."""

    trips: Array
    does: Array  # (C, words) 1 for what is in its action, in the order of WORDS
    line_up: Array
    barred: Array  # (C, G) 1 for what is barred
    driver_off: Array  # (C, S) 1 for what is switched off
    bit: Places


@cache
def _tables(unit: UnitSpec) -> _ActionTables:
    control = unit.control
    if control is None:
        raise ValueError(f"unit {unit.name} must have an electronic control to have codes, got none.")
    ordered = [control.actions[code.action] for code in control.codes]
    does = np.array([[word in action.does for word in WORDS] for action in ordered], float)
    does = does.reshape(len(ordered), len(WORDS))
    needs = np.array([_needed(code, control, unit) for code in control.codes]).reshape(len(ordered), -1)
    own = np.array([[code.of == each for each in control.solenoid_ids] for code in control.codes])
    place = {name: 1 << i for i, name in enumerate(control.actions)}
    return _ActionTables(
        trips=np.array([float(code.trips) for code in control.codes]),
        does=does,
        line_up=np.array([action.line_up for action in ordered]),
        barred=needs * does[:, [WORDS.index("bar_gears")]],
        driver_off=own.reshape(len(ordered), -1) * does[:, [WORDS.index("driver_off")]],
        bit=np.array([place[code.action] for code in control.codes], dtype=int),
    )


def _needed(code: Code, control: Control, unit: UnitSpec) -> list[bool]:
    """Whether each gear needs what a code is of: the gear itself, an element, a solenoid's, or that of a pressure switch."""
    owners = {each.id: each.drives for each in control.solenoids}
    owners |= {each.id: each.of for each in control.sensors if each.reads == "pressure"}
    element = owners.get(code.of, code.of)
    return [code.of == gear or element in holds for gear, holds in unit.gears.items()]


def code_steps(memory: Memory, unit: UnitSpec) -> Places:
    """How far each code is, (n, C): NO_CODE, PENDING after a failed trip that does not yet suffice, STORED."""
    failed = memory.failed[:, 0] + COUNTED
    stored = failed >= _tables(unit).trips
    return np.where(stored, STORED, np.where(failed >= 1.0, PENDING, NO_CODE))


def lit(memory: Memory, unit: UnitSpec) -> Flags:
    """Which codes keep the warning lamp lit, (n, C): those that are stored and have not passed LAMP_OUT trips in a row.

    Source: the lamp goes out after three trips in a row in which the test ran and passed, while the code stays stored (rule of
    on-board diagnosis, read in service texts; 13 CCR 1968.2 and 40 CFR 86.1806, from memory).
    """
    stored = memory.failed[:, 0] + COUNTED >= _tables(unit).trips
    found: Flags = stored & (memory.passed[:, 0] + COUNTED < LAMP_OUT)
    return found


def actions(memory: Memory, unit: UnitSpec) -> Actions:
    """What the controllers do about the codes that are stored; nothing any more about those whose lamp is out."""
    tables, stored = _tables(unit), lit(memory, unit)
    standing = stored.astype(float)
    does = dict(zip(WORDS, (standing @ tables.does > 0.0).T[..., None], strict=True))
    return Actions(
        freeze_adapts=does["freeze_adapts"],
        line_up=np.max(stored * tables.line_up, axis=-1, initial=0.0, keepdims=True),
        line_full=does["line_full"],
        lockup_off=does["lockup_off"],
        no_top=does["no_top"],
        default_temperature=does["default_temperature"],
        use_wheels=does["use_wheels"],
        relay_off=does["relay_off"],
        barred=(standing @ tables.barred > 0.0)[:, None],
        driver_off=(standing @ tables.driver_off > 0.0)[:, None],
        bits=np.bitwise_or.reduce(np.where(stored, tables.bit, 0), axis=-1, keepdims=True),
    )
