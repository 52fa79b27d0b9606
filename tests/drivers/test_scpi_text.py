"""What SCPI meters say, checked against the standards' own numbers and texts."""

from __future__ import annotations

import math

import pytest
from benchtui_drivers.scpi_function import function
from benchtui_drivers.scpi_text import error, identity, numbers
from hypothesis import given
from hypothesis import strategies as st

from benchtui.model.readings import Flag
from benchtui.model.units import Unit


@pytest.mark.parametrize(
    ("text", "value", "resolution"),
    [
        ("123", 123.0, 1.0),
        ("-12", -12.0, 1.0),
        ("+1.50", 1.5, 0.01),
        ("-0.0042", -0.0042, 0.0001),
        ("+1.234500E-03", 0.0012345, 1e-9),
    ],
)
def test_nr1_nr2_and_nr3(text: str, value: float, resolution: float) -> None:
    """Source: IEEE 488.2, 8.7 (from memory). The resolution is one count of the last digit written."""
    (number,) = numbers(text.encode()) or ()
    assert (number.value, number.resolution, number.flags) == (value, resolution, 0)


@pytest.mark.parametrize(
    ("text", "flag"),
    [
        ("9.9E37", Flag.OVERLOAD),
        ("-9.9E37", Flag.OVERLOAD),
        ("9.90000E+37", Flag.OVERLOAD),
        ("9.9e+037", Flag.OVERLOAD),
        ("9.91E37", Flag.INVALID),
        ("+9.910000E+37", Flag.INVALID),
    ],
)
def test_special_numbers_are_flags(text: str, flag: Flag) -> None:
    """Over range, under range, not a number; never a value. Source: SCPI-99 volume 1, 7.2.1."""
    (number,) = numbers(text.encode()) or ()
    assert math.isnan(number.value)
    assert number.flags == flag


@pytest.mark.parametrize(
    ("line", "code", "text"),
    [
        ('0,"No error"', 0, "No error"),
        ('+0,"No error"', 0, "No error"),
        ('-113,"Undefined header"', -113, "Undefined header"),
        ('-222,"Data out of range"', -222, "Data out of range"),
        ('-350,"Queue overflow"', -350, "Queue overflow"),
        ('-102,"Syntax error; near ""X"""', -102, 'Syntax error; near "X"'),
    ],
)
def test_the_error_queue(line: str, code: int, text: str) -> None:
    """Code and text. Source: SCPI-99 volume 2, SYSTem:ERRor; doubled quotes: IEEE 488.2, 8.7.8 (memory)."""
    assert error(line.encode()) == (code, text)


def test_a_comma_separates_values() -> None:
    """Two values of a scanner; 285,3 is two values, not one."""
    assert [n.value for n in numbers(b"+2.850000E+02, -1.5") or ()] == [285.0, -1.5]
    assert len(numbers(b"285,3") or ()) == 2


@pytest.mark.parametrize(
    "line", ["", ",", "1,", ",1", "1;2", "1.2.3", "1 2", "VOLT", "1E", "0x10", "- 5", '0,"No error"']
)
def test_anything_else_is_no_number(line: str) -> None:
    """An answer is numbers, whole, or nothing."""
    assert numbers(line.encode()) is None


def test_an_identity_is_cleaned() -> None:
    """Blanks, serial number 0 and control characters are left out. Source: IEEE 488.2, 10.14 (memory)."""
    assert identity(b" SALTMARSH ,\x1b[2J METER\x00 1 ,0,1.0 ") == "SALTMARSH, [2J METER 1, 1.0"
    assert identity(b"+1.5E+00") == ""
    assert identity(b'0,"No error"') == ""


@given(st.binary(max_size=200))
def test_no_line_is_an_error_of_ours(line: bytes) -> None:
    """Any bytes are numbers, an error, an identity or nothing."""
    numbers(line), error(line), identity(line)


@pytest.mark.parametrize(
    ("line", "name", "unit"),
    [
        (b'"VOLT:AC"', "VOLT:AC", Unit.VAC),
        (b"VOLT", "VOLT", Unit.V),
        (b'"VOLT:DC"', "VOLT:DC", Unit.V),
        (b'"VOLTage:DC"', "VOLT:DC", Unit.V),
        (b'"VOLT +1.000000E+01,+3.000000E-06"', "VOLT", Unit.V),
        (b'"SENS:CURR:AC"', "CURR:AC", Unit.AAC),
        (b'"FRES"', "FRES", Unit.OHM),
        (b'"DIOD"', "DIOD", None),
        (b'"CURR:DC 1.0E-1,1.0E-6"', "CURR:DC", Unit.A),
    ],
)
def test_what_a_meter_is_set_to(line: bytes, name: str, unit: Unit | None) -> None:
    """Short and long forms, with and without the range behind them (SCPI-99, from memory)."""
    assert function(line) == (name, unit)


@pytest.mark.parametrize(
    "line",
    [b"285.0", b'0,"No error"', b"SALTMARSH,METER,0,1", b"POWER METER,X,1,2", b"", b'"', b"VOLTS", b"\xff"],
)
def test_what_names_no_function(line: bytes) -> None:
    """A number, an error, an identity: they are never taken for a function."""
    assert function(line) is None
