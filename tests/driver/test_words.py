"""Unit words as meters write them."""

from __future__ import annotations

import pytest

from benchtui.driver.words import unit_word
from benchtui.model.units import Unit


@pytest.mark.parametrize(
    ("word", "unit", "power"),
    [
        ("V", Unit.V, 0), ("mV", Unit.V, -3), ("VDC", Unit.V, 0), ("VAC", Unit.VAC, 0), ("Vac", Unit.VAC, 0),
        ("ACmV", Unit.VAC, -3), ("DC mV", Unit.V, -3), ("V AC", Unit.VAC, 0), ("Vrms", Unit.VAC, 0),
        ("mA", Unit.A, -3), ("µA", Unit.A, -6), ("UA", Unit.A, -6), ("kohm", Unit.OHM, 3),
        ("KOHM", Unit.OHM, 3), ("MOHM", Unit.OHM, 6), ("mohm", Unit.OHM, -3), ("kΩ", Unit.OHM, 3),
        ("MHz", Unit.HZ, 6), ("khz", Unit.HZ, 3), ("nF", Unit.FARAD, -9), ("PF", Unit.FARAD, -12),
        ("°C", Unit.CELSIUS, 0), ("%", Unit.PERCENT, 0), ("dB", Unit.DB, 0), ("s", Unit.SECOND, 0),
    ],
)  # fmt: skip
def test_a_unit_word_is_understood(word: str, unit: Unit, power: int) -> None:
    """Upper and lower case, DC and AC on either side, SI prefixes and the `u` of keyboards."""
    assert unit_word(word) == (unit, power)


@pytest.mark.parametrize("word", ["MV", "MA", "DC", "AC", "VDCAC", "S", "h", "°F", "x", "", "kk ohm"])
def test_a_word_with_two_meanings_or_none_is_refused(word: str) -> None:
    """MV may be milli on a display with capitals only: a guess would be wrong by 1e9."""
    assert unit_word(word) is None


def test_a_bare_v_is_what_the_meter_is_set_to() -> None:
    """V alone is DC, unless the bench says that this meter measures AC; a written DC stands."""
    assert unit_word("V") == (Unit.V, 0)
    assert unit_word("V", expected=Unit.VAC) == (Unit.VAC, 0)
    assert unit_word("VDC", expected=Unit.VAC) == (Unit.V, 0)
    assert unit_word("ohm", expected=Unit.VAC) == (Unit.OHM, 0)
