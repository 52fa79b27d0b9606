"""Decimal numbers in text, many at once, read exactly: no reading goes through a rounded float."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Floats, Ints

WIDEST = 24
"""Longer texts are read one by one."""
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?", re.ASCII)
MOST_DIGITS = 18
POWERS = np.array([float(10**k) for k in range(23)])
"""The powers of ten that a float holds exactly."""


@dataclass(frozen=True, slots=True, eq=False)
class Decimals:
    """A column of numbers: digits * 10**-places where `plain`; the others are to be read one by one."""

    digits: Ints
    """With the sign."""
    places: NDArray[np.int64]
    """Digits written after the decimal point."""
    plain: Bools
    """True where the text is a sign, at most 18 digits and a point, and nothing else."""


def read_plain(texts: Sequence[str]) -> Decimals:
    """Reads the plain ones among the texts, without a loop over them."""
    try:
        table = np.array(texts, dtype=f"S{WIDEST + 1}")
    except UnicodeEncodeError:
        table = np.array([t.encode("ascii", "replace") for t in texts], dtype=f"S{WIDEST + 1}")
    chars = table.view(np.uint8).reshape(len(texts), WIDEST + 1)
    used = int(np.flatnonzero(chars.any(axis=0))[-1]) + 1 if chars.any() else 0
    return _read_chars(chars[:, :used], len(texts))


def _read_chars(chars: NDArray[np.uint8], rows: int) -> Decimals:
    digits = np.zeros(rows, dtype=np.int64)
    count = np.zeros(rows, dtype=np.int64)
    places = np.zeros(rows, dtype=np.int64)
    points = np.zeros(rows, dtype=np.int64)
    good = np.ones(rows, dtype=np.bool_)
    minus = np.zeros(rows, dtype=np.bool_)
    ended = np.zeros(rows, dtype=np.bool_)
    for place in range(chars.shape[1]):
        char = chars[:, place]
        number = char - np.uint8(48)
        is_digit = number < 10
        is_point = char == 46
        ended |= char == 0
        if place == 0:
            minus = char == 45
            good &= is_digit | is_point | minus | (char == 43)
        else:
            good &= (is_digit | is_point) != ended
        digits = np.where(is_digit, digits * 10 + number, digits)
        count += is_digit
        places += is_digit & (points > 0)
        points += is_point
    good &= (points <= 1) & (count >= 1) & (count <= MOST_DIGITS)
    if chars.shape[1] > WIDEST:
        good &= chars[:, WIDEST] == 0
    return Decimals(np.where(minus, -digits, digits), places, good)


def scaled(numbers: Decimals, places: NDArray[np.int64]) -> tuple[Floats, Bools]:
    """digits / 10**places as floats, and where that is the nearest float to the decimal number.

    Both operands are whole numbers that a float holds exactly (digits below 2**53, powers of ten up to
    10**22), so that IEEE 754's single correctly rounded division is the correctly rounded value of the text.
    """
    exact = numbers.plain & (np.abs(numbers.digits) < 2**53) & (np.abs(places) <= 22)
    power = POWERS[np.clip(np.abs(places), 0, 22)]
    digits = numbers.digits.astype(np.float64)
    return np.where(places >= 0, digits / power, digits * power), exact


def nanoseconds(text: str) -> int | None:
    """Seconds as a decimal text, in whole nanoseconds; None if the text says anything else.

    Refused: no number, below 0, more than nine decimals, 9e9 seconds or more.
    """
    if not NUMBER.fullmatch(text):
        return None
    sign, digits, exponent = Decimal(text).as_tuple()
    significant = "".join(map(str, digits)).rstrip("0")
    if not significant:
        return 0
    shift = int(exponent) + len(digits) - len(significant) + 9
    if sign or shift < 0 or shift + len(significant) > 20:
        return None
    nanos = int(significant) * 10**shift
    return nanos if nanos < 9 * 10**18 else None
