"""A canvas as Textual's strips, in the colours of a look."""

from __future__ import annotations

from rich.segment import Segment
from textual.strip import Strip

from .canvas import Canvas
from .looks import Look


def strips(canvas: Canvas, look: Look) -> list[Strip]:
    """One strip a row; neighbouring cells of equal paint become one segment."""
    style = look.style
    out = []
    for chars, paints in zip(canvas.chars, canvas.paints, strict=True):
        segments = []
        start = 0
        for column in range(1, len(paints) + 1):
            if column == len(paints) or (
                paints[column] is not paints[start] and paints[column] != paints[start]
            ):
                segments.append(Segment("".join(chars[start:column]), style(paints[start])))
                start = column
        out.append(Strip(segments, canvas.width))
    return out
