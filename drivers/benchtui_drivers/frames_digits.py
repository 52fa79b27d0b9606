"""Digits of many frames into numbers: tables from bits to characters, columns of characters to values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Floats, Ints

from .frames_bits import Bits, Columns, Run

Text = NDArray[np.uint8]
"""What displays show: row n holds the character of digit n of every frame; 0 for one that is not known."""

MOST_DIGITS = 15
"""More do not fit into a double exactly."""

_WEIGHTS = np.array([10.0**n for n in reversed(range(MOST_DIGITS))])
_TENS = _WEIGHTS[::-1].copy()
_OF_ZEROS = [float(0x30 * int("0" + "1" * n)) for n in range(MOST_DIGITS + 1)]
"""What that many characters `0` add up to, weighed; all sums of characters are below 2**53, so exact."""


@dataclass(frozen=True, slots=True)
class Numbers:
    """What many displays show, as whole numbers and places of the point."""

    mantissa: Floats
    """Whole numbers, which a double holds exactly."""
    more: More | None = None
    """None where all displays show digits and nothing else."""


@dataclass(frozen=True, slots=True)
class More:
    """What displays show besides digits."""

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


class Display:
    """A row of digits, from left to right."""

    def __init__(self, digits: tuple[Digit, ...]) -> None:
        self.digits = digits
        self._parts = _parts([digit.bits for digit in digits])
        self._tables = np.zeros((len(digits), 256), np.uint8)
        for table, digit in zip(self._tables, digits, strict=True):
            table[: len(digit.table)] = digit.table
        self._alike = bool((self._tables == self._tables[0]).all())
        self._rows = np.arange(len(digits))[:, None]

    @property
    def places(self) -> tuple[Bits, ...]:
        return tuple(digit.bits for digit in self.digits)

    def text(self, columns: Columns) -> Text:
        """What they show."""
        value: Columns | None = None
        for part in self._parts:
            found = columns[part.byte]
            if not part.whole:
                found = (found >> part.low) & part.mask
            value = found if value is None else (value << part.width) | found
        assert value is not None, "a display has at least one digit, and a digit at least one bit"
        return self._tables[0][value] if self._alike else self._tables[self._rows, value]

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
        n = len(value)
        text = np.zeros((0, n), np.uint8)
        if not self.signed:
            return Numbers(value.astype(np.float64)), text
        top = 1 << (self.bits.width - 1)
        value = (value ^ top) - top
        more = More(np.zeros(n, np.int64), value < 0, np.ones(n, bool))
        return Numbers(np.abs(value).astype(np.float64), more), text

    def shown(self, frame: bytes) -> str:
        """The bits as a number."""
        return str(self.bits.value(frame))


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """The first run of bits of every digit, or the second, and so on; a digit that has none adds nothing."""

    byte: NDArray[np.intp]
    low: Columns
    width: Columns
    mask: Columns
    whole: bool
    """Whether each is all of its byte."""


def _parts(fields: list[Bits]) -> tuple[_Part, ...]:
    """All digits run by run, so that numpy is called once for all of them."""
    parts = []
    for n in range(max(len(bits.runs) for bits in fields)):
        runs = [bits.runs[n] if n < len(bits.runs) else Run(0, 0, 0) for bits in fields]
        low = np.array([r.low for r in runs], np.uint8)[:, None]
        width = np.array([r.width for r in runs], np.uint8)[:, None]
        mask = np.array([(1 << r.width) - 1 for r in runs], np.uint8)[:, None]
        byte = np.array([r.byte for r in runs], np.intp)
        parts.append(_Part(byte, low, width, mask, all(r.width == 8 for r in runs)))
    return tuple(parts)


def numbers(text: Text) -> Numbers:
    """Decimal numbers, blanks before them allowed, one sign before the first digit, one point."""
    mantissa = (_WEIGHTS[-len(text) :] @ text).astype(np.float64, copy=False) - _OF_ZEROS[len(text)]
    if text.tobytes().isdigit():
        return Numbers(mantissa)
    digit = (text - np.uint8(0x30)) < 10
    n = text.shape[1]
    more = More(np.zeros(n, np.int64), np.zeros(n, bool), np.ones(n, bool))
    others = np.flatnonzero(~digit.all(axis=0))
    mantissa[others], said = _with_more(text[:, others], digit[:, others])
    more.behind[others], more.minus[others], more.good[others] = said.behind, said.minus, said.good
    return Numbers(mantissa, more)


def _with_more(text: Text, digit: Bools) -> tuple[Floats, More]:
    point, minus = text == 0x2E, text == 0x2D
    sign = minus | (text == 0x2B)
    begun = np.logical_or.accumulate(digit | point, axis=0)
    good: Bools = (digit | point | (~begun & (sign | (text == 0x20)))).all(axis=0)
    good &= (sign.sum(axis=0) < 2) & (point.sum(axis=0) < 2) & digit.any(axis=0)
    follow = digit[::-1].cumsum(axis=0)[::-1] - digit  # how many digits stand behind each place
    mantissa: Floats = (np.where(digit, text - np.uint8(0x30), 0) * _TENS[follow]).sum(axis=0)
    behind: Ints = (digit & np.logical_or.accumulate(point, axis=0)).sum(axis=0)
    return mantissa, More(behind, minus.any(axis=0), good)
