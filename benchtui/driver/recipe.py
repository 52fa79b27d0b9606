"""What stands where in a text line: worked out once for each shape of line, then applied to many.

A *shape* is a line with every digit turned into `0`. Lines of one shape are read alike, so the slow and
careful work (patterns, unit words) is done once a shape, and the digits are taken from where they stand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from benchtui.model.units import Unit

_NUMBER = re.compile(
    rb"(?P<sign>[+-]?)[ \t]*(?P<whole>[0-9]*)(?P<point>\.?)(?P<part>[0-9]*)"
    rb"(?:[eE](?P<esign>[+-]?)(?P<exp>[0-9]{1,3}))?"
)

_MOST_DIGITS = 40

OVER = 9.9e37
"""SCPI-99 volume 1, 7.2.1.4: +-9.9E37 stands for infinity, that is over range."""
NOT_A_NUMBER = 9.91e37
"""SCPI-99 volume 1, 7.2.1.5."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """How to read a line: where its number stands, or what it says without one. Offsets are in bytes."""

    unit: Unit = Unit.UNKNOWN
    flags: int = 0
    digits: tuple[int, ...] = ()
    """Offsets of the digits; empty where the line is a word, not a number."""
    span: tuple[int, int] = (0, 0)
    """The number as it stands, sign and exponent and all."""
    part: int = 0
    """How many of the digits stand behind the point."""
    negative: bool = False
    """Whether it has a minus before it."""
    exponent_digits: tuple[int, ...] = ()
    exponent_negative: bool = False
    shift: int = 0
    """The power of ten that a prefix adds."""
    flip: bool = False
    """Whether a sign elsewhere in the line turns it round."""
    constant: float = float("nan")
    """The value of a line without digits: a state, or NaN where `flags` say there is none."""

    def read(self, line: bytes) -> tuple[float, float]:
        """Value and resolution of one line, correctly rounded: what Python's `float` gives for the text."""
        if not self.digits:
            return self.constant, 0.0
        start, end = self.span
        text = line[start:end]
        power = self.shift - self.part
        if self.exponent_digits:
            written = int(bytes(line[i] for i in self.exponent_digits))
            power += -written if self.exponent_negative else written
            if self.shift:
                mantissa = bytes(line[i] for i in self.digits).decode()
                text = f"{'-' if self.negative else ''}{mantissa}e{power}".encode()
        elif self.shift:
            text = b"%be%d" % (text, self.shift)
        value = _float(text)
        return -value if self.flip else value, one_count(power)


def _float(text: bytes) -> float:
    try:
        return float(text)
    except ValueError:  # blanks between sign and digits
        return float(b"".join(text.split()))


@cache
def one_count(power: int) -> float:
    """Ten to this power, correctly rounded."""
    return float(f"1e{power}")


def number_at(line: bytes, start: int, end: int) -> Recipe | None:
    """The recipe for the decimal number that these bytes are, whole; None if they are none.

    NR1, NR2 and NR3 of IEEE 488.2, with or without a sign, blanks allowed after it; no decimal comma; at most
    40 digits, more than any meter has.
    """
    found = _NUMBER.fullmatch(line, start, end)
    if found is None or not 0 < len(found["whole"]) + len(found["part"]) <= _MOST_DIGITS:
        return None
    spans = [found.span("whole"), found.span("part")]
    return Recipe(
        digits=tuple(i for a, b in spans for i in range(a, b)),
        span=(start, end),
        part=len(found["part"]),
        negative=found["sign"] == b"-",
        exponent_digits=tuple(range(*found.span("exp"))) if found["exp"] else (),
        exponent_negative=found["esign"] == b"-",
    )
