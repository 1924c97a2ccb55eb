"""Units: factors against NIST SP 811, pairs that undo each other."""

import numpy as np
import pytest
from scipy import constants as scipy_constants

from course_lib.base import constants, units

PAIRS = sorted(name[3:] for name in dir(units) if name.startswith("to_"))


# Source: NIST Special Publication 811 (2008), appendix B (values from memory, agree with scipy.constants).
@pytest.mark.parametrize(
    "function, value, printed, tolerance",
    [
        (units.from_psi, 1.0, 6894.757293, 1e-9),
        (units.from_inhg, 1.0, 3386.389, 1e-6),
        (units.from_inch, 1.0, 0.0254, 1e-12),
        (units.from_quart, 1.0, 0.946352946e-3, 1e-9),
        (units.from_mph, 1.0, 0.44704, 1e-12),
        (units.from_rpm, 1.0, 0.1047197551, 1e-9),
        (units.from_fahrenheit, 212.0, 373.15, 1e-12),
        (units.from_fahrenheit, -40.0, 233.15, 1e-12),
    ],
)
def test_factor_is_the_published_one(function, value, printed, tolerance):
    """U1: NIST SP 811, appendix B; tolerance 1e-7 or the printed digits."""
    assert function(value) == pytest.approx(printed, rel=tolerance)


def test_derived_pressures():
    """U1: 1 psi is 2.0360 inHg and 29.92 inHg is 101.32 kPa (NIST SP 811, printed digits)."""
    assert units.to_inhg(units.from_psi(1.0)) == pytest.approx(2.0360, abs=5e-5)
    assert units.from_inhg(29.92) / 1e3 == pytest.approx(101.32, abs=5e-3)


def test_factors_agree_with_an_outside_library():
    """The same factors as tabulated by scipy.constants, an independent typing of the legal values."""
    assert units.PSI == pytest.approx(scipy_constants.psi, rel=1e-12)
    assert units.MILE == scipy_constants.mile
    assert units.POUND_FORCE == pytest.approx(scipy_constants.pound_force, rel=1e-12)
    assert units.QUART == pytest.approx(scipy_constants.gallon / 4.0, rel=1e-12)
    assert constants.ATMOSPHERE == scipy_constants.atmosphere
    assert constants.GRAVITY == scipy_constants.g
    assert constants.ZERO_CELSIUS == scipy_constants.zero_Celsius


@pytest.mark.parametrize("pair", PAIRS)
def test_each_pair_undoes_itself(pair):
    """Every to_x has a from_x that undoes it, on arrays with zero and negative values."""
    values = np.array([-40.0, 0.0, 0.5, 300.0])
    there = getattr(units, f"to_{pair}")(values)
    np.testing.assert_allclose(getattr(units, f"from_{pair}")(there), values, rtol=1e-13, atol=1e-11)


def test_every_from_has_a_to():
    """No one-way conversion."""
    assert PAIRS == sorted(name[5:] for name in dir(units) if name.startswith("from_"))
