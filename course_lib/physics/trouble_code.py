"""Trouble codes and standard data as they travel: two bytes and what they say."""

import re

from course_lib.base.arrays import Values
from course_lib.base.guards import between, one_of

SYSTEMS = "PCBU"  # powertrain, chassis, body, network: the top two bits
CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
# Value = (256 A + B) x scale + offset, or of A alone; the unit it comes in (SAE J1979; from memory)
SCALINGS: dict[str, tuple[int, float, float, str]] = {
    "04": (1, 100.0 / 255.0, 0.0, "%"),
    "05": (1, 1.0, -40.0, "degC"),
    "0C": (2, 0.25, 0.0, "rpm"),
    "0D": (1, 1.0, 0.0, "km/h"),
    "11": (1, 100.0 / 255.0, 0.0, "%"),
    "1F": (2, 1.0, 0.0, "s"),
    "21": (2, 1.0, 0.0, "km"),
    "31": (2, 1.0, 0.0, "km"),
    "42": (2, 1e-3, 0.0, "V"),
    "49": (1, 100.0 / 255.0, 0.0, "%"),
}


def code_of(first: int, second: int) -> str:
    """Trouble code of two bytes.

        2 bits: P, C, B or U;   2 bits: first digit, 0 to 3;   3 x 4 bits: hexadecimal digits

    Parameters                                                  symbol  unit
        first    int   the byte that comes first, 0..255          -       [-]
        second   int   the other, 0..255                          -       [-]
    Returns
        str, five characters                                      -       [-]
    Valid for
        codes of SAE J2012; what a code means is in no formula.
    Raises
        ValueError if a byte is none.
    Source
        SAE J2012 / ISO 15031-6 (read in an open-source packet library and in a source file's comment).
    In the workshop
        the code names a circuit, not a cause; the part that it names is often innocent.
    Example
        >>> code_of(0x07, 0x41), code_of(0xC1, 0x00)
        ('P0741', 'U0100')
    """
    between("first", first, 0, 255, "Give one byte.")
    between("second", second, 0, 255, "Give one byte.")
    return f"{SYSTEMS[first >> 6]}{first >> 4 & 3}{first & 15:X}{second:02X}"


def bytes_of(code: str) -> tuple[int, int]:
    """Two bytes of a trouble code: `code_of` the other way round.

        as there

    Parameters                                                  symbol  unit
        code   str   letter, digit 0 to 3, three hexadecimal digits   -   [-]
    Returns
        pair of int, 0..255                                       -       [-]
    Valid for
        codes of SAE J2012.
    Raises
        ValueError if it is no code.
    Source
        As `code_of`.
    In the workshop
        a tool that shows only numbers still shows the code.
    Example
        >>> [f"{byte:02X}" for byte in bytes_of("P0894")]
        ['08', '94']
    """
    if not CODE.fullmatch(code):
        raise ValueError(
            f"code must be like P0741, got {code!r}. Give a letter P, C, B, U, 0 to 3, three digits."
        )
    number = SYSTEMS.index(code[0]) << 14 | int(code[1:], 16)
    return number >> 8, number & 255


def standard_value(parameter: str, first: Values, second: Values = 0.0) -> Values:
    """Value of a standard data item of the generic tool, in the unit that it travels in.

        y = A k + c, or (256 A + B) k + c;   k and c in `SCALINGS`, which also names the unit

    Parameters                                                                      symbol  unit
        parameter   str              id of the item, two hexadecimal digits           -       [-]
        first       float or array   the byte that comes first                        A       [-]
        second      float or array   the other, where there is one                    B       [-]
    Returns
        float or array, broadcast of the inputs                                       y       [as named]
    Valid for
        the items of `SCALINGS`.
    Raises
        ValueError if the item is not among them.
    Source
        SAE J1979 / ISO 15031-5 (from memory).
    In the workshop
        a number that stands still at its lowest or highest byte is no measurement.
    Example
        >>> standard_value("0C", 0x1A, 0xF8), standard_value("05", 0x7B)
        (1726.0, 83.0)
    """
    one_of("parameter", parameter, SCALINGS)
    count, scale, offset, _ = SCALINGS[parameter]
    return (first * 256.0 + second if count == 2 else first) * scale + offset
