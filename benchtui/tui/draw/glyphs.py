"""Block digits and signs, read from two metres: bitmaps 6 pixels wide and 10 high, a pixel half a cell.

Rows are binary numbers, the left pixel highest. Strokes are 2 pixels thick, the gap between digits is 2.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Glyph:
    """A bitmap: rows of bits, the leftmost pixel the highest of `width` bits."""

    width: int
    rows: tuple[int, ...]


def _glyph(width: int, *rows: int | tuple[int, int]) -> Glyph:
    """Rows one by one; (row, n) stands for the row n times."""
    full: list[int] = []
    for row in rows:
        full.extend([row] if isinstance(row, int) else [row[0]] * row[1])
    return Glyph(width, tuple(full))


DIGITS = {
    "0": _glyph(6, 0x1E, 0x3F, (0x33, 6), 0x3F, 0x1E),
    "1": _glyph(6, 0x0C, 0x1C, 0x3C, (0x0C, 5), (0x3F, 2)),
    "2": _glyph(6, 0x1E, 0x3F, 0x33, 0x03, 0x07, 0x0E, 0x1C, 0x38, (0x3F, 2)),
    "3": _glyph(6, 0x1E, 0x3F, 0x33, 0x03, (0x0E, 2), 0x03, 0x33, 0x3F, 0x1E),
    "4": _glyph(6, (0x33, 4), (0x3F, 2), (0x03, 4)),
    "5": _glyph(6, (0x3F, 2), (0x30, 2), 0x3E, 0x3F, 0x03, 0x33, 0x3F, 0x1E),
    "6": _glyph(6, 0x1E, 0x3E, (0x30, 2), 0x3E, 0x3F, (0x33, 2), 0x3F, 0x1E),
    "7": _glyph(6, (0x3F, 2), (0x03, 2), 0x07, 0x06, 0x0E, (0x0C, 3)),
    "8": _glyph(6, 0x1E, 0x3F, (0x33, 2), (0x1E, 2), (0x33, 2), 0x3F, 0x1E),
    "9": _glyph(6, 0x1E, 0x3F, (0x33, 2), 0x3F, 0x1F, (0x03, 2), 0x1F, 0x1E),
    ".": _glyph(2, (0, 8), (3, 2)),
    "-": _glyph(4, (0, 4), (0xF, 2), (0, 4)),
}
HANGING_MINUS = _glyph(2, (0, 4), (3, 2), (0, 4))
"""A minus for the gap between sign and digits, where the digits leave no room for a whole one."""
NO_NUMBER = _glyph(6, (0, 4), (0x3F, 2), (0, 4))
"""One of the three dashes that stand where there is no reading."""

SIGNS = {
    "=": _glyph(6, (0, 2), (0x3F, 2), (0, 2), (0x3F, 2), (0, 2)),
    "!!": _glyph(6, 0, (0x33, 5), 0, (0x33, 2), 0),
    "?": _glyph(6, 0x1E, 0x3F, 0x33, 0x03, 0x07, (0x0C, 2), 0, (0x0C, 2)),
    "^": _glyph(6, 0, 0x0C, 0x1E, (0x3F, 2), (0x0C, 4), 0),
    "v": _glyph(6, 0, (0x0C, 4), (0x3F, 2), 0x1E, 0x0C, 0),
    "~": _glyph(6, (0, 2), (0x33, 4), (0x0C, 2), (0, 2)),
    "x": _glyph(6, 0, (0x33, 2), 0x1E, (0x0C, 2), 0x1E, (0x33, 2), 0),
    "#": _glyph(6, 0, 0x12, (0x3F, 2), (0x12, 2), (0x3F, 2), 0x12, 0),
}

TALL = 10
"""Pixels of a digit from top to bottom."""

# The look of letters alone: five rows of whole cells, six wide.
ASCII_DIGITS = {
    "0": _glyph(6, 0x3F, (0x33, 3), 0x3F),
    "1": _glyph(6, 0x0C, 0x3C, (0x0C, 2), 0x3F),
    "2": _glyph(6, 0x3F, 0x03, 0x3F, 0x30, 0x3F),
    "3": _glyph(6, 0x3F, 0x03, 0x1F, 0x03, 0x3F),
    "4": _glyph(6, (0x33, 2), 0x3F, (0x03, 2)),
    "5": _glyph(6, 0x3F, 0x30, 0x3F, 0x03, 0x3F),
    "6": _glyph(6, 0x3F, 0x30, 0x3F, 0x33, 0x3F),
    "7": _glyph(6, 0x3F, 0x03, 0x06, (0x0C, 2)),
    "8": _glyph(6, 0x3F, 0x33, 0x3F, 0x33, 0x3F),
    "9": _glyph(6, 0x3F, 0x33, 0x3F, 0x03, 0x3F),
    ".": _glyph(2, (0, 4), 3),
    "-": _glyph(4, (0, 2), 0xF, (0, 2)),
}
ASCII_HANGING_MINUS = _glyph(2, (0, 2), 3, (0, 2))
ASCII_NO_NUMBER = _glyph(6, (0, 2), 0x3F, (0, 2))
ASCII_SIGNS = {
    "=": _glyph(6, 0, 0x3F, 0, 0x3F, 0),
    "!!": _glyph(6, (0x33, 3), 0, 0x33),
    "?": _glyph(6, 0x3F, 0x03, 0x0F, 0, 0x0C),
    "^": _glyph(6, 0x0C, 0x1E, 0x3F, (0x0C, 2)),
    "v": _glyph(6, (0x0C, 2), 0x3F, 0x1E, 0x0C),
    "~": _glyph(6, 0, 0x33, 0x3F, 0x0C, 0),
    "x": _glyph(6, 0x33, 0x1E, 0x0C, 0x1E, 0x33),
    "#": _glyph(6, 0x12, 0x3F, 0x12, 0x3F, 0x12),
}
