"""Demonstrations of lesson 5: what the load signal does to line pressure and to the upshifts."""

import pytest

from course_lib.lessons.load_signal_demos import line_by_vacuum, shifts_by_pedal


def numbers(row) -> list[float]:
    """The numbers of a row of a table, its name left out."""
    return [float(cell.split()[0]) for cell in row[1:]]


def test_line_goes_up_in_even_steps_as_the_vacuum_goes():
    """The sheet of the teaching unit: 65 psi, 5 psi more for each inHg under 18. Common practice, no source."""
    vacuums = (18, 15, 12, 9, 6, 3, 0)
    lines = [numbers(row)[0] for row in line_by_vacuum(*vacuums).rows]
    assert lines == sorted(lines)
    assert lines == pytest.approx([65 + 5 * (18 - vacuum) for vacuum in vacuums], rel=0.05)


def test_more_vacuum_than_the_engine_makes_changes_nothing():
    """The modulator is at its stop."""
    (full,), (more,) = (numbers(row) for row in line_by_vacuum(18, 24).rows)
    assert more == full


def test_a_pedal_holds_the_gears_longer_and_so_does_a_lie_about_load():
    """Late with much load told, early with none; at full pedal a leak of vacuum tells nothing new (common practice, no source)."""
    rows = {row[0]: numbers(row) for row in shifts_by_pedal("healthy", "van", "shuttle_2").rows}
    sound, van, early = (
        [rows[name] for name in rows if name.startswith(label)] for label in ("healthy", "bread", "shuttle")
    )
    for shift in range(2):
        assert sound[0][shift] < sound[1][shift] < sound[2][shift]
        assert van[0][shift] > 1.5 * sound[0][shift] and van[2][shift] == sound[2][shift]
        assert 0.85 * sound[0][shift] <= early[0][shift] <= sound[0][shift]
        assert early[2][shift] < 0.6 * sound[2][shift]


@pytest.mark.parametrize(
    "call", [lambda: line_by_vacuum(-1), lambda: line_by_vacuum(40), lambda: shifts_by_pedal("bus")]
)
def test_what_cannot_be_is_refused(call):
    """A vacuum no pump can hold, a vehicle the lesson does not have."""
    with pytest.raises(ValueError, match="must be"):
        call()
