"""What stands where in a text line: worked out once for each shape of line, then applied to many.

A *shape* is a line with every digit turned into `0`. Lines of one shape are read alike, so the slow and
careful work (patterns, unit words) is done once a shape, and the digits are taken from where they stand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from benchtui.model.units import Unit

_NUMBER = re.compile(
    rb"(?P<sign>[+-]?)[ \t]*(?P<whole>[0-9]*)(?P<point>\.?)(?P<part>[0-9]*)"
    rb"(?:[eE](?P<esign>[+-]?)(?P<exp>[0-9]{1,3}))?"
)

OVER = 9.9e37
"""SCPI-99 volume 1, 7.2.1.4: +-9.9E37 stands for infinity, that is over range."""
NOT_A_NUMBER = 9.91e37
"""SCPI-99 volume 1, 7.2.1.5."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """How to read a line: where its digits stand, or what it says without digits."""

    unit: Unit = Unit.UNKNOWN
    flags: int = 0
    digits: tuple[int, ...] = ()
    """Byte offsets of the digits; empty where the line is a word, not a number."""
    exponent: int = 0
    """The power of ten of the last digit (before any exponent on the wire)."""
    negative: bool = False
    exponent_digits: tuple[int, ...] = ()
    exponent_negative: bool = False
    constant: float = float("nan")
    """The value of a line without digits: a state, or NaN where `flags` say there is none."""

    def read(self, line: bytes) -> tuple[float, float]:
        """Value and resolution of one line, correctly rounded: what Python's `float` gives for the text."""
        if not self.digits:
            return self.constant, 0.0
        mantissa = bytes(line[i] for i in self.digits).decode()
        power = self.exponent
        if self.exponent_digits:
            written = int(bytes(line[i] for i in self.exponent_digits))
            power += -written if self.exponent_negative else written
        value = float(f"{mantissa}e{power}")
        return -value if self.negative else value, float(f"1e{power}")


def number_at(line: bytes, start: int, end: int) -> Recipe | None:
    """The recipe for the decimal number that these bytes are, whole; None if they are none.

    NR1, NR2 and NR3 of IEEE 488.2, with or without a sign, blanks allowed after it; no decimal comma.
    """
    found = _NUMBER.fullmatch(line, start, end)
    if found is None or not (found["whole"] or found["part"]):
        return None
    spans = [found.span("whole"), found.span("part")]
    return Recipe(
        digits=tuple(i for a, b in spans for i in range(a, b)),
        exponent=-len(found["part"]),
        negative=found["sign"] == b"-",
        exponent_digits=tuple(range(*found.span("exp"))) if found["exp"] else (),
        exponent_negative=found["esign"] == b"-",
    )
