"""Lines into columns: bit for bit what Python's own `float` says, at whatever block size."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.columns import LineReader
from benchtui.driver.grammar import OVERLOAD_WORDS, read_line
from benchtui.driver.recipe import number_at
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

NUMBERS = st.one_of(
    st.decimals(-1000, 1000, places=3).map(str),
    st.from_regex(r"[+-]?[0-9]{1,20}\.[0-9]{0,12}", fullmatch=True),
    st.from_regex(r"[+-]?[0-9]\.[0-9]{1,9}E[+-][0-9]{1,3}", fullmatch=True),
    st.integers(-(10**25), 10**25).map(str),
)


def _reader(**options: object) -> LineReader:
    return LineReader(lambda line: read_line(line, Unit.V), literal=OVERLOAD_WORDS, **options)  # type: ignore[arg-type]


@given(st.lists(NUMBERS, min_size=1, max_size=40))
def test_a_decimal_number_is_read_as_decimal_text(numbers: list[str]) -> None:
    """Every value is the double nearest to the text: 0.1 stays 0.1. Compared with Python's own rounding."""
    rows = _reader().rows("\n".join(numbers).encode())
    wanted = [float(n) for n in numbers]
    got = rows.value.tolist()
    assert len(got) == len(wanted)
    for value, number in zip(got, wanted, strict=True):
        over = abs(number) >= 9.9e37
        assert (
            math.isnan(value)
            if over
            else (value == number and math.copysign(1, value) == math.copysign(1, number))
        )


@given(st.lists(NUMBERS | st.sampled_from(["OL", "285.3 mV AC", "junk", "", "0L V", "5L V"]), max_size=60))
def test_block_size_changes_nothing(lines: list[str]) -> None:
    """One by one or all at once: the same rows, bit for bit, and the same junk."""
    whole = _reader().rows("\n".join(lines).encode())
    reader = _reader()
    single = [reader.rows(line.encode()) for line in lines]
    for column in ("value", "resolution", "unit", "flags"):
        ones = np.concatenate([getattr(r, column) for r in single]) if single else np.empty(0)
        assert getattr(whole, column).tobytes() == ones.astype(getattr(whole, column).dtype).tobytes()
    assert whole.junk == tuple(i for i, r in enumerate(single) if r.junk)


@given(
    st.lists(st.from_regex(r"-?[0-9]{1,5}(\.[0-9]{0,3})?(E[+-][0-9]{1,2})?", fullmatch=True), min_size=5),
    st.sampled_from(["{}", "{} V DC", "  {}", "V {:>10}", "{:8} mV", "- {}", "{:>12}V"]),
    st.integers(1, 30),
)
def test_lines_that_differ_in_their_numbers_alone(numbers: list[str], form: str, times: int) -> None:
    """Whatever stands around them: the same as one by one, bit for bit."""
    lines = [form.format(number) for number in numbers for _ in range(times)]
    reader, single = _reader(), _reader()
    for _ in range(2):  # shapes are learnt the first time
        whole = reader.rows("\n".join(lines).encode())
    ones = [single.rows(line.encode()) for line in lines]
    for column in ("value", "resolution", "unit", "flags"):
        assert getattr(whole, column).tobytes() == b"".join(getattr(r, column).tobytes() for r in ones)
    assert whole.junk == tuple(i for i, r in enumerate(ones) if r.junk)
    assert whole.line.tolist() == [i for i, r in enumerate(ones) if len(r.line)]


@pytest.mark.parametrize(
    ("text", "kind", "value", "resolution"),
    [
        ("123", "NR1", 123.0, 1.0),
        ("-12", "NR1", -12.0, 1.0),
        ("+1.50", "NR2", 1.5, 0.01),
        ("-0.0042", "NR2", -0.0042, 0.0001),
        ("+1.234500E-03", "NR3", 0.0012345, 1e-9),
    ],
)
def test_numbers_of_ieee_488_2(text: str, kind: str, value: float, resolution: float) -> None:
    """NR1, NR2 and NR3; the resolution is one count of the last digit written.

    Source: IEEE 488.2, 8.7 (from memory); the resolutions follow by counting digits.
    """
    recipe = number_at(text.encode(), 0, len(text))
    assert recipe is not None
    assert recipe.read(text.encode()) == (value, resolution)


def test_a_comma_is_a_separator_never_a_decimal_sign() -> None:
    """285,3 is two numbers or nothing, never 285.3. Source: IEEE 488.2, 8.7 (from memory)."""
    assert number_at(b"285,3", 0, 5) is None
    assert _reader().rows(b"285,3").junk == (0,)


@pytest.mark.parametrize("text", ["9.9E37", "9.90000E+37", "9.9e+037", "-9.9E37", "9.91E37"])
@pytest.mark.parametrize("lines", [1, 40])
def test_special_numbers_are_never_values(text: str, lines: int) -> None:
    """Over range, under range and not a number are flags. Source: SCPI-99 volume 1, 7.2.1."""
    rows = _reader().rows("\n".join([text] * lines).encode())
    assert np.isnan(rows.value).all()
    assert set(rows.flags.tolist()) == {int(Flag.INVALID if "9.91" in text else Flag.OVERLOAD)}


def test_the_prefix_scales_value_and_resolution() -> None:
    """285.3 mV is 0.2853 V exactly as Python writes it, with a count of 0.1 mV."""
    rows = _reader().rows(b"285.3 mV\n47.5 kohm")
    assert rows.value.tolist() == [0.2853, 47500.0]
    assert rows.resolution.tolist() == [0.0001, 100.0]
    assert rows.unit.tolist() == [Unit.V, Unit.OHM]


def test_a_resolution_given_stands() -> None:
    """A meter that writes more digits than it knows can be told so."""
    assert _reader(resolution=0.5).rows(b"285.3512").resolution.tolist() == [0.5]


def test_a_digit_in_an_overload_word_is_no_digit() -> None:
    """`0L` is over range though it looks like a number and a unit; `5L` is nothing."""
    rows = _reader().rows(b"0L V\n5L V")
    assert rows.flags.tolist() == [Flag.OVERLOAD]
    assert rows.junk == (1,)
