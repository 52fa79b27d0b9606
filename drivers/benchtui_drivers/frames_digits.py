"""Digits of many frames into numbers: tables from bits to characters, columns of characters to values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Ints

from .frames_bits import Bits, Columns

Text = NDArray[np.uint8]
"""What displays show: row n holds the character of digit n of every frame; 0 for one that is not known."""

MOST_DIGITS = 15
"""More do not fit into a double exactly."""


@dataclass(frozen=True, slots=True)
class Numbers:
    """What many displays show, as whole numbers and places of the point."""

    mantissa: Ints
    behind: Ints
    """How many of the digits stand behind a point that is a character of its own."""
    minus: Bools
    good: Bools
    """Whether it is a number at all."""


@dataclass(frozen=True, slots=True, eq=False)
class Digit:
    """One digit of a display."""

    bits: Bits
    table: NDArray[np.uint8]
    """What stands at these bits -> the character that it shows, 0 where that is not described."""

    def shows(self, frame: bytes) -> str:
        """The character in one frame; empty where it is not described."""
        code = int(self.table[self.bits.value(frame)])
        return chr(code) if code else ""


def table(bits: Bits, characters: Mapping[int, str]) -> NDArray[np.uint8]:
    """The table of a digit."""
    codes = np.zeros(1 << bits.width, np.uint8)
    for value, character in characters.items():
        if value < len(codes):
            codes[value] = ord(character)
    return codes


@dataclass(frozen=True, slots=True)
class Display:
    """A row of digits, from left to right."""

    digits: tuple[Digit, ...]

    @property
    def places(self) -> tuple[Bits, ...]:
        return tuple(digit.bits for digit in self.digits)

    def text(self, columns: Columns) -> Text:
        """What they show."""
        text = np.empty((len(self.digits), columns.shape[1]), np.uint8)
        for row, digit in zip(text, self.digits, strict=True):
            np.take(digit.table, digit.bits.small(columns), out=row)
        return text

    def numbers(self, columns: Columns) -> tuple[Numbers, Text]:
        """What they show, as numbers and as characters."""
        text = self.text(columns)
        return numbers(text), text

    def shown(self, frame: bytes) -> str:
        """What one frame shows, for a person.

        Raises:
            ValueError: a digit shows something that is not described.
        """
        text = ""
        for number, digit in enumerate(self.digits, 1):
            shows = digit.shows(frame)
            if not shows:
                value = digit.bits.value(frame)
                hexed = f"0x{value:0{(digit.bits.width + 3) // 4}X}"
                raise ValueError(f"digit {number} holds {hexed}, which is not described")
            text += shows
        return text


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number in binary."""

    bits: Bits
    signed: bool
    """Two's complement."""

    @property
    def places(self) -> tuple[Bits, ...]:
        return (self.bits,)

    def numbers(self, columns: Columns) -> tuple[Numbers, Text]:
        """The numbers; they show nothing else."""
        value = self.bits.values(columns)
        if self.signed:
            top = 1 << (self.bits.width - 1)
            value = (value ^ top) - top
        n = len(value)
        every = np.ones(n, bool)
        return Numbers(np.abs(value), np.zeros(n, np.int64), value < 0, every), np.zeros((0, n), np.uint8)

    def shown(self, frame: bytes) -> str:
        """The bits as a number."""
        return str(self.bits.value(frame))


def numbers(text: Text) -> Numbers:
    """Decimal numbers, blanks before them allowed, one sign before the first digit, one point."""
    digit = (text - np.uint8(0x30)) < 10
    n = text.shape[1]
    found = Numbers(_whole(text), np.zeros(n, np.int64), np.zeros(n, bool), np.ones(n, bool))
    if not digit.all():
        others = np.flatnonzero(~digit.all(axis=0))
        more = _with_more(text[:, others], digit[:, others])
        found.mantissa[others], found.behind[others] = more.mantissa, more.behind
        found.minus[others], found.good[others] = more.minus, more.good
    return found


def _whole(text: Text) -> Ints:
    total: Ints = text[0].astype(np.int64)
    for row in text[1:]:
        total *= 10
        total += row
    total -= int("1" * len(text)) * 0x30
    return total


def _with_more(text: Text, digit: Bools) -> Numbers:
    n = text.shape[1]
    mantissa, behind = np.zeros(n, np.int64), np.zeros(n, np.int64)
    seen, point, sign, minus = np.zeros(n, bool), np.zeros(n, bool), np.zeros(n, bool), np.zeros(n, bool)
    good = np.ones(n, bool)
    for row, is_digit in zip(text, digit, strict=True):
        mantissa = np.where(is_digit, mantissa * 10 + row - 0x30, mantissa)
        behind += is_digit & point
        is_minus = row == 0x2D
        is_sign = is_minus | (row == 0x2B)
        is_point = row == 0x2E
        before = ~seen & ~point
        good &= is_digit | ((row == 0x20) & before) | (is_sign & before & ~sign) | (is_point & ~point)
        seen |= is_digit
        point |= is_point
        sign |= is_sign
        minus |= is_minus
    return Numbers(mantissa, behind, minus, good & seen)
