"""A number, its unit and some words, in any common order; a line is a reading or nothing."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.grammar import read_line, read_state
from benchtui.model.readings import Flag
from benchtui.model.units import Unit


@pytest.mark.parametrize(
    ("line", "unit", "value"),
    [
        ("285.3", Unit.V, 285.3), ("285.3 V DC", Unit.V, 285.3), ("DC mV -12.5", Unit.V, -0.0125),
        ("VDC=12.3", Unit.V, 12.3), ("-  12.50mV", Unit.V, -0.0125), ("6.31 Vac", Unit.VAC, 6.31),
        ("12.5 kΩ", Unit.OHM, 12500.0), ("+1.234E-3 A", Unit.A, 0.001234), ("  .5 V", Unit.V, 0.5),
        ("12.3 V AC AUTO", Unit.VAC, 12.3), ("12.", Unit.V, 12.0), ("20.5 degC", Unit.CELSIUS, 20.5),
    ],
)  # fmt: skip
def test_a_value_with_unit_is_read(line: str, unit: Unit, value: float) -> None:
    """Common practice, no source: unit before or after, with or without blanks, DC and AC as words."""
    recipe = read_line(line.encode(), Unit.V)
    assert recipe is not None
    assert (recipe.unit, recipe.read(line.encode())[0], recipe.flags) == (unit, value, 0)


@pytest.mark.parametrize(
    "line", ["OL", "O.L V", "0L MOhm", "-OL", "----", "- - - - V", "OVER V", "inf", "OPEN kohm"]
)
def test_over_range_is_a_flag(line: str) -> None:
    """What displays show when there is no value; common practice, no source."""
    recipe = read_line(line.encode(), Unit.V)
    assert recipe is not None
    assert recipe.flags == Flag.OVERLOAD
    assert math.isnan(recipe.read(line.encode())[0])


def test_words_beside_the_value_are_flags() -> None:
    """HOLD, MAX and MIN repeat an old reading on purpose; a weak battery is told."""
    assert read_line(b"12.6 V, HOLD", Unit.V).flags == Flag.HOLD  # type: ignore[union-attr]
    assert read_line(b"MAX 12.6 V LOBAT", Unit.V).flags == Flag.HOLD | Flag.LOW_BATTERY  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "line",
    [
        "",
        "V",
        "12 34",
        "12.3.4",
        "285,3",
        "5 MV",
        "12.3 V A",
        "12.3 foo",
        "[/x]",
        "\x1b[2J12.3",
        "12.3E V",
        "1-2",
    ],
)
def test_anything_not_understood_whole_is_nothing(line: str) -> None:
    """No part of a line is taken while another part means nothing."""
    assert read_line(line.encode(), Unit.V) is None


@given(st.binary(max_size=300))
def test_no_line_is_an_error(line: bytes) -> None:
    """Whatever bytes make a line, reading it gives a recipe or None, and the recipe can be followed."""
    recipe = read_line(line, Unit.V)
    if recipe is not None:
        recipe.read(line)


@pytest.mark.parametrize(
    ("line", "state"), [("1", 1.0), ("0", 0.0), ("on", 1.0), ("OFF", 0.0), (" Lit ", 1.0), ("out", 0.0)]
)
def test_a_state_is_one_or_nought(line: str, state: float) -> None:
    """A lamp is lit or out; 2 is no state."""
    assert read_state(line.encode()).constant == state  # type: ignore[union-attr]
    assert read_state(b"2") is None
