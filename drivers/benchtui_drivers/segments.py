"""Seven-segment displays: which segments make which character, in any order of the bits.

       a
     f   b
       g
     e   c
       d

The letters of the segments are the trade's; the shapes follow from the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

SHAPES: Mapping[str, str] = {
    "0": "abcdef", "1": "bc", "2": "abdeg", "3": "abcdg", "4": "bcfg", "5": "acdfg", "6": "acdefg",
    "7": "abc", "8": "abcdefg", "9": "abcdfg", " ": "", "-": "g",
    "A": "abcefg", "b": "cdefg", "C": "adef", "c": "deg", "d": "bcdeg", "E": "adefg", "F": "aefg",
    "H": "bcefg", "h": "cefg", "J": "bcde", "L": "def", "n": "ceg", "o": "cdeg", "P": "abefg", "q": "abcfg",
    "r": "eg", "t": "defg", "U": "bcdef", "u": "cde", "y": "bcdfg", "_": "d", "=": "dg",
}  # fmt: skip
"""Character -> the segments that are lit, in alphabetical order."""

_ALIKE = {"O": "0", "S": "5", "s": "5", "I": "1", "i": "1", "Z": "2", "z": "2", "G": "6", "g": "9"}
"""Letters that a display shows as a digit."""
NUMBER = "0123456789 -"
"""What a display that shows a number can show."""


def as_shown(text: str) -> str:
    """The text as such a display can show it, where it can: `OL` is shown as `0L`."""
    return "".join(_as_shown(c) for c in text)


def _as_shown(c: str) -> str:
    if c in SHAPES or c in _ALIKE:
        return _ALIKE.get(c, c)
    return c.swapcase() if c.swapcase() in SHAPES else c


def pattern(shape: str, order: Sequence[str]) -> int:
    """The bits for a shape, the first segment of the order in the highest bit."""
    value = 0
    for segment in order:
        value = value << 1 | (segment in shape)
    return value


def patterns(characters: str, order: Sequence[str], more: Mapping[str, str]) -> dict[int, str]:
    """Bits -> character, for these characters of SHAPES and for `more`: shape -> character.

    `order` names the segments of a digit, the highest bit first; a digit may have fewer than seven, and then
    shows only what needs no others.
    """
    shapes = [(SHAPES[c], c) for c in characters if c in SHAPES] + list(more.items())
    return {pattern(shape, order): c for shape, c in shapes if set(shape) <= set(order)}
