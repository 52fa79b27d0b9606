"""Decimal text becomes numbers exactly: checked against the decimal module and Python's own reading."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.store.decimal_columns import nanoseconds, read_plain, scaled

DIGITS = st.text("0123456789", max_size=14)
PLAIN = st.builds(
    lambda sign, whole, part: f"{sign}{whole}{part}",
    st.sampled_from(["", "-", "+"]),
    st.text("0123456789", min_size=1, max_size=9),
    st.just("") | DIGITS.map(lambda digits: f".{digits}"),
)


@given(st.lists(PLAIN, min_size=1), st.integers(-9, 9))
def test_every_plain_number_is_read_as_the_nearest_float(texts: list[str], shift: int) -> None:
    """`0.1` stays `0.1`, with a prefix too: the same float as Python reads from the text."""
    numbers = read_plain(texts)
    values, exact = scaled(numbers, numbers.places - shift)
    for text, value, good in zip(texts, values, exact, strict=True):
        if good:
            assert value == float(f"{text}e{shift}"), text
    short = [len(text.strip("+-").replace(".", "")) <= 15 for text in texts]
    assert (exact | ~np.array(short)).all()


@given(st.lists(st.text("0123456789.+-eE naif", max_size=28), min_size=1))
def test_what_is_not_plain_is_left_to_the_slow_way(texts: list[str]) -> None:
    """The quick way takes only what it reads rightly; it never guesses."""
    numbers = read_plain(texts)
    for text, plain, digits, places in zip(texts, numbers.plain, numbers.digits, numbers.places, strict=True):
        if plain:
            assert Decimal(text) == Decimal(int(digits)).scaleb(-int(places))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0", 0),
        ("12.5", 12_500_000_000),
        ("0.000000001", 1),
        ("16777217.000000001", 16_777_217_000_000_001),
        ("1e-3", 1_000_000),
        ("1.5E3", 1_500_000_000_000),
        ("000012.500000000000", 12_500_000_000),
        ("8999999999.999999999", 8_999_999_999_999_999_999),
        ("-0.0", 0),
    ],
)
def test_seconds_are_read_exactly_into_nanoseconds(text: str, expected: int) -> None:
    """Through no float: 16777217.000000001 s has a nanosecond that a float would lose."""
    assert nanoseconds(text) == expected


@pytest.mark.parametrize(
    "text",
    ["", ".", "-1", "1.0000000001", "1e-10", "nan", "inf", "1_000", "1,5", "0x10", "9e9", "1e999999", "١",
     "1e9999999999", "0.00000000100000000000000000000000000000001"],
)  # fmt: skip
def test_seconds_that_are_not_exact_nanoseconds_are_refused(text: str) -> None:
    """More than nine decimals, a sign, words, other digits than 0 to 9: nothing is rounded or guessed."""
    assert nanoseconds(text) is None
