"""Rows of a canvas as Textual's strips, in the colours of a look."""

from __future__ import annotations

from rich.segment import Segment
from textual.strip import Strip

from .canvas import Canvas
from .looks import ASCII, Look

_PLAIN = {"…": ".", "±": "~", "·": "."}
"""What stands for a character outside ASCII where it can't be written; for any other a question mark."""


def strip(canvas: Canvas, row: int, look: Look) -> Strip:
    """One row; neighbouring cells of equal paint become one segment."""
    chars, paints = canvas.chars[row], canvas.paints[row]
    if look.glyphs == ASCII:
        chars = [c if c.isascii() and c else _PLAIN.get(c, "?") for c in chars]
    segments = []
    start = 0
    for column in range(1, len(paints) + 1):
        if column == len(paints) or (paints[column] is not paints[start] and paints[column] != paints[start]):
            segments.append(Segment("".join(chars[start:column]), look.style(paints[start])))
            start = column
    return Strip(segments, canvas.width)


def changed(before: Canvas | None, after: Canvas) -> list[int]:
    """The rows in which a canvas differs from another; all of them where their sizes differ."""
    rows = range(after.height)
    if before is None or (before.width, before.height) != (after.width, after.height):
        return list(rows)
    return [y for y in rows if before.chars[y] != after.chars[y] or before.paints[y] != after.paints[y]]
