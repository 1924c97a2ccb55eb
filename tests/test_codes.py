"""Codes of an electronic control: what fails them, how they are counted, and what the controller then does."""

import numpy as np
import pytest

from course_lib.vehicle.actions import NO_CODE, PENDING, STORED, actions, code_steps
from course_lib.vehicle.memory import clear_codes, new_memory, reset_learned
from course_lib.vehicle.unit_spec import load_unit

UNIT = load_unit("E6")
CODES = {code.id: code for code in UNIT.control.codes}


def remembering(**failed):
    """Memories of one vehicle for each code, with so many failed trips of it."""
    memory = new_memory(len(failed), UNIT)
    for row, (code, trips) in enumerate(failed.items()):
        memory.failed[row, 0, UNIT.control.code_ids.index(code)] = trips
    return memory


@pytest.mark.parametrize("code", CODES.values(), ids=lambda code: code.id)
def test_every_code_does_what_its_action_says_and_nothing_else(code):
    """As the data file has it: flags of its words, the line raised by so much, what is barred or switched off."""
    does, action = actions(remembering(**{code.id: code.trips}), UNIT), UNIT.control.actions[code.action]
    plain = {
        "freeze_adapts",
        "line_full",
        "lockup_off",
        "no_top",
        "default_temperature",
        "use_wheels",
        "relay_off",
    }
    assert {word for word in plain if getattr(does, word).item()} == plain & set(action.does)
    assert does.line_up.item() == action.line_up
    names = list(UNIT.control.actions)
    assert [name for i, name in enumerate(names) if does.bits.item() >> i & 1] == [code.action]
    assert does.driver_off.any() == ("driver_off" in action.does)
    assert not does.barred.any() or "bar_gears" in action.does


def test_gears_that_need_what_a_code_suspects_are_barred():
    """A ratio bars its gear, a solenoid or a pressure switch all gears of its element, a speed sensor none."""
    does = actions(remembering(P0733=2, P2723=2, P0751=2, P0717=1), UNIT)
    gears = [[gear for gear, bar in zip(UNIT.gears, row[0], strict=True) if bar] for row in does.barred]
    brake = [gear for gear, holds in UNIT.gears.items() if "sun_brake" in holds]
    low = [gear for gear, holds in UNIT.gears.items() if "low_reverse_brake" in holds]
    assert gears == [["third"], brake, low, []]


def test_two_trips_in_a_row_confirm_and_the_highest_raise_of_the_line_counts():
    memory = remembering(P0733=0.9, P0734=1.0, P0735=2.0 - 1e-9, P0717=0.4)
    assert [steps.max() for steps in code_steps(memory, UNIT)] == [NO_CODE, PENDING, STORED, NO_CODE]
    both = remembering(P0562=2, P0712=1)
    both.failed[0] += both.failed[1]
    raises = [UNIT.control.actions[CODES[name].action].line_up for name in ("P0562", "P0712")]
    assert raises[0] != raises[1] and actions(both, UNIT).line_up[0] == max(raises)


def test_a_hydraulic_unit_has_no_codes():
    unit = load_unit("T4")
    with pytest.raises(ValueError, match="must have an electronic control"):
        code_steps(new_memory(1, unit), unit)
    assert np.size(new_memory(1, unit).failed) == 0


def test_clearing_leaves_what_is_learned_and_a_reset_leaves_the_codes():
    memory = remembering(P0733=2)
    memory.fill[:], memory.pressure[:] = 0.01, 5e4
    cleared, reset = clear_codes(memory), reset_learned(memory)
    assert code_steps(cleared, UNIT).max() == NO_CODE and np.all(cleared.fill == 0.01)
    assert np.all(cleared.pressure == 5e4)
    assert code_steps(reset, UNIT).max() == STORED and not reset.fill.any() and not reset.pressure.any()
