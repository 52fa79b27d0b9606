"""Markings on parts against IEC 60062 and IEC 60063."""

from __future__ import annotations

from decimal import Decimal

import pytest

from benchtui.chart.marking import SERIES, part_value, preferred, three_digit_code
from benchtui.chart.quantity import QuantityError, parse_quantity
from benchtui.model.units import Unit


@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        ("R47", "0.47"),
        ("4R7", "4.7"),
        ("470R", "470"),
        ("4K7", "4700"),
        ("47K", "47000"),
        ("47K3", "47300"),
        ("470K", "470000"),
        ("4M7", "4.7E6"),
    ],
)
def test_letter_and_digit_codes(code: str, ohms: str) -> None:
    """IEC 60062: the letter stands where the decimal point does and tells the power of ten."""
    found = parse_quantity(code, Unit.OHM)

    assert (found.value, found.unit) == (Decimal(ohms), Unit.OHM)


@pytest.mark.parametrize(
    ("code", "farads"),
    [
        ("104", "100E-9"),
        ("223", "22E-9"),
        ("105", "1E-6"),
        ("101", "100E-12"),
        ("121", "120E-12"),
        ("479", "4.7E-12"),
        ("508", "0.5E-12"),
    ],
)
def test_three_digit_codes(code: str, farads: str) -> None:
    """IEC 60062 / EIA practice: two digits and the power of ten in picofarads; 8 is x.01 and 9 is x.1."""
    value, tolerance = three_digit_code(code)

    assert value.value == Decimal(farads)
    assert tolerance is None


def test_a_letter_behind_the_code_is_the_tolerance() -> None:
    """IEC 60062 / EIA practice: 104K is 100 nF +-10 %."""
    value, tolerance = part_value("104K", Unit.FARAD)

    assert value.value == Decimal("100E-9")
    assert tolerance is not None
    assert (tolerance.down, tolerance.up) == (10, 10)


def test_a_tolerance_letter_follows_a_resistor_too() -> None:
    """4K7J is 4.7 kohm +-5 % (IEC 60062; the letter from memory), and 47K stays 47 kohm."""
    value, tolerance = part_value("4K7J", Unit.OHM)

    assert value.value == 4700
    assert tolerance is not None
    assert tolerance.up == 5
    assert part_value("47K", Unit.OHM)[1] is None


def test_a_code_that_could_be_picofarads_is_refused() -> None:
    """`100` is 10 pF by its code and 100 pF on an old part: it is asked for, not guessed."""
    with pytest.raises(QuantityError, match="could be 10 pF by its code or 100 pF"):
        part_value("100", Unit.FARAD)


def test_a_capacitor_code_is_no_resistor() -> None:
    """Three digits mean picofarads only where a capacitor is meant; 104K is 104 kohm on a resistor."""
    with pytest.raises(QuantityError, match="no unit"):
        part_value("104", Unit.OHM)
    assert part_value("104K", Unit.OHM)[0].value == 104_000


def test_preferred_values() -> None:
    """IEC 60063: the values of E6, E12 and E24."""
    assert SERIES["E6"] == (10, 15, 22, 33, 47, 68)
    assert SERIES["E12"] == (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    assert SERIES["E24"] == (
        10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("value", "series", "fits"),
    [
        ("4700", "E6", True),
        ("0.22E-6", "E6", True),
        ("10", "E6", True),
        ("1", "E12", True),
        ("9.1", "E24", True),
        ("9.1", "E12", False),
        ("47300", "E24", False),
        ("0.05E-6", "E24", False),
        ("0.25E-6", "E24", False),
        ("8E-6", "E24", False),
        ("16E-6", "E24", True),
        ("16E-6", "E12", False),
        ("50000", "E24", False),
        ("250000", "E24", False),
        ("0", "E24", False),
    ],
)
def test_membership_of_a_series(value: str, series: str, fits: bool) -> None:
    """A value is preferred if its digits are in the series; parts of before about 1950 seldom are."""
    assert preferred(Decimal(value), series) is fits


@pytest.mark.parametrize("text", [".05 uF", ".25 uF", "8 uF", "16 uF", "50 k", "250 k"])
def test_old_values_are_read_all_the_same(text: str) -> None:
    """Values in no series are still right (common practice, no source): they are read without a word."""
    assert part_value(text, Unit.FARAD, Unit.OHM)[0].value > 0
